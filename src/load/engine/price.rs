//! Pricing: the most valuable set that the rows of one box allow, in whole numbers.
//!
//! A depth-first search over classes in order of value per surrogate weight, where the
//! surrogate is whichever row, or sum of two rows, bounds the root best. Weights of summed
//! rows are rounded down to a common capacity, which relaxes them, so the bound stays valid;
//! where a single fine row is too hard for the search, dynamic programming settles it. The
//! answer's bound never rests on anything but integers.

use super::model::Task;
use super::work::Work;

/// Counts by class.
pub(crate) type Pattern = Vec<(usize, usize)>;

/// The answer to a pricing question.
#[derive(Clone, Debug)]
pub(crate) struct Priced {
    /// No admissible set is worth more.
    pub(crate) bound: i64,
    /// Sets worth more than the floor asked for, best first.
    pub(crate) patterns: Vec<(i64, Pattern)>,
}

/// A pricing question: what is the best set in a box of `kind`?
pub(crate) struct Question<'a> {
    pub(crate) task: &'a Task,
    pub(crate) kind: usize,
    /// Value of a unit by class, from 0 to 2^30.
    pub(crate) profits: &'a [i64],
    /// Most units by class.
    pub(crate) demand: &'a [usize],
    /// Only sets worth more than this are of interest.
    pub(crate) floor: i64,
    /// Search nodes; when they run out the bound is that of the root.
    pub(crate) nodes: u64,
}

/// Capacity to which summed rows are scaled.
const SCALE: i64 = 1 << 22;
/// Cells of a table that dynamic programming may fill.
const TABLE: usize = 60_000_000;

struct Entry {
    class: usize,
    profit: i64,
    most: usize,
    surrogate: i64,
    weights: Vec<i64>,
}

struct Knapsack {
    entries: Vec<Entry>,
    /// Least first weight from this entry on.
    least: Vec<i64>,
    room: Vec<i64>,
    taken: Vec<(usize, usize)>,
    best: i64,
    found: Vec<(i64, Pattern)>,
    nodes: u64,
}

/// Answers a question.
pub(crate) fn price(question: &Question<'_>, work: &mut Work) -> Priced {
    let kind = &question.task.kinds[question.kind];
    let mut entries: Vec<Entry> = Vec::new();
    for (class, &profit) in question.profits.iter().enumerate() {
        let unit = question.task.classes[class].units[0];
        if profit > 0
            && question.demand[class] > 0
            && question.task.units[unit].allowed[question.kind]
        {
            let weights = kind.rows.iter().map(|row| row.weights[unit]).collect();
            let most = question.demand[class];
            entries.push(Entry { class, profit, most, surrogate: 0, weights });
        }
    }
    let capacities: Vec<i64> = kind.rows.iter().map(|row| row.capacity).collect();
    let (capacity, root) = surrogate(&mut entries, &capacities);
    work.spend(400 * entries.len() * capacities.len());
    let mut least = vec![i64::MAX; entries.len() + 1];
    for (index, entry) in entries.iter().enumerate().rev() {
        least[index] = least[index + 1].min(entry.weights[0]);
    }
    let mut knapsack = Knapsack {
        entries,
        least,
        room: capacities,
        taken: Vec::new(),
        best: question.floor,
        found: Vec::new(),
        nodes: question.nodes,
    };
    let before = knapsack.nodes;
    let whole = root <= question.floor || knapsack.search(0, 0, capacity);
    let nodes = usize::try_from(before - knapsack.nodes).unwrap_or(0);
    work.spend(nodes * (15 + 8 * kind.rows.len()));
    // On the way to the optimum any improving set will do; the table is for when there is none.
    let unsettled = !whole && (knapsack.found.is_empty() || question.floor == 0);
    if unsettled
        && kind.rows.len() == 1
        && let Some(answer) = table(&knapsack.entries, kind.rows[0].capacity, work)
    {
        return answer;
    }
    let mut patterns = knapsack.found;
    patterns.reverse();
    Priced { bound: if whole { knapsack.best } else { root.max(knapsack.best) }, patterns }
}

