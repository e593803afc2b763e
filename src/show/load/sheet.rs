//! A sheet for the people who fill a container: all that one page must tell them, to be read in a yard. Black on
//! white. All lengths are tenths of a millimetre of paper.

use super::super::paper::{EDGE, Paper};
use super::fall::is_free_beside_each;
use super::floor::{Floor, Piece};
use super::letters::{cut, fitting, high, wide, wrapped};
use super::svg::{Label, Svg, To};
use super::views::{self, Scale};
use crate::fault::plain;
use crate::quantity::{Length, Mass, Units};

/// A container as those who fill it are told of it.
#[derive(Debug)]
pub(in crate::show) struct Sheet<'a> {
    /// Its name and type.
    pub(in crate::show) head: String,
    /// The load that it is of.
    pub(in crate::show) of: String,
    /// The box and what stands in it.
    pub(in crate::show) floor: Floor<'a>,
    /// Its size and type code, as planned.
    pub(in crate::show) code: Option<String>,
    /// Its number.
    pub(in crate::show) number: Option<String>,
    /// Its seal.
    pub(in crate::show) seal: Option<&'a str>,
    /// The yard.
    pub(in crate::show) yard: Option<&'a str>,
    /// The cargo that its plate must allow.
    pub(in crate::show) cargo: Option<Mass>,
    /// The head of the bundles' masses: which of their masses it is.
    pub(in crate::show) mass_head: String,
    /// In which order the bundles come in; or why there is none.
    pub(in crate::show) order: Result<String, String>,
    /// What is not held on the way, a sentence each.
    pub(in crate::show) not_held: Vec<String>,
    /// Whether goods that the reader is not told of come in, too.
    pub(in crate::show) is_shared: bool,
}

const TITLE: i64 = 78;
const WORDS: i64 = 36;
const LARGE: i64 = 50;
/// The letters of the list of bundles.
const LIST: [i64; 2] = [20, 44];
/// The smallest letters of a bundle's name there.
const NAME: i64 = 16;
/// Between one thing and the next.
const GAP: i64 = 24;
const RULE: &str = "fill:none;stroke:black;stroke-width:5";
const FRAME: &str = "fill:none;stroke:black;stroke-width:16";
const TICK: &str = "fill:none;stroke:black;stroke-width:7";

const LOOSE: &str = "Nobody stands beside bundles while one is loose: no place beside them is free. Work from the \
                     ends. Hatched: where a bundle falls.";
const HATCHED: &str = "Hatched: where a bundle falls. Nobody stands there while one is loose.";
const CAUTION: &str =
    "A calculation aid, not to be loaded by without a competent person. It is no securing plan.";

/// Width and height of what is drawn on a sheet. A browser's page break needs a little less than there is.
pub(in crate::show) fn area(paper: Paper) -> [i64; 2] {
    let [width, height] = paper.sides();
    [width - 2 * EDGE, height - 2 * EDGE - 25]
}

/// The sheet as an element of a page.
pub(in crate::show) fn element(one: &Sheet<'_>, paper: Paper, units: Units) -> String {
    let mut svg = Svg::new(units);
    draw(&mut svg, one, paper);
    svg.sheet(area(paper), &one.head)
}

/// Draws the sheet.
pub(in crate::show) fn draw(svg: &mut Svg, one: &Sheet<'_>, paper: Paper) {
    let [width, height] = area(paper);
    let top = head(svg, one, width);
    let bottom = foot(svg, one, [width, height]);
    middle(svg, one, width, [top + GAP, bottom - GAP]);
}

/// Lines of words from `y` down; where the next thing begins.
fn lines(svg: &mut Svg, words: &str, [x, y]: [i64; 2], width: i64, size: i64, bold: bool) -> i64 {
    let all = wrapped(&plain(words), size, width, bold);
    for (at, line) in all.iter().enumerate() {
        let label = Label::new(x, y + high(at, size) + size * 9 / 10, size, line);
        svg.label(if bold { label.bold() } else { label });
    }
    y + high(all.len(), size)
}

