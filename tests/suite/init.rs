//! A workspace to start with: it costs at once under every regime, its published figures are ours with their
//! sources, and what nobody published is named until it is replaced.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

use crate::common::{demo, rows, run, stdout};

/// Runs `init` into a folder, on a day that its tables are in force.
fn init(folder: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quaystone"))
        .arg("init")
        .arg(folder)
        .args(["--quoted", "2026-03-04"])
        .args(more)
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

/// A workspace that must come of it.
fn begun(more: &[&str]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let output = init(folder.path(), more);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{more:?}: {said}");
    folder
}

fn cost(folder: &Path, name: &str) -> Value {
    serde_json::from_str(&stdout(folder, &["cost", name, "--as", "json"])).unwrap()
}

#[test]
fn init_costs_at_once_under_every_regime() {
    // 7 bundles of 9 slabs of 2.80 x 1.80 m are 317.52 m2, at 45.00 a square metre 14,288.40. One 20' box:
    // freight 1,850.00, haul 620.00, broker 145.00, unloading 7 x 30.00 = 210.00. The premium is 0.30 % of
    // 110 % of cost, insurance and freight: (14,288.40 + 1,850.00) x 0.0033 / (1 - 0.0033) = 53.43. These are
    // 17,166.83, and the terminal.
    // us: no terminal; duty 2.5 % = 357.20 and 10 % = 1,428.80, fees 0.3464 % = 49.49 and 0.125 % = 17.86, all
    //     of the whole dollars 14,288.
    // eu: terminal 245.00; duty 1.7 % of cost, insurance and freight, 16,191.83, is 275.26.
    // gb: terminal 215.00, no duty. ca: terminal 310.00; granite 6.5 % of 14,288.40 is 928.75.
    // au: terminal 390.00; 5 % of 14,288.40 is 714.42.
    let all = [
        ("us", "19020.18", "17166.83", 8),
        ("eu", "17687.09", "17411.83", 9),
        ("gb", "17381.83", "17381.83", 9),
        ("ca", "18405.58", "17476.83", 9),
        ("au", "18271.25", "17556.83", 9),
    ];
    for (regime, total, rests, figures) in all {
        let folder = begun(&["--regime", regime]);
        let json = cost(folder.path(), "first");
        assert_eq!(json["total"], total, "{regime}");
        let head = &json;
        assert_eq!(head["on_starter_figures"], rests, "{regime}");
        assert_eq!(head["starter_figures"].as_array().unwrap().len(), figures, "{regime}");
        let basis = head["by_basis"].as_array().unwrap();
        let starter = basis.iter().find(|one| one["basis"] == "starter").unwrap();
        assert_eq!(starter["amount"], rests, "{regime}: one sum in two places");
        stdout(folder.path(), &["check"]);
    }
}

#[test]
fn a_cost_on_starter_figures_says_so_in_every_form() {
    let folder = begun(&["--regime", "us"]);
    let says = "17,166.83 USD rests on 8 starter figures";
    for form in ["text", "markdown", "html", "csv"] {
        let output = run(folder.path(), &["cost", "first", "--as", form, "--width", "200"]);
        let both = [output.stdout, output.stderr].concat();
        let both = String::from_utf8(both).unwrap();
        assert!(both.contains(says) && both.contains("rates --starter"), "{form}");
    }
    let listed: Value =
        serde_json::from_str(&stdout(folder.path(), &["rates", "--starter", "--as", "json"]))
            .unwrap();
    let listed = listed["starter_figures"].as_array().unwrap();
    // Every one is there, with file and line.
    for place in cost(folder.path(), "first")["starter_figures"].as_array().unwrap() {
        let is_it = |one: &&Value| one["source"]["file"] == place["file"];
        assert!(listed.iter().any(|one| is_it(&one)), "{place}");
    }
    let text = fs::read_to_string(folder.path().join("rates/drayage.toml")).unwrap();
    let at = text.lines().position(|line| line == "[[charge]]").unwrap() + 1;
    let page = stdout(folder.path(), &["rates", "--starter", "--width", "200"]);
    assert!(page.contains(&format!("rates/drayage.toml:{at}")), "{page}");
}

#[test]
fn letter_and_counter_wait_for_figures_of_ones_own() {
    let folder = begun(&["--regime", "us"]);
    let asked: [&[&str]; 2] =
        [&["letter", "first"], &["counter", "first", "--target", "50 USD/m2"]];
    for args in asked {
        let output = run(folder.path(), args);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(3), "{args:?}: {said}");
        assert!(output.stdout.is_empty());
        assert!(said.contains("8 starter figures") && said.contains("--starter"), "{said}");
        stdout(folder.path(), &[args, &["--starter"]].concat());
    }
}

