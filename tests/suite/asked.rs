//! What a shipment asks of its load, by whole commands.

use std::fmt::Write;

use quaystone::quantity::Decimal;

use crate::common::{Tiny, run};
use serde_json::Value;

/// A bundle: its name, block, length in cm and mass in kg.
type Row<'a> = (&'a str, &'a str, u32, u32);

/// The small workspace with these bundles for Savannah, in 20' boxes alone at 2,600 USD each; the
/// road there bears 19,958 kg of cargo, 200 kg of it dunnage.
fn workspace(bundles: &[Row<'_>], load: &str) -> Tiny {
    let tiny = Tiny::new();
    let mut list = String::from("slab,bundle,block,length (cm),height (cm),weighed mass (kg)\n");
    for (bundle, block, length, mass) in bundles {
        for slab in 1..=7 {
            writeln!(list, "{bundle}-{slab},{bundle},{block},{length},180,{mass}").unwrap();
        }
    }
    tiny.write("shipments/plain/packing.csv", &list);
    tiny.append("shipments/plain/shipment.toml", &format!("\n[load]\n{load}\n"));
    tiny
}

/// The exit code, the JSON of what is printed, and what is said.
fn load(tiny: &Tiny, args: &[&str]) -> (i32, Value, String) {
    let output = run(tiny.path(), &[&["load", "plain", "--as", "json"], args].concat());
    let said = String::from_utf8(output.stderr).unwrap();
    let json = serde_json::from_slice(&output.stdout).unwrap_or(Value::Null);
    (output.status.code().unwrap(), json, said)
}

/// The bundles of each container.
fn boxes(json: &Value) -> Vec<Vec<&str>> {
    let inside = json["containers"].as_array().unwrap().iter().map(|one| {
        let bundles = one["bundles"].as_array().unwrap().iter();
        let mut names: Vec<&str> = bundles.filter_map(|one| one["bundle"].as_str()).collect();
        names.sort_unstable();
        names
    });
    inside.collect()
}

#[test]
fn two_of_one_block_may_be_kept_apart() {
    let bundles = [("A", "K1", 270, 2_000), ("B", "K1", 270, 2_000)];
    let apart = "[[load.apart]]\nbundles = [\"A\", \"B\"]";
    let (exit, json, said) = load(&workspace(&bundles, apart), &[]);
    assert_eq!((exit, said.as_str()), (0, ""));
    assert_eq!((boxes(&json).len(), &json["proof"]), (2, &Value::from("proven")));

    let priced = format!("blocks = \"100.00 USD\"\n{apart}");
    let (exit, json, said) = load(&workspace(&bundles, &priced), &[]);
    assert_eq!((exit, said.as_str()), (0, ""));
    assert_eq!(json["proof"], "proven");

    let fixed = ["A", "B"].map(|bundle| {
        format!(
            "[[load.fixed]]\ncontainer = \"of {bundle}\"\ntype = \"20gp\"\nbundles = [\"{bundle}\"]\n"
        )
    });
    let (exit, json, said) = load(&workspace(&bundles, &fixed.concat()), &[]);
    assert_eq!((exit, said.as_str()), (0, ""));
    assert_eq!(boxes(&json), [["A"], ["B"]]);
}

#[test]
fn what_a_box_costs_is_the_sum_of_its_charges() {
    let tiny = workspace(&two_blocks(3_000), "");
    let surcharge = "[[charge]]\nlane = \"TRIZM-USSAV\"\nname = \"heavy box\"\nleg = \"main carriage\"\n\
        per = \"container\"\ntiers = [{ gross = \"0 t..12 t\", amount = \"0 USD\" }, { gross = \"12 t..\", amount = \"280 USD\" }]\n\
        offer = \"line-7\"\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n";
    tiny.append("rates/freight.toml", surcharge);
    let (exit, json, said) = load(&tiny, &[]);
    assert_eq!((exit, said.as_str()), (0, ""));
    assert_eq!(json["offers"][0]["offer"], "line-7");
    let container = &json["containers"][0];
    let parts = container["cost_parts"].as_array().unwrap();
    let parts: Vec<(&str, &str)> = parts
        .iter()
        .map(|part| (part["name"].as_str().unwrap(), part["amount"].as_str().unwrap()))
        .collect();
    let expected = [
        ("ocean freight", "2000.00"),
        ("heavy box, 12 t..", "280.00"),
        ("haulage", "500.00"),
        ("fuel surcharge", "100.00"),
    ];
    assert_eq!(parts, expected);
    assert_eq!(container["cost"], "2880.00");
}

/// Three bundles of each of two blocks; a box holds three of them, or six of half the mass.
fn two_blocks(mass: u32) -> [Row<'static>; 6] {
    ["A", "B", "C", "D", "E", "F"]
        .map(|name| (name, if name < "D" { "K1" } else { "K2" }, 280, mass))
}

#[test]
fn a_set_and_the_blocks_bind_one_another() {
    let ask = "blocks = \"rule\"\n[[load.together]]\nbundles = [\"A\", \"D\"]";
    let (exit, json, _) = load(&workspace(&two_blocks(3_000), ask), &[]);
    assert_eq!(exit, 0);
    assert_eq!(boxes(&json), [["A", "B", "C", "D", "E", "F"]]);
    // Six of 4,000 kg go in no box, and the set is no leave to split the blocks.
    let (exit, ..) = load(&workspace(&two_blocks(4_000), ask), &[]);
    assert_eq!(exit, 3);

    // A set that is a rule leaves the wish of the blocks as it is, and is counted in it.
    let ask = "blocks = \"250.00 USD\"\n[[load.together]]\nbundles = [\"A\", \"D\"]";
    let (exit, json, said) = load(&workspace(&two_blocks(4_800), ask), &[]);
    assert_eq!((exit, said.as_str()), (0, ""));
    assert!(boxes(&json).iter().any(|names| names.contains(&"A") && names.contains(&"D")));
    assert_eq!(json["broken_wishes"], "250.00");
    assert_eq!((&json["cost"], &json["lower_bound"]), (&"5200.00".into(), &"5450.00".into()));
}

#[test]
fn a_given_load_is_judged_by_what_is_asked() {
    let ask = "blocks = \"rule\"\nmost-containers = 1\n\
               [[load.apart]]\nbundles = [\"A\", \"B\"]\n\
               [[load.together]]\nbundles = [\"A\", \"D\"]\n\
               [[load.fixed]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"A\", \"F\"]";
    let tiny = workspace(&two_blocks(3_000), ask);
    let plan = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"A\", \"B\"]\n\
                [[container]]\ncontainer = \"2\"\ntype = \"20gp\"\nbundles = [\"C\", \"D\", \"E\", \"F\"]\n";
    tiny.write("given.toml", plan);
    let given = tiny.path().join("given.toml");
    let check = ["--check", given.to_str().unwrap()];
    let (exit, json, said) = load(&tiny, &check);
    assert_eq!(exit, 3, "{said}");
    for (what, line) in [
        ("block K1 is split over containers 1 and 2", 19),
        ("bundles A and D belong together and are in containers 1 and 2", 23),
        ("bundles A and B are to stay apart and share container 1", 21),
        ("bundles A and F are fixed in one container and are in containers 1 and 2", 25),
        ("the load has 2 containers, of at most 1", 20),
    ] {
        assert!(said.contains(what), "{what} in {said}");
        assert!(
            said.contains(&format!("shipment.toml:{line}:")),
            "line {line} of {what} in {said}"
        );
    }
    assert_eq!(json["broken_wishes"], "0.00");
    assert_eq!((&json["verdict"], json["broken"].as_array().unwrap().len()), (&"broken".into(), 5));
    let page = run(tiny.path(), &["load", "plain", "--check", given.to_str().unwrap()]);
    let page = String::from_utf8(page.stdout).unwrap();
    assert!(page.contains("NOT to be loaded so: it breaks 5 limits or requests"), "{page}");
    assert!(page.contains("block K1 is split over containers 1 and 2"), "{page}");

    // A load that only breaks what is asked is not sound either.
    tiny.write("shipments/plain/plan.toml", plan);
    let checked = run(tiny.path(), &["check", "plain"]);
    let page = String::from_utf8(checked.stdout).unwrap();
    assert_eq!(checked.status.code(), Some(3));
    assert!(page.contains("not as asked"), "{page}");

    // The same split as a wish is priced as the planner prices it.
    let tiny = workspace(&two_blocks(3_000), "blocks = \"250.00 USD\"");
    tiny.write("given.toml", plan);
    let given = tiny.path().join("given.toml");
    let (exit, json, said) = load(&tiny, &["--check", given.to_str().unwrap()]);
    assert_eq!((exit, said.as_str()), (0, ""));
    assert_eq!((&json["cost"], &json["broken_wishes"]), (&"5200.00".into(), &"250.00".into()));
    // The bound is of both together, and their sum is a figure of its own.
    assert_eq!(json["cost_with_broken_wishes"], "5450.00");
    let figure = |key: &str| json[key].as_str().unwrap().parse::<Decimal>().unwrap();
    assert!(figure("lower_bound") <= figure("cost_with_broken_wishes"));
    assert_eq!(json["verdict"], "holds");
}

#[test]
fn files_are_written_for_a_load_that_holds_all_or_none() {
    let tiny = workspace(&two_blocks(3_000), "");
    let path = |name: &str| tiny.path().join(name).to_str().unwrap().to_owned();
    let (plan, drawing, out) = (path("frozen.toml"), path("load.svg"), path("out.txt"));
    let ask = |args: &[&str]| {
        let output = run(tiny.path(), &[&["load", "plain"], args].concat());
        let there = [&plan, &drawing, &out].map(|path| std::path::Path::new(path).exists());
        (output.status.code().unwrap(), there, String::from_utf8(output.stderr).unwrap())
    };
    let nowhere = path("no/such/load.svg");
    let (exit, there, _) = ask(&["--freeze", &plan, "--drawing", &nowhere, "--out", &out]);
    assert_eq!((exit, there), (4, [false; 3]));
    let same = path("./frozen.toml");
    let (exit, there, said) = ask(&["--freeze", &plan, "--drawing", &same]);
    assert_eq!((exit, there), (2, [false; 3]), "{said}");

    // Six of 4,000 kg in one box are over the road's custom: nothing of it is to be handed on.
    let given = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"A\", \"B\", \"C\", \"D\", \"E\", \"F\"]\n";
    tiny.write("given.toml", given);
    let heavy = workspace(&two_blocks(4_000), "");
    let list = std::fs::read_to_string(heavy.path().join("shipments/plain/packing.csv")).unwrap();
    let light = std::fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    tiny.write("shipments/plain/packing.csv", &list);
    let checked = path("given.toml");
    let all = ["--check", &checked, "--freeze", &plan, "--drawing", &drawing, "--out", &out];
    let (exit, there, said) = ask(&all);
    assert_eq!((exit, there), (3, [false; 3]), "{said}");
    assert!(said.contains("nothing is written"), "{said}");

    tiny.write("shipments/plain/packing.csv", &light);
    let (exit, there, said) = ask(&all);
    assert_eq!((exit, there), (0, [true; 3]), "{said}");
}
