//! The cross beams of a floor under bundles as they stand: a judgement about the places, and no limit.
//!
//! A cross beam lies between corner fittings 2.26 m apart, and bundles press on it evenly over their width. It
//! may be bent as much as by the payload spread over the whole floor (GDV Container Handbook, steel coils in
//! containers, 3.1, worked out again for any set of loads). The rule is cautious: the wheels of the floor test
//! bend a few beams more.

use super::standing::{Standing, between};
use crate::quantity::{Decimal, Fraction, Length, Mass};
use crate::trade::ContainerType;

/// Between the corner fittings, mm.
const SPAN: i64 = 2_260;
/// The floor that the payload is spread over is so wide, mm (ISO 668, least inside width).
const WIDE: i64 = 2_330;
/// A stretch that is shorter is no beam's, mm (a choice of ours: beams lie some 300 mm apart).
const STRETCH: i64 = 50;
/// What timber bears in bending, kN/cm2 (the handbook, 6.1.2).
const TIMBER: i128 = 1;

/// How the cross beams are strained where they bear most.
#[derive(Debug, Clone)]
pub struct Beams {
    /// From where to where, in mm from the front end.
    pub from: i64,
    /// Where it ends.
    pub to: i64,
    /// The moment in parts of what the rule allows.
    strain: Fraction,
    /// What would do, where it is more than that and the floor has room for them.
    pub bearers: Option<Bearers>,
}

/// Two beams lengthwise under the bundles that stand abreast, which spread them over more cross beams.
#[derive(Debug, Clone)]
pub struct Bearers {
    /// How long they are.
    pub length: Length,
    /// The section modulus that each needs, cm3.
    pub section: Decimal,
}

impl Beams {
    /// Whether the beams are strained more than the rule allows.
    pub fn is_strained(&self) -> bool {
        self.strain > Fraction::whole(1)
    }

    /// The strain in percent of what the rule allows, to the whole percent.
    pub fn percent(&self) -> Decimal {
        self.strain.times(&Fraction::whole(100)).round(0, "a strain").unwrap_or(Decimal::MAX)
    }
}

/// A load on the width of a floor: from where to where, and how much.
type Strip = (i64, i64, Fraction);

/// What a bundle rests on.
struct Footing {
    /// From where to where along the box.
    along: (i64, i64),
    /// Its loads on the width, on each millimetre of that length.
    strips: Vec<Strip>,
}

impl Footing {
    /// The whole of its floor, evenly, or its two bearers, as long as the box has room for them.
    fn of(one: &Standing<'_>, [length, width]: [i64; 2]) -> Option<Self> {
        let (x, y) = one.at?;
        let (long, wide) = (one.length_along(), one.width_across());
        let Some(bearers) = one.bundle.bearers else {
            return Some(Self { along: (x, x + long), strips: vec![(y, y + wide, one.press())] });
        };
        let [reach, spread] = [bearers.length, bearers.spread].map(Length::mm_down);
        let from = ((2 * x + long - reach) / 2).clamp(0, length - 1);
        let to = (from + reach).clamp(from + 1, length);
        let grams = whole(one.bundle.limit_mass.grams_up());
        let half = grams.over(&whole(2 * (to - from)));
        let near = ((2 * y + wide - spread) / 2).clamp(0, width);
        let far = (near + spread).clamp(0, width);
        Some(Self { along: (from, to), strips: vec![(near, near, half.clone()), (far, far, half)] })
    }

    fn is_over(&self, (from, to): (i64, i64)) -> bool {
        self.along.0 <= from && to <= self.along.1
    }
}

