//! One destination: bound, plans and the effort between them.

use super::bins::Bin;
use super::diving::Dive;
use super::draft::{Draft, Stowed};
use super::fit_decreasing::{retype, simple};
use super::group_bound::least_boxes;
use super::ledger::{EXHAUST_UNITS, Ledger};
use super::local_search::{repair, resume, sizes};
use super::polish::gather;
use crate::load::engine::bounds::box_vectors::Vector;
use crate::load::engine::bounds::column_generation::Aim;
use crate::load::engine::bounds::measure::Measure;
use crate::load::engine::model::conflicts::Strife;
use crate::load::engine::model::effort::{Dice, Work};
use crate::load::engine::model::misfit::{Misfit, Reason, whole};
use crate::load::engine::model::problem::{Grouping, Problem};
use crate::load::engine::model::task::{Task, Unit};
use crate::load::engine::place::oracle::Oracle;

/// Work of one dive, for each row of its program times itself.
const DIVE: u64 = 11_000;
/// Work of the first exhaustive try of a vector, before any repair.
const FIRST: u64 = 8_000_000;
/// Work of a search for a plan that breaks no wish where breaking it is free.
const NICE: u64 = 10_000_000;
/// Choices against the linear program that a dive may make.
const SLIPS: usize = 2;

/// A destination's boxes with the places of their pieces, by kind of the problem.
pub(crate) struct Outcome {
    pub(crate) destination: usize,
    pub(crate) boxes: Vec<Stowed>,
    pub(crate) cost: i64,
    pub(crate) bound: i64,
    /// The price of the wishes that every plan breaks, within the bound.
    pub(crate) torn: i64,
    pub(crate) reason: Option<&'static str>,
    /// The task and proofs behind the bound.
    pub(crate) free: (Task, Ledger),
}

/// Plans one destination within `max_boxes` boxes, by the measures of each kind.
pub(crate) fn plan(
    (problem, measures): (&Problem, &[Vec<Measure>]),
    destination: usize,
    max_boxes: usize,
    work: &mut Work,
) -> Result<Outcome, Vec<Misfit>> {
    let price = |group: usize| match problem.groups[group] {
        Grouping::Wish { price } => Some(price),
        _ => None,
    };
    // A wish that is broken whatever is planned is not tried unbroken.
    let broken = broken(problem, destination, work);
    let whole_wish = |group: usize| price(group).filter(|_| broken[group] == 0);
    let free = Task::by(problem, measures, destination, &|_| false, max_boxes);
    let mut oracle = Oracle::default();
    let surely = broken
        .iter()
        .enumerate()
        .map(|(group, times)| price(group).unwrap_or(0).saturating_mul(*times));
    let surely = surely.fold(0, i64::saturating_add);
    let mut desk =
        Desk { problem, measures, destination, best: None, least: None, floor: 0, surely };
    let mut ledger = Ledger::new(&free);
    let pieces = free.pieces(&(0..free.units.len()).collect::<Vec<_>>());
    if ledger.targets(&free, None, 1, work).is_none() {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(true))]);
    }
    // Plans that break no wish first: where that has no price, only for as long as it costs little.
    let priced = |group: usize| whole_wish(group).is_some_and(|price| price > 0);
    let half = work.left() / 2;
    if (0..problem.groups.len()).any(|group| whole_wish(group) == Some(0)) {
        desk.whole(&free, &|group| whole_wish(group).is_some(), NICE, work);
    }
    if !desk.done(&ledger)
        && let Some(floor) = desk.whole(&free, &priced, half, work)
    {
        // What they cost at least, or the free bound and the cheapest wish broken, is a bound on
        // everything.
        desk.least =
            (0..problem.groups.len()).filter(|&group| priced(group)).filter_map(price).min();
        desk.floor = floor;
    }
    let impossible = desk.run(&free, &mut ledger, &mut oracle, work).is_none();
    let Some(best) = &desk.best else {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(impossible))]);
    };
    let bound = desk.bound(&ledger).min(best.cost);
    let best = gather(problem, &free, best, &mut oracle, &mut Work::new(300_000_000));
    let Some(boxes) = best.places(&free) else {
        return Err(vec![whole(&pieces, Reason::NotEnoughBoxes(false))]);
    };
    let reason = (bound < best.cost).then_some("the effort ran out before plan and bound met");
    let free = (free, ledger);
    Ok(Outcome { destination, boxes, cost: best.cost, bound, torn: desk.surely, reason, free })
}

/// By group, how many of the destination's boxes it touches beyond its first, whatever is planned.
fn broken(problem: &Problem, destination: usize, work: &mut Work) -> Vec<i64> {
    let strife = Strife::of(problem);
    let mut members = vec![Vec::new(); problem.groups.len()];
    for (number, piece) in problem.pieces.iter().enumerate() {
        if let Some(group) = piece.group.filter(|_| piece.destination == destination) {
            members[group].push(number);
        }
    }
    let mut more = |(group, pieces): (&Grouping, &Vec<usize>)| {
        let parted = strife.breaks(pieces);
        let priced = matches!(group, Grouping::Wish { price } if *price > 0);
        let least = if priced && pieces.len() > 1 {
            least_boxes(problem, destination, pieces, work)
        } else {
            1
        };
        i64::try_from(parted.max(least.saturating_sub(1))).unwrap_or(0)
    };
    problem.groups.iter().zip(&members).map(&mut more).collect()
}

