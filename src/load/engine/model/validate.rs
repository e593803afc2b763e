//! Refuses a problem whose numbers are out of range, so that nothing after it can overflow.
//!
//! What the sums and products of the engine come to at most, and where they are held:
//!
//! - *Places and areas.* Sides have 10^5 mm, so faces 10^10 mm2, and 20,000 pieces 2 x 10^14: 64 bits.
//! - *Masses and moments.* No set heavier than a payload reaches a floor: 10^9 g. A moment about a corner
//!   has 3 x 10^14 g mm, a sum of shares of a line load 2^24 x 10^9 and a unit a piece: 64 bits. All pieces
//!   together have 2 x 10^13 g. Half planes are worked out in 128 bits: 10^12 x 2 x 10^13 g x 2 x 10^5 mm
//!   are 4 x 10^30.
//! - *Conditions.* `model/rows` keeps all weights of one at 2^60 together: 64 bits. Products of two are in
//!   128 bits, and `bounds/row_cuts` gives no box more than 2^63.
//! - *Worths.* Prices of the linear program are at most 2^30 a unit, 2 x 10^13 for 20,000: 64 bits.
//! - *Costs.* 20,000 boxes at 10^12, or wishes broken so often, are 2 x 10^16: 64 bits.

use super::problem::{BoxKind, Grouping, Piece, Problem};

/// The heaviest piece or box: a thousand tonnes, in grams.
pub const MASS_LIMIT: i64 = 1_000_000_000;
/// The longest edge: a hundred metres, in mm.
pub const LENGTH_LIMIT: i64 = 100_000;
/// The dearest box or wish, in minor currency units.
pub const COST_LIMIT: i64 = 1_000_000_000_000;
/// The most pieces.
pub const COUNT_LIMIT: usize = 20_000;
/// The largest factor of a half plane.
pub const FACTOR_LIMIT: i64 = 1_000_000_000_000;

/// What is wrong with a problem, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Flaw {
    /// A figure of a piece lies outside its range.
    Piece {
        /// Index of the piece.
        piece: usize,
        /// Which figure.
        what: &'static str,
    },
    /// A figure of a box kind lies outside its range.
    Kind {
        /// Index of the kind.
        kind: usize,
        /// Which figure.
        what: &'static str,
    },
    /// A price of a group lies outside its range.
    Group {
        /// Index of the group.
        group: usize,
    },
    /// A pin names a piece or kind that is not there, or a piece twice.
    Pin {
        /// Index of the pin.
        pin: usize,
    },
    /// A tie names a piece that is not there.
    Tie {
        /// Index of the tie.
        tie: usize,
    },
    /// A pair that is to stay apart names a piece that is not there, or one piece twice.
    Apart {
        /// Index of the pair.
        pair: usize,
    },
    /// A stock names no kind, or one that is not there.
    Stock {
        /// Index of the stock.
        stock: usize,
    },
    /// More pieces than the engine counts.
    TooMany,
}

/// Every flaw, in the order of the fields; empty when the problem is sound.
pub(crate) fn validate(problem: &Problem) -> Vec<Flaw> {
    let mut flaws = Vec::new();
    if problem.pieces.len() > COUNT_LIMIT {
        flaws.push(Flaw::TooMany);
    }
    for (index, piece) in problem.pieces.iter().enumerate() {
        if let Some(what) = piece_flaw(piece, problem.groups.len()) {
            flaws.push(Flaw::Piece { piece: index, what });
        }
    }
    for (index, kind) in problem.kinds.iter().enumerate() {
        if let Some(what) = kind_flaw(kind) {
            flaws.push(Flaw::Kind { kind: index, what });
        }
    }
    for (index, group) in problem.groups.iter().enumerate() {
        if matches!(group, Grouping::Wish { price } if !(0..=COST_LIMIT).contains(price)) {
            flaws.push(Flaw::Group { group: index });
        }
    }
    pin_flaws(problem, &mut flaws);
    stock_flaws(problem, &mut flaws);
    for (index, tie) in problem.ties.iter().enumerate() {
        if tie.iter().any(|&piece| piece >= problem.pieces.len()) {
            flaws.push(Flaw::Tie { tie: index });
        }
    }
    for (index, &(one, other)) in problem.apart.iter().enumerate() {
        if one == other || one.max(other) >= problem.pieces.len() {
            flaws.push(Flaw::Apart { pair: index });
        }
    }
    flaws
}

