//! The certificate: the argument of a lower bound in a form that others can redo.
//!
//! It lists cuts and exhausted vectors of boxes. The bound is the cost of the cheapest vector that they
//! leave. To redo a cut, the checker seeks a set of pieces that every measure allows in one box, and
//! that weighs more than the capacity of the cut: there must be none. The checker shares nothing with
//! the search but the measures.

use super::measure::conditions;
use crate::load::engine::model::problem::{BoxKind, Grouping, Problem};
use crate::load::engine::model::rows::Condition;

/// Why no plan costs less than the bound.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Certificate {
    /// What boxes and broken wishes cost at least, in minor currency units.
    pub bound: i64,
    /// The price of the wishes that every plan breaks. This is taken as shown.
    pub torn: i64,
    /// Conditions on the counts of boxes.
    pub cuts: Vec<Weighing>,
    /// Counts of boxes by kind that were searched to the end: no plan of them costs less than the plan
    /// shown. Only another search can redo this.
    pub exhausted: Vec<Vec<usize>>,
}

/// A cut: boxes whose capacities add up to less than the weights of all pieces cannot hold them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Weighing {
    /// Pieces that travel as one, and their weight.
    pub weights: Vec<(Vec<usize>, i64)>,
    /// By kind, what one box holds at most, less the price of the groups it touches that such sets share.
    pub capacity: Vec<i128>,
    /// What a minor unit of broken wishes makes good, and of a group's price takes off; nought for most cuts.
    pub wish: i128,
}

impl Weighing {
    /// By set of pieces, those groups with a price that several sets share, each with what it takes off a box.
    fn groups(&self, problem: &Problem) -> Vec<(Vec<usize>, i128)> {
        let priced = |(group, grouping): (usize, &Grouping)| match grouping {
            Grouping::Wish { price } if *price > 0 && self.wish > 0 => {
                let has = |piece: &usize| problem.pieces[*piece].group == Some(group);
                let own = self.weights.iter().enumerate();
                let own = own.filter(|(_, (pieces, _))| pieces.iter().any(has));
                let own: Vec<usize> = own.map(|(number, _)| number).collect();
                (own.len() > 1).then_some((own, self.wish * i128::from(*price)))
            }
            _ => None,
        };
        problem.groups.iter().enumerate().filter_map(priced).collect()
    }

    /// What boxes and broken wishes have to make good, and of what broken wishes make good whole multiples.
    fn need(&self, problem: &Problem) -> (i128, i128) {
        let all: i128 = self.weights.iter().map(|(_, weight)| i128::from(*weight)).sum();
        let groups = self.groups(problem);
        let step = groups.iter().fold(0, |step, (_, toll)| num_integer::gcd(step, *toll)).max(1);
        (all - groups.iter().map(|(_, toll)| toll).sum::<i128>(), step)
    }
}

/// What came of redoing a certificate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Redone {
    /// It holds.
    Holds,
    /// Not settled within the steps allowed, or it rests on an exhausted vector.
    Open,
    /// It does not hold.
    Fails,
}

/// Redoes a certificate within `steps` steps for each question.
pub fn redo(problem: &Problem, certificate: &Certificate, steps: u64) -> Redone {
    let conditions = conditions(problem);
    let cuts = certificate.cuts.iter().map(|cut| redo_cut(problem, cut, &conditions, steps));
    let cuts = cuts.max().unwrap_or(Redone::Holds);
    let needs = needs(problem, certificate);
    let (exhausted, served_by) = (Redone::Open, problem.served_by());
    let mut counts = Counts { problem, certificate, needs, steps, exhausted, served_by };
    cuts.max(counts.search(&mut Vec::new(), 0))
}

impl Certificate {
    /// Whether every count of boxes of a problem that costs less than the bound is cut off or exhausted, as
    /// far as `steps` tell. Neither hangs on costs, where no broken wish has a price: so cuts and exhausted
    /// vectors of a problem argue for the same one at other costs of its boxes.
    pub fn reaches(&self, problem: &Problem, steps: u64) -> bool {
        let needs = needs(problem, self);
        let (exhausted, served_by) = (Redone::Holds, problem.served_by());
        let mut counts = Counts { problem, certificate: self, needs, steps, exhausted, served_by };
        counts.search(&mut Vec::new(), 0) == Redone::Holds
    }
}

