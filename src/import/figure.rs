//! Figures of cells: decimals, sizes of two or three sides, fractions and marks of inches.

use super::grid::{Day, Value};
use crate::quantity::Decimal;
use crate::read::{figure_in_words, inches, unit_of};

/// A figure, and the unit that stands beside it in its cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Figure {
    pub(super) value: Decimal,
    pub(super) unit: Option<&'static str>,
}

/// Why a cell holds no figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Odd {
    /// Other words.
    Words,
    /// A day, which a spreadsheet has made of something else.
    Day(Day),
    /// What a spreadsheet puts in place of a value.
    Error,
    /// A formula whose value was not stored.
    NoValue,
}

/// The figure of a cell.
pub(super) fn figure(value: &Value) -> Result<Figure, Odd> {
    match value {
        Value::Number(number) => Ok(Figure { value: *number, unit: None }),
        Value::Text(text) => in_words(text).ok_or(Odd::Words),
        Value::Day(day) => Err(Odd::Day(*day)),
        Value::Error(_) => Err(Odd::Error),
        Value::Unstored => Err(Odd::NoValue),
    }
}

/// Two sides and, where it is there, the thickness, in the one unit that any of them names.
pub(super) fn sides(value: &Value) -> Result<(Figure, Figure, Option<Figure>), Odd> {
    let text = match value {
        Value::Text(text) => text,
        other => return Err(figure(other).err().unwrap_or(Odd::Words)),
    };
    let parts: Vec<&str> = text.split(['x', 'X', '\u{d7}', '*', '\u{445}', '\u{425}']).collect();
    let read = |part: &&str| in_words(part);
    let figures: Option<Vec<Figure>> = parts.iter().map(read).collect();
    let Some(mut figures) = figures else { return Err(Odd::Words) };
    let unit = figures.iter().rev().find_map(|one| one.unit);
    for one in &mut figures {
        one.unit = one.unit.or(unit);
    }
    match figures[..] {
        [length, height] => Ok((length, height, None)),
        [length, height, thickness] => Ok((length, height, Some(thickness))),
        _ => Err(Odd::Words),
    }
}

fn in_words(text: &str) -> Option<Figure> {
    let text = text.trim();
    if let Some(value) = inches(text) {
        return Some(Figure { value, unit: Some("in") });
    }
    let is_figure = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',' | '-' | '+');
    let end = text.find(|c| !is_figure(c)).unwrap_or(text.len());
    let (figure, rest) = text.split_at(end);
    let value = figure_in_words(figure.trim_end_matches([',', '.']))?;
    let rest = rest.trim();
    let unit = if rest.is_empty() { None } else { Some(unit_of(rest)?) };
    Some(Figure { value, unit })
}

/// The figure that a text opens with, such as 12 of "12 slabs".
pub(super) fn opening(value: &Value) -> Option<Decimal> {
    match value {
        Value::Text(text) => {
            let head: String = text.chars().take_while(char::is_ascii_digit).collect();
            figure_in_words(&head)
        }
        other => figure(other).ok().map(|one| one.value),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> String {
        let one = |one: Figure| format!("{}{}", one.value, one.unit.unwrap_or(""));
        match sides(&Value::Text(text.to_owned())) {
            Ok((length, height, None)) => format!("{} {}", one(length), one(height)),
            Ok((length, height, Some(thick))) => {
                format!("{} {} {}", one(length), one(height), one(thick))
            }
            Err(_) => "none".to_owned(),
        }
    }

    #[test]
    fn two_sides_stand_in_one_cell_in_many_ways() {
        for (text, read) in [
            ("305x192", "305 192"),
            ("3.05 x 1.92", "3.05 1.92"),
            ("3,05 X 1,92 m", "3.05m 1.92m"),
            ("305 \u{d7} 192 \u{d7} 2 cm", "305cm 192cm 2cm"),
            ("305*192", "305 192"),
            ("120 1/2\" x 75\u{bd}\"", "120.5in 75.5in"),
            ("305", "none"),
            ("305 by 192", "none"),
            ("x", "none"),
            ("", "none"),
        ] {
            assert_eq!(shown(text), read, "{text}");
        }
    }

    #[test]
    fn a_figure_has_its_unit_beside_it() {
        let read = |text: &str| {
            figure(&Value::Text(text.to_owned())).ok().map(|one| (one.value.to_string(), one.unit))
        };
        assert_eq!(read("282,5"), Some(("282.5".to_owned(), None)));
        assert_eq!(read("1.234,5"), Some(("1234.5".to_owned(), None)));
        assert_eq!(read("75\u{bd}\""), Some(("75.5".to_owned(), Some("in"))));
        assert_eq!(read("2 cm"), Some(("2".to_owned(), Some("cm"))));
        assert_eq!(read("20MM"), Some(("20".to_owned(), Some("mm"))));
        assert_eq!(read("7 slabs"), None);
    }
}
