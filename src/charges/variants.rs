//! The kinds of box a shipment can have: container type by road class, with limits and cost.

use std::collections::BTreeSet;

use smol_str::SmolStr;

use super::boxes::{KindOfBox, priced};
use super::caused::Caused;
use super::job::Desk;
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::load::{COST_LIMIT, Limits, Variant, Way, limited};
use crate::quantity::Money;
use crate::trade::{ContainerType, Leg, Shipment, Tariffs};

/// The kinds of box a shipment can be loaded in under a choice of offers: at least one.
pub(crate) fn variants<'a>(
    desk: Desk<'_, 'a>,
    caused: &Caused<'a>,
    report: &mut Report,
) -> Result<Vec<KindOfBox>, Reported> {
    let Desk { shipment, tariffs, choice, .. } = desk;
    let mut all: Vec<KindOfBox> = Vec::new();
    let mut scratch = Report::in_units(report.units());
    // Why kinds cannot be had that somebody filled, or asks for.
    let mut missed = Report::in_units(report.units());
    let asked = || shipment.boxes.iter().chain(&shipment.load.fixed);
    for container in types(shipment, tariffs) {
        let plate = match Limits::of_plate(container) {
            Ok(plate) => plate,
            Err(overflow) => {
                scratch.error(Fault::overflow(overflow, &container.place));
                continue;
            }
        };
        for class in classes(shipment, tariffs) {
            let mut rivals: Vec<Vec<KindOfBox>> = Vec::new();
            for offers in choice.each() {
                let way = Way { shipment, tariffs, container, class: class.as_deref(), offers };
                let bare = Variant {
                    container: container.clone(),
                    class: class.clone(),
                    offers: offers.clone(),
                    limits: plate.clone(),
                    roads: Vec::new(),
                    balance: shipment.load.balance.permille,
                    cost: Money::zero(shipment.yard.currency),
                    parts: Vec::new(),
                    caused: Money::zero(shipment.yard.currency),
                };
                let is_asked = asked().any(|given| bare.is_of(given));
                let why = if is_asked { &mut missed } else { &mut scratch };
                let tiers = priced(desk, bare, caused, why).and_then(|priced| {
                    let Some(priced) = priced else { return Ok(Vec::new()) };
                    let mut own = priced.variant().clone();
                    let found = limited(way, own.balance, report.units());
                    let found = found.map_err(|fault| why.error(*fault))?;
                    (own.limits, own.roads) = (found.limits, found.roads);
                    priced.by_tier(own, why)
                });
                let tiers = tiers.map(|mut tiers| {
                    tiers.retain(|kind| is_payable(&kind.variant, why));
                    tiers
                });
                // Why a kind cannot be had matters where none can, or somebody asks for it.
                rivals.extend(tiers.into_iter().filter(|tiers| !tiers.is_empty()));
            }
            all.extend(worth_having(rivals, shipment));
        }
    }
    let is_there = |given| all.iter().any(|kind| kind.variant.is_of(given));
    if missed.has_errors() && !asked().all(is_there) {
        report.absorb(missed);
        report.sound()?;
    }
    if all.is_empty() {
        if !scratch.has_errors() {
            return Err(report.error(no_box(shipment, tariffs)));
        }
        report.absorb(scratch);
        report.sound()?;
    }
    Ok(all)
}

/// A fault where a box costs more than the loader can count: no box does, so a row is wrong.
fn is_payable(variant: &Variant, report: &mut Report) -> bool {
    let most = Money::from_minor(COST_LIMIT, variant.cost.currency());
    let cost = variant.weighed();
    if cost.as_ref().is_ok_and(|cost| cost.amount() <= most.amount()) {
        return true;
    }
    let cost = cost.map_or_else(|overflow| overflow.to_string(), |cost| cost.to_string());
    let message = format!("a {} would cost {cost}", variant.label());
    let dearest = variant.parts.iter().max_by_key(|part| part.amount.amount());
    let place = dearest.map_or(&variant.container.place, |part| &part.place);
    report.add(
        Fault::error(Code::OutOfRange, message)
            .at(place, format!("expected at most {most} for all charges of a box"))
            .help("is the point or the rate of exchange right?"),
    );
    false
}

/// The kinds of one container and class, without those that another offer matches at no higher cost. A kind
/// stays where the better offer's boxes may run out, or where a given box names its offer.
fn worth_having(
    rivals: Vec<Vec<KindOfBox>>,
    shipment: &Shipment,
) -> impl Iterator<Item = KindOfBox> {
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
fn do_as_well(some: &[KindOfBox], others: &[KindOfBox], shipment: &Shipment) -> bool {
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
                && one.is_no_dearer(other)
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
    let here = |yard: &Option<SmolStr>| yard.as_ref().is_none_or(|yard| *yard == shipment.yard.id);
    let charges = tariffs.charges.iter().map(|row| &row.matches);
    let limits = tariffs.limits.iter().map(|row| &row.matches);
    let all = charges.chain(limits).chain(tariffs.rigs.iter().map(|rig| &rig.matches));
    let known: BTreeSet<&str> =
        all.filter(|m| here(&m.yard)).filter_map(|m| m.class.as_deref()).collect();
    if known.is_empty() {
        return vec![None];
    }
    known.into_iter().map(|class| Some(class.to_owned())).collect()
}
