//! The places of a load by the preference: for whoever shows where bundles stand, and no cost hangs on it.

use super::audit::audit;
use super::dunnage::keeps;
use super::engine::{self, Loaded, Placed};
use super::judge::Verdict;
use super::kinds::by_ways;
use super::order::entry;
use super::plan::{Chosen, FilledBox, Plan, Spot, Variant};
use super::preference::{places, rating};
use super::problem::problem;
use crate::quantity::Units;
use crate::trade::{Bundle, Shipment, Tariffs};

/// Gives each box of a load that holds better places, where some are found. Places that somebody gave stay.
/// The load is looked at again by the tables: where they find a fault, every place stays.
pub fn prefer(
    plan: &mut Plan,
    verdict: &Verdict,
    shipment: &Shipment,
    tariffs: &Tariffs,
    units: Units,
) {
    if !verdict.holds() {
        return;
    }
    let before = plan.boxes.clone();
    let bundles = &shipment.bundles;
    for at in 0..plan.boxes.len() {
        let Some(filled) = plan.boxes.get(at) else { continue };
        let Some(variant) = plan.variant(filled) else { continue };
        let Some((spots, chosen)) = better(filled, bundles, variant) else { continue };
        let moved = FilledBox { spots: Some(spots.clone()), ..filled.clone() };
        if !keeps(&moved, variant, (shipment, tariffs)) {
            continue;
        }
        if let Some(filled) = plan.boxes.get_mut(at) {
            (filled.spots, filled.chosen) = (Some(spots), chosen);
        }
    }
    if !audit(plan, shipment, tariffs, units).is_ok_and(|found| found.is_empty()) {
        plan.boxes = before;
    }
}

/// Places of a box by the preference, and how sure it is of them.
fn better(
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
) -> Option<(Vec<Spot>, Chosen)> {
    if filled.chosen == Chosen::Given {
        return None;
    }
    let (ways, _) = by_ways(std::slice::from_ref(variant));
    let own: Vec<Bundle> =
        filled.bundles.iter().map(|at| bundles.get(*at).cloned()).collect::<Option<_>>()?;
    let problem = problem(&own, &ways);
    let (rating, entry) = (rating(&variant.container), entry(&variant.container));
    // The way of its doors that its places were found for.
    let found = (0..problem.kinds.len()).find_map(|kind| {
        let loaded = Loaded { kind, places: places(filled)? };
        engine::arrange(&problem, &loaded, rating, entry)
    })?;
    let spot = |place: &Placed| {
        let bundle = *filled.bundles.get(place.piece)?;
        Some(Spot { bundle, x: place.x, y: place.y, turned: place.turned })
    };
    let spots = found.places.iter().map(spot).collect::<Option<_>>()?;
    let is_least = found.least && filled.settled;
    Some((spots, if is_least { Chosen::Least } else { Chosen::BestFound }))
}
