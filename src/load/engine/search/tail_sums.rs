//! Sorted subset sums (Horowitz and Sahni 1974, from memory) of a row's last units. A box that no
//! choice of them brings into its range need not be filled further.

use crate::load::engine::model::effort::Purse;

/// The sums by one cut.
pub(crate) struct Tails {
    pub(crate) cut: usize,
    /// By count of last units: the sums of all choices, ascending.
    sums: Vec<Vec<i64>>,
}

/// Most last units of which all choices are listed.
const MOST: usize = 12;

impl Tails {
    /// The sums of the last of `rest` by a cut.
    pub(crate) fn new(
        rest: &[usize],
        cut: usize,
        weigh: &dyn Fn(usize) -> i64,
        work: &mut Purse,
    ) -> Self {
        let most = MOST.min(rest.len() / 2);
        let mut sums = vec![vec![0]];
        for &unit in rest.iter().rev().take(most) {
            let before = sums.last().map_or(&[][..], Vec::as_slice);
            let next = doubled(before, weigh(unit));
            work.spend(3 * next.len());
            sums.push(next);
        }
        Tails { cut, sums }
    }

    /// Whether some of the last `open` units may join the box, which has `room`, and leave no
    /// more than `slack` of them to the others.
    pub(crate) fn reach(&self, open: usize, slack: i64, room: i64) -> bool {
        let Some(sums) = self.sums.get(open) else {
            return true;
        };
        let least = sums.last().copied().unwrap_or(0) - slack;
        let at = sums.partition_point(|&sum| sum < least);
        sums.get(at).is_some_and(|&sum| sum <= room)
    }
}

/// Ascending sums with and without one weight more.
fn doubled(before: &[i64], weight: i64) -> Vec<i64> {
    let mut next = Vec::with_capacity(2 * before.len());
    let mut with = before.iter().map(|sum| sum + weight).peekable();
    for &sum in before {
        while let Some(less) = with.next_if(|&less| less < sum) {
            next.push(less);
        }
        next.push(sum);
    }
    next.extend(with);
    next.dedup();
    next
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_box_reaches_what_some_choice_of_the_last_units_weighs() {
        // The last three of six weigh 9, 5 and 4: sums 0, 4, 5, 9, 13, 14, 18.
        let weights = [30, 20, 15, 9, 5, 4];
        let weigh = |unit: usize| weights[unit];
        let tails = Tails::new(&[0, 1, 2, 3, 4, 5], 0, &weigh, &mut Purse::new(1000));
        assert_eq!(tails.sums[3], [0, 4, 5, 9, 13, 14, 18]);
        // All but 12 must come in, and no more than 8 may: 18 - 12 = 6 to 8 is not there.
        assert!(!tails.reach(3, 12, 8));
        assert!(tails.reach(3, 12, 9));
        assert!(tails.reach(3, 13, 8));
        // Nothing is known of more units than are listed.
        assert!(tails.reach(4, 0, 0));
    }
}
