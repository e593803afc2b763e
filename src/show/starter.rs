//! Figures to start with, each with its place: what the user has yet to replace.

use super::cost::{on_starters, per_area};
use super::page::{Block, Cell, Column, Page, Rows, Table};
use super::rates::{for_words, of_charge, of_duty, of_exchange, of_limit};
use crate::cost::Landed;
use crate::fault::Place;
use crate::quantity::Units;
use crate::trade::{Basis, Shipment, Tariffs};

/// A figure to start with.
#[derive(Debug)]
pub struct StarterFigure<'a> {
    /// What it is, such as "ocean freight".
    pub what: String,
    /// What it is for: a lane, a container, a yard, a shipment.
    pub of: String,
    /// The figure, in words.
    pub figure: String,
    /// Where it stands.
    pub place: &'a Place,
}

/// All figures to start with of the tables and of shipments, in the order in which they stand there.
pub fn starter_figures<'a>(
    tariffs: &'a Tariffs,
    shipments: &'a [Shipment],
    units: Units,
) -> Vec<StarterFigure<'a>> {
    let charges = tariffs.charges.iter().filter(|row| row.basis == Basis::Starter).map(of_charge);
    let limits = tariffs.limits.iter().filter(|row| row.is_starter);
    let duties = tariffs.duties.iter().filter(|row| row.is_starter).map(|row| of_duty(row));
    let exchange = tariffs.exchange.iter().filter(|row| row.is_starter).map(of_exchange);
    let rows = charges.chain(limits.map(|row| of_limit(row, units))).chain(duties).chain(exchange);
    let rows = rows.map(|line| StarterFigure {
        of: for_words(&line),
        what: line.name.into_owned(),
        figure: line.rate,
        place: line.place,
    });
    let yards = tariffs.yards.iter().filter(|yard| yard.is_starter).map(|yard| StarterFigure {
        what: "lift".to_owned(),
        of: yard.id.clone(),
        figure: yard.lift.show(units),
        place: &yard.place,
    });
    let prices = shipments.iter().flat_map(|shipment| {
        let is_own = |at: usize| shipment.invoices.get(at).is_some_and(|one| one.is_starter);
        let lines = shipment.lines.iter().filter(move |line| is_own(line.invoice));
        lines.map(|line| StarterFigure {
            what: format!("price of line {}", line.id),
            of: shipment.name.clone(),
            figure: line.price.to_string(),
            place: &line.price.place,
        })
    });
    let mut all: Vec<StarterFigure<'a>> = rows.chain(yards).chain(prices).collect();
    all.sort_by(|one, other| {
        (&one.place.file, one.place.line).cmp(&(&other.place.file, other.place.line))
    });
    all
}

/// The page of figures to start with.
pub fn starters<'a>(figures: &[StarterFigure<'a>]) -> Page<'a> {
    let row = |one: &StarterFigure<'a>| {
        let words = [&one.what, &one.of, &one.figure].map(|word| Cell::text(word.clone()));
        words.into_iter().chain([Cell::text(one.place.to_string())]).collect()
    };
    let table = Table {
        title: String::new(),
        columns: ["starter figure", "for", "figure", "file and line"].map(Column::words).to_vec(),
        rows: Rows::of(figures.iter().map(row).collect::<Vec<_>>()),
        totals: None,
        is_main: true,
    };
    let heading = if figures.is_empty() {
        "No starter figures: every figure is your own, or has its source".to_owned()
    } else {
        "Starter figures: your own, or the current ones, have yet to take their place".to_owned()
    };
    let how = "Put your own figure in the place of each, with its source, and delete its line basis = \"starter\".";
    let notes = if figures.is_empty() { Vec::new() } else { vec![how.to_owned()] };
    Page { blocks: vec![Block::Heading(heading), Block::Table(table), Block::Notes(notes)] }
}

/// A shipment that was begun.
#[derive(Debug)]
pub struct Begun<'a> {
    /// The workspace.
    pub root: String,
    /// The shipment.
    pub shipment: &'a str,
    /// The files that were written, by their paths in the workspace.
    pub files: Vec<&'a str>,
    /// Whether it is the first of a workspace.
    pub is_first: bool,
    /// What it costs.
    pub landed: &'a Landed,
}

/// The files that were written: tables by their number, as there are many, without what only an editor reads.
fn written(files: &[&str]) -> String {
    let all =
        files.iter().filter(|file| !file.starts_with('.') && !file.starts_with("rates/schemas/"));
    let (tables, others): (Vec<&str>, Vec<&str>) =
        all.partition(|file| file.starts_with("rates/") && files.len() > 2);
    let tables = (!tables.is_empty()).then(|| format!("{} tables in rates/", tables.len()));
    let others = others.into_iter().map(str::to_owned);
    tables.into_iter().chain(others).collect::<Vec<_>>().join(", ")
}

/// The page of a shipment that was begun.
pub fn begun<'a>(begun: &Begun<'_>, shipment: &Shipment, units: Units) -> Page<'a> {
    let Begun { root, shipment: name, files, is_first, landed } = begun;
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let area = landed.headline.area;
    let mut facts = vec![
        fact("written", written(files)),
        fact("landed cost", format!("{}  ({})", landed.total, per_area(landed.total, area, units))),
    ];
    facts.extend(on_starters(&landed.headline.starters).map(|what| fact("to replace", what)));
    let mut notes = Vec::new();
    if *is_first {
        notes
            .push(format!("Your figures go into the files of {root}: each says what its keys do."));
    }
    notes.push(format!("What it costs: quaystone --dir {root} cost {name}"));
    let heading = format!("{name}: to {}, sails {}", shipment.yard.name, shipment.dates.sails);
    Page { blocks: vec![Block::Heading(heading), Block::Facts(facts), Block::Notes(notes)] }
}
