//! How many boxes are to be had, where several kinds of box are counted together: the engine counts
//! each kind by itself, so a plan that overdraws what there is is planned again for every way to
//! share it out among the kinds.

use super::engine::{Loaded, Problem};
use super::plan::Variant;
use crate::trade::Available;

/// Kinds that are counted together, and how many boxes there are of them.
pub(super) struct Stock {
    kinds: Vec<usize>,
    count: u32,
}

/// Puts what is to be had into a problem, as far as kinds can be counted by themselves.
pub(super) fn ask(problem: &mut Problem, variants: &[Variant], had: &[Available]) -> Vec<Stock> {
    let mut stocks = Vec::new();
    // For each kind: by how many counts it is had.
    let mut counted = vec![0usize; problem.kinds.len()];
    let mut in_all = 0u32;
    for had in had {
        let count = had.count;
        let is_one = |(_, variant): &(usize, &Variant)| variant.is_had(had);
        let kinds: Vec<usize> =
            variants.iter().enumerate().filter(is_one).map(|(at, _)| at).collect();
        if !kinds.is_empty() {
            in_all = in_all.saturating_add(count);
        }
        for at in &kinds {
            if let Some(counted) = counted.get_mut(*at) {
                *counted += 1;
            }
            if let Some(kind) = problem.kinds.get_mut(*at) {
                kind.available = Some(at_most(kind.available, count));
            }
        }
        if kinds.len() == problem.kinds.len() {
            problem.max_boxes = Some(at_most(problem.max_boxes, count));
        } else if kinds.len() > 1 {
            stocks.push(Stock { kinds, count });
        }
    }
    if counted.iter().all(|counts| *counts == 1) {
        problem.max_boxes = Some(at_most(problem.max_boxes, in_all));
    }
    stocks
}

fn at_most(known: Option<u32>, count: u32) -> u32 {
    known.map_or(count, |known| known.min(count))
}

/// The problems that a plan leads to which takes more boxes than there are, one for each way
/// to share them out: every plan within the count is one of some of them. `None`: it does not.
pub(super) fn shared_out(
    problem: &Problem,
    stocks: &[Stock],
    boxes: &[Loaded],
) -> Option<Vec<Problem>> {
    let taken = |stock: &Stock| {
        let own = boxes.iter().filter(|one| stock.kinds.contains(&one.kind)).count();
        u32::try_from(own).unwrap_or(u32::MAX)
    };
    let stock = stocks.iter().find(|stock| taken(stock) > stock.count)?;
    let shares = shares(stock.count, stock.kinds.len());
    let with = |shares: Vec<u32>| {
        let mut problem = problem.clone();
        for (at, share) in stock.kinds.iter().zip(shares) {
            if let Some(kind) = problem.kinds.get_mut(*at) {
                kind.available = Some(at_most(kind.available, share));
            }
        }
        problem
    };
    Some(shares.into_iter().map(with).collect())
}

/// Every way to write a count as a sum of so many parts, in order.
fn shares(count: u32, parts: usize) -> Vec<Vec<u32>> {
    if parts < 2 {
        return vec![vec![count; parts]];
    }
    let first = |own: u32| {
        shares(count - own, parts - 1).into_iter().map(move |rest| {
            let mut all = vec![own];
            all.extend(rest);
            all
        })
    };
    (0..=count).rev().flat_map(first).collect()
}

#[cfg(test)]
mod tests {
    use super::shares;

    #[test]
    fn every_share_once() {
        assert_eq!(shares(2, 2), [[2, 0], [1, 1], [0, 2]]);
        assert_eq!(shares(3, 3).len(), 10);
        assert_eq!(shares(4, 1), [[4]]);
    }
}
