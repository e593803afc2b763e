//! Events in their order: by the day they are posted, then as files have them.

use std::collections::{BTreeMap, BTreeSet};

use super::bills::Rates;
use super::entry::{Entry, Likes, Line};
use super::posting::Posting;
use super::state::Ledger;
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::Currency;
use crate::read::{Books, is_rate_asked_of_all};
use crate::trade::{BookEvent, BookKind, Date};

/// Which events are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// Those posted up to the day: the ledger of that day.
    Posted,
    /// Those that occurred up to the day: what is known today of how things stood.
    Occurred,
}

/// The state after all events up to a day; all events where none is given.
///
/// # Errors
/// Where an event cannot be posted: nothing is posted then.
pub fn fold<'b>(
    books: &'b Books,
    on: (Option<Date>, Reading),
    report: &mut Report,
) -> Result<Ledger<'b>, Reported> {
    let ledger = fold_part(books, on, report)?;
    for (came, _, doubt) in &ledger.of_bank {
        let came = books.events.get(*came);
        if !came.is_some_and(|came| is_rate_asked_of_all(came, &books.freezes)) {
            report.add(doubt.clone());
        }
    }
    Ok(ledger)
}

/// The same of a part of the books: what is held against all of them is not told.
///
/// # Errors
/// Where an event cannot be posted: nothing is posted then.
pub(super) fn fold_part<'b>(
    books: &'b Books,
    on: (Option<Date>, Reading),
    report: &mut Report,
) -> Result<Ledger<'b>, Reported> {
    let mut ledger = Ledger::new(books);
    each_named_once(books, report)?;
    none_after_a_close(books, report)?;
    let is_in = |event: &BookEvent| is_in(event, on);
    let mut order: Vec<usize> =
        (0..books.events.len()).filter(|at| books.events.get(*at).is_some_and(is_in)).collect();
    order.sort_by_key(|at| {
        books
            .events
            .get(*at)
            .map(|event| (event.posted_on(), matches!(event.what, BookKind::Close { .. }), *at))
    });
    // What is taken back needs its way back.
    let taken_back: BTreeSet<&str> = books
        .events
        .iter()
        .filter_map(|event| match &event.what {
            BookKind::Reverse { event } => Some(event.value.as_str()),
            _ => None,
        })
        .collect();
    let all_currencies = books.currencies();
    let mut sound = Ok(());
    // Of a shipment at fault the later events are not looked at: they would only follow from it.
    let mut at_fault: BTreeSet<Option<&str>> = BTreeSet::new();
    for (rank, at) in order.into_iter().enumerate() {
        let Some(event) = books.events.get(at) else { continue };
        let shipment = event.shipment.as_deref();
        if at_fault.contains(&shipment) || (shipment.is_none() && !at_fault.is_empty()) {
            continue;
        }
        // A close is posted in each currency of the books; any other event in one, that of its shipment.
        let most = if matches!(event.what, BookKind::Close { .. }) { usize::MAX } else { 1 };
        for currency in all_currencies.values().copied().take(most) {
            let mut posting = Posting {
                ledger: &mut ledger,
                event,
                at,
                rank,
                entry: Entry {
                    event: at,
                    id: event.id.clone(),
                    posted: event.posted_on(),
                    currency,
                    lines: Vec::new(),
                },
                likes: Likes::default(),
                undo: taken_back.contains(&*event.id).then(Vec::new),
            };
            match post(&mut posting, currency, report) {
                Ok(()) => {
                    let Posting { mut entry, undo, .. } = posting;
                    // What went and came back is no movement.
                    entry.lines.retain(Line::moves);
                    if let Some(undo) = undo {
                        ledger.done.insert(at, undo);
                    }
                    if !entry.lines.is_empty() {
                        ledger.entries.push(entry);
                    }
                }
                Err(told) => {
                    at_fault.insert(shipment);
                    sound = Err(told);
                }
            }
        }
    }
    sound.map(|()| ledger)
}

/// Whether an event is looked at.
pub(super) fn is_in(event: &BookEvent, (until, reading): (Option<Date>, Reading)) -> bool {
    let day = match reading {
        Reading::Posted => event.posted_on(),
        Reading::Occurred => event.occurred,
    };
    until.is_none_or(|until| day <= until)
}

fn each_named_once(books: &Books, report: &mut Report) -> Result<(), Reported> {
    let mut known: BTreeMap<&str, &BookEvent> = BTreeMap::new();
    let mut sound = Ok(());
    for event in &books.events {
        if let Some(first) = known.insert(&event.id, event) {
            sound = Err(report.error(
                Fault::error(Code::Duplicate, format!("two events are called \"{}\"", event.id))
                    .at(&event.place, "again here")
                    .also(&first.place, "first here")
                    .help("a name is never used again: give the second one its own"),
            ));
        }
    }
    sound
}

