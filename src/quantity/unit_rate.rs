//! What one unit of something is charged at.

use std::fmt;

use rust_decimal::Decimal;

use super::number::{self, grouped};
use super::{Currency, Exact, Money, Overflow, Percent};

/// An amount of money for one unit. As a price it may be finer than the smallest coin: 10 % of 0.35 USD is
/// 0.035 USD. What it comes to for all units is rounded once (rule R1).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct UnitRate {
    amount: Decimal,
    currency: Currency,
}

impl UnitRate {
    /// The amount in major units.
    pub fn amount(self) -> Decimal {
        self.amount
    }

    /// The currency.
    pub fn currency(self) -> Currency {
        self.currency
    }

    /// Whether it is below nothing: a rebate.
    pub fn is_negative(self) -> bool {
        self.amount < Decimal::ZERO
    }

    /// A percentage of it, exact.
    ///
    /// # Errors
    /// Where the figure has more digits than can be held.
    pub fn percent(self, percent: Percent) -> Result<Self, Overflow> {
        let exact = number::product(self.amount, percent.fraction(), "a rate")?;
        let (mut amount, digits) = (exact.normalize(), self.currency.minor_digits());
        if amount.scale() < digits {
            amount.rescale(digits);
        }
        Ok(Self { amount, ..self })
    }
}

impl From<Money> for UnitRate {
    fn from(money: Money) -> Self {
        Self { amount: money.amount(), currency: money.currency() }
    }
}

impl From<UnitRate> for Exact {
    fn from(rate: UnitRate) -> Self {
        Self::new(rate.amount, rate.currency)
    }
}

impl fmt::Display for UnitRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", grouped(self.amount), self.currency)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Written;
    use super::*;

    #[test]
    fn a_percentage_of_a_rate_keeps_every_digit_and_no_fewer_than_its_coins() {
        let of = |rate: &str, percent: &str| {
            let rate = UnitRate::from(Money::read(rate).unwrap());
            rate.percent(Percent::read(percent).unwrap()).unwrap().to_string()
        };
        assert_eq!(of("0.35 USD", "110 %"), "0.385 USD");
        assert_eq!(of("0.35 USD", "10 %"), "0.035 USD");
        assert_eq!(of("2000 USD", "120 %"), "2,400.00 USD");
        assert_eq!(of("7 JPY", "50 %"), "3.5 JPY");
    }
}
