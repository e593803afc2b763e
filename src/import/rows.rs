//! The rows of lists: slabs, subtotals, what names the rows below. A bundle is carried down to the rows below it.

use std::collections::BTreeMap;

use super::columns::text;
use super::grid::{Grid, Value};
use super::role::{Answers, Role};
use super::tables::{Table, is_figure, named, said};
use crate::fault::{Code, Fault, Report, Reported};
use crate::read::words;

/// A row that is one slab or several.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// The list it is of, by position.
    pub(super) table: usize,
    pub(super) row: usize,
    /// Its bundle, block and container: its own or those above it.
    pub(super) carried: BTreeMap<Role, String>,
}

/// A row of totals.
#[derive(Debug, Clone)]
pub(super) struct Total {
    pub(super) table: usize,
    pub(super) row: usize,
    /// How many rows of slabs stand before it.
    pub(super) before: usize,
}

/// The rows of all lists.
#[derive(Debug, Default)]
pub(super) struct Rows {
    pub(super) slabs: Vec<Row>,
    pub(super) totals: Vec<Total>,
    /// Rows that are nothing of a list, in words.
    pub(super) passed: Vec<String>,
    /// Hidden rows and columns, in words.
    pub(super) hidden: Vec<String>,
}

/// What is carried down from the rows above.
const CARRIED: [Role; 3] = [Role::Bundle, Role::Block, Role::Container];

/// Words that open a row of totals (from memory).
const TOTALS: [&str; 19] = [
    "total",
    "totals",
    "subtotal",
    "subtotals",
    "sum",
    "totale",
    "totali",
    "subtotale",
    "totales",
    "totais",
    "toplam",
    "toplami",
    "gesamt",
    "summe",
    "totaux",
    "合计",
    "小计",
    "总计",
    "共计",
];

/// Where the word makes a row one of totals, whatever else is in it.
const TOTAL_IN: [Role; 7] =
    [Role::Slab, Role::Serial, Role::Bundle, Role::Block, Role::Length, Role::Height, Role::Size];

/// What a row is.
enum Kind {
    Slab,
    Total,
    /// It names the rows below.
    Names,
    /// A slab's number, and no size.
    NoSize,
    Other,
}

/// Reads the rows of all lists in their order.
pub(super) fn read(
    tables: &[Table],
    grids: &[Grid],
    answers: &Answers,
    report: &mut Report,
) -> Result<Rows, Reported> {
    let mut all = Rows::default();
    let mut told = Ok(());
    let mut carried: BTreeMap<Role, String> = BTreeMap::new();
    let mut last_grid = None;
    for (at, table) in tables.iter().enumerate() {
        let Some(grid) = grids.get(table.grid) else { continue };
        if last_grid != Some(table.grid) || table.is_beside {
            carried.clear();
            carried.extend(named(grid.sheet.as_deref().unwrap_or("")));
        }
        last_grid = Some(table.grid);
        for row in grid.rows().filter(|row| table.above.contains(row)) {
            names(table, grid, row, &mut carried);
        }
        let mut hidden = Vec::new();
        for row in grid.rows().filter(|row| table.body.contains(row)) {
            let kind = kind(table, grid, row);
            if matches!(kind, Kind::Slab)
                && (grid.hides_row(row) || grid.is_hidden)
                && answers.hidden != Some(true)
            {
                hidden.push(row);
                continue;
            }
            match kind {
                Kind::Slab => {
                    own(table, grid, row, &mut carried);
                    all.slabs.push(Row { table: at, row, carried: carried.clone() });
                }
                Kind::Total => all.totals.push(Total { table: at, row, before: all.slabs.len() }),
                Kind::Names => {
                    own(table, grid, row, &mut carried);
                    names(table, grid, row, &mut carried);
                }
                Kind::NoSize => told = Err(report.error(no_size(table, grid, row))),
                Kind::Other => {
                    let shown = grid.row(row).next().map(|(column, value)| {
                        format!("{} \"{}\"", grid.called(row, column), value.shown())
                    });
                    let is_empty =
                        table.columns.iter().all(|column| grid.get(row, column.at).is_none());
                    all.passed.extend(shown.filter(|_| !is_empty || !table.is_beside));
                }
            }
        }
        match (hidden.first(), answers.hidden) {
            (Some(first), None) => told = Err(report.error(hides(grid, *first, hidden.len()))),
            (Some(first), _) => all.hidden.push(format!(
                "{} hidden rows of {} were left out, from row {} on",
                hidden.len(),
                grid.name(),
                first + 1
            )),
            (None, _) => {}
        }
        let columns = table.columns.iter().filter(|column| grid.hides_column(column.at));
        let columns: Vec<String> = columns
            .map(|one| format!("{} \"{}\"", grid.column_called(one.at), one.header))
            .collect();
        if !columns.is_empty() {
            all.hidden.push(format!(
                "hidden columns of {} were read: {}",
                grid.name(),
                columns.join(", ")
            ));
        }
    }
    told.map(|()| all)
}

