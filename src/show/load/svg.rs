//! Drawings as SVG: lines and words; of boxes the floor from above and the side view. To scale in whole millimetres; readable without colour;
//! every text escaped.

use maud::{Markup, PreEscaped, html};

use super::letters::fitting;
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

/// An element as a file of its own.
pub(in crate::show) fn as_file(element: &str) -> String {
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{element}\n")
}

/// Where words stand from their point on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::show) enum To {
    /// They begin there.
    Start,
    /// Their middle is there.
    Middle,
    /// They end there.
    End,
}

/// Words in their place.
#[derive(Debug, Clone, Copy)]
pub(in crate::show) struct Label<'a> {
    x: i64,
    y: i64,
    size: i64,
    words: &'a str,
    is_bold: bool,
    is_number: bool,
    is_turned: bool,
    to: To,
}

impl<'a> Label<'a> {
    /// Words from a point of their base line on.
    pub(in crate::show) fn new(x: i64, y: i64, size: i64, words: &'a str) -> Self {
        let [is_bold, is_number, is_turned] = [false; 3];
        Self { x, y, size, words, is_bold, is_number, is_turned, to: To::Start }
    }

    /// The same in bold letters.
    pub(in crate::show) fn bold(self) -> Self {
        Self { is_bold: true, ..self }
    }

    /// The same as the number of a bundle.
    pub(in crate::show) fn number(self) -> Self {
        Self { is_number: true, ..self }
    }

    /// The same, read from below.
    pub(in crate::show) fn turned(self) -> Self {
        Self { is_turned: true, ..self }
    }

    /// The same about its point.
    pub(in crate::show) fn to(self, to: To) -> Self {
        Self { to, ..self }
    }
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

    /// The drawing as an element of these sides.
    pub(in crate::show) fn sheet(self, [width, height]: [i64; 2], title: &str) -> String {
        let svg = html! {
            svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox=(format!("0 0 {width} {height}"))
                font-family=(FONTS) {
                title { (plain(title)) }
                rect width=(width) height=(height) fill="white" {}
                "\n"
                (PreEscaped(self.text))
            }
        };
        svg.into_string()
    }

    /// The drawing as an element of pages under each other, each as high as a sheet of paper.
    pub(in crate::show) fn pages(
        self,
        [width, height]: [i64; 2],
        paper: &str,
        title: &str,
    ) -> String {
        let tenths = |side: i64| format!("{}.{}mm", side / 10, side % 10);
        let svg = html! {
            svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {width} {height}"))
                width=(tenths(width)) height=(tenths(height)) font-family=(FONTS) {
                title { (plain(title)) }
                style { "@page{size:" (paper) ";margin:0}" }
                rect width=(width) height=(height) fill="white" {}
                "\n"
                (PreEscaped(self.text))
            }
        };
        svg.into_string()
    }

    /// What is drawn so far, as a part of another drawing.
    pub(in crate::show) fn part(self) -> String {
        self.text
    }

    /// Adds a part, moved by so much and of so many thousandths of its size.
    pub(in crate::show) fn put(&mut self, part: &str, [x, y]: [i64; 2], thousandths: i64) {
        let moved = match thousandths {
            1_000 => format!("translate({x} {y})"),
            less => format!("translate({x} {y}) scale(.{less:03})"),
        };
        self.add(html! { g transform=(moved) { "\n" (PreEscaped(part)) } });
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

    /// The mark of the centre of gravity.
    pub(in crate::show) fn mark(&mut self, (x, y): (i64, i64)) {
        let lines = format!("M {} {y} H {} M {x} {} V {}", x - 22, x + 22, y - 22, y + 22);
        self.add(html! {
            g fill="white" stroke="black" stroke-width="6" {
                title { "centre of gravity" }
                circle cx=(x) cy=(y) r="15" {}
                path d=(lines) {}
            }
        });
    }

    /// Opens a part of the drawing that has a name.
    pub(in crate::show) fn group(&mut self, name: &str) {
        self.text.extend(["<g class=\"", name, "\">\n"]);
    }

    /// Closes it.
    pub(in crate::show) fn end(&mut self) {
        self.text += "</g>\n";
    }

    /// Adds words in their place.
    pub(in crate::show) fn label(&mut self, label: Label<'_>) {
        let Label { x, y, size, words, is_bold, is_number, is_turned, to } = label;
        let anchor = match to {
            To::Start => None,
            To::Middle => Some("middle"),
            To::End => Some("end"),
        };
        self.add(html! {
            text class=[is_number.then_some("no")] x=(x) y=(y) font-size=(size)
                paint-order=[is_number.then_some("stroke")] stroke=[is_number.then_some("white")]
                stroke-width=[is_number.then_some("10")] font-weight=[is_bold.then_some("700")] text-anchor=[anchor]
                transform=[is_turned.then(|| format!("rotate(-90 {x} {y})"))] { (plain(words)) }
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
        let x = MARGIN + BAR + 120;
        self.words(x, y, fitting(words, 90, LEAST_WIDTH + MARGIN - x, false), words);
    }
}

/// Letters of a sheet.
const FONTS: &str = "Arial, Helvetica, sans-serif";
pub(in crate::show) const OUTLINE: &str = "fill:none;stroke:black;stroke-width:20";
pub(in crate::show) const FILLED: &str = "fill:#bbbbbb;stroke:none";

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
