//! The header of a packing list: which column stands where, in which unit.

use super::super::cells::{self, Measured};
use super::super::rows;
use super::super::table::nearest;
use super::side::is_usual;
use super::words::{Heading, Word, heading};
use crate::fault::{Code, Fault, Place, Report, Reported, Source};
use crate::quantity::{Length, Mass};

/// A column of a packing list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    Slab,
    Bundle,
    Length,
    Height,
    BilledLength,
    BilledHeight,
    Thickness,
    Line,
    Stone,
    Finish,
    Quality,
    Block,
    Container,
    ContainerType,
    WeighedMass,
    Grade,
    Count,
    Order,
    Match,
    Take,
}

impl Column {
    /// The units it can be in, where it is of measures.
    pub(super) fn units(self) -> Option<&'static [&'static str]> {
        match self {
            Self::Length
            | Self::Height
            | Self::BilledLength
            | Self::BilledHeight
            | Self::Thickness => Some(Length::UNITS),
            Self::WeighedMass => Some(Mass::UNITS),
            _ => None,
        }
    }

    /// What it is called first.
    pub(super) fn name(self) -> &'static str {
        NAMES.get(self.slot()).and_then(|(_, names)| names.first()).unwrap_or(&"")
    }

    /// Its place in [`NAMES`].
    pub(super) fn slot(self) -> usize {
        match self {
            Self::Slab => 0,
            Self::Bundle => 1,
            Self::Length => 2,
            Self::Height => 3,
            Self::BilledLength => 4,
            Self::BilledHeight => 5,
            Self::Thickness => 6,
            Self::Line => 7,
            Self::Stone => 8,
            Self::Finish => 9,
            Self::Quality => 10,
            Self::Block => 11,
            Self::Container => 12,
            Self::ContainerType => 13,
            Self::WeighedMass => 14,
            Self::Grade => 15,
            Self::Count => 16,
            Self::Order => 17,
            Self::Match => 18,
            Self::Take => 19,
        }
    }
}

/// The column of measures that a header cell names before a word in brackets that is no unit, the
/// units it can be in, and the word.
fn in_no_unit<'h>(cell: &str, head: &'h str) -> Option<(Column, &'static [&'static str], &'h str)> {
    let (name, word) = head.rsplit_once(' ').filter(|_| cell.trim_end().ends_with([')', ']']))?;
    let (column, _) = NAMES.iter().find(|(_, names)| names.contains(&name))?;
    Some((*column, column.units()?, word))
}

/// Columns by the names the trade heads them with.
const NAMES: [(Column, &[&str]); 20] = [
    (Column::Slab, &["slab", "slab no", "slab number", "slab id"]),
    (Column::Bundle, &["bundle", "bundle no", "bundle number", "bundle id"]),
    (Column::Length, &["length", "gross length"]),
    (Column::Height, &["height", "gross height", "width", "gross width"]),
    (Column::BilledLength, &["billed length", "net length"]),
    (Column::BilledHeight, &["billed height", "net height", "billed width", "net width"]),
    (Column::Thickness, &["thickness"]),
    (Column::Line, &["line", "invoice line"]),
    (Column::Stone, &["stone", "material"]),
    (Column::Finish, &["finish"]),
    (Column::Quality, &["quality"]),
    (Column::Block, &["block", "block no", "block number"]),
    (Column::Container, &["container", "container no", "container number"]),
    (Column::ContainerType, &["container type"]),
    (Column::WeighedMass, &["weighed mass", "bundle mass", "weighed bundle mass"]),
    (
        Column::Grade,
        &["grade", "note", "notes", "remark", "remarks", "comment", "comments", "condition"],
    ),
    (Column::Count, &["pcs", "pieces", "qty", "quantity", "count", "slabs", "no of slabs"]),
    (Column::Order, &["order"]),
    (Column::Match, &["match"]),
    (Column::Take, &["take"]),
];

/// The header forms that are understood, column by column.
pub fn headers() -> [&'static [&'static str]; NAMES.len()] {
    NAMES.map(|(_, names)| names)
}

