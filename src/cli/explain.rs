//! `quaystone explain`: where each cent of one slab came from.

use std::io::Write;

use super::job::{Exit, Lapsed, One, Options};
use crate::cost;
use crate::read;
use crate::show::{self, Told};
use crate::trade::{Shipment, Slab};

/// Arguments of `explain`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// The slab, by its number on the packing list
    slab: String,
    /// A charge, by its name, such as "ocean freight": show how it came about
    charge: Option<String>,
    /// Show how every charge came about
    #[arg(long)]
    full: bool,
    #[command(flatten)]
    lapsed: Lapsed,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_costed(&args.one, &args.lapsed, |shipment, costed, _, report| {
        let Some(slab) = shipment.slabs.iter().position(|slab| *slab.id == *args.slab) else {
            return Exit::BadCommand(Options::say(&format!(
                "error: {} has no slab \"{}\"; {}",
                shipment.name,
                args.slab,
                slabs_of(shipment, &args.slab)
            )));
        };
        let explanation = cost::explain(shipment, &costed.landed, slab);
        let Some(explanation) = explanation else {
            let said = "error: the figures of this slab are too large to explain";
            return Exit::BadData(Options::say(said));
        };
        let told = match &args.charge {
            Some(charge) => Told::Charge(charge),
            None if args.full => Told::Full,
            None => Told::Summary,
        };
        let charges = &costed.landed.charges;
        let mut own = explanation.charges.iter().filter_map(|one| charges.get(one.charge));
        if let Told::Charge(asked) = told
            && !own.any(|charge| charge.name.eq_ignore_ascii_case(asked))
        {
            return Exit::BadCommand(Options::say(&format!(
                "error: slab {} bears no charge \"{asked}\"; without a charge its table names all of them",
                args.slab
            )));
        }
        let page = show::explained(shipment, costed, &explanation, told, options.units());
        let Some(page) = page else {
            let said = "error: the figures of this slab are too large to show";
            return Exit::BadData(Options::say(said));
        };
        let json =
            |out: &mut dyn Write| show::json::explain(shipment, &costed.landed, &explanation, out);
        options.put(report, page, &json)
    })
}

/// A hint at the slab meant.
fn slabs_of(shipment: &Shipment, asked: &str) -> String {
    let known: Vec<&str> = shipment.slabs.iter().map(|slab| &*slab.id).collect();
    let meant = |slab: &&&str| read::as_said(slab) == read::as_said(asked);
    let bundle = shipment.bundles.iter().position(|bundle| *bundle.id == *asked);
    if let Some(at) = bundle {
        let is_in = |slab: &&Slab| usize::try_from(slab.bundle) == Ok(at);
        let own: Vec<&str> = shipment.slabs.iter().filter(is_in).map(|slab| &*slab.id).collect();
        let first = own.first().unwrap_or(&"");
        return format!(
            "it is a bundle of {}, {first} the first; its cost: quaystone cost {} --by bundle",
            if let [_] = own[..] { "1 slab".to_owned() } else { format!("{} slabs", own.len()) },
            shipment.name
        );
    }
    match (known.iter().find(meant), &known[..]) {
        (Some(meant), _) => format!("did you mean \"{meant}\"?"),
        (None, [first, .., last]) => format!("its {} run from {first} to {last}", known.len()),
        (None, _) => format!("it has {}", known.join(", ")),
    }
}
