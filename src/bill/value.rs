//! What a customs value or the base of a percentage is made of.
//!
//! Decided on 2026-11-25. What a policy expenses is paid all the same. So it is insured, and counted in
//! "all" of its leg.

use smol_str::SmolStr;

use crate::fault::Place;
use crate::price::Conversion;
use crate::quantity::{Exact, Money, Overflow};
use crate::trade::Leg;

/// A part of a customs value: added, or taken out where it is negative.
#[derive(Debug, Clone, PartialEq)]
pub struct ValuePart {
    /// What it is.
    pub name: SmolStr,
    /// The leg it is about.
    pub leg: Leg,
    /// Its amount, unrounded, in the currency of its document.
    pub amount: Exact,
    /// The rate it is converted at, where it needs one.
    pub exchange: Option<Conversion>,
    /// Where it is stated.
    pub place: Place,
}

impl ValuePart {
    /// The amount in the currency of the entry, unrounded.
    ///
    /// # Errors
    ///
    /// If its rate is of another currency.
    pub fn converted(&self) -> Result<Exact, Overflow> {
        match &self.exchange {
            Some(conversion) => {
                let other = Overflow { what: "an amount at the rate of another currency" };
                self.amount.converted(&conversion.quote).ok_or(other)
            }
            None => Ok(self.amount.clone()),
        }
    }
}

/// What a percentage is of, and what that is made of where it has to be worked out first.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Base {
    /// The amount, unrounded but where a law rounds it.
    pub(crate) amount: Exact,
    pub(crate) made_of: Vec<ValuePart>,
}

impl From<Exact> for Base {
    fn from(amount: Exact) -> Self {
        Self { amount, made_of: Vec::new() }
    }
}

impl From<Money> for Base {
    fn from(amount: Money) -> Self {
        Exact::from(amount).into()
    }
}
