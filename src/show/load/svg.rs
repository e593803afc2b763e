//! The load as a drawing in SVG: floor from above, side view, axle loads against limits. To scale in
//! whole millimetres; readable without colour; every text escaped.

use maud::{Markup, PreEscaped, html};

use super::super::verdict;
use super::Load;
use super::road::{self, nearest, not_judged};
use crate::fault::plain;
use crate::load::{AxleCheck, BoxSummary, RoadReport};
use crate::quantity::{Decimal, Length, Mass, Units, nearest_whole};
use crate::trade::{AxleGroup, Shipment};

/// Margin around everything and between views, mm of the drawing.
const MARGIN: i64 = 300;
/// Height of usual text.
const TEXT: i64 = 110;
/// Width of the bar that stands for a limit.
const BAR: i64 = 2_600;
/// The least width of the drawing, so that bars and their words have room.
const LEAST_WIDTH: i64 = 6_600;

/// The drawing of a load, container under container.
pub fn drawing(load: Load<'_>, units: Units) -> String {
    let Load { shipment, costed, summaries } = load;
    let mut body = Svg { text: String::new(), units };
    let mut y = MARGIN + 160;
    body.words(MARGIN, y, 160, &format!("Load of {}: {}", shipment.name, shipment.title));
    y += 180;
    body.words(MARGIN, y, TEXT, &verdict::words(&costed.verdict));
    y += MARGIN;
    let mut width = LEAST_WIDTH;
    for (at, one) in summaries.iter().enumerate() {
        if at > 0 {
            body.rect([MARGIN, y, width, 10], BLACK);
            y += MARGIN;
        }
        width = width.max(one.variant.container.inside[0].mm_down());
        y = body.container(shipment, one, &super::title(one, &costed.choice), y);
    }
    body.words(
        MARGIN,
        y,
        TEXT,
        "A calculation aid, not to be loaded by without a competent person.",
    );
    y += MARGIN;
    let total = width + 2 * MARGIN;
    let svg = html! {
        svg xmlns="http://www.w3.org/2000/svg" viewBox=(format!("0 0 {total} {y}"))
            font-family="sans-serif" {
            title { "Load of " (plain(&shipment.name)) }
            rect width=(total) height=(y) fill="white" {}
            "\n"
            (PreEscaped(body.text))
        }
    };
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{}\n", svg.into_string())
}

fn whole(figure: Option<Decimal>) -> Option<i64> {
    figure.and_then(nearest_whole)
}

struct Svg {
    text: String,
    units: Units,
}

impl Svg {
    /// Adds a piece of the drawing on a line of its own. Every element is closed by a tag, as XML asks.
    fn add(&mut self, piece: Markup) {
        self.text += &piece.into_string();
        self.text.push('\n');
    }

    fn words(&mut self, x: i64, y: i64, size: i64, words: &str) {
        self.add(html! { text x=(x) y=(y) font-size=(size) { (plain(words)) } });
    }

    /// Words that end at `x`.
    fn words_to(&mut self, x: i64, y: i64, size: i64, words: &str) {
        let piece =
            html! { text x=(x) y=(y) font-size=(size) text-anchor="end" { (plain(words)) } };
        self.add(piece);
    }

    fn rect(&mut self, [x, y, width, height]: [i64; 4], style: &str) {
        self.add(html! { rect x=(x) y=(y) width=(width) height=(height) style=(style) {} });
    }

