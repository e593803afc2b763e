//! A workbook: a first sheet with what a page says in words, then a sheet for each of its tables. Words are cells of
//! text, figures are numbers at their own places, and a total that is the sum of its column is a formula which carries
//! its value.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io::{self, Write};

use chrono::Datelike;
use rust_xlsxwriter::{
    ColNum, DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Formula, IgnoreError,
    RowNum, Workbook, Worksheet, XlsxError, utility,
};

use super::json::FORMAT;
use super::page::{Align, Block, Cell, Column, Page, Row, Rows, Table};
use crate::fault::{columns, plain};
use crate::quantity::Decimal;
use crate::trade::Date;

/// The rows that a sheet holds (ECMA-376, part 1, 18.3.1.73, and what the common programs read, from memory).
const MOST_ROWS: RowNum = 1_048_576;
/// The letters that the name of a sheet holds (ECMA-376, part 1, 18.2.19, from memory).
const MOST_LETTERS: usize = 31;
/// The digits that a binary number of 64 bits keeps, whatever they are (IEEE 754).
const KEPT_DIGITS: u32 = 15;
/// The narrowest and the widest column, in digits.
const WIDTHS: (usize, usize) = (6, 60);
/// What the mark of a filter takes of a head, in digits.
const FILTER: usize = 3;
const OVERVIEW: &str = "Overview";

pub(super) fn write(page: Page<'_>, out: &mut dyn Write) -> io::Result<()> {
    let bytes = workbook(page).map_err(|error| match error {
        XlsxError::RowColumnLimitError => io::Error::other(
            "a sheet of a workbook holds 1,048,576 rows and this table has more: write --as csv",
        ),
        XlsxError::MaxStringLengthExceeded => io::Error::other(
            "a cell of a workbook holds 32,767 letters and one has more: write --as csv",
        ),
        other => io::Error::other(other.to_string()),
    })?;
    out.write_all(&bytes)
}

fn workbook(page: Page<'_>) -> Result<Vec<u8>, XlsxError> {
    let mut formats = Formats::default();
    let mut overview = Overview::new()?;
    let mut sheets: Vec<Worksheet> = Vec::new();
    let mut names = vec![OVERVIEW.to_lowercase()];
    let (mut title, mut day) = (None, None);
    // The heading that tables stand under, whether one of them has its name, and the heading above that has none.
    let (mut under, mut is_taken, mut above) = (String::new(), false, String::new());
    let format = page.has_format().then(|| Cell::Figure(FORMAT.into()));
    for block in page.blocks {
        match block {
            Block::Table(table) | Block::Sheet(table) => {
                let is_untitled = table.title.is_empty();
                let about = match table.columns.first() {
                    _ if !is_untitled => table.title.clone(),
                    Some(column) if under.is_empty() => column.head.to_string(),
                    Some(column) if is_taken => format!("{}: {}", subject(&under), column.head),
                    _ => under.clone(),
                };
                is_taken |= is_untitled;
                let name = sheet_name(&about, &mut names);
                // A page of several shipments has a first container of each.
                let own = subject(&under);
                let is_own = is_untitled || about.to_lowercase().contains(&own.to_lowercase());
                let (of, is_part) = (subject(&above), is_own && own != under);
                let is_of = is_part && title.as_ref().is_some_and(|title| *title != above);
                let about = if is_of && !of.is_empty() { format!("{about} ({of})") } else { about };
                let mut sheet = Worksheet::new();
                sheet.set_name(&name)?;
                let table = with_format(table, format.clone());
                write_table(table, MOST_ROWS, &mut formats, &mut sheet)?;
                sheets.push(sheet);
                overview.listed.push((name, about));
            }
            Block::Heading(text) => {
                overview.heading(&text)?;
                let before = std::mem::replace(&mut under, text.clone());
                if !std::mem::take(&mut is_taken) {
                    above = before;
                }
                title.get_or_insert(text);
            }
            Block::Facts(facts) => overview.pairs(&facts)?,
            Block::Text(all) | Block::Notes(all) => overview.sentences(&all)?,
            Block::Day(own) => day = Some(own),
            // A drawing has no cells; the rest is of CSV.
            Block::Drawing(..)
            | Block::Chart(_)
            | Block::Bars(_)
            | Block::Format
            | Block::Written(_) => {}
        }
    }
    let mut workbook = Workbook::new();
    let title = title.unwrap_or_default();
    let properties =
        DocProperties::new().set_title(plain(&title)).set_creation_datetime(&made_on(day)?);
    workbook.set_properties(&properties);
    workbook.push_worksheet(overview.finished()?);
    for sheet in sheets {
        workbook.push_worksheet(sheet);
    }
    workbook.save_to_buffer()
}

