//! Offers side by side, narrow enough for an e-mail: a block for like goods, a column for an offer.

use std::collections::BTreeSet;

use super::bars::{Bar, bars};
use super::compare_list::{differing, list, prices};
use super::cost::{STAGES, WITH_FINANCE, fell_out, kinds_of_box, of_footing, on_lapsed};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::verdict;
use crate::decide::{
    Comparison, Entry, Fits, Footing, Group, Like, NoArea, NoRank, Offer, OnStarters, Standing,
    Sums, Surface, Whole,
};
use crate::quantity::{Decimal, Money, Units, count_of, grouped};
use crate::trade::Measure;

/// The page of a comparison.
pub fn compared(comparison: &Comparison, units: Units) -> Page<'_> {
    let mut blocks = vec![
        Block::Heading(format!(
            "{}, per area on the rack, in {}",
            count_of(comparison.offers.len(), "offer"),
            comparison.currency
        )),
        Block::Facts(footing(comparison, units)),
    ];
    let said: Vec<(String, String)> =
        comparison.offers.iter().flat_map(|offer| said(offer, units)).collect();
    if !said.is_empty() {
        blocks.push(Block::Facts(said));
    }
    let (alone, compared): (Vec<&Group>, Vec<&Group>) =
        comparison.groups.iter().partition(|group| group.entries.len() == 1);
    for group in compared {
        blocks.extend(block(comparison, group, units));
        let full = comparison.full.iter().find(|full| full.goods == group.goods);
        let full = full.filter(|full| is_fuller(comparison, full));
        blocks.extend(full.into_iter().flat_map(|full| filled(comparison, full, units)));
    }
    if !alone.is_empty() {
        let title = "Goods that no other offer holds";
        blocks.push(Block::Table(held_alone(comparison, alone, title, units)));
        let full = comparison.full.iter();
        let full = full.filter(|full| full.entries.len() == 1 && is_fuller(comparison, full));
        let full: Vec<&Group> = full.collect();
        if !full.is_empty() {
            let title = "The same, boxes full (nominal)";
            blocks.push(Block::Table(held_alone(comparison, full, title, units)));
        }
    }
    if comparison.offers.iter().any(|offer| offer.outcome.is_ok()) {
        blocks.push(Block::Table(wholes(comparison, units)));
    }
    blocks.extend([Block::Notes(notes(comparison, units)), Block::Sheet(list(comparison))]);
    Page { blocks }
}

/// What offers are compared on.
pub(super) fn footing(comparison: &Comparison, units: Units) -> Vec<(String, String)> {
    let mut facts = vec![(
        "compared on".to_owned(),
        match (comparison.footing, comparison.is_asked) {
            (Footing::Gross, true) => "the gross area, as sawn",
            (Footing::Gross, false) => {
                "the gross area, as sawn: no allowance is stated for some goods"
            }
            (Footing::Usable, _) => "the usable area: what our allowance leaves of the gross area",
        }
        .to_owned(),
    )];
    for (stone, quality, allowance) in &comparison.allowances {
        let quality = quality.as_ref().map_or_else(String::new, |word| format!(", {word}"));
        let what = format!("{stone}{quality}: {}", allowance.show(units));
        facts.push(("allowance".to_owned(), what));
    }
    facts.push((
        "internal".to_owned(),
        "our costs, rates and allowances stand here: not for a supplier".to_owned(),
    ));
    facts
}

/// Remarks on an offer: none where its load keeps every limit and request, and no forwarder or haulier
/// fell out.
fn said(offer: &Offer, units: Units) -> Vec<(String, String)> {
    let Ok(whole) = &offer.outcome else { return Vec::new() };
    let mut all = verdict::doubts(&whole.verdict, units);
    all.extend(verdict::stocks(&offer.load, offer.kept.as_ref()));
    if !whole.verdict.holds() || !whole.verdict.wishes.is_empty() {
        all.insert(0, verdict::fact(&whole.verdict, true));
    }
    all.extend(on_lapsed(&whole.carried, |amount| part(whole, amount)));
    all.extend(whole.next_steps.iter().map(|step| ("price".to_owned(), step.clone())));
    all.extend(fell_out(&whole.fallen).into_iter().map(|one| ("offers".to_owned(), one)));
    all.into_iter().map(|(what, value)| (offer.name.clone(), format!("{what}: {value}"))).collect()
}

