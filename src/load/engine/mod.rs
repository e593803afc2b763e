//! The engine of the loader: a pure function from an integer problem to a plan with its proof.
//!
//! Reading order is the order below: the problem and its flaws, the arguments that bound a
//! box, the floor oracle, the search, and the checker, which uses none of the search.

mod bars;
mod bins;
mod board;
mod bound;
pub mod certificate;
pub mod check;
mod coarse;
mod columns;
mod complete;
mod destination;
mod dive;
mod draft;
mod ledger;
pub mod measure;
pub mod misfit;
mod model;
mod oracle;
mod place;
mod polish;
mod price;
pub mod problem;
mod repair;
mod simplex;
pub mod solve;
mod start;
mod strife;
mod subset;
mod tails;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
mod touch;
pub mod validate;
mod vectors;
mod work;

pub use certificate::{Part, Redone, Weighing, redo};
pub use check::{Breach, check};
pub use misfit::{Misfit, Reason, Refusal, is_too_dense, misshapen};
pub use problem::{
    BoxKind, Grouping, HalfPlane, LineLoad, Loaded, Piece, Pin, Placed, Problem, Stock,
};
pub use solve::{Proof, Solved, solve};
pub use work::Effort;
