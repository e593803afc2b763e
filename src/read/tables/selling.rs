//! `rates/selling.toml`: what is asked for slabs, and how a stone is used.

use super::super::keys::{Named, Names, name, readable};
use super::super::table::Table;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Area, Decimal, Length, Money, Percent, Price, PricedBy, Quote, Written};
use crate::trade::{
    Aim, CoverRow, Ending, ExceptionRow, Goods, MarketRow, Remnant, SellingRow, SoldBy, Tariffs,
    Window,
};

/// More days than any order takes.
const MOST_DAYS: u32 = 1_000;

/// So many months of issues are counted, where a row does not say.
const MONTHS: u32 = 6;

pub(super) fn selling(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    tariffs.selling = readable(top, "selling", report, |row, report| rule(row, names, report));
    tariffs.exceptions =
        readable(top, "exception", report, |row, report| exception(row, names, report));
    tariffs.market = readable(top, "market", report, |row, report| market(row, names, report));
    tariffs.cover = readable(top, "cover", report, |row, report| cover(row, names, report));
}

/// The slabs that a row is for.
fn goods(row: &Table<'_>, names: &Names, report: &mut Report) -> Result<Goods, Reported> {
    let yard = name(row, "yard", Named::Yard, names, report);
    let stone = name(row, "stone", Named::Stone, names, report);
    let finish = name(row, "finish", Named::Finish, names, report);
    let thickness = row.optional::<Length>("thickness", report);
    let quality = name(row, "quality", Named::Quality, names, report);
    Ok(Goods {
        yard: yard?,
        stone: stone?,
        finish: finish?,
        thickness: thickness?.map(|at| at.value),
        quality: quality?,
    })
}

/// A percentage below 100.
fn part(at: &At<Percent>, key: &str, report: &mut Report) -> Result<Percent, Reported> {
    if at.value.hundredths() < Percent::ZERO.complement().hundredths() {
        return Ok(at.value);
    }
    Err(report.error(
        Fault::error(
            Code::OutOfRange,
            format!("`{key}` is a part of the price: it is below 100 %"),
        )
        .at(&at.place, "expected less than 100 %")
        .help("for a part of the cost write markup = \"...\""),
    ))
}

fn rule(row: &Table<'_>, names: &Names, report: &mut Report) -> Result<SellingRow, Reported> {
    const BY: [(PricedBy, &str); 3] =
        [(PricedBy::M2, "m2"), (PricedBy::Ft2, "ft2"), (PricedBy::Slab, "slab")];
    let tier = row.required_text("tier", report);
    let goods = goods(row, names, report);
    let margin = row.optional::<Percent>("margin", report);
    let markup = row.optional::<Percent>("markup", report);
    let least = row.required::<Percent>("least-margin", report);
    let by = row.required_word("per", &BY, report);
    let sold = row.word("area", &SoldBy::ALL, report);
    let ending = ending(row, report);
    let tax = row.optional::<Percent>("tax", report);
    let exchange = row.optional::<Quote>("exchange", report);
    let remnant = remnant(row, report);
    let valid = row.required::<Window>("valid", report);
    row.required_text("source", report)?;
    let (margin, markup, least) = (margin?, markup?, least?);
    let aim = match (&margin, markup) {
        (Some(margin), None) => Aim::Margin(part(margin, "margin", report)?),
        (None, Some(markup)) => Aim::Markup(markup.value),
        (Some(margin), Some(markup)) => {
            return Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    "`margin` and `markup` say one thing in two ways",
                )
                .at(&markup.place, "a part of the cost")
                .also(&margin.place, "a part of the price")
                .help("keep one of them"),
            ));
        }
        (None, None) => {
            return Err(row.lacks(
                &["margin", "markup"],
                Fault::error(Code::MissingKey, "this [[selling]] lacks `margin` or `markup`")
                    .at(&row.place(), "one of the two is needed here")
                    .help("write margin = \"30 %\" for a part of the price, or markup = \"43 %\" for a part of the cost"),
                report,
            ));
        }
    };
    let least = part(&least, "least-margin", report)?;
    Ok(SellingRow {
        tier: tier?.value,
        goods: goods?,
        aim,
        least,
        by: by?.value,
        sold: sold?.map_or_else(SoldBy::default, |at| at.value),
        ending: ending?,
        tax: tax?.map(|at| at.value),
        exchange: exchange?.map(|at| at.value),
        remnant: remnant?,
        valid: valid?.value,
        place: row.place(),
    })
}

/// Where prices are rounded up to: `step`, or `endings` below one unit of the currency.
fn ending(row: &Table<'_>, report: &mut Report) -> Result<Ending, Reported> {
    let step = row.optional::<Money>("step", report);
    let endings = row.texts("endings", report);
    let (step, endings) = (step?, endings?);
    if let (Some(step), Some(first)) = (&step, endings.first()) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "`step` and `endings` round one price in two ways")
                .at(&first.place, "these endings")
                .also(&step.place, "and this step")
                .help("keep one of them"),
        ));
    }
    if let Some(step) = step {
        if step.value.is_zero() || step.value.is_negative() {
            return Err(report.error(
                Fault::error(Code::OutOfRange, "`step` is an amount above 0")
                    .at(&step.place, "expected an amount such as \"0.05 USD\""),
            ));
        }
        return Ok(Ending::Step(step.value));
    }
    let mut all = Vec::new();
    for text in endings {
        let one = Money::read(&text.value).ok().filter(|one| !one.is_negative());
        let Some(one) = one.filter(|one| one.amount() < Decimal::ONE) else {
            return Err(report.error(
                Fault::error(
                    Code::BadQuantity,
                    format!("\"{}\" is no ending of a price", text.value),
                )
                .at(&text.place, "expected an amount below 1, such as \"0.95 USD\""),
            ));
        };
        all.push(one);
    }
    all.sort_by_key(|one| one.amount());
    Ok(if all.is_empty() { Ending::Minor } else { Ending::Endings(all) })
}

