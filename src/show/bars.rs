//! Figures as bars along one scale, one below the other; readable without colour and on a telephone. Words are words of
//! the page, which fold; each bar is a drawing of its own that takes the width there is.

use maud::{Markup, PreEscaped, html};

use crate::fault::plain;
use crate::quantity::Decimal;

/// The field of a bar, in the units of its drawing; the page stretches its width.
const WIDTH: i64 = 1_000;
const HEIGHT: i64 = 20;
/// The least that a bar takes, so that one of little is seen.
const THIN: i64 = 3;

/// One bar.
pub(super) struct Bar {
    /// What it is of.
    pub(super) label: String,
    /// Where it begins and ends; of a bar in parts, where each of them does. One that ends where it begins is a point.
    pub(super) parts: Vec<[Decimal; 2]>,
    /// Its figure in words.
    pub(super) words: String,
}

/// How the parts of a bar are told apart, each unlike its neighbours; more of them begin again. Their order tells them as
/// well.
const SHADES: [&str; 6] = ["0", "0.5", "0.15", "0.75", "0.3", "1"];
/// What goes up, and what goes down.
const UP: &str = "0.4";
const DOWN: &str = "0";

/// The style of bars on a page to keep.
pub(super) const SHEET: &str = ".bars{margin:0.5rem 0}.bar{display:grid;grid-template-columns:minmax(0,17rem) minmax(0,1fr) minmax(0,13rem);\
gap:0 0.75rem;align-items:center;padding:2px 0;break-inside:avoid}.bar svg{display:block;width:100%;height:1.1em;overflow:visible}\
.bar span{overflow-wrap:anywhere}.bar span:first-child{text-align:right}.key{list-style:none;display:flex;flex-wrap:wrap;gap:0 1.25rem;padding:0}\
.key svg{width:2.2em;height:1em;vertical-align:-0.15em;margin-right:0.4em}\
@media screen and (max-width:40rem){.bar{grid-template-columns:minmax(0,1fr) auto}.bar svg{grid-row:2;grid-column:1/3}\
.bar span:first-child{text-align:left}.bar{padding:4px 0}}\
@media print{.bar{grid-template-columns:minmax(0,14rem) minmax(0,1fr) minmax(0,11rem)}}";

/// Bars along one scale, with what each part is where they have several; `title` is what they show, for who hears the
/// page. One that goes up is filled, one that goes down is not; a point is a dot on its line; parts stand in their order.
pub(super) fn bars(title: &str, all: &[Bar], key: &[&str]) -> String {
    let ends = || all.iter().flat_map(|bar| bar.parts.iter().flatten().copied());
    let (least, most) = (ends().min().unwrap_or_default(), ends().max().unwrap_or_default());
    let x = |figure: Decimal| {
        let whole = most.checked_sub(least).filter(|whole| !whole.is_zero());
        let along = figure.checked_sub(least).zip(whole);
        let along =
            along.and_then(|(own, whole)| own.checked_mul(WIDTH.into())?.checked_div(whole));
        along.and_then(|along| i64::try_from(along.floor()).ok()).unwrap_or(0)
    };
    let figure = html! {
        figure class="bars" role="group" aria-label=(plain(title)) {
            @if !key.is_empty() {
                ul class="key" {
                    li { "from left to right:" }
                    @for (at, word) in key.iter().enumerate() { li { (swatch(at)) (at + 1) " " (plain(word)) } }
                }
            }
            @for bar in all {
                div class="bar" {
                    span { (plain(&bar.label)) }
                    svg viewBox={ "0 0 " (WIDTH) " " (HEIGHT) } preserveAspectRatio="none" aria-hidden="true" {
                        (drawn(bar, &x))
                    }
                    span { (plain(&bar.words)) }
                }
            }
        }
    };
    figure.into_string()
}

fn drawn(bar: &Bar, x: &dyn Fn(Decimal) -> i64) -> Markup {
    let is_alone = bar.parts.len() == 1;
    html! {
        @for (at, part) in bar.parts.iter().enumerate() {
            @let [from, to] = part.map(x);
            @let (near, far) = (from.min(to), from.max(to));
            @if is_alone && part[0] == part[1] { (point(near)) } @else if is_alone {
                (rect([near, (far - near).max(THIN)], if to >= from { UP } else { DOWN }))
            } @else if part[0] != part[1] {
                (rect([near, (far - near).max(THIN)], shade(at)))
            }
        }
    }
}

fn shade(part: usize) -> &'static str {
    SHADES.get(part % SHADES.len()).copied().unwrap_or(DOWN)
}

/// A part of a bar, as its key has it.
fn swatch(part: usize) -> Markup {
    html! {
        svg viewBox={ "0 0 40 " (HEIGHT) } preserveAspectRatio="none" aria-hidden="true" { (rect([1, 38], shade(part))) }
    }
}

fn rect([x, width]: [i64; 2], shade: &str) -> Markup {
    html! {
        rect x=(x) y="1" width=(width) height=(HEIGHT - 2) fill="currentColor" fill-opacity=(shade)
            stroke="currentColor" vector-effect="non-scaling-stroke" {}
    }
}

/// A dot on a line of dashes. Its line has no length and round ends, so that it stays round however it is stretched.
fn point(x: i64) -> Markup {
    let middle = HEIGHT / 2;
    PreEscaped(format!(
        "<path d=\"M0 {middle}H{WIDTH}\" stroke=\"currentColor\" stroke-dasharray=\"1 5\" \
         vector-effect=\"non-scaling-stroke\"></path><path d=\"M{x} {middle}h0\" stroke=\"currentColor\" \
         stroke-width=\"11\" stroke-linecap=\"round\" vector-effect=\"non-scaling-stroke\"></path>"
    ))
}
