//! A row of an arrival list: how a slab stood on the rack.

use smol_str::SmolStr;

use super::book_event::FoundState;
use crate::fault::{At, Place};
use crate::quantity::Area;

/// One row.
#[derive(Debug, Clone)]
pub struct ArrivalRow {
    /// The slab.
    pub slab: At<String>,
    /// The box it came out of, where the list says so.
    pub container: Option<At<String>>,
    /// How it is.
    pub state: ArrivalState,
    /// What it measures, or the piece of it.
    pub area: Option<Area>,
    /// Its quality as it was found.
    pub quality: Option<SmolStr>,
    /// The number of a piece of it.
    pub piece: Option<At<String>>,
    /// What else was seen.
    pub remark: Option<String>,
    /// Where the row stands.
    pub place: Place,
}

/// How a slab stood on the rack.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ArrivalState {
    /// As it was packed.
    Sound,
    /// Cut into pieces: the row is of one of them.
    Cut,
    /// Otherwise.
    Found(FoundState),
}

impl ArrivalState {
    /// Every state with its written form.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::Sound, "sound"),
        (Self::Found(FoundState::Broken), "broken"),
        (Self::Found(FoundState::Short), "short"),
        (Self::Found(FoundState::Over), "over"),
        (Self::Found(FoundState::Measured), "re-measured"),
        (Self::Cut, "cut"),
        (Self::Found(FoundState::Downgraded), "downgraded"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        super::calendar::word_of(&Self::ALL, self)
    }
}
