//! Every charge over its slabs, to the minor unit.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use rustc_hash::FxHashMap;

use super::bits::Bits;
use super::round::{Amount, Nest, round};
use crate::bill::{Charge, Members, SetId, Sets, Spreader, WeightId, cannot_spread, weight_id};
use crate::fault::{Report, Reported, gathered};
use crate::load::Plan;
use crate::quantity::{SpreadError, Weights};
use crate::trade::{Key, Leg, Shipment, Slab, Treatment};

/// What one slab bears of some charges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Share {
    /// The sum of the shares, in minor units of the book currency.
    pub minor: i64,
    /// How many of them are units that were left over after the exact shares were cut.
    pub leftover: u32,
}

/// The shares of all charges. Of each share one bit is held: whether the exact share, which amount and
/// weights tell, is rounded up.
#[derive(Debug)]
pub struct Shares {
    by_charge: Vec<Spread>,
}

/// How a charge is spread.
#[derive(Debug, Clone)]
struct Spread {
    units: i64,
    weights: Arc<Weights>,
    up: Bits,
}

impl Shares {
    /// What the slab at a position bears of charges that the same slabs share, by the charges' positions.
    pub fn of(&self, charges: &[usize], position: usize) -> Share {
        let mut sum = Share::default();
        let mut like: Option<(i64, &Weights, _)> = None;
        for Spread { units, weights, up } in charges.iter().filter_map(|at| self.by_charge.get(*at))
        {
            // The exact shares of like charges are the same.
            let cut = match like {
                Some((known, by, cut)) if known == *units && std::ptr::eq(by, weights.as_ref()) => {
                    cut
                }
                _ => weights.cut(*units, position),
            };
            like = Some((*units, weights, cut));
            let is_up = up.has(position);
            // No sum is beyond 64 bits: all charges together are not.
            sum.minor = sum.minor.saturating_add(cut.floor + i64::from(is_up));
            // A credit is cut further from nothing: there the share that is not rounded up is the larger.
            sum.leftover += u32::from(cut.is_open && is_up != (*units < 0));
        }
        sum
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
        let spread = |item: &Item<'_>| Spread {
            units: item.units,
            weights: item.weights.clone(),
            up: Bits::none(0),
        };
        let mut by_charge: Vec<Spread> = items.iter().map(spread).collect();
        // By content, so that the order of rows in a table moves no cent; and narrow ones first, as
        // wide ones have more slabs to choose from.
        items.sort_by(|one, other| one.rank().cmp(&other.rank()));
        let nest = nest(shipment, plan);
        for (treatment, _) in Treatment::ALL {
            let own = |item: &&Item<'_>| item.charge.treatment == treatment;
            let own: Vec<&Item<'_>> = items.iter().filter(own).collect();
            for (at, up) in ups(&own, sets, &nest) {
                if let Some(spread) = by_charge.get_mut(at) {
                    spread.up = up;
                }
            }
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
}

impl Item<'_> {
    fn rank(&self) -> (usize, Key, Leg, &str, &str, i64) {
        let charge = self.charge;
        (self.weights.len(), charge.key, charge.leg, &charge.name, &charge.scope.of, self.units)
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
        Ok(units) => Ok(Item { at, charge, id: weight_id(charge), units, weights }),
        Err(error) => Err(report.error(cannot_spread(charge, error))),
    }
}

/// Slabs in bundles, bundles in boxes.
fn nest(shipment: &Shipment, plan: &Plan) -> Nest {
    let (slabs, bundles) = (shipment.slabs.len(), shipment.bundles.len());
    let at = |group: usize| u32::try_from(group).ok();
    let bundle_of = |slab: &Slab| at(slabs)?.checked_add(slab.bundle);
    let mut within: Vec<Option<u32>> = shipment.slabs.iter().map(bundle_of).collect();
    within.resize(slabs + bundles + plan.boxes.len(), None);
    for (index, filled) in plan.boxes.iter().enumerate() {
        for bundle in &filled.bundles {
            if let Some(slot) = within.get_mut(slabs + bundle) {
                *slot = at(slabs + bundles + index);
            }
        }
    }
    Nest { slabs, within }
}

/// Which shares are rounded up, charge by charge, of charges whose totals are to be kept together.
fn ups(items: &[&Item<'_>], sets: &Sets, nest: &Nest) -> Vec<(usize, Bits)> {
    let mut all = Vec::with_capacity(items.len());
    let mut rest: Vec<Option<&Item<'_>>> = Vec::new();
    // The charges that nothing takes back so far, the first first.
    let mut open: FxHashMap<(WeightId, i64), VecDeque<usize>> = FxHashMap::default();
    for item in items {
        let other = open.get_mut(&(item.id, -item.units)).filter(|_| item.units != 0);
        let Some(other) =
            other.and_then(VecDeque::pop_front).and_then(|at| rest.get_mut(at)?.take())
        else {
            open.entry((item.id, item.units)).or_default().push_back(rest.len());
            rest.push(Some(item));
            continue;
        };
        // The two come to nothing on every slab, so that nothing else depends on their shares.
        let shares = item.weights.divide_units(item.units).unwrap_or_default();
        for (one, sign) in [(*item, 1), (other, -1)] {
            let mut up = Bits::none(shares.len());
            for (position, minor) in shares.iter().enumerate() {
                up.set(position, minor * sign > one.weights.cut(one.units, position).floor);
            }
            all.push((one.at, up));
        }
    }
    let rest: Vec<&Item<'_>> = rest.into_iter().flatten().collect();
    let mut scope_of: BTreeMap<SetId, usize> = BTreeMap::new();
    let mut scopes: Vec<Members<'_>> = Vec::new();
    let amounts = rest.iter().map(|item| {
        let set = item.charge.scope.set;
        let scope = *scope_of.entry(set).or_insert_with(|| {
            scopes.push(sets.of(set));
            scopes.len() - 1
        });
        Amount { units: item.units, weights: &item.weights, scope }
    });
    let amounts: Vec<Amount<'_>> = amounts.collect();
    all.extend(rest.iter().map(|item| item.at).zip(round(&amounts, &scopes, nest)));
    all
}
