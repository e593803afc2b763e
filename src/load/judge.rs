//! Does this load hold? One verdict, for every command and every drawing.

use super::audit::audit;
use super::breach::{Breach, Broken, breaches};
use super::dunnage::{count_timber, held_in};
use super::engine::Effort;
use super::held::Held;
use super::kept::{BrokenWish, Unkept, broken_wishes, unkept};
use super::lay::place;
use super::limits::{Lower, Unknown, lower, unknown};
use super::order::{self, stuck_in};
use super::plan::{Chosen, Plan, Proof};
use super::sure::Sure;
use crate::fault::{Code, Fault, Place};
use crate::quantity::Units;
use crate::trade::{LimitKind, Shipment, Tariffs};

/// The verdict on a load.
#[derive(Debug, Clone)]
pub struct Verdict {
    /// How sure it is that no load costs less.
    pub sure: Sure,
    /// The limits that it breaks, box by box.
    pub breaches: Vec<Breach>,
    /// The rules of the shipment that it does not keep.
    pub unkept: Vec<Unkept>,
    /// The priced wishes that it breaks.
    pub wishes: Vec<BrokenWish>,
    /// Limits known for another container type, but not for one that may be chosen.
    pub unknown: Vec<Unknown>,
    /// Tares, dunnage and bundles weighed below the estimate, which let more be loaded.
    pub lower: Vec<Lower>,
    /// The bundles that have no way into a given box as they stand there: a sentence for each box, with the places
    /// as they were given.
    pub stuck: Vec<(String, Vec<Place>)>,
    /// What the check by the tables finds broken in a load that seems to hold, with the shipment's
    /// list.
    pub audit: Vec<(String, Place)>,
}

impl Verdict {
    /// Whether it may be loaded so: no limit that is known and no rule is broken.
    pub fn holds(&self) -> bool {
        self.keeps_limits() && self.unkept.is_empty()
    }

    /// Whether no limit is broken.
    pub fn keeps_limits(&self) -> bool {
        self.breaches.is_empty() && self.audit.is_empty()
    }

    /// Everything it breaks, in sentences with the place of each rule: limits, requests, then wishes.
    pub fn broken(&self) -> Vec<String> {
        self.sentences(Breach::cited, |place| format!(" ({place})"))
    }

    /// The same without the places: a page that is sent to others says none of the files.
    pub fn told(&self) -> Vec<String> {
        self.sentences(Breach::sentence, |_| String::new())
    }

    fn sentences(&self, of: fn(&Breach) -> String, at: fn(&Place) -> String) -> Vec<String> {
        let limits = self.breaches.iter().map(of);
        let asked = self.unkept.iter().map(|one| format!("{}{}", one.what, at(&one.place)));
        let wishes = self.wishes.iter();
        let wishes = wishes
            .map(|wish| format!("{}, a wish of {}{}", wish.what, wish.price, at(&wish.place)));
        let audit = self.audit.iter().map(|(what, place)| format!("{}{}", looked(what), at(place)));
        limits.chain(audit).chain(asked).chain(wishes).collect()
    }

    /// What a given load breaks, as warnings: the data is good, and the load is not.
    pub fn warnings(&self) -> Vec<Fault> {
        let limits = self.breaches.iter().map(Breach::warning);
        let audit = self.audit.iter().map(|(what, place)| {
            Fault::warning(Code::OverLimit, looked(what))
                .at(place, "the load of this shipment")
                .help("load no box so: give other places or boxes in plan.toml")
        });
        let asked = self.unkept.iter().map(|one| {
            Fault::warning(Code::OverLimit, one.what.clone())
                .at(&one.place, "asked here")
                .help("change the plan, or what `[load]` asks")
        });
        let stuck = self.stuck.iter().map(|(what, places)| {
            let fault = Fault::warning(Code::OverLimit, what.clone())
                .help("give other places, or leave them out: `load` finds some");
            let mut places = places.iter();
            let first = places.next();
            let fault =
                first.into_iter().fold(fault, |fault, place| fault.at(place, "it stands here"));
            places.fold(fault, |fault, place| fault.also(place, "and this one here"))
        });
        limits.chain(audit).chain(asked).chain(stuck).collect()
    }
}

fn looked(what: &str) -> String {
    format!("the load was checked again by the tables, and {what}")
}

/// What was found for given boxes without places.
#[derive(Debug, Clone, Default)]
pub struct Laid {
    /// The boxes that had no places, by position.
    boxes: Vec<usize>,
    /// The limits that no places keep.
    unplaced: Vec<Breach>,
}

