//! The bill of one box: the charges counted by the box, and the percentages of those. The loader's cost
//! of a box and its charges are this one answer.

use std::collections::BTreeSet;

use super::amount::{Priced, Quantity, amount};
use super::counted::{by_box, by_gross, is_part, is_quoted_by_type, part_of};
use super::order::{Order, Step};
use super::pick::{Purpose, Serving, asked, may_apply, serving};
use super::terms::{BoxKey, Terms};
use super::why::Why;
use crate::quantity::{Decimal, Exact, Mass, Money};
use crate::trade::{ChargeRow, Date, Dates, Leg, Shipment, Tariffs, Tier, Treatment};

/// What the bill of a box depends on beside its kind: its contents.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Contents {
    /// The invoices whose goods are in it, by position.
    pub invoices: BTreeSet<usize>,
    /// What it weighs, tare included.
    pub gross: Mass,
    /// The day of entry of all that is in it, or the shipment's where that lies on several entries.
    pub entered: Date,
}

/// One charge of a box.
#[derive(Debug, Clone)]
pub struct BoxCharge<'a> {
    /// The purpose it serves, by position in the order.
    pub purpose: usize,
    /// Its row.
    pub row: &'a ChargeRow,
    /// The named place that it is for, where rows tell places apart.
    pub place: Option<&'a str>,
    /// What it is a part of: the charge by position in the bill, with its amount.
    pub of: Option<(usize, Money)>,
    /// What it comes to. It may be nothing.
    pub priced: Priced,
}

impl BoxCharge<'_> {
    /// Whether it is a cost: what comes back is none. A policy moves a cost and does not change it.
    pub fn is_cost(&self) -> bool {
        self.row.treatment != Treatment::Recoverable
    }
}

/// The bill of a box, in the order in which its charges are worked out: charges counted by the box, and
/// percentages of those. A percentage of anything else is no charge of the box.
///
/// # Errors
/// Every reason why a charge cannot be had.
pub fn box_bill<'a>(
    key: &BoxKey<'_>,
    inside: &Contents,
    order: &Order<'a>,
    shipment: &'a Shipment,
    terms: &Terms<'a>,
) -> Result<Vec<BoxCharge<'a>>, Vec<Why<'a>>> {
    let terms = terms.on(Dates { entered: inside.entered, ..terms.days });
    let mut bill = Bill { key, inside, shipment, terms, charges: Vec::new(), failed: Vec::new() };
    for step in &order.steps {
        if let Step::Purpose(at) = step
            && let Some(purpose) = order.purposes.get(*at)
        {
            bill.parts(*at, purpose);
            bill.counted(*at, purpose);
        }
    }
    let Bill { charges, failed, .. } = bill;
    if failed.is_empty() { Ok(charges) } else { Err(failed) }
}

/// A bill being made out.
struct Bill<'k, 'a> {
    key: &'k BoxKey<'k>,
    inside: &'k Contents,
    shipment: &'a Shipment,
    terms: Terms<'a>,
    charges: Vec<BoxCharge<'a>>,
    failed: Vec<Why<'a>>,
}

