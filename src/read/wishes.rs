//! `[load]` in a shipment: what it asks of its load beyond the limits.

use std::collections::BTreeMap;

use smol_str::SmolStr;

use super::keys::readable;
use super::table::{Table, add_unknown, unknown_reference};
use crate::fault::{At, Code, Fault, Place, Report, Reported, gathered};
use crate::quantity::{Currency, Decimal, Length, Mass, Money, Percent};
use crate::trade::{
    AskedOffers, Available, Balance, Bearers, Bond, Bundle, GivenBox, LoadWishes, SharedStock,
    TableName, Tariffs,
};

/// No bearers are further apart than a container is wide between its corner fittings, mm (ISO 668).
const MOST_SPREAD_MM: i64 = 2_260;

/// `[load]` with bundles by their names: the packing list is read after it.
#[derive(Default)]
pub(super) struct NamedWishes {
    blocks: Option<At<Bond>>,
    together: Vec<(At<Vec<At<String>>>, Bond)>,
    apart: Vec<At<Vec<At<String>>>>,
    fixed: Vec<(GivenBox, Vec<At<String>>)>,
    turn: Vec<At<String>>,
    frames: Vec<At<String>>,
    bearers: Vec<(Bearers, Vec<At<String>>)>,
    most: Option<At<u32>>,
    available: Vec<Available>,
    shared: Vec<SharedStock>,
    balance: Balance,
    effort: Option<u32>,
}

/// Reads `[load]`; absent, nothing is asked.
pub(super) fn wishes(
    top: &Table<'_>,
    currency: Option<Currency>,
    report: &mut Report,
) -> NamedWishes {
    let Ok(Some(row)) = top.inside("load", report) else {
        return NamedWishes::default();
    };
    let blocks = bond(&row, "blocks", currency, report).ok().flatten();
    let together = readable(&row, "together", report, |inner, report| {
        let names = set(inner, "a set that belongs together", report);
        let bond = bond(inner, "price", currency, report);
        Ok((names?, bond?.map_or(Bond::Rule, |bond| bond.value)))
    });
    let apart = readable(&row, "apart", report, |inner, report| {
        let names = set(inner, "a set that stays apart", report)?;
        let mut seen: BTreeMap<&str, &At<String>> = BTreeMap::new();
        for name in &names.value {
            twice(seen.insert(&name.value, name), name, "is named twice in a set", report);
        }
        Ok(names)
    });
    let fixed: Vec<_> = readable(&row, "fixed", report, fixed);
    let mut labels: BTreeMap<&str, &Place> = BTreeMap::new();
    for (given, _) in &fixed {
        if let Some(first) = labels.insert(&given.label, &given.place) {
            let message = format!("two fixed containers are called \"{}\"", given.label);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&given.place, "again here")
                    .also(first, "first here"),
            );
        }
    }
    let turn = row.texts("may-turn", report).unwrap_or_default();
    let frames = row.texts("a-frames", report).unwrap_or_default();
    let bearers = readable(&row, "bearers", report, bearers_of);
    doubt_truck(&row, report);
    let (most, of_all) = most(&row, report).unwrap_or_default();
    let mut shared: Vec<SharedStock> =
        of_all.map(|name| SharedStock { name, row: None }).into_iter().collect();
    let mut available = Vec::new();
    for (had, stock) in readable(&row, "available", report, available_of) {
        shared.extend(stock.map(|name| SharedStock { name, row: Some(available.len()) }));
        available.push(had);
    }
    once_shared(&shared, report);
    let own = row.inside("balance", report).ok().flatten();
    let balance = own.and_then(|row| balance(&row, report).ok()).unwrap_or_default();
    let effort = row.count("effort", report).ok().flatten();
    for (key, count) in [("most-containers", &most), ("effort", &effort)] {
        if let Some(at) = count.as_ref().filter(|at| at.value == 0) {
            report.add(
                Fault::error(Code::OutOfRange, format!("`{key}` must be above 0"))
                    .at(&at.place, "expected a whole number from 1 up"),
            );
        }
    }
    row.finish(report);
    NamedWishes {
        blocks,
        together,
        apart,
        fixed,
        turn,
        frames,
        bearers,
        most,
        available,
        shared,
        balance,
        effort: effort.map(|at| at.value),
    }
}

