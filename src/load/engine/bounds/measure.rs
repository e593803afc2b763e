//! Necessary conditions of one box that are sums over its pieces.
//!
//! Each measure gives every piece a whole number and every kind of box a capacity, and no
//! admissible load measures more than the capacity. Bounds, pricing and the certificate's
//! checker all build on these few arguments.

use std::cmp::Ordering;

use num_integer::Integer;

use super::cutting_stock::{self, Bar, most};
use crate::load::engine::model::problem::{BoxKind, Piece};

/// One argument.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measure {
    /// Grams against the payload (and against the line load over the whole floor).
    Mass,
    /// Square millimetres of floor.
    Area,
    /// Widths of the bundles longer than 1/(n+1) of the floor, of which no more than n stand
    /// one behind the other; exact shares count fully (the dual feasible function u(n)).
    Lengths(i64),
    /// Area, but bundles that leave behind them less than this length take the floor's whole
    /// length, and shorter ones than it nothing: of those that one line along the floor
    /// crosses, either one leaves less and all others are shorter, or they count as they are.
    Longer(i64),
    /// [`Measure::Lengths`] with the floor's length and width changed over.
    Widths(i64),
    /// [`Measure::Lengths`] with what a bundle presses on a length of floor in the place of its
    /// width, and the line load in the place of the floor's: lines along the floor that each
    /// bear a share of it are crossed by bundles one behind the other.
    LineLengths(i64),
    /// [`Measure::Longer`] in the same way.
    LineLonger(i64),
    /// Widths, each times how many steps of this length the bundle takes of those the floor has
    /// (see `steps`): it counts what is lost where nothing useful stands before or behind.
    Steps(i64),
    /// [`Measure::Steps`] with the floor's length and width changed over.
    WideSteps(i64),
    /// [`Measure::Steps`] with pressures in the place of widths.
    LineSteps(i64),
    /// Widths, each times what its length is worth along the floor (bars.rs says how).
    Bars(Vec<Bar>),
    /// [`Measure::Bars`] with pressures in the place of widths.
    LineBars(Vec<Bar>),
    /// A half plane, each piece standing where it hurts least.
    Plane(usize),
}

impl Measure {
    /// What the piece weighs under this measure in that kind of box.
    pub fn weigh(&self, kind: &BoxKind, piece: &Piece) -> i128 {
        let either = |measure: &dyn Fn(i64, i64) -> i128| {
            let straight = measure(piece.length, piece.width);
            if piece.may_turn { straight.min(measure(piece.width, piece.length)) } else { straight }
        };
        match *self {
            Measure::Mass => i128::from(piece.mass),
            Measure::Area => i128::from(piece.length) * i128::from(piece.width),
            Measure::Lengths(parts) => {
                let floor = kind.floor_length();
                either(&|length, width| share(length, floor, parts) * i128::from(width))
            }
            Measure::Longer(least) => {
                let floor = kind.floor_length();
                either(&|length, width| whole_or_none(length, floor, least) * i128::from(width))
            }
            Measure::Widths(parts) => {
                let floor = kind.floor_width();
                either(&|length, width| share(width, floor, parts) * i128::from(length))
            }
            Measure::LineLengths(parts) => {
                let floor = kind.floor_length();
                either(&|length, _| share(length, floor, parts) * pressure(kind, piece, length))
            }
            Measure::LineLonger(least) => {
                let floor = kind.floor_length();
                either(&|length, _| {
                    whole_or_none(length, floor, least) * pressure(kind, piece, length)
                })
            }
            Measure::Steps(step) => {
                let floor = kind.floor_length();
                either(&|length, width| i128::from(steps(length, floor, step) * width))
            }
            Measure::WideSteps(step) => {
                let floor = kind.floor_width();
                either(&|length, width| i128::from(steps(width, floor, step) * length))
            }
            Measure::LineSteps(step) => {
                let floor = kind.floor_length();
                either(&|length, _| {
                    i128::from(steps(length, floor, step)) * pressure(kind, piece, length)
                })
            }
            Measure::Bars(ref bars) => i128::from(bar_value(bars, piece)) * i128::from(piece.width),
            Measure::LineBars(ref bars) => {
                i128::from(bar_value(bars, piece)) * pressure(kind, piece, piece.length)
            }
            Measure::Plane(index) => kind.limits.get(index).map_or(0, |plane| {
                let least = |factor: i64, extent: i64, own: i64, gap: i64| {
                    let centre = if factor > 0 { 2 * gap + own } else { 2 * (extent - gap) - own };
                    i128::from(factor) * i128::from(centre)
                };
                either(&|length, width| {
                    let x = least(plane.moment_x_coefficient, kind.length, length, kind.gap_end);
                    let y = least(plane.moment_y_coefficient, kind.width, width, kind.gap_side);
                    (2 * i128::from(plane.mass_coefficient) + x + y) * i128::from(piece.mass)
                })
            }),
        }
    }

