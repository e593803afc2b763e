//! `quaystone init`: a workspace that costs at once.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::ValueEnum;

use super::begin::{begin, count, today, typed, word};
use super::job::{Exit, Options, day};
use crate::quantity::{Length, Mass, Money, Percent, Price, Quote, Size};
use crate::starter::{FIRST, Wanted};
use crate::trade::{Date, Window};

/// Arguments of `init`. What is left out has a starter figure: invented, and marked until you replace it.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The folder: it is made, or has no rates/ yet
    folder: PathBuf,
    /// The customs regime you import under
    #[arg(long, value_enum)]
    regime: RegimeArg,
    #[command(flatten)]
    yard: Yard,
    #[command(flatten)]
    offer: Offer,
    #[command(flatten)]
    quotes: Quotes,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum RegimeArg {
    /// United States
    Us,
    /// European Union
    Eu,
    /// United Kingdom
    Gb,
    /// Canada
    Ca,
    /// Australia
    Au,
}

impl RegimeArg {
    fn id(self) -> &'static str {
        match self {
            Self::Us => "us",
            Self::Eu => "eu",
            Self::Gb => "gb",
            Self::Ca => "ca",
            Self::Au => "au",
        }
    }
}

#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Your yard")]
struct Yard {
    /// The port that its goods come through, such as USSAV or Savannah
    #[arg(long, value_name = "PORT", value_parser = word)]
    port: Option<String>,
    /// The heaviest bundle that your crane or fork may take, such as "5 t"
    #[arg(long, value_name = "MASS", value_parser = typed::<Mass>)]
    lift: Option<String>,
}

#[derive(Debug, clap::Args)]
#[command(next_help_heading = "The first offer")]
struct Offer {
    /// The group of the stone, such as marble, granite or quartzite
    #[arg(long, value_name = "GROUP", value_parser = word)]
    group: Option<String>,
    /// The stone's trade name
    #[arg(long, value_name = "NAME", value_parser = word)]
    stone: Option<String>,
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
    /// The days on which it holds, such as 2026-03-01..2026-04-15 [default: until it sails]
    #[arg(long, value_name = "DAYS", value_parser = typed::<Window>, requires = "price")]
    price_valid: Option<String>,
    /// The finish, such as polished
    #[arg(long, value_name = "WORD", value_parser = word)]
    finish: Option<String>,
    /// The thickness, such as "20 mm"
    #[arg(long, value_name = "LENGTH", value_parser = typed::<Length>)]
    thickness: Option<String>,
    /// How many bundles, until there is a packing list
    #[arg(long, value_name = "N", value_parser = count)]
    bundles: Option<String>,
    /// Slabs in each of them
    #[arg(long, value_name = "N", value_parser = count)]
    slabs: Option<String>,
    /// The size of a slab as sawn, such as "310 x 190 cm"
    #[arg(long, value_name = "SIZE", value_parser = typed::<Size>)]
    size: Option<String>,
    /// The day of the calculation [default: today]
    #[arg(long, value_name = "DATE", value_parser = day)]
    quoted: Option<Date>,
    /// The day on which the ship sails [default: 5 weeks later]
    #[arg(long, value_name = "DATE", value_parser = day)]
    sails: Option<Date>,
    /// The day on which it arrives [default: 4 weeks later]
    #[arg(long, value_name = "DATE", value_parser = day)]
    arrives: Option<Date>,
}

#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Quotes and rates of your own")]
struct Quotes {
    /// The ocean freight of a 20' box, such as "1850 USD"
    #[arg(long, value_name = "MONEY", value_parser = typed::<Money>)]
    freight: Option<String>,
    /// The days of sailing on which it holds [default: a year]
    #[arg(long, value_name = "DAYS", value_parser = typed::<Window>, requires = "freight")]
    freight_valid: Option<String>,
    /// What the terminal at your port takes for a box
    #[arg(long, value_name = "MONEY", value_parser = typed::<Money>)]
    terminal: Option<String>,
    /// The haul of a box from the port to your yard
    #[arg(long, value_name = "MONEY", value_parser = typed::<Money>)]
    haul: Option<String>,
    /// The most that the haulier takes in a box, such as "44000 lb"
    #[arg(long, value_name = "MASS", value_parser = typed::<Mass>)]
    haul_limit: Option<String>,
    /// The premium on the insured value, such as "0.30 %"
    #[arg(long, value_name = "PERCENTAGE", value_parser = typed::<Percent>)]
    insurance: Option<String>,
    /// Your planning rate, such as "1 EUR = 1.0850 USD"
    #[arg(long, value_name = "QUOTE", value_parser = typed::<Quote>)]
    exchange: Option<String>,
}

pub(super) fn run(args: Args, options: &Options) -> Exit {
    let Args { folder, regime, yard, offer, quotes } = args;
    let named = [
        ("lift", yard.lift),
        ("supplier", offer.supplier),
        ("term", offer.term),
        ("price", offer.price),
        ("price-valid", offer.price_valid),
        ("finish", offer.finish),
        ("thickness", offer.thickness),
        ("bundles", offer.bundles),
        ("slabs", offer.slabs),
        ("size", offer.size),
        ("freight", quotes.freight),
        ("freight-valid", quotes.freight_valid),
        ("terminal", quotes.terminal),
        ("haul", quotes.haul),
        ("haul-limit", quotes.haul_limit),
        ("insurance", quotes.insurance),
        ("exchange", quotes.exchange),
    ];
    let named = named.into_iter().filter_map(|(name, text)| Some((name, text?)));
    let wanted = Wanted {
        regime: regime.id(),
        port: yard.port,
        group: offer.group,
        stone: offer.stone,
        from: offer.from,
        quoted: offer.quoted.unwrap_or_else(today),
        sails: offer.sails,
        arrives: offer.arrives,
        typed: named.collect::<BTreeMap<_, _>>(),
    };
    match wanted.files() {
        Ok(files) => begin(options, &folder, None, (FIRST, files)),
        Err(said) => Exit::BadCommand(Options::say(&format!("error: {said}"))),
    }
}
