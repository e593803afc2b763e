//! One destination: bound, plans and the effort between them.

use super::bins::{Bin, cost};
use super::bound::plain;
use super::misfit::{Misfit, Reason, whole};
use super::model::Task;
use super::oracle::Oracle;
use super::place::Spot;
use super::problem::{Grouping, Problem};
use super::repair::{repair, sizes};
use super::start::simple;
use super::vectors::{Cut, rank};
use super::work::Work;

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
    let mut desk = Desk { problem, best: None, bound: 0, cuts: plain(&free) };
    let ranked = rank(&free, &desk.cuts, None, 1, work);
    let pieces: Vec<usize> = free.units.iter().flat_map(|unit| unit.pieces.clone()).collect();
    let Some(first) = ranked.vectors.first().map(|v| v.cost).or(ranked.bound) else {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(true))]);
    };
    desk.bound = first;
    let whole_wishes = joined.units.iter().all(|unit| unit.allowed.contains(&true));
    let mut tasks = Vec::new();
    if whole_wishes {
        tasks.push(joined);
    }
    if tasks.is_empty() || free.units.len() != tasks[0].units.len() {
        tasks.push(free);
    }
    for task in &tasks {
        desk.run(task, work);
        if desk.done() {
            break;
        }
    }
    let Some(best) = &desk.best else {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(false))]);
    };
    let last = tasks.last().map(|task| finish(task, best));
    let Some(Some(boxes)) = last else {
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

    /// First plans, then repair into the cheapest vectors with growing purses.
    fn run(&mut self, task: &Task, work: &mut Work) {
        let mut oracle = Oracle::default();
        if let Some(bins) = simple(task, &mut oracle, work) {
            self.take(task, &bins);
        }
        let mut purse = 20_000_000;
        let mut seed = 1;
        while !self.done() && !work.dry() {
            let ceiling = self.best.as_ref().map(|best| best.cost);
            let ranked = rank(task, &self.cuts, ceiling, 12, work);
            if ranked.vectors.is_empty() {
                break;
            }
            for vector in &ranked.vectors {
                let kinds: Vec<usize> = vector
                    .counts
                    .iter()
                    .enumerate()
                    .flat_map(|(kind, &count)| std::iter::repeat_n(kind, count))
                    .collect();
                let mut part = work.purse(purse);
                let found = repair(task, &mut oracle, &kinds, sizes(task), seed, &mut part);
                work.settle(&part);
                if let Some(bins) = found {
                    self.take(task, &bins);
                    break;
                }
            }
            seed += 1;
            purse = purse * 3 / 2;
        }
    }
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
    let mut home = vec![usize::MAX; task.items.len()];
    for (number, unit) in task.units.iter().enumerate() {
        for &piece in &unit.pieces {
            home[piece] = number;
        }
    }
    draft
        .boxes
        .iter()
        .map(|(kind, pieces)| {
            let units: BTreeSet<usize> = pieces.iter().map(|&piece| home[piece]).collect();
            let units: Vec<usize> = units.into_iter().collect();
            let places = Oracle::places(task, *kind, &units)?;
            Some((task.kinds[*kind].index, places))
        })
        .collect()
}

use std::collections::BTreeSet;
