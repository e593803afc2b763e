//! The argument of a lower bound in a form that others can redo.
//!
//! For each destination: cuts, vectors exhausted, and the bound that the cheapest vector of
//! boxes left by them costs. A cut is redone by showing that no set of pieces that every
//! measure allows in one box of a kind weighs more than the capacity it names.

use super::measure::{Measure, all_measures};
use crate::load::engine::model::problem::{BoxKind, Pin, Problem};

/// One destination's part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Part {
    /// The destination.
    pub destination: usize,
    /// What its boxes cost at least, in minor currency units, wishes aside.
    pub bound: i64,
    /// Conditions on the counts of boxes.
    pub cuts: Vec<Weighing>,
    /// Counts by kind that were searched to the end without a plan that costs less than the one
    /// shown; redoing that is a search.
    pub exhausted: Vec<Vec<(usize, u32)>>,
}

/// A cut: the weights of all pieces add up to more than boxes of too small a sum of
/// capacities can hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Weighing {
    /// Pieces that travel as one, and their weight.
    pub weights: Vec<(Vec<usize>, i64)>,
    /// By kind, what one box holds at most.
    pub capacity: Vec<(usize, i128)>,
}

/// What came of redoing a part.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Redone {
    /// It holds.
    Holds,
    /// Not settled within the steps allowed, or it rests on an exhausted vector.
    Open,
    /// It does not hold.
    Fails,
}

/// Redoes a part within `steps` steps for each question.
pub fn redo(problem: &Problem, part: &Part, steps: u64) -> Redone {
    let mut verdict = Redone::Holds;
    let measures = all_measures(&problem.kinds, &problem.pieces);
    for cut in &part.cuts {
        verdict = verdict.max(redo_cut(problem, part.destination, cut, &measures, steps));
    }
    let mut counts = Counts { problem, part, steps, kinds: Vec::new() };
    counts.kinds = (0..problem.kinds.len())
        .filter(|&kind| problem.kinds[kind].destination == part.destination)
        .collect();
    verdict.max(counts.search(0, &mut Vec::new(), 0))
}

/// Whether the cut weighs no more than the destination's pieces, and its capacities hold.
fn redo_cut(
    problem: &Problem,
    destination: usize,
    cut: &Weighing,
    measures: &[Vec<Measure>],
    steps: u64,
) -> Redone {
    let mut seen = vec![false; problem.pieces.len()];
    for (pieces, weight) in &cut.weights {
        for &piece in pieces {
            let known = problem.pieces.get(piece).is_some_and(|p| p.destination == destination);
            if !known || std::mem::replace(&mut seen[piece], true) || *weight < 0 {
                return Redone::Fails;
            }
        }
    }
    let mut verdict = Redone::Holds;
    for &(number, capacity) in &cut.capacity {
        let Some(kind) = problem.kinds.get(number) else {
            return Redone::Fails;
        };
        let mut filling =
            Filling::new(problem, (number, kind, &measures[number]), cut, capacity, steps);
        verdict = verdict.max(filling.judge());
    }
    verdict
}

/// The counts of boxes cheaper than the bound, each of which a cut must forbid.
struct Counts<'a> {
    problem: &'a Problem,
    part: &'a Part,
    kinds: Vec<usize>,
    steps: u64,
}

