//! What a change in words names: `ocean freight +20 %`, `1 EUR = 1.22 USD`, `price of A = 40.00 EUR/m2`.
//!
//! Decided on 2026-11-27. A name is one that the pages use. One that fits two things is refused with both, and
//! one that fits none is told what there is.

use super::change::{Change, ChargeTo, Charges, DensityTo, DutyTo, PriceTo, layers};
use super::compare::Comparison;
use crate::fault::Report;
use crate::price::{chosen_by, may_apply};
use crate::quantity::{Currency, Decimal, Money, Percent, Price, Quote, Written, parse_decimal};
use crate::read::{day_meant, meant, nearest, payments_in_words};
use crate::trade::{
    ChargeRow, Date, DeliveryTerm, DutyRate, DutyRow, Event, ExchangeUse, Leg, Rate, Shipment,
    Stone, Tariffs,
};

/// A change in words, and what it changes.
#[derive(Debug, Clone)]
pub struct Named {
    /// The words.
    pub words: String,
    /// The one offer that it changes, by position; `None`: all.
    pub offer: Option<usize>,
    /// The change.
    pub change: Change,
    /// The rows that it sets and that do not serve the offers as they stand: another box's, another day's. Each with
    /// its rate, in words.
    pub beside: Vec<String>,
}

/// How a change is written.
const FORM: &str = "write what changes and how, such as \"ocean freight +20 %\", \"1 EUR = 1.22 USD\", \
                    \"price = 48.00 EUR/m2\" or \"sails = 2026-05-16\"";

/// The end of a range without what moves, which it may repeat: `1.02 USD` of `1 EUR = 1.02 USD`.
pub fn bare_end<'a>(of: &str, end: &'a str) -> &'a str {
    let currency = of.split_once(" 1 ").map(|(_, code)| format!("1 {code}"));
    let names = std::iter::once(of).chain(currency.as_deref());
    let mut rests = names.filter_map(|name| end.strip_prefix(name)).map(str::trim_start);
    let rest = rests.find(|rest| rest.starts_with(['=', '+', '-']));
    rest.map_or(end, |rest| rest.trim_start_matches('=').trim_start())
}

/// The change that an end of a range stands for, in words: `ocean freight -10 %`, or `1 EUR = 1.02 USD`.
pub fn end_of_range(of: &str, end: &str) -> String {
    let end = bare_end(of, end);
    let is_more = end.starts_with(['+', '-']);
    if is_more { format!("{of} {end}") } else { format!("{of} = {end}") }
}

/// What a name may be of.
#[derive(Debug, Clone, PartialEq)]
enum Thing {
    Charges(Charges),
    Duty(String, String),
    Price(Option<usize>, Option<usize>),
    Payments(Option<usize>),
    Term(Option<usize>),
    Day(Event, Option<usize>),
    Bundles(Option<usize>),
    Density(String),
    Loss(String),
}

/// What becomes of it, in words.
#[derive(Debug, Clone, Copy)]
enum To<'a> {
    /// `= VALUE`.
    Is(&'a str),
    /// `+20 %`, as a percentage of what stands there.
    Times(Percent),
    /// `ends DAY`.
    Ends(&'a str),
}

/// The rows that fall on one of the offers.
pub(super) fn falling<'a>(
    offers: &'a [&'a Shipment],
    tariffs: &'a Tariffs,
) -> impl Iterator<Item = &'a ChargeRow> {
    let rows = tariffs.charges.iter();
    rows.filter(|row| offers.iter().any(|shipment| may_apply(shipment, row)))
}

