//! By what charges are shared: the weights of every set and key, each worked out once.
//!
//! Decided on 2026-11-26. The sums of all slabs are made once. They serve every choice of offers.

use std::collections::BTreeSet;
use std::sync::Arc;

use rustc_hash::FxHashMap;

use super::charge::{Charge, ChargedOn};
use super::own::{Worth, free_slabs};
use super::sets::{SetId, Sets};
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Exact, Money, Overflow, SpreadError, Weights};
use crate::trade::{Key, ScopeKind, Shipment, Slab};

/// Which weights a charge spreads by.
pub(crate) type WeightId = (SetId, Key, Own);

/// Whose own amounts, if any, a charge goes by instead of a key of all slabs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) enum Own {
    /// None: the key.
    No,
    /// What a line bills for each slab.
    Line(usize),
    /// What the invoices bill for each slab, in the currency they are in: an invoice's discount or
    /// commission goes by it, as the book's amounts would not be the invoice's.
    Invoiced,
    /// What it is charged on.
    Base(ChargedOn),
}

/// Knows by what each charge of a shipment is spread.
pub(crate) struct Spreader<'a> {
    shipment: &'a Shipment,
    free: BTreeSet<usize>,
    goods: Vec<Charge>,
    weights: FxHashMap<WeightId, Arc<Weights>>,
}

impl<'a> Spreader<'a> {
    pub(crate) fn new(shipment: &'a Shipment) -> Self {
        Self {
            shipment,
            free: free_slabs(shipment),
            goods: Vec::new(),
            weights: FxHashMap::default(),
        }
    }

    /// Learns the goods that the key "value" goes by; the values are worked out when first needed.
    pub(crate) fn learn_goods(&mut self, charges: &[Charge]) {
        self.goods = charges.iter().filter(|charge| charge.goods_of.is_some()).cloned().collect();
    }

    /// Whether a slab is given without charge.
    pub(crate) fn is_free(&self, slab: usize) -> bool {
        !self.free.is_empty() && self.free.contains(&slab)
    }

    /// The exact price of some slabs together, in the book currency or as it is invoiced; `None` where it has
    /// several currencies, or there are no goods.
    pub(crate) fn price_of(
        &self,
        slabs: impl Iterator<Item = usize> + Clone,
        is_invoiced: bool,
        sets: &Sets,
    ) -> Option<Exact> {
        let mut sum: Option<Exact> = None;
        for charge in &self.goods {
            let Own::Line(line) = weight_id(charge).2 else { continue };
            let positions = slabs.clone().filter_map(|slab| sets.position(charge.scope.set, slab));
            if positions.clone().next().is_none() {
                continue;
            }
            let amount = if is_invoiced { charge.amount() } else { charge.book() };
            let weights = self.of_line(charge.scope.set, line, sets).ok()?;
            let share = weights.share(&amount.into(), positions);
            sum = Some(match sum {
                Some(sum) => sum.plus(&share).ok()?,
                None => share,
            });
        }
        sum
    }

    /// The weights a charge spreads by, in the order of its slabs.
    pub(crate) fn weights(
        &mut self,
        charge: &Charge,
        sets: &Sets,
        report: &mut Report,
    ) -> Result<Arc<Weights>, Reported> {
        if let Some(own) = &charge.by {
            return Ok(own.clone());
        }
        let id = weight_id(charge);
        if let Some(weights) = self.weights.get(&id) {
            return Ok(weights.clone());
        }
        match self.made(id, sets) {
            Ok(weights) => {
                let weights = Arc::new(weights);
                self.weights.insert(id, weights.clone());
                Ok(weights)
            }
            Err(error) => Err(report.error(cannot_spread(charge, error))),
        }
    }

    /// The exact share of an amount that a charge, or a part of it, brings to some slabs of a set.
    pub(crate) fn share_in(
        &mut self,
        (charge, amount): (&Charge, &Exact),
        is_in: impl Fn(usize) -> bool,
        sets: &Sets,
        report: &mut Report,
    ) -> Result<Exact, Reported> {
        let weights = self.weights(charge, sets, report)?;
        let members = sets.members(charge.scope.set).enumerate();
        let positions = members.filter(|(_, slab)| is_in(*slab)).map(|(position, _)| position);
        Ok(weights.share(amount, positions))
    }

