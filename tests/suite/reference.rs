//! What the pages say is so: the two references list every key that the reader takes, and no other; the
//! README's commands run; the map names what is there.
//!
//! The keys are asked of the reader itself: it names the keys it knows wherever it meets one that it does
//! not. So a stranger is put into every table, once beside each example of the reference.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use quaystone::fault::{Code, Report, Severity};
use quaystone::read::{self, Workspace};
use quaystone::trade::Tariffs;

use crate::common::{Tiny, demo, run};
use crate::figures::figures;

/// Like no key, so that none is meant by it.
const STRANGER: &str = "zzzzzzzzzzzzzzzzzzzzzzzz";

/// A table of the reference, by the keys that lead to it: "invoice.line".
#[derive(Debug, Default, Clone)]
struct Table {
    /// Whether there may be several: `[[invoice.line]]`.
    is_array: bool,
    /// The file it is in.
    file: String,
    rows: Vec<Row>,
}

#[derive(Debug, Clone)]
struct Row {
    key: String,
    /// What kind of value it takes.
    kind: String,
    is_needed: bool,
    /// The assignments of its example.
    example: Vec<(String, String)>,
    /// The key that it stands in the place of.
    instead_of: Option<String>,
    /// The header forms of a column.
    headers: Vec<String>,
}

type Tables = BTreeMap<String, Table>;

fn ends_in(name: &str, ending: &str) -> bool {
    Path::new(name).extension().is_some_and(|own| own == ending)
}

/// What stands between backquotes.
fn quoted(text: &str) -> Vec<&str> {
    text.split('`').skip(1).step_by(2).collect()
}

fn text_of(readme: &str) -> String {
    fs::read_to_string(demo().join(readme)).unwrap()
}

/// The tables of a reference.
fn tables(readme: &str) -> Tables {
    let mut all = Tables::new();
    let (mut file, mut open) = (String::new(), Vec::new());
    for line in text_of(readme).lines() {
        if line.starts_with('#') {
            open.clear();
            let names = quoted(line);
            if line.starts_with("## ") {
                file = names.first().map_or_else(String::new, |name| (*name).to_owned());
            }
            for name in names {
                let is_file = ends_in(name, "toml") || ends_in(name, "csv");
                if is_file && line.starts_with("## ") && !ends_in(name, "csv") {
                    continue;
                }
                let path = if is_file { "" } else { name.trim_matches(['[', ']']) };
                let path = if ends_in(name, "csv") { name } else { path };
                let table = all.entry(path.to_owned()).or_default();
                table.is_array |= name.starts_with("[[");
                if !file.is_empty() {
                    table.file.clone_from(&file);
                }
                open.push(path.to_owned());
            }
        }
        let Some(cells) = line.strip_prefix("| `") else { continue };
        let cells = format!("`{cells}");
        let cells: Vec<&str> = cells.trim_end_matches('|').split(" | ").map(str::trim).collect();
        let [key, kind, default, example, rest @ ..] = &cells[..] else { panic!("{line}") };
        let key = quoted(key)[0].to_owned();
        let assigned = quoted(example).into_iter().filter_map(|one| one.split_once(" = "));
        let row = Row {
            is_needed: default.starts_with("needed"),
            example: assigned.map(|(key, value)| (key.to_owned(), value.to_owned())).collect(),
            instead_of: [default, example].iter().find_map(|cell| {
                let (_, other) = cell.split_once("instead of ")?;
                Some(quoted(other)[0].to_owned())
            }),
            kind: (*kind).to_owned(),
            headers: rest[0].split(',').map(|one| one.trim().to_owned()).collect(),
            key,
        };
        for path in &open {
            all.get_mut(path).unwrap().rows.push(row.clone());
        }
    }
    all
}

/// The keys that a reference lists for the tables of TOML files, by the keys that lead to each.
pub(crate) fn keys_of(readme: &str) -> BTreeMap<String, BTreeSet<String>> {
    let tables = tables(readme);
    let own = tables.into_iter().filter(|(_, table)| ends_in(&table.file, "toml"));
    own.map(|(path, table)| (path, table.rows.into_iter().map(|row| row.key).collect())).collect()
}

