//! How the bundles of a box come in, and what is released before each comes out.

use super::super::page::{Block, Cell, Column, Row, Rows, Table};
use crate::load::{BoxSummary, Hold, Order, Release, Turn, stuck};
use crate::quantity::Units;
use crate::trade::WayIn;

/// What no order is found for, box by box: said before everything else.
pub(super) fn impossible(summaries: &[BoxSummary<'_>], units: Units) -> Vec<(String, String)> {
    let said = summaries.iter().filter_map(|one| {
        let what = format!("box {}: {}", one.filled.label, none(one, units)?);
        Some(("NO ORDER OF LOADING".to_owned(), what))
    });
    said.collect()
}

/// The room beside a bundle that is taken where a row may say none: told, so that somebody looks.
pub(super) fn usual_room(summaries: &[BoxSummary<'_>], units: Units) -> Option<String> {
    let usual = WayIn::usual_room();
    let is_usual = |one: &BoxSummary<'_>| match one.variant.container.way_in {
        WayIn::Doors { side } => side == usual,
        WayIn::Roof { sling, .. } => sling == usual,
    };
    summaries.iter().any(is_usual).then(|| {
        let room = usual.show(units);
        format!("Where containers.toml says no other, a bundle has {room} beside it on its way in (common practice).")
    })
}

/// Which bundles have no way in, where some have none.
fn none(one: &BoxSummary<'_>, units: Units) -> Option<String> {
    let Some(Order::Stuck(all)) = &one.order else { return None };
    let names = |all: &[usize]| -> Vec<&str> { all.iter().map(|at| name(one, *at)).collect() };
    let [at_fault, behind] = [names(&all.at_fault), names(&all.behind)];
    Some(stuck(&one.variant.container, [&at_fault, &behind], units))
}

/// The order of loading for who fills the container, or why there is none.
pub(super) fn told(one: &BoxSummary<'_>, units: Units) -> Result<String, String> {
    none(one, units).map_or_else(|| Ok(words(one, units)), Err)
}

/// The order of loading in a line.
pub(super) fn words(one: &BoxSummary<'_>, units: Units) -> String {
    let Some(order) = &one.order else { return "places not known".to_owned() };
    let Order::Found { turn, .. } = order else { return none(one, units).unwrap_or_default() };
    let by = match one.variant.container.way_in {
        WayIn::Doors { .. } => "by the doors",
        WayIn::Roof { .. } => "through the roof",
    };
    format!(
        "as numbered, {by}: the front row first, each row {}. Left and right are those of somebody at the \
         open doors who looks in",
        turn_word(*turn)
    )
}

/// Which bundles stand alone while the box is filled, and until which one comes; none where none does.
pub(super) fn alone_until(one: &BoxSummary<'_>) -> Option<String> {
    let Some(Order::Found { out, .. }) = &one.order else { return None };
    let all = out.iter().rev().filter(|release| !release.alone.is_empty());
    let all = all.map(|release| {
        let until = name(one, release.bundle);
        format!("brace {} until {until} stands", alone(one, release))
    });
    let all: Vec<String> = all.collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// From where to where a row is filled.
pub(in crate::show) fn turn_word(turn: Turn) -> &'static str {
    match turn {
        Turn::FromLeft => "from the left wall to the right",
        Turn::FromRight => "from the right wall to the left",
        Turn::FromMiddle => "from the middle outward",
    }
}

/// The order of unloading: what is released before each bundle, and what stands alone from then on.
pub(super) fn unloading<'a>(one: &'a BoxSummary<'a>) -> Option<Block<'a>> {
    let Some(Order::Found { out, .. }) = &one.order else { return None };
    let rows = out.iter().enumerate().map(move |(turn, release)| -> Row<'a> {
        vec![
            Cell::count(turn + 1),
            Cell::text(name(one, release.bundle)),
            Cell::text(released(one, release)),
            Cell::text(alone(one, release)),
        ]
    });
    Some(Block::Table(Table {
        title: format!("Unloading container {}", one.filled.label),
        columns: vec![
            Column::figures("turn"),
            Column::words("bundle"),
            Column::words("release first"),
            Column::words("left alone: brace it before"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }))
}

fn name<'a>(one: &'a BoxSummary<'_>, at: usize) -> &'a str {
    one.standing.get(at).map_or("?", |standing| standing.bundle.id.as_str())
}

/// The ties and braces that go before a bundle is moved.
fn released(one: &BoxSummary<'_>, release: &Release) -> String {
    let word = |hold: &Hold| match hold {
        Hold::LeftWall => "brace to the left wall".to_owned(),
        Hold::RightWall => "brace to the right wall".to_owned(),
        Hold::Doors => "brace at the doors".to_owned(),
        Hold::Tie(other) => format!("tie to {}", name(one, *other)),
        Hold::Brace(other) => format!("brace to {}", name(one, *other)),
        Hold::Own => "the brace set for it".to_owned(),
    };
    let all: Vec<String> = release.held.iter().map(word).collect();
    all.join(", ")
}

fn alone(one: &BoxSummary<'_>, release: &Release) -> String {
    let all: Vec<&str> = release.alone.iter().map(|at| name(one, *at)).collect();
    all.join(", ")
}
