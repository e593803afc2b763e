//! A booked estimate for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, exact, plain, write};
use crate::book::{Changed, shared};
use crate::quantity::{Money, Overflow};
use crate::trade::{Freeze, FrozenCharge};

#[derive(Serialize)]
struct BookedJson<'a> {
    format: u32,
    shipment: &'a str,
    yard: &'a str,
    framework: &'static str,
    currency: &'static str,
    quoted: String,
    version: &'a str,
    charges: Vec<ChargeJson<'a>>,
    /// What a calculation of today has otherwise; none where none was made.
    #[serde(skip_serializing_if = "Option::is_none")]
    changed: Option<Vec<ChangedJson<'a>>>,
}

#[derive(Serialize)]
struct ChargeJson<'a> {
    key: &'a str,
    name: &'a str,
    on: &'a str,
    leg: &'static str,
    treatment: &'static str,
    reason: Option<&'a str>,
    basis: &'static str,
    payee: &'a str,
    invoice: Option<&'a str>,
    owed: String,
    worked: &'a [String],
    percent: Option<String>,
    base: Option<String>,
    base_currency: Option<&'static str>,
    amount: String,
    currency: &'static str,
    book_amount: String,
    rate: Option<String>,
    at_planning_rate: bool,
    source: Option<&'a str>,
    row: Option<&'a str>,
}

#[derive(Serialize)]
struct ChangedJson<'a> {
    key: &'a str,
    booked: Option<String>,
    today: Option<String>,
}

/// Writes a booked estimate.
///
/// # Errors
/// Where the output cannot be written.
pub fn booked(freeze: &Freeze, changed: Option<&[Changed]>, out: &mut dyn Write) -> io::Result<()> {
    let one = |money: Option<Money>| money.map(plain);
    let changed = changed.map(|all| {
        let own = all.iter();
        own.map(|all| ChangedJson { key: &all.key, booked: one(all.booked), today: one(all.today) })
            .collect()
    });
    let json = BookedJson {
        format: FORMAT,
        shipment: &freeze.shipment,
        yard: &freeze.yard,
        framework: freeze.framework.word(),
        currency: freeze.currency.code(),
        quoted: freeze.quoted.to_string(),
        version: &freeze.version,
        charges: freeze.charges.iter().map(|one| charge_json(freeze, one)).collect(),
        changed,
    };
    write(&json, out)
}

fn charge_json<'a>(freeze: &'a Freeze, one: &'a FrozenCharge) -> ChargeJson<'a> {
    let row = freeze.rows.get(one.row);
    ChargeJson {
        key: &one.key,
        name: &one.name,
        on: &one.on,
        leg: one.leg.word(),
        treatment: one.treatment.word(),
        reason: one.reason.as_deref(),
        basis: one.basis.word(),
        payee: &one.payee,
        invoice: one.invoice.as_deref(),
        owed: one.owed.to_string(),
        worked: &one.worked,
        percent: one.part.map(|(percent, _)| percent.hundredths().to_string()),
        base: one.part.map(|(_, base)| plain(base)),
        base_currency: one.part.map(|(_, base)| base.currency().code()),
        amount: plain(one.amount),
        currency: one.amount.currency().code(),
        book_amount: plain(one.book),
        rate: one.rate.map(|rate| rate.to_string()),
        at_planning_rate: one.is_planned,
        source: row.map(|row| row.source.as_str()),
        row: row.map(|row| row.text.as_str()),
    }
}

#[derive(Serialize)]
struct SlabJson<'a> {
    format: u32,
    shipment: &'a str,
    slab: &'a str,
    currency: &'static str,
    shares: Vec<ShareJson<'a>>,
}

#[derive(Serialize)]
struct ShareJson<'a> {
    charges: Vec<&'a str>,
    treatment: &'static str,
    by: &'static str,
    book_amount: String,
    exact_share: String,
    share: String,
}

/// Writes what a booked estimate has of one slab.
///
/// # Errors
/// Where the output cannot be written, or a sum cannot be held.
pub fn explained_booked(freeze: &Freeze, slab: usize, out: &mut dyn Write) -> io::Result<()> {
    let all = shared(freeze, slab).map_err(|Overflow { what }| io::Error::other(what))?;
    let shares = all.iter().map(|one| ShareJson {
        charges: one.charges.iter().map(|charge| charge.key.as_str()).collect(),
        treatment: one.charges.first().map_or("", |charge| charge.treatment.word()),
        by: one.charges.first().map_or("", |charge| charge.by.word()),
        book_amount: plain(one.book),
        exact_share: exact(&one.exact),
        share: plain(one.share),
    });
    let json = SlabJson {
        format: FORMAT,
        shipment: &freeze.shipment,
        slab: freeze.slabs.get(slab).map_or("", |slab| &slab.id),
        currency: freeze.currency.code(),
        shares: shares.collect(),
    };
    write(&json, out)
}
