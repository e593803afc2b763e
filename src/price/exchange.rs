//! Amounts into another currency, by use and date.
//!
//! Decided on 2026-11-25. A planning rate is chosen by the day of the event, not by the day of the
//! calculation. So a budget may hold a rate for each quarter.

use smol_str::SmolStr;

use super::terms::Terms;
use super::why::{Reason, Why, the_one};
use crate::fault::Place;
use crate::quantity::{Currency, Exact, Money, Quote};
use crate::trade::{Date, Event, ExchangeRow, ExchangeUse, Lookup, Regime, Window};

/// The use of the exchange row for anything that is not a supplier's price.
pub const SERVICES: ExchangeUse = ExchangeUse::Book;

/// An amount taken into another currency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conversion {
    /// The rate, as quoted.
    pub quote: Quote,
    /// What the row is for.
    pub used_for: ExchangeUse,
    /// Whether it is a figure to start with.
    pub is_starter: bool,
    /// The day it was looked up for.
    pub on: Date,
    /// When the row is in force.
    pub valid: Window,
    /// The row's source.
    pub source: SmolStr,
    /// The row.
    pub place: Place,
}

impl Conversion {
    /// What is kept of a row that serves on a day.
    pub fn by(row: &ExchangeRow, on: Date) -> Self {
        Self {
            quote: row.quote.value,
            used_for: row.used_for,
            is_starter: row.is_starter,
            on,
            valid: row.valid,
            source: row.source.clone(),
            place: row.place.clone(),
        }
    }

    /// Whether a planning rate stands in for a rate that is not known yet.
    pub fn is_planned(&self) -> bool {
        self.used_for == ExchangeUse::Plan
    }
}

/// What an amount is converted for.
#[derive(Debug, Clone, Copy)]
pub struct Target<'a> {
    /// The event that the amount falls on.
    pub event: Event,
    /// The kind of rate it takes once the event is past.
    pub used_for: ExchangeUse,
    /// The currency it goes into.
    pub currency: Currency,
    /// What needs the rate, for the fault.
    pub needed_at: &'a Place,
}

/// The exchange row for an event. An event after the day of the calculation takes the planning
/// row; an event on or before it needs an actual of the use asked for. A contract rate is known
/// beforehand and serves either way.
///
/// # Errors
/// Where no one row serves.
fn row_for<'a>(
    terms: &Terms<'a>,
    from: Currency,
    target: &Target<'a>,
) -> Result<&'a ExchangeRow, Why<'a>> {
    row_on(terms, from, target, (terms.days.of(target.event), target.event.word()))
}

/// The certified rate of a day, wherever one covers it: also for a day that is still to come, where all
/// else takes a planning rate. It is the one of its month or quarter, unless the regime has the day's
/// own take its place and that one varies from it by the regime's share or more (19 CFR 159.34(b):
/// 5 %). The text seen does not say what the variation is a share of; it is read as the quarter's
/// rate, after 19 CFR 159.33, which divides the variation of a proclaimed rate by that rate. Without
/// a row for the day the rate of the quarter serves, and for a currency without a quarter's the day's.
///
/// # Errors
/// Where no one row serves, or two do for the day.
pub fn certified<'a>(
    terms: &Terms<'a>,
    regime: &Regime,
    from: Currency,
    target: &Target<'a>,
) -> Result<&'a ExchangeRow, Why<'a>> {
    let on = terms.days.of(target.event);
    let look = |used_for| terms.tables.exchange(used_for, from, target.currency, on);
    let several =
        |used_for| the_row(terms, from, &Target { used_for, ..*target }, (on, target.event.word()));
    let daily = match regime.daily_rate_from.map(|least| (look(ExchangeUse::CustomsDaily), least)) {
        Some((Lookup::Several(_), _)) => return several(ExchangeUse::CustomsDaily),
        Some((Lookup::Found(row), least)) => Some((row, least)),
        Some((Lookup::Lapsed(_) | Lookup::Missing, _)) | None => None,
    };
    match (look(target.used_for), daily) {
        (Lookup::Several(_), _) => several(target.used_for),
        (Lookup::Found(row), Some((daily, least))) if daily.quote.varies_by(&row.quote, least) => {
            Ok(daily)
        }
        (Lookup::Found(row), _) => Ok(row),
        (Lookup::Lapsed(_) | Lookup::Missing, Some((daily, _))) => Ok(daily),
        (Lookup::Lapsed(_) | Lookup::Missing, None) => row_for(terms, from, target),
    }
}

