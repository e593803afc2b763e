//! The slabs of lists: sizes, thickness, areas, words. Each cell is read by the rule of its column, and the areas
//! are held against the sizes.

use std::collections::BTreeMap;

use super::areas::{Side, agree, area, places, shown};
use super::columns::text;
use super::figure::{Figure, Odd, figure, sides};
use super::grid::{Day, Grid, Value};
use super::role::Role;
use super::rows::Row;
use super::tables::{Column, Table};
use super::units::Units;
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Length};
use crate::read::{date_as_range, day_and_month, is_side, slab_range};

/// A row of slabs of one size.
#[derive(Debug, Clone)]
pub(super) struct Slab {
    pub(super) table: usize,
    pub(super) row: usize,
    /// Their numbers as the list has them; none where it gives none.
    pub(super) names: Vec<String>,
    pub(super) count: usize,
    pub(super) bundle: Option<String>,
    /// As sawn.
    pub(super) sides: [Side; 2],
    /// As billed, where the list says so.
    pub(super) billed: Option<[Side; 2]>,
    pub(super) thickness: Option<Side>,
    /// The mass that stands on the row.
    pub(super) mass: Option<Side>,
    /// Block, container, stone, finish, remarks and the like.
    pub(super) texts: BTreeMap<Role, String>,
}

/// More slabs than one row stands for, as for the reader of the list.
const MOST_IN_ROW: u64 = 1_000;

/// Words that are kept as they are.
const TEXTS: [Role; 7] = [
    Role::Stone,
    Role::Finish,
    Role::Quality,
    Role::Remark,
    Role::Order,
    Role::Match,
    Role::Container,
];

/// A list with its cells, for what is read of a row.
#[derive(Clone, Copy)]
struct At<'a> {
    table: &'a Table,
    grid: &'a Grid,
    row: usize,
    position: usize,
    units: &'a Units,
}

/// Reads every row of slabs.
pub(super) fn read(
    tables: &[Table],
    grids: &[Grid],
    rows: &[Row],
    units: &Units,
    report: &mut Report,
) -> Result<Vec<Slab>, Reported> {
    let mut all = Vec::new();
    let mut told = Ok(());
    for row in rows {
        let Some(table) = tables.get(row.table) else { continue };
        let Some(grid) = grids.get(table.grid) else { continue };
        let at = At { table, grid, row: row.row, position: row.table, units };
        match at.slab(row) {
            Ok(slab) => all.push(slab),
            Err(faults) => {
                for fault in faults {
                    told = Err(report.error(fault));
                }
            }
        }
    }
    told.map(|()| all)
}

