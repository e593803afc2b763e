//! `rates/*.toml` into the tariffs.

use super::rigs::{check_rigs, rigs, roads};
use super::table::{self, Table, unknown_reference};
use super::workspace::Workspace;
use crate::fault::{At, Code, Fault, Report};
use crate::files;
use crate::quantity::{Length, Malformed, Money, Percent, Written};
use crate::trade::{
    Basis, ChargeRow, ContainerType, Country, DutyRow, Event, ExchangeRow, ExchangeUse, Key, Leg,
    LimitKind, LimitOn, LimitRow, Matches, NominalSlab, Per, Rate, Regime, ScopeKind, Stone,
    TableName, TariffRow, Tariffs, Timber, Treatment, ValueBasis, WhatOf, Window, Yard,
};

/// Reads every table of `rates/`. `None`: a fault is in the report.
pub fn tariffs(workspace: &Workspace, report: &mut Report) -> Option<Tariffs> {
    let mut tariffs = Tariffs::default();
    let mut all = true;
    for (stem, fill) in FILES {
        let path = workspace.root().join("rates").join(format!("{stem}.toml"));
        let name = workspace.name_of(&path);
        if OPTIONAL.contains(&stem) && !path.exists() {
            continue;
        }
        let read = files::read(&path, &name, report).and_then(|source| {
            table::parse(&source, report, |top, report| {
                fill(top, &mut tariffs, report);
                Some(())
            })
        });
        all &= read.is_some();
    }
    check_references(&tariffs, report);
    check_rigs(&tariffs, report);
    check_overlaps(&tariffs, report);
    (all && !report.has_errors()).then_some(tariffs)
}

