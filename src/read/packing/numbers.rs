//! How many slabs a row stands for, and the number of each.

use smol_str::{SmolStr, format_smolstr};

use super::super::rows::Row;
use super::layout::Column;
use super::reading::Reading;
use crate::fault::{Code, Fault, Report};

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
    ) -> Option<Vec<SmolStr>> {
        let Some((cell, index)) = self.cell(record, Column::Count) else {
            return Some(vec![id.into()]);
        };
        let count = cell.parse::<u64>().ok().filter(|count| (1..=MOST_IN_ROW).contains(count));
        let Some(count) = count else {
            let message = format!("\"{cell}\" is no count of slabs");
            let place = self.cell_place(record.line, index);
            let label = format!("expected a whole number from 1 to {MOST_IN_ROW}");
            self.fault(Fault::error(Code::BadQuantity, message).at(&place, label), report);
            return None;
        };
        if count == 1 {
            return Some(vec![id.into()]);
        }
        let named = range(id);
        let is_whole = named.as_ref().is_some_and(|all| u64::try_from(all.len()) == Ok(count));
        if is_whole {
            return named;
        }
        let (message, help) = match named {
            Some(all) => (
                format!("the row counts {count} slabs, and \"{id}\" is {}", all.len()),
                "correct the count or the range of numbers".to_owned(),
            ),
            None => (
                format!("the row counts {count} slabs, and \"{id}\" is no range of numbers"),
                format!("give each slab a row, or the row a range, such as \"1-{count}\""),
            ),
        };
        let place = self.cell_place(record.line, index);
        let fault = Fault::error(Code::Contradiction, message).at(&place, "slabs on this row");
        self.fault(fault.help(help), report);
        None
    }
}

/// The first and the last number of a range such as "1-7".
pub(super) fn ends(text: &str) -> Option<(u64, u64)> {
    let all = range(text)?;
    let number = |one: Option<&SmolStr>| numbered(one?)?.1.parse::<u64>().ok();
    Some((number(all.first())?, number(all.last())?))
}

/// The numbers of a range such as "1-7", "A01-A07" or "12..18", in their own width.
fn range(text: &str) -> Option<Vec<SmolStr>> {
    let (first, last) = text.split_once("..").or_else(|| text.split_once(['-', '\u{2013}']))?;
    let (head, first) = numbered(first.trim())?;
    let (other, last) = numbered(last.trim())?;
    let width = first.len();
    let (first, last) = (first.parse::<u64>().ok()?, last.parse::<u64>().ok()?);
    let fits = (other.is_empty() || other == head) && first < last && last - first < MOST_IN_ROW;
    fits.then(|| (first..=last).map(|one| format_smolstr!("{head}{one:0width$}")).collect())
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
        let shown = |text| range(text).map(|all| all.join(" "));
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(shown("1-3"), some("1 2 3"));
        assert_eq!(shown("A08 - A10"), some("A08 A09 A10"));
        assert_eq!(shown("A9..11"), some("A9 A10 A11"));
        for none in ["7", "7-7", "7-5", "A1-B3", "1-", "-3", "1-2000"] {
            assert_eq!(shown(none), None, "{none}");
        }
    }
}
