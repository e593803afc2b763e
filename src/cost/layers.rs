//! Layers of duty: which apply to a line of an entry, and what each levies.

use std::sync::Arc;

use super::customs::{Entry, EntryLine};
use super::job::Job;
use super::keys::key_of_duty;
use crate::bill::{Charge, ChargeKind, Customs, Payable, Priced, Scope, Working};
use crate::fault::{Code, Fault, Report};
use crate::price::{self, SERVICES, Target, duty_due, told};
use crate::quantity::{Currency, Decimal, Exact, Money, Overflow};
use crate::trade::{
    Basis, Country, Dates, DutyRate, DutyRounding, DutyRow, DutyUnit, Event, Filing, LayerKind,
    Leg, Line, Lookup, Regime, ScopeKind, Treatment, in_force,
};

/// A layer that applies: its row, and where it stands among the rows.
pub(super) struct Chosen {
    pub(super) index: usize,
    row: DutyRow,
}

/// A layer of duty on a line of an entry.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Its row.
    pub row: DutyRow,
    /// The quantity that a specific duty is on, in its unit.
    pub quantity: Option<Decimal>,
    /// What it comes to, unrounded.
    pub exact: Exact,
    /// What it comes to.
    pub amount: Money,
}

impl Layer {
    pub(super) fn of(chosen: Chosen, currency: Currency) -> Self {
        let amount = Money::zero(currency);
        Self { row: chosen.row, quantity: None, exact: Exact::from(amount), amount }
    }

    /// What its percentage is of, in words.
    pub(super) fn of_words(&self, line: &EntryLine) -> String {
        let value = format!("entered value of {}", line.label);
        match self.row.kind {
            LayerKind::TopUp => format!("{value}, less its base duty"),
            _ => value,
        }
    }
}

/// The layers of a line: its base rate, or the preferential one it claims, and all that comes on
/// top. Layers start and stop by law, so one that has ended is simply gone; a base rate that has
/// ended is a fault.
pub(super) fn choose(
    job: &Job<'_>,
    line: &Line,
    number: &str,
    filing: &Filing,
    report: &mut Report,
) -> Option<Vec<Chosen>> {
    let of = Levied { job, line, number, filing };
    let base = match &line.preference {
        Some(programme) => of.preferential(programme, report)?,
        None => of.base(report)?,
    };
    let mut kept = vec![base];
    for row in of.on_top(report)? {
        let off = |one: &DutyRow, other: &DutyRow| one.excludes.contains(&other.name);
        if kept.iter().any(|one| off(one, row)) {
            continue;
        }
        kept.retain(|one| !off(row, one));
        kept.push(row);
    }
    let place = |row: &DutyRow| job.tariffs.duties.iter().position(|one| std::ptr::eq(one, row));
    let chosen = |row: &DutyRow| Some(Chosen { index: place(row)?, row: row.clone() });
    kept.into_iter().map(chosen).collect()
}

/// What layers levy on a part more of the value, as a fraction of it, and whether it is that at every
/// value: a top-up on a specific base is not.
pub(super) fn marginal(layers: &[Chosen]) -> (Decimal, bool) {
    let part = |row: &DutyRow| match row.rate.value {
        DutyRate::Percent(rate) => rate.fraction(),
        DutyRate::Specific(_) => Decimal::ZERO,
    };
    let base = layers.first().map(|layer| &layer.row);
    let is_specific = |row: &DutyRow| matches!(row.rate.value, DutyRate::Specific(_));
    let (mut sum, mut is_exact) = (Decimal::ZERO, true);
    for row in layers.iter().map(|layer| &layer.row) {
        if row.kind != LayerKind::TopUp {
            sum += part(row);
        } else if is_specific(row) || base.is_some_and(is_specific) {
            is_exact = false;
        } else {
            sum += (part(row) - base.map_or(Decimal::ZERO, part)).max(Decimal::ZERO);
        }
    }
    (sum, is_exact)
}

/// A line of an invoice with its tariff number and entry.
struct Levied<'a> {
    job: &'a Job<'a>,
    line: &'a Line,
    number: &'a str,
    filing: &'a Filing,
}

