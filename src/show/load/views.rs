//! A container as somebody at its open doors knows it: the floor from above with the front on top, then seen from
//! the left side and from the doors. All lengths on the sheet are tenths of a millimetre of paper.
//!
//! A bundle is known by its number, which stands in it once in each view. What would cover a number stands outside
//! of the walls.

use super::fall::{hatch, shadows};
use super::floor::{Floor, Piece};
use super::letters::{fitting, wide};
use super::svg::{Label, Svg, To};
use crate::load::BlockingPart;
use crate::quantity::{Length, Units};

const WALL: &str = "fill:white;stroke:black;stroke-width:14";
const SOLID: &str = "fill:white;stroke:black;stroke-width:7";
const LINES: &str = "fill:none;stroke:black;stroke-width:5";
const HATCH: &str = "fill:none;stroke:black;stroke-width:3";
const BAR: &str = "fill:black";
const GATE: &str = "fill:#888;stroke:black;stroke-width:5";
/// What stands around a view: marks of the centre of gravity, and the names of the ends.
pub(super) const AROUND: i64 = 60;
/// How far a mark of the centre of gravity is from a wall: it covers nothing inside.
const MARK: i64 = 36;
/// Letters of a view's name.
const NAME: i64 = 40;
/// The smallest letters of a number, whose digits are 2.5 mm high so that it is read in a yard, and the largest.
const NUMBER: [i64; 2] = [35, 90];
/// The same of a bundle's measures.
const MEASURES: [i64; 2] = [19, 46];
/// How far hatching is apart on the sheet.
const HATCHED: i64 = 36;

/// From millimetres of a box to the sheet: so many thousandths.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale(i64);

impl Scale {
    /// The largest at which a view of this length and width fits on paper of that.
    pub(super) fn fitting([length, width]: [i64; 2], [most_long, most_wide]: [i64; 2]) -> Self {
        let of = |mm: i64, most: i64| most * 1_000 / mm.max(1);
        Self(of(length, most_long).min(of(width, most_wide)).max(1))
    }

    pub(super) fn of(self, mm: i64) -> i64 {
        mm * self.0 / 1_000
    }
}

/// The floor from above at a corner: the front on top, the left wall on the left. Whether each bundle's measures had
/// room in it.
pub(super) fn floor(svg: &mut Svg, one: &Floor<'_>, scale: Scale, [left, top]: [i64; 2]) -> bool {
    let [length, width, _] = one.inside.map(|mm| scale.of(mm));
    let (x0, y0) = (left + AROUND, top + 2 * AROUND);
    svg.group("floor");
    svg.label(Label::new(x0, top + NAME, NAME, "FRONT").bold());
    let unit = format!("in {}", svg.units.side());
    svg.label(Label::new(x0 + width, top + NAME, NAME * 3 / 4, &unit).to(To::End));
    svg.rect([x0, y0, width, length], WALL);
    let step = HATCHED * 1_000 / scale.0;
    for [(from_x, from_y), (to_x, to_y)] in hatch(&shadows(one), step) {
        let point = |along: i64, across: i64| (x0 + scale.of(across), y0 + scale.of(along));
        svg.line(&[point(from_x, from_y), point(to_x, to_y)], HATCH);
    }
    for one in &one.blocking {
        let [along, across] = one.place.map(|(from, to)| (scale.of(from), scale.of(to)));
        let field = [x0 + across.0, y0 + along.0, across.1 - across.0, along.1 - along.0];
        timber(svg, one.part, field);
    }
    // Numbers of one digit are no larger than the others.
    let digits = "0".repeat(one.pieces.len().to_string().len());
    let mut all = true;
    let mut narrow = Vec::new();
    for (index, piece) in one.pieces.iter().enumerate() {
        let Some([along, across]) = piece.extent() else { continue };
        let [x, y] = [x0 + scale.of(across.0), y0 + scale.of(along.0)];
        let sides =
            [scale.of(across.1 - across.0), scale.of(along.1 - along.0)].map(|side| side.max(1));
        svg.rect([x, y, sides[0], sides[1]], SOLID);
        match inside(svg, (index + 1, &digits), piece, [x, y], sides) {
            Some(measured) => all &= measured,
            None => narrow.push((index + 1, (x + sides[0] / 2, y + sides[1] / 2))),
        }
    }
    all &= narrow.is_empty();
    beside(svg, narrow, x0 + width);
    if let Some([along, across, _]) = one.centre {
        if let Some([[near, far], [from, to]]) = one.window {
            svg.rect([x0 - MARK - 4, y0 + scale.of(near), 8, scale.of(far - near)], BAR);
            svg.rect([x0 + scale.of(from), y0 - MARK - 4, scale.of(to - from), 8], BAR);
        }
        svg.mark((x0 - MARK, y0 + scale.of(along)));
        svg.mark((x0 + scale.of(across), y0 - MARK));
    }
    let size = fitting("left DOORS right", NAME, width, true);
    let below = y0 + length + 14 + size;
    svg.label(Label::new(x0, below, size, "left"));
    svg.label(Label::new(x0 + width / 2, below, size, "DOORS").bold().to(To::Middle));
    svg.label(Label::new(x0 + width, below, size, "right").to(To::End));
    svg.end();
    all
}

