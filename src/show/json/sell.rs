//! Prices and cover for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, plain, write};
use crate::quantity::{Area, Money, Units};
use crate::sell::{Cover, Listing, Tests, Unwatched};
use crate::show::books::{goods_in_words, why};
use crate::trade::{Class, Date};

#[derive(Serialize)]
struct ClassJson<'a> {
    yard: &'a str,
    stone: &'a str,
    finish: &'a str,
    thickness: &'a str,
    quality: &'a str,
}

impl<'a> From<&'a Class> for ClassJson<'a> {
    fn from(class: &'a Class) -> Self {
        Self {
            yard: &class.yard,
            stone: &class.stone,
            finish: &class.finish,
            thickness: &class.thickness,
            quality: &class.quality,
        }
    }
}

/// What a manager sees of a price and nobody else.
#[derive(Serialize)]
struct InsideJson {
    cost: String,
    books: &'static str,
    cost_per_unit: Option<String>,
    least: String,
    margin: Option<String>,
    markup: Option<String>,
    is_at_least: bool,
    exception: Option<String>,
    estimated_slabs: usize,
}

#[derive(Serialize)]
struct LineJson<'a> {
    #[serde(flatten)]
    class: ClassJson<'a>,
    tier: &'a str,
    slabs: usize,
    area: &'static str,
    here_m2: String,
    coming_m2: String,
    price: String,
    currency: &'static str,
    per: &'static str,
    tax: Option<String>,
    valid: String,
    #[serde(flatten)]
    inside: Option<InsideJson>,
}

#[derive(Serialize)]
struct OutsideJson {
    shipment: String,
    cost: String,
    books: &'static str,
    least: String,
    why: String,
}

#[derive(Serialize)]
struct SingleJson<'a> {
    #[serde(flatten)]
    class: ClassJson<'a>,
    slab: &'a str,
    tier: &'a str,
    m2: String,
    price: String,
    currency: &'static str,
    per: &'static str,
    #[serde(flatten)]
    inside: Option<OutsideJson>,
}

#[derive(Serialize)]
struct PricesJson<'a> {
    format: u32,
    on: String,
    #[serde(rename = "for")]
    whom: &'static str,
    prices: Vec<LineJson<'a>>,
    single_slabs: Vec<SingleJson<'a>>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    without: Vec<ClassJson<'a>>,
}

/// Writes a price list; `is_internal`: with what prices rest on.
///
/// # Errors
/// Where the output cannot be written.
pub fn prices(
    listing: &Listing<'_>,
    on: Date,
    is_internal: bool,
    out: &mut dyn Write,
) -> io::Result<()> {
    let prices = listing.lines.iter().map(|line| LineJson {
        class: (&line.class).into(),
        tier: &line.row.tier,
        slabs: line.slabs,
        area: line.row.sold_by(),
        here_m2: m2(line.on_hand),
        coming_m2: m2(line.coming),
        price: plain(line.price),
        currency: line.price.currency().code(),
        per: line.row.by.word(),
        tax: line.row.tax.map(|tax| tax.to_string()),
        valid: line.row.valid.to_string(),
        inside: is_internal.then(|| InsideJson {
            cost: plain(line.cost),
            books: line.cost.currency().code(),
            cost_per_unit: line.unit_cost.figure(4).map(|one| one.to_string()),
            least: plain(line.floor),
            margin: line.margin().map(|one| one.to_string()),
            markup: line.markup().map(|one| one.to_string()),
            is_at_least: line.is_at_floor,
            exception: line.exception.map(|row| row.reason.clone()),
            estimated_slabs: line.estimated,
        }),
    });
    let singles = listing.singles.iter().map(|one| SingleJson {
        class: (&one.class).into(),
        slab: one.slab,
        tier: one.tier,
        m2: m2(one.area),
        price: plain(one.price),
        currency: one.price.currency().code(),
        per: one.per,
        inside: is_internal.then(|| OutsideJson {
            shipment: one.shipment.to_owned(),
            cost: plain(one.cost),
            books: one.cost.currency().code(),
            least: plain(one.floor),
            why: why(one),
        }),
    });
    let without = listing.without.iter().filter(|_| is_internal).map(ClassJson::from);
    let json = PricesJson {
        format: FORMAT,
        on: on.to_string(),
        whom: if is_internal { "manager" } else { "showroom" },
        prices: prices.collect(),
        single_slabs: singles.collect(),
        without: without.collect(),
    };
    write(&json, out)
}

fn m2(area: Area) -> String {
    area.to_m2(4).to_string()
}

