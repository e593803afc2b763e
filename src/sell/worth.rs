//! What each slab can be sold for, held against what it stands at: the lower of cost and net realisable value.
//!
//! Decided on 2026-11-27. It proposes events and posts none: what a slab is worth is a judgement of the accountant,
//! made of evidence that the row names. The price is one of sales or of the market, never of the list that is made
//! of cost (IAS 2, paragraphs 28 to 33).

use std::collections::BTreeMap;

use super::classes::Lot;
use super::rules::{Rule, serving};
use super::units::units_of;
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::{Exact, Money, Percent};
use crate::trade::{Class, Date, Framework, MarketRow, Tariffs};

/// A slab that was tested.
#[derive(Debug, Clone, Copy)]
pub struct Tested<'l> {
    /// The slab.
    pub lot: Lot<'l>,
    /// The row that says what it fetches.
    pub row: &'l MarketRow,
    /// What it can be sold for, less cost to finish and to sell.
    pub worth: Money,
    /// By how much it is to be written down; less than nothing: taken back up.
    pub down: Money,
}

/// The slabs of a day that were tested, and the classes that were not.
#[derive(Debug, Default)]
pub struct Tests<'l> {
    /// Each slab for which there is a price.
    pub slabs: Vec<Tested<'l>>,
    /// The classes for which no price is in force.
    pub without: Vec<Class>,
}

/// Holds every slab against what it can be sold for on a day.
///
/// # Errors
/// Where two rows are in force for a slab, or a price is in another currency than the books.
pub fn tested<'l>(
    classes: &BTreeMap<Class, Vec<Lot<'l>>>,
    tariffs: &'l Tariffs,
    on: Date,
    report: &mut Report,
) -> Result<Tests<'l>, Reported> {
    let mut tests = Tests::default();
    for (class, lots) in classes {
        let alike = tariffs.market.iter().filter(|row| row.slabs.is_empty());
        let market = serving(alike, class, lots, on, report)?;
        let single = |row: &&MarketRow| {
            !row.slabs.is_empty() && row.valid.holds(on) && row.fits(class, lots).is_some()
        };
        let single: Vec<&MarketRow> = tariffs.market.iter().filter(single).collect();
        let mut is_tested = false;
        for lot in lots {
            let id = lot.listed.slab.id.as_str();
            let own = single.iter().find(|row| row.slabs.iter().any(|slab| slab == id)).copied();
            let Some(row) = own.or(market) else { continue };
            is_tested = true;
            tests.slabs.push(test(lot, row, report)?);
        }
        if !is_tested {
            tests.without.push(class.clone());
        }
    }
    Ok(tests)
}

/// Holds one slab against the price of a row.
fn test<'l>(
    lot: &Lot<'l>,
    row: &'l MarketRow,
    report: &mut Report,
) -> Result<Tested<'l>, Reported> {
    let currency = lot.currency();
    if row.price.currency != currency {
        return Err(report.error(
            Fault::error(
                Code::Contradiction,
                format!("a price of the market is in {}", row.price.currency),
            )
            .at(&row.place, format!("the books of slab {} are in {currency}", lot.listed.slab.id))
            .help("write it in the currency of the books, at the rate of the day"),
        ));
    }
    let units = report.fits(units_of(&[*lot], (row.price.by, row.sold)), &row.place)?;
    let price = Exact::new(row.price.amount, currency);
    let left = Percent::ZERO.complement().hundredths() - row.selling_cost.hundredths();
    let mut each = price.percent(Percent::new(left));
    if let Some(finish) = row.finishing_cost {
        let cost = Exact::new(finish.amount, currency);
        each = report.fits(each.minus(&cost), &row.place)?;
    }
    let worth = report.fits(each.part(&units).round(), &row.place)?;
    let worth = if worth.is_negative() { Money::zero(currency) } else { worth };
    let minor = report.fits(worth.minor(), &row.place)?;
    let down = lot.listed.state.write_down_to(minor);
    // Where the law of the books takes nothing back up, what was written down is the new cost.
    let is_kept = down < 0 && lot.freeze.framework == Framework::UsGaap;
    let down = Money::from_minor(if is_kept { 0 } else { down }, currency);
    Ok(Tested { lot: *lot, row, worth, down })
}