/// Chooses the surrogate, sorts by value per surrogate weight; its capacity and root bound.
fn surrogate(entries: &mut [Entry], capacities: &[i64]) -> (i64, i64) {
    let rows = capacities.len();
    let mut best: Option<(i64, Vec<i64>)> = None;
    let mut offer = |entries: &mut [Entry], factors: Vec<i64>| {
        let capacity = mix(entries, capacities, &factors);
        let root = fractional(entries, capacity, i64::MAX);
        if best.as_ref().is_none_or(|(old, _)| root < *old) {
            best = Some((root, factors));
        }
    };
    for row in 0..rows {
        let mut single = vec![0; rows];
        single[row] = 1;
        offer(entries, single);
    }
    // Mixtures bound better where several rows are tight. Rows that the fractional filling
    // overdraws gain weight and those it leaves slack lose it, step by step.
    if rows > 1 {
        let mut factors = vec![256; rows];
        for step in 0..16 {
            offer(entries, factors.clone());
            let used = usage(entries, capacities, &factors);
            for (factor, used) in factors.iter_mut().zip(used) {
                let pulled = *factor * used / SCALE;
                let damping = 1 + step / 4;
                *factor = ((*factor * damping + pulled) / (damping + 1)).clamp(0, 4096);
            }
            if factors.iter().all(|&factor| factor == 0) {
                break;
            }
        }
    }
    let (root, factors) = best.unwrap_or((0, vec![1; rows]));
    (mix(entries, capacities, &factors), root)
}

/// How much of each row's scaled capacity the filling of the mixture takes, its last in part.
fn usage(entries: &[Entry], capacities: &[i64], factors: &[i64]) -> Vec<i64> {
    let mut used = vec![0; capacities.len()];
    let mut room: i64 = factors.iter().sum::<i64>() * SCALE;
    for entry in entries {
        let most = i64::try_from(entry.most).unwrap_or(i64::MAX);
        let whole = room.checked_div(entry.surrogate).map_or(most, |fits| fits.min(most));
        let rest = if whole < most { room - whole * entry.surrogate } else { 0 };
        for ((used, &weight), &capacity) in used.iter_mut().zip(&entry.weights).zip(capacities) {
            let own = scaled(weight, capacity);
            let part = i128::from(own) * i128::from(rest) / i128::from(entry.surrogate.max(1));
            *used += whole * own + i64::try_from(part).unwrap_or(0);
        }
        if whole < most {
            break;
        }
        room -= whole * entry.surrogate;
    }
    used
}

/// Sets the surrogate weights to a mixture of rows and sorts by value per weight; its capacity.
fn mix(entries: &mut [Entry], capacities: &[i64], factors: &[i64]) -> i64 {
    let mut mixed = factors.iter().enumerate().filter(|(_, factor)| **factor > 0);
    let capacity = if let (Some((row, _)), None) = (mixed.next(), mixed.next()) {
        for entry in entries.iter_mut() {
            entry.surrogate = entry.weights[row];
        }
        capacities[row]
    } else {
        for entry in entries.iter_mut() {
            let rows = factors.iter().zip(&entry.weights).zip(capacities);
            entry.surrogate =
                rows.map(|((&factor, &weight), &capacity)| factor * scaled(weight, capacity)).sum();
        }
        factors.iter().sum::<i64>() * SCALE
    };
    entries.sort_by(|a, b| {
        let one = i128::from(a.profit) * i128::from(b.surrogate);
        let two = i128::from(b.profit) * i128::from(a.surrogate);
        two.cmp(&one).then(b.surrogate.cmp(&a.surrogate)).then(a.class.cmp(&b.class))
    });
    capacity
}

/// Weight as a share of the capacity, rounded down.
fn scaled(weight: i64, capacity: i64) -> i64 {
    let share = i128::from(weight) * i128::from(SCALE) / i128::from(capacity.max(1));
    i64::try_from(share).unwrap_or(i64::MAX / 64)
}

