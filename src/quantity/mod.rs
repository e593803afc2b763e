//! The ground: exact numbers that know their unit.
//!
//! This is the only room where a bare decimal is at home. Everything above speaks of
//! [`Money`], [`Length`], [`Area`], [`Volume`], [`Mass`], [`Percent`], [`Price`] and [`Quote`].
//! No float is used anywhere; arithmetic is checked, and an overflow is an error with a name.

mod bounds;
mod exact;
mod fraction;
mod measure;
mod money;
mod number;
mod price;
mod spread;
mod time;
mod unit_rate;
mod weights;
mod wholes;

pub use bounds::{MOST_COUNT, MOST_ORDERED};
pub use exact::Exact;
pub(crate) use fraction::Fraction;
pub use fraction::ratio;
pub use measure::{
    Area, BlockSize, Density, Length, LineLoad, Mass, Rounding, Sides, Size, Units, Volume,
};
pub(crate) use measure::{read_sides, sides_pattern};
pub use money::{Currency, Money};
pub use number::{Decimals, count_of, grouped};
pub(crate) use number::{
    FIGURE, nearest_whole, parse as parse_decimal, pattern as figure_pattern, product, sum, total,
};
pub(crate) use price::bounded as bounded_price;
pub use price::{Ordered, Percent, Price, PricedBy, Quote, UnitCost};
pub use time::Hours;
pub use unit_rate::UnitRate;
pub use weights::{Cut, SpreadError, Weights, WrittenWeights};
pub use wholes::Wholes;

pub use rust_decimal::Decimal;

/// A figure that is too large or too fine to be held exactly.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Overflow {
    /// What was being computed, in words a user can place.
    pub what: &'static str,
}

impl std::fmt::Display for Overflow {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} is too large or too fine to be held exactly", self.what)
    }
}

impl std::error::Error for Overflow {}

/// Text that is not the quantity it should be: where it goes wrong, and what was expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Malformed {
    /// Byte offset into the text at which it stops making sense.
    pub offset: usize,
    /// What should stand there, with an example.
    pub expected: String,
    /// Whether it is a quantity, and only larger or finer than one can be.
    pub is_range: bool,
}

impl Malformed {
    pub(crate) fn new(offset: usize, expected: impl Into<String>) -> Self {
        Self { offset, expected: expected.into(), is_range: false }
    }

    /// A quantity that is larger or finer than one can be.
    pub(crate) fn out_of_range(expected: impl Into<String>) -> Self {
        Self { is_range: true, ..Self::new(0, expected) }
    }
}

impl std::fmt::Display for Malformed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "expected {}", self.expected)
    }
}

/// A quantity that has a written form: value and unit, as in `"20 mm"` or `"3.7 %"`.
pub trait Written: Sized {
    /// The quantity in words, with an example of its written form.
    const FORM: &'static str;

    /// Reads the written form.
    ///
    /// # Errors
    /// [`Malformed`] with the offset of the first character that does not fit.
    fn read(text: &str) -> Result<Self, Malformed>;

    /// The largest that can be read, in a system of units; `None` where it has none of its own.
    fn most(_units: Units) -> Option<String> {
        None
    }

    /// A regular expression that every written form matches, for editors: it says less than `read` does. `None`: none
    /// is known.
    fn pattern() -> Option<String> {
        None
    }

    /// Whether something of a text that reads is lost, as it is finer than can be measured.
    fn is_rounded(_text: &str) -> bool {
        false
    }
}