/// Title, what stands first and large, and the fields to fill in.
fn head(svg: &mut Svg, one: &Sheet<'_>, width: i64) -> i64 {
    // A long title takes smaller letters, and room for the floor stays.
    let few = |size: &i64| wrapped(&one.head, *size, width, true).len() <= 2;
    let size = [TITLE, LARGE].into_iter().find(few).unwrap_or(WORDS);
    let mut y = lines(svg, &one.head, [0, 0], width, size, true);
    y = lines(svg, &one.of, [0, y], width, WORDS, false) + GAP / 2;
    let not_held = one.not_held.iter().map(|what| format!("NOT HELD FAST: {what}"));
    let stuck = one.order.as_ref().err().map(|why| format!("NO ORDER OF LOADING: {why}"));
    for why in not_held.chain(stuck) {
        let from = y + GAP / 2;
        y = lines(svg, &why, [GAP, from + GAP / 2], width - 2 * GAP, LARGE, true) + GAP / 2;
        svg.rect([8, from, width - 16, y - from], FRAME);
        y += GAP / 2;
    }
    // A yard has a long name.
    let rows = [
        ([("Box no.", one.number.as_deref()), ("Seal", one.seal)], 50),
        ([("Yard", one.yard), ("Date", None)], 68),
    ];
    for (row, percent) in rows {
        y += LARGE * 13 / 10;
        let first = (width - GAP) * percent / 100;
        let places = [(0, first), (first + GAP, width - GAP - first)];
        for ((name, value), (x, room)) in row.into_iter().zip(places) {
            field(svg, [x, y], room, name, value);
        }
    }
    let said = if is_free(one) { HATCHED } else { LOOSE };
    lines(svg, said, [0, y + GAP], width, WORDS + 6, true)
}

fn is_free(one: &Sheet<'_>) -> bool {
    !one.is_shared && is_free_beside_each(&one.floor)
}

/// A field on its line: what is known of it, or the line alone.
fn field(svg: &mut Svg, [x, y]: [i64; 2], width: i64, name: &str, value: Option<&str>) {
    svg.label(Label::new(x, y, WORDS, name));
    let from = x + wide(name, WORDS, false) + GAP;
    if let Some(value) = value {
        let value = plain(value);
        let size = fitting(&value, LARGE, x + width - from, true);
        let cut =
            if size < LIST[0] { cut(&value, LIST[0], x + width - from) } else { value.into() };
        svg.label(Label::new(from, y - 4, size.max(LIST[0]), &cut).bold());
    }
    svg.line(&[(from, y + 10), (x + width, y + 10)], RULE);
}

/// What is ticked before the first bundle comes in, who signs, and the caution; where it begins.
fn foot(svg: &mut Svg, one: &Sheet<'_>, [width, height]: [i64; 2]) -> i64 {
    let units = svg.units;
    let needs = one
        .cargo
        .map_or_else(String::new, |cargo| format!(" (this load needs {})", cargo.show(units)));
    let code = one.code.as_ref().map_or_else(String::new, |code| format!(", planned {code}"));
    let ticks = [
        format!(
            "Read off the box: plate, max. gross ________, tare ________, payload ________{needs}"
        ),
        format!(
            "Size and type code on the box ________{code}. A letter as its fourth sign: reduced strength \
             (ISO 6346), ask before loading"
        ),
        "Floor sound, dry and swept".to_owned(),
        "Doors and their gaskets sound, they close; seal at hand".to_owned(),
    ];
    let half = (width - GAP) / 2;
    let side = 40;
    let caution = wrapped(CAUTION, 28, width, false);
    let signed = height - high(caution.len(), 28) - GAP;
    let rows = [[0usize, 1], [2, 3]];
    let room = half - side - GAP;
    let high_of = |row: &[usize; 2]| {
        let lines = row.iter().filter_map(|at| ticks.get(*at));
        let lines = lines.map(|tick| wrapped(tick, WORDS - 4, room, false).len());
        high(lines.max().unwrap_or(1), WORDS - 4).max(side) + GAP / 2
    };
    let ticked: i64 = rows.iter().map(high_of).sum();
    let top = signed - LARGE * 2 - ticked - high(1, WORDS);
    svg.line(&[(0, top), (width, top)], RULE);
    let mut y = lines(svg, "Before the first bundle:", [0, top + 6], width, WORDS, true) + 6;
    for row in &rows {
        for (at, tick) in row.iter().enumerate() {
            let x = if at == 0 { 0 } else { half + GAP };
            svg.rect([x + 4, y, side - 8, side - 8], TICK);
            let words = ticks.get(*tick).map_or("", String::as_str);
            lines(svg, words, [x + side + GAP / 2, y - 2], room, WORDS - 4, false);
        }
        y += high_of(row);
    }
    field(svg, [0, signed - 14], half, "Loaded by, signed", None);
    field(svg, [half + GAP, signed - 14], half, "Checked by, signed", None);
    lines(svg, CAUTION, [0, signed + GAP / 2], width, 28, false);
    top
}

