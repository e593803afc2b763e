//! A yard counted: what is not found is lost, what was lost and is found comes back, and what nobody knows is listed.
//!
//! Decided on 2026-11-27. A count in a shipment's own file is one of its slabs; in a yard's file it is of all that
//! stands in the yard.

use std::collections::BTreeSet;

use super::posting::{Posting, money};
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
        let (of_others, names): (Vec<&At<String>>, Vec<&At<String>>) =
            names.iter().partition(is_of_others);
        let there_too: BTreeSet<String> = of_others.iter().map(|name| name.value.clone()).collect();
        let names: Vec<At<String>> = names.into_iter().cloned().collect();
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
        let (missing, stand): (Vec<Of>, Vec<Of>) = missing.partition(|of| !counted.contains(of));
        self.ask_loss((&missing, stand.len()), yard, report);
        self.ask_consigned(yard, &there_too, report);
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

    /// Asks whether a count means what it does, where it loses most of what stands in a yard: a list that was left
    /// short looks the same.
    fn ask_loss(&self, (missing, found): (&[Of], usize), yard: &At<String>, report: &mut Report) {
        if missing.len() <= found {
            return;
        }
        let held = missing.iter().filter_map(|of| self.slab_at(*of)).map(|slab| slab.held).sum();
        let currency = missing.first().and_then(|of| self.ledger.freeze(of.0));
        let currency = currency.map_or(self.entry.currency, |freeze| freeze.currency);
        let all = missing.len() + found;
        let message = format!(
            "the count of {} finds {found} of {all} slabs: {} are lost, at a cost of {}",
            yard.value,
            missing.len(),
            money(held, currency)
        );
        let fault = Fault::warning(Code::Notice, message)
            .at(&self.event.place, "what is not named under `slabs` is lost")
            .help("name every slab that was found");
        self.event.ask(fault, report);
    }

    /// Names consigned slabs of a yard that a count does not: they are on no account, so nothing is posted.
    fn ask_consigned(&self, yard: &At<String>, found: &BTreeSet<String>, report: &mut Report) {
        let events = &self.ledger.books.events;
        let is_own = |came: usize| {
            self.event.shipment.is_none()
                || events.get(came).is_some_and(|came| came.shipment == self.event.shipment)
        };
        for one in self.ledger.consigned() {
            if one.yard != yard.value || found.contains(&one.slab) || !is_own(one.came) {
                continue;
            }
            let message = format!(
                "the count of {} does not find slab {}, which {} left there",
                yard.value, one.slab, one.owner
            );
            let fault = Fault::warning(Code::Notice, message)
                .at(&self.event.place, "not named under `slabs`; nothing is posted")
                .help("name it, or write when it left: kind = \"consigned out\"");
            let fault = match events.get(one.came) {
                Some(came) => fault.also(&came.place, "consigned here"),
                None => fault,
            };
            self.event.ask(fault, report);
        }
    }
}
