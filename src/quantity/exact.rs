//! Amounts before they are rounded: exact, whatever was multiplied or divided on the way.

use rust_decimal::Decimal;

use super::bounds;
use super::fraction::Fraction;
use super::number::{self, Decimals};
use super::{Currency, Money, Overflow, Percent, Price, Quote};

/// An unrounded amount in a currency, held as an exact fraction. A charge is computed as an
/// `Exact` and becomes [`Money`] in one step, [`Exact::round`] (rule R1): nothing in between is
/// ever rounded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exact {
    value: Fraction,
    currency: Currency,
}

impl Exact {
    /// Nothing, in a currency.
    pub fn zero(currency: Currency) -> Self {
        Self::new(Decimal::ZERO, currency)
    }

    /// An exact decimal amount.
    pub fn new(amount: Decimal, currency: Currency) -> Self {
        Self { value: Fraction::of(amount), currency }
    }

    /// The currency.
    pub fn currency(&self) -> Currency {
        self.currency
    }

    /// Whether the amount is nothing.
    pub fn is_zero(&self) -> bool {
        self.value.is_zero()
    }

    /// Whether the amount is below nothing.
    pub fn is_negative(&self) -> bool {
        self.value.is_negative()
    }

    /// The sum of two amounts of one currency.
    ///
    /// # Errors
    /// Where the currencies differ.
    pub fn plus(&self, other: &Self) -> Result<Self, Overflow> {
        if self.currency != other.currency {
            return Err(Overflow { what: "a sum over two currencies" });
        }
        Ok(Self { value: self.value.plus(&other.value), currency: self.currency })
    }

    /// The difference of two amounts of one currency.
    ///
    /// # Errors
    /// Where the currencies differ.
    pub fn minus(&self, other: &Self) -> Result<Self, Overflow> {
        self.plus(&Self { value: other.value.negated(), currency: other.currency })
    }

    /// The amount a number of times.
    #[must_use]
    pub fn times(&self, factor: Decimal) -> Self {
        Self { value: self.value.times(&Fraction::of(factor)), currency: self.currency }
    }

    /// A percentage of the amount.
    #[must_use]
    pub fn percent(&self, percent: Percent) -> Self {
        Self { value: self.value.times(&Fraction::of(percent.fraction())), currency: self.currency }
    }

    /// The share `part / whole` of the amount; nothing where the whole is nothing.
    #[must_use]
    pub fn share(&self, part: &Self, whole: &Self) -> Self {
        if whole.is_zero() {
            return Self::zero(self.currency);
        }
        Self { value: self.value.times(&part.value).over(&whole.value), currency: self.currency }
    }

    /// A part of the amount.
    #[must_use]
    pub(crate) fn part(&self, part: &Fraction) -> Self {
        Self { value: self.value.times(part), currency: self.currency }
    }

    /// The bare figure.
    pub(super) fn fraction(&self) -> &Fraction {
        &self.value
    }

    /// The share `part / whole` of the amount in exact integer weights; nothing of no weight.
    #[must_use]
    pub fn weighed(&self, part: u128, whole: u128) -> Self {
        if whole == 0 {
            return Self::zero(self.currency);
        }
        Self { value: self.value.times(&Fraction::ratio(part, whole)), currency: self.currency }
    }

    /// The same amount with the other sign.
    #[must_use]
    pub fn negated(&self) -> Self {
        Self { value: self.value.negated(), currency: self.currency }
    }

    /// Solves `x = self + rate * x` for `x`: an amount that contains a percentage of itself, such
    /// as an insured value that contains its own premium. `None` where the rate is 100 % or more.
    pub fn grossed_up(&self, rate: Percent) -> Option<Self> {
        let remainder = Fraction::of(Decimal::ONE).plus(&Fraction::of(rate.fraction()).negated());
        remainder
            .is_positive()
            .then(|| Self { value: self.value.over(&remainder), currency: self.currency })
    }

    /// The amount in the other currency of a quote, multiplied or divided as it was quoted and
    /// never inverted (rule R2). `None` where the quote is between other currencies.
    pub fn converted(&self, quote: &Quote) -> Option<Self> {
        let rate = Fraction::of(quote.rate());
        if self.currency == quote.base() {
            return Some(Self { value: self.value.times(&rate), currency: quote.counter() });
        }
        (self.currency == quote.counter())
            .then(|| Self { value: self.value.over(&rate), currency: quote.base() })
    }

    /// Rounds half away from zero to the minor unit of the currency (rule R1).
    ///
    /// # Errors
    /// Where the amount is too large to be held.
    pub fn round(&self) -> Result<Money, Overflow> {
        let digits = self.currency.minor_digits();
        self.charged(self.value.round(digits, "an amount of money")?)
    }

    /// An amount, unless it is larger than a charge may be.
    fn charged(&self, amount: Decimal) -> Result<Money, Overflow> {
        if !bounds::is_charge(amount, self.currency.minor_digits()) {
            return Err(Overflow { what: bounds::TOO_MUCH });
        }
        Ok(Money::rounded(amount, self.currency))
    }

    /// Rounds half away from zero to a multiple of `step`, as a customs law may ask (whole
    /// dollars in the US). A step of nothing rounds to the minor unit.
    ///
    /// # Errors
    /// Where the amount is too large to be held.
    pub fn round_to(&self, step: Money) -> Result<Money, Overflow> {
        if step.is_zero() {
            return self.round();
        }
        let steps = self.value.over(&Fraction::of(step.amount()));
        let count = steps.round(0, "an amount of money")?;
        self.charged(number::product(count, step.amount(), "an amount of money")?)
    }

