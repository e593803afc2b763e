//! Bin completion (Korf 2002, from memory): branch and bound box by box, through every way to fill
//! a vector of boxes, or to the proof that there is none.
//!
//! The hardest unit left goes into a box of some kind. Every set that may go with it is tried, as long
//! as no cut says that the other boxes cannot hold the rest. Local search finds loose loads. This
//! search is for tight ones, which leave few sets, and may have no plan. It leaves the balance aside at
//! first. Without balance, a set that stands also stands with a unit less, or with a smaller unit in
//! the place of another. So only boxes are tried that can take no further unit and no harder one. Where
//! the plans found do not balance, the balance is asked box by box. There, one set that the oracle
//! cannot settle leaves the whole answer open.
//!
//! A broken wish costs its price: a box with a part of a group adds the price of the group, wherever
//! the rest goes. The broken wishes of a plan must stay within the budget.

use rustc_hash::FxHashMap;

use super::bins::Bin;
use super::board::{Board, Set, alone};
use super::tail_sums::Tails;
use crate::load::engine::bounds::cut::{Cut, Vector};
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::{Oracle, Stands};

/// What an exhaustive search says of a vector.
pub(crate) enum Answer {
    /// A plan.
    Found(Vec<Bin>),
    /// There is none.
    Never,
    /// Not settled: the work ran dry, or the oracle did not know.
    Unsure,
}

struct Search<'a, 'b> {
    board: &'a mut Board<'b>,
    oracle: &'a mut Oracle,
    /// Boxes still to fill, by kind.
    counts: Vec<usize>,
    /// Those filled, and last the one at hand: kind and units.
    boxes: Vec<(usize, Vec<usize>)>,
    /// Whether the balance of the boxes is left until all of them are filled.
    bare: bool,
    /// Fillings of all boxes that were then not balanced.
    unbalanced: u32,
    /// What may still be spent on broken wishes.
    budget: i64,
    /// Dead ends: the boxes left, the units left for them, and the budget that was tried.
    vain: FxHashMap<(Vec<usize>, Vec<usize>), i64>,
    doubt: bool,
    found: bool,
}

/// Cuts that leave a vector so many ten-thousandths say little of any part of it.
const EASY: i128 = 14_000;
/// Unbalanced fillings after which the balance is asked box by box.
const UNBALANCED: u32 = 20;
/// Entries of the memory of what came to nothing.
const VAIN: usize = 100_000;

/// Searches all fillings of `counts` boxes with the units of `rest`, hardest first, that break
/// wishes for no more than the budget.
pub(crate) fn exhaust(
    task: &Task,
    oracle: &mut Oracle,
    cuts: &[Cut],
    (counts, rest): (&[usize], &[usize]),
    budget: i64,
    work: &mut Purse,
) -> Answer {
    let vector = Vector { cost: 0, boxes: counts.iter().sum(), counts: counts.to_vec() };
    let telling: Vec<&Cut> =
        cuts.iter().filter(|cut| cut.wish == 0 && cut.ease(&vector) < EASY).collect();
    let mut board = Board::new(task, &telling, hardest_first(task, cuts, &vector, rest));
    let rest: Vec<usize> = (0..rest.len()).collect();
    for bare in [true, false] {
        let mut search = Search {
            board: &mut board,
            oracle,
            counts: counts.to_vec(),
            boxes: Vec::new(),
            bare,
            unbalanced: 0,
            budget,
            vain: FxHashMap::default(),
            doubt: false,
            found: false,
        };
        let whole = search.fill(&rest, work);
        if search.found {
            let boxes = search.boxes.iter();
            let bin = |(kind, units): &(usize, Vec<usize>)| {
                Bin::holding(task, *kind, &board.numbers(units))
            };
            return Answer::Found(boxes.map(bin).collect());
        }
        if whole && !search.doubt {
            return Answer::Never;
        }
        if work.dry() {
            break;
        }
    }
    Answer::Unsure
}

/// The units in the order of what they weigh in the cut that has least to spare.
fn hardest_first(task: &Task, cuts: &[Cut], vector: &Vector, rest: &[usize]) -> Vec<usize> {
    let mut order = rest.to_vec();
    if let Some(cut) = cuts.iter().filter(|cut| cut.wish == 0).min_by_key(|cut| cut.ease(vector)) {
        order.sort_by_key(|&unit| (-cut.weights[unit], task.units[unit].class, unit));
    }
    order
}

/// The box at hand being filled, step by step.
struct Share {
    kind: usize,
    passed: Vec<usize>,
    /// By cut, what the others can hold more; one line for each step of leaving units to them.
    slack: Vec<i64>,
    /// By row, what the box can hold more; one line for each unit taken.
    room: Vec<i64>,
    tails: Tails,
    /// What the box can hold more by the cut of the tails.
    hold: i64,
    /// Those in the box and those passed.
    taken: Set,
    left: Set,
}

