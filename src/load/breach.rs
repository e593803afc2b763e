//! Every limit that a load breaks, with its kind: masses, doors and floors, the yard's lift, places.
//!
//! Decided on 2026-11-26. A given load that breaks a limit is good data. `cost` warns and no lower bound is
//! claimed, while `check` and `load` answer "no".

use super::engine::{self, BoxKind};
use super::kinds::kind;
use super::limits::Limit;
use super::mass::cargo;
use super::places::{Judged, faults_of_places, road_breaches};
use super::plan::{FilledBox, Plan, Variant};
use super::problem::alone;
use super::standing::standing;
use super::summary::on_roads;
use super::unfit::why;
use crate::fault::{Code, Fault, Place};
use crate::quantity::{LineLoad, Mass, Units};
use crate::trade::{Bundle, GivenBox, GivenPlace, LimitKind, Yard};

/// A limit that a box, or a bundle in it, breaks.
#[derive(Debug, Clone)]
pub struct Breach {
    /// The box, by position.
    pub filled: usize,
    /// What the box is called.
    pub label: String,
    /// What is wrong, in a sentence without its final stop.
    pub what: String,
    /// The kind of the limit; none for a place where no bundle can stand.
    pub kind: Option<LimitKind>,
    /// Where the limit is stated.
    pub place: Place,
    /// Where the places that break it were given.
    pub given: Vec<Place>,
    /// What is over it.
    pub broken: Broken,
}

/// What is over a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Broken {
    /// The cargo of the box.
    Cargo,
    /// One bundle, wherever it stands.
    Bundle,
    /// The places of the bundles.
    Places,
    /// The axles of the rig that carries it, at its own centre of gravity.
    Axles,
    /// What holds the cargo on its way, under a set that is a rule.
    Hold,
}

impl Breach {
    /// The breach as a warning: the data is good, and the load is not.
    pub fn warning(&self) -> Fault {
        let help = match self.broken {
            Broken::Cargo | Broken::Axles => {
                "take a bundle out, or ask the carrier and the road authority before it is stuffed"
            }
            Broken::Bundle => "bundle it anew, or look for a box and a yard that take it",
            Broken::Hold => {
                "give other places, take a bundle out, or have a competent person plan the securing"
            }
            Broken::Places => "give other places, or leave them out: `load` finds some",
        };
        let label = if self.kind.is_some() { "the limit" } else { "this kind of container" };
        let fault = Fault::warning(Code::OverLimit, self.sentence()).help(help);
        let Some((first, others)) = self.given.split_first() else {
            return fault.at(&self.place, label);
        };
        let fault = fault.at(first, "it stands here");
        let fault =
            others.iter().fold(fault, |fault, other| fault.also(other, "and the other here"));
        if self.kind.is_some() { fault.also(&self.place, label) } else { fault }
    }

    /// The sentence with the place of the limit.
    pub fn cited(&self) -> String {
        let own = match self.kind {
            Some(kind) => format!("{} ({}, {})", self.what, kind.shown(), self.place),
            None => self.what.clone(),
        };
        self.of_box(&own)
    }

    /// The box and what is wrong with it.
    pub fn sentence(&self) -> String {
        self.of_box(&self.words())
    }

    fn of_box(&self, what: &str) -> String {
        let colon = if self.broken == Broken::Cargo { "" } else { ":" };
        format!("box {}{colon} {what}", self.label)
    }

    /// What is wrong, with the kind of the limit.
    pub fn words(&self) -> String {
        match self.kind {
            Some(kind) => format!("{} ({})", self.what, kind.shown()),
            None => self.what.clone(),
        }
    }
}

