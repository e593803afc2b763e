//! One destination: bound, plans and the effort between them.

use super::bins::{Bin, cost};
use super::bound::plain;
use super::columns::{Pool, cut};
use super::dive::dive;
use super::misfit::{Misfit, Reason, whole};
use super::model::Task;
use super::oracle::Oracle;
use super::place::Spot;
use super::problem::{Grouping, Problem};
use super::repair::{repair, resume, sizes};
use super::start::{retype, simple};
use super::vectors::{Cut, Vector, rank};
use super::work::{Dice, Work};

/// A destination's boxes with the places of their pieces, by kind of the problem.
pub(crate) struct Outcome {
    pub(crate) boxes: Vec<(usize, Vec<(usize, Spot)>)>,
    pub(crate) cost: i64,
    pub(crate) bound: i64,
    pub(crate) reason: Option<&'static str>,
}

/// A plan in terms of pieces, so that plans of differently joined tasks compare.
#[derive(Clone)]
struct Draft {
    /// (kind of the task, pieces), kinds being the same in every task of the destination.
    boxes: Vec<(usize, Vec<usize>)>,
    cost: i64,
}

struct Desk<'a> {
    problem: &'a Problem,
    best: Option<Draft>,
    bound: i64,
    cuts: Vec<Cut>,
    sharpened: bool,
    /// Units of the task that joins no wish.
    units: usize,
}

/// Plans one destination.
pub(crate) fn plan(
    problem: &Problem,
    destination: usize,
    max_boxes: usize,
    work: &mut Work,
) -> Result<Outcome, Vec<Misfit>> {
    let free = Task::new(problem, destination, &|_| false, max_boxes);
    let wished = |group: usize| {
        matches!(problem.groups[group], Grouping::Wish { price } if price > 0)
    };
    let joined = Task::new(problem, destination, &wished, max_boxes);
    let mut desk = Desk { problem, best: None, bound: 0, cuts: plain(&free), sharpened: false, units: free.units.len() };
    let ranked = rank(&free, &desk.cuts, None, 1, work);
    let pieces: Vec<usize> = free.units.iter().flat_map(|unit| unit.pieces.clone()).collect();
    let Some(first) = ranked.vectors.first().map(|v| v.cost).or(ranked.bound) else {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(true))]);
    };
    desk.bound = first;
    // Plans that break no wish first: where one meets the bound, nothing else is needed.
    let mut pool = Pool::default();
    if joined.units.len() != free.units.len()
        && joined.units.iter().all(|unit| unit.allowed.contains(&true))
    {
        let mut part = work.purse(work.left() / 2);
        desk.run(&joined, &free, &mut Pool::default(), &mut part);
        work.settle(&part);
    }
    if !desk.done() {
        desk.run(&free, &free, &mut pool, work);
    }
    let Some(best) = &desk.best else {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(false))]);
    };
    let Some(boxes) = finish(&free, best) else {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(false))]);
    };
    let reason = if desk.done() { None } else { Some("the effort ran out between plan and bound") };
    Ok(Outcome { boxes, cost: best.cost, bound: desk.bound.min(best.cost), reason })
}

