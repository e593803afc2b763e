//! Rates of exchange that hardly are: upside down, or far from those before and after.

use std::collections::BTreeMap;

use crate::fault::{Code, Fault, Report};
use crate::quantity::{Decimal, Quote};
use crate::trade::{ExchangeRow, Tariffs};

const UPSIDE_DOWN: &str = "is it upside down?";

/// Asks about each rate that is far from both its neighbours in time, of any use.
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
            let near = match at {
                0 => [1, 2],
                last if last + 1 == rows.len() => [last - 1, last.saturating_sub(2)],
                _ => [at - 1, at + 1],
            };
            let near = near.into_iter().filter(|other| *other != at);
            let near: Vec<&&ExchangeRow> = near.filter_map(|other| rows.get(other)).collect();
            let Some(first) = near.first() else { continue };
            let all = |doubt: fn(&Quote, &Quote) -> bool| {
                near.iter().all(|other| doubt(&row.quote, &other.quote))
            };
            let label = if all(is_upside_down) {
                UPSIDE_DOWN
            } else if all(is_far) {
                "is the point right?"
            } else {
                continue;
            };
            let message =
                format!("{} is far from the rate beside it, {}", *row.quote, *first.quote);
            let (base, counter) = (row.quote.base(), row.quote.counter());
            let help = if label == UPSIDE_DOWN {
                format!("is \"1 {counter} = {} {base}\" meant?", row.quote.rate())
            } else {
                format!("write what 1 {base} is in {counter}")
            };
            report.add(
                Fault::warning(Code::OutOfRange, message)
                    .at(&row.quote.place, label)
                    .also(&first.quote.place, "the rate beside it")
                    .help(help),
            );
        }
    }
}

/// How many times one rate is another, as they stand and with one of them turned over. `None`: the
/// figures are too large.
fn times(one: &Quote, other: &Quote) -> Option<(Decimal, Decimal)> {
    let (quotient, product) =
        (one.rate().checked_div(other.rate())?, one.rate().checked_mul(other.rate())?);
    Some(if one.base() == other.base() { (quotient, product) } else { (product, quotient) })
}

/// Whether two figures are within so many hundredths of each other, by how many times one is the
/// other.
fn within(times: Decimal, hundredths: i64) -> bool {
    let (one, most) = (Decimal::ONE, Decimal::new(100 + hundredths, 2));
    times <= most && one.checked_div(times).is_some_and(|turned| turned <= most)
}

/// Whether a rate would be the other's if it were turned over, and is not as it stands (2 % and 5 %
/// are choices of ours).
fn is_upside_down(one: &Quote, other: &Quote) -> bool {
    times(one, other).is_some_and(|(as_is, turned)| !within(as_is, 5) && within(turned, 2))
}

/// Whether a rate is a quarter above or below the other (a choice of ours).
fn is_far(one: &Quote, other: &Quote) -> bool {
    times(one, other).is_none_or(|(as_is, _)| !within(as_is, 25))
}
