//! `quaystone cash`: payments by due date.

use std::io::Write;

use super::job::{Exit, Lapsed, One, Options};
use crate::show;

/// Arguments of `cash`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    #[command(flatten)]
    lapsed: Lapsed,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_paid(&args.one, &args.lapsed, |shipment, _, _, (cash, report)| {
        let json = |out: &mut dyn Write| show::json::cash(shipment, &cash, out);
        options.put(report, show::paid(shipment, &cash), &json)
    })
}
