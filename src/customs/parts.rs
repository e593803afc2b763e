//! Exact parts of an amount by lot: by what a charge was counted by, never by who shares it.
//!
//! The freight of a box belongs to the entry of the goods in it, and what is stated as one sum is split
//! by the unit it is charged in, then by mass. Charges on a price are split by price: a discount, a
//! commission, a premium of insurance.

use std::collections::{BTreeMap, BTreeSet};

use super::lots::{Lot, Split};
use crate::bill::{Charge, ChargedOn, Object, SetName, Sets, Worth, free_slabs};
use crate::fault::{Code, Fault, Place};
use crate::load::FilledBox;
use crate::quantity::{Decimal, Exact, Money, Overflow, SpreadError, Weights, sum, total};
use crate::trade::{Covers, Leg, ScopeKind, Shipment, Slab, StatedLeg};

/// Parts of an amount, by lot.
pub(crate) type ByLot = BTreeMap<Lot, Exact>;

/// The measures by which amounts are divided over lots.
pub(crate) struct Parts<'a> {
    shipment: &'a Shipment,
    split: &'a Split<'a>,
    boxes: &'a [FilledBox],
    charges: &'a [Charge],
    free: BTreeSet<usize>,
}

impl<'a> Parts<'a> {
    /// Of a shipment in these boxes, whose goods are among these charges.
    pub(crate) fn new(
        shipment: &'a Shipment,
        split: &'a Split<'a>,
        boxes: &'a [FilledBox],
        charges: &'a [Charge],
    ) -> Self {
        Self { shipment, split, boxes, charges, free: free_slabs(shipment) }
    }

    /// A charge's amount by lot, in its own currency. The key that a policy spreads it by is a matter of
    /// the books and changes nothing here.
    pub(crate) fn of_charge(&self, charge: &Charge, sets: &Sets) -> Result<ByLot, Box<Fault>> {
        let amount = Exact::from(charge.amount());
        let place = &charge.source;
        if let Some(lot) = self.only_lot(sets.members(charge.on.set)) {
            return Ok(BTreeMap::from([(lot, amount)]));
        }
        let slabs: Vec<usize> = sets.members(charge.on.set).collect();
        let by = |of: fn(&Slab) -> Decimal| self.by_figure(&amount, &slabs, of);
        let parts = match (charge.goods_of, charge.charged_on) {
            (Some(line), _) => {
                self.goods(line, &slabs).and_then(|weights| self.weighed(&amount, &slabs, &weights))
            }
            (
                None,
                ChargedOn::Goods | ChargedOn::Insured | ChargedOn::Entered | ChargedOn::Worth,
            ) => {
                // An invoice's items go by its own currency.
                let own = matches!(charge.on.object, Object::Invoice(_) | Object::Line(_));
                let of = if own { Charge::amount } else { Charge::book };
                let is_in = |at| sets.position(charge.on.set, at).is_some();
                return self.by_value(&amount, sets, of, &is_in, place);
            }
            (None, ChargedOn::Area) => by(|slab| slab.billed_area.base()),
            (None, ChargedOn::Count) => by(|_| Decimal::ONE),
            (None, ChargedOn::Mass) => by(|slab| slab.mass.base()),
        };
        parts.map_err(|error| nothing(&error, place))
    }

