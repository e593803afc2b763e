//! Advances, control of goods, and what is owed.
//!
//! Goods are recognised on the day control passes, at that day's rate; an advance keeps the rate of the day it was
//! paid (IAS 21, paragraphs 21 and 22; IFRIC 22, paragraphs 8 and 9). Every other charge is recognised on the day
//! it is owed. Nothing is accrued before that.

use std::collections::BTreeSet;

use smol_str::SmolStr;

use super::entry::Line;
use super::look::minor_of;
use super::owed::Owed;
use super::posting::{Posting, money};
use super::state::{Advance, ChargeState, Open};
use super::undo::{Of, Undo};
use super::whereabouts::Where;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Currency, Money, Quote};
use crate::read::nearest;
use crate::trade::{Account, BookKind, FrozenSlab, Treatment};

/// The charges of one invoice whose goods pass.
struct Invoiced {
    shipment: Option<usize>,
    party: SmolStr,
    currency: Currency,
    /// Each charge with its amount, and what it was estimated at in the books.
    parts: Vec<(Of, Money, i64)>,
    /// What a hedge adds.
    of_hedge: Vec<(Of, i64)>,
    /// The booked rate, where all parts have one.
    known: Option<Quote>,
}

impl Posting<'_, '_> {
    /// Money paid on an invoice before its goods pass.
    pub(super) fn advance(
        &mut self,
        (invoice, amount): (&At<String>, &At<Money>),
        bank: Option<&At<Money>>,
        is_refundable: bool,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let shipment = self.ledger.own_shipment(self.event, report)?;
        self.currency(shipment);
        let goods = self.goods_of(shipment, (std::slice::from_ref(invoice), &[]), report)?;
        let all_owed: Option<Vec<usize>> =
            goods.iter().map(|of| Some(self.charge_state(*of)?.owed.as_ref()?.event)).collect();
        if let Some(last) = all_owed.and_then(|all| all.into_iter().max()) {
            let first = self.ledger.books.events.get(last);
            let fault =
                Fault::error(Code::Contradiction, "an advance comes after the goods passed")
                    .at(&self.event.place, "paid here")
                    .help("write it as kind = \"paid\": it pays the invoice");
            return Err(report.error(match first {
                Some(first) => fault.also(&first.place, "control passed here"),
                None => fault,
            }));
        }
        let book = self.paid_in_books(amount, bank, report)?;
        let party = goods.first().and_then(|of| Some(self.charge_state(*of)?.payee.clone()));
        let party = party.unwrap_or_default();
        let minor = minor_of(amount, report)?;
        if is_refundable {
            let open = Open {
                party,
                number: invoice.value.as_str().into(),
                ..self.item(Account::Deposits, (amount.value, book), None, Some(shipment))
            };
            self.new_open(open, report)?;
        } else {
            self.ledger.advances.push(Advance {
                shipment,
                invoice: invoice.value.as_str().into(),
                party,
                amount: 0,
                currency: amount.currency(),
                book: 0,
            });
            self.use_advance(self.ledger.advances.len() - 1, (minor, book), report)?;
        }
        self.plain(Line { shipment: Some(shipment), ..Line::on(Account::Bank, -book) }, report)
    }

    /// Changes an advance by amounts in its own currency and the book's.
    pub(super) fn use_advance(
        &mut self,
        at: usize,
        (amount, book): (i64, i64),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let Some(advance) = self.ledger.advances.get_mut(at) else {
            return report.found(None, "an advance");
        };
        advance.amount += amount;
        advance.book += book;
        let is_foreign = advance.currency != self.entry.currency;
        let line = Line {
            party: advance.party.clone(),
            number: advance.invoice.clone(),
            shipment: Some(advance.shipment),
            amount: is_foreign.then(|| money(amount, advance.currency)),
            ..Line::on(Account::Advances, book)
        };
        self.note(Undo::Advance { at, amount, book });
        self.add(line, report)
    }