/// The day that the file says it was made on. No clock is asked, so that the same page gives the same bytes.
fn made_on(day: Option<Date>) -> Result<ExcelDateTime, XlsxError> {
    let parts = day.and_then(|day| {
        let (month, of_month) = (u8::try_from(day.month()).ok()?, u8::try_from(day.day()).ok()?);
        Some((u16::try_from(day.year()).ok()?, month, of_month))
    });
    // What has no day of its own has the first that a workbook can name in all programs.
    let (year, month, day) =
        parts.filter(|(year, ..)| (1904..=9999).contains(year)).unwrap_or((1904, 1, 1));
    ExcelDateTime::from_ymd(year, month, day)
}

/// What a heading is about, before it says more.
fn subject(heading: &str) -> &str {
    heading.split_once(": ").map_or(heading, |(subject, _)| subject)
}

/// A table of the books with the number of the format in a last column, as its CSV has it.
fn with_format<'a>(table: Table<'a>, format: Option<Cell<'a>>) -> Table<'a> {
    let Some(format) = format.filter(|_| table.is_main) else { return table };
    let Table { title, mut columns, rows, mut totals, is_main } = table;
    columns.push(Column::figures("format"));
    if let Some(totals) = &mut totals {
        totals.push(Cell::Empty);
    }
    let rows = Rows::of(rows.map(move |mut row| {
        row.push(format.clone());
        row
    }));
    Table { title, columns, rows, totals, is_main }
}

/// Words that a name cut short does not end with.
const SMALL: [&str; 16] = [
    "a", "an", "and", "at", "by", "for", "from", "in", "of", "on", "over", "the", "to", "under",
    "where", "with",
];

/// A name for a sheet that none has yet, within the letters that may stand in one and in whole words.
fn sheet_name(title: &str, taken: &mut Vec<String>) -> String {
    let of = |text: &str| -> String {
        let text = text.replace(": ", ", ");
        text.chars().filter(|c| !"[]:*?/\\".contains(*c)).collect()
    };
    let title = plain(title);
    let allowed = of(&title);
    let mut name = cut(&allowed, MOST_LETTERS);
    // Where the words that a name is cut to are taken, it is called by what it says next.
    let is_cut_and_taken = name.len() < allowed.len() && taken.contains(&name.to_lowercase());
    if let Some((_, more)) = title.split_once(": ").filter(|_| is_cut_and_taken) {
        name = cut(&of(more), MOST_LETTERS);
    }
    let mut rank = 1_usize;
    // A name that says nothing, and one that the programs keep for themselves, get a number as well.
    while name.is_empty()
        || name.eq_ignore_ascii_case("history")
        || taken.contains(&name.to_lowercase())
    {
        rank = rank.saturating_add(1);
        let end = format!(" {rank}");
        let start = cut(&allowed, MOST_LETTERS.saturating_sub(end.len()));
        name = String::from(format!("{start}{end}").trim());
    }
    taken.push(name.to_lowercase());
    name
}

/// The first words of a text, at most so many letters, up to a comma where there is one; of one long word its first
/// letters.
fn cut(text: &str, most: usize) -> String {
    let edge = |c: char| c == '\'' || c.is_whitespace();
    let text = text.trim_matches(edge);
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let mut kept = String::new();
    for word in text.split_whitespace() {
        let joined = format!("{kept} {word}");
        let joined = joined.trim_start();
        // A comma at the end falls away.
        if joined.trim_end_matches(',').chars().count() > most {
            break;
        }
        kept = String::from(joined);
    }
    if let Some((clause, _)) = kept.rsplit_once(", ").filter(|_| !kept.ends_with(',')) {
        kept = clause.to_owned();
    }
    while let Some((rest, last)) = kept.rsplit_once(' ') {
        if !SMALL.contains(&&*last.to_lowercase()) {
            break;
        }
        kept = rest.to_owned();
    }
    let kept = kept.trim_end_matches(|c: char| edge(c) || ",;-".contains(c));
    if kept.is_empty() { text.chars().take(most).collect() } else { kept.to_owned() }
}

