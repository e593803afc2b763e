//! Faults as text: the line itself, a pointer into it, what was expected, what to do.

use std::fmt::Write;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::unseen::plain;
use super::wrap::{held, wrapped};
use super::{Fault, Place, Report, Severity};
use crate::quantity::grouped;

/// The longest text of a user's file that a sentence quotes, in characters.
const LONGEST_QUOTE: usize = 300;

/// The longest part of a line that is pointed at, in characters; where the line is longer, what
/// is far from it is left out.
const LONGEST_MARK: usize = 100;

/// The longest help, in characters: it may offer a text of the user's file, corrected.
const LONGEST_HELP: usize = 1_000;

/// The most faults that are shown; of the others there is a count.
const MOST_SHOWN: usize = 200;

/// Help is broken into lines of at most so many columns.
const HELP_WIDTH: usize = 88;

/// A text of the user's made safe to print on one line: what is not seen is shown, not obeyed, and what
/// is very long is cut.
pub fn printable(text: &str) -> String {
    one_line(text, LONGEST_QUOTE)
}

fn one_line(text: &str, longest: usize) -> String {
    let cut = text.char_indices().nth(longest).map(|(at, _)| at);
    let (head, tail) = cut.map_or((text, ""), |at| (text.get(..at).unwrap_or(text), " ..."));
    // Our own sentences may have several lines.
    plain(&head.replace(['\n', '\t'], " ")).into_owned() + tail
}

/// Renders the faults of a report, worst first, and counts those that are too many to be read. Text from the user's files is shown with what
/// is not seen escaped.
pub fn render(report: &Report, colour: bool) -> String {
    let renderer = if colour { Renderer::styled() } else { Renderer::plain() };
    let mut out = String::new();
    let all = report.sorted();
    for fault in all.iter().take(MOST_SHOWN) {
        out.push_str(&render_one(fault, report, &renderer));
        out.push_str("\n\n");
    }
    if let Some(more @ 1..) = all.len().checked_sub(MOST_SHOWN) {
        // Writing to a string cannot fail.
        let _ = write!(out, "and {} more\n\n", grouped(more.into()));
    }
    out
}

/// A line of a file made safe to print, and the span of the fault within it.
struct Shown {
    text: String,
    span: std::ops::Range<usize>,
    /// The file, safe to print, and the line.
    file: String,
    line: usize,
    label: String,
}

fn render_one(fault: &Fault, report: &Report, renderer: &Renderer) -> String {
    let level = match fault.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let places = fault.place.iter().chain(&fault.also);
    let shown: Vec<Shown> = places.map(|(place, label)| show(place, label, report)).collect();
    let message = printable(&fault.message);
    let mut group = Group::with_title(level.primary_title(message).id(fault.code.name()));
    for (index, one) in shown.iter().enumerate() {
        let kind = if index == 0 && fault.place.is_some() {
            AnnotationKind::Primary
        } else {
            AnnotationKind::Context
        };
        let annotation = kind.span(one.span.clone()).label(one.label.as_str());
        group = group.element(
            Snippet::source(one.text.as_str())
                .path(one.file.as_str())
                .line_start(one.line)
                .annotation(annotation),
        );
    }
    for help in &fault.help {
        group =
            group.element(Level::HELP.message(
                wrapped("", "", &held(&one_line(help, LONGEST_HELP)), HELP_WIDTH).join("\n"),
            ));
    }
    renderer.render(&[group])
}

fn show(place: &Place, label: &str, report: &Report) -> Shown {
    let mut text = String::new();
    let mut span = 0..0;
    if let Some(source) = report.source(&place.file) {
        let line = source.line_text(place.line);
        let start = source.line_start(place.line);
        let from = place.span.start.saturating_sub(start).min(line.len());
        let to = place.span.end.saturating_sub(start).clamp(from, line.len());
        let marked = line.get(from..to).unwrap_or("");
        let to = marked.char_indices().nth(LONGEST_MARK).map_or(to, |(at, _)| from + at);
        let safe = |range: std::ops::Range<usize>| {
            plain(&line.get(range).unwrap_or("").replace('\t', " ")).into_owned()
        };
        let (before, marked, after) = (safe(0..from), safe(from..to), safe(to..line.len()));
        span = before.len()..before.len() + marked.len();
        text = before + &marked + &after;
    }
    Shown { text, span, file: printable(&place.file), line: place.line, label: printable(label) }
}

#[cfg(test)]
mod tests {
    use super::super::{Code, Source};
    use super::*;
    use std::sync::Arc;

    #[test]
    fn a_fault_shows_its_line_what_was_expected_and_what_to_do() {
        let text = "to = \"savannah\"\nprice = \"46 EUR/yd2\"\n".to_owned();
        let source = Arc::new(Source::new("shipments/demo/shipment.toml", text));
        let mut report = Report::new();
        report.keep(&source);
        let place = source.place(31..34);
        report.add(Fault::warning(Code::Notice, "a lesser thing"));
        report.add(
            Fault::error(Code::BadQuantity, "`price` cannot be read")
                .at(&place, "expected m2")
                .help("write \"46 EUR/m2\""),
        );
        let expected = "\
error[bad-quantity]: `price` cannot be read
 --> shipments/demo/shipment.toml:2:16
  |
2 | price = \"46 EUR/yd2\"
  |                ^^^ expected m2
  |
  = help: write \"46 EUR/m2\"

warning[notice]: a lesser thing

";
        assert_eq!(render(&report, false), expected);
    }

    #[test]
    fn control_characters_are_shown_not_obeyed() {
        let source = Arc::new(Source::new("a.csv", "x\u{1b}[31m,y\n".to_owned()));
        let mut report = Report::new();
        report.keep(&source);
        report
            .add(Fault::error(Code::Duplicate, "twice \u{1b}[0m").at(&source.place(0..6), "here"));
        assert!(!render(&report, false).contains('\u{1b}'));
    }
}