/// Reads a change of these offers, which are compared so.
///
/// # Errors
/// What is wrong with it, in a sentence.
pub fn named(
    text: &str,
    (offers, comparison): (&[&Shipment], &Comparison),
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Named, String> {
    let words = text.trim().to_owned();
    let (what, to) = parts(&words)?;
    let of = |offer, change| Ok(Named { words: words.clone(), offer, change, beside: Vec::new() });
    if let Some((used_for, base)) = exchange(what) {
        return of(None, rate((what, used_for, base), to, tariffs)?);
    }
    let things = things(what, offers, tariffs)?;
    let thing = match &things[..] {
        [one] => one,
        [] => {
            let (rest, of) = (words.strip_prefix(what).unwrap_or_default(), (offers, comparison));
            let other = of_other_kind((what, rest), offers, tariffs);
            return Err(other.unwrap_or_else(|| nothing(what, of, tariffs)));
        }
        [_, _, ..] => {
            let all: Vec<String> = things.iter().map(|one| one.words(offers)).collect();
            return Err(format!("\"{what}\" fits more than one: write {}", all.join(" or ")));
        }
    };
    match thing {
        Thing::Charges(charges) => {
            let all: Vec<&ChargeRow> =
                falling(offers, tariffs).filter(|row| charges.has(row)).collect();
            let rows = serving(all.clone(), offers);
            let to = charge_to(what, to, charges, &rows)?;
            let named = of(None, Change::Charges(charges.clone(), to))?;
            let beside = if matches!(to, ChargeTo::Times(_)) { Vec::new() } else { all };
            let serves = |row: &&ChargeRow| rows.iter().any(|own| std::ptr::eq(*own, *row));
            let beside = beside.into_iter().filter(|row| !serves(row)).map(|row| {
                format!("{}{}, in force {}", row.rate.value, row_in_words(row), row.valid)
            });
            Ok(Named { beside: beside.collect(), ..named })
        }
        Thing::Duty(name, line) => {
            let to = match to {
                To::Is(rate) => {
                    DutyTo::Rate(DutyRate::read(rate).map_err(|_| wants(what, "15 %"))?)
                }
                To::Ends(last) => DutyTo::Ends(ends((what, last), (name, line), tariffs)?),
                To::Times(percent) => {
                    return Err(duty_by(what, percent, (name, line), (offers, tariffs)));
                }
            };
            of(None, Change::Duty(name.clone(), line.clone(), to))
        }
        Thing::Price(offer, line) => {
            let to = match to {
                To::Times(percent) => PriceTo::Times(percent),
                To::Is(text) => {
                    let price = read_as::<Price>(text, (what, "48.00 EUR/m2"))?;
                    PriceTo::At(new_price(what, price, (*offer, *line), offers)?)
                }
                To::Ends(_) => return Err(wants(what, "48.00 EUR/m2")),
            };
            of(*offer, Change::Price(*line, to))
        }
        Thing::Payments(offer) => {
            let To::Is(text) = to else {
                return Err(wants(what, "30 % on order, rest 60 days after arrival"));
            };
            let payments = payments_in_words(text, report)?;
            of(*offer, Change::Payments(payments))
        }
        Thing::Term(offer) => {
            let To::Is(text) = to else { return Err(wants(what, "CIF USSAV")) };
            of(*offer, Change::Term(term(text)?))
        }
        Thing::Day(event, offer) => of(*offer, Change::Day(*event, day(what, to)?)),
        Thing::Bundles(offer) => {
            let count = match to {
                To::Is(text) => text.parse().ok().filter(|count| (1..=200).contains(count)),
                _ => None,
            };
            let wrong = || format!("bundles are 1 to 200: {}", wants(what, "9"));
            of(*offer, Change::Bundles(count.ok_or_else(wrong)?))
        }
        Thing::Density(stone) => {
            let to = match to {
                To::Is(text) => DensityTo::At(read_as(text, (what, "2700 kg/m3"))?),
                To::Times(percent) => DensityTo::Times(percent),
                To::Ends(_) => return Err(wants(what, "2700 kg/m3")),
            };
            is_of_stone(to, stone, tariffs)
                .then_some(())
                .ok_or_else(|| not_of_stone((what, stone), tariffs))?;
            of(None, Change::Density(stone.clone(), to))
        }
        Thing::Loss(stone) => {
            let read = match to {
                To::Is(text) => Percent::read(text).ok(),
                _ => None,
            };
            let within = Percent::ZERO..Percent::new(Decimal::ONE_HUNDRED);
            let loss = read.filter(|loss| within.contains(loss));
            let wrong =
                || format!("a loss is 0 % or more, and less than 100 %: {}", wants(what, "5 %"));
            of(None, Change::Loss(stone.clone(), loss.ok_or_else(wrong)?))
        }
    }
}

/// Reads a delivery term of a command line: `CIF USSAV`.
///
/// # Errors
/// What is wrong with it, in a sentence.
pub fn term(text: &str) -> Result<DeliveryTerm, String> {
    DeliveryTerm::read(text).map_err(|malformed| {
        meant::<DeliveryTerm>(text).unwrap_or_else(|| {
            format!("{malformed}; `quaystone rates --ports` lists the codes of ports by name")
        })
    })
}

/// What changes, and how.
fn parts(text: &str) -> Result<(&str, To<'_>), String> {
    if let Some((what, value)) = text.split_once('=') {
        return Ok((what.trim(), To::Is(value.trim())));
    }
    if let Some((what, day)) = text.rsplit_once(" ends ") {
        return Ok((what.trim(), To::Ends(day.trim())));
    }
    let (what, figure) = text
        .rfind(['+', '-'])
        .and_then(|sign| text.split_at_checked(sign))
        .map(|(what, figure)| (what.trim(), figure.trim_start_matches('+').trim()))
        .filter(|(what, _)| !what.is_empty())
        .ok_or(FORM)?;
    let Some(percent) = figure.strip_suffix('%') else {
        let bare = figure.trim_start_matches('-').trim();
        let is_figure = bare.split(' ').next().is_some_and(|word| parse_decimal(word).is_some());
        let sign = if figure.starts_with('-') { "-" } else { "+" };
        let by = bare.split(' ').next().unwrap_or_default();
        return Err(if is_figure {
            format!(
                "{sign}{bare} of what? A change by a figure is in percent: write \"{what} {sign}{by} %\", or the whole \
                 new value behind \"=\""
            )
        } else {
            FORM.to_owned()
        });
    };
    let more = Percent::read(&format!("{} %", percent.trim())).map_err(|_| {
        let figure = percent.trim();
        match figure.split_once(',') {
            Some((whole, places)) => {
                let sign = if whole.starts_with('-') { "" } else { "+" };
                format!("a figure has a decimal point: write \"{what} {sign}{whole}.{places} %\"")
            }
            None => format!("\"{figure} %\" is no percentage that can be held: {FORM}"),
        }
    })?;
    let all = Decimal::ONE_HUNDRED.checked_add(more.hundredths()).ok_or(FORM)?;
    if all < Decimal::ZERO {
        return Err(format!(
            "nothing falls by more than all of it: write at least \"{what} -100 %\""
        ));
    }
    Ok((what, To::Times(Percent::new(all))))
}

/// What to write where a name is of another kind than the word before it says.
fn of_other_kind(
    (what, rest): (&str, &str),
    offers: &[&Shipment],
    tariffs: &Tariffs,
) -> Option<String> {
    let (kind, name) = what.split_once(' ')?;
    let name = name.trim();
    if !["charge", "leg", "duty"].contains(&kind) {
        return None;
    }
    let own = things(name, offers, tariffs).ok()?;
    let is = match own.first()? {
        Thing::Charges(Charges::Named(_)) => "a charge",
        Thing::Charges(Charges::Leg(_)) => "a leg",
        Thing::Duty(..) => "a layer of duty",
        _ => return None,
    };
    Some(format!("\"{name}\" is {is}, and no {kind}: write \"{name}{rest}\""))
}

/// The rows that may serve one of the offers as it stands: their box is one of its boxes, and they are in force on its
/// day. All rows where none may.
fn serving<'r>(rows: Vec<&'r ChargeRow>, offers: &[&Shipment]) -> Vec<&'r ChargeRow> {
    let is_used = |shipment: &Shipment, row: &ChargeRow| {
        let mut boxes = shipment.containers.iter();
        let own = row.matches.container.as_deref();
        shipment.containers.is_empty()
            || own.is_none_or(|own| boxes.any(|at| at.value.as_str() == own))
    };
    let serves = |row: &&&ChargeRow| {
        offers.iter().any(|shipment| {
            let on = shipment.dates.of(chosen_by(row.table, row.leg));
            may_apply(shipment, row) && is_used(shipment, row) && row.valid.holds(on)
        })
    };
    let own: Vec<&ChargeRow> = rows.iter().filter(serves).copied().collect();
    if own.is_empty() { rows } else { own }
}

