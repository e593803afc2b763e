//! A charge: one item of cost, how it was worked out, and where it goes.

use std::ops::Deref;
use std::sync::Arc;

use smol_str::SmolStr;

use super::sets::SetId;
use crate::fault::Place;
use crate::quantity::{Decimal, Money, Percent, Price, Quote};
use crate::trade::{
    Basis, Date, ExchangeUse, Key, Leg, ScopeKind, SpecificRate, TableName, Treatment, Window,
};

/// What all charges of one row, or of one item of an invoice, have in common.
#[derive(Debug, Clone)]
pub struct ChargeKind {
    /// Its name, as a bill would have it.
    pub name: String,
    /// The leg it belongs to.
    pub leg: Leg,
    /// The key it spreads by.
    pub key: Key,
    /// Where it goes.
    pub treatment: Treatment,
    /// How firm it is.
    pub basis: Basis,
    /// What it does to the customs value.
    pub customs: Customs,
    /// Whether it is part of the supplier's price: a line, a discount, a rounding line.
    pub is_price: bool,
    /// For goods: the line whose own amounts are the weights, by position.
    pub goods_of: Option<usize>,
    /// The table and offer it comes from, if it comes from a table.
    pub table: Option<(TableName, Option<String>)>,
    /// The rows and lines it comes from.
    pub sources: Vec<Place>,
    /// When the rate it comes from is in force.
    pub valid: Option<Window>,
    /// The policy rule that changed it, with its reason.
    pub policy: Option<(Place, String)>,
}

/// One item of cost. What it shares with others of its row is held once: a large shipment has
/// many charges of few rows.
#[derive(Debug, Clone)]
pub struct Charge {
    /// What it shares with the others of its row.
    pub kind: Arc<ChargeKind>,
    /// What it belongs to.
    pub scope: Scope,
    /// What it comes to.
    pub priced: Arc<Priced>,
}

/// What a charge comes to, and how.
#[derive(Debug, Clone)]
pub struct Priced {
    /// Its amount, in the currency it is charged in.
    pub amount: Money,
    /// Its amount in the book currency.
    pub book: Money,
    /// The exchange between the two, where they differ.
    pub exchange: Option<Conversion>,
    /// How the amount came about.
    pub working: Working,
}

impl Charge {
    /// Its amount, in the currency it is charged in.
    pub fn amount(&self) -> Money {
        self.priced.amount
    }

    /// Its amount in the book currency.
    pub fn book(&self) -> Money {
        self.priced.book
    }

    /// The exchange between the two, where they differ.
    pub fn exchange(&self) -> Option<&Conversion> {
        self.priced.exchange.as_ref()
    }
}

impl Deref for Charge {
    type Target = ChargeKind;

    fn deref(&self) -> &ChargeKind {
        &self.kind
    }
}

/// What a charge belongs to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scope {
    /// Of which kind.
    pub kind: ScopeKind,
    /// Which one: the name of the container, bundle, slab, line ...; of the shipment's kind, the
    /// shipment's.
    pub of: SmolStr,
    /// Its slabs.
    pub set: SetId,
}

/// What a charge does to the customs value.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Customs {
    /// Part of it.
    In,
    /// Not part of it.
    Out,
}

/// How an amount came about, for `explain`.
#[derive(Debug, Clone, PartialEq)]
pub enum Working {
    /// A price times a quantity in the price's unit, free slabs left out.
    Priced {
        /// The price.
        price: Price,
        /// The quantity.
        quantity: Decimal,
    },
    /// An amount times a count.
    Counted {
        /// The amount per unit.
        each: Money,
        /// The count.
        count: Decimal,
        /// The unit.
        unit: &'static str,
        /// The floor or cap that replaced the product.
        bound: Option<Bound>,
    },
    /// A percentage of an amount.
    Part {
        /// The percentage.
        rate: Percent,
        /// Of what.
        of: String,
        /// That amount.
        base: Money,
        /// Days, for a percentage per day.
        days: Option<Decimal>,
        /// The unrounded product, as text.
        exact: String,
        /// The floor or cap that replaced the product.
        bound: Option<Bound>,
    },
    /// An amount for each unit of a quantity.
    Specific {
        /// The amount per unit.
        each: SpecificRate,
        /// The quantity.
        count: Decimal,
        /// The unrounded product, as text.
        exact: String,
    },
    /// An amount that the invoice states.
    Stated,
}

impl Working {
    /// Whether a floor or cap replaced the product.
    pub fn is_bounded(&self) -> bool {
        matches!(self, Self::Counted { bound: Some(_), .. } | Self::Part { bound: Some(_), .. })
    }
}

/// What replaced a product that lay outside its row's bounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    /// The row's minimum.
    Floor,
    /// The row's maximum.
    Cap,
}

/// An amount taken into the book currency.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Conversion {
    /// The rate, as quoted.
    pub quote: Quote,
    /// What the row is for.
    pub used_for: ExchangeUse,
    /// The day it was looked up for.
    pub on: Date,
    /// When the row is in force.
    pub valid: Window,
    /// The row's source.
    pub source: String,
    /// The row.
    pub place: Place,
}

impl Conversion {
    /// Whether a planning rate stands in for a rate that is not known yet.
    pub fn is_planned(&self) -> bool {
        self.used_for == ExchangeUse::Plan
    }
}
