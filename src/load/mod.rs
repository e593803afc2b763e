//! Bundles into containers: a plan, its limits and its proof. Pure.
//!
//! The search itself is [`engine`], which argues in whole grams, millimetres and minor units;
//! `search` turns bundles and variants into its problem and its answer into a [`Plan`].

mod audit;
mod beams;
mod blocking;
mod breach;
mod contents;
mod dunnage;
pub mod engine;
mod forces;
mod given;
mod held;
mod judge;
mod kept;
mod kinds;
mod known;
mod lay;
mod limits;
mod mass;
mod order;
mod places;
mod plan;
mod prefer;
mod preference;
mod problem;
mod road;
mod room;
mod search;
mod sets;
mod sheet;
mod spare;
mod standing;
mod station;
mod stock;
mod summary;
mod sums;
mod sure;
#[cfg(test)]
mod testing;
mod timber;
mod unfit;
mod wait;
mod wishes;

pub use audit::audit;
pub use beams::{Beams, Bearers};
pub use blocking::{Blocking, Part as BlockingPart};
pub use breach::{Breach, Broken};
pub use dunnage::{short_of_dunnage, with_dunnage};
pub use engine::{COST_LIMIT, Effort, Preference, SearchState, Sum, Turn, Watch};
pub use forces::Force;
pub use given::{given, given_again, with_variants};
pub use held::{Against, Held, Lashings, Pushed, Tipping};
pub use judge::{Laid, Verdict, judge, lay};
pub use kept::{BrokenWish, Unkept};
pub use known::Known;
pub use limits::{Limit, Limited, Limits, LowFigure, Lower, RoadLimits, Unknown, Way, limited};
pub use mass::cargo;
pub use order::{Hold, Order, Release, Stuck, stuck};
pub use plan::{Chosen, FilledBox, Misfit, Part, Plan, Proof, Spot, Variant};
pub use prefer::prefer;
pub use road::{
    AxleCheck, AxleLoad, Hole, Limiter, Road, RoadReport, Ticket, TicketLine, report as road_report,
};
pub use room::Room;
pub use search::plan;
pub use sheet::{MassSheet, Weighed, certified, mass_sheet, tickets};
pub use spare::{Spare, median, spare};
pub use standing::Standing;
pub use station::Station;
pub use summary::{Binds, BoxSummary, summary};
pub use sums::sums;
pub use sure::Sure;
pub use timber::Timber;
