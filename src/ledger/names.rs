//! What the names of an event mean: shipments, charges, slabs.

use rustc_hash::FxHashMap;

use super::state::Ledger;
use super::undo::Of;
use crate::fault::{At, Code, Fault, Report, Reported, gathered};
use crate::read::nearest;
use crate::trade::BookEvent;

impl Ledger<'_> {
    /// The shipment of a name, and what is left of the name. In a shipment's own file the name has none.
    pub(super) fn shipment_of<'n>(
        &self,
        event: &BookEvent,
        name: &'n At<String>,
        report: &mut Report,
    ) -> Result<(usize, &'n str), Reported> {
        let (shipment, rest) = match &event.shipment {
            Some(own) => (own.as_str(), name.value.as_str()),
            None => name.value.split_once('/').unwrap_or((&name.value, "")),
        };
        let found = self.shipments.get(shipment);
        found.map(|at| (*at, rest)).ok_or_else(|| {
            let known: Vec<&str> =
                self.books.freezes.iter().map(|freeze| freeze.shipment.as_str()).collect();
            // A slab's number without its shipment.
            let has =
                |at: &&usize| self.names.get(**at).is_some_and(|own| own.contains_key(shipment));
            let own = self.shipments.values().filter(has).min().filter(|_| rest.is_empty());
            let own = own.and_then(|at| known.get(*at));
            let help = match (own, nearest(shipment, &known)) {
                (Some(own), _) => format!("did you mean \"{own}/{shipment}\"?"),
                (None, Some(near)) => format!("did you mean \"{near}/...\"?"),
                (None, None) => {
                    "in a yard's file a name begins with its shipment: \"SHIPMENT/410-01\""
                        .to_owned()
                }
            };
            report.error(
                Fault::error(
                    Code::UnknownReference,
                    format!("no shipment \"{shipment}\" is booked"),
                )
                .at(&name.place, "of this shipment")
                .help(help)
                .help(format!("booked are: {}", known.join(", "))),
            )
        })
    }

    /// The shipment of the file an event stands in.
    pub(super) fn own_shipment(
        &self,
        event: &BookEvent,
        report: &mut Report,
    ) -> Result<usize, Reported> {
        let found = event.shipment.as_deref().and_then(|own| self.shipments.get(own)).copied();
        found.ok_or_else(|| {
            report.error(
                Fault::error(Code::NotSupported, "such an event is of one shipment")
                    .at(&event.place, "in a file of several")
                    .help("write it into the shipment's own events.toml"),
            )
        })
    }

    /// Slabs by their names.
    pub(super) fn slabs_of(
        &self,
        event: &BookEvent,
        names: &[At<String>],
        report: &mut Report,
    ) -> Result<Vec<Of>, Reported> {
        let mut seen: FxHashMap<Of, &At<String>> = FxHashMap::default();
        let each = names.iter().map(|name| {
            self.is_ours(event, name, report)?;
            let (shipment, id) = self.shipment_of(event, name, report)?;
            let known = self.names.get(shipment).and_then(|names| names.get(id));
            let Some(slab) = known else {
                let known = self.names.get(shipment);
                let ids: Vec<&str> =
                    known.into_iter().flatten().map(|(id, _)| id.as_str()).collect();
                let help = match nearest(id, &ids) {
                    Some(near) => format!("did you mean \"{near}\"?"),
                    None => "slabs are named by the packing list".to_owned(),
                };
                let fault =
                    Fault::error(Code::UnknownReference, format!("no slab is called \"{id}\""))
                        .at(&name.place, "it was never listed")
                        .help(help);
                return Err(report.error(match self.freeze(shipment) {
                    Some(freeze) => fault.also(&freeze.place, "its shipment is booked here"),
                    None => fault,
                }));
            };
            if let Some(first) = seen.insert((shipment, *slab), name) {
                return Err(report.error(
                    Fault::error(Code::Duplicate, format!("slab {id} is named twice"))
                        .at(&name.place, "again here")
                        .also(&first.place, "first here"),
                ));
            }
            Ok((shipment, *slab))
        });
        let all = gathered(each.collect::<Vec<_>>())?;
        self.one_currency(event, &all, report)?;
        Ok(all)
    }

    /// Holds the name of a slab against those of others' slabs, which have no shipment in front.
    fn is_ours(
        &self,
        event: &BookEvent,
        name: &At<String>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let whole = name.value.as_str();
        let (shipment, id) = match &event.shipment {
            Some(own) => (own.as_str(), whole),
            None => whole.split_once('/').unwrap_or(("", whole)),
        };
        let names = self.shipments.get(shipment).and_then(|at| self.names.get(*at));
        if names.is_some_and(|names| names.contains_key(id)) {
            return Ok(());
        }
        let events = &self.books.events;
        if let Some(own) = self.consigned.iter().rev().find(|one| one.slab == id) {
            let message = format!("slab {id} is none of ours: {} left it with us", own.owner);
            let fault = Fault::error(Code::Contradiction, message)
                .at(&name.place, "named here as a slab of ours");
            let fault = match events.get(own.came) {
                Some(came) => fault.also(&came.place, format!("consigned to {} here", own.yard)),
                None => fault,
            };
            return Err(report.error(match own.gone.and_then(|gone| events.get(gone)) {
                Some(gone) => fault.also(&gone.place, "it left here"),
                None => fault
                    .help("it leaves by kind = \"consigned out\"")
                    .help("to sell it as ours, book it first: books/README.md says how"),
            }));
        }
        let known: Vec<&str> = self.consigned().map(|one| one.slab.as_str()).collect();
        let is_bare = event.shipment.is_none() && !whole.contains('/');
        match nearest(id, &known).filter(|_| is_bare) {
            None => Ok(()),
            Some(near) => Err(report.error(
                Fault::error(Code::UnknownReference, format!("no slab is called \"{id}\""))
                    .at(&name.place, "neither ours nor consigned")
                    .help(format!("did you mean \"{near}\"?"))
                    .help("one of ours has its shipment in front: \"SHIPMENT/410-01\""),
            )),
        }
    }

    /// A charge by its key.
    pub(super) fn charge_of(
        &self,
        event: &BookEvent,
        name: &At<String>,
        report: &mut Report,
    ) -> Result<Of, Reported> {
        let all = self.charges_of(event, name, report)?;
        match all[..] {
            [one] => Ok(one),
            _ => Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    format!("{} charges are called \"{}\"", all.len(), name.value),
                )
                .at(&name.place, "which of them is meant?")
                .help(format!("write one of: {}", self.keys(&all))),
            )),
        }
    }

    /// Charges by key, or all that are called so.
    pub(super) fn charges_of(
        &self,
        event: &BookEvent,
        name: &At<String>,
        report: &mut Report,
    ) -> Result<Vec<Of>, Reported> {
        let (shipment, key) = self.shipment_of(event, name, report)?;
        let own = self.charges.get(shipment).map_or(&[][..], |all| all);
        let estimated = self.freeze(shipment).map_or(0, |freeze| freeze.charges.len());
        let of_estimate = self.keys.get(shipment).and_then(|keys| keys.get(key)).copied();
        let mut never_estimated = own.iter().enumerate().skip(estimated);
        let found = of_estimate
            .or_else(|| never_estimated.find(|(_, charge)| charge.key == key).map(|(at, _)| at));
        if let Some(at) = found {
            return Ok(vec![(shipment, at)]);
        }
        let called = own.iter().enumerate().filter(|(_, charge)| charge.name == key);
        let called: Vec<Of> = called.map(|(at, _)| (shipment, at)).collect();
        if !called.is_empty() {
            return Ok(called);
        }
        let known: Vec<&str> = own.iter().map(|charge| charge.key.as_str()).collect();
        let fault =
            Fault::error(Code::UnknownReference, format!("no charge has the key \"{key}\""))
                .at(&name.place, "not in the booked estimate");
        let fault = match nearest(key, &known) {
            Some(near) => fault.help(format!("did you mean \"{near}\"?")),
            None => fault.help(format!("its keys: {}", known.join(", "))),
        };
        Err(report.error(fault.help("what was never estimated is a line with `new` of a bill")))
    }

    fn keys(&self, all: &[Of]) -> String {
        let key = |(shipment, charge): &Of| Some(&*self.charges.get(*shipment)?.get(*charge)?.key);
        all.iter().filter_map(key).collect::<Vec<_>>().join(", ")
    }

    /// Whether all things of an event are in books of one currency.
    pub(super) fn one_currency(
        &self,
        event: &BookEvent,
        all: &[Of],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let mut currencies =
            all.iter().filter_map(|(shipment, _)| Some(self.freeze(*shipment)?.currency));
        let first = currencies.next();
        if currencies.any(|other| Some(other) != first) {
            return Err(report.error(
                Fault::error(Code::Contradiction, "an event is of books in one currency")
                    .at(&event.place, "here it is of several")
                    .help("write an event for the shipments of each currency"),
            ));
        }
        Ok(())
    }
}
