//! Bills against what is owed, credits, payments and claims.
//!
//! What a bill has otherwise than was estimated goes to cost at the rate of the day the charge was owed; all else
//! is exchange (IAS 21, paragraphs 21 and 28).

use super::entry::Line;
use super::look::minor_of;
use super::posting::{Posting, money};
use super::state::{ChargeState, Open};
use super::undo::{Of, Undo};
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::quantity::{Currency, Decimal, Money, Quote, Weights};
use crate::read::is_rate_asked;
use crate::trade::{Account, BillBy, BillLine, Billed, BookEvent, BookKind, ClaimState, Treatment};

/// The rates that a bill states.
#[derive(Clone, Copy)]
pub(super) struct Rates<'a> {
    /// Of the day it is posted.
    pub(super) posted: Option<&'a At<Quote>>,
    /// Of the day its charges were owed.
    pub(super) owed: Option<&'a At<Quote>>,
}

impl Posting<'_, '_> {
    /// The paper of the event, which may come once.
    pub(super) fn paper(&mut self, report: &mut Report) -> Result<(), Reported> {
        let key = (self.own_party(), self.own_number());
        if let Some(first) = self.ledger.papers.get(&key) {
            let what = format!("bill {} of {} comes", key.1, key.0);
            let first = *first;
            return Err(self.twice(&what, first, report));
        }
        self.ledger.papers.insert(key.clone(), self.at);
        self.note(Undo::Paper(key.0, key.1));
        Ok(())
    }

    /// The charge of each line; one that was never estimated is made.
    pub(super) fn lines_of(
        &mut self,
        lines: &[BillLine],
        report: &mut Report,
    ) -> Result<Vec<(Of, Money, Place)>, Reported> {
        let mut all = Vec::new();
        for line in lines {
            let of = match &line.of {
                Billed::Charges { of, by } => {
                    let each = self.divided((of, *by), line, report)?;
                    all.extend(each.into_iter().map(|(of, own)| (of, own, line.place.clone())));
                    continue;
                }
                Billed::Charge(name) => self.ledger.charge_of(self.event, name, report)?,
                Billed::New { name, boxes, by: BillBy::Box, treatment, .. } => {
                    let each = self.by_box((name, boxes), line, *treatment, report)?;
                    all.extend(each.into_iter().map(|(of, own)| (of, own, line.place.clone())));
                    continue;
                }
                Billed::New { name, boxes, slabs, by, treatment, reason: _ } => {
                    self.new_charge((name, boxes, slabs), *by, *treatment, report)?
                }
            };
            all.push((of, line.amount.value, line.place.clone()));
        }
        let of: Vec<Of> = all.iter().map(|(of, ..)| *of).collect();
        self.ledger.one_currency(self.event, &of, report)?;
        if let Some((shipment, _)) = of.first() {
            self.currency(*shipment);
        }
        let mut currencies = all.iter().map(|(_, amount, _)| amount.currency());
        let first = currencies.next();
        if currencies.any(|other| Some(other) != first) {
            return Err(report.error(
                Fault::error(Code::Contradiction, "a bill is in one currency")
                    .at(&self.event.place, "here are several")
                    .help("write an event for each currency"),
            ));
        }
        Ok(all)
    }

    /// A charge that was never estimated, for each of some boxes: each has the same, whatever is in it.
    fn by_box(
        &mut self,
        (name, boxes): (&At<String>, &[At<String>]),
        line: &BillLine,
        treatment: Treatment,
        report: &mut Report,
    ) -> Result<Vec<(Of, Money)>, Reported> {
        let shipment = self.ledger.own_shipment(self.event, report)?;
        let freeze = report.found(self.ledger.freeze(shipment), "a booked estimate")?;
        let named = |label: &String| At { value: label.clone(), place: name.place.clone() };
        let all = || freeze.boxes.iter().map(|one| named(&one.label)).collect();
        let boxes: Vec<At<String>> = if boxes.is_empty() { all() } else { boxes.to_vec() };
        let parts = Weights::equal(boxes.len()).divide(line.amount.value);
        let parts = report.found(parts.ok(), "the boxes of a bill")?;
        let currency = line.amount.currency();
        let each = boxes.iter().zip(parts).map(|(one, part)| {
            let of = (name, std::slice::from_ref(one), &[][..]);
            Ok((self.new_charge(of, BillBy::Area, treatment, report)?, money(part, currency)))
        });
        each.collect()
    }

