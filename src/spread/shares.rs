//! Every charge over its slabs, to the minor unit.

use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

use rustc_hash::FxHashMap;

use super::bits::Bits;
use super::round::{Amount, Nest, round};
use crate::bill::{
    Charge, Members, SetId, Sets, Spreader, WeightId, cannot_spread, together, weight_id,
};
use crate::fault::{Report, Reported, gathered};
use crate::load::Plan;
use crate::quantity::{SpreadError, Weights};
use crate::trade::{Key, Leg, Shipment, Treatment};

/// What one slab bears of some charges.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Share {
    /// The sum of the shares, in minor units of the book currency.
    pub minor: i64,
    /// How many of them are units that were left over after the exact shares were cut.
    pub leftover: u32,
}

/// The shares of all charges.
///
/// Like charges, such as one for each of like boxes, are spread as one amount, and its units are dealt to them
/// in turn, slab by slab. So what is held grows with the slabs, and not with the boxes as well.
#[derive(Debug)]
pub struct Shares {
    /// The runs of each list of [`together`].
    lists: Vec<Vec<Run>>,
    /// The list, run and place in that run of each charge.
    places: Vec<(usize, usize, usize)>,
}

/// Charges of one list that are alike: their exact shares are the same.
#[derive(Debug)]
struct Run {
    /// The units of each, and how many there are.
    units: i64,
    count: i64,
    weights: Arc<Weights>,
    /// Which shares of all of them together are rounded up.
    up: Bits,
    /// At every [`STRIDE`]th position, how many units were dealt before it, less whole rounds.
    dealt: Vec<i64>,
}

/// How many positions apart [`Run::dealt`] is known.
const STRIDE: usize = 64;

impl Run {
    fn new(units: i64, count: usize, weights: Arc<Weights>, up: Bits) -> Self {
        let count = i64::try_from(count).unwrap_or(i64::MAX);
        let mut run = Self { units, count, weights, up, dealt: Vec::new() };
        let positions = if count > 1 { run.up.len() } else { 0 };
        let mut dealt = 0;
        for position in 0..positions {
            if position % STRIDE == 0 {
                run.dealt.push(dealt);
            }
            dealt = (dealt + run.ups(position)) % count;
        }
        run
    }

    /// What the slab at a position bears of all.
    fn all(&self, position: usize) -> i64 {
        // All charges together fit 64 bits: see `is_countable`.
        let cut = self.weights.cut(self.units.saturating_mul(self.count), position);
        cut.floor + i64::from(self.up.has(position))
    }

    /// The shares of how many are rounded up at a position.
    fn ups(&self, position: usize) -> i64 {
        self.all(position) - self.count * self.weights.cut(self.units, position).floor
    }

    /// The same, with how many units of it were left over.
    fn share(&self, position: usize) -> Share {
        let minor = self.all(position);
        let cut = self.weights.cut(self.units, position);
        let ups = minor - self.count * cut.floor;
        // A credit is cut further from nothing: there the share that is not rounded up is the larger.
        let leftover = if self.units < 0 { self.count - ups } else { ups };
        let leftover = if cut.is_open { u32::try_from(leftover).unwrap_or(0) } else { 0 };
        Share { minor, leftover }
    }

    /// What it bears of the one at a place.
    fn share_of(&self, place: usize, position: usize) -> Share {
        let cut = self.weights.cut(self.units, position);
        let known = position - position % STRIDE;
        let dealt = self.dealt.get(known / STRIDE).copied().unwrap_or(0)
            + (known..position).map(|before| self.ups(before)).sum::<i64>();
        let place = i64::try_from(place).unwrap_or(0);
        let is_up = (place - dealt).rem_euclid(self.count) < self.ups(position);
        let leftover = u32::from(cut.is_open && is_up != (self.units < 0));
        Share { minor: cut.floor + i64::from(is_up), leftover }
    }
}

impl Shares {
    /// What the slab at a position bears of the charges of a list, by the list's position among those that
    /// stand [`together`].
    pub fn of(&self, list: usize, position: usize) -> Share {
        let runs = self.lists.get(list).into_iter().flatten();
        runs.map(|run| run.share(position)).fold(Share::default(), |sum, share| Share {
            // No sum is beyond 64 bits: all charges together are not.
            minor: sum.minor.saturating_add(share.minor),
            leftover: sum.leftover.saturating_add(share.leftover),
        })
    }

    /// What the slab at a position bears of one charge, by the charge's position.
    pub fn of_charge(&self, charge: usize, position: usize) -> Share {
        let place = self.places.get(charge);
        let run =
            place.and_then(|(list, run, place)| Some((self.lists.get(*list)?.get(*run)?, place)));
        run.map(|(run, place)| run.share_of(*place, position)).unwrap_or_default()
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
        let lists = together(charges);
        let listed =
            lists.iter().enumerate().flat_map(|(list, all)| all.iter().map(move |at| (*at, list)));
        let mut list_of = vec![0; charges.len()];
        for (at, list) in listed {
            if let Some(slot) = list_of.get_mut(at) {
                *slot = list;
            }
        }
        let each = charges.iter().zip(list_of).enumerate();
        let each =
            each.map(|(at, (charge, list))| item((at, list), charge, sets, &mut spreader, report));
        let mut items = gathered(each)?;
        // What every slab comes to is not needed any more.
        drop(spreader);
        // By content, so that the order of rows in a table moves no cent; and narrow ones first, as
        // wide ones have more slabs to choose from.
        items.sort_by(|one, other| one.rank().cmp(&other.rank()));
        let nest = nest(shipment, plan);
        let mut shares = Self {
            lists: lists.iter().map(|_| Vec::new()).collect(),
            places: vec![(0, 0, 0); charges.len()],
        };
        for (treatment, _) in Treatment::ALL {
            let own = |item: &&Item<'_>| item.charge.treatment == treatment;
            let own: Vec<&Item<'_>> = items.iter().filter(own).collect();
            shares.spread(&own, sets, &nest);
        }
        Ok(shares)
    }

