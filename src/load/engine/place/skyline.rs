//! The skyline heuristic (Wei, Oon, Zhu and Lim 2011 build on it): each bundle in turn goes where
//! it reaches least far along the box, on the profile of what stands already.

use super::attempt::Attempt;
use crate::load::engine::model::deck::Position;
use crate::load::engine::model::effort::Purse;

/// Skyline fillings in several orders.
pub(crate) fn search(attempt: &mut Attempt<'_>, work: &mut Purse) -> Option<Vec<Position>> {
    let items = attempt.items;
    let mut order: Vec<usize> = (0..items.len()).collect();
    for round in 0..12 {
        match round {
            0 => order.sort_by_key(|&i| (-items[i].length * items[i].width, i)),
            1 => order.sort_by_key(|&i| (-items[i].length, -items[i].width)),
            2 => order.sort_by_key(|&i| (-items[i].width, -items[i].length)),
            _ => attempt.dice.shuffle(&mut order),
        }
        work.spend(40 * items.len() * items.len());
        if let Some(spots) = skyline(attempt, &order)
            && let Some(found) = attempt.offer(&spots, work)
        {
            return Some(found);
        }
        if attempt.patience == 0 {
            return None;
        }
    }
    None
}

/// Lowest place first: the profile of used length over the width of the floor.
fn skyline(attempt: &Attempt<'_>, order: &[usize]) -> Option<Vec<Position>> {
    let deck = attempt.deck;
    // Segments (y, width, x used), in order of y.
    let mut profile: Vec<(i64, i64, i64)> = vec![(0, deck.width, 0)];
    let mut spots = vec![Position { x: 0, y: 0, turned: false }; order.len()];
    for &index in order {
        let item = &attempt.items[index];
        let mut best: Option<(i64, i64, bool)> = None;
        for turned in [false, true] {
            if turned && !item.may_turn {
                continue;
            }
            let (length, width) = item.extents(turned);
            for start in 0..profile.len() {
                let y = profile[start].0;
                if y + width > deck.width {
                    break;
                }
                let x = profile[start..]
                    .iter()
                    .take_while(|segment| segment.0 < y + width)
                    .map(|segment| segment.2)
                    .max()
                    .unwrap_or(0);
                let reach = x + length;
                let better = best.is_none_or(|(old, at, way)| {
                    let (old_length, _) = item.extents(way);
                    (reach, y) < (old + old_length, at)
                });
                if reach <= deck.length && better {
                    best = Some((x, y, turned));
                }
            }
        }
        let (x, y, turned) = best?;
        spots[index] = Position { x, y, turned };
        let (length, width) = item.extents(turned);
        raise(&mut profile, y, width, x + length);
    }
    Some(spots)
}

/// Sets the profile to `x` over `y .. y + width`.
fn raise(profile: &mut Vec<(i64, i64, i64)>, y: i64, width: i64, x: i64) {
    let end = y + width;
    let mut next: Vec<(i64, i64, i64)> = Vec::with_capacity(profile.len() + 2);
    let mut done = false;
    for &(from, wide, used) in profile.iter() {
        let to = from + wide;
        if from < y {
            next.push((from, to.min(y) - from, used));
        }
        if to > y && !done {
            next.push((y, width, x));
            done = true;
        }
        if to > end {
            let start = from.max(end);
            next.push((start, to - start, used));
        }
    }
    *profile = next;
}
