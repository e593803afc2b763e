//! Workbooks of the older binary form (MS-XLS in MS-CFB): looked through first, then read.

use std::io::Cursor;

use calamine::{Data, Reader as _, Xls, XlsError};

use super::grid::{Day, Filling, Grid, Value};
use crate::fault::{Report, Reported};

/// More cells than the sheets of a list span, empty ones among them (a choice of ours).
const MOST_SPANNED: u64 = 4_000_000;

/// What a workbook tells before it is read.
#[derive(Debug, Default)]
struct Look {
    /// By sheet, in the workbook's order: whether it is hidden, its hidden rows and columns.
    sheets: Vec<Hidden>,
}

#[derive(Debug, Default)]
struct Hidden {
    start: usize,
    is_hidden: bool,
    rows: Vec<std::ops::Range<usize>>,
    columns: Vec<std::ops::Range<usize>>,
    /// Formulas whose value is a text that stands nowhere.
    formulas: Vec<(usize, usize)>,
}

/// Why a workbook is not read.
#[derive(Debug)]
pub(super) enum Unfit {
    /// Its cells span more than any list.
    TooLarge,
    /// It is locked with a password.
    Locked,
    /// It cannot be read.
    Broken(String),
}

impl From<XlsError> for Unfit {
    fn from(error: XlsError) -> Self {
        match error {
            XlsError::Password => Self::Locked,
            other => Self::Broken(other.to_string()),
        }
    }
}

/// The sheets of a workbook, or why it cannot be read.
pub(super) fn read(
    bytes: &[u8],
    file: &str,
    report: &mut Report,
) -> Result<Result<Vec<Grid>, Reported>, Unfit> {
    let Some(look) = look(bytes)? else {
        let locked = has_stream(bytes, "EncryptedPackage");
        return Err(if locked {
            Unfit::Locked
        } else {
            Unfit::Broken("it holds no workbook".to_owned())
        });
    };
    let mut workbook: Xls<_> = Xls::new(Cursor::new(bytes))?;
    let names: Vec<String> =
        workbook.sheets_metadata().iter().map(|one| one.name.clone()).collect();
    let mut grids = Vec::new();
    for (at, name) in names.iter().enumerate() {
        let Ok(range) = workbook.worksheet_range(name) else { continue };
        let hidden = look.sheets.get(at);
        let mut filling = Filling::new(name, hidden.is_some_and(|one| one.is_hidden));
        if let Some(hidden) = hidden {
            filling.hidden_rows.clone_from(&hidden.rows);
            filling.hidden_columns.clone_from(&hidden.columns);
        }
        let (top, left) = range.start().unwrap_or_default();
        let (top, left) = (whole(top), whole(left));
        for (row, column, cell) in range.used_cells() {
            if let Some(value) = value(cell)
                && !filling.put(row + top, column + left, value)
            {
                break;
            }
        }
        for (row, column) in hidden.into_iter().flat_map(|one| &one.formulas) {
            let place = (u32::try_from(*row).unwrap_or(0), u32::try_from(*column).unwrap_or(0));
            if range.get_value(place).is_none_or(|cell| *cell == Data::Empty) {
                filling.put(*row, *column, Value::Unstored);
            }
        }
        match filling.done(file, report) {
            Ok(grid) => grids.push(grid),
            Err(told) => return Ok(Err(told)),
        }
    }
    Ok(Ok(grids))
}

/// A row or a column as calamine counts it, as an index.
pub(super) fn whole(number: u32) -> usize {
    usize::try_from(number).unwrap_or(usize::MAX)
}

/// A cell as a reader of others gives it; `None`: an empty one.
pub(super) fn value(cell: &Data) -> Option<Value> {
    Some(match cell {
        Data::Empty => return None,
        Data::Int(number) => Value::number(&number.to_string()),
        Data::Float(number) => Value::number(&number.to_string()),
        Data::String(text) | Data::DurationIso(text) => Value::Text(text.clone()),
        Data::Bool(is) => Value::Text(is.to_string()),
        Data::DateTime(day) if day.is_datetime() => {
            let (year, month, day, ..) = day.to_ymd_hms_milli();
            Value::Day(Day { year, month, day })
        }
        Data::DateTime(time) => Value::Text(time.to_string()),
        Data::DateTimeIso(text) => super::ods::day(text),
        Data::Error(error) => Value::Error(error.to_string()),
    })
}