/// The front axle of a forklift truck with its bundle that a container's floor bears, in kg: the axle of the floor
/// test as carriers state it for service (ISO 1496-1, floor strength, where 7,260 kg are tested; from memory).
const TRUCK_AXLE: Decimal = Decimal::from_parts(5_460, 0, 0, false, 0);

/// Warns of a truck that is too heavy for a container's floor.
fn doubt_truck(row: &Table<'_>, report: &mut Report) {
    let Ok(Some(axle)) = row.optional::<Mass>("truck-axle", report) else { return };
    if axle.value.to_kg(0) <= TRUCK_AXLE {
        return;
    }
    let units = report.units();
    let most = Mass::grams(5_460_000).show(units);
    let message = format!(
        "the truck may not enter a container: its front axle bears {} with its bundle",
        axle.value.show(units)
    );
    report.add(
        Fault::warning(Code::OverLimit, message)
            .at(&axle.place, format!("a floor bears {most} (ISO 1496-1, floor test)"))
            .help("have a lighter truck go in, push bundles in from the doors, or load through the roof"),
    );
}

/// The bearers of a row, and the bundles that rest on such ones.
fn bearers_of(
    row: &Table<'_>,
    report: &mut Report,
) -> Result<(Bearers, Vec<At<String>>), Reported> {
    let names = row.texts("bundles", report);
    let length = row.required::<Length>("length", report);
    let spread = row.required::<Length>("spread", report);
    let names = names?;
    if names.is_empty() {
        return Err(row.missing("bundles", "a list of bundles, such as [\"B1\"]", report));
    }
    let (length, spread) = (length?, spread?);
    let most = Length::whole_mm(MOST_SPREAD_MM);
    for (key, at) in [("length", &length), ("spread", &spread)] {
        if at.value.mm_up() < 1 {
            return Err(report.error(
                Fault::error(Code::OutOfRange, format!("`{key}` must be above 0"))
                    .at(&at.place, "these beams bear nothing"),
            ));
        }
    }
    if spread.value > most {
        let shown = most.show(report.units());
        return Err(report.error(
            Fault::error(Code::OutOfRange, "`spread` is wider than a container")
                .at(&spread.place, format!("expected at most {shown}, from middle to middle")),
        ));
    }
    Ok((Bearers { length: length.value, spread: spread.value }, names))
}

/// The bundles of a set: of fewer than two nothing is asked.
fn set(row: &Table<'_>, what: &str, report: &mut Report) -> Result<At<Vec<At<String>>>, Reported> {
    let names = row.texts("bundles", report)?;
    if names.len() < 2 {
        report.add(
            Fault::error(Code::MissingKey, format!("{what} needs two bundles"))
                .at(&row.place_of("bundles"), "`bundles` is missing or names fewer")
                .help("name its bundles, such as bundles = [\"B1\", \"B2\"], or remove it"),
        );
    }
    Ok(At { value: names, place: row.place() })
}

/// How many containers of a kind are to be had, and the name of their stock where it is shared.
fn available_of(
    row: &Table<'_>,
    report: &mut Report,
) -> Result<(Available, Option<At<String>>), Reported> {
    let kind = row.required_text("type", report);
    let class = row.text("class", report);
    let offers = offers(row, report);
    let count = required_count(row, report);
    let stock = stock(row, report);
    let (kind, class, offers) = (kind?, class?, offers?);
    let name = kind.value.clone();
    Ok((Available { kind, name, class, offers, count: count?.value }, stock?))
}

/// A count, and the name of the stock that it is of where it is shared.
type CountOf = (Option<At<u32>>, Option<At<String>>);

