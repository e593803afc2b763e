//! Subset sums by dynamic programming: one box filled from a table of units as full as its leading
//! row allows, the step of the minimum bin slack heuristic (Gupta and Ho 1999, from memory).
//!
//! Sums are kept as bits, a layer for each unit, so that the fullest subset can be read back.
//! Weights too fine for the bits are counted in cells, and the finished subset is checked against
//! the true rows. Shuffling the table gives other subsets of equal sum.

use super::bins::{Bin, carries};
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// Most cells of a capacity.
const CELLS: i64 = 1 << 17;

/// The fullest subset of `table` that a box of `kind` carries (perhaps empty).
pub(crate) fn fill(
    task: &Task,
    oracle: &mut Oracle,
    kind: usize,
    table: &[usize],
    work: &mut Purse,
) -> Vec<usize> {
    let own = &task.kinds[kind];
    let row = &own.rows[own.lead];
    let may: Vec<usize> =
        table.iter().copied().filter(|&unit| task.units[unit].allowed[kind]).collect();
    let cell = row.capacity / CELLS + 1;
    let cells = row.capacity / cell;
    let Ok(size) = usize::try_from(cells) else {
        return Vec::new();
    };
    let weights: Vec<usize> = may
        .iter()
        .map(|&unit| usize::try_from((row.weights[unit] + cell / 2) / cell).unwrap_or(usize::MAX))
        .collect();
    let layers = sums(&weights, size);
    work.spend(layers.len() * (size / 32 + 120) + 2000);
    let mut tries = 0;
    for sum in (0..=size).rev() {
        let Some(last) = layers.last() else { break };
        if !has(last, sum) {
            continue;
        }
        let chosen: Vec<usize> =
            read_back(&layers, &weights, sum).into_iter().map(|rank| may[rank]).collect();
        work.spend(100);
        if carries(task, oracle, kind, &chosen, work) {
            return chosen;
        }
        tries += 1;
        if tries >= 6 {
            break;
        }
    }
    greedy(task, oracle, kind, &may, work)
}

fn greedy(
    task: &Task,
    oracle: &mut Oracle,
    kind: usize,
    table: &[usize],
    work: &mut Purse,
) -> Vec<usize> {
    let mut bin = Bin::new(task, kind);
    for &unit in table {
        if bin.accepts(task, oracle, &[], &[unit], work) {
            bin.add(task, unit);
        }
    }
    bin.units
}

fn has(bits: &[u64], index: usize) -> bool {
    bits.get(index / 64).is_some_and(|word| word >> (index % 64) & 1 == 1)
}

/// Layer i: the sums reachable with the first i units.
fn sums(weights: &[usize], size: usize) -> Vec<Vec<u64>> {
    let words = size / 64 + 1;
    let mut layer = vec![0; words];
    layer[0] = 1;
    let mut layers = Vec::with_capacity(weights.len() + 1);
    for &weight in weights {
        let mut next = layer.clone();
        if weight <= size {
            let (skip, shift) = (weight / 64, weight % 64);
            for index in skip..words {
                let mut word = layer[index - skip] << shift;
                if shift > 0 && index > skip {
                    word |= layer[index - skip - 1] >> (64 - shift);
                }
                next[index] |= word;
            }
        }
        layers.push(std::mem::replace(&mut layer, next));
    }
    layers.push(layer);
    layers
}

fn read_back(layers: &[Vec<u64>], weights: &[usize], sum: usize) -> Vec<usize> {
    let mut chosen = Vec::new();
    let mut sum = sum;
    for rank in (0..weights.len()).rev() {
        if !has(&layers[rank], sum) {
            chosen.push(rank);
            sum -= weights[rank];
        }
    }
    chosen
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_fullest_sum_is_read_back() {
        let weights = [70, 65, 9, 128];
        let layers = sums(&weights, 140);
        let top = (0..=140).rev().find(|&sum| has(&layers[4], sum)).unwrap();
        assert_eq!(top, 137);
        let chosen = read_back(&layers, &weights, top);
        assert_eq!(chosen.iter().map(|&rank| weights[rank]).sum::<usize>(), 137);
    }
}
