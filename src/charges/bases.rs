//! What a percentage is of: the base, exactly, and no sum of rounded shares.

use std::borrow::Cow;

use super::finance::paid_for;
use super::schedule::Tally;
use super::sums::{Sums, Turn};
use crate::bill::{Base, Charge, Sets};
use crate::customs::{Entry, EntryLine, taxed_value};
use crate::fault::{Report, Reported};
use crate::price::{Terms, told};
use crate::quantity::{Decimal, Exact, Money, Overflow};
use crate::trade::{ChargeRow, Leg, Rate, ScopeKind, WhatOf};

/// What is missing where a row on an entry's value finds no entry.
const OF_ENTRY: &str = "the entry of a charge on its value";

/// What a percentage of a row is of, for an object.
pub(super) fn base(
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    (row, of): (&ChargeRow, &WhatOf),
    object: &Tally,
    report: &mut Report,
) -> Result<Base, Reported> {
    let book = turn.job.shipment.yard.currency;
    let mut sum = |chosen: &dyn Fn(&Charge) -> bool| {
        let mut total = Exact::zero(book);
        let Sums { sets, spreader, charges, .. } = &mut *sums;
        for charge in charges.iter().filter(|charge| chosen(charge)) {
            let whole = Exact::from(charge.book());
            let part = if object.set == Sets::ALL || charge.scope.set == object.set {
                whole
            } else {
                let is_in = |slab| sets.position(object.set, slab).is_some();
                spreader.share_in((charge, &whole), is_in, sets, report)?
            };
            total = report.fits(total.plus(&part), &charge.source)?;
        }
        Ok(total)
    };
    let amount = match of {
        WhatOf::Goods => sum(&|charge| charge.is_price),
        WhatOf::InsuredValue => {
            sum(&|charge| charge.leg <= Leg::MainCarriage && charge.is_valued())
        }
        WhatOf::Leg(leg) => sum(&|charge| charge.leg == *leg && charge.is_valued()),
        WhatOf::Charge(name) => sum(&|charge| charge.name == *name),
        WhatOf::SingleBond => {
            let entry = report.found(sums.entry(turn), OF_ENTRY)?;
            let bond = single_bond(turn, entry, &sums.charges);
            report.fits(bond, &row.rate.place).map(Exact::from)
        }
        WhatOf::ContinuousBond => {
            let terms = turn.job.terms().on(sums.dates(turn));
            continuous_bond(&terms, row, report).map(Exact::from)
        }
        WhatOf::Payments => {
            report.fits(paid_for(&sums.charges, book), &row.rate.place).map(Exact::from)
        }
        WhatOf::EnteredValue | WhatOf::TaxedValue => {
            let entry = report.found(sums.entry(turn), OF_ENTRY)?;
            let lines = entry.lines.iter().filter(|line| {
                !line.is_free_of(row)
                    && (object.kind != ScopeKind::TariffLine || *line.label == *object.of)
            });
            let lines: Vec<&EntryLine> = lines.collect();
            if *of == WhatOf::TaxedValue {
                let charges = (&sums.charges[..], &sums.sets);
                return taxed_value(&turn.job.case(), entry, &lines, charges, report);
            }
            let entered = lines.iter().map(|line| line.entered);
            report.fits(Money::total(entry.currency, entered), &row.rate.place).map(Exact::from)
        }
    };
    amount.map(Base::from)
}

/// What a single-entry bond must cover: the entered value with all duties, taxes and fees, or so
/// many times the entered value where another agency restricts any of its goods (19 CFR 113.13;
/// customs broker licence examinations, 2005 question 43 and 2009 question 53).
fn single_bond(turn: Turn<'_>, entry: &Entry, charges: &[Charge]) -> Result<Money, Overflow> {
    if let Some((times, _)) = &entry.restricted_bond {
        return Exact::from(entry.entered()?).times(Decimal::from(*times)).round();
    }
    let levied = |charge: &&Charge| {
        charge.on.entry() == turn.entry
            && charge.leg == Leg::DutyAndTax
            && charge.amount().currency() == entry.currency
    };
    let levied = charges.iter().filter(levied).map(Charge::amount);
    let entered = entry.lines.iter().map(|line| line.entered);
    Money::total(entry.currency, entered.chain(levied))
}

/// The amount of the continuous bond.
fn continuous_bond(
    terms: &Terms<'_>,
    row: &ChargeRow,
    report: &mut Report,
) -> Result<Money, Reported> {
    let bond = told(terms.bond(&row.rate.place), report)?;
    report.fits(bond.amount(), &bond.place)
}

/// What a rate is of, in words.
pub(super) fn of_what(
    terms: &Terms<'_>,
    entry: Option<&Entry>,
    (row, of): (&ChargeRow, &WhatOf),
) -> Cow<'static, str> {
    match (&row.rate.value, of) {
        (Rate::Premium { insured, .. }, _) => {
            format!("insured: {insured} of cost, freight and the premium itself").into()
        }
        (_, WhatOf::ContinuousBond) => {
            let entries = terms.bond(&row.rate.place).map_or(0, |bond| bond.entries);
            format!("the continuous bond, shared by {entries} entries").into()
        }
        (_, WhatOf::SingleBond) => match entry.and_then(|entry| entry.restricted_bond.as_ref()) {
            Some((times, agency)) => {
                format!("{times} times the entered value (restricted: {agency})").into()
            }
            None => "entered value, duties, taxes and fees".into(),
        },
        (_, of) => of.word().into_owned().into(),
    }
}