/// The first sheet: headings, facts and sentences one below the other, and the list of the other sheets.
struct Overview {
    sheet: Worksheet,
    at: RowNum,
    /// The names of the other sheets, and what stands there.
    listed: Vec<(String, String)>,
    heading: Format,
    label: Format,
    value: Format,
}

impl Overview {
    fn new() -> Result<Self, XlsxError> {
        let mut sheet = Worksheet::new();
        sheet.set_name(OVERVIEW)?;
        sheet.set_column_width(0, 24)?.set_column_width(1, 100)?;
        sheet.set_landscape().set_print_fit_to_pages(1, 0);
        let text = Format::new().set_num_format("@").set_align(FormatAlign::Top);
        Ok(Self {
            sheet,
            at: 0,
            listed: Vec::new(),
            heading: text.clone().set_bold().set_font_size(14),
            label: text.clone().set_bold(),
            value: text.set_text_wrap(),
        })
    }

    fn next(&mut self) -> RowNum {
        let at = self.at;
        self.at = self.at.saturating_add(1);
        at
    }

    fn heading(&mut self, text: &str) -> Result<(), XlsxError> {
        if self.at > 0 {
            self.next();
        }
        let at = self.next();
        self.sheet.write_string_with_format(at, 0, plain(text), &self.heading)?;
        Ok(())
    }

    fn pair(&mut self, label: &str, value: &str) -> Result<(), XlsxError> {
        let at = self.next();
        self.sheet.write_string_with_format(at, 0, plain(label), &self.label)?;
        self.sheet.write_string_with_format(at, 1, plain(value), &self.value)?;
        Ok(())
    }

    fn pairs(&mut self, pairs: &[(String, String)]) -> Result<(), XlsxError> {
        pairs.iter().try_for_each(|(label, value)| self.pair(label, value))
    }

    fn sentences(&mut self, all: &[String]) -> Result<(), XlsxError> {
        for text in all {
            let at = self.next();
            self.sheet.write_string_with_format(at, 1, plain(text), &self.value)?;
        }
        Ok(())
    }

    fn finished(mut self) -> Result<Worksheet, XlsxError> {
        let listed = std::mem::take(&mut self.listed);
        if !listed.is_empty() {
            self.heading("Sheets")?;
            self.pairs(&listed)?;
        }
        Ok(self.sheet)
    }
}

/// The formats of cells, each made once.
#[derive(Default)]
struct Formats {
    /// Of figures by their places, and whether they are totals.
    figures: BTreeMap<(u32, bool), Format>,
    text: Option<Format>,
}

impl Formats {
    fn figure(&mut self, places: u32, is_total: bool) -> &Format {
        self.figures.entry((places, is_total)).or_insert_with(|| {
            let part =
                usize::try_from(places).map_or_else(|_| String::new(), |count| "0".repeat(count));
            let point = if places == 0 { "" } else { "." };
            let own = Format::new().set_num_format(format!("#,##0{point}{part}"));
            if is_total { of_totals(own) } else { own }
        })
    }

    /// Of words: a program that edits such a cell leaves `007` and `1-10` as they are.
    fn text(&mut self) -> &Format {
        self.text.get_or_insert_with(|| Format::new().set_num_format("@"))
    }
}

fn of_totals(format: Format) -> Format {
    format.set_bold().set_border_top(FormatBorder::Thin)
}

/// What is known of a column once its rows are written.
struct Written {
    /// Its widest cell, in digits.
    widest: usize,
    /// The sum of its figures; `None`: it cannot be held, or one of them is no number.
    sum: Option<Decimal>,
}

