//! Every charge over its slabs, to the minor unit.

use std::sync::Arc;

use super::round::{Amount, Nest, Rounded, round};
use crate::bill::{Charge, Sets, Spreader, WeightId, cannot_spread, weight_id};
use crate::fault::{Report, Reported, gathered};
use crate::load::Plan;
use crate::quantity::{SpreadError, Weights};
use crate::trade::{Key, Leg, Shipment, Treatment};

/// One slab's share of a charge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Share {
    /// The share, in minor units of the book currency.
    pub minor: i64,
    /// Whether one of them is a unit that was left over after the exact shares were cut.
    pub leftover: bool,
}

/// The shares of all charges.
#[derive(Debug)]
pub struct Shares {
    by_charge: Vec<Vec<Share>>,
}

impl Shares {
    /// The shares of a charge, by its position, in the order of its slabs.
    pub fn of(&self, charge: usize) -> &[Share] {
        self.by_charge.get(charge).map_or(&[], Vec::as_slice)
    }

    /// Spreads charges over the slabs: every share is its exact share rounded down or up, and so is
    /// what the charges of one treatment come to together on any slab, bundle and box. A charge that
    /// takes back another has its shares with the other sign.
    pub(crate) fn new(
        (shipment, plan): (&Shipment, &Plan),
        charges: &[Charge],
        sets: &Sets,
        report: &mut Report,
    ) -> Result<Self, Reported> {
        let mut spreader = Spreader::new(shipment);
        spreader.learn_goods(charges);
        is_countable(charges, report)?;
        let each = charges.iter().enumerate();
        let each = each.map(|(at, charge)| item(at, charge, sets, &mut spreader, report));
        let mut items = gathered(each)?;
        // By content, so that the order of rows in a table moves no cent; and narrow ones first, as
        // wide ones have more slabs to choose from.
        items.sort_by(|one, other| one.rank().cmp(&other.rank()));
        let mut by_charge = vec![Vec::new(); charges.len()];
        let nest = nest(shipment, plan);
        for (treatment, _) in Treatment::ALL {
            let own = |item: &&Item<'_>| item.charge.treatment == treatment;
            let own: Vec<&Item<'_>> = items.iter().filter(own).collect();
            spread(&own, &nest, &mut by_charge);
        }
        Ok(Self { by_charge })
    }
}

/// Whether all charges together fit 64 bits of minor units, so that no sum of shares is beyond them.
fn is_countable(charges: &[Charge], report: &mut Report) -> Result<(), Reported> {
    let mut sum = 0i64;
    for charge in charges {
        let own = charge.book().minor().ok().and_then(i64::checked_abs);
        // Twice that, as sums of differences have, fits as well.
        match own.and_then(|own| sum.checked_add(own)).filter(|sum| *sum <= i64::MAX / 4) {
            Some(more) => sum = more,
            None => return Err(report.error(cannot_spread(charge, SpreadError::Overflow))),
        }
    }
    Ok(())
}

/// A charge to be spread.
struct Item<'a> {
    at: usize,
    charge: &'a Charge,
    id: WeightId,
    units: i64,
    weights: Arc<Weights>,
    slabs: Arc<[usize]>,
}

impl Item<'_> {
    fn rank(&self) -> (usize, Key, Leg, &str, &str, i64) {
        let charge = self.charge;
        (self.slabs.len(), charge.key, charge.leg, &charge.name, &charge.scope.of, self.units)
    }

    fn share(&self, rounded: Rounded) -> Share {
        // A credit is cut further from nothing: there the share that is not rounded up is the larger.
        let is_larger = rounded.up != (self.units < 0);
        Share { minor: rounded.units(), leftover: rounded.cut.is_open && is_larger }
    }
}

fn item<'a>(
    at: usize,
    charge: &'a Charge,
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Result<Item<'a>, Reported> {
    let weights = spreader.weights(charge, sets, report)?;
    let units = charge.book().minor().map_err(SpreadError::from);
    let units = units.and_then(|units| match units {
        0 => Ok(0),
        i64::MIN => Err(SpreadError::Overflow),
        _ if weights.is_nothing() => Err(SpreadError::NoWeight),
        units => Ok(units),
    });
    match units {
        Ok(units) => {
            let slabs = spreader.members(charge.scope.set, sets);
            Ok(Item { at, charge, id: weight_id(charge), units, weights, slabs })
        }
        Err(error) => Err(report.error(cannot_spread(charge, error))),
    }
}

/// Slabs in bundles, bundles in boxes.
fn nest(shipment: &Shipment, plan: &Plan) -> Nest {
    let (slabs, bundles) = (shipment.slabs.len(), shipment.bundles.len());
    let bundle_of = |bundle: u32| usize::try_from(bundle).ok().map(|bundle| slabs + bundle);
    let mut within: Vec<Option<usize>> =
        shipment.slabs.iter().map(|slab| bundle_of(slab.bundle)).collect();
    within.resize(slabs + bundles + plan.boxes.len(), None);
    for (index, filled) in plan.boxes.iter().enumerate() {
        for bundle in &filled.bundles {
            if let Some(slot) = within.get_mut(slabs + bundle) {
                *slot = Some(slabs + bundles + index);
            }
        }
    }
    Nest { slabs, within }
}

/// Spreads charges whose totals are to be kept together.
fn spread(items: &[&Item<'_>], nest: &Nest, by_charge: &mut [Vec<Share>]) {
    let mut rest: Vec<&Item<'_>> = Vec::new();
    for item in items {
        let takes_back = |other: &&Item<'_>| {
            item.units != 0 && other.id == item.id && other.units == -item.units
        };
        let Some(at) = rest.iter().position(takes_back) else {
            rest.push(item);
            continue;
        };
        // The two come to nothing on every slab, so that nothing else depends on their shares.
        let other = rest.remove(at);
        let shares = item.weights.divide_units(item.units).unwrap_or_default();
        for (one, sign) in [(*item, 1), (other, -1)] {
            let own = shares.iter().enumerate().map(|(position, minor)| {
                let cut = one.weights.cut(one.units, position);
                one.share(Rounded { cut, up: minor * sign > cut.floor })
            });
            put(by_charge, one.at, own.collect());
        }
    }
    let amounts: Vec<Amount<'_>> = rest
        .iter()
        .map(|item| Amount { units: item.units, weights: &item.weights, slabs: &item.slabs })
        .collect();
    for (item, shares) in rest.iter().zip(round(&amounts, nest)) {
        put(by_charge, item.at, shares.into_iter().map(|share| item.share(share)).collect());
    }
}

fn put(by_charge: &mut [Vec<Share>], at: usize, shares: Vec<Share>) {
    if let Some(slot) = by_charge.get_mut(at) {
        *slot = shares;
    }
}
