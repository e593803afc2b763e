//! Why something cannot be loaded at all, said piece by piece and kind by kind.

use super::conflicts::Conflicts;
use super::deck::Deck;
use super::problem::{BoxKind, Piece, Problem};
use super::task::{Task, Unit};
use super::validate::Flaw;

/// Pieces that no box carries, and why not.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Infeasible {
    /// One piece, or those that must travel together, or the load that finds no boxes.
    pub pieces: Vec<usize>,
    /// One entry for each kind, or one without a kind.
    pub refusals: Vec<Refusal>,
}

/// Why one kind of box does not carry them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refusal {
    /// Index of the kind; `None` when the reason is no kind's.
    pub kind: Option<usize>,
    /// The first reason found.
    pub reason: Cause,
}

/// Why a box does not carry it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The problem's figures are out of range.
    Flawed(Flaw),
    /// There is no kind of box.
    NoKind,
    /// Higher than the door, by so many mm.
    TooTall(i64),
    /// Wider than the door, by so many mm.
    TooWideForDoor(i64),
    /// Longer than the floor between its gaps, by so many mm.
    TooLong(i64),
    /// Wider than the floor between its gaps, by so many mm.
    TooWide(i64),
    /// Heavier than the payload, by so many grams.
    TooHeavy(i64),
    /// Presses too hard on a metre of floor.
    LineLoad,
    /// Cannot be placed within the balance and axle limits.
    Balance,
    /// It has no way in, or those that must travel together have none.
    NoWay,
    /// The pieces that must travel together find no room on one floor.
    Floor,
    /// Pinned to another kind.
    Pinned,
    /// Pieces that must share a box may not share one.
    Contradiction,
    /// The boxes to be had, or the most allowed, do not suffice; `true` when that is proven.
    NotEnoughBoxes(bool),
}

/// Every unit of the task that no kind carries.
pub(crate) fn misfits(problem: &Problem, task: &Task) -> Vec<Infeasible> {
    let mut found = Vec::new();
    let conflicts = Conflicts::of(problem);
    for unit in &task.units {
        if conflicts.are_within(&unit.pieces) {
            found.push(whole(&unit.pieces, Cause::Contradiction));
        } else if task.kinds.is_empty() {
            found.push(whole(&unit.pieces, Cause::NoKind));
        } else if !unit.allowed.contains(&true) {
            let refusal =
                |kind| Refusal { kind: Some(kind), reason: reason(problem, task, unit, kind) };
            let refusals = (0..task.kinds.len()).map(refusal).collect();
            found.push(Infeasible { pieces: unit.pieces.clone(), refusals });
        }
    }
    found
}

pub(crate) fn whole(pieces: &[usize], reason: Cause) -> Infeasible {
    Infeasible { pieces: pieces.to_vec(), refusals: vec![Refusal { kind: None, reason }] }
}

/// The first reason, in the order in which a person would look.
fn reason(problem: &Problem, task: &Task, unit: &Unit, index: usize) -> Cause {
    let kind = &problem.kinds[index];
    for &piece in &unit.pieces {
        if let Some(reason) = misshapen(&problem.pieces[piece], kind).into_iter().next() {
            return reason;
        }
    }
    if problem.pins_elsewhere(index, &unit.pieces) {
        return Cause::Pinned;
    }
    if unit.mass > kind.payload {
        return Cause::TooHeavy(unit.mass - kind.payload);
    }
    let free = BoxKind { limits: Vec::new(), line_load: None, ..kind.clone() };
    let items = task.floor_items(&unit.pieces);
    if Deck::of(&free).refuses(&items) {
        return Cause::Floor;
    }
    let entered = Deck { entry: task.kinds[index].deck.entry, ..Deck::of(&free) };
    if entered.refuses(&items) {
        return Cause::NoWay;
    }
    let hard = unit.pieces.iter().any(|&piece| is_too_dense(&problem.pieces[piece], kind));
    if hard { Cause::LineLoad } else { Cause::Balance }
}

/// Every way in which a piece is too large for a kind of box, in the order in which they are told.
pub fn misshapen(piece: &Piece, kind: &BoxKind) -> Vec<Cause> {
    let turned =
        piece.may_turn && piece.width <= kind.floor_length() && piece.length <= kind.floor_width();
    let mut found = Vec::new();
    let mut over = |by: i64, reason: fn(i64) -> Cause| {
        if by > 0 {
            found.push(reason(by));
        }
    };
    over(piece.height - kind.door_height, Cause::TooTall);
    over(piece.width.min(piece.length) - kind.door_width, Cause::TooWideForDoor);
    if !turned {
        over(piece.length - kind.floor_length(), Cause::TooLong);
        over(piece.width - kind.floor_width(), Cause::TooWide);
    }
    found
}

/// Whether a piece is too heavy for the length of floor that it rests on, even alone.
pub fn is_too_dense(piece: &Piece, kind: &BoxKind) -> bool {
    kind.line_load.is_some_and(|line| {
        i128::from(piece.mass) * i128::from(line.per_length)
            > i128::from(line.mass) * i128::from(piece.length)
    })
}
