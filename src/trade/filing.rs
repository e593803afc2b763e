//! Bills of lading and customs entries: which goods travel and are entered together.

use super::calendar::{Date, word_of};
use crate::fault::{At, Place};

/// The goods that a document covers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Covers {
    /// All of the shipment.
    Everything,
    /// Those of these invoices, by position.
    Invoices(Vec<usize>),
    /// Those in these bundles, by position: the bill lists containers.
    Bundles(Vec<usize>),
}

/// A bill of lading.
#[derive(Debug, Clone)]
pub struct BillOfLading {
    /// Its number.
    pub number: String,
    /// What it covers.
    pub covers: Covers,
    /// When control of its goods passes, where it is stated: documents against payment.
    pub control: Option<At<Date>>,
    /// Its place.
    pub place: Place,
}

/// Of which kind an entry is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum EntryKind {
    /// With a bond, by a broker: the rule for slabs.
    #[default]
    Formal,
    /// For goods of little value.
    Informal,
}

impl EntryKind {
    /// Every kind with its written form.
    pub const ALL: [(Self, &'static str); 2] =
        [(Self::Formal, "formal"), (Self::Informal, "informal")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// How goods come to the country.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Mode {
    /// Unloaded from a vessel at a port of the country: the rule for slabs.
    #[default]
    Sea,
    /// By truck or rail over a border.
    Land,
    /// By air.
    Air,
}

impl Mode {
    /// Every mode with its written form.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Sea, "sea"), (Self::Land, "land"), (Self::Air, "air")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// An entry as the importer means to file it.
#[derive(Debug, Clone)]
pub struct Filing {
    /// The importer's name for it.
    pub id: String,
    /// What it covers.
    pub covers: Covers,
    /// The day of entry.
    pub entered: Date,
    /// Formal or informal.
    pub kind: EntryKind,
    /// How the goods come to the country.
    pub mode: Mode,
    /// Its place.
    pub place: Place,
}