/// Timber: crossed, as carpenters draw what is filled with it; the gate is solid.
fn timber(svg: &mut Svg, part: BlockingPart, [x, y, wide, high]: [i64; 4]) {
    if part == BlockingPart::Gate {
        svg.rect([x, y, wide.max(4), high.max(4)], GATE);
        return;
    }
    svg.rect([x, y, wide, high], LINES);
    svg.line(&[(x, y), (x + wide, y + high)], LINES);
    svg.line(&[(x, y + high), (x + wide, y)], LINES);
}

/// How high the floor and what stands around it are.
pub(super) fn floor_high(one: &Floor<'_>, scale: Scale) -> i64 {
    scale.of(one.inside[0]) + 3 * AROUND + 10
}

/// Numbers that have no room in their bundles, in a column beside the wall, each with a line to its bundle.
fn beside(svg: &mut Svg, mut all: Vec<(usize, (i64, i64))>, wall: i64) {
    let size = NUMBER[0];
    all.sort_by_key(|(_, (_, y))| *y);
    // Of bundles abreast the nearest to the wall comes first, so that no line crosses another.
    for abreast in all.chunk_by_mut(|(_, one), (_, next)| next.1 - one.1 < size / 2) {
        abreast.sort_by_key(|(_, (x, _))| -x);
    }
    let mut free = i64::MIN;
    for (number, (x, y)) in all {
        let at = y.max(free);
        free = at + size * 11 / 10;
        svg.line(&[(wall + 10, at), (x, y)], HATCH);
        let number = number.to_string();
        svg.label(Label::new(wall + 12, at + size * 36 / 100, size, &number).bold().number());
    }
}

/// A bundle's number, then along its longer side its length and its distance from front and left wall. Whether
/// these had room; `None` where the number had none.
fn inside(
    svg: &mut Svg,
    (number, digits): (usize, &str),
    piece: &Piece<'_>,
    [x, y]: [i64; 2],
    [wide_, high]: [i64; 2],
) -> Option<bool> {
    const AIR: i64 = 6;
    let number = number.to_string();
    let is_upright = high >= wide_;
    let short = wide_.min(high) - 2 * AIR;
    let size = fitting(digits, NUMBER[1].min(wide_.min(high) * 9 / 10), short + AIR, true).max(1);
    if size < NUMBER[0] {
        return None;
    }
    let own = wide(&number, size, true);
    let (cx, cy) = (x + wide_ / 2, y + high / 2);
    if is_upright {
        let at = Label::new(cx, y + high - AIR - size / 8, size, &number);
        svg.label(at.bold().to(To::Middle).number());
    } else {
        svg.label(Label::new(x + AIR, cy + size * 36 / 100, size, &number).bold().number());
    }
    let words = measures(piece, svg.units);
    let (taken, long) = if is_upright { (size, high) } else { (own, wide_) };
    let room = long - taken - 4 * AIR;
    let size = fitting(&words, MEASURES[1].min(size * 9 / 10), room, false);
    if size < MEASURES[0] {
        return Some(false);
    }
    if is_upright {
        let at = Label::new(cx + size * 36 / 100, y + AIR + room / 2, size, &words);
        svg.label(at.to(To::Middle).turned());
    } else {
        let at = Label::new(x + taken + 3 * AIR, cy + size * 36 / 100, size, &words);
        svg.label(at);
    }
    Some(true)
}

fn measures(piece: &Piece<'_>, units: Units) -> String {
    let mm = |mm: i64| Length::whole_mm(mm).figure(units);
    let (front, left) = piece.at.unwrap_or_default();
    let long = piece.size[usize::from(piece.turned)];
    format!("{} long, front {}, left {}", mm(long), mm(front), mm(left))
}

/// The view from the left side: the front on the left, the floor below. Returns where the next thing begins.
pub(super) fn side(svg: &mut Svg, one: &Floor<'_>, scale: Scale, at: [i64; 2]) -> i64 {
    let [length, _, height] = one.inside;
    let seen = |piece: &Piece<'_>| piece.extent().map(|[along, _]| along);
    let centre = one.centre.map(|[along, _, up]| [along, up]);
    let names = ["SIDE", "front", "doors"];
    upright(svg, one, names, (scale, [length, height]), at, (&seen, centre))
}

/// The view from the open doors: the left wall on the left, the floor below. Returns where the next thing begins.
pub(super) fn end(svg: &mut Svg, one: &Floor<'_>, scale: Scale, at: [i64; 2]) -> i64 {
    let [_, width, height] = one.inside;
    let seen = |piece: &Piece<'_>| piece.extent().map(|[_, across]| across);
    let centre = one.centre.map(|[_, across, up]| [across, up]);
    let names = ["FROM THE DOORS", "left", "right"];
    upright(svg, one, names, (scale, [width, height]), at, (&seen, centre))
}

