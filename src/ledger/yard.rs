//! What happens to slabs: they arrive, move, leave stock, come back, go back, are lost, are written down.
//!
//! Normal loss is worked once for each invoice line in each box, at its arrival, by area: the cost of what is lost
//! up to the stone's rate goes to the sound slabs of that set, the rest is expensed (IAS 2, paragraph 16). Charges
//! that are owed later lie on those that are left.

use std::collections::{BTreeMap, BTreeSet};

use super::bills::Rates;
use super::entry::Line;
use super::look::minor_of;
use super::posting::{Posting, money};
use super::state::Loss;
use super::undo::Of;
use super::whereabouts::{Lost, Where};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Currency, Decimal, Exact, Money, Quote, SpreadError, Weights};
use crate::trade::{Account, BillLine, Billed, BookKind, Found, Framework, Freeze, Use};

impl Posting<'_, '_> {
    /// Boxes are unloaded.
    pub(super) fn arrive(
        &mut self,
        boxes: &[At<String>],
        yard: &At<String>,
        found: &[Found],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let shipment = self.ledger.own_shipment(self.event, report)?;
        let inside = self.inside(shipment, boxes, report)?;
        let all: Vec<Of> = inside.iter().map(|slab| (shipment, *slab)).collect();
        self.need(&all, "in transit", |at| *at == Where::Transit, report)?;
        let freeze = report.found(self.ledger.freeze(shipment), "a booked estimate")?;
        let is_there = |of: Of| of.0 == shipment && inside.binary_search(&of.1).is_ok();
        let lost = self.find_all(found, (yard, &is_there), report)?;
        let lost: BTreeSet<usize> = lost.into_iter().map(|(_, at)| at).collect();
        let mut sets: BTreeMap<(usize, usize), Vec<usize>> = BTreeMap::new();
        for at in &inside {
            if let Some(slab) = freeze.slabs.get(*at) {
                sets.entry((slab.line, slab.container)).or_default().push(*at);
            }
        }
        for ((line, _), own) in sets {
            self.lose_of_set((shipment, freeze), line, &own, &lost, report)?;
        }
        let sound = all.into_iter().filter(|(_, at)| !lost.contains(at)).collect();
        self.unload(sound, yard, report)
    }

    /// Loses slabs of one line in one box: normally up to the stone's rate, by area.
    fn lose_of_set(
        &mut self,
        (shipment, freeze): (usize, &Freeze),
        line: usize,
        own: &[usize],
        lost: &BTreeSet<usize>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let area =
            |at: &usize| freeze.slabs.get(*at).map_or(Decimal::ZERO, |slab| slab.billed.base());
        let gone: Vec<usize> = own.iter().copied().filter(|at| lost.contains(at)).collect();
        if gone.is_empty() {
            return Ok(());
        }
        let sound: Vec<usize> = own.iter().copied().filter(|at| !lost.contains(at)).collect();
        let sum =
            |all: &[usize]| all.iter().try_fold(Decimal::ZERO, |sum, at| sum.checked_add(area(at)));
        let rate = freeze.lines.get(line).and_then(|line| line.normal_loss);
        let (shipped, all_lost) = report.found(sum(own).zip(sum(&gone)), "the area of a line")?;
        let normal = rate.and_then(|rate| shipped.checked_mul(rate.fraction()));
        let normal = normal.unwrap_or(Decimal::ZERO).min(all_lost);
        let normal = if sound.is_empty() { Decimal::ZERO } else { normal };
        let by = Weights::of(sound.iter().map(area));
        let (Ok(parts), Ok(by)) = (parts(normal, all_lost, shipped), by) else {
            return report.found(None, "the part of a loss that is normal");
        };
        let takers = if normal.is_zero() { Vec::new() } else { sound };
        let set = self.new_loss(Loss { parts, takers, by, borne: 0, given: 0 });
        gone.into_iter().try_for_each(|at| self.lose((shipment, at), (Where::Lost, set), report))
    }

    pub(super) fn new_loss(&mut self, loss: Loss) -> usize {
        self.ledger.losses.push(loss);
        self.ledger.losses.len() - 1
    }

    /// A slab is lost, or cut, with what its account holds for it.
    pub(super) fn lose(
        &mut self,
        slab: Of,
        (to, set): (Where, usize),
        report: &mut Report,
    ) -> Result<(), Reported> {
        self.leave(slab, to, report)?;
        let lost = Lost { rank: self.rank, set };
        let held = self.slab_mut(slab).map_or(0, |own| {
            own.lost = Some(lost);
            own.held
        });
        self.give(slab, held, report)
    }

