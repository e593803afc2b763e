//! Two ends: every bundle stands against the front or against the rear; the search divides them.
//!
//! Where every bundle is longer than a third of the floor, no three stand one behind the
//! other, and a set fits exactly when it divides so that for every i in A the widths of A's
//! bundles at least as long as i and of B's bundles longer than what i leaves add up to no
//! more than the floor's width, and likewise their shares of the line load. A stacks from the
//! left, longest first; B from the right. The argument is our own.

use super::attempt::{Attempt, NODES};
use crate::load::engine::model::deck::{Position, line_share};
use crate::load::engine::model::effort::Purse;

pub(crate) enum Ends {
    Found(Vec<Position>),
    Never,
    Unknown,
}

struct Division<'a, 'b> {
    attempt: &'a mut Attempt<'b>,
    order: Vec<usize>,
    /// Length, width and line share of what stands at each end so far, longest first.
    ends: [Vec<(i64, i64, i64)>; 2],
    width: [i64; 2],
    line: [i64; 2],
    mass: [i64; 2],
    side: Vec<usize>,
    nodes: u32,
    found: Option<Vec<Position>>,
}

/// Searches the divisions; `exact` says that the caller knows them to be exhaustive.
pub(crate) fn search(attempt: &mut Attempt<'_>, exact: bool, work: &mut Purse) -> Ends {
    let items = attempt.items;
    let widths: i64 = items.iter().map(|item| item.width).sum();
    if widths > 2 * attempt.deck.width {
        return if exact { Ends::Never } else { Ends::Unknown };
    }
    let mut order: Vec<usize> = (0..items.len()).collect();
    order.sort_by_key(|&i| (-items[i].length, -items[i].width));
    let stood = attempt.stood;
    attempt.stood = false;
    let mut division = Division {
        side: vec![0; items.len()],
        order,
        ends: [Vec::new(), Vec::new()],
        width: [0, 0],
        line: [0, 0],
        mass: [0, 0],
        nodes: NODES,
        found: None,
        attempt,
    };
    let whole = division.divide(0, work);
    let found = division.found.take();
    let refused = attempt.stood;
    attempt.stood |= stood;
    match found {
        Some(spots) => Ends::Found(spots),
        None if exact && whole && !refused => Ends::Never,
        None => Ends::Unknown,
    }
}

impl Division<'_, '_> {
    /// Whether the subtree was searched to its end.
    fn divide(&mut self, depth: usize, work: &mut Purse) -> bool {
        if self.nodes == 0 || self.attempt.patience == 0 {
            return false;
        }
        self.nodes -= 1;
        work.spend(20);
        let Some(&index) = self.order.get(depth) else {
            let spots = self.lay();
            self.found = self.attempt.offer(&spots, work);
            // A division that nothing further limits stands. Should it not, the search has not
            // shown what it claims, and says so.
            let deck = self.attempt.deck;
            let is_free = deck.limits.is_empty() && deck.line.is_none() && deck.entry.is_none();
            return self.found.is_some() || !is_free;
        };
        let item = self.attempt.items[index];
        let lighter = usize::from(self.mass[0] > self.mass[1]);
        for end in [lighter, 1 - lighter] {
            // Shares are rounded up and the limit down, each by less than one.
            let share = line_share(item.mass, item.length) - 1;
            if !self.admits(end, item.length, item.width, share) {
                continue;
            }
            self.ends[end].push((item.length, item.width, share));
            self.width[end] += item.width;
            self.line[end] += share;
            self.mass[end] += item.mass;
            self.side[index] = end;
            let whole = self.divide(depth + 1, work);
            self.ends[end].pop();
            self.width[end] -= item.width;
            self.line[end] -= share;
            self.mass[end] -= item.mass;
            if self.found.is_some() || !whole {
                return whole;
            }
        }
        true
    }

    /// The condition of the division for the bundles so far and this one, the shortest yet.
    fn admits(&self, end: usize, length: i64, width: i64, share: i64) -> bool {
        let deck = self.attempt.deck;
        let (width, share) = (self.width[end] + width, self.line[end] + share);
        let line = deck.line.unwrap_or(i64::MAX);
        if width > deck.width || share > line {
            return false;
        }
        // All of this end are at least as long as the new one, so they all face whatever at
        // the other end conflicts with it; for longer ones the sum was smaller.
        let facing =
            self.ends[1 - end].iter().take_while(|(long, _, _)| long + length > deck.length);
        let (wide, pressing) = facing.fold((0, 0), |(a, b), (_, wide, own)| (a + wide, b + own));
        wide == 0 || (wide + width <= deck.width && pressing + share <= line)
    }

    fn lay(&self) -> Vec<Position> {
        let deck = self.attempt.deck;
        let mut spots = vec![Position { x: 0, y: 0, turned: false }; self.order.len()];
        let mut across = [0, 0];
        for &index in &self.order {
            let item = &self.attempt.items[index];
            let end = self.side[index];
            let y = across[end];
            across[end] += item.width;
            spots[index] = if end == 0 {
                Position { x: 0, y, turned: false }
            } else {
                let y = deck.width - y - item.width;
                Position { x: deck.length - item.length, y, turned: false }
            };
        }
        spots
    }
}
