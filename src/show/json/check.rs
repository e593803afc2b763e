//! What a check found, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::check::Checked;
use super::parts::{FORMAT, plain, write};
use crate::cost::Proven;

#[derive(Serialize)]
struct CheckJson<'a> {
    format: u32,
    shipments: Vec<CheckedJson<'a>>,
}

#[derive(Serialize)]
struct CheckedJson<'a> {
    shipment: &'a str,
    verdict: &'a str,
    warnings: usize,
    slabs: Option<usize>,
    containers: Option<usize>,
    total: Option<String>,
    currency: Option<&'static str>,
    /// Shared stocks that no other checked shipment draws on.
    stocks_not_looked_at: Vec<&'a str>,
    papers: Vec<ProvenJson<'a>>,
}

#[derive(Serialize)]
struct ProvenJson<'a> {
    paper: &'a str,
    figure: &'a str,
    unit: &'a str,
    stated: String,
    computed: String,
    off: String,
    agrees: bool,
    estimate: bool,
}

/// Writes what a check found.
///
/// # Errors
/// Where the output cannot be written.
pub fn check(all: &[Checked], alone: &[(String, String)], out: &mut dyn Write) -> io::Result<()> {
    let one = |checked: &'_ Checked| {
        let (slabs, containers) = checked.counts.unzip();
        (slabs, containers, checked.total)
    };
    let shipments = all.iter().map(|checked| {
        let (slabs, containers, total) = one(checked);
        CheckedJson {
            shipment: &checked.name,
            verdict: checked.verdict,
            warnings: checked.warnings,
            slabs,
            containers,
            total: total.map(plain),
            currency: total.map(|total| total.currency().code()),
            stocks_not_looked_at: alone
                .iter()
                .filter(|(own, _)| *own == checked.name)
                .map(|(_, stock)| stock.as_str())
                .collect(),
            papers: checked.proven.iter().map(proven_json).collect(),
        }
    });
    write(&CheckJson { format: FORMAT, shipments: shipments.collect() }, out)
}

fn proven_json(line: &Proven) -> ProvenJson<'_> {
    ProvenJson {
        paper: &line.paper,
        figure: &line.what,
        unit: line.unit,
        stated: line.stated.to_string(),
        computed: line.computed.to_string(),
        off: line.off.to_string(),
        agrees: line.agrees,
        estimate: line.is_estimate,
    }
}
