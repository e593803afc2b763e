//! Bounds: what no box of a kind can hold, and so how little no plan can cost.
//!
//! From the arguments about one box (dual feasible functions, measures) over the cuts that follow
//! from them alone and those by column generation, to the vectors of boxes that no cut forbids.

pub(crate) mod box_vectors;
pub(crate) mod certificate;
pub(crate) mod column_generation;
pub(crate) mod cut;
mod cutting_stock;
pub(crate) mod dual_feasible;
pub(crate) mod farley;
pub(crate) mod knapsack;
mod knapsack_table;
pub(crate) mod measure;
pub(crate) mod patterns;
pub(crate) mod row_cuts;
mod simplex;
