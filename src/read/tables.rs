//! `rates/*.toml` into the tariffs.

use std::cell::RefCell;
use std::collections::BTreeMap;

use super::duty::duty;
use super::packing::is_side;
use super::rigs::{check_rigs, rigs, roads};
use super::table::{self, Table};
use super::timing::{calendars, check_time, days, tiers, timing};
use super::workspace::Workspace;
use crate::fault::{At, Code, Fault, Place, Report};
use crate::files;
use crate::quantity::{
    Decimal, Density, Hours, Length, Malformed, Money, Percent, Size, UnitAmount, Written,
};
use crate::trade::{
    Basis, BondStep, ChargeRow, ContainerType, ContinuousBond, Country, EntryKind, Event,
    ExchangeRow, ExchangeUse, Interest, Key, Leg, LimitKind, LimitOn, LimitRow, Matches, Mode,
    NominalSlab, Per, Rate, ScopeKind, Stone, TableName, TariffRow, Tariffs, Timber, Treatment,
    WhatOf, Window, WorkCalendar, Yard, scopes, wrong_scope,
};

/// Reads every table of `rates/`. `None`: a fault is in the report.
pub fn tariffs(workspace: &Workspace, report: &mut Report) -> Option<Tariffs> {
    let tariffs = tables(workspace, report);
    (!report.has_errors()).then_some(tariffs)
}

/// What can be read of the tables of `rates/`; what cannot is in the report.
pub fn tables(workspace: &Workspace, report: &mut Report) -> Tariffs {
    let mut tariffs = Tariffs::default();
    let names = Names::default();
    for (stem, fill) in FILES {
        let path = workspace.root().join("rates").join(format!("{stem}.toml"));
        let name = workspace.name_of(&path);
        if OPTIONAL.contains(&stem) && !path.exists() {
            continue;
        }
        let Some(source) = files::read(&path, &name, report) else {
            continue;
        };
        table::parse(&source, report, |top, report| {
            fill(top, &mut tariffs, &names, report);
            Some(())
        });
    }
    check_references(&tariffs, &names.into_inner(), report);
    check_rigs(&tariffs, report);
    check_duplicates(&tariffs, report);
    check_overlaps(&tariffs, report);
    tariffs
}

type Fill = fn(&Table<'_>, &mut Tariffs, &Names, &mut Report);

/// Names in a table that refer to rows of another, with their places, to be looked up once all
/// tables are read.
pub(super) type Names = RefCell<Vec<(Named, At<String>)>>;

/// What a name refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Named {
    Container,
    Yard,
    Stone,
    Regime,
}

/// Reads a name that refers to a row of another table, and keeps it to be looked up.
fn name(
    row: &Table<'_>,
    key: &'static str,
    what: Named,
    names: &Names,
    report: &mut Report,
) -> Option<String> {
    let name = row.text(key, report)?;
    names.borrow_mut().push((what, name.clone()));
    Some(name.value)
}

/// The files of `rates/` in the order they are read.
const FILES: [(&str, Fill); 12] = [
    // Before the tables whose rows name a calendar.
    ("calendars", |top, tariffs, _, report| tariffs.calendars = calendars(top, report)),
    ("stones", stones),
    ("containers", containers),
    ("yards", yards),
    ("freight", freight),
    ("drayage", drayage),
    ("crating", crating),
    ("fees", fees),
    ("duty", duty),
    ("exchange", exchange),
    ("roads", roads),
    ("rigs", rigs),
];

/// Those that a workspace may do without: then no working day is counted, nothing is known of
/// axles, and no law of the road is checked.
const OPTIONAL: [&str; 3] = ["calendars", "roads", "rigs"];

/// The same for a name that must be there.
pub(super) fn required_name(
    row: &Table<'_>,
    key: &'static str,
    what: Named,
    names: &Names,
    report: &mut Report,
) -> Option<String> {
    let name = row.required_text(key, report)?;
    names.borrow_mut().push((what, name.clone()));
    Some(name.value)
}

