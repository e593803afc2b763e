//! The cells of a list as quantities, and the faults of a list: counted, and each said once.

use super::super::cells::{self, Measured};
use super::super::rows::Row;
use super::ground::Ground;
use super::layout::{Column, cell_place};
use super::side::{LONGEST_MM, is_side, sides};
use crate::fault::{Code, Fault, Place, Report};
use crate::quantity::Length;

/// Faults of one list that are shown; the rest is counted.
pub(super) const MOST_FAULTS: usize = 40;

/// A list as far as it has been read.
pub(super) struct Reading<'a> {
    pub(super) ground: &'a Ground<'a>,
    /// Whether a slab was left out because its line could not be read.
    pub(super) skipped: bool,
    pub(super) faults: usize,
    /// The place of the first fault that is not shown.
    pub(super) unshown: Option<Place>,
    /// Columns whose fault is reported once.
    said: Vec<Column>,
}

impl<'a> Reading<'a> {
    pub(super) fn new(ground: &'a Ground<'a>) -> Self {
        Self { ground, skipped: false, faults: 0, unshown: None, said: Vec::new() }
    }

    /// Whether nothing was at fault and every slab was taken.
    pub(super) fn is_sound(&self) -> bool {
        self.faults == 0 && !self.skipped
    }

    /// Whether the fault of a column as a whole has been reported.
    pub(super) fn has_said(&self, column: Column) -> bool {
        self.said.contains(&column)
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

    pub(super) fn cell<'r>(&self, record: &Row<'r>, column: Column) -> Option<(&'r str, usize)> {
        let (index, _) = self.ground.layout.of(column)?;
        let cell = record.get(index)?;
        (!cell.is_empty()).then_some((cell, index))
    }

    pub(super) fn required<'r>(
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
    pub(super) fn side(
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
                (format!("{}{slip}", sides(report.units())), Code::OutOfRange)
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
}
