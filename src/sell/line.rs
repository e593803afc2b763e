//! The price of slabs that are alike, for one sort of customer.

use super::priced::Priced;
use crate::fault::{Code, Fault, Report, Reported};
use crate::ledger::Listed;
use crate::quantity::{Area, Decimal, Exact, Fraction, Money};
use crate::trade::{Class, Ending, ExceptionRow, SellingRow};

/// The price of a class for one sort of customer.
#[derive(Debug, Clone)]
pub struct PriceLine<'l> {
    /// The slabs that are alike.
    pub class: Class,
    /// The rule.
    pub row: &'l SellingRow,
    /// How many slabs go at the price.
    pub slabs: usize,
    /// Their area as it is sold: on hand, and on the way.
    pub on_hand: Area,
    /// The area on the way.
    pub coming: Area,
    /// What they cost in all, in the currency of the books.
    pub cost: Money,
    /// What of it is booked and not owed yet.
    pub to_come: Money,
    /// Their cost per unit of the price, exactly.
    pub unit_cost: Exact,
    /// How many of them are not yet billed in all.
    pub estimated: usize,
    /// The price per unit, in the currency of the list, with the tax that it holds.
    pub price: Money,
    /// The price without tax in the currency of the books, exactly.
    pub net: Exact,
    /// The least that the rule's least margin allows, in the currency of the list, with tax.
    pub floor: Money,
    /// Whether the least margin sets the price, and not what is aimed at.
    pub is_at_floor: bool,
    /// The exception that sets the price.
    pub exception: Option<&'l ExceptionRow>,
}

impl PriceLine<'_> {
    /// The margin at the price: what is earned as a part of the price, in percent to one place.
    pub fn margin(&self) -> Option<Decimal> {
        percent(&self.earned()?, &self.net)
    }

    /// The markup at the price: what is earned as a part of the cost, in percent to one place.
    pub fn markup(&self) -> Option<Decimal> {
        percent(&self.earned()?, &self.unit_cost)
    }

    fn earned(&self) -> Option<Exact> {
        self.net.minus(&self.unit_cost).ok()
    }

    /// Whether the price is below the least margin.
    pub fn is_below_floor(&self) -> bool {
        self.price.amount() < self.floor.amount()
    }
}

/// One amount as a percentage of another, to one place.
fn percent(part: &Exact, whole: &Exact) -> Option<Decimal> {
    let hundred = Decimal::ONE_HUNDRED;
    if whole.is_zero() {
        return None;
    }
    let one = Exact::new(hundred, part.currency());
    one.share(part, whole).figure(1)
}

/// The price of the class, from the slabs that it rests on. Nothing where they have no cost or no area.
pub(super) fn line<'l>(
    priced: &Priced<'_, 'l>,
    slabs: &[Listed<'l>],
    exception: Option<&'l ExceptionRow>,
    report: &mut Report,
) -> Result<Option<PriceLine<'l>>, Reported> {
    let mut currencies = slabs.iter().map(|one| one.freeze.currency);
    let Some(currency) = currencies.next() else { return Ok(None) };
    let place = &priced.row.place;
    if let Some(other) = currencies.find(|other| *other != currency) {
        return Err(report.error(
            Fault::error(
                Code::Contradiction,
                format!("slabs of {} are kept in {currency} and in {other}", priced.class.stone),
            )
            .at(place, "one price is asked for both")
            .help("name the `yard` in one row for each: a yard keeps its books in one currency"),
        ));
    }
    let cost: i64 = slabs.iter().map(Listed::cost).sum();
    let to_come: i64 = slabs.iter().map(|one| one.to_come).sum();
    let cost = Money::from_minor(cost, currency);
    let units = report.fits(priced.units_of(slabs), place)?;
    if units.is_zero() || cost.is_zero() {
        return Ok(None);
    }
    let unit_cost = Exact::from(cost).part(&Fraction::whole(1).over(&units));
    let floor = priced.asked(&priced.least(&unit_cost), &Ending::Minor, report)?;
    let aimed = priced.asked(&priced.aimed(&unit_cost), &priced.row.ending, report)?;
    let at_floor = priced.asked(&priced.least(&unit_cost), &priced.row.ending, report)?;
    let is_at_floor = at_floor.amount() > aimed.amount();
    let price = match exception {
        Some(row) => priced.of_exception(row, floor.currency(), report)?,
        None if is_at_floor => at_floor,
        None => aimed,
    };
    Ok(Some(PriceLine {
        class: priced.class.clone(),
        row: priced.row,
        slabs: slabs.len(),
        on_hand: Area::default(),
        coming: Area::default(),
        cost,
        to_come: Money::from_minor(to_come, currency),
        unit_cost,
        estimated: 0,
        net: priced.net(price),
        price,
        floor,
        is_at_floor: is_at_floor && exception.is_none(),
        exception,
    }))
}
