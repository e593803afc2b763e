//! Amounts into the book currency, by use and date.

use super::job::Job;
use crate::bill::Conversion;
use crate::fault::{Code, Fault, Place, Report};
use crate::quantity::{Currency, Exact, Money};
use crate::trade::{Date, Dates, Event, ExchangeRow, ExchangeUse, Lookup, Regime, Tariffs};

/// The use of the exchange row for anything that is not a supplier's price.
pub(super) const SERVICES: ExchangeUse = ExchangeUse::Book;

/// What an amount is converted for.
pub(super) struct Target<'a> {
    /// The event that the amount falls on.
    pub(super) event: Event,
    /// The kind of rate it takes once the event is past.
    pub(super) used_for: ExchangeUse,
    /// The currency it goes into.
    pub(super) currency: Currency,
    /// What needs the rate, for the fault.
    pub(super) needed_at: &'a Place,
}

/// The exchange row for an event. An event after the day of the calculation takes the planning
/// row; an event on or before it needs an actual of the use asked for. A contract rate is known
/// beforehand and serves either way.
pub(super) fn row_for<'a>(
    tariffs: &'a Tariffs,
    dates: &Dates,
    from: Currency,
    target: &Target<'_>,
    report: &mut Report,
) -> Option<&'a ExchangeRow> {
    row_on(tariffs, dates, from, target, (dates.of(target.event), target.event.word()), report)
}

/// The certified rate of a day: the one of its month or quarter, unless the regime has the day's own
/// take its place and that one varies from it by the regime's share or more (19 CFR 159.34(b):
/// 5 %). The text seen does not say what the variation is a share of; it is read as the quarter's
/// rate, after 19 CFR 159.33, which divides the variation of a proclaimed rate by that rate. Without
/// a row for the day the rate of the quarter serves.
pub(super) fn certified<'a>(
    tariffs: &'a Tariffs,
    regime: &Regime,
    dates: &Dates,
    from: Currency,
    target: &Target<'_>,
    report: &mut Report,
) -> Option<&'a ExchangeRow> {
    let row = row_for(tariffs, dates, from, target, report)?;
    let on = dates.of(target.event);
    let Some(least) = regime.daily_rate_from.filter(|_| row.used_for == ExchangeUse::Customs)
    else {
        return Some(row);
    };
    match tariffs.exchange(ExchangeUse::CustomsDaily, from, target.currency, on) {
        Lookup::Found(daily) if daily.quote.varies_by(&row.quote, least) => Some(daily),
        _ => Some(row),
    }
}

/// The same for a day that is named otherwise: the day of a payment.
fn row_on<'a>(
    tariffs: &'a Tariffs,
    dates: &Dates,
    from: Currency,
    target: &Target<'_>,
    (on, named): (Date, &str),
    report: &mut Report,
) -> Option<&'a ExchangeRow> {
    let is_ahead = on > dates.quoted && target.used_for != ExchangeUse::Contract;
    let used_for = if is_ahead { ExchangeUse::Plan } else { target.used_for };
    let need = Need { used_for, from, to: target.currency, named, on };
    let (code, what, rows) = match tariffs.exchange(used_for, from, target.currency, on) {
        Lookup::Found(row) => return Some(row),
        Lookup::Several(rows) => (Code::AmbiguousRate, "two rows serve", rows),
        Lookup::Lapsed(rows) => (Code::LapsedRate, "no row is in force for", rows),
        Lookup::Missing => (Code::NoRate, "no row serves", Vec::new()),
    };
    let mut fault = need.fault(code, what).at(target.needed_at, "needed for this");
    for row in rows.iter().take(2) {
        fault = fault.also(&row.place, format!("in force {}", row.valid));
    }
    report.add(fault);
    None
}

/// A rate that is needed, for the fault that says it is not there.
struct Need<'a> {
    used_for: ExchangeUse,
    from: Currency,
    to: Currency,
    named: &'a str,
    on: Date,
}

impl Need<'_> {
    fn fault(&self, code: Code, what: &str) -> Fault {
        let Self { from, to, on, named, .. } = self;
        let used_for = self.used_for.word();
        let message = format!(
            "rates/exchange.toml: {what} {from} to {to}, use \"{used_for}\", on {on} ({named})"
        );
        Fault::error(code, message).help(format!(
            "add a row with use = \"{used_for}\", quote = \"1 {from} = ... {to}\" and a `valid` that holds {on}"
        ))
    }
}

/// Takes an amount into another currency, rounding once (rule R2); an amount already in it is
/// itself.
pub(super) fn convert(
    tariffs: &Tariffs,
    dates: &Dates,
    amount: Money,
    target: &Target<'_>,
    report: &mut Report,
) -> Option<(Money, Option<Conversion>)> {
    if amount.currency() == target.currency {
        return Some((amount, None));
    }
    let row = row_for(tariffs, dates, amount.currency(), target, report)?;
    let converted = Exact::from(amount).converted(&row.quote)?;
    match converted.round() {
        Ok(money) => Some((money, Some(conversion(row, dates.of(target.event))))),
        Err(overflow) => {
            let fault = Fault::error(Code::Overflow, overflow.to_string());
            report.add(fault.at(target.needed_at, "from this"));
            None
        }
    }
}

/// Takes a part of an amount into another currency at the rate of a day, rounding once. The day is
/// that of the payment named.
pub(super) fn convert_on(
    job: &Job<'_>,
    part: &Exact,
    target: &Target<'_>,
    (on, payment): (Date, &str),
    report: &mut Report,
) -> Option<(Money, Conversion)> {
    let dates = &job.shipment.dates;
    let is_own = on != dates.of(target.event) && !payment.is_empty();
    let named = if is_own { payment } else { target.event.word() };
    let row = row_on(job.tariffs, dates, part.currency(), target, (on, named), report)?;
    match part.converted(&row.quote)?.round() {
        Ok(money) => Some((money, conversion(row, on))),
        Err(overflow) => {
            let fault = Fault::error(Code::Overflow, overflow.to_string());
            report.add(fault.at(target.needed_at, "from this"));
            None
        }
    }
}

/// What `explain` keeps of a row.
pub(super) fn conversion(row: &ExchangeRow, on: Date) -> Conversion {
    Conversion {
        quote: row.quote.value,
        used_for: row.used_for,
        on,
        valid: row.valid,
        source: row.source.clone(),
        place: row.place.clone(),
    }
}
