//! The rows of a list as they come in: a slab each.

use rustc_hash::FxHashMap;
use smol_str::SmolStr;

use super::super::cells::{self, Measured};
use super::super::rows::{self, Row, Unreadable};
use super::super::table::unknown_reference;
use super::drafts::Draft;
use super::layout::{Column, cell_place};
use super::side::{LONGEST_MM, is_side};
use super::{Ground, overflowed};
use crate::fault::{At, Code, Fault, Place, Report};
use crate::quantity::{Length, Mass, Overflow, Size};
use crate::trade::Slab;

/// Faults of one list that are shown; the rest is counted.
pub(super) const MOST_FAULTS: usize = 40;

/// The rows of a list as they come in.
pub(super) struct List<'a> {
    pub(super) ground: &'a Ground<'a>,
    /// Whether a slab was left out because its line could not be read.
    pub(super) skipped: bool,
    /// Columns whose fault is reported once.
    pub(super) said: Vec<Column>,
    /// The place of the first fault that is not shown.
    pub(super) unshown: Option<Place>,
    pub(super) slabs: Vec<Slab>,
    /// Whether every slab's number comes after that of the slab before, as in most lists: then no
    /// two are the same.
    pub(super) in_order: bool,
    pub(super) drafts: Vec<Draft>,
    /// The same of the bundles' first rows.
    pub(super) bundles_in_order: bool,
    /// Where each draft is, once they are out of order.
    pub(super) by_name: FxHashMap<SmolStr, usize>,
    pub(super) faults: usize,
}

impl<'a> List<'a> {
    pub(super) fn new(ground: &'a Ground<'a>) -> Self {
        Self {
            ground,
            skipped: false,
            said: Vec::new(),
            unshown: None,
            slabs: Vec::new(),
            in_order: true,
            drafts: Vec::new(),
            bundles_in_order: true,
            by_name: FxHashMap::default(),
            faults: 0,
        }
    }

    /// Reads all rows.
    pub(super) fn read(&mut self, report: &mut Report) {
        let mut is_header = true;
        let ground = self.ground;
        let read = rows::each_row(&ground.source.text, ground.delimiter, |row| {
            if !std::mem::take(&mut is_header) {
                self.row(row, report);
            }
        });
        if let Err(Unreadable { line, why }) = read {
            let message = format!("{} cannot be read on", ground.source.name);
            let place = ground.source.line(line);
            self.fault(Fault::error(Code::BadSyntax, message).at(&place, why), report);
        }
    }

    pub(super) fn fault(&mut self, fault: Fault, report: &mut Report) {
        if self.faults < MOST_FAULTS {
            self.faults += usize::from(report.add_new(fault));
            return;
        }
        self.faults += 1;
        if self.unshown.is_none() {
            self.unshown = fault.place.map(|(place, _)| place);
        }
    }

    pub(super) fn cell_place(&self, row: usize, index: usize) -> Place {
        cell_place(self.ground.source, row, index)
    }

    /// Reports once what is wrong with a column as a whole, however many rows show it.
    pub(super) fn once(
        &mut self,
        column: Column,
        fault: impl FnOnce(Place) -> Fault,
        report: &mut Report,
    ) {
        if !self.said.contains(&column) {
            self.said.push(column);
            let index = self.ground.layout.of(column).map(|(index, _)| index);
            let place = index.map_or_else(
                || self.ground.source.line(self.ground.layout.row),
                |index| self.cell_place(self.ground.layout.row, index),
            );
            self.fault(fault(place), report);
        }
    }

    /// Reports a column of bare figures under a header without a unit.
    fn unitless<T: Measured>(&mut self, column: Column, report: &mut Report) {
        let units = T::UNITS;
        let fault = |place: Place| {
            Fault::error(Code::BadQuantity, "a column of measures has no unit")
                .at(&place, format!("in {}?", units.join(", ")))
                .help("name the unit in the header, such as \"Length (mm)\", or in every cell")
        };
        self.once(column, fault, report);
    }