impl<'a> Bill<'_, 'a> {
    /// The rows of a purpose that a box of these offers may be charged by.
    fn own(&self, purpose: &Purpose<'a>, of: impl Fn(&ChargeRow) -> bool) -> Vec<&'a ChargeRow> {
        let takes = |row: &ChargeRow| self.key.offers.takes(row.table, row.offer.as_deref());
        purpose.rows.iter().copied().filter(|row| of(row) && takes(row)).collect()
    }

    /// The row that serves, at a named place where rows tell places apart.
    fn serving(
        &mut self,
        rows: &[&'a ChargeRow],
        leg: Leg,
        place: Option<&str>,
    ) -> Option<&'a ChargeRow> {
        let mut asked = asked(self.shipment, leg, Some(self.key));
        if let Some(place) = place {
            asked.term_place = Some(place.into());
        }
        // The days of the shipment choose a row, the day of its entry may change what it comes to.
        match serving(rows, &asked, &self.shipment.dates) {
            Ok(Serving::Row(row)) => Some(row),
            Ok(Serving::Nothing | Serving::NotYet(_)) => None,
            Err(why) => {
                self.failed.push(why);
                None
            }
        }
    }

    fn add(&mut self, charge: (usize, &'a ChargeRow, Option<&'a str>), of: Of) {
        let (purpose, row, place) = charge;
        let base;
        let (quantity, of) = match of {
            Of::Part(at, amount) => {
                base = Exact::from(amount);
                (Quantity::Of(&base), Some((at, amount)))
            }
            Of::Box if by_gross(row).is_some() => (Quantity::Gross(self.inside.gross), None),
            Of::Box => (Quantity::Count(Decimal::ONE), None),
        };
        match amount(row, quantity, &self.terms) {
            Ok(priced) => self.charges.push(BoxCharge { purpose, row, place, of, priced }),
            Err(why) => self.failed.push(why),
        }
    }

    /// The charges counted by the box: one for each named place with goods in it, where rows tell
    /// places apart. A box in which the seller bears the leg for everything is not charged.
    fn counted(&mut self, at: usize, purpose: &Purpose<'a>) {
        let shipment = self.shipment;
        let rows = self.own(purpose, |row| by_box(row, shipment) && row.rate.value.of().is_none());
        if rows.is_empty() {
            return;
        }
        for place in purpose.places(shipment) {
            let bears = |invoice: &usize| {
                shipment.invoices.get(*invoice).is_some_and(|invoice| {
                    let here = place.is_none_or(|place| *place == *invoice.term.named_place);
                    here && purpose.is_borne(invoice)
                })
            };
            if !self.inside.invoices.iter().any(bears) {
                continue;
            }
            if let Some(row) = self.serving(&rows, purpose.leg, place) {
                self.add((at, row, place), Of::Box);
            }
        }
    }

    /// What is a part of other charges of the box: once for each of them.
    fn parts(&mut self, at: usize, purpose: &Purpose<'a>) {
        let names: BTreeSet<&str> = purpose.rows.iter().filter_map(|row| part_of(row)).collect();
        for name in names {
            let rows = self.own(purpose, |row| part_of(row) == Some(name));
            for base in 0..self.charges.len() {
                let Some(charge) = self.charges.get(base) else { continue };
                let (place, amount) = (charge.place, charge.priced.amount);
                if charge.row.name != name || amount.is_zero() {
                    continue;
                }
                if let Some(row) = self.serving(&rows, purpose.leg, place) {
                    self.add((at, row, place), Of::Part(base, amount));
                }
            }
        }
    }
}

/// What a charge of a box is of.
enum Of {
    Box,
    Part(usize, Money),
}

/// Whether carriage by sea and to the yard is quoted for the kind of box that a bill is of: an offer
/// that does not quote its type, or has surcharges and fees alone, does not carry it.
pub fn is_carried(bill: &[BoxCharge<'_>], shipment: &Shipment, tables: &Tariffs) -> bool {
    [Leg::MainCarriage, Leg::OnCarriage].into_iter().all(|leg| {
        let quoted = |row: &ChargeRow| row.leg == leg && is_quoted_by_type(row);
        let mut rows = tables.charges.iter();
        bill.iter().any(|charge| quoted(charge.row))
            || !rows.any(|row| quoted(row) && may_apply(shipment, row))
    })
}

/// The rows by gross mass that may charge a kind of box, each tier that has a top, the lightest first.
pub fn tops<'a>(
    key: &BoxKey<'_>,
    order: &Order<'a>,
    shipment: &Shipment,
) -> Vec<(&'a ChargeRow, &'a Tier)> {
    let kind = |row: &ChargeRow| {
        let fits = |own: Option<&str>, asked: Option<&str>| own.is_none() || own == asked;
        by_box(row, shipment)
            && !is_part(row)
            && key.offers.takes(row.table, row.offer.as_deref())
            && fits(row.matches.container.as_deref(), Some(key.container))
            && fits(row.matches.class.as_deref(), key.class)
    };
    let rows = order.purposes.iter().flat_map(|purpose| purpose.rows.iter().copied());
    let tiers = rows.filter(|row| kind(row)).filter_map(|row| Some((row, by_gross(row)?)));
    let mut all: Vec<(&ChargeRow, &Tier)> =
        tiers.flat_map(|(row, tiers)| tiers.tiers.iter().map(move |tier| (row, tier))).collect();
    all.retain(|(_, tier)| tier.to.is_some());
    all.sort_by_key(|(_, tier)| tier.to);
    all.dedup_by_key(|(_, tier)| tier.to);
    all
}

