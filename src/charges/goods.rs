//! The supplier's invoice: lines, discount, packing, commission, the line that rounds.
//!
//! Goods are attributed, not spread: a slab's weight is its price on the invoice.
//!
//! Decided on 2026-11-26. A designated hedge goes to the goods by their value (IFRS 9, paragraph
//! 6.5.11(d)(i)). It is no part of the price, of the insured value, of the customs value or of what is paid.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::job::Job;
use super::payments::{self, Paid, Passing, plan_of};
use crate::bill::{
    Booked, Charge, ChargeKind, ChargedOn, Customs, Object, On, Payable, PricedPart, Scope, SetId,
    SetName, Sets, Sum, Working, Worth, counted, free_slabs,
};
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::quantity::{Decimal, Exact, Money, Overflow, PricedBy, Weights, sum};
use crate::trade::charge_name::{BASIS_ADJUSTMENT, DISCOUNT, GOODS, ROUNDING};
use crate::trade::{
    Basis, Date, Discount, Invoice, Key, Leg, Line, MoneyRounding, PackingTerms, ScopeKind,
    Shipment,
};

/// The key that a line's goods are attributed by.
fn key_of(line: &Line) -> Key {
    match line.price.by {
        _ if line.block.is_some() => Key::Area,
        _ if line.is_composite() => Key::Value,
        PricedBy::M2 | PricedBy::Ft2 | PricedBy::M3 | PricedBy::Slab => Key::Value,
        PricedBy::Tonne => Key::Mass,
        PricedBy::Bundle | PricedBy::Lot => Key::Area,
    }
}

/// What the invoices come to.
#[derive(Default)]
pub(super) struct Goods {
    /// The charges of all of them.
    pub(super) charges: Vec<Charge>,
    /// How each is paid.
    pub(super) plans: Vec<Vec<Paid>>,
}

/// All charges of all invoices.
pub(super) fn goods(
    job: &Job<'_>,
    sets: &mut Sets,
    report: &mut Report,
) -> Result<Goods, Reported> {
    let free = free_slabs(job.shipment);
    let mut charges = Vec::new();
    let mut plans = Vec::new();
    for (index, invoice) in job.shipment.invoices.iter().enumerate() {
        let lines = lines_of(job, (index, &invoice.place), &free, sets, report)?;
        let Some(currency) = lines.first().map(|line| line.amount.currency()) else {
            plans.push(Vec::new());
            continue;
        };
        let goods: Vec<Money> = lines.iter().map(|line| line.amount).collect();
        let billed = invoice_items(invoice, &goods, currency).and_then(|items| {
            let own = items.iter().filter(|item| item.is_billed()).map(|item| item.amount);
            let total = Money::total(currency, goods.iter().copied().chain(own))?;
            Ok((items, total))
        });
        let (items, total) = report.fits(billed, &invoice.place)?;
        let passing = report.fits(passing(&lines), &invoice.place)?;
        let last = passing.iter().map(|(day, _)| *day).max();
        let last = report.found(last, "the day on which goods pass")?;
        let paid = plan_of(job, invoice, (total, last), report)?;
        let bill = Bill { index, invoice, paid: &paid, passing };
        for part in lines {
            charges.push(line_charge(job, &bill, part, report)?);
        }
        charges.extend(item_charges(job, &bill, items, sets, report)?);
        charges.extend(adjustment(job, &bill, sets));
        plans.push(paid);
    }
    Ok(Goods { charges, plans })
}

/// When the goods of an invoice become the importer's: so much of them on each day.
fn passing(lines: &[Part<'_>]) -> Result<Vec<(Date, Decimal)>, Overflow> {
    let mut all: Vec<(Date, Decimal)> = Vec::new();
    for line in lines {
        let amount = line.amount.amount();
        match all.iter_mut().find(|(day, _)| *day == line.passes) {
            Some((_, known)) => *known = sum(*known, amount, "the goods of an invoice")?,
            None => all.push((line.passes, amount)),
        }
    }
    Ok(all)
}

/// An invoice with how it is paid and when its goods become the importer's.
struct Bill<'a> {
    index: usize,
    invoice: &'a Invoice,
    paid: &'a [Paid],
    passing: Vec<(Date, Decimal)>,
}

