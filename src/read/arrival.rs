//! An arrival list: what the yard wrote down as the boxes were unloaded, a row a slab.

use std::path::Path;

use super::cells;
use super::packing::cell_place;
use super::rows::{Row, each_row};
use super::table::{nearest, unknown_word};
use crate::fault::{At, Code, Fault, Place, Report, Reported, Source};
use crate::files;
use crate::quantity::{Area, Length, Written};
use crate::trade::{ArrivalRow, ArrivalState, FoundState};

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
    Slab,
    Box,
    State,
    Length,
    Height,
    Area,
    Quality,
    Piece,
    Remark,
}

/// The columns and their headings.
const COLUMNS: [(Column, &[&str]); 9] = [
    (Column::Slab, &["slab", "slab no", "slab number"]),
    (Column::Box, &["box", "box no", "container"]),
    (Column::State, &["state", "condition"]),
    (Column::Length, &["length"]),
    (Column::Height, &["height", "width"]),
    (Column::Area, &["area", "area m2", "area ft2"]),
    (Column::Quality, &["quality"]),
    (Column::Piece, &["piece", "piece no", "piece number"]),
    (Column::Remark, &["remark", "remarks", "note"]),
];

/// A column of a list: what it holds, its position, and its unit.
type Head = (Column, usize, Option<&'static str>);

/// Reads an arrival list.
///
/// # Errors
/// Where it cannot be read, or a row is at fault.
pub fn arrival(path: &Path, report: &mut Report) -> Result<Vec<ArrivalRow>, Reported> {
    let source = files::read(path, &path.display().to_string(), report)?;
    let mut heads: Option<Result<Vec<Head>, Reported>> = None;
    let mut rows = Vec::new();
    let mut sound = Ok(());
    let told = each_row(&source.text, cells::delimiter(&source.text), |row| match &heads {
        _ if row.is_blank() => {}
        None => heads = Some(head(&source, row, report)),
        Some(Err(_)) => {}
        Some(Ok(own)) => match (List { source: &source, heads: own }).row(row, report) {
            Ok(row) => rows.push(row),
            Err(told) => sound = Err(told),
        },
    });
    if let Err(unreadable) = told {
        let fault = Fault::error(Code::BadSyntax, "the list cannot be read")
            .at(&source.line(unreadable.line), unreadable.why);
        return Err(report.error(fault));
    }
    match heads {
        Some(heads) => heads.and(sound).map(|()| rows),
        None => Err(report.error(
            Fault::error(Code::MissingKey, "the list is empty")
                .at(&source.line(1), "expected a heading, and a row for each slab"),
        )),
    }
}

/// The columns by their headings.
fn head(source: &Source, row: &Row<'_>, report: &mut Report) -> Result<Vec<Head>, Reported> {
    let mut heads: Vec<Head> = Vec::new();
    for at in 0..row.len() {
        let cell = row.get(at).unwrap_or("");
        let header = cells::header(cell);
        let known = COLUMNS.iter().find(|(_, names)| names.contains(&header.name.as_str()));
        let place = cell_place(source, row.line, at);
        match known {
            Some((column, _)) => {
                let of_area = header.name.strip_prefix("area ").map(|unit| match unit {
                    "ft2" => "ft2",
                    _ => "m2",
                });
                heads.push((*column, at, header.unit.or(of_area)));
            }
            None if cell.is_empty() => {}
            None => {
                let all: Vec<&str> =
                    COLUMNS.iter().flat_map(|(_, names)| names.iter().copied()).collect();
                let fault =
                    Fault::warning(Code::UnknownKey, format!("column \"{cell}\" is not read"))
                        .at(&place, "this heading is not known");
                report.add(match nearest(&header.name, &all) {
                    Some(near) => fault.help(format!("did you mean \"{near}\"?")),
                    None => fault,
                });
            }
        }
    }
    for (column, names) in COLUMNS {
        let mut own = heads.iter().filter(|(one, ..)| *one == column);
        let (first, second) = (own.next(), own.next());
        let name = names.first().copied().unwrap_or("");
        if let Some((_, at, _)) = second {
            return Err(report.error(
                Fault::error(Code::Duplicate, format!("two columns are the {name}"))
                    .at(&cell_place(source, row.line, *at), "again here"),
            ));
        }
        if first.is_none() && matches!(column, Column::Slab | Column::State) {
            return Err(report.error(
                Fault::error(Code::MissingKey, format!("the list has no column \"{name}\""))
                    .at(&source.line(row.line), "the heading")
                    .help("an arrival list has `slab` and `state`, and where needed `box`, `length` and `height`, `quality`, `piece`, `remark`"),
            ));
        }
    }
    Ok(heads)
}

struct List<'l> {
    source: &'l Source,
    heads: &'l [Head],
}

