//! One-dimensional cutting stock (Gilmore and Gomory 1961): what lengths are worth along the floor.
//!
//! A line along the floor crosses bundles that stand one behind the other, each once, like the
//! pieces of a bar cut from the floor's length. Give every length a value: no line crosses more
//! value than the best bar has, and the best bar is a knapsack. Good values are the prices of a
//! linear program that covers the widths (or pressures) of all bundles with the fewest bars. The
//! program only suggests them; the knapsack makes an argument of any values.

use super::simplex::Master;
use crate::load::engine::model::effort::Purse;

/// A length, how many bundles have it, and its value.
pub(crate) type Bar = (i64, usize, i64);

/// Cells of the floor's length at most. Lengths are rounded down to cells, so that every bar is
/// still one.
const CELLS: i64 = 600;
/// Bars that the program may be given.
const ROUNDS: usize = 120;
/// What the program covers in all.
const DEMAND: i64 = 100_000;
/// What the prices of the program, up to 2^30, are divided by.
const COARSE: i64 = 1 << 18;
/// Work of one program.
const PURSE: u64 = 20_000_000;

/// The most that bundles one behind the other are worth.
pub(crate) fn most(floor: i64, bars: &[Bar]) -> i64 {
    best(floor, bars).0
}

/// The best bar: its worth, and how often it has each length.
fn best(floor: i64, bars: &[Bar]) -> (i64, Vec<usize>) {
    let shared = bars.iter().fold(0, |shared, bar| num_integer::gcd(shared, bar.0));
    let cell = shared.max(floor / CELLS).max(1);
    let cells = |length: i64| usize::try_from(length / cell).unwrap_or(0);
    let size = cells(floor) + 1;
    let items: Vec<usize> = bars
        .iter()
        .enumerate()
        .flat_map(|(at, bar)| std::iter::repeat_n(at, bar.1.min(size / cells(bar.0).max(1))))
        .collect();
    let mut worth = vec![0; size];
    let mut taken = vec![false; size * items.len()];
    for (item, &at) in items.iter().enumerate() {
        let step = cells(bars[at].0);
        for cell in (step..size).rev() {
            let with = worth[cell - step] + bars[at].2;
            if with > worth[cell] {
                worth[cell] = with;
                taken[item * size + cell] = true;
            }
        }
    }
    let mut counts = vec![0; bars.len()];
    let mut cell = size - 1;
    for (item, &at) in items.iter().enumerate().rev() {
        if taken[item * size + cell] {
            counts[at] += 1;
            cell -= cells(bars[at].0);
        }
    }
    (worth[size - 1], counts)
}

/// Values for the lengths under which these bundles need the most bars. Each bundle has a length,
/// and a share of the load on all bars.
pub(crate) fn telling(floor: i64, bundles: &[(i64, i64)]) -> Vec<Bar> {
    let total: i64 = bundles.iter().map(|bundle| bundle.1).sum();
    let mut bars: Vec<Bar> = Vec::new();
    let mut demand: Vec<i64> = Vec::new();
    let mut sorted = bundles.to_vec();
    sorted.sort_unstable();
    for (length, share) in sorted {
        if bars.last().is_none_or(|bar| bar.0 != length) {
            bars.push((length, 0, 0));
            demand.push(0);
        }
        if let (Some(bar), Some(sum)) = (bars.last_mut(), demand.last_mut()) {
            bar.1 += 1;
            *sum += share;
        }
    }
    let whole = |sum: &i64| usize::try_from(sum * DEMAND / total.max(1)).unwrap_or(0).max(1);
    let demand: Vec<usize> = demand.iter().map(whole).collect();
    let mut work = Purse::new(PURSE);
    let mut master = Master::new(&demand, &[usize::MAX / 4], 10);
    // To begin with, as many of each length as one bar has.
    for (at, bar) in bars.iter().enumerate() {
        let fit = usize::try_from(floor / bar.0.max(1)).unwrap_or(0);
        master.add(0, 1, &[(at, bar.1.min(fit).max(1))]);
    }
    for _ in 0..ROUNDS {
        master.solve(&mut work);
        let prices = master.prices(&[1], false);
        for (bar, price) in bars.iter_mut().zip(&prices.classes) {
            bar.2 = *price;
        }
        let (worth, counts) = best(floor, &bars);
        if worth <= prices.kinds[0] || work.dry() {
            break;
        }
        let pattern: Vec<(usize, usize)> =
            counts.into_iter().enumerate().filter(|(_, count)| *count > 0).collect();
        master.add(0, 1, &pattern);
    }
    // Fewer digits say as much, and their products with widths and pressures stay narrow.
    for bar in &mut bars {
        bar.2 = (bar.2 + COARSE / 2) / COARSE;
    }
    bars
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::effort::Dice;

    #[test]
    fn no_bundles_one_behind_the_other_are_worth_more_than_the_best_bar() {
        let mut dice = Dice::new(3);
        for _ in 0..200 {
            let mut number = |most: usize| i64::try_from(1 + dice.below(most)).unwrap();
            let floor = 10 + number(20);
            let bundles: Vec<(i64, i64)> =
                (0..2 + number(6)).map(|_| (number(10), number(9))).collect();
            let bars = telling(floor, &bundles);
            let most = most(floor, &bars);
            let value =
                |length: i64| bars.iter().find(|bar| bar.0 == length).map_or(0, |bar| bar.2);
            let mut met = false;
            for set in 0..1_u32 << bundles.len() {
                let chosen = || (0..bundles.len()).filter(|at| set >> at & 1 == 1);
                if chosen().map(|at| bundles[at].0).sum::<i64>() <= floor {
                    let worth: i64 = chosen().map(|at| value(bundles[at].0)).sum();
                    assert!(worth <= most, "{bars:?}");
                    met |= worth == most;
                }
            }
            assert!(met, "{floor} {bars:?}");
        }
    }

    #[test]
    fn the_program_sees_what_stands_behind_nothing() {
        // Of 100, 55 goes with 45 or 30, and three of 30 fill a bar: 2 * 55, 45 and 30 take
        // two bars, one with the 30; 55, 55, 45, 45, 30 need a half bar more.
        let telling_of = |bundles: &[i64]| {
            let bundles: Vec<(i64, i64)> = bundles.iter().map(|&length| (length, 6)).collect();
            let bars = telling(100, &bundles);
            let worth: i64 =
                bars.iter().map(|&(_, count, value)| value * i64::try_from(count).unwrap()).sum();
            (worth * 100 / most(100, &bars), worth)
        };
        let (share, _) = telling_of(&[55, 55, 45, 45, 30]);
        assert!((230..=250).contains(&share), "{share}");
        let (share, _) = telling_of(&[60, 60, 60]);
        assert!((299..=300).contains(&share), "{share}");
    }
}
