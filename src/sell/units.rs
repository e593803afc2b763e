//! How many units of a price some slabs are.

use super::classes::Lot;
use crate::quantity::{Area, Fraction, Overflow, PricedBy, Units};
use crate::trade::SoldBy;

/// How many square metres, square feet or slabs some slabs are.
///
/// # Errors
/// Where an area is too large.
pub(super) fn units_of(
    lots: &[Lot<'_>],
    (by, sold): (PricedBy, SoldBy),
) -> Result<Fraction, Overflow> {
    let of_area = |units: Units| -> Result<Fraction, Overflow> {
        let area = Area::total(lots.iter().map(|lot| lot.area(sold)))?;
        Ok(Fraction::of(area.base()).over(&Fraction::of(Area::square(units).base())))
    };
    match by {
        PricedBy::Ft2 => of_area(Units::Us),
        PricedBy::Slab => Ok(Fraction::of(lots.len().into())),
        _ => of_area(Units::Metric),
    }
}
