//! The keys of charge rows that speak of time and of steps: days, hours, tiers, due dates; and the
//! calendars that working days are counted by.

use super::keys::{each, readable};
use super::table::{self, Table};
use crate::fault::{At, Code, Fault, Report, Reported, gathered};
use crate::quantity::{Decimal, Hours, Mass, Money, Written};
use crate::trade::{
    ChargeRow, Clock, DayCount, DayCountWord, Due, DueRule, Event, Per, Rate, Tier, TierBy, Tiers,
    Treatment, WEEKDAYS, WhatOf, Window, WorkCalendar,
};

/// Reads `rates/calendars.toml`.
pub(super) fn calendars(top: &Table<'_>, report: &mut Report) -> Vec<WorkCalendar> {
    let mut all: Vec<WorkCalendar> = Vec::new();
    for read in readable(top, "calendar", report, calendar) {
        if let Some(first) = all.iter().find(|one| one.id == read.id) {
            let message = format!("two calendars are called \"{}\"", read.id);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&read.place, "again here")
                    .also(&first.place, "first here")
                    .help("list the holidays of all years in one, and let `valid` cover them"),
            );
        }
        all.push(read);
    }
    all
}

fn calendar(row: &Table<'_>, report: &mut Report) -> Result<WorkCalendar, Reported> {
    let id = row.required_text("id", report);
    let weekend = row.words("weekend", &WEEKDAYS, report);
    let holidays = row.dates("holidays", report);
    let valid = row.required::<Window>("valid", report);
    row.required_text("source", report)?;
    let (weekend, holidays) = (weekend?, holidays?);
    if weekend.len() >= WEEKDAYS.len() {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "the calendar has no working day")
                .at(&row.place_of("weekend"), "every day of the week is free"),
        ));
    }
    let (id, valid) = (id?.value, valid?.value);
    if let Some(outside) = holidays.iter().find(|day| !valid.holds(day.value)) {
        report.add(
            Fault::error(
                Code::OutOfRange,
                format!("a holiday of \"{id}\" lies outside its `valid`"),
            )
            .at(&outside.place, format!("expected a day in {valid}")),
        );
    }
    let holidays = holidays.into_iter().map(|day| day.value).collect();
    Ok(WorkCalendar { id, weekend, holidays, valid, place: row.place() })
}

/// The calendar a row names, where it names one.
fn named(
    row: &Table<'_>,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<Option<WorkCalendar>, Reported> {
    let Some(name) = row.text("calendar", report)? else { return Ok(None) };
    match calendars.iter().find(|one| one.id == name.value) {
        Some(found) => Ok(Some(found.clone())),
        None => {
            let known: Vec<&str> = calendars.iter().map(|one| one.id.as_str()).collect();
            Err(table::add_unknown("calendar", &name, "rates/calendars.toml", &known, report))
        }
    }
}

/// What a row says of its days and its due dates.
#[derive(Debug, Default)]
pub(super) struct Timing {
    pub(super) day_count: DayCount,
    pub(super) due: Option<DueRule>,
    pub(super) recovered: Option<DueRule>,
}

/// Reads `day-count`, `calendar`, `due` and `recovered`. Working days without a calendar are a
/// fault: nobody could count them.
pub(super) fn timing(
    row: &Table<'_>,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<Timing, Reported> {
    let word = row.word("day-count", &DayCount::WORDS, report);
    let calendar = named(row, calendars, report);
    let due = row.optional::<Due>("due", report);
    let recovered = row.optional::<Due>("recovered", report);
    let (word, due, recovered) = (word?, due?, recovered?);
    let counts = word.as_ref().is_some_and(|word| word.value != DayCountWord::Calendar);
    let dates = [("due", &due), ("recovered", &recovered)];
    let waits = dates.iter().find(|(_, due)| due.as_ref().is_some_and(|due| due.working));
    let key = if counts { Some("day-count") } else { waits.map(|(key, _)| *key) };
    if let Some(key) = key.filter(|_| !row.has("calendar")) {
        return Err(report.error(no_calendar(row, key)));
    }
    if key.is_none() && row.has("calendar") {
        report.add(idle_calendar(row));
    }
    let calendar = calendar?;
    let rule = |due: Option<At<Due>>| {
        let due = due?;
        let calendar = calendar.clone().filter(|_| due.working);
        Some(DueRule { due, calendar })
    };
    let day_count = match (word.map(|word| word.value), &calendar) {
        (Some(DayCountWord::Working), Some(calendar)) => DayCount::Working(calendar.clone()),
        (Some(DayCountWord::FreeWorking), Some(calendar)) => {
            DayCount::FreeWorking(calendar.clone())
        }
        _ => DayCount::Calendar,
    };
    Ok(Timing { day_count, due: rule(due), recovered: rule(recovered) })
}

