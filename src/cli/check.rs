//! `quaystone check`: whether each shipment is sound, with the faults of all of them.

use rayon::prelude::*;

use super::job::{Exit, Options};
use super::progress::Progress;
use super::together::refuse;
use crate::choose::together;
use crate::cost::prove;
use crate::fault::{Report, Reported};
use crate::load::Misfit;
use crate::quantity::count_of;
use crate::read::{Asked, Workspace};
use crate::show::{self, Checked};
use crate::trade::{Marks, Seen, Shipment, Tariffs};

/// Arguments of `check`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipments, by name or path [default: all]
    shipments: Vec<String>,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let rates = report.clone();
    let names =
        if args.shipments.is_empty() { workspace.shipment_names() } else { args.shipments.clone() };
    if names.is_empty() {
        Options::say("shipments/ holds no shipment yet");
    }
    let shown = Progress::show();
    // Side by side; what is told stays in the order of the names.
    let looked: Vec<Looked> = names
        .into_par_iter()
        .map(|name| look(name, &workspace, &tariffs, &rates, options))
        .collect();
    drop(shown);
    let mut all = Vec::new();
    let mut sharing = Vec::new();
    let mut seen = Seen::default();
    for Looked { checked, unfit, shared, marks, report: own } in looked {
        if let Some((shipment, misfits)) = unfit {
            Options::no_box(&shipment, &misfits, &own);
        }
        report.absorb(own);
        sharing.extend(shared.map(|shipment| (all.len(), *shipment)));
        for fault in marks.into_iter().flat_map(|marks| seen.take(marks)) {
            Options::keep_texts(&fault, &workspace, &mut report);
            report.add(fault);
        }
        all.push(checked);
    }
    share_out(&sharing, &mut all, &tariffs, options, &mut report);
    let told = Options::tell(&report);
    if let Err(bad) = told {
        let (errors, warnings) = report.counts();
        let (errors, warnings) = (count_of(errors, "error"), count_of(warnings, "warning"));
        Options::say(&format!("{errors}, {warnings}"));
        // One that is bad does not hide those that are good.
        if all.iter().all(|one| one.total.is_none()) {
            return bad;
        }
    }
    // Of a check of everything nobody is left who could draw on a stock, too.
    let alone = if args.shipments.is_empty() { Vec::new() } else { alone(&sharing) };
    match options.put(&report, show::checked(&all, &alone, options.units()), &|out| {
        show::json::check(&all, &alone, out)
    }) {
        Exit::Done(said) => match told {
            Err(bad) => bad,
            Ok(()) if all.iter().any(|one| one.verdict != "sound") => Exit::No(said),
            Ok(()) => Exit::Done(said),
        },
        other => other,
    }
}

/// What there is to say about one shipment.
struct Looked {
    checked: Checked,
    /// The shipment whose bundles fit in no box, and why.
    unfit: Option<(Box<Shipment>, Vec<Misfit>)>,
    /// The shipment, where it draws on a stock that others may draw on, too.
    shared: Option<Box<Shipment>>,
    /// What no other shipment may hold.
    marks: Option<Marks>,
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
    let (mut unfit, mut shared, mut marks) = (None, None, None);
    let costed = options.costed(workspace, (Asked::from(&*name), false), tariffs, &mut report);
    let mut checked = Checked {
        name,
        ways: Vec::new(),
        total: None,
        counts: None,
        proven: Vec::new(),
        verdict: "faults",
        warnings: 0,
    };
    match costed {
        Ok((shipment, _, Ok(costed))) => {
            marks = Some(Marks::of(&shipment));
            checked.ways.clone_from(&shipment.ways);
            checked.total = Some(costed.landed.total);
            checked.counts = Some((shipment.slabs.len(), costed.plan.boxes.len()));
            let over = !costed.verdict.keeps_limits();
            let kept = costed.verdict.holds();
            checked.proven = prove(&shipment, &costed.landed).unwrap_or_default();
            let differs = checked.proven.iter().any(|line| !line.agrees);
            checked.verdict = match (over, kept, differs) {
                (true, ..) => "over a limit",
                (false, false, _) => "not as asked",
                (false, true, true) => "documents differ",
                (false, true, false) if !costed.under_least.is_empty() => "under the least order",
                (false, true, false) => "sound",
            };
            if !shipment.load.shared.is_empty() {
                shared = Some(Box::new(shipment));
            }
        }
        Ok((shipment, _, Err(misfits))) => {
            checked.verdict = "fits in no box";
            unfit = Some((Box::new(shipment), misfits));
        }
        Err(Reported { .. }) => {}
    }
    // Those of the rates were there before.
    checked.warnings = report.counts().1.saturating_sub(rates.counts().1);
    // Of many shipments only the texts that a fault points into are kept.
    report.forget_unused();
    Looked { checked, unfit, shared, marks, report }
}

/// Loads shipments that share a stock together, as `load` does: alone, each may look as if the boxes
/// suffice.
fn share_out(
    sharing: &[(usize, Shipment)],
    all: &mut [Checked],
    tariffs: &Tariffs,
    options: &Options,
    report: &mut Report,
) {
    let is_linked = |(_, own): &&(usize, Shipment)| {
        let names = |one: &Shipment| -> Vec<String> {
            one.load.stocks().map(|(name, _)| name.value.clone()).collect()
        };
        let mine = names(own);
        let others = sharing.iter().filter(|(_, other)| other.name != own.name);
        others.flat_map(|(_, other)| names(other)).any(|name| mine.contains(&name))
    };
    let linked: Vec<&(usize, Shipment)> = sharing.iter().filter(is_linked).collect();
    if linked.is_empty() {
        return;
    }
    let each: Vec<&Shipment> = linked.iter().map(|(_, shipment)| shipment).collect();
    // What is to be said of each was said when it was costed by itself.
    let mut own = options.report();
    let planned = {
        let _shown = Progress::show();
        together(&each, tariffs, options.effort(), &mut own)
    };
    if own.has_errors() {
        report.absorb(own);
    }
    match planned {
        Ok(Ok(planned)) => {
            for ((at, _), costed) in linked.iter().zip(&planned.loads) {
                if !costed.verdict.holds() {
                    mark(all, *at, "over a limit");
                }
                if let Some(one) = all.get_mut(*at) {
                    one.total = Some(costed.landed.total);
                    one.counts = one.counts.map(|(slabs, _)| (slabs, costed.plan.boxes.len()));
                }
            }
        }
        Ok(Err(refused)) => {
            for (at, _) in &linked {
                mark(all, *at, "boxes do not suffice");
            }
            refuse(&each, &refused, report);
        }
        Err(Reported { .. }) => {
            for (at, _) in &linked {
                mark(all, *at, "faults");
            }
        }
    }
}

/// A sound shipment is so no more.
fn mark(all: &mut [Checked], at: usize, verdict: &'static str) {
    if let Some(one) = all.get_mut(at).filter(|one| one.verdict == "sound") {
        one.verdict = verdict;
    }
}

/// The stocks that only one of the checked shipments draws on.
fn alone(sharing: &[(usize, Shipment)]) -> Vec<(String, String)> {
    let named = || {
        sharing.iter().flat_map(|(_, own)| {
            own.load.stocks().map(move |(name, _)| (own.name.as_str(), name.value.as_str()))
        })
    };
    let is_alone =
        |(_, stock): &(&str, &str)| named().filter(|(_, other)| other == stock).count() == 1;
    named().filter(is_alone).map(|(own, stock)| (own.to_owned(), stock.to_owned())).collect()
}
