//! `packing.csv` into slabs and bundles.

mod bundles;
mod drafts;
mod layout;
mod list;
mod side;

use super::cells;
use crate::fault::{Code, Fault, Place, Report, Source};
use crate::quantity::{Area, Decimal, Length, Mass, Overflow, Volume};
use crate::trade::{Bundle, GivenBox, Line, Slab, Stone, Tariffs, Timber};
use layout::{Column, Layout, NEEDED};
use list::List;
pub(super) use side::is_side;

/// What a packing list says.
pub(super) struct Packing {
    pub(super) slabs: Vec<Slab>,
    pub(super) bundles: Vec<Bundle>,
    /// The boxes that bundles are said to be in.
    pub(super) boxes: Vec<GivenBox>,
}

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
