//! The bill of a box: before it is filled, for the loader, and with its contents, for the costing.
//!
//! A surcharge by gross mass makes a kind of box for each of its tiers: the top of the tier is its
//! limit, and the price of the tier is in its cost. So the loader weighs a heavier box against one more
//! box. The cost of a box may also depend on its goods: their terms, their works, their entry. The
//! loader does not know them before the box is filled. So a plan's bound takes the least cost of each
//! kind, and the plan is billed again with its contents.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use super::caused::Caused;
use super::job::Desk;
use crate::customs::only_filing;
use crate::fault::{Code, Fault, Report, Reported};
use crate::load::{FilledBox, Limit, Limits, Part, Plan, Proof, Variant, with_variants};
use crate::price::{
    BoxCharge, BoxKey, Contents, How, Inside, Reason, Why, alike, box_bill, by_box, by_gross,
    chosen_by, goes_by_entry, is_carried, is_part, least, told_all, tops, total,
};
use crate::quantity::{Decimal, Mass, Money, Overflow};
use crate::trade::{ChargeRow, Date, LimitKind, LimitOn, Shipment, Slab, TableName, Tier};

/// A kind of box as the loader has it.
#[derive(Debug, Clone)]
pub(crate) struct KindOfBox {
    /// The container type and road class, with what it costs in its tier.
    pub(crate) variant: Variant,
    /// The top of its tier, a limit for the loader only: a heavier box is of the next kind. The last tier
    /// has none.
    pub(crate) top: Option<Limit>,
    /// Its least cost, where the cost depends on the contents.
    pub(crate) least: Option<Money>,
    /// The most duty and premium that its charges cause; `None` where unknown.
    pub(crate) most: Option<Money>,
}

impl KindOfBox {
    /// The variant with the top of its tier among its limits.
    pub(crate) fn for_loader(&self) -> Variant {
        let limits = Limits { tier: self.top.clone(), ..self.variant.limits.clone() };
        Variant { limits, ..self.variant.clone() }
    }

    /// The same at the least that it may cost.
    pub(crate) fn for_bound(&self) -> Variant {
        let own = self.for_loader();
        match self.least {
            // What another box of the kind causes is not known to be more than nothing.
            Some(cost) => Variant { cost, caused: Money::zero(cost.currency()), ..own },
            None => own,
        }
    }

    /// The same where its charges cause the most they may.
    pub(crate) fn for_most(&self) -> Option<Variant> {
        let own = self.for_loader();
        self.most.map(|caused| Variant { caused, ..own })
    }

    /// Whether neither its cost nor its least cost is above another's.
    pub(crate) fn is_no_dearer(&self, other: &Self) -> bool {
        let weighed = |one: &Variant| one.weighed().map_or(Decimal::MAX, Money::amount);
        weighed(&self.variant) <= weighed(&other.variant)
            && weighed(&self.for_bound()) <= weighed(&other.for_bound())
    }
}

/// What a box of a kind comes to at a mass.
struct At {
    cost: Money,
    caused: Money,
    most: Option<Money>,
    parts: Vec<Part>,
    least: Option<Money>,
}

impl At {
    /// What the loader weighs.
    fn weighed(&self) -> Decimal {
        self.cost.plus(self.caused).map_or(Decimal::MAX, Money::amount)
    }
}

/// A kind of box, priced.
pub(super) struct PricedKind<'o, 'a> {
    desk: Desk<'o, 'a>,
    caused: &'o Caused<'a>,
    variant: Variant,
    inside: Inside,
    lightest: Mass,
}

