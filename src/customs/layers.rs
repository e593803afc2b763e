//! Layers of duty: which apply to a line of an entry, and what each levies.
//!
//! Decided on 2026-11-25. A layer that is switched off switches nothing off itself; of two that exclude each
//! other, the first in the table stays. A base row that names origins goes before one for all.

use std::sync::Arc;

use super::entry::{EntryLine, Layer};
use crate::fault::{Code, Fault, Report, Reported, gathered};
use crate::price::{Found, looked_up, the_one};
use crate::quantity::{Area, Currency, Decimal, Exact, Mass, Money, Overflow, Percent};
use crate::trade::{
    Country, Date, DutyRate, DutyRounding, DutyRow, DutyUnit, Filing, LayerKind, Line, Regime,
    Shipment, Tariffs, in_force,
};

/// A layer that applies: its row, and where it stands among the rows.
pub(crate) struct Chosen {
    pub(crate) index: usize,
    row: Arc<DutyRow>,
}

/// The layers of a line: its base rate, or the preferential one it claims, and all that comes on
/// top. Layers start and stop by law, so one that has ended is simply gone; a base rate that has
/// ended is a fault.
pub(crate) fn choose(
    (shipment, tariffs): (&Shipment, &Tariffs),
    line: &Line,
    number: &str,
    filing: &Filing,
    report: &mut Report,
) -> Result<Vec<Chosen>, Reported> {
    let of = Levied { shipment, tariffs, line, number, filing };
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
    let chosen = |row: &DutyRow| {
        let mut all = tariffs.duties.iter().enumerate();
        let own = all.find(|(_, one)| std::ptr::eq(Arc::as_ptr(one), row));
        let (index, row) = report.found(own, "the row of a duty")?;
        Ok(Chosen { index, row: row.clone() })
    };
    gathered(kept.into_iter().map(chosen))
}

/// A line of an invoice with its tariff number and entry.
struct Levied<'a> {
    shipment: &'a Shipment,
    tariffs: &'a Tariffs,
    line: &'a Line,
    number: &'a str,
    filing: &'a Filing,
}

impl<'a> Levied<'a> {
    /// The rows of some kinds on this line, whatever their date.
    fn rows(&self, kinds: &'static [LayerKind]) -> impl Iterator<Item = &'a DutyRow> + Clone {
        let (line, number) = (self.line, self.number);
        let regime = &self.shipment.yard.regime;
        let rows = self.tariffs.duties.iter().map(|row| &**row);
        let rows = rows.filter(|row| kinds.contains(&row.kind));
        rows.filter(move |row| row.is_on(regime, number, &line.origin))
    }

    fn base(&self, report: &mut Report) -> Result<&'a DutyRow, Reported> {
        let (number, line, on) = (self.number, self.line, self.filing.entered);
        let regime = &self.shipment.yard.regime;
        let origin = &line.origin;
        // A row for this origin goes before a row for every origin.
        let rows: Vec<&DutyRow> = self.rows(&[LayerKind::Base]).collect();
        let named: Vec<&DutyRow> =
            rows.iter().copied().filter(|row| !row.origins.is_empty()).collect();
        let chosen = if named.iter().any(|row| row.valid.holds(on)) { named } else { rows };
        let found = match the_one(in_force(chosen.iter().copied(), |row| row.valid, on)) {
            Ok(row) => return Ok(row),
            Err(found) => found,
        };
        let what = format!("base duty for {number}, origin {origin}, regime \"{regime}\"");
        let help = format!(
            "one [[duty]] row is needed with layer = \"base\", line = \"{number}\", `origins` with {origin} or none, a `valid` that holds {on}, and its source"
        );
        let mut fault = of_entry(&what, on, &found, &help).at(&line.place, "needed for this line");
        if found == Found::Nothing {
            let near = self.tariffs.duties.iter().map(|row| &**row).filter(|row| {
                row.is_base() && row.regime == *regime && row.line.get(..4) == number.get(..4)
            });
            // A line is duty free or not by all its digits: a shorter or longer one is another.
            let is_cut = |row: &&DutyRow| {
                row.line != number
                    && (row.line.starts_with(number) || number.starts_with(row.line.as_str()))
            };
            if let Some(row) = near.clone().find(is_cut) {
                let line = &row.line;
                fault = fault.help(format!(
                    "or write one line in both: line = \"{line}\" under the stone in rates/stones.toml, or line = \"{number}\" in rates/duty.toml"
                ));
            }
            for row in near.take(2) {
                let origins: Vec<&str> = row.origins.iter().map(Country::code).collect();
                let of = if origins.is_empty() { "every origin" } else { &origins.join(", ") };
                fault = fault.also(&row.place, format!("there is {} of {of}", row.line));
            }
        }
        Err(report.error(fault))
    }

