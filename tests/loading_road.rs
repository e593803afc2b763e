//! The load and the road, whole commands: rigs, plans that someone else made, wishes, drawings.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::float_arithmetic,
    reason = "a test fails by panicking"
)]

mod common;

use common::{Tiny, demo, run, stdout};
use serde_json::Value;
use std::fs;
use std::path::Path;
use std::process::Output;

fn load(name: &str, more: &[&str]) -> Value {
    let mut args = vec!["load", name, "--as", "json"];
    args.extend(more);
    serde_json::from_str(&stdout(&demo(), &args)).unwrap()
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// The bundles of a container, by name.
fn bundles(container: &Value) -> Vec<&str> {
    let all = container["bundles"].as_array().unwrap();
    all.iter().map(|bundle| bundle["bundle"].as_str().unwrap()).collect()
}

#[test]
fn the_floor_binds_long_before_the_mass() {
    let json = load("long-slabs-floor", &[]);
    assert_eq!(json["proof"], "proven");
    let containers = json["containers"].as_array().unwrap();
    assert_eq!(containers.len(), 3, "the mass alone would go into two");
    let full = &containers[0];
    assert_eq!((&full["binding"], &full["binding_kind"]), (&"floor".into(), &"equipment".into()));
    let left: f64 = full["left_kg"].as_str().unwrap().parse().unwrap();
    assert!(left > 9_000.0, "{left}");
}

#[test]
fn the_second_tandem_binds_although_the_gross_passes() {
    let json = load("dock-tandem", &[]);
    assert_eq!(json["proof"], "proven");
    for container in json["containers"].as_array().unwrap() {
        let binding = container["binding"].as_str().unwrap();
        assert!(binding.starts_with("axles 4-5, tandem"), "{binding}");
        assert_eq!(container["binding_kind"], "law");
        let rules = container["roads"][0]["rules"].as_array().unwrap();
        let left = |start: &str| -> f64 {
            let rule = rules.iter().find(|rule| rule["name"].as_str().unwrap().starts_with(start));
            rule.unwrap()["cargo_left_kg"].as_str().unwrap().parse().unwrap()
        };
        assert!(left("gross of the whole rig") > 9_000.0);
        assert!(left("axles 4-5, tandem") < 1_000.0);
        assert_eq!(container["roads"][0]["legal"], true);
    }
}

#[test]
fn a_permit_beats_another_container() {
    let json = load("heavy-permit", &[]);
    assert_eq!((&json["proof"], &json["cost"]), (&"proven".into(), &"3132.50".into()));
    let containers = json["containers"].as_array().unwrap();
    assert_eq!(containers.len(), 1);
    assert_eq!(containers[0]["class"], "permit");
}

#[test]
fn a_frozen_plan_gives_the_same_load_and_cost() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("agreed.toml");
    let file = path.to_str().unwrap();
    let planned = load("dock-tandem", &["--freeze", file]);
    let judged = load("dock-tandem", &["--check", file]);
    assert_eq!(judged["proof"], "given");
    assert_eq!(judged["cost"], planned["cost"]);
    for (given, own) in judged["containers"]
        .as_array()
        .unwrap()
        .iter()
        .zip(planned["containers"].as_array().unwrap())
    {
        for key in ["bundles", "roads", "cog_x_mm", "cog_y_mm", "class", "gross_kg"] {
            assert_eq!(given[key], own[key], "{key}");
        }
    }
    let again = run(&demo(), &["load", "dock-tandem", "--freeze", file]);
    assert_eq!(again.status.code(), Some(4), "nothing is overwritten unasked");
    assert!(said(&again).contains("--force"));
}

#[test]
fn a_plan_of_someone_else_is_judged_by_every_rule() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("supplier.toml");
    let file = path.to_str().unwrap();
    stdout(&demo(), &["load", "dock-tandem", "--freeze", file]);
    let text = fs::read_to_string(&path).unwrap();
    // The first bundle onto the second one's place, and all of them to the door.
    let moved = text.replacen("y = \"490 mm\"", "y = \"832 mm\"", 1);
    assert_ne!(moved, text);
    let judge = |text: &str| {
        fs::write(&path, text).unwrap();
        let output = run(&demo(), &["load", "dock-tandem", "--check", file]);
        (output.status.code(), said(&output))
    };
    let (code, words) = judge(&moved);
    assert_eq!(code, Some(3));
    assert!(words.contains("stand in one place"), "{words}");
    let (code, words) = judge(&text.replace("x = \"1488 mm\"", "x = \"2700 mm\""));
    assert_eq!(code, Some(3));
    assert!(words.contains("outside its window lengthwise"), "{words}");
    assert!(words.contains("axles 4-5, tandem"), "{words}");
    let (code, words) = judge(&text.replacen("bundle = \"D1\"", "bundle = \"D9\"", 1));
    assert_eq!(code, Some(1));
    assert!(words.contains("no bundle is called \"D9\""), "{words}");
}

#[test]
fn a_drawing_is_written_whole_and_escaped() {
    let tiny = Tiny::new();
    tiny.replace("shipments/plain/packing.csv", "A1,B1", "A1,<B&1>");
    tiny.replace("shipments/plain/packing.csv", "A2,B1", "A2,<B&1>");
    let path = tiny.path().join("load.svg");
    let file = path.to_str().unwrap();
    stdout(tiny.path(), &["load", "plain", "--drawing", file]);
    let svg = fs::read_to_string(&path).unwrap();
    assert!(svg.contains("&lt;B&amp;1&gt;") && !svg.contains("<B&1>"), "{svg}");
    assert!(svg.contains("centre of gravity"));
    assert!(!svg.contains('.') || !svg.contains("x=\"0."), "whole millimetres");
    let again = run(tiny.path(), &["load", "plain", "--drawing", file]);
    assert_eq!(again.status.code(), Some(4));
    stdout(tiny.path(), &["load", "plain", "--drawing", file, "--force"]);
}

