//! The load and the road, whole commands: rigs, plans that someone else made, wishes, drawings.

use crate::common::{Tiny, copy, demo, run, stdout};
use std::sync::Arc;

use quaystone::fault::Report;
use quaystone::load::{Road, road_report};
use quaystone::quantity::{Length, Mass, Written};
use quaystone::read;
use quaystone::trade::{AxleGroup, DoorRule};
use serde_json::Value;
use std::fs;
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
    // 3,182.50 by the box, 50.00 of it for the chassis' days, and 280.00 as it weighs more than 24 t: still less than two boxes.
    assert_eq!((&json["proof"], &json["cost"]), (&"proven".into(), &"3462.50".into()));
    let containers = json["containers"].as_array().unwrap();
    assert_eq!(containers.len(), 1);
    assert_eq!(containers[0]["class"], "permit");
}

#[test]
fn a_load_on_axles_with_unequal_gaps_is_planned_and_judged_alike() {
    let tiny = Tiny::of_demo("dock-tandem");
    tiny.replace(
        "rates/rigs.toml",
        "spacing = [\"49 in\"], tare = \"6600 lb\", tare-centre = \"210 in\", box-middle = \"330 in\"",
        "spacing = [\"25 in\", \"50 in\"], tare = \"6600 lb\", tare-centre = \"210 in\", box-middle = \"330 in\"",
    );
    let path = tiny.path().join("agreed.toml");
    let file = path.to_str().unwrap();
    let of = |more: [&str; 2]| -> Value {
        let args = ["load", "dock-tandem", "--as", "json", more[0], more[1]];
        serde_json::from_str(&stdout(tiny.path(), &args)).unwrap()
    };
    let (planned, judged) = (of(["--freeze", file]), of(["--check", file]));
    let roads = |json: &Value| -> Vec<Value> {
        json["containers"].as_array().unwrap().iter().map(|one| one["roads"].clone()).collect()
    };
    assert_eq!(roads(&planned), roads(&judged));
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
    assert!(svg.contains("width=\"210.0mm\"") && svg.contains("@page{size:A4;margin:0}"), "{svg}");
    assert!(!svg.contains('.') || !svg.contains("x=\"0."), "whole millimetres");
    let again = run(tiny.path(), &["load", "plain", "--drawing", file]);
    assert_eq!(again.status.code(), Some(4));
    stdout(tiny.path(), &["load", "plain", "--drawing", file, "--force", "--paper", "letter"]);
    assert!(fs::read_to_string(&path).unwrap().contains("@page{size:letter;margin:0}"));
}

/// A copy of the demo's rates with one of its shipments, to add wishes to.
fn with_wishes(name: &str, wishes: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
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
        "[[load.fixed]]\ncontainer = \"first\"\ntype = \"20gp\"\nbundles = [\"D2\", \"D7\"]\n",
    );
    assert_eq!((home(&json, "D2"), home(&json, "D7")), ("first", "first"));
    assert_eq!(json["containers"].as_array().unwrap().len(), 2);
}