    /// The most that such a box may hold of it.
    pub fn capacity(&self, kind: &BoxKind) -> i128 {
        let (length, width) = (i128::from(kind.floor_length()), i128::from(kind.floor_width()));
        match *self {
            Measure::Mass => {
                let line = kind
                    .line_load
                    .map(|line| i128::from(line.mass) * length / i128::from(line.per_length));
                let own = i128::from(kind.payload).min(mass_by_planes(kind));
                line.map_or(own, |line| own.min(line))
            }
            Measure::Area | Measure::Longer(_) => length * width,
            Measure::Lengths(parts) | Measure::Widths(parts) => i128::from(parts) * length * width,
            Measure::LineLengths(parts) => i128::from(parts) * length * bearing(kind),
            Measure::LineLonger(_) => length * bearing(kind),
            Measure::Steps(step) => i128::from(2 * (kind.floor_length() / step)) * width,
            Measure::WideSteps(step) => i128::from(2 * (kind.floor_width() / step)) * length,
            Measure::LineSteps(step) => {
                i128::from(2 * (kind.floor_length() / step)) * bearing(kind)
            }
            Measure::Bars(ref bars) => i128::from(most(kind.floor_length(), bars)) * width,
            Measure::LineBars(ref bars) => {
                i128::from(most(kind.floor_length(), bars)) * bearing(kind)
            }
            Measure::Plane(index) => kind.limits.get(index).map_or(0, |plane| 2 * plane.bound),
        }
    }
}

/// Most measures of the form [`Measure::Longer`] for one kind.
const LONGER: usize = 6;

/// Every measure that may tell something of `pieces` in boxes of a kind; mass first.
pub(crate) fn measures(kind: &BoxKind, pieces: &[Piece]) -> Vec<Measure> {
    let floor = kind.floor_length();
    // A least length matters where a piece is just as long, or just leaves less.
    let mut least: Vec<i64> = pieces
        .iter()
        .map(|piece| piece.length.min(floor - piece.length + 1))
        .filter(|&least| least > 0 && 2 * least <= floor)
        .collect();
    least.sort_unstable();
    least.dedup();
    let few: Vec<i64> = (0..LONGER.min(least.len()))
        .map(|rank| {
            let last = LONGER.min(least.len()).max(2) - 1;
            least[rank * (least.len() - 1) / last]
        })
        .collect();
    let mut listed = vec![Measure::Mass, Measure::Area];
    listed.extend((1..=5).map(Measure::Lengths));
    listed.extend((1..=5).map(Measure::Widths));
    listed.extend(few.iter().map(|&least| Measure::Longer(least)));
    let lengths = |piece: &Piece| piece.length;
    let widths = |piece: &Piece| piece.width;
    listed.extend(telling(kind, pieces, floor, &lengths, &Measure::Steps));
    listed.extend(telling(kind, pieces, kind.floor_width(), &widths, &Measure::WideSteps));
    if kind.line_load.is_some() {
        listed.extend((1..=5).map(Measure::LineLengths));
        listed.extend(few.iter().map(|&least| Measure::LineLonger(least)));
        listed.extend(telling(kind, pieces, floor, &lengths, &Measure::LineSteps));
    }
    listed.extend((0..kind.limits.len()).map(Measure::Plane));
    listed
}

/// Most measures of one form by steps for one kind.
const STEPS: usize = 6;
/// The most steps that a floor is divided into.
const DIVISIONS: i64 = 5;
/// Steps that are tried for being telling.
const TRIED: usize = 400;

