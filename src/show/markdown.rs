//! Markdown.

use std::io::{self, Write};

use super::page::{Align, Block, Page, Table};
use crate::fault::plain;

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
            Block::Text(paragraphs) => {
                let all: Vec<String> = paragraphs.iter().map(|text| escaped(text)).collect();
                writeln!(out, "{}", all.join("\n\n"))?;
            }
            Block::Day(_)
            | Block::Format
            | Block::Written(_)
            | Block::Chart(_)
            | Block::Bars(_) => {}
            Block::Drawing(lines, ..) => {
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

/// A user's text with what Markdown would take for a mark of its own escaped: its signs, and what makes
/// an address or a name a link.
fn escaped(text: &str) -> String {
    let text = plain(text);
    let mut safe = String::with_capacity(text.len());
    for (at, c) in text.char_indices() {
        let (before, rest) = text.split_at(at);
        let is_mark = match c {
            '|' | '*' | '_' | '`' | '[' | ']' | '<' | '>' | '\\' | '#' | '&' | '~' => true,
            ':' => rest.starts_with("://"),
            '.' => {
                before.get(at.saturating_sub(3)..).is_some_and(|w| w.eq_ignore_ascii_case("www"))
            }
            '@' => rest.chars().nth(1).is_some_and(char::is_alphanumeric),
            _ => false,
        };
        if is_mark {
            safe.push('\\');
        }
        safe.push(c);
    }
    safe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_or_an_address_in_a_users_text_is_no_mark() {
        let text = "Smith & Son ~20~ &amp; https://a.example www.b.example c@d.example 10 @ 5: 2.5";
        let safe = "Smith \\& Son \\~20\\~ \\&amp; https\\://a.example www\\.b.example c\\@d.example 10 @ 5: 2.5";
        assert_eq!(escaped(text), safe);
    }
}
