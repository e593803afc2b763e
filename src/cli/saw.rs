//! `quaystone saw`: what comes of a block, and by which method it costs least.

use std::io::Write;

use super::job::{Exit, One, Options};
use crate::decide;
use crate::read;
use crate::show::{self, SawPage};

/// Arguments of `saw`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let read = read::shipment(&workspace, args.one.asked(), &tariffs, &mut report);
    let units = options.units();
    // What was asked of the shipment is told with what comes of its blocks, once.
    let sawn = read
        .as_ref()
        .map_err(|told| *told)
        .and_then(|shipment| Ok((shipment, decide::saw(shipment, &tariffs, units, &mut report)?)));
    let (shipment, blocks) = match Options::told(&report, sawn) {
        Ok(sawn) => sawn,
        Err(exit) => return exit,
    };
    if blocks.is_empty() {
        let said = format!(
            "error: {} has no block: its [[invoice]] lists slabs; shipments/README.md shows [[invoice.block]]",
            shipment.called()
        );
        return Exit::BadCommand(Options::say(&said));
    }
    let page = SawPage { shipment, blocks: &blocks, units };
    let json = |out: &mut dyn Write| show::json::saw(&page, out);
    options.put(&report, show::saw(&page), &json)
}