fn write_table(
    table: Table<'_>,
    most_rows: RowNum,
    formats: &mut Formats,
    sheet: &mut Worksheet,
) -> Result<(), XlsxError> {
    let Table { columns: heads, rows, totals, .. } = table;
    let mut written = write_heads(&heads, sheet)?;
    let mut last: RowNum = 0;
    for row in rows {
        last = last.saturating_add(1);
        if last >= most_rows {
            return Err(XlsxError::RowColumnLimitError);
        }
        write_row((last, &row), formats, &mut written, sheet)?;
    }
    if let Some(totals) = &totals {
        let at = last.saturating_add(1);
        if at >= most_rows {
            return Err(XlsxError::RowColumnLimitError);
        }
        write_totals((at, totals), formats, &mut written, sheet)?;
    }
    for (column, own) in numbered(&written) {
        let width = own.widest.clamp(WIDTHS.0, WIDTHS.1).saturating_add(1);
        sheet.set_column_width(column, u16::try_from(width).unwrap_or(u16::MAX))?;
    }
    let last_column = numbered(&heads).last().map_or(0, |(column, _)| column);
    sheet.set_freeze_panes(1, 0)?;
    sheet.autofilter(0, 0, last.max(1), last_column)?;
    if last > 0 {
        // Words that look like numbers are meant as words.
        sheet.ignore_error_range(1, 0, last, last_column, IgnoreError::NumberStoredAsText)?;
    }
    sheet.set_landscape().set_print_fit_to_pages(1, 0).set_repeat_rows(0, 0)?;
    Ok(())
}

/// Things with the numbers of their columns.
fn numbered<T>(all: &[T]) -> impl Iterator<Item = (ColNum, &T)> {
    all.iter().enumerate().filter_map(|(at, one)| Some((ColNum::try_from(at).ok()?, one)))
}

/// Writes the heads: those of CSV, as the title of a table does not stand beside them.
fn write_heads(heads: &[Column], sheet: &mut Worksheet) -> Result<Vec<Written>, XlsxError> {
    let head = Format::new().set_num_format("@").set_bold().set_border_bottom(FormatBorder::Thin);
    let mut written = Vec::new();
    for (column, own) in numbered(heads) {
        let align = match own.align {
            Align::Left => FormatAlign::Left,
            Align::Right => FormatAlign::Right,
        };
        let text = own.in_sheet.as_ref().map_or(&*own.head, |text| text.as_str());
        let text = plain(text);
        written.push(Written {
            widest: columns(&text).saturating_add(FILTER),
            sum: Some(Decimal::ZERO),
        });
        sheet.write_string_with_format(0, column, text, &head.clone().set_align(align))?;
    }
    Ok(written)
}

