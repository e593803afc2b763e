//! Every charge of a job: the invoices, the bills of its boxes, the tables in their order; and whether every
//! leg has one.

use std::collections::BTreeSet;

use super::boxes::bills;
use super::goods::{Goods, goods};
use super::job::{Desk, Job};
use super::payments::Paid;
use super::rows::{look, run};
use super::schedule::Schedule;
use super::sums::{OfEntry, Sums};
use crate::bill::{Charge, Sets};
use crate::customs::Entry;
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::load::FilledBox;
use crate::price::{
    Order, Quantity, charged as comes_to, chosen_by, importer_bears, must_have_row, told_all,
};
use crate::quantity::{Currency, Decimal, Exact, Money, Overflow};
use crate::trade::{ChargeRow, Lane, Leg, Matches, Rate, Shipment, TableName, Treatment, WhatOf};

/// What a fee per entry would come to if everything were entered at once.
#[derive(Debug, Clone)]
pub struct Saving {
    /// The fee.
    pub name: String,
    /// How many entries bear it now.
    pub entries: usize,
    /// What they bear together.
    pub apart: Money,
    /// What one entry would bear.
    pub together: Money,
    /// The difference.
    pub saved: Money,
    /// Its row.
    pub place: Place,
}

/// Every charge of a job, not yet spread: enough to know what a choice of offers comes to.
#[derive(Debug)]
pub(crate) struct Charged {
    pub(crate) charges: Vec<Charge>,
    pub(crate) entries: Vec<Entry>,
    /// What is missing for memos of a seller's entries.
    pub(crate) missing: Vec<String>,
    pub(crate) savings: Vec<Saving>,
    pub(crate) plans: Vec<Vec<Paid>>,
    pub(crate) sets: Sets,
}

impl Charged {
    /// The sum of the charges in the slabs' cost.
    pub(crate) fn total(&self, currency: Currency) -> Result<Money, Overflow> {
        self.sum(currency, &[Treatment::Stock])
    }

    /// The decision cost: stock, expensed and notional charges. Choices are compared by it.
    pub(crate) fn decision(&self, currency: Currency) -> Result<Money, Overflow> {
        self.sum(currency, &DECISION)
    }

    fn sum(&self, currency: Currency, treatments: &[Treatment]) -> Result<Money, Overflow> {
        sum(&self.charges, currency, treatments)
    }
}

/// What charges of some treatments come to.
fn sum(
    charges: &[Charge],
    currency: Currency,
    treatments: &[Treatment],
) -> Result<Money, Overflow> {
    let chosen = charges.iter().filter(|charge| treatments.contains(&charge.treatment));
    Money::total(currency, chosen.map(Charge::book))
}

/// The treatments that a decision counts: choices are compared by them.
const DECISION: [Treatment; 3] = [Treatment::Stock, Treatment::Period, Treatment::Notional];

/// Works out every charge of a job, and sees that no leg is without.
pub(crate) fn charged<'a>(
    job: Job<'a>,
    order: &Order<'a>,
    sets: Sets,
    report: &mut Report,
) -> Result<Charged, Reported> {
    let (charged, served) = worked_out(job, order, sets, report)?;
    check_legs(&job, &served, report);
    report.sound()?;
    Ok(charged)
}

/// The decision cost of a job whose load was costed before: figures alone have moved since, so every leg has its row.
pub(crate) fn decision<'a>(
    job: Job<'a>,
    order: &Order<'a>,
    (sets, schedule): (Sets, Option<&'a Schedule>),
    report: &mut Report,
) -> Result<Money, Reported> {
    let sums = made(job, order, (sets, schedule), report)?;
    report.sound()?;
    let Shipment { yard, packing_file, .. } = job.shipment;
    report.fits(sum(&sums.charges, yard.currency, &DECISION), packing_file)
}

/// The charges of a job whose legs need not all have a row.
pub(crate) fn unchecked<'a>(
    job: Job<'a>,
    order: &Order<'a>,
    sets: Sets,
    report: &mut Report,
) -> Result<Vec<Charge>, Reported> {
    worked_out(job, order, sets, report).map(|(charged, _)| charged.charges)
}

