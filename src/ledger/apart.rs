//! Books folded part by part. Shipments that share nothing are folded apart from each other, and of each part only
//! what a page needs stays: so books of any size need the room of one shipment a thread, and that of the page.
//!
//! What events of the yards name together is one part from the beginning. A bill that two shipments name, or an event
//! that takes back one of another file, is seen when both are read: then they are one part, and are folded again.
//! A close is of all: each part closes what it has open, and its lines are put together in the order of the open
//! items. Where anything is at fault nothing is told here: all is folded at once then, as faults are told together.

use std::collections::{BTreeMap, BTreeSet};
use std::hash::BuildHasher;

use rayon::prelude::*;
use rustc_hash::{FxBuildHasher, FxHashMap};

use super::close::debits;
use super::entry::{Entry, Likes, Line};
use super::fold::{Reading, fold_part, is_in};
use super::state::Ledger;
use crate::fault::Report;
use crate::quantity::{Currency, Overflow};
use crate::read::{Across, Books, Shelf, Spot, misspelt};
use crate::trade::{BillLine, Billed, BookEvent, BookKind, Date, Freeze};

/// The place of an entry among all: its day, whether it closes it, its file by the order of shipments with the yards'
/// after them, its event there, and the currency of its books.
pub type Order = (Date, bool, usize, usize, &'static str);

/// A part of the books, folded.
#[derive(Debug)]
pub struct Part<'p> {
    /// The ledger of the part.
    pub ledger: &'p Ledger<'p>,
    /// Its shipments, each by its position among all that are booked.
    pub shipments: &'p [usize],
    /// Its events of the yards, each by its position among all of these.
    yards: &'p [usize],
}

/// What is kept of all parts.
#[derive(Debug)]
pub struct Whole<T> {
    /// Of each part, in the order of their first shipments.
    pub parts: Vec<T>,
    /// The shipments by name, without what was estimated of them, and the closes.
    pub books: Books,
    /// The entries of closes.
    pub closes: Vec<(Order, Entry)>,
    /// The day of the last event.
    pub last: Option<Date>,
}

impl<T> Whole<T> {
    /// A ledger of the closes alone, which knows the shipments by name.
    pub fn ledger(&self) -> Ledger<'_> {
        Ledger::new(&self.books)
    }
}

impl Part<'_> {
    /// The entries but for those of closes, each with its place among all.
    pub fn entries(&self) -> impl Iterator<Item = (Order, &Entry)> {
        self.ledger.entries.iter().filter_map(|entry| {
            let event = self.ledger.books.events.get(entry.event)?;
            (!is_close(event)).then(|| (self.order(entry.event, event, entry.currency), entry))
        })
    }

    fn order(&self, at: usize, event: &BookEvent, currency: Currency) -> Order {
        let own = event.shipment.as_deref().and_then(|own| self.ledger.shipments.get(own));
        let file = own.and_then(|own| self.shipments.get(*own)).copied();
        let at = match file {
            Some(_) => at,
            None => {
                let first = self.ledger.books.events.len() - self.yards.len();
                at.checked_sub(first).and_then(|at| self.yards.get(at)).copied().unwrap_or(at)
            }
        };
        (event.posted_on(), is_close(event), file.unwrap_or(usize::MAX), at, currency.code())
    }
}

/// The line of an open item in a close, and that of the exchange on it: by the entry that the item came with, and its
/// position among the items of its part.
type OfItem = ((Order, usize), [Line; 2]);

/// A part that was read.
struct Read<T> {
    members: Vec<usize>,
    shares: Shares,
    /// None where it is at fault: what it looks for may be in a part that it is still to be joined with.
    folded: Option<Folded<T>>,
    /// What was told while it was read and folded.
    told: Option<Report>,
}

