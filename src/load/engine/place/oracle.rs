//! The oracle: answers of the floor by units and kinds, each searched for once and remembered.

use std::hash::Hash;

use rustc_hash::FxHashMap;

use super::attempt::Placement;
use super::try_place::try_place;
use crate::load::engine::model::deck::{Deck, Position};
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;

/// What is known of a set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stands {
    Yes,
    Never,
    Unknown,
}

/// Remembers answers by floor and set. The map is only ever asked, never walked.
#[derive(Debug, Default)]
pub(crate) struct Oracle {
    memory: FxHashMap<(usize, Vec<usize>), Stands>,
    /// The same for sets of the first units, as bits.
    short: FxHashMap<(usize, u128), Stands>,
}

/// Answers kept before the memory starts afresh.
const MEMORY: usize = 400_000;

impl Oracle {
    /// Whether these units stand in a box of that kind. The caller checks the rows.
    pub(crate) fn ask(
        &mut self,
        task: &Task,
        kind: usize,
        units: &[usize],
        work: &mut Purse,
    ) -> Stands {
        let deck = &task.kinds[kind].deck;
        self.recall(task, kind, (deck, task.kinds[kind].floor), units, work)
    }

    /// The same on the floor without balance and without an order of coming in.
    pub(crate) fn ask_bare(
        &mut self,
        task: &Task,
        kind: usize,
        units: &[usize],
        work: &mut Purse,
    ) -> Stands {
        let own = &task.kinds[kind];
        let same = own.deck.limits.is_empty() && own.deck.entry.is_none();
        let floor = if same { own.floor } else { task.kinds.len() + own.floor };
        self.recall(task, kind, (&own.bare, floor), units, work)
    }

    /// The answer on a floor of that number, remembered or found.
    fn recall(
        &mut self,
        task: &Task,
        kind: usize,
        (deck, floor): (&Deck, usize),
        units: &[usize],
        work: &mut Purse,
    ) -> Stands {
        let kind = &task.kinds[kind];
        if kind.open || units.is_empty() {
            return Stands::Yes;
        }
        work.spend(200);
        let Some(bits) = bits(units) else {
            let mut key = (floor, units.to_vec());
            key.1.sort_unstable();
            return match self.memory.get(&key) {
                Some(&known) => known,
                None => {
                    let answer = look(task, deck, units, work);
                    keep(&mut self.memory, key, answer)
                }
            };
        };
        match self.short.get(&(floor, bits)) {
            Some(&known) => known,
            None => keep(&mut self.short, (floor, bits), look(task, deck, units, work)),
        }
    }

    /// The places behind a `Yes`, piece by piece; the search is the same, so the answer is too.
    pub(crate) fn places(
        task: &Task,
        kind: usize,
        pieces: &[usize],
    ) -> Option<Vec<(usize, Position)>> {
        let mut pieces = pieces.to_vec();
        pieces.sort_unstable();
        let deck = &task.kinds[kind].deck;
        match try_place(deck, &task.floor_items(&pieces), &mut Purse::new(u64::MAX)) {
            Placement::Places(spots) => Some(pieces.into_iter().zip(spots).collect()),
            _ => None,
        }
    }
}

/// The units as bits; `None` where one has too large a number.
fn bits(units: &[usize]) -> Option<u128> {
    units.iter().try_fold(0, |set, &unit| Some(set | 1_u128.checked_shl(unit.try_into().ok()?)?))
}

fn look(task: &Task, deck: &Deck, units: &[usize], work: &mut Purse) -> Stands {
    match try_place(deck, &task.floor_items(&task.pieces(units)), work) {
        Placement::Places(_) => Stands::Yes,
        Placement::Never => Stands::Never,
        Placement::Unknown => Stands::Unknown,
    }
}

fn keep<K: Eq + Hash>(memory: &mut FxHashMap<K, Stands>, key: K, answer: Stands) -> Stands {
    if memory.len() >= MEMORY {
        memory.clear();
    }
    memory.insert(key, answer);
    answer
}
