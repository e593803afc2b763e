//! `quaystone cost`: the landed cost of every slab.

use clap::ValueEnum;

use super::job::{Exit, Lapsed, One, Options};
use crate::choose::own_legs;
use crate::cost::By;
use crate::show;

/// Arguments of `cost`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// A row for each slab, bundle, container or invoice line
    #[arg(long, value_enum, default_value = "slab")]
    by: ByArg,
    #[command(flatten)]
    lapsed: Lapsed,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ByArg {
    Slab,
    Bundle,
    Container,
    Line,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let by = match args.by {
        ByArg::Slab => By::Slab,
        ByArg::Bundle => By::Bundle,
        ByArg::Container => By::Container,
        ByArg::Line => By::Line,
    };
    options.with_costed(&args.one, &args.lapsed, |shipment, costed, tariffs, report| {
        let own =
            if options.has_memos() { own_legs(shipment, tariffs, costed) } else { Vec::new() };
        // A list alone has no headline to say it in.
        let starters = show::on_starters(&costed.landed.headline.starters);
        if let Some(what) = starters.filter(|_| !options.has_memos()) {
            Options::say(&format!("{}: {what}", shipment.called()));
        }
        let page = show::costed(shipment, costed, &own, by, options.units());
        options.put(report, page, &|out| show::json::cost(shipment, costed, &own, by, out))
    })
}
