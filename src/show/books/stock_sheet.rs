//! The list of slabs as a sheet: one figure in a cell, exact, for a database.

use crate::ledger::{Listed, Where};
use crate::quantity::{Area, Decimal, Money, UnitCost, Units};
use crate::show::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::trade::Date;

/// A list of slabs as a sheet alone.
pub fn stock_sheet<'a>(listed: &'a [Listed<'a>], units: Units) -> Page<'a> {
    Page { blocks: vec![Block::Sheet(sheet(listed, units))] }
}

/// The sheet of a list of slabs. Areas and masses are exact, in metric units; the cost is that of the books.
pub(super) fn sheet<'a>(listed: &'a [Listed<'a>], units: Units) -> Table<'a> {
    let words = [
        "shipment",
        "slab",
        "supplier",
        "invoice",
        "line",
        "stone",
        "finish",
        "thickness",
        "quality",
        "block",
        "bundle",
        "container",
        "yard",
        "status",
        "reserved for",
        "reserved until",
        "arrived",
    ];
    let area = units.area();
    let figures = [
        "age".to_owned(),
        "gross m2".to_owned(),
        "billed m2".to_owned(),
        "mass kg".to_owned(),
        "cost".to_owned(),
        "written down".to_owned(),
        format!("cost per gross {area}"),
        format!("cost per billed {area}"),
    ];
    let columns = words.map(Column::words).into_iter().chain(figures.map(Column::figures));
    let last = ["books", "basis"].map(Column::words);
    Table {
        title: String::new(),
        columns: columns.chain(last).collect(),
        rows: Rows::of(listed.iter().map(move |one| row(one, units))),
        totals: None,
        is_main: true,
    }
}

/// What an area costs per unit; `None` for no area.
pub(super) fn per(cost: Money, area: Area, units: Units) -> Option<Decimal> {
    let per = match units {
        Units::Metric => UnitCost::per_m2(cost, area),
        Units::Us => UnitCost::per_ft2(cost, area),
    };
    per.map(UnitCost::figure)
}

fn row<'a>(one: &'a Listed<'a>, units: Units) -> Row<'a> {
    let (freeze, slab, line) = (one.freeze, one.slab, one.line);
    let money = |minor: i64| Money::from_minor(minor, freeze.currency);
    let worth = money(one.state.held - one.state.allowance);
    let yard = match &one.state.at {
        Where::Yard(yard) => yard.as_str(),
        _ => "",
    };
    let until = one.reserved.and_then(|own| own.until);
    let day = |day: Option<Date>| Cell::text(day.map_or_else(String::new, |day| day.to_string()));
    let container = freeze.boxes.get(slab.container).map_or("", |one| &one.label);
    vec![
        Cell::text(freeze.shipment.as_str()),
        Cell::text(slab.id.as_str()),
        Cell::text(line.supplier.as_str()),
        Cell::text(line.invoice.as_str()),
        Cell::text(line.id.as_str()),
        Cell::text(line.stone.as_str()),
        Cell::text(line.finish.as_str()),
        Cell::text(line.thickness.as_str()),
        Cell::text(slab.quality.as_deref().unwrap_or("")),
        Cell::text(slab.block.as_deref().unwrap_or("")),
        Cell::text(slab.bundle.as_str()),
        Cell::text(container),
        Cell::text(yard),
        Cell::text(one.state.at.word()),
        Cell::text(one.reserved.map_or("", |own| own.customer)),
        day(until),
        day(one.state.arrived),
        Cell::maybe(one.age.map(Decimal::from)),
        Cell::Figure(slab.gross.base()),
        Cell::Figure(slab.billed.base()),
        Cell::Figure(slab.mass.base()),
        Cell::money(money(one.state.held)),
        Cell::money(money(one.state.allowance)),
        Cell::maybe(per(worth, slab.gross, units)),
        Cell::maybe(per(worth, slab.billed, units)),
        Cell::text(freeze.currency.code()),
        Cell::text(if one.is_billed { "billed" } else { "estimated" }),
    ]
}
