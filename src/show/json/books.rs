//! The books for scripts: charges, lines, slabs, accounts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, plain, write};
use crate::ledger::{
    Arrived, Audited, Broken, Closed, Entry, Grouped, Ledger, Line, Listed, Settled, Sums, Where,
    found, kept_by,
};
use crate::quantity::Money;
use crate::show::Proposed;
use crate::trade::{AccountRow, Date, Treatment, numbered};

#[derive(Serialize)]
struct SettleJson<'a> {
    format: u32,
    shipment: &'a str,
    on: String,
    currency: &'static str,
    charges: Vec<SettledJson<'a>>,
    sums: Vec<SumsJson>,
}

#[derive(Serialize)]
struct SumsJson {
    currency: &'static str,
    estimated: String,
    billed: String,
    to_come: String,
    /// Of the currency of the books alone.
    more_in_books: Option<String>,
    not_owed_yet: String,
}

#[derive(Serialize)]
struct SettledJson<'a> {
    key: &'a str,
    object: Option<&'a str>,
    leg: Option<&'static str>,
    payee: &'a str,
    invoice: Option<&'a str>,
    treatment: &'static str,
    policy: Option<&'a str>,
    basis: Option<&'static str>,
    shared_by: Option<&'static str>,
    worked: &'a [String],
    percent: Option<String>,
    base: Option<String>,
    base_currency: Option<&'static str>,
    rate: Option<String>,
    estimated_in_books: Option<String>,
    expected: Option<String>,
    estimated: Option<String>,
    estimated_currency: Option<&'static str>,
    billed: Vec<(String, &'static str)>,
    to_come: Option<String>,
    more_in_books: Option<String>,
    owed: Option<String>,
    days: Option<i64>,
}

/// Writes what was estimated against what was billed.
///
/// # Errors
/// Where the output cannot be written.
pub fn settle(
    ledger: &Ledger<'_>,
    shipment: usize,
    (settled, sums): (&[Settled<'_>], &[Sums]),
    on: Date,
    out: &mut dyn Write,
) -> io::Result<()> {
    let freeze = ledger.freeze(shipment);
    let part = |one: &Settled<'_>| one.frozen.and_then(|own| own.part);
    let charges = settled.iter().map(|one| SettledJson {
        key: one.key,
        object: one.frozen.map(|own| own.on.as_str()),
        leg: one.frozen.map(|own| own.leg.word()),
        payee: one.payee,
        invoice: one.frozen.and_then(|own| own.invoice.as_deref()),
        treatment: Treatment::word(one.treatment),
        policy: one.frozen.and_then(|own| own.reason.as_deref()),
        basis: one.frozen.map(|own| own.basis.word()),
        shared_by: one.frozen.map(|own| own.by.word()),
        worked: one.frozen.map_or(&[], |own| &own.worked),
        percent: part(one).map(|(percent, _)| percent.hundredths().to_string()),
        base: part(one).map(|(_, base)| plain(base)),
        base_currency: part(one).map(|(_, base)| base.currency().code()),
        rate: one.frozen.and_then(|own| own.rate).map(|rate| rate.to_string()),
        estimated_in_books: one.frozen.map(|own| plain(own.book)),
        expected: one.frozen.map(|own| own.owed.to_string()),
        estimated: one.estimate.map(plain),
        estimated_currency: one.estimate.map(|money| money.currency().code()),
        billed: one.billed.iter().map(|money| (plain(*money), money.currency().code())).collect(),
        to_come: one.open.map(plain),
        more_in_books: one.differs.map(plain),
        owed: one.owed.map(|owed| owed.to_string()),
        days: one.age,
    });
    let json = SettleJson {
        format: FORMAT,
        shipment: freeze.map_or("", |freeze| &freeze.shipment),
        on: on.to_string(),
        currency: freeze.map_or("", |freeze| freeze.currency.code()),
        charges: charges.collect(),
        sums: sums
            .iter()
            .map(|one| SumsJson {
                currency: one.estimate.currency().code(),
                estimated: plain(one.estimate),
                billed: plain(one.billed),
                to_come: plain(one.open),
                more_in_books: one.differs.map(plain),
                not_owed_yet: plain(one.waits),
            })
            .collect(),
    };
    write(&json, out)
}

#[derive(Serialize)]
struct JournalJson<'a> {
    format: u32,
    entries: Vec<EntryJson<'a>>,
}

#[derive(Serialize)]
struct EntryJson<'a> {
    id: &'a str,
    /// The event; none for a day or a month.
    kind: Option<&'static str>,
    posted: String,
    occurred: Option<String>,
    /// The date of its paper.
    dated: Option<String>,
    reason: Option<&'a str>,
    currency: &'static str,
    lines: Vec<LineJson<'a>>,
}

