//! Costs over a range as lines in SVG, with the points where the cheapest changes; readable without colour.

use super::cost::of_footing;
use super::load::svg::{MARGIN, Svg, TEXT, as_file};
use super::over::{OverPage, value};
use super::page::{Block, Page};
use crate::decide::{AtValue, Winner, ranges};
use crate::quantity::{Decimal, grouped};

/// The field of the lines, in the units of the drawing.
const WIDTH: i64 = 6_000;
const HEIGHT: i64 = 3_200;
/// Room for the mark of an axis that does not begin at nothing, at its foot.
const FOOT: i64 = 300;
/// Room for figures on the left of it, and for its head above.
const LEFT: i64 = MARGIN + 1_000;
const TOP: i64 = MARGIN + 500;

/// The strokes of lines: each is told from the others without colour. More offers begin again.
const STROKES: [&str; 6] = ["", "120 60", "30 40", "200 50 30 50", "60 60", "240 80"];

/// Where figures stand: the least above the mark of the axis, the most at the head of the field.
struct Scale {
    least: Decimal,
    most: Decimal,
}

impl Scale {
    fn y(&self, figure: Decimal) -> Option<i64> {
        let height = figure.checked_sub(self.least)?.checked_mul(Decimal::from(HEIGHT - FOOT))?;
        let up = height.checked_div(self.most.checked_sub(self.least)?)?.floor();
        Some(TOP + HEIGHT - FOOT - i64::try_from(up).ok()?)
    }
}

/// The costs over a range as a file: a line for each offer, a ring where the cheapest changes.
pub fn over_chart(page: &OverPage<'_>) -> String {
    as_file(&lines(page))
}

/// The page of costs over a range, with its drawing.
pub fn over<'a>(page: &'a OverPage<'a>) -> Page<'a> {
    let mut made = super::over::over(page);
    let at = made.blocks.iter().position(|block| matches!(block, Block::Table(_)));
    made.blocks.insert(at.unwrap_or(made.blocks.len()), Block::Chart(lines(page)));
    made
}

/// The same as an element of a page.
fn lines(page: &OverPage<'_>) -> String {
    let figure = |one: &AtValue, offer: usize| {
        let cost = one.costs.get(offer)?.as_ref().ok()?;
        cost.per_area.figure(page.units)
    };
    let names: Vec<&str> = page.names().collect();
    let all = page.all.iter().flat_map(|one| (0..names.len()).filter_map(|at| figure(one, at)));
    let figures: Vec<Decimal> = all.collect();
    let least = figures.iter().copied().min().unwrap_or_default();
    let most = figures.iter().copied().max().unwrap_or_default();
    // One cost at all values lies at the foot.
    let scale = Scale { least, most: if most > least { most } else { least + Decimal::ONE } };
    let steps = i64::try_from(page.all.len()).unwrap_or(i64::MAX).saturating_sub(1).max(1);
    let x = |at: usize| LEFT + i64::try_from(at).unwrap_or(0).saturating_mul(WIDTH) / steps;
    let mut svg = Svg::new(page.units);
    let title = format!(
        "{}: cost with finance, {}, by {}",
        names.join(", "),
        of_footing(page.comparison, page.units),
        page.what()
    );
    let cost = format!(
        "{}; the scale is cut below {}",
        of_footing(page.comparison, page.units),
        grouped(least)
    );
    svg.words(MARGIN, MARGIN + TEXT, TEXT, &cost);
    let foot = TOP + HEIGHT;
    let cut = [(0, 240), (-60, 195), (60, 105), (0, 60)].map(|(x, up)| (LEFT + x, foot - up));
    let ends = [(LEFT, foot), (LEFT + WIDTH, foot)];
    let axes: Vec<(i64, i64)> = std::iter::once((LEFT, TOP)).chain(cut).chain(ends).collect();
    svg.line(&axes, &stroke(0, 12));
    svg.words(LEFT + WIDTH / 2, foot + 180, TEXT, &page.what());
    for figure in [least, most] {
        if let Some(y) = scale.y(figure) {
            svg.words_to(LEFT - 60, y + TEXT / 3, TEXT, &grouped(figure));
        }
    }
    let ends = [page.all.first(), page.all.last()];
    if let [Some(first), Some(last)] = ends.map(|one| one.map(value)) {
        svg.words(LEFT, TOP + HEIGHT + 180, TEXT, &first);
        svg.words_to(LEFT + WIDTH, TOP + HEIGHT + 180, TEXT, &last);
    }
    let mut y = TOP + HEIGHT + 500;
    for (offer, name) in names.iter().enumerate() {
        let mut run: Vec<(i64, i64)> = Vec::new();
        for (at, one) in page.all.iter().enumerate() {
            match figure(one, offer).and_then(|figure| scale.y(figure)) {
                Some(y) => run.push((x(at), y)),
                // Where an offer has no cost, its line ends.
                None => svg.line(&std::mem::take(&mut run), &stroke(offer, 24)),
            }
        }
        svg.line(&run, &stroke(offer, 24));
        svg.line(&[(LEFT, y), (LEFT + 900, y)], &stroke(offer, 24));
        svg.words(LEFT + 1_000, y + TEXT / 3, TEXT, name);
        y += 200;
    }
    for (first, _) in ranges(page.all).into_iter().skip(1) {
        let at = page.all.iter().position(|one| std::ptr::eq(one, first)).unwrap_or(0);
        let costs = match first.winner() {
            Winner::Offers(all) => all,
            Winner::Alone(offer) => vec![offer],
            _ => Vec::new(),
        };
        let least = costs.first().and_then(|offer| scale.y(figure(first, *offer)?));
        // Where no offer has a cost, nothing is drawn to be ringed.
        if let Some(up) = least {
            svg.ring((x(at), up), 70);
            svg.ring((LEFT + 450, y - TEXT / 3), 50);
        }
        let words = format!("from {} on: {}", value(first), page.winner(first));
        svg.words(LEFT + 1_000, y, TEXT, &words);
        y += 180;
    }
    svg.element(LEFT + WIDTH, y + MARGIN, &title)
}

fn stroke(line: usize, width: i64) -> String {
    let dashes = STROKES.get(line % STROKES.len()).copied().unwrap_or_default();
    let dashes =
        if dashes.is_empty() { String::new() } else { format!(";stroke-dasharray:{dashes}") };
    format!("fill:none;stroke:black;stroke-width:{width}{dashes}")
}
