//! What the reference of the tables says of a row's keys, as comments over the rows of a new table.

use std::fmt::Write as _;

const REFERENCE: &str = include_str!("../../rates/README.md");

/// How wide a comment may be.
const WIDTH: usize = 100;

/// The keys of a kind of rows, each with what it does: a comment a key, in the reference's order. Keys that the
/// rows do not have are left out; no text where the reference knows none of theirs.
pub(super) fn keys_of(kind: &str, has: impl Fn(&str) -> bool) -> String {
    let name = format!("`[[{kind}]]`");
    let mut keys: Vec<(&str, String)> = Vec::new();
    let mut title = "";
    let mut is_open = false;
    for line in REFERENCE.lines() {
        if let Some(heading) = line.strip_prefix("### ") {
            let (names, what) = heading.split_once(": ").unwrap_or((heading, ""));
            is_open = names.split(", ").any(|one| one == name);
            // The heading that is the kind's alone says what the kind is.
            if names == name {
                title = what;
            }
        }
        let cells: Vec<&str> = line.split(" | ").collect();
        if let ([key, .., what], true) = (&cells[..], is_open) {
            let key = key.trim_matches(['|', '`', ' ']);
            if has(key) && !keys.iter().any(|(known, _)| *known == key) {
                keys.push((key, what.trim_matches(['|', ' ']).to_owned()));
            }
        }
    }
    if keys.is_empty() {
        return String::new();
    }
    let wide = keys.iter().map(|(key, _)| key.len()).max().unwrap_or(0);
    let mut text = format!("# [[{kind}]], {title}:\n");
    for (key, what) in keys {
        let mut line = format!("#   {key:wide$} ");
        for word in what.split(' ') {
            if line.len() + word.len() >= WIDTH {
                _ = writeln!(text, "{line}");
                line = format!("#   {:wide$} ", "");
            }
            line.push(' ');
            line.push_str(word);
        }
        _ = writeln!(text, "{line}");
    }
    text
}