/// An amount with its part of the landed cost.
fn part(whole: &Whole, amount: Money) -> String {
    match whole.percent(amount) {
        _ if amount.is_zero() => "nothing".to_owned(),
        Some(percent) => format!("{amount} ({percent} %)"),
        None => amount.to_string(),
    }
}

/// The tables of like goods.
fn block<'a>(comparison: &'a Comparison, group: &'a Group, units: Units) -> Vec<Block<'a>> {
    let mut blocks = vec![Block::Table(offered(comparison, group, units))];
    if group.entries.iter().any(|entry| entry.part.sums.is_some()) {
        blocks.push(Block::Table(by_stage(comparison, group, units)));
        blocks.push(Block::Bars(stages(comparison, group, units)));
    }
    if group.entries.iter().filter(|entry| entry.standing.is_ok()).count() > 1 {
        blocks.push(Block::Table(above_best(comparison, group, units)));
    }
    blocks.extend(unranked(comparison, group.entries.iter(), "no rank"));
    blocks
}

fn offer<'a>(comparison: &'a Comparison, entry: &Entry) -> Option<&'a Offer> {
    comparison.offers.get(entry.offer)
}

fn name<'a>(comparison: &'a Comparison, entry: &Entry) -> &'a str {
    offer(comparison, entry).map_or("", |offer| offer.name.as_str())
}

/// Why an offer has no rank.
pub fn reason(why: &NoRank) -> String {
    match why {
        NoRank::Refused(why) => why.clone(),
        NoRank::NoArea(NoArea::GrossUnknown { line }) => format!(
            "line {line} states what is billed, and not what its supplier takes off (`measure`)"
        ),
        NoRank::NoArea(NoArea::NoAllowance { stone, quality }) => {
            let quality = quality.as_ref().map_or_else(String::new, |word| format!(" in {word}"));
            format!(
                "no allowance is stated for {stone}{quality}: rates/stones.toml [[usable]], or \
                 --allowance"
            )
        }
        NoRank::NoArea(NoArea::NothingLeft) => {
            "the allowance leaves nothing of its slabs".to_owned()
        }
    }
}

/// What goods are, in words.
pub fn goods_in_words(like: &Like, units: Units) -> String {
    words(like, like.quality.as_ref().is_some_and(Option::is_some), units)
}

/// What goods are, as far as they are alike.
fn goods(comparison: &Comparison, like: &Like, units: Units) -> String {
    let all = || comparison.offers.iter().flat_map(|offer| &offer.parts).flat_map(|one| &one.goods);
    words(like, all().any(|goods| goods.quality.as_ref().is_some_and(Option::is_some)), units)
}

fn words(like: &Like, has_quality: bool, units: Units) -> String {
    let quality = match &like.quality {
        Some(Some(word)) => Some(format!("quality {word}")),
        Some(None) => has_quality.then(|| "no quality stated".to_owned()),
        None => Some("any quality".to_owned()),
    };
    let any = |word: &Option<String>, what: &str| word.clone().unwrap_or(format!("any {what}"));
    let thickness = like.thickness.map_or("any thickness".to_owned(), |own| own.show(units));
    let all = [any(&like.stone, "stone"), any(&like.finish, "finish"), thickness];
    all.into_iter().chain(quality).collect::<Vec<_>>().join(", ")
}

