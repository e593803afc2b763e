//! Charges over slabs: the weights of every set and key, each worked out once.

use std::collections::BTreeMap;
use std::collections::BTreeSet;
use std::rc::Rc;

use super::charge::Charge;
use super::goods;
use super::sets::{SetId, Sets};
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Decimal, SpreadError, Weights};
use crate::trade::{Key, Shipment};

/// Sets up to this size are spread anew each time: a bundle's slabs are soon done, and there are
/// many bundles.
const SMALL: usize = 64;

/// Which weights a charge spreads by: those of a key, or those of a line's own amounts.
type WeightId = (SetId, Key, Option<usize>);

/// Spreads charges over the slabs of a shipment.
pub(super) struct Spreader<'a> {
    shipment: &'a Shipment,
    free: BTreeSet<usize>,
    /// The price of every slab in minor units of the book currency, once the goods are known.
    values: Vec<i64>,
    goods: Vec<Charge>,
    weights: BTreeMap<WeightId, Rc<Weights>>,
    shares: BTreeMap<(WeightId, i64), Rc<Vec<i64>>>,
}

impl<'a> Spreader<'a> {
    pub(super) fn new(shipment: &'a Shipment) -> Self {
        Self {
            shipment,
            free: goods::free_slabs(shipment),
            values: Vec::new(),
            goods: Vec::new(),
            weights: BTreeMap::new(),
            shares: BTreeMap::new(),
        }
    }

    /// Learns the goods that the key "value" goes by; the values are worked out when first needed.
    pub(super) fn learn_goods(&mut self, charges: &[Charge]) {
        self.goods = charges.iter().filter(|charge| charge.goods_of.is_some()).cloned().collect();
    }

    /// The price of every slab, from the charges of the lines.
    fn learn_values(&mut self, sets: &Sets, report: &mut Report) -> Option<()> {
        if !self.values.is_empty() {
            return Some(());
        }
        let mut values = vec![0; self.shipment.slabs.len()];
        for charge in std::mem::take(&mut self.goods) {
            let shares = self.book_shares(&charge, sets, report)?;
            for (slab, share) in sets.members(charge.scope.set).zip(shares.iter()) {
                if let Some(value) = values.get_mut(slab) {
                    *value += share;
                }
            }
        }
        self.values = values;
        Some(())
    }

    /// The price of a slab in minor units of the book currency.
    pub(super) fn value(&self, slab: usize) -> i64 {
        self.values.get(slab).copied().unwrap_or(0)
    }

    /// Whether a slab is given without charge.
    pub(super) fn is_free(&self, slab: usize) -> bool {
        self.free.contains(&slab)
    }

    /// The weights a charge spreads by.
    pub(super) fn weights(
        &mut self,
        charge: &Charge,
        sets: &Sets,
        report: &mut Report,
    ) -> Option<Rc<Weights>> {
        let id = (charge.scope.set, charge.key, charge.goods_of);
        if let Some(weights) = self.weights.get(&id).filter(|_| sets.len(id.0) > SMALL) {
            return Some(weights.clone());
        }
        if charge.key == Key::Value && charge.goods_of.is_none() {
            self.learn_values(sets, report)?;
        }
        match self.make(id, sets) {
            Ok(weights) => {
                let weights = Rc::new(weights);
                if sets.len(charge.scope.set) > SMALL {
                    self.weights.insert(id, weights.clone());
                }
                Some(weights)
            }
            Err(error) => {
                report.add(cannot_spread(charge, error));
                None
            }
        }
    }

    fn make(&self, (set, key, line): WeightId, sets: &Sets) -> Result<Weights, SpreadError> {
        if let Some(line) = line {
            return self.goods_weights(set, line, sets);
        }
        let slabs = sets.members(set).filter_map(|slab| self.shipment.slabs.get(slab));
        match key {
            Key::Area => Weights::of(slabs.map(|slab| slab.billed_area.base())),
            Key::Mass => Weights::of(slabs.map(|slab| slab.mass.base())),
            Key::Count => Weights::from_integers(vec![1; sets.len(set)]),
            Key::Value => {
                let values =
                    sets.members(set).map(|slab| self.values.get(slab).copied().unwrap_or(0));
                Weights::of(values.map(Decimal::from))
            }
        }
    }

    fn goods_weights(&self, set: SetId, line: usize, sets: &Sets) -> Result<Weights, SpreadError> {
        let line = self.shipment.lines.get(line).ok_or(SpreadError::NoWeight)?;
        let mut weights = Vec::with_capacity(sets.len(set));
        for position in sets.members(set) {
            let slab = self.shipment.slabs.get(position).ok_or(SpreadError::NoWeight)?;
            let is_free = !self.free.is_empty() && self.free.contains(&position);
            weights.push(if is_free { Decimal::ZERO } else { goods::weight(line, slab)? });
        }
        Weights::of(weights.into_iter())
    }

    /// A charge's shares of its book amount, in minor units, in the order of its slabs. Charges
    /// of one amount over one set by one key share one answer: a shipment of many like boxes has
    /// many of them.
    pub(super) fn book_shares(
        &mut self,
        charge: &Charge,
        sets: &Sets,
        report: &mut Report,
    ) -> Option<Rc<Vec<i64>>> {
        let amount = charge.book();
        let Ok(minor) = amount.minor() else {
            report.add(cannot_spread(charge, SpreadError::Overflow));
            return None;
        };
        let id = ((charge.scope.set, charge.key, charge.goods_of), minor);
        if let Some(shares) = self.shares.get(&id).filter(|_| sets.len(id.0.0) > SMALL) {
            return Some(shares.clone());
        }
        let weights = self.weights(charge, sets, report)?;
        match weights.divide(amount) {
            Ok(shares) => {
                let shares = Rc::new(shares);
                if sets.len(charge.scope.set) > SMALL {
                    self.shares.insert(id, shares.clone());
                }
                Some(shares)
            }
            Err(error) => {
                report.add(cannot_spread(charge, error));
                None
            }
        }
    }
}

fn cannot_spread(charge: &Charge, error: SpreadError) -> Fault {
    let why = match error {
        SpreadError::NoWeight => format!("its slabs have no {}", charge.key.word()),
        SpreadError::Negative(_) => format!("a slab's {} is negative", charge.key.word()),
        SpreadError::Overflow => "the figures are too large to divide exactly".to_owned(),
    };
    let message = format!(
        "\"{}\" cannot be spread over {} {}: {why}",
        charge.name,
        charge.scope.kind.word(),
        charge.scope.of
    );
    let fault = Fault::error(Code::NothingToSpread, message)
        .help("choose another key for it: in its row, or in a [[policy]] of the shipment");
    match charge.sources.first() {
        Some(place) => fault.at(place, "this charge"),
        None => fault,
    }
}
