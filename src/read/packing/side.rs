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
pub fn is_side(side: Length) -> bool {
    side.is_between_mm(SHORTEST_MM, LONGEST_MM)
}

/// From where to where in the unit of a header, in words; `None`: in inches and feet it is no round figure.
pub(super) fn sides_in(unit: &str) -> Option<String> {
    Some(
        match unit {
            "mm" => "100 mm to 6000 mm long",
            "cm" => "10 cm to 600 cm long",
            "m" => "0.1 m to 6 m long",
            _ => return None,
        }
        .to_owned(),
    )
}

/// Whether a length is one that sides of slabs usually have (common practice).
pub(super) fn is_usual(side: Length) -> bool {
    side.is_between_mm(1_300, 4_000)
}

/// Where no slab of a list is longer and its header says cm, its figures are most likely inches (a choice of
/// ours): slabs are sawn from blocks, and 119 in is a common slab.
pub(super) const INCHES_MM: i64 = 1_200;

/// From where to where, in words.
pub(in crate::read) fn sides(units: Units) -> String {
    let [least, most] = [SHORTEST_MM, LONGEST_MM].map(|mm| Length::whole_mm(mm).show(units));
    format!("{least} to {most}")
}
