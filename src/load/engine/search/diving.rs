//! Diving with limited discrepancies (Harvey and Ginsberg 1995, from memory; Sadykov and Vanderbeck
//! 2013 dive so for bin packing with conflicts): boxes are taken one after another from the linear
//! program's solution, which is mended for the rest, until nothing is left, or the rest no longer
//! fits the boxes allowed.
//!
//! A dive that fails goes back to an earlier choice and takes the next best part there. It may do so a
//! few times. Near the bottom every filling of the last boxes is tried.

use super::bin_completion::{Answer, exhaust};
use super::bins::{Bin, carries};
use crate::load::engine::bounds::column_generation::{Aim, Program, Start};
use crate::load::engine::bounds::cut::Cut;
use crate::load::engine::bounds::knapsack::Pattern;
use crate::load::engine::bounds::patterns::Pool;
use crate::load::engine::model::effort::{Dice, Purse};
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// A solution part that is taken as a whole box.
const SURE: i64 = 999_000;
/// A part of the program's solution: column, number in the pool, value in millionths.
type Part = (usize, usize, i64);

/// What the waste of a whole box takes off a part's value, in millionths: a thousandth of the
/// room weighs as much as six hundredths of a box.
const WASTE: i128 = 60_000_000;
/// The most that chance adds to a part's value, in millionths.
const CHANCE: usize = 100_000;
/// With so many boxes left all fillings are tried.
const LAST: usize = 10;

/// What a dive works with.
pub(crate) struct Dive<'a> {
    pub(crate) task: &'a Task,
    pub(crate) oracle: &'a mut Oracle,
    pub(crate) pool: &'a mut Pool,
    pub(crate) cuts: &'a [Cut],
    pub(crate) dice: &'a mut Dice,
    /// Where the program of everything ended, if the dive is to begin there.
    pub(crate) start: Option<&'a Start>,
    /// What its programs aim at.
    pub(crate) aim: Aim,
}

/// Boxes taken and what they leave.
struct Depth {
    bins: Vec<Bin>,
    stock: Vec<Vec<usize>>,
    caps: Vec<usize>,
    /// The deepest state yet: units left, boxes, and the units themselves.
    best: Option<(Vec<Bin>, Vec<usize>)>,
}

