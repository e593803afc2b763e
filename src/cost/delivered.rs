//! A price delivered duty paid, solved for the customs value inside it.
//!
//! The price less its deductions is the value, its duty and its fees together, and the import tax
//! where the price holds that too: `net = v + duty(v) + fees(v) + tax(v + duty(v) + the way)`. All of
//! them are straight lines in the value between the points where a fee meets its floor or cap and
//! a top-up its base, so the value is exact once it is known between which points it lies. Each
//! round solves for one such stretch and looks whether the answer lies in it.

use super::customs::{Entry, EntryLine, MemoFee};
use super::job::Job;
use super::layers::quantity;
use super::taxed::{taken_out, taxed_value};
use crate::bill::{Sets, ValuePart};
use crate::fault::{Code, Fault, Report};
use crate::price::{Quantity, asked, charged, is_import_tax, told};
use crate::quantity::{Decimal, Exact, Money, Percent};
use crate::spread::Spreader;
use crate::trade::{
    ChargeRow, Dates, DutyRate, Filing, ImportTax, LayerKind, Leg, Matches, Per, Rate, Treatment,
    WhatOf,
};

/// More rounds than there are stretches in any sound table (a choice of ours).
const MOST_ROUNDS: usize = 64;

/// Where a fee stands at a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stand {
    /// Its percentage of the value.
    Within,
    /// An amount: its floor, its cap, or a fee that is one.
    At(Money),
}

/// What is asked of rows for an entry that is filed so.
fn wanted(job: &Job<'_>, kind: &str, mode: &str) -> Matches {
    let mut wanted = asked(job.shipment, Leg::DutyAndTax, None);
    wanted.entry = Some(kind.to_owned());
    wanted.mode = Some(mode.to_owned());
    wanted
}

/// The import taxes that are levied on goods filed so.
pub(super) fn tax_rows<'a>(
    job: &Job<'a>,
    filing: &Filing,
) -> impl Iterator<Item = &'a ChargeRow> + use<'a> {
    let wanted = wanted(job, filing.kind.word(), filing.mode.word());
    let entered = filing.entered;
    let levied = move |row: &&ChargeRow| {
        is_levied(row) && row.matches.fit(&wanted) && row.valid.holds(entered)
    };
    job.tariffs.charges.iter().filter(levied)
}

/// Whether a row is an import tax that can lie inside a price: by the entry, or by its lines where none
/// of them has a floor or cap of its own.
fn is_levied(row: &ChargeRow) -> bool {
    let by_line = row.per == Some(Per::TariffLine);
    let by_line = by_line && row.minimum.is_none() && row.maximum.is_none();
    is_import_tax(row) && row.leg == Leg::DutyAndTax && (row.per == Some(Per::Entry) || by_line)
}

/// The fees of customs that a seller's entry bears: those of the regime on the entered value, those
/// that are an amount for the entry, and the import tax where the price holds it.
fn fee_rows<'a>(job: &Job<'a>, entry: &Entry) -> Vec<&'a ChargeRow> {
    let wanted = wanted(job, entry.kind.word(), entry.mode.word());
    let holds_tax = entry.import_tax == Some(ImportTax::InPrice);
    let by_law = |row: &&ChargeRow| {
        let is_fee = row.matches.regime.is_some()
            && row.leg == Leg::DutyAndTax
            && row.per == Some(Per::Entry)
            && row.treatment == Treatment::Stock
            && !row.by_importer
            && matches!(row.rate.value, Rate::Amount(_) | Rate::Percent(_, WhatOf::EnteredValue));
        row.matches.fit(&wanted)
            && row.valid.holds(entry.entered_on)
            && (is_fee || (holds_tax && is_levied(row)))
    };
    job.tariffs.charges.iter().filter(by_law).collect()
}

/// What of an entry a fee is on.
fn on<'e>(row: &ChargeRow, entry: &'e Entry) -> impl Iterator<Item = (usize, &'e EntryLine)> {
    let exempt = row.exempt_origins.clone();
    entry.lines.iter().enumerate().filter(move |(_, line)| !exempt.contains(&line.origin))
}

/// What an import tax is on, line by line, where the lines have these values: the value, its duty,
/// and what came out of the price and is in the base.
fn taxed(entry: &Entry, values: &[Exact], lifted: &[Vec<bool>]) -> Option<Vec<Exact>> {
    let mut all = Vec::with_capacity(values.len());
    for ((line, value), lifts) in entry.lines.iter().zip(values).zip(lifted) {
        let (part, amount) = duty_of(line, lifts)?;
        let duty = value.times(part).plus(&amount).ok()?;
        all.push(value.plus(&duty).ok()?.plus(&way(line, entry)?).ok()?);
    }
    Some(all)
}

