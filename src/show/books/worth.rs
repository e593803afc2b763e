//! Slabs held against what they can be sold for, as a page, with the events that it asks for.

use std::collections::BTreeMap;

use crate::quantity::{Money, count_of};
use crate::sell::{Tested, Tests};
use crate::show::load::quoted;
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::Date;

/// The page of a test.
pub fn worth<'a>(tests: &'a Tests<'a>, on: Date) -> Page<'a> {
    let columns = vec![
        Column::above("shipment", "shipment"),
        Column::words("slab"),
        Column::words("stone"),
        Column::words("books"),
        Column::figures("cost"),
        Column::figures("written down"),
        Column::figures("net realisable value"),
        Column::figures("to write down"),
        Column::words("price"),
        Column::words("rests on"),
    ];
    let money = |one: &Tested<'_>, minor: i64| Money::from_minor(minor, one.listed.freeze.currency);
    let row = move |one: &'a Tested<'a>| {
        let listed = &one.listed;
        vec![
            Cell::text(listed.freeze.shipment.as_str()),
            Cell::text(listed.slab.id.as_str()),
            Cell::text(listed.line.stone.as_str()),
            Cell::text(one.listed.freeze.currency.code()),
            Cell::money(money(one, listed.state.held)),
            Cell::money(money(one, listed.state.allowance)),
            Cell::money(one.worth),
            Cell::money(one.down),
            Cell::text(one.row.price.to_string()),
            Cell::text(match &one.row.order {
                Some(order) => format!("order {order}"),
                None => one.row.source.clone(),
            }),
        ]
    };
    let table = Table {
        title: format!("Cost and net realisable value on {on}"),
        columns,
        rows: Rows::of(tests.slabs.iter().map(row)),
        totals: None,
        is_main: true,
    };
    let mut blocks = vec![
        Block::Heading(format!("Lower of cost and net realisable value on {on}")),
        Block::Facts(facts(tests)),
        Block::Table(table),
    ];
    let events = events(tests, on);
    if !events.is_empty() {
        blocks.push(Block::Text(vec![
            "These events say so; put them into events.toml of the shipment once you agree:"
                .to_owned(),
        ]));
        blocks.push(Block::Notes(events));
    }
    let without = tests
        .without
        .iter()
        .map(|class| format!("{class}: no [[market]] row is in force, so it was not tested"));
    let without: Vec<String> = without.collect();
    if !without.is_empty() {
        blocks.push(Block::Notes(without));
    }
    blocks.push(Block::Format);
    Page { blocks }
}

/// What is to be written down and taken back up, by currency.
fn facts(tests: &Tests<'_>) -> Vec<(String, String)> {
    let mut sums: BTreeMap<(&str, bool), (usize, Option<Money>)> = BTreeMap::new();
    for one in tests.slabs.iter().filter(|one| !one.down.is_zero()) {
        let is_back = one.down.is_negative();
        let by = if is_back { one.down.negated() } else { one.down };
        let sum = sums.entry((by.currency().code(), is_back)).or_default();
        sum.0 += 1;
        sum.1 = match sum.1 {
            Some(sum) => sum.plus(by).ok(),
            None => Some(by),
        };
    }
    let mut facts = vec![("slabs tested".to_owned(), tests.slabs.len().to_string())];
    facts.extend(sums.into_iter().map(|((_, is_back), (count, sum))| {
        let what = if is_back { "taken back up" } else { "written down" };
        let sum = sum.map_or_else(String::new, |sum| sum.to_string());
        (format!("to be {what}"), format!("{}, {sum}", count_of(count, "slab")))
    }));
    facts
}

/// The events that a test asks for: a line for slabs of a shipment that are worth the same.
fn events(tests: &Tests<'_>, on: Date) -> Vec<String> {
    let mut all: BTreeMap<(&str, bool, String, &str), Vec<&str>> = BTreeMap::new();
    for one in tests.slabs.iter().filter(|one| !one.down.is_zero()) {
        let worth = one.worth.written();
        let reason = one.row.order.as_deref().unwrap_or(&one.row.source);
        all.entry((one.listed.freeze.shipment.as_str(), one.down.is_negative(), worth, reason))
            .or_default()
            .push(one.listed.slab.id.as_str());
    }
    let mut lines = Vec::new();
    for ((shipment, is_back, worth, reason), slabs) in all {
        let kind = if is_back { "write back" } else { "write down" };
        let slabs: Vec<String> = slabs.into_iter().map(quoted).collect();
        lines.push(format!(
            "{shipment}: kind = \"{kind}\", occurred = {on}, slabs = [{}], worth = \"{worth}\", reason = {}",
            slabs.join(", "),
            quoted(reason)
        ));
    }
    lines
}
