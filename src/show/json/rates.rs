//! The rates in force, for scripts.

use std::collections::BTreeMap;
use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, percent, plain, write};
use crate::fault::Place;
use crate::quantity::{Money, Percent};
use crate::trade::{
    ChargeRow, Clock, Country, Date, DutyRate, LimitOn, LimitRow, Per, Rate, Tariffs, WhatOf,
    Window,
};

#[derive(Serialize)]
struct RatesJson<'a> {
    format: u32,
    on: Option<String>,
    rates: Vec<RateJson<'a>>,
}

#[derive(Serialize)]
struct RateJson<'a> {
    table: &'static str,
    file: &'a str,
    line: usize,
    name: &'a str,
    /// The keys that it fits: lane, container, yard ...
    #[serde(rename = "for")]
    keys: BTreeMap<&'static str, String>,
    offer: Option<&'a str>,
    #[serde(flatten)]
    rate: OfRate<'a>,
    #[serde(flatten)]
    terms: TermsJson<'a>,
    from: String,
    until: Option<String>,
    source: &'a str,
    /// The day on which a published figure was read there.
    read: Option<String>,
}

/// What else bears on a charge; all null for a limit, a duty or a quote, and for works all but the minimum.
#[derive(Serialize, Default)]
struct TermsJson<'a> {
    leg: Option<&'static str>,
    minimum: Option<String>,
    minimum_currency: Option<&'static str>,
    maximum: Option<String>,
    maximum_currency: Option<&'static str>,
    /// From which event to which its time runs.
    between: Option<[&'static str; 2]>,
    /// Whether working days count, or all.
    days: Option<&'static str>,
    free_days: Option<u32>,
    free_hours: Option<String>,
    /// The hours of the shipment that it charges.
    hours: Option<&'a str>,
    /// Where it goes: `stock`, `period`, `recoverable`, `notional`.
    treatment: Option<&'static str>,
    basis: Option<&'static str>,
}

fn terms_json(row: &ChargeRow) -> TermsJson<'_> {
    let code = |money: Money| money.currency().code();
    let own = TermsJson {
        leg: Some(row.leg.word()),
        minimum: row.minimum.map(plain),
        minimum_currency: row.minimum.map(code),
        maximum: row.maximum.map(plain),
        maximum_currency: row.maximum.map(code),
        treatment: Some(row.treatment.word()),
        basis: Some(row.basis.word()),
        between: row
            .clock
            .as_ref()
            .and_then(Clock::between)
            .map(|(from, to)| [from.word(), to.word()]),
        ..TermsJson::default()
    };
    match &row.clock {
        Some(Clock::Days { free, count, .. }) => {
            TermsJson { free_days: Some(*free), days: Some(count.word()), ..own }
        }
        Some(Clock::Hours { name, free, .. }) => TermsJson {
            free_hours: Some(free.figure().to_string()),
            hours: Some(&name.value),
            ..own
        },
        Some(Clock::Months { .. }) | None => own,
    }
}

