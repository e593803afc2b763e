//! Shelves along the box, by first fit: bundles end to end in a lane, lanes side by side.

use super::attempt::Attempt;
use crate::load::engine::model::deck::Position;
use crate::load::engine::model::effort::Purse;

/// All in one lane, where it is long enough: the one-dimensional case.
pub(crate) fn single(attempt: &mut Attempt<'_>, work: &mut Purse) -> Option<Vec<Position>> {
    let total: i64 = attempt.items.iter().map(|item| item.length).sum();
    if total > attempt.deck.length
        || attempt.items.iter().any(|item| item.width > attempt.deck.width)
    {
        return None;
    }
    let mut x = 0;
    let spots: Vec<Position> = attempt
        .items
        .iter()
        .map(|item| {
            let spot = Position { x, y: 0, turned: false };
            x += item.length;
            spot
        })
        .collect();
    let deck = attempt.deck;
    if deck.limits.is_empty() && deck.line.is_none() && deck.entry.is_none() {
        return Some(spots);
    }
    attempt.offer(&spots, work)
}

/// First fit into lanes, widest first, then in shuffled orders.
pub(crate) fn search(attempt: &mut Attempt<'_>, work: &mut Purse) -> Option<Vec<Position>> {
    let items = attempt.items;
    let mut order: Vec<usize> = (0..items.len()).collect();
    for round in 0..16 {
        match round {
            0 => order.sort_by_key(|&i| (-items[i].width, -items[i].length)),
            1 => order.sort_by_key(|&i| (-items[i].length, -items[i].width)),
            2 => order.sort_by_key(|&i| -items[i].mass),
            _ => attempt.dice.shuffle(&mut order),
        }
        work.spend(10 * items.len() * items.len());
        if let Some(spots) = fill(attempt, &order)
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

struct Lane {
    used: i64,
    y: i64,
    width: i64,
}

fn fill(attempt: &Attempt<'_>, order: &[usize]) -> Option<Vec<Position>> {
    let mut lanes: Vec<Lane> = Vec::new();
    let mut spots = vec![Position { x: 0, y: 0, turned: false }; order.len()];
    let mut across = 0;
    for &index in order {
        let item = &attempt.items[index];
        let home = lanes
            .iter_mut()
            .filter(|lane| lane.used + item.length <= attempt.deck.length)
            .filter(|lane| lane.width >= item.width)
            .min_by_key(|lane| lane.width - item.width);
        if let Some(lane) = home {
            spots[index] = Position { x: lane.used, y: lane.y, turned: false };
            lane.used += item.length;
        } else {
            if across + item.width > attempt.deck.width || item.length > attempt.deck.length {
                return None;
            }
            spots[index] = Position { x: 0, y: across, turned: false };
            lanes.push(Lane { used: item.length, y: across, width: item.width });
            across += item.width;
        }
    }
    Some(spots)
}
