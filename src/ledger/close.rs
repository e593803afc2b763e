//! The end of a period: whatever is open in foreign money goes to the closing rate (IAS 21, paragraph 23).
//! Advances on goods, and stock, keep theirs.

use std::collections::{BTreeMap, BTreeSet};

use super::entry::{Entry, Line};
use super::posting::{Posting, booked, money};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Currency, Money, Quote};
use crate::read::Books;
use crate::trade::{Account, BookEvent, BookKind, Date};

/// So many events are named that may have moved a closed period.
const MOST_NAMED: usize = 3;

impl Posting<'_, '_> {
    /// Holds the debits of a period against what was stated when it was closed for good.
    pub(super) fn debits_are(
        &self,
        stated: Option<&At<Money>>,
        (until, own): (Date, Currency),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let Some(stated) = stated.filter(|stated| stated.currency() == own) else { return Ok(()) };
        let sum = debits(self.ledger.entries.iter().filter(|one| one.currency == own));
        if stated.minor() == Ok(sum) {
            return Ok(());
        }
        let more = stated.minor().map_or(0, |stated| sum - stated);
        let (sum, way) = (money(sum, own), if more < 0 { "less" } else { "more" });
        let next = until.succ_opt().unwrap_or(until);
        let differs = format!("its events have {} {way} now", money(more.abs(), own));
        let mut moved = self.likely_moved((more, until), own).into_iter();
        let fault = match moved.next() {
            // The slip is at the event, and not at the close that tells of it.
            Some((first, word)) => {
                let message = format!(
                    "\"{}\" of {} is in the period up to {until}, which is closed for good",
                    first.kind, first.posted
                );
                let closed = format!("closed here with debits of {}: {differs}", stated.value);
                let fault = Fault::error(Code::Contradiction, message).at(&first.place, word);
                moved
                    .fold(fault, |fault, (event, word)| fault.also(&event.place, word))
                    .also(&stated.place, closed)
            }
            None => {
                let message = format!(
                    "the period up to {until} is closed with debits of {}, and its events come to {sum}",
                    stated.value
                );
                Fault::error(Code::Contradiction, message)
                    .at(&stated.place, differs)
                    .help(format!("debited up to then: {}", self.debits_of_shipments(own)))
            }
        };
        Err(report.error(fault.help(format!(
            "an event of the period was added or changed since: let the old one stand, and post the new one later: posted = {next}"
        ))))
    }

    /// The events that most likely moved the debits of a closed period: the one that comes to as much, or those that
    /// stand in their file below what was posted after the period.
    fn likely_moved(&self, (more, until): (i64, Date), own: Currency) -> Vec<(&BookEvent, String)> {
        let events = &self.ledger.books.events;
        let mut debits_of: BTreeMap<usize, i64> = BTreeMap::new();
        for entry in self.ledger.entries.iter().filter(|one| one.currency == own) {
            *debits_of.entry(entry.event).or_default() += debits(std::iter::once(entry));
        }
        let mut late: BTreeSet<usize> = BTreeSet::new();
        let mut files: BTreeMap<Option<&str>, bool> = BTreeMap::new();
        for (at, event) in events.iter().enumerate() {
            let is_past = files.entry(event.shipment.as_deref()).or_default();
            if event.posted_on() > until {
                *is_past = true;
            } else if *is_past && debits_of.contains_key(&at) {
                late.insert(at);
            }
        }
        let same = debits_of.iter().filter(|(_, sum)| **sum == more).map(|(at, _)| *at);
        let same: Vec<usize> = same.collect();
        let same_late = same.iter().copied().filter(|at| late.contains(at));
        let meant = match (&same[..], same_late.collect::<Vec<usize>>()) {
            (_, both) if !both.is_empty() => both,
            ([one], _) => vec![*one],
            _ => late.iter().copied().collect(),
        };
        let word = |at: usize| {
            let sum = money(debits_of.get(&at).copied().unwrap_or(0), own);
            let below = if late.contains(&at) { ", written below later ones" } else { "" };
            format!("debits of {sum} in the period{below}")
        };
        let meant = meant.into_iter().take(MOST_NAMED);
        meant.filter_map(|at| Some((events.get(at)?, word(at)))).collect()
    }

