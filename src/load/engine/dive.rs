//! Diving: boxes taken one after another from the linear program's solution, which is solved
//! anew for what remains, until nothing remains or nothing more fits the boxes allowed.

use super::bins::Bin;
use super::columns::{Pool, Program, demand};
use super::model::Task;
use super::oracle::Oracle;
use super::price::Pattern;
use super::start::carries;
use super::work::{Dice, Work};

/// A solution part that is taken as a whole box.
const SURE: i64 = 999_000;

/// Boxes from the program and the units they leave, within `caps` boxes of each kind.
pub(crate) fn dive(
    task: &Task,
    oracle: &mut Oracle,
    pool: &mut Pool,
    caps: &[usize],
    dice: &mut Dice,
    work: &mut Work,
) -> (Vec<Bin>, Vec<usize>) {
    let mut stock: Vec<Vec<usize>> = task
        .classes
        .iter()
        .map(|class| class.units.clone())
        .collect();
    let mut caps = caps.to_vec();
    let mut bins: Vec<Bin> = Vec::new();
    let mut need = demand(task);
    let bold = dice.below(3) != 0;
    while need.iter().any(|&count| count > 0) && caps.iter().any(|&cap| cap > 0) && !work.dry() {
        let mut program = Program::rest(task, &need, &caps);
        let mut admit = |kind: usize, pattern: &Pattern, work: &mut Work| {
            carries(task, oracle, kind, &stand_ins(task, pattern), work)
        };
        program.run(pool, &mut admit, work);
        let parts = program.solution();
        let mut taken = 0;
        for (rank, &(number, value)) in parts.iter().enumerate() {
            let (kind, pattern) = &pool.patterns[number];
            let sure = if bold {
                value >= 700_000 && taken < 3
            } else {
                false
            };
            let copies = if value >= SURE {
                usize::try_from((value + 1000) / 1_000_000).unwrap_or(1)
            } else {
                usize::from(sure || (taken == 0 && chosen(dice, rank, &parts)))
            };
            for _ in 0..copies {
                taken += usize::from(draw(
                    task, oracle, *kind, pattern, &mut stock, &mut caps, &mut bins, work,
                ));
            }
        }
        if taken == 0 {
            break;
        }
        for (count, units) in need.iter_mut().zip(&stock) {
            *count = units.len();
        }
    }
    let mut left: Vec<usize> = stock.into_iter().flatten().collect();
    left.sort_unstable();
    for (kind, &cap) in caps.iter().enumerate() {
        bins.extend(std::iter::repeat_n(
            Bin::new(task, kind),
            cap.min(left.len()),
        ));
    }
    (bins, left)
}

/// Mostly the largest part, sometimes one of the next, always one before they run out.
fn chosen(dice: &mut Dice, rank: usize, parts: &[(usize, i64)]) -> bool {
    rank + 1 == parts.len() || dice.below(4) != 0
}

/// Units that stand for a pattern's classes.
pub(crate) fn stand_ins(task: &Task, pattern: &Pattern) -> Vec<usize> {
    pattern
        .iter()
        .flat_map(|&(class, count)| task.classes[class].units.iter().take(count).copied())
        .collect()
}

/// Takes a box of the pattern out of the stock if all of it is there and it stands.
#[expect(clippy::too_many_arguments, reason = "the state of one dive")]
fn draw(
    task: &Task,
    oracle: &mut Oracle,
    kind: usize,
    pattern: &Pattern,
    stock: &mut [Vec<usize>],
    caps: &mut [usize],
    bins: &mut Vec<Bin>,
    work: &mut Work,
) -> bool {
    if caps[kind] == 0
        || pattern
            .iter()
            .any(|&(class, count)| stock[class].len() < count)
    {
        return false;
    }
    let units: Vec<usize> = pattern
        .iter()
        .flat_map(|&(class, count)| stock[class][..count].iter().copied())
        .collect();
    if !carries(task, oracle, kind, &units, work) {
        return false;
    }
    for &(class, count) in pattern {
        stock[class].drain(..count);
    }
    caps[kind] -= 1;
    bins.push(Bin::holding(task, kind, &units));
    true
}