impl Counts<'_> {
    fn search(&mut self, depth: usize, counts: &mut Vec<u32>, cost: i64) -> Redone {
        if self.steps == 0 {
            return Redone::Open;
        }
        self.steps -= 1;
        let Some(&kind) = self.kinds.get(depth) else {
            return self.judge(counts);
        };
        let own = &self.problem.kinds[kind];
        let pieces = u32::try_from(self.problem.pieces.len()).unwrap_or(u32::MAX);
        let most = own.available.unwrap_or(pieces).min(pieces);
        let mut verdict = Redone::Holds;
        for count in 0..=most {
            let sum = cost.saturating_add(own.cost.saturating_mul(i64::from(count)));
            let boxes: u32 = counts.iter().fold(count, |a, &b| a.saturating_add(b));
            let over = self.problem.max_boxes.is_some_and(|most| boxes > most)
                || self.problem.stocks.iter().any(|stock| {
                    let before = self.kinds.iter().zip(&*counts).chain([(&kind, &count)]);
                    let own = before.filter(|(kind, _)| stock.kinds.contains(kind));
                    own.fold(0, |sum: u32, (_, count)| sum.saturating_add(*count)) > stock.count
                });
            if sum >= self.part.bound || over || verdict != Redone::Holds {
                break;
            }
            counts.push(count);
            verdict = verdict.max(self.search(depth + 1, counts, sum));
            counts.pop();
        }
        verdict
    }

    fn judge(&self, counts: &[u32]) -> Redone {
        let named =
            |kind: usize| self.kinds.iter().position(|&own| own == kind).map_or(0, |at| counts[at]);
        let forbidden = self.part.cuts.iter().any(|cut| {
            let need: i128 = cut.weights.iter().map(|(_, weight)| i128::from(*weight)).sum();
            let complete =
                self.kinds.iter().all(|kind| cut.capacity.iter().any(|(other, _)| other == kind));
            let held: i128 =
                cut.capacity.iter().map(|&(kind, room)| room * i128::from(named(kind))).sum();
            complete && held < need
        });
        let exhausted = self
            .part
            .exhausted
            .iter()
            .any(|vector| vector.iter().all(|&(kind, count)| named(kind) <= count));
        match (forbidden, exhausted) {
            (true, _) => Redone::Holds,
            (false, true) => Redone::Open,
            (false, false) => Redone::Fails,
        }
    }
}

/// A search for a set that weighs more than the capacity claimed.
struct Filling {
    weights: Vec<i128>,
    /// By measure: the pieces' weights and the room left.
    rows: Vec<(Vec<i128>, i128)>,
    claim: i128,
    steps: u64,
}

impl Filling {
    fn new(
        problem: &Problem,
        (number, kind, measures): (usize, &BoxKind, &[Measure]),
        cut: &Weighing,
        claim: i128,
        steps: u64,
    ) -> Self {
        let all: Vec<(Vec<i128>, i128)> = measures
            .iter()
            .map(|measure| {
                let weigh = |(pieces, _): &(Vec<usize>, i64)| -> i128 {
                    let pieces = pieces.iter();
                    pieces.map(|&piece| measure.weigh(kind, &problem.pieces[piece])).sum()
                };
                (cut.weights.iter().map(weigh).collect(), measure.capacity(kind))
            })
            .collect();
        let mut rows = all.clone();
        rows.retain(|(weights, room)| {
            weights.iter().all(|&w| w >= 0) && weights.iter().sum::<i128>() > *room
        });
        let weights: Vec<i128> = cut.weights.iter().map(|(_, w)| i128::from(*w)).collect();
        // What cannot be in such a box at all weighs nothing there.
        let passes = |&piece: &usize| {
            let elsewhere = |pin: &Pin| pin.kind != number && pin.pieces.contains(&piece);
            let own = &problem.pieces[piece];
            own.height <= kind.door_height
                && own.width.min(own.length) <= kind.door_width
                && !problem.pins.iter().any(elsewhere)
        };
        let alone = |at: usize| {
            cut.weights[at].0.iter().all(passes)
                && all.iter().all(|(own, room): &(Vec<i128>, i128)| own[at] <= *room)
        };
        let weights: Vec<i128> =
            (0..weights.len()).map(|at| if alone(at) { weights[at] } else { 0 }).collect();
        Filling { weights, rows, claim, steps }
    }

