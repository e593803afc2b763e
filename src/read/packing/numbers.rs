//! How many slabs a row stands for, and the number of each.

use smol_str::{SmolStr, format_smolstr};

use super::super::rows::Row;
use super::super::slips;
use super::layout::Column;
use super::reading::{Cause, Reading};
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::{count_of, grouped};

/// More slabs than one row stands for (a choice of ours).
const MOST_IN_ROW: u64 = 1_000;

impl Reading<'_> {
    /// The numbers of a row's slabs: its own or, where it counts several, those of the range that
    /// its number is, such as "1-7". A count is never passed over.
    pub(super) fn numbers(
        &mut self,
        id: &str,
        record: &Row<'_>,
        report: &mut Report,
    ) -> Result<Vec<SmolStr>, Reported> {
        let Some((cell, index)) = self.cell(record, Column::Count) else {
            return Ok(vec![id.into()]);
        };
        let count = cell.parse::<u64>().ok().filter(|count| (1..=MOST_IN_ROW).contains(count));
        let Some(count) = count else {
            let message = format!("\"{cell}\" is no count of slabs");
            let place = self.cell_place(record.line, index);
            let label = format!("expected a whole number from 1 to {MOST_IN_ROW}");
            let fault = Fault::error(Code::BadQuantity, message).at(&place, label);
            return Err(self.fault(fault, report));
        };
        if count == 1 {
            return Ok(vec![id.into()]);
        }
        let named = slab_range(id);
        if let Some(meant) = date_as_range(id, Some(count)) {
            let place = self.ground.source.line(record.line);
            let fault =
                Fault::error(Code::Contradiction, format!("slab number \"{id}\" is a date"))
                    .at(&place, format!("the spreadsheet turned it into a date: is {meant} meant?"))
                    .help(AS_TEXT);
            return Err(self.first(Cause::Dates, |_| fault, report));
        }
        let (message, help) = match named {
            Some(all) if u64::try_from(all.len()) == Ok(count) => return Ok(all),
            Some(all) => (
                format!(
                    "the row counts {}, and \"{id}\" is {}",
                    count_of(count, "slab"),
                    grouped(all.len().into())
                ),
                {
                    let first = all.first().map_or(id, SmolStr::as_str);
                    format!("write \"{}\", or the count {}", range_from(first, count), all.len())
                },
            ),
            None => (
                format!(
                    "the row counts {}, and \"{id}\" is no range of numbers",
                    count_of(count, "slab")
                ),
                format!("write \"{}\", or give each slab a row", range_from(id, count)),
            ),
        };
        let place = self.cell_place(record.line, index);
        let fault = Fault::error(Code::Contradiction, message).at(&place, "slabs on this row");
        Err(self.fault(fault.help(help), report))
    }
}

/// What to do where a spreadsheet made dates of numbers.
pub(super) const AS_TEXT: &str = "format the column as text, and type the numbers anew";

/// The range that a spreadsheet turned into a date, such as 1-7 from "07-Jan". With a count it is the range of
/// that many; else the one that rises.
pub fn date_as_range(id: &str, count: Option<u64>) -> Option<String> {
    let (day, month) = slips::day_and_month(id)?;
    let fits = |first: u64, last: u64| match count {
        Some(count) => first.checked_add(count) == last.checked_add(1),
        None => first < last,
    };
    let is_day_first = fits(day, month) || (!fits(month, day) && day < month);
    Some(if is_day_first { format!("{day}-{month}") } else { format!("{month}-{day}") })
}

/// A range of numbers, such as "1-7": what stands before each, and the first and the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Span<'a> {
    head: &'a str,
    first: u64,
    last: u64,
    /// The figures of the first, its zeros among them.
    width: usize,
    /// What stands between the two.
    mark: &'static str,
}

/// Marks that stand between two numbers and in no number.
const MARKS: [&str; 5] = ["..", " - ", " to ", "~", "\u{2013}"];

/// Marks that stand in the numbers of slabs, too, as in "410-12".
const MARKS_OF_NAMES: [&str; 2] = ["-", "/"];

/// The range that a text is, such as "1-7", "A01-A07", "410-01 - 410-07", "410-01/07" or "1 to 7".
fn span(text: &str) -> Option<Span<'_>> {
    MARKS
        .into_iter()
        .chain(MARKS_OF_NAMES)
        .flat_map(|mark| text.match_indices(mark).map(move |(at, _)| (at, mark)))
        .find_map(|(at, mark)| {
            let (head, first) = numbered(text.get(..at)?.trim())?;
            let (other, last) = numbered(text.get(at + mark.len()..)?.trim())?;
            let width = first.len();
            let (first, last) = (first.parse::<u64>().ok()?, last.parse::<u64>().ok()?);
            let fits =
                (other.is_empty() || other == head) && first < last && last - first < MOST_IN_ROW;
            fits.then_some(Span { head, first, last, width, mark })
        })
}

/// The numbers of a range, in their own width.
pub fn slab_range(text: &str) -> Option<Vec<SmolStr>> {
    let Span { head, first, last, width, .. } = span(text)?;
    Some((first..=last).map(|one| format_smolstr!("{head}{one:0width$}")).collect())
}

