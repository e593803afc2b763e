//! Where each cent of one slab came from.

use super::charge::Charge;
use super::goods;
use super::landed::Landed;
use super::spreader::Spreader;
use crate::fault::Report;
use crate::quantity::{Area, Decimal, Mass, Money};
use crate::trade::{Key, ScopeKind, Shipment};

/// A slab's charges, explained.
#[derive(Debug)]
pub struct Explanation {
    /// The slab, by position.
    pub slab: usize,
    /// Its charges.
    pub charges: Vec<ExplainedCharge>,
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
}

/// Explains one slab. `None`: it is not in the shipment, or the figures cannot be held.
pub fn explain(shipment: &Shipment, landed: &Landed, slab: usize) -> Option<Explanation> {
    shipment.slabs.get(slab)?;
    let mut spreader = Spreader::new(shipment);
    let mut report = Report::new();
    spreader.learn_goods(&landed.charges);
    let mut charges = Vec::new();
    for (index, charge) in landed.charges.iter().enumerate() {
        let Some(position) = landed.sets.position(charge.scope.set, slab) else {
            continue;
        };
        let weights = spreader.weights(charge, &landed.sets, &mut report)?;
        let share = weights.share_at(charge.book(), position).ok()?;
        let key = key_part(shipment, landed, &spreader, charge, slab)?;
        charges.push(ExplainedCharge {
            charge: index,
            key,
            share: share.amount,
            leftover: share.leftover,
        });
    }
    charges.sort_by_key(|one| landed.charges.get(one.charge).map(|charge| charge.leg));
    Some(Explanation { slab, charges, cost: landed.slab_cost(slab) })
}

fn key_part(
    shipment: &Shipment,
    landed: &Landed,
    spreader: &Spreader<'_>,
    charge: &Charge,
    slab: usize,
) -> Option<KeyPart> {
    let one = shipment.slabs.get(slab)?;
    let members = || landed.sets.members(charge.scope.set).filter_map(|at| shipment.slabs.get(at));
    if let Some(line) = charge.goods_of
        && charge.key == Key::Value
    {
        let line = shipment.lines.get(line)?;
        let quantity = |at: usize| {
            let slab = shipment.slabs.get(at)?;
            if spreader.is_free(at) { Some(Decimal::ZERO) } else { goods::weight(line, slab).ok() }
        };
        let whole = landed
            .sets
            .members(charge.scope.set)
            .try_fold(Decimal::ZERO, |sum, at| sum.checked_add(quantity(at)?))?;
        return Some(KeyPart::Quantity(quantity(slab)?, whole));
    }
    Some(match charge.key {
        Key::Area => {
            KeyPart::Area(one.billed_area, Area::total(members().map(|s| s.billed_area)).ok()?)
        }
        Key::Mass => KeyPart::Mass(one.mass, Mass::total(members().map(|s| s.mass)).ok()?),
        Key::Count => KeyPart::Count(landed.sets.len(charge.scope.set)),
        Key::Value if charge.scope.kind == ScopeKind::Invoice => {
            let currency = charge.amount().currency();
            let value = |at: usize| Money::from_minor(spreader.invoiced(at), currency);
            let all = landed.sets.members(charge.scope.set).map(value);
            KeyPart::Value(value(slab), Money::total(currency, all).ok()?)
        }
        Key::Value => {
            let value = |at: usize| Money::from_minor(spreader.value(at), landed.currency);
            let all = landed.sets.members(charge.scope.set).map(value);
            KeyPart::Value(value(slab), Money::total(landed.currency, all).ok()?)
        }
    })
}
