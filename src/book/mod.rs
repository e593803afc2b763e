//! A shipment's estimate as the books keep it.
//!
//! ```text
//! freeze     a costed shipment as it is booked
//! changed    what a calculation of today has otherwise
//! ```

mod changed;
mod freeze;

pub use changed::{Changed, changed};
pub use freeze::{Words, freeze};
