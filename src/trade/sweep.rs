//! A range that costs are drawn from: what moves, in the words of a change, between which ends.

use crate::fault::{At, Place};

/// A range of a sweep, as its file has it.
#[derive(Debug, Clone)]
pub struct SweepRange {
    /// What moves, by a name that pages use.
    pub of: At<String>,
    /// Its lower end, in the words of a change: "-10 %", "1.05 USD".
    pub from: At<String>,
    /// Its upper end.
    pub to: At<String>,
    /// The likeliest value, where it is triangular; else every value is as likely.
    pub mode: Option<At<String>>,
    /// What makes it move: ranges that name one source move together.
    pub source: Option<At<String>>,
    /// Its row.
    pub place: Place,
}
