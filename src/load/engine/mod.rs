//! The engine of the loader: a pure function from an integer problem to a plan with its proof.
//!
//! Reading order is the order below: the problem and its flaws, the arguments that bound a
//! box, the floor oracle, the search, and the checker, which uses none of the search.

pub mod problem;
pub mod validate;
pub mod measure;
mod work;
mod place;
mod model;
pub mod misfit;
mod oracle;
mod vectors;
mod bound;
mod price;
mod simplex;
mod columns;
mod bins;
mod start;
mod subset;
mod repair;
mod dive;
mod complete;
mod ledger;
mod draft;
mod polish;
mod destination;
pub mod solve;
pub mod check;
#[cfg(test)]
mod testing;

pub use check::{Breach, check};
pub use misfit::{Misfit, Reason, Refusal};
pub use problem::{BoxKind, Grouping, HalfPlane, LineLoad, Loaded, Piece, Pin, Placed, Problem};
pub use solve::{Proof, Solved, solve};
pub use work::Effort;
