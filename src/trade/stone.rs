//! Stones, how their surfaces are worked, and the timber they are bundled with.

use std::fmt;

use super::calendar::word_of;
use super::code::Country;
use crate::fault::Place;
use crate::quantity::{
    Area, Decimal, Density, Length, Mass, Overflow, Percent, Price, PricedBy, Volume,
};

/// How far a surface is worked, as tariffs ask: heading 6802 of the Harmonised System parts stone
/// simply cut or sawn from stone that is worked further (subheadings 6802.2 and 6802.9).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Work {
    /// Cut or sawn, flat or even, and no more.
    Sawn,
    /// More than sawn: polished, honed, ground, flamed, bush-hammered; an edge bevelled or rounded.
    Further,
}

impl Work {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Sawn, "sawn"), (Self::Further, "worked")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// A finish of the importer's list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finish {
    /// The name lines and tariff rows refer to.
    pub id: String,
    /// How far the face is worked.
    pub faces: Work,
    /// How far the edges are worked.
    pub edges: Work,
    /// Its row.
    pub place: Place,
}

impl fmt::Display for Finish {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.id)
    }
}

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
    /// How far a weighed mass may lie from the estimate by area, thickness and density.
    pub weighed_within: Percent,
    /// The least and the most it usually costs, where stated: two prices per the same, in one currency.
    pub usual_price: Option<(Price, Price)>,
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
    /// How far the faces it is for are worked, where it asks.
    pub faces: Option<Work>,
    /// How far the edges it is for are worked, where it asks.
    pub edges: Option<Work>,
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

    /// How far a weighed mass may lie from the estimate where the stone does not say, in percent: the
    /// thickness that EN 12058:2015 lets a slab be off by is 10 %, and density varies (a choice of ours).
    pub const WEIGHED_WITHIN: u32 = 15;

    /// What a price comes to for a square metre at a thickness. `None`: it is not by area, volume or
    /// mass, or the figures are too large.
    pub fn per_m2(&self, price: &Price, thickness: Length) -> Option<Decimal> {
        let square = Area::m2(Decimal::ONE).ok()?;
        let times = match price.by {
            PricedBy::M2 => Decimal::ONE,
            PricedBy::Ft2 => square.to_ft2(6),
            PricedBy::M3 => Volume::of(square, thickness).ok()?.base(),
            PricedBy::Tonne => Mass::kg(self.kg_per_m2(thickness).ok()?).ok()?.to_tonnes(),
            PricedBy::Slab | PricedBy::Bundle | PricedBy::Lot => return None,
        };
        price.of(times).ok()
    }

    /// The tariff row for a finish and form under a regime: of those that fit, the one that says
    /// most about the goods, the form before the finish, and that before its faces and edges.
    pub fn tariff_row(&self, regime: &str, finish: &Finish, form: &str) -> Option<&TariffRow> {
        let fits = |asked: &Option<String>, is: &str| asked.as_deref().is_none_or(|one| one == is);
        let worked = |asked: Option<Work>, is: Work| asked.is_none_or(|one| one == is);
        self.tariff
            .iter()
            .filter(|row| {
                row.regime == regime
                    && fits(&row.finish, &finish.id)
                    && worked(row.faces, finish.faces)
                    && worked(row.edges, finish.edges)
                    && fits(&row.form, form)
            })
            .max_by_key(|row| {
                let works = [row.faces, row.edges].into_iter().flatten().count();
                (row.form.is_some(), row.finish.is_some(), works)
            })
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