/// Takes over what a row's own cells name.
fn own(table: &Table, grid: &Grid, row: usize, carried: &mut BTreeMap<Role, String>) {
    for role in CARRIED {
        let cell = table.of(role).and_then(|column| text(grid, row, column.at));
        if let Some(cell) = cell {
            carried.insert(role, cell);
        }
    }
}

/// Takes over what a row beside or between the slabs says.
fn names(table: &Table, grid: &Grid, row: usize, carried: &mut BTreeMap<Role, String>) {
    let ends = (
        table.columns.first().map_or(0, |one| one.at),
        table.columns.last().map_or(0, |one| one.at),
    );
    for (column, role, name) in said(grid, row) {
        if !table.is_beside || (ends.0..=ends.1).contains(&column) {
            carried.insert(role, name);
        }
    }
}

fn kind(table: &Table, grid: &Grid, row: usize) -> Kind {
    let get = |role: Role| table.of(role).and_then(|column| grid.get(row, column.at));
    let has_size = [Role::Length, Role::Height, Role::Size].iter().any(|role| get(*role).is_some());
    let has_total = grid.row(row).any(|(column, value)| {
        let own = table.columns.iter().find(|one| one.at == column).map(|one| one.role);
        // A list beside has totals of its own. Beside sizes, a name or a remark with the word in it is none.
        let counts = match own {
            Some(role) => !has_size || TOTAL_IN.contains(&role),
            None => !has_size && !table.is_beside,
        };
        counts && is_total(value)
    });
    if has_total {
        return Kind::Total;
    }
    if has_size {
        let is_words = |role: Role| {
            get(role).is_some_and(|value| matches!(value, Value::Text(_)) && !is_figure(value))
        };
        let is_header = is_words(Role::Length) && is_words(Role::Height);
        return if is_header && get(Role::Slab).is_none_or(|one| !is_figure(one)) {
            Kind::Other
        } else {
            Kind::Slab
        };
    }
    let figures = |roles: &[Role]| {
        let mut all = table.columns.iter().filter(|column| roles.contains(&column.role));
        all.any(|column| grid.get(row, column.at).is_some_and(is_figure))
    };
    let is_numbered =
        get(Role::Slab).is_some_and(|value| is_figure(value) || matches!(value, Value::Day(_)));
    if is_numbered {
        let others = [
            Role::Bundle,
            Role::Thickness,
            Role::Area,
            Role::BilledArea,
            Role::BilledLength,
            Role::BilledSize,
        ];
        let is_count = get(Role::Bundle).is_none() && figures(&[Role::Area, Role::BilledArea]);
        return match (is_count, others.iter().any(|role| get(*role).is_some())) {
            (true, _) if get(Role::Thickness).is_none() => Kind::Total,
            (_, true) => Kind::NoSize,
            _ => Kind::Other,
        };
    }
    if CARRIED.iter().any(|role| get(*role).is_some()) && get(Role::Slab).is_none() {
        return Kind::Names;
    }
    if figures(&[Role::Area, Role::BilledArea, Role::Count, Role::Mass, Role::NetMass]) {
        return Kind::Total;
    }
    if said(grid, row).is_empty() { Kind::Other } else { Kind::Names }
}

pub(super) fn is_total(value: &Value) -> bool {
    let Value::Text(text) = value else { return false };
    if text.chars().count() > 40 {
        return false;
    }
    words(text).iter().any(|word| TOTALS.contains(&word.as_str()))
}

fn no_size(table: &Table, grid: &Grid, row: usize) -> Fault {
    let column = table.of(Role::Slab).map_or(0, |column| column.at);
    let shown = grid.get(row, column).map(Value::shown).unwrap_or_default();
    Fault::error(
        Code::MissingKey,
        format!("{}: slab {shown} has no size", grid.called(row, column)),
    )
    .at(&grid.place(row, column), "length and height are empty")
    .help("write its sizes, or delete the row if the slab does not come")
}

pub(super) fn hides(grid: &Grid, first: usize, many: usize) -> Fault {
    let (what, place) = if grid.is_hidden {
        (format!("the hidden sheet {} lists {many} slab row(s)", grid.name()), grid.place(first, 0))
    } else {
        (format!("{} hides {many} row(s) with slabs", grid.name()), grid.place(first, 0))
    };
    Fault::error(Code::Contradiction, what)
        .at(&place, format!("row {}", first + 1))
        .help("do these slabs come? --hidden read takes them in, --hidden skip leaves them out")
}