fn needs(problem: &Problem, certificate: &Certificate) -> Vec<(i128, i128)> {
    certificate.cuts.iter().map(|cut| cut.need(problem)).collect()
}

/// Whether the cut weighs no piece twice or below nought, and its capacities hold.
fn redo_cut(
    problem: &Problem,
    cut: &Weighing,
    conditions: &[Vec<Condition>],
    steps: u64,
) -> Redone {
    let mut seen = vec![false; problem.pieces.len()];
    for (pieces, weight) in &cut.weights {
        for &piece in pieces {
            let again = seen.get_mut(piece).is_none_or(|seen| std::mem::replace(seen, true));
            if again || *weight < 0 {
                return Redone::Fails;
            }
        }
    }
    if cut.capacity.len() != problem.kinds.len() {
        return Redone::Fails;
    }
    let redo = |kind| Filling::new(problem, (kind, &conditions[kind]), cut, steps).judge();
    (0..problem.kinds.len()).map(redo).max().unwrap_or(Redone::Holds)
}

/// The counts of boxes that cost less than the bound. A cut must forbid each.
struct Counts<'a> {
    problem: &'a Problem,
    certificate: &'a Certificate,
    /// By cut, its need and the step of what broken wishes make good.
    needs: Vec<(i128, i128)>,
    steps: u64,
    /// What is held of exhausted vectors.
    exhausted: Redone,
    /// By kind, another that serves instead: no plan needs such a box.
    served_by: Vec<Option<usize>>,
}

impl Counts<'_> {
    /// Every count of the other kinds, behind the counts of the first ones.
    fn search(&mut self, counts: &mut Vec<u32>, cost: i64) -> Redone {
        if self.steps == 0 {
            return Redone::Open;
        }
        self.steps -= 1;
        let Some(own) = self.problem.kinds.get(counts.len()) else {
            return self.judge(counts, cost);
        };
        let pieces = u32::try_from(self.problem.pieces.len()).unwrap_or(u32::MAX);
        let served = self.served_by[counts.len()].is_some();
        let most = if served { 0 } else { own.available.unwrap_or(pieces).min(pieces) };
        let mut verdict = Redone::Holds;
        for count in 0..=most {
            let sum = cost.saturating_add(own.cost.saturating_mul(i64::from(count)));
            counts.push(count);
            // More boxes of this kind cost no less and draw no less on what is to be had.
            let least = sum.saturating_add(self.certificate.torn);
            let over = least >= self.certificate.bound || self.is_over(counts);
            if !over {
                verdict = verdict.max(self.search(counts, sum));
            }
            counts.pop();
            if over || verdict != Redone::Holds {
                break;
            }
        }
        verdict
    }

    /// Whether boxes of the first kinds are more than may be had.
    fn is_over(&self, counts: &[u32]) -> bool {
        let drawn = |is_one: &dyn Fn(usize) -> bool| {
            let own = counts.iter().enumerate().filter(|(kind, _)| is_one(*kind));
            own.fold(0, |sum: u32, (_, count)| sum.saturating_add(*count))
        };
        let mut stocks = self.problem.stocks.iter();
        self.problem.max_boxes.is_some_and(|most| drawn(&|_| true) > most)
            || stocks.any(|stock| drawn(&|kind| stock.kinds.contains(&kind)) > stock.count)
    }

    /// Whether a plan of these boxes that costs less than the bound is cut off: so much may go for wishes.
    fn judge(&self, counts: &[u32], cost: i64) -> Redone {
        let torn = i128::from(self.certificate.bound) - 1 - i128::from(cost);
        let forbidden = self.certificate.cuts.iter().zip(&self.needs).any(|(cut, (need, step))| {
            let boxes = cut.capacity.iter().zip(counts);
            let held: i128 = boxes.map(|(&room, &count)| room * i128::from(count)).sum();
            held + cut.wish * torn / step * step < *need
        });
        let within = |vector: &Vec<usize>| {
            let counts = counts.iter().map(|&count| usize::try_from(count).unwrap_or(usize::MAX));
            vector.iter().zip(counts).all(|(&exhausted, count)| count <= exhausted)
        };
        match (forbidden, self.certificate.exhausted.iter().any(within)) {
            (true, _) => Redone::Holds,
            (false, true) => self.exhausted,
            (false, false) => Redone::Fails,
        }
    }
}

