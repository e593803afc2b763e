//! What a road leaves for the cargo of a box on its rig.

use super::super::engine::{BoxKind, HalfPlane, MASS_LIMIT};
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
    let limit = |name: String, kind, cargo: Mass, place| Limit {
        name,
        kind,
        on: LimitOn::Cargo,
        cargo,
        place,
    };
    let id = &road.rig.id;
    let gross = road::gross_cargo(road, container)?;
    let gross = gross
        .map(|(cargo, place)| limit(format!("gross on rig {id}"), LimitKind::Law, cargo, place));
    let capacity = |planes: &[HalfPlane]| -> Result<Mass, Overflow> {
        let most = i64::try_from(bare(planes, container, permille).mass_capacity());
        let most = most.map_err(|_| Overflow { what: "an axle limit" })?;
        Mass::grams(most).plus(container.securing)
    };
    let most = capacity(road.planes())?;
    let is_law = capacity(&road.planes_of_law())? == most;
    let kind = if is_law { LimitKind::Law } else { LimitKind::Equipment };
    let least = gross.as_ref().map_or(least, |gross| gross.cargo.min(least));
    let axles = (most < least)
        .then(|| limit(format!("axles of rig {id}"), kind, most, road.rig.place.clone()));
    Ok(RoadLimits { gross, axles })
}

/// A box that nothing limits but its lengthwise balance and the rules of a road.
fn bare(planes: &[HalfPlane], container: &ContainerType, permille: i64) -> BoxKind {
    let [length, width, height] = container.inside.map(Length::mm_down);
    let mut limits = Planes::of_balance(container, permille).along.to_vec();
    limits.extend_from_slice(planes);
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
