//! What is found of slabs at their arrival or in a count: lost, never packed, measured or graded anew.

use std::collections::{BTreeMap, BTreeSet};

use smol_str::SmolStr;

use super::posting::Posting;
use super::undo::{Of, Undo};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Area, Decimal};
use crate::trade::{Found, FoundState};

impl Posting<'_, '_> {
    /// What was found of slabs otherwise than the books have it: those that are lost. Those that came and were not
    /// packed are listed.
    pub(super) fn find_all(
        &mut self,
        found: &[Found],
        (yard, is_there): (&At<String>, &dyn Fn(Of) -> bool),
        report: &mut Report,
    ) -> Result<BTreeSet<Of>, Reported> {
        let mut lost = BTreeSet::new();
        let mut seen: BTreeMap<&str, &At<String>> = BTreeMap::new();
        for one in found {
            let id = &one.slab;
            if let Some(first) = seen.insert(id.value.as_str(), id) {
                return Err(report.error(
                    Fault::error(Code::Duplicate, format!("slab {} is found twice", id.value))
                        .at(&id.place, "again here")
                        .also(&first.place, "first here"),
                ));
            }
            let (shipment, name) = self.ledger.shipment_of(self.event, id, report)?;
            let known = self.ledger.names.get(shipment).and_then(|names| names.get(name)).copied();
            if one.state == FoundState::Over {
                if known.is_some() {
                    return Err(report.error(
                        Fault::error(
                            Code::Contradiction,
                            format!("slab {} was packed, and is found over", id.value),
                        )
                        .at(&id.place, "this number stands on the packing list")
                        .help("give it a number of its own"),
                    ));
                }
                if let Some(over) = self.ledger.over.get_mut(shipment) {
                    over.push((name.to_owned(), yard.value.as_str().into(), self.at));
                }
                self.note(Undo::Over { shipment });
                continue;
            }
            match known.map(|at| (shipment, at)).filter(|of| is_there(*of)) {
                Some(of) if one.state.is_loss() => _ = lost.insert(of),
                Some(of) => {
                    self.ask_area(of, one, report);
                    self.find_so(of, (one.area, one.quality.clone()));
                }
                None => {
                    return Err(report.error(
                        Fault::error(
                            Code::UnknownReference,
                            format!("slab {} is not among the slabs of this event", id.value),
                        )
                        .at(&id.place, "found here")
                        .help("one that was never packed is state = \"over\""),
                    ));
                }
            }
        }
        Ok(lost)
    }

    /// Asks whether an area is meant that is a fifth larger than was packed, or not half as large: what is left of a
    /// slab is a cut.
    fn ask_area(&self, slab: Of, found: &Found, report: &mut Report) {
        let packed = self.ledger.slab(slab).map(|slab| slab.gross);
        let Some((area, packed)) = found.area.zip(packed) else { return };
        let times = |hundredths: i64| packed.base().checked_mul(Decimal::new(hundredths, 2));
        let is_within = times(50).is_some_and(|least| area.base() >= least)
            && times(120).is_some_and(|most| area.base() <= most);
        if !is_within {
            let units = report.units();
            let (own, was) = (area.show(units), packed.show(units));
            let message =
                format!("slab {} measures {own}, and was packed with {was}", found.slab.value);
            let fault = Fault::warning(Code::OutOfRange, message)
                .at(&found.slab.place, "measured again here")
                .help(
                    "is it measured right? a slab of which a part is left is cut: kind = \"cut\"",
                );
            self.event.ask(fault, report);
        }
    }

    /// A slab is found to measure so much, or to be of such quality. Its cost and its weight stay.
    fn find_so(&mut self, slab: Of, (area, quality): (Option<Area>, Option<SmolStr>)) {
        let Some(own) = self.slab_mut(slab) else { return };
        let before = (own.measured, own.quality.clone());
        own.measured = area.or(own.measured);
        own.quality = quality.or(own.quality.take());
        self.note(Undo::Found { slab, before });
    }
}
