//! The knapsack by dynamic programming (Bellman 1957, from memory), in coarse cells: what the rest
//! of a list is worth at most in the room left.
//!
//! Weights are rounded down to whole cells, and so is the room, so whatever fits in truth fits in
//! cells; worths are rounded up to whole steps. The table is therefore never too low, and a search
//! that uses it proves the same with far fewer nodes.

use crate::load::engine::model::effort::Purse;

/// Something to be had `most` times.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Ware {
    pub(crate) weight: i64,
    pub(crate) profit: i64,
    pub(crate) most: usize,
    /// Its group and what the first of the group takes off. Wares of a group follow each other.
    pub(crate) group: Option<(usize, i64)>,
}

/// Most cells of a table in all.
const LIMIT: usize = 60_000_000;

/// Ceilings for every tail of a list of wares and every room.
pub(crate) struct Coarse {
    /// Grams of a cell, as a power of two.
    cell: u32,
    /// Worth of a step, as a power of two.
    step: u32,
    /// Cells from no room to full room.
    width: usize,
    /// By first ware of the tail, then by cells of room; in steps. The first ware's group is not paid for.
    most: Vec<i32>,
    /// The same where it is; empty without groups.
    paid: Vec<i32>,
}

impl Coarse {
    /// The table of some `cells` cells a ware; `None` where it would be too large.
    pub(crate) fn new(wares: &[Ware], capacity: i64, cells: i64, work: &mut Purse) -> Option<Self> {
        let cell = scale(capacity, cells);
        let width = usize::try_from(capacity >> cell).ok()? + 1;
        if width.checked_mul(wares.len() + 1)? > LIMIT {
            return None;
        }
        let all = wares.iter().try_fold(0_i64, |sum, ware| {
            sum.checked_add(ware.profit.checked_mul(i64::try_from(ware.most).ok()?)?)
        })?;
        let step = scale(all, i64::from(i32::MAX) / 4);
        let grouped = wares.iter().any(|ware| ware.group.is_some());
        let mut most = vec![0; width * (wares.len() + 1)];
        let mut paid = if grouped { most.clone() } else { Vec::new() };
        let mut before = Vec::with_capacity(width);
        for (rank, ware) in wares.iter().enumerate().rev() {
            let of = |count: usize| -> Option<(usize, i32)> {
                let times = i64::try_from(count).ok()?;
                let weight = ware.weight.checked_mul(times)? >> cell;
                let shift = usize::try_from(weight).ok().filter(|&shift| shift < width)?;
                Some((shift, i32::try_from(steps(ware.profit * times, step)).ok()?))
            };
            let (head, tail) = most.split_at_mut((rank + 1) * width);
            let row = &mut head[rank * width..];
            row.copy_from_slice(&tail[..width]);
            let Some((_, toll)) = ware.group else {
                take_some(row, &mut before, ware.most, of, work);
                if grouped {
                    paid[rank * width..(rank + 1) * width].copy_from_slice(row);
                }
                continue;
            };
            // The next ware's group is paid for only if it is this one.
            let same = wares.get(rank + 1).is_some_and(|next| next.group == ware.group);
            let (paid_head, paid_tail) = paid.split_at_mut((rank + 1) * width);
            let own = &mut paid_head[rank * width..];
            own.copy_from_slice(if same { &paid_tail[..width] } else { &tail[..width] });
            take_some(own, &mut before, ware.most - 1, of, work);
            // The first of the group pays, others may be taken besides.
            if let Some((shift, worth)) = of(1) {
                work.spend(width);
                let toll = i32::try_from(toll >> step).unwrap_or(i32::MAX / 4).min(i32::MAX / 4);
                for (cell, other) in row[shift..].iter_mut().zip(own.iter()) {
                    *cell = (*cell).max(other + worth - toll);
                }
                take_up(own, &mut before, shift, worth);
            }
        }
        Some(Coarse { cell, step, width, most, paid })
    }

    /// No choice of the wares from `first` on that fits in `room` is worth more; whether the group of the first
    /// of them is `paid` for.
    pub(crate) fn ceiling(&self, first: usize, paid: bool, room: i64) -> i64 {
        let cell = usize::try_from(room >> self.cell).unwrap_or(0);
        let table = if paid { &self.paid } else { &self.most };
        i64::from(table[first * self.width + cell]) << self.step
    }
}

/// Takes up to `most` of a ware: bundles of 1, 2, 4 ... make up every count. `of` has the cells and the worth of a
/// bundle that finds room.
fn take_some(
    row: &mut [i32],
    before: &mut Vec<i32>,
    most: usize,
    of: impl Fn(usize) -> Option<(usize, i32)>,
    work: &mut Purse,
) {
    let (mut open, mut bundle) = (most, 1);
    while open > 0 {
        let count = bundle.min(open);
        let Some((shift, worth)) = of(count) else { break };
        work.spend(row.len() / 2);
        take_up(row, before, shift, worth);
        open -= count;
        bundle *= 2;
    }
}

/// The power of two that brings `value` down to `most` or fewer.
fn scale(value: i64, most: i64) -> u32 {
    (0..62).find(|&power| value >> power <= most).unwrap_or(62)
}

/// Whole steps, rounded up.
fn steps(worth: i64, step: u32) -> i64 {
    (worth + (1 << step) - 1) >> step
}

/// Makes every cell the better of itself and, with the bundle, the one `shift` cells below.
fn take_up(row: &mut [i32], before: &mut Vec<i32>, shift: usize, worth: i32) {
    before.clear();
    before.extend_from_slice(row);
    for (own, other) in row[shift..].iter_mut().zip(before.iter()) {
        *own = (*own).max(other.wrapping_add(worth));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::effort::Dice;

    /// The true most, by trying every count.
    fn truth(wares: &[Ware], room: i64) -> i64 {
        let Some((ware, rest)) = wares.split_first() else {
            return 0;
        };
        (0..=i64::try_from(ware.most).unwrap())
            .filter(|count| count * ware.weight <= room)
            .map(|count| count * ware.profit + truth(rest, room - count * ware.weight))
            .max()
            .unwrap()
    }

    #[test]
    fn a_ceiling_is_never_too_low_and_exact_where_cells_are_grams() {
        let mut dice = Dice::new(7);
        let draw = |dice: &mut Dice, most| i64::try_from(dice.below(most)).unwrap();
        for _ in 0..300 {
            let wares: Vec<Ware> = (0..6)
                .map(|_| Ware {
                    weight: 1 + draw(&mut dice, 60),
                    profit: draw(&mut dice, 100),
                    most: dice.below(6),
                    group: None,
                })
                .collect();
            let work = &mut Purse::new(u64::MAX);
            let fine = Coarse::new(&wares, 200, 1000, work).unwrap();
            let rough = Coarse::new(&wares, 200, 20, work).unwrap();
            for first in 0..wares.len() {
                let room = draw(&mut dice, 201);
                let true_most = truth(&wares[first..], room);
                assert_eq!(fine.ceiling(first, false, room), true_most);
                assert!(rough.ceiling(first, false, room) >= true_most);
            }
        }
        let many = vec![Ware { weight: 1, profit: 1, most: 1, group: None }; 300];
        assert!(Coarse::new(&many, 1 << 20, 1 << 18, &mut Purse::new(1)).is_none());
    }
}
