//! Rates far above what is usual: a point that has slipped, or a percentage written for its hundredth.

use crate::fault::{At, Code, Fault, Report};
use crate::quantity::{Decimal, Percent, UnitRate};
use crate::trade::{ChargeRow, DutyRate, Rate, Tariffs};

/// Base duties on worked stone are far below (common practice); duties on top of them are higher.
const MOST_BASE_DUTY: Decimal = Decimal::from_parts(20, 0, 0, false, 0);

/// Premiums for stone at sea are below one percent of the insured value, or little above (common practice).
const MOST_PREMIUM: Decimal = Decimal::from_parts(5, 0, 0, false, 0);

/// So many times what the other rows of one name charge (a choice of ours).
const TIMES: Decimal = Decimal::from_parts(8, 0, 0, false, 0);

/// Asks about rates that are far above what is usual. Nothing is refused.
pub(super) fn doubt_rates(tariffs: &Tariffs, report: &mut Report) {
    for row in tariffs.duties.iter().filter(|row| row.is_base()) {
        if let DutyRate::Percent(rate) = row.rate.value {
            doubt_percent(("base duties", "20 %"), rate, MOST_BASE_DUTY, &row.rate, report);
        }
    }
    for row in &tariffs.charges {
        if let Rate::Premium { rate, .. } = row.rate.value {
            doubt_percent(("premiums", "5 %"), rate, MOST_PREMIUM, &row.rate, report);
        }
    }
    doubt_amounts(tariffs, report);
}

/// Asks about a percentage above what is usual: it may be ten times, or a hundred times, too high.
fn doubt_percent<T>(
    (what, most): (&str, &str),
    rate: Percent,
    limit: Decimal,
    at: &At<T>,
    report: &mut Report,
) {
    let Some(figure) = rate.fraction().checked_mul(Decimal::ONE_HUNDRED) else { return };
    if figure <= limit {
        return;
    }
    // A premium of 35 % stands for 0.35 %, a duty of 25 % for 2.5 %.
    let by = if figure > limit + limit { Decimal::new(1, 2) } else { Decimal::new(1, 1) };
    let Some(meant) = figure.checked_mul(by) else { return };
    let (figure, meant) = (figure.normalize(), meant.normalize());
    report.add(
        Fault::warning(Code::OutOfRange, format!("a rate of {figure} %: {what} are below {most}"))
            .at(&at.place, format!("is \"{meant} %\" meant?"))
            .help("look at the point; if the rate is right, nothing is to be done"),
    );
}

/// Asks about an amount many times those of the other rows of its name, counted alike.
fn doubt_amounts(tariffs: &Tariffs, report: &mut Report) {
    fn amount(row: &ChargeRow) -> Option<UnitRate> {
        match row.rate.value {
            Rate::Amount(amount) if row.clock.is_none() => Some(amount),
            _ => None,
        }
    }
    for row in &tariffs.charges {
        let Some(own) = amount(row) else { continue };
        let others = tariffs.charges.iter().filter(|other| {
            let is_like =
                other.name == row.name && other.table == row.table && other.per == row.per;
            is_like && other.leg == row.leg && other.place != row.place
        });
        let others = others.filter_map(|other| Some((amount(other)?, other)));
        let mut others: Vec<(UnitRate, &ChargeRow)> =
            others.filter(|(amount, _)| amount.currency() == own.currency()).collect();
        others.sort_by_key(|(amount, _)| amount.amount());
        let Some((middle, other)) = others.get(others.len() / 2) else { continue };
        let is_above = middle.amount().checked_mul(TIMES).is_some_and(|most| own.amount() >= most);
        if middle.amount() <= Decimal::ZERO || !is_above {
            continue;
        }
        let tenth = own.amount().checked_mul(Decimal::new(1, 1)).map(|one| one.normalize());
        let label = tenth.map_or_else(
            || "is the point right?".to_owned(),
            |tenth| format!("is \"{tenth} {}\" meant?", own.currency()),
        );
        let message = format!("\"{}\" is {own} here, and {middle} in another row", row.name);
        report.add(
            Fault::warning(Code::OutOfRange, message)
                .at(&row.rate.place, label)
                .also(&other.rate.place, "another row of this name")
                .help("look at the point; if both are right, nothing is to be done"),
        );
    }
}
