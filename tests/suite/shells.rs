//! What a shell and `man` are told of the commands.

use std::process::{Command, Stdio};

use crate::common::{demo, run, stdout};

/// The commands that the help lists.
fn commands() -> Vec<String> {
    let help = stdout(&demo(), &["--help"]);
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let listed = listed.take_while(|line| !line.is_empty());
    let names = listed.map(|line| line.split_whitespace().next().unwrap().to_owned());
    names.filter(|name| name != "help").collect()
}

#[test]
fn every_shell_completes_every_command_and_option() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = stdout(&demo(), &["completions", shell]);
        for word in commands().iter().map(String::as_str).chain(["units", "drawing", "against"]) {
            assert!(script.contains(word), "{shell} does not know {word}");
        }
    }
}

/// bash itself is asked, as far as it is there: the script is read without a word, and completes.
#[test]
fn bash_reads_its_script() {
    let script = stdout(&demo(), &["completions", "bash"]);
    let asked = format!(
        "{script}\nCOMP_WORDS=(quaystone wor); COMP_CWORD=1; _quaystone quaystone wor quaystone; echo \"${{COMPREPLY[@]}}\""
    );
    let bash = Command::new("bash").args(["--norc", "-c", &asked]).stderr(Stdio::piped()).output();
    let Ok(output) = bash else { return };
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    assert_eq!(String::from_utf8_lossy(&output.stdout).trim(), "worksheet");
}

#[test]
fn every_command_has_a_page_for_man() {
    let whole = stdout(&demo(), &["manual"]);
    for name in commands() {
        // A page writes a hyphen so.
        let shown = name.replace('-', "\\-");
        assert!(whole.contains(&shown), "the page lists no {name}");
        let page = stdout(&demo(), &["manual", &name]);
        let is_whole =
            page.contains(&format!("quaystone\\-{shown}")) && page.contains("\\-\\-units");
        assert!(is_whole, "{page}");
    }
    let output = run(&demo(), &["manual", "coste"]);
    assert_eq!(output.status.code(), Some(2));
}
