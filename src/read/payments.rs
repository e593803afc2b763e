//! `[[invoice.payment]]`: how an invoice is paid.

use super::keys::each;
use super::payment_words;
use super::table::{self, Table};
use super::timing::due_rule;
use crate::fault::{At, Code, Fault, Report, Reported, Source};
use crate::quantity::{Decimal, Money, Percent};
use crate::trade::{Date, ExchangeUse, Payment, PaymentDay, PaymentPart, WorkCalendar};

/// Reads an invoice's payments. Shares that are no whole without a payment of the rest are a fault;
/// amounts are held against the total once that is known.
pub(super) fn payments(
    row: &Table<'_>,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<Vec<Payment>, Reported> {
    let all = each(row, "payment", report, |one, report| payment(one, calendars, report))?;
    if let Some(off) = off_sum(&all) {
        off.report(report);
    }
    Ok(all)
}

/// Payments as a line of text says them: "30 % on order, rest 60 days after arrival". The text is written as a
/// file has it, and read as a file is.
///
/// # Errors
/// What is wrong with it, in a sentence.
pub fn payments_in_words(text: &str, report: &mut Report) -> Result<Vec<Payment>, String> {
    let form = "write payments such as \"30 % on order, rest 60 days after arrival\"";
    if text.contains(|c: char| c.is_control() || "\"\\".contains(c)) {
        return Err(form.to_owned());
    }
    if text.contains("working") {
        return Err(
            "working days need a calendar, and none can be named here: count all days".to_owned()
        );
    }
    let rows: Option<String> =
        text.split(',').enumerate().map(|(at, one)| in_file(at + 1, one.trim())).collect();
    let source = Source::new("--pay", rows.ok_or(form)?);
    let one = |row: &Table<'_>, report: &mut Report| payment(row, &[], report);
    let read = table::parse(&source, report, |top, report| each(top, "payment", report, one));
    let errors = report.sorted();
    match (read, errors.first()) {
        (Ok(read), None) => match off_sum(&read) {
            Some(off) => Err(off.words()),
            None => Ok(read),
        },
        (_, first) => Err(first.map_or_else(
            || form.to_owned(),
            |fault| {
                let label = fault.place.as_ref().map_or("", |(_, label)| label.as_str());
                // Help that has a key is for a file.
                let mut help = fault.help.iter().map(String::as_str);
                let help = help.find(|help| !help.contains(" = ")).unwrap_or(form);
                format!("{}: {label}; {help}", fault.message)
            },
        )),
    }
}

/// One payment in words as a file has it. `None`: it does not say how much, or not when.
fn in_file(number: usize, text: &str) -> Option<String> {
    let (part, when) = if let Some(when) = text.strip_prefix("rest ") {
        ("share = \"rest\"".to_owned(), when)
    } else if let Some((share, when)) = text.split_once('%') {
        (format!("share = \"{} %\"", share.trim()), when)
    } else {
        let (figure, rest) = text.split_once(' ')?;
        let (currency, when) = rest.trim().split_once(' ')?;
        (format!("amount = \"{figure} {currency}\""), when)
    };
    let when = when.trim();
    if when.is_empty() {
        return None;
    }
    let day = match when.strip_prefix("on ").map(str::trim) {
        Some(day) if day.parse::<Date>().is_ok() => format!("on = {day}"),
        _ => format!("due = \"{}\"", payment_words::due(when).unwrap_or(when.to_owned())),
    };
    Some(format!("[[payment]]\nname = \"payment {number}\"\n{part}\n{day}\n"))
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
    row.no_bare_percentage("share", "", report)?;
    let share = row.text("share", report).and_then(|text| match text {
        Some(text) if text.value == "rest" => Ok(Some(text.map(|_| PaymentPart::Rest))),
        Some(text) if let Some(help) = payment_words::share(&text.value) => {
            let message = format!("`share` cannot be read: \"{}\"", text.value);
            let fault = Fault::error(Code::BadQuantity, message);
            Err(report.error(fault.at(&text.place, "expected one percentage").help(help)))
        }
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
                .at(&part.place, "expected above 0 % and at most 100 %, or an amount above 0")
                .help("write share = \"30 %\" for a deposit of 30 %, and share = \"rest\" for what the others leave"),
        ));
    }
    Ok(part)
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

/// Payments that do not make a whole.
enum OffSum<'a> {
    /// Two are of the rest.
    TwoRests(&'a Payment, &'a Payment),
    /// The shares make this much, and the rest is not stated or is nothing.
    Makes(Percent, &'a Payment),
}

impl OffSum<'_> {
    /// Reports it as of a file.
    fn report(&self, report: &mut Report) {
        report.add(match self {
            Self::TwoRests(first, second) => {
                Fault::error(Code::Contradiction, "two payments of the rest")
                    .at(&second.part.place, "again here")
                    .also(&first.part.place, "first here")
            }
            Self::Makes(sum, last) => {
                Fault::error(Code::Contradiction, format!("the payments make {sum} of the invoice"))
                    .at(&last.part.place, "the last of them")
                    .help("correct the shares, or let one payment be share = \"rest\"")
            }
        });
    }

    /// It in a sentence, for payments in words.
    fn words(&self) -> String {
        match self {
            Self::TwoRests(..) => "two payments are of the rest: write one of them".to_owned(),
            Self::Makes(sum, _) => {
                let whole = Decimal::ONE_HUNDRED;
                let way = match sum.hundredths() {
                    sum if sum < whole => "add \"rest 60 days after arrival\"",
                    sum if sum > whole => "correct the percentages",
                    _ => "leave out the rest",
                };
                format!("the payments make {sum} of the invoice: {way}")
            }
        }
    }
}

fn off_sum(all: &[Payment]) -> Option<OffSum<'_>> {
    let rests: Vec<&Payment> =
        all.iter().filter(|one| one.part.value == PaymentPart::Rest).collect();
    if let [first, second, ..] = rests[..] {
        return Some(OffSum::TwoRests(first, second));
    }
    let shares = all.iter().map(|one| match one.part.value {
        PaymentPart::Share(share) => Some(share.fraction()),
        PaymentPart::Amount(_) | PaymentPart::Rest => None,
    });
    let sum = shares.clone().flatten().try_fold(Decimal::ZERO, Decimal::checked_add)?;
    let whole = shares.clone().all(|share| share.is_some()) && rests.is_empty();
    let is_off = sum > Decimal::ONE
        || (whole && sum != Decimal::ONE)
        || (!rests.is_empty() && sum == Decimal::ONE);
    let last = all.last().filter(|_| is_off)?;
    Some(OffSum::Makes(Percent::new(sum * Decimal::ONE_HUNDRED), last))
}

/// The payments stated as amounts, for the check that an invoice has one currency.
pub(super) fn stated(payments: &[Payment]) -> impl Iterator<Item = At<Money>> + '_ {
    payments.iter().filter_map(|payment| match payment.part.value {
        PaymentPart::Amount(value) => Some(At { value, place: payment.part.place.clone() }),
        PaymentPart::Share(_) | PaymentPart::Rest => None,
    })
}
