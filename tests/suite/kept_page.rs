//! The page that people keep says what `cost`, `load` and `cash` say.

use std::fs;

use serde_json::Value;

use crate::common::{demo, run, stdout};

fn json(command: &str, name: &str) -> Value {
    serde_json::from_str(&stdout(&demo(), &[command, name, "--as", "json"])).unwrap()
}

/// A figure as pages have it, its thousands marked.
fn grouped(figure: &Value) -> String {
    let text = figure.as_str().unwrap();
    let (whole, part) = text.split_once('.').unwrap();
    let digits: Vec<char> = whole.chars().collect();
    let groups: Vec<String> = digits.rchunks(3).rev().map(|group| group.iter().collect()).collect();
    format!("{}.{part}", groups.join(","))
}

#[test]
fn the_report_has_the_figures_of_the_other_pages() {
    for name in ["white-marble-spring", "dock-tandem"] {
        let page = stdout(&demo(), &["report", name]);
        let cost = json("cost", name);
        let mut figures = vec![&cost["total"], &cost["decision_total"]];
        figures.extend(cost["slabs"].as_array().unwrap().iter().map(|slab| &slab["cost"]));
        let cash = json("cash", name);
        figures.extend([&cash["net"], &cash["stock"]]);
        for figure in figures {
            assert!(page.contains(&grouped(figure)), "{name}: {figure} is not on the page");
        }
        for bundle in json("load", name)["containers"].as_array().unwrap() {
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
    let words = format!("+{more} USD");
    let at = page.find(&format!(">{change}<")).unwrap();
    assert!(page[at..at + 900].contains(&words), "{words} does not stand at {change}");
}

#[test]
fn a_report_is_a_page_of_html_and_leaves_nothing_half_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("spring.html");
    let file = path.to_str().unwrap();
    let refused = run(&demo(), &["report", "white-marble-spring", "--as", "csv", "--out", file]);
    assert_eq!(refused.status.code(), Some(2));
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
        assert_eq!(keep.matches("<svg").count(), drawings, "{args:?}");
        assert_eq!(paste.matches("<svg").count(), 0, "{args:?}");
    }
}
