//! Decisions: offers on one footing.
//!
//! ```text
//! footing   the areas that offers are compared on, and money over area, exact
//! part      like goods of one offer: their areas, and what their slabs land at
//! offer     an offer with its parts, and why it may have no rank
//! compare   like with like, ordered
//! ```

mod compare;
mod footing;
mod offer;
mod part;

pub use compare::{
    Across, Asked, Cause, Comparison, Entry, Gap, Group, NoRank, Refusal, Standing, compare,
};
pub use footing::{Allowances, Footing, NoArea, PerArea, Surface};
pub use offer::{Fits, Offer, Whole, lapsed, unfit};
pub use part::{Like, Part, Sums, parts};
