//! A comparison as one list: every figure in a row of its own, with the offer and the goods it is of.

use std::collections::BTreeSet;

use super::page::{Cell, Column, Row, Rows, Table};
use crate::decide::{Comparison, Entry, Like, Offer, PerArea, Standing, Sums, Surface, Whole};
use crate::quantity::{Decimal, Money, Price, Units};

/// What differs of goods that stand together.
pub(super) fn differing(entry: &Entry, pick: impl Fn(&Like) -> Option<String>) -> String {
    let all: BTreeSet<String> = entry.part.goods.iter().filter_map(pick).collect();
    all.into_iter().collect::<Vec<_>>().join(", ")
}

/// The prices of goods, as quoted, with what is added to them.
pub(super) fn prices(entry: &Entry) -> String {
    let prices: Vec<String> = entry.part.prices.iter().map(ToString::to_string).collect();
    let additions = entry.part.additions.iter().map(|(name, price)| format!(" + {price} {name}"));
    std::iter::once(prices.join(", ")).chain(additions).collect()
}

/// The columns beside the money, which stands between them.
const WORDS: [&str; 14] = [
    "offer",
    "supplier",
    "term",
    "yard",
    "stone",
    "finish",
    "thickness mm",
    "quality",
    "valid until",
    "sails",
    "on the rack",
    "load",
    "what",
    "of",
];

/// The figures of a row. A row has few of them.
#[derive(Default)]
struct Figures {
    /// An amount in the book currency.
    amount: Option<Money>,
    /// The same per area.
    per: Option<PerArea>,
    /// An area.
    area: Option<Surface>,
    /// A percentage.
    percent: Option<Decimal>,
    /// A count.
    count: Option<usize>,
    /// A mass, in kilograms.
    mass: Option<Decimal>,
    /// A price, in the unit that the row names.
    price: Option<Decimal>,
}

impl Figures {
    fn amount(amount: Money, per: Option<PerArea>) -> Self {
        Self { amount: Some(amount), per, ..Self::default() }
    }

    fn count(count: usize) -> Self {
        Self { count: Some(count), ..Self::default() }
    }

    fn cells<'a>(self) -> [Cell<'a>; 9] {
        let per = |units| Cell::maybe(self.per.as_ref().and_then(|per| per.figure(units)));
        let area = |units| Cell::maybe(self.area.as_ref().and_then(|area| area.figure(units, 3)));
        [
            self.amount.map_or(Cell::Empty, Cell::money),
            per(Units::Metric),
            per(Units::Us),
            area(Units::Metric),
            area(Units::Us),
            Cell::maybe(self.percent),
            self.count.map_or(Cell::Empty, Cell::count),
            Cell::maybe(self.mass),
            Cell::maybe(self.price),
        ]
    }
}

/// Every figure in a row of its own, with the offer and the goods it is of.
pub(super) fn list(comparison: &Comparison) -> Table<'_> {
    let as_offered = comparison.groups.iter().map(|group| (group, AS_OFFERED));
    let full = comparison.full.iter().map(|group| (group, FULL));
    let parts = as_offered.chain(full).flat_map(move |(group, load)| {
        group.entries.iter().flat_map(move |entry| figures(comparison, entry, load))
    });
    let wholes = comparison.offers.iter().flat_map(|offer| {
        let full = offer.full.as_ref().map(|full| (&full.offer, FULL));
        std::iter::once((offer, AS_OFFERED)).chain(full)
    });
    let wholes = wholes.flat_map(|(offer, load)| whole_figures(offer, load));
    let figures =
        [comparison.currency.code(), "per m2", "per ft2", "m2", "ft2", "%", "count", "kg", "price"];
    let columns = WORDS.map(Column::words).into_iter();
    Table {
        title: "Comparison, a figure a cell".to_owned(),
        columns: columns.chain(figures.map(Column::figures)).collect(),
        rows: Rows::of(parts.chain(wholes)),
        totals: None,
        is_main: true,
    }
}

/// As the offer has it.
const AS_OFFERED: &str = "as offered";

/// With the boxes already needed full.
const FULL: &str = "boxes full (nominal)";

/// The words that a row of an offer begins with, `goods` between them.
fn row<'a>(
    offer: &'a Offer,
    goods: [String; 4],
    load: &'static str,
    (what, of): (&str, String),
    figures: Figures,
) -> Row<'a> {
    let before = [
        Cell::text(offer.name.as_str()),
        Cell::text(offer.suppliers.join(", ")),
        Cell::text(offer.terms.join(", ")),
        Cell::text(offer.yard.as_str()),
    ];
    let after = [
        Cell::text(offer.valid_until().map_or_else(String::new, |day| day.to_string())),
        Cell::text(offer.dates.sails.to_string()),
        Cell::text(offer.dates.delivered.to_string()),
        Cell::text(load),
        Cell::text(what.to_owned()),
        Cell::text(of),
    ];
    let words = before.into_iter().chain(goods.map(Cell::text)).chain(after);
    words.chain(figures.cells()).collect()
}

