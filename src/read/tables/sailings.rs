//! `rates/sailings.toml`: which ships leave when.

use super::super::keys::{Names, Quotes};
use super::super::table::{Laid, Table};
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::count_of;
use crate::trade::{Lane, SailingDays, SailingRow, Tariffs, WEEKDAYS, Window};

/// The rows that stand under the head of a quote.
const HEAD: Laid = Laid::under_quote(&["sailing"]);

/// A voyage is no longer than this, and no port closes longer before a sailing (a choice of ours).
const MOST_DAYS: u32 = 365;

pub(super) fn sailings(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    let quotes = Quotes::of(top, &HEAD, report);
    tariffs.sailings.extend(quotes.rows("sailing", report, sailing));
    quotes.finish(report);
}

fn sailing(row: &Table<'_>, report: &mut Report) -> Result<SailingRow, Reported> {
    let lane = row.required::<Lane>("lane", report);
    let service = row.text("service", report);
    let transit = row.required_count("transit-days", report);
    let weekdays = row.words("weekdays", &WEEKDAYS, report);
    let days = row.dates("days", report);
    let closes = row.count("closes", report);
    let valid = row.required::<Window>("valid", report);
    let source = row.required_text("source", report);
    let (weekdays, days, transit, closes) = (weekdays?, days?, transit?, closes?);
    if weekdays.is_empty() == days.is_empty() {
        return Err(report.error(
            Fault::error(Code::MissingKey, "a service needs its weekdays or its days, not both")
                .at(&row.place(), "expected one of the two")
                .help("write weekdays = [\"thursday\"], or days = [2026-05-07, 2026-05-21]"),
        ));
    }
    for at in [Some(&transit), closes.as_ref()].into_iter().flatten() {
        if at.value > MOST_DAYS {
            report.add(
                Fault::error(Code::OutOfRange, "more than a year")
                    .at(&at.place, format!("expected at most {}", count_of(MOST_DAYS, "day"))),
            );
        }
    }
    let valid = valid?.value;
    if let Some(outside) = days.iter().find(|day| !valid.holds(day.value)) {
        report.add(
            Fault::error(Code::OutOfRange, "a sailing lies outside the row's `valid`")
                .at(&outside.place, format!("expected a day in {valid}")),
        );
    }
    let days = if days.is_empty() {
        SailingDays::Weekdays(weekdays)
    } else {
        let mut days: Vec<_> = days.into_iter().map(|day| day.value).collect();
        days.sort_unstable();
        SailingDays::Dates(days)
    };
    Ok(SailingRow {
        lane: lane?.value,
        service: service?.map(|at| at.value),
        transit: transit.value,
        days,
        closes: closes.map_or(0, |at| at.value),
        valid,
        source: source?.value,
        place: row.place(),
    })
}
