//! What must stay apart, against what belongs together.

use std::collections::BTreeSet;

use super::problem::Problem;

/// Every pair of pieces that may not share a box: those said to, and those of two begun boxes.
pub(crate) struct Strife(BTreeSet<(usize, usize)>);

impl Strife {
    pub(crate) fn of(problem: &Problem) -> Self {
        let ordered = |one: usize, other: usize| (one.min(other), one.max(other));
        let mut pairs: BTreeSet<(usize, usize)> =
            problem.apart.iter().map(|&(one, other)| ordered(one, other)).collect();
        for (number, pin) in problem.pins.iter().enumerate() {
            let others = problem.pins[..number].iter().flat_map(|other| &other.pieces);
            for &other in others {
                pairs.extend(pin.pieces.iter().map(|&one| ordered(one, other)));
            }
        }
        Self(pairs)
    }

    /// Whether two of these pieces may not share a box.
    pub(crate) fn tears(&self, pieces: &[usize]) -> bool {
        pieces.len() > 1
            && self.0.iter().any(|(one, other)| pieces.contains(one) && pieces.contains(other))
    }

    /// How many boxes beyond the first these pieces touch at least: as many as there are pieces of
    /// which no two share one, less one. Pieces are taken in order, so it may be more.
    pub(crate) fn breaks(&self, pieces: &[usize]) -> usize {
        let parted = |one: usize, other: usize| self.0.contains(&(one.min(other), one.max(other)));
        let from = |first: &usize| {
            let mut set = vec![*first];
            for &piece in pieces {
                if set.iter().all(|&one| parted(one, piece)) {
                    set.push(piece);
                }
            }
            set.len()
        };
        pieces.iter().map(from).max().unwrap_or(1) - 1
    }
}