    /// Rounds up to a multiple of `step`, as a bond's amount is set. A step of nothing rounds to the
    /// minor unit, half away from zero.
    ///
    /// # Errors
    /// Where the amount is too large to be held.
    pub fn round_up_to(&self, step: Money) -> Result<Money, Overflow> {
        if step.is_zero() {
            return self.round();
        }
        let steps = self.value.over(&Fraction::of(step.amount())).ceil();
        let count = steps.round(0, "an amount of money")?;
        self.charged(number::product(count, step.amount(), "an amount of money")?)
    }

    /// How many times an amount goes into this one, a part counted as a whole one. `None` for an
    /// amount of nothing, of another currency, or too often to be held.
    pub fn times_begun(&self, each: Money) -> Option<Decimal> {
        if self.currency != each.currency() || each.is_zero() {
            return None;
        }
        let times = self.value.over(&Fraction::of(each.amount())).ceil();
        times.round(0, "a count").ok()
    }

    /// The value to at most `places` places, half away from zero and at least to the minor unit,
    /// for showing how an amount came about.
    pub fn shown(&self, places: Decimals) -> String {
        let Some(mut value) = self.figure(places).map(|value| value.normalize()) else {
            return "too large".to_owned();
        };
        if value.scale() < self.currency.minor_digits() {
            value.rescale(self.currency.minor_digits());
        }
        number::grouped(value)
    }

    /// The bare figure to `places` places, half away from zero, for quotients that are shown and never
    /// summed; `None` where it cannot be held.
    pub fn figure(&self, places: Decimals) -> Option<Decimal> {
        self.value.round(places, "a quotient").ok()
    }

    /// The value to at most `places` places, half away from zero, for a figure that is shown.
    ///
    /// # Errors
    /// Where it is too large to be held.
    pub fn to_places(&self, places: Decimals) -> Result<Decimal, Overflow> {
        self.value.round(places, "a figure that is shown")
    }

    /// Compares with an amount of money of the same currency, exactly; `None` across currencies.
    pub fn compare(&self, other: Money) -> Option<std::cmp::Ordering> {
        (self.currency == other.currency()).then(|| self.value.cmp(&Fraction::of(other.amount())))
    }
}

impl Price {
    /// The unrounded value of a quantity in the price's unit.
    pub fn of(&self, quantity: Decimal) -> Exact {
        Exact::new(self.amount, self.currency).times(quantity)
    }
}

impl From<Money> for Exact {
    fn from(money: Money) -> Self {
        Self::new(money.amount(), money.currency())
    }
}

#[cfg(test)]
mod tests {
    use super::super::Written;
    use super::*;
    use proptest::prelude::*;

    fn exact(text: &str) -> Exact {
        Exact::from(Money::read(text).unwrap())
    }

    #[test]
    fn a_quote_is_used_in_the_direction_it_was_given() {
        // Customs broker licence examination, April 2005, question 54, keyed answer B (seen in a
        // secondary text): JOD 236,000 at "0.7777 JOD = 1 USD" is 303,459 whole dollars.
        let quote = Quote::read("1 USD = 0.7777 JOD").unwrap();
        let value = exact("236000 JOD").converted(&quote).unwrap();
        assert_eq!(
            value.round_to(Money::read("1 USD").unwrap()),
            Ok(Money::read("303459 USD").unwrap())
        );
        assert_eq!(value.shown(3), "303,458.917");
    }

    #[test]
    fn a_premium_inside_its_own_insured_value() {
        // C&F 100,000; insured for 110 % of CIF at 0.30 %: CIF 100,331.09, premium 331.09
        // (derived from the closed form; the 110 % is the UCP 600 art. 28(f)(ii) minimum).
        let rate = Percent::read("0.33 %").unwrap();
        let cif = exact("100000 USD").grossed_up(rate).unwrap();
        assert_eq!(cif.round().unwrap().to_string(), "100,331.09 USD");
        assert_eq!(cif.percent(rate).round().unwrap().to_string(), "331.09 USD");
        assert_eq!(exact("1 USD").grossed_up(Percent::read("100 %").unwrap()), None);
    }

    #[test]
    fn halves_round_away_from_zero() {
        let eighth = exact("10500 USD").percent(Percent::read("0.125 %").unwrap());
        assert_eq!(eighth.round().unwrap().to_string(), "13.13 USD");
        let minus = exact("-10500 USD").percent(Percent::read("0.125 %").unwrap());
        assert_eq!(minus.round().unwrap().to_string(), "-13.13 USD");
    }

    proptest! {
        #[test]
        fn there_and_back_is_exact(minor in any::<i32>(), rate in 1u32..9_999_999, scale in 0u32..7) {
            let usd = Currency::from_code("USD").unwrap();
            let eur = Currency::from_code("EUR").unwrap();
            let quote = Quote::new(eur, Decimal::new(i64::from(rate), scale), usd).unwrap();
            let start = Exact::from(Money::from_minor(i64::from(minor), usd));
            let back = start.converted(&quote).unwrap().converted(&quote).unwrap();
            prop_assert_eq!(back, start);
        }

        #[test]
        fn rounding_moves_by_at_most_half_a_minor_unit(mantissa in -100_000_000_000i64..100_000_000_000, scale in 0u32..10, code in 0usize..3) {
            let currency = Currency::from_code(["JPY", "USD", "KWD"][code]).unwrap();
            let value = Decimal::new(mantissa, scale);
            let rounded = Exact::new(value, currency).round().unwrap();
            let half = Decimal::new(5, currency.minor_digits() + 1);
            prop_assert!((rounded.amount() - value).abs() <= half);
        }
    }
}
