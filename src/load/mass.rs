//! The mass of the cargo in a box: the one sum that every limit is held against.

use super::plan::Variant;
use crate::quantity::{Mass, Overflow};
use crate::trade::Bundle;

/// The cargo of a box: bundles as limits count them, dunnage and lashing.
///
/// # Errors
/// On overflow.
pub fn cargo(filled: &[usize], bundles: &[Bundle], variant: &Variant) -> Result<Mass, Overflow> {
    let masses = filled.iter().filter_map(|at| bundles.get(*at)).map(|bundle| bundle.limit_mass);
    Mass::total(masses)?.plus(variant.container.securing)
}
