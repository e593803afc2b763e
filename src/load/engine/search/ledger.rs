//! The ledger: what is proven of one task. Its cuts, the vectors that were exhausted, the bound.

use super::bin_completion::{Answer, exhaust};
use super::bins::Bin;
use crate::load::engine::bounds::box_vectors::rank;
use crate::load::engine::bounds::certificate::{Certificate, Weighing};
use crate::load::engine::bounds::column_generation::Start;
use crate::load::engine::bounds::cut::{Cut, Vector};
use crate::load::engine::bounds::farley::{first_cut, torn_cut, vector_cut};
use crate::load::engine::bounds::patterns::Pool;
use crate::load::engine::bounds::row_cuts::plain;
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// Tasks of more units are not exhausted: the search would not end.
pub(crate) const EXHAUST_UNITS: usize = 64;

/// The proofs of a task.
pub(crate) struct Ledger {
    pub(crate) cuts: Vec<Cut>,
    /// Vectors searched to the end without a plan below the ceiling, broken wishes counted.
    pub(crate) refuted: Vec<Vec<usize>>,
    /// The least cost of any plan of the task, torn groups included, unless every vector below the ceiling is
    /// refuted.
    pub(crate) bound: i64,
    /// What torn groups cost at least, whatever is planned.
    pub(crate) torn: i64,
    /// The least cost of the boxes and of what is torn whatever is planned.
    pub(crate) boxes: i64,
    pub(crate) pool: Pool,
    /// Where the program at least cost ended, if it was begun.
    pub(crate) start: Option<Start>,
    /// Whether that program was solved to its end.
    pub(crate) sharpened: bool,
}

impl Ledger {
    pub(crate) fn new(task: &Task) -> Self {
        Ledger {
            cuts: plain(task),
            refuted: Vec::new(),
            bound: 0,
            torn: 0,
            boxes: 0,
            pool: Pool::default(),
            start: None,
            sharpened: false,
        }
    }

    /// The cheapest vectors below the ceiling that nothing forbids; moves the bound. `None`
    /// when there is none at any cost.
    pub(crate) fn targets(
        &mut self,
        task: &Task,
        ceiling: Option<i64>,
        most: usize,
        work: &mut Purse,
    ) -> Option<Vec<Vector>> {
        // So many more as were refuted: some must be left when those are taken out.
        let most_ranked = most + self.refuted.len();
        let ranked = rank(task, &self.cuts, self.torn, (ceiling, most_ranked), work);
        let mut vectors = ranked.vectors;
        vectors.retain(|vector| !self.refuted.contains(&vector.counts));
        let bound = vectors.first().map(|vector| vector.cost).or(ranked.bound)?;
        self.bound = self.bound.max(bound);
        if self.cuts.iter().all(|cut| cut.wish == 0) {
            self.boxes = self.bound;
        }
        vectors.truncate(most);
        Some(vectors)
    }

    /// Adds cuts of the linear program until the cheapest vector survives them.
    pub(crate) fn sharpen(&mut self, task: &Task, ceiling: Option<i64>, work: &mut Purse) {
        if self.sharpened {
            return;
        }
        let first = first_cut(task, &mut self.start, &mut self.pool, work);
        self.cuts.push(first);
        // Cut short, it may go on from the patterns it found when there is work again.
        self.sharpened = !work.dry();
        for _ in 0..40 {
            let targets = self.targets(task, ceiling, 1, work);
            let Some(vector) = targets.and_then(|list| list.into_iter().next()) else {
                return;
            };
            let next = vector_cut(task, &vector, &mut self.pool, work);
            if work.dry() {
                return;
            }
            if !next.allows(&vector) {
                self.cuts.push(next);
                continue;
            }
            // The boxes hold it all: what do they tear?
            if task.groups.is_empty() {
                return;
            }
            let next = torn_cut(task, &vector, &mut self.pool, work);
            let boxes = i128::from(task.cost(&vector.counts));
            if boxes + next.torn(&vector) <= i128::from(vector.cost) {
                return;
            }
            self.cuts.push(next);
        }
    }

    /// The argument of the bound; vectors are exhausted below the `cost` of the plan shown.
    pub(crate) fn certificate(&self, task: &Task, cost: i64) -> Certificate {
        let weighing = |cut: &Cut| Weighing {
            weights: task
                .units
                .iter()
                .zip(&cut.weights)
                .map(|(unit, &weight)| (unit.pieces.clone(), weight))
                .collect(),
            capacity: cut.capacity.clone(),
            wish: cut.wish,
        };
        Certificate {
            bound: self.bound.min(cost),
            torn: self.torn,
            cuts: self.cuts.iter().map(weighing).collect(),
            exhausted: self.refuted.clone(),
        }
    }

    /// Exhausts the cheapest vectors while that stays cheap; a plan if one turns up.
    pub(crate) fn exhaust(
        &mut self,
        task: &Task,
        oracle: &mut Oracle,
        ceiling: Option<i64>,
        purse: u64,
        work: &mut Purse,
    ) -> Option<Vec<Bin>> {
        if task.units.len() > EXHAUST_UNITS {
            return None;
        }
        let all: Vec<usize> = (0..task.units.len()).collect();
        for _ in 0..20 {
            let vector = self.targets(task, ceiling, 1, work)?.into_iter().next()?;
            let mut part = work.purse(purse);
            // A plan is of interest only below the ceiling: what boxes leave may go for wishes.
            let cost = task.cost(&vector.counts);
            let budget = ceiling.map_or(i64::MAX, |ceiling| ceiling - 1 - cost);
            let boxes = (&vector.counts[..], &all[..]);
            let answer = exhaust(task, oracle, &self.cuts, boxes, budget, &mut part);
            work.settle(&part);
            match answer {
                Answer::Found(bins) => return Some(bins),
                Answer::Never => self.refuted.push(vector.counts),
                Answer::Unsure => return None,
            }
        }
        None
    }
}
