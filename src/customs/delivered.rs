//! A price delivered duty paid, solved for the customs value inside it.
//!
//! The price less its deductions is the value, its duty and its fees together, and the import tax
//! where the price holds that too: `net = v + duty(v) + fees(v) + tax(v + duty(v) + the way)`. All of
//! them are straight lines in the value between the points where a fee meets its floor or cap and
//! a top-up its base, so the value is exact once it is known between which points it lies. Each
//! round solves for one such stretch and looks whether the answer lies in it.
//!
//! Decided on 2026-11-25. Fees of the regime per entry are inside the price, and so is the import tax unless
//! the invoice has it apart. What a seller's memo lacks, such as a rate of duty, becomes a note.

use super::case::Case;
use super::entry::{Entry, EntryLine, MemoFee};
use super::layers::{DutyPiece, PIECE, apply};
use super::taxed::{taken_out, taxed_value};
use crate::bill::{Sets, ValuePart};
use crate::fault::{Code, Fault, Report, Reported};
use crate::price::{Quantity, Reason, Why, asked, bound_on, charged, is_import_tax, told};
use crate::quantity::{Decimal, Exact, Money, Overflow, Percent};
use crate::trade::{
    ChargeRow, Dates, Filing, ImportTax, Leg, Matches, Per, Rate, Treatment, WhatOf,
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
fn wanted(case: &Case<'_>, kind: &str, mode: &str) -> Matches {
    let mut wanted = asked(case.shipment, Leg::DutyAndTax, None);
    wanted.entry = Some(kind.into());
    wanted.mode = Some(mode.into());
    wanted
}

/// The import taxes that are levied on goods filed so.
pub(super) fn tax_rows<'a>(
    case: &Case<'a>,
    filing: &Filing,
) -> impl Iterator<Item = &'a ChargeRow> + use<'a> {
    let wanted = wanted(case, filing.kind.word(), filing.mode.word());
    let entered = filing.entered;
    let levied = move |row: &&ChargeRow| {
        is_levied(row) && row.matches.fit(&wanted) && row.valid.holds(entered)
    };
    case.tariffs.charges.iter().filter(levied)
}

/// Whether a row is an import tax that can lie inside a price: by the entry, or by its lines where none
/// of them has a floor or cap of its own.
fn is_levied(row: &ChargeRow) -> bool {
    let by_line = row.per == Per::TariffLine;
    let by_line = by_line && row.minimum.is_none() && row.maximum.is_none();
    is_import_tax(row) && row.leg == Leg::DutyAndTax && (row.per == Per::Entry || by_line)
}

/// The fees of customs that a seller's entry bears: those of the regime on the entered value, those
/// that are an amount for the entry, and the import tax where the price holds it.
fn fee_rows<'a>(case: &Case<'a>, entry: &Entry) -> Vec<&'a ChargeRow> {
    let wanted = wanted(case, entry.kind.word(), entry.mode.word());
    let holds_tax = entry.import_tax == Some(ImportTax::InPrice);
    let by_law = |row: &&ChargeRow| {
        let is_fee = row.matches.regime.is_some()
            && row.leg == Leg::DutyAndTax
            && row.per == Per::Entry
            && row.treatment == Treatment::Stock
            && !row.by_importer
            && matches!(row.rate.value, Rate::Amount(_) | Rate::Percent(_, WhatOf::EnteredValue));
        row.matches.fit(&wanted)
            && row.valid.holds(entry.entered_on)
            && (is_fee || (holds_tax && is_levied(row)))
    };
    case.tariffs.charges.iter().filter(by_law).collect()
}

/// The lines of an entry that a fee is on.
fn on<'e>(row: &ChargeRow, entry: &'e Entry) -> impl Iterator<Item = (usize, &'e EntryLine)> {
    entry.lines.iter().enumerate().filter(move |(_, line)| !line.is_free_of(row))
}

/// What an import tax is on, line by line, where the lines have these values: the value, its duty,
/// and what came out of the price and is in the base.
fn taxed(entry: &Entry, values: &[Exact], duties: &[DutyPiece]) -> Result<Vec<Exact>, Overflow> {
    let base = |((line, value), duty): ((&EntryLine, &Exact), &DutyPiece)| {
        value.plus(&duty.at(value)?)?.plus(&way(line, entry)?)
    };
    entry.lines.iter().zip(values).zip(duties).map(base).collect()
}