    /// The charges that invoices have for goods under bills of lading; all of either where none is named.
    fn goods_of(
        &self,
        shipment: usize,
        (invoices, bills): (&[At<String>], &[At<String>]),
        report: &mut Report,
    ) -> Result<Vec<Of>, Reported> {
        let all = self.ledger.charges.get(shipment).map_or(&[][..], |all| all);
        let known: Vec<&str> = all.iter().filter_map(|one| one.invoice.as_deref()).collect();
        for name in invoices {
            if !known.contains(&name.value.as_str()) {
                let mut names = known.clone();
                names.dedup();
                return Err(report.error(
                    Fault::error(
                        Code::UnknownReference,
                        format!("no invoice of the shipment is numbered \"{}\"", name.value),
                    )
                    .at(&name.place, "of this number")
                    .help(format!("its invoices: {}", names.join(", "))),
                ));
            }
        }
        let is_meant =
            |one: &str| invoices.is_empty() || invoices.iter().any(|name| name.value == one);
        let own = all.iter().enumerate();
        let own = own.filter(|(_, charge)| charge.invoice.as_deref().is_some_and(is_meant));
        let own = own.map(|(at, _)| (shipment, at));
        if bills.is_empty() {
            return Ok(own.collect());
        }
        self.bills_known(shipment, bills, report)?;
        // A charge is of one bill: where its goods travel under several, the estimate has it in parts.
        let first = |of: Of| self.ledger.sharing(of.0, of.1)?.slabs.first().copied();
        let own =
            own.filter(|of| first(*of).is_some_and(|slab| self.is_under((shipment, slab), bills)));
        Ok(own.collect())
    }

    /// Whether a slab travels under one of some bills of lading; any will do where none is named.
    fn is_under(&self, (shipment, slab): Of, bills: &[At<String>]) -> bool {
        let own = || {
            let freeze = self.ledger.freeze(shipment)?;
            freeze.bill_of(freeze.slabs.get(slab)?)
        };
        bills.is_empty() || own().is_some_and(|own| bills.iter().any(|bill| bill.value == own))
    }

    /// Holds numbers of bills of lading against those of a shipment.
    fn bills_known(
        &self,
        shipment: usize,
        bills: &[At<String>],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let freeze = report.found(self.ledger.freeze(shipment), "a booked estimate")?;
        let known: BTreeSet<&str> =
            freeze.slabs.iter().filter_map(|slab| freeze.bill_of(slab)).collect();
        let Some(name) = bills.iter().find(|bill| !known.contains(bill.value.as_str())) else {
            return Ok(());
        };
        let names: Vec<&str> = known.into_iter().collect();
        let help = match (&names[..], nearest(&name.value, &names)) {
            ([], _) => {
                "the booked estimate has one bill for all goods: leave `bill` out".to_owned()
            }
            (_, Some(near)) => format!("did you mean \"{near}\"?"),
            _ => format!("its bills: {}", names.join(", ")),
        };
        let message = format!("no bill of lading of the shipment is numbered \"{}\"", name.value);
        Err(report.error(
            Fault::error(Code::UnknownReference, message)
                .at(&name.place, "of this number")
                .help(help),
        ))
    }

    /// Control of the goods of invoices and bills of lading passes.
    pub(super) fn control(
        &mut self,
        (invoices, bills): (&[At<String>], &[At<String>]),
        rate: Option<&At<Quote>>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let shipment = self.ledger.own_shipment(self.event, report)?;
        self.currency(shipment);
        let goods = self.goods_of(shipment, (invoices, bills), report)?;
        if let (true, Some(invoice), Some(bill)) =
            (goods.is_empty(), invoices.first(), bills.first())
        {
            let message =
                format!("nothing of invoice {} is under bill {}", invoice.value, bill.value);
            return Err(report.error(
                Fault::error(Code::Contradiction, message)
                    .at(&bill.place, "this bill")
                    .also(&invoice.place, "this invoice"),
            ));
        }
        if let Some(owed) = goods.iter().find_map(|of| self.charge_state(*of)?.owed.as_ref()) {
            return Err(self.twice("control of these goods passes", owed.event, report));
        }
        let mut numbers: Vec<SmolStr> =
            goods.iter().filter_map(|of| self.charge_state(*of)?.invoice.clone()).collect();
        numbers.sort();
        numbers.dedup();
        for number in &numbers {
            let own: Vec<Of> = goods
                .iter()
                .copied()
                .filter(|of| {
                    self.charge_state(*of).and_then(|one| one.invoice.as_ref()) == Some(number)
                })
                .collect();
            self.pass(number, &own, rate, report)?;
        }
        let freeze = report.found(self.ledger.freeze(shipment), "a booked estimate")?;
        let own = |(at, slab): (usize, &FrozenSlab)| {
            let invoice = &freeze.lines.get(slab.line)?.invoice;
            let is_own = numbers.iter().any(|number| number == invoice);
            (is_own && self.is_under((shipment, at), bills)).then_some((shipment, at))
        };
        let own: Vec<Of> = freeze.slabs.iter().enumerate().filter_map(own).collect();
        self.bring_all(&own, &Where::Transit, report)
    }

