//! Names that refer to nothing, and rows that serve one purpose twice.

use std::collections::BTreeMap;

use super::super::keys::Named;
use super::super::{slips, table};
use crate::fault::{At, Code, Fault, Place, Report};
use crate::trade::{ContainerType, Date, TariffRow, Tariffs, WhatOf, Window};

/// Names in the tables must be those of rows of other tables.
pub(super) fn check_references(
    tariffs: &Tariffs,
    names: &[(Named, At<String>)],
    report: &mut Report,
) {
    let containers: Vec<&str> = tariffs.containers.iter().map(|row| row.id.as_str()).collect();
    let yards: Vec<&str> = tariffs.yards.iter().map(|row| row.id.as_str()).collect();
    let stones: Vec<&str> = tariffs.stones.iter().map(|row| row.id.as_str()).collect();
    let regimes: Vec<&str> = tariffs.regimes.iter().map(|row| row.id.as_str()).collect();
    let finishes: Vec<&str> = tariffs.finishes.iter().map(|row| row.id.as_str()).collect();
    let qualities: Vec<&str> = tariffs.qualities.iter().map(|row| row.id.as_str()).collect();
    for (named, name) in names {
        let (what, home, known) = match named {
            Named::Container => ("container type", "rates/containers.toml", &containers),
            Named::Yard => ("yard", "rates/yards.toml", &yards),
            Named::Stone => ("stone", "rates/stones.toml", &stones),
            Named::Finish => ("finish", "rates/stones.toml", &finishes),
            Named::Quality => ("quality", "rates/stones.toml", &qualities),
            Named::Regime => ("regime", "rates/duty.toml", &regimes),
        };
        if !known.contains(&name.value.as_str()) {
            table::add_unknown(what, name, home, known, report);
        }
    }
}

/// What stands in two places, of which one may be kept.
fn twice(message: String, [first, again]: [&Place; 2], help: &str) -> Fault {
    Fault::error(Code::Duplicate, message)
        .at(again, "again here")
        .also(first, "first here")
        .help(help)
}

/// The lanes and roads that sets of securing.toml name: each once, and the roads where any are known.
pub(super) fn check_securing(tariffs: &Tariffs, report: &mut Report) {
    let known: Vec<&str> = tariffs.roads.iter().map(|row| row.id.as_str()).collect();
    for road in tariffs.securing.iter().flat_map(|set| &set.roads) {
        if !known.is_empty() && !known.contains(&road.value.as_str()) {
            table::add_unknown("road", road, "rates/roads.toml", &known, report);
        }
    }
    let mut seen: BTreeMap<(&str, String), &Place> = BTreeMap::new();
    for set in &tariffs.securing {
        let lanes = set.lanes.iter().map(|lane| ("lane", lane.value.to_string(), &lane.place));
        let roads = set.roads.iter().map(|road| ("road", road.value.clone(), &road.place));
        for (what, name, place) in lanes.chain(roads) {
            let message = format!("{what} \"{name}\" is named twice");
            if let Some(first) = seen.insert((what, name), place) {
                let help = format!("one set serves a {what}: name it once");
                report.add(twice(message, [first, place], &help));
            }
        }
    }
}

/// A percentage of a charge that does not exist: most likely another word for a value.
pub(super) fn check_values(tariffs: &Tariffs, report: &mut Report) {
    const VALUES: [&str; 5] =
        ["goods", "entered value", "taxed value", "insured value", "payments"];
    for row in &tariffs.charges {
        let Some(WhatOf::Charge(name)) = row.rate.value.of() else { continue };
        let is_charge = tariffs.charges.iter().any(|one| one.name == *name);
        let meant = slips::other_word(name, &VALUES).filter(|_| !is_charge);
        if let Some(value) = meant {
            let message = format!("no charge is called \"{name}\"");
            report.add(
                Fault::error(Code::UnknownReference, message)
                    .at(&row.rate.place, format!("a percentage of \"{name}\""))
                    .help(format!("write of = \"{value}\"")),
            );
        }
    }
}

/// Things that one name is given to twice.
pub(super) fn check_duplicates(tariffs: &Tariffs, report: &mut Report) {
    let stones = tariffs.stones.iter().map(|row| ("stones", row.id.clone(), &row.place));
    let containers =
        tariffs.containers.iter().map(|row| ("container types", row.id.clone(), &row.place));
    let yards = tariffs.yards.iter().map(|row| ("yards", row.id.clone(), &row.place));
    let finishes = tariffs.finishes.iter().map(|row| ("finishes", row.id.clone(), &row.place));
    let qualities =
        tariffs.qualities.iter().map(|row| ("qualities", row.id.to_string(), &row.place));
    let ports = tariffs.ports.iter().map(|row| ("ports", row.code.to_string(), &row.place));
    let sets = tariffs.securing.iter().map(|row| ("sets", row.id.clone(), &row.place));
    let mut seen: BTreeMap<(&str, String), &Place> = BTreeMap::new();
    let all = stones.chain(finishes).chain(qualities).chain(containers).chain(yards);
    let all = all.chain(ports).chain(sets);
    for (what, id, place) in all {
        let message = format!("two {what} are called \"{id}\"");
        if let Some(first) = seen.insert((what, id), place) {
            report.add(twice(
                message,
                [first, place],
                "give one of them another `id`, or remove it",
            ));
        }
    }
    let mut names: BTreeMap<&str, &ContainerType> = BTreeMap::new();
    for kind in &tariffs.containers {
        if let Some(first) = names.insert(&kind.name, kind).filter(|first| first.id != kind.id) {
            let message = format!("two container types have the name \"{}\"", kind.name);
            let help = "pages tell types apart by `name`: give one of them another";
            report.add(twice(message, [&first.place, &kind.place], help));
        }
    }
    for stone in &tariffs.stones {
        let mut lines: BTreeMap<_, &TariffRow> = BTreeMap::new();
        for row in &stone.tariff {
            let key = (&row.regime, &row.finish, (row.faces, row.edges), &row.form);
            let Some(first) = lines.insert(key, row) else {
                continue;
            };
            let message = format!("stone \"{}\" has two tariff lines for one finish", stone.id);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&row.place, row.line.clone())
                    .also(&first.place, first.line.clone())
                    .help("keep one of them, or say which `finish` each is for"),
            );
        }
    }
}

