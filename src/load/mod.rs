//! Bundles into containers: a plan, its limits and its proof. Pure.
//!
//! The search itself is [`engine`], which argues in whole grams, millimetres and minor units;
//! `search` turns bundles and variants into its problem and its answer into a [`Plan`].

pub mod engine;
mod given;
mod plan;
mod search;
mod summary;

pub use engine::Effort;
pub use given::{Breach, breaches, cargo, given};
pub use plan::{FilledBox, Limit, Misfit, Plan, Proof, Spot, Variant};
pub use search::{place, plan};
pub use summary::{BoxSummary, Standing, summary};
