//! The floor oracle: does a set of bundles stand in a box, and where?
//!
//! Three answers. `Places` is checked against every rule before it is given; `Never` is given
//! only where a whole search ran dry or a necessary condition failed; anything else is
//! `Unknown`, and no proof may build on it.

mod balance;
mod columns;
mod corners;
mod deck;
mod ends;
mod lanes;
mod orders;
mod pairs;

pub(crate) use deck::{Deck, Item, Spot};

use super::work::{Dice, Work};

/// The oracle's answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// They stand, in the order asked.
    Places(Vec<Spot>),
    /// Proven impossible.
    Never,
    /// Neither found nor excluded within the budget.
    Unknown,
}

/// Collects what the layout makers learn on the way.
pub(crate) struct Attempt<'a> {
    deck: &'a Deck,
    items: &'a [Item],
    dice: Dice,
    /// Whether any layout stood on the floor, though the balance refused it.
    stood: bool,
    /// Layouts that may still be offered to the balance.
    patience: u32,
}

impl Attempt<'_> {
    /// Offers a layout: slides it into balance and keeps it if every rule holds.
    fn offer(&mut self, spots: &[Spot], work: &mut Work) -> Option<Vec<Spot>> {
        self.stood = true;
        self.patience = self.patience.saturating_sub(1);
        work.spend(60 * spots.len() * spots.len());
        if self.deck.limits.is_empty() && self.deck.bears(self.items, spots) {
            return Some(spots.to_vec());
        }
        balance::settle(self.deck, self.items, spots)
    }
}

/// Looks for places for `items` on `deck`.
pub(crate) fn try_place(deck: &Deck, items: &[Item], work: &mut Work) -> Verdict {
    work.spend(50 + 20 * items.len());
    if items.is_empty() {
        return Verdict::Places(Vec::new());
    }
    if deck.refuses(items) {
        return Verdict::Never;
    }
    let mut attempt = Attempt { deck, items, dice: Dice::new(1), stood: false, patience: 60 };
    let two_deep = items.iter().all(|item| !item.may_turn && 3 * item.length > deck.length);
    let behind = 2 * items.iter().map(|item| item.length).min().unwrap_or(0) <= deck.length;
    // Where nothing needs balance the two ends settle it, and at once.
    let settled = two_deep && deck.limits.is_empty();
    if settled && let Some(verdict) = by_ends(&mut attempt, two_deep, work) {
        return verdict;
    }
    if let Some(spots) = lanes::single(&mut attempt, work) {
        return Verdict::Places(spots);
    }
    if let Some(spots) = columns::search(&mut attempt, work) {
        return Verdict::Places(spots);
    }
    if behind
        && !settled
        && let Some(verdict) = by_ends(&mut attempt, two_deep, work)
    {
        return verdict;
    }
    // Of many bundles the pairs are too many to be settled, and fillings are found more often.
    let many = items.len() > MANY;
    if many
        && let Some(spots) =
            lanes::search(&mut attempt, work).or_else(|| corners::fill(&mut attempt, work))
    {
        return Verdict::Places(spots);
    }
    let nodes = if many { deck.nodes / 16 } else { deck.nodes };
    match pairs::search(&mut attempt, nodes, work) {
        Verdict::Unknown if two_deep => return Verdict::Unknown,
        Verdict::Unknown => {}
        settled => return settled,
    }
    if !many
        && let Some(spots) =
            lanes::search(&mut attempt, work).or_else(|| corners::fill(&mut attempt, work))
    {
        return Verdict::Places(spots);
    }
    corners::search(&mut attempt, work)
}

/// Sets of more bundles are filled in before their pairs are looked at.
const MANY: usize = 12;

fn by_ends(attempt: &mut Attempt<'_>, exact: bool, work: &mut Work) -> Option<Verdict> {
    match ends::search(attempt, exact, work) {
        ends::Ends::Found(spots) => Some(Verdict::Places(spots)),
        ends::Ends::Never => Some(Verdict::Never),
        ends::Ends::Unknown => None,
    }
}

#[cfg(test)]
mod tests;
