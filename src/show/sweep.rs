//! What offers cost where rates and prices are drawn from ranges, as a page.

use super::bars::{Bar, bars};
use super::compare::footing;
use super::cost::WITH_FINANCE;
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{Comparison, Draws, PerArea, Range, Sweep, Swept};
use crate::quantity::{Decimal, Units, count_of, grouped, ratio};

/// What the page is of.
pub struct SweepPage<'a> {
    /// The offers as offered.
    pub comparison: &'a Comparison,
    /// The ranges.
    pub ranges: &'a [Range],
    /// The draws.
    pub draws: Draws,
    /// What was found.
    pub swept: &'a Sweep,
    /// The units of areas.
    pub units: Units,
}

/// The percentiles that are shown.
pub(super) const PERCENTILES: [&str; 3] = ["P10", "P50", "P90"];

impl SweepPage<'_> {
    /// The offers with their names.
    pub(super) fn offers(&self) -> impl Iterator<Item = (&str, &Swept)> {
        let names = self.comparison.offers.iter().map(|offer| offer.name.as_str());
        names.zip(&self.swept.offers)
    }

    /// The ranges that move most first.
    pub(super) fn ranked(&self) -> impl Iterator<Item = (usize, &Range)> {
        self.swept.ranked.iter().filter_map(|at| Some((*at, self.ranges.get(*at)?)))
    }

    /// A count of draws in percent of all, to one place.
    pub(super) fn share(&self, count: usize) -> Option<Decimal> {
        let hundredfold = Decimal::from(count).checked_mul(Decimal::ONE_HUNDRED)?;
        ratio(hundredfold, Decimal::from(self.draws.count), 1)
    }
}

/// The page of a sweep.
pub fn sweep<'a>(page: &'a SweepPage<'a>) -> Page<'a> {
    let mut facts = vec![(
        "draws".to_owned(),
        format!("{}, seed {}", grouped(page.draws.count.into()), page.draws.seed),
    )];
    for (name, offer) in page.offers() {
        let (anew, same) = offer.anew;
        let off = match anew - same {
            0 => String::new(),
            more => format!("; {} to at most {} less", grouped(more.into()), offer.most_off),
        };
        facts.push((
            name.to_owned(),
            format!(
                "{} held; of {} planned anew {} came to the same{off}",
                count_of(offer.loads, "load"),
                count_of(anew, "draw"),
                grouped(same.into())
            ),
        ));
    }
    facts.extend(footing(page.comparison, page.units));
    let names: Vec<&str> = page.offers().map(|(name, _)| name).collect();
    Page {
        blocks: vec![
            Block::Heading(format!("What if rates and prices move: {}", names.join(", "))),
            Block::Facts(facts),
            Block::Table(spread(page)),
            Block::Bars(spans(page)),
            Block::Table(swings(page)),
            Block::Bars(swung(page)),
            Block::Notes(notes()),
            Block::Sheet(list(page)),
        ],
    }
}

fn per(page: &SweepPage<'_>) -> String {
    let area = page.comparison.footing.word();
    format!("{} per {} of {area} area", page.comparison.currency, page.units.area())
}

fn figure<'a>(cost: Option<&PerArea>, units: Units) -> Cell<'a> {
    Cell::maybe(cost.and_then(|cost| cost.figure(units)))
}

fn spread<'a>(page: &'a SweepPage<'a>) -> Table<'a> {
    let rows = page.offers().map(move |(name, offer)| {
        let mut row: Row<'a> = vec![Cell::text(name.to_owned())];
        row.extend(offer.percentiles.iter().map(|one| figure(Some(one), page.units)));
        row.extend([Cell::count(offer.wins), Cell::maybe(page.share(offer.wins))]);
        row
    });
    let mut columns = vec![Column::words("offer")];
    columns.extend(PERCENTILES.map(Column::figures));
    columns.extend([Column::figures("cheapest in"), Column::figures("% of draws")]);
    let title = format!("Cost with finance over the draws, {}", per(page));
    Table { title, columns, rows: Rows::of(rows), totals: None, is_main: false }
}