impl List<'_> {
    /// A cell that is not empty, with its place and the unit of its column.
    fn cell<'r>(
        &self,
        row: &Row<'r>,
        column: Column,
    ) -> Option<(&'r str, Place, Option<&'static str>)> {
        let (_, at, unit) = self.heads.iter().find(|(one, ..)| *one == column)?;
        let cell = row.get(*at).filter(|cell| !cell.is_empty())?;
        Some((cell, cell_place(self.source, row.line, *at), *unit))
    }

    fn text(&self, row: &Row<'_>, column: Column) -> Option<At<String>> {
        let (cell, place, _) = self.cell(row, column)?;
        Some(At { value: cell.to_owned(), place })
    }

    fn row(&self, row: &Row<'_>, report: &mut Report) -> Result<ArrivalRow, Reported> {
        let place = self.source.line(row.line);
        let Some(slab) = self.text(row, Column::Slab) else {
            return Err(report.error(
                Fault::error(Code::MissingKey, "a row names no slab")
                    .at(&place, "expected its number")
                    .help("leave rows of totals and remarks out"),
            ));
        };
        let state = self.state(row, report);
        let area = self.area(row, &place, report);
        let value = |at: At<String>| at.value;
        let (state, area) = (state?, area?);
        let quality = self.text(row, Column::Quality);
        let piece = self.text(row, Column::Piece);
        let lacks = match state {
            ArrivalState::Found(FoundState::Measured) => {
                area.is_none().then_some(("what it measures", "`length` and `height`, or `area`"))
            }
            ArrivalState::Found(FoundState::Downgraded) => {
                quality.is_none().then_some(("its quality as it was found", "`quality`"))
            }
            ArrivalState::Cut if piece.is_none() || area.is_none() => {
                Some(("its piece and what that measures", "`piece`, and `length` and `height`"))
            }
            _ => None,
        };
        if let Some((what, columns)) = lacks {
            let message = format!("slab {} is {}, and lacks {what}", slab.value, state.word());
            return Err(report.error(
                Fault::error(Code::MissingKey, message)
                    .at(&place, format!("expected {columns}"))
                    .help("a slab that is cut has a row for each piece"),
            ));
        }
        Ok(ArrivalRow {
            slab,
            container: self.text(row, Column::Box),
            state,
            area,
            quality: quality.map(|at| at.value.into()),
            piece,
            remark: self.text(row, Column::Remark).map(value),
            place,
        })
    }

    /// How the slab is; a cell that is empty says nothing.
    fn state(&self, row: &Row<'_>, report: &mut Report) -> Result<ArrivalState, Reported> {
        let Some(text) = self.text(row, Column::State) else {
            return Err(report.error(
                Fault::error(Code::MissingKey, "a row does not say how its slab is")
                    .at(&self.source.line(row.line), "expected a state")
                    .help("write sound for a slab that is as it was packed"),
            ));
        };
        let plain = text.value.to_lowercase();
        let mut known = ArrivalState::ALL.iter();
        match known.find(|(_, word)| *word == plain || word.replace('-', "") == plain) {
            Some((state, _)) => Ok(*state),
            None => Err(report.error(unknown_word(
                "state",
                &text,
                &ArrivalState::ALL.map(|(_, word)| word),
            ))),
        }
    }

    /// What a slab measures: its area, or its sides.
    fn area(
        &self,
        row: &Row<'_>,
        place: &Place,
        report: &mut Report,
    ) -> Result<Option<Area>, Reported> {
        let mut side = |column| {
            let Some((cell, place, unit)) = self.cell(row, column) else { return Ok(None) };
            let read = cells::measured::<Length>(cell, unit);
            read.map(|(length, _)| Some(length))
                .map_err(|fault| not_read(cell, &place, &fault.expected, report))
        };
        let (length, height) = (side(Column::Length), side(Column::Height));
        let area = match self.cell(row, Column::Area) {
            None => Ok(None),
            Some((cell, place, unit)) => {
                let text = match unit {
                    Some(unit) => format!("{} {unit}", cell.replace(',', ".")),
                    None => cell.to_owned(),
                };
                Area::read(&text)
                    .map(Some)
                    .map_err(|fault| not_read(cell, &place, &fault.expected, report))
            }
        };
        let area = match (area?, length?, height?) {
            (area, None, None) => area,
            (None, Some(length), Some(height)) => {
                Some(report.fits(Area::of(length, height), place)?)
            }
            _ => {
                return Err(report.error(
                    Fault::error(Code::Contradiction, "a slab measures an area, or has two sides")
                        .at(place, "here is another")
                        .help("fill in `area`, or `length` and `height`"),
                ));
            }
        };
        match area {
            Some(area) if area.is_none() => Err(not_read("0", place, "more than nothing", report)),
            area => Ok(area),
        }
    }
}

fn not_read(cell: &str, place: &Place, expected: &str, report: &mut Report) -> Reported {
    report.error(
        Fault::error(Code::BadQuantity, format!("\"{cell}\" cannot be read"))
            .at(place, format!("expected {expected}")),
    )
}
