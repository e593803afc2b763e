//! Plain text: columns of a fixed pitch that stay aligned when pasted.

use std::io::{self, Write};

use tabled::builder::Builder;
use tabled::settings::formatting::AlignmentStrategy;
use tabled::settings::object::Columns;
use tabled::settings::style::{HorizontalLine, Style};
use tabled::settings::{Alignment, Padding};

use super::fit::{Fitted, Grid};
use super::page::{Align, Block, Page};
use crate::fault::{broken, columns, plain, untied};

/// Rows that a table has at most: of more rows text makes several tables, as it must hold one to lay it out.
const ROWS_AT_ONCE: usize = 10_000;

pub(super) fn write(page: Page<'_>, width: usize, out: &mut dyn Write) -> io::Result<()> {
    for (index, block) in page.blocks.into_iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        match block {
            Block::Heading(text) => write_wrapped("", "  ", &plain(&text), width, out)?,
            Block::Facts(facts) => write_facts(&facts, width, out)?,
            Block::Table(table) | Block::Sheet(table) => {
                if !table.title.is_empty() {
                    write_wrapped("", "  ", &plain(&table.title), width, out)?;
                }
                let mut is_first = true;
                for piece in table.pieces(ROWS_AT_ONCE) {
                    for part in Grid::of(piece).fitted(width) {
                        if !std::mem::take(&mut is_first) {
                            writeln!(out)?;
                        }
                        write_table(part, out)?;
                    }
                }
            }
            Block::Day(_)
            | Block::Format
            | Block::Written(_)
            | Block::Chart(_)
            | Block::Bars(_) => {}
            Block::Drawing(lines, ..) => {
                for line in lines {
                    writeln!(out, "{line}")?;
                }
            }
            Block::Text(paragraphs) => {
                for (index, text) in paragraphs.iter().enumerate() {
                    if index > 0 {
                        writeln!(out)?;
                    }
                    write_wrapped("", "", &plain(text), width, out)?;
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

/// Labels with their values beside them, or under them where the labels take half of a line.
fn write_facts(facts: &[(String, String)], width: usize, out: &mut dyn Write) -> io::Result<()> {
    let widest = facts.iter().map(|(text, _)| columns(&plain(text))).max().unwrap_or(0);
    if (widest + 2) * 2 > width {
        for (text, value) in facts {
            write_wrapped("", "  ", &plain(text), width, out)?;
            write_wrapped("  ", "  ", &plain(value), width, out)?;
        }
        return Ok(());
    }
    let next = " ".repeat(widest + 2);
    for (text, value) in facts {
        let text = plain(text);
        let first = format!("{text}{}", " ".repeat(widest - columns(&text) + 2));
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
    for line in broken(first, next, text, width) {
        writeln!(out, "{line}")?;
    }
    Ok(())
}

/// Writes a table, or a part of one, that fits its width.
fn write_table(part: Fitted, out: &mut dyn Write) -> io::Result<()> {
    let body = part.records.len() - usize::from(part.has_totals);
    let heights: Vec<usize> = part.records.iter().map(|record| height(record)).collect();
    let mut drawn = Builder::from_iter(part.records).build();
    let rule = HorizontalLine::new('-').intersection(' ');
    if part.has_totals {
        drawn.with(Style::blank().horizontals([(1, rule), (body, rule)]));
    } else {
        drawn.with(Style::blank().horizontals([(1, rule)]));
    }
    drawn.with(AlignmentStrategy::PerLine);
    // One column lies between two of them in any case.
    drawn.with(Padding::new(0, part.gap - 1, 0, 0));
    drawn.modify(Columns::last(), Padding::zero());
    for (index, align) in part.aligns.iter().enumerate() {
        let alignment = match align {
            Align::Left => Alignment::left(),
            Align::Right => Alignment::right(),
        };
        drawn.modify(Columns::one(index), alignment);
    }
    let drawn = drawn.to_string();
    let mut lines = drawn.lines();
    let mut shared = part.shared.into_iter().peekable();
    for (at, height) in heights.into_iter().enumerate() {
        if let Some((_, above)) = shared.next_if(|(first, _)| *first == at) {
            for line in above {
                writeln!(out, "{line}")?;
            }
        }
        let rules = usize::from(at == 0 || (part.has_totals && at + 1 == body));
        for line in lines.by_ref().take(height + rules) {
            writeln!(out, "{}", untied(line.trim_end()))?;
        }
    }
    Ok(())
}

/// How many lines a record takes.
fn height(record: &[String]) -> usize {
    record.iter().map(|cell| cell.lines().count()).max().unwrap_or(0).max(1)
}

#[cfg(test)]
mod tests {
    use super::super::page::{Cell, Column, Rows, Table};
    use super::*;

    #[test]
    fn many_rows_make_several_tables_with_the_totals_under_the_last() {
        let table = Table {
            title: "Costs".to_owned(),
            columns: vec![Column::figures("slab")],
            rows: Rows::of((0..=2 * ROWS_AT_ONCE).map(|at| vec![Cell::count(at)])),
            totals: Some(vec![Cell::text("in all")]),
            is_main: true,
        };
        let mut text = Vec::new();
        write(Page { blocks: vec![Block::Table(table)] }, 78, &mut text).unwrap();
        let text = String::from_utf8(text).unwrap();
        let lines: Vec<&str> = text.lines().map(str::trim).collect();
        let count = |of: &str| lines.iter().filter(|line| **line == of).count();
        assert_eq!((count("Costs"), count("slab"), count("in all"), count("20,000")), (1, 3, 1, 1));
        assert_eq!(lines.last(), Some(&"in all"));
    }
}
