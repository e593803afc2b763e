//! What a supplier bills for a line: for all of it, and for each slab, by which its goods go.
//!
//! Decided on 2026-11-27. Everything that asks what goods come to asks here, so that a step of a price, an
//! extra or a slab given free counts alike in the amount, in a slab's share and in the customs value.

use std::collections::BTreeSet;

use crate::quantity::{
    Decimal, Exact, Ordered, Overflow, Price, PricedBy, SpreadError, Volume, Weights,
};
use crate::trade::{Applies, Counting, Line, MoneyRounding, Shipment, Slab, Step};

/// The slabs an invoice gives without charge, by position.
pub(crate) fn free_slabs(shipment: &Shipment) -> BTreeSet<usize> {
    let names: BTreeSet<&str> = shipment
        .invoices
        .iter()
        .flat_map(|invoice| invoice.free_slabs.iter().map(|name| name.value.as_str()))
        .collect();
    if names.is_empty() {
        return BTreeSet::new();
    }
    let slabs = shipment.slabs.iter().enumerate();
    slabs.filter(|(_, slab)| names.contains(&*slab.id)).map(|(index, _)| index).collect()
}

/// What is billed of one slab in a unit; bundles and lots are not by the slab.
fn quantity_in(by: PricedBy, line: &Line, slab: &Slab) -> Result<Decimal, Overflow> {
    match by {
        PricedBy::M2 | PricedBy::Ft2 => Ok(line.measure.figure(slab.billed_area)),
        PricedBy::M3 => Ok(Volume::of(slab.billed_area, line.thickness)?.base()),
        PricedBy::Tonne => Ok(slab.mass.to_tonnes()),
        PricedBy::Slab => Ok(Decimal::ONE),
        PricedBy::Bundle | PricedBy::Lot => Ok(slab.billed_area.base()),
    }
}

/// How much is billed of some lines, in a supplier's unit. Slabs given free are not counted, nor are bundles
/// of such slabs alone.
///
/// # Errors
/// Where the figure cannot be held exactly.
pub(crate) fn ordered(
    shipment: &Shipment,
    free: &BTreeSet<usize>,
    is_in: impl Fn(&Line) -> bool,
    by: PricedBy,
) -> Result<Ordered, Overflow> {
    let what = "a quantity that is ordered";
    let slabs = shipment.slabs.iter().enumerate().filter(|(at, _)| !free.contains(at));
    let own = slabs.filter_map(|(_, slab)| {
        let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
        is_in(line).then_some((line, slab))
    });
    let figure = match by {
        PricedBy::Lot => Decimal::ONE,
        PricedBy::Bundle => {
            let bundles: BTreeSet<u32> = own.map(|(_, slab)| slab.bundle).collect();
            Decimal::from(bundles.len())
        }
        _ => crate::quantity::total(own.map(|(line, slab)| quantity_in(by, line, slab)), what)?,
    };
    Ok(Ordered { figure, by })
}

/// How much of a line counts towards the steps of its price: its own, or that of its invoice.
///
/// # Errors
/// Where the figure cannot be held exactly.
pub(crate) fn counted(
    shipment: &Shipment,
    free: &BTreeSet<usize>,
    line: &Line,
    by: PricedBy,
) -> Result<Ordered, Overflow> {
    match line.pricing.counted {
        Counting::Line => ordered(shipment, free, |one| one.id == line.id, by),
        Counting::Invoice => ordered(shipment, free, |one| one.invoice == line.invoice, by),
    }
}

/// A price, and the part of the line's quantity that has it.
#[derive(Debug, Clone)]
struct Tier {
    /// From which quantity on, where it is a step's.
    from: Option<Ordered>,
    price: Price,
    /// So much of the whole.
    part: Decimal,
    /// The whole.
    of: Decimal,
}

impl Tier {
    /// A price for all of it.
    fn whole(price: Price, from: Option<Ordered>) -> Self {
        Self { from, price, part: Decimal::ONE, of: Decimal::ONE }
    }
}

/// The prices that a quantity has: the one it has reached, or each for its part.
fn tiers(
    first: Price,
    steps: &[Step],
    counted: Decimal,
    applies: Applies,
) -> Result<Vec<Tier>, Overflow> {
    let all = steps.iter().map(|step| (Some(step.from.value), step.price.value));
    let all = std::iter::once((None, first)).chain(all);
    let reached: Vec<(Option<Ordered>, Price)> =
        all.filter(|(from, _)| from.is_none_or(|from| from.figure <= counted)).collect();
    if applies == Applies::Whole || counted.is_zero() {
        let (from, price) = reached.last().copied().unwrap_or((None, first));
        return Ok(vec![Tier::whole(price, from)]);
    }
    let mut tiers = Vec::new();
    for (at, (from, price)) in reached.iter().enumerate() {
        let begin = from.map_or(Decimal::ZERO, |from| from.figure);
        let next = reached.get(at + 1).and_then(|(from, _)| *from);
        let end = next.map_or(counted, |from| from.figure);
        let part = end.checked_sub(begin).ok_or(Overflow { what: "a step of a price" })?;
        if !part.is_zero() {
            tiers.push(Tier { from: *from, price: *price, part, of: counted });
        }
    }
    Ok(tiers)
}