/// The floor on the left; beside it the other views, the order of loading, and the list of bundles.
fn middle(svg: &mut Svg, one: &Sheet<'_>, width: i64, [top, bottom]: [i64; 2]) {
    let own = &one.floor;
    let [length, breadth, height] = own.inside;
    let legend = legend(one, svg.units);
    // The words below the floor are as wide as it is, and the floor leaves room for them.
    let mut below = 3;
    let mut scale = Scale::fitting([1, 1], [1, 1]);
    for _ in 0..3 {
        let around = 3 * views::AROUND + 10 + high(below, 28);
        scale = Scale::fitting([length, breadth], [bottom - top - around, width * 46 / 100]);
        let taken = scale.of(breadth) + 2 * views::AROUND;
        below = below.max(wrapped(&legend, 28, taken, false).len());
    }
    let all = views::floor(svg, own, scale, [0, top]);
    let taken = scale.of(breadth) + 2 * views::AROUND;
    let under = top + views::floor_high(own, scale);
    let mut y = under;
    for line in wrapped(&legend, 28, taken, false).iter().take(below) {
        y += high(1, 28);
        svg.label(Label::new(0, y, 28, line));
    }
    let (x, room) = (taken, width - taken);
    let end = Scale::fitting([breadth, height], [room * 56 / 100, (bottom - top) * 27 / 100]);
    let mut y = views::end(svg, own, end, [x, top]);
    let beside = x + views::AROUND + end.of(breadth) + GAP;
    let words = match &one.order {
        Ok(words) => format!("Loading order: {words}"),
        Err(_) => {
            "There is no order of loading: see above. Numbers only name the bundles.".to_owned()
        }
    };
    let words = if one.is_shared { format!("{words}. Other goods come in, too") } else { words };
    let size = (24..=40).rev().find(|size| {
        let lines = wrapped(&words, *size, width - beside, false).len();
        high(lines, *size) <= end.of(height)
    });
    lines(svg, &words, [beside, top + views::AROUND], width - beside, size.unwrap_or(24), false);
    let side = Scale::fitting([length, height], [room - views::AROUND, (bottom - top) * 17 / 100]);
    y = views::side(svg, own, side, [x, y]);
    svg.group("list");
    list(svg, one, [x + GAP, y, width], bottom, all);
    svg.end();
}

/// What the marks at the walls and the timber say.
fn legend(one: &Sheet<'_>, units: Units) -> String {
    let timber = "Crossed: spreaders and struts. Grey: the gate.";
    let parts =
        [centre(one, units), if one.floor.blocking.is_empty() { "" } else { timber }.to_owned()];
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(". ")
}

fn centre(one: &Sheet<'_>, units: Units) -> String {
    let own = &one.floor;
    let shown = |mm: i64| Length::whole_mm(mm).show(units);
    match own.centre {
        None if own.pieces.iter().any(|piece| piece.at.is_none()) => {
            "Places are not worked out: no bundle is drawn".to_owned()
        }
        None => String::new(),
        Some([x, y, z]) => {
            let bar = if own.window.is_some() { "; bar: where it may lie" } else { "" };
            format!(
                "Ring with a cross: centre of gravity, {} from the front, {} from the left wall, {} up{bar}",
                shown(x),
                shown(y),
                shown(z)
            )
        }
    }
}