/// Says the present rate of a layer of duty, and the two rates that a change by percent may mean.
fn duty_by(
    what: &str,
    percent: Percent,
    (name, line): (&str, &str),
    (offers, tariffs): (&[&Shipment], &Tariffs),
) -> String {
    let is_own = |row: &&DutyRow| {
        row.name == name
            && row.line == line
            && offers.iter().any(|shipment| row.valid.holds(shipment.dates.entered))
    };
    let mut rates: Vec<DutyRate> =
        duties(offers, tariffs).filter(is_own).map(|row| row.rate.value).collect();
    rates.dedup();
    let [rate] = rates[..] else {
        return format!("state the rate itself, such as \"{what} = 15 %\"");
    };
    let times = rate.times(percent).ok();
    let more = percent.hundredths() - Decimal::ONE_HUNDRED;
    let word = if more.is_sign_negative() { "less" } else { "more" };
    let by = more.abs().normalize();
    let mut ways: Vec<String> = Vec::new();
    ways.extend(times.map(|rate| format!("\"{what} = {rate}\" ({by} % {word})")));
    if let DutyRate::Percent(own) = rate {
        let points = own.hundredths().checked_add(more).filter(|all| *all >= Decimal::ZERO);
        let points = points.map(|all| DutyRate::Percent(Percent::new(all)));
        ways.extend(points.map(|rate| format!("\"{what} = {rate}\" ({by} points {word})")));
    }
    format!("it is {rate}: write {}", ways.join(" or "))
}