    /// The debits of each shipment, in words.
    fn debits_of_shipments(&self, own: Currency) -> String {
        let mut sums: BTreeMap<Option<usize>, i64> = BTreeMap::new();
        let entries = self.ledger.entries.iter().filter(|one| one.currency == own);
        for line in entries.flat_map(|entry| &entry.lines) {
            *sums.entry(line.shipment).or_default() += line.book.max(0);
        }
        let each = sums.into_iter().map(|(shipment, sum)| {
            let freeze = shipment.and_then(|at| self.ledger.freeze(at));
            let name = freeze.map_or("of no one shipment", |freeze| &freeze.shipment);
            format!("{name} {}", money(sum, own))
        });
        each.collect::<Vec<_>>().join(", ")
    }

    /// Takes every open item in foreign money to its closing rate.
    pub(super) fn close(
        &mut self,
        rates: &[At<Quote>],
        currency: Currency,
        report: &mut Report,
    ) -> Result<(), Reported> {
        self.entry.currency = currency;
        let mut lacking: Vec<Currency> = Vec::new();
        for at in 0..self.ledger.open.len() {
            let Some(open) = self.ledger.open.get(at) else { continue };
            let is_foreign = open.currency != currency && open.book_currency == currency;
            if !is_foreign || (open.amount == 0 && open.book == 0) {
                continue;
            }
            let rate = rates.iter().find(|rate| rate.joins(open.currency, currency));
            let Some(rate) = rate.map(|at| at.value) else {
                if !lacking.contains(&open.currency) {
                    lacking.push(open.currency);
                }
                continue;
            };
            let own = money(open.amount, open.currency);
            let worth = report.found(booked(own, Some(&rate), currency), "a closing rate")?;
            let (differs, shipment) = (worth - open.book, open.shipment);
            if let Some(open) = self.ledger.open.get_mut(at) {
                open.rate = Some(rate);
            }
            self.open(at, (0, differs), report)?;
            if let Some(of_item) = self.entry.lines.last().filter(|_| differs != 0).cloned() {
                let line = Line { shipment, ..Line::on(Account::Exchange, -differs) };
                self.ledger.closed.push((self.at, currency, at, [of_item, line.clone()]));
                self.plain(line, report)?;
            }
        }
        if lacking.is_empty() {
            return Ok(());
        }
        let named: Vec<&str> = lacking.iter().map(|one| one.code()).collect();
        let one = named.first().copied().unwrap_or("");
        Err(report.error(
            Fault::error(
                Code::MissingKey,
                format!("the close has no rate for {}", named.join(", ")),
            )
            .at(&self.event.place, "bills and accruals are open in it")
            .help(format!("add it: rates = [\"1 {one} = ... {currency}\"]")),
        ))
    }
}

/// The sum of the debits of entries, in minor units. A close for good states it, so that a later posting into the
/// period shows.
pub fn debits<'e>(entries: impl Iterator<Item = &'e Entry>) -> i64 {
    entries.flat_map(|entry| &entry.lines).map(|line| line.book.max(0)).sum()
}

/// A period that was closed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Closed {
    /// Its first day, the one after the close before; `None`: that of the first entry.
    pub from: Option<Date>,
    /// Its last day.
    pub until: Date,
    /// Whether nothing is posted in it any more.
    pub is_final: bool,
}

impl Closed {
    /// The close that ends on a day, the last of several: a draft becomes final by a close of its own.
    pub fn of(books: &Books, until: Date) -> Option<Self> {
        let all = || closes(books);
        let is_final =
            all().filter(|(day, _)| *day == until).map(|(_, is_final)| is_final).max()?;
        let before = all().map(|(day, _)| day).filter(|day| *day < until).max();
        Some(Self { from: before.and_then(|day| day.succ_opt()), until, is_final })
    }

    /// The days on which closes end, in words.
    pub fn known(books: &Books) -> String {
        let mut days: Vec<String> = closes(books).map(|(day, _)| day.to_string()).collect();
        days.sort_unstable();
        days.dedup();
        match days[..] {
            [] => "no period was closed yet".to_owned(),
            _ => format!("closes end on {}", days.join(", ")),
        }
    }

    /// Its word.
    pub fn word(&self) -> &'static str {
        if self.is_final { "final" } else { "draft" }
    }
}

/// The closes that stand, each with its last day and whether it is final.
fn closes(books: &Books) -> impl Iterator<Item = (Date, bool)> {
    let is_back = |id: &str| {
        books
            .events
            .iter()
            .any(|event| matches!(&event.what, BookKind::Reverse { event } if event.value == id))
    };
    books.events.iter().filter_map(move |event| match &event.what {
        BookKind::Close { until, is_final, .. } if !is_back(&event.id) => {
            Some((until.value, *is_final))
        }
        _ => None,
    })
}
