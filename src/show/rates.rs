//! What is in force on a day, and what lapses when.

use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::quantity::Units;
use crate::trade::{Date, Tariffs, Window};

/// The page of the rates in force on a day, the first to lapse first.
pub fn rates(tariffs: &Tariffs, on: Option<Date>, units: Units) -> Page<'_> {
    let mut lines: Vec<(Window, Row<'_>)> = Vec::new();
    let keep = |window: &Window| on.is_none_or(|on| window.holds(on));
    for row in tariffs.charges.iter().filter(|row| keep(&row.valid)) {
        let keys: Vec<String> = row.matches.given().map(|(_, value)| value.to_owned()).collect();
        let rate = row.rate.value.to_string();
        let offer = row.offer.as_deref().map_or_else(String::new, |offer| format!(" ({offer})"));
        lines.push((
            row.valid,
            line(row.table.word(), format!("{}{offer}", row.name), keys.join(" "), rate),
        ));
    }
    for row in tariffs.limits.iter().filter(|row| keep(&row.valid)) {
        let keys: Vec<String> = row.matches.given().map(|(_, value)| value.to_owned()).collect();
        let limit = row.mass.show_closely(units);
        let table = if row.at_sea { "freight" } else { "drayage" };
        lines.push((row.valid, line(table, row.name.clone(), keys.join(" "), limit)));
    }
    for row in tariffs.duties.iter().filter(|row| keep(&row.valid)) {
        let origins: Vec<&str> = row.origins.iter().map(crate::trade::Country::code).collect();
        let what = format!("{} {}", row.line, origins.join(" "));
        lines.push((row.valid, line("duty", row.name.clone(), what, row.rate.value.to_string())));
    }
    for row in tariffs.exchange.iter().filter(|row| keep(&row.valid)) {
        let what = row.used_for.word().to_owned();
        lines.push((row.valid, line("exchange", what, String::new(), row.quote.value.to_string())));
    }
    lines.sort_by_key(|(window, _)| (window.until.is_none(), window.until, window.from));
    let rows = lines.into_iter().map(move |(window, mut row)| {
        row.push(Cell::text(window.from.to_string()));
        row.push(Cell::text(
            window.until.map_or_else(|| "open".to_owned(), |until| until.to_string()),
        ));
        if let (Some(on), Some(until)) = (on, window.until) {
            row.push(Cell::text((until - on).num_days().to_string()));
        } else {
            row.push(Cell::Empty);
        }
        row
    });
    let heading = match on {
        Some(on) => format!("Rates in force on {on}, first to lapse first"),
        None => "All rates, first to lapse first".to_owned(),
    };
    let table = Table {
        title: String::new(),
        columns: vec![
            Column::words("table"),
            Column::words("name"),
            Column::words("for"),
            Column::figures("rate"),
            Column::words("from"),
            Column::words("until"),
            Column::figures("days"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
    Page { blocks: vec![Block::Heading(heading), Block::Table(table)], width: 100 }
}

fn line(table: &str, name: String, what: String, rate: String) -> Row<'_> {
    vec![Cell::text(table), Cell::text(name), Cell::text(what), Cell::text(rate)]
}
