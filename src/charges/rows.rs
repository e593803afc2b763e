//! The charge tables applied: every purpose in its turn, to every box, bundle or tariff line.
//!
//! Decided on 2026-11-25. Rows per entry and per tariff line are picked entry by entry, by the entry's own
//! day, kind and mode; every other row by the shipment's `entered`. Counts of days, exchange rates and due
//! dates go by the entry that holds the whole object, or by the shipment's day where several do.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

use smol_str::SmolStr;

use super::amounts::{booked, charge, charge_on, kind_of};
use super::attributed::attributed;
use super::boxes::Bill;
use super::duties::duties;
use super::job::Job;
use super::objects::{by_kind, by_offer, objects, of_box, of_stone};
use super::schedule::{AtPlace, AtPlaces, Due, KnownRow, Tally};
use super::scopes::scope;
use super::sums::{Sums, Turn};
use crate::bill::{Booked, Borne, Charge, ChargeKind, Object, On, Scope, SetId, SetName, Sets};
use crate::customs::{enter, look_for_rates};
use crate::fault::{Code, Fault, Report, Reported};
use crate::load::{FilledBox, Variant};
use crate::price::{
    Order, Purpose, Serving, Step, asked, asked_for, by_box, by_entry, goes_by_entry, is_part,
    part_of, serving, told,
};
use crate::quantity::Decimal;
use crate::trade::{ChargeRow, Leg, Matches, ScopeKind, Shipment, TableName, Tariffs, WhatOf};

/// One charge of a box's bill, as the shipment's charges have it.
struct Billed<'a> {
    purpose: usize,
    row: &'a ChargeRow,
    place: Option<&'a str>,
    of: Option<usize>,
    kind: Arc<ChargeKind>,
    booked: Arc<Booked>,
}

/// Rows of one purpose.
type Rows<'r, 'a> = Cow<'r, [&'a ChargeRow]>;

/// The bill of each box of the plan, which like boxes share.
type Bills<'a> = Vec<Arc<Vec<Billed<'a>>>>;

/// Applies every purpose in its order. What is counted by the box stands in the bills of the boxes.
pub(super) fn run<'a>(
    job: Job<'a>,
    order: &Order<'a>,
    bills: &[Bill<'a>],
    sums: &mut Sums<'a>,
    report: &mut Report,
) -> Result<(), Reported> {
    let bills = billed((job, order), sums, bills);
    let mut sound = Ok(());
    for step in &order.steps {
        let done = match step {
            Step::Enter => entered(job, sums, report),
            Step::Purpose(at) => match order.purposes.get(*at) {
                // Faults are gathered. A part of something that failed is passed over: it would
                // only fail for the same reason.
                Some(purpose) if sound.is_ok() || is_alone(purpose) => {
                    apply(job, (*at, purpose), &bills, sums, report)
                }
                _ => Ok(()),
            },
        };
        sound = sound.and(done);
    }
    sound
}

/// The faults of all purposes that need nothing else: their rows and rates of exchange.
pub(super) fn look<'a>(
    job: Job<'a>,
    purposes: &[Purpose<'a>],
    sums: &mut Sums<'a>,
    report: &mut Report,
) {
    for (at, purpose) in purposes.iter().enumerate().filter(|(_, purpose)| is_alone(purpose)) {
        let _ = apply(job, (at, purpose), &Vec::new(), sums, report);
    }
    look_for_rates(&job.case(), report);
}

/// Whether a purpose is a part of nothing else.
fn is_alone(purpose: &Purpose<'_>) -> bool {
    purpose.rows.iter().all(|row| row.rate.value.of().is_none())
}

