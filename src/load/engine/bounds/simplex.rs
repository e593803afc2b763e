//! The revised simplex, primal and dual, with an explicit inverse of the basis. The one file with
//! floats.
//!
//! Its duals only suggest weights and its solution only suggests boxes. The weights leave as
//! whole numbers, and what is proven with them is proven in whole numbers by others.
#![expect(
    clippy::float_arithmetic,
    clippy::as_conversions,
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    reason = "the linear program only suggests; no proof rests on it"
)]

use crate::load::engine::model::effort::Purse;

/// Largest dual after scaling.
const TOP: f64 = (1_i64 << 30) as f64;
/// How far smoothed duals go towards the program's in one step.
const NEARER: f64 = 0.4;
/// Pivots between two fresh inverses.
const FRESH: usize = 400;

/// Columns end to end: quick to scan and to copy.
#[derive(Clone, Default)]
struct Columns {
    costs: Vec<f64>,
    /// Where each column's entries end.
    ends: Vec<usize>,
    entries: Vec<(usize, f64)>,
}

impl Columns {
    fn push(&mut self, cost: f64, entries: impl IntoIterator<Item = (usize, f64)>) {
        self.costs.push(cost);
        self.entries.extend(entries);
        self.ends.push(self.entries.len());
    }

    fn entries(&self, column: usize) -> &[(usize, f64)] {
        let start = column.checked_sub(1).map_or(0, |before| self.ends[before]);
        &self.entries[start..self.ends[column]]
    }

    /// The column's entries times `factors` by row.
    fn times(&self, column: usize, factors: &[f64]) -> f64 {
        self.entries(column).iter().map(|&(row, entry)| factors[row] * entry).sum()
    }
}

/// Cover each class at least `demand` times with patterns, at most `most` of each kind.
#[derive(Clone)]
pub(crate) struct Master {
    classes: usize,
    kinds: usize,
    demand: Vec<f64>,
    columns: Columns,
    /// Columns that may still be of use.
    live: Vec<usize>,
    /// First column that is a pattern.
    first: usize,
    basis: Vec<usize>,
    inverse: Vec<f64>,
    values: Vec<f64>,
    duals: Vec<f64>,
    /// Duals smoothed over the course of the program; empty before the first.
    calm: Vec<f64>,
    pivots: usize,
}

/// Duals as whole numbers, on one scale.
pub(crate) struct Prices {
    /// Worth of a unit by class, 0 to 2^30.
    pub(crate) classes: Vec<i64>,
    /// By kind: a pattern worth more than this would improve the program.
    pub(crate) kinds: Vec<i64>,
    /// Worth of a minor unit of a group's price, on the same scale; nought where groups are left aside.
    pub(crate) wish: i64,
}

impl Master {
    /// `missing` is the cost of leaving a unit uncovered.
    pub(crate) fn new(demand: &[usize], most: &[usize], missing: i64) -> Self {
        let (classes, kinds) = (demand.len(), most.len());
        let rows = classes + kinds;
        let mut columns = Columns::default();
        for row in 0..classes {
            columns.push(missing as f64, [(row, 1.0)]);
        }
        for row in classes..rows {
            columns.push(0.0, [(row, 1.0)]);
        }
        for row in 0..classes {
            columns.push(0.0, [(row, -1.0)]);
        }
        let demand: Vec<f64> =
            demand.iter().chain(most).enumerate().map(|(row, &d)| d as f64 + noise(row)).collect();
        let mut master = Master {
            classes,
            kinds,
            first: columns.costs.len(),
            live: (0..columns.costs.len()).collect(),
            columns,
            basis: (0..rows).collect(),
            inverse: vec![0.0; rows * rows],
            values: demand.clone(),
            demand,
            duals: vec![0.0; rows],
            calm: Vec::new(),
            pivots: 0,
        };
        for row in 0..rows {
            master.inverse[row * rows + row] = 1.0;
        }
        master
    }

    /// Adds a pattern of a kind; its number counts from 0 in order of adding.
    pub(crate) fn add(&mut self, kind: usize, cost: i64, pattern: &[(usize, usize)]) {
        self.live.push(self.columns.costs.len());
        let entries = pattern.iter().map(|&(class, count)| (class, count as f64));
        self.columns.push(cost as f64, entries.chain([(self.classes + kind, 1.0)]));
    }

