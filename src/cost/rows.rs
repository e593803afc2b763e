//! The charge tables applied: every purpose in its turn, to every box, bundle or tariff line.

use std::collections::{BTreeMap, BTreeSet};

use smol_str::SmolStr;

use super::amounts::Remembered;
use super::box_price::{by_box, is_part};
use super::counting::gross;
use super::customs::Entry;
use super::goods::Goods;
use super::heavy::by_gross;
use super::job::Job;
use super::lots::only_filing;
use super::payments::Paid;
use super::pick::{Pick, Purpose, asked, pick, purposes};
use super::scopes::asked_for;
use super::terms::event_of;
use crate::bill::{Charge, SetId, SetName, Sets};
use crate::fault::{Code, Fault, Place, Report};
use crate::load::{FilledBox, Variant};
use crate::quantity::{Decimal, Money};
use crate::spread::Spreader;
use crate::trade::{
    ChargeRow, Dates, Event, Leg, Matches, Per, ScopeKind, Shipment, TableName, WhatOf,
};

/// The thing a charge is counted by: which box, bundle, tariff line; which slabs.
pub(super) struct Object {
    pub(super) kind: ScopeKind,
    pub(super) of: SmolStr,
    pub(super) set: SetId,
    pub(super) filled: Option<usize>,
    pub(super) count: Decimal,
}

/// What a row per entry came to on one of them: the row, what it was a percentage of, the amount.
pub(super) type OfEntry = (Place, Option<Money>, Money);

/// Builds the charges of all purposes, each when what it needs is known.
pub(super) struct Builder<'a, 's> {
    pub(super) job: Job<'a>,
    pub(super) sets: &'s mut Sets,
    pub(super) spreader: &'s mut Spreader<'a>,
    pub(super) charges: Vec<Charge>,
    /// How each invoice is paid.
    pub(super) plans: Vec<Vec<Paid>>,
    /// The customs entries, the seller's own among them.
    pub(super) entries: Vec<Entry>,
    /// What is missing for memos of a seller's entries.
    pub(super) missing: Vec<String>,
    /// The entry whose turn it is, where a row is about entries.
    pub(super) turn: Option<usize>,
    /// What rows per entry came to, entry by entry.
    pub(super) by_entry: Vec<OfEntry>,
    /// For each charge, the box it was counted by.
    boxes: Vec<Option<usize>>,
    /// What rows came to lately: many objects of one row come to the same.
    pub(super) memo: Vec<Remembered>,
    /// The named place whose turn it is, where rows tell places apart.
    term_place: Option<String>,
    /// The slabs that share what the purpose whose turn it is costs, at the widest.
    pub(super) need: SetId,
    /// The shipment's name, as scopes have it.
    pub(super) whole: SmolStr,
    /// Legs for which a row was found, whatever it came to.
    pub(super) served: BTreeSet<Leg>,
}

impl<'a, 's> Builder<'a, 's> {
    pub(super) fn new(
        job: Job<'a>,
        sets: &'s mut Sets,
        spreader: &'s mut Spreader<'a>,
        goods: Goods,
    ) -> Self {
        let boxes = vec![None; goods.charges.len()];
        let whole = job.shipment.name.as_str().into();
        Self {
            job,
            sets,
            spreader,
            charges: goods.charges,
            plans: goods.plans,
            entries: Vec::new(),
            missing: Vec::new(),
            turn: None,
            by_entry: Vec::new(),
            boxes,
            served: BTreeSet::new(),
            memo: Vec::new(),
            term_place: None,
            need: Sets::ALL,
            whole,
        }
    }

    /// Applies every purpose. A purpose waits until what it is a percentage of is known: another
    /// charge, all costs up to the ship for the insured value, the entry for the entered value.
    pub(super) fn run(&mut self, report: &mut Report) -> Option<()> {
        let mut pending = purposes(self.job.shipment, self.job.tariffs, self.job.choice);
        let charges = pending.iter().map(|purpose| self.likely_charges(purpose)).sum();
        self.charges.reserve(charges);
        self.boxes.reserve(charges);
        let mut entered = false;
        let mut sound = true;
        while !pending.is_empty() || !entered {
            if !entered && !pending.iter().any(|purpose| purpose.leg <= Leg::Insurance) {
                sound &= self.enter(report).is_some();
                entered = true;
                continue;
            }
            let ready = pending.iter().position(|purpose| {
                waits_for(purpose, &pending, entered, self.job.shipment).is_none()
            });
            let Some(ready) = ready else {
                report.add(stuck(&pending, entered, self.job.shipment));
                return None;
            };
            let purpose = pending.remove(ready);
            // Faults are gathered; but what is a part of something that failed would only fail for it.
            if sound || purpose.rows.iter().all(|row| row.rate.value.of().is_none()) {
                sound &= self.apply(&purpose, report).is_some();
            }
            if !sound {
                (self.turn, self.term_place) = (None, None);
                self.memo.clear();
            }
        }
        sound.then_some(())
    }

