//! `quaystone worksheet`: each customs entry, line by line, for a broker to confirm.

use std::io::Write;

use super::job::{Exit, Lapsed, One, Options};
use crate::cost::Landed;
use crate::customs::{self, Sheet};
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
        let sheets = match sheets(landed) {
            Ok(sheets) => sheets,
            Err(exit) => return exit,
        };
        let page = show::worksheet(shipment, landed, tariffs, &sheets);
        let json = |out: &mut dyn Write| show::worksheet_json(shipment, landed, &sheets, out);
        options.put(report, page, &json)
    })
}

/// The customs entries line by line; an end where they cannot be added up.
pub(super) fn sheets(landed: &Landed) -> Result<Vec<Sheet<'_>>, Exit> {
    customs::worksheet(&landed.entries, &landed.charges).ok_or_else(|| {
        let said = "error: the figures of these entries are too large to add up";
        Exit::BadData(Options::say(said))
    })
}