impl Share {
    fn slack(&self, cuts: usize) -> &[i64] {
        &self.slack[self.slack.len() - cuts..]
    }

    fn room(&self, columns: usize) -> &[i64] {
        &self.room[self.room.len() - columns..]
    }
}

/// Adds a line: the last one less these weights. Whether no figure of it is negative. The sums are
/// bounded when the board is made, so none of them wraps.
fn step(lines: &mut Vec<i64>, weights: &[i64]) -> bool {
    let last = lines.len() - weights.len();
    lines.extend_from_within(last..);
    let mut signs = 0;
    for (left, weight) in lines[last + weights.len()..].iter_mut().zip(weights) {
        *left = left.wrapping_sub(*weight);
        signs |= *left;
    }
    signs >= 0
}

impl Search<'_, '_> {
    /// Loads `rest` (hardest first) into the boxes left; whether the search was finished.
    fn fill(&mut self, rest: &[usize], work: &mut Purse) -> bool {
        let Some((&head, others)) = rest.split_first() else {
            return self.finish(work);
        };
        // The hardest unit must go somewhere, so its box is the one to fill: no two branches
        // are the same boxes in another order.
        for kind in 0..self.counts.len() {
            if self.counts[kind] == 0 || !self.board.joins(kind, head, &[]) {
                continue;
            }
            self.counts[kind] -= 1;
            self.boxes.push((kind, vec![head]));
            let share = self.share(rest, kind, work);
            let whole = share.is_none_or(|mut share| self.choose(others, &mut share, work));
            if self.found {
                return true;
            }
            self.boxes.pop();
            self.counts[kind] += 1;
            if !whole {
                return false;
            }
        }
        true
    }

    /// All boxes are filled: whether the search may go on where they are not balanced.
    fn finish(&mut self, work: &mut Purse) -> bool {
        let (board, oracle) = (&self.board, &mut *self.oracle);
        self.found = !self.bare
            || self.boxes.iter().all(|(kind, units)| {
                oracle.ask(board.task, *kind, &board.numbers(units), work) == Stands::Yes
            });
        if !self.found {
            self.unbalanced += 1;
            self.doubt = true;
        }
        self.unbalanced < UNBALANCED
    }

    /// The box of the kind with the first of `rest` in it; `None` when it cannot hold that, or
    /// when by some cut even a full one would leave the others too much.
    fn share(&self, rest: &[usize], kind: usize, work: &mut Purse) -> Option<Share> {
        let board = &self.board;
        let cuts = board.cuts();
        let mut slack = vec![0_i64; cuts];
        let mut needs = vec![0_i64; cuts];
        for (other, &count) in self.counts.iter().enumerate() {
            let count = i64::try_from(count).unwrap_or(0);
            for (slack, room) in slack.iter_mut().zip(board.holds(other)) {
                *slack = slack.saturating_add(room.saturating_mul(count));
            }
        }
        for &unit in rest {
            for (need, weight) in needs.iter_mut().zip(board.weights(unit)) {
                *need += weight;
            }
        }
        work.spend(rest.len() * cuts / 4);
        let mut tightest: Option<(i128, usize)> = None;
        for (cut, (slack, need)) in slack.iter_mut().zip(&needs).enumerate() {
            // More than everything is no more than everything.
            *slack = (*slack).min(*need);
            let room = board.holds(kind)[cut];
            let spare = i128::from(*slack) + i128::from(room) - i128::from(*need);
            if spare < 0 {
                return None;
            }
            let ease = spare * 1_000_000 / i128::from(room.max(1));
            tightest = Some(tightest.map_or((ease, cut), |old| old.min((ease, cut))));
        }
        let (cut, head) = (tightest?.1, *rest.first()?);
        let mut room: Vec<i64> =
            board.task.kinds[kind].rows.iter().map(|row| row.capacity).collect();
        if !step(&mut room, board.loads(kind, head)) {
            return None;
        }
        let hold = board.holds(kind)[cut] - board.weights(head)[cut];
        let tails = Tails::new(rest, cut, &|unit| board.weights(unit)[cut], work);
        let (passed, taken) = (Vec::new(), alone(head));
        Some(Share { kind, passed, slack, room, tails, hold, taken, left: 0 })
    }