    /// The faults of all purposes that need nothing else: their rows and rates of exchange.
    pub(super) fn gather(&mut self, purposes: Vec<Purpose<'a>>, report: &mut Report) {
        let alone =
            |purpose: &Purpose<'_>| purpose.rows.iter().all(|row| row.rate.value.of().is_none());
        for purpose in purposes.into_iter().filter(alone) {
            let _ = self.apply(&purpose, report);
        }
        super::customs::look_for_rates(&self.job, report);
    }

    /// How many charges a purpose is likely to be, so that room is made once.
    fn likely_charges(&self, purpose: &Purpose<'_>) -> usize {
        let by_box = self.job.plan.boxes.len();
        let likely = |row: &&ChargeRow| match (row.per, row.rate.value.of()) {
            (Some(Per::Container), _) | (None, Some(WhatOf::Charge(_))) => by_box,
            (Some(Per::Bundle), _) => self.job.shipment.bundles.len(),
            _ => 1,
        };
        purpose.rows.iter().map(likely).max().unwrap_or(0)
    }

    /// Works out the customs entries and their duties.
    fn enter(&mut self, report: &mut Report) -> Option<()> {
        let (entries, missing) =
            super::customs::enter(&self.job, &self.charges, self.sets, self.spreader, report)?;
        for (at, entry) in entries.iter().enumerate().filter(|(_, entry)| !entry.by_seller) {
            let duties = super::layers::duties(&self.job, (at, entry), report)?;
            self.served.insert(Leg::DutyAndTax);
            for duty in duties {
                self.push(duty, None);
            }
        }
        (self.entries, self.missing) = (entries, missing);
        Some(())
    }

    /// The days of the shipment, with the entry's own where it is its turn.
    pub(super) fn dates(&self) -> Dates {
        let mut dates = self.job.shipment.dates;
        if let Some(entry) = self.turn.and_then(|at| self.entries.get(at)) {
            dates.entered = entry.entered_on;
        }
        dates
    }

    /// The days that a row goes by on an object: what lies on one entry alone goes by the day of
    /// that entry, what lies on several by the shipment's.
    pub(super) fn dates_of(&self, row: &ChargeRow, object: &Object) -> Dates {
        let shipment = self.job.shipment;
        let dates = self.dates();
        if self.turn.is_some() || shipment.filings.len() < 2 || !goes_by_entry(row) {
            return dates;
        }
        let filled = object.filled.and_then(|at| self.job.plan.boxes.get(at));
        let filing = match filled {
            Some(filled) => {
                let slabs = filled.bundles.iter().flat_map(|bundle| self.sets.bundle(*bundle));
                only_filing(shipment, slabs.filter_map(|slab| usize::try_from(*slab).ok()))
            }
            None => only_filing(shipment, self.sets.members(object.set)),
        };
        Dates { entered: filing.map_or(dates.entered, |filing| filing.entered), ..dates }
    }

    pub(super) fn push(&mut self, charge: Charge, filled: Option<usize>) {
        self.charges.push(charge);
        self.boxes.push(filled);
    }

    /// The slabs whose invoices leave a purpose to the importer.
    fn needing(&mut self, purpose: &Purpose<'_>) -> Option<SetId> {
        let shipment = self.job.shipment;
        let place = self.term_place.clone();
        let bears = |invoice: usize| {
            shipment.invoices.get(invoice).is_some_and(|invoice| {
                let here = place.as_ref().is_none_or(|place| *place == invoice.term.named_place);
                here && purpose.is_borne(invoice)
            })
        };
        if (0..shipment.invoices.len()).all(bears) {
            return (!shipment.slabs.is_empty()).then_some(Sets::ALL);
        }
        let at = place.as_deref().unwrap_or("any place");
        let what = match (purpose.is_own(), purpose.is_import_tax()) {
            (true, _) => "everything",
            (false, true) => "import tax",
            (false, false) => purpose.leg.word(),
        };
        self.sets.of_lines(format!("bears {what} at {at}"), shipment, |line| {
            shipment.lines.get(line).is_some_and(|line| bears(line.invoice))
        })
    }