/// Reads a due date that stands alone in its table, with the `calendar` that its working days are
/// of.
pub(super) fn due_rule(
    row: &Table<'_>,
    key: &'static str,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<Option<DueRule>, Reported> {
    let due = row.optional::<Due>(key, report);
    let calendar = named(row, calendars, report);
    let Some(due) = due? else { return calendar.map(|_| None) };
    if due.working && !row.has("calendar") {
        return Err(report.error(no_calendar(row, key)));
    }
    if !due.working && row.has("calendar") {
        report.add(idle_calendar(row));
    }
    Ok(Some(DueRule { due, calendar: calendar? }))
}

fn no_calendar(row: &Table<'_>, key: &str) -> Fault {
    Fault::error(Code::MissingKey, "working days need a calendar")
        .at(&row.place_of(key), "`calendar` is needed as well")
        .help("name a row of rates/calendars.toml, such as calendar = \"us-federal\"")
}

fn idle_calendar(row: &Table<'_>) -> Fault {
    Fault::error(Code::Contradiction, "`calendar` has no use here: no working days are counted")
        .at(&row.place_of("calendar"), "this calendar")
        .help("count working days, such as \"arrives + 5 working days\", or remove `calendar`")
}

/// The time that a row charges: its days with the free ones and their count, or its hours with the free ones
/// and whether a part counts whole.
pub(super) fn clock(
    per: Per,
    (days, free_days, count): (Option<(Event, Event)>, u32, DayCount),
    (hours, free, begun): (Option<At<String>>, Hours, bool),
) -> Option<Clock> {
    match (hours, per, days) {
        (Some(name), ..) => Some(Clock::Hours { name, free, begun }),
        (None, Per::Month, Some(between)) => Some(Clock::Months { between, each: 1 }),
        (None, Per::Quarter, Some(between)) => Some(Clock::Months { between, each: 3 }),
        (None, _, Some(between)) => Some(Clock::Days { between, free: free_days, count }),
        (None, _, None) => None,
    }
}