/// The most containers: a count, or `{ count = 3, shared = "..." }` where other shipments draw on the
/// same containers.
fn most(row: &Table<'_>, report: &mut Report) -> Result<CountOf, Reported> {
    let key = "most-containers";
    if !row.holds_table(key) {
        return Ok((row.count(key, report)?, None));
    }
    let Some(inner) = row.inside(key, report)? else { return Ok((None, None)) };
    let count = required_count(&inner, report);
    let name = stock(&inner, report);
    if !inner.has("shared") {
        report.add(
            Fault::error(Code::MissingKey, format!("`{key}` is a table without `shared`"))
                .at(&inner.place(), "the name of a shared stock is needed here")
                .help(format!("name the stock, or write the bare number: {key} = 3")),
        );
    }
    inner.finish(report);
    Ok((Some(count?), name?))
}

fn required_count(row: &Table<'_>, report: &mut Report) -> Result<At<u32>, Reported> {
    row.count("count", report)?.ok_or_else(|| {
        report.error(
            Fault::error(Code::MissingKey, "`count` is missing")
                .at(&row.place(), "how many are to be had"),
        )
    })
}

/// The name of the stock that a count is of, where it is shared.
fn stock(row: &Table<'_>, report: &mut Report) -> Result<Option<At<String>>, Reported> {
    if row.has("shared") {
        row.required_text("shared", report).map(Some)
    } else {
        row.text("shared", report)
    }
}

/// Reports a stock that one shipment names twice: its boxes would be counted twice.
fn once_shared(shared: &[SharedStock], report: &mut Report) {
    for (rank, stock) in shared.iter().enumerate() {
        let mut before = shared.iter().take(rank);
        if let Some(first) = before.find(|other| other.name.value == stock.name.value) {
            let message = format!("the shared stock \"{}\" is named twice", stock.name.value);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&stock.name.place, "again here")
                    .also(&first.name.place, "first here")
                    .help("a stock is of one type, or of all containers: give the other a name of its own"),
            );
        }
    }
}

/// `offers = { freight = "..." }`: the offers that a box goes by.
pub(super) fn offers(row: &Table<'_>, report: &mut Report) -> Result<AskedOffers, Reported> {
    let Some(inner) = row.inside("offers", report)? else { return Ok(AskedOffers::new()) };
    let named = TableName::ALL
        .iter()
        .map(|(table, word)| Ok(inner.text(word, report)?.map(|offer| (*table, offer))));
    let named = gathered(named);
    inner.finish(report);
    Ok(named?.into_iter().flatten().collect())
}

/// Reports an offer that no row of its table is of.
pub(super) fn check_offers(asked: &AskedOffers, tariffs: &Tariffs, report: &mut Report) {
    for (table, offer) in asked {
        let known = tariffs.offers(*table);
        if !known.contains(&offer.value.as_str()) {
            let file = format!("rates/{}.toml", table.word());
            add_unknown("offer", offer, &file, &known, report);
        }
    }
}

/// Reports a road class that no row is for.
pub(super) fn check_class(class: &At<String>, tariffs: &Tariffs, report: &mut Report) {
    let known = tariffs.classes();
    if !known.contains(&class.value.as_str()) {
        add_unknown("road class", class, "rates/drayage.toml", &known, report);
    }
}

/// `{ along = "8 %", reason = "..." }`: up to the usual 5 % without a reason, up to 10 % with one.
fn balance(row: &Table<'_>, report: &mut Report) -> Result<Balance, Reported> {
    let along = row.required::<Percent>("along", report);
    let reason = row.text("reason", report);
    row.finish(report);
    let (along, reason) = (along?, reason?.map(|at| at.value));
    // What cannot be held in thousandths is less than allowed, not more.
    let permille = along.value.fraction().checked_mul(Decimal::ONE_THOUSAND);
    let permille = permille.and_then(|permille| i64::try_from(permille.floor()).ok());
    let Some(permille) = permille.filter(|permille| (1..=Balance::MOST).contains(permille)) else {
        return Err(report.error(
            Fault::error(Code::OutOfRange, format!("`along` is {} of the length", along.value))
                .at(&along.place, "expected above 0 % and at most 10 %")
                .help("the CTU Code has 5 %; up to 10 % may be accepted in particular cases (annex 7, section 3.1.4)"),
        ));
    };
    let has_reason = reason.as_ref().is_some_and(|reason| !reason.trim().is_empty());
    if permille > Balance::USUAL && !has_reason {
        report.add(
            Fault::error(Code::MissingKey, format!("`along` of {} needs a `reason`", along.value))
                .at(&along.place, "more than the usual 5 % of the length")
                .help("say who accepts it and why: the spreader, the terminal, the chassis"),
        );
    }
    Ok(Balance { permille, reason })
}

