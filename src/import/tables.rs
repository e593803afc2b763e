//! Where lists stand among the cells: below titles, under headers of one to three rows, side by side.

use std::collections::BTreeSet;
use std::ops::Range;

use super::grid::{Grid, Value};
use super::role::{Answers, Role};
use crate::read::{Heading, folded, heading, unit_of, words};

/// A column of a list.
#[derive(Debug, Clone)]
pub(super) struct Column {
    pub(super) role: Role,
    pub(super) at: usize,
    /// What stands above it.
    pub(super) header: String,
    /// The unit in its header.
    pub(super) unit: Option<&'static str>,
}

/// A list: its columns, and the rows below its header.
#[derive(Debug, Clone)]
pub(super) struct Table {
    /// Which grid it is in.
    pub(super) grid: usize,
    /// The last row of its header.
    pub(super) header: usize,
    pub(super) columns: Vec<Column>,
    /// Its rows, and those that are nothing of a list among them.
    pub(super) body: Range<usize>,
    /// Whether a list stands beside it.
    pub(super) is_beside: bool,
    /// Rows above its header, which may name its bundle and its unit.
    pub(super) above: Range<usize>,
}

impl Table {
    /// The first column of a role.
    pub(super) fn of(&self, role: Role) -> Option<&Column> {
        self.columns.iter().find(|column| column.role == role)
    }

    /// All columns of a role.
    pub(super) fn all(&self, role: Role) -> impl Iterator<Item = &Column> {
        self.columns.iter().filter(move |column| column.role == role)
    }
}

/// A header that was found: its rows by position, its columns, and whether both sides of slabs are among them.
struct Header {
    depth: usize,
    columns: Vec<Column>,
    units: usize,
    has_sides: bool,
}

/// Rows of a header at most: names, names in another language, units.
const MOST_ROWS: usize = 3;

/// So many known columns are a header even where the sides of slabs are not among them.
const ENOUGH: usize = 3;

/// The lists of a grid, still as their headers say: a role may stand twice.
pub(super) fn find(grid: &Grid, at: usize, answers: &Answers) -> Vec<Table> {
    let rows: Vec<usize> = grid.rows().collect();
    let mut found: Vec<(usize, Header)> = Vec::new();
    let mut next = 0;
    while next < rows.len() {
        match header(grid, rows.get(next..).unwrap_or_default()) {
            Some(header) => {
                let depth = header.depth;
                found.push((next, header));
                next += depth;
            }
            None => next += 1,
        }
    }
    if found.is_empty() {
        found.extend(answered(grid, &rows, answers));
    }
    let end = rows.last().map_or(0, |last| last + 1);
    let starts: Vec<usize> = found.iter().filter_map(|(at, _)| rows.get(*at).copied()).collect();
    let mut tables = Vec::new();
    let mut above = 0;
    for (rank, (start, header)) in found.into_iter().enumerate() {
        let last = rows.get(start + header.depth.max(1) - 1).copied().unwrap_or(0);
        // Without a header of its own a list begins at its first row.
        let from = if header.depth == 0 { last } else { last + 1 };
        let body = from..starts.get(rank + 1).copied().unwrap_or(end);
        let first = starts.get(rank).copied().unwrap_or(0);
        let mut columns = header.columns;
        for (role, column) in &answers.columns {
            columns.retain(|one| one.at != *column && (one.role != *role || role.may_repeat()));
            let text = grid.get(last, *column).filter(|_| header.depth > 0).map(Value::shown);
            let text = text.unwrap_or_default();
            let unit = heading(&text).and_then(|one| one.unit).or_else(|| last_unit(&text));
            columns.push(Column { role: *role, at: *column, header: text, unit });
        }
        columns.sort_by_key(|column| column.at);
        let parts = parted(columns);
        let is_beside = parts.len() > 1;
        for columns in parts {
            let (header, body, above) = (last, body.clone(), above..first);
            tables.push(Table { grid: at, header, columns, body, is_beside, above });
        }
        above = last + 1;
    }
    tables
}

/// The unit in a header that is otherwise unknown, such as "Dim. 1 (cm)".
fn last_unit(text: &str) -> Option<&'static str> {
    words(text).last().and_then(|word| unit_of(word))
}