/// A kind of box with its cost. `None`: its carriage is not quoted.
pub(super) fn priced<'o, 'a>(
    desk: Desk<'o, 'a>,
    variant: Variant,
    caused: &'o Caused<'a>,
    report: &mut Report,
) -> Result<Option<PricedKind<'o, 'a>>, Reported> {
    let container = &variant.container;
    let lightest = report.fits(container.tare.plus(container.securing), &container.place)?;
    let mut one = PricedKind { desk, caused, variant, inside: inside(&desk), lightest };
    let bill = told_all(one.bill(lightest), report)?;
    if !is_carried(&bill, desk.shipment, desk.tariffs) {
        return Ok(None);
    }
    let At { cost, parts, .. } = told_all(one.at(lightest), report)?;
    if cost.is_negative() {
        let label = one.variant.label();
        return Err(report.error(
            Fault::error(
                Code::OutOfRange,
                format!("a {label} would cost less than nothing: {cost}"),
            )
            .at(&one.variant.container.place, "this container")
            .help("a rebate on a box cannot be larger than what the box costs"),
        ));
    }
    (one.variant.cost, one.variant.parts) = (cost, parts);
    Ok(Some(one))
}

impl<'a> PricedKind<'_, 'a> {
    /// The variant, without its limits.
    pub(super) fn variant(&self) -> &Variant {
        &self.variant
    }

    /// The bill of one such box with goods of every invoice in it.
    fn bill(&self, gross: Mass) -> Result<Vec<BoxCharge<'a>>, Vec<Why<'a>>> {
        let Desk { shipment, order, .. } = self.desk;
        let entered = shipment.dates.entered;
        let contents = Contents { invoices: self.inside.all(), gross, entered };
        box_bill(&self.variant.key(), &contents, order, shipment, &self.desk.terms())
    }

    fn at(&self, gross: Mass) -> Result<At, Vec<Why<'a>>> {
        let Desk { shipment, order, .. } = self.desk;
        let terms = self.desk.terms();
        let bill = self.bill(gross)?;
        let cost = total(bill.iter().filter(|charge| charge.is_cost()), &terms)?;
        let least = if self.inside.is_of_one_kind() {
            None
        } else {
            let key = self.variant.key();
            Some(least(&key, gross, &self.inside, order, (shipment, &terms))?)
        };
        let (caused, most) = self.caused.by(&bill, &terms)?;
        Ok(At { cost, caused, most, parts: parts(&bill), least })
    }

    /// The kind with its limits, divided into a kind for each step of its surcharges by gross mass. It
    /// stays one kind, at its least cost, where a heavier box costs less, as light boxes would pass for
    /// heavy ones; and where several boxes are begun, as there would be too many ways to try.
    pub(super) fn by_tier(
        self,
        limited: Variant,
        report: &mut Report,
    ) -> Result<Vec<KindOfBox>, Reported> {
        let container = &limited.container;
        let heaviest = limited.limits.binding().cargo.plus(container.tare);
        let heaviest = report.fits(heaviest, &container.place)?;
        let tops = tops(&self.variant.key(), self.desk.order, self.desk.shipment);
        let mut steps: Vec<(At, Option<Limit>)> = Vec::new();
        let mut is_rising = true;
        for top in tops.iter().map(Some).chain([None]) {
            let mass = match top {
                Some((row, Tier { to: Some(to), .. })) => {
                    report.fits(Mass::kg(*to), &row.rate.place)?
                }
                _ => heaviest.max(self.lightest),
            };
            let is_last = top.is_none() || mass >= heaviest;
            if mass < self.lightest || (mass == self.lightest && !is_last) {
                continue;
            }
            let at = told_all(self.at(mass), report)?;
            let limit = match top {
                Some((row, tier)) if !is_last => {
                    let cargo = report.fits(mass.minus(container.tare), &container.place)?;
                    Some(limit(row, tier, cargo))
                }
                _ => None,
            };
            if let Some((before, _)) = steps.last() {
                is_rising &= before.weighed() <= at.weighed();
                // Steps of one price are one.
                if before.weighed() == at.weighed()
                    && (before.least, before.most) == (at.least, at.most)
                {
                    steps.pop();
                }
            }
            steps.push((at, limit));
            if is_last {
                break;
            }
        }
        if !is_rising || self.desk.shipment.load.fixed.len() > 1 {
            let least = |(at, _): &(At, Option<Limit>)| at.weighed();
            let cheapest = steps.into_iter().min_by_key(least);
            steps = cheapest.map(|(at, _)| (at, None)).into_iter().collect();
        }
        let step = |(At { cost, caused, most, parts, least }, top): (At, Option<Limit>)| {
            let variant = Variant { cost, parts, caused, ..limited.clone() };
            KindOfBox { variant, top, least: least.filter(|least| *least != cost), most }
        };
        Ok(steps.into_iter().map(step).collect())
    }
}

