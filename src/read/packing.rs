//! `packing.csv` into slabs and bundles.

use rustc_hash::FxHashMap;

use super::cells::{self, Measured};
use super::table::{nearest, unknown_reference};
use crate::fault::{At, Code, Fault, Place, Report, Source};
use crate::quantity::{Area, Decimal, Length, Mass, Overflow, Size, Units, Volume, Weights};
use crate::trade::{Bundle, Line, Slab, Stone, Tariffs, Timber};

/// What a packing list says.
pub(super) struct Packing {
    pub(super) slabs: Vec<Slab>,
    pub(super) bundles: Vec<Bundle>,
    /// For each bundle the box it is said to be in, and that box's type.
    pub(super) boxes: Vec<Option<BoxNote>>,
}

/// The box a packing list puts a bundle in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct BoxNote {
    pub(super) label: String,
    pub(super) kind: Option<String>,
    pub(super) place: Place,
}

/// A column of a packing list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
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
    Block,
    Container,
    ContainerType,
    WeighedMass,
    Grade,
}

impl Column {
    /// Its place in [`NAMES`].
    fn slot(self) -> usize {
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
            Self::Block => 10,
            Self::Container => 11,
            Self::ContainerType => 12,
            Self::WeighedMass => 13,
            Self::Grade => 14,
        }
    }
}

/// Columns by the names the trade heads them with.
const NAMES: [(Column, &[&str]); 15] = [
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
    (Column::Block, &["block", "block no", "block number"]),
    (Column::Container, &["container", "container no", "container number"]),
    (Column::ContainerType, &["container type"]),
    (Column::WeighedMass, &["weighed mass", "bundle mass", "weighed bundle mass"]),
    (Column::Grade, &["grade", "note", "remark", "remarks"]),
];

/// Faults of one list that are shown; the rest is counted.
const MOST_FAULTS: usize = 40;

/// Reads a packing list. `None`: the faults are in the report. Without `all_lines`, a line that
/// could not be read may be the one a slab belongs to.
pub(super) fn packing(
    source: &Source,
    lines: &[Line],
    tariffs: &Tariffs,
    timber: &Timber,
    all_lines: bool,
    report: &mut Report,
) -> Option<Packing> {
    if source.text.trim().is_empty() {
        report.add(
            Fault::error(Code::MissingKey, format!("{} is empty", source.name))
                .at(&source.line(1), "nothing here")
                .help(NEEDED),
        );
        return None;
    }
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(cells::delimiter(&source.text))
        .flexible(true)
        .from_reader(source.text.as_bytes());
    let layout = Layout::read(source, &mut reader, report)?;
    let listed = lines.iter().any(|line| !line.nominal);
    if !listed && all_lines {
        report.add(nothing_to_list(source, lines));
        return None;
    }
    let kinds = line_facts(lines, tariffs, report);
    let mut open = lines.iter().enumerate().filter(|(_, line)| !line.nominal);
    let only_line = match (open.next(), open.next()) {
        (Some((at, _)), None) if all_lines && layout.names_no_line() => Some(at),
        _ => None,
    };
    let mut list = List {
        only_line,
        source,
        lines,
        kinds,
        timber,
        layout,
        all_lines,
        skipped: false,
        said: Vec::new(),
        unshown: None,
        slabs: Vec::new(),
        drafts: Vec::new(),
        by_name: FxHashMap::default(),
        faults: 0,
    };
    let mut record = csv::StringRecord::new();
    loop {
        match reader.read_record(&mut record) {
            Ok(true) => list.row(&record, report),
            Ok(false) => break,
            Err(error) => {
                let line = error.position().map_or(1, csv::Position::line);
                let place = source.line(usize::try_from(line).unwrap_or(1));
                list.fault(
                    Fault::error(Code::BadSyntax, format!("{} cannot be read on", source.name))
                        .at(&place, error.to_string()),
                    report,
                );
                break;
            }
        }
    }
    list.finish(report)
}

/// What a row needs to know of its line, worked out once.
struct LineFacts<'a> {
    stone: &'a Stone,
    /// Thickness times density: mass per area.
    kg_per_m2: Decimal,
    /// One plus the thickness margin.
    margin: Decimal,
}

fn line_facts<'a>(
    lines: &[Line],
    tariffs: &'a Tariffs,
    report: &mut Report,
) -> Vec<Option<LineFacts<'a>>> {
    let facts = lines.iter().map(|line| {
        // A stone that is not in the tables has been reported with its line.
        let stone = tariffs.stone(&line.stone)?;
        match mass_per_m2(stone, line.thickness) {
            Ok(kg_per_m2) => Some(LineFacts {
                stone,
                kg_per_m2,
                margin: Decimal::ONE + stone.thickness_margin.fraction(),
            }),
            Err(overflow) => {
                report.add(overflowed(overflow, &line.place));
                None
            }
        }
    });
    facts.collect()
}