/// What each offer is.
fn offered<'a>(comparison: &'a Comparison, group: &'a Group, units: Units) -> Table<'a> {
    let mut rows: Vec<Row<'a>> = Vec::new();
    let mut row = |label: &str, cell: &dyn Fn(&'a Entry, &'a Offer) -> Cell<'a>| {
        let cells = group.entries.iter().filter_map(|entry| {
            let offer = offer(comparison, entry)?;
            Some(cell(entry, offer))
        });
        rows.push(std::iter::once(Cell::text(label.to_owned())).chain(cells).collect());
    };
    row("rank", &|entry, _| rank(entry));
    row("supplier", &|_, offer| Cell::text(offer.suppliers.join(", ")));
    row("term", &|_, offer| Cell::text(offer.terms.join(", ")));
    let across = comparison.across;
    if across.yards {
        row("yard", &|_, offer| Cell::text(offer.yard.as_str()));
    }
    if across.stones {
        row("stone", &|entry, _| Cell::text(differing(entry, |goods| goods.stone.clone())));
    }
    if across.finish {
        row("finish", &|entry, _| Cell::text(differing(entry, |goods| goods.finish.clone())));
    }
    if across.thickness {
        row("thickness", &|entry, _| {
            Cell::text(differing(entry, |goods| goods.thickness.map(|own| own.show(units))))
        });
    }
    if across.quality {
        row("quality", &|entry, _| {
            let word = |goods: &Like| goods.quality.clone().flatten().map(String::from);
            Cell::text(differing(entry, word))
        });
    }
    row("price", &|entry, _| Cell::text(prices(entry)));
    row("valid until", &|_, offer| Cell::text(valid_until(offer)));
    row("sails", &|_, offer| Cell::text(offer.dates.sails.to_string()));
    row("on the rack", &|_, offer| Cell::text(offer.dates.delivered.to_string()));
    row("slabs", &|entry, offer| Cell::text(format!("{}{}", entry.part.slabs, nominal(offer))));
    let area = units.area();
    let figure = |surface: &Surface| Cell::maybe(surface.figure(units, 2));
    row(&format!("usable {area}"), &|entry, _| {
        entry.part.usable.as_ref().map_or(Cell::text("not known"), figure)
    });
    row(&format!("gross {area}"), &|entry, _| {
        entry.part.gross.as_ref().map_or(Cell::text("not known"), figure)
    });
    row(&format!("billed {area}"), &|entry, _| Cell::Figure(entry.part.billed.figure(units, 2)));
    row("billed, % of gross", &|entry, _| Cell::maybe(entry.part.billed_share()));
    let heads =
        group.entries.iter().map(|entry| Column::figures(name(comparison, entry).to_owned()));
    Table {
        title: goods(comparison, &group.goods, units),
        columns: std::iter::once(Column::words("offer")).chain(heads).collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// Until when the prices of an offer hold, marked where that is not long enough.
fn valid_until(offer: &Offer) -> String {
    let until = offer.valid_until();
    let mark = match until {
        Some(day) if day < offer.dates.quoted => " (lapsed)",
        _ if offer.ends_early.is_some() => " (before it sails)",
        _ => "",
    };
    until.map_or_else(String::new, |day| format!("{day}{mark}"))
}

/// The mark of a nominal offer.
fn nominal(offer: &Offer) -> &'static str {
    if offer.nominal { " (nominal)" } else { "" }
}

/// The offers as they are quoted, with what each holds of some goods: a line each.
pub(super) fn as_quoted(
    comparison: &Comparison,
    goods: &Like,
    units: Units,
) -> Vec<(String, String)> {
    let footing = comparison.footing;
    let fact = |entry: &Entry| {
        let offer = offer(comparison, entry)?;
        let area = entry.part.area(footing).ok().and_then(|area| area.figure(units, 2));
        let area = area.map_or_else(String::new, |area| {
            format!(", {} {} {}", grouped(area), units.area(), footing.word())
        });
        let until = match &*valid_until(offer) {
            "" => String::new(),
            day => format!(", valid until {day}"),
        };
        let value = format!(
            "{}, {}, {}{until}; {} slabs{}{area}; sails {}, on the rack {}",
            offer.suppliers.join(" and "),
            offer.terms.join(" and "),
            prices(entry),
            entry.part.slabs,
            nominal(offer),
            offer.dates.sails,
            offer.dates.delivered
        );
        // Under other terms an offer is held against itself.
        let mut first = comparison.offers.iter().take(entry.offer);
        let is_itself = first.any(|first| first.name == offer.name);
        let label = if is_itself { "as it is written" } else { &offer.name };
        Some((label.to_owned(), value))
    };
    comparison.of_goods(goods).filter_map(fact).collect()
}

