//! Text in lines of so many columns of a terminal.

use textwrap::core::{Word, display_width};
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm};

use crate::quantity::{Currency, Written};

/// Stands for a space at which no line ends.
const TIE: char = '\u{a0}';

/// Stands where a line may end within a word. It takes no column.
const SEAM: char = '\u{200b}';

/// Units that stay on the line of their figure, beside currencies.
const UNITS: [&str; 17] = [
    "%", "mm", "cm", "m", "in", "ft", "m2", "ft2", "m3", "kg", "t", "lb", "kg/m", "t/m", "lb/ft",
    "kg/m2", "kg/m3",
];

/// A text in lines of at most `width` columns, the first after one indent and the others after
/// another. Lines end between words, and never between a figure and its unit; a word that is wider
/// than a line has one of its own. Wide characters count as the two columns they take.
pub fn wrapped(first: &str, next: &str, text: &str, width: usize) -> Vec<String> {
    lines(first, next, text, width, false)
}

/// The same, but a word that is wider than a line goes on in the next, a path after a slash and a name after a
/// stroke: no line is wider.
pub fn broken(first: &str, next: &str, text: &str, width: usize) -> Vec<String> {
    lines(first, next, text, width, true)
}

fn lines(first: &str, next: &str, text: &str, width: usize, breaks: bool) -> Vec<String> {
    let options = Options::new(width)
        .initial_indent(first)
        .subsequent_indent(next)
        .break_words(breaks)
        .word_separator(WordSeparator::Custom(at_spaces_and_seams))
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    let text = tied(text);
    let room = width.saturating_sub(columns(first).max(columns(next)));
    let text = if breaks { seamed(&text, room) } else { text };
    let lines = textwrap::wrap(&text, options);
    lines.into_iter().map(|line| untied(line.trim_end())).collect()
}

/// The text with seams in the words that are wider than `room`: after each slash of a path, and within a name that
/// is still too wide, after its strokes.
fn seamed(text: &str, room: usize) -> String {
    let part = |part: &str| {
        let part = if columns(part) > room {
            part.replace('-', &format!("-{SEAM}")).replace('_', &format!("_{SEAM}"))
        } else {
            part.to_owned()
        };
        if part.ends_with('/') { format!("{part}{SEAM}") } else { part }
    };
    let word = |word: &str| {
        if columns(word) <= room {
            return word.to_owned();
        }
        word.split_inclusive('/').map(part).collect()
    };
    text.split(' ').map(word).collect::<Vec<_>>().join(" ")
}

/// The parts of a text after which a line may end.
fn at_spaces_and_seams(text: &str) -> Box<dyn Iterator<Item = Word<'_>> + '_> {
    let words = WordSeparator::AsciiSpace.find_words(text);
    Box::new(words.flat_map(|word| {
        let spaces = word.whitespace;
        let mut parts: Vec<Word<'_>> = word.word.split_inclusive(SEAM).map(Word::from).collect();
        if let Some(last) = parts.last_mut() {
            last.whitespace = spaces;
        }
        parts
    }))
}

/// A line as lines of about so many characters: a list goes on in the next one after a comma. No name is cut.
pub fn at_commas(line: &str, most: usize) -> Vec<String> {
    let mut all = vec![String::new()];
    let mut length = 0;
    for part in line.split_inclusive(", ") {
        let own = part.chars().count();
        if length > 0 && length + own > most {
            all.push("    ".to_owned());
            length = 0;
        }
        length += own;
        if let Some(last) = all.last_mut() {
            last.push_str(part);
        }
    }
    all.iter().map(|line| line.trim_end().to_owned()).collect()
}

/// The columns of a terminal that a text takes.
pub fn columns(text: &str) -> usize {
    display_width(text)
}

/// The text with its figures tied to their units.
pub fn tied(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut before = "";
    for (rank, word) in text.split(' ').enumerate() {
        if rank > 0 {
            out.push(if stay_together(before, word) { TIE } else { ' ' });
        }
        out.push_str(word);
        before = word;
    }
    out
}

