//! What leaves the house: that nothing of ours is in it, on made-up workspaces, and the words of it on the demo.
//!
//! Names are planted that occur nowhere else, in every field that can hold one, and none of them is found
//! in what goes out. Figures are held more strictly than by looking for them: two workspaces are alike but
//! for every figure of ours (amounts, prices, rates of exchange, percentages, lift, limits), and what
//! goes out of both is the same to the byte. So none can be in it in any unit or rounding, and none can be
//! had from it as a difference. The law of a road and the pushes of a code are no figures of ours: they are
//! public, a haulier reads a scale's ticket against the one, and the works brace a box by the other. Our names of their
//! rows stay.

use std::collections::BTreeSet;
use std::fmt::Write;
use std::fs;
use std::path::Path;

use quaystone::choose::estimate;
use quaystone::fault::{Report, render};
use quaystone::load::{Effort, summary};
use quaystone::outgoing::{Audience, Goods, LIST, Letter, OutgoingLoad, Requests};
use quaystone::quantity::Units;
use quaystone::read::{self, Workspace};
use quaystone::show::{self, Format, Ground, Page, Paper};

use crate::commands::snapshot;
use crate::common::{Tiny, demo, drawn, json, run, stdout};
use crate::imports::Imports;
use crate::random::{Made, Shape};

/// In every planted name that is told to nobody.
const SECRET: &str = "zzq";
/// In the name of the yard, which a haulier is told.
const YARD: &str = "yyv";

/// A supplier's name, which he alone is told.
fn supplier(at: usize) -> String {
    format!("Quarry wwx{at} (invented)")
}

/// The names that the tables of a made-up workspace give: charges, offers, limits, stones.
const NAMES: [&str; 38] = [
    "ocean freight",
    "haulage",
    "fuel surcharge",
    "document fee",
    "terminal handling",
    "road custom",
    "carrier's cap",
    "packing",
    "loading at the works",
    "export clearance",
    "truck to the port",
    "origin handling",
    "lifting on board",
    "duty",
    "surcharge",
    "reciprocal duty",
    "special duty",
    "duty by mass",
    "duty by area",
    "customs entry",
    "processing fee",
    "harbour fee",
    "import tax",
    "cargo insurance",
    "unloading",
    "imputed finance",
    "shuttle",
    "heavy box",
    "tax on heavy boxes",
    "heavy deposit",
    "truck from the works",
    "handling of one type",
    "gate",
    "peak",
    "peak tax",
    "toll",
    "chassis hire",
    "bunker surcharge",
];

/// Names of ours that are no charge.
const MORE_NAMES: [&str; 8] =
    ["first", "second", "third", "yard", "chalk", "ink", "land", "made up"];

/// Replaces a whole quoted name wherever it stands, but for the keys whose words are the program's.
fn planted(text: &str) -> String {
    let mut out = String::new();
    for line in text.lines() {
        let key = line.split('=').next().unwrap_or("").trim();
        let mut line = line.to_owned();
        if !["leg", "per", "value-basis", "use"].contains(&key) {
            for name in NAMES.iter().chain(&MORE_NAMES) {
                line = line.replace(&format!("\"{name}\""), &format!("\"{SECRET} {name}\""));
            }
        }
        line = line.replace("\"invented\"", &format!("\"{SECRET} source\""));
        line = line.replace("Dice yard (invented)", "Dice yard yyv");
        out += &line;
        out.push('\n');
    }
    out
}

/// A packing list in the place of the nominal quantities of a shipment's lines.
fn listed(shipment: &str) -> (String, String) {
    let (mut text, mut list) =
        (String::new(), String::from("slab,bundle,block,line,length (cm),height (cm),remarks\n"));
    let (mut id, mut bundles, mut slabs) = (String::new(), 0, 0);
    for line in shipment.lines() {
        let (key, value) = line.split_once(" = ").unwrap_or((line, ""));
        let value = value.trim_matches('"');
        match key {
            "bundles" if !value.starts_with('[') => bundles = value.parse().unwrap(),
            "slabs" => slabs = value.parse().unwrap(),
            "size" => {
                let (length, height) = value.trim_end_matches(" cm").split_once(" x ").unwrap();
                for (bundle, slab) in (1..=bundles).flat_map(|b| (1..=slabs).map(move |s| (b, s))) {
                    writeln!(
                        list,
                        "{id}-{bundle}-{slab},{id}-B{bundle},K{bundle},{id},{length},{height},{SECRET} remark"
                    )
                    .unwrap();
                }
            }
            _ => {
                if key == "id" {
                    value.clone_into(&mut id);
                }
                text += line;
                text.push('\n');
            }
        }
    }
    (text, list)
}

