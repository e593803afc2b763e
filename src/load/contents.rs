//! What is in a box, as it is traded.

use super::standing::Standing;
use crate::trade::{Shipment, Slab, Tariffs};

/// What is in a box as it is traded, for whoever must be told its contents (49 U.S.C. 5902): each kind of stone with its
/// finish. Trade names are a matter between buyer and seller.
pub(super) fn contents(
    standing: &[Standing<'_>],
    shipment: &Shipment,
    tariffs: &Tariffs,
) -> String {
    let is_in = |slab: &Slab| {
        let bundle = usize::try_from(slab.bundle).ok();
        let bundle = bundle.and_then(|at| shipment.bundles.get(at));
        bundle.is_some_and(|own| standing.iter().any(|one| one.bundle.id == own.id))
    };
    let mut lines: Vec<usize> = shipment
        .slabs
        .iter()
        .filter(|slab| is_in(slab))
        .filter_map(|slab| usize::try_from(slab.line).ok())
        .collect();
    lines.sort_unstable();
    lines.dedup();
    let mut all: Vec<String> = Vec::new();
    for line in lines.into_iter().filter_map(|at| shipment.lines.get(at)) {
        let stone = tariffs.stone(&line.stone.value);
        let kind = stone.map_or("natural stone", |stone| &stone.kind);
        let words = format!("{} {kind} slabs", line.finish.id);
        if !all.contains(&words) {
            all.push(words);
        }
    }
    all.join(", ")
}
