//! The list of slabs as a sheet: one figure in a cell, exact, for a database.

use crate::ledger::{Listed, Where};
use crate::quantity::{Area, Decimal, Money, UnitCost, Units};
use crate::show::page::{Cell, Column, Row, Rows, Table};
use crate::trade::Date;

/// The sheet of a list of slabs. Areas and masses are exact, in metric units; the cost is that of the books.
pub(super) fn sheet<'a>(listed: &'a [Listed<'a>], units: Units) -> Table<'a> {
    let words = "shipment,slab,supplier,invoice,term,bill of lading,line,stone,finish,thickness,quality,block,bundle,container,yard,status,\
                 reserved for,reserved until,arrived";
    let figures = "age,gross m2,billed m2,measured m2,mass kg,cost,written down";
    let figures = figures.split(',').map(Column::figures);
    let per = ["gross", "billed"].map(|which| format!("carried per {which} {}", units.area()));
    let columns = words.split(',').map(Column::words).chain(figures);
    let columns = columns.chain(per.map(Column::figures));
    let last = ["books", "basis"].map(Column::words);
    Table {
        title: "Slabs, a figure a cell".to_owned(),
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
        Cell::text(line.term.as_str()),
        Cell::text(freeze.bill_of(slab).unwrap_or("")),
        Cell::text(line.id.as_str()),
        Cell::text(line.stone.as_str()),
        Cell::text(line.finish.as_str()),
        Cell::text(line.thickness.as_str()),
        Cell::text(one.quality().unwrap_or("")),
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
        Cell::maybe(one.state.measured.map(Area::base)),
        Cell::Figure(slab.mass.base()),
        Cell::money(money(one.state.held)),
        Cell::money(money(one.state.allowance)),
        Cell::maybe(per(worth, one.gross(), units)),
        Cell::maybe(per(worth, slab.billed, units)),
        Cell::text(freeze.currency.code()),
        Cell::text(if one.is_billed { "billed" } else { "estimated" }),
    ]
}