    /// Takes a pattern out of what is to be covered, and its box; solve anew afterwards.
    pub(crate) fn take(&mut self, column: usize) {
        let column = self.first + column;
        for (row, step) in self.direction(column).into_iter().enumerate() {
            self.values[row] -= step;
        }
        for &(row, entry) in self.columns.entries(column) {
            self.demand[row] -= entry;
        }
        // Patterns with units that are gone are passed over; the pricing finds what is left of
        // them.
        let (columns, demand, first) = (&self.columns, &self.demand, self.first);
        let of_use =
            |&(row, entry): &(usize, f64)| row >= self.classes || entry < demand[row] + 0.5;
        self.live.retain(|&number| number < first || columns.entries(number).iter().all(of_use));
    }

    /// Allows other counts of each kind of box; solve anew afterwards.
    pub(crate) fn cap(&mut self, most: &[usize]) {
        let rows = self.basis.len();
        for (row, &count) in (self.classes..).zip(most) {
            let more = count as f64 + noise(row) - self.demand[row];
            self.demand[row] += more;
            for (at, value) in self.values.iter_mut().enumerate() {
                *value += more * self.inverse[at * rows + row];
            }
        }
    }

    /// Whether the solution leaves something uncovered.
    pub(crate) fn misses(&self) -> bool {
        let parts = self.basis.iter().zip(&self.values);
        parts.into_iter().any(|(&column, &value)| column < self.classes && value > 1e-5)
    }

    /// Pivots to an optimum over the columns at hand, or until the work runs dry.
    pub(crate) fn solve(&mut self, work: &mut Purse) {
        let rows = self.basis.len();
        self.price();
        while let Some(leaving) = self.negative() {
            work.spend(rows * rows + 16 * self.live.len());
            let Some(entering) = self.least_dear(leaving) else {
                break;
            };
            let direction = self.direction(entering);
            self.pivot(entering, leaving, &direction);
            self.count_pivot(work);
            if work.dry() {
                return;
            }
        }
        loop {
            work.spend(rows * rows + 8 * self.live.len());
            if work.dry() {
                return;
            }
            let Some(entering) = self.entering() else {
                return;
            };
            let direction = self.direction(entering);
            let Some(leaving) = self.leaving(&direction) else {
                return;
            };
            self.pivot(entering, leaving, &direction);
            self.count_pivot(work);
        }
    }

    fn count_pivot(&mut self, work: &mut Purse) {
        self.pivots += 1;
        if self.pivots.is_multiple_of(FRESH) {
            let rows = self.basis.len();
            work.spend(rows * rows * rows);
            self.refresh();
            self.price();
        }
    }

    /// The row with the most negative value: taking part of a box as a whole box leaves such rows.
    fn negative(&self) -> Option<usize> {
        let rows = 0..self.values.len();
        rows.filter(|&row| self.values[row] < -1e-7)
            .min_by(|&a, &b| self.values[a].total_cmp(&self.values[b]))
    }

    /// The column that makes good a negative row at the least price.
    fn least_dear(&self, leaving: usize) -> Option<usize> {
        let rows = self.basis.len();
        let line = &self.inverse[leaving * rows..(leaving + 1) * rows];
        let mut best: Option<(f64, f64, usize)> = None;
        for &number in &self.live {
            let step = -self.columns.times(number, line);
            if step > 1e-7 {
                let ratio = self.reduced(number).max(0.0) / step;
                let better = best.is_none_or(|(old, size, _)| {
                    ratio < old - 1e-12 || (ratio <= old + 1e-12 && step > size)
                });
                if better {
                    best = Some((ratio, step, number));
                }
            }
        }
        best.map(|(_, _, number)| number)
    }

    /// Scaled duals; see [`Prices`]. Where groups have a price, a minor unit is a whole number on the scale.
    pub(crate) fn prices(&self, costs: &[i64], priced: bool) -> Prices {
        self.scaled(&self.duals, costs, priced)
    }

    /// The same, of smoothed duals: they follow the program's own step by step. Its own leap from
    /// corner to corner, and patterns found on the way stay useful longer.
    pub(crate) fn calm(&mut self, costs: &[i64], priced: bool) -> Prices {
        if self.calm.is_empty() {
            self.calm.clone_from(&self.duals);
        }
        for (calm, dual) in self.calm.iter_mut().zip(&self.duals) {
            *calm += NEARER * (dual - *calm);
        }
        self.scaled(&self.calm, costs, priced)
    }

    fn scaled(&self, duals: &[f64], costs: &[i64], priced: bool) -> Prices {
        let top = duals[..self.classes].iter().copied().fold(1e-12, f64::max);
        let wish = if priced { (TOP / top).floor().clamp(0.0, TOP) } else { 0.0 };
        let whole = |value: f64| {
            let scaled = if wish > 0.0 { value * wish } else { value / top * TOP };
            scaled.clamp(-4e18, 4e18) as i64
        };
        Prices {
            wish: wish as i64,
            classes: duals[..self.classes].iter().map(|&dual| whole(dual.max(0.0))).collect(),
            kinds: (0..self.kinds)
                .map(|kind| {
                    let own = costs[kind] as f64 - duals[self.classes + kind].min(0.0);
                    whole(own + 1e-9 * own.abs().max(top))
                })
                .collect(),
        }
    }

