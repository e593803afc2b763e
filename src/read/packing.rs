//! `packing.csv` into slabs and bundles.

use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};
use smol_str::SmolStr;

use super::cells::{self, Measured};
use super::plan::{BoxNote, listed_boxes};
use super::rows::{self, Row, Unreadable};
use super::table::{nearest, unknown_reference};
use crate::fault::{At, Code, Fault, Place, Report, Source};
use crate::quantity::{Area, Decimal, Length, Mass, Overflow, Size, Units, Volume, Weights};
use crate::trade::{Bundle, GivenBox, Line, Slab, Stone, Tariffs, Timber};

/// What a packing list says.
pub(super) struct Packing {
    pub(super) slabs: Vec<Slab>,
    pub(super) bundles: Vec<Bundle>,
    /// The boxes that bundles are said to be in.
    pub(super) boxes: Vec<GivenBox>,
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
    /// The units it can be in, where it is of measures.
    fn units(self) -> Option<&'static [&'static str]> {
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

/// The column of measures that a header cell names before a word in brackets that is no unit, the
/// units it can be in, and the word.
fn in_no_unit<'h>(cell: &str, head: &'h str) -> Option<(Column, &'static [&'static str], &'h str)> {
    let (name, word) = head.rsplit_once(' ').filter(|_| cell.trim_end().ends_with([')', ']']))?;
    let (column, _) = NAMES.iter().find(|(_, names)| names.contains(&name))?;
    Some((*column, column.units()?, word))
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
    let delimiter = cells::delimiter(&source.text);
    let may_quote = memchr::memchr(b'"', source.text.as_bytes()).is_some();
    let layout = Layout::read(source, delimiter, report)?;
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
    let ground =
        Ground { source, lines, kinds, timber, only_line, layout, all_lines, delimiter, may_quote };
    let list = halves(&ground).unwrap_or_else(|| {
        let mut list = List::new(&ground, 0, 0);
        list.read(&source.text, report);
        list
    });
    list.finish(report)
}

/// Reads both halves of a long list at once. `None` where it is short, has no place to divide it,
/// or has anything to report: then it is read from its beginning, and its faults in their order.
fn halves<'a>(ground: &'a Ground<'a>) -> Option<List<'a>> {
    let text = &ground.source.text;
    let middle = middle(ground)?;
    let (first, second) = text.split_at_checked(middle)?;
    // Room for as many rows as there would be if all were as long as the next.
    let length = second.find('\n').map_or(second.len(), |end| end + 1);
    let read = |part: &str, offset: usize, bytes: usize| {
        let mut report = Report::new();
        let mut list = List::new(ground, offset, bytes / length);
        list.read(part, &mut report);
        (list.faults == 0 && !list.skipped && report.counts() == (0, 0)).then_some(list)
    };
    let (first, second) =
        rayon::join(|| read(first, 0, text.len()), || read(second, middle, second.len()));
    first?.join(second?)
}

/// Lists of fewer bytes are read in one go.
const LONG: usize = 1 << 20;

