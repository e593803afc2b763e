//! An event taken back: the same with its sign turned, on a day of its own.
//!
//! What stands where it was is taken back to the cent. What has gone on since, as a slab that was sold after its
//! bill came, bears the reversal where it is now.

use std::collections::BTreeSet;

use super::entry::Line;
use super::posting::Posting;
use super::undo::{Of, Undo};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::read::nearest;
use crate::trade::{Account, BookKind, Treatment};

impl Posting<'_, '_> {
    /// Takes an event back.
    pub(super) fn reverse(
        &mut self,
        name: &At<String>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let books = self.ledger.books;
        let found = self.ledger.events.get(&*name.value).copied();
        let Some(of) = found else {
            let fault = Fault::error(
                Code::UnknownReference,
                format!("no event is called \"{}\"", name.value),
            )
            .at(&name.place, "of this name");
            let known: Vec<&str> = self.ledger.events.keys().copied().collect();
            let fault = match nearest(&name.value, &known) {
                Some(near) => fault.help(format!("did you mean \"{near}\"?")),
                None => fault,
            };
            return Err(report.error(
                fault.help("an event without an `id` is named by its file and position: `journal` lists the names"),
            ));
        };
        if let Some(first) = self.ledger.reversed.get(&of) {
            let (what, first) = (format!("event {} is taken back", name.value), *first);
            return Err(self.twice(&what, first, report));
        }
        let Some(undo) = self.ledger.done.remove(&of) else {
            let original = books.events.get(of);
            let never = original.is_some_and(|original| {
                matches!(original.what, BookKind::Close { .. } | BookKind::Reverse { .. })
            });
            let (why, help) = if never {
                (
                    "is a close or a reversal, which is not taken back",
                    "what a close did is undone by the next one; write a reversed event anew",
                )
            } else {
                (
                    "is posted later than this event",
                    "the day of the one or the other is wrong: `posted`, or else `occurred`",
                )
            };
            let fault = Fault::error(Code::Contradiction, format!("event {} {why}", name.value))
                .at(&self.event.place, "taken back here")
                .help(help);
            return Err(report.error(match original {
                Some(original) => fault.also(&original.place, "this event"),
                None => fault,
            }));
        };
        self.is_free(of, &undo, report)?;
        self.ledger.reversed.insert(of, self.at);
        let gave = undo.iter().filter_map(|one| match one {
            Undo::Gave { slab, .. } => Some(*slab),
            _ => None,
        });
        let gave: BTreeSet<Of> = gave.collect();
        for one in undo.into_iter().rev() {
            // What slabs gave of it to others has its own way back. One that was lost or cut since passes it on.
            let changed = self.undo_one(of, one, report)?;
            for (slab, units) in changed.into_iter().filter(|(slab, _)| !gave.contains(slab)) {
                self.give(slab, units, report)?;
            }
        }
        // A reversal has no way back of its own.
        self.undo = self.undo.is_some().then(Vec::new);
        Ok(())
    }

