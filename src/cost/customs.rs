//! The customs entry: tariff lines, entered values, layers of duty.
//!
//! An entry line is one tariff number, one origin and one set of layers, whatever lines the
//! invoices have. Values are made from the invoices' original amounts at the customs rate, never
//! from book amounts, and are rounded once per entry line, as the regime has it.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::charge::{Charge, ChargeKind, Customs, Priced, Scope, Working};
use super::exchange::{self, SERVICES, Target};
use super::job::Job;
use super::payments::duties_payable;
use super::sets::{SetId, Sets};
use super::spreader::Spreader;
use super::terms::importer_bears;
use crate::fault::{Code, Fault, Place, Report};
use crate::quantity::{Currency, Exact, Money};
use crate::trade::{
    Basis, Country, Date, DutyRow, Event, ExchangeUse, Key, Leg, Lookup, Regime, ScopeKind,
    Treatment, ValueBasis, in_force,
};

/// A customs entry as it would be estimated. It is not a declaration: a licensed broker's is.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The currency of the entry.
    pub currency: Currency,
    /// The day of entry.
    pub entered_on: Date,
    /// The regime's row.
    pub regime: Place,
    /// Its lines.
    pub lines: Vec<EntryLine>,
}

/// One line of an entry.
#[derive(Debug, Clone)]
pub struct EntryLine {
    /// The tariff number.
    pub number: String,
    /// The country of origin.
    pub origin: Country,
    /// The lines of the invoices in it, by position.
    pub lines: Vec<usize>,
    /// Its slabs.
    pub set: SetId,
    /// What its value is made of, in the currencies of the documents.
    pub parts: Vec<ValuePart>,
    /// The unrounded value.
    pub exact: Exact,
    /// The entered value.
    pub entered: Money,
    /// Its layers of duty.
    pub layers: Vec<DutyRow>,
    /// Where the tariff number comes from.
    pub place: Place,
}

impl EntryLine {
    /// Number and origin: what tells the lines of an entry apart.
    pub fn label(&self) -> String {
        format!("{} {}", self.number, self.origin)
    }
}

/// A part of a customs value: added, or taken out where it is negative.
#[derive(Debug, Clone)]
pub struct ValuePart {
    /// What it is.
    pub name: String,
    /// Its amount, unrounded, in the currency of its document.
    pub amount: Exact,
    /// The rate it is converted at, where it needs one.
    pub exchange: Option<super::charge::Conversion>,
    /// Where it is stated.
    pub place: Place,
}

/// What entering the goods came to.
pub(super) enum Entered {
    /// The importer's entry.
    Own(Entry),
    /// None to make: the seller enters the goods.
    BySeller,
}

