//! Which of two offers is the cheaper at each number of bundles, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::over::OverPage;
use super::compare::{GoodsJson, goods, per};
use super::parts::{FORMAT, plain, write};
use crate::decide::{AtCount, Cost, ranges};
use crate::quantity::Units;

#[derive(Serialize)]
struct OverJson<'a> {
    format: u32,
    offers: [&'a str; 2],
    currency: &'a str,
    footing: &'static str,
    #[serde(flatten)]
    goods: GoodsJson<'a>,
    ranges: Vec<RangeJson<'a>>,
    numbers: Vec<NumberJson<'a>>,
}

#[derive(Serialize)]
struct RangeJson<'a> {
    from: u32,
    to: u32,
    cheaper: &'a str,
}

#[derive(Serialize)]
struct NumberJson<'a> {
    bundles: u32,
    cheaper: &'a str,
    costs: [CostJson<'a>; 2],
}

#[derive(Serialize)]
struct CostJson<'a> {
    landed: Option<String>,
    decision: Option<String>,
    per_m2: Option<String>,
    per_ft2: Option<String>,
    proof: Option<&'static str>,
    refused: Option<&'a str>,
}

/// Writes two offers over numbers of bundles.
///
/// # Errors
/// Where the output cannot be written.
pub fn over(page: &OverPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let range = |(first, last): (&AtCount, &AtCount)| (first.bundles, last.bundles);
    let ranged = ranges(page.all).into_iter().map(|both| {
        let (from, to) = range(both);
        let cheaper = page.all.iter().find(|one| one.bundles == from);
        RangeJson { from, to, cheaper: cheaper.map_or("", |one| page.winner(one)) }
    });
    let json = OverJson {
        format: FORMAT,
        offers: page.names(),
        currency: page.comparison.currency.code(),
        footing: page.comparison.footing.word(),
        goods: goods(page.goods),
        ranges: ranged.collect(),
        numbers: page
            .all
            .iter()
            .map(|one| NumberJson {
                bundles: one.bundles,
                cheaper: page.winner(one),
                costs: [cost(&one.own), cost(&one.other)],
            })
            .collect(),
    };
    write(&json, out)
}

fn cost(cost: &Result<Cost, String>) -> CostJson<'_> {
    let own = cost.as_ref().ok();
    CostJson {
        landed: own.map(|own| plain(own.landed)),
        decision: own.map(|own| plain(own.decision)),
        per_m2: per(own.map(|own| &own.per_area), Units::Metric),
        per_ft2: per(own.map(|own| &own.per_area), Units::Us),
        proof: own.map(|own| own.sure.word()),
        refused: cost.as_ref().err().map(String::as_str),
    }
}
