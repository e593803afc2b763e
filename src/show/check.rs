//! What `check` found, shipment by shipment.

use super::page::{Block, Cell, Column, Page, Rows, Table};
use crate::quantity::Money;

/// How one shipment fared.
#[derive(Debug)]
pub struct Checked {
    /// Its name.
    pub name: String,
    /// Its landed cost, where it has one.
    pub total: Option<Money>,
    /// How many slabs and containers it has.
    pub counts: Option<(usize, usize)>,
    /// What is wrong, in a word.
    pub verdict: &'static str,
}

/// The page of a check.
pub fn checked(all: &[Checked]) -> Page<'_> {
    let rows = all.iter().map(|one| {
        let (slabs, boxes) = one.counts.unzip();
        vec![
            Cell::text(one.name.as_str()),
            Cell::text(one.verdict),
            slabs.map_or(Cell::Empty, Cell::count),
            boxes.map_or(Cell::Empty, Cell::count),
            Cell::text(one.total.map_or_else(String::new, |total| total.to_string())),
        ]
    });
    let table = Table {
        title: String::new(),
        columns: vec![
            Column::words("shipment"),
            Column::words("verdict"),
            Column::figures("slabs"),
            Column::figures("boxes"),
            Column::figures("landed cost"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
    Page { blocks: vec![Block::Table(table)], width: 100 }
}
