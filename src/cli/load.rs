//! `quaystone load`: the box and place of each bundle.

use std::io::Write;
use std::path::{Path, PathBuf};

use clap::ValueEnum;

use super::job::{Beside, Exit, Options, Sheets};
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
    /// Draw the load into this file, as SVG, with a sheet for each box
    #[arg(long, value_name = "FILE")]
    drawing: Option<PathBuf>,
    #[command(flatten)]
    sheets: Sheets,
    /// Keep the load as the shipment's plan.toml, or write it to FILE
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

    /// The option given that is for one shipment alone.
    fn of_one(&self) -> Option<&'static str> {
        let given = [
            ("--way", self.way.is_some()),
            ("--check", self.check.is_some()),
            ("--drawing", self.drawing.is_some()),
            ("--freeze", self.freeze.is_some()),
            ("--for", self.audience.is_some()),
        ];
        given.into_iter().find(|(_, is_given)| *is_given).map(|(option, _)| option)
    }

    /// The option given whose file is "-".
    fn to_stdout(&self) -> Option<&'static str> {
        let is_dash = |path: Option<&PathBuf>| path.is_some_and(|path| path == Path::new("-"));
        let frozen = self.freeze.as_ref().and_then(Option::as_ref);
        let given = [("--drawing", is_dash(self.drawing.as_ref())), ("--freeze", is_dash(frozen))];
        given.into_iter().find(|(_, is_dash)| *is_dash).map(|(option, _)| option)
    }

    /// Where the load is kept: in the file named, or where the shipment is read from.
    fn frozen(&self, shipment: &str, options: &Options) -> Option<PathBuf> {
        match self.freeze.as_ref()? {
            Some(file) => Some(file.clone()),
            None => Some(options.folder_of(shipment)?.join("plan.toml")),
        }
    }
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let [shipment] = &args.shipments[..] else {
        return match args.of_one() {
            Some(option) => {
                let said = format!(
                    "error: {option} is for one shipment: load each alone, with its share for a count"
                );
                Exit::BadCommand(Options::say(&said))
            }
            None => together::run(&args.shipments, args.sheets, options),
        };
    };
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
    let frozen = args.frozen(shipment, options);
    let files: Vec<&Path> = args.drawing.iter().chain(&frozen).map(PathBuf::as_path).collect();
    if let Err(exit) = options.refuse_one_path_twice(&files) {
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
                return send(args, whom, frozen.as_deref(), options, load, report);
            }
            let holds = costed.verdict.holds();
            if !holds && (args.writes() || options.writes()) {
                let said = "nothing is written: the load breaks the limits or requests above";
                let said = Options::say(said);
                if options.writes() {
                    return Exit::No(said);
                }
            }
            let beside =
                if holds { beside(args, frozen.as_deref(), options, load) } else { Vec::new() };
            let page = show::loaded(load, options.units(), args.sheets.ground(options));
            let json = |out: &mut dyn Write| show::json::load(load, out);
            match options.put_with(report, page, &json, beside) {
                Exit::Done(said) if !holds => Exit::No(said),
                Exit::Done(said) => {
                    if let Some(path) = &frozen {
                        Options::say(&format!("the load is kept in {}", path.display()));
                    }
                    Exit::Done(said)
                }
                other => other,
            }
        },
    )
}

/// Writes what others may be told of a load that holds.
fn send(
    args: &Args,
    whom: Whom,
    frozen: Option<&Path>,
    options: &Options,
    load: Load<'_>,
    report: &Report,
) -> Exit {
    let told = match told_to(whom, args.invoice.as_deref(), load) {
        Ok(told) => told,
        Err(exit) => return exit,
    };
    if frozen.is_some() && whom == Whom::Supplier && Goods::suppliers(load.shipment).len() > 1 {
        return Exit::BadCommand(Options::say(
            "error: a plan names every bundle, and a supplier is told of no other's: send the page",
        ));
    }
    letter::say_what_goes_out(&Requests { wishes: args.wishes.clone(), ..Requests::default() });
    let mut beside = Vec::new();
    if let Some(path) = args.drawing.as_deref() {
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

/// The drawing and the frozen plan, where asked for.
fn beside<'a>(
    args: &'a Args,
    frozen: Option<&'a Path>,
    options: &Options,
    load: Load<'_>,
) -> Vec<Beside<'a>> {
    let Load { shipment, costed, summaries } = load;
    let drawing = args.drawing.as_deref();
    let drawing = drawing.map(|path| {
        let contents = show::drawing(load, options.units(), args.sheets.paper()).into_bytes();
        Beside { path, contents: files::bytes(contents), is_plan: false }
    });
    let frozen = frozen.map(|path| {
        let contents = show::frozen(shipment, costed, summaries).into_bytes();
        Beside { path, contents: files::bytes(contents), is_plan: true }
    });
    drawing.into_iter().chain(frozen).collect()
}
