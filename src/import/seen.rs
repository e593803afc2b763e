//! What is shown of each column: its header, its unit and whence it is known, its range, how many cells agree.

use super::figure::{figure, sides};
use super::grid::Grid;
use super::role::Role;
use super::slabs::{Areas, Slab};
use super::tables::{Column, Table};
use super::units::{Known, Units};
use crate::quantity::Decimal;

/// A column of the supplier's, and how it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeenColumn {
    /// Where its header stands: "Packing!C3".
    pub place: String,
    /// Its header.
    pub header: String,
    /// What it is.
    pub role: &'static str,
    /// Its unit, if it has one.
    pub unit: Option<&'static str>,
    /// Whence the unit is known.
    pub known: String,
    /// From where its cells range.
    pub from: String,
    /// To where.
    pub to: String,
    /// How many cells are as they should be.
    pub agree: usize,
    /// Of how many rows.
    pub of: usize,
}

/// The columns of all lists; those alike of several lists once.
pub(super) fn columns(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Slab],
    units: &Units,
    areas: &[Areas],
) -> Vec<SeenColumn> {
    let mut all: Vec<SeenColumn> = Vec::new();
    let mut figures: Vec<Vec<Decimal>> = Vec::new();
    for (at, table) in tables.iter().enumerate() {
        let Some(grid) = grids.get(table.grid) else { continue };
        let rows: Vec<&Slab> = slabs.iter().filter(|slab| slab.table == at).collect();
        if rows.is_empty() {
            continue;
        }
        for column in &table.columns {
            let (unit, known) = match units.get(&(at, column.role)) {
                Some((unit, known)) => (Some(*unit), whence(known)),
                None => {
                    (column.unit, column.unit.map_or_else(String::new, |_| whence(&Known::Header)))
                }
            };
            let (own, agree, of) = cells(column, grid, &rows, areas, at);
            let (from, to) = ends(column, grid, &rows);
            let is_same = |one: &SeenColumn| {
                one.role == column.role.name() && one.header == column.header && one.unit == unit
            };
            match all.iter().position(is_same) {
                Some(known) => {
                    if let (Some(seen), Some(figures)) =
                        (all.get_mut(known), figures.get_mut(known))
                    {
                        seen.agree += agree;
                        seen.of += of;
                        figures.extend(own);
                        seen.to = to;
                    }
                }
                None => {
                    figures.push(own);
                    all.push(SeenColumn {
                        place: grid.called(table.header, column.at),
                        header: column.header.clone(),
                        role: column.role.name(),
                        unit,
                        known,
                        from,
                        to,
                        agree,
                        of,
                    });
                }
            }
        }
    }
    for (seen, figures) in all.iter_mut().zip(figures) {
        if let (Some(least), Some(most)) = (figures.iter().min(), figures.iter().max()) {
            (seen.from, seen.to) = (least.normalize().to_string(), most.normalize().to_string());
        }
    }
    all
}

fn whence(known: &Known) -> String {
    match known {
        Known::Header => "header".to_owned(),
        Known::Cells => "cells".to_owned(),
        Known::Title(cell) => cell.clone(),
        Known::Beside => "the other side".to_owned(),
        Known::Answer => "--unit".to_owned(),
        Known::Areas(many) => format!("areas of {many} slabs"),
    }
}

/// The figures of a column, and how many of its rows are as they should be.
fn cells(
    column: &Column,
    grid: &Grid,
    rows: &[&Slab],
    areas: &[Areas],
    table: usize,
) -> (Vec<Decimal>, usize, usize) {
    let values = || rows.iter().filter_map(|slab| grid.get(slab.row, column.at));
    let role = column.role;
    if role.is_area() {
        let own = areas.iter().find(|one| one.table == table && one.at == column.at);
        let all: Vec<Decimal> =
            values().filter_map(|value| figure(value).ok()).map(|one| one.value).collect();
        return (all, own.map_or(0, |one| one.agree), own.map_or(0, |one| one.of));
    }
    if role.is_length() || matches!(role, Role::Mass | Role::NetMass | Role::Count) {
        let mut all = Vec::new();
        let mut read = 0;
        for value in values() {
            match (figure(value), sides(value)) {
                (Ok(one), _) => all.push(one.value),
                (_, Ok((one, other, _))) => all.extend([one.value, other.value]),
                _ => continue,
            }
            read += 1;
        }
        return (all, read, rows.len());
    }
    (Vec::new(), values().count(), rows.len())
}

/// The first and the last cell of a column of words.
fn ends(column: &Column, grid: &Grid, rows: &[&Slab]) -> (String, String) {
    let mut all = rows.iter().filter_map(|slab| grid.get(slab.row, column.at));
    let first = all.next().map(super::grid::Value::shown).unwrap_or_default();
    let last = all.next_back().map_or_else(|| first.clone(), super::grid::Value::shown);
    (first, last)
}
