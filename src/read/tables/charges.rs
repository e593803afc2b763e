//! Charge rows, limits and bonds.

use smol_str::SmolStr;

use super::super::keys::{
    Named, Names, Quotes, countries, each, is_starter, kept, matches, readable, required_name,
};
use super::super::packing::{is_side, sides};
use super::super::table::{Laid, Table};
use super::super::timing::{check_time, clock, days, timing};
use super::rate::{grown, interest, rate};

use crate::fault::{At, Code, Fault, Report, Reported, gathered};
use crate::quantity::{Decimal, Hours, Money, Percent, Size, Written};
use crate::trade::{
    Basis, BondStep, ChargeRow, ContinuousBond, Exempt, Key, Lane, Leg, LimitKind, LimitOn,
    LimitRow, Matches, NominalSlab, Per, Rate, ScopeKind, TableName, Tariffs, Timber, Treatment,
    WhatOf, Window, WorkCalendar, scopes, wrong_scope,
};

pub(super) fn freight(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Freight, tariffs, names, report);
}

pub(super) fn drayage(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Drayage, tariffs, names, report);
}

pub(super) fn crating(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Crating, tariffs, names, report);
    tariffs.timber = one(top, "timber", report, timber);
    tariffs.nominal = one(top, "nominal", report, nominal);
}

/// A table that stands once, where it could be read. Otherwise its fault is told, and nothing is worked out.
pub(super) fn one<T>(
    top: &Table<'_>,
    key: &'static str,
    report: &mut Report,
    read: impl Fn(&Table<'_>, &mut Report) -> Result<T, Reported>,
) -> Option<T> {
    let row = top.inside(key, report).ok().flatten()?;
    let value = read(&row, report);
    row.finish(report);
    value.ok()
}

fn timber(row: &Table<'_>, report: &mut Report) -> Result<Timber, Reported> {
    let mass = row.required("mass", report);
    let height = row.required("height", report);
    let width = row.required("width", report);
    let length = row.required("length", report);
    let between = row.required("between", report);
    row.required_text("source", report)?;
    Ok(Timber {
        mass: mass?.value,
        height: height?.value,
        width: width?.value,
        length: length?.value,
        between: between?.value,
        place: row.place(),
    })
}

fn nominal(row: &Table<'_>, report: &mut Report) -> Result<NominalSlab, Reported> {
    let size = row.required::<Size>("size", report);
    let bundle_mass = row.required("bundle-mass", report);
    row.required_text("source", report)?;
    let size = size?;
    if !is_side(size.length) || !is_side(size.height) {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "`size` is out of range for a slab")
                .at(&size.place, format!("expected sides of {}", sides(report.units()))),
        ));
    }
    Ok(NominalSlab { size: size.value, bundle_mass: bundle_mass?.value, place: row.place() })
}

pub(super) fn fees(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Fees, tariffs, names, report);
    tariffs.bonds.extend(readable(top, "bond", report, |row, report| {
        let regime = required_name(row, "regime", Named::Regime, names, report);
        bond(row, regime, report)
    }));
}

/// The rows that stand under the head of a quote.
const HEAD: Laid = Laid::under_quote(&["charge", "limit"]);

/// The charges of a file, and the limits of freight and drayage: those that stand alone, and those of quotes.
pub(super) fn charges(
    top: &Table<'_>,
    table: TableName,
    tariffs: &mut Tariffs,
    names: &Names,
    report: &mut Report,
) {
    let quotes = Quotes::of(top, &HEAD, report);
    let calendars = &tariffs.calendars;
    let priced =
        |row: &Table<'_>, report: &mut Report| priced(row, table, calendars, names, report);
    let rows = quotes.rows("charge", report, priced);
    tariffs.charges.extend(rows.into_iter().flatten());
    if matches!(table, TableName::Freight | TableName::Drayage) {
        let at_sea = table == TableName::Freight;
        let limit = |row: &Table<'_>, report: &mut Report| limit(row, at_sea, names, report);
        tariffs.limits.extend(quotes.rows("limit", report, limit));
    }
    quotes.finish(report);
}

