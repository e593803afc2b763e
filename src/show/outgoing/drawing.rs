//! A load for others as a drawing in SVG: a sheet a container, and the axle loads under it.

use super::super::load::pages::{Pages, said};
use super::super::load::sheet;
use super::super::load::svg::{MARGIN, Svg, TEXT};
use super::super::paper::Paper;
use super::hold;
use super::load::{head, sheet_of, title};
use crate::outgoing::{OutgoingBox, OutgoingLoad, Rig};
use crate::quantity::Units;

/// The drawing of a load for others.
pub fn outgoing_drawing(load: &OutgoingLoad<'_>, units: Units, paper: Paper) -> String {
    let mut pages = Pages::new(paper, units);
    for one in &load.boxes {
        pages.page(|svg, paper| sheet::draw(svg, &sheet_of(load, one, units), paper));
        masses(&mut pages, one, units);
        if let Some(own) = &one.hold {
            pages.part(|svg| {
                let y = said(svg, 0, TEXT + 30, &head(one));
                let lines = hold::lines(own, units);
                lines.iter().fold(y, |y, words| said(svg, y, TEXT, words)) + MARGIN
            });
        }
    }
    pages.file(&title(load))
}

/// What a haulier is told of one container's masses.
fn masses(pages: &mut Pages, one: &OutgoingBox<'_>, units: Units) {
    let Some(own) = &one.haulage else { return };
    let [gross, tare] = [own.gross, own.tare.mass].map(|mass| mass.show(units));
    let told = format!("gross {gross}, tare {tare}, dunnage {}", own.dunnage.mass.show(units));
    pages.part(|svg| {
        let y = said(svg, 0, TEXT + 30, &head(one));
        said(svg, y, TEXT, &told) + MARGIN / 2
    });
    for rig in &own.rigs {
        pages.part(|svg| on_rig(svg, rig));
    }
}

/// What a truck scale shows, and each axle's load.
fn on_rig(svg: &mut Svg, rig: &Rig) -> i64 {
    let doors = rig.doors;
    let mut y = said(svg, 0, TEXT, &format!("axle loads, doors to the {doors}"));
    for line in &rig.lines {
        let [expected, at_most] = line.loads.map(|mass| mass.show(svg.units));
        let over = if line.holds { "" } else { ", OVER" };
        let most = line.most.map(|(most, by)| format!(", {} allowed ({by})", most.show(svg.units)));
        let most = most.unwrap_or_default();
        let words = format!("{}: {expected} expected, {at_most} at most{most}{over}", line.what);
        y = said(svg, y, TEXT, &words);
    }
    let [expected, at_most] = rig.kingpin.map(|mass| mass.show(svg.units));
    y = said(svg, y, TEXT, &format!("on the kingpin: {expected} expected, {at_most} at most"));
    for (index, axle) in rig.axles.iter().enumerate() {
        let words = format!("axle {}, {}: {}", index + 1, axle.group, axle.load.show(svg.units));
        y = said(svg, y, TEXT, &words);
    }
    y + MARGIN
}
