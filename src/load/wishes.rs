//! What a shipment asks of its load, as the engine's groups, pairs and pins.

use std::collections::{BTreeMap, BTreeSet};

use super::engine::{Grouping, Pin, Problem};
use super::plan::{FilledBox, Misfit, Variant};
use crate::quantity::Money;
use crate::trade::{Bond, GivenBox, LoadWishes};

/// How many ways of choosing the variants of fixed boxes are tried, one solve each.
const MOST_WAYS: usize = 64;

/// Puts the wishes into a problem, all but its pins. Blocks are groups already.
pub(super) fn ask(problem: &mut Problem, wishes: &LoadWishes) {
    match wishes.blocks.as_ref().map(|blocks| blocks.value) {
        // A piece has one group; rules bind it to any number of others.
        Some(Bond::Rule) => problem.ties.extend(blocks(problem)),
        Some(Bond::Wish(price)) => problem.groups.fill(grouping(price)),
        None => {}
    }
    for (bundles, bond) in &wishes.together {
        match bond {
            Bond::Rule => problem.ties.push(bundles.value.clone()),
            Bond::Wish(price) => {
                let group = problem.groups.len();
                problem.groups.push(grouping(*price));
                for at in &bundles.value {
                    // It leaves its block, which has no price of its own: the reader saw to that.
                    if let Some(piece) = problem.pieces.get_mut(*at) {
                        piece.group = Some(group);
                    }
                }
            }
        }
    }
    let mut pairs = BTreeSet::new();
    for bundles in wishes.apart.iter().map(|set| &set.value) {
        for (rank, one) in bundles.iter().enumerate() {
            let others = bundles.get(rank + 1..).unwrap_or_default();
            pairs.extend(others.iter().map(|other| (*one.min(other), *one.max(other))));
        }
    }
    problem.apart.extend(pairs);
    problem.max_boxes = wishes.most.as_ref().map(|most| most.value);
}

fn grouping(price: Money) -> Grouping {
    Grouping::Wish { price: price.minor().unwrap_or(i64::MAX) }
}

/// The pieces of each block.
fn blocks(problem: &Problem) -> Vec<Vec<usize>> {
    let mut blocks: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, piece) in problem.pieces.iter().enumerate() {
        if let Some(group) = piece.group {
            blocks.entry(group).or_default().push(at);
        }
    }
    blocks.into_values().collect()
}

/// Every way to pin the fixed boxes: a box whose class is not said may be of any variant of its type.
///
/// # Errors Where no variant matches a fixed box, or there are more ways than are tried.
pub(super) fn ways(
    wishes: &LoadWishes,
    variants: &[Variant],
) -> Result<Vec<Vec<Pin>>, Vec<Misfit>> {
    let mut all: Vec<Vec<Pin>> = vec![Vec::new()];
    for given in &wishes.fixed {
        let kinds: Vec<usize> = variants
            .iter()
            .enumerate()
            .filter(|(_, variant)| variant.is_of(given))
            .map(|(at, _)| at)
            .collect();
        let refuse = |reason: String| {
            let (bundles, asked) = (given.bundles.clone(), vec![given.place.clone()]);
            Err(vec![Misfit { bundles, reason, asked, proven: false }])
        };
        if kinds.is_empty() {
            let why = if variants.iter().any(|variant| variant.is_but_for_offers(given)) {
                "asks for offers that have no rates here"
            } else {
                "is of a type and class that have no rates here"
            };
            return refuse(format!("container {} {why}", given.label));
        }
        if all.len() * kinds.len() > MOST_WAYS {
            return refuse(format!(
                "container {} may be of too many classes: say which",
                given.label
            ));
        }
        all = all
            .iter()
            .flat_map(|pins| {
                kinds.iter().map(|kind| {
                    let mut pins = pins.clone();
                    pins.push(Pin { pieces: given.bundles.clone(), kind: *kind });
                    pins
                })
            })
            .collect();
    }
    Ok(all)
}

/// Calls the boxes that were fixed as the shipment calls them, and counts the others around them.
pub(super) fn label(boxes: &mut [FilledBox], fixed: &[GivenBox]) {
    let taken: BTreeSet<&str> = fixed.iter().map(|given| given.label.as_str()).collect();
    let mut next = 0usize;
    for filled in boxes {
        let own = fixed.iter().find(|given| {
            given.bundles.first().is_some_and(|first| filled.bundles.contains(first))
        });
        if let Some(given) = own {
            filled.label.clone_from(&given.label);
            continue;
        }
        next += 1;
        while taken.contains(next.to_string().as_str()) {
            next += 1;
        }
        filled.label = next.to_string();
    }
}