    /// Decides the units of `open` in turn for the box at hand; whether the search was finished.
    fn choose(&mut self, open: &[usize], share: &mut Share, work: &mut Purse) -> bool {
        work.spend(30 + self.board.cuts() / 2);
        if work.dry() {
            return false;
        }
        let torn = self.board.torn(share.taken, share.left);
        if torn > self.budget {
            return true;
        }
        let Some((&unit, rest)) = open.split_first() else {
            return self.close(share, torn, work);
        };
        let (cuts, loads) = (self.board.cuts(), self.board.loads(share.kind, unit));
        let (cut, columns) = (share.tails.cut, loads.len());
        if !share.tails.reach(open.len(), share.slack(cuts)[cut], share.hold) {
            return true;
        }
        let weight = self.board.weights(unit)[cut];
        let fits = step(&mut share.room, loads);
        if let Some((_, units)) = self.boxes.last_mut()
            && fits
            && self.board.joins(share.kind, unit, units)
        {
            units.push(unit);
            share.hold -= weight;
            share.taken |= alone(unit);
            let whole = self.choose(rest, share, work);
            share.taken &= !alone(unit);
            share.hold += weight;
            if self.found || !whole {
                return whole;
            }
            if let Some((_, units)) = self.boxes.last_mut() {
                units.pop();
            }
        }
        share.room.truncate(share.room.len() - columns);
        // Without this unit; its equals pass too, or the same sets would come again.
        let twins = rest.iter().take_while(|&&next| self.board.equal(next, unit)).count();
        let (passed, lines) = (share.passed.len(), share.slack.len());
        let mut whole = true;
        let mut holds = true;
        let left = share.left;
        for &gone in &open[..=twins] {
            share.passed.push(gone);
            share.left |= alone(gone);
            holds &= step(&mut share.slack, self.board.weights(gone));
        }
        if holds {
            whole = self.choose(&rest[twins..], share, work);
        }
        share.left = left;
        share.passed.truncate(passed);
        share.slack.truncate(lines);
        whole
    }

    /// Closes the box at hand, which breaks wishes of that price, and goes on with the rest.
    fn close(&mut self, share: &Share, torn: i64, work: &mut Purse) -> bool {
        let Some((kind, units)) = self.boxes.last() else {
            return true;
        };
        let numbers = self.board.numbers(units);
        let stands = if self.bare {
            self.oracle.ask_bare(self.board.task, *kind, &numbers, work)
        } else {
            self.oracle.ask(self.board.task, *kind, &numbers, work)
        };
        if stands == Stands::Never {
            return true;
        }
        if stands == Stands::Unknown && !self.bare {
            self.doubt = true;
            return true;
        }
        let left = (self.counts.clone(), share.passed.clone());
        let budget = self.budget - torn;
        // The same boxes and units were left before, with no less to spend, and came to nothing.
        let vain = self.vain.get(&left).is_some_and(|&vain| budget <= vain);
        if vain || (self.bare && self.dominated(share, work)) {
            return true;
        }
        // Boxes that failed for their balance alone are not remembered: the search leaves balance
        // aside.
        let before = self.unbalanced;
        self.budget -= torn;
        let whole = self.fill(&share.passed, work);
        self.budget += torn;
        if whole && !self.found && before == self.unbalanced && self.vain.len() < VAIN {
            self.vain.insert(left, budget);
        }
        whole
    }

