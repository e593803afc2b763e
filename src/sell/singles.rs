//! Slabs with a price of their own: remnants, exceptions, and slabs that cost more than the list's price bears.

use super::line::PriceLine;
use super::priced::Priced;
use super::rules::of_slab;
use super::units::area_of;
use crate::fault::{Report, Reported};
use crate::ledger::Listed;
use crate::quantity::{Area, Exact, Fraction, Money};
use crate::trade::{Class, Ending, ExceptionRow};

/// A slab with a price of its own.
#[derive(Debug, Clone)]
pub struct Single<'l> {
    /// The slab's number.
    pub slab: &'l str,
    /// Its shipment.
    pub shipment: &'l str,
    /// Its class.
    pub class: Class,
    /// For which customers.
    pub tier: &'l str,
    /// Its area as it is sold.
    pub area: Area,
    /// Whether it stands in the yard; else it is on the way there.
    pub is_here: bool,
    /// Its cost in the currency of the books.
    pub cost: Money,
    /// The price per unit, in the currency of the list, with the tax that it holds.
    pub price: Money,
    /// What the price is per.
    pub per: &'static str,
    /// The least that the least margin allows.
    pub floor: Money,
    /// Why it stands alone.
    pub why: Why<'l>,
}

/// Why a slab has a price of its own.
#[derive(Debug, Clone, Copy)]
pub enum Why<'l> {
    /// It is too small to be sold as a slab.
    Remnant,
    /// An exception names it.
    Exception(&'l ExceptionRow),
    /// It cost more than the price of its class bears: it goes at its own least.
    Dearer,
}

impl Single<'_> {
    /// Whether the price is below the least margin.
    pub fn is_below_floor(&self) -> bool {
        self.price.amount() < self.floor.amount()
    }
}

/// The slabs of a class with prices of their own: `whole` slabs that are named or dearer, and the small ones.
pub(super) fn singles<'l>(
    priced: &Priced<'_, 'l>,
    line: &PriceLine<'l>,
    (whole, small): (&[Listed<'l>], &[Listed<'l>]),
    exceptions: &[&'l ExceptionRow],
    report: &mut Report,
) -> Result<Vec<Single<'l>>, Reported> {
    let mut all = Vec::new();
    let whole = whole.iter().map(|one| (one, false));
    for (one, is_small) in whole.chain(small.iter().map(|one| (one, true))) {
        let id = one.slab.id.as_str();
        let units = report.fits(priced.units_of(&[*one]), &priced.row.place)?;
        let cost = Money::from_minor(one.cost(), one.freeze.currency);
        if units.is_zero() || cost.is_zero() {
            continue;
        }
        let least = priced.least(&Exact::from(cost).part(&Fraction::whole(1).over(&units)));
        let floor = priced.asked(&least, &Ending::Minor, report)?;
        let (price, why) = match of_slab(exceptions, id) {
            Some(row) => (priced.of_exception(row, floor.currency(), report)?, Why::Exception(row)),
            None if is_small => {
                let off = line.net.minus(&line.net.percent(priced.row.off()));
                let off = report.fits(off, &priced.row.place)?;
                let asked = priced.asked(&off, &priced.row.ending, report)?;
                let least = priced.asked(&least, &priced.row.ending, report)?;
                (if asked.amount() < least.amount() { least } else { asked }, Why::Remnant)
            }
            None if line.exception.is_none() && line.price.amount() < floor.amount() => {
                (priced.asked(&least, &priced.row.ending, report)?, Why::Dearer)
            }
            None => continue,
        };
        all.push(Single {
            slab: id,
            shipment: &one.freeze.shipment,
            class: priced.class.clone(),
            tier: &priced.row.tier,
            area: area_of(one, priced.row.sold),
            is_here: one.state.at.is_on_hand(),
            cost,
            price,
            per: priced.row.by.word(),
            floor,
            why,
        });
    }
    Ok(all)
}
