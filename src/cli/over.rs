//! `--over`: which of some offers is the cheapest over a range, or where one meets a target.

use std::fmt::Display;
use std::path::Path;

use super::job::{Beside, Exit, Json, Options, day};
use super::progress::Progress;
use crate::decide::{
    AtValue, Bid, Comparison, Like, MOST_VALUES, Named, NoOver, Over, PerArea, Winner, over,
};
use crate::fault::Report;
use crate::files;
use crate::quantity::{Decimal, Percent, Price, Quote, Written};
use crate::show::{self, OverPage};

/// What is moved, as the command line says it.
pub(super) fn range(text: &str) -> Result<Over, String> {
    let form = "write what moves and its range, such as \"bundles=1..24\", \
                \"sails=2026-04-01..2026-06-30\", \"1 EUR = 1.05..1.15 USD\" or \
                \"ocean freight = 80..130 %\"";
    let (what, range) = text.split_once('=').ok_or_else(|| match text.split_once("..") {
        Some((first, _)) if day(first.trim()).is_ok() => format!("write \"sails={text}\""),
        Some((first, _)) if first.parse::<u32>().is_ok() => format!("write \"bundles={text}\""),
        _ => form.to_owned(),
    })?;
    let (first, last) = range.split_once("..").ok_or_else(|| {
        // Of dates a stroke is no sign of a range.
        let ends = range.split_once('-').filter(|(_, last)| !last.contains('-'));
        let ends = ends.or_else(|| range.split_once(" to "));
        ends.map_or_else(
            || form.to_owned(),
            |(first, last)| format!("write \"{what}={}..{}\"", first.trim(), last.trim()),
        )
    })?;
    let (what, first, last) = (what.trim(), first.trim(), last.trim());
    let of = match what {
        "bundles" => {
            let number = |text: &str| text.parse::<u32>().map_err(|_| form);
            let (first, last) = (number(first)?, number(last)?);
            if last < first {
                return Err(turned(what, last, first));
            }
            if first < 1 || last > 200 {
                return Err("write the first and the last number of bundles, 1 to 200".to_owned());
            }
            return Ok(Over::Bundles(first, last));
        }
        "sails" => {
            let (first, last) = (day(first)?, day(last)?);
            if last < first {
                return Err(turned(what, last, first));
            }
            return Ok(Over::Sails(first, last));
        }
        of => of,
    };
    // The grid has the decimals that the range is written with.
    let places = [first, last].map(|text| {
        let figure = text.split_whitespace().next().unwrap_or(text).trim_end_matches('%');
        figure.split_once('.').map_or(0, |(_, places)| places.len())
    });
    let places = places.into_iter().max().and_then(|places| u32::try_from(places).ok());
    let step = places.and_then(|places| Decimal::try_new(1, places).ok()).ok_or(form)?;
    if last.ends_with('%') {
        let percent = |text: &str| {
            let text = format!("{} %", text.trim_end_matches('%').trim());
            Percent::read(&text).map(Percent::hundredths).map_err(|_| form)
        };
        let grid = [percent(first)?, percent(last)?, step];
        if grid[0] < Decimal::ZERO {
            return Err("an amount of the tables cannot be less than nothing".to_owned());
        }
        let bare = first.trim_end_matches('%').trim();
        if grid[1] < grid[0] {
            return Err(turned(what, last.trim_end_matches('%').trim(), format!("{bare} %")));
        }
        few_enough(grid)?;
        return Ok(Over::Charge { name: of.to_owned(), grid });
    }
    let (_, counter) = last.split_once(' ').ok_or(form)?;
    let first = first.strip_suffix(counter.trim()).unwrap_or(first);
    let quote = |rate: &str| Quote::read(&format!("{of} = {rate}")).map_err(|_| form);
    let (first, last) = (quote(&format!("{first} {counter}"))?, quote(last)?);
    let grid = [first.rate(), last.rate(), step];
    if grid[1] < grid[0] {
        let (low, high) = (grid[1].normalize(), grid[0].normalize());
        return Err(turned(what, low, format!("{high} {}", counter.trim())));
    }
    few_enough(grid)?;
    Ok(Over::Rate { base: first.base(), counter: first.counter(), grid })
}