/// An amount in the currency of the regime at its certified rate, unrounded: what it adds to a customs
/// value.
///
/// # Errors
/// Where no one row serves.
pub fn certified_in<'a>(
    terms: &Terms<'a>,
    regime: &Regime,
    amount: Money,
    needed_at: &'a Place,
) -> Result<Exact, Why<'a>> {
    let (exact, currency) = (Exact::from(amount), regime.currency);
    if amount.currency() == currency {
        return Ok(exact);
    }
    let (event, used_for) = (regime.exchange_on, ExchangeUse::Customs);
    let target = Target { event, used_for, currency, needed_at };
    let row = certified(terms, regime, amount.currency(), &target)?;
    Ok(exact.converted(&row.quote).unwrap_or_else(|| Exact::zero(currency)))
}

/// The same for a day that is named otherwise: the day of a payment.
///
/// # Errors
/// Where no one row serves.
pub fn row_on<'a>(
    terms: &Terms<'a>,
    from: Currency,
    target: &Target<'a>,
    (on, named): (Date, &str),
) -> Result<&'a ExchangeRow, Why<'a>> {
    let is_ahead = on > terms.days.quoted && target.used_for != ExchangeUse::Contract;
    let used_for = if is_ahead { ExchangeUse::Plan } else { target.used_for };
    the_row(terms, from, &Target { used_for, ..*target }, (on, named))
}

/// The one row of a use on a day.
fn the_row<'a>(
    terms: &Terms<'a>,
    from: Currency,
    target: &Target<'a>,
    (on, named): (Date, &str),
) -> Result<&'a ExchangeRow, Why<'a>> {
    let Target { used_for, currency, needed_at, .. } = *target;
    the_one(terms.tables.exchange(used_for, from, currency, on)).map_err(|found| {
        let (between, named) = ((from, currency), named.to_owned());
        Box::new(Reason::Exchange { used_for, between, on, named, needed_at, found })
    })
}

/// Takes an amount into another currency at the rate of its event, rounding once (rule R2); an amount
/// already in it is itself.
///
/// # Errors
/// Where no one row serves, or the result cannot be held.
pub fn convert<'a>(
    terms: &Terms<'a>,
    amount: Money,
    target: &Target<'a>,
) -> Result<(Money, Option<Conversion>), Why<'a>> {
    if amount.currency() == target.currency {
        return Ok((amount, None));
    }
    let on = terms.days.of(target.event);
    let (money, conversion) = convert_on(terms, &Exact::from(amount), target, (on, ""))?;
    Ok((money, Some(conversion)))
}

/// Takes a part of an amount into another currency at the rate of a day, rounding once. Where that is
/// not the day of the event, it is the day of the payment named.
///
/// # Errors
/// Where no one row serves, or the result cannot be held.
pub fn convert_on<'a>(
    terms: &Terms<'a>,
    part: &Exact,
    target: &Target<'a>,
    (on, payment): (Date, &str),
) -> Result<(Money, Conversion), Why<'a>> {
    let is_own = on != terms.days.of(target.event) && !payment.is_empty();
    let named = if is_own { payment } else { target.event.word() };
    let row = row_on(terms, part.currency(), target, (on, named))?;
    let overflow = |overflow| Box::new(Reason::Overflow(overflow, target.needed_at));
    // The row joins the two currencies, or it would not have been found.
    let converted = part.converted(&row.quote).unwrap_or_else(|| Exact::zero(target.currency));
    let money = converted.round().map_err(overflow)?;
    Ok((money, Conversion::by(row, on)))
}