/// A search for a set that weighs more than the capacity claimed.
struct Filling {
    weights: Vec<i128>,
    /// By group that several sets share: its sets, what touching it takes off, and how many are taken.
    groups: Vec<(Vec<usize>, i128, usize)>,
    /// By measure: the pieces' weights and the room left.
    rows: Vec<(Vec<i128>, i128)>,
    claim: i128,
    steps: u64,
}

/// The sets that are searched, the heaviest first, and by row all of them in order of weight over own weight.
struct Open {
    sets: Vec<usize>,
    orders: Vec<Vec<Ranked>>,
}

/// A set under a row: its rank among the sets, what the row weighs it with, and its weight.
struct Ranked {
    rank: usize,
    own: i128,
    weight: i128,
}

impl Filling {
    fn new(
        problem: &Problem,
        (kind, conditions): (usize, &[Condition]),
        cut: &Weighing,
        steps: u64,
    ) -> Self {
        let row = |condition: &Condition| -> (Vec<i128>, i128) {
            let weigh = |(pieces, _): &(Vec<usize>, i64)| -> i128 {
                pieces.iter().map(|&piece| condition.weights[piece]).sum()
            };
            (cut.weights.iter().map(weigh).collect(), condition.capacity)
        };
        let all: Vec<(Vec<i128>, i128)> = conditions.iter().map(row).collect();
        // What cannot be in such a box at all weighs nothing there.
        let own: &BoxKind = &problem.kinds[kind];
        let weigh = |(at, (pieces, weight)): (usize, &(Vec<usize>, i64))| {
            let alone = pieces.iter().all(|&piece| own.lets_in(&problem.pieces[piece]))
                && !problem.pins_elsewhere(kind, pieces)
                && all.iter().all(|(weights, room)| weights[at] <= *room);
            if alone { i128::from(*weight) } else { 0 }
        };
        let weights = cut.weights.iter().enumerate().map(weigh).collect();
        let mut rows = all;
        rows.retain(|(weights, room)| {
            weights.iter().all(|&w| w >= 0) && weights.iter().sum::<i128>() > *room
        });
        let shared = cut.groups(problem).into_iter();
        let groups = shared.map(|(sets, toll)| (sets, toll, 0)).collect();
        Filling { weights, groups, rows, claim: cut.capacity[kind], steps }
    }

