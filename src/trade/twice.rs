//! What is in two shipments and can be in one only: an invoice, a slab of a block.
//!
//! Decided on 2026-11-26. An invoice or a slab of a block in two shipments is a warning of `check` alone.
//! Elsewhere offers of one list on two terms are compared.

use std::collections::BTreeMap;
use std::hash::{Hash, Hasher};

use rustc_hash::FxHasher;

use super::shipment::Shipment;
use crate::fault::{Code, Fault, Place};
use crate::quantity::count_of;

/// A supplier, without its capitals, and the number of its invoice or its block.
type Numbered = (String, String);

/// What no other shipment may hold: invoices, and slabs by their supplier, block and number.
#[derive(Debug)]
pub struct Marks {
    invoices: Vec<(Numbered, Option<String>, Place)>,
    /// What the numbers of a block's slabs hash to: a year's slabs are kept, and their names would
    /// take too much room.
    blocks: BTreeMap<Numbered, Vec<u64>>,
    /// The packing list.
    list: Place,
}

impl Marks {
    /// The marks of a shipment. Slabs of no block, and those that are made up, have none.
    pub fn of(shipment: &Shipment) -> Self {
        let invoices = shipment.invoices.iter().map(|invoice| {
            let key = (invoice.supplier.to_lowercase(), invoice.number.clone());
            (key, invoice.part.clone(), invoice.place.clone())
        });
        let mut blocks: BTreeMap<Numbered, Vec<u64>> = BTreeMap::new();
        for slab in shipment.slabs.iter().filter(|slab| slab.row > 0) {
            let bundle = usize::try_from(slab.bundle).ok().and_then(|at| shipment.bundles.get(at));
            let line = usize::try_from(slab.line).ok().and_then(|at| shipment.lines.get(at));
            let invoice = line.and_then(|line| shipment.invoices.get(line.invoice));
            let block = bundle.and_then(|bundle| bundle.block.as_ref());
            if let Some((invoice, block)) = invoice.zip(block) {
                let key = (invoice.supplier.to_lowercase(), block.to_string());
                let mut hasher = FxHasher::default();
                slab.id.hash(&mut hasher);
                blocks.entry(key).or_default().push(hasher.finish());
            }
        }
        Self { invoices: invoices.collect(), blocks, list: shipment.packing_file.clone() }
    }
}

/// The marks of the shipments looked at so far.
#[derive(Debug, Default)]
pub struct Seen {
    invoices: BTreeMap<Numbered, Vec<(Option<String>, Place)>>,
    blocks: BTreeMap<Numbered, Vec<(Vec<u64>, Place)>>,
}

impl Seen {
    /// Takes in the marks of a shipment, and gives a warning for each that one before it has. An
    /// invoice that bills goods of several shipments says so in each by its `part`.
    pub fn take(&mut self, marks: Marks) -> Vec<Fault> {
        let mut faults = Vec::new();
        for ((supplier, number), part, place) in &marks.invoices {
            let mut known =
                self.invoices.get(&(supplier.clone(), number.clone())).into_iter().flatten();
            let same = |other: &Option<String>| part.is_none() || other.is_none() || part == other;
            if let Some((_, first)) = known.find(|(other, _)| same(other)) {
                let message = format!("invoice {number} of \"{supplier}\" is in another shipment");
                faults.push(
                    Fault::warning(Code::Duplicate, message)
                        .at(place, "again here")
                        .also(first, "first here")
                        .help("where it bills goods of both, say so in each: part = \"1 of 2\""),
                );
            }
        }
        // Afterwards, as a shipment may have an invoice in two of its own.
        for (key, part, place) in marks.invoices {
            self.invoices.entry(key).or_default().push((part, place));
        }
        for (key, slabs) in marks.blocks {
            let (supplier, block) = &key;
            let twice = |known: &[u64]| slabs.iter().filter(|slab| known.contains(slab)).count();
            let mut all = self.blocks.get(&key).into_iter().flatten();
            let known =
                all.find_map(|(known, list)| Some((twice(known), list)).filter(|one| one.0 > 0));
            if let Some((count, first)) = known {
                let is = if count == 1 { "is" } else { "are" };
                let message = format!(
                    "{} {is} in another shipment: block {block} of \"{supplier}\"",
                    count_of(count, "slab")
                );
                faults.push(
                    Fault::warning(Code::Duplicate, message)
                        .at(&marks.list, "the same block and numbers")
                        .also(first, "as here")
                        .help("a slab is bought once: correct the list that is wrong"),
                );
            }
            self.blocks.entry(key).or_default().push((slabs, marks.list.clone()));
        }
        faults
    }
}