impl Bill<'_> {
    /// Books an item of it, in parts where they have rates of their own.
    fn book(
        &self,
        job: &Job<'_>,
        item: (Money, Working, &Passing),
        place: &Place,
        report: &mut Report,
    ) -> Result<Booked, Reported> {
        payments::book(job, (self.invoice, self.paid), item, place, report)
    }
}

/// A line, a bundle of a line priced by the bundle, or the part of one that becomes the importer's on
/// a day of its own, with its amount.
struct Part<'a> {
    index: usize,
    line: &'a Line,
    scope: Scope,
    quantity: Decimal,
    exact: Exact,
    parts: Vec<PricedPart>,
    amount: Money,
    /// The day on which control of it passes.
    passes: Date,
}

/// What is missing where nothing says when a line's goods pass.
const INVOICE: &str = "the invoice of a line";

fn lines_of<'a>(
    job: &Job<'a>,
    (invoice, place): (usize, &Place),
    free: &BTreeSet<usize>,
    sets: &mut Sets,
    report: &mut Report,
) -> Result<Vec<Part<'a>>, Reported> {
    let mut all = Vec::new();
    let own = job.shipment.lines.iter().enumerate().filter(|(_, line)| line.invoice == invoice);
    for (index, line) in own {
        let name = SetName::Part(ScopeKind::Line, index, Sets::ALL);
        let slabs_of = line.slabs_of(index);
        let Some(set) = sets.of_lines(name, job.shipment, |line| line == slabs_of) else {
            continue;
        };
        let mut scopes = Vec::new();
        if line.price.by == PricedBy::Bundle {
            scopes = bundle_scopes(job.shipment, (index, set), free, sets);
        }
        // A line of bundles that are all free comes to nothing, and stands there with it.
        if scopes.is_empty() {
            scopes.push(Scope { kind: ScopeKind::Line, of: line.id.as_str().into(), set });
        }
        let worth = Worth::of_counted(line, |unit| {
            let worked = || Ok(counted(job.shipment, free, line, unit)?.figure);
            sets.counted(set, (index, unit), worked)
        });
        for scope in scopes {
            let passes = job.shipment.dates.sails;
            let priced = worth.clone().and_then(|worth| {
                price(job.shipment, (index, line, &worth), scope, passes, free, sets)
            });
            all.push(report.fits(priced, &line.price.place)?);
        }
    }
    report.fits(round_by_invoice(&mut all), place)?;
    let mut parted = Vec::with_capacity(all.len());
    for priced in all {
        parted.extend(by_control(job.shipment, priced, free, sets, report)?);
    }
    Ok(parted)
}

/// A line by the days on which control of its slabs passes, where its bills of lading tell them apart.
fn by_control<'a>(
    shipment: &Shipment,
    priced: Part<'a>,
    free: &BTreeSet<usize>,
    sets: &mut Sets,
    report: &mut Report,
) -> Result<Vec<Part<'a>>, Reported> {
    let line = priced.line;
    if shipment.bills.iter().all(|bill| bill.control.is_none()) {
        let control = report.found(shipment.control(line, None), INVOICE)?;
        let passes = control.day;
        return Ok(vec![Part { passes, ..priced }]);
    }
    let mut by_day: BTreeMap<Date, Vec<usize>> = BTreeMap::new();
    for slab in sets.members(priced.scope.set) {
        let Some(one) = shipment.slabs.get(slab) else { continue };
        let mut bills = shipment.bills.iter();
        let bill = bills.find(|bill| shipment.covered(&bill.covers, one.line, one.bundle));
        let control = report.found(shipment.control(line, bill), INVOICE)?;
        by_day.entry(control.day).or_default().push(slab);
    }
    if by_day.len() < 2 {
        let day = by_day.into_keys().next();
        let passes = report.found(day, "the day on which goods pass")?;
        return Ok(vec![Part { passes, ..priced }]);
    }
    if line.price.by == PricedBy::Lot || line.block.is_some() {
        return Err(report.error(
            Fault::error(
                Code::Contradiction,
                format!("control of line {} passes on two days", line.id),
            )
            .at(&line.price.place, "one price for the lot")
            .help(
                "price its slabs by the slab or by area, or state one day as `control` of the line",
            ),
        ));
    }
    report.fits(parts_of(shipment, &priced, by_day, free, sets), &line.price.place)
}

