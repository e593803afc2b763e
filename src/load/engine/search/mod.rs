//! Search: plans, and the proof that none is cheaper.

mod bins;
mod board;
mod branch_and_bound;
mod diving;
mod draft;
mod fit_decreasing;
mod group_bound;
mod incumbent;
mod ledger;
mod local_search;
mod polish;
mod portfolio;
pub(crate) mod soft_groups;
mod subset_sum;
mod tail_sums;