/// Reads every row of an array with `read`, reports its unknown keys, and gives what could be read.
pub(super) fn each<T>(
    top: &Table<'_>,
    key: &'static str,
    report: &mut Report,
    read: impl Fn(&Table<'_>, &mut Report) -> Option<T>,
) -> Vec<T> {
    let mut all = Vec::new();
    for row in top.rows(key, report) {
        let value = read(&row, report);
        row.finish(report);
        all.extend(value);
    }
    all
}

/// Reads a list of country codes.
pub(super) fn countries(row: &Table<'_>, key: &'static str, report: &mut Report) -> Vec<Country> {
    let mut all = Vec::new();
    for text in row.texts(key, report) {
        match Country::read(&text) {
            Ok(country) => all.push(country),
            Err(fault) => report.add(
                Fault::error(Code::BadQuantity, format!("`{key}` holds \"{}\"", text.value))
                    .at(&text.place, format!("expected {}", fault.expected)),
            ),
        }
    }
    all
}

/// No stone that is sawn is lighter than pumice or heavier than ore, in kg/m3 (common knowledge;
/// a figure outside is a slip of the unit or the point).
const LIGHTEST: Decimal = Decimal::from_parts(300, 0, 0, false, 0);
const HEAVIEST: Decimal = Decimal::from_parts(8_000, 0, 0, false, 0);

/// More days than any delivery takes.
const MOST_DAYS: u32 = 366;

fn stones(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    tariffs.stones = each(top, "stone", report, |row, report| {
        let tariff = each(row, "tariff", report, |row, report| tariff_row(row, names, report));
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let kind = row.required_text("kind", report);
        let density = row.required::<Density>("density", report);
        let margin = row.optional::<Percent>("thickness-margin", report);
        let origin = row.required("origin", report);
        let source = row.required_text("source", report);
        source?;
        let figure = density.as_ref().map(|density| density.value.to_kg_per_m3(0));
        if let Some(density) =
            density.as_ref().filter(|_| figure.is_some_and(|kg| kg < LIGHTEST || kg > HEAVIEST))
        {
            report.add(
                Fault::error(Code::OutOfRange, "`density` is no density of a stone")
                    .at(&density.place, format!("expected {LIGHTEST} to {HEAVIEST} kg/m3")),
            );
            return None;
        }
        Some(Stone {
            id: id?.value,
            name: name?.value,
            kind: kind?.value,
            density: density?.value,
            thickness_margin: margin.map_or(Percent::ZERO, |at| at.value),
            origin: origin?.value,
            tariff,
            place: row.place(),
        })
    });
}

fn tariff_row(row: &Table<'_>, names: &Names, report: &mut Report) -> Option<TariffRow> {
    let regime = required_name(row, "regime", Named::Regime, names, report);
    let finish = row.text("finish", report);
    let form = row.text("form", report);
    let line = row.required_text("line", report);
    let restricted = row.text("restricted", report);
    let source = row.required_text("source", report);
    source?;
    Some(TariffRow {
        regime: regime?,
        finish: finish.map(|at| at.value),
        form: form.map(|at| at.value),
        line: line?.value,
        restricted: restricted.map(|at| at.value),
        place: row.place(),
    })
}

/// Inside and door measures: sides that share a unit.
struct Sides<const N: usize>([Length; N]);

impl Written for Sides<3> {
    const FORM: &'static str = "length, width and height, such as \"5896 x 2350 x 2393 mm\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        crate::quantity::read_sides(text, Self::FORM).map(Self)
    }
}

impl Written for Sides<2> {
    const FORM: &'static str = "width and height, such as \"2340 x 2274 mm\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        crate::quantity::read_sides(text, Self::FORM).map(Self)
    }
}

/// Longer than any container: the longest in use has 53 feet (ISO 668 ends at 45).
const LONGEST_BOX_MM: i64 = 20_000;

fn containers(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    tariffs.containers = each(top, "container", report, |row, report| {
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let inside = row.required::<Sides<3>>("inside", report);
        let door = row.required::<Sides<2>>("door", report);
        let max_gross = row.required("max-gross", report);
        let tare = row.required("tare", report);
        let line_load = row.required("line-load", report);
        let bracing = row.required("bracing", report);
        let end_bracing = row.required("end-bracing", report);
        let clearance = row.required("clearance", report);
        let securing = row.required("securing", report);
        row.required_text("source", report)?;
        let sides = [("inside", inside.as_ref().map(|at| &at.value.0[..]))];
        let doors = [("door", door.as_ref().map(|at| &at.value.0[..]))];
        for (key, measures) in sides.into_iter().chain(doors) {
            let mut measures = measures.into_iter().flatten();
            if measures.any(|side| side.is_none() || side.mm_up() > LONGEST_BOX_MM) {
                report.add(
                    Fault::error(Code::OutOfRange, format!("`{key}` is no measure of a container"))
                        .at(&row.place_of(key), "expected more than 0 and at most 20 m"),
                );
                return None;
            }
        }
        let container = ContainerType {
            id: id?.value,
            name: name?.value,
            inside: inside?.value.0,
            door: door?.value.0,
            max_gross: max_gross?.value,
            tare: tare?.value,
            line_load: line_load?.value,
            bracing: bracing?.value,
            end_bracing: end_bracing?.value,
            clearance: clearance?.value,
            securing: securing?.value,
            place: row.place(),
        };
        if container.payload().is_ok_and(crate::quantity::Mass::is_none) {
            report.add(
                Fault::error(Code::OutOfRange, "`tare` is not below `max-gross`")
                    .at(&row.place_of("tare"), "this container could carry nothing")
                    .also(&row.place_of("max-gross"), "all that it may weigh"),
            );
        }
        Some(container)
    });
}

