//! A yard counted: what is not found is lost, what was lost and is found comes back, and what nobody knows is listed.
//!
//! Decided on 2026-11-27. A count in a shipment's own file is one of its slabs; in a yard's file it is of all that
//! stands in the yard.

use std::collections::BTreeSet;

use super::posting::Posting;
use super::undo::Of;
use super::whereabouts::Where;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::trade::Found;

impl Posting<'_, '_> {
    /// A yard is counted.
    pub(super) fn take_count(
        &mut self,
        yard: &At<String>,
        (names, found): (&[At<String>], &[Found]),
        report: &mut Report,
    ) -> Result<(), Reported> {
        // What stands there for others is on the count, and is none of ours.
        let is_of_others = |name: &&At<String>| {
            self.ledger.consigned().any(|one| one.slab == name.value && one.yard == yard.value)
        };
        let names: Vec<At<String>> =
            names.iter().filter(|name| !is_of_others(name)).cloned().collect();
        let there = self.ledger.slabs_of(self.event, &names, report)?;
        let here = Where::Yard(yard.value.as_str().into());
        let mut again = Vec::new();
        let mut sound = Ok(());
        for of in &there {
            match self.slab_at(*of).map(|slab| slab.at.clone()) {
                Some(at) if at == here => {}
                Some(Where::Lost) => again.push(*of),
                Some(Where::Yard(other)) => {
                    let id = self.ledger.slab_name(*of);
                    let message =
                        format!("slab {id} stands in {other}, and is found in {}", yard.value);
                    sound = Err(report.error(
                        Fault::error(Code::Contradiction, message)
                            .at(&self.event.place, "counted here")
                            .help("write first how it came there: kind = \"move\""),
                    ));
                }
                _ => {
                    let serves = |at: &Where| at.is_on_hand();
                    sound = self.need(&[*of], "on hand", serves, report);
                }
            }
        }
        sound?;
        let counted: BTreeSet<Of> = there.iter().copied().collect();
        let own = self.event.shipment.as_deref().and_then(|own| self.ledger.shipments.get(own));
        let own = own.copied();
        let each = |(shipment, slabs): (usize, &Vec<super::state::SlabState>)| {
            let stands = slabs.iter().enumerate().filter(|(_, slab)| slab.at == here);
            stands.map(|(at, _)| (shipment, at)).collect::<Vec<Of>>()
        };
        let in_scope = |(shipment, _): &(usize, _)| own.is_none_or(|own| own == *shipment);
        let missing = self.ledger.slabs.iter().enumerate().filter(in_scope).flat_map(each);
        let missing: Vec<Of> = missing.filter(|of| !counted.contains(of)).collect();
        let all: Vec<Of> = missing.iter().chain(&there).copied().collect();
        self.ledger.one_currency(self.event, &all, report)?;
        if let Some((shipment, _)) = all.first() {
            self.currency(*shipment);
        }
        for of in again {
            self.bring(of, here.clone(), report)?;
        }
        self.expense(missing, report)?;
        let is_there = |of: Of| counted.contains(&of);
        self.find_all(found, (yard, &is_there), report).map(drop)
    }
}
