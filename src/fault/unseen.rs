//! Characters that are not seen or turn the writing: which they are, how they are shown, and what a text
//! looks like without them.

use std::borrow::Cow;

use unicode_normalization::UnicodeNormalization;

/// Whether a character must not be printed as it is: it steers a terminal, turns the direction of writing,
/// ends a line where none is seen to end, or takes no room, so that one name looks like another. These are
/// the controls (general category Cc), the separators of lines and paragraphs, the marks of interlinear
/// annotation, and what has the property `Default_Ignorable_Code_Point` (the Unicode Standard, 5.21 and
/// `DerivedCoreProperties.txt`; the list is from memory).
pub fn is_unseen(c: char) -> bool {
    match c {
        '\u{20}'..='\u{7e}' => false,
        '\u{ad}'
        | '\u{34f}'
        | '\u{61c}'
        | '\u{feff}'
        | '\u{3164}'
        | '\u{ffa0}'
        | '\u{115f}'..='\u{1160}'
        | '\u{17b4}'..='\u{17b5}'
        | '\u{180b}'..='\u{180f}'
        | '\u{200b}'..='\u{200f}'
        | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}'
        | '\u{fe00}'..='\u{fe0f}'
        | '\u{fff0}'..='\u{fffb}'
        | '\u{1bca0}'..='\u{1bca3}'
        | '\u{1d173}'..='\u{1d17a}'
        | '\u{e0000}'..='\u{e0fff}' => true,
        other => other.is_control(),
    }
}

/// A text made safe to print: what is not seen shows as `\n`, `\t` or `\u{200b}`.
pub fn plain(text: &str) -> Cow<'_, str> {
    if !text.contains(is_unseen) {
        return Cow::Borrowed(text);
    }
    let mut safe = String::with_capacity(text.len() + 8);
    for c in text.chars() {
        if is_unseen(c) {
            safe.extend(c.escape_default());
        } else {
            safe.push(c);
        }
    }
    Cow::Owned(safe)
}

/// What a reader takes a text for: without what is not seen, letters with their accents in one, wide and
/// narrow forms as the plain ones (form KC of Unicode Standard Annex 15).
pub fn looks(text: &str) -> Cow<'_, str> {
    if text.bytes().all(|byte| (b' '..=b'~').contains(&byte)) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(text.chars().filter(|c| !is_unseen(*c)).nfkc().collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_seen_is_shown_in_one_form() {
        let text =
            "a\u{1b}[31m\u{9b}b\u{61c}\u{200b}\u{feff}\u{ad}\u{2028}\u{e0041}\u{2066} \u{e9}\n";
        let safe = "a\\u{1b}[31m\\u{9b}b\\u{61c}\\u{200b}\\u{feff}\\u{ad}\\u{2028}\\u{e0041}\\u{2066} \u{e9}\\n";
        assert_eq!(plain(text), safe);
    }

    #[test]
    fn a_name_looks_like_another_by_marks_wide_forms_and_accents() {
        for name in ["\u{ff23}af\u{e9}", "Cafe\u{301}", "C\u{200b}af\u{e9}\u{feff}"] {
            assert_eq!(looks(name), "Caf\u{e9}");
        }
        assert_ne!(looks("cafe"), "Caf\u{e9}");
    }
}
