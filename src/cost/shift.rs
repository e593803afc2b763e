//! The shift in slab costs from sharing charges on a value by that value instead of by area.

use std::borrow::Cow;

use crate::bill::{Charge, ChargedOn, Sets, Spreader};
use crate::charges::by_slab;
use crate::fault::tried;
use crate::quantity::{Decimal, Money, Weights, ratio};
use crate::trade::{Key, Shipment, Treatment};

/// The largest shift on one slab, as a share of its landed cost.
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
    let is_on_value = |charge: &&Charge| {
        charge.charged_on.is_of_slabs() && charge.key == Key::Area && !charge.is_keyed
    };
    charges.iter().filter(is_on_value).collect()
}

/// The largest shift of one slab, if charges on a value were shared by that value. The price stands
/// for the customs value: what this has beside it is small and goes much as the price does. `None`
/// where nothing would move, or it cannot be worked out.
pub(super) fn shift(
    shipment: &Shipment,
    charges: &[Charge],
    sets: &Sets,
    landed: impl Fn(usize) -> Money,
) -> Option<Shift> {
    let mut spreader = Spreader::new(shipment);
    spreader.learn_goods(charges);
    let mut known: Vec<(ChargedOn, Weights)> = Vec::new();
    let mut moved = vec![0i64; shipment.slabs.len()];
    let stock = by_area(charges).into_iter().filter(|one| one.treatment == Treatment::Stock);
    for charge in stock {
        let insured = charge.charged_on == ChargedOn::Insured;
        let on = if insured { ChargedOn::Insured } else { ChargedOn::Goods };
        if !known.iter().any(|(one, _)| *one == on) {
            let own = tried(|report| by_slab(shipment, on, charges, sets, &mut spreader, report))?;
            known.push((on, own.ok()?));
        }
        let (_, worth) = known.iter().find(|(one, _)| *one == on)?;
        let units = charge.book().minor().ok()?;
        let members = || sets.members(charge.scope.set);
        let by_value = match charge.scope.set {
            Sets::ALL => Cow::Borrowed(worth),
            _ => Cow::Owned(worth.among(members())),
        };
        let by_area = tried(|report| spreader.weights(charge, sets, report))?;
        for (position, slab) in members().enumerate().filter(|_| !by_value.is_nothing()) {
            let by_value = by_value.cut(units, position).floor;
            *moved.get_mut(slab)? += by_value - by_area.cut(units, position).floor;
        }
    }
    let rank = |slab: usize| {
        let amount = Money::from_minor(*moved.get(slab)?, shipment.yard.currency);
        let hundredfold = amount.amount().checked_mul(Decimal::ONE_HUNDRED)?;
        Some(Shift { slab, amount, percent: ratio(hundredfold, landed(slab).amount(), 1)? })
    };
    let all = (0..moved.len()).filter_map(rank);
    all.max_by_key(|shift| (shift.percent.abs(), std::cmp::Reverse(shift.slab)))
}