/// What a row charges, limits or quotes; figures are plain decimals.
#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
enum OfRate<'a> {
    /// So much for each unit.
    Amount { amount: String, currency: &'static str, per: Option<&'static str> },
    /// A percentage of something.
    Percentage { percent: String, of: String, per: Option<&'static str> },
    /// An amount for each so much of something.
    ForEach {
        amount: String,
        currency: &'static str,
        each: String,
        of: String,
        per: Option<&'static str>,
    },
    /// Amounts by tiers.
    Tiers { by: &'static str, tiers: Vec<TierJson<'a>>, per: Option<&'static str> },
    /// A limit on the mass of a box.
    Limit { mass_kg: String, on: &'static str, limit_kind: &'static str },
    /// A rate of exchange: one `base` is so many `counter`.
    Exchange { used_for: &'static str, base: &'static str, rate: String, counter: &'static str },
    /// A service: it sails on these weekdays or days.
    Sailing { sails: Vec<String>, days_at_sea: u32, closes_days_before: u32 },
}

#[derive(Serialize)]
struct TierJson<'a> {
    window: &'a str,
    amount: String,
    currency: &'static str,
}

/// Writes the rates in force.
///
/// # Errors
/// Where the output cannot be written.
pub fn rates(tariffs: &Tariffs, on: Option<Date>, out: &mut dyn Write) -> io::Result<()> {
    let charges = tariffs.charges.iter().map(of_charge);
    let limits = tariffs.limits.iter().map(of_limit);
    let duties = tariffs.duties.iter().map(|row| {
        let origins: Vec<&str> = row.origins.iter().map(Country::code).collect();
        let mut keys = BTreeMap::from([("regime", row.regime.clone()), ("line", row.line.clone())]);
        if !origins.is_empty() {
            keys.insert("origins", origins.join(" "));
        }
        let rate = match &row.rate.value {
            DutyRate::Percent(rate) => percentage(*rate, "entered value", None),
            DutyRate::Specific(each) => OfRate::Amount {
                amount: each.amount.to_string(),
                currency: each.currency.code(),
                per: Some(each.unit.word()),
            },
        };
        let line = ("duty", row.name.as_str(), keys, None, rate);
        let own = json(line, &row.place, row.valid, &row.source);
        (row.valid, RateJson { read: row.read.map(|day| day.to_string()), ..own })
    });
    let exchange = tariffs.exchange.iter().map(|row| {
        let quote = &row.quote.value;
        let rate = OfRate::Exchange {
            used_for: row.used_for.word(),
            base: quote.base().code(),
            rate: quote.rate().to_string(),
            counter: quote.counter().code(),
        };
        let line = ("exchange", "rate of exchange", BTreeMap::new(), None, rate);
        (row.valid, json(line, &row.place, row.valid, &row.source))
    });
    let works = tariffs.works().map(|row| {
        let rate = OfRate::Amount {
            amount: row.price.amount.to_string(),
            currency: row.price.currency.code(),
            per: Some(row.price.by.word()),
        };
        let line = ("sawing", row.name.as_str(), BTreeMap::new(), row.offer.as_deref(), rate);
        let least = row.least.as_ref().map(|least| least.value);
        let terms = TermsJson {
            minimum: least.map(plain),
            minimum_currency: least.map(|least| least.currency().code()),
            ..TermsJson::default()
        };
        (row.valid, RateJson { terms, ..json(line, &row.place, row.valid, &row.source) })
    });
    let sailings = tariffs.sailings.iter().map(|row| {
        let rate = OfRate::Sailing {
            sails: row.days.words().collect(),
            days_at_sea: row.transit,
            closes_days_before: row.closes,
        };
        let keys = BTreeMap::from([("lane", row.lane.to_string())]);
        let line = ("sailings", row.service.as_deref().unwrap_or("sailing"), keys, None, rate);
        (row.valid, json(line, &row.place, row.valid, &row.source))
    });
    let all = charges.chain(limits).chain(duties).chain(exchange).chain(works).chain(sailings);
    let in_force = all.filter(|(valid, _)| on.is_none_or(|on| valid.holds(on)));
    let rates = in_force.map(|(_, json)| json).collect();
    write(&RatesJson { format: FORMAT, on: on.map(|on| on.to_string()), rates }, out)
}

/// A row's table, name, keys, offer and rate.
type Line<'a> =
    (&'static str, &'a str, BTreeMap<&'static str, String>, Option<&'a str>, OfRate<'a>);

fn json<'a>(line: Line<'a>, place: &'a Place, valid: Window, source: &'a str) -> RateJson<'a> {
    let (table, name, keys, offer, rate) = line;
    RateJson {
        table,
        file: &place.file,
        line: place.line,
        name,
        keys,
        offer,
        rate,
        terms: TermsJson::default(),
        from: valid.from.to_string(),
        until: valid.until.map(|until| until.to_string()),
        source,
        read: None,
    }
}

fn percentage<'a>(rate: Percent, of: &str, per: Option<&'static str>) -> OfRate<'a> {
    OfRate::Percentage { percent: percent(rate), of: of.to_owned(), per }
}

fn of_charge(row: &ChargeRow) -> (Window, RateJson<'_>) {
    let per = (row.per != Per::Part).then(|| row.per.word());
    let rate = match &row.rate.value {
        Rate::Amount(amount) => OfRate::Amount {
            amount: amount.amount().to_string(),
            currency: amount.currency().code(),
            per,
        },
        Rate::Percent(rate, _) | Rate::Premium { rate, .. } | Rate::Interest(rate, _) => {
            percentage(*rate, &row.rate.value.of().map(WhatOf::word).unwrap_or_default(), per)
        }
        Rate::Each { amount, each, of, .. } => OfRate::ForEach {
            amount: amount.amount().to_string(),
            currency: amount.currency().code(),
            each: plain(*each),
            of: of.word().into_owned(),
            per,
        },
        Rate::Tiers(tiers) => OfRate::Tiers {
            by: tiers.by.word(),
            tiers: tiers
                .tiers
                .iter()
                .map(|tier| TierJson {
                    window: &tier.window,
                    amount: tier.amount.amount().to_string(),
                    currency: tier.amount.currency().code(),
                })
                .collect(),
            per,
        },
    };
    let keys = row.matches.given().map(|(key, value)| (key, value.to_owned())).collect();
    let line = (row.table.word(), row.name.as_str(), keys, row.offer.as_deref(), rate);
    let own = json(line, &row.place, row.valid, &row.source);
    let read = row.read.map(|day| day.to_string());
    (row.valid, RateJson { terms: terms_json(row), read, ..own })
}

fn of_limit(row: &LimitRow) -> (Window, RateJson<'_>) {
    let rate = OfRate::Limit {
        mass_kg: row.mass.to_kg(1).to_string(),
        on: match row.on {
            LimitOn::Cargo => "cargo",
            LimitOn::Gross => "gross",
        },
        limit_kind: row.kind.word(),
    };
    let keys = row.matches.given().map(|(key, value)| (key, value.to_owned())).collect();
    let table = if row.at_sea { "freight" } else { "drayage" };
    let line = (table, row.name.as_str(), keys, row.offer.as_deref(), rate);
    (row.valid, json(line, &row.place, row.valid, &row.source))
}