fn yards(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    tariffs.yards = each(top, "yard", report, |row, report| {
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let country = row.required("country", report);
        let port = row.required("port", report);
        let currency = row.required("currency", report);
        let regime = required_name(row, "regime", Named::Regime, names, report);
        let lift = row.required("lift", report);
        let crane = row.optional("crane", report);
        let delivery_days = row.count("delivery-days", report);
        row.required_text("source", report)?;
        if let Some(days) = delivery_days.as_ref().filter(|days| days.value > MOST_DAYS) {
            report.add(
                Fault::error(Code::OutOfRange, "`delivery-days` is more than a year")
                    .at(&days.place, format!("expected at most {MOST_DAYS}")),
            );
            return None;
        }
        Some(Yard {
            id: id?.value,
            name: name?.value,
            country: country?.value,
            port: port?.value,
            currency: currency?.value,
            regime: regime?,
            lift: lift?.value,
            crane: crane.map(|at| at.value),
            delivery_days: delivery_days.map_or(0, |at| at.value),
            place: row.place(),
        })
    });
}

fn freight(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Freight, tariffs, names, report);
    let limits = each(top, "limit", report, |row, report| limit(row, true, names, report));
    tariffs.limits.extend(limits);
}

fn drayage(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Drayage, tariffs, names, report);
    let limits = each(top, "limit", report, |row, report| limit(row, false, names, report));
    tariffs.limits.extend(limits);
}

fn crating(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Crating, tariffs, names, report);
    tariffs.timber = top.inside("timber", report).and_then(|row| {
        let mass = row.required("mass", report);
        let height = row.required("height", report);
        let width = row.required("width", report);
        let length = row.required("length", report);
        let between = row.required("between", report);
        let source = row.required_text("source", report);
        row.finish(report);
        source?;
        Some(Timber {
            mass: mass?.value,
            height: height?.value,
            width: width?.value,
            length: length?.value,
            between: between?.value,
            place: row.place(),
        })
    });
    tariffs.nominal = top.inside("nominal", report).and_then(|row| {
        let size = row.required("size", report);
        let bundle_mass = row.required("bundle-mass", report);
        let source = row.required_text("source", report);
        row.finish(report);
        source?;
        let size: At<Size> = size?;
        if !is_side(size.length) || !is_side(size.height) {
            report.add(
                Fault::error(Code::OutOfRange, "`size` is no size of a slab")
                    .at(&size.place, "expected sides of 0.1 m to 6 m"),
            );
            return None;
        }
        Some(NominalSlab { size: size.value, bundle_mass: bundle_mass?.value, place: row.place() })
    });
}

fn fees(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    charges(top, TableName::Fees, tariffs, names, report);
    tariffs.bonds = each(top, "bond", report, |row, report| {
        let regime = required_name(row, "regime", Named::Regime, names, report);
        bond(row, regime, report)
    });
}

fn charges(
    top: &Table<'_>,
    table: TableName,
    tariffs: &mut Tariffs,
    names: &Names,
    report: &mut Report,
) {
    let calendars = &tariffs.calendars;
    let read = |row: &Table<'_>, report: &mut Report| charge(row, table, calendars, names, report);
    let rows = each(top, "charge", report, read);
    tariffs.charges.extend(rows);
}

