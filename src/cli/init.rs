//! `quaystone init`: a workspace that costs at once.

use std::path::PathBuf;

use clap::ValueEnum;

use super::begin::{Typed, begin, today, typed, word};
use super::job::{Exit, Options, day};
use crate::quantity::{Mass, Money, Percent, Quote};
use crate::starter::{FIRST, Wanted};
use crate::trade::Date;

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
#[command(next_help_heading = "The offer")]
struct Offer {
    /// The group of the stone, such as marble, granite or quartzite
    #[arg(long, value_name = "GROUP", value_parser = word)]
    group: Option<String>,
    #[command(flatten)]
    typed: Typed,
    /// The day of the calculation [default: today]
    #[arg(long, value_name = "DATE", value_parser = day)]
    quoted: Option<Date>,
}

#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Quotes and rates of your own")]
struct Quotes {
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
    let Typed { stone, from, sails, arrives, .. } = &offer.typed;
    let (stone, from, sails, arrives) = (stone.clone(), from.clone(), *sails, *arrives);
    let more = [
        ("lift", yard.lift),
        ("terminal", quotes.terminal),
        ("haul", quotes.haul),
        ("haul-limit", quotes.haul_limit),
        ("insurance", quotes.insurance),
        ("exchange", quotes.exchange),
    ];
    let wanted = Wanted {
        regime: regime.id(),
        port: yard.port,
        group: offer.group,
        stone,
        from,
        quoted: offer.quoted.unwrap_or_else(today),
        sails,
        arrives,
        typed: offer.typed.named(more),
    };
    match wanted.files() {
        Ok(files) => begin(options, &folder, None, (FIRST, files)),
        Err(said) => Exit::BadCommand(Options::say(&format!("error: {said}"))),
    }
}