const RIGS: &str = r#"[[rig]]
id = "zzq rig"
name = "zzq rig in full"
yard = "zzq yard"
road = "zzq road"
tractor = { wheelbase = "190 in", fifth-wheel = "12 in", steer-tare = "9600 lb", drive-tare = "6900 lb", drive-spacing = ["52 in"] }
chassis = { bogie = "330 in", spacing = ["60 in", "60 in"], tare = "8600 lb", tare-centre = "215 in", box-middle = "192 in" }
valid = "2026-01-01..2026-12-31"
source = "zzq rig source"
"#;

const ROADS: &str = r#"[[road]]
id = "zzq road"
name = "zzq road in full"
permit = "zzq permit"
certify-over = "4 t"
gross = [{ most = "71318 lb" }]
axles = [{ name = "zzq axle", most = "63127 lb" }]
valid = "2026-01-01.."
source = "zzq law"
"#;

/// The road is not judged: its name is one of ours.
const SETS: &str = r#"[friction]
of = "30 %"
source = "zzq friction"

[[set]]
id = "zzq-sea"
name = "zzq sea"
by = "sea"
forward = { push = "40 %", weight = "20 %" }
aft = { push = "40 %", weight = "20 %" }
sideways = { push = "80 %", weight = "100 %" }
source = "zzq code"
"#;

/// What an invoice may have that no page for others shows.
const OF_INVOICE: &str = r#"part = "zzq part"
producer = "zzq producer"
commission = { rate = "3 %", agent = "buying" }
basis-adjustment = { amount = "-10.00 USD", source = "zzq hedge file" }
payment = [
  { name = "zzq deposit", share = "30 %", on = 2026-03-10 },
  { name = "zzq balance", share = "rest", due = "sails + 30 days" },
]"#;

const IN_DOLLARS: &str = r#"addition = [{ name = "zzq assist", amount = "120 USD" }]"#;

/// What is asked of the load, and what papers state.
const OF_LOAD: &str = r#"
[load]
blocks = "50 USD"
balance = { along = "6 %", reason = "zzq reason" }
most-containers = { count = 9, shared = "zzq stock" }
[[paper]]
name = "zzq paper"
gross = "7.1 t"
"#;

/// Another way to buy the goods of the first invoice, whose price has lapsed.
const WAY: &str = r#"
[[way]]
id = "zzq way"
invoice = "N-0"
price-valid = "2026-01-01..2026-02-28"
discount = "2 %"
"#;

/// Plants names in a drawn workspace, with as many suppliers as invoices and a packing list where `listed`.
fn plant(made: &Made, has_list: bool) {
    for entry in fs::read_dir(made.path().join("rates")).unwrap() {
        let path = entry.unwrap().path();
        let text = planted(&fs::read_to_string(&path).unwrap());
        fs::write(path, text).unwrap();
    }
    let write = |name: &str, text: &str| fs::write(made.path().join(name), text).unwrap();
    write("rates/rigs.toml", RIGS);
    write("rates/roads.toml", ROADS);
    write("rates/securing.toml", SETS);
    let text = fs::read_to_string(made.path().join("shipments/drawn/shipment.toml")).unwrap();
    let mut text = planted(&text);
    for at in 0..4 {
        text = text.replacen("Quarry Dice (invented)", &supplier(at), 1);
    }
    let folder = made.path().join(format!("shipments/{SECRET}-drawn"));
    fs::create_dir_all(&folder).unwrap();
    if has_list {
        let (without, list) = listed(&text);
        text = without;
        fs::write(folder.join("packing.csv"), list).unwrap();
    }
    if !made.is_delivered() {
        text = text.replace("\nterm = ", &format!("\n{OF_INVOICE}\nterm = "));
        if !["EUR/m2", "GBP/m2"].iter().any(|price| text.contains(price)) {
            text = text.replace("\nterm = ", &format!("\n{IN_DOLLARS}\nterm = "));
        }
    }
    let text = format!("title = \"{SECRET} title\"\n{text}{OF_LOAD}{WAY}");
    fs::write(folder.join("shipment.toml"), text).unwrap();
}