/// Everything that the boxes of a load break, box by box, the tightest limit on their cargo first. What
/// was `given` says where the places of its bundles are written.
pub(super) fn breaches(
    plan: &Plan,
    bundles: &[Bundle],
    yard: &Yard,
    given: &[GivenBox],
    units: Units,
) -> Vec<Breach> {
    // Like boxes have like doors.
    let mut kinds: Vec<Option<BoxKind>> = vec![None; plan.variants.len()];
    let mut all = Vec::new();
    for (index, filled) in plan.boxes.iter().enumerate() {
        let Some(variant) = plan.variant(filled) else { continue };
        all.extend(of_cargo(index, filled, bundles, variant, units));
        let Some(kind) = kinds.get_mut(filled.variant) else { continue };
        // What was read and weighed at a box changes no measure of it.
        let kind = kind.get_or_insert_with(|| kind_of(variant));
        for bundle in filled.bundles.iter().filter_map(|at| bundles.get(*at)) {
            let breach = |what: String, place: &Place| Breach {
                filled: index,
                label: filled.label.clone(),
                what: format!("bundle {} {what}", bundle.id),
                kind: Some(LimitKind::Equipment),
                place: place.clone(),
                given: Vec::new(),
                broken: Broken::Bundle,
            };
            let shapes = misshapen(bundle, kind, variant.container.line_load, units);
            all.extend(shapes.into_iter().map(|what| breach(what, &variant.container.place)));
            let lifts = yard.refuses(bundle.limit_mass, units);
            all.extend(
                lifts.into_iter().map(|what| breach(format!("is too heavy: {what}"), &yard.place)),
            );
        }
        if filled.spots.is_some() {
            let own = given.iter().find(|one| one.label == filled.label);
            let lines = own.map_or(&[][..], |one| &one.places);
            all.extend(of_places(index, (filled, variant), bundles, lines, units));
        }
    }
    all
}

/// The kind of box as the engine has it, without roads: those are judged by the axle.
fn kind_of(variant: &Variant) -> BoxKind {
    kind(&Variant { roads: Vec::new(), ..variant.clone() })
}

/// The limits on a box's cargo that it is over.
fn of_cargo(
    index: usize,
    filled: &FilledBox,
    bundles: &[Bundle],
    variant: &Variant,
    units: Units,
) -> Vec<Breach> {
    let Ok(cargo) = cargo(&filled.bundles, bundles, variant) else { return Vec::new() };
    let mut broken: Vec<_> = variant.limits.each().filter(|limit| cargo > limit.cargo).collect();
    broken.sort_by_key(|limit| limit.cargo);
    let breach = |limit: &Limit| {
        let over = cargo.minus(limit.cargo).unwrap_or(Mass::ZERO);
        Breach {
            filled: index,
            label: filled.label.clone(),
            what: format!(
                "holds {}, {} over its {}",
                cargo.show_closely(units),
                over.show_closely(units),
                limit.name
            ),
            kind: Some(limit.kind),
            place: limit.place.clone(),
            given: Vec::new(),
            broken: Broken::Cargo,
        }
    };
    broken.into_iter().map(breach).collect()
}

/// Why a bundle does not pass the door of a box or find room on its floor, even alone.
fn misshapen(bundle: &Bundle, kind: &BoxKind, line_load: LineLoad, units: Units) -> Vec<String> {
    let piece = alone(bundle);
    let shapes = engine::misshapen(&piece, kind);
    let mut all: Vec<String> =
        shapes.iter().map(|reason| format!("is {}", why(reason, None, &[], units))).collect();
    if engine::is_too_dense(&piece, kind) {
        let most = line_load.show(units);
        all.push(format!("is too heavy for its length: the floor bears {most}"));
    }
    all
}

/// What the places of a box break: its floor, its balance, the axles of the rig that carries it.
fn of_places(
    index: usize,
    (filled, variant): (&FilledBox, &Variant),
    bundles: &[Bundle],
    lines: &[GivenPlace],
    units: Units,
) -> Vec<Breach> {
    let line = |bundle: &usize| {
        lines.iter().find(|line| line.bundle == *bundle).map(|line| line.place.clone())
    };
    let breach = |Judged { what, kind, bundles, place }: Judged, broken: Broken| Breach {
        filled: index,
        label: filled.label.clone(),
        what,
        kind,
        place,
        given: bundles.iter().filter_map(line).collect(),
        broken,
    };
    let own = faults_of_places(filled, bundles, variant, units).into_iter();
    let mut all: Vec<Breach> = own.map(|judged| breach(judged, Broken::Places)).collect();
    let stands = standing(filled, bundles);
    if let Ok(roads) = stands.and_then(|stands| on_roads(variant, &stands)) {
        let roads = road_breaches(&roads, units).into_iter();
        all.extend(roads.map(|judged| breach(judged, Broken::Axles)));
    }
    all
}
