//! The few things that may happen to the state, each with its line and its way back.

use std::borrow::Cow;

use super::deal::deal;
use super::entry::{Entry, Likes, Line, checked};
use super::state::{ChargeState, Ledger, Open, SlabState};
use super::undo::{Of, Undo};
use super::whereabouts::Where;
use crate::fault::{Report, Reported};
use crate::quantity::{Currency, Cut, Exact, Money, Overflow, Quote, Weights};
use crate::trade::{Account, BookEvent, Treatment};

/// Units of some slabs, by position.
pub(super) type Units = Vec<(usize, i64)>;

/// Units of some slabs, one after the other.
pub(super) trait SomeUnits: Iterator<Item = (usize, i64)> + Clone {}

impl<T: Iterator<Item = (usize, i64)> + Clone> SomeUnits for T {}

/// An event as it is posted.
pub(super) struct Posting<'l, 'b> {
    pub(super) ledger: &'l mut Ledger<'b>,
    pub(super) event: &'b BookEvent,
    /// The event, by position.
    pub(super) at: usize,
    /// The event in the order of the fold.
    pub(super) rank: usize,
    pub(super) entry: Entry,
    pub(super) likes: Likes,
    /// Its way back, where it is taken back later on.
    pub(super) undo: Option<Vec<Undo>>,
}

/// An amount of minor units in a currency.
pub(super) fn money(minor: i64, currency: Currency) -> Money {
    Money::from_minor(minor, currency)
}

/// An amount in the currency of the books, in minor units, rounded once. `None`: it needs a rate, or another.
pub(super) fn booked(amount: Money, rate: Option<&Quote>, currency: Currency) -> Option<i64> {
    if amount.currency() == currency {
        return amount.minor().ok();
    }
    let converted = Exact::from(amount).converted(rate?)?;
    if converted.currency() != currency {
        return None;
    }
    converted.round().ok()?.minor().ok()
}

/// The line of what slabs cost where they are.
fn of_slabs(at: &Where, shipment: usize, slabs: usize, book: i64) -> Line {
    let (account, yard) = at.account();
    Line { yard: yard.into(), shipment: Some(shipment), slabs, ..Line::on(account, book) }
}

impl Posting<'_, '_> {
    /// A figure, unless it is too large.
    pub(super) fn fits<T>(
        &self,
        figure: Result<T, Overflow>,
        report: &mut Report,
    ) -> Result<T, Reported> {
        report.fits(figure, &self.event.place)
    }

    /// The currency of a shipment's books; the entry's from then on.
    pub(super) fn currency(&mut self, shipment: usize) -> Currency {
        if let Some(freeze) = self.ledger.freeze(shipment) {
            self.entry.currency = freeze.currency;
        }
        self.entry.currency
    }

    /// Notes a step of the way back.
    pub(super) fn note(&mut self, step: Undo) {
        if let Some(undo) = &mut self.undo {
            undo.push(step);
        }
    }

    /// Adds a line to the entry.
    pub(super) fn add(&mut self, line: Line, report: &mut Report) -> Result<(), Reported> {
        let added = self.entry.add(line, &mut self.likes);
        self.fits(added, report)
    }

    /// A line that has no state behind it.
    pub(super) fn plain(&mut self, line: Line, report: &mut Report) -> Result<(), Reported> {
        if let Some(undo) = &mut self.undo {
            undo.push(Undo::Plain(line.clone()));
        }
        self.add(line, report)
    }

    /// Changes an open item: its line is as large.
    pub(super) fn open(
        &mut self,
        at: usize,
        (amount, book): (i64, i64),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let Some(open) = self.ledger.open.get_mut(at) else {
            return report.found(None, "an open item");
        };
        let sums =
            checked(open.amount, amount).and_then(|one| Ok((one, checked(open.book, book)?)));
        let (sum, sum_book) = report.fits(sums, &self.event.place)?;
        (open.amount, open.book) = (sum, sum_book);
        let is_foreign = open.currency != open.book_currency;
        let line = Line {
            party: open.party.clone(),
            number: open.number.clone(),
            shipment: open.shipment,
            charge: open.charge.clone(),
            amount: is_foreign.then(|| money(amount, open.currency)),
            rate: open.rate.filter(|_| is_foreign),
            ..Line::on(open.account, book)
        };
        self.note(Undo::Open { at, amount, book });
        self.add(line, report)
    }

