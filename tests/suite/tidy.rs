//! The repository's own text: who may use whom, what every file opens with, what may not be in it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::common::rows;
use crate::imports::Imports;

/// The rooms in the order of the data. A room uses only those before it.
const ROOMS: [&str; 22] = [
    "quantity", "fault", "files", "trade", "read", "import", "price", "load", "outgoing", "bill",
    "customs", "charges", "spread", "cost", "choose", "decide", "starter", "book", "ledger",
    "sell", "show", "cli",
];

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            all.extend(sources(&path));
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            all.push(path);
        }
    }
    all.sort();
    all
}

/// The room that a file of `src` is in.
fn room(file: &str) -> &str {
    file.split(['/', '.']).next().unwrap_or(file)
}

#[test]
fn rooms_use_only_the_rooms_before_them() {
    let imports = Imports::of(&root().join("src"));
    let place = |room: &str| ROOMS.iter().position(|one| *one == room);
    for (file, used) in &imports.uses {
        let Some(own) = place(room(file)) else { continue };
        for other in used {
            let before = place(room(other)).is_some_and(|other| other <= own);
            assert!(before, "{file} uses {other}, which is in no room before its own");
        }
    }
}

#[test]
fn files_of_a_room_use_each_other_one_way() {
    let imports = Imports::of(&root().join("src"));
    let found = ROOMS.iter().flat_map(|room| imports.circle(room));
    let circles = found.filter_map(|file| {
        let inside = |other: &str| room(other) == room(&file);
        imports.way(&file, &file, &inside)
    });
    let circles: Vec<String> = circles.map(|way| way.join(" -> ")).collect();
    assert!(circles.is_empty(), "circles: {circles:#?}");
}

#[test]
fn every_file_says_what_it_is_for() {
    for folder in ["src", "tests", "benches"] {
        for path in sources(&root().join(folder)) {
            let text = fs::read_to_string(&path).unwrap();
            assert!(text.starts_with("//! "), "{} does not open with //!", path.display());
        }
    }
}

/// Where a report is made: each of these tells its faults, or takes them over into one that is told.
const MAKE_REPORTS: [&str; 8] = [
    "fault/report.rs",
    "cli/job.rs",
    "charges/variants.rs",
    "choose/cheapest.rs",
    "choose/tried.rs",
    "customs/enter.rs",
    "decide/counter.rs",
    "read/books/mod.rs",
];

#[test]
fn no_report_is_made_to_be_thrown_away() {
    for path in sources(&root().join("src")) {
        let text = fs::read_to_string(&path).unwrap();
        let code = text.split("#[cfg(test)]").next().unwrap();
        let makes = code.contains("Report::new()") || code.contains("Report::in_units(");
        let may = MAKE_REPORTS.iter().any(|file| path.ends_with(file));
        assert_eq!(makes, may, "{}", path.display());
    }
}

#[test]
fn no_float_where_money_or_measures_live() {
    for folder in [
        "src/quantity",
        "src/trade",
        "src/read",
        "src/import",
        "src/bill",
        "src/customs",
        "src/charges",
        "src/cost",
        "src/choose",
        "src/decide",
        "src/show",
    ] {
        for path in sources(&root().join(folder)) {
            let text = fs::read_to_string(&path).unwrap();
            // A cell of a workbook is a binary number: one function makes it.
            let most = usize::from(path.ends_with("src/show/xlsx.rs"));
            let count: usize = ["f64", "f32"].iter().map(|word| text.matches(word).count()).sum();
            assert!(count <= most, "{} speaks of floats", path.display());
        }
    }
}

#[test]
fn every_rate_row_has_its_source() {
    let folders = ["rates", "rates/freight", "rates/drayage", "rates/fees"];
    let files = folders.iter().flat_map(|folder| fs::read_dir(root().join(folder)).unwrap());
    for path in files.map(|entry| entry.unwrap().path()) {
        if path.extension().is_none_or(|ending| ending != "toml") {
            continue;
        }
        let all = rows(&fs::read_to_string(&path).unwrap());
        // The number of an account is the importer's own: it has no source.
        for (name, row) in all.into_iter().filter(|(name, _)| name != "account") {
            let source = row.get("source").and_then(|source| source.as_str()).unwrap_or("");
            assert!(!source.is_empty(), "{}: a [[{name}]] without source: {row}", path.display());
        }
    }
}

#[test]
fn commands_of_the_readme_exist() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let help =
        std::process::Command::new(env!("CARGO_BIN_EXE_quaystone")).arg("--help").output().unwrap();
    let help = String::from_utf8(help.stdout).unwrap();
    let mut named: BTreeMap<&str, usize> = BTreeMap::new();
    for line in readme.lines().filter_map(|line| line.trim().strip_prefix("quaystone ")) {
        let command = line.split_whitespace().next().unwrap();
        assert!(help.contains(&format!("  {command} ")), "README names {command}");
        *named.entry(command).or_default() += 1;
    }
    for command in ["cash", "check", "cost", "load", "explain", "compare", "rates"] {
        assert!(named.contains_key(command), "README leaves out {command}");
    }
}