/// What came out of the price of a line and is in the base of the import tax.
fn way(line: &EntryLine, entry: &Entry) -> Result<Exact, Overflow> {
    let mut out = taken_out(line, entry);
    out.try_fold(Exact::zero(entry.currency), |sum, part| sum.plus(&part.converted()?))
}

/// Where a fee stands on values of the lines, or a tax on what it is on.
fn stand<'a>(row: &'a ChargeRow, entry: &Entry, values: &[Exact]) -> Result<Stand, Why<'a>> {
    let rate = match row.rate.value {
        Rate::Amount(amount) => {
            let amount = Exact::from(amount).round();
            let too_large = |overflow| Box::new(Reason::Overflow(overflow, &row.rate.place));
            return amount.map(Stand::At).map_err(too_large);
        }
        Rate::Percent(rate, _) => rate,
        // A seller bears nothing else.
        _ => return Ok(Stand::Within),
    };
    let own = on(row, entry).filter_map(|(at, _)| values.get(at));
    let sum = own.fold(Exact::zero(entry.currency), |sum, one| sum.plus(one).unwrap_or(sum));
    let bound = bound_on(row, &sum.percent(rate))?;
    Ok(bound.map_or(Stand::Within, |(amount, _)| Stand::At(amount)))
}

/// The duty of each line near these values, its layers together.
fn duties(entry: &Entry, values: &[Exact]) -> Result<Vec<DutyPiece>, Overflow> {
    let all = |(line, value): (&EntryLine, &Exact)| {
        let nothing = DutyPiece::nothing(entry.currency);
        apply(&line.layers, value)?.iter().try_fold(nothing, |sum, one| sum.plus(one))
    };
    entry.lines.iter().zip(values).map(all).collect()
}

/// Finds the value inside each line's price, and says in its parts what was taken out.
///
/// A fee at its floor or cap is borne by the lines in proportion to their prices less deductions:
/// a choice of ours, as no rule says how a price of several lines holds one fee.
pub(super) fn solve(
    case: &Case<'_>,
    entry: &mut Entry,
    report: &mut Report,
) -> Result<(), Reported> {
    let rows = fee_rows(case, entry);
    let nets: Vec<Exact> = entry.lines.iter().map(|line| line.exact.clone()).collect();
    let mut values = nets.clone();
    let mut last = None;
    for _ in 0..MOST_ROUNDS {
        let duties = report.fits(duties(entry, &values), &entry.regime)?;
        let bases = report.fits(taxed(entry, &values, &duties), &entry.regime)?;
        let on_what = |row: &ChargeRow| if is_import_tax(row) { &bases } else { &values };
        let mut stands = Vec::with_capacity(rows.len());
        for row in &rows {
            stands.push(told(stand(row, entry, on_what(row)), report)?);
        }
        let now = (stands, duties);
        if last.as_ref() == Some(&now) {
            return record(entry, &nets, values, report);
        }
        let mut next = Vec::with_capacity(nets.len());
        for (line, (net, duty)) in entry.lines.iter().zip(nets.iter().zip(&now.1)) {
            let stands = rows.iter().copied().zip(&now.0);
            let all = report.fits(levied((entry, line, net), duty, stands, &nets), &line.place)?;
            let net = report.fits(net.minus(&all.fixed), &line.place)?;
            if net.is_negative() || net.is_zero() {
                return Err(report.error(below(line)));
            }
            // `x = net - slope x` is `x + slope x = net`.
            let part = all.slope.checked_mul(-Decimal::ONE_HUNDRED).map(Percent::new);
            let value = part.and_then(|part| net.grossed_up(part)).ok_or(PIECE);
            next.push(report.fits(value, &line.place)?);
        }
        values = next;
        last = Some(now);
    }
    Err(report.error(
        Fault::error(Code::Cycle, "no customs value fits this price delivered duty paid")
            .at(&entry.regime, "under the fees and layers of this regime")
            .help(
                "look for a fee whose `minimum` is above its `maximum`, or that depends on itself",
            ),
    ))
}

