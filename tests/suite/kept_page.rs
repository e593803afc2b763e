//! The page that people keep says what `cost`, `load` and `cash` say.

use std::fs;

use quaystone::quantity::Decimal;
use serde_json::Value;

use crate::common::{Tiny, demo, json, run, stdout};

fn of_demo(command: &str, name: &str) -> Value {
    serde_json::from_str(&stdout(&demo(), &[command, name, "--as", "json"])).unwrap()
}

/// A figure as pages have it, its thousands marked.
fn grouped(figure: &Value) -> String {
    quaystone::quantity::grouped(decimal(figure))
}

/// The figure of a value.
fn decimal(figure: &Value) -> Decimal {
    figure.as_str().unwrap().parse().unwrap()
}

/// The part of a page under a heading, up to the next.
fn under<'a>(page: &'a str, heading: &str) -> &'a str {
    let (_, rest) = page.split_once(&format!("<h2>{heading}</h2>")).expect(heading);
    rest.split("<h2>").next().unwrap()
}

/// The bars of a part of a page: what each is of, and its figure.
fn bars(part: &str) -> Vec<(&str, &str)> {
    let own = part.split("class=\"bar\"").skip(1).map(|bar| {
        let mut words = bar.split("<span>").skip(1).map(|one| one.split_once("</span>").unwrap().0);
        (words.next().unwrap(), words.next().unwrap())
    });
    own.collect()
}

/// Amounts summed by a key in their order, as pages have them.
fn summed<'a>(all: impl Iterator<Item = (&'a str, Decimal)>) -> Vec<(&'a str, String)> {
    let mut sums: Vec<(&str, Decimal)> = Vec::new();
    for (key, amount) in all {
        match sums.iter_mut().find(|(own, _)| *own == key) {
            Some((_, sum)) => *sum += amount,
            None => sums.push((key, amount)),
        }
    }
    let money = |sum: Decimal| format!("{} USD", grouped(&Value::from(sum.to_string())));
    sums.into_iter().map(|(key, sum)| (key, money(sum))).collect()
}

/// Whether a row of a page's tables begins with a word and ends with a figure.
fn has_row(part: &str, first: &str, last: &str) -> bool {
    part.split("<tr>").any(|row| {
        let cells = cells(row);
        cells.first() == Some(&first) && cells.contains(&last)
    })
}

