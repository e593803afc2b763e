//! The tables of bin completion: what each unit weighs by every row and cut lies side by side,
//! because the search asks for little else and asks millions of times.

use std::collections::BTreeMap;

use crate::load::engine::bounds::cut::Cut;
use crate::load::engine::model::task::{Kind, Task};

/// Cuts with weights beyond this are left out of the tables: fewer cuts prove less, but nothing wrong.
const LARGE: i64 = i64::MAX / 1024;

/// Units by their number on the board, hardest first.
pub(crate) struct Board<'a> {
    pub(crate) task: &'a Task,
    /// The task's number of each.
    pub(crate) units: Vec<usize>,
    /// By unit and cut.
    weights: Table,
    /// By kind and cut: what a box holds at most.
    holds: Vec<Vec<i64>>,
    /// By kind: by unit and row.
    rows: Vec<Table>,
    /// By unit: the groups with a price for every box they touch beyond the first.
    wishes: Vec<Vec<(usize, i64)>>,
    /// Of each such group its units and its price.
    groups: Vec<(Set, i64)>,
    /// By unit: harder units that may always take its place in a box; found when first asked for.
    harder: Vec<Option<Vec<usize>>>,
}

/// Units of a board as bits.
pub(crate) type Set = u128;

/// The unit alone. Units beyond the bits are in no set: a broken wish of theirs may be missed, but no
/// whole one counts as broken.
pub(crate) fn alone(unit: usize) -> Set {
    u32::try_from(unit).ok().and_then(|unit| Set::checked_shl(1, unit)).unwrap_or(0)
}

/// A table with a line for each unit.
struct Table {
    columns: usize,
    lines: Vec<i64>,
}

impl Table {
    fn line(&self, unit: usize) -> &[i64] {
        &self.lines[unit * self.columns..(unit + 1) * self.columns]
    }
}

impl<'a> Board<'a> {
    /// A board of these units, with the cuts that can be told in narrow figures.
    pub(crate) fn new(task: &'a Task, cuts: &[&Cut], units: Vec<usize>) -> Self {
        // Without any cut nothing is known of the boxes: a cut of no weight stands for that.
        let idle = Cut {
            weights: vec![0; task.units.len()],
            need: 0,
            capacity: vec![0; task.kinds.len()],
            wish: 0,
        };
        let mut cuts = cuts.to_vec();
        // What tearing makes good says nothing of some boxes of a plan.
        cuts.retain(|cut| cut.need < i128::from(LARGE) && cut.wish == 0);
        if cuts.is_empty() {
            cuts.push(&idle);
        }
        let weigh = |&unit: &usize| cuts.iter().map(move |cut| cut.weights[unit]);
        let lines = units.iter().flat_map(weigh).collect();
        let weights = Table { columns: cuts.len(), lines };
        let caps =
            |kind: usize| cuts.iter().map(move |cut| narrow(cut.capacity[kind].min(cut.need)));
        let holds = (0..task.kinds.len()).map(|kind| caps(kind).collect()).collect();
        let table = |kind: &Kind| {
            let line = |&unit: &usize| kind.rows.iter().map(move |row| row.weights[unit]);
            Table { columns: kind.rows.len(), lines: units.iter().flat_map(line).collect() }
        };
        let rows = task.kinds.iter().map(table).collect();
        let priced = |&unit: &usize| {
            let wishes = task.units[unit].wishes.iter().filter(|(_, price)| *price > 0);
            wishes.copied().collect()
        };
        let wishes: Vec<Vec<(usize, i64)>> = units.iter().map(priced).collect();
        let mut groups: BTreeMap<(usize, i64), Set> = BTreeMap::new();
        for (unit, own) in wishes.iter().enumerate() {
            for &wish in own {
                *groups.entry(wish).or_default() |= alone(unit);
            }
        }
        // A group of one is never torn.
        groups.retain(|_, set| set.count_ones() > 1);
        let groups = groups.into_iter().map(|((_, price), set)| (set, price)).collect();
        let harder = vec![None; units.len()];
        Board { task, units, weights, holds, rows, wishes, groups, harder }
    }

    pub(crate) fn cuts(&self) -> usize {
        self.weights.columns
    }

    /// By cut: what the unit weighs.
    pub(crate) fn weights(&self, unit: usize) -> &[i64] {
        self.weights.line(unit)
    }

    /// By cut: what a box of the kind holds at most.
    pub(crate) fn holds(&self, kind: usize) -> &[i64] {
        &self.holds[kind]
    }

