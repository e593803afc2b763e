//! One load, one verdict: what `check`, `load`, `cost`, `compare` and the drawing say of it.

use std::fmt::Write;

use crate::common::{Tiny, demo, run, stdout};
use serde_json::Value;

/// What a command says and how it ends: exit code, stdout, stderr.
fn said(tiny: &Tiny, args: &[&str]) -> (i32, String, String) {
    let output = run(tiny.path(), args);
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap(), text(&output.stdout), text(&output.stderr))
}

/// The same text on one line, as pages wrap.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn json(tiny: &Tiny, args: &[&str]) -> Value {
    let (_, out, err) = said(tiny, &[args, &["--as", "json"]].concat());
    serde_json::from_str(&out).unwrap_or_else(|_| panic!("{args:?}: {err}"))
}

/// A list of so many bundles of sixteen slabs each, so many cm long and 1.95 m high, with more columns.
fn list(bundles: u32, length: u32, head: &str, more: &str) -> String {
    let mut list = format!("slab,bundle,length (cm),height (cm){head}\n");
    for bundle in 1..=bundles {
        for slab in 1..=16 {
            writeln!(list, "{bundle}-{slab},B{bundle},{length},195{more}").unwrap();
        }
    }
    list
}

/// Six bundles of 2 m in one box. Each weighs 16 x 3.9 m2 x 50 kg/m2 and 80 kg of timber, 3,200 kg or
/// 1.6 t/m; the cargo of 19.4 t is within every mass limit. Two lines of 2 m bundles hold four in
/// 5.8 m; six stand three abreast somewhere, which presses 4.8 t/m on a floor that bears 4.5.
fn too_dense() -> Tiny {
    let tiny = Tiny::new();
    let more = ",container,container type";
    tiny.write("shipments/plain/packing.csv", &list(6, 200, more, ",1,20gp"));
    tiny
}

#[test]
fn check_judges_the_floor_of_a_given_load_as_load_does() {
    let tiny = too_dense();
    for command in ["check", "load", "cost"] {
        let (exit, _, err) = said(&tiny, &[command, "plain"]);
        assert_eq!(exit, if command == "cost" { 0 } else { 3 }, "{command}: {err}");
        assert!(err.contains("no places found that keep every rule"), "{command}: {err}");
    }
    let (_, out, _) = said(&tiny, &["check", "plain"]);
    assert!(out.contains("over a limit"), "{out}");
}

#[test]
fn a_given_load_that_breaks_a_limit_is_named_on_every_page() {
    let tiny = too_dense();
    let plain = std::fs::read_to_string(tiny.path().join("shipments/plain/shipment.toml")).unwrap();
    tiny.write("shipments/other/shipment.toml", &plain);
    tiny.write(
        "shipments/other/packing.csv",
        "slab,bundle,length (cm),height (cm)\nA1,B1,300,180\n",
    );
    for args in [&["cost", "plain"][..], &["load", "plain"], &["compare", "plain", "other"]] {
        let (_, out, _) = said(&tiny, args);
        assert!(flat(&out).contains("NOT to be loaded so"), "{args:?}: {out}");
    }
    for command in ["cost", "load"] {
        let json = json(&tiny, &[command, "plain"]);
        assert_eq!(json["verdict"], "broken");
        let broken = json["broken"][0].as_str().unwrap();
        assert!(broken.starts_with("box 1: no places found"), "{command}: {broken}");
    }
    let compared = json(&tiny, &["compare", "plain", "other"]);
    let verdicts: Vec<&str> = compared["offers"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["verdict"].as_str().unwrap())
        .collect();
    assert_eq!(verdicts, ["broken", "holds"]);
}

#[test]
fn broken_wishes_are_named_wherever_the_load_is() {
    // Eight bundles of 3 m and 4,760 kg of one block: two abreast press 3.17 t/m on a floor that bears 4.5,
    // and no two stand one behind the other. Four boxes, three beyond the first.
    let tiny = Tiny::new();
    let wishes = "\n[load]\nblocks = \"1.00 USD\"\n";
    tiny.append("shipments/plain/shipment.toml", wishes);
    tiny.write("shipments/plain/packing.csv", &list(8, 300, ",block", ",K1"));
    let asked = "block K1 is split over containers 1, 2, 3 and 4";
    for command in ["load", "cost"] {
        let (exit, out, err) = said(&tiny, &[command, "plain"]);
        assert_eq!(exit, 0, "{command}: {err}");
        let wish = format!("breaks wishes: {asked} (3.00 USD)");
        assert!(flat(&out).contains(&wish), "{command}: {out}");
        let json = json(&tiny, &[command, "plain"]);
        assert_eq!(json["verdict"], "holds");
        assert_eq!(json["wishes_broken"][0]["what"], asked);
        assert!(json["broken"][0].as_str().unwrap().starts_with(asked), "{json}");
    }
}