    /// A new open item, by position.
    pub(super) fn new_open(&mut self, open: Open, report: &mut Report) -> Result<usize, Reported> {
        let sums = (open.amount, open.book);
        self.ledger.open.push(Open { amount: 0, book: 0, sign: sums.0.signum(), ..open });
        let at = self.ledger.open.len() - 1;
        if let Some(open) = self.ledger.open.last() {
            let key = (open.party.clone(), open.number.clone());
            self.ledger.items.entry(key).or_default().push(at);
        }
        self.open(at, sums, report)?;
        Ok(at)
    }

    /// Shares out what is new of a charge: a debit is above nothing. `estimated` is the part of it that was
    /// estimated, whose shares the estimate has.
    pub(super) fn charge(
        &mut self,
        (shipment, charge): Of,
        units: i64,
        estimated: Option<i64>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let place = &self.event.place;
        let state = report.found(self.charge_mut((shipment, charge)), "a charge")?;
        let sum = checked(state.booked, units);
        state.booked = report.fits(sum, place)?;
        let account = match state.treatment {
            Treatment::Stock => {
                return self.share((shipment, charge), units, estimated, report);
            }
            Treatment::Recoverable if state.is_of_customs => Account::Recoverable,
            Treatment::Recoverable => Account::Equipment,
            Treatment::Period | Treatment::Notional => Account::Period,
        };
        let line = Line {
            shipment: Some(shipment),
            charge: state.key.clone(),
            ..Line::on(account, units)
        };
        self.note(Undo::Shares {
            charge: (shipment, charge),
            each: Vec::new(),
            carried: Vec::new(),
            units,
        });
        self.plain(line, report)
    }

    fn share(
        &mut self,
        (shipment, charge): Of,
        units: i64,
        estimated: Option<i64>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        // That of an estimate stays where it is.
        let own = self.charge_state((shipment, charge)).and_then(|state| state.own.clone());
        let sharing = match own {
            Some(own) => Cow::Owned(own),
            None => {
                let of_estimate = self.ledger.estimated(shipment, charge);
                Cow::Borrowed(report.found(of_estimate, "the slabs of a charge")?)
            }
        };
        let count = sharing.slabs.len();
        let mut rest = units;
        let mut each = match estimated {
            Some(estimated) => {
                rest -= estimated;
                self.estimated((shipment, charge), &sharing.weights, estimated, report)?
            }
            None => vec![0; count],
        };
        // A charge that was owed after a loss lies on those that are left.
        let owed = self.charge_state((shipment, charge));
        let owed = owed.and_then(|charge| charge.owed.as_ref()).map_or(self.rank, |owed| owed.rank);
        let slabs = self.ledger.slabs.get(shipment).map_or(&[][..], |all| all);
        let own = || sharing.slabs.iter().map(|slab| slabs.get(*slab));
        let is_left = |slab: Option<&SlabState>| {
            let is_late = |slab: &SlabState| slab.lost.is_some_and(|lost| lost.rank <= owed);
            slab.is_some_and(|slab| !is_late(slab) || slab.at == Where::Cut)
        };
        let left: Vec<usize> = if self.ledger.losses.is_empty() || own().all(is_left) {
            Vec::new()
        } else {
            own().enumerate().filter(|(_, slab)| is_left(*slab)).map(|(at, _)| at).collect()
        };
        // Shares as they were estimated leave the slabs owed what they were.
        let before: Vec<i64> = if rest == 0 && left.is_empty() {
            Vec::new()
        } else {
            own().map(|slab| slab.map_or(0, |slab| slab.carried)).collect()
        };
        let mut after = before.clone();
        if left.iter().any(|at| sharing.weights.has(*at)) {
            if estimated.is_some() {
                // The shares of the estimate are none of these slabs': what they left owed is not owed.
                let of_estimate = units - rest;
                for (at, (own, after)) in each.iter_mut().zip(&mut after).enumerate() {
                    let cut = sharing.weights.cut(of_estimate, at);
                    *after -= (cut.floor - std::mem::take(own)) * Cut::WHOLE + cut.beyond;
                }
                rest = units;
            }
            let weights = sharing.weights.among(left.iter().copied());
            let mut owed: Vec<i64> = left.iter().filter_map(|at| after.get(*at)).copied().collect();
            let more = deal(rest, &weights, &mut owed);
            for (at, (more, owed)) in left.iter().zip(more.into_iter().zip(owed)) {
                if let (Some(own), Some(after)) = (each.get_mut(*at), after.get_mut(*at)) {
                    *own += more;
                    *after = owed;
                }
            }
        } else if rest != 0 {
            // All of them share. Where it comes to what was estimated, they have those shares.
            let more = deal(rest, &sharing.weights, &mut after);
            each.iter_mut().zip(more).for_each(|(own, more)| *own += more);
        }
        // Books the share of each slab, and passes on those of slabs that are lost.
        let moved = after.iter().zip(&before).map(|(after, before)| after - before);
        let some = |one: &(usize, i64)| one.1 != 0;
        let own = || sharing.slabs.iter().copied();
        let shares = (own().zip(each.iter().copied()).filter(some), own().zip(moved).filter(some));
        let lost = self.shares((shipment, charge), shares, units, report)?;
        lost.into_iter().try_for_each(|(slab, units)| self.give((shipment, slab), units, report))
    }

