//! The unit of each column of lengths. One that stands nowhere is decided by the supplier's areas where they agree
//! on every slab, else it is asked for.

use std::collections::BTreeMap;

use super::areas::{agree, area, places};
use super::figure::{Figure, figure, opening, sides};
use super::grid::Grid;
use super::role::{Answers, Role};
use super::rows::Row;
use super::tables::{Column, Table, unit_in_title};
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Length};
use crate::read::is_side;

/// Units that sides of slabs are listed in.
const UNITS: [&str; 5] = ["mm", "cm", "m", "in", "ft"];

/// How the unit of a column is known.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Known {
    /// It stands in the header.
    Header,
    /// It stands in the cells.
    Cells,
    /// It stands above the list, in this cell.
    Title(String),
    /// It stands in the header of the other side.
    Beside,
    /// It was asked for.
    Answer,
    /// The areas agree on so many slabs.
    Areas(usize),
}

/// The units of the lists' columns, by list and role.
pub(super) type Units = BTreeMap<(usize, Role), (&'static str, Known)>;

/// Settles the unit of every column of lengths.
pub(super) fn settle(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Row],
    answers: &Answers,
    report: &mut Report,
) -> Result<Units, Reported> {
    let mut units = Units::new();
    let mut open = Vec::new();
    for (at, table) in tables.iter().enumerate() {
        let Some(grid) = grids.get(table.grid) else { continue };
        let rows: Vec<usize> =
            slabs.iter().filter(|slab| slab.table == at).map(|slab| slab.row).collect();
        let title = unit_in_title(grid, table.above.clone());
        let lengths = || table.columns.iter().filter(|column| column.role.is_length());
        for column in lengths() {
            if let Some(known) = stated(column, grid, &rows, answers) {
                units.insert((at, column.role), known);
            } else if let Some((unit, (row, cell))) = title.filter(|_| column.role.is_side()) {
                units.insert((at, column.role), (unit, Known::Title(grid.called(row, cell))));
            }
        }
        let beside = lengths()
            .filter(|one| one.role.is_side())
            .find_map(|one| Some(units.get(&(at, one.role))?.0));
        for column in lengths().filter(|one| one.role.is_side()) {
            if units.contains_key(&(at, column.role)) || rows.is_empty() {
                continue;
            }
            match beside {
                Some(unit) => {
                    units.insert((at, column.role), (unit, Known::Beside));
                }
                None => open.push((at, column)),
            }
        }
    }
    let sides = by_area(tables, grids, slabs, &open, &mut units, report);
    let masses = masses(tables, grids, slabs, answers, &mut units, report);
    sides?;
    thickness(tables, grids, slabs, &mut units, report)?;
    masses.map(|()| units)
}

/// The unit that a column itself states, or the answer for it.
fn stated(
    column: &Column,
    grid: &Grid,
    rows: &[usize],
    answers: &Answers,
) -> Option<(&'static str, Known)> {
    if let Some(unit) = column.unit.filter(|unit| UNITS.contains(unit)) {
        return Some((unit, Known::Header));
    }
    let figures = rows.iter().filter_map(|row| first_figure(grid, *row, column));
    let (mut own, mut bare) = (None, 0_usize);
    for one in figures {
        match one.unit {
            Some(unit) => own = own.or(Some(unit)),
            None => bare += 1,
        }
    }
    // A fraction or a mark in some cells says of the others that they are inches; other units stand in each cell.
    match own {
        Some(unit) if bare == 0 || unit == "in" => Some((unit, Known::Cells)),
        _ => answers.unit(column.role).map(|unit| (unit, Known::Answer)),
    }
}

fn first_figure(grid: &Grid, row: usize, column: &Column) -> Option<Figure> {
    let value = grid.get(row, column.at)?;
    figure(value).ok().or_else(|| sides(value).ok().map(|(length, ..)| length))
}

