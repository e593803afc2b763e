//! What stood on the rack against the packing list, as a page.

use crate::ledger::{Arrived, Ledger, found};
use crate::quantity::Units;
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::{Date, Found};

/// The events that a list of the yard makes.
#[derive(Debug)]
pub struct Proposed {
    /// How many they are.
    pub events: usize,
    /// Their text.
    pub text: String,
    /// The file that they belong to.
    pub file: String,
    /// Whether they stand there now.
    pub is_written: bool,
}

/// The page of a shipment's arrival; with what a list of the yard makes of it.
pub fn arrive<'a>(
    ledger: &'a Ledger<'_>,
    shipment: usize,
    arrived: &'a [Arrived<'a>],
    (on, proposed, units): (Date, Option<&'a Proposed>, Units),
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
    let over =
        over.iter().map(|(slab, yard, _)| format!("{slab} stands in {yard} and was never packed"));
    let proposed = proposed.map(|own| {
        if own.is_written {
            format!(
                "From the list: {} added to {}.",
                if own.events == 1 { "the event is" } else { "the events are" },
                own.file
            )
        } else {
            format!(
                "From the list, as it would be: --write adds {} to {}.",
                if own.events == 1 { "this event" } else { "these events" },
                own.file
            )
        }
    });
    let notes: Vec<String> = over.chain(proposed).collect();
    let mut blocks =
        vec![Block::Heading(format!("Arrival of {called} on {on}")), Block::Table(table)];
    let found: Vec<&Found> = found(ledger, shipment).collect();
    if !found.is_empty() {
        blocks.push(Block::Table(otherwise(found, units)));
    }
    if !notes.is_empty() {
        blocks.push(Block::Notes(notes));
    }
    blocks.push(Block::Format);
    Page { blocks }
}

/// The slabs that are not as they were packed.
fn otherwise(found: Vec<&Found>, units: Units) -> Table<'_> {
    let rows = found.into_iter().map(move |one| {
        vec![
            Cell::text(one.slab.value.as_str()),
            Cell::text(one.state.word()),
            Cell::maybe(one.area.map(|area| area.figure(units, 4))),
            Cell::text(one.quality.as_deref().unwrap_or("")),
            Cell::text(one.remark.as_deref().unwrap_or("")),
        ]
    });
    Table {
        title: "Slabs that are not as they were packed".to_owned(),
        columns: vec![
            Column::words("slab"),
            Column::words("found"),
            Column::figures(format!("measures {}", units.area())),
            Column::words("quality"),
            Column::words("remark"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
