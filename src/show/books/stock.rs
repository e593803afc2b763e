//! The list of slabs on a day, as a page.

use std::borrow::Cow;

use super::stock_sheet::{per, sheet};
use crate::ledger::{Grouped, Ledger, Listed, Where};
use crate::quantity::{Area, Decimal, Money, Units, count_of};
use crate::show::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::trade::Date;

/// The page of a list of slabs. `places` are its sums by where the slabs are.
pub fn stock<'a>(
    ledger: &'a Ledger<'_>,
    (listed, places): (&'a [Listed<'a>], &[Grouped]),
    on: Date,
    units: Units,
) -> Page<'a> {
    let area = units.area();
    let columns = vec![
        Column::above("shipment", "shipment"),
        Column::words("slab"),
        Column::words("stone"),
        Column::words("finish"),
        Column::words("thickness"),
        Column::words("quality"),
        Column::words("block"),
        Column::words("bundle"),
        Column::words("supplier"),
        Column::words("yard"),
        Column::words("status"),
        Column::figures("age"),
        Column::figures(format!("billed {area}")),
        Column::figures(format!("measured {area}")),
        Column::figures("cost"),
        Column::figures("written down"),
        Column::words("books"),
        Column::figures(format!("carried per billed {area}")),
        Column::words("basis"),
    ];
    let rows = listed.iter().map(move |one| row(one, units));
    let table = Table {
        title: format!("Slabs on {on}"),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    };
    let mut over = Vec::new();
    for (shipment, all) in ledger.over.iter().enumerate() {
        let called = ledger.freeze(shipment).map_or("", |freeze| freeze.shipment.as_str());
        over.extend(all.iter().map(|(slab, yard, _)| {
            format!("{slab} stands in {yard} and was never packed for {called}: it has no cost, and is a slab once an event takes it in (kind \"take in\")")
        }));
    }
    let mut blocks = vec![
        Block::Heading(format!("Stock on {on}")),
        Block::Facts(facts(places)),
        Block::Table(table),
        Block::Sheet(sheet(listed, units)),
    ];
    if ledger.consigned().next().is_some() {
        blocks.push(Block::Table(of_others(ledger, on, units, false)));
    }
    if !over.is_empty() {
        blocks.push(Block::Notes(over));
    }
    blocks.extend([Block::Day(on), Block::Format]);
    Page { blocks }
}

/// The page of slabs that stand in a yard and belong to others.
pub fn consigned<'a>(ledger: &'a Ledger<'_>, on: Date, units: Units) -> Page<'a> {
    let heading = Block::Heading(format!("Slabs of others on {on}"));
    Page { blocks: vec![heading, Block::Table(of_others(ledger, on, units, true)), Block::Format] }
}

fn of_others<'a>(ledger: &'a Ledger<'_>, on: Date, units: Units, is_main: bool) -> Table<'a> {
    let rows = ledger.consigned().map(move |one| {
        vec![
            Cell::text(one.owner.as_str()),
            Cell::text(one.slab.as_str()),
            Cell::text(one.stone.as_deref().unwrap_or("")),
            Cell::text(one.quality.as_deref().unwrap_or("")),
            Cell::text(one.yard.as_str()),
            Cell::Figure(one.area.figure(units, 4)),
            Cell::text(one.since.to_string()),
        ]
    });
    let words = ["owner", "slab", "stone", "quality", "yard"].map(Column::words);
    Table {
        title: format!("Consigned on {on}: slabs of others, in no sum"),
        columns: words
            .into_iter()
            .chain([Column::figures(format!("area {}", units.area())), Column::words("since")])
            .collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main,
    }
}

/// What stands where, and what it costs.
fn facts(places: &[Grouped]) -> Vec<(String, String)> {
    let fact = |one: &Grouped| {
        let down = match one.written_down {
            none if none.is_zero() => String::new(),
            sum => format!(", written down by {sum}"),
        };
        (one.what.clone(), format!("{}, {}{down}", count_of(one.slabs, "slab"), one.cost))
    };
    places.iter().map(fact).collect()
}

