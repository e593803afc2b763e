//! Scopes: the slabs that share a charge, and which of them may, by what the charge is counted by.

use super::calendar::word_of;
use super::charge::{ChargeRow, Per, Rate, WhatOf};
use crate::fault::{At, Code, Fault};

/// What a charge belongs to: the slabs that share it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ScopeKind {
    /// All slabs of the shipment.
    Shipment,
    /// The slabs of one bill of lading.
    Bill,
    /// The slabs of one customs entry.
    Entry,
    /// The slabs of one line of an entry.
    TariffLine,
    /// The slabs of one invoice.
    Invoice,
    /// The slabs of one line of an invoice.
    Line,
    /// The slabs in one container.
    Container,
    /// The slabs of one bundle.
    Bundle,
    /// One slab.
    Slab,
}

impl ScopeKind {
    /// Every scope with its written form.
    pub const ALL: [(Self, &'static str); 9] = [
        (Self::Shipment, "shipment"),
        (Self::Bill, "bill of lading"),
        (Self::Entry, "entry"),
        (Self::TariffLine, "tariff line"),
        (Self::Invoice, "invoice"),
        (Self::Line, "line"),
        (Self::Container, "container"),
        (Self::Bundle, "bundle"),
        (Self::Slab, "slab"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// The scopes that what is counted by one such thing may be spread over: its own, and what may
    /// hold the whole of it.
    pub fn widens_to(self) -> &'static [Self] {
        match self {
            Self::Shipment => &[Self::Shipment],
            Self::Bill => &[Self::Bill, Self::Entry, Self::Shipment],
            Self::Entry => &[Self::Entry, Self::Shipment],
            Self::TariffLine => &[Self::TariffLine, Self::Entry, Self::Shipment],
            Self::Invoice => &[Self::Invoice, Self::Shipment],
            Self::Line => &[Self::Line, Self::Invoice, Self::Shipment],
            Self::Container => &[Self::Container, Self::Bill, Self::Entry, Self::Shipment],
            Self::Bundle => &[
                Self::Bundle,
                Self::Container,
                Self::Line,
                Self::Invoice,
                Self::Bill,
                Self::Entry,
                Self::Shipment,
            ],
            // One charge over all slabs, by count: there is no wider one that would change anything.
            Self::Slab => &[Self::Slab],
        }
    }
}

/// The scopes that a row's charges may be spread over, by what they are counted by. `None`: as the
/// charge may that the row is a percentage of.
pub fn scopes(row: &ChargeRow) -> Option<&'static [ScopeKind]> {
    let of_charge = matches!(row.rate.value.of(), Some(WhatOf::Charge(_)));
    let counted = match row.per? {
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
        .at(&asked.place, "does not go with what it is counted by")
        .help(format!("what serves here: {}", words.join(", ")))
}
