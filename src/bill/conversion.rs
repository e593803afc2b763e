//! The rate an amount went into another currency at, with its day and source.

use crate::fault::Place;
use crate::quantity::Quote;
use crate::trade::{Date, ExchangeUse, Window};

/// An amount taken into the book currency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conversion {
    /// The rate, as quoted.
    pub quote: Quote,
    /// What the row is for.
    pub used_for: ExchangeUse,
    /// The day it was looked up for.
    pub on: Date,
    /// When the row is in force.
    pub valid: Window,
    /// The row's source.
    pub source: String,
    /// The row.
    pub place: Place,
}

impl Conversion {
    /// Whether a planning rate stands in for a rate that is not known yet.
    pub fn is_planned(&self) -> bool {
        self.used_for == ExchangeUse::Plan
    }
}
