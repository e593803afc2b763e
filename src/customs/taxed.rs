//! The base of an import tax: value, duty, and the legs that the regime adds.

use super::case::Case;
use super::entry::{Entry, EntryLine};
use super::lots::{Lot, Split};
use super::parts::Parts;
use crate::bill::{Base, Charge, Customs, Sets, ValuePart};
use crate::fault::{Report, Reported};
use crate::quantity::{Exact, Money};
use crate::trade::Leg;

/// The base of an import tax on lines of an entry, and what it is made of: their entered values and
/// duties, and the legs that the regime adds, in the amounts and at the customs rates of the entry.
/// It is rounded once.
pub(crate) fn taxed_value(
    case: &Case<'_>,
    entry: &Entry,
    lines: &[&EntryLine],
    (charges, sets): (&[Charge], &Sets),
    report: &mut Report,
) -> Result<Base, Reported> {
    let regime = case.regime(entry.entered_on, report)?;
    let mut made_of: Vec<ValuePart> = lines.iter().flat_map(|line| of_line(line, entry)).collect();
    let apart = |charge: &&Charge| {
        charge.is_valued()
            && charge.customs == Customs::Out
            && charge.leg != Leg::DutyAndTax
            && entry.tax_adds.contains(&charge.leg)
            && !lines.iter().any(|line| {
                line.parts.iter().any(|part| part.leg == charge.leg && !part.amount.is_negative())
            })
    };
    let split = Split::new(case.shipment);
    let parts = Parts::new(case.shipment, &split, case.boxes, charges);
    for charge in charges.iter().filter(apart) {
        let by_lot = parts.of_charge(charge, sets).map_err(|fault| report.error(*fault))?;
        let is_on = |lot: &Lot| {
            lot.entry == entry.filed && lines.iter().any(|line| line.lines.contains(&lot.line))
        };
        let own = by_lot.iter().filter(|(lot, _)| is_on(lot)).map(|(_, part)| part);
        let nothing = Exact::zero(charge.amount().currency());
        let amount = own.into_iter().try_fold(nothing, |sum, part| sum.plus(part));
        let place = &charge.source;
        let amount = report.fits(amount, place)?;
        if amount.is_zero() {
            continue;
        }
        // The charges of one row, a box each, are one part.
        let same = |one: &&mut ValuePart| one.place == *place && one.name == charge.name;
        if let Some(one) = made_of.iter_mut().find(same) {
            one.amount = report.fits(one.amount.plus(&amount), place)?;
            continue;
        }
        let on = (regime, entry.entered_on);
        let exchange = case.rate(on, amount.currency(), place, report)?;
        let (name, leg, place) = (charge.name.clone(), charge.leg, place.clone());
        made_of.push(ValuePart { name, leg, amount, exchange, place });
    }
    let mut base = Exact::zero(entry.currency);
    for part in &made_of {
        let sum = part.converted().and_then(|own| base.plus(&own));
        base = report.fits(sum, &part.place)?;
    }
    Ok(Base { amount: report.fits(base.round(), &entry.regime)?.into(), made_of })
}

/// What a line of an entry brings to the base: its value, each layer of its duty, and what came out
/// of the price for the duty and belongs to the tax all the same.
fn of_line(line: &EntryLine, entry: &Entry) -> Vec<ValuePart> {
    let own = |name: String, leg: Leg, amount: Money, place| {
        let amount = Exact::from(amount);
        ValuePart { name: name.into(), leg, amount, exchange: None, place }
    };
    let value = format!("entered value of {}", line.label);
    let value = own(value, Leg::Goods, line.entered, line.place.clone());
    let levied = line.layers.iter().filter(|layer| !layer.amount.is_zero());
    let duties = levied.map(|layer| {
        let name = format!("{} on {}", layer.row.name, line.label);
        own(name, Leg::DutyAndTax, layer.amount, layer.row.rate.place.clone())
    });
    std::iter::once(value).chain(duties).chain(taken_out(line, entry)).collect()
}

/// What came out of the price of a line for the duty, and is in the base of the tax.
pub(super) fn taken_out<'a>(
    line: &'a EntryLine,
    entry: &'a Entry,
) -> impl Iterator<Item = ValuePart> + 'a {
    let out = line.parts.iter().filter(|part| part.amount.is_negative());
    let added = out.filter(|part| entry.tax_adds.contains(&part.leg));
    added.map(|part| ValuePart { amount: part.amount.negated(), ..part.clone() })
}
