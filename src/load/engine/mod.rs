//! The engine of the loader: a pure function from an integer problem to a plan with its proof.

mod bounds;
pub mod check;
mod model;
mod place;
mod search;
pub mod solve;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;

pub use bounds::certificate::{Certificate, Redone, Weighing, redo};
pub use check::{Breach, check};
pub use model::effort::Effort;
pub use model::misfit::{Misfit, Reason, Refusal, is_too_dense, misshapen};
pub use model::problem::{
    BoxKind, Grouping, HalfPlane, LineLoad, Loaded, Piece, Pin, Placed, Problem, Stock,
};
pub use model::validate::{COUNT_LIMIT, Flaw, MASS_LIMIT};
pub use solve::{Proof, Solved, solve};
