//! How often a row's unit is charged: days, hours, months; tiers; an amount for each so much.

use crate::bill::TierStep;
use crate::fault::{Code, Fault, Place};
use crate::load::{FilledBox, Plan};
use crate::quantity::{Decimal, Exact, Hours, Mass, Money, Overflow};
use crate::trade::{
    ChargeRow, Date, Dates, DayCount, NotCovered, Per, Shipment, Tiers, WorkCalendar,
};

/// Time that is charged, in its unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Times {
    pub(super) count: Decimal,
    pub(super) unit: &'static str,
}

/// The time a row charges between events of these days; `None` for a row that counts none.
///
/// # Errors
/// The fault, where a calendar does not cover the days.
pub(super) fn times(
    row: &ChargeRow,
    shipment: &Shipment,
    dates: &Dates,
) -> Result<Option<Times>, Box<Fault>> {
    if let Some(hours) = &row.hours {
        // Hours that the shipment does not state are hours that nobody expects.
        let stated = shipment.hours.iter().find(|(name, _)| name.value == hours.value);
        let beyond = stated.map_or(Hours::ZERO, |(_, hours)| hours.beyond(row.free_hours));
        let counted = if row.begun { beyond.begun() } else { beyond };
        return Ok(Some(Times { count: counted.figure(), unit: "hour" }));
    }
    let Some((from, to)) = row.days else { return Ok(None) };
    let (from, to) = (dates.of(from), dates.of(to));
    let (count, unit) = match row.per {
        Some(Per::Month) => (begun_months(from, to, 1), "month"),
        Some(Per::Quarter) => (begun_months(from, to, 3), "quarter"),
        _ => {
            let charged = row.day_count.charged(from, to, row.free_days);
            let unit = match row.day_count {
                DayCount::Working(_) => "working day",
                DayCount::Calendar | DayCount::FreeWorking(_) => "day",
            };
            (charged.map_err(|day| Box::new(not_covered(day, calendar(row), &row.place)))?, unit)
        }
    };
    Ok(Some(Times { count: Decimal::from(count), unit }))
}

fn calendar(row: &ChargeRow) -> Option<&WorkCalendar> {
    match &row.day_count {
        DayCount::Calendar => None,
        DayCount::Working(calendar) | DayCount::FreeWorking(calendar) => Some(calendar),
    }
}

/// The fault for a day whose holidays nobody listed.
pub(super) fn not_covered(day: NotCovered, by: Option<&WorkCalendar>, needed_at: &Place) -> Fault {
    let name = by.map_or("", |calendar| &calendar.id);
    let message = format!("the calendar \"{name}\" does not cover {}", day.0);
    let fault = Fault::error(Code::LapsedRate, message)
        .at(needed_at, "working days are counted here")
        .help("list the holidays of that year in rates/calendars.toml, and let `valid` hold them");
    match by {
        Some(calendar) => fault.also(&calendar.place, format!("covers {}", calendar.valid)),
        None => fault,
    }
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
pub(super) fn for_each(amount: Money, each: Money, base: Money, begun: bool) -> Option<Exact> {
    if each.currency() != base.currency() {
        return None;
    }
    if begun {
        return Some(Exact::from(amount).times(Exact::from(base).times_begun(each)?));
    }
    Some(Exact::from(amount).share(&Exact::from(base), &Exact::from(each)))
}

/// The gross mass of a box that a surcharge goes by: bundles as limits count them, dunnage and
/// lashing, tare. What the loader takes for over a break is charged as over it.
///
/// # Errors
/// On overflow.
pub(super) fn gross(
    plan: &Plan,
    filled: &FilledBox,
    shipment: &Shipment,
) -> Result<Mass, Overflow> {
    let unknown = Overflow { what: "the gross mass of a container" };
    let container = &plan.variant(filled).ok_or(unknown)?.container;
    let bundles = filled.bundles.iter().filter_map(|at| shipment.bundles.get(*at));
    let bundles = Mass::total(bundles.map(|bundle| bundle.limit_mass))?;
    let dunnage = filled.dunnage.unwrap_or(container.securing);
    bundles.plus(dunnage)?.plus(filled.tare.unwrap_or(container.tare))
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
            let base = money("63412 USD");
            for_each(money("5 USD"), money("1000 USD"), base, begun).unwrap().round().unwrap()
        };
        assert_eq!(premium(false).to_string(), "317.06 USD");
        assert_eq!(premium(true).to_string(), "320.00 USD");
        assert_eq!(for_each(money("5 USD"), money("1000 EUR"), money("1 USD"), true), None);
    }
}
