//! Answers of `counter` and `what-if` against a full scan: each value is written into the files, which are read and costed.
//!
//! `QUAYSTONE_DRAWN=20` scans 300 workspaces, 20 of each shape. Among them are price breaks, fees with floors
//! and caps, stated totals, several lines, three forwarders, a duty layer that ends and a rate that changes
//! with a day.

use std::fmt::Write;
use std::fs;

use quaystone::fault::Report;
use quaystone::trade::Leg;
use rayon::prelude::*;
use serde_json::Value;

use crate::common::{cost, drawn, try_cost};
use crate::random::{Dice, Made, Shape};

/// A few shapes in the usual tests, all where more is asked for.
fn shapes() -> &'static [Shape] {
    const FEW: [Shape; 3] = [Shape::Parts, Shape::AnyTerms, Shape::Forwarders];
    if drawn(1) > 1 { &Shape::ALL } else { &FEW }
}

const ACROSS: [&str; 2] = ["--across", "stones,thickness,quality"];

/// A workspace with what only some offers have.
struct Scanned {
    made: Made,
    /// The shipment as it is written.
    text: String,
    dice: Dice,
}

impl Scanned {
    fn new(shape: Shape, seed: u64) -> Self {
        let made = Made::new(shape, seed);
        let mut dice = Dice::new(seed * 31 + 5);
        let path = |file: &str| made.path().join(file);
        let add = |file: &str, text: &str| {
            let old = fs::read_to_string(path(file)).unwrap();
            fs::write(path(file), old + text).unwrap();
        };
        // A layer that ends on a day that a sailing may pass, by the day of export.
        add(
            "rates/duty.toml",
            "[[duty]]\nregime = \"land\"\nline = \"6802\"\nlayer = \"additive\"\nname = \"layer that ends\"\nrate = \"4 %\"\nvalid = \"2026-01-01..2026-04-20\"\nsource = \"invented\"\n",
        );
        for (amount, valid) in [(310, "2026-01-01..2026-04-15"), (175, "2026-04-16..2026-12-31")] {
            add(
                "rates/freight.toml",
                &format!(
                    "[[charge]]\nlane = \"TRIZM-USSAV\"\nname = \"seasonal surcharge\"\nleg = \"main carriage\"\namount = \"{amount} USD\"\nper = \"bill of lading\"\nvalid = \"{valid}\"\nsource = \"invented\"\n"
                ),
            );
        }
        let mut text = fs::read_to_string(path("shipments/drawn/shipment.toml")).unwrap();
        if dice.chance(50) {
            text = with_breaks(&text, &mut dice);
        }
        let mut all = Self { made, text, dice };
        all.write("drawn", &all.text);
        if all.text.matches("[[invoice]]").count() == 1 && all.dice.chance(60) {
            let (_, costed) = cost(all.made.path(), "drawn");
            let goods = costed.landed.charges.iter().filter(|one| one.leg == Leg::Goods);
            let first = costed.landed.charges.iter().find(|one| one.goods_of.is_some()).unwrap();
            let currency = first.amount().currency();
            let total: String = goods
                .map(|one| one.amount().amount())
                .sum::<quaystone::quantity::Decimal>()
                .to_string();
            let valid = "price-valid = \"2026-03-01..2026-12-31\"\n";
            let stated = format!("{valid}total = \"{total} {currency}\"\n");
            all.text = all.text.replacen(valid, &stated, 1);
            all.write("drawn", &all.text);
        }
        all
    }

    fn name(&self) -> String {
        self.made.name()
    }

    fn write(&self, name: &str, text: &str) {
        let folder = self.made.path().join("shipments").join(name);
        fs::create_dir_all(&folder).unwrap();
        fs::write(folder.join("shipment.toml"), text).unwrap();
    }

    /// What a shipment comes to with finance, in cents; `None` where it has no cost.
    fn decision(&self, name: &str) -> Option<i64> {
        let mut report = Report::new();
        let (_, costed) = try_cost(self.made.path(), name, &mut report)?;
        let amount = costed.landed.decision.amount();
        (costed.verdict.keeps_limits()).then(|| cents(&amount.to_string()))
    }
}

/// An amount of money in cents.
fn cents(text: &str) -> i64 {
    let (whole, places) = text.split_once('.').unwrap_or((text, ""));
    format!("{whole}{places:0<2}").parse().unwrap()
}

