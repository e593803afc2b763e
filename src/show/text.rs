//! Plain text: columns of a fixed pitch that stay aligned when pasted.

use std::io::{self, Write};

use tabled::builder::Builder;
use tabled::settings::object::Columns;
use tabled::settings::style::{HorizontalLine, Style};
use tabled::settings::{Alignment, Padding, Width};

use super::page::{Align, Block, Page, Table, plain};

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    let width = page.width;
    for (index, block) in page.blocks.into_iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        match block {
            Block::Heading(text) => writeln!(out, "{}", plain(&text))?,
            Block::Facts(facts) => write_facts(&facts, width, out)?,
            Block::Table(table) => write_table(table, width, out)?,
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
    let widest = facts
        .iter()
        .map(|(label, _)| label.chars().count())
        .max()
        .unwrap_or(0);
    for (label, value) in facts {
        let first = format!("{label:widest$}  ");
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
    let mut line = first.to_owned();
    let mut is_empty = true;
    for word in text.split(' ') {
        let length = line.chars().count() + usize::from(!is_empty) + word.chars().count();
        if !is_empty && length > width {
            writeln!(out, "{}", line.trim_end())?;
            next.clone_into(&mut line);
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        line.push_str(word);
        is_empty = false;
    }
    writeln!(out, "{}", line.trim_end())
}

fn write_table(table: Table<'_>, width: usize, out: &mut dyn Write) -> io::Result<()> {
    if !table.title.is_empty() {
        writeln!(out, "{}", plain(&table.title))?;
    }
    let mut builder = Builder::default();
    builder.push_record(table.columns.iter().map(|column| column.head.to_string()));
    let mut rows = 1;
    for row in table.rows {
        builder.push_record(row.iter().map(super::page::Cell::shown));
        rows += 1;
    }
    let has_totals = table.totals.is_some();
    if let Some(totals) = &table.totals {
        builder.push_record(totals.iter().map(super::page::Cell::shown));
    }
    let mut drawn = builder.build();
    let rule = HorizontalLine::new('-').intersection(' ');
    if has_totals {
        drawn.with(Style::blank().horizontals([(1, rule), (rows, rule)]));
    } else {
        drawn.with(Style::blank().horizontals([(1, rule)]));
    }
    drawn.with(Padding::new(0, 1, 0, 0));
    for (index, column) in table.columns.iter().enumerate() {
        let alignment = match column.align {
            Align::Left => Alignment::left(),
            Align::Right => Alignment::right(),
        };
        drawn.modify(Columns::one(index), alignment);
    }
    drawn.with(Width::wrap(width).keep_words(true));
    for line in drawn.to_string().lines() {
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}
