//! Stocks of boxes, as the engine counts them.
//!
//! Decided on 2026-11-26. A row of `[[load.available]]` is a stock of the engine: so many boxes of some
//! kinds together. Ways of the doors and tiers of a surcharge are kinds of their own, and one stock holds
//! them all.

use super::engine::{Problem, Stock};
use super::plan::Variant;
use crate::trade::Available;

/// Puts the stocks into a problem. A row without a matching kind counts nothing.
pub(super) fn ask(problem: &mut Problem, variants: &[Variant], had: &[Available]) {
    // For each kind: by how many rows it is counted.
    let mut counted = vec![0usize; problem.kinds.len()];
    let mut in_all = 0u32;
    for had in had {
        let is_one = |(_, variant): &(usize, &Variant)| variant.is_had(had);
        let kinds: Vec<usize> =
            variants.iter().enumerate().filter(is_one).map(|(at, _)| at).collect();
        if kinds.is_empty() {
            continue;
        }
        for at in &kinds {
            if let Some(times) = counted.get_mut(*at) {
                *times += 1;
            }
        }
        in_all = in_all.saturating_add(had.count);
        problem.stocks.push(Stock { kinds, count: had.count });
    }
    // What is counted once each is so many boxes in all, which says more than the parts do.
    if counted.iter().all(|times| *times == 1) {
        let most = problem.max_boxes.map_or(in_all, |most| most.min(in_all));
        problem.max_boxes = Some(most);
    }
}
