//! `quaystone settle`: what was estimated against what was billed.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{Booked, with_booked};
use crate::ledger::{open_by_age, settled};
use crate::show;

pub(super) fn run(args: &Booked, options: &Options) -> Exit {
    with_booked(options, args, |ledger, shipment, on, report| {
        let all = Options::fitted(settled(ledger, shipment, on))?;
        let ages = Options::fitted(open_by_age(&all))?;
        let json = |out: &mut dyn Write| show::json::settle(ledger, shipment, &all, on, out);
        Ok(options.put(report, show::settle(ledger, shipment, (&all, &ages), on), &json))
    })
}