/// The parts of a line, its amount divided over them by what each bills.
fn parts_of<'a>(
    shipment: &Shipment,
    whole: &Part<'a>,
    by_day: BTreeMap<Date, Vec<usize>>,
    free: &BTreeSet<usize>,
    sets: &mut Sets,
) -> Result<Vec<Part<'a>>, Overflow> {
    let line = whole.line;
    let currency = whole.amount.currency();
    let worth = Worth::of(shipment, free, line)?;
    let mut parts = Vec::new();
    let mut weights = Vec::new();
    for (passes, slabs) in by_day {
        let billed = slabs.iter().filter(|at| !free.contains(at));
        let own = billed.filter_map(|at| shipment.slabs.get(*at));
        let nothing = Exact::zero(currency);
        weights.push(own.clone().try_fold(nothing, |sum, slab| sum.plus(&worth.weight(slab)?))?);
        let Sum { quantity, exact, parts: made_of } = worth.sum(own)?;
        let members: Vec<u32> = slabs.iter().filter_map(|slab| u32::try_from(*slab).ok()).collect();
        let set = sets.add(SetName::LineFrom(whole.index, passes), &members);
        let scope = Scope { set, ..whole.scope.clone() };
        let amount = Money::zero(currency);
        let index = whole.index;
        parts.push(Part { index, line, scope, quantity, exact, parts: made_of, amount, passes });
    }
    let too_large = |_| Overflow { what: "the parts of a line" };
    let shares = Weights::of_exact(&weights).and_then(|weights| weights.divide(whole.amount));
    for (part, share) in parts.iter_mut().zip(shares.map_err(too_large)?) {
        part.amount = Money::from_minor(share, currency);
    }
    parts.retain(|part| !part.amount.is_zero());
    Ok(parts)
}

/// The bundles of a line, each a scope of its own; a bundle given away whole is not billed.
fn bundle_scopes(
    shipment: &Shipment,
    (index, line): (usize, SetId),
    free: &BTreeSet<usize>,
    sets: &mut Sets,
) -> Vec<Scope> {
    let mut by_bundle: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for slab in sets.members(line) {
        if let Some(one) = shipment.slabs.get(slab) {
            by_bundle.entry(one.bundle).or_default().push(slab);
        }
    }
    let mut scopes = Vec::new();
    for (at, slabs) in by_bundle {
        if slabs.iter().all(|slab| free.contains(slab)) {
            continue;
        }
        let Ok(at) = usize::try_from(at) else { continue };
        let Some(bundle) = shipment.bundles.get(at) else { continue };
        let members: Vec<u32> = slabs.iter().filter_map(|slab| u32::try_from(*slab).ok()).collect();
        let set = sets.add(SetName::LineInBundle(index, at), &members);
        scopes.push(Scope { kind: ScopeKind::Bundle, of: bundle.id.as_str().into(), set });
    }
    scopes
}

fn price<'a>(
    shipment: &Shipment,
    (index, line, worth): (usize, &'a Line, &Worth<'_>),
    scope: Scope,
    passes: Date,
    free: &BTreeSet<usize>,
    sets: &Sets,
) -> Result<Part<'a>, Overflow> {
    let currency = line.price.currency;
    let is_billed = |position: &usize| free.is_empty() || !free.contains(position);
    let members = sets.members(scope.set).filter(is_billed);
    let billed = members.filter_map(|position| shipment.slabs.get(position));
    let known = |worked: &dyn Fn() -> _| sets.billed(scope.set, (index, line.price.by), worked);
    let Sum { quantity, exact, parts } = worth.sum_of(billed.clone(), known)?;
    let amount = if worth.weighs_money() {
        let each = billed.map(|slab| worth.exact(slab)?.round());
        each.into_iter().try_fold(Money::zero(currency), |sum, one| sum.plus(one?))?
    } else {
        exact.round()?
    };
    Ok(Part { index, line, scope, quantity, exact, parts, amount, passes })
}

