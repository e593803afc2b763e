//! Lots: the goods of one invoice line on one customs entry.

use crate::bill::{SetId, SetName, Sets};
use crate::trade::{Covers, Filing, Leg, Line, Shipment, Slab};

/// The goods of one invoice line on one entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Lot {
    pub(crate) entry: usize,
    pub(crate) line: usize,
}

/// The one filing that all of some slabs are on; `None` where they are on several, or there are none.
pub(crate) fn only_filing(
    shipment: &Shipment,
    slabs: impl Iterator<Item = usize>,
) -> Option<&Filing> {
    let mut found: Option<&Filing> = None;
    let mut last = None;
    for slab in slabs.filter_map(|at| shipment.slabs.get(at)) {
        // Slabs of one line and bundle are on one filing, and most stand together.
        if last.replace((slab.line, slab.bundle)) == Some((slab.line, slab.bundle)) {
            continue;
        }
        let holds = |filing: &&Filing| shipment.covered(&filing.covers, slab.line, slab.bundle);
        match found {
            None => found = Some(shipment.filings.iter().find(holds)?),
            Some(filing) if holds(&filing) => {}
            Some(_) => return None,
        }
    }
    found
}

/// Which entry every slab is on.
pub(crate) struct Split<'a> {
    /// Every filing twice: for the importer's own goods, and for those that the seller enters.
    pub(crate) filings: Vec<(&'a Filing, bool)>,
    /// The filing of each bundle, where bills list containers.
    by_bundle: Option<Vec<usize>>,
    /// The filing of each invoice line, otherwise.
    by_line: Vec<usize>,
    /// Whether the seller enters a line.
    sellers: Vec<bool>,
    /// The lots there are.
    pub(crate) lots: Vec<Lot>,
}

impl<'a> Split<'a> {
    pub(crate) fn new(shipment: &'a Shipment) -> Self {
        let filing_of_invoice = |invoice: usize| {
            let on = |filing: &Filing| match &filing.covers {
                Covers::Everything => true,
                Covers::Invoices(some) => some.contains(&invoice),
                Covers::Bundles(_) => false,
            };
            shipment.filings.iter().position(on).unwrap_or(0)
        };
        let by_line = shipment.lines.iter().map(|line| filing_of_invoice(line.invoice)).collect();
        let boxed = shipment.filings.iter().any(|one| matches!(one.covers, Covers::Bundles(_)));
        let by_bundle = boxed.then(|| {
            let on = |bundle: usize| {
                let held = |filing: &Filing| matches!(&filing.covers, Covers::Bundles(some) if some.contains(&bundle));
                shipment.filings.iter().position(held).unwrap_or(0)
            };
            (0..shipment.bundles.len()).map(on).collect()
        });
        let seller = |line: &Line| {
            let invoice = shipment.invoices.get(line.invoice);
            invoice.is_some_and(|invoice| !invoice.leaves(Leg::DutyAndTax))
        };
        let sellers: Vec<bool> = shipment.lines.iter().map(seller).collect();
        let filings = shipment.filings.iter().flat_map(|one| [(one, false), (one, true)]).collect();
        let mut split = Self { filings, by_bundle, by_line, sellers, lots: Vec::new() };
        let mut lots: Vec<Lot> = match split.by_bundle {
            None => {
                let lines = shipment.lines.iter().enumerate();
                let own = lines.filter(|(_, line)| line.block.is_none());
                own.filter_map(|(line, _)| split.lot(line, 0)).collect()
            }
            Some(_) => {
                let mut seen = std::collections::BTreeSet::new();
                for slab in shipment.slabs.iter() {
                    seen.extend(split.lot_of(slab));
                }
                seen.into_iter().collect()
            }
        };
        lots.sort_unstable();
        split.lots = lots;
        split
    }

    /// The lot of the slabs of a line in a bundle, both by position.
    pub(crate) fn lot(&self, line: usize, bundle: usize) -> Option<Lot> {
        let filing = match &self.by_bundle {
            Some(by_bundle) => by_bundle.get(bundle)?,
            None => self.by_line.get(line)?,
        };
        let seller = usize::from(*self.sellers.get(line)?);
        Some(Lot { entry: filing * 2 + seller, line })
    }

    /// The slabs of the lots that `keep` chooses.
    pub(crate) fn set(
        &self,
        name: SetName,
        shipment: &Shipment,
        sets: &mut Sets,
        keep: impl Fn(Lot) -> bool,
    ) -> Option<SetId> {
        if self.by_bundle.is_none() {
            let kept = |line| self.lot(line, 0).is_some_and(&keep);
            return sets.of_lines(name, shipment, kept);
        }
        let kept = |slab: &Slab| self.lot_of(slab).is_some_and(&keep);
        let members = (0..).zip(shipment.slabs.iter()).filter(|(_, slab)| kept(slab));
        let members: Vec<u32> = members.map(|(index, _)| index).collect();
        (!members.is_empty()).then(|| sets.add(name, &members))
    }

    pub(crate) fn lot_of(&self, slab: &Slab) -> Option<Lot> {
        self.lot(usize::try_from(slab.line).ok()?, usize::try_from(slab.bundle).ok()?)
    }
}
