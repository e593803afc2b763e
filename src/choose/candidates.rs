//! Which choices of offers are tried: every whole one, and mixtures by which boxes go.
//!
//! Decided on 2026-11-26. Every offer is tried for the whole shipment, and every group of forwarders and of
//! hauliers with each box free to go by any of them. Of many offers or bundles only all of them are tried as
//! one group; boxes that somebody filled are mixed only where the plan says so.

use crate::charges::Choice;
use crate::fault::{Code, Fault, Report, Reported};
use crate::price::may_apply;
use crate::trade::{Offers, Shipment, TableName, Tariffs};

/// More mixtures of offers than are all tried (a choice of ours).
const MOST_MIXTURES: usize = 256;

/// More bundles than are loaded in an instant: then few mixtures are tried (a choice of ours).
const FEW_BUNDLES: usize = 60;

/// The tables whose offers a box goes by: the forwarder's and the haulier's.
const BY_BOX: [TableName; 2] = [TableName::Freight, TableName::Drayage];

/// Every choice of one offer per table for the whole shipment, in file order; pins leave less choice.
pub(super) fn whole(offered: &[(TableName, Vec<&str>)]) -> Vec<Choice> {
    let each = combined(offered, |_, offers| singly(offers)).into_iter().flatten();
    each.map(Choice::whole).collect()
}

/// Choices in which boxes may use different offers of some tables, and share one offer of each other table.
/// None where given boxes name no offers: splitting them is not ours to decide.
pub(super) fn mixed<'o>(offered: &[(TableName, Vec<&'o str>)], shipment: &Shipment) -> Vec<Choice> {
    let is_said = shipment.boxes.iter().any(|one| !one.offers.is_empty());
    if !shipment.boxes.is_empty() && !is_said {
        return Vec::new();
    }
    // Fees beside the boxes may make two forwarders better than three: of few offers and bundles
    // every mixture is tried, of many the one of all.
    let ways = |(table, offers): &(TableName, Vec<&str>)| {
        let groups = if BY_BOX.contains(table) { 1usize << offers.len().min(16) } else { 2 };
        groups.max(offers.len())
    };
    let every = shipment.bundles.len() <= FEW_BUNDLES
        && offered.iter().map(ways).fold(1, usize::saturating_mul) <= MOST_MIXTURES;
    let lists = |table: TableName, offers: &[&'o str]| -> Vec<Vec<&'o str>> {
        let mut lists = singly(offers);
        if BY_BOX.contains(&table) && offers.len() > 1 {
            if every {
                lists = groups(offers);
            } else {
                lists.push(offers.to_vec());
            }
        }
        lists
    };
    combined(offered, lists).iter().filter_map(|some| Choice::mixed(some.iter())).collect()
}

/// Each offer by itself.
fn singly<'o>(offers: &[&'o str]) -> Vec<Vec<&'o str>> {
    offers.iter().map(|offer| vec![*offer]).collect()
}

/// Every choice of one of its lists for each table: what a box may go by under it.
fn combined<'o>(
    offered: &[(TableName, Vec<&'o str>)],
    lists: impl Fn(TableName, &[&'o str]) -> Vec<Vec<&'o str>>,
) -> Vec<Vec<Offers>> {
    let mut all: Vec<Vec<Offers>> = vec![vec![Offers::default()]];
    for (table, offers) in offered {
        let lists = lists(*table, offers);
        let with = |some: &Vec<Offers>, list: &Vec<&str>| -> Vec<Offers> {
            let each = |one: &Offers| list.iter().map(|offer| one.with(*table, offer)).collect();
            some.iter().flat_map(|one| -> Vec<Offers> { each(one) }).collect()
        };
        all = all.iter().flat_map(|some| lists.iter().map(|list| with(some, list))).collect();
    }
    all
}

/// Every group of some offers, the smaller ones first.
fn groups<'o>(offers: &[&'o str]) -> Vec<Vec<&'o str>> {
    let mut all: Vec<Vec<&str>> = vec![Vec::new()];
    for offer in offers {
        let with: Vec<Vec<&str>> =
            all.iter().map(|group| group.iter().copied().chain([*offer]).collect()).collect();
        all.extend(with);
    }
    all.retain(|group| !group.is_empty());
    all.sort_by_key(Vec::len);
    all
}

/// The offers of each table that has any for a shipment, in file order: the pinned ones, where some are.
pub(super) fn offered<'a>(
    shipment: &'a Shipment,
    tariffs: &'a Tariffs,
    report: &mut Report,
) -> Result<Vec<(TableName, Vec<&'a str>)>, Reported> {
    let mut all = Vec::new();
    for (table, word) in TableName::ALL {
        let mut offers: Vec<&str> = Vec::new();
        for row in tariffs.charges.iter().filter(|row| row.table == table) {
            if let Some(offer) = row.offer.as_deref()
                && may_apply(shipment, row)
                && !offers.contains(&offer)
            {
                offers.push(offer);
            }
        }
        let pinned = shipment.pinned(table);
        if let Some(pin) = pinned.iter().find(|pin| !offers.contains(&pin.value.as_str())) {
            let name = &pin.value;
            let message = format!("rates/{word}.toml has no offer \"{name}\" for this shipment");
            return Err(report.error(
                Fault::error(Code::UnknownReference, message).at(&pin.place, "pinned here").help(
                    if offers.is_empty() {
                        "none of its rows for this shipment is of an offer: leave it out".to_owned()
                    } else {
                        format!("offers that would serve: {}", offers.join(", "))
                    },
                ),
            ));
        }
        if !pinned.is_empty() {
            offers.retain(|offer| pinned.iter().any(|pin| pin.value == *offer));
        }
        if !offers.is_empty() {
            all.push((table, offers));
        }
    }
    Ok(all)
}
