//! What is moved to find a price: one line's, or those of all lines by one percentage, step by step.
//!
//! Decided on 2026-11-27. A line with several prices, by quantity or by quality, has no one price to move: all
//! of them move by one percentage, so that they keep their proportion.

use crate::quantity::{Decimal, Percent, Price, PricedBy};
use crate::trade::{Line, Shipment};

/// What is moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lever {
    /// The price of one line, by position.
    Line(usize),
    /// The prices of all lines, by one percentage.
    All,
}

/// The size of a step, where the user states one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A price: prices are its multiples.
    Price(Price),
    /// A percentage of the quoted prices.
    Percent(Percent),
}

/// The prices that are tried: from half the quoted price to twice it (a choice of ours).
#[derive(Debug, Clone)]
pub struct Grid {
    /// What is moved.
    pub lever: Lever,
    /// Whether what moves is a percentage of what is quoted: of all lines, or of a line's several prices.
    pub by_percent: bool,
    /// One step: in the unit of the price, or in percent of the quoted prices.
    pub step: Decimal,
    /// The lines that move, by position, each at its quoted price.
    pub quoted: Vec<(usize, Price)>,
    /// The first step, at half of what is quoted or just above.
    pub first: i64,
    /// The last step, at twice what is quoted or just below.
    pub last: i64,
    /// The step that the quoted price stands on; `None` where it stands between two.
    pub at_quoted: Option<i64>,
}

/// A price that moves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// The line, by position.
    pub line: usize,
    /// Which of its prices: "from 200 m2", or a quality; nothing for its first.
    pub of: String,
    /// As quoted.
    pub quoted: Price,
    /// As it is asked for.
    pub asked: Price,
}

/// Why a price cannot be looked for so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoGrid {
    /// The step is in another unit than the price.
    OtherUnit(Price),
    /// What moves is a percentage, and the step a price.
    IsPercent,
    /// What moves is a price, and the step a percentage.
    IsPrice,
    /// What is quoted is nothing.
    Nothing,
    /// The step is nothing, or so fine or so wide that no price is left or too many are.
    Width,
}

/// The step of a percentage where none is stated (a choice of ours): 0.1 %.
const USUAL_PERCENT: Decimal = Decimal::from_parts(1, 0, 0, false, 1);

/// More steps than are tried (a choice of ours).
const MOST_STEPS: i64 = 1_000_000;

impl Grid {
    /// The steps of a lever.
    ///
    /// # Errors
    /// Why there are none.
    pub fn of(shipment: &Shipment, lever: Lever, step: Option<Step>) -> Result<Self, NoGrid> {
        let lines = shipment.lines.iter().enumerate();
        let moved = lines.filter(|(at, _)| match lever {
            Lever::Line(line) => line == *at,
            Lever::All => true,
        });
        let moved: Vec<(usize, &Line)> = moved.collect();
        let has_several = |(_, line): &(usize, &Line)| line.prices_of_goods().nth(1).is_some();
        let by_percent = lever == Lever::All || moved.iter().any(has_several);
        let moved = moved.into_iter();
        let quoted: Vec<(usize, Price)> = moved.map(|(at, line)| (at, line.price.value)).collect();
        let (whole, step) = match (by_percent, &quoted[..], step) {
            (false, [(_, price)], None) => {
                // Blocks and tonnes are dealt for in whole units of money (common practice); cents would be
                // tens of thousands of prices.
                let is_coarse = matches!(price.by, PricedBy::M3 | PricedBy::Tonne);
                let scale = if is_coarse { 0 } else { price.amount.scale() };
                let step = Decimal::try_new(1, scale).map_err(|_| NoGrid::Width)?;
                (price.amount, step)
            }
            (false, [(_, price)], Some(Step::Price(step))) => {
                if (step.currency, step.by) != (price.currency, price.by) {
                    return Err(NoGrid::OtherUnit(*price));
                }
                (price.amount, step.amount)
            }
            (true, [_, ..], None) => (Decimal::ONE_HUNDRED, USUAL_PERCENT),
            (true, [_, ..], Some(Step::Percent(step))) => (Decimal::ONE_HUNDRED, step.hundredths()),
            (true, [_, ..], Some(_)) => return Err(NoGrid::IsPercent),
            (false, [_, ..], Some(_)) => return Err(NoGrid::IsPrice),
            _ => return Err(NoGrid::Nothing),
        };
        if quoted.iter().all(|(_, price)| price.amount.is_zero()) {
            return Err(NoGrid::Nothing);
        }
        if step <= Decimal::ZERO {
            return Err(NoGrid::Width);
        }
        let times = |amount: Decimal| amount.checked_div(step);
        let steps = |times: Option<Decimal>| times.and_then(|all| i64::try_from(all).ok());
        let half = whole.checked_div(Decimal::TWO);
        let first = steps(half.and_then(times).map(|all| all.ceil())).ok_or(NoGrid::Width)?;
        let twice = whole.checked_mul(Decimal::TWO);
        let last = steps(twice.and_then(times).map(|all| all.floor())).ok_or(NoGrid::Width)?;
        if last < first || last - first > MOST_STEPS {
            return Err(NoGrid::Width);
        }
        let at_quoted = times(whole).filter(|all| all.fract().is_zero());
        let at_quoted = steps(at_quoted);
        Ok(Self { lever, by_percent, step, quoted, first, last, at_quoted })
    }

