//! Comma-separated values: the main table of a page, without totals, figures unmarked.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;

use super::page::{Block, Cell, FillRow, Page, Row, Table, is_unsafe, plain};
use crate::quantity::Decimal;

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    if let Some(list) = page.list {
        return write_table(list, out);
    }
    let tables = page.blocks.into_iter().filter_map(|block| match block {
        Block::Table(table) if table.is_main => Some(table),
        _ => None,
    });
    for table in tables {
        write_table(table, out)?;
    }
    Ok(())
}

/// Rows that a thread turns into text at a time.
const BATCH: usize = 1024;

/// Writes the header and the rows. Many rows that can be made in any order are made and turned into
/// text by as many threads as the machine has, and written in their order.
fn write_table(table: Table<'_>, out: &mut dyn Write) -> io::Result<()> {
    let heads = table.columns.into_iter().map(|column| Cell::Text(column.head));
    let mut text = Vec::new();
    line(&heads.collect::<Row<'_>>(), &mut text)?;
    if let Some((count, fill)) = table.rows.by_position()
        && count > BATCH
    {
        out.write_all(&text)?;
        return write_many(count, fill, out);
    }
    for row in table.rows {
        line(&row, &mut text)?;
    }
    out.write_all(&text)
}

fn write_many(count: usize, fill: &dyn FillRow<'_>, out: &mut dyn Write) -> io::Result<()> {
    let batches = count.div_ceil(BATCH);
    let next = AtomicUsize::new(0);
    let (give, taken) = mpsc::sync_channel(16);
    std::thread::scope(|scope| {
        for _ in 0..rayon::current_num_threads() {
            let (give, next) = (give.clone(), &next);
            scope.spawn(move || {
                loop {
                    let batch = next.fetch_add(1, Ordering::Relaxed);
                    let rows = batch * BATCH..count.min((batch + 1) * BATCH);
                    // Nobody takes it any more where the output could not be written.
                    if batch >= batches || give.send((batch, lines(rows, fill))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(give);
        let mut early: BTreeMap<usize, Vec<u8>> = BTreeMap::new();
        let mut due = 0;
        for (batch, text) in taken {
            early.insert(batch, text?);
            while let Some(text) = early.remove(&due) {
                out.write_all(&text)?;
                due += 1;
            }
        }
        Ok(())
    })
}

/// Some rows as lines of text.
fn lines(rows: Range<usize>, fill: &dyn FillRow<'_>) -> io::Result<Vec<u8>> {
    let (mut row, mut text) = (Row::new(), Vec::with_capacity(BATCH * 96));
    for position in rows {
        row.clear();
        fill(position, &mut row);
        line(&row, &mut text)?;
    }
    Ok(text)
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
    let mut buffer = itoa::Buffer::new();
    let all = buffer.format(magnitude).as_bytes();
    let places = usize::try_from(decimal.scale()).unwrap_or(0);
    match all.len().checked_sub(places).and_then(|whole| all.split_at_checked(whole)) {
        Some((whole, [])) => out.extend_from_slice(whole),
        Some((whole @ [_, ..], fraction)) => {
            out.extend_from_slice(whole);
            out.push(b'.');
            out.extend_from_slice(fraction);
        }
        _ => {
            out.extend_from_slice(b"0.");
            out.resize(out.len() + places - all.len(), b'0');
            out.extend_from_slice(all);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::page::{Column, Format, Rows};
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
        let page = Page { blocks: vec![Block::Table(table)], width: 100, list: None };
        let mut out = Vec::new();
        page.write(Format::Csv, &mut out).unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), "slab,USD\n'=cmd|' /C calc'!A0,-0.5\n");
    }
}