impl<'a> Levied<'a> {
    /// The rows of some kinds on this line, whatever their date.
    fn rows(&self, kinds: &'static [LayerKind]) -> impl Iterator<Item = &'a DutyRow> {
        let (line, number) = (self.line, self.number);
        let regime = &self.job.shipment.yard.regime;
        let rows = self.job.tariffs.duties.iter().filter(|row| kinds.contains(&row.kind));
        rows.filter(move |row| row.is_on(regime, number, &line.origin))
    }

    fn base(&self, report: &mut Report) -> Option<&'a DutyRow> {
        let (number, line, on) = (self.number, self.line, self.filing.entered);
        let regime = &self.job.shipment.yard.regime;
        let origin = &line.origin;
        let what = format!("base duty for {number}, origin {origin}, regime \"{regime}\"");
        // A row for this origin goes before a row for every origin.
        let rows: Vec<&DutyRow> = self.rows(&[LayerKind::Base]).collect();
        let named: Vec<&DutyRow> =
            rows.iter().copied().filter(|row| !row.origins.is_empty()).collect();
        let chosen = if named.iter().any(|row| row.valid.holds(on)) { named } else { rows };
        let fault = match in_force(chosen.into_iter(), |row| row.valid, on) {
            Lookup::Found(row) => return Some(row),
            Lookup::Lapsed(rows) => rows.iter().take(2).fold(
                Fault::error(
                    Code::LapsedRate,
                    format!("rates/duty.toml: no {what} on {on} (entered)"),
                ),
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
                let near = self.job.tariffs.duties.iter().filter(|row| {
                    row.is_base() && row.regime == *regime && row.line.get(..4) == number.get(..4)
                });
                for row in near.take(2) {
                    let origins: Vec<&str> = row.origins.iter().map(Country::code).collect();
                    let of = if origins.is_empty() { "every origin" } else { &origins.join(", ") };
                    fault = fault.also(&row.place, format!("there is {} of {of}", row.line));
                }
                fault
            }
        };
        report.add(
            fault
                .at(&line.place, "needed for this line")
                .help(format!("one [[duty]] row is needed with layer = \"base\", line = \"{number}\", `origins` with {origin} or none, a `valid` that holds {on}, and its source")),
        );
        None
    }

    fn preferential(&self, programme: &str, report: &mut Report) -> Option<&'a DutyRow> {
        let on = self.filing.entered;
        let rows = self.rows(&[LayerKind::Preferential]);
        let rows = rows.filter(|row| row.programme.as_deref() == Some(programme));
        if let Lookup::Found(row) = in_force(rows, |row| row.valid, on) {
            return Some(row);
        }
        let (number, origin) = (self.number, &self.line.origin);
        let message = format!(
            "rates/duty.toml: no one rate of \"{programme}\" for {number}, origin {origin}, on {on} (entered)"
        );
        report.add(
            Fault::error(Code::NoRate, message)
                .at(&self.line.place, "this line claims it")
                .help("add a [[duty]] row with layer = \"preferential\" and programme, or remove `preference`"),
        );
        None
    }

    /// What comes on top of the base, in the order of the table. Of the rows of one name by
    /// producer, the one of this line's producer goes before the one for all others.
    fn on_top(&self, report: &mut Report) -> Option<Vec<&'a DutyRow>> {
        const ON_TOP: [LayerKind; 4] = [
            LayerKind::Additive,
            LayerKind::TopUp,
            LayerKind::AntiDumping,
            LayerKind::Countervailing,
        ];
        let loaded = self.job.shipment.dates.sails;
        let in_force: Vec<&DutyRow> =
            self.rows(&ON_TOP).filter(|row| row.holds(loaded, self.filing.entered)).collect();
        let mut rows: Vec<&DutyRow> = Vec::new();
        for row in &in_force {
            if !row.kind.is_by_producer() {
                rows.push(row);
                continue;
            }
            if rows.iter().any(|one| one.name == row.name) {
                continue;
            }
            let of = |producer: Option<&str>| {
                let fits =
                    |one: &&&DutyRow| one.name == row.name && one.producer.as_deref() == producer;
                in_force.iter().find(fits).copied()
            };
            let own = self.line.producer.as_deref().and_then(|name| of(Some(name)));
            let Some(chosen) = own.or_else(|| of(None)) else {
                report.add(self.no_producer(row));
                return None;
            };
            rows.push(chosen);
        }
        Some(rows)
    }

    fn no_producer(&self, row: &DutyRow) -> Fault {
        let message = match &self.line.producer {
            Some(name) => format!("\"{}\" has no rate for the producer \"{name}\"", row.name),
            None => format!("\"{}\" is by producer, and the line names none", row.name),
        };
        Fault::error(Code::NoRate, message)
            .at(&self.line.place, "needed for this line")
            .also(&row.place, "the rate of another producer")
            .help("name the `producer` of the line, or add the row for all others: one without `producer`")
    }
}

