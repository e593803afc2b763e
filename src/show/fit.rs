//! How a table of text fits a width: long cells go on under their row, and a table of too many columns
//! becomes two, each with the columns that say what a row is.

use super::page::{Align, Table};
use crate::fault::{broken, columns, tied};

/// Columns that a word may take in a table before it is broken.
const LONGEST_WORD: usize = 24;

/// Rows by which the widths of columns are chosen.
const LOOKED_AT: usize = 500;

/// A table's cells as text, its heads first and its totals last.
pub(super) struct Grid {
    aligns: Vec<Align>,
    records: Vec<Vec<String>>,
    has_totals: bool,
}

/// A table, or some columns of one, that fits. A cell may have several lines.
pub(super) struct Fitted {
    pub(super) aligns: Vec<Align>,
    pub(super) records: Vec<Vec<String>>,
    pub(super) has_totals: bool,
    /// Columns of the terminal between two columns of the table.
    pub(super) gap: usize,
}

impl Grid {
    /// The cells of a table, figures tied to their units.
    pub(super) fn of(table: Table<'_>) -> Self {
        let mut records: Vec<Vec<String>> =
            vec![table.columns.iter().map(|column| tied(&column.head)).collect()];
        let shown = |row: super::page::Row<'_>| -> Vec<String> {
            row.iter().map(|cell| tied(&cell.shown())).collect()
        };
        records.extend(table.rows.map(shown));
        let has_totals = table.totals.is_some();
        records.extend(table.totals.map(shown));
        let aligns = table.columns.iter().map(|column| column.align).collect();
        Self { aligns, records, has_totals }
    }

    /// The table in parts of at most `width` columns.
    pub(super) fn fitted(&self, width: usize) -> Vec<Fitted> {
        self.parts(width).iter().map(|part| self.fit(part, width)).collect()
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
                if columns(text) <= width {
                    text.to_owned()
                } else {
                    broken("", "", text, width).join("\n")
                }
            };
            part.iter().map(cell).collect()
        };
        Fitted {
            aligns: part.iter().filter_map(|column| self.aligns.get(*column).copied()).collect(),
            records: self.records.iter().map(own).collect(),
            has_totals: self.has_totals,
            gap,
        }
    }

    /// Narrows columns until they have `room` together: the one next that makes the fewest lines more,
    /// of equal ones the widest.
    fn narrow(&self, part: &[usize], widths: &mut [usize], room: usize) {
        let mut lines: Vec<Vec<usize>> =
            part.iter().map(|column| self.lines(*column, width_of(widths, *column))).collect();
        while sum(part, widths) > room {
            let tried = part.iter().enumerate().filter_map(|(at, column)| {
                let width = width_of(widths, *column).checked_sub(1)?;
                if width < self.least(*column) {
                    return None;
                }
                let own = self.lines(*column, width);
                let all = total(&lines, at, &own);
                Some((all, usize::MAX - width, at, *column, own))
            });
            let best = tried.min_by_key(|(all, narrowness, ..)| (*all, *narrowness));
            let Some((.., at, column, own)) = best else { break };
            if let (Some(lines), Some(width)) = (lines.get_mut(at), widths.get_mut(column)) {
                *lines = own;
                *width -= 1;
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

    /// How many lines each cell of a column takes at a width, its head's first.
    fn lines(&self, column: usize, width: usize) -> Vec<usize> {
        let cells = std::iter::once(self.head(column)).chain(self.cells(column));
        let lines = cells.take(LOOKED_AT).map(|text| {
            if columns(text) <= width { 1 } else { broken("", "", text, width.max(1)).len() }
        });
        lines.collect()
    }
}

fn width_of(widths: &[usize], column: usize) -> usize {
    widths.get(column).copied().unwrap_or(0)
}

fn sum(part: &[usize], widths: &[usize]) -> usize {
    part.iter().map(|column| width_of(widths, *column)).sum()
}

/// The lines of all rows, with those of one column in place of its own.
fn total(lines: &[Vec<usize>], at: usize, own: &[usize]) -> usize {
    let row = |(rank, own): (usize, &usize)| {
        let others = lines.iter().enumerate().filter(|(other, _)| *other != at);
        let others = others.filter_map(|(_, lines)| lines.get(rank).copied()).max();
        others.unwrap_or(1).max(*own)
    };
    own.iter().enumerate().map(row).sum()
}

#[cfg(test)]
mod tests {
    use super::super::page::{Cell, Column, Rows};
    use super::*;

    fn grid(heads: &[(&'static str, Align)], rows: &[&[&'static str]]) -> Grid {
        let columns =
            heads.iter().map(|(head, align)| Column { head: (*head).into(), align: *align });
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
