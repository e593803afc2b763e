//! What each column of a list is. Two of one kind, or a side that may be either, are asked about.

use super::grid::{Grid, Value};
use super::role::Role;
use super::tables::{Column, Table, is_figure};
use crate::fault::{Code, Fault, Report, Reported};

/// The lists with every role once, or the faults of those that leave one open.
pub(super) fn settled(
    tables: Vec<Table>,
    grids: &[Grid],
    report: &mut Report,
) -> Result<Vec<Table>, Reported> {
    let mut all = Vec::new();
    let mut told = Ok(());
    for mut table in tables {
        let Some(grid) = grids.get(table.grid) else { continue };
        if !has_rows(&table, grid) {
            continue;
        }
        if let Some(fault) = open(&mut table, grid) {
            told = Err(report.error(fault));
        }
        all.push(table);
    }
    told?;
    differ(&all, grids, report)?;
    Ok(all)
}

/// Whether any row below the header holds a figure.
fn has_rows(table: &Table, grid: &Grid) -> bool {
    let rows = grid.rows().filter(|row| table.body.contains(row));
    let at = |column: &Column| column.at;
    let columns: Vec<usize> = table.columns.iter().map(at).collect();
    rows.into_iter().any(|row| columns.iter().any(|at| grid.get(row, *at).is_some_and(is_figure)))
}

/// Gives each column its one role; what is open.
fn open(table: &mut Table, grid: &Grid) -> Option<Fault> {
    let has = |table: &Table, role: Role| table.of(role).is_some();
    if !has(table, Role::Slab)
        && let Some(column) = table.columns.iter_mut().find(|column| column.role == Role::Serial)
    {
        column.role = Role::Slab;
    }
    for column in table.columns.iter_mut().filter(|column| column.role == Role::Serial) {
        column.role = Role::Unused;
    }
    let [length, height, width] =
        [Role::Length, Role::Height, Role::Width].map(|role| table.of(role).cloned());
    if let Some(width) = &width {
        let asked = match (&length, &height) {
            (_, None) => None,
            (None, Some(height)) => Some((height, "which of the two is the length?")),
            (Some(_), Some(height)) => Some((height, "which of the two is the other side?")),
        };
        if let Some((height, what)) = asked {
            let [one, other] = [width, height].map(|one| grid.column_called(one.at));
            let is_open = if length.is_some() { "height" } else { "length" };
            return Some(
                at(
                    grid,
                    table,
                    width,
                    Code::Contradiction,
                    format!("\"{}\" and \"{}\" stand side by side", width.header, height.header),
                    what,
                )
                .also(&grid.place(table.header, height.at), "the other")
                .help(format!(
                    "say which: --column {is_open}={one}, or --column {is_open}={other}"
                )),
            );
        }
        for column in table.columns.iter_mut().filter(|column| column.role == Role::Width) {
            column.role = Role::Height;
        }
    }
    twice(table, grid).or_else(|| one_figure(table, grid)).or_else(|| lacking(table, grid))
}

fn at(
    grid: &Grid,
    table: &Table,
    column: &Column,
    code: Code,
    message: String,
    label: &str,
) -> Fault {
    let place = grid.place(table.header, column.at);
    Fault::error(code, format!("{}: {message}", grid.called(table.header, column.at)))
        .at(&place, label)
}

/// A role that two columns have.
fn twice(table: &Table, grid: &Grid) -> Option<Fault> {
    let mut all = table.columns.iter().filter(|column| !column.role.may_repeat());
    let second =
        all.find(|column| table.of(column.role).is_some_and(|first| first.at != column.at))?;
    let first = table.of(second.role)?;
    let [one, other] = [first, second].map(|one| grid.column_called(one.at));
    let name = second.role.name();
    let help = match second.role {
        Role::Length | Role::Height | Role::Size => {
            format!(
                "say which is sawn and which is billed: --column \"{name}={one}\" --column \"billed {name}={other}\", or the other way round"
            )
        }
        _ => format!(
            "say which: --column \"{name}={one}\" --column none={other}, or the other way round"
        ),
    };
    let message = format!("two columns are headed as the {name}");
    Some(
        at(grid, table, second, Code::Duplicate, message, "the second")
            .also(&grid.place(table.header, first.at), "the first")
            .help(help),
    )
}