/// What a kind of box may have in it, as far as its bill hangs on that.
#[derive(Debug, Clone)]
pub struct Inside {
    /// For each class of bundles: the invoices of its goods.
    pub classes: Vec<BTreeSet<usize>>,
    /// The days of entry that a box may go by.
    pub days: BTreeSet<Date>,
}

impl Inside {
    /// Whether every box of a kind and mass has one bill.
    pub fn is_of_one_kind(&self) -> bool {
        self.classes.len() < 2 && self.days.len() < 2
    }

    /// Every invoice.
    pub fn all(&self) -> BTreeSet<usize> {
        self.classes.iter().flatten().copied().collect()
    }
}

/// The least that a box of a kind comes to, whatever is in it: the charges that its cheapest class of
/// bundles brings, and every rebate. A box with several classes has the charges of each.
///
/// # Errors
/// Every reason why a charge cannot be had, and where a sum cannot be held.
pub fn least<'a>(
    key: &BoxKey<'_>,
    gross: Mass,
    inside: &Inside,
    order: &Order<'a>,
    (shipment, terms): (&'a Shipment, &Terms<'a>),
) -> Result<Money, Vec<Why<'a>>> {
    let sum = |invoices: &BTreeSet<usize>, entered: Date, below: bool| {
        let contents = Contents { invoices: invoices.clone(), gross, entered };
        let bill = box_bill(key, &contents, order, shipment, terms)?;
        let own = bill.iter().filter(|one| one.is_cost() && one.priced.book.is_negative() == below);
        total(own, terms)
    };
    let mut least: Option<Money> = None;
    for day in &inside.days {
        let below = sum(&inside.all(), *day, true)?;
        for class in &inside.classes {
            let both = sum(class, *day, false)?.plus(below);
            let both = both.map_err(|overflow| vec![terms.too_large(overflow)])?;
            if least.is_none_or(|least| both.amount() < least.amount()) {
                least = Some(both);
            }
        }
    }
    Ok(least.unwrap_or(Money::zero(terms.book)))
}

/// What charges of a box come to, in the book currency.
///
/// # Errors
/// Where the sum cannot be held.
pub fn total<'a, 'b>(
    charges: impl Iterator<Item = &'b BoxCharge<'a>>,
    terms: &Terms<'a>,
) -> Result<Money, Vec<Why<'a>>>
where
    'a: 'b,
{
    Money::total(terms.book, charges.map(|charge| charge.priced.book))
        .map_err(|overflow| vec![terms.too_large(overflow)])
}

/// For each invoice the first that brings the same charges to a box: who bears what at which place.
pub fn alike(order: &Order<'_>, shipment: &Shipment) -> Vec<usize> {
    if shipment.invoices.len() < 2 {
        return (0..shipment.invoices.len()).collect();
    }
    let brings = |invoice: &crate::trade::Invoice| -> Vec<(bool, Option<String>)> {
        let boxed = order.purposes.iter().filter(|purpose| {
            purpose.rows.iter().any(|row| by_box(row, shipment) && row.rate.value.of().is_none())
        });
        boxed
            .map(|purpose| {
                let named = purpose.rows.iter().any(|row| row.matches.term_place.is_some());
                let place = named.then(|| invoice.term.named_place.clone());
                (purpose.is_borne(invoice), place)
            })
            .collect()
    };
    let each: Vec<_> = shipment.invoices.iter().map(brings).collect();
    let first = |at: usize| each.iter().position(|other| Some(other) == each.get(at)).unwrap_or(at);
    (0..each.len()).map(first).collect()
}