/// Works out what each layer of a line levies on its entered value and quantities.
pub(super) fn levy(line: &mut EntryLine, regime: &Regime, report: &mut Report) -> Option<()> {
    let mut base = Exact::zero(regime.currency);
    let mut sum = Exact::zero(regime.currency);
    let mut before = Money::zero(regime.currency);
    let mut layers = std::mem::take(&mut line.layers);
    for layer in &mut layers {
        let on_value = |rate| Exact::from(line.entered).percent(rate);
        layer.exact = match layer.row.rate.value {
            DutyRate::Percent(rate) if layer.row.kind == LayerKind::TopUp => {
                // A base that is specific counts by what it comes to on this value: its ad valorem
                // equivalent (HTSUS 2026 revision 6, chapter 99 subchapter III, US note 2(v)).
                let lifted = on_value(rate).minus(&base).ok()?;
                if lifted.is_negative() { Exact::zero(regime.currency) } else { lifted }
            }
            DutyRate::Percent(rate) => on_value(rate),
            DutyRate::Specific(rate) => {
                let quantity = quantity(line, rate.unit);
                if quantity.is_zero() || rate.currency != regime.currency {
                    report.add(no_quantity(layer, line, regime, quantity.is_zero()));
                    return None;
                }
                layer.quantity = Some(quantity);
                Exact::new(rate.amount, rate.currency).times(quantity)
            }
        };
        if matches!(layer.row.kind, LayerKind::Base | LayerKind::Preferential) {
            base = layer.exact.clone();
        }
        let amount = match regime.duty_rounding {
            DutyRounding::Layer => layer.exact.round(),
            DutyRounding::Line => {
                sum = sum.plus(&layer.exact).ok()?;
                let upto = sum.round();
                let own = upto.and_then(|upto| upto.minus(before));
                before = upto.unwrap_or(before);
                own
            }
        };
        layer.amount = match amount {
            Ok(amount) => amount,
            Err(overflow) => {
                report.add(too_large(layer, overflow));
                return None;
            }
        };
    }
    line.layers = layers;
    Some(())
}

/// The quantity of a line in the unit of a specific duty.
pub(super) fn quantity(line: &EntryLine, unit: DutyUnit) -> Decimal {
    match unit {
        DutyUnit::Kg => line.mass.base(),
        DutyUnit::Tonne => line.mass.to_tonnes(),
        DutyUnit::M2 => line.area.base(),
    }
}

fn too_large(layer: &Layer, overflow: Overflow) -> Fault {
    Fault::error(Code::Overflow, overflow.to_string()).at(&layer.row.place, "this rate")
}

fn no_quantity(layer: &Layer, line: &EntryLine, regime: &Regime, nothing: bool) -> Fault {
    let name = &layer.row.name;
    let fault = if nothing {
        let rate = &layer.row.rate.value;
        let message = format!("\"{name}\" is {rate}, and {} has no such quantity", line.label);
        Fault::error(Code::OutOfRange, message).help("list the slabs with their sizes")
    } else {
        let message =
            format!("\"{name}\" is not in the currency of the entry, {}", regime.currency);
        Fault::error(Code::Contradiction, message)
            .help("state the duty in the currency of the regime's row")
    };
    fault.at(&layer.row.rate.place, "this rate")
}

/// One charge for each layer of each line.
pub(super) fn duties(
    job: &Job<'_>,
    (at, entry): (usize, &Entry),
    report: &mut Report,
) -> Option<Vec<Charge>> {
    let mut charges = Vec::new();
    let dates = Dates { entered: entry.entered_on, ..job.shipment.dates };
    let terms = job.terms().on(dates);
    for line in &entry.lines {
        for layer in line.layers.iter().filter(|layer| !layer.amount.is_zero()) {
            let row = &layer.row;
            let target = Target {
                event: Event::Entered,
                used_for: SERVICES,
                currency: job.shipment.yard.currency,
                needed_at: &row.rate.place,
            };
            let (book, exchange) = told(price::convert(&terms, layer.amount, &target), report)?;
            let (key, charged_on) = key_of_duty(row, &job.shipment.yard);
            let mut kind = ChargeKind {
                name: row.name.clone(),
                leg: Leg::DutyAndTax,
                key,
                treatment: Treatment::Stock,
                basis: Basis::Law,
                customs: Customs::Out,
                is_price: false,
                goods_of: None,
                table: None,
                sources: vec![row.rate.place.clone(), line.place.clone()],
                valid: Some(row.valid),
                charged_on,
                policy: None,
                payable: Payable::On(told(duty_due(&terms, &row.rate.place), report)?, None),
            };
            job.apply_policy(&mut kind);
            job.keeps_scope(&row.name, ScopeKind::TariffLine, report)?;
            let working = match row.rate.value {
                DutyRate::Percent(rate) => Working::Part {
                    rate,
                    of: layer.of_words(line),
                    base: line.entered,
                    made_of: Vec::new(),
                    times: None,
                    exact: layer.exact.shown(6),
                    bound: None,
                },
                DutyRate::Specific(each) => Working::Specific {
                    each,
                    count: layer.quantity.unwrap_or(Decimal::ZERO),
                    exact: layer.exact.shown(6),
                },
            };
            let of = line.label.as_str().into();
            charges.push(Charge {
                kind: Arc::new(kind),
                scope: Scope { kind: ScopeKind::TariffLine, of, set: line.set },
                priced: Arc::new(Priced {
                    amount: layer.amount,
                    book,
                    exchange,
                    parts: Vec::new(),
                    working,
                    entry: Some(at),
                }),
                by: None,
            });
        }
    }
    Some(charges)
}