    fn made(&mut self, (set, key, own): WeightId, sets: &Sets) -> Result<Weights, SpreadError> {
        match own {
            Own::Line(line) => self.of_line(set, line, sets),
            // Its own goods alone: those of other invoices may be in other currencies.
            Own::Invoiced => {
                let is_own = |charge: &Charge| {
                    sets.members(charge.scope.set).any(|slab| sets.position(set, slab).is_some())
                };
                Ok(self.by_price(sets, is_own, Charge::amount)?.among(sets.members(set)))
            }
            Own::No | Own::Base(_) => self.of_key(set, key, sets),
        }
    }

    fn of_key(&mut self, set: SetId, key: Key, sets: &Sets) -> Result<Weights, SpreadError> {
        let all = (Sets::ALL, key, Own::No);
        if !self.weights.contains_key(&all) {
            let slabs = &self.shipment.slabs;
            let of_slabs = |figure: fn(&Slab) -> Decimal| Weights::of(slabs.iter().map(figure));
            let weights = match key {
                Key::Area => of_slabs(|slab| slab.billed_area.base())?,
                Key::Mass => of_slabs(|slab| slab.mass.base())?,
                Key::Count => Weights::equal(slabs.len()),
                // A charge that goes by what it is charged on brings its weights.
                Key::Base => return Err(SpreadError::NoWeight),
                Key::Value => self.by_price(sets, |_| true, Charge::book)?,
            };
            self.weights.insert(all, Arc::new(weights));
        }
        let all = self.weights.get(&all).ok_or(SpreadError::NoWeight)?;
        Ok(all.among(sets.members(set)))
    }

    fn of_line(&self, set: SetId, line: usize, sets: &Sets) -> Result<Weights, SpreadError> {
        let worth = self.worth(line).ok_or(SpreadError::NoWeight)??;
        let own = |position: &usize| !self.is_free(*position);
        let slab =
            |position: usize| Some(position).filter(own).and_then(|at| self.shipment.slabs.get(at));
        worth.weights(sets.members(set).map(slab))
    }

    /// What a line is sold at.
    pub(crate) fn worth(&self, line: usize) -> Option<Result<Worth<'a>, Overflow>> {
        let line = self.shipment.lines.get(line)?;
        Some(Worth::of(self.shipment, &self.free, line))
    }

    /// Weights of all slabs in proportion to what they come to in an amount of the lines' charges.
    fn by_price(
        &self,
        sets: &Sets,
        is_own: impl Fn(&Charge) -> bool,
        amount: impl Fn(&Charge) -> Money,
    ) -> Result<Weights, SpreadError> {
        let mut shared = Vec::new();
        let mut within = Vec::new();
        for charge in self.goods.iter().filter(|charge| is_own(charge)) {
            let Own::Line(line) = weight_id(charge).2 else { continue };
            let weights = self.of_line(charge.scope.set, line, sets)?;
            shared.push((Exact::from(amount(charge)), Arc::new(weights)));
            within.push(charge.scope.set);
        }
        if shared.is_empty() {
            return Err(SpreadError::NoWeight);
        }
        let places = |at: usize| sets.members(within.get(at).copied().unwrap_or(Sets::ALL));
        Weights::of_shares(self.shipment.slabs.len(), &shared, places)
    }
}

pub(crate) fn weight_id(charge: &Charge) -> WeightId {
    let by_invoice = charge.key == Key::Value && charge.scope.kind == ScopeKind::Invoice;
    let own = match charge.goods_of {
        Some(line) => Own::Line(line),
        None if by_invoice => Own::Invoiced,
        None if charge.key == Key::Base => Own::Base(charge.charged_on),
        None => Own::No,
    };
    (charge.scope.set, charge.key, own)
}

pub(crate) fn cannot_spread(charge: &Charge, error: SpreadError) -> Fault {
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
    Fault::error(Code::NothingToSpread, message)
        .help("choose another key for it: in its row, or in a [[policy]] of the shipment")
        .at(&charge.source, "this charge")
}
