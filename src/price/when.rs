//! When a charge is paid, and the day whose rate it is booked at.

use super::legs::event_of;
use super::terms::Terms;
use super::why::{Reason, Why};
use crate::fault::Place;
use crate::trade::{ChargeRow, Date, Dates, DueRule, Leg, Treatment};

/// When a charge is paid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Payable {
    /// On a day; and the day it comes back, where it does.
    On(Date, Option<Date>),
    /// As the plan of an invoice has it, by the invoice's position.
    ByPlan(usize),
    /// Never: it moves cost and no money, as what a hedge adds to the goods does.
    Never,
}

impl Payable {
    /// Whether the value of the goods, for customs and insurance, holds such a payment. Books change no
    /// value: what is expensed or recovered counts. A deposit that comes back does not, nor a charge
    /// that is only weighed or moves no money.
    pub fn is_valued(self, treatment: Treatment) -> bool {
        !matches!(self, Self::On(_, Some(_)) | Self::Never) && treatment != Treatment::Notional
    }
}

/// When a row's charge is paid, and when it comes back: as the row says, as the regime says of
/// duties and its own fees, and on the day of its leg otherwise.
///
/// # Errors
/// Where a calendar does not cover the days, or the regime has no one row.
pub fn payable<'a>(row: &'a ChargeRow, terms: &Terms<'a>) -> Result<Payable, Why<'a>> {
    let day = match &row.due {
        Some(rule) => day_of(rule, &terms.days, &row.place)?,
        None if row.leg == Leg::DutyAndTax => duty_due(terms, &row.place)?,
        None => terms.days.of(event_of(row.leg)),
    };
    let back = match &row.recovered {
        Some(rule) => Some(day_of(rule, &terms.days, &row.place)?),
        None => None,
    };
    Ok(Payable::On(day, back))
}

/// When the yard's regime has the duties of an entry paid; on the day of entry where it does not say.
///
/// # Errors
/// Where the regime has no one row, or a calendar does not cover the days.
pub fn duty_due<'a>(terms: &Terms<'a>, needed_at: &'a Place) -> Result<Date, Why<'a>> {
    let regime = terms.regime_on(terms.days.entered)?;
    match &regime.duty_due {
        Some(rule) => day_of(rule, &terms.days, needed_at),
        None => Ok(terms.days.entered),
    }
}

/// The day of a rule.
///
/// # Errors
/// Where its calendar does not cover the days.
pub fn day_of<'a>(rule: &'a DueRule, days: &Dates, needed_at: &'a Place) -> Result<Date, Why<'a>> {
    let calendar = rule.calendar.as_ref();
    rule.day(days).map_err(|day| Box::new(Reason::NotCovered { day, calendar, needed_at }))
}

/// The day a row's charge is booked on: that of its leg, or the day it is paid on where that comes
/// before.
pub fn booked_on(payable: &Payable, event: Date) -> Date {
    match payable {
        Payable::On(day, _) => event.min(*day),
        Payable::ByPlan(_) | Payable::Never => event,
    }
}
