//! The lines of a proforma in the text of a shipment: they stand in the place of those that are there.

use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, Value};

use super::offer::{put, the_only};
use crate::fault::{Code, Fault, Report, Reported};
use crate::import::{Proforma, ProformaLine};
use crate::quantity::{Price, PricedBy};
use crate::read::words;
use crate::trade::Tariffs;

/// What the user adds about lines, where the proforma says nothing that the tables know.
#[derive(Debug, Default)]
pub struct OfLines {
    /// The stone: an `id` of rates/stones.toml.
    pub stone: Option<String>,
    /// The finish.
    pub finish: Option<String>,
    /// The thickness: "20 mm".
    pub thickness: Option<String>,
}

/// The text of a shipment with the lines of a proforma. Beside a packing list a line has what the supplier bills;
/// without one it has a quantity.
///
/// # Errors
/// Where a line's goods are in no table, or the shipment has several invoices.
pub fn with_lines(
    (name, text, is_listed): (&str, &str, bool),
    proforma: &Proforma,
    (said, tariffs): (&OfLines, &Tariffs),
    report: &mut Report,
) -> Result<String, Reported> {
    let mut lines = ArrayOfTables::new();
    let mut told = Ok(());
    for (at, line) in proforma.lines.iter().enumerate() {
        match row(line, (at, is_listed), said, tariffs) {
            Ok(row) => lines.push(row),
            Err(fault) => told = Err(report.error(*fault)),
        }
    }
    told?;
    let wrong = |why: String| Fault::error(Code::Contradiction, why).in_file(name);
    let file: Result<DocumentMut, _> = text.parse();
    let mut file = file.map_err(|_| report.error(wrong(format!("{name} cannot be read"))))?;
    let invoice = the_only(file.as_table_mut(), "invoice", name);
    let invoice = invoice.map_err(|why| report.error(wrong(why)))?;
    for key in ["basis", "total", "discount", "rounding", "line"] {
        invoice.remove(key);
    }
    let amounts = [
        ("discount", proforma.discount),
        ("rounding", proforma.rounding),
        ("total", proforma.total),
    ];
    for (key, amount) in amounts {
        if let Some(amount) = amount {
            put(invoice, key, Value::from(amount.written()));
        }
    }
    if let Some(term) = &proforma.term {
        put(invoice, "term", Value::from(term.as_str()));
    }
    invoice.insert("line", Item::ArrayOfTables(lines));
    Ok(file.to_string())
}

/// A line as the file has it.
fn row(
    line: &ProformaLine,
    (at, is_listed): (usize, bool),
    said: &OfLines,
    tariffs: &Tariffs,
) -> Result<Table, Box<Fault>> {
    let stones = tariffs.stones.iter().map(|one| (one.id.as_str(), one.name.as_str()));
    let finishes = tariffs.finishes.iter().map(|one| (one.id.as_str(), ""));
    let finish = line.finish.as_deref().unwrap_or(&line.goods);
    let stone = known(line, ("stone", &line.goods), said.stone.as_deref(), stones)?;
    let finish = known(line, ("finish", finish), said.finish.as_deref(), finishes)?;
    let thickness = line.thickness.as_ref().or(said.thickness.as_ref());
    let thickness =
        thickness.ok_or_else(|| unknown(line, "says no thickness", "thickness", &[]))?;
    let Price { amount, currency, by } = line.price;
    let price = format!("{amount} {currency}/{}", by.word());
    let mut row = Table::new();
    let texts = [
        ("id", id(at)),
        ("stone", stone),
        ("finish", finish),
        ("thickness", thickness.clone()),
        ("price", price),
    ];
    for (key, text) in texts {
        put(&mut row, key, Value::from(text));
    }
    if let Some(quality) = &line.quality {
        let ours = tariffs.qualities.iter().map(|one| (one.id.as_str(), one.name.as_str()));
        if let [quality] = &named(quality, ours)[..] {
            put(&mut row, "quality", Value::from(quality.as_str()));
        }
    }
    let quantity = format!("{} {}", line.quantity.normalize(), by.word());
    match (is_listed, by) {
        (true, _) => {
            let mut billed = toml_edit::InlineTable::new();
            billed.insert("quantity", Value::from(quantity));
            billed.insert("amount", Value::from(line.amount.written()));
            put(&mut row, "billed", Value::from(billed));
        }
        (false, PricedBy::M2 | PricedBy::Ft2) => put(&mut row, "quantity", Value::from(quantity)),
        (false, _) => {}
    }
    Ok(row)
}

/// The id of a line: A to Z, then L27.
fn id(at: usize) -> String {
    let letter = u8::try_from(at).ok().filter(|at| *at < 26).map(|at| char::from(b'A' + at));
    letter.map_or_else(|| format!("L{}", at + 1), String::from)
}

/// The ids of what a text names, by id or by name: all of its words in a row.
fn named<'t>(text: &str, rows: impl Iterator<Item = (&'t str, &'t str)>) -> Vec<String> {
    let own = words(text);
    let holds = |name: &str| {
        let name = words(name.split('(').next().unwrap_or_default());
        !name.is_empty() && own.windows(name.len()).any(|some| some == name)
    };
    rows.filter(|(id, name)| holds(id) || holds(name)).map(|(id, _)| id.to_owned()).collect()
}

/// The row that a line names. Where it names none, the one that the user said.
fn known<'t>(
    line: &ProformaLine,
    (what, text): (&str, &str),
    said: Option<&str>,
    rows: impl Iterator<Item = (&'t str, &'t str)> + Clone,
) -> Result<String, Box<Fault>> {
    let found = named(text, rows.clone());
    let ids: Vec<&str> = rows.map(|(id, _)| id).collect();
    match (&found[..], said) {
        ([one], _) => Ok(one.clone()),
        ([], Some(said)) if ids.contains(&said) => Ok(said.to_owned()),
        ([], _) => Err(unknown(line, &format!("names no {what} of rates/stones.toml"), what, &ids)),
        (several, _) => {
            let message = format!("names {}: which {what} is it?", several.join(" and "));
            Err(unknown(line, &message, what, &[]))
        }
    }
}

fn unknown(line: &ProformaLine, wrong: &str, what: &str, ids: &[&str]) -> Box<Fault> {
    let message = format!("{}: \"{}\" {wrong}", line.called, crate::fault::plain(&line.goods));
    let fault = Fault::error(Code::UnknownReference, message).at(&line.place, "this line");
    let known = if ids.is_empty() { String::new() } else { format!(": {}", ids.join(", ")) };
    let example = ids.first().copied().unwrap_or("\"20 mm\"");
    Box::new(fault.help(format!(
        "say it for all lines that do not, --{what} {example}, or add it to the table{known}"
    )))
}