/// The value of filling `room` with the sorted entries, the last in part; stops early once it
/// exceeds `enough`.
fn fractional(entries: &[Entry], room: i64, enough: i64) -> i64 {
    let (mut room, mut value) = (room, 0);
    for entry in entries {
        let most = i64::try_from(entry.most).unwrap_or(i64::MAX);
        let whole = if entry.surrogate == 0 { most } else { most.min(room / entry.surrogate) };
        value += whole * entry.profit;
        room -= whole * entry.surrogate;
        if whole < most {
            return value + portion(entry.profit, room, entry.surrogate);
        }
        if value > enough {
            return value;
        }
    }
    value
}

/// `profit * room / weight`, rounded down; in the narrow type where it can hold the product.
fn portion(profit: i64, room: i64, weight: i64) -> i64 {
    if let Some(product) = profit.checked_mul(room) {
        return product / weight;
    }
    let wide = i128::from(profit) * i128::from(room) / i128::from(weight);
    i64::try_from(wide).unwrap_or(i64::MAX / 4)
}

impl Knapsack {
    /// Tries every set of the entries from `start` on; whether the search was finished.
    fn search(&mut self, start: usize, value: i64, room: i64) -> bool {
        for index in start..self.entries.len() {
            if self.room[0] < self.least[index] {
                return true;
            }
            let more = fractional(&self.entries[index..], room, self.best - value);
            if value + more <= self.best {
                return true;
            }
            if self.nodes == 0 {
                return false;
            }
            self.nodes -= 1;
            let entry = &self.entries[index];
            let fits = entry
                .weights
                .iter()
                .zip(&self.room)
                .filter(|&(&weight, _)| weight > 0)
                .map(|(weight, room)| room / weight)
                .min()
                .and_then(|most| usize::try_from(most).ok())
                .unwrap_or(usize::MAX)
                .min(entry.most);
            let (profit, surrogate) = (entry.profit, entry.surrogate);
            for count in (1..=fits).rev() {
                let times = i64::try_from(count).unwrap_or(i64::MAX);
                self.shift(index, -times);
                self.taken.push((self.entries[index].class, count));
                let worth = value + times * profit;
                if worth > self.best {
                    self.best = worth;
                    self.found.push((worth, self.taken.clone()));
                }
                let whole = self.search(index + 1, worth, room - times * surrogate);
                self.taken.pop();
                self.shift(index, times);
                if !whole {
                    return false;
                }
            }
        }
        true
    }

    fn shift(&mut self, index: usize, times: i64) {
        for (room, weight) in self.room.iter_mut().zip(&self.entries[index].weights) {
            *room += times * weight;
        }
    }
}

/// The best set by dynamic programming over one row, where the table is small enough.
fn table(entries: &[Entry], capacity: i64, work: &mut Work) -> Option<Priced> {
    let size = usize::try_from(capacity).ok()? + 1;
    let mut copies: Vec<(usize, usize)> = Vec::new();
    for (index, entry) in entries.iter().enumerate() {
        let weight = usize::try_from(entry.weights[0]).ok()?;
        let most = (size - 1).checked_div(weight).unwrap_or(entry.most).min(entry.most);
        copies.extend(std::iter::repeat_n((index, weight), most));
    }
    if copies.len().saturating_mul(size) > TABLE {
        return None;
    }
    work.spend(copies.len() * size);
    let words = size / 64 + 1;
    let mut best = vec![0_i64; size];
    let mut taken = vec![0_u64; words * copies.len()];
    for (rank, &(index, weight)) in copies.iter().enumerate() {
        let profit = entries[index].profit;
        for sum in (weight..size).rev() {
            let with = best[sum - weight] + profit;
            if with > best[sum] {
                best[sum] = with;
                taken[rank * words + sum / 64] |= 1 << (sum % 64);
            }
        }
    }
    let mut sum = size - 1;
    let mut pattern: Pattern = Vec::new();
    for (rank, &(index, weight)) in copies.iter().enumerate().rev() {
        if taken[rank * words + sum / 64] >> (sum % 64) & 1 == 1 {
            sum -= weight;
            match pattern.last_mut() {
                Some((class, count)) if *class == entries[index].class => *count += 1,
                _ => pattern.push((entries[index].class, 1)),
            }
        }
    }
    let bound = best[size - 1];
    Some(Priced { bound, patterns: vec![(bound, pattern)] })
}