type Fill = fn(&Table<'_>, &mut Tariffs, &mut Report);

/// The files of `rates/` in the order they are read.
const FILES: [(&str, Fill); 11] = [
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

/// Those that a workspace may do without: then nothing is known of axles, and no law is checked.
const OPTIONAL: [&str; 2] = ["roads", "rigs"];

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

fn stones(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
    tariffs.stones = each(top, "stone", report, |row, report| {
        let tariff = each(row, "tariff", report, tariff_row);
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let kind = row.required_text("kind", report);
        let density = row.required("density", report);
        let margin = row.optional::<Percent>("thickness-margin", report);
        let origin = row.required("origin", report);
        let source = row.required_text("source", report);
        source?;
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

fn tariff_row(row: &Table<'_>, report: &mut Report) -> Option<TariffRow> {
    let regime = row.required_text("regime", report);
    let finish = row.text("finish", report);
    let line = row.required_text("line", report);
    let source = row.required_text("source", report);
    source?;
    Some(TariffRow {
        regime: regime?.value,
        finish: finish.map(|at| at.value),
        line: line?.value,
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

fn containers(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
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
                    .at(&container.place, "this container could carry nothing"),
            );
        }
        Some(container)
    });
}

fn yards(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
    tariffs.yards = each(top, "yard", report, |row, report| {
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let country = row.required("country", report);
        let port = row.required("port", report);
        let currency = row.required("currency", report);
        let regime = row.required_text("regime", report);
        let lift = row.required("lift", report);
        let crane = row.optional("crane", report);
        let delivery_days = row.count("delivery-days", report);
        row.required_text("source", report)?;
        Some(Yard {
            id: id?.value,
            name: name?.value,
            country: country?.value,
            port: port?.value,
            currency: currency?.value,
            regime: regime?.value,
            lift: lift?.value,
            crane: crane.map(|at| at.value),
            delivery_days: delivery_days.map_or(0, |at| at.value),
            place: row.place(),
        })
    });
}

fn freight(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
    charges(top, TableName::Freight, tariffs, report);
    let limits = each(top, "limit", report, |row, report| limit(row, true, report));
    tariffs.limits.extend(limits);
}

fn drayage(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
    charges(top, TableName::Drayage, tariffs, report);
    let limits = each(top, "limit", report, |row, report| limit(row, false, report));
    tariffs.limits.extend(limits);
}

fn crating(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
    charges(top, TableName::Crating, tariffs, report);
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
        Some(NominalSlab { size: size?.value, bundle_mass: bundle_mass?.value, place: row.place() })
    });
}

fn fees(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
    charges(top, TableName::Fees, tariffs, report);
}

fn charges(top: &Table<'_>, table: TableName, tariffs: &mut Tariffs, report: &mut Report) {
    let rows = each(top, "charge", report, |row, report| charge(row, table, report));
    tariffs.charges.extend(rows);
}

/// A charge row: the one shape of freight, drayage, crating and fees.
fn charge(row: &Table<'_>, table: TableName, report: &mut Report) -> Option<ChargeRow> {
    let matches = matches(row, report);
    let name = row.required_text("name", report);
    let leg = row.required_word("leg", &Leg::ALL, report);
    let rate = rate(row, report);
    let per = row.word("per", &Per::ALL, report);
    let days = days(row, report);
    let free_days = row.count("free-days", report);
    let insured = row.optional::<Percent>("insured", report);
    let minimum = row.optional::<Money>("minimum", report);
    let maximum = row.optional::<Money>("maximum", report);
    let scope = row.word("scope", &ScopeKind::ALL, report);
    let key = row.word("key", &Key::ALL, report);
    let treatment = row.word("treatment", &Treatment::ALL, report);
    let basis = row.word("basis", &Basis::ALL, report);
    let offer = row.text("offer", report);
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
    let charge = ChargeRow {
        table,
        matches,
        name: name?.value,
        leg: leg?.value,
        rate: rate?,
        per: per.map(|at| at.value),
        days,
        free_days: free_days.map_or(0, |at| at.value),
        insured: insured.map(|at| at.value),
        minimum: minimum.map(|at| at.value),
        maximum: maximum.map(|at| at.value),
        scope: scope.map(|at| at.value),
        key: key.map(|at| at.value),
        treatment: treatment.map_or(Treatment::Stock, |at| at.value),
        basis: basis.map_or(usual, |at| at.value),
        offer: offer.map(|at| at.value),
        exempt_origins,
        valid: valid?.value,
        source: source?.value,
        place: row.place(),
    };
    check_charge(&charge, report);
    Some(charge)
}

/// What a charge row must have, beyond each key being readable.
fn check_charge(charge: &ChargeRow, report: &mut Report) {
    let fault = |code, message: &str, label: &str| {
        Fault::error(code, format!("\"{}\": {message}", charge.name)).at(&charge.place, label)
    };
    let of_charge = matches!(&charge.rate.value, Rate::Percent(_, WhatOf::Charge(_)));
    if charge.per.is_none() && !of_charge {
        report.add(
            fault(
                Code::MissingKey,
                "it does not say what it is counted by",
                "`per` is needed here",
            )
            .help("add `per`, such as per = \"container\""),
        );
    }
    if charge.leg == Leg::Goods {
        report.add(
            fault(
                Code::UnknownWord,
                "goods are priced on the invoice, not in a table",
                "`leg` cannot be \"goods\"",
            )
            .help("give the leg on which the charge falls, such as \"import clearance\""),
        );
    }
    if charge.per == Some(Per::Day) && charge.days.is_none() {
        report.add(
            fault(
                Code::MissingKey,
                "a charge per day does not say which days",
                "`days` is needed here",
            )
            .help("add `days` from one event to another, such as days = \"arrives..delivered\""),
        );
    }
    let counts_days = matches!(charge.per, Some(Per::Day | Per::Container));
    if !counts_days && (charge.days.is_some() || charge.free_days > 0) {
        report.add(fault(
            Code::Contradiction,
            "it counts days without being per day or per container",
            "`per` is neither",
        ));
    }
    let of_insured = matches!(&charge.rate.value, Rate::Percent(_, WhatOf::InsuredValue));
    if of_insured != charge.insured.is_some() {
        report.add(
            fault(
                Code::Contradiction,
                "`insured` and `of = \"insured value\"` go together",
                "one of the two is missing",
            )
            .help("write insured = \"110 %\" for cover of 110 % of cost, insurance and freight"),
        );
    }
    let floor = charge.minimum.zip(charge.maximum);
    if floor.is_some_and(|(low, high)| {
        low.currency() != high.currency() || low.amount() > high.amount()
    }) {
        report.add(fault(
            Code::Contradiction,
            "`minimum` is above `maximum`",
            "these two cannot both hold",
        ));
    }
    if matches!(charge.scope, Some(ScopeKind::Line | ScopeKind::Invoice)) {
        report.add(fault(
            Code::UnknownWord,
            "a table's charge cannot have an invoice's scope",
            "here",
        ));
    }
}

pub(super) fn matches(row: &Table<'_>, report: &mut Report) -> Matches {
    let lane = row.optional::<crate::trade::Lane>("lane", report).map(|at| at.value.to_string());
    let port = row.optional::<crate::trade::Port>("port", report).map(|at| at.value.to_string());
    let mut text = |key| row.text(key, report).map(|at| at.value);
    Matches {
        lane,
        port,
        term_place: text("term-place"),
        container: text("container"),
        class: text("class"),
        yard: text("yard"),
        regime: text("regime"),
        stone: text("stone"),
    }
}

fn rate(row: &Table<'_>, report: &mut Report) -> Option<At<Rate>> {
    let amount = row.optional::<Money>("amount", report);
    let percent = row.optional::<Percent>("rate", report);
    let of = row.text("of", report);
    let fault = |code, message: &str| Fault::error(code, message).at(&row.place(), "in this row");
    let way_out = "write amount = \"1850 USD\", or rate = \"0.30 %\" with of = \"goods\"";
    match (amount, percent) {
        (Some(_), Some(_)) => {
            report.add(
                fault(Code::Contradiction, "a charge has both `amount` and `rate`").help(way_out),
            );
            None
        }
        (Some(amount), None) => {
            if of.is_some() {
                report.add(
                    fault(Code::Contradiction, "`of` goes with `rate`, not with `amount`")
                        .help(way_out),
                );
            }
            Some(amount.map(Rate::Amount))
        }
        (None, Some(percent)) => {
            let Some(of) = of else {
                report.add(
                    fault(Code::MissingKey, "a percentage does not say what it is of")
                        .help(way_out),
                );
                return None;
            };
            let what = match of.value.as_str() {
                "goods" => WhatOf::Goods,
                "entered value" => WhatOf::EnteredValue,
                "insured value" => WhatOf::InsuredValue,
                _ => WhatOf::Charge(of.value),
            };
            Some(percent.map(|percent| Rate::Percent(percent, what)))
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

/// Reads `days = "arrives..delivered"`.
fn days(row: &Table<'_>, report: &mut Report) -> Option<(Event, Event)> {
    let text = row.text("days", report)?;
    let event = |word: &str| Event::ALL.iter().find(|(_, w)| *w == word.trim()).map(|(e, _)| *e);
    let read = text.split_once("..").and_then(|(from, to)| Some((event(from)?, event(to)?)));
    if read.is_none() {
        let names: Vec<&str> = Event::ALL.iter().map(|(_, word)| *word).collect();
        report.add(
            Fault::error(Code::UnknownWord, format!("`days` cannot be \"{}\"", text.value))
                .at(&text.place, "expected two events, such as \"arrives..delivered\"")
                .help(format!("events: {}", names.join(", "))),
        );
    }
    read
}

fn limit(row: &Table<'_>, at_sea: bool, report: &mut Report) -> Option<LimitRow> {
    let matches = matches(row, report);
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

fn duty(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
    tariffs.regimes = each(top, "regime", report, |row, report| {
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let currency = row.required::<crate::quantity::Currency>("currency", report);
        let bases = [(ValueBasis::Export, "export"), (ValueBasis::Border, "border")];
        let basis = row.required_word("value-basis", &bases, report);
        let step = row.optional::<Money>("value-step", report);
        let valid = row.required("valid", report);
        let source = row.required_text("source", report);
        let currency = currency?.value;
        Some(Regime {
            id: id?.value,
            name: name?.value,
            currency,
            basis: basis?.value,
            value_step: step.map_or(Money::zero(currency), |at| at.value),
            valid: valid?.value,
            source: source?.value,
            place: row.place(),
        })
    });
    tariffs.duties = each(top, "duty", report, |row, report| {
        let regime = row.required_text("regime", report);
        let line = row.required_text("line", report);
        let origins = countries(row, "origins", report);
        let is_base = row.required_word("layer", &[(true, "base"), (false, "additive")], report);
        let name = row.required_text("name", report);
        let rate = row.required::<Percent>("rate", report);
        let valid = row.required("valid", report);
        let source = row.required_text("source", report);
        Some(DutyRow {
            regime: regime?.value,
            line: line?.value,
            origins,
            is_base: is_base?.value,
            name: name?.value,
            rate: rate?,
            valid: valid?.value,
            source: source?.value,
            place: row.place(),
        })
    });
}

fn exchange(top: &Table<'_>, tariffs: &mut Tariffs, report: &mut Report) {
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

/// Names in the tables that refer to rows of other tables.
fn check_references(tariffs: &Tariffs, report: &mut Report) {
    let containers: Vec<&str> = tariffs.containers.iter().map(|row| row.id.as_str()).collect();
    let yards: Vec<&str> = tariffs.yards.iter().map(|row| row.id.as_str()).collect();
    let stones: Vec<&str> = tariffs.stones.iter().map(|row| row.id.as_str()).collect();
    let regimes: Vec<&str> = tariffs.regimes.iter().map(|row| row.id.as_str()).collect();
    let rows = tariffs.charges.iter().map(|row| (&row.matches, &row.place));
    let limits = tariffs.limits.iter().map(|row| (&row.matches, &row.place));
    let rigs = tariffs.rigs.iter().map(|row| (&row.matches, &row.place));
    for (matches, place) in rows.chain(limits).chain(rigs) {
        for (what, name, home, known) in [
            ("container type", &matches.container, "rates/containers.toml", &containers),
            ("yard", &matches.yard, "rates/yards.toml", &yards),
            ("stone", &matches.stone, "rates/stones.toml", &stones),
            ("regime", &matches.regime, "rates/duty.toml", &regimes),
        ] {
            if let Some(name) = name.as_ref().filter(|name| !known.contains(&name.as_str())) {
                let name = At { value: name.clone(), place: place.clone() };
                report.add(unknown_reference(what, &name, home, known));
            }
        }
    }
    let named_regimes = tariffs.yards.iter().map(|yard| (&yard.regime, &yard.place));
    let in_duty = tariffs.duties.iter().map(|row| (&row.regime, &row.place));
    for (name, place) in named_regimes.chain(in_duty) {
        if !regimes.contains(&name.as_str()) {
            let name = At { value: name.clone(), place: place.clone() };
            report.add(unknown_reference("regime", &name, "rates/duty.toml", &regimes));
        }
    }
}

/// Two rows for one purpose whose windows share a day.
fn check_overlaps(tariffs: &Tariffs, report: &mut Report) {
    type Keyed<'a> = (String, Window, &'a crate::fault::Place);
    let charges = tariffs.charges.iter().map(|row| -> Keyed<'_> {
        let offer = row.offer.as_deref().unwrap_or("");
        let key = format!(
            "charge {} {:?} {:?} {offer}",
            row.name,
            row.table,
            row.matches.given().collect::<Vec<_>>()
        );
        (key, row.valid, &row.place)
    });
    let limits = tariffs.limits.iter().map(|row| -> Keyed<'_> {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        (format!("limit {} {given:?} {offer}", row.name), row.valid, &row.place)
    });
    let rigs = tariffs.rigs.iter().map(|row| -> Keyed<'_> {
        let offer = row.offer.as_deref().unwrap_or("");
        let given = row.matches.given().collect::<Vec<_>>();
        (format!("rig {given:?} {offer}"), row.valid, &row.place)
    });
    let roads = tariffs
        .roads
        .iter()
        .map(|row| -> Keyed<'_> { (format!("road {}", row.id), row.valid, &row.place) });
    let duties = tariffs.duties.iter().filter(|row| row.is_base).map(|row| -> Keyed<'_> {
        (format!("base {} {} {:?}", row.regime, row.line, row.origins), row.valid, &row.place)
    });
    let additive = tariffs.duties.iter().filter(|row| !row.is_base).map(|row| -> Keyed<'_> {
        let key = format!("additive {} {} {} {:?}", row.name, row.regime, row.line, row.origins);
        (key, row.valid, &row.place)
    });
    let exchange = tariffs.exchange.iter().map(|row| -> Keyed<'_> {
        let mut pair = [row.quote.base().code(), row.quote.counter().code()];
        pair.sort_unstable();
        (format!("exchange {:?} {pair:?}", row.used_for), row.valid, &row.place)
    });
    let ids = tariffs.stones.iter().map(|row| (format!("stone {}", row.id), &row.place));
    let ids = ids
        .chain(tariffs.containers.iter().map(|row| (format!("container {}", row.id), &row.place)));
    let ids = ids.chain(tariffs.yards.iter().map(|row| (format!("yard {}", row.id), &row.place)));
    let always = Window { from: crate::trade::Date::MIN, until: None };
    let ids = ids.map(|(key, place)| (key, always, place));
    let all = charges
        .chain(limits)
        .chain(rigs)
        .chain(roads)
        .chain(duties)
        .chain(additive)
        .chain(exchange)
        .chain(ids);
    let mut seen: std::collections::BTreeMap<String, Vec<(Window, &crate::fault::Place)>> =
        std::collections::BTreeMap::new();
    for (key, window, place) in all {
        let earlier = seen.entry(key).or_default();
        if let Some((_, first)) = earlier.iter().find(|(other, _)| other.meets(&window)) {
            report.add(
                Fault::error(Code::AmbiguousRate, "two rows serve one purpose on the same day")
                    .at(place, "this row")
                    .also(first, "and this one")
                    .help("end the older row's `valid` before the newer begins, give them different offers, or remove one"),
            );
        }
        earlier.push((window, place));
    }
}