/// The text with what is to be copied in one piece: what stands in quotes, braces or brackets, and a key with
/// its value.
pub(super) fn held(text: &str) -> String {
    let is_paired = text.matches('"').count().is_multiple_of(2);
    let (mut quoted, mut depth) = (false, 0_usize);
    let mut out = String::with_capacity(text.len());
    for (at, c) in text.char_indices() {
        match c {
            '"' => quoted ^= is_paired,
            '{' | '[' => depth += 1,
            '}' | ']' => depth = depth.saturating_sub(1),
            _ => {}
        }
        let (before, after) = text.split_at(at);
        let is_sign = after.starts_with(" = ") || before.ends_with(" =");
        out.push(if c == ' ' && (quoted || depth > 0 || is_sign) { TIE } else { c });
    }
    out
}

/// The text with its ties as plain spaces, and without seams.
pub fn untied(text: &str) -> String {
    text.replace(TIE, " ").replace(SEAM, "")
}

/// Whether two words are a figure and its unit, "2 x" and its noun, "per" and a unit, or the feet and the
/// letters of a container type: 20' GP.
fn stay_together(before: &str, word: &str) -> bool {
    let figure = before.trim_start_matches(['(', '-', '"']);
    let is_figure = figure.starts_with(|c: char| c.is_ascii_digit())
        && figure.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | ','));
    let is_feet = figure
        .strip_suffix('\'')
        .is_some_and(|feet| !feet.is_empty() && feet.chars().all(|c| c.is_ascii_digit()));
    let is_rate = before == "per" && is_unit(word);
    (is_figure && (word == "x" || is_unit(word))) || before == "x" || is_feet || is_rate
}

fn is_unit(word: &str) -> bool {
    let word = word.trim_end_matches(['.', ',', ';', ':', ')', '"']);
    let code = word.split('/').next().unwrap_or(word);
    UNITS.contains(&word) || (code.len() == 3 && Currency::read(code).is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_end_by_the_columns_of_a_terminal() {
        // Each of these four characters takes two columns: eight, and a space, and "abc" make twelve.
        assert_eq!(wrapped("", "", "\u{5927}\u{7406}\u{77f3}\u{677f} abc", 11).len(), 2);
        assert_eq!(wrapped("", "", "\u{5927}\u{7406}\u{77f3}\u{677f} abc", 12).len(), 1);
        // A letter and its accent take one.
        assert_eq!(wrapped("", "", "e\u{301}e\u{301}e\u{301} abc", 7).len(), 1);
    }

    #[test]
    fn a_path_that_is_too_long_goes_on_after_a_slash() {
        let text = "see shipments/white-marble-spring/shipment.toml:34";
        let told = ["see shipments/", "white-marble-spring/", "shipment.toml:34"];
        assert_eq!(broken("", "", text, 31), told);
        assert_eq!(broken("", "", text, 14).concat(), text);
        // A figure keeps its unit, and what fits a line is not parted.
        assert_eq!(broken("", "", "at 10.00 EUR/m2 net", 12), ["at", "10.00 EUR/m2", "net"]);
        assert_eq!(broken("", "", "in rates/fees.toml", 16), ["in", "rates/fees.toml"]);
        // A name goes on after a stroke.
        let name = ["white-marble-", "of-spring"];
        assert_eq!(broken("", "", "white-marble-of-spring", 15), name);
    }

    #[test]
    fn what_is_to_be_copied_stays_on_one_line() {
        let text =
            "write the dates here: dates = { quoted = 2026-03-04, sails = 2026-04-11 } or \"a b\"";
        let lines = wrapped("", "", &held(text), 20);
        let whole = ["dates = { quoted = 2026-03-04, sails = 2026-04-11 }", "\"a b\""];
        assert!(whole.iter().all(|one| lines.iter().any(|line| line.contains(one))), "{lines:?}");
        assert_eq!(lines.join(" "), text);
    }

    #[test]
    fn a_figure_and_its_unit_stay_on_one_line() {
        let text = "it weighs 27,812 kg and lands at 1,234.50 USD in 2 x 20' GP";
        for width in 12..text.len() {
            let lines = wrapped("- ", "  ", text, width);
            for whole in ["27,812 kg", "1,234.50 USD", "2 x 20' GP"] {
                assert!(lines.iter().any(|line| line.contains(whole)), "{width}: {lines:?}");
            }
            let again = lines.iter().map(|line| line[2..].trim()).collect::<Vec<_>>().join(" ");
            assert_eq!(again, text);
        }
    }
}
