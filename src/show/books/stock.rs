//! The list of slabs on a day, as a page.

use std::borrow::Cow;
use std::collections::BTreeMap;

use crate::ledger::{Ledger, Listed, Where};
use crate::quantity::{Area, Decimal, Money, UnitCost, Units};
use crate::show::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::trade::Date;

/// The page of a list of slabs.
pub fn stock<'a>(
    ledger: &'a Ledger<'_>,
    listed: &'a [Listed<'a>],
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
        Column::figures("cost"),
        Column::figures("written down"),
        Column::words("books"),
        Column::figures(format!("cost per {area}")),
        Column::words("basis"),
    ];
    let rows = listed.iter().map(move |one| row(one, units));
    let table = Table {
        title: format!("Slabs on {on}"),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
    let mut over = Vec::new();
    for (shipment, all) in ledger.over.iter().enumerate() {
        let called = ledger.freeze(shipment).map_or("", |freeze| freeze.shipment.as_str());
        over.extend(all.iter().map(|(slab, yard, _)| {
            format!("{slab} stands in {yard} and was never packed for {called}: no cost until it is billed or sent back")
        }));
    }
    let mut blocks = vec![
        Block::Heading(format!("Stock on {on}")),
        Block::Facts(facts(listed)),
        Block::Table(table),
    ];
    if !over.is_empty() {
        blocks.push(Block::Notes(over));
    }
    Page { blocks }
}

/// What stands where, and what it costs, by the currency of its books.
fn facts(listed: &[Listed<'_>]) -> Vec<(String, String)> {
    let mut sums: BTreeMap<(String, &str), (usize, i64, i64)> = BTreeMap::new();
    let mut currencies = BTreeMap::new();
    for one in listed {
        let place = match &one.state.at {
            Where::Yard(yard) => format!("on hand in {yard}"),
            other => other.word().to_owned(),
        };
        currencies.insert(one.freeze.currency.code(), one.freeze.currency);
        let sum = sums.entry((place, one.freeze.currency.code())).or_default();
        sum.0 += 1;
        sum.1 += one.state.held;
        sum.2 += one.state.allowance;
    }
    let fact = |((place, code), (count, held, allowance)): ((String, &str), (usize, i64, i64))| {
        let money = |minor: i64| {
            currencies
                .get(code)
                .map_or_else(String::new, |one| Money::from_minor(minor, *one).to_string())
        };
        let down = match allowance {
            0 => String::new(),
            units => format!(", written down by {}", money(units)),
        };
        (place, format!("{count} slabs, {}{down}", money(held)))
    };
    sums.into_iter().map(fact).collect()
}

fn row<'a>(one: &'a Listed<'a>, units: Units) -> Row<'a> {
    let money = |minor: i64| Money::from_minor(minor, one.freeze.currency);
    let area: Area = one.slab.billed;
    let cost = money(one.state.held - one.state.allowance);
    let per = match units {
        Units::Metric => UnitCost::per_m2(cost, area),
        Units::Us => UnitCost::per_ft2(cost, area),
    };
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
        Cell::text(one.slab.quality.as_deref().unwrap_or("")),
        Cell::text(one.slab.block.as_deref().unwrap_or("")),
        Cell::text(one.slab.bundle.as_str()),
        Cell::text(one.line.supplier.as_str()),
        Cell::text(yard),
        Cell::text(status(one)),
        Cell::maybe(one.age.map(Decimal::from)),
        Cell::Figure(area.figure(units, 4)),
        Cell::money(money(one.state.held)),
        Cell::money(money(one.state.allowance)),
        Cell::text(one.freeze.currency.code()),
        Cell::maybe(per.map(UnitCost::figure)),
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
