//! What it would move to let charges on a value go by that value, where they go by area.

use crate::bill::{Charge, ChargedOn, Sets, Spreader};
use crate::customs::Entry;
use crate::fault::Report;
use crate::quantity::{Decimal, Money, ratio};
use crate::trade::{Key, Leg, Shipment, Treatment};

/// What it would move to let charges on a value go by that value: most for a slab, as a share of what
/// it lands at.
#[derive(Debug)]
pub(super) struct Shift {
    /// The slab, by position.
    pub(super) slab: usize,
    /// How much it would land at more, or less.
    pub(super) amount: Money,
    /// The same in percent of what it lands at, to one place.
    pub(super) percent: Decimal,
}

/// The names of the charges on a value that go by area, as the rule has it.
pub(super) fn by_area(charges: &[Charge]) -> Vec<&Charge> {
    let is_on_value = |charge: &&Charge| charge.charged_on.is_some() && charge.key == Key::Area;
    charges.iter().filter(is_on_value).collect()
}

/// What charges are on, of which entry, and each slab's part of it.
type Known = ((ChargedOn, Option<usize>), Vec<i128>);

/// How far the slab that it moves most would move, if charges on a value went by it; in whole cents of
/// each part, which is near enough to be told. `None` where nothing would move, or it cannot be said.
pub(super) fn shift(
    shipment: &Shipment,
    (charges, entries): (&[Charge], &[Entry]),
    sets: &Sets,
    landed: impl Fn(usize) -> Money,
) -> Option<Shift> {
    let own = by_area(charges);
    let stock = own.into_iter().filter(|one| one.treatment == Treatment::Stock);
    let mut report = Report::new();
    let mut spreader = Spreader::new(shipment);
    spreader.learn_goods(charges);
    let mut known: Vec<Known> = Vec::new();
    let mut moved = vec![0i128; shipment.slabs.len()];
    for charge in stock {
        let on = (charge.charged_on?, charge.on.entry());
        if !known.iter().any(|(one, _)| *one == on) {
            let entry = charge.on.entry().and_then(|at| entries.get(at));
            let worth =
                roughly(shipment, (on.0, entry), charges, sets, &mut spreader, &mut report)?;
            known.push((on, worth));
        }
        let (_, worth) = known.iter().find(|(one, _)| *one == on)?;
        let units = charge.book().minor().ok()?;
        let area = spreader.weights(charge, sets, &mut report)?;
        let members = || sets.members(charge.scope.set);
        let total: i128 = members().filter_map(|at| worth.get(at)).sum();
        if total <= 0 {
            continue;
        }
        for (position, slab) in members().enumerate() {
            let by_value = i128::from(units).checked_mul(*worth.get(slab)?)? / total;
            *moved.get_mut(slab)? += by_value - i128::from(area.cut(units, position).floor);
        }
    }
    let rank = |slab: usize| {
        let by = i64::try_from(*moved.get(slab)?).ok()?;
        let amount = Money::from_minor(by, shipment.yard.currency);
        let hundredfold = amount.amount().checked_mul(Decimal::ONE_HUNDRED)?;
        Some(Shift { slab, amount, percent: ratio(hundredfold, landed(slab).amount(), 1)? })
    };
    let all = (0..moved.len()).filter_map(rank);
    all.max_by(|one, other| {
        let size = |shift: &Shift| (shift.percent.abs(), std::cmp::Reverse(shift.slab));
        size(one).cmp(&size(other))
    })
}

/// Each slab's part of what charges are on, in whole minor units of every part.
fn roughly(
    shipment: &Shipment,
    (on, entry): (ChargedOn, Option<&Entry>),
    charges: &[Charge],
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<Vec<i128>> {
    let mut sums = vec![0i128; shipment.slabs.len()];
    let mut add = |charge: &Charge, units: i64, report: &mut Report| {
        let weights = spreader.weights(charge, sets, report)?;
        for (position, slab) in sets.members(charge.scope.set).enumerate() {
            *sums.get_mut(slab)? += i128::from(weights.cut(units, position).floor);
        }
        Some(())
    };
    // Charges of one row on one set count as one: a shipment of many boxes has many.
    let mut like: Vec<(&Charge, i64)> = Vec::new();
    let counts = |charge: &&Charge| match on {
        ChargedOn::Goods => charge.is_price,
        ChargedOn::Insured => charge.leg <= Leg::MainCarriage && charge.is_cost(),
        // What the value has beside the price is small, and goes much as the price does.
        ChargedOn::Entered => charge.is_price && entry.is_some(),
    };
    for charge in charges.iter().filter(counts) {
        let units = charge.book().minor().ok()?;
        let same = |one: &Charge| {
            one.scope.set == charge.scope.set
                && one.key == charge.key
                && one.goods_of == charge.goods_of
                && one.scope.kind == charge.scope.kind
        };
        match like.iter_mut().find(|(one, _)| same(one)) {
            Some((_, sum)) => *sum = sum.checked_add(units)?,
            None => like.push((charge, units)),
        }
    }
    for (charge, units) in like {
        add(charge, units, report)?;
    }
    Some(sums)
}