/// The fault for a list whose slabs belong to no line, as every line states its quantity.
fn nothing_to_list(source: &Source, lines: &[Line]) -> Fault {
    let message = format!("{} lists slabs, and no line has any", source.name);
    let fault = Fault::error(Code::Contradiction, message).at(&source.line(1), "the list");
    match lines.first() {
        Some(line) => fault
            .also(&line.place, "this line states a quantity of its own")
            .help("now that its slabs are listed, take the line's nominal quantity out"),
        None => fault,
    }
}

/// The mass of a square metre of a stone at a thickness, in kg.
pub(super) fn mass_per_m2(stone: &Stone, thickness: Length) -> Result<Decimal, Overflow> {
    let square = Area::m2(Decimal::ONE)?;
    Ok(Mass::of(Volume::of(square, thickness)?, stone.density)?.base())
}

fn overflowed(overflow: Overflow, place: &Place) -> Fault {
    Fault::error(Code::Overflow, overflow.to_string()).at(place, "from the figures here")
}

/// Where a column stands, and in which unit.
type Spot = (usize, Option<&'static str>);

/// Where each column stands.
struct Layout {
    columns: [Option<Spot>; NAMES.len()],
    width: usize,
    /// The line the header stands on.
    row: usize,
}

const NEEDED: &str = "a packing list needs at least: slab, bundle, length (mm), height (mm)";

impl Layout {
    fn read(source: &Source, reader: &mut csv::Reader<&[u8]>, report: &mut Report) -> Option<Self> {
        let header = match reader.headers() {
            Ok(header) => header.clone(),
            Err(error) => {
                report.add(
                    Fault::error(Code::BadSyntax, format!("{} has no header", source.name))
                        .at(&source.line(1), error.to_string()),
                );
                return None;
            }
        };
        let blank = source.text.lines().take_while(|line| line.trim().is_empty()).count();
        let row = blank + 1;
        let header_place = source.line(row);
        let mut columns = [None; NAMES.len()];
        let mut sound = true;
        let mut unused = Vec::new();
        for (index, cell) in header.iter().enumerate() {
            let head = cells::header(cell);
            let place = cell_place(source, row, index);
            let known = NAMES.iter().find(|(_, names)| names.contains(&head.name.as_str()));
            match known {
                Some((column, _)) if columns.get(column.slot()).is_some_and(Option::is_some) => {
                    sound = false;
                    report.add(
                        Fault::error(
                            Code::Duplicate,
                            format!("two columns are headed as \"{cell}\""),
                        )
                        .at(&place, "keep one of them"),
                    );
                }
                Some((column, _)) => {
                    if let Some(fault) = wrong_unit(*column, cell, head.unit, &place) {
                        sound = false;
                        report.add(fault);
                    }
                    if let Some(slot) = columns.get_mut(column.slot()) {
                        *slot = Some((index, head.unit));
                    }
                }
                None if head.name.is_empty() => {}
                None => unused.push(unknown_column(cell, &head.name, &place)),
            }
        }
        let layout = Self { columns, width: header.len(), row };
        if layout.columns.iter().all(Option::is_none) {
            let message = format!("{} does not begin with its header", source.name);
            report.add(
                Fault::error(Code::MissingKey, message)
                    .at(&header_place, "none of the columns of a packing list")
                    .help("take what stands above the header out, or name the columns")
                    .help(NEEDED),
            );
            return None;
        }
        for fault in unused {
            report.add(fault);
        }
        let needed = [
            (Column::Slab, "slab"),
            (Column::Bundle, "bundle"),
            (Column::Length, "length"),
            (Column::Height, "height"),
        ];
        let missing: Vec<String> = needed
            .iter()
            .filter(|(column, _)| layout.of(*column).is_none())
            .map(|(_, name)| format!("\"{name}\""))
            .collect();
        if !missing.is_empty() {
            sound = false;
            let message = format!("{} has no column {}", source.name, missing.join(", "));
            report.add(
                Fault::error(Code::MissingKey, message)
                    .at(&header_place, "the header")
                    .help(NEEDED),
            );
        }
        sound.then_some(layout)
    }

    fn of(&self, column: Column) -> Option<Spot> {
        self.columns.get(column.slot()).copied().flatten()
    }

    /// Whether rows say nothing of the line they belong to.
    fn names_no_line(&self) -> bool {
        [Column::Line, Column::Stone, Column::Finish, Column::Thickness]
            .into_iter()
            .all(|column| self.of(column).is_none())
    }
}

/// A header whose unit is of another kind than the column: a length in kg, a name in mm.
fn wrong_unit(
    column: Column,
    cell: &str,
    unit: Option<&'static str>,
    place: &Place,
) -> Option<Fault> {
    let units = match column {
        Column::Length
        | Column::Height
        | Column::BilledLength
        | Column::BilledHeight
        | Column::Thickness => Length::UNITS,
        Column::WeighedMass => Mass::UNITS,
        _ => return None,
    };
    let unit = unit.filter(|unit| !units.contains(unit))?;
    Some(
        Fault::error(Code::BadQuantity, format!("column \"{cell}\" cannot be in {unit}"))
            .at(place, format!("expected one of {}", units.join(", "))),
    )
}

/// The place of a cell: its byte range in the line.
fn cell_place(source: &Source, row: usize, index: usize) -> Place {
    let line = source.line(row);
    let text = source.line_text(row);
    let mark = char::from(cells::delimiter(&source.text));
    let mut quoted = false;
    let mut column = 0;
    let mut start = 0;
    let mut end = text.len();
    for (at, c) in text.char_indices() {
        quoted ^= c == '"';
        if c == mark && !quoted {
            if column == index {
                end = at;
                break;
            }
            column += 1;
            start = at + 1;
        }
    }
    if column < index {
        return line;
    }
    source.place(line.span.start + start..line.span.start + end)
}

fn unknown_column(cell: &str, name: &str, place: &Place) -> Fault {
    let known: Vec<&str> = NAMES.iter().flat_map(|(_, names)| names.iter().copied()).collect();
    let fault = Fault::warning(Code::UnknownKey, format!("column \"{cell}\" is not used"))
        .at(place, "no column of a packing list");
    match nearest(name, &known) {
        Some(near) => fault.help(format!("did you mean \"{near}\"?")),
        None => fault,
    }
}

/// A bundle while its rows are coming in.
struct Draft {
    id: String,
    block: Option<String>,
    mixed_blocks: bool,
    slabs: Vec<u32>,
    stone_mass: Mass,
    limit_mass: Mass,
    length: Length,
    height: Length,
    thickness: Length,
    weighed: Option<At<Mass>>,
    note: Option<BoxNote>,
    row: usize,
}

struct List<'a> {
    source: &'a Source,
    lines: &'a [Line],
    kinds: Vec<Option<LineFacts<'a>>>,
    timber: &'a Timber,
    /// The line of every row, where there is no choice.
    only_line: Option<usize>,
    layout: Layout,
    /// Whether every line could be read.
    all_lines: bool,
    /// Whether a slab was left out because its line could not be read.
    skipped: bool,
    /// Columns whose fault is reported once.
    said: Vec<Column>,
    /// The place of the first fault that is not shown.
    unshown: Option<Place>,
    slabs: Vec<Slab>,
    drafts: Vec<Draft>,
    by_name: FxHashMap<String, usize>,
    faults: usize,
}

