//! A line of a bill for several charges, divided among them by what their slabs have.

use std::collections::BTreeSet;

use super::posting::{Posting, money};
use super::undo::Of;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Money, Weights};
use crate::trade::{BillBy, BillLine};

impl Posting<'_, '_> {
    /// The charges of a line, each with its part: whole units by largest remainder, ties to the earlier, as an
    /// invoice's total over its lines.
    pub(super) fn divided(
        &self,
        (names, by): (&[At<String>], BillBy),
        line: &BillLine,
        report: &mut Report,
    ) -> Result<Vec<(Of, Money)>, Reported> {
        let mut all: Vec<Of> = Vec::new();
        for name in names {
            for of in self.ledger.charges_of(self.event, name, report)? {
                if all.contains(&of) {
                    return Err(report.error(
                        Fault::error(Code::Duplicate, format!("\"{}\" is named twice", name.value))
                            .at(&name.place, "again here")
                            .help("name each charge once"),
                    ));
                }
                all.push(of);
            }
        }
        let weights = all.iter().map(|of| self.weight(*of, by)).collect::<Option<Vec<Decimal>>>();
        let weights = report.found(weights, "what the slabs of a charge have")?;
        let parts = Weights::of(weights).ok().and_then(|by| by.divide(line.amount.value).ok());
        let Some(parts) = parts else {
            return Err(report.error(
                Fault::error(Code::NothingToSpread, "these charges have nothing to divide by")
                    .at(&line.amount.place, "to be divided among them")
                    .help("divide it by another key, or write a line for each charge"),
            ));
        };
        let currency = line.amount.currency();
        Ok(all.into_iter().zip(parts).map(|(of, part)| (of, money(part, currency))).collect())
    }

    /// What the slabs of a charge have together.
    fn weight(&self, of: Of, by: BillBy) -> Option<Decimal> {
        if by == BillBy::Value {
            return Some(
                self.charge_state(of)?.estimate.map_or(Decimal::ZERO, |(_, book, _)| book.into()),
            );
        }
        let slabs = &self.ledger.sharing(of.0, of.1)?.slabs;
        if by == BillBy::Box {
            let boxes: Option<BTreeSet<usize>> =
                slabs.iter().map(|at| Some(self.ledger.slab((of.0, *at))?.container)).collect();
            return Some(boxes?.len().into());
        }
        slabs
            .iter()
            .try_fold(Decimal::ZERO, |sum, at| sum.checked_add(self.ledger.has((of.0, *at), by)?))
    }
}