/// Prices of some lines fall by a quantity.
fn with_breaks(text: &str, dice: &mut Dice) -> String {
    let line = |line: &str| {
        let Some(rest) = line.strip_prefix("price = \"").filter(|_| dice.chance(60)) else {
            return line.to_owned();
        };
        let (figure, unit) = rest.trim_end_matches('"').split_once(' ').unwrap();
        let lower = cents(figure) * 94 / 100;
        format!(
            "price = [{{ price = \"{figure} {unit}\" }}, {{ from = \"{} m2\", price = \"{}.{:02} {unit}\" }}]",
            dice.from(20, 200),
            lower / 100,
            lower % 100
        )
    };
    let lines: Vec<String> = text.lines().map(line).collect();
    lines.join("\n") + "\n"
}

/// A shipment with its prices changed, and without what was stated for the old ones. The figure of a price and
/// the line it stands on are given.
fn priced(text: &str, of: impl Fn(&str, &str) -> String) -> String {
    let mut id = String::new();
    let mut all = String::new();
    for line in text.lines().filter(|line| !line.starts_with("total = ")) {
        if let Some(rest) = line.strip_prefix("id = \"") {
            rest.trim_end_matches('"').clone_into(&mut id);
        }
        let mut rest = line;
        if line.starts_with("price = ") {
            while let Some((before, after)) = rest.split_once("price = \"") {
                let (figure, after) = after.split_once(' ').unwrap();
                write!(all, "{before}price = \"{} ", of(&id, figure)).unwrap();
                rest = after;
            }
        }
        all.push_str(rest);
        all.push('\n');
    }
    all
}

/// A figure at so many thousandths, exact.
fn thousandths(figure: &str, count: i64) -> String {
    let exact = cents(figure) * count;
    format!("{}.{:05}", exact / 100_000, exact % 100_000)
}

fn trial<'a>(page: &'a Value, what: &str) -> &'a Value {
    let mut all = page["trials"].as_array().unwrap().iter();
    all.find(|one| one["what"] == what).unwrap_or_else(|| panic!("{what} in {page}"))
}

/// The price to ask for against the same goods at other prices, and each step within a tenth of it.
fn scan_prices(scanned: &mut Scanned) {
    let name = scanned.name();
    let many = drawn(1) > 1;
    let other = i64::try_from(scanned.dice.from(750, 1_150)).unwrap();
    scanned.write("other", &priced(&scanned.text, |_, figure| thousandths(figure, other)));
    let goal = scanned.decision("other").unwrap();
    let lines = scanned.text.matches("[[invoice.line]]").count();
    let first = scanned.text.lines().skip_while(|line| !line.starts_with("[[invoice.line]]"));
    let first: Vec<&str> = first.collect();
    let price = first.iter().find(|line| line.starts_with("price = ")).unwrap();
    let id = first.iter().find_map(|line| line.strip_prefix("id = \"")).unwrap();
    let id = id.trim_end_matches('"').to_owned();
    let has_one_price = price.starts_with("price = \"");
    let by_line = has_one_price && (lines == 1 || scanned.dice.chance(40));
    let price = price.strip_prefix("price = \"").unwrap_or("0.00 none");
    let (quoted, unit) = price.trim_end_matches('"').split_once(' ').unwrap();
    let quoted = cents(quoted);
    let (step, stepped) = if by_line {
        let step = if many { 25 } else { 100 };
        (step, format!("{}.{:02} {unit}", step / 100, step % 100))
    } else {
        let step = if many { 5 } else { 20 };
        (step, format!("{}.{} %", step / 10, step % 10))
    };
    let mut args = vec!["counter", "drawn", "--against", "other", "--step", &stepped];
    args.extend(ACROSS);
    if by_line || lines == 1 {
        args.extend(["--line", &id]);
    }
    let run = crate::common::run(scanned.made.path(), &[&args[..], &["--as", "json"]].concat());
    let said = String::from_utf8_lossy(&run.stderr).into_owned();
    assert!(run.stdout.starts_with(b"{"), "{name} {args:?}: {said}");
    let page: Value = serde_json::from_slice(&run.stdout).unwrap();
    // In hundredths of the unit, or in thousandths of what is quoted.
    let figure = |what: &str| -> i64 {
        let trial = trial(&page, what);
        if by_line {
            cents(trial["prices"][0]["price"].as_str().unwrap())
        } else {
            let text = trial["percent_of_quoted"].as_str().unwrap();
            let (whole, places) = text.split_once('.').unwrap_or((text, "0"));
            whole.parse::<i64>().unwrap() * 10 + places.parse::<i64>().unwrap()
        }
    };
    let is_held = |at: i64| -> Option<i64> {
        let (folder, id) = (format!("at-{at}"), id.clone());
        scanned.write(
            &folder,
            &priced(&scanned.text, |line, figure| match (by_line, line == id) {
                (true, true) => format!("{}.{:02}", at / 100, at % 100),
                (true, false) => figure.to_owned(),
                (false, _) => thousandths(figure, at),
            }),
        );
        scanned.decision(&folder)
    };
    let half = if by_line { quoted / 2 } else { 500 };
    if page["found"] == false {
        let lowest = (half + step - 1) / step * step;
        assert!(is_held(lowest).is_none_or(|cost| cost > goal), "{name}: {lowest} does it");
        return;
    }
    let answer = figure("counter price");
    let at = is_held(answer).unwrap();
    assert_eq!(cents(trial(&page, "counter price")["decision"].as_str().unwrap()), at, "{name}");
    let tenth = if by_line { quoted / 10 } else { 100 };
    let below = (0..=tenth / step).map(|steps| answer - steps * step).filter(|at| *at >= half);
    let below: Vec<i64> = below.collect();
    below.par_iter().for_each(|at| {
        let cost = is_held(*at);
        assert!(cost.is_some_and(|cost| cost <= goal), "{name}: {at} below {answer}: {cost:?}");
    });
    if page["trials"].as_array().unwrap().iter().any(|one| one["what"] == "one step above") {
        let above = is_held(answer + step);
        assert!(above.is_none_or(|above| above > goal), "{name}: {answer} is not the highest");
    }
}

