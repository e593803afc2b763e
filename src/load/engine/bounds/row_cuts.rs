//! Cuts from the rows alone, without a linear program: the sum of all units by one row, against the
//! most that each kind of box holds of it by a row of its own. They need no search, and often suffice.

use super::cut::Cut;
use crate::load::engine::model::task::Task;

/// One cut for each measure of each kind that every other kind can answer with a capacity.
pub(crate) fn plain(task: &Task) -> Vec<Cut> {
    let mut cuts: Vec<Cut> = Vec::new();
    for kind in &task.kinds {
        for row in &kind.rows {
            let need: i128 = row.weights.iter().map(|&weight| i128::from(weight)).sum();
            let capacity: Option<Vec<i128>> =
                (0..task.kinds.len()).map(|other| most(task, other, &row.weights)).collect();
            if let Some(capacity) = capacity {
                let cut = Cut { weights: row.weights.clone(), need, capacity, wish: 0 };
                if !cuts.contains(&cut) {
                    cuts.push(cut);
                }
            }
        }
    }
    cuts
}

/// A capacity for these weights in a box of the kind. What fits a row's capacity weighs at most
/// that capacity times the best ratio of a unit's weight to its row weight; the least over the
/// rows holds. `None` where some unit that weighs something takes nothing of any row.
fn most(task: &Task, kind: usize, weights: &[i64]) -> Option<i128> {
    let own = &task.kinds[kind];
    let fits: Vec<usize> =
        (0..weights.len()).filter(|&unit| task.units[unit].allowed[kind]).collect();
    let mut least: Option<i128> = None;
    for row in &own.rows {
        let mut best = (0_i128, 1_i128);
        let mut free = false;
        for &unit in &fits {
            let (gain, load) = (i128::from(weights[unit]), i128::from(row.weights[unit]));
            if load == 0 {
                free |= gain > 0;
            } else if gain * best.1 > best.0 * load {
                best = (gain, load);
            }
        }
        if !free {
            // More than all units weigh is as good as any, and keeps sums of boxes narrow.
            let bound = (best.0 * i128::from(row.capacity) / best.1).min(i64::MAX.into());
            least = Some(least.map_or(bound, |old| old.min(bound)));
        }
    }
    least
}