#[derive(Serialize)]
struct LineJson<'a> {
    line: usize,
    account: &'static str,
    /// As the importer's own ledger has the account.
    number: Option<&'a str>,
    called: Option<&'a str>,
    yard: &'a str,
    party: &'a str,
    paper: &'a str,
    shipment: Option<&'a str>,
    charge: &'a str,
    slabs: usize,
    /// A debit is above nothing, a credit below.
    book_amount: String,
    amount: Option<String>,
    currency: Option<&'static str>,
    rate: Option<String>,
}

/// Writes entries.
///
/// # Errors
/// Where the output cannot be written.
pub fn journal(
    ledger: &Ledger<'_>,
    (entries, numbers): (&[&Entry], &[AccountRow]),
    out: &mut dyn Write,
) -> io::Result<()> {
    let own = |line: &Line| numbered(numbers, line.account, kept_by(ledger, line));
    let of =
        |entry: &Entry| ledger.books.events.get(entry.event).filter(|event| event.id == entry.id);
    let entries = entries.iter().map(|entry| EntryJson {
        id: &entry.id,
        kind: of(entry).map(|event| event.kind),
        posted: entry.posted.to_string(),
        occurred: of(entry).map(|event| event.occurred.to_string()),
        dated: of(entry).and_then(|event| event.dated).map(|day| day.to_string()),
        reason: of(entry).and_then(|event| event.reason.as_deref()),
        currency: entry.currency.code(),
        lines: entry
            .lines
            .iter()
            .enumerate()
            .map(|(at, line)| LineJson {
                line: at + 1,
                account: line.account.word(),
                number: own(line).map(|row| row.number.value.as_str()),
                called: own(line).and_then(|row| row.name.as_deref()),
                yard: &line.yard,
                party: &line.party,
                paper: &line.number,
                shipment: line
                    .shipment
                    .and_then(|at| ledger.freeze(at))
                    .map(|freeze| freeze.shipment.as_str()),
                charge: &line.charge,
                slabs: line.slabs,
                book_amount: plain(Money::from_minor(line.book, entry.currency)),
                amount: line.amount.map(plain),
                currency: line.amount.map(|amount| amount.currency().code()),
                rate: line.rate.map(|rate| rate.to_string()),
            })
            .collect(),
    });
    write(&JournalJson { format: FORMAT, entries: entries.collect() }, out)
}

#[derive(Serialize)]
struct StockJson<'a> {
    format: u32,
    on: String,
    slabs: Vec<SlabJson<'a>>,
    /// Slabs of others that stand in a yard, and are none of the above.
    consigned: Vec<ConsignedJson<'a>>,
}

#[derive(Serialize)]
struct ConsignedJson<'a> {
    owner: &'a str,
    slab: &'a str,
    stone: Option<&'a str>,
    quality: Option<&'a str>,
    yard: &'a str,
    area_m2: String,
    since: String,
}

#[derive(Serialize)]
struct SlabJson<'a> {
    shipment: &'a str,
    slab: &'a str,
    supplier: &'a str,
    invoice: &'a str,
    term: &'a str,
    bill_of_lading: Option<&'a str>,
    line: &'a str,
    stone: &'a str,
    finish: &'a str,
    thickness: &'a str,
    quality: Option<&'a str>,
    block: Option<&'a str>,
    bundle: &'a str,
    container: Option<&'a str>,
    yard: Option<&'a str>,
    status: &'static str,
    reserved_for: Option<&'a str>,
    reserved_until: Option<String>,
    arrived: Option<String>,
    days: Option<i64>,
    billed_m2: String,
    /// What it measures, where that was found to be other than was billed.
    measured_m2: Option<String>,
    gross_m2: String,
    mass_kg: String,
    cost: String,
    written_down: String,
    currency: &'static str,
    billed: bool,
}

