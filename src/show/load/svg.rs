//! Drawings as SVG: lines and words; of boxes the floor from above and the side view. To scale in whole millimetres; readable without colour;
//! every text escaped.

use maud::{Markup, PreEscaped, html};

use super::floor::Floor;
use crate::fault::plain;
use crate::quantity::{Mass, Units};

/// Margin around everything and between views, mm of the drawing.
pub(in crate::show) const MARGIN: i64 = 300;
/// Height of usual text.
pub(in crate::show) const TEXT: i64 = 110;
/// Width of the bar that stands for a limit.
const BAR: i64 = 2_600;
/// The least width of the drawing, so that bars and their words have room.
const LEAST_WIDTH: i64 = 6_600;

/// The views of one box alone, as an element of a page.
pub(in crate::show) fn picture(one: &Floor<'_>, units: Units) -> String {
    let mut svg = Svg::new(units);
    let height = svg.views(one, 0);
    svg.element(one.inside[0], height, "")
}

/// An element as a file of its own.
pub(in crate::show) fn as_file(element: &str) -> String {
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{element}\n")
}

/// A drawing in the making.
pub(in crate::show) struct Svg {
    text: String,
    pub(in crate::show) units: Units,
}

impl Svg {
    /// An empty drawing.
    pub(in crate::show) fn new(units: Units) -> Self {
        Self { text: String::new(), units }
    }

    /// The drawing as an element; `width` is that of its widest box.
    pub(in crate::show) fn element(self, width: i64, height: i64, title: &str) -> String {
        let total = width.max(LEAST_WIDTH) + 2 * MARGIN;
        let svg = html! {
            svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {total} {height}"))
                font-family="sans-serif" {
                @if !title.is_empty() { title { (plain(title)) } }
                rect width=(total) height=(height) fill="white" {}
                "\n"
                (PreEscaped(self.text))
            }
        };
        svg.into_string()
    }

    /// The drawing as a file.
    pub(in crate::show) fn file(self, width: i64, height: i64, title: &str) -> String {
        as_file(&self.element(width, height, title))
    }

    /// A line between two boxes.
    pub(in crate::show) fn rule(&mut self, width: i64, y: i64) {
        self.rect([MARGIN, y, width.max(LEAST_WIDTH), 10], BLACK);
    }

    /// Adds a piece of the drawing on a line of its own. Every element is closed by a tag, as XML asks.
    fn add(&mut self, piece: Markup) {
        self.text += &piece.into_string();
        self.text.push('\n');
    }

    pub(in crate::show) fn words(&mut self, x: i64, y: i64, size: i64, words: &str) {
        self.add(html! { text x=(x) y=(y) font-size=(size) { (plain(words)) } });
    }

    /// Words that end at `x`.
    pub(in crate::show) fn words_to(&mut self, x: i64, y: i64, size: i64, words: &str) {
        let piece =
            html! { text x=(x) y=(y) font-size=(size) text-anchor="end" { (plain(words)) } };
        self.add(piece);
    }

