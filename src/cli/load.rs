//! `quaystone load`: which bundle in which box, and where.

use std::io::Write;
use std::path::{Path, PathBuf};

use super::job::{Exit, Options};
use super::together;
use crate::choose::Costed;
use crate::load::BoxSummary;
use crate::read;
use crate::show::{self, Load};
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
            let costed = &*costed;
            let Some(summaries) = Options::summed_up(shipment, costed) else {
                return Exit::BadData;
            };
            let exit = if costed.verdict.holds() { Exit::Done } else { Exit::No };
            let writes = args.writes() || options.writes();
            if exit != Exit::Done && writes {
                Options::say("nothing is written: the load breaks what is said above");
            }
            if exit != Exit::Done && options.writes() {
                return exit;
            }
            let summaries = &summaries[..];
            let beside = if exit == Exit::Done {
                beside(args, options, shipment, costed, summaries)
            } else {
                Vec::new()
            };
            let load = Load { shipment, costed, summaries };
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
    let load = Load { shipment, costed, summaries };
    let drawing = args.drawing.as_deref();
    let drawing = drawing.map(|path| (path, show::drawing(load, options.units()).into_bytes()));
    let frozen = args.freeze.as_deref();
    let frozen = frozen.map(|path| (path, show::frozen(shipment, costed, summaries).into_bytes()));
    drawing.into_iter().chain(frozen).collect()
}
