//! Shipments that a command writes: read and costed first, and written where that holds.

use std::collections::BTreeMap;
use std::path::Path;
use std::time::SystemTime;

use super::job::{Exit, Options, day};
use super::progress::Progress;
use crate::fault::{Code, Fault, Report};
use crate::files::{self, Refusal};
use crate::quantity::{Length, Money, Price, Size, Written};
use crate::read::{self, Asked, Workspace};
use crate::show::{self, Begun};
use crate::starter::NewFile;
use crate::trade::{Date, Window};

/// The figures of an offer that may be typed. For one left out `init` writes a starter figure, and `offer` takes that
/// of another offer.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "The offer")]
pub(super) struct Typed {
    /// The stone: its trade name in a new workspace, else an `id` of rates/stones.toml
    #[arg(long, value_name = "STONE", value_parser = word)]
    pub(super) stone: Option<String>,
    /// Who sells
    #[arg(long, value_name = "NAME", value_parser = word)]
    supplier: Option<String>,
    /// The delivery term, such as "FOB Chennai"
    #[arg(long, value_name = "TERM", value_parser = word)]
    term: Option<String>,
    /// The port of loading, where the term names none
    #[arg(long, value_name = "PORT", value_parser = word)]
    pub(super) from: Option<String>,
    /// The price, such as "5.20 USD/ft2"
    #[arg(long, value_name = "PRICE", value_parser = typed::<Price>)]
    price: Option<String>,
    /// The days on which it holds, such as 2026-03-01..2026-04-15
    #[arg(long, value_name = "DAYS", value_parser = typed::<Window>)]
    price_valid: Option<String>,
    /// The finish, such as polished
    #[arg(long, value_name = "WORD", value_parser = word)]
    finish: Option<String>,
    /// The thickness, such as "20 mm"
    #[arg(long, value_name = "LENGTH", value_parser = typed::<Length>)]
    thickness: Option<String>,
    /// How many bundles, where there is no packing list
    #[arg(long, value_name = "N", value_parser = count)]
    bundles: Option<String>,
    /// Slabs in each of them
    #[arg(long, value_name = "N", value_parser = count)]
    slabs: Option<String>,
    /// The size of a slab as sawn, such as "310 x 190 cm"
    #[arg(long, value_name = "SIZE", value_parser = typed::<Size>)]
    size: Option<String>,
    /// The day on which the ship sails [default in a new workspace: in 5 weeks]
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub(super) sails: Option<Date>,
    /// The day on which it arrives [default in a new workspace: 4 weeks later]
    #[arg(long, value_name = "DATE", value_parser = day)]
    pub(super) arrives: Option<Date>,
    /// The ocean freight of a 20' box, such as "1850 USD"; of a further offer from another port alone
    #[arg(long, value_name = "MONEY", value_parser = typed::<Money>)]
    freight: Option<String>,
    /// The days of sailing on which it holds [default: a year]
    #[arg(long, value_name = "DAYS", value_parser = typed::<Window>, requires = "freight")]
    freight_valid: Option<String>,
}

impl Typed {
    /// What was typed, with more beside it, by its key in the files.
    pub(super) fn named(
        self,
        more: impl IntoIterator<Item = (&'static str, Option<String>)>,
    ) -> BTreeMap<&'static str, String> {
        let own = [
            ("supplier", self.supplier),
            ("term", self.term),
            ("price", self.price),
            ("price-valid", self.price_valid),
            ("finish", self.finish),
            ("thickness", self.thickness),
            ("bundles", self.bundles),
            ("slabs", self.slabs),
            ("size", self.size),
            ("freight", self.freight),
            ("freight-valid", self.freight_valid),
        ];
        own.into_iter().chain(more).filter_map(|(name, text)| Some((name, text?))).collect()
    }
}

/// Files of a shipment that count wherever they are.
const PACKING: &str = "packing.csv";
const PLAN: &str = "plan.toml";

/// The day it is, by universal time.
pub(super) fn today() -> Date {
    chrono::DateTime::<chrono::Utc>::from(SystemTime::now()).date_naive()
}

/// A text of the command line that is written in a form.
pub(super) fn typed<T: Written>(text: &str) -> Result<String, String> {
    let help = || read::meant::<T>(text).unwrap_or_else(|| format!("expected {}", T::FORM));
    T::read(text.trim()).map_err(|_| help())?;
    Ok(text.trim().to_owned())
}