/// What a purchaser types for the first offer, a value each.
const TYPED: [(&str, &str); 21] = [
    ("--regime", "us"),
    ("--port", "Savannah"),
    ("--lift", "5 t"),
    ("--group", "granite"),
    ("--stone", "Lantern Dusk (invented)"),
    ("--supplier", "Quarry Inkwell (invented)"),
    ("--term", "FOB Chennai"),
    ("--price", "5.20 EUR/ft2"),
    ("--price-valid", "2026-03-04..2026-04-15"),
    ("--finish", "polished"),
    ("--thickness", "20 mm"),
    ("--quoted", "2026-03-04"),
    ("--sails", "2026-04-11"),
    ("--arrives", "2026-05-09"),
    ("--freight", "3100 USD"),
    ("--freight-valid", "2026-03-01..2026-06-30"),
    ("--terminal", "0 USD"),
    ("--haul", "620 USD"),
    ("--haul-limit", "44000 lb"),
    ("--insurance", "0.30 %"),
    ("--exchange", "1 EUR = 1.0850 USD"),
];

#[test]
fn the_first_offer_takes_at_most_25_typed_values() {
    let folder = tempfile::tempdir().unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_quaystone"));
    command.arg("init").arg(folder.path());
    // The folder is a value, too.
    assert!(TYPED.len() < 25);
    for (option, value) in TYPED {
        command.args([option, value]);
    }
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let json = cost(folder.path(), "first");
    // What was typed is no starter figure. The broker's 145.00 and unloading of 7 bundles at 30.00 were not.
    assert_eq!(json["on_starter_figures"], "355.00");
    assert_eq!(json["starter_figures"].as_array().unwrap().len(), 2);
    let list = stdout(folder.path(), &["rates", "--as", "csv"]);
    assert!(list.contains("INMAA-USSAV"), "the freight is for its lane alone: {list}");
    let stones = fs::read_to_string(folder.path().join("rates/stones.toml")).unwrap();
    assert!(
        stones.contains("id = \"lantern-dusk-invented\"") && stones.contains("origin = \"IN\"")
    );
}

/// The tables of a new workspace.
fn tables(folder: &tempfile::TempDir) -> Vec<std::path::PathBuf> {
    let rates = fs::read_dir(folder.path().join("rates")).unwrap();
    rates.map(|entry| entry.unwrap().path()).filter(|path| path.is_file()).collect()
}

#[test]
fn published_figures_are_those_of_our_tables_with_their_sources() {
    for regime in ["us", "eu", "gb", "ca", "au"] {
        let folder = begun(&["--regime", regime]);
        let mut published = 0;
        for path in tables(&folder) {
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            // What is published stands in the table's own file, not among the quotes of its folder.
            let ours = fs::read_to_string(demo().join("rates").join(&name)).unwrap_or_default();
            let ours = rows(&ours);
            for (table, row) in rows(&fs::read_to_string(&path).unwrap()) {
                let is_own = ["yard", "rig", "stone", "account"].contains(&&*table);
                let is_ours = row.get("valid").is_none_or(|valid| {
                    // A row of the templates holds from the day of the calculation on.
                    !valid.as_str().unwrap().starts_with("2026-03-04..")
                });
                if !is_own && is_ours {
                    assert!(ours.contains(&(table.clone(), row.clone())), "{regime} {name}: {row}");
                    published += 1;
                }
            }
        }
        assert!(published > 10, "{regime}: {published}");
    }
}