/// What is kept of a part.
struct Folded<T> {
    kept: T,
    closed: Vec<(Order, OfItem)>,
    /// What the debits of its own entries come to before each close.
    debits: Vec<(Order, i64)>,
    /// The closes, by file and position.
    closes: Vec<((usize, usize), BookEvent)>,
    /// Its shipments by name, and their positions among all.
    freezes: Vec<Freeze>,
    shipments: Vec<usize>,
    /// What of it is held against what others have.
    across: Across,
    last: Option<Date>,
}

/// What a part has, and what it looks for in others; each name by its hash.
#[derive(Default)]
struct Shares {
    /// Its papers by party and number, its events and the slabs of others by name: nobody else may have one.
    has: Vec<u64>,
    /// The invoices of its goods.
    invoices: Vec<u64>,
    /// The papers and events that it looks for.
    asks: Vec<u64>,
    /// Whether invoices are meant, too.
    asks_invoices: Vec<u64>,
    /// The yards that it goes to, and those that its events name.
    yards: BTreeSet<String>,
    named: BTreeSet<String>,
    /// Whether it has what is of all parts.
    is_of_all: bool,
}

fn name_of(event: &str) -> u64 {
    FxBuildHasher.hash_one((0, event))
}

fn paper_of(party: &str, number: &str) -> u64 {
    FxBuildHasher.hash_one((1, party, number))
}

fn consigned_as(slab: &str) -> u64 {
    FxBuildHasher.hash_one((2, slab))
}

impl Shares {
    fn of(books: &Books) -> Self {
        let mut own = Self::default();
        for freeze in &books.freezes {
            own.yards.insert(freeze.yard.clone());
            let goods = freeze.charges.iter().filter_map(|one| Some((one, one.invoice.as_ref()?)));
            own.invoices.extend(goods.map(|(one, invoice)| paper_of(&one.payee, invoice)));
        }
        own.invoices.dedup();
        for event in &books.events {
            own.named.extend(event.what.yard().map(|yard| yard.value.clone()));
            if is_close(event) && event.shipment.is_none() {
                continue;
            }
            own.is_of_all |= is_close(event);
            own.has.push(name_of(&event.id));
            match &event.what {
                BookKind::ConsignIn { pieces, .. } => {
                    own.has.extend(pieces.iter().map(|piece| consigned_as(&piece.slab)));
                }
                BookKind::ConsignOut { slabs } | BookKind::Count { slabs, .. } => {
                    own.asks.extend(slabs.iter().map(|slab| consigned_as(slab)));
                }
                _ => {}
            }
            let Some(party) = event.party.as_deref() else {
                if let BookKind::Reverse { event } = &event.what {
                    own.asks.push(name_of(event));
                }
                continue;
            };
            own.has.extend(event.number.as_ref().map(|number| paper_of(party, number)));
            match &event.what {
                BookKind::Paid { numbers, .. } => {
                    let papers = numbers.iter().map(|number| paper_of(party, number));
                    // In a shipment's own file its own invoices are meant.
                    let asks = if event.shipment.is_some() {
                        &mut own.asks
                    } else {
                        &mut own.asks_invoices
                    };
                    asks.extend(papers);
                }
                BookKind::Credit { against: Some(against), .. } => {
                    own.asks_invoices.push(paper_of(party, against));
                }
                BookKind::Reverse { event } => own.asks.push(name_of(event)),
                _ => {}
            }
        }
        own
    }
}

/// Which shipments and events of the yards are one part: a forest, each of them below another of its part.
struct Sets(Vec<usize>);

impl Sets {
    fn first(&mut self, mut at: usize) -> usize {
        loop {
            match self.0.get(at).copied() {
                Some(above) if above != at => {
                    let further = self.0.get(above).copied().unwrap_or(above);
                    if let Some(own) = self.0.get_mut(at) {
                        *own = further;
                    }
                    at = above;
                }
                _ => return at,
            }
        }
    }