/// Reads a quantity: what is wrong with it where it says more than its form, and an example.
fn read_as<T: Written>(text: &str, (what, example): (&str, &str)) -> Result<T, String> {
    T::read(text).map_err(|malformed| {
        let wants = wants(what, example);
        if malformed.expected == T::FORM { wants } else { format!("{malformed}: {wants}") }
    })
}

/// Whether a changed density may be that of a stone, by the rule of the table.
fn is_of_stone(to: DensityTo, stone: &str, tariffs: &Tariffs) -> bool {
    let density = match to {
        DensityTo::At(density) => Some(density),
        DensityTo::Times(percent) => {
            tariffs.stone(stone).and_then(|one| one.density.times(percent.fraction()).ok())
        }
    };
    density.is_some_and(|density| Stone::is_density(density.to_kg_per_m3(0)))
}

fn not_of_stone((what, stone): (&str, &str), tariffs: &Tariffs) -> String {
    let [lightest, heaviest] = Stone::DENSITIES;
    let now = tariffs
        .stone(stone)
        .map(|one| format!(", and {stone} has {}", one.density.to_kg_per_m3(0).normalize()));
    format!(
        "a stone has {lightest} to {heaviest} kg/m3{}: {}",
        now.unwrap_or_default(),
        wants(what, "2700 kg/m3")
    )
}

fn wants(what: &str, example: &str) -> String {
    format!("write it such as \"{what} = {example}\"")
}

/// The use and the base of a rate of exchange: `1 EUR`, `customs 1 EUR`.
fn exchange(what: &str) -> Option<(ExchangeUse, Currency)> {
    let (before, code) = what.rsplit_once(' ')?;
    let base = Currency::from_code(code)?;
    let used_for = before.strip_suffix('1')?.trim();
    if used_for.is_empty() {
        return Some((ExchangeUse::Plan, base));
    }
    let known = ExchangeUse::ALL.iter().find(|(_, word)| *word == used_for)?;
    Some((known.0, base))
}