/// A row as many times as it has prices: `amount` may be a small table by type of container or by lane.
fn priced(
    row: &Table<'_>,
    table: TableName,
    calendars: &[WorkCalendar],
    names: &Names,
    report: &mut Report,
) -> Result<Vec<ChargeRow>, Reported> {
    let parts = row.split::<Money>("amount");
    let Some(((_, first), others)) = parts.split_first() else {
        return Ok(vec![charge(row, table, calendars, names, report)?]);
    };
    let whole = charge(first, table, calendars, names, report);
    let others = others.iter().map(|(_, part)| part.required::<Money>("amount", report));
    let others = gathered(others);
    let fits = parts.iter().map(|(by, _)| fit(row, by, names, report));
    let fits = gathered(fits);
    let (whole, others, fits) = (whole?, others?, fits?);
    if !matches!(whole.rate.value, Rate::Amount(_)) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "`each` goes with one amount, not with several")
                .at(&row.place_of("each"), "this key")
                .also(&row.place_of("amount"), "the amounts")
                .help("write a row for each amount"),
        ));
    }
    let others = others.into_iter().map(|amount| amount.map(|amount| Rate::Amount(amount.into())));
    let rates = std::iter::once(whole.rate.clone()).chain(others);
    let one = |(rate, fit): (At<Rate>, Fit)| {
        let (lane, container) = match fit {
            Fit::Lane(lane) => (Some(lane), whole.matches.container.clone()),
            Fit::Container(container) => (whole.matches.lane.clone(), Some(container)),
        };
        let matches = Matches { lane, container, ..whole.matches.clone() };
        ChargeRow { matches, place: rate.place.clone(), rate, ..whole.clone() }
    };
    Ok(rates.zip(fits).map(one).collect())
}

/// What one amount of several is for.
enum Fit {
    Lane(SmolStr),
    Container(SmolStr),
}

/// What an amount is for, by its key in `amount = { 20gp = "1850 USD" }`: a lane, or else a type of container.
fn fit(
    row: &Table<'_>,
    by: &At<String>,
    names: &Names,
    report: &mut Report,
) -> Result<Fit, Reported> {
    let (key, fit) = match Lane::read(&by.value) {
        Ok(lane) => ("lane", Fit::Lane(lane.key())),
        Err(_) => ("container", Fit::Container(kept(by.clone(), Named::Container, names).into())),
    };
    if !row.has(key) {
        return Ok(fit);
    }
    Err(report.error(
        Fault::error(Code::Contradiction, format!("the amounts are by {key}, and so is the row"))
            .at(&by.place, "an amount for this alone")
            .also(&row.place_of(key), "the row is for this alone")
            .help(format!("remove `{key}`, or write one amount")),
    ))
}

/// A cover of less than the value is hardly meant: the 10 % that are added to it are. Incoterms 2020, A5 of CIF
/// and CIP (from memory): the cover is at least the price plus 10 %, 110 %.
fn doubt_insured(share: &At<Percent>, report: &mut Report) {
    let whole = share.fraction().checked_add(Decimal::ONE);
    let whole = whole.and_then(|whole| whole.checked_mul(Decimal::ONE_HUNDRED));
    let is_on_top = share.fraction() <= Decimal::new(5, 1);
    let label = match whole.filter(|_| is_on_top) {
        Some(whole) => format!("is \"{} %\" meant?", whole.normalize()),
        None => "less than they are worth".to_owned(),
    };
    let message = format!("the goods are insured at {} of their value", share.value);
    report.add(
        Fault::warning(Code::OutOfRange, message)
            .at(&share.place, label)
            .help("`insured` is the whole cover, the 10 % on top with it: 110 % is common"),
    );
}