/// Where nothing heads the columns but the command line says which they are: the rows from the first on whose
/// answered columns all hold a figure.
fn answered(grid: &Grid, rows: &[usize], answers: &Answers) -> Option<(usize, Header)> {
    let sides = answers.columns.iter().filter(|(role, _)| role.is_side());
    let sides: Vec<usize> = sides.map(|(_, column)| *column).collect();
    let is_slab =
        |row: &usize| sides.iter().all(|column| grid.get(*row, *column).is_some_and(is_figure));
    let first = rows.iter().position(is_slab).filter(|_| !sides.is_empty())?;
    Some((first, Header { depth: 0, columns: Vec::new(), units: 0, has_sides: true }))
}

/// Whether a cell holds a figure, in words or not.
pub(super) fn is_figure(value: &Value) -> bool {
    match value {
        Value::Number(_) => true,
        Value::Text(text) => {
            text.trim_start_matches(['-', '+', '.']).starts_with(|c: char| c.is_ascii_digit())
        }
        _ => false,
    }
}

/// The header that rows open with.
fn header(grid: &Grid, rows: &[usize]) -> Option<Header> {
    let first = rows.first()?;
    let mut best: Option<Header> = None;
    for depth in 1..=MOST_ROWS {
        // A title above a header is none of its rows: it is one cell, or says nothing of columns.
        let is_title =
            || grid.row(*first).count() < 2 || headed(grid, &[*first], 1).columns.is_empty();
        if depth == 2 && is_title() {
            break;
        }
        let Some(own) = rows.get(..depth) else { break };
        let Some(last) = own.last().filter(|last| **last < first + depth + 1) else { break };
        let words = grid.row(*last).any(|(_, value)| matches!(value, Value::Text(_)));
        if !words
            || grid
                .row(*last)
                .any(|(_, value)| !matches!(value, Value::Text(_)) || is_figure(value))
        {
            break;
        }
        let found = headed(grid, own, depth);
        let key = |one: &Header| (one.has_sides, one.columns.len(), one.units);
        if best.as_ref().is_none_or(|best| key(&found) > key(best)) {
            best = Some(found);
        }
    }
    best.filter(|one| one.columns.len() >= if one.has_sides { 2 } else { ENOUGH })
}

/// The columns that rows head, taken together.
fn headed(grid: &Grid, rows: &[usize], depth: usize) -> Header {
    let mut columns = Vec::new();
    let filled = rows.iter().flat_map(|row| grid.row(*row).map(|(at, _)| at));
    let filled: BTreeSet<usize> = filled.collect();
    for at in filled {
        let parts: Vec<String> = rows
            .iter()
            .enumerate()
            .filter_map(|(rank, row)| match grid.get(*row, at) {
                Some(value) => Some(value.shown()),
                // What heads several columns stands once, above the first of them.
                None => {
                    let below = rows.get(rank + 1..).unwrap_or_default();
                    let is_under = below.iter().any(|row| grid.get(*row, at).is_some());
                    let mut left = grid.row(*row).rev().filter(|(column, _)| *column < at);
                    left.next().filter(|_| is_under).map(|(_, value)| value.shown())
                }
            })
            .collect();
        let whole = parts.join(" ");
        let read = heading(&whole).or_else(|| {
            let own: Vec<Heading> = parts.iter().filter_map(|part| heading(part)).collect();
            let unit = parts.iter().find_map(|part| unit_of(part));
            own.last().map(|one| Heading { unit: one.unit.or(unit), ..*one })
        });
        if let Some(read) = read {
            columns.push(Column { role: Role::of(read), at, header: whole, unit: read.unit });
        }
    }
    let has = |role: Role| columns.iter().any(|column| column.role == role);
    let has_sides = has(Role::Size)
        || has(Role::BilledSize)
        || (has(Role::Length) && (has(Role::Height) || has(Role::Width)))
        || (has(Role::Height) && has(Role::Width))
        || (has(Role::BilledLength) && has(Role::BilledHeight));
    let units = columns.iter().filter(|column| column.unit.is_some()).count();
    Header { depth, columns, units, has_sides }
}