/// A column for both sides whose cells hold one figure.
fn one_figure(table: &Table, grid: &Grid) -> Option<Fault> {
    let column = table.of(Role::Size).or_else(|| table.of(Role::BilledSize))?;
    let mut rows = grid.rows().filter(|row| table.body.contains(row));
    let is_bare = |row: usize, at: usize| {
        grid.get(row, at).is_some_and(|value| super::figure::figure(value).is_ok())
    };
    let row = rows.find(|row| grid.get(*row, column.at).is_some_and(is_figure))?;
    if !is_bare(row, column.at) {
        return None;
    }
    let next = column.at + 1;
    let has_next = is_bare(row, next) && table.columns.iter().all(|one| one.at != next);
    let [one, other] = [column.at, next].map(|at| grid.column_called(at));
    let fault = at(
        grid,
        table,
        column,
        Code::MissingKey,
        format!("\"{}\" holds one figure in a cell", column.header),
        "length or height?",
    )
    .also(&grid.place(row, column.at), "the first of them");
    Some(if has_next {
        fault.help(format!("say which side is which: --column length={one} --column height={other}, or the other way round"))
    } else {
        fault.help(format!("say what it is: --column length={one}, and which column is the other side: --column height=..."))
    })
}

/// A side that no column has.
fn lacking(table: &Table, grid: &Grid) -> Option<Fault> {
    let has = |role: Role| table.of(role).is_some();
    if has(Role::Size) || (has(Role::Length) && has(Role::Height)) {
        return None;
    }
    let place = grid.place(table.header, table.columns.first().map_or(0, |column| column.at));
    let named = |role: Role| table.of(role).map(|column| grid.column_called(column.at));
    let (what, help) = match (
        named(Role::Length),
        named(Role::Height),
        named(Role::BilledLength),
        named(Role::BilledHeight),
    ) {
        (None, None, Some(length), Some(height)) => (
            "no size as sawn, only one as billed",
            format!(
                "the load needs the sizes as sawn: ask for them, or let these be them: --column length={length} --column height={height}"
            ),
        ),
        (None, None, ..) if has(Role::BilledSize) => (
            "no size as sawn, only one as billed",
            format!(
                "the load needs the sizes as sawn: ask for them, or let these be them: --column size={}",
                named(Role::BilledSize).unwrap_or_default()
            ),
        ),
        (Some(_), ..) => ("no height", "say which column it is: --column height=...".to_owned()),
        (_, Some(_), ..) => ("no length", "say which column it is: --column length=...".to_owned()),
        _ => (
            "no length and no height",
            "say which columns they are: --column length=... --column height=...".to_owned(),
        ),
    };
    let name = grid.name();
    Some(
        Fault::error(Code::MissingKey, format!("the list of {name} has {what}"))
            .at(&place, "its header")
            .help(help),
    )
}

/// Lists that stand side by side and have other columns.
fn differ(tables: &[Table], grids: &[Grid], report: &mut Report) -> Result<(), Reported> {
    let mut told = Ok(());
    let roles = |table: &Table| -> Vec<Role> {
        let all = table.columns.iter().map(|column| column.role);
        all.filter(|role| *role != Role::Unused).collect()
    };
    for pair in tables.windows(2) {
        let [one, other] = pair else { continue };
        let is_pair = one.grid == other.grid && one.header == other.header && one.is_beside;
        if !is_pair || roles(one) == roles(other) {
            continue;
        }
        let Some(grid) = grids.get(one.grid) else { continue };
        let alone = |table: &Table, beside: &Table| {
            let is_alone =
                |column: &&Column| beside.of(column.role).is_none() && column.role != Role::Unused;
            table.columns.iter().find(is_alone).map(|column| column.at)
        };
        let first = |table: &Table| table.columns.first().map_or(0, |column| column.at);
        let odd = alone(one, other).or_else(|| alone(other, one)).unwrap_or_else(|| first(other));
        let place = |at: usize| grid.place(one.header, at);
        let fault = Fault::error(
            Code::Contradiction,
            format!("two lists stand side by side in {}, with other columns", grid.name()),
        );
        told = Err(report.error(
            fault
                .at(&place(odd), "only one of them has this column")
                .also(&place(first(other)), "the second begins here")
                .help(format!(
                    "leave it out: --column none={}; or give each list a sheet of its own",
                    grid.column_called(odd)
                )),
        ));
    }
    told
}

/// What a cell of words holds, as it is written.
pub(super) fn text(grid: &Grid, row: usize, column: usize) -> Option<String> {
    match grid.get(row, column)? {
        Value::Unstored | Value::Error(_) => None,
        other => Some(other.shown()),
    }
}
