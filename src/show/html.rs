//! One page of HTML: with the little style that an e-mail keeps, or as a page that people keep, with a style sheet
//! that serves screen and paper.

use std::io::{self, Write};

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::bars;
use super::page::{Align, Block, Cell, Page, Table};
use super::paper::EDGE;
use crate::fault::plain;

const CELL: &str = "padding:2px 8px;border-bottom:1px solid #ccc;text-align:left;";
const FIGURE: &str =
    "padding:2px 8px;border-bottom:1px solid #ccc;text-align:right;white-space:nowrap;";
const LABEL: &str = "text-align:left;vertical-align:top;padding:0 8px";
/// What is wider than the screen of a phone has a scroll of its own.
const SCROLL: &str = "overflow-x:auto";

/// How a page looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Look {
    /// Each element has its style with it: mail programs drop a style sheet.
    Mail,
    /// By [`SHEET`].
    Kept,
}

/// The style of a page that is kept. Light and dark, screen and paper; nothing is told by colour alone.
const SHEET: &str = ":root{color-scheme:light dark;--ink:#1b1b1b;--ground:#fff;--line:#8a8a8a;--soft:#f2f2f2}\
@media (prefers-color-scheme:dark){:root{--ink:#eee;--ground:#161616;--line:#888;--soft:#262626}}\
body{font:16px/1.45 sans-serif;color:var(--ink);background:var(--ground);max-width:75rem;margin:0 auto;padding:1rem}\
h1{font-size:1.5rem}h2{font-size:1.2rem;margin-top:2rem;border-bottom:2px solid var(--line)}h3{font-size:1rem}\
table{border-collapse:collapse}th,td{padding:2px 8px;border-bottom:1px solid var(--line);text-align:left;vertical-align:top}\
thead th,tfoot th{background:var(--soft)}.figure{text-align:right;white-space:nowrap;font-variant-numeric:tabular-nums}\
.wide{overflow-x:auto;margin-bottom:0.75rem}.drawing{background:#fff;color:#000;min-width:37.5rem;max-width:62.5rem}.sheet{min-width:0}.sheet svg{width:100%;height:auto}\
@media print{@page{margin:12mm}:root{font-size:13px;--ink:#000;--ground:#fff;--soft:#fff}body{font-size:9pt;padding:0;max-width:none}\
table{font-size:7pt}th,td{padding:1px 4px}.wide{overflow:visible}.drawing{min-width:0;max-width:none}.sheet{break-before:page}\
.drawing svg{width:100%;max-height:115mm}.sheet svg{max-height:none}th[scope=row]{white-space:nowrap}\
h2,h3{break-after:avoid}tr,.drawing{break-inside:avoid}thead{display:table-header-group}tfoot{display:table-row-group}}";

