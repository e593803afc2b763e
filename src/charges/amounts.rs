//! The charge of a row for one object: its amount, and the parts common to all charges of the row.

use std::sync::Arc;

use smol_str::SmolStr;

use super::attributed::attributed;
use super::bases::{base, of_what};
use super::finance::all_flows;
use super::job::Job;
use super::keys::{charged_on, key_of};
use super::schedule::{KnownRow, Tally};
use super::scopes::scope;
use super::sums::{Asked, Sums, Turn};
use crate::bill::{Base, Booked, Charge, ChargeKind, Customs, Working};
use crate::customs::{Entry, only_filing};
use crate::fault::{Report, Reported};
use crate::price::{self, Payable, Priced, Quantity, Terms, goes_by_entry, told};
use crate::trade::{ChargeRow, Dates, Leg, Per, Rate, WhatOf};

/// How many answers are remembered: a handful of rows and variants take turns.
const MEMO: usize = 32;

/// The charge of a row for an object.
pub(super) fn charge(
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    (row, known): (&ChargeRow, Option<&KnownRow>),
    object: Tally,
    report: &mut Report,
) -> Result<(), Reported> {
    let base = match row.rate.value.of() {
        None => None,
        Some(of) => Some(base(turn, sums, (row, of), &object, report)?),
    };
    charge_on(turn, sums, (row, known), (object, base), report)
}

/// The charge of a row for an object, on a base that is known.
pub(super) fn charge_on(
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    (row, of_row): (&ChargeRow, Option<&KnownRow>),
    (object, base): (Tally, Option<Base>),
    report: &mut Report,
) -> Result<(), Reported> {
    let dates = dates(turn, sums, row, &object);
    let of = base.as_ref().map(|base| base.amount.clone());
    let (count, entered, entry) = (object.count, dates.entered, turn.entry);
    let asked = Asked { row, count, base: of.clone(), entered, entry };
    // The last answer first: many objects of one row ask one after the other.
    let known = sums.memo.iter().rev().find(|(known, ..)| *known == asked);
    let (kind, booked) = match known {
        Some((_, kind, booked)) => (kind.clone(), booked.clone()),
        None => {
            if !row.by_importer {
                sums.served.insert(row.leg);
            }
            let terms = turn.job.terms().on(dates);
            let flows;
            let quantity = match (row.rate.value.of(), &base) {
                (Some(WhatOf::Payments), _) => {
                    let all = all_flows(&sums.charges, &sums.plans);
                    flows = report.fits(all, &row.rate.place)?;
                    Quantity::Paid(&flows)
                }
                (_, Some(base)) => Quantity::Of(&base.amount),
                (_, None) => Quantity::Count(count),
            };
            let priced = told(price::amount(row, quantity, &terms), report)?;
            let kind = kind_of((turn.job, &sums.charges), (row, of_row), priced.due);
            let booked = Arc::new(booked(&terms, sums.entry(turn), row, priced, base));
            if sums.memo.len() == MEMO {
                sums.memo.pop_front();
            }
            sums.memo.push_back((asked, kind.clone(), booked.clone()));
            (kind, booked)
        }
    };
    if row.per == Per::Entry && turn.entry.is_some() {
        let of = of.and_then(|of| of.round().ok());
        sums.by_entry.push((row.place.clone(), of, booked.amount));
    }
    if !booked.amount.is_zero() {
        let on = object.on;
        let scope = scope(turn, sums, row, object, report)?;
        let charge = Charge { kind, on, scope, booked, by: None };
        let charge = attributed(turn.job.shipment, sums, charge, report)?;
        sums.charges.push(charge);
    }
    Ok(())
}

/// The dates of a row on an object: those of the entry that holds the whole object, or the shipment's where
/// several entries do.
fn dates(turn: Turn<'_>, sums: &Sums<'_>, row: &ChargeRow, object: &Tally) -> Dates {
    let shipment = turn.job.shipment;
    let dates = sums.dates(turn);
    if turn.entry.is_some() || shipment.filings.len() < 2 || !goes_by_entry(row) {
        return dates;
    }
    let filing = only_filing(shipment, sums.sets.members(object.on.set));
    Dates { entered: filing.map_or(dates.entered, |filing| filing.entered), ..dates }
}

/// What the row's charges have in common: what is known of it, where it is paid on the same day.
pub(super) fn kind_of(
    (job, charges): (Job<'_>, &[Charge]),
    (row, known): (&ChargeRow, Option<&KnownRow>),
    payable: Payable,
) -> Arc<ChargeKind> {
    let made = || Arc::new(kind(job, charges, row, payable));
    let known = known.and_then(|known| known.kind.as_ref()).map(|kind| kind.get_or_init(made));
    known.filter(|kind| kind.payable == payable).cloned().unwrap_or_else(made)
}

/// What the row's charges have in common.
fn kind(job: Job<'_>, charges: &[Charge], row: &ChargeRow, payable: Payable) -> ChargeKind {
    // 19 U.S.C. 1401a(b)(1)(A): packing costs borne by the buyer are part of the value.
    let customs = if row.leg == Leg::ExportPacking { Customs::In } else { Customs::Out };
    let charged_on = charged_on(row, charges);
    let mut kind = ChargeKind {
        key: key_of(row, charged_on, &job.shipment.yard),
        is_keyed: row.key.is_some(),
        charged_on,
        treatment: row.treatment,
        basis: row.basis,
        customs,
        table: Some((row.table, row.offer.as_deref().map(SmolStr::from))),
        valid: Some(row.valid),
        ..ChargeKind::of(&row.name, row.leg, &row.rate.place, payable)
    };
    job.apply_policy(&mut kind);
    kind
}

/// What a row comes to, with the words that `explain` has for it.
pub(super) fn booked(
    terms: &Terms<'_>,
    entry: Option<&Entry>,
    row: &ChargeRow,
    priced: Priced,
    base: Option<Base>,
) -> Booked {
    let Priced { amount, book, exchange, how, bound, .. } = priced;
    let of = row.rate.value.of().map(|of| of_what(terms, entry, (row, of))).unwrap_or_default();
    let base = base.map(|base| match &row.rate.value {
        Rate::Premium { rate, insured } => {
            let insured = price::insured_value(*rate, *insured, &base.amount);
            Base { amount: insured.unwrap_or_else(|| base.amount.clone()), ..base }
        }
        _ => base,
    });
    let working = Working::of(how, bound, (of, base));
    Booked { amount, book, exchange, parts: Vec::new(), working }
}
