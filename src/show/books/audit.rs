//! Accounts from one day to another, and what does not hold, as a page.

use crate::ledger::{Audited, Broken, Closed};
use crate::quantity::Money;
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::Date;

/// The page of an audit.
pub fn audit<'a>(
    (accounts, closed): (&'a [Audited], Option<&Closed>),
    broken: &'a [Broken],
    (from, to): (Date, Date),
    debits: &[Money],
) -> Page<'a> {
    let rows = accounts.iter().map(|one| {
        let money = |minor: i64| Cell::money(Money::from_minor(minor, one.currency));
        let mut row = vec![Cell::text(one.account.word()), Cell::text(one.of.as_str())];
        if let Some((shipment, charge)) = &one.charge {
            row.extend([Cell::text(shipment.as_str()), Cell::text(charge.as_str())]);
        }
        row.push(Cell::text(one.currency.code()));
        row.extend([one.opening, one.debits, one.credits, one.closing].map(money));
        row
    });
    let by_charge = accounts.iter().any(|one| one.charge.is_some());
    let mut words = vec![Column::above("account", "")];
    if by_charge {
        words.extend([Column::above("of", ""), Column::above("shipment", "of")]);
        words.push(Column::words("charge"));
    } else {
        words.push(Column::words("of"));
    }
    words.push(Column::words("currency"));
    let figures = ["opening", "debits", "credits", "closing"].map(Column::figures);
    let table = Table {
        title: format!("Accounts from {from} to {to}"),
        columns: words.into_iter().chain(figures).collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    };
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
    blocks.push(Block::Table(table));
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
