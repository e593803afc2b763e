//! The preference among places: which of two ways to stand in one box a foreman would rather build.
//!
//! It is a list of whole numbers, worked out from any places, and compared from its first number on;
//! less is better. Most are steps, so that no millimetre outvotes the next line of the list. It moves
//! neither cost nor bound, and a limit is none of it: it chooses among places that hold.

use std::cmp::Ordering;

use super::model::deck::{LINE_SCALE, line_share};
use super::model::entry::Rectangle;
use super::model::problem::{BoxKind, Piece, Placed};
use super::model::validate::MASS_LIMIT;

/// Use of the floor below which all places are alike, in thousandths.
const EASY: i64 = 800;
/// A step of use above it, in thousandths.
const STRAIN_STEP: i64 = 50;
/// A step of void, mm.
const VOID_STEP: i64 = 50;
/// A step of the centre of gravity off the middle, mm.
const OFF_STEP: i64 = 10;
/// A step of mass above the mean, grams (a choice of ours, as all steps are): far less than a bundle.
const SPARE_STEP: i64 = 250_000;

/// What the preference asks of a box beside its limits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rating {
    /// The payload of the plate, grams: spread evenly over the length it bends the box as much as is
    /// allowed.
    pub payload: i64,
    /// The push sideways in thousandths of the weight, under which a bundle should stand.
    pub sideways: i64,
}

/// The figures of the preference, exact; [`list`](Preference::list) has their steps.
#[derive(Clone, Debug)]
pub struct Preference {
    /// Bundles that tip sideways, each alone: nothing says which are tied.
    pub tipping: i64,
    /// The worst line load, in thousandths of its limit; none where the floor has no limit.
    pub line: i64,
    /// The worst bending lengthwise, in thousandths of what the payload spread evenly brings.
    pub bending: i64,
    /// Millimetres to fill, between neighbours and to the walls.
    pub void: i64,
    /// How far the centre of gravity lies off the middle, along and across, mm.
    pub off: [i64; 2],
    /// How many bundles stand abreast in each row, from the front end on.
    pub rows: Vec<i64>,
    /// Pairs that stand in another order than in the packing list, row by row from the left.
    pub disorder: i64,
}

impl Preference {
    /// The figures of places in a box of that kind. Places may break any rule.
    pub fn of(kind: &BoxKind, rating: Rating, pieces: &[Piece], places: &[Placed]) -> Self {
        let stood: Vec<Stood> = places.iter().map(|place| Stood::of(pieces, place)).collect();
        let floor: Vec<[i64; 3]> =
            stood.iter().map(|one| [one.at[0], one.at[1], one.sides[0]]).collect();
        let rows = rows(&floor);
        let count = |row: &Vec<usize>| i64::try_from(row.len()).unwrap_or(i64::MAX);
        Preference {
            tipping: count_of(&stood, |one| one.sides[1] * 1000 < rating.sideways * one.height),
            line: line(kind, &stood),
            bending: bending(kind.length, rating.payload, &stood),
            void: void([kind.length, kind.width], &stood),
            off: off([kind.length, kind.width], &stood),
            disorder: disorder(&stood, &rows),
            rows: rows.iter().map(count).collect(),
        }
    }

    /// The list that is compared: bundles that tip, the strain of the floor, the void, the centre of
    /// gravity off the middle, rows of unlike number, and what stands out of the packing list's order.
    pub fn list(&self) -> [i64; 6] {
        let over = (self.line.max(self.bending) - EASY).max(0);
        let [along, across] = self.off;
        let (most, least) = (self.rows.iter().max(), self.rows.iter().min());
        [
            self.tipping,
            (over + STRAIN_STEP - 1) / STRAIN_STEP,
            self.void / VOID_STEP,
            along / OFF_STEP + across / OFF_STEP,
            most.zip(least).map_or(0, |(most, least)| most - least),
            self.disorder,
        ]
    }
}

/// The list that is compared of ways to share pieces among boxes of one kind, from the list and the mass of each
/// box: bundles that tip, how unevenly the spare payload is spread, then the rest of the boxes' lists, added up. What
/// is even comes before the strain of the floor: the heaviest box strains it most.
pub(super) fn shared(boxes: &[([i64; 6], i64)]) -> [i64; 7] {
    let masses: Vec<i64> = boxes.iter().map(|(_, mass)| *mass).collect();
    let sum = |at: usize| boxes.iter().fold(0, |sum: i64, (list, _)| sum.saturating_add(list[at]));
    [sum(0), uneven(&masses), sum(1), sum(2), sum(3), sum(4), sum(5)]
}

