//! The journal as a page: every line of every entry.

use crate::ledger::{Entry, Ledger, Line, kept_by};
use crate::quantity::{Decimal, Money};
use crate::show::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::trade::{AccountRow, numbered};

/// The page of some entries. `numbers` are the accounts as the importer's own ledger has them.
pub fn journal<'a>(
    ledger: &'a Ledger<'_>,
    entries: &'a [&'a Entry],
    numbers: &'a [AccountRow],
) -> Page<'a> {
    let rows = entries.iter().flat_map(move |entry| {
        let lines = entry.lines.iter().enumerate();
        lines.map(move |(at, line)| row(ledger, (entry, at, line), numbers))
    });
    let words = [
        "posted", "entry", "number", "called", "account", "yard", "party", "paper", "shipment",
        "charge",
    ];
    let mut columns: Vec<Column> = words.into_iter().map(Column::words).collect();
    columns.insert(2, Column::figures("line"));
    columns.push(Column::figures("slabs"));
    columns.push(Column::figures("debit"));
    columns.push(Column::figures("credit"));
    columns.push(Column::words("books"));
    columns.push(Column::figures("amount"));
    columns.push(Column::words("currency"));
    columns.push(Column::words("rate"));
    let table = Table {
        title: "Lines".to_owned(),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
    let note = "An entry's name and the number of its line stay: a second export adds nothing to the first.";
    Page {
        blocks: vec![
            Block::Heading("The journal".to_owned()),
            Block::Table(table),
            Block::Notes(vec![note.to_owned()]),
        ],
    }
}

fn row<'a>(
    ledger: &'a Ledger<'_>,
    (entry, at, line): (&'a Entry, usize, &'a Line),
    numbers: &'a [AccountRow],
) -> Row<'a> {
    let own = numbered(numbers, line.account, kept_by(ledger, line));
    let shipment = line.shipment.and_then(|at| ledger.freeze(at));
    let book = Money::from_minor(line.book, entry.currency);
    let is_debit = line.book >= 0;
    vec![
        Cell::text(entry.posted.to_string()),
        Cell::text(entry.id.as_str()),
        Cell::count(at + 1),
        Cell::text(own.map_or("", |own| &own.number.value)),
        Cell::text(own.and_then(|own| own.name.as_deref()).unwrap_or("")),
        Cell::text(line.account.word()),
        Cell::text(line.yard.as_str()),
        Cell::text(line.party.as_str()),
        Cell::text(line.number.as_str()),
        Cell::text(shipment.map_or("", |freeze| freeze.shipment.as_str())),
        Cell::text(line.charge.as_str()),
        Cell::maybe(Some(line.slabs).filter(|count| *count > 0).map(Decimal::from)),
        Cell::maybe(is_debit.then(|| book.amount())),
        Cell::maybe((!is_debit).then(|| book.negated().amount())),
        Cell::text(entry.currency.code()),
        Cell::maybe(line.amount.map(Money::amount)),
        Cell::text(line.amount.map_or("", |amount| amount.currency().code())),
        Cell::text(line.rate.map_or_else(String::new, |rate| rate.to_string())),
    ]
}