/// The bills of boxes as charges, made once for boxes that are alike.
fn billed<'a>(
    (job, order): (Job<'a>, &Order<'a>),
    sums: &Sums<'a>,
    bills: &[Bill<'a>],
) -> Bills<'a> {
    let terms = job.terms();
    let mut known: Vec<(&Bill<'a>, Arc<Vec<Billed<'a>>>)> = Vec::new();
    for bill in bills {
        if known.iter().any(|(other, _)| Arc::ptr_eq(other, bill)) {
            continue;
        }
        let all = bill.iter().cloned().map(|charge| {
            let (row, base) = (charge.row, charge.of.map(|(_, amount)| amount.into()));
            let purpose = order.purposes.get(charge.purpose);
            let known = purpose.and_then(|own| known_row(sums, (charge.purpose, own), row));
            let kind = kind_of((job, &sums.charges), (row, known), charge.priced.due);
            let booked = Arc::new(booked(&terms, None, row, charge.priced, base));
            let of = charge.of.map(|(at, _)| at);
            Billed { purpose: charge.purpose, row, place: charge.place, of, kind, booked }
        });
        known.push((bill, Arc::new(all.collect())));
    }
    let of = |bill| known.iter().find(|(other, _)| Arc::ptr_eq(other, bill));
    bills.iter().filter_map(|bill| Some(of(bill)?.1.clone())).collect()
}

/// Works out the customs entries and their duties.
fn entered<'a>(job: Job<'a>, sums: &mut Sums<'a>, report: &mut Report) -> Result<(), Reported> {
    (sums.entries, sums.missing) = enter(&job.case(), &sums.charges, &mut sums.sets, report)?;
    let mut all = Vec::new();
    for (at, entry) in sums.entries.iter().enumerate().filter(|(_, entry)| !entry.by_seller) {
        all.extend(duties(&job, (at, entry), report)?);
        sums.served.insert(Leg::DutyAndTax);
    }
    for duty in all {
        let duty = attributed(job.shipment, sums, duty, report)?;
        sums.charges.push(duty);
    }
    Ok(())
}