    /// The shares that the estimate has of a charge. Where a list is of several charges, the last of them takes
    /// what the others leave of it.
    fn estimated(
        &mut self,
        (shipment, charge): Of,
        weights: &Weights,
        units: i64,
        report: &mut Report,
    ) -> Result<Vec<i64>, Reported> {
        let freeze = report.found(self.ledger.freeze(shipment), "a booked estimate")?;
        let list = freeze.charges.get(charge).map(|charge| charge.sharing);
        let list = report.found(list, "who shares a charge")?;
        let sharing = report.found(freeze.sharings.get(list), "who shares a charge")?;
        let count = freeze.charges.iter().filter(|charge| charge.sharing == list).count();
        let given = self.ledger.given.entry((shipment, list)).or_default();
        given.shares.resize(sharing.shares.len(), 0);
        let shares: Vec<i64> = if given.charges + 1 == count {
            sharing.shares.iter().zip(&given.shares).map(|(all, given)| all - given).collect()
        } else {
            weights.divide_units(units).unwrap_or_default()
        };
        given.charges += 1;
        for (given, share) in given.shares.iter_mut().zip(&shares) {
            *given += share;
        }
        if let Some(undo) = &mut self.undo {
            undo.push(Undo::Given { list: (shipment, list), shares: shares.clone() });
        }
        Ok(shares)
    }