type Seen<'s> = &'s dyn Fn(&Piece<'_>) -> Option<(i64, i64)>;

fn upright(
    svg: &mut Svg,
    one: &Floor<'_>,
    [name, near, far]: [&str; 3],
    (scale, [breadth, height]): (Scale, [i64; 2]),
    [left, top]: [i64; 2],
    (seen, centre): (Seen<'_>, Option<[i64; 2]>),
) -> i64 {
    let [breadth, height] = [breadth, height].map(|mm| scale.of(mm));
    let (x0, y0) = (left + AROUND, top + AROUND);
    svg.group(if name == "SIDE" { "side" } else { "end" });
    svg.label(Label::new(x0, top + NAME, NAME, name).bold());
    svg.rect([x0, y0, breadth, height], WALL);
    if name == "SIDE" {
        let ends = one.blocking.iter().filter(|one| one.part != BlockingPart::Side);
        for one in ends {
            let [(from, to), _] = one.place;
            let up = scale.of(one.up);
            let wide = scale.of(to) - scale.of(from);
            timber(svg, one.part, [x0 + scale.of(from), y0 + height - up, wide, up]);
        }
    }
    let mut fields = Vec::new();
    for piece in &one.pieces {
        let Some((from, to)) = seen(piece) else { continue };
        let tall = scale.of(piece.size[2]);
        let field = [x0 + scale.of(from), y0 + height - tall, scale.of(to - from), tall];
        svg.rect(field, LINES);
        fields.push(field);
    }
    match numbers(&fields) {
        Some((size, places)) => {
            for (index, (x, y)) in places.into_iter().enumerate() {
                let number = (index + 1).to_string();
                svg.label(Label::new(x, y + size * 82 / 100, size, &number).bold().number());
            }
        }
        None => {
            let words = "numbers: see the floor";
            let label = Label::new(x0 + breadth, top + NAME, NAME * 3 / 4, words);
            svg.label(label.to(To::End));
        }
    }
    if let Some([across, up]) = centre {
        svg.mark((x0 - MARK, y0 + height - scale.of(up)));
        svg.mark((x0 + scale.of(across), y0 + height + MARK));
    }
    let below = y0 + height + 14 + NAME;
    svg.label(Label::new(x0, below, NAME, near));
    svg.label(Label::new(x0 + breadth, below, NAME, far).to(To::End));
    svg.end();
    below + 20
}

/// Where numbers stand in fields that hide each other, each in its own and none on another: the first place of it, in
/// the order of reading, that is free; and the largest letters at which each has one. `None` where they have no room.
fn numbers(fields: &[[i64; 4]]) -> Option<(i64, Vec<(i64, i64)>)> {
    let sizes = |most: i64| (NUMBER[0]..=most).rev().step_by(3);
    let inside = |size: i64| Some((size, at_size(fields, size, false)?));
    // Where a field is narrower than a number that is read from afar, the number stands over its edges.
    let over = |size: i64| Some((size, at_size(fields, size, true)?));
    sizes(71).find_map(inside).or_else(|| sizes(44).find_map(over))
}

fn at_size(fields: &[[i64; 4]], size: i64, over: bool) -> Option<Vec<(i64, i64)>> {
    const AIR: i64 = 5;
    let mut taken: Vec<[i64; 4]> = Vec::new();
    let top = fields.iter().map(|[_, y, ..]| *y).min()?;
    for (index, [x, y, breadth, height]) in fields.iter().enumerate() {
        let own = wide(&(index + 1).to_string(), size, true);
        let spare = breadth - own - 2 * AIR;
        if spare < 0 && !over {
            return None;
        }
        // A narrow field has its numbers in its middle.
        let between = size / 3;
        let (columns, first) = match spare / (own + between) {
            ..1 => (0, x + (breadth - own) / 2),
            many => (many, x + AIR),
        };
        // Rows of numbers are level over all fields; one may begin a little above its own.
        let above = (y - top - size / 4).max(0);
        let rows = [(above + size - 1) / size, (y + height - top - size) / size];
        let is_free = |place: &[i64; 4]| {
            !taken.iter().any(|other| {
                let apart = |at: usize, long: usize| {
                    place[at] + place[long] <= other[at] || other[at] + other[long] <= place[at]
                };
                !apart(0, 2) && !apart(1, 3)
            })
        };
        let place = (rows[0]..=rows[1].max(rows[0])).find_map(|row| {
            let place = |column: i64| {
                [first + column * (own + between), top + AIR + row * size, own + AIR, size]
            };
            (0..=columns).map(place).find(is_free)
        })?;
        taken.push(place);
    }
    Some(taken.into_iter().map(|[x, y, ..]| (x, y)).collect())
}