    /// What an invoice states apart of a leg inside its price, by lot: by the boxes that its goods are
    /// in, or those of the bill of lading that it is stated for, each alike, and inside a box by mass;
    /// what is charged on a value, by price.
    pub(crate) fn of_stated(
        &self,
        stated: &StatedLeg,
        invoice: usize,
        sets: &Sets,
    ) -> Result<ByLot, Box<Fault>> {
        let amount = Exact::from(stated.amount.value);
        let place = &stated.amount.place;
        let name = SetName::Part(ScopeKind::Invoice, invoice, Sets::ALL);
        let all = sets.named(&name).into_iter().flat_map(|set| sets.members(set));
        let bill = stated.bill.as_ref();
        let bill =
            bill.and_then(|bill| self.shipment.bills.iter().find(|one| one.number == **bill));
        let covers = bill.map_or(&Covers::Everything, |bill| &bill.covers);
        let on_bill = |at: &usize| {
            let slab = self.shipment.slabs.get(*at);
            slab.is_some_and(|slab| self.shipment.covered(covers, slab.line, slab.bundle))
        };
        let slabs: Vec<usize> = all.filter(on_bill).collect();
        if stated.by_price || matches!(stated.leg, Leg::Insurance | Leg::DutyAndTax) {
            let is_in = |at| slabs.binary_search(&at).is_ok();
            return self.by_value(&amount, sets, Charge::amount, &is_in, place);
        }
        let inside = self.by_box(&slabs);
        let boxes = u128::try_from(inside.len()).unwrap_or(0);
        let mut all = ByLot::new();
        for slabs in inside.values() {
            let of_box = amount.weighed(1, boxes);
            let parts = self.by_figure(&of_box, slabs, |slab| slab.mass.base());
            for (lot, part) in parts.map_err(|error| nothing(&error, place))? {
                add(&mut all, lot, &part).map_err(|error| nothing(&error.into(), place))?;
            }
        }
        Ok(all)
    }

    /// What an invoice's goods are worth beside its price, by lot: by the price of each.
    pub(crate) fn of_addition(
        &self,
        amount: &Exact,
        invoice: usize,
        sets: &Sets,
        place: &Place,
    ) -> Result<ByLot, Box<Fault>> {
        let is_in = |at: usize| {
            let slab = self.shipment.slabs.get(at);
            let line = slab.and_then(|slab| usize::try_from(slab.line).ok());
            line.is_some_and(|line| self.shipment.bills(invoice, line))
        };
        self.by_value(amount, sets, Charge::amount, &is_in, place)
    }

    /// The lot that all of some slabs are of.
    fn only_lot(&self, slabs: impl Iterator<Item = usize>) -> Option<Lot> {
        if let [lot] = self.split.lots[..] {
            return Some(lot);
        }
        let mut lots = slabs.map(|at| self.lot_of(at));
        let first = lots.next()??;
        lots.all(|lot| lot == Some(first)).then_some(first)
    }

    fn lot_of(&self, slab: usize) -> Option<Lot> {
        self.split.lot_of(self.shipment.slabs.get(slab)?)
    }

    /// What slabs weigh in their line's goods.
    fn goods(&self, line: usize, slabs: &[usize]) -> Result<Weights, SpreadError> {
        let line = self.shipment.lines.get(line).ok_or(SpreadError::NoWeight)?;
        let billed = slabs.iter().map(|at| {
            let slab = self.shipment.slabs.get(*at);
            slab.filter(|_| !self.free.contains(at))
        });
        Worth::of(self.shipment, &self.free, line)?.weights(billed)
    }

    /// An amount by lot, by a figure of each of some slabs.
    fn by_figure(
        &self,
        amount: &Exact,
        slabs: &[usize],
        of: fn(&Slab) -> Decimal,
    ) -> Result<ByLot, SpreadError> {
        let mut sums: BTreeMap<Lot, Decimal> = BTreeMap::new();
        for at in slabs {
            let slab = self.shipment.slabs.get(*at).ok_or(SpreadError::NoWeight)?;
            let lot = self.split.lot_of(slab).ok_or(SpreadError::NoWeight)?;
            let own = sums.entry(lot).or_default();
            *own = sum(*own, of(slab), "a figure of some slabs")?;
        }
        let whole = total(sums.values().copied().map(Ok), "a figure of some slabs")?;
        if whole.is_zero() && !amount.is_zero() {
            return Err(SpreadError::NoWeight);
        }
        let figure = |figure| Exact::new(figure, amount.currency());
        let share = |(lot, own)| (lot, amount.share(&figure(own), &figure(whole)));
        Ok(sums.into_iter().map(share).collect())
    }

    /// An amount by lot, by what each of some slabs weighs.
    fn weighed(
        &self,
        amount: &Exact,
        slabs: &[usize],
        weights: &Weights,
    ) -> Result<ByLot, SpreadError> {
        if weights.is_nothing() && !amount.is_zero() {
            return Err(SpreadError::NoWeight);
        }
        if slabs.iter().any(|at| self.lot_of(*at).is_none()) {
            return Err(SpreadError::NoWeight);
        }
        Ok(self.shares(amount, (slabs, weights), &|_| true))
    }

