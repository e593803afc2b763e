//! Offers for one yard side by side: per square metre and square foot, leg by leg.
//!
//! Decided on 2026-11-25. Offers of different stones, even of one kind, are compared only where the user
//! says so. A price for another stone is no price for this one.

use std::collections::BTreeSet;

use crate::choose::{Costed, Fallen, Worth};
use crate::cost::LEG_GROUPS;
use crate::load::Verdict;
use crate::quantity::{Area, Currency, Decimal, Money, UnitCost, ratio};
use crate::trade::{Leg, LoadWishes, Shipment, Treatment};

/// What an offer is compared by.
#[derive(Debug)]
pub struct Offer {
    /// The shipment's name.
    pub name: String,
    /// The supplier.
    pub supplier: String,
    /// The delivery term.
    pub term: String,
    /// The stones.
    pub stones: BTreeSet<String>,
    /// The yard.
    pub yard: String,
    /// Whether it is nominal.
    pub nominal: bool,
    /// Billed area.
    pub area: Area,
    /// How many containers.
    pub containers: usize,
    /// Whether its load holds.
    pub verdict: Verdict,
    /// Offers of forwarders and hauliers that fell out.
    pub fallen: Vec<Fallen>,
    /// What it asks of its load.
    pub load: LoadWishes,
    /// The cost of each group of legs that is part of the slabs' cost.
    pub groups: [Money; LEG_GROUPS.len()],
    /// The landed cost.
    pub landed: Money,
    /// What is expensed.
    pub period: Money,
    /// What is only weighed.
    pub notional: Money,
    /// What it is compared by: landed, expensed and weighed together, and the wishes that its load breaks.
    pub worth: Worth,
}

/// Offers side by side, and how far each is from the best.
#[derive(Debug)]
pub struct Comparison {
    /// The book currency.
    pub currency: Currency,
    /// The offers, as they were named.
    pub offers: Vec<Offer>,
    /// For each offer, how far what it is compared by is above the best, per square metre.
    pub above_best: Vec<Gap>,
    /// The best offer, by position.
    pub best: usize,
}

/// How far an offer is above the best: nothing for the best itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// Per square metre, to four places.
    pub per_m2: Decimal,
    /// Per square foot, to four places.
    pub per_ft2: Decimal,
    /// On the offer's own area, to the minor unit.
    pub on_area: Money,
    /// In percent of the best, to one place.
    pub percent: Decimal,
}

/// Why offers cannot be compared as asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// They are of different stones.
    Stones(Vec<String>),
    /// They go to different yards.
    Yards(Vec<String>),
    /// Their yards keep books in different currencies.
    Currencies,
    /// One has no area, or the figures cannot be held.
    NoFigures,
}

/// What is compared although it differs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Across {
    /// Different kinds of stone.
    pub stones: bool,
    /// Different yards.
    pub yards: bool,
}

impl Offer {
    /// The offer of a costed shipment. `None` on overflow.
    pub fn of(shipment: &Shipment, costed: &Costed, kinds: BTreeSet<String>) -> Option<Self> {
        let landed = &costed.landed;
        let currency = landed.currency;
        let sum = |treatment: Treatment, from: Leg, to: Leg| {
            let chosen = landed.charges.iter().filter(|charge| {
                charge.treatment == treatment && (from..=to).contains(&charge.leg)
            });
            Money::total(currency, chosen.map(crate::bill::Charge::book)).ok()
        };
        let mut groups = [Money::zero(currency); LEG_GROUPS.len()];
        for (group, (_, from, to)) in groups.iter_mut().zip(LEG_GROUPS) {
            *group = sum(Treatment::Stock, from, to)?;
        }
        let invoices = &shipment.invoices;
        let join = |texts: BTreeSet<String>| texts.into_iter().collect::<Vec<_>>().join(", ");
        Some(Self {
            name: shipment.called(),
            supplier: join(invoices.iter().map(|invoice| invoice.supplier.clone()).collect()),
            term: join(invoices.iter().map(|invoice| invoice.term.value.to_string()).collect()),
            stones: kinds,
            yard: shipment.yard.id.clone(),
            nominal: shipment.is_nominal(),
            area: landed.headline.area,
            containers: costed.plan.boxes.len(),
            verdict: costed.verdict.clone(),
            fallen: costed.fallen.clone(),
            load: shipment.load.clone(),
            groups,
            landed: landed.total,
            period: sum(Treatment::Period, Leg::Goods, Leg::Unloading)?,
            notional: sum(Treatment::Notional, Leg::Goods, Leg::Unloading)?,
            worth: costed.worth(),
        })
    }
}

