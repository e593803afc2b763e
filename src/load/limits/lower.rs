//! What was read or weighed below what it should be: it lets more be loaded.

use smol_str::SmolStr;

use super::super::plan::Plan;
use crate::fault::Place;
use crate::quantity::Mass;
use crate::trade::{Bundle, MassBasis};

/// A figure read or weighed below its estimate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Lower {
    /// What its box is called.
    pub label: String,
    /// What it is.
    pub what: LowFigure,
    /// What was read or weighed.
    pub own: Mass,
    /// What the type's row has, or what a bundle's slabs make.
    pub usual: Mass,
    /// That row, or where the bundle stands.
    pub place: Place,
}

/// Which figure is low.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LowFigure {
    /// The tare of a box.
    Tare,
    /// The dunnage and lashing in it.
    Dunnage,
    /// A bundle in it.
    Bundle(SmolStr),
}

impl LowFigure {
    /// Its kind in a word.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Tare => "tare",
            Self::Dunnage => "dunnage",
            Self::Bundle(_) => "bundle",
        }
    }
}

impl Lower {
    /// How much more may be loaded for it.
    pub fn gain(&self) -> Mass {
        self.usual.minus(self.own).unwrap_or(Mass::ZERO)
    }
}

/// The low figures of a load, box by box: tares and dunnage below their types', and bundles that weigh
/// less than area, thickness and density make. Without the scales limits would count these, and the margin
/// of thickness beside.
pub(crate) fn lower(plan: &Plan, bundles: &[Bundle]) -> Vec<Lower> {
    let mut all = Vec::new();
    for one in &plan.boxes {
        let Some(kind) = plan.variants.get(one.variant) else { continue };
        let container = &kind.container;
        let mut add = |what, own: Mass, usual: Mass, place: &Place| {
            if own < usual {
                let (label, place) = (one.label.clone(), place.clone());
                all.push(Lower { label, what, own, usual, place });
            }
        };
        if let Some(tare) = one.tare {
            add(LowFigure::Tare, tare, container.tare, &container.place);
        }
        if let Some(dunnage) = one.dunnage {
            add(LowFigure::Dunnage, dunnage, container.securing, &container.place);
        }
        for bundle in one.bundles.iter().filter_map(|at| bundles.get(*at)) {
            if let MassBasis::Weighed { computed } = bundle.weighing {
                let what = LowFigure::Bundle(bundle.id.clone());
                add(what, bundle.mass, computed, &bundle.place);
            }
        }
    }
    all
}
