//! What the integration tests share: a small workspace to change at will, and the binary.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use quaystone::choose::{Costed, estimate};
use quaystone::fault::{Report, render};
use quaystone::load::Effort;
use quaystone::read;
use quaystone::trade::Shipment;
use serde_json::Value;

/// The repository's root: the demo workspace.
pub(crate) fn demo() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The demo's shipments.
pub(crate) const DEMO: [&str; 9] = [
    "blue-quartzite-exw",
    "pink-granite-halifax",
    "pink-granite-summer",
    "white-marble-cif",
    "white-marble-ddp",
    "white-marble-felixstowe",
    "white-marble-melbourne",
    "white-marble-rotterdam",
    "white-marble-spring",
];

/// A copy of `tests/tiny` in a folder of its own.
pub(crate) struct Tiny {
    folder: tempfile::TempDir,
}

impl Tiny {
    /// The copy, unchanged.
    pub(crate) fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        copy(&demo().join("tests/tiny"), folder.path());
        Self { folder }
    }

    /// A copy of the demo's tables with one of its shipments.
    pub(crate) fn of_demo(name: &str) -> Self {
        Self::of(&demo(), name)
    }

    /// A copy of a workspace's tables with one of its shipments.
    pub(crate) fn of(workspace: &Path, name: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        copy(&workspace.join("rates"), &folder.path().join("rates"));
        let shipment = Path::new("shipments").join(name);
        copy(&workspace.join(&shipment), &folder.path().join(&shipment));
        Self { folder }
    }

    /// Its folder.
    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Writes a file.
    pub(crate) fn write(&self, name: &str, text: &str) -> &Self {
        let path = self.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
        self
    }

    /// Adds to the end of a file.
    pub(crate) fn append(&self, name: &str, text: &str) -> &Self {
        let old = fs::read_to_string(self.path().join(name)).unwrap();
        self.write(name, &(old + text))
    }

    /// Replaces text that must be there.
    pub(crate) fn replace(&self, name: &str, old: &str, new: &str) -> &Self {
        let text = fs::read_to_string(self.path().join(name)).unwrap();
        assert!(text.contains(old), "{name} does not hold {old:?}");
        self.write(name, &text.replace(old, new))
    }

    /// States of the shipment `plain` what papers have of its written price: 592.00 EUR of goods, and 0.10 to
    /// make it round.
    pub(crate) fn state_bills(&self) -> &Self {
        const FILE: &str = "shipments/plain/shipment.toml";
        let valid = "price-valid = \"2026-03-01..2026-04-15\"\n";
        let price = "price = \"40.00 EUR/m2\"\n";
        let total = "total = \"592.10 EUR\"\nrounding = \"0.10 EUR\"\n";
        let billed = "billed = { quantity = \"14.8 m2\", amount = \"592.00 EUR\" }\n";
        self.replace(FILE, valid, &format!("{valid}{total}"));
        self.replace(FILE, price, &format!("{price}{billed}"))
    }

    /// Reads and costs a shipment, which must be sound.
    pub(crate) fn cost(&self, name: &str) -> (Shipment, Costed) {
        cost(self.path(), name)
    }
}

/// Reads and costs a sound shipment of a workspace through the library.
pub(crate) fn cost(workspace: &Path, name: &str) -> (Shipment, Costed) {
    let mut report = Report::new();
    let costed = try_cost(workspace, name, &mut report);
    costed.unwrap_or_else(|| panic!("{}", render(&report, false)))
}

/// Reads and costs a shipment of a workspace through the library.
pub(crate) fn try_cost(
    workspace: &Path,
    name: &str,
    report: &mut Report,
) -> Option<(Shipment, Costed)> {
    let workspace = read::Workspace::find(workspace, report).ok()?;
    let tariffs = read::tariffs(&workspace, report).ok()?;
    let shipment = read::shipment(&workspace, name, &tariffs, report).ok()?;
    let costed = estimate(&shipment, &tariffs, Effort::default(), report).ok()?.ok()?;
    Some((shipment, costed))
}

