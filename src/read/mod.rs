//! Files into trade types, every value with its place.
//!
//! The only room that knows the keys and columns of the user's files. `None` from a reader means
//! that the fault is in the report already; readers go on after a fault to find the next.

mod alike;
mod cells;
mod duty;
mod filing;
mod keys;
mod packing;
mod papers;
mod payments;
mod plan;
mod rigs;
mod rows;
mod shipment;
mod slips;
mod syntax;
mod table;
mod tables;
mod timing;
mod wishes;
mod workspace;

pub use packing::headers;
pub use plan::is_plan;
pub use shipment::{Asked, other_plan, shipment, ways_of};
pub use tables::{tables, tariffs};
pub use workspace::Workspace;
