//! Bundles into containers: a plan, its limits and its proof. Pure.
//!
//! The search itself is [`engine`], which argues in whole grams, millimetres and minor units;
//! `search` turns bundles and variants into its problem and its answer into a [`Plan`].

mod audit;
mod breach;
pub mod engine;
mod given;
mod judge;
mod kept;
mod kinds;
mod plan;
mod road;
mod room;
mod search;
mod sheet;
mod station;
mod stock;
mod summary;
#[cfg(test)]
mod testing;
mod unfit;
mod wait;
mod wishes;

pub use breach::{Breach, Broken, breaches};
pub use engine::Effort;
pub use given::{cargo, given, with_variants};
pub use kept::{Unkept, unkept};
pub use kinds::road_limits;
pub use plan::{Basis, FilledBox, Limit, Misfit, Part, Plan, Proof, Spot, Variant};
pub use road::{AxleCheck, AxleLoad, Road, RoadReport, report as road_report};
pub use room::Room;
pub use search::{Laid, place, plan};
pub use sheet::{MassSheet, Weighed, mass_sheet};
pub use station::Station;
pub use summary::{BoxSummary, Standing, summary};