impl List<'_> {
    fn fault(&mut self, fault: Fault, report: &mut Report) {
        if self.faults < MOST_FAULTS {
            self.faults += usize::from(report.add_new(fault));
            return;
        }
        self.faults += 1;
        if self.unshown.is_none() {
            self.unshown = fault.place.map(|(place, _)| place);
        }
    }

    fn cell_place(&self, row: usize, index: usize) -> Place {
        cell_place(self.source, row, index)
    }

    /// Reports once what is wrong with a column as a whole, however many rows show it.
    fn once(&mut self, column: Column, fault: impl FnOnce(Place) -> Fault, report: &mut Report) {
        if !self.said.contains(&column) {
            self.said.push(column);
            let index = self.layout.of(column).map(|(index, _)| index);
            let place = index.map_or_else(
                || self.source.line(self.layout.row),
                |index| self.cell_place(self.layout.row, index),
            );
            self.fault(fault(place), report);
        }
    }

    /// Reports a column of bare figures under a header without a unit.
    fn unitless<T: Measured>(&mut self, column: Column, report: &mut Report) {
        let units = T::UNITS;
        let fault = |place: Place| {
            Fault::error(Code::BadQuantity, "a column of measures has no unit")
                .at(&place, format!("in {}?", units.join(", ")))
                .help("name the unit in the header, such as \"Length (mm)\", or in every cell")
        };
        self.once(column, fault, report);
    }

    fn row(&mut self, record: &csv::StringRecord, report: &mut Report) {
        if record.iter().all(|cell| cell.trim().is_empty()) {
            return;
        }
        let line = record.position().map_or(0, csv::Position::line);
        let row = usize::try_from(line).unwrap_or(0);
        if record.as_slice().contains('\n') {
            let place = self.source.line(row);
            self.fault(
                Fault::error(Code::BadSyntax, "a cell runs over the end of its line")
                    .at(&place, "a quote opens in this line and does not close in it")
                    .help("close the quote (a quote inside quotes is written twice), or take the line break out of the cell"),
                report,
            );
            return;
        }
        if record.len() > self.layout.width {
            let message = format!("{} cells under a header of {}", record.len(), self.layout.width);
            let place = self.source.line(row);
            self.fault(
                Fault::error(Code::BadSyntax, message)
                    .at(&place, "this row")
                    .help("a cell that holds the separator must stand in quotes"),
                report,
            );
            return;
        }
        // A fault in the row is reported by whoever finds it.
        let _ = self.slab(record, row, report);
    }

    fn cell<'r>(&self, record: &'r csv::StringRecord, column: Column) -> Option<(&'r str, usize)> {
        let (index, _) = self.layout.of(column)?;
        let cell = record.get(index)?.trim();
        (!cell.is_empty()).then_some((cell, index))
    }

    fn required<'r>(
        &mut self,
        record: &'r csv::StringRecord,
        column: Column,
        what: &str,
        row: usize,
        report: &mut Report,
    ) -> Option<&'r str> {
        if let Some((cell, _)) = self.cell(record, column) {
            return Some(cell);
        }
        let (index, _) = self.layout.of(column).unwrap_or((0, None));
        let place = self.cell_place(row, index);
        self.fault(
            Fault::error(Code::MissingKey, format!("a slab has no {what}"))
                .at(&place, "the cell is empty"),
            report,
        );
        None
    }

    fn quantity<T: Measured>(
        &mut self,
        record: &csv::StringRecord,
        column: Column,
        row: usize,
        report: &mut Report,
    ) -> Option<At<T>> {
        let (cell, index) = self.cell(record, column)?;
        let (_, unit) = self.layout.of(column)?;
        match cells::measured(cell, unit) {
            Ok(value) => Some(At { value, place: self.source.line(row) }),
            Err(_) if unit.is_none() && cells::number(cell).is_some() => {
                self.unitless::<T>(column, report);
                None
            }
            Err(malformed) => {
                let place = self.cell_place(row, index);
                self.fault(
                    Fault::error(Code::BadQuantity, format!("\"{cell}\" cannot be read"))
                        .at(&place, format!("expected {}", malformed.expected)),
                    report,
                );
                None
            }
        }
    }

    /// One side of a slab, within what a slab can measure.
    fn side(
        &mut self,
        record: &csv::StringRecord,
        column: Column,
        what: &str,
        row: usize,
        report: &mut Report,
    ) -> Option<Length> {
        let index = self.layout.of(column)?.0;
        let cell = record.get(index).map(str::trim).filter(|cell| !cell.is_empty());
        let Some(cell) = cell else {
            self.required(record, column, what, row, report);
            return None;
        };
        let (_, unit) = self.layout.of(column)?;
        let (expected, code) = match cells::measured::<Length>(cell, unit) {
            Ok(side) if is_side(side) => return Some(side),
            Ok(side) => {
                let slip = if side.mm_up() > LONGEST_MM {
                    ": is the unit right?"
                } else if cell.contains([',', '.']) {
                    ": is this a thousands mark?"
                } else {
                    ""
                };
                (format!("0.1 m to 6 m{slip}"), Code::OutOfRange)
            }
            Err(_) if unit.is_none() && cells::number(cell).is_some() => {
                self.unitless::<Length>(column, report);
                return None;
            }
            Err(malformed) => (malformed.expected, Code::BadQuantity),
        };
        let place = self.cell_place(row, index);
        let message = format!("{what} \"{cell}\" is no side of a slab");
        self.fault(Fault::error(code, message).at(&place, format!("expected {expected}")), report);
        None
    }

    fn slab(&mut self, record: &csv::StringRecord, row: usize, report: &mut Report) -> Option<()> {
        let id = self.required(record, Column::Slab, "number", row, report);
        let bundle = self.required(record, Column::Bundle, "bundle", row, report);
        let length = self.side(record, Column::Length, "length", row, report);
        let height = self.side(record, Column::Height, "height", row, report);
        let line = self.line_of(record, row, report);
        let thick = self.thickness(record, line, row, report);
        let gross = Size { length: length?, height: height? };
        let (id, bundle, line) = (id?, bundle?, line?);
        thick?;
        if self.kinds.get(line).is_none_or(Option::is_none) {
            self.skipped = true;
            return None;
        }
        let billed_sides = self.billed_sides(record, line, gross, row, report)?;
        let made = self.make_slab(id, line, gross, billed_sides, row);
        let slab = match made {
            Ok(slab) => slab,
            Err(overflow) => {
                let place = self.source.line(row);
                self.fault(overflowed(overflow, &place), report);
                return None;
            }
        };
        if slab.billed_area.is_none() {
            let place = self.source.line(row);
            self.fault(
                Fault::error(Code::OutOfRange, format!("slab {id} has no billed area left"))
                    .at(&place, "the take-off is larger than the slab"),
                report,
            );
            return None;
        }
        self.add(slab, bundle, gross, record, row, report)
    }

    fn make_slab(
        &self,
        id: &str,
        line: usize,
        gross: Size,
        billed_sides: Size,
        row: usize,
    ) -> Result<Slab, Overflow> {
        let overflow = Overflow { what: "a slab" };
        let facts = self.kinds.get(line).and_then(Option::as_ref).ok_or(overflow)?;
        let measure = self.lines.get(line).map(|line| line.measure).unwrap_or_default();
        let gross_area = gross.area()?;
        let billed = measure.billed(billed_sides)?;
        Ok(Slab {
            id: id.into(),
            line: u32::try_from(line).map_err(|_| overflow)?,
            bundle: 0,
            row: u32::try_from(row).map_err(|_| overflow)?,
            gross_area,
            billed_area: billed.area,
            billed_figure: billed.figure,
            mass: Mass::kg(gross_area.base())?.times(facts.kg_per_m2)?,
        })
    }

    /// The billed sides: as listed, or by the line's measure.
    fn billed_sides(
        &mut self,
        record: &csv::StringRecord,
        line: usize,
        gross: Size,
        row: usize,
        report: &mut Report,
    ) -> Option<Size> {
        let listed = self.cell(record, Column::BilledLength).is_some()
            || self.cell(record, Column::BilledHeight).is_some();
        let sides = if listed {
            let length = self.side(record, Column::BilledLength, "billed length", row, report);
            let height = self.side(record, Column::BilledHeight, "billed height", row, report);
            Size { length: length?, height: height? }
        } else {
            match self.lines.get(line).map(|line| line.measure.sides(gross))? {
                Ok(sides) => sides,
                Err(overflow) => {
                    let place = self.source.line(row);
                    self.fault(overflowed(overflow, &place), report);
                    return None;
                }
            }
        };
        if listed && (sides.length > gross.length || sides.height > gross.height) {
            let place = self.source.line(row);
            self.fault(
                Fault::error(Code::Contradiction, "a slab is billed larger than it is")
                    .at(&place, "billed size above gross size"),
                report,
            );
            return None;
        }
        Some(sides)
    }

    /// The line a row belongs to: by its id, or by stone, finish and thickness where that is
    /// unambiguous.
    fn line_of(
        &mut self,
        record: &csv::StringRecord,
        row: usize,
        report: &mut Report,
    ) -> Option<usize> {
        if self.only_line.is_some() {
            return self.only_line;
        }
        if let Some((id, index)) = self.cell(record, Column::Line) {
            let found = self.lines.iter().position(|line| line.id == id && !line.nominal);
            if found.is_none() && !self.all_lines {
                self.skipped = true;
            } else if found.is_none() {
                let known: Vec<&str> =
                    self.lines.iter().filter(|l| !l.nominal).map(|line| line.id.as_str()).collect();
                let name = At { value: id.to_owned(), place: self.cell_place(row, index) };
                let fault = unknown_reference("line with slabs", &name, "the invoices", &known);
                self.fault(fault, report);
            }
            return found;
        }
        let stone = self.cell(record, Column::Stone).map(|(cell, _)| cell);
        let finish = self.cell(record, Column::Finish).map(|(cell, _)| cell);
        let thickness = self.quantity::<Length>(record, Column::Thickness, row, report);
        let fits: Vec<usize> = self
            .lines
            .iter()
            .enumerate()
            .filter(|(index, line)| {
                !line.nominal
                    && stone.is_none_or(|stone| {
                        line.stone.value == stone
                            || self
                                .kinds
                                .get(*index)
                                .and_then(Option::as_ref)
                                .is_some_and(|facts| facts.stone.name == stone)
                    })
                    && finish.is_none_or(|finish| line.finish == finish)
                    && thickness.as_ref().is_none_or(|t| line.thickness == t.value)
            })
            .map(|(index, _)| index)
            .collect();
        if let [one] = fits[..] {
            return Some(one);
        }
        let mut telling = [Column::Thickness, Column::Stone, Column::Finish].into_iter();
        if !self.all_lines || telling.any(|column| self.said.contains(&column)) {
            self.skipped = true;
            return None;
        }
        if fits.len() > 1 && self.layout.names_no_line() {
            let ids: Vec<&str> = self.lines.iter().map(|line| line.id.as_str()).collect();
            let fault = |place: Place| {
                Fault::error(Code::Contradiction, "the list does not say which line a slab is of")
                    .at(&place, format!("lines {}", ids.join(", ")))
                    .help("add a column \"line\" that names each slab's invoice line")
            };
            self.once(Column::Line, fault, report);
            return None;
        }
        let place = self.source.line(row);
        let fault = if fits.is_empty() {
            Fault::error(Code::UnknownReference, "a slab belongs to no line of the invoices")
                .at(&place, "no line has this stone, finish and thickness")
        } else {
            let ids: Vec<&str> = fits
                .iter()
                .filter_map(|at| self.lines.get(*at))
                .map(|line| line.id.as_str())
                .collect();
            Fault::error(Code::Contradiction, "a slab may belong to several lines of the invoices")
                .at(&place, format!("it fits lines {}", ids.join(", ")))
        };
        self.fault(fault.help("add a column \"line\" that names the invoice line"), report);
        None
    }

    /// The listed thickness, where there is one, must be the line's.
    fn thickness(
        &mut self,
        record: &csv::StringRecord,
        line: Option<usize>,
        row: usize,
        report: &mut Report,
    ) -> Option<()> {
        let Some((cell, index)) = self.cell(record, Column::Thickness) else {
            return Some(());
        };
        let listed = self.quantity::<Length>(record, Column::Thickness, row, report)?;
        let line = self.lines.get(line?)?;
        if listed.value == line.thickness {
            return Some(());
        }
        let line_place = line.place.clone();
        let message = format!("thickness \"{cell}\" is not that of line {}", line.id);
        let place = self.cell_place(row, index);
        self.fault(
            Fault::error(Code::Contradiction, message)
                .at(&place, "the packing list")
                .also(&line_place, "the invoice line"),
            report,
        );
        None
    }

    fn draft(&mut self, bundle: &str, row: usize) -> usize {
        // Rows of one bundle nearly always follow each other.
        if let Some(last) = self.drafts.last().filter(|draft| draft.id == bundle) {
            debug_assert_eq!(last.id, bundle);
            return self.drafts.len() - 1;
        }
        if let Some(index) = self.by_name.get(bundle) {
            return *index;
        }
        self.by_name.insert(bundle.to_owned(), self.drafts.len());
        self.drafts.push(Draft {
            id: bundle.to_owned(),
            block: None,
            mixed_blocks: false,
            slabs: Vec::new(),
            stone_mass: Mass::ZERO,
            limit_mass: Mass::ZERO,
            length: Length::ZERO,
            height: Length::ZERO,
            thickness: Length::ZERO,
            weighed: None,
            note: None,
            row,
        });
        self.drafts.len() - 1
    }

    fn add(
        &mut self,
        mut slab: Slab,
        bundle: &str,
        gross: Size,
        record: &csv::StringRecord,
        row: usize,
        report: &mut Report,
    ) -> Option<()> {
        let at = self.draft(bundle, row);
        let first = self.drafts.get(at).is_some_and(|draft| draft.slabs.is_empty());
        self.weighed(at, record, row, report);
        self.note(at, first, record, row, report);
        let block = self.cell(record, Column::Block).map(|(cell, _)| cell);
        let facts = self.kinds.get(usize::try_from(slab.line).ok()?)?.as_ref()?;
        let thickness = self.lines.get(usize::try_from(slab.line).ok()?)?.thickness;
        let draft = self.drafts.get_mut(at)?;
        let sums = draft.stone_mass.plus(slab.mass).and_then(|stone| {
            let limit = draft.limit_mass.plus(slab.mass.times(facts.margin)?)?;
            Ok((stone, limit, draft.thickness.plus(thickness)?))
        });
        let (stone, limit, thick) = match sums {
            Ok(sums) => sums,
            Err(overflow) => {
                let place = self.source.line(row);
                self.fault(overflowed(overflow, &place), report);
                return None;
            }
        };
        (draft.stone_mass, draft.limit_mass, draft.thickness) = (stone, limit, thick);
        draft.length = draft.length.max(gross.length);
        draft.height = draft.height.max(gross.height);
        match (&draft.block, block) {
            (None, Some(block)) if first => draft.block = Some(block.to_owned()),
            (known, listed) if known.as_deref() != listed => draft.mixed_blocks = true,
            _ => {}
        }
        slab.bundle = u32::try_from(at).ok()?;
        draft.slabs.push(u32::try_from(self.slabs.len()).ok()?);
        self.slabs.push(slab);
        Some(())
    }

    fn weighed(&mut self, at: usize, record: &csv::StringRecord, row: usize, report: &mut Report) {
        let Some(mass) = self.quantity::<Mass>(record, Column::WeighedMass, row, report) else {
            return;
        };
        let Some(draft) = self.drafts.get_mut(at) else {
            return;
        };
        let first = draft.weighed.is_none();
        if first && (mass.value.is_none() || mass.value.grams_up() > HEAVIEST_GRAMS) {
            let id = draft.id.clone();
            // Kept, so that the bundle's other rows do not say it again.
            draft.weighed = Some(mass.clone());
            let fault = Fault::error(
                Code::OutOfRange,
                format!("bundle {id} is weighed at {}", mass.value.show(Units::Metric)),
            )
            .at(&mass.place, "expected more than 0 and at most 50 t: is the unit right?");
            self.fault(fault, report);
            return;
        }
        let known = draft.weighed.get_or_insert_with(|| mass.clone());
        if known.value != mass.value {
            let fault = Fault::error(
                Code::Contradiction,
                format!("bundle {} is weighed at {} and at {}", draft.id, known.value, mass.value),
            )
            .at(&mass.place, "the second figure")
            .also(&known.place, "the first")
            .help("a weighed mass is the whole bundle's, timber included, the same on each of its rows");
            self.fault(fault, report);
        }
    }

    fn note(
        &mut self,
        at: usize,
        first: bool,
        record: &csv::StringRecord,
        row: usize,
        report: &mut Report,
    ) {
        let Some((label, index)) = self.cell(record, Column::Container) else {
            if let Some(note) = self.drafts.get(at).and_then(|draft| draft.note.clone()) {
                let place = self.source.line(row);
                let id = self.drafts.get(at).map_or("", |draft| draft.id.as_str());
                let fault = split_bundle(id, &note, "no box", &place);
                self.fault(fault, report);
            }
            return;
        };
        let kind = self.cell(record, Column::ContainerType).map(|(cell, _)| cell);
        let Some(draft) = self.drafts.get_mut(at) else {
            return;
        };
        match &draft.note {
            Some(note) if note.label == label && note.kind.as_deref() == kind => {}
            Some(note) => {
                let (id, note) = (draft.id.clone(), note.clone());
                let place = self.cell_place(row, index);
                self.fault(split_bundle(&id, &note, label, &place), report);
            }
            None if first => {
                let place = self.source.line(row);
                draft.note =
                    Some(BoxNote { label: label.to_owned(), kind: kind.map(str::to_owned), place });
            }
            None => {
                let id = draft.id.clone();
                let place = self.cell_place(row, index);
                self.fault(
                    Fault::error(
                        Code::Contradiction,
                        format!("bundle {id} is in a box on some rows only"),
                    )
                    .at(&place, format!("box {label} here, none before"))
                    .help("name the box on every row of the bundle"),
                    report,
                );
            }
        }
    }

    fn finish(mut self, report: &mut Report) -> Option<Packing> {
        self.duplicates(report);
        if self.slabs.is_empty() && self.faults == 0 && !self.skipped {
            let place = self.source.line(self.layout.row);
            self.fault(
                Fault::error(Code::MissingKey, format!("{} lists no slab", self.source.name))
                    .at(&place, "only a header"),
                report,
            );
        }
        let listed: Vec<bool> = (0..self.lines.len())
            .map(|line| self.slabs.iter().any(|slab| usize::try_from(slab.line) == Ok(line)))
            .collect();
        for (line, _) in
            self.lines.iter().zip(listed).filter(|(line, listed)| !line.nominal && !listed)
        {
            if self.faults == 0 && !self.skipped {
                report.add(no_slabs(line));
            }
        }
        if self.faults > MOST_FAULTS {
            let more = self.faults - MOST_FAULTS;
            let place = self.unshown.clone().unwrap_or_else(|| self.source.line(1));
            let message = format!("{more} more faults of {} are not shown", self.source.name);
            report.add(
                Fault::error(Code::OutOfRange, message)
                    .at(&place, "the first of them")
                    .help("they may all come from one column: correct that, and run this again"),
            );
        }
        if self.faults > 0 || self.skipped {
            return None;
        }
        self.very_small(report);
        let mut bundles = Vec::with_capacity(self.drafts.len());
        let mut boxes = Vec::with_capacity(self.drafts.len());
        for draft in std::mem::take(&mut self.drafts) {
            match self.bundle(&draft) {
                Ok(bundle) => bundles.push(bundle),
                Err(fault) => self.fault(*fault, report),
            }
            boxes.push(draft.note);
        }
        (self.faults == 0).then_some(Packing { slabs: self.slabs, bundles, boxes })
    }

    /// A list of which every slab is smaller than any slab is most likely in another unit.
    fn very_small(&self, report: &mut Report) {
        if !self.drafts.iter().all(|draft| draft.length.mm_up() < SMALL_MM) {
            return;
        }
        let index = self.layout.of(Column::Length).map_or(0, |(index, _)| index);
        let place = self.cell_place(self.layout.row, index);
        report.add(
            Fault::warning(Code::OutOfRange, "no slab of the list is 0.6 m long")
                .at(&place, "is this the unit of the figures?"),
        );
    }

    fn duplicates(&mut self, report: &mut Report) {
        // Most lists are in order, and need no further look.
        if self.slabs.windows(2).all(|pair| matches!(pair, [one, next] if one.id < next.id)) {
            return;
        }
        let slabs = std::mem::take(&mut self.slabs);
        let mut seen: FxHashMap<&str, u32> = FxHashMap::default();
        seen.reserve(slabs.len());
        for slab in &slabs {
            if let Some(first) = seen.insert(&slab.id, slab.row) {
                let place = |row: u32| self.source.line(usize::try_from(row).unwrap_or(0));
                let fault =
                    Fault::error(Code::Duplicate, format!("slab {} is listed twice", slab.id))
                        .at(&place(slab.row), "again here")
                        .also(&place(first), "first here")
                        .help("a slab number stands for one slab of the shipment");
                self.fault(fault, report);
            }
        }
        self.slabs = slabs;
    }

    fn bundle(&mut self, draft: &Draft) -> Result<Bundle, Box<Fault>> {
        let place = self.source.line(draft.row);
        let computed = outside(draft, self.timber);
        let mut bundle = computed.map_err(|overflow| Box::new(overflowed(overflow, &place)))?;
        bundle.place = place;
        if let Some(weighed) = &draft.weighed {
            self.share_weighed(draft, weighed)?;
            bundle.weighed = true;
            bundle.mass = weighed.value;
            bundle.limit_mass = weighed.value;
        }
        Ok(bundle)
    }

    /// Divides a weighed bundle's stone over its slabs, to the gram, as their computed masses are.
    fn share_weighed(&mut self, draft: &Draft, weighed: &At<Mass>) -> Result<(), Box<Fault>> {
        let fault = |message: String| {
            Box::new(Fault::error(Code::OutOfRange, message).at(&weighed.place, "weighed here"))
        };
        let overflow = |_| fault("a mass is too large or too fine to be held exactly".to_owned());
        let stone = weighed.value.minus(self.timber.mass).map_err(overflow)?;
        if stone.is_none() {
            let message = format!("bundle {} is weighed at less than its timber", draft.id);
            return Err(fault(message));
        }
        let at = |index: &u32| usize::try_from(*index).unwrap_or(usize::MAX);
        let masses = draft.slabs.iter().filter_map(|index| self.slabs.get(at(index)));
        let weights = Weights::of(masses.map(|slab| slab.mass.base()));
        let grams = weights
            .and_then(|weights| weights.divide_units(stone.grams_down()))
            .map_err(|_| fault(format!("the mass of bundle {} cannot be divided", draft.id)))?;
        for (index, grams) in draft.slabs.iter().zip(grams) {
            if let Some(slab) = self.slabs.get_mut(at(index)) {
                slab.mass = Mass::grams(grams);
            }
        }
        Ok(())
    }
}

