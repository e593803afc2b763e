//! A journal that was exported earlier, as CSV.

use std::path::Path;

use crate::fault::{Code, Fault, Report, Reported};
use crate::files;
use crate::quantity::Decimal;
use crate::read::rows::{Row, each_row, header};
use crate::trade::Exported;

/// Reads an earlier export.
///
/// # Errors
/// Where it cannot be read, or is none.
pub fn exported(path: &Path, report: &mut Report) -> Result<Exported, Reported> {
    let source = files::read(path, &path.display().to_string(), report)?;
    let heads = header(&source.text, b',').unwrap_or_default();
    let column = |name: &str| heads.iter().position(|head| head == name);
    let columns = (column("entry"), column("account"), column("debit"), column("credit"));
    let (Some(entry), Some(account), Some(debit), Some(credit)) = columns else {
        return Err(report.error(no_export(&source.line(1))));
    };
    let mut all = Exported::new();
    let mut wrong = None;
    let mut read = |row: &Row<'_>| {
        let figure = |at: usize| match row.get(at)? {
            "" => Some(Decimal::ZERO),
            text => Decimal::from_str_exact(text).ok(),
        };
        let book = figure(debit)?.checked_sub(figure(credit)?)?;
        let own = all.entry(row.get(entry)?.to_owned());
        let (_, lines) = own.or_insert_with(|| (source.line(row.line), Vec::new()));
        lines.push((row.get(account)?.to_owned(), book));
        Some(())
    };
    let mut is_head = true;
    let told = each_row(&source.text, b',', |row| {
        if !std::mem::take(&mut is_head) && read(row).is_none() {
            wrong = wrong.or(Some(row.line));
        }
    });
    match told.err().map(|one| one.line).or(wrong) {
        Some(line) => Err(report.error(no_export(&source.line(line)))),
        None => Ok(all),
    }
}

fn no_export(place: &crate::fault::Place) -> Fault {
    Fault::error(Code::BadSyntax, "this is no journal as CSV")
        .at(place, "expected the columns entry, account, debit and credit")
        .help("make one: quaystone journal --as csv -o FILE")
}
