//! How long a side of a slab is, at most and at least.

use crate::quantity::{Length, Units};

/// The longest side a slab can have, in mm: no saw takes a longer block (common practice).
pub(super) const LONGEST_MM: i64 = 6_000;

/// The shortest: anything less is a slip of the unit, or 3,000 read as 3 (a choice of ours).
const SHORTEST_MM: i64 = 100;

/// Where no slab of a list is longer, its unit is doubtful (a choice of ours).
pub(super) const SMALL_MM: i64 = 600;

/// Thicker than slabs usually are (common practice: up to 60 mm, monuments more).
pub(in crate::read) const THICK_MM: i64 = 100;

/// Whether a length is one a slab can have.
pub(in crate::read) fn is_side(side: Length) -> bool {
    side.is_between_mm(SHORTEST_MM, LONGEST_MM)
}

/// From where to where, in words.
pub(in crate::read) fn sides(units: Units) -> String {
    let [least, most] = [SHORTEST_MM, LONGEST_MM].map(|mm| Length::whole_mm(mm).show(units));
    format!("{least} to {most}")
}