    /// A charge that was never estimated, shared by some slabs, or those of some boxes.
    fn new_charge(
        &mut self,
        (name, boxes, slabs): (&At<String>, &[At<String>], &[At<String>]),
        by: BillBy,
        treatment: Treatment,
        report: &mut Report,
    ) -> Result<Of, Reported> {
        let shipment = self.ledger.own_shipment(self.event, report)?;
        let inside = if slabs.is_empty() {
            self.inside(shipment, boxes, report)?
        } else {
            let own = self.ledger.slabs_of(self.event, slabs, report)?;
            let mut own: Vec<usize> = own.into_iter().map(|(_, slab)| slab).collect();
            own.sort_unstable();
            own
        };
        let sharing = self.ledger.sharing_of(shipment, inside, by);
        let sharing = report.found(sharing, "who shares a charge")?;
        let key = format!("{}/{} {}", name.value, self.own_party(), self.own_number());
        let payee = self.own_party();
        let all =
            report.found(self.ledger.charges.get_mut(shipment), "the charges of a shipment")?;
        let times = all
            .iter()
            .filter(|one| one.key == key || one.key.starts_with(&format!("{key} (")))
            .count();
        let key = if times > 0 { format!("{key} ({})", times + 1) } else { key };
        all.push(ChargeState {
            key: key.into(),
            name: name.value.as_str().into(),
            payee,
            treatment,
            // A deposit stands in the estimate: what comes back and does not is a tax.
            is_of_customs: true,
            invoice: None,
            moves_no_money: false,
            estimate: None,
            own: Some(sharing),
            owed: None,
            accrual: None,
            bills: Vec::new(),
            closed: None,
            booked: 0,
        });
        Ok((shipment, all.len() - 1))
    }

    /// A bill comes.
    pub(super) fn billed(
        &mut self,
        lines: &[BillLine],
        is_final: bool,
        rates: Rates<'_>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        self.paper(report)?;
        let lines = self.lines_of(lines, report)?;
        self.comes_to_something("bill", &lines, report)?;
        let mut payable: Option<Open> = None;
        let mut asked: Option<Place> = None;
        let mut new: Vec<(Of, i64, Place)> = Vec::new();
        for (of, amount, place) in lines {
            self.is_open(of, &place, report)?;
            let (book, rate) = self.bill_line(of, amount, is_final, rates, report)?;
            if self.charge_state(of).is_some_and(|state| state.estimate.is_none()) {
                match new.last_mut().filter(|(.., last)| *last == place) {
                    Some((_, sum, _)) => *sum += book,
                    None => new.push((of, book, place.clone())),
                }
            }
            let own = self.item(Account::Payables, (amount.negated(), -book), rate, Some(of.0));
            payable = Some(own.beside(payable));
            self.note_bill(of, amount, is_final);
            if asked.as_ref() != Some(&place) {
                // A line for many charges is asked about once.
                self.ask_bill(of, is_final, &place, report);
            }
            asked = Some(place);
        }
        for (of, book, place) in new {
            let name = self.charge_state(of).map(|state| state.name.clone()).unwrap_or_default();
            self.ask_size(of.0, (&format!("of \"{name}\" is billed"), book), &place, report);
        }
        match payable {
            Some(item) => self.new_open(item, report).map(drop),
            None => Ok(()),
        }
    }

    /// Holds the sum of a paper against its kind: a bill below nothing is a credit, and the other way round.
    fn comes_to_something(
        &self,
        kind: &str,
        lines: &[(Of, Money, Place)],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let Some((_, first, place)) = lines.first() else { return Ok(()) };
        let sum = Money::total(first.currency(), lines.iter().map(|(_, amount, _)| *amount));
        let sum = self.fits(sum, report)?;
        if !sum.is_negative() {
            return Ok(());
        }
        let other = if kind == "bill" { "credit" } else { "billed" };
        Err(report.error(
            Fault::error(Code::Contradiction, format!("a {kind} comes to {sum}"))
                .at(place, "less than nothing in all")
                .help(format!("write kind = \"{other}\" with amounts that have no sign")),
        ))
    }