    fn row(&mut self, record: &Row<'_>, report: &mut Report) {
        if record.is_blank() {
            return;
        }
        let row = record.line;
        if record.runs_on {
            let place = self.ground.source.line(row);
            self.fault(
                Fault::error(Code::BadSyntax, "a cell runs over the end of its line")
                    .at(&place, "a quote opens in this line and does not close in it")
                    .help("close the quote (a quote inside quotes is written twice), or take the line break out of the cell"),
                report,
            );
            return;
        }
        if record.len() > self.ground.layout.width {
            let message =
                format!("{} cells under a header of {}", record.len(), self.ground.layout.width);
            let place = self.ground.source.line(row);
            self.fault(
                Fault::error(Code::BadSyntax, message)
                    .at(&place, "this row")
                    .help("a cell that holds the separator must stand in quotes"),
                report,
            );
            return;
        }
        // A fault in the row is reported by whoever finds it.
        let _ = self.slab(record, report);
    }

    pub(super) fn cell<'r>(&self, record: &Row<'r>, column: Column) -> Option<(&'r str, usize)> {
        let (index, _) = self.ground.layout.of(column)?;
        let cell = record.get(index)?;
        (!cell.is_empty()).then_some((cell, index))
    }

    fn required<'r>(
        &mut self,
        record: &Row<'r>,
        column: Column,
        what: &str,
        row: usize,
        report: &mut Report,
    ) -> Option<&'r str> {
        if let Some((cell, _)) = self.cell(record, column) {
            return Some(cell);
        }
        let (index, _) = self.ground.layout.of(column).unwrap_or((0, None));
        let place = self.cell_place(row, index);
        self.fault(
            Fault::error(Code::MissingKey, format!("a slab has no {what}"))
                .at(&place, "the cell is empty"),
            report,
        );
        None
    }

    pub(super) fn quantity<T: Measured>(
        &mut self,
        record: &Row<'_>,
        column: Column,
        row: usize,
        report: &mut Report,
    ) -> Option<T> {
        let (cell, index) = self.cell(record, column)?;
        let (_, unit) = self.ground.layout.of(column)?;
        match cells::measured(cell, unit) {
            Ok(value) => Some(value),
            Err(_) if unit.is_none() && cells::number(cell).is_some() => {
                self.unitless::<T>(column, report);
                None
            }
            Err(malformed) => {
                let place = self.cell_place(row, index);
                self.fault(
                    Fault::error(Code::BadQuantity, format!("\"{cell}\" cannot be read"))
                        .at(&place, format!("expected {}", malformed.expected)),
                    report,
                );
                None
            }
        }
    }

    /// One side of a slab, within what a slab can measure.
    fn side(
        &mut self,
        record: &Row<'_>,
        column: Column,
        what: &str,
        row: usize,
        report: &mut Report,
    ) -> Option<Length> {
        let index = self.ground.layout.of(column)?.0;
        let cell = record.get(index).filter(|cell| !cell.is_empty());
        let Some(cell) = cell else {
            self.required(record, column, what, row, report);
            return None;
        };
        let (_, unit) = self.ground.layout.of(column)?;
        let (expected, code) = match cells::measured::<Length>(cell, unit) {
            Ok(side) if is_side(side) => return Some(side),
            Ok(side) => {
                let slip = if side.mm_up() > LONGEST_MM {
                    ": is the unit right?"
                } else if cell.contains([',', '.']) {
                    ": is this a thousands mark?"
                } else {
                    ""
                };
                (format!("0.1 m to 6 m{slip}"), Code::OutOfRange)
            }
            Err(_) if unit.is_none() && cells::number(cell).is_some() => {
                self.unitless::<Length>(column, report);
                return None;
            }
            Err(malformed) => (malformed.expected, Code::BadQuantity),
        };
        let place = self.cell_place(row, index);
        let message = format!("{what} \"{cell}\" is no side of a slab");
        self.fault(Fault::error(code, message).at(&place, format!("expected {expected}")), report);
        None
    }

    fn slab(&mut self, record: &Row<'_>, report: &mut Report) -> Option<()> {
        let row = record.line;
        let id = self.required(record, Column::Slab, "number", row, report);
        let bundle = self.required(record, Column::Bundle, "bundle", row, report);
        let length = self.side(record, Column::Length, "length", row, report);
        let height = self.side(record, Column::Height, "height", row, report);
        let line = self.line_of(record, row, report);
        let thick = self.thickness(record, line, row, report);
        let gross = Size { length: length?, height: height? };
        let (id, bundle, line) = (id?, bundle?, line?);
        thick?;
        if self.ground.kinds.get(line).is_none_or(Option::is_none) {
            self.skipped = true;
            return None;
        }
        let billed_sides = self.billed_sides(record, line, gross, row, report)?;
        let made = self.make_slab(id, line, gross, billed_sides, row);
        let slab = match made {
            Ok(slab) => slab,
            Err(overflow) => {
                let place = self.ground.source.line(row);
                self.fault(overflowed(overflow, &place), report);
                return None;
            }
        };
        if slab.billed_area.is_none() {
            let place = self.ground.source.line(row);
            self.fault(
                Fault::error(Code::OutOfRange, format!("slab {id} has no billed area left"))
                    .at(&place, "the take-off is larger than the slab"),
                report,
            );
            return None;
        }
        self.add(slab, bundle, gross, record, report)
    }

    fn make_slab(
        &self,
        id: &str,
        line: usize,
        gross: Size,
        billed_sides: Size,
        row: usize,
    ) -> Result<Slab, Overflow> {
        let overflow = Overflow { what: "a slab" };
        let facts = self.ground.kinds.get(line).and_then(Option::as_ref).ok_or(overflow)?;
        let measure = self.ground.lines.get(line).map(|line| line.measure).unwrap_or_default();
        let gross_area = gross.area()?;
        let billed = measure.billed(billed_sides)?;
        Ok(Slab {
            id: id.into(),
            line: u32::try_from(line).map_err(|_| overflow)?,
            bundle: 0,
            row: u32::try_from(row).map_err(|_| overflow)?,
            gross_area,
            billed_area: billed,
            mass: Mass::of_area(gross_area, facts.kg_per_m2)?,
        })
    }

    /// The billed sides: as listed, or by the line's measure.
    fn billed_sides(
        &mut self,
        record: &Row<'_>,
        line: usize,
        gross: Size,
        row: usize,
        report: &mut Report,
    ) -> Option<Size> {
        let listed = self.cell(record, Column::BilledLength).is_some()
            || self.cell(record, Column::BilledHeight).is_some();
        let sides = if listed {
            let length = self.side(record, Column::BilledLength, "billed length", row, report);
            let height = self.side(record, Column::BilledHeight, "billed height", row, report);
            Size { length: length?, height: height? }
        } else {
            match self.ground.lines.get(line).map(|line| line.measure.sides(gross))? {
                Ok(sides) => sides,
                Err(overflow) => {
                    let place = self.ground.source.line(row);
                    self.fault(overflowed(overflow, &place), report);
                    return None;
                }
            }
        };
        if listed && (sides.length > gross.length || sides.height > gross.height) {
            let place = self.ground.source.line(row);
            self.fault(
                Fault::error(Code::Contradiction, "a slab is billed larger than it is")
                    .at(&place, "billed size above gross size"),
                report,
            );
            return None;
        }
        Some(sides)
    }

    /// The line a row belongs to: by its id, or by stone, finish and thickness where that is
    /// unambiguous.
    fn line_of(&mut self, record: &Row<'_>, row: usize, report: &mut Report) -> Option<usize> {
        if self.ground.only_line.is_some() {
            return self.ground.only_line;
        }
        if let Some((id, index)) = self.cell(record, Column::Line) {
            let found = self.ground.lines.iter().position(|line| line.id == id && !line.nominal);
            if found.is_none() && !self.ground.all_lines {
                self.skipped = true;
            } else if found.is_none() {
                let known: Vec<&str> = self
                    .ground
                    .lines
                    .iter()
                    .filter(|l| !l.nominal)
                    .map(|line| line.id.as_str())
                    .collect();
                let name = At { value: id.to_owned(), place: self.cell_place(row, index) };
                let fault = unknown_reference("line with slabs", &name, "the invoices", &known);
                self.fault(fault, report);
            }
            return found;
        }
        let stone = self.cell(record, Column::Stone).map(|(cell, _)| cell);
        let finish = self.cell(record, Column::Finish).map(|(cell, _)| cell);
        let thickness = self.quantity::<Length>(record, Column::Thickness, row, report);
        let fits: Vec<usize> = self
            .ground
            .lines
            .iter()
            .enumerate()
            .filter(|(index, line)| {
                !line.nominal
                    && stone.is_none_or(|stone| {
                        line.stone.value == stone
                            || self
                                .ground
                                .kinds
                                .get(*index)
                                .and_then(Option::as_ref)
                                .is_some_and(|facts| facts.stone.name == stone)
                    })
                    && finish.is_none_or(|finish| line.finish == finish)
                    && thickness.is_none_or(|thickness| line.thickness == thickness)
            })
            .map(|(index, _)| index)
            .collect();
        if let [one] = fits[..] {
            return Some(one);
        }
        let mut telling = [Column::Thickness, Column::Stone, Column::Finish].into_iter();
        if !self.ground.all_lines || telling.any(|column| self.said.contains(&column)) {
            self.skipped = true;
            return None;
        }
        if fits.len() > 1 && self.ground.layout.names_no_line() {
            let ids: Vec<&str> = self.ground.lines.iter().map(|line| line.id.as_str()).collect();
            let fault = |place: Place| {
                Fault::error(Code::Contradiction, "the list does not say which line a slab is of")
                    .at(&place, format!("lines {}", ids.join(", ")))
                    .help("add a column \"line\" that names each slab's invoice line")
            };
            self.once(Column::Line, fault, report);
            return None;
        }
        let place = self.ground.source.line(row);
        let fault = if fits.is_empty() {
            Fault::error(Code::UnknownReference, "a slab belongs to no line of the invoices")
                .at(&place, "no line has this stone, finish and thickness")
        } else {
            let ids: Vec<&str> = fits
                .iter()
                .filter_map(|at| self.ground.lines.get(*at))
                .map(|line| line.id.as_str())
                .collect();
            Fault::error(Code::Contradiction, "a slab may belong to several lines of the invoices")
                .at(&place, format!("it fits lines {}", ids.join(", ")))
        };
        self.fault(fault.help("add a column \"line\" that names the invoice line"), report);
        None
    }

    /// The listed thickness, where there is one, must be the line's.
    fn thickness(
        &mut self,
        record: &Row<'_>,
        line: Option<usize>,
        row: usize,
        report: &mut Report,
    ) -> Option<()> {
        let Some((cell, index)) = self.cell(record, Column::Thickness) else {
            return Some(());
        };
        let listed = self.quantity::<Length>(record, Column::Thickness, row, report)?;
        let line = self.ground.lines.get(line?)?;
        if listed == line.thickness {
            return Some(());
        }
        let line_place = line.place.clone();
        let message = format!("thickness \"{cell}\" is not that of line {}", line.id);
        let place = self.cell_place(row, index);
        self.fault(
            Fault::error(Code::Contradiction, message)
                .at(&place, "the packing list")
                .also(&line_place, "the invoice line"),
            report,
        );
        None
    }
}
