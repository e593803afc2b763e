//! The customs value: what each document adds to it or takes out, lot by lot.
//!
//! Values are made from the invoices' original amounts at the customs rate, never from book
//! amounts.

use smol_str::{SmolStr, format_smolstr};

use super::case::Case;
use super::lots::{Lot, Split};
use super::parts::{ByLot, Parts};
use crate::bill::{Charge, Conversion, Customs, Sets, ValuePart};
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::price::importer_bears;
use crate::quantity::{Exact, Money};
use crate::trade::{Filing, ImportTax, Leg, Regime, StatedLeg};

/// What one document's item adds to the value of each lot.
pub(super) struct Value {
    name: SmolStr,
    leg: Leg,
    by_lot: ByLot,
    exchange: Option<Conversion>,
    place: Place,
}

/// One entry under way.
pub(super) struct Filed<'a, 's> {
    pub(super) case: Case<'a>,
    pub(super) split: &'s Split<'a>,
    pub(super) filing: &'s Filing,
    pub(super) by_seller: bool,
    pub(super) import_tax: Option<ImportTax>,
    pub(super) index: usize,
    pub(super) lots: Vec<Lot>,
}

impl Filed<'_, '_> {
    /// The parts of the customs value, lot by lot.
    ///
    /// These are the price and what the buyer bears beside it: packing, a selling commission,
    /// assists and royalties (US: 19 U.S.C. 1401a(b)(1)); a block that the buyer has sawn is
    /// such an assist, and its invoice counts beside that of the works, and the legs that the regime adds. A
    /// regime that values at export adds no freight that the importer pays itself, nor its inland
    /// freight under EXW (19 CFR 152.103(a)(5)); one that values at the border adds all carriage
    /// up to it. Legs inside the price come out only where the regime takes them out, the invoice
    /// states them apart and there is evidence; without, the whole price is the value. A leg
    /// before the ship comes out only under a through bill of lading (the same paragraph). How the
    /// importer books a charge changes no customs value.
    pub(super) fn values(
        &self,
        regime: &Regime,
        charges: &[Charge],
        sets: &Sets,
        report: &mut Report,
    ) -> Result<Vec<Value>, Reported> {
        let case = self.case;
        let parts = Parts::new(case.shipment, self.split, case.boxes, charges);
        let mut values = Vec::new();
        let counts = |charge: &&Charge| {
            charge.customs == Customs::In
                || (charge.leg > Leg::Goods
                    && charge.is_valued()
                    && regime.adds.contains(&charge.leg))
        };
        for charge in charges.iter().filter(counts) {
            let place = charge.source.clone();
            let by_lot = self.own(parts.of_charge(charge, sets), report)?;
            if by_lot.is_empty() {
                continue;
            }
            let currency = charge.amount().currency();
            let exchange = case.rate((regime, self.filing.entered), currency, &place, report)?;
            let line = charge.goods_of.and_then(|at| case.shipment.lines.get(at));
            let name = match line {
                Some(line) => format_smolstr!("{}, line {}", charge.name, line.id),
                None => charge.name.clone(),
            };
            let leg = charge.leg;
            values.push(Value { name, leg, by_lot, exchange, place });
        }
        for (index, invoice) in case.shipment.invoices.iter().enumerate() {
            let here = self.lots.iter().any(|lot| case.shipment.bills(index, lot.line));
            if !here {
                continue;
            }
            for stated in &invoice.stated {
                // A leg that the term leaves to the importer is not in the price: nothing to take
                // out.
                let through = regime.through.contains(&stated.leg);
                let comes_out = regime.takes_out.contains(&stated.leg) || through;
                if !comes_out || importer_bears(invoice, stated.leg) {
                    continue;
                }
                if stated.evidence.is_none() || (through && stated.through.is_none()) {
                    report.add(no_evidence(stated));
                    continue;
                }
                let by_lot = self.own(parts.of_stated(stated, index, sets), report)?;
                let by_lot = by_lot.into_iter().map(|(lot, part)| (lot, part.negated())).collect();
                let name = format_smolstr!("{} inside the price", stated.leg.word());
                let item = (name, stated.leg, &stated.amount);
                values.push(self.beside_lines(regime, item, by_lot, report)?);
            }
            for added in &invoice.additions {
                let amount = Exact::from(added.amount.value);
                let by_lot = parts.of_addition(&amount, index, sets, &added.amount.place);
                let by_lot = self.own(by_lot, report)?;
                let item = (added.name.as_str().into(), Leg::Goods, &added.amount);
                values.push(self.beside_lines(regime, item, by_lot, report)?);
            }
        }
        let assumed = self.assumed(regime, &values);
        values.extend(assumed);
        Ok(values)
    }

