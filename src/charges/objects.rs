//! What a row is counted by: the objects of its `per`, and the slabs that share each.
//!
//! Decided on 2026-11-25. Two boxes are two charges of ocean freight, even where the whole shipment shares
//! them. A row per slab is one charge over its slabs by count, as a million slabs would make a million
//! charges.
//!
//! Decided on 2026-11-27. Our own charges by the square metre go by the area as sawn: an inspector or a yard
//! handles all of the stone. Counted by what a supplier bills, the one who bills less looked cheaper.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use super::job::Job;
use super::schedule::Tally;
use super::sums::{Sums, Turn};
use crate::bill::{Object, On, SetId, SetName, Sets};
use crate::fault::{Report, Reported};
use crate::load::{FilledBox, Plan, Variant};
use crate::price::{asked_for, by_entry};
use crate::quantity::{Decimal, Mass, Overflow};
use crate::trade::{
    BillOfLading, ChargeRow, Covers, Per, Rate, ScopeKind, Shipment, Slab, TableName,
};

/// The objects a plain row is counted by, of the slabs of a set.
pub(super) fn objects(
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    (row, set): (&ChargeRow, SetId),
    report: &mut Report,
) -> Result<Vec<Tally>, Reported> {
    let Job { shipment, plan, .. } = turn.job;
    let name = sums.whole.clone();
    let whole = |kind: ScopeKind, count: Decimal| {
        let on = On { object: Object::Shipment, set };
        vec![Tally { on, kind, of: name, set, count }]
    };

    let asked = asked_for(shipment, row);
    Ok(match row.per {
        Per::Bill => bills(turn.job, &mut sums.sets, set),
        Per::Entry => entry(turn, sums, row).into_iter().collect(),
        Per::TariffLine if matches!(row.rate.value, Rate::Tiers(_)) => {
            // The first lines may be cheaper: the entry's lines are one charge, counted.
            let count = Decimal::from(tariff_lines(turn, sums, row).len());
            entry(turn, sums, row).map(|entry| Tally { count, ..entry }).into_iter().collect()
        }
        Per::TariffLine => tariff_lines(turn, sums, row),
        per @ (Per::Tonne | Per::M2) if asked == Some(ScopeKind::Container) => {
            // Box by box, each box bearing its own.
            let mut objects = Vec::new();
            for (index, filled) in plan.boxes.iter().enumerate() {
                let Some(set) = of_box(&mut sums.sets, (index, filled), set) else { continue };
                let count = measured(per, &sums.sets, set, shipment);
                let count = report.fits(count, &row.place)?;
                let on = On { object: Object::Container(index), set };
                let (kind, of) = (ScopeKind::Container, filled.label.as_str().into());
                objects.push(Tally { on, kind, of, set, count });
            }
            objects
        }
        per @ (Per::Tonne | Per::M2) => {
            let count = measured(per, &sums.sets, set, shipment);
            whole(ScopeKind::Shipment, report.fits(count, &row.place)?)
        }
        Per::Bundle => bundles(shipment, &mut sums.sets, set),
        // One charge over all its slabs by count: every slab has the same amount, as it would with a
        // charge of its own.
        Per::Slab => whole(ScopeKind::Slab, Decimal::from(sums.sets.len(set))),
        per if per.is_time() && by_entry(row, shipment) => {
            entry(turn, sums, row).into_iter().collect()
        }
        _ => whole(ScopeKind::Shipment, Decimal::ONE),
    })
}

/// The slabs of a box that also lie in `need`.
pub(super) fn of_box(
    sets: &mut Sets,
    (index, filled): (usize, &FilledBox),
    need: SetId,
) -> Option<SetId> {
    sets.of_slabs(SetName::Part(ScopeKind::Container, index, need), |sets| {
        sets.within(filled.bundles.iter(), need)
    })
}

