//! The quality of a line, or of a price, in a word of the importer's list.

use super::super::table::{self, Table};
use crate::fault::{At, Report, Reported};
use crate::trade::{QualityId, Tariffs};

pub(super) fn quality(
    row: &Table<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Option<At<QualityId>>, Reported> {
    let Some(word) = row.text("quality", report)? else { return Ok(None) };
    match tariffs.quality(&word) {
        Some(quality) => Ok(Some(word.map(|_| quality.id.clone()))),
        None => {
            let known: Vec<&str> = tariffs.qualities.iter().map(|one| one.id.as_str()).collect();
            Err(table::add_unknown("quality", &word, "rates/stones.toml", &known, report))
        }
    }
}