/// A copy of the demo's rates with one of its shipments, to add wishes to.
fn with_wishes(name: &str, wishes: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let copy = |from: &Path, to: &Path| {
        fs::create_dir_all(to).unwrap();
        for entry in fs::read_dir(from).unwrap() {
            let entry = entry.unwrap();
            fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
        }
    };
    copy(&demo().join("rates"), &folder.path().join("rates"));
    let own = folder.path().join("shipments").join(name);
    copy(&demo().join("shipments").join(name), &own);
    let path = own.join("shipment.toml");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, format!("{text}\n{wishes}")).unwrap();
    folder
}

fn load_with(name: &str, wishes: &str) -> Value {
    let folder = with_wishes(name, wishes);
    serde_json::from_str(&stdout(folder.path(), &["load", name, "--as", "json"])).unwrap()
}

fn home<'a>(json: &'a Value, bundle: &str) -> &'a str {
    let containers = json["containers"].as_array().unwrap();
    let own = containers.iter().find(|container| bundles(container).contains(&bundle)).unwrap();
    own["container"].as_str().unwrap()
}

#[test]
fn wishes_are_kept() {
    let json = load_with(
        "dock-tandem",
        "[load]\n[[load.apart]]\nbundles = [\"D1\", \"D2\"]\n\
         [[load.together]]\nbundles = [\"D1\", \"D5\", \"D8\"]\n",
    );
    assert_ne!(home(&json, "D1"), home(&json, "D2"));
    assert_eq!(home(&json, "D1"), home(&json, "D5"));
    assert_eq!(home(&json, "D1"), home(&json, "D8"));
    assert_eq!(json["proof"], "proven");
}

#[test]
fn boxes_that_are_begun_stay_begun() {
    let json = load_with(
        "dock-tandem",
        "[[load.fixed]]\ncontainer = \"first\"\ntype = \"20-box\"\nbundles = [\"D2\", \"D7\"]\n",
    );
    assert_eq!((home(&json, "D2"), home(&json, "D7")), ("first", "first"));
    assert_eq!(json["containers"].as_array().unwrap().len(), 2);
}

#[test]
fn too_few_containers_are_an_honest_no() {
    let folder = with_wishes("dock-tandem", "[load]\nmost-containers = 1\n");
    let output = run(folder.path(), &["load", "dock-tandem"]);
    assert_eq!(output.status.code(), Some(3));
    assert!(said(&output).contains("the boxes of 1 do not suffice"), "{}", said(&output));
}

#[test]
fn a_broken_wish_costs_its_price() {
    let wish = |price: &str| {
        load_with(
            "dock-tandem",
            &format!(
                "[[load.together]]\nbundles = [\"D1\", \"D2\", \"D3\", \"D4\", \"D5\"]\n\
                 price = \"{price}\"\n"
            ),
        )
    };
    // Five of them are too heavy for one tandem: the wish is broken, or a rule would not fit.
    let json = wish("40.00 USD");
    assert_eq!(json["cost"], "5647.50");
    let folder = with_wishes(
        "dock-tandem",
        "[[load.together]]\nbundles = [\"D1\", \"D2\", \"D3\", \"D4\", \"D5\"]\n",
    );
    assert_eq!(run(folder.path(), &["load", "dock-tandem"]).status.code(), Some(3));
}

#[test]
fn a_rig_that_does_not_add_up_is_named() {
    let folder = with_wishes("dock-tandem", "");
    let path = folder.path().join("rates/rigs.toml");
    let text = fs::read_to_string(&path).unwrap();
    let wrong = text.replace("wheelbase = \"190 in\"", "wheelbase = \"20 in\"");
    fs::write(&path, wrong).unwrap();
    let output = run(folder.path(), &["check"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(said(&output).contains("its axles do not add up"), "{}", said(&output));
    fs::write(&path, text.replace("road = \"us-federal\"", "road = \"us-federl\"")).unwrap();
    let output = run(folder.path(), &["check"]);
    assert!(said(&output).contains("did you mean \"us-federal\""), "{}", said(&output));
}

#[test]
fn a_crane_refuses_what_a_fork_would_take() {
    let folder = with_wishes("dock-tandem", "");
    let path = folder.path().join("rates/yards.toml");
    let text = fs::read_to_string(&path).unwrap();
    fs::write(&path, text.replace("crane = \"4 t\"", "crane = \"3 t\"")).unwrap();
    let output = run(folder.path(), &["load", "dock-tandem"]);
    assert_eq!(output.status.code(), Some(3));
    assert!(said(&output).contains("above the yard's crane of 3,000 kg"), "{}", said(&output));
}

#[test]
fn a_sheet_declares_only_what_was_weighed() {
    // An estimate is headed so and leaves the declared line blank (MSC.1/Circ.1475: estimating is
    // not allowed); 49 U.S.C. 5902 asks for a certification above 29,000 lb of cargo.
    let text = stdout(&demo(), &["load", "heavy-permit"]);
    assert!(text.contains("MASS ESTIMATE") && text.contains("declared       ____"), "{text}");
    assert!(text.contains("INTERMODAL CERTIFICATION (49 U.S.C. 5902)"), "{text}");
}