impl Desk<'_> {
    fn done(&self) -> bool {
        self.best.as_ref().is_some_and(|best| best.cost <= self.bound)
    }

    /// Takes a plan if it is better than the best.
    fn take(&mut self, task: &Task, bins: &[Bin]) {
        let boxes: Vec<(usize, Vec<usize>)> = bins
            .iter()
            .filter(|bin| !bin.units.is_empty())
            .map(|bin| {
                let units = bin.units.iter();
                (bin.kind, units.flat_map(|&unit| task.units[unit].pieces.clone()).collect())
            })
            .collect();
        let cost = cost(task, bins) + broken_wishes(self.problem, &boxes);
        let better = self.best.as_ref().is_none_or(|old| {
            (cost, boxes.len()) < (old.cost, old.boxes.len())
        });
        if better {
            self.best = Some(Draft { boxes, cost });
        }
    }

    /// First plans, a quick repair, cuts from the linear program, then dives and repairs with
    /// growing purses.
    fn run(&mut self, task: &Task, free: &Task, pool: &mut Pool, work: &mut Work) {
        let mut oracle = Oracle::default();
        if let Some(bins) = simple(task, &mut oracle, work) {
            self.take(task, &bins);
        }
        let mut purse = 20_000_000;
        let mut seed = 1;
        while !self.done() && !work.dry() {
            // A round costs something even where nothing is left to try.
            work.spend(1_000_000);
            self.repair_round(task, &mut oracle, seed, purse, work);
            if self.done() {
                return;
            }
            if seed == 1 && !self.sharpened {
                let mut part = work.purse(work.left() / 2);
                self.sharpen(free, pool, &mut part);
                work.settle(&part);
                self.sharpened = true;
            } else {
                self.dive_round(task, &mut oracle, pool, seed, purse.saturating_mul(4), work);
            }
            seed += 1;
            purse = purse.saturating_mul(3) / 2;
        }
    }

    /// Repairs into the cheapest vectors in turn.
    fn repair_round(
        &mut self,
        task: &Task,
        oracle: &mut Oracle,
        seed: u64,
        purse: u64,
        work: &mut Work,
    ) {
        for vector in self.targets(task, 6, work) {
            let mut part = work.purse(purse);
            let found = repair(task, oracle, &boxes_of(&vector), sizes(task), seed, &mut part);
            work.settle(&part);
            if let Some(bins) = found {
                self.take(task, &bins);
                break;
            }
        }
    }

    /// Dives into the cheapest vectors, and once without a vector, and repairs what is left.
    fn dive_round(
        &mut self,
        task: &Task,
        oracle: &mut Oracle,
        pool: &mut Pool,
        seed: u64,
        purse: u64,
        work: &mut Work,
    ) {
        let mut caps: Vec<Vec<usize>> =
            self.targets(task, 3, work).into_iter().map(|vector| vector.counts).collect();
        if task.kinds.len() > 1 {
            caps.insert(0, task.kinds.iter().map(|kind| kind.available).collect());
        }
        let mut dice = Dice::new(seed);
        for caps in caps {
            let mut part = work.purse(purse.saturating_mul(4));
            let (mut bins, left) = dive(task, oracle, pool, &caps, &mut dice, &mut part);
            work.settle(&part);
            if left.is_empty() {
                bins.retain(|bin| !bin.units.is_empty());
                retype(task, oracle, &mut bins, work);
                self.take(task, &bins);
            } else {
                let mut part = work.purse(purse);
                let found = resume(task, oracle, (bins, left), sizes(task), seed, &mut part);
                work.settle(&part);
                if let Some(bins) = found {
                    self.take(task, &bins);
                }
            }
            if self.done() || work.dry() {
                return;
            }
        }
    }

    /// The cheapest vectors below the best plan, which also move the bound.
    fn targets(&mut self, task: &Task, most: usize, work: &mut Work) -> Vec<Vector> {
        let ceiling = self.best.as_ref().map(|best| best.cost);
        let ranked = rank(task, &self.cuts, ceiling, most, work);
        let cheapest = ranked.vectors.first().map(|vector| vector.cost);
        // Joined units are fewer, and so are the boxes ranked for them: no bound from those.
        if let Some(bound) = cheapest.or(ranked.bound).filter(|_| task.units.len() == self.units) {
            self.bound = self.bound.max(bound);
        }
        ranked.vectors
    }

    /// Adds cuts of the linear program until the cheapest vector survives them.
    fn sharpen(&mut self, free: &Task, pool: &mut Pool, work: &mut Work) {
        let first = cut(free, None, pool, work);
        self.cuts.push(first);
        for _ in 0..40 {
            let targets = self.targets(free, 1, work);
            let Some(vector) = targets.first().filter(|_| !self.done()) else { return };
            let next = cut(free, Some(vector), pool, work);
            if next.allows(vector) || work.dry() {
                return;
            }
            self.cuts.push(next);
        }
    }
}

fn boxes_of(vector: &Vector) -> Vec<usize> {
    let counts = vector.counts.iter().enumerate();
    counts.flat_map(|(kind, &count)| std::iter::repeat_n(kind, count)).collect()
}

/// The price of the wishes that these boxes break.
fn broken_wishes(problem: &Problem, boxes: &[(usize, Vec<usize>)]) -> i64 {
    let mut touched = vec![0_i64; problem.groups.len()];
    for (_, pieces) in boxes {
        let mut groups: Vec<usize> =
            pieces.iter().filter_map(|&piece| problem.pieces[piece].group).collect();
        groups.sort_unstable();
        groups.dedup();
        for group in groups {
            touched[group] += 1;
        }
    }
    let price = |(group, count): (usize, i64)| match problem.groups[group] {
        Grouping::Wish { price } => price * (count - 1).max(0),
        _ => 0,
    };
    touched.into_iter().enumerate().map(price).sum()
}

/// Places for every box.
fn finish(task: &Task, draft: &Draft) -> Option<Vec<(usize, Vec<(usize, Spot)>)>> {
    draft
        .boxes
        .iter()
        .map(|(kind, pieces)| {
            let places = Oracle::places(task, *kind, pieces)?;
            Some((task.kinds[*kind].index, places))
        })
        .collect()
}