/// Where the second half of a long list begins: with the first row of a bundle. `None` where there
/// is none near the middle, or where a quote may hide the end of a line.
fn middle(ground: &Ground<'_>) -> Option<usize> {
    let text = &ground.source.text;
    if text.len() < LONG || ground.may_quote {
        return None;
    }
    let (column, _) = ground.layout.of(Column::Bundle)?;
    let bundle = |line: &str| -> Option<String> {
        line.split(char::from(ground.delimiter)).nth(column).map(|cell| cell.trim().to_owned())
    };
    let half = text.len() / 2;
    let near = text.as_bytes().get(half..half + LONG / 4)?;
    let mut start = half + near.iter().position(|byte| *byte == b'\n')? + 1;
    let mut before: Option<String> = None;
    for line in text.get(start..start + LONG / 8)?.split_inclusive('\n') {
        let this = bundle(line);
        if before.is_some() && this.is_some() && this != before {
            return Some(start);
        }
        start += line.len();
        before = this;
    }
    None
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
    fn read(source: &Source, delimiter: u8, report: &mut Report) -> Option<Self> {
        let header = match rows::header(&source.text, delimiter) {
            Ok(header) => header,
            Err(why) => {
                report.add(
                    Fault::error(Code::BadSyntax, format!("{} has no header", source.name))
                        .at(&source.line(1), why),
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
            // Where a cell stands is worked out only for a fault: that looks through the whole file.
            let place = || cell_place(source, row, index);
            let known = NAMES.iter().find(|(_, names)| names.contains(&head.name.as_str()));
            match known {
                Some((column, _)) if columns.get(column.slot()).is_some_and(Option::is_some) => {
                    sound = false;
                    report.add(
                        Fault::error(
                            Code::Duplicate,
                            format!("two columns are headed as \"{cell}\""),
                        )
                        .at(&place(), "keep one of them"),
                    );
                }
                Some((column, _)) => {
                    if let Some(fault) = wrong_unit(*column, cell, head.unit, place) {
                        sound = false;
                        report.add(fault);
                    }
                    if let Some(slot) = columns.get_mut(column.slot()) {
                        *slot = Some((index, head.unit));
                    }
                }
                None if head.name.is_empty() => {}
                None => match in_no_unit(cell, &head.name) {
                    Some((column, units, word)) => {
                        sound = false;
                        let message =
                            format!("column \"{cell}\" is in \"{word}\", which is no unit here");
                        report.add(
                            Fault::error(Code::BadQuantity, message)
                                .at(&place(), format!("expected one of {}", units.join(", "))),
                        );
                        if let Some(slot) = columns.get_mut(column.slot()) {
                            *slot = Some((index, None));
                        }
                    }
                    None => unused.push(unknown_column(cell, &head.name, &place())),
                },
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
fn cell_place(source: &Source, row: usize, index: usize) -> Place {
    let line = source.line(row);
    let delimiter = cells::delimiter(&source.text);
    match rows::cell_range(source.line_text(row), delimiter, index) {
        Some(cell) => source.place(line.span.start + cell.start..line.span.start + cell.end),
        None => line,
    }
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
    id: SmolStr,
    block: Option<SmolStr>,
    mixed_blocks: bool,
    slabs: usize,
    length: Length,
    height: Length,
    /// Its slabs that came one after the other and are of one line; the last of these runs apart.
    runs: Vec<Run>,
    run: Run,
    /// What it was weighed at, and the line that says so first.
    weighed: Option<(Mass, usize)>,
    note: Option<BoxNote>,
    /// The line of its first row, and that line's first byte.
    row: usize,
    start: usize,
}

/// Slabs of a bundle that are of one line.
#[derive(Clone, Copy)]
struct Run {
    line: usize,
    slabs: usize,
    mass: Mass,
}

/// What all parts of a list are read against.
struct Ground<'a> {
    source: &'a Source,
    lines: &'a [Line],
    kinds: Vec<Option<LineFacts<'a>>>,
    timber: &'a Timber,
    /// The line of every row, where there is no choice.
    only_line: Option<usize>,
    layout: Layout,
    /// Whether every line could be read.
    all_lines: bool,
    delimiter: u8,
    /// Whether there is a quote in the file.
    may_quote: bool,
}

/// The rows of a list, or of a part of it, as they come in.
struct List<'a> {
    ground: &'a Ground<'a>,
    /// Where the part of the file that this reads begins.
    offset: usize,
    /// How many lines stand above that part: known once what is above it has been read.
    above: usize,
    /// Whether a slab was left out because its line could not be read.
    skipped: bool,
    /// Columns whose fault is reported once.
    said: Vec<Column>,
    /// The place of the first fault that is not shown.
    unshown: Option<Place>,
    slabs: Vec<Slab>,
    /// Whether every slab's number comes after that of the slab before, as in most lists: then no
    /// two are the same.
    in_order: bool,
    drafts: Vec<Draft>,
    /// The bundles of a list that was read as the second half of this one.
    joined: Vec<Draft>,
    /// The same of the bundles' first rows.
    bundles_in_order: bool,
    /// Where each draft is, once they are out of order.
    by_name: FxHashMap<SmolStr, usize>,
    faults: usize,
}

impl<'a> List<'a> {
    fn new(ground: &'a Ground<'a>, offset: usize, rows: usize) -> Self {
        Self {
            ground,
            offset,
            above: 0,
            skipped: false,
            said: Vec::new(),
            unshown: None,
            slabs: Vec::with_capacity(rows),
            in_order: true,
            // A bundle has a few slabs or more.
            drafts: Vec::with_capacity(rows / 4),
            joined: Vec::new(),
            bundles_in_order: true,
            by_name: FxHashMap::default(),
            faults: 0,
        }
    }

    /// Reads all rows of a text.
    fn read(&mut self, text: &str, report: &mut Report) {
        let mut is_header = self.offset == 0;
        let (delimiter, may_quote) = (self.ground.delimiter, self.ground.may_quote);
        let read = rows::each_row(text, delimiter, may_quote, |row| {
            if !std::mem::take(&mut is_header) {
                self.row(row, report);
            }
        });
        match read {
            Ok(lines) => self.above = lines,
            Err(Unreadable { line, why }) => {
                let message = format!("{} cannot be read on", self.ground.source.name);
                let place = self.ground.source.line(line);
                self.fault(Fault::error(Code::BadSyntax, message).at(&place, why), report);
            }
        }
    }

    /// This list with the rows of another after its own. `None` where a bundle has rows in both.
    fn join(mut self, mut other: Self) -> Option<Self> {
        let ascends = self.drafts.last().zip(other.drafts.first());
        let ascends = self.bundles_in_order
            && other.bundles_in_order
            && ascends.is_none_or(|(last, next)| last.id < next.id);
        if !ascends {
            let own: FxHashSet<&str> = self.drafts.iter().map(|draft| &*draft.id).collect();
            if other.drafts.iter().any(|draft| own.contains(&*draft.id)) {
                return None;
            }
        }
        let bundles = u32::try_from(self.drafts.len()).ok()?;
        let lines = u32::try_from(self.above).ok()?;
        let border = (self.slabs.last(), other.slabs.first());
        let is_ordered = matches!(border, (Some(one), Some(next)) if one.id < next.id);
        self.in_order &= other.in_order && is_ordered;
        self.slabs.par_extend(other.slabs.into_par_iter().map(|mut slab| {
            slab.bundle += bundles;
            slab.row += lines;
            slab
        }));
        other.drafts.par_iter_mut().for_each(|draft| {
            draft.row += self.above;
            draft.weighed = draft.weighed.map(|(mass, row)| (mass, row + self.above));
        });
        self.joined = other.drafts;
        Some(self)
    }

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
        cell_place(self.ground.source, row, index)
    }

    /// Reports once what is wrong with a column as a whole, however many rows show it.
    fn once(&mut self, column: Column, fault: impl FnOnce(Place) -> Fault, report: &mut Report) {
        if !self.said.contains(&column) {
            self.said.push(column);
            let index = self.ground.layout.of(column).map(|(index, _)| index);
            let place = index.map_or_else(
                || self.ground.source.line(self.ground.layout.row),
                |index| self.cell_place(self.ground.layout.row, index),
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

    fn row(&mut self, record: &Row<'_>, report: &mut Report) {
        if record.is_blank() {
            return;
        }
        let row = record.line;
        if record.runs_on {
            let place = self.ground.source.line(row);
            self.fault(
                Fault::error(Code::BadSyntax, "a cell runs over the end of its line")
                    .at(&place, "a quote opens in this line and does not close in it")
                    .help("close the quote (a quote inside quotes is written twice), or take the line break out of the cell"),
                report,
            );
            return;
        }
        if record.len() > self.ground.layout.width {
            let message =
                format!("{} cells under a header of {}", record.len(), self.ground.layout.width);
            let place = self.ground.source.line(row);
            self.fault(
                Fault::error(Code::BadSyntax, message)
                    .at(&place, "this row")
                    .help("a cell that holds the separator must stand in quotes"),
                report,
            );
            return;
        }
        // A fault in the row is reported by whoever finds it.
        let _ = self.slab(record, report);
    }

    fn cell<'r>(&self, record: &Row<'r>, column: Column) -> Option<(&'r str, usize)> {
        let (index, _) = self.ground.layout.of(column)?;
        let cell = record.get(index)?;
        (!cell.is_empty()).then_some((cell, index))
    }

    fn required<'r>(
        &mut self,
        record: &Row<'r>,
        column: Column,
        what: &str,
        row: usize,
        report: &mut Report,
    ) -> Option<&'r str> {
        if let Some((cell, _)) = self.cell(record, column) {
            return Some(cell);
        }
        let (index, _) = self.ground.layout.of(column).unwrap_or((0, None));
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
        record: &Row<'_>,
        column: Column,
        row: usize,
        report: &mut Report,
    ) -> Option<T> {
        let (cell, index) = self.cell(record, column)?;
        let (_, unit) = self.ground.layout.of(column)?;
        match cells::measured(cell, unit) {
            Ok(value) => Some(value),
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
        record: &Row<'_>,
        column: Column,
        what: &str,
        row: usize,
        report: &mut Report,
    ) -> Option<Length> {
        let index = self.ground.layout.of(column)?.0;
        let cell = record.get(index).filter(|cell| !cell.is_empty());
        let Some(cell) = cell else {
            self.required(record, column, what, row, report);
            return None;
        };
        let (_, unit) = self.ground.layout.of(column)?;
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

    fn slab(&mut self, record: &Row<'_>, report: &mut Report) -> Option<()> {
        let row = record.line;
        let id = self.required(record, Column::Slab, "number", row, report);
        let bundle = self.required(record, Column::Bundle, "bundle", row, report);
        let length = self.side(record, Column::Length, "length", row, report);
        let height = self.side(record, Column::Height, "height", row, report);
        let line = self.line_of(record, row, report);
        let thick = self.thickness(record, line, row, report);
        let gross = Size { length: length?, height: height? };
        let (id, bundle, line) = (id?, bundle?, line?);
        thick?;
        if self.ground.kinds.get(line).is_none_or(Option::is_none) {
            self.skipped = true;
            return None;
        }
        let billed_sides = self.billed_sides(record, line, gross, row, report)?;
        let made = self.make_slab(id, line, gross, billed_sides, row);
        let slab = match made {
            Ok(slab) => slab,
            Err(overflow) => {
                let place = self.ground.source.line(row);
                self.fault(overflowed(overflow, &place), report);
                return None;
            }
        };
        if slab.billed_area.is_none() {
            let place = self.ground.source.line(row);
            self.fault(
                Fault::error(Code::OutOfRange, format!("slab {id} has no billed area left"))
                    .at(&place, "the take-off is larger than the slab"),
                report,
            );
            return None;
        }
        self.add(slab, bundle, gross, record, report)
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
        let facts = self.ground.kinds.get(line).and_then(Option::as_ref).ok_or(overflow)?;
        let measure = self.ground.lines.get(line).map(|line| line.measure).unwrap_or_default();
        let gross_area = gross.area()?;
        let billed = measure.billed(billed_sides)?;
        Ok(Slab {
            id: id.into(),
            line: u32::try_from(line).map_err(|_| overflow)?,
            bundle: 0,
            row: u32::try_from(row).map_err(|_| overflow)?,
            gross_area,
            billed_area: billed,
            mass: Mass::of_area(gross_area, facts.kg_per_m2)?,
        })
    }

    /// The billed sides: as listed, or by the line's measure.
    fn billed_sides(
        &mut self,
        record: &Row<'_>,
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
            match self.ground.lines.get(line).map(|line| line.measure.sides(gross))? {
                Ok(sides) => sides,
                Err(overflow) => {
                    let place = self.ground.source.line(row);
                    self.fault(overflowed(overflow, &place), report);
                    return None;
                }
            }
        };
        if listed && (sides.length > gross.length || sides.height > gross.height) {
            let place = self.ground.source.line(row);
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
    fn line_of(&mut self, record: &Row<'_>, row: usize, report: &mut Report) -> Option<usize> {
        if self.ground.only_line.is_some() {
            return self.ground.only_line;
        }
        if let Some((id, index)) = self.cell(record, Column::Line) {
            let found = self.ground.lines.iter().position(|line| line.id == id && !line.nominal);
            if found.is_none() && !self.ground.all_lines {
                self.skipped = true;
            } else if found.is_none() {
                let known: Vec<&str> = self
                    .ground
                    .lines
                    .iter()
                    .filter(|l| !l.nominal)
                    .map(|line| line.id.as_str())
                    .collect();
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
            .ground
            .lines
            .iter()
            .enumerate()
            .filter(|(index, line)| {
                !line.nominal
                    && stone.is_none_or(|stone| {
                        line.stone.value == stone
                            || self
                                .ground
                                .kinds
                                .get(*index)
                                .and_then(Option::as_ref)
                                .is_some_and(|facts| facts.stone.name == stone)
                    })
                    && finish.is_none_or(|finish| line.finish == finish)
                    && thickness.is_none_or(|thickness| line.thickness == thickness)
            })
            .map(|(index, _)| index)
            .collect();
        if let [one] = fits[..] {
            return Some(one);
        }
        let mut telling = [Column::Thickness, Column::Stone, Column::Finish].into_iter();
        if !self.ground.all_lines || telling.any(|column| self.said.contains(&column)) {
            self.skipped = true;
            return None;
        }
        if fits.len() > 1 && self.ground.layout.names_no_line() {
            let ids: Vec<&str> = self.ground.lines.iter().map(|line| line.id.as_str()).collect();
            let fault = |place: Place| {
                Fault::error(Code::Contradiction, "the list does not say which line a slab is of")
                    .at(&place, format!("lines {}", ids.join(", ")))
                    .help("add a column \"line\" that names each slab's invoice line")
            };
            self.once(Column::Line, fault, report);
            return None;
        }
        let place = self.ground.source.line(row);
        let fault = if fits.is_empty() {
            Fault::error(Code::UnknownReference, "a slab belongs to no line of the invoices")
                .at(&place, "no line has this stone, finish and thickness")
        } else {
            let ids: Vec<&str> = fits
                .iter()
                .filter_map(|at| self.ground.lines.get(*at))
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
        record: &Row<'_>,
        line: Option<usize>,
        row: usize,
        report: &mut Report,
    ) -> Option<()> {
        let Some((cell, index)) = self.cell(record, Column::Thickness) else {
            return Some(());
        };
        let listed = self.quantity::<Length>(record, Column::Thickness, row, report)?;
        let line = self.ground.lines.get(line?)?;
        if listed == line.thickness {
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

    fn draft(&mut self, bundle: &str, row: usize, start: usize) -> usize {
        // Rows of one bundle nearly always follow each other.
        if self.drafts.last().is_some_and(|draft| draft.id == bundle) {
            return self.drafts.len() - 1;
        }
        let is_next = self.drafts.last().is_none_or(|last| *last.id < *bundle);
        let known = match self.bundles_in_order {
            true if is_next => None,
            true => self.drafts.binary_search_by(|draft| (*draft.id).cmp(bundle)).ok(),
            false => self.by_name.get(bundle).copied(),
        };
        if let Some(known) = known {
            return known;
        }
        let id = SmolStr::new(bundle);
        if self.bundles_in_order && !is_next {
            self.bundles_in_order = false;
            let drafts = self.drafts.iter().enumerate();
            self.by_name = drafts.map(|(at, draft)| (draft.id.clone(), at)).collect();
        }
        if !self.bundles_in_order {
            self.by_name.insert(id.clone(), self.drafts.len());
        }
        self.drafts.push(Draft {
            id,
            block: None,
            mixed_blocks: false,
            slabs: 0,
            length: Length::ZERO,
            height: Length::ZERO,
            runs: Vec::new(),
            run: Run { line: 0, slabs: 0, mass: Mass::ZERO },
            weighed: None,
            note: None,
            row,
            start,
        });
        self.drafts.len() - 1
    }

    fn add(
        &mut self,
        mut slab: Slab,
        bundle: &str,
        gross: Size,
        record: &Row<'_>,
        report: &mut Report,
    ) -> Option<()> {
        let row = record.line;
        let at = self.draft(bundle, row, self.offset + record.start);
        let first = self.drafts.get(at).is_some_and(|draft| draft.slabs == 0);
        self.weighed(at, record, row, report);
        self.note(at, first, record, row, report);
        let block = self.cell(record, Column::Block).map(|(cell, _)| cell);
        let line = usize::try_from(slab.line).ok()?;
        let draft = self.drafts.get_mut(at)?;
        if draft.run.line != line {
            let next = Run { line, slabs: 0, mass: Mass::ZERO };
            let last = std::mem::replace(&mut draft.run, next);
            draft.runs.push(last);
        }
        match draft.run.mass.plus(slab.mass) {
            Ok(mass) => draft.run.mass = mass,
            Err(overflow) => {
                let place = self.ground.source.line(row);
                self.fault(overflowed(overflow, &place), report);
                return None;
            }
        }
        draft.run.slabs += 1;
        draft.length = draft.length.max(gross.length);
        draft.height = draft.height.max(gross.height);
        match (&draft.block, block) {
            (None, Some(block)) if first => draft.block = Some(block.into()),
            (known, listed) if known.as_deref() != listed => draft.mixed_blocks = true,
            _ => {}
        }
        slab.bundle = u32::try_from(at).ok()?;
        self.in_order &= self.slabs.last().is_none_or(|last| last.id < slab.id);
        draft.slabs += 1;
        self.slabs.push(slab);
        Some(())
    }

    fn weighed(&mut self, at: usize, record: &Row<'_>, row: usize, report: &mut Report) {
        let Some(mass) = self.quantity::<Mass>(record, Column::WeighedMass, row, report) else {
            return;
        };
        let Some(draft) = self.drafts.get_mut(at) else {
            return;
        };
        let is_first = draft.weighed.is_none();
        // Kept even where it is at fault, so that the bundle's other rows do not say it again.
        let (known, known_row) = *draft.weighed.get_or_insert((mass, row));
        let id = &draft.id;
        let source = self.ground.source;
        if is_first && (mass.is_none() || mass.grams_up() > HEAVIEST_GRAMS) {
            let message = format!("bundle {id} is weighed at {}", mass.show(Units::Metric));
            let fault = Fault::error(Code::OutOfRange, message)
                .at(&source.line(row), "expected more than 0 and at most 50 t: is the unit right?");
            self.fault(fault, report);
        } else if known != mass {
            let message = format!("bundle {id} is weighed at {known} and at {mass}");
            let fault = Fault::error(Code::Contradiction, message)
                .at(&source.line(row), "the second figure")
                .also(&source.line(known_row), "the first")
                .help("a weighed mass is the whole bundle's, timber included, the same on each of its rows");
            self.fault(fault, report);
        }
    }

    fn note(&mut self, at: usize, first: bool, record: &Row<'_>, row: usize, report: &mut Report) {
        let listed = self.cell(record, Column::Container);
        let kind = self.cell(record, Column::ContainerType).map(|(cell, _)| cell);
        let source = self.ground.source;
        let Some(draft) = self.drafts.get_mut(at) else {
            return;
        };
        let fault = match (&draft.note, listed) {
            (None, None) => return,
            (Some(note), Some((label, _)))
                if note.label == label && note.kind.as_deref() == kind =>
            {
                return;
            }
            (None, Some((label, _))) if first => {
                draft.note = Some(BoxNote { label: label.into(), kind: kind.map(SmolStr::new) });
                return;
            }
            (Some(note), listed) => {
                let (label, place) = match listed {
                    Some((label, index)) => (label, cell_place(source, row, index)),
                    None => ("no box", source.line(row)),
                };
                let message =
                    format!("bundle {} is in box {} and in {label}", draft.id, note.label);
                Fault::error(Code::Contradiction, message)
                    .at(&place, "the second box")
                    .also(&source.line(draft.row), "the first")
                    .help("a bundle travels whole: name the same box and type on each of its rows")
            }
            (None, Some((label, index))) => {
                let message = format!("bundle {} is in a box on some rows only", draft.id);
                Fault::error(Code::Contradiction, message)
                    .at(&cell_place(source, row, index), format!("box {label} here, none before"))
                    .help("name the box on every row of the bundle")
            }
        };
        self.fault(fault, report);
    }

    fn finish(mut self, report: &mut Report) -> Option<Packing> {
        self.duplicates(report);
        if self.slabs.is_empty() && self.faults == 0 && !self.skipped {
            let place = self.ground.source.line(self.ground.layout.row);
            self.fault(
                Fault::error(
                    Code::MissingKey,
                    format!("{} lists no slab", self.ground.source.name),
                )
                .at(&place, "only a header"),
                report,
            );
        }
        let listed: Vec<bool> = (0..self.ground.lines.len())
            .map(|line| self.slabs.iter().any(|slab| usize::try_from(slab.line) == Ok(line)))
            .collect();
        for (line, _) in
            self.ground.lines.iter().zip(listed).filter(|(line, listed)| !line.nominal && !listed)
        {
            if self.faults == 0 && !self.skipped {
                report.add(no_slabs(line));
            }
        }
        if self.faults > MOST_FAULTS {
            let more = self.faults - MOST_FAULTS;
            let place = self.unshown.clone().unwrap_or_else(|| self.ground.source.line(1));
            let message =
                format!("{more} more faults of {} are not shown", self.ground.source.name);
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
        let (drafts, joined) = (std::mem::take(&mut self.drafts), std::mem::take(&mut self.joined));
        let all = || drafts.iter().chain(&joined);
        self.share_weighed(all, report);
        let made = drafts.par_iter().chain(&joined).map(|draft| self.bundle(draft));
        let made: Vec<_> = made.collect();
        let sound = |made: Result<Bundle, Box<Fault>>| {
            made.map_err(|fault| self.fault(*fault, report)).ok()
        };
        let bundles: Vec<Bundle> = made.into_iter().filter_map(sound).collect();
        if self.faults > 0 {
            return None;
        }
        let boxes = listed_boxes(&bundles, all().map(|draft| draft.note.as_ref()), report);
        Some(Packing { slabs: self.slabs, bundles, boxes })
    }

    /// A list of which every slab is smaller than any slab is most likely in another unit.
    fn very_small(&self, report: &mut Report) {
        let mut drafts = self.drafts.iter().chain(&self.joined);
        if !drafts.all(|draft| draft.length.mm_up() < SMALL_MM) {
            return;
        }
        let index = self.ground.layout.of(Column::Length).map_or(0, |(index, _)| index);
        let place = self.cell_place(self.ground.layout.row, index);
        report.add(
            Fault::warning(Code::OutOfRange, "no slab of the list is 0.6 m long")
                .at(&place, "is this the unit of the figures?"),
        );
    }

    fn duplicates(&mut self, report: &mut Report) {
        if self.in_order {
            return;
        }
        let slabs = std::mem::take(&mut self.slabs);
        let mut seen: FxHashMap<&str, u32> = FxHashMap::default();
        seen.reserve(slabs.len());
        for slab in &slabs {
            if let Some(first) = seen.insert(&slab.id, slab.row) {
                let place = |row: u32| self.ground.source.line(usize::try_from(row).unwrap_or(0));
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

    fn bundle(&self, draft: &Draft) -> Result<Bundle, Box<Fault>> {
        let place = self.ground.source.line_at(draft.row, draft.start);
        let computed = self.outside(draft);
        let mut bundle = computed.map_err(|overflow| Box::new(overflowed(overflow, &place)))?;
        bundle.place = place;
        if let Some((weighed, _)) = draft.weighed {
            bundle.weighed = true;
            bundle.mass = weighed;
            bundle.limit_mass = weighed;
        }
        Ok(bundle)
    }

    /// A bundle's outside size and mass, timber included.
    fn outside(&self, draft: &Draft) -> Result<Bundle, Overflow> {
        let timber = self.ground.timber;
        let films = draft.slabs.saturating_sub(1);
        let films = timber.between.times(Decimal::from(films))?;
        let (mut mass, mut limit_mass) = (timber.mass, timber.mass);
        let mut width = timber.width.plus(films)?;
        for run in draft.runs.iter().chain([&draft.run]) {
            let (Some(Some(facts)), Some(line)) =
                (self.ground.kinds.get(run.line), self.ground.lines.get(run.line))
            else {
                continue;
            };
            mass = mass.plus(run.mass)?;
            limit_mass = limit_mass.plus(run.mass.times(facts.margin)?)?;
            width = width.plus(line.thickness.times(Decimal::from(run.slabs))?)?;
        }
        Ok(Bundle {
            id: draft.id.clone(),
            block: draft.block.clone().filter(|_| !draft.mixed_blocks),
            slabs: draft.slabs,
            mass,
            limit_mass,
            weighed: false,
            may_turn: false,
            length: draft.length.plus(timber.length)?,
            width,
            height: draft.height.plus(timber.height)?,
            place: timber.place.clone(),
        })
    }

    /// Divides the stone of weighed bundles over their slabs, to the gram, as their computed masses
    /// are.
    fn share_weighed<'d, D>(&mut self, drafts: impl Fn() -> D, report: &mut Report)
    where
        D: Iterator<Item = &'d Draft>,
    {
        if drafts().all(|draft| draft.weighed.is_none()) {
            return;
        }
        let bundle_of = |slab: &Slab| usize::try_from(slab.bundle).unwrap_or(usize::MAX);
        let mut members: Vec<Vec<usize>> = drafts().map(|_| Vec::new()).collect();
        for (index, slab) in self.slabs.iter().enumerate() {
            if let Some(list) = members.get_mut(bundle_of(slab)) {
                list.push(index);
            }
        }
        for (draft, members) in drafts().zip(members) {
            let Some((weighed, row)) = draft.weighed else { continue };
            match self.grams_of(draft, weighed, row, &members) {
                Ok(grams) => {
                    for (index, grams) in members.into_iter().zip(grams) {
                        if let Some(slab) = self.slabs.get_mut(index) {
                            slab.mass = Mass::grams(grams);
                        }
                    }
                }
                Err(fault) => self.fault(*fault, report),
            }
        }
    }

    /// The grams of stone of each slab of a weighed bundle.
    fn grams_of(
        &self,
        draft: &Draft,
        weighed: Mass,
        row: usize,
        members: &[usize],
    ) -> Result<Vec<i64>, Box<Fault>> {
        let fault = |message: String| {
            let place = self.ground.source.line(row);
            Box::new(Fault::error(Code::OutOfRange, message).at(&place, "weighed here"))
        };
        let overflow = |_| fault("a mass is too large or too fine to be held exactly".to_owned());
        let stone = weighed.minus(self.ground.timber.mass).map_err(overflow)?;
        if stone.is_none() {
            let message = format!("bundle {} is weighed at less than its timber", draft.id);
            return Err(fault(message));
        }
        let masses = members.iter().filter_map(|index| self.slabs.get(*index));
        let weights = Weights::of(masses.map(|slab| slab.mass.base()));
        weights
            .and_then(|weights| weights.divide_units(stone.grams_down()))
            .map_err(|_| fault(format!("the mass of bundle {} cannot be divided", draft.id)))
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
    side.is_between_mm(SHORTEST_MM, LONGEST_MM)
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
