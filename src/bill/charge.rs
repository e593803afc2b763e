//! A charge: one item of cost, how it was worked out, and where it goes.

use std::ops::Deref;
use std::sync::Arc;

use smol_str::SmolStr;

use super::object::On;
use super::sets::SetId;
use super::working::Working;
use crate::fault::Place;
use crate::price::{Conversion, Payable};
use crate::quantity::{Decimal, Exact, Money, Weights};
use crate::trade::{Basis, Key, Leg, ScopeKind, TableName, Treatment, Window};

/// What all charges of one row, or of one item of an invoice, have in common.
#[derive(Debug, Clone)]
pub struct ChargeKind {
    /// Its name, as a bill would have it.
    pub name: String,
    /// The leg it belongs to.
    pub leg: Leg,
    /// The key it spreads by.
    pub key: Key,
    /// What it is charged on within what it was counted by: value for what is charged on a price or a
    /// value, area and count for what is charged by them, mass for all else. Customs values go by it
    /// where it lies on several lines of entries; books do not change it.
    pub charged_by: Key,
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
    /// What it is charged on, where that is a value and its key is not chosen otherwise.
    pub charged_on: Option<ChargedOn>,
    /// The policy rule that changed it, with its reason.
    pub policy: Option<(Place, String)>,
    /// When it is paid.
    pub payable: Payable,
}

/// One item of cost. What it shares with others of its row is held once: a large shipment has
/// many charges of few rows.
#[derive(Debug, Clone)]
pub struct Charge {
    /// What it shares with the others of its row.
    pub kind: Arc<ChargeKind>,
    /// What it was counted by.
    pub on: On,
    /// Who shares it.
    pub scope: Scope,
    /// What it comes to.
    pub priced: Arc<Priced>,
    /// Each slab's part of what it is charged on, where it goes by that.
    pub by: Option<Arc<Weights>>,
}

/// What a charge is a percentage of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ChargedOn {
    /// The goods at invoice price.
    Goods,
    /// What is insured.
    Insured,
    /// The customs value; an import tax goes by it as duties do.
    Entered,
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
    /// The parts of it that have a rate of their own, where there are several: what was paid in
    /// advance, and the rest.
    pub parts: Vec<BookedPart>,
    /// How the amount came about.
    pub working: Working,
}

/// A part of an amount that is booked at a rate of its own.
#[derive(Debug, Clone)]
pub struct BookedPart {
    /// The payments it is made of, by position in the invoice's plan, each with its weight in it.
    pub payments: Vec<(usize, Decimal)>,
    /// What they are called, such as "deposit".
    pub name: String,
    /// The part, unrounded, in the currency the charge is in.
    pub amount: Exact,
    /// What it is booked at.
    pub book: Money,
    /// The exchange between the two.
    pub exchange: Conversion,
}

impl Charge {
    /// Whether goods are valued and insured with it. Books change no value: what is expensed or recovered
    /// is paid all the same. A deposit that comes back is not, nor what is only weighed or moves no money.
    pub fn is_cost(&self) -> bool {
        let is_paid = !matches!(self.payable, Payable::On(_, Some(_)) | Payable::Never);
        is_paid && self.treatment != Treatment::Notional
    }

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

    /// What of its book amount rests on a planning rate, part by part.
    pub fn planned(&self) -> Vec<Money> {
        if self.priced.parts.is_empty() {
            let planned = self.exchange().is_some_and(Conversion::is_planned);
            return if planned { vec![self.book()] } else { Vec::new() };
        }
        let planned = self.priced.parts.iter().filter(|part| part.exchange.is_planned());
        planned.map(|part| part.book).collect()
    }
}

impl Deref for Charge {
    type Target = ChargeKind;

    fn deref(&self) -> &ChargeKind {
        &self.kind
    }
}

/// Who shares a charge.
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