#[test]
fn the_report_has_the_figures_of_the_other_pages() {
    for name in ["white-marble-spring", "dock-tandem"] {
        let page = stdout(&demo(), &["report", name]);
        let (cost, cash) = (of_demo("cost", name), of_demo("cash", name));
        // The head: the day, the program, how firm the cost is, and what lapses first.
        let (head, _) = page.split_once("<svg").unwrap();
        let mut said = vec![
            format!("Quaystone {}", env!("CARGO_PKG_VERSION")),
            format!("in force on {}", cost["dates"]["quoted"].as_str().unwrap()),
            format!("{} USD", grouped(&cost["total"])),
            format!("{} USD", grouped(&cost["decision_total"])),
        ];
        for basis in cost["by_basis"].as_array().unwrap() {
            let percent = basis["percent"].as_str().unwrap();
            said.push(format!("{} USD ({percent} %)", grouped(&basis["amount"])));
        }
        let first = &cost["first_to_lapse"];
        let [what, until] = ["what", "until"].map(|key| first[key].as_str().unwrap());
        said.push(format!("{what}, {until}"));
        for words in said {
            assert!(head.contains(&words), "{name}: {words} does not stand at the head");
        }
        // The way from the price: each leg once, then the landed cost.
        let charges = cost["charges"].as_array().unwrap().iter();
        let stock = charges.filter(|one| one["treatment"] == "stock");
        let legs = stock.map(|one| (one["leg"].as_str().unwrap(), decimal(&one["book_amount"])));
        let mut way = summed(legs);
        way.retain(|(_, sum)| sum != "0.00 USD");
        way.push(("landed cost", format!("{} USD", grouped(&cost["total"]))));
        let drawn = bars(under(&page, "From the supplier's price to the landed cost"));
        for (leg, sum) in &way {
            assert!(drawn.contains(&(*leg, sum.as_str())), "{name}: {leg} {sum} in {drawn:?}");
        }
        assert!(drawn.len() <= way.len() + 2, "{name}: {drawn:?}");
        // The calendar: each day with its sum.
        let paid = cash["payments"].as_array().unwrap().iter();
        let paid = paid.map(|one| (one["due"].as_str().unwrap(), decimal(&one["book_amount"])));
        let days = summed(paid);
        let calendar = under(&page, "When it is paid");
        let drawn: Vec<(&str, String)> =
            bars(calendar).into_iter().map(|(day, sum)| (day, sum.to_owned())).collect();
        assert_eq!(drawn, days, "{name}");
        for figure in [&cash["net"], &cash["stock"]] {
            assert!(calendar.contains(&grouped(figure)), "{name}: {figure}");
        }
        // The cost of each bundle and of each slab in its row.
        let made_of = under(&page, "What it is made of");
        for key in ["bundle", "slab"] {
            let slabs = cost["slabs"].as_array().unwrap().iter();
            let of = slabs.map(|one| (one[key].as_str().unwrap(), decimal(&one["cost"])));
            for (id, sum) in summed(of) {
                let sum = sum.trim_end_matches(" USD");
                assert!(has_row(made_of, id, sum), "{name}: {key} {id} at {sum}");
            }
        }
        for bundle in of_demo("load", name)["containers"].as_array().unwrap() {
            for placed in bundle["bundles"].as_array().unwrap() {
                let id = placed["bundle"].as_str().unwrap();
                // It stands where the sheet of the load has it.
                let place = format!("{}, {}", placed["x_mm"], placed["y_mm"]);
                assert!(page.contains(id) && page.contains(&place), "{name}: {id} at {place}");
            }
        }
        // It is whole in itself: it asks for nothing, and runs nothing.
        for outside in ["<script", "src=", "href=", "url("] {
            assert!(!page.contains(outside), "{name}: {outside}");
        }
    }
}

#[test]
fn a_swing_of_the_report_is_that_of_what_if() {
    let page = stdout(&demo(), &["report", "white-marble-spring"]);
    let change = "leg main carriage +10 %";
    let args = ["what-if", "white-marble-spring", "--set", change, "--as", "json"];
    let what_if: Value = serde_json::from_str(&stdout(&demo(), &args)).unwrap();
    let more = what_if["cases"][1]["costs"][0]["more"].as_str().unwrap();
    let drawn = bars(under(&page, "What changes it most"));
    let words = format!("+{more} USD");
    assert!(drawn.contains(&(change, words.as_str())), "{change} {words} in {drawn:?}");
    // The one that moves most stands first.
    let moved = |(_, words): &(&str, &str)| -> Decimal {
        let figure = words.trim_end_matches(" USD").trim_start_matches('+').replace(',', "");
        figure.parse::<Decimal>().unwrap().abs()
    };
    assert!(drawn.len() > 3 && drawn.iter().map(moved).rev().is_sorted(), "{drawn:?}");
}

#[test]
fn a_report_is_a_page_of_html_and_leaves_nothing_half_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("spring.html");
    let file = path.to_str().unwrap();
    let refused = run(&demo(), &["report", "white-marble-spring", "--as", "csv", "--out", file]);
    assert_eq!(refused.status.code(), Some(2));
    // Several side by side are a page of `compare`, and that is said.
    let refused = run(&demo(), &["report", "white-marble-spring", "white-marble-cif"]);
    let said = String::from_utf8(refused.stderr).unwrap();
    let typed = "quaystone compare white-marble-spring white-marble-cif --as page --out both.html";
    assert!(refused.status.code() == Some(2) && said.contains(typed), "{said}");
    assert!(!path.exists());
    let other = folder.path().join("spring.csv");
    let refused =
        run(&demo(), &["report", "white-marble-spring", "--out", other.to_str().unwrap()]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(!other.exists());
    fs::write(&path, "mine").unwrap();
    let refused = run(&demo(), &["report", "white-marble-spring", "--out", file]);
    assert_eq!(refused.status.code(), Some(4));
    assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
}

