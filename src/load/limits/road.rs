//! What a road leaves for the cargo of a box on its rig.

use super::super::engine::{BoxKind, MASS_LIMIT};
use super::super::road::{self, Road};
use super::limit::{Limit, RoadLimits};
use super::planes::Planes;
use crate::quantity::{Length, Mass, Overflow};
use crate::trade::{ContainerType, LimitKind, LimitOn};

/// What a road lets a box carry, dunnage counted: by the gross limit, and by all axles together with
/// the cargo where it suits them best within the balance window. The axles are named only where
/// they are below `least`, what else is known.
///
/// # Errors
/// Where a figure cannot be held.
pub(crate) fn on_road(
    road: &Road,
    container: &ContainerType,
    permille: i64,
    least: Mass,
) -> Result<RoadLimits, Overflow> {
    let law = |name: String, cargo: Mass, place| Limit {
        name,
        kind: LimitKind::Law,
        on: LimitOn::Cargo,
        cargo,
        place,
    };
    let id = &road.rig.id;
    let gross = road::gross_cargo(road, container)?;
    let gross = gross.map(|(cargo, place)| law(format!("gross on rig {id}"), cargo, place));
    let most = i64::try_from(bare(road, container, permille).mass_capacity());
    let most = most.map_err(|_| Overflow { what: "an axle limit" })?;
    let most = Mass::grams(most).plus(container.securing)?;
    let least = gross.as_ref().map_or(least, |gross| gross.cargo.min(least));
    let axles =
        (most < least).then(|| law(format!("axles of rig {id}"), most, road.rig.place.clone()));
    Ok(RoadLimits { gross, axles })
}

/// A box that nothing limits but its lengthwise balance and the road.
fn bare(road: &Road, container: &ContainerType, permille: i64) -> BoxKind {
    let [length, width, height] = container.inside.map(Length::mm_down);
    let mut limits = Planes::of_balance(container, permille).along.to_vec();
    limits.extend_from_slice(road.planes());
    BoxKind {
        length,
        width,
        door_height: height,
        door_width: width,
        payload: MASS_LIMIT,
        cost: 0,
        available: None,
        line_load: None,
        gap_end: 0,
        gap_side: 0,
        limits,
    }
}
