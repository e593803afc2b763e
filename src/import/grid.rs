//! What was read as cells, each with its place: one form for workbooks, separated lists and pasted text.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Arc;

use crate::fault::{Code, Fault, Place, Report, Reported, Source, plain};
use crate::quantity::{Decimal, parse_decimal};

/// More cells than any list of a supplier has (a choice of ours): 10,000 slabs in 30 columns.
const MOST_CELLS: usize = 300_000;

/// More letters than any cell of a list has (a choice of ours); what is beyond is cut off.
const MOST_LETTERS: usize = 500;

/// A day that a cell holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Day {
    pub(super) year: u16,
    pub(super) month: u8,
    pub(super) day: u8,
}

/// What a cell holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Value {
    /// Words, and figures that stand as words.
    Text(String),
    /// A figure.
    Number(Decimal),
    /// A day.
    Day(Day),
    /// What a spreadsheet puts in place of a value, such as #REF!.
    Error(String),
    /// A formula whose value was not stored.
    Unstored,
}

impl Value {
    /// A number as a workbook keeps it: the shortest decimal that stands for it.
    pub(super) fn number(shortest: &str) -> Self {
        let read = parse_decimal(shortest);
        read.map_or_else(|| Self::Text(shortest.to_owned()), |one| Self::Number(one.normalize()))
    }

    /// The cell as a reader of it sees it.
    pub(super) fn shown(&self) -> String {
        match self {
            Self::Text(text) | Self::Error(text) => text.clone(),
            Self::Number(number) => number.to_string(),
            Self::Day(Day { year, month, day }) => format!("{year}-{month:02}-{day:02}"),
            Self::Unstored => "(a formula)".to_owned(),
        }
    }
}

#[derive(Debug)]
struct Cell {
    value: Value,
    /// Where it stands in the text of the grid's source.
    span: Range<usize>,
}

/// Cells by row and column, both counted from nought.
#[derive(Debug)]
pub(super) struct Grid {
    /// The name of the sheet; `None`: the file is one text.
    pub(super) sheet: Option<String>,
    /// Whether the sheet is hidden.
    pub(super) is_hidden: bool,
    pub(super) hidden_rows: Vec<Range<usize>>,
    pub(super) hidden_columns: Vec<Range<usize>>,
    source: Arc<Source>,
    rows: BTreeMap<usize, BTreeMap<usize, Cell>>,
}

impl Grid {
    /// A text that was parted into cells, each with its place in it.
    pub(super) fn of_text(
        source: &Arc<Source>,
        cells: Vec<((usize, usize), Range<usize>, String)>,
        report: &mut Report,
    ) -> Result<Self, Reported> {
        if cells.len() > MOST_CELLS {
            return Err(report.error(too_many(&source.name)));
        }
        let mut rows: BTreeMap<usize, BTreeMap<usize, Cell>> = BTreeMap::new();
        for ((row, column), span, text) in cells {
            let cell = Cell { value: Value::Text(shortened(&text)), span };
            rows.entry(row).or_default().insert(column, cell);
        }
        Ok(Self {
            sheet: None,
            is_hidden: false,
            hidden_rows: Vec::new(),
            hidden_columns: Vec::new(),
            source: source.clone(),
            rows,
        })
    }

    /// What a cell holds.
    pub(super) fn get(&self, row: usize, column: usize) -> Option<&Value> {
        Some(&self.rows.get(&row)?.get(&column)?.value)
    }

    /// The rows that hold anything, each with its cells.
    pub(super) fn rows(&self) -> impl DoubleEndedIterator<Item = usize> {
        self.rows.keys().copied()
    }

    /// The filled cells of a row, from the left.
    pub(super) fn row(&self, row: usize) -> impl DoubleEndedIterator<Item = (usize, &Value)> {
        let cells = self.rows.get(&row);
        cells.into_iter().flat_map(|all| all.iter().map(|(column, cell)| (*column, &cell.value)))
    }

    /// Whether a row is hidden.
    pub(super) fn hides_row(&self, row: usize) -> bool {
        self.hidden_rows.iter().any(|one| one.contains(&row))
    }

    /// Whether a column is hidden.
    pub(super) fn hides_column(&self, column: usize) -> bool {
        self.hidden_columns.iter().any(|one| one.contains(&column))
    }

    /// The place of a cell, or of its row where it is empty.
    pub(super) fn place(&self, row: usize, column: usize) -> Place {
        match self.rows.get(&row).and_then(|all| all.get(&column)) {
            Some(cell) => self.source.place(cell.span.clone()),
            None => self.source.line(row + 1),
        }
    }

    /// A cell in words: "Sheet1!C12", or "line 12, column 3".
    pub(super) fn called(&self, row: usize, column: usize) -> String {
        match &self.sheet {
            Some(sheet) => format!("{}!{}{}", plain(sheet), letters(column), row + 1),
            None => format!("line {}, column {}", row + 1, column + 1),
        }
    }

