//! Column generation, and the cuts that its duals give.
//!
//! The linear program covers every class with patterns, at least cost, or, for a given vector
//! of boxes, with the least left uncovered. Its duals are scaled to integers and every kind
//! is priced exactly: no box of kind k holds more than V[k]. So any vector v of boxes that
//! carries the load has sum of v[k] V[k] at least the demand's worth: a cut that anyone can
//! redo, whatever the floats did (Farley's bound, made a condition on whole boxes).

use std::collections::{BTreeMap, BTreeSet};

use super::box_vectors::{Cut, Vector};
use super::knapsack::{Pattern, Question, price};
use super::simplex::{Master, Prices};
use crate::load::engine::model::effort::Work;
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

/// Search nodes of a pricing on the way.
const NODES: u64 = 60_000;
/// The same for a single row, where the table that follows is dear.
const ROW_NODES: u64 = 400_000;
/// Search nodes of the pricing that proves.
const PROOF_NODES: u64 = 4_000_000;

/// Patterns taken from one pricing.
const GRAB: usize = 12;
/// Smoothed prices that lead nowhere so many times give way to the program's own.
const ASTRAY: usize = 2;

/// What a program at least cost has come to: where others like it begin.
#[derive(Clone)]
pub(crate) struct Start {
    master: Master,
    loaded: Vec<usize>,
    seen: usize,
}

/// What a program is run for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Aim {
    /// Prices at the optimum, even where the boxes cannot hold it all.
    Prove,
    /// The optimum, or that the boxes cannot hold it all.
    Dive,
    /// Any solution that leaves nothing out, however dear.
    Fit,
}

/// A linear program with the means to extend it.
#[derive(Clone)]
pub(crate) struct Program<'a> {
    pub(crate) task: &'a Task,
    pub(crate) master: Master,
    /// What a pattern of each kind costs in this program.
    pub(crate) costs: Vec<i64>,
    pub(crate) demand: Vec<usize>,
    /// Boxes of each kind that remain.
    caps: Vec<usize>,
    /// What its runs are for.
    pub(crate) aim: Aim,
    /// Whether it is priced by smoothed duals first: the long way from a first plan.
    smooth: bool,
    /// Prices have shown that the boxes that remain cannot hold what remains.
    hopeless: bool,
    /// By class: its row in the master, if any of it is needed.
    rows: Vec<Option<usize>>,
    /// Patterns of the pool that the master has.
    loaded: Vec<usize>,
    seen: usize,
}

impl<'a> Program<'a> {
    /// The program with the least left uncovered by a vector of boxes.
    fn holding(task: &'a Task, vector: &Vector) -> Self {
        let demand = demand(task);
        Program {
            master: Master::new(&demand, &vector.counts, &vec![1; demand.len()]),
            costs: vec![0; task.kinds.len()],
            aim: Aim::Prove,
            ..Program::rest(task, &demand, &vector.counts)
        }
    }

    /// The program at least cost for what remains, within the boxes that remain.
    pub(crate) fn rest(task: &'a Task, demand: &[usize], caps: &[usize]) -> Self {
        let dear: i64 = task.kinds.iter().map(|kind| kind.cost).max().unwrap_or(1).max(1);
        let needed = needed(demand);
        let mut rows = Vec::with_capacity(demand.len());
        let mut next = 0;
        for &count in demand {
            rows.push((count > 0).then_some(next));
            next += usize::from(count > 0);
        }
        Program {
            task,
            master: Master::new(&needed, caps, &vec![dear * 3; needed.len()]),
            rows,
            costs: task.kinds.iter().map(|kind| kind.cost).collect(),
            demand: demand.to_vec(),
            caps: caps.to_vec(),
            aim: Aim::Dive,
            smooth: false,
            hopeless: false,
            loaded: Vec::new(),
            seen: 0,
        }
    }

    /// The program at least cost for everything, within `caps` boxes of each kind, from `start`.
    pub(crate) fn whole(task: &'a Task, caps: &[usize], start: Option<&Start>) -> Self {
        let mut program = Program::rest(task, &demand(task), caps);
        if let Some(Start { master, loaded, seen }) = start.cloned() {
            program = Program { master, loaded, seen, ..program };
            program.master.cap(caps);
        }
        program
    }