/// Writes a list of slabs.
///
/// # Errors
/// Where the output cannot be written.
pub fn stock(
    ledger: &Ledger<'_>,
    listed: &[Listed<'_>],
    on: Date,
    out: &mut dyn Write,
) -> io::Result<()> {
    let slabs = listed.iter().map(|one| {
        let money = |minor: i64| plain(Money::from_minor(minor, one.freeze.currency));
        SlabJson {
            shipment: &one.freeze.shipment,
            slab: &one.slab.id,
            supplier: &one.line.supplier,
            invoice: &one.line.invoice,
            term: &one.line.term,
            bill_of_lading: one.freeze.bill_of(one.slab),
            line: &one.line.id,
            stone: &one.line.stone,
            finish: &one.line.finish,
            thickness: &one.line.thickness,
            quality: one.quality(),
            block: one.slab.block.as_deref(),
            bundle: &one.slab.bundle,
            container: one.freeze.boxes.get(one.slab.container).map(|own| own.label.as_str()),
            yard: match &one.state.at {
                Where::Yard(yard) => Some(yard),
                _ => None,
            },
            status: one.state.at.word(),
            reserved_for: one.reserved.map(|own| own.customer),
            reserved_until: one.reserved.and_then(|own| own.until).map(|day| day.to_string()),
            arrived: one.state.arrived.map(|day| day.to_string()),
            days: one.age,
            measured_m2: one.state.measured.map(|area| area.base().normalize().to_string()),
            billed_m2: one.slab.billed.base().normalize().to_string(),
            gross_m2: one.slab.gross.base().normalize().to_string(),
            mass_kg: one.slab.mass.base().normalize().to_string(),
            cost: money(one.state.held),
            written_down: money(one.state.allowance),
            currency: one.freeze.currency.code(),
            billed: one.is_billed,
        }
    });
    let consigned = ledger.consigned().map(|one| ConsignedJson {
        owner: &one.owner,
        slab: &one.slab,
        stone: one.stone.as_deref(),
        quality: one.quality.as_deref(),
        yard: &one.yard,
        area_m2: one.area.base().normalize().to_string(),
        since: one.since.to_string(),
    });
    let (slabs, consigned) = (slabs.collect(), consigned.collect());
    write(&StockJson { format: FORMAT, on: on.to_string(), slabs, consigned }, out)
}

#[derive(Serialize)]
struct GroupedJson<'a> {
    format: u32,
    on: String,
    groups: Vec<GroupJson<'a>>,
}

#[derive(Serialize)]
struct GroupJson<'a> {
    what: &'a str,
    slabs: usize,
    gross_m2: String,
    billed_m2: String,
    cost: String,
    written_down: String,
    currency: &'static str,
}

/// Writes sums of a list of slabs.
///
/// # Errors
/// Where the output cannot be written.
pub fn grouped(groups: &[Grouped], on: Date, out: &mut dyn Write) -> io::Result<()> {
    let groups = groups.iter().map(|one| GroupJson {
        what: &one.what,
        slabs: one.slabs,
        gross_m2: one.gross.base().normalize().to_string(),
        billed_m2: one.billed.base().normalize().to_string(),
        cost: plain(one.cost),
        written_down: plain(one.written_down),
        currency: one.cost.currency().code(),
    });
    write(&GroupedJson { format: FORMAT, on: on.to_string(), groups: groups.collect() }, out)
}

#[derive(Serialize)]
struct AuditJson<'a> {
    format: u32,
    from: String,
    to: String,
    /// Where it is the period of a close: "draft" or "final".
    close: Option<&'static str>,
    accounts: Vec<AccountJson<'a>>,
    broken: Vec<BrokenJson<'a>>,
}

#[derive(Serialize)]
struct AccountJson<'a> {
    account: &'static str,
    of: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    shipment: Option<&'a str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    charge: Option<&'a str>,
    currency: &'static str,
    opening: String,
    debits: String,
    credits: String,
    closing: String,
}