fn limit(row: &ChargeRow, tier: &Tier, cargo: Mass) -> Limit {
    let kind = if row.table == TableName::Freight { LimitKind::Carrier } else { LimitKind::Custom };
    Limit {
        name: format!("{}, tier {}", row.name, tier.window),
        kind,
        on: LimitOn::Gross,
        cargo,
        place: tier.place.clone(),
    }
}

/// The costs of a bill, one by one; a surcharge by gross mass with its tier.
fn parts(bill: &[BoxCharge<'_>]) -> Vec<Part> {
    let part = |charge: &BoxCharge<'_>| {
        let (row, amount) = (charge.row, charge.priced.book);
        let tier = match (&charge.priced.how, by_gross(row)) {
            (How::ByGross { gross, .. }, Some(tiers)) => tiers.holding(*gross),
            _ => None,
        };
        match tier {
            Some(tier) => {
                let name = format!("{}, {}", row.name, tier.window);
                Part { name, amount, place: tier.place.clone() }
            }
            None => Part { name: row.name.clone(), amount, place: row.place.clone() },
        }
    };
    bill.iter().filter(|charge| charge.is_cost()).map(part).collect()
}

/// What boxes may have in them: each class of bundles by the first invoices that bring the same
/// charges, and the days of entry.
fn inside(desk: &Desk<'_, '_>) -> Inside {
    let Desk { shipment, order, .. } = desk;
    let alike = alike(order, shipment);
    let mut classes: Vec<BTreeSet<usize>> =
        of_bundles(shipment).into_iter().map(|own| like(own, &alike)).collect();
    classes.sort_unstable();
    classes.dedup();
    classes.retain(|class| !class.is_empty());
    if classes.is_empty() {
        classes.push(like(0..shipment.invoices.len(), &alike));
    }
    let mut days = BTreeSet::from([shipment.dates.entered]);
    let boxed = order.purposes.iter().flat_map(|purpose| &purpose.rows);
    if boxed.into_iter().any(|row| by_box(row, shipment) && goes_by_entry(row)) {
        days.extend(shipment.filings.iter().map(|filing| filing.entered));
    }
    Inside { classes, days }
}

fn like(invoices: impl IntoIterator<Item = usize>, alike: &[usize]) -> BTreeSet<usize> {
    invoices.into_iter().filter_map(|at| alike.get(at)).copied().collect()
}

/// The invoices whose goods are in each bundle, each once.
fn of_bundles(shipment: &Shipment) -> Vec<Vec<usize>> {
    let mut all = vec![Vec::new(); shipment.bundles.len()];
    let mut last = None;
    for slab in shipment.slabs.iter() {
        // Most slabs of a bundle stand together, and are of one line.
        if last.replace((slab.bundle, slab.line)) == Some((slab.bundle, slab.line)) {
            continue;
        }
        let bundle = usize::try_from(slab.bundle).ok().and_then(|at| all.get_mut(at));
        let line = usize::try_from(slab.line).ok().and_then(|at| shipment.lines.get(at));
        if let (Some(bundle), Some(line)) = (bundle, line)
            && !bundle.contains(&line.invoice)
        {
            bundle.push(line.invoice);
        }
    }
    all
}

/// The bill of a box, which like boxes share.
pub(super) type Bill<'a> = Arc<Vec<BoxCharge<'a>>>;

