//! What was read of a supplier's list or proforma, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, plain, write};
use crate::import::{Imported, Proforma};

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

#[derive(Serialize)]
struct ProformaJson<'a> {
    format: u32,
    lines: Vec<LineJson<'a>>,
    total: Option<String>,
    discount: Option<String>,
    rounding: Option<String>,
    term: Option<&'a str>,
    notes: &'a [String],
}

#[derive(Serialize)]
struct LineJson<'a> {
    price_at: &'a str,
    goods: &'a str,
    quantity: String,
    per: &'a str,
    price: String,
    amount: String,
    currency: &'a str,
}

/// Writes the lines of a proforma.
///
/// # Errors
/// Where the output cannot be written.
pub fn proforma(proforma: &Proforma, out: &mut dyn Write) -> io::Result<()> {
    let lines = proforma.lines.iter().map(|line| LineJson {
        price_at: &line.called,
        goods: &line.goods,
        quantity: line.quantity.normalize().to_string(),
        per: line.price.by.word(),
        price: line.price.amount.to_string(),
        amount: plain(line.amount),
        currency: line.amount.currency().code(),
    });
    let json = ProformaJson {
        format: FORMAT,
        lines: lines.collect(),
        total: proforma.total.map(plain),
        discount: proforma.discount.map(plain),
        rounding: proforma.rounding.map(plain),
        term: proforma.term.as_deref(),
        notes: &proforma.notes,
    };
    write(&json, out)
}