    /// Whether the box could take one more of the units passed, or a harder unit in place of one it
    /// has. Without balance every plan stays a plan after such a move, so this filling may be
    /// skipped. The plan with the hardest first box, then the hardest second one, is never skipped.
    /// A unit with a priced wish moves only where no group then touches a box more: the box has its
    /// groups already, or the two that change places have the same.
    fn dominated(&mut self, share: &Share, work: &mut Purse) -> bool {
        let Some((kind, units)) = self.boxes.last() else {
            return false;
        };
        let (board, oracle) = (&mut *self.board, &mut *self.oracle);
        work.spend(10 * share.passed.len() * units.len());
        let mut takes = |board: &Board<'_>, out: Option<usize>, into: usize, work: &mut Purse| {
            let wished = match out {
                None => board.is_wished(into, units),
                Some(out) => board.wishes_alike(into, out),
            };
            if !wished {
                return false;
            }
            let loads = board.loads(*kind, into);
            let room = share.room(loads.len());
            let fits = match out {
                None => room.iter().zip(loads).all(|(room, load)| load <= room),
                Some(out) => {
                    let own = board.loads(*kind, out);
                    let rows = room.iter().zip(loads).zip(own);
                    rows.into_iter().all(|((room, load), own)| load - own <= *room)
                }
            };
            if !fits {
                return false;
            }
            let mut next: Vec<usize> =
                units.iter().copied().filter(|&unit| Some(unit) != out).collect();
            if !board.joins(*kind, into, &next) {
                return false;
            }
            next.push(into);
            oracle.ask_bare(board.task, *kind, &board.numbers(&next), work) == Stands::Yes
        };
        if share.passed.iter().any(|&unit| takes(board, None, unit, work)) {
            return true;
        }
        for &out in &units[1..] {
            let harder = board.harder(out).to_vec();
            if share
                .passed
                .iter()
                .any(|unit| harder.contains(unit) && takes(board, Some(out), *unit, work))
            {
                return true;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};

    use super::*;
    use crate::load::engine::bounds::row_cuts::plain;
    use crate::load::engine::model::effort::Dice;
    use crate::load::engine::model::problem::{Grouping, HalfPlane, LineLoad, Problem};
    use crate::load::engine::testing::{box_kind, piece, task_of};

    /// The price of the wishes that these boxes break.
    fn broken(task: &Task, bins: &[Bin]) -> i64 {
        let mut touched: BTreeMap<(usize, i64), BTreeSet<usize>> = BTreeMap::new();
        for (at, bin) in bins.iter().enumerate() {
            for &wish in bin.units.iter().flat_map(|&unit| &task.units[unit].wishes) {
                touched.entry(wish).or_default().insert(at);
            }
        }
        let price = |(wish, boxes): (&(usize, i64), &BTreeSet<usize>)| {
            wish.1 * i64::try_from(boxes.len() - 1).unwrap()
        };
        touched.iter().map(price).sum()
    }

    /// Whether the units from `next` on find boxes that the oracle can place, with broken wishes within
    /// the budget.
    fn any(
        task: &Task,
        oracle: &mut Oracle,
        bins: &mut Vec<Bin>,
        next: usize,
        budget: i64,
    ) -> bool {
        let work = &mut Purse::new(u64::MAX);
        if next == task.units.len() {
            return broken(task, bins) <= budget
                && bins
                    .iter()
                    .all(|bin| oracle.ask(task, bin.kind, &bin.units, work) == Stands::Yes);
        }
        (0..bins.len()).any(|bin| {
            bins[bin].add(task, next);
            let own = &bins[bin];
            let found = own.rows_allow(task, &[], &[])
                && own.ties_allow(task, &[], &[])
                && task.units[next].allowed[own.kind]
                && any(task, oracle, bins, next + 1, budget);
            bins[bin].remove(task, next);
            found
        })
    }

    #[test]
    fn what_is_exhausted_no_other_sharing_out_of_the_units_fills() {
        let mut dice = Dice::new(5);
        let (mut found, mut never, mut torn) = (0, 0, 0);
        for round in 0..600 {
            let mut side = |most: usize| i64::try_from(1 + dice.below(most)).unwrap();
            let mut problem = Problem::default();
            for length in [6, 9] {
                let mut kind = box_kind(14 + side(6), length, 5, length);
                if round % 2 == 0 {
                    kind.limits = HalfPlane::window_along(length, 150).to_vec();
                }
                if round % 3 == 0 {
                    kind.line_load = Some(LineLoad { mass: 3 + side(3), per_length: 1 });
                }
                problem.kinds.push(kind);
            }
            problem.groups = vec![Grouping::Wish { price: 3 }, Grouping::Wish { price: 4 }];
            for _ in 0..5 + round % 3 {
                let mut piece = piece(side(8), 1 + side(4), side(4));
                // Of four rounds the last two have wishes.
                let group = usize::try_from(side(4)).unwrap() - 1;
                piece.group = (round % 4 > 1 && group < 2).then_some(group);
                problem.pieces.push(piece);
            }
            let budget = if round % 4 == 3 { side(5) - 1 } else { i64::MAX };
            let task = task_of(&problem);
            let counts = [1 + round % 2, (round / 2) % 2];
            let all: Vec<usize> = (0..task.units.len()).collect();
            let work = &mut Purse::new(1_000_000_000);
            let oracle = &mut Oracle::default();
            let answer = exhaust(&task, oracle, &plain(&task), (&counts, &all), budget, work);
            let mut bins = Vec::new();
            for (kind, &count) in counts.iter().enumerate() {
                bins.extend(std::iter::repeat_n(Bin::new(&task, kind), count));
            }
            let truth = any(&task, oracle, &mut bins, 0, budget);
            match answer {
                Answer::Found(bins) => {
                    let units: usize = bins.iter().map(|bin| bin.units.len()).sum();
                    assert!(truth && units == all.len() && bins.len() <= counts[0] + counts[1]);
                    assert!(broken(&task, &bins) <= budget);
                    found += 1;
                }
                Answer::Never => {
                    assert!(!truth, "{problem:?} {counts:?}");
                    never += 1;
                    torn += i32::from(any(&task, oracle, &mut bins, 0, i64::MAX));
                }
                Answer::Unsure => {}
            }
        }
        assert!(found > 50 && never > 50 && torn > 5, "{found} {never} {torn}");
    }
}
