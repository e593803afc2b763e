//! The payment calendar for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, SourceJson, plain, source_json, write};
use crate::cost::Cash;
use crate::trade::{Shipment, Treatment};

#[derive(Serialize)]
struct CashJson<'a> {
    format: u32,
    shipment: &'a str,
    /// The [[way]] to buy it; none for the shipment as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    way: Option<&'a str>,
    currency: &'a str,
    payments: Vec<FlowJson<'a>>,
    net: String,
    /// The same with the exchange differences.
    net_settled: String,
    stock: String,
    period: String,
    recoverable: String,
    returned: String,
    /// What of `stock` no money moves for: what a hedge adds to it.
    basis_adjustment: String,
    interest: Option<String>,
    exchange_differences: Vec<DifferenceJson<'a>>,
}

#[derive(Serialize)]
struct FlowJson<'a> {
    due: String,
    name: &'a str,
    treatment: Option<&'static str>,
    amount: String,
    currency: &'static str,
    book_amount: String,
    days: Option<i64>,
    interest: Option<String>,
    source: SourceJson<'a>,
}

#[derive(Serialize)]
struct DifferenceJson<'a> {
    paid: String,
    name: &'a str,
    amount: String,
    currency: &'static str,
    quote: String,
    booked: String,
    settled: String,
    loss: String,
}

/// Writes a payment calendar.
///
/// # Errors
/// Where the output cannot be written.
pub fn cash(shipment: &Shipment, cash: &Cash, out: &mut dyn Write) -> io::Result<()> {
    let flows = cash.flows.iter().map(|flow| FlowJson {
        due: flow.day.to_string(),
        name: &flow.name,
        treatment: flow.treatment.map(Treatment::word),
        amount: plain(flow.amount),
        currency: flow.amount.currency().code(),
        book_amount: plain(flow.book),
        days: flow.interest.map(|(days, _)| days),
        interest: flow.interest.map(|(_, interest)| plain(interest)),
        source: source_json(&flow.place),
    });
    let differences = cash.differences.iter().map(|one| DifferenceJson {
        paid: one.day.to_string(),
        name: &one.name,
        amount: plain(one.amount),
        currency: one.amount.currency().code(),
        quote: one.exchange.quote.to_string(),
        booked: plain(one.booked),
        settled: plain(one.settled),
        loss: plain(one.loss),
    });
    let json = CashJson {
        format: FORMAT,
        shipment: &shipment.name,
        way: shipment.way.as_deref(),
        currency: cash.currency.code(),
        payments: flows.collect(),
        net: plain(cash.net),
        net_settled: plain(cash.settled),
        stock: plain(cash.stock),
        period: plain(cash.period),
        recoverable: plain(cash.recoverable),
        returned: plain(cash.returned),
        basis_adjustment: plain(cash.adjusted),
        interest: cash.interest.map(|(interest, ..)| plain(interest)),
        exchange_differences: differences.collect(),
    };
    write(&json, out)
}
