//! Exhausts a vector: every way to fill its boxes, or the proof that there is none.
//!
//! The hardest unit left goes into a box of some kind; every set that may go with it is
//! tried, provided the other boxes can still hold the rest by every cut. Tight loads leave
//! few sets, loose ones are found by the repair; this is for the tight ones that are not
//! there. A set the oracle is unsure of makes the whole answer unsure.

use std::collections::BTreeSet;

use super::bins::Bin;
use super::model::Task;
use super::oracle::{Oracle, Stands};
use super::vectors::{Cut, Vector};
use super::work::Work;

/// What an exhaustive search says of a vector.
pub(crate) enum Answer {
    /// A plan.
    Found(Vec<Bin>),
    /// There is none.
    Never,
    /// Not settled: the work ran dry, or the oracle did not know.
    Unsure,
}

struct Search<'a> {
    task: &'a Task,
    oracle: &'a mut Oracle,
    cuts: &'a [Cut],
    /// Boxes still to fill, by kind.
    counts: Vec<usize>,
    bins: Vec<Bin>,
    /// Boxes left and units left for them that came to nothing, so as not to try them again.
    vain: BTreeSet<(Vec<usize>, Vec<usize>)>,
    doubt: bool,
    found: bool,
}

/// Entries of that memory.
const VAIN: usize = 100_000;

/// Searches all fillings of `counts` boxes with the units of `rest`, hardest first.
pub(crate) fn exhaust(
    task: &Task,
    oracle: &mut Oracle,
    cuts: &[Cut],
    (counts, rest): (&[usize], &[usize]),
    work: &mut Work,
) -> Answer {
    let mut search = Search {
        task,
        oracle,
        cuts,
        counts: counts.to_vec(),
        bins: Vec::new(),
        vain: BTreeSet::new(),
        doubt: false,
        found: false,
    };
    let whole = search.fill(&hardest_first(task, cuts, counts, rest), work);
    if search.found {
        Answer::Found(search.bins)
    } else if whole && !search.doubt {
        Answer::Never
    } else {
        Answer::Unsure
    }
}

/// The units in the order of what they weigh in the cut that has least to spare.
fn hardest_first(task: &Task, cuts: &[Cut], counts: &[usize], rest: &[usize]) -> Vec<usize> {
    let vector = Vector { cost: 0, boxes: counts.iter().sum(), counts: counts.to_vec() };
    let mut order = rest.to_vec();
    if let Some(cut) = cuts.iter().min_by_key(|cut| cut.ease(&vector)) {
        order.sort_by_key(|&unit| (-cut.weights[unit], task.units[unit].class, unit));
    }
    order
}

impl Search<'_> {
    /// Loads `rest` (hardest first) into the boxes left; whether the search was finished.
    fn fill(&mut self, rest: &[usize], work: &mut Work) -> bool {
        let Some((&head, others)) = rest.split_first() else {
            self.found = true;
            return true;
        };
        for kind in 0..self.counts.len() {
            let bin = Bin::new(self.task, kind);
            if self.counts[kind] == 0
                || !bin.rows_allow(self.task, &[], &[head])
                || !bin.ties_allow(self.task, &[], &[head])
            {
                continue;
            }
            self.counts[kind] -= 1;
            self.bins.push(Bin::holding(self.task, kind, &[head]));
            let slack = self.slack(rest, kind);
            let whole = slack.is_none_or(|slack| self.choose(others, &[], &slack, work));
            if self.found {
                return true;
            }
            self.bins.pop();
            self.counts[kind] += 1;
            if !whole {
                return false;
            }
        }
        true
    }

    /// By cut: how much the other boxes can hold at most; `None` when by some cut even a full
    /// box at hand would leave them too much.
    fn slack(&self, rest: &[usize], kind: usize) -> Option<Vec<i128>> {
        let mut slack = Vec::with_capacity(self.cuts.len());
        for cut in self.cuts {
            let need: i128 = rest.iter().map(|&unit| i128::from(cut.weights[unit])).sum();
            let others: i128 = self
                .counts
                .iter()
                .zip(&cut.capacity)
                .map(|(&count, capacity)| i128::try_from(count).unwrap_or(0) * capacity)
                .sum();
            if need > others + cut.capacity[kind] {
                return None;
            }
            slack.push(others);
        }
        Some(slack)
    }

    /// Decides the units of `open` in turn for the box at hand; `passed` stay for others, who
    /// have `slack` left by each cut.
    fn choose(
        &mut self,
        open: &[usize],
        passed: &[usize],
        slack: &[i128],
        work: &mut Work,
    ) -> bool {
        work.spend(30 + 4 * self.cuts.len());
        if work.dry() {
            return false;
        }
        let Some((&unit, rest)) = open.split_first() else {
            return self.close(passed, work);
        };
        let Some(mut bin) = self.bins.pop() else {
            return true;
        };
        let fits =
            bin.rows_allow(self.task, &[], &[unit]) && bin.ties_allow(self.task, &[], &[unit]);
        if fits {
            bin.add(self.task, unit);
            self.bins.push(bin);
            let whole = self.choose(rest, passed, slack, work);
            if self.found || !whole {
                return whole;
            }
            if let Some(last) = self.bins.last_mut() {
                last.remove(self.task, unit);
            }
        } else {
            self.bins.push(bin);
        }
        // Without this unit; its equals pass too, or the same sets would come again.
        let class = self.task.units[unit].class;
        let twins = rest.iter().take_while(|&&next| self.task.units[next].class == class).count();
        let mut passed = passed.to_vec();
        let mut slack = slack.to_vec();
        for &gone in std::iter::once(&unit).chain(&rest[..twins]) {
            passed.push(gone);
            for (left, cut) in slack.iter_mut().zip(self.cuts) {
                *left -= i128::from(cut.weights[gone]);
            }
        }
        if slack.iter().any(|&left| left < 0) {
            return true;
        }
        self.choose(&rest[twins..], &passed, &slack, work)
    }

    /// Closes the box at hand and goes on with the rest.
    fn close(&mut self, passed: &[usize], work: &mut Work) -> bool {
        let Some(bin) = self.bins.last() else {
            return true;
        };
        let (kind, units) = (bin.kind, bin.units.clone());
        match self.oracle.ask(self.task, kind, &units, work) {
            Stands::Never => true,
            Stands::Unknown => {
                self.doubt = true;
                true
            }
            Stands::Yes => {
                let left = (self.counts.clone(), passed.to_vec());
                if self.vain.contains(&left) {
                    return true;
                }
                let whole = self.fill(passed, work);
                if whole && !self.found && self.vain.len() < VAIN {
                    self.vain.insert(left);
                }
                whole
            }
        }
    }
}