/// Where a column stands, and in which unit.
pub(super) type Spot = (usize, Option<&'static str>);

/// A column that is not used: the needed one that it most likely is, its unit, and the fault.
struct Unused {
    meant: Option<&'static str>,
    unit: Option<&'static str>,
    /// Whether it is a word of lists in this or another language.
    is_foreign: bool,
    fault: Fault,
}

/// Where each column stands.
pub(super) struct Layout {
    pub(super) columns: [Option<Spot>; NAMES.len()],
    pub(super) width: usize,
    /// The line the header stands on.
    pub(super) row: usize,
    /// The columns of the supplier's areas.
    pub(super) areas: Vec<Areas>,
}

/// What reads a list that is not in this program's form.
pub(super) const IMPORT: &str =
    "or have the list read as it was sent: quaystone import FILE --into SHIPMENT";

pub(super) const NEEDED: &str =
    "a packing list needs at least: slab, bundle, length (mm), height (mm)";

impl Layout {
    pub(super) fn read(
        source: &Source,
        delimiter: u8,
        report: &mut Report,
    ) -> Result<Self, Reported> {
        let header = match rows::header(&source.text, delimiter) {
            Ok(header) => header,
            Err(why) => {
                return Err(report.error(
                    Fault::error(Code::BadSyntax, format!("{} has no header", source.name))
                        .at(&source.line(1), why),
                ));
            }
        };
        let blank = source.text.lines().take_while(|line| line.trim().is_empty()).count();
        let row = blank + 1;
        let mut columns = [None; NAMES.len()];
        let mut sound = Ok(());
        let mut unused = Vec::new();
        let mut areas = Vec::new();
        for (index, cell) in header.iter().enumerate() {
            let head = cells::header(cell);
            // Where a cell stands is worked out only for a fault: that looks through the whole file.
            let place = || cell_place(source, row, index);
            let known = NAMES.iter().find(|(_, names)| names.contains(&head.name.as_str()));
            match known {
                Some((column, _)) if columns.get(column.slot()).is_some_and(Option::is_some) => {
                    let message = format!("two columns are headed as \"{cell}\"");
                    sound = Err(report.error(
                        Fault::error(Code::Duplicate, message).at(&place(), "keep one of them"),
                    ));
                }
                Some((column, _)) => {
                    if let Some(fault) = wrong_unit(*column, cell, head.unit, place) {
                        sound = Err(report.error(fault));
                    }
                    if let Some(slot) = columns.get_mut(column.slot()) {
                        *slot = Some((index, head.unit));
                    }
                }
                None if head.name.is_empty() => {}
                None if heading(cell).is_some_and(|one| one.word == Word::Area) => {
                    let in_feet = heading(cell).is_some_and(|one| one.unit == Some("ft2"));
                    areas.push(Areas { cell: cell.trim().to_owned(), index, in_feet });
                }
                None => match in_no_unit(cell, &head.name) {
                    Some((column, units, word)) => {
                        let message =
                            format!("column \"{cell}\" is in \"{word}\", which is no unit here");
                        sound = Err(report.error(
                            Fault::error(Code::BadQuantity, message)
                                .at(&place(), format!("expected one of {}", units.join(", "))),
                        ));
                        if let Some(slot) = columns.get_mut(column.slot()) {
                            *slot = Some((index, None));
                        }
                    }
                    None => {
                        let fault = unknown_column(cell, &head.name, &place());
                        let is_foreign = heading(&head.name).is_some();
                        let (meant, unit) = (meant(&head.name), head.unit);
                        unused.push(Unused { meant, unit, is_foreign, fault });
                    }
                },
            }
        }
        let layout = Self { columns, width: header.len(), row, areas };
        let opening = rows::opening(&source.text, delimiter, OPENING);
        if let Some(fault) = odd_header(source, &layout, &header, &opening) {
            return Err(report.error(fault.help(IMPORT)));
        }
        layout.has_needed(source, unused, report)?;
        sound.map(|()| layout)
    }

    /// Reports the columns that are not used, and those that are needed and not there: one under another name
    /// is one slip.
    fn has_needed(
        &self,
        source: &Source,
        unused: Vec<Unused>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let needed = [
            (Column::Slab, "slab"),
            (Column::Bundle, "bundle"),
            (Column::Length, "length"),
            (Column::Height, "height"),
        ];
        let lacking = needed.into_iter().filter(|(column, _)| self.of(*column).is_none());
        let mut lacking: Vec<&str> = lacking.map(|(_, name)| name).collect();
        let mut whole = Ok(());
        for Unused { meant, unit, is_foreign, fault } in unused {
            let Some(at) = lacking.iter().position(|name| meant == Some(*name)) else {
                report.add(fault);
                continue;
            };
            let name = lacking.remove(at);
            let unit = match (name, unit) {
                ("length" | "height", unit) => format!(" ({})", unit.unwrap_or("cm")),
                _ => String::new(),
            };
            let mut help = vec![format!("head it \"{name}{unit}\"")];
            // Words of another language are a list as it was sent. That is said once.
            help.extend((is_foreign && whole.is_ok()).then(|| IMPORT.to_owned()));
            whole = Err(report.error(Fault { code: Code::MissingKey, help, ..fault }));
        }
        if !lacking.is_empty() {
            let has = |column| self.of(column).is_some();
            let help = if has(Column::BilledLength) && lacking.contains(&"length") {
                "the load needs the gross sizes: add the columns \"length (cm)\" and \"height (cm)\"; if the list has one size alone, head \"net length\" as \"length\" and \"net height\" as \"height\", each with its unit"
            } else if has(Column::Count) && lacking.contains(&"slab") {
                "add a column \"slab\" with the numbers of each row, such as 1-7 where it counts 7 slabs"
            } else {
                NEEDED
            };
            let lacking: Vec<String> = lacking.iter().map(|name| format!("\"{name}\"")).collect();
            let message = format!("{} has no column {}", source.name, lacking.join(", "));
            whole = Err(report.error(
                Fault::error(Code::MissingKey, message)
                    .at(&source.line(self.row), "the header")
                    .help(help),
            ));
        }
        whole
    }

    pub(super) fn of(&self, column: Column) -> Option<Spot> {
        self.columns.get(column.slot()).copied().flatten()
    }

    /// Whether rows say nothing of the line they belong to.
    pub(super) fn names_no_line(&self) -> bool {
        [Column::Line, Column::Stone, Column::Finish, Column::Thickness]
            .into_iter()
            .all(|column| self.of(column).is_none())
    }
}

/// So many rows are looked at for a header that does not stand first.
const OPENING: usize = 10;

/// How many cells of a row name a column.
fn columns_in(cells: &[String]) -> usize {
    let names = |cell: &&String| {
        let head = cells::header(cell);
        NAMES.iter().any(|(_, names)| names.contains(&head.name.as_str()))
    };
    cells.iter().filter(names).count()
}

/// What is wrong with a header as a whole: it stands further down, takes two rows, or holds both sides of a slab
/// in one column.
fn odd_header(
    source: &Source,
    layout: &Layout,
    header: &[String],
    opening: &[(usize, Vec<String>)],
) -> Option<Fault> {
    let is_known = |cell: &String| meant(&cells::header(cell).name).is_some();
    if layout.columns.iter().any(Option::is_some) || header.iter().any(is_known) {
        let in_two = header_in_two(source, layout, header, opening.get(1..).unwrap_or_default());
        return in_two.or_else(|| size_in_one(source, layout, header));
    }
    let below = opening.iter().skip(1).find(|(_, cells)| columns_in(cells) > 1);
    let help = match below {
        Some((line, _)) => {
            format!("line {line} looks like the header: delete what stands above it")
        }
        None if header.len() == 1 && words_in(header) > 1 => {
            "the cells are not parted: save the list with commas, semicolons or tabs between them"
                .to_owned()
        }
        None => "delete what stands above the header, or name the columns".to_owned(),
    };
    let message = format!("{} does not begin with its header", source.name);
    Some(
        Fault::error(Code::MissingKey, message)
            .at(&source.line(layout.row), "none of the columns of a packing list")
            .help(help)
            .help(NEEDED),
    )
}

/// How many words of a header name a column.
fn words_in(header: &[String]) -> usize {
    let words = header.iter().flat_map(|cell| cell.split_whitespace());
    let names =
        |word: &&str| NAMES.iter().any(|(_, names)| names.contains(&word.to_lowercase().as_str()));
    words.filter(names).count()
}

/// A header that goes on in a second row: with the rest of its names, or with the units.
fn header_in_two(
    source: &Source,
    layout: &Layout,
    header: &[String],
    below: &[(usize, Vec<String>)],
) -> Option<Fault> {
    let ((line, second), below) = below.split_first()?;
    let place = source.line(*line);
    let sides = [Column::Length, Column::Height];
    let lacks_side = sides.iter().any(|column| layout.of(*column).is_none());
    if lacks_side && columns_in(second) > 1 {
        let mut one = in_one(header, second);
        let unit = with_units(&mut one, below);
        let said = match unit {
            Some(unit) => {
                format!("the figures look like {unit}: correct the units where they are others")
            }
            None => "write the unit of each measure behind it, such as \"length (cm)\"".to_owned(),
        };
        return Some(
            Fault::error(Code::BadSyntax, "the header takes two lines")
                .at(&place, "it goes on here")
                .also(&source.line(layout.row), "it begins here")
                .help(format!("write it in one line: {}", one.join(", ")))
                .help(said),
        );
    }
    let mut filled = second.iter().filter(|cell| !cell.is_empty()).peekable();
    if filled.peek().is_some() && filled.all(|cell| cells::is_unit(cell)) {
        return Some(
            Fault::error(Code::BadSyntax, "the units stand in a row of their own")
                .at(&place, "these units")
                .also(&source.line(layout.row), "belong here")
                .help("write each unit in its header, such as \"length (cm)\", and delete the row"),
        );
    }
    None
}

/// A header in two lines as one: what the first says of several columns stands once in it, above the first of
/// them, and a unit stands in brackets.
fn in_one(header: &[String], second: &[String]) -> Vec<String> {
    let mut above = "";
    let names = |text: &str| {
        let head = cells::header(text);
        NAMES.iter().any(|(_, names)| names.contains(&head.name.as_str()))
    };
    let columns = 0..header.len().max(second.len());
    columns
        .map(|at| {
            let cell = |row: &'_ [String]| row.get(at).map_or("", |cell| cell.trim()).to_owned();
            let below = cell(second);
            if let Some(first) =
                header.get(at).map(|cell| cell.trim()).filter(|one| !one.is_empty())
            {
                above = first;
            }
            let both = format!("{above} {below}");
            match below.as_str() {
                "" => cell(header),
                _ if names(&both) => both,
                _ if names(&below) => below,
                unit if cells::is_unit(unit) => {
                    format!("{above} ({})", unit.trim_matches(['(', ')', '[', ']']))
                }
                _ if names(above) => above.to_owned(),
                _ => both,
            }
        })
        .collect()
}

/// Finds the unit of a header that names none, and writes it behind its lengths: in that unit each length of
/// the first row is as long as a slab.
fn with_units(header: &mut [String], below: &[(usize, Vec<String>)]) -> Option<&'static str> {
    let (_, cells) = below.first()?;
    let is_length = |cell: &str| {
        let head = cells::header(cell);
        let known = NAMES.iter().find(|(_, names)| names.contains(&head.name.as_str()));
        let is_side = known.is_some_and(|(column, _)| {
            column.units() == Some(Length::UNITS) && *column != Column::Thickness
        });
        is_side && head.unit.is_none()
    };
    let all = header.iter().enumerate().filter(|(_, cell)| is_length(cell));
    let places: Vec<usize> = all.map(|(at, _)| at).collect();
    let figures: Option<Vec<_>> = places.iter().map(|at| cells::number(cells.get(*at)?)).collect();
    let figures = figures.filter(|all| !all.is_empty())?;
    let fits = |unit: &&&'static str| {
        figures.iter().all(|figure| {
            let length = Length::of(*figure, unit);
            matches!(length, Some(Ok((length, _))) if is_usual(length))
        })
    };
    let mut units = Length::UNITS.iter().filter(fits);
    let unit = *units.next().filter(|_| units.next().is_none())?;
    for at in places {
        if let Some(cell) = header.get_mut(at) {
            *cell = format!("{cell} ({unit})");
        }
    }
    Some(unit)
}

