//! Money: an amount in a currency, always at that currency's minor unit.

use std::fmt;

use rust_decimal::Decimal;

use super::bounds;
use super::number::{self, Decimals};
use super::{Malformed, Overflow, Written};

/// An ISO 4217 currency that has a minor unit.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct Currency(iso_currency::Currency);

impl Currency {
    /// The currency with this three-letter code; `None` for unknown codes and for codes without
    /// a minor unit (gold, special drawing rights, the testing code).
    pub fn from_code(code: &str) -> Option<Self> {
        let currency = iso_currency::Currency::from_code(code)?;
        currency.exponent().map(|_| Self(currency))
    }

    /// The three-letter code.
    pub fn code(self) -> &'static str {
        self.0.code()
    }

    /// Digits of the minor unit (ISO 4217): 0 for JPY, 2 for USD, 3 for KWD.
    pub fn minor_digits(self) -> Decimals {
        self.0.exponent().map_or(2, Decimals::from)
    }
}

impl fmt::Debug for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

impl fmt::Display for Currency {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.code())
    }
}

/// An amount of money. The amount is always held at the minor unit of its currency: it has been
/// rounded, if it ever needed rounding, by the named place that made it ([`super::Exact::round`]).
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct Money {
    amount: Decimal,
    currency: Currency,
}

impl Money {
    /// Nothing, in a currency.
    pub fn zero(currency: Currency) -> Self {
        Self::from_minor(0, currency)
    }

    /// An amount of minor units (cents for USD, yen for JPY).
    pub fn from_minor(minor: i64, currency: Currency) -> Self {
        Self { amount: Decimal::new(minor, currency.minor_digits()), currency }
    }

    /// The amount with exactly this value, `None` where the currency has no unit that fine.
    pub fn exactly(amount: Decimal, currency: Currency) -> Option<Self> {
        let rounded = number::half_away(amount, currency.minor_digits());
        (rounded == amount).then_some(Self { amount: rounded, currency })
    }

    /// Rounds half away from zero to the minor unit (rule R1).
    pub(crate) fn rounded(amount: Decimal, currency: Currency) -> Self {
        Self { amount: number::half_away(amount, currency.minor_digits()), currency }
    }

    /// The currency.
    pub fn currency(self) -> Currency {
        self.currency
    }

    /// The amount in major units, at the minor unit's places.
    pub fn amount(self) -> Decimal {
        self.amount
    }

    /// As files have it: "1850.00 USD", without marks between thousands.
    pub fn written(self) -> String {
        format!("{} {}", self.amount, self.currency)
    }

    /// The amount in minor units.
    ///
    /// # Errors
    /// Beyond 2^63 minor units.
    pub fn minor(self) -> Result<i64, Overflow> {
        i64::try_from(self.amount.mantissa()).map_err(|_| Overflow { what: "an amount of money" })
    }

    /// Whether the amount is nothing.
    pub fn is_zero(self) -> bool {
        self.amount.is_zero()
    }

    /// Whether the amount is below nothing: a credit.
    pub fn is_negative(self) -> bool {
        self.amount.is_sign_negative() && !self.amount.is_zero()
    }

    /// The sum of two amounts of one currency.
    ///
    /// # Errors
    /// On overflow, and where the currencies differ: those are never added.
    pub fn plus(self, other: Self) -> Result<Self, Overflow> {
        if self.currency != other.currency {
            return Err(Overflow { what: "a sum over two currencies" });
        }
        let amount = number::sum(self.amount, other.amount, "a sum of money")?;
        Ok(Self { amount, currency: self.currency })
    }

    /// The difference of two amounts of one currency.
    ///
    /// # Errors
    /// As [`Money::plus`].
    pub fn minus(self, other: Self) -> Result<Self, Overflow> {
        self.plus(other.negated())
    }

    /// The same amount with the other sign.
    #[must_use]
    pub fn negated(self) -> Self {
        // Nothing stays nothing, without a sign.
        let amount = if self.is_zero() { self.amount } else { -self.amount };
        Self { amount, currency: self.currency }
    }

    /// The sum of amounts in `currency`.
    ///
    /// # Errors
    /// As [`Money::plus`].
    pub fn total(
        currency: Currency,
        amounts: impl IntoIterator<Item = Self>,
    ) -> Result<Self, Overflow> {
        amounts.into_iter().try_fold(Self::zero(currency), Self::plus)
    }
}

impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", number::grouped(self.amount), self.currency)
    }
}

impl Written for Money {
    const FORM: &'static str = "an amount with its currency, such as \"1850 USD\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let (amount, unit, unit_at) = number::split_number(text, Self::FORM)?;
        let currency = read_currency(unit, unit_at)?;
        bounds::money(amount, currency.minor_digits(), currency.code())?;
        Self::exactly(amount, currency).ok_or_else(|| {
            let digits = currency.minor_digits();
            Malformed::new(0, format!("at most {digits} decimals, as {currency} has no finer unit"))
        })
    }

    fn pattern() -> Option<String> {
        Some(number::pattern("[A-Z]{3}"))
    }
}

impl Written for Currency {
    const FORM: &'static str = "an ISO 4217 currency code, such as \"USD\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        read_currency(text, 0)
    }

    fn pattern() -> Option<String> {
        Some("^[A-Z]{3}$".to_owned())
    }
}

/// Reads a currency code at an offset of a longer text.
pub(super) fn read_currency(code: &str, offset: usize) -> Result<Currency, Malformed> {
    Currency::from_code(code)
        .ok_or_else(|| Malformed::new(offset, "an ISO 4217 currency code, such as USD or EUR"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn money(text: &str) -> Money {
        Money::read(text).unwrap()
    }

    #[test]
    fn minor_units_are_those_of_iso_4217() {
        // ISO 4217 list one, edition published 2024-06-25.
        for (digits, codes) in [
            (0, "JPY KRW VND CLP PYG ISK XAF XOF XPF RWF UGX BIF DJF GNF KMF VUV"),
            (
                2,
                "USD EUR GBP CNY INR BRL TRY EGP CAD AUD MXN ZAR NOK SEK CHF AED SAR PKR IRR HKD TWD IDR HUF MGA MRU",
            ),
            (3, "BHD KWD OMR JOD TND IQD LYD"),
            (4, "CLF UYW"),
        ] {
            for code in codes.split(' ') {
                assert_eq!(Currency::from_code(code).unwrap().minor_digits(), digits, "{code}");
            }
        }
        assert_eq!(Currency::from_code("XXX"), None);
        assert_eq!(Currency::from_code("usd"), None);
    }

    #[test]
    fn money_is_read_at_its_minor_unit() {
        assert_eq!(money("1850 USD").minor(), Ok(185_000));
        assert_eq!(money("1850 JPY").minor(), Ok(1_850));
        assert_eq!(money("1.250 KWD").minor(), Ok(1_250));
        assert_eq!(money("-0.37 EUR").to_string(), "-0.37 EUR");
        assert_eq!(money("1234567.5 USD").to_string(), "1,234,567.50 USD");
    }

    #[test]
    fn what_is_no_money_says_where() {
        assert_eq!(Money::read("1.005 USD").unwrap_err().offset, 0);
        assert_eq!(Money::read("1 usd").unwrap_err().offset, 2);
        assert_eq!(Money::read("1").unwrap_err().offset, 1);
        assert_eq!(Money::read("about 5 USD").unwrap_err().offset, 0);
    }

    #[test]
    fn two_currencies_never_add() {
        assert!(money("1 USD").plus(money("1 EUR")).is_err());
    }
}
