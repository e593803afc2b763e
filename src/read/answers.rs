//! What was answered for a supplier's lists, kept in a small file beside the shipments.

use std::path::{Path, PathBuf};

use super::table::{Table, parse};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::files;

/// What was answered for a supplier's lists, in the words of the command line.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Kept {
    /// Units, such as "cm" or "thickness=mm".
    pub units: Vec<String>,
    /// Columns, such as "length=D".
    pub columns: Vec<String>,
}

/// The file that keeps a supplier's answers: `shipments/quarry-teapot.import.toml`.
pub fn answers_file(root: &Path, supplier: &str) -> PathBuf {
    let words = super::packing::words(supplier);
    let name = if words.is_empty() { "supplier".to_owned() } else { words.join("-") };
    root.join("shipments").join(format!("{name}.import.toml"))
}

/// Reads what was kept for a supplier; nothing where there is no such file.
///
/// # Errors
/// If it cannot be read, or is another supplier's.
pub fn answers(root: &Path, supplier: &str, report: &mut Report) -> Result<Kept, Reported> {
    let path = answers_file(root, supplier);
    if !path.exists() {
        return Ok(Kept::default());
    }
    let name = path.strip_prefix(root).unwrap_or(&path).display().to_string();
    let source = files::read(&path, &name, report)?;
    parse(&source, report, |top, report| {
        let (own, kept) = walk(top, report)?;
        if own.value != supplier {
            let message = format!("{name} keeps what was answered for \"{}\"", own.value);
            let fault = Fault::error(Code::Contradiction, message);
            return Err(report.error(
                fault
                    .at(&own.place, format!("the list is of \"{supplier}\""))
                    .help("delete the file, or correct the supplier"),
            ));
        }
        Ok(kept)
    })
}

/// The keys of the file: whose lists it is for, and what was answered.
pub(super) fn walk(top: &Table<'_>, report: &mut Report) -> Result<(At<String>, Kept), Reported> {
    let own = top.required_text("supplier", report);
    let units = top.texts("unit", report);
    let columns = top.texts("column", report);
    let (own, units, columns) = (own?, units?, columns?);
    let texts = |all: Vec<At<String>>| all.into_iter().map(|one| one.value).collect();
    Ok((own, Kept { units: texts(units), columns: texts(columns) }))
}

/// The one supplier whose invoices a shipment has; `None`: there are several, or none can be read.
pub fn only_supplier(folder: &Path) -> Option<String> {
    let text = std::fs::read_to_string(folder.join("shipment.toml")).ok()?;
    let table: toml::Table = text.parse().ok()?;
    let invoices = table.get("invoice")?.as_array()?;
    let mut all: Vec<&str> =
        invoices.iter().filter_map(|one| one.get("supplier")?.as_str()).collect();
    all.dedup();
    match all[..] {
        [one] => Some(one.to_owned()),
        _ => None,
    }
}

impl Kept {
    /// The file's text.
    pub fn written(&self, supplier: &str) -> String {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let list =
            |all: &[String]| all.iter().map(|one| quoted(one)).collect::<Vec<_>>().join(", ");
        let mut lines = vec![
            "# How packing lists of this supplier are read: what `quaystone import` was answered."
                .to_owned(),
            format!("supplier = {}", quoted(supplier)),
        ];
        for (key, all) in [("unit", &self.units), ("column", &self.columns)] {
            if !all.is_empty() {
                lines.push(format!("{key} = [{}]", list(all)));
            }
        }
        lines.join("\n") + "\n"
    }
}