/// Whether more fits into the boxes of any offer of a group.
fn is_fuller(comparison: &Comparison, group: &Group) -> bool {
    let mut offers = group.entries.iter().filter_map(|entry| offer(comparison, entry));
    offers.any(|offer| offer.full.is_some())
}

/// Offers with the boxes already needed full, one beside the other.
fn filled<'a>(comparison: &'a Comparison, group: &'a Group, units: Units) -> Vec<Block<'a>> {
    // What cannot be costed as it is offered cannot be filled.
    let is_costed =
        |entry: &&Entry| offer(comparison, entry).is_some_and(|offer| offer.outcome.is_ok());
    let entries = || group.entries.iter().filter(is_costed);
    let mut rows: Vec<Row<'a>> = Vec::new();
    let mut row = |label: &str, cell: &dyn Fn(&'a Entry, &'a Offer) -> Cell<'a>| {
        let cells = entries().filter_map(|entry| Some(cell(entry, offer(comparison, entry)?)));
        rows.push(std::iter::once(Cell::text(label.to_owned())).chain(cells).collect());
    };
    let footing = comparison.footing;
    row("rank", &|entry, _| rank(entry));
    row("bundles added", &|_, offer| Cell::count(offer.full.as_ref().map_or(0, |full| full.added)));
    row("boxes", &|_, offer| match &offer.filled().outcome {
        Ok(whole) => Cell::text(kinds_of_box(&whole.plan)),
        Err(_) => Cell::Empty,
    });
    row("slabs", &|entry, _| Cell::count(entry.part.slabs));
    row("price", &|entry, _| Cell::text(prices(entry)));
    row(&format!("{} {}", footing.word(), units.area()), &|entry, _| {
        Cell::maybe(entry.part.area(footing).ok().and_then(|area| area.figure(units, 2)))
    });
    let per = |entry: &Entry, amount: fn(&Sums) -> Money| {
        let amount = entry.part.sums.as_ref().map(amount)?;
        entry.part.per(amount, footing)?.figure(units)
    };
    let title = format!("per {}", units.area());
    row(&format!("landed {title}"), &|entry, _| Cell::maybe(per(entry, |sums| sums.landed)));
    row(&format!("with finance {title}"), &|entry, _| {
        Cell::maybe(per(entry, |sums| sums.decision))
    });
    row("above the lowest, %", &|entry, _| {
        Cell::maybe(entry.standing.as_ref().ok().map(|standing| standing.above.percent))
    });
    row("landed in all", &|_, offer| match &offer.filled().outcome {
        Ok(whole) => Cell::money(whole.landed),
        Err(_) => Cell::Empty,
    });
    let heads = entries().map(|entry| Column::figures(name(comparison, entry).to_owned()));
    let table = Table {
        title: format!("{}: boxes full (nominal)", goods(comparison, &group.goods, units)),
        columns: std::iter::once(Column::words("offer")).chain(heads).collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    };
    let unranked = unranked(comparison, entries(), "full, no rank");
    std::iter::once(Block::Table(table)).chain(unranked).collect()
}

/// Why offers of a group have no rank.
fn unranked<'a, 'e>(
    comparison: &Comparison,
    entries: impl Iterator<Item = &'e Entry>,
    what: &str,
) -> Option<Block<'a>> {
    let all = entries.filter_map(|entry| {
        let why = entry.standing.as_ref().err()?;
        Some((name(comparison, entry).to_owned(), format!("{what}: {}", reason(why))))
    });
    let all: Vec<(String, String)> = all.collect();
    (!all.is_empty()).then_some(Block::Facts(all))
}

