//! Corner points: the exact search for a floor of any kind, by branch and bound over places.
//!
//! Martello, Pisinger and Vigo, "The three-dimensional bin packing problem" (Operations Research
//! 48, 2000), pack boxes so. Any packing can be built piece by piece so that each new piece
//! touches, with its near left corner, a corner of the staircase envelope of those before it.
//! Branching on every piece at every such corner is therefore exact. No later piece comes under the
//! envelope, so the area shut in there prunes the branch.

use super::attempt::{Attempt, NODES, Placement};
use crate::load::engine::model::deck::Position;
use crate::load::engine::model::effort::Purse;

/// The exact search within the deck's nodes.
pub(crate) fn search(attempt: &mut Attempt<'_>, work: &mut Purse) -> Placement {
    let items = attempt.items;
    let area: i64 = items.iter().map(|item| item.length * item.width).sum();
    let spare = attempt.deck.length * attempt.deck.width - area;
    let mut order: Vec<usize> = (0..items.len()).collect();
    order.sort_by_key(|&i| (-items[i].length * items[i].width, i));
    let mut tree = Tree {
        spots: vec![Position { x: 0, y: 0, turned: false }; items.len()],
        order,
        placed: vec![false; items.len()],
        stairs: Vec::new(),
        spare,
        nodes: NODES,
        found: None,
        attempt,
    };
    let whole = tree.grow(items.len(), work);
    match tree.found.take() {
        Some(spots) => Placement::Places(spots),
        None if whole && !attempt.stood => Placement::Never,
        None => Placement::Unknown,
    }
}

struct Tree<'a, 'b> {
    attempt: &'a mut Attempt<'b>,
    order: Vec<usize>,
    placed: Vec<bool>,
    spots: Vec<Position>,
    /// Outer corners (x, y) of the envelope: x falls while y rises.
    stairs: Vec<(i64, i64)>,
    /// Area that may still be shut in.
    spare: i64,
    nodes: u32,
    found: Option<Vec<Position>>,
}

impl Tree<'_, '_> {
    /// Whether the subtree was searched to its end.
    fn grow(&mut self, left: usize, work: &mut Purse) -> bool {
        if self.nodes == 0 || self.attempt.patience == 0 {
            return false;
        }
        self.nodes -= 1;
        work.spend(100);
        if left == 0 {
            let spots = self.spots.clone();
            self.found = self.attempt.offer(&spots, work);
            return true;
        }
        let corners = inner_corners(&self.stairs);
        work.spend(25 * left * (1 + corners.len()));
        for rank in 0..self.order.len() {
            let index = self.order[rank];
            if self.placed[index] || self.twin_before(rank) {
                continue;
            }
            let item = self.attempt.items[index];
            for turned in [false, true] {
                if turned && (!item.may_turn || item.length == item.width) {
                    continue;
                }
                let (length, width) = item.extents(turned);
                for &(x, y) in &corners {
                    if x + length > self.attempt.deck.length || y + width > self.attempt.deck.width
                    {
                        continue;
                    }
                    let stairs = with_corner(&self.stairs, x + length, y + width);
                    let shut = under(&stairs) - self.standing(index);
                    if shut > self.spare {
                        continue;
                    }
                    let before = std::mem::replace(&mut self.stairs, stairs);
                    self.placed[index] = true;
                    self.spots[index] = Position { x, y, turned };
                    let whole = self.grow(left - 1, work);
                    self.placed[index] = false;
                    self.stairs = before;
                    if self.found.is_some() || !whole {
                        return whole;
                    }
                }
            }
        }
        true
    }

    /// Whether an equal piece earlier in the order is still to be placed.
    fn twin_before(&self, rank: usize) -> bool {
        let item = self.attempt.items[self.order[rank]];
        self.order[..rank]
            .iter()
            .any(|&other| !self.placed[other] && self.attempt.items[other] == item)
    }

    /// Area of what stands, with `index` among it.
    fn standing(&self, index: usize) -> i64 {
        self.attempt
            .items
            .iter()
            .enumerate()
            .filter(|&(other, _)| self.placed[other] || other == index)
            .map(|(_, item)| item.length * item.width)
            .sum()
    }
}

/// Where the next piece may lean: the inner corners of the staircase.
fn inner_corners(stairs: &[(i64, i64)]) -> Vec<(i64, i64)> {
    let mut corners = Vec::with_capacity(stairs.len() + 1);
    let mut y = 0;
    for &(x, top) in stairs {
        corners.push((x, y));
        y = top;
    }
    corners.push((0, y));
    corners
}

/// The staircase grown by an outer corner.
fn with_corner(stairs: &[(i64, i64)], x: i64, y: i64) -> Vec<(i64, i64)> {
    let mut next: Vec<(i64, i64)> =
        stairs.iter().copied().filter(|&(a, b)| a > x || b > y).collect();
    next.push((x, y));
    next.sort_by_key(|&(a, b)| (-a, b));
    next
}

/// Area under the staircase.
fn under(stairs: &[(i64, i64)]) -> i64 {
    let mut area = 0;
    let mut y = 0;
    for &(x, top) in stairs {
        area += x * (top - y);
        y = top;
    }
    area
}
