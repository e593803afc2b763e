//! Comma-separated values: the main table of a page, without totals, figures unmarked.

use std::io::{self, Write};
use std::sync::mpsc;

use super::page::{Block, Cell, Page, Row, Rows, Table, is_unsafe, plain};
use crate::quantity::Decimal;

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    let tables = page.blocks.into_iter().filter_map(|block| match block {
        Block::Table(table) if table.is_main => Some(table),
        _ => None,
    });
    for table in tables {
        write_table(table, out)?;
    }
    Ok(())
}

/// Rows that are handed over at a time.
const BATCH: usize = 1024;

/// Some rows on their way, and the text they become.
#[derive(Default)]
struct Batch<'a> {
    cells: Row<'a>,
    /// Where each row ends among the cells.
    ends: Vec<usize>,
    text: Vec<u8>,
}

impl<'a> Batch<'a> {
    fn take(&mut self, rows: &mut Rows<'a>) {
        while self.ends.len() < BATCH && rows.fill(&mut self.cells) {
            self.ends.push(self.cells.len());
        }
    }

    /// Turns the rows into lines.
    fn write(&mut self) -> io::Result<()> {
        let mut start = 0;
        for end in self.ends.drain(..) {
            line(self.cells.get(start..end).unwrap_or(&[]), &mut self.text)?;
            start = end;
        }
        self.cells.clear();
        Ok(())
    }
}

/// Rows are made here and turned into text by a second thread, in their order: a large table is
/// written in about the time that the slower of the two takes.
fn write_table(table: Table<'_>, out: &mut dyn Write) -> io::Result<()> {
    let mut rows = table.rows;
    let heads = table.columns.into_iter().map(|column| Cell::Text(column.head));
    let mut first = Batch { cells: heads.collect(), ..Batch::default() };
    first.ends.push(first.cells.len());
    first.take(&mut rows);
    if first.ends.len() < BATCH {
        first.write()?;
        return out.write_all(&first.text);
    }
    std::thread::scope(|scope| {
        let (give, taken) = mpsc::sync_channel::<Batch<'_>>(4);
        let (done, written) = mpsc::channel();
        scope.spawn(move || {
            for mut batch in taken {
                let outcome = batch.write();
                if done.send(outcome.map(|()| batch)).is_err() {
                    break;
                }
            }
        });
        let mut batch = first;
        loop {
            // The other thread goes away only where a line could not be written, which it has said
            // by then.
            if batch.ends.is_empty() || give.send(batch).is_err() {
                break;
            }
            batch = Batch::default();
            for ready in written.try_iter() {
                batch = ready?;
                out.write_all(&batch.text)?;
                batch.text.clear();
            }
            batch.take(&mut rows);
        }
        drop(give);
        for ready in written {
            out.write_all(&ready?.text)?;
        }
        Ok(())
    })
}

/// One row as a line of text.
fn line(row: &[Cell<'_>], text: &mut Vec<u8>) -> io::Result<()> {
    // A line of one empty cell would be no line.
    let is_bare = row.len() > 1;
    for (index, cell) in row.iter().enumerate() {
        if index > 0 {
            text.push(b',');
        }
        match cell {
            Cell::Empty if is_bare => {}
            Cell::Empty => field("", text)?,
            Cell::Text(cell) if is_bare && is_plain(cell) => {
                text.extend_from_slice(cell.as_bytes());
            }
            Cell::Text(cell) if cell.contains(is_unsafe) => field(&plain(cell), text)?,
            Cell::Text(cell) if is_formula(cell) => field(&format!("'{cell}"), text)?,
            Cell::Text(cell) => field(cell, text)?,
            Cell::Figure(decimal) => digits(*decimal, text),
        }
    }
    text.push(b'\n');
    Ok(())
}

/// Whether a text may stand in a line as it is: nothing in it is a mark of the form, unsafe to
/// print, or the beginning of a formula.
fn is_plain(text: &str) -> bool {
    let is_safe = |byte: u8| (b' '..=b'~').contains(&byte) && byte != b',' && byte != b'"';
    !is_formula(text) && text.bytes().all(is_safe)
}

/// Writes any text as a field, quoted where it must be.
fn field(text: &str, out: &mut Vec<u8>) -> io::Result<()> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record([text])?;
    let line = writer.into_inner().map_err(csv::IntoInnerError::into_error)?;
    out.extend_from_slice(line.strip_suffix(b"\n").unwrap_or(&line));
    Ok(())
}

/// Whether a spreadsheet would run a user's text as a formula.
fn is_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r'])
}

/// Writes a decimal's digits at its own places. `Decimal`'s own printing is several times slower,
/// and this is most of the work of writing a large table.
fn digits(decimal: Decimal, out: &mut Vec<u8>) {
    let mantissa = decimal.mantissa();
    let Ok(magnitude) = u64::try_from(mantissa.unsigned_abs()) else {
        out.extend_from_slice(decimal.to_string().as_bytes());
        return;
    };
    if mantissa < 0 {
        out.push(b'-');
    }
    let places = usize::try_from(decimal.scale()).unwrap_or(0);
    // From the last digit to the first: 20 digits of 64 bits, or 28 places and a nought before them.
    let mut buffer = [b'0'; 32];
    let mut rest = magnitude;
    let mut length = 0;
    for (at, slot) in buffer.iter_mut().rev().enumerate() {
        length = at + 1;
        if places > 0 && at == places {
            *slot = b'.';
            continue;
        }
        *slot = b'0' + u8::try_from(rest % 10).unwrap_or(0);
        rest /= 10;
        if rest == 0 && (places == 0 || at > places) {
            break;
        }
    }
    out.extend_from_slice(buffer.get(buffer.len() - length..).unwrap_or(&[]));
}

#[cfg(test)]
mod tests {
    use super::super::page::{Column, Format};
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn digits_are_those_of_the_decimal(mantissa in any::<i64>(), scale in 0u32..20) {
            let decimal = Decimal::from_i128_with_scale(i128::from(mantissa), scale);
            let mut out = Vec::new();
            digits(decimal, &mut out);
            prop_assert_eq!(String::from_utf8(out).unwrap(), decimal.to_string());
        }
    }

    #[test]
    fn what_would_break_a_line_is_quoted() {
        let rows = vec![
            vec![Cell::text("a, b"), Cell::text("2\" film"), Cell::Empty],
            vec![Cell::text("a\nb"), Cell::text("\u{e9}"), Cell::text("")],
        ];
        let lines = |rows: Vec<Row<'_>>| {
            let mut text = Vec::new();
            for row in rows {
                line(&row, &mut text).unwrap();
            }
            String::from_utf8(text).unwrap()
        };
        assert_eq!(lines(rows), "\"a, b\",\"2\"\" film\",\na\\nb,\u{e9},\n");
        assert_eq!(lines(vec![vec![Cell::Empty], vec![Cell::text("")]]), "\"\"\n\"\"\n");
    }

    #[test]
    fn formulas_in_a_suppliers_text_are_neutralised() {
        let rows = vec![vec![Cell::text("=cmd|' /C calc'!A0"), Cell::Figure(Decimal::new(-5, 1))]];
        let table = Table {
            title: String::new(),
            columns: vec![Column::words("slab"), Column::figures("USD")],
            rows: Rows::of(rows),
            totals: None,
            is_main: true,
        };
        let page = Page { blocks: vec![Block::Table(table)], width: 100 };
        let mut out = Vec::new();
        page.write(Format::Csv, &mut out).unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), "slab,USD\n'=cmd|' /C calc'!A0,-0.5\n");
    }
}
