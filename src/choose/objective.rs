//! One objective for every choice of offers, loads and shares of stocks.
//!
//! It is the decision cost (stock, expensed and notional charges) and the price of broken wishes. A policy
//! moves charges between stock and the period, so it changes no choice. The loader minimises the part that
//! depends on boxes; charges of the whole shipment (insurance, floors and caps of fees, charges by tonne or
//! area) are added here.

use std::cmp::Ordering;

use crate::quantity::{Decimal, Money};

/// What a choice comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Worth {
    /// Stock, period and notional: the decision cost.
    pub decision: Money,
    /// The price of the wishes that its load breaks: no charge.
    pub wishes: Money,
}

impl Worth {
    /// Both together.
    pub fn sum(self) -> Decimal {
        let both = self.decision.amount().checked_add(self.wishes.amount());
        both.unwrap_or(Decimal::MAX)
    }
}

impl PartialOrd for Worth {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Worth {
    fn cmp(&self, other: &Self) -> Ordering {
        self.sum().cmp(&other.sum())
    }
}
