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
use layout::{Layout, NEEDED};
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
    let ground = Ground { source, lines, kinds, timber, only_line, layout, all_lines, delimiter };
    let mut list = List::new(&ground);
    list.read(report);
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

/// What a list is read against.
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
}
