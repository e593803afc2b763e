//! One page of HTML, with the little style that an e-mail keeps.

use std::io::{self, Write};

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::page::{Align, Block, Page, Table};
use crate::fault::plain;

const CELL: &str = "padding:2px 8px;border-bottom:1px solid #ccc;text-align:left;";
const FIGURE: &str =
    "padding:2px 8px;border-bottom:1px solid #ccc;text-align:right;white-space:nowrap;";
const LABEL: &str = "text-align:left;vertical-align:top;padding:0 8px";
/// What is wider than the screen of a phone has a scroll of its own.
const SCROLL: &str = "overflow-x:auto";

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    let title = page.blocks.iter().find_map(|block| match block {
        Block::Heading(text) => Some(text.clone()),
        _ => None,
    });
    let head = html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            title { (plain(&title.unwrap_or_default())) }
        }
    };
    put(&html! { (DOCTYPE) }, out)?;
    out.write_all(b"<html lang=\"en\">")?;
    put(&head, out)?;
    out.write_all(b"<body style=\"font-family:sans-serif;font-size:14px\">")?;
    for block in page.blocks {
        write_block(block, out)?;
    }
    out.write_all(b"</body></html>\n")
}

fn put(markup: &Markup, out: &mut dyn Write) -> io::Result<()> {
    out.write_all(markup.0.as_bytes())
}

fn write_block(block: Block<'_>, out: &mut dyn Write) -> io::Result<()> {
    let markup = match block {
        Block::Table(table) | Block::Sheet(table) => return write_table(table, out),
        Block::Day(_) | Block::Format | Block::Written(_) => return Ok(()),
        Block::Heading(text) => html! { h2 { (plain(&text)) } },
        Block::Facts(facts) => html! {
            div style=(SCROLL) { table style="border-collapse:collapse" {
                @for (label, value) in &facts {
                    tr { th style=(LABEL) { (plain(label)) } td style="vertical-align:top" { (plain(value)) } }
                }
            } }
        },
        Block::Drawing(_, svg) => html! {
            div style=(SCROLL) { div style="min-width:600px;max-width:1000px" { (PreEscaped(svg)) } }
        },
        Block::Text(paragraphs) => html! { @for text in &paragraphs { p { (plain(text)) } } },
        Block::Notes(notes) => html! { ul { @for note in &notes { li { (plain(note)) } } } },
    };
    put(&markup, out)
}

/// Writes a table row by row: a million of them need no room.
fn write_table(table: Table<'_>, out: &mut dyn Write) -> io::Result<()> {
    let columns = table.columns;
    let style = |at: usize| match columns.get(at).map(|column| column.align) {
        Some(Align::Right) => FIGURE,
        _ => CELL,
    };
    let head = html! {
        @if !table.title.is_empty() { h3 { (plain(&table.title)) } }
    };
    put(&head, out)?;
    write!(out, "<div style=\"{SCROLL}\"><table style=\"border-collapse:collapse\">")?;
    let heads = html! {
        thead { tr {
            @for (at, column) in columns.iter().enumerate() { th style=(style(at)) { (plain(&column.head)) } }
        } }
    };
    put(&heads, out)?;
    out.write_all(b"<tbody>")?;
    for row in table.rows {
        let cells = html! {
            tr { @for (at, cell) in row.iter().enumerate() { td style=(style(at)) { (cell.shown()) } } }
        };
        put(&cells, out)?;
    }
    out.write_all(b"</tbody>")?;
    if let Some(totals) = &table.totals {
        let cells = html! {
            tfoot { tr {
                @for (at, cell) in totals.iter().enumerate() { th style=(style(at)) { (cell.shown()) } }
            } }
        };
        put(&cells, out)?;
    }
    out.write_all(b"</table></div>")
}
