//! `quaystone tags`: a tag for each end of each slab, to print.

use super::job::{Exit, One, Options, Sheets};
use crate::outgoing::Tag;
use crate::quantity::{Size, Written};
use crate::read;
use crate::show::{self, NoTags, TagPaper};
use crate::trade::Shipment;

/// Arguments of `tags`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    #[command(flatten)]
    one: One,
    /// One tag a slab, in place of one for each end
    #[arg(long = "one")]
    single: bool,
    #[command(flatten)]
    sheets: Sheets,
    /// One tag a page, so wide and so high, such as "100 x 150 mm" or "4 x 6 in"
    #[arg(long, value_name = "SIZE", value_parser = size, conflicts_with = "paper")]
    size: Option<Size>,
}

fn size(text: &str) -> Result<Size, String> {
    Size::read(text.trim()).map_err(|_| {
        "write the width and the height of a label with their unit, such as \"100 x 150 mm\""
            .to_owned()
    })
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    if !options.is_html() {
        let said = "error: tags are a page to print: name its file, such as --out tags.html";
        return Exit::BadCommand(Options::say(said));
    }
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    let read = read::shipment(&workspace, args.one.asked(), &tariffs, &mut report);
    let shipment = match Options::told(&report, read) {
        Ok(shipment) => shipment,
        Err(exit) => return exit,
    };
    let tags = match Options::fitted(Tag::of(&shipment, &tariffs)) {
        Ok(tags) => tags,
        Err(exit) => return exit,
    };
    if tags.len() < shipment.slabs.len() {
        return Exit::No(Options::say(&format!(
            "{}: {} of {} slabs are on no packing list: a tag names a slab that is there",
            shipment.called(),
            shipment.slabs.len().saturating_sub(tags.len()),
            shipment.slabs.len()
        )));
    }
    let sheets = TagPaper::Sheets(args.sheets.paper());
    let paper = args.size.map_or(sheets, TagPaper::Each);
    let ends = if args.single { 1 } else { 2 };
    match show::tags(&tags, paper, ends, options.units()) {
        Ok(page) => options.put_plain(page.into_bytes()),
        Err(why) => refused(&why, &shipment),
    }
}

fn refused(why: &NoTags, shipment: &Shipment) -> Exit {
    match why {
        NoTags::Number(number, row) => {
            let file = &shipment.packing_file.file;
            Exit::BadData(Options::say(&format!(
                "error: {file}:{row}: the number of slab {number} is more than a code of 30 mm holds, 152 bytes: \
                 write a shorter one"
            )))
        }
        NoTags::Large([width, height]) => Exit::BadCommand(Options::say(&format!(
            "error: --size is more than a label: write at most \"{width} x {height} mm\", or leave it out, and tags \
             are printed on sheets"
        ))),
        NoTags::Small([width, height]) => Exit::BadCommand(Options::say(&format!(
            "error: --size is too small for the numbers and facts: write --size \"{width} x {height} mm\" or more, \
             or a wider one, which needs fewer lines"
        ))),
    }
}
