//! Which of some offers is the cheapest over a range, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::over::{OverPage, value};
use super::compare::{FootedJson, GoodsJson, QuotedJson, footed, goods, per, quoted};
use super::parts::{FORMAT, plain, write};
use crate::decide::{Cost, Over, Turn, ranges};
use crate::fault::Place;
use crate::quantity::{Price, Units};

#[derive(Serialize)]
struct OverJson<'a> {
    format: u32,
    offers: Vec<&'a str>,
    /// The cost per area that the one offer is held against; `null` where there are two.
    target: Option<String>,
    currency: &'a str,
    #[serde(flatten)]
    footed: FootedJson<'a>,
    #[serde(flatten)]
    goods: Option<GoodsJson<'a>>,
    /// The offers as they are quoted.
    quoted: Vec<QuotedJson<'a>>,
    /// The changes that they are under at every value.
    changes: Vec<&'a str>,
    /// `bundles`, `sails`, `rate` or `charge`.
    over: &'static str,
    /// The unit of the values: "USD for 1 EUR", "% of ocean freight".
    unit: String,
    ranges: Vec<RangeJson>,
    values: Vec<ValueJson<'a>>,
}

#[derive(Serialize)]
struct RangeJson {
    from: String,
    to: String,
    cheaper: String,
}

#[derive(Serialize)]
struct ValueJson<'a> {
    at: String,
    cheaper: String,
    costs: Vec<CostJson<'a>>,
    /// The rows that begin or end on this day of sailing, where a cost is not that of the day before.
    rows: Vec<TurnJson<'a>>,
}

#[derive(Serialize)]
struct TurnJson<'a> {
    name: &'a str,
    begins: bool,
    file: &'a str,
    line: usize,
}

/// What an offer comes to, or why it cannot be had so.
#[derive(Serialize)]
pub(super) struct CostJson<'a> {
    landed: Option<String>,
    decision: Option<String>,
    per_m2: Option<String>,
    per_ft2: Option<String>,
    proof: Option<&'static str>,
    refused: Option<&'a str>,
}

/// Writes offers over a range.
///
/// # Errors
/// Where the output cannot be written.
pub fn over(page: &OverPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let ranged = ranges(page.all).into_iter().map(|(first, last)| RangeJson {
        from: value(first),
        to: value(last),
        cheaper: page.winner(first),
    });
    let values = page.all.iter().map(|one| ValueJson {
        at: value(one),
        cheaper: page.winner(one),
        costs: one.costs.iter().map(cost).collect(),
        rows: one.turns.iter().map(turn).collect(),
    });
    let json = OverJson {
        format: FORMAT,
        offers: page.names().collect(),
        target: page.target.map(Price::to_string),
        currency: page.comparison.currency.code(),
        footed: footed(page.comparison),
        goods: page.goods.map(goods),
        quoted: page.goods.map_or_else(Vec::new, |goods| quoted(page.comparison, goods)),
        changes: page.changed().collect(),
        over: match page.over {
            Over::Bundles(..) => "bundles",
            Over::Sails(..) => "sails",
            Over::Rate { .. } => "rate",
            Over::Charge { .. } => "charge",
        },
        unit: page.what(),
        ranges: ranged.collect(),
        values: values.collect(),
    };
    write(&json, out)
}

fn turn(turn: &Turn) -> TurnJson<'_> {
    let Place { file, line, .. } = &turn.place;
    TurnJson { name: &turn.name, begins: turn.begins, file, line: *line }
}

pub(super) fn cost(cost: &Result<Cost, String>) -> CostJson<'_> {
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
