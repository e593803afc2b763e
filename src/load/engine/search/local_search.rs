//! Local search with a tabu list, as Lodi, Martello and Vigo (2004) use it for bin packing: a
//! target vector of boxes, a best-fit start, and then the leftover is worked in.
//!
//! Three moves take turns. Up to two units of a box change places with up to two of the leftover: the
//! exchange that shrinks the leftover most, with a short memory against circles. Two or three boxes are
//! emptied onto the table with the leftover and filled again by subset sums. When neither helps, boxes
//! exchange units among themselves.

use super::bins::Bin;
use super::subset_sum;
use crate::load::engine::model::effort::{Dice, Purse};
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// What a repair works with.
struct Repair<'a> {
    task: &'a Task,
    oracle: &'a mut Oracle,
    dice: Dice,
    /// Size of each unit: what the leftover is measured by.
    sizes: Vec<i64>,
    bins: Vec<Bin>,
    left: Vec<usize>,
    /// Round until which a unit may not move.
    still: Vec<usize>,
    round: usize,
}

/// None, one or two units and their size.
#[derive(Clone, Copy)]
struct Pair {
    units: [usize; 2],
    count: usize,
    size: i64,
}

impl Pair {
    fn units(&self) -> &[usize] {
        &self.units[..self.count]
    }
}

/// Size of a unit that fills ten thousand boxes: whatever is larger fits in none, and sums stay narrow.
const LARGE: i64 = 1_000_000_000_000;

/// A unit's size: the sum of its shares in the rows of the cheapest kind that are nearly as
/// tight as the tightest, in hundred-millionths of a box.
pub(crate) fn sizes(task: &Task) -> Vec<i64> {
    let Some(kind) = task.kinds.iter().min_by_key(|kind| kind.cost) else {
        return vec![0; task.units.len()];
    };
    let rows = || kind.rows.iter().filter(|row| !row.stepped);
    let most = rows().map(|row| row.fullness(1000)).max().unwrap_or(0);
    let mut sizes = vec![1_i64; task.units.len()];
    for row in rows().filter(|row| row.fullness(1000) * 10 >= most * 9) {
        for (size, &weight) in sizes.iter_mut().zip(&row.weights) {
            let share = i128::from(weight) * 100_000_000 / i128::from(row.capacity.max(1));
            *size = size.saturating_add(i64::try_from(share).unwrap_or(LARGE)).min(LARGE);
        }
    }
    sizes
}

/// Tries to load every unit into boxes of the given kinds.
pub(crate) fn repair(
    task: &Task,
    oracle: &mut Oracle,
    kinds: &[usize],
    sizes: Vec<i64>,
    seed: u64,
    work: &mut Purse,
) -> Option<Vec<Bin>> {
    let bins = kinds.iter().map(|&kind| Bin::new(task, kind)).collect();
    let mut state = Repair::of(task, oracle, bins, Vec::new(), sizes, seed);
    state.start(seed, work);
    state.run(work)
}

/// The same from boxes that are begun and units left over.
pub(crate) fn resume(
    task: &Task,
    oracle: &mut Oracle,
    begun: (Vec<Bin>, Vec<usize>),
    sizes: Vec<i64>,
    seed: u64,
    work: &mut Purse,
) -> Option<Vec<Bin>> {
    Repair::of(task, oracle, begun.0, begun.1, sizes, seed).run(work)
}

impl<'a> Repair<'a> {
    fn of(
        task: &'a Task,
        oracle: &'a mut Oracle,
        bins: Vec<Bin>,
        left: Vec<usize>,
        sizes: Vec<i64>,
        seed: u64,
    ) -> Self {
        let still = vec![0; task.units.len()];
        Repair { task, oracle, dice: Dice::new(seed), sizes, bins, left, still, round: 0 }
    }