/// A charge row: the one shape of freight, drayage, crating and fees.
fn charge(
    row: &Table<'_>,
    table: TableName,
    calendars: &[WorkCalendar],
    names: &Names,
    report: &mut Report,
) -> Option<ChargeRow> {
    let matches = matches(row, names, report);
    let name = row.required_text("name", report);
    let leg = row.required_word("leg", &Leg::ALL, report);
    let rate = rate(row, report);
    let per = row.word("per", &Per::ALL, report);
    let days = days(row, report);
    let free_days = row.count("free-days", report);
    let timing = timing(row, calendars, report);
    let hours = row.text("hours", report);
    let free_hours = row.optional::<Hours>("free-hours", report);
    let begun = row.word("part", &[(true, "whole"), (false, "exact")], report);
    let interest = interest(row, report);
    let insured = row.optional::<Percent>("insured", report);
    let minimum = row.optional::<Money>("minimum", report);
    let maximum = row.optional::<Money>("maximum", report);
    let scope = row.word("scope", &ScopeKind::ALL, report);
    let key = row.word("key", &Key::ALL, report);
    let treatment = row.word("treatment", &Treatment::ALL, report);
    let basis = row.word("basis", &Basis::ALL, report);
    let offer = row.text("offer", report);
    let borne_by = row.word("borne-by", &[(true, "importer"), (false, "term")], report);
    let exempt_origins = countries(row, "exempt-origins", report);
    let valid = row.required::<Window>("valid", report);
    let source = row.required_text("source", report);
    // A regime's fees and duties are law; a broker's price under it is not.
    let by_law =
        matches.regime.is_some() && leg.as_ref().is_some_and(|leg| leg.value == Leg::DutyAndTax);
    let usual = match (&offer, by_law) {
        (Some(_), _) => Basis::Quoted,
        (None, true) => Basis::Law,
        (None, false) => Basis::Assumed,
    };
    let timing = timing?;
    let charge = ChargeRow {
        table,
        matches,
        name: name?.value,
        leg: leg?.value,
        rate: rate?,
        per: per.map(|at| at.value),
        days,
        free_days: free_days.map_or(0, |at| at.value),
        day_count: timing.day_count,
        hours,
        free_hours: free_hours.map_or(Hours::ZERO, |at| at.value),
        begun: begun.is_some_and(|at| at.value),
        interest,
        insured: insured.map(|at| at.value),
        minimum: minimum.map(|at| at.value),
        maximum: maximum.map(|at| at.value),
        scope,
        key: key.map(|at| at.value),
        treatment: treatment.map_or(Treatment::Stock, |at| at.value),
        basis: basis.map_or(usual, |at| at.value),
        offer: offer.map(|at| at.value),
        by_importer: borne_by.is_some_and(|at| at.value),
        exempt_origins,
        due: timing.due,
        recovered: timing.recovered,
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    };
    check_charge(&charge, row, report);
    Some(charge)
}

/// What a charge row must have, beyond each key being readable.
fn check_charge(charge: &ChargeRow, row: &Table<'_>, report: &mut Report) {
    let fault = |code, message: &str, key: &str, label: &str| {
        Fault::error(code, format!("\"{}\": {message}", charge.name)).at(&row.place_of(key), label)
    };
    let of_charge = matches!(charge.rate.value.of(), Some(WhatOf::Charge(_)));
    if charge.per.is_none() && !of_charge && !row.has("per") {
        let what = "it does not say what it is counted by";
        report.add(
            fault(Code::MissingKey, what, "per", "`per` is needed here")
                .help("add `per`, such as per = \"container\""),
        );
    }
    if charge.leg == Leg::Goods {
        let what = "goods are priced on the invoice, not in a table";
        report.add(
            fault(Code::UnknownWord, what, "leg", "`leg` cannot be \"goods\" here")
                .help("give the leg on which the charge falls, such as \"import clearance\""),
        );
    }
    check_time(charge, row, report);
    if let Rate::Percent(percent, of) = &charge.rate.value
        && percent.fraction().is_sign_negative()
        && !percent.fraction().is_zero()
    {
        let what = format!("a percentage below nothing takes off what it is of, {}", of.word());
        report.add(
            Fault::warning(Code::Notice, format!("\"{}\": {what}", charge.name))
                .at(&charge.rate.place, "right for a rebate; otherwise take the sign away"),
        );
    }
    if let (Some(of), Some(per)) = (charge.rate.value.of(), charge.per)
        && !counts_once(of, per, charge.scope.as_ref().map(|at| at.value))
    {
        let what = format!("a percentage of the {} is not per {}", of.word(), per.word());
        report.add(
            fault(Code::Contradiction, &what, "per", "it would be taken again for each of them")
                .help("a percentage of goods or of the insured value is per shipment, one of the entered value per entry or per tariff line"),
        );
    }
    let of_insured = matches!(charge.rate.value.of(), Some(WhatOf::InsuredValue));
    if of_insured != row.has("insured") {
        let key = if of_insured { "of" } else { "insured" };
        let what = "`insured` and `of = \"insured value\"` go together";
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
            report.add(
                fault(Code::Contradiction, what, "minimum", "the least it costs")
                    .also(&row.place_of("maximum"), "the most it costs"),
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
            Per::Slab | Per::Tonne | Per::M2 | Per::Hour => false,
        },
    }
}

