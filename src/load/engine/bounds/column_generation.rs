//! Column generation (Gilmore and Gomory 1961): a linear program over all patterns that holds only
//! those its own prices asked for.
//!
//! The program covers every class with patterns, at least cost, or, for a given vector of boxes,
//! with the least left uncovered. Pricing a kind of box is a knapsack: the most valuable set by the
//! program's duals. Where a set is worth more than its box costs, its pattern is a new column. The
//! duals of a young program leap from corner to corner; on the long way from a first plan they are
//! smoothed (Pessoa, Sadykov, Uchoa and Vanderbeck 2013 say why that helps).
//!
//! At least cost, a column holds the price of every group that it touches. That is the price of torn groups
//! and, once, the price of all of them: whoever reads the program's value takes this constant off.

use super::cut::Vector;
use super::knapsack::{Pattern, Question, price};
use super::patterns::Pool;
use super::simplex::{Master, Prices};
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;

/// Search nodes of a pricing on the way.
const NODES: u64 = 60_000;
/// The same for a single row, where the table that follows is dear.
const ROW_NODES: u64 = 400_000;

/// Patterns taken from one pricing.
const GRAB: usize = 12;
/// After so many smoothed pricings without a new pattern, the program's own duals are used.
const ASTRAY: usize = 2;

/// Where a program at least cost ended: the next one starts there.
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
    master: Master,
    /// What a pattern of each kind costs in this program.
    costs: Vec<i64>,
    /// Whether a pattern costs the price of the groups it touches, too.
    priced: bool,
    pub(crate) demand: Vec<usize>,
    /// Boxes of each kind that remain.
    caps: Vec<usize>,
    /// What its runs are for.
    aim: Aim,
    /// Whether it is priced by smoothed duals first: the long way from a first plan.
    pub(crate) smooth: bool,
    /// Prices have shown that the boxes that remain cannot hold what remains.
    hopeless: bool,
    /// Patterns of the pool that the master has.
    loaded: Vec<usize>,
    seen: usize,
}

impl<'a> Program<'a> {
    /// The program with the least left uncovered by a vector of boxes.
    pub(crate) fn least_uncovered(task: &'a Task, vector: &Vector) -> Self {
        Program::new(task, &vector.counts, (vec![0; task.kinds.len()], 1), Aim::Prove)
    }

    /// The program that tears least with a vector of boxes: the price of the groups they touch.
    pub(crate) fn least_torn(task: &'a Task, vector: &Vector) -> Self {
        let dearest = task.groups.iter().copied().max().unwrap_or(0);
        let costs = (vec![0; task.kinds.len()], dearest.saturating_mul(3).max(1));
        let mut program = Program::new(task, &vector.counts, costs, Aim::Prove);
        program.priced = true;
        program
    }

    /// The program at least cost within `caps` boxes of each kind; it goes on from `start`.
    pub(crate) fn least_cost(
        task: &'a Task,
        caps: &[usize],
        start: Option<&Start>,
        aim: Aim,
    ) -> Self {
        let costs: Vec<i64> = task.kinds.iter().map(|kind| kind.cost).collect();
        // No box is worth leaving a unit out for, nor is a group.
        let dearest = task.groups.iter().copied().max().unwrap_or(0);
        let missing = costs.iter().copied().max().unwrap_or(1).saturating_add(dearest).max(1) * 3;
        let mut program = Program::new(task, caps, (costs, missing), aim);
        program.priced = !task.groups.is_empty();
        if let Some(Start { master, loaded, seen }) = start.cloned() {
            program = Program { master, loaded, seen, ..program };
            program.master.cap(caps);
        }
        program
    }

    fn new(task: &'a Task, caps: &[usize], costs: (Vec<i64>, i64), aim: Aim) -> Self {
        let demand = task.demand();
        Program {
            task,
            master: Master::new(&demand, caps, costs.1),
            costs: costs.0,
            priced: false,
            demand,
            caps: caps.to_vec(),
            aim,
            smooth: false,
            hopeless: false,
            loaded: Vec::new(),
            seen: 0,
        }
    }

    /// Where the program has come to.
    pub(crate) fn into_start(self) -> Start {
        Start { master: self.master, loaded: self.loaded, seen: self.seen }
    }

    /// Hands the pool's new patterns to the master.
    fn load(&mut self, pool: &Pool) {
        for (number, (kind, pattern)) in pool.patterns.iter().enumerate().skip(self.seen) {
            if pattern.iter().all(|&(class, count)| count <= self.demand[class]) {
                let touched = if self.priced { self.task.touched(pattern) } else { 0 };
                self.master.add(*kind, self.costs[*kind] + touched, pattern);
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
        admit: &mut dyn FnMut(usize, &Pattern, &mut Purse) -> bool,
        work: &mut Purse,
    ) -> Prices {
        let mut astray = 0;
        self.hopeless = false;
        loop {
            self.load(pool);
            self.master.solve(work);
            let own = self.master.prices(&self.costs, self.priced);
            if self.aim == Aim::Fit && !self.misses() {
                return own;
            }
            let smooth = self.smooth && astray < ASTRAY;
            let guide =
                if smooth { Some(self.master.calm(&self.costs, self.priced)) } else { None };
            let fresh = self.seek(guide.as_ref().unwrap_or(&own), &own, pool, admit, work);
            if self.hopeless && self.aim != Aim::Prove {
                return own;
            }
            // Only the program's own prices tell that nothing improves it.
            if work.dry() || (!fresh && guide.is_none()) {
                return own;
            }
            astray = if fresh { 0 } else { astray + 1 };
        }
    }

    /// Adds patterns that `guide` finds and that are worth their box by the program's `own`
    /// prices; whether there was one.
    fn seek(
        &mut self,
        guide: &Prices,
        own: &Prices,
        pool: &mut Pool,
        admit: &mut dyn FnMut(usize, &Pattern, &mut Purse) -> bool,
        work: &mut Purse,
    ) -> bool {
        let mut fresh = false;
        let mut held: i128 = 0;
        for kind in 0..self.task.kinds.len() {
            if self.task.kinds[kind].served_by.is_some() {
                continue;
            }
            let question = Question {
                task: self.task,
                kind,
                profits: &guide.classes,
                demand: &self.demand,
                floor: guide.kinds[kind].max(0),
                nodes: if self.task.kinds[kind].rows.len() == 1 { ROW_NODES } else { NODES },
                wish: guide.wish,
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
                let toll = self.task.touched(&pattern).saturating_mul(own.wish);
                if own_worth - toll > own.kinds[kind] && admit(kind, &pattern, work) {
                    fresh |= pool.add(kind, pattern);
                }
            }
        }
        // Any prices prove it, not only the program's own: what is needed is worth more than
        // the boxes that remain can hold, which is Farley's argument.
        // Where groups have a price, pricing says less of what a box holds.
        self.hopeless = guide.wish == 0 && worth(&guide.classes, &self.demand) > held;
        fresh
    }

    /// Takes a part of the solution as a box: its `kind`, and its `pattern` as far as it is still
    /// needed.
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

/// What all of the demand is worth.
pub(crate) fn worth(classes: &[i64], demand: &[usize]) -> i128 {
    let parts = classes.iter().zip(demand);
    parts.map(|(&worth, &count)| i128::from(worth) * i128::try_from(count).unwrap_or(0)).sum()
}
