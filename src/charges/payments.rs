//! When a charge is paid, and the rates at which an invoice's item with advance payments is booked.
//!
//! An advance is booked at the rate of its payment day and not translated again when the goods arrive
//! (IFRIC 22, paragraphs 8 and 9). A later payment is booked at the rate of the day control of the goods
//! passes. The movement up to payment, and the gain or loss on a forward, are exchange differences, never
//! part of the goods' cost (IAS 21, paragraphs 21 and 28).

use super::job::Job;
use crate::bill::{Booked, BookedPart, Conversion, Working};
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::price::{SERVICES, Target, day_of, row_on, told};
use crate::quantity::{Decimal, Exact, Money, Overflow};
use crate::trade::payment::amounts;
use crate::trade::{Date, Event, ExchangeRow, ExchangeUse, Invoice, PaymentDay};

/// One payment of an invoice, worked out.
#[derive(Debug, Clone)]
pub(crate) struct Paid {
    pub(crate) day: Date,
    pub(crate) amount: Money,
    /// The kind of rate it is paid at: a contract's, or the bank's of the day.
    pub(crate) used_for: ExchangeUse,
    /// Whether it is a claim on money until the goods are the importer's, and no advance on goods.
    is_claim: bool,
}

impl Paid {
    /// All of an invoice on one day.
    fn at_once(day: Date, amount: Money, used_for: ExchangeUse) -> Self {
        Self { day, amount, used_for, is_claim: false }
    }

    /// The day of its booking rate for goods that pass on a day: an advance has its own day (IFRIC 22,
    /// paragraphs 8 and 9); anything else, a claim on money included, has the day the goods pass.
    fn booked_on(&self, passes: Date) -> Date {
        if self.day < passes && !self.is_claim { self.day } else { passes }
    }
}

/// The payments of an invoice over a total. Without a plan, it is paid on the day the last of its goods
/// become the importer's.
pub(super) fn plan_of(
    job: &Job<'_>,
    invoice: &Invoice,
    (total, last): (Money, Date),
    report: &mut Report,
) -> Result<Vec<Paid>, Reported> {
    let dates = &job.shipment.dates;
    if invoice.payments.is_empty() {
        return Ok(vec![Paid::at_once(last, total, invoice.exchange)]);
    }
    let parts = report.fits(amounts(&invoice.payments, total), &invoice.place)?;
    let parts = parts.map_err(|sum| report.error(no_sum(invoice, sum, total)))?;
    let mut all = Vec::new();
    for (payment, amount) in invoice.payments.iter().zip(parts) {
        let day = match &payment.day {
            PaymentDay::On(day) => *day,
            PaymentDay::After(rule) => told(day_of(rule, dates, &payment.place), report)?,
        };
        let used_for = payment.exchange.unwrap_or(invoice.exchange);
        all.push(Paid { day, amount, used_for, is_claim: payment.repaid_in_money });
    }
    Ok(all)
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

/// The days on which an item's goods become the importer's, each with its part of them.
pub(super) type Passing = [(Date, Decimal)];

/// Books an item of an invoice at the rates of its days, never at a forward's: once under one rate, or once
/// for each part with a rate of its own (rule R2). An item is divided over the payments as the invoice's
/// total is.
pub(super) fn book(
    job: &Job<'_>,
    (invoice, paid): (&Invoice, &[Paid]),
    (amount, working, passing): (Money, Working, &Passing),
    place: &Place,
    report: &mut Report,
) -> Result<Booked, Reported> {
    let currency = job.shipment.yard.currency;
    if amount.currency() == currency {
        return Ok(Booked { amount, book: amount, exchange: None, parts: Vec::new(), working });
    }
    let mut rated: Vec<Rated<'_>> = Vec::new();
    for (payment, one) in paid.iter().enumerate() {
        for (passes, goods) in passing {
            let on = one.booked_on(*passes);
            let named = match invoice.payments.get(payment) {
                Some(payment) if on != *passes => payment.name.as_str(),
                _ => "control passes",
            };
            let target =
                Target { event: Event::Sails, used_for: SERVICES, currency, needed_at: place };
            let from = amount.currency();
            let found = row_on(&job.terms(), from, &target, (on, named));
            let row = told(found, report)?;
            let weight = one.amount.amount().checked_mul(*goods).ok_or(WEIGHT);
            let weight = report.fits(weight, place)?;
            match rated.iter_mut().find(|known| std::ptr::eq(known.row, row)) {
                Some(known) => report.fits(known.add(payment, weight), place)?,
                None => rated.push(Rated { row, on, payments: vec![(payment, weight)] }),
            }
        }
    }
    let weights: Result<Vec<Decimal>, Overflow> = rated.iter().map(Rated::weight).collect();
    let weights = report.fits(weights, place)?;
    let sum = report.fits(sum_of(weights.iter()), place)?;
    if sum.is_zero() {
        rated.truncate(1);
    }
    let is_alone = rated.len() == 1;
    let mut parts = Vec::new();
    for (one, own) in rated.into_iter().zip(weights) {
        let whole = Exact::from(amount);
        let weight = |figure| Exact::new(figure, amount.currency());
        let part = if is_alone { whole } else { whole.share(&weight(own), &weight(sum)) };
        let names = one.payments.iter().filter_map(|(at, _)| invoice.payments.get(*at));
        let name = names.map(|payment| payment.name.as_str()).collect::<Vec<_>>().join(", ");
        let book = report.found(part.converted(&one.row.quote), "the rate of a currency")?;
        let book = report.fits(book.round(), place)?;
        let exchange = Conversion::by(one.row, one.on);
        parts.push(BookedPart { payments: one.payments, name, amount: part, book, exchange });
    }
    let book = Money::total(currency, parts.iter().map(|part| part.book));
    let book = report.fits(book, place)?;
    let exchange = parts.last().map(|part| part.exchange.clone());
    if is_alone {
        parts.clear();
    }
    Ok(Booked { amount, book, exchange, parts, working })
}

/// The weights by which an item is divided over its payments.
const WEIGHT: Overflow = Overflow { what: "the weight of a payment" };

fn sum_of<'a>(mut weights: impl Iterator<Item = &'a Decimal>) -> Result<Decimal, Overflow> {
    weights.try_fold(Decimal::ZERO, |sum, one| sum.checked_add(*one)).ok_or(WEIGHT)
}

/// The part of an item that is booked at one rate: its payments, each with its weight in the item.
struct Rated<'a> {
    row: &'a ExchangeRow,
    on: Date,
    payments: Vec<(usize, Decimal)>,
}

impl Rated<'_> {
    fn add(&mut self, payment: usize, weight: Decimal) -> Result<(), Overflow> {
        match self.payments.iter_mut().find(|(at, _)| *at == payment) {
            Some((_, known)) => *known = known.checked_add(weight).ok_or(WEIGHT)?,
            None => self.payments.push((payment, weight)),
        }
        Ok(())
    }

    fn weight(&self) -> Result<Decimal, Overflow> {
        sum_of(self.payments.iter().map(|(_, weight)| weight))
    }
}

/// Books a payment to anybody but the supplier, on the day the last of the goods pass.
pub(super) fn book_apart(
    job: &Job<'_>,
    invoice: &Invoice,
    (amount, working, passing): (Money, Working, &Passing),
    place: &Place,
    report: &mut Report,
) -> Result<Booked, Reported> {
    let last = passing.iter().map(|(day, _)| *day).max();
    let last = report.found(last, "the day on which goods pass")?;
    let paid = [Paid::at_once(last, amount, SERVICES)];
    book(job, (invoice, &paid), (amount, working, passing), place, report)
}
