//! `quaystone offer`: a further offer in a workspace, like another.

use std::collections::BTreeMap;

use super::begin::{begin, count, typed, word};
use super::job::{Exit, Options, day};
use crate::fault::{Report, tried};
use crate::files;
use crate::quantity::{Area, Length, Money, Price, Size};
use crate::read::{self, Workspace};
use crate::starter::NewOffer;
use crate::trade::{Date, Window};

/// Arguments of `offer`. What is left out is as in the other.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The name of the offer: that of its folder in shipments/
    #[arg(value_parser = name)]
    name: String,
    /// The shipment that it is like, by name [default: the only one]
    #[arg(long, value_name = "SHIPMENT")]
    like: Option<String>,
    /// Who sells
    #[arg(long, value_name = "NAME", value_parser = word)]
    supplier: Option<String>,
    /// The delivery term, such as "FOB Chennai"
    #[arg(long, value_name = "TERM", value_parser = word)]
    term: Option<String>,
    /// The port of loading, where the term names none
    #[arg(long, value_name = "PORT", value_parser = word)]
    from: Option<String>,
    /// The price, such as "5.20 USD/ft2"
    #[arg(long, value_name = "PRICE", value_parser = typed::<Price>)]
    price: Option<String>,
    /// The days on which it holds, such as 2026-03-01..2026-04-15
    #[arg(long, value_name = "DAYS", value_parser = typed::<Window>)]
    price_valid: Option<String>,
    /// The stone: an `id` of rates/stones.toml
    #[arg(long, value_name = "STONE", value_parser = word)]
    stone: Option<String>,
    /// The finish, such as polished
    #[arg(long, value_name = "WORD", value_parser = word)]
    finish: Option<String>,
    /// The thickness, such as "20 mm"
    #[arg(long, value_name = "LENGTH", value_parser = typed::<Length>)]
    thickness: Option<String>,
    /// The size of a slab as sawn, such as "310 x 190 cm", where there is no packing list
    #[arg(long, value_name = "SIZE", value_parser = typed::<Size>, conflicts_with = "quantity")]
    size: Option<String>,
    /// How many bundles
    #[arg(long, value_name = "N", value_parser = count, conflicts_with = "quantity")]
    bundles: Option<String>,
    /// Slabs in each of them
    #[arg(long, value_name = "N", value_parser = count, conflicts_with = "quantity")]
    slabs: Option<String>,
    /// The quantity, in the place of bundles, slabs and size, such as "420 m2"
    #[arg(long, value_name = "AREA", value_parser = typed::<Area>)]
    quantity: Option<String>,
    /// The day on which the ship sails
    #[arg(long, value_name = "DATE", value_parser = day)]
    sails: Option<Date>,
    /// The day on which it arrives
    #[arg(long, value_name = "DATE", value_parser = day)]
    arrives: Option<Date>,
    /// The ocean freight of a 20' box from another port than the other's
    #[arg(long, value_name = "MONEY", value_parser = typed::<Money>)]
    freight: Option<String>,
    /// The days of sailing on which it holds [default: a year]
    #[arg(long, value_name = "DAYS", value_parser = typed::<Window>, requires = "freight")]
    freight_valid: Option<String>,
}

/// A folder's name that needs no quotes anywhere.
fn name(text: &str) -> Result<String, String> {
    let is_plain = |c: char| c.is_alphanumeric() || ['-', '_', '.'].contains(&c);
    let is_name = !text.is_empty() && !text.starts_with(['.', '-']) && text.chars().all(is_plain);
    is_name
        .then(|| text.to_owned())
        .ok_or_else(|| "write a name of letters, digits and hyphens".to_owned())
}

pub(super) fn run(args: Args, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let like = match like(&workspace, args.like.as_deref()) {
        Ok(like) => like,
        Err(said) => return Exit::BadCommand(Options::say(&format!("error: {said}"))),
    };
    let other = read::shipment(&workspace, &like, &tariffs, &mut report);
    let other = match Options::told(&report, other) {
        Ok(other) => other,
        Err(exit) => return exit,
    };
    let new = new(args);
    let text_of = |file: &str| {
        let path = workspace.folder_of(&like)?.join(file);
        tried(|report: &mut Report| files::read(&path, file, report))
            .map(|source| source.text.clone())
    };
    let text = text_of("shipment.toml").unwrap_or_default();
    let files = match new.files(&other, &text, text_of("packing.csv"), &tariffs.ports) {
        Ok(files) => files,
        Err(said) => return Exit::BadCommand(Options::say(&format!("error: {said}"))),
    };
    let root = workspace.root();
    begin(options, root, Some(&root.join("rates")), (&new.name, files))
}

/// The shipment that is named, or the only one.
fn like(workspace: &Workspace, named: Option<&str>) -> Result<String, String> {
    match (named, &workspace.shipment_names()[..]) {
        (Some(named), _) => Ok(named.to_owned()),
        (None, [only]) => Ok(only.clone()),
        (None, []) => Err("shipments/ holds no shipment that it could be like".to_owned()),
        (None, names) => Err(format!("say which it is like with --like: {}", names.join(", "))),
    }
}

fn new(args: Args) -> NewOffer {
    let named = [
        ("supplier", args.supplier),
        ("term", args.term),
        ("price", args.price),
        ("price-valid", args.price_valid),
        ("stone", args.stone),
        ("finish", args.finish),
        ("thickness", args.thickness),
        ("size", args.size),
        ("bundles", args.bundles),
        ("slabs", args.slabs),
        ("quantity", args.quantity),
        ("freight", args.freight),
        ("freight-valid", args.freight_valid),
    ];
    let named = named.into_iter().filter_map(|(name, text)| Some((name, text?)));
    NewOffer {
        name: args.name,
        from: args.from,
        sails: args.sails,
        arrives: args.arrives,
        typed: named.collect::<BTreeMap<_, _>>(),
    }
}
