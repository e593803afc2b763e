//! Slips on the command line: what to type instead.

use std::path::Path;

use clap::error::{ContextKind, ContextValue, ErrorKind};

use crate::fault::tried;
use crate::read::Workspace;

/// Options by other names, and what to type.
const OPTIONS: [(&[&str], &str); 11] = [
    (&["--format", "--form", "--type"], "use --as csv"),
    (&["--output", "--outfile", "--save", "--file"], "use --out FILE"),
    (
        &["--currency"],
        "results are in the books' currency: write currency = \"EUR\" under the yard in rates/yards.toml",
    ),
    (&["--full"], "every charge of one slab: explain SHIPMENT SLAB --full"),
    (&["--workspace", "--root", "--folder"], "use --dir FOLDER"),
    (&["--date", "--day"], "use --on 2026-04-11, with `rates`"),
    (&["--imperial", "--us"], "use --units us"),
    (&["--metric"], "use --units metric"),
    (&["--overwrite"], "use --force"),
    (&["--regime", "--country"], "the regime is the yard's: `regime` in rates/yards.toml"),
    (&["--month", "--week", "--period"], BY_DAY),
];

const BY_DAY: &str = "each payment has its day: use --as csv, and sum the days in a spreadsheet";

/// Options of other commands that one command is asked for, and what to type.
const OF_ONE: [(&str, &str, &str); 2] = [
    ("cash", "by", BY_DAY),
    ("worksheet", "for", "the whole page is for the broker: use --out FILE, and send the file"),
];

/// Forms that are asked for as options of their own.
const FORMS: [&str; 7] = ["text", "markdown", "html", "page", "csv", "xlsx", "json"];

/// Values of options by other names, and what to type.
const VALUES: [(&str, &[&str], &str); 10] = [
    ("--units", &["imperial", "english", "usc", "american", "ft", "in", "lb"], "write --units us"),
    ("--units", &["si", "mm", "cm", "m", "kg"], "write --units metric"),
    ("--as", &["pdf", "doc", "docx", "print"], "write --as page, and print that page"),
    ("--as", &["xls", "ods", "excel"], "write --as xlsx: a spreadsheet opens it"),
    ("--as", &["tsv"], "write --as csv: a spreadsheet opens it"),
    ("--as", &["md"], "write --as markdown"),
    (
        "--footing",
        &["billed", "net", "invoiced"],
        "write --footing usable, or gross: each supplier bills an area of his own, so none is compared on it",
    ),
    ("--as", &["txt", "plain"], "write --as text"),
    (
        "--by",
        &["charge", "charges", "cost"],
        "the charges stand in the first table of `cost`; those of one slab: explain SHIPMENT SLAB",
    ),
    (
        "--for",
        &["customer", "client", "buyer"],
        "write --for supplier or --for haulier: no page is for a customer, as each holds our costs or a supplier's words",
    ),
];

/// Commands by other names, and what to type.
const COMMANDS: [(&[&str], &str); 5] = [
    (&["list", "ls", "shipments"], "`check` lists the shipments, `rates` the rates"),
    (&["landed", "calculate"], "did you mean `cost`?"),
    (&["pack", "plan", "optimise"], "did you mean `load`?"),
    (&["customs", "duty"], "did you mean `worksheet`?"),
    (&["pay", "payments"], "did you mean `cash`?"),
];

/// The error with what to type, in the place of the parser's own guesses.
pub(super) fn tipped(
    mut error: clap::Error,
    typed: &[String],
    program: &clap::Command,
) -> clap::Error {
    let tip = match error.kind() {
        ErrorKind::UnknownArgument => of_argument(&error, typed, program),
        ErrorKind::InvalidValue => of_value(&error),
        ErrorKind::InvalidSubcommand => of_command(&error),
        ErrorKind::MissingRequiredArgument => of_lack(&error, typed),
        _ => return error,
    };
    // "To pass it as a value" is what nobody means.
    error.remove(ContextKind::Suggested);
    if let Some(tip) = tip {
        error.remove(ContextKind::SuggestedArg);
        error.remove(ContextKind::SuggestedValue);
        error.remove(ContextKind::SuggestedSubcommand);
        error.remove(ContextKind::Usage);
        error.insert(ContextKind::Suggested, ContextValue::StyledStrs(vec![tip.into()]));
    }
    error
}

fn text(error: &clap::Error, kind: ContextKind) -> Option<&str> {
    match error.get(kind) {
        Some(ContextValue::String(text)) => Some(text),
        _ => None,
    }
}