    fn apply(&mut self, purpose: &Purpose<'a>, report: &mut Report) -> Option<()> {
        for row in &purpose.rows {
            if let Some(WhatOf::Charge(name)) = row.rate.value.of()
                && !self.charges.iter().any(|charge| charge.name == *name)
                && !self.job.tariffs.charges.iter().any(|row| row.name == *name)
            {
                report.add(no_such_charge(row, name));
                return None;
            }
        }
        let shipment = self.job.shipment;
        let of_charge = |row: &&&ChargeRow| is_part(row);
        let by_box = |row: &&&ChargeRow| !is_part(row) && by_box(row, shipment);
        let boxed: Vec<&ChargeRow> = purpose.rows.iter().filter(by_box).copied().collect();
        let parts: Vec<&ChargeRow> = purpose.rows.iter().filter(of_charge).copied().collect();
        let plain: Vec<&ChargeRow> =
            purpose.rows.iter().filter(|row| !by_box(row) && !of_charge(row)).copied().collect();
        let of_entries = |row: &&&ChargeRow| by_entry(row, shipment);
        let per_entry: Vec<&ChargeRow> = plain.iter().filter(of_entries).copied().collect();
        let other: Vec<&ChargeRow> = plain.iter().filter(|row| !of_entries(row)).copied().collect();
        if let Some(need) = self.needing(purpose) {
            self.need = need;
            self.apply_parts(&parts, purpose.leg, report)?;
        }
        for place in self.term_places(purpose) {
            self.term_place = place;
            let Some(need) = self.needing(purpose) else { continue };
            self.need = need;
            self.apply_boxed(&boxed, purpose.leg, need, report)?;
            self.apply_plain(&other, purpose.leg, need, report)?;
            for entry in 0..self.entries.len() {
                let (own, tax) = (purpose.is_own(), purpose.is_import_tax());
                if self.entries.get(entry).is_some_and(|entry| own || entry.is_charged(tax)) {
                    self.turn = Some(entry);
                    self.memo.clear();
                    self.apply_plain(&per_entry, purpose.leg, need, report)?;
                }
            }
            self.turn = None;
            self.memo.clear();
        }
        self.term_place = None;
        Some(())
    }

    /// The named places to ask rows for, one after the other, where rows tell them apart: two
    /// suppliers' goods from two works each have their own truck.
    fn term_places(&self, purpose: &Purpose<'_>) -> Vec<Option<String>> {
        if purpose.rows.iter().all(|row| row.matches.term_place.is_none()) {
            return vec![None];
        }
        let invoices = self.job.shipment.invoices.iter();
        let bearing = invoices.filter(|invoice| purpose.is_borne(invoice));
        let places: BTreeSet<&str> = bearing.map(|one| one.term.named_place.as_str()).collect();
        places.into_iter().map(|place| Some(place.to_owned())).collect()
    }

    /// What is asked of a row, at the named place whose turn it is.
    fn asked(&self, leg: Leg, variant: Option<&Variant>) -> Matches {
        let mut asked = asked(self.job.shipment, leg, variant);
        if self.term_place.is_some() {
            asked.term_place.clone_from(&self.term_place);
        }
        if let Some(entry) = self.turn.and_then(|at| self.entries.get(at)) {
            asked.entry = Some(entry.kind.word().to_owned());
            asked.mode = Some(entry.mode.word().to_owned());
        }
        asked
    }