/// What a line's price less deductions pays for: its duty, and its part of each fee as it stands.
fn levied<'a>(
    (entry, line, net): (&Entry, &EntryLine, &Exact),
    duty: &DutyPiece,
    stands: impl Iterator<Item = (&'a ChargeRow, &'a Stand)>,
    nets: &[Exact],
) -> Result<DutyPiece, Overflow> {
    let mut all = duty.clone();
    for (row, stand) in stands.filter(|(row, _)| !line.is_free_of(row)) {
        let own = match (stand, &row.rate.value) {
            (Stand::Within, Rate::Percent(rate, WhatOf::TaxedValue)) => {
                let beside = DutyPiece { slope: Decimal::ONE, fixed: way(line, entry)? };
                duty.plus(&beside)?.percent(*rate)?
            }
            (Stand::Within, Rate::Percent(rate, _)) => {
                DutyPiece { slope: rate.fraction(), fixed: Exact::zero(entry.currency) }
            }
            (Stand::Within, _) => continue,
            (Stand::At(fee), _) => {
                let mut whole = on(row, entry).filter_map(|(index, _)| nets.get(index));
                let nothing = Exact::zero(entry.currency);
                let whole = whole.try_fold(nothing, |sum, one| sum.plus(one))?;
                DutyPiece { slope: Decimal::ZERO, fixed: Exact::from(*fee).share(net, &whole) }
            }
        };
        all = all.plus(&own)?;
    }
    Ok(all)
}

fn below(line: &EntryLine) -> Fault {
    let message =
        format!("the price of {}, delivered duty paid, is smaller than its deductions", line.label);
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
) -> Result<(), Reported> {
    let regime = entry.regime.clone();
    for ((line, net), value) in entry.lines.iter_mut().zip(nets).zip(values) {
        if value.is_negative() {
            return Err(report.error(below(line)));
        }
        line.parts.push(ValuePart {
            name: if entry.import_tax == Some(ImportTax::InPrice) {
                "duty, fees and import tax inside the price".into()
            } else {
                "duty and fees inside the price".into()
            },
            leg: Leg::DutyAndTax,
            amount: report.fits(value.minus(net), &line.place)?,
            exchange: None,
            place: regime.clone(),
        });
        line.exact = value;
    }
    Ok(())
}

/// What the seller's fees and taxes come to on the values as entered.
pub(super) fn fees(
    case: &Case<'_>,
    entry: &mut Entry,
    sets: &Sets,
    report: &mut Report,
) -> Result<(), Reported> {
    let mut fees = Vec::new();
    let terms = case.terms().on(Dates { entered: entry.entered_on, ..case.shipment.dates });
    for row in fee_rows(case, entry) {
        let lines: Vec<&EntryLine> = on(row, entry).map(|(_, line)| line).collect();
        let each = if row.per == Per::TariffLine { 1 } else { lines.len().max(1) };
        let mut amounts = Vec::new();
        for lines in lines.chunks(each) {
            let base = match row.rate.value.of() {
                None => None,
                Some(WhatOf::TaxedValue) => {
                    // What the seller's own base has beside the price's parts is not known here.
                    Some(taxed_value(case, entry, lines, (&[], sets), report)?.amount)
                }
                Some(_) => {
                    let values = lines.iter().map(|line| line.entered);
                    let entered = Money::total(entry.currency, values);
                    Some(Exact::from(report.fits(entered, &row.rate.place)?))
                }
            };
            let of = base.as_ref().map_or(Quantity::Count(Decimal::ONE), Quantity::Of);
            amounts.push(told(charged(row, of, &terms), report)?.0);
        }
        let Some(first) = amounts.first() else { continue };
        let amount = Money::total(first.currency(), amounts.iter().copied());
        let amount = report.fits(amount, &row.rate.place)?;
        if !amount.is_zero() {
            let place = row.rate.place.clone();
            fees.push(MemoFee { name: row.name.clone(), amount, place });
        }
    }
    entry.memo_fees = fees;
    Ok(())
}
