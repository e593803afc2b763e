//! `[[way]]`: other ways to buy the same goods, each laid over an invoice of the shipment.
//!
//! Decided on 2026-11-27. A way has no reader of its own: its keys are laid over the invoice's and the lines',
//! and what comes of it is read as any invoice is. So every rule for an invoice holds for a way.

use super::super::table::{self, Laid, Table};
use crate::fault::{At, Code, Fault, Report, Reported, tried};
use crate::trade::{Invoice, Line};

/// A way over its invoice. What the supplier made out for the shipment as it is written is not for this way.
const OVER_INVOICE: Laid =
    Laid { own: &["id", "invoice", "line", "paper"], hides: &Invoice::BILLED, over: "[[invoice]]" };

/// A line of a way over the invoice's line.
const OVER_LINE: Laid = Laid { own: &["id"], hides: &[Line::BILLED], over: "[[invoice.line]]" };

/// A way to buy the goods other than as the shipment is written.
pub(super) struct Way<'a> {
    pub(super) id: String,
    /// Its tables, one for each invoice in which it differs.
    over: Vec<OneOver<'a>>,
}

/// What a way lays over one invoice.
struct OneOver<'a> {
    /// The invoice, by its position in the file.
    invoice: usize,
    row: Table<'a>,
    lines: Vec<(At<String>, Table<'a>)>,
}

/// Reads which ways there are, and over which invoices and lines they are laid.
pub(super) fn ways<'a>(top: &Table<'a>, report: &mut Report) -> Vec<Way<'a>> {
    let rows = top.rows("way", report).unwrap_or_default();
    let mut all: Vec<Way<'a>> = Vec::new();
    if rows.is_empty() {
        return all;
    }
    // What is wrong with them is told where they are read.
    let invoices = tried(|report| top.rows("invoice", report)).unwrap_or_default();
    for row in rows {
        let id = row.required_text("id", report);
        let invoice = invoice_of(&row, &invoices, report);
        let laid_over = invoice.ok().and_then(|at| invoices.get(at));
        let lines = lines_of(&row, laid_over, report);
        let (Ok(id), Ok(invoice)) = (id, invoice) else { continue };
        let over = OneOver { invoice, row, lines };
        match all.iter_mut().find(|way| way.id == id.value) {
            None => all.push(Way { id: id.value, over: vec![over] }),
            Some(way) => match way.over.iter().find(|first| first.invoice == invoice) {
                None => way.over.push(over),
                Some(first) => report.add(
                    Fault::error(Code::Duplicate, format!("two ways are called \"{}\"", way.id))
                        .at(&id.place, "again here")
                        .also(&first.row.place(), "first here"),
                ),
            },
        }
    }
    all
}

/// The invoice that a way is laid over: as named, or the only one.
fn invoice_of(
    row: &Table<'_>,
    invoices: &[Table<'_>],
    report: &mut Report,
) -> Result<usize, Reported> {
    let numbers: Vec<&str> = invoices.iter().map(|one| one.text_of("number")).collect();
    if !row.has("invoice") && numbers.len() > 1 {
        return Err(report.error(
            Fault::error(Code::MissingKey, "the way does not say which invoice it is for")
                .at(&row.place(), "`invoice` is needed here")
                .help(format!("name one of: {}", numbers.join(", "))),
        ));
    }
    let Some(named) = row.text("invoice", report)? else { return Ok(0) };
    let found = numbers.iter().position(|number| *number == named.value);
    found.ok_or_else(|| {
        report.error(table::unknown_reference("invoice", &named, "this shipment", &numbers))
    })
}

/// The lines of a way, each by the name of the line it is laid over.
fn lines_of<'a>(
    row: &Table<'a>,
    invoice: Option<&Table<'a>>,
    report: &mut Report,
) -> Vec<(At<String>, Table<'a>)> {
    let known = invoice.and_then(|invoice| tried(|report| invoice.rows("line", report)));
    let known: Option<Vec<&str>> =
        known.as_ref().map(|lines| lines.iter().map(|line| line.text_of("id")).collect());
    let mut all: Vec<(At<String>, Table<'a>)> = Vec::new();
    for line in row.rows("line", report).unwrap_or_default() {
        let Ok(id) = line.required_text("id", report) else { continue };
        if let Some((first, _)) = all.iter().find(|(one, _)| one.value == id.value) {
            report.add(
                Fault::error(Code::Duplicate, format!("the way has line \"{}\" twice", id.value))
                    .at(&id.place, "again here")
                    .also(&first.place, "first here"),
            );
        } else if let Some(known) = &known
            && !known.contains(&id.value.as_str())
        {
            report.add(table::unknown_reference("line", &id, "the invoice", known));
        } else {
            all.push((id, line));
        }
    }
    all
}

/// The way that is asked for; `None`: as the shipment is written.
pub(super) fn find<'w, 'a>(
    ways: &'w [Way<'a>],
    asked: Option<&str>,
    top: &Table<'a>,
    report: &mut Report,
) -> Result<Option<&'w Way<'a>>, Reported> {
    let Some(asked) = asked else { return Ok(None) };
    let found = ways.iter().find(|way| way.id == asked);
    found.map(Some).ok_or_else(|| {
        let known: Vec<&str> = ways.iter().map(|way| way.id.as_str()).collect();
        let named = At { value: asked.to_owned(), place: top.place() };
        let mut fault = table::unknown_reference("way", &named, "this shipment", &known);
        if known.is_empty() {
            fault.help =
                vec!["the shipment has no [[way]]: leave --way out, or add one".to_owned()];
        }
        report.error(Fault { place: None, ..fault }.in_file(&top.place().file))
    })
}

impl<'a> Way<'a> {
    /// An invoice of the file as this way has it.
    pub(super) fn invoice(&self, at: usize, row: Table<'a>) -> Table<'a> {
        match self.over(at) {
            Some(over) => row.under(&over.row, &OVER_INVOICE),
            None => row,
        }
    }

    /// A line of an invoice as this way has it.
    pub(super) fn line(&self, invoice: usize, row: Table<'a>) -> Table<'a> {
        let lines = self.over(invoice).map_or(&[][..], |over| &over.lines);
        match lines.iter().find(|(id, _)| id.value == row.text_of("id")) {
            Some((_, line)) => row.under(line, &OVER_LINE),
            None => row,
        }
    }

    /// Its own tables, for what it states of the shipment as a whole.
    pub(super) fn rows(&self) -> impl Iterator<Item = &Table<'a>> {
        self.over.iter().map(|over| &over.row)
    }

    fn over(&self, invoice: usize) -> Option<&OneOver<'a>> {
        self.over.iter().find(|over| over.invoice == invoice)
    }
}
