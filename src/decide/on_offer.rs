//! A supplier's list to choose from, and a purchase of it costed.

use std::collections::BTreeMap;

use super::counter::{Bid, Cost};
use super::footing::Surface;
use super::part::{Sums, parts, whole};
use super::units::Unit;
use crate::choose::Costed;
use crate::fault::At;
use crate::load::given_again;
use crate::quantity::{Decimal, Money, Units};
use crate::trade::{AskedOffers, Available, Shipment, Slab, TableName};

/// What a choice must keep to.
#[derive(Debug, Clone)]
pub struct Within {
    /// The boxes, by container type; `None`: those that what is taken needs.
    pub boxes: Option<Vec<(String, u32)>>,
    /// The most bundles of one block.
    pub of_a_block: Option<usize>,
    /// The most that all may cost with finance.
    pub budget: Option<Money>,
}

/// A purchase.
#[derive(Debug, Clone)]
pub struct Purchase {
    /// Its bundles, by position on the list.
    pub bundles: Vec<usize>,
    /// What it comes to.
    pub cost: Cost,
    /// Its area.
    pub area: Surface,
    /// Its boxes, by type.
    pub boxes: BTreeMap<String, u32>,
}

/// A purchase that loads, costed whole, and the units it is chosen of.
pub(super) struct Loaded {
    pub(super) purchase: Purchase,
    pub(super) costed: Costed,
    pub(super) chosen: Vec<usize>,
}

/// A list to choose from. The shipment of the bid has all of it.
#[derive(Clone, Copy)]
pub(super) struct List<'a> {
    pub(super) bid: Bid<'a>,
    /// What is taken, by position.
    pub(super) base: &'a [usize],
    /// What is open.
    pub(super) units: &'a [Unit],
    /// The alike one before each.
    pub(super) before: &'a [Option<usize>],
    /// The area of each bundle.
    pub(super) areas: &'a [Surface],
    pub(super) within: &'a Within,
}

pub(super) const TOO_LARGE: &str = "a figure is too large to be held";

/// An amount in minor units.
pub(super) fn minor(money: Money) -> Result<i128, String> {
    money.minor().map(i128::from).map_err(|_| TOO_LARGE.to_owned())
}

/// An area in steps of 10^-8 m2.
pub(super) fn tiny(area: &Surface) -> Result<i128, String> {
    let figure = area.figure(Units::Metric, 8);
    let all = figure.and_then(|figure| figure.checked_mul(Decimal::from(100_000_000)));
    all.and_then(|all| i128::try_from(all).ok()).ok_or_else(|| TOO_LARGE.to_owned())
}

/// The area of each bundle on the footing of a bid.
pub(super) fn areas(bid: &Bid<'_>) -> Result<Vec<Surface>, String> {
    let shipment = bid.shipment;
    let mut all = vec![Surface::none(); shipment.bundles.len()];
    let of = |slab: &Slab| {
        let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
        bid.footing.area(slab, line, &bid.asked.allowances)?.ok()
    };
    for slab in shipment.slabs.iter() {
        let none = || format!("slab {} has no {} area", slab.id, bid.footing.word());
        let area = of(slab).ok_or_else(none)?;
        let sum = usize::try_from(slab.bundle).ok().and_then(|at| all.get_mut(at));
        if let Some(sum) = sum {
            *sum = sum.plus(&area);
        }
    }
    Ok(all)
}

/// The shipment with so many boxes of each type at most, and no other.
pub(super) fn with_boxes(shipment: &Shipment, boxes: &[(String, u32)]) -> Shipment {
    let mut own = shipment.clone();
    let named = |value: &String| At { value: value.clone(), place: shipment.packing_file.clone() };
    own.containers = boxes.iter().map(|(kind, _)| named(kind)).collect();
    own.load.available.extend(boxes.iter().map(|(kind, count)| Available {
        kind: named(kind),
        name: kind.clone(),
        class: None,
        offers: AskedOffers::new(),
        count: *count,
    }));
    own
}

/// The shipment by the offers that a load goes by, and no others.
pub(super) fn pinned(shipment: &Shipment, costed: &Costed) -> Shipment {
    let mut pins: Vec<(TableName, Vec<At<String>>)> = Vec::new();
    for (table, offer) in costed.choice.offers() {
        let pin = At { value: offer.to_owned(), place: shipment.packing_file.clone() };
        match pins.last_mut() {
            Some((known, all)) if *known == table => all.push(pin),
            _ => pins.push((table, vec![pin])),
        }
    }
    Shipment { pins, ..shipment.clone() }
}

