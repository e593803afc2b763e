//! `quaystone worksheet`: each customs entry, line by line, for a broker to confirm.

use std::io::Write;

use super::job::{Exit, Lapsed, One, Options};
use crate::customs;
use crate::show;

/// Arguments of `worksheet`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    #[command(flatten)]
    lapsed: Lapsed,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_costed(&args.one, &args.lapsed, |shipment, costed, tariffs, report| {
        let landed = &costed.landed;
        let Some(sheets) = customs::worksheet(&landed.entries, &landed.charges) else {
            let said = "error: the figures of these entries are too large to add up";
            return Exit::BadData(Options::say(said));
        };
        let page = show::worksheet(shipment, landed, tariffs, &sheets);
        let json = |out: &mut dyn Write| show::worksheet_json(shipment, landed, &sheets, out);
        options.put(report, page, &json)
    })
}