#[test]
fn the_counter_price_is_that_of_a_full_scan_of_files() {
    for shape in shapes() {
        (0..drawn(1)).for_each(|seed| scan_prices(&mut Scanned::new(*shape, seed)));
    }
}

/// What moves: its range on the command line, and each of its values.
fn range_of(lever: u64) -> (&'static str, Vec<String>) {
    match lever {
        0 => {
            let values = (11..=22).map(|day| format!("2026-04-{day:02}"));
            ("sails=2026-04-11..2026-04-22", values.collect())
        }
        1 => {
            let values = (104..=119).map(|rate| format!("{}.{:02}", rate / 100, rate % 100));
            ("1 EUR = 1.04..1.19 USD", values.collect())
        }
        _ => {
            let values = (90..=110).map(|percent: i64| percent.to_string());
            ("ocean freight = 90..110 %", values.collect())
        }
    }
}

/// A shipment that sails so many days later, with all days but that of the calculation.
fn sailing_later(text: &str, by: u32) -> String {
    let moved = |line: &str| {
        if let Some(day) = line.strip_prefix("entered = 2026-05-") {
            return format!("entered = 2026-05-{:02}", day.parse::<u32>().unwrap() + by);
        }
        if !line.starts_with("dates = ") {
            return line.to_owned();
        }
        let (_, returned) = line.split_once("returned = 2026-05-").unwrap();
        let returned = returned.trim_end_matches([' ', '}']).parse::<u32>().unwrap();
        format!(
            "dates = {{ quoted = 2026-03-04, sails = 2026-04-{:02}, arrives = 2026-05-{:02}, returned = 2026-05-{:02} }}",
            11 + by,
            9 + by,
            returned + by
        )
    };
    text.lines().map(moved).collect::<Vec<_>>().join("\n") + "\n"
}

/// The table of rates of exchange with another planning rate.
fn at_rate(table: &str, rate: &str) -> String {
    let set = |line: &str| {
        let is_own = line.starts_with("quote = \"1 EUR");
        if is_own { format!("quote = \"1 EUR = {rate} USD\"") } else { line.to_owned() }
    };
    table.lines().map(set).collect::<Vec<_>>().join("\n")
}