/// What is missing of a least order.
pub(super) fn missing(costed: &Costed) -> Option<String> {
    costed.under_least.first().map(|under| under.what.clone())
}

impl List<'_> {
    /// The invoices of some bundles, by position, each once.
    pub(super) fn invoices(&self, bundles: &[usize]) -> Vec<usize> {
        let shipment = self.bid.shipment;
        let is_of =
            |slab: &&Slab| usize::try_from(slab.bundle).is_ok_and(|at| bundles.contains(&at));
        let line = |slab: &Slab| shipment.lines.get(usize::try_from(slab.line).ok()?);
        let slabs = shipment.slabs.iter().filter(is_of);
        let mut all: Vec<usize> = slabs.filter_map(|slab| Some(line(slab)?.invoice)).collect();
        all.sort_unstable();
        all.dedup();
        all
    }

    /// The invoices of a unit.
    pub(super) fn invoices_of(&self, unit: usize) -> Vec<usize> {
        self.units.get(unit).map_or_else(Vec::new, |unit| self.invoices(&unit.bundles))
    }

    /// What is taken, and chosen units: bundles by position.
    pub(super) fn joined(&self, chosen: &[usize]) -> Vec<usize> {
        let own = chosen.iter().filter_map(|at| self.units.get(*at));
        let own = own.flat_map(|unit| &unit.bundles);
        let mut all: Vec<usize> = self.base.iter().chain(own).copied().collect();
        all.sort_unstable();
        all
    }

    pub(super) fn area_of(&self, bundles: &[usize]) -> Surface {
        let own = bundles.iter().filter_map(|at| self.areas.get(*at));
        own.fold(Surface::none(), |sum, area| sum.plus(area))
    }

    /// The choice of the first of alike units that is worth and weighs as much as some units.
    pub(super) fn first_of_alike(&self, chosen: &[usize]) -> Vec<usize> {
        let first = |mut at: usize| {
            while let Some(before) = self.before.get(at).copied().flatten() {
                at = before;
            }
            at
        };
        let mut count: BTreeMap<usize, usize> = BTreeMap::new();
        for at in chosen {
            *count.entry(first(*at)).or_default() += 1;
        }
        let mut taken = Vec::new();
        for at in 0..self.units.len() {
            if let Some(left) = count.get_mut(&first(at)).filter(|left| **left > 0) {
                *left -= 1;
                taken.push(at);
            }
        }
        taken
    }

    /// The mass of a unit, in grams.
    pub(super) fn mass(&self, unit: usize) -> i128 {
        let bundles = self.units.get(unit).map_or(&[][..], |unit| &unit.bundles[..]);
        let own = bundles.iter().filter_map(|at| self.bid.shipment.bundles.get(*at));
        own.map(|bundle| i128::from(bundle.limit_mass.grams_up())).sum()
    }

    /// Some bundles, costed whole in their cheapest load.
    ///
    /// # Errors
    /// Why they cannot be had: a box, a least order, the budget, too many of one block.
    pub(super) fn purchase(&self, bundles: &[usize]) -> Result<(Purchase, Costed), String> {
        let (purchase, costed) = self.loaded(bundles)?;
        missing(&costed).map_or(Ok((purchase, costed)), Err)
    }

    /// The same, whether the least order of a supplier is reached or not.
    ///
    /// # Errors
    /// Why they cannot be loaded, or are too many.
    pub(super) fn loaded(&self, bundles: &[usize]) -> Result<(Purchase, Costed), String> {
        self.keeps_blocks(bundles)?;
        let own = self.bid.shipment.only(bundles);
        let costed = self.bid.loaded(&own)?;
        let cost = self.bid.cost_of(None, &own, &costed)?;
        if let Some(budget) = self.within.budget
            && cost.decision.amount() > budget.amount()
        {
            return Err(format!("it costs {} with finance, more than {budget}", cost.decision));
        }
        let mut boxes = BTreeMap::new();
        for filled in &costed.plan.boxes {
            if let Some(variant) = costed.plan.variant(filled) {
                *boxes.entry(variant.container.id.clone()).or_insert(0) += 1;
            }
        }
        let area = self.area_of(bundles);
        Ok((Purchase { bundles: bundles.to_vec(), cost, area, boxes }, costed))
    }

    fn keeps_blocks(&self, bundles: &[usize]) -> Result<(), String> {
        let Some(most) = self.within.of_a_block else { return Ok(()) };
        let mut count: BTreeMap<&str, usize> = BTreeMap::new();
        let all = bundles.iter().filter_map(|at| self.bid.shipment.bundles.get(*at));
        for block in all.filter_map(|bundle| bundle.block.as_deref()) {
            *count.entry(block).or_default() += 1;
        }
        match count.iter().find(|(_, count)| **count > most) {
            Some((block, count)) => {
                Err(format!("{count} bundles of block {block}, more than {most}"))
            }
            None => Ok(()),
        }
    }

    /// A full purchase of these units: one after the other, the most area for its mass first, as long as it loads. It
    /// may be under a least order.
    ///
    /// # Errors
    /// Why none of them does.
    pub(super) fn full(&self, units: &[usize]) -> Result<Loaded, String> {
        let mut order = Vec::new();
        for at in units {
            let bundles = self.joined(&[*at]);
            order.push((tiny(&self.area_of(&bundles))?, self.mass(*at).max(1), *at));
        }
        order.sort_by(|(a, m, one), (b, n, other)| (b * m).cmp(&(a * n)).then(one.cmp(other)));
        // One of each new invoice comes first: without it, what the invoice brings is not seen.
        let mut seen = self.invoices(self.base);
        let mut order: Vec<(bool, usize)> = order
            .into_iter()
            .map(|(.., at)| {
                let own = self.invoices_of(at);
                let is_new = own.iter().any(|invoice| !seen.contains(invoice));
                seen.extend(own);
                (!is_new, at)
            })
            .collect();
        order.sort_by_key(|(is_known, _)| *is_known);
        let order: Vec<usize> = order.into_iter().map(|(_, at)| at).collect();
        let mut best: Option<Loaded> = None;
        let mut why = None;
        // As many as load together; what does not is halved, so that few loads are planned.
        let (mut next, mut many) = (0, order.len());
        while next < order.len() {
            let more = order.iter().skip(next).take(many);
            let before = best.as_ref().map_or(&[][..], |best| &best.chosen[..]);
            let mut chosen: Vec<usize> = before.iter().chain(more).copied().collect();
            chosen.sort_unstable();
            match self.loaded(&self.joined(&chosen)) {
                Ok((purchase, costed)) => {
                    next += many;
                    best = Some(Loaded { purchase, costed, chosen });
                }
                Err(_) if many > 1 => many = many.div_ceil(2),
                Err(said) => {
                    next += 1;
                    why = Some(said);
                }
            }
        }
        best.ok_or_else(|| format!("no open bundle fits: {}", why.unwrap_or_default()))
    }

    /// Some bundles in the boxes of a purchase, costed whether limits are kept or not. A bundle that is not in
    /// those stands in the place of another.
    pub(super) fn in_boxes_of(
        &self,
        full: (&Purchase, &Costed),
        bundles: &[usize],
        place: Option<usize>,
    ) -> Result<(Shipment, Costed), String> {
        let (purchase, costed) = full;
        let box_of = |bundle: usize| {
            let at = purchase.bundles.binary_search(&bundle).ok()?;
            costed.plan.boxes.iter().position(|filled| filled.bundles.contains(&at))
        };
        let other = place.and_then(box_of).unwrap_or(0);
        let packing = &self.bid.shipment.packing_file;
        let at = |value: &str| At { value: value.to_owned(), place: packing.clone() };
        let mut own = self.bid.shipment.only(bundles);
        let given = given_again(&costed.plan, (&[], packing), |index, _| {
            let stands = |bundle: usize| box_of(bundle).unwrap_or(other) == index;
            let inside = bundles.iter().enumerate().filter(|(_, bundle)| stands(**bundle));
            inside.map(|(at, _)| at).collect()
        });
        own.boxes = given.ok_or(TOO_LARGE)?;
        for (one, filled) in own.boxes.iter_mut().zip(&costed.plan.boxes) {
            let variant = costed.plan.variant(filled).ok_or(TOO_LARGE)?;
            one.class = variant.class.as_deref().map(at);
            let offers = variant.offers.iter();
            one.offers = offers.map(|(table, offer)| (table, at(offer))).collect();
        }
        own.boxes.retain(|one| !one.bundles.is_empty());
        own.load.available.clear();
        let costed = self.bid.costed_as_given(&own)?;
        Ok((own, costed))
    }

    /// What a costed shipment comes to by its parts.
    pub(super) fn sums(&self, shipment: &Shipment, costed: &Costed) -> Result<Sums, String> {
        let parts = parts(shipment, Some(costed), &self.bid.asked.allowances).ok_or(TOO_LARGE)?;
        let all = whole(&parts.iter().collect::<Vec<_>>());
        all.and_then(|all| all.sums).ok_or_else(|| TOO_LARGE.to_owned())
    }
}
