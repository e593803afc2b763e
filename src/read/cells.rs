//! Cells of a comma- or semicolon-separated list: delimiter, header names with units, numbers.

use std::borrow::Cow;

use crate::quantity::{Decimal, Length, Malformed, Mass, Written, parse_decimal};

/// The delimiter of a list, by what its first line that is not blank has most of outside quotes.
pub(super) fn delimiter(text: &str) -> u8 {
    let first = text.lines().find(|line| !line.trim().is_empty()).unwrap_or("");
    let mut counts = [(b';', 0), (b',', 0), (b'\t', 0)];
    let mut quoted = false;
    for byte in first.bytes() {
        quoted ^= byte == b'"';
        for (mark, count) in &mut counts {
            *count += u32::from(!quoted && byte == *mark);
        }
    }
    counts
        .iter()
        .max_by_key(|(_, count)| *count)
        .filter(|(_, count)| *count > 0)
        .map_or(b',', |c| c.0)
}

/// A header cell: its name in plain lower-case words, and the unit it ends in, if any.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Header {
    pub(super) name: String,
    pub(super) unit: Option<&'static str>,
}

/// Units a header may end in; `"` and spelled-out inches count as `in`.
const UNITS: [(&str, &str); 10] = [
    ("mm", "mm"),
    ("cm", "cm"),
    ("m", "m"),
    ("in", "in"),
    ("inch", "in"),
    ("inches", "in"),
    ("ft", "ft"),
    ("kg", "kg"),
    ("t", "t"),
    ("lb", "lb"),
];

/// Whether a cell holds a unit and nothing else, such as `(cm)`.
pub(super) fn is_unit(cell: &str) -> bool {
    let word = cell.trim().trim_matches(['(', ')', '[', ']']).to_lowercase();
    UNITS.iter().any(|(unit, _)| *unit == word)
}

/// Reads a header cell such as `Length (cm)`, `length_mm` or `Weighed mass [kg]`.
pub(super) fn header(cell: &str) -> Header {
    let lower = cell.to_lowercase();
    let mut words: Vec<&str> =
        lower.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).collect();
    let unit = UNITS.iter().find(|(word, _)| words.len() > 1 && words.last() == Some(word));
    if unit.is_some() {
        words.pop();
    }
    Header { name: words.join(" "), unit: unit.map(|(_, unit)| *unit) }
}

/// Reads a number with a decimal point or a decimal comma, but not both: thousands marks are
/// refused, as `1,234` would be two different lengths to two different readers.
pub(super) fn number(cell: &str) -> Option<Decimal> {
    parse_decimal(&pointed(cell)?)
}

/// The cell with its decimal comma as a point; `None` where it has both.
fn pointed(cell: &str) -> Option<Cow<'_, str>> {
    match (cell.contains(','), cell.contains('.')) {
        (true, true) => None,
        (true, false) => Some(Cow::Owned(cell.replace(',', "."))),
        _ => Some(Cow::Borrowed(cell)),
    }
}

/// A quantity whose cells take their unit from the header.
pub(super) trait Measured: Written {
    /// The units it can have, as a header may name them.
    const UNITS: &'static [&'static str];

    /// The quantity from a figure in a unit, and whether anything of it was lost.
    fn of(figure: Decimal, unit: &str) -> Option<Result<(Self, bool), Malformed>>;
}

impl Measured for Length {
    const UNITS: &'static [&'static str] = &["mm", "cm", "m", "in", "ft"];

    fn of(figure: Decimal, unit: &str) -> Option<Result<(Self, bool), Malformed>> {
        Self::in_unit(figure, unit)
    }
}

impl Measured for Mass {
    const UNITS: &'static [&'static str] = &["kg", "t", "lb"];

    fn of(figure: Decimal, unit: &str) -> Option<Result<(Self, bool), Malformed>> {
        Self::in_unit(figure, unit)
    }
}

/// A unit in a sentence.
pub(super) fn in_words(unit: &str) -> &str {
    match unit {
        "in" => "inches",
        "ft" => "feet",
        other => other,
    }
}

/// Reads a cell: a bare number in the header's unit or, under a header without one, a number with
/// its own unit. Says whether anything of it was lost, too.
pub(super) fn measured<T: Measured>(
    cell: &str,
    unit: Option<&str>,
) -> Result<(T, bool), Malformed> {
    let fault = |expected: String| Malformed::new(0, expected);
    match unit {
        Some(unit) => {
            let figure = number(cell).ok_or_else(|| {
                let unit = in_words(unit);
                fault(format!("a number in {unit}, without unit or thousands marks"))
            })?;
            match T::of(figure, unit) {
                Some(read) => read,
                None => Err(fault(format!("{}, not {unit}", T::FORM))),
            }
        }
        None => {
            let text = pointed(cell).ok_or_else(|| fault(T::FORM.to_owned()))?;
            let is_rounded = T::is_rounded(&text);
            T::read(&text).map(|value| (value, is_rounded)).map_err(|malformed| {
                if malformed.is_range {
                    return malformed;
                }
                fault(format!(
                    "{}, or a unit in the header, such as \"Length (mm)\"",
                    malformed.expected
                ))
            })
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headers_end_in_their_unit() {
        for (cell, name, unit) in [
            ("Length (cm)", "length", Some("cm")),
            ("length_mm", "length", Some("mm")),
            ("  Weighed mass [kg] ", "weighed mass", Some("kg")),
            ("Height in", "height", Some("in")),
            ("Slab No.", "slab no", None),
            ("M", "m", None),
        ] {
            assert_eq!(header(cell), Header { name: name.to_owned(), unit }, "{cell}");
        }
    }

    #[test]
    fn delimiters_are_counted_outside_quotes() {
        assert_eq!(delimiter("slab;bundle;\"a,b,c\"\n"), b';');
        assert_eq!(delimiter("slab,bundle,length mm\n"), b',');
        assert_eq!(delimiter("slab\tbundle\n"), b'\t');
        assert_eq!(delimiter("slab"), b',');
    }

    #[test]
    fn decimal_comma_but_no_thousands() {
        assert_eq!(number("310,5"), number("310.5"));
        assert_eq!(number("1.234,5"), None);
        assert_eq!(number("1,234.5"), None);
        for bad in ["", ".", ",5", "5,", "1.2.3", "1 2", "-", "1e3"] {
            assert_eq!(number(bad), None, "{bad:?}");
        }
        assert_eq!(number("-3.10").map(|figure| figure.to_string()).as_deref(), Some("-3.10"));
        assert_eq!(number("3,10").map(|figure| figure.to_string()).as_deref(), Some("3.10"));
        assert_eq!(
            measured::<Length>("310,5", Some("cm")),
            Ok((Length::read("3105 mm").unwrap(), false))
        );
        assert_eq!(
            measured::<Length>("122.25 in", None),
            Ok((Length::read("3105.15 mm").unwrap(), false))
        );
        assert!(measured::<Length>("310", None).is_err());
        assert!(measured::<Length>("310", Some("kg")).is_err());
        assert!(measured::<Length>("", Some("mm")).is_err());
    }
}
