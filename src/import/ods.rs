//! `OpenDocument` spreadsheets (ISO/IEC 26300-1). Read here, as readers at hand spread a cell that repeats before
//! anybody can count.

use std::collections::BTreeMap;
use std::ops::Range;

use calamine::Data;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};

use super::grid::{Day, Filling, Grid, Value};
use super::xml::{attribute, referred};
use crate::fault::{Code, Fault, Report, Reported};

/// A cell while its text is read.
struct Open {
    repeat: usize,
    value: Option<Value>,
    is_text: bool,
    is_error: bool,
    has_formula: bool,
    text: String,
}

/// The sheet that is being read.
struct Sheet {
    filling: Filling,
    row: usize,
    row_repeat: usize,
    column: usize,
    /// The columns that were described so far.
    described: usize,
    cells: Vec<(Range<usize>, Value)>,
    open: Option<Open>,
}

/// How often an element stands.
fn repeat(element: &BytesStart<'_>, name: &str) -> usize {
    attribute(element, name).and_then(|text| text.parse().ok()).unwrap_or(1)
}

fn is_hidden(element: &BytesStart<'_>) -> bool {
    attribute(element, "table:visibility").is_some_and(|one| one != "visible")
}

/// Reads the sheets of `content.xml`.
pub(super) fn read(text: &str, file: &str, report: &mut Report) -> Result<Vec<Grid>, Reported> {
    let mut reader = Reader::from_str(text);
    reader.config_mut().expand_empty_elements = true;
    reader.config_mut().check_end_names = false;
    let (mut grids, mut sheet) = (Vec::new(), None::<Sheet>);
    let (mut styles, mut style) = (BTreeMap::new(), String::new());
    let (mut remark, mut paragraphs) = (0_usize, false);
    loop {
        let event = reader.read_event().map_err(|why| {
            let fault = Fault::error(Code::BadSyntax, format!("{file} cannot be read: {why}"));
            report.error(fault.in_file(file).help("open it in a spreadsheet and save it again"))
        })?;
        match (event, &mut sheet) {
            (Event::Eof, _) => break,
            (Event::Start(e), None) => match e.name().as_ref() {
                "style:style" => style = attribute(&e, "style:name").unwrap_or_default(),
                "style:table-properties" => {
                    let shows = attribute(&e, "table:display").is_none_or(|one| one != "false");
                    styles.insert(style.clone(), shows);
                }
                "table:table" => {
                    let name = attribute(&e, "table:name").unwrap_or_default();
                    let style = attribute(&e, "table:style-name").unwrap_or_default();
                    let filling = Filling::new(&name, styles.get(&style) == Some(&false));
                    sheet = Some(Sheet::new(filling));
                }
                _ => {}
            },
            (Event::Start(e), Some(own)) => match e.name().as_ref() {
                "office:annotation" => remark += 1,
                "text:p" if remark == 0 => {
                    if let Some(open) =
                        own.open.as_mut().filter(|one| !one.text.is_empty() && paragraphs)
                    {
                        open.text.push(' ');
                    }
                    paragraphs = true;
                }
                "text:s" if remark == 0 => own.write(" "),
                _ if remark == 0 => own.start(&e),
                _ => {}
            },
            (Event::Text(text), Some(own)) if remark == 0 => own.write(&text),
            (Event::GeneralRef(one), Some(own)) if remark == 0 => {
                own.write(&referred(&one).map(String::from).unwrap_or_default());
            }
            (Event::End(e), Some(own)) => match e.name().as_ref() {
                "office:annotation" => remark = remark.saturating_sub(1),
                "table:table-cell" | "table:covered-table-cell" => {
                    own.end_cell();
                    paragraphs = false;
                }
                "table:table-row" if !own.end_row() => {
                    let own = sheet.take().map(|one| one.filling);
                    grids.extend(own.map(|one| one.done(file, report)).transpose()?);
                }
                "table:table" => {
                    let own = sheet.take().map(|one| one.filling);
                    grids.extend(own.map(|one| one.done(file, report)).transpose()?);
                }
                _ => {}
            },
            _ => {}
        }
    }
    Ok(grids)
}

