//! When a charge is paid, and what an invoice's item is booked at when parts of it are paid before
//! the goods are the importer's.
//!
//! What is paid in advance is booked at the rate of the day it is paid on, each advance at its own,
//! and is not translated again when the goods are received (IFRIC 22, paragraphs 8 and 9). What is
//! paid afterwards is booked at the rate of the day the goods become the importer's; how the rate
//! moves until it is paid is a difference of exchange, which never is part of the goods' cost (IAS
//! 21, paragraphs 21 and 28).

use super::job::Job;
use crate::bill::{BookedPart, Conversion, Priced, Working};
use crate::fault::{Code, Fault, Place, Report};
use crate::price::{Target, convert_on, day_of, told};
use crate::quantity::{Exact, Money};
use crate::trade::payment::amounts;
use crate::trade::{Date, Event, ExchangeUse, Invoice, PaymentDay};

/// One payment of an invoice, worked out.
#[derive(Debug, Clone)]
pub(super) struct Paid {
    pub(super) day: Date,
    pub(super) amount: Money,
    /// The kind of rate it is converted at.
    pub(super) used_for: ExchangeUse,
    /// The day whose rate it is booked at: its own where it is an advance or a contract, the day
    /// of recognition otherwise.
    pub(super) booked_on: Date,
}

/// The event on which goods become the importer's under the usual terms: their cost is recognised.
pub(super) const RECOGNISED: Event = Event::Sails;

/// The payments of an invoice over a total. Without a plan, it is paid on the day of recognition.
pub(super) fn plan_of(
    job: &Job<'_>,
    invoice: &Invoice,
    total: Money,
    report: &mut Report,
) -> Option<Vec<Paid>> {
    let dates = &job.shipment.dates;
    let recognised = dates.of(RECOGNISED);
    if invoice.payments.is_empty() {
        let used_for = invoice.exchange;
        return Some(vec![Paid {
            day: recognised,
            amount: total,
            used_for,
            booked_on: recognised,
        }]);
    }
    let parts = match amounts(&invoice.payments, total) {
        Ok(Ok(parts)) => parts,
        Ok(Err(sum)) => {
            report.add(no_sum(invoice, sum, total));
            return None;
        }
        Err(overflow) => {
            report
                .add(Fault::error(Code::Overflow, overflow.to_string()).at(&invoice.place, "here"));
            return None;
        }
    };
    let mut all = Vec::new();
    for (payment, amount) in invoice.payments.iter().zip(parts) {
        let day = match &payment.day {
            PaymentDay::On(day) => *day,
            PaymentDay::After(rule) => told(day_of(rule, dates, &payment.place), report)?,
        };
        let used_for = payment.exchange.unwrap_or(invoice.exchange);
        let own = day < recognised || used_for == ExchangeUse::Contract;
        let booked_on = if own { day } else { recognised };
        all.push(Paid { day, amount, used_for, booked_on });
    }
    Some(all)
}

fn no_sum(invoice: &Invoice, sum: Money, total: Money) -> Fault {
    let message =
        format!("the payments of invoice {} make {sum}, and its total is {total}", invoice.number);
    let fault = Fault::error(Code::Contradiction, message)
        .help("correct the plan, or let one payment be share = \"rest\"");
    match invoice.payments.last() {
        Some(last) => fault.at(&last.part.place, "the last payment"),
        None => fault.at(&invoice.place, "this invoice"),
    }
}

/// What an item of an invoice is booked at.
pub(super) struct Booked {
    pub(super) book: Money,
    pub(super) exchange: Option<Conversion>,
    pub(super) parts: Vec<BookedPart>,
}

impl Booked {
    /// The item, priced.
    pub(super) fn priced(self, amount: Money, working: Working) -> Priced {
        let Self { book, exchange, parts } = self;
        Priced { amount, book, exchange, parts, working, entry: None }
    }
}

/// Books an item of an invoice: once where one rate serves for all of it, and otherwise once for
/// each part that has a rate of its own (rule R2). An item has a part in each payment as the
/// payment has in the invoice's total.
pub(super) fn book(
    job: &Job<'_>,
    (invoice, paid, total): (&Invoice, &[Paid], Money),
    amount: Money,
    place: &Place,
    report: &mut Report,
) -> Option<Booked> {
    let currency = job.shipment.yard.currency;
    if amount.currency() == currency {
        return Some(Booked { book: amount, exchange: None, parts: Vec::new() });
    }
    let mut groups: Vec<(ExchangeUse, Date, Vec<usize>)> = Vec::new();
    for (index, one) in paid.iter().enumerate() {
        let same = groups
            .iter_mut()
            .find(|(used_for, on, _)| (*used_for, *on) == (one.used_for, one.booked_on));
        match same {
            Some((_, _, members)) => members.push(index),
            None => groups.push((one.used_for, one.booked_on, vec![index])),
        }
    }
    if total.is_zero() {
        groups.truncate(1);
    }
    let alone = groups.len() == 1;
    let mut parts = Vec::new();
    for (used_for, on, payments) in groups {
        let members = payments.iter().filter_map(|at| paid.get(*at));
        let sum = Money::total(total.currency(), members.map(|one| one.amount)).ok()?;
        let part = Exact::from(amount);
        let part = if alone { part } else { part.share(&Exact::from(sum), &Exact::from(total)) };
        let names = payments.iter().filter_map(|at| invoice.payments.get(*at));
        let name = names.map(|payment| payment.name.as_str()).collect::<Vec<_>>().join(", ");
        let target = Target { event: RECOGNISED, used_for, currency, needed_at: place };
        let (book, exchange) = told(convert_on(&job.terms(), &part, &target, (on, &name)), report)?;
        parts.push(BookedPart { payments, name, amount: part, book, exchange });
    }
    let book = Money::total(currency, parts.iter().map(|part| part.book)).ok()?;
    let exchange = parts.last().map(|part| part.exchange.clone());
    if parts.len() == 1 {
        parts.clear();
    }
    Some(Booked { book, exchange, parts })
}
