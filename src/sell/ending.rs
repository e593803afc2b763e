//! A price rounded up to where the trade lets prices end.
//!
//! Decided on 2026-11-27. Prices go up to their ending, never down: so neither what is aimed at nor the least
//! margin is lost by rounding.

use std::cmp::Ordering;

use crate::quantity::{Decimal, Exact, Money, Overflow};
use crate::trade::Ending;

/// The least price at an ending that is not below an amount.
///
/// # Errors
/// Where it is too large to be held.
pub(super) fn up(amount: &Exact, ending: &Ending) -> Result<Money, Overflow> {
    let currency = amount.currency();
    match ending {
        Ending::Minor => amount.round_up_to(Money::from_minor(1, currency)),
        Ending::Step(step) => amount.round_up_to(*step),
        Ending::Endings(all) => {
            let Some(unit) = Money::exactly(Decimal::ONE, currency) else {
                return amount.round_up_to(Money::from_minor(1, currency));
            };
            // The unit that the amount has begun, and the next.
            let next = amount.round_up_to(unit)?;
            for whole in [next.minus(unit)?, next] {
                for ending in all {
                    let price = whole.plus(*ending)?;
                    if amount.compare(price).is_some_and(Ordering::is_le) && !price.is_negative() {
                        return Ok(price);
                    }
                }
            }
            next.plus(unit)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Written;

    fn exact(text: &str) -> Exact {
        Exact::from(Money::read(text).unwrap())
    }

    fn endings(all: &[&str]) -> Ending {
        Ending::Endings(all.iter().map(|one| Money::read(one).unwrap()).collect())
    }

    #[test]
    fn a_price_goes_up_to_its_ending() {
        let at = |amount: &str, ending: &Ending| up(&exact(amount), ending).unwrap().to_string();
        let trade = endings(&["0.49 USD", "0.95 USD"]);
        assert_eq!(at("12.20 USD", &trade), "12.49 USD");
        assert_eq!(at("12.49 USD", &trade), "12.49 USD");
        assert_eq!(at("12.50 USD", &trade), "12.95 USD");
        assert_eq!(at("12.96 USD", &trade), "13.49 USD");
        assert_eq!(at("12.00 USD", &endings(&["0.00 USD"])), "12.00 USD");
        assert_eq!(at("12.01 USD", &endings(&["0.00 USD"])), "13.00 USD");
        let step = Ending::Step(Money::read("0.25 USD").unwrap());
        assert_eq!(at("12.26 USD", &step), "12.50 USD");
        assert_eq!(at("12.25 USD", &step), "12.25 USD");
    }

    /// A third of a unit is rounded up to the cent, whatever its places.
    #[test]
    fn without_an_ending_it_goes_up_to_the_cent() {
        let third = exact("1.00 USD").weighed(1, 3);
        assert_eq!(up(&third, &Ending::Minor).unwrap().to_string(), "0.34 USD");
    }
}
