//! How many boxes of a type are to be had, where several kinds of box are of that type: the engine
//! counts each kind by itself, so a plan that overdraws a type is planned again for every way to
//! share its boxes out among the kinds.

use super::engine::{Loaded, Problem};
use super::plan::Variant;

/// The kinds of one type, and how many boxes there are of them together.
pub(super) struct Stock {
    kinds: Vec<usize>,
    count: u32,
}

/// Puts what is to be had into a problem, as far as kinds can be counted by themselves.
pub(super) fn ask(problem: &mut Problem, variants: &[Variant], had: &[(&str, u32)]) -> Vec<Stock> {
    let mut stocks = Vec::new();
    for (name, count) in had {
        let of_type = |(_, variant): &(usize, &Variant)| variant.container.id == *name;
        let kinds = variants.iter().enumerate().filter(of_type).map(|(at, _)| at);
        let kinds: Vec<usize> = kinds.collect();
        for at in &kinds {
            if let Some(kind) = problem.kinds.get_mut(*at) {
                kind.available = Some(*count);
            }
        }
        if kinds.len() == problem.kinds.len() {
            problem.max_boxes = Some(problem.max_boxes.map_or(*count, |most| most.min(*count)));
        } else {
            stocks.push(Stock { kinds, count: *count });
        }
    }
    stocks
}

/// The problems that a plan leads to which takes more boxes of a type than there are, one for each
/// way to share them out: every plan within the count is one of some of them. `None`: it does not.
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
                kind.available = Some(share);
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