/// The slabs whose invoices leave a purpose to the importer, at one named place where rows tell places
/// apart.
fn needing(
    shipment: &Shipment,
    sets: &mut Sets,
    purpose: &Purpose<'_>,
    place: Option<&str>,
) -> Option<SetId> {
    let bears = |invoice: usize| {
        shipment.invoices.get(invoice).is_some_and(|invoice| {
            if invoice.of_blocks {
                return true;
            }
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
    sets.of_lines(name, shipment, |line| {
        shipment.lines.get(line).is_some_and(|line| bears(line.invoice))
    })
}

/// The position of a row in its purpose.
fn position(purpose: &Purpose<'_>, row: &ChargeRow) -> Option<usize> {
    purpose.rows.iter().position(|one| std::ptr::eq(*one, row))
}

/// What is known of a row of a purpose.
fn known_row<'a>(
    sums: &Sums<'a>,
    (at, purpose): (usize, &Purpose<'_>),
    row: &ChargeRow,
) -> Option<&'a KnownRow> {
    sums.schedule?.purpose(at)?.row(position(purpose, row)?)
}

/// Those rows of a purpose that are so: most purposes have rows of one kind.
fn those<'r, 'a>(rows: &'r [&'a ChargeRow], is_so: impl Fn(&ChargeRow) -> bool) -> Rows<'r, 'a> {
    match rows.iter().filter(|row| is_so(row)).count() {
        0 => Rows::Borrowed(&[]),
        all if all == rows.len() => Rows::Borrowed(rows),
        _ => rows.iter().copied().filter(|row| is_so(row)).collect(),
    }
}

fn apply<'a>(
    job: Job<'a>,
    (at, purpose): (usize, &Purpose<'a>),
    bills: &Bills<'a>,
    sums: &mut Sums<'a>,
    report: &mut Report,
) -> Result<(), Reported> {
    let shipment = job.shipment;
    let schedule = sums.schedule;
    let entries = sums.entries.len();
    let known = schedule.and_then(|schedule| schedule.purpose(at));
    let seen = known.and_then(|known| known.due(entries));
    if seen.is_none() {
        look_for_names(job, purpose, sums, report)?;
    }
    let parts = those(&purpose.rows, is_part);
    let turn = |place, need| Turn { job, purpose: at, leg: purpose.leg, place, entry: None, need };
    if (seen.is_none() || !parts.is_empty())
        && let Some(need) = needing(shipment, &mut sums.sets, purpose, None)
    {
        apply_parts(turn(None, need), bills, sums, (purpose, &parts), report)?;
    }
    let looked;
    let all = match seen {
        Some(all) => all,
        None => {
            let all = due(&turn, purpose, sums, report)?;
            let kept = match schedule {
                Some(schedule) => schedule.keep(at, (all, entries), &sums.sets),
                None => Err(all),
            };
            match kept {
                Ok(kept) => kept,
                Err(all) => {
                    looked = all;
                    &looked
                }
            }
        }
    };
    for (place, own) in purpose.places(shipment).into_iter().zip(all) {
        let Some(own) = own else { continue };
        let turn = turn(place, own.need);
        take_from_bills(turn, bills, sums, report)?;
        // What the one before came to.
        let mut last: Option<Arc<Booked>> = None;
        for due in &own.due {
            let Some(row) = purpose.rows.get(due.row) else { continue };
            let of_row = known.and_then(|known| known.row(due.row));
            let is_still = of_row.is_some_and(|row| row.is_still);
            match (due.first.get(), &last) {
                (Some(first), _) if is_still => {
                    sums.charges.extend(first.clone());
                    continue;
                }
                (Some(Some(first)), Some(last)) if due.is_like => {
                    sums.charges.push(Charge { booked: last.clone(), ..first.clone() });
                    continue;
                }
                _ => {}
            }
            let before = sums.charges.len();
            let turn = Turn { entry: due.entry, need: due.need, ..turn };
            charge(turn, sums, (row, of_row), due.object.clone(), report)?;
            let made = sums.charges.get(before);
            last = made.map(|made| made.booked.clone());
            if known.is_some() {
                due.first.get_or_init(|| made.cloned());
            }
        }
    }
    Ok(())
}

/// Sees that what percentages are of is the name of a charge.
fn look_for_names(
    job: Job<'_>,
    purpose: &Purpose<'_>,
    sums: &Sums<'_>,
    report: &mut Report,
) -> Result<(), Reported> {
    for row in &purpose.rows {
        if let Some(WhatOf::Charge(name)) = row.rate.value.of()
            && !sums.charges.iter().any(|charge| charge.name == *name)
            && !job.tariffs.charges.iter().any(|row| row.name == *name)
        {
            return Err(report.error(no_such_charge(row, name, job.tariffs)));
        }
    }
    Ok(())
}

/// What the rows of a purpose charge, place by place, but for what is a part of another charge or stands in the bill of
/// a box.
fn due<'a>(
    turn: &dyn Fn(Option<&'a str>, SetId) -> Turn<'a>,
    purpose: &Purpose<'a>,
    sums: &mut Sums<'a>,
    report: &mut Report,
) -> Result<AtPlaces, Reported> {
    let shipment = turn(None, Sets::ALL).job.shipment;
    let rows = &purpose.rows;
    // What is counted by the box is in its bill, but for what is a percentage of the goods in it.
    let boxed =
        those(rows, |row| !is_part(row) && by_box(row, shipment) && row.rate.value.of().is_some());
    let is_plain = |row: &ChargeRow| !is_part(row) && !by_box(row, shipment);
    let per_entry = those(rows, |row| is_plain(row) && by_entry(row, shipment));
    let plain = those(rows, |row| is_plain(row) && !by_entry(row, shipment));
    if let Some(row) = per_entry.iter().find(|row| row.is_by_kind()) {
        return Err(report.error(not_of_a_box(row)));
    }
    let mut all = AtPlaces::new();
    for place in purpose.places(shipment) {
        let need = needing(shipment, &mut sums.sets, purpose, place);
        let Some(turn) = need.map(|need| turn(place, need)) else {
            all.push(None);
            continue;
        };
        let mut due: Vec<(Turn<'_>, &ChargeRow, Tally)> = Vec::new();
        due_of_boxes(turn, sums, &boxed, &mut due, report)?;
        due_of_all(turn, sums, &plain, &mut due, report)?;
        let (own, tax) = (purpose.is_own(), purpose.is_import_tax());
        for at in 0..sums.entries.len() {
            if sums.entries.get(at).is_some_and(|entry| own || entry.is_charged(tax)) {
                let turn = Turn { entry: Some(at), ..turn };
                due_of_all(turn, sums, &per_entry, &mut due, report)?;
            }
        }
        let mut own: Vec<Due> = Vec::with_capacity(due.len());
        for (turn, row, object) in due {
            let Some(at) = position(purpose, row) else { continue };
            // By an entry, days may differ; of a base, each has its own.
            let is_plain = row.rate.value.of().is_none() && turn.entry.is_none();
            let is_alike = is_plain && (shipment.filings.len() < 2 || !goes_by_entry(row));
            let before = own.last().filter(|_| is_alike);
            let is_like =
                before.is_some_and(|one| one.row == at && one.object.count == object.count);
            let (entry, need, first) = (turn.entry, turn.need, OnceLock::new());
            own.push(Due { row: at, entry, need, object, is_like, first });
        }
        all.push(Some(AtPlace { need: turn.need, due: own }));
    }
    Ok(all)
}

/// The question to the rows, for the current named place and entry.
fn asked_now(turn: Turn<'_>, sums: &Sums<'_>, variant: Option<&Variant>) -> Matches {
    let mut asked = asked(turn.job.shipment, turn.leg, variant.map(Variant::key).as_ref());
    if let Some(place) = turn.place {
        asked.term_place = Some(place.into());
    }
    if let Some(entry) = sums.entry(turn) {
        asked.entry = Some(entry.kind.word().into());
        asked.mode = Some(entry.mode.word().into());
    }
    asked
}

/// The row that serves, if any does.
fn row_of<'r>(
    turn: Turn<'_>,
    sums: &Sums<'_>,
    (rows, asked): (&[&'r ChargeRow], &Matches),
    report: &mut Report,
) -> Result<Option<&'r ChargeRow>, Reported> {
    Ok(match told(serving(rows, asked, &sums.dates(turn)), report)? {
        Serving::Row(row) => Some(row),
        Serving::Nothing | Serving::NotYet(_) => None,
    })
}

/// The charges in the bills of the boxes for the current purpose and named place.
fn take_from_bills<'a>(
    turn: Turn<'_>,
    bills: &Bills<'a>,
    sums: &mut Sums<'a>,
    report: &mut Report,
) -> Result<(), Reported> {
    for (filled, bill) in turn.job.plan.boxes.iter().enumerate().zip(bills) {
        let is_due = |one: &Billed<'_>| {
            one.purpose == turn.purpose && one.place == turn.place && one.of.is_none()
        };
        for (at, one) in bill.iter().enumerate().filter(|(_, one)| is_due(one)) {
            if let Some(object) = box_object(turn, sums, one.row, filled) {
                take(turn, sums, (at, one), object, report)?;
            }
        }
    }
    Ok(())
}

