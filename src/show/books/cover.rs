//! How long stones last, as a page.

use crate::quantity::Units;
use crate::sell::{Cover, Unwatched};
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::{Date, Goods};

/// The page of a day's cover.
pub fn cover<'a>(
    (all, unwatched): (&'a [Cover<'a>], &[Unwatched]),
    on: Date,
    units: Units,
) -> Page<'a> {
    let area = units.area();
    let columns = vec![
        Column::words("stone"),
        Column::figures(format!("here {area}")),
        Column::figures(format!("coming {area}")),
        Column::figures(format!("used {area} a month")),
        Column::figures("months"),
        Column::figures("with coming"),
        Column::words("down to reserve"),
        Column::words("order by"),
        Column::figures("months of reserve"),
        Column::figures(format!("quarry has {area}")),
        Column::words("said on"),
        Column::figures("with the quarry's rest"),
    ];
    let day = |day: Option<Date>| day.map_or(Cell::Empty, |day| Cell::text(day.to_string()));
    let row = move |one: &'a Cover<'a>| {
        vec![
            Cell::text(goods_in_words(&one.row.goods, units)),
            Cell::Figure(one.on_hand.figure(units, 2)),
            Cell::Figure(one.coming.figure(units, 2)),
            Cell::maybe(one.used.map(|used| used.figure(units, 2))),
            Cell::maybe(one.months),
            Cell::maybe(one.months_with_coming),
            day(one.runs_out),
            day(one.order_by),
            Cell::maybe(one.months_of_reserve),
            Cell::maybe(one.left.map(|left| left.figure(units, 2))),
            day(one.left.and(one.row.left).map(|(_, said)| said)),
            Cell::maybe(one.months_with_left),
        ]
    };
    let table = Table {
        title: "Cover".to_owned(),
        columns,
        rows: Rows::of(all.iter().map(row)),
        totals: None,
        is_main: true,
    };
    let mut blocks = vec![Block::Heading(format!("Months of cover on {on}")), Block::Table(table)];
    let mut notes: Vec<String> = all.iter().flat_map(|one| notes(one, on, units)).collect();
    notes.extend(unwatched.iter().map(|one| {
        let [here, coming, issued] =
            [one.on_hand, one.coming, one.issued].map(|area| area.show(units));
        format!(
            "{} in {}: {here} here, {coming} coming, {issued} issued in {} months, and no [[cover]] row watches it",
            one.stone,
            one.yard,
            Unwatched::MONTHS
        )
    }));
    if !notes.is_empty() {
        blocks.push(Block::Notes(notes));
    }
    blocks.push(Block::Format);
    Page { blocks }
}

/// The slabs of a row, in words.
pub(in crate::show) fn goods_in_words(goods: &Goods, units: Units) -> String {
    let thickness = goods.thickness.map(|one| one.show(units));
    let yard = goods.yard.as_ref().map(|yard| format!("in {yard}"));
    let all = [goods.stone.clone(), goods.finish.clone(), thickness, goods.quality.clone(), yard];
    let words: Vec<String> = all.into_iter().flatten().collect();
    if words.is_empty() { "all stones".to_owned() } else { words.join(" ") }
}

/// What a purchaser must act on.
fn notes(one: &Cover<'_>, on: Date, units: Units) -> Vec<String> {
    let goods = goods_in_words(&one.row.goods, units);
    let mut notes: Vec<String> = one
        .late
        .iter()
        .map(|late| {
            format!(
                "{goods}: runs out on {}, {} comes on {} only",
                late.runs_out, late.shipment, late.comes
            )
        })
        .collect();
    if let Some(by) = one.order_by.filter(|by| *by < on) {
        let days = (on - by).num_days();
        notes.push(format!("{goods}: the next order was due {days} days ago, on {by}"));
    }
    let counted = match one.days_here {
        Some(days) => format!("the {days} days since its first slab came"),
        None => format!("{} months", one.row.months),
    };
    match (one.used, one.row.used) {
        (Some(_), None) if one.days_here.is_some() => notes.push(format!(
            "{goods}: used is counted over {counted}; state `used` in its [[cover]] row if it sells in another measure"
        )),
        (Some(_), _) => {}
        (None, Some(_)) => notes.push(format!("{goods}: its [[cover]] row says that none is used")),
        (None, None) => notes.push(format!(
            "{goods}: nothing was issued in {counted}; state `used` in its [[cover]] row if it sells"
        )),
    }
    if let (true, Some(left), Some((_, said)), Some(months)) =
        (one.is_ending(), one.left, one.row.left, one.months_with_left)
    {
        notes.push(format!(
            "{goods}: of what the quarry had on {said}, {} are left; stock and rest together last {months} months: promise it to no new customer",
            left.show(units)
        ));
    }
    notes
}
