//! What an event did, so that it can be taken back.

use smol_str::SmolStr;

use super::entry::Line;
use super::owed::Owed;
use super::whereabouts::{Lost, Where};
use crate::quantity::Area;
use crate::trade::Date;

/// A thing of a shipment: the shipment and the thing, both by position.
pub(super) type Of = (usize, usize);

/// What an event did, so that it can be taken back.
#[derive(Debug, Clone)]
pub(super) enum Undo {
    /// A line that has no state behind it.
    Plain(Line),
    /// A change of an open item.
    Open { at: usize, amount: i64, book: i64 },
    /// A change of an advance.
    Advance { at: usize, amount: i64, book: i64 },
    /// Shares of a charge: the units of each slab, and what each was carried by.
    Shares { charge: Of, each: Vec<(usize, i64)>, carried: Vec<(usize, i64)>, units: i64 },
    /// Shares of the estimate that a list has given.
    Given { list: (usize, usize), shares: Vec<i64> },
    /// A charge was owed: how it was before, where a bill had come first.
    Owed { charge: Of, before: Option<Owed> },
    /// A bill came for a charge; whether it was the last.
    Billed { charge: Of },
    /// A paper came.
    Paper(SmolStr, SmolStr),
    /// A slab went elsewhere: from where, brought there by which event, on which day it had arrived, and how it had
    /// been lost.
    Moved { slab: Of, from: Where, by: Option<usize>, arrived: Option<Date>, lost: Option<Lost> },
    /// A slab of a shipment was cut into these pieces, which take of its cost by this loss.
    Cut { shipment: usize, set: usize, pieces: Vec<usize> },
    /// A slab was measured or graded anew: what it was found to be before.
    Found { slab: Of, before: (Option<Area>, Option<SmolStr>) },
    /// A slab that was never packed came.
    Over { shipment: usize },
    /// Consigned slabs came or left.
    Consigned,
    /// A slab that came over was taken in: as it was listed before.
    TakenIn { slab: Of, came: (String, SmolStr, usize) },
    /// What a lost slab gave to those who take its cost: of which loss, of how many units, how many of them;
    /// and to each its units, with what it was carried by.
    Gave { slab: Of, of: (usize, i64, i64), to: Vec<(usize, i64, i64)> },
    /// A slab was set aside or set free: by which event it was set aside before.
    Reserved { slab: Of, before: Option<usize> },
    /// A slab was written down, or up: what it was worth before, and after.
    Allowed { slab: Of, before: Option<i64>, after: Option<i64> },
}
