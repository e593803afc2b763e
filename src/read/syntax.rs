//! What is wrong with a text that is no TOML: each slip once, and not what follows from it.

use std::collections::BTreeSet;
use std::ops::Range;

use super::slips::{self, Slip};
use crate::fault::{Code, Fault, Report, Source};
use crate::quantity::grouped;
use crate::trade::Date;

/// The most errors of syntax that are told of one file: after the first, most come of those before.
const MOST_SYNTAX: usize = 40;

/// Reports what the parser found: its places and its words, in its order.
pub(super) fn tell(source: &Source, found: &[(Range<usize>, &str)], report: &mut Report) {
    let mut told = BTreeSet::new();
    if found.iter().any(|(_, says)| says.contains("recursion")) {
        report.add(too_deep(source));
        return;
    }
    for (at, (span, says)) in found.iter().enumerate() {
        if told.len() == MOST_SYNTAX {
            let rest = found.iter().skip(at).map(|(span, _)| source.place(span.clone()).line);
            let more: BTreeSet<usize> = rest.filter(|line| !told.contains(line)).collect();
            if !more.is_empty() {
                let more = grouped(more.len().into());
                let message = format!("{more} more lines of {} cannot be read", source.name);
                report.add(
                    Fault::error(Code::BadSyntax, message)
                        .in_file(&source.name)
                        .help("mend the first ones: the others often come of them"),
                );
            }
            return;
        }
        let place = source.place(span.clone());
        let line = source.line_text(place.line);
        // The first of a line is the slip; others come of it.
        if !told.insert(place.line) {
            continue;
        }
        let text = source.text.get(span.clone()).unwrap_or("");
        let cannot =
            |line: usize| Fault::error(Code::BadSyntax, format!("line {line} cannot be read"));
        let fault = cannot(place.line);
        let loses_track = LOSES_TRACK.iter().any(|word| says.contains(word));
        let open = if loses_track { open_above(source, place.line) } else { None };
        let lacks_quotes = says.starts_with("string values must be quoted");
        if let Some((opened, mark, close)) = open {
            let line = source.line_text(opened).trim_end();
            report.add(
                cannot(opened)
                    .at(&source.line(opened), format!("`{mark}` is opened here and not closed"))
                    .help(format!("write the whole in one line: {line} {close}")),
            );
        } else if let Some((at, value)) = comma_lacks(line) {
            let from = source.line(place.line).span.start + at;
            report.add(
                fault
                    .at(&source.place(from..from + value.len()), "a comma is missing after this")
                    .help(format!("write a comma after {value}")),
            );
        } else if let Some(Slip { label, help, .. }) = slips::in_syntax(text, line) {
            report.add(fault.at(&place, label).help(help));
            continue;
        } else if let Some(meant) = with_colon(line) {
            report.add(fault.at(&place, "a key and its value are joined by =").help(meant));
            continue;
        } else if lacks_quotes && !text.contains(['"', '\'']) {
            report.add(
                fault
                    .at(&place, "text without quotes")
                    .help(format!("write it in quotes: \"{}\"", text.trim())),
            );
            continue;
        } else if says.contains("escape") {
            report
                .add(fault.at(&place, "a backslash means that a sign follows, such as \\n").help(
                "write each backslash twice, or a stroke in its place: C:\\\\quarry or C:/quarry",
            ));
            continue;
        } else if line.matches('"').count() % 2 == 1 {
            let line = line.trim_end();
            report.add(
                fault
                    .at(&place, "a quote is opened and not closed")
                    .help(format!("close it: {line}\"")),
            );
        } else {
            report.add(fault.at(&place, *says));
        }
        if loses_track {
            return;
        }
    }
}

/// The parser says that a text goes too deep, and not where: it is the line with the most steps down.
fn too_deep(source: &Source) -> Fault {
    let steps = |(_, line): &(usize, &str)| line.matches(['.', '[', '{']).count();
    let deepest = source.text.lines().enumerate().max_by_key(steps);
    let number = deepest.map_or(1, |(at, _)| at + 1);
    Fault::error(Code::BadSyntax, format!("line {number} cannot be read"))
        .at(&source.line(number), "tables or lists stand too deep in each other here")
        .help("no key of ours stands deeper than four: is a line of dots or brackets pasted in?")
}

/// What to write for a line such as `to: savannah`.
fn with_colon(line: &str) -> Option<String> {
    let (key, value) = line.split_once(':')?;
    let (key, value) = (key.trim(), value.trim());
    let is_key =
        !key.is_empty() && key.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'-');
    if !is_key || value.is_empty() {
        return None;
    }
    let is_bare = value.starts_with(['"', '\'', '[', '{']) || value.parse::<Date>().is_ok();
    let quote = if is_bare { "" } else { "\"" };
    Some(format!("write {key} = {quote}{value}{quote}"))
}