/// A rate of exchange in the direction of its rows.
fn rate(
    (what, used_for, base): (&str, ExchangeUse, Currency),
    to: To<'_>,
    tariffs: &Tariffs,
) -> Result<Change, String> {
    let To::Is(value) = to else { return Err(wants(what, "1.22 USD")) };
    let figure = value.split(' ').next().and_then(parse_decimal);
    let wrong = || match figure.filter(|figure| *figure <= Decimal::ZERO) {
        Some(_) => format!("a rate of exchange is above 0: {}", wants(what, "1.22 USD")),
        None => wants(what, "1.22 USD"),
    };
    let quote = Quote::read(&format!("1 {base} = {value}")).map_err(|_| wrong())?;
    let rows = || tariffs.exchange.iter().filter(|row| row.used_for == used_for);
    let mut own = rows().filter(|row| row.quote.joins(quote.base(), quote.counter()));
    match own.find(|row| row.quote.base() != quote.base()) {
        Some(other) => Err(format!(
            "its rows quote it the other way round, as in \"{}\": a rate is never turned round",
            other.quote.value
        )),
        None if rows().any(|row| row.quote.joins(quote.base(), quote.counter())) => {
            Ok(Change::Rate(used_for, quote))
        }
        None => Err(format!(
            "rates/exchange.toml has no rate with use = \"{}\" between {} and {}; it has {}",
            used_for.word(),
            quote.base(),
            quote.counter(),
            listed(rows().map(|row| row.quote.value.to_string()))
        )),
    }
}

/// The one offer that is called so.
fn offer_of(name: &str, offers: &[&Shipment]) -> Option<usize> {
    offers.iter().position(|shipment| shipment.called() == name)
}

/// Everything that a name fits.
fn things(what: &str, offers: &[&Shipment], tariffs: &Tariffs) -> Result<Vec<Thing>, String> {
    let (kind, name) = match what.split_once(' ') {
        Some((kind @ ("charge" | "leg" | "duty"), name)) => (Some(kind), name.trim()),
        _ => (None, ""),
    };
    // A name may begin with the word of a kind: "duty on marble slabs".
    let is_called = |word: &str, own: &str| {
        own.eq_ignore_ascii_case(what) || (kind == Some(word) && own.eq_ignore_ascii_case(name))
    };
    let mut all = Vec::new();
    for row in falling(offers, tariffs).filter(|row| is_called("charge", &row.name)) {
        let thing = Thing::Charges(Charges::Named(row.name.clone()));
        if !all.contains(&thing) {
            all.push(thing);
        }
    }
    let has_rows = |leg: Leg| {
        let has_duty = leg == Leg::DutyAndTax && duties(offers, tariffs).next().is_some();
        has_duty || falling(offers, tariffs).any(|row| row.leg == leg)
    };
    let legs = Leg::ALL.iter().filter(|(leg, word)| is_called("leg", word) && has_rows(*leg));
    all.extend(legs.map(|(leg, _)| Thing::Charges(Charges::Leg(*leg))));
    for row in duties(offers, tariffs) {
        let on_line = format!("{} on {}", row.name, row.line);
        let thing = Thing::Duty(row.name.clone(), row.line.clone());
        let is_so = is_called("duty", &row.name) || is_called("duty", &on_line);
        if is_so && !all.contains(&thing) {
            all.push(thing);
        }
    }
    if kind.is_some() {
        return Ok(all);
    }
    let (word, of) = match what.split_once(" of ") {
        Some((word, of)) => (word.trim(), Some(of.trim())),
        None => (what, None),
    };
    let offer = match of.map(|of| (of, offer_of(of, offers))) {
        None => Ok(None),
        Some((_, Some(at))) => Ok(Some(at)),
        Some((of, None)) => Err(format!(
            "no offer is called \"{of}\": {}",
            listed(offers.iter().map(|one| one.called()))
        )),
    };
    match word {
        "price" => all.extend(priced_lines(of, offers)?),
        "payment" => all.push(Thing::Payments(offer?)),
        "term" => all.push(Thing::Term(offer?)),
        "bundles" => all.push(Thing::Bundles(offer?)),
        "density" => all.extend(stones(of, offers, Thing::Density)?),
        "loss" => all.extend(stones(of, offers, Thing::Loss)?),
        word => {
            if let Some((event, _)) = Event::ALL.iter().find(|(_, own)| *own == word) {
                all.push(Thing::Day(*event, offer?));
            }
        }
    }
    Ok(all)
}

