//! The price of a charge row: an amount, a percentage, tiers.

use super::super::table::Table;
use super::super::timing::tiers;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Money, Percent};
use crate::trade::{Event, Interest, Rate, WhatOf};

/// What a row charges: `amount`; `rate` with `of`; `amount` for `each` so much `of` something; or
/// `tiers`.
pub(super) fn rate(
    row: &Table<'_>,
    begun: bool,
    report: &mut Report,
) -> Result<At<Rate>, Reported> {
    let amount = row.optional::<Money>("amount", report);
    let percent = row.optional::<Percent>("rate", report);
    let of = row.text("of", report);
    let each = row.optional::<Money>("each", report);
    let tiers = tiers(row, report);
    let (amount, percent, of, each) = (amount?, percent?, of?, each?);
    let fault = |code, message: &str| Fault::error(code, message).at(&row.place(), "in this row");
    let way_out = "write amount = \"1850 USD\", or rate = \"0.30 %\" with of = \"goods\"";
    let beside = ["amount", "rate", "of", "each"].into_iter().find(|key| row.has(key));
    if let Some(key) = beside.filter(|_| row.has("tiers")) {
        return Err(report.error(
            fault(Code::Contradiction, "a charge has `tiers` and a price beside them")
                .at(&row.place_of(key), "one of the two too many")
                .also(&row.place_of("tiers"), "the tiers")
                .help("give each tier its own `amount`, and the row none"),
        ));
    }
    if let Some(tiers) = tiers? {
        return Ok(At { value: Rate::Tiers(tiers), place: row.place_of("tiers") });
    }
    if let Some(each) = each {
        return each_of(row, amount, each, (of, begun), report);
    }
    match (amount, percent) {
        (Some(_), Some(_)) => Err(report.error(
            fault(Code::Contradiction, "a charge has both `amount` and `rate`")
                .at(&row.place_of("rate"), "one of the two too many")
                .also(&row.place_of("amount"), "the other")
                .help(way_out),
        )),
        (Some(amount), None) => {
            if of.is_some() {
                report.add(
                    fault(Code::Contradiction, "`of` goes with `rate`, not with `amount`")
                        .at(&row.place_of("of"), "a share of what is no amount")
                        .help(way_out)
                        .help("an amount for each so much of it: add each = \"1000 USD\""),
                );
            }
            Ok(amount.map(|amount| Rate::Amount(amount.into())))
        }
        (None, Some(percent)) => {
            let Some(of) = of else {
                return Err(report.error(
                    fault(Code::MissingKey, "a percentage does not say what it is of")
                        .at(&row.place_of("rate"), "`of` is needed as well")
                        .help(way_out),
                ));
            };
            Ok(percent.map(|percent| Rate::Percent(percent, WhatOf::of(of.value))))
        }
        (None, None) => {
            let fault =
                fault(Code::MissingKey, "a charge has neither `amount` nor `rate`").help(way_out);
            Err(row.lacks(&["amount", "rate"], fault, report))
        }
    }
}

/// Reads an `amount` for `each` so much `of` something.
fn each_of(
    row: &Table<'_>,
    amount: Option<At<Money>>,
    each: At<Money>,
    (of, begun): (Option<At<String>>, bool),
    report: &mut Report,
) -> Result<At<Rate>, Reported> {
    let lacks = |key: &str, report: &mut Report| {
        report.error(
            Fault::error(Code::MissingKey, format!("`each` needs `{key}`"))
                .at(&row.place_of("each"), format!("`{key}` is needed as well"))
                .help("write amount = \"5 USD\", each = \"1000 USD\", of = \"single bond\""),
        )
    };
    let amount = amount.ok_or_else(|| lacks("amount", report));
    let of = of.ok_or_else(|| lacks("of", report));
    let (amount, of) = (amount?, of?);
    if each.is_zero() {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "`each` must be above 0")
                .at(&each.place, "expected more than nothing"),
        ));
    }
    let of = WhatOf::of(of.value);
    Ok(At {
        value: Rate::Each { amount: amount.value.into(), each: each.value, of, begun },
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
pub(super) fn interest(row: &Table<'_>, report: &mut Report) -> Result<Option<Interest>, Reported> {
    let days = row.count("days-in-year", report);
    let until = row.word("until", &Event::ALL, report);
    let (days, until) = (days?, until?);
    if let Some(days) = days.as_ref().filter(|days| !matches!(days.value, 360 | 365 | 366)) {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "`days-in-year` must be 360, 365 or 366")
                .at(&days.place, "expected 360, 365 or 366"),
        ));
    }
    // One without the other is told where all that interest needs is looked at.
    Ok(days
        .zip(until)
        .map(|(days, until)| Interest { days_in_year: days.value, until: until.value }))
}