/// Works out the entry.
pub(super) fn enter(
    job: &Job<'_>,
    charges: &[Charge],
    sets: &mut Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<Entered> {
    let shipment = job.shipment;
    let entered_on = shipment.dates.entered;
    let liable = |line: &crate::trade::Line| {
        shipment.invoices.get(line.invoice).is_some_and(|i| importer_bears(i, Leg::DutyAndTax))
    };
    let own: Vec<usize> = (0..shipment.lines.len())
        .filter(|at| shipment.lines.get(*at).is_some_and(liable))
        .collect();
    if own.is_empty() {
        return Some(Entered::BySeller);
    }
    let regime = regime(job, entered_on, report)?;
    let groups = group(job, &own, entered_on, report)?;
    let values = values(job, regime, charges, sets, spreader, report)?;
    let mut lines = Vec::new();
    for (key, (members, place, layers)) in groups {
        let name = format!("tariff line {} {}", key.0, key.1);
        let Some(set) = sets.of_lines(name, shipment, |line| members.contains(&line)) else {
            continue;
        };
        let (parts, exact) = add_up(job, regime, &values, &members, report)?;
        let entered = match exact.round_to(regime.value_step) {
            Ok(entered) if !entered.is_negative() => entered,
            Ok(_) => {
                report.add(
                    Fault::error(
                        Code::OutOfRange,
                        format!("the customs value of {} is below nothing", key.0),
                    )
                    .at(&place, "this tariff line")
                    .help("the deductions stated on the invoice are larger than its price"),
                );
                return None;
            }
            Err(overflow) => {
                report.add(
                    Fault::error(Code::Overflow, overflow.to_string())
                        .at(&place, "this tariff line"),
                );
                return None;
            }
        };
        lines.push(EntryLine {
            number: key.0,
            origin: key.1,
            lines: members,
            set,
            parts,
            exact,
            entered,
            layers,
            place,
        });
    }
    Some(Entered::Own(Entry {
        currency: regime.currency,
        entered_on,
        regime: regime.place.clone(),
        lines,
    }))
}

fn regime<'a>(job: &Job<'a>, on: Date, report: &mut Report) -> Option<&'a Regime> {
    let yard = &job.shipment.yard;
    match job.tariffs.regime(&yard.regime, on) {
        Lookup::Found(regime) => Some(regime),
        Lookup::Lapsed(rows) => {
            let mut fault = Fault::error(
                Code::LapsedRate,
                format!("regime \"{}\" is not in force on {on}", yard.regime),
            );
            for row in rows.iter().take(1) {
                fault = fault.at(&row.place, format!("in force {}", row.valid));
            }
            report.add(fault.help("add the regime's row for that date to rates/duty.toml"));
            None
        }
        Lookup::Several(_) | Lookup::Missing => {
            report.add(
                Fault::error(
                    Code::NoRate,
                    format!("rates/duty.toml has no one regime \"{}\"", yard.regime),
                )
                .at(&yard.place, "the yard's regime"),
            );
            None
        }
    }
}

type Groups = BTreeMap<(String, Country), (Vec<usize>, Place, Vec<DutyRow>)>;

/// Invoice lines by tariff number and origin, with the layers of duty of each.
fn group(job: &Job<'_>, lines: &[usize], on: Date, report: &mut Report) -> Option<Groups> {
    let regime = &job.shipment.yard.regime;
    let mut groups = Groups::new();
    let mut sound = true;
    for at in lines {
        let Some(line) = job.shipment.lines.get(*at) else {
            continue;
        };
        let Some(stone) = job.tariffs.stone(&line.stone) else {
            continue;
        };
        let Some(row) = stone.tariff_row(regime, &line.finish) else {
            sound = false;
            report.add(no_tariff_line(line, stone, regime));
            continue;
        };
        let key = (row.line.clone(), line.origin.clone());
        if let Some((members, _, _)) = groups.get_mut(&key) {
            members.push(*at);
            continue;
        }
        match layers(job, &row.line, &line.origin, on, &line.place, report) {
            Some(layers) => {
                groups.insert(key, (vec![*at], row.place.clone(), layers));
            }
            None => sound = false,
        }
    }
    sound.then_some(groups)
}

fn no_tariff_line(line: &crate::trade::Line, stone: &crate::trade::Stone, regime: &str) -> Fault {
    Fault::error(
        Code::NoRate,
        format!(
            "\"{}\" has no tariff line for the finish \"{}\" under regime \"{regime}\"",
            stone.id, line.finish
        ),
    )
    .at(&line.place, "needed for this line")
    .also(&stone.place, "the stone")
    .help("add a [[stone.tariff]] row with regime, finish, line and source")
}