#[test]
fn too_few_containers_are_an_honest_no() {
    let folder = with_wishes("dock-tandem", "[load]\nmost-containers = 1\n");
    let output = run(folder.path(), &["load", "dock-tandem"]);
    assert_eq!(output.status.code(), Some(3));
    let said = said(&output);
    assert!(said.contains("8 bundles need 2 containers at least, and 1 may be had"), "{said}");
    assert!(said.contains("shipment.toml:"), "{said}");
    assert!(said.contains("D1, D2, D7 and D8 go and D3, D4, D5 and D6 wait"), "{said}");
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
    assert_eq!((&json["cost"], &json["broken_wishes"]), (&"9047.50".into(), &"40.00".into()));
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
    let unpinned =
        text.replace("holes = [\"372 in\", \"384 in\", \"396 in\"", "holes = [\"372 in\"");
    assert_ne!(unpinned, text);
    fs::write(&path, unpinned).unwrap();
    let output = run(folder.path(), &["check"]);
    assert!(said(&output).contains("`bogie` is none of its `holes`"), "{}", said(&output));
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

/// A rig on a road of the demo's table, its box loaded in its middle with so many tonnes.
struct Abroad {
    road: &'static str,
    /// Wheelbase, fifth wheel ahead of the drive axles, tares of steer and drive axles.
    tractor: [&'static str; 4],
    drive_spacing: &'static [&'static str],
    /// Kingpin to bogie, tare, its centre and the box's middle behind the kingpin.
    chassis: [&'static str; 4],
    spacing: &'static str,
}

impl Abroad {
    /// What the groups carry in kg (steer, drive, bogie), and the rules that are broken.
    fn on(&self, tonnes: i128) -> ([i64; 3], Vec<String>) {
        let mut report = Report::new();
        let workspace = read::Workspace::find(&demo(), &mut report).unwrap();
        let tariffs = read::tariffs(&workspace, &mut report).unwrap();
        let law = tariffs.roads.iter().find(|law| law.id == self.road).unwrap().clone();
        let mut rig = tariffs.rigs.first().unwrap().clone();
        let length = |text: &str| Length::read(text).unwrap();
        let mass = |text: &str| Mass::read(text).unwrap();
        rig.tractor.wheelbase = length(self.tractor[0]);
        rig.tractor.fifth_wheel = length(self.tractor[1]);
        rig.tractor.steer_tare = mass(self.tractor[2]);
        rig.tractor.drive_tare = mass(self.tractor[3]);
        rig.tractor.drive_spacing = self.drive_spacing.iter().map(|text| length(text)).collect();
        rig.chassis.bogie = length(self.chassis[0]);
        rig.chassis.tare = mass(self.chassis[1]);
        rig.chassis.tare_centre = length(self.chassis[2]);
        rig.chassis.box_middle = length(self.chassis[3]);
        rig.chassis.spacing = vec![length(self.spacing); 2];
        rig.doors = DoorRule::Rear;
        let mut container =
            tariffs.containers.iter().find(|kind| kind.id == "20gp").unwrap().clone();
        container.tare = mass("2250 kg");
        container.securing = Mass::ZERO;
        let grams = tonnes * 1_000_000;
        let twice_moment = grams * i128::from(container.inside[0].mm_down());
        let road = Road::new(Arc::new(rig), Arc::new(law), false, &container).unwrap();
        let found = road_report(&road, grams, twice_moment).unwrap();
        let mut groups = [0; 3];
        for axle in &found.axles {
            let at = match axle.group {
                AxleGroup::Steer => 0,
                AxleGroup::Drive => 1,
                AxleGroup::Bogie => 2,
            };
            groups[at] += axle.load.grams_up();
        }
        let broken = found.checks.iter().filter(|check| !check.holds);
        (
            groups.map(|grams| (grams + 500) / 1000),
            broken.map(|check| check.name.to_string()).collect(),
        )
    }
}

#[test]
fn a_tri_axle_in_europe_carries_by_its_spacing() {
    // Directive 96/53/EC, annex I: 40 t on five axles, 11.5 t on the drive axle, and a tri-axle 21 t
    // up to 1.3 m between its axles, 24 t above (the tri-axle from memory). Worked by the beam: box
    // and cargo of 27.25 t at 4.9 m, chassis of 5 t at 4.6 m: bogie (27.25 x 4.9 + 5 x 4.6) / 7 =
    // 22.361 t; the kingpin's 9.889 t lie 0.6 m of 3.6 m ahead of the drive axle: 2.5 + 8.241 and
    // 5 + 1.648 t. Illustrative geometry.
    let mut rig = Abroad {
        road: "eu",
        tractor: ["3.6 m", "0.6 m", "5 t", "2.5 t"],
        drive_spacing: &[],
        chassis: ["7 m", "5 t", "4.6 m", "4.9 m"],
        spacing: "1.31 m",
    };
    assert_eq!(rig.on(25), ([6_648, 10_741, 22_361], vec![]));
    let (_, broken) = rig.on(26);
    assert_eq!(broken, ["gross of the whole rig (eu)"], "40.75 t are above 40 t");
    rig.spacing = "1.3 m";
    assert_eq!(rig.on(25).1, ["axles 3-5, tri-axle (eu)"]);
}

#[test]
fn a_tri_axle_in_australia_binds_before_the_gross() {
    // Heavy Vehicle National Law, general mass limits (from memory): tri-axle 20 t, tandem 16.5 t,
    // steer 6 t, 42.5 t on six axles. Worked by the beam: with 23 t of cargo the bogie has
    // (25.25 x 4.6 + 5.5 x 5.2) / 7.5 = 19.300 t, the kingpin 11.450 t, 0.3 of 4.3 m of it on the
    // steer axle: 4.8 + 0.799 and 4 + 10.651 t. With 25 t the bogie has 20.527 t at 41.55 t gross.
    let rig = Abroad {
        road: "au-general",
        tractor: ["4.3 m", "0.3 m", "4.8 t", "4 t"],
        drive_spacing: &["1.3 m"],
        chassis: ["7.5 m", "5.5 t", "5.2 m", "4.6 m"],
        spacing: "1.3 m",
    };
    assert_eq!(rig.on(23), ([5_599, 14_651, 19_300], vec![]));
    assert_eq!(rig.on(25).1, ["axles 4-6, tri-axle (au-general)"]);
}