    /// Draws one container from `y` down and returns where the next begins.
    fn container(
        &mut self,
        shipment: &Shipment,
        one: &BoxSummary<'_>,
        head: &str,
        top: i64,
    ) -> i64 {
        let [length, width, height] = one.variant.container.inside.map(Length::mm_down);
        let mut y = top;
        self.words(MARGIN, y, 140, head);
        y += TEXT + 60;
        let cargo = format!(
            "cargo with dunnage {}, gross {}; binding: {} ({})",
            one.cargo.show(self.units),
            one.gross.show(self.units),
            one.binds.name,
            one.binds.kind.word()
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
            let size = TEXT.min(across * 2 / 3).max(30);
            let mass = standing.bundle.limit_mass.show(self.units);
            let name = cut(&standing.bundle.id, (along - 120) / (size * 2 / 3) - 18);
            let label = format!("{}  {mass}  {name}", index + 1);
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
        for standing in &one.standing {
            let Some((x, _)) = standing.at else { continue };
            let (along, tall) = (standing.length_along(), standing.bundle.height.mm_up());
            self.rect([MARGIN + x, y + height - tall, along, tall], SIDE);
        }
        if let (Some(x), Some(z)) = (whole(one.cog_x), whole(one.cog_z)) {
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
        y += MARGIN;
        for report in &one.roads {
            let doors = report.doors.word();
            let mut words = format!(
                "{}, doors to the {doors}: {}",
                report.road.rig.name,
                road::verdict(report)
            );
            if report.road.law.permit.is_some() {
                words += ", with its permit in hand";
            }
            self.view(&words, y);
            y += 120;
            for (words, load, most) in groups(report, self.units) {
                y += 170;
                self.frame(load, most, &words, y);
            }
            y += 120;
            self.view("the rules that come nearest to breaking", y);
            y += 120;
            for check in nearest(report) {
                y += 170;
                self.bar(check, y);
            }
            y += MARGIN;
        }
        for road in not_judged(shipment, one) {
            self.view(&format!("the road {road}: no rig is known, axles not judged"), y);
            y += 160;
        }
        y + MARGIN
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
        self.cross(MARGIN + x, y + across);
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

    /// A rule as a bar.
    fn bar(&mut self, check: &AxleCheck, y: i64) {
        let kept = match (check.holds, check.is_least) {
            (false, _) => "BROKEN,",
            (true, true) => "at least",
            (true, false) => "of",
        };
        let words = format!(
            "{}: {} {kept} {}",
            check.name,
            check.load.show(self.units),
            check.most.show(self.units)
        );
        self.frame(check.load, Some(check.most), &words, y);
    }

    /// A load as a bar in the frame of its limit; one without a limit has no frame.
    fn frame(&mut self, load: Mass, most: Option<Mass>, words: &str, y: i64) {
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
fn stretches(one: &BoxSummary<'_>) -> Vec<(i64, String, Mass)> {
    let mut all: Vec<(i64, String, Mass)> = Vec::new();
    for (index, standing) in one.standing.iter().enumerate() {
        let Some((x, _)) = standing.at else { continue };
        let mass = standing.bundle.limit_mass;
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

/// Each axle group: its name, its load, and its lowest limit.
fn groups(report: &RoadReport<'_>, units: Units) -> Vec<(String, Mass, Option<Mass>)> {
    let of_group = |group: AxleGroup, word: &str| {
        let own = || report.axles.iter().enumerate().filter(move |(_, axle)| axle.group == group);
        let (first, last) = (own().next()?.0 + 1, own().next_back()?.0 + 1);
        let load = Mass::total(own().map(|(_, axle)| axle.load)).ok()?;
        let on_all = report.checks.iter().filter(|c| !c.is_least && c.axles == (first, last));
        let most = on_all.map(|check| check.most).min();
        let axles = if first == last {
            format!("axle {first}, {word}")
        } else {
            format!("axles {first}-{last}, {word}")
        };
        let of = most.map_or_else(
            || "no rule on all of it".to_owned(),
            |most| format!("of {} (law)", most.show(units)),
        );
        Some((format!("{axles}: {} {of}", load.show(units)), load, most))
    };
    AxleGroup::ALL.iter().filter_map(|(group, word)| of_group(*group, word)).collect()
}

const BLACK: &str = "fill:black";
const OUTLINE: &str = "fill:none;stroke:black;stroke-width:20";
const BUNDLE: &str = "fill:#eeeeee;stroke:black;stroke-width:10";
const SIDE: &str = "fill:none;stroke:black;stroke-width:10";
const FILLED: &str = "fill:#bbbbbb;stroke:none";
const WINDOW: &str = "fill:none;stroke:black;stroke-width:10;stroke-dasharray:60 40";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_cannot_break_out() {
        let mut svg = Svg { text: String::new(), units: Units::Metric };
        svg.words(1, 2, 3, "<b a=\"1\">&\u{7}");
        let safe = "&lt;b a=&quot;1&quot;&gt;&amp;\\u{7}";
        assert_eq!(svg.text, format!("<text x=\"1\" y=\"2\" font-size=\"3\">{safe}</text>\n"));
    }
}
