//! How many units of a price some slabs are.

use crate::ledger::Listed;
use crate::quantity::{Area, Fraction, Overflow, PricedBy, Units};
use crate::trade::SoldBy;

/// The area that is sold of a slab.
pub(super) fn area_of(one: &Listed<'_>, sold: SoldBy) -> Area {
    match sold {
        SoldBy::Gross => one.gross(),
        SoldBy::Billed => one.state.measured.unwrap_or(one.slab.billed),
    }
}

/// How many square metres, square feet or slabs some slabs are.
///
/// # Errors
/// Where an area is too large.
pub(super) fn units_of(
    slabs: &[Listed<'_>],
    (by, sold): (PricedBy, SoldBy),
) -> Result<Fraction, Overflow> {
    let of_area = |units: Units| -> Result<Fraction, Overflow> {
        let area = Area::total(slabs.iter().map(|one| area_of(one, sold)))?;
        Ok(Fraction::of(area.base()).over(&Fraction::of(Area::square(units).base())))
    };
    match by {
        PricedBy::Ft2 => of_area(Units::Us),
        PricedBy::Slab => Ok(Fraction::of(slabs.len().into())),
        _ => of_area(Units::Metric),
    }
}
