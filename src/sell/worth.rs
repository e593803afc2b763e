//! What each slab can be sold for, held against what it stands at: the lower of cost and net realisable value.
//!
//! Decided on 2026-11-27. It proposes events and posts none: what a slab is worth is a judgement of the accountant,
//! made of evidence that the row names. The price is one of sales or of the market, never of the list that is made
//! of cost (IAS 2, paragraphs 28 to 33).

use std::collections::BTreeMap;

use super::rules::{naming, of_slab, serving};
use super::units::units_of;
use crate::fault::{Code, Fault, Report, Reported};
use crate::ledger::Listed;
use crate::quantity::{Exact, Money};
use crate::trade::{Class, Date, Framework, MarketRow, Tariffs};

/// A slab that was tested.
#[derive(Debug, Clone, Copy)]
pub struct Tested<'l> {
    /// The slab.
    pub listed: Listed<'l>,
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
    classes: &BTreeMap<Class, Vec<Listed<'l>>>,
    tariffs: &'l Tariffs,
    on: Date,
    report: &mut Report,
) -> Result<Tests<'l>, Reported> {
    let mut tests = Tests::default();
    for (class, slabs) in classes {
        let market = serving(tariffs.market.iter(), class, on, report)?;
        let single = naming(tariffs.market.iter(), class, on);
        let before = tests.slabs.len();
        for one in slabs {
            if let Some(row) = of_slab(&single, &one.slab.id).or(market) {
                tests.slabs.push(test(one, row, report)?);
            }
        }
        if tests.slabs.len() == before {
            tests.without.push(class.clone());
        }
    }
    Ok(tests)
}

/// Holds one slab against the price of a row.
fn test<'l>(
    one: &Listed<'l>,
    row: &'l MarketRow,
    report: &mut Report,
) -> Result<Tested<'l>, Reported> {
    let currency = one.freeze.currency;
    if row.price.currency != currency {
        return Err(report.error(
            Fault::error(
                Code::Contradiction,
                format!("a price of the market is in {}", row.price.currency),
            )
            .at(&row.place, format!("the books of slab {} are in {currency}", one.slab.id))
            .help("write it in the currency of the books, at the rate of the day"),
        ));
    }
    let units = report.fits(units_of(&[*one], (row.price.by, row.sold)), &row.place)?;
    let price = Exact::new(row.price.amount, currency);
    let mut each = price.percent(row.selling_cost.complement());
    if let Some(finish) = row.finishing_cost {
        let cost = Exact::new(finish.amount, currency);
        each = report.fits(each.minus(&cost), &row.place)?;
    }
    // What is still to come is a cost to complete it (IAS 2, paragraph 6).
    let to_come = Exact::from(Money::from_minor(one.to_come, currency));
    let net = report.fits(each.part(&units).minus(&to_come), &row.place)?;
    let worth = report.fits(net.round(), &row.place)?;
    let worth = if worth.is_negative() { Money::zero(currency) } else { worth };
    let minor = report.fits(worth.minor(), &row.place)?;
    let down = one.state.write_down_to(minor);
    // Where the law of the books takes nothing back up, what was written down is the new cost.
    let is_kept = down < 0 && one.freeze.framework == Framework::UsGaap;
    let down = Money::from_minor(if is_kept { 0 } else { down }, currency);
    Ok(Tested { listed: *one, row, worth, down })
}
