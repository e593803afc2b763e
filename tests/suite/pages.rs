//! Pages that can be pasted: their width, what stands beside a figure, and one figure a cell in CSV.

use std::sync::LazyLock;

use quaystone::fault::columns;
use rayon::prelude::*;
use serde_json::Value;

use crate::common::{Tiny, demo, run, stdout};

/// What a page is for: a command with its arguments before and after the shipment's name.
const PAGES: [&[&str]; 9] = [
    &["cost", "SHIPMENT"],
    &["cost", "SHIPMENT", "--by", "bundle", "--units", "us"],
    &["cost", "SHIPMENT", "--by", "container"],
    &["cost", "SHIPMENT", "--by", "line", "--units", "us"],
    &["load", "SHIPMENT"],
    &["load", "SHIPMENT", "--units", "us"],
    &["worksheet", "SHIPMENT"],
    &["cash", "SHIPMENT"],
    &["check", "SHIPMENT"],
];

/// The lines of a page that are wider than an e-mail carries.
fn too_wide(text: &str) -> Vec<&str> {
    text.lines().filter(|line| columns(line) > 78).collect()
}

fn shipments() -> Vec<String> {
    let folders = std::fs::read_dir(demo().join("shipments")).unwrap();
    let folders = folders.map(|folder| folder.unwrap().path()).filter(|path| path.is_dir());
    let mut names: Vec<String> =
        folders.map(|path| path.file_name().unwrap().to_str().unwrap().to_owned()).collect();
    names.sort();
    names
}

/// The text of every page of a shipment.
fn pages(workspace: &std::path::Path, name: &str) -> Vec<(String, String)> {
    let page = |args: &&[&str]| {
        let args: Vec<&str> =
            args.iter().map(|arg| if *arg == "SHIPMENT" { name } else { arg }).collect();
        (args.join(" "), stdout(workspace, &args))
    };
    PAGES.iter().map(page).collect()
}

/// The text of every page of every demo shipment.
pub(crate) static OF_THE_DEMO: LazyLock<Vec<(String, String)>> =
    LazyLock::new(|| shipments().par_iter().flat_map(|name| pages(&demo(), name)).collect());

/// A slab of a shipment.
fn a_slab(workspace: &std::path::Path, name: &str) -> String {
    let text = stdout(workspace, &["cost", name, "--as", "csv"]);
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    rows.records().next().unwrap().unwrap()[0].to_owned()
}

#[test]
fn no_line_of_a_demo_page_is_wider_than_78_columns() {
    let none: Vec<&str> = Vec::new();
    for (page, text) in OF_THE_DEMO.iter() {
        assert_eq!(too_wide(text), none, "{page}");
    }
    for name in shipments() {
        let slab = a_slab(&demo(), &name);
        let full = ["explain", &name, &slab, "--full"];
        assert_eq!(too_wide(&stdout(&demo(), &full[..3])), none, "{name}");
        assert_eq!(too_wide(&stdout(&demo(), &full)), none, "{name}");
    }
    for args in [
        &["check"][..],
        &["rates"],
        &["rates", "--on", "2026-04-11", "--units", "us"],
        &["load", "one-week-savannah", "one-week-norfolk"],
        &["compare", "white-marble-spring", "white-marble-cif"],
        &[
            "compare",
            "--across",
            "stones,yards",
            "white-marble-spring",
            "white-marble-cif",
            "white-marble-ddp",
            "blue-quartzite-exw",
            "pink-granite-summer",
            "dock-tandem",
            "long-slabs-floor",
        ],
    ] {
        assert_eq!(too_wide(&stdout(&demo(), args)), none, "{args:?}");
    }
}

/// The small workspace with names in Chinese, Turkish and letters with accents of their own.
fn named_abroad() -> Tiny {
    let tiny = Tiny::new();
    let shipment = "shipments/plain/shipment.toml";
    tiny.replace(
        shipment,
        "Plain marble",
        "大理石板材大理石板材大理石板材大理石板材 Işıklı mermer",
    );
    tiny.replace(shipment, "Quarry Inkwell", "İğdır Çağlayan Mermer Ocakları Üretim 石材有限公司");
    tiny.replace(shipment, "number = \"I-1\"", "number = \"发票二〇二六年三月第一号发票\"");
    tiny.replace("shipments/plain/packing.csv", "A1,B1", "荒料一号大板甲,一号捆包大理石");
    tiny.replace("shipments/plain/packing.csv", "A2,B1", "荒料一号大板乙,一号捆包大理石");
    let accents =
        "e\u{301}tage\u{300}re-de-pierre-calcaire-n\u{b0}-deux-cent-quatre-vingt-dix-sept";
    tiny.replace("shipments/plain/packing.csv", "A3,B2", &format!("{accents},{accents}"));
    tiny.replace("rates/yards.toml", "Savannah yard", "Şehir içi taş deposu 萨凡纳石材仓库");
    tiny
}

