//! A slab cut into pieces.
//!
//! Decided on 2026-11-27. Its cost goes to the pieces by area, and so does whatever its charges come to later on.
//! What a cut takes anyway stays in the cost of the pieces; the part of abnormal waste is expensed, as that of an
//! abnormal loss is: it bears its part of the normal one (IAS 2, paragraph 16; B14 of the course notes).

use super::posting::Posting;
use super::state::{Loss, Piece as Cut, SlabState};
use super::undo::{Of, Undo};
use super::whereabouts::Where;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Area, Mass, Weights};
use crate::trade::{FrozenSlab, Piece};

impl Posting<'_, '_> {
    /// A slab is cut.
    pub(super) fn cut_up(
        &mut self,
        name: &At<String>,
        pieces: &[Piece],
        abnormal: Option<&At<Area>>,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let slabs = self.ledger.slabs_of(self.event, std::slice::from_ref(name), report)?;
        self.need(&slabs, "on hand", Where::is_on_hand, report)?;
        let of = report.found(slabs.first().copied(), "a slab")?;
        let own = report.found(self.slab_at(of).cloned(), "a slab")?;
        let slab = report.found(self.ledger.slab(of).cloned(), "a slab")?;
        self.are_new(of.0, pieces, report)?;
        let whole = own.measured.unwrap_or(slab.gross);
        let spoilt = abnormal.map_or(Area::ZERO, |at| at.value);
        let kept = self.fits(Area::total(pieces.iter().map(|piece| piece.area)), report)?;
        let waste = self.fits(kept.plus(spoilt).and_then(|all| whole.minus(all)), report)?;
        if waste < Area::ZERO {
            let [all, whole] = [self.fits(kept.plus(spoilt), report)?, whole]
                .map(|area| format!("{} m2", area.to_m2(4).normalize()));
            return Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    format!("what is cut from slab {} is {all}, and the slab is {whole}", slab.id),
                )
                .at(&name.place, "cut here")
                .help("measure the pieces again; a slab that is larger than its list says is re-measured first, at its arrival or by a count"),
            ));
        }
        let areas = || pieces.iter().map(|piece| piece.area.base());
        let by = Weights::of(areas());
        let parts = Weights::of([kept.base(), spoilt.base()]);
        let of_mass = Weights::of(areas().chain([spoilt.base(), waste.base()]));
        let all = by.ok().zip(parts.ok()).zip(of_mass.ok());
        let ((by, parts), of_mass) = report.found(all, "the areas of pieces")?;
        let grams = of_mass.divide_units(slab.mass.grams_down()).unwrap_or_default();
        // What is written down stays written down: the pieces are worth what their part of the slab is.
        let worth = own.worth.and_then(|worth| parts.divide_units(worth).ok()?.first().copied());
        let worth = worth.and_then(|worth| by.divide_units(worth).ok());
        let mut takers = Vec::new();
        for (at, piece) in pieces.iter().enumerate() {
            let quality = piece.quality.clone().or_else(|| own.quality.clone());
            let cut = FrozenSlab {
                id: self.own_name(&piece.slab.value).into(),
                gross: piece.area,
                billed: piece.area,
                mass: Mass::grams(grams.get(at).copied().unwrap_or(0)),
                ..slab.clone()
            };
            let state = SlabState {
                at: own.at.clone(),
                moved_by: Some(self.at),
                arrived: own.arrived,
                worth: worth.as_ref().and_then(|worth| worth.get(at).copied()),
                reserved: own.reserved,
                quality,
                ..SlabState::new()
            };
            takers.push(self.add_piece(of, (cut, state), false, report)?);
        }
        let pieces = takers.clone();
        let set = self.new_loss(Loss { parts, takers, by, borne: 0, given: 0 });
        self.note(Undo::Cut { shipment: of.0, set, pieces });
        self.lose(of, (Where::Cut, set), report)
    }

    /// Holds the numbers of pieces against those that are there.
    fn are_new(
        &self,
        shipment: usize,
        pieces: &[Piece],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let names = self.ledger.names.get(shipment);
        let mut sound = Ok(());
        for (at, piece) in pieces.iter().enumerate() {
            let id = self.own_name(&piece.slab.value);
            let is_known = names.is_some_and(|names| names.contains_key(id));
            let before = pieces.iter().take(at);
            if is_known || before.map(|one| self.own_name(&one.slab.value)).any(|one| one == id) {
                sound = Err(report.error(
                    Fault::error(Code::Duplicate, format!("a slab is called \"{id}\" already"))
                        .at(&piece.slab.place, "a piece of this number")
                        .help("give each piece a number of its own, such as that of its slab with a letter behind"),
                ));
            }
        }
        sound
    }

    /// A name without the shipment that a yard's file has before it.
    fn own_name<'n>(&self, name: &'n str) -> &'n str {
        match self.event.shipment {
            Some(_) => name,
            None => name.split_once('/').map_or(name, |(_, name)| name),
        }
    }

    pub(super) fn add_piece(
        &mut self,
        (shipment, of): Of,
        (slab, state): (FrozenSlab, SlabState),
        is_over: bool,
        report: &mut Report,
    ) -> Result<usize, Reported> {
        let ledger = &mut *self.ledger;
        let all = ledger.slabs.get_mut(shipment).zip(ledger.pieces.get_mut(shipment));
        let all = all.zip(ledger.names.get_mut(shipment));
        let ((states, pieces), names) = report.found(all, "the slabs of a shipment")?;
        let at = states.len();
        names.insert(slab.id.clone(), at);
        states.push(state);
        pieces.push(Cut { slab, of, is_over });
        Ok(at)
    }

    /// Takes pieces back: they never were.
    pub(super) fn uncut(&mut self, shipment: usize, pieces: &[usize]) {
        for at in pieces {
            let id = self.ledger.slab((shipment, *at)).map(|slab| slab.id.clone());
            if let (Some(names), Some(id)) = (self.ledger.names.get_mut(shipment), id) {
                names.remove(&id);
            }
            if let Some(piece) = self.slab_mut((shipment, *at)) {
                *piece = SlabState::new();
            }
        }
    }
}