/// The measures by steps under which all pieces together weigh most of a box's capacity.
fn telling(
    kind: &BoxKind,
    pieces: &[Piece],
    floor: i64,
    of: &dyn Fn(&Piece) -> i64,
    measure: &dyn Fn(i64) -> Measure,
) -> Vec<Measure> {
    // Counts change where a piece, or what it leaves, is a whole number of steps.
    let mut tried: Vec<i64> = pieces
        .iter()
        .flat_map(|piece| {
            let own = of(piece);
            (1..=DIVISIONS).flat_map(move |parts| [own / parts, (floor - own) / parts + 1])
        })
        .filter(|&step| step > floor / (DIVISIONS + 1) && 2 * step <= floor)
        .collect();
    tried.sort_unstable();
    tried.dedup();
    let skip = tried.len().div_ceil(TRIED).max(1);
    let mut ranked: Vec<(i128, Measure)> = tried
        .into_iter()
        .step_by(skip)
        .map(|step| {
            let measure = measure(step);
            let total: i128 = pieces.iter().map(|piece| measure.weigh(kind, piece)).sum();
            (total * 1_000_000 / measure.capacity(kind).max(1), measure)
        })
        .collect();
    ranked.sort_by(|a, b| b.cmp(a));
    ranked.dedup_by_key(|entry| entry.0);
    ranked.into_iter().take(STEPS).map(|(_, measure)| measure).collect()
}

/// What a piece's length is worth; nothing where it may turn, or is not among them.
fn bar_value(bars: &[Bar], piece: &Piece) -> i64 {
    let own = bars.iter().find(|bar| bar.0 == piece.length && !piece.may_turn);
    own.map_or(0, |bar| bar.2)
}

/// Sets of more pieces do without bars.
const BARRED: usize = 64;

/// The measures by bars, where all pieces nearly fill the least number of such boxes that might
/// hold them: there it matters what is lost where nothing fits behind.
pub(crate) fn bars(kind: &BoxKind, pieces: &[Piece]) -> Vec<Measure> {
    let mut listed = Vec::new();
    if pieces.len() > BARRED || pieces.iter().any(|piece| piece.may_turn) {
        return listed;
    }
    let floor = kind.floor_length();
    let mut ask = |share: &dyn Fn(&Piece) -> i128, room: i128, measure: fn(Vec<Bar>) -> Measure| {
        let total: i128 = pieces.iter().map(|piece| share(piece) * i128::from(piece.length)).sum();
        let room = (room * i128::from(floor)).max(1);
        let boxes = Integer::div_ceil(&total, &room);
        if 100 * total < 85 * boxes * room {
            return;
        }
        let scale = pieces.iter().map(share).max().unwrap_or(0) / (1 << 20) + 1;
        let narrow =
            |piece: &Piece| (piece.length, i64::try_from(share(piece) / scale).unwrap_or(0));
        let bundles: Vec<(i64, i64)> = pieces.iter().map(narrow).collect();
        listed.push(measure(cutting_stock::telling(floor, &bundles)));
    };
    ask(&|piece| i128::from(piece.width), i128::from(kind.floor_width()), Measure::Bars);
    if kind.line_load.is_some() {
        let share = |piece: &Piece| pressure(kind, piece, piece.length);
        ask(&share, bearing(kind), Measure::LineBars);
    }
    listed
}

/// All measures of each kind; kinds with the same floor share those by bars.
pub(crate) fn all_measures(kinds: &[BoxKind], pieces: &[Piece]) -> Vec<Vec<Measure>> {
    let floor = |kind: &BoxKind| (kind.floor_length(), kind.floor_width(), kind.line_load);
    let mut barred: Vec<Vec<Measure>> = Vec::new();
    for (at, kind) in kinds.iter().enumerate() {
        let known = (0..at).find(|&other| floor(&kinds[other]) == floor(kind));
        barred.push(known.map_or_else(|| bars(kind, pieces), |other| barred[other].clone()));
    }
    let both = |(kind, bars): (&BoxKind, Vec<Measure>)| {
        measures(kind, pieces).into_iter().chain(bars).collect()
    };
    kinds.iter().zip(barred).map(both).collect()
}

/// Fixed-point scale of pressures.
const PRESSURE: i128 = 1 << 10;

/// What a piece presses on the line load's length of floor where it covers `length` of it,
/// scaled and rounded down: the sum of all pressures at a station is no less than theirs.
fn pressure(kind: &BoxKind, piece: &Piece, length: i64) -> i128 {
    let per = kind.line_load.map_or(0, |line| i128::from(line.per_length));
    i128::from(piece.mass) * per * PRESSURE / i128::from(length.max(1))
}