    /// Hands the pool's new patterns to the master.
    fn load(&mut self, pool: &Pool) {
        for (number, (kind, pattern)) in pool.patterns.iter().enumerate().skip(self.seen) {
            if pattern.iter().all(|&(class, count)| count <= self.demand[class]) {
                let rows: Pattern = pattern
                    .iter()
                    .filter_map(|&(class, count)| Some((self.rows[class]?, count)))
                    .collect();
                self.master.add(*kind, self.costs[*kind], &rows);
                self.loaded.push(number);
            }
        }
        self.seen = pool.patterns.len();
    }

    /// Generates columns until the aim is reached or the work runs dry; the final duals. `admit`
    /// may refuse a pattern.
    pub(crate) fn run(
        &mut self,
        pool: &mut Pool,
        admit: &mut dyn FnMut(usize, &Pattern, &mut Work) -> bool,
        work: &mut Work,
    ) -> Prices {
        let mut astray = 0;
        self.hopeless = false;
        loop {
            self.load(pool);
            self.master.solve(work);
            let own = self.prices(false);
            if self.aim == Aim::Fit && !self.misses() {
                return own;
            }
            let smooth = self.smooth && astray < ASTRAY;
            let guide = if smooth { Some(self.prices(true)) } else { None };
            let fresh = self.seek(guide.as_ref().unwrap_or(&own), &own, pool, admit, work);
            if self.hopeless && self.aim != Aim::Prove {
                return own;
            }
            if work.dry() || (!fresh && guide.is_none()) {
                return own;
            }
            astray = if fresh { 0 } else { astray + 1 };
        }
    }

    /// The master's duals, or those smoothed over its past, by class of the task.
    fn prices(&mut self, smooth: bool) -> Prices {
        let mut prices =
            if smooth { self.master.calm(&self.costs) } else { self.master.prices(&self.costs) };
        prices.classes =
            self.rows.iter().map(|row| row.map_or(0, |row| prices.classes[row])).collect();
        prices
    }

    /// Adds patterns that `guide` finds and that are worth their box by the program's `own`
    /// prices; whether there was one.
    fn seek(
        &mut self,
        guide: &Prices,
        own: &Prices,
        pool: &mut Pool,
        admit: &mut dyn FnMut(usize, &Pattern, &mut Work) -> bool,
        work: &mut Work,
    ) -> bool {
        let mut fresh = false;
        let mut held: i128 = 0;
        for kind in 0..self.task.kinds.len() {
            let question = Question {
                task: self.task,
                kind,
                profits: &guide.classes,
                demand: &self.demand,
                floor: guide.kinds[kind].max(0),
                nodes: if self.task.kinds[kind].rows.len() == 1 { ROW_NODES } else { NODES },
            };
            let priced = price(&question, work);
            let boxes = i128::try_from(self.caps[kind]).unwrap_or(i128::MAX);
            held = held.saturating_add(boxes.saturating_mul(i128::from(priced.bound)));
            for (_, pattern) in priced.patterns.into_iter().take(GRAB) {
                let own_worth: i64 = pattern
                    .iter()
                    .map(|&(class, count)| {
                        own.classes[class] * i64::try_from(count).unwrap_or(i64::MAX)
                    })
                    .sum();
                if own_worth > own.kinds[kind] && admit(kind, &pattern, work) {
                    fresh |= pool.add(kind, pattern);
                }
            }
        }
        self.hopeless = worth(&guide.classes, &self.demand) > held;
        fresh
    }

    /// The cut that the program's prices give once nothing improves it.
    fn cut(&mut self, pool: &mut Pool, work: &mut Work) -> Cut {
        loop {
            let prices = self.run(pool, &mut |_, _, _| true, work);
            let (cut, fresh) = weigh(self.task, &prices, &self.demand, pool, work);
            // The pricing that proves searches deeper; what it finds may move the program on.
            if !fresh || work.dry() {
                return cut;
            }
        }
    }

    /// Takes the box of a solution's part, which is of `kind` and holds `pattern` of what is still needed.
    pub(crate) fn take(&mut self, column: usize, kind: usize, pattern: &Pattern) {
        self.master.take(column);
        self.caps[kind] -= 1;
        for &(class, count) in pattern {
            self.demand[class] -= count;
        }
    }

    /// Whether the boxes that remain cannot hold what remains, by this program.
    pub(crate) fn misses(&self) -> bool {
        self.hopeless || self.master.misses()
    }

    /// The parts of the solution: column, number in the pool, and value in millionths.
    pub(crate) fn solution(&self) -> Vec<(usize, usize, i64)> {
        let parts = self.master.solution();
        parts.into_iter().map(|(column, value)| (column, self.loaded[column], value)).collect()
    }
}