#[test]
fn a_drawing_names_the_limit_that_the_page_names() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("floor.svg");
    let args = ["load", "long-slabs-floor", "--as", "json", "--drawing", path.to_str().unwrap()];
    let page: Value = serde_json::from_str(&stdout(&demo(), &args)).unwrap();
    let svg = std::fs::read_to_string(&path).unwrap();
    let drawn: Vec<&str> =
        svg.lines().filter_map(|line| Some(line.split_once("binding: ")?.1)).collect();
    let boxes = page["containers"].as_array().unwrap();
    assert_eq!(drawn.len(), boxes.len());
    for (one, drawn) in boxes.iter().zip(drawn) {
        let binding = one["binding"].as_str().unwrap();
        let kind = one["binding_kind"].as_str().unwrap();
        assert_eq!(drawn, format!("{binding} ({kind})</text>"));
    }
    assert_eq!(boxes[0]["binding"], "floor");
}

/// 40' boxes to Savannah at half the price of 20' boxes, and the road's custom for 20' boxes alone.
fn without_a_limit() -> Tiny {
    let tiny = Tiny::new();
    let row = |keys: &str, name: &str, leg: &str, amount: u32| {
        format!(
            "[[charge]]\n{keys}\ncontainer = \"40gp\"\nname = \"{name}\"\nleg = \"{leg}\"\namount = \"{amount} USD\"\nper = \"container\"\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n"
        )
    };
    tiny.append(
        "rates/freight.toml",
        &row("lane = \"TRIZM-USSAV\"", "ocean freight", "main carriage", 1_000),
    );
    tiny.append("rates/drayage.toml", &row("yard = \"savannah\"", "haulage", "on-carriage", 300));
    tiny.replace(
        "rates/drayage.toml",
        "yard = \"savannah\"\nname = \"road custom\"",
        "yard = \"savannah\"\ncontainer = \"20gp\"\nname = \"road custom\"",
    );
    tiny
}

/// The same with the shipment "plain" once more, as "other".
fn two_without_a_limit() -> Tiny {
    let tiny = without_a_limit();
    for file in ["shipment.toml", "packing.csv"] {
        let text = std::fs::read_to_string(tiny.path().join("shipments/plain").join(file)).unwrap();
        tiny.write(&format!("shipments/other/{file}"), &text);
    }
    tiny
}

#[test]
fn a_limit_known_for_one_type_alone_is_said_and_nothing_is_proven_without_it() {
    let tiny = two_without_a_limit();
    let known = "\"road custom\" for 40' GP: known for 20' GP only";
    for args in [&["cost", "plain"][..], &["load", "plain"], &["compare", "plain", "other"]] {
        let (exit, out, err) = said(&tiny, args);
        assert_eq!(exit, 0, "{args:?}: {err}");
        assert!(flat(&out).contains(known), "{args:?}: {out}");
        assert!(!out.contains("(proven)"), "{args:?}: {out}");
    }
    let (_, out, _) = said(&tiny, &["cost", "plain"]);
    assert!(flat(&out).contains("1 x 40' GP (proven by the limits that are known)"), "{out}");
    let json = json(&tiny, &["load", "plain"]);
    let names: Vec<&str> = json["limits_unknown"]
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one["what"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["\"carrier's cap\"", "\"road custom\""]);
    // A type that may not be chosen lacks nothing.
    tiny.replace(
        "shipments/plain/shipment.toml",
        "to = \"savannah\"",
        "to = \"savannah\"\ncontainers = [\"20gp\"]",
    );
    let (_, out, _) = said(&tiny, &["cost", "plain"]);
    assert!(out.contains("1 x 20' GP (proven)") && !out.contains("NOT KNOWN"), "{out}");
}

/// The box of `plain` with both bundles, and more of its lines.
fn planned(more: &str) -> Tiny {
    let tiny = Tiny::new();
    let plan = format!(
        "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"B1\", \"B2\"]\n{more}"
    );
    tiny.write("shipments/plain/plan.toml", &plan);
    tiny
}

