//! Pricing is a knapsack: the most valuable set that the rows of one box allow, in whole numbers.
//!
//! Branch and bound over classes in order of value per weight (Horowitz and Sahni 1974), by a
//! surrogate of the rows (Glover 1965): the row, or weighted sum of rows, that bounds the root
//! best. Weights of summed rows are rounded down to a common capacity. That relaxes them, so the
//! bound stays valid. Where a single fine row is too hard for the search, a table by dynamic
//! programming guides it. The answer's bound never rests on anything but integers. (Both papers
//! from memory.)
//!
//! A group with a price is a setup: the first of its units in a box pays for it. Classes are then tried group
//! by group, and the table, which knows whether the group at hand is paid for, guides the search from the start.

use super::knapsack_table::{Coarse, Ware};
use crate::load::engine::model::effort::Purse;
use crate::load::engine::model::task::Task;

/// Counts by class.
pub(crate) type Pattern = Vec<(usize, usize)>;

/// The answer to a pricing question.
#[derive(Clone, Debug)]
pub(crate) struct Pricing {
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
    /// What a minor unit of a group's price takes off; nought leaves groups aside.
    pub(crate) wish: i64,
}

/// Capacity to which summed rows are scaled.
const SCALE: i64 = 1 << 22;
/// Cells of room in the tables of ceilings that are tried one after another.
const CELLS: [i64; 3] = [1 << 12, 1 << 15, 1 << 18];
/// Search nodes before a single row gets its first table.
const FIRST_NODES: u64 = 3000;
/// Further sets are sought among the classes that the sets before leave over.
const ROUNDS: usize = 10;
/// Search nodes of each such look.
const ROUND_NODES: u64 = 2000;

struct Entry {
    class: usize,
    profit: i64,
    /// The groups it touches, by number in [`Groups`].
    groups: Vec<usize>,
    most: usize,
    surrogate: i64,
    weights: Vec<i64>,
}

/// The groups that a set may touch.
#[derive(Default)]
struct Groups {
    /// What touching one takes off.
    tolls: Vec<i64>,
    /// How many units of it are taken.
    taken: Vec<usize>,
}

impl Groups {
    /// The groups of the classes asked for, which the entries are told.
    fn of(question: &Question<'_>, entries: &mut [Entry]) -> Self {
        let task = question.task;
        let mut groups = Self::default();
        let mut numbers: Vec<Option<usize>> = vec![None; task.groups.len()];
        for entry in entries.iter_mut().filter(|_| question.wish > 0) {
            for &group in &task.units[task.classes[entry.class][0]].groups {
                let number = *numbers[group].get_or_insert_with(|| {
                    groups.tolls.push(task.groups[group].saturating_mul(question.wish));
                    groups.tolls.len() - 1
                });
                entry.groups.push(number);
            }
        }
        groups.taken = vec![0; groups.tolls.len()];
        groups
    }

    /// Brings the entries of each group together, the groups in the order of their first entry.
    fn gather(&self, entries: &mut [Entry]) {
        let mut first = vec![usize::MAX; self.tolls.len()];
        let mut order: Vec<usize> = Vec::with_capacity(entries.len());
        for (rank, entry) in entries.iter().enumerate() {
            order.push(entry.groups.first().map_or(rank, |&group| {
                first[group] = first[group].min(rank);
                first[group]
            }));
        }
        let mut ranks = order.into_iter();
        entries.sort_by_cached_key(|_| ranks.next());
    }

    fn ware(&self, entry: &Entry) -> Ware {
        Ware {
            weight: entry.surrogate,
            profit: entry.profit,
            most: entry.most,
            group: entry.groups.first().map(|&group| (group, self.tolls[group])),
        }
    }

    /// Takes so many units; what the groups they touch first take off.
    fn take(&mut self, entry: &Entry, count: usize) -> i64 {
        let mut toll = 0;
        for &group in &entry.groups {
            toll += if self.taken[group] == 0 { self.tolls[group] } else { 0 };
            self.taken[group] += count;
        }
        toll
    }

