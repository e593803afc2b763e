//! Which of some offers is the cheapest over a range of something, or where an offer is not dearer than a
//! target: no one value answers that.
//!
//! Decided on 2026-11-27. What moves is the number of bundles, the day of sailing, a rate of exchange or a
//! charge of the tables. A cost does not rise or fall evenly with any of them. A bundle more may take a box
//! more, a row of rates, a layer of duty or a free day ends with a day, a cap or another forwarder breaks a
//! line. So every value of the stated grid is costed whole for each offer, and the ranges are all there are
//! on that grid: none rests on its neighbours.

use rayon::prelude::*;

use super::change::{Change, ChargeTo, Charges, changed, is_used, scale};
use super::counter::{Bid, Cost};
use super::footing::PerArea;
use super::named::falling;
use super::part::Like;
use super::turns::{Turn, turns};
use crate::charges::Choice;
use crate::quantity::{Currency, Decimal, Percent, Quote};
use crate::trade::{ChargeRow, Date, Event, ExchangeUse, Shipment, Tariffs};

/// What moves, from its first value to its last.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Over {
    /// The number of bundles of nominal offers.
    Bundles(u32, u32),
    /// The day of sailing, day by day. The days after the calculation move along; prices, payments on a
    /// stated day and the day of the calculation stay.
    Sails(Date, Date),
    /// The planning rate of one currency in another, step by step. Rates of a bank's day, of customs and of
    /// a contract are known and stay.
    Rate {
        /// One unit of this.
        base: Currency,
        /// In this.
        counter: Currency,
        /// The first rate, the last one and the step.
        grid: [Decimal; 3],
    },
    /// All amounts of one charge of the tables, in percent of what stands there.
    Charge {
        /// Its name.
        name: String,
        /// The first percentage, the last one and the step.
        grid: [Decimal; 3],
    },
}

/// One value of what moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Value {
    /// So many bundles.
    Bundles(u32),
    /// A day of sailing.
    Sails(Date),
    /// A planning rate.
    Rate(Quote),
    /// A percentage of the amounts of a charge.
    Charge(Percent),
}

/// Offers at one value.
#[derive(Debug, Clone)]
pub struct AtValue {
    /// The value.
    pub value: Value,
    /// What each offer comes to, or why it cannot be had so.
    pub costs: Vec<Result<Cost, String>>,
    /// The cost per area that the only offer is held against, which stays.
    pub target: Option<PerArea>,
    /// Of days of sailing: the rows that begin or end on this one for an offer that does not cost the same as
    /// on the day before.
    pub turns: Vec<Turn>,
}

/// Why offers cannot be set against each other so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoOver {
    /// One of them is no nominal offer of one line whose bundles are all alike, or what it is filed or
    /// loaded by names single bundles.
    NotNominal,
    /// The tables have no planning rate between the two currencies.
    NoRate,
    /// No charge of that name has an amount and falls on one of the offers: those that do.
    NoCharge(Vec<String>),
    /// There is no value, or there are too many.
    Width,
}

/// Who is the cheapest.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Winner {
    /// These offers, by position: several where they cost the same.
    Offers(Vec<usize>),
    /// This offer, as no other has a cost: it cannot be had so, or a rate is missing.
    Alone(usize),
    /// The offer is not dearer than the target.
    NotDearer,
    /// The offer is dearer than the target.
    Dearer,
    /// No offer has a cost.
    None,
}

impl AtValue {
    /// Who is the cheapest per area, exactly.
    pub fn winner(&self) -> Winner {
        let costs = self.costs.iter().enumerate();
        let held: Vec<(usize, &Cost)> =
            costs.filter_map(|(at, cost)| Some((at, cost.as_ref().ok()?))).collect();
        let Some(least) = held.iter().map(|(_, cost)| &cost.per_area).min() else {
            return Winner::None;
        };
        match (&self.target, &held[..]) {
            (Some(target), _) if least <= target => Winner::NotDearer,
            (Some(_), _) => Winner::Dearer,
            (None, [(at, _)]) if self.costs.len() > 1 => Winner::Alone(*at),
            (None, _) => {
                let least = held.iter().filter(|(_, cost)| cost.per_area == *least);
                Winner::Offers(least.map(|(at, _)| *at).collect())
            }
        }
    }