pub(super) fn matches(row: &Table<'_>, names: &Names, report: &mut Report) -> Matches {
    let lane = row.optional::<crate::trade::Lane>("lane", report).map(|at| at.value.to_string());
    let port = row.optional::<crate::trade::Port>("port", report).map(|at| at.value.to_string());
    Matches {
        lane,
        port,
        term_place: row.text("term-place", report).map(|at| at.value),
        container: name(row, "container", Named::Container, names, report),
        class: row.text("class", report).map(|at| at.value),
        yard: name(row, "yard", Named::Yard, names, report),
        regime: name(row, "regime", Named::Regime, names, report),
        stone: name(row, "stone", Named::Stone, names, report),
        entry: row.word("entry", &EntryKind::ALL, report).map(|at| at.value.word().to_owned()),
        mode: row.word("mode", &Mode::ALL, report).map(|at| at.value.word().to_owned()),
    }
}

/// What a row charges: `amount`; `rate` with `of`; `amount` for `each` so much `of` something; or
/// `tiers`.
fn rate(row: &Table<'_>, report: &mut Report) -> Option<At<Rate>> {
    // What is paid for is one of many: a tonne, a day. What it comes to is rounded, not its price.
    let per = row.word("per", &Per::ALL, report).filter(|_| !row.has("each"));
    let amount = if per.is_some_and(|per| per.is_fine()) {
        row.optional::<UnitAmount>("amount", report)
    } else {
        row.optional::<Money>("amount", report).map(|at| at.map(UnitAmount::from))
    };
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
        let amount = row.optional::<Money>("amount", report);
        return each_of(row, amount, each, of, report);
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
                report.add(
                    fault(Code::MissingKey, "a charge has neither `amount` nor `rate`")
                        .help(way_out),
                );
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
    of: Option<At<String>>,
    report: &mut Report,
) -> Option<At<Rate>> {
    for key in ["amount", "of"] {
        if !row.has(key) {
            report.add(
                Fault::error(Code::MissingKey, format!("`each` is without `{key}`"))
                    .at(&row.place_of("each"), format!("`{key}` is needed as well"))
                    .help("write amount = \"5 USD\", each = \"1000 USD\", of = \"single bond\""),
            );
        }
    }
    let (amount, each, of) = (amount?, each?, of?);
    if each.is_zero() {
        report.add(
            Fault::error(Code::OutOfRange, "`each` is nothing")
                .at(&each.place, "expected more than nothing"),
        );
        return None;
    }
    let of = WhatOf::of(of.value);
    Some(At {
        value: Rate::Each { amount: amount.value, each: each.value, of },
        place: amount.place,
    })
}

/// Reads what turns a percentage of payments into interest: `days-in-year` and `until`.
fn interest(row: &Table<'_>, report: &mut Report) -> Option<Interest> {
    let days = row.count("days-in-year", report);
    let until = row.word("until", &Event::ALL, report);
    let days = days.filter(|days| {
        let is_year = matches!(days.value, 360 | 365 | 366);
        if !is_year {
            report.add(
                Fault::error(Code::OutOfRange, "`days-in-year` is no length of a year")
                    .at(&days.place, "expected 360, 365 or 366"),
            );
        }
        is_year
    });
    Some(Interest { days_in_year: days?.value, until: until?.value })
}