/// Every bundle by its number: its name, its measures, where it stands, its mass.
fn list(svg: &mut Svg, one: &Sheet<'_>, [x, top, right]: [i64; 3], bottom: i64, all_drawn: bool) {
    let units = svg.units;
    let pieces = &one.floor.pieces;
    let count = i64::try_from(pieces.len()).unwrap_or(i64::MAX).max(1);
    let side = units.side();
    let heads = [
        "no".to_owned(),
        "bundle".to_owned(),
        format!("l x w x h {side}"),
        "front".to_owned(),
        "left".to_owned(),
        one.mass_head.clone(),
    ];
    let rows: Vec<[String; 6]> =
        pieces.iter().enumerate().map(|(at, piece)| row(at + 1, piece, units)).collect();
    // Below the list stands what had no room in the floor's drawing.
    let note = if all_drawn || one.floor.centre.is_none() {
        ""
    } else {
        "Measures that had no room in a bundle stand here alone."
    };
    let room = bottom - top - high(usize::from(!note.is_empty()), LIST[0] + 4);
    let size = (room * 100 / (118 * (count + 1))).clamp(LIST[0], LIST[1]);
    // The name takes what the figures leave.
    let widths = |size: i64| {
        let of = |column: usize| {
            let own = rows.iter().chain([&heads]).filter_map(|row| row.get(column));
            own.map(|cell| wide(cell, size, column == 0)).max().unwrap_or(0) + size / 2
        };
        [0, 2, 3, 4, 5].map(of)
    };
    let names = |size: i64| right - x - widths(size).into_iter().sum::<i64>();
    let least = wide("bundle name", size, false);
    let size = (LIST[0]..=size).rev().find(|size| names(*size) >= least).unwrap_or(LIST[0]);
    let [no, measures, front, left, mass] = widths(size);
    let name = names(size);
    let ends = [
        x + no - size / 2,
        x + no,
        x + no + name + measures - size / 2,
        x + no + name + measures + front - size / 2,
        x + no + name + measures + front + left - size / 2,
        x + no + name + measures + front + left + mass - size / 2,
    ];
    let step = high(1, size);
    let shown = usize::try_from((room / step - 1).max(1)).unwrap_or(1);
    let left_out = rows.len().saturating_sub(shown);
    let shown = if left_out > 0 { shown.saturating_sub(1) } else { shown };
    let mut y = top;
    for (at, cells) in std::iter::once(&heads).chain(rows.iter().take(shown)).enumerate() {
        y += step;
        for (column, (cell, end)) in cells.iter().zip(ends).enumerate() {
            // A long name takes smaller letters, a very long one leaves out its middle.
            let room = name - size / 2;
            let own = fitting(cell, size, room, false).max(NAME);
            let short = cut(cell, own, room);
            let label = match column {
                1 => Label::new(end, y, own, &short),
                _ => Label::new(end, y, size, cell).to(To::End),
            };
            svg.label(if at == 0 || column == 0 { label.bold() } else { label });
        }
        if at == 0 {
            svg.line(&[(x, y + 6), (right, y + 6)], RULE);
        }
    }
    if left_out > 0 {
        let many = rows.len().saturating_sub(shown);
        let words = format!("and {many} more bundles: see the list of the load");
        svg.label(Label::new(x, y + step, size, &words).bold());
    } else if !note.is_empty() {
        svg.label(Label::new(x, y + high(1, LIST[0] + 4) + 4, LIST[0] + 4, note));
    }
}