/// Checks the keys of time: a row that counts time needs them, any other must not have them.
pub(super) fn check_time(
    charge: &ChargeRow,
    (free_days, begun, has_interest): (u32, bool, bool),
    row: &Table<'_>,
    report: &mut Report,
) {
    let fault = |code, message: &str, key: &str, label: &str| {
        Fault::error(code, format!("\"{}\": {message}", charge.name)).at(&row.place_of(key), label)
    };
    let of_charge = matches!(charge.rate.value.of(), Some(WhatOf::Charge(_)));
    let span = matches!(charge.per, Per::Day | Per::Month | Per::Quarter);
    let by_days = matches!(&charge.rate.value, Rate::Tiers(tiers) if tiers.by == TierBy::Days);
    if (span || by_days) && !row.has("days") {
        let what = if by_days { "tiers by days do not" } else { "a charge per day does not" };
        report.add(
            fault(
                Code::MissingKey,
                &format!("{what} say which days"),
                "per",
                "`days` is needed as well",
            )
            .help("add `days` from one event to another, such as days = \"arrives..delivered\""),
        );
    }
    let counts_days = match charge.per {
        Per::Part => !of_charge,
        per => span || per == Per::Container,
    };
    if !counts_days && (row.has("days") || free_days > 0) {
        let key = if row.has("days") { "days" } else { "free-days" };
        let what = "it has `days` or `free-days`, and is neither per day nor per container";
        report.add(
            fault(Code::Contradiction, what, key, "days are counted here")
                .help("write per = \"day\" or per = \"container\", or remove the days"),
        );
    } else if let Some(key) = ["free-days", "day-count"].into_iter().find(|key| row.has(key))
        && (!row.has("days") || matches!(charge.per, Per::Month | Per::Quarter))
    {
        let what = "it has free days, and no `days` to take them from";
        report.add(
            fault(Code::Contradiction, what, key, "taken from no days")
                .help("add `days` and count them per day or per container, or remove this"),
        );
    }
    let by_hour = charge.per == Per::Hour;
    if by_hour != row.has("hours") || (!by_hour && row.has("free-hours")) {
        let key = ["hours", "free-hours"].into_iter().find(|key| row.has(key)).unwrap_or("per");
        report.add(
            fault(
                Code::Contradiction,
                "per = \"hour\" and `hours` need each other",
                key,
                "only one of the two is here",
            )
            .help("name the hours of the shipment that it counts, such as hours = \"waiting\""),
        );
    }
    if begun && !by_hour && !matches!(charge.rate.value, Rate::Each { .. }) {
        let what = "`part` is for hours, and for an amount for `each` so much";
        report.add(fault(Code::Contradiction, what, "part", "no part is counted here"));
    }
    if let Rate::Tiers(tiers) = &charge.rate.value {
        let counted = match tiers.by {
            TierBy::Days => matches!(charge.per, Per::Day | Per::Container),
            TierBy::Lines => charge.per == Per::TariffLine,
            TierBy::Gross => charge.per == Per::Container,
        };
        if !counted && charge.per != Per::Part {
            let what = format!("tiers by {} are not per {}", tiers.by.word(), charge.per.word());
            report.add(
                fault(Code::Contradiction, &what, "per", "counted by this").help(
                    "tiers by days are per day or per container, by lines per tariff line, by gross mass per container",
                ),
            );
        }
    }
    let of_payments = matches!(charge.rate.value.of(), Some(WhatOf::Payments));
    let percent = charge.rate.value.percent().is_some();
    if of_payments != has_interest || (of_payments && !percent) {
        let key =
            ["days-in-year", "until", "of"].into_iter().find(|key| row.has(key)).unwrap_or("per");
        let what =
            "interest needs all of: of = \"payments\", a percentage, `days-in-year` and `until`";
        report.add(fault(Code::Contradiction, what, key, "not all of them are here").help(
            "write rate = \"8 %\", of = \"payments\", days-in-year = 360, until = \"delivered\"",
        ));
    }
    if charge.recovered.is_some() && charge.treatment != Treatment::Recoverable {
        let what = "`recovered` is for a charge that is recoverable";
        report.add(
            fault(Code::Contradiction, what, "recovered", "when it comes back")
                .help("add treatment = \"recoverable\", or remove `recovered`"),
        );
    }
}

/// Reads `days = "arrives..delivered"`.
pub(super) fn days(
    row: &Table<'_>,
    report: &mut Report,
) -> Result<Option<(Event, Event)>, Reported> {
    let Some(text) = row.text("days", report)? else { return Ok(None) };
    let event = |word: &str| Event::ALL.iter().find(|(_, w)| *w == word.trim()).map(|(e, _)| *e);
    let read = text.split_once("..").and_then(|(from, to)| Some((event(from)?, event(to)?)));
    let Some((from, to)) = read else {
        let names: Vec<&str> = Event::ALL.iter().map(|(_, word)| *word).collect();
        return Err(report.error(
            Fault::error(Code::UnknownWord, format!("`days` cannot be \"{}\"", text.value))
                .at(&text.place, "expected two events, such as \"arrives..delivered\"")
                .help(format!("events: {}", names.join(", "))),
        ));
    };
    // Only the entry may come before the events that stand before it.
    if to != Event::Entered && from >= to && (from != Event::Entered || from == to) {
        let message = format!("\"{}\" does not come before \"{}\"", from.word(), to.word());
        let fault = Fault::error(Code::OutOfRange, message)
            .at(&text.place, "expected the earlier event first");
        let turned = format!("write \"{}..{}\"", to.word(), from.word());
        return Err(report.error(if from == to { fault } else { fault.help(turned) }));
    }
    Ok(Some((from, to)))
}

