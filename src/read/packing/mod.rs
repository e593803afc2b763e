//! `packing.csv` into slabs and bundles.

mod bundles;
mod draft;
mod ground;
mod layout;
mod list;
mod meant;
mod numbers;
mod odd;
mod reading;
mod side;
mod told;
mod which;

use super::cells;
use crate::fault::{Code, Fault, Report, Reported, Source};
use crate::trade::{Line, Tariffs, Timber};
pub(super) use bundles::Packing;
use ground::{Ground, line_facts};
pub use layout::headers;
use layout::{Layout, NEEDED};
use list::List;
pub(super) use side::{THICK_MM, is_side, sides};

/// Reads a packing list. Without `all_lines`, a line that could not be read may be the one a slab
/// belongs to.
pub(super) fn packing(
    source: &Source,
    lines: &[Line],
    tariffs: &Tariffs,
    timber: &Timber,
    all_lines: Result<(), Reported>,
    report: &mut Report,
) -> Result<Packing, Reported> {
    if source.text.trim().is_empty() {
        return Err(report.error(
            Fault::error(Code::MissingKey, format!("{} is empty", source.name))
                .at(&source.line(1), "nothing here")
                .help(NEEDED),
        ));
    }
    let delimiter = cells::delimiter(&source.text);
    let layout = Layout::read(source, delimiter, report)?;
    let listed = lines.iter().any(|line| !line.nominal);
    if !listed && all_lines.is_ok() {
        return Err(report.error(nothing_to_list(source, lines)));
    }
    let kinds = line_facts(lines, tariffs, report);
    let mut open = lines.iter().enumerate().filter(|(_, line)| !line.nominal);
    let only_line = match (open.next(), open.next()) {
        (Some((at, _)), None) if all_lines.is_ok() && layout.names_no_line() => Some(at),
        _ => None,
    };
    let ground = Ground {
        source,
        lines,
        kinds,
        finishes: &tariffs.finishes,
        qualities: &tariffs.qualities,
        timber,
        only_line,
        layout,
        all_lines,
        delimiter,
    };
    List::read(&ground, report).finish(report)
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
