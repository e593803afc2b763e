//! What every choice is compared by: one objective for offers, loads and shipments.
//!
//! It is the decision cost: what is stock, what is expensed and what is only weighed, as the rows say,
//! with the price of the wishes that a load breaks. A policy moves charges between stock and the
//! period and so changes no choice. The loader looks for the least of the part that boxes decide; what
//! the whole shipment decides (insurance, the floors and caps of fees, a charge by tonne or area) is
//! added here.

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
