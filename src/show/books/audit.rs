//! Accounts from one day to another, and what does not hold, as a page.

use crate::ledger::{Audited, Broken, Closed};
use crate::quantity::Money;
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::{Account, Date};

/// The page of an audit.
pub fn audit<'a>(
    (accounts, closed): (&'a [Audited], Option<&Closed>),
    broken: &'a [Broken],
    (from, to): (Date, Date),
    debits: &[Money],
) -> Page<'a> {
    let by_charge = accounts.iter().any(|one| one.charge.is_some());
    let title = format!("Accounts from {from} to {to}");
    let mut tables = vec![Block::Table(table(accounts, title, (by_charge, by_charge)))];
    if by_charge {
        // What is of no charge has no name in a list.
        tables.push(Block::Sheet(table(
            accounts,
            "Accounts, a figure a cell".to_owned(),
            (true, false),
        )));
    }
    let heading = match closed {
        Some(closed) => format!("The {} close of {from} to {to}", closed.word()),
        None => format!("The books from {from} to {to}"),
    };
    let mut blocks = vec![Block::Heading(heading)];
    let verdict = match broken.len() {
        0 => "every account agrees with slabs, charges and open items, to the cent".to_owned(),
        count => format!("{count} things do not agree"),
    };
    let mut facts = vec![("verdict".to_owned(), verdict)];
    if let Some(closed) = closed {
        let word = if closed.is_final {
            "nothing is posted in it any more"
        } else {
            "bills that adjust it may still be posted in it (IAS 10, paragraph 3)"
        };
        facts.push((closed.word().to_owned(), word.to_owned()));
    }
    let with = if closed.is_some() { ", with the close" } else { "" };
    facts.extend(debits.iter().map(|sum| (format!("debited up to {to}{with}"), sum.to_string())));
    blocks.push(Block::Facts(facts));
    blocks.extend(tables);
    let is_twice = |pair: &[Audited]| matches!(pair, [a, b] if a.account == b.account && a.of == b.of && a.charge == b.charge);
    if accounts.windows(2).any(is_twice) {
        let note = "A second row of one name is the same account in its own money, not more of it.";
        blocks.push(Block::Notes(vec![note.to_owned()]));
    }
    if !broken.is_empty() {
        let rows = broken.iter().map(|one| {
            vec![
                Cell::text(one.what.as_str()),
                Cell::Figure(one.accounts.into()),
                Cell::Figure(one.should_be.into()),
            ]
        });
        blocks.push(Block::Table(Table {
            title: "What does not agree, in minor units".to_owned(),
            columns: vec![
                Column::words("what"),
                Column::figures("by its lines"),
                Column::figures("as it stands"),
            ],
            rows: Rows::of(rows),
            totals: None,
            is_main: false,
        }));
    }
    blocks.push(Block::Format);
    Page { blocks }
}

/// A row for each account, or for each charge of it; with `is_named` also what is of no charge is called something.
fn table(accounts: &[Audited], title: String, (by_charge, is_named): (bool, bool)) -> Table<'_> {
    let rows = accounts.iter().map(move |one| {
        let money = |minor: i64| Cell::money(Money::from_minor(minor, one.currency));
        let mut row = vec![Cell::text(one.account.word()), Cell::text(one.of.as_str())];
        if let Some((shipment, charge)) = &one.charge {
            let is_none = is_named && charge.is_empty();
            let charge = if is_none { of_none(one.account) } else { charge.as_str() };
            row.extend([Cell::text(shipment.as_str()), Cell::text(charge)]);
        }
        row.push(Cell::text(one.currency.code()));
        row.extend([one.opening, one.debits, one.credits, one.closing].map(money));
        row
    });
    let mut words = vec![Column::above("account", "")];
    if by_charge {
        words.extend([Column::above("of", ""), Column::above("shipment", "of")]);
        words.push(Column::words("charge"));
    } else {
        words.push(Column::words("of"));
    }
    words.push(Column::words("currency"));
    let figures = ["opening", "debits", "credits", "closing"].map(Column::figures);
    Table {
        title,
        columns: words.into_iter().chain(figures).collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: !is_named,
    }
}

/// What the lines of an account are that are of no charge.
fn of_none(account: Account) -> &'static str {
    match account {
        Account::CostOfSales => "slabs sold, returned or written down",
        Account::Allowance => "slabs written down",
        account if account.is_of_slabs() => "slabs that came or left",
        _ => "of no one charge",
    }
}