/// The faults of a job that need no boxes, where its boxes cannot be had.
pub(crate) fn gather<'a>(job: Job<'a>, order: &Order<'a>, sets: Sets, report: &mut Report) {
    let _ = worked_out(job, order, sets, report);
}

/// Every charge of a job, and the legs for which there was a row.
fn worked_out<'a>(
    job: Job<'a>,
    order: &Order<'a>,
    sets: Sets,
    report: &mut Report,
) -> Result<(Charged, BTreeSet<Leg>), Reported> {
    let sums = made(job, order, (sets, None), report)?;
    let savings = savings(&job, &sums.by_entry);
    not_yet(&job, order, report);
    let Sums { sets, charges, plans, entries, missing, served, .. } = sums;
    Ok((Charged { charges, entries, missing, savings, plans, sets }, served))
}

/// Every charge of a job. What the `schedule` of its load knows is not looked for again.
fn made<'a>(
    job: Job<'a>,
    order: &Order<'a>,
    (mut sets, schedule): (Sets, Option<&'a Schedule>),
    report: &mut Report,
) -> Result<Sums<'a>, Reported> {
    let Job { shipment, tariffs, plan, choice } = job;
    let goods = goods(&job, &mut sets, report).inspect_err(|_| {
        let mut sums = Sums::of(shipment, sets.clone(), Goods::default(), None);
        look(job, &order.purposes, &mut sums, report);
    })?;
    let bills = told_all(bills(Desk { shipment, tariffs, choice, order }, plan), report)?;
    let mut sums = Sums::of(shipment, sets, goods, schedule);
    let known = schedule.and_then(|schedule| schedule.charges.get());
    sums.charges.reserve(known.copied().unwrap_or(0));
    run(job, order, &bills, &mut sums, report)?;
    if let Some(schedule) = schedule {
        schedule.charges.get_or_init(|| sums.charges.len());
    }
    Ok(sums)
}

/// Reports charges left out because their rows begin later. A row with the same purpose in force would
/// replace them.
fn not_yet(job: &Job<'_>, order: &Order<'_>, report: &mut Report) {
    let Job { shipment, plan, .. } = *job;
    let is_here = |row: &ChargeRow| {
        let of_kind = |filled: &FilledBox| {
            plan.variants.get(filled.variant).is_some_and(|variant| {
                let Matches { container, class, .. } = &row.matches;
                let own = container.as_ref().is_none_or(|id| *id == variant.container.id);
                own && class
                    .as_ref()
                    .is_none_or(|one| variant.class.as_deref() == Some(one.as_str()))
            })
        };
        let mut stones = shipment.lines.iter().map(|line| &line.stone.value);
        let stone = row.matches.stone.as_ref();
        (!row.is_by_kind() || plan.boxes.iter().any(of_kind))
            && stone.is_none_or(|own| stones.any(|stone| stone == own))
    };
    for purpose in &order.purposes {
        for row in &purpose.rows {
            let event = chosen_by(row.table, row.leg);
            let on = shipment.dates.of(event);
            if row.valid.from <= on || !is_here(row) {
                continue;
            }
            let serves = |other: &&ChargeRow| {
                other.matches.fit(&row.matches)
                    && other.offer.as_ref().is_none_or(|offer| Some(offer) == row.offer.as_ref())
            };
            let mut others = purpose.rows.iter().copied().filter(serves);
            if others.any(|other| other.valid.from <= on) {
                continue;
            }
            let message = format!(
                "\"{}\" is not charged: its row begins after {on} ({})",
                row.name,
                event.word()
            );
            report.add(
                Fault::warning(Code::LapsedRate, message)
                    .at(&row.place, format!("in force {}", row.valid))
                    .help("add the row of that day; where there was no such charge, all is well"),
            );
        }
    }
}

