//! Cases kept as text: a workspace, what is changed in it, a command line, and what must come of it.
//!
//! `tests/faults/` holds a file of cases for each code of a fault, `tests/mistakes.txt` the mistakes that
//! people make. A case is written like this:
//!
//! ```text
//! # Why the case is there. Left out where the name says it.
//! case: term
//! run: load plain --check
//! start: demo
//! remove: rates/calendars.toml
//! copy: shipments/plain -> shipments/other
//! edit: shipments/plain/shipment.toml
//! = [[invoice]]
//! - term = "FOB TRIZM"
//! + term = "FOBB TRIZM"
//! file: shipments/plain/plan.toml
//! | [[container]]
//! bytes: shipments/plain/packing.csv
//! | slab,bundle\r\n
//! exit: 1
//! | error[bad-quantity]: ...
//! ```
//!
//! - `run` is the command line, an argument with blanks in quotes; left out: `cost plain`.
//! - `start` is the workspace that is copied: `tiny` (`tests/tiny` with its shipment `plain` alone; left out:
//!   this one) or `demo`.
//! - `remove` takes a file or a folder away. `copy` copies a folder.
//! - `edit` finds lines and changes them: `=` stays, `-` goes, `+` comes. The lines with `=` and `-` must
//!   stand together in the file, exactly once. Another `edit` of the same file looks at what the first left.
//! - `file` is a small file, whole.
//! - `bytes` is a file whose bytes matter: `\n`, `\r`, `\t`, `\\` and `\x00` are written out, and nothing is
//!   added at the end of a line.
//! - `exit` is the exit code, and the lines below it are the whole of stderr.
//!
//! Instead of stderr, a mistake lists words that the message must hold, `says: is FOB meant?`, how well the
//! message helps, `score: 3`, and, above `exit`, how many errors it may make, `most: 2` (left out: one).
//! What is done to the workspace is done in the order written.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use crate::common::{copy, demo};

/// One case, as it is written.
pub(crate) struct Case {
    /// The file of cases that it stands in, without its ending, and the case's name.
    pub(crate) name: String,
    /// The lines above `exit`, as they are written.
    head: Vec<String>,
    /// The command line.
    pub(crate) args: Vec<String>,
    start: Start,
    steps: Vec<Step>,
    /// The exit code that is expected.
    pub(crate) exit: String,
    /// The whole of stderr that is expected.
    pub(crate) stderr: String,
    /// Words that the message must hold.
    pub(crate) says: Vec<String>,
    /// How well the message helps, from 0 to 3, as a reader scored it.
    pub(crate) score: Option<u8>,
    /// How many errors the mistake may make: one, unless it says otherwise.
    pub(crate) most: usize,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Start {
    Tiny,
    Demo,
}

enum Step {
    Remove(String),
    Copy { from: String, to: String },
    Edit { file: String, old: Vec<String>, new: Vec<String> },
    File { file: String, text: Vec<u8> },
}

/// What the lines below a word are added to.
enum Below {
    Nothing,
    Edit,
    File,
    Bytes,
    Stderr,
}

/// The cases of a file.
pub(crate) fn read(path: &Path) -> Vec<Case> {
    let group = path.file_stem().unwrap().to_str().unwrap();
    let text = fs::read_to_string(path).unwrap();
    let mut cases: Vec<Case> = Vec::new();
    let mut remarks = Vec::new();
    let mut below = Below::Nothing;
    for (number, line) in text.lines().enumerate() {
        let at = || format!("{}:{}: {line:?}", path.display(), number + 1);
        if let Some(name) = line.strip_prefix("case: ") {
            let mut head = std::mem::take(&mut remarks);
            head.push(line.to_owned());
            cases.push(Case::new(format!("{group}: {name}"), head));
            below = Below::Nothing;
            continue;
        }
        if line.is_empty() || line.starts_with('#') {
            remarks.push(line.to_owned());
            continue;
        }
        let case = cases.last_mut().unwrap_or_else(|| panic!("{}: no case yet", at()));
        below = case.take(line, below).unwrap_or_else(|| panic!("{} is not understood", at()));
        if !matches!(below, Below::Stderr) && !line.starts_with("says: ") {
            case.head.append(&mut remarks);
            case.head.push(line.to_owned());
        }
    }
    cases
}

/// Writes a file of cases anew, with what each case expects now.
pub(crate) fn write(path: &Path, cases: &[Case]) {
    let mut text = String::new();
    for case in cases {
        for line in &case.head {
            text += line;
            text.push('\n');
        }
        writeln!(text, "exit: {}", case.exit).unwrap();
        for line in case.stderr.lines() {
            text += format!("| {line}").trim_end();
            text.push('\n');
        }
    }
    fs::write(path, text).unwrap();
}

impl Case {
    fn new(name: String, head: Vec<String>) -> Self {
        Self {
            name,
            head,
            args: vec!["cost".to_owned(), "plain".to_owned()],
            start: Start::Tiny,
            steps: Vec::new(),
            exit: String::new(),
            stderr: String::new(),
            says: Vec::new(),
            score: None,
            most: 1,
        }
    }

