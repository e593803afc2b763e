//! The cells of a list as quantities, and the faults of a list: counted, and each said once.

use super::super::cells::{self, Measured};
use super::super::rows::Row;
use super::super::slips;
use super::super::table::rounded;
use super::ground::Ground;
use super::layout::{Column, IMPORT, cell_place};
use super::meant::{Meant, figures, likely_unit, meant};
use super::side::{LONGEST_MM, is_side, sides, sides_in};
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::quantity::{Decimal, Length};

/// Faults of one list that are shown; the rest is counted.
pub(super) const MOST_FAULTS: usize = 40;

/// A list as far as it has been read.
pub(super) struct Reading<'a> {
    pub(super) ground: &'a Ground<'a>,
    /// Whether nothing was at fault and every slab was taken.
    pub(super) sound: Result<(), Reported>,
    pub(super) faults: usize,
    /// The place of the first fault that is not shown.
    pub(super) unshown: Option<Place>,
    /// What has been reported, and is not reported again.
    said: Vec<(Cause, Reported)>,
    /// The figures of columns in which a side was at fault.
    figures: Vec<(Column, Vec<Decimal>)>,
    /// Columns of figures that are finer than can be measured.
    fine: Vec<Fine>,
}

/// A column of figures that are finer than can be measured.
struct Fine {
    column: Column,
    /// How many cells were rounded.
    cells: usize,
    /// Where the first of them stands.
    first: Place,
    /// The line of the last.
    row: usize,
}

/// What is wrong with a list as a whole: it is reported once, however many rows show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cause {
    /// A column as a whole.
    Column(Column),
    /// Figures in another unit than the header names.
    Unit,
    /// Fractions, inch marks, feet and inches.
    Fraction,
    /// Numbers that a spreadsheet made dates of.
    Dates,
    /// Cells that a decimal comma parts in a list parted by commas.
    Commas,
    /// Figures with thousands marks and a decimal mark.
    Thousands,
    /// Errors of a spreadsheet in place of figures.
    Formula,
    /// Rows of totals between the slabs.
    Total,
    /// Rows that are no slabs.
    Remark,
    /// A take-off larger than the slabs.
    TakeOff,
    /// Rows that leave the bundle to the row above.
    BundleAbove,
    /// Slab numbers that begin again in each bundle.
    NumbersAgain,
    /// Bundles weighed at less than their timber.
    WeighedLittle,
    /// Slabs that are billed larger than they are.
    BilledLarger,
    /// Slabs of a line whose thickness is a slip.
    Thick,
}

impl Cause {
    /// Whether it comes of how suppliers lay out their sheets, and `import` reads on over it.
    fn is_of_a_sheet(self) -> bool {
        matches!(
            self,
            Self::Fraction
                | Self::Dates
                | Self::Thousands
                | Self::Total
                | Self::Remark
                | Self::BundleAbove
                | Self::NumbersAgain
        )
    }
}

impl<'a> Reading<'a> {
    pub(super) fn new(ground: &'a Ground<'a>) -> Self {
        Self {
            ground,
            sound: Ok(()),
            faults: 0,
            unshown: None,
            said: Vec::new(),
            figures: Vec::new(),
            fine: Vec::new(),
        }
    }

    /// The figures of a column, looked up once.
    fn figures(&mut self, column: Column) -> &[Decimal] {
        let known = self.figures.iter().position(|(one, _)| *one == column);
        let at = known.unwrap_or_else(|| {
            self.figures.push((column, figures(self.ground, column)));
            self.figures.len() - 1
        });
        self.figures.get(at).map_or(&[], |(_, all)| all)
    }

    /// Proof that the fault of a whole column has been reported.
    pub(super) fn has_said(&self, column: Column) -> Option<Reported> {
        self.said_of(Cause::Column(column))
    }

    fn said_of(&self, cause: Cause) -> Option<Reported> {
        self.said.iter().find(|(one, _)| *one == cause).map(|(_, told)| *told)
    }

    /// Reports what is wrong with the list as a whole, the first time that a row shows it.
    pub(super) fn first(
        &mut self,
        cause: Cause,
        fault: impl FnOnce(&Self) -> Fault,
        report: &mut Report,
    ) -> Reported {
        if let Some(told) = self.said_of(cause) {
            return told;
        }
        let fault = fault(self);
        let fault = if cause.is_of_a_sheet() { fault.help(IMPORT) } else { fault };
        let told = self.fault(fault, report);
        self.said.push((cause, told));
        told
    }