#[test]
fn no_line_is_wider_with_chinese_turkish_and_accented_names() {
    let tiny = named_abroad();
    let none: Vec<&str> = Vec::new();
    for (page, text) in pages(tiny.path(), "plain") {
        assert_eq!(too_wide(&text), none, "{page}");
    }
    for width in ["40", "60", "100", "400"] {
        let most: usize = width.parse().unwrap();
        for command in ["cost", "load"] {
            let text = stdout(tiny.path(), &[command, "plain", "--width", width]);
            let wide: Vec<&str> = text.lines().filter(|line| columns(line) > most).collect();
            assert_eq!(wide, none, "{command} in {width}");
        }
    }
    // Nothing is lost: what is broken over lines is there in whole.
    let text = stdout(tiny.path(), &["cost", "plain"]);
    let packed: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    assert!(packed.contains("石材") || packed.contains("荒料一号大板甲"), "{text}");
}

#[test]
fn the_walls_of_a_drawing_stand_in_line_with_wide_names() {
    let text = stdout(named_abroad().path(), &["load", "plain"]);
    let floor: Vec<&str> = text.lines().filter(|line| line.starts_with('|')).collect();
    assert!(floor.iter().any(|line| line.contains("捆包")), "{text}");
    for line in floor {
        assert!(line.ends_with('|'), "{line}");
        assert_eq!(columns(line), 78, "{line}");
    }
}

#[test]
fn a_figure_stands_on_one_line_with_its_unit() {
    let units = ["USD", "EUR", "kg", "m2", "ft2", "mm", "%", "t/m", "lb", "lb/ft"];
    for (page, text) in OF_THE_DEMO.iter() {
        for line in text.lines().filter(|line| !line.contains("  ")) {
            let first = line.split_whitespace().next().unwrap_or("");
            assert!(!units.contains(&first), "{page}: {line}");
        }
    }
}

#[test]
fn only_explain_rates_and_check_name_files_and_lines() {
    let named = |text: &str| {
        let is_place = |word: &str| {
            let rest = word.split_once(".toml:").or_else(|| word.split_once(".csv:"));
            rest.is_some_and(|(_, line)| line.starts_with(|c: char| c.is_ascii_digit()))
        };
        text.split_whitespace().filter(|word| is_place(word)).map(str::to_owned).collect::<Vec<_>>()
    };
    let none: Vec<String> = Vec::new();
    for (page, text) in OF_THE_DEMO.iter() {
        assert_eq!(named(text), none, "{page}");
    }
    let both = ["load", "one-week-savannah", "one-week-norfolk"];
    assert_eq!(named(&stdout(&demo(), &both)), none);
    let slab = ["explain", "white-marble-spring", "410-01"];
    assert_ne!(named(&stdout(&demo(), &slab)), none);
}

#[test]
fn a_width_is_of_40_columns_or_more() {
    for width in ["39", "401", "wide"] {
        let output = run(&demo(), &["rates", "--width", width]);
        assert_eq!(output.status.code(), Some(2), "{width}");
    }
}

#[test]
fn a_cell_of_csv_holds_one_figure_without_a_unit() {
    let pages: [&[&str]; 3] =
        [&["worksheet", "white-marble-rotterdam"], &["check"], &["rates", "--on", "2026-04-11"]];
    for args in pages {
        let text = stdout(&demo(), &[args, &["--as", "csv"]].concat());
        let mut rows = csv::Reader::from_reader(text.as_bytes());
        let heads = rows.headers().unwrap().clone();
        let mut count = 0;
        for row in rows.records() {
            let row = row.unwrap();
            count += 1;
            for (head, cell) in heads.iter().zip(&row) {
                let words: Vec<&str> = cell.split(' ').collect();
                let figure = |word: &&&str| {
                    word.starts_with(|c: char| c.is_ascii_digit())
                        && word.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','))
                };
                let is_free = ["name", "source", "shipment", "paper", "item", "line", "figure"]
                    .contains(&head);
                if !is_free && words.iter().any(|word| figure(&word)) {
                    assert_eq!(words.len(), 1, "{args:?}, {head}: {cell}");
                }
                assert!(head == "figure" || !cell.starts_with("total"), "{args:?}: {cell}");
            }
        }
        assert!(count > 0, "{args:?}");
    }
}

