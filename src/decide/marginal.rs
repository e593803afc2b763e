//! A cost that no purchase from a list goes below: its boxes at the least, and what each unit adds.

use rayon::prelude::*;

use super::fill::Row;
use super::on_offer::{List, Loaded, TOO_LARGE, minor};
use crate::choose::Costed;
use crate::load::{Sum, Variant, sums};
use crate::quantity::{Decimal, Money};
use crate::trade::Shipment;

/// The cost of the purchases that have goods of certain invoices.
pub(super) struct Marginal {
    /// What is paid beside boxes and units, in minor units.
    pub(super) rest: i128,
    /// What each unit adds beside its box, in minor units; `None`: it is of another invoice.
    pub(super) more: Vec<Option<i128>>,
    /// What of it are goods, in minor units.
    pub(super) goods: Vec<i128>,
    /// What rounding may move, in minor units: each charge is rounded once.
    pub(super) slack: i128,
    /// The ways to have the boxes: what they come to, and what they hold.
    pub(super) ways: Vec<(i128, Vec<Row>)>,
}

/// More ways to have the boxes than are looked at (a choice of ours).
const MOST_WAYS: usize = 400;

/// What a costed purchase comes to beside its boxes, in minor units.
pub(super) fn beside(costed: &Costed) -> Result<i128, String> {
    let plan = &costed.plan;
    let rest = costed.landed.decision.minus(plan.cost).and_then(|rest| rest.minus(plan.caused));
    minor(rest.map_err(|_| TOO_LARGE)?)
}

impl Marginal {
    /// Measures it on a full purchase; `units` are those that may be chosen.
    pub(super) fn of(list: &List<'_>, units: &[usize], full: &Loaded) -> Result<Self, String> {
        let at_full = (&full.purchase, &full.costed);
        let measured = |chosen: &[usize], place: Option<usize>| -> Result<[i128; 2], String> {
            let bundles = list.joined(chosen);
            if bundles.is_empty() {
                return Ok([0, 0]);
            }
            let (own, costed) = list.in_boxes_of(at_full, &bundles, place)?;
            Ok([beside(&costed)?, minor(list.sums(&own, &costed)?.groups[0])?])
        };
        let bundle = |at: usize| list.units.get(at).and_then(|unit| unit.bundles.first().copied());
        let each = (0..list.units.len()).into_par_iter().map(|at| {
            if !units.contains(&at) {
                return Ok(None);
            }
            let (with, out) = pair(list, units, &full.chosen, at);
            let without: Vec<usize> = with.iter().copied().filter(|other| *other != at).collect();
            let (with, less) =
                (measured(&with, out.and_then(bundle))?, measured(&without, out.and_then(bundle))?);
            Ok(Some([with[0] - less[0], with[1] - less[1]]))
        });
        let mut each: Vec<Option<[i128; 2]>> = each.collect::<Result<_, String>>()?;
        // Alike ones add the same but for what rounding moves: the least of them.
        for at in (0..each.len()).rev() {
            let before = list.before.get(at).copied().flatten();
            let own = each.get(at).copied().flatten();
            if let Some((before, own)) = before.and_then(|at| each.get_mut(at)).zip(own) {
                *before = before.map_or(Some(own), |before| Some(before.min(own)));
            }
        }
        for at in 0..each.len() {
            let before = list.before.get(at).copied().flatten();
            if let Some(before) = before.and_then(|before| each.get(before).copied())
                && let Some(own) = each.get_mut(at)
            {
                *own = before;
            }
        }
        let more: Vec<Option<i128>> = each.iter().map(|one| one.map(|[more, _]| more)).collect();
        let goods = each.iter().map(|one| one.map_or(0, |[_, goods]| goods)).collect();
        let own = full.chosen.iter().filter_map(|at| more.get(*at).copied().flatten());
        let rest = measured(&full.chosen, None)?[0] - own.sum::<i128>();
        let charges = i128::try_from(full.costed.landed.charges.len()).map_err(|_| TOO_LARGE)?;
        let mut all = Self { rest, more, goods, slack: charges, ways: Vec::new() };
        let variants = &full.costed.plan.variants;
        let sums = sums(&list.bid.shipment.bundles, variants);
        for counts in ways(list.bid.shipment, variants)? {
            let cost = cost_of(variants, &counts)?;
            let mut rows = rows_of(list, &sums, &counts);
            rows.extend(list.within.of_a_block.iter().flat_map(|most| blocks(list, *most)));
            if let Some(budget) = list.within.budget {
                let weights = all.more.iter().map(|more| more.unwrap_or(0).max(0)).collect();
                let capacity = minor(budget)? - all.least(&[], cost);
                rows.push(Row { weights, capacity });
            }
            // What is of another invoice is in no purchase of these.
            let others = all.more.iter().map(|more| i128::from(more.is_none())).collect();
            rows.push(Row { weights: others, capacity: 0 });
            all.ways.push((cost, rows));
        }
        Ok(all)
    }

    /// What a choice comes to at least, in boxes that come to so much.
    pub(super) fn least(&self, chosen: &[usize], boxes: i128) -> i128 {
        let own = chosen.iter().filter_map(|at| self.more.get(*at).copied().flatten());
        self.rest + boxes - self.slack + own.sum::<i128>()
    }
}

