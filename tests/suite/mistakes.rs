//! Mistakes that people make, each with the words that must tell them the way out.

use std::fmt::Write as _;

use crate::cases::{self, Case, quaystone};
use crate::common::{Tiny, demo, run};

fn mistakes() -> Vec<Case> {
    cases::read(&demo().join("tests/mistakes.txt"))
}

/// A message without the frame drawn around it, on one line: help may be broken anywhere.
fn unbroken(stderr: &str) -> String {
    let words = stderr.split_whitespace().filter(|word| *word != "|");
    words.collect::<Vec<_>>().join(" ").replace("= help: ", "")
}

/// Whether words name a file and a line, such as `shipments/plain/packing.csv:2`.
fn is_place(words: &str) -> bool {
    words.rsplit_once(':').is_some_and(|(file, line)| {
        file.contains('.') && !line.is_empty() && line.bytes().all(|byte| byte.is_ascii_digit())
    })
}

#[test]
fn every_mistake_is_told_with_its_line_and_the_way_out() {
    let mut wrong = String::new();
    for case in mistakes() {
        let output = quaystone(case.workspace().path(), &case.args);
        let stderr = String::from_utf8(output.stderr).unwrap();
        let exit = output.status.code().map_or_else(String::new, |code| code.to_string());
        let mut note = |what: String| writeln!(wrong, "\n{}: {what}\n{stderr}", case.name).unwrap();
        if exit != case.exit {
            note(format!("exit {exit}, not {}", case.exit));
        }
        let said = unbroken(&stderr);
        for words in case.says.iter().filter(|words| !said.contains(*words)) {
            note(format!("lacks {words:?}"));
        }
        if stderr.contains("--> ") && !case.says.iter().any(|words| is_place(words)) {
            note("the case names no file and line".to_owned());
        }
        // A slip that is understood needs no word.
        if case.says.is_empty() && !stderr.is_empty() {
            note("the case expects no word".to_owned());
        }
        // One cause is told once.
        let told = stderr.lines().filter(|line| line.starts_with("error[")).count();
        if told > case.most {
            note(format!("{told} errors for one mistake"));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
}

#[test]
fn no_mistake_is_scored_0_and_the_mean_is_at_least_2_7() {
    let scores: Vec<u32> =
        mistakes().iter().map(|case| u32::from(case.score.expect("each is scored"))).collect();
    let (sum, count) = (scores.iter().sum::<u32>(), u32::try_from(scores.len()).unwrap());
    assert!(scores.iter().all(|score| (1..=3).contains(score)), "{scores:?}");
    assert!(sum * 10 >= count * 27, "the mean score is {sum}/{count}");
}

#[test]
fn check_goes_on_past_a_bad_shipment() {
    let tiny = Tiny::new();
    tiny.replace("shipments/crowded/shipment.toml", "thickness = ", "thicknes = ");
    let output = run(tiny.path(), &["check", "--as", "csv"]);
    let stderr = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{stderr}");
    assert!(stderr.contains("shipments/crowded/shipment.toml:"), "{stderr}");
    let stdout = String::from_utf8(output.stdout).unwrap();
    let verdict = |name: &str| {
        let line = stdout.lines().find(|line| line.starts_with(name)).expect("a line for each");
        line.contains("sound")
    };
    assert!(!verdict("crowded"));
    // The shipments before it and after it in the list are costed.
    assert!(verdict("arrived") && verdict("plain") && verdict("two-boxes"), "{stdout}");
}