/// What one entry over all would save, fee by fee: only for rows that serve every entry alike.
fn savings(job: &Job<'_>, by_entry: &[OfEntry]) -> Vec<Saving> {
    let mut rows: Vec<&Place> = Vec::new();
    for (row, ..) in by_entry {
        if !rows.contains(&row) {
            rows.push(row);
        }
    }
    let terms = job.terms();
    let saving = |place: &Place| {
        let row = job.tariffs.charges.iter().find(|row| row.place == *place)?;
        let own = || by_entry.iter().filter(|(one, ..)| one == place);
        let currency = own().next()?.2.currency();
        let apart = Money::total(currency, own().map(|one| one.2)).ok()?;
        let bases: Option<Vec<Money>> = own().map(|one| one.1).collect();
        let together = match (&row.rate.value, bases) {
            (Rate::Percent(_, WhatOf::EnteredValue), Some(bases)) => {
                let base = Money::total(bases.first()?.currency(), bases).ok()?;
                comes_to(row, Quantity::Of(&Exact::from(base)), &terms).ok()?.0
            }
            (Rate::Amount(_), None) => comes_to(row, Quantity::Count(Decimal::ONE), &terms).ok()?.0,
            _ => return None,
        };
        let saved = apart.minus(together).ok()?;
        let is_less = !saved.is_negative() && !saved.is_zero();
        let (name, entries) = (row.name.clone(), own().count());
        let place = place.clone();
        is_less.then_some(Saving { name, entries, apart, together, saved, place })
    };
    rows.into_iter().filter_map(saving).collect()
}

/// Every leg that the importer bears needs a charge: a missing rate would only show as a cost
/// that is pleasantly low.
fn check_legs(job: &Job<'_>, served: &BTreeSet<Leg>, report: &mut Report) {
    let shipment = job.shipment;
    for (leg, _) in Leg::ALL {
        let bearing = shipment.invoices.iter().find(|invoice| importer_bears(invoice, leg));
        let Some(invoice) = bearing.filter(|_| leg != Leg::Goods && !served.contains(&leg)) else {
            continue;
        };
        let table = home(leg).word();
        let date = shipment.dates.of(chosen_by(home(leg), leg));
        let message = format!(
            "rates/{table}.toml has no row for \"{}\", which the importer pays under {} (lane {}, yard {}, {date})",
            leg.word(),
            *invoice.term,
            shipment.lane,
            shipment.yard.id
        );
        let mut fault = if must_have_row(leg) {
            Fault::error(Code::NoRate, message)
        } else {
            Fault::warning(Code::NoRate, message)
        };
        fault = fault.at(&invoice.term.place, "the delivery term");
        let near = job.tariffs.charges.iter().filter(|row| row.leg == leg);
        for row in near.take(2) {
            fault = fault.also(&row.place, near_label(row));
        }
        let turned = |row: &&ChargeRow| {
            row.leg == leg
                && row.matches.lane.as_ref().is_some_and(|lane| is_turned(lane, &shipment.lane))
        };
        if let Some(row) = job.tariffs.charges.iter().find(turned) {
            let own = row.matches.lane.as_ref().map(ToString::to_string).unwrap_or_default();
            fault = fault.help(format!(
                "there is the lane {own}, which runs the other way: if it is turned round, write lane = \"{}\" there",
                shipment.lane
            ));
        }
        report.add(fault.help(
            "add the row; if there is nothing to pay, add it with amount = \"0 USD\", or name the leg in the invoice's `includes`",
        ));
    }
}

/// Whether a lane is another turned round.
fn is_turned(lane: &str, other: &Lane) -> bool {
    lane.split_once('-')
        .is_some_and(|(from, to)| from == other.to.code() && to == other.from.code())
}

fn near_label(row: &ChargeRow) -> String {
    let keys: Vec<String> =
        row.matches.given().map(|(name, value)| format!("{name} {value}")).collect();
    format!("there is this one: {}, in force {}", keys.join(", "), row.valid)
}

/// The table where a leg's rows belong.
fn home(leg: Leg) -> TableName {
    match leg {
        Leg::ExportPacking | Leg::OriginLoading | Leg::PreCarriage | Leg::ExportClearance => {
            TableName::Crating
        }
        Leg::OriginTerminal
        | Leg::LoadingOnBoard
        | Leg::MainCarriage
        | Leg::DestinationTerminal => TableName::Freight,
        Leg::OnCarriage => TableName::Drayage,
        Leg::Goods | Leg::Insurance | Leg::ImportClearance | Leg::DutyAndTax | Leg::Unloading => {
            TableName::Fees
        }
    }
}
