//! The incumbent: the best plan so far, and what is known of every plan's cost.

use super::bins::Bin;
use super::draft::DraftPlan;
use super::ledger::Ledger;
use crate::load::engine::model::problem::Problem;
use crate::load::engine::model::task::Task;

/// The best plan, against a bound that counts wishes.
pub(crate) struct Incumbent<'a> {
    problem: &'a Problem,
    pub(crate) best: Option<DraftPlan>,
    /// The least cost of a plan that breaks no wish but those that every plan breaks, and the least price of one
    /// more broken wish. `None` where no wish binds pieces together.
    pub(crate) unbroken: Option<(i64, i64)>,
}

impl<'a> Incumbent<'a> {
    pub(crate) fn new(problem: &'a Problem) -> Self {
        Incumbent { problem, best: None, unbroken: None }
    }

    /// A bound on every plan: the ledger's. Besides, either a plan breaks only the wishes that every plan breaks,
    /// and it costs no less than such a plan; or it pays for one more.
    pub(crate) fn bound(&self, ledger: &Ledger) -> i64 {
        match self.unbroken {
            Some((floor, price)) => floor.min(ledger.boxes.saturating_add(price)).max(ledger.bound),
            None => ledger.bound,
        }
    }

    /// Whether plan and bound have met.
    pub(crate) fn is_proven(&self, ledger: &Ledger) -> bool {
        self.best.as_ref().is_some_and(|best| best.cost <= self.bound(ledger))
    }

    /// Only plans below this cost are of interest.
    pub(crate) fn ceiling(&self) -> Option<i64> {
        self.best.as_ref().map(|best| best.cost)
    }

    /// Takes a plan if it is better than the best, and its boxes are to be had.
    pub(crate) fn offer(&mut self, task: &Task, bins: &[Bin]) {
        let mut taken = vec![0; task.kinds.len()];
        for bin in bins {
            taken[bin.kind] += 1;
        }
        if bins.len() > task.max_boxes || !task.are_had(&taken) {
            return;
        }
        let draft = DraftPlan::of(self.problem, task, bins);
        let better = self
            .best
            .as_ref()
            .is_none_or(|old| (draft.cost, draft.boxes.len()) < (old.cost, old.boxes.len()));
        if better {
            self.best = Some(draft);
        }
    }
}
