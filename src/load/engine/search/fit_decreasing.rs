//! First fit and best fit decreasing (Johnson 1974, from memory), kind by kind; then each box in
//! the cheapest kind that carries it. No plan of the engine is dearer than these.

use super::bins::{Bin, carries, cost};
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// The cheapest of the simple plans; `None` if none of them holds everything.
pub(crate) fn simple(task: &Task, oracle: &mut Oracle, work: &mut Purse) -> Option<Vec<Bin>> {
    let mut best: Option<Vec<Bin>> = None;
    for best_fit in [false, true] {
        for main in 0..task.kinds.len() {
            let Some(mut bins) = decreasing(task, oracle, main, best_fit, work) else {
                continue;
            };
            retype(task, oracle, &mut bins, work);
            let key = |bins: &Vec<Bin>| (cost(task, bins), bins.len());
            if best.as_ref().is_none_or(|old| key(&bins) < key(old)) {
                best = Some(bins);
            }
        }
    }
    best
}

fn decreasing(
    task: &Task,
    oracle: &mut Oracle,
    main: usize,
    best_fit: bool,
    work: &mut Purse,
) -> Option<Vec<Bin>> {
    let mut bins: Vec<Bin> = Vec::new();
    let mut taken = vec![0; task.kinds.len()];
    for unit in 0..task.units.len() {
        work.spend(5 * bins.len());
        let mut order: Vec<usize> = (0..bins.len()).collect();
        if best_fit {
            order.sort_by_key(|&bin| bins[bin].room(task, task.kinds[bins[bin].kind].lead));
        }
        let home =
            order.into_iter().find(|&bin| bins[bin].accepts(task, oracle, &[], &[unit], work));
        if let Some(home) = home {
            bins[home].add(task, unit);
            continue;
        }
        let mut kinds: Vec<usize> = (0..task.kinds.len()).collect();
        kinds.sort_by_key(|&kind| (kind != main, task.kinds[kind].cost));
        let kind = kinds.into_iter().find(|&kind| {
            task.is_had(&taken, kind)
                && Bin::new(task, kind).accepts(task, oracle, &[], &[unit], work)
        })?;
        if bins.len() >= task.max_boxes {
            return None;
        }
        taken[kind] += 1;
        bins.push(Bin::holding(task, kind, &[unit]));
    }
    Some(bins)
}

/// Moves each box, the emptiest first, to the cheapest kind that carries it and is to be had.
pub(crate) fn retype(task: &Task, oracle: &mut Oracle, bins: &mut [Bin], work: &mut Purse) {
    let mut taken = vec![0; task.kinds.len()];
    for bin in bins.iter() {
        taken[bin.kind] += 1;
    }
    let mut order: Vec<usize> = (0..bins.len()).collect();
    order.sort_by_key(|&bin| bins[bin].used[0]);
    for index in order {
        let mut kinds: Vec<usize> = (0..task.kinds.len()).collect();
        kinds.sort_by_key(|&kind| task.kinds[kind].cost);
        for kind in kinds {
            if task.kinds[kind].cost >= task.kinds[bins[index].kind].cost {
                break;
            }
            taken[bins[index].kind] -= 1;
            if task.is_had(&taken, kind) && carries(task, oracle, kind, &bins[index].units, work) {
                taken[kind] += 1;
                bins[index] = Bin::holding(task, kind, &bins[index].units);
                break;
            }
            taken[bins[index].kind] += 1;
        }
    }
}