/// A part of what a line comes to: so much at a price.
#[derive(Debug, Clone, PartialEq)]
pub struct PricedPart {
    /// What it is, beside the goods at their one price: a step, an extra.
    pub what: Option<String>,
    /// The price.
    pub price: Price,
    /// The quantity, to a millionth where it has no end.
    pub quantity: Decimal,
    /// The product, to a millionth where it has no end.
    pub exact: Decimal,
}

/// What some slabs of a line come to.
#[derive(Debug, Clone)]
pub(crate) struct Sum {
    /// The quantity in the unit of the price.
    pub(crate) quantity: Decimal,
    /// What it comes to, unrounded.
    pub(crate) exact: Exact,
    /// Of what it is made.
    pub(crate) parts: Vec<PricedPart>,
}

/// What a line is sold at, now that its quantity is known.
#[derive(Debug, Clone)]
pub(crate) struct Worth<'a> {
    line: &'a Line,
    /// The prices of each quality, or those of all slabs.
    rates: Vec<Rate<'a>>,
}

/// The prices of one quality, or of all.
#[derive(Debug, Clone)]
struct Rate<'a> {
    quality: Option<&'a str>,
    tiers: Vec<Tier>,
}

impl<'a> Worth<'a> {
    /// Of a line of a shipment.
    ///
    /// # Errors
    /// Where its quantity cannot be held exactly.
    pub(crate) fn of(
        shipment: &Shipment,
        free: &BTreeSet<usize>,
        line: &'a Line,
    ) -> Result<Self, Overflow> {
        Self::of_counted(line, |unit| Ok(counted(shipment, free, line, unit)?.figure))
    }

    /// Of a line, where somebody knows how much counts towards the steps of its price in a unit.
    ///
    /// # Errors
    /// Where its quantity cannot be held exactly.
    pub(crate) fn of_counted(
        line: &'a Line,
        counted: impl FnOnce(PricedBy) -> Result<Decimal, Overflow>,
    ) -> Result<Self, Overflow> {
        let pricing = &line.pricing;
        let unit = pricing.all_steps().next().map(|step| step.from.by);
        let counted = unit.map_or(Ok(Decimal::ZERO), counted)?;
        let tiers = |price, steps| tiers(price, steps, counted, pricing.applies);
        let mut rates = Vec::new();
        for one in &pricing.qualities {
            let tiers = tiers(one.price.value, &one.steps)?;
            rates.push(Rate { quality: Some(&one.quality.value), tiers });
        }
        if rates.is_empty() {
            let tiers = tiers(line.price.value, &pricing.steps)?;
            rates.push(Rate { quality: None, tiers });
        }
        Ok(Self { line, rates })
    }

    /// Whether each slab is rounded alone, so that slabs weigh by their own amounts of money.
    pub(crate) fn weighs_money(&self) -> bool {
        self.line.is_by_the_slab() && self.line.measure.money == MoneyRounding::Slab
    }

    /// Whether slabs weigh by what each comes to.
    pub(crate) fn is_composite(&self) -> bool {
        self.line.is_composite()
    }

    /// The prices of slabs of a quality, at the quantity that is reached: one, or each for its part of it.
    pub(crate) fn prices_of(&self, quality: Option<&str>) -> impl Iterator<Item = Price> {
        let is_of = |rate: &&Rate<'_>| rate.quality.is_none() || rate.quality == quality;
        let own = self.rates.iter().find(is_of);
        own.into_iter().flat_map(|rate| &rate.tiers).map(|tier| tier.price)
    }

    /// The price of what is bought last.
    pub(crate) fn price_of(&self, quality: Option<&str>) -> Price {
        self.prices_of(quality).last().unwrap_or(self.line.price.value)
    }