/// `"rule"`, or the price of each container beyond the first, in the yard's currency.
fn bond(
    row: &Table<'_>,
    key: &'static str,
    currency: Option<Currency>,
    report: &mut Report,
) -> Result<Option<At<Bond>>, Reported> {
    let Some(text) = row.text(key, report)? else { return Ok(None) };
    if text.value == "rule" {
        return Ok(Some(text.map(|_| Bond::Rule)));
    }
    let price = row.required::<Money>(key, report)?;
    if currency.is_some_and(|currency| price.value.currency() != currency) {
        return Err(report.error(
            Fault::error(Code::Contradiction, format!("`{key}` is not in the yard's currency"))
                .at(&price.place, "this price")
                .help("write \"rule\", or what a broken wish is worth in the yard's currency"),
        ));
    }
    if price.value.is_negative() {
        return Err(report.error(
            Fault::error(Code::OutOfRange, format!("`{key}` is negative"))
                .at(&price.place, "expected 0 or more"),
        ));
    }
    Ok(Some(price.map(Bond::Wish)))
}

fn fixed(row: &Table<'_>, report: &mut Report) -> Result<(GivenBox, Vec<At<String>>), Reported> {
    let label = row.required_text("container", report);
    let kind = row.required_text("type", report);
    let class = row.text("class", report);
    let offers = offers(row, report);
    let names = row.texts("bundles", report)?;
    if names.is_empty() {
        report.add(
            Fault::error(Code::MissingKey, "a fixed container holds no bundle")
                .at(&row.place(), "`bundles` is missing or empty"),
        );
    }
    let named = GivenBox::named(label?.value, row.place());
    let given = GivenBox { kind: Some(kind?), class: class?, offers: offers?, ..named };
    Ok((given, names))
}

impl NamedWishes {
    /// Reports a type, class or offer that no row describes: it would count nothing, without a word.
    /// The types get their names.
    pub(super) fn check_kinds(&mut self, tariffs: &Tariffs, report: &mut Report) {
        for had in &mut self.available {
            if let Some(kind) = tariffs.container(&had.kind.value) {
                had.name.clone_from(&kind.name);
            }
        }
        let types: Vec<&str> = tariffs.containers.iter().map(|row| row.id.as_str()).collect();
        for (at, had) in self.available.iter().enumerate() {
            let before = self.available.iter().take(at);
            if let Some(first) = before.rev().find(|one| one.is_same_kind(had)) {
                report.add(
                    Fault::error(Code::Duplicate, format!("{} is counted twice", had.label()))
                        .at(&had.kind.place, "again here")
                        .also(&first.kind.place, "first here"),
                );
            }
            if !types.contains(&had.kind.value.as_str()) {
                let table = "rates/containers.toml";
                report.add(unknown_reference("container type", &had.kind, table, &types));
            }
            if let Some(class) = &had.class {
                check_class(class, tariffs, report);
            }
            check_offers(&had.offers, tariffs, report);
        }
    }