    /// The charges of one invoice.
    fn invoiced(
        &self,
        number: &str,
        goods: &[Of],
        report: &mut Report,
    ) -> Result<Invoiced, Reported> {
        let mut all = Invoiced {
            shipment: goods.first().map(|of| of.0),
            party: SmolStr::default(),
            currency: self.entry.currency,
            parts: Vec::new(),
            of_hedge: Vec::new(),
            known: None,
        };
        let mut rates: Vec<Option<Quote>> = Vec::new();
        for of in goods {
            let state = report.found(self.charge_state(*of), "a charge")?;
            let (amount, book, rate) = report.found(state.estimate, "what was estimated")?;
            if state.moves_no_money {
                all.of_hedge.push((*of, book));
                continue;
            }
            all.party.clone_from(&state.payee);
            all.parts.push((*of, amount, book));
            rates.push(rate);
        }
        // One booked rate serves where every part of the invoice has it.
        let first = rates.first().copied().flatten();
        all.known = first.filter(|first| rates.iter().all(|one| one.as_ref() == Some(first)));
        if let Some((_, first, _)) = all.parts.first() {
            all.currency = first.currency();
        }
        if all.parts.iter().all(|(_, amount, _)| amount.currency() == all.currency) {
            return Ok(all);
        }
        Err(report.error(
            Fault::error(Code::NotSupported, format!("invoice {number} is in two currencies"))
                .at(&self.event.place, "control of its goods passes here"),
        ))
    }