/// A charge row: the one shape of freight, drayage, crating and fees.
pub(super) fn charge(
    row: &Table<'_>,
    table: TableName,
    calendars: &[WorkCalendar],
    names: &Names,
    report: &mut Report,
) -> Result<ChargeRow, Reported> {
    let matches = matches(row, names, report);
    let name = row.required_text("name", report);
    let leg = row.required_word("leg", &Leg::ALL, report);
    let begun = row.word("part", &[(true, "whole"), (false, "exact")], report);
    let is_begun = matches!(&begun, Ok(Some(At { value: true, .. })));
    let rate = rate(row, is_begun, report);
    let per = row.word("per", &Per::ALL, report);
    let days = days(row, report);
    let free_days = row.count("free-days", report);
    let timing = timing(row, calendars, report);
    let hours = row.text("hours", report);
    let free_hours = row.optional::<Hours>("free-hours", report);
    let interest = interest(row, report);
    let insured = row.optional::<Percent>("insured", report);
    let cover = insured.as_ref().ok().and_then(Option::as_ref);
    if let Some(share) = cover.filter(|share| share.fraction() < Decimal::ONE) {
        doubt_insured(share, report);
    }
    let minimum = row.optional::<Money>("minimum", report);
    let maximum = row.optional::<Money>("maximum", report);
    let scope = row.word("scope", &ScopeKind::ALL, report);
    let key = row.word("key", &Key::ALL, report);
    let treatment = row.word("treatment", &Treatment::ALL, report);
    let basis = row.word("basis", &Basis::ALL, report);
    let offer = row.text("offer", report);
    let borne_by = row.word("borne-by", &[(true, "importer"), (false, "term")], report);
    let exempt = exempt(row, report);
    let valid = row.required::<Window>("valid", report);
    let read = row.date("read", report);
    let source = row.required_text("source", report);
    let (matches, offer, interest) = (matches?, offer?, interest?);
    // A regime's fees and duties are law; a broker's price under it is not.
    let by_law =
        matches.regime.is_some() && leg.as_ref().is_ok_and(|leg| leg.value == Leg::DutyAndTax);
    let usual = match (&offer, by_law) {
        (Some(_), _) => Basis::Quoted,
        (None, true) => Basis::Law,
        (None, false) => Basis::Assumed,
    };
    let (timing, per) = (timing?, per?.map_or(Per::Part, |at| at.value));
    let begun = begun?.is_some_and(|at| at.value);
    let free_days = free_days?.map_or(0, |at| at.value);
    let free_hours = free_hours?.map_or(Hours::ZERO, |at| at.value);
    let insured = insured?.map(|at| at.value);
    let charge = ChargeRow {
        table,
        matches,
        name: name?.value,
        leg: leg?.value,
        rate: rate?.map(|rate| grown(rate, insured, interest)),
        per,
        clock: clock(per, (days?, free_days, timing.day_count), (hours?, free_hours, begun)),
        minimum: minimum?.map(|at| at.value),
        maximum: maximum?.map(|at| at.value),
        scope: scope?,
        key: key?.map(|at| at.value),
        treatment: treatment?.map_or(Treatment::Stock, |at| at.value),
        basis: basis?.map_or(usual, |at| at.value),
        offer: offer.map(|at| at.value),
        by_importer: borne_by?.is_some_and(|at| at.value),
        exempt: exempt?,
        due: timing.due,
        recovered: timing.recovered,
        valid: valid?.value,
        source: source?.value,
        read: read?.map(|at| at.value),
        place: row.place(),
    };
    check_charge(&charge, row, report);
    check_time(&charge, (free_days, begun, interest.is_some()), row, report);
    Ok(charge)
}

/// Which goods are free of a fee, and on what condition.
fn exempt(row: &Table<'_>, report: &mut Report) -> Result<Option<Exempt>, Reported> {
    let claimed = countries(row, "exempt-claimed", report);
    let product_of = countries(row, "exempt-product-of", report);
    let has_some = row.has("exempt-claimed") || row.has("exempt-product-of");
    let exempt = Exempt { claimed: claimed?, product_of: product_of? };
    Ok(has_some.then_some(exempt))
}