    /// Slabs are lost in a yard or on the way: all of it is expensed.
    pub(super) fn loss(
        &mut self,
        names: &[At<String>],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, names, report)?;
        self.need(&slabs, "in stock", Where::is_stock, report)?;
        self.expense(slabs, report)
    }

    /// Slabs are lost, and nobody takes of their cost.
    pub(super) fn expense(&mut self, slabs: Vec<Of>, report: &mut Report) -> Result<(), Reported> {
        let parts = Weights::of([Decimal::ZERO, Decimal::ONE]);
        let by = Weights::of([]);
        let (Ok(parts), Ok(by)) = (parts, by) else { return report.found(None, "a loss") };
        let set = self.new_loss(Loss { parts, takers: Vec::new(), by, borne: 0, given: 0 });
        slabs.into_iter().try_for_each(|slab| self.lose(slab, (Where::Lost, set), report))
    }

    /// A slab leaves stock. What it is written down by leaves with it, to the cost of sales; what it was worth is known
    /// where it comes back. And nobody has it set aside any more, however it leaves.
    fn leave(&mut self, slab: Of, to: Where, report: &mut Report) -> Result<(), Reported> {
        self.reserve(slab, None);
        let (allowance, worth) =
            self.slab_at(slab).map_or((0, None), |own| (own.allowance, own.worth));
        if allowance != 0 {
            self.allow(slab, -allowance, worth, report)?;
        }
        self.bring(slab, to, report)
    }

    /// Slabs come to a yard.
    fn unload(
        &mut self,
        slabs: Vec<Of>,
        yard: &At<String>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        self.bring_all(&slabs, &Where::Yard(yard.value.as_str().into()), report)?;
        slabs.into_iter().try_for_each(|slab| self.test_again(slab, report))
    }

    /// Slabs go to another yard. What is billed for it is shared by them, unless a line names others.
    pub(super) fn move_to(
        &mut self,
        (names, yard): (&[At<String>], &At<String>),
        (lines, rate): (&[BillLine], Option<&At<Quote>>),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let moved = self.ledger.slabs_of(self.event, names, report)?;
        self.need(&moved, "on hand", Where::is_on_hand, report)?;
        self.ask_move(&moved, yard, report);
        self.unload(moved, yard, report)?;
        if lines.is_empty() {
            return Ok(());
        }
        let mut lines = lines.to_vec();
        for line in &mut lines {
            if let Billed::New { boxes, slabs, .. } = &mut line.of
                && boxes.is_empty()
                && slabs.is_empty()
            {
                *slabs = names.to_vec();
            }
        }
        self.billed(&lines, false, Rates { posted: rate, owed: None }, report)
    }

    /// Slabs leave stock; afloat they are issued from what is in transit.
    pub(super) fn issue(
        &mut self,
        names: &[At<String>],
        (used, customer): (Use, Option<&str>),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, names, report)?;
        self.need(&slabs, "in stock", Where::is_stock, report)?;
        self.are_for(&slabs, customer, report)?;
        slabs.into_iter().try_for_each(|slab| self.leave(slab, Where::Issued(used), report))
    }

    /// Asks whether slabs are meant that stand already where they are moved to.
    fn ask_move(&self, moved: &[Of], yard: &At<String>, report: &mut Report) {
        let to = Where::Yard(yard.value.as_str().into());
        let there = moved.iter().filter(|of| self.slab_at(**of).is_some_and(|slab| slab.at == to));
        let there: Vec<&str> = there.map(|of| self.ledger.slab_name(*of)).collect();
        if !there.is_empty() {
            let message =
                format!("{} is moved to {}, and stands there", there.join(", "), yard.value);
            let fault = Fault::warning(Code::Notice, message)
                .at(&yard.place, "nothing changes by it")
                .help("is the yard right, and the slab?");
            self.event.ask(fault, report);
        }
    }

    /// Asks whether slabs come back from the customer who has them.
    fn ask_customer(&self, slabs: &[Of], customer: Option<&str>, report: &mut Report) {
        let events = &self.ledger.books.events;
        for slab in slabs {
            let issued = self.slab_at(*slab).and_then(|own| events.get(own.moved_by?));
            let Some(BookKind::Issue { customer: Some(has), .. }) = issued.map(|one| &one.what)
            else {
                continue;
            };
            let (Some(issued), Some(from)) = (issued, customer.filter(|from| from != has)) else {
                continue;
            };
            let id = self.ledger.slab_name(*slab);
            let message = format!("slab {id} comes back from {from}, and {has} has it");
            let fault = Fault::warning(Code::Notice, message)
                .at(&self.event.place, "returned here")
                .also(&issued.place, "issued here")
                .help(format!("if {has} brought it back, write customer = \"{has}\""));
            self.event.ask(fault, report);
        }
    }

    /// Slabs come back at the cost that the ledger has for them now.
    pub(super) fn return_in(
        &mut self,
        names: &[At<String>],
        (yard, customer): (&At<String>, Option<&str>),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, names, report)?;
        self.need(&slabs, "issued", |at| matches!(at, Where::Issued(_)), report)?;
        self.ask_customer(&slabs, customer, report);
        self.unload(slabs, yard, report)
    }

    /// Slabs go back to the supplier, who agrees to a credit.
    pub(super) fn return_out(
        &mut self,
        names: &[At<String>],
        amount: &At<Money>,
        rate: Option<&At<Quote>>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, names, report)?;
        self.need(&slabs, "in stock", Where::is_stock, report)?;
        let shipment = slabs.first().map(|of| of.0);
        let held: i64 = slabs.iter().filter_map(|of| self.slab_at(*of)).map(|one| one.held).sum();
        for slab in slabs {
            self.leave(slab, Where::SentBack, report)?;
        }
        let rate = rate.map(|at| at.value).filter(|_| amount.currency() != self.entry.currency);
        let book = self.convert(amount.value, rate.as_ref(), "rate", report)?;
        if book > held {
            let cost = money(held, self.entry.currency);
            let message = format!("{} is agreed for slabs that cost {cost}", amount.value);
            let fault = Fault::warning(Code::OutOfRange, message)
                .at(&amount.place, "more than they cost")
                .help("is it the sum that the supplier credits for all of them?");
            self.event.ask(fault, report);
        }
        let item = self.item(Account::Receivables, (amount.value, book), rate, shipment);
        self.new_open(item, report)?;
        let line =
            Line { party: self.own_party(), shipment, ..Line::on(Account::Recovered, -book) };
        self.plain(line, report)
    }

    /// The cost of slabs goes down to what each can be sold for, or back up to it, never above cost (IAS 2,
    /// paragraphs 28 to 33). By the rules of the United States a written-down cost is the new cost and stays
    /// (ASC 330-10-35-14).
    pub(super) fn write(
        &mut self,
        is_down: bool,
        names: &[At<String>],
        worth: &At<Money>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, names, report)?;
        self.need(&slabs, "in stock", Where::is_stock, report)?;
        if worth.currency() != self.entry.currency {
            return Err(report.error(
                Fault::error(Code::Contradiction, "what slabs are worth is in another currency")
                    .at(&worth.place, format!("the books are in {}", self.entry.currency)),
            ));
        }
        let minor = minor_of(worth, report)?;
        for slab in slabs {
            let framework = self.ledger.freeze(slab.0).map(|freeze| freeze.framework);
            if !is_down && framework == Some(Framework::UsGaap) {
                return Err(report.error(
                    Fault::error(
                        Code::Contradiction,
                        "under us-gaap a cost that was written down is not taken back up",
                    )
                    .at(&self.event.place, "taken back up here")
                    .help("leave it out: the written-down cost is the new cost (ASC 330-10-35-14)"),
                ));
            }
            let own = self.slab_mut(slab);
            let (held, allowance, units) =
                own.map_or((0, 0, 0), |own| (own.held, own.allowance, own.write_down_to(minor)));
            if (units < 0) == is_down || units == 0 {
                let way = if is_down { "below" } else { "above" };
                let now = money(held - allowance, self.entry.currency);
                let id = self.ledger.slab_name(slab);
                let message = if !is_down && allowance == 0 {
                    format!("slab {id} was never written down, so nothing can be written back")
                } else {
                    format!("{} is not {way} what slab {id} stands at, {now}", worth.value)
                };
                return Err(report.error(
                    Fault::error(Code::Contradiction, message)
                        .at(&worth.place, "nothing changes by it")
                        .help("leave out the slabs that it does not change"),
                ));
            }
            // Back at cost, it is tested no more.
            let worth = (held > minor).then_some(minor);
            self.allow(slab, units, worth, report)?;
        }
        Ok(())
    }
}

/// The part of a lost slab's cost that the sound slabs take, and the part that is expensed. The cost of the normal
/// loss lies on all that is not lost normally: on the sound slabs, and on what is lost beyond it (B14, B15 of the
/// course notes: 4,500 over 900 units is 5.00, for the 40 lost abnormally as for the 860 good).
fn parts(normal: Decimal, lost: Decimal, shipped: Decimal) -> Result<Weights, SpreadError> {
    let Some(currency) = Currency::from_code("USD") else { return Err(SpreadError::NoWeight) };
    // A bare figure: the currency is of no account.
    let exact = |figure: Decimal| Exact::new(figure, currency);
    let one = exact(Decimal::ONE);
    let given = one.share(&exact(normal), &exact(lost));
    let given = given.share(&exact(shipped - lost), &exact(shipped - normal));
    let kept = one.minus(&given)?;
    Weights::of_exact(&[given, kept])
}
