//! Which line of the invoices a row of the list belongs to.

use super::super::cells::{self, Measured as _};
use super::super::rows::Row;
use super::super::table::unknown_reference;
use super::layout::Column;
use super::reading::{Cause, Reading};
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::quantity::{Decimal, Length};
use crate::trade::{Quality, QualityId};

impl Reading<'_> {
    /// The line a row belongs to: by its id, or by stone, finish and thickness where that is
    /// unambiguous.
    pub(super) fn line_of(
        &mut self,
        record: &Row<'_>,
        report: &mut Report,
    ) -> Result<usize, Reported> {
        let row = record.line;
        if let Some(only) = self.ground.only_line {
            return Ok(only);
        }
        if let Some((id, index)) = self.cell(record, Column::Line) {
            let found = self.ground.lines.iter().position(|line| line.id == id && !line.nominal);
            return found.map_or_else(
                || {
                    // A line that could not be read may be the one.
                    self.ground.all_lines?;
                    let known: Vec<&str> = self
                        .ground
                        .lines
                        .iter()
                        .filter(|l| !l.nominal)
                        .map(|line| line.id.as_str())
                        .collect();
                    let name = At { value: id.to_owned(), place: self.cell_place(row, index) };
                    let fault = unknown_reference("line with slabs", &name, "the invoices", &known);
                    Err(self.fault(fault, report))
                },
                Ok,
            );
        }
        let stone = self.cell(record, Column::Stone).map(|(cell, _)| cell);
        let finish = self.cell(record, Column::Finish).map(|(cell, _)| cell);
        self.known_finish(record, report)?;
        // One that cannot be read is told, and may be that of any line.
        let thickness = self.quantity::<Length>(record, Column::Thickness, row, report);
        let thickness = thickness.ok().flatten();
        let fits: Vec<usize> = self
            .ground
            .lines
            .iter()
            .enumerate()
            .filter(|(index, line)| {
                !line.nominal
                    && stone.is_none_or(|stone| {
                        let facts = self.ground.facts(*index);
                        line.stone.value == stone
                            || facts.is_some_and(|facts| facts.stone.name == stone)
                    })
                    && finish.is_none_or(|finish| line.finish.id == finish)
                    && thickness.is_none_or(|thickness| line.thickness == thickness)
            })
            .map(|(index, _)| index)
            .collect();
        if let [one] = fits[..] {
            return Ok(one);
        }
        self.ground.all_lines?;
        let mut telling = [Column::Thickness, Column::Stone, Column::Finish].into_iter();
        if let Some(told) = telling.find_map(|column| self.has_said(column)) {
            return Err(told);
        }
        if fits.len() > 1 && self.ground.layout.names_no_line() {
            let ids: Vec<&str> = self.ground.lines.iter().map(|line| line.id.as_str()).collect();
            let fault = |place: Place| {
                Fault::error(Code::Contradiction, "the list does not say which line a slab is of")
                    .at(&place, format!("lines {}", ids.join(", ")))
                    .help("add a column \"line\" that names each slab's invoice line")
            };
            return Err(self.once(Column::Line, fault, report));
        }
        if fits.is_empty()
            && let Some(told) = self.other_thickness(record, thickness, report)
        {
            return Err(told);
        }
        let place = self.ground.source.line(row);
        let fault = if fits.is_empty() {
            Fault::error(Code::UnknownReference, "a slab fits no line of the invoices")
                .at(&place, "no line has this stone, finish and thickness")
        } else {
            let ids: Vec<&str> = fits
                .iter()
                .filter_map(|at| self.ground.lines.get(*at))
                .map(|line| line.id.as_str())
                .collect();
            Fault::error(Code::Contradiction, "a slab fits several lines of the invoices")
                .at(&place, format!("it fits lines {}", ids.join(", ")))
        };
        let mut listed = self.ground.lines.iter().filter(|line| !line.nominal);
        let help = match (listed.next(), listed.next()) {
            (Some(line), None) => format!(
                "correct the row, or line {}: it is \"{}\", \"{}\", {}",
                line.id,
                line.stone.value,
                line.finish.id,
                line.thickness.show(report.units())
            ),
            _ => "add a column \"line\" that names the invoice line".to_owned(),
        };
        Err(self.fault(fault.help(help), report))
    }

    /// Reports a thickness that is not that of the one line there is, in the unit of its column.
    fn other_thickness(
        &mut self,
        record: &Row<'_>,
        thickness: Option<Length>,
        report: &mut Report,
    ) -> Option<Reported> {
        let mut listed = self.ground.lines.iter().filter(|line| !line.nominal);
        let (line, None) = (listed.next()?, listed.next()) else { return None };
        let thickness = thickness.filter(|one| *one != line.thickness)?;
        let (cell, index) = self.cell(record, Column::Thickness)?;
        let (_, unit) = self.ground.layout.of(Column::Thickness)?;
        let (figure, unit) = (cells::number(cell)?, unit?);
        let (own, units) = (line.thickness, report.units());
        let [shown, line_has] = [thickness, own].map(|one| one.show(units));
        let message = format!("a slab of {shown} fits no line of the invoices");
        let place = |own: &Self| own.cell_place(record.line, index);
        let fault = |own: &Self| {
            Fault::error(Code::UnknownReference, message)
                .at(&place(own), format!("line {} is {line_has}", line.id))
                .also(&line.place, "this line")
        };
        let is_own = |other: &&&'static str| matches!(Length::of(figure, other), Some(Ok((one, _))) if one == own);
        if let Some(other) = Length::UNITS.iter().find(is_own) {
            let help = format!("is the column in {other}? head it \"thickness ({other})\"");
            let cause = Cause::Column(Column::Thickness);
            return Some(self.first(cause, |own| fault(own).help(help), report));
        }
        let one = Length::of(Decimal::ONE, unit)?.ok()?.0;
        let here = own.base().checked_div(one.base())?.normalize();
        let help = format!("write {here} here, or thickness = \"{shown}\" under line {}", line.id);
        let fault = fault(self).help(help);
        Some(self.fault(fault, report))
    }

    /// A finish that is listed must be one of the importer's.
    fn known_finish(&mut self, record: &Row<'_>, report: &mut Report) -> Result<(), Reported> {
        let Some((cell, index)) = self.cell(record, Column::Finish) else { return Ok(()) };
        let known = self.ground.finishes.iter().map(|one| one.id.as_str());
        if known.clone().any(|one| one == cell) {
            return Ok(());
        }
        let name = At { value: cell.to_owned(), place: self.cell_place(record.line, index) };
        let known: Vec<&str> = known.collect();
        let fault = unknown_reference("finish", &name, "rates/stones.toml", &known);
        Err(self.fault(fault, report))
    }

    /// A slab's quality: the list's word, or its line's where the list has none.
    pub(super) fn quality(
        &mut self,
        record: &Row<'_>,
        line: usize,
        report: &mut Report,
    ) -> Result<Option<QualityId>, Reported> {
        let Some((cell, index)) = self.cell(record, Column::Quality) else {
            return Ok(self.ground.lines.get(line).and_then(|line| line.quality.clone()));
        };
        let is_called = |one: &&Quality| *one.id == cell || one.name == cell;
        if let Some(quality) = self.ground.qualities.iter().find(is_called) {
            return Ok(Some(quality.id.clone()));
        }
        let name = At { value: cell.to_owned(), place: self.cell_place(record.line, index) };
        let known: Vec<&str> = self.ground.qualities.iter().map(|one| one.id.as_str()).collect();
        let fault = unknown_reference("quality", &name, "rates/stones.toml", &known);
        Err(self.fault(fault, report))
    }

    /// The listed thickness, where there is one, must be the line's.
    pub(super) fn thickness(
        &mut self,
        record: &Row<'_>,
        line: Result<usize, Reported>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let row = record.line;
        let Some((cell, index)) = self.cell(record, Column::Thickness) else {
            return Ok(());
        };
        let listed = self.quantity::<Length>(record, Column::Thickness, row, report)?;
        let line = report.found(self.ground.lines.get(line?), "a line of the invoices")?;
        if listed == Some(line.thickness) {
            return Ok(());
        }
        let line_place = line.place.clone();
        let message = format!("thickness \"{cell}\" is not that of line {}", line.id);
        let place = self.cell_place(row, index);
        let fault = Fault::error(Code::Contradiction, message)
            .at(&place, "the packing list")
            .also(&line_place, "the invoice line");
        Err(self.fault(fault, report))
    }
}
