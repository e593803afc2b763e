//! One page of HTML, with the little style that an e-mail keeps.

use std::io::{self, Write};

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::page::{Align, Block, Column, Page, Table};
use crate::fault::plain;

const CELL: &str = "padding:2px 8px;border-bottom:1px solid #ccc;";
const FIGURE: &str = "padding:2px 8px;border-bottom:1px solid #ccc;text-align:right;";
/// What is wider than the screen of a phone has a scroll of its own.
const SCROLL: &str = "overflow-x:auto";

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    let title = page.blocks.iter().find_map(|block| match block {
        Block::Heading(text) => Some(text.clone()),
        _ => None,
    });
    let markup = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (plain(&title.unwrap_or_default())) }
            }
            body style="font-family:sans-serif;font-size:14px" {
                @for block in page.blocks { (draw(block)) }
            }
        }
    };
    out.write_all(markup.into_string().as_bytes())?;
    writeln!(out)
}

fn draw(block: Block<'_>) -> Markup {
    match block {
        Block::Heading(text) => html! { h2 { (plain(&text)) } },
        Block::Facts(facts) => html! {
            div style=(SCROLL) { table style="border-collapse:collapse" {
                @for (label, value) in &facts {
                    tr { th style="text-align:left;padding:2px 8px" { (plain(label)) } td { (plain(value)) } }
                }
            } }
        },
        Block::Table(table) | Block::Sheet(table) => draw_table(table),
        Block::Drawing(_, svg) => html! {
            div style=(SCROLL) { div style="min-width:600px;max-width:1000px" { (PreEscaped(svg)) } }
        },
        Block::Text(paragraphs) => html! { @for text in &paragraphs { p { (plain(text)) } } },
        Block::Notes(notes) => html! { ul { @for note in &notes { li { (plain(note)) } } } },
    }
}

fn draw_table(table: Table<'_>) -> Markup {
    let style = |column: Option<&Column>| match column.map(|column| column.align) {
        Some(Align::Right) => FIGURE,
        _ => CELL,
    };
    let columns = table.columns;
    html! {
        @if !table.title.is_empty() { h3 { (plain(&table.title)) } }
        div style=(SCROLL) { table style="border-collapse:collapse" {
            thead { tr {
                @for column in &columns { th style=(style(Some(column))) { (plain(&column.head)) } }
            } }
            tbody {
                @for row in table.rows { tr {
                    @for (index, cell) in row.iter().enumerate() {
                        td style=(style(columns.get(index))) { (cell.shown()) }
                    }
                } }
            }
            @if let Some(totals) = &table.totals { tfoot { tr {
                @for (index, cell) in totals.iter().enumerate() {
                    th style=(style(columns.get(index))) { (cell.shown()) }
                }
            } } }
        } }
    }
}