/// The same text with every figure of ours another.
fn with_other_figures(text: &str) -> String {
    let mut out = String::new();
    for line in text.lines() {
        let key = line.split('=').next().unwrap_or("").trim();
        // What the goods are, and what they stand on, is no figure of ours.
        let is_physical =
            ["thickness-margin", "density", "tractor", "chassis", "certify-over"].contains(&key);
        if is_physical {
            out += line;
        } else {
            let parts = line.split('"').enumerate();
            let parts = parts
                .map(|(at, part)| if at % 2 == 1 { other(key, part) } else { part.to_owned() });
            out += &parts.collect::<Vec<_>>().join("\"");
        }
        out.push('\n');
    }
    out
}

/// A quoted figure of ours as another; any other text as it is.
fn other(key: &str, text: &str) -> String {
    let words: Vec<&str> = text.split(' ').collect();
    let more = |figure: &str, by: i64| -> Option<String> {
        let (whole, places) = figure.split_once('.').unwrap_or((figure, ""));
        let whole: i64 = whole.parse().ok()?;
        let point = if places.is_empty() { "" } else { "." };
        Some(format!("{}{point}{places}", whole + by))
    };
    let is_limit = ["cargo", "lift", "gross", "axles"].contains(&key);
    let changed = match words[..] {
        ["1", base, "=", rate, counter] => {
            more(rate, 2).map(|rate| format!("1 {base} = {rate} {counter}"))
        }
        [figure, "%"] => more(figure, 1).map(|figure| format!("{figure} %")),
        [figure, unit @ ("USD" | "EUR" | "GBP" | "USD/m2" | "EUR/m2" | "GBP/m2" | "USD/kg")] => {
            more(figure, 7).map(|figure| format!("{figure} {unit}"))
        }
        [figure, unit @ ("kg" | "t" | "lb")] if is_limit => {
            more(figure, 3).map(|figure| format!("{figure} {unit}"))
        }
        _ => None,
    };
    changed.unwrap_or_else(|| text.to_owned())
}

fn change_figures(made: &Made) {
    let shipment = made.path().join(format!("shipments/{SECRET}-drawn/shipment.toml"));
    let rates = fs::read_dir(made.path().join("rates")).unwrap();
    for path in rates.map(|entry| entry.unwrap().path()).chain([shipment]) {
        if path.ends_with("roads.toml") || path.ends_with("securing.toml") {
            continue;
        }
        let before = fs::read_to_string(&path).unwrap();
        let after = with_other_figures(&before);
        assert!(
            before != after || before.len() < 2_000 || path.ends_with("containers.toml"),
            "{}",
            path.display()
        );
        fs::write(path, after).unwrap();
    }
}

/// Everything that goes out, each with whom it goes to (`None`: the haulier) and what it is.
type Sent = Vec<(Option<usize>, String, String)>;

/// All that can be sent of a shipment, bought as it is written and in its other way; what is said where it
/// cannot be costed.
fn sent(folder: &Path) -> Result<Sent, String> {
    let mut all = sent_of(folder, None)?;
    all.extend(sent_of(folder, Some("zzq way"))?);
    Ok(all)
}

fn sent_of(folder: &Path, way: Option<&str>) -> Result<Sent, String> {
    let mut report = Report::new();
    let fail = |report: &Report| render(report, false);
    let workspace = Workspace::at(folder, &mut report).unwrap();
    let tariffs = read::tables(&workspace, &mut report);
    let name = format!("{SECRET}-drawn");
    let asked = read::Asked { name: &name, way };
    let Ok(shipment) = read::shipment(&workspace, asked, &tariffs, &mut report) else {
        return Err(fail(&report));
    };
    let shipment = shipment.serving_on();
    let Ok(costed) = estimate(&shipment, &tariffs, Effort::default(), &mut report) else {
        return Err(fail(&report));
    };
    let costed = costed.map_err(|misfits| format!("{misfits:?}"))?;
    if !costed.verdict.holds() {
        return Err(format!("{:?}", costed.verdict.broken()));
    }
    let boxes = costed.plan.boxes.iter();
    let boxes = boxes.map(|one| {
        let mut one = summary(&costed.plan, one, &shipment.bundles).unwrap();
        one.consult(&shipment, &tariffs);
        one
    });
    let boxes: Vec<_> = boxes.collect();
    let mut all = Sent::new();
    let haulier = OutgoingLoad::for_haulier(&shipment, &boxes).unwrap();
    load(None, &haulier, &mut all);
    for (at, (supplier, _)) in Goods::suppliers(&shipment).into_iter().enumerate() {
        let own = OutgoingLoad::for_supplier(&shipment, &boxes, supplier).unwrap();
        load(Some(at), &own, &mut all);
        let goods = Goods::of(&shipment, supplier, &tariffs);
        let own = Some(own).filter(|_| !goods.is_nominal);
        let letter = Letter { goods, load: own, asked: Requests::default() };
        forms(Some(at), "letter", || show::letter(&letter, Units::Metric, GROUND), &mut all);
        let mut json = Vec::new();
        show::json::letter(&letter, &mut json).unwrap();
        all.push((Some(at), "letter json".to_owned(), String::from_utf8(json).unwrap()));
    }
    Ok(all)
}

