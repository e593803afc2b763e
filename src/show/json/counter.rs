//! A counter price for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::counter::{Against, CounterPage};
use super::compare::{FootedJson, GoodsJson, QuotedJson, footed, goods, per, quoted};
use super::parts::{FORMAT, plain, write};
use crate::decide::{Lever, Moved, Search, Trial};
use crate::load::Sure;
use crate::quantity::{Decimal, Units};

#[derive(Serialize)]
struct CounterJson<'a> {
    format: u32,
    shipment: &'a str,
    way: Option<&'a str>,
    currency: &'a str,
    #[serde(flatten)]
    footed: FootedJson<'a>,
    #[serde(flatten)]
    goods: GoodsJson<'a>,
    /// The offers as they are quoted.
    quoted: Vec<QuotedJson<'a>>,
    against: AgainstJson<'a>,
    /// The delivery term and payments that are asked for, where they are not as written.
    asked_under: Option<&'a str>,
    /// `line`, or `all lines`.
    moves: &'static str,
    /// In the unit of the price, or in percent of the quoted prices.
    step: String,
    step_is_percent: bool,
    /// Whether some price down to half of what is quoted does it.
    found: bool,
    trials: Vec<TrialJson<'a>>,
    prices_costed: usize,
    every_step_costed: bool,
    left_out: Vec<LeftJson<'a>>,
    letter: Option<String>,
}

#[derive(Serialize)]
struct AgainstJson<'a> {
    shipment: Option<&'a str>,
    target: Option<String>,
    per_m2: Option<String>,
    per_ft2: Option<String>,
    proof: Option<&'static str>,
}

#[derive(Serialize)]
struct TrialJson<'a> {
    what: &'static str,
    percent_of_quoted: Option<String>,
    prices: Vec<PriceJson<'a>>,
    landed: Option<String>,
    decision: Option<String>,
    per_m2: Option<String>,
    per_ft2: Option<String>,
    above_per_m2: Option<String>,
    above_per_ft2: Option<String>,
    proof: Option<&'static str>,
    not_proven_because: Option<String>,
    /// Why the offer cannot be had at this price.
    refused: Option<&'a str>,
}

#[derive(Serialize)]
struct PriceJson<'a> {
    line: &'a str,
    /// Which of the line's prices, where it has several: "from 200 m2", or a quality.
    of: Option<String>,
    price: String,
    currency: &'static str,
    per: &'static str,
    change: Option<String>,
    change_percent: Option<String>,
}

#[derive(Serialize)]
struct LeftJson<'a> {
    of: &'a str,
    key: &'static str,
}

/// Writes a counter price.
///
/// # Errors
/// Where the output cannot be written.
pub fn counter(page: &CounterPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let (shipment, target, proof) = match &page.against {
        Against::Offer(name, sure) => (Some(name.as_str()), None, Some(sure.word())),
        Against::Target(price) => (None, Some(price.to_string()), None),
    };
    let of_terms = page.under.map_or(&[][..], |(_, left)| left);
    let left = page.found.left_out.iter().chain(of_terms);
    let json = CounterJson {
        format: FORMAT,
        shipment: &page.shipment.name,
        way: page.shipment.way.as_deref(),
        currency: page.comparison.currency.code(),
        footed: footed(page.comparison),
        goods: goods(page.goods),
        quoted: quoted(page.comparison, page.goods),
        against: AgainstJson {
            shipment,
            target,
            per_m2: per(Some(page.goal), Units::Metric),
            per_ft2: per(Some(page.goal), Units::Us),
            proof,
        },
        asked_under: page.under.map(|(words, _)| words),
        moves: if page.grid.lever == Lever::All { "all lines" } else { "line" },
        step: page.grid.step.to_string(),
        step_is_percent: page.grid.by_percent,
        found: page.found.answer.is_some(),
        trials: page.trials().into_iter().map(|(what, one)| trial(page, what, one)).collect(),
        prices_costed: page.found.costed,
        every_step_costed: page.found.search == Search::EveryStep,
        left_out: left.map(|(of, key)| LeftJson { of, key }).collect(),
        letter: page.letter(),
    };
    write(&json, out)
}

fn trial<'a>(page: &'a CounterPage<'a>, what: &'static str, trial: &'a Trial) -> TrialJson<'a> {
    let cost = trial.outcome.as_ref().ok();
    let above = cost.and_then(|cost| page.above(cost));
    let percent = page.percent(trial).map(|percent| percent.to_string());
    let moved = page.grid.moved(page.shipment, &trial.prices).into_iter();
    let prices = moved.map(|Moved { line, of, quoted, asked: price }| {
        let change: Option<Decimal> = price.amount.checked_sub(quoted.amount);
        PriceJson {
            line: page.shipment.lines.get(line).map_or("", |line| line.id.as_str()),
            of: Some(of).filter(|of| !of.is_empty()),
            price: price.amount.to_string(),
            currency: price.currency.code(),
            per: price.by.word(),
            change: change.map(|change| change.to_string()),
            change_percent: percent.clone(),
        }
    });
    TrialJson {
        what,
        percent_of_quoted: trial.percent.map(|percent| percent.hundredths().to_string()),
        prices: prices.collect(),
        landed: cost.map(|cost| plain(cost.landed)),
        decision: cost.map(|cost| plain(cost.decision)),
        per_m2: per(cost.map(|cost| &cost.per_area), Units::Metric),
        per_ft2: per(cost.map(|cost| &cost.per_area), Units::Us),
        above_per_m2: per(above.as_ref(), Units::Metric),
        above_per_ft2: per(above.as_ref(), Units::Us),
        proof: cost.map(|cost| cost.sure.word()),
        not_proven_because: cost
            .filter(|cost| !cost.sure.is_proven())
            .and_then(|cost| Sure::why(&cost.sure)),
        refused: trial.outcome.as_ref().err().map(String::as_str),
    }
}
