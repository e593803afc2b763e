//! `quaystone load`: which bundle in which box, and where.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::job::{Exit, Options};
use super::together;
use crate::cost::Costed;
use crate::load::{BoxSummary, Breach, Broken, Plan, Proof, breaches, place, summary, unkept};
use crate::read;
use crate::show::{self, Load, Verdict};
use crate::trade::Shipment;

/// Arguments of `load`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path; several that share boxes are planned together
    #[arg(required = true)]
    shipments: Vec<String>,
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

    /// The option given that is for one shipment alone.
    fn of_one(&self) -> Option<&'static str> {
        let given =
            [("--check", &self.check), ("--drawing", &self.drawing), ("--freeze", &self.freeze)];
        given.into_iter().find(|(_, file)| file.is_some()).map(|(option, _)| option)
    }
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let [shipment] = &args.shipments[..] else {
        return match args.of_one() {
            Some(option) => {
                Options::say(&format!(
                    "error: {option} is for one shipment: load each alone, with its share for a count"
                ));
                Exit::BadCommand
            }
            None => together::run(&args.shipments, options),
        };
    };
    let files: Vec<&Path> = args.drawing.iter().chain(&args.freeze).map(PathBuf::as_path).collect();
    match options.refuse_one_path_twice(&files) {
        Exit::Done => {}
        other => return other,
    }
    let other = args.check.as_deref();
    options.with_costed_as(
        shipment,
        |workspace, shipment, tariffs, report| match other {
            Some(path) => read::other_plan(workspace, path, shipment, tariffs, report),
            None => Some(()),
        },
        |shipment, costed, _| {
            let found = Found::of(shipment, costed, options);
            let costed = &*costed;
            let Some(judged) = Judged::of(shipment, costed, found) else { return Exit::BadData };
            let exit = if judged.broken.is_empty() { Exit::Done } else { Exit::No };
            let writes = args.writes() || options.writes();
            if exit != Exit::Done && writes {
                Options::say("nothing is written: the load breaks what is said above");
            }
            if exit != Exit::Done && options.writes() {
                return exit;
            }
            let summaries = &judged.summaries;
            let beside = if exit == Exit::Done {
                beside(args, options, shipment, costed, summaries)
            } else {
                Vec::new()
            };
            let load = Load { shipment, costed, summaries, verdict: judged.verdict() };
            let page = show::loaded(load, options.units());
            let json = |out: &mut dyn Write| show::json::load(load, out);
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
    costed: &Costed,
    summaries: &[BoxSummary<'_>],
) -> Vec<(&'a Path, Vec<u8>)> {
    let drawing = args.drawing.as_deref().map(|path| {
        (path, show::drawing(shipment, &costed.choice, summaries, options.units()).into_bytes())
    });
    let frozen = args.freeze.as_deref();
    let frozen = frozen.map(|path| (path, show::frozen(shipment, costed, summaries).into_bytes()));
    drawing.into_iter().chain(frozen).collect()
}

/// What looking for the places of a given load came to.
pub(super) struct Found {
    /// By box, whether it came with places.
    had_places: Vec<bool>,
    /// Why some have none.
    broken: Vec<String>,
}

impl Found {
    /// Works out places for the boxes of a given load that come without.
    pub(super) fn of(shipment: &Shipment, costed: &mut Costed, options: &Options) -> Self {
        let plan = &mut costed.plan;
        let had_places = plan.boxes.iter().map(|filled| filled.spots.is_some()).collect();
        let is_given = plan.proof == Proof::Given;
        let broken = if is_given { find_places(plan, shipment, options) } else { Vec::new() };
        Self { had_places, broken }
    }
}

/// A load with its boxes summed up, and all that it breaks.
pub(super) struct Judged<'a> {
    pub(super) summaries: Vec<BoxSummary<'a>>,
    pub(super) broken: Vec<String>,
    limits: Vec<Breach>,
}

impl<'a> Judged<'a> {
    /// Says what it breaks; `None`: a figure cannot be held, which is said.
    pub(super) fn of(shipment: &'a Shipment, costed: &'a Costed, found: Found) -> Option<Self> {
        let plan = &costed.plan;
        let summaries = plan.boxes.iter().map(|filled| summary(plan, filled, &shipment.bundles));
        let summaries = match summaries.collect::<Result<Vec<_>, _>>() {
            Ok(summaries) => summaries,
            Err(overflow) => {
                Options::say(&format!("error: {overflow}"));
                return None;
            }
        };
        let limits = breaches(plan, &shipment.bundles, &shipment.yard);
        let mut broken = found.broken;
        broken.extend(judge(plan, shipment, &limits, &found.had_places));
        Some(Self { summaries, broken, limits })
    }

    pub(super) fn verdict(&self) -> Verdict<'_> {
        Verdict { broken: &self.broken, limits: &self.limits }
    }
}

/// Works out places for the boxes of a given load that come without; why some have none.
fn find_places(plan: &mut Plan, shipment: &Shipment, options: &Options) -> Vec<String> {
    // Where a mass or a bundle is over a limit, that is why.
    let limits = breaches(plan, &shipment.bundles, &shipment.yard);
    let is_broken =
        |at: usize| limits.iter().any(|one| one.filled == at && one.broken != Broken::Places);
    let mut all = Vec::new();
    for index in 0..plan.boxes.len() {
        let Some(filled) = plan.boxes.get(index).filter(|filled| filled.spots.is_none()) else {
            continue;
        };
        let Some(variant) = plan.variant(filled) else {
            continue;
        };
        let laid = place(filled, &shipment.bundles, variant, options.effort());
        if let Some(fault) = laid.fault.filter(|_| !is_broken(index)) {
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

/// Everything that a load breaks, in sentences. What costing a given load has not warned of is said:
/// what the places break that were found for it.
fn judge(plan: &Plan, shipment: &Shipment, limits: &[Breach], had_places: &[bool]) -> Vec<String> {
    let is_given = plan.proof == Proof::Given;
    let is_warned = |breach: &&Breach| {
        let of_given =
            breach.broken != Broken::Places || had_places.get(breach.filled) == Some(&true);
        is_given && of_given
    };
    for breach in limits.iter().filter(|breach| !is_warned(breach)) {
        Options::say(&breach.cited(plan));
    }
    let asked = unkept(plan, &shipment.bundles, &shipment.load);
    let limits = limits.iter().map(|breach| breach.cited(plan));
    limits.chain(asked.iter().map(|one| format!("{} ({})", one.what, one.place))).collect()
}
