//! Differences over slabs, so that each slab's total stays the rounding of its exact total.
//!
//! Each slab carries what its exact total has beyond its booked one, in parts of [`Cut::WHOLE`]. A difference is
//! shared exactly, what is carried is added, and the whole units of that are booked: the rest is carried on. So
//! the parts decide who gets a left-over unit and nothing else; every amount is shared out to the last unit.
//!
//! Totals stay within one unit where all charges lie on the same slabs. Where charges lie on some of them each,
//! nobody can promise that, as every amount is given out whole when it is posted. Take eight slabs, and charges of
//! one unit over two slabs, half each. The first four charges leave four slabs owed a half. Two charges over pairs
//! of these leave two slabs owed a whole unit; one over those two leaves one of them owed one and a half, whoever
//! was given each unit. (This is the problem of who drives: Fagin and Williams, A fair carpool scheduling
//! algorithm, IBM Journal of Research and Development 27, 1983; from memory.) So each amount is shared such that
//! none of its slabs is more units off than there must be one.
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
    // What each slab that shares is owed beyond its whole units.
    let mut beyond = Vec::with_capacity(carried.len());
    let mut left = units;
    for (at, (share, owed)) in shares.iter_mut().zip(&*carried).enumerate() {
        if weights.has(at) {
            let cut = weights.cut(units, at);
            let parts = owed + cut.beyond;
            *share = cut.floor + parts.div_euclid(Cut::WHOLE);
            beyond.push(parts.rem_euclid(Cut::WHOLE));
            left -= *share;
        }
    }
    let count = i64::try_from(beyond.len()).unwrap_or(i64::MAX);
    let (all, rest) = (left.div_euclid(count), left.rem_euclid(count));
    let wanted = rest * Cut::WHOLE;
    let by = level(&beyond, wanted);
    let mut off = wanted - raised(&beyond, by).0;
    // The units that are left over go along the slabs with what is owed carried on, as those of an estimate do: so
    // a few neighbours bear together what is theirs, too.
    let mut running = 0;
    let sharing = shares.iter_mut().zip(carried).enumerate().filter(|(at, _)| weights.has(*at));
    for ((_, (share, owed)), beyond) in sharing.zip(beyond) {
        let one = i64::from(off > 0 && (0..Cut::WHOLE).contains(&(beyond + by)));
        off -= one;
        running += (beyond + by + one).clamp(0, Cut::WHOLE);
        let units = (2 * running + Cut::WHOLE).div_euclid(2 * Cut::WHOLE);
        running -= units * Cut::WHOLE;
        *share += all + units;
        *owed = beyond - (all + units) * Cut::WHOLE;
    }
    shares
}

/// The amount by which all slabs that share are raised alike. Each stays between nothing and one unit, and together
/// they come to what is wanted or a little less. It is not nothing where other charges left the slabs owed more or
/// less.
///
/// The sum rises in straight pieces, so the search is that of Newton, within bounds: from each point it follows the
/// piece there. Every third step halves what is left, so that it is never far.
fn level(owed: &[i64], wanted: i64) -> i64 {
    let (mut low, mut high) = (-Cut::WHOLE, Cut::WHOLE + 1);
    let mut at = 0;
    for step in 1.. {
        let (sum, rising) = raised(owed, at);
        if step == 1 && sum == wanted {
            return 0;
        }
        *(if sum <= wanted { &mut low } else { &mut high }) = at;
        if high - low <= 1 {
            break;
        }
        let follows = (wanted - sum).checked_div_euclid(rising).filter(|_| step % 3 != 0);
        at = follows.map_or(low + (high - low) / 2, |by| at + by).clamp(low + 1, high - 1);
    }
    low
}

/// What slabs come to when all are raised alike, and how many of them rise on.
fn raised(owed: &[i64], by: i64) -> (i64, i64) {
    let each = owed.iter().map(|owed| owed + by);
    let sum = each.clone().map(|owed| owed.clamp(0, Cut::WHOLE)).sum();
    (sum, each.map(|owed| i64::from((0..Cut::WHOLE).contains(&owed))).sum())
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

    proptest! {
        #[test]
        fn no_slab_is_more_units_off_than_one_must_be(
            charges in prop::collection::vec(
                (prop::collection::vec(0u32..4, 8), -9i64..10), 1..40),
        ) {
            let mut carried = vec![0; 8];
            for (key, units) in charges {
                let weights = Weights::of(key.iter().map(|one| Decimal::from(*one))).unwrap();
                let sharing: Vec<usize> = (0..8).filter(|at| weights.has(*at)).collect();
                // A charge of nothing moves nothing, whatever is owed from before.
                if sharing.is_empty() || units == 0 {
                    continue;
                }
                let exact: Vec<i64> = sharing.iter().map(|at| {
                    let cut = weights.cut(units, *at);
                    cut.floor * Cut::WHOLE + cut.beyond + carried[*at]
                }).collect();
                deal(units, &weights, &mut carried);
                let off = sharing.iter().map(|at| carried[*at].abs()).max().unwrap();
                // The least number of units within which whole shares add up to the amount.
                let within = |most: i64| {
                    let most = most * Cut::WHOLE;
                    let least = exact.iter().map(|one| -(most - one).div_euclid(Cut::WHOLE)).sum::<i64>();
                    let highest = exact.iter().map(|one| (one + most).div_euclid(Cut::WHOLE)).sum::<i64>();
                    (least..=highest).contains(&units)
                };
                let most = (1..100).find(|most| within(*most)).unwrap();
                prop_assert!(off <= most * Cut::WHOLE, "{off} parts off, {most} units would do");
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
