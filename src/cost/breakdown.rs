//! Sums of slabs: by slab, bundle, container or line, so that every table foots (rule R4).

use std::collections::BTreeMap;

use super::groups::LEG_GROUPS;
use super::landed::Landed;
use crate::bill::Charge;
use crate::load::{Plan, Variant};
use crate::quantity::{Area, Money, UnitCost};
use crate::trade::{Leg, Shipment, Slab};

/// What a landed cost is broken down by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// Slab by slab.
    Slab,
    /// Bundle by bundle.
    Bundle,
    /// Container by container.
    Container,
    /// Line by line.
    Line,
}

/// One part of a breakdown: a slab, or the sum of some.
#[derive(Debug, Clone)]
pub struct Part {
    /// The first of its slabs, by position: what it is called after.
    pub slab: usize,
    /// How many slabs it has.
    pub slabs: usize,
    /// Their billed area.
    pub area: Area,
    /// Their cost by group of legs.
    pub groups: [Money; LEG_GROUPS.len()],
    /// Their cost.
    pub cost: Money,
}

impl Part {
    fn empty(slab: usize, landed: &Landed) -> Self {
        let none = Money::zero(landed.currency);
        Self { slab, slabs: 0, area: Area::ZERO, groups: [none; 4], cost: none }
    }

    /// The cost per square metre.
    pub fn per_m2(&self) -> Option<UnitCost> {
        UnitCost::per_m2(self.cost, self.area)
    }

    /// The cost per square foot.
    pub fn per_ft2(&self) -> Option<UnitCost> {
        UnitCost::per_ft2(self.cost, self.area)
    }

    fn add(&mut self, other: &Self) -> Option<()> {
        self.slabs += other.slabs;
        self.area = self.area.plus(other.area).ok()?;
        for (sum, part) in self.groups.iter_mut().zip(other.groups) {
            *sum = sum.plus(part).ok()?;
        }
        self.cost = self.cost.plus(other.cost).ok()?;
        Some(())
    }
}

/// A landed cost with what each slab bears of each group of legs.
#[derive(Debug)]
pub struct Breakdown<'a> {
    shipment: &'a Shipment,
    landed: &'a Landed,
    boxes: Vec<usize>,
    plan: &'a Plan,
}

impl<'a> Breakdown<'a> {
    /// Finds the box of every bundle.
    pub fn new(shipment: &'a Shipment, landed: &'a Landed, plan: &'a Plan) -> Self {
        let mut boxes = vec![usize::MAX; shipment.bundles.len()];
        for (index, filled) in plan.boxes.iter().enumerate() {
            for bundle in &filled.bundles {
                if let Some(slot) = boxes.get_mut(*bundle) {
                    *slot = index;
                }
            }
        }
        Self { shipment, landed, boxes, plan }
    }

    /// The label of the box a slab travels in; empty where that is not known.
    pub fn box_label(&self, slab: &Slab) -> &'a str {
        let index = usize::try_from(slab.bundle).ok().and_then(|bundle| self.boxes.get(bundle));
        index.and_then(|index| self.plan.boxes.get(*index)).map_or("", |filled| &filled.label)
    }

    /// The variant of the box a slab travels in.
    pub fn box_variant(&self, slab: &Slab) -> String {
        let index = usize::try_from(slab.bundle).ok().and_then(|bundle| self.boxes.get(bundle));
        let filled = index.and_then(|index| self.plan.boxes.get(*index));
        filled.and_then(|filled| self.plan.variant(filled)).map_or_else(String::new, Variant::label)
    }

    /// One slab.
    pub fn slab(&self, index: usize) -> Option<Part> {
        let slab = self.shipment.slabs.get(index)?;
        let money = |minor: i64| Money::from_minor(minor, self.landed.currency);
        let groups = self.landed.groups_of(index);
        Some(Part {
            slab: index,
            slabs: 1,
            area: slab.billed_area,
            groups: groups.map(money),
            cost: money(groups.iter().sum()),
        })
    }

    /// Every part, in the order in which their slabs first come. `None` on overflow.
    pub fn parts(&self, by: By) -> Option<Vec<Part>> {
        let mut parts: Vec<Part> = Vec::new();
        let mut known: BTreeMap<usize, usize> = BTreeMap::new();
        for (index, slab) in self.shipment.slabs.iter().enumerate() {
            let bundle = usize::try_from(slab.bundle).ok()?;
            let key = match by {
                By::Slab => index,
                By::Bundle => bundle,
                By::Container => self.boxes.get(bundle).copied()?,
                By::Line => usize::try_from(slab.line).ok()?,
            };
            let at = *known.entry(key).or_insert_with(|| {
                parts.push(Part::empty(index, self.landed));
                parts.len() - 1
            });
            let one = self.slab(index)?;
            parts.get_mut(at)?.add(&one)?;
        }
        Some(parts)
    }

    /// The whole shipment. `None` on overflow.
    pub fn whole(&self) -> Option<Part> {
        let mut whole = Part::empty(0, self.landed);
        whole.slabs = self.shipment.slabs.len();
        whole.area = self.landed.headline.area;
        for (sum, minor) in whole.groups.iter_mut().zip(self.landed.group_totals()?) {
            *sum = Money::from_minor(minor, self.landed.currency);
        }
        whole.cost = self.landed.total;
        Some(whole)
    }
}

/// Charges of one row together: their count and sum.
#[derive(Debug)]
pub struct ChargeSum<'a> {
    /// The first of them.
    pub first: &'a Charge,
    /// How many.
    pub count: usize,
    /// What they come to in the currency they are charged in.
    pub amount: Money,
    /// What they come to in the book currency.
    pub book: Money,
}

/// The charges of a landed cost, those of one row and price together, in the order of the legs.
/// `None` on overflow.
pub fn charge_sums(landed: &Landed) -> Option<Vec<ChargeSum<'_>>> {
    // By name, leg, and the file and line of the row.
    type RowId<'a> = (&'a str, Leg, (&'a str, usize));
    let mut sums: Vec<ChargeSum<'_>> = Vec::new();
    let mut known: BTreeMap<RowId<'_>, usize> = BTreeMap::new();
    for charge in &landed.charges {
        let place = (&*charge.source.file, charge.source.line);
        let at = *known.entry((&charge.name, charge.leg, place)).or_insert_with(|| {
            let amount = Money::zero(charge.amount().currency());
            let book = Money::zero(landed.currency);
            sums.push(ChargeSum { first: charge, count: 0, amount, book });
            sums.len() - 1
        });
        let sum = sums.get_mut(at)?;
        sum.count += 1;
        sum.amount = sum.amount.plus(charge.amount()).ok()?;
        sum.book = sum.book.plus(charge.book()).ok()?;
    }
    sums.sort_by_key(|sum| sum.first.leg);
    Some(sums)
}
