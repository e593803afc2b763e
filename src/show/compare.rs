//! Offers side by side, narrow enough for an e-mail.

use super::cost::{STAGES, WITH_FINANCE, fell_out};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::verdict;
use crate::cost::LEG_GROUPS;
use crate::decide::{Comparison, Offer};
use crate::quantity::{Money, UnitCost, Units};

/// The page of a comparison.
pub fn compared(comparison: &Comparison, units: Units) -> Page<'_> {
    let offers = &comparison.offers;
    let best = offers.get(comparison.best).map_or("", |offer| offer.name.as_str());
    let mut blocks = vec![Block::Heading(format!(
        "{} offers, per area on the rack, in {}",
        offers.len(),
        comparison.currency
    ))];
    let said: Vec<(String, String)> = offers.iter().flat_map(|offer| said(offer, units)).collect();
    if !said.is_empty() {
        blocks.push(Block::Facts(said));
    }
    blocks.extend([
        Block::Table(who(comparison, units)),
        Block::Table(by_leg(comparison)),
        Block::Table(above_best(comparison)),
    ]);
    let mut notes = vec![
        format!("Lowest cost with finance per area: {best}."),
        WITH_FINANCE.to_owned(),
        STAGES.to_owned(),
    ];
    if offers.iter().any(|offer| !offer.worth.wishes.is_zero()) {
        notes.push(
            "Broken wishes are not billed, but offers are compared with their price.".to_owned(),
        );
    }
    if offers.iter().any(|offer| offer.nominal) {
        notes.push("Nominal offers have a quantity, but no packing list.".to_owned());
    }
    if offers.iter().any(|offer| offers.iter().any(|other| other.yard != offer.yard)) {
        notes.push("The offers go to different yards.".to_owned());
    }
    if offers.iter().any(|offer| offers.iter().any(|other| other.stones != offer.stones)) {
        notes.push("The offers are of different stones.".to_owned());
    }
    blocks.extend([Block::Notes(notes), Block::Sheet(list(comparison))]);
    Page { blocks }
}

/// Remarks on an offer: none where its load keeps every limit and request, and no forwarder or haulier
/// fell out.
fn said(offer: &Offer, units: Units) -> Vec<(String, String)> {
    let mut all = verdict::doubts(&offer.verdict, units);
    all.extend(verdict::stocks(&offer.load));
    if !offer.verdict.holds() || !offer.verdict.wishes.is_empty() {
        all.insert(0, verdict::fact(&offer.verdict, true));
    }
    all.extend(fell_out(&offer.fallen).into_iter().map(|one| ("offers".to_owned(), one)));
    all.into_iter().map(|(what, value)| (offer.name.clone(), format!("{what}: {value}"))).collect()
}

fn who(comparison: &Comparison, units: Units) -> Table<'_> {
    let rows = comparison.offers.iter().enumerate().map(move |(index, offer)| {
        vec![
            Cell::count(index + 1),
            Cell::text(offer.name.as_str()),
            Cell::text(offer.supplier.as_str()),
            Cell::text(offer.term.as_str()),
            Cell::Figure(offer.area.figure(units, 2)),
            Cell::count(offer.containers),
        ]
    });
    Table {
        title: String::new(),
        columns: vec![
            Column::figures("no"),
            Column::words("offer"),
            Column::words("supplier"),
            Column::words("term"),
            Column::figures(units.area()),
            Column::figures("boxes"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// Every figure in a row of its own, with the offer it is of.
fn list(comparison: &Comparison) -> Table<'_> {
    let rows = comparison.offers.iter().zip(&comparison.above_best).flat_map(|(offer, gap)| {
        let groups = LEG_GROUPS.iter().zip(offer.groups).map(|((name, ..), sum)| (*name, sum));
        let sums = [
            ("landed", offer.landed),
            ("expensed", offer.period),
            ("finance, not booked", offer.notional),
            ("with finance", offer.worth.decision),
        ];
        let row = move |what: &'static str, amount: Cell<'static>, per: [Cell<'static>; 2]| {
            let [per_m2, per_ft2] = per;
            let (name, term) = (offer.name.as_str(), offer.term.as_str());
            vec![Cell::text(name), Cell::text(term), Cell::text(what), amount, per_m2, per_ft2]
        };
        let sums = groups.chain(sums).map(move |(what, sum)| {
            let per = [offer.per_m2(sum), offer.per_ft2(sum)];
            row(what, Cell::money(sum), per.map(|cost| Cell::maybe(cost.map(UnitCost::figure))))
        });
        let above = [Cell::Figure(gap.per_m2), Cell::Figure(gap.per_ft2)];
        sums.chain([row("above the lowest", Cell::money(gap.on_area), above)])
    });
    Table {
        title: String::new(),
        columns: vec![
            Column::words("offer"),
            Column::words("term"),
            Column::words("what"),
            Column::figures(comparison.currency.code()),
            Column::figures("per m2"),
            Column::figures("per ft2"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

/// A line of the comparison: its words, and each offer's amount.
type Line<'a> = (&'a str, Vec<(&'a Offer, Money)>);

fn by_leg(comparison: &Comparison) -> Table<'_> {
    let offers = &comparison.offers;
    let each = |amount: fn(&Offer) -> Money| -> Vec<(&Offer, Money)> {
        offers.iter().map(|offer| (offer, amount(offer))).collect()
    };
    let mut lines: Vec<Line<'_>> = Vec::new();
    for (index, (name, _, _)) in LEG_GROUPS.iter().enumerate() {
        let amounts = offers.iter().filter_map(|offer| Some((offer, *offer.groups.get(index)?)));
        lines.push((name, amounts.collect()));
    }
    lines.push(("landed", each(|offer| offer.landed)));
    lines.push(("expensed", each(|offer| offer.period)));
    lines.push(("finance, not booked", each(|offer| offer.notional)));
    let row = |(name, amounts): &Line<'_>| -> Row<'static> {
        let mut row = vec![Cell::text((*name).to_owned())];
        for (offer, amount) in amounts {
            row.push(Cell::maybe(offer.per_m2(*amount).map(UnitCost::figure)));
            row.push(Cell::maybe(offer.per_ft2(*amount).map(UnitCost::figure)));
        }
        row
    };
    let rows: Vec<Row<'_>> = lines.iter().map(row).collect();
    let decision = row(&("with finance", each(|offer| offer.worth.decision)));
    let mut columns = vec![Column::words("per area")];
    for index in 1..=offers.len() {
        columns.push(Column::figures(format!("{index}: m2")));
        columns.push(Column::figures("ft2"));
    }
    Table {
        title: String::new(),
        columns,
        rows: Rows::of(rows),
        totals: Some(decision),
        is_main: false,
    }
}

fn above_best(comparison: &Comparison) -> Table<'_> {
    let rows = comparison.offers.iter().zip(&comparison.above_best).map(|(offer, gap)| {
        vec![
            Cell::text(offer.name.as_str()),
            Cell::Figure(gap.per_m2),
            Cell::Figure(gap.per_ft2),
            Cell::money(gap.on_area),
            Cell::Figure(gap.percent),
        ]
    });
    Table {
        title: "Above the lowest".to_owned(),
        columns: vec![
            Column::words("offer"),
            Column::figures("per m2"),
            Column::figures("per ft2"),
            Column::figures("for its area"),
            Column::figures("%"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
