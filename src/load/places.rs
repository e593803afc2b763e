//! What is wrong with a box whose places somebody gave: the engine's checker and the road, in words.

use super::engine::{self, Breach, Loaded, Placed};
use super::plan::{FilledBox, Variant};
use super::problem::problem;
use super::road::RoadReport;
use crate::fault::Place;
use crate::trade::{Bundle, LimitKind};

/// What is wrong, of which kind the limit is, and where it is stated.
pub(super) type Judged = (String, Option<LimitKind>, Place);

/// Every rule that the given places break, each in a sentence without its final stop. Nothing is
/// searched: an empty answer says that the box may be loaded as it was given.
pub(super) fn faults_of_places(
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
) -> Vec<Judged> {
    let Some(spots) = &filled.spots else { return Vec::new() };
    let own: Vec<Bundle> =
        filled.bundles.iter().filter_map(|at| bundles.get(*at)).cloned().collect();
    let bare = Variant { roads: Vec::new(), ..variant.clone() };
    let mut problem = problem(&own, std::slice::from_ref(&bare));
    for piece in &mut problem.pieces {
        piece.group = None;
    }
    let position = |bundle| filled.bundles.iter().position(|one| *one == bundle);
    let places = spots.iter().filter_map(|spot| {
        let piece = position(spot.bundle)?;
        Some(Placed { piece, x: spot.x, y: spot.y, turned: spot.turned })
    });
    let loaded = Loaded { kind: 0, places: places.collect() };
    let cost = problem.kinds.first().map_or(0, |kind| kind.cost);
    let name = |piece: &usize| own.get(*piece).map_or("?", |bundle| bundle.id.as_str());
    let breaches = engine::check(&problem, std::slice::from_ref(&loaded), cost);
    let judged = |breach: &Breach| {
        let is_of_box = matches!(breach, Breach::Outside { .. } | Breach::LineLoad { .. });
        let kind = is_of_box.then_some(LimitKind::Equipment);
        Some((words(breach, &name)?, kind, variant.container.place.clone()))
    };
    breaches.iter().filter_map(judged).collect()
}

fn words<'a>(breach: &Breach, name: &impl Fn(&usize) -> &'a str) -> Option<String> {
    Some(match breach {
        Breach::Missing { piece } => format!("bundle {} has no place", name(piece)),
        Breach::Twice { piece } => format!("bundle {} has two places", name(piece)),
        Breach::Outside { piece, .. } => {
            format!("bundle {} stands outside the floor or in the room for bracing", name(piece))
        }
        Breach::Overlap { piece, other, .. } => {
            format!("bundles {} and {} stand in one place", name(piece), name(other))
        }
        Breach::Turned { piece, .. } => {
            format!("bundle {} stands across the box, which nothing allows", name(piece))
        }
        Breach::LineLoad { station, .. } => {
            format!("the floor bears too much per metre at {station} mm")
        }
        Breach::Limit { limit, .. } => {
            let way = if *limit < 2 { "lengthwise" } else { "crosswise" };
            format!("the centre of gravity lies outside its window {way}")
        }
        // Masses and doors are judged wherever the bundles stand.
        Breach::Payload { .. } | Breach::Door { .. } | Breach::Cost { .. } => return None,
        other => format!("it breaks a rule ({other:?})"),
    })
}

/// The limits of the road that a box breaks where it stands, each as a limit on its cargo.
pub(super) fn road_breaches(roads: &[RoadReport<'_>]) -> Vec<Judged> {
    let mut all = Vec::new();
    for report in roads {
        for check in report.checks.iter().filter(|check| !check.holds) {
            let kept = match (check.kind, check.is_least) {
                (LimitKind::Law, true) => "the law says they must carry at least",
                (LimitKind::Law, false) => "the law says they may carry",
                _ => "it must be at least",
            };
            let what = format!("{}: {} where {kept} {}", check.name, check.load, check.most);
            all.push((what, Some(check.kind), check.place.clone()));
        }
    }
    all
}
