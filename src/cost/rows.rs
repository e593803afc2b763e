//! The charge tables: which rows apply, to what, and what they come to.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use super::charge::{Bound, Charge, Customs, Scope, Working};
use super::customs::{Entered, Entry};
use super::exchange::{self, Target};
use super::goods::SERVICES;
use super::offers::Choice;
use super::sets::{SetId, Sets};
use super::spreader::Spreader;
use super::terms::{event_of, importer_bears};
use crate::fault::{Code, Fault, Report};
use crate::load::{FilledBox, Plan, Variant};
use crate::quantity::{Area, Decimal, Exact, Mass, Money, Overflow, Percent};
use crate::trade::{
    ChargeRow, Date, Dates, Event, Key, Leg, Lookup, Matches, Per, Rate, ScopeKind, Shipment,
    TableName, Tariffs, WhatOf, in_force,
};

/// What one calculation is about.
#[derive(Clone, Copy)]
pub(super) struct Job<'a> {
    pub(super) shipment: &'a Shipment,
    pub(super) tariffs: &'a Tariffs,
    pub(super) plan: &'a Plan,
    pub(super) choice: &'a Choice,
}

impl Job<'_> {
    /// Applies the shipment's policy to a charge: key, treatment; scope is chosen when the charge
    /// is made.
    pub(super) fn apply_policy(&self, charge: &mut Charge) {
        let Some(rule) = self.shipment.policy.iter().find(|rule| rule.charge.value == charge.name)
        else {
            return;
        };
        charge.key = rule.key.unwrap_or(charge.key);
        charge.treatment = rule.treatment.unwrap_or(charge.treatment);
        charge.policy = Some((rule.place.clone(), rule.reason.clone()));
    }
}

/// The event whose day chooses a row: sailing for freight and crating, delivery for drayage, the
/// leg's own for fees.
pub(super) fn chosen_by(table: TableName, leg: Leg) -> Event {
    match table {
        TableName::Freight | TableName::Crating => Event::Sails,
        TableName::Drayage => Event::Delivered,
        TableName::Fees => event_of(leg),
    }
}

/// What is asked of a row for a leg, and for a box where there is one.
pub(super) fn asked(shipment: &Shipment, leg: Leg, variant: Option<&Variant>) -> Matches {
    let port = if leg.is_at_origin() { &shipment.lane.from } else { &shipment.lane.to };
    let place = shipment.invoices.iter().find(|invoice| importer_bears(invoice, leg));
    Matches {
        lane: Some(shipment.lane.to_string()),
        port: Some(port.to_string()),
        term_place: place.map(|invoice| invoice.term.named_place.clone()),
        container: variant.map(|variant| variant.container.id.clone()),
        class: variant.and_then(|variant| variant.class.clone()),
        yard: Some(shipment.yard.id.clone()),
        regime: Some(shipment.yard.regime.clone()),
        stone: None,
    }
}

/// The outcome of looking for a purpose's row.
pub(super) enum Pick<'a> {
    /// The row in force.
    Row(&'a ChargeRow),
    /// No row applies.
    Nothing,
    /// The fault is reported.
    Fault,
}

/// The row in force among those of one purpose that fit what is asked. Rows that all begin later
/// do not apply yet; rows that all ended are a fault, as a charge does not vanish by itself.
pub(super) fn pick<'a>(
    rows: &[&'a ChargeRow],
    asked: &Matches,
    dates: &Dates,
    report: &mut Report,
) -> Pick<'a> {
    let fitting: Vec<&ChargeRow> =
        rows.iter().copied().filter(|row| row.matches.fit(asked)).collect();
    let Some(first) = fitting.first() else {
        return Pick::Nothing;
    };
    let event = chosen_by(first.table, first.leg);
    let date = dates.of(event);
    match in_force(fitting.into_iter(), |row| row.valid, date) {
        Lookup::Found(row) => Pick::Row(row),
        Lookup::Missing => Pick::Nothing,
        Lookup::Lapsed(rows) if rows.iter().all(|row| row.valid.from > date) => Pick::Nothing,
        Lookup::Lapsed(rows) => {
            report.add(lapsed(&rows, event, date));
            Pick::Fault
        }
        Lookup::Several(rows) => {
            report.add(several(&rows, event, date));
            Pick::Fault
        }
    }
}

