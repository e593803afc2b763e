//! The rows of a list as they come in: a slab each.

use smol_str::SmolStr;

use super::super::rows::{self, Row, Unreadable};
use super::draft::Drafts;
use super::ground::{Ground, overflowed};
use super::layout::Column;
use super::reading::{Cause, Reading};
use crate::fault::{Code, Fault, Place, Report};
use crate::quantity::{Mass, Overflow, Size};
use crate::trade::Slab;

/// The rows of a list as they come in.
pub(super) struct List<'a> {
    pub(super) reading: Reading<'a>,
    pub(super) slabs: Vec<Slab>,
    pub(super) drafts: Drafts,
    /// The slabs that are higher than long, if there are any.
    pub(super) upright: Option<Upright>,
    /// How many rows remark on damage, and where the first does.
    pub(super) damaged: Option<(usize, Place)>,
}

/// Slabs that are higher than long: how many, the line of the first, and its sides as they are written.
pub(super) struct Upright {
    pub(super) count: usize,
    pub(super) row: usize,
    pub(super) sides: [SmolStr; 2],
}

impl<'a> List<'a> {
    /// Reads all rows of a list.
    pub(super) fn read(ground: &'a Ground<'a>, report: &mut Report) -> Self {
        let mut list = Self {
            reading: Reading::new(ground),
            slabs: Vec::new(),
            drafts: Drafts::default(),
            upright: None,
            damaged: None,
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
            self.reading.fault(
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

    fn slab(&mut self, record: &Row<'_>, report: &mut Report) -> Option<()> {
        let row = record.line;
        if self.is_total(record) {
            let total = |reading: &Reading<'_>| {
                Fault::error(Code::MissingKey, "a row of the list is a total, and no slab")
                    .at(&reading.ground.source.line(row), "this row")
                    .help("delete the rows of totals and subtotals: the sums are worked out from the slabs")
            };
            self.reading.first(Cause::Total, total, report);
            return None;
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
        let quality = quality?.ok()?;
        if self.reading.ground.facts(line).is_none() {
            self.reading.skipped = true;
            return None;
        }
        let billed_sides = self.billed_sides(record, line, gross, row, report)?;
        let made = self.make_slab(id, line, gross, billed_sides, row);
        let slab = match made {
            Ok(slab) => Slab { quality, ..slab },
            Err(overflow) => {
                let place = self.reading.ground.source.line(row);
                self.reading.fault(overflowed(overflow, &place), report);
                return None;
            }
        };
        if slab.billed_area.is_none() {
            let place = self.reading.ground.source.line(row);
            self.reading.fault(
                Fault::error(Code::OutOfRange, format!("slab {id} has no billed area left"))
                    .at(&place, "the take-off is larger than the slab"),
                report,
            );
            return None;
        }
        self.damaged(record);
        let ids = self.reading.numbers(id, record, report)?;
        self.swapped(gross, ids.len(), record);
        let draft = self.drafts.named(bundle, row, record.start);
        for id in ids {
            self.add(Slab { id, ..slab.clone() }, draft, gross, record, report)?;
        }
        Some(())
    }

    /// Whether a row sums up others: its slab or bundle says "total", or it lacks a side and any of its cells
    /// says so, or names neither slab nor bundle nor a side.
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
    fn bundle<'r>(&mut self, record: &Row<'r>, row: usize, report: &mut Report) -> Option<&'r str> {
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
        self.reading.first(Cause::BundleAbove, unsaid, report);
        None
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

    fn make_slab(
        &self,
        id: &str,
        line: usize,
        gross: Size,
        billed_sides: Size,
        row: usize,
    ) -> Result<Slab, Overflow> {
        let overflow = Overflow { what: "a slab" };
        let facts = self.reading.ground.facts(line).ok_or(overflow)?;
        let measure =
            self.reading.ground.lines.get(line).map(|line| line.measure).unwrap_or_default();
        let gross_area = gross.area()?;
        let billed = measure.billed(billed_sides)?;
        Ok(Slab {
            id: id.into(),
            line: u32::try_from(line).map_err(|_| overflow)?,
            bundle: 0,
            row: u32::try_from(row).map_err(|_| overflow)?,
            quality: None,
            sides: Some(gross),
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
        let listed = self.reading.cell(record, Column::BilledLength).is_some()
            || self.reading.cell(record, Column::BilledHeight).is_some();
        let sides = if listed {
            let length =
                self.reading.side(record, Column::BilledLength, "billed length", row, report);
            let height =
                self.reading.side(record, Column::BilledHeight, "billed height", row, report);
            Size { length: length?, height: height? }
        } else {
            match self.reading.ground.lines.get(line).map(|line| line.measure.sides(gross))? {
                Ok(sides) => sides,
                Err(overflow) => {
                    let place = self.reading.ground.source.line(row);
                    self.reading.fault(overflowed(overflow, &place), report);
                    return None;
                }
            }
        };
        if listed && (sides.length > gross.length || sides.height > gross.height) {
            let place = self.reading.ground.source.line(row);
            self.reading.fault(
                Fault::error(Code::Contradiction, "a slab is billed larger than it is")
                    .at(&place, "billed size above gross size"),
                report,
            );
            return None;
        }
        Some(sides)
    }

    fn add(
        &mut self,
        mut slab: Slab,
        at: usize,
        gross: Size,
        record: &Row<'_>,
        report: &mut Report,
    ) -> Option<()> {
        let draft = self.drafts.all.get_mut(at)?;
        self.reading.weighed(draft, record, report);
        self.reading.boxed(draft, record, report);
        let block = self.reading.cell(record, Column::Block).map(|(cell, _)| cell);
        if let Err(overflow) = draft.take(&slab, gross, block) {
            let place = self.reading.ground.source.line(record.line);
            self.reading.fault(overflowed(overflow, &place), report);
            return None;
        }
        slab.bundle = u32::try_from(at).ok()?;
        self.slabs.push(slab);
        Some(())
    }
}