fn u16_at(bytes: &[u8], at: usize) -> Option<usize> {
    let own = bytes.get(at..at.checked_add(2)?)?;
    Some(usize::from(u16::from_le_bytes(own.try_into().ok()?)))
}

fn u32_at(bytes: &[u8], at: usize) -> Option<usize> {
    let own = bytes.get(at..at.checked_add(4)?)?;
    usize::try_from(u32::from_le_bytes(own.try_into().ok()?)).ok()
}

/// The sectors of a compound file (MS-CFB) as far as they are needed to follow one stream.
struct Compound<'a> {
    bytes: &'a [u8],
    /// The bytes of a sector.
    size: usize,
    /// The sector after each.
    next: Vec<usize>,
    directory: Vec<u8>,
}

impl<'a> Compound<'a> {
    fn of(bytes: &'a [u8]) -> Option<Self> {
        let size = 1_usize.checked_shl(u32::try_from(u16_at(bytes, 0x1e)?).ok()?)?;
        if !matches!(size, 512 | 4096) {
            return None;
        }
        let mut own = Self { bytes, size, next: Vec::new(), directory: Vec::new() };
        let most = bytes.len() / size + 1;
        // Where the table of sectors stands: 109 entries in the header, others in sectors of their own.
        let mut table: Vec<usize> =
            (0..109).filter_map(|at| u32_at(bytes, 0x4c + 4 * at)).collect();
        let (mut more, mut seen) = (u32_at(bytes, 0x44)?, 0);
        while let Some(sector) = own.sector(more).filter(|_| seen < most) {
            let all = sector.chunks_exact(4).filter_map(|four| u32_at(four, 0));
            table.extend(all);
            more = table.pop()?;
            seen += 1;
        }
        let mut next = Vec::new();
        for at in table.into_iter().take(most) {
            let Some(sector) = own.sector(at) else { continue };
            next.extend(sector.chunks_exact(4).filter_map(|four| u32_at(four, 0)));
        }
        own.next = next;
        own.directory = own.chain(u32_at(bytes, 0x30)?);
        Some(own)
    }

    fn sector(&self, at: usize) -> Option<&'a [u8]> {
        let start = at.checked_add(1)?.checked_mul(self.size)?;
        let end = start.checked_add(self.size)?.min(self.bytes.len());
        self.bytes.get(start..end).filter(|all| !all.is_empty())
    }

    /// The bytes of sectors that follow each other. No longer than the file: a circle ends there.
    fn chain(&self, from: usize) -> Vec<u8> {
        let (mut all, mut at) = (Vec::new(), from);
        while let Some(sector) = self.sector(at) {
            all.extend_from_slice(sector);
            match self.next.get(at) {
                Some(next) if all.len() <= self.bytes.len() => at = *next,
                _ => break,
            }
        }
        all
    }

    /// Where a stream starts, and its length.
    fn entry(&self, name: &str) -> Option<(usize, usize)> {
        let wide: Vec<u8> = name.encode_utf16().chain([0]).flat_map(u16::to_le_bytes).collect();
        let is_it = |entry: &&[u8]| {
            entry.get(..wide.len()).is_some_and(|own| own.eq_ignore_ascii_case(&wide))
        };
        let entry = self.directory.chunks_exact(128).find(is_it)?;
        Some((u32_at(entry, 116)?, u32_at(entry, 120)?))
    }

    fn stream(&self, name: &str) -> Option<Vec<u8>> {
        let (start, length) = self.entry(name)?;
        let mut all = if length >= 4096 {
            self.chain(start)
        } else {
            // Small streams stand in parts of 64 bytes in the stream of the root.
            let root = self.chain(u32_at(self.directory.get(..128)?, 116)?);
            let next = self.chain(u32_at(self.bytes, 0x3c)?);
            let (mut all, mut at) = (Vec::new(), start);
            while let Some(part) =
                at.checked_mul(64).and_then(|from| root.get(from..from.checked_add(64)?))
            {
                all.extend_from_slice(part);
                match u32_at(&next, at.checked_mul(4)?) {
                    Some(one) if all.len() < length => at = one,
                    _ => break,
                }
            }
            all
        };
        all.truncate(length);
        Some(all)
    }
}

fn has_stream(bytes: &[u8], name: &str) -> bool {
    Compound::of(bytes).and_then(|own| own.entry(name)).is_some()
}

