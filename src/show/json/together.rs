//! Loads that were planned together, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::load::Load;
use super::load::{LoadJson, ServingJson, load_json};
use super::parts::{FORMAT, SourceJson, plain, source_json, write};
use crate::choose::{Shared, Together};

#[derive(Serialize)]
struct TogetherJson<'a> {
    format: u32,
    /// Each as it is written when it is loaded by itself.
    shipments: Vec<LoadJson<'a>>,
    sums: Vec<SumJson<'a>>,
    stocks: Vec<StockJson<'a>>,
    /// The sums of all; none of them where the books are in different currencies.
    currency: Option<&'a str>,
    containers: usize,
    cost: Option<String>,
    broken_wishes: Option<String>,
    lower_bound: Option<String>,
    landed_total: Option<String>,
    /// The same with every stock to each of them alone.
    landed_total_alone: Option<String>,
    /// What shares are chosen by.
    decision_total: Option<String>,
    decision_total_alone: Option<String>,
    proof: &'static str,
    proof_note: Option<String>,
}

/// What one shipment comes to.
#[derive(Serialize)]
struct SumJson<'a> {
    shipment: &'a str,
    yard: &'a str,
    currency: &'a str,
    containers: usize,
    landed_total: String,
    landed_total_alone: String,
    decision_total: String,
    decision_total_alone: String,
}

#[derive(Serialize)]
struct StockJson<'a> {
    stock: &'a str,
    /// None where it is of containers of any type.
    #[serde(rename = "type")]
    kind: Option<&'a str>,
    class: Option<&'a str>,
    offers: Vec<ServingJson<'a>>,
    count: u32,
    left: u32,
    taken: Vec<TakenJson<'a>>,
}

#[derive(Serialize)]
struct TakenJson<'a> {
    shipment: &'a str,
    containers: u32,
    /// How many it takes with all of the stock to itself.
    containers_alone: u32,
    source: SourceJson<'a>,
}

/// Writes loads that were planned together.
///
/// # Errors
/// Where the output cannot be written.
pub fn together(loads: &[Load<'_>], together: &Together, out: &mut dyn Write) -> io::Result<()> {
    let sums = together.sums.as_ref();
    let each = loads.iter().zip(&together.alone);
    let json = TogetherJson {
        format: FORMAT,
        shipments: loads.iter().map(|load| load_json(*load)).collect(),
        sums: each
            .map(|(load, alone)| SumJson {
                shipment: &load.shipment.name,
                yard: &load.shipment.yard.id,
                currency: load.costed.landed.currency.code(),
                containers: load.costed.plan.boxes.len(),
                landed_total: plain(load.costed.landed.total),
                landed_total_alone: plain(alone.landed),
                decision_total: plain(load.costed.landed.decision),
                decision_total_alone: plain(alone.decision),
            })
            .collect(),
        stocks: together.stocks.iter().map(|shared| stock_json(shared, loads)).collect(),
        currency: sums.map(|sums| sums.landed.currency().code()),
        containers: together.loads.iter().map(|load| load.plan.boxes.len()).sum(),
        cost: sums.map(|sums| plain(sums.cost)),
        broken_wishes: sums.map(|sums| plain(sums.wishes)),
        lower_bound: sums.and_then(|sums| sums.lower_bound).map(plain),
        landed_total: sums.map(|sums| plain(sums.landed)),
        landed_total_alone: sums.map(|sums| plain(sums.alone.landed)),
        decision_total: sums.map(|sums| plain(sums.decision)),
        decision_total_alone: sums.map(|sums| plain(sums.alone.decision)),
        proof: together.sure.word(),
        proof_note: together.sure.why(),
    };
    write(&json, out)
}

fn stock_json<'a>(shared: &'a Shared, loads: &[Load<'a>]) -> StockJson<'a> {
    let stock = &shared.stock;
    let offers = stock.of.iter().flat_map(|of| &of.offers);
    let taken = stock.named_by.iter().zip(shared.takes.iter().zip(&shared.alone));
    let taken = taken.map(|((at, place), (takes, alone))| TakenJson {
        shipment: loads.get(*at).map_or("", |load| &load.shipment.name),
        containers: *takes,
        containers_alone: *alone,
        source: source_json(place),
    });
    StockJson {
        stock: &stock.name,
        kind: stock.of.as_ref().map(|of| of.kind.value.as_str()),
        class: stock.of.as_ref().and_then(|of| of.class.as_ref()).map(|at| at.value.as_str()),
        offers: offers
            .map(|(table, offer)| ServingJson { table: table.word(), offer: &offer.value })
            .collect(),
        count: stock.count,
        left: shared.left(),
        taken: taken.collect(),
    }
}
