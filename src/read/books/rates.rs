//! Rates of exchange that events state, held against those of the booked estimates.
//!
//! Decided on 2026-11-27. A rate of its day may truly be far from the booked one: so one that is more than a fifth off,
//! or is quoted the other way about, is a warning with both places, and no fault. A share of a fifth is common practice.

use std::collections::BTreeMap;

use crate::fault::{At, Code, Fault, Place};
use crate::quantity::{Currency, Decimal, Money, Quote, ratio};
use crate::trade::{BookEvent, BookKind, Freeze};

/// The rates that estimates were booked at: of each pair of currencies the lowest and the highest, with its place.
#[derive(Debug, Clone, Default)]
pub(super) struct BookedRates(BTreeMap<Pair, [(Quote, Place); 2]>);

type Pair = (&'static str, &'static str);

fn pair(quote: &Quote) -> Pair {
    let (one, other): (Currency, Currency) = (quote.base(), quote.counter());
    (one.code().min(other.code()), one.code().max(other.code()))
}

/// How many times another rate between the same currencies one is; both are taken the same way about.
fn times(one: &Quote, other: &Quote) -> Option<Decimal> {
    let way = |quote: &Quote| {
        let is_first = quote.base().code() < quote.counter().code();
        if is_first { Some(quote.rate()) } else { Decimal::ONE.checked_div(quote.rate()) }
    };
    way(one)?.checked_div(way(other)?)
}

impl BookedRates {
    /// Adds a rate and where it was booked.
    pub(super) fn add(&mut self, quote: Quote, place: &Place) {
        let own = || (quote, place.clone());
        let [low, high] = self.0.entry(pair(&quote)).or_insert_with(|| [own(), own()]);
        if times(&quote, &low.0).is_some_and(|times| times < Decimal::ONE) {
            *low = own();
        }
        if times(&quote, &high.0).is_some_and(|times| times > Decimal::ONE) {
            *high = own();
        }
    }

    /// Those of an estimate.
    pub(super) fn of(freeze: &Freeze) -> Self {
        let mut own = Self::default();
        for charge in &freeze.charges {
            if let Some(rate) = charge.rate {
                own.add(rate, &charge.place);
            }
        }
        own
    }

    /// Adds those of others.
    pub(super) fn extend(&mut self, other: &Self) {
        for (quote, place) in other.0.values().flatten() {
            self.add(*quote, place);
        }
    }

    /// Whether a rate between its currencies was booked.
    pub(super) fn has(&self, quote: &Quote) -> bool {
        self.0.contains_key(&pair(quote))
    }

    /// The doubt about a rate that an event states, if it is far from all that were booked.
    pub(super) fn doubt(&self, stated: &Quote, place: &Place) -> Option<Fault> {
        let [low, high] = self.0.get(&pair(stated))?;
        let is_within = |quote: &Quote, share: Decimal| {
            let (above, below) = (times(quote, &high.0), times(quote, &low.0));
            above.is_some_and(|times| times <= Decimal::ONE + share)
                && below.is_some_and(|times| times >= Decimal::ONE - share)
        };
        let [near, tenth, fifth] = [5, 10, 20].map(|percent| Decimal::new(percent, 2));
        let turned = Quote::new(stated.counter(), stated.rate(), stated.base());
        let turned = turned.filter(|quote| is_within(quote, near) && !is_within(stated, tenth));
        if is_within(stated, fifth) && turned.is_none() {
            return None;
        }
        let is_above = times(stated, &high.0).is_some_and(|times| times > Decimal::ONE);
        let (known, booked) = if is_above { high } else { low };
        let moved = [10, 100].into_iter().map(Decimal::from).flat_map(|by| {
            let rates = [stated.rate().checked_div(by), stated.rate().checked_mul(by)];
            rates.map(|rate| Quote::new(stated.base(), rate?.normalize(), stated.counter()))
        });
        let meant = turned.or_else(|| moved.flatten().find(|quote| is_within(quote, fifth)));
        let help = match meant {
            Some(meant) => format!("is \"{meant}\" meant?"),
            None => "is it the rate of its day, and quoted the right way about?".to_owned(),
        };
        let message = format!("{stated} is far from the booked rate, {known}");
        Some(
            Fault::warning(Code::OutOfRange, message)
                .at(place, "stated here")
                .also(booked, "booked here")
                .help(help),
        )
    }
}

/// Whether a rate that an event states is asked about, held against those of its own estimate. `None`: one has none
/// there, and is held against those of all.
pub fn is_rate_asked(event: &BookEvent, estimate: Option<&Freeze>) -> Option<bool> {
    let stated = stated(event);
    if stated.is_empty() || !event.is_asked() {
        return Some(false);
    }
    let booked = estimate.map(BookedRates::of).unwrap_or_default();
    let is_asked = stated.iter().any(|(quote, place)| booked.doubt(quote, place).is_some());
    let is_open = || stated.iter().any(|(quote, _)| !booked.has(quote));
    if is_asked || !is_open() { Some(is_asked) } else { None }
}

/// The same of a rate that its own estimate has none of.
pub fn is_rate_asked_of_all(event: &BookEvent, estimates: &[Freeze]) -> bool {
    let mut booked = BookedRates::default();
    for estimate in estimates {
        booked.extend(&BookedRates::of(estimate));
    }
    event.is_asked()
        && stated(event).iter().any(|(quote, place)| booked.doubt(quote, place).is_some())
}

/// The rates that an event states, each with its place. What the bank took for an advance makes one, too. What it took
/// for a bill is held against what the bill stands at.
pub(super) fn stated(event: &BookEvent) -> Vec<(Quote, &Place)> {
    let (rates, bank): (Vec<Option<&At<Quote>>>, _) = match &event.what {
        BookKind::Control { rate, .. }
        | BookKind::Owed { rate, .. }
        | BookKind::Credit { rate, .. }
        | BookKind::Move { rate, .. }
        | BookKind::ReturnOut { rate, .. }
        | BookKind::Claim { rate, .. } => (vec![rate.as_ref()], None),
        BookKind::Billed { rate, owed_rate, .. }
        | BookKind::DutyChanged { rate, owed_rate, .. } => {
            (vec![rate.as_ref(), owed_rate.as_ref()], None)
        }
        BookKind::Advance { amount, bank, .. } => {
            (Vec::new(), bank.as_ref().map(|bank| (amount, bank)))
        }
        BookKind::Close { rates, .. } => (rates.iter().map(Some).collect(), None),
        _ => (Vec::new(), None),
    };
    let rates = rates.into_iter().flatten().map(|at| (at.value, &at.place));
    let of_bank = bank.and_then(|(amount, bank)| Some((rate_of(amount, bank)?, &bank.place)));
    rates.chain(of_bank).collect()
}

/// The rate at which the bank took an amount for another, to six places.
fn rate_of(amount: &Money, bank: &Money) -> Option<Quote> {
    let rate = ratio(bank.amount(), amount.amount(), 6)?;
    Quote::new(amount.currency(), rate.normalize(), bank.currency())
}
