//! `quaystone check`: read and cost everything, report every fault at once.

use super::job::{Exit, Options};
use crate::cost::prove;
use crate::fault::Report;
use crate::load::{breaches, unkept};
use crate::show::{self, Checked};

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipments, by name or path [default: all]
    shipments: Vec<String>,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = Report::new();
    let Some((workspace, tariffs)) = options.open(&mut report) else {
        return Options::tell(&report);
    };
    let rates = report.clone();
    let names =
        if args.shipments.is_empty() { workspace.shipment_names() } else { args.shipments.clone() };
    if names.is_empty() {
        Options::say("shipments/ holds no shipment yet");
    }
    let mut all = Vec::new();
    for name in names {
        // A report of its own, as readers stop early on errors that are not this shipment's.
        let mut own = rates.clone();
        let costed = options.costed(&workspace, &name, &tariffs, &mut own);
        let mut one =
            Checked { name, total: None, counts: None, proven: Vec::new(), verdict: "faults" };
        match costed {
            Some((shipment, Ok(costed))) => {
                one.total = Some(costed.landed.total);
                one.counts = Some((shipment.slabs.len(), costed.plan.boxes.len()));
                let broken = breaches(&costed.plan, &shipment.bundles, &shipment.yard);
                let over = !broken.is_empty();
                let kept = unkept(&costed.plan, &shipment.bundles, &shipment.load).is_empty();
                one.proven = prove(&shipment, &costed.landed).unwrap_or_default();
                let differs = one.proven.iter().any(|line| !line.agrees);
                one.verdict = match (over, kept, differs) {
                    (true, ..) => "over a limit",
                    (false, false, _) => "not as asked",
                    (false, true, true) => "papers differ",
                    (false, true, false) => "sound",
                };
            }
            Some((shipment, Err(misfits))) => {
                one.verdict = "fits in no box";
                Options::no_box(&shipment, &misfits);
            }
            None => {}
        }
        report.absorb(own);
        all.push(one);
    }
    let told = Options::tell(&report);
    let verdict = if told == Exit::Done && all.iter().any(|one| one.verdict != "sound") {
        Exit::No
    } else {
        told
    };
    if told == Exit::BadData {
        let (errors, warnings) = report.counts();
        let [more, warned] = [errors, warnings].map(show::plural);
        Options::say(&format!("{errors} error{more}, {warnings} warning{warned}"));
        return Exit::BadData;
    }
    match options.put(show::checked(&all), &|out| show::json::check(&all, out)) {
        Exit::Done => verdict,
        other => other,
    }
}