    fn apply_boxed(
        &mut self,
        rows: &[&ChargeRow],
        leg: Leg,
        need: SetId,
        report: &mut Report,
    ) -> Option<()> {
        if rows.is_empty() {
            return Some(());
        }
        // Like boxes have like rows: one pick a variant.
        let plan = self.job.plan;
        let mut picks = Vec::with_capacity(plan.variants.len());
        for (index, variant) in plan.variants.iter().enumerate() {
            if plan.boxes.iter().any(|filled| filled.variant == index) {
                let asked = self.asked(leg, Some(variant));
                let own = rows.iter().copied().filter(|row| self.job.serves(row, variant));
                let own: Vec<&ChargeRow> = own.collect();
                match pick(&own, &asked, &self.dates(), report) {
                    Pick::Row(row) => picks.push(Some(row)),
                    Pick::Nothing => picks.push(None),
                    Pick::Fault => return None,
                }
            } else {
                picks.push(None);
            }
        }
        for (index, filled) in plan.boxes.iter().enumerate() {
            let Some(row) = picks.get(filled.variant).copied().flatten() else {
                continue;
            };
            // The rule widens it to the shipment; what asks for less begins with the box.
            let asked = asked_for(self.job.shipment, row);
            let own = asked.is_some_and(|kind| kind != ScopeKind::Shipment);
            let mut set = need;
            if own || need != Sets::ALL {
                // A box in which the seller bears this leg for every slab is not the importer's.
                let Some(inside) = self.box_set(index, filled, need) else { continue };
                set = if own { inside } else { need };
            }
            let (kind, of) = if own {
                (ScopeKind::Container, filled.label.as_str().into())
            } else {
                (ScopeKind::Shipment, self.whole.clone())
            };
            let count = self.measured(row, filled, report)?;
            let object = Object { kind, of, set, filled: Some(index), count };
            self.charge(row, object, report)?;
        }
        Some(())
    }

    /// What a box counts for: its gross mass in kg where the row goes by it, one otherwise.
    fn measured(
        &self,
        row: &ChargeRow,
        filled: &FilledBox,
        report: &mut Report,
    ) -> Option<Decimal> {
        if by_gross(row).is_none() {
            return Some(Decimal::ONE);
        }
        match gross(self.job.plan, filled, self.job.shipment) {
            Ok(gross) => Some(gross.to_kg(6)),
            Err(overflow) => {
                report
                    .add(Fault::error(Code::Overflow, overflow.to_string()).at(&row.place, "here"));
                None
            }
        }
    }

    /// The slabs of a box that also lie in `need`.
    pub(super) fn box_set(
        &mut self,
        index: usize,
        filled: &FilledBox,
        need: SetId,
    ) -> Option<SetId> {
        let name = SetName::Box(index, need);
        if let Some(set) = self.sets.named(&name) {
            return (self.sets.len(set) > 0).then_some(set);
        }
        let inside = filled.bundles.iter().flat_map(|bundle| self.sets.bundle(*bundle));
        let needed = |slab: &&u32| {
            need == Sets::ALL
                || usize::try_from(**slab).is_ok_and(|at| self.sets.position(need, at).is_some())
        };
        let mut members: Vec<u32> = inside.filter(needed).copied().collect();
        members.sort_unstable();
        let empty = members.is_empty();
        let set = self.sets.add(name, &members);
        (!empty).then_some(set)
    }

    /// Percentages of another charge: one for each of that charge, in its scope.
    fn apply_parts(&mut self, rows: &[&ChargeRow], leg: Leg, report: &mut Report) -> Option<()> {
        let mut bases: BTreeSet<&str> = BTreeSet::new();
        for row in rows {
            if let Some(WhatOf::Charge(name)) = row.rate.value.of() {
                bases.insert(name);
            }
        }
        for name in bases {
            let of_it: Vec<&ChargeRow> = rows
                .iter()
                .filter(|row| matches!(row.rate.value.of(), Some(WhatOf::Charge(of)) if of == name))
                .copied()
                .collect();
            let instances: Vec<usize> = (0..self.charges.len())
                .filter(|at| self.charges.get(*at).is_some_and(|c| c.name == name))
                .collect();
            // Like boxes have like rows: one pick a variant, an entry or an offer.
            let mut picks: BTreeMap<PartOf, Option<&ChargeRow>> = BTreeMap::new();
            for at in instances {
                let (Some(base), Some(filled)) =
                    (self.charges.get(at), self.boxes.get(at).copied())
                else {
                    continue;
                };
                let (scope, amount, entry) = (base.scope.clone(), base.amount(), base.priced.entry);
                let filled_box = filled.and_then(|index| self.job.plan.boxes.get(index));
                let kind = filled_box.map(|filled| filled.variant);
                let from = base.kind.table.clone();
                self.turn = entry;
                let part_of = (kind, self.turn, from);
                let row = match picks.get(&part_of) {
                    Some(row) => *row,
                    None => {
                        let variant = kind.and_then(|kind| self.job.plan.variants.get(kind));
                        let asked = self.asked(leg, variant);
                        let serves = |row: &&ChargeRow| {
                            variant.is_none_or(|variant| self.job.serves(row, variant))
                                && is_of_one_offer(row, part_of.2.as_ref())
                        };
                        let own: Vec<&ChargeRow> = of_it.iter().copied().filter(serves).collect();
                        let row = match pick(&own, &asked, &self.dates(), report) {
                            Pick::Row(row) => Some(row),
                            Pick::Nothing => None,
                            Pick::Fault => return None,
                        };
                        picks.insert(part_of, row);
                        row
                    }
                };
                let Some(row) = row else { continue };
                let mut object = Object {
                    kind: scope.kind,
                    of: scope.of,
                    set: scope.set,
                    filled,
                    count: Decimal::ONE,
                };
                if let (Some(index), Some(filled)) = (filled, filled_box)
                    && asked_for(self.job.shipment, row).is_some_and(|kind| kind != object.kind)
                    && let Some(inside) = self.box_set(index, filled, self.need)
                {
                    // What it is a part of was counted by the box, however widely it is spread.
                    object.kind = ScopeKind::Container;
                    object.of = filled.label.as_str().into();
                    object.set = inside;
                }
                self.charge_on(row, object, Some(amount.into()), report)?;
            }
        }
        self.turn = None;
        Some(())
    }

