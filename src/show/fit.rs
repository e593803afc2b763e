//! How a table of text fits a width: long cells go on under their row, and a table of too many columns
//! becomes two, each with the columns that say what a row is. What rows share stands in a line above them.

use std::collections::HashMap;
use std::rc::Rc;

use super::page::{Align, Column, Row, Table};
use crate::fault::{broken, columns, tied};

/// Columns that a word may take in a table before it is broken.
const LONGEST_WORD: usize = 24;

/// Rows by which the widths of columns are chosen.
const LOOKED_AT: usize = 500;

/// Before the rows under a line that they share, where there is room.
const INDENT: &str = "\u{a0}\u{a0}";

/// A table's cells as text, its heads first and its totals last.
pub(super) struct Grid {
    aligns: Vec<Align>,
    records: Vec<Vec<String>>,
    /// What rows share, each with the position of their first record.
    shared: Vec<(usize, String)>,
    has_totals: bool,
}

/// A table, or some columns of one, that fits. A cell may have several lines.
pub(super) struct Fitted {
    pub(super) aligns: Vec<Align>,
    pub(super) records: Vec<Vec<String>>,
    /// What rows share, in lines, each with the position of their first record.
    pub(super) shared: Vec<(usize, Vec<String>)>,
    pub(super) has_totals: bool,
    /// Columns of the terminal between two columns of the table.
    pub(super) gap: usize,
}