/// What came out of the price of a line and is in the base of the import tax.
fn way(line: &EntryLine, entry: &Entry) -> Option<Exact> {
    let mut out = taken_out(line, entry);
    out.try_fold(Exact::zero(entry.currency), |sum, part| sum.plus(&part.converted()?).ok())
}

/// Where a fee stands on values of the lines, or a tax on what it is on.
fn stand(row: &ChargeRow, entry: &Entry, values: &[Exact]) -> Option<Stand> {
    let rate = match row.rate.value {
        Rate::Amount(amount) => return Some(Stand::At(amount)),
        Rate::Percent(rate, _) => rate,
        Rate::Each { .. } | Rate::Tiers(_) => return None,
    };
    let own = on(row, entry).filter_map(|(at, _)| values.get(at));
    let sum = own.fold(Exact::zero(entry.currency), |sum, one| sum.plus(one).unwrap_or(sum));
    let fee = sum.percent(rate);
    if fee.is_zero() {
        return Some(Stand::Within);
    }
    for (bound, beyond) in
        [(row.minimum, std::cmp::Ordering::Less), (row.maximum, std::cmp::Ordering::Greater)]
    {
        if let Some(bound) = bound
            && fee.compare(bound)? == beyond
        {
            return Some(Stand::At(bound));
        }
    }
    Some(Stand::Within)
}

/// Whether each top-up of a line lifts its base at a value.
fn lifts(line: &EntryLine, value: &Exact) -> Option<Vec<bool>> {
    let base = line.layers.first().map(|layer| match layer.row.rate.value {
        DutyRate::Percent(rate) => value.percent(rate),
        DutyRate::Specific(rate) => {
            Exact::new(rate.amount, rate.currency).times(quantity(line, rate.unit))
        }
    })?;
    let lifted = |rate| value.percent(rate).minus(&base).map(|left| !left.is_negative());
    let tops = line.layers.iter().map(|layer| match layer.row.rate.value {
        DutyRate::Percent(rate) if layer.row.kind == LayerKind::TopUp => lifted(rate).ok(),
        _ => Some(false),
    });
    tops.collect()
}

/// What a line's price holds beside its value: a part of the value, and an amount.
fn duty_of(line: &EntryLine, lifts: &[bool]) -> Option<(Decimal, Exact)> {
    let mut part = Decimal::ZERO;
    let mut amount = Exact::zero(line.exact.currency());
    let mut base = (Decimal::ZERO, amount.clone());
    for (at, layer) in line.layers.iter().enumerate() {
        let (own_part, own_amount) = match layer.row.rate.value {
            DutyRate::Percent(rate) => (rate.fraction(), Exact::zero(amount.currency())),
            DutyRate::Specific(rate) => {
                let each = Exact::new(rate.amount, rate.currency);
                (Decimal::ZERO, each.times(quantity(line, rate.unit)))
            }
        };
        if layer.row.kind == LayerKind::TopUp {
            if lifts.get(at).copied().unwrap_or(false) {
                part = part.checked_add(own_part)?.checked_sub(base.0)?;
                amount = amount.minus(&base.1).ok()?;
            }
            continue;
        }
        if at == 0 {
            base = (own_part, own_amount.clone());
        }
        part = part.checked_add(own_part)?;
        amount = amount.plus(&own_amount).ok()?;
    }
    Some((part, amount))
}