    /// The grid in words: its sheet, or its file.
    pub(super) fn name(&self) -> &str {
        self.sheet.as_deref().unwrap_or(&self.source.name)
    }

    /// A column in words, as `--column` takes it: its letters, in a text its number.
    pub(super) fn column_called(&self, column: usize) -> String {
        if self.sheet.is_some() { letters(column) } else { (column + 1).to_string() }
    }
}

/// The letters of a spreadsheet's column.
fn letters(column: usize) -> String {
    let mut all = Vec::new();
    let mut left = column + 1;
    while left > 0 {
        let digit = u8::try_from((left - 1) % 26).unwrap_or(0);
        all.push(char::from(b'A' + digit));
        left = (left - 1) / 26;
    }
    all.iter().rev().collect()
}

/// A column by its letters or its number, from nought.
pub(super) fn column_of(text: &str) -> Option<usize> {
    if let Ok(number) = text.parse::<usize>() {
        return number.checked_sub(1);
    }
    let is_letters =
        !text.is_empty() && text.len() <= 3 && text.bytes().all(|c| c.is_ascii_alphabetic());
    let digit = |sum: usize, c: u8| sum * 26 + usize::from(c.to_ascii_uppercase() - b'A') + 1;
    is_letters.then(|| text.bytes().fold(0, digit) - 1)
}

fn shortened(text: &str) -> String {
    let text = text.trim();
    match text.char_indices().nth(MOST_LETTERS) {
        Some((at, _)) => format!("{}\u{2026}", text.get(..at).unwrap_or("")),
        None => text.to_owned(),
    }
}

fn too_many(name: &str) -> Fault {
    Fault::error(Code::OutOfRange, format!("{name} has more than {MOST_CELLS} filled cells"))
        .in_file(name)
        .help("save the sheet of the packing list as a file of its own")
}

/// A sheet while it is read: cell by cell, and no more than there may be.
pub(super) struct Filling {
    cells: Vec<((usize, usize), Value)>,
    pub(super) sheet: String,
    pub(super) is_hidden: bool,
    pub(super) hidden_rows: Vec<Range<usize>>,
    pub(super) hidden_columns: Vec<Range<usize>>,
}

impl Filling {
    pub(super) fn new(sheet: &str, is_hidden: bool) -> Self {
        let sheet = shortened(sheet);
        Self {
            cells: Vec::new(),
            sheet,
            is_hidden,
            hidden_rows: Vec::new(),
            hidden_columns: Vec::new(),
        }
    }

    /// Takes a cell; `false`: there are too many.
    pub(super) fn put(&mut self, row: usize, column: usize, value: Value) -> bool {
        let value = match value {
            Value::Text(text) => match shortened(&text) {
                text if text.is_empty() => return true,
                text => Value::Text(text),
            },
            other => other,
        };
        self.cells.push(((row, column), value));
        self.cells.len() <= MOST_CELLS
    }

    /// The sheet with a text of its own, a line a row, that faults point into.
    pub(super) fn done(mut self, file: &str, report: &mut Report) -> Result<Grid, Reported> {
        if self.cells.len() > MOST_CELLS {
            return Err(report.error(too_many(file)));
        }
        self.cells.sort_by_key(|(place, _)| *place);
        let mut rows: BTreeMap<usize, BTreeMap<usize, Cell>> = BTreeMap::new();
        let (mut text, mut line) = (String::new(), 0);
        for ((row, column), value) in self.cells {
            if row > line {
                text.extend(std::iter::repeat_n('\n', row - line));
                line = row;
            } else if !text.is_empty() && !text.ends_with('\n') {
                text.push_str(" | ");
            }
            let start = text.len();
            text.push_str(&value.shown().replace(['\n', '\r'], " "));
            let cell = Cell { value, span: start..text.len() };
            rows.entry(row).or_default().insert(column, cell);
        }
        let source = Arc::new(Source::new(&format!("{file}!{}", self.sheet), text));
        report.keep(&source);
        Ok(Grid {
            sheet: Some(self.sheet),
            is_hidden: self.is_hidden,
            hidden_rows: self.hidden_rows,
            hidden_columns: self.hidden_columns,
            source,
            rows,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_called_as_spreadsheets_do() {
        for (column, name) in [(0, "A"), (25, "Z"), (26, "AA"), (701, "ZZ"), (702, "AAA")] {
            assert_eq!(letters(column), name);
            assert_eq!(column_of(name), Some(column));
        }
        assert_eq!(
            (column_of("d"), column_of("4"), column_of("0"), column_of("A1")),
            (Some(3), Some(3), None, None)
        );
    }

    #[test]
    fn a_binary_number_is_its_shortest_decimal() {
        let read = calamine::Data::Float("281.39999999999998".parse().unwrap());
        assert_eq!(Value::number(&read.to_string()), Value::Number("281.4".parse().unwrap()));
        assert_eq!(Value::number("280"), Value::Number("280".parse().unwrap()));
    }
}
