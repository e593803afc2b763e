//! `rates/duty.toml`: customs regimes and layers of duty.

use super::keys::{Named, Names, countries, each, required_name};
use super::table::{self, Table};
use super::timing::due_rule;
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Currency, Money, Percent};
use crate::trade::{
    DutyRate, DutyRounding, DutyRow, EntryFee, Event, Key, LayerKind, Leg, Mode, Regime, Tariffs,
    ValueBasis, Window, WorkCalendar,
};

pub(super) fn duty(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    let calendars = &tariffs.calendars;
    let regimes = each(top, "regime", report, |row, report| regime(row, calendars, report));
    tariffs.regimes = regimes;
    tariffs.duties = each(top, "duty", report, |row, report| layer(row, names, report));
}

fn regime(row: &Table<'_>, calendars: &[WorkCalendar], report: &mut Report) -> Option<Regime> {
    let id = row.required_text("id", report);
    let name = row.required_text("name", report);
    let currency = row.required::<Currency>("currency", report);
    let bases = [(ValueBasis::Export, "export"), (ValueBasis::Border, "border")];
    let basis = row.required_word("value-basis", &bases, report);
    let adds = legs(row, "adds", report);
    let takes_out = legs(row, "takes-out", report);
    let through = legs(row, "takes-out-through", report);
    let tax_adds = legs(row, "tax-adds", report);
    let assumed = each(row, "assumed", report, |share, report| {
        let leg = share.required_word("leg", &Leg::ALL, report);
        let rate = share.required::<Percent>("rate", report);
        Some((leg?.value, rate?.value))
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
        Some(EntryFee { name: name?.value, mode: mode.map(|at| at.value) })
    });
    let restricted_bond = row.count("restricted-bond", report);
    let valid = row.required("valid", report);
    let source = row.required_text("source", report);
    let (currency, basis) = (currency?.value, basis?.value);
    if adds.as_ref().is_some_and(|adds| !adds.contains(&Leg::ExportPacking)) {
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
    Some(Regime {
        id: id?.value,
        name: name?.value,
        currency,
        basis,
        adds: adds.unwrap_or_else(|| basis.adds()),
        takes_out: takes_out.unwrap_or_else(|| basis.takes_out()),
        through: through.unwrap_or_default(),
        assumed,
        value_step: step.map_or(Money::zero(currency), |at| at.value),
        duty_rounding: rounding.map_or(DutyRounding::default(), |at| at.value),
        daily_rate_from: daily_rate_from.map(|at| at.value),
        exchange_on: exchange_on.map_or(Event::Sails, |at| at.value),
        duty_due,
        tax_adds: tax_adds.unwrap_or_default(),
        informal_limit: informal.map(|at| at.value),
        fees,
        restricted_bond: restricted_bond.map(|at| at.value),
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    })
}

/// A list of legs; `None` where the key is left out.
fn legs(row: &Table<'_>, key: &'static str, report: &mut Report) -> Option<Vec<Leg>> {
    let texts = row.texts(key, report);
    let mut legs = Vec::new();
    for text in &texts {
        match Leg::ALL.iter().find(|(_, word)| *word == text.value) {
            Some((leg, _)) => legs.push(*leg),
            None => {
                let names: Vec<&str> = Leg::ALL.iter().map(|(_, word)| *word).collect();
                report.add(table::unknown_word(key, text, &names));
            }
        }
    }
    row.has(key).then_some(legs)
}

fn layer(row: &Table<'_>, names: &Names, report: &mut Report) -> Option<DutyRow> {
    let regime = required_name(row, "regime", Named::Regime, names, report);
    let line = row.required_text("line", report);
    let origins = countries(row, "origins", report);
    let kind = row.required_word("layer", &LayerKind::ALL, report);
    let name = row.required_text("name", report);
    let rate = row.required::<DutyRate>("rate", report);
    let producer = row.text("producer", report);
    let programme = row.text("programme", report);
    let key = row.word("key", &Key::ALL, report);
    let excludes = row.texts("excludes", report);
    let formal = row.flag("formal", report);
    let loaded = row.optional::<Window>("loaded", report);
    let valid = row.required("valid", report);
    let source = row.required_text("source", report);
    let kind = kind?;
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
        (kind.value, rate.as_ref().map(|rate| rate.value))
    {
        wrong("rate", "a top-up must be a percentage", "write rate = \"15 %\": the total to reach");
    }
    Some(DutyRow {
        regime: regime?,
        line: line?.value,
        origins,
        kind: kind.value,
        name: name?.value,
        rate: rate?,
        producer: producer.map(|at| at.value),
        programme: programme.map(|at| at.value),
        key: key.map(|at| at.value),
        formal: formal.is_some_and(|at| at.value),
        excludes: excludes.into_iter().map(|at| at.value).collect(),
        loaded: loaded.map(|at| at.value),
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    })
}
