//! The command line: a file a command, each of them args, read, compute, show.
//!
//! Exit codes: 0 done (warnings allowed), 1 the data is unreadable or inconsistent, 2 the command
//! line is, 3 the data is good and the answer is "no", 4 the result could not be written.

mod arrive;
mod audit;
mod begin;
mod book;
mod cash;
mod check;
mod compare;
mod cost;
mod counter;
mod cover;
mod explain;
mod footed;
mod import;
mod init;
mod job;
mod journal;
mod ledger;
mod letter;
mod load;
mod loaded;
mod offer;
mod over;
mod price;
mod progress;
mod rates;
mod report;
mod routes;
mod saw;
mod schema;
mod settle;
mod shells;
mod starter;
mod stock;
mod sweep;
mod tags;
mod tips;
mod together;
mod topup;
mod what_if;
mod worksheet;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};

pub use job::{Exit, Options};

/// Landed cost of natural stone, to the cent on every slab, and exact container loads.
///
/// The demo is invented: its names, firms and most of its figures.
#[derive(Debug, Parser)]
#[command(name = "quaystone", version, max_term_width = 100, after_help = CODES)]
struct Cli {
    #[command(flatten)]
    options: Options,
    #[command(subcommand)]
    command: Command,
}

const CODES: &str = "Exit codes: 0 done, 1 the data is unreadable or inconsistent, 2 the command line is wrong,\n\
3 the data is good and the answer is \"no\", 4 the result could not be written.\n\
The file format: rates/README.md and shipments/README.md.";

#[derive(Debug, Subcommand)]
enum Command {
    /// Make a workspace that costs at once, with figures to replace
    Init(Box<init::Args>),
    /// Add an offer to the workspace, like another
    Offer(Box<offer::Args>),
    /// Check shipments: files, cost, load and documents
    Check(check::Args),
    /// Read a supplier's packing list, as it was sent, into a shipment
    Import(import::Args),
    /// Plan the load: each bundle's box and place, with the proof
    Load(load::Args),
    /// Write a letter to a supplier: prices asked for, wishes, the load
    Letter(letter::Args),
    /// Work out the landed cost of every slab
    Cost(cost::Args),
    /// List payments by due date and currency, with their finance
    Cash(cash::Args),
    /// Write one page to keep: cost, load, payments and sources
    Report(report::Args),
    /// Explain one slab's cost, charge by charge, with file and line
    Explain(explain::Args),
    /// Compare offers per area, stage by stage
    Compare(compare::Args),
    /// Find the highest price that leaves an offer no dearer than another, or than a target
    Counter(counter::Args),
    /// Say what offers come to under changes, the files untouched
    WhatIf(what_if::Args),
    /// Say what comes of a block: slabs, their cost step by step, each method side by side
    Saw(saw::Args),
    /// Try every port and the first ship of each lane: cost, and days to the rack
    Routes(routes::Args),
    /// Choose what else to take of a supplier's list, in the boxes that are had
    Topup(topup::Args),
    /// List rates, the first to lapse first
    Rates(rates::Args),
    /// Fix a shipment's estimate for the books: later rates do not change it
    Book(book::Args),
    /// Compare what stands on the rack with the packing list
    Arrive(arrive::Args),
    /// Compare bills with what was estimated, charge by charge
    Settle(ledger::Booked),
    /// List every line of the ledger, for a ledger of your own
    Journal(journal::Args),
    /// List every slab in stock on a day, with its cost
    Stock(stock::Args),
    /// List what slabs in stock are sold at, for the showroom or beside their cost
    Price(price::Args),
    /// Say how long each stone lasts, and by when to order it again
    Cover(cover::Args),
    /// Say whether the books reconcile, account by account
    Audit(audit::Args),
    /// Write the customs worksheet for a licensed broker to confirm
    Worksheet(worksheet::Args),
    /// Print tags for slabs, with a number to be read from afar
    Tags(tags::Args),
    /// Print the script by which a shell completes commands and options
    Completions(shells::Completions),
    /// Print a page for `man`
    Manual(shells::Manual),
    /// Print the JSON Schema of a TOML file, for an editor
    Schema(schema::Args),
}

/// Runs the command line of this process.
pub fn main() -> ExitCode {
    ExitCode::from(run(std::env::args_os().collect()))
}

/// Runs a command line, the program's name first, and gives its exit code. One that is wrong in itself ends the
/// process.
pub fn run(words: Vec<OsString>) -> u8 {
    let typed: Vec<String> = words.iter().map(|one| one.to_string_lossy().into_owned()).collect();
    let cli = Cli::try_parse_from(words)
        .unwrap_or_else(|error| tips::tipped(error, &typed, &Cli::command()).exit());
    exit_of(cli).code()
}

fn exit_of(cli: Cli) -> Exit {
    let options = &cli.options;
    let own = match &cli.command {
        Command::Load(args) => args.writes(),
        Command::WhatIf(args) => args.writes(),
        Command::Import(_) | Command::Offer(_) => true,
        _ => false,
    };
    let writes = options.writes() || own;
    if options.forces() && !writes {
        let said = "error: --force has nothing to overwrite: name the file with --out";
        return Exit::BadCommand(Options::say(said));
    }
    if let Some(said) = options.other_form() {
        return Exit::BadCommand(Options::say(&said));
    }
    if let Some(said) = options.unshowable() {
        return Exit::BadCommand(Options::say(said));
    }
    match cli.command {
        Command::Init(args) => init::run(*args, options),
        Command::Offer(args) => offer::run(*args, options),
        Command::Check(args) => check::run(&args, options),
        Command::Import(args) => import::run(&args, options),
        Command::Load(args) => load::run(&args, options),
        Command::Letter(args) => letter::run(&args, options),
        Command::Cost(args) => cost::run(&args, options),
        Command::Cash(args) => cash::run(&args, options),
        Command::Report(args) => report::run(&args, options),
        Command::Explain(args) => explain::run(&args, options),
        Command::Compare(args) => compare::run(&args, options),
        Command::Counter(args) => counter::run(&args, options),
        Command::WhatIf(args) => what_if::run(&args, options),
        Command::Saw(args) => saw::run(&args, options),
        Command::Routes(args) => routes::run(&args, options),
        Command::Topup(args) => topup::run(&args, options),
        Command::Rates(args) => rates::run(&args, options),
        Command::Price(args) => price::run(&args, options),
        Command::Cover(args) => cover::run(&args, options),
        Command::Book(args) => book::run(&args, options),
        Command::Arrive(args) => arrive::run(&args, options),
        Command::Settle(args) => settle::run(&args, options),
        Command::Journal(args) => journal::run(&args, options),
        Command::Stock(args) => stock::run(&args, options),
        Command::Audit(args) => audit::run(&args, options),
        Command::Worksheet(args) => worksheet::run(&args, options),
        Command::Tags(args) => tags::run(&args, options),
        Command::Completions(args) => shells::completions(&args, Cli::command(), options),
        Command::Manual(args) => shells::manual(&args, Cli::command(), options),
        Command::Schema(args) => schema::run(&args, options),
    }
}
