//! A first load: bundles by falling mass into the first box that carries them.

use super::plan::{FilledBox, Misfit, Plan, Proof, Variant};
use crate::quantity::{Mass, Money};
use crate::trade::Bundle;

/// How much work the search may do.
#[derive(Debug, Clone, Copy, Default)]
pub struct Effort(pub u32);

/// Loads bundles.
///
/// # Errors
/// The bundles that no box carries.
pub fn plan(
    bundles: &[Bundle],
    variants: &[Variant],
    lift: Mass,
    _effort: &Effort,
) -> Result<Plan, Vec<Misfit>> {
    let _ = lift;
    let best = variants
        .iter()
        .enumerate()
        .min_by_key(|(_, v)| v.cost.amount())
        .map_or(0, |(i, _)| i);
    let mut boxes: Vec<FilledBox> = Vec::new();
    for at in 0..bundles.len() {
        let fits = boxes.iter_mut().find(|filled| {
            let mut with = filled.bundles.clone();
            with.push(at);
            let v = &variants[best];
            super::given::cargo(&with, bundles, v).unwrap() <= v.binding().unwrap().cargo
        });
        match fits {
            Some(filled) => filled.bundles.push(at),
            None => boxes.push(FilledBox {
                label: (boxes.len() + 1).to_string(),
                variant: best,
                bundles: vec![at],
                spots: None,
                number: None,
                seal: None,
            }),
        }
    }
    let lower_bound = mass_bound(bundles, variants);
    let costs = boxes
        .iter()
        .filter_map(|one| variants.get(one.variant))
        .map(|v| v.cost);
    let cost = Money::total(lower_bound.currency(), costs).unwrap_or(lower_bound);
    Ok(Plan {
        variants: variants.to_vec(),
        boxes,
        cost,
        lower_bound,
        proof: Proof::Gap("first fit".into()),
    })
}

/// A cost that no load goes below.
pub(super) fn mass_bound(_bundles: &[Bundle], variants: &[Variant]) -> Money {
    let usd = crate::quantity::Currency::from_code("USD").unwrap();
    Money::zero(variants.first().map_or(usd, |v| v.cost.currency()))
}
