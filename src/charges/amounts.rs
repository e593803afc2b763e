//! The charge of a row for one object: what it comes to, and what it has in common with others of its row.

use std::sync::Arc;

use super::attributed::attributed;
use super::bases::{base, of_what};
use super::finance::all_flows;
use super::job::Job;
use super::keys::{charged_on, key_of};
use super::scopes::scope;
use super::sums::{Asked, Counted, Sums, Turn};
use crate::bill::{Base, Charge, ChargeKind, Customs, Priced, Working};
use crate::customs::{Entry, only_filing};
use crate::fault::Report;
use crate::price::{self, Payable, Quantity, Terms, goes_by_entry, told};
use crate::trade::{ChargeRow, Dates, Key, Leg, Per, WhatOf};

/// How many answers are remembered: a handful of rows and variants take turns.
const MEMO: usize = 32;

/// The charge of a row for an object.
pub(super) fn charge(
    job: &Job<'_>,
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    row: &ChargeRow,
    object: Counted,
    report: &mut Report,
) -> Option<()> {
    let base = match row.rate.value.of() {
        None => None,
        Some(of) => Some(base(job, turn, sums, (row, of), &object, report)?),
    };
    charge_on(job, turn, sums, row, (object, base), report)
}

/// The charge of a row for an object, on a base that is known.
pub(super) fn charge_on(
    job: &Job<'_>,
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    row: &ChargeRow,
    (object, base): (Counted, Option<Base>),
    report: &mut Report,
) -> Option<()> {
    let dates = dates(job, turn, sums, row, &object);
    let of = base.as_ref().map(|base| base.amount.clone());
    let (count, entered, entry) = (object.count, dates.entered, turn.entry);
    let asked = Asked { row, count, base: of.clone(), entered, entry };
    let known = sums.memo.iter().find(|(known, ..)| *known == asked);
    let (kind, priced) = match known {
        Some((_, kind, priced)) => (kind.clone(), priced.clone()),
        None => {
            if !row.by_importer {
                sums.served.insert(row.leg);
            }
            let terms = job.terms().on(dates);
            let flows;
            let quantity = match (row.rate.value.of(), &base) {
                (Some(WhatOf::Payments), _) => {
                    flows = all_flows(&sums.charges, &sums.plans)?;
                    Quantity::Paid(&flows)
                }
                (_, Some(base)) => Quantity::Of(&base.amount),
                (_, None) => Quantity::Count(count),
            };
            let came = told(price::amount(row, quantity, &terms), report)?;
            let kind = Arc::new(kind(job, &sums.charges, row, came.due));
            let priced = Arc::new(priced(&terms, sums.entry(turn), row, came, base));
            sums.memo.truncate(MEMO - 1);
            sums.memo.insert(0, (asked, kind.clone(), priced.clone()));
            (kind, priced)
        }
    };
    if row.per == Some(Per::Entry) && turn.entry.is_some() {
        let of = of.and_then(|of| of.round().ok());
        sums.by_entry.push((row.place.clone(), of, priced.amount));
    }
    if !priced.amount.is_zero() {
        let on = object.on;
        let scope = scope(job, turn, sums, row, object, report)?;
        let charge = Charge { kind, on, scope, priced, by: None };
        let charge = attributed(job.shipment, sums, charge, report)?;
        sums.charges.push(charge);
    }
    Some(())
}

/// The days that a row goes by on an object: what lies on one entry alone goes by the day of that
/// entry, what lies on several by the shipment's.
fn dates(
    job: &Job<'_>,
    turn: Turn<'_>,
    sums: &Sums<'_>,
    row: &ChargeRow,
    object: &Counted,
) -> Dates {
    let shipment = job.shipment;
    let dates = sums.dates(shipment, turn);
    if turn.entry.is_some() || shipment.filings.len() < 2 || !goes_by_entry(row) {
        return dates;
    }
    let filing = only_filing(shipment, sums.sets.members(object.on.set));
    Dates { entered: filing.map_or(dates.entered, |filing| filing.entered), ..dates }
}

/// What the row's charges have in common.
pub(super) fn kind(
    job: &Job<'_>,
    charges: &[Charge],
    row: &ChargeRow,
    payable: Payable,
) -> ChargeKind {
    // 19 U.S.C. 1401a(b)(1)(A): packing costs borne by the buyer are part of the value.
    let customs = if row.leg == Leg::ExportPacking { Customs::In } else { Customs::Out };
    let mut kind = ChargeKind {
        name: row.name.clone(),
        leg: row.leg,
        key: key_of(row, &job.shipment.yard),
        charged_by: charged_by(charges, row),
        treatment: row.treatment,
        basis: row.basis,
        customs,
        is_price: false,
        goods_of: None,
        table: Some((row.table, row.offer.clone())),
        sources: vec![row.rate.place.clone()],
        valid: Some(row.valid),
        charged_on: charged_on(row),
        policy: None,
        payable,
    };
    job.apply_policy(&mut kind);
    kind
}

/// What a row charges on within what it is counted by.
fn charged_by(charges: &[Charge], row: &ChargeRow) -> Key {
    match (row.rate.value.of(), row.per) {
        (Some(WhatOf::Charge(name)), _) => {
            let of = charges.iter().find(|charge| charge.name == *name);
            of.map_or(Key::Mass, |charge| charge.charged_by)
        }
        (Some(WhatOf::Leg(_)), _) => Key::Mass,
        (Some(_), _) => Key::Value,
        (None, Some(Per::M2)) => Key::Area,
        (None, Some(Per::Slab)) => Key::Count,
        (None, _) => Key::Mass,
    }
}

/// What a row came to, with the words that `explain` has for it.
pub(super) fn priced(
    terms: &Terms<'_>,
    entry: Option<&Entry>,
    row: &ChargeRow,
    came: price::Priced,
    base: Option<Base>,
) -> Priced {
    let price::Priced { amount, book, exchange, how, bound, .. } = came;
    let of = row.rate.value.of().map(|of| of_what(terms, entry, (row, of))).unwrap_or_default();
    let working = Working::of(how, bound, (of, base));
    Priced { amount, book, exchange, parts: Vec::new(), working }
}