#[test]
fn a_low_tare_raises_what_may_be_loaded_only_with_a_word() {
    // The type's row has 2,280 kg: 2,100 kg leave 180 kg more under the plate, and the page says so.
    let tiny = planned("tare = \"2100 kg\"\n");
    for command in ["load", "cost"] {
        let (exit, out, err) = said(&tiny, &[command, "plain"]);
        assert_eq!(exit, 0, "{command}: {err}");
        let word = "box 1: tare 2,100 kg, its type has 2,280 kg, so 180 kg more is loaded";
        assert!(flat(&out).contains(word), "{command}: {out}");
        let json = json(&tiny, &[command, "plain"]);
        assert_eq!(json["read_lower"][0]["own_kg"], "2100.0", "{json}");
    }
    let (_, out, _) = said(&planned("tare = \"2300 kg\"\n"), &["load", "plain"]);
    assert!(!out.contains("its type has"), "{out}");
}

#[test]
fn a_tare_or_dunnage_that_cannot_be_is_a_fault() {
    for (more, what) in [
        ("tare = \"23 kg\"\n", "box 1: a tare of 23 kg for a 20' GP"),
        ("dunnage = \"1 kg\"\n", "box 1: dunnage of 1 kg for a 20' GP"),
    ] {
        let (exit, out, err) = said(&planned(more), &["load", "plain"]);
        assert_eq!((exit, out.as_str()), (1, ""), "{err}");
        assert!(err.contains(what) && err.contains("plan.toml:5"), "{err}");
    }
}

#[test]
fn places_that_overlap_point_at_both_lines_with_the_overlap() {
    // B1 is 3.0 m long and 101 mm wide, two slabs of 20 mm with a film of 1 mm and 60 mm of timber; B2 is
    // 2.5 m long and 80 mm wide. From 100 and 150 mm on they share all of B2's length, and 51 mm across.
    let tiny = planned(
        "[[container.place]]\nbundle = \"B1\"\nx = \"100 mm\"\ny = \"100 mm\"\n\
         [[container.place]]\nbundle = \"B2\"\nx = \"200 mm\"\ny = \"150 mm\"\n",
    );
    let (exit, _, err) = said(&tiny, &["load", "plain"]);
    assert_eq!(exit, 3, "{err}");
    let words = "they overlap by 2500 mm along the box and 51 mm across it";
    assert!(err.contains(words), "{err}");
    assert!(err.contains("plan.toml:5") && err.contains("plan.toml:9"), "{err}");
}

#[test]
fn a_bundle_below_its_timber_is_one_fault() {
    let tiny = Tiny::new();
    let mut list = list(1, 300, ",weighed mass (kg)", ",64");
    list.push_str("A1,B9,300,180,\n");
    tiny.write("shipments/plain/packing.csv", &list);
    let (exit, _, err) = said(&tiny, &["check", "plain"]);
    assert_eq!(exit, 1);
    assert_eq!(err.matches("error[").count(), 1, "{err}");
}

#[test]
fn check_shares_out_a_stock_as_load_does() {
    let names = ["one-week-norfolk", "one-week-savannah"];
    let of = |args: &[&str]| -> Value { serde_json::from_str(&stdout(&demo(), args)).unwrap() };
    let checked = of(&["check", names[0], names[1], "--as", "json"]);
    let shared = of(&["load", names[0], names[1], "--as", "json"]);
    let landed = |json: &Value, all: &str, key: &str| -> Vec<String> {
        let all = json[all].as_array().unwrap().iter();
        all.map(|one| one[key].as_str().unwrap().to_owned()).collect()
    };
    assert_eq!(landed(&checked, "shipments", "total"), landed(&shared, "sums", "landed_total"));
    // By itself each says that it did not look.
    for command in ["cost", "load", "check"] {
        let out = flat(&stdout(&demo(), &[command, names[0]]));
        assert!(out.contains("were not checked"), "{command}: {out}");
    }
}

#[test]
fn check_finds_that_two_count_one_stock_differently() {
    let tiny = Tiny::new();
    let plain = std::fs::read_to_string(tiny.path().join("shipments/plain/shipment.toml")).unwrap();
    let list = std::fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    for (name, count) in [("plain", 1), ("other", 2)] {
        let load = format!(
            "{plain}\n[load]\nmost-containers = {{ count = {count}, shared = \"week\" }}\n"
        );
        tiny.write(&format!("shipments/{name}/shipment.toml"), &load);
        tiny.write(&format!("shipments/{name}/packing.csv"), &list);
    }
    let (exit, _, err) = said(&tiny, &["check", "plain", "other"]);
    assert_eq!(exit, 1, "{err}");
    assert!(
        err.contains("two shipments say different things of the shared stock \"week\""),
        "{err}"
    );
    // One box for two shipments that need one each.
    let one = "count = 1, shared = \"week\"";
    tiny.replace("shipments/other/shipment.toml", "count = 2, shared = \"week\"", one);
    let (exit, out, err) = said(&tiny, &["check", "plain", "other"]);
    assert_eq!(exit, 3, "{err}");
    assert!(out.contains("boxes do not suffice"), "{out}");
}