/// Length and height in one column.
fn size_in_one(source: &Source, layout: &Layout, header: &[String]) -> Option<Fault> {
    const WORDS: [&str; 6] = ["size", "sizes", "dimension", "dimensions", "measure", "measures"];
    if layout.of(Column::Length).is_some() || layout.of(Column::Height).is_some() {
        return None;
    }
    let (index, cell) = header
        .iter()
        .enumerate()
        .find(|(_, cell)| cells::header(cell).name.split(' ').any(|word| WORDS.contains(&word)))?;
    let unit = cells::header(cell).unit.unwrap_or("cm");
    let message = format!("column \"{}\" holds length and height together", cell.trim());
    Some(
        Fault::error(Code::MissingKey, message)
            .at(&cell_place(source, layout.row, index), "two measures in one cell")
            .help(format!(
                "split it into two columns: \"length ({unit})\" and \"height ({unit})\""
            )),
    )
}

/// The needed column that a header most likely means.
fn meant(name: &str) -> Option<&'static str> {
    match heading(name).map(|one| one.word) {
        Some(Word::Slab | Word::Serial) => Some("slab"),
        Some(Word::Bundle) => Some("bundle"),
        Some(Word::Length) => Some("length"),
        Some(Word::Height | Word::Width) => Some("height"),
        _ => nearest(name, &["slab", "bundle", "length", "height"]),
    }
}