/// A box as the object of a row. The rule widens its scope to the shipment; a narrower scope begins with
/// the box. `None`: the seller bears this leg for every slab in the box.
fn box_object(
    turn: Turn<'_>,
    sums: &mut Sums<'_>,
    row: &ChargeRow,
    (index, filled): (usize, &FilledBox),
) -> Option<Tally> {
    let asked = asked_for(turn.job.shipment, row);
    let inside = of_box(&mut sums.sets, (index, filled), turn.need)?;
    let (kind, of, set) = if asked.is_some_and(|kind| kind != ScopeKind::Shipment) {
        (ScopeKind::Container, filled.label.as_str().into(), inside)
    } else {
        (ScopeKind::Shipment, sums.whole.clone(), turn.need)
    };
    let on = On { object: Object::Container(index), set: inside };
    Some(Tally { on, kind, of, set, count: Decimal::ONE })
}

/// Takes a charge from the bill of a box.
fn take<'a>(
    turn: Turn<'_>,
    sums: &mut Sums<'a>,
    (at, one): (usize, &Billed<'a>),
    object: Tally,
    report: &mut Report,
) -> Result<(), Reported> {
    if !one.row.by_importer {
        sums.served.insert(one.row.leg);
    }
    if one.booked.amount.is_zero() {
        return Ok(());
    }
    let on = object.on;
    let scope = scope(turn, sums, one.row, object, report)?;
    let (kind, booked) = (one.kind.clone(), one.booked.clone());
    sums.billed.insert(sums.charges.len(), at);
    sums.charges.push(Charge { kind, on, scope, booked, by: None });
    Ok(())
}