    pub(super) fn fault(&mut self, fault: Fault, report: &mut Report) -> Reported {
        match self.sound {
            Err(told) if self.faults >= MOST_FAULTS => {
                self.faults += 1;
                if self.unshown.is_none() {
                    self.unshown = fault.place.map(|(place, _)| place);
                }
                told
            }
            _ => {
                let (told, is_new) = report.error_new(fault);
                self.faults += usize::from(is_new);
                self.sound = Err(told);
                told
            }
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
    ) -> Reported {
        let row = self.ground.layout.row;
        let place = |own: &Self| match own.ground.layout.of(column) {
            Some((index, _)) => own.cell_place(row, index),
            None => own.ground.source.line(row),
        };
        self.first(Cause::Column(column), |own| fault(place(own)), report)
    }

    /// Reports a column of bare figures under a header without a unit.
    fn unitless<T: Measured>(&mut self, column: Column, report: &mut Report) -> Reported {
        let units = T::UNITS;
        let is_side = units == Length::UNITS && column != Column::Thickness;
        let likely = if is_side { likely_unit(self.figures(column)) } else { None };
        let help = match likely {
            Some(unit) => format!(
                "the figures look like {unit}: head them \"length ({unit})\" and \"height ({unit})\""
            ),
            None => format!(
                "name the unit in the header, such as \"{} ({})\"",
                column.name(),
                units.get(1).unwrap_or(&"")
            ),
        };
        // Where one side has no unit, the other has none either: that is one slip.
        let cause = match column {
            Column::Height | Column::BilledLength | Column::BilledHeight => Column::Length,
            other => other,
        };
        let index = self.ground.layout.of(column).map_or(0, |(index, _)| index);
        let fault = |own: &Self| {
            Fault::error(Code::BadQuantity, "a column of measures has no unit")
                .at(
                    &own.cell_place(own.ground.layout.row, index),
                    format!("in {}?", units.join(", ")),
                )
                .help(help)
        };
        self.first(Cause::Column(cause), fault, report)
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
    ) -> Result<&'r str, Reported> {
        if let Some((cell, _)) = self.cell(record, column) {
            return Ok(cell);
        }
        let fault = Fault::error(Code::MissingKey, format!("a slab has no {what}"));
        let fault = match self.ground.layout.of(column) {
            Some((index, _)) => fault
                .at(&self.cell_place(row, index), "the cell is empty")
                .help(format!("write its {what}, or delete the row if the slab does not come")),
            None => {
                let place = self.ground.source.line(self.ground.layout.row);
                fault.at(&place, format!("the list has no column \"{what}\""))
            }
        };
        Err(self.fault(fault, report))
    }

    pub(super) fn quantity<T: Measured>(
        &mut self,
        record: &Row<'_>,
        column: Column,
        row: usize,
        report: &mut Report,
    ) -> Result<Option<T>, Reported> {
        let Some((cell, index)) = self.cell(record, column) else { return Ok(None) };
        let unit = self.ground.layout.of(column).and_then(|(_, unit)| unit);
        match cells::measured(cell, unit) {
            Ok((value, is_rounded)) => {
                self.note_rounded(is_rounded, column, row, index);
                Ok(Some(value))
            }
            Err(malformed)
                if !malformed.is_range && unit.is_none() && cells::number(cell).is_some() =>
            {
                Err(self.unitless::<T>(column, report))
            }
            Err(malformed) => {
                let place = self.cell_place(row, index);
                let code = if malformed.is_range { Code::OutOfRange } else { Code::BadQuantity };
                let most = T::most(report.units()).filter(|_| malformed.is_range);
                let expected = most.map_or(malformed.expected, |most| format!("at most {most}"));
                let fault = Fault::error(code, format!("\"{cell}\" cannot be read"));
                Err(self.unreadable(cell, (fault, &place), &expected, report))
            }
        }
    }

    /// Reports a cell that is no figure. What a spreadsheet makes of a whole column is reported once.
    fn unreadable(
        &mut self,
        cell: &str,
        (fault, place): (Fault, &Place),
        expected: &str,
        report: &mut Report,
    ) -> Reported {
        if let Some(meant) = slips::thousands(cell) {
            let fault = fault.at(place, "a figure with thousands marks");
            let help = format!("write {meant}, and so in each row: no marks but the decimal one");
            self.first(Cause::Thousands, |_| fault.help(help), report)
        } else if cell.starts_with('#') {
            let fault = fault.at(place, "the spreadsheet's word for a formula that failed");
            let help = "mend the formula in the spreadsheet and save the list anew, or write the figure here";
            self.first(Cause::Formula, |_| fault.help(help), report)
        } else {
            let mut fault = fault.at(place, format!("expected {expected}"));
            if let Some(meant) = slips::digits(cell) {
                fault = fault.help(format!("is \"{meant}\" meant?"));
            }
            self.fault(fault, report)
        }
    }