/// The blocks of a reference, by the file that each is.
fn blocks(readme: &str) -> Vec<(String, String)> {
    let text = text_of(readme);
    let mut all = Vec::new();
    let mut lines = text.lines();
    let mut named = "";
    while let Some(line) = lines.next() {
        if line.starts_with("```") {
            let inside: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
            all.push((named.to_owned(), inside.join("\n") + "\n"));
        } else if !line.is_empty() {
            named = line.trim_matches(['`', ':']);
        }
    }
    all
}

fn write(file: &Path, text: &str) {
    fs::create_dir_all(file.parent().unwrap()).unwrap();
    fs::write(file, text).unwrap();
}

/// A TOML text with an example in it: which line is of which example.
#[derive(Default)]
struct Text {
    text: String,
    examples: BTreeMap<usize, (String, String)>,
    strangers: BTreeMap<usize, String>,
    with_strangers: bool,
}

impl Text {
    /// A file of tables: its own keys are their names.
    fn begun(with_strangers: bool) -> Self {
        let mut text = Self { with_strangers, ..Self::default() };
        if with_strangers {
            let line = text.line(&format!("{STRANGER} = 0"));
            text.strangers.insert(line, String::new());
        }
        text
    }

    fn line(&mut self, line: &str) -> usize {
        writeln!(self.text, "{line}").unwrap();
        self.text.lines().count()
    }

    /// Writes a table with its needed keys and those of a row's example, and the tables that lead to it.
    fn example(&mut self, tables: &Tables, path: &str, row: Option<&Row>) {
        let steps: Vec<&str> = path.split('.').filter(|step| !step.is_empty()).collect();
        let mut at = String::new();
        for depth in 0..=steps.len() {
            let table = &tables.get(&at).filter(|table| depth > 0 || !table.rows.is_empty());
            let next = steps.get(depth).copied();
            if let Some(table) = table {
                self.table(tables, table, &at, row.filter(|_| next.is_none()), next);
            }
            let Some(next) = next else { break };
            at = if at.is_empty() { next.to_owned() } else { format!("{at}.{next}") };
        }
    }

    fn table(
        &mut self,
        tables: &Tables,
        table: &Table,
        path: &str,
        row: Option<&Row>,
        next: Option<&str>,
    ) {
        if !path.is_empty() {
            self.line(&if table.is_array { format!("[[{path}]]") } else { format!("[{path}]") });
        }
        if self.with_strangers {
            let line = self.line(&format!("{STRANGER} = 0"));
            self.strangers.insert(line, path.to_owned());
        }
        let own = row.map_or(&[][..], |row| &row.example[..]);
        for (key, value) in own {
            let line = self.line(&format!("{key} = {value}"));
            let of = row.unwrap().key.clone();
            self.examples.insert(line, (path.to_owned(), of));
        }
        let mut inside = Vec::new();
        for base in table.rows.iter().filter(|base| base.is_needed) {
            let is_there = own.iter().any(|(key, _)| *key == base.key)
                || next == Some(&base.key)
                || row.is_some_and(|row| row.instead_of.as_ref() == Some(&base.key));
            if is_there {
                continue;
            }
            match base.example.iter().find(|(key, _)| *key == base.key) {
                Some((key, value)) => {
                    let line = self.line(&format!("{key} = {value}"));
                    if row.is_none() && next.is_none() {
                        self.examples.insert(line, (path.to_owned(), key.clone()));
                    }
                }
                None => inside.push(if path.is_empty() {
                    base.key.clone()
                } else {
                    format!("{path}.{}", base.key)
                }),
            }
        }
        // Needed tables inside come after the keys, as TOML has it, and before what leads on.
        for path in inside {
            let table = tables.get(&path);
            let table = table.unwrap_or_else(|| panic!("{path} is needed and has no example"));
            self.table(tables, table, &path, None, None);
        }
    }
}

