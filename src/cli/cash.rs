//! `quaystone cash`: what falls due when.

use super::job::{Exit, Options};
use crate::cost;
use crate::fault::Report;
use crate::show;

/// Arguments of `cash`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path
    shipment: String,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_costed(&args.shipment, |shipment, costed, tariffs| {
        let mut report = Report::new();
        let cash = cost::cash(shipment, tariffs, &costed, &mut report);
        match (Options::tell(&report), cash) {
            (Exit::Done, Some(cash)) => options
                .put(show::paid(shipment, &cash), &|out| show::json::cash(shipment, &cash, out)),
            (_, _) => Exit::BadData,
        }
    })
}