fn rank<'a>(entry: &Entry) -> Cell<'a> {
    match &entry.standing {
        Ok(standing) => Cell::text(standing.rank.to_string()),
        Err(_) => Cell::text("none"),
    }
}

fn by_stage<'a>(comparison: &'a Comparison, group: &'a Group, units: Units) -> Table<'a> {
    let columns: Vec<(&Entry, Vec<(&'static str, Money)>)> = group
        .entries
        .iter()
        .filter_map(|entry| Some((entry, entry.part.sums.as_ref()?.amounts())))
        .collect();
    let labels = columns.first().map_or_else(Vec::new, |(_, all)| all.clone());
    let mut rows: Vec<Row<'_>> = Vec::new();
    for (at, (label, _)) in labels.iter().enumerate() {
        let cells = columns.iter().map(|(entry, all)| {
            let amount = all.get(at).map(|(_, amount)| *amount);
            let per = amount.and_then(|amount| entry.part.per(amount, comparison.footing));
            Cell::maybe(per.and_then(|per| per.figure(units)))
        });
        rows.push(std::iter::once(Cell::text(*label)).chain(cells).collect());
    }
    let totals = rows.pop();
    let heads =
        columns.iter().map(|(entry, _)| Column::figures(name(comparison, entry).to_owned()));
    let title = of_footing(comparison, units);
    Table {
        title,
        columns: std::iter::once(Column::words("stage")).chain(heads).collect(),
        rows: Rows::of(rows),
        totals,
        is_main: false,
    }
}

/// What each offer costs, a part for each stage, all on one scale.
fn stages(comparison: &Comparison, group: &Group, units: Units) -> String {
    let mut labels: Vec<&'static str> = Vec::new();
    let bar = |entry: &Entry| {
        let mut all = entry.part.sums.as_ref()?.amounts();
        // The last is the sum of the others, and one is of those before it.
        let (_, total) = all.pop()?;
        all.retain(|(label, _)| *label != "landed");
        labels = all.iter().map(|(label, _)| *label).collect();
        let figure = |amount: Money| entry.part.per(amount, comparison.footing)?.figure(units);
        let mut so_far = Decimal::ZERO;
        let parts = all.into_iter().map(|(_, amount)| {
            let from = so_far;
            so_far = so_far.checked_add(figure(amount)?)?;
            Some([from, so_far])
        });
        let parts = parts.collect::<Option<Vec<_>>>()?;
        let words = grouped(figure(total)?);
        Some(Bar { label: name(comparison, entry).to_owned(), parts, words })
    };
    let all: Vec<Bar> = group.entries.iter().filter_map(bar).collect();
    bars(&of_footing(comparison, units), &all, &labels)
}

fn above_best<'a>(comparison: &'a Comparison, group: &'a Group, units: Units) -> Table<'a> {
    let rows = group.entries.iter().filter_map(move |entry| {
        let Ok(Standing { above, because, on_starters, .. }) = &entry.standing else {
            return None;
        };
        let mut rows = vec![vec![
            Cell::text(name(comparison, entry)),
            Cell::maybe(above.per_area.figure(units)),
            Cell::money(above.on_area),
            Cell::Figure(above.percent),
        ]];
        let row = |name: String, per_area: Option<Decimal>, on_area: Money| {
            vec![
                Cell::text(format!("by {name}")),
                Cell::maybe(per_area),
                Cell::money(on_area),
                Cell::Empty,
            ]
        };
        let own = because.iter().map(|cause| (cause.per_area.figure(units), cause.on_area));
        // What the named ones leave, as the page shows them: so they add up.
        let rest = own.clone().try_fold(
            (above.per_area.figure(units)?, above.on_area),
            |(per_area, on_area), (own, money)| {
                Some((per_area.checked_sub(own?)?, on_area.minus(money).ok()?))
            },
        );
        rows.extend(
            because
                .iter()
                .zip(own)
                .map(|(cause, (per_area, on_area))| row(cause.name.clone(), per_area, on_area)),
        );
        if let Some((per_area, on_area)) = rest.filter(|_| !because.is_empty()) {
            rows.push(row("all other charges".to_owned(), Some(per_area), on_area));
        }
        // For the best there is no difference to rest on anything.
        let on_starters = on_starters.as_ref().filter(|_| !above.on_area.is_zero());
        rows.extend(on_starters.map(|OnStarters { per_area, on_area }| {
            vec![
                Cell::text("of it on starter figures"),
                Cell::maybe(per_area.figure(units)),
                Cell::money(*on_area),
                Cell::Empty,
            ]
        }));
        Some(rows)
    });
    Table {
        title: "Above the lowest, and the charges that make most of it".to_owned(),
        columns: vec![
            Column::words("offer"),
            Column::figures(format!("per {}", units.area())),
            Column::figures("for its area"),
            Column::figures("%"),
        ],
        rows: Rows::of(rows.flatten()),
        totals: None,
        is_main: false,
    }
}

/// What offers come to as wholes: their boxes, their cash, and what their costs rest on.
fn wholes(comparison: &Comparison, units: Units) -> Table<'_> {
    let all = comparison.ranked().into_iter();
    let all: Vec<(&Offer, &Whole)> =
        all.filter_map(|offer| Some((offer, offer.outcome.as_ref().ok()?))).collect();
    let mut rows: Vec<Row<'_>> = Vec::new();
    let mut row = |label: &'static str, cell: &dyn Fn(&Offer, &Whole) -> String| {
        let cells = all.iter().map(|(offer, whole)| Cell::text(cell(offer, whole)));
        rows.push(std::iter::once(Cell::text(label)).chain(cells).collect());
    };
    row("boxes", &|_, whole| kinds_of_box(&whole.plan));
    row("cheapest load", &|_, whole| whole.verdict.sure.word().to_owned());
    row("would still fit", &|_, whole| still_fits(whole, units));
    row("landed in all", &|_, whole| whole.landed.to_string());
    row("most cash out", &|_, whole| {
        let peak = whole.peak.as_ref();
        peak.map_or("not known".to_owned(), |(day, most)| format!("{most} on {day}"))
    });
    row("at planning rates", &|_, whole| part(whole, whole.planned));
    row("on assumptions", &|_, whole| part(whole, whole.assumed()));
    if all.iter().any(|(_, whole)| !whole.starters.places.is_empty()) {
        row("on starter figures", &|_, whole| part(whole, whole.starters.sum));
    }
    if all.iter().any(|(_, whole)| !whole.carried.is_empty()) {
        row("on lapsed rates", &|_, whole| part(whole, whole.on_lapsed()));
    }
    row("first to lapse", &|_, whole| {
        let first = whole.first_lapse.as_ref();
        first.map_or("nothing".to_owned(), |(until, what)| format!("{what}, {until}"))
    });
    let heads = all.iter().map(|(offer, _)| Column::words(offer.name.clone()));
    Table {
        title: "Each offer as a whole".to_owned(),
        columns: std::iter::once(Column::words("offer")).chain(heads).collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// More bundles like the median one, which would go into the boxes of an offer.
fn still_fits(whole: &Whole, units: Units) -> String {
    match &whole.fits {
        Some(Fits { bundles: 0, like, .. }) => format!("no bundle like {like}"),
        Some(Fits { bundles, like, mass, gross }) => {
            let area = gross.as_ref().and_then(|area| area.figure(units, 2));
            let area = area.map_or_else(String::new, |area| {
                format!(", {} {} as sawn", grouped(area), units.area())
            });
            let bundles = count_of(*bundles, "bundle");
            format!("{bundles} like {like}: {}{area}", mass.show(units))
        }
        None => "not known".to_owned(),
    }
}

/// Goods that one offer holds alone: there is nothing to compare them with.
fn held_alone<'a>(
    comparison: &'a Comparison,
    groups: Vec<&'a Group>,
    title: &str,
    units: Units,
) -> Table<'a> {
    let footing = comparison.footing;
    let row = move |group: &'a Group| -> Option<Row<'a>> {
        let entry = group.entries.first()?;
        let per = |amount: Money| entry.part.per(amount, footing).and_then(|per| per.figure(units));
        let sums = entry.part.sums.as_ref();
        let area = entry.part.area(footing).ok().and_then(|area| area.figure(units, 2));
        Some(vec![
            Cell::text(name(comparison, entry)),
            Cell::text(goods(comparison, &group.goods, units)),
            Cell::count(entry.part.slabs),
            Cell::maybe(area),
            Cell::maybe(sums.and_then(|sums| per(sums.landed))),
            Cell::maybe(sums.and_then(|sums| per(sums.decision))),
        ])
    };
    Table {
        title: format!("{title}: {}", of_footing(comparison, units)),
        columns: vec![
            Column::words("offer"),
            Column::words("goods"),
            Column::figures("slabs"),
            Column::figures(units.area()),
            Column::figures("landed"),
            Column::figures("with finance"),
        ],
        rows: Rows::of(groups.into_iter().filter_map(row)),
        totals: None,
        is_main: false,
    }
}

