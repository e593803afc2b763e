//! Search: plans, and the proof that none is cheaper.

mod bins;
mod board;
mod branch_and_bound;
pub(crate) mod destination;
mod diving;
mod draft;
mod fit_decreasing;
mod group_bound;
pub(crate) mod ledger;
mod local_search;
mod polish;
mod subset_sum;
mod tail_sums;