fn of_argument(error: &clap::Error, typed: &[String], program: &clap::Command) -> Option<String> {
    let given = text(error, ContextKind::InvalidArg)?;
    if let Some(form) = given.strip_prefix("--").filter(|form| FORMS.contains(form)) {
        return Some(format!("use --as {form}"));
    }
    if let Some((_, tip)) = OPTIONS.iter().find(|(names, _)| names.contains(&given)) {
        return Some((*tip).to_owned());
    }
    if !given.starts_with('-') {
        let at = typed.iter().position(|one| one == given)?;
        // Options may stand before the command.
        let (command, first) = (typed.get(at.checked_sub(2)?)?, typed.get(at.checked_sub(1)?)?);
        let one_each = ["cost", "cash", "letter", "worksheet", "counter", "report", "tags"];
        let is_second = one_each.contains(&command.as_str());
        let page = if command == "report" { " --as page --out both.html" } else { "" };
        return is_second.then(|| match command.as_str() {
            "tags" => format!("`tags` takes one shipment: quaystone tags {given} --out {given}.html"),
            _ => format!(
                "`{command}` takes one shipment; side by side: quaystone compare {first} {given}{page}"
            ),
        });
    }
    if let Some(long) = given.strip_prefix("--") {
        let command = typed.iter().find_map(|word| program.find_subcommand(word));
        let name = command.map_or("", clap::Command::get_name);
        if let Some((.., tip)) =
            OF_ONE.iter().find(|(one, option, _)| (*one, *option) == (name, long))
        {
            return Some((*tip).to_owned());
        }
        return elsewhere(long, program).or_else(|| own_options(error, typed, program));
    }
    // One stroke in place of two.
    let one_stroke = |one: &&String| {
        one.len() > 2 && one.starts_with(given) && given.len() == 2 && !one.starts_with("--")
    };
    let whole = typed.iter().find(one_stroke)?;
    Some(format!("long options begin with two strokes: write -{whole}"))
}

/// The long options of a command that are not those of every command.
fn longs(command: &clap::Command) -> Vec<&str> {
    let own = command.get_arguments().filter(|one| !one.is_global_set());
    own.filter_map(clap::Arg::get_long).filter(|long| *long != "help").collect()
}

/// The commands that have an option which the one typed has not.
fn elsewhere(long: &str, program: &clap::Command) -> Option<String> {
    let having = program.get_subcommands().filter(|one| longs(one).contains(&long));
    let names: Vec<String> = having.map(|one| format!("`{}`", one.get_name())).collect();
    let (last, others) = names.split_last()?;
    let names =
        if others.is_empty() { last.clone() } else { format!("{} and {last}", others.join(", ")) };
    Some(format!("--{long} is an option of {names}"))
}

/// The options of the command typed, where none of them is like the one that it lacks.
fn own_options(error: &clap::Error, typed: &[String], program: &clap::Command) -> Option<String> {
    if error.get(ContextKind::SuggestedArg).is_some() {
        return None;
    }
    let command =
        program.get_subcommands().find(|one| typed.iter().any(|word| word == one.get_name()))?;
    let name = command.get_name();
    let all: Vec<String> = longs(command).into_iter().map(|long| format!("--{long}")).collect();
    Some(if all.is_empty() {
        format!("`{name}` has no options of its own, only those of every command: quaystone --help")
    } else {
        format!("`{name}` has {}: quaystone {name} --help", all.join(", "))
    })
}

fn of_value(error: &clap::Error) -> Option<String> {
    let option = text(error, ContextKind::InvalidArg)?.split(' ').next()?;
    let value = text(error, ContextKind::InvalidValue)?.to_lowercase();
    let meant = VALUES.iter().find(|(name, words, _)| *name == option && words.contains(&&*value));
    meant.map(|(.., tip)| (*tip).to_owned())
}

fn of_command(error: &clap::Error) -> Option<String> {
    let given = text(error, ContextKind::InvalidSubcommand)?;
    if let Some((_, tip)) = COMMANDS.iter().find(|(names, _)| names.contains(&given)) {
        return Some((*tip).to_owned());
    }
    let Some(ContextValue::Strings(alike)) = error.get(ContextKind::SuggestedSubcommand) else {
        return None;
    };
    // Letters too many or too few are likelier than others in their place.
    let off = |one: &&String| {
        (strsim::damerau_levenshtein(given, one), given.len().abs_diff(one.len()) == 0)
    };
    alike.iter().min_by_key(off).map(|near| format!("did you mean `{near}`?"))
}

fn of_lack(error: &clap::Error, typed: &[String]) -> Option<String> {
    let Some(ContextValue::Strings(lacking)) = error.get(ContextKind::InvalidArg) else {
        return None;
    };
    let lacks = |what: &str| lacking.iter().any(|one| one.starts_with(what));
    if lacks("<SHIPMENT") {
        let names = tried(|report| Workspace::find(Path::new("."), report))?.shipment_names();
        return match &names[..] {
            [] => Some("shipments/ holds no shipment yet".to_owned()),
            [one] => Some(format!("there is one: {one}")),
            _ => Some(format!("name one: {}", names.join(", "))),
        };
    }
    let shipment = typed.get(2).map_or("SHIPMENT", String::as_str);
    lacks("--against").then(|| {
        format!("hold {shipment} against another, --against SHIPMENT, or a cost, --target \"9.50 USD/ft2\"")
    })
}
