//! The price list: each class for each sort of customer, by margin or markup on what its slabs cost.
//!
//! Decided on 2026-11-27. The price of a class rests on the mean cost of its slabs, by the area that is sold.
//! The least margin holds for each slab by itself: one that cost more than the price bears is listed alone.

use std::collections::{BTreeMap, BTreeSet};

use super::classes::Lot;
use super::line::{PriceLine, line};
use super::priced::Priced;
use super::rules::{Rule, serving};
use super::singles::{Single, singles};
use crate::fault::{Report, Reported};
use crate::quantity::{Area, Overflow};
use crate::trade::{Class, Date, ExceptionRow, SoldBy, Tariffs};

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
    classes: &BTreeMap<Class, Vec<Lot<'l>>>,
    tariffs: &'l Tariffs,
    (on, tier): (Date, Option<&str>),
    report: &mut Report,
) -> Result<Listing<'l>, Reported> {
    let mut tiers: Vec<&str> = tariffs.selling.iter().map(|row| row.tier.as_str()).collect();
    tiers.sort_unstable();
    tiers.dedup();
    tiers.retain(|one| tier.is_none_or(|asked| asked == *one));
    let mut listing = Listing::default();
    for (class, lots) in classes {
        let mut is_priced = false;
        for tier in &tiers {
            let of_tier = tariffs.selling.iter().filter(|row| row.tier == *tier);
            let Some(row) = serving(of_tier, class, lots, on, report)? else { continue };
            is_priced = true;
            let priced = Priced { class, row };
            lines(&priced, (on, &tariffs.exceptions), lots, &mut listing, report)?;
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
    lots: &[Lot<'l>],
    listing: &mut Listing<'l>,
    report: &mut Report,
) -> Result<(), Reported> {
    let for_tier =
        |row: &&ExceptionRow| row.tier.as_ref().is_none_or(|tier| *tier == priced.row.tier);
    let of_class = exceptions.iter().filter(for_tier).filter(|row| row.slabs.is_empty());
    let exception = serving(of_class, priced.class, lots, on, report)?;
    let is_small =
        |lot: &Lot<'_>| priced.row.remnant.is_some_and(|one| lot.area(priced.row.sold) < one.below);
    // What is set aside is sold.
    let lots: Vec<Lot<'l>> =
        lots.iter().filter(|lot| lot.listed.reserved.is_none()).copied().collect();
    let lots = &lots[..];
    let (small, whole): (Vec<Lot<'l>>, Vec<Lot<'l>>) = lots.iter().partition(|lot| is_small(lot));
    // Where there is nothing but remnants, their own cost is all that is known.
    let base = if whole.is_empty() { &small } else { &whole };
    let Some(mut own) = line(priced, base, exception, report)? else { return Ok(()) };
    let exceptions = exceptions.iter().filter(for_tier).filter(|row| {
        row.valid.holds(on) && !row.slabs.is_empty() && row.fits(priced.class, lots).is_some()
    });
    let exceptions: Vec<&ExceptionRow> = exceptions.collect();
    let alone = singles(priced, &own, (&whole, &small), &exceptions, report)?;
    // What is listed alone does not go at the price of the class.
    let named: BTreeSet<(&str, &str)> = alone.iter().map(|one| (one.shipment, one.slab)).collect();
    let is_alone =
        |lot: &Lot<'_>| named.contains(&(lot.listed.shipment, lot.listed.slab.id.as_str()));
    let rest: Vec<Lot<'l>> = whole.iter().filter(|lot| !is_alone(lot)).copied().collect();
    let place = &priced.row.place;
    own.slabs = rest.len();
    own.on_hand =
        report.fits(area(priced.row.sold, rest.iter().filter(|lot| lot.is_on_hand())), place)?;
    own.coming =
        report.fits(area(priced.row.sold, rest.iter().filter(|lot| !lot.is_on_hand())), place)?;
    own.estimated = rest.iter().filter(|lot| !lot.listed.is_billed).count();
    if own.slabs > 0 {
        listing.lines.push(own);
    }
    listing.singles.extend(alone);
    Ok(())
}

/// The area of slabs as they are sold.
fn area<'x>(sold: SoldBy, lots: impl Iterator<Item = &'x Lot<'x>>) -> Result<Area, Overflow> {
    Area::total(lots.map(|lot| lot.area(sold)))
}