    /// Whether each offer comes to the same as at another value; one without a cost comes to nothing.
    pub fn costs_as(&self, other: &Self) -> bool {
        self.costs.iter().zip(&other.costs).all(is_same_cost)
    }

    /// The rows that begin or end between another value and this one for the offers that cost something else.
    fn turns_from(&self, before: &Self, bids: &[Bid<'_>]) -> Vec<Turn> {
        let (Value::Sails(first), Value::Sails(second)) = (before.value, self.value) else {
            return Vec::new();
        };
        let mut all: Vec<Turn> = Vec::new();
        for (bid, costs) in bids.iter().zip(before.costs.iter().zip(&self.costs)) {
            if !is_same_cost(costs) {
                for turn in turns(bid.shipment, bid.tariffs, [first, second]) {
                    // Rows of several kinds of box may stand on one line.
                    if !all.iter().any(|one| one.is_as(&turn)) {
                        all.push(turn);
                    }
                }
            }
        }
        all
    }
}

/// Whether two outcomes are alike: one cost, or none.
fn is_same_cost((one, other): (&Result<Cost, String>, &Result<Cost, String>)) -> bool {
    match (one, other) {
        (Ok(one), Ok(other)) => {
            (&one.per_area, one.decision, one.landed)
                == (&other.per_area, other.decision, other.landed)
        }
        (Err(_), Err(_)) => true,
        _ => false,
    }
}

/// More values than are costed (a choice of ours).
pub const MOST_VALUES: usize = 2_000;

impl Over {
    /// Its values, the first one first. `None`: there is none, or there are too many.
    fn values(&self) -> Option<Vec<Value>> {
        let steps = |[from, to, step]: [Decimal; 3], of: &dyn Fn(Decimal) -> Option<Value>| {
            let mut all = Vec::new();
            let mut at = from;
            while at <= to && all.len() <= MOST_VALUES {
                all.push(of(at)?);
                at = at.checked_add(step)?;
            }
            Some(all)
        };
        let all: Vec<Value> = match self {
            Self::Bundles(first, last) => (*first..=*last).map(Value::Bundles).collect(),
            Self::Sails(first, last) => {
                let days = first.iter_days().take_while(|day| day <= last);
                days.take(MOST_VALUES + 1).map(Value::Sails).collect()
            }
            Self::Rate { base, counter, grid } => {
                steps(*grid, &|rate| Quote::new(*base, rate, *counter).map(Value::Rate))?
            }
            Self::Charge { grid, .. } => {
                steps(*grid, &|percent| Some(Value::Charge(Percent::new(percent))))?
            }
        };
        (!all.is_empty() && all.len() <= MOST_VALUES).then_some(all)
    }