    /// Legs of which nothing is known, as the shares that the regime takes them for.
    fn assumed(&self, regime: &Regime, values: &[Value]) -> Vec<Value> {
        let shipment = self.case.shipment;
        let bears = |lot: &Lot, leg: Leg| {
            let line = shipment.lines.get(lot.line);
            let invoice = line.and_then(|line| shipment.invoices.get(line.invoice));
            invoice.is_some_and(|invoice| importer_bears(invoice, leg))
        };
        let mut assumed = Vec::new();
        for (leg, rate) in &regime.assumed {
            if values.iter().any(|value| value.leg == *leg) {
                continue;
            }
            for value in values.iter().filter(|value| value.leg < Leg::MainCarriage) {
                let borne = value.by_lot.iter().filter(|(lot, _)| bears(lot, *leg));
                assumed.push(Value {
                    name: format_smolstr!("{} taken as {rate} of {}", leg.word(), value.name),
                    leg: *leg,
                    by_lot: borne.map(|(lot, part)| (*lot, part.percent(*rate))).collect(),
                    exchange: value.exchange.clone(),
                    place: regime.place.clone(),
                });
            }
        }
        assumed.retain(|value| !value.by_lot.is_empty());
        assumed
    }

    /// The parts of an amount that are on this entry.
    fn own(
        &self,
        parts: Result<ByLot, Box<Fault>>,
        report: &mut Report,
    ) -> Result<ByLot, Reported> {
        let mut parts = parts.map_err(|fault| report.error(*fault))?;
        parts.retain(|lot, _| lot.entry == self.index);
        Ok(parts)
    }

    /// Something an invoice states beside its lines, unrounded.
    fn beside_lines(
        &self,
        regime: &Regime,
        (name, leg, stated): (SmolStr, Leg, &At<Money>),
        by_lot: ByLot,
        report: &mut Report,
    ) -> Result<Value, Reported> {
        let place = stated.place.clone();
        let on = (regime, self.filing.entered);
        let exchange = self.case.rate(on, stated.value.currency(), &place, report)?;
        Ok(Value { name, leg, by_lot, exchange, place })
    }

    /// Adds the values of the lots of one entry line, unrounded.
    pub(super) fn add_up(
        &self,
        regime: &Regime,
        values: &[Value],
        members: &[usize],
        report: &mut Report,
    ) -> Result<(Vec<ValuePart>, Exact), Reported> {
        let mut parts = Vec::new();
        let mut exact = Exact::zero(regime.currency);
        for value in values {
            let own = members
                .iter()
                .filter_map(|line| value.by_lot.get(&Lot { entry: self.index, line: *line }));
            let own: Vec<&Exact> = own.collect();
            let Some(first) = own.first() else { continue };
            let start = Exact::zero(first.currency());
            let sum = own.iter().try_fold(start, |sum, one| sum.plus(one));
            let added = sum.and_then(|amount| {
                let part = ValuePart {
                    name: value.name.clone(),
                    leg: value.leg,
                    amount,
                    exchange: value.exchange.clone(),
                    place: value.place.clone(),
                };
                let total = exact.plus(&part.converted()?)?;
                Ok((part, total))
            });
            let (part, total) = report.fits(added, &value.place)?;
            exact = total;
            parts.push(part);
        }
        Ok((parts, exact))
    }
}

fn no_evidence(stated: &StatedLeg) -> Fault {
    let (why, help) = if stated.evidence.is_none() {
        (
            "it is stated without evidence",
            "with a bill of lading or a freight invoice that shows the actual amount, add `evidence`",
        )
    } else {
        (
            "no through bill of lading covers it",
            "name the through bill of lading with `through`, where the goods were placed with a carrier for through shipment",
        )
    };
    let message = format!("\"{}\" stays in the customs value: {why}", stated.leg.word());
    Fault::warning(Code::Notice, message).at(&stated.amount.place, "stated here").help(help)
}