impl Grid {
    /// The cells of a table, figures tied to their units.
    pub(super) fn of(table: Table<'_>) -> Self {
        let columns = table.columns;
        let stands = |at: usize| columns.get(at).is_none_or(|column| column.above.is_none());
        let shown = |row: &Row<'_>| -> Vec<String> {
            let own = row.iter().enumerate().filter(|(at, _)| stands(*at));
            own.map(|(_, cell)| tied(&cell.shown())).collect()
        };
        let own = || columns.iter().filter(|column| column.above.is_none());
        let mut records: Vec<Vec<String>> = vec![own().map(|column| tied(&column.head)).collect()];
        let mut shared: Vec<(usize, String)> = Vec::new();
        for row in table.rows {
            let above = above(&columns, &row);
            let last = shared.last().map_or("", |(_, text)| text.as_str());
            if above != last {
                shared.push((records.len(), above));
            }
            records.push(shown(&row));
        }
        let has_totals = table.totals.is_some();
        records.extend(table.totals.iter().map(shown));
        let aligns = own().map(|column| column.align).collect();
        Self { aligns, records, shared, has_totals }
    }

    /// The table in parts of at most `width` columns. Rows stand back under what they share, unless that
    /// would make a part more.
    pub(super) fn fitted(mut self, width: usize) -> Vec<Fitted> {
        let parts = self.parts(width);
        if !self.shared.is_empty() {
            self.indent();
            if self.parts(width).len() > parts.len() {
                self.outdent();
            }
        }
        parts.iter().map(|part| self.fit(part, width)).collect()
    }

    /// The first cells of rows.
    fn firsts(&mut self) -> impl Iterator<Item = &mut String> {
        let rows = self.records.len() - usize::from(self.has_totals);
        self.records.iter_mut().take(rows).skip(1).filter_map(|record| record.first_mut())
    }

    fn indent(&mut self) {
        self.firsts().for_each(|cell| cell.insert_str(0, INDENT));
    }

    fn outdent(&mut self) {
        self.firsts().for_each(|cell| *cell = cell.split_off(INDENT.len()));
    }

    /// The columns of each part: as many as have room when their cells are wrapped.
    fn parts(&self, width: usize) -> Vec<Vec<usize>> {
        let count = self.aligns.len();
        // Those up to the first of words say what a row is.
        let keys =
            self.aligns.iter().position(|align| *align == Align::Left).map_or(1, |at| at + 1);
        let keys: Vec<usize> = (0..keys.min(count)).collect();
        let least: Vec<usize> = (0..count).map(|column| self.least(column)).collect();
        let fits = |part: &[usize]| sum(part, &least) + part.len() <= width + 1;
        let mut parts = Vec::new();
        let mut part = keys.clone();
        for column in keys.len()..count {
            part.push(column);
            if !fits(&part) && part.len() > keys.len() + 1 {
                part.pop();
                parts.push(std::mem::replace(&mut part, keys.clone()));
                part.push(column);
            }
        }
        parts.push(part);
        parts
    }

    /// The cells of a column, without its head.
    fn cells(&self, column: usize) -> impl Iterator<Item = &str> {
        self.records.iter().skip(1).filter_map(move |record| record.get(column)).map(String::as_str)
    }

    fn head(&self, column: usize) -> &str {
        self.records.first().and_then(|heads| heads.get(column)).map_or("", String::as_str)
    }

    /// What a column takes with no cell wrapped.
    fn natural(&self, column: usize) -> usize {
        let cells = self.cells(column).map(columns).max().unwrap_or(0);
        cells.max(columns(self.head(column)))
    }

    /// What a column takes when its cells are wrapped: its longest word.
    fn least(&self, column: usize) -> usize {
        let is_words = self.aligns.get(column) == Some(&Align::Left);
        let most = if is_words { LONGEST_WORD } else { usize::MAX };
        let word = |text: &str| text.split(' ').map(columns).max().unwrap_or(0).min(most);
        let cells = self.cells(column).map(word).max().unwrap_or(0);
        cells.max(word(self.head(column)))
    }

    /// Some columns, made to fit.
    fn fit(&self, part: &[usize], width: usize) -> Fitted {
        let mut widths: Vec<usize> = (0..self.aligns.len()).map(|at| self.natural(at)).collect();
        let gaps = part.len().saturating_sub(1);
        let gap = if sum(part, &widths) + 2 * gaps <= width { 2 } else { 1 };
        self.narrow(part, &mut widths, width.saturating_sub(gap * gaps));
        let own = |record: &Vec<String>| -> Vec<String> {
            let cell = |column: &usize| {
                let width = widths.get(*column).copied().unwrap_or(1).max(1);
                let text = record.get(*column).map_or("", String::as_str);
                if columns(text) <= width { text.to_owned() } else { lines(text, width).join("\n") }
            };
            part.iter().map(cell).collect()
        };
        Fitted {
            aligns: part.iter().filter_map(|column| self.aligns.get(*column).copied()).collect(),
            records: self.records.iter().map(own).collect(),
            shared: self
                .shared
                .iter()
                .map(|(at, text)| (*at, broken("", "  ", text, width)))
                .collect(),
            has_totals: self.has_totals,
            gap,
        }
    }

    /// Narrows columns until they have `room` together. The next one adds the fewest lines for each column saved;
    /// of equals it breaks its head rather than a cell; then it is the widest. A column is narrowed by one, or by
    /// all that is wanted: a path that is broken once may save it.
    fn narrow(&self, part: &[usize], widths: &mut [usize], room: usize) {
        let heights = &mut Heights { grid: self, known: HashMap::new() };
        let mut lines: Vec<Rc<[usize]>> =
            part.iter().map(|column| heights.of(*column, width_of(widths, *column))).collect();
        let least: Vec<usize> = part.iter().map(|column| self.least(*column)).collect();
        while let Some(over) = sum(part, widths).checked_sub(room).filter(|over| *over > 0) {
            let now = total(&lines, 0, lines.first().map_or(&[], |lines| lines));
            let mut best: Option<Narrowed> = None;
            for ((at, column), least) in part.iter().enumerate().zip(&least) {
                let from = width_of(widths, *column);
                let to = [from.checked_sub(1), from.checked_sub(over).filter(|_| over > 1)];
                for mut to in to.into_iter().flatten().filter(|to| to >= least) {
                    let own = heights.of(*column, to);
                    // What breaks once often leaves more room than was asked.
                    while from - to < over && to > *least && heights.of(*column, to - 1) == own {
                        to -= 1;
                    }
                    let more = total(&lines, at, &own).saturating_sub(now);
                    let cells = own.iter().skip(1).filter(|lines| **lines > 1).count();
                    let cost = (more * 1000 / (from - to), cells, usize::MAX - from);
                    if best.as_ref().is_none_or(|best| cost < best.cost) {
                        best = Some(Narrowed { cost, at, column: *column, to, lines: own });
                    }
                }
            }
            let Some(best) = best else { break };
            if let (Some(lines), Some(width)) =
                (lines.get_mut(best.at), widths.get_mut(best.column))
            {
                *lines = best.lines;
                *width = best.to;
            }
        }
        // Words that are still too long are broken.
        while sum(part, widths) > room {
            let widest = part.iter().copied().max_by_key(|column| width_of(widths, *column));
            match widest.and_then(|column| widths.get_mut(column)) {
                Some(width) if *width > 1 => *width -= 1,
                _ => break,
            }
        }
    }
}