    fn judge(&mut self) -> Redone {
        if let [(own, room)] = self.rows.as_slice()
            && let Some(most) = self.table(own, *room)
        {
            return if most <= self.claim { Redone::Holds } else { Redone::Fails };
        }
        let mut open: Vec<usize> = (0..self.weights.len()).collect();
        open.retain(|&at| self.weights[at] > 0);
        open.sort_by_key(|&at| -self.weights[at]);
        self.search(&open, 0)
    }

    /// The heaviest set under one row, by dynamic programming over its divided weights.
    fn table(&self, own: &[i128], room: i128) -> Option<i128> {
        let divisor = own.iter().fold(0, |a, &b| num_integer::gcd(a, b)).max(1);
        let size = usize::try_from(room / divisor).ok()? + 1;
        if u64::try_from(size.checked_mul(own.len())?).ok()? > self.steps.saturating_mul(100) {
            return None;
        }
        let mut best = vec![0_i128; size];
        for (at, &weight) in self.weights.iter().enumerate() {
            let step = usize::try_from(own[at] / divisor).ok()?;
            for sum in (step..size).rev() {
                best[sum] = best[sum].max(best[sum - step] + weight);
            }
        }
        best.last().copied()
    }

    fn search(&mut self, open: &[usize], value: i128) -> Redone {
        if value > self.claim {
            // More than claimed by these measures: the claim may still rest on the floor.
            return Redone::Fails;
        }
        let cap = self
            .rows
            .iter()
            .map(|(own, room)| self.fraction(open, own, *room))
            .min()
            .unwrap_or_else(|| open.iter().map(|&at| self.weights[at]).sum());
        if value + cap <= self.claim {
            return Redone::Holds;
        }
        if self.steps == 0 {
            return Redone::Open;
        }
        self.steps -= 1;
        let Some((&head, rest)) = open.split_first() else {
            return Redone::Holds;
        };
        if self.rows.iter().all(|(own, room)| own[head] <= *room) {
            for (own, room) in &mut self.rows {
                *room -= own[head];
            }
            let with = self.search(rest, value + self.weights[head]);
            for (own, room) in &mut self.rows {
                *room += own[head];
            }
            if with != Redone::Holds {
                return with;
            }
        }
        self.search(rest, value)
    }

    /// The most that `open` could weigh under one row, the last in part, rounded up.
    fn fraction(&self, open: &[usize], own: &[i128], room: i128) -> i128 {
        let mut order: Vec<usize> = open.to_vec();
        order.sort_by(|&a, &b| (self.weights[b] * own[a]).cmp(&(self.weights[a] * own[b])));
        let (mut room, mut value) = (room, 0);
        for at in order {
            if own[at] <= room {
                room -= own[at];
                value += self.weights[at];
            } else {
                return value + self.weights[at] * room / own[at] + 1;
            }
        }
        value
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::testing::{box_kind, piece};

    /// Five pieces of 40 in boxes of 100: two in a box, so three boxes.
    fn part(capacity: i128, bound: i64) -> (Problem, Part) {
        let problem = Problem {
            pieces: vec![piece(40, 1, 1); 5],
            kinds: vec![box_kind(100, 10, 1, 7)],
            ..Problem::default()
        };
        let cut = Weighing {
            weights: (0..5).map(|piece| (vec![piece], 1)).collect(),
            capacity: vec![(0, capacity)],
        };
        let part = Part { destination: 0, bound, cuts: vec![cut], exhausted: Vec::new() };
        (problem, part)
    }

    #[test]
    fn a_sound_part_holds_and_an_overdrawn_one_fails() {
        let (problem, sound) = part(2, 21);
        assert_eq!(redo(&problem, &sound, 1000), Redone::Holds);
        let (problem, bold) = part(2, 28);
        assert_eq!(redo(&problem, &bold, 1000), Redone::Fails);
        let (problem, false_capacity) = part(1, 35);
        assert_eq!(redo(&problem, &false_capacity, 1000), Redone::Fails);
        let (problem, sound) = part(2, 21);
        assert_eq!(redo(&problem, &sound, 0), Redone::Open);
    }
}
