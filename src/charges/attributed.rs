//! Charges shared by their base: a percentage of a value goes by each slab's part of the value.
//!
//! IAS 2, paragraphs 10 and 11, ask for directly attributable costs; sharing by area is a policy of this
//! tool.

use super::sums::Sums;
use crate::bill::{Charge, ChargedOn, SetId, Sets, Spreader, ValuePart, cannot_spread, weight_id};
use crate::customs::Entry;
use crate::fault::{Report, Reported};
use crate::quantity::{Exact, SpreadError, Weights};
use crate::trade::{Invoice, Key, Leg, Shipment};

/// A charge shared by its base gets each slab's part of the base; any other charge stays as it is.
pub(super) fn attributed(
    shipment: &Shipment,
    sums: &mut Sums<'_>,
    charge: Charge,
    report: &mut Report,
) -> Result<Charge, Reported> {
    let on = charge.charged_on;
    if charge.key != Key::Base || !on.is_of_slabs() {
        return Ok(charge);
    }
    let Sums { sets, spreader, charges, entries, .. } = sums;
    let entry = charge.on.entry().and_then(|at| entries.get(at));
    let own = match on {
        ChargedOn::Entered => entered_by_slab(shipment, entry, charges, sets, spreader, report)
            .map(|all| {
                let members = sets.members(charge.scope.set);
                let own: Vec<Exact> = members.filter_map(|at| all.get(at).cloned()).collect();
                Weights::of_exact(&own)
            }),
        _ => by_slab(shipment, on, charges, sets, spreader, report)
            .map(|all| Ok(all?.among(sets.members(charge.scope.set)))),
    };
    match own? {
        Ok(weights) => Ok(Charge { by: Some(weights.into()), ..charge }),
        Err(error) => Err(report.error(cannot_spread(&charge, error))),
    }
}

/// Weights in proportion to each slab's part of a base of charges: the goods at invoice price, or the insured
/// value.
pub(crate) fn by_slab(
    shipment: &Shipment,
    on: ChargedOn,
    charges: &[Charge],
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Result<Result<Weights, SpreadError>, Reported> {
    let counts = |charge: &&Charge| match on {
        ChargedOn::Goods => charge.is_price,
        ChargedOn::Insured => charge.leg <= Leg::MainCarriage && charge.is_valued(),
        _ => false,
    };
    // Charges that are shared by the same weights count as one: many boxes have many of one row.
    let mut like: Vec<(&Charge, Exact)> = Vec::new();
    for charge in charges.iter().filter(counts) {
        let amount = Exact::from(charge.book());
        let same = |one: &Charge| {
            one.by.is_none() && charge.by.is_none() && weight_id(one) == weight_id(charge)
        };
        match like.iter_mut().find(|(one, _)| same(one)) {
            Some((_, sum)) => *sum = report.fits(sum.plus(&amount), &charge.source)?,
            None => like.push((charge, amount)),
        }
    }
    let sets_of: Vec<SetId> = like.iter().map(|(charge, _)| charge.scope.set).collect();
    let shared = like.into_iter().map(|(charge, amount)| {
        spreader.weights(charge, sets, report).map(|weights| (amount, weights))
    });
    let shared = shared.collect::<Result<Vec<_>, _>>()?;
    let places = |at: usize| sets.members(sets_of.get(at).copied().unwrap_or(Sets::ALL));
    Ok(Weights::of_shares(shipment.slabs.len(), &shared, places))
}

/// Each slab's part of the customs value of an entry.
fn entered_by_slab(
    shipment: &Shipment,
    entry: Option<&Entry>,
    charges: &[Charge],
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Result<Vec<Exact>, Reported> {
    let entry = report.found(entry, "the entry of a charge on its value")?;
    let mut sums = vec![Exact::zero(entry.currency); shipment.slabs.len()];
    for line in &entry.lines {
        for part in &line.parts {
            let amount = report.fits(part.converted(), &part.place)?;
            let mut own: Vec<(usize, Exact)> = Vec::new();
            for charge in makers(shipment, part, charges) {
                let weights = spreader.weights(charge, sets, report)?;
                let whole = Exact::from(charge.amount());
                for (position, slab) in sets.members(charge.scope.set).enumerate() {
                    if sets.position(line.set, slab).is_some() {
                        own.push((slab, weights.share(&whole, std::iter::once(position))));
                    }
                }
            }
            let key: Vec<Exact> = own.iter().map(|(_, share)| share.clone()).collect();
            // Where nothing it is made of lies on these slabs, it goes by what they have so far.
            let (slabs, key): (Vec<usize>, Vec<Exact>) = if key.iter().all(Exact::is_zero) {
                let all = sets.members(line.set);
                all.filter_map(|at| Some((at, sums.get(at)?.clone()))).unzip()
            } else {
                (own.iter().map(|(slab, _)| *slab).collect(), key)
            };
            let Ok(weights) = Weights::of_exact(&key) else { continue };
            for (position, slab) in slabs.into_iter().enumerate() {
                if let Some(sum) = sums.get_mut(slab) {
                    let share = weights.share(&amount, std::iter::once(position));
                    *sum = report.fits(sum.plus(&share), &part.place)?;
                }
            }
        }
    }
    Ok(sums)
}

/// The charges by which a part of a customs value is shared: those of its own row or line; for an amount
/// stated or added by an invoice, the invoice's goods.
fn makers<'c>(shipment: &Shipment, part: &ValuePart, charges: &'c [Charge]) -> Vec<&'c Charge> {
    let own: Vec<&Charge> = charges.iter().filter(|charge| charge.source == part.place).collect();
    if !own.is_empty() {
        return own;
    }
    let states = |invoice: &Invoice| {
        invoice.stated.iter().any(|one| one.amount.place == part.place)
            || invoice.additions.iter().any(|one| one.amount.place == part.place)
    };
    let Some(invoice) = shipment.invoices.iter().position(states) else { return Vec::new() };
    let of_invoice = |charge: &&Charge| {
        let line = charge.goods_of.and_then(|at| shipment.lines.get(at));
        line.is_some_and(|line| line.invoice == invoice)
    };
    charges.iter().filter(of_invoice).collect()
}
