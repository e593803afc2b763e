//! How a box stands on its rigs: each axle's load, and the rules that come nearest to breaking.

use super::super::page::{Block, Cell, Column, Row, Rows, Table};
use crate::load::{AxleCheck, BoxSummary, Limiter, RoadReport};
use crate::quantity::{Mass, Units};
use crate::trade::Shipment;

/// How many rules a table shows beyond the broken ones.
const SHOWN: usize = 6;

/// The blocks for the roads of one box.
pub(super) fn blocks<'a>(
    shipment: &Shipment,
    one: &'a BoxSummary<'a>,
    units: Units,
    blocks: &mut Vec<Block<'a>>,
) {
    let unknown = not_judged(shipment, one);
    if !unknown.is_empty() {
        let what = format!("{}: no rig is known (rates/rigs.toml)", unknown.join("; "));
        blocks.push(Block::Facts(vec![("roads not checked".to_owned(), what)]));
    }
    for report in &one.roads {
        blocks.push(Block::Facts(facts(report, units)));
        blocks.push(Block::Table(rules(report, units)));
    }
}

/// The roads on which nothing is known of a box's axles.
pub(in super::super) fn not_judged(shipment: &Shipment, one: &BoxSummary<'_>) -> Vec<String> {
    let ends = [
        (true, format!("from the works to {}", shipment.from)),
        (false, format!("from {} to {}", shipment.to, shipment.yard.id)),
    ];
    let is_known = |at_origin| one.variant.roads.iter().any(|road| road.at_origin == at_origin);
    ends.into_iter().filter(|(at_origin, _)| !is_known(*at_origin)).map(|(_, road)| road).collect()
}

fn facts(report: &RoadReport<'_>, units: Units) -> Vec<(String, String)> {
    let road = report.road;
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let whence = if road.at_origin { "road at origin" } else { "road" };
    let verdict = verdict(report);
    let axles: Vec<String> = report
        .axles
        .iter()
        .enumerate()
        .map(|(index, axle)| {
            format!("{} {} {}", index + 1, axle.group.word(), axle.load.show(units))
        })
        .collect();
    let mut facts = vec![
        fact(whence, format!("{} on {}: {verdict}", road.rig.name, road.law.name)),
        fact("rig", road.rig.id.clone()),
        fact("doors", format!("to the {}", report.doors.word())),
        fact("axles", axles.join(", ")),
    ];
    if let Some(permit) = &road.law.permit {
        facts.insert(1, fact("permit", format!("required, in hand: {permit}")));
    }
    facts
}

/// Whether a box is within the law on a road, as far as the law is known.
pub(super) fn verdict(report: &RoadReport<'_>) -> String {
    let unknown = report.uncovered.join(", ");
    let mut broken = report.checks.iter().filter(|check| !check.holds);
    let beyond = if broken.any(|check| check.by == Limiter::Law) {
        "NOT within the law"
    } else {
        "NOT within what the rig bears"
    };
    match (report.is_legal(), report.uncovered.is_empty()) {
        (true, true) => "within the law".to_owned(),
        (false, true) => beyond.to_owned(),
        (true, false) => format!("no known rule broken; NO RULE KNOWN for {unknown}"),
        (false, false) => format!("{beyond}; no rule known for {unknown}"),
    }
}

/// The rules nearest to breaking: broken ones first, then by how much cargo they leave.
pub(super) fn nearest<'a>(report: &'a RoadReport<'_>) -> Vec<&'a AxleCheck> {
    // That no axle lifts goes without saying while it holds.
    let is_shown = |check: &&AxleCheck| !check.holds || check.by != Limiter::Ground;
    let mut checks: Vec<&AxleCheck> = report.checks.iter().filter(is_shown).collect();
    checks.sort_by_key(|check| (check.holds, check.left.is_none(), check.left, check.axles));
    let broken = checks.iter().filter(|check| !check.holds).count();
    checks.truncate(broken + SHOWN);
    checks
}

fn rules<'a>(report: &'a RoadReport<'_>, units: Units) -> Table<'a> {
    let figure = move |mass: Mass| Cell::Figure(mass.figure(units, 0));
    let rows = nearest(report).into_iter().map(move |check| -> Row<'_> {
        let kept = match (check.holds, check.is_least) {
            (false, _) => "BROKEN",
            (true, true) => "at least",
            (true, false) => "at most",
        };
        vec![
            Cell::text(&*check.name),
            figure(check.load),
            Cell::text(kept),
            figure(check.most),
            check.left.map_or(Cell::Empty, figure),
        ]
    });
    Table {
        title: String::new(),
        columns: vec![
            Column::words("rule of road and rig"),
            Column::figures(format!("carries {}", units.mass())),
            Column::words("bound"),
            Column::figures(format!("limit {}", units.mass())),
            Column::figures(format!("cargo left {}", units.mass())),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