    fn preferential(&self, programme: &str, report: &mut Report) -> Result<&'a DutyRow, Reported> {
        let on = self.filing.entered;
        let rows = self.rows(&[LayerKind::Preferential]);
        let rows = rows.filter(|row| row.programme.as_deref() == Some(programme));
        let found = match the_one(in_force(rows, |row| row.valid, on)) {
            Ok(row) => return Ok(row),
            Err(found) => found,
        };
        let what =
            format!("rate of \"{programme}\" for {}, origin {}", self.number, self.line.origin);
        let help = "add a [[duty]] row with layer = \"preferential\" and programme, or remove `preference`";
        Err(report
            .error(of_entry(&what, on, &found, help).at(&self.line.place, "this line claims it")))
    }

    /// What comes on top of the base, in the order of the table. Of the rows of one name by
    /// producer, the one of this line's producer goes before the one for all others.
    fn on_top(&self, report: &mut Report) -> Result<Vec<&'a DutyRow>, Reported> {
        const ON_TOP: [LayerKind; 4] = [
            LayerKind::Additive,
            LayerKind::TopUp,
            LayerKind::AntiDumping,
            LayerKind::Countervailing,
        ];
        let loaded = self.shipment.dates.sails;
        let serving: Vec<&DutyRow> =
            self.rows(&ON_TOP).filter(|row| row.holds(loaded, self.filing.entered)).collect();
        let mut rows: Vec<&DutyRow> = Vec::new();
        for row in &serving {
            if !row.kind.is_by_producer() {
                rows.push(row);
                continue;
            }
            // Layers of one name and another kind are others: neither stands for the other.
            let is_same = |one: &DutyRow| one.name == row.name && one.kind == row.kind;
            if rows.iter().any(|one| is_same(one)) {
                continue;
            }
            let entered = self.filing.entered;
            let of = |producer: Option<&str>| {
                let fits = |one: &&DutyRow| is_same(one) && one.producer.as_deref() == producer;
                the_one(in_force(serving.iter().copied().filter(fits), |row| row.valid, entered))
            };
            let own = self.line.producer.as_deref().map(|name| of(Some(name)));
            let chosen = match own {
                None | Some(Err(Found::Nothing)) => of(None),
                Some(own) => own,
            };
            match chosen {
                Ok(chosen) => rows.push(chosen),
                Err(Found::Several(several)) => {
                    let what = format!("\"{}\" on {}", row.name, self.number);
                    let fault = of_entry(&what, entered, &Found::Several(several), "");
                    return Err(report.error(fault.at(&self.line.place, "needed for this line")));
                }
                Err(_) => {
                    return Err(report.error(self.no_producer(row)));
                }
            }
        }
        Ok(rows)
    }

    fn no_producer(&self, row: &DutyRow) -> Fault {
        let message = match &self.line.producer {
            Some(name) => format!("\"{}\" has no rate for the producer \"{name}\"", row.name),
            None => {
                format!("\"{}\" depends on the producer, and the line lacks `producer`", row.name)
            }
        };
        Fault::error(Code::NoRate, message)
            .at(&self.line.place, "needed for this line")
            .also(&row.place, "the rate of another producer")
            .help("name the `producer` of the line, or add the row for all others: one without `producer`")
    }
}

