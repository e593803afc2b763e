//! Separated lists and pasted tables as cells: commas, semicolons, tabs, strokes, or runs of spaces.

use std::ops::Range;
use std::sync::Arc;

use super::grid::Grid;
use crate::fault::{Code, Fault, Report, Reported, Source};

/// What parts the cells of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    Sign(char),
    /// Two spaces or more.
    Gap,
}

/// The text as cells. What parts them is the mark by which the most lines have the same number of cells.
pub(super) fn read(source: &Arc<Source>, report: &mut Report) -> Result<Grid, Reported> {
    if source.text.trim().is_empty() {
        let fault = Fault::error(Code::MissingKey, format!("{} is empty", source.name));
        return Err(report.error(fault.in_file(&source.name)));
    }
    let mark = mark(&source.text);
    let (mut cells, mut row, mut start) = (Vec::new(), 0, 0);
    while start < source.text.len() {
        let rest = source.text.get(start..).unwrap_or("");
        let (line, parts) = line(rest, mark);
        let is_rule = line
            .chars()
            .all(|c| matches!(c, '-' | '=' | '+' | '|' | ':' | '_') || c.is_whitespace());
        for (column, (span, text)) in parts.into_iter().enumerate().filter(|_| !is_rule) {
            if !text.trim().is_empty() {
                cells.push(((row, column), start + span.start..start + span.end, text));
            }
        }
        // A quoted cell may run over ends of lines.
        row += line.matches('\n').count() + 1;
        start += line.len() + 1;
    }
    Grid::of_text(source, cells, report)
}

/// The mark that parts the cells of a text.
fn mark(text: &str) -> Mark {
    let marks = [Mark::Sign('\t'), Mark::Sign(';'), Mark::Sign('|'), Mark::Gap, Mark::Sign(',')];
    // How many cells most lines have, and how many lines have so many.
    let alike = |mark: Mark| {
        let mut counts: Vec<usize> = text
            .lines()
            .filter(|line| !line.trim().is_empty())
            .take(200)
            .map(|one| line(one, mark).1.len())
            .filter(|count| *count > 1)
            .collect();
        counts.sort_unstable();
        let runs = counts
            .chunk_by(|one, other| one == other)
            .map(|run| run.len() * run.first().copied().unwrap_or(0));
        runs.max().unwrap_or(0)
    };
    let best = marks.into_iter().rev().max_by_key(|mark| alike(*mark));
    // Marks that are seldom within a figure count before a comma, which is a decimal one as often.
    let sure = marks.into_iter().take(3).find(|mark| {
        let lines = text.lines().filter(|line| !line.trim().is_empty());
        let (with, all) = lines.fold((0, 0), |(with, all), one| {
            (with + usize::from(line(one, *mark).1.len() > 2), all + 1)
        });
        with * 2 > all
    });
    sure.or(best).unwrap_or(Mark::Sign(','))
}

/// The first line of a text, over whose end a quoted cell may run, and its cells.
fn line(text: &str, mark: Mark) -> (&str, Vec<(Range<usize>, String)>) {
    let (mut cells, mut cell, mut from) = (Vec::new(), String::new(), 0);
    let (mut quoted, mut end) = (false, text.len());
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        let next = chars.peek().map(|(_, next)| *next);
        let is_mark = match mark {
            Mark::Sign(sign) => c == sign,
            Mark::Gap => c == '\t' || (c == ' ' && next == Some(' ') && !cell.is_empty()),
        };
        match c {
            '"' if quoted && next == Some('"') => {
                cell.push('"');
                chars.next();
            }
            '"' if quoted => quoted = false,
            // A mark of inches stands behind its figure; a cell is quoted from its start on.
            '"' if mark != Mark::Gap
                && cell.trim().is_empty()
                && closes(text.get(at + 1..), mark) =>
            {
                cell.clear();
                quoted = true;
            }
            '\n' if !quoted => {
                end = at;
                break;
            }
            _ if is_mark && !quoted => {
                cells.push((from..at, std::mem::take(&mut cell)));
                while mark == Mark::Gap && chars.peek().is_some_and(|(_, next)| *next == ' ') {
                    chars.next();
                }
                from = chars.peek().map_or(text.len(), |(at, _)| *at);
            }
            '\r' => {}
            ' ' if mark == Mark::Gap && cell.is_empty() => from = at + 1,
            other => cell.push(other),
        }
    }
    cells.push((from.min(end)..end, cell));
    let spans = |(span, cell): (Range<usize>, String)| (trimmed(text, span), cell);
    (text.get(..end).unwrap_or(""), cells.into_iter().map(spans).collect())
}

/// The span of a cell without the blanks around it.
fn trimmed(text: &str, span: Range<usize>) -> Range<usize> {
    let own = text.get(span.clone()).unwrap_or("");
    let start = span.start + own.len() - own.trim_start().len();
    start..start + own.trim().len()
}

/// Whether a quote is closed before a mark or the end of a line.
fn closes(rest: Option<&str>, mark: Mark) -> bool {
    let Some(rest) = rest else { return false };
    rest.match_indices('"').take(50).any(|(at, _)| {
        let after = rest.get(at + 1..).and_then(|rest| rest.chars().next());
        after.is_none_or(|c| matches!(c, '\n' | '\r') || Mark::Sign(c) == mark)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(text: &str) -> Vec<Vec<String>> {
        let mark = mark(text);
        text.lines()
            .map(|one| {
                line(one, mark).1.into_iter().map(|(_, cell)| cell.trim().to_owned()).collect()
            })
            .collect()
    }

    #[test]
    fn cells_are_parted_by_what_parts_most_lines_alike() {
        for text in [
            "slab,bundle,length\n1,B1,280.5\n2,B1,281",
            "slab;bundle;length\n1;B1;280,5\n2;B1;281",
            "slab\tbundle\tlength\n1\tB1\t280,5\n2\tB1\t281",
            "slab   bundle  length\n1      B1      280,5\n2      B1      281",
            "| slab | bundle | length |\n| 1 | B1 | 280,5 |\n| 2 | B1 | 281 |",
        ] {
            let rows = shown(text);
            let filled = |row: &Vec<String>| row.iter().filter(|one| !one.is_empty()).count();
            assert!(rows.iter().all(|row| filled(row) == 3), "{rows:?}");
        }
    }

    #[test]
    fn a_quote_opens_a_cell_and_an_inch_mark_ends_a_figure() {
        assert_eq!(shown("a,\"b, c\",d\n1,2,3"), [["a", "b, c", "d"], ["1", "2", "3"]]);
        assert_eq!(shown("a;120 1/2\";75\"\n1;2;3")[0], ["a", "120 1/2\"", "75\""]);
    }
}