fn piece_flaw(piece: &Piece, groups: usize) -> Option<&'static str> {
    let edge = |value: i64| (1..=LENGTH_LIMIT).contains(&value);
    if !(0..=MASS_LIMIT).contains(&piece.mass) {
        Some("mass")
    } else if !edge(piece.length) {
        Some("length")
    } else if !edge(piece.width) {
        Some("width")
    } else if !(0..=LENGTH_LIMIT).contains(&piece.height) {
        Some("height")
    } else if piece.group.is_some_and(|group| group >= groups) {
        Some("group")
    } else {
        None
    }
}

fn kind_flaw(kind: &BoxKind) -> Option<&'static str> {
    let edge = |value: i64| (1..=LENGTH_LIMIT).contains(&value);
    let line = kind.line_load.is_none_or(|line| {
        (1..=MASS_LIMIT).contains(&line.mass) && (1..=LENGTH_LIMIT).contains(&line.per_length)
    });
    let bound = i128::from(FACTOR_LIMIT) * i128::from(FACTOR_LIMIT);
    let factors = kind.limits.iter().all(|plane| {
        [plane.mass_coefficient, plane.moment_x_coefficient, plane.moment_y_coefficient]
            .iter()
            .all(|factor| (-FACTOR_LIMIT..=FACTOR_LIMIT).contains(factor))
            && (-bound..=bound).contains(&plane.bound)
    });
    if !edge(kind.length) || kind.gap_end < 0 || !edge(kind.floor_length()) {
        Some("length and end gaps")
    } else if !edge(kind.width) || kind.gap_side < 0 || !edge(kind.floor_width()) {
        Some("width and side gaps")
    } else if !edge(kind.door_height) || !edge(kind.door_width) {
        Some("door")
    } else if !(0..=MASS_LIMIT).contains(&kind.payload) {
        Some("payload")
    } else if !(0..=COST_LIMIT).contains(&kind.cost) {
        Some("cost")
    } else if !line {
        Some("line load")
    } else if !factors {
        Some("limits")
    } else {
        None
    }
}

fn stock_flaws(problem: &Problem, flaws: &mut Vec<Flaw>) {
    for (index, stock) in problem.stocks.iter().enumerate() {
        if stock.kinds.is_empty() || stock.kinds.iter().any(|&kind| kind >= problem.kinds.len()) {
            flaws.push(Flaw::Stock { stock: index });
        }
    }
}

fn pin_flaws(problem: &Problem, flaws: &mut Vec<Flaw>) {
    let mut pinned = vec![false; problem.pieces.len()];
    for (index, pin) in problem.pins.iter().enumerate() {
        let mut sound = pin.kind < problem.kinds.len() && !pin.pieces.is_empty();
        for &piece in &pin.pieces {
            // A piece is in one begun box at most.
            sound &= pinned.get_mut(piece).is_some_and(|seen| !std::mem::replace(seen, true));
        }
        if !sound {
            flaws.push(Flaw::Pin { pin: index });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::problem::{Pin, Stock};
    use super::*;
    use crate::load::engine::testing::{box_kind, piece};

    #[test]
    fn a_sound_problem_has_no_flaw() {
        let problem = Problem {
            pieces: vec![piece(1000, 100, 10)],
            kinds: vec![box_kind(1000, 200, 20, 5)],
            ..Problem::default()
        };
        assert_eq!(validate(&problem), vec![]);
    }

    #[test]
    fn figures_out_of_range_are_named() {
        let mut problem = Problem {
            pieces: vec![piece(-1, 100, 10), piece(1, 0, 10), piece(1, 1, LENGTH_LIMIT + 1)],
            kinds: vec![box_kind(MASS_LIMIT + 1, 200, 20, 5), box_kind(1, 200, 20, -5)],
            pins: vec![Pin { pieces: vec![0, 0], kind: 7 }],
            ties: vec![vec![0, 9]],
            apart: vec![(1, 1), (0, 9)],
            stocks: vec![Stock { kinds: vec![1, 2], count: 1 }],
            ..Problem::default()
        };
        problem.kinds[1].gap_end = 100;
        let flaws = validate(&problem);
        assert_eq!(
            flaws,
            vec![
                Flaw::Piece { piece: 0, what: "mass" },
                Flaw::Piece { piece: 1, what: "length" },
                Flaw::Piece { piece: 2, what: "width" },
                Flaw::Kind { kind: 0, what: "payload" },
                Flaw::Kind { kind: 1, what: "length and end gaps" },
                Flaw::Pin { pin: 0 },
                Flaw::Stock { stock: 0 },
                Flaw::Tie { tie: 0 },
                Flaw::Apart { pair: 0 },
                Flaw::Apart { pair: 1 },
            ]
        );
    }
}
