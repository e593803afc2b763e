//! Figures as bars along one scale, one below the other; readable without colour.

use super::super::load::svg::{FILLED, MARGIN, OUTLINE, Svg, TEXT};
use crate::quantity::{Decimal, Units};

/// The field of the bars, in the units of the drawing, with its words on the left and its figures on the right.
const LEFT: i64 = MARGIN + 2_000;
const FIELD: i64 = 3_000;
const WIDTH: i64 = LEFT + FIELD + 1_600;
/// The height of a bar, and from one to the next.
const BAR: i64 = 120;
const STEP: i64 = 200;

/// One bar.
pub(super) struct Bar {
    /// What it is of.
    pub(super) label: String,
    /// Where it begins and ends. One that ends where it begins is a point.
    pub(super) span: [Decimal; 2],
    /// Its figure in words.
    pub(super) words: String,
}

/// Bars along one scale. One that goes up is filled, one that goes down is not; a point is a ring.
pub(super) fn bars(title: &str, all: &[Bar], units: Units) -> String {
    let ends = || all.iter().flat_map(|bar| bar.span);
    let (least, most) = (ends().min().unwrap_or_default(), ends().max().unwrap_or_default());
    let x = |figure: Decimal| {
        let whole = most.checked_sub(least).filter(|whole| !whole.is_zero());
        let along = figure.checked_sub(least).zip(whole);
        let along =
            along.and_then(|(own, whole)| own.checked_mul(FIELD.into())?.checked_div(whole));
        LEFT + along.and_then(|along| i64::try_from(along.floor()).ok()).unwrap_or(0)
    };
    let mut svg = Svg::new(units);
    let mut y = MARGIN;
    for bar in all {
        let [from, to] = bar.span.map(x);
        let foot = y + BAR - 20;
        svg.words_to(LEFT - 120, foot, TEXT, &bar.label);
        if bar.span[0] == bar.span[1] {
            svg.line(&[(LEFT, y + BAR / 2), (LEFT + FIELD, y + BAR / 2)], AXIS);
            svg.ring((from, y + BAR / 2), 45);
        } else {
            let (near, far) = (from.min(to), from.max(to));
            let style = if to >= from { FILLED } else { OUTLINE };
            svg.rect([near, y, (far - near).max(12), BAR], style);
        }
        svg.words(LEFT + FIELD + 120, foot, TEXT, &bar.words);
        y += STEP;
    }
    svg.element(WIDTH - MARGIN, y + MARGIN / 2, title)
}

const AXIS: &str = "fill:none;stroke:black;stroke-width:8;stroke-dasharray:20 40";
