//! The kinds of box a shipment can have: container type by road class, with limits and cost.

use std::collections::BTreeSet;

use super::boxes::{Desk, Kind};
use crate::fault::{Code, Fault, Place, Report};
use crate::load::{Basis, Limit, Road, Variant, road_limits};
use crate::price::asked;
use crate::quantity::Money;
use crate::trade::{
    ContainerType, Date, Leg, LimitKind, LimitOn, LimitRow, Lookup, Rig, Shipment, TableName,
    Tariffs,
};

/// The kinds of box a shipment can be loaded in under a choice of offers. `None`: there is none, and
/// the fault is in the report.
pub(super) fn variants(desk: Desk<'_, '_>, report: &mut Report) -> Option<Vec<Kind>> {
    let Desk { shipment, tariffs, choice, .. } = desk;
    let mut all = Vec::new();
    let mut scratch = Report::new();
    for container in types(shipment, tariffs) {
        for class in classes(shipment, tariffs) {
            let mut rivals: Vec<Vec<Kind>> = Vec::new();
            for offers in choice.each() {
                let bare = Variant {
                    container: container.clone(),
                    class: class.clone(),
                    offers: offers.clone(),
                    limits: Vec::new(),
                    roads: Vec::new(),
                    balance: shipment.load.balance.permille,
                    cost: Money::zero(shipment.yard.currency),
                    parts: Vec::new(),
                };
                let tiers = desk.priced(bare, &mut scratch).and_then(|priced| {
                    let bare = priced.variant().clone();
                    let limited = limit(shipment, tariffs, bare, &mut scratch)?;
                    priced.by_tier(limited, &mut scratch)
                });
                rivals.extend(tiers);
            }
            all.extend(worth_having(rivals, shipment));
        }
    }
    if !all.is_empty() {
        return Some(all);
    }
    if scratch.has_errors() {
        report.absorb(scratch);
    } else {
        report.add(no_box(shipment, tariffs));
    }
    None
}

/// The kinds of one container and class without those of an offer that another's do as well as, for
/// no more: unless the better offer's boxes may run out, or a box is said to go by the other.
fn worth_having(rivals: Vec<Vec<Kind>>, shipment: &Shipment) -> impl Iterator<Item = Kind> {
    let is_beaten = |at: usize| {
        let Some(own) = rivals.get(at) else { return false };
        let mut others = rivals.iter().enumerate();
        others.any(|(other_at, other)| {
            other_at != at
                && do_as_well(other, own, shipment)
                && (other_at < at || !do_as_well(own, other, shipment))
        })
    };
    let kept: Vec<bool> = (0..rivals.len()).map(|at| !is_beaten(at)).collect();
    rivals.into_iter().zip(kept).filter(|(_, is_kept)| *is_kept).flat_map(|(kinds, _)| kinds)
}

/// Whether some kinds carry what others carry, tier by tier, for no more.
fn do_as_well(some: &[Kind], others: &[Kind], shipment: &Shipment) -> bool {
    let roads = |variant: &Variant| -> Vec<(Place, Place)> {
        let all = variant.roads.iter();
        all.map(|road| (road.rig.place.clone(), road.law.place.clone())).collect()
    };
    let mut pairs = some.iter().zip(others);
    some.len() == others.len()
        && pairs.all(|(one, other)| {
            let (one_box, other_box) = (&one.variant, &other.variant);
            let mut had = shipment.load.available.iter();
            let is_scarcer = had.any(|had| one_box.is_had(had) && !other_box.is_had(had));
            let mut said = shipment.boxes.iter().chain(&shipment.load.fixed);
            let is_said = said.any(|given| other_box.is_of(given) && !one_box.is_of(given));
            !is_scarcer
                && !is_said
                && one.variant.cost.amount() <= other.variant.cost.amount()
                && one.for_bound().cost.amount() <= other.for_bound().cost.amount()
                && one.variant.limits == other.variant.limits
                && one.top.as_ref().map(|top| top.cargo) == other.top.as_ref().map(|top| top.cargo)
                && roads(&one.variant) == roads(&other.variant)
        })
}

