//! Measures: necessary conditions of one box that are sums over its pieces.
//!
//! Each measure gives every piece a whole number and every kind of box a capacity, and no
//! admissible load measures more than the capacity. Most are a dual feasible function of the sides
//! in one direction. Bounds, pricing and the certificate's checker all build on these few
//! arguments.

use num_integer::Integer;

use super::cutting_stock;
use super::dual_feasible::Function;
use crate::load::engine::model::problem::{BoxKind, Piece, Problem};
use crate::load::engine::model::rows::Condition;

/// One argument.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Measure {
    /// Grams against the most cargo.
    Mass,
    /// A dual feasible function of the sides in one direction, times what lies across it.
    Lines(Direction, Function),
    /// A half plane, each piece standing where it hurts least.
    Plane(usize),
}

/// The lines that cross the floor, and the side of a bundle that they cross.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Direction {
    /// Lines along the box: lengths, times widths.
    Along,
    /// Lines across it: widths, times lengths.
    Across,
    /// Lines along the box that each bear a share of the line load: lengths, times what a bundle
    /// presses on a length of floor.
    Pressing,
}

impl Measure {
    /// What the piece weighs under this measure in that kind of box: the lighter way round.
    pub(crate) fn weigh(&self, kind: &BoxKind, piece: &Piece) -> i128 {
        let straight = self.weigh_so(kind, piece, piece.length, piece.width);
        if piece.may_turn {
            straight.min(self.weigh_so(kind, piece, piece.width, piece.length))
        } else {
            straight
        }
    }

    /// The same for one that covers `length` and `width` of the floor.
    fn weigh_so(&self, kind: &BoxKind, piece: &Piece, length: i64, width: i64) -> i128 {
        match self {
            Measure::Mass => i128::from(piece.mass),
            Measure::Lines(Direction::Along, function) => {
                function.of(length, kind.floor_length()) * i128::from(width)
            }
            Measure::Lines(Direction::Across, function) => {
                function.of(width, kind.floor_width()) * i128::from(length)
            }
            Measure::Lines(Direction::Pressing, function) => {
                function.of(length, kind.floor_length()) * pressure(kind, piece, length)
            }
            Measure::Plane(index) => kind.limits.get(*index).map_or(0, |plane| {
                let least = |factor: i64, extent: i64, own: i64, gap: i64| {
                    let centre = if factor > 0 { 2 * gap + own } else { 2 * (extent - gap) - own };
                    i128::from(factor) * i128::from(centre)
                };
                let x = least(plane.moment_x_coefficient, kind.length, length, kind.gap_end);
                let y = least(plane.moment_y_coefficient, kind.width, width, kind.gap_side);
                (2 * i128::from(plane.mass_coefficient) + x + y) * i128::from(piece.mass)
            }),
        }
    }

    /// The most that such a box may hold of it.
    pub(crate) fn capacity(&self, kind: &BoxKind) -> i128 {
        let (length, width) = (kind.floor_length(), kind.floor_width());
        match self {
            Measure::Mass => kind.mass_capacity(),
            Measure::Lines(Direction::Along, function) => function.most(length) * i128::from(width),
            Measure::Lines(Direction::Across, function) => {
                function.most(width) * i128::from(length)
            }
            Measure::Lines(Direction::Pressing, function) => function.most(length) * bearing(kind),
            Measure::Plane(index) => kind.limits.get(*index).map_or(0, |plane| 2 * plane.bound),
        }
    }

