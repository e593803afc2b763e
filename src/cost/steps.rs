//! What reaching the next step of a price would cost, and save.

use crate::bill::{Worth, counted, free_slabs, ordered};
use crate::quantity::{Decimal, Exact, Ordered, Overflow, PricedBy};
use crate::trade::{Applies, Line, Shipment};

/// Says of each line that lies just under a step of its price what reaching it would cost, and save: where
/// a bundle like its others would do, or where it saves as much as it costs.
///
/// # Errors
/// Where a figure cannot be held exactly.
pub(super) fn next_steps(shipment: &Shipment) -> Result<Vec<String>, Overflow> {
    let mut notes = Vec::new();
    for line in &shipment.lines {
        notes.extend(next_step(shipment, line)?);
    }
    Ok(notes)
}

fn next_step(shipment: &Shipment, line: &Line) -> Result<Option<String>, Overflow> {
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
    let dearer = worth.price().amount.checked_sub(step.price.amount).ok_or(too_large)?;
    let saves = Exact::new(dearer, currency).times(now.quantity).round()?;
    let exact = |figure: Decimal| Exact::new(figure, currency);
    // As much more as is missing, of what the line has of it.
    let more = step.price.of(now.quantity).share(&exact(missing), &exact(has.figure));
    let costs = more.round()?;
    let bundles = ordered(shipment, &free, |one| one.id == line.id, PricedBy::Bundle)?.figure;
    let own = ordered(shipment, &free, |one| one.id == line.id, first.from.by)?.figure;
    let is_near = missing.checked_mul(bundles).is_some_and(|missing| missing <= own);
    if saves.is_negative() || saves.is_zero() || !(is_near || saves.amount() >= costs.amount()) {
        return Ok(None);
    }
    let missing = Ordered { figure: missing, by: step.from.by };
    Ok(Some(format!(
        "line {}: with {missing} more it has the price from {} on, {}: that costs {costs}, and saves {saves} on what there is",
        line.id, step.from.value, step.price.value
    )))
}
