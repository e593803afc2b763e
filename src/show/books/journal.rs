//! The journal as a page: every line of every entry.

use crate::ledger::{Entry, Ledger, Line, kept_by};
use crate::quantity::{Decimal, Money};
use crate::show::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::trade::{AccountRow, Date, numbered};

/// Lines of the journal, each by its entry and its position there, and the accounts as the importer's own ledger has
/// them.
#[derive(Debug, Clone, Copy)]
pub struct Lines<'a> {
    /// The ledger.
    pub ledger: &'a Ledger<'a>,
    /// The lines.
    pub lines: &'a [(&'a Entry, usize)],
    /// The accounts.
    pub numbers: &'a [AccountRow],
}

/// The page of some lines.
pub fn journal(lines: Lines<'_>) -> Page<'_> {
    // An entry stands above its lines, so that each part of a narrow page says whose they are.
    let entry = ["posted", "entry"].map(|word| Column::above(word, ""));
    let mut columns: Vec<Column> = entry.into_iter().chain(of_lines().skip(2)).collect();
    columns.insert(2, Column::figures("line"));
    // Debit and credit stand beside their account, and who and what they are of behind them.
    columns.splice(5..5, amounts());
    let row = move |(entry, at, line): (_, _, _)| {
        let mut row = lines.row(entry, at, line);
        let amounts = row.split_off(10);
        row.splice(5..5, amounts);
        row
    };
    let table = Table {
        title: "Lines".to_owned(),
        columns,
        rows: Rows::of(lines.rows().map(row)),
        totals: None,
        is_main: false,
    };
    let note = "An entry's name and the number of its line stay: a second export adds nothing to the first.";
    let mut blocks = vec![Block::Heading("The journal".to_owned())];
    if lines.lines.is_empty() {
        blocks.push(Block::Notes(vec!["There is no entry to list.".to_owned()]));
    } else {
        blocks.extend([Block::Table(table), Block::Notes(vec![note.to_owned()])]);
    }
    blocks.extend([Block::Sheet(sheet(lines)), Block::Format]);
    Page { blocks }
}

/// The same with all that the events of the lines say.
fn sheet(lines: Lines<'_>) -> Table<'_> {
    let mut columns: Vec<Column> = of_lines()
        .chain(["called", "event", "occurred", "dated", "reason"].map(Column::words))
        .collect();
    columns.insert(2, Column::figures("line"));
    columns.extend(amounts());
    let row = move |(entry, at, line): (_, _, _)| {
        let mut row = lines.row(entry, at, line);
        let amounts = row.split_off(10);
        row.extend(lines.of_event(entry, line));
        row.extend(amounts);
        row
    };
    Table {
        title: "Lines, a figure a cell".to_owned(),
        columns,
        rows: Rows::of(lines.rows().map(row)),
        totals: None,
        is_main: true,
    }
}

fn of_lines() -> impl Iterator<Item = Column> {
    "posted,entry,number,account,yard,party,paper,shipment,charge".split(',').map(Column::words)
}

fn amounts() -> [Column; 7] {
    let (figures, words) = (Column::figures, Column::words);
    [
        figures("slabs"),
        figures("debit"),
        figures("credit"),
        words("books"),
        figures("amount"),
        words("currency"),
        words("rate"),
    ]
}

impl<'a> Lines<'a> {
    fn rows(self) -> impl Iterator<Item = (&'a Entry, usize, &'a Line)> {
        self.lines.iter().filter_map(|(entry, at)| Some((*entry, *at, entry.lines.get(*at)?)))
    }

    fn row(self, entry: &'a Entry, at: usize, line: &'a Line) -> Row<'a> {
        let own = numbered(self.numbers, line.account, kept_by(self.ledger, line));
        let shipment = line.shipment.and_then(|at| self.ledger.freeze(at));
        let book = Money::from_minor(line.book, entry.currency);
        let is_debit = line.book >= 0;
        vec![
            Cell::text(entry.posted.to_string()),
            Cell::text(entry.id.as_str()),
            Cell::count(at + 1),
            Cell::text(own.map_or("", |own| &own.number.value)),
            Cell::text(line.account.word()),
            Cell::text(line.yard.as_str()),
            Cell::text(line.party.as_str()),
            Cell::text(line.number.as_str()),
            Cell::text(shipment.map_or("", |freeze| freeze.shipment.as_str())),
            Cell::text(line.charge.as_str()),
            Cell::maybe(Some(line.slabs).filter(|count| *count > 0).map(Decimal::from)),
            Cell::maybe(is_debit.then(|| book.amount())),
            Cell::maybe((!is_debit).then(|| book.negated().amount())),
            Cell::text(entry.currency.code()),
            Cell::maybe(line.amount.map(Money::amount)),
            Cell::text(line.amount.map_or("", |amount| amount.currency().code())),
            Cell::text(line.rate.map_or_else(String::new, |rate| rate.to_string())),
        ]
    }

    /// What the event of a line says: a sum of several events is of none.
    fn of_event(self, entry: &'a Entry, line: &'a Line) -> Row<'a> {
        let own = numbered(self.numbers, line.account, kept_by(self.ledger, line));
        let event = self.ledger.books.events.get(entry.event).filter(|event| event.id == entry.id);
        let day =
            |day: Option<Date>| Cell::text(day.map_or_else(String::new, |day| day.to_string()));
        vec![
            Cell::text(own.and_then(|own| own.name.as_deref()).unwrap_or("")),
            Cell::text(event.map_or("", |event| event.kind)),
            day(event.map(|event| event.occurred)),
            day(event.and_then(|event| event.dated)),
            Cell::text(event.and_then(|event| event.reason.as_deref()).unwrap_or("")),
        ]
    }
}
