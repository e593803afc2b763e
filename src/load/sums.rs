//! What no box of a variant holds more of, for who chooses among bundles.

use super::engine::{self, Sum};
use super::kinds::by_ways;
use super::plan::Variant;
use super::problem::problem;
use crate::trade::Bundle;

/// The sums over bundles that no box exceeds, with the most of each variant; that of the masses is the first.
pub fn sums(bundles: &[Bundle], variants: &[Variant]) -> Vec<Sum> {
    let (ways, variant_of) = by_ways(variants);
    let mut all = engine::sums(&problem(bundles, &ways));
    for sum in &mut all {
        let most = |variant: usize| {
            let own = variant_of.iter().zip(&sum.most).filter(|(of, _)| **of == variant);
            // Whichever way its doors look: what one way does not bound is not bounded.
            own.map(|(_, most)| *most).collect::<Option<Vec<i128>>>()?.into_iter().max()
        };
        sum.most = (0..variants.len()).map(most).collect();
    }
    all
}
