//! Office Open XML workbooks (ECMA-376), cell by cell.

use std::collections::BTreeMap;
use std::io::Cursor;

use calamine::{Data, Reader as _, SheetType, SheetVisible, Xlsx, XlsxError};
use quick_xml::Reader;
use quick_xml::events::Event;

use super::archive::part;
use super::grid::{Filling, Grid, Value};
use super::xls::{value, whole};
use super::xml::attribute;
use crate::fault::{Report, Reported};

/// The sheets of a workbook, or why it cannot be read.
pub(super) fn read(
    bytes: &[u8],
    file: &str,
    report: &mut Report,
) -> Result<Result<Vec<Grid>, Reported>, XlsxError> {
    let mut workbook = Xlsx::new(Cursor::new(bytes))?;
    let paths = paths(bytes);
    let sheets = workbook.sheets_metadata().to_vec();
    let mut grids = Vec::new();
    for sheet in sheets.iter().filter(|sheet| sheet.typ == SheetType::WorkSheet) {
        let mut filling = Filling::new(&sheet.name, sheet.visible != SheetVisible::Visible);
        let mut cells = workbook.worksheet_cells_reader(&sheet.name)?;
        while let Some(cell) = cells.next_cell_with_formula_metadata()? {
            let value = match (value(&Data::from(cell.value)), cell.formula) {
                (Some(value), _) => value,
                (None, Some(_)) => Value::Unstored,
                (None, None) => continue,
            };
            let (row, column) = cell.pos;
            if !filling.put(whole(row), whole(column), value) {
                break;
            }
        }
        if let Some(text) = paths.get(&sheet.name).and_then(|path| part(bytes, path)) {
            hidden(&text, &mut filling);
        }
        match filling.done(file, report) {
            Ok(grid) => grids.push(grid),
            Err(told) => return Ok(Err(told)),
        }
    }
    Ok(Ok(grids))
}

/// The part of each sheet, by its name.
fn paths(bytes: &[u8]) -> BTreeMap<String, String> {
    let mut targets = BTreeMap::new();
    each(&part(bytes, "xl/_rels/workbook.xml.rels").unwrap_or_default(), |name, get| {
        if name == "Relationship"
            && let (Some(id), Some(target)) = (get("Id"), get("Target"))
        {
            let path =
                target.strip_prefix('/').map_or_else(|| format!("xl/{target}"), str::to_owned);
            targets.insert(id, path);
        }
    });
    let mut paths = BTreeMap::new();
    each(&part(bytes, "xl/workbook.xml").unwrap_or_default(), |name, get| {
        if name == "sheet"
            && let (Some(name), Some(path)) =
                (get("name"), get("r:id").and_then(|id| targets.get(&id).cloned()))
        {
            paths.insert(name, path);
        }
    });
    paths
}

/// Tells each element of a text: its name without its space, and how to ask for an attribute.
fn each(text: &str, mut tell: impl FnMut(&str, &dyn Fn(&str) -> Option<String>)) {
    let mut reader = Reader::from_str(text);
    // What cannot be read is told by the reader of the cells.
    while let Ok(event) = reader.read_event() {
        match event {
            Event::Eof => break,
            Event::Start(e) | Event::Empty(e) => {
                tell(e.local_name().as_ref(), &|name| attribute(&e, name));
            }
            _ => {}
        }
    }
}

/// Notes which rows and columns of a sheet are hidden.
fn hidden(text: &str, filling: &mut Filling) {
    each(text, |name, get| {
        let number = |name: &str| get(name).and_then(|text| text.parse::<usize>().ok());
        if !matches!(name, "row" | "col")
            || !get("hidden").is_some_and(|one| one == "1" || one == "true")
        {
            return;
        }
        match (name, number("r"), number("min"), number("max")) {
            ("row", Some(row), ..) => filling.hidden_rows.push(row.saturating_sub(1)..row),
            ("col", _, Some(first), Some(last)) => {
                filling.hidden_columns.push(first.saturating_sub(1)..last);
            }
            _ => {}
        }
    });
}