/// What boxes of one kind hold above their mean, together, in steps: nothing where the spare is spread evenly.
pub(super) fn uneven(masses: &[i64]) -> i64 {
    let count = i64::try_from(masses.len()).unwrap_or(1).max(1);
    let all: i64 = masses.iter().sum();
    let over = |mass: &i64| (count * mass - all).max(0);
    masses.iter().map(over).sum::<i64>() / (count * SPARE_STEP)
}

impl PartialEq for Preference {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Preference {}

impl PartialOrd for Preference {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// The better places are the less.
impl Ord for Preference {
    fn cmp(&self, other: &Self) -> Ordering {
        self.list().cmp(&other.list())
    }
}

/// A piece where it stands: along the box and across it.
struct Stood {
    piece: usize,
    at: [i64; 2],
    sides: [i64; 2],
    mass: i64,
    height: i64,
}

impl Stood {
    fn of(pieces: &[Piece], place: &Placed) -> Self {
        let piece = &pieces[place.piece];
        let sides = [piece.length, piece.width];
        let sides = if place.turned { [sides[1], sides[0]] } else { sides };
        // Given loads may hold anything.
        let mass = piece.mass.clamp(0, MASS_LIMIT);
        let (at, height) = ([place.x, place.y], piece.height);
        Stood { piece: place.piece, at, sides, mass, height }
    }

    fn end(&self, axis: usize) -> i64 {
        self.at[axis] + self.sides[axis]
    }

    /// What it presses on each millimetre of length, as line loads are scaled.
    fn press(&self) -> i128 {
        i128::from(line_share(self.mass, self.sides[0].max(1)))
    }

    fn rectangle(&self) -> Rectangle {
        [0, 1].map(|axis| (self.at[axis], self.end(axis)))
    }

