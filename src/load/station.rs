//! The load of the floor per metre of length, station by station.
//!
//! Decided on 2026-11-26. The line load counts bundles, not dunnage: the published figures divide the cargo
//! by the length it rests on. Blocking lies along walls and ends over the whole box, some 60 kg/m of 4,500,
//! and counts in payload, axles and gross.

use super::standing::{Standing, stretches};
use crate::quantity::{Fraction, LineLoad};

/// The station of a floor that bears most per metre of length.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Station {
    /// Where it begins, in mm from the front end.
    pub from: i64,
    /// Where it ends.
    pub to: i64,
    /// What it bears per metre of length.
    pub load: LineLoad,
    /// The same as an exact fraction, in grams per millimetre, for comparing with a limit.
    exact: Fraction,
}

impl Station {
    /// Whether it bears more than a limit.
    pub fn is_over(&self, most: LineLoad) -> bool {
        self.exact > Fraction::whole(most.grams_per_m_down().into()).over(&Fraction::whole(1_000))
    }
}

/// The station that bears most; `None` where a place is not known. Each bundle presses evenly on the
/// length it stands on, so that the load changes only where one begins or ends.
pub(super) fn worst(standing: &[Standing<'_>]) -> Option<Station> {
    let mut worst: Option<Station> = None;
    for (from, to) in stretches(standing)? {
        let over = standing.iter().filter(|one| one.is_over((from, to)));
        let exact = over.fold(Fraction::whole(0), |sum, one| sum.plus(&one.press()));
        if worst.as_ref().is_none_or(|worst| exact > worst.exact) {
            // Grams per millimetre are kilograms per metre.
            let kg = exact.round(1, "a line load").ok()?;
            worst = Some(Station { from, to, load: LineLoad::kg_per_m(kg).ok()?, exact });
        }
    }
    worst
}

#[cfg(test)]
mod tests {
    use super::super::testing::bundle;
    use super::*;
    use crate::quantity::{Mass, Written};
    use crate::trade::Bundle;

    fn one(bundle: &Bundle, x: i64) -> Standing<'_> {
        Standing { bundle, at: Some((x, 0)), turned: false, running: Mass::ZERO }
    }

    fn line(text: &str) -> LineLoad {
        LineLoad::read(text).unwrap()
    }

    #[test]
    fn published_line_loads() {
        // GDV transport information service, permissible loading capacity: 15 t over 6 m are 2.5 t/m
        // and pass a 20' box (4.5) and a 40' (3.0); 16 t over 4 m are 4.0 t/m and pass the 20' only.
        // A carrier's page on marble blocks: 20 t on timbers of 4 m are 5.0 t/m, at its limit.
        for (kg, mm, load, passes, fails) in [
            ("15000 kg", 6_000, "2.5 t/m", "3.0 t/m", "2.4 t/m"),
            ("16000 kg", 4_000, "4.0 t/m", "4.5 t/m", "3.0 t/m"),
            ("20000 kg", 4_000, "5.0 t/m", "5.0 t/m", "4.8 t/m"),
        ] {
            let bundle = bundle(kg, mm);
            let found = worst(&[one(&bundle, 0)]).unwrap();
            assert_eq!(found.load, line(load));
            assert!(!found.is_over(line(passes)) && found.is_over(line(fails)));
        }
    }

    #[test]
    fn full_lengths_of_a_twenty_foot_box() {
        // Computed: a mass spread over 5.867 m, the ISO 668 minimum inside length. 28,230 kg, a
        // full modern payload, is above 4.8 t/m; 26,905.6 kg, eight bundles of 3,363.2 kg, is above
        // 4.5 and below 4.8.
        for (kg, load) in [
            ("19958 kg", "3401.7"),
            ("21500 kg", "3664.6"),
            ("26000 kg", "4431.6"),
            ("27000 kg", "4602.0"),
            ("28230 kg", "4811.7"),
            ("26905.6 kg", "4585.9"),
        ] {
            let bundle = bundle(kg, 5_867);
            assert_eq!(worst(&[one(&bundle, 0)]).unwrap().load.to_kg_per_m(1).to_string(), load);
        }
    }

    #[test]
    fn the_worst_station_is_where_bundles_stand_abreast() {
        let (long, short) = (bundle("3000 kg", 3_000), bundle("2000 kg", 1_000));
        let found = worst(&[one(&long, 0), one(&short, 1_500)]).unwrap();
        assert_eq!((found.from, found.to), (1_500, 2_500));
        assert_eq!(found.load, line("3 t/m"));
    }
}