/// The fault for a row of duty that is looked up by the day of entry.
fn of_entry(what: &str, on: Date, found: &Found<'_>, help: &str) -> Fault {
    looked_up("rates/duty.toml", what, (on, "entered"), found, help)
}

/// What is too large where the rates of duty together are.
pub(super) const PIECE: Overflow = Overflow { what: "what is levied on a value" };

/// What a layer comes to near a value: a straight line in it, `slope x value + fixed`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DutyPiece {
    /// Its share of the value.
    pub slope: Decimal,
    /// Its fixed amount beside that share.
    pub fixed: Exact,
}

impl DutyPiece {
    /// Nothing, in a currency.
    pub(crate) fn nothing(currency: Currency) -> Self {
        Self { slope: Decimal::ZERO, fixed: Exact::zero(currency) }
    }

    /// What it comes to at a value.
    ///
    /// # Errors
    ///
    /// In another currency.
    pub fn at(&self, value: &Exact) -> Result<Exact, Overflow> {
        value.times(self.slope).plus(&self.fixed)
    }

    /// Two pieces as one.
    ///
    /// # Errors
    ///
    /// If the sum is too large, or of two currencies.
    pub fn plus(&self, other: &Self) -> Result<Self, Overflow> {
        let slope = self.slope.checked_add(other.slope).ok_or(PIECE)?;
        Ok(Self { slope, fixed: self.fixed.plus(&other.fixed)? })
    }

    /// A percentage of it.
    ///
    /// # Errors
    ///
    /// If it is too large.
    pub fn percent(&self, rate: Percent) -> Result<Self, Overflow> {
        let slope = self.slope.checked_mul(rate.fraction()).ok_or(PIECE)?;
        Ok(Self { slope, fixed: self.fixed.percent(rate) })
    }

    /// What is left of it without another.
    ///
    /// # Errors
    ///
    /// If it is too large, or of two currencies.
    pub fn minus(&self, other: &Self) -> Result<Self, Overflow> {
        let slope = self.slope.checked_sub(other.slope).ok_or(PIECE)?;
        Ok(Self { slope, fixed: self.fixed.minus(&other.fixed)? })
    }
}

/// What each layer of a line comes to near a value. This is what is levied on an entered value, and
/// what a price delivered duty paid is solved with: the two cannot differ.
///
/// A layer that another switches off is not among them, so a top-up has the base that is levied, or
/// none. A base that is specific counts by what it comes to on this value: its ad valorem equivalent
/// (HTSUS 2026 revision 6, chapter 99 subchapter III, US note 2(v)).
///
/// # Errors
///
/// If a layer is too large, or in another currency than the value.
pub fn apply(layers: &[Layer], value: &Exact) -> Result<Vec<DutyPiece>, Overflow> {
    let nothing = DutyPiece::nothing(value.currency());
    let own = |layer: &Layer| match layer.row.rate.value {
        DutyRate::Percent(rate) => DutyPiece { slope: rate.fraction(), ..nothing.clone() },
        DutyRate::Specific(rate) => {
            let each = Exact::new(rate.amount, rate.currency);
            let fixed = each.times(layer.quantity.unwrap_or(Decimal::ZERO));
            DutyPiece { fixed, ..nothing.clone() }
        }
    };
    let base = base(layers).map_or_else(|| nothing.clone(), own);
    let piece = |layer: &Layer| {
        if layer.row.kind != LayerKind::TopUp {
            return Ok(own(layer));
        }
        let lifted = own(layer).minus(&base)?;
        let lifts = !lifted.at(value)?.is_negative();
        Ok(if lifts { lifted } else { nothing.clone() })
    };
    layers.iter().map(piece).collect()
}

/// The layer that a top-up lifts, unless another switches it off.
fn base(layers: &[Layer]) -> Option<&Layer> {
    let is_base =
        |layer: &&Layer| matches!(layer.row.kind, LayerKind::Base | LayerKind::Preferential);
    layers.iter().find(is_base)
}

