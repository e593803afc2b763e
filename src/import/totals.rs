//! Subtotals and totals between the slabs: checked against the rows they are of, then dropped.

use std::collections::BTreeMap;

use super::areas::{agree, places, shown};
use super::figure::{figure, opening};
use super::grid::{Grid, Value};
use super::role::Role;
use super::rows::Total;
use super::slabs::{Slab, square};
use super::tables::{Column, Table};
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::Decimal;

/// The rows that a total may be of, the likeliest first.
#[derive(Clone, Copy)]
enum Of {
    SinceTheLast,
    Bundle,
    List,
    Above,
    Sheet,
    All,
}

impl Of {
    const EACH: [Self; 6] =
        [Self::SinceTheLast, Self::Bundle, Self::List, Self::Above, Self::Sheet, Self::All];

    /// Those rows, by position.
    fn rows(self, total: &Total, last: usize, tables: &[Table], slabs: &[Slab]) -> Vec<usize> {
        let before = total.before.min(slabs.len());
        let bundle = before.checked_sub(1).and_then(|at| slabs.get(at)?.bundle.as_ref());
        let grid = |table: usize| tables.get(table).map(|table| table.grid);
        let is_it = |slab: &Slab| match self {
            Self::Bundle => slab.bundle.as_ref() == bundle,
            Self::List => slab.table == total.table,
            Self::Sheet => grid(slab.table) == grid(total.table),
            Self::SinceTheLast | Self::Above | Self::All => true,
        };
        let (from, to) = match self {
            Self::SinceTheLast => (last.min(before), before),
            Self::Bundle | Self::List | Self::Above => (0, before),
            Self::Sheet | Self::All => (0, slabs.len()),
        };
        let all = slabs.iter().enumerate().skip(from).take(to - from);
        all.filter(|(_, slab)| is_it(slab)).map(|(at, _)| at).collect()
    }
}

/// What a column of totals adds up, slab by slab.
struct Summed {
    /// The supplier's own figures.
    listed: Vec<Option<Decimal>>,
    /// The areas that the sizes make.
    exact: Vec<Option<Decimal>>,
    places: u32,
}

impl Summed {
    fn of(column: &Column, tables: &[Table], grids: &[Grid], slabs: &[Slab]) -> Self {
        let is_count = matches!(column.role, Role::Count | Role::Slab);
        let listed = |slab: &Slab| {
            if is_count {
                return Some(Decimal::from(slab.count));
            }
            let table = tables.get(slab.table)?;
            let own = table.all(column.role).find(|one| one.unit == column.unit)?;
            figure(grids.get(table.grid)?.get(slab.row, own.at)?).ok().map(|one| one.value)
        };
        let (unit, billed) = (column.unit.unwrap_or("m2"), column.role == Role::BilledArea);
        let exact = |slab: &Slab| square(slab, unit, billed).filter(|_| column.role.is_area());
        let listed: Vec<Option<Decimal>> = slabs.iter().map(listed).collect();
        let places = places(listed.iter().flatten().copied());
        Self { exact: slabs.iter().map(exact).collect(), listed, places }
    }

    /// What rows make: a spreadsheet adds up what it shows, or what it has worked out.
    fn sums(&self, rows: &[usize]) -> [Option<Decimal>; 2] {
        let add = |all: Vec<Decimal>| {
            all.iter().try_fold(Decimal::ZERO, |sum, one| sum.checked_add(*one))
        };
        let own = |all: &[Option<Decimal>]| -> Vec<Decimal> {
            rows.iter().filter_map(|at| all.get(*at).copied().flatten()).collect()
        };
        let (listed, exact) = (own(&self.listed), own(&self.exact));
        let is_whole = exact.len() == rows.len();
        let is_any = !listed.is_empty();
        [add(listed).filter(|_| is_any), add(exact).filter(|_| is_whole)]
    }
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
    let mut known: BTreeMap<(Role, Option<&'static str>), Summed> = BTreeMap::new();
    for total in totals {
        let Some(table) = tables.get(total.table) else { continue };
        let Some(grid) = grids.get(table.grid) else { continue };
        for column in &table.columns {
            let value = grid.get(total.row, column.at);
            let Some(said) = value.and_then(|value| said(column.role, value)) else { continue };
            let key = (column.role, column.unit);
            let summed =
                known.entry(key).or_insert_with(|| Summed::of(column, tables, grids, slabs));
            let digits = summed.places.max(places(std::iter::once(said)));
            let (mut near, mut agrees) = (None, false);
            for of in Of::EACH {
                let rows = of.rows(total, last, tables, slabs);
                let sums = summed.sums(&rows);
                agrees = sums.iter().flatten().any(|sum| agree(*sum, said, digits));
                if agrees {
                    break;
                }
                let first = sums.into_iter().flatten().next().filter(|_| !rows.is_empty());
                near = near.or_else(|| first.map(|sum| (sum, rows)));
            }
            held += usize::from(agrees);
            // Where nothing above has such a figure, there is nothing to hold it against.
            let Some((sum, rows)) = near.filter(|_| !agrees) else { continue };
            let count: usize =
                rows.iter().filter_map(|at| slabs.get(*at)).map(|slab| slab.count).sum();
            let sum = if column.role.is_area() {
                shown(sum, digits)
            } else {
                sum.normalize().to_string()
            };
            let message = format!(
                "{}: the total is {}, and the {count} slabs above make {sum}",
                grid.called(total.row, column.at),
                said.normalize()
            );
            told = Err(report.error(
                Fault::error(Code::Contradiction, message)
                    .at(&grid.place(total.row, column.at), "the supplier's total")
                    .help("a row may lack or be too many: ask the supplier; where the total is wrong, correct it or delete its row"),
            ));
        }
        last = total.before;
    }
    told.map(|()| held)
}

/// The figure of a total, where its column is one that is added up.
fn said(role: Role, value: &Value) -> Option<Decimal> {
    match role {
        Role::Count | Role::Slab => opening(value),
        Role::Area | Role::BilledArea | Role::NetMass | Role::Mass => {
            figure(value).ok().map(|one| one.value)
        }
        _ => None,
    }
}