/// The slabs of a stone that also lie in `need`.
pub(super) fn of_stone(
    shipment: &Shipment,
    sets: &mut Sets,
    stone: &str,
    need: SetId,
) -> Option<SetId> {
    sets.of_slabs(SetName::Stone(stone.to_owned(), need), |sets| {
        let line = |slab: &Slab| shipment.lines.get(usize::try_from(slab.line).ok()?);
        let is_of = |at: usize| {
            let line = shipment.slabs.get(at).and_then(line);
            line.is_some_and(|line| line.stone.value == stone)
        };
        sets.among(need, is_of)
    })
}

/// The bills of lading that have slabs in a set. Each forwarder issues a bill of its own: where boxes go by
/// several forwarders, a bill without a list of boxes becomes one bill for each forwarder.
fn bills(job: Job<'_>, sets: &mut Sets, set: SetId) -> Vec<Tally> {
    let shipment = job.shipment;
    let kind = ScopeKind::Bill;
    let mut objects = Vec::new();
    for (at, bill) in shipment.bills.iter().enumerate() {
        let all = bill.covers == Covers::Everything;
        let own = if all { Some(set) } else { of_bill(shipment, sets, (at, bill), set) };
        let Some(set) = own else { continue };
        let mut add = |of: &str, set: SetId| {
            let on = On { object: Object::Bill(at), set };
            objects.push(Tally { on, kind, of: of.into(), set, count: Decimal::ONE });
        };
        if matches!(bill.covers, Covers::Bundles(_)) || !job.choice.mixes(TableName::Freight) {
            add(&bill.number, set);
            continue;
        }
        for (offer, set) in apart(job.plan, sets, TableName::Freight, set) {
            add(&format!("{}, {offer}", bill.number), set);
        }
    }
    objects
}

fn of_bill(
    shipment: &Shipment,
    sets: &mut Sets,
    (at, bill): (usize, &BillOfLading),
    set: SetId,
) -> Option<SetId> {
    sets.of_slabs(SetName::Part(ScopeKind::Bill, at, set), |sets| {
        sets.among(set, |at| {
            let slab = shipment.slabs.get(at);
            slab.is_some_and(|slab| shipment.covered(&bill.covers, slab.line, slab.bundle))
        })
    })
}

/// The rows that are counted together, with the slabs they are for: where boxes go by different
/// offers, the rows of each offer are for the slabs in its boxes.
pub(super) fn by_offer<'s, 'r>(
    job: Job<'_>,
    sets: &mut Sets,
    rows: &'s [&'r ChargeRow],
    need: SetId,
) -> Vec<(Cow<'s, [&'r ChargeRow]>, SetId)> {
    let Some(first) = rows.first() else { return Vec::new() };
    // All rows of a purpose are of one table.
    let table = first.table;
    if rows.iter().all(|row| row.offer.is_none()) || !job.choice.mixes(table) {
        return vec![(rows.into(), need)];
    }
    let of = |offer: &str| {
        let own = |row: &&ChargeRow| row.offer.as_deref().is_none_or(|own| own == offer);
        rows.iter().copied().filter(own).collect()
    };
    apart(job.plan, sets, table, need).into_iter().map(|(offer, set)| (of(offer), set)).collect()
}

/// The slabs of a set by the offer that their boxes go by, for each offer that has any.
fn apart<'a>(
    plan: &'a Plan,
    sets: &mut Sets,
    table: TableName,
    need: SetId,
) -> Vec<(&'a str, SetId)> {
    let by_offer = by_boxes(plan, sets, need, |variant| variant.offers.of(table));
    let of = |(offer, (_, slabs)): (&'a str, (_, Vec<u32>))| {
        let name = SetName::Offer(table, offer.to_owned(), need);
        Some((offer, sets.of_slabs(name, |_| slabs)?))
    };
    by_offer.into_iter().filter_map(of).collect()
}

/// The slabs of a set by the kind of box they are in, where rows tell kinds of box apart.
pub(super) fn by_kind<'a>(
    plan: &'a Plan,
    sets: &mut Sets,
    rows: &[&ChargeRow],
    need: SetId,
) -> Vec<(Option<&'a Variant>, SetId)> {
    if !rows.iter().any(|row| row.is_by_kind()) {
        return vec![(None, need)];
    }
    let by_kind = by_boxes(plan, sets, need, |variant| {
        Some((variant.container.id.as_str(), variant.class.as_deref()))
    });
    let of = |(variant, slabs): (&'a Variant, Vec<u32>)| {
        let name = SetName::Kind(variant.label(), need);
        Some((Some(variant), sets.of_slabs(name, |_| slabs)?))
    };
    by_kind.into_values().filter_map(of).collect()
}