impl Dive<'_> {
    /// Boxes from the program and the units they leave, within `caps` boxes of each kind.
    pub(crate) fn run(
        &mut self,
        caps: &[usize],
        slips: usize,
        work: &mut Purse,
    ) -> (Vec<Bin>, Vec<usize>) {
        let classes = &self.task.classes;
        let mut depth =
            Depth { bins: Vec::new(), stock: classes.clone(), caps: caps.to_vec(), best: None };
        let program = Program::least_cost(self.task, caps, self.start, self.aim);
        if self.descend(program, &mut depth, slips, work) {
            return (depth.bins, Vec::new());
        }
        let (mut bins, left) = depth.best.unwrap_or_else(|| (Vec::new(), Vec::new()));
        for (kind, &cap) in caps.iter().enumerate() {
            let own = bins.iter().filter(|bin| bin.kind == kind).count();
            let more = cap.saturating_sub(own).min(left.len());
            bins.extend(std::iter::repeat_n(Bin::new(self.task, kind), more));
        }
        (bins, left)
    }

    /// Whether everything found a box below this point.
    fn descend(
        &mut self,
        mut program: Program<'_>,
        depth: &mut Depth,
        slips: usize,
        work: &mut Purse,
    ) -> bool {
        let mark = depth.bins.len();
        loop {
            if depth.stock.iter().all(Vec::is_empty) {
                return true;
            }
            let (task, oracle) = (self.task, &mut *self.oracle);
            let mut admit = |kind: usize, pattern: &Pattern, work: &mut Purse| {
                carries(task, oracle, kind, &stand_ins(task, pattern), work)
            };
            program.run(self.pool, &mut admit, work);
            if work.dry() || program.misses() {
                break;
            }
            if depth.caps.iter().sum::<usize>() <= LAST {
                match self.finish(depth, work) {
                    Answer::Found(bins) => {
                        depth.bins.extend(bins);
                        return true;
                    }
                    Answer::Never => break,
                    Answer::Unsure => {}
                }
            }
            let parts = program.solution();
            let sure: Vec<_> = parts.iter().filter(|part| part.2 >= SURE).collect();
            if sure.is_empty() {
                if self.choose(&program, &parts, depth, slips, work) {
                    return true;
                }
                break;
            }
            let mut taken = 0;
            for &&(column, number, value) in &sure {
                for _ in 0..usize::try_from((value + 1000) / 1_000_000).unwrap_or(1) {
                    taken += usize::from(self.draw(&mut program, column, number, depth, work));
                }
            }
            if taken == 0 {
                break;
            }
        }
        depth.keep();
        while depth.bins.len() > mark {
            depth.undo(self.task);
        }
        false
    }

    /// Takes one part after another, the most promising first, and dives on.
    fn choose(
        &mut self,
        program: &Program<'_>,
        parts: &[Part],
        depth: &mut Depth,
        slips: usize,
        work: &mut Purse,
    ) -> bool {
        let mut parts = parts.to_vec();
        parts.sort_by_cached_key(|part| -self.promise(part));
        let mut tried = 0;
        for &(column, number, _) in &parts {
            if tried > slips || work.dry() {
                return false;
            }
            let mut next = program.clone();
            if self.draw(&mut next, column, number, depth, work) {
                work.spend(parts.len() * parts.len());
                if self.descend(next, depth, slips - tried, work) {
                    return true;
                }
                depth.undo(self.task);
                tried += 1;
            }
        }
        false
    }

    /// How much a part looks like a whole box: its value, less the room it wastes, and a little
    /// chance, so that no two dives are alike.
    fn promise(&mut self, &(_, number, value): &Part) -> i64 {
        let (kind, pattern) = &self.pool.patterns[number];
        let own = &self.task.kinds[*kind];
        let row = &own.rows[own.lead];
        let load: i64 = stand_ins(self.task, pattern).iter().map(|&u| row.weights[u]).sum();
        let waste = i128::from(row.capacity - load) * WASTE / i128::from(row.capacity.max(1));
        let chance = i64::try_from(self.dice.below(CHANCE)).unwrap_or(0);
        value - i64::try_from(waste).unwrap_or(i64::MAX / 4) + chance
    }

    /// Every filling of the boxes that are left.
    fn finish(&mut self, depth: &Depth, work: &mut Purse) -> Answer {
        let mut rest: Vec<usize> = depth.stock.iter().flatten().copied().collect();
        rest.sort_unstable();
        let mut part = work.purse(4_000_000);
        let answer =
            exhaust(self.task, self.oracle, self.cuts, (&depth.caps, &rest), i64::MAX, &mut part);
        work.settle(&part);
        answer
    }

    /// Takes what is left of a pattern out of the stock if there is any and it stands.
    fn draw(
        &mut self,
        program: &mut Program<'_>,
        column: usize,
        number: usize,
        depth: &mut Depth,
        work: &mut Purse,
    ) -> bool {
        let (kind, pattern) = &self.pool.patterns[number];
        let mut there: Pattern = pattern.clone();
        for (class, count) in &mut there {
            *count = depth.stock[*class].len().min(*count);
        }
        let units: Vec<usize> = there
            .iter()
            .flat_map(|&(class, count)| depth.stock[class][..count].iter().copied())
            .collect();
        if depth.caps[*kind] == 0
            || units.is_empty()
            || !carries(self.task, self.oracle, *kind, &units, work)
        {
            return false;
        }
        for &(class, count) in &there {
            depth.stock[class].drain(..count);
        }
        program.take(column, *kind, &there);
        depth.caps[*kind] -= 1;
        depth.bins.push(Bin::holding(self.task, *kind, &units));
        true
    }
}

impl Depth {
    /// Remembers this state if it leaves less than any before.
    fn keep(&mut self) {
        let left: usize = self.stock.iter().map(Vec::len).sum();
        if self.best.as_ref().is_none_or(|(_, units)| left < units.len()) {
            let mut units: Vec<usize> = self.stock.iter().flatten().copied().collect();
            units.sort_unstable();
            self.best = Some((self.bins.clone(), units));
        }
    }

    /// Empties the last box again.
    fn undo(&mut self, task: &Task) {
        if let Some(bin) = self.bins.pop() {
            self.caps[bin.kind] += 1;
            for unit in bin.units.into_iter().rev() {
                self.stock[task.units[unit].class].insert(0, unit);
            }
        }
    }
}

/// Units that stand for a pattern's classes.
fn stand_ins(task: &Task, pattern: &Pattern) -> Vec<usize> {
    pattern
        .iter()
        .flat_map(|&(class, count)| task.classes[class].iter().take(count).copied())
        .collect()
}