/// Units that a unit is measured among, itself one of them, and the one of a full purchase in whose place it
/// stands. Another of each of its invoices is among them where there is one, so that what the invoice costs
/// itself is not counted to the unit.
fn pair(
    list: &List<'_>,
    units: &[usize],
    chosen: &[usize],
    at: usize,
) -> (Vec<usize>, Option<usize>) {
    let own = list.invoices_of(at);
    let of_base = list.invoices(list.base);
    let knows = |others: &[usize]| {
        own.iter().all(|invoice| {
            of_base.contains(invoice)
                || others.iter().any(|other| list.invoices_of(*other).contains(invoice))
        })
    };
    let without = |out: usize| -> Vec<usize> {
        chosen.iter().copied().filter(|other| *other != out && *other != at).collect()
    };
    let with = |mut others: Vec<usize>, more: usize| {
        others.push(more);
        others.sort_unstable();
        others
    };
    if chosen.contains(&at) {
        if knows(&without(at)) {
            return (chosen.to_vec(), None);
        }
        let alike = units.iter().copied().find(|other| *other != at && knows(&[*other]));
        let Some(alike) = alike.filter(|other| !chosen.contains(other)) else {
            return (chosen.to_vec(), None);
        };
        let place = without(at).into_iter().max_by_key(|other| list.mass(*other));
        let rest = place.map_or_else(|| chosen.to_vec(), |place| with(without(place), at));
        return (with(rest, alike), place);
    }
    let places = chosen.iter().copied().filter(|place| knows(&without(*place)));
    match places.max_by_key(|place| list.mass(*place)) {
        Some(place) => (with(without(place), at), Some(place)),
        None => (with(chosen.to_vec(), at), chosen.first().copied()),
    }
}

/// The ways to have the boxes that the shipment may have, fewer ones too: how many of each variant. Of one type,
/// a variant that is neither cheaper nor stronger than another is left out.
fn ways(shipment: &Shipment, variants: &[Variant]) -> Result<Vec<Vec<u32>>, String> {
    let figures: Vec<(Decimal, i64)> = variants
        .iter()
        .map(|one| {
            let price = one.weighed().map_or(Decimal::MAX, Money::amount);
            (price, one.limits.binding().cargo.grams_down())
        })
        .collect();
    let mut all: Vec<Vec<u32>> = vec![vec![0; variants.len()]];
    for had in &shipment.load.available {
        let is_of = |at: &usize| {
            variants.get(*at).is_some_and(|variant| variant.container.id == had.kind.value)
        };
        let own: Vec<usize> = (0..variants.len()).filter(is_of).collect();
        let is_idle = |one: usize| {
            own.iter().any(|other| match (figures.get(one), figures.get(*other)) {
                (Some((price, holds)), Some((less, more))) => {
                    *other != one
                        && less <= price
                        && more >= holds
                        && ((less, more) != (price, holds) || *other < one)
                }
                _ => false,
            })
        };
        let front: Vec<usize> = own.iter().copied().filter(|one| !is_idle(*one)).collect();
        for _ in 0..had.count {
            let one_more = all.iter().flat_map(|counts| {
                front.iter().map(|at| {
                    let mut more = counts.clone();
                    if let Some(count) = more.get_mut(*at) {
                        *count += 1;
                    }
                    more
                })
            });
            let one_more: Vec<Vec<u32>> = one_more.collect();
            all.extend(one_more);
            all.sort_unstable();
            all.dedup();
            if all.len() > MOST_WAYS {
                let said =
                    format!("{} boxes are too many to try: write fewer in --boxes", had.count);
                return Err(said);
            }
        }
    }
    all.retain(|counts| counts.iter().any(|count| *count > 0));
    Ok(all)
}

fn cost_of(variants: &[Variant], counts: &[u32]) -> Result<i128, String> {
    let mut sum = 0;
    for (variant, count) in variants.iter().zip(counts) {
        sum += minor(variant.weighed().map_err(|_| TOO_LARGE)?)? * i128::from(*count);
    }
    Ok(sum)
}

/// What boxes of so many variants hold of each sum, less what is taken.
fn rows_of(list: &List<'_>, sums: &[Sum], counts: &[u32]) -> Vec<Row> {
    let row = |sum: &Sum| {
        let weigh = |bundles: &[usize]| -> i128 {
            bundles.iter().filter_map(|at| sum.weights.get(*at)).sum()
        };
        let mut capacity = -weigh(list.base);
        for (most, count) in sum.most.iter().zip(counts).filter(|(_, count)| **count > 0) {
            capacity += (*most)? * i128::from(*count);
        }
        let weights = list.units.iter().map(|unit| weigh(&unit.bundles)).collect();
        Some(Row { weights, capacity })
    };
    sums.iter().filter_map(row).collect()
}

/// A row for each block: so many of its bundles at most.
fn blocks(list: &List<'_>, most: usize) -> Vec<Row> {
    let of = |at: &usize| list.bid.shipment.bundles.get(*at)?.block.as_deref();
    let mut blocks: Vec<&str> =
        list.units.iter().flat_map(|unit| unit.bundles.iter().filter_map(of)).collect();
    blocks.sort_unstable();
    blocks.dedup();
    let whole = |count: usize| i128::try_from(count).unwrap_or(i128::MAX);
    let count = |bundles: &[usize], block: &str| {
        whole(bundles.iter().filter(|at| of(at) == Some(block)).count())
    };
    let row = |block: &str| Row {
        weights: list.units.iter().map(|unit| count(&unit.bundles, block)).collect(),
        capacity: whole(most) - count(list.base, block),
    };
    blocks.into_iter().map(row).collect()
}
