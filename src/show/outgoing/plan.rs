//! A load for others as the text of a `plan.toml`, which `load --check` reads.

use super::super::load::{Kept, plan_text};
use super::load::title;
use crate::fault::plain;
use crate::outgoing::OutgoingLoad;

/// The text of a plan file with the places of a load, and nothing of its cost or offers.
pub fn outgoing_plan(load: &OutgoingLoad<'_>) -> String {
    let title = title(load);
    let title = plain(&title);
    let boxes = load.boxes.iter().map(|one| {
        let own = one.haulage.as_ref();
        let tare = own.map(|own| own.tare).filter(|tare| tare.is_known);
        let dunnage = own.map(|own| own.dunnage).filter(|dunnage| dunnage.is_known);
        let bundles = one.bundles.iter().map(|bundle| (bundle.id, bundle.at, bundle.turned));
        Kept {
            label: one.label,
            kind: one.kind_id,
            class: None,
            offers: Vec::new(),
            number: one.number.clone(),
            seal: one.seal,
            weighed: [("tare", tare.map(|at| at.mass)), ("dunnage", dunnage.map(|at| at.mass))],
            bundles: bundles.collect(),
        }
    });
    format!(
        "# {title}, as planned.\n\
         # Add number, seal, tare and dunnage as they become known; x from the front, y from the left.\n{}",
        plan_text(boxes)
    )
}