    fn apply_plain(
        &mut self,
        rows: &[&'a ChargeRow],
        leg: Leg,
        need: SetId,
        report: &mut Report,
    ) -> Option<()> {
        for (rows, need) in self.by_offer(rows, need) {
            self.apply_by_stone(&rows, leg, need, report)?;
        }
        Some(())
    }

    fn apply_by_stone(
        &mut self,
        rows: &[&ChargeRow],
        leg: Leg,
        need: SetId,
        report: &mut Report,
    ) -> Option<()> {
        let by_stone = rows.iter().any(|row| row.matches.stone.is_some());
        let mut stones: Vec<Option<String>> = vec![None];
        if by_stone {
            let names: BTreeSet<&str> =
                self.job.shipment.lines.iter().map(|line| line.stone.value.as_str()).collect();
            stones = names.into_iter().map(|name| Some(name.to_owned())).collect();
        }
        for stone in stones {
            let mut asked = self.asked(leg, None);
            asked.stone.clone_from(&stone);
            let row = match pick(rows, &asked, &self.dates(), report) {
                Pick::Row(row) => row,
                Pick::Nothing => continue,
                Pick::Fault => return None,
            };
            let set = match &stone {
                Some(stone) => match self.stone_set(stone, need) {
                    Some(set) => set,
                    None => continue,
                },
                None => need,
            };
            for object in self.objects(row, set, report)? {
                self.charge(row, object, report)?;
            }
        }
        Some(())
    }
}

/// What rows for parts of a charge are picked by: the variant of its box, its entry, its offer.
type PartOf = (Option<usize>, Option<usize>, Option<(TableName, Option<String>)>);

/// Whether a row is a part of a charge: one of an offer is none of what another offer of its table
/// charges.
fn is_of_one_offer(row: &ChargeRow, charge: Option<&(TableName, Option<String>)>) -> bool {
    match (row.offer.as_ref(), charge) {
        (Some(own), Some((table, Some(other)))) => row.table != *table || own == other,
        _ => true,
    }
}

/// Whether a row is counted entry by entry: by the entry or its lines, or by time that passes for an
/// entry.
pub(super) fn by_entry(row: &ChargeRow, shipment: &Shipment) -> bool {
    match row.per {
        Some(Per::Entry | Per::TariffLine) => true,
        per => per.is_some_and(Per::is_time) && asked_for(shipment, row) == Some(ScopeKind::Entry),
    }
}

/// Whether the day of entry changes what a row comes to: it counts days from it, is converted or
/// paid by it.
fn goes_by_entry(row: &ChargeRow) -> bool {
    let of_days = row.days.is_some_and(|(from, to)| [from, to].contains(&Event::Entered));
    let mut rules = row.due.iter().chain(&row.recovered);
    of_days
        || event_of(row.leg) == Event::Entered
        || rules.any(|rule| rule.due.event == Event::Entered)
}

fn no_such_charge(row: &ChargeRow, name: &str) -> Fault {
    Fault::error(Code::UnknownReference, format!("no charge is called \"{name}\""))
        .at(&row.rate.place, "a percentage of it")
        .help("`of` names another charge, or \"goods\", \"entered value\", \"insured value\"")
}

/// What a purpose waits for: another that must be worked out before it, or the entry. `None`: it
/// is ready.
fn waits_for<'p, 'a>(
    purpose: &Purpose<'_>,
    pending: &'p [Purpose<'a>],
    entered: bool,
    shipment: &Shipment,
) -> Option<Waits<'p, 'a>> {
    let leg = |leg: Leg| pending.iter().find(|other| other.leg == leg).map(Waits::For);
    let entry = || (!entered).then_some(Waits::ForEntry);
    let of_payments = |row: &ChargeRow| matches!(row.rate.value.of(), Some(WhatOf::Payments));
    purpose.rows.iter().find_map(|row| match row.rate.value.of() {
        _ if by_entry(row, shipment) && !entered => entry(),
        None | Some(WhatOf::Goods) => None,
        Some(WhatOf::EnteredValue | WhatOf::ContinuousBond) => entry(),
        Some(WhatOf::TaxedValue) => {
            // Whatever leg of the way the regime adds to it.
            let leg_of_way =
                |other: &&Purpose<'_>| !matches!(other.leg, Leg::ImportClearance | Leg::DutyAndTax);
            entry().or_else(|| pending.iter().find(leg_of_way).map(Waits::For))
        }
        Some(WhatOf::SingleBond) => entry().or_else(|| leg(Leg::DutyAndTax)),
        Some(WhatOf::Leg(Leg::DutyAndTax)) => entry().or_else(|| leg(Leg::DutyAndTax)),
        Some(WhatOf::Leg(one)) => leg(*one),
        Some(WhatOf::InsuredValue) => {
            pending.iter().find(|other| other.leg <= Leg::MainCarriage).map(Waits::For)
        }
        Some(WhatOf::Payments) => {
            let paid = |other: &&Purpose<'_>| !other.rows.iter().all(|row| of_payments(row));
            entry().or_else(|| pending.iter().find(paid).map(Waits::For))
        }
        Some(WhatOf::Charge(name)) => {
            pending.iter().find(|other| other.name == name).map(Waits::For)
        }
    })
}