#[derive(Serialize)]
struct BrokenJson<'a> {
    what: &'a str,
    by_its_lines_minor: i64,
    as_it_stands_minor: i64,
}

/// Writes an audit.
///
/// # Errors
/// Where the output cannot be written.
pub fn audit(
    (accounts, closed): (&[Audited], Option<&Closed>),
    broken: &[Broken],
    (from, to): (Date, Date),
    out: &mut dyn Write,
) -> io::Result<()> {
    let accounts = accounts.iter().map(|one| {
        let money = |minor: i64| plain(Money::from_minor(minor, one.currency));
        AccountJson {
            account: one.account.word(),
            of: &one.of,
            shipment: one.charge.as_ref().map(|(shipment, _)| shipment.as_str()),
            charge: one.charge.as_ref().map(|(_, charge)| charge.as_str()),
            currency: one.currency.code(),
            opening: money(one.opening),
            debits: money(one.debits),
            credits: money(one.credits),
            closing: money(one.closing),
        }
    });
    let broken = broken.iter().map(|one| BrokenJson {
        what: &one.what,
        by_its_lines_minor: one.accounts,
        as_it_stands_minor: one.should_be,
    });
    let json = AuditJson {
        format: FORMAT,
        from: from.to_string(),
        to: to.to_string(),
        close: closed.map(Closed::word),
        accounts: accounts.collect(),
        broken: broken.collect(),
    };
    write(&json, out)
}

#[derive(Serialize)]
struct ArriveJson<'a> {
    format: u32,
    shipment: &'a str,
    on: String,
    currency: &'static str,
    lines: Vec<ArrivedJson<'a>>,
    /// Slabs that came and were never packed.
    over: Vec<&'a str>,
    /// What was found otherwise than it was packed.
    found: Vec<FoundJson<'a>>,
    /// The events that a list of the yard makes.
    proposed: Option<ProposedJson<'a>>,
}

#[derive(Serialize)]
struct FoundJson<'a> {
    slab: &'a str,
    state: &'static str,
    area_m2: Option<String>,
    quality: Option<&'a str>,
    remark: Option<&'a str>,
}

#[derive(Serialize)]
struct ProposedJson<'a> {
    file: &'a str,
    written: bool,
    text: &'a str,
}

#[derive(Serialize)]
struct ArrivedJson<'a> {
    container: &'a str,
    line: &'a str,
    packed: usize,
    to_come: usize,
    broken: usize,
    short: usize,
    shipped_m2: String,
    lost_m2: String,
    normal_loss: String,
    expensed: String,
}

/// Writes an arrival.
///
/// # Errors
/// Where the output cannot be written.
pub fn arrive(
    ledger: &Ledger<'_>,
    shipment: usize,
    arrived: &[Arrived<'_>],
    (on, proposed): (Date, Option<&Proposed>),
    out: &mut dyn Write,
) -> io::Result<()> {
    let freeze = ledger.freeze(shipment);
    let lines = arrived.iter().map(|one| ArrivedJson {
        container: one.container,
        line: one.line,
        packed: one.packed,
        to_come: one.waits,
        broken: one.broken,
        short: one.short,
        shipped_m2: one.shipped.base().normalize().to_string(),
        lost_m2: one.lost.base().normalize().to_string(),
        normal_loss: plain(one.taken),
        expensed: plain(one.expensed),
    });
    let over = ledger.over.get(shipment).map_or(&[][..], |over| over);
    let json = ArriveJson {
        format: FORMAT,
        shipment: freeze.map_or("", |freeze| &freeze.shipment),
        on: on.to_string(),
        currency: freeze.map_or("", |freeze| freeze.currency.code()),
        lines: lines.collect(),
        over: over.iter().map(|(slab, ..)| slab.as_str()).collect(),
        found: found(ledger, shipment)
            .map(|one| FoundJson {
                slab: &one.slab.value,
                state: one.state.word(),
                area_m2: one.area.map(|area| area.base().normalize().to_string()),
                quality: one.quality.as_deref(),
                remark: one.remark.as_deref(),
            })
            .collect(),
        proposed: proposed.map(|own| ProposedJson {
            file: &own.file,
            written: own.is_written,
            text: &own.text,
        }),
    };
    write(&json, out)
}