/// What stands in the cells of a page's tables, empty ones left out.
fn cells(page: &str) -> Vec<&str> {
    let cells = page.split("<t").skip(1).filter(|rest| rest.starts_with(['d', 'h']));
    let texts = cells.filter_map(|rest| rest.split_once('>')?.1.split_once("</t"));
    texts.map(|(text, _)| text).filter(|text| !text.is_empty() && !text.starts_with('<')).collect()
}

#[test]
fn a_page_to_keep_has_the_cells_of_the_one_to_paste_and_drawings_of_its_own() {
    let over = "sails=2026-04-09..2026-04-12";
    let all: [(&[&str], usize); 3] = [
        (&["compare", "white-marble-spring", "white-marble-cif"], 1),
        (&["what-if", "white-marble-spring", "white-marble-cif", "--over", over], 1),
        (&["explain", "white-marble-spring", "410-01"], 0),
    ];
    for (args, drawings) in all {
        let [paste, keep] =
            ["html", "page"].map(|form| stdout(&demo(), &[args, &["--as", form]].concat()));
        assert_eq!(cells(&keep), cells(&paste), "{args:?}");
        assert!(!cells(&keep).is_empty(), "{args:?}");
        let drawn = ["class=\"drawing\"", "<figure"].map(|one| keep.matches(one).count());
        assert_eq!(drawn.iter().sum::<usize>(), drawings, "{args:?}");
        assert_eq!(paste.matches("<svg").count(), 0, "{args:?}");
    }
}

#[test]
fn a_page_of_ranges_draws_each_swing_and_rings_no_point_where_nothing_is_drawn() {
    let tiny = Tiny::new();
    let file = "shipments/plain/shipment.toml";
    tiny.replace(file, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    let way = "[[way]]\nid = \"cif\"\nterm = \"CIF USSAV\"\nline = [{ id = \"A\", price = \"188.00 EUR/m2\" }]\n";
    tiny.append(file, &format!("\n{way}"));
    let sweep = "[[range]]\nof = \"1 EUR\"\nfrom = \"1.05 USD\"\nto = \"1.20 USD\"\n\
                 [[range]]\nof = \"price\"\nfrom = \"-5 %\"\nto = \"+10 %\"\n";
    tiny.write("ranges.toml", sweep);
    let ranges = tiny.path().join("ranges.toml");
    let args = ["what-if", "plain", "--sweep", ranges.to_str().unwrap(), "--draws", "2"];
    let page = stdout(tiny.path(), &[&args[..], &["--as", "page"]].concat());
    let found = json(&tiny, &args);
    let drawn = bars(&page);
    // A spread for each of both ways, and the two ends of each range for each of them.
    assert_eq!(drawn.len(), 2 + 2 * 2, "{drawn:?}");
    let names =
        found["offers"].as_array().unwrap().iter().map(|one| one["offer"].as_str().unwrap());
    for range in found["ranges"].as_array().unwrap() {
        let words = ["of", "from", "to"].map(|key| range[key].as_str().unwrap());
        for (name, ends) in names.clone().zip(range["swings"].as_array().unwrap()) {
            let label = format!("{name}: {}, {} to {}", words[0], words[1], words[2]);
            let [from, to] = ["at_lower", "at_upper"].map(|end| grouped(&ends[end]["per_m2"]));
            let figures = format!("{from} to {to}");
            assert!(drawn.contains(&(&*label, &*figures)), "{label} {figures} in {drawn:?}");
        }
    }
    // From the last day of a rate on no offer has a cost: the words say so, and no ring stands at the axis.
    let over = ["what-if", "plain", "--over", "sails=2026-05-28..2026-06-02", "--as", "page"];
    let page = stdout(tiny.path(), &over);
    assert!(page.contains("from 2026-05-31 on: none") && !page.contains("<circle"), "{page}");
    assert!(page.contains("the scale is cut below"));
}