fn lapsed(rows: &[&ChargeRow], event: Event, date: Date) -> Fault {
    let name = rows.first().map_or("", |row| row.name.as_str());
    let table = rows.first().map_or("", |row| row.table.word());
    let message =
        format!("rates/{table}.toml: \"{name}\" is not in force on {date} ({})", event.word());
    let mut fault = Fault::error(Code::LapsedRate, message).help(
        "ask for a fresh rate and add its row; if the charge is no longer made, remove its rows",
    );
    for (index, row) in rows.iter().take(2).enumerate() {
        let label = format!("in force {}", row.valid);
        fault =
            if index == 0 { fault.at(&row.place, label) } else { fault.also(&row.place, label) };
    }
    fault
}

fn several(rows: &[&ChargeRow], event: Event, date: Date) -> Fault {
    let name = rows.first().map_or("", |row| row.name.as_str());
    let message = format!("two rows for \"{name}\" serve one purpose on {date} ({})", event.word());
    let mut fault = Fault::error(Code::AmbiguousRate, message)
        .help("remove one, end the older, or tell them apart by container, yard, lane or offer");
    for (index, row) in rows.iter().enumerate() {
        fault = if index == 0 {
            fault.at(&row.place, "this row")
        } else {
            fault.also(&row.place, "and this one")
        };
    }
    fault
}

/// Rows of one name in one table: one purpose, with a row for each box, date or stone.
pub(super) struct Purpose<'a> {
    pub(super) name: &'a str,
    pub(super) leg: Leg,
    pub(super) rows: Vec<&'a ChargeRow>,
}

/// The purposes that a shipment may owe: of its regime, yard and lane, in the chosen offers, on
/// legs that the importer bears.
pub(super) fn purposes<'a>(
    shipment: &Shipment,
    tariffs: &'a Tariffs,
    choice: &Choice,
) -> Vec<Purpose<'a>> {
    let mut all: Vec<Purpose<'a>> = Vec::new();
    for row in &tariffs.charges {
        if !choice.takes(row.table, row.offer.as_deref()) || !may_apply(shipment, row) {
            continue;
        }
        let known = all.iter_mut().find(|purpose| {
            let first = purpose.rows.first();
            purpose.name == row.name
                && purpose.leg == row.leg
                && first.is_some_and(|first| first.table == row.table)
        });
        match known {
            Some(purpose) => purpose.rows.push(row),
            None => all.push(Purpose { name: &row.name, leg: row.leg, rows: vec![row] }),
        }
    }
    all
}

/// Whether a row can apply to a shipment at all, whatever the box, the stone or the day.
pub(super) fn may_apply(shipment: &Shipment, row: &ChargeRow) -> bool {
    let mut asked = asked(shipment, row.leg, None);
    asked.container.clone_from(&row.matches.container);
    asked.class.clone_from(&row.matches.class);
    asked.stone.clone_from(&row.matches.stone);
    shipment.invoices.iter().any(|invoice| importer_bears(invoice, row.leg))
        && row.matches.fit(&asked)
}

/// The thing a charge is counted by: which box, bundle, tariff line; which slabs.
struct Object {
    kind: ScopeKind,
    of: String,
    set: SetId,
    filled: Option<usize>,
    count: Decimal,
}

/// Builds the charges of all purposes, each when what it needs is known.
pub(super) struct Builder<'a, 's> {
    pub(super) job: Job<'a>,
    pub(super) sets: &'s mut Sets,
    pub(super) spreader: &'s mut Spreader<'a>,
    pub(super) charges: Vec<Charge>,
    pub(super) entry: Option<Entry>,
    /// For each charge, the box it was counted by.
    boxes: Vec<Option<usize>>,
    /// Legs for which a row was found, whatever it came to.
    pub(super) served: BTreeSet<Leg>,
}