#[derive(Serialize)]
struct CoverJson {
    goods: String,
    here_m2: String,
    coming_m2: String,
    used_m2_a_month: Option<String>,
    /// Over how many days that is counted, where the first slab came within the months of the row.
    used_over_days: Option<u32>,
    months: Option<String>,
    months_with_coming: Option<String>,
    runs_out: Option<String>,
    order_by: Option<String>,
    late: Vec<LateJson>,
    left_m2: Option<String>,
    left_said: Option<String>,
    months_with_left: Option<String>,
    months_of_reserve: Option<String>,
    is_ending: bool,
}

#[derive(Serialize)]
struct LateJson {
    shipment: String,
    comes: String,
    runs_out: String,
}

#[derive(Serialize)]
struct CoversJson<'a> {
    format: u32,
    on: String,
    cover: Vec<CoverJson>,
    /// Stones that stand in a yard, are on the way or were used of late, and that no row watches.
    unwatched: Vec<UnwatchedJson<'a>>,
}

#[derive(Serialize)]
struct UnwatchedJson<'a> {
    stone: &'a str,
    yard: &'a str,
    here_m2: String,
    coming_m2: String,
    issued_m2: String,
    issued_months: u32,
}

/// Writes how long stones last.
///
/// # Errors
/// Where the output cannot be written.
pub fn cover(
    (all, unwatched): (&[Cover<'_>], &[Unwatched]),
    on: Date,
    out: &mut dyn Write,
) -> io::Result<()> {
    let text = |day: Option<Date>| day.map(|day| day.to_string());
    let cover = all.iter().map(|one| CoverJson {
        goods: goods_in_words(&one.row.goods, Units::Metric),
        here_m2: m2(one.on_hand),
        coming_m2: m2(one.coming),
        used_m2_a_month: one.used.map(m2),
        used_over_days: one.days_here,
        months: one.months.map(|one| one.to_string()),
        months_with_coming: one.months_with_coming.map(|one| one.to_string()),
        runs_out: text(one.runs_out),
        order_by: text(one.order_by),
        late: one
            .late
            .iter()
            .map(|late| LateJson {
                shipment: late.shipment.to_owned(),
                comes: late.comes.to_string(),
                runs_out: late.runs_out.to_string(),
            })
            .collect(),
        left_m2: one.left.map(m2),
        left_said: text(one.left.and(one.row.left).map(|(_, said)| said)),
        months_with_left: one.months_with_left.map(|one| one.to_string()),
        months_of_reserve: one.months_of_reserve.map(|one| one.to_string()),
        is_ending: one.is_ending(),
    });
    let unwatched = unwatched.iter().map(|one| UnwatchedJson {
        stone: &one.stone,
        yard: &one.yard,
        here_m2: m2(one.on_hand),
        coming_m2: m2(one.coming),
        issued_m2: m2(one.issued),
        issued_months: Unwatched::MONTHS,
    });
    let (cover, unwatched) = (cover.collect(), unwatched.collect());
    write(&CoversJson { format: FORMAT, on: on.to_string(), cover, unwatched }, out)
}

#[derive(Serialize)]
struct TestedJson<'a> {
    shipment: &'a str,
    slab: &'a str,
    currency: &'static str,
    cost: String,
    written_down: String,
    worth: String,
    write_down: String,
    price: String,
    order: Option<&'a str>,
    source: &'a str,
}

#[derive(Serialize)]
struct TestsJson<'a> {
    format: u32,
    on: String,
    slabs: Vec<TestedJson<'a>>,
    without: Vec<ClassJson<'a>>,
}

/// Writes slabs held against what they can be sold for. `write_down` below 0 is taken back up.
///
/// # Errors
/// Where the output cannot be written.
pub fn worth(tests: &Tests<'_>, on: Date, out: &mut dyn Write) -> io::Result<()> {
    let slabs = tests.slabs.iter().map(|one| {
        let money = |minor| plain(Money::from_minor(minor, one.listed.freeze.currency));
        TestedJson {
            shipment: one.listed.freeze.shipment.as_str(),
            slab: &one.listed.slab.id,
            currency: one.listed.freeze.currency.code(),
            cost: money(one.listed.state.held),
            written_down: money(one.listed.state.allowance),
            worth: plain(one.worth),
            write_down: plain(one.down),
            price: one.row.price.to_string(),
            order: one.row.order.as_deref(),
            source: &one.row.source,
        }
    });
    let without = tests.without.iter().map(ClassJson::from).collect();
    write(&TestsJson { format: FORMAT, on: on.to_string(), slabs: slabs.collect(), without }, out)
}
