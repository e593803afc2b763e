//! Bundles for the tests of this room.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use crate::fault::Source;
use crate::quantity::{Length, Mass, Written};
use crate::trade::{Bundle, MassBasis};

/// A weighed bundle of this mass and length, 300 mm wide and 2 m high, named after its mass.
pub(super) fn bundle(kg: &str, mm: i64) -> Bundle {
    let mass = Mass::read(kg).unwrap();
    Bundle {
        id: kg.into(),
        block: None,
        slabs: 10,
        mass,
        limit_mass: mass,
        weighing: MassBasis::Weighed { computed: mass },
        may_turn: false,
        length: Length::whole_mm(mm),
        width: Length::whole_mm(300),
        height: Length::whole_mm(2_000),
        place: Source::new("t", String::new()).line(1),
    }
}