    /// Whether nothing that came later rests on the event.
    fn is_free(&self, of: usize, undo: &[Undo], report: &mut Report) -> Result<(), Reported> {
        let mut later = None;
        for one in undo {
            match one {
                Undo::Moved { slab, .. } => {
                    let by = self.slab_at(*slab).and_then(|slab| slab.moved_by);
                    // One event may move a slab once.
                    if by != Some(of) {
                        later = by.map(|by| (by, "a slab of it has gone on"));
                    }
                    let since = self.owed_without(*slab);
                    later = later.or(since.map(|by| {
                        (by, "a charge is owed since, and lies on the slabs that were left")
                    }));
                }
                Undo::Cut { shipment, set, pieces } => {
                    let by = |at: &usize| self.slab_at((*shipment, *at))?.moved_by;
                    let gone = pieces.iter().filter_map(by).find(|by| *by != of);
                    later = later.or(gone.map(|by| (by, "a piece has gone on")));
                    let own = undo.iter().filter_map(|one| match one {
                        Undo::Gave { of: (own, borne, _), .. } if own == set => Some(*borne),
                        _ => None,
                    });
                    let borne = self.ledger.losses.get(*set).map_or(0, |loss| loss.borne);
                    if borne != own.sum::<i64>() {
                        later = later.or(Some((of, "its pieces bear what came to them since")));
                    }
                }
                Undo::Allowed { slab, after, .. } => {
                    let is_other = self.slab_at(*slab).is_some_and(|own| own.worth != *after);
                    later = later
                        .or(is_other
                            .then_some((of, "a slab of it was written down or up once more")));
                }
                Undo::Billed { charge } => {
                    let closed = self.charge_state(*charge).and_then(|state| state.closed);
                    let closed = closed.filter(|closed| *closed != of);
                    later =
                        later.or(closed.map(|by| (by, "a charge of it is billed for good since")));
                }
                Undo::TakenIn { slab, .. } => {
                    let own = self.slab_at(*slab);
                    let gone = own.and_then(|own| own.moved_by).filter(|by| *by != of);
                    later = later.or(gone.map(|by| (by, "the slab has gone on")));
                    if own.is_some_and(|own| own.recognised != 0) {
                        later = later.or(Some((of, "a bill has come for the slab")));
                    }
                }
                Undo::Consigned => {
                    let mut own = self.ledger.consigned.iter().filter(|one| one.came == of);
                    let gone = own.find_map(|one| one.gone);
                    later = later.or(gone.map(|by| (by, "a slab of it has left")));
                }
                Undo::Owed { charge, before } => {
                    let state = self.charge_state(*charge);
                    let since = state.and_then(|state| state.owed.as_ref()).map(|owed| owed.event);
                    let since = since.filter(|since| *since != of);
                    later = later.or(since.map(|by| (by, "what is left of it is owed since")));
                    // What an owed event left open is asked of the open item.
                    let other = state.filter(|_| before.is_none()).and_then(|state| {
                        state.bills.iter().map(|(event, _)| *event).find(|event| *event != of)
                    });
                    later = later.or(other.map(|by| (by, "a bill has come for it")));
                }
                Undo::Open { at, amount, .. } => {
                    let open = self.ledger.open.get(*at);
                    let is_used = open.is_some_and(|open| (open.amount - amount) * open.sign < 0);
                    if is_used {
                        later = Some((of, "what it left open is settled since"));
                    }
                }
                Undo::Advance { at, amount, .. } => {
                    let left = self.ledger.advances.get(*at).map_or(0, |one| one.amount);
                    if left - amount < 0 {
                        later = Some((of, "the advance is used since"));
                    }
                }
                _ => {}
            }
        }
        let Some((by, why)) = later else { return Ok(()) };
        let fault = Fault::error(Code::Contradiction, format!("it cannot be taken back: {why}"))
            .at(&self.event.place, "taken back here")
            .help("take the later event back first");
        Err(report.error(match self.ledger.books.events.get(by) {
            Some(by) => fault.also(&by.place, "this event"),
            None => fault,
        }))
    }

    /// The event since which a charge is owed that a lost slab would have shared.
    fn owed_without(&self, slab: Of) -> Option<usize> {
        let lost = self.slab_at(slab)?.lost?;
        let of_shipment = self.ledger.charges.get(slab.0)?;
        let mut since = of_shipment.iter().enumerate().filter_map(|(at, charge)| {
            let owed = charge.owed.as_ref().filter(|owed| owed.rank > lost.rank)?;
            let is_stock = charge.treatment == Treatment::Stock;
            let sharing = self.ledger.sharing(slab.0, at).filter(|_| is_stock)?;
            sharing.slabs.contains(&slab.1).then_some(owed.event)
        });
        since.next()
    }

    /// Takes back one thing that an event did: the slabs that bear less by it, each with by how much.
    fn undo_one(
        &mut self,
        of: usize,
        one: Undo,
        report: &mut Report,
    ) -> Result<Vec<(Of, i64)>, Reported> {
        match one {
            Undo::Shares { charge, each, carried, units } => {
                self.currency(charge.0);
                if let Some(own) = self.charge_mut(charge) {
                    own.booked -= units;
                }
                let turned =
                    |all: Vec<(usize, i64)>| all.into_iter().map(|(slab, units)| (slab, -units));
                let lost = self.shares(charge, (turned(each), turned(carried)), 0, report)?;
                return Ok(lost
                    .into_iter()
                    .map(|(slab, units)| ((charge.0, slab), units))
                    .collect());
            }
            Undo::Gave { slab, of: (set, borne, given), to } => {
                if let Some(loss) = self.ledger.losses.get_mut(set) {
                    loss.borne -= borne;
                    loss.given -= given;
                }
                let turned = to.into_iter().map(|(taker, units, parts)| (taker, -units, -parts));
                let to: Vec<_> = turned.collect();
                self.gave(slab, (set, -borne, -given), to.clone(), report)?;
                return Ok(to.into_iter().map(|(at, units, _)| ((slab.0, at), units)).collect());
            }
            other => self.undo_plain(of, other, report)?,
        }
        Ok(Vec::new())
    }

