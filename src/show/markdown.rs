//! Markdown.

use std::io::{self, Write};

use super::page::{Align, Block, Page, Table, plain};

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    for (index, block) in page.blocks.into_iter().enumerate() {
        if index > 0 {
            writeln!(out)?;
        }
        match block {
            Block::Heading(text) => writeln!(out, "## {}", escaped(&text))?,
            Block::Facts(facts) => {
                for (label, value) in facts {
                    writeln!(out, "- {}: {}", escaped(&label), escaped(&value))?;
                }
            }
            Block::Table(table) | Block::Sheet(table) => write_table(table, out)?,
            Block::Drawing(lines) => {
                writeln!(out, "```text")?;
                for line in lines {
                    writeln!(out, "{line}")?;
                }
                writeln!(out, "```")?;
            }
            Block::Notes(notes) => {
                for note in notes {
                    writeln!(out, "- {}", escaped(&note))?;
                }
            }
        }
    }
    Ok(())
}

fn write_table(table: Table<'_>, out: &mut dyn Write) -> io::Result<()> {
    if !table.title.is_empty() {
        writeln!(out, "**{}**\n", escaped(&table.title))?;
    }
    let line = |cells: Vec<String>| format!("| {} |", cells.join(" | "));
    writeln!(out, "{}", line(table.columns.iter().map(|c| escaped(&c.head)).collect()))?;
    let rules = table.columns.iter().map(|column| match column.align {
        Align::Left => "---".to_owned(),
        Align::Right => "---:".to_owned(),
    });
    writeln!(out, "{}", line(rules.collect()))?;
    for row in table.rows {
        writeln!(out, "{}", line(row.iter().map(|cell| escaped(&cell.shown())).collect()))?;
    }
    if let Some(totals) = table.totals {
        let bold = |text: String| {
            if text.is_empty() { text } else { format!("**{text}**") }
        };
        let cells = totals.iter().map(|cell| bold(escaped(&cell.shown())));
        writeln!(out, "{}", line(cells.collect()))?;
    }
    Ok(())
}

/// A user's text with what Markdown would take for a mark of its own escaped.
fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in plain(text).chars() {
        if matches!(c, '|' | '*' | '_' | '`' | '[' | ']' | '<' | '>' | '\\' | '#') {
            safe.push('\\');
        }
        safe.push(c);
    }
    safe
}