    fn start(&mut self, seed: u64, work: &mut Purse) {
        let mut order: Vec<usize> = (0..self.task.units.len()).collect();
        order.sort_by_key(|&unit| (-self.sizes[unit], unit));
        if seed > 1 {
            // Later starts jostle the order: a unit may pass a few neighbours.
            let mut keys: Vec<(i64, usize)> = Vec::with_capacity(order.len());
            for &unit in &order {
                let noise = i64::try_from(900 + self.dice.below(200)).unwrap_or(1000);
                keys.push((-(self.sizes[unit] / 1000 * noise), unit));
            }
            keys.sort_unstable();
            order = keys.into_iter().map(|(_, unit)| unit).collect();
        }
        for unit in order {
            work.spend(10 * self.bins.len());
            let mut homes: Vec<usize> = (0..self.bins.len())
                .filter(|&bin| self.bins[bin].rows_allow(self.task, &[], &[unit]))
                .collect();
            homes.sort_by_key(|&bin| {
                let lead = self.task.kinds[self.bins[bin].kind].lead;
                self.bins[bin].room(self.task, lead)
            });
            let home = homes
                .into_iter()
                .find(|&bin| self.bins[bin].accepts(self.task, self.oracle, &[], &[unit], work));
            match home {
                Some(bin) => self.bins[bin].add(self.task, unit),
                None => self.left.push(unit),
            }
        }
    }

    fn trash(&self) -> i64 {
        self.left.iter().map(|&unit| self.sizes[unit]).sum()
    }

    fn run(mut self, work: &mut Purse) -> Option<Vec<Bin>> {
        let mut best = self.trash();
        let mut idle = 0;
        while !self.left.is_empty() {
            if work.dry() || self.bins.is_empty() {
                return None;
            }
            self.round += 1;
            let moved = self.exchange(best, work);
            if self.left.is_empty() {
                break;
            }
            let mut repacked = false;
            if !moved || idle % 3 == 2 {
                repacked = self.repack(work);
            }
            if self.trash() < best {
                best = self.trash();
                idle = 0;
            } else {
                idle += 1;
            }
            if (!moved && !repacked) || idle % 40 == 39 {
                self.kick(work);
            }
        }
        Some(self.bins)
    }

    /// The best exchange between one box and the leftover that the memory allows.
    fn exchange(&mut self, best: i64, work: &mut Purse) -> bool {
        self.left.sort_by_key(|&unit| (-self.sizes[unit], unit));
        let incoming = self.pairs(&self.left[..self.left.len().min(10)]);
        let now = self.trash();
        let mut moves: Vec<(i64, usize, Pair, Pair)> = Vec::new();
        for bin in 0..self.bins.len() {
            let mut outgoing = vec![Pair { units: [usize::MAX; 2], count: 0, size: 0 }];
            let units = &self.bins[bin].units;
            outgoing.extend(self.pairs(&units[..units.len().min(40)]));
            work.spend(4 * outgoing.len() * incoming.len() + 10 * outgoing.len() + 200);
            if let Some((gain, out, into)) = self.best_of(bin, &outgoing, &incoming, now - best) {
                moves.push((gain, bin, out, into));
            }
        }
        moves.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
        for (gain, bin, out, into) in moves.into_iter().take(8) {
            // Now and then a loss is taken, or the search would sit in the first local optimum.
            if gain < 0 && self.dice.below(3) != 0 {
                continue;
            }
            let (out, into) = (out.units(), into.units());
            if self.bins[bin].accepts(self.task, self.oracle, out, into, work) {
                self.bins[bin].exchange(self.task, out, into);
                self.left.retain(|unit| !into.contains(unit));
                self.left.extend(out);
                for &unit in out.iter().chain(into) {
                    self.still[unit] = self.round + 3 + self.dice.below(7);
                }
                return true;
            }
        }
        false
    }

