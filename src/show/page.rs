//! What every output form is made from: a page of headings, facts, tables and notes.

use std::borrow::Cow;

use super::paper::Paper;
use crate::fault::plain;
use crate::quantity::{Decimal, Money, grouped};
use crate::trade::Date;

/// How a column's cells stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Figures.
    Right,
}

/// A column of a table.
#[derive(Debug, Clone)]
pub struct Column {
    /// Its head, with the unit of its figures.
    pub head: Cow<'static, str>,
    /// How its cells stand.
    pub align: Align,
    /// Where text says it: in the table, or above the rows that share it, after these words.
    pub above: Option<&'static str>,
    /// Its head in CSV, which has no title to say currency and unit.
    pub in_sheet: Option<String>,
}

impl Column {
    /// A column of words.
    pub fn words(head: impl Into<Cow<'static, str>>) -> Self {
        Self { head: head.into(), align: Align::Left, above: None, in_sheet: None }
    }

    /// A column of figures.
    pub fn figures(head: impl Into<Cow<'static, str>>) -> Self {
        Self { align: Align::Right, ..Self::words(head) }
    }

    /// A column of words that neighbouring rows share. Text has it in a line above them, after some words of
    /// its own: a column less.
    pub fn above(head: &'static str, words: &'static str) -> Self {
        Self { above: Some(words), ..Self::words(head) }
    }
}

/// One cell of a table.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell<'a> {
    /// Nothing.
    Empty,
    /// Words.
    Text(Cow<'a, str>),
    /// A figure, printed at its own places.
    Figure(Decimal),
}

impl<'a> Cell<'a> {
    /// Words.
    pub fn text(text: impl Into<Cow<'a, str>>) -> Self {
        Self::Text(text.into())
    }

    /// The figure of an amount; its currency stands in the column's head.
    pub fn money(money: Money) -> Self {
        Self::Figure(money.amount())
    }

    /// A count.
    pub fn count(count: usize) -> Self {
        Self::Figure(Decimal::from(count))
    }

    /// A figure, or nothing.
    pub fn maybe(figure: Option<Decimal>) -> Self {
        figure.map_or(Self::Empty, Self::Figure)
    }

    /// The cell for a reader: figures with their thousands marked.
    pub(super) fn shown(&self) -> Cow<'_, str> {
        match self {
            Self::Empty => Cow::Borrowed(""),
            Self::Text(text) => plain(text),
            Self::Figure(figure) => Cow::Owned(grouped(*figure)),
        }
    }
}

/// A row of cells.
pub type Row<'a> = Vec<Cell<'a>>;

/// The rows of a table, each made when it is written.
pub struct Rows<'a>(Box<dyn Iterator<Item = Row<'a>> + 'a>);

impl<'a> Rows<'a> {
    /// These rows.
    pub fn of(rows: impl IntoIterator<Item = Row<'a>, IntoIter: 'a>) -> Self {
        Self(Box::new(rows.into_iter()))
    }
}

impl<'a> Iterator for Rows<'a> {
    type Item = Row<'a>;

    fn next(&mut self) -> Option<Row<'a>> {
        self.0.next()
    }
}

/// A table. Its rows are made as they are written, so that many of them need no room.
pub struct Table<'a> {
    /// Its title.
    pub title: String,
    /// Its columns.
    pub columns: Vec<Column>,
    /// Its rows.
    pub rows: Rows<'a>,
    /// Its totals.
    pub totals: Option<Row<'a>>,
    /// Whether it is the one that CSV writes.
    pub is_main: bool,
}

impl<'a> Table<'a> {
    /// The table in tables of at most `most` rows, without its title, the totals under the last.
    pub(super) fn pieces(self, most: usize) -> impl Iterator<Item = Table<'a>> {
        let Self { columns, rows, mut totals, is_main, .. } = self;
        let mut rows = rows.peekable();
        let mut is_first = true;
        std::iter::from_fn(move || {
            if !std::mem::take(&mut is_first) && rows.peek().is_none() {
                return None;
            }
            let own: Vec<Row<'a>> = rows.by_ref().take(most).collect();
            let totals = totals.take_if(|_| rows.peek().is_none());
            let (title, columns) = (String::new(), columns.clone());
            Some(Table { title, columns, rows: Rows::of(own), totals, is_main })
        })
    }
}

impl std::fmt::Debug for Table<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Table").field("title", &self.title).finish_non_exhaustive()
    }
}

/// A block of a page.
#[derive(Debug)]
pub enum Block<'a> {
    /// What the page is about.
    Heading(String),
    /// Labels and what they say.
    Facts(Vec<(String, String)>),
    /// A table.
    Table(Table<'a>),
    /// A table that CSV and workbooks alone write: what other forms show over several tables.
    Sheet(Table<'a>),
    /// The day that a workbook of the page says it was made on.
    Day(Date),
    /// CSV ends with a column that has the number of its format.
    Format,
    /// Rows below the table before them, as CSV has them already.
    Written(Vec<&'a [u8]>),
    /// A drawing: lines printed as they are, in a fixed pitch; and as SVG, for a sheet of its own of this paper.
    Drawing(Vec<String>, String, Paper),
    /// A drawing, as SVG, that only a page to keep has.
    Chart(String),
    /// Bars, as HTML, that only a page to keep has.
    Bars(String),
    /// Sentences below the tables.
    Notes(Vec<String>),
    /// Paragraphs.
    Text(Vec<String>),
}

/// A page.
#[derive(Debug, Default)]
pub struct Page<'a> {
    /// Its blocks, in order.
    pub blocks: Vec<Block<'a>>,
}
