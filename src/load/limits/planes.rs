//! What balance and axles ask of the places in a box, as half planes of the engine by their names.

use super::super::engine::HalfPlane;
use crate::quantity::Length;
use crate::trade::ContainerType;

/// How far the centre of gravity may lie from mid-width, in thousandths of the width. The Code asks
/// for "close to the middle" without a figure; 5 % is common practice.
pub(crate) const BALANCE_ACROSS: i64 = 50;

/// The half planes of a box.
#[derive(Debug, Clone)]
pub(crate) struct Planes {
    /// The window of the centre of gravity along the box.
    pub(crate) along: [HalfPlane; 2],
    /// The same across it.
    pub(crate) across: [HalfPlane; 2],
    /// The rules of the roads.
    pub(crate) roads: Vec<HalfPlane>,
}

/// What a half plane holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Plane {
    /// The balance along the box.
    Along,
    /// The balance across it.
    Across,
    /// A rule of a road.
    Road,
}

impl Planes {
    /// The balance of a container, whose centre of gravity may lie so many thousandths of its length off
    /// the middle.
    pub(crate) fn of_balance(container: &ContainerType, permille: i64) -> Self {
        let [length, width, _] = container.inside.map(Length::mm_down);
        Self {
            along: HalfPlane::window_along(length, permille),
            across: HalfPlane::window_across(width, BALANCE_ACROSS),
            roads: Vec::new(),
        }
    }

    /// All of them as the engine counts them.
    pub(crate) fn in_order(self) -> Vec<HalfPlane> {
        let Self { along, across, roads } = self;
        along.into_iter().chain(across).chain(roads).collect()
    }

    /// What one of them holds, by its position in that order.
    pub(crate) fn named(at: usize) -> Plane {
        match at {
            0 | 1 => Plane::Along,
            2 | 3 => Plane::Across,
            _ => Plane::Road,
        }
    }
}
