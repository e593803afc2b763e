//! `quaystone cost`: the landed cost of every slab.

use clap::ValueEnum;

use super::job::{Exit, Lapsed, One, Options};
use crate::choose::{Costed, own_legs};
use crate::cost::{By, Cash};
use crate::fault::Report;
use crate::show::{self, CostBook};
use crate::trade::{Shipment, Tariffs};

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
    if options.is_workbook() {
        return options.with_paid_or_not(
            &args.one,
            &args.lapsed,
            |shipment, costed, tariffs, (cash, report)| {
                let put =
                    put_book((shipment, costed, tariffs), cash.as_ref(), by, (options, report));
                put.unwrap_or_else(|exit| exit)
            },
        );
    }
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

/// Writes the workbook of a cost: customs and payments are part of it.
fn put_book(
    (shipment, costed, tariffs): (&Shipment, &Costed, &Tariffs),
    cash: Option<&Cash>,
    by: By,
    (options, report): (&Options, &Report),
) -> Result<Exit, Exit> {
    let own = own_legs(shipment, tariffs, costed);
    let sheets = super::worksheet::sheets(&costed.landed)?;
    if cash.is_none() {
        let (called, name) = (shipment.called(), &shipment.name);
        Options::say(&format!(
            "{called}: the workbook has no payments: `cash {name}` says what they lack"
        ));
    }
    let book = CostBook { shipment, costed, tariffs, own: &own, sheets: &sheets, cash };
    Ok(options.put(report, show::cost_book(book, by, options.units()), &|_| Ok(())))
}
