//! Slabs set aside for a customer, and free again. Nothing is posted: the goods are the importer's until they leave.
//!
//! Decided on 2026-11-27. A sale of goods that are not the importer's yet is a reservation as well. One that has a
//! last day lapses by itself after it.

use super::posting::Posting;
use super::state::SlabState;
use super::undo::{Of, Undo};
use super::whereabouts::Where;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::trade::{BookEvent, BookKind, Date};

/// A slab set aside.
#[derive(Debug, Clone, Copy)]
pub struct Reservation<'b> {
    /// The event.
    pub event: &'b BookEvent,
    /// For whom.
    pub customer: &'b str,
    /// The last day; `None`: until it is released.
    pub until: Option<Date>,
}

/// The reservation that holds of a slab on a day.
pub(super) fn reservation<'b>(
    events: &'b [BookEvent],
    slab: &SlabState,
    on: Date,
) -> Option<Reservation<'b>> {
    let event = events.get(slab.reserved?)?;
    let BookKind::Reserve { customer, until, .. } = &event.what else { return None };
    let until = until.as_ref().map(|until| until.value);
    until.is_none_or(|until| until >= on).then_some(Reservation { event, customer, until })
}

impl Posting<'_, '_> {
    /// Slabs are set aside for a customer.
    pub(super) fn set_aside(
        &mut self,
        names: &[At<String>],
        customer: &str,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, names, report)?;
        let is_here = |at: &Where| *at == Where::Abroad || at.is_stock();
        self.need(&slabs, "to be had", is_here, report)?;
        self.are_for(&slabs, Some(customer), report)?;
        for slab in slabs {
            self.reserve(slab, Some(self.at));
        }
        Ok(())
    }

    /// Slabs are free again.
    pub(super) fn set_free(
        &mut self,
        names: &[At<String>],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, names, report)?;
        let mut sound = Ok(());
        for (slab, name) in slabs.into_iter().zip(names) {
            if self.reserved(slab).is_none() {
                sound = Err(report.error(
                    Fault::error(
                        Code::Contradiction,
                        format!("slab {} is not reserved", name.value),
                    )
                    .at(&name.place, "released here")
                    .help("leave it out: it was never set aside, is free again, or its last day has passed"),
                ));
            }
            self.reserve(slab, None);
        }
        sound
    }

    /// Holds slabs against who has set them aside: none of them may be somebody else's.
    pub(super) fn are_for(
        &self,
        slabs: &[Of],
        customer: Option<&str>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let mut sound = Ok(());
        for slab in slabs {
            let Some(own) = self.reserved(*slab) else { continue };
            if customer == Some(own.customer) {
                continue;
            }
            let id = self.ledger.slab_name(*slab);
            let until = own.until.map_or_else(String::new, |day| format!(" until {day}"));
            sound = Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    format!("slab {id} is reserved for {}{until}", own.customer),
                )
                .at(&self.event.place, "this event is for somebody else")
                .also(&own.event.place, "reserved here")
                .help(format!(
                    "write customer = \"{}\", or release the slab first: kind = \"release\"",
                    own.customer
                )),
            ));
        }
        sound
    }

    /// Notes by which event a slab is set aside, if any.
    pub(super) fn reserve(&mut self, slab: Of, by: Option<usize>) {
        if let Some(own) = self.slab_mut(slab) {
            let before = std::mem::replace(&mut own.reserved, by);
            if before != by {
                self.note(Undo::Reserved { slab, before });
            }
        }
    }

    fn reserved(&self, slab: Of) -> Option<Reservation<'_>> {
        reservation(&self.ledger.books.events, self.slab_at(slab)?, self.event.posted)
    }
}
