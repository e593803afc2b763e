//! What offers come to under changes, as a page.

use super::compare::{as_quoted, footing, goods_in_words};
use super::cost::WITH_FINANCE;
use super::over::{beside, without};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{Case, Comparison, Cost, Like, Named};
use crate::quantity::{Decimal, Money, Units, ratio};

/// What the page is of.
pub struct WhatIfPage<'a> {
    /// The offers as offered.
    pub comparison: &'a Comparison,
    /// The goods that are compared; `None`: all of one offer.
    pub goods: Option<&'a Like>,
    /// The changes.
    pub changes: &'a [Named],
    /// The offers as offered, under each change, and under all.
    pub cases: &'a [Case],
    /// The units of areas.
    pub units: Units,
}

impl WhatIfPage<'_> {
    /// The names of the offers.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.comparison.offers.iter().map(|offer| offer.name.as_str())
    }

    /// The words of a case.
    pub(super) fn words(&self, case: &Case) -> &str {
        match &case.changes[..] {
            [] => "as offered",
            [one] => self.changes.get(*one).map_or("", |change| change.words.as_str()),
            _ => "all together",
        }
    }

    /// What an offer comes to as offered.
    fn offered(&self, offer: usize) -> Option<&Cost> {
        self.cases.first()?.costs.get(offer)?.as_ref().ok()
    }

    /// The offers that one change alone is for and that cost the same under it.
    fn untouched(&self, case: &Case) -> impl Iterator<Item = &str> {
        let change = match &case.changes[..] {
            [one] => self.changes.get(*one),
            _ => None,
        };
        self.names().enumerate().zip(&case.costs).filter_map(move |((at, name), cost)| {
            let is_its = change?.offer.is_none_or(|own| own == at);
            let (offered, cost) = (self.offered(at)?, cost.as_ref().ok()?);
            let figures = |cost: &Cost| (cost.landed, cost.decision);
            let is_same = figures(offered) == figures(cost) && offered.per_area == cost.per_area;
            (is_its && is_same).then_some(name)
        })
    }

    /// How much more its cost with finance is than as offered.
    pub(super) fn more(&self, offer: usize, cost: &Cost) -> Option<Money> {
        cost.decision.minus(self.offered(offer)?.decision).ok()
    }

    /// The same in percent, to two places.
    pub(super) fn percent(&self, offer: usize, cost: &Cost) -> Option<Decimal> {
        let hundredfold = self.more(offer, cost)?.amount().checked_mul(Decimal::ONE_HUNDRED)?;
        ratio(hundredfold, self.offered(offer)?.decision.amount(), 2)
    }
}

/// The rank of a cost among those of its case: 1 for the least per area; equal ones share it.
pub(super) fn rank(case: &Case, cost: &Cost) -> usize {
    let all = case.costs.iter().filter_map(|other| other.as_ref().ok());
    all.filter(|other| other.per_area < cost.per_area).count() + 1
}

/// The page of offers under changes.
pub fn what_if<'a>(page: &'a WhatIfPage<'a>) -> Page<'a> {
    let mut facts = Vec::new();
    if let Some(goods) = page.goods {
        facts.push(("goods".to_owned(), goods_in_words(goods, page.units)));
        facts.extend(as_quoted(page.comparison, goods, page.units));
    }
    facts.extend(footing(page.comparison, page.units));
    let names: Vec<&str> = page.names().collect();
    Page {
        blocks: vec![
            Block::Heading(format!("What if: {}", names.join(", "))),
            Block::Facts(facts),
            Block::Table(shown(page)),
            Block::Notes(notes(page)),
            Block::Sheet(list(page)),
        ],
    }
}

