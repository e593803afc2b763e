//! Which slabs share a charge, where its row or a policy asks for others than it is counted by.

use smol_str::SmolStr;

use super::objects::of_box;
use super::schedule::Tally;
use super::sums::{Sums, Turn};
use crate::bill::{Scope, SetId, SetName};
use crate::fault::{Code, Fault, Report, Reported};
use crate::price::scope_of;
use crate::trade::{ChargeRow, Covers, ScopeKind, Shipment, Slab, wrong_scope};

/// The scope of a charge: the counted object, or a wider one that holds the whole object.
pub(super) fn scope(
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    row: &ChargeRow,
    object: Tally,
    report: &mut Report,
) -> Result<Scope, Reported> {
    let asked = scope_of(turn.job.shipment, row).filter(|asked| asked.value != object.kind);
    let Some(asked) = asked else {
        return Ok(Scope { kind: object.kind, of: object.of, set: object.set });
    };
    let serving = crate::trade::scopes(row).unwrap_or_else(|| object.kind.widens_to());
    if !serving.contains(&asked.value) || !object.kind.widens_to().contains(&asked.value) {
        return Err(report.error(wrong_scope(&row.name, asked, serving)));
    }
    let Some((of, set)) = holding(turn, sums, &object, asked.value) else {
        let (own, wide) = (object.kind.word(), asked.value.word());
        let message = format!("\"{}\": {own} {} lies in more than one {wide}", row.name, object.of);
        return Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&asked.place, "asked for here")
                .help(format!("write scope = \"{own}\" or scope = \"shipment\"")),
        ));
    };
    Ok(Scope { kind: asked.value, of, set })
}

/// The one thing of a kind that holds all slabs of an object: its name, and its slabs.
fn holding(
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    object: &Tally,
    kind: ScopeKind,
) -> Option<(SmolStr, SetId)> {
    let shipment = turn.job.shipment;
    if kind == ScopeKind::Shipment {
        return Some((sums.whole.clone(), turn.need));
    }
    if kind == ScopeKind::Entry
        && let Some(entry) = sums.entry(turn)
    {
        return Some((entry.id.as_str().into(), entry.set));
    }
    let sets = &mut sums.sets;
    let first = shipment.slabs.get(sets.members(object.set).next()?)?;
    if kind == ScopeKind::Container {
        let bundle = usize::try_from(first.bundle).ok()?;
        let mut boxes = turn.job.plan.boxes.iter().enumerate();
        let (at, filled) = boxes.find(|(_, filled)| filled.bundles.contains(&bundle))?;
        return Some((filled.label.as_str().into(), of_box(sets, (at, filled), turn.need)?));
    }
    let part = part(shipment, kind, first)?;
    let is_in = |at: usize| {
        let slab = shipment.slabs.get(at);
        slab.is_some_and(|slab| self::part(shipment, kind, slab) == Some(part))
    };
    if !sets.members(object.set).all(is_in) {
        return None;
    }
    let name = SetName::Part(kind, part, turn.need);
    let set = sets.of_slabs(name, |sets| sets.among(turn.need, is_in))?;
    Some((name_of(shipment, kind, part)?.into(), set))
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
            let holds = |covers: &Covers| shipment.covered(covers, slab.line, slab.bundle);
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
