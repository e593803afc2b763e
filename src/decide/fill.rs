//! The most valuable choice of units under several capacities: a 0-1 knapsack with several rows, by branch and
//! bound (Martello and Toth 1990, chapter 3, from memory). A node is bounded by the least of the rows' fractional
//! fillings.

/// A capacity over units.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// What each unit takes of it.
    pub(super) weights: Vec<i128>,
    /// What there is.
    pub(super) capacity: i128,
}

/// What a search found.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Filled {
    /// The most valuable choice above the floor, its units ascending, and its value.
    Best(Vec<usize>, i128),
    /// No choice is above the floor.
    Nothing,
    /// The work ran out; no choice is worth more than this.
    Open(i128),
}

/// The search for one set of values.
struct Search<'a> {
    values: &'a [i128],
    rows: &'a [Row],
    /// The alike unit before each: of alike ones, the first are taken first.
    before: &'a [Option<usize>],
    /// The units in the order in which they are decided.
    order: Vec<usize>,
    /// For each row: the units worth something, by value for what they take of it, the best first.
    by_row: Vec<Vec<usize>>,
    is_barred: &'a dyn Fn(&[usize]) -> bool,
    best: Option<(Vec<usize>, i128)>,
    floor: i128,
    /// Units that may not be taken any more, or are taken.
    decided: Vec<bool>,
    taken: Vec<usize>,
    left: Vec<i128>,
    steps: u64,
}

/// Finds the most valuable choice worth more than `floor` that keeps within the rows and is not barred. A barred
/// choice does not bar those with more units. A unit is taken only with the one `before` it, which has its value and
/// its weights: of alike choices one is looked at.
pub(super) fn fill(
    (values, before): (&[i128], &[Option<usize>]),
    rows: &[Row],
    floor: i128,
    is_barred: &dyn Fn(&[usize]) -> bool,
    steps: u64,
) -> Filled {
    let left: Vec<i128> = rows.iter().map(|row| row.capacity).collect();
    if left.iter().any(|left| *left < 0) {
        return Filled::Nothing;
    }
    let weight = |row: &Row, unit: usize| row.weights.get(unit).copied().unwrap_or(0);
    let value = |unit: usize| values.get(unit).copied().unwrap_or(0);
    let fits = |unit: usize| rows.iter().all(|row| weight(row, unit) <= row.capacity);
    let (worth, rest): (Vec<usize>, Vec<usize>) =
        (0..values.len()).filter(|unit| fits(*unit)).partition(|unit| value(*unit) > 0);
    let by_row: Vec<Vec<usize>> = rows
        .iter()
        .map(|row| {
            let mut units = worth.clone();
            // Value over weight, crosswise; what takes nothing comes first.
            units.sort_by(|one, other| {
                let (a, b) = (value(*one) * weight(row, *other), value(*other) * weight(row, *one));
                b.cmp(&a).then(one.cmp(other))
            });
            units
        })
        .collect();
    // What costs more than it brings comes last: it may make a choice of one that is barred.
    let order = by_row.first().unwrap_or(&worth).iter().chain(&rest).copied().collect();
    let mut search = Search {
        values,
        rows,
        before,
        order,
        by_row,
        is_barred,
        best: None,
        floor,
        decided: vec![false; values.len()],
        taken: Vec::new(),
        left,
        steps,
    };
    let root = search.bound(0);
    search.branch(0, 0);
    match search.best {
        _ if search.steps == 0 => Filled::Open(root),
        Some((mut units, value)) => {
            units.sort_unstable();
            Filled::Best(units, value)
        }
        None => Filled::Nothing,
    }
}

