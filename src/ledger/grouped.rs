//! The list of slabs summed up: by where they are, by stone, supplier, shipment or age.

use std::collections::BTreeMap;

use super::stock::Listed;
use super::whereabouts::Where;
use crate::quantity::{Area, Money, Overflow};

/// What slabs are put together by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StockBy {
    /// Where they are.
    Yard,
    /// Their stone.
    Stone,
    /// Who sold them.
    Supplier,
    /// The shipment they came with.
    Shipment,
    /// The days since they came to a yard.
    Age,
}

/// The last day of each class of age (common practice: quarters of a year, then the second half of it).
const AGES: [(i64, &str); 3] =
    [(90, "up to 90 days"), (180, "91 to 180 days"), (365, "181 to 365 days")];

/// The class of an age in days: its rank and its word.
pub(super) fn age_class(days: i64) -> (usize, &'static str) {
    let rank = AGES.iter().take_while(|(last, _)| *last < days).count();
    (rank, AGES.get(rank).map_or("more than 365 days", |(_, word)| word))
}

impl StockBy {
    /// What the groups are, as a table's head.
    pub fn head(self) -> &'static str {
        match self {
            Self::Yard => "place",
            Self::Stone => "stone",
            Self::Supplier => "supplier",
            Self::Shipment => "shipment",
            Self::Age => "age",
        }
    }

    /// What a slab is put under: a rank and a word.
    fn of(self, one: &Listed<'_>) -> (usize, String) {
        let word = match self {
            Self::Yard => match &one.state.at {
                Where::Yard(yard) => format!("on hand in {yard}"),
                other => other.word().to_owned(),
            },
            Self::Stone => one.line.stone.clone(),
            Self::Supplier => one.line.supplier.clone(),
            Self::Shipment => one.freeze.shipment.clone(),
            Self::Age => {
                let (rank, word) = one.age.map_or((AGES.len() + 1, "not in a yard yet"), age_class);
                return (rank, word.to_owned());
            }
        };
        (0, word)
    }
}

/// Slabs put together, in one currency of the books.
#[derive(Debug, Clone)]
pub struct Grouped {
    /// Where it stands among the others, before its name.
    rank: usize,
    /// What they have in common.
    pub what: String,
    /// How many.
    pub slabs: usize,
    /// Their gross area, as measured in the yard where it was.
    pub gross: Area,
    /// Their billed area.
    pub billed: Area,
    /// What they cost.
    pub cost: Money,
    /// What they are written down by.
    pub written_down: Money,
    /// What they stand at: the cost less that.
    pub worth: Money,
}

impl Grouped {
    /// The two together.
    ///
    /// # Errors
    /// Where a sum cannot be held, or the two are in books of different currencies.
    pub fn with(&self, other: &Self) -> Result<Self, Overflow> {
        Ok(Self {
            rank: self.rank,
            what: self.what.clone(),
            slabs: self.slabs + other.slabs,
            gross: self.gross.plus(other.gross)?,
            billed: self.billed.plus(other.billed)?,
            cost: self.cost.plus(other.cost)?,
            written_down: self.written_down.plus(other.written_down)?,
            worth: self.worth.plus(other.worth)?,
        })
    }
}

/// Sums of a list of slabs.
///
/// # Errors
/// Where a sum cannot be held.
pub fn grouped(listed: &[Listed<'_>], by: StockBy) -> Result<Vec<Grouped>, Overflow> {
    let mut all: BTreeMap<(usize, String, &str), Grouped> = BTreeMap::new();
    for one in listed {
        let currency = one.freeze.currency;
        let (rank, what) = by.of(one);
        let sum =
            all.entry((rank, what, currency.code())).or_insert_with_key(|(_, what, _)| Grouped {
                rank,
                what: what.clone(),
                slabs: 0,
                gross: Area::ZERO,
                billed: Area::ZERO,
                cost: Money::zero(currency),
                written_down: Money::zero(currency),
                worth: Money::zero(currency),
            });
        sum.slabs += 1;
        sum.gross = sum.gross.plus(one.gross())?;
        sum.billed = sum.billed.plus(one.slab.billed)?;
        sum.cost = sum.cost.plus(Money::from_minor(one.state.held, currency))?;
        let down = Money::from_minor(one.state.allowance, currency);
        sum.written_down = sum.written_down.plus(down)?;
        sum.worth = sum.cost.minus(sum.written_down)?;
    }
    Ok(all.into_values().collect())
}

/// The sums of several parts of a list, each group once.
///
/// # Errors
/// Where a sum cannot be held.
pub fn regrouped(parts: impl Iterator<Item = Grouped>) -> Result<Vec<Grouped>, Overflow> {
    let mut all: BTreeMap<(usize, String, &str), Grouped> = BTreeMap::new();
    for one in parts {
        let key = (one.rank, one.what.clone(), one.cost.currency().code());
        let Some(sum) = all.get_mut(&key) else {
            all.insert(key, one);
            continue;
        };
        *sum = sum.with(&one)?;
    }
    Ok(all.into_values().collect())
}