    /// An amount is shared by some slabs, by what each weighs. This is what falls on those that count, lot by lot.
    fn shares(
        &self,
        amount: &Exact,
        (slabs, weights): (&[usize], &Weights),
        is_in: &dyn Fn(usize) -> bool,
    ) -> ByLot {
        let mut parts: BTreeMap<Lot, Vec<usize>> = BTreeMap::new();
        for (position, at) in slabs.iter().enumerate().filter(|(_, at)| is_in(**at)) {
            if let Some(lot) = self.lot_of(*at) {
                parts.entry(lot).or_default().push(position);
            }
        }
        let share = |(lot, own): (Lot, Vec<usize>)| (lot, weights.share(amount, own.into_iter()));
        parts.into_iter().map(share).collect()
    }

    /// An amount by lot, by what is billed for the slabs that count.
    fn by_value(
        &self,
        amount: &Exact,
        sets: &Sets,
        of: fn(&Charge) -> Money,
        is_in: &dyn Fn(usize) -> bool,
        place: &Place,
    ) -> Result<ByLot, Box<Fault>> {
        let mut values = ByLot::new();
        let mut whole: Option<Exact> = None;
        for charge in self.charges {
            let Some(line) = charge.goods_of else { continue };
            let slabs: Vec<usize> = sets.members(charge.on.set).collect();
            if !slabs.iter().any(|at| is_in(*at)) {
                continue;
            }
            let billed = Exact::from(of(charge));
            let wrong = |error: &SpreadError| nothing(error, place);
            let parts = match self.only_lot(slabs.iter().copied()) {
                Some(lot) if slabs.iter().all(|at| is_in(*at)) => ByLot::from([(lot, billed)]),
                _ => {
                    let weights = self.goods(line, &slabs).map_err(|error| wrong(&error))?;
                    self.shares(&billed, (&slabs, &weights), is_in)
                }
            };
            for (lot, value) in parts {
                add(&mut values, lot, &value).map_err(|error| wrong(&error.into()))?;
                let sum = whole.as_ref().map_or(Ok(value.clone()), |sum| sum.plus(&value));
                whole = Some(sum.map_err(|error| wrong(&error.into()))?);
            }
        }
        let whole = whole.unwrap_or_else(|| amount.clone());
        if !amount.is_zero() && whole.is_zero() {
            return Err(nothing(&SpreadError::NoWeight, place));
        }
        Ok(values.into_iter().map(|(lot, value)| (lot, amount.share(&value, &whole))).collect())
    }

    /// Some slabs by the box they are in; those in none are together.
    fn by_box(&self, slabs: &[usize]) -> BTreeMap<Option<usize>, Vec<usize>> {
        let mut inside: BTreeMap<Option<usize>, Vec<usize>> = BTreeMap::new();
        for at in slabs {
            let bundle =
                self.shipment.slabs.get(*at).and_then(|slab| usize::try_from(slab.bundle).ok());
            let holds =
                |filled: &FilledBox| bundle.is_some_and(|one| filled.bundles.contains(&one));
            inside.entry(self.boxes.iter().position(holds)).or_default().push(*at);
        }
        inside
    }
}

/// Adds a part to what a lot has.
fn add(parts: &mut ByLot, lot: Lot, part: &Exact) -> Result<(), Overflow> {
    let sum = match parts.get(&lot) {
        Some(sum) => sum.plus(part)?,
        None => part.clone(),
    };
    parts.insert(lot, sum);
    Ok(())
}

fn nothing(error: &SpreadError, place: &Place) -> Box<Fault> {
    let fault = match error {
        SpreadError::NoWeight => Fault::error(
            Code::NothingToSpread,
            "an amount cannot be divided over the lines of an entry: they cost or weigh nothing",
        ),
        SpreadError::Negative(_) | SpreadError::Overflow => {
            Fault::error(Code::Overflow, "the figures are too large to divide exactly")
        }
    };
    Box::new(fault.at(place, "stated here"))
}
