//! Groups that wish to stay together: plans with whole groups first, then plans that may break
//! them, and a bound over both.

use super::draft::Stowed;
use super::group_bound::least_boxes;
use super::incumbent::Incumbent;
use super::ledger::Ledger;
use super::polish::gather;
use super::portfolio::Portfolio;
use crate::load::engine::bounds::certificate::Certificate;
use crate::load::engine::model::conflicts::Conflicts;
use crate::load::engine::model::effort::{Effort, Purse};
use crate::load::engine::model::misfit::{Cause, Infeasible, whole};
use crate::load::engine::model::problem::{Grouping, Problem};
use crate::load::engine::model::rows::Condition;
use crate::load::engine::model::task::{Task, Unit};
use crate::load::engine::model::watch::SearchState;
use crate::load::engine::place::oracle::Oracle;

/// Work of a search for a plan that breaks no wish where breaking it is free.
const NICE: u64 = 10_000_000;
/// Work of gathering the spare of the last plan.
const GATHER: u64 = 300_000_000;

/// The boxes with the places of their pieces, and what is proven of their cost.
pub(crate) struct Outcome {
    pub(crate) boxes: Vec<Stowed>,
    pub(crate) cost: i64,
    pub(crate) bound: i64,
    /// The price of the wishes that every plan breaks, within the bound.
    pub(crate) torn: i64,
    pub(crate) certificate: Certificate,
}

/// Plans the problem, whose task without joined wishes is `free`.
pub(crate) fn plan(
    problem: &Problem,
    conditions: &[Vec<Condition>],
    free: &Task,
    effort: &Effort,
) -> Result<Outcome, Vec<Infeasible>> {
    let work = &mut Purse::new(effort.units);
    let price = |group: usize| match problem.groups[group] {
        Grouping::Wish { price } => Some(price),
        _ => None,
    };
    let broken = broken(problem, work);
    let surely = broken
        .iter()
        .enumerate()
        .map(|(group, times)| price(group).unwrap_or(0).saturating_mul(*times))
        .fold(0, i64::saturating_add);
    // A wish that is broken whatever is planned is not tried unbroken.
    let whole_wish = |group: usize| price(group).filter(|_| broken[group] == 0);
    let mut incumbent = Incumbent::new(problem);
    let mut ledger = Ledger { torn: surely, ..Ledger::new(free) };
    let refused = |reason| {
        let pieces = free.pieces(&(0..free.units.len()).collect::<Vec<_>>());
        vec![whole(&pieces, reason)]
    };
    if ledger.targets(free, None, 1, work).is_none() {
        return Err(refused(Cause::NotEnoughBoxes(true)));
    }
    // Plans that break no wish come first; where a broken wish costs nothing, only while they are cheap
    // to find.
    let priced = |group: usize| whole_wish(group).is_some_and(|price| price > 0);
    let half = work.left() / 2;
    let groups = 0..problem.groups.len();
    let joining = Joining { problem, conditions, free, effort, surely };
    if groups.clone().any(|group| whole_wish(group) == Some(0)) {
        joining.plan(&|group| whole_wish(group).is_some(), NICE, &mut incumbent, work);
    }
    if !incumbent.is_proven(&ledger)
        && let Some(floor) = joining.plan(&priced, half, &mut incumbent, work)
    {
        let least = groups.filter(|&group| priced(group)).filter_map(price).min();
        incumbent.unbroken = least.map(|price| (floor, price));
    }
    let mut oracle = Oracle::default();
    let ran = Portfolio::new(free, &mut ledger, &mut oracle, &mut incumbent).run(
        work,
        &|best, bound, work| {
            tell(effort, |seen| {
                seen.best = best;
                seen.bound = bound;
                seen.spent = (effort.units.saturating_sub(work.left()), effort.units);
            });
        },
    );
    let Some(best) = &incumbent.best else {
        return Err(refused(Cause::NotEnoughBoxes(ran.is_none())));
    };
    let bound = incumbent.bound(&ledger).min(best.cost);
    let best = gather(problem, free, best, &mut oracle, &mut Purse::new(GATHER));
    let Some(boxes) = best.places(free) else {
        return Err(refused(Cause::NotEnoughBoxes(false)));
    };
    let certificate = ledger.certificate(free, best.cost);
    Ok(Outcome { boxes, cost: best.cost, bound, torn: surely, certificate })
}

/// Tells whoever watches how far the search is.
fn tell(effort: &Effort, write: impl FnOnce(&mut SearchState)) {
    if let Some(watch) = effort.watch {
        watch.tell(write);
    }
}

/// By group, how many boxes it touches beyond its first, whatever is planned.
fn broken(problem: &Problem, work: &mut Purse) -> Vec<i64> {
    let conflicts = Conflicts::of(problem);
    let mut members = vec![Vec::new(); problem.groups.len()];
    for (number, piece) in problem.pieces.iter().enumerate() {
        if let Some(group) = piece.group {
            members[group].push(number);
        }
    }
    let mut more = |(group, pieces): (&Grouping, &Vec<usize>)| {
        let parted = conflicts.boxes_beyond_first(pieces);
        let priced = matches!(group, Grouping::Wish { price } if *price > 0);
        let least = if priced && pieces.len() > 1 { least_boxes(problem, pieces, work) } else { 1 };
        i64::try_from(parted.max(least.saturating_sub(1))).unwrap_or(0)
    };
    problem.groups.iter().zip(&members).map(&mut more).collect()
}

/// Tasks in which whole groups are units.
struct Joining<'a> {
    problem: &'a Problem,
    conditions: &'a [Vec<Condition>],
    free: &'a Task,
    effort: &'a Effort,
    /// The price of the wishes that every plan breaks.
    surely: i64,
}

impl Joining<'_> {
    /// Plans with each of the groups whole, and what such a plan costs at least; `None`: whole groups add no
    /// condition to the free task.
    fn plan(
        &self,
        groups: &dyn Fn(usize) -> bool,
        purse: u64,
        incumbent: &mut Incumbent<'_>,
        work: &mut Purse,
    ) -> Option<i64> {
        let joined = Task::new(self.problem, self.conditions, groups);
        if joined.units.len() == self.free.units.len() {
            return None;
        }
        let conflicts = Conflicts::of(self.problem);
        let sound =
            |unit: &Unit| unit.allowed.contains(&true) && !conflicts.are_within(&unit.pieces);
        if !joined.units.iter().all(sound) {
            return Some(i64::MAX);
        }
        let mut ledger = Ledger { torn: self.surely, ..Ledger::new(&joined) };
        let mut part = work.purse(purse);
        // It has an oracle of its own: an oracle remembers units by number, and the numbers mean other
        // pieces here. Its bound is of whole groups alone: nobody is told.
        let best = |best, _, _: &Purse| tell(self.effort, |seen| seen.best = best);
        let ran = Portfolio::new(&joined, &mut ledger, &mut Oracle::default(), incumbent)
            .run(&mut part, &best);
        work.settle(&part);
        Some(if ran.is_none() { i64::MAX } else { ledger.bound })
    }
}