    /// Takes one line in; what the next belongs to. Nothing where the line is not understood.
    fn take(&mut self, line: &str, below: Below) -> Option<Below> {
        let mark = line.chars().next()?;
        if "=-+|".contains(mark) {
            let rest = &line[1..];
            let rest = if rest.is_empty() { rest } else { rest.strip_prefix(' ')? };
            match (below, mark, self.steps.last_mut()) {
                (Below::Edit, mark, Some(Step::Edit { old, new, .. })) => {
                    if "=-".contains(mark) {
                        old.push(rest.to_owned());
                    }
                    if "=+".contains(mark) {
                        new.push(rest.to_owned());
                    }
                    (mark != '|').then_some(Below::Edit)
                }
                (Below::File, '|', Some(Step::File { text, .. })) => {
                    text.extend_from_slice(rest.as_bytes());
                    text.push(b'\n');
                    Some(Below::File)
                }
                (Below::Bytes, '|', Some(Step::File { text, .. })) => {
                    text.extend(unescaped(rest)?);
                    Some(Below::Bytes)
                }
                (Below::Stderr, '|', _) => {
                    self.stderr += rest;
                    self.stderr.push('\n');
                    Some(Below::Stderr)
                }
                _ => None,
            }
        } else {
            let (word, rest) = line.split_once(':')?;
            self.word(word, rest.trim())
        }
    }

    fn word(&mut self, word: &str, rest: &str) -> Option<Below> {
        let own = rest.to_owned();
        Some(match word {
            "run" => {
                // Every second part stands in quotes: one argument, blanks and all.
                let parts = rest.split('"').enumerate().flat_map(|(at, part)| match at % 2 {
                    0 => part.split_whitespace().collect(),
                    _ => vec![part],
                });
                self.args = parts.map(str::to_owned).collect();
                Below::Nothing
            }
            "start" => {
                self.start = match rest {
                    "tiny" => Start::Tiny,
                    "demo" => Start::Demo,
                    _ => return None,
                };
                Below::Nothing
            }
            "remove" => {
                self.steps.push(Step::Remove(own));
                Below::Nothing
            }
            "copy" => {
                let (from, to) = rest.split_once(" -> ")?;
                self.steps.push(Step::Copy { from: from.to_owned(), to: to.to_owned() });
                Below::Nothing
            }
            "edit" => {
                self.steps.push(Step::Edit { file: own, old: Vec::new(), new: Vec::new() });
                Below::Edit
            }
            "file" => {
                self.steps.push(Step::File { file: own, text: Vec::new() });
                Below::File
            }
            "bytes" => {
                self.steps.push(Step::File { file: own, text: Vec::new() });
                Below::Bytes
            }
            "exit" => {
                self.exit = own;
                Below::Stderr
            }
            "says" => {
                self.says.push(own);
                Below::Nothing
            }
            "most" => {
                self.most = rest.parse().ok()?;
                Below::Nothing
            }
            "score" => {
                self.score = Some(rest.parse().ok()?);
                Below::Nothing
            }
            _ => return None,
        })
    }