fn write_row(
    (at, row): (RowNum, &Row<'_>),
    formats: &mut Formats,
    written: &mut [Written],
    sheet: &mut Worksheet,
) -> Result<(), XlsxError> {
    for ((column, cell), own) in numbered(row).zip(written) {
        own.widest = own.widest.max(columns(&cell.shown()));
        match cell {
            Cell::Empty => {}
            Cell::Text(text) => write_words((at, column), text, formats.text(), sheet)?,
            Cell::Figure(figure) => {
                if write_figure(
                    (at, column),
                    *figure,
                    formats.figure(figure.scale(), false),
                    sheet,
                )? {
                    own.sum = own.sum.and_then(|sum| sum.checked_add(*figure));
                } else {
                    own.sum = None;
                }
            }
        }
    }
    Ok(())
}

fn write_words(
    (row, column): (RowNum, ColNum),
    text: &str,
    format: &Format,
    sheet: &mut Worksheet,
) -> Result<(), XlsxError> {
    if !text.is_empty() {
        let text: Cow<'_, str> = plain(text);
        sheet.write_string_with_format(row, column, text, format)?;
    }
    Ok(())
}

/// Writes a figure as a number, or in its digits where a binary number cannot keep them; says whether it is a number.
fn write_figure(
    (row, column): (RowNum, ColNum),
    figure: Decimal,
    format: &Format,
    sheet: &mut Worksheet,
) -> Result<bool, XlsxError> {
    match binary(figure) {
        Some(number) => sheet.write_number_with_format(row, column, number, format)?,
        None => sheet.write_string_with_format(row, column, figure.to_string(), format)?,
    };
    Ok(binary(figure).is_some())
}

/// The binary number of 64 bits nearest to a figure. Here alone a figure of ours becomes one, as the cells of a
/// workbook hold no other; read back and rounded to the figure's places it is the figure. `None`: the figure has more
/// digits than such a number keeps.
fn binary(figure: Decimal) -> Option<f64> {
    let is_kept = figure.normalize().mantissa().unsigned_abs() < 10_u128.pow(KEPT_DIGITS);
    if is_kept { figure.to_string().parse().ok() } else { None }
}

fn write_totals(
    (at, totals): (RowNum, &Row<'_>),
    formats: &mut Formats,
    written: &mut [Written],
    sheet: &mut Worksheet,
) -> Result<(), XlsxError> {
    let words = of_totals(Format::new().set_num_format("@"));
    for ((column, cell), own) in numbered(totals).zip(written) {
        own.widest = own.widest.max(columns(&cell.shown()));
        match cell {
            Cell::Empty => {}
            Cell::Text(text) => write_words((at, column), text, &words, sheet)?,
            Cell::Figure(total) => {
                let format = formats.figure(total.scale(), true);
                if at > 1 && own.sum == Some(*total) && binary(*total).is_some() {
                    let first = utility::row_col_to_cell(1, column);
                    let last = utility::row_col_to_cell(at.saturating_sub(1), column);
                    let formula = format!("=ROUND(SUM({first}:{last}),{})", total.scale());
                    let formula = Formula::new(formula).set_result(total.to_string());
                    sheet.write_formula_with_format(at, column, formula, format)?;
                } else {
                    write_figure((at, column), *total, format, sheet)?;
                }
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_has_a_name_that_every_program_takes_and_no_other_has() {
        let mut taken = vec![OVERVIEW.to_lowercase()];
        let mut name = |title: &str| sheet_name(title, &mut taken);
        assert_eq!(name("Landed cost in USD by slab"), "Landed cost in USD by slab");
        assert_eq!(name("landed cost in usd by slab"), "landed cost in usd by slab 2");
        assert_eq!(
            ["own", "other"].map(|who| name(&format!("Inside the supplier's price: {who}"))),
            ["Inside the supplier's price", "other"]
        );
        assert_eq!(name("Above the lowest, and the charges that make most"), "Above the lowest");
        assert_eq!(name("Cost with finance over the draws, USD per m2"), "Cost with finance");
        let of_box = ["", " 2"].map(|rank| format!("Container 1, 20' GP (22G1){rank}"));
        assert_eq!(of_box.clone().map(|_| name("Container 1: 20' GP (22G1)")), of_box);
        assert_eq!(name("Goods that no other offer holds: USD"), "Goods that no other offer holds");
        let long = "x".repeat(40);
        assert_eq!((name(&long), name(&long)), ("x".repeat(31), format!("{} 2", "x".repeat(29))));
        assert_eq!((name("a/b [c]*?"), name("")), ("ab c".into(), "2".into()));
        assert_eq!(
            (name("'x'"), name("overview"), name("History")),
            ("x".into(), "overview 2".into(), "History 2".into())
        );
        assert_eq!(name("[]"), "3");
    }

    #[test]
    fn a_figure_that_a_number_cannot_keep_is_written_in_its_digits() {
        let figure = |text: &str| text.parse::<Decimal>().unwrap();
        let kept = |text: &str| binary(figure(text)).map(|number| number.to_string());
        assert_eq!(kept("9999999999999.99").as_deref(), Some("9999999999999.99"));
        assert_eq!(kept("-0.10").as_deref(), Some("-0.1"));
        assert_eq!(kept("99999999999999.99"), None);
    }

    #[test]
    fn more_rows_than_a_sheet_holds_are_refused() {
        let write = |rows: usize, totals: bool| {
            let table = Table {
                title: String::new(),
                columns: vec![Column::figures("slab")],
                rows: Rows::of((0..rows).map(|at| vec![Cell::count(at)])),
                totals: totals.then(|| vec![Cell::Empty]),
                is_main: true,
            };
            write_table(table, 10, &mut Formats::default(), &mut Worksheet::new()).is_ok()
        };
        assert_eq!([write(9, false), write(10, false)], [true, false]);
        assert_eq!([write(8, true), write(9, true)], [true, false]);
    }
}
