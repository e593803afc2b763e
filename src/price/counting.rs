//! How often a row's unit is charged: days, hours, months; tiers; an amount for each so much.
//!
//! Decided on 2026-11-25. A row per container may have `days`, as a chassis is hired by the box and the day.
//! A row per day alone counts once for the shipment.

use super::terms::Terms;
use super::why::{Reason, Why};
use crate::quantity::{Decimal, Exact, Hours, Money, Overflow, Percent, UnitRate};
use crate::trade::{ChargeRow, Clock, Date, DayCount, Interest, Tiers};

/// Time that is charged, in its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Times {
    /// How much of it.
    pub count: Decimal,
    /// Its unit.
    pub unit: &'static str,
}

/// The time a row charges between events; `None` for a row that counts none.
///
/// # Errors
/// Where a calendar does not cover the days.
pub(super) fn times<'a>(row: &'a ChargeRow, terms: &Terms<'a>) -> Result<Option<Times>, Why<'a>> {
    let days = |(from, to)| (terms.days.of(from), terms.days.of(to));
    let (count, unit) = match &row.clock {
        None => return Ok(None),
        Some(Clock::Hours { name, free, begun }) => {
            // Hours that the shipment does not state are hours that nobody expects.
            let stated = terms.hours.iter().find(|(stated, _)| stated.value == name.value);
            let beyond = stated.map_or(Hours::ZERO, |(_, hours)| hours.beyond(*free));
            let counted = if *begun { beyond.begun() } else { beyond };
            (counted.figure(), "hour")
        }
        Some(Clock::Months { between, each }) => {
            let (from, to) = days(*between);
            let unit = if *each == 1 { "month" } else { "quarter" };
            (Decimal::from(begun_months(from, to, *each)), unit)
        }
        Some(Clock::Days { between, free, count }) => {
            let (from, to) = days(*between);
            let (unit, calendar) = match count {
                DayCount::Calendar => ("day", None),
                DayCount::FreeWorking(calendar) => ("day", Some(calendar)),
                DayCount::Working(calendar) => ("working day", Some(calendar)),
            };
            let charged = count.charged(from, to, *free).map_err(|day| {
                Box::new(Reason::NotCovered { day, calendar, needed_at: &row.place })
            })?;
            (Decimal::from(charged), unit)
        }
    };
    Ok(Some(Times { count, unit }))
}

/// Spans of so many calendar months from one day to another, a part of one counted whole: a letter
/// of credit is paid for by the quarter or part (common practice).
fn begun_months(from: Date, to: Date, months: u32) -> i64 {
    let mut count = 0;
    let mut end = from;
    while end < to {
        count += 1;
        let passed = chrono::Months::new(months.saturating_mul(count));
        match from.checked_add_months(passed) {
            Some(next) => end = next,
            None => break,
        }
    }
    i64::from(count)
}

/// One tier's part of a tiered charge.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TierStep {
    /// How many days or lines fall into it.
    pub count: Decimal,
    /// Its price.
    pub each: UnitRate,
    /// Its window, as it is written.
    pub window: String,
}

/// Days or lines priced tier by tier.
///
/// # Errors
/// Where tiers are in several currencies, which reading refuses.
pub(super) fn by_tiers(tiers: &Tiers, count: Decimal) -> Result<(Exact, Vec<TierStep>), Overflow> {
    let none = Overflow { what: "a price in tiers" };
    let mut exact = Exact::zero(tiers.currency().ok_or(none)?);
    let mut steps = Vec::new();
    for (inside, tier) in tiers.split(count) {
        exact = exact.plus(&Exact::from(tier.amount).times(inside))?;
        steps.push(TierStep { count: inside, each: tier.amount, window: tier.window.clone() });
    }
    Ok((exact, steps))
}

/// How often `each` goes into a base, times an amount; a part counts whole where the row says so.
/// `None` where the two are in different currencies.
pub(super) fn for_each(amount: UnitRate, each: Money, base: &Exact, begun: bool) -> Option<Exact> {
    if each.currency() != base.currency() {
        return None;
    }
    if begun {
        return Some(Exact::from(amount).times(base.times_begun(each)?));
    }
    Some(Exact::from(amount).share(base, &Exact::from(each)))
}

/// The interest on one payment: amount x days x yearly rate / days of the year. Money bears interest
/// from the day it is paid, and none from the day it comes back.
pub fn interest_on(amount: Money, day: Date, until: Date, rate: Percent, terms: Interest) -> Exact {
    let days = u128::try_from((until - day).num_days()).unwrap_or(0);
    Exact::from(amount).percent(rate).weighed(days, u128::from(terms.days_in_year))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Written;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn money(text: &str) -> Money {
        Money::read(text).unwrap()
    }

    #[test]
    fn a_part_of_a_quarter_counts_whole() {
        let quarters = |to: &str| begun_months(day("2026-03-04"), day(to), 3);
        assert_eq!(quarters("2026-03-04"), 0);
        assert_eq!(quarters("2026-03-05"), 1);
        assert_eq!(quarters("2026-06-04"), 1);
        assert_eq!(quarters("2026-06-05"), 2);
        // Months have the length they have: from the last day of January, the last of February.
        assert_eq!(begun_months(day("2026-01-31"), day("2026-02-28"), 1), 1);
        assert_eq!(begun_months(day("2026-01-31"), day("2026-03-01"), 1), 2);
    }

    #[test]
    fn an_amount_for_each_thousand() {
        // A bond premium of 5 a thousand: of 63,412 it is 317.06, or 320 where a part of a thousand
        // counts whole (4 to 7 a thousand are common practice).
        let premium = |begun| {
            let base = Exact::from(money("63412 USD"));
            for_each(money("5 USD").into(), money("1000 USD"), &base, begun)
                .unwrap()
                .round()
                .unwrap()
        };
        assert_eq!(premium(false).to_string(), "317.06 USD");
        assert_eq!(premium(true).to_string(), "320.00 USD");
        let five = UnitRate::from(money("5 USD"));
        assert_eq!(for_each(five, money("1000 EUR"), &money("1 USD").into(), true), None);
    }
}
