//! What stood on the rack against the packing list, as a page.

use crate::ledger::{Arrived, Ledger};
use crate::quantity::Units;
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::Date;

/// The page of a shipment's arrival.
pub fn arrive<'a>(
    ledger: &'a Ledger<'_>,
    shipment: usize,
    arrived: &'a [Arrived<'a>],
    (on, units): (Date, Units),
) -> Page<'a> {
    let freeze = ledger.freeze(shipment);
    let called = freeze.map_or("", |freeze| freeze.shipment.as_str());
    let books = freeze.map_or("", |freeze| freeze.currency.code());
    let area = units.area();
    let rows = arrived.iter().map(move |one| {
        vec![
            Cell::text(one.container),
            Cell::text(one.line),
            Cell::count(one.packed),
            Cell::count(one.waits),
            Cell::count(one.sound()),
            Cell::count(one.broken),
            Cell::count(one.short),
            Cell::Figure(one.shipped.figure(units, 4)),
            Cell::Figure(one.lost.figure(units, 4)),
            Cell::money(one.taken),
            Cell::money(one.expensed),
        ]
    });
    let table = Table {
        title: format!("Slabs by box and line on {on}"),
        columns: vec![
            Column::words("box"),
            Column::words("line"),
            Column::figures("packed"),
            Column::figures("to come"),
            Column::figures("sound"),
            Column::figures("broken"),
            Column::figures("short"),
            Column::figures(format!("packed {area}")),
            Column::figures(format!("lost {area}")),
            Column::figures(format!("normal loss {books}")),
            Column::figures(format!("expensed {books}")),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
    let over = ledger.over.get(shipment).map_or(&[][..], |over| over);
    let over: Vec<String> = over
        .iter()
        .map(|(slab, yard, _)| format!("{slab} stands in {yard} and was never packed"))
        .collect();
    let mut blocks =
        vec![Block::Heading(format!("Arrival of {called} on {on}")), Block::Table(table)];
    if !over.is_empty() {
        blocks.push(Block::Notes(over));
    }
    Page { blocks }
}