const GROUND: Ground = Ground { columns: 78, paper: Paper::A4 };

fn load(to: Option<usize>, own: &OutgoingLoad<'_>, all: &mut Sent) {
    for units in [Units::Metric, Units::Us] {
        forms(to, "load", || show::outgoing_load(own, &[], units, GROUND), all);
        all.push((to, "drawing".to_owned(), show::outgoing_drawing(own, units, Paper::A4)));
    }
    let mut json = Vec::new();
    show::json::outgoing_load(own, &[], &mut json).unwrap();
    all.push((to, "json".to_owned(), String::from_utf8(json).unwrap()));
    all.push((to, "plan".to_owned(), show::outgoing_plan(own)));
}

fn forms<'a>(to: Option<usize>, what: &str, page: impl Fn() -> Page<'a>, all: &mut Sent) {
    for format in [Format::Text, Format::Markdown, Format::Html, Format::Kept, Format::Csv] {
        let mut text = Vec::new();
        page().write(format, 78, &mut text).unwrap();
        all.push((to, format!("{what} {format:?}"), String::from_utf8(text).unwrap()));
    }
}

/// Holds everything that is sent against what its reader may not know.
fn nothing_planted_is_in(sent: &Sent, name: &str) {
    let suppliers: BTreeSet<usize> = sent.iter().filter_map(|(to, ..)| *to).collect();
    for (to, what, text) in sent {
        // Markdown escapes some signs, and a planted name has none of them.
        let text = text.to_lowercase();
        let mut forbidden = vec![SECRET.to_owned(), ".toml".to_owned(), ".csv".to_owned()];
        forbidden.extend(
            ["usd ", " usd", "eur ", " eur", "gbp ", " gbp", "usd/", "eur/"].map(str::to_owned),
        );
        for other in suppliers.iter().filter(|at| Some(**at) != *to) {
            forbidden.push(format!("wwx{other}"));
            // Another supplier's invoice, and his lines and bundles, which are named for it.
            if to.is_some() {
                forbidden.extend([format!("n-{other}"), format!("l{other}-")]);
            }
        }
        if to.is_some() {
            forbidden.push(YARD.to_owned());
        } else {
            forbidden.push("n-0".to_owned());
            // The kind of goods is told where a certification needs it, and nowhere else.
            if !text.contains("5902") && !text.contains("\"contents\"") {
                forbidden.extend(["marble", "granite"].map(str::to_owned));
            }
        }
        for word in forbidden {
            assert!(!text.contains(&word), "{name}: {word} in {what} to {to:?}:\n{text}");
        }
    }
}