fn no_box(shipment: &Shipment, tariffs: &Tariffs) -> Fault {
    let date = shipment.dates.sails;
    let message = format!(
        "no container type has its rates on {} to {} ({date})",
        shipment.lane, shipment.yard.id
    );
    let mut fault = Fault::error(Code::NoRate, message)
        .at(&shipment.packing_file, "this shipment")
        .help("add rows per container for its main carriage and on-carriage in force on that date");
    let near = tariffs.charges.iter().filter(|row| row.leg == Leg::MainCarriage);
    for row in near.take(3) {
        let lane = row.matches.lane.as_deref().unwrap_or("any lane");
        fault = fault.also(&row.place, format!("there is {lane}, in force {}", row.valid));
    }
    fault
}

/// The types to try: those the shipment or its boxes name, or all in the table.
fn types<'a>(shipment: &Shipment, tariffs: &'a Tariffs) -> Vec<&'a ContainerType> {
    let mut named: BTreeSet<&str> =
        shipment.containers.iter().map(|kind| kind.value.as_str()).collect();
    let given = shipment.boxes.iter().filter_map(|one| one.kind.as_ref());
    named.extend(given.map(|kind| kind.value.as_str()));
    if !named.is_empty() {
        let fixed = shipment.load.fixed.iter().filter_map(|one| one.kind.as_ref());
        named.extend(fixed.map(|kind| kind.value.as_str()));
    }
    let wanted =
        |container: &&ContainerType| named.is_empty() || named.contains(container.id.as_str());
    tariffs.containers.iter().filter(wanted).collect()
}

/// The road classes to try: the pinned one, or those that rows for the yard know.
fn classes(shipment: &Shipment, tariffs: &Tariffs) -> Vec<Option<String>> {
    if let Some(class) = &shipment.class {
        return vec![Some(class.value.clone())];
    }
    let here = |yard: &Option<String>| yard.as_ref().is_none_or(|yard| *yard == shipment.yard.id);
    let charges = tariffs.charges.iter().map(|row| &row.matches);
    let limits = tariffs.limits.iter().map(|row| &row.matches);
    let all = charges.chain(limits).chain(tariffs.rigs.iter().map(|rig| &rig.matches));
    let known: BTreeSet<String> =
        all.filter(|m| here(&m.yard)).filter_map(|m| m.class.clone()).collect();
    if known.is_empty() { vec![None] } else { known.into_iter().map(Some).collect() }
}

/// Gathers everything that limits the cargo of a box: its plate, the carrier's cap, the road.
fn limit(
    shipment: &Shipment,
    tariffs: &Tariffs,
    mut variant: Variant,
    report: &mut Report,
) -> Option<Variant> {
    let container = &variant.container;
    let payload = match container.payload() {
        Ok(payload) => payload,
        Err(overflow) => {
            report.add(
                Fault::error(Code::Overflow, overflow.to_string()).at(&container.place, "here"),
            );
            return None;
        }
    };
    let mut limits = vec![Limit {
        name: "plate payload".to_owned(),
        kind: LimitKind::Equipment,
        basis: Basis::Gross,
        cargo: payload,
        place: container.place.clone(),
    }];
    let fitting: Vec<(&LimitRow, Date)> =
        tariffs.limits.iter().filter_map(|row| applies(shipment, &variant, row)).collect();
    for (row, date) in &fitting {
        if !row.valid.holds(*date) {
            let mut same = fitting.iter().filter(|(other, _)| other.name == row.name);
            if row.valid.from <= *date && !same.any(|(other, date)| other.valid.holds(*date)) {
                let message = format!("limit \"{}\" is not in force on {date}", row.name);
                report.add(
                    Fault::error(Code::LapsedRate, message)
                        .at(&row.place, format!("in force {}", row.valid))
                        .help("add its row for that date; if it no longer holds, remove its rows"),
                );
                return None;
            }
            continue;
        }
        let (basis, cargo) = match row.on {
            LimitOn::Cargo => (Basis::Cargo, row.mass),
            LimitOn::Gross => (Basis::Gross, row.mass.minus(container.tare).ok()?),
        };
        limits.push(Limit {
            name: row.name.clone(),
            kind: row.kind,
            basis,
            cargo,
            place: row.place.clone(),
        });
    }
    variant.limits = limits;
    variant.roads = roads(shipment, tariffs, &variant, report)?;
    match road_limits(&variant) {
        Ok(limits) => variant.limits.extend(limits),
        Err(overflow) => {
            let place = variant.roads.first().map_or(&variant.container.place, |r| &r.rig.place);
            report.add(
                Fault::error(Code::Overflow, overflow.to_string())
                    .at(place, "from the measures of this rig")
                    .help("give them in whole millimetres or inches and whole kilograms or pounds"),
            );
            return None;
        }
    }
    if let Some(limit) = variant.limits.iter().find(|limit| limit.cargo <= container.securing) {
        let message = format!(
            "{} leaves a {} {} for cargo, its dunnage counted",
            limit.name,
            variant.label(),
            limit.cargo
        );
        report.add(
            Fault::error(Code::OutOfRange, message)
                .at(&limit.place, "from this row")
                .help("check the tares and the limit: nothing could be loaded"),
        );
        return None;
    }
    Some(variant)
}