/// Says which examples a report finds unreadable, and which keys it knows beside the strangers.
struct Heard {
    wrong: String,
    known: BTreeMap<String, BTreeSet<String>>,
    /// What is told of the line of an example, by its table and key.
    told: BTreeMap<(String, String), BTreeSet<String>>,
}

impl Heard {
    fn new() -> Self {
        Self { wrong: String::new(), known: BTreeMap::new(), told: BTreeMap::new() }
    }

    fn take(&mut self, report: &Report, file: &str, text: &Text) {
        for fault in report.sorted() {
            let Some((place, label)) = &fault.place else { continue };
            if *place.file != *file {
                continue;
            }
            if fault.code == Code::UnknownKey
                && let Some(path) = text.strangers.get(&place.line)
            {
                let known = fault.help[0].strip_prefix("known here: ").unwrap();
                let known = known.split(", ").filter(|key| !key.is_empty()).map(str::to_owned);
                self.known.entry(path.clone()).or_default().extend(known);
                continue;
            }
            if let Some(example) = text.examples.get(&place.line)
                && fault.severity == Severity::Error
            {
                let words = format!("{}: {label} {}", fault.message, fault.help.join(" "));
                self.told.entry(example.clone()).or_default().insert(words);
            }
            let is_unread = matches!(
                fault.code,
                Code::UnknownKey
                    | Code::WrongType
                    | Code::BadQuantity
                    | Code::UnknownWord
                    | Code::MissingKey
                    | Code::OutOfRange
                    | Code::Contradiction
                    | Code::BadSyntax
            );
            if let Some((path, key)) = text.examples.get(&place.line).filter(|_| is_unread) {
                let Heard { wrong, .. } = self;
                writeln!(wrong, "{path}.{key}: {} ({label})", fault.message).unwrap();
            }
        }
    }
}

/// Every example of `rates/README.md`, a file for each table; read in one go.
fn hear_rates(with_strangers: bool) -> Heard {
    hear_rates_with(&tables("rates/README.md"), with_strangers)
}

/// The same of examples that were changed.
fn hear_rates_with(changed: &Tables, with_strangers: bool) -> Heard {
    fn file_of<'f>(files: &'f mut BTreeMap<String, Text>, file: &str, with: bool) -> &'f mut Text {
        files.entry(file.to_owned()).or_insert_with(|| Text::begun(with))
    }
    let tables = tables("rates/README.md");
    let mut files: BTreeMap<String, Text> = BTreeMap::new();
    for (path, table) in changed {
        if !table.is_array && !path.contains('.') {
            // Such a table stands once: all of its keys are needed.
            assert!(table.rows.iter().all(|row| row.is_needed), "{path}");
            file_of(&mut files, &table.file, with_strangers).example(changed, path, None);
            continue;
        }
        for row in table.rows.iter().filter(|row| !row.example.is_empty()) {
            // A quote stands in the file of its rows.
            let of_rows = changed.get(&row.key).filter(|_| path == "quote");
            let file = file_of(&mut files, &of_rows.unwrap_or(table).file, with_strangers);
            file.example(&tables, path, Some(row));
        }
    }
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir_all(folder.path().join("shipments")).unwrap();
    for (file, text) in &files {
        write(&folder.path().join("rates").join(file), &text.text);
    }
    let mut report = Report::new();
    let workspace = Workspace::at(folder.path(), &mut report).unwrap();
    read::tables(&workspace, &mut report);
    let mut heard = Heard::new();
    for (file, text) in &files {
        heard.take(&report, &format!("rates/{file}"), text);
    }
    heard
}

/// Every example of `shipments/README.md`, a shipment for each.
fn hear_shipments(with_strangers: bool) -> Heard {
    hear_shipments_with(&tables("shipments/README.md"), with_strangers)
}

