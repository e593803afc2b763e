//! What `check` found, shipment by shipment.

use super::page::{Block, Cell, Column, Page, Rows, Table};
use crate::cost::Proven;
use crate::quantity::{Area, Decimal, Mass, Money, Units, grouped};

/// How one shipment fared.
#[derive(Debug)]
pub struct Checked {
    /// Its name.
    pub name: String,
    /// The other ways to buy it, which are not looked at.
    pub ways: Vec<String>,
    /// Its landed cost, where it has one.
    pub total: Option<Money>,
    /// How many slabs and containers it has.
    pub counts: Option<(usize, usize)>,
    /// What papers state, against what comes out.
    pub proven: Vec<Proven>,
    /// What is wrong, in a word.
    pub verdict: &'static str,
    /// How many warnings its own files bring.
    pub warnings: usize,
}

/// The page of a check; `alone` are shipments with a stock on which no other of them draws.
pub fn checked<'a>(all: &'a [Checked], alone: &[(String, String)], units: Units) -> Page<'a> {
    let rows = all.iter().map(|one| {
        let (slabs, boxes) = one.counts.unzip();
        vec![
            Cell::text(one.name.as_str()),
            Cell::text(one.verdict),
            warnings(one),
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
            Column::figures("warnings"),
            Column::figures("slabs"),
            Column::figures("boxes"),
            Column::figures("landed cost"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    };
    let mut blocks = vec![Block::Table(table)];
    if all.iter().any(|one| !one.proven.is_empty()) {
        blocks.push(Block::Table(papers(all, units)));
    }
    if !alone.is_empty() {
        let note = |(own, stock): &(String, String)| {
            format!("{own} draws on \"{stock}\": other shipments that draw on it were not checked")
        };
        blocks.push(Block::Notes(alone.iter().map(note).collect()));
    }
    let written = all.iter().filter(|one| !one.ways.is_empty());
    let written = written.map(|one| {
        format!("{} is checked as it is written; other ways: {}", one.name, one.ways.join(", "))
    });
    let written: Vec<String> = written.collect();
    if !written.is_empty() {
        blocks.push(Block::Notes(written));
    }
    blocks.push(Block::Sheet(list(all, units)));
    Page { blocks }
}

fn warnings(one: &Checked) -> Cell<'_> {
    if one.warnings == 0 { Cell::Empty } else { Cell::count(one.warnings) }
}

/// Each shipment in a row, and each figure of its papers in one after it, a figure a cell.
fn list(all: &[Checked], units: Units) -> Table<'_> {
    let rows = all.iter().flat_map(move |one| {
        let (slabs, boxes) = one.counts.unzip();
        let count = |count: Option<usize>| count.map_or(Cell::Empty, Cell::count);
        let cost = one.total.map_or(Cell::Empty, Cell::money);
        let currency = one.total.map_or("", |total| total.currency().code());
        let mut own = vec![Cell::text(one.name.as_str()), Cell::text(one.verdict), warnings(one)];
        own.extend([count(slabs), count(boxes), cost, Cell::text(currency)]);
        own.resize(PAPERS_FROM + 7, Cell::Empty);
        let papers = one.proven.iter().map(move |line| {
            let mut row = vec![Cell::text(one.name.as_str())];
            row.resize(PAPERS_FROM, Cell::Empty);
            row.extend([Cell::text(line.paper.as_str()), Cell::text(line.what.as_str())]);
            let (unit, figures) =
                in_units([line.stated, line.computed, line.off], line.unit, units);
            row.push(Cell::text(unit));
            row.extend(figures.map(Cell::Figure));
            let agrees = if line.agrees { "agrees" } else { "differs" };
            row.push(Cell::text(agrees));
            row
        });
        std::iter::once(own).chain(papers)
    });
    let mut columns = ["shipment", "verdict"].map(Column::words).to_vec();
    columns.extend(["warnings", "slabs", "boxes", "landed cost"].map(Column::figures));
    columns.extend(["in", "paper", "figure", "unit"].map(Column::words));
    columns.extend(["stated", "comes out", "off by"].map(Column::figures));
    columns.push(Column::words("agrees"));
    Table {
        title: "Shipments and papers".to_owned(),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

/// The columns of a row before those of papers.
const PAPERS_FROM: usize = 7;

/// Figures of a paper in the units asked for: a mass to one place, an area to three, as pages have them.
fn in_units(figures: [Decimal; 3], unit: &str, units: Units) -> (String, [Decimal; 3]) {
    match unit {
        "kg" => {
            let mass = |kg| Mass::kg(kg).map_or(kg, |mass: Mass| mass.figure(units, 1).normalize());
            (units.mass().to_owned(), figures.map(mass))
        }
        "m2" => {
            let area = |m2| Area::m2(m2).map_or(m2, |area: Area| area.figure(units, 3));
            (units.area().to_owned(), figures.map(area))
        }
        other => (other.to_owned(), figures),
    }
}

/// What papers state, figure by figure, with what comes out of the packing list.
fn papers(all: &[Checked], units: Units) -> Table<'_> {
    let lines = all.iter().flat_map(|one| one.proven.iter().map(move |line| (one, line)));
    let rows = lines.map(move |(one, line)| {
        let shown = |figure: Decimal| match (line.unit, Mass::kg(figure), Area::m2(figure)) {
            ("", ..) => grouped(figure),
            ("kg", Ok(mass), _) => mass.show(units),
            ("m2", _, Ok(area)) => {
                format!("{} {}", grouped(area.figure(units, 3)), units.area())
            }
            (unit, ..) => format!("{} {unit}", grouped(figure)),
        };
        let estimate = if line.is_estimate { " (estimate)" } else { "" };
        vec![
            Cell::text(one.name.as_str()),
            Cell::text(line.paper.as_str()),
            Cell::text(line.what.as_str()),
            Cell::text(shown(line.stated)),
            Cell::text(format!("{}{estimate}", shown(line.computed))),
            Cell::text(match (line.agrees, line.off.is_zero()) {
                (true, true) => "agrees".to_owned(),
                (true, false) => format!("agrees within {}", line.within),
                (false, _) => shown(line.off),
            }),
        ]
    });
    Table {
        title: "Documents against the packing list, and against each other".to_owned(),
        columns: vec![
            Column::words("shipment"),
            Column::words("document"),
            Column::words("figure"),
            Column::figures("stated"),
            Column::figures("computed"),
            Column::figures("off by"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
