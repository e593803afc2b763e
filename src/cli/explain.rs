//! `quaystone explain`: where each cent of one slab came from.

use std::collections::BTreeSet;
use std::io::Write;
use std::path::Path;

use super::job::{Exit, Lapsed, One, Options};
use crate::cost;
use crate::fault::tried;
use crate::ledger::{Reading, fold};
use crate::quantity::{Money, grouped};
use crate::read;
use crate::show::{self, Told};
use crate::trade::{Freeze, Shipment, Slab};

/// Arguments of `explain`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// The slab, by its number on the packing list; without it, the slabs are listed
    slab: Option<String>,
    /// A charge, by its name, such as "ocean freight": show how it came about
    charge: Option<String>,
    /// Show how every charge came about
    #[arg(long)]
    full: bool,
    /// As it was booked, whatever has become of rates since
    #[arg(long, conflicts_with_all = ["charge", "full", "carry"])]
    booked: bool,
    #[command(flatten)]
    lapsed: Lapsed,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    if args.booked {
        return booked(args, options);
    }
    options.with_costed(&args.one, &args.lapsed, |shipment, costed, _, report| {
        let asked = args.slab.as_deref();
        let slab = shipment.slabs.iter().position(|slab| asked == Some(&*slab.id));
        let Some(slab) = slab else {
            return Exit::BadCommand(Options::say(&no_slab(shipment, asked)));
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
            let borne = explanation.charges.iter().filter_map(|one| charges.get(one.charge));
            let names: BTreeSet<&str> = borne.map(|charge| &*charge.name).collect();
            let names: Vec<&str> = names.into_iter().collect();
            return Exit::BadCommand(Options::say(&format!(
                "error: the slab bears no charge \"{asked}\": write one of {}",
                names.join(", ")
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

/// What a booked estimate has of a slab.
fn booked(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let called = &args.one.shipment;
    let folder = options.folder_of(called);
    let name = folder.as_deref().and_then(Path::file_name).map(|name| name.to_string_lossy());
    let workspace = options.workspace(&mut report);
    let known = workspace.and_then(|workspace| {
        let known =
            name.map(|name| read::booked(&workspace, &name, read::Workings::Read, &mut report));
        known.transpose().map(Option::flatten)
    });
    let freeze = match Options::told(&report, known) {
        Ok(Some(freeze)) => freeze,
        Ok(None) => {
            let said = format!("error: {called} is not booked: quaystone book {called} books it");
            return Exit::BadCommand(Options::say(&said));
        }
        Err(exit) => return exit,
    };
    let asked = args.slab.as_deref().unwrap_or("");
    let piece = || piece(&freeze, asked, options);
    let packed = freeze.slab(asked).map(|slab| (slab, None));
    let Some((slab, cut)) = packed.or_else(piece) else {
        let known: Vec<&str> = freeze.slabs.iter().map(|slab| &*slab.id).collect();
        let said = format!("error: {called} has no slab \"{asked}\"; {}", listed(&known));
        return Exit::BadCommand(Options::say(&said));
    };
    match Options::fitted(show::explained_booked(&freeze, slab, cut)) {
        Ok(page) => {
            let json = |out: &mut dyn Write| show::json::explained_booked(&freeze, slab, out);
            options.put(&report, page, &json)
        }
        Err(exit) => exit,
    }
}

/// The slab that a piece was cut from, and what of its cost the piece has.
fn piece(freeze: &Freeze, asked: &str, options: &Options) -> Option<(usize, Option<String>)> {
    let books = tried(|report| read::books(&options.workspace(report)?, report))?;
    let ledger = tried(|report| fold(&books, (None, Reading::Posted), report))?;
    let shipment = books.freezes.iter().position(|one| one.shipment == freeze.shipment)?;
    let pieces = ledger.pieces.get(shipment)?;
    let at = pieces.iter().rposition(|piece| piece.slab.id == asked)?;
    let state = ledger.slabs.get(shipment)?.get(freeze.slabs.len() + at)?;
    let is_over = pieces.get(at)?.is_over;
    let mut of = pieces.get(at)?.of;
    while let Some(piece) = of.checked_sub(freeze.slabs.len()).and_then(|at| pieces.get(at)) {
        of = piece.of;
    }
    let cost = Money::from_minor(state.held, freeze.currency);
    let whole = &freeze.slabs.get(of)?.id;
    Some((
        of,
        Some(format!(
            "{asked} {} {whole}, and is {} at {cost}.",
            if is_over { "came over, is taken in like" } else { "is a piece of" },
            state.at.word()
        )),
    ))
}

/// What to type in place of a slab that is not there, or was not named.
fn no_slab(shipment: &Shipment, asked: Option<&str>) -> String {
    let name = &shipment.name;
    let known: Vec<&str> = shipment.slabs.iter().map(|slab| &*slab.id).collect();
    let (first, all) = (known.first().unwrap_or(&""), listed(&known));
    let Some(asked) = asked else {
        return format!("error: name a slab, such as quaystone explain {name} {first}; {all}");
    };
    let alike = known.iter().find(|slab| read::as_said(slab) == read::as_said(asked));
    let bundle = shipment.bundles.iter().position(|bundle| *bundle.id == *asked);
    let said = if let Some(meant) = alike {
        format!("did you mean \"{meant}\"?")
    } else if let Some(at) = bundle {
        let is_in = |slab: &&Slab| usize::try_from(slab.bundle) == Ok(at);
        let own: Vec<&str> = shipment.slabs.iter().filter(is_in).map(|slab| &*slab.id).collect();
        let all = listed(&own);
        format!("it is a bundle, {all}; its cost: quaystone cost {name} --by bundle")
    } else {
        all
    };
    format!("error: {name} has no slab \"{asked}\"; {said}")
}

/// The most slabs that are listed by name.
const MOST_LISTED: usize = 12;

fn listed(slabs: &[&str]) -> String {
    match slabs {
        [first, .., last] if slabs.len() > MOST_LISTED => {
            format!("its {} slabs run from {first} to {last}", grouped(slabs.len().into()))
        }
        _ => format!("its slabs are {}", slabs.join(", ")),
    }
}
