//! What a row comes to: rate to exact figure, floor and cap, one rounding, book currency.

use std::cmp::Ordering;

use super::counting::{TierStep, Times, by_tiers, for_each, interest_on, times};
use super::exchange::{Conversion, SERVICES, Target, convert_on};
use super::legs::event_of;
use super::terms::Terms;
use super::when::{Payable, booked_on, payable};
use super::why::{Reason, Why};
use crate::quantity::{Decimal, Exact, Mass, Money, Overflow, Percent, UnitRate};
use crate::trade::{ChargeRow, Date, Interest, Rate, TierBy, Tiers, WhatOf};

/// How much of a row's unit is charged.
#[derive(Debug, Clone, Copy)]
pub enum Quantity<'a> {
    /// Boxes, bundles, tonnes, square metres, lines of an entry.
    Count(Decimal),
    /// A box that weighs so much.
    Gross(Mass),
    /// A base, unrounded. Who asks knows what it is made of.
    Of(&'a Exact),
    /// What was paid, with the day of each payment.
    Paid(&'a [(Date, Money)]),
}

/// What a row comes to.
#[derive(Debug, Clone)]
pub struct Priced {
    /// In the currency it is charged in.
    pub amount: Money,
    /// In the book currency.
    pub book: Money,
    /// The exchange between the two, where they differ.
    pub exchange: Option<Conversion>,
    /// When it is paid.
    pub due: Payable,
    /// How the amount came about.
    pub how: How,
    /// The floor or cap that replaced the product.
    pub bound: Option<Bound>,
}

/// What replaced a product that lay outside its row's bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// The row's minimum.
    Floor,
    /// The row's maximum.
    Cap,
}

/// How an amount came about: the figures, before floor and cap.
#[derive(Debug, Clone)]
pub enum How {
    /// An amount times a count.
    Counted {
        /// The amount per unit.
        each: UnitRate,
        /// The count.
        count: Decimal,
        /// The unit.
        unit: &'static str,
        /// The product.
        exact: Exact,
    },
    /// Days or lines, each at the price of its own tier.
    Tiered {
        /// The tiers that it falls into.
        steps: Vec<TierStep>,
        /// The unit.
        unit: &'static str,
    },
    /// The price of the tier that a box's gross mass lies in.
    ByGross {
        /// The gross mass.
        gross: Mass,
        /// The tier's window, as it is written.
        window: String,
    },
    /// A percentage of a base.
    Part {
        /// The percentage.
        rate: Percent,
        /// Days, months or quarters, for a percentage of each.
        times: Option<Times>,
        /// The product.
        exact: Exact,
    },
    /// An amount for each so much of a base.
    ForEach {
        /// The amount.
        amount: UnitRate,
        /// For each of this.
        each: Money,
        /// Whether a part counts as a whole one.
        begun: bool,
    },
    /// Interest on what was paid, from the day of each payment.
    Interest {
        /// The yearly rate.
        rate: Percent,
        /// What the interest runs on.
        terms: Interest,
        /// The sum.
        exact: Exact,
    },
}

/// What a row comes to for a quantity: computed unrounded, held to its floor and cap, rounded once
/// (rule R1), and taken into the book currency at the rate of its leg's day, or of the day it is paid
/// on where that comes before.
///
/// # Errors
/// The reason why it cannot be had.
pub fn amount<'a>(
    row: &'a ChargeRow,
    of: Quantity<'_>,
    terms: &Terms<'a>,
) -> Result<Priced, Why<'a>> {
    let (amount, bound, how) = charged(row, of, terms)?;
    let due = payable(row, terms)?;
    let event = event_of(row.leg);
    let needed_at = &row.rate.place;
    let target = Target { event, used_for: SERVICES, currency: terms.book, needed_at };
    let (book, exchange) = if amount.currency() == terms.book {
        (amount, None)
    } else {
        let on = (booked_on(&due, terms.days.of(event)), row.name.as_str());
        let (book, exchange) = convert_on(terms, &Exact::from(amount), &target, on)?;
        (book, Some(exchange))
    };
    Ok(Priced { amount, book, exchange, due, how, bound })
}

/// The same in the currency it is charged in alone, whenever it is paid.
///
/// # Errors
/// The reason why it cannot be had.
pub fn charged<'a>(
    row: &'a ChargeRow,
    of: Quantity<'_>,
    terms: &Terms<'a>,
) -> Result<(Money, Option<Bound>, How), Why<'a>> {
    let (exact, how) = worked(row, of, terms)?;
    let (amount, bound) = bounded(row, &exact)?;
    Ok((amount, bound, how))
}