/// Reads a `[[bond]]`.
fn bond(row: &Table<'_>, regime: Option<String>, report: &mut Report) -> Option<ContinuousBond> {
    let annual = row.required::<Money>("annual", report);
    let entries = row.count("entries", report);
    let least = row.required::<Money>("least", report);
    let share = row.required::<Percent>("share", report);
    let steps = each(row, "steps", report, |row, report| {
        let to = row.optional::<Money>("to", report);
        let by = row.required::<Money>("by", report);
        Some(BondStep { to: to.map(|at| at.value), by: by?.value })
    });
    let valid = row.required::<Window>("valid", report);
    let source = row.required_text("source", report);
    let (annual, least) = (annual?, least?);
    let currency = annual.currency();
    let amounts = steps.iter().flat_map(|step| step.to.into_iter().chain([step.by]));
    if amounts.chain([least.value]).any(|amount| amount.currency() != currency) {
        report.add(
            Fault::error(Code::Contradiction, "a bond in two currencies")
                .at(&row.place(), format!("`annual` is in {currency}")),
        );
        return None;
    }
    let entries = match entries {
        Some(entries) if entries.value > 0 => entries.value,
        _ => {
            report.add(
                Fault::error(Code::MissingKey, "a continuous bond does not say who shares it")
                    .at(&row.place_of("entries"), "`entries` is needed here, from 1 up")
                    .help("add the entries of a year, such as entries = 14"),
            );
            return None;
        }
    };
    Some(ContinuousBond {
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

fn limit(row: &Table<'_>, at_sea: bool, names: &Names, report: &mut Report) -> Option<LimitRow> {
    let matches = matches(row, names, report);
    let name = row.required_text("name", report);
    let cargo = row.optional("cargo", report);
    let gross = row.optional("gross", report);
    let kind = row.required_word("kind", &LimitKind::ALL, report);
    let offer = row.text("offer", report);
    let valid = row.required("valid", report);
    let source = row.required_text("source", report);
    let (on, mass) = match (cargo, gross) {
        (Some(mass), None) => (LimitOn::Cargo, mass),
        (None, Some(mass)) => (LimitOn::Gross, mass),
        _ => {
            report.add(
                Fault::error(Code::MissingKey, "a limit is either on `cargo` or on `gross`")
                    .at(&row.place(), "expected one of the two")
                    .help("write cargo = \"44000 lb\" for cargo, timber and dunnage, or gross = \"30480 kg\" with the tare in it"),
            );
            return None;
        }
    };
    Some(LimitRow {
        matches,
        name: name?.value,
        on,
        mass: mass.value,
        kind: kind?.value,
        offer: offer.map(|at| at.value),
        valid: valid?.value,
        at_sea,
        source: source?.value,
        place: row.place(),
    })
}

fn exchange(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    tariffs.exchange = each(top, "exchange", report, |row, report| {
        let used_for = row.required_word("use", &ExchangeUse::ALL, report);
        let quote = row.required("quote", report);
        let valid = row.required("valid", report);
        let source = row.required_text("source", report);
        Some(ExchangeRow {
            used_for: used_for?.value,
            quote: quote?,
            valid: valid?.value,
            source: source?.value,
            place: row.place(),
        })
    });
}

/// Names in the tables must be those of rows of other tables.
fn check_references(tariffs: &Tariffs, names: &[(Named, At<String>)], report: &mut Report) {
    let containers: Vec<&str> = tariffs.containers.iter().map(|row| row.id.as_str()).collect();
    let yards: Vec<&str> = tariffs.yards.iter().map(|row| row.id.as_str()).collect();
    let stones: Vec<&str> = tariffs.stones.iter().map(|row| row.id.as_str()).collect();
    let regimes: Vec<&str> = tariffs.regimes.iter().map(|row| row.id.as_str()).collect();
    for (named, name) in names {
        let (what, home, known) = match named {
            Named::Container => ("container type", "rates/containers.toml", &containers),
            Named::Yard => ("yard", "rates/yards.toml", &yards),
            Named::Stone => ("stone", "rates/stones.toml", &stones),
            Named::Regime => ("regime", "rates/duty.toml", &regimes),
        };
        if !known.contains(&name.value.as_str()) {
            table::add_unknown(what, name, home, known, report);
        }
    }
}

/// Things that one name is given to twice.
fn check_duplicates(tariffs: &Tariffs, report: &mut Report) {
    let stones = tariffs.stones.iter().map(|row| ("stones", row.id.clone(), &row.place));
    let containers =
        tariffs.containers.iter().map(|row| ("container types", row.id.clone(), &row.place));
    let yards = tariffs.yards.iter().map(|row| ("yards", row.id.clone(), &row.place));
    let mut seen: BTreeMap<(&str, String), &Place> = BTreeMap::new();
    for (what, id, place) in stones.chain(containers).chain(yards) {
        let message = format!("two {what} are called \"{id}\"");
        if let Some(first) = seen.insert((what, id), place) {
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(place, "again here")
                    .also(first, "first here")
                    .help("give one of them another `id`, or remove it"),
            );
        }
    }
    for stone in &tariffs.stones {
        let mut lines: BTreeMap<(&str, Option<&str>, Option<&str>), &TariffRow> = BTreeMap::new();
        for row in &stone.tariff {
            let key = (row.regime.as_str(), row.finish.as_deref(), row.form.as_deref());
            let Some(first) = lines.insert(key, row) else {
                continue;
            };
            let message = format!("stone \"{}\" has two tariff lines for one finish", stone.id);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&row.place, row.line.clone())
                    .also(&first.place, first.line.clone())
                    .help("keep one of them, or say which `finish` each is for"),
            );
        }
    }
}

