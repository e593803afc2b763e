//! The customs value: what each document adds to it or takes out, lot by lot.
//!
//! Values are made from the invoices' original amounts at the customs rate, never from book
//! amounts.

use std::collections::BTreeMap;

use super::amounts::is_paid_for_good;
use super::customs::Filed;
use super::job::Job;
use super::lots::Lot;
use crate::bill::{Charge, Conversion, Customs, Sets, ValuePart};
use crate::fault::{Code, Fault, Place, Report};
use crate::price::{Target, certified, importer_bears, told};
use crate::quantity::{Currency, Exact};
use crate::spread::Spreader;
use crate::trade::{Date, Dates, ExchangeUse, Leg, Regime, StatedLeg};

/// What one document's item adds to the value of each lot.
pub(super) struct Value {
    name: String,
    leg: Leg,
    by_lot: BTreeMap<Lot, Exact>,
    exchange: Option<Conversion>,
    place: Place,
}

impl Filed<'_, '_> {
    /// The parts of the customs value, lot by lot.
    ///
    /// These are the price and what the buyer bears beside it: packing, a selling commission,
    /// assists and royalties (US: 19 U.S.C. 1401a(b)(1)), and the legs that the regime adds. A
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
        spreader: &mut Spreader<'_>,
        report: &mut Report,
    ) -> Option<Vec<Value>> {
        let job = self.job;
        let mut values = Vec::new();
        let counts = |charge: &&Charge| {
            charge.customs == Customs::In
                || (charge.leg > Leg::Goods
                    && is_paid_for_good(charge)
                    && regime.adds.contains(&charge.leg))
        };
        for charge in charges.iter().filter(counts) {
            let place = charge.sources.first()?.clone();
            let by_lot = self.by_lot(charge, sets, spreader, report)?;
            if by_lot.is_empty() {
                continue;
            }
            let currency = charge.amount().currency();
            let exchange =
                customs_rate(job, (regime, self.filing.entered), currency, &place, report)?;
            let line = charge.goods_of.and_then(|at| job.shipment.lines.get(at));
            let name = match line {
                Some(line) => format!("{}, line {}", charge.name, line.id),
                None => charge.name.clone(),
            };
            let leg = charge.leg;
            values.push(Value { name, leg, by_lot, exchange, place });
        }
        for (index, invoice) in job.shipment.invoices.iter().enumerate() {
            let here = self.lots.iter().any(|lot| {
                job.shipment.lines.get(lot.line).is_some_and(|line| line.invoice == index)
            });
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
                let amount = Exact::from(stated.amount.value).negated();
                let place = stated.amount.place.clone();
                let name = format!("{} inside the price", stated.leg.word());
                let item = (name, stated.leg, amount, place);
                values
                    .push(self.beside_lines(regime, index, item, charges, sets, spreader, report)?);
            }
            for added in &invoice.additions {
                let amount = Exact::from(added.amount.value);
                let item = (added.name.clone(), Leg::Goods, amount, added.amount.place.clone());
                values
                    .push(self.beside_lines(regime, index, item, charges, sets, spreader, report)?);
            }
        }
        let assumed = self.assumed(regime, &values);
        values.extend(assumed);
        Some(values)
    }

    /// Legs of which nothing is known, as the shares that the regime takes them for.
    fn assumed(&self, regime: &Regime, values: &[Value]) -> Vec<Value> {
        let shipment = self.job.shipment;
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
                    name: format!("{} taken as {rate} of {}", leg.word(), value.name),
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

    /// A charge's amount by lot of this entry, in the charge's own currency, unrounded: as its key
    /// has it.
    fn by_lot(
        &self,
        charge: &Charge,
        sets: &Sets,
        spreader: &mut Spreader<'_>,
        report: &mut Report,
    ) -> Option<BTreeMap<Lot, Exact>> {
        let amount = Exact::from(charge.amount());
        let mut lots = self.split.lots.iter().filter(|lot| Some(lot.line) == charge.goods_of);
        if let (Some(lot), None) = (lots.next(), lots.next()) {
            let own = lot.entry == self.index;
            return Some(own.then_some((*lot, amount)).into_iter().collect());
        }
        if let [lot] = self.split.lots[..] {
            return Some(BTreeMap::from([(lot, amount)]));
        }
        let weights = spreader.weights(charge, sets, report)?;
        let mut parts: BTreeMap<Lot, Vec<usize>> = BTreeMap::new();
        for (position, slab) in sets.members(charge.scope.set).enumerate() {
            let lot = self.job.shipment.slabs.get(slab).and_then(|slab| self.split.lot_of(slab))?;
            if lot.entry == self.index {
                parts.entry(lot).or_default().push(position);
            }
        }
        let share =
            |(lot, part): (Lot, Vec<usize>)| (lot, weights.share(&amount, part.into_iter()));
        Some(parts.into_iter().map(share).collect())
    }

    /// Something an invoice states beside its lines, divided over them by their amounts, unrounded.
    #[expect(clippy::too_many_arguments, reason = "all of what a value is made from")]
    fn beside_lines(
        &self,
        regime: &Regime,
        invoice: usize,
        (name, leg, amount, place): (String, Leg, Exact, Place),
        charges: &[Charge],
        sets: &Sets,
        spreader: &mut Spreader<'_>,
        report: &mut Report,
    ) -> Option<Value> {
        let lines = &self.job.shipment.lines;
        let mut amounts: BTreeMap<Lot, Exact> = BTreeMap::new();
        let mut whole: Option<Exact> = None;
        for charge in charges {
            let Some(at) = charge.goods_of else { continue };
            if lines.get(at).is_none_or(|line| line.invoice != invoice) {
                continue;
            }
            let goods = Exact::from(charge.amount());
            whole = Some(whole.map_or(Ok(goods.clone()), |sum| sum.plus(&goods)).ok()?);
            for (lot, part) in self.by_lot(charge, sets, spreader, report)? {
                let sum = amounts.entry(lot).or_insert_with(|| Exact::zero(part.currency()));
                *sum = sum.plus(&part).ok()?;
            }
        }
        let whole = whole?;
        if whole.is_zero() {
            report.add(
                Fault::error(
                    Code::NothingToSpread,
                    "an amount stated on an invoice cannot be divided over lines that cost nothing",
                )
                .at(&place, "stated here"),
            );
            return None;
        }
        let share = |(lot, part): (Lot, Exact)| (lot, amount.share(&part, &whole));
        let by_lot = amounts.into_iter().map(share).collect();
        let on = (regime, self.filing.entered);
        let exchange = customs_rate(self.job, on, amount.currency(), &place, report)?;
        Some(Value { name, leg, by_lot, exchange, place })
    }

    /// Adds the values of the lots of one entry line, unrounded.
    pub(super) fn add_up(
        &self,
        regime: &Regime,
        values: &[Value],
        members: &[usize],
        report: &mut Report,
    ) -> Option<(Vec<ValuePart>, Exact)> {
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
                let total = part.converted().map_or(Ok(exact.clone()), |one| exact.plus(&one))?;
                Ok((part, total))
            });
            match added {
                Ok((part, total)) => {
                    exact = total;
                    parts.push(part);
                }
                Err(overflow) => {
                    report.add(
                        Fault::error(Code::Overflow, overflow.to_string())
                            .at(&value.place, "the customs value"),
                    );
                    return None;
                }
            }
        }
        Some((parts, exact))
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

/// The customs rate of a currency on the regime's day for it: of export (19 CFR 159.32), or of this
/// entry. The inner `None`: the regime's own currency needs none.
#[expect(clippy::option_option, reason = "the outer one says that a fault is in the report")]
pub(super) fn customs_rate(
    job: &Job<'_>,
    (regime, entered): (&Regime, Date),
    currency: Currency,
    place: &Place,
    report: &mut Report,
) -> Option<Option<Conversion>> {
    if currency == regime.currency {
        return Some(None);
    }
    let target = Target {
        event: regime.exchange_on,
        used_for: ExchangeUse::Customs,
        currency: regime.currency,
        needed_at: place,
    };
    let dates = Dates { entered, ..job.shipment.dates };
    let row = told(certified(&job.terms().on(dates), regime, currency, &target), report)?;
    Some(Some(Conversion::by(row, dates.of(regime.exchange_on))))
}