/// The cross beams that bear most; `None` where a place is not known.
pub(super) fn beams(container: &ContainerType, standing: &[Standing<'_>]) -> Option<Beams> {
    let [length, width, _] = container.inside.map(Length::mm_down);
    let payload = container.payload().map_or(0, Mass::grams_down);
    let of = |one| Some((one, Footing::of(one, [length, width])?));
    let all: Vec<(&Standing<'_>, Footing)> = standing.iter().map(of).collect::<Option<_>>()?;
    let stretches = between(all.iter().map(|(_, footing)| footing.along));
    let allowed = allowed(payload, length);
    let mut worst: Option<Beams> = None;
    for (from, to) in stretches.into_iter().filter(|(from, to)| to - from >= STRETCH) {
        let over: Vec<&(&Standing<'_>, Footing)> =
            all.iter().filter(|(_, footing)| footing.is_over((from, to))).collect();
        let strips: Vec<Strip> =
            over.iter().flat_map(|(_, footing)| footing.strips.iter().cloned()).collect();
        let strain = greatest_moment(&strips, width).over(&allowed);
        if worst.as_ref().is_none_or(|worst| strain > worst.strain) {
            let bearers = bearers((from, to), &over, (standing, length), &strain);
            worst = Some(Beams { from, to, strain, bearers });
        }
    }
    worst
}

fn whole(value: i64) -> Fraction {
    Fraction::whole(value.into())
}

/// The moment that the rule allows on each millimetre of length, in grams times millimetres: that of the payload
/// spread over the whole floor.
fn allowed(payload: i64, length: i64) -> Fraction {
    let arm = whole(SPAN).over(&whole(4)).minus(&whole(WIDE).over(&whole(8)));
    whole(payload.max(1)).over(&whole(length.max(1))).times(&arm)
}

/// The greatest moment between the corner fittings of a floor so wide.
fn greatest_moment(strips: &[Strip], width: i64) -> Fraction {
    let half = |twice: i64| Fraction::whole(twice.into()).over(&Fraction::whole(2));
    let near = half(width - SPAN);
    let far = near.plus(&whole(SPAN));
    let sum = |of: &dyn Fn(&Strip) -> Fraction| {
        strips.iter().map(of).fold(Fraction::whole(0), |sum, one| sum.plus(&one))
    };
    let total = sum(&|(_, _, load)| load.clone());
    let about = sum(&|(from, to, load)| load.times(&half(from + to).minus(&near)));
    let bears = total.minus(&about.over(&whole(SPAN)));
    // The part of a strip before a place, and its moment about it.
    let before = |at: &Fraction, (from, to, load): &Strip| {
        let (start, end) = (whole(*from), whole(*to));
        if *at >= end {
            (load.clone(), load.times(&at.minus(&half(from + to))))
        } else if *at > start {
            let reach = at.minus(&start);
            let part = load.times(&reach).over(&whole(to - from));
            let moment = part.times(&reach).over(&whole(2));
            (part, moment)
        } else {
            (Fraction::whole(0), Fraction::whole(0))
        }
    };
    let shear = |at: &Fraction| bears.minus(&sum(&|strip| before(at, strip).0));
    let moment =
        |at: &Fraction| bears.times(&at.minus(&near)).minus(&sum(&|strip| before(at, strip).1));
    let ends = strips.iter().flat_map(|(from, to, _)| [whole(*from), whole(*to)]);
    let mut places: Vec<Fraction> = ends.filter(|at| near < *at && *at < far).collect();
    places.extend([near.clone(), far.clone()]);
    places.sort_unstable();
    // Between two places the shear falls evenly: the moment is greatest where it is nothing.
    let turns = places.windows(2).filter_map(|pair| {
        let [from, to] = pair else { return None };
        let (first, last) = (shear(from), shear(to));
        let fall = first.minus(&last);
        (first.is_positive() && last.is_negative())
            .then(|| from.plus(&to.minus(from).times(&first.over(&fall))))
    });
    let turns: Vec<Fraction> = turns.collect();
    places.iter().chain(&turns).map(moment).max().unwrap_or_else(|| Fraction::whole(0))
}

/// The bearers that bundles abreast need; `None` where the beams bear them as they stand, or the floor before and
/// behind them has no room for that.
fn bearers(
    (from, to): (i64, i64),
    over: &[&(&Standing<'_>, Footing)],
    (standing, length): (&[Standing<'_>], i64),
    strain: &Fraction,
) -> Option<Bearers> {
    if *strain <= Fraction::whole(1) {
        return None;
    }
    let loaded = over.iter().map(|(_, footing)| footing.along.1 - footing.along.0).max()?;
    let needed = strain.times(&whole(loaded));
    let ends = standing.iter().filter_map(|one| Some(one.at?.0 + one.length_along()));
    let starts = standing.iter().filter_map(|one| Some(one.at?.0));
    let before = ends.filter(|end| *end <= from + STRETCH).max().unwrap_or(0);
    let behind = starts.filter(|start| *start >= to - STRETCH).min().unwrap_or(length);
    if needed > whole(behind - before) {
        return None;
    }
    let grams: i64 = over.iter().map(|(one, _)| one.bundle.limit_mass.grams_up()).sum();
    let section = section(&whole(grams).over(&whole(2)), &needed.minus(&whole(loaded)));
    Some(Bearers {
        length: Length::whole_mm(needed.ceil().to_i64()?),
        section: section.ceil().round(0, "a section modulus").ok()?,
    })
}

/// The section modulus in cm3 of a bearer under so many grams which reaches beyond them by so many millimetres in all:
/// F (t - r) / (8 sigma) (the handbook's figures of 6.1.2, worked out again).
fn section(grams: &Fraction, beyond: &Fraction) -> Fraction {
    let kilonewtons = grams.times(&Fraction::ratio(981, 100_000_000));
    let centimetres = beyond.over(&whole(10));
    kilonewtons.times(&centimetres).over(&Fraction::whole(8 * TIMBER))
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAYLOAD: i64 = 28_230_000;

    fn places(value: &Fraction, places: u32) -> String {
        value.round(places, "a figure").unwrap().to_string()
    }

    /// The moment in tm of so many bundles abreast in the middle, and what is allowed over their length.
    fn abreast(count: i64, wide: i64, grams: i64, long: i64) -> [String; 2] {
        let left = (WIDE - count * wide) / 2;
        let one = |at: i64| (left + wide * at, left + wide * (at + 1), whole(grams));
        let strips: Vec<Strip> = (0..count).map(one).collect();
        let tonne_metres = whole(1_000_000_000);
        let moment = greatest_moment(&strips, WIDE).over(&tonne_metres);
        let most = allowed(PAYLOAD, 5_867).times(&whole(long)).over(&tonne_metres);
        [moment, most].map(|one| places(&one, 3))
    }

    #[test]
    fn bundles_abreast_on_the_cross_beams() {
        // Worked out by the handbook's rule, P 28.23 t: four of 342 mm and 3.285 t, 2.92 m long, in the middle,
        // 5.177 tm of 3.846; two of 426 mm and 4.2 t, 2.87 m, 3.851 of 3.780; one of 342 mm and 2.1 t, 2.9 m,
        // 1.097 of 3.820.
        assert_eq!(abreast(4, 342, 3_285_000, 2_920), ["5.177", "3.846"]);
        assert_eq!(abreast(2, 426, 4_200_000, 2_870), ["3.851", "3.780"]);
        assert_eq!(abreast(1, 342, 2_100_000, 2_900), ["1.097", "3.820"]);
        // The four as two pairs, each near a wall, 2.832 tm, and spread evenly between the same walls 3.614; both 124 mm
        // off them.
        let four = |left: [i64; 4]| {
            let strips = left.map(|left| (left, left + 342, whole(3_285_000)));
            places(&greatest_moment(&strips, WIDE).over(&whole(1_000_000_000)), 3)
        };
        let apart = WIDE - 124 - 342;
        assert_eq!(four([124, 466, apart - 342, apart]), "2.832");
        assert_eq!(four([124, 704, 1_284, apart]), "3.614");
        // The payload spread over the whole floor bends it as much as is allowed: 7.728 tm.
        assert_eq!(abreast(1, WIDE, PAYLOAD, 5_867), ["7.728", "7.728"]);
    }

    #[test]
    fn a_bundle_on_bearers_presses_where_they_lie() {
        // By hand: a bundle of 4 t in the middle, 1.1 m wide and 0.8 m long, on beams 1.10 m apart: half of it on
        // each, 580 mm from a corner fitting, so 2 t x 0.58 m = 1.160 tm. Over 0.9 m that is less than the payload
        // brings there, 28.23 / 5.867 x 0.27375 m x 0.9 = 1.186 tm: 97.8 %; over its own 0.8 m 110.1 %.
        let mut container = crate::load::testing::twenty();
        container.inside = [5_867, WIDE, 2_350].map(Length::whole_mm);
        let mut own = crate::load::testing::bundle("4000 kg", 800);
        own.width = Length::whole_mm(1_100);
        let strain = |own: &crate::trade::Bundle| {
            let at = Some((2_500, (WIDE - 1_100) / 2));
            let one = Standing { bundle: own, at, turned: false, running: own.mass };
            beams(&container, &[one]).unwrap()
        };
        let on = |mm: i64| crate::trade::Bearers {
            length: Length::whole_mm(mm),
            spread: Length::whole_mm(1_100),
        };
        own.bearers = Some(on(900));
        assert_eq!((strain(&own).from, strain(&own).to), (2_450, 3_350));
        assert_eq!(strain(&own).percent().to_string(), "98");
        own.bearers = Some(on(800));
        assert!(strain(&own).is_strained() && strain(&own).percent().to_string() == "110");
    }

    #[test]
    fn lengths_that_the_handbook_prints_for_two_beams() {
        // GDV Container Handbook, steel coils in containers, P 28.23 t: a mass on two beams lengthwise, so far apart,
        // and the length printed, read off a diagram: 4 t on 1.10 m 0.90 m (6.1.1), 8 t on 1.40 m 1.35 m (6.1.1),
        // 9 t on 1.50 m 1.30 m (6.2.1), 13.8 t on 1.25 m 2.70 m taken (6.3.1), 0.60 of the payload on 1.25 m 3.20 m (6.4.1).
        // The rule as a formula gives no more than 60 mm more or less. Bundles of 3.4 t on runners 0.50 m apart: 1.14 m.
        for (grams, spread, printed) in [
            (4_000_000, 1_100, 900),
            (8_000_000, 1_400, 1_350),
            (9_000_000, 1_500, 1_300),
            (13_800_000, 1_250, 2_700),
            (PAYLOAD * 6 / 10, 1_250, 3_200),
            (3_400_000, 500, 1_140),
        ] {
            let half = whole(grams).over(&whole(2));
            let near = (WIDE - spread) / 2;
            let at = [near, near + spread];
            let strips = at.map(|at| (at, at, half.clone()));
            let needed = greatest_moment(&strips, WIDE).over(&allowed(PAYLOAD, 5_867));
            let off = needed.minus(&whole(printed)).abs();
            assert!(off <= whole(60), "{grams} on {spread}: {}", places(&needed, 0));
        }
    }

    #[test]
    fn a_bearer_that_reaches_beyond_its_load() {
        // The handbook, 6.1.2: 2 t on a bearer 0.20 m longer than its load need about 50 cm3, 0.27 m longer about 65.
        let of = |beyond| places(&section(&whole(2_000_000), &whole(beyond)), 0);
        assert_eq!([of(200), of(270)], ["49", "66"]);
    }
}
