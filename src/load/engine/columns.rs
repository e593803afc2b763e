//! Column generation, and the cuts that its duals give.
//!
//! The linear program covers every class with patterns, at least cost, or, for a given vector
//! of boxes, with the least left uncovered. Its duals are scaled to integers and every kind
//! is priced exactly: no box of kind k holds more than V[k]. So any vector v of boxes that
//! carries the load has sum of v[k] V[k] at least the demand's worth: a cut that anyone can
//! redo, whatever the floats did (Farley's bound, made a condition on whole boxes).

use std::collections::{BTreeMap, BTreeSet};

use super::bins::Bin;
use super::model::Task;
use super::price::{Pattern, Question, price};
use super::simplex::{Master, Prices};
use super::vectors::{Cut, Vector};
use super::work::Work;

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

    /// Adds what the boxes of a plan hold: a program that starts from a plan starts near its end.
    pub(crate) fn learn(&mut self, task: &Task, bins: &[Bin]) {
        for bin in bins.iter().filter(|bin| !bin.units.is_empty()) {
            let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
            for &unit in &bin.units {
                *counts.entry(task.units[unit].class).or_default() += 1;
            }
            self.add(bin.kind, counts.into_iter().collect());
        }
    }
}

/// Search nodes of a pricing on the way.
const NODES: u64 = 60_000;
/// The same for a single row, where the table that follows is dear.
const ROW_NODES: u64 = 400_000;
/// Search nodes of the pricing that proves.
const PROOF_NODES: u64 = 4_000_000;

/// A linear program with the means to extend it.
#[derive(Clone)]
pub(crate) struct Program<'a> {
    pub(crate) task: &'a Task,
    pub(crate) master: Master,
    /// What a pattern of each kind costs in this program.
    pub(crate) costs: Vec<i64>,
    pub(crate) demand: Vec<usize>,
    /// By class: its row in the master, if any of it is needed.
    rows: Vec<Option<usize>>,
    /// Patterns of the pool that the master has.
    loaded: Vec<usize>,
    seen: usize,
}

impl<'a> Program<'a> {
    /// The program at least cost, or, given a vector, with the least left uncovered.
    pub(crate) fn new(task: &'a Task, demand: &[usize], vector: Option<&Vector>) -> Self {
        let Some(vector) = vector else {
            let caps: Vec<usize> = task.kinds.iter().map(|kind| kind.available).collect();
            return Program::rest(task, demand, &caps);
        };
        Program {
            master: Master::new(&needed(demand), &vector.counts, &vec![1; needed(demand).len()]),
            costs: vec![0; task.kinds.len()],
            ..Program::rest(task, demand, &vector.counts)
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
            loaded: Vec::new(),
            seen: 0,
        }
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

    /// Generates columns until none improves or the work runs dry; the final duals. `admit`
    /// may refuse a pattern.
    pub(crate) fn run(
        &mut self,
        pool: &mut Pool,
        admit: &mut dyn FnMut(usize, &Pattern, &mut Work) -> bool,
        work: &mut Work,
    ) -> Prices {
        loop {
            self.load(pool);
            self.master.solve(work);
            let mut prices = self.master.prices(&self.costs);
            prices.classes =
                self.rows.iter().map(|row| row.map_or(0, |row| prices.classes[row])).collect();
            let mut fresh = false;
            for kind in 0..self.task.kinds.len() {
                let question = Question {
                    task: self.task,
                    kind,
                    profits: &prices.classes,
                    demand: &self.demand,
                    floor: prices.kinds[kind].max(0),
                    nodes: if self.task.kinds[kind].rows.len() == 1 { ROW_NODES } else { NODES },
                };
                let priced = price(&question, work);
                for (worth, pattern) in priced.patterns.into_iter().take(4) {
                    if worth > prices.kinds[kind] && admit(kind, &pattern, work) {
                        fresh |= pool.add(kind, pattern);
                    }
                }
            }
            if !fresh || work.dry() {
                return prices;
            }
        }
    }

    /// Takes the box of a solution's part, which holds `pattern` of what is still needed.
    pub(crate) fn take(&mut self, column: usize, pattern: &Pattern) {
        self.master.take(column);
        for &(class, count) in pattern {
            self.demand[class] -= count;
        }
    }

    /// Whether the boxes that remain cannot hold what remains, by this program.
    pub(crate) fn misses(&self) -> bool {
        self.master.misses()
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

/// The cut of the program for a vector, or at least cost where none is given.
pub(crate) fn cut(task: &Task, vector: Option<&Vector>, pool: &mut Pool, work: &mut Work) -> Cut {
    let demand = demand(task);
    let mut program = Program::new(task, &demand, vector);
    loop {
        let prices = program.run(pool, &mut |_, _, _| true, work);
        let (cut, fresh) = weigh(task, &prices, &demand, pool, work);
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
    let need = classes
        .iter()
        .zip(demand)
        .map(|(&worth, &count)| i128::from(worth) * i128::try_from(count).unwrap_or(0))
        .sum();
    let weights = task.units.iter().map(|unit| classes[unit.class]).collect();
    (Cut { weights, need, capacity }, fresh)
}

#[cfg(test)]
mod tests {
    use super::super::problem::Problem;
    use super::super::testing::{box_kind, piece};
    use super::*;

    #[test]
    fn a_pool_learns_each_load_of_a_plan_once() {
        let problem = Problem {
            pieces: [60, 60, 40, 40, 30].map(|mass| piece(mass, 1, 1)).to_vec(),
            kinds: vec![box_kind(100, 10, 1, 3)],
            ..Problem::default()
        };
        let task = Task::new(&problem, 0, &|_| false, 9);
        let mut pool = Pool::default();
        let bins = [vec![0, 2], vec![3, 1], vec![4], vec![]];
        pool.learn(&task, &bins.map(|units| Bin::holding(&task, 0, &units)));
        let (large, middle, small) =
            (task.units[0].class, task.units[2].class, task.units[4].class);
        let known = vec![(0, vec![(large, 1), (middle, 1)]), (0, vec![(small, 1)])];
        assert_eq!(pool.patterns, known);
    }
}