/// The layers of duty that may fall on goods of the offers.
fn duties<'a>(
    offers: &'a [&'a Shipment],
    tariffs: &'a Tariffs,
) -> impl Iterator<Item = &'a DutyRow> {
    let each = offers.iter().flat_map(|shipment| layers(shipment, tariffs));
    each.filter_map(|at| tariffs.duties.get(at).map(|row| &**row))
}

/// The prices that are meant: of all lines, of an offer's, or of one line.
fn priced_lines(of: Option<&str>, offers: &[&Shipment]) -> Result<Vec<Thing>, String> {
    let Some(of) = of else { return Ok(vec![Thing::Price(None, None)]) };
    if let Some(at) = offer_of(of, offers) {
        return Ok(vec![Thing::Price(Some(at), None)]);
    }
    let mut all = Vec::new();
    let mut known = Vec::new();
    for (at, shipment) in offers.iter().enumerate() {
        for (line, one) in shipment.lines.iter().enumerate() {
            let full = format!("{} {}", shipment.called(), one.id);
            if of == one.id || of == full {
                all.push(Thing::Price(Some(at), Some(line)));
            }
            known.push(full);
        }
    }
    if all.is_empty() {
        return Err(format!("no offer and no line is called \"{of}\": {}", listed(known)));
    }
    Ok(all)
}

/// The stones that are meant: the one that is named, or all of the offers.
fn stones(
    of: Option<&str>,
    offers: &[&Shipment],
    thing: fn(String) -> Thing,
) -> Result<Vec<Thing>, String> {
    let lines = offers.iter().flat_map(|shipment| &shipment.lines);
    let mut known: Vec<String> = lines.map(|line| line.stone.value.clone()).collect();
    known.sort_unstable();
    known.dedup();
    match of {
        Some(of) if !known.iter().any(|stone| stone == of) => {
            Err(format!("none of the offers is of a stone \"{of}\": {}", listed(known)))
        }
        Some(of) => Ok(vec![thing(of.to_owned())]),
        None => Ok(known.into_iter().map(thing).collect()),
    }
}

impl Thing {
    /// The words that fit it alone.
    fn words(&self, offers: &[&Shipment]) -> String {
        let words = match self {
            Self::Charges(Charges::Named(name)) => format!("charge {name}"),
            Self::Charges(Charges::Leg(leg)) => format!("leg {}", leg.word()),
            Self::Duty(name, line) => format!("duty {name} on {line}"),
            Self::Price(Some(offer), Some(line)) => {
                let shipment = offers.get(*offer);
                let line = shipment.and_then(|shipment| shipment.lines.get(*line));
                let called = shipment.map_or_else(String::new, |shipment| shipment.called());
                format!("price of {called} {}", line.map_or("", |line| line.id.as_str()))
            }
            Self::Density(stone) => format!("density of {stone}"),
            Self::Loss(stone) => format!("loss of {stone}"),
            Self::Day(event, _) => event.word().to_owned(),
            Self::Price(..) => "price".to_owned(),
            Self::Payments(_) => "payment".to_owned(),
            Self::Term(_) => "term".to_owned(),
            Self::Bundles(_) => "bundles".to_owned(),
        };
        format!("\"{words}\"")
    }
}