impl At<'_> {
    fn slab(&self, row: &Row) -> Result<Slab, Vec<Fault>> {
        let mut faults = Vec::new();
        let mut keep = |fault: Fault| faults.push(fault);
        let sides = self.sides(false, &mut keep);
        let billed = self.sides(true, &mut keep);
        let thickness = self.one(Role::Thickness, &mut keep).or_else(|| self.third());
        let count = self.count(&mut keep);
        let names = self.names(count, &mut keep);
        let mass = self.table.of(Role::Mass).and_then(|column| {
            let one = figure(self.grid.get(self.row, column.at)?).ok()?;
            Some((one.value, one.unit.or(self.unit(Role::Mass))?))
        });
        let mut texts: BTreeMap<Role, String> = BTreeMap::new();
        for role in TEXTS {
            let all: Vec<String> = self
                .table
                .all(role)
                .filter_map(|column| text(self.grid, self.row, column.at))
                .filter(|one| !one.is_empty())
                .collect();
            if !all.is_empty() {
                texts.insert(role, all.join(", "));
            }
        }
        for role in [Role::Block, Role::Container] {
            if let Some(one) = row.carried.get(&role) {
                texts.insert(role, one.clone());
            }
        }
        let bundle = row.carried.get(&Role::Bundle).cloned();
        // Those of sides, thickness and numbers are told where they are read.
        let others =
            self.table.columns.iter().filter(|one| {
                !one.role.is_length() && !matches!(one.role, Role::Unused | Role::Slab)
            });
        for column in others {
            if self.grid.get(self.row, column.at) == Some(&Value::Unstored) {
                keep(self.odd(column, &Odd::NoValue));
            }
        }
        match (sides, faults.is_empty()) {
            (Some(sides), true) => Ok(Slab {
                table: row.table,
                row: row.row,
                names,
                count,
                bundle,
                sides,
                billed,
                thickness,
                mass,
                texts,
            }),
            _ => Err(faults),
        }
    }

    fn unit(&self, role: Role) -> Option<&'static str> {
        self.units.get(&(self.position, role)).map(|(unit, _)| *unit)
    }

    fn fault(&self, column: &Column, code: Code, what: &str, label: &str) -> Fault {
        let shown = self.grid.get(self.row, column.at).map(Value::shown).unwrap_or_default();
        let message = format!("{}: \"{shown}\" {what}", self.grid.called(self.row, column.at));
        Fault::error(code, message).at(&self.grid.place(self.row, column.at), label)
    }

    /// Why a cell is no figure.
    fn odd(&self, column: &Column, odd: &Odd) -> Fault {
        let name = column.role.name();
        match odd {
            Odd::Day(day) => dated(self.fault(column, Code::BadQuantity, "is a date", "a spreadsheet made it one"), *day),
            Odd::Error => self
                .fault(column, Code::BadQuantity, "is an error of the spreadsheet", "no figure")
                .help("mend the formula, or write the figure in its place"),
            Odd::NoValue => self
                .fault(column, Code::BadQuantity, "has no stored value", "a formula that was never worked out")
                .help("open the file in a spreadsheet and save it: that stores what its formulas come to"),
            Odd::Words => self
                .fault(column, Code::BadQuantity, "cannot be read", &format!("expected the {name}"))
                .help("write a figure, such as 282.5 or 282,5; if the row is no slab, delete it"),
        }
    }

    /// The two sides, each in its unit.
    fn sides(&self, billed: bool, keep: &mut impl FnMut(Fault)) -> Option<[Side; 2]> {
        let roles = if billed {
            [Role::BilledSize, Role::BilledLength, Role::BilledHeight]
        } else {
            [Role::Size, Role::Length, Role::Height]
        };
        let [both, ..] = roles.map(|role| self.table.of(role));
        if let Some(column) = both {
            let value = self.grid.get(self.row, column.at);
            let Some(value) = value else {
                return if billed { None } else { self.lacking(column, keep) };
            };
            return match sides(value) {
                Ok((length, height, _)) => {
                    let one = self.side(column, length, keep)?;
                    Some([one, self.side(column, height, keep)?])
                }
                Err(odd) => {
                    keep(self.odd(column, &odd));
                    None
                }
            };
        }
        let [_, length, height] = roles;
        if self.table.of(length).is_none() || self.table.of(height).is_none() {
            return None;
        }
        let is_empty = |role: Role| {
            self.table.of(role).is_none_or(|column| self.grid.get(self.row, column.at).is_none())
        };
        // A list may say what is billed of some slabs only.
        if billed && is_empty(length) && is_empty(height) {
            return None;
        }
        let one = self.one(length, keep);
        let other = self.one(height, keep);
        Some([one?, other?])
    }

    fn lacking(&self, column: &Column, keep: &mut impl FnMut(Fault)) -> Option<[Side; 2]> {
        keep(
            self.fault(column, Code::MissingKey, "is no size", "the cell is empty")
                .help("write the size, or delete the row if it is no slab"),
        );
        None
    }

    /// A figure of a column of lengths in its unit; a side must be one that slabs have.
    fn one(&self, role: Role, keep: &mut impl FnMut(Fault)) -> Option<Side> {
        let column = self.table.of(role)?;
        let Some(value) = self.grid.get(self.row, column.at) else {
            if role.is_side() {
                let what = format!("a slab has no {}", role.name());
                keep(
                    Fault::error(
                        Code::MissingKey,
                        format!("{}: {what}", self.grid.called(self.row, column.at)),
                    )
                    .at(&self.grid.place(self.row, column.at), "the cell is empty")
                    .help("write it, or delete the row if it is no slab"),
                );
            }
            return None;
        };
        match figure(value) {
            Ok(figure) => self.side(column, figure, keep),
            Err(odd) => {
                keep(self.odd(column, &odd));
                None
            }
        }
    }

    fn side(&self, column: &Column, figure: Figure, keep: &mut impl FnMut(Fault)) -> Option<Side> {
        let own = self.unit(column.role);
        if let (Some(own), Some(unit)) = (column.unit.and(own), figure.unit)
            && own != unit
        {
            let label = format!("the header says {own}");
            keep(
                self.fault(column, Code::Contradiction, &format!("is in {unit}"), &label)
                    .help("write it in the unit of its header"),
            );
            return None;
        }
        let Some(unit) = figure.unit.or(own) else {
            keep(
                self.fault(column, Code::BadQuantity, "has no unit", "in which unit?")
                    .help("write the unit in the header of the column, or say --unit cm"),
            );
            return None;
        };
        let length = Length::in_unit(figure.value, unit).and_then(Result::ok);
        let fits = length.is_some_and(|(one, _)| {
            if column.role.is_side() { is_side(one) } else { one.is_between_mm(1, 1_000) }
        });
        if !fits {
            let what = format!("is no {} of a slab in {unit}", column.role.name());
            keep(self.fault(column, Code::OutOfRange, &what, "is the unit right, and the point?").help("correct the cell; where the whole column has another unit, write it in the header"));
            return None;
        }
        Some((figure.value.normalize(), unit))
    }

    /// The thickness that stands behind both sides in their cell.
    fn third(&self) -> Option<Side> {
        let column = self.table.of(Role::Size)?;
        let (.., third) = sides(self.grid.get(self.row, column.at)?).ok()?;
        let third = third?;
        let unit = third.unit.or_else(|| self.unit(Role::Size))?;
        let is_thick = Length::in_unit(third.value, unit)?.ok()?.0.is_between_mm(5, 150);
        is_thick.then_some((third.value.normalize(), unit))
    }

    fn count(&self, keep: &mut impl FnMut(Fault)) -> usize {
        let Some(column) = self.table.of(Role::Count) else { return 1 };
        let Some(value) = self.grid.get(self.row, column.at) else { return 1 };
        let read = super::figure::opening(value).filter(|one| one.fract().is_zero());
        let count = read
            .and_then(|one| u64::try_from(one).ok())
            .filter(|one| (1..=MOST_IN_ROW).contains(one));
        if count.is_none() {
            keep(self.fault(
                column,
                Code::BadQuantity,
                "is no count of slabs",
                &format!("expected 1 to {MOST_IN_ROW}"),
            ));
        }
        count.and_then(|one| usize::try_from(one).ok()).unwrap_or(1)
    }

    /// The numbers of the row's slabs.
    fn names(&self, count: usize, keep: &mut impl FnMut(Fault)) -> Vec<String> {
        let Some(column) = self.table.of(Role::Slab) else { return Vec::new() };
        let Some(value) = self.grid.get(self.row, column.at) else { return Vec::new() };
        let name = match value {
            Value::Day(day) => {
                keep(dated(
                    self.fault(
                        column,
                        Code::Contradiction,
                        "is a date",
                        "a spreadsheet made it of a slab's number",
                    ),
                    *day,
                ));
                return Vec::new();
            }
            Value::Unstored => {
                keep(self.odd(column, &Odd::NoValue));
                return Vec::new();
            }
            Value::Error(_) => {
                keep(self.odd(column, &Odd::Error));
                return Vec::new();
            }
            other => other.shown(),
        };
        if let Some((day, month)) = day_and_month(&name) {
            let likely = u64::try_from(count).ok().filter(|many| *many > 1);
            let meant = date_as_range(&name, likely).unwrap_or_default();
            let other = if meant == format!("{day}-{month}") {
                format!("{month}-{day}")
            } else {
                format!("{day}-{month}")
            };
            let fault = self.fault(
                column,
                Code::Contradiction,
                "is a date",
                "a spreadsheet made it of a slab's number",
            );
            keep(fault.help(format!("is \"{meant}\" meant, or \"{other}\"? {AS_TEXT}")));
            return Vec::new();
        }
        if count == 1 {
            return vec![name];
        }
        match slab_range(&name) {
            Some(all) if all.len() == count => all.iter().map(ToString::to_string).collect(),
            Some(all) => {
                let what = format!("is {} slabs, and the row counts {count}", all.len());
                keep(
                    self.fault(column, Code::Contradiction, &what, "slabs on this row")
                        .help("correct the range, or the count"),
                );
                Vec::new()
            }
            None => {
                let what = format!("is one number, and the row counts {count} slabs");
                keep(self.fault(column, Code::Contradiction, &what, "no range of numbers").help("write a range such as 1-7, or empty the cell: then the slabs are numbered here"));
                Vec::new()
            }
        }
    }
}

