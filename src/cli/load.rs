//! `quaystone load`: which bundle in which box, and where.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::job::{Exit, Options};
use crate::load::{
    BoxSummary, Plan, Proof, breaches, faults_of_places, place, road_breaches, summary, unkept,
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
    let files: Vec<&Path> = args.drawing.iter().chain(&args.freeze).map(PathBuf::as_path).collect();
    match options.refuse_one_path_twice(&files) {
        Exit::Done => {}
        other => return other,
    }
    let other = args.check.as_deref();
    options.with_costed_as(
        &args.shipment,
        |workspace, shipment, tariffs, report| match other {
            Some(path) => read::other_plan(workspace, path, shipment, tariffs, report),
            None => Some(()),
        },
        |shipment, costed, _| {
            let mut broken = Vec::new();
            if costed.plan.proof == Proof::Given {
                broken = find_places(&mut costed.plan, shipment, options);
            }
            let costed = &*costed;
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
            broken.extend(judge(plan, shipment, &summaries));
            let exit = if broken.is_empty() { Exit::Done } else { Exit::No };
            let writes = args.writes() || options.writes();
            if exit != Exit::Done && writes {
                Options::say("nothing is written: the load breaks what is said above");
            }
            if exit != Exit::Done && options.writes() {
                return exit;
            }
            let beside = if exit == Exit::Done {
                beside(args, options, shipment, plan, &summaries)
            } else {
                Vec::new()
            };
            let page = show::loaded(shipment, costed, &summaries, &broken, options.units());
            let json =
                |out: &mut dyn Write| show::json::load(shipment, costed, &summaries, &broken, out);
            match options.put_with(page, &json, beside) {
                Exit::Done => exit,
                other => other,
            }
        },
    )
}

/// The drawing and the frozen plan, where asked for.
fn beside<'a>(
    args: &'a Args,
    options: &Options,
    shipment: &Shipment,
    plan: &Plan,
    summaries: &[BoxSummary<'_>],
) -> Vec<(&'a Path, Vec<u8>)> {
    let drawing = args
        .drawing
        .as_deref()
        .map(|path| (path, show::drawing(shipment, summaries, options.units()).into_bytes()));
    let frozen = args.freeze.as_deref();
    let frozen = frozen.map(|path| (path, show::frozen(shipment, plan, summaries).into_bytes()));
    drawing.into_iter().chain(frozen).collect()
}

/// Works out places for the boxes of a given load that come without; why some have none.
fn find_places(plan: &mut Plan, shipment: &Shipment, options: &Options) -> Vec<String> {
    let mut all = Vec::new();
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
            all.push(format!("box {label}: no places found that keep every rule: {fault}"));
        }
        if let Some(filled) = plan.boxes.get_mut(index) {
            filled.spots = laid.spots;
        }
    }
    for fault in &all {
        Options::say(fault);
    }
    all
}

/// Everything that a load breaks, in sentences; what was no warning yet is said.
fn judge(plan: &Plan, shipment: &Shipment, summaries: &[BoxSummary<'_>]) -> Vec<String> {
    let mut all: Vec<String> = breaches(plan, &shipment.bundles)
        .iter()
        .map(|breach| format!("{} ({})", breach.sentence(plan), breach.limit.place))
        .collect();
    let asked = unkept(plan, &shipment.bundles, &shipment.load);
    all.extend(asked.iter().map(|unkept| format!("{} ({})", unkept.what, unkept.place)));
    let warned = all.len();
    for one in summaries {
        let label = &one.filled.label;
        let places = faults_of_places(one.filled, &shipment.bundles, one.variant);
        all.extend(
            places.iter().chain(&road_breaches(one)).map(|fault| format!("box {label}: {fault}")),
        );
        for standing in &one.standing {
            let id = &standing.bundle.id;
            let faults = shipment.yard.refuses(standing.bundle.limit_mass);
            all.extend(faults.iter().map(|fault| format!("box {label}: bundle {id}: {fault}")));
        }
    }
    for fault in all.iter().skip(warned) {
        Options::say(fault);
    }
    all
}