impl Search<'_> {
    fn value(&self, unit: usize) -> i128 {
        self.values.get(unit).copied().unwrap_or(0)
    }

    /// What is taken with the least of the rows' fractional fillings of what is undecided, rounded up.
    fn bound(&self, taken: i128) -> i128 {
        let of_row = |((row, units), left): ((&Row, &Vec<usize>), &i128)| {
            let (mut left, mut sum) = (*left, taken);
            for unit in units.iter().filter(|unit| !self.decided.get(**unit).is_some_and(|is| *is))
            {
                let (weight, value) =
                    (row.weights.get(*unit).copied().unwrap_or(0), self.value(*unit));
                if weight <= left {
                    left -= weight;
                    sum += value;
                } else {
                    return sum + num_integer::Integer::div_ceil(&(value * left), &weight);
                }
            }
            sum
        };
        let rows = self.rows.iter().zip(&self.by_row).zip(&self.left);
        rows.map(of_row).min().unwrap_or(i128::MAX)
    }

    fn branch(&mut self, at: usize, worth: i128) {
        if self.steps == 0 {
            return;
        }
        self.steps -= 1;
        let least = self.best.as_ref().map_or(self.floor, |(_, best)| *best);
        if worth > least {
            let mut own = self.taken.clone();
            own.sort_unstable();
            if !(self.is_barred)(&own) {
                self.best = Some((own, worth));
            }
        }
        let least = self.best.as_ref().map_or(self.floor, |(_, best)| *best);
        let Some(unit) = self.order.get(at).copied() else { return };
        if self.bound(worth) <= least {
            return;
        }
        if let Some(decided) = self.decided.get_mut(unit) {
            *decided = true;
        }
        let weights: Vec<i128> =
            self.rows.iter().map(|row| row.weights.get(unit).copied().unwrap_or(0)).collect();
        let is_next = self.before.get(unit).copied().flatten();
        let is_next = is_next.is_none_or(|before| self.taken.contains(&before));
        if is_next && weights.iter().zip(&self.left).all(|(weight, left)| weight <= left) {
            self.put(unit, &weights, -1);
            self.branch(at + 1, worth + self.value(unit));
            self.put(unit, &weights, 1);
        }
        self.branch(at + 1, worth);
        if let Some(decided) = self.decided.get_mut(unit) {
            *decided = false;
        }
    }

    /// Takes a unit, or puts it back.
    fn put(&mut self, unit: usize, weights: &[i128], sign: i128) {
        for (left, weight) in self.left.iter_mut().zip(weights) {
            *left += sign * weight;
        }
        if sign < 0 {
            self.taken.push(unit);
        } else {
            self.taken.pop();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_most_valuable_choice_is_that_of_all_choices() {
        // All 2^10 choices of 200 random cases with two rows, every third choice barred.
        let mut state = 7u64;
        let mut next = |most: u64| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            i128::from((state >> 33) % most)
        };
        for _ in 0..200 {
            let values: Vec<i128> = (0..10).map(|_| next(40) - 5).collect();
            let mut row =
                || Row { weights: (0..10).map(|_| next(30)).collect(), capacity: next(120) };
            let rows = [row(), row()];
            let barred = |units: &[usize]| units.iter().sum::<usize>() % 3 == 1;
            let mut best = 0;
            for set in 0u32..1 << 10 {
                let units: Vec<usize> = (0..10).filter(|unit| set >> unit & 1 == 1).collect();
                let sum = |of: &[i128]| units.iter().map(|unit| of[*unit]).sum::<i128>();
                let fits = rows.iter().all(|row| sum(&row.weights) <= row.capacity);
                if fits && !barred(&units) {
                    best = best.max(sum(&values));
                }
            }
            let found = match fill((&values, &[]), &rows, 0, &barred, 1 << 20) {
                Filled::Best(units, value) => {
                    assert!(!barred(&units));
                    assert_eq!(units.iter().map(|unit| values[*unit]).sum::<i128>(), value);
                    value
                }
                Filled::Nothing => 0,
                Filled::Open(_) => panic!("the work suffices for ten units"),
            };
            assert_eq!(found, best);
        }
    }

    #[test]
    fn of_alike_choices_one_is_looked_at() {
        // Thirty alike units of which nine fit by their weight, and any nine are barred: eight are found, and the
        // work is far less than one step for each of the 14,307,150 choices of nine.
        let before: Vec<Option<usize>> = (0..30usize).map(|at| at.checked_sub(1)).collect();
        let row = Row { weights: vec![10; 30], capacity: 99 };
        let found = fill((&[7; 30], &before), &[row], 0, &|units| units.len() == 9, 1_000);
        assert_eq!(found, Filled::Best((0..8).collect(), 56));
    }
}
