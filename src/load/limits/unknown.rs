//! Limits known for one container type, but not for another that may be chosen.

use std::collections::BTreeSet;

use super::super::plan::Variant;
use super::stated::{Stretch, Way};
use crate::fault::Place;
use crate::trade::{Shipment, Tariffs};

/// A limit that the tables have for some container types of a lane, yard or road, but not for this one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unknown {
    /// What is not known, such as the name of a limit.
    pub what: String,
    /// Of which type and class of box.
    pub of: String,
    /// The types for which it is known.
    pub known_for: Vec<String>,
    /// Where it is stated for the first of them.
    pub place: Place,
}

/// The limits missing for each kind of box that may be chosen.
pub(crate) fn unknown(
    shipment: &Shipment,
    tariffs: &Tariffs,
    variants: &[Variant],
) -> Vec<Unknown> {
    let mut all: Vec<Unknown> = Vec::new();
    for variant in variants {
        let way = Way {
            shipment,
            tariffs,
            container: &variant.container,
            class: variant.class.as_deref(),
            offers: &variant.offers,
        };
        let mut known = limits(&way);
        known.extend(rigs(&way));
        for one in known {
            if !all.iter().any(|other| other.what == one.what && other.of == one.of) {
                all.push(one);
            }
        }
    }
    all
}

/// The other types of container that any row of limits or rigs is for.
fn others<'a>(way: &Way<'a>) -> BTreeSet<&'a str> {
    let limits = way.tariffs.limits.iter().map(|row| &row.matches);
    let rigs = way.tariffs.rigs.iter().map(|rig| &rig.matches);
    let named = limits.chain(rigs).filter_map(|matches| matches.container.as_deref());
    named.filter(|container| *container != way.container.id).collect()
}

fn limits(way: &Way<'_>) -> Vec<Unknown> {
    let own: Vec<_> = way.rows(&way.container.id);
    let mut all: Vec<Unknown> = Vec::new();
    for other in others(way) {
        for (row, stretch, day) in way.rows(other) {
            let is_known = own.iter().any(|(own, at, _)| own.name == row.name && *at == stretch);
            if row.valid.holds(day) && !is_known {
                add(&mut all, format!("\"{}\"", row.name), way, other, &row.place);
            }
        }
    }
    all
}

fn rigs(way: &Way<'_>) -> Vec<Unknown> {
    let mut all: Vec<Unknown> = Vec::new();
    for stretch in Stretch::ROADS {
        let (own, day) = way.rigs(stretch, &way.container.id);
        if own.iter().any(|rig| rig.valid.holds(day)) {
            continue;
        }
        let what = if stretch == Stretch::Origin {
            format!("axles of a rig to {}", way.shipment.from)
        } else {
            format!("axles of a rig from {}", way.shipment.to)
        };
        for other in others(way) {
            let (known, day) = way.rigs(stretch, other);
            if let Some(rig) = known.iter().find(|rig| rig.valid.holds(day)) {
                add(&mut all, what.clone(), way, other, &rig.place);
            }
        }
    }
    all
}

fn add(all: &mut Vec<Unknown>, what: String, way: &Way<'_>, other: &str, place: &Place) {
    let name = way.tariffs.container(other).map_or(other, |kind| kind.name.as_str()).to_owned();
    match all.iter_mut().find(|known| known.what == what) {
        Some(known) => known.known_for.push(name),
        None => {
            all.push(Unknown {
                what,
                of: way.label(),
                known_for: vec![name],
                place: place.clone(),
            });
        }
    }
}
