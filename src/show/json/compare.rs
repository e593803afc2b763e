//! A comparison for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, FallenJson, MOST_OFFERS, fallen_json, plain, write};
use super::verdict::{VerdictJson, verdict_json};
use crate::cost::LEG_GROUPS;
use crate::decide::Comparison;
use crate::quantity::UnitCost;

#[derive(Serialize)]
struct CompareJson<'a> {
    format: u32,
    currency: &'a str,
    best: &'a str,
    offers: Vec<OfferJson<'a>>,
}

#[derive(Serialize)]
struct OfferJson<'a> {
    shipment: &'a str,
    supplier: &'a str,
    term: &'a str,
    yard: &'a str,
    nominal: bool,
    area_m2: String,
    containers: usize,
    #[serde(flatten)]
    verdict: VerdictJson<'a>,
    /// Forwarders' and hauliers' offers that serve in no choice.
    fallen_offers: Vec<FallenJson<'a>>,
    fallen_offers_count: usize,
    legs: Vec<LegsJson>,
    landed: String,
    expensed: String,
    weighed_only: String,
    decision: String,
    /// The price of the wishes that its load breaks: no charge, and compared with the decision cost.
    broken_wishes: String,
    landed_per_m2: Option<String>,
    landed_per_ft2: Option<String>,
    decision_per_m2: Option<String>,
    decision_per_ft2: Option<String>,
    above_best_per_m2: String,
    above_best_per_ft2: String,
    above_best_on_area: String,
    above_best_percent: String,
}

/// Some legs together, as the table has them.
#[derive(Serialize)]
struct LegsJson {
    legs: &'static str,
    amount: String,
    per_m2: Option<String>,
    per_ft2: Option<String>,
}

/// Writes a comparison.
///
/// # Errors
/// Where the output cannot be written.
pub fn compare(comparison: &Comparison, out: &mut dyn Write) -> io::Result<()> {
    let figure = |cost: Option<UnitCost>| cost.map(|cost| cost.figure().to_string());
    let offers = comparison.offers.iter().zip(&comparison.above_best);
    let json = CompareJson {
        format: FORMAT,
        currency: comparison.currency.code(),
        best: comparison.offers.get(comparison.best).map_or("", |offer| &offer.name),
        offers: offers
            .map(|(offer, gap)| OfferJson {
                shipment: &offer.name,
                supplier: &offer.supplier,
                term: &offer.term,
                yard: &offer.yard,
                nominal: offer.nominal,
                area_m2: offer.area.to_m2(6).to_string(),
                containers: offer.containers,
                verdict: verdict_json(&offer.load, &offer.verdict),
                fallen_offers: offer.fallen.iter().take(MOST_OFFERS).map(fallen_json).collect(),
                fallen_offers_count: offer.fallen.len(),
                legs: LEG_GROUPS
                    .iter()
                    .zip(offer.groups)
                    .map(|((legs, ..), amount)| LegsJson {
                        legs,
                        amount: plain(amount),
                        per_m2: figure(offer.per_m2(amount)),
                        per_ft2: figure(offer.per_ft2(amount)),
                    })
                    .collect(),
                landed: plain(offer.landed),
                expensed: plain(offer.period),
                weighed_only: plain(offer.notional),
                decision: plain(offer.worth.decision),
                broken_wishes: plain(offer.worth.wishes),
                landed_per_m2: figure(offer.per_m2(offer.landed)),
                landed_per_ft2: figure(offer.per_ft2(offer.landed)),
                decision_per_m2: figure(offer.per_m2(offer.worth.decision)),
                decision_per_ft2: figure(offer.per_ft2(offer.worth.decision)),
                above_best_per_m2: gap.per_m2.to_string(),
                above_best_per_ft2: gap.per_ft2.to_string(),
                above_best_on_area: plain(gap.on_area),
                above_best_percent: gap.percent.to_string(),
            })
            .collect(),
    };
    write(&json, out)
}