/// The slabs of a set by something of the boxes they are in, with the first kind of box that has it.
fn by_boxes<'a, K: Ord>(
    plan: &'a Plan,
    sets: &Sets,
    need: SetId,
    of: impl Fn(&'a Variant) -> Option<K>,
) -> BTreeMap<K, (&'a Variant, Vec<u32>)> {
    let mut all: BTreeMap<K, (&Variant, Vec<u32>)> = BTreeMap::new();
    for filled in &plan.boxes {
        let Some(variant) = plan.variants.get(filled.variant) else { continue };
        let Some(key) = of(variant) else { continue };
        let (_, slabs) = all.entry(key).or_insert((variant, Vec::new()));
        slabs.extend(sets.within(filled.bundles.iter(), need));
    }
    all
}

/// The current entry, without the lines free of the row.
fn entry(turn: Turn<'_>, sums: &mut Sums<'_>, row: &ChargeRow) -> Option<Tally> {
    let Sums { sets, entries, .. } = sums;
    let at = turn.entry?;
    let entry = entries.get(at)?;
    let liable = entry.lines.iter().filter(|line| !line.is_free_of(row));
    let liable: Vec<SetId> = liable.map(|line| line.set).collect();
    let set = if liable.len() == entry.lines.len() {
        entry.set
    } else {
        sets.of_slabs(SetName::Liable(at, liable.clone()), |sets| {
            liable.iter().flat_map(|line| sets.among(*line, |_| true)).collect()
        })?
    };
    let (kind, of) = (ScopeKind::Entry, entry.id.as_str().into());
    let on = On { object: Object::Entry(at), set };
    Some(Tally { on, kind, of, set, count: Decimal::ONE })
}

fn tariff_lines(turn: Turn<'_>, sums: &Sums<'_>, row: &ChargeRow) -> Vec<Tally> {
    let (Some(at), Some(entry)) = (turn.entry, sums.entry(turn)) else { return Vec::new() };
    let lines = entry.lines.iter().enumerate();
    let liable = lines.filter(|(_, line)| !line.is_free_of(row));
    liable
        .map(|(index, line)| Tally {
            on: On { object: Object::TariffLine(at, index), set: line.set },
            kind: ScopeKind::TariffLine,
            of: line.label.as_str().into(),
            set: line.set,
            count: Decimal::ONE,
        })
        .collect()
}

fn bundles(shipment: &Shipment, sets: &mut Sets, set: SetId) -> Vec<Tally> {
    let mut objects = Vec::with_capacity(shipment.bundles.len());
    for (index, bundle) in shipment.bundles.iter().enumerate() {
        let Some(set) = sets.bundle_within(index, set) else { continue };
        let (kind, of) = (ScopeKind::Bundle, bundle.id.as_str().into());
        let on = On { object: Object::Bundle(index), set };
        objects.push(Tally { on, kind, of, set, count: Decimal::ONE });
    }
    objects
}

/// What the slabs of a set measure: their bundles' gross mass in tonnes, or their area as sawn in square
/// metres; what is billed where the line states no more.
fn measured(per: Per, sets: &Sets, set: SetId, shipment: &Shipment) -> Result<Decimal, Overflow> {
    if per != Per::Tonne {
        return sets.tally(set, shipment).map(|tally| tally.gross.base());
    }
    let slabs = sets.members(set).filter_map(|at| shipment.slabs.get(at));
    let bundles: BTreeSet<u32> = slabs.map(|slab| slab.bundle).collect();
    let bundles =
        bundles.into_iter().filter_map(|at| shipment.bundles.get(usize::try_from(at).ok()?));
    Mass::total(bundles.map(|bundle| bundle.mass)).map(Mass::to_tonnes)
}
