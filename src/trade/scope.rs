//! Scopes: the slabs that share a charge.

use super::calendar::word_of;

/// What a charge belongs to: the slabs that share it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
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