    /// A line through points.
    pub(in crate::show) fn line(&mut self, points: &[(i64, i64)], style: &str) {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x},{y}")).collect();
        self.add(html! { polyline points=(points.join(" ")) style=(style) {} });
    }

    /// A ring around a point.
    pub(in crate::show) fn ring(&mut self, (x, y): (i64, i64), radius: i64) {
        self.add(html! { circle cx=(x) cy=(y) r=(radius) style=(OUTLINE) {} });
    }

    /// A box by its corner and sides.
    pub(in crate::show) fn rect(&mut self, [x, y, width, height]: [i64; 4], style: &str) {
        self.add(html! { rect x=(x) y=(y) width=(width) height=(height) style=(style) {} });
    }

    /// Draws a floor from above and from the side, from `y` down, and returns where the next thing begins.
    pub(in crate::show) fn views(&mut self, one: &Floor<'_>, top: i64) -> i64 {
        let [length, width, height] = one.inside;
        let mut y = top;
        self.view(
            "floor from above: front on the left, doors on the right; looking in, the left wall is below",
            y,
        );
        y += 160;
        self.rect([MARGIN, y, length, width], OUTLINE);
        let window = one.window.map(|[[near, far], [left, right]]| {
            [MARGIN + near, y + width - right, far - near, right - left]
        });
        if let Some(window) = window {
            self.rect(window, WINDOW);
        }
        let (near, far) = one.window.map_or((0, 0), |[[near, far], _]| (near, far));
        for (index, piece) in one.pieces.iter().enumerate() {
            let Some((x, from_left)) = piece.at else { continue };
            let [along, across, _] = piece.size;
            let from_right = width - from_left - across;
            let corner = [MARGIN + x, y + from_right, along, across];
            self.rect(corner, BUNDLE);
            let size = TEXT.min(across * 2 / 3).max(30);
            let mass = piece.mass.show(self.units);
            let name = cut(piece.id, (along - 120) / (size * 2 / 3) - 18);
            let label = format!("{}  {mass}  {name}", index + 1);
            let line = y + from_right + across / 2 + size / 3;
            // A bundle that begins at the window of the centre of gravity is named at its other end.
            if far > 0 && (near - 120..=far).contains(&x) {
                self.words_to(MARGIN + x + along - 60, line, size, &label);
            } else {
                self.words(MARGIN + x + 60, line, size, &label);
            }
        }
        if let Some([x, across, _]) = one.centre {
            // Above the bundles.
            if let Some(window) = window {
                self.rect(window, WINDOW);
            }
            self.cross(MARGIN + x, y + width - across);
        }
        y += width + 40;
        let legend = match (one.window, one.centre) {
            (Some(_), _) => "circle with a cross: centre of gravity; broken line: where it may lie",
            (None, Some(_)) => "circle with a cross: centre of gravity",
            (None, None) => "",
        };
        self.view(legend, y);
        y += MARGIN;
        self.view("from the side", y);
        y += 160;
        self.rect([MARGIN, y, length, height], OUTLINE);
        for piece in &one.pieces {
            let Some((x, _)) = piece.at else { continue };
            let [along, _, tall] = piece.size;
            self.rect([MARGIN + x, y + height - tall, along, tall], SIDE);
        }
        if let Some([x, _, z]) = one.centre {
            self.cross(MARGIN + x, y + height - z);
        }
        y += height;
        // Bundles abreast hide each other: below the floor, each stretch of it says which they are.
        for (x, numbers, mass) in stretches(one) {
            y += 150;
            let which = if numbers.contains(',') { "bundles" } else { "bundle" };
            let words = format!("^ {which} {numbers}: {}", mass.show(self.units));
            self.words(MARGIN + x, y, TEXT, &words);
        }
        y += 150;
        self.rect([MARGIN, y, 1_000, 30], BLACK);
        self.words(MARGIN + 1_060, y + 50, TEXT, "1 m, all views to one scale");
        y + MARGIN
    }

    pub(in crate::show) fn view(&mut self, words: &str, y: i64) {
        self.words(MARGIN, y + 100, TEXT, words);
    }

    fn cross(&mut self, x: i64, y: i64) {
        let lines = format!("M {} {y} H {} M {x} {} V {}", x - 110, x + 110, y - 110, y + 110);
        self.add(html! {
            g fill="none" stroke="black" stroke-width="16" {
                title { "centre of gravity" }
                circle cx=(x) cy=(y) r="60" {}
                path d=(lines) {}
            }
        });
    }

    /// A load as a bar in the frame of its limit; one without a limit has no frame.
    pub(in crate::show) fn frame(&mut self, load: Mass, most: Option<Mass>, words: &str, y: i64) {
        if let Some(most) = most {
            let (part, of) = (i128::from(load.grams_up()), i128::from(most.grams_up().max(1)));
            let part = i64::try_from(i128::from(BAR) * part / of).unwrap_or(BAR);
            self.rect([MARGIN, y - 100, part.clamp(0, BAR * 5 / 4), 110], FILLED);
            self.rect([MARGIN, y - 100, BAR, 110], OUTLINE);
        }
        self.words(MARGIN + BAR + 120, y, 90, words);
    }
}

/// A name in so many characters, cut where it is longer.
fn cut(name: &str, most: i64) -> String {
    let most = usize::try_from(most).unwrap_or(0);
    if name.chars().count() <= most {
        return name.to_owned();
    }
    let mut short: String = name.chars().take(most.saturating_sub(1)).collect();
    short.push('\u{2026}');
    short
}

/// Where bundles begin, in loading order: from where on, their numbers, and their mass together.
fn stretches(one: &Floor<'_>) -> Vec<(i64, String, Mass)> {
    let mut all: Vec<(i64, String, Mass)> = Vec::new();
    for (index, piece) in one.pieces.iter().enumerate() {
        let Some((x, _)) = piece.at else { continue };
        let mass = piece.mass;
        match all.last_mut() {
            Some((at, numbers, sum)) if *at == x => {
                numbers.extend([", ".to_owned(), (index + 1).to_string()]);
                *sum = sum.plus(mass).unwrap_or(*sum);
            }
            _ => all.push((x, (index + 1).to_string(), mass)),
        }
    }
    all
}

const BLACK: &str = "fill:black";
pub(in crate::show) const OUTLINE: &str = "fill:none;stroke:black;stroke-width:20";
const BUNDLE: &str = "fill:#eeeeee;stroke:black;stroke-width:10";
const SIDE: &str = "fill:none;stroke:black;stroke-width:10";
pub(in crate::show) const FILLED: &str = "fill:#bbbbbb;stroke:none";
const WINDOW: &str = "fill:none;stroke:black;stroke-width:10;stroke-dasharray:60 40";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_cannot_break_out() {
        let mut svg = Svg::new(Units::Metric);
        svg.words(1, 2, 3, "<b a=\"1\">&\u{7}");
        let safe = "&lt;b a=&quot;1&quot;&gt;&amp;\\u{7}";
        assert_eq!(svg.text, format!("<text x=\"1\" y=\"2\" font-size=\"3\">{safe}</text>\n"));
    }
}
