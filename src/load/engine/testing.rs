//! Short hands for tests: pieces, boxes and a seeded generator.

use crate::load::engine::model::problem::{BoxKind, Piece};

/// A piece of that mass, length and width, one mm high, to destination 0.
pub(crate) fn piece(mass: i64, length: i64, width: i64) -> Piece {
    Piece { mass, length, width, height: 1, destination: 0, group: None, may_turn: false }
}

/// A box kind of that payload, length, width and cost without further limits.
pub(crate) fn box_kind(payload: i64, length: i64, width: i64, cost: i64) -> BoxKind {
    BoxKind {
        destination: 0,
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
