//! Whether one more bundle would go in, and if not, what stops it: the mass or the floor.

use super::engine::{self, Effort, Problem};
use super::kinds::by_ways;
use super::plan::{FilledBox, Variant};
use super::problem::problem;
use crate::quantity::Mass;
use crate::trade::Bundle;

/// The work spent on the question, small beside that of planning.
pub(super) const EFFORT: Effort = Effort::of(200_000_000);

/// What stops one more bundle like the lightest of the shipment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Room {
    /// Nothing does.
    Fits,
    /// The mass limits do.
    Mass,
    /// There is no place left on the floor.
    Floor,
    /// There is a place, and the floor would bear too much per metre.
    LineLoad,
    /// There is a place, and the box would not balance or an axle not bear it.
    Balance,
    /// There is a place, and not all bundles have a way in.
    WayIn,
}

impl Room {
    /// What binds, where it is not the mass.
    pub fn binding(self) -> Option<&'static str> {
        match self {
            Self::Fits | Self::Mass => None,
            Self::Floor => Some("floor"),
            Self::LineLoad => Some("line load"),
            Self::Balance => Some("balance"),
            Self::WayIn => Some("way in"),
        }
    }
}

/// Whether one more bundle like the lightest of the shipment would go into a box, given how much mass
/// is left. The answer of a search that was cut short counts as no room.
pub(super) fn room<'a>(
    filled: &FilledBox,
    bundles: &'a [Bundle],
    variant: &Variant,
    left: Mass,
) -> Option<(Room, &'a Bundle)> {
    let extra = bundles.iter().min_by_key(|bundle| bundle.limit_mass)?;
    if extra.limit_mass > left {
        return Some((Room::Mass, extra));
    }
    let mut own: Vec<Bundle> =
        filled.bundles.iter().filter_map(|at| bundles.get(*at)).cloned().collect();
    own.push(extra.clone());
    let full = in_one(&own, variant);
    Some((if holds(&full) { Room::Fits } else { stopped_by(full) }, extra))
}

/// Bundles in one box of a variant, as the engine is asked.
fn in_one(own: &[Bundle], variant: &Variant) -> Problem {
    let (ways, _) = by_ways(std::slice::from_ref(variant));
    problem(own, &ways)
}

/// Whether bundles stand together in one box of a variant. The answer of a search that was cut short counts
/// as no.
pub(super) fn stand_in(own: &[Bundle], variant: &Variant) -> bool {
    holds(&in_one(own, variant))
}

/// The limit that stops a box of allowed mass: the first limit without which everything finds a place.
pub(super) fn stopped_by(mut full: Problem) -> Room {
    full.entries.clear();
    if holds(&full) {
        return Room::WayIn;
    }
    for kind in &mut full.kinds {
        kind.limits.clear();
    }
    if holds(&full) {
        return Room::Balance;
    }
    for kind in &mut full.kinds {
        kind.line_load = None;
    }
    if holds(&full) { Room::LineLoad } else { Room::Floor }
}

fn holds(problem: &Problem) -> bool {
    engine::stand(problem, &EFFORT).is_some()
}
