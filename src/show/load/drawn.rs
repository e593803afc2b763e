//! The load as a drawing for ourselves: a sheet a box, then its roads, axle loads against limits.

use super::super::paper::Paper;
use super::super::verdict;
use super::Load;
use super::pages::{Pages, said};
use super::road::{self, nearest, not_judged};
use super::sheet;
use super::svg::{MARGIN, Svg, TEXT};
use crate::load::{AxleCheck, BoxSummary, RoadReport};
use crate::quantity::{Mass, Units};
use crate::trade::AxleGroup;

/// The drawing of loads: a sheet a container, and then what it comes to against its limits. Of several shipments each
/// container bears the name of its own.
pub fn drawing(loads: &[Load<'_>], units: Units, paper: Paper) -> String {
    let mut pages = Pages::new(paper, units);
    for load in loads {
        let Load { shipment, costed, summaries } = *load;
        let own = if loads.len() > 1 { format!("{}, ", shipment.name) } else { String::new() };
        for one in summaries {
            pages.page(|svg, paper| sheet::draw(svg, &super::sheet_of(*load, one, units), paper));
            let head = format!("{own}{}", super::title(one, &costed.choice));
            pages.part(|svg| limits(svg, one, &head, &verdict::words(&costed.verdict)));
            for report in &one.roads {
                pages.part(|svg| road(svg, report));
            }
            for unknown in not_judged(shipment, one) {
                let words = format!("the road {unknown}: no rig is known, axles not judged");
                pages.part(|svg| said(svg, 0, TEXT, &words));
            }
        }
    }
    let names: Vec<&str> = loads.iter().map(|load| load.shipment.name.as_str()).collect();
    pages.file(&format!("Load of {}", names.join(", ")))
}

/// One container's cargo and what binds it; how high that is.
fn limits(svg: &mut Svg, one: &BoxSummary<'_>, head: &str, verdict: &str) -> i64 {
    let y = said(svg, 0, TEXT + 30, head);
    let y = said(svg, y, TEXT, verdict);
    let cargo = format!(
        "cargo with dunnage {}, gross {}",
        one.cargo.show(svg.units),
        one.gross.show(svg.units)
    );
    let y = said(svg, y, TEXT, &cargo);
    let binding = format!("binding: {} ({})", one.binds.name, one.binds.kind.shown());
    said(svg, y, TEXT, &binding) + MARGIN / 2
}

/// A road: the loads of its axle groups, and the rules that come nearest to breaking; how high that is.
fn road(svg: &mut Svg, report: &RoadReport<'_>) -> i64 {
    let mut words = format!(
        "{}, doors to the {}: {}",
        report.road.rig.name,
        report.doors.word(),
        road::verdict(report)
    );
    if report.road.law.permit.is_some() {
        words += ", with its permit in hand";
    }
    let mut y = said(svg, 0, TEXT, &words);
    for (words, load, most) in groups(report, svg.units) {
        y += 170;
        svg.frame(load, most, &words, y);
    }
    y = said(svg, y + 120, TEXT, "the rules that come nearest to breaking");
    for check in nearest(report) {
        y += 170;
        bar(svg, check, y);
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
        let (first, last) = report.span(group)?;
        let load = report.on_axles((first, last)).ok()?;
        let most = report.most_of((first, last)).ok()?;
        let axles = if first == last {
            format!("axle {first}, {word}")
        } else {
            format!("axles {first}-{last}, {word}")
        };
        let of = most.map_or_else(
            || "no rule on all of it".to_owned(),
            |(most, by)| format!("of {} ({})", most.show(units), by.word()),
        );
        Some((format!("{axles}: {} {of}", load.show(units)), load, most.map(|(most, _)| most)))
    };
    AxleGroup::ALL.iter().filter_map(|(group, word)| of_group(*group, word)).collect()
}