    /// Twice its middle.
    fn middle(&self, axis: usize) -> i64 {
        2 * self.at[axis] + self.sides[axis]
    }
}

fn count_of(stood: &[Stood], is_one: impl Fn(&Stood) -> bool) -> i64 {
    i64::try_from(stood.iter().filter(|one| is_one(one)).count()).unwrap_or(i64::MAX)
}

/// The worst line load in thousandths of the limit, up.
fn line(kind: &BoxKind, stood: &[Stood]) -> i64 {
    let Some(limit) = kind.line_load else { return 0 };
    let at = |station: i64| -> i128 {
        let over = stood.iter().filter(|one| one.at[0] <= station && station < one.end(0));
        over.map(Stood::press).sum()
    };
    let worst = stood.iter().map(|one| at(one.at[0])).max().unwrap_or(0);
    let most = i128::from(limit.mass) * i128::from(LINE_SCALE);
    thousandths(worst * i128::from(limit.per_length), most)
}

/// `part / whole` in thousandths, up.
fn thousandths(part: i128, whole: i128) -> i64 {
    let whole = whole.max(1);
    i64::try_from((part * 1000 + whole - 1).div_euclid(whole)).unwrap_or(i64::MAX)
}

/// The greatest bending moment of the box, held at its two ends, in thousandths of what its payload
/// brings when it is spread evenly: P L / 8 (GDV Container Handbook, steel coils in containers, for
/// one mass in the middle; here for bundles wherever they stand).
fn bending(length: i64, payload: i64, stood: &[Stood]) -> i64 {
    let scale = i128::from(LINE_SCALE);
    let mut stations: Vec<i64> = stood.iter().flat_map(|one| [one.at[0], one.end(0)]).collect();
    stations.sort_unstable();
    stations.dedup();
    let front = |one: &Stood| i128::from(one.mass) * i128::from(2 * length - one.middle(0));
    let front: i128 = stood.iter().map(front).sum();
    // The shear, falling from what the front end bears, and the moment that it has brought so far.
    let mut shear = front * scale / i128::from(2 * length.max(1));
    let (mut moment, mut most, mut from) = (0, 0, 0);
    for to in stations {
        let over = stood.iter().filter(|one| one.at[0] <= from && to <= one.end(0));
        let press: i128 = over.map(Stood::press).sum();
        let way = i128::from(to - from);
        if shear > 0 && shear < press * way {
            most = most.max(moment + shear.saturating_mul(shear) / (2 * press));
        }
        moment += shear * way - press * way * way / 2;
        most = most.max(moment);
        shear -= press * way;
        from = to;
    }
    thousandths(8 * most, scale * i128::from(payload) * i128::from(length))
}

/// What is free before each side of a bundle, on the mean over that side: to the wall, or to other bundles,
/// and then half of it is theirs.
fn void(inside: [i64; 2], stood: &[Stood]) -> i64 {
    let rectangles: Vec<Rectangle> = stood.iter().map(Stood::rectangle).collect();
    let mut twice = 0;
    for (at, one) in rectangles.iter().enumerate() {
        for (axis, &inside) in inside.iter().enumerate() {
            let side = one[1 - axis].1 - one[1 - axis].0;
            for (far, to_wall) in [(false, one[axis].0), (true, inside - one[axis].1)] {
                let Before { between, wall } = before(&rectangles, at, axis, far);
                twice += (between + 2 * wall * to_wall) / side.max(1);
            }
        }
    }
    twice / 2
}

/// What stands before one side of a bundle.
pub struct Before {
    /// What is free to other bundles: the sum of each part of the side times its distance, in mm2.
    pub between: i64,
    /// How much of the side looks at the wall.
    pub wall: i64,
}

/// What stands before the near or the far side of a bundle.
pub fn before(all: &[Rectangle], at: usize, axis: usize, far: bool) -> Before {
    let (own, side) = (all[at][axis], all[at][1 - axis]);
    let ahead = all.iter().filter_map(|other| {
        let gap = if far { other[axis].0 - own.1 } else { own.0 - other[axis].1 };
        let (from, to) = (side.0.max(other[1 - axis].0), side.1.min(other[1 - axis].1));
        (gap >= 0 && from < to).then_some((gap, from, to))
    });
    let mut ahead: Vec<(i64, i64, i64)> = ahead.collect();
    ahead.sort_unstable();
    // The nearest hides what is behind it.
    let (mut open, mut between) = (vec![side], 0);
    for (gap, from, to) in ahead {
        let mut left = Vec::with_capacity(open.len() + 1);
        for (start, end) in open {
            between += gap * (end.min(to) - start.max(from)).max(0);
            left.extend([(start, end.min(from)), (start.max(to), end)]);
        }
        left.retain(|(start, end)| start < end);
        open = left;
    }
    Before { between, wall: open.iter().map(|(start, end)| end - start).sum() }
}

/// How far the centre of gravity lies off the middle, along and across, mm down.
fn off(inside: [i64; 2], stood: &[Stood]) -> [i64; 2] {
    let mass: i128 = stood.iter().map(|one| i128::from(one.mass)).sum();
    [0, 1].map(|axis| {
        let moment = |one: &Stood| i128::from(one.mass) * i128::from(one.middle(axis));
        let moment: i128 = stood.iter().map(moment).sum();
        let off = (moment - mass * i128::from(inside[axis])).abs() / (2 * mass).max(1);
        i64::try_from(off).unwrap_or(i64::MAX)
    })
}

/// The rows across a box, from the front on: the positions of their bundles, from the left wall on. A bundle
/// opens a row. Every other whose middle lies within its length stands in that row, so no millimetre makes
/// one. A bundle is given by its distance from the front end and from the left wall and by its length along
/// the box, in mm.
pub fn rows(floor: &[[i64; 3]]) -> Vec<Vec<usize>> {
    let middle = |[x, _, along]: [i64; 3]| 2 * x + along;
    let mut order: Vec<usize> = (0..floor.len()).collect();
    order.sort_unstable_by_key(|&at| (middle(floor[at]), floor[at][1], at));
    let mut rows: Vec<Vec<usize>> = Vec::new();
    let mut end = i64::MIN;
    for at in order {
        match rows.last_mut() {
            Some(row) if middle(floor[at]) < 2 * end => row.push(at),
            _ => {
                end = floor[at][0] + floor[at][2];
                rows.push(vec![at]);
            }
        }
    }
    for row in &mut rows {
        row.sort_unstable_by_key(|&at| (floor[at][1], floor[at][0], at));
    }
    rows
}

fn disorder(stood: &[Stood], rows: &[Vec<usize>]) -> i64 {
    let order: Vec<usize> = rows.iter().flatten().map(|&at| stood[at].piece).collect();
    let later =
        |(rank, one): (usize, &usize)| order[..rank].iter().filter(|before| *before > one).count();
    i64::try_from(order.iter().enumerate().map(later).sum::<usize>()).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::problem::LineLoad;
    use crate::load::engine::testing::{box_kind, piece};

    fn placed(all: &[(i64, i64)]) -> Vec<Placed> {
        let place = |(piece, &(x, y))| Placed { piece, x, y, turned: false };
        all.iter().enumerate().map(place).collect()
    }

    #[test]
    fn bending_of_the_published_cases() {
        // GDV Container Handbook, steel coils in containers, for a box of 12.0 m with a payload of
        // 26.7 t: 18.88 t over 6.64 m in the middle bring 40.97 tm of 40.05, in two halves at a quarter
        // and at three quarters 28.32 tm. The payload spread evenly brings just what is allowed.
        let kind = box_kind(0, 12_000, 2_330, 1);
        let rating = Rating { payload: 26_700_000, sideways: 0 };
        let bent = |pieces: &[Piece], at: &[(i64, i64)]| {
            Preference::of(&kind, rating, pieces, &placed(at)).bending
        };
        assert_eq!(bent(&[piece(18_880_000, 6_640, 100)], &[(2_680, 0)]), 1_023);
        let half = piece(9_440_000, 1_000, 100);
        assert_eq!(bent(&[half.clone(), half], &[(2_500, 0), (8_500, 0)]), 708);
        assert_eq!(bent(&[piece(26_700_000, 12_000, 100)], &[(0, 0)]), 1_000);
        // The same handbook, 6.4.1: 0.60 of the payload in the middle of a 20' box must lie on 5.867 (2 - 1 / 0.60) m,
        // 1.96; it takes 2.00.
        let twenty = box_kind(0, 5_867, 2_330, 1);
        let rating = Rating { payload: 28_230_000, sideways: 0 };
        let bent = |long: i64| {
            let one = piece(16_938_000, long, 100);
            let at = placed(&[((5_867 - long) / 2, 0)]);
            Preference::of(&twenty, rating, &[one], &at).bending
        };
        assert!(bent(2_000) <= 1_000 && bent(1_956) <= 1_001 && bent(1_940) > 1_001);
    }

    #[test]
    fn a_plain_two_by_two_is_better_than_a_brick_pattern() {
        // Four bundles of 4,200 kg and 2,860 x 426 mm in a 20' box. Two by two: 2 x 4.2 / 2.86 are
        // 2.937 t/m, 653 of 4.5 in thousandths. To fill: along, twice what two bundles leave of 5,896,
        // 2 x 176; across, in either row 2,350 - 852. As bricks three stand abreast: 4.406 t/m, 980.
        let mut kind = box_kind(0, 5_896, 2_350, 1);
        kind.line_load = Some(LineLoad { mass: 4_500_000, per_length: 1_000 });
        let rating = Rating { payload: 28_230_000, sideways: 500 };
        let pieces = vec![Piece { height: 2_000, ..piece(4_200_000, 2_860, 426) }; 4];
        let of = |at: &[(i64, i64)]| Preference::of(&kind, rating, &pieces, &placed(at));
        let plain = of(&[(88, 749), (88, 1_175), (2_948, 749), (2_948, 1_175)]);
        assert_eq!((plain.tipping, plain.line, plain.void), (4, 653, 2 * 176 + 2 * 1_498));
        assert_eq!((plain.off, &plain.rows[..], plain.disorder), ([0, 0], &[2, 2][..], 0));
        assert_eq!(plain.list(), [4, 0, 66, 0, 0, 0]);
        let bricks = of(&[(88, 643), (1_518, 1_069), (1_518, 1_495), (2_948, 643)]);
        assert_eq!((bricks.line, bricks.list()[1]), (980, 4));
        assert!(plain < bricks);
    }

    #[test]
    fn millimetres_make_no_row_and_decide_nothing() {
        // Three lanes of two, each a little shorter than the one before.
        let floor = [[0, 0, 2_840], [2_840, 0, 2_840], [0, 400, 2_830], [2_830, 400, 2_840]];
        let more = [[3, 800, 2_835], [2_838, 800, 2_835]];
        let floor: Vec<[i64; 3]> = floor.into_iter().chain(more).collect();
        assert_eq!(rows(&floor), vec![vec![0, 2, 4], vec![1, 3, 5]]);
        // A bundle between two others: both of its gaps count once; 9 mm off the middle are none.
        let kind = box_kind(0, 1_000, 100, 1);
        let rating = Rating { payload: 1_000, sideways: 0 };
        let pieces = vec![piece(10, 200, 100); 3];
        let own = Preference::of(&kind, rating, &pieces, &placed(&[(0, 0), (327, 0), (800, 0)]));
        assert_eq!((own.void, own.off, own.list()[3]), (127 + 273, [24, 0], 2));
        assert_eq!(own.rows, vec![1, 1, 1]);
    }
}
