//! The schemas of the files: their keys are those of the reference, the committed ones are those that the program
//! prints, and what a validator needs to try them on every file of the demo and every case of a fault is laid ready.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use quaystone::read;
use serde_json::{Value, json};

use crate::cases::Case;
use crate::common::{demo, run, stdout};
use crate::faults::all_cases;
use crate::reference::keys_of;

/// The keys of a schema, by the dotted path of their table.
fn keys(schema: &Value, path: &str, all: &mut BTreeMap<String, BTreeSet<String>>) {
    for form in schema["anyOf"].as_array().into_iter().flatten() {
        keys(form, path, all);
    }
    keys_in(&schema["items"], path, all);
    keys_in(schema, path, all);
}

fn keys_in(table: &Value, path: &str, all: &mut BTreeMap<String, BTreeSet<String>>) {
    let Some(properties) = table["properties"].as_object() else { return };
    for (key, inner) in properties {
        all.entry(path.to_owned()).or_default().insert(key.clone());
        let path = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
        keys(inner, &path, all);
    }
}

/// Whatever the reference lists, which is proven to be what the reader takes, stands in the schema of its file.
#[test]
fn the_schemas_hold_the_keys_of_the_reference() {
    let mut of_schemas: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for name in read::schemas() {
        keys(&read::schema(name).unwrap(), "", &mut of_schemas);
    }
    for readme in ["rates/README.md", "shipments/README.md", "books/README.md"] {
        for (path, listed) in keys_of(readme) {
            let known = of_schemas.get(&path).unwrap_or_else(|| panic!("no schema has {path}"));
            let lacking: Vec<&String> = listed.difference(known).collect();
            assert!(lacking.is_empty(), "{path} lacks {lacking:?}");
        }
    }
}

#[test]
fn the_committed_schemas_are_those_that_are_printed() {
    for name in read::schemas() {
        let path = demo().join(format!("rates/schemas/{name}.json"));
        let printed = stdout(&demo(), &["schema", name]);
        if std::env::var_os("QUAYSTONE_UPDATE").is_some() {
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(&path, &printed).unwrap();
        }
        let kept = fs::read_to_string(&path).unwrap_or_default();
        assert!(kept == printed, "{name}: QUAYSTONE_UPDATE=1 cargo test --test suite schema::");
    }
    let output = run(&demo(), &["schema", "wharf"]);
    assert_eq!(output.status.code(), Some(2));
}

/// A TOML text as a validator of JSON sees it: dates as text.
fn as_json(text: &str) -> Option<Value> {
    fn plain(value: toml::Value) -> Value {
        match value {
            toml::Value::String(text) => json!(text),
            toml::Value::Integer(number) => json!(number),
            toml::Value::Float(number) => json!(number),
            toml::Value::Boolean(flag) => json!(flag),
            toml::Value::Datetime(date) => json!(date.to_string()),
            toml::Value::Array(list) => list.into_iter().map(plain).collect(),
            toml::Value::Table(table) => {
                table.into_iter().map(|(key, value)| (key, plain(value))).collect()
            }
        }
    }
    toml::from_str::<toml::Table>(text).ok().map(|table| plain(toml::Value::Table(table)))
}

/// The TOML files of a workspace that a schema is for, by the schema's name.
fn files(root: &Path) -> Vec<(String, PathBuf)> {
    let mut all = Vec::new();
    let mut folders = vec![root.join("rates"), root.join("shipments")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let parent = folder.file_name().unwrap().to_str().unwrap().to_owned();
            let stem = path.file_stem().unwrap().to_str().unwrap().to_owned();
            let known = read::schemas();
            let name = [parent, stem].into_iter().find(|name| known.contains(&name.as_str()));
            if let Some(name) = name.filter(|_| path.extension().is_some_and(|one| one == "toml")) {
                all.push((name, path));
            }
        }
    }
    all.sort();
    all
}

/// The files that a case changes, as a validator sees them.
fn changed(case: &Case) -> Vec<(String, Value)> {
    let workspace = case.workspace();
    let start = if case.is_of_demo() { demo() } else { demo().join("tests/tiny") };
    let own = files(workspace.path()).into_iter().filter_map(|(name, path)| {
        let text = fs::read_to_string(&path).ok()?;
        let before = start.join(path.strip_prefix(workspace.path()).unwrap());
        (fs::read_to_string(before).ok()? != text).then_some((name, as_json(&text)?))
    });
    own.collect()
}

/// Lays ready what `tests/by_schema.py` has a validator look at that is not ours: every file of the demo, and the
/// files of every case of a fault that a schema can know of.
#[test]
fn what_a_validator_looks_at_is_laid_ready() {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("schema");
    let mut valid = Vec::new();
    for root in [demo(), demo().join("tests/tiny")] {
        for (name, path) in files(&root) {
            let value = as_json(&fs::read_to_string(&path).unwrap()).unwrap();
            valid.push(json!({ "file": path.strip_prefix(demo()).unwrap(), "schema": name, "value": value }));
        }
    }
    let codes = ["unknown-key", "wrong-type", "unknown-word", "bad-quantity", "missing-key"];
    let mut wrong = Vec::new();
    for case in all_cases() {
        let code = case.name.split(':').next().unwrap().to_owned();
        let is_error = case.stderr.contains(&format!("error[{code}]"));
        if !codes.contains(&code.as_str()) || !is_error {
            continue;
        }
        let files: Vec<Value> = changed(&case)
            .into_iter()
            .map(|(schema, value)| json!({ "schema": schema, "value": value }))
            .collect();
        if !files.is_empty() {
            wrong.push(json!({ "case": case.name, "code": code, "files": files }));
        }
    }
    assert!(valid.len() > 40 && wrong.len() > 60, "{} valid, {} wrong", valid.len(), wrong.len());
    fs::create_dir_all(&out).unwrap();
    fs::write(out.join("tried.json"), json!({ "valid": valid, "wrong": wrong }).to_string())
        .unwrap();
}