    /// By row: what the unit weighs in a box of the kind.
    pub(crate) fn loads(&self, kind: usize, unit: usize) -> &[i64] {
        self.rows[kind].line(unit)
    }

    /// Whether the unit may be in a box of the kind with these others, rows aside.
    pub(crate) fn joins(&self, kind: usize, unit: usize, others: &[usize]) -> bool {
        let number = self.units[unit];
        let foes = &self.task.apart[number];
        self.task.units[number].allowed[kind]
            && (foes.is_empty()
                || !others.iter().any(|&other| foes.binary_search(&self.units[other]).is_ok()))
    }

    /// Whether a unit that leaves its box for that of these units breaks no wish by it: they
    /// touch all its groups already.
    pub(crate) fn is_wished(&self, unit: usize, units: &[usize]) -> bool {
        let touched =
            |wish: &(usize, i64)| units.iter().any(|&own| self.wishes[own].contains(wish));
        self.wishes[unit].iter().all(touched)
    }

    /// Whether two units may change places and break no wish by it: those of the same groups.
    pub(crate) fn wishes_alike(&self, one: usize, other: usize) -> bool {
        self.wishes[one] == self.wishes[other]
    }

    /// The price of the wishes that some of both sides share.
    pub(crate) fn torn(&self, units: Set, others: Set) -> i64 {
        let torn = |(set, _): &&(Set, i64)| set & units != 0 && set & others != 0;
        self.groups.iter().filter(torn).fold(0, |sum, (_, price)| sum.saturating_add(*price))
    }

    pub(crate) fn equal(&self, one: usize, other: usize) -> bool {
        self.task.units[self.units[one]].class == self.task.units[self.units[other]].class
    }

    /// The task's numbers of some units.
    pub(crate) fn numbers(&self, units: &[usize]) -> Vec<usize> {
        units.iter().map(|&unit| self.units[unit]).collect()
    }

    /// The units whose place this one may always take, and that are not just as easy.
    pub(crate) fn harder(&mut self, unit: usize) -> &[usize] {
        if self.harder[unit].is_none() {
            let own = self.units[unit];
            let found =
                (0..self.units.len()).filter(|&other| harder(self.task, self.units[other], own));
            self.harder[unit] = Some(found.collect());
        }
        self.harder[unit].as_deref().unwrap_or_default()
    }
}

fn narrow(value: i128) -> i64 {
    i64::try_from(value).unwrap_or(LARGE)
}

/// Whether `two` may always take the place of `one`, which is not just as easy.
fn harder(task: &Task, one: usize, two: usize) -> bool {
    let (hard, easy) = (&task.units[one], &task.units[two]);
    let ([a], [b]) = (hard.pieces.as_slice(), easy.pieces.as_slice()) else {
        return false;
    };
    let (a, b) = (&task.items[*a], &task.items[*b]);
    let presses = |side: i64, other: i64| a.mass * other >= b.mass * side;
    a.length >= b.length
        && a.width >= b.width
        && a.mass >= b.mass
        && a.length + a.width + a.mass > b.length + b.width + b.mass
        && a.may_turn == b.may_turn
        && presses(a.length, b.length)
        && (!a.may_turn || presses(a.width, b.width))
        && task.apart[two].is_empty()
        && hard.allowed.iter().zip(&easy.allowed).all(|(hard, easy)| easy >= hard)
        && task
            .kinds
            .iter()
            .flat_map(|kind| &kind.rows)
            .all(|row| row.weights[one] >= row.weights[two])
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::problem::Problem;
    use crate::load::engine::testing::{box_kind, piece, task_of};

    #[test]
    fn only_what_is_larger_every_way_is_harder() {
        let problem = Problem {
            pieces: vec![piece(50, 6, 3), piece(40, 5, 3), piece(60, 4, 4), piece(40, 5, 3)],
            kinds: vec![box_kind(100, 10, 4, 1)],
            ..Problem::default()
        };
        let task = task_of(&problem);
        let of = |piece: usize| task.units.iter().position(|unit| unit.pieces == [piece]).unwrap();
        assert!(harder(&task, of(0), of(1)));
        assert!(!harder(&task, of(1), of(0)));
        // Heavier but shorter; and equals are not harder than each other.
        assert!(!harder(&task, of(2), of(1)) && !harder(&task, of(1), of(2)));
        assert!(!harder(&task, of(1), of(3)) && !harder(&task, of(3), of(1)));
    }
}
