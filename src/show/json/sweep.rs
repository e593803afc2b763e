//! What offers cost where rates and prices are drawn from ranges, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::sweep::SweepPage;
use super::compare::{FootedJson, footed, per};
use super::parts::{FORMAT, plain, write};
use crate::decide::PerArea;
use crate::quantity::Units;

#[derive(Serialize)]
struct SweepJson<'a> {
    format: u32,
    currency: &'a str,
    #[serde(flatten)]
    footed: FootedJson<'a>,
    draws: usize,
    seed: u64,
    offers: Vec<OfferJson<'a>>,
    /// The ranges, the one that moves an offer most first.
    ranges: Vec<RangeJson<'a>>,
}

#[derive(Serialize)]
struct OfferJson<'a> {
    offer: &'a str,
    p10: AreaJson,
    p50: AreaJson,
    p90: AreaJson,
    /// In how many draws it is the cheapest.
    wins: usize,
    /// How many loads serve.
    loads: usize,
    planned_anew: usize,
    came_to_the_same: usize,
    /// The most that planning anew takes off.
    most_off: String,
}

#[derive(Serialize)]
struct AreaJson {
    per_m2: Option<String>,
    per_ft2: Option<String>,
}

#[derive(Serialize)]
struct RangeJson<'a> {
    of: &'a str,
    from: &'a str,
    to: &'a str,
    mode: Option<&'a str>,
    /// By offer: its cost at the lower end, at the upper end, and how far they are apart.
    swings: Vec<SwingJson>,
}

#[derive(Serialize)]
struct SwingJson {
    at_lower: AreaJson,
    at_upper: AreaJson,
    swing: AreaJson,
}

fn area(cost: Option<&PerArea>) -> AreaJson {
    AreaJson { per_m2: per(cost, Units::Metric), per_ft2: per(cost, Units::Us) }
}

/// Writes a sweep.
///
/// # Errors
/// Where the output cannot be written.
pub fn sweep(page: &SweepPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let offers = page.offers().map(|(offer, swept)| {
        let [p10, p50, p90] = swept.percentiles.each_ref().map(|one| area(Some(one)));
        OfferJson {
            offer,
            p10,
            p50,
            p90,
            wins: swept.wins,
            loads: swept.loads,
            planned_anew: swept.anew.0,
            came_to_the_same: swept.anew.1,
            most_off: plain(swept.most_off),
        }
    });
    let ranges = page.ranked().map(|(at, range)| {
        let [of, from, to] = range.words.each_ref().map(String::as_str);
        let swings = page.offers().map(|(_, offer)| {
            let ends = offer.ends.get(at);
            SwingJson {
                at_lower: area(ends.map(|[low, _]| low)),
                at_upper: area(ends.map(|[_, high]| high)),
                swing: area(offer.swing(at).as_ref()),
            }
        });
        RangeJson { of, from, to, mode: range.mode.as_deref(), swings: swings.collect() }
    });
    let json = SweepJson {
        format: FORMAT,
        currency: page.comparison.currency.code(),
        footed: footed(page.comparison),
        draws: page.draws.count,
        seed: page.draws.seed,
        offers: offers.collect(),
        ranges: ranges.collect(),
    };
    write(&json, out)
}