/// The day that a limit is asked for, where its row fits a box and is of the chosen offer.
fn applies<'a>(
    shipment: &Shipment,
    variant: &Variant,
    row: &'a LimitRow,
) -> Option<(&'a LimitRow, Date)> {
    let at_origin = row.matches.port.as_ref().is_some_and(|port| at_origin(shipment, port));
    let (table, leg, date) = if row.at_sea {
        (TableName::Freight, Leg::MainCarriage, shipment.dates.sails)
    } else if at_origin {
        (TableName::Drayage, Leg::PreCarriage, shipment.dates.sails)
    } else {
        (TableName::Drayage, Leg::OnCarriage, shipment.dates.delivered)
    };
    let asked = asked(shipment, leg, Some(&variant.key()));
    let is_asked = row.matches.fit(&asked) && variant.offers.takes(table, row.offer.as_deref());
    is_asked.then_some((row, date))
}

/// Whether a row or rig that names a port is for the road to the port of loading.
fn at_origin(shipment: &Shipment, port: &str) -> bool {
    shipment.lane.from.code() == port && shipment.lane.to.code() != port
}

/// The rigs that carry a box: from the works to the port of loading, and from the port of discharge
/// to the yard. Where there is no row for a rig, nothing is known of its axles.
fn roads(
    shipment: &Shipment,
    tariffs: &Tariffs,
    variant: &Variant,
    report: &mut Report,
) -> Option<Vec<Road>> {
    let mut all = Vec::new();
    for is_origin in [true, false] {
        let (leg, date) = if is_origin {
            (Leg::PreCarriage, shipment.dates.sails)
        } else {
            (Leg::OnCarriage, shipment.dates.delivered)
        };
        let asked = asked(shipment, leg, Some(&variant.key()));
        let mut fitting: Vec<&Rig> = tariffs
            .rigs
            .iter()
            .filter(|rig| {
                let port = rig.matches.port.as_ref();
                port.is_some_and(|port| at_origin(shipment, port)) == is_origin
                    && rig.matches.fit(&asked)
                    && variant.offers.takes(TableName::Drayage, rig.offer.as_deref())
            })
            .collect();
        let known = fitting.clone();
        fitting.retain(|rig| rig.valid.holds(date));
        // A law does not end because a row did; what is all to come does not apply yet.
        if let Some(ended) = known.iter().find(|rig| rig.valid.from <= date)
            && fitting.is_empty()
        {
            let message = format!("no rig for a {} is in force on {date}", variant.label());
            report.add(
                Fault::error(Code::LapsedRate, message)
                    .at(&ended.place, format!("in force {}", ended.valid))
                    .help("add the rig of that date to rates/rigs.toml; if none runs there any more, remove its rows: then nothing is known of its axles"),
            );
            return None;
        }
        if let [one, other, ..] = fitting[..] {
            let message = format!("two rigs carry a {} on {date}", variant.label());
            report.add(
                Fault::error(Code::AmbiguousRate, message)
                    .at(&one.place, "this rig")
                    .also(&other.place, "and this one")
                    .help("tell them apart by yard, container or class, or remove one"),
            );
            return None;
        }
        let Some(rig) = fitting.first() else { continue };
        match tariffs.road(&rig.road.value, date) {
            Lookup::Found(law) => {
                all.push(Road { rig: (*rig).clone(), law: law.clone(), at_origin: is_origin });
            }
            _ => {
                let message = format!("road {} has no row in force on {date}", rig.road.value);
                report.add(
                    Fault::error(Code::LapsedRate, message)
                        .at(&rig.road.place, "this rig's road")
                        .help("add its row to rates/roads.toml"),
                );
                return None;
            }
        }
    }
    Some(all)
}
