//! `[[invoice.payment]]`: how an invoice is paid.

use super::keys::each;
use super::table::Table;
use super::timing::due_rule;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Money, Percent, parse_decimal};
use crate::trade::{ExchangeUse, Payment, PaymentDay, PaymentPart, WorkCalendar};

/// Reads an invoice's payments. Shares that are no whole without a payment of the rest are a fault;
/// amounts are held against the total once that is known.
pub(super) fn payments(
    row: &Table<'_>,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<Vec<Payment>, Reported> {
    let all = each(row, "payment", report, |one, report| payment(one, calendars, report))?;
    check_sum(&all, report);
    Ok(all)
}

fn payment(
    row: &Table<'_>,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<Payment, Reported> {
    let name = row.required_text("name", report);
    let part = part(row, report);
    let day = day(row, calendars, report);
    let uses = [(ExchangeUse::Book, "book"), (ExchangeUse::Contract, "contract")];
    let exchange = row.word("exchange", &uses, report);
    let repaid = row.word("repaid-in", &[(true, "money"), (false, "goods")], report);
    Ok(Payment {
        name: name?.value,
        part: part?,
        day: day?,
        exchange: exchange?.map(|at| at.value),
        repaid_in_money: repaid?.is_some_and(|at| at.value),
        place: row.place(),
    })
}

/// Reads `share = "30 %"`, `share = "rest"` or `amount = "15000 EUR"`.
fn part(row: &Table<'_>, report: &mut Report) -> Result<At<PaymentPart>, Reported> {
    let amount = row.optional::<Money>("amount", report);
    if let Some(figure) = row.figure("share") {
        let place = row.place_of("share");
        return Err(report.error(no_percentage(figure).at(&place, "expected a percentage")));
    }
    let share = row.text("share", report).and_then(|text| match text {
        Some(text) if text.value == "rest" => Ok(Some(text.map(|_| PaymentPart::Rest))),
        Some(_) => {
            let share = row.optional::<Percent>("share", report)?;
            Ok(share.map(|share| share.map(PaymentPart::Share)))
        }
        None => Ok(None),
    });
    let part = match (share?, amount?) {
        (Some(share), None) => share,
        (None, Some(amount)) => amount.map(PaymentPart::Amount),
        _ => {
            return Err(row.lacks(
                &["share", "amount"],
                Fault::error(Code::MissingKey, "a payment is either a `share` or an `amount`")
                    .at(&row.place(), "expected one of the two")
                    .help("write share = \"30 %\", share = \"rest\" or amount = \"15000 EUR\""),
                report,
            ));
        }
    };
    let nothing = match part.value {
        PaymentPart::Share(share) => {
            share.fraction() <= Decimal::ZERO || share.fraction() > Decimal::ONE
        }
        PaymentPart::Amount(amount) => amount.is_zero() || amount.is_negative(),
        PaymentPart::Rest => false,
    };
    if nothing {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "a payment must be above 0 and at most the total")
                .at(&part.place, "expected above 0 % and at most 100 %, or an amount above 0"),
        ));
    }
    Ok(part)
}

/// A share without its sign of percent. Up to 1 it is a fraction, as spreadsheets have it: 0.3 is 30 %.
fn no_percentage(figure: &str) -> Fault {
    let fault = Fault::error(Code::BadQuantity, format!("`share` cannot be read: {figure}"));
    let is_fraction = |one: &Decimal| *one > Decimal::ZERO && *one <= Decimal::ONE;
    let fraction = parse_decimal(figure).filter(is_fraction);
    let percent = fraction.and_then(|one| one.checked_mul(Decimal::ONE_HUNDRED));
    fault.help(match percent {
        Some(percent) => format!("write \"{} %\"", percent.normalize()),
        None => format!("write \"{figure} %\""),
    })
}

/// Reads `on = 2026-03-10` or `due = "sails + 30 days"`.
fn day(
    row: &Table<'_>,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<PaymentDay, Reported> {
    let on = row.date("on", report);
    let due = due_rule(row, "due", calendars, report);
    match (on?, due?) {
        (Some(on), None) => Ok(PaymentDay::On(on.value)),
        (None, Some(due)) => Ok(PaymentDay::After(due)),
        _ => Err(row.lacks(
            &["on", "due"],
            Fault::error(Code::MissingKey, "a payment falls due `on` a day or after an event")
                .at(&row.place(), "expected one of `on` and `due`")
                .help("write on = 2026-03-10, or due = \"sails + 30 days\""),
            report,
        )),
    }
}

fn check_sum(all: &[Payment], report: &mut Report) {
    let rests: Vec<&Payment> =
        all.iter().filter(|one| one.part.value == PaymentPart::Rest).collect();
    if let [first, second, ..] = rests[..] {
        report.add(
            Fault::error(Code::Contradiction, "two payments of the rest")
                .at(&second.part.place, "again here")
                .also(&first.part.place, "first here"),
        );
        return;
    }
    let shares = all.iter().map(|one| match one.part.value {
        PaymentPart::Share(share) => Some(share.fraction()),
        PaymentPart::Amount(_) | PaymentPart::Rest => None,
    });
    let Some(sum) = shares.clone().flatten().try_fold(Decimal::ZERO, Decimal::checked_add) else {
        return;
    };
    let whole = shares.clone().all(|share| share.is_some()) && rests.is_empty();
    let Some(last) = all.last() else { return };
    if sum > Decimal::ONE
        || (whole && sum != Decimal::ONE)
        || (!rests.is_empty() && sum == Decimal::ONE)
    {
        let sum = Percent::new(sum * Decimal::ONE_HUNDRED);
        report.add(
            Fault::error(Code::Contradiction, format!("the payments make {sum} of the invoice"))
                .at(&last.part.place, "the last of them")
                .help("correct the shares, or let one payment be share = \"rest\""),
        );
    }
}

/// The payments stated as amounts, for the check that an invoice has one currency.
pub(super) fn stated(payments: &[Payment]) -> impl Iterator<Item = At<Money>> + '_ {
    payments.iter().filter_map(|payment| match payment.part.value {
        PaymentPart::Amount(value) => Some(At { value, place: payment.part.place.clone() }),
        PaymentPart::Share(_) | PaymentPart::Rest => None,
    })
}
