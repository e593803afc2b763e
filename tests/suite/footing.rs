//! Offers on one footing and like with like, by whole commands and by the library.

use std::fmt::Write;
use std::path::Path;

use quaystone::choose::estimate;
use quaystone::decide::{Across, Allowances, Asked, Comparison, Footing, NoArea, Offer, compare};
use quaystone::fault::Report;
use quaystone::load::Effort;
use quaystone::quantity::{Decimal, Units, Written};
use quaystone::read;
use quaystone::trade::Allowance;
use serde_json::Value;

use crate::common::{Tiny, copy, demo, json_of_any_answer, run, stdout};

const NET: &str = "white-marble-forty-net";

const GROSS: &str = "white-marble-forty-gross";

/// The demo's tables with both offers of forty slabs.
fn forty() -> Tiny {
    let tiny = Tiny::of_demo(NET);
    let other = Path::new("shipments").join(GROSS);
    copy(&demo().join(&other), &tiny.path().join(&other));
    tiny
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Offers compared through the library.
fn compared(workspace: &Path, names: &[&str], footing: Footing, allowance: &str) -> Comparison {
    let mut report = Report::new();
    let workspace = read::Workspace::find(workspace, &mut report).unwrap();
    let tariffs = read::tariffs(&workspace, &mut report).unwrap();
    let allowances = Allowances::Asked(Allowance::read(allowance).unwrap());
    let offers = names.iter().map(|name| {
        let shipment = read::shipment(&workspace, *name, &tariffs, &mut report).unwrap();
        let costed = estimate(&shipment, &tariffs, Effort::default(), &mut report).unwrap();
        Offer::of(&shipment, Ok(&costed.unwrap()), &tariffs, &allowances).unwrap()
    });
    let asked = Asked { footing: Some(footing), allowances, across: Across::default() };
    compare(offers.collect(), &asked).unwrap()
}

#[test]
fn two_measures_of_one_slab_never_change_its_rank() {
    // Forty slabs of 312 x 190 cm: billed as sawn at 5.20 a square foot, and billed 302 x 182 cm at 5.61. Per
    // billed area the second looks 8 % dearer. Its goods are 3 USD dearer in all, and so is it as a whole: our
    // inspection by the square metre is of the stone as sawn, alike for both.
    let tiny = forty();
    for footing in [Footing::Gross, Footing::Usable] {
        let found = compared(tiny.path(), &[GROSS, NET], footing, "6 x 5 cm, 2 %");
        let [group] = &found.groups[..] else { panic!("one group") };
        let [first, second] = &group.entries[..] else { panic!("two offers") };
        let landed = |at: usize| found.offers[at].outcome.as_ref().unwrap().landed;
        assert_eq!((first.offer, second.offer), (0, 1), "the cheaper in total wins");
        assert!(landed(0).amount() < landed(1).amount());
        let above = &second.standing.as_ref().unwrap().above;
        assert!(above.percent <= Decimal::new(3, 2), "{footing:?}: {}", above.percent);
        // 40 x 3.12 m x 1.90 m; 40 x 3.06 m x 1.85 m x 0.98.
        let area = match footing {
            Footing::Gross => "237.1200",
            Footing::Usable => "221.9112",
        };
        for entry in [first, second] {
            let own = entry.part.area(footing).unwrap().figure(Units::Metric, 4).unwrap();
            assert_eq!(own.to_string(), area);
        }
    }
    let billed = |name: &str| {
        let cost = json_of_any_answer(&tiny, &["cost", name]);
        cost["slabs"][0]["billed_area_m2"].as_str().unwrap().to_owned()
    };
    // 5.4964 m2 are 59.16 ft2, 5.928 m2 are 63.81 ft2: to two places.
    assert_eq!((billed(NET), billed(GROSS)), ("5.496144".to_owned(), "5.928143".to_owned()));
}

#[test]
fn the_footing_is_usable_where_an_allowance_is_stated_for_all_and_else_gross() {
    let tiny = forty();
    let page = json_of_any_answer(&tiny, &["compare", NET, GROSS]);
    assert_eq!(page["footing"], "usable");
    // The row for the quality serves before the stone's own.
    assert_eq!(page["allowances"][0]["loss_percent"], "2");
    let entry = &page["groups"][0]["offers"][0];
    assert_eq!(
        (&entry["usable_m2"], &entry["gross_m2"]),
        (&"221.911200".into(), &"237.120000".into())
    );
    let text = flat(&stdout(tiny.path(), &["compare", NET, GROSS]));
    assert!(text.contains("compared on the usable area: what our allowance leaves"), "{text}");
    assert!(text.contains("The offers bill differently"), "{text}");
    let gross = json_of_any_answer(&tiny, &["compare", NET, GROSS, "--footing", "gross"]);
    assert_eq!((&gross["footing"], &gross["footing_is_asked"]), (&"gross".into(), &true.into()));

    // One of them in a quality and stone without a row: gross, and the page says so.
    let rates = std::fs::read_to_string(tiny.path().join("rates/stones.toml")).unwrap();
    let (before, _) = rates.split_once("\nusable = [").unwrap();
    let (before, _) = before.rsplit_once("[[quote]]").unwrap();
    tiny.write("rates/stones.toml", before);
    assert_eq!(json_of_any_answer(&tiny, &["compare", NET, GROSS])["footing"], "gross");
    let none = run(tiny.path(), &["compare", NET, GROSS, "--footing", "usable"]);
    assert_eq!(none.status.code(), Some(3));
    let page = flat(&String::from_utf8(none.stdout).unwrap());
    assert!(page.contains("no rank: no allowance is stated for teapot-white in first"), "{page}");
    let asked = ["compare", NET, GROSS, "--allowance", "10 x 8 cm, 0 %"];
    let asked = json_of_any_answer(&tiny, &asked);
    assert_eq!(asked["footing"], "usable");
    // 40 x 3.02 m x 1.82 m.
    assert_eq!(asked["groups"][0]["offers"][0]["usable_m2"], "219.856000");
}

#[test]
fn a_billed_size_without_its_take_off_has_no_rank_and_says_why() {
    let tiny = forty();
    let shipment = format!("shipments/{NET}/shipment.toml");
    let measure = "measure = { take-off = { length = \"10 cm\", height = \"8 cm\" }, places = 2 }";
    tiny.replace(&shipment, measure, "measure = { places = 2 }");
    for footing in ["gross", "usable"] {
        let page = json_of_any_answer(&tiny, &["compare", NET, GROSS, "--footing", footing]);
        let group = &page["groups"][0];
        assert_eq!(group["best"], serde_json::json!([GROSS]));
        let last = &group["offers"][1];
        assert_eq!((&last["shipment"], &last["rank"]), (&NET.into(), &Value::Null));
        let why = last["no_rank"].as_str().unwrap();
        assert!(why.contains("line A states what is billed"), "{why}");
        assert_eq!(last["gross_m2"], Value::Null);
    }
    let said = run(tiny.path(), &["cost", NET]);
    let said = String::from_utf8(said.stderr).unwrap();
    assert!(
        said.contains("the gross size of line A is not known: its masses are too low"),
        "{said}"
    );
    // A take-off of nothing is a statement, too.
    let nothing = "measure = { take-off = { length = \"0 cm\", height = \"0 cm\" }, places = 2 }";
    tiny.replace(&shipment, "measure = { places = 2 }", nothing);
    let page = json_of_any_answer(&tiny, &["compare", NET, GROSS]);
    assert_eq!(page["groups"][0]["offers"][1]["rank"], 2);
}

#[test]
fn a_billed_quantity_is_sawn_from_the_assumed_slab_where_the_take_off_is_stated() {
    // The assumed slab of 280 x 180 cm is billed 275 x 176 cm, 4.84 m2, with 5 x 4 cm off. 14.52 m2 are three
    // of them, 15.12 m2 as sawn; 12.1 m2 are two and a half, 12.6 m2.
    let tiny = Tiny::new();
    std::fs::remove_file(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    let crating = std::fs::read_to_string(tiny.path().join("rates/crating.toml")).unwrap();
    let size = crating.lines().find(|line| line.starts_with("size = ")).unwrap().to_owned();
    tiny.replace("rates/crating.toml", &size, "size = \"280 x 180 cm\"");
    let shipment = "shipments/plain/shipment.toml";
    let plain = std::fs::read_to_string(tiny.path().join(shipment)).unwrap();
    let measure = "measure = { take-off = { length = \"5 cm\", height = \"4 cm\" } }\n";
    let with = |quantity: &str, measure: &str| {
        tiny.write(shipment, &format!("{plain}quantity = \"{quantity}\"\n{measure}"));
        let found = compared(tiny.path(), &["plain"], Footing::Gross, "0 x 0 cm, 0 %");
        let part = found.groups[0].entries[0].part.clone();
        let gross = part.gross.map(|area| area.figure(Units::Metric, 4).unwrap().to_string());
        (part.slabs, part.billed.to_m2(4).to_string(), gross)
    };
    assert_eq!(with("14.52 m2", measure), (3, "14.5200".to_owned(), Ok("15.1200".to_owned())));
    assert_eq!(with("12.1 m2", measure), (3, "12.1000".to_owned(), Ok("12.6000".to_owned())));
    let unknown = NoArea::GrossUnknown { line: "A".to_owned() };
    assert_eq!(with("10.08 m2", ""), (2, "10.0800".to_owned(), Err(unknown)));
}

#[test]
fn twenty_with_thirty_millimetres_are_two_groups_without_a_winner_across() {
    let tiny = forty();
    let shipment = format!("shipments/{GROSS}/shipment.toml");
    tiny.replace(&shipment, "thickness = \"20 mm\"", "thickness = \"30 mm\"");
    tiny.replace(&shipment, "bundles = 4\nslabs = 10\n", "bundles = 5\nslabs = 8\n");
    let page = json_of_any_answer(&tiny, &["compare", NET, GROSS]);
    let groups = page["groups"].as_array().unwrap();
    let found: Vec<(&str, &Value)> =
        groups.iter().map(|one| (one["thickness_mm"].as_str().unwrap(), &one["best"])).collect();
    let alone = |name: &str| serde_json::json!([name]);
    assert_eq!(found, [("20", &alone(NET)), ("30", &alone(GROSS))]);
    let text = flat(&stdout(tiny.path(), &["compare", NET, GROSS]));
    assert!(text.contains("no offer wins across different goods"), "{text}");
    assert!(!text.contains("lowest cost with finance"), "{text}");

    let across = ["compare", NET, GROSS, "--across", "thickness"];
    let page = json_of_any_answer(&tiny, &across);
    let [group] = &page["groups"].as_array().unwrap()[..] else { panic!("one group") };
    assert_eq!((&group["thickness_mm"], &group["best"]), (&Value::Null, &alone(NET)));
    let text = flat(&stdout(tiny.path(), &across));
    assert!(text.contains("thickness 20 mm 30 mm"), "{text}");
}

#[test]
fn an_offer_of_two_thicknesses_is_two_lines_of_comparison_and_their_slabs_are_its_cost() {
    let page: Value = serde_json::from_str(&stdout(
        &demo(),
        &["compare", "white-marble-spring", "white-marble-cif", "--as", "json"],
    ))
    .unwrap();
    let cents = |value: &Value| value.as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    let mut landed = Vec::new();
    let mut worth = 0;
    for group in page["groups"].as_array().unwrap() {
        for entry in group["offers"].as_array().unwrap() {
            if entry["shipment"] == "white-marble-spring" {
                let amounts = entry["amounts"].as_array().unwrap();
                let of = |what: &str| amounts.iter().find(|one| one["what"] == what).unwrap();
                landed.push((entry["slabs"].as_u64().unwrap(), cents(&of("landed")["amount"])));
                worth += cents(&of("with finance")["amount"]);
            }
        }
    }
    let cost: Value = serde_json::from_str(&stdout(
        &demo(),
        &["cost", "white-marble-spring", "--by", "line", "--as", "json"],
    ))
    .unwrap();
    let mut of_line = [(0, 0), (0, 0)];
    for slab in cost["slabs"].as_array().unwrap() {
        let sums = &mut of_line[usize::from(slab["line"] == "B")];
        *sums = (sums.0 + 1, sums.1 + cents(&slab["cost"]));
    }
    assert_eq!(landed, of_line);
    assert_eq!(worth, cents(&cost["decision_total"]));
}

#[test]
fn the_quality_of_a_slab_counts_before_that_of_its_line_and_a_remark_is_none() {
    let tiny = Tiny::new();
    tiny.append("rates/stones.toml", QUALITIES);
    tiny.append("shipments/plain/shipment.toml", "quality = \"standard\"\n");
    let list = "slab,bundle,length (cm),height (cm),quality,grade\nA1,B1,300,180,first,\
                standard\nA2,B1,300,180,,first\nA3,B2,250,160,Second choice,\n";
    tiny.write("shipments/plain/packing.csv", list);
    let text = std::fs::read_to_string(tiny.path().join("shipments/plain/shipment.toml")).unwrap();
    tiny.write("shipments/other/shipment.toml", &text.replace("I-1", "I-2"));
    tiny.write(
        "shipments/other/packing.csv",
        "slab,bundle,length (cm),height (cm)\nA1,B1,300,180\n",
    );
    let page = json_of_any_answer(&tiny, &["compare", "plain", "other"]);
    let groups = page["groups"].as_array().unwrap().iter();
    let found: Vec<(&str, usize)> = groups
        .map(|group| {
            (group["quality"].as_str().unwrap(), group["offers"].as_array().unwrap().len())
        })
        .collect();
    assert_eq!(found, [("first", 1), ("standard", 2), ("second", 1)]);
    let across = json_of_any_answer(&tiny, &["compare", "plain", "other", "--across", "quality"]);
    assert_eq!(across["groups"].as_array().unwrap().len(), 1);
    assert_eq!(across["groups"][0]["offers"][0]["goods"].as_array().unwrap().len(), 3);
}

const QUALITIES: &str = r#"
[[quality]]
id = "first"
name = "First sort"
source = "invented"
[[quality]]
id = "standard"
name = "Standard sort"
source = "invented"
[[quality]]
id = "second"
name = "Second choice"
source = "invented"
"#;

#[test]
fn a_lapsed_price_a_missing_rate_and_a_bundle_over_the_lift_stay_on_the_page_with_their_reason() {
    let tiny = forty();
    let shipment = |name: &str| format!("shipments/{name}/shipment.toml");
    let plain = std::fs::read_to_string(tiny.path().join(shipment(GROSS))).unwrap();
    let variant = |name: &str, old: &str, new: &str| {
        assert!(plain.contains(old), "{old}");
        let number = format!("U-{name} (offer)");
        let text = plain.replace(old, new).replace("U-12 (offer)", &number);
        tiny.write(&shipment(name), &text);
    };
    variant("lapsed", "2026-03-01..2026-04-15", "2026-02-01..2026-03-05");
    variant(
        "unrated",
        "sails = 2026-04-11, arrives = 2026-05-09",
        "sails = 2027-04-11, arrives = 2027-05-09",
    );
    variant("heavy", "bundles = 4\nslabs = 10\n", "bundles = 2\nslabs = 20\n");
    let args = ["compare", NET, "lapsed", "unrated", "heavy", GROSS];
    let page = json_of_any_answer(&tiny, &args);
    let entries = page["groups"][0]["offers"].as_array().unwrap();
    let found: Vec<(&str, Option<u64>)> = entries
        .iter()
        .map(|one| (one["shipment"].as_str().unwrap(), one["rank"].as_u64()))
        .collect();
    let none = [("lapsed", None), ("unrated", None), ("heavy", None)];
    assert_eq!(found, [&[(GROSS, Some(1)), (NET, Some(2))][..], &none].concat());
    let text = flat(&stdout(tiny.path(), &args));
    for why in [
        "lapsed no rank: the prices of U-lapsed (offer) hold 2026-02-01..2026-03-05",
        "unrated no rank: ",
        "heavy no rank: bundle A-B1: ",
        "the yard's lift",
    ] {
        assert!(text.contains(why), "{why}: {text}");
    }
    // What is wrong stands on stderr with its file and line, as a warning.
    let output = run(tiny.path(), &args);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(said.contains("warning[lapsed-rate]") && said.contains("shipments/lapsed/"), "{said}");
}

#[test]
fn no_line_of_a_comparison_of_eight_offers_is_wider_than_78_columns() {
    let tiny = forty();
    let mut names = vec![NET.to_owned(), GROSS.to_owned()];
    let text =
        std::fs::read_to_string(tiny.path().join(format!("shipments/{GROSS}/shipment.toml")));
    let text = text.unwrap();
    for at in 3..=8 {
        let name = format!("white-marble-forty-gross-offer-{at}");
        let own = text.replace("U-12", &format!("U-{at}")).replace("5.20", &format!("5.{at}0"));
        tiny.write(&format!("shipments/{name}/shipment.toml"), &own);
        names.push(name);
    }
    let mut args = vec!["compare"];
    args.extend(names.iter().map(String::as_str));
    let mut wrong = String::new();
    for units in ["metric", "us"] {
        let page = stdout(tiny.path(), &[&args[..], &["--units", units]].concat());
        for line in page.lines().filter(|line| quaystone::fault::columns(line) > 78) {
            writeln!(wrong, "{line}").unwrap();
        }
        let other = if units == "us" { " m2" } else { " ft2" };
        let about_area = |line: &&str| line.contains(other) && !line.contains("price");
        assert_eq!(page.lines().find(about_area), None, "{units}");
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn the_page_says_what_would_still_fit_when_most_cash_is_out_and_what_lapses_first() {
    let tiny = forty();
    // Four bundles of five slabs of 5.928 m2.
    let shipment = format!("shipments/{NET}/shipment.toml");
    tiny.replace(&shipment, "slabs = 10", "slabs = 5");
    let whole = json_of_any_answer(&tiny, &["compare", NET, GROSS])["offers"][0].clone();
    let fits = &whole["would_still_fit"];
    let more = fits["bundles"].as_u64().unwrap();
    assert!(more > 0, "{fits}");
    // Bundle by bundle: as many more go into the one box, and one more than that needs another.
    let boxes = |bundles: u64| {
        let text = std::fs::read_to_string(tiny.path().join(&shipment)).unwrap();
        tiny.write(&shipment, &text.replace("bundles = 4", &format!("bundles = {bundles}")));
        let load = json_of_any_answer(&tiny, &["load", NET]);
        tiny.write(&shipment, &text);
        load["containers"].as_array().unwrap().len()
    };
    assert_eq!((boxes(4), boxes(4 + more), boxes(5 + more)), (1, 1, 2));
    // 5 x 3.12 m x 1.90 m a bundle, as sawn; of four bundles alike the second is the median.
    let gross = Decimal::new(2964, 2) * Decimal::from(more);
    assert_eq!(fits["gross_m2"], format!("{gross:.6}"));
    assert_eq!(fits["like"], "A-B2");

    let cash = json_of_any_answer(&tiny, &["cash", NET]);
    let cents = |value: &Value| value.as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    let mut by_day: Vec<(String, i64)> = Vec::new();
    for payment in cash["payments"].as_array().unwrap() {
        let day = payment["due"].as_str().unwrap().to_owned();
        let out = by_day.last().map_or(0, |(_, out)| *out) + cents(&payment["book_amount"]);
        match by_day.last_mut().filter(|(last, _)| *last == day) {
            Some((_, sum)) => *sum = out,
            None => by_day.push((day, out)),
        }
    }
    let most = by_day.iter().map(|(_, out)| *out).max().unwrap();
    let (day, _) = by_day.iter().find(|(_, out)| *out == most).unwrap();
    assert_eq!(
        (cents(&whole["cash_peak"]["amount"]), &whole["cash_peak"]["day"]),
        (most, &day.as_str().into())
    );

    let cost = json_of_any_answer(&tiny, &["cost", NET]);
    assert_eq!(whole["at_planning_rates"], cost["at_planning_rates"]);
    assert_eq!(whole["first_to_lapse"]["until"], cost["first_to_lapse"]["until"]);
    let page = flat(&stdout(tiny.path(), &["compare", NET, GROSS]));
    for row in ["would still fit", "most cash out", "at planning rates", "first to lapse"] {
        assert!(page.contains(row), "{row}: {page}");
    }
}

#[test]
fn a_price_that_ends_before_the_goods_sail_is_marked() {
    let tiny = forty();
    let shipment = format!("shipments/{NET}/shipment.toml");
    tiny.replace(&shipment, "2026-03-01..2026-04-15", "2026-03-01..2026-03-31");
    let page = json_of_any_answer(&tiny, &["compare", NET, GROSS]);
    let marks: Vec<&Value> = page["offers"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| &one["price_ends_before_sailing"])
        .collect();
    assert_eq!(marks, [&Value::Bool(true), &Value::Bool(false)]);
    let text = flat(&stdout(tiny.path(), &["compare", NET, GROSS]));
    assert!(text.contains("2026-03-31 (before it sails)"), "{text}");
}

#[test]
fn offers_of_the_demo_are_two_groups_and_those_that_cannot_be_had_say_why() {
    // Two stones in two thicknesses and qualities: two measures of one slab, a price by quantity in two terms, a
    // price that has lapsed, bundles over the lift.
    let own = |name: &str| demo().join("tests/offers").join(name).to_str().unwrap().to_owned();
    let (lapsed, heavy) = (own("grey-marble-lapsed"), own("grey-marble-heavy"));
    let args = ["compare", NET, GROSS, "grey-marble-steps", &lapsed, &heavy];
    let text = stdout(&demo(), &args);
    for line in text.lines() {
        assert!(quaystone::fault::columns(line) <= 78, "{line}");
    }
    let text = flat(&text);
    for said in [
        "teapot-white, polished, 20 mm, quality first: lowest cost with finance per area: \
         white-marble-forty-gross.",
        "umbrella-grey, polished, 30 mm, quality standard: lowest cost with finance per area: \
         grey-marble-steps.",
        "grey-marble-steps, way cif",
        "30.38 m2 short of the price from 140 m2 on, 49.00 EUR/m2; 1 bundle more would land at",
        "umbrella-grey, polished, 30 mm, quality standard: boxes full (nominal)",
        "grey-marble-lapsed no rank: the prices of U-13 (offer) hold 2026-02-01..2026-02-28",
        "2026-02-28 (lapsed)",
        "grey-marble-heavy no rank: bundle A-B1: 6,222.2 kg is above the yard's lift of 5,000 kg",
        "no offer wins across different goods",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
}
