//! The forms a page can be written in, and which file writes which.

use std::io::{self, Write};

use super::html::Look;
use super::page::{Block, Page};
use super::{csv, html, markdown, text, xlsx};

/// The form of an output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Plain text for a terminal or an e-mail.
    Text,
    /// Markdown.
    Markdown,
    /// A page of HTML, to paste into an e-mail.
    Html,
    /// The same, to keep: with a style sheet for screen and paper.
    Kept,
    /// Comma-separated values of the page's main table.
    Csv,
    /// A workbook with a sheet for each table.
    Xlsx,
}

impl Page<'_> {
    /// Writes the page in a form; lines of text are at most `width` columns of a terminal.
    ///
    /// # Errors
    /// Where the output cannot be written.
    pub fn write(mut self, format: Format, width: usize, out: &mut dyn Write) -> io::Result<()> {
        if !matches!(format, Format::Csv | Format::Xlsx) {
            let of_sheets = |block: &Block<'_>| {
                matches!(block, Block::Sheet(_) | Block::Day(_) | Block::Format | Block::Written(_))
            };
            self.blocks.retain(|block| !of_sheets(block));
        }
        if format != Format::Kept {
            self.blocks.retain(|block| !matches!(block, Block::Chart(_) | Block::Bars(_)));
        }
        match format {
            Format::Text => text::write(self, width, out),
            Format::Markdown => markdown::write(self, out),
            Format::Html => html::write(self, Look::Mail, out),
            Format::Kept => html::write(self, Look::Kept, out),
            Format::Csv => csv::write(self, out),
            Format::Xlsx => xlsx::write(self, out),
        }
    }
}
