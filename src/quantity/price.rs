//! Percentages, prices per unit, unit costs and exchange quotes.

use std::fmt;

use rust_decimal::Decimal;

use super::bounds::{self, MOST_ORDERED};
use super::money::read_currency;
use super::number::{self, grouped};
use super::{Area, Currency, Malformed, Money, Overflow, Written, ratio};

/// A percentage, exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Percent(Decimal);

impl Percent {
    /// Nothing.
    pub const ZERO: Self = Self(Decimal::ZERO);

    /// A number of hundredths: 3.7 for 3.7 %.
    pub fn new(hundredths: Decimal) -> Self {
        Self(hundredths)
    }

    /// The number of hundredths: 3.7 of 3.7 %.
    pub fn hundredths(self) -> Decimal {
        self.0.normalize()
    }

    /// The percentage as a fraction of one: 0.037 for 3.7 %. Exact, as only the point moves.
    pub fn fraction(self) -> Decimal {
        self.0.checked_mul(Decimal::from_parts(1, 0, 0, false, 2)).unwrap_or(self.0)
    }

    /// The percentage of a percentage, such as a premium on 110 % of a value.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub fn of(self, other: Self) -> Result<Self, Overflow> {
        number::product(self.0, other.fraction(), "a percentage").map(Self)
    }

    /// What is left of a whole after this percentage is taken away.
    #[must_use]
    pub fn complement(self) -> Self {
        Self(Decimal::ONE_HUNDRED - self.0)
    }
}

impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.0.normalize())
    }
}

impl Written for Percent {
    const FORM: &'static str = "a percentage, such as \"3.7 %\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let (value, unit, unit_at) = number::split_number(text, Self::FORM)?;
        if unit != "%" {
            return Err(Malformed::new(unit_at, Self::FORM));
        }
        bounds::PERCENT.held(value).map(Self)
    }

    fn pattern() -> Option<String> {
        Some(number::pattern("%"))
    }
}

/// What a supplier's price is per.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PricedBy {
    /// Square metre of billed area.
    M2,
    /// Square foot of billed area.
    Ft2,
    /// Cubic metre of billed area times thickness.
    M3,
    /// Tonne of gross mass.
    Tonne,
    /// Slab.
    Slab,
    /// Bundle.
    Bundle,
    /// The whole line.
    Lot,
}

impl PricedBy {
    /// Every unit a price can have, with its written form.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::M2, "m2"),
        (Self::Ft2, "ft2"),
        (Self::M3, "m3"),
        (Self::Tonne, "t"),
        (Self::Slab, "slab"),
        (Self::Bundle, "bundle"),
        (Self::Lot, "lot"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(unit, _)| *unit == self).map_or("", |(_, word)| word)
    }

    /// Whether each slab has its own quantity of it.
    pub fn is_by_the_slab(self) -> bool {
        !matches!(self, Self::Bundle | Self::Lot)
    }
}

/// A quantity of goods as a supplier counts it: where a price changes, or the least that it sells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ordered {
    /// The figure.
    pub figure: Decimal,
    /// What is counted.
    pub by: PricedBy,
}

impl Ordered {
    /// So much of the same.
    #[must_use]
    pub fn of(self, figure: Decimal) -> Self {
        Self { figure, ..self }
    }
}

impl fmt::Display for Ordered {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let is_piece = matches!(self.by, PricedBy::Slab | PricedBy::Bundle);
        let ending = if is_piece && self.figure != Decimal::ONE { "s" } else { "" };
        write!(f, "{} {}{ending}", grouped(self.figure.normalize()), self.by.word())
    }
}

impl Written for Ordered {
    const FORM: &'static str =
        "a quantity above 0 in m2, ft2, m3, t, slabs or bundles, such as \"200 m2\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let (figure, unit, unit_at) = number::split_number(text, Self::FORM)?;
        let singular = match unit {
            "slabs" => "slab",
            "bundles" => "bundle",
            unit => unit,
        };
        let found =
            PricedBy::ALL.iter().find(|(by, word)| *word == singular && *by != PricedBy::Lot);
        let (by, _) = found.ok_or_else(|| Malformed::new(unit_at, Self::FORM))?;
        if figure <= Decimal::ZERO {
            return Err(Malformed::new(0, Self::FORM));
        }
        if figure > MOST_ORDERED {
            let most = format!("at most {} {unit}", grouped(MOST_ORDERED));
            return Err(Malformed::out_of_range(most));
        }
        Ok(Self { figure, by: *by })
    }

    fn pattern() -> Option<String> {
        Some(number::pattern("m2|ft2|m3|t|slabs?|bundles?"))
    }
}