/// Of numbers that each count as one slab, those that are most likely ranges: the position, and how many
/// slabs it is. A number such as "12-15" may be slab 15 of block 12. It is a range where no other
/// number of the list is in it, and where none has the same mark and is no range.
pub(super) fn uncounted<'a>(numbers: impl Iterator<Item = &'a str>) -> Vec<(usize, u64)> {
    let all: Vec<&str> = numbers.collect();
    let spans: Vec<(usize, Span<'_>)> =
        all.iter().enumerate().filter_map(|(at, text)| Some((at, span(text)?))).collect();
    if spans.is_empty() {
        return Vec::new();
    }
    let is_range = |at: usize| spans.binary_search_by_key(&at, |(other, _)| *other).is_ok();
    let [names_dash, names_stroke] = MARKS_OF_NAMES
        .map(|mark| all.iter().enumerate().any(|(at, text)| text.contains(mark) && !is_range(at)));
    let mut taken: Vec<(&str, u64, u64)> = spans
        .iter()
        .map(|(_, span)| (span.head, span.first, span.last))
        .chain(all.iter().enumerate().filter(|(at, _)| !is_range(*at)).filter_map(|(_, text)| {
            let (head, figures) = numbered(text)?;
            let number = figures.parse().ok()?;
            Some((head, number, number))
        }))
        .collect();
    taken.sort_unstable();
    let meet = taken.windows(2).any(
        |two| matches!(two, [(head, _, last), (next, first, _)] if head == next && first <= last),
    );
    let is_name = |span: &Span<'_>| match span.mark {
        "-" => names_dash || meet,
        "/" => names_stroke || meet,
        _ => false,
    };
    let likely = spans.iter().filter(|(_, span)| !is_name(span));
    likely.map(|(at, span)| (*at, span.last + 1 - span.first)).collect()
}

/// The range of so many slabs that begins with a number.
fn range_from(id: &str, count: u64) -> String {
    let Some((head, figures)) = numbered(id) else { return format!("{id}1-{id}{count}") };
    let last = figures.parse::<u64>().ok().and_then(|first| first.checked_add(count - 1));
    let last = last.unwrap_or(count);
    let mark = if id.contains(['-', '/']) { " - " } else { "-" };
    format!("{id}{mark}{head}{last:0width$}", width = figures.len())
}

/// A number's head and the figures it ends in.
fn numbered(text: &str) -> Option<(&str, &str)> {
    let head = text.trim_end_matches(|c: char| c.is_ascii_digit());
    let figures = text.get(head.len()..)?;
    (!figures.is_empty()).then_some((head, figures))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_have_each_number_once() {
        let shown = |text| slab_range(text).map(|all| all.join(" "));
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(shown("1-3"), some("1 2 3"));
        assert_eq!(shown("A08 - A10"), some("A08 A09 A10"));
        assert_eq!(shown("A9..11"), some("A9 A10 A11"));
        for text in ["410-01 - 410-03", "410-01/03", "410-01-410-03", "410-01-03", "410-01~03"] {
            assert_eq!(shown(text), some("410-01 410-02 410-03"), "{text}");
        }
        for text in ["1 to 3", "1~3", "1/3", "1 - 3"] {
            assert_eq!(shown(text), some("1 2 3"), "{text}");
        }
        for none in ["7", "7-7", "7-5", "A1-B3", "1-", "-3", "1-2000", "410-01", "7-1"] {
            assert_eq!(shown(none), None, "{none}");
        }
    }

    #[test]
    fn a_name_with_a_mark_in_it_is_no_range() {
        let told = |text: &str| uncounted(text.split(", "));
        for (list, at, slabs) in [
            ("1-7", 0, 7),
            ("1, 2, 3-9", 2, 7),
            ("A1, 1-7, A2", 1, 7),
            ("410-01, 410-02, 410-03 - 410-09", 2, 7),
            ("410-01/07, 410-08, 410-09", 0, 7),
            ("1 to 7", 0, 7),
            ("9, 1~7", 1, 7),
        ] {
            assert_eq!(told(list), [(at, slabs)], "{list}");
        }
        assert_eq!(told("1-7, 8-14, 15-20"), [(0, 7), (1, 7), (2, 6)]);
        for none in [
            "410-01",
            "7-1",
            "7-1, 7-2, 7-8",
            "12-15, 12-16, 12-17",
            "7-1, 8-9",
            "1/7, 2/7, 3/7",
            "1-7, 3",
            "A1, A2",
        ] {
            assert_eq!(told(none), [], "{none}");
        }
    }

    #[test]
    fn a_date_is_the_range_that_a_spreadsheet_made_it_of() {
        for (date, count, meant) in [
            ("07-Jan", Some(7), "1-7"),
            ("14-Aug", Some(7), "8-14"),
            ("01-Jul", Some(7), "1-7"),
            ("Jan-07", None, "1-7"),
            ("7. Jan", None, "1-7"),
        ] {
            assert_eq!(date_as_range(date, count).as_deref(), Some(meant), "{date}");
        }
        for none in ["A-7", "1-7", "Jan", "45-Jan", "Mai-3"] {
            assert_eq!(date_as_range(none, None), None, "{none}");
        }
    }

    #[test]
    fn a_count_on_one_number_is_told_the_range_to_write() {
        assert_eq!(range_from("A1", 5), "A1-A5");
        assert_eq!(range_from("08", 5), "08-12");
        assert_eq!(range_from("410-01", 5), "410-01 - 410-05");
        assert_eq!(range_from("B", 5), "B1-B5");
        for text in ["A1-A5", "08-12", "410-01 - 410-05", "B1-B5"] {
            assert_eq!(slab_range(text).map(|all| all.len()), Some(5), "{text}");
        }
    }
}
