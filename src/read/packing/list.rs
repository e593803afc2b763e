//! The rows of a list as they come in: a slab each.

use std::collections::BTreeMap;

use smol_str::SmolStr;

use super::super::cells;
use super::super::rows::{self, Row, Unreadable};
use super::draft::Drafts;
use super::ground::{Ground, LineFacts, overflowed};
use super::layout::Column;
use super::reading::{Cause, Reading};
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::quantity::{Decimal, Mass, Overflow, Sides, Size};
use crate::trade::{Marked, Measure, Sawn, Slab};

/// The rows of a list as they come in.
pub(super) struct List<'a> {
    pub(super) reading: Reading<'a>,
    pub(super) slabs: Vec<Slab>,
    /// What is said of slabs beside their measures, by their names.
    pub(super) marked: BTreeMap<SmolStr, Marked>,
    pub(super) drafts: Drafts,
    /// The slabs that are higher than long, if there are any.
    pub(super) upright: Option<Upright>,
    /// How many rows remark on damage, and where the first does.
    pub(super) damaged: Option<(usize, Place)>,
    /// The sums of the supplier's areas, column by column; `None`: a cell of it is no figure.
    pub(super) areas: Vec<Option<Decimal>>,
}

/// Slabs that are higher than long: how many, the line of the first, and its sides as they are written.
pub(super) struct Upright {
    pub(super) count: usize,
    pub(super) row: usize,
    pub(super) sides: [SmolStr; 2],
}

/// Whether two cells side by side are figures, the second of one or two digits: what a decimal comma leaves.
fn has_split_figure(record: &Row<'_>) -> bool {
    let is_figure =
        |cell: &&str| !cell.is_empty() && cell.bytes().all(|byte| byte.is_ascii_digit());
    (1..record.len()).any(|at| {
        let pair = record.get(at - 1).zip(record.get(at));
        pair.is_some_and(|(one, other)| is_figure(&one) && is_figure(&other) && other.len() <= 2)
    })
}

impl<'a> List<'a> {
    /// Reads all rows of a list.
    pub(super) fn read(ground: &'a Ground<'a>, report: &mut Report) -> Self {
        let mut list = Self {
            reading: Reading::new(ground),
            slabs: Vec::new(),
            marked: BTreeMap::new(),
            drafts: Drafts::default(),
            upright: None,
            damaged: None,
            areas: vec![Some(Decimal::ZERO); ground.layout.areas.len()],
        };
        let mut is_header = true;
        let read = rows::each_row(&ground.source.text, ground.delimiter, |row| {
            if !std::mem::take(&mut is_header) {
                list.row(row, report);
            }
        });
        if let Err(Unreadable { line, why }) = read {
            let message = format!("{} cannot be read from here on", ground.source.name);
            let place = ground.source.line(line);
            let fault = Fault::error(Code::BadSyntax, message).at(&place, why);
            list.reading.fault(fault, report);
        }
        list
    }

    fn row(&mut self, record: &Row<'_>, report: &mut Report) {
        if record.is_blank() {
            return;
        }
        let row = record.line;
        if record.runs_on {
            let place = self.reading.ground.source.line(row);
            self.reading.fault(
                Fault::error(Code::BadSyntax, "a cell runs over the end of its line")
                    .at(&place, "a quote opens in this line and does not close in it")
                    .help("close the quote (a quote inside quotes is written twice), or take the line break out of the cell"),
                report,
            );
            return;
        }
        if record.len() > self.reading.ground.layout.width {
            let message = format!(
                "the row has {} cells, and the header {}",
                record.len(),
                self.reading.ground.layout.width
            );
            let place = self.reading.ground.source.line(row);
            let fault = Fault::error(Code::BadSyntax, message).at(&place, "this row");
            if self.reading.ground.delimiter == b',' && has_split_figure(record) {
                let help = "are these decimal commas? save the list with semicolons between its cells, or write decimal points: 300.5";
                self.reading.first(Cause::Commas, |_| fault.help(help), report);
                return;
            }
            self.reading
                .fault(fault.help("a cell that holds the separator must stand in quotes"), report);
            return;
        }
        if let Err(told) = self.slab(record, report) {
            self.reading.sound = Err(told);
        }
    }

