//! What is booked, as a page: each charge with its key, and what a calculation of today has otherwise.

use crate::book::Changed;
use crate::quantity::Money;
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::{Freeze, Treatment};

/// The page of a booked estimate. `changed` is what a calculation of today has otherwise, where one was made.
pub fn booked<'a>(freeze: &'a Freeze, changed: Option<&'a [Changed]>) -> Page<'a> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let stock = freeze.charges.iter().filter(|charge| charge.treatment == Treatment::Stock);
    let cost = Money::total(freeze.currency, stock.map(|charge| charge.book));
    let facts = vec![
        fact("quoted on", freeze.quoted.to_string()),
        fact("yard", format!("{}, books by {}", freeze.yard, freeze.framework.word())),
        fact("slabs", freeze.slabs.len().to_string()),
        fact("landed cost", cost.map_or_else(|_| "too large".to_owned(), |cost| cost.to_string())),
        fact("made by version", freeze.version.clone()),
    ];
    let mut blocks = vec![
        Block::Heading(format!("The booked estimate of {}", freeze.shipment)),
        Block::Facts(facts),
        Block::Table(charges(freeze)),
    ];
    match changed {
        None => {}
        Some([]) => {
            blocks.push(Block::Notes(vec!["A calculation of today comes to the same.".to_owned()]));
        }
        Some(changed) => {
            blocks.push(Block::Table(differences(freeze, changed)));
            blocks.push(Block::Notes(vec![
                "The books stay as they were booked: what comes otherwise is an event.".to_owned(),
            ]));
        }
    }
    Page { blocks }
}

fn charges(freeze: &Freeze) -> Table<'_> {
    let rows = freeze.charges.iter().map(|charge| {
        vec![
            Cell::text(charge.key.as_str()),
            Cell::text(charge.payee.as_str()),
            Cell::text(charge.owed.to_string()),
            Cell::text(charge.treatment.shown()),
            Cell::money(charge.amount),
            Cell::text(charge.amount.currency().code()),
            Cell::money(charge.book),
        ]
    });
    Table {
        title: "Charges, by the names that events give them".to_owned(),
        columns: vec![
            Column::words("charge"),
            Column::words("billed by"),
            Column::words("owed on"),
            Column::words("goes to"),
            Column::figures("amount"),
            Column::words("currency"),
            Column::figures(freeze.currency.code()),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

fn differences<'a>(freeze: &Freeze, changed: &'a [Changed]) -> Table<'a> {
    let rows = changed.iter().map(|one| {
        vec![
            Cell::text(one.key.as_str()),
            Cell::maybe(one.booked.map(Money::amount)),
            Cell::maybe(one.today.map(Money::amount)),
        ]
    });
    Table {
        title: format!("A calculation of today comes otherwise, in {}", freeze.currency),
        columns: vec![Column::words("charge"), Column::figures("booked"), Column::figures("today")],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
