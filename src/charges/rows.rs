//! The charge tables applied: every purpose in its turn, to every box, bundle or tariff line.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use smol_str::SmolStr;

use super::amounts::Remembered;
use super::boxes::Bill;
use super::goods::Goods;
use super::job::Job;
use super::payments::Paid;
use crate::bill::{
    Borne, Charge, ChargeKind, Object, On, Priced, Scope, SetId, SetName, Sets, Spreader,
};
use crate::customs::{Entry, enter, look_for_rates, only_filing};
use crate::fault::{Code, Fault, Place, Report};
use crate::load::{FilledBox, Variant};
use crate::price::{
    BoxCharge, Order, Purpose, Serving, Step, asked, asked_for, by_box, by_entry, goes_by_entry,
    is_part, part_of, serving, told,
};
use crate::quantity::{Decimal, Money};
use crate::trade::{ChargeRow, Dates, Leg, Matches, Per, ScopeKind, TableName, WhatOf};

/// A charge to be: what it is counted by and how often, and who shares it where nobody asks for more.
pub(super) struct Counted {
    pub(super) on: On,
    pub(super) kind: ScopeKind,
    pub(super) of: SmolStr,
    pub(super) set: SetId,
    pub(super) count: Decimal,
}

/// One charge of a box's bill, as the shipment's charges have it.
struct Billed<'a> {
    purpose: usize,
    row: &'a ChargeRow,
    place: Option<&'a str>,
    of: Option<usize>,
    kind: Arc<ChargeKind>,
    priced: Arc<Priced>,
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
    /// For each charge, where it stands in the bill of its box.
    billed: Vec<Option<usize>>,
    /// The bill of each box.
    bills: Vec<Arc<Vec<Billed<'a>>>>,
    /// The purpose whose turn it is, by position.
    purpose: usize,
    /// What rows came to lately: many objects of one row come to the same.
    pub(super) memo: Vec<Remembered>,
    /// The named place whose turn it is, where rows tell places apart.
    term_place: Option<&'a str>,
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
        let billed = vec![None; goods.charges.len()];
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
            billed,
            bills: Vec::new(),
            purpose: 0,
            served: BTreeSet::new(),
            memo: Vec::new(),
            term_place: None,
            need: Sets::ALL,
            whole,
        }
    }

    /// Applies every purpose in its order. What is counted by the box stands in the bills of the boxes.
    pub(super) fn run(
        &mut self,
        order: &Order<'a>,
        bills: &[Bill<'a>],
        report: &mut Report,
    ) -> Option<()> {
        let charges = order.purposes.iter().map(|purpose| self.likely_charges(purpose)).sum();
        self.charges.reserve(charges);
        self.billed.reserve(charges);
        self.take_bills(bills);
        let mut sound = true;
        for step in &order.steps {
            let purpose = match step {
                Step::Enter => {
                    sound &= self.enter(report).is_some();
                    continue;
                }
                Step::Purpose(at) => {
                    self.purpose = *at;
                    order.purposes.get(*at)?
                }
            };
            // Faults are gathered; but what is a part of something that failed would only fail for it.
            if sound || purpose.rows.iter().all(|row| row.rate.value.of().is_none()) {
                sound &= self.apply(purpose, report).is_some();
            }
            if !sound {
                (self.turn, self.term_place) = (None, None);
                self.memo.clear();
            }
        }
        sound.then_some(())
    }

    /// The bills of boxes as charges, made once for boxes that are alike.
    fn take_bills(&mut self, bills: &[Bill<'a>]) {
        let mut known: Vec<(&Bill<'a>, Arc<Vec<Billed<'a>>>)> = Vec::new();
        for bill in bills {
            let alike = known.iter().find(|(other, _)| Arc::ptr_eq(other, bill));
            let taken = match alike {
                Some((_, taken)) => taken.clone(),
                None => {
                    let all = bill.iter().map(|charge| {
                        let BoxCharge { purpose, row, place, of, priced } = charge.clone();
                        let kind = Arc::new(self.kind(row, priced.due));
                        let base = of.map(|(_, amount)| amount.into());
                        let priced = Arc::new(self.priced(row, priced, base));
                        Billed { purpose, row, place, of: of.map(|(at, _)| at), kind, priced }
                    });
                    let taken = Arc::new(all.collect());
                    known.push((bill, Arc::clone(&taken)));
                    taken
                }
            };
            self.bills.push(taken);
        }
    }

    /// The faults of all purposes that need nothing else: their rows and rates of exchange.
    pub(super) fn gather(&mut self, purposes: Vec<Purpose<'a>>, report: &mut Report) {
        let alone =
            |purpose: &Purpose<'_>| purpose.rows.iter().all(|row| row.rate.value.of().is_none());
        for purpose in purposes.iter().filter(|purpose| alone(purpose)) {
            let _ = self.apply(purpose, report);
        }
        look_for_rates(&self.job.case(), report);
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
        let (entries, missing) = enter(&self.job.case(), &self.charges, self.sets, report)?;
        (self.entries, self.missing) = (entries, missing);
        let mut duties = Vec::new();
        let own = self.entries.iter().enumerate().filter(|(_, entry)| !entry.by_seller);
        for (at, entry) in own {
            duties.extend(super::duties::duties(&self.job, (at, entry), report)?);
            self.served.insert(Leg::DutyAndTax);
        }
        for duty in duties {
            let duty = self.attributed(duty, report)?;
            self.push(duty);
        }
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
    pub(super) fn dates_of(&self, row: &ChargeRow, object: &Counted) -> Dates {
        let shipment = self.job.shipment;
        let dates = self.dates();
        if self.turn.is_some() || shipment.filings.len() < 2 || !goes_by_entry(row) {
            return dates;
        }
        let filing = only_filing(shipment, self.sets.members(object.on.set));
        Dates { entered: filing.map_or(dates.entered, |filing| filing.entered), ..dates }
    }

    pub(super) fn push(&mut self, charge: Charge) {
        self.charges.push(charge);
        self.billed.push(None);
    }

    /// The slabs whose invoices leave a purpose to the importer.
    fn needing(&mut self, purpose: &Purpose<'_>) -> Option<SetId> {
        let shipment = self.job.shipment;
        let place = self.term_place;
        let bears = |invoice: usize| {
            shipment.invoices.get(invoice).is_some_and(|invoice| {
                let here = place.is_none_or(|place| *place == *invoice.term.named_place);
                here && purpose.is_borne(invoice)
            })
        };
        if (0..shipment.invoices.len()).all(bears) {
            return (!shipment.slabs.is_empty()).then_some(Sets::ALL);
        }
        let what = match (purpose.is_own(), purpose.is_import_tax()) {
            (true, _) => Borne::Own,
            (false, true) => Borne::ImportTax,
            (false, false) => Borne::Leg(purpose.leg),
        };
        let name = SetName::Bears(what, place.map(str::to_owned));
        self.sets.of_lines(name, shipment, |line| {
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
        // What is counted by the box is in its bill, but for what is a percentage of the goods in it.
        let is_plain = |row: &&&ChargeRow| !by_box(row, shipment) && !is_part(row);
        let of_goods = |row: &&&ChargeRow| {
            by_box(row, shipment) && !is_part(row) && row.rate.value.of().is_some()
        };
        let boxed: Vec<&ChargeRow> = purpose.rows.iter().filter(of_goods).copied().collect();
        let parts: Vec<&ChargeRow> =
            purpose.rows.iter().filter(|row| is_part(row)).copied().collect();
        let plain: Vec<&ChargeRow> = purpose.rows.iter().filter(is_plain).copied().collect();
        if let Some(row) = plain.iter().find(|row| by_entry(row, shipment) && row.is_by_kind()) {
            report.add(not_of_a_box(row));
            return None;
        }
        let of_entries = |row: &&&ChargeRow| by_entry(row, shipment);
        let per_entry: Vec<&ChargeRow> = plain.iter().filter(of_entries).copied().collect();
        let other: Vec<&ChargeRow> = plain.iter().filter(|row| !of_entries(row)).copied().collect();
        if let Some(need) = self.needing(purpose) {
            self.need = need;
            self.apply_parts(&parts, purpose.leg, report)?;
        }
        for place in purpose.places(shipment) {
            self.term_place = place;
            let Some(need) = self.needing(purpose) else { continue };
            self.need = need;
            self.take_from_bills(need, report)?;
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

    /// What is asked of a row, at the named place whose turn it is.
    fn asked(&self, leg: Leg, variant: Option<&Variant>) -> Matches {
        let mut asked = asked(self.job.shipment, leg, variant.map(Variant::key).as_ref());
        if self.term_place.is_some() {
            asked.term_place = self.term_place.map(str::to_owned);
        }
        if let Some(entry) = self.turn.and_then(|at| self.entries.get(at)) {
            asked.entry = Some(entry.kind.word().to_owned());
            asked.mode = Some(entry.mode.word().to_owned());
        }
        asked
    }

    /// The row that serves, if any does; the outer `None`: the fault is in the report.
    #[expect(clippy::option_option, reason = "the outer one says that a fault is in the report")]
    fn serving<'r>(
        &self,
        rows: &[&'r ChargeRow],
        asked: &Matches,
        report: &mut Report,
    ) -> Option<Option<&'r ChargeRow>> {
        match told(serving(rows, asked, &self.dates()), report)? {
            Serving::Row(row) => Some(Some(row)),
            Serving::Nothing | Serving::NotYet(_) => Some(None),
        }
    }

    /// What the bills of the boxes have for the purpose and the named place whose turn it is.
    fn take_from_bills(&mut self, need: SetId, report: &mut Report) -> Option<()> {
        let plan = self.job.plan;
        for (index, filled) in plan.boxes.iter().enumerate() {
            let Some(bill) = self.bills.get(index).cloned() else { continue };
            for (at, one) in bill.iter().enumerate() {
                let is_due = one.purpose == self.purpose && one.place == self.term_place;
                if !is_due || one.of.is_some() {
                    continue;
                }
                let Some(object) = self.object_of_box(one.row, (index, filled), need) else {
                    continue;
                };
                self.take(one, at, object, report)?;
            }
        }
        Some(())
    }

    /// A box as what a row is counted by. The rule widens it to the shipment; what asks for less begins
    /// with the box. `None`: the seller bears this leg for every slab in it.
    fn object_of_box(
        &mut self,
        row: &ChargeRow,
        (index, filled): (usize, &FilledBox),
        need: SetId,
    ) -> Option<Counted> {
        let asked = asked_for(self.job.shipment, row);
        let inside = self.box_set(index, filled, need)?;
        let (kind, of, set) = if asked.is_some_and(|kind| kind != ScopeKind::Shipment) {
            (ScopeKind::Container, filled.label.as_str().into(), inside)
        } else {
            (ScopeKind::Shipment, self.whole.clone(), need)
        };
        let on = On { object: Object::Container(index), set: inside };
        Some(Counted { on, kind, of, set, count: Decimal::ONE })
    }

    /// Takes a charge from the bill of a box.
    fn take(
        &mut self,
        one: &Billed<'a>,
        at: usize,
        object: Counted,
        report: &mut Report,
    ) -> Option<()> {
        if !one.row.by_importer {
            self.served.insert(one.row.leg);
        }
        if one.priced.amount.is_zero() {
            return Some(());
        }
        let on = object.on;
        let scope = self.scope(one.row, object, report)?;
        let (kind, priced) = (one.kind.clone(), one.priced.clone());
        self.charges.push(Charge { kind, on, scope, priced, by: None });
        self.billed.push(Some(at));
        Some(())
    }

    /// What is a percentage of the goods in each box, counted by it.
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
                picks.push(self.serving(&own, &asked, report)?);
            } else {
                picks.push(None);
            }
        }
        for (index, filled) in plan.boxes.iter().enumerate() {
            let Some(row) = picks.get(filled.variant).copied().flatten() else {
                continue;
            };
            let Some(object) = self.object_of_box(row, (index, filled), need) else { continue };
            self.charge(row, object, report)?;
        }
        Some(())
    }

    /// The slabs of a box that also lie in `need`.
    pub(super) fn box_set(
        &mut self,
        index: usize,
        filled: &FilledBox,
        need: SetId,
    ) -> Option<SetId> {
        let name = SetName::Part(ScopeKind::Container, index, need);
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
                let (Some(base), Some(billed)) =
                    (self.charges.get(at), self.billed.get(at).copied())
                else {
                    continue;
                };
                let (on, scope, amount) = (base.on, base.scope.clone(), base.amount());
                if let (Some(index), Some(billed)) = (on.container(), billed) {
                    self.take_parts(name, (index, billed), (on, &scope), report)?;
                    continue;
                }
                let filled = on.container().and_then(|index| self.job.plan.boxes.get(index));
                let kind = filled.map(|filled| filled.variant);
                let from = base.kind.table.clone();
                self.turn = on.entry();
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
                        if variant.is_none()
                            && let Some(row) = own.iter().find(|row| row.is_by_kind())
                        {
                            report.add(not_of_a_box(row));
                            return None;
                        }
                        let row = self.serving(&own, &asked, report)?;
                        picks.insert(part_of, row);
                        row
                    }
                };
                let Some(row) = row else { continue };
                let object = self.part_object(row, on, &scope);
                self.charge_on(row, object, Some(amount.into()), report)?;
            }
        }
        self.turn = None;
        Some(())
    }

    /// What the bill of a box has as a part of one of its charges.
    fn take_parts(
        &mut self,
        name: &str,
        (index, billed): (usize, usize),
        (on, scope): (On, &Scope),
        report: &mut Report,
    ) -> Option<()> {
        let Some(bill) = self.bills.get(index).cloned() else { return Some(()) };
        let is_due = |one: &Billed<'_>| {
            one.of == Some(billed) && one.purpose == self.purpose && part_of(one.row) == Some(name)
        };
        let due: Vec<usize> =
            (0..bill.len()).filter(|at| bill.get(*at).is_some_and(is_due)).collect();
        for at in due {
            let Some(one) = bill.get(at) else { continue };
            let object = self.part_object(one.row, on, scope);
            self.take(one, at, object, report)?;
        }
        Some(())
    }

    /// What a part of a charge of a box is counted by: what that was, unless another scope is asked for.
    fn part_object(&self, row: &ChargeRow, on: On, scope: &Scope) -> Counted {
        let Scope { mut kind, mut of, mut set } = scope.clone();
        let filled = on.container().and_then(|index| self.job.plan.boxes.get(index));
        if let Some(filled) = filled
            && asked_for(self.job.shipment, row).is_some_and(|asked| asked != kind)
        {
            // What it is a part of was counted by the box, however widely it is spread.
            (kind, of, set) = (ScopeKind::Container, filled.label.as_str().into(), on.set);
        }
        Counted { on, kind, of, set, count: Decimal::ONE }
    }

    fn apply_plain(
        &mut self,
        rows: &[&'a ChargeRow],
        leg: Leg,
        need: SetId,
        report: &mut Report,
    ) -> Option<()> {
        for (rows, need) in self.by_offer(rows, need) {
            for (variant, need) in self.by_kind(&rows, need) {
                self.apply_by_stone(&rows, (leg, variant), need, report)?;
            }
        }
        Some(())
    }

    fn apply_by_stone(
        &mut self,
        rows: &[&ChargeRow],
        (leg, variant): (Leg, Option<&Variant>),
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
            let mut asked = self.asked(leg, variant);
            asked.stone.clone_from(&stone);
            let Some(row) = self.serving(rows, &asked, report)? else { continue };
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

/// The fault for a row that tells kinds of box apart, of something that may lie in several.
fn not_of_a_box(row: &ChargeRow) -> Fault {
    let what = row
        .rate
        .value
        .of()
        .filter(|_| is_part(row))
        .map_or_else(|| row.per.map_or("", Per::word).into(), WhatOf::word);
    let message = format!(
        "\"{}\" is for boxes of one kind, and the {what} it goes by is of no one box",
        row.name
    );
    Fault::error(Code::Contradiction, message)
        .at(&row.place, "told apart by `container` or `class`")
        .help("leave them out, or count it by the container")
}

fn no_such_charge(row: &ChargeRow, name: &str) -> Fault {
    Fault::error(Code::UnknownReference, format!("no charge is called \"{name}\""))
        .at(&row.rate.place, "a percentage of it")
        .help("`of` names another charge, or \"goods\", \"entered value\", \"insured value\"")
}