/// `remnant = { below = "1.5 m2", off = "30 %" }`.
fn remnant(row: &Table<'_>, report: &mut Report) -> Result<Option<Remnant>, Reported> {
    let Some(table) = row.inside("remnant", report)? else { return Ok(None) };
    let below = table.required::<Area>("below", report);
    let off = table.required::<Percent>("off", report);
    table.finish(report);
    let off = part(&off?, "off", report)?;
    Ok(Some(Remnant { below: below?.value, off }))
}

fn exception(
    row: &Table<'_>,
    names: &Names,
    report: &mut Report,
) -> Result<ExceptionRow, Reported> {
    let tier = row.text("tier", report);
    let goods = goods(row, names, report);
    let slabs = row.texts("slabs", report);
    let price = row.required::<Price>("price", report);
    if let Some(none) = price.as_ref().ok().filter(|at| at.amount.is_zero()) {
        report.add(
            Fault::error(Code::OutOfRange, "an exception has a price of 0")
                .at(&none.place, "expected a price above 0")
                .help("slabs that are given away are issued without a bill: kind = \"issue\", use = \"sample\""),
        );
    }
    let reason = row.required_text("reason", report);
    let valid = row.required::<Window>("valid", report);
    row.required_text("source", report)?;
    Ok(ExceptionRow {
        tier: tier?.map(|at| at.value),
        goods: goods?,
        slabs: slabs?.into_iter().map(|at| at.value).collect(),
        price: price?.value,
        reason: reason?.value,
        valid: valid?.value,
        place: row.place(),
    })
}

fn market(row: &Table<'_>, names: &Names, report: &mut Report) -> Result<MarketRow, Reported> {
    let goods = goods(row, names, report);
    let slabs = row.texts("slabs", report);
    let order = row.text("order", report);
    let price = row.required::<Price>("price", report);
    let sold = row.word("area", &SoldBy::ALL, report);
    let selling = row.optional::<Percent>("selling-cost", report);
    let finishing = row.optional::<Price>("finishing-cost", report);
    let valid = row.required::<Window>("valid", report);
    let source = row.required_text("source", report);
    let (price, finishing) = (price?, finishing?);
    let by = [PricedBy::M2, PricedBy::Ft2, PricedBy::Slab];
    if !by.contains(&price.value.by) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "a price of the market is per m2, ft2 or slab")
                .at(&price.place, format!("per {}", price.value.by.word())),
        ));
    }
    let is_other = |one: &&At<Price>| {
        (one.value.by, one.value.currency) != (price.value.by, price.value.currency)
    };
    if let Some(other) = finishing.as_ref().filter(is_other) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "`finishing-cost` is not per what `price` is")
                .at(&other.place, other.value.to_string())
                .also(&price.place, price.value.to_string())
                .help("write both in one currency and per one unit"),
        ));
    }
    let selling = match selling? {
        Some(selling) => part(&selling, "selling-cost", report)?,
        None => Percent::ZERO,
    };
    Ok(MarketRow {
        goods: goods?,
        slabs: slabs?.into_iter().map(|at| at.value).collect(),
        order: order?.map(|at| at.value),
        price: price.value,
        sold: sold?.map_or_else(SoldBy::default, |at| at.value),
        selling_cost: selling,
        finishing_cost: finishing.map(|at| at.value),
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    })
}

fn cover(row: &Table<'_>, names: &Names, report: &mut Report) -> Result<CoverRow, Reported> {
    let goods = goods(row, names, report);
    let used = row.optional::<Area>("used", report);
    let months = row.count("months", report);
    let lead_days = row.required_count("lead-days", report);
    let reserve = row.optional::<Area>("reserve", report);
    let left = row.optional::<Area>("left", report);
    let said = row.date("left-said", report);
    row.required_text("source", report)?;
    let (months, lead_days, left, said) = (months?, lead_days?, left?, said?);
    let out = |at: &At<u32>, key: &str, most: u32, report: &mut Report| {
        report.error(
            Fault::error(Code::OutOfRange, format!("`{key}` is out of range"))
                .at(&at.place, format!("expected 1 to {most}")),
        )
    };
    if let Some(months) = months.as_ref().filter(|at| !(1..=60).contains(&at.value)) {
        return Err(out(months, "months", 60, report));
    }
    if !(1..=MOST_DAYS).contains(&lead_days.value) {
        return Err(out(&lead_days, "lead-days", MOST_DAYS, report));
    }
    let left = match (left, said) {
        (Some(left), Some(said)) => Some((left.value, said.value)),
        (None, None) => None,
        _ => {
            return Err(row.lacks(
                &["left", "left-said"],
                Fault::error(Code::MissingKey, "`left` and `left-said` stand together")
                    .at(&row.place(), "one of the two is missing here")
                    .help("write left = \"900 m2\" and left-said = 2026-04-01, the day the quarry said so"),
                report,
            ));
        }
    };
    Ok(CoverRow {
        goods: goods?,
        used: used?.map(|at| at.value),
        months: months.map_or(MONTHS, |at| at.value),
        lead_days: lead_days.value,
        reserve: reserve?.map_or_else(Area::default, |at| at.value),
        left,
        place: row.place(),
    })
}