/// What is a percentage of the goods in each box, counted by it.
fn due_of_boxes<'t, 'a>(
    turn: Turn<'t>,
    sums: &mut Sums<'a>,
    rows: &[&'a ChargeRow],
    due: &mut Vec<(Turn<'t>, &'a ChargeRow, Tally)>,
    report: &mut Report,
) -> Result<(), Reported> {
    // Like boxes have like rows: one pick a variant.
    let mut picks: BTreeMap<usize, Option<&ChargeRow>> = BTreeMap::new();
    for (index, filled) in turn.job.plan.boxes.iter().enumerate().filter(|_| !rows.is_empty()) {
        let row = match picks.get(&filled.variant) {
            Some(row) => *row,
            None => {
                let Some(variant) = turn.job.plan.variants.get(filled.variant) else { continue };
                let asked = asked_now(turn, sums, Some(variant));
                let own = rows.iter().copied().filter(|row| turn.job.serves(row, variant));
                let own: Vec<&ChargeRow> = own.collect();
                *picks.entry(filled.variant).or_insert(row_of(turn, sums, (&own, &asked), report)?)
            }
        };
        let Some(row) = row else { continue };
        due.extend(box_object(turn, sums, row, (index, filled)).map(|object| (turn, row, object)));
    }
    Ok(())
}

/// Percentages of another charge: one for each of that charge, in its scope.
fn apply_parts<'a>(
    turn: Turn<'_>,
    bills: &Bills<'a>,
    sums: &mut Sums<'a>,
    (purpose, rows): (&Purpose<'a>, &[&'a ChargeRow]),
    report: &mut Report,
) -> Result<(), Reported> {
    let bases: BTreeSet<&str> = rows.iter().filter_map(|row| part_of(row)).collect();
    for name in bases {
        let of_it = those(rows, |row| part_of(row) == Some(name));
        // Like boxes have like rows: one pick a variant, an entry or an offer.
        let mut picks: BTreeMap<PartOf, Option<&ChargeRow>> = BTreeMap::new();
        for at in 0..sums.charges.len() {
            let Some(base) = sums.charges.get(at).filter(|charge| charge.name == name) else {
                continue;
            };
            let (on, scope, amount) = (base.on, base.scope.clone(), base.amount());
            let billed = sums.billed.get(&at).copied();
            if let (Some(bill), Some(billed)) =
                (on.container().and_then(|at| bills.get(at)), billed)
            {
                let is_due = |one: &Billed<'_>| {
                    let is_part = one.of == Some(billed) && part_of(one.row) == Some(name);
                    is_part && one.purpose == turn.purpose
                };
                for (at, one) in bill.iter().enumerate().filter(|(_, one)| is_due(one)) {
                    let object = part_object(turn, one.row, on, &scope);
                    take(turn, sums, (at, one), object, report)?;
                }
                continue;
            }
            let filled = on.container().and_then(|index| turn.job.plan.boxes.get(index));
            let kind = filled.map(|filled| filled.variant);
            let part_of = (kind, on.entry(), base.kind.table.clone());
            let turn = Turn { entry: on.entry(), ..turn };
            let row = match picks.get(&part_of) {
                Some(row) => *row,
                None => {
                    let variant = kind.and_then(|kind| turn.job.plan.variants.get(kind));
                    let asked = asked_now(turn, sums, variant);
                    let serves = |row: &&ChargeRow| {
                        variant.is_none_or(|variant| turn.job.serves(row, variant))
                            && is_of_one_offer(row, part_of.2.as_ref())
                    };
                    let own: Vec<&ChargeRow> = of_it.iter().copied().filter(serves).collect();
                    if variant.is_none()
                        && let Some(row) = own.iter().find(|row| row.is_by_kind())
                    {
                        return Err(report.error(not_of_a_box(row)));
                    }
                    let row = row_of(turn, sums, (&own, &asked), report)?;
                    picks.insert(part_of, row);
                    row
                }
            };
            let Some(row) = row else { continue };
            let object = part_object(turn, row, on, &scope);
            let known = known_row(sums, (turn.purpose, purpose), row);
            charge_on(turn, sums, (row, known), (object, Some(amount.into())), report)?;
        }
    }
    Ok(())
}

/// The object of a percentage of a box's charge: that charge's object, unless the row asks for another
/// scope.
fn part_object(turn: Turn<'_>, row: &ChargeRow, on: On, scope: &Scope) -> Tally {
    let Scope { mut kind, mut of, mut set } = scope.clone();
    let filled = on.container().and_then(|index| turn.job.plan.boxes.get(index));
    if let Some(filled) = filled
        && asked_for(turn.job.shipment, row).is_some_and(|asked| asked != kind)
    {
        // What it is a part of was counted by the box, however widely it is spread.
        (kind, of, set) = (ScopeKind::Container, filled.label.as_str().into(), on.set);
    }
    Tally { on, kind, of, set, count: Decimal::ONE }
}