#[test]
fn nothing_of_ours_is_in_what_leaves_the_house() {
    let shapes: Vec<Shape> = match drawn(1) {
        1 => vec![
            Shape::Parts,
            Shape::AnyTerms,
            Shape::Forwarders,
            Shape::TwoWorks,
            Shape::DeliveredTaxed,
            Shape::Priced,
        ],
        _ => Shape::ALL.into_iter().chain(Shape::DELIVERED).collect(),
    };
    let (mut held, mut seen) = (0, BTreeSet::new());
    for (at, shape) in shapes.iter().enumerate() {
        for seed in 0..drawn(1) {
            let made = Made::new(*shape, seed);
            let name = made.name();
            plant(&made, (at + usize::try_from(seed).unwrap()) % 2 == 0);
            let Ok(free) = sent(made.path()) else { continue };
            nothing_planted_is_in(&free, &name);
            // The load is kept: which load is cheapest hangs on our figures, and that may be seen.
            let plan = &free.iter().find(|(to, what, _)| to.is_none() && what == "plan").unwrap().2;
            let path = made.path().join(format!("shipments/{SECRET}-drawn/plan.toml"));
            fs::write(path, plan).unwrap();
            let before = sent(made.path()).unwrap_or_else(|why| panic!("{name}: {why}"));
            change_figures(&made);
            // By other figures a price delivered duty paid may be less than the duty in it.
            let Ok(after) = sent(made.path()) else { continue };
            nothing_planted_is_in(&after, &name);
            assert_eq!(before.len(), after.len());
            for ((to, what, one), (_, _, other)) in before.iter().zip(&after) {
                assert_eq!(one, other, "{name}: a figure of ours is in {what} to {to:?}");
            }
            for part in [
                "CERTIFICATION",
                "axle 1",
                "other goods",
                "packing list",
                "estimate",
                "ended on 2026-02-28",
                "struts at the",
                "NOT JUDGED",
            ] {
                seen.extend(after.iter().any(|(_, _, text)| text.contains(part)).then_some(part));
            }
            held += 1;
        }
    }
    assert_eq!(seen.len(), 8, "what was sent held only {seen:?}");
    assert!(held * 10 >= shapes.len() * usize::try_from(drawn(1)).unwrap() * 7, "only {held} held");
}

#[test]
fn what_leaves_the_house_is_made_of_the_listed_facts_alone() {
    let imports = Imports::of(&demo().join("src"));
    let is_page =
        |file: &str| file.starts_with("show/outgoing/") || file == "show/json/outgoing.rs";
    let pages: Vec<_> = imports.uses.iter().filter(|(file, _)| is_page(file)).collect();
    assert!(pages.len() >= 5);
    for (file, used) in pages {
        for other in used {
            let room = other.split(['/', '.']).next().unwrap();
            let may = ["quantity", "fault", "outgoing", "show"];
            assert!(may.contains(&room), "{file} uses {other}: what is sent passes src/outgoing/");
        }
    }
    // The user reads the same list.
    let readme = fs::read_to_string(demo().join("README.md")).unwrap();
    for (_, words, to) in LIST {
        let to: Vec<&str> = Audience::ALL
            .iter()
            .map(|(one, _)| if to.contains(one) { "yes" } else { "" })
            .collect();
        let row = format!("| {words} | {} | {} |", to[0], to[1]);
        assert!(readme.contains(&row), "README.md misses {row}");
    }
}

const SPRING: &str = "white-marble-spring";

/// What a letter may ask for.
const ASKED: [&str; 6] =
    ["--price", "A=45.20 EUR/m2", "--until", "2026-04-01", "--wish", "bundles of at most 3.5 t"];

#[test]
fn a_load_for_others_and_a_letter_read_well() {
    for (name, audience) in [(SPRING, "supplier"), ("dock-tandem", "haulier")] {
        let text = stdout(&demo(), &["load", name, "--for", audience]);
        assert!(text.lines().all(|line| line.chars().count() <= 78), "{text}");
        snapshot(&format!("{name}-{audience}.txt"), text);
    }
    let text = stdout(&demo(), &[&["letter", SPRING][..], &ASKED].concat());
    assert!(text.lines().all(|line| line.chars().count() <= 78), "{text}");
    snapshot("white-marble-spring-letter.txt", text);
}

#[test]
fn html_for_others_has_the_drawing_in_the_place_of_characters() {
    for args in [&["load", SPRING, "--for", "supplier"][..], &["letter", SPRING], &["load", SPRING]]
    {
        let html = stdout(&demo(), &[args, &["--as", "html"]].concat());
        assert_eq!(html.matches("<svg").count(), 2, "one for each of two containers");
        assert!(!html.contains("<pre"));
        // Each is a sheet of its own.
        assert!(html.contains("<style>@page{size:A4;margin:10mm}</style>"));
        assert_eq!(html.matches("break-before:page").count(), 2);
        // They stand after the last word: none leaves a page half empty before it.
        assert!(html.find("<svg") > html.rfind("</table>"));
        assert_eq!(html.matches("is drawn at the end").count(), 2);
        // A sheet is as wide as the screen; a table that may be wider has a scroll of its own.
        let (tables, scrolls) =
            (html.matches("<table").count(), html.matches("overflow-x:auto").count());
        assert_eq!(scrolls, tables);
    }
}

