//! The methods in turn: an algorithm portfolio (Gomes and Selman 2001, from memory) whose purses
//! grow from round to round, until plan and bound meet or the work runs dry.
//!
//! First fit and best fit, then by rounds an exhaustive try, local search into the cheapest
//! vectors of boxes, dives from the linear program, and cuts from its prices. No method knows of
//! the others but through incumbent and ledger: each plan lowers the ceiling for all, each cut
//! takes vectors from all.

use super::bins::Bin;
use super::diving::Dive;
use super::fit_decreasing::{retype, simple};
use super::incumbent::Incumbent;
use super::ledger::{EXHAUST_UNITS, Ledger};
use super::local_search::{repair, resume, sizes};
use super::rejoin::rejoin;
use crate::load::engine::bounds::column_generation::Aim;
use crate::load::engine::bounds::cut::Vector;
use crate::load::engine::model::effort::{Dice, Purse};
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// Work of one dive, for each row of its program times itself.
const DIVE: u64 = 11_000;
/// Work of the first exhaustive try of a vector, before any repair.
const FIRST: u64 = 8_000_000;
/// Choices against the linear program that a dive may make.
const SLIPS: usize = 2;
/// Vectors that a round of local search chooses from, and a round of dives.
const REPAIRED: usize = 300;
const DIVED: usize = 3;

/// What the methods work on.
pub(crate) struct Portfolio<'a, 'b> {
    task: &'a Task,
    ledger: &'a mut Ledger,
    oracle: &'a mut Oracle,
    incumbent: &'a mut Incumbent<'b>,
    /// Every box is a knapsack of one row.
    plain: bool,
}

impl<'a, 'b> Portfolio<'a, 'b> {
    pub(crate) fn new(
        task: &'a Task,
        ledger: &'a mut Ledger,
        oracle: &'a mut Oracle,
        incumbent: &'a mut Incumbent<'b>,
    ) -> Self {
        Portfolio { plain: task.is_plain(), task, ledger, oracle, incumbent }
    }

    /// Runs the methods. `None`: no vector at all is left for the task. From round to round `tell`
    /// hears of the best plan's cost, the bound and the work.
    pub(crate) fn run(
        &mut self,
        work: &mut Purse,
        tell: &dyn Fn(Option<i64>, i64, &Purse),
    ) -> Option<()> {
        if let Some(bins) = simple(self.task, self.oracle, work) {
            // A program that starts from a plan starts near its end.
            for bin in &bins {
                self.ledger.pool.learn(self.task, bin.kind, &bin.units);
            }
            self.incumbent.offer(self.task, &bins);
        }
        self.targets(1, work)?;
        // Where fillings can all be tried, that and repair take turns from small purses on.
        let mut purse = if self.task.units.len() > EXHAUST_UNITS { 20_000_000 } else { 4_000_000 };
        for seed in 1_u64.. {
            tell(self.incumbent.ceiling(), self.incumbent.bound(self.ledger), work);
            if self.is_over(work) {
                break;
            }
            // A round costs something even where nothing is left to try.
            work.spend(1_000_000);
            // Diving pays where patterns are plain knapsacks; on the floor repair does better.
            if seed > 2 && (self.plain || seed % 4 == 3) {
                self.dive_round(seed, purse, work);
            }
            if seed == 1 && self.exhaust(FIRST, work) {
                continue;
            }
            self.repair_round(seed, purse, work)?;
            // Tight small loads are settled at once; others once the cuts are sharp.
            let exhaustive = match seed {
                1 => 40_000_000,
                2 => 100_000_000,
                3 => 400_000_000,
                6 => 1_500_000_000,
                _ => 0,
            };
            if exhaustive > 0 && !self.incumbent.is_proven(self.ledger) {
                self.exhaust(exhaustive, work);
            }
            if (seed == 2 || seed == 5) && !self.incumbent.is_proven(self.ledger) {
                let mut part = work.purse(work.left() / 3);
                self.ledger.sharpen(self.task, self.incumbent.ceiling(), &mut part);
                work.settle(&part);
            }
            self.targets(1, work)?;
            purse = purse.saturating_mul(if self.plain { 3 } else { 4 }) / 2;
        }
        Some(())
    }

    fn is_over(&self, work: &Purse) -> bool {
        self.incumbent.is_proven(self.ledger) || work.dry()
    }

    /// The cheapest vectors that might hold a better plan; `None` when there is none at any cost.
    fn targets(&mut self, most: usize, work: &mut Purse) -> Option<Vec<Vector>> {
        self.ledger.targets(self.task, self.incumbent.ceiling(), most, work)
    }