/// What to write in place of a range that is turned round.
fn turned(what: &str, low: impl Display, high: impl Display) -> String {
    format!("the range is turned round: write \"{what}={low}..{high}\"")
}

/// Whether a grid has not too many values: it goes by the last decimal that its ends are written with.
fn few_enough([first, last, step]: [Decimal; 3]) -> Result<(), String> {
    let steps = last.checked_sub(first).and_then(|range| range.checked_div(step));
    let most = Decimal::from(MOST_VALUES);
    let count = steps.and_then(|steps| steps.checked_add(Decimal::ONE));
    match count.map(|count| count.normalize()) {
        Some(count) if count <= most => Ok(()),
        Some(count) => Err(format!(
            "that is {count} values, and {MOST_VALUES} at most: write the ends with fewer decimals, or nearer"
        )),
        None => Err("a value of the range is too large".to_owned()),
    }
}

/// What offers are compared over a range: they, their goods, the target of an only one.
pub(super) struct Ranged<'a> {
    pub(super) comparison: &'a Comparison,
    pub(super) bids: &'a [Bid<'a>],
    pub(super) goods: Option<&'a Like>,
    pub(super) target: Option<(&'a Price, &'a PerArea)>,
    /// The changes that they are under.
    pub(super) changes: &'a [Named],
    pub(super) range: &'a Over,
    /// Where their lines are to be drawn.
    pub(super) chart: Option<&'a Path>,
}

/// The offers at each value of the range.
pub(super) fn run(of: &Ranged<'_>, options: &Options, report: &Report) -> Exit {
    let Ranged { comparison, bids, goods, changes, range, .. } = *of;
    let all = {
        let _shown = Progress::show();
        over(bids, of.target.map(|(_, goal)| goal), goods, range)
    };
    let why = match all {
        Ok(all) => {
            let units = options.units();
            let target = of.target.map(|(price, _)| price);
            let page =
                OverPage { comparison, goods, changes, over: range, target, all: &all, units };
            let drawn = of.chart.map(|path| {
                let contents = show::over_chart(&page).into_bytes();
                Beside { path, contents: files::bytes(contents), is_plan: false }
            });
            let json: Json<'_> = &|out| show::json::over(&page, out);
            let put =
                options.put_with(report, show::over(&page), json, drawn.into_iter().collect());
            let holds = |one: &AtValue| !matches!(one.winner(), Winner::Dearer | Winner::None);
            let is_no = !all.iter().any(holds);
            let what = if target.is_some() { "is dearer than the target, or has" } else { "has" };
            let name = match bids {
                [bid] => bid.shipment.called(),
                _ => "none of the offers".to_owned(),
            };
            let what = if bids.len() > 1 { "has a cost" } else { what };
            return match put {
                Exit::Done(_) if is_no => {
                    let none =
                        if bids.len() > 1 { "at any value" } else { "no cost, at every value" };
                    Exit::No(Options::say(&format!("{name} {what} {none}")))
                }
                other => other,
            };
        }
        Err(why) => why,
    };
    let said = match why {
        NoOver::NotNominal => {
            "the number of bundles can be moved only where a shipment states `bundles`, `slabs` and a size \
             for one line, and names no single bundle"
                .to_owned()
        }
        NoOver::NoRate => {
            "rates/exchange.toml has no planning rate between these currencies, and no other rate \
             moves: name the two of a row with use = \"plan\""
                .to_owned()
        }
        NoOver::NoCharge(_) if is_duty(range, bids) => {
            "--over takes no duty: use what-if --set".to_owned()
        }
        NoOver::NoCharge(known) => format!(
            "no charge of that name has an amount and falls on one of the offers; those that do: {}",
            known.join(", ")
        ),
        NoOver::Width => {
            format!("--over leaves no value, one too large, or more than {MOST_VALUES}: state fewer")
        }
    };
    Exit::BadCommand(Options::say(&format!("error: {said}")))
}

/// Whether what moves is called as a duty.
fn is_duty(range: &Over, bids: &[Bid<'_>]) -> bool {
    let Over::Charge { name, .. } = range else { return false };
    let mut layers = bids.iter().flat_map(|bid| &bid.tariffs.duties);
    name == "duty" || name.starts_with("duty ") || layers.any(|row| row.name == *name)
}