    fn is_stepped(&self) -> bool {
        matches!(self, Measure::Lines(_, function) if function.is_stepped())
    }
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

/// What the pieces weigh under every measure that may exclude something, by kind of box; the mass
/// first.
pub(crate) fn conditions(problem: &Problem) -> Vec<Vec<Condition>> {
    let pieces = &problem.pieces;
    let condition = |kind: &BoxKind, measure: &Measure| {
        let weights = pieces.iter().map(|piece| measure.weigh(kind, piece)).collect();
        Condition::new(measure.capacity(kind), weights, measure.is_stepped())
    };
    let of_kind = |(kind, measures): (&BoxKind, Vec<Measure>)| -> Vec<Condition> {
        measures.iter().map(|measure| condition(kind, measure)).collect()
    };
    problem.kinds.iter().zip(all_measures(&problem.kinds, pieces)).map(of_kind).collect()
}

/// All measures of each kind; kinds with the same floor share those by bars, which take long.
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

/// Most measures of the form [`Function::Longer`] in one direction.
const LONGER: usize = 6;
/// The most parts of a floor in measures of the form [`Function::Parts`].
const PARTS: i64 = 5;

/// Every measure without bars; mass first.
fn measures(kind: &BoxKind, pieces: &[Piece]) -> Vec<Measure> {
    use Direction::{Across, Along, Pressing};
    let longer = longer(kind, pieces);
    let parts = |direction| (1..=PARTS).map(move |n| Measure::Lines(direction, Function::Parts(n)));
    let longer = |direction| {
        longer.iter().map(move |&least| Measure::Lines(direction, Function::Longer(least)))
    };
    let mut listed = vec![Measure::Mass, Measure::Lines(Along, Function::Length)];
    listed.extend(parts(Along));
    listed.extend(parts(Across));
    listed.extend(longer(Along));
    listed.extend(telling(kind, pieces, Along));
    listed.extend(telling(kind, pieces, Across));
    if kind.line_load.is_some() {
        listed.extend(parts(Pressing));
        listed.extend(longer(Pressing));
        listed.extend(telling(kind, pieces, Pressing));
    }
    listed.extend((0..kind.limits.len()).map(Measure::Plane));
    listed
}

/// Least lengths that matter: where a piece is just as long, or just leaves less.
fn longer(kind: &BoxKind, pieces: &[Piece]) -> Vec<i64> {
    let floor = kind.floor_length();
    let mut least: Vec<i64> = pieces
        .iter()
        .map(|piece| piece.length.min(floor - piece.length + 1))
        .filter(|&least| least > 0 && 2 * least <= floor)
        .collect();
    least.sort_unstable();
    least.dedup();
    let last = LONGER.min(least.len()).max(2) - 1;
    (0..LONGER.min(least.len())).map(|rank| least[rank * (least.len() - 1) / last]).collect()
}

/// Most measures by steps in one direction.
const STEPS: usize = 6;
/// The most steps that a floor is divided into.
const DIVISIONS: i64 = 5;
/// Steps that are tried for being telling.
const TRIED: usize = 400;

/// The measures by steps under which all pieces together weigh most of a box's capacity.
fn telling(kind: &BoxKind, pieces: &[Piece], direction: Direction) -> Vec<Measure> {
    let floor =
        if direction == Direction::Across { kind.floor_width() } else { kind.floor_length() };
    // Counts change where a piece, or what it leaves, is a whole number of steps.
    let mut tried: Vec<i64> = pieces
        .iter()
        .flat_map(|piece| {
            let own = if direction == Direction::Across { piece.width } else { piece.length };
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
            let measure = Measure::Lines(direction, Function::Steps(step));
            let total: i128 = pieces.iter().map(|piece| measure.weigh(kind, piece)).sum();
            (total * 1_000_000 / measure.capacity(kind).max(1), measure)
        })
        .collect();
    ranked.sort_by(|a, b| b.cmp(a));
    ranked.dedup_by_key(|entry| entry.0);
    ranked.into_iter().take(STEPS).map(|(_, measure)| measure).collect()
}

/// Sets of more pieces do without bars.
const BARRED: usize = 64;

/// The measures by bars. They are made only where the pieces nearly fill the fewest boxes that might
/// hold them: there the floor lost behind a piece matters. None where pieces may turn, as the program
/// could not know which side lies along the box.
fn bars(kind: &BoxKind, pieces: &[Piece]) -> Vec<Measure> {
    let mut listed = Vec::new();
    if pieces.len() > BARRED || pieces.iter().any(|piece| piece.may_turn) {
        return listed;
    }
    let floor = kind.floor_length();
    let mut ask = |direction: Direction, share: &dyn Fn(&Piece) -> i128, room: i128| {
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
        let bars = cutting_stock::telling(floor, &bundles);
        listed.push(Measure::Lines(direction, Function::Bars(bars)));
    };
    let width = |piece: &Piece| i128::from(piece.width);
    ask(Direction::Along, &width, i128::from(kind.floor_width()));
    if kind.line_load.is_some() {
        let pressing = |piece: &Piece| pressure(kind, piece, piece.length);
        ask(Direction::Pressing, &pressing, bearing(kind));
    }
    listed
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::problem::{HalfPlane, LineLoad};
    use crate::load::engine::testing::{box_kind, piece};

    const HALVES: Measure = Measure::Lines(Direction::Along, Function::Parts(1));

    #[test]
    fn lengths_count_what_cannot_stand_behind_each_other() {
        let kind = box_kind(1, 5898, 2352, 1);
        // 2970 > 5898/2: its whole width counts; 2940 does not count at all; 2949 counts half.
        assert_eq!(HALVES.capacity(&kind), 5898 * 2352);
        assert_eq!(HALVES.weigh(&kind, &piece(1, 2970, 300)), 5898 * 300);
        assert_eq!(HALVES.weigh(&kind, &piece(1, 2940, 300)), 0);
        assert_eq!(HALVES.weigh(&kind, &piece(1, 2949, 300)), 2949 * 300);
    }

    #[test]
    fn least_lengths_are_those_of_a_bundle_or_of_what_it_leaves() {
        let kind = box_kind(1, 100, 10, 1);
        let pieces = [piece(1, 29, 2), piece(1, 71, 2), piece(1, 40, 2)];
        assert_eq!(longer(&kind, &pieces), [29, 30, 40]);
    }

    #[test]
    fn the_telling_step_is_the_one_that_nothing_fits_behind() {
        // 60 and 45 go behind none but 40 and shorter: both count where a step is 41 to 45.
        let kind = box_kind(1, 100, 10, 1);
        let pieces = [piece(1, 60, 5), piece(1, 45, 6), piece(1, 56, 4)];
        let total = |measure: &Measure| -> i128 {
            pieces.iter().map(|piece| measure.weigh(&kind, piece)).sum()
        };
        let listed = telling(&kind, &pieces, Direction::Along);
        let share = |measure: &Measure| total(measure) * 100 / measure.capacity(&kind);
        let most = listed.iter().max_by_key(|measure| (share(measure), *measure)).unwrap();
        // 4 * 5 + 2 * 6 + 4 * 4 of 40.
        assert_eq!(share(most), 120);
        assert_eq!(*most, Measure::Lines(Direction::Along, Function::Steps(45)));
    }

    #[test]
    fn two_deep_each_half_of_a_box_bears_one_line_load() {
        // 4500 kg/m on 5898 mm: of bundles of 2.2 m no three stand one behind the other, so all
        // of them press no more than twice 4500 kg/m. Six of 3.3 t press 1.5 t/m each, just
        // that; a seventh is too much, though 23.1 t are less than 4.5 t/m times 5.898 m.
        let mut kind = box_kind(30_000_000, 5898, 2352, 1);
        kind.line_load = Some(LineLoad { mass: 4_500_000, per_length: 1000 });
        let bundle = piece(3_300_000, 2200, 300);
        let measure = Measure::Lines(Direction::Pressing, Function::Parts(2));
        assert_eq!(6 * measure.weigh(&kind, &bundle), measure.capacity(&kind));
        assert!(Measure::Mass.capacity(&kind) > 7 * 3_300_000);
        // One that leaves less than 2.2 m counts on the whole length.
        let long = piece(3_300_000, 3699, 300);
        let longer = Measure::Lines(Direction::Pressing, Function::Longer(2200));
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
        assert_eq!(kind.mass_capacity(), 7000);
        kind.line_load = Some(LineLoad { mass: 1, per_length: 1 });
        assert_eq!(kind.mass_capacity(), 6000);
        // The front support: a piece hurts least at the rear end, centre 6000 - 500.
        assert_eq!(Measure::Plane(0).weigh(&kind, &piece(10, 1000, 1)), (12_000 - 11_000) * 10);
    }
}
