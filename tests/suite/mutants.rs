//! Files that were changed at random: every command and form ends in order, whatever is in them.
//!
//! `QUAYSTONE_MUTANTS=5000` runs so many, `QUAYSTONE_SEED=N` begins with that one; what fails names its seed.

use std::fs;
use std::path::PathBuf;

use rayon::prelude::*;

use crate::cases::files;
use crate::common::{Tiny, run};
use crate::every::{COMMANDS, FORMS, words};

/// A small generator of numbers (Knuth's linear congruence, The Art of Computer Programming 2, 3.3.4,
/// from memory), so that a seed gives the same mutant everywhere.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, end: usize) -> usize {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).unwrap() % end.max(1)
    }

    fn of<'a, T>(&mut self, all: &'a [T]) -> &'a T {
        &all[self.below(all.len())]
    }
}

/// What is put into a file.
const PIECES: [&str; 30] = [
    "=",
    "\"",
    "'''",
    "[[charge]]",
    "[",
    "]",
    "{",
    "}",
    ",",
    ";",
    "\n",
    "\r",
    "\0",
    "\t",
    "\u{feff}",
    "\u{200b}",
    "\u{9b}",
    "\u{202e}",
    "=HYPERLINK(1)",
    "-",
    "0",
    "99999999999999999999",
    "0.0000000000000000000000000001",
    "1e9",
    "2026-02-30",
    "9999-12-31",
    " USD",
    " m2",
    "e\u{301}",
    "\\u0000",
];

/// Changes a text in one to three places.
fn change(text: &mut Vec<u8>, numbers: &mut Numbers) {
    for _ in 0..=numbers.below(3) {
        let at = numbers.below(text.len() + 1);
        let end = (at + 1 + numbers.below(12)).min(text.len());
        let lines: Vec<Vec<u8>> =
            text.split_inclusive(|byte| *byte == b'\n').map(<[u8]>::to_vec).collect();
        let digits: Vec<usize> = (0..text.len()).filter(|at| text[*at].is_ascii_digit()).collect();
        match numbers.below(8) {
            0 => drop(text.drain(at.min(end)..end)),
            1 => drop(text.splice(at..at, numbers.of(&PIECES).bytes())),
            2 => drop(text.splice(at.min(end)..end, numbers.of(&PIECES).bytes())),
            3 if !lines.is_empty() => text.extend(numbers.of(&lines)),
            4 if !lines.is_empty() => {
                let without = numbers.below(lines.len());
                let kept = lines.iter().enumerate().filter(|(line, _)| *line != without);
                *text = kept.flat_map(|(_, line)| line.clone()).collect();
            }
            5 if !digits.is_empty() => {
                text[*numbers.of(&digits)] = b'0' + u8::try_from(numbers.below(10)).unwrap();
            }
            6 if !digits.is_empty() => {
                let at = *numbers.of(&digits);
                drop(text.splice(at..at, numbers.of(&PIECES).bytes()));
            }
            _ if at < text.len() => text[at] = u8::try_from(numbers.below(256)).unwrap(),
            _ => {}
        }
    }
}

/// What is wrong with how a command ended on the mutant of a seed.
fn wrong(seed: usize) -> Option<String> {
    let mut numbers = Numbers(u64::try_from(seed).unwrap());
    numbers.below(2);
    let tiny = Tiny::new();
    let all: Vec<PathBuf> = files(tiny.path()).into_keys().collect();
    let path = tiny.path().join(numbers.of(&all));
    let mut text = fs::read(&path).unwrap();
    change(&mut text, &mut numbers);
    fs::write(&path, &text).unwrap();
    let folder = path.parent().unwrap().file_name().unwrap().to_str().unwrap();
    let shipment = if folder == "rates" { "plain" } else { folder };
    // The seeds in a row go through all of them.
    let (command, form) =
        (COMMANDS[seed % COMMANDS.len()], FORMS[seed / COMMANDS.len() % FORMS.len()]);
    let other = if shipment == "two-terms" { "crowded" } else { "two-terms" };
    let command = words(command, shipment, other).join(" ") + " --as " + form;
    let args: Vec<&str> = command.split(' ').collect();
    let output = run(tiny.path(), &args);
    let is_workbook = form == "xlsx";
    let out = match String::from_utf8(output.stdout) {
        Ok(out) => out,
        Err(error) if is_workbook => String::from_utf8_lossy(error.as_bytes()).into_owned(),
        Err(error) => panic!("{error}"),
    };
    let said = String::from_utf8(output.stderr).unwrap();
    let names_a_file = || ["rates/", "shipments/"].iter().any(|name| said.contains(name));
    let is_unseen = |c: char| c != '\n' && quaystone::fault::is_unseen(c);
    let why = match output.status.code() {
        Some(0) if out.is_empty() => "done without a word",
        // What `check` finds is its result.
        Some(1 | 2) if !out.is_empty() && !command.starts_with("check") => "a result of bad data",
        Some(1) if !said.contains("error[") || !names_a_file() => "no fault with a file",
        Some(2 | 3) if said.is_empty() && out.is_empty() => "an end without a word",
        _ if said.contains("mistake of the program") => "a mistake of the program",
        Some(0..=3) if !is_workbook && out.contains(is_unseen) || said.contains(is_unseen) => {
            "a mark of a stranger"
        }
        Some(0..=3) => return None,
        _ => "no exit code of ours",
    };
    let name = path.strip_prefix(tiny.path()).unwrap().display();
    Some(format!(
        "seed {seed}: {command}, {name}: {why}, {:?}\n{said}\n{}\n",
        output.status.code(),
        String::from_utf8_lossy(&text)
    ))
}

#[test]
fn every_command_and_form_ends_in_order_on_files_changed_at_random() {
    let number =
        |name: &str, or: usize| std::env::var(name).map_or(or, |text| text.parse().unwrap());
    let first = number("QUAYSTONE_SEED", 0);
    // The last form, a workbook, has tests of its own: more mutants try it, too.
    let count = number("QUAYSTONE_MUTANTS", COMMANDS.len() * (FORMS.len() - 1));
    let wrong: Vec<String> = (first..first + count).into_par_iter().filter_map(wrong).collect();
    let some: String = wrong.iter().take(5).cloned().collect();
    assert!(wrong.is_empty(), "{} of {count}\n{some}", wrong.len());
}
