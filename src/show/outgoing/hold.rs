//! What the works do to hold a container's cargo, on their page.

use super::super::page::{Block, Cell, Column, Row, Rows, Table};
use crate::outgoing::{Hold, Struts};
use crate::quantity::{Length, Units, count_of};

/// The blocks of one container.
pub(super) fn blocks<'a>(own: &'a Hold<'a>, units: Units) -> Vec<Block<'a>> {
    let mut blocks = vec![Block::Facts(facts(own, units))];
    if !own.timber.is_empty() {
        blocks.push(Block::Table(timber(&own.timber, units)));
    }
    blocks
}

/// What is done besides timber.
pub(super) fn facts(own: &Hold<'_>, units: Units) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let not_held = own.not_held.iter().map(|what| fact("NOT HELD FAST", what.clone()));
    let mut facts: Vec<_> = not_held.collect();
    if own.is_part {
        let words = "a part of the way is not judged here: a competent person does that";
        facts.push(fact("NOT JUDGED", words.to_owned()));
    }
    let ties = own.ties.iter().map(|body| fact("tie", format!("{} side by side", body.join(", "))));
    facts.extend(ties);
    if !own.walls.is_empty() {
        let words = format!(
            "{}: they hold only through spreaders as large as the bundles that look at them",
            own.walls.join(", ")
        );
        facts.push(fact("walls", words));
    }
    if let Some([left, right]) = own.gaps.map(|gaps| gaps.map(|gap| gap.show(units))) {
        facts.push(fact("fill or strut", format!("{left} at the left wall, {right} at the right")));
    }
    let gate = "a gate that stands when both leaves are open; its last brace is set after the first leaf is shut";
    facts.push(fact("doors", gate.to_owned()));
    let mut marked = "[ ] all of it marked under ISPM 15, dunnage too".to_owned();
    if !own.timber.is_empty() {
        marked = format!("{} by the list below; {marked}", own.mass.show(units));
    }
    facts.push(fact("timber", marked));
    facts
}

/// The list of timber in sentences: for a drawing.
pub(super) fn lines(own: &Hold<'_>, units: Units) -> Vec<String> {
    let facts = facts(own, units).into_iter().map(|(label, words)| format!("{label}: {words}"));
    let struts = own.timber.iter().map(|one| {
        let [thick, high, long] = one.sides.map(|side| side.figure(units));
        let at = at(one, units).map_or_else(String::new, |at| format!(", {at} above the floor"));
        let size = format!("{thick} x {high} x {long} {}", units.side());
        format!("{}: {} of {size} for {} kN{at}", one.what, pieces(one), one.kn)
    });
    facts.chain(struts).collect()
}

fn pieces(one: &Struts) -> String {
    count_of(usize::try_from(one.count).unwrap_or(usize::MAX), "piece")
}

fn at(one: &Struts, units: Units) -> Option<String> {
    one.at.map(|at| Length::show(at, units))
}

fn timber(all: &[Struts], units: Units) -> Table<'_> {
    let rows = all.iter().map(move |one| -> Row<'_> {
        let [thick, high, long] = one.sides.map(|side| side.figure(units));
        let at = at(one, units).map_or_else(String::new, |at| format!(", {at} above the floor"));
        vec![
            Cell::text(format!("{}{at}", one.what)),
            Cell::Figure(one.kn),
            Cell::count(usize::try_from(one.count).unwrap_or(usize::MAX)),
            Cell::text(format!("{thick} x {high} x {long}")),
        ]
    });
    Table {
        title: "Timber".to_owned(),
        columns: vec![
            Column::words("for"),
            Column::figures("kN"),
            Column::figures("pieces"),
            Column::words(format!("size {}", units.side())),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
