//! `quaystone book`: keeps the estimate of a shipment as the books have it from then on.

use std::io::Write;
use std::path::Path;

use super::job::{Exit, Lapsed, One, Options, Said};
use crate::book::{Words, changed, freeze};
use crate::choose::Costed;
use crate::fault::{Place, Report, tried};
use crate::files::{self, Refusal};
use crate::read::{self, Workspace};
use crate::show;
use crate::trade::{Freeze, Shipment, Tariffs};

/// Arguments of `book`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// Take the booking back: only before any event is written for the shipment
    #[arg(long)]
    reverse: bool,
    #[command(flatten)]
    lapsed: Lapsed,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    let mut report = options.report();
    let workspace = options.workspace(&mut report);
    let workspace = match Options::told(&report, workspace) {
        Ok(workspace) => workspace,
        Err(exit) => return exit,
    };
    let folder = workspace.folder_of(&args.one.shipment);
    let name = folder.as_deref().and_then(Path::file_name).map(|name| name.to_string_lossy());
    let known = name.map(|name| read::booked(&workspace, &name, read::Workings::Read, &mut report));
    let known = match Options::told(&report, known.transpose()) {
        Ok(known) => known.flatten(),
        Err(exit) => return exit,
    };
    if args.reverse {
        return reverse(&workspace, known.as_ref(), args);
    }
    options.with_costed(&args.one, &args.lapsed, |shipment, costed, tariffs, report| {
        let mut own = report.clone();
        let made = made(&workspace, (shipment, tariffs), costed, options, &mut own);
        let today = match Options::told(&own, made) {
            Ok(freeze) => freeze,
            Err(exit) => return exit,
        };
        if let Some(known) = &known {
            let differences = changed(known, &today);
            let json = |out: &mut dyn Write| show::json::booked(known, Some(&differences), out);
            return options.put(report, show::booked(known, Some(&differences)), &json);
        }
        if let Err(exit) = write(&workspace, &today) {
            return exit;
        }
        let json = |out: &mut dyn Write| show::json::booked(&today, None, out);
        options.put(report, show::booked(&today, None), &json)
    })
}

/// The freeze of what was costed.
fn made(
    workspace: &Workspace,
    (shipment, tariffs): (&Shipment, &Tariffs),
    costed: &Costed,
    options: &Options,
    report: &mut Report,
) -> Result<Freeze, crate::fault::Reported> {
    let units = options.units();
    let worked = |charge: &crate::bill::Charge| {
        let facts = show::working(charge, units);
        facts.into_iter().map(|(_, what)| what).collect()
    };
    let row = |place: &Place| row_text(workspace, place);
    freeze((shipment, tariffs), costed, Words { worked: &worked, row: &row }, report)
}

/// The text of the row that stands at a place: a table up to the next one or to an empty line, else its line.
fn row_text(workspace: &Workspace, place: &Place) -> String {
    let path = workspace.root().join(&*place.file);
    let source = tried(|report| files::read(&path, &place.file, report));
    let text = source.as_ref().map_or("", |source| source.text.as_str());
    let mut lines = text.lines().skip(place.line.saturating_sub(1));
    let first = lines.next().unwrap_or("");
    let is_table = first.starts_with('[');
    let own = lines.take_while(|line| is_table && !line.is_empty() && !line.starts_with('['));
    let all: Vec<&str> = std::iter::once(first).chain(own).collect();
    all.join("\n").trim().to_owned()
}

/// Writes the files of a freeze, all of them or none; never over others.
fn write(workspace: &Workspace, freeze: &Freeze) -> Result<(), Exit> {
    let files = show::freeze_files(freeze);
    let folder = read::freeze_folder(workspace, &freeze.shipment);
    files::write_new(&folder, &files, false)
        .map_err(|(name, refusal)| Options::not_written(Some(&folder.join(name)), &refusal))
}

fn reverse(workspace: &Workspace, known: Option<&Freeze>, args: &Args) -> Exit {
    let called = &args.one.shipment;
    let Some(freeze) = known else {
        let said = format!("error: {called} is not booked: there is nothing to take back");
        return Exit::BadCommand(Options::say(&said));
    };
    let folder = read::freeze_folder(workspace, &freeze.shipment);
    if folder.join("events.toml").exists() {
        let said = format!(
            "{called} stays booked: its events stand in {}; correct one by a reversing event",
            folder.join("events.toml").display()
        );
        return Exit::No(Options::say(&said));
    }
    let names = show::freeze_files(freeze);
    let paths: Vec<_> = names.iter().map(|(name, _)| folder.join(name)).collect();
    match files::remove(&paths) {
        Ok(()) => Exit::Done(taken_back(called)),
        Err(error) => Options::not_written(Some(&folder), &Refusal::System(error)),
    }
}

fn taken_back(called: &str) -> Said {
    Options::say(&format!("the booking of {called} is taken back"))
}