/// The bill of each box of a plan, contents included. Like boxes share one.
///
/// # Errors
/// Every reason why a charge cannot be had.
pub(super) fn bills<'a>(desk: Desk<'_, 'a>, plan: &Plan) -> Result<Vec<Bill<'a>>, Vec<Why<'a>>> {
    let Desk { shipment, order, choice, .. } = desk;
    let terms = desk.terms();
    let alike = alike(order, shipment);
    let every = like(0..shipment.invoices.len(), &alike);
    let bundles = if every.len() < 2 { Vec::new() } else { of_bundles(shipment) };
    let goes_by_mass = !(order.purposes.iter().flat_map(|purpose| &purpose.rows))
        .all(|row| by_gross(row).is_none());
    let mut known: BTreeMap<(usize, Contents), Bill<'a>> = BTreeMap::new();
    let mut all = Vec::with_capacity(plan.boxes.len());
    for filled in &plan.boxes {
        let Some(variant) = plan.variants.get(filled.variant) else { continue };
        let own = filled.bundles.iter().filter_map(|at| bundles.get(*at)).flatten().copied();
        let mut invoices = like(own, &alike);
        if invoices.is_empty() {
            // All invoices bring the same charges, or nothing in it says whose it is.
            invoices.clone_from(&every);
        }
        let too_large = |overflow| -> Vec<Why<'a>> {
            vec![Box::new(Reason::Overflow(overflow, &shipment.packing_file))]
        };
        let gross = if goes_by_mass { gross(plan, filled, shipment) } else { Ok(Mass::ZERO) };
        let gross = gross.map_err(too_large)?;
        let entered = entered(shipment, filled);
        let contents = Contents { invoices, gross, entered };
        let bill = match known.get(&(filled.variant, contents.clone())) {
            Some(bill) => bill.clone(),
            None => {
                // Where all boxes go by one choice of offers, they do whatever they were loaded for.
                let whole = choice.each().first().filter(|_| !choice.is_mixed());
                let offers = whole.unwrap_or(&variant.offers);
                let key = BoxKey { offers, ..variant.key() };
                let bill = box_bill(&key, &contents, order, shipment, &terms)?;
                let bill = Arc::new(bill);
                known.insert((filled.variant, contents), bill.clone());
                bill
            }
        };
        all.push(bill);
    }
    Ok(all)
}

/// The day of entry that a box goes by: its own where all in it lies on one entry, the shipment's
/// otherwise.
fn entered(shipment: &Shipment, filled: &FilledBox) -> Date {
    if shipment.filings.len() < 2 {
        return shipment.dates.entered;
    }
    let is_in = |slab: &Slab| {
        usize::try_from(slab.bundle).is_ok_and(|bundle| filled.bundles.contains(&bundle))
    };
    let slabs = shipment.slabs.iter().enumerate().filter(|(_, slab)| is_in(slab));
    let filing = only_filing(shipment, slabs.map(|(at, _)| at));
    filing.map_or(shipment.dates.entered, |filing| filing.entered)
}

/// The gross mass of a box that a surcharge goes by: bundles as limits count them, dunnage and lashing,
/// tare. A box that the loader counts as above a break is charged as above it.
fn gross(plan: &Plan, filled: &FilledBox, shipment: &Shipment) -> Result<Mass, Overflow> {
    let unknown = Overflow { what: "the gross mass of a container" };
    let container = &plan.variant(filled).ok_or(unknown)?.container;
    let bundles = filled.bundles.iter().filter_map(|at| shipment.bundles.get(*at));
    let bundles = Mass::total(bundles.map(|bundle| bundle.limit_mass))?;
    // What was read, weighed or listed of this box is its container's.
    bundles.plus(container.securing)?.plus(container.tare)
}

