//! The file of a sweep: the ranges that costs are drawn from.

use std::path::Path;

use super::keys::each;
use super::table::{Table, parse};
use crate::fault::{Code, Fault, Report, Reported};
use crate::files;
use crate::trade::SweepRange;

/// Reads the ranges of a sweep.
///
/// # Errors
/// If the file cannot be read, or what it holds is no range.
pub fn sweep(path: &Path, report: &mut Report) -> Result<Vec<SweepRange>, Reported> {
    let source = files::read(path, &path.display().to_string(), report)?;
    parse(&source, report, |top, report| {
        let ranges = ranges(top, report)?;
        if ranges.is_empty() {
            return Err(report.error(
                Fault::error(Code::MissingKey, "the sweep has no [[range]]")
                    .at(&top.place(), "expected one or more")
                    .help("write [[range]] with of = \"ocean freight\", from = \"-10 %\", to = \"+20 %\""),
            ));
        }
        Ok(ranges)
    })
}

/// The rows of the file.
pub(super) fn ranges(top: &Table<'_>, report: &mut Report) -> Result<Vec<SweepRange>, Reported> {
    each(top, "range", report, |row, report| {
        let of = row.required_text("of", report);
        let from = row.required_text("from", report);
        let to = row.required_text("to", report);
        let mode = row.text("mode", report);
        let source = row.text("source", report);
        Ok(SweepRange {
            of: of?,
            from: from?,
            to: to?,
            mode: mode?,
            source: source?,
            place: row.place(),
        })
    })
}