fn shown<'a>(page: &'a WhatIfPage<'a>) -> Table<'a> {
    let is_several = page.comparison.offers.len() > 1;
    let rows = page.names().enumerate().flat_map(move |(offer, name)| {
        page.cases.iter().filter_map(move |case| {
            let cost = case.costs.get(offer)?.as_ref().ok();
            let mut row: Row<'a> = Vec::new();
            row.extend(is_several.then(|| Cell::text(name.to_owned())));
            row.extend([
                Cell::text(page.words(case).to_owned()),
                cost.map_or(Cell::text("none"), |cost| Cell::money(cost.landed)),
                Cell::maybe(cost.map(|cost| cost.decision.amount())),
            ]);
            let changed = cost.filter(|_| !case.changes.is_empty());
            row.extend([
                Cell::maybe(changed.and_then(|cost| page.more(offer, cost)).map(Money::amount)),
                Cell::maybe(changed.and_then(|cost| page.percent(offer, cost))),
                Cell::maybe(cost.and_then(|cost| cost.per_area.figure(page.units))),
            ]);
            row.extend(
                is_several.then(|| cost.map_or(Cell::Empty, |cost| Cell::count(rank(case, cost)))),
            );
            Some(row)
        })
    });
    let mut columns = Vec::new();
    columns.extend(is_several.then(|| Column::above("offer", "offer ")));
    columns.extend([
        Column::words("change"),
        Column::figures("landed"),
        Column::figures("with finance"),
        Column::figures("more"),
        Column::figures("more %"),
        Column::figures(format!("per {}", page.units.area())),
    ]);
    columns.extend(is_several.then(|| Column::figures("rank")));
    Table {
        title: format!(
            "Costs in {}, and with finance per {} of {} area",
            page.comparison.currency,
            page.units.area(),
            page.comparison.footing.word()
        ),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// Every figure in a cell of its own: a row for each offer and case.
fn list<'a>(page: &'a WhatIfPage<'a>) -> Table<'a> {
    let rows = page.names().enumerate().flat_map(move |(offer, name)| {
        page.cases.iter().filter_map(move |case| {
            let costed = case.costs.get(offer)?;
            let cost = costed.as_ref().ok();
            let per = |units| Cell::maybe(cost.and_then(|cost| cost.per_area.figure(units)));
            let row: Row<'a> = vec![
                Cell::text(name.to_owned()),
                Cell::text(page.words(case).to_owned()),
                Cell::maybe(cost.map(|cost| cost.landed.amount())),
                Cell::maybe(cost.map(|cost| cost.decision.amount())),
                Cell::maybe(cost.and_then(|cost| page.more(offer, cost)).map(Money::amount)),
                Cell::maybe(cost.and_then(|cost| page.percent(offer, cost))),
                per(Units::Metric),
                per(Units::Us),
                cost.map_or(Cell::Empty, |cost| Cell::count(rank(case, cost))),
                Cell::text(cost.map_or("", |cost| cost.sure.word())),
                Cell::text(costed.as_ref().err().map_or("", String::as_str).to_owned()),
            ];
            Some(row)
        })
    });
    let money = page.comparison.currency;
    Table {
        title: "Changes, a figure a cell".to_owned(),
        columns: vec![
            Column::words("offer"),
            Column::words("of"),
            Column::figures(format!("landed {money}")),
            Column::figures(format!("with finance {money}")),
            Column::figures(format!("more {money}")),
            Column::figures("more %"),
            Column::figures(format!("with finance {money}/m2")),
            Column::figures(format!("with finance {money}/ft2")),
            Column::figures("rank"),
            Column::words("load"),
            Column::words("why not"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

fn notes(page: &WhatIfPage<'_>) -> Vec<String> {
    let mut notes = vec![
        "Each case is costed whole, its load and offers chosen again. No file is changed. What waits for a \
         day that moves, moves along; what a supplier made out for a price that changes is left out."
            .to_owned(),
    ];
    if page.comparison.offers.len() > 1 {
        notes.push("Offers are ranked before costs are rounded, not on these figures.".to_owned());
    }
    notes.push(WITH_FINANCE.to_owned());
    notes.extend(page.goods.into_iter().flat_map(|goods| without(page.comparison, goods)));
    notes.extend(page.changes.iter().filter_map(beside));
    for case in page.cases {
        let names: Vec<&str> = page.untouched(case).collect();
        if !names.is_empty() {
            notes.push(format!("{} moves no cost of {}.", page.words(case), names.join(", ")));
        }
    }
    for case in page.cases {
        for (name, costed) in page.names().zip(&case.costs) {
            let case = page.words(case);
            match costed {
                Err(why) => notes.push(format!("{name}, {case}, has no cost: {why}.")),
                Ok(cost) if !cost.sure.is_proven() => {
                    notes.push(format!("{name}, {case}: the load is {}.", cost.sure.word()));
                }
                Ok(_) => {}
            }
        }
    }
    notes
}