#[test]
fn a_worksheet_opens_with_what_was_not_read_where_it_is_published() {
    let tiny = Tiny::new();
    let says = |tiny: &Tiny, form: &str| stdout(tiny.path(), &["worksheet", "plain", "--as", form]);
    let open = |tiny: &Tiny| -> Vec<String> {
        let json: Value = serde_json::from_str(&says(tiny, "json")).unwrap();
        let all = json["entries"][0]["unconfirmed"].as_array().unwrap().clone();
        all.iter().map(|one| one.as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(open(&tiny), Vec::<String>::new());
    tiny.replace(
        "rates/duty.toml",
        "source = \"HTSUS 2024, chapter 68\"",
        "source = \"HTSUS 2024, chapter 68, a copy\"\nsecond-hand = true",
    );
    // Without a rate of the quarter the entry is worked out at the planning rate.
    tiny.replace(
        "rates/exchange.toml",
        "use = \"customs\"\nquote = \"1 EUR",
        "use = \"customs\"\nquote = \"1 GBP",
    );
    let all = ["duty, 2.5 %: not all read in its source", "1 EUR = 1.10 USD: a planning rate"];
    assert_eq!(open(&tiny), all);
    for form in ["text", "markdown", "html"] {
        let page = says(&tiny, form);
        let head = page.split("Entry by entry").next().unwrap();
        assert!(all.iter().all(|one| head.contains(one)), "{form}: {page}");
    }
}

#[test]
fn a_worksheet_says_that_a_line_is_restricted() {
    let tiny = Tiny::new();
    let says = |tiny: &Tiny| stdout(tiny.path(), &["worksheet", "plain"]).contains("is restricted");
    assert!(!says(&tiny));
    let row = "line = \"6802.91.05\"\nsource";
    let restricted = "line = \"6802.91.05\"\nrestricted = \"a second agency (invented)\"\nsource";
    tiny.replace("rates/stones.toml", row, restricted);
    let text = stdout(tiny.path(), &["worksheet", "plain"]);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let note =
        "6802.91.05 TR is restricted: its goods need the leave of a second agency (invented).";
    assert!(text.contains(note), "{text}");
    let csv = stdout(tiny.path(), &["worksheet", "plain", "--as", "csv"]);
    assert!(csv.contains("a second agency (invented)"), "{csv}");
}

#[test]
fn rates_name_their_unit_regime_floor_and_cap() {
    let text = stdout(&demo(), &["rates", "--on", "2026-04-11", "--width", "400"]);
    let told = "0.3464 % of entered value per entry, at least 33.58 USD, at most 651.50 USD";
    assert!(text.contains(told), "{text}");
    let csv = stdout(&demo(), &["rates", "--on", "2026-04-11", "--as", "csv"]);
    let mut rows = csv::Reader::from_reader(csv.as_bytes());
    let heads = rows.headers().unwrap().clone();
    let at = |head: &str| heads.iter().position(|one| one == head).unwrap();
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    let cells = |row: &csv::StringRecord, heads: &[&str]| -> Vec<String> {
        heads.iter().map(|head| row[at(head)].to_owned()).collect()
    };
    // 19 CFR 24.23, amounts of fiscal year 2026: 90 FR 34665.
    let fee = |row: &&csv::StringRecord| {
        &row[at("name")] == "merchandise processing fee" && &row[at("entry")] == "formal"
    };
    let fee = rows.iter().find(fee).unwrap();
    let heads = ["regime", "percent", "of", "per", "minimum", "maximum", "at most in", "treatment"];
    let told = ["us", "0.3464", "entered value", "entry", "33.58", "651.50", "USD", "stock"];
    assert_eq!(cells(fee, &heads), told);
    // Rows of one name and another regime are told apart, in every form.
    let duties = rows.iter().filter(|row| &row[at("table")] == "duty");
    let regimes: std::collections::BTreeSet<&str> = duties.map(|row| &row[at("regime")]).collect();
    assert!(regimes.len() > 2, "{regimes:?}");
    let json = stdout(&demo(), &["rates", "--on", "2026-04-11", "--as", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let rates = json["rates"].as_array().unwrap();
    let is_fee = |row: &&serde_json::Value| {
        row["name"] == "merchandise processing fee" && row["for"]["entry"] == "formal"
    };
    let fee = rates.iter().find(is_fee).unwrap();
    assert_eq!((&fee["minimum"], &fee["maximum"]), (&"33.58".into(), &"651.50".into()));
    assert_eq!((&fee["per"], &fee["treatment"]), (&"entry".into(), &"stock".into()));
}

#[test]
fn rates_say_what_is_free_and_what_a_row_is_expensed_as() {
    let tiny = Tiny::new();
    tiny.append(
        "rates/fees.toml",
        "[[charge]]\nname = \"storage\"\nleg = \"destination terminal\"\namount = \"90 USD\"\nper = \"day\"\ndays = \"arrives..delivered\"\nfree-days = 5\ntreatment = \"period\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n",
    );
    let text = stdout(tiny.path(), &["rates", "--width", "400"]);
    let line = text.lines().find(|line| line.contains("storage")).unwrap();
    let told = "90.00 USD per day after 5 free, calendar days from arrives to delivered, expensed";
    assert!(line.contains(told), "{line}");
    let json = stdout(tiny.path(), &["rates", "--as", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let row = json["rates"].as_array().unwrap().iter().find(|row| row["name"] == "storage");
    let row = row.unwrap();
    assert_eq!((&row["free_days"], &row["treatment"]), (&5.into(), &"period".into()));
    assert_eq!(row["between"], serde_json::json!(["arrives", "delivered"]));
}

#[test]
fn the_cost_for_scripts_has_its_headline() {
    let json = stdout(&demo(), &["cost", "white-marble-spring", "--as", "json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(
        json["containers"],
        serde_json::json!([{"type": "20gp", "class": null, "count": 2}])
    );
    assert_eq!(json["proof"], "proven");
    assert_eq!(json["dates"]["sails"], "2026-04-11");
    assert_eq!((&json["slab_count"], &json["bundle_count"]), (&72.into(), &8.into()));
    let until = json["first_to_lapse"]["until"].as_str().unwrap();
    assert!(until.starts_with("2026-"), "{until}");
    assert!(json["first_to_lapse"]["source"]["line"].is_u64());
    assert!(json["other_offers"][0]["decision_total"].is_string(), "{}", json["other_offers"]);
    let cents = |value: &serde_json::Value| -> i64 {
        value.as_str().unwrap().replace('.', "").parse().unwrap()
    };
    let parts = json["by_basis"].as_array().unwrap();
    assert_eq!(parts.iter().map(|part| cents(&part["amount"])).sum::<i64>(), cents(&json["total"]));
}

#[test]
fn a_frozen_plan_keeps_the_proof_that_it_had() {
    let tiny = Tiny::new();
    let freeze = ["load", "plain", "--freeze"];
    let before = stdout(tiny.path(), &freeze);
    assert!(before.contains("(proven"), "{before}");
    let plan = std::fs::read_to_string(tiny.path().join("shipments/plain/plan.toml")).unwrap();
    assert!(plan.contains("[kept]\nproof = \"proven"), "{plan}");
    let said = |tiny: &Tiny| {
        let text = stdout(tiny.path(), &["load", "plain"]);
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let text = said(&tiny);
    assert!(text.contains("it was proven"), "{text}");
    assert!(text.contains("its containers cost the same today"), "{text}");
    // Kept once more, it says the same.
    stdout(tiny.path(), &[&freeze[..], &["--force"]].concat());
    let again = std::fs::read_to_string(tiny.path().join("shipments/plain/plan.toml")).unwrap();
    assert!(again.contains("[kept]\nproof = \"proven"), "{again}");
    // At other prices nothing is proven of today.
    tiny.replace("rates/freight.toml", "2000 USD", "2100 USD");
    let text = said(&tiny);
    assert!(text.contains("and nothing is proven of that"), "{text}");
}

#[test]
fn check_obeys_the_units_asked_for() {
    let tiny = Tiny::new();
    let paper = "\n[[paper]]\nname = \"packing list (invented)\"\narea = \"14.8 m2\"\n";
    tiny.append("shipments/plain/shipment.toml", paper);
    // Two slabs of 3 x 1.8 m and one of 2.5 x 1.6 m: 14.8 m2, and 14.8 / 0.09290304 = 159.306 ft2.
    let args = ["check", "plain", "--units", "us"];
    let text = stdout(tiny.path(), &args);
    assert!(text.contains("159.306 ft2") && !text.contains("m2"), "{text}");
    let csv = stdout(tiny.path(), &[&args[..], &["--as", "csv"]].concat());
    assert!(csv.contains("billed area,ft2,159.306,159.306,"), "{csv}");
}

#[test]
fn a_haulier_is_told_the_gross_mass_that_the_axle_loads_are_for() {
    let own: Value =
        serde_json::from_str(&stdout(&demo(), &["load", "dock-tandem", "--as", "json"])).unwrap();
    let haul = ["load", "dock-tandem", "--for", "haulier", "--as", "json"];
    let told: Value = serde_json::from_str(&stdout(&demo(), &haul)).unwrap();
    for (own, told) in
        own["containers"].as_array().unwrap().iter().zip(told["containers"].as_array().unwrap())
    {
        assert_eq!(own["gross_kg"], told["haulage"]["gross_at_most_kg"], "{told}");
        assert_eq!(own["cargo_kg"], told["haulage"]["certified_at_most_kg"], "{told}");
    }
}

#[test]
fn a_sum_that_comes_back_on_no_known_day_is_said_to() {
    let page = stdout(&demo(), &["cash", "white-marble-rotterdam", "--width", "200"]);
    let line = "comes back           0.00 EUR by the days known; 3,769.81 EUR on a day not known";
    assert!(page.contains(line), "{page}");
}

#[test]
fn what_is_paid_is_net_with_the_exchange_differences() {
    let cash: Value =
        serde_json::from_str(&stdout(&demo(), &["cash", "dock-tandem", "--as", "json"])).unwrap();
    let cents = |value: &Value| value.as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    let losses = cash["exchange_differences"].as_array().unwrap().iter();
    let losses: i64 = losses.map(|one| cents(&one["loss"])).sum();
    assert_ne!(losses, 0);
    assert_eq!(cents(&cash["net_settled"]), cents(&cash["net"]) + losses);
}

#[test]
fn check_counts_the_warnings_of_a_shipment() {
    let checked: Value =
        serde_json::from_str(&stdout(&demo(), &["check", "--as", "json"])).unwrap();
    let of = |name: &str| {
        let mut all = checked["shipments"].as_array().unwrap().iter();
        all.find(|one| one["shipment"] == name).unwrap()["warnings"].as_u64().unwrap()
    };
    assert_eq!(of("white-marble-spring"), 0);
    assert!(of("white-marble-cif") > 0);
}

#[test]
fn explain_tells_the_summary_first_and_the_working_when_asked() {
    let slab = ["explain", "white-marble-spring", "410-01"];
    let told = stdout(&demo(), &slab);
    assert!(told.contains("Cost of the slab"), "{told}");
    assert!(!told.contains("shared by"), "{told}");
    // The freight of two boxes is one row with its count: 25.48 and 25.48.
    let freight = |text: &str| text.lines().filter(|line| line.contains("ocean freight")).count();
    assert_eq!(freight(&told), 1, "{told}");
    let full = stdout(&demo(), &[&slab[..], &["--full"]].concat());
    assert!(full.find("Cost of the slab") < full.find("shared by"), "{full}");
    assert!(full.contains("main carriage: ocean freight, 2 alike"), "{full}");
    assert!(full.contains("25.48 + 25.48 = 50.96 USD"), "{full}");
    // 0.3 % of 110 % of cost, freight and the premium: what is multiplied is what is shown.
    assert!(full.contains("0.3 % of 23,543.69 USD"), "{full}");
    let one = stdout(&demo(), &[&slab[..], &["ocean freight"]].concat());
    assert_eq!(one.matches("shared by").count(), 1, "{one}");
    let none = run(&demo(), &[&slab[..], &["ocean fright"]].concat());
    assert_eq!(none.status.code(), Some(2));
    let said = String::from_utf8_lossy(&none.stderr).into_owned();
    assert!(said.contains("bears no charge \"ocean fright\""), "{said}");
}

#[test]
fn a_path_is_broken_after_a_slash_and_never_within_a_name() {
    let slab = ["explain", "pink-granite-summer", "L30-01", "--full", "--width", "50"];
    let text = stdout(&demo(), &slab);
    let mut parted = 0;
    for (line, next) in text.lines().zip(text.lines().skip(1)) {
        let Some((_, told)) = line.split_once("shipments/") else { continue };
        let told = told.split(' ').next().unwrap_or("");
        if told.contains(".toml:") || told.contains(".csv:") {
            continue;
        }
        parted += 1;
        assert!(told.is_empty() || told.ends_with('/'), "{line}");
        let next = next.trim_start();
        let goes_on = ["pink-granite-summer/", "shipment.toml:", "packing.csv:"];
        assert!(goes_on.iter().any(|start| next.starts_with(start)), "{next}");
    }
    assert!(parted > 1, "{text}");
}

#[test]
fn costs_by_slab_stand_in_one_table_with_the_cost_per_area_asked_for() {
    for name in ["white-marble-spring", "dock-tandem", "pink-granite-summer"] {
        for (units, per) in [("metric", "per m2"), ("us", "per ft2")] {
            let text = stdout(&demo(), &["cost", name, "--units", units]);
            let from = text.find("Landed cost in USD by slab").unwrap();
            let head = text[from..].lines().nth(1).unwrap();
            assert!(head.starts_with("slab ") && head.contains(per), "{name}: {head}");
            // What slabs share stands above them, once.
            assert_eq!(text.matches(", box ").count(), text.matches("\nbundle ").count(), "{text}");
        }
    }
}

#[test]
fn a_charge_of_the_demo_stands_on_one_line_under_its_leg() {
    // Of 25 rows all but the two with the longest names.
    let text = stdout(&demo(), &["cost", "dock-tandem"]);
    let from = text.find("\nCharges\n").unwrap();
    let table: Vec<&str> = text[from..].split("\n\n").next().unwrap().lines().collect();
    let is_leg = |line: &&&str| line.ends_with(':') && !line.starts_with(' ');
    assert_eq!(table.iter().filter(is_leg).count(), 8, "{table:#?}");
    let body = table.iter().skip_while(|line| !line.starts_with("---"));
    let wrapped = body.filter(|line| line.starts_with("  "));
    let wrapped = wrapped.filter(|line| !line.contains(" USD ") && !line.contains(" EUR "));
    assert!(wrapped.count() <= 2, "{table:#?}");
    // A count of two is no factor of the sum beside it.
    assert!(!text.contains("2 x  3"), "{text}");
    let freight = table.iter().find(|line| line.contains("ocean freight")).unwrap();
    let words: Vec<&str> = freight.split_whitespace().collect();
    assert_eq!(words, ["ocean", "freight", "2", "3,580.00", "USD", "3,580.00", "area", "stock"]);
}

#[test]
fn a_word_says_where_a_charge_goes_and_a_note_explains_it() {
    let flat =
        |args: &[&str]| stdout(&demo(), args).split_whitespace().collect::<Vec<_>>().join(" ");
    let note = "stock: part of the slabs' cost; expensed: an expense of the period; recoverable: it comes \
                back; not booked: counted only in the cost with finance";
    for args in [
        &["cost", "dock-tandem"][..],
        &["cash", "dock-tandem"],
        &["explain", "dock-tandem", "620-01"],
    ] {
        let text = flat(args);
        assert!(text.contains(note), "{text}");
        assert!(!text.contains("notional") && !text.contains("area period"), "{text}");
    }
}

#[test]
fn a_cost_says_what_its_policies_do_and_what_is_assumed() {
    let flat =
        |args: &[&str]| stdout(&demo(), args).split_whitespace().collect::<Vec<_>>().join(" ");
    let text = flat(&["cost", "white-marble-spring", "--width", "100"]);
    assert!(text.contains("policy of the shipment: drayage is shared by mass (the haul"), "{text}");
    assert!(text.contains("(1.5 %): unloading, inspection agent, barcode label"), "{text}");
    assert!(text.contains("broker's fee per tariff line"), "{text}");
    let text = flat(&["cost", "white-marble-melbourne"]);
    assert!(text.contains("(92.8 %): the quantity of goods, unloading, barcode label"), "{text}");
    assert!(text.contains("the goods count as assumed"), "{text}");
}