    /// Books shares of a charge on slabs, wherever each of them is: those that are lost, with what each was booked.
    pub(super) fn shares(
        &mut self,
        charge: Of,
        (each, carried): (impl SomeUnits, impl SomeUnits),
        units: i64,
        report: &mut Report,
    ) -> Result<Units, Reported> {
        let shipment = charge.0;
        if let Some(undo) = &mut self.undo {
            let (each, carried) = (each.clone().collect(), carried.clone().collect());
            undo.push(Undo::Shares { charge, each, carried, units });
        }
        let slabs = self.ledger.slabs.get_mut(shipment).map_or(&mut [][..], |all| all);
        for (slab, parts) in carried {
            if let Some(slab) = slabs.get_mut(slab) {
                slab.carried += parts;
            }
        }
        // Slabs of one charge are in few places.
        let mut sums: Vec<(Where, i64, usize)> = Vec::new();
        let (mut gave, mut written_down) = (Vec::new(), Vec::new());
        for (at, units) in each {
            let Some(slab) = slabs.get_mut(at) else { continue };
            slab.recognised += units;
            slab.held += units;
            match sums.iter_mut().find(|(at, ..)| *at == slab.at) {
                Some((_, sum, count)) => (*sum, *count) = (*sum + units, *count + 1),
                None => sums.push((slab.at.clone(), units, 1)),
            }
            if slab.worth.is_some() {
                written_down.push(at);
            }
            if slab.lost.is_some() {
                gave.push((at, units));
            }
        }
        sums.sort_unstable();
        let key = self.charge_state(charge).map(|charge| charge.key.clone()).unwrap_or_default();
        for (at, book, slabs) in sums {
            let line = Line { charge: key.clone(), ..of_slabs(&at, shipment, slabs, book) };
            self.add(line, report)?;
        }
        for slab in written_down {
            self.test_again((shipment, slab), report)?;
        }
        Ok(gave)
    }

    /// The part of units on a lost slab that is given to those who take its cost.
    pub(super) fn give(
        &mut self,
        (shipment, slab): Of,
        units: i64,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let set = self.slab_mut((shipment, slab)).and_then(|slab| slab.lost).map(|lost| lost.set);
        let Some(set) = set else { return Ok(()) };
        let Some(loss) = self.ledger.losses.get_mut(set) else { return Ok(()) };
        if loss.takers.is_empty() {
            return Ok(());
        }
        loss.borne += units;
        let parts = loss.parts.divide_units(loss.borne).unwrap_or_default();
        let given = parts.first().copied().unwrap_or(0) - loss.given;
        loss.given += given;
        let (takers, by) = (loss.takers.clone(), loss.by.clone());
        let before: Vec<i64> = takers
            .iter()
            .map(|at| self.slab_mut((shipment, *at)).map_or(0, |slab| slab.carried))
            .collect();
        let mut after = before.clone();
        let shares = deal(given, &by, &mut after);
        let to = takers.into_iter().zip(shares.into_iter().zip(before.into_iter().zip(after)));
        let to = to.map(|(taker, (units, (before, after)))| (taker, units, after - before));
        let to: Vec<_> = to.filter(|(_, units, parts)| *units != 0 || *parts != 0).collect();
        self.gave((shipment, slab), (set, units, given), to.clone(), report)?;
        // One that was cut since passes it on.
        to.into_iter().try_for_each(|(taker, units, _)| self.give((shipment, taker), units, report))
    }

    /// Moves units from a lost slab to those who take its cost.
    pub(super) fn gave(
        &mut self,
        (shipment, slab): Of,
        of: (usize, i64, i64),
        to: Vec<(usize, i64, i64)>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let units: i64 = to.iter().map(|(_, units, _)| *units).sum();
        let mut lines = Vec::new();
        if let Some(slab) = self.slab_mut((shipment, slab)) {
            slab.given += units;
            slab.held -= units;
            lines.push(of_slabs(&slab.at, shipment, 1, -units));
        }
        for (at, units, parts) in &to {
            if let Some(slab) = self.slab_mut((shipment, *at)) {
                slab.carried += parts;
                slab.taken += units;
                slab.held += units;
                lines.push(of_slabs(&slab.at, shipment, 1, *units));
            }
        }
        for line in lines {
            self.add(line, report)?;
        }
        let takers: Vec<usize> = to.iter().map(|(slab, ..)| *slab).collect();
        self.note(Undo::Gave { slab: (shipment, slab), of, to });
        takers.into_iter().try_for_each(|taker| self.test_again((shipment, taker), report))
    }

    /// Brings a slab elsewhere, with all that its account holds for it.
    pub(super) fn bring(
        &mut self,
        slab: Of,
        to: Where,
        report: &mut Report,
    ) -> Result<(), Reported> {
        self.bring_all(&[slab], &to, report)
    }