    fn join(&mut self, one: usize, other: usize) {
        let (one, other) = (self.first(one), self.first(other));
        if let Some(below) = self.0.get_mut(one.max(other)) {
            *below = one.min(other);
        }
    }

    fn join_all(&mut self) {
        for at in 0..self.0.len() {
            self.join(0, at);
        }
    }

    /// The members of each part, by its first.
    fn parts(&mut self) -> BTreeMap<usize, Vec<usize>> {
        let mut parts: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for at in 0..self.0.len() {
            parts.entry(self.first(at)).or_default().push(at);
        }
        parts
    }
}

/// The names that an event of the yards has its shipments in.
fn names(event: &BookEvent) -> Vec<&str> {
    let mut all: Vec<&str> = Vec::new();
    let mut lines: &[BillLine] = &[];
    match &event.what {
        BookKind::Owed { of, .. } => all.extend(of.iter().map(|name| name.as_str())),
        BookKind::Billed { lines: own, .. }
        | BookKind::Credit { lines: own, .. }
        | BookKind::DutyChanged { lines: own, .. } => lines = own,
        BookKind::Move { slabs, lines: own, .. } => {
            all.extend(slabs.iter().map(|name| name.as_str()));
            lines = own;
        }
        BookKind::Reserve { slabs, .. }
        | BookKind::Release { slabs }
        | BookKind::Issue { slabs, .. }
        | BookKind::ReturnIn { slabs, .. }
        | BookKind::ReturnOut { slabs, .. }
        | BookKind::Loss { slabs }
        | BookKind::Write { slabs, .. } => all.extend(slabs.iter().map(|name| name.as_str())),
        BookKind::Cut { slab, .. } | BookKind::TakeIn { slab, .. } => all.push(slab),
        BookKind::Advance { .. }
        | BookKind::Control { .. }
        | BookKind::Paid { .. }
        | BookKind::Arrive { .. }
        | BookKind::Count { .. }
        | BookKind::ConsignIn { .. }
        | BookKind::ConsignOut { .. }
        | BookKind::Claim { .. }
        | BookKind::Close { .. }
        | BookKind::Reverse { .. } => {}
    }
    for line in lines {
        match &line.of {
            Billed::Charge(of) => all.push(of),
            Billed::Charges { of, .. } => all.extend(of.iter().map(|name| name.as_str())),
            Billed::New { slabs, .. } => all.extend(slabs.iter().map(|name| name.as_str())),
        }
    }
    all
}