    /// Asks whether an amount is meant that brings what was billed of a charge to more than five times its estimate, or
    /// ends it below a fifth.
    pub(super) fn ask_bill(&self, of: Of, is_final: bool, place: &Place, report: &mut Report) {
        let five = Decimal::from(5);
        let Some(state) = self.charge_state(of) else { return };
        let Some((estimate, ..)) = state.estimate else { return };
        let billed = state.billed_so_far().unwrap_or_default();
        let [billed] = billed[..] else { return };
        let is_above = |one: Money, other: Money| {
            let times = other.amount().checked_mul(five);
            times.is_some_and(|times| times > Decimal::ZERO && one.amount() > times)
        };
        let label = match (is_above(billed, estimate), is_final && is_above(estimate, billed)) {
            (true, _) => "more than five times as much",
            (_, true) => "less than a fifth of it, in all",
            _ => return,
        };
        if billed.currency() != estimate.currency() {
            return;
        }
        let message =
            format!("{billed} is billed of \"{}\", and {estimate} was estimated", state.key);
        let fault = Fault::warning(Code::OutOfRange, message)
            .at(place, label)
            .help("is the amount right, and the charge?");
        let frozen = self.ledger.freeze(of.0).and_then(|freeze| freeze.charges.get(of.1));
        let fault = match frozen {
            Some(frozen) => fault.also(&frozen.place, "estimated here"),
            None => fault,
        };
        self.event.ask(fault, report);
    }

    /// Asks whether an amount is meant that no estimate has, where it is more than a tenth of all that was estimated for
    /// its shipment (common practice).
    fn ask_size(
        &self,
        shipment: usize,
        (what, book): (&str, i64),
        place: &Place,
        report: &mut Report,
    ) {
        let Some(freeze) = self.ledger.freeze(shipment) else { return };
        let own = freeze.charges.iter().filter(|one| one.treatment != Treatment::Notional);
        let all = Money::total(freeze.currency, own.map(|one| one.book));
        let is_above =
            |all: &Money| all.minor().is_ok_and(|all| i128::from(book) * 10 > i128::from(all));
        let Some(all) = all.ok().filter(is_above) else { return };
        let amount = money(book, freeze.currency);
        let message =
            format!("{amount} {what}, and {all} was estimated for all of {}", freeze.shipment);
        let fault = Fault::warning(Code::OutOfRange, message)
            .at(place, "never estimated, and more than a tenth of that")
            .help("is the amount right?");
        self.event.ask(fault, report);
    }

    /// Notes that a charge was billed.
    pub(super) fn note_bill(&mut self, of: Of, amount: Money, is_final: bool) {
        let at = self.at;
        if let Some(state) = self.charge_mut(of) {
            state.bills.push((at, amount));
            if is_final {
                state.closed = Some(at);
            }
        }
        self.note(Undo::Billed { charge: of });
    }

