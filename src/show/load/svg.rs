//! The load as a drawing in SVG: floor from above, side view, axle loads against limits. To scale in
//! whole millimetres; readable without colour; every text escaped.

use std::fmt::Write;

use super::super::page::plain;
use super::called;
use super::road::nearest;
use crate::load::{AxleCheck, BoxSummary};
use crate::quantity::{Decimal, Length, Mass, Units};
use crate::trade::Shipment;

/// Margin around everything and between views, mm of the drawing.
const MARGIN: i64 = 300;
/// Height of usual text.
const TEXT: i64 = 110;
/// Width of the bar that stands for a limit.
const BAR: i64 = 2_600;
/// The least width of the drawing, so that bars and their words have room.
const LEAST_WIDTH: i64 = 6_600;

/// The drawing of a load, container under container.
pub fn drawing(shipment: &Shipment, summaries: &[BoxSummary<'_>], units: Units) -> String {
    let mut body = Svg { text: String::new(), units };
    let mut y = MARGIN + 160;
    body.words(MARGIN, y, 160, &format!("Load of {}: {}", shipment.name, shipment.title));
    y += MARGIN;
    let mut width = LEAST_WIDTH;
    for one in summaries {
        width = width.max(one.variant.container.inside[0].mm_down());
        y = body.container(one, y);
    }
    body.words(
        MARGIN,
        y,
        TEXT,
        "A calculation aid, not to be loaded by without a competent person.",
    );
    y += MARGIN;
    let total = width + 2 * MARGIN;
    let mut svg = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    put(
        &mut svg,
        format_args!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {total} {y}\" \
             font-family=\"sans-serif\">\n<title>Load of {}</title>\n\
             <rect width=\"{total}\" height=\"{y}\" fill=\"white\"/>\n",
            escaped(&shipment.name)
        ),
    );
    svg.push_str(&body.text);
    svg.push_str("</svg>\n");
    svg
}

/// Writing into a `String` cannot fail.
fn put(text: &mut String, what: std::fmt::Arguments<'_>) {
    let _ = text.write_fmt(what);
}

/// Text made safe for XML and for readers: control characters as escapes, markup as entities.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in plain(text).chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            _ => safe.push(c),
        }
    }
    safe
}

fn whole(figure: Option<Decimal>) -> Option<i64> {
    figure.and_then(|figure| i64::try_from(figure.round().mantissa()).ok())
}

struct Svg {
    text: String,
    units: Units,
}

impl Svg {
    fn words(&mut self, x: i64, y: i64, size: i64, words: &str) {
        put(
            &mut self.text,
            format_args!(
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\">{}</text>\n",
                escaped(words)
            ),
        );
    }

    /// Words that end at `x`.
    fn words_to(&mut self, x: i64, y: i64, size: i64, words: &str) {
        put(
            &mut self.text,
            format_args!(
                "<text x=\"{x}\" y=\"{y}\" font-size=\"{size}\" text-anchor=\"end\">{}</text>\n",
                escaped(words)
            ),
        );
    }

    fn rect(&mut self, [x, y, width, height]: [i64; 4], style: &str) {
        put(
            &mut self.text,
            format_args!(
                "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" {style}/>\n"
            ),
        );
    }

