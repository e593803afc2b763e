//! Slabs in a yard that belong to others, and slabs that came over and are taken in.
//!
//! Decided on 2026-11-27. What is consigned has no cost and is on no account: it is listed apart, and is neither stock
//! nor sold from it. A slab that came over is listed at no cost until it is taken in; from then on it is a slab of its
//! shipment like the one that is named, and bears what is billed for it.

use smol_str::SmolStr;

use super::posting::Posting;
use super::state::{Consigned, SlabState};
use super::undo::{Of, Undo};
use super::whereabouts::Where;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::Area;
use crate::read::nearest;
use crate::trade::{FrozenSlab, Piece};

impl Posting<'_, '_> {
    /// Slabs of another come to a yard.
    pub(super) fn consign_in(
        &mut self,
        pieces: &[Piece],
        (yard, stone): (&At<String>, Option<&str>),
        report: &mut Report,
    ) -> Result<(), Reported> {
        for piece in pieces {
            let id = &piece.slab;
            let is_there = |one: &&Consigned| one.slab == id.value && one.gone.is_none();
            if let Some(first) = self.ledger.consigned.iter().find(is_there).map(|one| one.came) {
                return Err(self.twice(&format!("slab {} is consigned", id.value), first, report));
            }
            self.ledger.consigned.push(Consigned {
                slab: id.value.clone(),
                owner: self.own_party().into(),
                stone: stone.map(str::to_owned),
                yard: yard.value.clone(),
                area: piece.area,
                quality: piece.quality.clone(),
                since: self.event.posted,
                came: self.at,
                gone: None,
            });
        }
        self.note(Undo::Consigned);
        Ok(())
    }

    /// Slabs of another leave: its owner took them, or they were sold for him.
    pub(super) fn consign_out(
        &mut self,
        names: &[At<String>],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let at = self.at;
        for name in names {
            let mut all = self.ledger.consigned.iter_mut().filter(|one| one.gone.is_none());
            if let Some(own) = all.find(|one| one.slab == name.value) {
                own.gone = Some(at);
                continue;
            }
            let all = self.ledger.consigned.iter().filter(|one| one.gone.is_none());
            let known: Vec<&str> = all.map(|one| one.slab.as_str()).collect();
            let message = format!("no slab \"{}\" is consigned", name.value);
            let fault = Fault::error(Code::UnknownReference, message)
                .at(&name.place, "it is not in a yard of ours for another");
            return Err(report.error(match (nearest(&name.value, &known), &known[..]) {
                (Some(near), _) => fault.help(format!("did you mean \"{near}\"?")),
                (None, []) => fault.help("write first when it came: kind = \"consigned in\""),
                (None, _) => fault.help(format!("consigned are: {}", known.join(", "))),
            }));
        }
        self.note(Undo::Consigned);
        Ok(())
    }

    /// Takes back what an event did to consigned slabs.
    pub(super) fn unconsign(&mut self, of: usize) {
        self.ledger.consigned.retain(|one| one.came != of);
        for one in &mut self.ledger.consigned {
            one.gone = one.gone.filter(|event| *event != of);
        }
    }

    /// A slab that came over is taken in, like another of its shipment.
    pub(super) fn take_in(
        &mut self,
        (name, like): (&At<String>, &At<String>),
        area: Option<Area>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let (shipment, id) = self.ledger.shipment_of(self.event, name, report)?;
        let all = self.ledger.over.get(shipment).map_or(&[][..], |all| all);
        let Some(at) = all.iter().position(|(own, ..)| own == id) else {
            let known: Vec<&str> = all.iter().map(|(own, ..)| own.as_str()).collect();
            let message = format!("no slab came over under the number \"{id}\"");
            let fault =
                Fault::error(Code::UnknownReference, message).at(&name.place, "taken in here");
            return Err(report.error(match &known[..] {
                [] => fault.help(
                    "write first how it was found: state = \"over\" of an arrival or a count",
                ),
                _ => fault.help(format!("these did: {}", known.join(", "))),
            }));
        };
        let of = self.ledger.slabs_of(self.event, std::slice::from_ref(like), report)?;
        let own = of.first().copied().filter(|of| of.0 == shipment);
        let packed = own.and_then(|of| self.ledger.slab(of).cloned());
        let Some((like, packed)) = own.zip(packed) else {
            let fault = Fault::error(Code::Contradiction, "a slab is like one of its own shipment");
            return Err(report.error(fault.at(&like.place, "this one is of another")));
        };
        self.currency(shipment);
        let came = self.ledger.over.get_mut(shipment).map(|all| all.remove(at));
        let came = report.found(came, "a slab that came over")?;
        let arrived = self.ledger.books.events.get(came.2).map(|event| event.posted);
        let measured = area.unwrap_or(packed.gross);
        let slab = FrozenSlab {
            id: came.0.as_str().into(),
            gross: measured,
            billed: area.unwrap_or(packed.billed),
            ..packed
        };
        let state = SlabState {
            at: Where::Yard(came.1.clone()),
            moved_by: Some(self.at),
            arrived,
            ..SlabState::new()
        };
        let at = self.add_piece(like, (slab, state), true, report)?;
        self.note(Undo::TakenIn { slab: (shipment, at), came });
        Ok(())
    }

    /// Takes a slab that was taken in out again.
    pub(super) fn take_out(&mut self, (shipment, at): Of, came: (String, SmolStr, usize)) {
        self.uncut(shipment, &[at]);
        if let Some(over) = self.ledger.over.get_mut(shipment) {
            over.push(came);
        }
    }
}