const AS_TEXT: &str = "format the column as text, and type the numbers anew";

/// Both readings of a day that a spreadsheet made of something else.
fn dated(fault: Fault, day: Day) -> Fault {
    let Day { year, month, day } = day;
    let [one, other] = [format!("{day}-{month}"), format!("{month}-{day}")];
    let years = if (2000..2100).contains(&year) { String::new() } else { format!(" (of {year})") };
    fault.help(format!("is \"{one}\" meant, or \"{other}\"{years}? {AS_TEXT}"))
}

/// What was said of a column of areas.
pub(super) struct Areas {
    pub(super) table: usize,
    pub(super) at: usize,
    /// On how many rows it agrees with the sizes, of how many that have an area.
    pub(super) agree: usize,
    pub(super) of: usize,
}

/// Holds the areas of each list against its sizes, slab by slab.
pub(super) fn areas(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Slab],
    report: &mut Report,
) -> Result<Vec<Areas>, Reported> {
    let mut all = Vec::new();
    let mut told = Ok(());
    for (at, table) in tables.iter().enumerate() {
        let Some(grid) = grids.get(table.grid) else { continue };
        for column in table.columns.iter().filter(|column| column.role.is_area()) {
            let own = slabs.iter().filter(|slab| slab.table == at);
            let listed: Vec<(&Slab, Decimal)> = own
                .filter_map(|slab| Some((slab, figure(grid.get(slab.row, column.at)?).ok()?.value)))
                .collect();
            let digits = places(listed.iter().map(|(_, one)| *one));
            let is_alike = |(slab, one): &(&Slab, Decimal)| {
                worked_out(slab, column.unit).iter().any(|area| agree(*area, *one, digits))
            };
            let (fit, other): (Vec<_>, Vec<_>) = listed.iter().copied().partition(is_alike);
            all.push(Areas { table: at, at: column.at, agree: fit.len(), of: listed.len() });
            if other.is_empty() {
                continue;
            }
            let settle = format!(
                "to pass over these areas: --column none={}",
                grid.column_called(column.at)
            );
            if fit.is_empty() && other.iter().all(is_less) {
                let first = other.first().map_or(table.header, |(slab, _)| slab.row);
                let message = format!(
                    "the areas of \"{}\" are less than length x height on every slab",
                    column.header
                );
                report.add(
                    Fault::warning(Code::Notice, message)
                        .at(
                            &grid.place(first, column.at),
                            "net of a take-off? they are not held against anything",
                        )
                        .help("say in the invoice line how the supplier measures: `measure`"),
                );
                continue;
            }
            for (slab, one) in &other {
                let place = grid.place(slab.row, column.at);
                let unit = column.unit.unwrap_or("m2");
                let own = worked_out(slab, Some(unit))
                    .first()
                    .map_or_else(String::new, |area| shown(*area, digits));
                let message = format!(
                    "{}: the list says {one} {unit}, length x height is {own} {unit}",
                    grid.called(slab.row, column.at)
                );
                told = Err(report.error(
                    Fault::error(Code::Contradiction, message)
                        .at(&place, "the supplier's area")
                        .help(format!("correct the size or the area; {settle}")),
                ));
            }
        }
    }
    told.map(|()| all)
}

