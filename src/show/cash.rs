//! The payment calendar as a page.

use super::cost::{GOES_TO, heading};
use super::page::{Block, Cell, Column, Page, Rows, Table};
use crate::cost::{Cash, Difference};
use crate::quantity::{Decimal, Money};
use crate::trade::{Shipment, Treatment};

/// The page of a shipment's payments.
pub fn paid<'a>(shipment: &'a Shipment, cash: &'a Cash) -> Page<'a> {
    let mut blocks = vec![
        Block::Heading(format!("Payments for {}", heading(shipment))),
        Block::Day(shipment.dates.quoted),
        Block::Facts(facts(cash)),
        Block::Table(flows(cash)),
    ];
    if !cash.differences.is_empty() {
        blocks.push(Block::Table(differences(cash)));
    }
    blocks.push(Block::Notes(vec![
        GOES_TO.to_owned(),
        "Future dates and rates are plans. Exchange differences are an expense or income of the period, not \
         part of a slab's cost."
            .to_owned(),
        "The customs authority and a licensed broker confirm when duties and taxes are due."
            .to_owned(),
    ]));
    Page { blocks }
}

fn facts(cash: &Cash) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let mut facts = vec![
        fact("for the landed cost", cash.stock.to_string()),
        fact("expensed", cash.period.to_string()),
        fact("recoverable", cash.recoverable.to_string()),
        fact("comes back", comes_back(cash)),
        fact("net", cash.net.to_string()),
    ];
    if !cash.differences.is_empty() {
        facts.push(fact("net as paid", format!("{}, with exchange differences", cash.settled)));
    }
    if !cash.adjusted.is_zero() {
        let what = format!("{} of the landed cost, from a hedge: no payment", cash.adjusted);
        facts.push(fact("basis adjustment", what));
    }
    if let Some((interest, until, treatment)) = cash.interest {
        let goes_to = match treatment {
            Treatment::Notional => "not in the net",
            _ => "in the net",
        };
        facts.push(fact("finance", format!("{interest} until {}, {goes_to}", until.word())));
    }
    facts
}

/// The sum that comes back by known days, and the recoverable sum without a day.
fn comes_back(cash: &Cash) -> String {
    match cash.recoverable.minus(cash.returned) {
        Ok(rest) if !rest.is_zero() && !rest.is_negative() => {
            format!("{} by the days known; {rest} on a day not known", cash.returned)
        }
        _ => cash.returned.to_string(),
    }
}

fn flows(cash: &Cash) -> Table<'_> {
    let rows = cash.flows.iter().map(|flow| {
        let (days, interest) = flow.interest.unzip();
        vec![
            Cell::text(flow.day.to_string()),
            Cell::text(flow.name.as_str()),
            Cell::text(flow.treatment.map_or("", Treatment::shown)),
            Cell::money(flow.amount),
            Cell::text(flow.amount.currency().code()),
            Cell::money(flow.book),
            Cell::maybe(days.map(Decimal::from)),
            Cell::maybe(interest.map(Money::amount)),
        ]
    });
    let mut totals = vec![Cell::Empty; 8];
    totals[1] = Cell::text("net");
    totals[5] = Cell::money(cash.net);
    totals[7] = Cell::maybe(cash.interest.map(|(interest, ..)| interest.amount()));
    Table {
        title: "Payments by due date, as booked".to_owned(),
        columns: vec![
            Column::above("due", "due"),
            Column::words("for"),
            Column::words("goes to"),
            Column::figures("amount"),
            Column::words("currency"),
            Column::figures(cash.currency.code()),
            Column::figures("days"),
            Column::figures("finance"),
        ],
        rows: Rows::of(rows),
        totals: Some(totals),
        is_main: true,
    }
}

fn differences(cash: &Cash) -> Table<'_> {
    let rows = cash.differences.iter().map(|one: &Difference| {
        vec![
            Cell::text(one.day.to_string()),
            Cell::text(one.name.as_str()),
            Cell::text(one.amount.to_string()),
            Cell::text(one.exchange.quote.to_string()),
            Cell::money(one.booked),
            Cell::money(one.settled),
            Cell::money(one.loss),
        ]
    });
    Table {
        title: format!("Exchange differences in {} (negative: a gain)", cash.currency),
        columns: vec![
            Column::words("on"),
            Column::words("for"),
            Column::figures("amount"),
            Column::words("paid at"),
            Column::figures("booked"),
            Column::figures("settled"),
            Column::figures("loss"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
