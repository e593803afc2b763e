//! What is wrong with the places in a box: the engine's checker and the road, in words.

use super::engine::{self, BoxKind, Loaded, Placed, Violation};
use super::limits::{Plane, Planes};
use super::plan::{FilledBox, Variant};
use super::problem::problem;
use super::road::{Limiter, RoadReport};
use crate::fault::Place;
use crate::quantity::{Length, Units};
use crate::trade::{Bundle, LimitKind};

/// What is wrong with places.
pub(super) struct Judged {
    /// In a sentence without its final stop.
    pub(super) what: String,
    /// Of which kind the limit is.
    pub(super) kind: Option<LimitKind>,
    /// The bundles whose places it is about, by position.
    pub(super) bundles: Vec<usize>,
    /// Where the limit is stated.
    pub(super) place: Place,
}

/// Every rule that the given places break. Nothing is searched: an empty answer means that the box may be
/// loaded as given.
pub(super) fn faults_of_places(
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
    units: Units,
) -> Vec<Judged> {
    let Some(spots) = &filled.spots else { return Vec::new() };
    let own: Vec<Bundle> =
        filled.bundles.iter().filter_map(|at| bundles.get(*at)).cloned().collect();
    let bare = Variant { roads: Vec::new(), ..variant.clone() };
    let mut problem = problem(&own, std::slice::from_ref(&bare));
    for piece in &mut problem.pieces {
        piece.group = None;
    }
    // What has no way in is told apart: of a given load it is a warning.
    problem.entries.clear();
    let position = |bundle| filled.bundles.iter().position(|one| *one == bundle);
    let places = spots.iter().filter_map(|spot| {
        let piece = position(spot.bundle)?;
        Some(Placed { piece, x: spot.x, y: spot.y, turned: spot.turned })
    });
    let loaded = Loaded { kind: 0, places: places.collect() };
    let cost = problem.kinds.first().map_or(0, |kind| kind.cost);
    let breaches = engine::check(&problem, std::slice::from_ref(&loaded), cost);
    let boxed = Boxed { own: &own, loaded: &loaded, kind: problem.kinds.first(), units };
    let judged = |breach: &Violation| {
        let is_of_box = matches!(breach, Violation::Outside { .. } | Violation::LineLoad { .. });
        let pieces = pieces(breach).into_iter();
        Some(Judged {
            what: boxed.words(breach)?,
            kind: is_of_box.then_some(LimitKind::Equipment),
            bundles: pieces.filter_map(|piece| filled.bundles.get(piece)).copied().collect(),
            place: variant.container.place.clone(),
        })
    };
    breaches.iter().filter_map(judged).collect()
}

/// The pieces whose places a breach is about.
fn pieces(breach: &Violation) -> Vec<usize> {
    match *breach {
        Violation::Outside { piece, .. } | Violation::Turned { piece, .. } => vec![piece],
        Violation::Overlap { piece, other, .. } => vec![piece, other],
        _ => Vec::new(),
    }
}

/// A box as the engine's checker looked at it.
struct Boxed<'a> {
    own: &'a [Bundle],
    loaded: &'a Loaded,
    kind: Option<&'a BoxKind>,
    units: Units,
}

impl Boxed<'_> {
    fn name(&self, piece: usize) -> &str {
        self.own.get(piece).map_or("?", |bundle| bundle.id.as_str())
    }

    /// From where to where a piece stands, along the box and across it. Places and sides are lengths of a
    /// file, 100 m at most: their sums and differences fit.
    fn extent(&self, piece: usize) -> Option<[(i64, i64); 2]> {
        let place = self.loaded.places.iter().find(|place| place.piece == piece)?;
        let bundle = self.own.get(piece)?;
        let (mut along, mut across) = (bundle.length.mm_up(), bundle.width.mm_up());
        if place.turned {
            std::mem::swap(&mut along, &mut across);
        }
        Some([(place.x, place.x + along), (place.y, place.y + across)])
    }

    /// By how much two pieces overlap, along the box and across it.
    fn overlap(&self, piece: usize, other: usize) -> Option<[i64; 2]> {
        let (one, other) = (self.extent(piece)?, self.extent(other)?);
        let shared = |at: usize| -> Option<i64> {
            let ((from, to), (other_from, other_to)) = (one.get(at)?, other.get(at)?);
            Some(*to.min(other_to) - *from.max(other_from))
        };
        Some([shared(0)?, shared(1)?])
    }

    /// By how much a piece stands over the floor or in the room for bracing, at the worst side.
    fn outside(&self, piece: usize) -> Option<i64> {
        let [(front, back), (left, right)] = self.extent(piece)?;
        let kind = self.kind?;
        let sides = [
            kind.gap_end - front,
            back - (kind.length - kind.gap_end),
            kind.gap_side - left,
            right - (kind.width - kind.gap_side),
        ];
        sides.into_iter().max()
    }

    fn shown(&self, mm: i64) -> String {
        Length::whole_mm(mm).show(self.units)
    }

    fn words(&self, breach: &Violation) -> Option<String> {
        Some(match breach {
            Violation::Missing { piece } => format!("bundle {} has no place", self.name(*piece)),
            Violation::Twice { piece } => format!("bundle {} has two places", self.name(*piece)),
            Violation::Outside { piece, .. } => {
                let by = self.shown(self.outside(*piece)?);
                let name = self.name(*piece);
                format!("bundle {name} stands {by} outside the floor or in the room for bracing")
            }
            Violation::Overlap { piece, other, .. } => {
                let [along, across] = self.overlap(*piece, *other)?.map(|mm| self.shown(mm));
                format!(
                    "bundles {} and {} stand in one place: they overlap by {along} along the box \
                     and {across} across it",
                    self.name(*piece),
                    self.name(*other)
                )
            }
            Violation::Turned { piece, .. } => {
                let name = self.name(*piece);
                format!("bundle {name} stands across the box, which nothing allows")
            }
            Violation::LineLoad { station, .. } => {
                format!("the floor bears too much for its length at {}", self.shown(*station))
            }
            Violation::Limit { limit, .. } => {
                let way = match Planes::named(*limit) {
                    Plane::Along => "lengthwise",
                    Plane::Across => "crosswise",
                    // The roads are judged by the axle.
                    Plane::Road => return None,
                };
                format!("the centre of gravity lies outside its window {way}")
            }
            // Masses and doors are judged wherever the bundles stand.
            Violation::Payload { .. } | Violation::Door { .. } | Violation::Cost { .. } => {
                return None;
            }
            other => format!("it breaks a rule ({other:?})"),
        })
    }
}

/// The limits of the road that a box breaks where it stands, each as a limit on its cargo.
pub(super) fn road_breaches(roads: &[RoadReport<'_>], units: Units) -> Vec<Judged> {
    let mut all = Vec::new();
    for report in roads {
        for check in report.checks.iter().filter(|check| !check.holds) {
            let kept = match (check.by, check.is_least) {
                (Limiter::Law, true) => "the law says they must carry at least",
                (Limiter::Law, false) => "the law says they may carry",
                (_, true) => "it must be at least",
                (_, false) => "it is built for",
            };
            let (load, most) = (check.load.show_closely(units), check.most.show_closely(units));
            let what = format!("{}: {load} where {kept} {most}", check.name);
            let (kind, place) = (Some(check.by.kind()), check.place.clone());
            all.push(Judged { what, kind, bundles: Vec::new(), place });
        }
    }
    all
}