    /// What the supplier multiplies its price by for one slab; bundles and lots are not by the slab.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub(crate) fn quantity(&self, slab: &Slab) -> Result<Decimal, Overflow> {
        quantity_in(self.line.price.by, self.line, slab)
    }

    /// What some slabs come to: a whole line, one bundle of it, or what passes on one day.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub(crate) fn sum<'s>(
        &self,
        slabs: impl Iterator<Item = &'s Slab> + Clone,
    ) -> Result<Sum, Overflow> {
        self.sum_of(slabs, |own| own())
    }

    /// The same, where what is billed of all of them may be `known`.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub(crate) fn sum_of<'s>(
        &self,
        slabs: impl Iterator<Item = &'s Slab> + Clone,
        known: impl Fn(&dyn Fn() -> Result<Decimal, Overflow>) -> Result<Decimal, Overflow>,
    ) -> Result<Sum, Overflow> {
        let line = self.line;
        let mut parts = Vec::new();
        let mut exact = Exact::zero(line.price.currency);
        let mut quantity = Decimal::ZERO;
        for Rate { quality, tiers } in &self.rates {
            let is_of = |slab: &&Slab| quality.is_none() || slab.quality() == *quality;
            let own = slabs.clone().filter(is_of);
            let total = if line.is_by_the_slab() {
                let total = || self.total(line.price.by, own.clone());
                if quality.is_none() { known(&total)? } else { total()? }
            } else if own.clone().next().is_none() {
                // All of it is free.
                Decimal::ZERO
            } else {
                line.block.map_or(Decimal::ONE, |block| block.quantity)
            };
            quantity = crate::quantity::sum(quantity, total, "the quantity of a line")?;
            for tier in tiers.iter().filter(|_| quality.is_none() || !total.is_zero()) {
                let (own, part) = tier.of(total)?;
                exact = exact.plus(&own)?;
                let what = match (quality, part.what) {
                    (Some(quality), Some(step)) => Some(format!("{quality}, {step}")),
                    (quality, step) => step.or_else(|| quality.map(str::to_owned)),
                };
                parts.push(PricedPart { what, ..part });
            }
        }
        for extra in &line.pricing.extras {
            let total = self.total(extra.price.by, slabs.clone())?;
            let tier = Tier::whole(extra.price.value, None);
            let (own, part) = tier.of(total)?;
            exact = exact.plus(&own)?;
            parts.push(PricedPart { what: Some(extra.name.clone()), ..part });
        }
        Ok(Sum { quantity, exact, parts })
    }

    fn total<'s>(
        &self,
        by: PricedBy,
        slabs: impl Iterator<Item = &'s Slab>,
    ) -> Result<Decimal, Overflow> {
        let each = slabs.map(|slab| quantity_in(by, self.line, slab));
        crate::quantity::total(each, "the quantity of a line")
    }

    /// What one slab comes to, where it is billed by the slab.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub(crate) fn exact(&self, slab: &Slab) -> Result<Exact, Overflow> {
        Ok(self.sum(std::iter::once(slab))?.exact)
    }

    /// The weight of a slab in its line's goods.
    ///
    /// # Errors
    /// Where the figure cannot be held exactly.
    pub(crate) fn weight(&self, slab: &Slab) -> Result<Exact, Overflow> {
        match self.plain(slab)? {
            Some(plain) => Ok(Exact::new(plain, self.line.price.currency)),
            None => self.exact(slab),
        }
    }

    /// The weights of slabs in their line's goods; one that is given free has none.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub(crate) fn weights<'s>(
        &self,
        slabs: impl Iterator<Item = Option<&'s Slab>> + Clone,
    ) -> Result<Weights, SpreadError> {
        if self.is_composite() && !self.weighs_money() {
            let nothing = || Ok(Exact::zero(self.line.price.currency));
            let each = slabs.map(|slab| slab.map_or_else(nothing, |slab| self.exact(slab)));
            return Weights::of_exact(&each.collect::<Result<Vec<_>, _>>()?);
        }
        let plain = |slab: Option<&Slab>| match slab {
            Some(slab) => self.plain(slab).map(Option::unwrap_or_default),
            None => Ok(Decimal::ZERO),
        };
        // Worked out more than once: a list of a million takes more room than all else here.
        if let Some(overflow) = slabs.clone().find_map(|slab| plain(slab).err()) {
            return Err(overflow.into());
        }
        Weights::of(slabs.map(|slab| plain(slab).unwrap_or_default()))
    }

    /// The weight of a slab where a decimal has it: money that is rounded, or a quantity at one price.
    fn plain(&self, slab: &Slab) -> Result<Option<Decimal>, Overflow> {
        if self.weighs_money() {
            return Ok(Some(self.exact(slab)?.round()?.amount()));
        }
        if self.is_composite() {
            return Ok(None);
        }
        match self.line.price.by {
            _ if self.line.block.is_some() => Ok(Some(slab.billed_area.base())),
            // Areas are in one proportion in every unit; the figure in square feet may be a rounded one.
            PricedBy::M2 | PricedBy::Ft2 => Ok(Some(slab.billed_area.base())),
            _ => self.quantity(slab).map(Some),
        }
    }
}

impl Tier {
    /// What so much of the line has of this tier, and what that comes to.
    fn of(&self, quantity: Decimal) -> Result<(Exact, PricedPart), Overflow> {
        let currency = self.price.currency;
        let what = self.from.map(|from| format!("from {from}"));
        let product = self.price.of(quantity);
        let shown = |exact: &Exact| exact.to_places(6).map(|figure| figure.normalize());
        if self.part == self.of {
            // As it was multiplied: a price has eight places, an area ten.
            let exact = product.figure(18).map_or_else(|| shown(&product), Ok)?;
            let part = PricedPart { what, price: self.price, quantity, exact };
            return Ok((product, part));
        }
        let [own, whole] = [self.part, self.of].map(|one| Exact::new(one, currency));
        let exact = product.share(&own, &whole);
        let quantity = shown(&Exact::new(quantity, currency).share(&own, &whole))?;
        let part = PricedPart { what, price: self.price, quantity, exact: shown(&exact)? };
        Ok((exact, part))
    }
}
