//! `quaystone load`: the box and place of each bundle.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;

use super::job::{Beside, Exit, Options, Sheets};
use super::loaded::{self, Wanted};
use super::{letter, together};
use crate::fault::Report;
use crate::files;
use crate::load;
use crate::outgoing::{Goods, OutgoingLoad, Requests};
use crate::read::{self, Asked};
use crate::show::{self, Load};

/// Arguments of `load`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path; several are planned together where they share boxes
    #[arg(required = true)]
    shipments: Vec<String>,
    /// The way to buy it, by the `id` of a [[way]] [default: as it is written]
    #[arg(long, value_name = "ID")]
    way: Option<String>,
    /// Check the plan in this file, written as plan.toml, instead of planning
    #[arg(long, value_name = "FILE")]
    check: Option<PathBuf>,
    /// Draw the load, or those of several, into this file, as SVG, with a sheet for each box
    #[arg(long, value_name = "FILE")]
    drawing: Option<PathBuf>,
    #[command(flatten)]
    sheets: Sheets,
    /// Keep the load as the shipment's plan.toml, or write it to FILE; of several, each as its own plan.toml
    #[arg(long, value_name = "FILE", num_args = 0..=1)]
    #[expect(clippy::option_option, reason = "the option may come with a file and without")]
    freeze: Option<Option<PathBuf>>,
    /// A page that may leave the house: no costs, rates, limits, files, or other suppliers
    #[arg(long = "for", value_enum, value_name = "WHOM")]
    audience: Option<Whom>,
    /// With --for supplier, an invoice of that supplier, by its number, where there are several
    #[arg(long, value_name = "NUMBER", requires = "audience")]
    invoice: Option<String>,
    /// With --for, a wish in your own words, such as "lashing by the factory"; may be repeated
    #[arg(long = "wish", value_name = "TEXT", requires = "audience")]
    wishes: Vec<String>,
}

/// Whom a load is sent to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum Whom {
    /// The supplier, who fills the containers
    Supplier,
    /// The haulier at the destination
    Haulier,
}

impl Args {
    /// Whether it writes a file beside the result.
    pub(super) fn writes(&self) -> bool {
        self.drawing.is_some() || self.freeze.is_some()
    }

    /// What to type instead of an option that is for one shipment alone.
    fn of_one(&self) -> Option<String> {
        let names = self.shipments.join(" ");
        let first = self.shipments.first()?;
        if let Some(way) = &self.way {
            return Some(format!(
                "--way is for one shipment: quaystone load {first} --way {way}; several are planned as they are written"
            ));
        }
        if let Some(file) = &self.check {
            let file = file.display();
            return Some(format!(
                "--check judges the plan of one shipment: quaystone load {first} --check {file}"
            ));
        }
        if let Some(whom) = self.audience.and_then(|whom| whom.to_possible_value()) {
            let whom = whom.get_name();
            return Some(format!(
                "--for tells of one shipment: keep the loads, quaystone load {names} --freeze, then quaystone load {first} --for {whom}"
            ));
        }
        let file = self.freeze.as_ref()?.as_ref()?.display();
        Some(format!(
            "{file} holds the plan of one shipment: quaystone load {names} --freeze keeps each as its own plan.toml"
        ))
    }

    /// The shipment that stands where --freeze has its file.
    fn kept_as_shipment(&self, options: &Options) -> Option<String> {
        let file = self.freeze.as_ref()?.as_ref()?;
        let name = file.to_str().filter(|_| !file.is_file())?;
        options.folder_of(name)?;
        let others = self.shipments.join(" ");
        Some(format!(
            "\"{name}\" is a shipment, and --freeze has its file there: quaystone load {name} {others} --freeze"
        ))
    }

