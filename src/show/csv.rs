//! Comma-separated values: the main table of a page, without totals, figures unmarked. Of the books the last column is
//! the number of the format, so that files of several versions may lie in one folder.

use std::borrow::Cow;
use std::io::{self, Write};

use super::json::FORMAT;
use super::page::{Block, Cell, Column, Page, Row, Table};
use crate::fault::{looks, plain};

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    let has_format = page.has_format();
    for block in page.blocks {
        match block {
            Block::Table(table) | Block::Sheet(table) if table.is_main => {
                write_table(table, has_format, out)?;
            }
            Block::Written(rows) => rows.into_iter().try_for_each(|rows| out.write_all(rows))?,
            _ => {}
        }
    }
    Ok(())
}

fn write_table(table: Table<'_>, has_format: bool, out: &mut dyn Write) -> io::Result<()> {
    let head = |column: Column| column.in_sheet.map_or(column.head, Cow::Owned);
    let heads = table.columns.into_iter().map(|column| Cell::Text(head(column)));
    write_rows(std::iter::once(heads.collect()), has_format.then_some("format"), out)?;
    let format = FORMAT.to_string();
    write_rows(table.rows, has_format.then_some(&*format), out)
}

/// Writes rows, with a last cell that is the same in each.
fn write_rows<'r>(
    rows: impl Iterator<Item = Row<'r>>,
    last: Option<&str>,
    out: &mut dyn Write,
) -> io::Result<()> {
    let mut writer = csv::Writer::from_writer(out);
    for row in rows {
        for cell in &row {
            writer.write_field(field(cell).as_bytes())?;
        }
        if let Some(last) = last {
            writer.write_field(last)?;
        }
        writer.write_record(None::<&[u8]>)?;
    }
    writer.flush()
}

impl Page<'_> {
    /// Whether the number of the format stands in a last column.
    pub(super) fn has_format(&self) -> bool {
        self.blocks.iter().any(|block| matches!(block, Block::Format))
    }

    /// The rows of its main table as CSV has them, without their head.
    pub fn rows(self) -> Vec<u8> {
        let (mut out, format) = (Vec::new(), self.has_format().then(|| FORMAT.to_string()));
        let tables = self.blocks.into_iter().filter_map(|block| match block {
            Block::Table(table) | Block::Sheet(table) if table.is_main => Some(table.rows),
            _ => None,
        });
        // Writing to memory cannot fail.
        let _ = write_rows(tables.flatten(), format.as_deref(), &mut out);
        // They are kept by the thousand until all are there.
        out.shrink_to_fit();
        out
    }
}

/// A cell as it stands in the file: safe to print, and no formula.
fn field<'a>(cell: &'a Cell<'_>) -> Cow<'a, str> {
    match cell {
        Cell::Empty => Cow::Borrowed(""),
        Cell::Text(text) => guarded(text),
        Cell::Figure(decimal) => Cow::Owned(decimal.to_string()),
    }
}

/// A user's text with a mark before what a spreadsheet would run as a formula. Some part cells at a
/// semicolon, a tab or the end of a line as well, so each part of a text is looked at.
fn guarded(text: &str) -> Cow<'_, str> {
    let parts = || text.split_inclusive([';', '\t', '\n', '\r']);
    if !parts().any(is_formula) {
        return plain(text);
    }
    let marked =
        parts().map(|part| if is_formula(part) { format!("'{part}") } else { part.into() });
    Cow::Owned(plain(&marked.collect::<String>()).into_owned())
}

/// Whether the first sign of a text that is more than a space, a quote or what is not seen opens a formula,
/// in its wide form too.
fn is_formula(text: &str) -> bool {
    let seen = looks(text);
    let seen = seen.trim_start_matches(|c: char| c.is_whitespace() || c == '"');
    seen.starts_with(['=', '+', '-', '@'])
}

#[cfg(test)]
mod tests {
    use super::super::page::Rows;
    use super::super::write::Format;
    use super::*;
    use crate::quantity::Decimal;

    #[test]
    fn what_would_break_a_line_is_quoted() {
        let rows = vec![
            vec![Cell::text("a, b"), Cell::text("2\" film"), Cell::Empty],
            vec![Cell::text("a\nb"), Cell::text("\u{e9}"), Cell::text("")],
        ];
        let lines = |heads: &[&'static str], rows: Vec<Row<'static>>| {
            let columns = heads.iter().map(|head| Column::words(*head)).collect();
            let (title, rows) = (String::new(), Rows::of(rows));
            let table = Table { title, columns, rows, totals: None, is_main: true };
            let mut text = Vec::new();
            write_table(table, false, &mut text).unwrap();
            String::from_utf8(text).unwrap()
        };
        assert_eq!(
            lines(&["a", "b", "c"], rows),
            "a,b,c\n\"a, b\",\"2\"\" film\",\na\\nb,\u{e9},\n"
        );
        assert_eq!(lines(&["a"], vec![vec![Cell::Empty], vec![Cell::text("")]]), "a\n\"\"\n\"\"\n");
    }

    #[test]
    fn formulas_in_a_suppliers_text_are_neutralised() {
        let rows = vec![
            vec![Cell::text("=cmd|' /C calc'!A0"), Cell::Figure(Decimal::new(-5, 1))],
            vec![Cell::text("=1+1\u{202e}"), Cell::Empty],
            vec![Cell::text("\u{200b}\u{a0} =HYPERLINK(\"x\")"), Cell::Empty],
            vec![Cell::text("\u{ff1d}1+1"), Cell::text("\u{feff}\u{ff20}SUM(A1)")],
            vec![Cell::text("marble; =1+1;tile\t-2+3"), Cell::text("\"+1\" a-b;c=d")],
        ];
        let table = Table {
            title: String::new(),
            columns: vec![Column::words("slab"), Column::figures("USD")],
            rows: Rows::of(rows),
            totals: None,
            is_main: true,
        };
        let page = Page { blocks: vec![Block::Table(table)] };
        let mut out = Vec::new();
        page.write(Format::Csv, 78, &mut out).unwrap();
        assert_eq!(
            String::from_utf8(out).unwrap(),
            "slab,USD\n'=cmd|' /C calc'!A0,-0.5\n'=1+1\\u{202e},\n\
             \"'\\u{200b}\u{a0} =HYPERLINK(\"\"x\"\")\",\n\
             '\u{ff1d}1+1,'\\u{feff}\u{ff20}SUM(A1)\n\
             marble;' =1+1;tile\\t'-2+3,\"'\"\"+1\"\" a-b;c=d\"\n"
        );
    }
}
