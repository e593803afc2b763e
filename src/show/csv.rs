//! Comma-separated values: the main table of a page, without totals, figures unmarked.

use std::io::{self, Write};

use super::page::{Block, Cell, Page, Table, is_unsafe, plain};
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

fn write_table(table: Table<'_>, out: &mut dyn Write) -> io::Result<()> {
    let mut writer = csv::WriterBuilder::new().buffer_capacity(1 << 16).from_writer(out);
    writer.write_record(table.columns.iter().map(|column| column.head.as_bytes()))?;
    let mut figure = Vec::with_capacity(32);
    let mut record = csv::ByteRecord::new();
    for row in table.rows {
        record.clear();
        for cell in &row {
            match cell {
                Cell::Empty => record.push_field(b""),
                Cell::Text(text) if text.contains(is_unsafe) => {
                    record.push_field(plain(text).as_bytes());
                }
                Cell::Text(text) if is_formula(text) => {
                    record.push_field(format!("'{text}").as_bytes());
                }
                Cell::Text(text) => record.push_field(text.as_bytes()),
                Cell::Figure(decimal) => {
                    figure.clear();
                    digits(*decimal, &mut figure);
                    record.push_field(&figure);
                }
            }
        }
        writer.write_byte_record(&record)?;
    }
    writer.flush()
}

/// Whether a spreadsheet would run a user's text as a formula.
fn is_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r'])
}

/// Writes a decimal's digits at its own places. `Decimal`'s own printing is several times slower,
/// and this is most of the work of writing a large table.
fn digits(decimal: Decimal, out: &mut Vec<u8>) {
    let mantissa = decimal.mantissa();
    let Ok(mut rest) = u64::try_from(mantissa.unsigned_abs()) else {
        out.extend_from_slice(decimal.to_string().as_bytes());
        return;
    };
    let scale = decimal.scale();
    let mut reversed = [0u8; 48];
    let mut length = 0;
    let mut place = 0;
    loop {
        if place == scale && scale > 0 {
            put(&mut reversed, &mut length, b'.');
        }
        put(&mut reversed, &mut length, b'0' + u8::try_from(rest % 10).unwrap_or(0));
        rest /= 10;
        place += 1;
        if rest == 0 && place > scale {
            break;
        }
    }
    if mantissa < 0 {
        put(&mut reversed, &mut length, b'-');
    }
    out.extend(reversed.iter().take(length).rev());
}

fn put(buffer: &mut [u8; 48], length: &mut usize, byte: u8) {
    if let Some(slot) = buffer.get_mut(*length) {
        *slot = byte;
        *length += 1;
    }
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
    fn formulas_in_a_suppliers_text_are_neutralised() {
        let rows = vec![vec![Cell::text("=cmd|' /C calc'!A0"), Cell::Figure(Decimal::new(-5, 1))]];
        let table = Table {
            title: String::new(),
            columns: vec![Column::words("slab"), Column::figures("USD")],
            rows: Box::new(rows.into_iter()),
            totals: None,
            is_main: true,
        };
        let page = Page { blocks: vec![Block::Table(table)], width: 100 };
        let mut out = Vec::new();
        page.write(Format::Csv, &mut out).unwrap();
        assert_eq!(String::from_utf8(out).unwrap(), "slab,USD\n'=cmd|' /C calc'!A0,-0.5\n");
    }
}