/// Columns of lists that stand side by side: each begins with the first role that comes again. What stands before
/// the first of them is shared, unless it is the slab's number: then a role simply stands twice.
fn parted(columns: Vec<Column>) -> Vec<Vec<Column>> {
    let again = |at: usize| {
        let role = columns
            .get(at)
            .map(|column| column.role)
            .filter(|role| !role.may_repeat() || *role == Role::Serial);
        role.filter(|role| columns.iter().filter(|column| column.role == *role).count() > 1)
    };
    let Some((first, role)) = (0..columns.len()).find_map(|at| Some((at, again(at)?))) else {
        return vec![columns];
    };
    let (shared, rest) = columns.split_at(first);
    if shared.iter().any(|column| column.role == Role::Slab) || !has_number(rest) {
        return vec![columns];
    }
    let mut parts: Vec<Vec<Column>> = Vec::new();
    for column in rest {
        match parts.last_mut().filter(|_| column.role != role) {
            Some(part) => part.push(column.clone()),
            None => parts.push([shared, std::slice::from_ref(column)].concat()),
        }
    }
    parts
}

fn has_number(columns: &[Column]) -> bool {
    columns.iter().any(|column| matches!(column.role, Role::Slab | Role::Serial | Role::Bundle))
}

/// What a row that is no slab says of the rows below it: their bundle, block or container.
pub(super) fn said(grid: &Grid, row: usize) -> Vec<(usize, Role, String)> {
    let cells: Vec<(usize, &Value)> = grid.row(row).collect();
    let mut all = Vec::new();
    for (rank, (column, value)) in cells.iter().enumerate() {
        let Value::Text(text) = value else { continue };
        if let Some((role, name)) = named(text) {
            all.push((*column, role, name));
        } else if let (Some(role), Some((_, next))) =
            (naming(text.trim_end_matches([':', '.'])), cells.get(rank + 1))
        {
            let shown = next.shown();
            if shown.len() <= 30 && heading(&shown).is_none() {
                all.push((*column, role, shown));
            }
        }
    }
    all
}

/// The bundle, block or container that a text names, such as "Bundle No: 7" or "Crate B-12".
pub(super) fn named(text: &str) -> Option<(Role, String)> {
    let parted = text.split_once([':', '#']).filter(|(_, rest)| !rest.trim().is_empty());
    let parted = parted.or_else(|| {
        let (head, rest) = text.trim().rsplit_once(' ')?;
        let is_short = rest.len() <= 2 && rest.chars().all(char::is_uppercase);
        (is_short || rest.contains(|c: char| c.is_ascii_digit())).then_some((head, rest))
    });
    let (head, rest) = parted?;
    let role = naming(head.trim_end_matches(['.', '\u{b0}', '-', ' ']))?;
    let rest = rest.trim().trim_start_matches(['.', ':', '-']).trim();
    let is_name = rest.len() <= 30 && rest.split(' ').count() <= 2 && !rest.is_empty();
    is_name.then(|| (role, rest.to_owned()))
}

fn naming(head: &str) -> Option<Role> {
    let role = Role::of(heading(head)?);
    matches!(role, Role::Bundle | Role::Block | Role::Container).then_some(role)
}

/// The unit of all lengths, as a title says it: "All sizes in cm", "Unit: cm".
pub(super) fn unit_in_title(
    grid: &Grid,
    rows: Range<usize>,
) -> Option<(&'static str, (usize, usize))> {
    const UNIT: [&str; 8] =
        ["unit", "units", "unita", "unidad", "unidade", "birim", "einheit", "单位"];
    for row in grid.rows().filter(|row| rows.contains(row)) {
        for (column, value) in grid.row(row) {
            let Value::Text(text) = value else { continue };
            let of_sizes =
                heading(text).filter(|one| Role::of(*one).is_side()).and_then(|one| one.unit);
            let folded = folded(text);
            let of_unit = folded
                .split_once([':', '=', ' ', '\u{ff1a}'])
                .and_then(|(head, rest)| UNIT.contains(&head.trim()).then(|| unit_of(rest))?);
            let unit = of_sizes
                .or(of_unit)
                .filter(|unit| matches!(*unit, "mm" | "cm" | "m" | "in" | "ft"));
            if let Some(unit) = unit {
                return Some((unit, (row, column)));
            }
        }
    }
    None
}
