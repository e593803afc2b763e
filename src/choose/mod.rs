//! Offers, loads and shipments that share boxes: every candidate is costed, and one is chosen.
//!
//! ```text
//! candidates   which choices of offers are tried
//! objective    what choices are compared by: the decision cost, and the price of broken wishes
//! cheapest     each candidate: variants -> plan -> charges; the least is kept and spread
//! more         a shipment with another number of bundles; full: with its boxes full
//! steps        what reaching the next step of a price would cost, and save
//! held         a load that is held while rates and prices move
//! least        the least order of a supplier: what is missing of it
//! fallen       offers that serve in no choice, each with its reason
//! together     shipments that compete for the same boxes; stocks: what they share; tried: what was
//!              planned for each share; share: the best way to share out
//! quoted       legs inside a seller's price, at our own rates and the cheapest offer
//! ```

mod candidates;
mod cheapest;
mod fallen;
mod full;
mod held;
mod least;
mod more;
mod objective;
mod quoted;
mod share;
mod steps;
mod stocks;
mod together;
mod tried;

pub use cheapest::{Chosen, Costed, Other, chosen, estimate, estimate_again};
pub use fallen::Fallen;
pub use full::{Full, full};
pub use held::{Held, Ready};
pub use least::UnderLeast;
pub use more::with_bundles;
pub use objective::Worth;
pub use quoted::{OwnLeg, own_legs};
pub use steps::next_steps;
pub use stocks::StockPool;
pub use together::{Alone, JointSums, Refused, Shared, Short, Together, together};
