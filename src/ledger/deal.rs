//! Differences over slabs, so that each slab's total stays the rounding of its exact total.
//!
//! Each slab carries what its exact total has beyond its booked one, in parts of [`Cut::WHOLE`]. A difference is
//! shared exactly, what is carried is added, and the whole units of that are booked: the rest is carried on. So
//! the parts decide who gets a left-over unit and nothing else; every amount is shared out to the last unit.
//!
//! Decided on 2026-11-27. A booked estimate keeps the shares of its controlled rounding. So a shipment costs what
//! `cost` says, where it is billed as it was estimated. The carried parts begin with the rest of those shares.

use crate::quantity::{Cut, Weights};

/// Shares out units by weights; `carried` is what each of the same slabs is owed from before, and is left with
/// what it is owed then. A slab without weight has no share and keeps what it is owed.
pub fn deal(units: i64, weights: &Weights, carried: &mut [i64]) -> Vec<i64> {
    let mut shares = vec![0; carried.len()];
    if units == 0 || weights.is_nothing() {
        return shares;
    }
    let sharing: Vec<usize> = (0..carried.len()).filter(|at| weights.has(*at)).collect();
    let mut left = units;
    for at in &sharing {
        let cut = weights.cut(units, *at);
        let (Some(share), Some(owed)) = (shares.get_mut(*at), carried.get_mut(*at)) else {
            continue;
        };
        let parts = *owed + cut.beyond;
        *share = cut.floor + parts.div_euclid(Cut::WHOLE);
        *owed = parts.rem_euclid(Cut::WHOLE);
        left -= *share;
    }
    // The units that are left over go along the slabs with what is owed carried on, as those of an estimate do: so
    // a few neighbours bear together what is theirs, too.
    let count = i64::try_from(sharing.len()).unwrap_or(i64::MAX);
    let owed: i64 = sharing.iter().filter_map(|at| carried.get(*at)).sum();
    // Other charges may have left these slabs owed more together, or less, than they are given here.
    let mut off = left * Cut::WHOLE - owed;
    let mut running = 0;
    for (rank, at) in (0..count).zip(sharing) {
        let (Some(share), Some(owed)) = (shares.get_mut(at), carried.get_mut(at)) else { continue };
        let own = off / (count - rank);
        off -= own;
        running += *owed + own;
        let units = (2 * running + Cut::WHOLE).div_euclid(2 * Cut::WHOLE);
        running -= units * Cut::WHOLE;
        *share += units;
        *owed -= units * Cut::WHOLE;
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Decimal;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn totals_stay_within_one_unit_of_what_is_exact(
            key in prop::collection::vec(1u64..10_000, 2..40),
            amounts in prop::collection::vec(-5_000i64..5_000, 1..12),
        ) {
            let weights = Weights::of(key.iter().map(|one| Decimal::from(*one))).unwrap();
            let mut carried = vec![0; key.len()];
            let mut booked = vec![0; key.len()];
            let mut sum = 0;
            for units in amounts {
                sum += units;
                let shares = deal(units, &weights, &mut carried);
                prop_assert_eq!(shares.iter().sum::<i64>(), units);
                for (at, share) in shares.iter().enumerate() {
                    booked[at] += share;
                    let cut = weights.cut(sum, at);
                    let near = if cut.is_open { vec![cut.floor, cut.floor + 1] } else { vec![cut.floor - 1, cut.floor, cut.floor + 1] };
                    prop_assert!(near.contains(&booked[at]), "{} is not near {}", booked[at], cut.floor);
                }
            }
        }
    }

    #[test]
    fn what_has_no_weight_has_no_share() {
        let weights = Weights::of([Decimal::ONE, Decimal::ZERO, Decimal::ONE]).unwrap();
        assert_eq!(deal(3, &weights, &mut [0; 3]), [2, 0, 1]);
        assert_eq!(deal(-3, &weights, &mut [0; 3]).iter().sum::<i64>(), -3);
    }
}