    /// Patterns in the solution by number, in millionths, largest first.
    pub(crate) fn solution(&self) -> Vec<(usize, i64)> {
        let mut parts: Vec<(usize, i64)> = self
            .basis
            .iter()
            .zip(&self.values)
            .filter(|&(&column, _)| column >= self.first)
            .map(|(&column, &value)| (column - self.first, (value * 1e6).round() as i64))
            .filter(|&(_, value)| value > 0)
            .collect();
        parts.sort_by_key(|&(column, value)| (-value, column));
        parts
    }

    fn price(&mut self) {
        let rows = self.basis.len();
        self.duals.fill(0.0);
        for (row, &column) in self.basis.iter().enumerate() {
            let cost = self.columns.costs[column];
            if cost != 0.0 {
                let line = &self.inverse[row * rows..(row + 1) * rows];
                for (dual, entry) in self.duals.iter_mut().zip(line) {
                    *dual += cost * entry;
                }
            }
        }
    }

    /// What a column costs beyond what its duals are worth.
    fn reduced(&self, column: usize) -> f64 {
        self.columns.costs[column] - self.columns.times(column, &self.duals)
    }

    fn entering(&self) -> Option<usize> {
        let mut best = (-1e-9, None);
        for &number in &self.live {
            let reduced = self.reduced(number) / (1.0 + self.columns.costs[number].abs());
            if reduced < best.0 {
                best = (reduced, Some(number));
            }
        }
        best.1
    }

    fn direction(&self, entering: usize) -> Vec<f64> {
        let rows = self.basis.len();
        (0..rows)
            .map(|row| {
                let line = &self.inverse[row * rows..(row + 1) * rows];
                self.columns.times(entering, line)
            })
            .collect()
    }

    fn leaving(&self, direction: &[f64]) -> Option<usize> {
        let mut best: Option<(f64, usize)> = None;
        for (row, &step) in direction.iter().enumerate() {
            if step > 1e-9 {
                let ratio = self.values[row].max(0.0) / step;
                let better = best.is_none_or(|(old, at)| {
                    ratio < old - 1e-12 || (ratio <= old + 1e-12 && step > direction[at])
                });
                if better {
                    best = Some((ratio, row));
                }
            }
        }
        best.map(|(_, row)| row)
    }

    fn pivot(&mut self, entering: usize, leaving: usize, direction: &[f64]) {
        let rows = self.basis.len();
        let step = direction[leaving];
        let line: Vec<f64> = self.inverse[leaving * rows..(leaving + 1) * rows]
            .iter()
            .map(|entry| entry / step)
            .collect();
        let value = self.values[leaving] / step;
        let reduced = self.reduced(entering);
        for (dual, own) in self.duals.iter_mut().zip(&line) {
            *dual += reduced * own;
        }
        for (row, &factor) in direction.iter().enumerate() {
            if row != leaving && factor != 0.0 {
                let target = &mut self.inverse[row * rows..(row + 1) * rows];
                for (entry, own) in target.iter_mut().zip(&line) {
                    *entry -= factor * own;
                }
                self.values[row] -= factor * value;
            }
        }
        self.inverse[leaving * rows..(leaving + 1) * rows].copy_from_slice(&line);
        self.values[leaving] = value;
        self.basis[leaving] = entering;
    }

    /// The inverse of the basis anew, by elimination with row exchanges.
    fn refresh(&mut self) {
        let rows = self.basis.len();
        let mut matrix = vec![0.0; rows * rows];
        for (at, &column) in self.basis.iter().enumerate() {
            for &(row, entry) in self.columns.entries(column) {
                matrix[row * rows + at] = entry;
            }
        }
        let mut inverse = vec![0.0; rows * rows];
        for row in 0..rows {
            inverse[row * rows + row] = 1.0;
        }
        for at in 0..rows {
            let pivot = (at..rows)
                .max_by(|&a, &b| {
                    let one: f64 = matrix[a * rows + at];
                    one.abs().total_cmp(&matrix[b * rows + at].abs())
                })
                .unwrap_or(at);
            let size: f64 = matrix[pivot * rows + at];
            if size.abs() < 1e-11 {
                return;
            }
            for column in 0..rows {
                matrix.swap(at * rows + column, pivot * rows + column);
                inverse.swap(at * rows + column, pivot * rows + column);
            }
            for list in [&mut matrix, &mut inverse] {
                for entry in &mut list[at * rows..(at + 1) * rows] {
                    *entry /= size;
                }
            }
            let lines = (
                matrix[at * rows..(at + 1) * rows].to_vec(),
                inverse[at * rows..(at + 1) * rows].to_vec(),
            );
            for row in 0..rows {
                let factor = matrix[row * rows + at];
                if row != at && factor != 0.0 {
                    for column in 0..rows {
                        matrix[row * rows + column] -= factor * lines.0[column];
                        inverse[row * rows + column] -= factor * lines.1[column];
                    }
                }
            }
        }
        self.inverse = inverse;
        for row in 0..rows {
            let line = &self.inverse[row * rows..(row + 1) * rows];
            self.values[row] = line.iter().zip(&self.demand).map(|(a, b)| a * b).sum();
        }
    }
}