    /// The wishes with each name found among the bundles; marks those that may turn, A-frames, and those on bearers.
    pub(super) fn resolve(self, bundles: &mut [Bundle], report: &mut Report) -> LoadWishes {
        let is_asked = !self.turn.is_empty()
            || !self.frames.is_empty()
            || !self.bearers.is_empty()
            || !self.together.is_empty()
            || !self.apart.is_empty()
            || !self.fixed.is_empty();
        let asked_of = if is_asked { &bundles[..] } else { &[] };
        let by_name: BTreeMap<SmolStr, usize> =
            asked_of.iter().enumerate().map(|(at, bundle)| (bundle.id.clone(), at)).collect();
        let find = |names: &[At<String>], report: &mut Report| -> Vec<usize> {
            let mut all = Vec::new();
            for name in names {
                match by_name.get(name.value.as_str()) {
                    Some(at) => all.push(*at),
                    None => {
                        let known: Vec<&str> = by_name.keys().map(SmolStr::as_str).collect();
                        report.add(unknown_reference("bundle", name, "the packing list", &known));
                    }
                }
            }
            all
        };
        for at in find(&self.turn, report) {
            if let Some(bundle) = bundles.get_mut(at) {
                bundle.may_turn = true;
            }
        }
        for at in find(&self.frames, report) {
            if let Some(bundle) = bundles.get_mut(at) {
                bundle.is_a_frame = true;
            }
        }
        let mut on_bearers: BTreeMap<usize, &At<String>> = BTreeMap::new();
        for (bearers, names) in &self.bearers {
            once(names, &by_name, &mut on_bearers, "rests on two pairs of bearers", report);
            for at in find(names, report) {
                if let Some(bundle) = bundles.get_mut(at) {
                    bundle.bearers = Some(*bearers);
                }
            }
        }
        let mut in_set: BTreeMap<usize, &At<String>> = BTreeMap::new();
        for (names, _) in &self.together {
            once(
                &names.value,
                &by_name,
                &mut in_set,
                "is in two sets that belong together",
                report,
            );
        }
        let mut in_box: BTreeMap<usize, &At<String>> = BTreeMap::new();
        for (_, names) in &self.fixed {
            once(names, &by_name, &mut in_box, "is fixed in two places", report);
        }
        let found = |names: &At<Vec<At<String>>>, report: &mut Report| At {
            value: find(&names.value, report),
            place: names.place.clone(),
        };
        let together: Vec<(At<Vec<usize>>, Bond)> =
            self.together.iter().map(|(names, bond)| (found(names, report), *bond)).collect();
        let apart = self.apart.iter().map(|names| found(names, report)).collect();
        if let Some(At { value: Bond::Wish(_), place }) = &self.blocks {
            for (set, _) in together.iter().filter(|(_, bond)| matches!(bond, Bond::Wish(_))) {
                one_price(set, bundles, place, report);
            }
        }
        let fixed = self
            .fixed
            .iter()
            .map(|(given, names)| GivenBox { bundles: find(names, report), ..given.clone() });
        let fixed = fixed.collect();
        LoadWishes {
            blocks: self.blocks,
            together,
            apart,
            fixed,
            most: self.most,
            available: self.available,
            shared: self.shared,
            balance: self.balance,
            effort: self.effort.unwrap_or(1),
        }
    }
}

/// Reports a bundle that stands in two lists which exclude each other.
fn once<'a>(
    names: &'a [At<String>],
    by_name: &BTreeMap<SmolStr, usize>,
    seen: &mut BTreeMap<usize, &'a At<String>>,
    what: &str,
    report: &mut Report,
) {
    for name in names {
        let Some(at) = by_name.get(name.value.as_str()) else { continue };
        twice(seen.insert(*at, name), name, what, report);
    }
}

/// Reports a name that was seen before.
fn twice(first: Option<&At<String>>, name: &At<String>, what: &str, report: &mut Report) {
    if let Some(first) = first {
        report.add(
            Fault::error(Code::Duplicate, format!("bundle {} {what}", name.value))
                .at(&name.place, "again here")
                .also(&first.place, "first here"),
        );
    }
}

/// A bundle has a price for leaving its set or one for leaving its block, not both.
fn one_price(set: &At<Vec<usize>>, bundles: &[Bundle], blocks: &Place, report: &mut Report) {
    let block = |at: usize| bundles.get(at).and_then(|bundle| bundle.block.as_ref());
    let shared = set.value.iter().find(|at| {
        let mut others = (0..bundles.len()).filter(|other| other != *at);
        block(**at).is_some_and(|own| others.any(|other| block(other) == Some(own)))
    });
    let Some(bundle) = shared.and_then(|at| bundles.get(*at)) else { return };
    let message =
        format!("bundle {} has two wishes with a price: in a set and by its block", bundle.id);
    report.add(
        Fault::error(Code::Contradiction, message)
            .at(&set.place, "in this set")
            .also(blocks, "by its block")
            .help("take the price out of one of them, or leave out `blocks`"),
    );
}
