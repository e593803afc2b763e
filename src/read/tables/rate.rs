//! The price of a charge row: an amount, a percentage, tiers.

use super::super::table::Table;
use super::super::timing::tiers;
use crate::fault::{At, Code, Fault, Report};
use crate::quantity::{Money, Percent};
use crate::trade::{Event, Interest, Rate, WhatOf};

/// What a row charges: `amount`; `rate` with `of`; `amount` for `each` so much `of` something; or
/// `tiers`.
pub(super) fn rate(row: &Table<'_>, begun: bool, report: &mut Report) -> Option<At<Rate>> {
    let amount = row.optional::<Money>("amount", report);
    let percent = row.optional::<Percent>("rate", report);
    let of = row.text("of", report);
    let each = row.optional::<Money>("each", report);
    let tiers = tiers(row, report);
    let fault = |code, message: &str| Fault::error(code, message).at(&row.place(), "in this row");
    let way_out = "write amount = \"1850 USD\", or rate = \"0.30 %\" with of = \"goods\"";
    if row.has("tiers") {
        if let Some(key) = ["amount", "rate", "of", "each"].into_iter().find(|key| row.has(key)) {
            report.add(
                fault(Code::Contradiction, "a charge has `tiers` and a price beside them")
                    .at(&row.place_of(key), "one of the two too many")
                    .also(&row.place_of("tiers"), "the tiers")
                    .help("give each tier its own `amount`, and the row none"),
            );
            return None;
        }
        return tiers.map(|tiers| At { value: Rate::Tiers(tiers), place: row.place_of("tiers") });
    }
    if row.has("each") {
        return each_of(row, amount, each, (of, begun), report);
    }
    match (amount, percent) {
        (Some(_), Some(_)) => {
            report.add(
                fault(Code::Contradiction, "a charge has both `amount` and `rate`")
                    .at(&row.place_of("rate"), "one of the two too many")
                    .also(&row.place_of("amount"), "the other")
                    .help(way_out),
            );
            None
        }
        (Some(amount), None) => {
            if of.is_some() {
                report.add(
                    fault(Code::Contradiction, "`of` goes with `rate`, not with `amount`")
                        .at(&row.place_of("of"), "a share of what is no amount")
                        .help(way_out)
                        .help("an amount for each so much of it: add each = \"1000 USD\""),
                );
            }
            Some(amount.map(Rate::Amount))
        }
        (None, Some(percent)) => {
            let Some(of) = of else {
                report.add(
                    fault(Code::MissingKey, "a percentage does not say what it is of")
                        .at(&row.place_of("rate"), "`of` is needed as well")
                        .help(way_out),
                );
                return None;
            };
            Some(percent.map(|percent| Rate::Percent(percent, WhatOf::of(of.value))))
        }
        (None, None) => {
            if !row.has("amount") && !row.has("rate") {
                let fault = fault(Code::MissingKey, "a charge has neither `amount` nor `rate`")
                    .help(way_out);
                row.lacks(&["amount", "rate"], fault, report);
            }
            None
        }
    }
}

/// Reads an `amount` for `each` so much `of` something.
fn each_of(
    row: &Table<'_>,
    amount: Option<At<Money>>,
    each: Option<At<Money>>,
    (of, begun): (Option<At<String>>, bool),
    report: &mut Report,
) -> Option<At<Rate>> {
    for key in ["amount", "of"] {
        if !row.has(key) {
            report.add(
                Fault::error(Code::MissingKey, format!("`each` needs `{key}`"))
                    .at(&row.place_of("each"), format!("`{key}` is needed as well"))
                    .help("write amount = \"5 USD\", each = \"1000 USD\", of = \"single bond\""),
            );
        }
    }
    let (amount, each, of) = (amount?, each?, of?);
    if each.is_zero() {
        report.add(
            Fault::error(Code::OutOfRange, "`each` must be above 0")
                .at(&each.place, "expected more than nothing"),
        );
        return None;
    }
    let of = WhatOf::of(of.value);
    Some(At {
        value: Rate::Each { amount: amount.value, each: each.value, of, begun },
        place: amount.place,
    })
}

/// The rate with the share that is insured, or with what turns a percentage of payments into interest.
pub(super) fn grown(rate: Rate, insured: Option<Percent>, interest: Option<Interest>) -> Rate {
    match (rate, insured, interest) {
        (Rate::Percent(rate, WhatOf::InsuredValue), Some(insured), _) => {
            Rate::Premium { rate, insured }
        }
        (Rate::Percent(rate, WhatOf::Payments), _, Some(interest)) => {
            Rate::Interest(rate, interest)
        }
        (rate, ..) => rate,
    }
}

/// Reads what turns a percentage of payments into interest: `days-in-year` and `until`.
pub(super) fn interest(row: &Table<'_>, report: &mut Report) -> Option<Interest> {
    let days = row.count("days-in-year", report);
    let until = row.word("until", &Event::ALL, report);
    let days = days.filter(|days| {
        let is_year = matches!(days.value, 360 | 365 | 366);
        if !is_year {
            report.add(
                Fault::error(Code::OutOfRange, "`days-in-year` must be 360, 365 or 366")
                    .at(&days.place, "expected 360, 365 or 366"),
            );
        }
        is_year
    });
    Some(Interest { days_in_year: days?.value, until: until?.value })
}