/// A table of charges with so many percent of each amount of one, which is in whole dollars.
fn at_percent(table: &str, name: &str, percent: i64) -> String {
    let mut is_own = false;
    let set = |line: &str| {
        if line.starts_with("name = ") {
            is_own = line == format!("name = \"{name}\"");
        }
        let Some(rest) = line.strip_prefix("amount = \"").filter(|_| is_own) else {
            return line.to_owned();
        };
        let (whole, unit) = rest.split_once(' ').unwrap();
        let cents = whole.parse::<i64>().unwrap() * percent;
        format!("amount = \"{}.{:02} {unit}", cents / 100, cents % 100)
    };
    table.lines().map(set).collect::<Vec<_>>().join("\n")
}

/// Two offers over a range, and the same with each value in the files.
fn scan_range(scanned: &mut Scanned, lever: u64) {
    let name = scanned.name();
    let path = |file: &str| scanned.made.path().join(file);
    // A delivered price against one free on board: what moves does not move both alike.
    let other = priced(&scanned.text, |_, figure| thousandths(figure, 1_180));
    let other = other.replace("term = \"FOB TRIZM\"", "term = \"CFR USSAV\"");
    scanned.write("other", &other);
    let (range, values) = range_of(lever);
    let mut args = vec!["counter", "drawn", "--against", "other", "--over", range];
    args.extend(ACROSS);
    let page = scanned.made.json(&args).unwrap_or_else(|why| panic!("{name}: {why}"));
    let told = page["values"].as_array().unwrap();
    assert_eq!(told.len(), values.len(), "{name}");
    let (exchange, freight) = ("rates/exchange.toml", "rates/freight.toml");
    let [rates, rows] = [exchange, freight].map(|file| fs::read_to_string(path(file)).unwrap());
    let mut winners: Vec<(String, String)> = Vec::new();
    for (value, told) in values.iter().zip(told) {
        assert_eq!(told["at"], value.as_str(), "{name}");
        let mut both = [scanned.text.clone(), other.clone()];
        match lever {
            0 => {
                let day = value.rsplit_once('-').unwrap().1.parse::<u32>().unwrap();
                both = both.map(|text| sailing_later(&text, day - 11));
            }
            1 => fs::write(path(exchange), at_rate(&rates, value)).unwrap(),
            _ => {
                let table = at_percent(&rows, "ocean freight", value.parse().unwrap());
                fs::write(path(freight), table).unwrap();
            }
        }
        for (name, text) in ["left", "right"].iter().zip(&both) {
            scanned.write(name, text);
        }
        let costs = ["left", "right"].map(|name| scanned.decision(name));
        let printed = told["costs"].as_array().unwrap().iter();
        let printed: Vec<Option<i64>> =
            printed.map(|cost| cost["decision"].as_str().map(cents)).collect();
        assert_eq!(printed, costs, "{name}, {range}: at {value}");
        // The goods are the same, so the areas are.
        let winner = match costs {
            [Some(own), Some(other)] if own == other => "both alike",
            [Some(own), Some(other)] if own < other => "drawn",
            [Some(_), Some(_)] => "other",
            [Some(_), None] => "drawn alone",
            [None, Some(_)] => "other alone",
            [None, None] => "none",
        };
        winners.push((value.clone(), winner.to_owned()));
    }
    fs::write(path(exchange), rates).unwrap();
    fs::write(path(freight), rows).unwrap();
    let mut ranges: Vec<[String; 3]> = Vec::new();
    for (value, winner) in winners {
        match ranges.last_mut().filter(|last| last[2] == winner) {
            Some(last) => last[1] = value,
            None => ranges.push([value.clone(), value, winner]),
        }
    }
    let told: Vec<[String; 3]> = page["ranges"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| ["from", "to", "cheaper"].map(|key| one[key].as_str().unwrap().to_owned()))
        .collect();
    assert_eq!(told, ranges, "{name}, {range}");
}

#[test]
fn the_ranges_over_days_rates_and_freight_are_those_of_a_full_scan_of_files() {
    for (at, shape) in (0..).zip(shapes()) {
        (0..drawn(1)).for_each(|seed| scan_range(&mut Scanned::new(*shape, seed), (seed + at) % 3));
    }
}

/// The tables of freight, of drayage and of rates of exchange, and the shipment.
type Files = [String; 4];

/// Writes a change into them.
type Edit = Box<dyn Fn(&Files) -> Files>;

