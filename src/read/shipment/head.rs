//! What a shipment says of itself beside its invoices: where it goes, by when, by whom.

use std::collections::BTreeSet;

use super::super::keys::readable;
use super::super::table::{self, Table};
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::quantity::{Hours, Length, Mass, Written};
use crate::trade::{
    CalledPort, Clock, Dates, DeliveryTerm, Incoterm, Invoice, Key, Lane, NamedPort, PolicyRule,
    Port, ScopeKind, TableName, Tariffs, Timber, Treatment,
};

/// The lane: as stated, or from the port a term names to the yard's port.
pub(super) fn route(
    lane: Result<Option<At<Lane>>, Reported>,
    (invoices, all_invoices): (&[Invoice], Result<(), Reported>),
    to: &Port,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Lane, Reported> {
    if let Some(lane) = lane? {
        for invoice in invoices.iter().filter(|invoice| !invoice.of_blocks) {
            on_lane(&invoice.term, &lane, &tariffs.ports, report);
        }
        return Ok(lane.value);
    }
    let ports = invoices.iter().filter(|invoice| {
        !invoice.of_blocks
            && matches!(invoice.term.rule, Incoterm::Fca | Incoterm::Fas | Incoterm::Fob)
            && invoice.term.names_port()
    });
    let mut ports: Vec<&str> = ports.map(|invoice| invoice.term.named_place.as_str()).collect();
    ports.dedup();
    let arrival = to.to_string();
    if let Some(wrong) = invoices.iter().find(|one| {
        matches!(one.term.rule, Incoterm::Fas | Incoterm::Fob) && one.term.named_place == arrival
    }) {
        let rule = wrong.term.rule.letters();
        let message =
            format!("{rule} names the port of loading, and {arrival} is the yard's own port");
        return Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&wrong.term.place, "the port of arrival")
                .help(format!(
                    "write the port of loading: {}; a price to {arrival} is \"CFR {arrival}\" or, insured, \"CIF {arrival}\"",
                    ports_to(&arrival, rule, tariffs)
                )),
        ));
    }
    if let [port] = ports[..] {
        let from = <Port as crate::quantity::Written>::read(port).ok();
        return Ok(Lane { from: report.found(from, "the port of a term")?, to: to.clone() });
    }
    // One that could not be read may name the port.
    all_invoices?;
    let first =
        report.found(invoices.iter().find(|invoice| !invoice.of_blocks), "the first invoice")?;
    let label = match first.term.rule {
        _ if ports.len() > 1 => "another names another port",
        Incoterm::Cfr | Incoterm::Cif if first.term.names_port() => {
            "it names the port of arrival alone"
        }
        _ => "it names no port",
    };
    Err(report.error(
        Fault::error(Code::MissingKey, "the port of loading is not known")
            .at(&first.term.place, label)
            .help(format!("add the lane, such as lane = \"TRIZM-{to}\"")),
    ))
}

/// A rule with each port from which the rates have a lane to another, as it is written.
fn ports_to(arrival: &str, rule: &str, tariffs: &Tariffs) -> String {
    let lanes =
        tariffs.charges.iter().filter_map(|row| row.matches.lane.as_deref()?.split_once('-'));
    let ports: BTreeSet<&str> =
        lanes.filter(|(_, to)| *to == arrival).map(|(from, _)| from).collect();
    let written: Vec<String> = ports.iter().map(|port| format!("\"{rule} {port}\"")).collect();
    if written.is_empty() {
        format!("\"{rule} TRIZM\", if it is Izmir")
    } else {
        written.join(" or ")
    }
}

/// A term names a port of its lane or none.
fn on_lane(term: &At<DeliveryTerm>, lane: &At<Lane>, ports: &[NamedPort], report: &mut Report) {
    if let Some((port, of)) = term.off_lane(lane) {
        let called = |code: &Port| CalledPort::of(code, ports).to_string();
        let named = Port::read(&term.named_place).map(|port| called(&port));
        let message = format!(
            "{} names {} as the port of {of}, and the lane {} says {}",
            **term,
            named.unwrap_or_else(|_| term.named_place.clone()),
            **lane,
            called(port)
        );
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&term.place, "the term's port")
                .also(&lane.place, "the lane's")
                .help(format!(
                    "write \"{} {port}\", or correct the lane; goods by way of two ports are two shipments",
                    term.rule.letters()
                )),
        );
    }
}