/// A word of the command line.
pub(super) fn word(text: &str) -> Result<String, String> {
    let text = text.trim();
    let is_plain = !text.is_empty() && !text.chars().any(char::is_control);
    is_plain.then(|| text.to_owned()).ok_or_else(|| "expected a word".to_owned())
}

/// A count of the command line.
pub(super) fn count(text: &str) -> Result<String, String> {
    let is_count = text.parse::<u32>().is_ok_and(|count| count > 0);
    if is_count { Ok(text.to_owned()) } else { Err("expected a whole number from 1 up".to_owned()) }
}

/// Writes files into a workspace, all or none of them, once the shipment costs that they make. They are read
/// and costed elsewhere before; `rates` is where the tables stand that are not among them.
pub(super) fn begin(
    options: &Options,
    root: &Path,
    rates: Option<&Path>,
    (name, files): (&str, Vec<NewFile>),
) -> Exit {
    let mut report = options.report();
    let there = files.iter().find(|(path, _)| root.join(path).exists());
    if let Some((path, _)) = there.filter(|_| !options.forces()) {
        let message = format!("{} is there already, and nothing is replaced", shown(root, path));
        let help = match rates {
            None => "name another folder; a further offer in this one: quaystone offer NAME",
            Some(_) => "give the offer another name, or replace it with --force",
        };
        report.add(Fault::error(Code::Duplicate, message).help(help));
        return refused(&report);
    }
    let left = [PACKING, PLAN].map(|file| format!("shipments/{name}/{file}"));
    let is_new = |path: &String| files.iter().any(|(new, _)| new == path);
    if let Some(path) = left.iter().find(|path| !is_new(path) && root.join(path).exists()) {
        let message = format!("{} is there, and would go with the new offer", shown(root, path));
        report.add(Fault::error(Code::Duplicate, message).help("take it away first"));
        return refused(&report);
    }
    let staged = match staged(rates, &files) {
        Ok(staged) => staged,
        Err(error) => return Options::not_written(None, &error.into()),
    };
    let costed = Workspace::at(staged.path(), &mut report).and_then(|workspace| {
        let _shown = Progress::show();
        let tariffs = read::tables(&workspace, &mut report);
        let asked = (Asked::from(name), false);
        let (shipment, _, costed) = options.costed(&workspace, asked, &tariffs, &mut report)?;
        Ok((shipment, costed))
    });
    let (shipment, costed) = match Options::told(&report, costed) {
        Ok((shipment, Ok(costed))) => (shipment, costed),
        Ok((shipment, Err(misfits))) => {
            let exit = Options::no_box(&shipment, &misfits, &report);
            Options::say("nothing was written");
            return exit;
        }
        Err(exit) => {
            Options::say("nothing was written: correct what was typed");
            return exit;
        }
    };
    if let Err((path, refusal)) = files::write_new(root, &files, options.forces()) {
        return Options::not_written(Some(&root.join(path)), &refusal);
    }
    let begun = Begun {
        root: root.display().to_string(),
        shipment: name,
        files: files.iter().map(|(path, _)| path.as_str()).collect(),
        is_first: rates.is_none(),
        landed: &costed.landed,
    };
    let page = show::begun(&begun, &shipment, options.units());
    options.put(&report, page, &|out| show::json::begun(&begun, out))
}

/// Tells what stands in the way.
fn refused(report: &Report) -> Exit {
    let said = Options::say("nothing is written");
    Options::tell(report).map_or_else(|exit| exit, |()| Exit::BadData(said))
}

fn shown(root: &Path, path: &str) -> String {
    root.join(path).display().to_string()
}

/// A workspace elsewhere, for as long as what is given lives.
fn staged(rates: Option<&Path>, files: &[NewFile]) -> std::io::Result<tempfile::TempDir> {
    let staged = tempfile::tempdir()?;
    if let Some(rates) = rates {
        files::copy_folder(rates, &staged.path().join("rates"))?;
    }
    let written = files::write_new(staged.path(), files, false);
    written.map_err(|(_, refusal)| match refusal {
        Refusal::System(error) => error,
        _ => std::io::ErrorKind::AlreadyExists.into(),
    })?;
    Ok(staged)
}
