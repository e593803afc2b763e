//! What offers come to under changes, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::what_if::{WhatIfPage, rank};
use super::compare::{FootedJson, footed};
use super::over::{CostJson, cost};
use super::parts::{FORMAT, plain, write};

#[derive(Serialize)]
struct WhatIfJson<'a> {
    format: u32,
    currency: &'a str,
    #[serde(flatten)]
    footed: FootedJson<'a>,
    offers: Vec<&'a str>,
    changes: Vec<&'a str>,
    /// As offered, under each change alone, and under all together.
    cases: Vec<CaseJson<'a>>,
}

#[derive(Serialize)]
struct CaseJson<'a> {
    /// The changes, by position.
    changes: &'a [usize],
    costs: Vec<OfferJson<'a>>,
}

#[derive(Serialize)]
struct OfferJson<'a> {
    offer: &'a str,
    rank: Option<usize>,
    /// How much more the cost with finance is than as offered.
    more: Option<String>,
    more_percent: Option<String>,
    #[serde(flatten)]
    cost: CostJson<'a>,
}

/// Writes offers under changes.
///
/// # Errors
/// Where the output cannot be written.
pub fn what_if(page: &WhatIfPage<'_>, out: &mut dyn Write) -> io::Result<()> {
    let cases = page.cases.iter().map(|case| {
        let costs = page.names().zip(&case.costs).enumerate();
        let costs = costs.map(|(at, (offer, costed))| {
            let own = costed.as_ref().ok();
            OfferJson {
                offer,
                rank: own.map(|own| rank(case, own)),
                more: own.and_then(|own| page.more(at, own)).map(plain),
                more_percent: own.and_then(|own| page.percent(at, own)).map(|one| one.to_string()),
                cost: cost(costed),
            }
        });
        CaseJson { changes: &case.changes, costs: costs.collect() }
    });
    let json = WhatIfJson {
        format: FORMAT,
        currency: page.comparison.currency.code(),
        footed: footed(page.comparison),
        offers: page.names().collect(),
        changes: page.changes.iter().map(|change| change.words.as_str()).collect(),
        cases: cases.collect(),
    };
    write(&json, out)
}