/// The base rate in force and every additive layer in force. Layers start and stop by law, so one
/// that has ended is simply gone; a base rate that has ended is a fault.
fn layers(
    job: &Job<'_>,
    number: &str,
    origin: &Country,
    on: Date,
    needed_at: &Place,
    report: &mut Report,
) -> Option<Vec<DutyRow>> {
    let regime = &job.shipment.yard.regime;
    let base = job.tariffs.duties(regime, number, origin, true);
    let what = format!("base duty for {number}, origin {origin}, regime \"{regime}\"");
    // A row for this origin goes before a row for every origin.
    let rows: Vec<&DutyRow> = base.collect();
    let named: Vec<&DutyRow> = rows.iter().copied().filter(|row| !row.origins.is_empty()).collect();
    let chosen = if named.iter().any(|row| row.valid.holds(on)) { named } else { rows };
    let fault = match in_force(chosen.into_iter(), |row| row.valid, on) {
        Lookup::Found(row) => {
            let added = job.tariffs.duties(regime, number, origin, false);
            let added = added.filter(|row| row.valid.holds(on)).cloned();
            return Some(std::iter::once(row.clone()).chain(added).collect());
        }
        Lookup::Lapsed(rows) => rows.iter().take(2).fold(
            Fault::error(Code::LapsedRate, format!("rates/duty.toml: no {what} on {on} (entered)")),
            |fault, row| fault.also(&row.place, format!("in force {}", row.valid)),
        ),
        Lookup::Several(rows) => rows.iter().fold(
            Fault::error(
                Code::AmbiguousRate,
                format!("rates/duty.toml: two rows of {what} on {on}"),
            ),
            |fault, row| fault.also(&row.place, "in force"),
        ),
        Lookup::Missing => {
            let mut fault = Fault::error(Code::NoRate, format!("rates/duty.toml: no {what}"));
            let near = job.tariffs.duties.iter().filter(|row| {
                row.is_base && row.regime == *regime && row.line.get(..4) == number.get(..4)
            });
            for row in near.take(2) {
                fault = fault.also(&row.place, format!("there is {}", row.line));
            }
            fault
        }
    };
    report.add(
        fault
            .at(needed_at, "needed for this line")
            .help("add a [[duty]] row with layer = \"base\" and its source"),
    );
    None
}

/// What one document's item adds to the value of each invoice line.
struct Value {
    name: String,
    by_line: BTreeMap<usize, Exact>,
    exchange: Option<super::charge::Conversion>,
    place: Place,
}

