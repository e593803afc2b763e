//! The load as a drawing for ourselves: each box, its roads, axle loads against limits.

use super::super::verdict;
use super::Load;
use super::floor::Floor;
use super::road::{self, nearest, not_judged};
use super::svg::{MARGIN, Svg, TEXT};
use crate::load::{AxleCheck, BoxSummary, RoadReport};
use crate::quantity::{Mass, Units};
use crate::trade::{AxleGroup, Shipment};

/// The drawing of a load, container under container.
pub fn drawing(load: Load<'_>, units: Units) -> String {
    let Load { shipment, costed, summaries } = load;
    let mut body = Svg::new(units);
    let mut y = MARGIN + 160;
    body.words(MARGIN, y, 160, &format!("Load of {}: {}", shipment.name, shipment.title));
    y += 180;
    body.words(MARGIN, y, TEXT, &verdict::words(&costed.verdict));
    y += MARGIN;
    let boxes = summaries.iter().map(|one| one.variant.container.inside[0].mm_down());
    let width = boxes.max().unwrap_or(0);
    for (at, one) in summaries.iter().enumerate() {
        if at > 0 {
            body.rule(width, y);
            y += MARGIN;
        }
        y = container(&mut body, shipment, one, &super::title(one, &costed.choice), y);
    }
    body.words(
        MARGIN,
        y,
        TEXT,
        "A calculation aid, not to be loaded by without a competent person.",
    );
    y += MARGIN;
    body.file(width, y, &format!("Load of {}", shipment.name))
}

/// Draws one container from `y` down and returns where the next begins.
fn container(
    svg: &mut Svg,
    shipment: &Shipment,
    one: &BoxSummary<'_>,
    head: &str,
    top: i64,
) -> i64 {
    let mut y = top;
    svg.words(MARGIN, y, 140, head);
    y += TEXT + 60;
    let cargo = format!(
        "cargo with dunnage {}, gross {}; binding: {} ({})",
        one.cargo.show(svg.units),
        one.gross.show(svg.units),
        one.binds.name,
        one.binds.kind.shown()
    );
    svg.words(MARGIN, y, TEXT, &cargo);
    y += 120;
    y = svg.views(&Floor::of(one), y);
    for report in &one.roads {
        let doors = report.doors.word();
        let mut words =
            format!("{}, doors to the {doors}: {}", report.road.rig.name, road::verdict(report));
        if report.road.law.permit.is_some() {
            words += ", with its permit in hand";
        }
        svg.view(&words, y);
        y += 120;
        for (words, load, most) in groups(report, svg.units) {
            y += 170;
            svg.frame(load, most, &words, y);
        }
        y += 120;
        svg.view("the rules that come nearest to breaking", y);
        y += 120;
        for check in nearest(report) {
            y += 170;
            bar(svg, check, y);
        }
        y += MARGIN;
    }
    for road in not_judged(shipment, one) {
        svg.view(&format!("the road {road}: no rig is known, axles not judged"), y);
        y += 160;
    }
    y + MARGIN
}

/// A rule as a bar.
fn bar(svg: &mut Svg, check: &AxleCheck, y: i64) {
    let kept = match (check.holds, check.is_least) {
        (false, _) => "BROKEN,",
        (true, true) => "at least",
        (true, false) => "of",
    };
    let words = format!(
        "{}: {} {kept} {}",
        check.name,
        check.load.show(svg.units),
        check.most.show(svg.units)
    );
    svg.frame(check.load, Some(check.most), &words, y);
}

/// Each axle group: its name, its load, and its lowest limit.
fn groups(report: &RoadReport<'_>, units: Units) -> Vec<(String, Mass, Option<Mass>)> {
    let of_group = |group: AxleGroup, word: &str| {
        let own = || report.axles.iter().enumerate().filter(move |(_, axle)| axle.group == group);
        let (first, last) = (own().next()?.0 + 1, own().next_back()?.0 + 1);
        let load = Mass::total(own().map(|(_, axle)| axle.load)).ok()?;
        let on_all = report.checks.iter().filter(|c| !c.is_least && c.axles == (first, last));
        let most = on_all.map(|check| check.most).min();
        let axles = if first == last {
            format!("axle {first}, {word}")
        } else {
            format!("axles {first}-{last}, {word}")
        };
        let of = most.map_or_else(
            || "no rule on all of it".to_owned(),
            |most| format!("of {} (law)", most.show(units)),
        );
        Some((format!("{axles}: {} {of}", load.show(units)), load, most))
    };
    AxleGroup::ALL.iter().filter_map(|(group, word)| of_group(*group, word)).collect()
}
