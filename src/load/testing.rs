//! Bundles for the tests of this room.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking")]

use crate::fault::Source;
use crate::quantity::{Length, LineLoad, Mass, Written};
use crate::trade::{Bundle, ContainerType, MassBasis, WayIn};

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
        is_a_frame: false,
        bearers: None,
        length: Length::whole_mm(mm),
        width: Length::whole_mm(300),
        height: Length::whole_mm(2_000),
        place: Source::new("t", String::new()).line(1),
    }
}

/// A 20' box with its dunnage.
pub(super) fn twenty() -> ContainerType {
    let (id, name) = ("20gp".to_owned(), "20' GP".to_owned());
    ContainerType { id, name, securing: Mass::read("350 kg").unwrap(), ..container(5_895) }
}

/// A box so long inside, 2,350 mm wide and 2,392 mm high, with nothing in it.
pub(super) fn container(inside: i64) -> ContainerType {
    ContainerType {
        id: "box".to_owned(),
        name: "box".to_owned(),
        iso: None,
        inside: [inside, 2_350, 2_392].map(Length::whole_mm),
        door: [2_340, 2_292].map(Length::whole_mm),
        max_gross: Mass::read("30480 kg").unwrap(),
        tare: Mass::read("2250 kg").unwrap(),
        line_load: LineLoad::read("4.5 t/m").unwrap(),
        bracing: Length::ZERO,
        end_bracing: Length::ZERO,
        clearance: Length::ZERO,
        way_in: WayIn::Doors { side: WayIn::usual_room() },
        securing: Mass::ZERO,
        place: Source::new("t", String::new()).line(1),
    }
}
