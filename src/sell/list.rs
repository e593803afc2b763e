//! The price list: each class for each sort of customer, by margin or markup on what its slabs cost.
//!
//! Decided on 2026-11-27. The price of a class rests on the mean cost of its slabs, by the area that is sold.
//! The least margin holds for each slab by itself: one that cost more than the price bears is listed alone.

use std::collections::{BTreeMap, BTreeSet};

use super::line::{PriceLine, line};
use super::priced::Priced;
use super::rules::{naming, serving};
use super::singles::{Single, singles};
use super::units::area_of;
use crate::fault::{Report, Reported};
use crate::ledger::Listed;
use crate::quantity::Area;
use crate::trade::{Class, Date, ExceptionRow, Tariffs};

/// A price list.
#[derive(Debug, Default)]
pub struct Listing<'l> {
    /// The price of each class, for each sort of customer.
    pub lines: Vec<PriceLine<'l>>,
    /// Slabs with a price of their own.
    pub singles: Vec<Single<'l>>,
    /// Classes for which no rule is in force.
    pub without: Vec<Class>,
}

/// Works out the price list of a day. `classes` are the slabs in stock by class.
///
/// # Errors
/// Where two rules or two exceptions are in force for one class, currencies do not meet, or an amount is too
/// large.
pub fn price_list<'l>(
    classes: &BTreeMap<Class, Vec<Listed<'l>>>,
    tariffs: &'l Tariffs,
    (on, tier): (Date, Option<&str>),
    report: &mut Report,
) -> Result<Listing<'l>, Reported> {
    let mut tiers: Vec<&str> = tariffs.selling.iter().map(|row| row.tier.as_str()).collect();
    tiers.sort_unstable();
    tiers.dedup();
    tiers.retain(|one| tier.is_none_or(|asked| asked == *one));
    let mut listing = Listing::default();
    for (class, slabs) in classes {
        let mut is_priced = false;
        for tier in &tiers {
            let of_tier = tariffs.selling.iter().filter(|row| row.tier == *tier);
            let Some(row) = serving(of_tier, class, on, report)? else { continue };
            is_priced = true;
            let priced = Priced { class, row };
            lines(&priced, (on, &tariffs.exceptions), slabs, &mut listing, report)?;
        }
        if !is_priced {
            listing.without.push(class.clone());
        }
    }
    Ok(listing)
}

/// The price of a class under a rule, and the slabs of it that have their own.
fn lines<'l>(
    priced: &Priced<'_, 'l>,
    (on, exceptions): (Date, &'l [ExceptionRow]),
    slabs: &[Listed<'l>],
    listing: &mut Listing<'l>,
    report: &mut Report,
) -> Result<(), Reported> {
    let row = priced.row;
    let for_tier = |one: &&ExceptionRow| one.tier.as_ref().is_none_or(|tier| *tier == row.tier);
    let own = || exceptions.iter().filter(for_tier);
    let exception = serving(own(), priced.class, on, report)?;
    let is_small =
        |one: &Listed<'_>| row.remnant.is_some_and(|small| area_of(one, row.sold) < small.below);
    // What is set aside is sold.
    let free = slabs.iter().filter(|one| one.reserved.is_none()).copied();
    let (small, whole): (Vec<Listed<'l>>, Vec<Listed<'l>>) = free.partition(is_small);
    // Where there is nothing but remnants, their own cost is all that is known.
    let base = if whole.is_empty() { &small } else { &whole };
    let Some(mut line) = line(priced, base, exception, report)? else { return Ok(()) };
    let named = naming(own(), priced.class, on);
    let alone = singles(priced, &line, (&whole, &small), &named, report)?;
    // What is listed alone does not go at the price of the class.
    let named: BTreeSet<(&str, &str)> = alone.iter().map(|one| (one.shipment, one.slab)).collect();
    let is_alone =
        |one: &Listed<'_>| named.contains(&(one.freeze.shipment.as_str(), one.slab.id.as_str()));
    let rest = || whole.iter().filter(|one| !is_alone(one));
    let area = |is_on_hand: bool| {
        let there = rest().filter(|one| one.state.at.is_on_hand() == is_on_hand);
        Area::total(there.map(|one| area_of(one, row.sold)))
    };
    line.slabs = rest().count();
    line.on_hand = report.fits(area(true), &row.place)?;
    line.coming = report.fits(area(false), &row.place)?;
    line.estimated = rest().filter(|one| !one.is_billed).count();
    if line.slabs > 0 {
        listing.lines.push(line);
    }
    listing.singles.extend(alone);
    Ok(())
}