/// Runs the binary on a workspace.
pub(crate) fn run(workspace: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quaystone"))
        .arg("--dir")
        .arg(workspace)
        .args(args)
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

/// Runs the binary, which must succeed, and gives what it printed.
pub(crate) fn stdout(workspace: &Path, args: &[&str]) -> String {
    let output = run(workspace, args);
    let stderr = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{args:?}: {stderr}");
    String::from_utf8(output.stdout).unwrap()
}

/// The JSON of a command, which must succeed.
pub(crate) fn json(tiny: &Tiny, args: &[&str]) -> Value {
    serde_json::from_str(&stdout(tiny.path(), &[args, &["--as", "json"]].concat())).unwrap()
}

/// The JSON of a command that has a result, also where the answer is "no".
pub(crate) fn json_of_any_answer(tiny: &Tiny, args: &[&str]) -> Value {
    let output = run(tiny.path(), &[args, &["--as", "json"]].concat());
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.stdout.starts_with(b"{"), "{args:?}: {said}");
    serde_json::from_slice(&output.stdout).unwrap()
}

/// A document without some keys, wherever they stand in it.
pub(crate) fn without(mut value: Value, keys: &[&str]) -> Value {
    fn walk(value: &mut Value, keys: &[&str]) {
        match value {
            Value::Object(map) => {
                for key in keys {
                    map.remove(*key);
                }
                map.values_mut().for_each(|value| walk(value, keys));
            }
            Value::Array(all) => all.iter_mut().for_each(|value| walk(value, keys)),
            _ => {}
        }
    }
    walk(&mut value, keys);
    value
}

/// Copies a folder.
pub(crate) fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The amounts of the charges of a name, in order.
pub(crate) fn charges(costed: &Costed, name: &str) -> Vec<String> {
    let all = costed.landed.charges.iter().filter(|charge| charge.name == name);
    all.map(|charge| charge.amount().to_string()).collect()
}

/// The entered value of each line of each customs entry, in order.
pub(crate) fn entered(costed: &Costed) -> Vec<String> {
    let lines = costed.landed.entries.iter().flat_map(|entry| &entry.lines);
    lines.map(|line| line.entered.to_string()).collect()
}

/// The rows of a table of rates by name, those under a `[[quote]]` with the keys of its head.
pub(crate) fn rows(text: &str) -> Vec<(String, toml::Table)> {
    let table: toml::Table = text.parse().unwrap();
    let mut all = Vec::new();
    for (name, rows) in &table {
        for row in rows.as_array().into_iter().flatten() {
            let row = row.as_table().unwrap();
            if name != "quote" {
                all.push((name.clone(), row.clone()));
                continue;
            }
            // What is a list of a road's own.
            let own = ["axles", "gross"];
            let is_kind = |(key, value): &(&String, &toml::Value)| {
                let mut rows = value.as_array().into_iter().flatten();
                !own.contains(&key.as_str()) && rows.any(toml::Value::is_table)
            };
            let (kinds, head): (Vec<_>, Vec<_>) = row.iter().partition(is_kind);
            for (kind, own) in kinds {
                for own in own.as_array().into_iter().flatten().filter_map(toml::Value::as_table) {
                    let mut whole: toml::Table = head
                        .iter()
                        .map(|(key, value)| ((*key).clone(), (*value).clone()))
                        .collect();
                    whole.extend(own.clone());
                    all.push((kind.clone(), whole));
                }
            }
        }
    }
    all
}

/// How much a test draws: as much as `QUAYSTONE_DRAWN` says, else its usual number.
pub(crate) fn drawn(usual: u64) -> u64 {
    std::env::var("QUAYSTONE_DRAWN").map_or(usual, |count| count.parse().unwrap())
}