/// A change drawn at random: its words, and the files with it written in, the shipment last.
fn draw_change(dice: &mut Dice, lever: u64) -> (String, Edit) {
    let some = i64::try_from(dice.from(80, 125)).unwrap();
    let sign =
        |percent: i64| format!("{}{} %", if percent < 100 { "" } else { "+" }, percent - 100);
    match lever {
        0 | 1 => {
            let (at, name) = if lever == 0 { (0, "ocean freight") } else { (1, "haulage") };
            let write = move |files: &Files| {
                let mut all = files.clone();
                all[at] = at_percent(&files[at], name, some);
                all
            };
            (format!("{name} {}", sign(some)), Box::new(write))
        }
        2 => {
            let rate = format!("1.{:02}", some - 70);
            let words = format!("1 EUR = {rate} USD");
            let write = move |[freight, drayage, exchange, shipment]: &Files| {
                let exchange = at_rate(exchange, &rate);
                [freight.clone(), drayage.clone(), exchange, shipment.clone()]
            };
            (words, Box::new(write))
        }
        3 => {
            let by = u32::try_from(dice.from(1, 11)).unwrap();
            let write = move |[freight, drayage, exchange, shipment]: &Files| {
                let shipment = sailing_later(shipment, by);
                [freight.clone(), drayage.clone(), exchange.clone(), shipment]
            };
            (format!("sails = 2026-04-{:02}", 11 + by), Box::new(write))
        }
        _ => {
            let write = move |[freight, drayage, exchange, shipment]: &Files| {
                let shipment = priced(shipment, |_, figure| thousandths(figure, some * 10));
                [freight.clone(), drayage.clone(), exchange.clone(), shipment]
            };
            (format!("price {}", sign(some)), Box::new(write))
        }
    }
}

/// Changes alone and together, and the same with each written into the files.
fn scan_changes(scanned: &mut Scanned) {
    const TABLES: [&str; 3] = ["rates/freight.toml", "rates/drayage.toml", "rates/exchange.toml"];
    let name = scanned.name();
    let path = |file: &str| scanned.made.path().join(file);
    let table = |file| fs::read_to_string(path(file)).unwrap();
    let [freight, drayage, exchange] = TABLES.map(table);
    let written = [freight, drayage, exchange, scanned.text.clone()];
    // Where a seller bears the carriage, no freight of ours falls on the goods.
    let is_ours = scanned.text.contains("term = \"FOB TRIZM\"");
    let first = scanned.dice.from(if is_ours { 0 } else { 2 }, 4);
    let second = (first + scanned.dice.from(1, 2)) % 5;
    let levers = [first, if is_ours { second } else { second.max(2) }];
    let count = if levers[0] == levers[1] { 1 } else { 2 };
    let changes: Vec<_> =
        levers[..count].iter().map(|lever| draw_change(&mut scanned.dice, *lever)).collect();
    let sets = changes.iter().flat_map(|(words, _)| ["--set", words]);
    let args: Vec<&str> = ["what-if", "drawn"].into_iter().chain(sets).chain(ACROSS).collect();
    let run = crate::common::run(scanned.made.path(), &[&args[..], &["--as", "json"]].concat());
    let said = String::from_utf8_lossy(&run.stderr).into_owned();
    assert!(run.stdout.starts_with(b"{"), "{name} {args:?}: {said}");
    let page: Value = serde_json::from_slice(&run.stdout).unwrap();
    for case in page["cases"].as_array().unwrap() {
        let own: Vec<usize> = case["changes"]
            .as_array()
            .unwrap()
            .iter()
            .map(|at| usize::try_from(at.as_u64().unwrap()).unwrap())
            .collect();
        let files = own.iter().fold(written.clone(), |files, at| changes[*at].1(&files));
        for (file, text) in TABLES.iter().zip(&files) {
            fs::write(path(file), text).unwrap();
        }
        scanned.write("changed", &files[3]);
        let told = case["costs"][0]["decision"].as_str().map(cents);
        assert_eq!(told, scanned.decision("changed"), "{name} {args:?}: {own:?}");
    }
}

#[test]
fn what_if_is_what_cost_says_of_files_changed_by_a_script() {
    for shape in shapes() {
        (0..drawn(1)).for_each(|seed| scan_changes(&mut Scanned::new(*shape, seed)));
    }
}
