//! By which ports and with which ship, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::routes::RoutesPage;
use super::compare::{FootedJson, footed};
use super::over::{CostJson, cost};
use super::parts::{FORMAT, plain, write};
use crate::cost::Carried;

#[derive(Serialize)]
struct RoutesJson<'a> {
    format: u32,
    currency: &'a str,
    #[serde(flatten)]
    footed: FootedJson<'a>,
    /// The cheapest per area and the fastest, by position in `routes`.
    cheapest: Option<usize>,
    fastest: Option<usize>,
    price_of_a_day: Option<String>,
    routes: Vec<RouteJson<'a>>,
}

#[derive(Serialize)]
struct RouteJson<'a> {
    offer: String,
    from: String,
    to: String,
    service: Option<&'a str>,
    ready: Option<String>,
    closes: Option<String>,
    sails: Option<String>,
    arrives: Option<String>,
    delivered: Option<String>,
    days: Option<i64>,
    free_days: Option<u32>,
    /// What other chains of the offer are charged and this one is not.
    lacking: Vec<&'a str>,
    /// What has lapsed by then and serves on.
    carried: Vec<CarriedJson<'a>>,
    #[serde(flatten)]
    cost: CostJson<'a>,
}

#[derive(Serialize)]
struct CarriedJson<'a> {
    what: &'a str,
    until: String,
    days: u64,
    share: String,
}

fn carried(one: &Carried) -> CarriedJson<'_> {
    let Carried { what, until, days, share } = one;
    CarriedJson { what, until: until.to_string(), days: *days, share: plain(*share) }
}

/// Writes every chain.
///
/// # Errors
/// Where the output cannot be written.
pub fn routes(page: &RoutesPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let own = page.routes;
    let each = own.all.iter().map(|route| RouteJson {
        offer: page.name(route),
        from: route.from.code.to_string(),
        to: route.to.code.to_string(),
        service: route.service.as_deref(),
        ready: own.ready.get(route.offer).copied().flatten().map(|day| day.to_string()),
        closes: route.sailing.map(|one| one.closes.to_string()),
        sails: route.sailing.map(|one| one.sails.to_string()),
        arrives: route.sailing.map(|one| one.arrives.to_string()),
        delivered: route.delivered.map(|day| day.to_string()),
        days: route.days,
        free_days: route.free,
        lacking: own.lacking(route).into_iter().collect(),
        carried: route.carried.iter().map(carried).collect(),
        cost: cost(&route.outcome),
    });
    let json = RoutesJson {
        format: FORMAT,
        currency: page.comparison.currency.code(),
        footed: footed(page.comparison),
        cheapest: own.cheapest,
        fastest: own.fastest,
        price_of_a_day: own.price_of_a_day().map(plain),
        routes: each.collect(),
    };
    write(&json, out)
}
