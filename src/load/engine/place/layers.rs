//! Layers across the box, as walls are built (George and Robinson 1980, from memory): bundles side
//! by side in a column, columns one behind the other.
//!
//! This is how slabs are stuffed. Long bundles come first: the bundle that opens a column sets its
//! depth. The next bundle goes to the lightest column with room, so that both ends weigh about the
//! same.

use super::attempt::Attempt;
use crate::load::engine::model::deck::{Item, Position, line_share};
use crate::load::engine::model::effort::Purse;

struct Column {
    items: Vec<usize>,
    depth: i64,
    width: i64,
    mass: i64,
    line: i64,
}

/// Tries two and more columns.
pub(crate) fn search(attempt: &mut Attempt<'_>, work: &mut Purse) -> Option<Vec<Position>> {
    let shortest = attempt.items.iter().map(|item| item.length).min()?;
    let deepest = (attempt.deck.length / shortest).min(8);
    let across: i64 = attempt.items.iter().map(|item| item.width).sum();
    let fewest = (across + attempt.deck.width - 1) / attempt.deck.width;
    for count in fewest.max(1)..=deepest {
        let Ok(count) = usize::try_from(count) else {
            continue;
        };
        for order in 0..4 {
            work.spend(30 * attempt.items.len());
            let Some(columns) = spread(attempt, count, order) else {
                continue;
            };
            if let Some(found) = arrange(attempt, columns, work) {
                return Some(found);
            }
        }
    }
    None
}

fn spread(attempt: &Attempt<'_>, count: usize, order: u32) -> Option<Vec<Column>> {
    let items = attempt.items;
    let mut sequence: Vec<usize> = (0..items.len()).collect();
    match order {
        0 => sequence.sort_by_key(|&i| (-items[i].mass, -items[i].width)),
        1 => sequence.sort_by_key(|&i| (-items[i].width, -items[i].mass)),
        _ => sequence.sort_by_key(|&i| (-items[i].length, -items[i].width)),
    }
    let mut columns: Vec<Column> = (0..count)
        .map(|_| Column { items: Vec::new(), depth: 0, width: 0, mass: 0, line: 0 })
        .collect();
    let mut depth = 0;
    for index in sequence {
        let item = &items[index];
        let share = line_share(item.mass, item.length);
        let fits = |column: &&mut Column| {
            column.width + item.width <= attempt.deck.width
                && depth - column.depth + column.depth.max(item.length) <= attempt.deck.length
                && attempt.deck.line.is_none_or(|line| column.line + share <= line)
        };
        let home = columns.iter_mut().filter(fits).min_by_key(|column| {
            let deeper = (item.length - column.depth).max(0);
            if order == 3 { (deeper, column.mass) } else { (0, column.mass) }
        })?;
        depth += (item.length - home.depth).max(0);
        home.depth = home.depth.max(item.length);
        home.items.push(index);
        home.width += item.width;
        home.mass += item.mass;
        home.line += share;
    }
    Some(columns)
}

/// Orders the columns and what stands in them until the balance holds.
fn arrange(
    attempt: &mut Attempt<'_>,
    mut columns: Vec<Column>,
    work: &mut Purse,
) -> Option<Vec<Position>> {
    columns.retain(|column| !column.items.is_empty());
    let free = attempt.deck.limits.is_empty();
    for round in 0..8 {
        match round {
            0 => columns.sort_by_key(|column| -column.mass),
            1 => middle_out(&mut columns, |column| column.mass),
            _ => attempt.dice.shuffle(&mut columns),
        }
        for column in &mut columns {
            inside(attempt.items, &mut column.items, round);
            if round > 2 {
                attempt.dice.shuffle(&mut column.items);
            }
        }
        let spots = lay(attempt.items, &columns);
        if let Some(found) = attempt.offer(&spots, work) {
            return Some(found);
        }
        if free || attempt.patience == 0 {
            return None;
        }
    }
    None
}

fn inside(items: &[Item], column: &mut [usize], round: u32) {
    if round == 0 {
        column.sort_unstable();
    } else {
        column.sort_by_key(|&i| -items[i].mass);
        middle_out(column, |&i| items[i].mass);
    }
}

/// Puts the heavy ones in the middle: sorts by mass, then deals to front and back in turn.
fn middle_out<T>(list: &mut [T], mass: impl Fn(&T) -> i64) {
    list.sort_by_key(mass);
    let half = list.len() / 2;
    list[half..].reverse();
    // Light ones first in the front half, light ones last in the rear half: swap every other
    // pair so that both halves weigh about the same.
    let last = list.len().saturating_sub(1);
    for index in (0..half).step_by(2) {
        list.swap(index, last - index);
    }
}

fn lay(items: &[Item], columns: &[Column]) -> Vec<Position> {
    let mut spots = vec![Position { x: 0, y: 0, turned: false }; items.len()];
    let mut x = 0;
    for column in columns {
        let mut y = 0;
        for &index in &column.items {
            spots[index] = Position { x, y, turned: false };
            y += items[index].width;
        }
        x += column.depth;
    }
    spots
}