impl<'a, 's> Builder<'a, 's> {
    pub(super) fn new(
        job: Job<'a>,
        sets: &'s mut Sets,
        spreader: &'s mut Spreader<'a>,
        goods: Vec<Charge>,
    ) -> Self {
        let boxes = vec![None; goods.len()];
        Self { job, sets, spreader, charges: goods, entry: None, boxes, served: BTreeSet::new() }
    }

    /// Applies every purpose. A purpose waits until what it is a percentage of is known: another
    /// charge, all costs up to the ship for the insured value, the entry for the entered value.
    pub(super) fn run(&mut self, report: &mut Report) -> Option<()> {
        let mut pending = purposes(self.job.shipment, self.job.tariffs, self.job.choice);
        let mut entered = false;
        while !pending.is_empty() || !entered {
            if !entered && !pending.iter().any(|purpose| purpose.leg <= Leg::Insurance) {
                self.enter(report)?;
                entered = true;
                continue;
            }
            let ready =
                pending.iter().position(|purpose| Self::is_ready(purpose, &pending, entered));
            let Some(ready) = ready else {
                report.add(stuck(&pending));
                return None;
            };
            let purpose = pending.remove(ready);
            self.apply(&purpose, report)?;
        }
        Some(())
    }

    fn is_ready(purpose: &Purpose<'_>, pending: &[Purpose<'_>], entered: bool) -> bool {
        purpose.rows.iter().all(|row| match &row.rate.value {
            Rate::Amount(_) => {
                row.per != Some(Per::TariffLine) && row.per != Some(Per::Entry) || entered
            }
            Rate::Percent(_, WhatOf::Goods) => true,
            Rate::Percent(_, WhatOf::EnteredValue) => entered,
            Rate::Percent(_, WhatOf::InsuredValue) => {
                !pending.iter().any(|other| other.leg <= Leg::MainCarriage)
            }
            Rate::Percent(_, WhatOf::Charge(name)) => {
                !pending.iter().any(|other| other.name == name)
            }
        })
    }

    /// Works out the customs entry and its duties.
    fn enter(&mut self, report: &mut Report) -> Option<()> {
        let entry =
            super::customs::enter(&self.job, &self.charges, self.sets, self.spreader, report)?;
        if let Entered::Own(entry) = entry {
            let duties = super::customs::duties(&self.job, &entry, report)?;
            self.served.insert(Leg::DutyAndTax);
            for mut duty in duties {
                self.job.apply_policy(&mut duty);
                self.push(duty, None);
            }
            self.entry = Some(entry);
        }
        Some(())
    }

    fn push(&mut self, charge: Charge, filled: Option<usize>) {
        self.charges.push(charge);
        self.boxes.push(filled);
    }

    /// The slabs whose invoices leave a leg to the importer.
    fn needing(&mut self, leg: Leg) -> Option<SetId> {
        let shipment = self.job.shipment;
        let bears = |invoice: usize| {
            shipment.invoices.get(invoice).is_some_and(|invoice| importer_bears(invoice, leg))
        };
        if (0..shipment.invoices.len()).all(bears) {
            return (!shipment.slabs.is_empty()).then_some(Sets::ALL);
        }
        self.sets.make(format!("bears {}", leg.word()), shipment, |slab| {
            let line = usize::try_from(slab.line).ok().and_then(|at| shipment.lines.get(at));
            line.is_some_and(|line| bears(line.invoice))
        })
    }

    fn apply(&mut self, purpose: &Purpose<'a>, report: &mut Report) -> Option<()> {
        let Some(need) = self.needing(purpose.leg) else {
            return Some(());
        };
        let by_box = |row: &&&ChargeRow| {
            row.per == Some(Per::Container)
                || (row.per == Some(Per::Day) && row.scope == Some(ScopeKind::Container))
        };
        let of_charge = |row: &&&ChargeRow| {
            matches!(&row.rate.value, Rate::Percent(_, WhatOf::Charge(_))) && row.per.is_none()
        };
        let boxed: Vec<&ChargeRow> = purpose.rows.iter().filter(by_box).copied().collect();
        let parts: Vec<&ChargeRow> = purpose.rows.iter().filter(of_charge).copied().collect();
        let plain: Vec<&ChargeRow> =
            purpose.rows.iter().filter(|row| !by_box(row) && !of_charge(row)).copied().collect();
        self.apply_boxed(&boxed, purpose.leg, need, report)?;
        self.apply_parts(&parts, purpose.leg, report)?;
        self.apply_plain(&plain, purpose.leg, need, report)
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
                let asked = asked(self.job.shipment, leg, Some(variant));
                match pick(rows, &asked, &self.job.shipment.dates, report) {
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
            let kind = self.scope_of(row, ScopeKind::Shipment);
            let set = if kind == ScopeKind::Container {
                match self.box_set(index, filled, need) {
                    Some(set) => set,
                    None => continue,
                }
            } else {
                need
            };
            let of = self.scope_name(kind, &filled.label);
            let object = Object { kind, of, set, filled: Some(index), count: Decimal::ONE };
            self.charge(row, object, report)?;
        }
        Some(())
    }

    /// The slabs of a box that also lie in `need`.
    fn box_set(&mut self, index: usize, filled: &FilledBox, need: SetId) -> Option<SetId> {
        let name = format!("box {index} need {need}");
        if let Some(set) = self.sets.named(&name) {
            return (self.sets.len(set) > 0).then_some(set);
        }
        let by_bundle = self.sets.by_bundle(self.job.shipment);
        let inside = filled.bundles.iter().filter_map(|bundle| by_bundle.get(*bundle)).flatten();
        let needed = |slab: &&u32| {
            need == Sets::ALL
                || usize::try_from(**slab).is_ok_and(|at| self.sets.position(need, at).is_some())
        };
        let mut members: Vec<u32> = inside.filter(needed).copied().collect();
        members.sort_unstable();
        let empty = members.is_empty();
        let set = self.sets.add(name, members);
        (!empty).then_some(set)
    }

    /// The scope of a charge: the policy's, the row's, or what its `per` implies.
    fn scope_of(&self, row: &ChargeRow, usual: ScopeKind) -> ScopeKind {
        let policy = self.job.shipment.policy.iter().find(|rule| rule.charge.value == row.name);
        policy.and_then(|rule| rule.scope).or(row.scope).unwrap_or(usual)
    }

    fn scope_name(&self, kind: ScopeKind, of: &str) -> String {
        match kind {
            ScopeKind::Shipment | ScopeKind::Bill | ScopeKind::Entry => {
                self.job.shipment.name.clone()
            }
            _ => of.to_owned(),
        }
    }

    /// Percentages of another charge: one for each of that charge, in its scope.
    fn apply_parts(&mut self, rows: &[&ChargeRow], leg: Leg, report: &mut Report) -> Option<()> {
        let mut bases: BTreeSet<&str> = BTreeSet::new();
        for row in rows {
            if let Rate::Percent(_, WhatOf::Charge(name)) = &row.rate.value {
                bases.insert(name);
            }
        }
        for name in bases {
            let of_it: Vec<&ChargeRow> = rows
                .iter()
                .filter(|row| matches!(&row.rate.value, Rate::Percent(_, WhatOf::Charge(of)) if of == name))
                .copied()
                .collect();
            let instances: Vec<usize> = (0..self.charges.len())
                .filter(|at| self.charges.get(*at).is_some_and(|c| c.name == name))
                .collect();
            if instances.is_empty() && !self.job.tariffs.charges.iter().any(|row| row.name == name)
            {
                report.add(no_such_charge(&of_it, name));
                return None;
            }
            for at in instances {
                let (Some(base), Some(filled)) =
                    (self.charges.get(at), self.boxes.get(at).copied())
                else {
                    continue;
                };
                let (scope, amount) = (base.scope.clone(), base.amount);
                let variant = filled
                    .and_then(|index| self.job.plan.boxes.get(index))
                    .and_then(|filled| self.job.plan.variant(filled));
                let asked = asked(self.job.shipment, leg, variant);
                let row = match pick(&of_it, &asked, &self.job.shipment.dates, report) {
                    Pick::Row(row) => row,
                    Pick::Nothing => continue,
                    Pick::Fault => return None,
                };
                let object = Object {
                    kind: scope.kind,
                    of: scope.of,
                    set: scope.set,
                    filled,
                    count: Decimal::ONE,
                };
                self.percent(row, object, name.to_owned(), amount, report)?;
            }
        }
        Some(())
    }

    fn apply_plain(
        &mut self,
        rows: &[&ChargeRow],
        leg: Leg,
        need: SetId,
        report: &mut Report,
    ) -> Option<()> {
        if rows.is_empty() {
            return Some(());
        }
        let by_stone = rows.iter().any(|row| row.matches.stone.is_some());
        let mut stones: Vec<Option<String>> = vec![None];
        if by_stone {
            let names: BTreeSet<&str> =
                self.job.shipment.lines.iter().map(|line| line.stone.value.as_str()).collect();
            stones = names.into_iter().map(|name| Some(name.to_owned())).collect();
        }
        for stone in stones {
            let mut asked = asked(self.job.shipment, leg, None);
            asked.stone.clone_from(&stone);
            let row = match pick(rows, &asked, &self.job.shipment.dates, report) {
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

    fn stone_set(&mut self, stone: &str, need: SetId) -> Option<SetId> {
        let shipment = self.job.shipment;
        let needed: Option<BTreeSet<u32>> = (need != Sets::ALL).then(|| {
            self.sets
                .members(need)
                .filter_map(|at| shipment.slabs.get(at))
                .map(|slab| slab.line)
                .collect()
        });
        self.sets.make(format!("stone {stone} need {need}"), shipment, |slab| {
            let line = usize::try_from(slab.line).ok().and_then(|at| shipment.lines.get(at));
            line.is_some_and(|line| line.stone.value == stone)
                && needed.as_ref().is_none_or(|lines| lines.contains(&slab.line))
        })
    }

    /// The objects a plain row is counted by.
    fn objects(&mut self, row: &ChargeRow, set: SetId, report: &mut Report) -> Option<Vec<Object>> {
        let shipment = self.job.shipment;
        let whole = |kind: ScopeKind, count: Decimal| Object {
            kind,
            of: shipment.name.clone(),
            set,
            filled: None,
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
        let objects = match row.per.unwrap_or(Per::Shipment) {
            Per::Shipment => vec![whole(self.scope_of(row, ScopeKind::Shipment), Decimal::ONE)],
            Per::Bill => vec![whole(self.scope_of(row, ScopeKind::Bill), Decimal::ONE)],
            Per::Entry => self.entry_object(row).into_iter().collect(),
            Per::TariffLine => self.tariff_line_objects(row),
            Per::Bundle => self.bundle_objects(row, set),
            Per::Slab => {
                // One charge over all its slabs by count: every slab has the same amount, as it
                // would with a charge of its own.
                vec![whole(ScopeKind::Slab, Decimal::from(self.sets.len(set)))]
            }
            Per::Tonne => {
                let tonnes = count(self.gross_tonnes(set), report)?;
                vec![whole(self.scope_of(row, ScopeKind::Shipment), tonnes)]
            }
            Per::M2 => {
                let slabs = self.sets.members(set).filter_map(|at| shipment.slabs.get(at));
                let area = Area::total(slabs.map(|slab| slab.billed_area)).map(Area::base);
                vec![whole(self.scope_of(row, ScopeKind::Shipment), count(area, report)?)]
            }
            Per::Day | Per::Container => {
                vec![whole(self.scope_of(row, ScopeKind::Shipment), Decimal::ONE)]
            }
        };
        for object in &objects {
            let asked_for = self.scope_of(row, object.kind);
            let fits = asked_for == object.kind
                || matches!(asked_for, ScopeKind::Shipment | ScopeKind::Bill | ScopeKind::Entry);
            if !fits || (asked_for == ScopeKind::Container && object.filled.is_none()) {
                report.add(wrong_scope(row, asked_for));
                return None;
            }
        }
        Some(objects)
    }

    fn entry_object(&mut self, row: &ChargeRow) -> Option<Object> {
        let (lines, origins) = {
            let entry = self.entry.as_ref()?;
            let liable =
                entry.lines.iter().filter(|line| !row.exempt_origins.contains(&line.origin));
            let lines: BTreeSet<usize> =
                liable.flat_map(|line| line.lines.iter().copied()).collect();
            (
                lines,
                row.exempt_origins
                    .iter()
                    .map(crate::trade::Country::code)
                    .collect::<Vec<_>>()
                    .join(" "),
            )
        };
        let shipment = self.job.shipment;
        let set = self.sets.make(format!("entry without {origins}"), shipment, |slab| {
            usize::try_from(slab.line).is_ok_and(|line| lines.contains(&line))
        })?;
        let kind = self.scope_of(row, ScopeKind::Entry);
        Some(Object { kind, of: shipment.name.clone(), set, filled: None, count: Decimal::ONE })
    }

    fn tariff_line_objects(&mut self, row: &ChargeRow) -> Vec<Object> {
        let Some(entry) = &self.entry else {
            return Vec::new();
        };
        let liable = entry.lines.iter().filter(|line| !row.exempt_origins.contains(&line.origin));
        liable
            .map(|line| Object {
                kind: ScopeKind::TariffLine,
                of: line.label(),
                set: line.set,
                filled: None,
                count: Decimal::ONE,
            })
            .collect()
    }

    fn bundle_objects(&mut self, row: &ChargeRow, set: SetId) -> Vec<Object> {
        let shipment = self.job.shipment;
        let mut by_bundle = self.sets.by_bundle(shipment).to_vec();
        if set != Sets::ALL {
            let inside = |slab: &u32| {
                usize::try_from(*slab).is_ok_and(|at| self.sets.position(set, at).is_some())
            };
            for slabs in &mut by_bundle {
                slabs.retain(inside);
            }
        }
        let kind = self.scope_of(row, ScopeKind::Bundle);
        let mut objects = Vec::new();
        for (bundle, slabs) in shipment.bundles.iter().zip(by_bundle) {
            if slabs.is_empty() {
                continue;
            }
            let (of, own) = if kind == ScopeKind::Bundle {
                let name = format!("bundle {} of {set}", bundle.id);
                let known = self.sets.named(&name);
                (bundle.id.clone(), known.unwrap_or_else(|| self.sets.add(name, slabs)))
            } else {
                (shipment.name.clone(), set)
            };
            objects.push(Object { kind, of, set: own, filled: None, count: Decimal::ONE });
        }
        objects
    }

    /// Gross mass of the bundles that have slabs in a set, in tonnes.
    fn gross_tonnes(&self, set: SetId) -> Result<Decimal, Overflow> {
        let shipment = self.job.shipment;
        let slabs = self.sets.members(set).filter_map(|at| shipment.slabs.get(at));
        let bundles: BTreeSet<u32> = slabs.map(|slab| slab.bundle).collect();
        let of = |bundle: u32| usize::try_from(bundle).ok().and_then(|at| shipment.bundles.get(at));
        let masses = bundles.into_iter().filter_map(of).map(|bundle| bundle.mass);
        Mass::total(masses).map(Mass::to_tonnes)
    }

    /// Days between the row's events, free days taken off.
    fn days(&self, row: &ChargeRow) -> Option<Decimal> {
        let (from, to) = row.days?;
        let dates = &self.job.shipment.dates;
        let days = (dates.of(to) - dates.of(from)).num_days() - i64::from(row.free_days);
        Some(Decimal::from(days.max(0)))
    }

    /// The charge of a row for an object.
    fn charge(&mut self, row: &ChargeRow, object: Object, report: &mut Report) -> Option<()> {
        match &row.rate.value {
            Rate::Amount(each) => self.amount(row, object, *each, report),
            Rate::Percent(_, of) => {
                let base = self.base(of, row, &object, report)?;
                self.percent(row, object, of.word().to_owned(), base, report)
            }
        }
    }

    fn amount(
        &mut self,
        row: &ChargeRow,
        object: Object,
        each: Money,
        report: &mut Report,
    ) -> Option<()> {
        let per = row.per.unwrap_or(Per::Shipment);
        let count = match per {
            Per::Day => self.days(row)?,
            _ => object.count,
        };
        let exact = if per == Per::Slab {
            // Each slab's amount rounds alone, and is already at its minor unit.
            Exact::new(each.amount(), each.currency()).times(count)
        } else {
            Exact::from(each).times(count)
        };
        let (amount, bound) = bounded(row, &exact, report)?;
        let working = Working::Counted { each, count, unit: per.word(), bound };
        self.finish(row, object, amount, working, report)
    }

    fn percent(
        &mut self,
        row: &ChargeRow,
        object: Object,
        of: String,
        base: Money,
        report: &mut Report,
    ) -> Option<()> {
        let Rate::Percent(rate, what) = &row.rate.value else {
            return Some(());
        };
        let days = if row.per == Some(Per::Day) { Some(self.days(row)?) } else { None };
        let mut exact = match (what, row.insured) {
            (WhatOf::InsuredValue, Some(insured)) => {
                let Some(exact) = premium(*rate, insured, base) else {
                    report.add(
                        Fault::error(Code::OutOfRange, "the premium eats the whole insured value")
                            .at(&row.rate.place, "this rate"),
                    );
                    return None;
                };
                exact
            }
            _ => Exact::from(base).percent(*rate),
        };
        if let Some(days) = days {
            exact = exact.times(days);
        }
        let (amount, bound) = bounded(row, &exact, report)?;
        let of = match row.insured {
            Some(insured) => {
                format!("{insured} of cost, insurance and freight, itself inside; cost and freight")
            }
            None => of,
        };
        let working = Working::Part { rate: *rate, of, base, days, exact: exact.shown(6), bound };
        self.finish(row, object, amount, working, report)
    }

    /// What a percentage is of.
    fn base(
        &mut self,
        of: &WhatOf,
        row: &ChargeRow,
        object: &Object,
        report: &mut Report,
    ) -> Option<Money> {
        let book = self.job.shipment.yard.currency;
        match of {
            WhatOf::Goods => self.sum_in(object.set, book, report, |charge| charge.is_price),
            WhatOf::InsuredValue => self.sum_in(object.set, book, report, |charge| {
                charge.leg <= Leg::MainCarriage
                    && charge.treatment == crate::trade::Treatment::Stock
            }),
            WhatOf::EnteredValue => {
                let entry = self.entry.as_ref()?;
                let lines = entry.lines.iter().filter(|line| {
                    !row.exempt_origins.contains(&line.origin)
                        && (object.kind != ScopeKind::TariffLine || line.label() == object.of)
                });
                Money::total(entry.currency, lines.map(|line| line.entered)).ok()
            }
            WhatOf::Charge(name) => {
                self.sum_in(object.set, book, report, |charge| charge.name == *name)
            }
        }
    }

    /// What chosen charges come to, in the book currency, on the slabs of a set.
    fn sum_in(
        &mut self,
        set: SetId,
        book: crate::quantity::Currency,
        report: &mut Report,
        chosen: impl Fn(&Charge) -> bool,
    ) -> Option<Money> {
        let mut total: i64 = 0;
        for charge in self.charges.iter().filter(|charge| chosen(charge)) {
            let part = if set == Sets::ALL || charge.scope.set == set {
                charge.book.minor().ok()
            } else {
                let shares = self.spreader.book_shares(charge, self.sets, report)?;
                let members = self.sets.members(charge.scope.set).zip(shares.iter());
                let inside = members.filter(|(slab, _)| self.sets.position(set, *slab).is_some());
                inside.map(|(_, share)| *share).try_fold(0i64, i64::checked_add)
            };
            total = total.checked_add(part?)?;
        }
        Some(Money::from_minor(total, book))
    }

    fn finish(
        &mut self,
        row: &ChargeRow,
        object: Object,
        amount: Money,
        working: Working,
        report: &mut Report,
    ) -> Option<()> {
        self.served.insert(row.leg);
        if amount.is_zero() {
            return Some(());
        }
        let target = Target {
            event: event_of(row.leg),
            used_for: SERVICES,
            currency: self.job.shipment.yard.currency,
            needed_at: &row.rate.place,
        };
        let (book, exchange) =
            exchange::convert(self.job.tariffs, &self.job.shipment.dates, amount, &target, report)?;
        let key =
            if row.per == Some(Per::Slab) { Key::Count } else { row.key.unwrap_or(Key::Area) };
        let mut charge = Charge {
            name: row.name.clone(),
            leg: row.leg,
            scope: Scope { kind: object.kind, of: object.of, set: object.set },
            key,
            amount,
            book,
            exchange,
            treatment: row.treatment,
            basis: row.basis,
            customs: Customs::Out,
            is_price: false,
            goods_of: None,
            working,
            table: Some((row.table, row.offer.clone())),
            sources: vec![row.rate.place.clone()],
            valid: Some(row.valid),
            policy: None,
        };
        if row.leg == Leg::ExportPacking {
            // 19 U.S.C. 1401a(b)(1)(A): packing costs borne by the buyer are part of the value.
            charge.customs = Customs::In;
        }
        self.job.apply_policy(&mut charge);
        self.push(charge, object.filled);
        Some(())
    }
}

/// The premium on an insured value that contains it: with `p = rate x insured`, the cost,
/// insurance and freight is `base / (1 - p)` and the premium `p` of it.
fn premium(rate: Percent, insured: Percent, base: Money) -> Option<Exact> {
    let of_cif = rate.of(insured).ok()?;
    Some(Exact::from(base).grossed_up(of_cif)?.percent(of_cif))
}

/// Applies a row's floor and cap, then rounds once.
fn bounded(row: &ChargeRow, exact: &Exact, report: &mut Report) -> Option<(Money, Option<Bound>)> {
    let wrong = |bound: Money, report: &mut Report| {
        let message = format!(
            "\"{}\" is in {} and its bound in {}",
            row.name,
            exact.currency(),
            bound.currency()
        );
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&row.place, "this row")
                .help("state `minimum` and `maximum` in the currency the charge comes out in"),
        );
    };
    let bounds =
        [(row.minimum, Ordering::Less, Bound::Floor), (row.maximum, Ordering::Greater, Bound::Cap)];
    for (amount, replaces, bound) in bounds {
        let Some(amount) = amount else { continue };
        match exact.compare(amount) {
            Some(order) if order == replaces && !exact.is_zero() => {
                return Some((amount, Some(bound)));
            }
            Some(_) => {}
            None => {
                wrong(amount, report);
                return None;
            }
        }
    }
    match exact.round() {
        Ok(amount) => Some((amount, None)),
        Err(overflow) => {
            report
                .add(Fault::error(Code::Overflow, overflow.to_string()).at(&row.place, "this row"));
            None
        }
    }
}

fn no_such_charge(rows: &[&ChargeRow], name: &str) -> Fault {
    let fault = Fault::error(Code::UnknownReference, format!("no charge is called \"{name}\""))
        .help("`of` names another charge, or \"goods\", \"entered value\", \"insured value\"");
    match rows.first() {
        Some(row) => fault.at(&row.rate.place, "a percentage of it"),
        None => fault,
    }
}

fn wrong_scope(row: &ChargeRow, scope: ScopeKind) -> Fault {
    let per = row.per.map_or("", Per::word);
    Fault::error(
        Code::Contradiction,
        format!("\"{}\" per {per} cannot have the scope {}", row.name, scope.word()),
    )
    .at(&row.place, "this row")
    .help("leave `scope` out, or give the shipment")
}

/// Purposes that wait for each other.
fn stuck(pending: &[Purpose<'_>]) -> Fault {
    let names: Vec<&str> = pending.iter().map(|purpose| purpose.name).collect();
    let mut fault = Fault::error(
        Code::Cycle,
        format!("charges that are percentages of each other: {}", names.join(", ")),
    )
    .help("make one of them an amount, or a percentage of something known before it");
    for (index, row) in pending.iter().filter_map(|purpose| purpose.rows.first()).enumerate() {
        fault = if index == 0 {
            fault.at(&row.place, "waits for another")
        } else {
            fault.also(&row.place, "and so does this")
        };
    }
    fault
}
