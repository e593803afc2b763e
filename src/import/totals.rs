//! Subtotals and totals between the slabs: checked against the rows they are of, then dropped.

use super::areas::{agree, places, shown};
use super::figure::{figure, opening};
use super::grid::{Grid, Value};
use super::role::Role;
use super::rows::Total;
use super::slabs::{Slab, square};
use super::tables::{Column, Table};
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::Decimal;

/// The rows that a total may be of: what they are in words, and they themselves.
struct Run<'s> {
    what: String,
    slabs: Vec<&'s Slab>,
}

/// Holds each figure of the rows of totals against the rows it may be of; how many figures were held.
pub(super) fn check(
    tables: &[Table],
    grids: &[Grid],
    totals: &[Total],
    slabs: &[Slab],
    report: &mut Report,
) -> Result<usize, Reported> {
    let mut held = 0;
    let mut told = Ok(());
    let mut last = 0;
    for total in totals {
        let Some(table) = tables.get(total.table) else { continue };
        let Some(grid) = grids.get(table.grid) else { continue };
        let runs = runs(total, last, tables, slabs);
        for column in &table.columns {
            let Some(value) = grid.get(total.row, column.at) else { continue };
            let Some(kind) = summed(column.role, value) else { continue };
            match hold(kind, column, value, (tables, grids), &runs) {
                Some(Ok(())) => held += 1,
                Some(Err(near)) => {
                    let place = grid.place(total.row, column.at);
                    let message = format!(
                        "{}: the total is {}, and {} make {near}",
                        grid.called(total.row, column.at),
                        value.shown(),
                        runs.first().map_or("the rows above", |run| run.what.as_str()),
                    );
                    told = Err(report.error(
                        Fault::error(Code::Contradiction, message)
                            .at(&place, "the supplier's total")
                            .help("a row may lack or be too many: ask the supplier; where the total is wrong, correct it or delete its row"),
                    ));
                }
                None => {}
            }
        }
        last = total.before;
    }
    told.map(|()| held)
}

/// What a total is a sum of.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Figures,
    Slabs,
}

fn summed(role: Role, value: &Value) -> Option<Kind> {
    match role {
        Role::Area | Role::BilledArea | Role::NetMass | Role::Mass => Some(Kind::Figures),
        Role::Count | Role::Slab => opening(value).map(|_| Kind::Slabs),
        _ => None,
    }
}

/// The rows that a total may be of: those since the total before, those of the bundle above, of its list, of its
/// sheet, all.
fn runs<'s>(total: &Total, last: usize, tables: &[Table], slabs: &'s [Slab]) -> Vec<Run<'s>> {
    let before = slabs.get(..total.before.min(slabs.len())).unwrap_or_default();
    let since: Vec<&Slab> =
        before.get(last.min(before.len())..).unwrap_or_default().iter().collect();
    let bundle = before.last().and_then(|slab| slab.bundle.clone());
    let grid = tables.get(total.table).map(|table| table.grid);
    let of = |keep: &dyn Fn(&Slab) -> bool, all: &'s [Slab]| -> Vec<&'s Slab> {
        all.iter().filter(|slab| keep(slab)).collect()
    };
    let in_grid = |slab: &Slab| tables.get(slab.table).map(|table| table.grid) == grid;
    let mut runs = vec![
        since,
        of(&|slab| slab.bundle == bundle, before),
        of(&|slab| slab.table == total.table, before),
        before.iter().collect(),
        of(&in_grid, slabs),
        slabs.iter().collect(),
    ];
    runs.retain(|run| !run.is_empty());
    let named = |slabs: Vec<&'s Slab>| {
        let count: usize = slabs.iter().map(|slab| slab.count).sum();
        Run { what: format!("the {count} slabs above"), slabs }
    };
    runs.into_iter().map(named).collect()
}

/// The figure that a row has under a column of the total's kind.
fn listed(slab: &Slab, column: &Column, tables: &[Table], grids: &[Grid]) -> Option<Decimal> {
    let table = tables.get(slab.table)?;
    let own = table.all(column.role).find(|one| one.unit == column.unit)?;
    figure(grids.get(table.grid)?.get(slab.row, own.at)?).ok().map(|one| one.value)
}

/// Whether a total is that of any of the runs, else what the first of them makes; `None`: there is nothing to hold it
/// against.
fn hold(
    kind: Kind,
    column: &Column,
    value: &Value,
    (tables, grids): (&[Table], &[Grid]),
    runs: &[Run<'_>],
) -> Option<Result<(), String>> {
    if kind == Kind::Slabs {
        let said = opening(value)?;
        let count =
            |run: &Run<'_>| Decimal::from(run.slabs.iter().map(|slab| slab.count).sum::<usize>());
        let fits = runs.iter().any(|run| count(run) == said);
        return Some(if fits { Ok(()) } else { Err(count(runs.first()?).to_string()) });
    }
    let said = figure(value).ok()?.value;
    let cells = |run: &Run<'_>| -> Vec<Decimal> {
        run.slabs.iter().filter_map(|slab| listed(slab, column, tables, grids)).collect()
    };
    let digits = places(runs.iter().flat_map(cells).chain([said]));
    let unit = column.unit.unwrap_or("m2");
    let billed = column.role == Role::BilledArea;
    // A spreadsheet adds up what it has worked out, or what it shows.
    let sums = |run: &Run<'_>| {
        let cells = cells(run);
        let shown = cells.iter().try_fold(Decimal::ZERO, |sum, one| sum.checked_add(*one));
        let areas = run.slabs.iter().map(|slab| square(slab, unit, billed));
        let exact = areas.into_iter().try_fold(Decimal::ZERO, |sum, one| sum.checked_add(one?));
        [shown.filter(|_| !cells.is_empty()), exact.filter(|_| column.role.is_area())]
    };
    let fits = |run: &Run<'_>| sums(run).iter().flatten().any(|sum| agree(*sum, said, digits));
    if runs.iter().any(fits) {
        return Some(Ok(()));
    }
    let near = runs.first().and_then(|run| sums(run).into_iter().flatten().next())?;
    Some(Err(shown(near, digits)))
}
