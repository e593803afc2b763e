//! What a line is sold at beside its first price: steps by quantity, prices by quality, and what is added.
//!
//! Suppliers quote so (common practice): 46.00 a square metre, 44.50 from 200 m2 on; resin or a polish at so
//! much a square metre on top.

use std::fmt;

use super::calendar::word_of;
use super::stone::QualityId;
use crate::fault::At;
use crate::quantity::{MOST_COUNT, Malformed, Ordered, Price, Written, figure_pattern};

/// The prices of a line beside its first one. A line with one price has none.
#[derive(Debug, Clone, Default)]
pub struct Pricing {
    /// The prices from a quantity on, in rising order.
    pub steps: Vec<Step>,
    /// Whose quantity counts.
    pub counted: Counting,
    /// What a step's price is for.
    pub applies: Applies,
    /// What is added to the price.
    pub extras: Vec<Extra>,
    /// Where it is priced by quality: the price of each, the line's first among them. It has no steps of its
    /// own then.
    pub qualities: Vec<QualityPrice>,
}

impl Pricing {
    /// The steps of all its prices.
    pub fn all_steps(&self) -> impl Iterator<Item = &Step> {
        self.steps.iter().chain(self.qualities.iter().flat_map(|one| &one.steps))
    }
}

/// The price of one quality.
#[derive(Debug, Clone)]
pub struct QualityPrice {
    /// The quality, by its name in the importer's list.
    pub quality: At<QualityId>,
    /// Its first price.
    pub price: At<Price>,
    /// Its prices from a quantity on, in rising order.
    pub steps: Vec<Step>,
}

/// A price from a quantity on.
#[derive(Debug, Clone)]
pub struct Step {
    /// The quantity from which it holds; exactly so much has it.
    pub from: At<Ordered>,
    /// The price.
    pub price: At<Price>,
}

/// An addition to the price: a resin, a mesh, a polish on top of sawn. It is goods as they are.
#[derive(Debug, Clone)]
pub struct Extra {
    /// What it is.
    pub name: String,
    /// Its price for each unit.
    pub price: At<Price>,
}

/// The least that a supplier sells on one invoice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Least {
    /// So much of its goods.
    Goods(Ordered),
    /// So many full containers.
    Containers(u32),
}

impl Least {
    /// How many full containers it is, where it is counted in them.
    pub fn containers(self) -> Option<usize> {
        match self {
            Self::Containers(count) => usize::try_from(count).ok(),
            Self::Goods(_) => None,
        }
    }
}

impl fmt::Display for Least {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Goods(ordered) => ordered.fmt(f),
            Self::Containers(1) => f.write_str("1 full container"),
            Self::Containers(count) => write!(f, "{count} full containers"),
        }
    }
}

impl Written for Least {
    const FORM: &'static str =
        "a quantity above 0, such as \"5 bundles\", \"120 m2\" or \"1 full container\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let count = ["full containers", "full container"].iter().find_map(|unit| {
            let figure = text.trim().strip_suffix(unit)?;
            figure.trim().parse().ok().filter(|count| *count > 0)
        });
        if let Some(count) = count {
            return if count <= MOST_COUNT {
                Ok(Self::Containers(count))
            } else {
                Err(Malformed::out_of_range(format!("at most {MOST_COUNT} full containers")))
            };
        }
        let malformed = |fault: Malformed| {
            if fault.is_range {
                fault
            } else {
                Malformed { expected: Self::FORM.to_owned(), ..fault }
            }
        };
        Ordered::read(text).map(Self::Goods).map_err(malformed)
    }

    fn pattern() -> Option<String> {
        Some(figure_pattern("m2|ft2|m3|t|slabs?|bundles?|full containers?"))
    }
}

/// Whose quantity is held against the steps of a price.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Counting {
    /// The line's own.
    #[default]
    Line,
    /// That of all lines of its invoice.
    Invoice,
}

impl Counting {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Line, "line"), (Self::Invoice, "invoice")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// What the price of a step is for, where its quantity is reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Applies {
    /// The whole quantity.
    #[default]
    Whole,
    /// What lies above the step.
    PartAbove,
}

impl Applies {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] =
        [(Self::Whole, "whole"), (Self::PartAbove, "part above")];
}
