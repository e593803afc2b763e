//! What was read or weighed at a box below the figure of its type: it lets more be loaded.

use super::super::plan::Plan;
use crate::fault::Place;
use crate::quantity::Mass;

/// A figure that somebody read or weighed, below that of the type's row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lower {
    /// What its box is called.
    pub label: String,
    /// What it is: the tare, the dunnage.
    pub what: &'static str,
    /// What was read or weighed.
    pub own: Mass,
    /// What the type's row has.
    pub usual: Mass,
    /// That row.
    pub place: Place,
}

impl Lower {
    /// How much more may be loaded for it.
    pub fn gain(&self) -> Mass {
        self.usual.minus(self.own).unwrap_or(Mass::ZERO)
    }
}

/// The tares and the dunnage of a load that are below their types', box by box.
pub(crate) fn lower(plan: &Plan) -> Vec<Lower> {
    let mut all = Vec::new();
    for one in &plan.boxes {
        let Some(kind) = plan.variants.get(one.variant) else { continue };
        let container = &kind.container;
        let own =
            [("tare", one.tare, container.tare), ("dunnage", one.dunnage, container.securing)];
        for (what, own, usual) in own {
            if let Some(own) = own.filter(|own| *own < usual) {
                let (label, place) = (one.label.clone(), container.place.clone());
                all.push(Lower { label, what, own, usual, place });
            }
        }
    }
    all
}