fn row<'a>(one: &'a Listed<'a>, units: Units) -> Row<'a> {
    let money = |minor: i64| Money::from_minor(minor, one.freeze.currency);
    let area: Area = one.slab.billed;
    let cost = money(one.state.held - one.state.allowance);
    let per = per(cost, area, units);
    let yard = match &one.state.at {
        Where::Yard(yard) => yard.as_str(),
        _ => "",
    };
    vec![
        Cell::text(one.freeze.shipment.as_str()),
        Cell::text(one.slab.id.as_str()),
        Cell::text(one.line.stone.as_str()),
        Cell::text(one.line.finish.as_str()),
        Cell::text(one.line.thickness.as_str()),
        Cell::text(one.quality().unwrap_or("")),
        Cell::text(one.slab.block.as_deref().unwrap_or("")),
        Cell::text(one.slab.bundle.as_str()),
        Cell::text(one.line.supplier.as_str()),
        Cell::text(yard),
        Cell::text(status(one)),
        Cell::maybe(one.age.map(Decimal::from)),
        Cell::Figure(area.figure(units, 4)),
        Cell::maybe(one.state.measured.map(|area| area.figure(units, 4))),
        Cell::money(money(one.state.held)),
        Cell::money(money(one.state.allowance)),
        Cell::text(one.freeze.currency.code()),
        Cell::maybe(per),
        Cell::text(if one.is_billed { "billed" } else { "estimated" }),
    ]
}

/// Where a slab is, and for whom it is set aside.
fn status<'a>(one: &Listed<'a>) -> Cow<'a, str> {
    let word = one.state.at.word();
    match &one.reserved {
        Some(own) => {
            let until = own.until.map_or_else(String::new, |day| format!(" until {day}"));
            format!("{word}, reserved for {}{until}", own.customer).into()
        }
        None => word.into(),
    }
}

/// The page of sums of a list, under a head that says what they are of.
pub fn stock_by<'a>(
    (head, groups): (&'static str, &'a [Grouped]),
    on: Date,
    units: Units,
) -> Page<'a> {
    let area = units.area();
    let rows = groups.iter().map(move |one| {
        let books = Cell::text(one.cost.currency().code());
        [books, Cell::text(one.what.as_str())].into_iter().chain(figures(one, units)).collect()
    });
    let table = Table {
        title: format!("Slabs on {on}"),
        totals: total(groups, units),
        columns: vec![
            Column::above("books", "in"),
            Column::words(head),
            Column::figures("slabs"),
            Column::figures(format!("gross {area}")),
            Column::figures(format!("billed {area}")),
            Column::figures("cost"),
            Column::figures("written down"),
            Column::figures(format!("carried per gross {area}")),
            Column::figures(format!("carried per billed {area}")),
        ],
        rows: Rows::of(rows),
        is_main: true,
    };
    Page {
        blocks: vec![Block::Heading(format!("Stock on {on}")), Block::Table(table), Block::Format],
    }
}

/// The figures of a group.
fn figures(one: &Grouped, units: Units) -> [Cell<'static>; 7] {
    [
        Cell::count(one.slabs),
        Cell::Figure(one.gross.figure(units, 4)),
        Cell::Figure(one.billed.figure(units, 4)),
        Cell::money(one.cost),
        Cell::money(one.written_down),
        Cell::maybe(per(one.worth, one.gross, units)),
        Cell::maybe(per(one.worth, one.billed, units)),
    ]
}

/// All groups together, where they are in one currency.
fn total<'a>(groups: &[Grouped], units: Units) -> Option<Row<'a>> {
    let (first, rest) = groups.split_first()?;
    let sum = rest.iter().try_fold(first.clone(), |sum, one| sum.with(one).ok());
    let sum = sum.filter(|_| !rest.is_empty())?;
    let head = [Cell::Empty, Cell::text("in all")];
    Some(head.into_iter().chain(figures(&sum, units)).collect())
}
