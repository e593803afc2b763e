//! The best shares of stocks: one choice for each shipment, no stock overdrawn.

use std::collections::BTreeMap;

/// The choices of one shipment: its take from each stock, and the worth of each choice.
pub(super) type Choices<V> = Vec<(Vec<u32>, V)>;

/// The least value of one choice for each, together within the counts. Values that are joined to one
/// another must keep their order: then of all ways to take the same from the stocks only the least
/// is looked at further. `None` where no choices keep within the counts.
pub(super) fn least<V: Ord + Clone>(
    all: &[Choices<V>],
    counts: &[u32],
    nothing: V,
    join: impl Fn(&V, &V) -> Option<V>,
) -> Option<V> {
    let mut reached: BTreeMap<Vec<u32>, V> = BTreeMap::new();
    reached.insert(vec![0; counts.len()], nothing);
    for choices in all {
        let mut next: BTreeMap<Vec<u32>, V> = BTreeMap::new();
        for (taken, value) in &reached {
            for (own, worth) in choices {
                let Some(both) = within(taken, own, counts) else { continue };
                let Some(value) = join(value, worth) else { continue };
                let is_less = next.get(&both).is_none_or(|other| value < *other);
                if is_less {
                    next.insert(both, value);
                }
            }
        }
        reached = next;
    }
    reached.into_values().min()
}

/// What two take together, where there is as much.
fn within(one: &[u32], other: &[u32], counts: &[u32]) -> Option<Vec<u32>> {
    let both = one.iter().zip(other).zip(counts);
    both.map(|((one, other), count)| one.checked_add(*other).filter(|sum| sum <= count)).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// One choice for each in every way, plainly.
    fn plainly(all: &[Choices<u64>], counts: &[u32]) -> Option<u64> {
        let Some((first, rest)) = all.split_first() else { return Some(0) };
        let of = |(own, worth): &(Vec<u32>, u64)| {
            let left: Option<Vec<u32>> =
                counts.iter().zip(own).map(|(count, own)| count.checked_sub(*own)).collect();
            Some(plainly(rest, &left?)? + worth)
        };
        first.iter().filter_map(of).min()
    }

    proptest! {
        #[test]
        fn it_is_the_least_of_all_ways(
            all in prop::collection::vec(
                prop::collection::vec((prop::collection::vec(0u32..4, 2), 0u64..50), 0..5), 0..5),
            counts in prop::collection::vec(0u32..7, 2),
        ) {
            let found = least(&all, &counts, 0, |a, b| a.checked_add(*b));
            prop_assert_eq!(found, plainly(&all, &counts));
        }
    }
}