impl Sheet {
    fn new(filling: Filling) -> Self {
        Self {
            filling,
            row: 0,
            row_repeat: 1,
            column: 0,
            described: 0,
            cells: Vec::new(),
            open: None,
        }
    }

    fn start(&mut self, e: &BytesStart<'_>) {
        match e.name().as_ref() {
            "table:table-column" => {
                let many = repeat(e, "table:number-columns-repeated");
                let end = self.described.saturating_add(many);
                if is_hidden(e) {
                    self.filling.hidden_columns.push(self.described..end);
                }
                self.described = end;
            }
            "table:table-row" => {
                self.row_repeat = repeat(e, "table:number-rows-repeated");
                self.column = 0;
                if is_hidden(e) {
                    self.filling
                        .hidden_rows
                        .push(self.row..self.row.saturating_add(self.row_repeat));
                }
            }
            "table:table-cell" | "table:covered-table-cell" => self.open = Some(Open::new(e)),
            _ => {}
        }
    }

    fn write(&mut self, text: &str) {
        if let Some(open) = &mut self.open {
            open.text.push_str(text);
        }
    }

    fn end_cell(&mut self) {
        let Some(open) = self.open.take() else { return };
        let end = self.column.saturating_add(open.repeat);
        if let Some(value) = open.done() {
            self.cells.push((self.column..end, value));
        }
        self.column = end;
    }

    /// Takes the row, as often as it stands; `false`: there are too many cells.
    fn end_row(&mut self) -> bool {
        let end = self.row.saturating_add(self.row_repeat);
        let cells = std::mem::take(&mut self.cells);
        let rows = if cells.is_empty() { end..end } else { self.row..end };
        for row in rows {
            for (columns, value) in &cells {
                for column in columns.clone() {
                    if !self.filling.put(row, column, value.clone()) {
                        return false;
                    }
                }
            }
        }
        self.row = end;
        true
    }
}

impl Open {
    fn new(e: &BytesStart<'_>) -> Self {
        let kind = attribute(e, "office:value-type").unwrap_or_default();
        let value = match kind.as_str() {
            "float" | "percentage" | "currency" => attribute(e, "office:value").map(|text| {
                // As a workbook's own number: its shortest decimal.
                let shortest = text.parse().map(|number| Data::Float(number).to_string());
                Value::number(&shortest.unwrap_or(text))
            }),
            "date" => attribute(e, "office:date-value").map(|text| day(&text)),
            "time" => attribute(e, "office:time-value").map(Value::Text),
            "string" => attribute(e, "office:string-value").map(Value::Text),
            _ => None,
        };
        Self {
            repeat: repeat(e, "table:number-columns-repeated"),
            value,
            is_text: kind == "string" || kind == "boolean",
            is_error: attribute(e, "calcext:value-type").is_some_and(|one| one == "error"),
            has_formula: attribute(e, "table:formula").is_some(),
            text: String::new(),
        }
    }

    fn done(self) -> Option<Value> {
        let text = || Some(self.text.clone()).filter(|one| !one.trim().is_empty());
        if self.is_error {
            return Some(Value::Error(text().unwrap_or_else(|| "#ERR".to_owned())));
        }
        if self.value.is_some() {
            return self.value;
        }
        if self.is_text || !self.has_formula {
            text().map(Value::Text)
        } else {
            Some(Value::Unstored)
        }
    }
}

/// A day such as 2026-01-07, with or without an hour behind it.
pub(super) fn day(text: &str) -> Value {
    let mut parts = text.split('T').next().unwrap_or("").splitn(3, '-');
    let mut next = || parts.next();
    let read = || {
        let (year, month, day) =
            (next()?.parse().ok()?, next()?.parse().ok()?, next()?.parse().ok()?);
        Some(Day { year, month, day })
    };
    let mut read = read;
    read().map_or_else(|| Value::Text(text.to_owned()), Value::Day)
}