/// With these words the parser has lost its way. Its later errors are no slips of the user.
const LOSES_TRACK: [&str; 3] = ["inline table", "missing comma", "unclosed array"];

/// The nearest line above that opens a bracket and does not close it, the bracket, and what closes it.
fn open_above(source: &Source, below: usize) -> Option<(usize, char, char)> {
    let lines = (1..below).rev().map(|line| (line, source.line_text(line)));
    for (number, line) in lines {
        let bare = bare(line);
        // A table's own header begins the part that is looked at.
        if bare.trim_start().starts_with('[') {
            return None;
        }
        for (open, close) in [('{', '}'), ('[', ']')] {
            if bare.matches(open).count() > bare.matches(close).count() {
                return Some((number, open, close));
            }
        }
    }
    None
}

/// Longer lines than anybody writes by hand are not looked into.
const LONGEST_LINE: usize = 1_000;

/// A line without what stands in its quotes and behind `#`: quotes are kept, and every byte stays in its place.
fn bare(line: &str) -> String {
    let (mut quoted, mut remark) = (false, false);
    let mut bare = String::with_capacity(line.len());
    for c in line.chars().take(if line.len() > LONGEST_LINE { 0 } else { LONGEST_LINE }) {
        quoted ^= c == '"' && !remark;
        remark |= c == '#' && !quoted;
        if remark || (quoted && c != '"') {
            bare.extend(std::iter::repeat_n('_', c.len_utf8()));
        } else {
            bare.push(c);
        }
    }
    bare
}

/// The value in a line's brackets that another follows without a comma, and its first byte.
fn comma_lacks(line: &str) -> Option<(usize, &str)> {
    let bare = bare(line);
    let opens = bare.find(['{', '['])?;
    let words: Vec<(usize, &str)> = bare
        .get(opens + 1..)?
        .split(' ')
        .scan(opens + 1, |at, word| {
            let from = *at;
            *at += word.len() + 1;
            Some((from, word))
        })
        .filter(|(_, word)| !word.is_empty())
        .collect();
    let is_sign = |word: Option<&(usize, &str)>| word.is_some_and(|(_, word)| word.ends_with('='));
    let pairs = words.windows(2).enumerate();
    let mut lacking = pairs.filter_map(|(at, pair)| {
        let [(from, word), (_, next)] = pair else { return None };
        let (key, value) =
            word.rsplit_once('=').map_or((0, *word), |(key, value)| (key.len() + 1, value));
        let is_valued =
            key > 0 || at.checked_sub(1).is_some_and(|before| is_sign(words.get(before)));
        let ends = value.ends_with(|c: char| c.is_alphanumeric() || c == '"');
        // The next is a key with its sign, or one text follows another.
        let is_key =
            next.contains('=') || words.get(at + 2).is_some_and(|(_, word)| word.starts_with('='));
        let is_text = value.ends_with('"') && next.starts_with('"');
        (ends && (is_valued && is_key || is_text)).then_some((from + key, value.len()))
    });
    let (from, length) = lacking.next()?;
    Some((from, line.get(from..from + length)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_comma_is_found_where_it_is_missing() {
        let value = |line: &str| comma_lacks(line).map(|(_, value)| value.to_owned());
        let some = |text: &str| Some(text.to_owned());
        let dates = "dates = { quoted = 2026-03-04 sails = 2026-04-11, arrives = 2026-05-09 }";
        assert_eq!(value(dates), some("2026-03-04"));
        let dates = "dates = { quoted = 2026-03-04, sails = 2026-04-11 arrives = 2026-05-09 }";
        assert_eq!(value(dates), some("2026-04-11"));
        assert_eq!(value("dates = { quoted=2026-03-04 sails=2026-04-11 }"), some("2026-03-04"));
        assert_eq!(value("containers = [\"20gp\" \"40hc\"]"), some("\"20gp\""));
        assert_eq!(
            value("billed = { quantity = \"15 m2\" amount = \"6 EUR\" }"),
            some("\"15 m2\"")
        );
        for none in [
            "dates = { quoted = 2026-03-04, sails = 2026-04-11 }",
            "dates = { quoted=2026-03-04, sails=2026-04-11 }",
            "dates = { quoted = 2026-03-04, sails = 11/30/2026, arrives = 2026-12-09 }",
            "containers = [\"20gp\", \"40hc\"]",
            "price = 40.00 EUR/m2",
            "billed = { amount = 600.00 EUR }",
            "title = \"{ one two }\"",
        ] {
            assert_eq!(value(none), None, "{none}");
        }
    }
}
