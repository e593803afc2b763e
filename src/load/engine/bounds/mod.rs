//! Bounds: the most that a box of a kind can hold, and so the least that a plan can cost.
//!
//! The files go from arguments about one box (dual feasible functions, measures) to cuts, from
//! these alone and by column generation, and then to the vectors of boxes that no cut forbids.

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