/// The duty that one more unit of value bears, as a fraction of it, and whether the fraction is the same
/// at every value. A top-up on a specific base has no such fraction and is left out.
pub(crate) fn marginal(chosen: &[Chosen], currency: Currency) -> Result<(Decimal, bool), Overflow> {
    let nothing = Money::zero(currency);
    let laid = |one: &Chosen| Layer {
        row: one.row.clone(),
        quantity: None,
        exact: Exact::from(nothing),
        amount: nothing,
    };
    let mut layers: Vec<Layer> = chosen.iter().map(laid).collect();
    let is_specific = |layer: &Layer| matches!(layer.row.rate.value, DutyRate::Specific(_));
    let tops = layers.iter().any(|layer| layer.row.kind == LayerKind::TopUp);
    let is_exact = !(tops && base(&layers).is_some_and(is_specific));
    layers.retain(|layer| !is_specific(layer) && (is_exact || layer.row.kind != LayerKind::TopUp));
    let pieces = apply(&layers, &Exact::new(Decimal::ONE, currency))?;
    let sum = pieces.iter().try_fold(Decimal::ZERO, |sum, piece| sum.checked_add(piece.slope));
    Ok((sum.ok_or(PIECE)?, is_exact))
}

/// Works out what each layer of a line levies on its entered value, rounded as the regime has it.
pub(crate) fn levy(
    line: &mut EntryLine,
    regime: &Regime,
    report: &mut Report,
) -> Result<(), Reported> {
    let entered = Exact::from(line.entered);
    let pieces = report.fits(apply(&line.layers, &entered), &line.place)?;
    let mut sum = Exact::zero(regime.currency);
    let mut before = Money::zero(regime.currency);
    for (layer, piece) in line.layers.iter_mut().zip(pieces) {
        let place = &layer.row.place;
        layer.exact = report.fits(piece.at(&entered), place)?;
        layer.amount = match regime.duty_rounding {
            DutyRounding::Layer => report.fits(layer.exact.round(), place)?,
            DutyRounding::Line => {
                sum = report.fits(sum.plus(&layer.exact), place)?;
                let upto = report.fits(sum.round(), place)?;
                let own = report.fits(upto.minus(before), place)?;
                before = upto;
                own
            }
        };
    }
    Ok(())
}

/// What a line of an entry measures.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Quantities {
    /// The net mass of its slabs.
    pub(crate) mass: Mass,
    /// Their gross area.
    pub(crate) area: Area,
}

impl Quantities {
    fn of(self, unit: DutyUnit) -> Decimal {
        match unit {
            DutyUnit::Kg => self.mass.base(),
            DutyUnit::Tonne => self.mass.to_tonnes(),
            DutyUnit::M2 => self.area.base(),
        }
    }
}

/// A layer that applies to a line of some quantities, before it is known what it is levied on.
pub(crate) fn laid(
    chosen: Chosen,
    (label, quantities): (&str, Quantities),
    regime: &Regime,
    report: &mut Report,
) -> Result<Layer, Reported> {
    let row = chosen.row;
    let quantity = match row.rate.value {
        DutyRate::Percent(_) => None,
        DutyRate::Specific(rate) => {
            let quantity = quantities.of(rate.unit);
            if quantity.is_zero() || rate.currency != regime.currency {
                return Err(report.error(no_quantity(&row, label, regime, quantity.is_zero())));
            }
            Some(quantity)
        }
    };
    let amount = Money::zero(regime.currency);
    Ok(Layer { row, quantity, exact: Exact::from(amount), amount })
}

fn no_quantity(row: &DutyRow, label: &str, regime: &Regime, nothing: bool) -> Fault {
    let name = &row.name;
    let fault = if nothing {
        let rate = &row.rate.value;
        let message = format!("\"{name}\" is {rate}, and {label} has no such quantity");
        Fault::error(Code::OutOfRange, message).help("list the slabs with their sizes")
    } else {
        let message =
            format!("\"{name}\" is not in the currency of the entry, {}", regime.currency);
        Fault::error(Code::Contradiction, message)
            .help("state the duty in the currency of the regime's row")
    };
    fault.at(&row.rate.place, "this rate")
}