/// The parts of the customs value, line by line.
///
/// Under a value at export (US: 19 U.S.C. 1401a) these are the price and what the buyer bears
/// beside it: packing and a selling commission. Freight and insurance that the importer pays
/// itself are no part of it, nor is its inland freight under EXW (19 CFR 152.103(a)(5)). Freight
/// and insurance inside the price come out only where the invoice states them apart and there is
/// evidence; without, the whole price is the value. Under a value at the border, carriage and
/// insurance to the border are added too.
fn values(
    job: &Job<'_>,
    regime: &Regime,
    charges: &[Charge],
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<Vec<Value>> {
    let mut values = Vec::new();
    let counts = |charge: &&Charge| {
        charge.customs == Customs::In
            || (regime.basis == ValueBasis::Border
                && charge.leg <= Leg::Insurance
                && charge.leg > Leg::Goods)
    };
    for charge in charges.iter().filter(counts) {
        let place = charge.sources.first()?.clone();
        let by_line = by_line(job, charge, sets, spreader, report)?;
        let exchange =
            customs_rate(job, regime, charge.amount().currency(), &place, report)?.conversion();
        values.push(Value { name: charge.name.clone(), by_line, exchange, place });
    }
    if regime.basis == ValueBasis::Export {
        for (index, invoice) in job.shipment.invoices.iter().enumerate() {
            // A leg that the term leaves to the importer is not in the price: nothing to take out.
            let inside = |leg: Leg| comes_out(leg) && !importer_bears(invoice, leg);
            for stated in invoice.stated.iter().filter(|stated| inside(stated.leg)) {
                if stated.evidence.is_none() {
                    report.add(no_evidence(stated));
                    continue;
                }
                let taken_out = Exact::from(stated.amount.value).negated();
                let by_line = stated_by_line(job, index, &taken_out, charges, report)?;
                let place = stated.amount.place.clone();
                let currency = stated.amount.value.currency();
                let exchange = customs_rate(job, regime, currency, &place, report)?.conversion();
                values.push(Value {
                    name: format!("{} inside the price", stated.leg.word()),
                    by_line,
                    exchange,
                    place,
                });
            }
        }
    }
    Some(values)
}

/// Legs of a price that a value at export leaves out: international carriage and insurance, and
/// what comes after import (19 U.S.C. 1401a(b)(3) and (b)(4)(A)).
fn comes_out(leg: Leg) -> bool {
    leg >= Leg::MainCarriage
}

fn no_evidence(stated: &crate::trade::StatedLeg) -> Fault {
    Fault::warning(
        Code::Notice,
        format!(
            "\"{}\" stays in the customs value: it is stated without evidence",
            stated.leg.word()
        ),
    )
    .at(&stated.amount.place, "stated here")
    .help("with a bill of lading or a freight invoice that shows the actual amount, add `evidence`")
}

/// A charge's amount by invoice line, in the charge's own currency, unrounded: as its key has it.
fn by_line(
    job: &Job<'_>,
    charge: &Charge,
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<BTreeMap<usize, Exact>> {
    let amount = Exact::from(charge.amount());
    if let Some(line) = charge.goods_of {
        return Some(BTreeMap::from([(line, amount)]));
    }
    if let [_] = job.shipment.lines[..] {
        return Some(BTreeMap::from([(0, amount)]));
    }
    let weights = spreader.weights(charge, sets, report)?;
    let mut parts: BTreeMap<usize, u128> = BTreeMap::new();
    for (position, slab) in sets.members(charge.scope.set).enumerate() {
        let line = job.shipment.slabs.get(slab).and_then(|slab| usize::try_from(slab.line).ok())?;
        let sum = parts.entry(line).or_default();
        *sum = sum.checked_add(weights.at(position))?;
    }
    let share = |(line, part)| (line, amount.weighed(part, weights.total()));
    Some(parts.into_iter().map(share).collect())
}

/// A leg stated apart, divided over the lines of its invoice by their amounts, unrounded.
fn stated_by_line(
    job: &Job<'_>,
    invoice: usize,
    amount: &Exact,
    charges: &[Charge],
    report: &mut Report,
) -> Option<BTreeMap<usize, Exact>> {
    let mut amounts: BTreeMap<usize, Exact> = BTreeMap::new();
    for charge in charges {
        let Some(at) = charge.goods_of else { continue };
        if job.shipment.lines.get(at).is_some_and(|line| line.invoice == invoice) {
            let sum = amounts.entry(at).or_insert_with(|| Exact::zero(charge.amount().currency()));
            *sum = sum.plus(&Exact::from(charge.amount())).ok()?;
        }
    }
    let first = amounts.values().next()?.currency();
    let whole = amounts.values().try_fold(Exact::zero(first), |sum, one| sum.plus(one)).ok()?;
    if whole.is_zero() {
        report.add(Fault::error(
            Code::NothingToSpread,
            "a leg stated on an invoice cannot be divided over lines that cost nothing",
        ));
        return None;
    }
    Some(amounts.into_iter().map(|(line, part)| (line, amount.share(&part, &whole))).collect())
}

/// The customs rate of a currency.
enum CustomsRate {
    /// The regime's own currency needs none.
    Own,
    /// This one.
    At(super::charge::Conversion),
}

impl CustomsRate {
    fn conversion(self) -> Option<super::charge::Conversion> {
        match self {
            Self::Own => None,
            Self::At(conversion) => Some(conversion),
        }
    }
}

/// The customs rate of a currency on the day of export (19 CFR 159.32).
fn customs_rate(
    job: &Job<'_>,
    regime: &Regime,
    currency: Currency,
    place: &Place,
    report: &mut Report,
) -> Option<CustomsRate> {
    if currency == regime.currency {
        return Some(CustomsRate::Own);
    }
    let target = Target {
        event: Event::Sails,
        used_for: ExchangeUse::Customs,
        currency: regime.currency,
        needed_at: place,
    };
    let dates = &job.shipment.dates;
    let row = exchange::certified(job.tariffs, regime, dates, currency, &target, report)?;
    Some(CustomsRate::At(exchange::conversion(row, dates.of(Event::Sails))))
}

/// Adds the values of the lines of one entry line, unrounded.
fn add_up(
    job: &Job<'_>,
    regime: &Regime,
    values: &[Value],
    members: &[usize],
    report: &mut Report,
) -> Option<(Vec<ValuePart>, Exact)> {
    let mut parts = Vec::new();
    let mut exact = Exact::zero(regime.currency);
    for value in values {
        let own: Vec<&Exact> = members.iter().filter_map(|line| value.by_line.get(line)).collect();
        let Some(first) = own.first() else { continue };
        let start = Exact::zero(first.currency());
        let sum = own.iter().try_fold(start, |sum, one| sum.plus(one));
        let added = sum.and_then(|amount| {
            let part = match &value.exchange {
                Some(conversion) => amount.converted(&conversion.quote),
                None => Some(amount.clone()),
            };
            let total = part.map_or(Ok(exact.clone()), |part| exact.plus(&part))?;
            Ok((amount, total))
        });
        match added {
            Ok((amount, total)) => {
                exact = total;
                parts.push(ValuePart {
                    name: value.name.clone(),
                    amount,
                    exchange: value.exchange.clone(),
                    place: value.place.clone(),
                });
            }
            Err(overflow) => {
                let place = job.shipment.invoices.first().map(|invoice| invoice.place.clone())?;
                report.add(
                    Fault::error(Code::Overflow, overflow.to_string())
                        .at(&place, "the customs value"),
                );
                return None;
            }
        }
    }
    Some((parts, exact))
}

/// One charge for each layer of each line, rounded alone.
pub(super) fn duties(job: &Job<'_>, entry: &Entry, report: &mut Report) -> Option<Vec<Charge>> {
    let mut charges = Vec::new();
    for line in &entry.lines {
        for layer in &line.layers {
            let exact = Exact::from(line.entered).percent(layer.rate.value);
            let amount = match exact.round() {
                Ok(amount) if amount.is_zero() => continue,
                Ok(amount) => amount,
                Err(overflow) => {
                    report.add(
                        Fault::error(Code::Overflow, overflow.to_string())
                            .at(&layer.place, "this rate"),
                    );
                    return None;
                }
            };
            let target = Target {
                event: Event::Entered,
                used_for: SERVICES,
                currency: job.shipment.yard.currency,
                needed_at: &layer.rate.place,
            };
            let (book, exchange) =
                exchange::convert(job.tariffs, &job.shipment.dates, amount, &target, report)?;
            let mut kind = ChargeKind {
                name: layer.name.clone(),
                leg: Leg::DutyAndTax,
                key: Key::Area,
                treatment: Treatment::Stock,
                basis: Basis::Law,
                customs: Customs::Out,
                is_price: false,
                goods_of: None,
                table: None,
                sources: vec![layer.rate.place.clone(), line.place.clone()],
                valid: Some(layer.valid),
                policy: None,
                payable: duties_payable(job, &layer.rate.place, report)?,
            };
            job.apply_policy(&mut kind);
            let working = Working::Part {
                rate: layer.rate.value,
                of: format!("entered value of {}", line.label()),
                base: line.entered,
                times: None,
                exact: exact.shown(6),
                bound: None,
            };
            let of = line.label().into();
            charges.push(Charge {
                kind: Arc::new(kind),
                scope: Scope { kind: ScopeKind::TariffLine, of, set: line.set },
                priced: Arc::new(Priced { amount, book, exchange, parts: Vec::new(), working }),
            });
        }
    }
    Some(charges)
}