/// Judges a load that is laid. Its sentences are in the units asked for.
pub fn judge(
    plan: &Plan,
    laid: Laid,
    (shipment, tariffs): (&Shipment, &Tariffs),
    units: Units,
) -> Verdict {
    let bundles = &shipment.bundles;
    let Laid { boxes: is_laid, mut unplaced } = laid;
    let mut own = breaches(plan, bundles, &shipment.yard, &shipment.boxes, units);
    own.extend(unheld(plan, shipment, tariffs));
    // Places found by dropping rules break those rules, which nobody asked for; the axle loads
    // count.
    own.retain(|one| one.broken != Broken::Places || !is_laid.contains(&one.filled));
    // Where a mass or a bundle is over a limit, that explains the missing places.
    let is_told = |at: usize| {
        let mut of_box = own.iter().filter(|one| one.filled == at);
        of_box.any(|one| matches!(one.broken, Broken::Cargo | Broken::Bundle))
    };
    unplaced.retain(|one| !is_told(one.filled));
    let mut breaches: Vec<Breach> = unplaced.into_iter().chain(own).collect();
    breaches.sort_by_key(|one| one.filled);
    let unknown = unknown(shipment, tariffs, &plan.variants);
    let mut verdict = Verdict {
        sure: Sure::of(&plan.proof, &unknown),
        unkept: unkept(plan, bundles, &shipment.load),
        wishes: broken_wishes(&plan.boxes, bundles, &shipment.load).unwrap_or_default(),
        unknown,
        lower: lower(plan, bundles),
        stuck: stuck_boxes(plan, shipment, units),
        breaches,
        audit: Vec::new(),
    };
    if verdict.holds() {
        let found = audit(plan, shipment, tariffs, units);
        let found = found.unwrap_or_else(|overflow| vec![overflow.to_string()]);
        let place = &shipment.packing_file;
        verdict.audit = found.into_iter().map(|what| (what, place.clone())).collect();
    }
    verdict
}

/// The boxes in which a set that is a rule asks for more timber than there is room for.
fn unheld(plan: &Plan, shipment: &Shipment, tariffs: &Tariffs) -> Vec<Breach> {
    let mut all = Vec::new();
    for (at, filled) in plan.boxes.iter().enumerate() {
        let held = plan.variant(filled).and_then(|own| held_in(filled, own, (shipment, tariffs)));
        for (push, place) in held.iter().flat_map(Held::broken_rules) {
            all.push(Breach {
                filled: at,
                label: filled.label.clone(),
                what: push.not_held(),
                kind: Some(LimitKind::Equipment),
                place: place.clone(),
                given: Vec::new(),
                broken: Broken::Hold,
            });
        }
    }
    all
}

/// What has no way in of boxes whose places were given: those at fault with their places.
fn stuck_boxes(plan: &Plan, shipment: &Shipment, units: Units) -> Vec<(String, Vec<Place>)> {
    let own = plan.boxes.iter().filter(|one| one.chosen == Chosen::Given);
    let told = own.filter_map(|filled| {
        let variant = plan.variant(filled)?;
        let stuck = stuck_in(filled, &shipment.bundles, variant).ok()?;
        let names = |all: &[usize]| -> Vec<&str> {
            let all = all.iter().filter_map(|at| shipment.bundles.get(*at));
            all.map(|bundle| bundle.id.as_str()).collect()
        };
        let [at_fault, behind] = [names(&stuck.at_fault), names(&stuck.behind)];
        let given = shipment.boxes.iter().find(|one| one.label == filled.label)?;
        let places = given.places.iter().filter(|one| stuck.at_fault.contains(&one.bundle));
        let places: Vec<Place> = places.map(|one| one.place.clone()).collect();
        let what = order::stuck(&variant.container, [&at_fault, &behind], units);
        (!at_fault.is_empty()).then(|| (format!("box {}: {what}", filled.label), places))
    });
    told.collect()
}

/// Gives the boxes of a given load that have no places those that `load` shows, so that every command judges the same
/// floor; then counts the timber of each box, which follows from its places.
pub fn lay(
    plan: &mut Plan,
    (shipment, tariffs): (&Shipment, &Tariffs),
    effort: Effort,
    units: Units,
) -> Laid {
    let mut found = Laid::default();
    if plan.proof == Proof::Given {
        find_places(plan, shipment, (effort, units), &mut found);
    }
    count_timber(plan, shipment, tariffs);
    found
}

fn find_places(
    plan: &mut Plan,
    shipment: &Shipment,
    (effort, units): (Effort, Units),
    found: &mut Laid,
) {
    for filled in 0..plan.boxes.len() {
        let Some(one) = plan.boxes.get(filled).filter(|one| one.spots.is_none()) else { continue };
        let Some(variant) = plan.variant(one) else { continue };
        let laid = place(one, &shipment.bundles, variant, effort, units);
        found.boxes.push(filled);
        found.unplaced.extend(laid.fault.map(|why| Breach {
            filled,
            label: one.label.clone(),
            what: format!("no places found that keep every rule: {why}"),
            kind: None,
            place: variant.container.place.clone(),
            given: Vec::new(),
            broken: Broken::Places,
        }));
        if let Some(one) = plan.boxes.get_mut(filled) {
            one.spots = laid.spots;
        }
    }
}
