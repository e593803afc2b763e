//! `quaystone cash`: payments by due date.

use std::io::Write;

use super::job::{Exit, Lapsed, One, Options};
use super::progress::Progress;
use crate::cost;
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
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let costed = {
        let _shown = Progress::show();
        let asked = (args.one.asked(), args.lapsed.carry);
        options.costed(&workspace, asked, &tariffs, &mut report)
    };
    // Payments after they were booked need rates of their own days: their faults join the others.
    let cash = costed.and_then(|(shipment, tariffs, costed)| {
        let cash = match costed {
            Ok(costed) => {
                let by = (&costed.plan, &costed.choice);
                Ok(cost::cash(&shipment, &tariffs, by, &costed.landed, &mut report)?)
            }
            Err(misfits) => Err(misfits),
        };
        Ok((shipment, cash))
    });
    match Options::told(&report, cash) {
        Ok((shipment, Ok(cash))) => {
            let json = |out: &mut dyn Write| show::json::cash(&shipment, &cash, out);
            options.put(&report, show::paid(&shipment, &cash), &json)
        }
        Ok((shipment, Err(misfits))) => Options::no_box(&shipment, &misfits, &report),
        Err(exit) => exit,
    }
}
