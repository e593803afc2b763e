//! Doubtful rates of exchange: upside down, or far from those before and after.

use std::collections::BTreeMap;

use crate::fault::{Code, Fault, Report};
use crate::quantity::{Currency, Decimal, Quote, nearest_whole};
use crate::trade::{ExchangeRow, Tariffs};

const UPSIDE_DOWN: &str = "is it upside down?";

/// So many rates before and after a rate are held against it.
const NEIGHBOURS: usize = 4;

/// Asks about each rate that is far from most of those nearest to it in time, of any use: what customs
/// certifies and what a bank sells differ by a few percent.
pub(super) fn doubt_exchange(tariffs: &Tariffs, report: &mut Report) {
    let mut pairs: BTreeMap<[&str; 2], Vec<&ExchangeRow>> = BTreeMap::new();
    for row in &tariffs.exchange {
        let mut pair = [row.quote.base().code(), row.quote.counter().code()];
        pair.sort_unstable();
        pairs.entry(pair).or_default().push(row);
    }
    for mut rows in pairs.into_values() {
        rows.sort_by_key(|row| row.valid.from);
        for (at, row) in rows.iter().enumerate() {
            // Of two rows that differ, the later one is asked about.
            if at == 0 && rows.len() == 2 {
                continue;
            }
            let days = |other: &ExchangeRow| (other.valid.from - row.valid.from).num_days().abs();
            let others = rows.iter().enumerate().filter(|(other, _)| *other != at);
            let mut near: Vec<&ExchangeRow> = others.map(|(_, other)| *other).collect();
            near.sort_by_key(|other| days(other));
            near.truncate(NEIGHBOURS);
            let most = |doubt: fn(&Quote, &Quote) -> bool| {
                let doubtful = near.iter().filter(|other| doubt(&row.quote, &other.quote));
                doubtful.count() * 2 > near.len()
            };
            let is_turned = most(is_upside_down);
            if !is_turned && !most(is_far) {
                continue;
            }
            let doubt = if is_turned { is_upside_down } else { is_far };
            let Some(first) = near.iter().find(|other| doubt(&row.quote, &other.quote)) else {
                continue;
            };
            let off = apart(&row.quote, &first.quote)
                .map_or_else(String::new, |percent| format!(", {percent} % apart"));
            let message =
                format!("{} is far from that of another row, {}{off}", *row.quote, *first.quote);
            let (base, counter) = (row.quote.base(), row.quote.counter());
            let (label, help) = if is_turned {
                let meant = format!("is \"1 {counter} = {} {base}\" meant?", row.quote.rate());
                (UPSIDE_DOWN, meant)
            } else {
                let is_shifted = |rate: &Decimal| {
                    let times = times_of(row.quote.base(), *rate, &first.quote);
                    times.is_some_and(|times| within(times, 25))
                };
                let shifts = [Decimal::new(1, 1), Decimal::TEN];
                let shifted = shifts.iter().filter_map(|by| row.quote.rate().checked_mul(*by));
                let help = match shifted.filter(is_shifted).map(|rate| rate.normalize()).next() {
                    Some(rate) => format!("is \"1 {base} = {rate} {counter}\" meant?"),
                    None => format!("write what 1 {base} is in {counter}"),
                };
                ("is the point right?", help)
            };
            report.add(
                Fault::warning(Code::OutOfRange, message)
                    .at(&row.quote.place, label)
                    .also(&first.quote.place, "that other row")
                    .help(help),
            );
        }
    }
}

/// By how many percent one rate is above the other, without a fraction.
fn apart(one: &Quote, other: &Quote) -> Option<i64> {
    let (as_is, _) = times(one, other)?;
    let above = as_is.max(Decimal::ONE.checked_div(as_is)?).checked_sub(Decimal::ONE)?;
    nearest_whole(above.checked_mul(Decimal::ONE_HUNDRED)?)
}

/// How many times one rate is another, as they stand and with one of them turned over. `None`: the
/// figures are too large.
fn times(one: &Quote, other: &Quote) -> Option<(Decimal, Decimal)> {
    let (quotient, product) =
        (one.rate().checked_div(other.rate())?, one.rate().checked_mul(other.rate())?);
    Some(if one.base() == other.base() { (quotient, product) } else { (product, quotient) })
}

/// How many times a rate of a currency is another.
fn times_of(base: Currency, rate: Decimal, other: &Quote) -> Option<Decimal> {
    if base == other.base() {
        rate.checked_div(other.rate())
    } else {
        rate.checked_mul(other.rate())
    }
}

/// Whether two figures are within so many hundredths of each other, by how many times one is the
/// other.
fn within(times: Decimal, hundredths: i64) -> bool {
    let (one, most) = (Decimal::ONE, Decimal::new(100 + hundredths, 2));
    times <= most && one.checked_div(times).is_some_and(|turned| turned <= most)
}

/// Whether a rate would be within 5 % of the other if it were turned over, and is not as it stands (a choice of
/// ours: customs takes a day's own rate from 5 % off the quarter's on, 19 CFR 159.34).
fn is_upside_down(one: &Quote, other: &Quote) -> bool {
    times(one, other).is_some_and(|(as_is, turned)| !within(as_is, 5) && within(turned, 5))
}

/// Whether a rate is a quarter above or below the other (a choice of ours).
fn is_far(one: &Quote, other: &Quote) -> bool {
    times(one, other).is_none_or(|(as_is, _)| !within(as_is, 25))
}