impl Look {
    /// The style of an element that carries its own.
    fn own(self, style: &'static str) -> Option<&'static str> {
        (self == Self::Mail).then_some(style)
    }

    /// The class of an element that a style sheet knows.
    fn class(self, class: &'static str) -> Option<&'static str> {
        (self == Self::Kept).then_some(class)
    }
}

pub(super) fn write(page: Page<'_>, look: Look, out: &mut dyn Write) -> io::Result<()> {
    let title = page.blocks.iter().find_map(|block| match block {
        Block::Heading(text) => Some(text.clone()),
        _ => None,
    });
    // Who prints it may; a mail program may drop it.
    let paper = page.blocks.iter().find_map(|block| match block {
        Block::Drawing(_, _, paper) => Some(*paper),
        _ => None,
    });
    let head = html! {
        head {
            meta charset="utf-8";
            meta name="viewport" content="width=device-width, initial-scale=1";
            title { (plain(&title.unwrap_or_default())) }
            @if look == Look::Kept { style { (PreEscaped(SHEET)) (PreEscaped(bars::SHEET)) } }
            @if let Some(paper) = paper {
                style { "@page{size:" (paper.css()) ";margin:" (EDGE / 10) "mm}" }
            }
        }
    };
    put(&html! { (DOCTYPE) }, out)?;
    out.write_all(b"<html lang=\"en\">")?;
    put(&head, out)?;
    match look {
        Look::Mail => out.write_all(b"<body style=\"font-family:sans-serif;font-size:14px\">")?,
        Look::Kept => out.write_all(b"<body><main>")?,
    }
    let mut headings = 0_usize;
    let mut sheets: Vec<String> = Vec::new();
    for block in page.blocks {
        match block {
            // A sheet is a page of paper: among the words it would leave the rest of a page empty.
            Block::Drawing(_, svg, _) => {
                sheets.push(svg);
                let number = sheets.len();
                put(&html! { p { "Sheet " (number) " is drawn at the end." } }, out)?;
            }
            Block::Heading(text) => {
                headings = headings.saturating_add(1);
                let is_whole = look == Look::Kept && headings == 1;
                let text = plain(&text);
                put(&html! { @if is_whole { h1 { (text) } } @else { h2 { (text) } } }, out)?;
            }
            Block::Table(table) | Block::Sheet(table) => {
                // No level of headings is left out.
                let is_section = look == Look::Kept && headings < 2;
                if !table.title.is_empty() {
                    let text = plain(&table.title);
                    put(&html! { @if is_section { h2 { (text) } } @else { h3 { (text) } } }, out)?;
                }
                write_table(table, look, out)?;
            }
            block => write_block(block, look, out)?,
        }
    }
    for svg in &sheets {
        let style = "max-width:1000px;break-before:page";
        let sheet = html! {
            div style=[look.own(style)] class=[look.class("drawing sheet")] { (PreEscaped(svg)) }
        };
        put(&sheet, out)?;
    }
    if look == Look::Kept {
        out.write_all(b"</main>")?;
    }
    out.write_all(b"</body></html>\n")
}

fn put(markup: &Markup, out: &mut dyn Write) -> io::Result<()> {
    out.write_all(markup.0.as_bytes())
}

fn write_block(block: Block<'_>, look: Look, out: &mut dyn Write) -> io::Result<()> {
    let markup = match block {
        // Tables, headings and drawings are written elsewhere; the others are of sheets.
        Block::Table(_)
        | Block::Sheet(_)
        | Block::Heading(_)
        | Block::Day(_)
        | Block::Format
        | Block::Drawing(..)
        | Block::Written(_) => return Ok(()),
        Block::Facts(facts) => html! {
            div style=[look.own(SCROLL)] class=[look.class("wide")] {
                table style=[look.own("border-collapse:collapse")] {
                    @for (label, value) in &facts {
                        tr {
                            th style=[look.own(LABEL)] scope=[look.class("row")] { (plain(label)) }
                            td style=[look.own("vertical-align:top")] { (plain(value)) }
                        }
                    }
                }
            }
        },
        Block::Bars(bars) => html! { (PreEscaped(bars)) },
        Block::Chart(svg) => drawing(&svg, look, ("min-width:600px;max-width:1000px", "drawing")),
        Block::Text(paragraphs) => html! { @for text in &paragraphs { p { (plain(text)) } } },
        Block::Notes(notes) => html! { ul { @for note in &notes { li { (plain(note)) } } } },
    };
    put(&markup, out)
}

/// A drawing in a scroll of its own, with its style or its class.
fn drawing(svg: &str, look: Look, (style, class): (&'static str, &'static str)) -> Markup {
    html! {
        div style=[look.own(SCROLL)] class=[look.class("wide")] tabindex=[look.class("0")] {
            div style=[look.own(style)] class=[look.class(class)] { (PreEscaped(svg)) }
        }
    }
}

/// Writes a table below its title, row by row: a million of them need no room.
fn write_table(table: Table<'_>, look: Look, out: &mut dyn Write) -> io::Result<()> {
    let columns = table.columns;
    let is_figure = |at: usize| columns.get(at).is_some_and(|column| column.align == Align::Right);
    let style = |at: usize| look.own(if is_figure(at) { FIGURE } else { CELL });
    let class = |at: usize| look.class("figure").filter(|_| is_figure(at));
    match look {
        Look::Mail => {
            write!(out, "<div style=\"{SCROLL}\"><table style=\"border-collapse:collapse\">")?;
        }
        Look::Kept => out.write_all(b"<div class=\"wide\" tabindex=\"0\"><table>")?,
    }
    let heads = html! {
        thead { tr {
            @for (at, column) in columns.iter().enumerate() {
                @if look == Look::Kept && column.head.is_empty() { td {} } @else {
                    th style=[style(at)] class=[class(at)] scope=[look.class("col")] { (plain(&column.head)) }
                }
            }
        } }
    };
    put(&heads, out)?;
    out.write_all(b"<tbody>")?;
    for row in table.rows {
        let cells = html! {
            tr { @for (at, cell) in row.iter().enumerate() {
                td style=[style(at)] class=[class(at)] { (cell.shown()) }
            } }
        };
        put(&cells, out)?;
    }
    out.write_all(b"</tbody>")?;
    if let Some(totals) = &table.totals {
        let cells = html! {
            tfoot { tr {
                @for (at, cell) in totals.iter().enumerate() {
                    @if look == Look::Kept && *cell == Cell::Empty { td {} } @else {
                        th style=[style(at)] class=[class(at)] { (cell.shown()) }
                    }
                }
            } }
        };
        put(&cells, out)?;
    }
    out.write_all(b"</table></div>")
}
