//! One question to the floor: the answer, and what the methods learn on the way to it.

use super::balance;
use crate::load::engine::model::deck::{Deck, Item, Position};
use crate::load::engine::model::effort::{Dice, Purse};

/// The oracle's answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Placement {
    /// The set stands: its places, in the order asked.
    Places(Vec<Position>),
    /// Proven impossible.
    Never,
    /// Neither found nor excluded within the budget.
    Unknown,
}

/// Collects what the layout makers learn on the way.
pub(crate) struct Attempt<'a> {
    pub(crate) deck: &'a Deck,
    pub(crate) items: &'a [Item],
    pub(crate) dice: Dice,
    /// Whether any layout stood on the floor, though the balance refused it.
    pub(crate) stood: bool,
    /// Layouts that may still be offered to the balance.
    pub(crate) patience: u32,
}

/// Nodes that an exact search may take for one question.
pub(crate) const NODES: u32 = 3000;
/// Layouts that one question offers to the balance.
const PATIENCE: u32 = 60;

impl<'a> Attempt<'a> {
    pub(crate) fn new(deck: &'a Deck, items: &'a [Item]) -> Self {
        Attempt { deck, items, dice: Dice::new(1), stood: false, patience: PATIENCE }
    }

    /// Offers a layout: slides it into balance and keeps it if every rule holds.
    pub(crate) fn offer(&mut self, spots: &[Position], work: &mut Purse) -> Option<Vec<Position>> {
        self.stood = true;
        self.patience = self.patience.saturating_sub(1);
        work.spend(60 * spots.len() * spots.len());
        if self.deck.limits.is_empty() && self.deck.bears(self.items, spots) {
            return Some(spots.to_vec());
        }
        balance::settle(self.deck, self.items, spots)
    }
}