/// The same of examples that were changed.
fn hear_shipments_with(changed: &Tables, with_strangers: bool) -> Heard {
    let tables = tables("shipments/README.md");
    let blocks = blocks("shipments/README.md");
    let (_, packing) = blocks.iter().find(|(name, _)| name.ends_with("packing.csv")).unwrap();
    let (_, shipment) = blocks.iter().find(|(name, _)| name.ends_with("shipment.toml")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut report = Report::new();
    fs::create_dir_all(folder.path().join("rates")).unwrap();
    fs::create_dir_all(folder.path().join("shipments")).unwrap();
    let tariffs = demo_tariffs();
    let workspace = Workspace::at(folder.path(), &mut report).unwrap();
    let mut heard = Heard::new();
    let toml = |path: &str| ends_in(&tables[path].file, "toml");
    for (path, table) in changed.iter().filter(|(path, _)| toml(path)) {
        for (at, row) in table.rows.iter().filter(|row| !row.example.is_empty()).enumerate() {
            let mut text = Text { with_strangers, ..Text::default() };
            let name = format!("{}-{at}", path.replace('.', "-"));
            let at = folder.path().join("shipments").join(&name);
            if table.file == "sweep.toml" {
                text.example(&tables_of(&tables, "sweep.toml"), path, Some(row));
                let file = at.join("sweep.toml");
                write(&file, &text.text);
                let mut report = Report::new();
                let _ = read::sweep(&file, &mut report);
                heard.take(&report, &file.display().to_string(), &text);
                continue;
            }
            write(&at.join("packing.csv"), packing);
            if table.file == "plan.toml" {
                let plan: Tables = tables_of(&tables, "plan.toml");
                text.example(&plan, path, Some(row));
                write(&at.join("shipment.toml"), shipment);
            } else {
                let own = tables_of(&tables, "shipment.toml");
                text.example(&own, path, Some(row));
            }
            write(&at.join(&table.file), &text.text);
            let mut report = Report::new();
            let _ = read::shipment(&workspace, &name, &tariffs, &mut report);
            heard.take(&report, &format!("shipments/{name}/{}", table.file), &text);
        }
    }
    heard
}

/// Every example of `books/README.md`, a file for each.
fn hear_books(with_strangers: bool) -> Heard {
    let tables = tables("books/README.md");
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir_all(folder.path().join("rates")).unwrap();
    fs::create_dir_all(folder.path().join("shipments")).unwrap();
    let mut heard = Heard::new();
    for (path, table) in &tables {
        for row in table.rows.iter().filter(|row| !row.example.is_empty()) {
            let mut text = Text { with_strangers, ..Text::default() };
            text.example(&tables, path, Some(row));
            write(&folder.path().join("books/yards/2026.toml"), &text.text);
            let mut report = Report::new();
            let workspace = Workspace::at(folder.path(), &mut report).unwrap();
            let _ = read::books(&workspace, &mut report);
            heard.take(&report, "books/yards/2026.toml", &text);
        }
    }
    heard
}

#[test]
fn the_reference_of_books_is_complete() {
    let wrong = compare("books/README.md", &hear_books(true).known);
    assert!(wrong.is_empty(), "{wrong}");
}

/// The tables of one file.
fn tables_of(tables: &Tables, file: &str) -> Tables {
    let own = tables.iter().filter(|(_, table)| table.file == file);
    own.map(|(path, table)| {
        let Table { is_array, file, rows } = table;
        let table = Table { is_array: *is_array, file: file.clone(), rows: rows.clone() };
        (path.clone(), table)
    })
    .collect()
}

fn demo_tariffs() -> Tariffs {
    let mut report = Report::new();
    let workspace = Workspace::at(&demo(), &mut report).unwrap();
    read::tables(&workspace, &mut report)
}

/// The keys that the reader knows against those of the reference.
fn compare(readme: &str, known: &BTreeMap<String, BTreeSet<String>>) -> String {
    let tables = tables(readme);
    let mut wrong = String::new();
    for (path, keys) in known {
        for key in keys {
            let inner = if path.is_empty() { key.clone() } else { format!("{path}.{key}") };
            let listed = |table: &Table| table.rows.iter().any(|row| row.key == *key);
            if !tables.contains_key(&inner) && !tables.get(path).is_some_and(listed) {
                writeln!(wrong, "{readme} leaves out `{key}` of [{path}]").unwrap();
            }
        }
    }
    for (path, table) in tables.iter().filter(|(_, table)| ends_in(&table.file, "toml")) {
        for row in &table.rows {
            if !known.get(path).is_some_and(|keys| keys.contains(&row.key)) {
                writeln!(wrong, "{readme} has `{}` of [{path}], which nobody reads", row.key)
                    .unwrap();
            }
        }
    }
    wrong
}

#[test]
fn the_reference_of_rates_is_complete() {
    let heard = hear_rates(true);
    let wrong = compare("rates/README.md", &heard.known);
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn the_reference_of_shipments_is_complete() {
    let heard = hear_shipments(true);
    let wrong = compare("shipments/README.md", &heard.known);
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn every_example_of_the_reference_is_read() {
    for heard in [hear_rates(false), hear_shipments(false), hear_books(false)] {
        assert!(heard.wrong.is_empty(), "{}", heard.wrong);
    }
}

/// The examples with another figure in place of the first, the second and so on of each value, and their keys.
/// A figure in a name is none, and the rows of a quote are those that stand alone elsewhere.
fn with_figure(tables: &Tables, rank: usize, new: &str) -> (Tables, BTreeSet<(String, String)>) {
    let mut keys = BTreeSet::new();
    let mut all = tables.clone();
    for (path, table) in all.iter_mut().filter(|(path, _)| *path != "quote") {
        for row in table.rows.iter_mut().filter(|row| {
            !["text", "name", "names", "slabs", "exact, whole"].contains(&row.kind.as_str())
        }) {
            let own = row.example.iter_mut().find(|(key, _)| *key == row.key);
            let Some((_, value)) = own else { continue };
            let Some((from, to)) = figures(value).get(rank).copied() else { continue };
            if value[..from].contains("source") {
                continue;
            }
            value.replace_range(from..to, new);
            keys.insert((path.clone(), row.key.clone()));
        }
    }
    (all, keys)
}

/// Every key that takes a figure, in every file, with a figure beyond any: one error at its line, which says
/// what would serve. Nothing and less than nothing are taken, or are one error, too.
#[test]
fn a_figure_beyond_its_range_is_one_error_at_its_key() {
    let beyond = format!("1{}", "0".repeat(27));
    let mut wrong = String::new();
    let mut seen = BTreeSet::new();
    for readme in ["rates/README.md", "shipments/README.md"] {
        let hear = if readme.starts_with("rates") { hear_rates_with } else { hear_shipments_with };
        for rank in 0..3 {
            let all = [&*beyond, "0", "-1"];
            // What is nothing or less is asked of the first figure alone.
            for new in all.into_iter().take(if rank == 0 { 3 } else { 1 }) {
                let (changed, keys) = with_figure(&tables(readme), rank, new);
                let told = hear(&changed, false).told;
                for key in keys {
                    let own: Vec<&String> = told.get(&key).into_iter().flatten().collect();
                    let says_what_serves = |words: &str| {
                        words.replace(&beyond, "").contains(|c: char| c.is_ascii_digit())
                    };
                    let is_right = match own[..] {
                        [] => new != beyond,
                        [one] => new != beyond || says_what_serves(one),
                        _ => false,
                    };
                    if !is_right {
                        writeln!(wrong, "{readme} {key:?} at {new}: {own:?}").unwrap();
                    }
                    seen.insert(key);
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(seen.len() > 120, "only {} keys take a figure", seen.len());
}

const FREEZE: [&str; 17] = [
    "percent",
    "base",
    "digest",
    "version",
    "proof",
    "table",
    "label",
    "text",
    "worked",
    "book",
    "planned",
    "row",
    "sharing",
    "moves-no-money",
    "payee",
    "shipment",
    "owed",
];

/// A key that is asked for on a way that no example leads to would be known to nobody.
#[test]
fn every_key_in_the_readers_code_stands_in_the_reference() {
    let listed: BTreeSet<String> = ["rates/README.md", "shipments/README.md", "books/README.md"]
        .iter()
        .flat_map(|readme| tables(readme))
        .flat_map(|(path, table)| {
            let last = path.rsplit('.').next().unwrap_or("").to_owned();
            table.rows.into_iter().map(|row| row.key).chain([last])
        })
        // Of the file that `import` itself keeps, which is told in words.
        .chain(["column".to_owned()])
        // Of the booked estimate, which the program alone writes.
        .chain(FREEZE.map(str::to_owned))
        .collect();
    let asks = [
        "optional",
        "required",
        "text",
        "required_text",
        "word",
        "required_word",
        "flag",
        "count",
        "date",
        "dates",
        "required_date",
        "texts",
        "text_or_texts",
        "inside",
        "rows",
        "each",
        "name",
        "required_name",
        "countries",
        "legs",
        "lengths",
        "bond",
        "due_rule",
        "end",
    ];
    let mut wrong = String::new();
    let mut folders = vec![demo().join("src/read")];
    let mut found = BTreeSet::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path: PathBuf = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let text = fs::read_to_string(&path).unwrap();
            let code = text.split("#[cfg(test)]").next().unwrap();
            for (at, _) in code.match_indices('"') {
                let key = code[at + 1..].split('"').next().unwrap();
                let is_key = !key.is_empty()
                    && key.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'-');
                let Some((before, given)) = code[..at].rsplit_once('(').filter(|_| is_key) else {
                    continue;
                };
                // The key is the first thing given, or the second after the table.
                let given = given.trim();
                let is_first = given.is_empty()
                    || (given.ends_with(',')
                        && given.trim_matches(['&', ',']).chars().all(char::is_alphanumeric));
                let before = before.strip_suffix('>').map_or(before, |generic| {
                    generic.rsplit_once("::<").map_or(before, |(name, _)| name)
                });
                let name =
                    before.rsplit(|c: char| !c.is_alphanumeric() && c != '_').next().unwrap();
                if is_first && asks.contains(&name) {
                    found.insert(key.to_owned());
                    if !listed.contains(key) {
                        writeln!(wrong, "{}: `{key}` stands in no reference", path.display())
                            .unwrap();
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(found.len() > 150, "only {} keys were found in the code", found.len());
}

#[test]
fn the_packing_list_of_the_reference_is_the_readers() {
    let tables = tables("shipments/README.md");
    let listed: Vec<Vec<String>> =
        tables["packing.csv"].rows.iter().map(|row| row.headers.clone()).collect();
    let mut understood: Vec<Vec<String>> = read::headers()
        .iter()
        .map(|names| names.iter().map(|name| (*name).to_owned()).collect())
        .collect();
    let mut sorted = listed.clone();
    sorted.sort();
    understood.sort();
    assert_eq!(sorted, understood);
}

/// The rows and the shipment of the reference are a workspace of their own, and fit the demo's rates.
#[test]
fn the_smallest_shipment_of_the_reference_costs() {
    for with_own_rates in [true, false] {
        let home = Tiny::of_demo("white-marble-spring");
        if with_own_rates {
            fs::remove_dir_all(home.path().join("rates")).unwrap();
            let files: BTreeSet<String> = blocks("rates/README.md")
                .into_iter()
                .map(|(name, text)| {
                    home.write(&name, &text);
                    name
                })
                .collect();
            assert_eq!(files.len(), 17, "{files:?}");
        }
        for (name, text) in blocks("shipments/README.md") {
            home.write(&name, &text);
        }
        let out = run(home.path(), &["cost", "first"]);
        let told = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(0), "{told}");
        let page = String::from_utf8_lossy(&out.stdout);
        // 280 x 180 cm = 5.04 m2, and so on: 5.04 + 5.058 + 4.9751 + 5.04 + 5.0478 + 5.068 = 30.2289 m2,
        // at 46.00 EUR a square metre 1,390.53 EUR.
        assert!(page.contains("1,390.53 EUR"), "{page}");
        let out = run(home.path(), &["check", "first"]);
        assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    }
}

/// A copy of the demo, to work in as a reader of the README does.
fn copy_of_the_demo() -> Tiny {
    let home = Tiny::of_demo("white-marble-spring");
    let listed = fs::read_dir(demo().join("shipments")).unwrap();
    for folder in listed.map(|entry| entry.unwrap().path()).filter(|path| path.is_dir()) {
        for file in fs::read_dir(&folder).unwrap() {
            let file = file.unwrap().path();
            let name = file.strip_prefix(demo()).unwrap().to_str().unwrap().to_owned();
            home.write(&name, &fs::read_to_string(&file).unwrap());
        }
    }
    home
}

fn called(home: &Path, args: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quaystone"));
    command.current_dir(home).args(args).output().unwrap()
}

/// The words of a command, as a shell parts them: what stands in double quotes is one.
fn words(line: &str) -> Vec<String> {
    let (mut all, mut is_quoted) = (vec![String::new()], false);
    for c in line.chars() {
        match c {
            '"' => is_quoted = !is_quoted,
            ' ' if !is_quoted => all.push(String::new()),
            other => all.last_mut().unwrap().push(other),
        }
    }
    all.retain(|word| !word.is_empty());
    all
}

#[test]
fn the_monday_of_the_readme_is_as_it_says() {
    let home = copy_of_the_demo();
    let readme = text_of("README.md");
    let monday = readme.split("## A Monday").nth(1).unwrap().split("\n## ").next().unwrap();
    let lines = monday.lines().filter_map(|line| line.strip_prefix("    quaystone "));
    let mut run = 0;
    for line in lines {
        let args = words(line.split('#').next().unwrap());
        let args: Vec<&str> = args.iter().map(String::as_str).collect();
        let out = called(home.path(), &args);
        let told = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(0), "{line}: {told}");
        assert!(!out.stdout.is_empty(), "{line}");
        if args.ends_with(&["--freeze"]) {
            // The plan of somebody else, for the line that judges one.
            let kept = home.path().join("shipments/white-marble-spring/plan.toml");
            fs::copy(kept, home.path().join("theirs.toml")).unwrap();
        }
        run += 1;
    }
    assert!(run >= 12, "only {run} lines were run");
}

#[test]
fn ones_own_first_shipment_is_made_as_the_readme_says() {
    let home = tempfile::tempdir().unwrap();
    let out = called(home.path(), &["init", "ours", "--regime", "us", "--quoted", "2026-03-04"]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    let ours = home.path().join("ours");
    let cost = |commands: &[&[&str]]| {
        for args in commands {
            let out = called(&ours, args);
            assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
        }
    };
    cost(&[&["cost", "first"]]);
    let blocks = blocks("shipments/README.md");
    let (name, packing) = blocks.iter().find(|(name, _)| name.ends_with("packing.csv")).unwrap();
    assert_eq!(name, "shipments/first/packing.csv");
    fs::write(ours.join(name), packing).unwrap();
    cost(&[&["check", "first"], &["cost", "first"], &["rates", "--starter"]]);
}

#[test]
fn a_frozen_load_lands_where_the_shipment_is_read() {
    let home = Tiny::of_demo("white-marble-spring");
    let plan = home.path().join("shipments/white-marble-spring/plan.toml");
    let out = run(home.path(), &["load", "white-marble-spring", "--freeze"]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    assert!(plan.is_file());
    // It is read from now on: a box that is emptied by hand is missed.
    let text = fs::read_to_string(&plan).unwrap();
    fs::write(&plan, text.split("\n[[container]]").next().unwrap()).unwrap();
    let out = run(home.path(), &["load", "white-marble-spring"]);
    assert_ne!(out.status.code(), Some(0));
    // A second time it would be overwritten, and only --force does that.
    fs::write(&plan, text).unwrap();
    let out = run(home.path(), &["load", "white-marble-spring", "--freeze"]);
    assert_eq!(out.status.code(), Some(4), "{}", String::from_utf8_lossy(&out.stderr));
    let out = run(home.path(), &["load", "white-marble-spring", "--freeze", "--force"]);
    assert_eq!(out.status.code(), Some(0), "{}", String::from_utf8_lossy(&out.stderr));
    let out = run(home.path(), &["load", "nowhere", "--freeze"]);
    assert_eq!(out.status.code(), Some(1));
}

#[test]
fn the_breakdown_asked_for_is_in_the_json() {
    let home = Tiny::of_demo("white-marble-spring");
    let json = |by: &str| -> serde_json::Value {
        let args = ["cost", "white-marble-spring", "--as", "json", "--by", by];
        serde_json::from_slice(&run(home.path(), &args).stdout).unwrap()
    };
    let whole = json("slab");
    assert!(whole.get("parts").is_none());
    let cents = |amount: &serde_json::Value| -> i64 {
        amount.as_str().unwrap().replace('.', "").parse().unwrap()
    };
    for (by, count) in [("bundle", 8), ("container", 2), ("line", 2)] {
        let parts = json(by)["parts"].as_array().unwrap().clone();
        assert_eq!(parts.len(), count, "{by}");
        assert!(parts.iter().all(|part| part[by].is_string()), "{by}");
        let slabs: u64 = parts.iter().map(|part| part["slabs"].as_u64().unwrap()).sum();
        assert_eq!(slabs, 72, "{by}");
        let sum: i64 = parts.iter().map(|part| cents(&part["cost"])).sum();
        assert_eq!(sum, cents(&whole["total"]), "{by}");
    }
}

#[test]
fn the_map_names_what_is_there() {
    let map = text_of("DEVELOPERS.md");
    assert!(map.lines().count() <= 200, "{} lines", map.lines().count());
    let home = demo();
    for page in
        ["README.md", "DEVELOPERS.md", "rates/README.md", "shipments/README.md", "books/README.md"]
    {
        let text = text_of(page);
        for link in text.split("](").skip(1).map(|rest| rest.split([')', '#']).next().unwrap()) {
            let from = home.join(page).parent().unwrap().join(link);
            assert!(link.starts_with("http") || from.exists(), "{page} leads to {link}");
        }
        if page != "DEVELOPERS.md" {
            assert!(!text.contains("DEVELOPERS"), "{page} leads away from the file format");
        }
    }
    for name in quoted(&map).into_iter().filter(|name| ends_in(name, "rs") || name.ends_with('/')) {
        let near = ["", "src", "src/read", "src/load", "src/load/engine", "tests/suite"];
        assert!(near.iter().any(|folder| home.join(folder).join(name).exists()), "{name}");
    }
    for entry in fs::read_dir(home.join("src")).unwrap() {
        let path = entry.unwrap().path();
        let room = path.file_name().unwrap().to_str().unwrap();
        let is_listed = map.contains(&format!("| `{room}/` |")) || path.is_file();
        assert!(is_listed, "the map leaves out {room}/");
    }
}

#[test]
fn options_of_the_readme_are_those_of_the_help() {
    let help = called(&demo(), &["--help"]);
    let help = String::from_utf8(help.stdout).unwrap();
    let readme = text_of("README.md");
    for line in readme.lines().filter_map(|line| line.strip_prefix("| `--")) {
        let option = line.split([' ', '`']).next().unwrap();
        assert!(help.contains(&format!("--{option} ")), "--{option}");
    }
    for page in ["rates/README.md", "shipments/README.md"] {
        assert!(help.contains(page), "the help does not lead to {page}");
    }
}