/// An event below a close in its file was written after it.
fn none_after_a_close(books: &Books, report: &mut Report) -> Result<(), Reported> {
    let mut sound = Ok(());
    for close in &books.events {
        let BookKind::Close { until, is_final: true, .. } = &close.what else { continue };
        let is_late = |event: &&BookEvent| {
            event.place.file == close.place.file
                && event.place.line > close.place.line
                && event.posted_on() <= until.value
        };
        for late in books.events.iter().filter(is_late) {
            sound = Err(report.error(closed(late, close, until.value)));
        }
    }
    sound
}

fn closed(late: &BookEvent, close: &BookEvent, until: Date) -> Fault {
    let next = until.succ_opt().unwrap_or(until);
    let help = if matches!(late.what, BookKind::Close { .. }) {
        format!("the next close ends later: write an `until` after {until}")
    } else {
        format!("post it later: posted = {next}; `occurred` stays the day it happened")
    };
    Fault::error(Code::Contradiction, format!("the period up to {until} is closed for good"))
        .at(&late.place, "posted in it")
        .also(&close.place, "closed here")
        .help(help)
}

fn post(posting: &mut Posting<'_, '_>, own: Currency, report: &mut Report) -> Result<(), Reported> {
    let event = posting.event;
    match &event.what {
        BookKind::Advance { invoice, amount, bank, is_refundable } => {
            posting.advance((invoice, amount), bank.as_ref(), *is_refundable, report)
        }
        BookKind::Control { invoices, bills, rate } => {
            posting.control((invoices, bills), rate.as_ref(), report)
        }
        BookKind::Owed { of, rate } => posting.are_owed(of, rate.as_ref(), report),
        BookKind::Billed { lines, is_final, rate, owed_rate } => {
            let rates = Rates { posted: rate.as_ref(), owed: owed_rate.as_ref() };
            posting.billed(lines, *is_final, rates, report)
        }
        BookKind::Credit { lines, against, rate } => {
            posting.credit(lines, against.as_ref(), rate.as_ref(), report)
        }
        BookKind::Paid { numbers, amount, bank, fee } => {
            posting.paid(numbers, amount.as_ref(), (bank.as_ref(), fee.as_ref()), report)
        }
        BookKind::Arrive { boxes, yard, found } => posting.arrive(boxes, yard, found, report),
        BookKind::Move { slabs, yard, lines, rate } => {
            posting.move_to((slabs, yard), (lines, rate.as_ref()), report)
        }
        BookKind::Issue { slabs, used, customer } => {
            posting.issue(slabs, (*used, customer.as_deref()), report)
        }
        BookKind::Reserve { slabs, customer, until: _ } => {
            posting.set_aside(slabs, customer, report)
        }
        BookKind::Release { slabs } => posting.set_free(slabs, report),
        BookKind::ReturnIn { slabs, yard, customer } => {
            posting.return_in(slabs, (yard, customer.as_deref()), report)
        }
        BookKind::ReturnOut { slabs, amount, rate } => {
            posting.return_out(slabs, amount, rate.as_ref(), report)
        }
        BookKind::Loss { slabs } => posting.loss(slabs, report),
        BookKind::Cut { slab, pieces, abnormal } => {
            posting.cut_up(slab, pieces, abnormal.as_ref(), report)
        }
        BookKind::Count { yard, slabs, found } => posting.take_count(yard, (slabs, found), report),
        BookKind::TakeIn { slab, like, area } => posting.take_in((slab, like), *area, report),
        BookKind::ConsignIn { pieces, yard, stone } => {
            posting.consign_in(pieces, (yard, stone.as_deref()), report)
        }
        BookKind::ConsignOut { slabs } => posting.consign_out(slabs, report),
        BookKind::DutyChanged { entry, lines, refund, interest, rate, owed_rate } => {
            let rates = Rates { posted: rate.as_ref(), owed: owed_rate.as_ref() };
            let interest = (interest.as_ref(), rates);
            posting.duty_changed((entry, lines), refund.is_some(), interest, report)
        }
        BookKind::Claim { state, amount, bank, rate } => {
            posting.claim(*state, amount, (bank.as_ref(), rate.as_ref()), report)
        }
        BookKind::Write { is_down, slabs, worth } => posting.write(*is_down, slabs, worth, report),
        BookKind::Close { until, rates, is_final, debits } => {
            if *is_final {
                posting.debits_are(debits.as_ref(), (until.value, own), report)?;
            }
            posting.close(rates, own, report)
        }
        BookKind::Reverse { event } => posting.reverse(event, report),
    }
}
