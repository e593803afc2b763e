//! Text of strangers: no mark of theirs reaches a terminal, a spreadsheet or a script as it is, and names
//! that look alike are told.

use serde_json::Value;

use crate::common::{Tiny, copy, run, stdout};

/// Marks that are not seen or turn the writing, one of each sort.
const MARKS: [char; 16] = [
    '\u{1b}',
    '\u{85}',
    '\u{9b}',
    '\u{ad}',
    '\u{61c}',
    '\u{180e}',
    '\u{200b}',
    '\u{200f}',
    '\u{2028}',
    '\u{202e}',
    '\u{2060}',
    '\u{2066}',
    '\u{fe0f}',
    '\u{feff}',
    '\u{e0041}',
    '\u{e007f}',
];

/// A shipment whose every free text holds the marks: in TOML as escapes, in the list as they are.
fn marked() -> Tiny {
    let tiny = Tiny::new();
    let escaped = MARKS.map(|c| format!("\\U{:08X}", u32::from(c))).concat();
    let raw: String = MARKS.iter().filter(|c| !c.is_ascii_control()).collect();
    let file = "shipments/plain/shipment.toml";
    tiny.replace(file, "title = \"Plain", &format!("title = \"Plain{escaped}"));
    tiny.replace(file, "Quarry Inkwell", &format!("Quarry{escaped} Inkwell"));
    tiny.replace(file, "number = \"I-1", &format!("number = \"I-1{escaped}"));
    let list = "shipments/plain/packing.csv";
    tiny.replace(list, "A1,", &format!("A1{raw},"));
    tiny.replace(list, "B1,", &format!("B1{raw},"));
    let name = "name = \"fuel surcharge";
    tiny.replace("rates/drayage.toml", name, &format!("{name}{escaped}"));
    tiny
}

#[test]
fn marks_of_strangers_are_shown_escaped_on_every_stream_and_form() {
    let tiny = marked();
    copy(&tiny.path().join("shipments/plain"), &tiny.path().join("shipments/again"));
    let raw: String = MARKS.iter().filter(|c| !c.is_ascii_control()).collect();
    let slab = format!("A1{raw}");
    let commands: [&[&str]; 10] = [
        &["check"],
        &["load", "plain"],
        &["load", "plain", "again"],
        &["cost", "plain"],
        &["cash", "plain"],
        &["explain", "plain", &slab, "--full"],
        &["explain", "plain", "A0\u{9b}"],
        &["compare", "plain", "again"],
        &["rates"],
        &["worksheet", "plain"],
    ];
    let mut shown = 0;
    for command in commands {
        for form in ["text", "markdown", "html", "csv", "json"] {
            let output = run(tiny.path(), &[command, &["--as", form]].concat());
            for stream in [output.stdout, output.stderr] {
                let text = String::from_utf8(stream).unwrap();
                let mark = text.chars().find(|c| MARKS.contains(c));
                assert_eq!(mark, None, "{command:?} --as {form}: {text}");
                let form = if form == "json" { "\\u200b" } else { "u{200b}" };
                shown += usize::from(text.contains(form));
            }
        }
    }
    assert!(shown > 30, "{shown} of them show a mark");
    let file = |name: &str| tiny.path().join(name).to_str().unwrap().to_owned();
    let (drawing, plan) = (file("load.svg"), file("plan.toml"));
    stdout(tiny.path(), &["load", "plain", "--drawing", &drawing, "--freeze", &plan]);
    for path in [&drawing, &plan] {
        let text = std::fs::read_to_string(path).unwrap();
        assert!(!text.contains(MARKS) && text.contains("200"), "{path}: {text}");
    }
    // The plan still names the bundles.
    stdout(tiny.path(), &["load", "plain", "--check", &plan]);
}

#[test]
fn json_gives_a_strangers_text_back_as_it_was() {
    let tiny = marked();
    let raw: String = MARKS.iter().filter(|c| !c.is_ascii_control()).collect();
    let json: Value =
        serde_json::from_str(&stdout(tiny.path(), &["cost", "plain", "--as", "json"])).unwrap();
    assert_eq!(json["slabs"][0]["slab"], format!("A1{raw}"));
}

#[test]
fn a_formula_behind_a_mark_a_semicolon_or_in_wide_signs_is_no_formula() {
    let tiny = Tiny::new();
    let list = "shipments/plain/packing.csv";
    tiny.replace(list, "A1,", "\u{200b}=HYPERLINK(1),");
    tiny.replace(list, "A2,", "A2;@SUM(1),");
    tiny.replace(list, "A3,", "\u{ff1d}1+1,");
    let csv = stdout(tiny.path(), &["cost", "plain", "--as", "csv"]);
    let first: Vec<&str> =
        csv.lines().skip(1).map(|line| line.split(',').next().unwrap()).collect();
    assert_eq!(first, ["'\\u{200b}=HYPERLINK(1)", "A2;'@SUM(1)", "'\u{ff1d}1+1"]);
}

#[test]
fn names_that_look_alike_are_told_with_what_makes_them_two() {
    // A mark that is not seen, a wide letter, and an accent of its own.
    for (one, other) in [("A1", "A1\u{200b}"), ("A1", "\u{ff21}1"), ("\u{c9}1", "E\u{301}1")] {
        let tiny = Tiny::new();
        let list = "shipments/plain/packing.csv";
        tiny.replace(list, "A1,", &format!("{one},")).replace(list, "A2,", &format!("{other},"));
        let output = run(tiny.path(), &["cost", "plain"]);
        let said = String::from_utf8(output.stderr).unwrap();
        let [one, other] = [one, other].map(str::escape_default);
        assert!(said.contains(&format!("slabs \"{one}\" and \"{other}\" look alike")), "{said}");
        assert!(said.contains("packing.csv:3:1") && said.contains("packing.csv:2:1"), "{said}");
    }
    let tiny = Tiny::new();
    let stones = std::fs::read_to_string(tiny.path().join("rates/stones.toml")).unwrap();
    let row = stones.split("[[stone]]").nth(1).unwrap().split("[[").next().unwrap();
    tiny.append(
        "rates/stones.toml",
        &format!("\n[[stone]]{}", row.replacen("id = \"", "id = \"\\u200b", 1)),
    );
    let said = String::from_utf8(run(tiny.path(), &["cost", "plain"]).stderr).unwrap();
    assert!(said.contains("stones \"chalk\" and \"\\u{200b}chalk\" look alike"), "{said}");
}