    /// The exchange of one box with the largest gain; one that gains more than `wanted` beats
    /// the memory.
    fn best_of(
        &self,
        bin: usize,
        outgoing: &[Pair],
        incoming: &[Pair],
        wanted: i64,
    ) -> Option<(i64, Pair, Pair)> {
        let own = &self.bins[bin];
        let kind = &self.task.kinds[own.kind];
        let row = &kind.rows[kind.lead];
        let room = row.capacity - own.used[kind.lead];
        let weigh = |pair: &Pair| -> i64 { pair.units().iter().map(|&u| row.weights[u]).sum() };
        let loads: Vec<i64> = incoming.iter().map(weigh).collect();
        let mut top: Option<(i64, Pair, Pair)> = None;
        for out in outgoing {
            let room = room + weigh(out);
            let least = top.map_or(i64::MIN / 2, |(gain, _, _)| gain) + out.size;
            let mut bar = least;
            for (into, &load) in incoming.iter().zip(&loads) {
                if into.size <= bar || load > room {
                    continue;
                }
                let gain = into.size - out.size;
                let free = gain > wanted || !self.is_still(out.units(), into.units());
                if free && own.rows_allow(self.task, out.units(), into.units()) {
                    top = Some((gain, *out, *into));
                    bar = into.size;
                }
            }
        }
        top
    }

    fn is_still(&self, out: &[usize], into: &[usize]) -> bool {
        out.iter().chain(into).any(|&unit| self.still[unit] > self.round)
    }

    /// One or two of a list, with their size.
    fn pairs(&self, list: &[usize]) -> Vec<Pair> {
        let mut pairs = Vec::with_capacity(list.len() * (list.len() + 1) / 2 + 1);
        for (rank, &one) in list.iter().enumerate() {
            pairs.push(Pair { units: [one, usize::MAX], count: 1, size: self.sizes[one] });
            for &two in &list[rank + 1..] {
                let size = self.sizes[one] + self.sizes[two];
                pairs.push(Pair { units: [one, two], count: 2, size });
            }
        }
        pairs
    }

    /// Empties two or three boxes onto the table with the leftover and fills them again.
    fn repack(&mut self, work: &mut Purse) -> bool {
        let before = self.trash();
        for _ in 0..self.bins.len().min(12) {
            let mut chosen: Vec<usize> = Vec::new();
            for _ in 0..2 + self.dice.below(2) {
                let bin = self.dice.below(self.bins.len());
                if !chosen.contains(&bin) {
                    chosen.push(bin);
                }
            }
            let mut table: Vec<usize> = self.left.clone();
            table.truncate(12);
            let kept: Vec<usize> = self.left.iter().skip(12).copied().collect();
            for &bin in &chosen {
                table.extend(&self.bins[bin].units);
            }
            self.dice.shuffle(&mut table);
            let mut pair = Vec::new();
            for bin in chosen {
                let kind = self.bins[bin].kind;
                let filled = subset_sum::fill(self.task, self.oracle, kind, &table, work);
                table.retain(|unit| !filled.contains(unit));
                pair.push((bin, filled));
            }
            let rest: i64 = table.iter().chain(&kept).map(|&unit| self.sizes[unit]).sum();
            if rest <= before {
                for (bin, filled) in pair {
                    self.bins[bin] = Bin::holding(self.task, self.bins[bin].kind, &filled);
                }
                self.left = table;
                self.left.extend(kept);
                if rest < before {
                    return true;
                }
            }
            if work.dry() {
                return false;
            }
        }
        false
    }

    /// A few exchanges between boxes that keep both valid.
    fn kick(&mut self, work: &mut Purse) {
        let count = self.bins.len();
        if count < 2 {
            return;
        }
        for _ in 0..4 + count / 2 {
            work.spend(100);
            let one = self.dice.below(count);
            let two = self.dice.below(count);
            if one == two || self.bins[one].units.is_empty() || self.bins[two].units.is_empty() {
                continue;
            }
            let a = self.bins[one].units[self.dice.below(self.bins[one].units.len())];
            let b = self.bins[two].units[self.dice.below(self.bins[two].units.len())];
            if self.task.units[a].class != self.task.units[b].class
                && self.bins[one].accepts(self.task, self.oracle, &[a], &[b], work)
                && self.bins[two].accepts(self.task, self.oracle, &[b], &[a], work)
            {
                self.bins[one].exchange(self.task, &[a], &[b]);
                self.bins[two].exchange(self.task, &[b], &[a]);
            }
        }
    }
}