/// Reads `tiers`: what each is told apart by, its window and its price. Tiers that overlap, leave a
/// hole, do not begin at the beginning or end before the end are a fault.
pub(super) fn tiers(row: &Table<'_>, report: &mut Report) -> Result<Option<Tiers>, Reported> {
    let read: Vec<(TierBy, Tier)> = each(row, "tiers", report, tier)?;
    let Some((by, first)) = read.first().cloned() else { return Ok(None) };
    for (other, tier) in &read {
        let message = if *other != by {
            format!("tiers by {} and by {}", by.word(), other.word())
        } else if tier.amount.currency() != first.amount.currency() {
            format!("tiers in {} and in {}", first.amount.currency(), tier.amount.currency())
        } else {
            continue;
        };
        return Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&tier.place, "this tier")
                .also(&first.place, "the first one"),
        ));
    }
    let tiers: Vec<Tier> = read.into_iter().map(|(_, tier)| tier).collect();
    whole(by, &tiers, report)?;
    Ok(Some(Tiers { by, tiers }))
}

fn tier(row: &Table<'_>, report: &mut Report) -> Result<(TierBy, Tier), Reported> {
    let amount = row.required::<Money>("amount", report);
    let each = TierBy::ALL.iter().map(|(by, key)| Ok(row.text(key, report)?.map(|at| (*by, at))));
    let each = gathered(each)?;
    let mut given = each.into_iter().flatten();
    let (Some((by, window)), None) = (given.next(), given.next()) else {
        return Err(report.error(
            Fault::error(Code::MissingKey, "a tier is by `days`, by `lines` or by `gross`")
                .at(&row.place(), "expected one of the three")
                .help("write days = \"1..5\", lines = \"4..\" or gross = \"20 t..24 t\""),
        ));
    };
    let Some((from, to)) = bounds(by, &window.value) else {
        let form = match by {
            TierBy::Gross => "two masses, such as \"20 t..24 t\" or \"24 t..\"",
            TierBy::Days | TierBy::Lines => "two counts, both in, such as \"1..5\" or \"6..\"",
        };
        return Err(report.error(
            Fault::error(
                Code::BadQuantity,
                format!("`{}` cannot be read: \"{}\"", by.word(), window.value),
            )
            .at(&window.place, format!("expected {form}")),
        ));
    };
    let amount = amount?.value;
    Ok((by, Tier { from, to, window: window.value, amount: amount.into(), place: window.place }))
}

fn bounds(by: TierBy, text: &str) -> Option<(Decimal, Option<Decimal>)> {
    let (from, to) = text.split_once("..")?;
    let read = |text: &str| match by {
        TierBy::Gross => Mass::read(text.trim()).ok().map(|mass| mass.to_kg(6)),
        TierBy::Days | TierBy::Lines => text.trim().parse::<u32>().ok().map(Decimal::from),
    };
    let from =
        if by == TierBy::Gross && from.trim().is_empty() { Decimal::ZERO } else { read(from)? };
    let to = match to.trim() {
        "" => None,
        to => Some(read(to)?),
    };
    (from >= Decimal::ZERO && to.is_none_or(|to| to >= from)).then_some((from, to))
}

/// Sees that tiers follow one another from the beginning without an end.
fn whole(by: TierBy, tiers: &[Tier], report: &mut Report) -> Result<(), Reported> {
    let (start, step) = match by {
        TierBy::Gross => (Decimal::ZERO, Decimal::ZERO),
        TierBy::Days | TierBy::Lines => (Decimal::ONE, Decimal::ONE),
    };
    let help = "each tier begins where the one before it ends, and the last one has no end: \
                days = \"1..5\", days = \"6..\"; gross = \"..20 t\", gross = \"20 t..\"";
    let mut next = Some(start);
    let mut before: Option<&Tier> = None;
    for tier in tiers {
        let wrong = match next {
            Some(next) if tier.from > next => Some("leave a gap"),
            Some(next) if tier.from == next => None,
            _ => Some("overlap"),
        };
        if let Some(wrong) = wrong {
            let what = if before.is_some() { wrong } else { "do not begin at the start" };
            let mut fault =
                Fault::error(Code::Contradiction, format!("the tiers {what}: {}", tier.window))
                    .at(&tier.place, "this tier")
                    .help(help);
            if let Some(before) = before {
                fault = fault.also(&before.place, "the one before it");
            }
            return Err(report.error(fault));
        }
        next = tier.to.map(|to| to + step);
        before = Some(tier);
    }
    if let (Some(_), Some(last)) = (next, before) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "the last tier must have no end")
                .at(&last.place, "nothing serves beyond this")
                .help(help),
        ));
    }
    Ok(())
}