/// Where a supplier rounds its invoice only, the rounded total is divided over the lines.
fn round_by_invoice(lines: &mut [Part<'_>]) -> Result<(), Overflow> {
    let too_large = Overflow { what: "the total of an invoice" };
    let mut whole: Vec<&mut Part<'_>> = lines
        .iter_mut()
        .filter(|priced| priced.line.measure.money == MoneyRounding::Invoice)
        .collect();
    let Some(currency) = whole.first().map(|priced| priced.line.price.currency) else {
        return Ok(());
    };
    let exacts: Vec<Exact> = whole.iter().map(|priced| priced.exact.clone()).collect();
    let total = exacts.iter().try_fold(Exact::zero(currency), |sum, one| sum.plus(one))?;
    let weights = Weights::of_exact(&exacts).map_err(|_| too_large)?;
    let shares = weights.divide(total.round()?).map_err(|_| too_large)?;
    for (priced, share) in whole.iter_mut().zip(shares) {
        priced.amount = Money::from_minor(share, currency);
    }
    Ok(())
}

fn line_charge(
    job: &Job<'_>,
    bill: &Bill<'_>,
    part: Part<'_>,
    report: &mut Report,
) -> Result<Charge, Reported> {
    let Part { index, line, scope, quantity, exact, parts, amount, passes } = part;
    let place = &line.price.place;
    let exact = match &parts[..] {
        // As it was multiplied, with all of its places.
        [one] => one.exact,
        _ => report.fits(exact.to_places(6), place)?,
    };
    let working = Working::Priced { parts, quantity, exact };
    let booked = bill.book(job, (amount, working, &[(passes, Decimal::ONE)]), place, report)?;
    let kind = ChargeKind {
        key: key_of(line),
        charged_on: ChargedOn::Worth,
        basis: match bill.invoice.is_starter {
            true => Basis::Starter,
            false if line.nominal => Basis::Assumed,
            false => Basis::Quoted,
        },
        customs: Customs::In,
        is_price: true,
        goods_of: Some(index),
        valid: Some(bill.invoice.price_valid.value),
        ..ChargeKind::of(GOODS, Leg::Goods, place, Payable::ByPlan(bill.index))
    };
    let on = On { object: Object::Line(index), set: scope.set };
    Ok(Charge { kind: Arc::new(kind), on, scope, booked: Arc::new(booked), by: None })
}

/// An item of an invoice beside its lines.
struct Item<'a> {
    name: &'static str,
    leg: Leg,
    key: Key,
    amount: Money,
    customs: Customs,
    is_price: bool,
    working: Working,
    place: &'a Place,
}

impl Item<'_> {
    /// Whether the supplier's invoice bills it; an agent's commission is paid to the agent.
    fn is_billed(&self) -> bool {
        self.is_price || self.leg == Leg::ExportPacking
    }
}

fn item_charges(
    job: &Job<'_>,
    bill: &Bill<'_>,
    items: Vec<Item<'_>>,
    sets: &mut Sets,
    report: &mut Report,
) -> Result<Vec<Charge>, Reported> {
    let (index, invoice) = (bill.index, bill.invoice);
    let set = invoice_set(job.shipment, index, sets);
    let set = report.found(set, "the goods of an invoice")?;
    let mut charges = Vec::new();
    for item in items {
        let passing = &bill.passing[..];
        let figures = (item.amount, item.working.clone(), passing);
        let (booked, payable) = if item.is_billed() {
            (bill.book(job, figures, item.place, report)?, Payable::ByPlan(index))
        } else {
            let last = passing.iter().map(|(day, _)| *day).max();
            let last = report.found(last, "the day on which goods pass")?;
            let booked = payments::book_apart(job, invoice, figures, item.place, report)?;
            (booked, Payable::On(last, None))
        };
        let is_of_goods = item.leg == Leg::Goods;
        let mut kind = ChargeKind {
            key: item.key,
            charged_on: if is_of_goods { ChargedOn::Worth } else { ChargedOn::Mass },
            customs: item.customs,
            is_price: item.is_price,
            basis: if invoice.is_starter { Basis::Starter } else { Basis::Quoted },
            valid: Some(invoice.price_valid.value),
            ..ChargeKind::of(item.name, item.leg, item.place, payable)
        };
        job.apply_policy(&mut kind);
        job.keeps_scope(item.name, ScopeKind::Invoice, report)?;
        charges.push(of_invoice((index, invoice), set, kind, booked));
    }
    Ok(charges)
}

