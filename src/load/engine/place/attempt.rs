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
    /// Whether any layout stood on the floor, though the balance or the way in refused it.
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
            return self.entered(spots.to_vec());
        }
        self.entered(balance::settle(self.deck, self.items, spots)?)
    }

    /// A layout that holds, if its pieces come in one after the other, or do so pressed to one wall.
    pub(crate) fn entered(&self, spots: Vec<Position>) -> Option<Vec<Position>> {
        let (deck, items) = (self.deck, self.items);
        if deck.is_entered(items, &spots) {
            return Some(spots);
        }
        let pressed =
            [false, true].into_iter().filter_map(|far| balance::press(deck, items, &spots, far));
        pressed.into_iter().find(|spots| deck.is_entered(items, spots))
    }
}
