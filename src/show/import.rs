//! What was read of a supplier's list or proforma, and the list as `packing.csv` has it.

use super::page::{Block, Cell, Column, Page, Rows, Table};
use super::write::Format;
use crate::import::{Clean, Field, Imported, Proforma, ProformaLine, SeenColumn};
use crate::quantity::{count_of, grouped};

/// The page of an imported list: each column with its header, unit and range, and how many cells agree.
pub fn imported<'a>(imported: &'a Imported, written: &[String]) -> Page<'a> {
    let slabs = imported.clean.rows.len();
    let bundles = count_of(imported.bundles, "bundle");
    let heading = format!("{} in {bundles}", count_of(slabs, "slab"));
    let row = |seen: &'a SeenColumn| {
        let unit = seen.unit.unwrap_or("");
        let range = if seen.from == seen.to {
            seen.from.clone()
        } else {
            format!("{} to {}", seen.from, seen.to)
        };
        vec![
            Cell::text(seen.place.as_str()),
            Cell::text(seen.header.as_str()),
            Cell::text(seen.role),
            Cell::text(unit),
            Cell::text(seen.known.as_str()),
            Cell::text(range),
            Cell::text(format!("{} of {}", grouped(seen.agree.into()), grouped(seen.of.into()))),
        ]
    };
    let table = Table {
        title: String::new(),
        columns: vec![
            Column::words("header at"),
            Column::words("header"),
            Column::words("read as"),
            Column::words("unit"),
            Column::words("by"),
            Column::words("range"),
            Column::words("cells"),
        ],
        rows: Rows::of(imported.columns.iter().map(row)),
        totals: None,
        is_main: true,
    };
    let mut notes = imported.notes.clone();
    notes.push(format!("written: {}", written.join(", ")));
    Page { blocks: vec![Block::Heading(heading), Block::Table(table), Block::Notes(notes)] }
}

/// The page of the lines of a proforma.
pub fn proforma<'a>(proforma: &'a Proforma, written: &[String]) -> Page<'a> {
    let row = |line: &'a ProformaLine| {
        vec![
            Cell::text(line.called.as_str()),
            Cell::text(line.goods.as_str()),
            Cell::Figure(line.quantity.normalize()),
            Cell::text(line.price.by.word()),
            Cell::Figure(line.price.amount),
            Cell::money(line.amount),
            Cell::text(line.amount.currency().code()),
        ]
    };
    let table = Table {
        title: String::new(),
        columns: vec![
            Column::words("price at"),
            Column::words("goods"),
            Column::figures("quantity"),
            Column::words("in"),
            Column::figures("price"),
            Column::figures("amount"),
            Column::words("currency"),
        ],
        rows: Rows::of(proforma.lines.iter().map(row)),
        totals: None,
        is_main: true,
    };
    let amounts = [
        ("total", proforma.total),
        ("discount", proforma.discount),
        ("rounding", proforma.rounding),
    ];
    let mut facts: Vec<(String, String)> = amounts
        .into_iter()
        .filter_map(|(what, amount)| Some((what.to_owned(), amount?.to_string())))
        .collect();
    facts.extend(proforma.term.clone().map(|term| ("term".to_owned(), term)));
    let mut notes = proforma.notes.clone();
    notes.push(format!("written: {}", written.join(", ")));
    Page {
        blocks: vec![
            Block::Heading(count_of(proforma.lines.len(), "line")),
            Block::Facts(facts),
            Block::Table(table),
            Block::Notes(notes),
        ],
    }
}

/// The text of `packing.csv`.
pub fn packing_csv(clean: &Clean) -> Vec<u8> {
    let cell = |field: &Field| match field {
        Field::Empty => Cell::Empty,
        Field::Text(text) => Cell::text(text.clone()),
        Field::Figure(figure) => Cell::Figure(*figure),
    };
    let row = |row: &Vec<Field>| row.iter().map(cell).collect();
    let table = Table {
        title: String::new(),
        columns: clean.headers.iter().map(|head| Column::words(head.clone())).collect(),
        rows: Rows::of(clean.rows.iter().map(row).collect::<Vec<_>>()),
        totals: None,
        is_main: true,
    };
    let mut out = Vec::new();
    // Writing to memory cannot fail.
    let _ = Page { blocks: vec![Block::Table(table)] }.write(Format::Csv, 0, &mut out);
    out
}