    fn judge(&mut self) -> Redone {
        if self.groups.is_empty()
            && let [(own, room)] = self.rows.as_slice()
            && let Some(most) = self.table(own, *room)
        {
            return if most <= self.claim { Redone::Holds } else { Redone::Fails };
        }
        let mut open: Vec<usize> = (0..self.weights.len()).collect();
        open.retain(|&at| self.weights[at] > 0);
        open.sort_by_key(|&at| -self.weights[at]);
        let by_ratio = |(own, _): &(Vec<i128>, i128)| {
            let ranked = |(rank, &at): (usize, &usize)| {
                let (own, weight) = (own[at], self.weights[at]);
                Ranked { rank, own, weight }
            };
            let mut order: Vec<Ranked> = open.iter().enumerate().map(ranked).collect();
            order.sort_by(|a, b| (b.weight * a.own).cmp(&(a.weight * b.own)));
            order
        };
        let orders: Vec<Vec<Ranked>> = self.rows.iter().map(by_ratio).collect();
        self.search(&Open { sets: open, orders }, 0, 0)
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

    /// Searches what may follow once it is decided of the first sets, up to `first`.
    fn search(&mut self, open: &Open, first: usize, value: i128) -> Redone {
        if value > self.claim {
            // More than claimed by these measures: the claim may still rest on the floor.
            return Redone::Fails;
        }
        let left = self.claim - value;
        let mut rows = self.rows.iter().zip(&open.orders);
        let is_within = match self.rows.len() {
            0 => open.sets.iter().skip(first).map(|&at| self.weights[at]).sum::<i128>() <= left,
            _ => rows.any(|((_, room), order)| is_within(order, first, (*room, left))),
        };
        if is_within {
            return Redone::Holds;
        }
        if self.steps == 0 {
            return Redone::Open;
        }
        self.steps -= 1;
        let Some(&head) = open.sets.get(first) else {
            return Redone::Holds;
        };
        if self.rows.iter().all(|(own, room)| own[head] <= *room) {
            for (own, room) in &mut self.rows {
                *room -= own[head];
            }
            let mut net = value + self.weights[head];
            for (_, toll, taken) in self.groups.iter_mut().filter(|group| group.0.contains(&head)) {
                net -= if *taken == 0 { *toll } else { 0 };
                *taken += 1;
            }
            let with = self.search(open, first + 1, net);
            for (.., taken) in self.groups.iter_mut().filter(|group| group.0.contains(&head)) {
                *taken -= 1;
            }
            for (own, room) in &mut self.rows {
                *room += own[head];
            }
            if with != Redone::Holds {
                return with;
            }
        }
        self.search(open, first + 1, value)
    }
}

/// Whether the sets from `first` on could weigh no more than so much under one row, the last in part.
fn is_within(order: &[Ranked], first: usize, (mut room, mut left): (i128, i128)) -> bool {
    for one in order.iter().filter(|one| one.rank >= first) {
        if one.own > room {
            // The part of it that fits, and less than one more.
            return one.weight * room < left * one.own;
        }
        room -= one.own;
        left -= one.weight;
        if left < 0 {
            return false;
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::testing::{box_kind, piece};

    /// Five pieces of 40 in boxes of 100: two in a box, so three boxes.
    fn argued(capacity: i128, bound: i64) -> (Problem, Certificate) {
        let problem = Problem {
            pieces: vec![piece(40, 1, 1); 5],
            kinds: vec![box_kind(100, 10, 1, 7)],
            ..Problem::default()
        };
        let cut = Weighing {
            weights: (0..5).map(|piece| (vec![piece], 1)).collect(),
            capacity: vec![capacity],
            wish: 0,
        };
        (problem, Certificate { bound, torn: 0, cuts: vec![cut], exhausted: Vec::new() })
    }

    #[test]
    fn a_cut_that_counts_torn_groups_holds_where_they_are_counted_right() {
        // Two pairs of 60 in boxes of 100: each piece is alone, so each pair is torn once, at 5 a pair.
        let mut problem = Problem {
            pieces: vec![piece(60, 1, 1); 4],
            kinds: vec![box_kind(100, 10, 1, 7)],
            groups: vec![Grouping::Wish { price: 5 }; 2],
            ..Problem::default()
        };
        for (number, piece) in problem.pieces.iter_mut().enumerate() {
            piece.group = Some(number / 2);
        }
        // A piece is worth 12, its group takes off 5: a box holds 7, and four of them lack 10 of 4 x 12 - 2 x 5.
        let own = |(piece, worth)| (vec![piece], worth);
        let argued = |last, capacity, bound| Certificate {
            bound,
            torn: 0,
            cuts: vec![Weighing {
                weights: [12, 12, 12, last].into_iter().enumerate().map(own).collect(),
                capacity: vec![capacity],
                wish: 1,
            }],
            exhausted: Vec::new(),
        };
        assert_eq!(redo(&problem, &argued(12, 7, 38), 1000), Redone::Holds);
        assert_eq!(redo(&problem, &argued(12, 7, 39), 1000), Redone::Fails);
        assert_eq!(redo(&problem, &argued(12, 6, 38), 1000), Redone::Fails);
        // With one worth 6 they lack 4, and one group torn makes that good.
        assert_eq!(redo(&problem, &argued(6, 7, 38), 1000), Redone::Fails);
    }

    #[test]
    fn a_sound_certificate_holds_and_an_overdrawn_one_fails() {
        let (problem, sound) = argued(2, 21);
        assert_eq!(redo(&problem, &sound, 1000), Redone::Holds);
        let (problem, bold) = argued(2, 28);
        assert_eq!(redo(&problem, &bold, 1000), Redone::Fails);
        let (problem, false_capacity) = argued(1, 35);
        assert_eq!(redo(&problem, &false_capacity, 1000), Redone::Fails);
        let (problem, sound) = argued(2, 21);
        assert_eq!(redo(&problem, &sound, 0), Redone::Open);
    }
}
