//! Which scopes a row's charges may be spread over, by what they are counted by.

use super::charge::{ChargeRow, Per, Rate, WhatOf};
use super::scope::ScopeKind;
use crate::fault::{At, Code, Fault};

/// The scopes that a row's charges may be spread over, by what they are counted by. `None`: as the
/// charge may that the row is a percentage of.
pub fn scopes(row: &ChargeRow) -> Option<&'static [ScopeKind]> {
    let of_charge = matches!(row.rate.value.of(), Some(WhatOf::Charge(_)));
    let counted = match row.per {
        Per::Part => return None,
        Per::Container if of_charge => return None,
        // Its lines are counted, and the entry bears them.
        Per::TariffLine if matches!(row.rate.value, Rate::Tiers(_)) => ScopeKind::Entry,
        Per::Shipment => ScopeKind::Shipment,
        Per::Bill => ScopeKind::Bill,
        Per::Entry => ScopeKind::Entry,
        Per::TariffLine => ScopeKind::TariffLine,
        Per::Container => ScopeKind::Container,
        Per::Bundle => ScopeKind::Bundle,
        Per::Slab => ScopeKind::Slab,
        // These are counted anew in each box, or for each entry.
        Per::Tonne | Per::M2 => return Some(&[ScopeKind::Shipment, ScopeKind::Container]),
        Per::Day | Per::Hour | Per::Month | Per::Quarter => {
            return Some(&[ScopeKind::Shipment, ScopeKind::Container, ScopeKind::Entry]);
        }
    };
    Some(counted.widens_to())
}

/// The fault for a scope that a charge cannot be spread over.
pub fn wrong_scope(charge: &str, asked: &At<ScopeKind>, serving: &[ScopeKind]) -> Fault {
    let scope = asked.value.word();
    let words: Vec<String> = serving.iter().map(|kind| format!("\"{}\"", kind.word())).collect();
    let message = format!("\"{charge}\" cannot be spread over the scope \"{scope}\"");
    Fault::error(Code::Contradiction, message)
        .at(&asked.place, "the charge is counted by another unit")
        .help(format!("write one of: {}", words.join(", ")))
}