/// The two sides of a row as its cells have them.
pub(super) fn sides_of(
    table: &Table,
    grid: &Grid,
    row: usize,
    billed: bool,
) -> Option<[Figure; 2]> {
    let roles = if billed {
        [Role::BilledSize, Role::BilledLength, Role::BilledHeight]
    } else {
        [Role::Size, Role::Length, Role::Height]
    };
    let [both, length, height] =
        roles.map(|role| table.of(role).and_then(|column| grid.get(row, column.at)));
    if let Some((length, height, _)) = both.and_then(|value| sides(value).ok()) {
        return Some([length, height]);
    }
    Some([figure(length?).ok()?, figure(height?).ok()?])
}

/// The sides of a row, its areas with their units, and how many slabs it is of.
type Pair = ([Figure; 2], Vec<(Decimal, Option<&'static str>)>, Decimal);

/// Decides by the areas the units of columns for which none stands anywhere.
fn by_area(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Row],
    open: &[(usize, &Column)],
    units: &mut Units,
    report: &mut Report,
) -> Result<(), Reported> {
    let Some((first, column)) = open.first() else { return Ok(()) };
    let is_open = |at: usize| open.iter().any(|(table, _)| *table == at);
    let mut pairs: Vec<Pair> = Vec::new();
    for slab in slabs.iter().filter(|slab| is_open(slab.table)) {
        let (Some(table), Some(grid)) =
            (tables.get(slab.table), tables.get(slab.table).and_then(|one| grids.get(one.grid)))
        else {
            continue;
        };
        let sides = sides_of(table, grid, slab.row, false);
        let areas: Vec<(Decimal, Option<&'static str>)> = table
            .columns
            .iter()
            .filter(|column| column.role.is_area())
            .filter_map(|column| {
                Some((figure(grid.get(slab.row, column.at)?).ok()?.value, column.unit))
            })
            .collect();
        // The area of a row may be that of its slabs together.
        let count =
            table.of(Role::Count).and_then(|column| opening(grid.get(slab.row, column.at)?));
        pairs.extend(sides.map(|sides| (sides, areas, count.unwrap_or(Decimal::ONE))));
    }
    let digits = places(pairs.iter().flat_map(|(_, areas, _)| areas.iter().map(|(one, _)| *one)));
    let agrees = |unit: &&'static str| {
        let fits = |(sides, areas, count): &Pair| {
            let sides = sides.map(|one| (one.value, one.unit.unwrap_or(unit)));
            let is_it = |listed: Decimal, kind: &str| {
                let one = area(sides, kind);
                let all = one.and_then(|one| one.checked_mul(*count));
                [one, all].iter().flatten().any(|area| agree(*area, listed, digits))
            };
            areas.iter().any(|(listed, own)| {
                let kinds = own.map_or(vec!["m2", "ft2"], |own| vec![own]);
                kinds.into_iter().any(|kind| is_it(*listed, kind))
            })
        };
        !pairs.is_empty() && pairs.iter().all(fits)
    };
    let fitting: Vec<&'static str> = UNITS.into_iter().filter(|unit| agrees(unit)).collect();
    if let [unit] = fitting[..] {
        for (at, column) in open {
            units.insert((*at, column.role), (unit, Known::Areas(pairs.len())));
        }
        return Ok(());
    }
    let place = tables
        .get(*first)
        .and_then(|table| Some(grids.get(table.grid)?.place(table.header, column.at)));
    let fault = Fault::error(
        Code::BadQuantity,
        "the sizes have no unit, and no area on every slab tells it",
    );
    let fault = match place {
        Some(place) => fault.at(&place, "no unit in the header, in its cells or above"),
        None => fault,
    };
    let shown: Vec<String> =
        pairs.first().map(|(sides, ..)| *sides).into_iter().flat_map(likely).collect();
    let known = if shown.is_empty() {
        "--unit cm, --unit mm or --unit in".to_owned()
    } else {
        shown.join(", or ")
    };
    Err(report.error(fault.help(format!("say which it is: {known}"))))
}

/// What the first slab would be in each unit in which a slab can be so large.
fn likely(sides: [Figure; 2]) -> Vec<String> {
    let shown = |unit: &'static str| {
        let [length, height] = sides.map(|one| Length::in_unit(one.value, unit)?.ok());
        let (length, height) = (length?.0, height?.0);
        let units = crate::quantity::Units::Metric;
        (is_side(length) && is_side(height)).then(|| {
            format!(
                "--unit {unit} (the first slab is {} x {} then)",
                length.show(units),
                height.show(units)
            )
        })
    };
    UNITS.into_iter().filter_map(shown).collect()
}

