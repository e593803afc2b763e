//! What a row is counted by: the objects of its `per`, and the slabs that share each.

use std::collections::{BTreeMap, BTreeSet};

use super::rows::{Builder, Counted};
use crate::bill::{Object, On, SetId, SetName, Sets};
use crate::fault::{Code, Fault, Report};
use crate::load::Variant;
use crate::price::{asked_for, by_entry};
use crate::quantity::{Decimal, Mass, Overflow};
use crate::trade::{BillOfLading, ChargeRow, Covers, Per, Rate, ScopeKind, TableName};

impl<'a> Builder<'a, '_> {
    pub(super) fn stone_set(&mut self, stone: &str, need: SetId) -> Option<SetId> {
        let shipment = self.job.shipment;
        let needed: Option<BTreeSet<usize>> = (need != Sets::ALL).then(|| {
            self.sets
                .members(need)
                .filter_map(|at| shipment.slabs.get(at))
                .filter_map(|slab| usize::try_from(slab.line).ok())
                .collect()
        });
        self.sets.of_lines(SetName::Stone(stone.to_owned(), need), shipment, |line| {
            shipment.lines.get(line).is_some_and(|line| line.stone.value == stone)
                && needed.as_ref().is_none_or(|lines| lines.contains(&line))
        })
    }

    /// The objects a plain row is counted by.
    pub(super) fn objects(
        &mut self,
        row: &ChargeRow,
        set: SetId,
        report: &mut Report,
    ) -> Option<Vec<Counted>> {
        let whole = |kind: ScopeKind, count: Decimal| Counted {
            on: On { object: Object::Shipment, set },
            kind,
            of: self.whole.clone(),
            set,
            count,
        };
        let count = |result: Result<Decimal, Overflow>, report: &mut Report| match result {
            Ok(count) => Some(count),
            Err(overflow) => {
                report
                    .add(Fault::error(Code::Overflow, overflow.to_string()).at(&row.place, "here"));
                None
            }
        };
        let asked = asked_for(self.job.shipment, row);
        Some(match row.per.unwrap_or(Per::Shipment) {
            Per::Bill => self.bill_objects(set),
            Per::Entry => self.entry_object(row).into_iter().collect(),
            Per::TariffLine if matches!(row.rate.value, Rate::Tiers(_)) => {
                // The first lines may be cheaper: the entry's lines are one charge, counted.
                let lines = self.tariff_line_objects(row).len();
                let count = Decimal::from(lines);
                self.entry_object(row).map(|entry| Counted { count, ..entry }).into_iter().collect()
            }
            Per::TariffLine => self.tariff_line_objects(row),
            Per::Tonne | Per::M2 if asked == Some(ScopeKind::Container) => {
                self.measured_boxes(row, set, report)?
            }
            Per::Bundle => self.bundle_objects(set),
            Per::Slab => {
                // One charge over all its slabs by count: every slab has the same amount, as it
                // would with a charge of its own.
                vec![whole(ScopeKind::Slab, Decimal::from(self.sets.len(set)))]
            }
            Per::Tonne => {
                let tonnes = count(self.gross_tonnes(set), report)?;
                vec![whole(ScopeKind::Shipment, tonnes)]
            }
            Per::M2 => {
                let area = count(self.billed_m2(set), report)?;
                vec![whole(ScopeKind::Shipment, area)]
            }
            per if per.is_time() && by_entry(row, self.job.shipment) => {
                self.entry_object(row).into_iter().collect()
            }
            Per::Shipment | Per::Day | Per::Hour | Per::Month | Per::Quarter | Per::Container => {
                vec![whole(ScopeKind::Shipment, Decimal::ONE)]
            }
        })
    }

    /// The bills of lading that have slabs in a set. Each forwarder makes out a bill of its own: where
    /// boxes go by several, what a bill covers that does not list its boxes is one bill for each.
    fn bill_objects(&mut self, set: SetId) -> Vec<Counted> {
        let shipment = self.job.shipment;
        let mut objects = Vec::new();
        let kind = ScopeKind::Bill;
        for (at, bill) in shipment.bills.iter().enumerate() {
            let on = |set| On { object: Object::Bill(at), set };
            let all = bill.covers == Covers::Everything;
            let own = if all { Some(set) } else { self.bill_set((at, bill), set) };
            let Some(set) = own else { continue };
            if matches!(bill.covers, Covers::Bundles(_))
                || !self.job.choice.mixes(TableName::Freight)
            {
                let of = bill.number.as_str().into();
                objects.push(Counted { on: on(set), kind, of, set, count: Decimal::ONE });
                continue;
            }
            for (offer, set) in self.apart(TableName::Freight, set) {
                let of = format!("{}, {offer}", bill.number).into();
                objects.push(Counted { on: on(set), kind, of, set, count: Decimal::ONE });
            }
        }
        objects
    }

    /// The rows that are counted together, with the slabs they are for: where boxes go by different
    /// offers, the rows of each offer are for the slabs in its boxes.
    pub(super) fn by_offer<'r>(
        &mut self,
        rows: &[&'r ChargeRow],
        need: SetId,
    ) -> Vec<(Vec<&'r ChargeRow>, SetId)> {
        let Some(first) = rows.first() else { return Vec::new() };
        // All rows of a purpose are of one table.
        let table = first.table;
        if rows.iter().all(|row| row.offer.is_none()) || !self.job.choice.mixes(table) {
            return vec![(rows.to_vec(), need)];
        }
        let of = |offer: &str| {
            let own = |row: &&ChargeRow| row.offer.as_deref().is_none_or(|own| own == offer);
            rows.iter().copied().filter(own).collect()
        };
        self.apart(table, need).into_iter().map(|(offer, set)| (of(&offer), set)).collect()
    }

    /// The slabs of a set by the offer that their boxes go by, for each offer that has any.
    fn apart(&mut self, table: TableName, need: SetId) -> Vec<(String, SetId)> {
        let plan = self.job.plan;
        let mut by_offer: BTreeMap<&str, Vec<u32>> = BTreeMap::new();
        for filled in &plan.boxes {
            let variant = plan.variants.get(filled.variant);
            let Some(offer) = variant.and_then(|variant| variant.offers.of(table)) else {
                continue;
            };
            let inside = filled.bundles.iter().flat_map(|bundle| self.sets.bundle(*bundle));
            let needed = |slab: &&u32| {
                usize::try_from(**slab).is_ok_and(|at| self.sets.position(need, at).is_some())
            };
            by_offer.entry(offer).or_default().extend(inside.filter(needed));
        }
        let mut all = Vec::new();
        for (offer, mut members) in by_offer {
            let name = SetName::Offer(table, offer.to_owned(), need);
            members.sort_unstable();
            if !members.is_empty() {
                let set = self.sets.named(&name);
                let set = set.unwrap_or_else(|| self.sets.add(name, &members));
                all.push((offer.to_owned(), set));
            }
        }
        all
    }

    /// The slabs of a set by the kind of box they are in, where rows tell kinds of box apart.
    pub(super) fn by_kind(
        &mut self,
        rows: &[&ChargeRow],
        need: SetId,
    ) -> Vec<(Option<&'a Variant>, SetId)> {
        type Kind<'k> = (&'k str, Option<&'k str>);
        if !rows.iter().any(|row| row.is_by_kind()) {
            return vec![(None, need)];
        }
        let plan = self.job.plan;
        let mut by_kind: BTreeMap<Kind<'_>, (&Variant, Vec<u32>)> = BTreeMap::new();
        for filled in &plan.boxes {
            let Some(variant) = plan.variants.get(filled.variant) else { continue };
            let inside = filled.bundles.iter().flat_map(|bundle| self.sets.bundle(*bundle));
            let needed = |slab: &&u32| {
                usize::try_from(**slab).is_ok_and(|at| self.sets.position(need, at).is_some())
            };
            let kind = (variant.container.id.as_str(), variant.class.as_deref());
            let (_, members) = by_kind.entry(kind).or_insert((variant, Vec::new()));
            members.extend(inside.filter(needed));
        }
        let mut all = Vec::new();
        for (variant, mut members) in by_kind.into_values() {
            members.sort_unstable();
            if !members.is_empty() {
                let name = SetName::Kind(variant.label(), need);
                let set = self.sets.named(&name);
                let set = set.unwrap_or_else(|| self.sets.add(name, &members));
                all.push((Some(variant), set));
            }
        }
        all
    }

    fn bill_set(&mut self, (at, bill): (usize, &BillOfLading), set: SetId) -> Option<SetId> {
        let shipment = self.job.shipment;
        let on = |at: &usize| {
            let slab = shipment.slabs.get(*at);
            slab.is_some_and(|slab| shipment.covered(&bill.covers, slab.line, slab.bundle))
        };
        let members: Vec<u32> =
            self.sets.members(set).filter(on).filter_map(|at| u32::try_from(at).ok()).collect();
        if members.is_empty() {
            return None;
        }
        let name = SetName::Part(ScopeKind::Bill, at, set);
        Some(self.sets.named(&name).unwrap_or_else(|| self.sets.add(name, &members)))
    }

    /// The entry whose turn it is, without the lines that are free of the row.
    fn entry_object(&mut self, row: &ChargeRow) -> Option<Counted> {
        let at = self.turn?;
        let entry = self.entries.get(at)?;
        let liable = entry.lines.iter().filter(|line| !line.is_free_of(row));
        let liable: Vec<SetId> = liable.map(|line| line.set).collect();
        let (id, whole) = (entry.id.clone(), entry.set);
        let set = if liable.len() == entry.lines.len() {
            whole
        } else {
            let mut members: Vec<u32> = liable
                .iter()
                .flat_map(|line| self.sets.members(*line))
                .filter_map(|at| u32::try_from(at).ok())
                .collect();
            if members.is_empty() {
                return None;
            }
            members.sort_unstable();
            let name = SetName::Liable(at, liable);
            self.sets.named(&name).unwrap_or_else(|| self.sets.add(name, &members))
        };
        let (kind, of) = (ScopeKind::Entry, id.as_str().into());
        let on = On { object: Object::Entry(at), set };
        Some(Counted { on, kind, of, set, count: Decimal::ONE })
    }

    fn tariff_line_objects(&mut self, row: &ChargeRow) -> Vec<Counted> {
        let Some((at, entry)) = self.turn.and_then(|at| Some((at, self.entries.get(at)?))) else {
            return Vec::new();
        };
        let lines = entry.lines.iter().enumerate();
        let liable = lines.filter(|(_, line)| !line.is_free_of(row));
        liable
            .map(|(index, line)| Counted {
                on: On { object: Object::TariffLine(at, index), set: line.set },
                kind: ScopeKind::TariffLine,
                of: line.label.as_str().into(),
                set: line.set,
                count: Decimal::ONE,
            })
            .collect()
    }

    /// Tonnes or square metres counted box by box, each box bearing its own.
    fn measured_boxes(
        &mut self,
        row: &ChargeRow,
        set: SetId,
        report: &mut Report,
    ) -> Option<Vec<Counted>> {
        let mut objects = Vec::new();
        for (index, filled) in self.job.plan.boxes.iter().enumerate() {
            let Some(inside) = self.box_set(index, filled, set) else { continue };
            let count = match row.per {
                Some(Per::Tonne) => self.gross_tonnes(inside),
                _ => self.billed_m2(inside),
            };
            match count {
                Ok(count) => objects.push(Counted {
                    on: On { object: Object::Container(index), set: inside },
                    kind: ScopeKind::Container,
                    of: filled.label.as_str().into(),
                    set: inside,
                    count,
                }),
                Err(overflow) => {
                    let fault = Fault::error(Code::Overflow, overflow.to_string());
                    report.add(fault.at(&row.place, "here"));
                    return None;
                }
            }
        }
        Some(objects)
    }

    fn bundle_objects(&mut self, set: SetId) -> Vec<Counted> {
        let mut objects = Vec::with_capacity(self.job.shipment.bundles.len());
        for (index, bundle) in self.job.shipment.bundles.iter().enumerate() {
            let Some(set) = self.sets.bundle_within(index, set) else { continue };
            let (kind, of) = (ScopeKind::Bundle, bundle.id.as_str().into());
            let on = On { object: Object::Bundle(index), set };
            objects.push(Counted { on, kind, of, set, count: Decimal::ONE });
        }
        objects
    }

    /// Billed area of the slabs of a set, in square metres.
    fn billed_m2(&self, set: SetId) -> Result<Decimal, Overflow> {
        self.sets.tally(set, self.job.shipment).map(|tally| tally.billed.base())
    }

    /// Gross mass of the bundles that have slabs in a set, in tonnes.
    fn gross_tonnes(&self, set: SetId) -> Result<Decimal, Overflow> {
        let shipment = self.job.shipment;
        let mut is_in = vec![false; shipment.bundles.len()];
        for slab in self.sets.members(set).filter_map(|at| shipment.slabs.get(at)) {
            if let Some(is_in) = usize::try_from(slab.bundle).ok().and_then(|at| is_in.get_mut(at))
            {
                *is_in = true;
            }
        }
        let bundles = shipment.bundles.iter().zip(is_in).filter(|(_, is_in)| *is_in);
        Mass::total(bundles.map(|(bundle, _)| bundle.mass)).map(Mass::to_tonnes)
    }
}