/// What is counted by anything but the box: by offer, by kind of box and by stone, where rows tell them
/// apart.
fn due_of_all<'t, 'a>(
    turn: Turn<'t>,
    sums: &mut Sums<'a>,
    rows: &[&'a ChargeRow],
    due: &mut Vec<(Turn<'t>, &'a ChargeRow, Tally)>,
    report: &mut Report,
) -> Result<(), Reported> {
    let lines = &turn.job.shipment.lines;
    for (rows, need) in by_offer(turn.job, &mut sums.sets, rows, turn.need) {
        let is_by_stone = rows.iter().any(|row| row.matches.stone.is_some());
        let own = lines.iter().filter(|_| is_by_stone).map(|line| line.stone.value.as_str());
        let stones: BTreeSet<&str> = own.collect();
        let stones = || stones.iter().copied().map(Some).chain((!is_by_stone).then_some(None));
        for (variant, need) in by_kind(turn.job.plan, &mut sums.sets, &rows, need) {
            for stone in stones() {
                let mut asked = asked_now(turn, sums, variant);
                asked.stone = stone.map(SmolStr::from);
                let Some(row) = row_of(turn, sums, (&rows, &asked), report)? else { continue };
                let set = match stone {
                    Some(stone) => of_stone(turn.job.shipment, &mut sums.sets, stone, need),
                    None => Some(need),
                };
                let Some(set) = set else { continue };
                let own = objects(turn, sums, (row, set), report)?;
                due.extend(own.into_iter().map(|object| (turn, row, object)));
            }
        }
    }
    Ok(())
}

/// What rows for parts of a charge are picked by: the variant of its box, its entry, its offer.
type PartOf = (Option<usize>, Option<usize>, Option<(TableName, Option<SmolStr>)>);

/// Whether a row is a part of a charge. A row of one offer is no part of what another offer of its
/// table charges.
fn is_of_one_offer(row: &ChargeRow, charge: Option<&(TableName, Option<SmolStr>)>) -> bool {
    match (row.offer.as_ref(), charge) {
        (Some(own), Some((table, Some(other)))) => {
            row.table != *table || own.as_str() == other.as_str()
        }
        _ => true,
    }
}

/// The fault for a row by kind of box on an object that may lie in several kinds.
fn not_of_a_box(row: &ChargeRow) -> Fault {
    let what = row
        .rate
        .value
        .of()
        .filter(|_| is_part(row))
        .map_or_else(|| row.per.word().into(), WhatOf::word);
    let message = format!("\"{}\" is for one kind of box, and is counted by the {what}", row.name);
    Fault::error(Code::Contradiction, message)
        .at(&row.place, format!("the {what} may lie in boxes of several kinds"))
        .help("remove `container` and `class`, or write per = \"container\"")
}

/// Words of one meaning: who writes one may mean the row of another.
const SAME: [&[&str]; 2] =
    [&["haulage", "drayage", "trucking", "cartage"], &["ocean freight", "sea freight", "freight"]];

/// A percentage of an unknown charge most likely means a charge of its own table.
fn no_such_charge(row: &ChargeRow, name: &str, tariffs: &Tariffs) -> Fault {
    let fault = Fault::error(Code::UnknownReference, format!("no charge is called \"{name}\""))
        .at(&row.rate.place, "a percentage of it");
    let beside = tariffs.charges.iter().filter(|one| one.table == row.table && one.leg == row.leg);
    let mut names: Vec<&str> = beside.map(|one| one.name.as_str()).collect();
    names.retain(|one| *one != row.name);
    names.sort_unstable();
    names.dedup();
    let meant = SAME.iter().find(|words| words.contains(&name));
    let meant = meant.and_then(|words| names.iter().find(|one| words.contains(one)));
    let fault = match (meant, &names[..]) {
        (_, []) => fault,
        (Some(one), _) | (None, [one]) => fault.help(format!("did you mean \"{one}\"?")),
        _ => fault.help(format!("of its leg there are: {}", names.join(", "))),
    };
    fault.help("`of` names another charge, or \"goods\", \"entered value\", \"insured value\"")
}