/// The unit of masses stands in their header, or is asked for.
fn masses(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Row],
    answers: &Answers,
    units: &mut Units,
    report: &mut Report,
) -> Result<(), Reported> {
    let mut told = Ok(());
    for (at, table) in tables.iter().enumerate() {
        let (Some(column), Some(grid)) = (table.of(Role::Mass), grids.get(table.grid)) else {
            continue;
        };
        let stated = column.unit.map(|unit| (unit, Known::Header));
        let answered = answers.unit(Role::Mass).map(|unit| (unit, Known::Answer));
        if let Some(known) = stated.or(answered) {
            units.insert((at, Role::Mass), known);
            continue;
        }
        let own = slabs.iter().filter(|slab| slab.table == at);
        let bare = own.map(|slab| slab.row).find(|row| {
            let value = grid.get(*row, column.at);
            value.is_some_and(|value| figure(value).is_ok_and(|one| one.unit.is_none()))
        });
        let Some(row) = bare else { continue };
        let (called, letter) = (grid.called(row, column.at), grid.column_called(column.at));
        told = Err(report.error(
            Fault::error(Code::BadQuantity, format!("{called}: the masses have no unit"))
                .at(&grid.place(row, column.at), "kg, t or lb?")
                .help(format!("say which it is: --unit \"weighed mass=kg\"; or leave them out: --column none={letter}")),
        ));
    }
    told
}

/// A thickness without a unit has that of the sides, where a slab can be so thick.
fn thickness(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Row],
    units: &mut Units,
    report: &mut Report,
) -> Result<(), Reported> {
    let mut told = Ok(());
    for (at, table) in tables.iter().enumerate() {
        let (Some(column), Some(grid)) = (table.of(Role::Thickness), grids.get(table.grid)) else {
            continue;
        };
        if units.contains_key(&(at, Role::Thickness)) {
            continue;
        }
        let mut rows = slabs.iter().filter(|slab| slab.table == at);
        let first = rows.find_map(|slab| {
            let one = figure(grid.get(slab.row, column.at)?).ok()?;
            Some((slab.row, one.value))
        });
        let Some((row, value)) = first else { continue };
        let sides =
            [Role::Length, Role::Size].iter().find_map(|role| Some(units.get(&(at, *role))?.0));
        let fits = |unit: &&str| {
            Length::in_unit(value, unit)
                .is_some_and(|one| one.is_ok_and(|(one, _)| one.is_between_mm(5, 150)))
        };
        if let Some(unit) = sides.filter(|unit| fits(unit)) {
            units.insert((at, Role::Thickness), (unit, Known::Beside));
            continue;
        }
        let all: Vec<String> = UNITS
            .into_iter()
            .filter(|unit| fits(unit))
            .map(|unit| format!("--unit thickness={unit}"))
            .collect();
        let help = if all.is_empty() {
            "--column none=".to_owned() + &grid.column_called(column.at)
        } else {
            all.join(" or ")
        };
        told = Err(report.error(
            Fault::error(
                Code::BadQuantity,
                format!("{}: the thickness {value} has no unit", grid.called(row, column.at)),
            )
            .at(&grid.place(row, column.at), "in the unit of the sides no slab is so thick")
            .help(format!("say which it is: {help}")),
        ));
    }
    told
}
