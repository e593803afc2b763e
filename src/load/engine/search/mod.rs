//! Search: plans, and the proof that none is cheaper. Each method is a file; `portfolio.rs` calls
//! them in turn, and `soft_groups.rs` calls the portfolio.

mod bin_completion;
mod bins;
mod board;
mod diving;
mod draft;
mod fit_decreasing;
mod group_bound;
mod incumbent;
mod ledger;
mod local_search;
mod polish;
mod portfolio;
mod rejoin;
pub(crate) mod soft_groups;
mod subset_sum;
mod tail_sums;
