//! What a supplier bills for each slab of a line, by which its goods go.

use std::collections::BTreeSet;

use crate::quantity::{Decimal, Overflow, PricedBy, Volume};
use crate::trade::{Line, MoneyRounding, Shipment, Slab};

/// The slabs an invoice gives without charge, by position.
pub(crate) fn free_slabs(shipment: &Shipment) -> BTreeSet<usize> {
    let names: BTreeSet<&str> = shipment
        .invoices
        .iter()
        .flat_map(|invoice| invoice.free_slabs.iter().map(|name| name.value.as_str()))
        .collect();
    if names.is_empty() {
        return BTreeSet::new();
    }
    let slabs = shipment.slabs.iter().enumerate();
    slabs.filter(|(_, slab)| names.contains(&*slab.id)).map(|(index, _)| index).collect()
}

/// What the supplier multiplies its price by for one slab; bundles and lots are not by the slab.
///
/// # Errors
/// Where the figure cannot be held exactly.
pub(crate) fn quantity(line: &Line, slab: &Slab) -> Result<Decimal, Overflow> {
    match line.price.by {
        PricedBy::M2 | PricedBy::Ft2 => Ok(line.measure.figure(slab.billed_area)),
        PricedBy::M3 => Ok(Volume::of(slab.billed_area, line.thickness)?.base()),
        PricedBy::Tonne => Ok(slab.mass.to_tonnes()),
        PricedBy::Slab => Ok(Decimal::ONE),
        PricedBy::Bundle | PricedBy::Lot => Ok(slab.billed_area.base()),
    }
}

/// Whether the slabs of a line weigh by their own amounts of money: each is rounded alone.
pub(crate) fn weighs_money(line: &Line) -> bool {
    let by_the_slab = !matches!(line.price.by, PricedBy::Bundle | PricedBy::Lot);
    by_the_slab && line.measure.money == MoneyRounding::Slab
}

/// The weight of a slab in its line's goods, before free slabs are left out.
///
/// # Errors
/// Where the figure cannot be held exactly.
pub(crate) fn weight(line: &Line, slab: &Slab) -> Result<Decimal, Overflow> {
    if weighs_money(line) {
        return Ok(line.price.of(quantity(line, slab)?).round()?.amount());
    }
    match line.price.by {
        // Areas are in one proportion in every unit; the figure in square feet may be a rounded one.
        PricedBy::M2 | PricedBy::Ft2 => Ok(slab.billed_area.base()),
        _ => quantity(line, slab),
    }
}