fn row(number: usize, piece: &Piece<'_>, units: Units) -> [String; 6] {
    let mm = |mm: i64| Length::whole_mm(mm).figure(units).to_string();
    let [along, across, tall] = piece.size;
    let [long, thick] = if piece.turned { [across, along] } else { [along, across] };
    let at =
        |pick: fn((i64, i64)) -> i64| piece.at.map_or_else(|| "-".to_owned(), |at| mm(pick(at)));
    [
        number.to_string(),
        plain(piece.id).into_owned(),
        format!("{} x {} x {}", mm(long), mm(thick), mm(tall)),
        at(|at| at.0),
        at(|at| at.1),
        piece.mass.figure(units, 0).to_string(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::{Blocking, BlockingPart};
    use crate::quantity::Written;

    type Rectangle = [i64; 4];

    /// A label of a drawing as a reader sees it: its part, whether it is a number, its words, and from where to where
    /// it stands, by widths of letters that are not those of the drawing.
    #[derive(Debug)]
    struct Seen {
        part: String,
        is_number: bool,
        words: String,
        size: i64,
        at: Rectangle,
    }

    fn seen(svg: &str) -> Vec<Seen> {
        let mut part = String::new();
        let mut all = Vec::new();
        for line in svg.lines() {
            if let Some(name) = line.strip_prefix("<g class=\"") {
                part = name.trim_end_matches("\">").to_owned();
            }
            if line == "</g>" {
                part.clear();
            }
            let Some(rest) = line.strip_prefix("<text") else { continue };
            let (attributes, words) = rest.split_once('>').unwrap();
            let words = words.strip_suffix("</text>").unwrap().replace("&quot;", "\"");
            let given = |key: &str| {
                let from = attributes.split_once(&format!(" {key}=\""))?.1;
                Some(from.split_once('"').unwrap().0.to_owned())
            };
            let number = |key: &str| given(key).unwrap().parse::<i64>().unwrap();
            let (x, y, size) = (number("x"), number("y"), number("font-size"));
            let bold = given("font-weight").map_or(100, |_| 108);
            let of = |c: char| match c {
                'i' | 'j' | 'l' | 't' | 'f' | 'r' | 'I' => 32,
                '\u{2026}' => 100,
                'M' | 'W' | 'm' | 'w' => 90,
                c if c.is_uppercase() => 70,
                c if c.is_alphanumeric() => 58,
                _ => 32,
            };
            let long = words.chars().map(of).sum::<i64>() * size * bold / 10_000;
            let from = match given("text-anchor").as_deref() {
                Some("middle") => long / 2,
                Some("end") => long,
                _ => 0,
            };
            let (up, down) = (size * 72 / 100, size * 18 / 100);
            let at = match given("transform") {
                Some(_) => [x - up, y - (long - from), x + down, y + from],
                None => [x - from, y - up, x - from + long, y + down],
            };
            all.push(Seen {
                part: part.clone(),
                is_number: given("class").is_some(),
                words,
                size,
                at,
            });
        }
        all
    }

    /// Where the marks of the centre of gravity stand.
    fn marks(svg: &str) -> Vec<Rectangle> {
        let given = |mark: &str, key: &str| {
            let from = mark.split_once(&format!("{key}=\"")).unwrap().1;
            from.split_once('"').unwrap().0.parse::<i64>().unwrap()
        };
        let mark = |mark: &str| {
            let (x, y) = (given(mark, "cx"), given(mark, "cy"));
            [x - 22, y - 22, x + 22, y + 22]
        };
        svg.split("<circle ").skip(1).map(mark).collect()
    }

    fn sheet(inside: [i64; 3], places: &[(i64, i64)], size: [i64; 3]) -> Sheet<'static> {
        let piece = |(index, at): (usize, &(i64, i64))| Piece {
            id: ["K-0815-0001 quarry block, bundle of the first cut, A", "B7"][index % 2],
            mass: Mass::read("1234.5 kg").unwrap(),
            at: Some(*at),
            size: [size[0] - i64::try_from(index).unwrap(), size[1], size[2]],
            turned: false,
        };
        let gate = Blocking {
            part: BlockingPart::Gate,
            place: [(inside[0] - 60, inside[0]), (0, inside[1])],
            up: size[2],
        };
        let centre = inside.map(|side| side / 2);
        Sheet {
            head: "Container two of the spring shipment, the one that the works fills on Monday: 20' GP (22G1)"
                .to_owned(),
            of: "Load of white-marble-and-more: White marble, by two forwarders, to a yard with a long name"
                .to_owned(),
            floor: Floor {
                inside,
                pieces: places.iter().enumerate().map(piece).collect(),
                blocking: vec![gate],
                centre: Some([centre[0], centre[1], centre[2]]),
                window: Some([
                    [centre[0] - 300, centre[0] + 300],
                    [centre[1] - 100, centre[1] + 100],
                ]),
            },
            code: Some("22G1".to_owned()),
            number: Some("CSQU3054383".to_owned()),
            seal: Some("S-1234567890"),
            yard: Some("A yard of the harbour with many words in its name, north gate (invented)"),
            cargo: Some(Mass::read("27159 kg").unwrap()),
            mass_head: "at most kg".to_owned(),
            order: Ok("as numbered, by the doors: the front row first, each row from the left wall to the right"
                .to_owned()),
            not_held: Vec::new(),
            is_shared: false,
        }
    }

    /// 22 bundles: two rows of eleven in a short box, four ragged rows in a long one, and a row after the other
    /// shifted by half a bundle.
    fn crowded() -> Vec<Sheet<'static>> {
        let [short, long] = [[5_895, 2_350, 2_392], [12_032, 2_350, 2_697]];
        let rows =
            |count: i64, row: &dyn Fn(i64) -> (i64, i64)| (0..count).map(row).collect::<Vec<_>>();
        let two = rows(22, &|at| (23 + at / 11 * 2_930, 40 + at % 11 * 205));
        let four = rows(22, &|at| (23 + at / 6 * 2_950, 100 + at % 6 * 360));
        let ragged = rows(22, &|at| (23 + at / 11 * 2_930, 24 + at % 11 * 205 + at / 11 * 60));
        let mut all = vec![
            sheet(short, &two, [2_900, 200, 1_850]),
            sheet(long, &four, [2_900, 330, 1_950]),
            sheet(short, &ragged, [2_900, 190, 1_850]),
            // Too narrow for a number in a long box: numbers stand beside the wall.
            sheet(long, &two, [2_900, 200, 1_850]),
        ];
        let mut stuck = sheet(short, &two, [2_900, 200, 1_850]);
        stuck.order = Err(
            "B7 has no way in, in any order: the lane from the doors must be 20 mm wider than the \
                           bundle"
                .to_owned(),
        );
        all.push(stuck);
        all
    }

    #[test]
    fn with_22_bundles_no_label_is_on_another_or_off_the_page_and_each_number_is_once_in_each_view()
    {
        for paper in [Paper::A4, Paper::Letter] {
            for units in [Units::Metric, Units::Us] {
                for one in crowded() {
                    let all = seen(&element(&one, paper, units));
                    let [width, height] = area(paper);
                    let marks = marks(&element(&one, paper, units));
                    assert_eq!(marks.len(), 6, "two in each view");
                    for (index, label) in all.iter().enumerate() {
                        let [left, top, right, bottom] = label.at;
                        let is_in = left >= 0 && top >= 0 && right <= width && bottom <= height;
                        assert!(is_in, "{paper:?}: {label:?}");
                        let others = all.iter().skip(index + 1).map(|other| other.at);
                        for other in others.chain(marks.iter().copied()) {
                            let apart = |at: usize| {
                                label.at[at + 2] <= other[at] || other[at + 2] <= label.at[at]
                            };
                            assert!(apart(0) || apart(1), "{paper:?}: {label:?} {other:?}");
                        }
                    }
                    for part in ["floor", "side", "end"] {
                        let own = all.iter().filter(|label| label.part == part && label.is_number);
                        // Digits are 0.716 of the letters' size high: 2.5 mm at the least, read from some way off.
                        assert!(own.clone().all(|label| label.size * 716 >= 25_000), "{part}");
                        let mut numbers: Vec<usize> =
                            own.map(|label| label.words.parse().unwrap()).collect();
                        numbers.sort_unstable();
                        assert_eq!(numbers, (1..=22).collect::<Vec<_>>(), "{part}");
                    }
                    let listed = |at: usize| {
                        let is =
                            |label: &&Seen| label.part == "list" && label.words == at.to_string();
                        all.iter().filter(is).count()
                    };
                    assert!((1..=22).all(|at| listed(at) == 1), "{paper:?}");
                }
            }
        }
    }
}
