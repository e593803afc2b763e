//! Bins: boxes being filled, what they hold and what rows, conflicts and floor still allow.

use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::{Oracle, Stands};

/// A box of the search.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Bin {
    pub(crate) kind: usize,
    pub(crate) units: Vec<usize>,
    /// By row of the kind.
    pub(crate) used: Vec<i64>,
}

impl Bin {
    pub(crate) fn new(task: &Task, kind: usize) -> Self {
        Bin { kind, units: Vec::new(), used: vec![0; task.kinds[kind].rows.len()] }
    }

    pub(crate) fn holding(task: &Task, kind: usize, units: &[usize]) -> Self {
        let mut bin = Bin::new(task, kind);
        for &unit in units {
            bin.add(task, unit);
        }
        bin
    }

    pub(crate) fn add(&mut self, task: &Task, unit: usize) {
        for (used, row) in self.used.iter_mut().zip(&task.kinds[self.kind].rows) {
            *used += row.weights[unit];
        }
        self.units.push(unit);
    }

    pub(crate) fn remove(&mut self, task: &Task, unit: usize) {
        for (used, row) in self.used.iter_mut().zip(&task.kinds[self.kind].rows) {
            *used -= row.weights[unit];
        }
        self.units.retain(|&other| other != unit);
    }

    /// Whether the rows allow taking `out` out and putting `into` in.
    pub(crate) fn rows_allow(&self, task: &Task, out: &[usize], into: &[usize]) -> bool {
        let kind = &task.kinds[self.kind];
        kind.rows.iter().zip(&self.used).all(|(row, &used)| {
            let less: i64 = out.iter().map(|&unit| row.weights[unit]).sum();
            let more: i64 = into.iter().map(|&unit| row.weights[unit]).sum();
            used - less + more <= row.capacity
        })
    }

    /// Whether kinds and pairs kept apart allow it.
    pub(crate) fn ties_allow(&self, task: &Task, out: &[usize], into: &[usize]) -> bool {
        into.iter().all(|&unit| {
            let foe = |other: &usize| task.apart[unit].binary_search(other).is_ok();
            task.units[unit].allowed[self.kind]
                && (task.apart[unit].is_empty()
                    || (!self.units.iter().any(|other| !out.contains(other) && foe(other))
                        && !into.iter().any(foe)))
        })
    }

    /// What it would hold.
    pub(crate) fn after(&self, out: &[usize], into: &[usize]) -> Vec<usize> {
        let mut units: Vec<usize> =
            self.units.iter().copied().filter(|unit| !out.contains(unit)).collect();
        units.extend(into);
        units
    }

    /// Whether every rule allows the exchange.
    pub(crate) fn accepts(
        &self,
        task: &Task,
        oracle: &mut Oracle,
        out: &[usize],
        into: &[usize],
        work: &mut Purse,
    ) -> bool {
        self.rows_allow(task, out, into)
            && self.ties_allow(task, out, into)
            && oracle.ask(task, self.kind, &self.after(out, into), work) == Stands::Yes
    }

    pub(crate) fn exchange(&mut self, task: &Task, out: &[usize], into: &[usize]) {
        for &unit in out {
            self.remove(task, unit);
        }
        for &unit in into {
            self.add(task, unit);
        }
    }

    /// Room left in a row.
    pub(crate) fn room(&self, task: &Task, row: usize) -> i64 {
        task.kinds[self.kind].rows[row].capacity - self.used[row]
    }
}

/// Cost of the boxes.
pub(crate) fn cost(task: &Task, bins: &[Bin]) -> i64 {
    bins.iter().map(|bin| task.kinds[bin.kind].cost).sum()
}

/// Whether a box of the kind carries exactly these units.
pub(crate) fn carries(
    task: &Task,
    oracle: &mut Oracle,
    kind: usize,
    units: &[usize],
    work: &mut Purse,
) -> bool {
    Bin::holding(task, kind, units).rows_allow(task, &[], &[])
        && Bin::new(task, kind).ties_allow(task, &[], units)
        && oracle.ask(task, kind, units, work) == Stands::Yes
}
