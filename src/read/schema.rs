//! What each TOML file may hold, as a JSON Schema: an editor completes keys by it and marks slips.
//!
//! Nobody keeps it by hand. The reader itself is asked: it walks over a file that has nothing but empty tables, each
//! table that it asks for is put in, and so on until it asks for no more. So a key that the reader takes is in the
//! schema, with the words and the form that the reader has for it, and no other.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::rc::Rc;

use serde_json::{Map, Value, json};

use super::answers;
use super::books;
use super::keys::Names;
use super::plan;
use super::shipment;
use super::sweep;
use super::table::{Ask, Asks, Holds, parse_asking};
use super::tables;
use crate::fault::{Source, tried};
use crate::trade::Tariffs;

/// The files that a schema can be had of: tables of `rates/` by their names, `shipment`, `plan`, `sweep`, `events`, and `import`,
/// which keeps what was answered for a supplier's lists.
pub fn schemas() -> Vec<&'static str> {
    tables::names().chain(OF_SHIPMENTS).collect()
}

/// The schema of one of [`schemas`], in draft 7 of JSON Schema. `None`: there is no such file.
pub fn schema(name: &str) -> Option<Value> {
    let asks = asked(name)?;
    let mut top = of_table("", &asks);
    if let Value::Object(map) = &mut top {
        map.insert("$schema".to_owned(), json!("http://json-schema.org/draft-07/schema#"));
        let file = match name {
            "import" => "SUPPLIER.import.toml".to_owned(),
            _ if is_shipments(name) => format!("{name}.toml"),
            _ => format!("rates/{name}.toml"),
        };
        map.insert("title".to_owned(), json!(file));
    }
    Some(top)
}

/// The files beside the tables.
const OF_SHIPMENTS: [&str; 5] = ["shipment", "plan", "events", "import", "sweep"];

fn is_shipments(name: &str) -> bool {
    OF_SHIPMENTS.contains(&name)
}

/// All that the reader asks of a file, as the tables that it asks for are put in.
fn asked(name: &str) -> Option<Asks> {
    let asks = Rc::new(RefCell::new(Asks::new()));
    let mut known = 0;
    loop {
        let text = empty_tables(&asks.borrow());
        walk(name, &text, &asks)?;
        let now = asks.borrow().values().map(|ask| ask.holds.len()).sum();
        if now == known {
            break;
        }
        known = now;
    }
    Some(with_heads(asks.take()))
}

/// The tables inside of rows under a `[[quote]]` may stand in its head, too: `quote.rig.tractor` as `quote.tractor`.
fn with_heads(mut asks: Asks) -> Asks {
    let of_rows = asks.iter().filter_map(|((path, key), ask)| {
        let (_, inside) = path.strip_prefix("quote.")?.split_once('.')?;
        Some(((format!("quote.{inside}"), *key), ask.clone()))
    });
    for (at, ask) in of_rows.collect::<Vec<_>>() {
        asks.entry(at).or_insert(ask);
    }
    asks
}

/// Has the reader walk over a text. Its faults are dropped.
fn walk(name: &str, text: &str, asks: &Rc<RefCell<Asks>>) -> Option<()> {
    let source = Source::new("schema", text.to_owned());
    let asks = Some(Rc::clone(asks));
    let fill = tables::fill_of(name);
    if fill.is_none() && !is_shipments(name) {
        return None;
    }
    let _ = tried(|report| {
        parse_asking(&source, asks, report, |top, report| {
            match (fill, name) {
                (Some(fill), _) => fill(top, &mut Tariffs::default(), &Names::default(), report),
                (None, "events") => drop(books::events_of(top, ("", None), report)),
                (None, "plan") => drop(plan::plan(top, None, report)),
                (None, "sweep") => drop(sweep::ranges(top, report)),
                (None, "import") => drop(answers::walk(top, report)),
                (None, _) => shipment::ask(top, NAME, report),
            }
            Ok(())
        })
    });
    Some(())
}

/// The name of every row that has one, so that a way finds the lines that it is laid over.
const NAME: &str = "a";

/// A file that has every table asked for, each with no more than its name. Those that lead to others come first.
fn empty_tables(asks: &Asks) -> String {
    let mut paths: Vec<(String, bool)> = Vec::new();
    for ((path, key), ask) in asks {
        let own = joined(path, key);
        if ask.holds.contains(&Holds::Rows) {
            paths.push((own, true));
        } else if ask.holds.contains(&Holds::Table) {
            paths.push((own, false));
        }
    }
    paths.sort();
    let mut text = String::new();
    for (path, is_array) in paths {
        let _ = if is_array { writeln!(text, "[[{path}]]") } else { writeln!(text, "[{path}]") };
        if asks.contains_key(&(path, "id")) {
            let _ = writeln!(text, "id = \"{NAME}\"");
        }
    }
    text
}

fn joined(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

/// The schema of a table, by its path.
fn of_table(path: &str, asks: &Asks) -> Value {
    let own = asks.iter().filter(|((at, _), _)| at == path);
    let mut properties = Map::new();
    let mut needed = BTreeSet::new();
    for ((_, key), ask) in own {
        properties.insert((*key).to_owned(), of_key(path, key, ask, asks));
        if ask.is_needed {
            needed.insert(*key);
        }
    }
    let mut table = BTreeMap::from([
        ("type", json!("object")),
        ("additionalProperties", json!(false)),
        ("properties", Value::Object(properties)),
    ]);
    if !needed.is_empty() {
        table.insert("required", json!(needed));
    }
    json!(table)
}

/// The schema of what a key may hold: one of several forms, where it has several.
fn of_key(path: &str, key: &str, ask: &Ask, asks: &Asks) -> Value {
    let one = |holds: &Holds| {
        let text = |pattern: &str| json!({ "type": "string", "pattern": pattern });
        match holds {
            Holds::Written(form, pattern) => written(form, pattern.as_deref()),
            Holds::Each(form, pattern) => json!({
                "type": "object",
                "minProperties": 1,
                "additionalProperties": written(form, pattern.as_deref()),
            }),
            // What must be there must say something.
            Holds::Text if ask.is_needed => text(r"\S"),
            Holds::Text => json!({ "type": "string" }),
            Holds::Word(words) => json!({ "enum": words }),
            Holds::Words(words) => json!({ "type": "array", "items": { "enum": words } }),
            Holds::Texts => json!({ "type": "array", "items": { "type": "string" } }),
            Holds::Flag => json!({ "type": "boolean" }),
            Holds::Count => json!({ "type": "integer", "minimum": 0 }),
            Holds::Date => text(DAY),
            Holds::Dates => json!({ "type": "array", "items": text(DAY) }),
            Holds::Table => of_table(&joined(path, key), asks),
            Holds::Rows => json!({ "type": "array", "items": of_table(&joined(path, key), asks) }),
        }
    };
    match &ask.holds[..] {
        [only] => one(only),
        several => json!({ "anyOf": several.iter().map(one).collect::<Vec<_>>() }),
    }
}

/// The schema of a quantity.
fn written(form: &str, pattern: Option<&str>) -> Value {
    match pattern {
        Some(pattern) => json!({ "type": "string", "pattern": pattern, "description": form }),
        None => json!({ "type": "string", "description": form }),
    }
}

/// A date as it is written bare: editors take it for text.
const DAY: &str = r"^\d{4}-\d{2}-\d{2}$";