    /// What is changed for a value.
    fn change(&self, value: Value) -> Option<Change> {
        Some(match (value, self) {
            (Value::Bundles(count), _) => Change::Bundles(count),
            (Value::Sails(day), _) => Change::Day(Event::Sails, day),
            (Value::Rate(quote), _) => Change::Rate(ExchangeUse::Plan, quote),
            (Value::Charge(percent), Self::Charge { name, .. }) => {
                Change::Charges(Charges::Named(name.clone()), ChargeTo::Times(percent))
            }
            (Value::Charge(_), _) => return None,
        })
    }
}

/// Costs some goods of offers, or all, at each value; an only offer may be held against a target.
///
/// # Errors
/// Why that cannot be done.
pub fn over(
    bids: &[Bid<'_>],
    target: Option<&PerArea>,
    goods: Option<&Like>,
    over: &Over,
) -> Result<Vec<AtValue>, NoOver> {
    let values = over.values().ok_or(NoOver::Width)?;
    let tariffs = bids.first().map(|bid| bid.tariffs).ok_or(NoOver::Width)?;
    match over {
        Over::Rate { base, counter, .. } => {
            let quote = Quote::new(*base, Decimal::ONE, *counter).ok_or(NoOver::NoRate)?;
            if !tariffs.exchange.iter().any(|row| is_used(row, ExchangeUse::Plan, &quote)) {
                return Err(NoOver::NoRate);
            }
        }
        Over::Charge { name, .. } => {
            let offers: Vec<&Shipment> = bids.iter().map(|bid| bid.shipment).collect();
            let has_amount =
                |row: &&ChargeRow| scale(&mut row.rate.value.clone(), Percent::ZERO).is_some();
            let rows = falling(&offers, tariffs).filter(has_amount);
            let mut known: Vec<String> = rows.map(|row| row.name.clone()).collect();
            if !known.contains(name) {
                known.sort_unstable();
                known.dedup();
                return Err(NoOver::NoCharge(known));
            }
        }
        Over::Bundles(..) | Over::Sails(..) => {}
    }
    let at = |value: &Value| -> Option<AtValue> {
        let change = over.change(*value)?;
        let cost = |bid: &Bid<'_>| {
            let as_read = |_: &Tariffs| Ok(bid.shipment.clone());
            let of = (bid.shipment, bid.tariffs);
            let (shipment, tariffs) = changed(of, &[&change], as_read).ok()?;
            Some(Bid { tariffs: &tariffs, ..*bid }.cost(goods, &shipment))
        };
        let costs: Option<Vec<_>> = bids.iter().map(cost).collect();
        Some(AtValue { value: *value, costs: costs?, target: target.cloned(), turns: Vec::new() })
    };
    let all: Option<Vec<AtValue>> = values.par_iter().map(at).collect();
    let mut all = all.ok_or(match over {
        Over::Bundles(..) => NoOver::NotNominal,
        _ => NoOver::Width,
    })?;
    let two = all.windows(2).map(|two| match two {
        [before, at] => at.turns_from(before, bids),
        _ => Vec::new(),
    });
    let turns: Vec<Vec<Turn>> = two.collect();
    for (at, turns) in all.iter_mut().skip(1).zip(turns) {
        at.turns = turns;
    }
    Ok(all)
}

/// Values in ranges of one winner, by their ends.
pub fn ranges(all: &[AtValue]) -> Vec<(&AtValue, &AtValue)> {
    in_ranges(all, |one, other| one.winner() == other.winner())
}

/// Where an offer, by position, has no cost: values in a row by their ends, with the reason at the
/// first.
pub fn refused(all: &[AtValue], offer: usize) -> Vec<(&AtValue, &AtValue, &str)> {
    fn why(one: &AtValue, offer: usize) -> Option<&str> {
        one.costs.get(offer)?.as_ref().err().map(String::as_str)
    }
    let runs =
        in_ranges(all, |one, other| why(one, offer).is_some() == why(other, offer).is_some());
    runs.into_iter().filter_map(|(first, last)| Some((first, last, why(first, offer)?))).collect()
}

/// Where other offers serve an offer, by position, than at the value before: both values, in a row.
pub fn kinks(all: &[AtValue], offer: usize) -> Vec<(&AtValue, &AtValue)> {
    fn choice(one: &AtValue, offer: usize) -> Option<&Choice> {
        one.costs.get(offer)?.as_ref().ok().map(|cost| &cost.choice)
    }
    let two = all.windows(2).filter_map(|two| match two {
        [before, at] => Some((before, at)),
        _ => None,
    });
    two.filter(|(before, at)| {
        let both = choice(before, offer).zip(choice(at, offer));
        both.is_some_and(|(before, at)| before != at)
    })
    .collect()
}

/// Values in ranges of one cost of each offer, by their ends.
pub fn alike(all: &[AtValue]) -> Vec<(&AtValue, &AtValue)> {
    in_ranges(all, AtValue::costs_as)
}

fn in_ranges(
    all: &[AtValue],
    is_same: impl Fn(&AtValue, &AtValue) -> bool,
) -> Vec<(&AtValue, &AtValue)> {
    let mut ranges: Vec<(&AtValue, &AtValue)> = Vec::new();
    for one in all {
        match ranges.last_mut() {
            Some((first, last)) if is_same(first, one) => *last = one,
            _ => ranges.push((one, one)),
        }
    }
    ranges
}