/// Compares offers. Offers of different kinds of stone or for different yards are compared only
/// where that is asked for: they are different goods.
///
/// # Errors
/// Why they cannot be compared.
pub fn compare(offers: Vec<Offer>, across: Across) -> Result<Comparison, Refusal> {
    let stones: BTreeSet<String> = offers
        .iter()
        .map(|offer| offer.stones.iter().cloned().collect::<Vec<_>>().join(" + "))
        .collect();
    if stones.len() > 1 && !across.stones {
        return Err(Refusal::Stones(stones.into_iter().collect()));
    }
    let yards: BTreeSet<String> = offers.iter().map(|offer| offer.yard.clone()).collect();
    if yards.len() > 1 && !across.yards {
        return Err(Refusal::Yards(yards.into_iter().collect()));
    }
    let currency = offers.first().map(|offer| offer.landed.currency()).ok_or(Refusal::NoFigures)?;
    if offers.iter().any(|offer| offer.landed.currency() != currency) {
        return Err(Refusal::Currencies);
    }
    let best = (0..offers.len())
        .min_by(|a, b| cheaper(offers.get(*a), offers.get(*b)))
        .ok_or(Refusal::NoFigures)?;
    let the_best = offers.get(best).ok_or(Refusal::NoFigures)?;
    let gaps = offers.iter().map(|offer| gap(offer, the_best)).collect::<Option<Vec<_>>>();
    let above_best = gaps.ok_or(Refusal::NoFigures)?;
    Ok(Comparison { currency, offers, above_best, best })
}

/// Orders offers by cost per area, exactly: by cross products, not by rounded quotients.
fn cheaper(one: Option<&Offer>, other: Option<&Offer>) -> std::cmp::Ordering {
    let product = |a: &Offer, b: &Offer| a.worth.sum().checked_mul(b.area.base());
    match (one, other) {
        (Some(one), Some(other)) => product(one, other).cmp(&product(other, one)),
        _ => std::cmp::Ordering::Equal,
    }
}

fn gap(offer: &Offer, best: &Offer) -> Option<Gap> {
    // worth / area - best worth / best area, over one denominator.
    let own = offer.worth.sum().checked_mul(best.area.base())?;
    let least = best.worth.sum().checked_mul(offer.area.base())?;
    let above = own.checked_sub(least)?;
    let areas = offer.area.base().checked_mul(best.area.base())?;
    let foot = Area::ft2(above).ok()?.base();
    let on_area = ratio(above, best.area.base(), best.landed.currency().minor_digits())?;
    Some(Gap {
        per_m2: ratio(above, areas, 4)?,
        per_ft2: ratio(foot, areas, 4)?,
        on_area: Money::exactly(on_area, best.landed.currency())?,
        percent: ratio(above.checked_mul(Decimal::ONE_HUNDRED)?, least, 1)?,
    })
}

impl Offer {
    /// An amount of this offer per square metre.
    pub fn per_m2(&self, amount: Money) -> Option<UnitCost> {
        UnitCost::per_m2(amount, self.area)
    }

    /// An amount of this offer per square foot.
    pub fn per_ft2(&self, amount: Money) -> Option<UnitCost> {
        UnitCost::per_ft2(amount, self.area)
    }
}
