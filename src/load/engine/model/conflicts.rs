//! Conflicts: which pieces may not share a box, as a graph over the pieces.

use std::collections::BTreeSet;

use super::problem::Problem;

/// Every pair of pieces that may not share a box: those said to stay apart, and those of two
/// begun boxes.
pub(crate) struct Conflicts(BTreeSet<(usize, usize)>);

impl Conflicts {
    pub(crate) fn of(problem: &Problem) -> Self {
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
    pub(crate) fn are_within(&self, pieces: &[usize]) -> bool {
        pieces.len() > 1
            && self.0.iter().any(|(one, other)| pieces.contains(one) && pieces.contains(other))
    }

    /// By set of pieces: the other sets that may not share its box, ascending. No piece is in two
    /// sets.
    pub(crate) fn between(&self, sets: &[&[usize]]) -> Vec<Vec<usize>> {
        let pieces = sets.iter().flat_map(|set| set.iter()).max().map_or(0, |&last| last + 1);
        let mut home = vec![None; pieces];
        for (number, set) in sets.iter().enumerate() {
            for &piece in *set {
                home[piece] = Some(number);
            }
        }
        let of = |piece: usize| home.get(piece).copied().flatten();
        let mut apart = vec![BTreeSet::new(); sets.len()];
        for &(one, other) in &self.0 {
            if let (Some(a), Some(b)) = (of(one), of(other))
                && a != b
            {
                apart[a].insert(b);
                apart[b].insert(a);
            }
        }
        apart.into_iter().map(|set| set.into_iter().collect()).collect()
    }

    /// The least number of boxes that these pieces need beyond the first. A clique of the graph
    /// needs a box for each of its pieces, as no two of them may share one. It is found greedily; a
    /// larger one may exist.
    pub(crate) fn boxes_beyond_first(&self, pieces: &[usize]) -> usize {
        let clique_from = |first: &usize| {
            let mut clique = vec![*first];
            for &piece in pieces {
                if clique.iter().all(|&one| self.0.contains(&ordered(one, piece))) {
                    clique.push(piece);
                }
            }
            clique.len()
        };
        pieces.iter().map(clique_from).max().unwrap_or(1) - 1
    }
}

fn ordered(one: usize, other: usize) -> (usize, usize) {
    (one.min(other), one.max(other))
}
