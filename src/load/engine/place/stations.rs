//! Stations: what the length of the box alone decides, exactly.
//!
//! Looked at from the side, bundles are intervals along the box. At no station may those that
//! cover it be wider together than the floor or heavier than its line load. Where too many
//! cover one, some two of them must stand one behind the other: the search branches on which.
//! What is decided so far leaves each bundle a first and a last place, and between them the
//! moment a window; where that misses the balance, no layout with those decisions is left.
//! Every layout obeys this, so a search that runs dry proves that there is none; one that ends
//! in free stations still has to find room across.

use super::deck::{Spot, line_share};
use super::{Attempt, Verdict, balance};
use crate::load::engine::work::Work;

/// Larger sets are left to the other searches.
const MOST: usize = 16;

struct Line<'a, 'b> {
    attempt: &'a mut Attempt<'b>,
    /// Pairs of which the first stands wholly before the second.
    before: Vec<(usize, usize)>,
    /// Pairs of which that is already known to lead nowhere.
    never: Vec<(usize, usize)>,
    nodes: u32,
    /// Whether some end of the search was left undecided.
    doubt: bool,
    found: Option<Vec<Spot>>,
}

/// Searches the orders along the box.
pub(super) fn search(attempt: &mut Attempt<'_>, work: &mut Work) -> Verdict {
    if attempt.items.len() > MOST || attempt.items.iter().any(|item| item.may_turn) {
        return Verdict::Unknown;
    }
    let nodes = attempt.deck.nodes;
    let mut line =
        Line { attempt, before: Vec::new(), never: Vec::new(), nodes, doubt: false, found: None };
    line.decide(work);
    match line.found {
        Some(spots) => Verdict::Places(spots),
        None if line.doubt => Verdict::Unknown,
        None => Verdict::Never,
    }
}

impl Line<'_, '_> {
    fn decide(&mut self, work: &mut Work) {
        let count = self.attempt.items.len();
        work.spend(40 * count * count + 20 * count * self.before.len());
        if self.nodes == 0 {
            self.doubt = true;
            return;
        }
        self.nodes -= 1;
        let Some((first, last)) = self.reach() else {
            return;
        };
        let Some(starts) = self.balanced(&first, &last) else {
            return;
        };
        let Some(crowd) = self.crowd(&starts) else {
            self.found = self.stand(&starts, work);
            self.doubt |= self.found.is_none();
            return;
        };
        let mark = self.never.len();
        for &one in &crowd {
            for &two in &crowd {
                if one == two || self.never.contains(&(one, two)) || self.found.is_some() {
                    continue;
                }
                self.before.push((one, two));
                self.decide(work);
                self.before.pop();
                self.never.push((one, two));
            }
        }
        self.never.truncate(mark);
    }

    /// First and last starts; `None` if the decisions need more length than there is.
    fn reach(&self) -> Option<(Vec<i64>, Vec<i64>)> {
        let (items, length) = (self.attempt.items, self.attempt.deck.length);
        let mut first = vec![0; items.len()];
        let mut last: Vec<i64> = items.iter().map(|item| length - item.length).collect();
        let mut moved = true;
        while moved {
            moved = false;
            for &(one, two) in &self.before {
                let start = first[one] + items[one].length;
                let stop = last[two] - items[one].length;
                moved |= start > first[two] || stop < last[one];
                first[two] = first[two].max(start);
                last[one] = last[one].min(stop);
                if first[two] > last[two] || first[one] > last[one] {
                    return None;
                }
            }
        }
        Some((first, last))
    }

