//! What was read of a supplier's list, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, write};
use crate::import::Imported;

#[derive(Serialize)]
struct ImportJson<'a> {
    format: u32,
    slabs: usize,
    bundles: usize,
    columns: Vec<ColumnJson<'a>>,
    notes: &'a [String],
}

#[derive(Serialize)]
struct ColumnJson<'a> {
    header_at: &'a str,
    header: &'a str,
    read_as: &'a str,
    unit: Option<&'a str>,
    by: &'a str,
    from: &'a str,
    to: &'a str,
    agree: usize,
    of: usize,
}

/// Writes what was read.
///
/// # Errors
/// Where the output cannot be written.
pub fn import(imported: &Imported, out: &mut dyn Write) -> io::Result<()> {
    let each = imported.columns.iter().map(|seen| ColumnJson {
        header_at: &seen.place,
        header: &seen.header,
        read_as: seen.role,
        unit: seen.unit,
        by: &seen.known,
        from: &seen.from,
        to: &seen.to,
        agree: seen.agree,
        of: seen.of,
    });
    let (slabs, bundles) = (imported.clean.rows.len(), imported.bundles);
    write(
        &ImportJson {
            format: FORMAT,
            slabs,
            bundles,
            columns: each.collect(),
            notes: &imported.notes,
        },
        out,
    )
}
