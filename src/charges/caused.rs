//! The duty and the premium that the charges of a box cause. The loader weighs them: where the regime
//! values at the border, dearer freight also raises the duty. The entry and the insurance charge them.
//!
//! Decided on 2026-11-26. Where duty and premium are not sure beforehand, the load is planned with the least
//! and with the most of them. It is proven where it is cheapest at both, as between them its cost is a
//! straight line.

use super::goods::goods;
use super::job::{Desk, Job};
use crate::bill::Sets;
use crate::customs::marginal;
use crate::fault::tried;
use crate::load::Plan;
use crate::price::{
    BoxCharge, Terms, Why, by_box, certified_in, importer_pays, is_import_tax, may_apply, premium,
};
use crate::quantity::{Decimal, Exact, Money, Percent};
use crate::trade::{ChargeRow, Leg, Rate, Regime, Treatment, WhatOf};

/// Cost and freight are taken to be at most so many times the goods (a choice of ours).
const MOST_OF_GOODS: i64 = 4;

/// The duty and the premium that a charge of a box causes: the least and the most of each. The two are
/// equal where all lines have one rate and no floor or cap is near.
#[derive(Debug, Default)]
pub(crate) struct Caused<'a> {
    regime: Option<&'a Regime>,
    /// What is levied on a part more of the value.
    duty: [Decimal; 2],
    /// The rates of insurance, each with the share that is insured.
    premiums: [Vec<(Percent, Percent)>; 2],
    /// Whether these are all.
    is_all: bool,
}

impl<'a> Caused<'a> {
    /// What charges of boxes cause under a choice of offers.
    pub(crate) fn of(desk: Desk<'_, 'a>, sets: &Sets) -> Self {
        let Desk { shipment, tariffs, choice, .. } = desk;
        let plan = Plan::none(shipment.yard.currency);
        let job = Job { shipment, tariffs, plan: &plan, choice };
        let regime = Terms::of(shipment, tariffs).regime_on(shipment.dates.entered).ok();
        let premiums = premiums(desk, &job, sets);
        let mut boxed = desk.order.purposes.iter().flat_map(|purpose| &purpose.rows);
        let is_dutiable = regime.is_some_and(|regime| {
            boxed.any(|row| by_box(row, shipment) && regime.adds.contains(&row.leg))
                || (regime.adds.contains(&Leg::Insurance)
                    && premiums.iter().any(|one| !one.is_empty()))
        });
        let (duty, is_all) =
            if is_dutiable { duty(desk, &job) } else { ([Decimal::ZERO; 2], true) };
        // A load changes in a straight line with one of the two, not with both.
        let [least, most] = &premiums;
        let is_one_sure = duty[0] == duty[1] || least.len() == most.len();
        Self { regime, duty, premiums, is_all: is_all && is_one_sure }
    }

    /// What a bill causes at least and at most, in the book currency; `None` for the most where that is
    /// not known.
    pub(super) fn by<'t>(
        &self,
        bill: &[BoxCharge<'t>],
        terms: &Terms<'t>,
    ) -> Result<(Money, Option<Money>), Vec<Why<'t>>>
    where
        'a: 't,
    {
        let least = self.sum(bill, terms, 0)?;
        let most = if self.is_all { Some(self.sum(bill, terms, 1)?) } else { None };
        Ok((least, most))
    }

    fn sum<'t>(
        &self,
        bill: &[BoxCharge<'t>],
        terms: &Terms<'t>,
        end: usize,
    ) -> Result<Money, Vec<Why<'t>>>
    where
        'a: 't,
    {
        let mut sum = Exact::zero(terms.book);
        let duty = self.duty.get(end).copied().unwrap_or_default();
        let premiums = self.premiums.get(end).map_or(&[][..], Vec::as_slice);
        let regime = self.regime.filter(|regime| regime.currency == terms.book);
        let is_counted = |charge: &&BoxCharge<'_>| {
            charge.priced.due.is_valued(charge.row.treatment) && !charge.priced.amount.is_zero()
        };
        for charge in bill.iter().filter(is_counted) {
            let leg = charge.row.leg;
            let mut premium_on_it = Exact::zero(terms.book);
            if leg <= Leg::MainCarriage {
                let book = Exact::from(charge.priced.book);
                for (rate, insured) in premiums {
                    let own = premium(*rate, *insured, &book).unwrap_or(Exact::zero(terms.book));
                    premium_on_it = add(&premium_on_it, &own, terms)?;
                }
            }
            sum = add(&sum, &premium_on_it, terms)?;
            let Some(regime) = regime else { continue };
            if regime.adds.contains(&leg) {
                let place = &charge.row.rate.place;
                let value = certified_in(terms, regime, charge.priced.amount, place);
                let value = value.map_err(|why| vec![why])?;
                sum = add(&sum, &value.times(duty), terms)?;
            }
            if regime.adds.contains(&Leg::Insurance) {
                sum = add(&sum, &premium_on_it.times(duty), terms)?;
            }
        }
        sum.round().map_err(|overflow| vec![terms.too_large(overflow)])
    }
}