/// A trace of noise on the right-hand side keeps the pivots from standing still.
fn noise(row: usize) -> f64 {
    ((row * 618_033 % 1_000_003) as f64) * 1e-13
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_patterns_share_a_demand() {
        // Seven of A, three of B; patterns (2 A, cost 3), (1 A + 1 B, cost 4): 2 and 3 of them.
        let mut master = Master::new(&[7, 3], &[9], 1000);
        master.add(0, 3, &[(0, 2)]);
        master.add(0, 4, &[(0, 1), (1, 1)]);
        master.solve(&mut Purse::new(u64::MAX));
        let parts = master.solution();
        assert_eq!(parts.len(), 2);
        assert_eq!((parts[0].0, (parts[0].1 + 50) / 100), (1, 30_000));
        assert_eq!((parts[1].0, (parts[1].1 + 50) / 100), (0, 20_000));
        // Duals 1.5 and 2.5.
        let prices = master.prices(&[3], false);
        assert_eq!(prices.classes[1], 1 << 30);
        assert!((prices.classes[0] - (1_i64 << 30) * 3 / 5).abs() < 100);
    }

    #[test]
    fn what_is_taken_is_covered_no_more() {
        let mut master = Master::new(&[7, 3], &[9], 1000);
        master.add(0, 3, &[(0, 2)]);
        master.add(0, 4, &[(0, 1), (1, 1)]);
        let work = &mut Purse::new(u64::MAX);
        master.solve(work);
        // Four boxes of two A: more than the solution has, so the dual simplex mends it.
        for _ in 0..4 {
            master.take(0);
            master.solve(work);
        }
        let parts = master.solution();
        assert_eq!(parts.len(), 1);
        assert_eq!((parts[0].0, (parts[0].1 + 50) / 100), (1, 30_000));
        assert!(!master.misses());
        // Three boxes more leave two, and three of B need one each.
        for _ in 0..3 {
            master.take(0);
            master.solve(work);
        }
        assert!(master.misses());
    }

    #[test]
    fn fewer_boxes_are_mended_from_where_it_stood() {
        let mut master = Master::new(&[6], &[9, 9], 1000);
        master.add(0, 3, &[(0, 2)]);
        master.add(1, 5, &[(0, 3)]);
        let work = &mut Purse::new(u64::MAX);
        master.solve(work);
        let whole = |master: &Master| {
            let parts = master.solution().into_iter();
            parts.map(|(column, value)| (column, (value + 50) / 100)).collect::<Vec<_>>()
        };
        assert_eq!(whole(&master), vec![(0, 30_000)]);
        master.cap(&[0, 9]);
        master.solve(work);
        assert_eq!((whole(&master), master.misses()), (vec![(1, 20_000)], false));
        master.cap(&[0, 1]);
        master.solve(work);
        assert!(master.misses());
    }

    #[test]
    fn smoothed_duals_follow_the_programs_own() {
        let mut master = Master::new(&[7, 3], &[9], 1000);
        master.add(0, 3, &[(0, 2)]);
        master.add(0, 4, &[(0, 1), (1, 1)]);
        let work = &mut Purse::new(u64::MAX);
        master.solve(work);
        assert_eq!(master.calm(&[3], false).classes, master.prices(&[3], false).classes);
        master.add(0, 3, &[(0, 1), (1, 1)]);
        master.solve(work);
        let own = master.prices(&[3], false).classes;
        let far = |calm: &[i64]| calm.iter().zip(&own).any(|(a, b)| (a - b).abs() > 1000);
        assert!(far(&master.calm(&[3], false).classes));
        for _ in 0..60 {
            master.calm(&[3], false);
        }
        assert!(!far(&master.calm(&[3], false).classes));
    }
}