    /// Takes back one thing that goes to no other slab.
    fn undo_plain(&mut self, of: usize, one: Undo, report: &mut Report) -> Result<(), Reported> {
        match one {
            Undo::Plain(line) => {
                let amount = line.amount.map(crate::quantity::Money::negated);
                if let Some(shipment) = line.shipment {
                    self.currency(shipment);
                }
                self.plain(Line { amount, book: -line.book, ..line }, report)
            }
            Undo::Open { at, amount, book } => self.undo_open(at, (amount, book), report),
            Undo::Advance { at, amount, book } => self.use_advance(at, (-amount, -book), report),
            Undo::Given { list, shares } => {
                if let Some(given) = self.ledger.given.get_mut(&list) {
                    given.charges -= 1;
                    for (given, share) in given.shares.iter_mut().zip(shares) {
                        *given -= share;
                    }
                }
                Ok(())
            }
            Undo::Owed { charge, before } => {
                if let Some(own) = self.charge_mut(charge) {
                    (own.owed, own.accrual) = (before, None);
                }
                Ok(())
            }
            Undo::Billed { charge } => {
                if let Some(own) = self.charge_mut(charge) {
                    own.bills.retain(|(event, _)| *event != of);
                    own.closed = own.closed.filter(|event| *event != of);
                }
                Ok(())
            }
            Undo::Paper(party, number) => {
                self.ledger.papers.remove(&(party, number));
                Ok(())
            }
            Undo::Moved { slab, from, by, arrived, lost } => {
                self.currency(slab.0);
                let Some(own) = self.slab_mut(slab) else { return Ok(()) };
                let to = std::mem::replace(&mut own.at, from.clone());
                (own.moved_by, own.arrived, own.lost) = (by, arrived, lost);
                let held = own.held;
                self.carry((slab.0, 1), held, (&to, &from), report)?;
                self.test_again(slab, report)
            }
            Undo::Shares { .. } | Undo::Gave { .. } => Ok(()),
            Undo::Cut { shipment, pieces, .. } => {
                self.uncut(shipment, &pieces);
                Ok(())
            }
            Undo::Found { slab, before } => {
                if let Some(own) = self.slab_mut(slab) {
                    (own.measured, own.quality) = before;
                }
                Ok(())
            }
            Undo::Over { shipment } => {
                if let Some(over) = self.ledger.over.get_mut(shipment) {
                    over.retain(|(.., event)| *event != of);
                }
                Ok(())
            }
            Undo::Consigned => {
                self.unconsign(of);
                Ok(())
            }
            Undo::TakenIn { slab, came } => {
                self.take_out(slab, came);
                Ok(())
            }
            Undo::Reserved { slab, before } => {
                self.reserve(slab, before);
                Ok(())
            }
            Undo::Allowed { slab, before, .. } => {
                let own = self.slab_at(slab).filter(|own| own.at.is_stock());
                let units = own.map_or(0, |own| match before {
                    Some(worth) => own.write_down_to(worth),
                    None => -own.allowance,
                });
                self.allow(slab, units, before, report)
            }
        }
    }

    /// Takes back a change of an open item. What closing rates have done to it since goes with it.
    fn undo_open(
        &mut self,
        at: usize,
        (amount, book): (i64, i64),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let Some(open) = self.ledger.open.get(at) else { return Ok(()) };
        self.entry.currency = open.book_currency;
        let back = if open.amount == amount { -open.book } else { -book };
        let shipment = open.shipment;
        self.open(at, (-amount, back), report)?;
        let line = Line { shipment, ..Line::on(Account::Exchange, -(back + book)) };
        self.add(line, report)
    }
}
