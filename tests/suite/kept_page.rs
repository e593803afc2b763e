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
                assert!(page.contains(id), "{name}: bundle {id} is not on the page");
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
    fs::write(&path, "mine").unwrap();
    let refused = run(&demo(), &["report", "white-marble-spring", "--out", file]);
    assert_eq!(refused.status.code(), Some(4));
    assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
}
