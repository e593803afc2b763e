//! What a charge is counted by: a box, a bill, an entry. Who shares it is another matter.

use super::sets::SetId;

/// One thing that a charge is counted by, by its position.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Object {
    /// The shipment.
    Shipment,
    /// A bill of lading.
    Bill(usize),
    /// A customs entry.
    Entry(usize),
    /// A line of an entry: the entry, and the line in it.
    TariffLine(usize, usize),
    /// A container.
    Container(usize),
    /// A bundle.
    Bundle(usize),
    /// An invoice.
    Invoice(usize),
    /// A line of an invoice.
    Line(usize),
}

/// What a charge was counted by, with its slabs. It stays with the charge however widely that is
/// spread: the freight of a box belongs to the entry of the goods in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct On {
    /// The thing.
    pub object: Object,
    /// Its slabs that the charge is about: those whose terms leave it to the importer.
    pub set: SetId,
}

impl On {
    /// The entry that it was counted on.
    pub fn entry(self) -> Option<usize> {
        match self.object {
            Object::Entry(entry) | Object::TariffLine(entry, _) => Some(entry),
            _ => None,
        }
    }

    /// The box that it was counted on.
    pub fn container(self) -> Option<usize> {
        match self.object {
            Object::Container(at) => Some(at),
            _ => None,
        }
    }
}
