//! What several results have in JSON: amounts, figures, charges, places.

use std::io::{self, Write};

use serde::Serialize;

use super::layout::Layout;
use crate::bill::{Charge, Conversion};
use crate::choose::Fallen;
use crate::cost::Carried;
use crate::fault::Place;
use crate::quantity::{Exact, Money, Percent};

/// The number that changes when the meaning of a field does.
pub(in crate::show) const FORMAT: u32 = 2;

/// The most other offers, and offers that fell out, that are listed; beside them stands how many there are.
pub(super) const MOST_OFFERS: usize = 20;

#[derive(Serialize)]
pub(super) struct ChargeJson<'a> {
    charge: usize,
    name: &'a str,
    leg: &'static str,
    /// The forwarder's or haulier's offer that charges it, where it is of one.
    offer: Option<&'a str>,
    scope: &'static str,
    of: &'a str,
    key: &'static str,
    amount: String,
    currency: &'static str,
    book_amount: String,
    treatment: &'static str,
    basis: &'static str,
    exchange: Option<ExchangeJson>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    parts: Vec<PartJson<'a>>,
    sources: Vec<SourceJson<'a>>,
}

/// A part that is booked at a rate of its own: a deposit, a balance.
#[derive(Serialize)]
struct PartJson<'a> {
    name: &'a str,
    amount: String,
    book_amount: String,
    exchange: ExchangeJson,
}

#[derive(Serialize)]
struct ExchangeJson {
    quote: String,
    #[serde(rename = "use")]
    used_for: &'static str,
    date: String,
    file: String,
    line: usize,
}

/// An offer that serves in no choice.
#[derive(Serialize)]
pub(super) struct FallenJson<'a> {
    table: &'static str,
    offer: &'a str,
    reason: &'a str,
    source: Option<SourceJson<'a>>,
}

/// An offer that fell out, with its reason.
/// A price or a rate that has lapsed and serves on.
#[derive(Serialize)]
pub(super) struct CarriedJson<'a> {
    what: &'a str,
    until: String,
    /// How long before it was needed that was.
    days: u64,
    amount: String,
}

pub(super) fn carried_json(all: &[Carried]) -> Vec<CarriedJson<'_>> {
    let all = all.iter().map(|one| CarriedJson {
        what: &one.what,
        until: one.until.to_string(),
        days: one.days,
        amount: plain(one.share),
    });
    all.collect()
}

pub(super) fn fallen_json(one: &Fallen) -> FallenJson<'_> {
    FallenJson {
        table: one.table.word(),
        offer: &one.offer,
        reason: &one.why,
        source: one.place.as_ref().map(source_json),
    }
}

#[derive(Serialize)]
pub(super) struct SourceJson<'a> {
    file: &'a str,
    line: usize,
}

pub(in crate::show) fn write(json: &impl Serialize, out: &mut dyn Write) -> io::Result<()> {
    let mut writer = serde_json::Serializer::with_formatter(&mut *out, Layout::default());
    json.serialize(&mut writer)?;
    writeln!(out)
}

/// An amount in full minor units, without currency or thousands marks.
pub(in crate::show) fn plain(money: Money) -> String {
    money.amount().to_string()
}

/// An unrounded amount, to at most six places.
pub(in crate::show) fn exact(amount: &Exact) -> String {
    unmarked(&amount.shown(6))
}

/// The number of hundredths: 3.7 of 3.7 %.
pub(in crate::show) fn percent(rate: Percent) -> String {
    rate.to_string().trim_end_matches(" %").to_owned()
}

/// A figure without its thousands marks.
pub(in crate::show) fn unmarked(figure: &str) -> String {
    figure.replace(',', "")
}

pub(super) fn charge_json(at: usize, charge: &Charge) -> ChargeJson<'_> {
    ChargeJson {
        charge: at,
        name: &charge.name,
        leg: charge.leg.word(),
        offer: charge.kind.table.as_ref().and_then(|(_, offer)| offer.as_deref()),
        scope: charge.scope.kind.word(),
        of: &charge.scope.of,
        key: charge.key.word(),
        amount: plain(charge.amount()),
        currency: charge.amount().currency().code(),
        book_amount: plain(charge.book()),
        treatment: charge.treatment.word(),
        basis: charge.basis.word(),
        exchange: charge.exchange().map(exchange_json),
        parts: charge
            .booked
            .parts
            .iter()
            .map(|part| PartJson {
                name: &part.name,
                amount: exact(&part.amount),
                book_amount: plain(part.book),
                exchange: exchange_json(&part.exchange),
            })
            .collect(),
        sources: charge
            .sources()
            .map(|place| SourceJson { file: &place.file, line: place.line })
            .collect(),
    }
}

fn exchange_json(exchange: &Conversion) -> ExchangeJson {
    ExchangeJson {
        quote: exchange.quote.to_string(),
        used_for: exchange.used_for.word(),
        date: exchange.on.to_string(),
        file: exchange.place.file.to_string(),
        line: exchange.place.line,
    }
}

pub(super) fn source_json(place: &Place) -> SourceJson<'_> {
    SourceJson { file: &place.file, line: place.line }
}