    /// Whether the demo is what it changes.
    pub(crate) fn is_of_demo(&self) -> bool {
        self.start == Start::Demo
    }

    /// The workspace of the case, in a folder of its own.
    pub(crate) fn workspace(&self) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        let from = if self.start == Start::Demo { demo() } else { demo().join("tests/tiny") };
        copy(&from.join("rates"), &root.join("rates"));
        // The cases are about one shipment; the others are there for the second reading.
        let shipments = if self.start == Start::Demo { "shipments" } else { "shipments/plain" };
        copy(&from.join(shipments), &root.join(shipments));
        for step in &self.steps {
            step.run(root).unwrap_or_else(|why| panic!("{}: {why}", self.name));
        }
        folder
    }
}

impl Step {
    fn run(&self, root: &Path) -> Result<(), String> {
        match self {
            Self::Remove(name) => {
                let gone = root.join(name);
                let done =
                    if gone.is_dir() { fs::remove_dir_all(gone) } else { fs::remove_file(gone) };
                done.map_err(|why| format!("remove {name}: {why}"))
            }
            Self::Copy { from, to } => {
                copy(&root.join(from), &root.join(to));
                Ok(())
            }
            Self::Edit { file, old, new } => {
                let text = fs::read_to_string(root.join(file))
                    .map_err(|why| format!("edit {file}: {why}"))?;
                let lines: Vec<&str> = text.lines().collect();
                let places: Vec<usize> =
                    (0..lines.len()).filter(|at| starts_with(&lines[*at..], old)).collect();
                let [at] = places[..] else {
                    let times = places.len();
                    return Err(format!(
                        "{file} holds these lines {times} times, not once: {old:#?}"
                    ));
                };
                let new = new.iter().map(String::as_str);
                let (above, below) = (&lines[..at], &lines[at + old.len()..]);
                let all = above.iter().copied().chain(new).chain(below.iter().copied());
                let text: String = all.flat_map(|line| [line, "\n"]).collect();
                fs::write(root.join(file), text).map_err(|why| why.to_string())
            }
            Self::File { file, text } => {
                let path = root.join(file);
                fs::create_dir_all(path.parent().unwrap()).map_err(|why| why.to_string())?;
                fs::write(path, text).map_err(|why| format!("{file}: {why}"))
            }
        }
    }
}

fn starts_with(lines: &[&str], old: &[String]) -> bool {
    !old.is_empty() && old.len() <= lines.len() && lines.iter().zip(old).all(|(a, b)| a == b)
}

/// The bytes that a line of `bytes` stands for.
fn unescaped(line: &str) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    let mut rest = line.chars();
    while let Some(c) = rest.next() {
        if c != '\\' {
            bytes.extend(c.to_string().bytes());
            continue;
        }
        bytes.push(match rest.next()? {
            'n' => b'\n',
            'r' => b'\r',
            't' => b'\t',
            '\\' => b'\\',
            'x' => u8::from_str_radix(&String::from_iter([rest.next()?, rest.next()?]), 16).ok()?,
            _ => return None,
        });
    }
    Some(bytes)
}

/// Runs the binary in a folder, as a newcomer would, on a terminal of 100 columns without colours.
pub(crate) fn quaystone<T: AsRef<std::ffi::OsStr>>(folder: &Path, args: &[T]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quaystone"))
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .env("COLUMNS", "100")
        .output()
        .unwrap()
}

/// Every file of a folder with its bytes.
pub(crate) fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    for path in entries(folder) {
        if path.is_dir() {
            all.extend(files(&path));
        } else {
            all.insert(path.clone(), fs::read(&path).unwrap());
        }
    }
    all
}

/// A folder's entries in order.
pub(crate) fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    all.sort();
    all
}