/// From P10 to P50 and on to P90 of each offer, all on one scale.
fn spans(page: &SweepPage<'_>) -> String {
    let bar = |(name, offer): (&str, &Swept)| {
        let figures = offer.percentiles.iter().map(|one| one.figure(page.units));
        let figures = figures.collect::<Option<Vec<_>>>()?;
        let parts = figures.windows(2).filter_map(|two| <[Decimal; 2]>::try_from(two).ok());
        let words: Vec<String> = figures.iter().copied().map(grouped).collect();
        Some(Bar { label: name.to_owned(), parts: parts.collect(), words: words.join(", ") })
    };
    let all: Vec<Bar> = page.offers().filter_map(bar).collect();
    bars(
        &format!("Cost with finance over the draws, {}", per(page)),
        &all,
        &["P10 to P50", "P50 to P90"],
    )
}

fn swings<'a>(page: &'a SweepPage<'a>) -> Table<'a> {
    let rows = page.ranked().map(move |(at, range)| {
        let [of, from, to] = &range.words;
        let mut row: Row<'a> = [of, from, to].map(|one| Cell::text(one.clone())).into();
        row.extend(page.offers().map(|(_, offer)| figure(offer.swing(at).as_ref(), page.units)));
        row
    });
    let mut columns = ["what moves alone", "from", "to"].map(Column::words).to_vec();
    columns.extend(page.offers().map(|(name, _)| Column::figures(name.to_owned())));
    let title = format!("Swing of each range, from end to end alone: {}", per(page));
    Table { title, columns, rows: Rows::of(rows), totals: None, is_main: false }
}

/// From the cost at one end of a range to that at the other, the range that moves most first, all on one scale.
fn swung(page: &SweepPage<'_>) -> String {
    let is_several = page.offers().nth(1).is_some();
    let all = page.ranked().flat_map(|(at, range)| {
        page.offers().filter_map(move |(name, offer)| {
            let ends = offer.ends.get(at)?;
            let part = [ends[0].figure(page.units)?, ends[1].figure(page.units)?];
            let [of, from, to] = &range.words;
            let of = format!("{of}, {from} to {to}");
            let label = if is_several { format!("{name}: {of}") } else { of };
            let words = format!("{} to {}", grouped(part[0]), grouped(part[1]));
            Some(Bar { label, parts: vec![part], words })
        })
    });
    bars(&format!("Cost at both ends of each range, {}", per(page)), &all.collect::<Vec<_>>(), &[])
}

/// Every figure in a cell of its own: an offer's percentiles and wins, and its cost at the ends of ranges.
fn list<'a>(page: &'a SweepPage<'a>) -> Table<'a> {
    let rows = page.offers().flat_map(move |(name, offer)| {
        let row = |of: String, cost: Option<&PerArea>, count: Option<usize>| -> Row<'a> {
            vec![
                Cell::text(name.to_owned()),
                Cell::text(of),
                figure(cost, Units::Metric),
                figure(cost, Units::Us),
                count.map_or(Cell::Empty, Cell::count),
            ]
        };
        let mut all: Vec<Row<'a>> = PERCENTILES
            .iter()
            .zip(&offer.percentiles)
            .map(|(what, cost)| row((*what).to_owned(), Some(cost), None))
            .collect();
        all.push(row("cheapest in draws".to_owned(), None, Some(offer.wins)));
        for (at, range) in page.ranked() {
            let [of, from, to] = &range.words;
            for (end, cost) in [from, to].into_iter().zip(offer.ends.get(at).into_iter().flatten())
            {
                all.push(row(format!("{of} {end}"), Some(cost), None));
            }
        }
        all
    });
    let money = page.comparison.currency;
    Table {
        title: "Sweep, a figure a cell".to_owned(),
        columns: vec![
            Column::words("offer"),
            Column::words("of"),
            Column::figures(format!("with finance {money}/m2")),
            Column::figures(format!("with finance {money}/ft2")),
            Column::figures("draws"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

fn notes() -> Vec<String> {
    let notes = [
        "Ranges move apart from each other, but those that name one source. P10, P50 and P90 are by nearest rank. Of \
         offers that cost the same in a draw, the first is the cheapest.",
        "In a draw the cheapest serves of the loads that were planned as offered and at both ends of each range. The \
         first hundred draws are planned anew as well, and stand above with what that takes off.",
        "The cost at both ends of a range is exact: planned anew, with all else as offered.",
        WITH_FINANCE,
    ];
    notes.map(str::to_owned).to_vec()
}