/// The areas that a row may state: of its slabs together or of one, as sawn or as billed, in the unit or in either.
fn worked_out(slab: &Slab, unit: Option<&'static str>) -> Vec<Decimal> {
    let units: &[&str] = match unit {
        Some("ft2") => &["ft2"],
        Some("m2") => &["m2"],
        _ => &["m2", "ft2"],
    };
    let count = Decimal::from(slab.count);
    let sides = || std::iter::once(slab.sides).chain(slab.billed);
    let one = sides().flat_map(|sides| units.iter().filter_map(move |unit| area(sides, unit)));
    let one: Vec<Decimal> = one.collect();
    let all = one.iter().filter_map(|area| area.checked_mul(count));
    all.chain(if slab.count > 1 { one.clone() } else { Vec::new() }).collect()
}

/// Whether an area is less than the sizes make, by at most a fifth.
fn is_less((slab, one): &(&Slab, Decimal)) -> bool {
    worked_out(slab, None).iter().any(|area| {
        let least = area.checked_mul(Decimal::new(8, 1));
        one < area && least.is_some_and(|least| *one >= least)
    })
}

/// The area of a row in a unit, as its sizes make it.
pub(super) fn square(slab: &Slab, unit: &str, billed: bool) -> Option<Decimal> {
    let sides = if billed { slab.billed.unwrap_or(slab.sides) } else { slab.sides };
    area(sides, unit)?.checked_mul(Decimal::from(slab.count))
}
