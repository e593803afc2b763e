//! Where each cent of one slab came from.

use rustc_hash::FxHashMap;

use super::landed::Landed;
use crate::bill::{Charge, Spreader, WeightId, weight_id};
use crate::fault::tried;
use crate::quantity::{Area, Decimal, Exact, Mass, Money};
use crate::trade::{Key, Leg, ScopeKind, Shipment, Treatment};

/// A slab's charges, explained.
#[derive(Debug)]
pub struct Explanation {
    /// The slab, by position.
    pub slab: usize,
    /// Its charges.
    pub charges: Vec<ExplainedCharge>,
    /// What it costs, leg by leg.
    pub legs: Vec<(Leg, Money)>,
    /// What it costs.
    pub cost: Money,
}

/// One charge's way to one slab.
#[derive(Debug)]
pub struct ExplainedCharge {
    /// The charge, by position in [`Landed::charges`].
    pub charge: usize,
    /// The slab's part of the key, and the whole.
    pub key: KeyPart,
    /// The slab's share, in the book currency.
    pub share: Money,
    /// Whether one of its cents was left over after the exact shares were rounded down.
    pub leftover: bool,
}

/// A slab's part of what a charge is spread by, and the whole.
#[derive(Debug, Clone, Copy)]
pub enum KeyPart {
    /// Billed area.
    Area(Area, Area),
    /// Gross mass.
    Mass(Mass, Mass),
    /// Slabs.
    Count(usize),
    /// Price in the book currency.
    Value(Money, Money),
    /// What the supplier multiplies its price by.
    Quantity(Decimal, Decimal),
    /// The slab's part of what it is charged on, in percent to four places.
    Base(Decimal),
}

/// Explains one slab. `None`: it is not in the shipment, or the figures cannot be held.
pub fn explain(shipment: &Shipment, landed: &Landed, slab: usize) -> Option<Explanation> {
    shipment.slabs.get(slab)?;
    let mut spreader = Spreader::new(shipment);
    spreader.learn_goods(&landed.charges);
    let mut charges = Vec::new();
    // Many charges go by the same weights.
    let mut known: FxHashMap<WeightId, KeyPart> = FxHashMap::default();
    for (index, charge) in landed.charges.iter().enumerate() {
        let Some(position) = landed.sets.position(charge.scope.set, slab) else {
            continue;
        };
        let share = landed.shares.of_charge(index, position);
        // Whatever its key goes by is known from then on.
        tried(|report| spreader.weights(charge, &landed.sets, report))?;
        let id = weight_id(charge);
        let key = match known.get(&id).filter(|_| charge.by.is_none()) {
            Some(key) => *key,
            None => key_part(shipment, landed, &spreader, charge, slab)?,
        };
        known.insert(id, key);
        charges.push(ExplainedCharge {
            charge: index,
            key,
            share: Money::from_minor(share.minor, landed.currency),
            leftover: share.leftover > 0,
        });
    }
    charges.sort_by_key(|one| landed.charges.get(one.charge).map(|charge| charge.leg));
    let mut legs: Vec<(Leg, Money)> = Vec::new();
    for one in &charges {
        let Some(charge) = landed.charges.get(one.charge) else { continue };
        if charge.treatment != Treatment::Stock {
            continue;
        }
        match legs.last_mut() {
            Some((leg, sum)) if *leg == charge.leg => *sum = sum.plus(one.share).ok()?,
            _ => legs.push((charge.leg, one.share)),
        }
    }
    Some(Explanation { slab, charges, legs, cost: landed.slab_cost(slab) })
}

fn key_part(
    shipment: &Shipment,
    landed: &Landed,
    spreader: &Spreader<'_>,
    charge: &Charge,
    slab: usize,
) -> Option<KeyPart> {
    let set = charge.scope.set;
    // A slab given without charge has no part of its line's goods.
    let is_in = |at: &usize| charge.goods_of.is_none() || !spreader.is_free(*at);
    let members = || landed.sets.members(set).filter(is_in);
    let all = || members().filter_map(|at| shipment.slabs.get(at));
    let own = || shipment.slabs.get(slab).filter(|_| is_in(&slab));
    if let Some(line) = charge.goods_of {
        let worth = spreader.worth(line)?.ok()?;
        if worth.weighs_money() || worth.is_composite() {
            let weight = |at: usize| worth.weight(shipment.slabs.get(at)?).ok();
            let nothing = Exact::zero(charge.amount().currency());
            let own = if is_in(&slab) { weight(slab)? } else { nothing.clone() };
            let whole = members().try_fold(nothing, |sum, at| sum.plus(&weight(at)?).ok())?;
            return Some(KeyPart::Value(own.round().ok()?, whole.round().ok()?));
        }
        if charge.key == Key::Value {
            let quantity = |at: usize| worth.quantity(shipment.slabs.get(at)?).ok();
            let own = if is_in(&slab) { quantity(slab)? } else { Decimal::ZERO };
            let mut all = members();
            let whole = all.try_fold(Decimal::ZERO, |sum, at| sum.checked_add(quantity(at)?))?;
            return Some(KeyPart::Quantity(own, whole));
        }
    }
    Some(match charge.key {
        Key::Area => {
            let own = own().map_or(Area::ZERO, |slab| slab.billed_area);
            KeyPart::Area(own, Area::total(all().map(|slab| slab.billed_area)).ok()?)
        }
        Key::Mass => {
            let own = own().map_or(Mass::ZERO, |slab| slab.mass);
            KeyPart::Mass(own, Mass::total(all().map(|slab| slab.mass)).ok()?)
        }
        Key::Count => KeyPart::Count(landed.sets.len(set)),
        Key::Base => {
            let position = landed.sets.position(set, slab)?;
            KeyPart::Base(Decimal::new(charge.by.as_ref()?.cut(1_000_000, position).floor, 4))
        }
        Key::Value => {
            let by_invoice = charge.scope.kind == ScopeKind::Invoice;
            let whole = spreader.price_of(members(), by_invoice, &landed.sets)?;
            let own = spreader.price_of(std::iter::once(slab), by_invoice, &landed.sets);
            let own = own.unwrap_or_else(|| Exact::zero(whole.currency()));
            KeyPart::Value(own.round().ok()?, whole.round().ok()?)
        }
    })
}
