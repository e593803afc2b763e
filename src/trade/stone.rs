//! Stones, how their surfaces are worked, and the timber they are bundled with.

use std::fmt;
use std::sync::Arc;

use smol_str::SmolStr;

use super::calendar::word_of;
use super::code::Country;
use crate::fault::Place;
use crate::quantity::{
    Area, Decimal, Density, FIGURE, Length, Malformed, Mass, Overflow, Percent, Price, PricedBy,
    Size, Units, Volume, Written, sides_pattern,
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
    /// The part of a shipped area whose loss on the way is normal, where stated.
    pub normal_loss: Option<Percent>,
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

    /// No stone that is sawn is lighter than pumice or heavier than ore, in kg/m3 (common knowledge;
    /// a figure outside is a slip of the unit or the point).
    pub const DENSITIES: [u32; 2] = [300, 8_000];

    /// Whether so many kilograms a cubic metre may be a density of stone.
    pub fn is_density(kg: Decimal) -> bool {
        let [lightest, heaviest] = Self::DENSITIES.map(Decimal::from);
        (lightest..=heaviest).contains(&kg)
    }

    /// The most that slabs may weigh which come to so much by their stated thickness: some are thicker. Limits are
    /// checked with it, and whoever lifts is told it.
    ///
    /// # Errors
    /// Where it is too large or too fine to be held exactly.
    pub fn at_most(&self, mass: Mass) -> Result<Mass, Overflow> {
        mass.times(Decimal::ONE + self.thickness_margin.fraction())
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
        price.amount.checked_mul(times)
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

/// The name of a quality: all slabs that have it hold one text.
pub type QualityId = Arc<SmolStr>;

/// A sort of goods in a word of the importer's own list: suppliers' words for sorts differ.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quality {
    /// The name lines and packing lists refer to.
    pub id: QualityId,
    /// What it is called on pages.
    pub name: String,
    /// Its row.
    pub place: Place,
}

/// What the importer cannot use of a slab, whatever its supplier bills: what its ragged edges take off each
/// side, and what is lost of the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Allowance {
    /// What comes off the length and off the height: the whole of it, not what comes off each edge.
    pub take_off: Size,
    /// What is lost of what is left.
    pub loss: Percent,
}

impl Allowance {
    /// The usable area of a slab of these gross sides; none where the take-off leaves no side.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub fn usable(&self, gross: Size) -> Result<Area, Overflow> {
        let length = gross.length.minus(self.take_off.length)?;
        let height = gross.height.minus(self.take_off.height)?;
        if length.is_none() || height.is_none() {
            return Ok(Area::ZERO);
        }
        Area::of(length, height)?.times(self.loss.complement().fraction())
    }

    /// Prints in the system asked for.
    pub fn show(&self, units: Units) -> String {
        let Size { length, height } = self.take_off;
        format!(
            "{} off the length, {} off the height, {} lost",
            length.show(units),
            height.show(units),
            self.loss
        )
    }
}

impl Written for Allowance {
    const FORM: &'static str = "what comes off the length and the height of a slab, and what is lost, such as \"5 x 4 cm, 3 %\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset| Malformed::new(offset, Self::FORM);
        let (sides, loss) = text.split_once(',').ok_or_else(|| fault(text.len()))?;
        let at = sides.len() + 1;
        let take_off = Size::read(sides).map_err(|malformed| {
            if malformed.is_range { malformed } else { fault(malformed.offset) }
        })?;
        let loss = Percent::read(loss).map_err(|malformed| fault(at + malformed.offset))?;
        let is_below = |length: Length| length < Length::ZERO;
        if is_below(take_off.length) || is_below(take_off.height) {
            return Err(fault(0));
        }
        let least = loss < Percent::ZERO || loss >= Percent::new(Decimal::ONE_HUNDRED);
        if least { Err(fault(at)) } else { Ok(Self { take_off, loss }) }
    }

    fn pattern() -> Option<String> {
        Some(format!(r"^{},\s*{FIGURE}\s*%\s*$", sides_pattern(2)))
    }
}

/// The allowance of a stone, or of one quality of it.
#[derive(Debug, Clone)]
pub struct UsableRow {
    /// The stone.
    pub stone: String,
    /// The quality it is for; every one where none is named.
    pub quality: Option<String>,
    /// What cannot be used.
    pub allowance: Allowance,
    /// Its row.
    pub place: Place,
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_allowance_comes_off_the_gross_sides_and_then_a_loss() {
        // By hand: 277 x 177 cm, 5 and 4 cm off: 2.72 x 1.73 m = 4.7056 m2, less 3 %: 4.564432 m2.
        let allowance = Allowance::read("5 x 4 cm, 3 %").unwrap();
        let usable = allowance.usable(Size::read("277 x 177 cm").unwrap()).unwrap();
        assert_eq!(usable, Area::read("4.564432 m2").unwrap());
        assert!(allowance.usable(Size::read("5 x 177 cm").unwrap()).unwrap().is_none());
        for bad in ["5 x 4 cm", "5 x 4 cm, 100 %", "-1 x 4 cm, 0 %", "5 x 4 cm, 3", "5 cm, 3 %"] {
            assert!(Allowance::read(bad).is_err(), "{bad}");
        }
    }
}