/// The records of a stream from a byte on: type and data.
fn records(stream: &[u8], from: usize) -> impl Iterator<Item = (usize, &[u8])> {
    let mut at = from;
    std::iter::from_fn(move || {
        let (kind, length) = (u16_at(stream, at)?, u16_at(stream, at.checked_add(2)?)?);
        let data = stream.get(at + 4..(at + 4).checked_add(length)?)?;
        at = at + 4 + length;
        Some((kind, data))
    })
}

/// Looks through a workbook: how many cells its sheets span, and what is hidden; `None`: it is none.
fn look(bytes: &[u8]) -> Result<Option<Look>, Unfit> {
    let Some(own) = Compound::of(bytes) else { return Ok(None) };
    let Some(stream) = own.stream("Workbook").or_else(|| own.stream("Book")) else {
        return Ok(None);
    };
    let mut look = Look::default();
    for (kind, data) in records(&stream, 0) {
        match kind {
            // BOUNDSHEET (MS-XLS 2.4.28).
            0x85 => {
                let start = u32_at(data, 0).unwrap_or(usize::MAX);
                let is_hidden = data.get(4).is_some_and(|state| state & 3 != 0);
                look.sheets.push(Hidden { start, is_hidden, ..Hidden::default() });
            }
            0x0a => break,
            _ => {}
        }
    }
    let mut spanned = 0_u64;
    for sheet in &mut look.sheets {
        spanned = spanned.saturating_add(sheet.look(&stream).ok_or(Unfit::TooLarge)?);
    }
    if spanned > MOST_SPANNED { Err(Unfit::TooLarge) } else { Ok(Some(look)) }
}

impl Hidden {
    /// Looks through the records of the sheet: how many cells it spans; `None`: more than any has.
    fn look(&mut self, stream: &[u8]) -> Option<u64> {
        let (mut rows, mut columns) = (Span::default(), Span::default());
        let mut depth = 0;
        for (kind, data) in records(stream, self.start) {
            match kind {
                0x0809 => depth += 1,
                0x0a if depth <= 1 => break,
                0x0a => depth -= 1,
                _ if depth > 1 => {}
                // DIMENSIONS (2.4.90): readers make room by it.
                0x0200 => {
                    let is_short = data.len() == 10;
                    let (row, end, right) = if is_short {
                        (u16_at(data, 0)?, u16_at(data, 2)?, u16_at(data, 6)?)
                    } else {
                        (u32_at(data, 0)?, u32_at(data, 4)?, u16_at(data, 10)?)
                    };
                    if row > end || end > 65_536 || right > 256 || (row == end && row > 0) {
                        return None;
                    }
                }
                // ROW (2.4.221), COLINFO (2.4.53).
                0x0208 if u16_at(data, 12).is_some_and(|flags| flags & 0x20 != 0) => {
                    let row = u16_at(data, 0)?;
                    self.rows.push(row..row + 1);
                }
                0x7d if u16_at(data, 8).is_some_and(|flags| flags & 1 != 0) => {
                    self.columns.push(u16_at(data, 0)?..u16_at(data, 2)?.saturating_add(1));
                }
                // NUMBER, LABEL, RSTRING, BOOLERR, RK, LABELSST, MULRK, FORMULA.
                0x0203 | 0x0204 | 0xd6 | 0x0205 | 0x027e | 0xfd | 0xbd | 0x06 => {
                    let (row, column) = (u16_at(data, 0)?, u16_at(data, 2)?);
                    rows.take(row);
                    columns.take(column);
                    if kind == 0xbd {
                        columns.take(u16_at(data, data.len().checked_sub(2)?)?);
                    }
                    if kind == 0x06 {
                        self.formulas.push((row, column));
                    }
                }
                _ => {}
            }
        }
        rows.length().checked_mul(columns.length())
    }
}

/// From the least to the most of some numbers.
#[derive(Default)]
struct Span(Option<(usize, usize)>);

impl Span {
    fn take(&mut self, one: usize) {
        let (least, most) = self.0.unwrap_or((one, one));
        self.0 = Some((least.min(one), most.max(one)));
    }

    fn length(&self) -> u64 {
        self.0.map_or(0, |(least, most)| u64::try_from(most - least + 1).unwrap_or(u64::MAX))
    }
}
