//! What `check` found, shipment by shipment.

use super::page::{Block, Cell, Column, Page, Rows, Table};
use crate::cost::Proven;
use crate::quantity::{Decimal, Mass, Money, Units, grouped};

/// How one shipment fared.
#[derive(Debug)]
pub struct Checked {
    /// Its name.
    pub name: String,
    /// Its landed cost, where it has one.
    pub total: Option<Money>,
    /// How many slabs and containers it has.
    pub counts: Option<(usize, usize)>,
    /// What papers state, against what comes out.
    pub proven: Vec<Proven>,
    /// What is wrong, in a word.
    pub verdict: &'static str,
}

/// The page of a check; `alone` are shipments with a stock on which no other of them draws.
pub fn checked<'a>(all: &'a [Checked], alone: &[(String, String)], units: Units) -> Page<'a> {
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
    let mut blocks = vec![Block::Table(table)];
    if all.iter().any(|one| !one.proven.is_empty()) {
        blocks.push(Block::Table(papers(all, units)));
    }
    if !alone.is_empty() {
        let note = |(own, stock): &(String, String)| {
            format!("{own} draws on \"{stock}\": who else does was not looked at")
        };
        blocks.push(Block::Notes(alone.iter().map(note).collect()));
    }
    Page { blocks, width: 100 }
}

/// What papers state, figure by figure, with what comes out of the packing list.
fn papers(all: &[Checked], units: Units) -> Table<'_> {
    let lines = all.iter().flat_map(|one| one.proven.iter().map(move |line| (one, line)));
    let rows = lines.map(move |(one, line)| {
        let shown = |figure: Decimal| match (line.unit, Mass::kg(figure)) {
            ("", _) => grouped(figure),
            ("kg", Ok(mass)) => mass.show(units),
            (unit, _) => format!("{} {unit}", grouped(figure)),
        };
        let estimate = if line.is_estimate { " (estimate)" } else { "" };
        vec![
            Cell::text(one.name.as_str()),
            Cell::text(line.paper.as_str()),
            Cell::text(line.what.as_str()),
            Cell::text(shown(line.stated)),
            Cell::text(format!("{}{estimate}", shown(line.computed))),
            Cell::text(if line.agrees { "agrees".to_owned() } else { shown(line.off) }),
        ]
    });
    Table {
        title: "Papers against the packing list, and against each other".to_owned(),
        columns: vec![
            Column::words("shipment"),
            Column::words("paper"),
            Column::words("figure"),
            Column::figures("stated"),
            Column::figures("comes out"),
            Column::figures("off by"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