pub(super) fn dates(
    top: &Table<'_>,
    delivery_days: u32,
    report: &mut Report,
) -> Result<Dates, Reported> {
    let Some(row) = top.inside("dates", report)? else {
        let fault = Fault::error(Code::MissingKey, "the shipment has no `dates`")
            .at(&top.place(), "`dates` is needed here")
            .help("add dates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }");
        return Err(top.lacks(&["dates"], fault, report));
    };
    let quoted = row.required_date("quoted", report);
    let collected = row.date("collected", report);
    let sails = row.required_date("sails", report);
    let arrives = row.required_date("arrives", report);
    let entered = row.date("entered", report);
    let delivered = row.date("delivered", report);
    let returned = row.date("returned", report);
    row.finish(report);
    let (sails, arrives) = (sails?, arrives?);
    let (collected, entered) = (collected?, entered?);
    let (delivered, returned) = (delivered?, returned?);
    let days = |count: u32| chrono::Days::new(u64::from(count));
    let delivered_on = match &delivered {
        Some(at) => at.value,
        None => {
            let day = arrives.checked_add_days(days(delivery_days));
            report.found(day, "the day of delivery")?
        }
    };
    let returned_on = match &returned {
        Some(at) => at.value,
        None => report.found(delivered_on.checked_add_days(days(1)), "the day of return")?,
    };
    let mut order = |late: &At<crate::trade::Date>, early, what: &str| {
        if late.value < early {
            // The day is most often right, and the month is not.
            let months = (1..=12).map(chrono::Months::new);
            let mut later = months.filter_map(|month| late.value.checked_add_months(month));
            let help = match later.find(|later| *later >= early) {
                Some(meant) => format!("is {meant} meant? else correct the other of the two"),
                None => "correct the one of the two that is wrong".to_owned(),
            };
            report.add(
                Fault::error(Code::OutOfRange, format!("{what} ({early})"))
                    .at(&late.place, "this date is too early")
                    .help(help),
            );
        }
    };
    if let Some(collected) = &collected {
        order(&sails, collected.value, "`sails` is before `collected`");
    }
    order(&arrives, sails.value, "`arrives` is before `sails`");
    if let Some(delivered) = &delivered {
        order(delivered, arrives.value, "`delivered` is before `arrives`");
    }
    if let Some(returned) = &returned {
        order(returned, delivered_on, "`returned` is before `delivered`");
    }
    if let Some(entered) = &entered {
        order(entered, sails.value, "`entered` is before `sails`");
    }
    Ok(Dates {
        quoted: quoted?.value,
        collected: collected.map(|at| at.value),
        sails: sails.value,
        arrives: arrives.value,
        entered: entered.map_or(arrives.value, |at| at.value),
        delivered: delivered_on,
        returned: returned_on,
    })
}

/// `[[hours]]`: hours that bills count, by the name the rows have for them.
pub(super) fn hours(
    top: &Table<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Vec<(At<String>, Hours)> {
    let counted = tariffs.charges.iter().filter_map(|row| match &row.clock {
        Some(Clock::Hours { name, .. }) => Some(name.value.as_str()),
        _ => None,
    });
    let known: Vec<&str> = counted.collect();
    let rows = readable(top, "hours", report, |row, report| {
        let name = row.required_text("of", report);
        let count = row.required::<Hours>("count", report);
        Ok((name?, count?))
    });
    let mut all: Vec<(At<String>, Hours)> = Vec::new();
    for (name, count) in rows {
        if let Some((first, _)) = all.iter().find(|(one, _)| one.value == name.value) {
            report.add(
                Fault::error(Code::Duplicate, format!("two counts of hours \"{}\"", name.value))
                    .at(&name.place, "again here")
                    .also(&first.place, "first here"),
            );
            continue;
        }
        // Hours that no bill counts would cost nothing, without a word.
        if !known.contains(&name.value.as_str()) {
            table::add_unknown("count of hours", &name, "rates/", &known, report);
        }
        all.push((name, count.value));
    }
    all
}

pub(super) fn pins(top: &Table<'_>, report: &mut Report) -> Vec<(TableName, Vec<At<String>>)> {
    let Ok(Some(row)) = top.inside("offers", report) else {
        return Vec::new();
    };
    let mut pins = Vec::new();
    for (table, word) in TableName::ALL {
        let Ok(offers) = row.text_or_texts(word, report) else { continue };
        if offers.is_empty() && row.has(word) && !report.has_errors() {
            report.add(
                Fault::error(Code::MissingKey, format!("`{word}` names no offer"))
                    .at(&row.place_of(word), "expected one, or a list of them")
                    .help("name the offers that may serve, or leave it out: then all may"),
            );
        }
        if !offers.is_empty() {
            pins.push((table, offers));
        }
    }
    row.finish(report);
    pins
}

pub(super) fn policy(row: &Table<'_>, report: &mut Report) -> Result<PolicyRule, Reported> {
    // Books change no choice: what is paid stays paid, and what is not is not booked.
    let books = [(Treatment::Stock, "stock"), (Treatment::Period, "period")];
    let charge = row.required_text("charge", report);
    let key = row.word("key", &Key::ALL, report);
    let scope = row.word("scope", &ScopeKind::ALL, report);
    let treatment = row.word("treatment", &books, report);
    let reason = row.required_text("reason", report);
    Ok(PolicyRule {
        charge: charge?,
        key: key?.map(|at| at.value),
        scope: scope?,
        treatment: treatment?.map(|at| at.value),
        reason: reason?.value,
        place: row.place(),
    })
}

/// The timber of bundles; where it is missing, none at all, so as to read on.
pub(super) fn timber(tariffs: &Tariffs, place: &Place, report: &mut Report) -> Timber {
    if let Some(timber) = &tariffs.timber {
        return timber.clone();
    }
    let home = "rates/crating.toml";
    if report.sound_in(home).is_ok() {
        report.add(
            Fault::error(Code::MissingKey, format!("{home} has no [timber]")).in_file(home).help(
                "say what a bundle's timber weighs and adds: mass, height, width, length, between",
            ),
        );
    }
    Timber {
        mass: Mass::ZERO,
        height: Length::ZERO,
        width: Length::ZERO,
        length: Length::ZERO,
        between: Length::ZERO,
        place: place.clone(),
    }
}