fn add<'t>(one: &Exact, other: &Exact, terms: &Terms<'t>) -> Result<Exact, Vec<Why<'t>>> {
    one.plus(other).map_err(|overflow| vec![terms.too_large(overflow)])
}

/// The rows of a choice of some kind, in force on the day that chooses them.
fn rows<'o, 'a>(
    desk: Desk<'o, 'a>,
    of: impl Fn(&ChargeRow) -> bool + 'o,
) -> impl Iterator<Item = &'a ChargeRow> + 'o {
    let Desk { shipment, order, .. } = desk;
    let all = order.purposes.iter().flat_map(|purpose| purpose.rows.iter().copied());
    all.filter(move |row| {
        let on = shipment.dates.of(crate::price::chosen_by(row.table, row.leg));
        of(row) && row.valid.holds(on) && may_apply(shipment, row)
    })
}

/// What is levied on a part more of the customs value, at least and at most: duty, and fees, which may
/// stand at a floor or cap. An import tax that does not come back is on more than the value: then the
/// most is not known.
fn duty(desk: Desk<'_, '_>, job: &Job<'_>) -> ([Decimal; 2], bool) {
    let Some(([mut least, mut most], mut knows)) = marginal(&job.case()) else {
        return ([Decimal::ZERO; 2], false);
    };
    let levied = |row: &ChargeRow| {
        row.treatment != Treatment::Recoverable
            && (matches!(row.rate.value, Rate::Percent(_, WhatOf::EnteredValue))
                || is_import_tax(row))
    };
    for row in rows(desk, levied) {
        let Rate::Percent(rate, WhatOf::EnteredValue) = row.rate.value else {
            knows = false;
            continue;
        };
        most = most.checked_add(rate.fraction()).unwrap_or(most);
        let may_stand = row.minimum.is_some() || row.maximum.is_some();
        if !may_stand && row.exempt.is_none() {
            least = least.checked_add(rate.fraction()).unwrap_or(least);
        }
    }
    ([least, most], knows)
}

/// The insurance rates that grow with box costs, at least and at most; a rate at its floor or cap does not
/// grow.
fn premiums(desk: Desk<'_, '_>, job: &Job<'_>, sets: &Sets) -> [Vec<(Percent, Percent)>; 2] {
    let of_insured = |row: &ChargeRow| matches!(row.rate.value, Rate::Premium { .. });
    let insured: Vec<&ChargeRow> = rows(desk, of_insured).collect();
    let (mut least, mut most) = (Vec::new(), Vec::new());
    let bears = |row: &ChargeRow| {
        let mut invoices = job.shipment.carried();
        invoices.all(|invoice| importer_pays(invoice, row))
    };
    let worth = insured.iter().any(|row| row.minimum.is_some() || row.maximum.is_some());
    let worth = worth.then(|| value_of_goods(job, sets)).flatten();
    for row in insured {
        let Rate::Premium { rate, insured: share } = &row.rate.value else { continue };
        let at = |times: i64| {
            let worth = worth.as_ref()?.times(Decimal::from(times));
            premium(*rate, *share, &worth)
        };
        let reaches = |times: i64, bound: Money| {
            at(times).and_then(|one| one.compare(bound)).is_some_and(std::cmp::Ordering::is_ge)
        };
        // At the floor whatever the freight, or at the cap by the goods alone.
        let stands = row.minimum.is_some_and(|floor| !reaches(MOST_OF_GOODS, floor))
            || row.maximum.is_some_and(|cap| reaches(1, cap));
        if stands {
            continue;
        }
        most.push((*rate, *share));
        let is_free = row.minimum.is_none_or(|floor| reaches(1, floor))
            && row.maximum.is_none_or(|cap| !reaches(MOST_OF_GOODS, cap));
        if is_free && bears(row) {
            least.push((*rate, *share));
        }
    }
    [least, most]
}

/// What the goods come to, in the book currency.
fn value_of_goods(job: &Job<'_>, sets: &Sets) -> Option<Exact> {
    let goods = tried(|report| goods(job, &mut sets.clone(), report))?;
    let own = goods.charges.iter().filter(|charge| charge.is_price);
    let total = Money::total(job.shipment.yard.currency, own.map(crate::bill::Charge::book));
    total.ok().map(Exact::from)
}
