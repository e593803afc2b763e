//! The payment calendar: due dates, currencies and the cost of finance.
//!
//! It foots with the landed cost to the cent: payments are the stock, expensed and recoverable charges.
//! Exchange differences between booking and payment stand apart.

use std::collections::BTreeMap;

use super::landed::Landed;
use crate::bill::{Charge, Working};
use crate::charges::{Choice, Job, by_payment, is_paid};
use crate::fault::{Place, Report, Reported};
use crate::load::Plan;
use crate::price::{Bound, Conversion, Payable, SERVICES, Target, convert_on, interest_on, told};
use crate::quantity::{Currency, Exact, Money, Overflow};
use crate::trade::{Date, Event, ExchangeUse, Interest, Shipment, Tariffs, Treatment};

/// A shipment's payments, the first first.
#[derive(Debug)]
pub struct Cash {
    /// The book currency.
    pub currency: Currency,
    /// What is paid, and what comes back.
    pub flows: Vec<Flow>,
    /// What is paid out less what comes back, as booked.
    pub net: Money,
    /// The same as it leaves the account: with the exchange differences.
    pub settled: Money,
    /// What is paid out for the slabs' cost: the landed cost.
    pub stock: Money,
    /// What is paid out and expensed.
    pub period: Money,
    /// What is paid out and recovered, whenever that is.
    pub recoverable: Money,
    /// The part of the slabs' cost that a hedge adds; no money moves for it.
    pub adjusted: Money,
    /// What comes back by the dates known.
    pub returned: Money,
    /// The interest on it all, where a row charges any: the charge, until when, and where it goes.
    pub interest: Option<(Money, Event, Treatment)>,
    /// Exchange differences: payments at another rate than they were booked at.
    pub differences: Vec<Difference>,
}

/// Money that moves on a day.
#[derive(Debug)]
pub struct Flow {
    /// The day.
    pub day: Date,
    /// For what.
    pub name: String,
    /// How much, in the currency it is paid in; less than nothing where it comes back.
    pub amount: Money,
    /// The same as it is booked.
    pub book: Money,
    /// Where it goes; an invoice's payment is in parts for several things.
    pub treatment: Option<Treatment>,
    /// Whether it is interest, which bears none itself.
    pub is_interest: bool,
    /// How many days it is out until the interest ends, and what those cost.
    pub interest: Option<(i64, Money)>,
    /// Where it is stated.
    pub place: Place,
}

/// The exchange difference on a payment after it was booked: an expense or an income, never a part
/// of the slabs' cost (IAS 21, paragraph 28).
#[derive(Debug)]
pub struct Difference {
    /// The day it is paid.
    pub day: Date,
    /// For what.
    pub name: String,
    /// What is paid.
    pub amount: Money,
    /// What it is booked at.
    pub booked: Money,
    /// What it costs on the day.
    pub settled: Money,
    /// The loss: its cost on the day less the booked amount. Below nothing it is a gain.
    pub loss: Money,
    /// The rate it is paid at: a contract's where one covers it, else the day's.
    pub exchange: Conversion,
}

