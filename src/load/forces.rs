//! The forces on cargo, and what holds it: formulas in exact fractions of a kilonewton, each with its source.
//!
//! Pushes, weights and friction are parts of the weight (CTU Code 2014, annex 7). The formulas that were not at
//! hand in its own words were held against its printed example and those of the insurers' handbooks: the tests.

use crate::quantity::{Decimal, Fraction};

/// The share of the payload that a side wall holds, and an end, in thousandths (CTU Code 6.2.4).
pub(super) const SIDE: i64 = 600;
pub(super) const END: i64 = 400;

/// A force in kilonewtons.
#[derive(Debug, Clone)]
pub struct Force(Fraction);

impl Force {
    /// No force.
    pub(super) fn none() -> Self {
        Self(Fraction::whole(0))
    }

    /// Kilonewtons to one place, half away from zero.
    pub fn kn(&self) -> Decimal {
        self.0.round(1, "a force").unwrap_or(Decimal::MAX)
    }

    /// Whether there is one.
    pub fn is_any(&self) -> bool {
        self.0.is_positive()
    }

    pub(super) fn is_more_than(&self, other: &Self) -> bool {
        self.0 > other.0
    }

    /// Up to the tenth that is shown, so that shown figures subtract as shown.
    pub(super) fn up(&self) -> Self {
        let ten = Fraction::whole(10);
        Self(self.0.times(&ten).ceil().over(&ten))
    }

    /// Down to the tenth that is shown.
    pub(super) fn down(&self) -> Self {
        Self(Self(self.0.negated()).up().0.negated())
    }

    /// What another leaves of it; none where that is the greater.
    pub(super) fn less(&self, other: &Self) -> Self {
        Self(above_nothing(self.0.minus(&other.0)))
    }

    /// How many of a kind that holds so much each are needed.
    pub(super) fn over(&self, each: &Self) -> i64 {
        self.0.over(&each.0).ceil().to_i64().unwrap_or(i64::MAX)
    }
}

fn above_nothing(one: Fraction) -> Fraction {
    if one.is_positive() { one } else { Fraction::whole(0) }
}

/// A push with what is left of the weight at the same time, and the friction, each in parts of the weight.
#[derive(Debug, Clone)]
pub(super) struct Asked {
    pub(super) push: Decimal,
    pub(super) weight: Decimal,
    pub(super) friction: Decimal,
}

impl Asked {
    /// The push less the friction: c - mu cz.
    fn net(&self) -> Fraction {
        Fraction::of(self.push)
            .minus(&Fraction::of(self.friction).times(&Fraction::of(self.weight)))
    }
}

/// The weight of a mass in grams: 9.81 m/s2 in all the sources.
fn weight(grams: i128) -> Fraction {
    Fraction::whole(grams).times(&Fraction::ratio(981, 100_000_000))
}

/// What must hold a mass against sliding: m g (c - mu cz).
pub(super) fn to_hold(grams: i128, asked: &Asked) -> Force {
    Force(above_nothing(weight(grams).times(&asked.net())))
}

/// What a wall holds: a share of the payload's weight, in thousandths, as far as the load touches it, area in area
/// (CTU Code 6.2.4: 0.6 at the sides, 0.4 at the ends, for a load spread evenly).
pub(super) fn wall(permille: i64, payload: i128, [touched, whole]: [i128; 2]) -> Force {
    let share = Fraction::whole(permille.into()).over(&Fraction::whole(1_000));
    let part = Fraction::whole(touched.min(whole)).over(&Fraction::whole(whole.max(1)));
    Force(weight(payload).times(&share).times(&part))
}

/// The most grams that walls and friction alone hold, r P / (c - mu cz) down; none where friction holds any.
pub(super) fn walls_alone(permille: i64, payload: i128, asked: &Asked) -> Option<i64> {
    let net = asked.net();
    let share = Fraction::whole(payload * i128::from(permille)).over(&Fraction::whole(1_000));
    // Down: one less than the next whole above a negated one.
    net.is_positive().then(|| share.over(&net).negated().ceil().negated().to_i64()).flatten()
}

/// What a brace must hold so that a body does not tip: m g (c d - cz e) / y, for a centre of gravity `high` above
/// the floor and `inward` of the edge that it turns about, and a brace at `brace`, all in twice the mm.
pub(super) fn against_tipping(
    grams: i128,
    (push, left): (Decimal, Decimal),
    [high, inward, brace]: [Fraction; 3],
) -> Force {
    let tips = Fraction::of(push).times(&high).minus(&Fraction::of(left).times(&inward));
    Force(above_nothing(weight(grams).times(&tips).over(&brace)))
}

/// What one batten across a box holds: w2 h / (28 L) kN, thick and high in cm, free length in m, here all in mm
/// (CTU Code, annex 7, appendix 4).
pub(super) fn batten([thick, high, free]: [i64; 3]) -> Force {
    let [thick, high, free] = [thick, high, free.max(1)].map(i128::from);
    Force(Fraction::whole(thick * thick * high).over(&Fraction::whole(28 * free)))
}

