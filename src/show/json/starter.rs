//! Figures to start with, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::starter::{Begun, StarterFigure};
use super::parts::{FORMAT, SourceJson, plain, source_json, write};

#[derive(Serialize)]
struct StartersJson<'a> {
    format: u32,
    starter_figures: Vec<StarterJson<'a>>,
}

#[derive(Serialize)]
struct StarterJson<'a> {
    what: &'a str,
    #[serde(rename = "for")]
    of: &'a str,
    figure: &'a str,
    source: SourceJson<'a>,
}

/// Writes them as JSON, in the order in which they stand in the files.
///
/// # Errors
///
/// If they cannot be written.
pub fn starters(figures: &[StarterFigure<'_>], out: &mut dyn Write) -> io::Result<()> {
    let each = figures.iter().map(|one| StarterJson {
        what: &one.what,
        of: &one.of,
        figure: &one.figure,
        source: source_json(one.place),
    });
    write(&StartersJson { format: FORMAT, starter_figures: each.collect() }, out)
}

#[derive(Serialize)]
struct BegunJson<'a> {
    format: u32,
    workspace: &'a str,
    shipment: &'a str,
    files: &'a [&'a str],
    currency: &'static str,
    total: String,
    on_starter_figures: String,
}

/// Writes a shipment that was begun as JSON.
///
/// # Errors
///
/// If it cannot be written.
pub fn begun(begun: &Begun<'_>, out: &mut dyn Write) -> io::Result<()> {
    let json = BegunJson {
        format: FORMAT,
        workspace: &begun.root,
        shipment: begun.shipment,
        files: &begun.files,
        currency: begun.landed.currency.code(),
        total: plain(begun.landed.total),
        on_starter_figures: plain(begun.landed.headline.starters.sum),
    };
    write(&json, out)
}