/// A column as it may be narrowed next.
struct Narrowed {
    /// By which the next is chosen: lines more for each column saved, cells that break, and the wider first.
    cost: (usize, usize, usize),
    /// Its position in the part, and in the table.
    at: usize,
    column: usize,
    /// Its width then, and the lines that each cell takes.
    to: usize,
    lines: Rc<[usize]>,
}

/// How many lines the cells of columns take at the widths that were tried. Each is asked for again and again
/// while other columns are narrowed, and wrapping is the dear part of a page.
struct Heights<'a> {
    grid: &'a Grid,
    known: HashMap<(usize, usize), Rc<[usize]>>,
}

impl Heights<'_> {
    /// How many lines each cell of a column takes at a width, its head's first.
    fn of(&mut self, column: usize, width: usize) -> Rc<[usize]> {
        let own = || {
            let cells = std::iter::once(self.grid.head(column)).chain(self.grid.cells(column));
            // Many rows of a table hold the same words.
            let mut seen: HashMap<&str, usize> = HashMap::new();
            let mut height = |text| {
                let fits = || columns(text) <= width;
                let height = || if fits() { 1 } else { lines(text, width.max(1)).len() };
                *seen.entry(text).or_insert_with(height)
            };
            cells.take(LOOKED_AT).map(&mut height).collect()
        };
        Rc::clone(self.known.entry((column, width)).or_insert_with(own))
    }
}

/// What a row shares with its neighbours, in a line that ends in a colon.
fn above(columns: &[Column], row: &Row<'_>) -> String {
    let cells = columns.iter().zip(row).filter_map(|(column, cell)| {
        let (words, text) = (column.above?, cell.shown());
        let is_said = words.is_empty() || text.starts_with(words);
        (!text.is_empty())
            .then(|| if is_said { text.into_owned() } else { format!("{words} {text}") })
    });
    let cells: Vec<String> = cells.collect();
    if cells.is_empty() { String::new() } else { format!("{}:", cells.join(", ")) }
}

/// A cell in lines; those of a row that stands back stand back all.
fn lines(text: &str, width: usize) -> Vec<String> {
    match text.strip_prefix(INDENT) {
        Some(rest) if width > 2 * INDENT.chars().count() => broken(INDENT, INDENT, rest, width),
        _ => broken("", "", text, width),
    }
}

fn width_of(widths: &[usize], column: usize) -> usize {
    widths.get(column).copied().unwrap_or(0)
}

fn sum(part: &[usize], widths: &[usize]) -> usize {
    part.iter().map(|column| width_of(widths, *column)).sum()
}

/// The lines of all rows, with those of one column in place of its own.
fn total(lines: &[Rc<[usize]>], at: usize, own: &[usize]) -> usize {
    let row = |(rank, own): (usize, &usize)| {
        let others = lines.iter().enumerate().filter(|(other, _)| *other != at);
        let others = others.filter_map(|(_, lines)| lines.get(rank).copied()).max();
        others.unwrap_or(1).max(*own)
    };
    own.iter().enumerate().map(row).sum()
}

#[cfg(test)]
mod tests {
    use super::super::page::{Cell, Rows};
    use super::*;

    fn grid(heads: &[(&'static str, Align)], rows: &[&[&'static str]]) -> Grid {
        let columns =
            heads.iter().map(|(head, align)| Column { align: *align, ..Column::words(*head) });
        let rows: Vec<_> =
            rows.iter().map(|row| row.iter().map(|cell| Cell::text(*cell)).collect()).collect();
        Grid::of(Table {
            title: String::new(),
            columns: columns.collect(),
            rows: Rows::of(rows),
            totals: None,
            is_main: true,
        })
    }

    #[test]
    fn a_long_cell_goes_on_under_its_row_and_a_figure_keeps_its_unit() {
        let grid = grid(
            &[("name", Align::Left), ("rate", Align::Right)],
            &[&["terminal handling at port", "1,850.00 USD"], &["fee", "3 %"]],
        );
        let parts = grid.fitted(26);
        assert_eq!(parts.len(), 1);
        assert_eq!(parts[0].records[1], ["terminal\nhandling at\nport", "1,850.00\u{a0}USD"]);
    }

    #[test]
    fn too_many_columns_are_told_in_two_tables_with_the_name_in_each() {
        let grid = grid(
            &[("slab", Align::Left), ("goods", Align::Right), ("landed", Align::Right)],
            &[&["410-01", "329.44", "489.40"]],
        );
        let parts = grid.fitted(14);
        let rows: Vec<_> = parts.iter().map(|part| part.records[1].clone()).collect();
        assert_eq!(rows, [["410-01", "329.44"], ["410-01", "489.40"]]);
    }
}
