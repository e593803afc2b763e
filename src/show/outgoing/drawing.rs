//! A load for others as a drawing in SVG: a sheet a container, and the axle loads under it.

use super::super::load::pages::{Pages, said};
use super::super::load::sheet;
use super::super::load::svg::{MARGIN, Svg, TEXT};
use super::super::paper::Paper;
use super::load::{head, sheet_of, title};
use crate::outgoing::{Axle, OutgoingBox, OutgoingLoad};
use crate::quantity::Units;

/// The drawing of a load for others.
pub fn outgoing_drawing(load: &OutgoingLoad<'_>, units: Units, paper: Paper) -> String {
    let mut pages = Pages::new(paper, units);
    for one in &load.boxes {
        pages.page(|svg, paper| sheet::draw(svg, &sheet_of(load, one, units), paper));
        masses(&mut pages, one, units);
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
    for (doors, all) in &own.rigs {
        pages.part(|svg| axles(svg, doors, all));
    }
}

fn axles(svg: &mut Svg, doors: &str, all: &[Axle]) -> i64 {
    let mut y = said(svg, 0, TEXT, &format!("axle loads, doors to the {doors}"));
    for (index, axle) in all.iter().enumerate() {
        let words = format!("axle {}, {}: {}", index + 1, axle.group, axle.load.show(svg.units));
        y = said(svg, y, TEXT, &words);
    }
    y + MARGIN
}