/// What a charge row must have, beyond each key being readable.
fn check_charge(charge: &ChargeRow, row: &Table<'_>, report: &mut Report) {
    let fault = |code, message: &str, key: &str, label: &str| {
        Fault::error(code, format!("\"{}\": {message}", charge.name)).at(&row.place_of(key), label)
    };
    let of_charge = matches!(charge.rate.value.of(), Some(WhatOf::Charge(_)));
    if charge.per == Per::Part && !of_charge && !row.has("per") {
        let what = "`per` is missing";
        let fault = fault(Code::MissingKey, what, "per", "`per` is needed here")
            .help("add `per`, such as per = \"container\"");
        row.lacks(&["per"], fault, report);
    }
    if charge.leg == Leg::Goods {
        let what = "goods are priced on the invoice, not in a table";
        report.add(
            fault(Code::UnknownWord, what, "leg", "`leg` cannot be \"goods\" here")
                .help("give the leg on which the charge falls, such as \"import clearance\""),
        );
    }
    if let (Some(percent), Some(of)) = (charge.rate.value.percent(), charge.rate.value.of())
        && percent.fraction().is_sign_negative()
        && !percent.fraction().is_zero()
    {
        let what = format!("the percentage is negative: it is taken off the {}", of.word());
        report.add(
            Fault::warning(Code::Notice, format!("\"{}\": {what}", charge.name))
                .at(&charge.rate.place, "right for a rebate; otherwise delete the minus sign"),
        );
    }
    let per = charge.per;
    if let Some(of) = charge.rate.value.of()
        && !counts_once(of, per, charge.scope.as_ref().map(|at| at.value))
    {
        let what = format!("a percentage of the {} is not per {}", of.word(), per.word());
        report.add(
            fault(Code::Contradiction, &what, "per", "it would be taken again for each of them")
                .help("a percentage of goods or of the insured value is per shipment, one of the entered value per entry or per tariff line"),
        );
    }
    if per == Per::Slab && charge.key.is_some_and(|key| key != Key::Count) {
        report.add(
            fault(
                Code::Contradiction,
                "`key` has no use: a charge per slab is the same on every slab",
                "key",
                "this key",
            )
            .help("remove `key`, or charge it per shipment"),
        );
    }
    let on_value = [WhatOf::Goods, WhatOf::InsuredValue, WhatOf::EnteredValue, WhatOf::TaxedValue];
    if charge.key == Some(Key::Base)
        && !charge.rate.value.of().is_some_and(|of| on_value.contains(of))
    {
        let what = "key \"base\" needs a percentage of a value";
        report.add(fault(Code::Contradiction, what, "key", "this key").help(
            "write of = \"goods\", \"insured value\", \"entered value\" or \"taxed value\", or choose another key",
        ));
    }
    let of_insured = matches!(charge.rate.value.of(), Some(WhatOf::InsuredValue));
    if of_insured != row.has("insured") {
        let key = if of_insured { "of" } else { "insured" };
        let what = "of = \"insured value\" and `insured` need each other";
        report.add(
            fault(Code::Contradiction, what, key, "only one of the two is here").help(
                "write insured = \"110 %\" for cover of 110 % of cost, insurance and freight",
            ),
        );
    }
    if let Some((low, high)) = charge.minimum.zip(charge.maximum) {
        let other = low.currency() != high.currency();
        if other || low.amount() > high.amount() {
            let what = if other {
                "`minimum` and `maximum` are in different currencies"
            } else {
                "`minimum` is above `maximum`"
            };
            let help = if other {
                format!("write both in {}, as the charge is", high.currency())
            } else {
                format!("are they exchanged? write minimum = \"{high}\" and maximum = \"{low}\"")
            };
            report.add(
                fault(Code::Contradiction, what, "minimum", "the least it costs")
                    .also(&row.place_of("maximum"), "the most it costs")
                    .help(help),
            );
        }
    }
    if let (Some(asked), Some(serving)) = (&charge.scope, scopes(charge))
        && !serving.contains(&asked.value)
    {
        report.add(wrong_scope(&charge.name, asked, serving));
    }
}

