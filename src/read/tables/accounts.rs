//! `rates/accounts.toml`: the accounts of the books as the importer's own ledger has them.

use super::super::keys::{Names, readable};
use super::super::table::Table;
use crate::fault::{Code, Fault, Report, Reported};
use crate::trade::{Account, AccountRow, Tariffs};

pub(super) fn accounts(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    let rows = readable(top, "account", report, row);
    let mut known: Vec<&AccountRow> = Vec::new();
    for row in &rows {
        if let Some(fault) = differs(row, &known) {
            report.error(fault);
        }
        known.push(row);
    }
    tariffs.accounts = rows;
}

fn row(row: &Table<'_>, report: &mut Report) -> Result<AccountRow, Reported> {
    let class = row.required_word("class", &Account::ALL, report);
    let of = row.text("of", report);
    let number = row.required_text("number", report);
    let name = row.text("name", report);
    let (class, of) = (class?, of?);
    if let (Some(of), None) = (&of, class.value.kept_by()) {
        let message = format!("there is one account for {}", class.value.word());
        return Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&of.place, "for a part of it")
                .help("leave `of` out"),
        ));
    }
    Ok(AccountRow {
        account: class.value,
        of: of.map(|at| at.value),
        number: number?,
        name: name?.map(|at| at.value),
    })
}

/// Holds a row against those before it: an account has one number, and a number one sort of account.
fn differs(row: &AccountRow, known: &[&AccountRow]) -> Option<Fault> {
    let word = row.account.word();
    if let Some(first) = known.iter().find(|one| one.account == row.account && one.of == row.of) {
        return Some(
            Fault::error(Code::Duplicate, format!("{word} has two numbers"))
                .at(&row.number.place, "again here")
                .also(&first.number.place, "first here")
                .help("keep one; one yard, party or shipment is told apart by `of`"),
        );
    }
    let shares = |one: &&&AccountRow| {
        one.number.value == row.number.value && one.account.sort() != row.account.sort()
    };
    let first = known.iter().find(shares)?;
    let (other, sorts) = (first.account.word(), (first.account.sort(), row.account.sort()));
    let message = format!("{other} and {word} have one number, {}", row.number.value);
    Some(Fault::error(Code::Contradiction, message)
        .at(&row.number.place, format!("this is {}", sorts.1))
        .also(&first.number.place, format!("this is {}", sorts.0))
        .help(
            "give one of them a number of its own: the two are not set off (IAS 1, paragraph 32)",
        ))
}