    /// The prices at a step, by line; `None` where a figure cannot be held.
    pub fn at(&self, step: i64) -> Option<Vec<(usize, Price)>> {
        let amount = self.step.checked_mul(Decimal::from(step))?;
        let each = self.quoted.iter().map(|(line, price)| {
            let own = if self.by_percent {
                percent_of(price, Percent::new(amount))?
            } else {
                Price { amount, ..*price }
            };
            Some((*line, own))
        });
        each.collect()
    }

    /// The percentage of the quoted prices at a step, where it is one that moves them.
    pub fn percent(&self, step: i64) -> Option<Percent> {
        let hundredths = self.step.checked_mul(Decimal::from(step));
        self.by_percent.then_some(hundredths?).map(Percent::new)
    }

    /// The percentage of the quoted prices that they are themselves.
    pub fn percent_of_quoted(&self) -> Option<Percent> {
        self.by_percent.then_some(Percent::new(Decimal::ONE_HUNDRED))
    }

    /// Every price that moves, as quoted and at some prices of the lines: the first of a line, then those of its
    /// qualities and of its steps.
    pub fn moved(&self, shipment: &Shipment, prices: &[(usize, Price)]) -> Vec<Moved> {
        let priced = priced(shipment, prices);
        let lines = prices.iter().filter_map(|(at, _)| {
            let (quoted, asked) = (shipment.lines.get(*at)?, priced.lines.get(*at)?);
            let of = std::iter::once(String::new()).chain(quoted.of_other_prices());
            let both = quoted.prices_of_goods().zip(asked.prices_of_goods()).zip(of);
            Some(both.map(|((quoted, asked), of)| Moved {
                line: *at,
                of,
                quoted: quoted.value,
                asked: asked.value,
            }))
        });
        lines.flatten().collect()
    }
}

/// The shipment at other prices. What its supplier made out for the old ones is left out.
pub(super) fn priced(shipment: &Shipment, prices: &[(usize, Price)]) -> Shipment {
    let mut other = shipment.clone();
    put_prices(&mut other, prices);
    other
}

/// Puts other prices in a shipment.
pub(super) fn put_prices(shipment: &mut Shipment, prices: &[(usize, Price)]) {
    for (at, price) in prices {
        if let Some(line) = shipment.lines.get_mut(*at) {
            // By quantity or quality, its other prices move by the same percentage.
            line.set_price(*price);
        }
    }
    let moved: Vec<usize> = prices.iter().map(|(at, _)| *at).collect();
    shipment.leave_out_bills(&moved);
}

/// A percentage of a price, with no fewer places than it has; `None` where a figure cannot be held.
pub(super) fn percent_of(price: &Price, percent: Percent) -> Option<Price> {
    let exact = price.amount.checked_mul(percent.fraction())?;
    let mut amount = exact.normalize();
    if amount.scale() < price.amount.scale() {
        amount.rescale(price.amount.scale());
    }
    Some(Price { amount, ..*price })
}
