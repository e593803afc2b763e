//! On which day goods become the importer's: where control of them passes.
//!
//! Their cost is recognised on that day, and at its rate of exchange (IAS 21, paragraphs 21 and 22).

use super::calendar::{Date, Dates, Event};
use super::filing::BillOfLading;
use super::shipment::{Invoice, Line, Shipment};
use super::term::{DeliveryTerm, Incoterm};
use crate::fault::{At, Place};

/// The point at which a delivery term delivers, and with it risk and control pass (Incoterms 2020,
/// clauses A2 and A3, from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Handover {
    /// At the supplier's works: EXW.
    Works,
    /// To the first carrier: FCA, CPT, CIP.
    Carrier,
    /// At the vessel or on board of it: FAS, FOB, CFR, CIF.
    Vessel,
    /// In the port of arrival: a D term that names it.
    Port,
    /// In the yard: a D term that names a place inland.
    Yard,
}

impl Handover {
    /// Where it is, as a sentence has it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Works => "at the works",
            Self::Carrier => "to the carrier",
            Self::Vessel => "at the vessel",
            Self::Port => "in the port of arrival",
            Self::Yard => "in the yard",
        }
    }
}

impl DeliveryTerm {
    /// Where control passes under this term.
    pub fn handover(&self) -> Handover {
        use Incoterm::{Cfr, Cif, Cip, Cpt, Dap, Ddp, Dpu, Exw, Fas, Fca, Fob};
        match self.rule {
            Exw => Handover::Works,
            Fca | Cpt | Cip => Handover::Carrier,
            Fas | Fob | Cfr | Cif => Handover::Vessel,
            Dap | Dpu | Ddp if self.names_port() => Handover::Port,
            Dap | Dpu | Ddp => Handover::Yard,
        }
    }

    /// The day on which control passes under this term. Delivered duty paid in a port, goods are the
    /// buyer's when they are there and cleared.
    pub fn passes_on(&self, dates: &Dates) -> Date {
        match self.handover() {
            Handover::Works | Handover::Carrier => dates.of(Event::Collected),
            Handover::Vessel => dates.sails,
            Handover::Port if self.rule == Incoterm::Ddp => dates.arrives.max(dates.entered),
            Handover::Port => dates.arrives,
            Handover::Yard => dates.delivered,
        }
    }
}

/// The day on which control of goods passes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Control {
    /// The day.
    pub day: Date,
    /// Where it is stated; where it is not, the delivery term has it.
    pub stated: Option<Place>,
}

impl Shipment {
    /// The first invoice whose goods pass at the works or to the carrier on a day that nobody states: the
    /// day of sailing is taken for it.
    pub fn handed_over_unknown(&self) -> Option<&Invoice> {
        let is_stated = self.dates.collected.is_some()
            || (!self.bills.is_empty() && self.bills.iter().all(|bill| bill.control.is_some()));
        let is_open = |(at, one): &(usize, &Invoice)| {
            let mut lines = self.lines.iter().filter(|line| line.invoice == *at);
            matches!(one.term.handover(), Handover::Works | Handover::Carrier)
                && one.control.is_none()
                && lines.any(|line| line.control.is_none())
        };
        let mut invoices = self.invoices.iter().enumerate().filter(is_open);
        invoices.next().filter(|_| !is_stated).map(|(_, one)| one)
    }

    /// When control of a line's goods on a bill of lading passes: as the bill states it, the line or
    /// its invoice (title kept by the seller, documents against payment), and as the delivery term
    /// has it otherwise.
    pub fn control(&self, line: &Line, bill: Option<&BillOfLading>) -> Option<Control> {
        let invoice = self.invoices.get(line.invoice)?;
        let on_bill = bill.and_then(|bill| bill.control.as_ref());
        let stated = on_bill.or(line.control.as_ref()).or(invoice.control.as_ref());
        Some(match stated {
            Some(At { value, place }) => Control { day: *value, stated: Some(place.clone()) },
            None => Control { day: invoice.term.passes_on(&self.dates), stated: None },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Written;

    #[test]
    fn control_passes_where_the_term_delivers() {
        let day = |text: &str| text.parse().unwrap();
        let dates = Dates {
            quoted: day("2026-03-01"),
            collected: Some(day("2026-04-01")),
            sails: day("2026-04-11"),
            arrives: day("2026-05-09"),
            entered: day("2026-05-12"),
            delivered: day("2026-05-14"),
            returned: day("2026-05-15"),
        };
        for (term, passes) in [
            ("EXW works", "2026-04-01"),
            ("FCA TRIZM", "2026-04-01"),
            ("CPT yard", "2026-04-01"),
            ("CIP USSAV", "2026-04-01"),
            ("FAS TRIZM", "2026-04-11"),
            ("FOB TRIZM", "2026-04-11"),
            ("CFR USSAV", "2026-04-11"),
            ("CIF USSAV", "2026-04-11"),
            ("DAP USSAV", "2026-05-09"),
            ("DPU USSAV", "2026-05-09"),
            ("DDP USSAV", "2026-05-12"),
            ("DAP yard", "2026-05-14"),
            ("DPU yard", "2026-05-14"),
            ("DDP yard", "2026-05-14"),
        ] {
            let term = DeliveryTerm::read(term).unwrap();
            assert_eq!(term.passes_on(&dates), day(passes), "{term}");
        }
    }
}