/// Two rows that say what cannot be used of one stone.
pub(super) fn check_allowances(tariffs: &Tariffs, report: &mut Report) {
    let mut seen: BTreeMap<(&str, Option<&str>), &Place> = BTreeMap::new();
    for row in &tariffs.usable {
        let Some(first) = seen.insert((&row.stone, row.quality.as_deref()), &row.place) else {
            continue;
        };
        let message = format!("two rows say what is usable of \"{}\"", row.stone);
        let help = "keep one of them, or say which `quality` each is for";
        report.add(twice(message, [first, &row.place], help));
    }
}

/// A row that alone may serve its purpose: what makes the purpose, and its name to the user.
struct Serving<'a> {
    key: String,
    what: String,
    by_offer: bool,
    window: Window,
    place: &'a Place,
}

/// What to do with two rows of one purpose: the older ends the day before the newer begins.
fn to_part(older: Date, newer: Date, by_offer: bool) -> String {
    let offers = if by_offer { "give them different offers, " } else { "" };
    match newer.pred_opt().filter(|last| *last >= older) {
        Some(last) => format!(
            "end the older row before the newer begins, valid = \"{older}..{last}\", {offers}or remove one"
        ),
        None => format!("{offers}end one before the other begins, or remove one"),
    }
}

/// Two rows for one purpose whose windows share a day.
pub(super) fn check_overlaps(tariffs: &Tariffs, report: &mut Report) {
    let charges = tariffs.charges.iter().map(|row| {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        Serving {
            key: format!("charge {} {:?} {given:?} {offer}", row.name, row.table),
            what: format!("\"{}\"", row.name),
            by_offer: true,
            window: row.valid,
            place: &row.place,
        }
    });
    let limits = tariffs.limits.iter().map(|row| {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        Serving {
            key: format!("limit {} {given:?} {offer}", row.name),
            what: format!("the limit \"{}\"", row.name),
            by_offer: true,
            window: row.valid,
            place: &row.place,
        }
    });
    let rigs = tariffs.rigs.iter().map(|row| {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        Serving {
            key: format!("rig {given:?} {offer}"),
            what: format!("the rig \"{}\"", row.id),
            by_offer: true,
            window: row.valid,
            place: &row.place,
        }
    });
    let roads = tariffs.roads.iter().map(|row| Serving {
        key: format!("road {}", row.id),
        what: format!("the road \"{}\"", row.id),
        by_offer: false,
        window: row.valid,
        place: &row.place,
    });
    let duties = tariffs.duties.iter().map(|row| {
        let layer = if row.is_base() { "base duty" } else { row.name.as_str() };
        let (kind, whose) = (row.kind.word(), (&row.producer, &row.programme, &row.loaded));
        Serving {
            key: format!("{kind} {layer} {} {} {:?} {whose:?}", row.regime, row.line, row.origins),
            what: format!("the {layer} on {}", row.line),
            by_offer: false,
            window: row.valid,
            place: &row.place,
        }
    });
    let exchange = tariffs.exchange.iter().map(|row| {
        let mut pair = [row.quote.base().code(), row.quote.counter().code()];
        pair.sort_unstable();
        let used_for = row.used_for.word();
        Serving {
            key: format!("exchange {used_for} {pair:?}"),
            what: format!("{} and {}, use \"{used_for}\"", pair[0], pair[1]),
            by_offer: false,
            window: row.valid,
            place: &row.place,
        }
    });
    let regimes = tariffs.regimes.iter().map(|row| Serving {
        key: format!("regime {}", row.id),
        what: format!("regime \"{}\"", row.id),
        by_offer: false,
        window: row.valid,
        place: &row.place,
    });
    let bonds = tariffs.bonds.iter().map(|row| Serving {
        key: format!("bond {}", row.regime),
        what: format!("the [[bond]] of \"{}\"", row.regime),
        by_offer: false,
        window: row.valid,
        place: &row.place,
    });
    let single = charges.chain(limits).chain(rigs).chain(roads).chain(duties).chain(exchange);
    let mut seen: BTreeMap<String, Vec<(Window, &Place)>> = BTreeMap::new();
    for row in single.chain(regimes).chain(bonds) {
        let earlier = seen.entry(row.key).or_default();
        if let Some((other, first)) = earlier.iter().find(|(other, _)| other.meets(&row.window)) {
            let day = other.from.max(row.window.from);
            let help = to_part(other.from.min(row.window.from), day, row.by_offer);
            report.add(
                Fault::error(Code::AmbiguousRate, format!("two rows serve {} on {day}", row.what))
                    .at(row.place, format!("in force {}", row.window))
                    .also(first, format!("in force {other}"))
                    .help(help),
            );
        }
        earlier.push((row.window, row.place));
    }
}
