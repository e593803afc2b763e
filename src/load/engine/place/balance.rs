//! Slides a layout until its centre of gravity meets every limit: a convex combination of two.
//!
//! Pieces that overlap crosswise keep their order along the box. Pushed all to the front and
//! all to the rear they give two feasible layouts. Every point between is feasible too, because
//! "behind by at least my length" is kept by a convex combination of both, rounded down. So the
//! moment can be anything between the two, to within a millimetre; likewise across.

use crate::load::engine::model::deck::{Deck, Item, MomentWindow, Position};

/// The layout slid into balance, or mirrored and slid, or `None`.
pub(crate) fn settle(deck: &Deck, items: &[Item], spots: &[Position]) -> Option<Vec<Position>> {
    let mass: i64 = items.iter().map(|item| item.mass).sum();
    let (along, across) = deck.windows(mass);
    let mut mirrored = false;
    loop {
        let mut layout = spots.to_vec();
        if mirrored {
            for (item, spot) in items.iter().zip(&mut layout) {
                spot.x = deck.length - spot.x - item.extents(spot.turned).0;
            }
        }
        let slid = slide(&Axis::along(deck), items, &mut layout, along)
            && slide(&Axis::across(deck), items, &mut layout, across);
        if slid && deck.balanced(items, &layout) && deck.bears(items, &layout) {
            return Some(layout);
        }
        if mirrored {
            return None;
        }
        mirrored = true;
    }
}

/// The layout pressed to the left wall, or to the right, and shifted from there as one only as far as it must be for
/// the balance: what is spare lies on the other side. `None` where no shift holds.
pub(crate) fn press(
    deck: &Deck,
    items: &[Item],
    spots: &[Position],
    far: bool,
) -> Option<Vec<Position>> {
    let axis = Axis::across(deck);
    let (least, most) = extremes(&axis, items, spots)?;
    let mut layout = spots.to_vec();
    for (spot, start) in layout.iter_mut().zip(if far { most } else { least }) {
        spot.y = start;
    }
    let mass: i64 = items.iter().map(|item| item.mass).sum();
    let twice = 2 * i128::from(mass.max(1));
    let (moment, window) = (deck.moments(items, &layout).1, deck.windows(mass).1);
    let off = window.clamp(moment) - moment;
    let by = i64::try_from(off.abs().div_euclid(twice) + i128::from(off % twice != 0)).ok()?;
    for spot in &mut layout {
        spot.y += if off < 0 { -by } else { by };
    }
    let holds = items.iter().zip(&layout).all(|(item, spot)| {
        let (start, extent) = axis.own(item, spot);
        start >= 0 && start + extent <= axis.extent
    });
    (holds && deck.balanced(items, &layout) && deck.bears(items, &layout)).then_some(layout)
}

/// Starts a part of the way from the least to the most: feasible where both are.
pub(crate) fn between(least: &[i64], most: &[i64], numerator: i128, denominator: i128) -> Vec<i64> {
    let ends = least.iter().zip(most);
    ends.map(|(&from, &to)| from + part(to - from, numerator, denominator)).collect()
}

/// One direction of the floor.
struct Axis {
    extent: i64,
    gap: i64,
    crosswise: bool,
}

impl Axis {
    fn along(deck: &Deck) -> Self {
        Axis { extent: deck.length, gap: deck.gap_end, crosswise: false }
    }

    fn across(deck: &Deck) -> Self {
        Axis { extent: deck.width, gap: deck.gap_side, crosswise: true }
    }

    /// (start, extent) in this direction.
    fn own(&self, item: &Item, spot: &Position) -> (i64, i64) {
        let (length, width) = item.extents(spot.turned);
        if self.crosswise { (spot.y, width) } else { (spot.x, length) }
    }

    /// (start, extent) in the other direction.
    fn other(&self, item: &Item, spot: &Position) -> (i64, i64) {
        let (length, width) = item.extents(spot.turned);
        if self.crosswise { (spot.x, length) } else { (spot.y, width) }
    }
}

/// Moves the pieces along `axis` so that twice their moment falls in `window`, as near the
/// middle of the box as it may.
fn slide(axis: &Axis, items: &[Item], spots: &mut [Position], window: MomentWindow) -> bool {
    let Some((least, most)) = extremes(axis, items, spots) else {
        return false;
    };
    let moment = |starts: &[i64]| -> i128 {
        items
            .iter()
            .zip(spots.iter())
            .zip(starts)
            .map(|((item, spot), start)| {
                let extent = axis.own(item, spot).1;
                i128::from(item.mass) * i128::from(2 * (axis.gap + start) + extent)
            })
            .sum()
    };
    let (low, high) = (moment(&least), moment(&most));
    if window.is_empty()
        || window.low.is_some_and(|bound| bound > high)
        || window.high.is_some_and(|bound| bound < low)
    {
        return false;
    }
    let mass: i128 = items.iter().map(|item| i128::from(item.mass)).sum();
    let middle = mass * i128::from(2 * axis.gap + axis.extent);
    let target = window.clamp(middle).clamp(low, high);
    // The floor below loses up to a millimetre; aim that much higher if it fell out.
    for aim in [target, (target + 2 * mass).min(high), target + mass, high] {
        let aim = aim.clamp(low, high);
        let starts = between(&least, &most, aim - low, high - low);
        if window.holds(moment(&starts)) {
            for (spot, start) in spots.iter_mut().zip(starts) {
                if axis.crosswise {
                    spot.y = start;
                } else {
                    spot.x = start;
                }
            }
            return true;
        }
    }
    false
}

/// `span * numerator / denominator`, rounded down.
fn part(span: i64, numerator: i128, denominator: i128) -> i64 {
    if denominator <= 0 {
        return 0;
    }
    i64::try_from(i128::from(span) * numerator / denominator).unwrap_or(0)
}

/// Starts when all is pushed to the near end, and to the far end; `None` if they overlap.
fn extremes(axis: &Axis, items: &[Item], spots: &[Position]) -> Option<(Vec<i64>, Vec<i64>)> {
    let mut order: Vec<usize> = (0..items.len()).collect();
    order.sort_by_key(|&index| axis.own(&items[index], &spots[index]).0);
    let beside = |one: usize, two: usize| {
        let (a, wide_a) = axis.other(&items[one], &spots[one]);
        let (b, wide_b) = axis.other(&items[two], &spots[two]);
        a < b + wide_b && b < a + wide_a
    };
    let mut least = vec![0; items.len()];
    for (rank, &index) in order.iter().enumerate() {
        for &before in &order[..rank] {
            if beside(before, index) {
                let end = least[before] + axis.own(&items[before], &spots[before]).1;
                least[index] = least[index].max(end);
            }
        }
        if least[index] + axis.own(&items[index], &spots[index]).1 > axis.extent {
            return None;
        }
    }
    let mut most = vec![0; items.len()];
    for (rank, &index) in order.iter().enumerate().rev() {
        let extent = axis.own(&items[index], &spots[index]).1;
        most[index] = axis.extent - extent;
        for &after in &order[rank + 1..] {
            if beside(after, index) {
                most[index] = most[index].min(most[after] - extent);
            }
        }
    }
    Some((least, most))
}
