//! Loads that were searched for before: one problem is not searched twice.
//!
//! A search is a pure function of its problem and its effort, so what is kept is what it would find again.
//! Where a shipment is costed at many prices, its load hangs on few of them or on none.

use std::sync::{Mutex, PoisonError};

use super::engine::{Infeasible, Problem, Solved};

/// More problems than are kept (a choice of ours): they are looked through one by one.
const MOST_KEPT: usize = 64;

/// The problems that were solved, each with its effort and what was found.
#[derive(Debug, Default)]
pub struct Known(Mutex<Vec<(Problem, u64, Found)>>);

/// What a search finds.
type Found = Result<Solved, Vec<Infeasible>>;

impl Known {
    /// What is known of a problem at an effort of so many units, or else what a search finds.
    pub(super) fn or(
        &self,
        problem: &Problem,
        units: u64,
        search: impl FnOnce() -> Found,
    ) -> Found {
        let kept = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let same = |(other, spent, _): &&(Problem, u64, Found)| *spent == units && other == problem;
        if let Some((.., found)) = kept().iter().find(same) {
            return found.clone();
        }
        // Nobody waits for a search of something else.
        let found = search();
        let mut kept = kept();
        if kept.len() < MOST_KEPT && !kept.iter().any(|one| same(&one)) {
            kept.push((problem.clone(), units, found.clone()));
        }
        found
    }
}