#[test]
fn every_key_of_a_new_workspace_is_commented() {
    for regime in ["us", "eu", "gb", "ca", "au"] {
        let folder = begun(&["--regime", regime]);
        for path in
            tables(&folder).into_iter().chain([folder.path().join("shipments/first/shipment.toml")])
        {
            let text = fs::read_to_string(&path).unwrap();
            let mut explained = BTreeSet::new();
            let mut keys = BTreeSet::new();
            for line in text.lines() {
                let (code, comment) = line.split_once('#').unwrap_or((line, ""));
                if let Some((key, _)) = code.split_once(" = ")
                    && !code.starts_with([' ', '\t'])
                {
                    keys.insert(key.to_owned());
                    if !comment.is_empty() {
                        explained.insert(key.to_owned());
                    }
                }
                let words = comment.split(|c: char| !c.is_ascii_alphanumeric() && c != '-');
                explained.extend(words.map(str::to_owned));
            }
            let bare: Vec<&String> = keys.difference(&explained).collect();
            assert!(bare.is_empty(), "{regime} {}: {bare:?}", path.display());
        }
    }
}

#[test]
fn figures_that_have_lapsed_serve_on_as_starter_figures() {
    let folder = tempfile::tempdir().unwrap();
    // The fee of fiscal year 2026 ends on 2026-09-30, the surcharge on 2026-07-23, the duty on 2026-12-31.
    let output = init(folder.path(), &["--regime", "us", "--sails", "2026-12-11"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let fees = fs::read_to_string(folder.path().join("rates/fees.toml")).unwrap();
    assert!(fees.contains("# published until 2026-09-30: read the current figure"), "{fees}");
    let duty = fs::read_to_string(folder.path().join("rates/duty.toml")).unwrap();
    assert!(duty.contains("# what is on top of it has changed since 2026-07-23"), "{duty}");
    // 17,166.83, the duty of 357.20 and the fee of 49.49; the harbor maintenance fee of 17.86 has no last day.
    let json = cost(folder.path(), "first");
    assert_eq!(json["total"], "17591.38");
    assert_eq!(json["on_starter_figures"], "17573.52");
}

#[test]
fn a_packing_list_takes_the_place_of_the_quantity() {
    let folder = begun(&["--regime", "us"]);
    let list = "slab,bundle,length (cm),height (cm)\n1,B1,280,180\n2,B1,280,180\n";
    fs::write(folder.path().join("shipments/first/packing.csv"), list).unwrap();
    let output = run(folder.path(), &["cost", "first", "--as", "json"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("the quantity of line A is passed over"), "{said}");
    let json: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&json["nominal"], &json["slab_count"]), (&false.into(), &2.into()));
}

#[test]
fn init_replaces_nothing_and_writes_all_or_nothing() {
    let folder = begun(&["--regime", "us"]);
    let before = fs::read_to_string(folder.path().join("rates/duty.toml")).unwrap();
    let again = init(folder.path(), &["--regime", "eu"]);
    let said = String::from_utf8(again.stderr).unwrap();
    assert_eq!(again.status.code(), Some(1), "{said}");
    assert!(said.contains("nothing is replaced") && said.contains("quaystone offer"), "{said}");
    assert_eq!(fs::read_to_string(folder.path().join("rates/duty.toml")).unwrap(), before);
    // A wrong word gets the list, and a folder that was not there is not there after it.
    let wrong: [(&[&str], i32, &str); 7] = [
        (&["--finish", "shiny"], 1, "polished"),
        (&["--group", "soapstone"], 2, "marble, granite, quartzite"),
        (&["--term", "FOBB TRIZM"], 1, "FOB"),
        (&["--term", "FOB Atlantis"], 2, "UN/LOCODE"),
        (&["--term", "CIF USSAV"], 2, "--from"),
        (&["--price", "5.20 USD/sqft"], 2, "USD/ft2"),
        (&["--price", "400 INR/ft2"], 2, "--exchange"),
    ];
    for (typed, code, says) in wrong {
        let none = folder.path().join("none/deep");
        let output = init(&none, &[&["--regime", "us"], typed].concat());
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{typed:?}: {said}");
        assert!(said.contains(says), "{typed:?}: {said}");
        assert!(!folder.path().join("none").exists(), "{typed:?}");
    }
    // A bundle over the lift: the answer is "no", and nothing is written.
    let none = folder.path().join("none");
    let heavy = init(&none, &["--regime", "us", "--lift", "1 t"]);
    assert_eq!(heavy.status.code(), Some(3));
    assert!(!none.exists());
}

/// A further offer in a workspace, a value typed each.
fn offer(folder: &Path, args: &[&str]) -> Output {
    run(folder, &[&["offer"], args].concat())
}

#[test]
fn compare_of_two_offers_says_what_of_the_gap_rests_on_starter_figures() {
    for regime in ["us", "eu", "gb", "ca", "au"] {
        let folder = begun(&["--regime", regime]);
        // The same goods at 47.00 in the currency of the books. The first's 45.00 is a starter figure.
        let currency = cost(folder.path(), "first")["currency"].as_str().unwrap().to_owned();
        let price = format!("47.00 {currency}/m2");
        let made = offer(
            folder.path(),
            &["second", "--supplier", "Quarry Inkwell (invented)", "--price", &price],
        );
        assert!(made.status.success(), "{regime}: {}", String::from_utf8_lossy(&made.stderr));
        for args in [["cost", "second"], ["check", "second"]] {
            stdout(folder.path(), &args);
        }
        let json: Value = serde_json::from_str(&stdout(
            folder.path(),
            &["compare", "first", "second", "--as", "json"],
        ))
        .unwrap();
        let second =
            json["offers"].as_array().unwrap().iter().find(|one| one["shipment"] == "second");
        let whole = second.unwrap()["on_starter_figures"].as_str().unwrap();
        let own = cost(folder.path(), "second")["on_starter_figures"].clone();
        assert_eq!(own, whole, "{regime}");
        // What is dearer in all, 2.00 a square metre and what goes by the value, is quoted. On starter figures the
        // second has 14,288.40 less, and 55.54 - 53.43 = 2.11 more of premium.
        let groups = json["groups"].as_array().unwrap();
        let entries = groups[0]["offers"].as_array().unwrap();
        let above = &entries.iter().find(|one| one["shipment"] == "second").unwrap()["above_best"];
        assert_eq!(above["on_starter_figures"], "-14286.29", "{regime}");
        let page = stdout(folder.path(), &["compare", "first", "second"]);
        assert!(page.contains("of it on starter figures"), "{page}");
        assert!(page.contains("on starter figures"), "{page}");
    }
}

#[test]
fn a_further_offer_takes_at_most_8_typed_values() {
    let first = TYPED.into_iter().filter(|(option, _)| *option != "--quoted");
    let first: Vec<&str> = first.flat_map(|(option, value)| [option, value]).collect();
    let folder = begun(&first);
    let typed = [
        ("--supplier", "Quarry Teapot (invented)"),
        ("--term", "FOB Izmir"),
        ("--price", "49.00 USD/m2"),
        ("--price-valid", "2026-03-01..2026-04-30"),
        ("--stone", "marble"),
        ("--size", "300 x 180 cm"),
        ("--freight", "1850 USD"),
    ];
    // The name is a value, too.
    assert!(typed.len() < 8);
    let args: Vec<&str> = typed.iter().flat_map(|(option, value)| [*option, *value]).collect();
    let made = offer(folder.path(), &[&["spring"], &args[..]].concat());
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let json = cost(folder.path(), "spring");
    // 63 slabs of 5.4 m2 at 49.00: nothing of the other's price is left.
    let goods =
        json["charges"].as_array().unwrap().iter().find(|one| one["leg"] == "goods").unwrap();
    assert_eq!(goods["book_amount"], "16669.80");
    // As of the first: the broker and the unloading.
    assert_eq!(json["on_starter_figures"], "355.00");
    let text = fs::read_to_string(folder.path().join("shipments/spring/shipment.toml")).unwrap();
    assert!(text.contains("origin = \"TR\"") && !text.contains("starter"), "{text}");
    let quote = fs::read_to_string(folder.path().join("rates/freight/spring.toml")).unwrap();
    assert!(quote.contains("lane = \"TRIZM-USSAV\""), "{quote}");
    // The first costs what it did.
    assert_eq!(cost(folder.path(), "first")["on_starter_figures"], "355.00");
}

#[test]
fn an_offer_is_checked_as_any_other_and_replaces_nothing() {
    let folder = begun(&["--regime", "us"]);
    let wrong: [(&[&str], i32, &str); 8] = [
        (&["first"], 1, "is there already"),
        (&["next", "--stone", "chalk"], 1, "marble"),
        (&["next", "--finish", "shiny"], 1, "polished"),
        (&["next", "--term", "FOB Atlantis"], 2, "UN/LOCODE"),
        (&["next", "--price", "45.00"], 2, "EUR/m2"),
        (&["next", "--like", "nothing"], 1, "first"),
        (&["../next"], 2, "letters, digits and hyphens"),
        (&["next", "--freight", "1700 USD"], 2, "rates/freight.toml"),
    ];
    for (args, code, says) in wrong {
        let output = offer(folder.path(), args);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{args:?}: {said}");
        assert!(said.contains(says), "{args:?}: {said}");
        assert!(!folder.path().join("shipments/next").exists(), "{args:?}");
    }
    let file = folder.path().join("shipments/first/shipment.toml");
    let before = fs::read_to_string(&file).unwrap();
    let forced = offer(folder.path(), &["first", "--price", "50.00 USD/m2", "--force"]);
    assert!(forced.status.success(), "{}", String::from_utf8_lossy(&forced.stderr));
    assert_ne!(fs::read_to_string(&file).unwrap(), before);
    // A packing list goes with an offer that is like the one it is of, unless a size is typed.
    let list = "slab,bundle,length (cm),height (cm)\n1,B1,280,180\n2,B1,280,180\n";
    let plain = before
        .lines()
        .filter(|line| !["bundles", "slabs", "size"].iter().any(|key| line.starts_with(key)));
    fs::write(&file, plain.collect::<Vec<_>>().join("\n")).unwrap();
    fs::write(folder.path().join("shipments/first/packing.csv"), list).unwrap();
    for (name, size, slabs, is_nominal) in
        [("listed", None, 2, false), ("sized", Some("260 x 170 cm"), 2, true)]
    {
        let size = size.map_or(vec![], |size| vec!["--size", size]);
        let made = offer(folder.path(), &[&[name, "--like", "first"], &size[..]].concat());
        assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
        let json = cost(folder.path(), name);
        assert_eq!((&json["slab_count"], &json["nominal"]), (&slabs.into(), &is_nominal.into()));
    }
}

#[test]
fn a_published_figure_read_over_a_year_ago_is_named() {
    let list = stdout(&demo(), &["rates", "--as", "csv"]);
    let fee = list.lines().find(|line| line.contains("harbor maintenance fee")).unwrap();
    assert!(fee.ends_with("2026-11-25"), "{fee}");
    let says = "published figures read more than a year before";
    let notes = |quoted: &str| {
        let folder = tempfile::tempdir().unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_quaystone"))
            .args(["init", folder.path().to_str().unwrap(), "--regime", "us", "--quoted", quoted])
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        stdout(folder.path(), &["cost", "first", "--width", "400"])
    };
    // A year after 2026-11-25 is no year over.
    assert!(!notes("2027-11-25").contains(says));
    let late = notes("2027-11-26");
    assert!(
        late.contains(&format!(
            "{says} 2027-11-26: merchandise processing fee (2026-11-25), harbor"
        )),
        "{late}"
    );
}
