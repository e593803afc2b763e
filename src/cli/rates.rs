//! `quaystone rates`: rates in force, and when they lapse.

use super::job::{Exit, Options, day};
use crate::fault::tried;
use crate::trade::{Date, Shipment};
use crate::{read, show};

/// Arguments of `rates`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Only rates in force on this day
    #[arg(long, value_name = "DATE", value_parser = day)]
    on: Option<Date>,
    /// List the ports that a delivery term may name, in place of rates
    #[arg(long, conflicts_with = "on")]
    ports: bool,
    /// List the starter figures: those of `init` that you have yet to replace, with file and line
    #[arg(long, conflicts_with_all = ["on", "ports"])]
    starter: bool,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    if let Err(exit) = Options::tell(&report) {
        return exit;
    }
    if args.ports {
        let page = show::ports(&tariffs.ports);
        return options.put(&report, page, &|out| show::json::ports(&tariffs.ports, out));
    }
    if args.starter {
        // A shipment that cannot be read is told by the command that reads it.
        let names = workspace.shipment_names();
        let read = |name: &String| tried(|own| read::shipment(&workspace, name, &tariffs, own));
        let shipments: Vec<Shipment> = names.iter().filter_map(read).collect();
        let figures = show::starter_figures(&tariffs, &shipments, options.units());
        let page = show::starters(&figures);
        return options.put(&report, page, &|out| show::json::starters(&figures, out));
    }
    let page = show::rates(&tariffs, args.on, options.units());
    options.put(&report, page, &|out| show::json::rates(&tariffs, args.on, out))
}