/// What a purpose waits for.
enum Waits<'p, 'a> {
    /// Another purpose.
    For(&'p Purpose<'a>),
    /// The customs entry.
    ForEntry,
}

/// The fault for purposes that wait for each other: the circle is followed, and each of its rows
/// named, so that nothing is blamed that only waits at its side.
fn stuck(pending: &[Purpose<'_>], entered: bool, shipment: &Shipment) -> Fault {
    let mut way: Vec<&Purpose<'_>> = Vec::new();
    let mut through_entry = false;
    let mut next = pending.first();
    while let Some(purpose) = next {
        if let Some(start) = way.iter().position(|one| std::ptr::eq(*one, purpose)) {
            way.drain(..start);
            break;
        }
        way.push(purpose);
        next = match waits_for(purpose, pending, entered, shipment) {
            Some(Waits::For(other)) => Some(other),
            // The entry itself waits for everything up to the border.
            Some(Waits::ForEntry) => {
                through_entry = true;
                pending.iter().find(|other| other.leg <= Leg::Insurance)
            }
            None => None,
        };
    }
    let names: Vec<&str> = way.iter().map(|purpose| purpose.name).collect();
    let message = match &names[..] {
        [one] => format!("\"{one}\" is a percentage of something that it is itself a part of"),
        _ => format!("charges that are percentages of each other: {}", names.join(", ")),
    };
    let mut fault = Fault::error(Code::Cycle, message)
        .help("make one of them an amount, or a percentage of something known before it");
    if through_entry {
        fault = fault.help(
            "what comes before the border is part of the customs value, and cannot be a part of it",
        );
    }
    for (index, row) in way.iter().filter_map(|purpose| purpose.rows.first()).enumerate() {
        fault = match (index, names.len()) {
            (0, 1) => fault.at(&row.rate.place, "a percentage of itself"),
            (0, _) => fault.at(&row.place, "waits for another"),
            _ => fault.also(&row.place, "and so does this"),
        };
    }
    fault
}