/// A price per unit. Not rounded to a minor unit: stone is quoted to fractions of a cent.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Price {
    /// The figure.
    pub amount: Decimal,
    /// Its currency.
    pub currency: Currency,
    /// What it is per.
    pub by: PricedBy,
}

impl fmt::Display for Price {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}/{}", grouped(self.amount), self.currency, self.by.word())
    }
}

impl Written for Price {
    const FORM: &'static str = "a price with currency and unit (m2, ft2, m3, t, slab, bundle, lot), such as \"46.00 EUR/m2\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let (amount, unit, unit_at) = number::split_number(text, Self::FORM)?;
        let (code, per) =
            unit.split_once('/').ok_or_else(|| Malformed::new(unit_at, Self::FORM))?;
        let currency = read_currency(code.trim(), unit_at)?;
        let per_at = unit_at + code.len() + 1;
        let by = PricedBy::ALL
            .iter()
            .find(|(_, word)| *word == per.trim())
            .ok_or_else(|| Malformed::new(per_at, Self::FORM))?;
        if amount.is_sign_negative() {
            return Err(Malformed::new(0, "a price of 0 or more; write a reduction as `discount`"));
        }
        let amount = bounded(amount, currency)?;
        Ok(Self { amount, currency, by: by.0 })
    }

    fn pattern() -> Option<String> {
        let by: Vec<&str> = PricedBy::ALL.iter().map(|(_, word)| *word).collect();
        Some(number::pattern(&format!(r"[A-Z]{{3}}\s*/\s*({})", by.join("|"))))
    }
}

/// A price, or a rate for each of something.
///
/// # Errors
/// Where it is larger or finer than a file may give.
pub(crate) fn bounded(amount: Decimal, currency: Currency) -> Result<Decimal, Malformed> {
    bounds::price(amount, currency.minor_digits(), currency.code())
}

/// A cost per unit of area: a quotient, shown to four places and never summed (rule R5).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct UnitCost(Decimal);

impl UnitCost {
    /// Places of a unit cost.
    const PLACES: u32 = 4;

    /// The cost per square metre; `None` for no area.
    pub fn per_m2(cost: Money, area: Area) -> Option<Self> {
        ratio(cost.amount(), area.base(), Self::PLACES).map(Self)
    }

    /// The cost per square foot, from the exact foot; `None` for no area.
    pub fn per_ft2(cost: Money, area: Area) -> Option<Self> {
        let per_foot = Area::ft2(cost.amount()).ok()?;
        ratio(per_foot.base(), area.base(), Self::PLACES).map(Self)
    }

    /// The figure in major units of the currency.
    pub fn figure(self) -> Decimal {
        self.0
    }
}

impl fmt::Display for UnitCost {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&grouped(self.0))
    }
}

/// An exchange rate as it was quoted: one unit of the base currency in the counter currency.
/// Never inverted: an amount is multiplied or divided as the quote stands (rule R2).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quote {
    base: Currency,
    rate: Decimal,
    counter: Currency,
}

impl Quote {
    /// One `base` is `rate` `counter`; `None` unless the rate is above zero and the currencies
    /// differ.
    pub fn new(base: Currency, rate: Decimal, counter: Currency) -> Option<Self> {
        (rate > Decimal::ZERO && base != counter).then_some(Self { base, rate, counter })
    }

    /// The currency of which the quote prices one unit.
    pub fn base(&self) -> Currency {
        self.base
    }

    /// The price of that unit.
    pub fn rate(&self) -> Decimal {
        self.rate
    }

    /// The currency the price is in.
    pub fn counter(&self) -> Currency {
        self.counter
    }

    /// Whether this rate differs from another, quoted the same way about, by a share of the other or
    /// more. Quotes the other way about are not compared.
    pub fn varies_by(&self, other: &Self, share: Percent) -> bool {
        let apart = (self.rate - other.rate).abs();
        let most = other.rate.checked_mul(share.fraction());
        (self.base, self.counter) == (other.base, other.counter)
            && most.is_some_and(|most| apart >= most)
    }