fn listed(all: impl IntoIterator<Item = String>) -> String {
    let mut all: Vec<String> = all.into_iter().collect();
    all.sort_unstable();
    all.dedup();
    if all.is_empty() { "none".to_owned() } else { all.join(", ") }
}

/// Says what there is to change, where a name fits none of it.
fn nothing(
    what: &str,
    (offers, comparison): (&[&Shipment], &Comparison),
    tariffs: &Tariffs,
) -> String {
    // A row may fall on an offer and yet not on this one: another box's, another day's.
    let had = comparison.charges();
    let is_had = |row: &&ChargeRow| had.is_empty() || had.contains(&(row.leg, row.name.as_str()));
    let charges = || falling(offers, tariffs).filter(is_had).map(|row| row.name.clone());
    let duties = || duties(offers, tariffs).map(|row| row.name.clone());
    let of_duty = duties().next().map(|_| Leg::DutyAndTax);
    let legs = || falling(offers, tariffs).filter(is_had).map(|row| row.leg).chain(of_duty);
    let legs = || legs().map(|leg| leg.word().to_owned());
    let rates = tariffs.exchange.iter().filter(|row| row.used_for == ExchangeUse::Plan);
    let of_all: Vec<String> = charges().chain(legs()).chain(duties()).collect();
    let names: Vec<&str> = of_all.iter().map(String::as_str).collect();
    // A word of a name says more of what is meant than the name that is spelt most like it.
    let words: Vec<&str> = names.iter().flat_map(|name| name.split(' ')).collect();
    let word = nearest(what, &words).unwrap_or(what);
    let has_word = |name: &&String| name.split(' ').any(|own| own == word || own == what);
    let mut near: Vec<String> = of_all.iter().filter(has_word).cloned().collect();
    if what == "duty" {
        near.extend(duties());
    }
    near.sort_unstable();
    near.dedup();
    let meant = match &near[..] {
        [one] => Some(one.clone()),
        [] => nearest(what, &names).map(str::to_owned),
        _ => None,
    };
    near.retain(|name| Some(name) != meant.as_ref());
    let near =
        if near.is_empty() { near.concat() } else { format!("\n  near it: {}", listed(near)) };
    let meant = meant.map_or_else(String::new, |near| format!(" (is \"{near}\" meant?)"));
    let days = Event::ALL.iter().map(|(_, word)| (*word).to_owned());
    format!(
        "nothing here is called \"{what}\"{meant}. What there is:{near}\n  charges: {}\n  legs: {}\n  layers of \
         duty: {}\n  planning rates: {}\n  days: {}\n  and price, payment, term, bundles, density, loss",
        listed(charges()),
        listed(legs()),
        listed(duties()),
        listed(rates.map(|row| row.quote.value.to_string())),
        listed(days)
    )
}

