//! By which ports and with which ship, as a page.

use super::compare::footing;
use super::cost::WITH_FINANCE;
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{Comparison, Route, Routes};
use crate::quantity::{Decimal, Money, Units, count_of};
use crate::trade::{Date, Shipment};

/// What the page is of.
pub struct RoutesPage<'a> {
    /// The offers, on the footing.
    pub comparison: &'a Comparison,
    /// The same as they are read.
    pub shipments: &'a [Shipment],
    /// Every chain.
    pub routes: &'a Routes,
    /// The units of areas.
    pub units: Units,
}

impl RoutesPage<'_> {
    pub(super) fn name(&self, route: &Route) -> String {
        self.shipments.get(route.offer).map_or_else(String::new, Shipment::called)
    }

    /// A chain in words.
    fn words(&self, at: usize) -> Option<String> {
        let route = self.routes.all.get(at)?;
        let cost = route.outcome.as_ref().ok()?;
        let per = cost.per_area.figure(self.units)?;
        let several = if self.shipments.len() > 1 {
            format!("{}, ", self.name(route))
        } else {
            String::new()
        };
        let service = route.service.as_ref().map_or_else(String::new, |one| format!(", {one}"));
        Some(format!(
            "{several}{} to {}{service}: {} days to the rack, {} with finance, {per} per {}",
            route.from,
            route.to,
            route.days?,
            cost.decision,
            self.units.area()
        ))
    }
}

/// The page of every chain.
pub fn routes<'a>(page: &'a RoutesPage<'a>) -> Page<'a> {
    let routes = page.routes;
    let mut facts = Vec::new();
    for (shipment, ready) in page.shipments.iter().zip(&routes.ready) {
        if let Some(ready) = ready {
            let said = shipment.lines.iter().any(|line| line.ready.is_some());
            let why = match shipment.dates.collected {
                _ if said => "",
                Some(_) => ", the day they are collected: no line says `ready` or `lead-days`",
                None => ", the day the ship sails in the file: no line says `ready` or `lead-days`",
            };
            facts.push(("goods ready".to_owned(), format!("{}: {ready}{why}", shipment.called())));
        }
    }
    let mut add = |label: &str, at: Option<usize>| {
        facts.extend(at.and_then(|at| page.words(at)).map(|words| (label.to_owned(), words)));
    };
    add("cheapest", routes.cheapest);
    add("fastest", routes.fastest);
    facts.extend(routes.price_of_a_day().map(|money| {
        ("a day sooner".to_owned(), format!("costs {money}, from the cheapest to the fastest"))
    }));
    facts.extend(footing(page.comparison, page.units));
    let names: Vec<String> = page.shipments.iter().map(Shipment::called).collect();
    Page {
        blocks: vec![
            Block::Heading(format!("Routes: {}", names.join(", "))),
            Block::Facts(facts),
            Block::Table(shown(page)),
            Block::Notes(notes(page)),
            Block::Sheet(list(page)),
        ],
    }
}

