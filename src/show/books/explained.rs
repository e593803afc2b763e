//! What a booked estimate has of one slab, as a page: every list of charges that it shares, and its share to the cent.

use crate::book::{Shared, shared};
use crate::quantity::{Money, Overflow};
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::{Freeze, Treatment};

/// The page of one slab of a booked estimate; `piece` says what a piece of it has.
///
/// # Errors
/// Where a sum cannot be held.
pub fn explained_booked(
    freeze: &Freeze,
    slab: usize,
    piece: Option<String>,
) -> Result<Page<'_>, Overflow> {
    let all = shared(freeze, slab)?;
    let is_stock = |one: &&Shared<'_>| {
        one.charges.first().is_some_and(|charge| charge.treatment == Treatment::Stock)
    };
    let cost = all.iter().filter(is_stock).map(|one| one.share);
    let cost = Money::total(freeze.currency, cost)?;
    let id = freeze.slabs.get(slab).map_or("", |slab| slab.id.as_str());
    let rows: Vec<_> = all
        .iter()
        .map(|one| {
            let keys: Vec<&str> = one.charges.iter().map(|charge| charge.key.as_str()).collect();
            let first = one.charges.first();
            vec![
                Cell::text(keys.join("; ")),
                Cell::text(first.map_or("", |charge| charge.treatment.shown())),
                Cell::text(first.map_or("", |charge| charge.by.word())),
                Cell::money(one.book),
                Cell::text(one.exact.shown(6)),
                Cell::money(one.share),
            ]
        })
        .collect();
    let books = freeze.currency.code();
    let table = Table {
        title: format!("Charges of slab {id}, in {books}"),
        columns: vec![
            Column::words("charges"),
            Column::words("goes to"),
            Column::words("shared by"),
            Column::figures("booked"),
            Column::figures("exact share"),
            Column::figures("share"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
    let mut blocks = vec![
        Block::Heading(format!("Slab {id} of {} as it was booked", freeze.shipment)),
        Block::Facts(vec![("cost".to_owned(), cost.to_string())]),
        Block::Table(table),
    ];
    let left_over =
        "Cents that rounding leaves over go to single slabs, so that all slabs come to the charge.";
    let notes = std::iter::once(left_over.to_owned()).chain(piece).collect();
    blocks.push(Block::Notes(notes));
    Ok(Page { blocks })
}