    /// Whether the quote is between these two currencies, in either direction.
    pub fn joins(&self, one: Currency, other: Currency) -> bool {
        (self.base, self.counter) == (one, other) || (self.counter, self.base) == (one, other)
    }
}

impl fmt::Display for Quote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "1 {} = {} {}", self.base, self.rate, self.counter)
    }
}

impl Written for Quote {
    const FORM: &'static str = "an exchange quote, such as \"1 EUR = 1.0850 USD\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let (left, right) =
            text.split_once('=').ok_or_else(|| Malformed::new(text.len(), Self::FORM))?;
        let right_at = left.len() + 1;
        let (one, base, base_at) = number::split_number(left, Self::FORM)?;
        if one != Decimal::ONE {
            return Err(Malformed::new(
                0,
                format!("the left side to be one unit, as in {}", Self::FORM),
            ));
        }
        let (rate, counter, counter_at) = number::split_number(right, Self::FORM)
            .map_err(|fault| Malformed::new(right_at + fault.offset, fault.expected))?;
        let base = read_currency(base, base_at)?;
        let counter = read_currency(counter, right_at + counter_at)?;
        let quote = Self::new(base, rate, counter).ok_or_else(|| {
            Malformed::new(right_at, "a rate above zero between two different currencies")
        })?;
        bounds::QUOTE.held(rate).map(|_| quote)
    }

    fn pattern() -> Option<String> {
        Some(format!(r"^\s*1\s*[A-Z]{{3}}\s*=\s*{}\s*[A-Z]{{3}}\s*$", number::FIGURE))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_name_their_unit() {
        let price = Price::read("46.00 EUR/m2").unwrap();
        assert_eq!((price.by, price.to_string().as_str()), (PricedBy::M2, "46.00 EUR/m2"));
        assert_eq!(
            Price::read("9.875 USD/ft2").unwrap().of(Decimal::TEN).figure(3).unwrap(),
            Decimal::new(9875, 2)
        );
        assert_eq!(Price::read("46 EUR/yd2").unwrap_err().offset, 7);
        assert_eq!(Price::read("46 EURO/m2").unwrap_err().offset, 3);
        assert!(Price::read("46").is_err());
        assert!(Price::read("-1 EUR/m2").is_err());
    }

    #[test]
    fn quantities_that_are_ordered_name_their_unit() {
        for (text, shown) in [
            ("200 m2", "200 m2"),
            ("5 bundles", "5 bundles"),
            ("1 bundle", "1 bundle"),
            ("12.5 t", "12.5 t"),
        ] {
            assert_eq!(Ordered::read(text).unwrap().to_string(), shown);
        }
        for bad in ["200", "0 m2", "-5 m2", "1 lot", "5 boxes"] {
            assert!(Ordered::read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn quotes_keep_their_direction() {
        let quote = Quote::read("1 USD = 0.7777 JOD").unwrap();
        assert_eq!(quote.to_string(), "1 USD = 0.7777 JOD");
        for bad in ["1 USD = 0 JOD", "2 USD = 1 JOD", "1 USD = 1 USD", "1 USD 1 JOD", "USD = 1 JOD"]
        {
            assert!(Quote::read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_daily_rate_takes_the_place_of_the_quarter_s_at_five_percent() {
        // Derived from 19 CFR 159.34(b) (published nowhere): quarterly 1.1000, daily 1.1549 and
        // 1.1550, which is 5.00 % of the quarterly rate.
        let quote = |rate: &str| Quote::read(&format!("1 EUR = {rate} USD")).unwrap();
        let five = Percent::read("5 %").unwrap();
        for (daily, varies) in
            [("1.1549", false), ("1.1550", true), ("1.0451", false), ("1.0450", true)]
        {
            assert_eq!(quote(daily).varies_by(&quote("1.1000"), five), varies, "{daily}");
        }
    }

    #[test]
    fn unit_costs_are_quotients_to_four_places() {
        let cost = Money::read("412.37 USD").unwrap();
        let area = Area::read("5.4321 m2").unwrap();
        assert_eq!(UnitCost::per_m2(cost, area).unwrap().to_string(), "75.9136");
        assert_eq!(UnitCost::per_ft2(cost, area).unwrap().to_string(), "7.0526");
        assert_eq!(UnitCost::per_m2(cost, Area::ZERO), None);
    }
}