    /// The option given whose file is "-".
    fn to_stdout(&self) -> Option<&'static str> {
        let is_dash = |path: Option<&PathBuf>| path.is_some_and(|path| path == Path::new("-"));
        let frozen = self.freeze.as_ref().and_then(Option::as_ref);
        let given = [("--drawing", is_dash(self.drawing.as_ref())), ("--freeze", is_dash(frozen))];
        given.into_iter().find(|(_, is_dash)| *is_dash).map(|(option, _)| option)
    }

    /// The files beside the page. A load is kept in the file named, or where its shipment is read from.
    fn wanted(&self, options: &Options) -> Wanted<'_> {
        let plans = match &self.freeze {
            None => Vec::new(),
            Some(Some(file)) => vec![file.clone()],
            Some(None) => {
                // A shipment that is not there is told where it is read.
                let folders = self.shipments.iter().filter_map(|name| options.folder_of(name));
                folders.map(|folder| folder.join("plan.toml")).collect()
            }
        };
        Wanted { drawing: self.drawing.as_deref(), sheets: self.sheets, plans }
    }
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let said = args.kept_as_shipment(options);
    let said = said.or_else(|| args.of_one().filter(|_| args.shipments.len() > 1));
    if let Some(said) = said {
        return Exit::BadCommand(Options::say(&format!("error: {said}")));
    }
    if args.audience.is_some() && args.freeze == Some(None) {
        let said = "error: --freeze with --for needs the FILE that is sent";
        return Exit::BadCommand(Options::say(said));
    }
    if args.audience == Some(Whom::Haulier) && args.invoice.is_some() {
        let said = "error: --invoice names a supplier, and a haulier is told of none";
        return Exit::BadCommand(Options::say(said));
    }
    if let Some(option) = args.to_stdout() {
        let said = format!("error: {option} needs the name of a file: stdout is the result's");
        return Exit::BadCommand(Options::say(&said));
    }
    let [shipment] = &args.shipments[..] else {
        return together::run(&args.shipments, &args.wanted(options), options);
    };
    let wanted = args.wanted(options);
    if let Err(exit) = wanted.refuse_one_path_twice(options) {
        return exit;
    }
    let other = args.check.as_deref();
    options.with_costed_as(
        (Asked { name: shipment, way: args.way.as_deref() }, false),
        |workspace, shipment, tariffs, report| match other {
            Some(path) => read::other_plan(workspace, path, shipment, tariffs, report),
            None => Ok(()),
        },
        |shipment, costed, tariffs, report| {
            load::prefer(&mut costed.plan, &costed.verdict, shipment, tariffs, options.units());
            let costed = &*costed;
            let summaries = match Options::summed_up(shipment, costed, tariffs) {
                Ok(summaries) => summaries,
                Err(exit) => return exit,
            };
            let summaries = &summaries[..];
            let load = Load { shipment, costed, summaries };
            if let Some(whom) = args.audience {
                return send(args, whom, &wanted, options, load, report);
            }
            let page = show::loaded(load, options.units(), args.sheets.ground(options));
            let json = |out: &mut dyn Write| show::json::load(load, out);
            loaded::put(&wanted, options, (&[load], None), report, (page, &json))
        },
    )
}

/// Writes what others may be told of a load that holds.
fn send(
    args: &Args,
    whom: Whom,
    wanted: &Wanted<'_>,
    options: &Options,
    load: Load<'_>,
    report: &Report,
) -> Exit {
    let told = match told_to(whom, args.invoice.as_deref(), load) {
        Ok(told) => told,
        Err(exit) => return exit,
    };
    let frozen = wanted.plans.first();
    if frozen.is_some() && whom == Whom::Supplier && Goods::suppliers(load.shipment).len() > 1 {
        return Exit::BadCommand(Options::say(
            "error: a plan names every bundle, and a supplier is told of no other's: send the page",
        ));
    }
    letter::say_what_goes_out(&Requests { wishes: args.wishes.clone(), ..Requests::default() });
    let mut beside = Vec::new();
    if let Some(path) = wanted.drawing {
        let contents =
            show::outgoing_drawing(&told, options.units(), args.sheets.paper()).into_bytes();
        beside.push(Beside { path, contents: files::bytes(contents), is_plan: false });
    }
    if let Some(path) = frozen {
        let contents = show::outgoing_plan(&told).into_bytes();
        beside.push(Beside { path, contents: files::bytes(contents), is_plan: true });
    }
    let page =
        show::outgoing_load(&told, &args.wishes, options.units(), args.sheets.ground(options));
    let json = |out: &mut dyn Write| show::json::outgoing_load(&told, &args.wishes, out);
    options.put_with(report, page, &json, beside)
}

/// What somebody else may be told of a load that holds; of another, nobody is told anything.
pub(super) fn told_to<'a>(
    whom: Whom,
    invoice: Option<&str>,
    Load { shipment, costed, summaries }: Load<'a>,
) -> Result<OutgoingLoad<'a>, Exit> {
    if !costed.verdict.holds() {
        let said = Options::say("the load is not sent: it is not to be loaded so");
        for what in costed.verdict.broken() {
            Options::say(&format!("  {what}"));
        }
        return Err(Exit::No(said));
    }
    Options::fitted(match whom {
        Whom::Haulier => OutgoingLoad::for_haulier(shipment, summaries),
        Whom::Supplier => {
            let supplier = letter::supplier(shipment, invoice)?;
            OutgoingLoad::for_supplier(shipment, summaries, supplier)
        }
    })
}
