//! The dual bound by Farley (1990, "A note on bounding a class of linear programming problems",
//! from memory), made a cut on whole boxes.
//!
//! Prices of any kind are turned into whole numbers and every kind of box is priced exactly: no
//! box of kind k holds more than V[k] of them. So boxes that carry the load have V[k] in sum at
//! least what the whole demand is worth. Farley divides by the largest V to bound the linear
//! program; here the V stay as they are, a condition that anyone can redo, whatever the floats
//! of the program did.
//!
//! Where groups have a price, V[k] is what a box holds less the price of the groups it touches, S to the minor
//! unit. Each group is touched once more often than it is torn. So the boxes, with S for every minor unit that
//! tearing costs, make at least the worth of the demand less S times the price of all groups.

use super::column_generation::{Aim, Program, Start, worth};
use super::cut::{Cut, Vector};
use super::knapsack::{Question, price};
use super::patterns::Pool;
use super::simplex::Prices;
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;

/// Search nodes of the pricing that proves.
const PROOF_NODES: u64 = 4_000_000;
/// Patterns that it may add to the program.
const GRAB: usize = 4;

/// The cut of the program at least cost, which goes on from `start` and leaves a better one.
pub(crate) fn first_cut(
    task: &Task,
    start: &mut Option<Start>,
    pool: &mut Pool,
    work: &mut Purse,
) -> Cut {
    let caps: Vec<usize> = task.kinds.iter().map(|kind| kind.available).collect();
    let mut program = Program::least_cost(task, &caps, start.as_ref(), Aim::Prove);
    program.smooth = true;
    let cut = best_cut(&mut program, pool, work);
    *start = Some(program.into_start());
    cut
}

/// The cut of the program for a vector of boxes.
pub(crate) fn vector_cut(task: &Task, vector: &Vector, pool: &mut Pool, work: &mut Purse) -> Cut {
    best_cut(&mut Program::least_uncovered(task, vector), pool, work)
}

/// The cut of the program that tears least with a vector of boxes.
pub(crate) fn torn_cut(task: &Task, vector: &Vector, pool: &mut Pool, work: &mut Purse) -> Cut {
    best_cut(&mut Program::least_torn(task, vector), pool, work)
}

/// The cut that the program's prices give once nothing improves it.
fn best_cut(program: &mut Program<'_>, pool: &mut Pool, work: &mut Purse) -> Cut {
    loop {
        let prices = program.run(pool, &mut |_, _, _| true, work);
        let (cut, fresh) = weigh(program.task, &prices, &program.demand, pool, work);
        // The pricing that proves searches deeper; what it finds may move the program on.
        if !fresh || work.dry() {
            return cut;
        }
    }
}

/// The cut that prices give, and whether its proof brought patterns that improve the program.
fn weigh(
    task: &Task,
    prices: &Prices,
    demand: &[usize],
    pool: &mut Pool,
    work: &mut Purse,
) -> (Cut, bool) {
    let mut capacity = Vec::new();
    let mut fresh = false;
    for kind in 0..task.kinds.len() {
        if task.kinds[kind].served_by.is_some() {
            capacity.push(0);
            continue;
        }
        let question = Question {
            task,
            kind,
            profits: &prices.classes,
            demand,
            floor: prices.kinds[kind].max(0),
            nodes: PROOF_NODES,
            wish: prices.wish,
        };
        let priced = price(&question, work);
        for (worth, pattern) in priced.patterns.into_iter().take(GRAB) {
            fresh |= worth > prices.kinds[kind] && pool.add(kind, pattern);
        }
        capacity.push(i128::from(priced.bound));
    }
    // What such a box holds, the other holds as well.
    for (kind, own) in task.kinds.iter().enumerate() {
        if let Some(other) = own.served_by {
            capacity[kind] = capacity[other];
        }
    }
    let classes = &prices.classes;
    let all: i128 = task.groups.iter().map(|&price| i128::from(price)).sum();
    let wish = i128::from(prices.wish);
    let need = worth(classes, demand) - wish * all;
    let weights = task.units.iter().map(|unit| classes[unit.class]).collect();
    (Cut { weights, need, capacity, wish }, fresh)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::problem::Problem;
    use crate::load::engine::testing::{box_kind, piece, task_of};

    #[test]
    fn a_program_goes_on_from_where_the_first_ended_with_fewer_boxes() {
        // Seven of 51 in boxes of 100 are one to a box, though their mass would do with four.
        let problem = Problem {
            pieces: vec![piece(51, 1, 1); 7],
            kinds: vec![box_kind(100, 10, 1, 3)],
            ..Problem::default()
        };
        let task = task_of(&problem);
        let (mut pool, work) = (Pool::default(), &mut Purse::new(u64::MAX));
        let mut start = None;
        let cut = first_cut(&task, &mut start, &mut pool, work);
        assert!(cut.need <= 7 * cut.capacity[0] && cut.need > 6 * cut.capacity[0]);
        assert!(start.is_some());
        for aim in [Aim::Prove, Aim::Dive, Aim::Fit] {
            for (boxes, misses) in [(7, false), (6, true)] {
                for from in [start.as_ref(), None] {
                    let mut program = Program::least_cost(&task, &[boxes], from, aim);
                    program.run(&mut pool, &mut |_, _, _| true, work);
                    assert_eq!(program.misses(), misses, "{aim:?} with {boxes} boxes");
                }
            }
        }
    }
}
