//! `rates/duty.toml`: customs regimes and layers of duty.

use std::sync::Arc;

use super::keys::{Named, Names, Quotes, countries, each, is_starter, readable, required_name};
use super::table::{Laid, Table};
use super::timing::due_rule;
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::{Currency, Money, Percent};
use crate::trade::{
    DutyRate, DutyRounding, DutyRow, EntryFee, Event, Key, LayerKind, Leg, Mode, Regime,
    TariffLine, Tariffs, ValueBasis, Window, WorkCalendar,
};

/// The rows that stand under the head of a quote.
const HEAD: Laid = Laid::under_quote(&["duty"]);

pub(super) fn duty(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    let calendars = &tariffs.calendars;
    let regimes = readable(top, "regime", report, |row, report| regime(row, calendars, report));
    tariffs.regimes = regimes;
    let quotes = Quotes::of(top, &HEAD, report);
    let duties = quotes.rows("duty", report, |row, report| layer(row, names, report).map(Arc::new));
    tariffs.duties = duties;
    quotes.finish(report);
}

fn regime(
    row: &Table<'_>,
    calendars: &[WorkCalendar],
    report: &mut Report,
) -> Result<Regime, Reported> {
    let id = row.required_text("id", report);
    let name = row.required_text("name", report);
    let currency = row.required::<Currency>("currency", report);
    let bases = [(ValueBasis::Export, "export"), (ValueBasis::Border, "border")];
    let basis = row.required_word("value-basis", &bases, report);
    let adds = row.words("adds", &Leg::ALL, report);
    let takes_out = row.words("takes-out", &Leg::ALL, report);
    let through = row.words("takes-out-through", &Leg::ALL, report);
    let tax_adds = row.words("tax-adds", &Leg::ALL, report);
    let assumed = each(row, "assumed", report, |share, report| {
        let leg = share.required_word("leg", &Leg::ALL, report);
        let rate = share.required::<Percent>("rate", report);
        Ok((leg?.value, rate?.value))
    });
    let step = row.optional::<Money>("value-step", report);
    let roundings = [(DutyRounding::Layer, "layer"), (DutyRounding::Line, "line")];
    let rounding = row.word("duty-rounding", &roundings, report);
    let daily_rate_from = row.optional::<Percent>("daily-rate-from", report);
    let days = [(Event::Sails, "sails"), (Event::Entered, "entered")];
    let exchange_on = row.word("exchange-on", &days, report);
    let duty_due = due_rule(row, "duty-due", calendars, report);
    let informal = row.optional::<Money>("informal-limit", report);
    let fees = each(row, "fees", report, |fee, report| {
        let name = fee.required_text("name", report);
        let mode = fee.word("mode", &Mode::ALL, report);
        Ok(EntryFee { name: name?.value, mode: mode?.map(|at| at.value) })
    });
    let restricted_bond = row.count("restricted-bond", report);
    let valid = row.required("valid", report);
    let source = row.required_text("source", report);
    let (currency, basis) = (currency?.value, basis?.value);
    let (adds, step, informal) = (adds?, step?, informal?);
    if row.has("adds") && !adds.contains(&Leg::ExportPacking) {
        let message = "packing is part of the customs value, whether `adds` names it or not";
        report.add(
            Fault::warning(Code::Notice, message)
                .at(&row.place_of("adds"), "\"export packing\" is not here")
                .help("add it: what the buyer bears of it is added under every value (WTO Agreement on customs valuation, article 8(1)(a); 19 U.S.C. 1401a(b)(1)(A))"),
        );
    }
    for money in [&step, &informal].into_iter().flatten() {
        if money.value.currency() != currency {
            report.add(
                Fault::error(Code::Contradiction, format!("a regime's entries are in {currency}"))
                    .at(&money.place, "this is in another currency"),
            );
        }
    }
    Ok(Regime {
        id: id?.value,
        name: name?.value,
        currency,
        basis,
        adds: if row.has("adds") { adds } else { basis.adds() },
        takes_out: if row.has("takes-out") { takes_out? } else { basis.takes_out() },
        through: through?,
        assumed: assumed?,
        value_step: step.map_or(Money::zero(currency), |at| at.value),
        duty_rounding: rounding?.map_or(DutyRounding::default(), |at| at.value),
        daily_rate_from: daily_rate_from?.map(|at| at.value),
        exchange_on: exchange_on?.map_or(Event::Sails, |at| at.value),
        duty_due: duty_due?,
        tax_adds: tax_adds?,
        informal_limit: informal.map(|at| at.value),
        fees: fees?,
        restricted_bond: restricted_bond?.map(|at| at.value),
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    })
}

fn layer(row: &Table<'_>, names: &Names, report: &mut Report) -> Result<DutyRow, Reported> {
    let regime = required_name(row, "regime", Named::Regime, names, report);
    let line = row.required::<TariffLine>("line", report);
    let origins = countries(row, "origins", report);
    let kind = row.required_word("layer", &LayerKind::ALL, report);
    let name = row.required_text("name", report);
    let rate = row.required::<DutyRate>("rate", report);
    let producer = row.text("producer", report);
    let programme = row.text("programme", report);
    let key = row.word("key", &Key::ALL, report);
    let excludes = row.texts("excludes", report);
    let formal = row.flag("formal", report);
    let starter = is_starter(row, report);
    let loaded = row.optional::<Window>("loaded", report);
    let read = row.date("read", report);
    let valid = row.required("valid", report);
    let source = row.required_text("source", report);
    let second_hand = row.flag("second-hand", report);
    let (kind, producer, programme) = (kind?, producer?, programme?);
    let mut wrong = |key: &str, message: &str, help: &str| {
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&row.place_of(key), format!("in a layer that is \"{}\"", kind.value.word()))
                .help(help),
        );
    };
    if producer.is_some() && !kind.value.is_by_producer() {
        wrong(
            "producer",
            "`producer` is for an anti-dumping or countervailing duty",
            "leave `producer` out, or write layer = \"anti-dumping\"",
        );
    }
    if programme.is_some() != (kind.value == LayerKind::Preferential) {
        wrong(
            "programme",
            "layer = \"preferential\" and `programme` need each other",
            "write layer = \"preferential\" with the `programme` that a line claims, or leave `programme` out",
        );
    }
    if let (LayerKind::TopUp, Some(DutyRate::Specific(_))) =
        (kind.value, rate.as_ref().ok().map(|rate| rate.value))
    {
        wrong("rate", "a top-up must be a percentage", "write rate = \"15 %\": the total to reach");
    }
    Ok(DutyRow {
        regime: regime?,
        line: line?.value.0,
        origins: origins?,
        kind: kind.value,
        name: name?.value,
        rate: rate?,
        producer: producer.map(|at| at.value),
        programme: programme.map(|at| at.value),
        key: key?.map(|at| at.value),
        formal: formal?.is_some_and(|at| at.value),
        is_starter: starter?,
        excludes: excludes?.into_iter().map(|at| at.value).collect(),
        loaded: loaded?.map(|at| at.value),
        valid: valid?.value,
        source: source?.value,
        second_hand: second_hand?.is_some_and(|at| at.value),
        read: read?.map(|at| at.value),
        place: row.place(),
    })
}