    /// Notes a cell of which something was lost, once a row.
    fn note_rounded(&mut self, is_rounded: bool, column: Column, row: usize, index: usize) {
        if !is_rounded {
            return;
        }
        match self.fine.iter_mut().find(|fine| fine.column == column) {
            Some(fine) => {
                fine.cells += usize::from(fine.row != row);
                fine.row = row;
            }
            None => {
                let first = self.cell_place(row, index);
                self.fine.push(Fine { column, cells: 1, first, row });
            }
        }
    }

    /// Says which columns were rounded, each once.
    pub(super) fn tell_rounded(&self, report: &mut Report) {
        for Fine { column, cells, first, .. } in &self.fine {
            let what = match cells {
                1 => format!("a cell of \"{}\" is", column.name()),
                many => format!("{many} cells of \"{}\" are", column.name()),
            };
            report.add(rounded(&what, first, report.units()));
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
    ) -> Result<Length, Reported> {
        let cell = self.required(record, column, what, row, report)?;
        let (index, unit) = self.ground.layout.of(column).unwrap_or((0, None));
        let place = |reading: &Self| reading.cell_place(row, index);
        let message = format!("a slab cannot have the {what} \"{cell}\"");
        Err(match cells::measured::<Length>(cell, unit) {
            Ok((side, is_rounded)) if is_side(side) => {
                self.note_rounded(is_rounded, column, row, index);
                return Ok(side);
            }
            Ok((side, _)) => {
                let range = sides(report.units());
                let fault = |reading: &Self, label: String| {
                    Fault::error(Code::OutOfRange, message).at(&place(reading), label)
                };
                let is_thousand =
                    cell.rsplit_once([',', '.']).is_some_and(|(_, digits)| digits.len() == 3);
                let likely = match (cells::number(cell), unit) {
                    (Some(figure), Some(unit)) => meant(figure, unit, self.figures(column)),
                    _ => Meant::Unknown,
                };
                match likely {
                    _ if is_thousand => {
                        let plain = cell.replace([',', '.'], "");
                        let label = format!("expected {range}: is this a thousands mark?");
                        let fault = fault(self, label).help(format!("write {plain}"));
                        self.fault(fault, report)
                    }
                    Meant::Figure(figure) => {
                        let fault = fault(self, format!("expected {range}"));
                        self.fault(fault.help(format!("is \"{figure}\" meant?")), report)
                    }
                    Meant::Unknown => {
                        let long =
                            if side.mm_up() > LONGEST_MM { ": is the unit right?" } else { "" };
                        let fault = fault(self, format!("expected {range}{long}"));
                        let help = format!(
                            "write the {what} of this slab, or delete the row if the slab does not come"
                        );
                        self.fault(fault.help(help), report)
                    }
                    Meant::Unit(meant) => {
                        let range = unit.and_then(sides_in).unwrap_or(range);
                        let is = unit.and_then(|unit| in_metres(cell, unit));
                        let is = is.map_or_else(String::new, |is| format!("{is}. "));
                        let word = cells::in_words(meant);
                        let help =
                            format!("{is}Is the column in {word}? Head it \"{what} ({meant})\"");
                        self.first(
                            Cause::Unit,
                            |own| fault(own, format!("a side is {range}")).help(help),
                            report,
                        )
                    }
                }
            }
            Err(malformed) if malformed.is_range => {
                let label = format!("expected {}", sides(report.units()));
                let fault = Fault::error(Code::OutOfRange, message).at(&place(self), label);
                self.fault(fault, report)
            }
            Err(_) if unit.is_none() && cells::number(cell).is_some() => {
                self.unitless::<Length>(column, report)
            }
            Err(malformed) => {
                let (fault, place) = (Fault::error(Code::BadQuantity, message), place(self));
                match slips::inches(cell) {
                    Some(inches) => self.first(
                        Cause::Fraction,
                        |_| {
                            fault.at(&place, "a fraction, or a mark of feet or inches").help(
                                format!("write decimals, here {inches}, and head the column \"{what} (in)\""),
                            )
                        },
                        report,
                    ),
                    None => self.unreadable(cell, (fault, &place), &malformed.expected, report),
                }
            }
        })
    }
}

/// A figure in millimetres or centimetres as metres, in words.
fn in_metres(cell: &str, unit: &str) -> Option<String> {
    let in_a_metre = match unit {
        "mm" => Decimal::ONE_THOUSAND,
        "cm" => Decimal::ONE_HUNDRED,
        _ => return None,
    };
    let metres = cells::number(cell)?.checked_div(in_a_metre)?.normalize();
    Some(format!("{cell} {unit} is {metres} m"))
}
