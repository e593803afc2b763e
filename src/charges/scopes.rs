//! Which slabs share a charge, where its row or a policy asks for others than it is counted by.

use smol_str::SmolStr;

use super::rows::{Builder, Counted};
use crate::bill::{Scope, SetId, SetName};
use crate::fault::{Code, Fault, Report};
use crate::price::scope_of;
use crate::trade::{ChargeRow, ScopeKind, Shipment, Slab, wrong_scope};

impl Builder<'_, '_> {
    /// Whose charge it is: the object's it was counted by, or of a wider scope that holds all of it.
    pub(super) fn scope(
        &mut self,
        row: &ChargeRow,
        object: Counted,
        report: &mut Report,
    ) -> Option<Scope> {
        let shipment = self.job.shipment;
        let asked = scope_of(shipment, row).filter(|asked| asked.value != object.kind);
        let Some(asked) = asked else {
            return Some(Scope { kind: object.kind, of: object.of, set: object.set });
        };
        let serving = crate::trade::scopes(row).unwrap_or_else(|| object.kind.widens_to());
        if !serving.contains(&asked.value) || !object.kind.widens_to().contains(&asked.value) {
            report.add(wrong_scope(&row.name, asked, serving));
            return None;
        }
        let Some((of, set)) = self.holding(&object, asked.value) else {
            let (own, wide) = (object.kind.word(), asked.value.word());
            let message =
                format!("\"{}\": {own} {} does not lie in one {wide} alone", row.name, object.of);
            report.add(
                Fault::error(Code::Contradiction, message)
                    .at(&asked.place, "asked for here")
                    .help(format!("leave it to the {own}, or give the shipment")),
            );
            return None;
        };
        Some(Scope { kind: asked.value, of, set })
    }

    /// The one thing of a kind that holds all slabs of an object: its name, and its slabs.
    fn holding(&mut self, object: &Counted, kind: ScopeKind) -> Option<(SmolStr, SetId)> {
        let shipment = self.job.shipment;
        let need = self.need;
        if kind == ScopeKind::Shipment {
            return Some((self.whole.clone(), need));
        }
        if kind == ScopeKind::Entry
            && let Some(entry) = self.turn.and_then(|at| self.entries.get(at))
        {
            return Some((entry.id.as_str().into(), entry.set));
        }
        let first = shipment.slabs.get(self.sets.members(object.set).next()?)?;
        if kind == ScopeKind::Container {
            let bundle = usize::try_from(first.bundle).ok()?;
            let boxes = &self.job.plan.boxes;
            let index = boxes.iter().position(|filled| filled.bundles.contains(&bundle))?;
            let filled = boxes.get(index)?;
            return Some((filled.label.as_str().into(), self.box_set(index, filled, need)?));
        }
        let part = part(shipment, kind, first)?;
        let is_in = |at: usize| {
            shipment
                .slabs
                .get(at)
                .is_some_and(|slab| self::part(shipment, kind, slab) == Some(part))
        };
        if !self.sets.members(object.set).all(is_in) {
            return None;
        }
        let name = SetName::Part(kind, part, need);
        let set = match self.sets.named(&name) {
            Some(set) => set,
            None => {
                let members = self.sets.members(need).filter(|at| is_in(*at));
                let members: Vec<u32> = members.filter_map(|at| u32::try_from(at).ok()).collect();
                self.sets.add(name, &members)
            }
        };
        Some((name_of(shipment, kind, part)?.into(), set))
    }
}

/// Which of the things of a kind a slab is a part of, by position.
fn part(shipment: &Shipment, kind: ScopeKind, slab: &Slab) -> Option<usize> {
    let line = usize::try_from(slab.line).ok();
    match kind {
        ScopeKind::Bill => shipment
            .bills
            .iter()
            .position(|one| shipment.covered(&one.covers, slab.line, slab.bundle)),
        ScopeKind::Entry => {
            let holds =
                |covers: &crate::trade::Covers| shipment.covered(covers, slab.line, slab.bundle);
            shipment.filings.iter().position(|one| holds(&one.covers))
        }
        ScopeKind::Invoice => Some(shipment.lines.get(line?)?.invoice),
        ScopeKind::Line => line,
        ScopeKind::Shipment
        | ScopeKind::TariffLine
        | ScopeKind::Container
        | ScopeKind::Bundle
        | ScopeKind::Slab => None,
    }
}

fn name_of(shipment: &Shipment, kind: ScopeKind, part: usize) -> Option<&str> {
    match kind {
        ScopeKind::Bill => shipment.bills.get(part).map(|bill| bill.number.as_str()),
        ScopeKind::Entry => shipment.filings.get(part).map(|filing| filing.id.as_str()),
        ScopeKind::Invoice => shipment.invoices.get(part).map(|invoice| invoice.number.as_str()),
        ScopeKind::Line => shipment.lines.get(part).map(|line| line.id.as_str()),
        ScopeKind::Shipment
        | ScopeKind::TariffLine
        | ScopeKind::Container
        | ScopeKind::Bundle
        | ScopeKind::Slab => None,
    }
}
