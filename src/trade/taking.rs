//! What is taken of a supplier's list: a word for each bundle, and the shipment with some bundles only.

use std::sync::Arc;

use smol_str::SmolStr;

use super::filing::Covers;
use super::shipment::{Line, Shipment};

/// Whether a bundle of a list is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Take {
    /// The list does not say: it is.
    #[default]
    Unmarked,
    /// It is, whatever else is chosen.
    Keep,
    /// It may be.
    Open,
    /// It is not.
    No,
}

impl Take {
    /// The words of the list.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Keep, "keep"), (Self::Open, "open"), (Self::No, "no")];

    /// Whether a shipment has it as it is written.
    pub fn is_taken(self) -> bool {
        matches!(self, Self::Unmarked | Self::Keep)
    }
}

/// What a list says of taking a bundle.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Offered {
    /// Whether it is taken.
    pub take: Take,
    /// The book-matched sets that slabs of it belong to.
    pub sets: Vec<SmolStr>,
}

impl Shipment {
    /// The shipment with some of its bundles only, by position, ascending. Lines and invoices without goods go
    /// with the others, and so does what was made out for the whole: totals, papers, a given load.
    #[must_use]
    pub fn only(&self, bundles: &[usize]) -> Self {
        if bundles.len() == self.bundles.len() {
            return self.clone();
        }
        let kept = |at: usize| bundles.binary_search(&at).ok();
        let of = |index: u32| usize::try_from(index).ok();
        let slabs = self.slabs.iter().filter(|slab| of(slab.bundle).and_then(kept).is_some());
        let mut slabs: Vec<_> = slabs.cloned().collect();
        let mut lines: Vec<usize> = slabs.iter().filter_map(|slab| of(slab.line)).collect();
        // A line that bills another's slabs stays with it.
        let bills = |line: &Line| line.block.is_some_and(|block| lines.contains(&block.sawn_by));
        let of_others: Vec<usize> =
            (0..self.lines.len()).filter(|at| self.lines.get(*at).is_some_and(bills)).collect();
        lines.extend(of_others);
        lines.sort_unstable();
        lines.dedup();
        let mut invoices: Vec<usize> =
            lines.iter().filter_map(|at| Some(self.lines.get(*at)?.invoice)).collect();
        invoices.sort_unstable();
        invoices.dedup();
        let new = |all: &[usize], at: usize| all.binary_search(&at).ok();
        for slab in &mut slabs {
            let bundle = of(slab.bundle).and_then(kept).and_then(|at| u32::try_from(at).ok());
            let line = of(slab.line).and_then(|at| new(&lines, at));
            slab.bundle = bundle.unwrap_or(slab.bundle);
            slab.line = line.and_then(|at| u32::try_from(at).ok()).unwrap_or(slab.line);
        }
        let covers = |covers: &Covers| match covers {
            Covers::Everything => Some(Covers::Everything),
            Covers::Invoices(all) => {
                let all: Vec<usize> = all.iter().filter_map(|at| new(&invoices, *at)).collect();
                (!all.is_empty()).then_some(Covers::Invoices(all))
            }
            Covers::Bundles(all) => {
                let all: Vec<usize> = all.iter().filter_map(|at| kept(*at)).collect();
                (!all.is_empty()).then_some(Covers::Bundles(all))
            }
        };
        let mut other = Self { slabs: Arc::new(slabs), kept: None, ..self.clone() };
        other.papers.clear();
        other.bundles = bundles.iter().filter_map(|at| self.bundles.get(*at)).cloned().collect();
        other.invoices = invoices.iter().filter_map(|at| self.invoices.get(*at)).cloned().collect();
        other.lines = lines.iter().filter_map(|at| self.lines.get(*at)).cloned().collect();
        for line in &mut other.lines {
            line.invoice = new(&invoices, line.invoice).unwrap_or(line.invoice);
            if let Some(block) = &mut line.block {
                block.sawn_by = new(&lines, block.sawn_by).unwrap_or(block.sawn_by);
            }
        }
        for invoice in &mut other.invoices {
            let has = |id: &str| other.slabs.iter().any(|slab| slab.id == id);
            invoice.free_slabs.retain(|name| has(&name.value));
        }
        other.bills.retain_mut(|bill| match covers(&bill.covers) {
            Some(own) => {
                bill.covers = own;
                true
            }
            None => false,
        });
        other.filings.retain_mut(|filing| match covers(&filing.covers) {
            Some(own) => {
                filing.covers = own;
                true
            }
            None => false,
        });
        for given in other.boxes.iter_mut().chain(&mut other.load.fixed) {
            given.places.clear();
            given.bundles = given.bundles.iter().filter_map(|at| kept(*at)).collect();
        }
        other.boxes.retain(|given| !given.bundles.is_empty());
        let sets = other.load.together.iter_mut().map(|(set, _)| set);
        for set in sets.chain(&mut other.load.apart) {
            set.value = set.value.iter().filter_map(|at| kept(*at)).collect();
        }
        other.load.together.retain(|(set, _)| set.value.len() > 1);
        other.load.apart.retain(|set| set.value.len() > 1);
        let lines: Vec<usize> = (0..other.lines.len()).collect();
        other.leave_out_bills(&lines);
        other
    }
}
