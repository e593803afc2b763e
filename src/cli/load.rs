//! `quaystone load`: which bundle in which box, and where.

use std::path::{Path, PathBuf};

use super::job::{Exit, Options};
use crate::load::{BoxSummary, Breach, Broken, Plan, Proof, breaches, place, summary};
use crate::read;
use crate::show;
use crate::trade::Shipment;

/// Arguments of `load`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path
    shipment: String,
    /// Judge the plan in this file, written like plan.toml, instead of planning
    #[arg(long, value_name = "FILE")]
    check: Option<PathBuf>,
    /// Write a drawing of the load as SVG, whole or not at all
    #[arg(long, value_name = "FILE")]
    drawing: Option<PathBuf>,
    /// Write the load as a plan.toml, places included, so that it stays as it is
    #[arg(long, value_name = "FILE")]
    freeze: Option<PathBuf>,
}

impl Args {
    /// Whether it writes a file beside the result.
    pub(super) fn writes(&self) -> bool {
        self.drawing.is_some() || self.freeze.is_some()
    }
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let other = args.check.as_deref();
    options.with_costed_as(
        &args.shipment,
        |workspace, shipment, tariffs, report| match other {
            Some(path) => read::other_plan(workspace, path, shipment, tariffs, report),
            None => Some(()),
        },
        |shipment, costed, _| {
            let mut exit = Exit::Done;
            let given: Vec<bool> =
                costed.plan.boxes.iter().map(|filled| filled.spots.is_some()).collect();
            if costed.plan.proof == Proof::Given {
                exit = find_places(&mut costed.plan, shipment, options);
            }
            let plan = &costed.plan;
            let summaries =
                plan.boxes.iter().map(|filled| summary(plan, filled, &shipment.bundles));
            let summaries = match summaries.collect::<Result<Vec<_>, _>>() {
                Ok(summaries) => summaries,
                Err(overflow) => {
                    Options::say(&format!("error: {overflow}"));
                    return Exit::BadData;
                }
            };
            let broken = breaches(plan, &shipment.bundles, &shipment.yard);
            if judge(plan, &broken, &given) {
                exit = Exit::No;
            }
            let page = show::loaded(shipment, plan, &summaries, &broken, options.units());
            let json = |out: &mut dyn std::io::Write| {
                show::json::load(shipment, plan, &summaries, &broken, out)
            };
            match options.put(page, &json) {
                Exit::Done => {}
                other => return other,
            }
            match extras(args, options, shipment, plan, &summaries) {
                Exit::Done => exit,
                other => other,
            }
        },
    )
}

/// Writes the drawing and the frozen plan, where asked for.
fn extras(
    args: &Args,
    options: &Options,
    shipment: &Shipment,
    plan: &Plan,
    summaries: &[BoxSummary<'_>],
) -> Exit {
    let mut exit = Exit::Done;
    let mut put = |path: &Path, text: String| {
        exit = match options.put_file(path, text.as_bytes()) {
            Exit::Done => exit,
            other => other,
        };
    };
    if let Some(path) = &args.drawing {
        put(path, show::drawing(shipment, summaries, options.units()));
    }
    if let Some(path) = &args.freeze {
        put(path, show::frozen(shipment, plan, summaries));
    }
    exit
}

/// Works out places for the boxes of a given load that come without.
fn find_places(plan: &mut Plan, shipment: &Shipment, options: &Options) -> Exit {
    let mut exit = Exit::Done;
    for index in 0..plan.boxes.len() {
        let Some(filled) = plan.boxes.get(index).filter(|filled| filled.spots.is_none()) else {
            continue;
        };
        let Some(variant) = plan.variant(filled) else {
            continue;
        };
        match place(filled, &shipment.bundles, variant, options.effort()) {
            Ok(spots) => {
                if let Some(filled) = plan.boxes.get_mut(index) {
                    filled.spots = Some(spots);
                }
            }
            Err(reason) => {
                Options::say(&format!("box {}: no places found: {reason}", filled.label));
                exit = Exit::No;
            }
        }
    }
    exit
}

/// Says what the places break that were found for a given load: all else was a warning when it was
/// costed. Whether there was anything at all.
fn judge(plan: &Plan, breaches: &[Breach], given: &[bool]) -> bool {
    for breach in breaches.iter().filter(|breach| breach.broken == Broken::Places) {
        if given.get(breach.filled) != Some(&true) {
            Options::say(&breach.sentence(plan));
        }
    }
    !breaches.is_empty()
}