struct Desk<'a> {
    problem: &'a Problem,
    measures: &'a [Vec<Measure>],
    destination: usize,
    best: Option<Draft>,
    /// The least price of a broken wish, where wishes bind pieces together.
    least: Option<i64>,
    /// What a plan that breaks no wish costs at least.
    floor: i64,
    /// The price of the wishes that every plan breaks.
    surely: i64,
}

impl Desk<'_> {
    /// Plans with each of the groups whole, and what such a plan costs at least, boxes alone;
    /// `None` where whole groups bind nothing that the free task does not.
    fn whole(
        &mut self,
        free: &Task,
        groups: &dyn Fn(usize) -> bool,
        purse: u64,
        work: &mut Work,
    ) -> Option<i64> {
        let destination = self.destination;
        let joined = Task::by(self.problem, self.measures, destination, groups, free.max_boxes);
        if joined.units.len() == free.units.len() {
            return None;
        }
        let strife = Strife::of(self.problem);
        let sound = |unit: &Unit| unit.allowed.contains(&true) && !strife.tears(&unit.pieces);
        if !joined.units.iter().all(sound) {
            return Some(i64::MAX);
        }
        let mut ledger = Ledger::new(&joined);
        let mut part = work.purse(purse);
        // Units are remembered by number, which mean other pieces in another task.
        let run = self.run(&joined, &mut ledger, &mut Oracle::default(), &mut part);
        work.settle(&part);
        Some(if run.is_none() { i64::MAX } else { ledger.bound })
    }

    /// A bound from the proofs of the free task, or of a task without broken wishes.
    fn bound(&self, ledger: &Ledger) -> i64 {
        let bound = match self.least {
            Some(price) => self.floor.min(ledger.bound.saturating_add(price)).max(ledger.bound),
            None => ledger.bound,
        };
        bound.saturating_add(self.surely)
    }

    fn done(&self, ledger: &Ledger) -> bool {
        self.best.as_ref().is_some_and(|best| best.cost <= self.bound(ledger))
    }

    fn ceiling(&self) -> Option<i64> {
        self.best.as_ref().map(|best| best.cost)
    }

    /// Takes a plan if it is better than the best, and its boxes are to be had.
    fn take(&mut self, task: &Task, bins: &[Bin]) {
        let mut taken = vec![0; task.kinds.len()];
        for bin in bins {
            taken[bin.kind] += 1;
        }
        if bins.len() > task.max_boxes || !task.are_had(&taken) {
            return;
        }
        let draft = Draft::of(self.problem, task, bins);
        let better = self
            .best
            .as_ref()
            .is_none_or(|old| (draft.cost, draft.boxes.len()) < (old.cost, old.boxes.len()));
        if better {
            self.best = Some(draft);
        }
    }

    /// First plans, a quick repair, an exhaustive try, cuts from the linear program, then
    /// dives and repairs with growing purses. `None`: no vector at all is left for the task.
    fn run(
        &mut self,
        task: &Task,
        ledger: &mut Ledger,
        oracle: &mut Oracle,
        work: &mut Work,
    ) -> Option<()> {
        if let Some(bins) = simple(task, oracle, work) {
            for bin in &bins {
                ledger.pool.learn(task, bin.kind, &bin.units);
            }
            self.take(task, &bins);
        }
        ledger.targets(task, self.ceiling(), 1, work)?;
        // Diving pays where patterns are plain knapsacks; on the floor repair does better.
        let plain = task.kinds.iter().all(|kind| kind.rows.len() == 1);
        // Where fillings can all be tried, that and repair take turns from small purses on.
        let mut purse = if task.units.len() > EXHAUST_UNITS { 20_000_000 } else { 4_000_000 };
        for seed in 1_u64.. {
            if self.done(ledger) || work.dry() {
                break;
            }
            // A round costs something even where nothing is left to try.
            work.spend(1_000_000);
            if seed > 2 && (plain || seed % 4 == 3) {
                self.dive_round(task, ledger, oracle, seed, purse, work);
            }
            if seed == 1 && self.exhaust(task, ledger, oracle, FIRST, work) {
                continue;
            }
            self.repair_round(task, ledger, oracle, seed, purse, work)?;
            // Tight small loads are settled at once; others once the cuts are sharp.
            let exhaustive = match seed {
                1 => 40_000_000,
                2 => 100_000_000,
                3 => 400_000_000,
                6 => 1_500_000_000,
                _ => 0,
            };
            if exhaustive > 0 && !self.done(ledger) {
                self.exhaust(task, ledger, oracle, exhaustive, work);
            }
            if (seed == 2 || seed == 5) && !self.done(ledger) {
                let mut part = work.purse(work.left() / 3);
                ledger.sharpen(task, self.ceiling(), &mut part);
                work.settle(&part);
            }
            ledger.targets(task, self.ceiling(), 1, work)?;
            purse = purse.saturating_mul(if plain { 3 } else { 4 }) / 2;
        }
        Some(())
    }

    /// Exhausts the cheapest vectors, and again below each plan that this finds; whether it found
    /// any.
    fn exhaust(
        &mut self,
        task: &Task,
        ledger: &mut Ledger,
        oracle: &mut Oracle,
        purse: u64,
        work: &mut Work,
    ) -> bool {
        let mut found = false;
        while !self.done(ledger)
            && let Some(bins) = ledger.exhaust(task, oracle, self.ceiling(), purse, work)
        {
            self.take(task, &bins);
            found = true;
        }
        found
    }

    /// Repairs into the cheapest vectors, and into dearer ones up to the best plan's cost:
    /// where the bound is out of reach, those bring the cost down step by step.
    fn repair_round(
        &mut self,
        task: &Task,
        ledger: &mut Ledger,
        oracle: &mut Oracle,
        seed: u64,
        purse: u64,
        work: &mut Work,
    ) -> Option<()> {
        let plain = task.kinds.iter().all(|kind| kind.rows.len() == 1);
        let purse = if plain && seed > 2 { purse / 4 } else { purse };
        let targets = ledger.targets(task, self.ceiling(), 300, work)?;
        for vector in choice(targets, ledger, seed) {
            let mut part = work.purse(purse);
            let found = repair(task, oracle, &boxes_of(&vector), sizes(task), seed, &mut part);
            work.settle(&part);
            if let Some(bins) = found {
                self.take(task, &bins);
                break;
            }
        }
        Some(())
    }

    /// Dives into the cheapest vectors, and once without a vector, and repairs what is left.
    fn dive_round(
        &mut self,
        task: &Task,
        ledger: &mut Ledger,
        oracle: &mut Oracle,
        seed: u64,
        purse: u64,
        work: &mut Work,
    ) {
        let targets = ledger.targets(task, self.ceiling(), 3, work).unwrap_or_default();
        let mut caps: Vec<Vec<usize>> = targets.into_iter().map(|vector| vector.counts).collect();
        let open: Vec<usize> = task.kinds.iter().map(|kind| kind.available).collect();
        if task.kinds.len() > 1 {
            caps.insert(0, open.clone());
        }
        let plain = task.kinds.iter().all(|kind| kind.rows.len() == 1);
        if plain {
            caps = std::iter::repeat_n(caps, 4).flatten().collect();
        }
        // Many dives of one size beat few long ones; a step of a dive costs the square of the rows.
        let rows = u64::try_from(task.classes.len()).unwrap_or(u64::MAX);
        let of_dive = DIVE.saturating_mul(rows.saturating_mul(rows));
        let of_dive = of_dive.max(purse).min(work.left() / 8);
        // A program that was never solved to its end would take every dive's work to get there:
        // such a dive begins where that one stopped. Solved anew, each begins in another corner.
        let unsolved = plain && !ledger.sharpened;
        let mut dice = Dice::new(seed);
        for caps in caps {
            let mut part = work.purse(if plain { of_dive } else { purse });
            let Ledger { pool, cuts, start, .. } = &mut *ledger;
            let start = start.as_ref().filter(|_| unsolved);
            let aim = if unsolved && caps != open { Aim::Fit } else { Aim::Dive };
            let mut diver = Dive { task, oracle, pool, cuts, dice: &mut dice, start, aim };
            let (mut bins, left) = diver.run(&caps, SLIPS, &mut part);
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
            if self.done(ledger) || work.dry() {
                return;
            }
        }
    }
}