/// What becomes of charges.
fn charge_to(
    what: &str,
    to: To<'_>,
    charges: &Charges,
    rows: &[&ChargeRow],
) -> Result<ChargeTo, String> {
    let more = || format!("write it such as \"{what} +20 %\"");
    let value = match to {
        To::Times(percent) => return Ok(ChargeTo::Times(percent)),
        To::Is(value) if matches!(charges, Charges::Named(_)) => value,
        To::Is(_) | To::Ends(_) => return Err(more()),
    };
    let read = if value.ends_with('%') {
        Percent::read(value).ok().map(ChargeTo::Percent)
    } else {
        Money::read(value).ok().map(ChargeTo::Amount)
    };
    let read = read.ok_or_else(more)?;
    let is_below = |row: &&ChargeRow| matches!(&row.rate.value, Rate::Amount(own) if own.amount().is_sign_negative());
    if let ChargeTo::Amount(amount) = read
        && amount.is_negative()
        && !rows.iter().any(is_below)
    {
        return Err(format!("{amount} is below 0, and the charge is none that is given back"));
    }
    let mut stand: Vec<(String, String)> =
        rows.iter().map(|row| (row.rate.value.to_string(), row_in_words(row))).collect();
    stand.dedup();
    let all = || {
        let each = stand.iter().map(|(rate, whose)| format!("{rate}{whose}"));
        each.collect::<Vec<_>>().join(", ")
    };
    let is_amount = matches!(read, ChargeTo::Amount(_));
    let is_such = |row: &&ChargeRow| match &row.rate.value {
        Rate::Amount(_) => is_amount,
        rate => !is_amount && rate.percent().is_some(),
    };
    if !rows.iter().all(is_such) {
        return Err(format!("it stands at {}: {}", all(), more()));
    }
    let in_other = |row: &&&ChargeRow| match (&row.rate.value, read) {
        (Rate::Amount(own), ChargeTo::Amount(amount)) => own.currency() != amount.currency(),
        _ => false,
    };
    if let (Some(row), ChargeTo::Amount(amount)) = (rows.iter().find(in_other), read)
        && let Rate::Amount(own) = &row.rate.value
    {
        let (own, other) = (own.currency(), amount.currency());
        return Err(format!(
            "it is in {own}, and not in {other}: it stands at {}. Write the amount in {own}, or \"{what} +20 %\"",
            all()
        ));
    }
    if stand.iter().any(|(rate, _)| stand.first().is_some_and(|first| first.0 != *rate)) {
        return Err(format!(
            "its rows differ, and one figure would make them alike: {}; {}",
            all(),
            more()
        ));
    }
    Ok(read)
}

/// Whose row it is and for which box, in brackets.
fn row_in_words(row: &ChargeRow) -> String {
    let keys = ["container", "class", "stone", "entry", "mode"];
    let given = row.matches.given().filter(|(key, _)| keys.contains(key)).map(|(_, value)| value);
    let all: Vec<&str> = row.offer.as_deref().into_iter().chain(given).collect();
    if all.is_empty() { String::new() } else { format!(" ({})", all.join(", ")) }
}

/// The last day of a layer: not before its first.
fn ends(
    (what, last): (&str, &str),
    (name, line): (&str, &str),
    tariffs: &Tariffs,
) -> Result<Date, String> {
    let wrong = || day_meant(last).unwrap_or_else(|| format!("write \"{what} ends 2026-07-23\""));
    let last: Date = last.parse().map_err(|_| wrong())?;
    let rows = tariffs.duties.iter().filter(|row| row.name == *name && row.line == *line);
    match rows.map(|row| row.valid.from).min() {
        Some(first) if last < first => Err(format!("it begins on {first}, after that day")),
        _ => Ok(last),
    }
}

fn day(what: &str, to: To<'_>) -> Result<Date, String> {
    let To::Is(text) = to else { return Err(wants(what, "2026-05-16")) };
    text.parse().map_err(|_| day_meant(text).unwrap_or_else(|| wants(what, "2026-05-16")))
}

/// A price for one line, by what it is priced by.
fn new_price(
    what: &str,
    price: Price,
    (offer, line): (Option<usize>, Option<usize>),
    offers: &[&Shipment],
) -> Result<Price, String> {
    let asked = offers.iter().enumerate().filter(|(at, _)| offer.is_none_or(|own| own == *at));
    let lines = asked.flat_map(|(_, shipment)| {
        let lines = shipment.lines.iter().enumerate();
        lines.filter(|(at, _)| line.is_none_or(|own| own == *at)).map(|(_, one)| (*shipment, one))
    });
    let lines: Vec<_> = lines.collect();
    let [(_, one)] = &lines[..] else {
        let all = lines
            .iter()
            .map(|(shipment, one)| format!("\"price of {} {}\"", shipment.called(), one.id));
        return Err(format!("one price for several lines: name one, as {}", listed(all)));
    };
    if (one.price.currency, one.price.by) != (price.currency, price.by) {
        return Err(format!(
            "the price of line {} is {}: write {what} in that unit",
            one.id, one.price.value
        ));
    }
    Ok(price)
}
