//! How wide words are in a drawing, so that they stay in their place.
//!
//! Decided on 2026-11-28. Letters count as in Arial and the fonts of its measures (from memory), and somewhat more:
//! words may take less room than they are given.

use crate::fault::columns;

/// From one line to the next, in hundredths of the letters' size.
const LINE: i64 = 118;

/// How high so many lines are.
pub(super) fn high(lines: usize, size: i64) -> i64 {
    i64::try_from(lines).unwrap_or(0) * size * LINE / 100
}

/// The width of words in letters of a size.
pub(super) fn wide(words: &str, size: i64, bold: bool) -> i64 {
    let all: i64 = words.chars().map(thousandths).sum();
    all * size * if bold { 108 } else { 100 } / 100_000
}

/// The width of a letter in thousandths of its size.
fn thousandths(letter: char) -> i64 {
    match letter {
        ' ' | '.' | ',' | ':' | ';' | '\'' | '!' | '|' | 'i' | 'j' | 'l' | 'f' | 't' | 'r'
        | 'I' | '(' | ')' | '[' | ']' | '-' | '/' => 370,
        'm' | 'w' | 'M' | 'W' | '@' | '%' => 950,
        'a'..='z' | '0'..='9' => 600,
        other => match columns(&other.to_string()) {
            0 => 0,
            1 => 780,
            _ => 1_050,
        },
    }
}

/// The largest size, up to `size`, at which words are no wider than `width`.
pub(super) fn fitting(words: &str, size: i64, width: i64, bold: bool) -> i64 {
    let own = wide(words, 1_000, bold).max(1);
    size.min(width.max(0) * 1_000 / own)
}

/// Words in lines of a width; a word that is wider is broken.
pub(super) fn wrapped(words: &str, size: i64, width: i64, bold: bool) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in words.split_whitespace() {
        let longer = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
        if wide(&longer, size, bold) <= width {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for letter in word.chars() {
            if !line.is_empty() && wide(&format!("{line}{letter}"), size, bold) > width {
                lines.push(std::mem::take(&mut line));
            }
            line.push(letter);
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// A name no wider than `width`: of a longer one the middle is left out, as names differ at their ends.
pub(super) fn cut(name: &str, size: i64, width: i64) -> String {
    let letters: Vec<char> = name.chars().collect();
    let short = |kept: usize| -> String {
        let last = letters.iter().skip(letters.len().saturating_sub(kept / 2));
        let first = letters.iter().take(kept.div_ceil(2));
        first.chain(['\u{2026}'].iter()).chain(last).collect()
    };
    if wide(name, size, false) <= width {
        return name.to_owned();
    }
    let fits = |kept: &usize| wide(&short(*kept), size, false) <= width;
    short((0..letters.len()).rev().find(fits).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stay_in_their_width_and_a_name_keeps_its_ends() {
        let words = "Box 1: 20' GP (22G1), one-word-that-is-much-wider-than-a-line-of-the-sheet";
        let lines = wrapped(words, 40, 500, true);
        assert!(lines.iter().all(|line| wide(line, 40, true) <= 500), "{lines:?}");
        assert_eq!(lines.concat().replace(' ', ""), words.replace(' ', ""));
        assert_eq!(wrapped("", 40, 500, false), Vec::<String>::new());
        assert_eq!(cut("K-0815-B01", 10, 40), "K-0\u{2026}01");
        assert_eq!(cut("B01", 10, 40), "B01");
        assert_eq!(wide("AB", fitting("AB", 99, 78, false), false), 78);
    }
}