#[test]
fn every_form_says_alike_how_sure_a_load_is() {
    let tiny = two_without_a_limit();
    let word = "proven by the limits that are known";
    let is_so = |json: &Value| {
        assert_eq!(json["proof"], word);
        let why = json["proof_note"].as_str().unwrap();
        assert_eq!(why, "not known: \"carrier's cap\" for 40' GP, \"road custom\" for 40' GP");
    };
    is_so(&json(&tiny, &["load", "plain"]));
    is_so(&json(&tiny, &["cost", "plain"]));
    is_so(&json(&tiny, &["compare", "plain", "other"])["offers"][0]);
    let both = json(&tiny, &["load", "plain", "other"]);
    is_so(&both);
    is_so(&both["shipments"][1]);
    for args in [&["load", "plain"][..], &["load", "plain", "other"]] {
        let (_, out, _) = said(&tiny, &[args, &["--as", "csv"]].concat());
        assert!(out.lines().skip(1).all(|row| row.ends_with(word)), "{args:?}: {out}");
    }
    for args in [&["load", "plain"][..], &["load", "plain", "other"], &["cost", "plain"]] {
        let (_, out, _) = said(&tiny, args);
        assert!(flat(&out).contains(word), "{args:?}: {out}");
        assert!(!out.contains("as known"), "{args:?}: {out}");
    }
}

#[test]
fn a_bundle_weighed_below_its_estimate_raises_what_may_be_loaded_only_with_a_word() {
    // Sixteen slabs of 5.85 m2 at 50 kg/m2 are 4,680 kg, with 80 kg of timber 4,760. 4,500 kg are 5.5 % below,
    // no fault, and leave 260 kg more to be loaded.
    let tiny = Tiny::new();
    let weighed = |kg: &str| list(1, 300, ",weighed mass (kg)", &format!(",{kg}"));
    tiny.write("shipments/plain/packing.csv", &weighed("4500"));
    let plain = std::fs::read_to_string(tiny.path().join("shipments/plain/shipment.toml")).unwrap();
    tiny.write("shipments/other/shipment.toml", &plain);
    tiny.write("shipments/other/packing.csv", &weighed("4760"));
    let word = "bundle B1: weighed 4,500 kg, computed 4,760 kg, so 260 kg more is loaded";
    for args in [&["load", "plain"][..], &["cost", "plain"], &["compare", "plain", "other"]] {
        let (exit, out, err) = said(&tiny, args);
        assert_eq!(exit, 0, "{args:?}: {err}");
        assert!(flat(&out).contains(word), "{args:?}: {out}");
    }
    let low = &json(&tiny, &["load", "plain"])["read_lower"][0];
    assert_eq!((&low["what"], &low["bundle"]), (&"bundle".into(), &"B1".into()));
    assert_eq!((&low["own_kg"], &low["usual_kg"]), (&"4500.0".into(), &"4760.0".into()));
    let (_, out, _) = said(&tiny, &["load", "other"]);
    assert!(!out.contains("computed 4,760 kg"), "{out}");
}

#[test]
fn offers_are_compared_by_the_one_objective() {
    // The same goods and boxes twice: the one that is named first breaks a wish of 1,000 for each of three
    // boxes more. It is no charge, and the other is the better offer.
    let tiny = Tiny::new();
    let plain = std::fs::read_to_string(tiny.path().join("shipments/plain/shipment.toml")).unwrap();
    tiny.append("shipments/plain/shipment.toml", "\n[load]\nblocks = \"1000.00 USD\"\n");
    tiny.write("shipments/other/shipment.toml", &plain);
    for name in ["plain", "other"] {
        let list = list(8, 300, ",block", ",K1");
        tiny.write(&format!("shipments/{name}/packing.csv"), &list);
    }
    let compared = json(&tiny, &["compare", "plain", "other"]);
    let group = &compared["groups"][0];
    assert_eq!(group["best"], serde_json::json!(["other"]));
    let [other, plain] = &group["offers"].as_array().unwrap()[..] else { panic!("two") };
    assert_eq!(plain["amounts"], other["amounts"]);
    assert_eq!(plain["broken_wishes"], "3000.00");
    assert_eq!(plain["above_best"]["on_area"], "3000.00");
}