    /// Spreads charges whose totals are to be kept together.
    fn spread(&mut self, items: &[&Item<'_>], sets: &Sets, nest: &Nest) {
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
                self.hold(&[one], up);
            }
        }
        drop(open);
        let mut scope_of: BTreeMap<SetId, usize> = BTreeMap::new();
        let mut scopes: Vec<Members<'_>> = Vec::new();
        let runs = runs(rest.into_iter().flatten());
        let amounts = runs.iter().filter_map(|run| {
            let first = run.first()?;
            let set = first.charge.scope.set;
            let scope = *scope_of.entry(set).or_insert_with(|| {
                scopes.push(sets.of(set));
                scopes.len() - 1
            });
            let count = i64::try_from(run.len()).unwrap_or(i64::MAX);
            let units = first.units.saturating_mul(count);
            Some(Amount { units, weights: &first.weights, scope })
        });
        let amounts: Vec<Amount<'_>> = amounts.collect();
        for (run, up) in runs.iter().zip(round(&amounts, &scopes, nest)) {
            self.hold(run, up);
        }
    }

    /// Holds the shares of charges that are alike.
    fn hold(&mut self, run: &[&Item<'_>], up: Bits) {
        let Some(first) = run.first() else { return };
        let Some(runs) = self.lists.get_mut(first.list) else { return };
        for (place, item) in run.iter().enumerate() {
            if let Some(slot) = self.places.get_mut(item.at) {
                *slot = (first.list, runs.len(), place);
            }
        }
        // Most lists have one.
        runs.reserve_exact(1);
        runs.push(Run::new(first.units, run.len(), first.weights.clone(), up));
    }
}

/// Charges of one list that are alike, together, in the order of the first of each.
fn runs<'a, 'b>(items: impl Iterator<Item = &'b Item<'a>>) -> Vec<Vec<&'b Item<'a>>> {
    let mut runs: Vec<Vec<&Item<'_>>> = Vec::new();
    let mut known = FxHashMap::default();
    for item in items {
        let alike = (item.list, item.units, Arc::as_ptr(&item.weights));
        let run = *known.entry(alike).or_insert(runs.len());
        match runs.get_mut(run) {
            Some(run) => run.push(item),
            None => runs.push(vec![item]),
        }
    }
    runs
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
    /// Its position, and that of its list.
    at: usize,
    list: usize,
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
    (at, list): (usize, usize),
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
        Ok(units) => Ok(Item { at, list, charge, id: weight_id(charge), units, weights }),
        Err(error) => Err(report.error(cannot_spread(charge, error))),
    }
}

/// Slabs in bundles, bundles in boxes.
fn nest(shipment: &Shipment, plan: &Plan) -> Nest {
    let (slabs, bundles) = (shipment.slabs.len(), shipment.bundles.len());
    let groups = slabs + bundles + plan.boxes.len();
    let at = |group: usize| u32::try_from(group).unwrap_or(u32::MAX);
    let mut within = Vec::with_capacity(groups);
    within.extend(shipment.slabs.iter().map(|slab| at(slabs).saturating_add(slab.bundle)));
    within.resize(groups, at(groups));
    for (index, filled) in plan.boxes.iter().enumerate() {
        for bundle in &filled.bundles {
            if let Some(slot) = within.get_mut(slabs + bundle) {
                *slot = at(slabs + bundles + index);
            }
        }
    }
    Nest { slabs, within }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Decimal;

    #[test]
    fn like_charges_have_their_whole_amounts_and_each_share_rounded_down_or_up() {
        // Three charges of 10.01 and three credits, by 200 weights: more than one stride.
        for units in [1_001, -1_001] {
            let weights =
                Weights::of((1..=200u32).map(|at| Decimal::from(at * 7_919 % 199))).unwrap();
            let amount = Amount { units: 3 * units, weights: &weights, scope: 0 };
            let nest = Nest { slabs: 200, within: vec![200; 200] };
            let up = round(&[amount], &[Members::Row(0, 200)], &nest).remove(0);
            let run = Run::new(units, 3, Arc::new(weights), up);
            let mut sums = [0; 3];
            for at in 0..200 {
                let each = [0, 1, 2].map(|place| run.share_of(place, at));
                let floor = run.weights.cut(units, at).floor;
                assert!(each.iter().all(|share| (0..=1).contains(&(share.minor - floor))));
                let all = Share {
                    minor: each.iter().map(|share| share.minor).sum(),
                    leftover: each.iter().map(|share| share.leftover).sum(),
                };
                assert_eq!(run.share(at), all);
                for (sum, share) in sums.iter_mut().zip(each) {
                    *sum += share.minor;
                }
            }
            assert_eq!(sums, [units; 3]);
        }
    }
}