/// A row that alone may serve its purpose: what makes the purpose, and its name to the user.
struct Serving<'a> {
    key: String,
    what: String,
    by_offer: bool,
    window: Window,
    place: &'a Place,
}

/// Two rows for one purpose whose windows share a day.
fn check_overlaps(tariffs: &Tariffs, report: &mut Report) {
    let charges = tariffs.charges.iter().map(|row| {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        Serving {
            key: format!("charge {} {:?} {given:?} {offer}", row.name, row.table),
            what: format!("\"{}\"", row.name),
            by_offer: true,
            window: row.valid,
            place: &row.place,
        }
    });
    let limits = tariffs.limits.iter().map(|row| {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        Serving {
            key: format!("limit {} {given:?} {offer}", row.name),
            what: format!("the limit \"{}\"", row.name),
            by_offer: true,
            window: row.valid,
            place: &row.place,
        }
    });
    let rigs = tariffs.rigs.iter().map(|row| {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        Serving {
            key: format!("rig {given:?} {offer}"),
            what: format!("the rig \"{}\"", row.id),
            by_offer: true,
            window: row.valid,
            place: &row.place,
        }
    });
    let roads = tariffs.roads.iter().map(|row| Serving {
        key: format!("road {}", row.id),
        what: format!("the road \"{}\"", row.id),
        by_offer: false,
        window: row.valid,
        place: &row.place,
    });
    let duties = tariffs.duties.iter().map(|row| {
        let layer = if row.is_base() { "base duty" } else { row.name.as_str() };
        let (kind, whose) = (row.kind.word(), (&row.producer, &row.programme, &row.loaded));
        Serving {
            key: format!("{kind} {layer} {} {} {:?} {whose:?}", row.regime, row.line, row.origins),
            what: format!("the {layer} on {}", row.line),
            by_offer: false,
            window: row.valid,
            place: &row.place,
        }
    });
    let exchange = tariffs.exchange.iter().map(|row| {
        let mut pair = [row.quote.base().code(), row.quote.counter().code()];
        pair.sort_unstable();
        let used_for = row.used_for.word();
        Serving {
            key: format!("exchange {used_for} {pair:?}"),
            what: format!("{} and {}, use \"{used_for}\"", pair[0], pair[1]),
            by_offer: false,
            window: row.valid,
            place: &row.place,
        }
    });
    let regimes = tariffs.regimes.iter().map(|row| Serving {
        key: format!("regime {}", row.id),
        what: format!("regime \"{}\"", row.id),
        by_offer: false,
        window: row.valid,
        place: &row.place,
    });
    let mut seen: BTreeMap<String, Vec<(Window, &Place)>> = BTreeMap::new();
    for row in
        charges.chain(limits).chain(rigs).chain(roads).chain(duties).chain(exchange).chain(regimes)
    {
        let earlier = seen.entry(row.key).or_default();
        if let Some((other, first)) = earlier.iter().find(|(other, _)| other.meets(&row.window)) {
            let day = other.from.max(row.window.from);
            let offers = if row.by_offer { "give them different offers, " } else { "" };
            report.add(
                Fault::error(Code::AmbiguousRate, format!("two rows serve {} on {day}", row.what))
                    .at(row.place, format!("in force {}", row.window))
                    .also(first, format!("in force {other}"))
                    .help(format!(
                        "end the older row's `valid` before the newer begins, {offers}or remove one"
                    )),
            );
        }
        earlier.push((row.window, row.place));
    }
}