/// How many lashings over the top hold a mass: (c - mu cz) m g fs / (2 mu FT) of upright ones (EN 12195-1:2010);
/// `tension` in kN.
pub(super) fn over_the_top(
    grams: i128,
    asked: &Asked,
    factor: Decimal,
    tension: Decimal,
) -> Fraction {
    let force = to_hold(grams, asked).0.times(&Fraction::of(factor));
    let each =
        Fraction::whole(2).times(&Fraction::of(asked.friction)).times(&Fraction::of(tension));
    force.over(&each)
}

/// What a lashing at 45 degrees to the floor holds direct, of a strength in kN: friction counts with three quarters
/// (CTU Code, annex 7, appendix 2).
pub(super) fn direct(strength: Decimal, friction: Decimal) -> Force {
    let slant = Fraction::ratio(70_711, 100_000).times(&Fraction::of(strength));
    let friction = Fraction::of(friction).times(&Fraction::ratio(3, 4));
    Force(slant.times(&Fraction::whole(1).plus(&friction)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dec(text: &str) -> Decimal {
        text.parse().unwrap()
    }

    fn asked([push, weight, friction]: [&str; 3]) -> Asked {
        Asked { push: dec(push), weight: dec(weight), friction: dec(friction) }
    }

    fn kn(force: &Force, places: u32) -> String {
        force.0.round(places, "a force").unwrap().to_string()
    }

    #[test]
    fn forces_to_hold_ten_tonnes() {
        // m g (c - mu cz), worked out: road forward, road sideways, sea area A, B and C lengthwise, C sideways.
        let of = |push, left, friction| kn(&to_hold(10_000_000, &asked([push, left, friction])), 4);
        assert_eq!(of("0.8", "1.0", "0.30"), "49.0500");
        assert_eq!(of("0.5", "1.0", "0.45"), "4.9050");
        assert_eq!(of("0.3", "0.5", "0.30"), "14.7150");
        assert_eq!(of("0.3", "0.3", "0.45"), "16.1865");
        assert_eq!(of("0.4", "0.2", "0.30"), "33.3540");
        assert_eq!(of("0.8", "1.0", "0.45"), "34.3350");
        // The insurers' handbook on steel coils, 5.1: 1.0 - 0.4 lengthwise and 0.8 - 0.4 across.
        assert_eq!(asked(["1.0", "1.0", "0.4"]).net(), Fraction::of(dec("0.6")));
        assert_eq!(asked(["0.8", "1.0", "0.4"]).net(), Fraction::of(dec("0.4")));
        // A push that friction holds leaves nothing.
        assert!(!to_hold(10_000_000, &asked(["0.3", "1.0", "0.45"])).is_any());
    }

    #[test]
    fn walls_of_a_box_hold_their_share_of_the_payload() {
        // P 28,230 kg: side 166.16 kN, end 110.77 kN; spreaders on 2.92 x 2.00 m of a side of 5.867 x 2.350 m
        // count 70.4 kN (CTU Code 6.2.4, worked out). 25.25 t at 0.8 forward and friction 0.30 need 123.9 kN:
        // 13.1 are left beyond the end; with 0.45 they need 86.7, which it holds.
        let payload = 28_230_000;
        assert_eq!(kn(&wall(600, payload, [1, 1]), 2), "166.16");
        let end = wall(400, payload, [1, 1]);
        assert_eq!(kn(&end, 2), "110.77");
        assert_eq!(kn(&wall(600, payload, [2_920 * 2_000, 5_867 * 2_350]), 1), "70.4");
        let forward = |friction| to_hold(25_250_000, &asked(["0.8", "1.0", friction]));
        assert_eq!([forward("0.30").kn(), forward("0.45").kn()], ["123.9", "86.7"].map(dec));
        assert_eq!(
            [forward("0.30"), forward("0.45")].map(|one| one.less(&end).kn()),
            [dec("13.1"), dec("0.0")]
        );
    }

    #[test]
    fn most_cargo_that_walls_and_friction_alone_hold() {
        // r P / (c - mu cz) of P 28.23 t, worked out, in tonnes: road forward and aft, rail as of 1997, sea area C lengthwise
        // and sideways, each at friction 0.30 and 0.45.
        let most = |permille, push, weight, friction| {
            let alone =
                walls_alone(permille, 28_230_000, &asked([push, weight, friction])).unwrap();
            crate::quantity::ratio(alone.into(), 1_000_000.into(), 2).unwrap().to_string()
        };
        for (permille, push, weight, at_30, at_45) in [
            (END, "0.8", "1.0", "22.58", "32.26"),
            (END, "0.5", "1.0", "56.46", "225.84"),
            (END, "1.0", "1.0", "16.13", "20.53"),
            (END, "0.4", "0.2", "33.21", "36.43"),
            (SIDE, "0.8", "1.0", "33.88", "48.39"),
        ] {
            assert_eq!(most(permille, push, weight, "0.30"), at_30, "{push}");
            assert_eq!(most(permille, push, weight, "0.45"), at_45, "{push}");
        }
        assert_eq!(walls_alone(END, 28_230_000, &asked(["0.3", "1.0", "0.45"])), None);
    }

    #[test]
    fn tipping_as_worked_out_of_the_codes_air_bag() {
        // Four bundles of 342 mm tied, 13.1388 t, centre of gravity 1.0088 m high: they stand at 0.6, and a brace
        // at 1.8 m holds 1.59 kN at 0.7 and 8.81 at 0.8. One of 2.1 t, centre 0.66 m high, brace at 1.2 m: 2.73 kN at
        // 0.5 and 6.13 at 0.8. m g (c d - cz e) / y, from the CTU Code's (c - (b/h) cz) for a bag at half the height.
        let mm = |text: &str| Fraction::of(dec(text));
        let four = |push: &str| {
            let at = [mm("1008.8"), mm("684"), mm("1800")];
            kn(&against_tipping(13_138_800, (dec(push), dec("1")), at), 2)
        };
        assert_eq!([four("0.6"), four("0.7"), four("0.8")], ["0.00", "1.59", "8.81"]);
        let one = |push: &str| {
            let at = [mm("660"), mm("171"), mm("1200")];
            kn(&against_tipping(2_100_000, (dec(push), dec("1")), at), 2)
        };
        assert_eq!([one("0.5"), one("0.8")], ["2.73", "6.13"]);
        // The base that just stands is twice c d / cz: 1.412 m at 0.7; lengthwise in sea area C 4.04 m, so that a
        // bundle 2.92 m long tips and two in line, 5.8 m, do not.
        let stands = |push: &str, left: &str, base: &str| {
            let at = [mm("1008.8"), mm(base).over(&Fraction::whole(2)), mm("1800")];
            !against_tipping(1, (dec(push), dec(left)), at).is_any()
        };
        assert!(stands("0.7", "1", "1413") && !stands("0.7", "1", "1412"));
        assert!(stands("0.4", "0.2", "5800") && !stands("0.4", "0.2", "2920"));
        assert!(stands("0.4", "0.2", "4036") && !stands("0.4", "0.2", "4035"));
    }

    #[test]
    fn battens_of_the_codes_example() {
        // CTU Code, annex 7, appendix 4: six battens of 5 x 10 cm, 2.2 m free, hold 24 kN as printed. With 7.5 t in sea area
        // C lengthwise and friction 0.4 they hold (29.43 of 29.89), with 7.7 t they do not.
        let six = Force(batten([50, 100, 2_200]).0.times(&Fraction::whole(6)));
        assert_eq!(kn(&six, 2), "24.35");
        let printed = Force(Fraction::whole(24));
        let pushed = |grams| to_hold(grams, &asked(["0.4", "0.2", "0.4"])).less(&printed).is_any();
        assert!(!pushed(7_500_000) && pushed(7_700_000));
        for (sides, holds) in [
            ([100, 100, 2_200], "16.23"),
            ([140, 140, 2_200], "44.55"),
            ([100, 100, 1_000], "35.71"),
        ] {
            assert_eq!(kn(&batten(sides), 2), holds);
        }
    }

    #[test]
    fn lashings_over_the_top_and_direct() {
        // EN 12195-1:2010, worked out: 4 t at friction 0.40 and 4 kN upright need 1.349 sideways and 6.131
        // forward, so 2 and 7.
        let count = |push, factor| {
            let needed =
                over_the_top(4_000_000, &asked([push, "1.0", "0.40"]), dec(factor), dec("4"));
            (needed.round(3, "a count").unwrap().to_string(), needed.ceil().to_i64())
        };
        assert_eq!(count("0.5", "1.1"), ("1.349".to_owned(), Some(2)));
        assert_eq!(count("0.8", "1.25"), ("6.131".to_owned(), Some(7)));
        // 13.1388 t at 0.8 and friction 0.30: 64.4 kN; 27 of 4 kN over the top without a factor, 8 direct from points
        // of 10 kN, which hold 8.66 kN each.
        let push = asked(["0.8", "1.0", "0.30"]);
        let force = to_hold(13_138_800, &push);
        assert_eq!(kn(&force, 1), "64.4");
        let top = over_the_top(13_138_800, &push, dec("1"), dec("4"));
        assert_eq!(top.ceil().to_i64(), Some(27));
        let each = direct(dec("10"), dec("0.30"));
        assert_eq!((kn(&each, 2).as_str(), force.over(&each)), ("8.66", 8));
    }
}
