//! Where timber stands in a box that is held fast: spreaders and struts between bundles and walls, and the gate at the
//! doors. For drawings: how much of it holds which force says the list.

use super::engine::{Rectangle, before};
use super::standing::Standing;
use crate::quantity::Length;
use crate::trade::ContainerType;

/// How thick the gate is drawn, mm: a batten (common practice).
const GATE: i64 = 100;

/// A part of the blocking. All figures are mm from the front end, the left wall, the floor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Blocking {
    /// What it is.
    pub part: Part,
    /// From where to where along the box, and across it.
    pub place: [(i64, i64); 2],
    /// Up to which height.
    pub up: i64,
}

/// What a part of the blocking is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// Spreaders and struts between a bundle and an end.
    End,
    /// The same to a side wall.
    Side,
    /// The gate at the doors.
    Gate,
}

/// The blocking of a box.
pub(super) fn blocking(
    container: &ContainerType,
    standing: &[Standing<'_>],
    floor: &[Rectangle],
) -> Vec<Blocking> {
    let [length, width, _] = container.inside.map(Length::mm_down);
    let last = floor.iter().map(|[along, _]| along.1).max().unwrap_or(0);
    let mut all = Vec::new();
    for (at, ([along, across], one)) in floor.iter().zip(standing).enumerate() {
        let up = one.bundle.height.mm_up();
        // What sees but an edge of the wall past another bundle is not shored against it.
        let looks = |axis: usize, far| {
            let face = if axis == 0 { across.1 - across.0 } else { along.1 - along.0 };
            2 * before(floor, at, axis, far).wall >= face
        };
        let mut add = |part, place: [(i64, i64); 2], looks: bool| {
            if looks && place.iter().all(|(from, to)| from < to) {
                all.push(Blocking { part, place, up });
            }
        };
        add(Part::End, [(0, along.0), *across], looks(0, false));
        add(Part::End, [(along.1, last), *across], looks(0, true));
        add(Part::Side, [*along, (0, across.0)], looks(1, false));
        add(Part::Side, [*along, (across.1, width)], looks(1, true));
    }
    let up = standing.iter().map(|one| one.bundle.height.mm_up()).min();
    let gate = |up| {
        let place = [(last, (last + GATE).min(length)), (0, width)];
        Blocking { part: Part::Gate, place, up }
    };
    all.extend(up.map(gate).filter(|gate| gate.place[0].0 < gate.place[0].1));
    all
}

#[cfg(test)]
mod tests {
    use super::super::testing::{bundle, container};
    use super::*;
    use crate::quantity::Mass;

    #[test]
    fn blocking_stands_between_bundles_and_walls_and_the_gate_before_the_doors() {
        // Two bundles in line, the rear one set 100 mm to the right; 5,900 x 2,350 mm.
        let container = container(5_900);
        let own = bundle("2000 kg", 2_000);
        let at =
            |x, y| Standing { bundle: &own, at: Some((x, y)), turned: false, running: Mass::ZERO };
        let standing = [at(500, 1_000), at(2_600, 1_100)];
        let floor = super::super::order::floor(&standing).unwrap();
        let found = blocking(&container, &standing, &floor);
        let of = |part| -> Vec<[(i64, i64); 2]> {
            found.iter().filter(|one| one.part == part).map(|one| one.place).collect()
        };
        // The front one hides most of the rear one from the front end, and the rear one hides it from the doors.
        assert_eq!(of(Part::End), [[(0, 500), (1_000, 1_300)]]);
        assert_eq!(
            of(Part::Side),
            [
                [(500, 2_500), (0, 1_000)],
                [(500, 2_500), (1_300, 2_350)],
                [(2_600, 4_600), (0, 1_100)],
                [(2_600, 4_600), (1_400, 2_350)]
            ]
        );
        assert_eq!(of(Part::Gate), [[(4_600, 4_700), (0, 2_350)]]);
        assert!(found.iter().all(|one| one.up == 2_000));
    }
}