fn shown<'a>(page: &'a RoutesPage<'a>) -> Table<'a> {
    let is_several = page.shipments.len() > 1;
    let rows = page.routes.all.iter().map(move |route| {
        let cost = route.outcome.as_ref().ok();
        let mut row: Row<'a> = Vec::new();
        row.extend(is_several.then(|| Cell::text(page.name(route))));
        row.extend([
            Cell::text(format!("{}-{}", route.from.code, route.to.code)),
            Cell::text(route.service.clone().unwrap_or_default()),
            day(route.sailing.map(|one| one.sails)),
            day(route.delivered),
            Cell::maybe(route.days.map(Decimal::from)),
            cost.map_or(Cell::text("none"), |cost| Cell::money(cost.decision)),
            Cell::maybe(cost.and_then(|cost| cost.per_area.figure(page.units))),
        ]);
        row
    });
    let mut columns = Vec::new();
    columns.extend(is_several.then(|| Column::above("offer", "offer ")));
    columns.extend([
        Column::words("lane"),
        Column::words("service"),
        Column::words("sails"),
        Column::words("rack"),
        Column::figures("days"),
        Column::figures("with finance"),
        Column::figures(format!("per {}", page.units.area())),
    ]);
    Table {
        title: format!("Every chain, in {}", page.comparison.currency),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// A day, or nothing.
fn day<'a>(day: Option<Date>) -> Cell<'a> {
    day.map_or(Cell::Empty, |day| Cell::text(day.to_string()))
}

/// Every figure in a cell of its own.
fn list<'a>(page: &'a RoutesPage<'a>) -> Table<'a> {
    let rows = page.routes.all.iter().map(move |route| {
        let cost = route.outcome.as_ref().ok();
        let per = |units| Cell::maybe(cost.and_then(|cost| cost.per_area.figure(units)));
        let row: Row<'a> = vec![
            Cell::text(page.name(route)),
            Cell::text(route.from.code.to_string()),
            Cell::text(route.to.code.to_string()),
            Cell::text(route.service.clone().unwrap_or_default()),
            day(route.sailing.map(|one| one.closes)),
            day(route.sailing.map(|one| one.sails)),
            day(route.sailing.map(|one| one.arrives)),
            day(route.delivered),
            Cell::maybe(route.days.map(Decimal::from)),
            Cell::maybe(route.free.map(Decimal::from)),
            Cell::maybe(cost.map(|cost| cost.landed).map(Money::amount)),
            Cell::maybe(cost.map(|cost| cost.decision).map(Money::amount)),
            per(Units::Metric),
            per(Units::Us),
            Cell::text(cost.map_or("", |cost| cost.sure.word())),
            Cell::text(route.outcome.as_ref().err().map_or("", String::as_str).to_owned()),
        ];
        row
    });
    let money = page.comparison.currency;
    Table {
        title: "Routes, a figure a cell".to_owned(),
        columns: vec![
            Column::words("offer"),
            Column::words("from"),
            Column::words("to"),
            Column::words("service"),
            Column::words("port closes"),
            Column::words("sails"),
            Column::words("arrives"),
            Column::words("on the rack"),
            Column::figures("days from the order"),
            Column::figures("free days"),
            Column::figures(format!("landed {money}")),
            Column::figures(format!("with finance {money}")),
            Column::figures(format!("with finance {money}/m2")),
            Column::figures(format!("with finance {money}/ft2")),
            Column::words("load"),
            Column::words("why not"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

fn notes(page: &RoutesPage<'_>) -> Vec<String> {
    let mut notes = vec![
        "Each chain goes by the first sailing whose port closes on the day the goods are ready, or later. All \
         days move along, and every rate and duty is looked up on the new ones. Days count from the day of the \
         calculation, the order, to the rack. A ship may be late: no day here is promised."
            .to_owned(),
    ];
    notes.push(WITH_FINANCE.to_owned());
    for route in &page.routes.all {
        let service = route.service.as_ref().map_or_else(String::new, |one| format!(", {one}"));
        let chain = format!("{}, {}-{}{service}", page.name(route), route.from.code, route.to.code);
        match &route.outcome {
            Err(why) => {
                notes.push(format!("{chain}, has no cost: {why}."));
            }
            Ok(cost) if !cost.sure.is_proven() => {
                let word = cost.sure.word();
                notes.push(format!("{chain}: the load is {word}."));
            }
            Ok(_) => {}
        }
        if let (Some(free), Some(sailing), Some(delivered)) =
            (route.free, route.sailing, route.delivered)
        {
            let days = count_of((delivered - sailing.arrives).num_days(), "day");
            notes.push(format!(
                "{chain}: delivered {days} after arrival; a row gives {} free.",
                count_of(free, "day")
            ));
        }
        let lacking: Vec<&str> = page.routes.lacking(route).into_iter().collect();
        if !lacking.is_empty() {
            notes.push(format!(
                "{chain}, is not charged what other chains are: {}. Is a row missing?",
                lacking.join(", ")
            ));
        }
        for one in &route.carried {
            notes.push(format!(
                "{chain}, rests on {}, which ended on {}, {} before it is needed: {}.",
                one.what,
                one.until,
                count_of(one.days, "day"),
                one.share
            ));
        }
    }
    notes.dedup();
    notes
}
