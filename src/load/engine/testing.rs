//! Short hands for tests: pieces, boxes and tasks.

use crate::load::engine::bounds::measure::conditions;
use crate::load::engine::model::problem::{BoxKind, Piece, Problem};
use crate::load::engine::model::task::Task;

/// A piece of that mass, length and width, one mm high.
pub(crate) fn piece(mass: i64, length: i64, width: i64) -> Piece {
    Piece { mass, length, width, height: 1, group: None, may_turn: false }
}

/// The task of a problem, no groups joined.
pub(crate) fn task_of(problem: &Problem) -> Task {
    Task::new(problem, &conditions(problem), &|_| false)
}

/// A box kind of that payload, length, width and cost without further limits.
pub(crate) fn box_kind(payload: i64, length: i64, width: i64, cost: i64) -> BoxKind {
    BoxKind {
        length,
        width,
        door_height: 1000,
        door_width: width.max(1),
        payload,
        cost,
        available: None,
        line_load: None,
        gap_end: 0,
        gap_side: 0,
        limits: Vec::new(),
    }
}
