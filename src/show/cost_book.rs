//! A landed cost as a workbook: the cost by slab, bundle and box, customs, payments, and where each figure stands.

use super::cash::paid;
use super::cost::{breakdown, costed};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::rates::{self, Line};
use super::worksheet::worksheet;
use crate::bill::Charge;
use crate::choose::{Costed, OwnLeg};
use crate::cost::{By, Cash};
use crate::customs::Sheet;
use crate::fault::Place;
use crate::price::Conversion;
use crate::quantity::{Currency, Money, Units};
use crate::trade::{Shipment, Tariffs, Window};

/// What a landed cost is shown with in a workbook.
#[derive(Debug, Clone, Copy)]
pub struct CostBook<'a> {
    /// The shipment.
    pub shipment: &'a Shipment,
    /// Its cost.
    pub costed: &'a Costed,
    /// The rates it was costed at.
    pub tariffs: &'a Tariffs,
    /// What its price contains, at our own rates.
    pub own: &'a [OwnLeg],
    /// Its customs entries.
    pub sheets: &'a [Sheet<'a>],
    /// Its payments, where they can be worked out.
    pub cash: Option<&'a Cash>,
}

/// The page of which the workbook is made: the tables of `cost`, broken down as asked for first, then those of
/// `worksheet` and `cash`, and the sources.
pub fn cost_book(book: CostBook<'_>, by: By, units: Units) -> Page<'_> {
    let CostBook { shipment, costed: made, tariffs, own, sheets, cash } = book;
    let mut blocks = costed(shipment, made, own, by, units).blocks;
    let others = [By::Slab, By::Bundle, By::Container].into_iter().filter(|other| *other != by);
    blocks.extend(others.map(|other| Block::Table(breakdown(shipment, made, other, units))));
    blocks.extend(worksheet(shipment, &made.landed, tariffs, sheets).blocks);
    blocks.extend(cash.into_iter().flat_map(|cash| paid(shipment, cash).blocks));
    blocks.push(Block::Table(sources(book)));
    Page { blocks }
}

/// A place that figures of a cost come from.
struct Source<'a> {
    place: &'a Place,
    name: &'a str,
    /// Its row of the tables, where it is one.
    row: Option<Line<'a>>,
    valid: Option<Window>,
    /// What the charges that stand there come to; `None`: it is a rate of exchange, or the sum cannot be held.
    sum: Option<Money>,
}

/// Where each charge and each rate of exchange stands, once.
fn sources(book: CostBook<'_>) -> Table<'_> {
    let landed = &book.costed.landed;
    let mut all: Vec<Source<'_>> = Vec::new();
    for charge in &landed.charges {
        let found =
            all.iter_mut().find(|one| *one.place == charge.source && one.name == charge.name);
        match found {
            Some(one) => one.sum = one.sum.and_then(|sum| sum.plus(charge.book()).ok()),
            None => all.push(of_charge(charge, book.tariffs)),
        }
    }
    for rate in landed.charges.iter().flat_map(exchanges) {
        if !all.iter().any(|one| *one.place == rate.place) {
            all.push(of_exchange(rate, book.tariffs));
        }
    }
    let currency = landed.currency;
    Table {
        title: "Sources of the cost".to_owned(),
        columns: columns(currency),
        rows: Rows::of(all.into_iter().map(row)),
        totals: None,
        is_main: false,
    }
}

fn exchanges(charge: &Charge) -> impl Iterator<Item = &Conversion> {
    let parts = charge.booked.parts.iter().map(|part| &part.exchange);
    charge.exchange().into_iter().chain(parts)
}

fn of_charge<'a>(charge: &'a Charge, tariffs: &'a Tariffs) -> Source<'a> {
    let place = &charge.source;
    let stands = |row: &Place, rate: &Place| row == place || rate == place;
    let of_table = tariffs.charges.iter().find(|row| stands(&row.place, &row.rate.place));
    let of_duty =
        || tariffs.duties.iter().map(|row| &**row).find(|row| stands(&row.place, &row.rate.place));
    let row = of_table.map(rates::of_charge).or_else(|| of_duty().map(rates::of_duty));
    Source { place, name: &charge.name, row, valid: charge.valid, sum: Some(charge.book()) }
}

fn of_exchange<'a>(rate: &'a Conversion, tariffs: &'a Tariffs) -> Source<'a> {
    let row = tariffs.exchange.iter().find(|row| row.place == rate.place).map(rates::of_exchange);
    Source { place: &rate.place, name: "rate of exchange", row, valid: Some(rate.valid), sum: None }
}

fn columns(currency: Currency) -> Vec<Column> {
    vec![
        Column::words("for"),
        Column::figures(format!("booked {currency}")),
        Column::words("table"),
        Column::words("rate"),
        Column::words("from"),
        Column::words("until"),
        Column::words("file"),
        Column::figures("line of file"),
        Column::words("source"),
    ]
}

fn row(one: Source<'_>) -> Row<'_> {
    let Source { place, name, row, valid, sum } = one;
    let day = |day: Option<crate::trade::Date>| {
        day.map_or(Cell::Empty, |day| Cell::text(day.to_string()))
    };
    let (table, rate, source) = match row {
        Some(line) => (line.table, line.rate, line.source),
        None => ("", String::new(), ""),
    };
    vec![
        Cell::text(name),
        Cell::maybe(sum.map(Money::amount)),
        Cell::text(table),
        Cell::text(rate),
        day(valid.map(|valid| valid.from)),
        day(valid.and_then(|valid| valid.until)),
        Cell::text(place.file.to_string()),
        Cell::count(place.line),
        Cell::text(source),
    ]
}