    /// Exhausts the cheapest vectors, and again below each plan that this finds; whether it found
    /// any.
    fn exhaust(&mut self, purse: u64, work: &mut Purse) -> bool {
        let mut found = false;
        while !self.incumbent.is_proven(self.ledger) {
            let ceiling = self.incumbent.ceiling();
            let bins = self.ledger.exhaust(self.task, self.oracle, ceiling, purse, work);
            let Some(bins) = bins else { break };
            self.incumbent.offer(self.task, &bins);
            found = true;
        }
        found
    }

    /// Repairs into the cheapest vectors, and into dearer ones up to the best plan's cost:
    /// where the bound is out of reach, those bring the cost down step by step.
    fn repair_round(&mut self, seed: u64, purse: u64, work: &mut Purse) -> Option<()> {
        let purse = if self.plain && seed > 2 { purse / 4 } else { purse };
        let targets = self.targets(REPAIRED, work)?;
        for vector in choice(targets, self.ledger, seed) {
            let mut part = work.purse(purse);
            let kinds = vector.kinds();
            let found = repair(self.task, self.oracle, &kinds, sizes(self.task), seed, &mut part);
            work.settle(&part);
            if let Some(bins) = found {
                self.offer_rejoined(bins, seed, purse, work);
                break;
            }
        }
        Some(())
    }

    /// Offers a plan, and the same with fewer groups torn.
    fn offer_rejoined(&mut self, bins: Vec<Bin>, seed: u64, purse: u64, work: &mut Purse) {
        self.incumbent.offer(self.task, &bins);
        let mut part = work.purse(purse);
        let bins = rejoin(self.task, self.oracle, bins, seed, &mut part);
        work.settle(&part);
        self.incumbent.offer(self.task, &bins);
    }

    /// Dives into the cheapest vectors, and once without a vector, and repairs what is left.
    fn dive_round(&mut self, seed: u64, purse: u64, work: &mut Purse) {
        let targets = self.targets(DIVED, work).unwrap_or_default();
        let mut caps: Vec<Vec<usize>> = targets.into_iter().map(|vector| vector.counts).collect();
        let open: Vec<usize> = self.task.kinds.iter().map(|kind| kind.available).collect();
        if self.task.kinds.len() > 1 {
            caps.insert(0, open.clone());
        }
        if self.plain {
            caps = std::iter::repeat_n(caps, 4).flatten().collect();
        }
        // Many dives of one size beat few long ones; a step of a dive costs the square of the rows.
        let rows = u64::try_from(self.task.classes.len()).unwrap_or(u64::MAX);
        let of_dive = DIVE.saturating_mul(rows.saturating_mul(rows));
        let of_dive = of_dive.max(purse).min(work.left() / 8);
        let mut dice = Dice::new(seed);
        for caps in caps {
            let mut part = work.purse(if self.plain { of_dive } else { purse });
            let (bins, left) = self.dive(&caps, caps == open, &mut dice, &mut part);
            work.settle(&part);
            if left.is_empty() {
                self.offer_retyped(bins, work);
            } else {
                let mut part = work.purse(purse);
                let sizes = sizes(self.task);
                let found = resume(self.task, self.oracle, (bins, left), sizes, seed, &mut part);
                work.settle(&part);
                if let Some(bins) = found {
                    self.offer_rejoined(bins, seed, purse, work);
                }
            }
            if self.is_over(work) {
                return;
            }
        }
    }

    /// One dive within `caps` boxes of each kind, all that are to be had if it is `open`.
    fn dive(
        &mut self,
        caps: &[usize],
        open: bool,
        dice: &mut Dice,
        work: &mut Purse,
    ) -> (Vec<Bin>, Vec<usize>) {
        // A program that was cut short would cost every dive the work to solve it: such a dive starts
        // where it stopped. A program that was solved is solved anew, so that each dive starts in
        // another corner.
        let unsolved = self.plain && !self.ledger.sharpened;
        let Ledger { pool, cuts, start, .. } = &mut *self.ledger;
        let start = start.as_ref().filter(|_| unsolved);
        let aim = if unsolved && !open { Aim::Fit } else { Aim::Dive };
        let mut diver = Dive { task: self.task, oracle: self.oracle, pool, cuts, dice, start, aim };
        diver.run(caps, SLIPS, work)
    }

    /// Offers a plan without its empty boxes, each of the others in the cheapest kind.
    fn offer_retyped(&mut self, bins: Vec<Bin>, work: &mut Purse) {
        let mut bins = bins;
        bins.retain(|bin| !bin.units.is_empty());
        retype(self.task, self.oracle, &mut bins, work);
        self.incumbent.offer(self.task, &bins);
    }
}

/// Which vectors to try: the two cheapest, though less often when there are many; of those that
/// the cuts call easier than every cheaper one, the first, the middle and the last; and four that
/// change from round to round, because the cuts know less of the floor than the oracle does.
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
