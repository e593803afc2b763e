//! Figures as bars along one scale, one below the other; readable without colour.

use super::load::svg::{FILLED, MARGIN, OUTLINE, Svg, TEXT};
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
    /// Where it begins and ends; of a bar in parts, where each of them does. One that ends where it begins is a point.
    pub(super) parts: Vec<[Decimal; 2]>,
    /// Its figure in words.
    pub(super) words: String,
}

/// How the parts of a bar are told apart; more of them begin again.
const SHADES: [&str; 5] = [
    "fill:#ffffff;stroke:black;stroke-width:8",
    "fill:#cccccc;stroke:black;stroke-width:8",
    "fill:#888888;stroke:black;stroke-width:8",
    "fill:#444444;stroke:black;stroke-width:8",
    "fill:#e8e8e8;stroke:black;stroke-width:8",
];

/// Bars along one scale, below a line of words. One that goes up is filled, one that goes down is not; a point is a
/// ring; parts stand in their order.
pub(super) fn bars(title: &str, all: &[Bar], units: Units) -> String {
    let ends = || all.iter().flat_map(|bar| bar.parts.iter().flatten().copied());
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
    svg.words(MARGIN, y, TEXT, title);
    y += STEP;
    for bar in all {
        let foot = y + BAR - 20;
        svg.words_to(LEFT - 120, foot, TEXT, &bar.label);
        for (at, part) in bar.parts.iter().enumerate() {
            let [from, to] = part.map(x);
            if part[0] == part[1] && bar.parts.len() == 1 {
                svg.line(&[(LEFT, y + BAR / 2), (LEFT + FIELD, y + BAR / 2)], AXIS);
                svg.ring((from, y + BAR / 2), 45);
                continue;
            }
            let style = match (bar.parts.len(), to >= from) {
                (1, true) => FILLED,
                (1, false) => OUTLINE,
                _ => SHADES.get(at % SHADES.len()).copied().unwrap_or(OUTLINE),
            };
            let (near, far) = (from.min(to), from.max(to));
            svg.rect([near, y, (far - near).max(12), BAR], style);
        }
        svg.words(LEFT + FIELD + 120, foot, TEXT, &bar.words);
        y += STEP;
    }
    svg.element(WIDTH - MARGIN, y + MARGIN / 2, title)
}

const AXIS: &str = "fill:none;stroke:black;stroke-width:8;stroke-dasharray:20 40";
