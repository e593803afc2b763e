//! What reaching the next step of a price would cost, and save: both quantities costed whole.
//!
//! Decided on 2026-11-27. A saving on the goods alone misled: one bundle more may take another box. So the
//! shipment is costed again with so many more bundles that the step is reached.

use super::cheapest::{Costed, estimate};
use super::more::with_more;
use crate::bill::{Worth, counted, free_slabs, ordered};
use crate::fault::tried;
use crate::load::{Effort, median};
use crate::quantity::{Exact, Money, Ordered, Overflow, PricedBy, count_of};
use crate::trade::{Applies, Line, Shipment, Slab, Step, Tariffs};

/// So many more bundles are tried, at most.
const MOST_BUNDLES: usize = 24;

/// Says of each line that lies just under a step of its price what reaching it would cost, and save on the goods: where
/// a bundle like its others would do, or where the goods save as much as they cost.
///
/// # Errors
/// Where a figure cannot be held exactly.
pub fn next_steps(
    shipment: &Shipment,
    tariffs: &Tariffs,
    costed: &Costed,
    effort: Effort,
) -> Result<Vec<String>, Overflow> {
    let mut all = Vec::new();
    for line in &shipment.lines {
        let Some((step, missing, saves)) = near(shipment, line)? else { continue };
        let Some((larger, added)) = reaching(shipment, line, step)? else { continue };
        let whole = tried(|report| estimate(&larger, tariffs, effort, report));
        // What cannot be loaded or costed reaches no step.
        let Some(Ok(whole)) = whole else { continue };
        let more = whole.landed.total.minus(costed.landed.total)?;
        all.push(format!(
            "line {}: {missing} short of the price from {} on, {}; {} more would land at {more} more in all: \
             the lower price takes {saves} off the goods there are, and that is counted",
            line.id,
            step.from.value,
            step.price.value,
            count_of(added, "bundle")
        ));
    }
    Ok(all)
}

/// The next step of a line's price, the missing quantity, and what it takes off the goods there are, where the step is
/// near.
fn near<'a>(
    shipment: &Shipment,
    line: &'a Line,
) -> Result<Option<(&'a Step, Ordered, Money)>, Overflow> {
    // What is dearer up to a step stays so: the part above it begins with nothing.
    let steps = &line.pricing.steps;
    let Some(first) = steps.first().filter(|_| line.pricing.applies == Applies::Whole) else {
        return Ok(None);
    };
    let free = free_slabs(shipment);
    let has = counted(shipment, &free, line, first.from.by)?;
    let Some(step) = steps.iter().find(|step| step.from.figure > has.figure) else {
        return Ok(None);
    };
    let too_large = Overflow { what: "the next step of a price" };
    let missing = step.from.figure.checked_sub(has.figure).ok_or(too_large)?;
    let own = shipment.slabs.iter().enumerate().filter(|(at, slab)| {
        let of = usize::try_from(slab.line).ok().and_then(|of| shipment.lines.get(of));
        of.is_some_and(|of| of.id == line.id) && !free.contains(at)
    });
    let own: Vec<_> = own.map(|(_, slab)| slab).collect();
    let worth = Worth::of(shipment, &free, line)?;
    let now = worth.sum(own.iter().copied())?;
    if has.figure.is_zero() || now.quantity.is_zero() {
        return Ok(None);
    }
    let currency = line.price.currency;
    let dearer = worth.price_of(None).amount.checked_sub(step.price.amount).ok_or(too_large)?;
    let saves = Exact::new(dearer, currency).times(now.quantity).round()?;
    let exact = |figure| Exact::new(figure, currency);
    // As much more as is missing, of what the line has of it.
    let costs = step.price.of(now.quantity).share(&exact(missing), &exact(has.figure)).round()?;
    let bundles = ordered(shipment, &free, |one| one.id == line.id, PricedBy::Bundle)?.figure;
    let own = ordered(shipment, &free, |one| one.id == line.id, first.from.by)?.figure;
    let is_near = missing.checked_mul(bundles).is_some_and(|missing| missing <= own);
    if saves.is_negative() || saves.is_zero() || !(is_near || saves.amount() >= costs.amount()) {
        return Ok(None);
    }
    Ok(Some((step, Ordered { figure: missing, by: step.from.by }, saves)))
}

/// The shipment with so many more bundles like the line's median one that the step is reached, and how many
/// they are. `None`: many do not reach it.
fn reaching(
    shipment: &Shipment,
    line: &Line,
    step: &Step,
) -> Result<Option<(Shipment, usize)>, Overflow> {
    let free = free_slabs(shipment);
    let is_of = |slab: &Slab| {
        let of = usize::try_from(slab.line).ok().and_then(|of| shipment.lines.get(of));
        of.is_some_and(|of| of.id == line.id)
    };
    let mut holds = vec![false; shipment.bundles.len()];
    for (_, slab) in shipment.slabs.iter().enumerate().filter(|(at, _)| !free.contains(at)) {
        let at = usize::try_from(slab.bundle).ok();
        if let Some(one) = at.and_then(|at| holds.get_mut(at)) {
            *one |= is_of(slab);
        }
    }
    let own: Vec<usize> =
        holds.iter().enumerate().filter(|(_, holds)| **holds).map(|(at, _)| at).collect();
    let bundles: Vec<_> = own.iter().filter_map(|at| shipment.bundles.get(*at)).cloned().collect();
    let Some(like) = median(&bundles).and_then(|at| own.get(at)) else { return Ok(None) };
    for added in 1..=MOST_BUNDLES {
        let Some(larger) = with_more(shipment, *like, added) else { return Ok(None) };
        if counted(&larger, &free, line, step.from.by)?.figure >= step.from.figure {
            return Ok(Some((larger, added)));
        }
    }
    Ok(None)
}
