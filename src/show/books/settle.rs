//! What was estimated against what was billed, as a page.

use crate::ledger::{Ledger, Settled};
use crate::quantity::{Decimal, Money};
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::Date;

/// The page of a shipment's charges, settled or not.
pub fn settle<'a>(
    ledger: &'a Ledger<'_>,
    shipment: usize,
    settled: &'a [Settled<'a>],
    on: Date,
) -> Page<'a> {
    let freeze = ledger.freeze(shipment);
    let called = freeze.map_or("", |freeze| freeze.shipment.as_str());
    let books = freeze.map_or("", |freeze| freeze.currency.code());
    let open = settled.iter().filter(|one| one.open.is_some_and(|open| !open.is_zero())).count();
    let waits = settled.iter().filter(|one| one.owed.is_none()).count();
    let facts = vec![
        ("charges".to_owned(), settled.len().to_string()),
        ("bills to come".to_owned(), open.to_string()),
        ("not owed yet".to_owned(), waits.to_string()),
    ];
    let rows = settled.iter().map(|one| {
        let money = |money: Option<Money>| Cell::maybe(money.map(Money::amount));
        let code = one.estimate.or(one.billed.first().copied());
        let billed: Vec<String> = one.billed.iter().map(ToString::to_string).collect();
        vec![
            Cell::text(one.key),
            Cell::text(one.payee),
            Cell::text(one.treatment.shown()),
            money(one.estimate),
            Cell::text(code.map_or("", |money| money.currency().code())),
            Cell::text(billed.join(" and ")),
            money(one.open),
            money(one.differs),
            Cell::text(one.owed.map_or_else(String::new, |owed| owed.to_string())),
            Cell::maybe(one.age.map(Decimal::from)),
        ]
    });
    let table = Table {
        title: format!("Charges on {on}"),
        columns: vec![
            Column::words("charge"),
            Column::words("billed by"),
            Column::words("goes to"),
            Column::figures("estimated"),
            Column::words("currency"),
            Column::words("billed"),
            Column::figures("to come"),
            Column::figures(format!("more in {books}")),
            Column::words("owed on"),
            Column::figures("days"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
    Page {
        blocks: vec![
            Block::Heading(format!("Bills of {called} on {on}")),
            Block::Facts(facts),
            Block::Table(table),
        ],
    }
}