/// Whether a percentage of something, counted by something, is taken of each part once.
fn counts_once(of: &WhatOf, per: Per, scope: Option<ScopeKind>) -> bool {
    match of {
        _ if per == Per::Part => true,
        WhatOf::Charge(_) => true,
        WhatOf::EnteredValue | WhatOf::TaxedValue => matches!(per, Per::Entry | Per::TariffLine),
        WhatOf::SingleBond | WhatOf::ContinuousBond => per == Per::Entry,
        WhatOf::Payments => per == Per::Shipment,
        WhatOf::Goods | WhatOf::InsuredValue | WhatOf::Leg(_) => match per {
            Per::Shipment
            | Per::Bill
            | Per::Entry
            | Per::TariffLine
            | Per::Bundle
            | Per::Day
            | Per::Month
            | Per::Quarter => true,
            Per::Container => scope == Some(ScopeKind::Container),
            Per::Slab | Per::Tonne | Per::M2 | Per::Hour | Per::Part => false,
        },
    }
}

/// Reads a `[[bond]]`.
pub(super) fn bond(
    row: &Table<'_>,
    regime: Result<String, Reported>,
    report: &mut Report,
) -> Result<ContinuousBond, Reported> {
    let annual = row.required::<Money>("annual", report);
    let entries = row.count("entries", report);
    let least = row.required::<Money>("least", report);
    let share = row.required::<Percent>("share", report);
    let steps = each(row, "steps", report, |row, report| {
        let to = row.optional::<Money>("to", report);
        let by = row.required::<Money>("by", report);
        Ok(BondStep { to: to?.map(|at| at.value), by: by?.value })
    });
    let valid = row.required::<Window>("valid", report);
    let source = row.required_text("source", report);
    let (annual, least, steps) = (annual?, least?, steps?);
    let currency = annual.currency();
    let amounts = steps.iter().flat_map(|step| step.to.into_iter().chain([step.by]));
    if amounts.chain([least.value]).any(|amount| amount.currency() != currency) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "the bond is in two currencies")
                .at(&row.place(), format!("`annual` is in {currency}")),
        ));
    }
    let entries = match entries? {
        Some(entries) if entries.value > 0 => entries.value,
        _ => {
            return Err(report.error(
                Fault::error(
                    Code::MissingKey,
                    "the continuous bond lacks `entries`: those that share it",
                )
                .at(&row.place_of("entries"), "`entries` is needed here, from 1 up")
                .help("add the entries of a year, such as entries = 14"),
            ));
        }
    };
    Ok(ContinuousBond {
        regime: regime?,
        annual: annual.value,
        entries,
        least: least.value,
        share: share?.value,
        steps,
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    })
}

pub(super) fn limit(
    row: &Table<'_>,
    at_sea: bool,
    names: &Names,
    report: &mut Report,
) -> Result<LimitRow, Reported> {
    let matches = matches(row, names, report);
    let name = row.required_text("name", report);
    let cargo = row.optional("cargo", report);
    let gross = row.optional("gross", report);
    let kind = row.required_word("kind", &LimitKind::ALL, report);
    let offer = row.text("offer", report);
    let starter = is_starter(row, report);
    let valid = row.required("valid", report);
    let source = row.required_text("source", report);
    let (on, mass) = match (cargo?, gross?) {
        (Some(mass), None) => (LimitOn::Cargo, mass),
        (None, Some(mass)) => (LimitOn::Gross, mass),
        _ => {
            let fault =
                Fault::error(Code::MissingKey, "a limit is either on `cargo` or on `gross`")
                    .at(&row.place(), "expected one of the two")
                    .help("write cargo = \"44000 lb\" for cargo, timber and dunnage, or gross = \"30480 kg\" with the tare in it");
            return Err(row.lacks(&["cargo", "gross"], fault, report));
        }
    };
    Ok(LimitRow {
        matches: matches?,
        name: name?.value,
        on,
        mass: mass.value,
        kind: kind?.value,
        offer: offer?.map(|at| at.value),
        valid: valid?.value,
        at_sea,
        is_starter: starter?,
        source: source?.value,
        place: row.place(),
    })
}