/// What to do with columns that suppliers list and nothing here uses.
fn hint(name: &str) -> Option<&'static str> {
    let Heading { word: Word::Mass, is_net, .. } = heading(name)? else { return None };
    Some(if is_net == Some(true) {
        "nothing is lost: the net mass is worked out from area, thickness and density"
    } else {
        "if it is what each bundle was weighed at, head it \"weighed mass (kg)\""
    })
}

/// A column of the supplier's areas, which are worked out here.
pub(super) struct Areas {
    /// Its header.
    pub(super) cell: String,
    pub(super) index: usize,
    /// Whether it is in square feet.
    pub(super) in_feet: bool,
}

/// A header whose unit is of another kind than the column: a length in kg, a name in mm.
fn wrong_unit(
    column: Column,
    cell: &str,
    unit: Option<&'static str>,
    place: impl FnOnce() -> Place,
) -> Option<Fault> {
    let units = column.units()?;
    let unit = unit.filter(|unit| !units.contains(unit))?;
    Some(
        Fault::error(Code::BadQuantity, format!("column \"{cell}\" cannot be in {unit}"))
            .at(&place(), format!("expected one of {}", units.join(", "))),
    )
}

/// The place of a cell in its line.
pub(in crate::read) fn cell_place(source: &Source, row: usize, index: usize) -> Place {
    let line = source.line(row);
    let delimiter = cells::delimiter(&source.text);
    match rows::cell_range(source.line_text(row), delimiter, index) {
        Some(cell) => source.place(line.span.start + cell.start..line.span.start + cell.end),
        None => line,
    }
}

fn unknown_column(cell: &str, name: &str, place: &Place) -> Fault {
    let known: Vec<&str> = NAMES.iter().flat_map(|(_, names)| names.iter().copied()).collect();
    let fault = Fault::warning(Code::UnknownKey, format!("column \"{cell}\" is not read"))
        .at(place, "this heading is not known");
    if let Some(hint) = hint(name) {
        return fault.help(hint);
    }
    match nearest(name, &known) {
        Some(near) => fault.help(format!("did you mean \"{near}\"?")),
        None => fault,
    }
}
