//! `quaystone arrive`: what stood on the rack against the packing list.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{Booked, with_booked};
use crate::ledger::arrived;
use crate::show;

pub(super) fn run(args: &Booked, options: &Options) -> Exit {
    with_booked(options, args, |ledger, shipment, on, report| {
        let all = Options::fitted(arrived(ledger, shipment))?;
        let json = |out: &mut dyn Write| show::json::arrive(ledger, shipment, &all, on, out);
        let page = show::arrive(ledger, shipment, &all, (on, options.units()));
        Ok(options.put(report, page, &json))
    })
}
