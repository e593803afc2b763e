//! Polish, a local search among plans of equal cost: the spare payload gathered in one box, where
//! it can be topped up, by moving units out of the emptiest box and exchanging heavier for lighter.

use std::collections::BTreeMap;

use super::bins::Bin;
use super::draft::DraftPlan;
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::problem::Problem;
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// The draft with its spare gathered; never dearer, never more boxes, and no wish broken anew.
pub(crate) fn gather(
    problem: &Problem,
    task: &Task,
    draft: &DraftPlan,
    oracle: &mut Oracle,
    work: &mut Purse,
) -> DraftPlan {
    let mut home = BTreeMap::new();
    for (number, unit) in task.units.iter().enumerate() {
        for &piece in &unit.pieces {
            home.insert(piece, number);
        }
    }
    let mut bins: Vec<Bin> = draft
        .boxes
        .iter()
        .map(|(kind, pieces)| {
            let mut units: Vec<usize> =
                pieces.iter().filter_map(|piece| home.get(piece).copied()).collect();
            units.sort_unstable();
            units.dedup();
            Bin::holding(task, *kind, &units)
        })
        .collect();
    // The emptiest box takes the spare of the others; ties go to the later one.
    let Some(spare) = (0..bins.len()).max_by_key(|&bin| bins[bin].room(task, 0)) else {
        return draft.clone();
    };
    let mut best = draft.clone();
    for _ in 0..200 {
        let Some(next) = improve(task, &bins, spare, oracle, work) else {
            break;
        };
        let after = DraftPlan::of(problem, task, &next);
        if after.cost > best.cost || next[spare].units.is_empty() {
            break;
        }
        best = after;
        bins = next;
    }
    best
}

/// The first move or exchange, in packing order of boxes and units, that lightens `spare`.
fn improve(
    task: &Task,
    bins: &[Bin],
    spare: usize,
    oracle: &mut Oracle,
    work: &mut Purse,
) -> Option<Vec<Bin>> {
    // A wish must not be broken for a little spare: such units stay.
    let mut own = bins[spare].units.clone();
    own.sort_unstable();
    for &unit in &own {
        for other in (0..bins.len()).filter(|&other| other != spare) {
            let mut partners: Vec<Option<usize>> = vec![None];
            partners.extend(bins[other].units.iter().map(|&unit| Some(unit)));
            for partner in partners {
                work.spend(50);
                if work.dry() {
                    return None;
                }
                let back: Vec<usize> = partner.into_iter().collect();
                let lighter = back.iter().all(|&b| task.units[b].mass < task.units[unit].mass);
                if lighter
                    && task.units[unit].wishes.is_empty()
                    && back.iter().all(|&b| task.units[b].wishes.is_empty())
                    && bins[other].accepts(task, oracle, &back, &[unit], work)
                    && bins[spare].accepts(task, oracle, &[unit], &back, work)
                {
                    let mut next = bins.to_vec();
                    next[other].exchange(task, &back, &[unit]);
                    next[spare].exchange(task, &[unit], &back);
                    return Some(next);
                }
            }
        }
    }
    None
}
