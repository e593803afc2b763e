//! How an invoice is paid: deposits and balances, each on its day.

use super::calendar::{Date, Dates};
use super::tariffs::ExchangeUse;
use super::workday::{DueRule, NotCovered};
use crate::fault::{At, Place};
use crate::quantity::{Exact, Money, Overflow, Percent};

/// One payment of an invoice.
#[derive(Debug, Clone)]
pub struct Payment {
    /// What it is called, such as "deposit".
    pub name: String,
    /// How much of the invoice it is.
    pub part: At<PaymentPart>,
    /// When it is paid.
    pub day: PaymentDay,
    /// The kind of rate it is paid at, where not the invoice's.
    pub exchange: Option<ExchangeUse>,
    /// Whether it is to be paid back in money: until the goods are the importer's it is a claim, not
    /// an advance on goods (IAS 21, paragraph 16, from memory).
    pub repaid_in_money: bool,
    /// Its place.
    pub place: Place,
}

/// How much of an invoice a payment is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PaymentPart {
    /// A share of its total.
    Share(Percent),
    /// An amount.
    Amount(Money),
    /// What the other payments leave.
    Rest,
}

/// When a payment is made.
#[derive(Debug, Clone)]
pub enum PaymentDay {
    /// On a day.
    On(Date),
    /// So long after an event.
    After(DueRule),
}

impl PaymentDay {
    /// The day.
    ///
    /// # Errors
    /// Where its calendar does not cover one of the days.
    pub fn day(&self, dates: &Dates) -> Result<Date, NotCovered> {
        match self {
            Self::On(day) => Ok(*day),
            Self::After(rule) => rule.day(dates),
        }
    }
}

/// What each payment comes to. The last one that is a share, or the one that is the rest, takes up
/// what rounding leaves, so that payments sum to the total; where amounts alone are stated and do
/// not, or those before the rest are more than the total, the sum is given instead.
///
/// # Errors
/// Where the figures cannot be held.
pub fn amounts(payments: &[Payment], total: Money) -> Result<Result<Vec<Money>, Money>, Overflow> {
    let mut all = Vec::with_capacity(payments.len());
    for payment in payments {
        all.push(match payment.part.value {
            PaymentPart::Share(share) => Exact::from(total).percent(share).round()?,
            PaymentPart::Amount(amount) => amount,
            PaymentPart::Rest => Money::zero(total.currency()),
        });
    }
    let sum = Money::total(total.currency(), all.iter().copied())?;
    let left = total.minus(sum)?;
    let part = |wanted: fn(&PaymentPart) -> bool| {
        payments.iter().rposition(|payment| wanted(&payment.part.value))
    };
    let rest = part(|part| *part == PaymentPart::Rest);
    let rounds = part(|part| matches!(part, PaymentPart::Share(_))).filter(|_| {
        // Half a minor unit for each share is what rounding can leave; more is a plan that is off.
        let most = u64::try_from(payments.len()).unwrap_or(u64::MAX);
        left.minor().is_ok_and(|left| left.unsigned_abs() <= most)
    });
    match rest.or(rounds).and_then(|at| all.get_mut(at)) {
        Some(_) if left.is_negative() && rest.is_some() => return Ok(Err(sum)),
        Some(taker) => *taker = taker.plus(left)?,
        None if left.is_zero() => {}
        None => return Ok(Err(sum)),
    }
    Ok(Ok(all))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;
    use crate::quantity::Written;

    fn payments(parts: &[&str]) -> Vec<Payment> {
        let place = Source::new("shipment.toml", String::new()).place(0..0);
        let one = |text: &&str| {
            let value = match *text {
                "rest" => PaymentPart::Rest,
                text if text.ends_with('%') => PaymentPart::Share(Percent::read(text).unwrap()),
                text => PaymentPart::Amount(Money::read(text).unwrap()),
            };
            Payment {
                name: (*text).to_owned(),
                part: At { value, place: place.clone() },
                day: PaymentDay::On("2026-04-01".parse().unwrap()),
                exchange: None,
                repaid_in_money: false,
                place: place.clone(),
            }
        };
        parts.iter().map(one).collect()
    }

    fn shown(parts: &[&str], total: &str) -> Result<Vec<String>, String> {
        let total = Money::read(total).unwrap();
        match amounts(&payments(parts), total).unwrap() {
            Ok(all) => Ok(all.iter().map(|one| one.amount().to_string()).collect()),
            Err(sum) => Err(sum.to_string()),
        }
    }

    #[test]
    fn payments_sum_to_the_total() {
        let ok = |list: &[&str]| Ok(list.iter().map(|one| (*one).to_owned()).collect());
        assert_eq!(shown(&["30 %", "70 %"], "50000 EUR"), ok(&["15000.00", "35000.00"]));
        // Both shares are 0.005 before they are rounded: the second takes what is left.
        assert_eq!(shown(&["50 %", "50 %"], "0.01 EUR"), ok(&["0.01", "0.00"]));
        assert_eq!(shown(&["1000 EUR", "rest"], "2500.10 EUR"), ok(&["1000.00", "1500.10"]));
        assert_eq!(shown(&["rest", "30 %"], "100 EUR"), ok(&["70.00", "30.00"]));
        assert_eq!(shown(&["1000 EUR", "1500 EUR"], "2500.10 EUR"), Err("2,500.00 EUR".to_owned()));
        // A deposit above the invoice leaves no rest to pay.
        assert_eq!(shown(&["3000 EUR", "rest"], "2500.10 EUR"), Err("3,000.00 EUR".to_owned()));
        assert_eq!(shown(&["30 %", "60 %"], "100 EUR"), Err("90.00 EUR".to_owned()));
    }
}
