//! Places for a box that somebody filled without saying where its bundles stand.

use super::engine::{self, BoxKind, Effort, Problem};
use super::kinds::by_ways;
use super::limits::Planes;
use super::mass::cargo;
use super::plan::{FilledBox, Spot, Variant};
use super::problem::problem;
use super::room::stopped_by;
use super::unfit::stop;
use crate::quantity::Units;
use crate::trade::Bundle;

/// The places of a box that is given, as far as they were found.
#[derive(Debug, Clone)]
pub(super) struct Laid {
    /// Where each bundle stands.
    pub(super) spots: Option<Vec<Spot>>,
    /// Why no places keep every rule, in a sentence without its final stop; `None` where these do.
    pub(super) fault: Option<String>,
}

/// Works out places for a given box. Where no places keep every rule, rules are dropped in turn (the way in,
/// mass, floor load, balance), so that the axles of an overloaded box are known too.
pub(super) fn place(
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
    effort: Effort,
    units: Units,
) -> Laid {
    let own: Vec<Bundle> =
        filled.bundles.iter().filter_map(|at| bundles.get(*at)).cloned().collect();
    let (ways, _) = by_ways(std::slice::from_ref(variant));
    let mut problem = problem(&own, &ways);
    if let Some(spots) = laid(&problem, filled, effort) {
        return Laid { spots: Some(spots), fault: None };
    }
    // What has no way in is told of the places that are found without.
    problem.entries.clear();
    if let Some(spots) = laid(&problem, filled, effort) {
        return Laid { spots: Some(spots), fault: None };
    }
    let limit = variant.limits.binding();
    let fault = match cargo(&filled.bundles, bundles, variant) {
        Ok(cargo) if cargo > limit.cargo => {
            format!("{} with its dunnage is over its {}", cargo.show_closely(units), limit.name)
        }
        _ => stop(stopped_by(problem.clone()), Some(variant)),
    };
    problem.kinds.truncate(1);
    for kind in &mut problem.kinds {
        kind.payload = engine::MASS_LIMIT;
        kind.limits = Planes::of_balance(&variant.container, variant.balance).in_order();
    }
    let mut spots = laid(&problem, filled, effort);
    let looser: [fn(&mut BoxKind); 2] = [|kind| kind.line_load = None, |kind| kind.limits.clear()];
    for drop in looser {
        if spots.is_none() {
            problem.kinds.iter_mut().for_each(drop);
            spots = laid(&problem, filled, effort);
        }
    }
    Laid { spots, fault: Some(fault) }
}

fn laid(problem: &Problem, filled: &FilledBox, effort: Effort) -> Option<Vec<Spot>> {
    let places = engine::stand(problem, &effort)?;
    let spots = places.iter().filter_map(|place| {
        let bundle = *filled.bundles.get(place.piece)?;
        Some(Spot { bundle, x: place.x, y: place.y, turned: place.turned })
    });
    Some(spots.collect())
}
