//! A charge: one item of cost, how it was worked out, and where it goes.

use std::collections::BTreeMap;
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
    pub name: SmolStr,
    /// The leg it belongs to.
    pub leg: Leg,
    /// The key it spreads by.
    pub key: Key,
    /// Whether a row or a policy chose that key.
    pub is_keyed: bool,
    /// What it is charged on within what it was counted by. Customs values go by it where it lies on
    /// several lines of entries; books go by it where its key is "base", and do not change it.
    pub charged_on: ChargedOn,
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
    pub table: Option<(TableName, Option<SmolStr>)>,
    /// The row, or the item of an invoice, that it comes from.
    pub source: Place,
    /// Where the goods that a duty is on stand.
    pub goods_at: Option<Place>,
    /// When the rate it comes from is in force.
    pub valid: Option<Window>,
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
    pub booked: Arc<Booked>,
    /// Each slab's part of what it is charged on, where it goes by that.
    pub by: Option<Arc<Weights>>,
}

/// What a charge is on within what it was counted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ChargedOn {
    /// The goods at invoice price.
    Goods,
    /// What is insured.
    Insured,
    /// The customs value; an import tax goes by it as duties do.
    Entered,
    /// Any other price or value.
    Worth,
    /// Area.
    Area,
    /// Slabs, each alike.
    Count,
    /// Mass, and all that is charged by no measure of the goods.
    Mass,
}

impl ChargedOn {
    /// Whether it is a value of which every slab has a part of its own.
    pub fn is_of_slabs(self) -> bool {
        matches!(self, Self::Goods | Self::Insured | Self::Entered)
    }
}

impl ChargeKind {
    /// The rows and lines it comes from.
    pub fn sources(&self) -> impl Iterator<Item = &Place> {
        std::iter::once(&self.source).chain(&self.goods_at)
    }

    /// What is quoted in one place, as stock and by area: for all else that it may be, its maker says so.
    pub(crate) fn of(name: &str, leg: Leg, source: &Place, payable: Payable) -> Self {
        Self {
            name: name.into(),
            leg,
            key: Key::Area,
            is_keyed: false,
            charged_on: ChargedOn::Mass,
            treatment: Treatment::Stock,
            basis: Basis::Quoted,
            customs: Customs::Out,
            is_price: false,
            goods_of: None,
            table: None,
            source: source.clone(),
            goods_at: None,
            valid: None,
            policy: None,
            payable,
        }
    }
}

/// What a charge comes to as it is booked, and how.
#[derive(Debug, Clone)]
pub struct Booked {
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
    /// Whether goods are valued and insured with it.
    pub fn is_valued(&self) -> bool {
        self.payable.is_valued(self.treatment)
    }

    /// Its amount, in the currency it is charged in.
    pub fn amount(&self) -> Money {
        self.booked.amount
    }

    /// Its amount in the book currency.
    pub fn book(&self) -> Money {
        self.booked.book
    }

    /// The exchange between the two, where they differ.
    pub fn exchange(&self) -> Option<&Conversion> {
        self.booked.exchange.as_ref()
    }

    /// What of its book amount rests on a planning rate, part by part.
    pub fn planned(&self) -> Vec<Money> {
        if self.booked.parts.is_empty() {
            let planned = self.exchange().is_some_and(Conversion::is_planned);
            return if planned { vec![self.book()] } else { Vec::new() };
        }
        let planned = self.booked.parts.iter().filter(|part| part.exchange.is_planned());
        planned.map(|part| part.book).collect()
    }
}

impl Deref for Charge {
    type Target = ChargeKind;

    fn deref(&self) -> &ChargeKind {
        &self.kind
    }
}

/// Charges by position that are called alike and that the same slabs share by the same key, such as one for
/// each box: those that stand together, in the order of the first of each.
pub fn together(charges: &[Charge]) -> Vec<Vec<usize>> {
    let mut lists: Vec<Vec<usize>> = Vec::new();
    let mut known = BTreeMap::new();
    for (at, charge) in charges.iter().enumerate() {
        let alike = (&charge.name, charge.leg, &charge.kind.table, charge.treatment);
        let list = *known.entry((alike, charge.scope.set, charge.key)).or_insert(lists.len());
        match lists.get_mut(list) {
            Some(list) => list.push(at),
            None => lists.push(vec![at]),
        }
    }
    lists
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
