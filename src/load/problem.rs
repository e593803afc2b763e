//! Bundles and variants as the engine's problem, and the bound on cost by mass alone.
//!
//! Decided on 2026-11-25. Places are whole millimetres and masses whole grams inside the loader. Sides and
//! masses are rounded up, rooms and limits down, so that what fits there fits.

use std::collections::BTreeMap;

use super::engine::{BoxKind, Grouping, Piece, Problem};
use super::kinds::kind;
use super::order::entry;
use super::plan::Variant;
use crate::quantity::Money;
use crate::trade::Bundle;

/// A bundle as the engine has it, without its block.
pub(super) fn alone(bundle: &Bundle) -> Piece {
    Piece {
        mass: bundle.limit_mass.grams_up(),
        length: bundle.length.mm_up(),
        width: bundle.width.mm_up(),
        height: bundle.height.mm_up(),
        group: None,
        may_turn: bundle.may_turn,
    }
}

/// The engine's problem: masses rounded up and limits down to the gram, sides up and room down
/// to the millimetre, so that what fits there fits.
pub(super) fn problem(bundles: &[Bundle], variants: &[Variant]) -> Problem {
    let mut blocks: BTreeMap<&str, usize> = BTreeMap::new();
    for bundle in bundles {
        if let Some(block) = &bundle.block {
            let next = blocks.len();
            blocks.entry(block).or_insert(next);
        }
    }
    let piece = |bundle: &Bundle| Piece {
        group: bundle.block.as_ref().and_then(|block| blocks.get(block.as_str()).copied()),
        ..alone(bundle)
    };
    Problem {
        pieces: bundles.iter().map(piece).collect(),
        kinds: variants.iter().map(kind).collect(),
        entries: variants.iter().map(|variant| entry(&variant.container)).collect(),
        groups: vec![Grouping::Wish { price: 0 }; blocks.len()],
        ..Problem::default()
    }
}

/// A cost that no load goes below: every kilogram at the best price per kilogram of payload.
pub(super) fn mass_bound(bundles: &[Bundle], variants: &[Variant]) -> Option<Money> {
    let currency = variants.first()?.cost.currency();
    let kinds: Vec<BoxKind> = variants.iter().map(kind).collect();
    let mass: i128 = bundles.iter().map(|bundle| i128::from(bundle.limit_mass.grams_up())).sum();
    let usable = || kinds.iter().filter(|kind| kind.payload > 0);
    let by_mass = usable()
        .map(|kind| {
            num_integer::Integer::div_ceil(
                &(i128::from(kind.cost) * mass),
                &i128::from(kind.payload),
            )
        })
        .min()?;
    let one_box = usable().map(|kind| i128::from(kind.cost)).min()?;
    let least = if mass > 0 { by_mass.max(one_box) } else { 0 };
    Some(Money::from_minor(i64::try_from(least).ok()?, currency))
}