fn notes(comparison: &Comparison, units: Units) -> Vec<String> {
    let compared = || comparison.groups.iter().filter(|group| group.entries.len() > 1);
    let mut notes: Vec<String> = compared()
        .map(|group| {
            let best = group
                .entries
                .iter()
                .filter(|entry| entry.standing.as_ref().is_ok_and(|standing| standing.rank == 1));
            let best: Vec<&str> = best.map(|entry| name(comparison, entry)).collect();
            let goods = goods(comparison, &group.goods, units);
            match best[..] {
                [] => format!("{goods}: no offer has a rank."),
                _ => format!("{goods}: lowest cost with finance per area: {}.", best.join(" and ")),
            }
        })
        .collect();
    if comparison.groups.len() > 1 {
        notes.push(
            "Goods are compared with like goods alone: no offer wins across different goods."
                .to_owned(),
        );
    }
    if comparison.groups.iter().any(bills_differently) {
        notes.push(
            "The offers bill differently (take-off, rounding, unit): their prices are per area billed, and \
             do not compare as they stand."
                .to_owned(),
        );
    }
    notes.extend([WITH_FINANCE, STAGES].map(str::to_owned));
    let has_wishes =
        |offer: &Offer| offer.outcome.as_ref().is_ok_and(|whole| !whole.verdict.wishes.is_empty());
    if comparison.offers.iter().any(has_wishes) {
        notes.push(
            "Broken wishes are not billed, but offers are compared with their price.".to_owned(),
        );
    }
    if !comparison.full.is_empty() {
        notes.push(
            "Boxes full: the boxes that an offer needs, filled with bundles like its median one until none \
             fits, at the prices of that quantity. Nobody offered so much."
                .to_owned(),
        );
    }
    if comparison.offers.iter().any(|offer| offer.nominal) {
        notes.push("Nominal offers have a quantity, but no packing list.".to_owned());
    }
    let yards: BTreeSet<&str> = comparison.offers.iter().map(|one| one.yard.as_str()).collect();
    if yards.len() > 1 {
        notes.push("The offers go to different yards.".to_owned());
    }
    notes
}

/// Whether offers of like goods bill different areas of them.
fn bills_differently(group: &Group) -> bool {
    let mut all = group.entries.iter().map(|entry| {
        let measures: Vec<Measure> = entry.part.measures.clone();
        (measures, entry.part.billed_share())
    });
    let first = all.next();
    all.any(|(measures, share)| {
        first.as_ref().is_some_and(|(own, billed)| {
            measures.iter().any(|one| !own.contains(one))
                || own.iter().any(|one| !measures.contains(one))
                || *billed != share
        })
    })
}
