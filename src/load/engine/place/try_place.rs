//! The methods of the floor in turn: quick constructions first, then the exact searches.
//!
//! Three answers. `Places` is checked against every rule before it is given; `Never` is given
//! only where a whole search ran dry or a necessary condition failed; anything else is
//! `Unknown`, and no proof may build on it.

use super::attempt::{Attempt, NODES, Placement};
use super::{corner_points, disjunctive, layers, shelves, skyline, two_ends};
use crate::load::engine::model::deck::{Deck, Item};
use crate::load::engine::model::effort::Purse;

/// Looks for places for `items` on `deck`.
pub(crate) fn try_place(deck: &Deck, items: &[Item], work: &mut Purse) -> Placement {
    work.spend(50 + 20 * items.len());
    if items.is_empty() {
        return Placement::Places(Vec::new());
    }
    if deck.refuses(items) {
        return Placement::Never;
    }
    let mut attempt = Attempt::new(deck, items);
    // No three stand one behind the other: the two ends are then exhaustive.
    let two_deep = items.iter().all(|item| !item.may_turn && 3 * item.length > deck.length);
    // Some two may stand one behind the other: else there is nothing to divide.
    let behind = 2 * items.iter().map(|item| item.length).min().unwrap_or(0) <= deck.length;
    // Where nothing needs balance the two ends settle it, and at once.
    let settled = two_deep && deck.limits.is_empty();
    if settled && let Some(verdict) = by_ends(&mut attempt, two_deep, work) {
        return verdict;
    }
    if let Some(spots) = shelves::single(&mut attempt, work) {
        return Placement::Places(spots);
    }
    if let Some(spots) = layers::search(&mut attempt, work) {
        return Placement::Places(spots);
    }
    if behind
        && !settled
        && let Some(verdict) = by_ends(&mut attempt, two_deep, work)
    {
        return verdict;
    }
    // Many bundles have too many pairs to settle, and fillings are found more often.
    let many = items.len() > MANY;
    if many
        && let Some(spots) =
            shelves::search(&mut attempt, work).or_else(|| skyline::search(&mut attempt, work))
    {
        return Placement::Places(spots);
    }
    let nodes = if many { NODES / 16 } else { NODES };
    match disjunctive::search(&mut attempt, nodes, work) {
        Placement::Unknown if two_deep => return Placement::Unknown,
        Placement::Unknown => {}
        settled => return settled,
    }
    if !many
        && let Some(spots) =
            shelves::search(&mut attempt, work).or_else(|| skyline::search(&mut attempt, work))
    {
        return Placement::Places(spots);
    }
    corner_points::search(&mut attempt, work)
}

/// Larger sets are filled in first, and their pairs looked at afterwards.
const MANY: usize = 12;

fn by_ends(attempt: &mut Attempt<'_>, exact: bool, work: &mut Purse) -> Option<Placement> {
    match two_ends::search(attempt, exact, work) {
        two_ends::Ends::Found(spots) => Some(Placement::Places(spots)),
        two_ends::Ends::Never => Some(Placement::Never),
        two_ends::Ends::Unknown => None,
    }
}
