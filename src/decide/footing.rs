//! The area that offers are compared on: the same for all, whatever each supplier bills.
//!
//! Decided on 2026-11-27. A landed cost is spread by billed area, and books stay so. Two suppliers bill two
//! areas of one slab, and the one that bills less looks dearer per area. So offers are compared on the area
//! as sawn, or on what the importer can use of it by an allowance of its own.

use std::cmp::Ordering;

use crate::quantity::{Area, Decimal, Decimals, Exact, Fraction, Money, Units};
use crate::trade::{Allowance, Line, Slab, Tariffs};

/// An area that offers can be ranked on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Footing {
    /// As sawn.
    Gross,
    /// What the importer can use of that.
    Usable,
}

impl Footing {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Gross, "gross"), (Self::Usable, "usable")];

    /// The written form.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(footing, _)| *footing == self).map_or("", |(_, word)| word)
    }

    /// The area of a slab of a line on it, or why there is none. `None`: a figure cannot be held.
    pub(super) fn area(
        self,
        slab: &Slab,
        line: &Line,
        allowances: &Allowances<'_>,
    ) -> Option<Result<Surface, NoArea>> {
        let unknown = || Err(NoArea::GrossUnknown { line: line.id.clone() });
        let quality = slab.quality();
        match (self, allowances.of(&line.stone.value, quality)) {
            (Self::Gross, _) => Some(Surface::gross(slab).map_or_else(unknown, Ok)),
            (Self::Usable, Some(allowance)) if slab.sides().is_some() => {
                Surface::usable(slab, allowance).map(Ok)
            }
            (Self::Usable, Some(_)) => Some(unknown()),
            (Self::Usable, None) => Some(Err(NoArea::NoAllowance {
                stone: line.stone.value.clone(),
                quality: quality.map(str::to_owned),
            })),
        }
    }
}

/// Where allowances come from.
#[derive(Debug, Clone, Copy)]
pub enum Allowances<'a> {
    /// By stone and quality, as the table of stones has them.
    Table(&'a Tariffs),
    /// One for every slab, as asked.
    Asked(Allowance),
}

impl Allowances<'_> {
    /// The allowance of a stone in a quality; `None` where none is stated.
    pub fn of(&self, stone: &str, quality: Option<&str>) -> Option<Allowance> {
        match self {
            Self::Table(tariffs) => tariffs.allowance(stone, quality),
            Self::Asked(allowance) => Some(*allowance),
        }
    }
}

/// Why goods have no area of some footing.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoArea {
    /// The supplier states what it bills of this line, and not what it takes off.
    GrossUnknown {
        /// The line.
        line: String,
    },
    /// No allowance is stated for the stone in this quality.
    NoAllowance {
        /// The stone.
        stone: String,
        /// The quality, where one is stated.
        quality: Option<String>,
    },
    /// The allowance leaves nothing of them.
    NothingLeft,
}

/// An exact area.
#[derive(Debug, Clone)]
pub struct Surface(Fraction);

impl Surface {
    /// None of it.
    pub fn none() -> Self {
        Self(Fraction::whole(0))
    }

    /// The area of a slab as sawn; `None` where only what is billed is known.
    pub fn gross(slab: &Slab) -> Option<Self> {
        slab.sides().map(|_| Self::from(slab.gross_area()))
    }

    /// What can be used of a slab. `None`: its gross sides are not known, or a figure cannot be held.
    pub fn usable(slab: &Slab, allowance: Allowance) -> Option<Self> {
        let sides = slab.sides()?.size();
        let whole = sides.area().ok()?;
        let usable = Fraction::of(allowance.usable(sides).ok()?.base());
        if slab.gross_area() == whole {
            return Some(Self(usable));
        }
        // A made-up slab may be a part of one of these sides.
        let part = Fraction::of(slab.gross_area().base()).over(&Fraction::of(whole.base()));
        Some(Self(usable.times(&part)))
    }

    /// Both together.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self(self.0.plus(&other.0))
    }

    /// So many of them.
    #[must_use]
    pub fn times(&self, count: usize) -> Self {
        Self(self.0.times(&Fraction::of(Decimal::from(count))))
    }

    /// Whether there is none of it.
    pub fn is_none(&self) -> bool {
        !self.0.is_positive()
    }

    /// The figure in the unit of a system; `None` where it cannot be held.
    pub fn figure(&self, units: Units, places: Decimals) -> Option<Decimal> {
        let square = Fraction::of(Area::square(units).base());
        self.0.over(&square).round(places, "an area").ok()
    }

    /// What percentage of another it is, to one place; `None` of nothing.
    pub fn percent_of(&self, other: &Self) -> Option<Decimal> {
        if other.is_none() {
            return None;
        }
        self.0.times(&Fraction::whole(100)).over(&other.0).round(1, "a percentage").ok()
    }
}

impl From<Area> for Surface {
    fn from(area: Area) -> Self {
        Self(Fraction::of(area.base()))
    }
}

/// Money over area, exact: offers are ordered by it, never by a printed figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PerArea(Exact);

impl PerArea {
    /// An amount over an area; `None` where there is no area.
    pub fn of(amount: &Exact, area: &Surface) -> Option<Self> {
        let each = Fraction::whole(1);
        (!area.is_none()).then(|| Self(amount.part(&each.over(&area.0))))
    }

    /// The figure per unit of area of a system, to four places (rule R5).
    pub fn figure(&self, units: Units) -> Option<Decimal> {
        self.0.times(Area::square(units).base()).figure(PLACES)
    }

    /// How far it is above another, per area.
    pub fn above(&self, other: &Self) -> Option<Self> {
        self.0.minus(&other.0).ok().map(Self)
    }

    /// The same in percent of the other, to two places; `None` where the other is nothing.
    pub fn percent_above(&self, other: &Self) -> Option<Decimal> {
        if other.0.is_zero() {
            return None;
        }
        let hundred = Exact::new(Decimal::ONE_HUNDRED, self.0.currency());
        hundred.share(&self.0.minus(&other.0).ok()?, &other.0).figure(2)
    }

    /// What it comes to over an area, to the minor unit.
    pub fn over(&self, area: &Surface) -> Option<Money> {
        self.0.part(&area.0).round().ok()
    }

    /// The same without its sign.
    #[must_use]
    pub fn size(&self) -> Self {
        Self(if self.0.is_negative() { self.0.negated() } else { self.0.clone() })
    }
}

/// Places of a cost per area.
const PLACES: Decimals = 4;

impl Ord for PerArea {
    fn cmp(&self, other: &Self) -> Ordering {
        match self.0.minus(&other.0) {
            Ok(more) if more.is_negative() => Ordering::Less,
            Ok(more) if more.is_zero() => Ordering::Equal,
            Ok(_) => Ordering::Greater,
            // Books in two currencies are refused before.
            Err(_) => Ordering::Equal,
        }
    }
}

impl PartialOrd for PerArea {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
