//! What is chosen or left together: a bundle, or all bundles that share a book-matched set. Of alike ones it does not
//! matter which are chosen, so the first are.

use std::collections::{BTreeMap, BTreeSet};

use crate::trade::{Bundle, Covers, Offered, Shipment, Slab, Take};

/// Bundles that are chosen or left together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Unit {
    /// By position on the list, ascending.
    pub(super) bundles: Vec<usize>,
}

/// What is taken of a list, and what is open. Where the purchase itself is chosen, bundles without a mark are
/// open, else they are taken. A set with a bundle that is taken is taken whole; one with a bundle that is not
/// taken is not.
///
/// # Errors
/// Where a set has a bundle that is taken and one that is not.
pub(super) fn units(
    offered: &[Offered],
    chooses_all: bool,
) -> Result<(Vec<usize>, Vec<Unit>), String> {
    let mut root: Vec<usize> = (0..offered.len()).collect();
    let mut first: BTreeMap<&str, usize> = BTreeMap::new();
    for (at, one) in offered.iter().enumerate() {
        for set in &one.sets {
            let known = *first.entry(set).or_insert(at);
            let (a, b) = (root.get(known).copied(), root.get(at).copied());
            let (Some(a), Some(b)) = (a, b) else { continue };
            for entry in root.iter_mut().filter(|entry| **entry == a.max(b)) {
                *entry = a.min(b);
            }
        }
    }
    let mut joined: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, root) in root.into_iter().enumerate() {
        joined.entry(root).or_default().push(at);
    }
    let take = |at: &usize| offered.get(*at).map_or(Take::No, |one| one.take);
    let is_taken = |at: &usize| match take(at) {
        Take::Keep => true,
        Take::Unmarked => !chooses_all,
        Take::Open | Take::No => false,
    };
    let (mut taken, mut open) = (Vec::new(), Vec::new());
    for bundles in joined.into_values() {
        let is_cut = bundles.iter().any(|at| take(at) == Take::No);
        if bundles.iter().any(is_taken) {
            if is_cut && bundles.len() > 1 {
                let set = bundles.iter().find_map(|at| offered.get(*at)?.sets.first());
                let set = set.map_or("", |set| set.as_str());
                return Err(format!(
                    "the book-matched set {set} has a bundle that is taken and one that is marked no"
                ));
            }
            taken.extend(bundles);
        } else if !is_cut {
            open.push(Unit { bundles });
        }
    }
    taken.sort_unstable();
    Ok((taken, open))
}

/// The alike unit before each, where there is one: bundles of the same slabs, outside and mass. `by_block`: they are of
/// the same block, too. A bundle that the shipment names, in a bill or a wish of its load, is like no other.
pub(super) fn alike(units: &[Unit], shipment: &Shipment, by_block: bool) -> Vec<Option<usize>> {
    let load = &shipment.load;
    let of_papers = shipment.bills.iter().map(|bill| &bill.covers);
    let of_papers = of_papers.chain(shipment.filings.iter().map(|filing| &filing.covers));
    let of_papers = of_papers.filter_map(|covers| match covers {
        Covers::Bundles(all) => Some(all),
        _ => None,
    });
    let sets = load.together.iter().map(|(set, _)| &set.value);
    let sets = sets.chain(load.apart.iter().map(|set| &set.value));
    let boxes = shipment.boxes.iter().chain(&load.fixed).map(|one| &one.bundles);
    let named: BTreeSet<usize> = of_papers.chain(sets).chain(boxes).flatten().copied().collect();
    let free: BTreeSet<&str> = shipment
        .invoices
        .iter()
        .flat_map(|invoice| &invoice.free_slabs)
        .map(|name| name.value.as_str())
        .collect();
    let mut slabs: Vec<Vec<&Slab>> = vec![Vec::new(); shipment.bundles.len()];
    for slab in shipment.slabs.iter() {
        if let Some(own) = usize::try_from(slab.bundle).ok().and_then(|at| slabs.get_mut(at)) {
            own.push(slab);
        }
    }
    let outside = |one: &Bundle| {
        let block = one.block.clone().filter(|_| by_block);
        (block, one.mass, one.limit_mass, one.may_turn, [one.length, one.width, one.height])
    };
    let is_like = |one: &Slab, other: &Slab| {
        (one.line, &one.quality, &one.sawn) == (other.line, &other.quality, &other.sawn)
            && (one.billed_area, one.mass) == (other.billed_area, other.mass)
            && free.contains(&*one.id) == free.contains(&*other.id)
    };
    let are_like = |(one, other): (&usize, &usize)| {
        let bundles = shipment.bundles.get(*one).zip(shipment.bundles.get(*other));
        let inside = slabs.get(*one).zip(slabs.get(*other));
        !named.contains(one)
            && !named.contains(other)
            && bundles.is_some_and(|(one, other)| outside(one) == outside(other))
            && inside.is_some_and(|(one, other)| {
                one.len() == other.len() && one.iter().zip(other).all(|(a, b)| is_like(a, b))
            })
    };
    let before = |(at, unit): (usize, &Unit)| {
        let earlier = units.iter().enumerate().take(at).rev();
        let mut alike = earlier.filter(|(_, other)| {
            other.bundles.len() == unit.bundles.len()
                && other.bundles.iter().zip(&unit.bundles).all(are_like)
        });
        alike.next().map(|(at, _)| at)
    };
    units.iter().enumerate().map(before).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(take: Take, set: &str) -> Offered {
        let sets = if set.is_empty() { Vec::new() } else { vec![set.into()] };
        Offered { take, sets }
    }

    #[test]
    fn a_set_is_taken_whole_or_not_at_all() {
        let list = [
            one(Take::Keep, "A"),
            one(Take::Open, "A"),
            one(Take::Open, "B"),
            one(Take::No, "B"),
            one(Take::Open, "C"),
            one(Take::Unmarked, "C"),
            one(Take::Open, ""),
        ];
        // C has a bundle without a mark: that is taken, or open where all is chosen.
        let unit = |bundles: &[usize]| Unit { bundles: bundles.to_vec() };
        assert_eq!(units(&list, false).unwrap(), (vec![0, 1, 4, 5], vec![unit(&[6])]));
        assert_eq!(units(&list, true).unwrap(), (vec![0, 1], vec![unit(&[4, 5]), unit(&[6])]));
        let torn = [one(Take::Keep, "A"), one(Take::No, "A")];
        assert!(units(&torn, true).unwrap_err().contains("set A"));
    }
}
