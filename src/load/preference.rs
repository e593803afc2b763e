//! The preference among places, in the engine's figures, of a box as the trade has it.

use super::engine::{Placed, Preference, Rating};
use super::kinds::kind;
use super::plan::{FilledBox, Spot, Variant};
use super::problem::alone;
use crate::quantity::Mass;
use crate::trade::{Bundle, ContainerType};

/// The push sideways that each bundle should stand, in thousandths of its weight: 0.5 on every road (CTU
/// Code, chapter 5, from memory), and every load travels on one. At sea it is more.
const SIDEWAYS: i64 = 500;

/// The figures of the preference for a box; `None` without places.
pub(super) fn preference(
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
) -> Option<Preference> {
    let own = filled.bundles.iter().map(|at| bundles.get(*at).map(alone));
    let own: Vec<_> = own.collect::<Option<_>>()?;
    Some(Preference::of(&kind(variant), rating(&variant.container), &own, &places(filled)?))
}

/// What the preference asks of a container.
pub(super) fn rating(container: &ContainerType) -> Rating {
    let payload = container.payload().map_or(0, Mass::grams_down);
    Rating { payload, sideways: SIDEWAYS }
}

/// The places of a box as the engine has them; a piece is a bundle's position in the box.
pub(super) fn places(filled: &FilledBox) -> Option<Vec<Placed>> {
    let place = |spot: &Spot| {
        let piece = filled.bundles.iter().position(|one| *one == spot.bundle)?;
        Some(Placed { piece, x: spot.x, y: spot.y, turned: spot.turned })
    };
    filled.spots.as_ref()?.iter().map(place).collect()
}
