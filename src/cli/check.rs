//! `quaystone check`: read and cost everything, report every fault at once.

use rayon::prelude::*;

use super::job::{Exit, Options};
use crate::cost::prove;
use crate::fault::Report;
use crate::load::{Misfit, breaches, unkept};
use crate::read::Workspace;
use crate::show::{self, Checked};
use crate::trade::{Shipment, Tariffs};

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
    // Side by side; what is told stays in the order of the names.
    let looked: Vec<Looked> = names
        .into_par_iter()
        .map(|name| look(name, &workspace, &tariffs, &rates, options))
        .collect();
    let mut all = Vec::new();
    for Looked { checked, unfit, report: own } in looked {
        if let Some((shipment, misfits)) = unfit {
            Options::no_box(&shipment, &misfits);
        }
        report.absorb(own);
        all.push(checked);
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

/// What there is to say about one shipment.
struct Looked {
    checked: Checked,
    /// The shipment whose bundles fit in no box, and why.
    unfit: Option<(Box<Shipment>, Vec<Misfit>)>,
    report: Report,
}

/// Reads and costs one shipment, with a report of its own: readers stop early on errors, and those of
/// another shipment are not this one's.
fn look(
    name: String,
    workspace: &Workspace,
    tariffs: &Tariffs,
    rates: &Report,
    options: &Options,
) -> Looked {
    let mut report = rates.clone();
    let mut unfit = None;
    let costed = options.costed(workspace, &name, tariffs, &mut report);
    let mut checked =
        Checked { name, total: None, counts: None, proven: Vec::new(), verdict: "faults" };
    match costed {
        Some((shipment, Ok(costed))) => {
            checked.total = Some(costed.landed.total);
            checked.counts = Some((shipment.slabs.len(), costed.plan.boxes.len()));
            let broken = breaches(&costed.plan, &shipment.bundles, &shipment.yard);
            let over = !broken.is_empty();
            let kept = unkept(&costed.plan, &shipment.bundles, &shipment.load).is_empty();
            checked.proven = prove(&shipment, &costed.landed).unwrap_or_default();
            let differs = checked.proven.iter().any(|line| !line.agrees);
            checked.verdict = match (over, kept, differs) {
                (true, ..) => "over a limit",
                (false, false, _) => "not as asked",
                (false, true, true) => "papers differ",
                (false, true, false) => "sound",
            };
        }
        Some((shipment, Err(misfits))) => {
            checked.verdict = "fits in no box";
            unfit = Some((Box::new(shipment), misfits));
        }
        None => {}
    }
    // Of many shipments only the texts that a fault points into are kept.
    report.forget_unused();
    Looked { checked, unfit, report }
}
