//! What would still go into the boxes of a load: more bundles like its median one.

use super::plan::{FilledBox, Plan};
use super::room::stand_in;
use super::summary::summary;
use crate::quantity::{Decimal, Mass, Overflow};
use crate::trade::Bundle;

/// Room for more of the same.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Spare {
    /// The median bundle, by position.
    pub like: usize,
    /// How many more like it would go in.
    pub bundles: usize,
    /// The same box by box, in the plan's order.
    pub in_each: Vec<usize>,
    /// Their mass, as limits are checked with.
    pub mass: Mass,
}

/// The median bundle by mass, by position: of an even number the lighter of the two in the middle. `None`: there
/// is no bundle.
pub fn median(bundles: &[Bundle]) -> Option<usize> {
    let mut by_mass: Vec<(Mass, usize)> =
        bundles.iter().enumerate().map(|(at, bundle)| (bundle.limit_mass, at)).collect();
    by_mass.sort_unstable();
    let middle = by_mass.len().saturating_sub(1) / 2;
    by_mass.get(middle).map(|(_, at)| *at)
}

/// Asks of each box how many more bundles like the median one would go in. `None`: there is no bundle.
///
/// # Errors
/// On overflow.
pub fn spare(plan: &Plan, bundles: &[Bundle]) -> Result<Option<Spare>, Overflow> {
    let Some(like) = median(bundles) else { return Ok(None) };
    let Some(extra) = bundles.get(like) else { return Ok(None) };
    let each = plan.boxes.iter().map(|filled| more_of(plan, filled, bundles, extra));
    let in_each = each.collect::<Result<Vec<usize>, Overflow>>()?;
    let more = in_each.iter().sum();
    let mass = extra.limit_mass.times(Decimal::from(more))?;
    Ok(Some(Spare { like, bundles: more, in_each, mass }))
}

/// How many more bundles like one go into a box.
fn more_of(
    plan: &Plan,
    filled: &FilledBox,
    bundles: &[Bundle],
    extra: &Bundle,
) -> Result<usize, Overflow> {
    let Some(variant) = plan.variant(filled) else { return Ok(0) };
    let mut left = summary(plan, filled, bundles)?.left;
    let own = filled.bundles.iter().filter_map(|at| bundles.get(*at)).cloned();
    let mut own: Vec<Bundle> = own.collect();
    let mut more = 0;
    while !extra.limit_mass.is_none() && extra.limit_mass <= left {
        own.push(extra.clone());
        if !stand_in(&own, variant) {
            break;
        }
        left = left.minus(extra.limit_mass)?;
        more += 1;
    }
    Ok(more)
}