/// The most pressure at a station.
fn bearing(kind: &BoxKind) -> i128 {
    kind.line_load.map_or(0, |line| i128::from(line.mass) * PRESSURE)
}

/// The length, or all of the floor's where less than `least` is left, or none where it is less
/// itself.
fn whole_or_none(length: i64, floor: i64, least: i64) -> i128 {
    let counted = if length > floor - least {
        floor
    } else if length < least {
        0
    } else {
        length
    };
    i128::from(counted)
}

/// How many half steps of the floor a piece takes, of twice the steps the floor has: a short one
/// the whole steps it has, a long one all but the whole steps it leaves, half the floor one half
/// of them (a dual feasible function of Carlier, Clautiaux and Moukrim). One long piece and
/// shorter ones behind it, which have no more whole steps than it leaves, take no more than
/// there are; nor do pieces of half the floor and less.
fn steps(own: i64, floor: i64, step: i64) -> i64 {
    match (2 * own).cmp(&floor) {
        Ordering::Less => 2 * (own / step),
        Ordering::Equal => floor / step,
        Ordering::Greater => 2 * (floor / step - (floor - own).max(0) / step),
    }
}

/// u(n) of `own / floor`, scaled by `n * floor`: the identity at exact shares of 1/(n+1),
/// otherwise whole n-ths.
fn share(own: i64, floor: i64, parts: i64) -> i128 {
    let scaled = i128::from(own) * i128::from(parts + 1);
    let floor = i128::from(floor);
    if scaled % floor == 0 { i128::from(own) * i128::from(parts) } else { scaled / floor * floor }
}