/// The longest side a slab can have, in mm: no saw takes a longer block (common practice).
const LONGEST_MM: i64 = 6_000;

/// The shortest: anything less is a slip of the unit, or 3,000 read as 3 (a choice of ours).
const SHORTEST_MM: i64 = 100;

/// Where no slab of a list is longer, its unit is doubtful (a choice of ours).
const SMALL_MM: i64 = 600;

/// Whether a length is one a slab can have.
pub(super) fn is_side(side: Length) -> bool {
    side.mm_down() >= SHORTEST_MM && side.mm_up() <= LONGEST_MM
}

/// More than any bundle weighs, as no forklift or gantry of a yard lifts it (a choice of ours).
const HEAVIEST_GRAMS: i64 = 50_000_000;

fn no_slabs(line: &Line) -> Fault {
    Fault::error(
        Code::MissingKey,
        format!("line {} has neither slabs nor a nominal quantity", line.id),
    )
    .at(&line.place, "this line")
    .help(
        "list its slabs in packing.csv, or state quantity = \"420 m2\", or bundles, slabs and size",
    )
}

fn split_bundle(id: &str, note: &BoxNote, other: &str, place: &Place) -> Fault {
    Fault::error(
        Code::Contradiction,
        format!("bundle {id} is in box {} and in {other}", note.label),
    )
    .at(place, "the second box")
    .also(&note.place, "the first")
    .help("a bundle travels whole: name the same box and type on each of its rows")
}

/// A bundle's outside size and mass, timber included.
fn outside(draft: &Draft, timber: &Timber) -> Result<Bundle, Overflow> {
    let films = draft.slabs.len().saturating_sub(1);
    let films = timber.between.times(Decimal::from(films))?;
    Ok(Bundle {
        id: draft.id.clone(),
        block: if draft.mixed_blocks { None } else { draft.block.clone() },
        slabs: draft.slabs.len(),
        mass: draft.stone_mass.plus(timber.mass)?,
        limit_mass: draft.limit_mass.plus(timber.mass)?,
        weighed: false,
        may_turn: false,
        length: draft.length.plus(timber.length)?,
        width: draft.thickness.plus(films)?.plus(timber.width)?,
        height: draft.height.plus(timber.height)?,
        place: timber.place.clone(),
    })
}
