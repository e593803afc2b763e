//! How an amount came about: what `explain` tells of it.

use std::borrow::Cow;

use super::own::PricedPart;
use super::value::{Base, ValuePart};
use crate::price::{Bound, How, TierStep};
use crate::quantity::{Decimal, Decimals, Exact, Mass, Money, Percent, UnitRate};
use crate::trade::{Interest, SpecificRate};

/// How an amount came about, for `explain`.
#[derive(Debug, Clone, PartialEq)]
pub enum Working {
    /// A price times a quantity in the price's unit, free slabs left out; several, where the price has steps
    /// or extras.
    Priced {
        /// Each price with its quantity.
        parts: Vec<PricedPart>,
        /// The quantity of the goods.
        quantity: Decimal,
        /// The unrounded sum, to a millionth where it has no end.
        exact: Decimal,
    },
    /// An amount times a count.
    Counted {
        /// The amount per unit.
        each: UnitRate,
        /// The count.
        count: Decimal,
        /// The unit.
        unit: &'static str,
        /// The unrounded product.
        exact: Exact,
        /// The floor or cap that replaced the product.
        bound: Option<Bound>,
    },
    /// A percentage of an amount.
    Part {
        /// The percentage.
        rate: Percent,
        /// Of what.
        of: Cow<'static, str>,
        /// That amount.
        base: Money,
        /// What the base of an import tax is made of.
        made_of: Vec<ValuePart>,
        /// Days, months or quarters, for a percentage of each.
        times: Option<(Decimal, &'static str)>,
        /// The unrounded product.
        exact: Exact,
        /// The floor or cap that replaced the product.
        bound: Option<Bound>,
    },
    /// An amount for each unit of a quantity.
    Specific {
        /// The amount per unit.
        each: SpecificRate,
        /// The quantity.
        count: Decimal,
        /// The unrounded product.
        exact: Exact,
    },
    /// Days or lines, each at the price of its own tier.
    Tiered {
        /// The tiers that it falls into.
        steps: Vec<TierStep>,
        /// The unit.
        unit: &'static str,
        /// The floor or cap that replaced the sum.
        bound: Option<Bound>,
    },
    /// The price of the tier that a box's gross mass lies in.
    ByGross {
        /// The gross mass.
        gross: Mass,
        /// The tier's window, as it is written.
        window: String,
        /// The floor or cap that replaced it.
        bound: Option<Bound>,
    },
    /// An amount for each so much of something.
    ForEach {
        /// The amount.
        amount: UnitRate,
        /// For each of this.
        each: Money,
        /// Of what.
        of: Cow<'static, str>,
        /// That amount.
        base: Money,
        /// Whether a part counts as a whole one.
        begun: bool,
        /// The floor or cap that replaced the product.
        bound: Option<Bound>,
    },
    /// Interest on what was paid, from the day of each payment.
    Interest {
        /// The yearly rate.
        rate: Percent,
        /// What was paid.
        base: Money,
        /// The unrounded interest.
        exact: Exact,
        /// What the interest runs on.
        terms: Interest,
        /// The floor or cap that replaced it.
        bound: Option<Bound>,
    },
    /// An amount that the invoice states.
    Stated,
}

impl Working {
    /// Places to which a figure before it is rounded is shown.
    pub const PLACES: Decimals = 6;

    /// Whether a floor or cap replaced the product.
    pub fn is_bounded(&self) -> bool {
        matches!(self, Self::Counted { bound: Some(_), .. } | Self::Part { bound: Some(_), .. })
    }

    /// What it is a percentage of, and the percentage.
    pub fn part(&self) -> Option<(Percent, Money)> {
        match self {
            Self::Part { rate, base, .. } | Self::Interest { rate, base, .. } => {
                Some((*rate, *base))
            }
            _ => None,
        }
    }

    /// How a row's amount came about, with what it is of in words and figures.
    pub(crate) fn of(
        how: How,
        bound: Option<Bound>,
        (of, on): (Cow<'static, str>, Option<Base>),
    ) -> Self {
        let zero = |exact: &Exact| Money::zero(exact.currency());
        let (base, made_of) = match on {
            Some(Base { amount, made_of }) => (amount.round().ok(), made_of),
            None => (None, Vec::new()),
        };
        match how {
            How::Counted { each, count, unit, exact } => {
                Self::Counted { each, count, unit, exact, bound }
            }
            How::Tiered { steps, unit } => Self::Tiered { steps, unit, bound },
            How::ByGross { gross, window } => Self::ByGross { gross, window, bound },
            How::Part { rate, times, exact } => {
                let base = base.unwrap_or(zero(&exact));
                let times = times.map(|times| (times.count, times.unit));
                Self::Part { rate, of, base, made_of, times, exact, bound }
            }
            How::ForEach { amount, each, begun } => {
                let base = base.unwrap_or(Money::zero(each.currency()));
                Self::ForEach { amount, each, of, base, begun, bound }
            }
            How::Interest { rate, terms, exact } => {
                let base = base.unwrap_or(zero(&exact));
                Self::Interest { rate, base, exact, terms, bound }
            }
        }
    }
}
