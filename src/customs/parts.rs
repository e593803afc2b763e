//! Exact parts of an amount by lot: by what a charge was counted by, never by who shares it.
//!
//! The freight of a box belongs to the entry of the goods in it, and what is stated as one sum is split
//! by the unit it is charged in, then by mass. Charges on a price are split by price: a discount, a
//! commission, a premium of insurance.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::lots::{Lot, Split};
use crate::bill::{Charge, ChargedOn, Heap, Object, SetId, SetName, Sets, Worth, free_slabs};
use crate::fault::{Code, Fault, Place};
use crate::load::FilledBox;
use crate::quantity::{Decimal, Exact, Money, Overflow, SpreadError, Weights, sum, total};
use crate::trade::{Covers, Leg, ScopeKind, Shipment, StatedLeg};

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
        if let [lot] = self.split.lots[..] {
            return Ok(BTreeMap::from([(lot, amount)]));
        }
        let heaps = self.heaps(charge.on.set, sets, place)?;
        if let Some(lot) = self.only_lot(&heaps) {
            return Ok(BTreeMap::from([(lot, amount)]));
        }
        let by = |of: fn(&Heap) -> Decimal| self.by_figure(&amount, heaps.iter(), of);
        let parts = match (charge.goods_of, charge.charged_on) {
            (Some(line), _) => {
                let slabs: Vec<usize> = sets.members(charge.on.set).collect();
                self.goods(line, &slabs).and_then(|weights| self.weighed(&amount, &slabs, &weights))
            }
            (
                None,
                ChargedOn::Goods | ChargedOn::Insured | ChargedOn::Entered | ChargedOn::Worth,
            ) => {
                // An invoice's items go by its own currency.
                let own = matches!(charge.on.object, Object::Invoice(_) | Object::Line(_));
                let of = if own { Charge::amount } else { Charge::book };
                let is_in = |heap: &Heap| sets.holds(charge.on.set, heap.first);
                return self.by_value(&amount, sets, of, &is_in, place);
            }
            (None, ChargedOn::Area) => by(|heap| heap.tally.billed.base()),
            (None, ChargedOn::Count) => by(|heap| heap.count.into()),
            (None, ChargedOn::Mass) => by(|heap| heap.tally.mass.base()),
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
        let all = match sets.named(&name) {
            Some(set) => self.heaps(set, sets, place)?,
            None => Arc::from([]),
        };
        let bill = stated.bill.as_ref();
        let bill =
            bill.and_then(|bill| self.shipment.bills.iter().find(|one| one.number == **bill));
        let covers = bill.map_or(&Covers::Everything, |bill| &bill.covers);
        let on_bill = |heap: &Heap| self.shipment.covered(covers, heap.line, heap.bundle);
        if stated.by_price || matches!(stated.leg, Leg::Insurance | Leg::DutyAndTax) {
            let is_in = |heap: &Heap| {
                on_bill(heap)
                    && all.iter().any(|one| (one.line, one.bundle) == (heap.line, heap.bundle))
            };
            return self.by_value(&amount, sets, Charge::amount, &is_in, place);
        }
        if let [lot] = self.split.lots[..] {
            let is_some = all.iter().any(on_bill);
            return Ok(is_some.then_some((lot, amount)).into_iter().collect());
        }
        let inside = self.by_box(all.iter().filter(|heap| on_bill(heap)));
        let boxes = u128::try_from(inside.len()).unwrap_or(0);
        let mut all = ByLot::new();
        for heaps in inside.into_values() {
            let of_box = amount.weighed(1, boxes);
            let parts = self.by_figure(&of_box, heaps.into_iter(), |heap| heap.tally.mass.base());
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
        let is_in = |heap: &Heap| {
            usize::try_from(heap.line).is_ok_and(|line| self.shipment.bills(invoice, line))
        };
        self.by_value(amount, sets, Charge::amount, &is_in, place)
    }

    /// The slabs of a set by line and bundle.
    fn heaps(&self, set: SetId, sets: &Sets, place: &Place) -> Result<Arc<[Heap]>, Box<Fault>> {
        sets.heaps(set, self.shipment).map_err(|overflow| nothing(&overflow.into(), place))
    }

    /// The lot that all of some slabs are of.
    fn only_lot(&self, heaps: &[Heap]) -> Option<Lot> {
        if let [lot] = self.split.lots[..] {
            return Some(lot);
        }
        let mut lots = heaps.iter().map(|heap| self.lot_of_heap(heap));
        let first = lots.next()??;
        lots.all(|lot| lot == Some(first)).then_some(first)
    }

    fn lot_of_heap(&self, heap: &Heap) -> Option<Lot> {
        self.split.lot(usize::try_from(heap.line).ok()?, usize::try_from(heap.bundle).ok()?)
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
    fn by_figure<'h>(
        &self,
        amount: &Exact,
        heaps: impl Iterator<Item = &'h Heap>,
        of: fn(&Heap) -> Decimal,
    ) -> Result<ByLot, SpreadError> {
        let mut sums: BTreeMap<Lot, Decimal> = BTreeMap::new();
        for heap in heaps {
            let lot = self.lot_of_heap(heap).ok_or(SpreadError::NoWeight)?;
            let own = sums.entry(lot).or_default();
            *own = sum(*own, of(heap), "a figure of some slabs")?;
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
        is_in: &dyn Fn(&Heap) -> bool,
        place: &Place,
    ) -> Result<ByLot, Box<Fault>> {
        let mut values = ByLot::new();
        let mut whole: Option<Exact> = None;
        for charge in self.charges {
            let Some(line) = charge.goods_of else { continue };
            let heaps = self.heaps(charge.on.set, sets, place)?;
            let counted = || heaps.iter().filter(|heap| is_in(heap));
            let is_whole = counted().count() == heaps.len();
            if counted().next().is_none() {
                continue;
            }
            let billed = Exact::from(of(charge));
            let wrong = |error: &SpreadError| nothing(error, place);
            let parts = match self.only_lot(&heaps) {
                Some(lot) if is_whole => ByLot::from([(lot, billed)]),
                _ => {
                    let slabs: Vec<usize> = sets.members(charge.on.set).collect();
                    let weights = self.goods(line, &slabs).map_err(|error| wrong(&error))?;
                    let counted: BTreeSet<(u32, u32)> =
                        counted().map(|heap| (heap.line, heap.bundle)).collect();
                    let is_in = |at: usize| {
                        let slab = self.shipment.slabs.get(at);
                        slab.is_some_and(|slab| counted.contains(&(slab.line, slab.bundle)))
                    };
                    self.shares(&billed, (&slabs, &weights), &is_in)
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
    fn by_box<'h>(
        &self,
        heaps: impl Iterator<Item = &'h Heap>,
    ) -> BTreeMap<Option<usize>, Vec<&'h Heap>> {
        let mut inside: BTreeMap<Option<usize>, Vec<&Heap>> = BTreeMap::new();
        for heap in heaps {
            let bundle = usize::try_from(heap.bundle).ok();
            let holds =
                |filled: &FilledBox| bundle.is_some_and(|one| filled.bundles.contains(&one));
            inside.entry(self.boxes.iter().position(holds)).or_default().push(heap);
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