/// Finds the value inside each line's price, and says in its parts what was taken out.
///
/// A fee at its floor or cap is borne by the lines in proportion to their prices less deductions:
/// a choice of ours, as no rule says how a price of several lines holds one fee.
pub(super) fn solve(job: &Job<'_>, entry: &mut Entry, report: &mut Report) -> Option<()> {
    let rows = fee_rows(job, entry);
    let nets: Vec<Exact> = entry.lines.iter().map(|line| line.exact.clone()).collect();
    let mut values = nets.clone();
    let mut last = None;
    for _ in 0..MOST_ROUNDS {
        let lifted: Option<Vec<Vec<bool>>> =
            entry.lines.iter().zip(&values).map(|(line, value)| lifts(line, value)).collect();
        let lifted = lifted?;
        let bases = taxed(entry, &values, &lifted)?;
        let on_what = |row: &ChargeRow| if is_import_tax(row) { &bases } else { &values };
        let stands: Option<Vec<Stand>> =
            rows.iter().map(|row| stand(row, entry, on_what(row))).collect();
        let now = (stands?, lifted);
        if last.as_ref() == Some(&now) {
            return record(entry, &nets, values, report);
        }
        let mut next = Vec::with_capacity(nets.len());
        for (at, line) in entry.lines.iter().enumerate() {
            let duty = duty_of(line, now.1.get(at)?)?;
            let (mut part, mut amount) = duty.clone();
            for (row, stand) in rows.iter().zip(&now.0) {
                if !on(row, entry).any(|(index, _)| index == at) {
                    continue;
                }
                match (stand, &row.rate.value) {
                    (Stand::Within, Rate::Percent(rate, WhatOf::TaxedValue)) => {
                        let whole = duty.0.checked_add(Decimal::ONE)?;
                        part = part.checked_add(whole.checked_mul(rate.fraction())?)?;
                        let beside = duty.1.plus(&way(line, entry)?).ok()?;
                        amount = amount.plus(&beside.percent(*rate)).ok()?;
                    }
                    (Stand::Within, Rate::Percent(rate, _)) => {
                        part = part.checked_add(rate.fraction())?;
                    }
                    (Stand::Within, _) => {}
                    (Stand::At(fee), _) => {
                        let whole = on(row, entry)
                            .filter_map(|(index, _)| nets.get(index))
                            .fold(Exact::zero(entry.currency), |sum, one| {
                                sum.plus(one).unwrap_or(sum)
                            });
                        let share = Exact::from(*fee).share(nets.get(at)?, &whole);
                        amount = amount.plus(&share).ok()?;
                    }
                }
            }
            let net = nets.get(at)?.minus(&amount).ok()?;
            if net.is_negative() || net.is_zero() {
                report.add(below(line));
                return None;
            }
            // `x = net - part x` is `x + part x = net`.
            let part = Percent::new(part.checked_mul(-Decimal::ONE_HUNDRED)?);
            next.push(net.grossed_up(part)?);
        }
        values = next;
        last = Some(now);
    }
    report.add(
        Fault::error(Code::Cycle, "a price delivered duty paid has no one value inside it")
            .at(&entry.regime, "under the fees and layers of this regime")
            .help("look for fees whose floor and cap exclude each other"),
    );
    None
}

fn below(line: &EntryLine) -> Fault {
    let message =
        format!("the price of {}, delivered duty paid, is below its own deductions", line.label);
    let place = line.parts.first().map_or(&line.place, |part| &part.place);
    Fault::error(Code::OutOfRange, message)
        .at(place, "this price")
        .help("check what the invoice states apart, and the fees and specific duties of the entry")
}

fn record(
    entry: &mut Entry,
    nets: &[Exact],
    values: Vec<Exact>,
    report: &mut Report,
) -> Option<()> {
    let regime = entry.regime.clone();
    for ((line, net), value) in entry.lines.iter_mut().zip(nets).zip(values) {
        if value.is_negative() {
            report.add(below(line));
            return None;
        }
        line.parts.push(ValuePart {
            name: if entry.import_tax == Some(ImportTax::InPrice) {
                "duty, fees and import tax inside the price".to_owned()
            } else {
                "duty and fees inside the price".to_owned()
            },
            leg: Leg::DutyAndTax,
            amount: value.minus(net).ok()?,
            exchange: None,
            place: regime.clone(),
        });
        line.exact = value;
    }
    Some(())
}

/// What the seller's fees and taxes come to on the values as entered.
pub(super) fn fees(
    job: &Job<'_>,
    entry: &mut Entry,
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<()> {
    let mut fees = Vec::new();
    let terms = job.terms().on(Dates { entered: entry.entered_on, ..job.shipment.dates });
    for row in fee_rows(job, entry) {
        let lines: Vec<&EntryLine> = on(row, entry).map(|(_, line)| line).collect();
        let each = if row.per == Some(Per::TariffLine) { 1 } else { lines.len().max(1) };
        let mut amounts = Vec::new();
        for lines in lines.chunks(each) {
            let base = match row.rate.value.of() {
                None => None,
                Some(WhatOf::TaxedValue) => {
                    // What the seller's own base has beside the price's parts is not known here.
                    Some(taxed_value(job, entry, lines, &[], sets, spreader, report)?.amount)
                }
                Some(_) => {
                    let values = lines.iter().map(|line| line.entered);
                    Some(Exact::from(Money::total(entry.currency, values).ok()?))
                }
            };
            let of = base.as_ref().map_or(Quantity::Count(Decimal::ONE), Quantity::Of);
            amounts.push(told(charged(row, of, &terms), report)?.0);
        }
        let Some(first) = amounts.first() else { continue };
        let amount = Money::total(first.currency(), amounts.iter().copied()).ok()?;
        if !amount.is_zero() {
            let place = row.rate.place.clone();
            fees.push(MemoFee { name: row.name.clone(), amount, place });
        }
    }
    entry.memo_fees = fees;
    Some(())
}
