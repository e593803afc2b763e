//! A load that somebody filled: every limit that it breaks is named with its kind, by every command.

use std::fmt::Write;

use crate::common::{Tiny, run};
use serde_json::Value;

/// The box of `plain`, filled by its packing list.
fn filled(list: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.write("shipments/plain/packing.csv", list);
    tiny
}

/// What a command says and how it ends: exit code, stdout, stderr.
fn said(tiny: &Tiny, args: &[&str]) -> (i32, String, String) {
    let output = run(tiny.path(), args);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// `cost` warns and goes on, `check` answers "no", `load` does and marks it.
fn every_command_names(tiny: &Tiny, limits: &[&str], marked: &[&str]) {
    for (command, code) in [("cost", 0), ("check", 3), ("load", 3)] {
        let (exit, out, err) = said(tiny, &[command, "plain"]);
        assert_eq!(exit, code, "{command}: {err}");
        for limit in limits {
            assert!(err.contains(limit), "{command} does not name {limit:?}: {err}");
        }
        if command == "check" {
            assert!(out.contains("over a limit"), "{out}");
        }
        if command == "load" {
            let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
            for mark in marked {
                assert!(flat.contains(mark), "load does not mark {mark:?}: {out}");
            }
        }
    }
}

#[test]
fn a_bundle_that_does_not_pass_the_door() {
    let tiny = filled(
        "slab,bundle,length (cm),height (cm),container,container type\n\
         A1,B1,300,280,1,20gp\nA2,B2,300,180,1,20gp\n",
    );
    let tall = "bundle B1 is 690 mm too tall for the door less its clearance (equipment)";
    every_command_names(&tiny, &[&format!("box 1: {tall}")], &[&format!("OVER {tall}")]);
}

#[test]
fn a_bundle_that_is_longer_than_the_floor() {
    let tiny = filled(
        "slab,bundle,length (cm),height (cm),container,container type\n\
         A1,B1,595,180,1,20gp\nA2,B2,300,180,1,20gp\n",
    );
    every_command_names(
        &tiny,
        &["too long for the floor less bracing (equipment)"],
        &["OVER bundle B1"],
    );
}

#[test]
fn a_bundle_that_the_yard_does_not_lift() {
    let tiny = filled(
        "slab,bundle,length (cm),height (cm),container,container type\n\
         A1,B1,300,180,1,20gp\nA2,B2,300,180,1,20gp\n",
    );
    tiny.replace("rates/yards.toml", "lift = \"5 t\"", "lift = \"0.3 t\"");
    let lift = "350 kg is above the yard's lift of 300 kg (equipment)";
    every_command_names(&tiny, &[lift], &["OVER: heaviest bundle"]);
}

#[test]
fn every_mass_limit_that_is_broken_is_named_with_its_kind() {
    // Six bundles of 4.9 t and 200 kg of dunnage: 29,600 kg. Custom, carrier and plate are all below.
    let mut list =
        "slab,bundle,length (cm),height (cm),container,container type,weighed mass (kg)\n"
            .to_owned();
    for bundle in 1..=6 {
        writeln!(list, "A{bundle},B{bundle},300,180,1,20gp,4900").unwrap();
    }
    let tiny = filled(&list);
    every_command_names(
        &tiny,
        &[
            "over its road custom (trade practice)",
            "(carrier)",
            "over its plate payload (equipment)",
        ],
        &["(carrier): OVER by", "(equipment): OVER by 1,400 kg"],
    );
    // No bound is claimed for a load that no plan may have.
    let (_, out, _) = said(&tiny, &["load", "plain"]);
    assert!(!out.contains("at least "), "{out}");
    let (_, out, _) = said(&tiny, &["load", "plain", "--as", "json"]);
    let json: Value = serde_json::from_str(&out).unwrap();
    assert_eq!(json["lower_bound"], Value::Null);
    let breaches = json["containers"][0]["breaches"].as_array().unwrap();
    let masses = breaches.iter().filter(|one| one["what"].as_str().unwrap().starts_with("holds"));
    let kinds: Vec<&str> = masses.map(|one| one["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds, ["custom", "carrier", "equipment"]);
    let limits = json["containers"][0]["limits"].as_array().unwrap();
    assert!(limits.iter().all(|limit| limit["over_kg"].is_string()), "{limits:?}");
}

#[test]
fn places_that_overlap_are_no_sound_load() {
    let tiny = Tiny::new();
    let plan = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"B1\", \"B2\"]\n\
                [[container.place]]\nbundle = \"B1\"\nx = \"100 mm\"\ny = \"100 mm\"\n\
                [[container.place]]\nbundle = \"B2\"\nx = \"100 mm\"\ny = \"100 mm\"\n";
    tiny.write("shipments/plain/plan.toml", plan);
    every_command_names(&tiny, &["bundles B1 and B2 stand in one place"], &[]);
}