#[test]
fn csv_for_others_has_a_figure_a_cell() {
    let letter = stdout(&demo(), &["letter", SPRING, "--price", "A=45.20 EUR/m2", "--as", "csv"]);
    let lines = "line,stone,finish,thickness mm,slabs,price asked,currency,per,price lapsed on\n\
                 A,Teapot White (invented),polished,20,68,45.20,EUR,m2,\n\
                 B,Teapot White (invented),sawn,60,4,,,,\n";
    assert_eq!(letter, lines);
    let csv = stdout(&demo(), &["load", SPRING, "--for", "haulier", "--as", "csv"]);
    let mut rows = csv::Reader::from_reader(csv.as_bytes());
    let heads = rows.headers().unwrap().clone();
    let rows: Vec<_> = rows.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 8);
    for head in [
        "gross kg",
        "tare kg",
        "dunnage kg",
        "length mm",
        "width mm",
        "from front mm",
        "expected kg",
    ] {
        let at =
            heads.iter().position(|one| one == head).unwrap_or_else(|| panic!("{head}: {heads:?}"));
        assert!(
            rows.iter().all(|row| row[at].parse::<quaystone::quantity::Decimal>().is_ok()),
            "{head}"
        );
    }
}

#[test]
fn a_letter_says_on_stderr_what_of_ours_it_lets_out() {
    let out = run(&demo(), &[&["letter", SPRING][..], &ASKED].concat());
    let said = String::from_utf8(out.stderr).unwrap();
    let expected = "the letter tells the supplier the price asked for A: 45.20 EUR/m2\n\
                    the letter tells the supplier the day it is asked until: 2026-04-01\n\
                    the letter tells the supplier the wish \"bundles of at most 3.5 t\"\n";
    assert_eq!(said, expected);
    // One that asks for nothing lets nothing out.
    assert!(run(&demo(), &["letter", SPRING]).stderr.is_empty());
}

#[test]
fn a_letter_asks_nothing_of_a_line_that_is_not_the_suppliers() {
    for wrong in ["Z=45.20 EUR/m2", "A=45.20", "45.20 EUR/m2"] {
        let out = run(&demo(), &["letter", SPRING, "--price", wrong]);
        assert_eq!(out.status.code(), Some(2), "{wrong}");
        assert!(out.stdout.is_empty());
    }
    let twice = ["--price", "A=45.20 EUR/m2", "--price", "A=44.00 EUR/m2"];
    let out = run(&demo(), &[&["letter", SPRING][..], &twice].concat());
    assert_eq!(out.status.code(), Some(2), "two prices of one line");
}

#[test]
fn a_letter_for_a_nominal_shipment_asks_for_a_packing_list() {
    let text = stdout(&demo(), &["letter", "white-marble-cif"]);
    assert!(text.contains("Please send us the packing list"), "{text}");
    assert!(!text.contains("Container 1"), "{text}");
}

#[test]
fn of_several_suppliers_one_is_named() {
    let made = Made::new(Shape::TwoWorks, 0);
    plant(&made, true);
    let name = format!("{SECRET}-drawn");
    for args in [&["letter", &name][..], &["load", &name, "--for", "supplier"]] {
        let out = run(made.path(), args);
        assert_eq!(out.status.code(), Some(2));
        let said = String::from_utf8(out.stderr).unwrap();
        for (at, number) in ["N-0", "N-1"].iter().enumerate() {
            assert!(said.contains(&format!("  {}: {number}\n", supplier(at))), "{said}");
        }
        let text = stdout(made.path(), &[args, &["--invoice", "N-1"]].concat());
        assert!(text.contains("L1-A-B1") && !text.contains("L0-A"), "{text}");
        let out = run(made.path(), &[args, &["--invoice", "N-7"]].concat());
        assert_eq!(out.status.code(), Some(2));
    }
    // A plan names every bundle, so that none is kept for one of several.
    let file = made.path().join("sent.toml");
    let plan = ["--for", "supplier", "--invoice", "N-1", "--freeze", file.to_str().unwrap()];
    let out = run(made.path(), &[&["load", &name][..], &plan].concat());
    assert_eq!(out.status.code(), Some(2));
    assert!(!file.exists());
}