/// The most mass that half planes alone allow, wherever the moment lies: two of them with
/// moment factors of opposite sign, added so that the moment vanishes, or one without moment.
fn mass_by_planes(kind: &BoxKind) -> i128 {
    let mut most = i128::MAX;
    let mut meet = |factor: i128, bound: i128| {
        if factor > 0 {
            most = most.min(bound.div_euclid(factor).max(0));
        }
    };
    for one in &kind.limits {
        let (x, y) = (i128::from(one.moment_x_coefficient), i128::from(one.moment_y_coefficient));
        if x == 0 && y == 0 {
            meet(i128::from(one.mass_coefficient), one.bound);
        }
        for other in &kind.limits {
            let (u, v) =
                (i128::from(other.moment_x_coefficient), i128::from(other.moment_y_coefficient));
            let (up, down) = if y == 0 && v == 0 { (x, u) } else { (y, v) };
            let flat = (y == 0 && v == 0) || (x == 0 && u == 0);
            if flat && up > 0 && down < 0 {
                let factor = i128::from(one.mass_coefficient) * -down
                    + i128::from(other.mass_coefficient) * up;
                let both = one
                    .bound
                    .checked_mul(-down)
                    .zip(other.bound.checked_mul(up))
                    .and_then(|(a, b)| a.checked_add(b));
                if let Some(bound) = both {
                    meet(factor, bound);
                }
            }
        }
    }
    most
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::problem::{HalfPlane, LineLoad};
    use crate::load::engine::testing::{box_kind, piece};

    #[test]
    fn lengths_count_what_cannot_stand_behind_each_other() {
        let kind = box_kind(1, 5898, 2352, 1);
        // 2970 > 5898/2: its whole width counts; 2940 does not count at all; 2949 counts half.
        let cap = Measure::Lengths(1).capacity(&kind);
        assert_eq!(cap, 5898 * 2352);
        assert_eq!(Measure::Lengths(1).weigh(&kind, &piece(1, 2970, 300)), 5898 * 300);
        assert_eq!(Measure::Lengths(1).weigh(&kind, &piece(1, 2940, 300)), 0);
        assert_eq!(Measure::Lengths(1).weigh(&kind, &piece(1, 2949, 300)), 2949 * 300);
    }

    #[test]
    fn a_bundle_that_leaves_too_little_takes_the_whole_length() {
        let kind = box_kind(1, 100, 10, 1);
        let longer = Measure::Longer(30);
        assert_eq!(longer.capacity(&kind), 1000);
        let weigh = |length| longer.weigh(&kind, &piece(1, length, 2));
        assert_eq!([weigh(29), weigh(30), weigh(70), weigh(71)], [0, 60, 140, 200]);
        // Whatever stands one behind the other counts no more than the floor's length.
        for one in 1..=100 {
            for two in 1..=100 - one {
                let three = 100 - one - two;
                assert!(weigh(one) + weigh(two) + weigh(three) <= 200, "{one} {two} {three}");
            }
        }
        let pieces = [piece(1, 29, 2), piece(1, 71, 2), piece(1, 40, 2)];
        let listed = measures(&kind, &pieces);
        for least in [29, 30, 40] {
            assert!(listed.contains(&Measure::Longer(least)));
        }
    }

    #[test]
    fn steps_of_what_stands_one_behind_the_other_are_no_more_than_the_floor_has() {
        for floor in 6..=24 {
            for step in 1..=floor / 2 {
                let most = 2 * (floor / step);
                let own = |length| steps(length, floor, step);
                for one in 1..=floor {
                    assert!(own(one) <= most && own(one) + own(floor - one) <= most);
                    for two in 1..=floor - one {
                        for three in 0..=floor - one - two {
                            let four = floor - one - two - three;
                            assert!(own(one) + own(two) + own(three) + own(four) <= most);
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn the_telling_step_is_the_one_that_nothing_fits_behind() {
        // 60 and 45 go behind none but 40 and shorter: both count where a step is 41 to 45.
        let kind = box_kind(1, 100, 10, 1);
        let pieces = [piece(1, 60, 5), piece(1, 45, 6), piece(1, 56, 4)];
        let total = |measure: &Measure| -> i128 {
            pieces.iter().map(|piece| measure.weigh(&kind, piece)).sum()
        };
        let listed = measures(&kind, &pieces);
        let steps = listed.iter().filter(|measure| matches!(measure, Measure::Steps(_)));
        let most = steps.map(|m| (total(m) * 100 / m.capacity(&kind), (*m).clone())).max().unwrap();
        // 4 * 5 + 2 * 6 + 4 * 4 of 40.
        assert_eq!(most, (120, Measure::Steps(45)));
    }

    #[test]
    fn two_deep_each_half_of_a_box_bears_one_line_load() {
        // 4500 kg/m on 5898 mm: of bundles of 2.2 m no three stand one behind the other, so all
        // of them press no more than twice 4500 kg/m. Six of 3.3 t press 1.5 t/m each, just
        // that; a seventh is too much, though 23.1 t are less than 4.5 t/m times 5.898 m.
        let mut kind = box_kind(30_000_000, 5898, 2352, 1);
        kind.line_load = Some(LineLoad { mass: 4_500_000, per_length: 1000 });
        let bundle = piece(3_300_000, 2200, 300);
        let measure = Measure::LineLengths(2);
        assert_eq!(6 * measure.weigh(&kind, &bundle), measure.capacity(&kind));
        assert!(Measure::Mass.capacity(&kind) > 7 * 3_300_000);
        // One that leaves less than 2.2 m counts on the whole length.
        let long = piece(3_300_000, 3699, 300);
        let longer = Measure::LineLonger(2200);
        let pressure = 3_300_000 * 1000 * 1024 / 3699;
        assert_eq!(longer.weigh(&kind, &long), 5898 * pressure);
        assert_eq!(longer.weigh(&kind, &piece(1, 2199, 1)), 0);
        assert!(measures(&kind, &[bundle]).contains(&measure));
        kind.line_load = None;
        assert!(!measures(&kind, &[piece(1, 2200, 1)]).contains(&measure));
    }

    #[test]
    fn axle_limits_before_and_behind_cap_the_mass() {
        let mut kind = box_kind(10_000, 6000, 2000, 1);
        // Supports at the two ends bear at most 3000 and 4000: M - Mx/L <= 3000, Mx/L <= 4000.
        let plane = |mass, x, bound| HalfPlane {
            mass_coefficient: mass,
            moment_x_coefficient: x,
            moment_y_coefficient: 0,
            bound,
        };
        kind.limits = vec![plane(6000, -1, 6000 * 3000), plane(0, 1, 6000 * 4000)];
        assert_eq!(Measure::Mass.capacity(&kind), 7000);
        kind.line_load = Some(LineLoad { mass: 1, per_length: 1 });
        assert_eq!(Measure::Mass.capacity(&kind), 6000);
        // The front support: a piece hurts least at the rear end, centre 6000 - 500.
        assert_eq!(Measure::Plane(0).weigh(&kind, &piece(10, 1000, 1)), (12_000 - 11_000) * 10);
    }
}
