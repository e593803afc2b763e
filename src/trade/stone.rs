//! Stones and the timber they are bundled with.

use super::code::Country;
use crate::fault::Place;
use crate::quantity::{Area, Decimal, Density, Length, Mass, Overflow, Percent, Volume};

/// A kind of stone as the importer trades it.
#[derive(Debug, Clone)]
pub struct Stone {
    /// The name lines refer to.
    pub id: String,
    /// The trade name.
    pub name: String,
    /// Granite, marble, quartzite ... by what the stone is, not by what it is sold as.
    pub kind: String,
    /// Typical density; never the acceptance minimum, which would make a load look lighter.
    pub density: Density,
    /// What is added to a mass computed from nominal thickness before it meets a limit.
    pub thickness_margin: Percent,
    /// Country of origin unless the invoice says otherwise.
    pub origin: Country,
    /// Tariff lines by customs regime and finish.
    pub tariff: Vec<TariffRow>,
    /// Its row.
    pub place: Place,
}

/// The tariff line of a stone in one finish under one regime.
#[derive(Debug, Clone)]
pub struct TariffRow {
    /// The customs regime.
    pub regime: String,
    /// The finish it is for; every finish where none is given.
    pub finish: Option<String>,
    /// The form it is for (slab, tile, block ...); every form where none is given.
    pub form: Option<String>,
    /// The tariff line.
    pub line: String,
    /// The other agency whose leave its goods need, where they need one.
    pub restricted: Option<String>,
    /// Its row.
    pub place: Place,
}

impl Stone {
    /// The mass of a square metre at a thickness, in kg.
    ///
    /// # Errors
    /// Where it is too large or too fine to be held exactly.
    pub fn kg_per_m2(&self, thickness: Length) -> Result<Decimal, Overflow> {
        let square = Area::m2(Decimal::ONE)?;
        Ok(Mass::of(Volume::of(square, thickness)?, self.density)?.base())
    }

    /// The tariff row for a finish and form under a regime: of those that fit, the one that says
    /// most about the goods, the form before the finish.
    pub fn tariff_row(&self, regime: &str, finish: &str, form: &str) -> Option<&TariffRow> {
        let fits = |asked: &Option<String>, is: &str| asked.as_deref().is_none_or(|one| one == is);
        self.tariff
            .iter()
            .filter(|row| {
                row.regime == regime && fits(&row.finish, finish) && fits(&row.form, form)
            })
            .max_by_key(|row| (row.form.is_some(), row.finish.is_some()))
    }
}

/// What a bundle consists of besides stone.
#[derive(Debug, Clone)]
pub struct Timber {
    /// The mass of timber and straps of one bundle.
    pub mass: Mass,
    /// What the runners add to its height.
    pub height: Length,
    /// What side timbers add to its width.
    pub width: Length,
    /// What end timbers add to its length.
    pub length: Length,
    /// Film or foam between two slabs.
    pub between: Length,
    /// Its row.
    pub place: Place,
}