    /// Starts between the first and the last whose moment is as near the balance as they can
    /// come; `None` if no starts reach it.
    fn balanced(&self, first: &[i64], last: &[i64]) -> Option<Vec<i64>> {
        let (items, deck) = (self.attempt.items, self.attempt.deck);
        let mass: i64 = items.iter().map(|item| item.mass).sum();
        let window = deck.windows(mass).0;
        let moment = |starts: &[i64]| -> i128 {
            let parts = items.iter().zip(starts);
            parts
                .map(|(item, start)| {
                    i128::from(item.mass) * i128::from(2 * (deck.gap_end + start) + item.length)
                })
                .sum()
        };
        let (low, high) = (moment(first), moment(last));
        let missed = window.is_empty()
            || window.low.is_some_and(|bound| bound > high)
            || window.high.is_some_and(|bound| bound < low);
        if missed {
            return None;
        }
        let middle = i128::from(mass) * i128::from(2 * deck.gap_end + deck.length);
        let aim = window.clamp(middle).clamp(low, high);
        Some(balance::between(first, last, aim - low, high - low))
    }

    /// The fewest bundles that cannot all cover one station and do; `None` if there are none.
    fn crowd(&self, starts: &[i64]) -> Option<Vec<usize>> {
        let items = self.attempt.items;
        starts.iter().find_map(|&station| {
            let mut crowd: Vec<usize> = (0..items.len())
                .filter(|&i| starts[i] <= station && station < starts[i] + items[i].length)
                .collect();
            if !self.too_much(&crowd) {
                return None;
            }
            for index in crowd.clone() {
                let less: Vec<usize> = crowd.iter().copied().filter(|&i| i != index).collect();
                if self.too_much(&less) {
                    crowd = less;
                }
            }
            Some(crowd)
        })
    }

    /// Whether these cannot stand beside each other. Shares are rounded up and the limit down,
    /// each by less than one: only what exceeds it even so proves anything.
    fn too_much(&self, crowd: &[usize]) -> bool {
        let (items, deck) = (self.attempt.items, self.attempt.deck);
        let width: i64 = crowd.iter().map(|&i| items[i].width).sum();
        let share: i64 =
            crowd.iter().map(|&i| line_share(items[i].mass, items[i].length) - 1).sum();
        width > deck.width || deck.line.is_some_and(|line| share > line)
    }

    /// Places across the box for bundles whose starts are settled.
    fn stand(&mut self, starts: &[i64], work: &mut Work) -> Option<Vec<Spot>> {
        let (items, deck) = (self.attempt.items, self.attempt.deck);
        let mut order: Vec<usize> = (0..items.len()).collect();
        for round in 0..12 {
            match round {
                0 => order.sort_by_key(|&i| (starts[i], -items[i].width)),
                1 => order.sort_by_key(|&i| (-starts[i] - items[i].length, -items[i].width)),
                2 => order.sort_by_key(|&i| (-items[i].length, -items[i].width)),
                _ => self.attempt.dice.shuffle(&mut order),
            }
            work.spend(20 * order.len() * order.len());
            let Some(spots) = across(self.attempt, starts, &order) else {
                continue;
            };
            if let Some(level) = balance::level(deck, items, &spots) {
                return Some(level);
            }
        }
        None
    }
}

/// Each bundle in turn as far left as those before it let it stand.
fn across(attempt: &Attempt<'_>, starts: &[i64], order: &[usize]) -> Option<Vec<Spot>> {
    let (items, deck) = (attempt.items, attempt.deck);
    let mut spots = vec![Spot { x: 0, y: 0, turned: false }; order.len()];
    for (rank, &index) in order.iter().enumerate() {
        let (x, end) = (starts[index], starts[index] + items[index].length);
        let mut beside: Vec<(i64, i64)> = order[..rank]
            .iter()
            .filter(|&&i| starts[i] < end && x < starts[i] + items[i].length)
            .map(|&i| (spots[i].y, spots[i].y + items[i].width))
            .collect();
        beside.sort_unstable();
        let mut y = 0;
        for (from, to) in beside {
            if y + items[index].width > from {
                y = y.max(to);
            }
        }
        if y + items[index].width > deck.width {
            return None;
        }
        spots[index] = Spot { x, y, turned: false };
    }
    Some(spots)
}