/// The figures of an offer in a group.
fn figures<'a>(comparison: &'a Comparison, entry: &'a Entry, load: &'static str) -> Vec<Row<'a>> {
    let Some(offer) = comparison.offers.get(entry.offer) else { return Vec::new() };
    let offer = if load == FULL { offer.filled() } else { offer };
    let mm = |goods: &Like| goods.thickness.map(|own| own.figure(Units::Metric).to_string());
    let goods = [
        differing(entry, |goods| goods.stone.clone()),
        differing(entry, |goods| goods.finish.clone()),
        differing(entry, mm),
        differing(entry, |goods| goods.quality.clone().flatten().map(String::from)),
    ];
    let part = &entry.part;
    let row = |what: (&str, String), figures| row(offer, goods.clone(), load, what, figures);
    let plain = |what: &'static str| (what, String::new());
    let mut rows = vec![row(plain("slabs"), Figures::count(part.slabs))];
    let known = [("usable area", &part.usable), ("gross area", &part.gross)];
    let billed = Surface::from(part.billed);
    let known =
        known.into_iter().filter_map(|(what, surface)| Some((what, surface.as_ref().ok()?)));
    for (what, area) in known.chain([("billed area", &billed)]) {
        rows.push(row(plain(what), Figures { area: Some(area.clone()), ..Figures::default() }));
    }
    let unit = |price: &Price| format!("{}/{}", price.currency, price.by.word());
    let prices = part.prices.iter().map(|price| ("price", price, unit(price)));
    let additions = part.additions.iter();
    let additions =
        additions.map(|(name, price)| ("added", price, format!("{}, {name}", unit(price))));
    for (what, price, of) in prices.chain(additions) {
        let figures = Figures { price: Some(price.amount), ..Figures::default() };
        rows.push(row((what, of), figures));
    }
    for (what, amount) in part.sums.iter().flat_map(Sums::amounts) {
        let per = part.per(amount, comparison.footing);
        rows.push(row(plain(what), Figures::amount(amount, per)));
    }
    if let Ok(Standing { rank, above, because, on_starters, .. }) = &entry.standing {
        rows.push(row(plain("rank"), Figures::count(*rank)));
        let percent = Some(above.percent);
        let above = Figures::amount(above.on_area, Some(above.per_area.clone()));
        rows.push(row(plain("above the lowest"), Figures { percent, ..above }));
        for cause in because {
            let figures = Figures::amount(cause.on_area, Some(cause.per_area.clone()));
            rows.push(row(("of which", cause.name.clone()), figures));
        }
        rows.extend(on_starters.as_ref().map(|part| {
            let figures = Figures::amount(part.on_area, Some(part.per_area.clone()));
            row(plain("of it on starter figures"), figures)
        }));
    }
    rows
}

/// The figures of an offer as a whole.
fn whole_figures<'a>(offer: &'a Offer, load: &'static str) -> Vec<Row<'a>> {
    let Ok(whole) = &offer.outcome else { return Vec::new() };
    let row = |what: (&str, String), figures| {
        row(offer, [const { String::new() }; 4], load, what, figures)
    };
    let plain = |what: &'static str| (what, String::new());
    let share =
        |amount: Money| Figures { percent: whole.percent(amount), ..Figures::amount(amount, None) };
    let Whole { plan, landed, planned, fits, peak, carried, first_lapse, .. } = whole;
    let mut rows = vec![row(plain("boxes"), Figures::count(plan.boxes.len()))];
    rows.extend(fits.as_ref().map(|fits| {
        let (count, mass) = (Some(fits.bundles), Some(fits.mass.to_kg(1)));
        let figures = Figures { count, mass, area: fits.gross.clone(), ..Figures::default() };
        row(("bundles that would still fit", fits.like.clone()), figures)
    }));
    rows.push(row(plain("landed in all"), Figures::amount(*landed, None)));
    rows.extend(
        peak.as_ref().map(|(day, most)| {
            row(("cash out, most", day.to_string()), Figures::amount(*most, None))
        }),
    );
    rows.push(row(plain("at planning rates"), share(*planned)));
    rows.push(row(plain("on assumptions"), share(whole.assumed())));
    if !whole.starters.places.is_empty() {
        rows.push(row(plain("on starter figures"), share(whole.starters.sum)));
    }
    rows.extend(first_lapse.as_ref().map(|(until, what)| {
        row(("first to lapse", format!("{what}, {until}")), Figures::default())
    }));
    for one in carried {
        let age = usize::try_from(one.days).ok();
        let figures = Figures { count: age, ..share(one.share) };
        rows.push(row(("on a lapsed rate, with its days", one.what.clone()), figures));
    }
    rows
}