    /// Brings slabs elsewhere, with all that their accounts hold for them.
    pub(super) fn bring_all(
        &mut self,
        slabs: &[Of],
        to: &Where,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let (event, posted) = (self.at, self.event.posted);
        // They come from few places.
        let mut held: Vec<(usize, Where, i64, usize)> = Vec::new();
        for slab in slabs {
            let Some(own) = self.slab_mut(*slab) else { return report.found(None, "a slab") };
            let (by, arrived) = (own.moved_by.replace(event), own.arrived);
            let lost = own.lost.take();
            if to.is_on_hand() && arrived.is_none() {
                own.arrived = Some(posted);
            }
            let from = std::mem::replace(&mut own.at, to.clone());
            let sum = held.iter_mut().find(|(shipment, at, ..)| *shipment == slab.0 && *at == from);
            let (book, one) = (own.held, usize::from(own.held != 0));
            match sum {
                Some((.., sum, count)) => (*sum, *count) = (*sum + book, *count + one),
                None => held.push((slab.0, from.clone(), book, one)),
            }
            self.note(Undo::Moved { slab: *slab, from, by, arrived, lost });
        }
        held.into_iter().try_for_each(|(shipment, from, book, count)| {
            self.carry((shipment, count), book, (&from, to), report)
        })
    }

    /// The lines of what some slabs of a shipment cost, from one account to another.
    pub(super) fn carry(
        &mut self,
        (shipment, slabs): (usize, usize),
        book: i64,
        (from, to): (&Where, &Where),
        report: &mut Report,
    ) -> Result<(), Reported> {
        if from.account() == to.account() {
            return Ok(());
        }
        self.add(of_slabs(from, shipment, slabs, -book), report)?;
        self.add(of_slabs(to, shipment, slabs, book), report)
    }

    /// Changes what a slab is written down by; what it is worth then.
    pub(super) fn allow(
        &mut self,
        slab: Of,
        units: i64,
        worth: Option<i64>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let Some(own) = self.slab_mut(slab) else { return report.found(None, "a slab") };
        let before = std::mem::replace(&mut own.worth, worth);
        own.allowance += units;
        if before != worth {
            // A test of what is worth the same has no way back of its own: it follows from the cost.
            self.note(Undo::Allowed { slab, before, after: worth });
        }
        for (account, book) in [(Account::CostOfSales, units), (Account::Allowance, -units)] {
            let line = Line { shipment: Some(slab.0), slabs: 1, ..Line::on(account, book) };
            self.add(line, report)?;
        }
        Ok(())
    }

    /// Where a slab was written down, its cost may not creep above what it is worth.
    pub(super) fn test_again(&mut self, slab: Of, report: &mut Report) -> Result<(), Reported> {
        let Some(own) = self.slab_mut(slab) else { return Ok(()) };
        let Some(worth) = own.worth.filter(|_| own.at.is_stock()) else { return Ok(()) };
        let units = own.write_down_to(worth);
        if units == 0 { Ok(()) } else { self.allow(slab, units, Some(worth), report) }
    }

    /// A slab.
    pub(super) fn slab_at(&self, (shipment, slab): Of) -> Option<&SlabState> {
        self.ledger.slabs.get(shipment)?.get(slab)
    }

    /// A slab, to be changed.
    pub(super) fn slab_mut(&mut self, (shipment, slab): Of) -> Option<&mut SlabState> {
        self.ledger.slabs.get_mut(shipment)?.get_mut(slab)
    }

    /// A charge.
    pub(super) fn charge_state(&self, (shipment, charge): Of) -> Option<&ChargeState> {
        self.ledger.charges.get(shipment)?.get(charge)
    }

    /// A charge, to be changed.
    pub(super) fn charge_mut(&mut self, (shipment, charge): Of) -> Option<&mut ChargeState> {
        self.ledger.charges.get_mut(shipment)?.get_mut(charge)
    }
}
