//! Plain text: columns of a fixed pitch that stay aligned when pasted.

use std::io::{self, Write};

use tabled::builder::Builder;
use tabled::settings::object::Columns;
use tabled::settings::peaker::Priority;
use tabled::settings::style::{HorizontalLine, Style};
use tabled::settings::{Alignment, Padding, Width};

use super::page::{Align, Block, Page, Table, plain};
use crate::fault::{columns, tied, untied, wrapped};

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    let width = page.width;
    for (index, block) in page.blocks.into_iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        match block {
            Block::Heading(text) => write_wrapped("", "  ", &plain(&text), width, out)?,
            Block::Facts(facts) => write_facts(&facts, width, out)?,
            Block::Table(table) | Block::Sheet(table) => write_table(table, width, out)?,
            Block::Drawing(lines) => {
                for line in lines {
                    writeln!(out, "{line}")?;
                }
            }
            Block::Notes(notes) => {
                for note in notes {
                    write_wrapped("- ", "  ", &plain(&note), width, out)?;
                }
            }
        }
    }
    Ok(())
}

fn write_facts(facts: &[(String, String)], width: usize, out: &mut dyn Write) -> io::Result<()> {
    let widest = facts.iter().map(|(label, _)| columns(label)).max().unwrap_or(0);
    for (label, value) in facts {
        let gap = " ".repeat(widest - columns(label) + 2);
        let first = format!("{label}{gap}");
        let next = " ".repeat(widest + 2);
        write_wrapped(&first, &next, &plain(value), width, out)?;
    }
    Ok(())
}

/// Writes words in lines of at most `width` columns.
fn write_wrapped(
    first: &str,
    next: &str,
    text: &str,
    width: usize,
    out: &mut dyn Write,
) -> io::Result<()> {
    for line in wrapped(first, next, text, width) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

/// Writes a table, two spaces between its columns, or one where two would not fit. What is still
/// too wide wraps in its widest columns.
fn write_table(table: Table<'_>, width: usize, out: &mut dyn Write) -> io::Result<()> {
    if !table.title.is_empty() {
        writeln!(out, "{}", plain(&table.title))?;
    }
    let mut records: Vec<Vec<String>> =
        vec![table.columns.iter().map(|column| tied(&column.head)).collect()];
    for row in table.rows {
        records.push(row.iter().map(|cell| tied(&cell.shown())).collect());
    }
    let body = records.len();
    if let Some(totals) = &table.totals {
        records.push(totals.iter().map(|cell| tied(&cell.shown())).collect());
    }
    let widest = |column: usize| {
        let cells = records.iter().filter_map(|record| record.get(column));
        cells.map(|cell| columns(cell)).max().unwrap_or(0)
    };
    let content: usize = (0..table.columns.len()).map(widest).sum();
    let gap = usize::from(content + 2 * table.columns.len().saturating_sub(1) <= width);
    let mut drawn = Builder::from_iter(records).build();
    let rule = HorizontalLine::new('-').intersection(' ');
    if table.totals.is_some() {
        drawn.with(Style::blank().horizontals([(1, rule), (body, rule)]));
    } else {
        drawn.with(Style::blank().horizontals([(1, rule)]));
    }
    drawn.with(Padding::new(0, gap, 0, 0));
    drawn.modify(Columns::last(), Padding::zero());
    for (index, column) in table.columns.iter().enumerate() {
        let alignment = match column.align {
            Align::Left => Alignment::left(),
            Align::Right => Alignment::right(),
        };
        drawn.modify(Columns::one(index), alignment);
    }
    drawn.with(Width::wrap(width).priority(Priority::max(true)).keep_words(true));
    for line in drawn.to_string().lines() {
        writeln!(out, "{}", untied(line.trim_end()))?;
    }
    Ok(())
}