    /// Takes in the slab of a row, or the slabs.
    fn slab(&mut self, record: &Row<'_>, report: &mut Report) -> Result<(), Reported> {
        let (row, ground) = (record.line, self.reading.ground);
        if self.is_total(record) {
            let total = |reading: &Reading<'_>| {
                Fault::error(Code::MissingKey, "a row of the list is a total, and no slab")
                    .at(&reading.ground.source.line(row), "this row")
                    .help("delete the rows of totals and subtotals: the sums are worked out from the slabs")
            };
            return Err(self.reading.first(Cause::Total, total, report));
        }
        let filled =
            (0..record.len()).filter_map(|at| record.get(at)).filter(|cell| !cell.is_empty());
        if filled.count() == 1 && record.len() > 1 {
            let remark = |reading: &Reading<'_>| {
                Fault::error(Code::MissingKey, "a row of the list is no slab")
                    .at(&reading.ground.source.line(row), "one cell alone")
                    .help("delete the rows that are no slabs: titles, remarks, signatures; of a slab, fill its other cells")
            };
            return Err(self.reading.first(Cause::Remark, remark, report));
        }
        let id = self.reading.required(record, Column::Slab, "number", row, report);
        let bundle = self.bundle(record, row, report);
        let length = self.reading.side(record, Column::Length, "length", row, report);
        let height = self.reading.side(record, Column::Height, "height", row, report);
        let line = self.reading.line_of(record, report);
        let thick = self.reading.thickness(record, line, report);
        let quality = line.map(|line| self.reading.quality(record, line, report));
        let gross = Size { length: length?, height: height? };
        let (id, bundle, line) = (id?, bundle?, line?);
        thick?;
        let quality = quality??;
        let facts = ground.needed_facts(line, report)?;
        let billed_sides = self.billed_sides(record, facts.line.measure, gross, report)?;
        let slab = make_slab(id, (line, facts), gross, billed_sides, row);
        let slab = Slab { quality, ..self.fits(slab, row, report)? };
        if slab.billed_area.is_none() {
            let fault =
                Fault::error(Code::OutOfRange, format!("slab {id} has no billed area left"))
                    .at(&ground.source.line(row), "the take-off is larger than the slab")
                    .also(&facts.line.place, "the line with the take-off")
                    .help("is the unit of `take-off` right? a take-off is a few cm: take-off = { length = \"5 cm\", height = \"4 cm\" }");
            return Err(self.reading.first(Cause::TakeOff, |_| fault, report));
        }
        self.damaged(record);
        self.areas(record);
        let ids = self.reading.numbers(id, record, report)?;
        self.swapped(gross, ids.len(), record);
        let draft = self.drafts.named(bundle, row, record.start);
        for id in ids {
            self.add(Slab { id, ..slab.clone() }, draft, gross, record, report)?;
        }
        Ok(())
    }

    /// A figure of a row, or the fault that it is too large.
    fn fits<T>(
        &mut self,
        figure: Result<T, Overflow>,
        row: usize,
        report: &mut Report,
    ) -> Result<T, Reported> {
        figure.map_err(|overflow| {
            let place = self.reading.ground.source.line(row);
            self.reading.fault(overflowed(overflow, &place), report)
        })
    }

    /// Adds up what the supplier says of areas, column by column; a cell that is no figure ends its sum.
    fn areas(&mut self, record: &Row<'_>) {
        let columns = self.reading.ground.layout.areas.iter();
        for (sum, column) in self.areas.iter_mut().zip(columns) {
            let figure = record.get(column.index).and_then(cells::number);
            *sum = sum.zip(figure).and_then(|(sum, figure)| sum.checked_add(figure));
        }
    }

    /// Whether a row is a sum of others. Its slab or bundle says "total"; or it lacks a side and some cell says
    /// so; or it has no slab, no bundle and no side.
    fn is_total(&self, record: &Row<'_>) -> bool {
        const WORDS: [&str; 6] = ["total", "totals", "subtotal", "subtotals", "totale", "toplam"];
        // A slab may be called so.
        const SUMS: [&str; 2] = ["sum", "summe"];
        let cell = |column| self.reading.cell(record, column).map(|(cell, _)| cell);
        let says_total = |cell: &str| {
            let lower = cell.to_lowercase();
            lower.split(|c: char| !c.is_alphanumeric()).any(|word| WORDS.contains(&word))
        };
        if [Column::Slab, Column::Bundle].into_iter().filter_map(cell).any(says_total) {
            return true;
        }
        let sides = [Column::Length, Column::Height].map(|column| cell(column).is_some());
        if sides == [true, true] {
            return false;
        }
        let is_named = [Column::Slab, Column::Bundle].into_iter().any(|one| cell(one).is_some());
        let mut cells = (0..record.len()).filter_map(|index| record.get(index));
        let says_sum = |cell: &str| SUMS.contains(&cell.to_lowercase().as_str());
        cells.any(|cell| says_total(cell) || says_sum(cell)) || !(is_named || sides.contains(&true))
    }

    /// A row's bundle. Rows that leave it to the row above are reported once.
    fn bundle<'r>(
        &mut self,
        record: &Row<'r>,
        row: usize,
        report: &mut Report,
    ) -> Result<&'r str, Reported> {
        let above = self.drafts.all.last().map(|draft| draft.id.clone());
        let (Some(above), None) = (above, self.reading.cell(record, Column::Bundle)) else {
            return self.reading.required(record, Column::Bundle, "bundle", row, report);
        };
        let index = self.reading.ground.layout.of(Column::Bundle).map_or(0, |(index, _)| index);
        let unsaid = |reading: &Reading<'_>| {
            Fault::error(Code::MissingKey, "a slab has no bundle")
                .at(&reading.cell_place(row, index), "the cell is empty")
                .help(format!(
                    "write the bundle on each of its rows: \"{above}\" here, if it is the one above"
                ))
        };
        Err(self.reading.first(Cause::BundleAbove, unsaid, report))
    }

    /// Counts slabs that are higher than long: they stand on their long side.
    fn swapped(&mut self, gross: Size, slabs: usize, record: &Row<'_>) {
        if gross.height > gross.length {
            let written = |column| {
                self.reading
                    .cell(record, column)
                    .map_or_else(SmolStr::default, |(cell, _)| cell.into())
            };
            let sides = [Column::Length, Column::Height].map(written);
            let first = || Upright { count: 0, row: record.line, sides };
            self.upright.get_or_insert_with(first).count += slabs;
        }
    }

    /// Counts rows that remark on damage: nothing is taken off for it.
    fn damaged(&mut self, record: &Row<'_>) {
        const WORDS: [&str; 8] =
            ["broken", "break", "crack", "chip", "damage", "repair", "fissure", "split"];
        let Some((cell, index)) = self.reading.cell(record, Column::Grade) else { return };
        let lower = cell.to_lowercase();
        if WORDS.iter().any(|word| lower.contains(word)) {
            let (count, _) = self
                .damaged
                .get_or_insert_with(|| (0, self.reading.cell_place(record.line, index)));
            *count += 1;
        }
    }

    /// The billed sides: as listed, or by the line's measure.
    fn billed_sides(
        &mut self,
        record: &Row<'_>,
        measure: Measure,
        gross: Size,
        report: &mut Report,
    ) -> Result<Size, Reported> {
        let row = record.line;
        let listed = self.reading.cell(record, Column::BilledLength).is_some()
            || self.reading.cell(record, Column::BilledHeight).is_some();
        if !listed {
            return self.fits(measure.sides(gross), row, report);
        }
        let length = self.reading.side(record, Column::BilledLength, "billed length", row, report);
        let height = self.reading.side(record, Column::BilledHeight, "billed height", row, report);
        let sides = Size { length: length?, height: height? };
        if sides.length > gross.length || sides.height > gross.height {
            let written = |reading: &Reading<'_>, column| {
                reading.cell(record, column).map_or_else(String::new, |(cell, _)| cell.to_owned())
            };
            let larger = |reading: &Reading<'_>| {
                let [net, gross] = [
                    (Column::Length, Column::Height),
                    (Column::BilledLength, Column::BilledHeight),
                ]
                .map(|(length, height)| {
                    format!("{} and {}", written(reading, length), written(reading, height))
                });
                Fault::error(Code::Contradiction, "a slab is billed larger than it is")
                    .at(&reading.ground.source.line(row), "billed size above gross size")
                    .help(format!(
                        "are the headers exchanged? head {gross} \"gross length\" and \"gross height\", and {net} \"net length\" and \"net height\""
                    ))
            };
            return Err(self.reading.first(Cause::BilledLarger, larger, report));
        }
        Ok(sides)
    }

    fn add(
        &mut self,
        mut slab: Slab,
        at: usize,
        gross: Size,
        record: &Row<'_>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let draft = report.found(self.drafts.all.get_mut(at), "a bundle of the list")?;
        self.reading.weighed(draft, record, report);
        self.reading.boxed(draft, record, report);
        self.reading.offered(draft, record, report);
        let block = self.reading.cell(record, Column::Block).map(|(cell, _)| cell);
        let bundle = u32::try_from(at).map_err(|_| Overflow { what: "a slab" });
        let taken = draft.take(&slab, gross, block).and(bundle);
        slab.bundle = self.fits(taken, record.line, report)?;
        let said = |column| self.reading.cell(record, column).map(|(cell, _)| SmolStr::new(cell));
        let marked = Marked { order: said(Column::Order), set: said(Column::Match) };
        if marked != Marked::default() {
            self.marked.insert(slab.id.clone(), marked);
        }
        self.slabs.push(slab);
        Ok(())
    }
}

fn make_slab(
    id: &str,
    (line, facts): (usize, &LineFacts<'_>),
    gross: Size,
    billed_sides: Size,
    row: usize,
) -> Result<Slab, Overflow> {
    let overflow = Overflow { what: "a slab" };
    let gross_area = gross.area()?;
    Ok(Slab {
        id: id.into(),
        line: u32::try_from(line).map_err(|_| overflow)?,
        bundle: 0,
        quality: None,
        row: u32::try_from(row).map_err(|_| overflow)?,
        // Sides are read to what can be held.
        sawn: Sides::of(gross)
            .map_or_else(|| Sawn::MadeUp(Box::new((gross_area, None))), Sawn::Sides),
        billed_area: facts.line.measure.billed(billed_sides)?,
        mass: Mass::of_area(gross_area, facts.kg_per_m2)?,
    })
}
