//! A shipment's estimate as the books keep it.
//!
//! ```text
//! freeze     a costed shipment as it is booked
//! changed    what a calculation of today has otherwise
//! shared     what it has of one slab
//! ```

mod changed;
mod freeze;
mod shared;

pub use changed::{Changed, changed};
pub use freeze::{Words, freeze};
pub use shared::{Shared, shared};