/// Which vectors to try: the two cheapest, though less often when there are many; of those that the cuts call easier than every
/// cheaper one, the first, the middle and the last; and four that change from round to round,
/// because the cuts know less of the floor than the oracle does.
fn choice(vectors: Vec<Vector>, ledger: &Ledger, seed: u64) -> Vec<Vector> {
    let mut most = -1;
    let mut easier = Vec::new();
    for (rank, vector) in vectors.iter().enumerate() {
        let ease = ledger.cuts.iter().map(|cut| cut.ease(vector)).min().unwrap_or(0);
        if ease > most {
            most = ease;
            easier.push(rank);
        }
    }
    let mut wanted = if seed % 3 == 1 || vectors.len() < 6 { vec![0, 1] } else { Vec::new() };
    if let Some(&last) = easier.last() {
        wanted.extend([last, easier[easier.len() / 2], easier[easier.len().min(2) - 1]]);
    }
    let turn = usize::try_from(seed).unwrap_or(0) * 4;
    wanted.extend((0..4).map(|step| (turn + step) % vectors.len().max(1)));
    let kept = vectors.into_iter().enumerate().filter(|(rank, _)| wanted.contains(rank));
    kept.map(|(_, vector)| vector).collect()
}

fn boxes_of(vector: &Vector) -> Vec<usize> {
    let counts = vector.counts.iter().enumerate();
    counts.flat_map(|(kind, &count)| std::iter::repeat_n(kind, count)).collect()
}
