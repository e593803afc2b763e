//! A workspace with files of a fuzzer's in it, read, costed and shown in every form.

use std::cell::RefCell;
use std::ffi::OsString;
use std::fs;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::Path;

use quaystone::cli;
use quaystone::fault::{Report, is_unseen, render};
use quaystone::import::{self, Answers};
use quaystone::read::{self, Workspace};
use quaystone::show;

#[allow(dead_code, reason = "what reads no workspace is not fuzzed")]
#[path = "../../suite/every.rs"]
mod every;

thread_local! {
    static TINY: RefCell<tempfile::TempDir> = RefCell::new(tempfile::tempdir().unwrap());
}

/// Puts files into a copy of `tests/tiny`, reads its shipment `plain`, and runs a command in a form on it: which of
/// all, the files say.
///
/// # Panics
/// Where a rule is broken: a shipment is neither read nor told why it is not, a mark that is not seen is written
/// as it is, or a command ends otherwise than one may.
pub fn run(files: &[(&str, &[u8])]) {
    TINY.with_borrow(|tiny| {
        copy(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../tiny"), tiny.path());
        for (name, text) in files {
            fs::write(tiny.path().join(name), text).unwrap();
        }
        let mut hash = DefaultHasher::new();
        files.hash(&mut hash);
        let at = usize::try_from(hash.finish() >> 32).unwrap();
        let (command, form) = (
            every::COMMANDS[at % every::COMMANDS.len()],
            every::FORMS[at / every::COMMANDS.len() % every::FORMS.len()],
        );
        reads(tiny.path());
        ends(tiny.path(), command, form);
        for folder in ["shipments", "books"] {
            let _ = fs::remove_dir_all(tiny.path().join(folder));
        }
    });
}

/// Reads a supplier's list.
///
/// # Panics
/// Where a list is refused without a fault, where the list read holds an invisible mark, and where it holds a
/// slab's number twice.
pub fn import(bytes: &[u8]) {
    let mut report = Report::new();
    // With an answer, more lists are read to their end.
    let mut answers = Answers { bundle: Some("B1".to_owned()), ..Answers::default() };
    answers.take_unit("cm").unwrap();
    let read = import::import("list", bytes, &answers, &mut report);
    let said = render(&report, false);
    assert!(read.is_ok() || !said.is_empty(), "no list and no fault");
    let Ok(read) = read else { return };
    let text = String::from_utf8(show::packing_csv(&read.clean)).unwrap();
    assert!(!text.contains(|c: char| c != '\n' && is_unseen(c)), "{text}");
    let mut names: Vec<_> = read.clean.rows.iter().map(|row| format!("{:?}", row.first())).collect();
    let all = names.len();
    names.sort();
    names.dedup();
    assert_eq!(names.len(), all, "a slab's number is in the list twice");
}

/// Reads the shipment.
fn reads(root: &Path) {
    let mut report = Report::new();
    let is_read = Workspace::at(root, &mut report).is_ok_and(|workspace| {
        let tariffs = read::tables(&workspace, &mut report);
        read::shipment(&workspace, "plain", &tariffs, &mut report).is_ok()
    });
    let said = render(&report, false);
    assert!(is_read || !said.is_empty(), "no shipment and no fault");
    assert!(!said.contains("mistake of the program"), "{said}");
    assert!(!said.contains(|c: char| c != '\n' && is_unseen(c)), "{said}");
}

/// Runs a command as the command line does, with its result in a file.
fn ends(root: &Path, command: &str, form: &str) {
    let result = root.join("result");
    let mut words: Vec<OsString> = vec!["quaystone".into(), "--dir".into(), root.into()];
    words.extend(every::words(command, "plain", "again").into_iter().map(OsString::from));
    words.extend(["--as", form, "--out"].map(OsString::from));
    words.push(result.clone().into());
    let code = cli::run(words);
    let text = fs::read(&result).map(|text| match form {
        // A workbook is no text.
        "xlsx" => String::new(),
        _ => String::from_utf8(text).unwrap(),
    });
    let _ = fs::remove_file(&result);
    match (code, &text) {
        (0, text) => assert!(text.is_ok(), "{command} is done and shows nothing"),
        // What `check` finds is its result.
        (1 | 2, Ok(_)) => assert!(command.starts_with("check"), "{command}: a result of bad data"),
        (1..=3, _) => {}
        _ => panic!("{command} ends {code}"),
    }
    let is_stranger = |c: char| c != '\n' && is_unseen(c);
    assert!(!text.unwrap_or_default().contains(is_stranger), "{command}: a mark of a stranger");
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            if from.file_name() != Some("shipments".as_ref()) {
                copy(&entry.path(), &target);
            } else if entry.file_name() == "plain" {
                // The other shipments are not looked at, but one that is like it.
                copy(&entry.path(), &target);
                copy(&entry.path(), &to.join("again"));
            }
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
}
