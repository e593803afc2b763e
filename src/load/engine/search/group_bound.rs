//! How many boxes a group of pieces touches at least, whatever is planned: the bound of a problem
//! of its own, in which only the number of boxes counts.

use super::ledger::Ledger;
use crate::load::engine::bounds::measure::conditions;
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::problem::{BoxKind, Piece, Problem};
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// Work on one group.
const PURSE: u64 = 2_000_000;

/// The least number of boxes that hold the pieces alone. Take all other pieces out of a plan: these
/// still stand in its boxes, though perhaps out of balance. So the bound leaves balance aside,
/// except for the mass that the half planes allow.
pub(crate) fn least_boxes(problem: &Problem, pieces: &[usize], work: &mut Purse) -> usize {
    let kinds = problem.kinds.iter().map(|kind| {
        let payload = i64::try_from(kind.mass_capacity()).unwrap_or(i64::MAX);
        let payload = payload.clamp(0, kind.payload);
        BoxKind { cost: 1, available: None, payload, limits: Vec::new(), ..kind.clone() }
    });
    let alone = |&piece: &usize| Piece { group: None, ..problem.pieces[piece].clone() };
    let own = Problem {
        pieces: pieces.iter().map(alone).collect(),
        kinds: kinds.collect(),
        ..Problem::default()
    };
    let task = Task::new(&own, &conditions(&own), &|_| false);
    let mut ledger = Ledger::new(&task);
    let mut part = work.purse(PURSE);
    let found = ledger.exhaust(&task, &mut Oracle::default(), None, PURSE, &mut part);
    if found.is_none() {
        // The vectors refuted last move the bound when it is asked for again.
        let _ = ledger.targets(&task, None, 1, &mut part);
    }
    work.settle(&part);
    usize::try_from(ledger.bound).unwrap_or(0)
}
