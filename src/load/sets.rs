//! Which sets of securing.toml a box is held against on its way, and what its walls hold alone under one that is a rule.

use super::forces::{self, Asked, END, SIDE};
use super::road::Road;
use crate::fault::{At, Place};
use crate::quantity::{Mass, Percent};
use crate::trade::{Carriage, ContainerType, Doors, Lane, Push, SecuringSet, Shipment, Tariffs};

/// A set that serves a box, and which way the doors look there; on a ship either way.
pub(super) type Serving<'a> = (&'a SecuringSet, Option<Doors>);

/// The sets that serve a box: on its lane, and on its roads by the way that the doors look there. Then what no set
/// serves.
pub(super) fn serving<'a>(
    tariffs: &'a Tariffs,
    shipment: &Shipment,
    roads: &[(&Road, Doors)],
) -> (Vec<Serving<'a>>, Vec<String>) {
    let mut not_judged = Vec::new();
    let of = |by: Carriage, is_named: &dyn Fn(&SecuringSet) -> bool| -> Vec<&'a SecuringSet> {
        let own = || tariffs.securing.iter().filter(move |set| set.by == by);
        let named: Vec<_> = own().filter(|set| is_named(set)).collect();
        let is_for_all = |set: &&SecuringSet| set.lanes.is_empty() && set.roads.is_empty();
        if named.is_empty() { own().filter(is_for_all).collect() } else { named }
    };
    let is_lane = |set: &SecuringSet| {
        let sails =
            |lane: &At<Lane>| lane.from == shipment.from.code && lane.to == shipment.to.code;
        set.lanes.iter().any(sails)
    };
    let mut all: Vec<Serving<'a>> = Vec::new();
    let mut serve = |what: String, sets: Vec<&'a SecuringSet>, doors: Option<Doors>| {
        if sets.is_empty() && !not_judged.contains(&what) {
            not_judged.push(what);
        }
        all.extend(sets.into_iter().map(|set| (set, doors)));
    };
    serve("the voyage".to_owned(), of(Carriage::Sea, &is_lane), None);
    for at_origin in [true, false] {
        let mut own = roads.iter().filter(|(road, _)| road.at_origin == at_origin).peekable();
        if own.peek().is_none() {
            // Of a road that is not known, the doors look to the rear, as usual.
            let what = if at_origin { "the road to the port" } else { "the road from the port" };
            serve(what.to_owned(), of(Carriage::Road, &|_| false), Some(Doors::Rear));
        }
        for (road, doors) in own {
            let is_law =
                |set: &SecuringSet| set.roads.iter().any(|other| other.value == road.law.id);
            let what = format!("the road {}", road.law.id);
            serve(what, of(Carriage::Road, &is_law), Some(*doors));
        }
    }
    (all, not_judged)
}

/// A push against the friction under cargo.
pub(super) fn asked(push: &Push, friction: Percent) -> Asked {
    Asked {
        push: push.push.fraction(),
        weight: push.weight.fraction(),
        friction: friction.fraction(),
    }
}

/// What walls and friction alone hold under a set that is a rule.
pub(super) struct Cap {
    /// Its name.
    pub(super) name: String,
    /// The most cargo.
    pub(super) mass: Mass,
    /// The set.
    pub(super) place: Place,
}

/// What walls and friction alone hold of a container of a type, under each set that serves it and is a rule: r P /
/// (c - mu cz), the least of its directions. Both ends hold the same share, so that it hangs on no doors. The payload
/// is that of the type's plate.
pub(super) fn caps(
    tariffs: &Tariffs,
    shipment: &Shipment,
    (container, roads): (&ContainerType, &[Road]),
) -> Vec<Cap> {
    let Some(friction) = tariffs.friction.as_ref() else { return Vec::new() };
    let payload = container.payload().map_or(0, Mass::grams_down);
    let roads: Vec<(&Road, Doors)> = roads.iter().map(|road| (road, Doors::Rear)).collect();
    let (sets, _) = serving(tariffs, shipment, &roads);
    let mut caps: Vec<Cap> = Vec::new();
    for (set, _) in sets.into_iter().filter(|(set, _)| set.is_rule) {
        if caps.iter().any(|cap| cap.place == set.place) {
            continue;
        }
        let alone = [(END, &set.forward), (END, &set.aft), (SIDE, &set.sideways)];
        let alone = alone.into_iter().filter_map(|(share, push)| {
            forces::walls_alone(share, payload.into(), &asked(push, friction.of))
        });
        caps.extend(alone.min().map(|grams| Cap {
            name: format!("hold of walls, {}", set.name),
            mass: Mass::grams(grams),
            place: set.place.clone(),
        }));
    }
    caps
}
