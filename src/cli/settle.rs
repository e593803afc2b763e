//! `quaystone settle`: what was estimated against what was billed.

use std::io::Write;

use super::job::{Exit, Options};
use super::ledger::{Booked, with_booked};
use crate::ledger::{by_currency, open_by_age, settled, together};
use crate::show;

pub(super) fn run(args: &Booked, options: &Options) -> Exit {
    with_booked(options, args, |ledger, shipment, on, report| {
        let all = Options::fitted(settled(ledger, shipment, on))?;
        let ages = Options::fitted(open_by_age(&all))?;
        let sums = Options::fitted(by_currency(&all))?;
        let rows = Options::fitted(together(&all))?;
        let json =
            |out: &mut dyn Write| show::json::settle(ledger, shipment, (&all, &sums), on, out);
        Ok(options.put(
            report,
            show::settle(ledger, shipment, (&all, &rows), (&sums, &ages), on),
            &json,
        ))
    })
}
