//! Patterns: what one box of a kind may hold, by class; the columns of the linear program.

use std::collections::{BTreeMap, BTreeSet};

use super::knapsack::Pattern;
use crate::load::engine::model::task::Task;

/// Patterns known so far; each fits the rows of its kind.
#[derive(Clone, Debug, Default)]
pub(crate) struct Pool {
    pub(crate) patterns: Vec<(usize, Pattern)>,
    known: BTreeSet<(usize, Pattern)>,
}

impl Pool {
    pub(crate) fn add(&mut self, kind: usize, pattern: Pattern) -> bool {
        let mut pattern = pattern;
        pattern.sort_unstable();
        let entry = (kind, pattern);
        let fresh = self.known.insert(entry.clone());
        if fresh {
            self.patterns.push(entry);
        }
        fresh
    }

    /// Adds what a box of a plan holds: a program that starts from a plan starts near its end.
    pub(crate) fn learn(&mut self, task: &Task, kind: usize, units: &[usize]) {
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for &unit in units {
            *counts.entry(task.units[unit].class).or_default() += 1;
        }
        if !counts.is_empty() {
            self.add(kind, counts.into_iter().collect());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::problem::Problem;
    use crate::load::engine::testing::{box_kind, piece, task_of};

    #[test]
    fn a_pool_learns_each_load_of_a_plan_once() {
        let problem = Problem {
            pieces: [60, 60, 40, 40, 30].map(|mass| piece(mass, 1, 1)).to_vec(),
            kinds: vec![box_kind(100, 10, 1, 3)],
            ..Problem::default()
        };
        let task = task_of(&problem);
        let mut pool = Pool::default();
        for units in [&[0, 2][..], &[3, 1], &[4], &[]] {
            pool.learn(&task, 0, units);
        }
        let (large, middle, small) =
            (task.units[0].class, task.units[2].class, task.units[4].class);
        let known = vec![(0, vec![(large, 1), (middle, 1)]), (0, vec![(small, 1)])];
        assert_eq!(pool.patterns, known);
    }
}