/// What a flow is known by: its day, its name, where it is stated, whether it comes back, and its
/// currency: a row in percent follows charges in several.
type FlowId = (Date, String, (String, usize), bool, &'static str);

/// What a charge of an invoice has lost where its payments are not there.
const PLAN: &str = "how an invoice is paid";

/// Works out the payments of a shipment at its load and offers.
///
/// # Errors
///
/// If an exchange rate is missing, or a figure is too large.
pub fn cash(
    shipment: &Shipment,
    tariffs: &Tariffs,
    (plan, choice): (&Plan, &Choice),
    landed: &Landed,
    report: &mut Report,
) -> Result<Cash, Reported> {
    let job = Job { shipment, tariffs, plan, choice };
    let mut flows = gather(&job, landed, report)?;
    flows.sort_by_key(|flow| flow.day);
    let interest = landed.charges.iter().find_map(|charge| match &charge.booked.working {
        Working::Interest { rate, terms, bound, .. } => Some((charge, *rate, *terms, *bound)),
        _ => None,
    });
    if let Some((_, rate, terms, None)) = interest {
        let until = shipment.dates.of(terms.until);
        let done = with_interest(&mut flows, landed.currency, |amount, day| {
            (interest_on(amount, day, until, rate, terms), (until - day).num_days().max(0))
        });
        report.fits(done, &shipment.packing_file)?;
    }
    let differences = differences(&job, landed, report)?;
    let mut sum = |all: &mut dyn Iterator<Item = Money>| {
        report.fits(Money::total(landed.currency, all), &shipment.packing_file)
    };
    let of = |treatment| {
        let own = landed.charges.iter().filter(move |charge| charge.treatment == treatment);
        own.map(Charge::book)
    };
    let unpaid = landed.charges.iter().filter(|charge| charge.payable == Payable::Never);
    let back = flows.iter().filter(|flow| is_return(flow)).map(|flow| flow.book.negated());
    let booked = || flows.iter().map(|flow| flow.book);
    Ok(Cash {
        currency: landed.currency,
        net: sum(&mut booked())?,
        settled: sum(&mut booked().chain(differences.iter().map(|one| one.loss)))?,
        stock: landed.total,
        period: sum(&mut of(Treatment::Period))?,
        recoverable: sum(&mut of(Treatment::Recoverable))?,
        adjusted: sum(&mut unpaid.map(Charge::book))?,
        returned: sum(&mut { back })?,
        interest: interest.map(|(charge, _, terms, _): (_, _, Interest, Option<Bound>)| {
            (charge.book(), terms.until, charge.treatment)
        }),
        differences,
        flows,
    })
}

fn is_return(flow: &Flow) -> bool {
    flow.treatment == Some(Treatment::Recoverable) && flow.book.is_negative()
}

/// Every charge's payments, those of one row and day together, and an invoice's by its plan.
fn gather(job: &Job<'_>, landed: &Landed, report: &mut Report) -> Result<Vec<Flow>, Reported> {
    let mut flows: Vec<Flow> = Vec::new();
    let mut known: BTreeMap<FlowId, usize> = BTreeMap::new();
    let mut invoiced: Vec<Vec<Money>> =
        landed.plans.iter().map(|plan| vec![Money::zero(landed.currency); plan.len()]).collect();
    let paid = |charge: &&Charge| charge.treatment != Treatment::Notional;
    for charge in landed.charges.iter().filter(paid) {
        let (day, back) = match charge.payable {
            Payable::On(day, back) => (day, back),
            Payable::Never => continue,
            Payable::ByPlan(invoice) => {
                let plan = report.found(landed.plans.get(invoice), PLAN)?;
                let parts = report.fits(by_payment(charge, plan), &charge.source)?;
                let sums = report.found(invoiced.get_mut(invoice), PLAN)?;
                for (sum, part) in sums.iter_mut().zip(parts) {
                    *sum = report.fits(sum.plus(part), &charge.source)?;
                }
                continue;
            }
        };
        let returned = back.map(|day| (day, true));
        for (day, is_back) in std::iter::once((day, false)).chain(returned) {
            let sign = |money: Money| if is_back { money.negated() } else { money };
            let source = &charge.source;
            let row = (source.file.to_string(), source.line);
            let currency = charge.amount().currency().code();
            let id = (day, charge.name.to_string(), row, is_back, currency);
            let at = *known.entry(id).or_insert_with(|| {
                let suffix = if is_back { ", back" } else { "" };
                flows.push(Flow {
                    day,
                    name: format!("{}{suffix}", job.choice.called(charge)),
                    amount: Money::zero(charge.amount().currency()),
                    book: Money::zero(landed.currency),
                    treatment: Some(charge.treatment),
                    is_interest: !is_paid(charge),
                    interest: None,
                    place: source.clone(),
                });
                flows.len() - 1
            });
            let flow = report.found(flows.get_mut(at), "a payment")?;
            flow.amount = report.fits(flow.amount.plus(sign(charge.amount())), source)?;
            flow.book = report.fits(flow.book.plus(sign(charge.book())), source)?;
        }
    }
    for (at, books) in invoiced.into_iter().enumerate() {
        let invoice = report.found(job.shipment.invoices.get(at), "an invoice")?;
        let plan = report.found(landed.plans.get(at), PLAN)?;
        for (index, (paid, book)) in plan.iter().zip(books).enumerate() {
            let payment = invoice.payments.get(index);
            let name = payment.map_or("payment", |payment| payment.name.as_str());
            flows.push(Flow {
                day: paid.day,
                name: format!("{name}, invoice {}", invoice.number),
                amount: paid.amount,
                book,
                treatment: None,
                is_interest: false,
                interest: None,
                place: payment.map_or(&invoice.place, |payment| &payment.place).clone(),
            });
        }
    }
    Ok(flows)
}

/// Gives each flow its interest: the sum up to it, rounded, less the sum before it, so that they
/// add up to the charge.
fn with_interest(
    flows: &mut [Flow],
    currency: Currency,
    of: impl Fn(Money, Date) -> (Exact, i64),
) -> Result<(), Overflow> {
    let mut sum = Exact::zero(currency);
    let mut before = Money::zero(currency);
    for flow in flows.iter_mut().filter(|flow| !flow.is_interest) {
        let (interest, days) = of(flow.book, flow.day);
        sum = sum.plus(&interest)?;
        let after = sum.round()?;
        flow.interest = Some((days, after.minus(before)?));
        before = after;
    }
    Ok(())
}

/// Payments in another currency that are made at another rate than they were booked at.
fn differences(
    job: &Job<'_>,
    landed: &Landed,
    report: &mut Report,
) -> Result<Vec<Difference>, Reported> {
    let mut all = Vec::new();
    let mut settle = |name: String,
                      (day, amount): (Date, Money),
                      booked: Money,
                      (place, used_for, rates): (&Place, ExchangeUse, &[&Place]),
                      report: &mut Report| {
        let currency = landed.currency;
        let target = Target { event: Event::Sails, used_for, currency, needed_at: place };
        let exact = Exact::from(amount);
        let (settled, exchange) =
            told(convert_on(&job.terms(), &exact, &target, (day, &name)), report)?;
        // The row it was booked at serves for the payment, too: the rate has not moved.
        if rates.iter().any(|rate| exchange.place != **rate) {
            let loss = report.fits(settled.minus(booked), place)?;
            all.push(Difference { day, name, amount, booked, settled, loss, exchange });
        }
        Ok(())
    };
    for (at, plan) in landed.plans.iter().enumerate() {
        let invoice = report.found(job.shipment.invoices.get(at), "an invoice")?;
        let own = || landed.charges.iter().filter(|charge| charge.payable == Payable::ByPlan(at));
        let mut booked = vec![Money::zero(landed.currency); plan.len()];
        for charge in own() {
            let parts = report.fits(by_payment(charge, plan), &charge.source)?;
            for (sum, part) in booked.iter_mut().zip(parts) {
                *sum = report.fits(sum.plus(part), &charge.source)?;
            }
        }
        for (index, (paid, booked)) in plan.iter().zip(booked).enumerate() {
            let rates: Vec<&Place> = own().flat_map(|charge| rates(charge, index)).collect();
            if rates.is_empty() {
                continue;
            }
            let payment = invoice.payments.get(index);
            let name = payment.map_or("payment", |payment| payment.name.as_str());
            let place = payment.map_or(&invoice.place, |payment| &payment.place);
            let name = format!("{name}, invoice {}", invoice.number);
            let at = (place, paid.used_for, &rates[..]);
            settle(name, (paid.day, paid.amount), booked, at, report)?;
        }
    }
    for charge in landed.charges.iter().filter(|charge| is_paid(charge)) {
        let (Payable::On(day, _), Some(conversion)) = (charge.payable, charge.exchange()) else {
            continue;
        };
        let place = &charge.source;
        // Booked at the rate of its leg's day, or of its own where that comes before.
        if day > conversion.on {
            let at = (place, SERVICES, &[&conversion.place][..]);
            settle(charge.name.to_string(), (day, charge.amount()), charge.book(), at, report)?;
        }
    }
    all.sort_by_key(|one| one.day);
    Ok(all)
}

/// The exchange rows at which a payment's part of a charge was booked.
fn rates(charge: &Charge, payment: usize) -> Vec<&Place> {
    let parts = &charge.booked.parts;
    if parts.is_empty() {
        return charge.exchange().map(|exchange| &exchange.place).into_iter().collect();
    }
    let own = parts.iter().filter(|part| part.payments.iter().any(|(at, _)| *at == payment));
    own.map(|part| &part.exchange.place).collect()
}