/// A plan at its boxes' bills: a box with a bill of its own becomes a kind of its own. The plan is proven
/// where its cost meets the bound, not where the goods make boxes dearer than their least cost.
///
/// # Errors
/// Every reason why a charge cannot be had, and where a sum cannot be held.
pub(crate) fn billed<'a>(
    desk: Desk<'_, 'a>,
    plan: Plan,
    caused: &Caused<'a>,
    most_bound: Option<Money>,
) -> Result<Plan, Vec<Why<'a>>> {
    let bills = bills(desk, &plan)?;
    let terms = desk.terms();
    let mut each = Vec::with_capacity(bills.len());
    for bill in &bills {
        let (caused, most) = caused.by(bill, &terms)?;
        each.push((parts(bill), caused, most));
    }
    at_bills(plan, each, (apart_from_boxes(desk), most_bound))
        .map_err(|overflow| vec![terms.too_large(overflow)])
}

/// The name of a charge that differs by kind of box but is not counted by the box, such as one by the
/// tonne: the loader leaves it out.
fn apart_from_boxes<'a>(desk: Desk<'_, 'a>) -> Option<&'a str> {
    let Desk { shipment, order, .. } = desk;
    let apart = |row: &&&ChargeRow| {
        row.is_by_kind()
            && !is_part(row)
            && !by_box(row, shipment)
            && row.valid.holds(shipment.dates.of(chosen_by(row.table, row.leg)))
    };
    let mut rows = order.purposes.iter().flat_map(|purpose| &purpose.rows);
    rows.find(|row| apart(row)).map(|row| row.name.as_str())
}

/// The cost of a filled box: its charges, and the least and the most that they cause.
type OfBox = (Vec<Part>, Money, Option<Money>);

fn at_bills(
    mut plan: Plan,
    bills: Vec<OfBox>,
    (apart, most_bound): (Option<&str>, Option<Money>),
) -> Result<Plan, Overflow> {
    let currency = plan.cost.currency();
    let mut variants = std::mem::take(&mut plan.variants);
    let none = Money::zero(currency);
    let (mut sum, mut all_caused, mut all_most) = (none, none, Some(none));
    for (filled, (parts, caused, most)) in plan.boxes.iter_mut().zip(bills) {
        let cost = Money::total(currency, parts.iter().map(|part| part.amount))?;
        sum = sum.plus(cost)?;
        all_caused = all_caused.plus(caused)?;
        all_most = all_most.zip(most).map(|(sum, most)| sum.plus(most)).transpose()?;
        let Some(own) = variants.get(filled.variant) else { continue };
        let is_at = |one: &Variant| one.cost == cost && one.caused == caused && one.parts == parts;
        if is_at(own) {
            continue;
        }
        let same = |one: &Variant| {
            is_at(one)
                && one.container.id == own.container.id
                && one.class == own.class
                && one.offers == own.offers
        };
        filled.variant = match variants.iter().position(same) {
            Some(at) => at,
            None => {
                variants.push(Variant { cost, parts, caused, ..own.clone() });
                variants.len() - 1
            }
        };
    }
    (plan.cost, plan.caused) = (sum, all_caused);
    let weighed = plan.weighed()?;
    let is_above = plan.lower_bound.is_some_and(|bound| weighed.amount() > bound.amount());
    // What is cheapest at both ends is so between them: each load changes in a straight line.
    let is_least_at_most = match (all_most, most_bound) {
        (Some(most), Some(bound)) => {
            let weighed = sum.plus(most)?.plus(plan.wishes)?;
            weighed.amount() <= bound.amount()
        }
        (most, _) => most == Some(all_caused),
    };
    let open = if is_above {
        Some("the goods in the boxes make them dearer than their least cost".to_owned())
    } else if !is_least_at_most {
        Some("the duty or premium on box charges is not known beforehand".to_owned())
    } else {
        apart
            .map(|name| format!("\"{name}\" goes by the kind of box and is not counted by the box"))
    };
    // Weighed with what it causes, and told without.
    plan.lower_bound = plan.lower_bound.map(|bound| bound.minus(plan.caused)).transpose()?;
    if let Some(reason) = open.filter(|_| plan.proof == Proof::Proven) {
        plan.proof = Proof::Gap(reason);
    }
    Ok(with_variants(plan, variants))
}