/// The slabs of an invoice.
fn invoice_set(shipment: &Shipment, invoice: usize, sets: &mut Sets) -> Option<SetId> {
    let name = SetName::Part(ScopeKind::Invoice, invoice, Sets::ALL);
    sets.of_lines(name, shipment, |line| shipment.bills(invoice, line))
}

/// A charge on all of an invoice.
fn of_invoice(
    (index, invoice): (usize, &Invoice),
    set: SetId,
    kind: ChargeKind,
    booked: Booked,
) -> Charge {
    let scope = Scope { kind: ScopeKind::Invoice, of: invoice.number.as_str().into(), set };
    let on = On { object: Object::Invoice(index), set };
    Charge { kind: Arc::new(kind), on, scope, booked: Arc::new(booked), by: None }
}

/// What a designated hedge of an invoice's price adds to the cost of its goods: no part of the price,
/// of the customs value or of what is paid (IFRS 9, paragraph 6.5.11(d)(i)).
fn adjustment(job: &Job<'_>, bill: &Bill<'_>, sets: &mut Sets) -> Option<Charge> {
    let own = bill.invoice.basis_adjustment.as_ref()?;
    let set = invoice_set(job.shipment, bill.index, sets)?;
    let kind = ChargeKind {
        key: Key::Value,
        charged_on: ChargedOn::Worth,
        ..ChargeKind::of(BASIS_ADJUSTMENT, Leg::Goods, &own.amount.place, Payable::Never)
    };
    let (amount, working) = (own.amount.value, Working::Stated);
    let booked = Booked { amount, book: amount, exchange: None, parts: Vec::new(), working };
    Some(of_invoice((bill.index, bill.invoice), set, kind, booked))
}

fn invoice_items<'a>(
    invoice: &'a Invoice,
    goods: &[Money],
    currency: crate::quantity::Currency,
) -> Result<Vec<Item<'a>>, Overflow> {
    let lines = Money::total(currency, goods.iter().copied())?;
    let mut items = Vec::new();
    let mut net = lines;
    if let Some(discount) = &invoice.discount {
        let (amount, working) = match discount.value {
            Discount::Amount(amount) => (amount.negated(), Working::Stated),
            Discount::Percent(rate) => {
                let exact = Exact::from(lines.negated()).percent(rate);
                (exact.round()?, part(rate, "the lines", lines, exact))
            }
        };
        net = net.plus(amount)?;
        items.push(Item {
            name: DISCOUNT,
            leg: Leg::Goods,
            key: Key::Value,
            amount,
            customs: Customs::In,
            is_price: true,
            working,
            place: &discount.place,
        });
    }
    if let PackingTerms::Invoiced(amount) = &invoice.packing {
        items.push(Item {
            name: "export packing",
            leg: Leg::ExportPacking,
            key: Key::Area,
            amount: amount.value,
            customs: Customs::In,
            is_price: false,
            working: Working::Stated,
            place: &amount.place,
        });
    }
    if let Some(rounding) = &invoice.rounding {
        items.push(Item {
            name: ROUNDING,
            leg: Leg::Goods,
            key: Key::Value,
            amount: rounding.value,
            customs: Customs::In,
            is_price: true,
            working: Working::Stated,
            place: &rounding.place,
        });
    }
    if let Some(commission) = &invoice.commission {
        let exact = Exact::from(net).percent(commission.rate.value);
        items.push(Item {
            name: if commission.selling { "selling commission" } else { "buying commission" },
            leg: Leg::Goods,
            key: Key::Value,
            amount: exact.round()?,
            // 19 U.S.C. 1401a(b)(1)(B): a selling commission borne by the buyer is added; a
            // commission to the buyer's own agent is not.
            customs: if commission.selling { Customs::In } else { Customs::Out },
            is_price: false,
            working: part(commission.rate.value, "the goods", net, exact),
            place: &commission.rate.place,
        });
    }
    Ok(items)
}

fn part(rate: crate::quantity::Percent, of: &'static str, base: Money, exact: Exact) -> Working {
    Working::Part {
        rate,
        of: of.into(),
        base,
        made_of: Vec::new(),
        times: None,
        exact,
        bound: None,
    }
}
