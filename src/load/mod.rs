//! Bundles into containers: a plan, its limits and its proof. Pure.

mod given;
mod plan;
mod search;

pub use given::{Breach, breaches, given};
pub use plan::{FilledBox, Limit, Misfit, Plan, Proof, Spot, Variant};
pub use search::{Effort, plan};
