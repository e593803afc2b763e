//! Dunnage by the list of timber: where struts and braces weigh more than the type's row says, they count in every
//! limit, on the axles and in the gross mass.
//!
//! Decided on 2026-11-28. What somebody weighed counts before any list. The list follows from the places, so it is
//! written when these are known; a kind of box whose row says too little to keep a limit is planned for again.

use super::given::measured;
use super::held::{Held, held};
use super::plan::{FilledBox, Plan, Variant};
use super::standing::standing;
use super::summary::on_roads;
use crate::quantity::Mass;
use crate::trade::{Bundle, Shipment, Tariffs};

/// What holds the cargo of a box as it stands; `None` where places are not known, or nothing that it is held against.
pub(super) fn held_in(
    filled: &FilledBox,
    variant: &Variant,
    (shipment, tariffs): (&Shipment, &Tariffs),
) -> Option<Held> {
    tariffs.friction.as_ref()?;
    filled.spots.as_ref()?;
    let standing = standing(filled, &shipment.bundles).ok()?;
    let roads = on_roads(variant, &standing).ok()?;
    held(&variant.container, &standing, &roads, (shipment, tariffs))
}

/// The timber of a box, where it weighs more than its type's dunnage and nobody weighed that.
fn timber_of(
    filled: &FilledBox,
    plan: &Plan,
    shipment: &Shipment,
    tariffs: &Tariffs,
) -> Option<Mass> {
    let variant = plan.variants.get(filled.variant).filter(|_| filled.dunnage.is_none())?;
    let held = held_in(filled, variant, (shipment, tariffs))?;
    Some(held.timber_mass()).filter(|mass| *mass > variant.container.securing)
}

/// Counts the timber of each box as its dunnage where it weighs more than the type's row says.
pub(super) fn count_timber(plan: &mut Plan, shipment: &Shipment, tariffs: &Tariffs) {
    for at in 0..plan.boxes.len() {
        let Some(filled) = plan.boxes.get(at) else { continue };
        let timber = timber_of(filled, plan, shipment, tariffs);
        if timber == filled.timber {
            continue;
        }
        let variant = plan.variants.get(filled.variant);
        let dunnage = filled.dunnage.or(timber);
        let own = variant.and_then(|variant| measured(variant, filled.tare, dunnage)).map(Box::new);
        if let Some(filled) = plan.boxes.get_mut(at) {
            (filled.timber, filled.measured) = (timber, own);
        }
    }
}

/// The kinds of box, by position, that break a limit of mass or axles when their timber counts, each with the dunnage
/// to plan with.
pub fn short_of_dunnage(plan: &Plan, shipment: &Shipment, tariffs: &Tariffs) -> Vec<(usize, Mass)> {
    if tariffs.friction.is_none() {
        return Vec::new();
    }
    let mut counted = plan.clone();
    count_timber(&mut counted, shipment, tariffs);
    let mut short: Vec<(usize, Mass)> = Vec::new();
    for filled in &counted.boxes {
        let (Some(timber), Some(variant)) = (filled.timber, counted.variant(filled)) else {
            continue;
        };
        if breaks(filled, variant, &shipment.bundles) {
            match short.iter_mut().find(|(kind, _)| *kind == filled.variant) {
                Some((_, most)) => *most = timber.max(*most),
                None => short.push((filled.variant, timber)),
            }
        }
    }
    short
}

/// Whether a box is over a limit of mass or axles.
fn breaks(filled: &FilledBox, variant: &Variant, bundles: &[Bundle]) -> bool {
    let cargo = super::mass::cargo(&filled.bundles, bundles, variant);
    let is_over = cargo.is_ok_and(|cargo| cargo > variant.limits.binding().cargo);
    let roads = standing(filled, bundles).and_then(|standing| {
        Ok(on_roads(variant, &standing)?.iter().any(|report| !report.is_legal()))
    });
    is_over || roads.unwrap_or(false)
}

/// A kind of box with other dunnage; as it is where a figure cannot be held.
#[must_use]
pub fn with_dunnage(variant: &Variant, dunnage: Mass) -> Variant {
    measured(variant, None, Some(dunnage)).unwrap_or_else(|| variant.clone())
}

/// Whether a box with other places still has the dunnage that is counted for it, and breaks no rule of holding it.
pub(super) fn keeps(filled: &FilledBox, variant: &Variant, of: (&Shipment, &Tariffs)) -> bool {
    held_in(filled, variant, of).is_none_or(|held| {
        let is_counted =
            filled.dunnage.is_some() || held.timber_mass() <= variant.container.securing;
        is_counted && held.broken_rules().next().is_none()
    })
}