#[test]
fn a_plan_kept_for_others_has_no_cost_and_is_checked() {
    let tiny = Tiny::of_demo(SPRING);
    for audience in ["supplier", "haulier"] {
        let file = tiny.path().join(format!("{audience}.toml"));
        let file = file.to_str().unwrap();
        stdout(tiny.path(), &["load", SPRING, "--for", audience, "--freeze", file]);
        let text = fs::read_to_string(file).unwrap();
        for word in ["USD", "kept", "offers", "class", SPRING] {
            assert!(!text.contains(word), "{word} in {text}");
        }
        let own = stdout(tiny.path(), &["load", SPRING]);
        let theirs = stdout(tiny.path(), &["load", SPRING, "--check", file]);
        assert!(theirs.contains("keeps every known limit and every request"), "{theirs}");
        let bundles = |page: &str| page.lines().filter(|line| line.contains(" estimate")).count();
        assert_eq!(bundles(&own), bundles(&theirs));
    }
    // The shipment's own plan keeps its cost: what is sent needs a file of its own.
    let out = run(tiny.path(), &["load", SPRING, "--for", "supplier", "--freeze"]);
    assert_eq!(out.status.code(), Some(2));
}

#[test]
fn a_load_that_breaks_a_limit_is_sent_to_nobody() {
    let tiny = Tiny::of_demo(SPRING);
    let file = tiny.path().join("theirs.toml");
    let path = file.to_str().unwrap();
    stdout(tiny.path(), &["load", SPRING, "--for", "supplier", "--freeze", path]);
    // All bundles in the first container are above what the road there is used to.
    let text = fs::read_to_string(&file).unwrap();
    let names: Vec<String> = (1..=8).map(|at| format!("\"W{at}\"")).collect();
    let head = text.split("bundles = ").next().unwrap();
    fs::write(&file, format!("{head}bundles = [{}]\n", names.join(", "))).unwrap();
    for audience in ["supplier", "haulier"] {
        let out = run(tiny.path(), &["load", SPRING, "--check", path, "--for", audience]);
        assert_eq!(out.status.code(), Some(3));
        assert!(out.stdout.is_empty());
        let said = String::from_utf8(out.stderr).unwrap();
        assert!(said.contains("the load is not sent: "), "{said}");
    }
    // A letter goes without it.
    fs::copy(&file, tiny.path().join(format!("shipments/{SPRING}/plan.toml"))).unwrap();
    let out = run(tiny.path(), &["letter", SPRING, "--wish", "bundles of at most 3 t"]);
    assert_eq!(out.status.code(), Some(0));
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(said.contains("the load is left out of the letter: "), "{said}");
    let text = String::from_utf8(out.stdout).unwrap();
    assert!(text.contains("W8") && !text.contains("Container 1"), "{text}");
}

#[test]
fn a_letter_for_a_price_that_has_lapsed_asks_for_it_anew() {
    let tiny = Tiny::new();
    tiny.replace(
        "shipments/plain/shipment.toml",
        "2026-03-01..2026-04-15",
        "2026-02-01..2026-03-01",
    );
    let lapsed = run(tiny.path(), &["cost", "plain"]);
    assert_eq!(lapsed.status.code(), Some(1));
    let letter = run(tiny.path(), &["letter", "plain"]);
    let (page, said) =
        (String::from_utf8(letter.stdout).unwrap(), String::from_utf8(letter.stderr).unwrap());
    assert_eq!(letter.status.code(), Some(0), "{said}");
    let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
    let asked = "your price of line A anew, with the day until which you hold it: what we have ended on 2026-03-01";
    assert!(page.starts_with("Invoice I-1: price and load") && page.contains(asked), "{page}");
    // The load hangs on no price of his.
    assert!(page.contains("Please load the bundles in 1 container"), "{page}");
    assert_eq!(said, "the price of line A ended on 2026-03-01: the letter asks for it anew\n");
    let json = json(&tiny, &["letter", "plain"]);
    assert_eq!(json["lines"][0]["price_lapsed_on"], "2026-03-01");
    let list = stdout(tiny.path(), &["letter", "plain", "--as", "csv"]);
    assert!(list.lines().nth(1).unwrap().ends_with(",2026-03-01"), "{list}");
}