/// The counts of the classes of which any is needed: the rest would only slow the master.
fn needed(demand: &[usize]) -> Vec<usize> {
    demand.iter().copied().filter(|&count| count > 0).collect()
}

/// The units of each class.
pub(crate) fn demand(task: &Task) -> Vec<usize> {
    task.classes.iter().map(|class| class.units.len()).collect()
}

/// The cut of the program at least cost, which goes on from `start` and leaves a better one.
pub(crate) fn first_cut(
    task: &Task,
    start: &mut Option<Start>,
    pool: &mut Pool,
    work: &mut Work,
) -> Cut {
    let caps: Vec<usize> = task.kinds.iter().map(|kind| kind.available).collect();
    let mut program = Program::whole(task, &caps, start.as_ref());
    program.aim = Aim::Prove;
    program.smooth = true;
    let cut = program.cut(pool, work);
    let Program { master, loaded, seen, .. } = program;
    *start = Some(Start { master, loaded, seen });
    cut
}

/// The cut of the program for a vector of boxes.
pub(crate) fn vector_cut(task: &Task, vector: &Vector, pool: &mut Pool, work: &mut Work) -> Cut {
    Program::holding(task, vector).cut(pool, work)
}

/// What all of the demand is worth.
fn worth(classes: &[i64], demand: &[usize]) -> i128 {
    let parts = classes.iter().zip(demand);
    parts.map(|(&worth, &count)| i128::from(worth) * i128::try_from(count).unwrap_or(0)).sum()
}

/// The cut that prices give, and whether its proof brought patterns that improve the program.
fn weigh(
    task: &Task,
    prices: &Prices,
    demand: &[usize],
    pool: &mut Pool,
    work: &mut Work,
) -> (Cut, bool) {
    let mut capacity = Vec::new();
    let mut fresh = false;
    for kind in 0..task.kinds.len() {
        let question = Question {
            task,
            kind,
            profits: &prices.classes,
            demand,
            floor: prices.kinds[kind].max(0),
            nodes: PROOF_NODES,
        };
        let priced = price(&question, work);
        for (worth, pattern) in priced.patterns.into_iter().take(4) {
            fresh |= worth > prices.kinds[kind] && pool.add(kind, pattern);
        }
        capacity.push(i128::from(priced.bound));
    }
    let classes = &prices.classes;
    let need = worth(classes, demand);
    let weights = task.units.iter().map(|unit| classes[unit.class]).collect();
    (Cut { weights, need, capacity }, fresh)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::problem::Problem;
    use crate::load::engine::testing::{box_kind, piece};

    #[test]
    fn a_pool_learns_each_load_of_a_plan_once() {
        let problem = Problem {
            pieces: [60, 60, 40, 40, 30].map(|mass| piece(mass, 1, 1)).to_vec(),
            kinds: vec![box_kind(100, 10, 1, 3)],
            ..Problem::default()
        };
        let task = Task::new(&problem, 0, &|_| false, 9);
        let mut pool = Pool::default();
        for units in [&[0, 2][..], &[3, 1], &[4], &[]] {
            pool.learn(&task, 0, units);
        }
        let (large, middle, small) =
            (task.units[0].class, task.units[2].class, task.units[4].class);
        let known = vec![(0, vec![(large, 1), (middle, 1)]), (0, vec![(small, 1)])];
        assert_eq!(pool.patterns, known);
    }

    #[test]
    fn a_program_goes_on_from_where_the_first_ended_with_fewer_boxes() {
        // Seven of 51 in boxes of 100 are one to a box, though their mass would do with four.
        let problem = Problem {
            pieces: vec![piece(51, 1, 1); 7],
            kinds: vec![box_kind(100, 10, 1, 3)],
            ..Problem::default()
        };
        let task = Task::new(&problem, 0, &|_| false, 9);
        let (mut pool, work) = (Pool::default(), &mut Work::new(u64::MAX));
        let mut start = None;
        let cut = first_cut(&task, &mut start, &mut pool, work);
        assert!(cut.need <= 7 * cut.capacity[0] && cut.need > 6 * cut.capacity[0]);
        assert!(start.is_some());
        for aim in [Aim::Prove, Aim::Dive, Aim::Fit] {
            for (boxes, misses) in [(7, false), (6, true)] {
                for from in [start.as_ref(), None] {
                    let mut program = Program::whole(&task, &[boxes], from);
                    program.aim = aim;
                    program.run(&mut pool, &mut |_, _, _| true, work);
                    assert_eq!(program.misses(), misses, "{aim:?} with {boxes} boxes");
                }
            }
        }
    }
}
