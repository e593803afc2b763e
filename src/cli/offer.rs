//! `quaystone offer`: a further offer in a workspace, like another.

use super::begin::{Typed, begin, typed};
use super::job::{Exit, Options};
use crate::fault::{Report, tried};
use crate::files;
use crate::quantity::Area;
use crate::read::{self, Workspace};
use crate::starter::NewOffer;

/// Arguments of `offer`. What is left out is as in the other.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The name of the offer: that of its folder in shipments/
    #[arg(value_parser = name)]
    name: String,
    /// The shipment that it is like, by name [default: the only one]
    #[arg(long, value_name = "SHIPMENT")]
    like: Option<String>,
    #[command(flatten)]
    typed: Typed,
    /// The quantity, in the place of bundles, slabs and size, such as "420 m2"
    #[arg(
        long,
        value_name = "AREA",
        value_parser = typed::<Area>,
        conflicts_with_all = ["bundles", "slabs", "size"]
    )]
    quantity: Option<String>,
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
    let Typed { from, sails, arrives, .. } = &args.typed;
    let (from, sails, arrives) = (from.clone(), *sails, *arrives);
    let more = [("stone", args.typed.stone.clone()), ("quantity", args.quantity)];
    NewOffer { name: args.name, from, sails, arrives, typed: args.typed.named(more) }
}
