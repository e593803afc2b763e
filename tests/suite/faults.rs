//! What the command says when the user's files or the command line are wrong.
//!
//! `tests/faults/` holds a file of cases for each code of a fault, and some for a command, for several
//! faults at once and for what is no fault. Its README says how a case is written.
//! `QUAYSTONE_UPDATE=1 cargo test faults` writes the expected messages and exit codes anew.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Output;

use quaystone::fault::Code;

use crate::cases::{self, Case, entries, files, quaystone};
use crate::common::{Tiny, demo};
use crate::pages;

/// The files of cases.
fn case_files() -> Vec<PathBuf> {
    let all = entries(&demo().join("tests/faults"));
    all.into_iter().filter(|path| path.extension().is_some_and(|ending| ending == "txt")).collect()
}

pub(crate) fn all_cases() -> Vec<Case> {
    case_files().iter().flat_map(|path| cases::read(path)).collect()
}

fn stderr_of(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

/// Runs one case and returns its failures in words. With `update` the case takes over the new result.
fn run(case: &mut Case, update: bool) -> Vec<String> {
    let copy = case.workspace();
    let before = files(copy.path());
    let output = quaystone(copy.path(), &case.args);
    let stderr = stderr_of(&output);
    let exit = output.status.code().map_or_else(|| "killed".to_owned(), |code| code.to_string());
    if update {
        case.stderr.clone_from(&stderr);
        case.exit.clone_from(&exit);
    }
    let mut wrong = Vec::new();
    if case.stderr != stderr {
        wrong.push(format!("stderr should be:\n{}\nand is:\n{stderr}", case.stderr));
    }
    if case.exit != exit {
        wrong.push(format!("exit should be {} and is {exit}", case.exit));
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
    let update = std::env::var_os("QUAYSTONE_UPDATE").is_some();
    let mut wrong = String::new();
    for file in case_files() {
        let mut cases = cases::read(&file);
        for case in &mut cases {
            for what in run(case, update) {
                writeln!(wrong, "\n{}: {what}", case.name).unwrap();
            }
        }
        if update {
            cases::write(&file, &cases);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn no_case_is_forgotten() {
    let others: Vec<PathBuf> = entries(&demo().join("tests/faults"))
        .into_iter()
        .filter(|path| !case_files().contains(path) && !path.ends_with("README.md"))
        .filter(|path| !path.ends_with(".gitattributes"))
        .collect();
    assert!(others.is_empty(), "a case is a piece of a text file: {others:?}");
    let cases = all_cases();
    let names: BTreeSet<&str> = cases.iter().map(|case| case.name.as_str()).collect();
    assert_eq!(names.len(), cases.len(), "a name stands twice");
}

#[test]
fn an_edit_that_finds_nothing_or_too_much_is_a_failure() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("edits.txt");
    for old in ["term = \"FOB nowhere\"", "", "[[charge]]"] {
        fs::write(&file, format!("case: x\nedit: rates/fees.toml\n- {old}\n+ y\nexit: 1\n"))
            .unwrap();
        let case = cases::read(&file).remove(0);
        let made = std::panic::catch_unwind(|| case.workspace());
        let why = made.expect_err("an edit must find its lines").downcast::<String>().unwrap();
        assert!(why.contains("not once"), "{why}");
    }
}

#[test]
fn every_code_has_a_case() {
    let shown: String = all_cases().into_iter().map(|case| case.stderr).collect();
    let missing: BTreeSet<&str> = Code::ALL
        .iter()
        .filter(|(_, name)| !shown.contains(&format!("[{name}]: ")))
        .map(|(_, name)| *name)
        .collect();
    assert_eq!(missing, BTreeSet::new());
}

/// A case that is made here, as it is too large or too strange to be kept as files.
fn made(make: impl FnOnce(&Path)) -> Tiny {
    let copy = Tiny::new();
    make(copy.path());
    copy
}

#[test]
fn a_line_of_a_megabyte_is_cut() {
    for (long, times) in [("x", 1_000_000), (",", 100_000), ("\"", 100_000), ("ü", 100_000)] {
        let long = long.repeat(times);
        let copy = made(|root| {
            let list = format!("slab,bundle,length (cm),height (cm)\nA1,B1,{long},180\n");
            fs::write(root.join("shipments/plain/packing.csv"), list).unwrap();
        });
        let output = quaystone(copy.path(), &["cost", "plain"]);
        let stderr = stderr_of(&output);
        assert_eq!(output.status.code(), Some(1), "{stderr}");
        assert!(stderr.len() < 4_000, "{} bytes of stderr", stderr.len());
        assert!(stderr.contains("packing.csv:2:"), "{stderr}");
    }
}

#[test]
fn a_key_and_a_text_of_100_kilobytes_are_cut() {
    let long = "x".repeat(100_000);
    for line in [format!("{long} = 1\n"), format!("to = \"{long}\"\n"), format!("to = {long}\n")] {
        let copy = made(|root| {
            fs::write(root.join("shipments/plain/shipment.toml"), line).unwrap();
        });
        let output = quaystone(copy.path(), &["cost", "plain"]);
        let stderr = stderr_of(&output);
        assert_eq!(output.status.code(), Some(1));
        assert!(stderr.len() < 6_000, "{} bytes of stderr", stderr.len());
    }
}

#[cfg(unix)]
#[test]
fn a_workspace_may_be_reached_over_a_link() {
    let copy = made(|root| {
        let list = root.join("shipments/plain/packing.csv");
        let text = fs::read_to_string(&list).unwrap();
        fs::write(&list, text.replace("300,180", "300,18O")).unwrap();
    });
    let other = tempfile::tempdir().unwrap();
    let link = other.path().join("link");
    std::os::unix::fs::symlink(copy.path(), &link).unwrap();
    let direct = copy.path().join("shipments/plain");
    let by_name = quaystone(other.path(), &["--dir", "link", "cost", "plain"]);
    let by_path = ["--dir", "link", "cost", direct.to_str().unwrap()];
    let by_path = quaystone(other.path(), &by_path);
    let inside = quaystone(&link, &["cost", "plain"]);
    for output in [&by_name, &by_path, &inside] {
        let stderr = stderr_of(output);
        assert_eq!(output.status.code(), Some(1));
        assert!(stderr.contains(" --> shipments/plain/packing.csv:2:11"), "{stderr}");
    }
}

#[test]
fn out_is_written_whole_or_not_at_all() {
    let copy = Tiny::new();
    let out = copy.path().join("out.csv");
    let write = ["cost", "plain", "--as", "csv", "--out", "out.csv"];
    let output = quaystone(copy.path(), &write);
    assert_eq!((output.status.code(), &output.stdout[..]), (Some(0), &b""[..]));
    let first = fs::read(&out).unwrap();
    assert!(!first.is_empty());

    fs::write(&out, "mine").unwrap();
    assert_eq!(quaystone(copy.path(), &write).status.code(), Some(4));
    assert_eq!(fs::read(&out).unwrap(), b"mine");

    // With a fault, nothing is overwritten, whatever is forced.
    let forced = [&write[..], &["--force"]].concat();
    let list = copy.path().join("shipments/plain/packing.csv");
    let sound = fs::read(&list).unwrap();
    fs::write(&list, "slab,bundle\n").unwrap();
    assert_eq!(quaystone(copy.path(), &forced).status.code(), Some(1));
    assert_eq!(fs::read(&out).unwrap(), b"mine");

    fs::write(&list, sound).unwrap();
    assert_eq!(quaystone(copy.path(), &forced).status.code(), Some(0));
    assert_eq!(fs::read(&out).unwrap(), first);
}

#[test]
fn suppliers_text_is_data_in_every_form() {
    let copy = made(|root| {
        let list = root.join("shipments/plain/packing.csv");
        let text = fs::read_to_string(&list).unwrap();
        let text = text.replace("A1,", "=cmd()|x,").replace("A2,", "<b>\u{1b}[31mA2\u{7},");
        fs::write(&list, text.replace("B2", "@B2")).unwrap();
        let shipment = root.join("shipments/plain/shipment.toml");
        let text = fs::read_to_string(&shipment).unwrap();
        let title = "title = \"Plain \\u001b[2J<script>\"";
        fs::write(&shipment, text.replace("title = \"Plain marble (invented)\"", title)).unwrap();
    });
    let mut wrong = String::new();
    for command in ["cost plain", "cost plain --by bundle", "load plain", "explain plain =cmd()|x"]
    {
        for form in ["text", "markdown", "html", "csv", "json"] {
            let mut args: Vec<&str> = command.split(' ').collect();
            args.extend(["--as", form]);
            let output = quaystone(copy.path(), &args);
            let stdout = String::from_utf8(output.stdout.clone()).unwrap();
            let mut note = |what: &str| writeln!(wrong, "{command} --as {form}: {what}").unwrap();
            if output.status.code() != Some(0) {
                note("fails");
            }
            // A list of comma-separated values goes to a spreadsheet, which shows them itself.
            if form != "csv" && stdout.chars().any(|c| c.is_control() && !"\n\r".contains(c)) {
                note("prints a control character");
            }
            if form == "html" && (stdout.contains("<script>") || stdout.contains("<b>")) {
                note("prints unescaped HTML");
            }
            let cells = || stdout.split([',', '\n']).map(|cell| cell.trim_matches('"'));
            if form == "csv" && cells().any(|cell| cell.starts_with(['=', '@'])) {
                note("prints a formula");
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

/// Figures in metric units that are the program's own: not what it quotes of a file, nor the form of a
/// key in quotation marks, nor the mass sheet, which the regulation asks for in kilograms. Densities can
/// only be written in kg/m3.
fn metric_figures(text: &str) -> Vec<String> {
    const UNITS: [&str; 7] = ["kg", "t", "mm", "cm", "m", "t/m", "kg/m"];
    let mut found = Vec::new();
    let mut in_sheet = false;
    for line in text.lines() {
        in_sheet |= line.starts_with("MASS ESTIMATE") || line.starts_with("GROSS MASS");
        let source = line.trim_start().split_once(" | ");
        let is_quoted = source.is_some_and(|(row, _)| row.chars().all(|c| c.is_ascii_digit()));
        if !in_sheet && !is_quoted {
            // What stands between quotation marks is text of a file, or the form of it.
            let own: String = line.split('"').step_by(2).collect::<Vec<_>>().join(" ");
            let words: Vec<&str> = own.split_whitespace().collect();
            // A tier is called by its own text, such as "24 t..".
            for pair in words.windows(2).filter(|pair| !pair[1].ends_with("..")) {
                let unit = pair[1].trim_end_matches([',', '.', ';', ':', ')']);
                let is_figure =
                    pair[0].trim_start_matches('(').starts_with(|c: char| c.is_ascii_digit());
                if is_figure && UNITS.contains(&unit) {
                    found.push(line.to_owned());
                }
            }
        }
        in_sheet &= !line.starts_with("signed");
    }
    found
}

#[test]
fn every_sentence_is_in_the_units_asked_for() {
    let mut wrong = String::new();
    let mut look = |what: &str, text: &str| {
        for line in metric_figures(text) {
            writeln!(wrong, "{what}: {line}").unwrap();
        }
    };
    let run = |folder: &Path, args: &[&str]| {
        let output = quaystone(folder, &[args, &["--units", "us"]].concat());
        let said = [output.stdout, output.stderr].concat();
        String::from_utf8_lossy(&said).into_owned()
    };
    // What a sentence has in metric units when it is asked for others, it has when metric ones are.
    let may = |case: &Case| {
        matches!(case.exit.as_str(), "0" | "3") || !metric_figures(&case.stderr).is_empty()
    };
    // Every sixth case, or each where `QUAYSTONE_DRAWN` asks for more.
    let step = if std::env::var_os("QUAYSTONE_DRAWN").is_some() { 1 } else { 6 };
    for case in all_cases().iter().filter(|case| may(case)).step_by(step) {
        let args: Vec<&str> = case.args.iter().map(String::as_str).collect();
        look(&case.name, &run(case.workspace().path(), &args));
    }
    for (page, text) in pages::OF_THE_DEMO.iter().filter(|(page, _)| page.ends_with(" us")) {
        look(page, text);
    }
    let demo = demo();
    let shipments = entries(&demo.join("shipments"));
    let names = shipments.iter().map(|path| path.file_name().unwrap().to_str().unwrap());
    for args in [
        vec!["check"],
        ["compare", "--across", "stones,yards"].into_iter().chain(names.take(3)).collect(),
        vec!["load", "one-week-savannah", "one-week-norfolk"],
        vec!["explain", "heavy-permit", "640-01"],
    ] {
        look(&args.join(" "), &run(&demo, &args));
    }
    assert!(wrong.is_empty(), "{wrong}");
}
