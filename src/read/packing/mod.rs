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
mod words;

use super::cells;
use crate::fault::{Code, Fault, Report, Reported, Source};
use crate::trade::{Line, Tariffs, Timber};
pub(super) use bundles::Packing;
use ground::{Ground, line_facts};
pub(super) use layout::cell_place;
pub use layout::headers;
use layout::{Layout, NEEDED};
use list::List;
pub use numbers::{date_as_range, slab_range};
pub use side::is_side;
pub(super) use side::{THICK_MM, sides};
pub use words::{Heading, Word, folded, heading, unit_of, words};

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