/// Folds the books of a workspace part by part up to a day, and keeps of each what `keep` says. `None` where
/// anything is at fault or does not fit, or nothing is booked: then all is to be folded at once.
pub fn apart<T: Send>(
    shelf: &Shelf<'_>,
    on: (Option<Date>, Reading),
    report: &mut Report,
    keep: impl Fn(&Part<'_>) -> Result<T, Overflow> + Sync,
) -> Option<Whole<T>> {
    let count = shelf.names.len();
    let yards = shelf.yards(report).ok().filter(|_| count > 0)?;
    let is_event = |at: usize| {
        at.checked_sub(count).and_then(|at| yards.get(at)).is_some_and(|one| !is_close(one))
    };
    let mut sets = Sets((0..count + yards.len()).collect());
    let known: FxHashMap<&str, usize> =
        (0..).zip(&shelf.names).map(|(at, name)| (&**name, at)).collect();
    for (at, event) in yards.iter().enumerate() {
        let of = names(event).into_iter().filter_map(|name| known.get(name.split('/').next()?));
        of.for_each(|shipment| sets.join(*shipment, count + at));
        if matches!(event.what, BookKind::Count { .. }) {
            // Whatever stands in the yard and is not named is lost.
            sets.join_all();
        }
    }
    // A close is of every part.
    let closes = (0..yards.len()).filter(|at| yards.get(*at).is_some_and(is_close));
    let closes: Vec<usize> = closes.collect();
    let fold_part = |members: &[usize]| {
        let shipments: Vec<usize> = members.iter().copied().filter(|at| *at < count).collect();
        let events = members.iter().filter(|at| is_event(**at)).map(|at| at - count);
        let mut own: Vec<usize> = events.chain(closes.iter().copied()).collect();
        own.sort_unstable();
        fold_one(shelf, (&shipments, &own, &yards), on, &keep)
    };
    let mut done: BTreeMap<usize, Read<T>> = BTreeMap::new();
    loop {
        let mut parts = sets.parts();
        parts.retain(|_, members| members.iter().any(|at| *at < count || is_event(*at)));
        done.retain(|first, read| parts.get(first) == Some(&read.members));
        parts.retain(|first, _| !done.contains_key(first));
        if parts.is_empty() {
            break;
        }
        let read: Vec<_> = parts
            .into_par_iter()
            .map(|(first, members)| {
                let read = fold_part(&members)?;
                Some((first, Read { members, ..read }))
            })
            .collect();
        done.extend(read.into_iter().collect::<Option<Vec<_>>>()?);
        if !join_shared(&done, &yards, &mut sets) {
            // What is of no shipment in the end is at fault, which is told with the first.
            done.keys().filter(|first| **first >= count).for_each(|first| sets.join(0, *first));
        }
    }
    for read in done.values_mut() {
        report.absorb(read.told.take()?);
    }
    let mut across = Across::default();
    for folded in done.values_mut().filter_map(|read| read.folded.as_mut()) {
        across.add(std::mem::take(&mut folded.across));
    }
    let of_yards = (0..).zip(&yards).map(|(at, event)| ((usize::MAX, at), event));
    across.told(of_yards, report);
    gathered(done.into_values(), (&yards, on))
}

/// What is kept of a ledger of all books, as of one part.
///
/// # Errors
/// Where something does not fit.
pub fn at_once<T>(
    ledger: &Ledger<'_>,
    keep: impl Fn(&Part<'_>) -> Result<T, Overflow>,
) -> Result<Whole<T>, Overflow> {
    let shipments: Vec<usize> = (0..ledger.books.freezes.len()).collect();
    let yards = ledger.books.events.iter().filter(|event| event.shipment.is_none());
    let yards: Vec<usize> = yards.enumerate().map(|(at, _)| at).collect();
    let part = Part { ledger, shipments: &shipments, yards: &yards };
    let folded = Some(folded(&part, keep(&part)?));
    let (members, shares) = (Vec::new(), Shares::of(ledger.books));
    let read = std::iter::once(Read { members, shares, folded, told: None });
    let whole = gathered(read, (&[], (None, Reading::Posted)));
    whole.ok_or(Overflow { what: "a close of the ledger" })
}

fn is_close(event: &BookEvent) -> bool {
    matches!(event.what, BookKind::Close { .. })
}

/// Reads some shipments with events of the yards, and folds them.
fn fold_one<T>(
    shelf: &Shelf<'_>,
    (shipments, own, yards): (&[usize], &[usize], &[BookEvent]),
    on: (Option<Date>, Reading),
    keep: impl Fn(&Part<'_>) -> Result<T, Overflow>,
) -> Option<Read<T>> {
    let mut report = shelf.report();
    let names = shipments.iter().filter_map(|at| shelf.names.get(*at));
    let mut events: Vec<BookEvent> = own.iter().filter_map(|at| yards.get(*at)).cloned().collect();
    for event in &mut events {
        if let BookKind::Close { debits, .. } = &mut event.what {
            // What is stated of all is held against all.
            *debits = None;
        }
    }
    let books = shelf.read(names, events, &mut report).ok()?;
    let shares = Shares::of(&books);
    let ledger = fold_part(&books, on, &mut report);
    let ledger = ledger.ok().filter(|_| books.freezes.len() == shipments.len());
    report.forget_unused();
    let of_part = |ledger: &Ledger<'_>| {
        let part = Part { ledger, shipments, yards: own };
        let kept = keep(&part).ok()?;
        Some(folded(&part, kept))
    };
    let folded = ledger.as_ref().and_then(of_part);
    drop(ledger);
    Some(Read { members: Vec::new(), shares, folded, told: Some(report) })
}

fn folded<T>(part: &Part<'_>, kept: T) -> Folded<T> {
    let ledger = part.ledger;
    let event = |at: usize| ledger.books.events.get(at);
    let closed = ledger.closed.iter().filter_map(|(at, currency, open, lines)| {
        let item = ledger.open.get(*open)?;
        let came = part.order(item.event, event(item.event)?, item.book_currency);
        let mut lines = lines.clone();
        for line in &mut lines {
            line.shipment = line.shipment.and_then(|at| part.shipments.get(at)).copied();
        }
        Some((part.order(*at, event(*at)?, *currency), ((came, *open), lines)))
    });
    let (currencies, own) = (ledger.books.currencies(), part.entries().collect::<Vec<_>>());
    let (mut closes, mut sums) = (Vec::new(), Vec::new());
    for (at, event) in (0..).zip(&ledger.books.events).filter(|(_, event)| is_close(event)) {
        for currency in currencies.values().copied() {
            let close = part.order(at, event, currency);
            let before =
                own.iter().filter(|(order, one)| *order < close && one.currency == currency);
            sums.push((close, debits(before.map(|(_, entry)| *entry))));
            closes.push(((close.2, close.3), event.clone()));
        }
    }
    let spot = |at: usize| -> Spot {
        let order = event(at).zip(currencies.values().next());
        order
            .map(|(event, currency)| part.order(at, event, *currency))
            .map_or((0, 0), |one| (one.2, one.3))
    };
    let file = |at: usize| part.shipments.get(at).copied().unwrap_or(usize::MAX);
    let mut across = Across::of(ledger.books, (file, spot));
    let of_bank = ledger.of_bank.iter();
    across.hold(of_bank.map(|(came, at, doubt)| (spot(*came), spot(*at), doubt.clone())));
    Folded {
        kept,
        across,
        closed: closed.collect(),
        debits: sums,
        freezes: ledger.books.freezes.iter().map(named).collect(),
        shipments: part.shipments.to_vec(),
        closes,
        last: ledger.books.events.iter().map(BookEvent::posted_on).max(),
    }
}

/// A booked estimate without what was estimated.
fn named(freeze: &Freeze) -> Freeze {
    Freeze {
        shipment: freeze.shipment.clone(),
        version: String::new(),
        quoted: freeze.quoted,
        delivered: freeze.delivered,
        yard: freeze.yard.clone(),
        framework: freeze.framework,
        currency: freeze.currency,
        offers: Vec::new(),
        proof: String::new(),
        boxes: Vec::new(),
        lines: Vec::new(),
        rows: Vec::new(),
        charges: Vec::new(),
        sharings: Vec::new(),
        slabs: Vec::new(),
        place: freeze.place.clone(),
    }
}

/// Joins parts of which one has what another has or looks for; whether there are any.
fn join_shared<T>(done: &BTreeMap<usize, Read<T>>, yards: &[BookEvent], sets: &mut Sets) -> bool {
    let closes: BTreeSet<u64> =
        yards.iter().filter(|event| is_close(event)).map(|event| name_of(&event.id)).collect();
    let all = || done.iter().map(|(first, read)| (*first, &read.shares));
    let is_of_all = |own: &Shares| own.is_of_all || own.asks.iter().any(|ask| closes.contains(ask));
    if done.len() > 1 && all().any(|(_, own)| is_of_all(own)) {
        sets.join_all();
        return true;
    }
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    let mut has: FxHashMap<u64, usize> = FxHashMap::default();
    for (part, own) in all() {
        let others = own.has.iter().filter_map(|one| has.insert(*one, part));
        pairs.extend(others.map(|other| (part, other)));
    }
    let mut asked: FxHashMap<u64, usize> = FxHashMap::default();
    for (part, own) in all() {
        let others = own.asks.iter().chain(&own.asks_invoices).filter_map(|one| has.get(one));
        pairs.extend(others.map(|other| (part, *other)));
        for one in &own.asks_invoices {
            let other = asked.insert(*one, part);
            pairs.extend(other.map(|other| (part, other)));
        }
    }
    for (part, own) in all() {
        let others = own.invoices.iter().filter_map(|one| asked.get(one));
        pairs.extend(others.map(|other| (part, *other)));
    }
    pairs.retain(|(one, other)| one != other);
    for (one, other) in &pairs {
        sets.join(*one, *other);
    }
    !pairs.is_empty()
}

/// Puts together what parts leave; `None` where a yard is misspelt, or a close states other debits.
fn gathered<T>(
    read: impl Iterator<Item = Read<T>>,
    (yards, on): (&[BookEvent], (Option<Date>, Reading)),
) -> Option<Whole<T>> {
    let (mut known, mut named) = (BTreeSet::new(), BTreeSet::new());
    let mut books = Books::default();
    let mut freezes: BTreeMap<usize, Freeze> = BTreeMap::new();
    let mut lines: BTreeMap<Order, Vec<OfItem>> = BTreeMap::new();
    let mut sums: BTreeMap<Order, i64> = BTreeMap::new();
    let mut events: BTreeMap<(usize, usize), BookEvent> = BTreeMap::new();
    let (mut parts, mut last) = (Vec::new(), None);
    for Read { shares, folded, .. } in read {
        let one = folded?;
        known.extend(shares.yards);
        named.extend(shares.named);
        freezes.extend(one.shipments.into_iter().zip(one.freezes));
        for (close, own) in one.closed {
            lines.entry(close).or_default().push(own);
        }
        for (close, sum) in one.debits {
            *sums.entry(close).or_default() += sum;
        }
        events.extend(one.closes);
        parts.push(one.kept);
        last = last.max(one.last);
    }
    let known: Vec<&str> = known.iter().map(String::as_str).collect();
    if named.iter().any(|name| misspelt(name, &known).is_some()) {
        return None;
    }
    books.freezes = freezes.into_values().collect();
    let mut closes: Vec<(Order, Entry)> = Vec::new();
    for (order, mut own) in lines {
        own.sort_by_key(|(item, _)| *item);
        let key = (order.2, order.3);
        let (event, currency) = (events.get(&key)?, Currency::from_code(order.4)?);
        let mut entry = Entry {
            event: events.range(..key).count(),
            id: event.id.clone(),
            posted: event.posted_on(),
            currency,
            lines: Vec::new(),
        };
        let mut likes = Likes::default();
        for line in own.into_iter().flat_map(|(_, lines)| lines) {
            entry.add(line, &mut likes).ok()?;
        }
        entry.lines.retain(Line::moves);
        closes.push((order, entry));
    }
    closes.retain(|(_, entry)| !entry.lines.is_empty());
    let stated =
        |at: usize| match yards.get(at).filter(|event| is_in(event, on)).map(|event| &event.what) {
            Some(BookKind::Close { is_final: true, debits, .. }) => debits.as_ref(),
            _ => None,
        };
    for (order, sum) in sums.into_iter().filter(|(order, _)| order.2 == usize::MAX) {
        let Some(stated) = stated(order.3).filter(|one| one.currency().code() == order.4) else {
            continue;
        };
        let before = closes.iter().filter(|(close, _)| *close < order && close.4 == order.4);
        if stated.minor() != Ok(sum + debits(before.map(|(_, entry)| entry))) {
            return None;
        }
    }
    books.events = events.into_values().collect();
    Some(Whole { parts, books, closes, last })
}
