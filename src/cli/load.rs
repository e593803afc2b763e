//! `quaystone load`: which bundle in which box, and where.

use std::path::{Path, PathBuf};

use super::job::{Exit, Options};
use crate::load::{
    BoxSummary, Plan, Proof, breaches, faults_of_places, place, road_breaches, summary,
};
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
            if judge(plan, shipment, &summaries) {
                exit = Exit::No;
            }
            let page = show::loaded(shipment, plan, &summaries, options.units());
            match options.put(page, &|out| show::json::load(shipment, plan, &summaries, out)) {
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
        let laid = place(filled, &shipment.bundles, variant, options.effort());
        if let Some(fault) = laid.fault {
            let label = &filled.label;
            Options::say(&format!("box {label}: no places found that keep every rule: {fault}"));
            exit = Exit::No;
        }
        if let Some(filled) = plan.boxes.get_mut(index) {
            filled.spots = laid.spots;
        }
    }
    exit
}

/// Says what a load breaks; whether there was anything.
fn judge(plan: &Plan, shipment: &Shipment, summaries: &[BoxSummary<'_>]) -> bool {
    let mut broken = !breaches(plan, &shipment.bundles).is_empty();
    for one in summaries {
        let places = faults_of_places(one.filled, &shipment.bundles, one.variant);
        for fault in places.iter().chain(&road_breaches(one)) {
            Options::say(&format!("box {}: {fault}", one.filled.label));
            broken = true;
        }
        for standing in &one.standing {
            for fault in shipment.yard.refuses(standing.bundle.limit_mass) {
                let (label, id) = (&one.filled.label, &standing.bundle.id);
                Options::say(&format!("box {label}: bundle {id}: {fault}"));
                broken = true;
            }
        }
    }
    broken
}
