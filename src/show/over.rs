//! Which of two offers is the cheaper at each number of bundles, as a page.

use super::compare::{footing, goods_in_words};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{AtCount, Comparison, Cost, Like, Winner, ranges};
use crate::quantity::{Decimal, Units};

/// What the page is of.
pub struct OverPage<'a> {
    /// Both offers as quoted, the first and the other.
    pub comparison: &'a Comparison,
    /// The goods that are compared.
    pub goods: &'a Like,
    /// Both at each number of bundles.
    pub all: &'a [AtCount],
    /// The units of areas.
    pub units: Units,
}

impl OverPage<'_> {
    /// The names of both.
    pub(super) fn names(&self) -> [&str; 2] {
        [0, 1].map(|at| self.comparison.offers.get(at).map_or("", |offer| offer.name.as_str()))
    }

    /// Who wins, in words.
    pub(super) fn winner(&self, one: &AtCount) -> &str {
        let [own, other] = self.names();
        match one.winner() {
            Winner::Own => own,
            Winner::Other => other,
            Winner::Both => "both alike",
            Winner::None => "none",
        }
    }
}

/// The page of two offers over numbers of bundles.
pub fn over<'a>(page: &'a OverPage<'a>) -> Page<'a> {
    let [own, other] = page.names();
    let open = page.all.iter().filter(|one| {
        let is_open =
            |cost: &Result<Cost, String>| cost.as_ref().is_ok_and(|cost| !cost.sure.is_proven());
        is_open(&one.own) || is_open(&one.other)
    });
    let open: Vec<String> = open.map(|one| one.bundles.to_string()).collect();
    let load = if open.is_empty() {
        "proven at each number: none costs less".to_owned()
    } else {
        format!("NOT PROVEN at {} bundles", open.join(", "))
    };
    let mut facts = vec![
        ("goods".to_owned(), goods_in_words(page.goods, page.units)),
        ("load".to_owned(), load),
    ];
    facts.extend(footing(page.comparison, page.units));
    let refused = page.all.iter().flat_map(|one| {
        let why = |name: &str, cost: &Result<Cost, String>| {
            let why = cost.as_ref().err()?;
            Some(format!("{name} cannot be had with {} bundles: {why}.", one.bundles))
        };
        [why(own, &one.own), why(other, &one.other)].into_iter().flatten()
    });
    let mut notes = vec![
        "Each number is costed whole, with its load and offers chosen again, at the prices as \
         quoted. What was made out for the quoted quantity is left out."
            .to_owned(),
        "The order is judged on exact fractions of money over area, not on these figures."
            .to_owned(),
    ];
    notes.extend(refused);
    Page {
        blocks: vec![
            Block::Heading(format!("{own} against {other}, by the number of bundles")),
            Block::Facts(facts),
            Block::Table(ranged(page)),
            Block::Table(each(page)),
            Block::Notes(notes),
        ],
    }
}

fn ranged<'a>(page: &'a OverPage<'a>) -> Table<'a> {
    let count = |one: &AtCount| Cell::Figure(Decimal::from(one.bundles));
    let rows = ranges(page.all).into_iter();
    let rows = rows
        .map(move |(first, last)| vec![count(first), count(last), Cell::text(page.winner(first))]);
    Table {
        title: "Ranges with the cheaper of each".to_owned(),
        columns: vec![Column::figures("from"), Column::figures("to"), Column::words("the cheaper")],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

fn each<'a>(page: &'a OverPage<'a>) -> Table<'a> {
    let figure = move |cost: &Result<Cost, String>| {
        let cost = cost.as_ref().ok();
        Cell::maybe(cost.and_then(|cost| cost.per_area.figure(page.units)))
    };
    let rows = page.all.iter().map(move |one| -> Row<'a> {
        vec![
            Cell::Figure(Decimal::from(one.bundles)),
            figure(&one.own),
            figure(&one.other),
            Cell::text(page.winner(one)),
        ]
    });
    let [own, other] = page.names().map(str::to_owned);
    Table {
        title: format!(
            "Cost with finance, {} per {} of {} area",
            page.comparison.currency,
            page.units.area(),
            page.comparison.footing.word()
        ),
        columns: vec![
            Column::figures("bundles"),
            Column::figures(own),
            Column::figures(other),
            Column::words("the cheaper"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}
