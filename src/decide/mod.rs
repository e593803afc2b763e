//! Decisions: offers on one footing.

mod compare;

pub use compare::{Across, Comparison, Gap, Offer, Refusal, compare};
