//! `quaystone what-if --sweep`: what offers cost where rates and prices are drawn from ranges.

use std::path::Path;

use super::footed::several_sorts;
use super::job::{Exit, Options};
use super::progress::{self, Progress};
use crate::decide::{
    Bid, Change, Comparison, Draws, Entry, Named, Part, Range, Surface, bare_end, end_of_range,
    named, sweep, whole,
};
use crate::fault::{At, Code, Fault, Report, Reported, at_commas, gathered};
use crate::quantity::Decimal;
use crate::read;
use crate::show::{self, SweepPage};
use crate::trade::{Shipment, SweepRange, Tariffs};

/// What is swept: the offers, side by side and as they were read, and the file of ranges.
pub(super) struct Asked<'a> {
    pub(super) comparison: &'a Comparison,
    pub(super) bids: &'a [Bid<'a>],
    pub(super) tariffs: &'a Tariffs,
    pub(super) path: &'a Path,
}

pub(super) fn run(of: &Asked<'_>, draws: Draws, options: &Options, report: &mut Report) -> Exit {
    let offers = match with_areas(of, options) {
        Ok(offers) => offers,
        Err(why) => return Exit::BadCommand(Options::say(&format!("error: {why}"))),
    };
    // What was asked of the offers is told by now.
    let mut own = options.report();
    let read = read::sweep(of.path, &mut own).and_then(|rows| ranges(&rows, of, &mut own));
    let ranges = match Options::told(&own, read) {
        Ok(ranges) => ranges,
        Err(exit) => return exit,
    };
    report.absorb(own);
    let tell = |done: usize| {
        if let Some(watch) = progress::watch().filter(|_| done.is_multiple_of(64)) {
            let name = offers
                .first()
                .map(|(bid, _)| (bid.shipment.name.clone(), bid.shipment.yard.currency));
            watch.tell(|seen| (seen.shipment, seen.draws) = (name, (done, draws.count)));
        }
    };
    let swept = {
        let _shown = Progress::show();
        sweep(&offers, &ranges, draws, &tell)
    };
    match swept {
        Ok(swept) => {
            let (comparison, units) = (of.comparison, options.units());
            let page = SweepPage { comparison, ranges: &ranges, draws, swept: &swept, units };
            options.put(report, show::sweep(&page), &|out| show::json::sweep(&page, out))
        }
        Err(why) => Exit::No(Options::say(&format!("an offer has no cost in its ranges: {why}"))),
    }
}

/// Each offer with the area that its cost is over: a sweep has totals alone, so it is all of the offer.
fn with_areas<'a>(of: &Asked<'a>, options: &Options) -> Result<Vec<(Bid<'a>, Surface)>, String> {
    let groups = &of.comparison.groups;
    if groups.len() > 1 && of.bids.len() > 1 {
        let who = "a sweep compares whole offers, and these have";
        return Err(several_sorts(who, groups, options.units()));
    }
    let each = of.bids.iter().enumerate().map(|(at, bid)| {
        let name = bid.shipment.called();
        let own = groups.iter().flat_map(|group| &group.entries).filter(|entry| entry.offer == at);
        let own: Vec<&Entry> = own.collect();
        if let Some(why) = own.iter().find_map(|entry| entry.standing.as_ref().err()) {
            return Err(format!("{name} has no rank: {}", show::reason(why)));
        }
        let parts: Vec<&Part> = own.iter().map(|entry| &entry.part).collect();
        let area = whole(&parts).and_then(|part| part.area(of.comparison.footing).ok().cloned());
        Ok((*bid, area.ok_or_else(|| format!("{name} has no area"))?))
    });
    each.collect()
}

/// The ranges of the file, by the names that pages use.
fn ranges(
    rows: &[SweepRange],
    of: &Asked<'_>,
    report: &mut Report,
) -> Result<Vec<Range>, Reported> {
    let shipments: Vec<&Shipment> = of.bids.iter().map(|bid| bid.shipment).collect();
    let mut sources: Vec<&str> = Vec::new();
    let mut drawn: Vec<(Option<usize>, Change, &At<String>)> = Vec::new();
    gathered(rows.iter().enumerate().map(|(at, row)| {
        let end = |key: &str, value: &At<String>, report: &mut Report| -> Result<Named, Reported> {
            if bare_end(&row.of.value, &value.value).contains('=') {
                let said = format!("\"{}\" is no end of \"{}\"", value.value, row.of.value);
                let fault = Fault::error(Code::UnknownReference, said);
                return Err(report.error(fault.at(&value.place, "expected a value of it").help(
                    format!("write only the value, such as {key} = \"1.02 USD\" for of = \"1 EUR\""),
                )));
            }
            let words = end_of_range(&row.of.value, &value.value);
            named(&words, (&shipments, of.comparison), of.tariffs, report).map_err(|why| {
                let (message, more) = why.split_once('\n').unwrap_or((&why, ""));
                let fault = Fault::error(Code::UnknownReference, message.to_owned())
                    .at(&value.place, format!("read as \"{words}\""));
                let more = more.lines().flat_map(|line| at_commas(line.trim(), 900));
                report.error(more.fold(fault, |fault, line| fault.help(line.trim().to_owned())))
            })
        };
        let low = end("from", &row.from, report)?;
        let high = end("to", &row.to, report)?;
        let mode = row.mode.as_ref().map(|mode| end("mode", mode, report)).transpose()?;
        let offer = low.offer;
        let ends: [Change; 2] = [low.change, high.change];
        let is_same = |(other, change, _): &&(Option<usize>, Change, _)| {
            *other == offer && change.is_of_same(&ends[0])
        };
        if let Some((.., first)) = drawn.iter().find(is_same) {
            let message = format!("\"{}\" is drawn from two ranges", row.of.value);
            return Err(report.error(
                Fault::error(Code::Duplicate, message)
                    .at(&row.of.place, "again here")
                    .also(&first.place, "first here")
                    .help("a charge and its leg may both be drawn; one thing has one range"),
            ));
        }
        drawn.push((offer, ends[0].clone(), &row.of));
        if ends[0].between(&ends[1], Decimal::ZERO).is_none() {
            return Err(report.error(
                Fault::error(Code::UnknownReference, format!("\"{}\" is not drawn from a range", row.of.value))
                    .at(&row.of.place, "no amount, percentage, rate or price")
                    .help("a sweep draws charges, legs, rates of exchange, duties and prices; for days and bundles there is --over"),
            ));
        }
        let likeliest = match (&mode, &row.mode) {
            (Some(mode), Some(at)) => {
                let place = ends[0].place_of(&ends[1], &mode.change);
                Some(place.ok_or_else(|| {
                    let fault = Fault::error(Code::OutOfRange, "the likeliest value lies outside its range");
                    report.error(fault.at(&at.place, format!("expected one from {} to {}", row.from.value, row.to.value)))
                })?)
            }
            _ => None,
        };
        // One that names no source has its own.
        let source = match &row.source {
            Some(source) => sources.iter().position(|known| *known == source.value).unwrap_or_else(|| {
                sources.push(&source.value);
                sources.len() - 1
            }),
            None => rows.len() + at,
        };
        let bare = |end: &str| bare_end(&row.of.value, end).to_owned();
        Ok(Range {
            words: [&row.of, &row.from, &row.to].map(|one| bare(&one.value)),
            mode: row.mode.as_ref().map(|mode| bare(&mode.value)),
            offer: low.offer,
            ends,
            likeliest,
            source,
        })
    }))
}
