//! `quaystone rates`: rates in force, and when they lapse.

use super::job::{Exit, Options, day};
use crate::show;
use crate::trade::Date;

/// Arguments of `rates`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// Only rates in force on this day
    #[arg(long, value_name = "DATE", value_parser = day)]
    on: Option<Date>,
    /// List the ports that a delivery term may name, in place of rates
    #[arg(long, conflicts_with = "on")]
    ports: bool,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (_, tariffs) = match options.open(&mut report) {
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
    let page = show::rates(&tariffs, args.on, options.units());
    options.put(&report, page, &|out| show::json::rates(&tariffs, args.on, out))
}
