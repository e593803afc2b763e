//! What the command says when the user's files or the command line are wrong.
//!
//! Each folder of `tests/faults/` is a case, named by a fault's code and what is wrong. Its files
//! are laid over a copy of `tests/tiny`, except three of its own:
//!
//! - `args`: the command line (left out: `cost plain`);
//! - `stderr.txt`: what is expected on stderr;
//! - `exit`: the exit code that is expected;
//!
//! and `remove`, which names files and folders of the copy that are taken away first, one a line.
//! `QUAYSTONE_UPDATE=1 cargo test --test faults` rewrites `stderr.txt` and `exit`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use quaystone::fault::Code;

/// Codes that no case shows, each with its reason.
const NOT_SHOWN: [(Code, &str); 1] =
    [(Code::NotSupported, "nothing that can be written in a file is refused as not done yet")];

const OWN: [&str; 4] = ["args", "stderr.txt", "exit", "remove"];

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests")
}

/// A folder's entries in order.
fn entries(folder: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> =
        fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    all.sort();
    all
}

/// Lays a folder over another. Where one has a file and the other a folder, the new one wins.
fn lay_over(from: &Path, to: &Path, left_out: &[&str]) {
    if to.is_file() {
        fs::remove_file(to).unwrap();
    }
    fs::create_dir_all(to).unwrap();
    for path in entries(from) {
        let name = path.file_name().unwrap();
        if left_out.iter().any(|own| name == *own) {
            continue;
        }
        let target = to.join(name);
        if path.is_dir() {
            lay_over(&path, &target, &[]);
        } else {
            fs::copy(&path, &target).unwrap();
        }
    }
}

/// Every file of a folder with its bytes.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
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

/// A copy of the small workspace with the files of a case laid over it.
fn workspace(case: Option<&Path>) -> tempfile::TempDir {
    let copy = tempfile::tempdir().unwrap();
    lay_over(&root().join("tiny"), copy.path(), &[]);
    if let Some(case) = case {
        for name in fs::read_to_string(case.join("remove")).unwrap_or_default().lines() {
            let gone = copy.path().join(name);
            if gone.is_dir() {
                fs::remove_dir_all(gone).unwrap();
            } else {
                fs::remove_file(gone).unwrap();
            }
        }
        lay_over(case, copy.path(), &OWN);
    }
    copy
}

fn quaystone(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_quaystone"))
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .env("COLUMNS", "100")
        .output()
        .unwrap()
}

fn cases() -> Vec<PathBuf> {
    entries(&root().join("faults")).into_iter().filter(|path| path.is_dir()).collect()
}

fn stderr_of(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Runs one case; what is not as it should be, in words.
fn run(case: &Path) -> Vec<String> {
    let copy = workspace(Some(case));
    let before = files(copy.path());
    let args = fs::read_to_string(case.join("args")).unwrap_or_else(|_| "cost plain".to_owned());
    let args: Vec<&str> = args.split_whitespace().collect();
    let output = quaystone(copy.path(), &args);
    let stderr = stderr_of(&output);
    let exit = output.status.code().map_or_else(|| "killed".to_owned(), |code| code.to_string());
    if std::env::var_os("QUAYSTONE_UPDATE").is_some() {
        fs::write(case.join("stderr.txt"), &stderr).unwrap();
        fs::write(case.join("exit"), format!("{exit}\n")).unwrap();
    }
    let expected = |file: &str| fs::read_to_string(case.join(file)).unwrap_or_default();
    let mut wrong = Vec::new();
    if expected("stderr.txt") != stderr {
        let expected = expected("stderr.txt");
        wrong.push(format!("stderr should be:\n{expected}\nand is:\n{stderr}"));
    }
    if expected("exit").trim() != exit {
        wrong.push(format!("exit should be {} and is {exit}", expected("exit").trim()));
    }
    if exit == "101" || stderr.contains("panicked") {
        wrong.push("it panicked".to_owned());
    }
    // `load` and `check` show what they found although the answer is "no".
    if !matches!(exit.as_str(), "0" | "3") && !output.stdout.is_empty() {
        wrong.push("stdout should be empty".to_owned());
    }
    if exit == "1" && stderr.is_empty() {
        wrong.push("it failed without a word".to_owned());
    }
    if exit != "0" && files(copy.path()) != before {
        wrong.push("a file was written or changed".to_owned());
    }
    let machine = [copy.path().display().to_string(), env!("CARGO_MANIFEST_DIR").to_owned()];
    if machine.iter().any(|path| stderr.contains(path)) {
        wrong.push("a path of this machine is shown".to_owned());
    }
    if stderr.chars().any(|c| c.is_control() && c != '\n') {
        wrong.push("a control character is printed".to_owned());
    }
    wrong
}

#[test]
fn every_case_says_what_is_expected() {
    let mut wrong = String::new();
    for case in cases() {
        for what in run(&case) {
            wrong += &format!("\n{}: {what}\n", case.file_name().unwrap().display());
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn every_code_has_a_case() {
    let shown: String = cases()
        .iter()
        .map(|case| fs::read_to_string(case.join("stderr.txt")).unwrap_or_default())
        .collect();
    let missing: BTreeSet<&str> = Code::ALL
        .iter()
        .filter(|(_, name)| !shown.contains(&format!("[{name}]: ")))
        .map(|(_, name)| *name)
        .collect();
    let excused: BTreeSet<&str> = NOT_SHOWN.iter().map(|(code, _)| code.name()).collect();
    assert_eq!(missing, excused);
}