    /// Draws one container from `y` down and returns where the next begins.
    fn container(&mut self, one: &BoxSummary<'_>, top: i64) -> i64 {
        let [length, width, height] = one.variant.container.inside.map(Length::mm_down);
        let mut y = top;
        let number =
            one.filled.number.as_ref().map_or_else(String::new, |number| format!(", {number}"));
        let head = format!("{}: {}{number}", called(&one.filled.label), one.variant.label());
        self.words(MARGIN, y, 140, &head);
        y += TEXT + 60;
        let cargo = format!(
            "cargo with dunnage {}, gross {}; binding: {} ({})",
            one.cargo.show(self.units),
            one.gross.show(self.units),
            one.binding.name,
            one.binding.kind.word()
        );
        self.words(MARGIN, y, TEXT, &cargo);
        y += 120;
        self.view("floor from above: front on the left, doors on the right", y);
        y += 160;
        self.rect([MARGIN, y, length, width], OUTLINE);
        self.window(one, y);
        let [near, far] = one.window_along();
        for (index, standing) in one.standing.iter().enumerate() {
            let Some((x, from_left)) = standing.at else { continue };
            let (along, across) = (standing.length_along(), standing.width_across());
            let corner = [MARGIN + x, y + from_left, along, across];
            self.rect(corner, BUNDLE);
            let label = format!(
                "{}  {}  {}",
                index + 1,
                standing.bundle.id,
                standing.bundle.limit_mass.show(self.units)
            );
            let size = TEXT.min(across * 2 / 3).max(30);
            let line = y + from_left + across / 2 + size / 3;
            // A bundle that begins at the window of the centre of gravity is named at its other end.
            if (near - 120..=far).contains(&x) {
                self.words_to(MARGIN + x + along - 60, line, size, &label);
            } else {
                self.words(MARGIN + x + 60, line, size, &label);
            }
        }
        self.centre(one, y);
        y += width + 40;
        self.view("circle with a cross: centre of gravity; broken line: where it may lie", y);
        y += MARGIN;
        self.view("from the side", y);
        y += 160;
        self.rect([MARGIN, y, length, height], OUTLINE);
        for (index, standing) in one.standing.iter().enumerate() {
            let Some((x, _)) = standing.at else { continue };
            let (along, tall) = (standing.length_along(), standing.bundle.height.mm_up());
            self.rect([MARGIN + x, y + height - tall, along, tall], SIDE);
            // Bundles abreast hide each other: each number has a line of its own.
            let line = i64::try_from(index).unwrap_or(0) % 10;
            let at = y + height - tall + 150 + line * 150;
            self.words(MARGIN + x + 60, at.min(y + height - 40), TEXT, &(index + 1).to_string());
        }
        y += height + MARGIN;
        for report in &one.roads {
            let verdict = if report.is_legal() { "within the law" } else { "NOT within the law" };
            let doors = report.doors.word();
            let words = format!("{}, doors to the {doors}: {verdict}", report.road.rig.name);
            self.view(&words, y);
            y += 120;
            for check in nearest(report) {
                y += 170;
                self.bar(check, y);
            }
            y += MARGIN;
        }
        y + 160
    }

    fn view(&mut self, words: &str, y: i64) {
        self.words(MARGIN, y + 100, TEXT, words);
    }

    /// The window of the centre of gravity.
    fn window(&mut self, one: &BoxSummary<'_>, y: i64) {
        let ([near, far], [left, right]) = (one.window_along(), one.window_across());
        self.rect([MARGIN + near, y + left, far - near, right - left], WINDOW);
    }

    /// The centre of gravity: a cross in a circle, drawn above the bundles.
    fn centre(&mut self, one: &BoxSummary<'_>, y: i64) {
        let (Some(x), Some(across)) = (whole(one.cog_x), whole(one.cog_y)) else { return };
        self.window(one, y);
        let (x, y) = (MARGIN + x, y + across);
        put(
            &mut self.text,
            format_args!(
                "<g fill=\"none\" stroke=\"black\" stroke-width=\"16\"><title>centre of gravity\
                 </title><circle cx=\"{x}\" cy=\"{y}\" r=\"60\"/><path d=\"M {} {y} H {} M {x} {} V {}\"/></g>\n",
                x - 110,
                x + 110,
                y - 110,
                y + 110
            ),
        );
    }

    /// A load as a bar in the frame of its limit.
    fn bar(&mut self, check: &AxleCheck, y: i64) {
        let part = |part: Mass, of: Mass| {
            let (part, of) = (i128::from(part.grams_up()), i128::from(of.grams_up().max(1)));
            i64::try_from(i128::from(BAR) * part / of).unwrap_or(BAR).clamp(0, BAR * 5 / 4)
        };
        self.rect([MARGIN, y - 100, part(check.load, check.most), 110], FILLED);
        self.rect([MARGIN, y - 100, BAR, 110], OUTLINE);
        let kept = match (check.holds, check.is_least) {
            (false, _) => "BROKEN, law",
            (true, true) => "at least",
            (true, false) => "of",
        };
        let words = format!(
            "{}: {} {kept} {}",
            check.name,
            check.load.show(self.units),
            check.most.show(self.units)
        );
        self.words(MARGIN + BAR + 120, y, 90, &words);
    }
}

const OUTLINE: &str = "fill=\"none\" stroke=\"black\" stroke-width=\"20\"";
const BUNDLE: &str = "fill=\"#eeeeee\" stroke=\"black\" stroke-width=\"10\"";
const SIDE: &str = "fill=\"none\" stroke=\"black\" stroke-width=\"10\"";
const FILLED: &str = "fill=\"#bbbbbb\" stroke=\"none\"";
const WINDOW: &str =
    "fill=\"none\" stroke=\"black\" stroke-width=\"10\" stroke-dasharray=\"60 40\"";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_cannot_break_out() {
        assert_eq!(escaped("<b a=\"1\">&\u{7}"), "&lt;b a=&quot;1&quot;&gt;&amp;\\u{7}");
    }
}
