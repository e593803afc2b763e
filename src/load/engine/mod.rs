//! The engine of the loader: a pure function from an integer problem to a plan with its proof.
//!
//! In goes a [`Problem`]: bundles by mass and sides, kinds of box by floor, limits and cost,
//! groups, begun boxes, ties, pairs kept apart, stocks. Out comes a [`Solved`]: boxes with a place
//! for every bundle, what they cost, a bound below which no plan costs, and a [`Certificate`] of
//! that bound which anyone can redo. It is a vector bin packing problem with kinds of bins, where a
//! bin is also a floor to be packed in two dimensions and in balance.
//!
//! [`solve()`] makes these calls, in this order:
//!
//! 1. `model/validate` refuses figures out of range, so that nothing after it overflows.
//! 2. `bounds/measure` makes the conditions of each kind of box: sums over pieces that no load
//!    exceeds, by dual feasible functions (`dual_feasible`, `cutting_stock`).
//! 3. `model/task` joins what travels together into units, reduces conditions to `rows`, and asks
//!    `deck` what stands nowhere. `misfit` says why a unit fits no kind.
//! 4. `search/soft_groups` plans with wished groups whole, then without; `group_bound` says which
//!    wishes every plan breaks. `rejoin` exchanges pieces between boxes, so that fewer are broken.
//! 5. `search/portfolio` runs the methods for each: `fit_decreasing`, `local_search` (with
//!    `subset_sum`), `diving`, `bin_completion` (with `board` and `tail_sums`). The best plan is
//!    the `incumbent`'s, a plan by pieces is a `draft`, a box being filled is one of `bins`.
//! 6. `search/ledger` keeps what is proven. `bounds/box_vectors` lists vectors of boxes by cost; a
//!    `cut` forbids those that cannot hold the load. Cuts come from the rows (`row_cuts`) and from
//!    `column_generation` by the dual bound (`farley`), which counts broken wishes and needs `patterns`, `simplex`,
//!    `knapsack` and `knapsack_table`. Vectors that no cut forbids are exhausted by bin completion.
//!    The cheapest one left is the bound.
//! 7. Every method asks `place/oracle` whether a set stands on a floor. `place/try_place` runs the
//!    methods of the floor on an `attempt`: `two_ends`, `shelves`, `layers`, `skyline`, then the
//!    exact ones, `disjunctive` (with `interval_orders` and `bits`) and `corner_points`. Each
//!    layout is slid into `balance`.
//! 8. `search/polish` gathers the spare of the plan in one box.
//!
//! [`exchange()`] then spreads the spare, and [`arrange()`] looks for better places in one box, by the [`Preference`], and moves neither cost nor
//! bound; [`order()`] says in which order its pieces come in. [`stand()`] asks step 7 alone, for a box that somebody filled; [`sums()`] step 2, for who chooses
//! among pieces. [`check()`] holds a plan against the problem, and [`redo`] a certificate; neither knows the
//! search. Rooms use only those before them: model, place, bounds, search. No file uses one that
//! uses it.

pub mod arrange;
mod bounds;
pub mod check;
mod exchange;
mod model;
mod order;
mod place;
pub mod preference;
mod search;
pub mod solve;
mod stand;
mod sums;
#[cfg(test)]
pub(super) mod testing;
#[cfg(test)]
mod tests;

pub use arrange::{Arranged, arrange};
pub use bounds::certificate::{Certificate, Redone, Weighing, redo};
pub use check::{Violation, check};
pub use exchange::{Exchanged, exchange};
pub use model::effort::Effort;
pub use model::entry::{Entry, Rectangle};
pub use model::misfit::{Cause, Infeasible, Refusal, is_too_dense, misshapen};
pub use model::problem::{
    BoxKind, Grouping, HalfPlane, LineLoad, Loaded, Piece, Pin, Placed, Problem, Stock,
};
pub use model::validate::{COST_LIMIT, COUNT_LIMIT, FACTOR_LIMIT, Flaw, LENGTH_LIMIT, MASS_LIMIT};
pub use model::watch::{SearchState, Watch};
pub use order::{Order, Turn, order};
pub use preference::{Before, Preference, Rating, before, rows};
pub use solve::{Optimality, Solved, solve};
pub use stand::stand;
pub use sums::{Sum, sums};
