//! Dual feasible functions: they give each length a worth, so that bundles one behind the other on
//! a floor are worth no more than the floor. Every line along the box crosses such bundles. So the
//! widths of all bundles, each times the worth of its length, add up to no more than the floor's
//! width times the floor's worth. The same holds with length and width exchanged.
//!
//! Lueker 1983 has the idea for one dimension; Fekete and Schepers, "A general framework for
//! bounds for higher-dimensional orthogonal packing problems" (2004), have the products of two;
//! Clautiaux, Alves and Valerio de Carvalho, "A survey of dual-feasible and superadditive
//! functions" (2008), has them all side by side. Lueker, and the papers of 1990 and 2001 named
//! below, are cited from memory.

use std::cmp::Ordering;

use super::cutting_stock::{Bar, most};

/// A worth for every length of a floor.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Function {
    /// The length itself.
    Length,
    /// u(n) of Fekete and Schepers (2001): how many whole (n + 1)-ths of the floor a length
    /// exceeds, in n-ths. A length of exact (n + 1)-ths counts as it is.
    Parts(i64),
    /// U(epsilon) of Fekete and Schepers (2001), after Martello and Toth (1990): a length that
    /// leaves less than this behind it counts as the whole floor; one shorter than this counts as
    /// nothing. On one line, either one bundle leaves less, and all others are shorter; or none
    /// does, and each counts its own length at most.
    Longer(i64),
    /// Half steps of this length, of which the floor has twice its whole steps. A short piece
    /// counts the whole steps in it; a long one counts all steps but the whole ones that it leaves;
    /// half the floor counts half of them (Carlier, Clautiaux and Moukrim 2007). A long piece and
    /// the shorter ones behind it count no more than the floor, because these have no more whole
    /// steps than it leaves; nor do pieces of half the floor or less. So the floor lost behind a
    /// piece is counted.
    Steps(i64),
    /// What each length is worth by [`super::cutting_stock`]: data-dependent, as Carlier, Clautiaux
    /// and Moukrim (2007) call it. Other lengths are worth nothing.
    Bars(Vec<Bar>),
}

impl Function {
    /// What `own` is worth on `floor`.
    pub(crate) fn of(&self, own: i64, floor: i64) -> i128 {
        match self {
            Function::Parts(parts) => share(own, floor, *parts),
            Function::Longer(least) if own > floor - least => i128::from(floor),
            Function::Longer(least) if own < *least => 0,
            Function::Length | Function::Longer(_) => i128::from(own),
            Function::Steps(step) => i128::from(half_steps(own, floor, *step)),
            Function::Bars(bars) => {
                i128::from(bars.iter().find(|bar| bar.0 == own).map_or(0, |bar| bar.2))
            }
        }
    }

    /// What the floor is worth: the most for all that stand one behind the other on it.
    pub(crate) fn most(&self, floor: i64) -> i128 {
        match self {
            Function::Length | Function::Longer(_) => i128::from(floor),
            Function::Parts(parts) => i128::from(*parts) * i128::from(floor),
            Function::Steps(step) => i128::from(2 * (floor / step)),
            Function::Bars(bars) => i128::from(most(floor, bars)),
        }
    }

    /// Whether it counts by steps, and so tells nothing of a single bundle's size.
    pub(crate) fn is_stepped(&self) -> bool {
        matches!(self, Function::Steps(_) | Function::Bars(_))
    }
}

/// u(n) of `own / floor`, scaled by `n * floor`: the identity at exact shares of 1/(n+1),
/// otherwise whole n-ths.
fn share(own: i64, floor: i64, parts: i64) -> i128 {
    let scaled = i128::from(own) * i128::from(parts + 1);
    let floor = i128::from(floor);
    if scaled % floor == 0 { i128::from(own) * i128::from(parts) } else { scaled / floor * floor }
}

fn half_steps(own: i64, floor: i64, step: i64) -> i64 {
    match (2 * own).cmp(&floor) {
        Ordering::Less => 2 * (own / step),
        Ordering::Equal => floor / step,
        Ordering::Greater => 2 * (floor / step - (floor - own).max(0) / step),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_one_behind_the_other_is_worth_no_more_than_the_floor() {
        for floor in 6..=24 {
            let mut functions = vec![Function::Length];
            functions.extend((1..=5).map(Function::Parts));
            functions.extend((1..=floor / 2).map(Function::Longer));
            functions.extend((1..=floor / 2).map(Function::Steps));
            for function in functions {
                let own = |length| if length == 0 { 0 } else { function.of(length, floor) };
                for one in 1..=floor {
                    for two in 0..=floor - one {
                        for three in 0..=floor - one - two {
                            let worth = own(one) + own(two) + own(three);
                            let four = own(floor - one - two - three);
                            assert!(worth + four <= function.most(floor), "{function:?}");
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn a_bundle_that_leaves_too_little_takes_the_whole_length() {
        let worth = |length| Function::Longer(30).of(length, 100);
        assert_eq!([worth(29), worth(30), worth(70), worth(71)], [0, 30, 70, 100]);
    }
}