/// The unrounded figure, and how it came about.
fn worked<'a>(
    row: &'a ChargeRow,
    of: Quantity<'_>,
    terms: &Terms<'a>,
) -> Result<(Exact, How), Why<'a>> {
    let times = times(row, terms)?;
    let too_large =
        |overflow: Overflow| -> Why<'a> { Box::new(Reason::Overflow(overflow, &row.rate.place)) };
    match (&row.rate.value, of) {
        (Rate::Amount(each), Quantity::Count(count)) => {
            // So many boxes for so many days.
            let overflow = Overflow { what: "a count of boxes and days" };
            let all = count.checked_mul(times.map_or(Decimal::ONE, |times| times.count));
            let count = all.ok_or(too_large(overflow))?;
            let unit = times.map_or_else(|| row.per.word(), |times| times.unit);
            let exact = Exact::from(*each).times(count);
            Ok((exact.clone(), How::Counted { each: *each, count, unit, exact }))
        }
        (Rate::Tiers(tiers), Quantity::Gross(gross)) if tiers.by == TierBy::Gross => {
            let none = Overflow { what: "a mass beyond all tiers" };
            let tier = tiers.holding(gross).ok_or(too_large(none))?;
            Ok((Exact::from(tier.amount), How::ByGross { gross, window: tier.window.clone() }))
        }
        (Rate::Tiers(tiers), Quantity::Count(count)) if tiers.by != TierBy::Gross => {
            by_count(row, tiers, count, times).map_err(too_large)
        }
        (Rate::Interest(rate, runs), Quantity::Paid(flows)) => {
            let (rate, runs, until) = (*rate, *runs, terms.days.of(runs.until));
            let exact = flows.iter().try_fold(Exact::zero(terms.book), |sum, (day, amount)| {
                sum.plus(&interest_on(*amount, *day, until, rate, runs))
            });
            let exact = exact.map_err(too_large)?;
            Ok((exact.clone(), How::Interest { rate, terms: runs, exact }))
        }
        (Rate::Percent(rate, of), Quantity::Of(base)) => {
            let part = base.percent(*rate);
            let part = times.map_or(part.clone(), |times| part.times(times.count));
            let exact = shared_bond(row, of, part, terms)?;
            Ok((exact.clone(), How::Part { rate: *rate, times, exact }))
        }
        (Rate::Premium { rate, insured }, Quantity::Of(base)) => {
            let part = premium(*rate, *insured, base).ok_or(Box::new(Reason::AllPremium(row)))?;
            let exact = times.map_or(part.clone(), |times| part.times(times.count));
            Ok((exact.clone(), How::Part { rate: *rate, times, exact }))
        }
        (Rate::Each { amount, each, of, begun }, Quantity::Of(base)) => {
            let (amount, each, begun) = (*amount, *each, *begun);
            let base_in = base.currency();
            let exact = for_each(amount, each, base, begun).ok_or(Box::new(Reason::OtherEach {
                row,
                each,
                base: base_in,
            }))?;
            let exact = times.map_or(exact.clone(), |times| exact.times(times.count));
            let exact = shared_bond(row, of, exact, terms)?;
            Ok((exact, How::ForEach { amount, each, begun }))
        }
        _ => Err(Box::new(Reason::OtherQuantity(row))),
    }
}

/// A price in tiers by days, or by the lines of an entry.
fn by_count(
    row: &ChargeRow,
    tiers: &Tiers,
    count: Decimal,
    times: Option<Times>,
) -> Result<(Exact, How), Overflow> {
    let (count, unit) = match times {
        Some(times) => (times.count, times.unit),
        None => (count, row.per.word()),
    };
    let (exact, steps) = by_tiers(tiers, count)?;
    Ok((exact, How::Tiered { steps, unit }))
}

/// An entry's part of what the continuous bond costs; anything else is its own.
fn shared_bond<'a>(
    row: &'a ChargeRow,
    of: &WhatOf,
    exact: Exact,
    terms: &Terms<'a>,
) -> Result<Exact, Why<'a>> {
    if *of != WhatOf::ContinuousBond {
        return Ok(exact);
    }
    Ok(exact.weighed(1, u128::from(terms.bond(&row.rate.place)?.entries)))
}

/// The insured value, which contains its own premium: with `p = rate x insured`, cost, insurance and
/// freight are `base / (1 - p)`, and the share `insured` of that is insured.
pub fn insured_value(rate: Percent, insured: Percent, base: &Exact) -> Option<Exact> {
    Some(base.grossed_up(rate.of(insured).ok()?)?.percent(insured))
}

/// The premium on an insured value that contains it.
pub fn premium(rate: Percent, insured: Percent, base: &Exact) -> Option<Exact> {
    Some(insured_value(rate, insured, base)?.percent(rate))
}

/// The floor or cap of a row that takes the place of a figure. What comes to nothing has no floor.
///
/// # Errors
/// Where it is in another currency.
pub fn bound_on<'a>(row: &'a ChargeRow, exact: &Exact) -> Result<Option<(Money, Bound)>, Why<'a>> {
    let bounds =
        [(row.minimum, Ordering::Less, Bound::Floor), (row.maximum, Ordering::Greater, Bound::Cap)];
    for (amount, replaces, bound) in bounds {
        let Some(amount) = amount else { continue };
        match exact.compare(amount) {
            Some(order) if order == replaces && !exact.is_zero() => {
                return Ok(Some((amount, bound)));
            }
            Some(_) => {}
            None => {
                let currency = exact.currency();
                return Err(Box::new(Reason::OtherBound { row, currency, bound: amount }));
            }
        }
    }
    Ok(None)
}

/// Applies a row's floor and cap, then rounds once.
fn bounded<'a>(row: &'a ChargeRow, exact: &Exact) -> Result<(Money, Option<Bound>), Why<'a>> {
    if let Some((amount, bound)) = bound_on(row, exact)? {
        return Ok((amount, Some(bound)));
    }
    match exact.round() {
        Ok(amount) => Ok((amount, None)),
        Err(overflow) => Err(Box::new(Reason::Overflow(overflow, &row.place))),
    }
}