    fn give_back(&mut self, entry: &Entry, count: usize) {
        for &group in &entry.groups {
            self.taken[group] -= count;
        }
    }

    /// Whether the entry's own group is paid for.
    fn is_paid(&self, entry: &Entry) -> bool {
        entry.groups.first().is_some_and(|&group| self.taken[group] > 0)
    }
}

struct Knapsack {
    entries: Vec<Entry>,
    groups: Groups,
    /// Least first weight from this entry on: with less room in the first row nothing fits.
    least: Vec<i64>,
    room: Vec<i64>,
    taken: Vec<(usize, usize)>,
    best: i64,
    found: Vec<(i64, Pattern)>,
    nodes: u64,
    /// Ceilings by entry and surrogate room; the fractional filling does without.
    coarse: Option<Coarse>,
}

/// Answers a question.
pub(crate) fn price(question: &Question<'_>, work: &mut Purse) -> Pricing {
    let kind = &question.task.kinds[question.kind];
    let mut entries: Vec<Entry> = Vec::new();
    for (class, &profit) in question.profits.iter().enumerate() {
        let unit = question.task.classes[class][0];
        if profit > 0
            && question.demand[class] > 0
            && question.task.units[unit].allowed[question.kind]
        {
            let weights = kind.rows.iter().map(|row| row.weights[unit]).collect();
            let most = question.demand[class];
            entries.push(Entry { class, profit, groups: Vec::new(), most, surrogate: 0, weights });
        }
    }
    let groups = Groups::of(question, &mut entries);
    let capacities: Vec<i64> = kind.rows.iter().map(|row| row.capacity).collect();
    let (capacity, root) = surrogate(&mut entries, &capacities);
    groups.gather(&mut entries);
    let (rows, grouped) = (capacities.len(), !groups.tolls.is_empty());
    work.spend(400 * entries.len() * rows);
    let mut least = vec![i64::MAX; entries.len() + 1];
    for (index, entry) in entries.iter().enumerate().rev() {
        least[index] = least[index + 1].min(entry.weights[0]);
    }
    let first_nodes = match (grouped, rows) {
        (true, _) => 0,
        (false, 1) => question.nodes.min(FIRST_NODES),
        (false, _) => question.nodes,
    };
    let mut knapsack = Knapsack {
        entries,
        groups,
        least,
        room: capacities,
        taken: Vec::new(),
        best: question.floor,
        found: Vec::new(),
        nodes: first_nodes,
        coarse: None,
    };
    let mut root = root;
    let mut whole = root <= question.floor || (!grouped && knapsack.explore(capacity, rows, work));
    // One row that is too fine for the plain search gets ceilings, finer ones as it needs; so do groups.
    for cells in CELLS {
        if whole || (rows > 1 && !grouped) {
            break;
        }
        let wares: Vec<Ware> =
            knapsack.entries.iter().map(|entry| knapsack.groups.ware(entry)).collect();
        let Some(coarse) = Coarse::new(&wares, capacity, cells, work) else {
            break;
        };
        root = root.min(coarse.ceiling(0, false, capacity));
        knapsack.coarse = Some(coarse);
        knapsack.nodes = question.nodes;
        whole = root <= knapsack.best || knapsack.explore(capacity, rows, work);
    }
    // A search cut short has proven nothing below its root.
    let bound = if whole { knapsack.best } else { root.max(knapsack.best) };
    let mut patterns = std::mem::take(&mut knapsack.found);
    patterns.reverse();
    if rows == 1 && question.floor > 0 {
        let others = knapsack.others(&patterns, (capacity, question.floor), work);
        patterns.splice(patterns.len().min(1)..patterns.len().min(1), others);
    }
    Pricing { bound, patterns }
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
    /// Searches from the root as long as there are nodes; whether that was the end of it.
    fn explore(&mut self, capacity: i64, rows: usize, work: &mut Purse) -> bool {
        let before = self.nodes;
        let whole = self.search(0, 0, capacity);
        let nodes = usize::try_from(before - self.nodes).unwrap_or(0);
        work.spend(nodes * (15 + 8 * rows));
        whole
    }

    /// Sets above the floor among the classes that the best, and each of these, leaves.
    fn others(
        &mut self,
        best: &[(i64, Pattern)],
        (capacity, floor): (i64, i64),
        work: &mut Purse,
    ) -> Vec<(i64, Pattern)> {
        let mut others: Vec<(i64, Pattern)> = Vec::new();
        while let Some((_, last)) = others.last().or(best.first())
            && others.len() < ROUNDS
        {
            for entry in &mut self.entries {
                if last.iter().any(|&(class, _)| class == entry.class) {
                    entry.most = 0;
                }
            }
            self.best = floor;
            self.nodes = ROUND_NODES;
            self.explore(capacity, 1, work);
            let Some(next) = std::mem::take(&mut self.found).pop() else {
                break;
            };
            others.push(next);
        }
        others
    }

    /// The most that the entries from `start` on add in `room`.
    fn ceiling(&self, start: usize, room: i64, enough: i64) -> i64 {
        match &self.coarse {
            Some(coarse) => coarse.ceiling(start, self.groups.is_paid(&self.entries[start]), room),
            None => fractional(&self.entries[start..], room, enough),
        }
    }

    /// Tries every set of the entries from `start` on; whether the search was finished.
    fn search(&mut self, start: usize, value: i64, room: i64) -> bool {
        for index in start..self.entries.len() {
            if self.room[0] < self.least[index] {
                return true;
            }
            // No set of the entries from here on makes good what is missing.
            let more = self.ceiling(index, room, self.best - value);
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
                let (worth, left) = (value + times * profit, room - times * surrogate);
                let worth = worth - self.groups.take(&self.entries[index], count);
                let paid =
                    self.entries.get(index + 1).is_some_and(|next| self.groups.is_paid(next));
                if let Some(coarse) = &self.coarse
                    && worth + coarse.ceiling(index + 1, paid, left) <= self.best
                {
                    self.groups.give_back(&self.entries[index], count);
                    continue;
                }
                self.shift(index, -times);
                self.taken.push((self.entries[index].class, count));
                if worth > self.best {
                    self.best = worth;
                    self.found.push((worth, self.taken.clone()));
                }
                let whole = self.search(index + 1, worth, left);
                self.groups.give_back(&self.entries[index], count);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::engine::model::effort::Dice;
    use crate::load::engine::model::problem::{Grouping, Piece, Problem};
    use crate::load::engine::model::rows::Row;
    use crate::load::engine::testing::{box_kind, piece, task_of};

    #[test]
    fn the_first_unit_of_a_group_pays_for_it() {
        let mut dice = Dice::new(11);
        for round in 0..400 {
            let mut draw =
                |least: i64, most: usize| least + i64::try_from(dice.below(most)).unwrap();
            let mut problem = Problem {
                kinds: vec![box_kind(60 + draw(0, 40), 10, 10, 1)],
                groups: (0..3).map(|_| Grouping::Wish { price: draw(1, 9) }).collect(),
                ..Problem::default()
            };
            // Every other round the floor has rows of its own.
            for _ in 0..9 {
                let (length, width) =
                    if round % 2 == 0 { (1, 1) } else { (draw(1, 9), draw(1, 5)) };
                let group = usize::try_from(draw(0, 4)).unwrap();
                let group = (group < 3).then_some(group);
                problem.pieces.push(Piece { group, ..piece(draw(5, 30), length, width) });
            }
            let task = task_of(&problem);
            let classes = task.classes.len();
            let profits: Vec<i64> = (0..classes).map(|_| draw(1, 60)).collect();
            let wish = draw(0, 5);
            let kind = &task.kinds[0];
            let net = |units: &[usize]| {
                let mut groups: Vec<usize> =
                    units.iter().flat_map(|&unit| task.units[unit].groups.clone()).collect();
                groups.sort_unstable();
                groups.dedup();
                let tolls: i64 = groups.iter().map(|&group| task.groups[group] * wish).sum();
                units.iter().map(|&unit| profits[task.units[unit].class]).sum::<i64>() - tolls
            };
            let fits = |units: &[usize]| {
                let load = |row: &Row| units.iter().map(|&unit| row.weights[unit]).sum::<i64>();
                units.iter().all(|&unit| task.units[unit].allowed[0])
                    && kind.rows.iter().all(|row| load(row) <= row.capacity)
            };
            let sets = (0_usize..1 << task.units.len()).map(|bits| {
                (0..task.units.len()).filter(|unit| bits >> unit & 1 == 1).collect::<Vec<usize>>()
            });
            let true_best =
                sets.filter(|units| fits(units)).map(|units| net(&units)).max().unwrap();
            let demand = task.demand();
            let question = |nodes| Question {
                task: &task,
                kind: 0,
                profits: &profits,
                demand: &demand,
                floor: 0,
                nodes,
                wish,
            };
            let priced = price(&question(100_000), &mut Purse::new(u64::MAX));
            assert_eq!(priced.bound, true_best.max(0), "round {round}: {problem:?}");
            assert!(price(&question(2), &mut Purse::new(u64::MAX)).bound >= true_best);
        }
    }

    #[test]
    fn a_fine_row_is_priced_exactly_where_the_plain_search_gives_up() {
        // A hundred masses of a fifth to a third of the box, worth about what they weigh.
        let mut dice = Dice::new(3);
        let mut draw = |least: i64, most| least + i64::try_from(dice.below(most)).unwrap();
        let masses: Vec<i64> = (0..100).map(|_| draw(20_000, 15_000)).collect();
        let problem = Problem {
            pieces: masses.iter().map(|&mass| piece(mass, 1, 1)).collect(),
            kinds: vec![box_kind(100_000, 1000, 1, 1)],
            ..Problem::default()
        };
        let task = task_of(&problem);
        let mass = |class: usize| task.units[task.classes[class][0]].mass;
        let classes = task.classes.len();
        let profits: Vec<i64> =
            (0..classes).map(|class| mass(class) * 1000 + draw(0, 300_000)).collect();
        let demand: Vec<usize> = task.demand();
        let mut best = vec![0; 100_001];
        for (class, &count) in demand.iter().enumerate() {
            let step = usize::try_from(mass(class)).unwrap();
            for _ in 0..count {
                for sum in (step..best.len()).rev() {
                    best[sum] = best[sum].max(best[sum - step] + profits[class]);
                }
            }
        }
        let question = |floor, nodes| Question {
            task: &task,
            kind: 0,
            profits: &profits,
            demand: &demand,
            floor,
            nodes,
            wish: 0,
        };
        let true_best = best[100_000];
        let priced = price(&question(0, 5000), &mut Purse::new(u64::MAX));
        assert_eq!((priced.bound, priced.patterns[0].0), (true_best, true_best));
        // Nothing is worth more, and too few nodes leave the bound on the safe side.
        let none = price(&question(true_best, 5000), &mut Purse::new(u64::MAX));
        assert_eq!((none.bound, none.patterns.len()), (true_best, 0));
        assert!(price(&question(0, 1), &mut Purse::new(u64::MAX)).bound >= true_best);
        // Asked for what beats a floor, it adds sets of other classes than the best has.
        let several = price(&question(true_best * 9 / 10, 5000), &mut Purse::new(u64::MAX));
        let own = |at: usize| several.patterns[at].1.iter().map(|&(class, _)| class);
        assert_eq!(several.bound, true_best);
        assert!(own(1).all(|class| own(0).all(|other| other != class)));
    }
}