    /// The advances on an invoice, each with what is used of it in its own currency and in the books. Where only a part
    /// of the goods passes, the earlier advances pay for it.
    fn advances_on(
        &self,
        number: &str,
        (of, total): (&Invoiced, i64),
        report: &mut Report,
    ) -> Result<Vec<(usize, i64, i64)>, Reported> {
        let is_own = |one: &Advance| {
            one.invoice == number && of.shipment == Some(one.shipment) && one.amount != 0
        };
        let own = || self.ledger.advances.iter().enumerate().filter(|(_, one)| is_own(one));
        let sum: i64 = own().map(|(_, one)| one.amount).sum();
        let may_be_used = sum <= total.max(0) || self.has_more_goods(number, of);
        if may_be_used && own().all(|(_, one)| one.currency == of.currency) {
            let mut left = total.max(0);
            let mut used = Vec::new();
            for (at, one) in own() {
                let some = one.amount.min(left);
                left -= some;
                used.push((at, some, self.part(one.book, some, one.amount, report)?));
            }
            return Ok(used);
        }
        let message =
            format!("the advances on invoice {number} are more than it, or in another currency");
        Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&self.event.place, "control of its goods passes here")
                .help("an advance is in the currency of its invoice, and at most its total"),
        ))
    }

    /// Whether goods of an invoice pass later than these.
    fn has_more_goods(&self, number: &str, of: &Invoiced) -> bool {
        let all = of.shipment.and_then(|at| self.ledger.charges.get(at));
        let own = all.into_iter().flatten().enumerate();
        let mut own = own.filter(|(_, one)| one.invoice.as_deref() == Some(number));
        let is_passing = |at: usize| of.parts.iter().any(|((_, own), ..)| *own == at);
        own.any(|(at, one)| one.owed.is_none() && !one.moves_no_money && !is_passing(at))
    }

    /// The goods of one invoice: advances at their own rates, the rest at the day's.
    fn pass(
        &mut self,
        number: &str,
        goods: &[Of],
        rate: Option<&At<Quote>>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let own = self.entry.currency;
        let of = self.invoiced(number, goods, report)?;
        let total = Money::total(of.currency, of.parts.iter().map(|(_, amount, _)| *amount));
        let total = self.fits(total.and_then(Money::minor), report)?;
        let rate = rate.map(|at| at.value).or(of.known);
        let advances = self.advances_on(number, (&of, total), report)?;
        let rest = total - advances.iter().map(|(_, amount, _)| amount).sum::<i64>();
        let is_known = of.currency == own || (of.known.is_some() && of.known == rate);
        let is_as_booked = advances.is_empty() && is_known;
        let of_rest = if is_as_booked {
            of.parts.iter().map(|(_, _, book)| book).sum()
        } else if rest == 0 {
            // All of it was paid before: the day's rate is that of nothing.
            0
        } else {
            self.convert(money(rest, of.currency), rate.as_ref(), "rate", report)?
        };
        let all: i64 = of_rest + advances.iter().map(|(.., book)| book).sum::<i64>();
        for (at, amount, book) in advances {
            self.use_advance(at, (-amount, -book), report)?;
        }
        let rate = rate.filter(|_| of.currency != own);
        if rest != 0 || of_rest != 0 {
            let amount = (money(-rest, of.currency), -of_rest);
            let item = self.item(Account::Payables, amount, rate, of.shipment);
            let item = Open { party: of.party.clone(), number: number.into(), ..item };
            let item = self.new_open(item, report)?;
            self.deposits(number, (of.shipment, item), report)?;
        }
        let mut before = (0, 0);
        for (charge, amount, estimate) in of.parts {
            let sum = before.0 + self.fits(amount.minor(), report)?;
            // Each takes what the sum so far comes to, less what those before it took.
            let upto = if is_as_booked {
                before.1 + estimate
            } else {
                self.part(all, sum, total, report)?
            };
            self.owe(charge, (of.currency, rate));
            self.charge(charge, upto - before.1, Some(estimate), report)?;
            before = (sum, upto);
        }
        for (charge, book) in of.of_hedge {
            self.owe(charge, (own, None));
            self.charge(charge, book, Some(book), report)?;
            let line = Line { shipment: Some(charge.0), ..Line::on(Account::Hedge, -book) };
            self.plain(line, report)?;
        }
        // Where an invoice comes to nothing, no part has taken what its advances leave.
        self.exchange(of.shipment, all - before.1, report)
    }

    /// A deposit that would have come back in money pays for goods. It is monetary: what it is carried at and what
    /// it pays on the day differ by exchange (IAS 21, paragraph 28).
    fn deposits(
        &mut self,
        number: &str,
        (shipment, payable): (Option<usize>, usize),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let is_own = |open: &Open| {
            open.account == Account::Deposits
                && open.number == number
                && open.shipment == shipment
                && open.amount != 0
        };
        let own: Vec<usize> = (0..self.ledger.open.len())
            .filter(|at| self.ledger.open.get(*at).is_some_and(is_own))
            .collect();
        for at in own {
            let all = &self.ledger.open;
            let Some((open, item)) = all.get(at).zip(all.get(payable)) else { continue };
            if open.currency != item.currency {
                continue;
            }
            let (amount, book, owed, owed_book) =
                (open.amount, open.book, -item.amount, -item.book);
            let some = amount.min(owed);
            let book = self.part(book, some, amount, report)?;
            let paid = self.part(owed_book, some, owed, report)?;
            self.open(at, (-some, -book), report)?;
            self.open(payable, (some, paid), report)?;
            self.exchange(shipment, book - paid, report)?;
        }
        Ok(())
    }

    /// Notes that a charge is owed from this event on.
    pub(super) fn owe(&mut self, charge: Of, (currency, rate): (Currency, Option<Quote>)) {
        let owed =
            Owed { event: self.at, rank: self.rank, posted: self.event.posted, rate, currency };
        self.owe_as(charge, owed);
    }

    fn owe_as(&mut self, charge: Of, owed: Owed) {
        if let Some(state) = self.charge_mut(charge) {
            let before = state.owed.replace(owed);
            self.note(Undo::Owed { charge, before });
        }
    }

    /// Charges are owed, and accrued until their bills come.
    pub(super) fn are_owed(
        &mut self,
        names: &[At<String>],
        rate: Option<&At<Quote>>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let mut all: Vec<Of> = Vec::new();
        for name in names {
            for of in self.ledger.charges_of(self.event, name, report)? {
                self.may_be_owed(of, &name.place, report)?;
                if !all.contains(&of) {
                    all.push(of);
                }
            }
        }
        self.ledger.one_currency(self.event, &all, report)?;
        for of in all {
            self.accrue(of, rate.map(|at| at.value), report)?;
        }
        Ok(())
    }

    /// Whether a charge can be owed now.
    fn may_be_owed(
        &self,
        of: Of,
        place: &crate::fault::Place,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let state = report.found(self.charge_state(of), "a charge")?;
        let refuse = |why: &str, help: &str| {
            Fault::error(Code::Contradiction, format!("\"{}\" {why}", state.key))
                .at(place, "named here")
                .help(help)
        };
        if state.invoice.is_some() {
            return Err(report.error(refuse(
                "is billed with the goods",
                "it is owed when control of them passes: kind = \"control\"",
            )));
        }
        if state.treatment == Treatment::Notional {
            return Err(report.error(refuse("is only weighed, and never owed", "leave it out")));
        }
        let owed = state.owed.as_ref().map(|owed| owed.event);
        if let (Some(bill), None) = (owed, state.estimate) {
            let fault = refuse("was never estimated, and is owed with its bill", "leave it out");
            return Err(report.error(match self.ledger.books.events.get(bill) {
                Some(bill) => fault.also(&bill.place, "its bill"),
                None => fault,
            }));
        }
        match owed.filter(|owed| !self.is_owed_by_bill(*owed)) {
            Some(first) => Err(self.twice(&format!("\"{}\" is owed", state.key), first, report)),
            None => Ok(()),
        }
    }

    /// Whether a charge that is owed since an event is so by its bill, which came before anything said so.
    fn is_owed_by_bill(&self, owed: usize) -> bool {
        let event = self.ledger.books.events.get(owed);
        event.is_some_and(|event| !matches!(event.what, BookKind::Owed { .. }))
    }

    /// What the bills of a charge leave of its estimate, where they came before it was owed: nothing after a final one.
    /// What was credited is not billed again.
    fn left_to_accrue(
        &self,
        state: &ChargeState,
        estimate: Money,
        report: &mut Report,
    ) -> Result<Money, Reported> {
        let none = Money::zero(estimate.currency());
        if state.closed.is_some() {
            return Ok(none);
        }
        let events = &self.ledger.books.events;
        let is_credit = |at: &usize| {
            events.get(*at).is_some_and(|event| matches!(event.what, BookKind::Credit { .. }))
        };
        let bills = || state.bills.iter().filter(|(event, _)| !is_credit(event));
        let bills = || bills().map(|(_, amount)| *amount);
        let left = if bills().all(|bill| bill.currency() == estimate.currency()) {
            let billed = self.fits(Money::total(estimate.currency(), bills()), report)?;
            self.fits(estimate.minus(billed), report)?
        } else {
            // In another currency they leave what their cost in the books leaves.
            let (_, all, _) = report.found(state.estimate, "what was estimated")?;
            let minor = self.fits(estimate.minor(), report)?;
            money(self.part(minor, all - state.booked, all, report)?, estimate.currency())
        };
        Ok(if left.is_negative() { none } else { left })
    }

    /// Accrues a charge as it was estimated, at the day's rate. What was billed of it before is owed since then.
    fn accrue(&mut self, of: Of, rate: Option<Quote>, report: &mut Report) -> Result<(), Reported> {
        let currency = self.currency(of.0);
        let state = report.found(self.charge_state(of), "a charge")?;
        let (amount, estimate, known) = report.found(state.estimate, "what was estimated")?;
        let (key, payee, before) = (state.key.clone(), state.payee.clone(), state.owed.clone());
        let estimated = before.is_none().then_some(estimate);
        let amount =
            if before.is_some() { self.left_to_accrue(state, amount, report)? } else { amount };
        if let Some(before) = before.filter(|_| amount.is_zero()) {
            self.owe_as(of, Owed { event: self.at, ..before });
            return Ok(());
        }
        let rate = rate.or(known).filter(|_| amount.currency() != currency);
        let book = if rate == known && rate.is_some() && estimated.is_some() {
            estimate
        } else {
            self.convert(amount, rate.as_ref(), "rate", report)?
        };
        self.owe(of, (amount.currency(), rate));
        let minor = self.fits(amount.minor(), report)?;
        let open = Open {
            account: Account::Accrued,
            party: payee,
            number: SmolStr::default(),
            charge: key,
            ..self.item(
                Account::Accrued,
                (money(-minor, amount.currency()), -book),
                rate,
                Some(of.0),
            )
        };
        let at = self.new_open(open, report)?;
        if let Some(state) = self.charge_mut(of) {
            state.accrual = Some(at);
        }
        self.charge(of, book, estimated, report)
    }
}
