//! Placing: does a set of bundles stand on the floor of a box, and where?

mod attempt;
mod balance;
mod bits;
mod corner_points;
mod disjunctive;
mod interval_orders;
mod layers;
pub(crate) mod oracle;
mod shelves;
mod skyline;
#[cfg(test)]
mod tests;
mod try_place;
mod two_ends;

pub(super) use attempt::Placement;
pub(super) use balance::settle;
pub(super) use try_place::try_place;