    /// Whether more may come of a charge.
    fn is_open(&self, of: Of, place: &Place, report: &mut Report) -> Result<(), Reported> {
        let state = report.found(self.charge_state(of), "a charge")?;
        if state.treatment == Treatment::Notional || state.moves_no_money {
            return Err(report.error(
                Fault::error(Code::Contradiction, format!("\"{}\" is never billed", state.key))
                    .at(place, "billed here")
                    .help(
                        "it moves no money: what is billed is another charge, or a line with `new`",
                    ),
            ));
        }
        let last = state.closed.and_then(|at| self.ledger.books.events.get(at));
        match last {
            None => Ok(()),
            Some(last) => Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    format!("\"{}\" is billed after its final bill", state.key),
                )
                .at(place, "billed here")
                .also(&last.place, "final here")
                .help("take `final` out of the first by reversing it, or bill this as a line with `new`"),
            )),
        }
    }

    /// One line of a bill: what is payable for it in the books, and at which rate.
    pub(super) fn bill_line(
        &mut self,
        of: Of,
        amount: Money,
        is_final: bool,
        rates: Rates<'_>,
        report: &mut Report,
    ) -> Result<(i64, Option<Quote>), Reported> {
        let own = self.entry.currency;
        let stated = rates.posted.map(|at| at.value);
        let state = report.found(self.charge_state(of), "a charge")?;
        let Some(owed) = state.owed.clone() else {
            // It is owed with its bill, at that day's rate.
            let known = state.estimate.filter(|(known, ..)| known.currency() == amount.currency());
            let rate = stated.or(known.and_then(|(.., rate)| rate));
            let rate = rate.filter(|_| amount.currency() != own);
            let estimate = state.estimate.map(|(_, book, _)| book);
            let book = self.convert(amount, rate.as_ref(), "rate", report)?;
            self.owe(of, (amount.currency(), rate));
            self.charge(of, book, estimate, report)?;
            return Ok((book, rate));
        };
        let accrual = state.accrual.and_then(|at| Some((at, self.ledger.open.get(at)?.clone())));
        let Some((at, accrual)) = accrual.filter(|(_, open)| open.amount != 0 || open.book != 0)
        else {
            // All that was estimated is billed: the rest is more, at the rate it was owed at.
            return self.bill_more(of, amount, (owed.currency, owed.rate), stated, rates, report);
        };
        let (left, carried) = (-accrual.amount, -accrual.book);
        if accrual.currency == amount.currency() {
            let minor = self.fits(amount.minor(), report)?;
            // A part bill takes its own part of what is accrued.
            let taken = if is_final || minor > left { left } else { minor };
            let taken_book = self.part(carried, taken, left, report)?;
            let differs = money(minor - taken, amount.currency());
            let cost = self.at_owed_rate(of, differs);
            let cost = report.found(cost, "the rate of a charge")?;
            let rate = accrual.rate.filter(|_| amount.currency() != own);
            // What was never accrued is payable at the rate that the accrual is carried at.
            let more = self.convert(differs, rate.as_ref(), "rate", report)?;
            self.open(at, (taken, taken_book), report)?;
            self.charge(of, cost, None, report)?;
            let exchange = more - cost;
            self.exchange(Some(of.0), exchange, report)?;
            return Ok((taken_book + more, rate));
        }
        let owed_rate = rates.owed.map(|at| at.value).filter(|_| amount.currency() != own);
        let at_owed = self.convert(amount, owed_rate.as_ref(), "owed-rate", report)?;
        let rate = stated.filter(|_| amount.currency() != own);
        let book = self.convert(amount, rate.as_ref(), "rate", report)?;
        let recognised = self.at_owed_rate(of, money(left, accrual.currency));
        let recognised = report.found(recognised, "the rate of a charge")?;
        // In another currency, too, a part bill takes its own part of what is accrued.
        let is_part = !is_final && at_owed < recognised;
        let taken = if is_part { self.part(left, at_owed, recognised, report)? } else { left };
        let taken_book = self.part(carried, taken, left, report)?;
        let cost = if is_part { 0 } else { at_owed - recognised };
        self.open(at, (taken, taken_book), report)?;
        self.charge(of, cost, None, report)?;
        self.exchange(Some(of.0), book - taken_book - cost, report)?;
        Ok((book, rate))
    }

    /// More of a charge than was estimated: cost at the rate it was owed at, exchange for what it is today.
    pub(super) fn bill_more(
        &mut self,
        of: Of,
        amount: Money,
        (currency, known): (Currency, Option<Quote>),
        stated: Option<Quote>,
        rates: Rates<'_>,
        report: &mut Report,
    ) -> Result<(i64, Option<Quote>), Reported> {
        let own = self.entry.currency;
        let known = known.filter(|_| currency == amount.currency());
        let owed_rate =
            rates.owed.map(|at| at.value).or(known).filter(|_| amount.currency() != own);
        let cost = self.convert(amount, owed_rate.as_ref(), "owed-rate", report)?;
        let rate = stated.or(known).filter(|_| amount.currency() != own);
        let book = self.convert(amount, rate.as_ref(), "rate", report)?;
        self.charge(of, cost, None, report)?;
        self.exchange(Some(of.0), book - cost, report)?;
        Ok((book, rate))
    }

    /// A bill is credited, or a rebate given: it takes from cost what it brought in.
    pub(super) fn credit(
        &mut self,
        lines: &[BillLine],
        against: Option<&At<String>>,
        rate: Option<&At<Quote>>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        self.paper(report)?;
        let lines = self.lines_of(lines, report)?;
        self.comes_to_something("credit", &lines, report)?;
        let mut sum = 0;
        let mut sum_cost = 0;
        let mut currency = self.entry.currency;
        let mut shipment = None;
        let mut known = None;
        for (of, amount, place) in lines {
            let state = report.found(self.charge_state(of), "a charge")?;
            let Some(owed) = state.owed.clone().filter(|_| !state.moves_no_money) else {
                return Err(report.error(
                    Fault::error(
                        Code::Contradiction,
                        format!("\"{}\" is credited before it is owed", state.key),
                    )
                    .at(&place, "credited here")
                    .help("write first when it was owed, or its bill"),
                ));
            };
            known = owed.rate;
            let own_rate = if owed.currency == amount.currency() {
                owed.rate
            } else {
                let of_bill = self.rate_of_bill(state, amount.currency());
                of_bill.or(rate.map(|at| at.value))
            };
            let cost = self.convert(amount, own_rate.as_ref(), "rate", report)?;
            self.ask_credit(of, amount, &place, report)?;
            self.ask_creditor(of, &place, report);
            self.charge(of, -cost, None, report)?;
            self.note_bill(of, amount.negated(), false);
            sum += self.fits(amount.minor(), report)?;
            sum_cost += cost;
            currency = amount.currency();
            shipment = Some(of.0);
        }
        let Some(against) = against else {
            let rate =
                rate.map(|at| at.value).or(known).filter(|_| currency != self.entry.currency);
            let book = self.convert(money(sum, currency), rate.as_ref(), "rate", report)?;
            let item =
                self.item(Account::Receivables, (money(sum, currency), book), rate, shipment);
            self.new_open(item, report)?;
            return self.exchange(shipment, sum_cost - book, report);
        };
        let is_meant = |at: &usize| {
            let open = self.ledger.open.get(*at);
            open.is_some_and(|one| one.account == Account::Payables && one.currency == currency)
        };
        let of_bill = self.ledger.items_of(&self.own_party(), &against.value);
        let at = of_bill.iter().copied().find(is_meant);
        let item = at.and_then(|at| self.ledger.open.get(at)).cloned();
        let (Some(at), Some(item)) = (at, item.filter(|item| -item.amount >= sum)) else {
            let (party, bill) = (self.own_party(), &against.value);
            let open = at.and_then(|at| self.ledger.open.get(at));
            let message = match open {
                _ if of_bill.is_empty() => format!("{party} has no bill {bill}"),
                None => format!("bill {bill} of {party} is in another currency than its credit"),
                Some(open) if open.amount == 0 => {
                    format!("bill {bill} of {party} is paid or credited in full")
                }
                Some(open) => {
                    let (sum, open) = (money(sum, currency), money(-open.amount, currency));
                    format!("{sum} is credited, and {open} is open of bill {bill} of {party}")
                }
            };
            let came = of_bill.first().and_then(|at| self.ledger.open.get(*at));
            let came = came.and_then(|open| self.ledger.books.events.get(open.event));
            let fault = Fault::error(Code::Contradiction, message)
                .at(&against.place, "the credit is set against it");
            let fault = match came {
                Some(came) => fault.also(&came.place, "the bill"),
                None => fault,
            };
            return Err(report.error(fault.help(format!(
                "leave `against` out: then {party} owes the credit, and a payment takes it with its next bill"
            ))));
        };
        let taken = self.part(-item.book, sum, -item.amount, report)?;
        self.open(at, (sum, taken), report)?;
        self.exchange(shipment, sum_cost - taken, report)
    }

    /// The rate at which the last bill of a charge in a currency counted as cost.
    fn rate_of_bill(&self, state: &ChargeState, currency: Currency) -> Option<Quote> {
        let mut own = state.bills.iter().rev().filter(|(_, amount)| amount.currency() == currency);
        own.find_map(|(event, _)| match &self.ledger.books.events.get(*event)?.what {
            BookKind::Billed { rate, owed_rate, .. } => {
                owed_rate.as_ref().or(rate.as_ref()).map(|at| at.value)
            }
            _ => None,
        })
    }

    /// Asks whether an amount is meant that is credited of a charge, where less was billed of it.
    pub(super) fn ask_credit(
        &self,
        of: Of,
        amount: Money,
        place: &Place,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let state = report.found(self.charge_state(of), "a charge")?;
        let billed = self.fits(state.billed_so_far(), report)?;
        let own = billed.iter().find(|sum| sum.currency() == amount.currency());
        let is_covered = own.map_or(!billed.is_empty(), |own| own.amount() >= amount.amount());
        if is_covered {
            return Ok(());
        }
        let was = own.map_or_else(|| "nothing".to_owned(), ToString::to_string);
        let message = format!("{amount} is credited of \"{}\", and {was} was billed", state.key);
        let fault = Fault::warning(Code::OutOfRange, message)
            .at(place, "more than its bills")
            .help("is the amount right, and the charge?");
        let last = state.bills.last().map(|(event, _)| *event);
        let last = last.or(state.owed.as_ref().map(|owed| owed.event));
        let fault = match last.and_then(|at| self.ledger.books.events.get(at)) {
            Some(bill) => fault.also(&bill.place, "billed up to here"),
            None => fault,
        };
        self.event.ask(fault, report);
        Ok(())
    }

    /// Asks whether a party is meant that credits a charge, where others billed it.
    fn ask_creditor(&self, of: Of, place: &Place, report: &mut Report) {
        let Some(state) = self.charge_state(of) else { return };
        let of_bills = state.bills.iter().filter(|(_, amount)| !amount.is_negative());
        let of_bills = of_bills.filter_map(|(event, _)| self.ledger.books.events.get(*event));
        let billers: Vec<&BookEvent> = of_bills.collect();
        let own = self.event.party.as_deref();
        let Some(biller) = billers.first().filter(|_| state.invoice.is_none()) else { return };
        if billers.iter().any(|biller| biller.party.as_deref() == own) {
            return;
        }
        let party = biller.party.as_deref().unwrap_or_default();
        let message =
            format!("{} credits \"{}\", and {party} billed it", own.unwrap_or_default(), state.key);
        let fault = Fault::warning(Code::Notice, message)
            .at(place, "credited here")
            .also(&biller.place, "billed here")
            .help(format!("if it is a credit of {party}, write party = \"{party}\""));
        self.event.ask(fault, report);
    }

    /// Asks whether the bank's amount is meant, where it is more than a fifth off what an item stands at, or where no
    /// money was changed and it is another.
    fn ask_bank(
        &mut self,
        (paid, stands): (i64, i64),
        (bank, amount): (Option<&At<Money>>, Money),
        items: &[usize],
        report: &mut Report,
    ) {
        let books = self.ledger.books;
        let events = &books.events;
        let came = || items.iter().filter_map(|at| Some((*at, events.get(*at)?)));
        if came().any(|(_, event)| self.is_rate_asked(event) == Some(true)) {
            return;
        }
        let own = self.entry.currency;
        let is_same = amount.currency() == own;
        let apart = (i128::from(paid) - i128::from(stands)).abs();
        let most = if is_same { 0 } else { i128::from(stands).abs() / 5 };
        let Some(bank) = bank.filter(|_| apart > most) else { return };
        let message = if is_same {
            format!("the bank's {} is another than the {amount} that is paid", bank.value)
        } else {
            format!(
                "the bank's {} is far from the {} that {amount} stands at",
                bank.value,
                money(stands, own)
            )
        };
        let fault = Fault::warning(Code::OutOfRange, message)
            .at(&bank.place, "the rest is a difference of exchange")
            .help("is it the amount of the bank's statement? what the bank charges is `fee`");
        let fault = match came().next() {
            Some((_, came)) => fault.also(&came.place, "it came here"),
            None => fault,
        };
        // A rate that is held against all is asked about when all are known.
        match came().find(|(_, event)| self.is_rate_asked(event).is_none()) {
            Some((came, _)) if self.event.is_asked() => {
                self.ledger.of_bank.push((came, self.at, self.event.doubted(fault)));
            }
            _ => self.event.ask(fault, report),
        }
    }

    /// Whether a rate that an event states is asked about: then what stands at it is not asked about once more.
    fn is_rate_asked(&self, event: &BookEvent) -> Option<bool> {
        let shipment = event.shipment.as_deref().and_then(|own| self.ledger.shipments.get(own));
        is_rate_asked(event, shipment.and_then(|at| self.ledger.freeze(*at)))
    }

    /// Whether something is open of a bill, of whatever shipment.
    fn is_open_elsewhere(&self, party: &str, number: &str) -> bool {
        let mut own = self.ledger.items_of(party, number).iter();
        own.any(|at| self.ledger.open.get(*at).is_some_and(|open| open.amount != 0))
    }

    /// The fault for a bill of which nothing is open.
    fn nothing_open(&self, party: &str, number: &At<String>, report: &mut Report) -> Reported {
        let open = self.ledger.open.iter().filter(|open| {
            open.party == party && open.amount != 0 && open.account == Account::Payables
        });
        let open: Vec<&str> = open.map(|open| open.number.as_str()).collect();
        let others = (!open.is_empty()).then(|| format!("open of {party}: {}", open.join(", ")));
        let fault = Fault::error(
            Code::UnknownReference,
            format!("nothing is open of bill \"{}\"", number.value),
        )
        .at(&number.place, "paid here");
        let events = &self.ledger.books.events;
        let of_number = |event: &&BookEvent| {
            let own = event.number.as_ref().map(|own| own.value.as_str());
            own == Some(number.value.as_str()) && matches!(event.what, BookKind::Billed { .. })
        };
        let own = events.iter().filter(of_number).find(|one| one.party.as_deref() == Some(party));
        let other = events.iter().find(of_number).and_then(|one| Some((one, one.party.as_ref()?)));
        report.error(match (own, other) {
            (Some(own), _) if own.posted > self.event.posted => fault
                .also(&own.place, format!("it comes on {}", own.posted))
                .help("correct the day of the one that is wrong"),
            (Some(own), _) if self.is_open_elsewhere(party, &number.value) => fault
                .also(&own.place, "this bill, which is of another file")
                .help("pay it in that file, or in one of the yards: books/yards/"),
            (Some(own), _) => fault
                .also(&own.place, "this bill: it is paid or credited in full")
                .help(others.unwrap_or_else(|| "leave it out".to_owned())),
            (None, Some((other, biller))) => fault
                .also(&other.place, format!("this bill is of {biller}"))
                .help(format!("write party = \"{biller}\", if it is meant")),
            (None, None) => fault.help(others.unwrap_or_else(|| {
                format!("nothing is open of {party}: is the party written as on its bill?")
            })),
        })
    }

    /// Bills are paid.
    pub(super) fn paid(
        &mut self,
        numbers: &[At<String>],
        amount: Option<&At<Money>>,
        (bank, fee): (Option<&At<Money>>, Option<&At<Money>>),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let party = self.own_party();
        let mut items: Vec<usize> = Vec::new();
        for (at, number) in numbers.iter().enumerate() {
            let mut before = numbers.iter().take(at);
            if let Some(first) = before.find(|before| before.value == number.value) {
                return Err(report.error(
                    Fault::error(Code::Duplicate, format!("bill {} is named twice", number.value))
                        .at(&number.place, "again here")
                        .also(&first.place, "first here")
                        .help("name each bill once"),
                ));
            }
            // In a shipment's own file its own bills are meant: a supplier's number may stand on several.
            let own = self.event.shipment.as_deref().and_then(|own| self.ledger.shipments.get(own));
            let is_meant = |at: &usize| {
                self.ledger.open.get(*at).is_some_and(|open| {
                    let accounts = [Account::Payables, Account::Receivables, Account::Deposits];
                    accounts.contains(&open.account)
                        && open.amount != 0
                        && (own.is_none()
                            || open.shipment.is_none()
                            || open.shipment.as_ref() == own)
                })
            };
            let before = items.len();
            let of_bill = self.ledger.items_of(&party, &number.value);
            items.extend(of_bill.iter().copied().filter(is_meant));
            if items.len() == before {
                return Err(self.nothing_open(&party, number, report));
            }
        }
        let of = |at: &usize| self.ledger.open.get(*at);
        let currencies: Vec<(Currency, Currency)> =
            items.iter().filter_map(of).map(|one| (one.currency, one.book_currency)).collect();
        let Some(first) = currencies.first().copied() else { return Ok(()) };
        if currencies.iter().any(|other| *other != first) {
            return Err(report.error(
                Fault::error(Code::Contradiction, "these bills are in several currencies")
                    .at(&self.event.place, "paid together here")
                    .help("write an event for each currency"),
            ));
        }
        let (currency, own) = first;
        self.entry.currency = own;
        let open: i64 = items.iter().filter_map(of).map(|one| -one.amount).sum();
        // What is open the other way comes to the bank. Amounts are written without a sign either way.
        let way = if open < 0 { -1 } else { 1 };
        let wanted = match amount {
            None => open,
            Some(amount) if amount.currency() == currency => way * minor_of(amount, report)?,
            Some(amount) => {
                return Err(report.error(
                    Fault::error(Code::Contradiction, format!("the bills are in {currency}"))
                        .at(&amount.place, "in another currency")
                        .help(
                            "write what was paid of them in their currency, and `bank` beside it",
                        ),
                ));
            }
        };
        if wanted.abs() > open.abs() {
            return Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    format!(
                        "{} is paid, and {} is open",
                        money(wanted.abs(), currency),
                        money(open.abs(), currency)
                    ),
                )
                .at(amount.map_or(&self.event.place, |at| &at.place), "more than is open")
                .help("an advance on goods that have not passed is kind = \"advance\""),
            ));
        }
        let shown = At { value: money(wanted.abs(), currency), place: self.event.place.clone() };
        let paid = way * self.paid_in_books(&shown, bank, report)?;
        let mut left = wanted;
        let mut released = 0;
        let came: Vec<usize> = items.iter().filter_map(of).map(|item| item.event).collect();
        // What is open the other way first, so that what is left of the money goes to bills in their order.
        items.sort_by_key(|at| of(at).is_some_and(|one| -one.amount.signum() == way));
        for at in items {
            let Some(item) = self.ledger.open.get(at).cloned() else { continue };
            let some = way * (way * left).min(way * -item.amount);
            let some = if wanted == open { -item.amount } else { some };
            let book = self.part(-item.book, some, -item.amount, report)?;
            self.open(at, (some, book), report)?;
            released += book;
            left -= some;
        }
        self.plain(Line { party: party.clone(), ..Line::on(Account::Bank, -paid) }, report)?;
        self.ask_bank((paid, released), (bank, shown.value), &came, report);
        self.exchange(None, paid - released, report)?;
        if let Some(fee) = fee {
            let book = self.paid_in_books(fee, None, report)?;
            self.plain(Line { party: party.clone(), ..Line::on(Account::Period, book) }, report)?;
            self.plain(Line { party, ..Line::on(Account::Bank, -book) }, report)?;
        }
        Ok(())
    }

    /// Asks whether a claim is admitted once more, under a number that is admitted already.
    fn ask_claim(&self, shipment: usize, report: &mut Report) {
        let (party, number) = (self.own_party(), self.own_number());
        let of_claim = self.ledger.items_of(&party, &number).iter();
        let mut of_claim = of_claim.filter_map(|at| self.ledger.open.get(*at));
        let first = of_claim.find(|open| {
            let is_own = open.shipment == Some(shipment) && open.account == Account::Claims;
            is_own && !self.ledger.reversed.contains_key(&open.event)
        });
        let first = first.and_then(|open| self.ledger.books.events.get(open.event));
        if let Some(first) = first {
            let message = format!("claim {number} on {party} is admitted a second time");
            let fault = Fault::warning(Code::Duplicate, message.replace("  ", " "))
                .at(&self.event.place, "it adds to the first")
                .also(&first.place, "first here")
                .help("if it is another claim, give it a number of its own: number = \"...\"");
            self.event.ask(fault, report);
        }
    }

    /// A claim: an asset of its own once it is admitted (IAS 37, paragraph 33), never set off in the cost of
    /// what was lost.
    pub(super) fn claim(
        &mut self,
        state: ClaimState,
        amount: &At<Money>,
        (bank, rate): (Option<&At<Money>>, Option<&At<Quote>>),
        report: &mut Report,
    ) -> Result<(), Reported> {
        let shipment = self.ledger.own_shipment(self.event, report)?;
        let own = self.currency(shipment);
        match state {
            ClaimState::Made | ClaimState::Refused => Ok(()),
            ClaimState::Admitted => {
                let rate = rate.map(|at| at.value).filter(|_| amount.currency() != own);
                let book = self.convert(amount.value, rate.as_ref(), "rate", report)?;
                let item = self.item(Account::Claims, (amount.value, book), rate, Some(shipment));
                self.ask_claim(shipment, report);
                self.ask_size(shipment, ("is claimed", book), &amount.place, report);
                self.new_open(item, report)?;
                let line = Line {
                    party: self.own_party(),
                    shipment: Some(shipment),
                    ..Line::on(Account::Recovered, -book)
                };
                self.plain(line, report)
            }
            ClaimState::Paid => {
                let party = self.own_party();
                let minor = minor_of(amount, report)?;
                let is_meant = |at: &usize| {
                    self.ledger.open.get(*at).is_some_and(|open| {
                        open.account == Account::Claims
                            && open.shipment == Some(shipment)
                            && open.currency == amount.currency()
                            && open.amount >= minor
                    })
                };
                let of_claim = self.ledger.items_of(&party, &self.own_number());
                let Some(at) = of_claim.iter().copied().find(is_meant) else {
                    return Err(report.error(
                        Fault::error(
                            Code::Contradiction,
                            format!("no claim of {} on {party} is open", amount.value),
                        )
                        .at(&amount.place, "paid here")
                        .help("write first when it was admitted, under the same party and number"),
                    ));
                };
                let item = self.ledger.open.get(at).cloned();
                let item = report.found(item, "a claim")?;
                let paid = self.paid_in_books(amount, bank, report)?;
                let released = self.part(item.book, minor, item.amount, report)?;
                self.ask_bank((paid, released), (bank, amount.value), &[item.event], report);
                self.open(at, (-minor, -released), report)?;
                self.plain(Line { party, ..Line::on(Account::Bank, paid) }, report)?;
                self.exchange(Some(shipment), released - paid, report)
            }
        }
    }
}
