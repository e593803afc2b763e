//! A load for others as a drawing in SVG, container under container.

use super::super::load::svg::{MARGIN, Svg, TEXT};
use super::load::{floor, head, title};
use crate::outgoing::{OutgoingBox, OutgoingLoad};
use crate::quantity::Units;

/// The drawing of a load for others.
pub fn outgoing_drawing(load: &OutgoingLoad<'_>, units: Units) -> String {
    let mut svg = Svg::new(units);
    let width = load.boxes.iter().map(|one| one.inside[0].mm_down()).max().unwrap_or(0);
    let mut y = MARGIN + 160;
    svg.words(MARGIN, y, 160, &title(load));
    y += MARGIN;
    for (at, one) in load.boxes.iter().enumerate() {
        if at > 0 {
            svg.rule(width, y);
            y += MARGIN;
        }
        y = container(&mut svg, one, y);
    }
    let caution = "A calculation aid, not to be loaded by without a competent person.";
    svg.words(MARGIN, y, TEXT, caution);
    svg.file(width, y + MARGIN, &title(load))
}

/// Draws one container from `y` down and returns where the next begins.
fn container(svg: &mut Svg, one: &OutgoingBox<'_>, top: i64) -> i64 {
    let mut y = top;
    svg.words(MARGIN, y, 140, &head(one));
    y += TEXT + 60;
    let units = svg.units;
    let told = match (&one.haulage, one.mass) {
        (Some(own), _) => {
            let [gross, tare] = [own.gross, own.tare.mass].map(|mass| mass.show(units));
            format!("gross {gross}, tare {tare}, dunnage {}", own.dunnage.mass.show(units))
        }
        (None, Some(mass)) => format!("bundles {}", mass.show(units)),
        (None, None) => "other goods travel in this container".to_owned(),
    };
    svg.words(MARGIN, y, TEXT, &told);
    y = svg.views(&floor(one), y + 120);
    for (doors, axles) in one.haulage.iter().flat_map(|own| &own.rigs) {
        svg.view(&format!("axle loads, doors to the {doors}"), y);
        y += 120;
        for (index, axle) in axles.iter().enumerate() {
            y += 170;
            let words =
                format!("axle {}, {}: {}", index + 1, axle.group, axle.load.show(svg.units));
            svg.words(MARGIN, y, TEXT, &words);
        }
        y += MARGIN;
    }
    y + MARGIN
}
