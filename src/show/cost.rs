//! The landed cost as a page.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fmt::Write;

use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::verdict;
use crate::bill::Charge;
use crate::charges::Choice;
use crate::choose::{Costed, Fallen, OwnLeg};
use crate::cost::{Breakdown, By, Carried, LEG_GROUPS, Landed, Part, Starters, charge_sums};
use crate::decide::Comparison;
use crate::load::{Plan, Variant};
use crate::quantity::{Area, Currency, Money, UnitCost, Units, count_of, grouped};
use crate::trade::{Basis, Line, Shipment};

/// The note under every page with a cost "with finance".
pub(super) const WITH_FINANCE: &str = "with finance: landed cost with finance and expensed charges";

/// What costs of a comparison are per, in words: `USD per m2 of usable area`.
pub(super) fn of_footing(comparison: &Comparison, units: Units) -> String {
    format!("{} per {} of {} area", comparison.currency, units.area(), comparison.footing.word())
}

/// The note under every page with costs by stage.
pub(super) const STAGES: &str = "shipping: packing, carriage, insurance and terminals up to the port of arrival; customs: \
                                 clearance, duty and tax; delivery: haulage and unloading";

/// The note under every page that says where charges go.
pub(super) const GOES_TO: &str = "stock: part of the slabs' cost; expensed: an expense of the period; recoverable: it \
                                  comes back; not booked: counted only in the cost with finance";

/// The page of a landed cost.
pub fn costed<'a>(
    shipment: &'a Shipment,
    costed: &'a Costed,
    own: &[OwnLeg],
    by: By,
    units: Units,
) -> Page<'a> {
    let landed = &costed.landed;
    let mut notes: Vec<String> =
        landed.notes.iter().chain(&landed.claims).map(|note| note.0.clone()).collect();
    notes.push(
        "An estimate for decisions and prices, not a declaration. A licensed customs broker confirms \
         tariff lines, values and duties."
            .to_owned(),
    );
    notes.extend([GOES_TO, WITH_FINANCE, STAGES].map(str::to_owned));
    let mut blocks = vec![
        Block::Heading(heading(shipment)),
        Block::Day(shipment.dates.quoted),
        Block::Facts(facts(shipment, costed, units)),
        Block::Table(charges(shipment, costed)),
    ];
    if !own.is_empty() {
        blocks.push(Block::Table(inside_the_price(landed, own)));
    }
    blocks.extend([Block::Table(breakdown(shipment, costed, by, units)), Block::Notes(notes)]);
    Page { blocks }
}

/// Legs that the price contains, at our own rates.
fn inside_the_price<'a>(landed: &Landed, own: &[OwnLeg]) -> Table<'a> {
    let row = |one: &OwnLeg| vec![Cell::text(one.leg.word()), Cell::money(one.amount)];
    let rows: Vec<Row<'a>> = own.iter().map(row).collect();
    Table {
        title: "Inside the supplier's price: what it would cost at our own rates (not booked)"
            .to_owned(),
        columns: vec![
            Column::words("leg"),
            Column::figures(format!("own rates {}", landed.currency)),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// The name of a shipment, its title where it has one, in which way it is bought, and where it goes.
pub(super) fn heading(shipment: &Shipment) -> String {
    let title =
        if shipment.title.is_empty() { String::new() } else { format!(": {}", shipment.title) };
    let nominal = if shipment.is_nominal() { " (nominal)" } else { "" };
    let ways = match shipment.way {
        None if !shipment.ways.is_empty() => {
            format!(" as written (other ways: {})", shipment.ways.join(", "))
        }
        _ => String::new(),
    };
    format!("{}{title}{nominal}{ways}, to {}", shipment.called(), shipment.yard.name)
}

pub(super) fn per_area(cost: Money, area: Area, units: Units) -> String {
    match (UnitCost::per_m2(cost, area), UnitCost::per_ft2(cost, area)) {
        (Some(m2), Some(ft2)) => {
            let [(first, one), (second, other)] = asked_first(units, [(m2, "m2"), (ft2, "ft2")]);
            format!("{first} per {one} billed, {second} per {other}")
        }
        _ => "no area".to_owned(),
    }
}

/// What of a landed cost rests on what has lapsed: in all, and each with its age.
pub(super) fn on_lapsed(
    carried: &[Carried],
    part: impl Fn(Money) -> String,
) -> Vec<(String, String)> {
    let shares = carried.iter().map(|one| one.share);
    let sum = carried.first().and_then(|one| Money::total(one.share.currency(), shares).ok());
    let sum = sum.map(|sum| format!("{} of the landed cost, assumed", part(sum)));
    let each = carried.iter().map(|Carried { what, until, days, share }| {
        let days = count_of(*days, "day");
        let share = if share.is_zero() { "nothing".to_owned() } else { part(*share) };
        format!("{what}, ended on {until}, {days} before it is needed: {share}")
    });
    sum.into_iter().chain(each).map(|one| ("on lapsed rates".to_owned(), one)).collect()
}

fn facts(shipment: &Shipment, costed: &Costed, units: Units) -> Vec<(String, String)> {
    let landed = &costed.landed;
    let head = &landed.headline;
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let money = |amount: Money| format!("{amount}  ({})", per_area(amount, head.area, units));
    let mut facts = vec![
        fact("landed cost", money(landed.total)),
        fact("with finance", money(landed.decision)),
        fact("goods", goods(shipment, landed, units)),
    ];
    facts.extend(on_starters(&head.starters).map(|what| fact("to replace", what)));
    facts.extend(by_line(shipment, costed, units).map(|lines| fact("by line", lines)));
    facts.extend([
        fact("containers", boxes(costed)),
        verdict::fact(&costed.verdict, true),
        fact("dates", dates(shipment)),
    ]);
    for under in &costed.under_least {
        facts.push(fact("least order", under.what.clone()));
    }
    if !costed.choice.offers().is_empty() {
        facts.push(fact("offers", offers(costed)));
    }
    let part = |amount: Money| match landed.percent_of_total(amount) {
        Some(percent) => format!("{amount} ({percent} %)"),
        None => amount.to_string(),
    };
    let firm = head.by_basis.iter().map(|(basis, sum)| match basis {
        Basis::Law => format!("by law {}", part(*sum)),
        Basis::Assumed if !sum.is_zero() => {
            format!("assumed {}: {}", part(*sum), first_of(&head.assumed))
        }
        _ => format!("{} {}", basis.word(), part(*sum)),
    });
    facts.push(fact("how firm", firm.collect::<Vec<_>>().join(", ")));
    if !head.planned.is_zero() {
        facts.push(fact("at planning rates", part(head.planned)));
    }
    facts.extend(on_lapsed(&head.carried, part));
    if let Some((until, what, _)) = &head.first_lapse {
        facts.push(fact("first to lapse", format!("{what}, {until}")));
    }
    facts.extend(verdict::doubts(&costed.verdict, units));
    facts.extend(verdict::stocks(&shipment.load, shipment.kept.as_ref()));
    facts
}

/// What of a cost rests on figures to start with, where any of it does.
pub fn on_starters(starters: &Starters) -> Option<String> {
    let count = starters.places.len();
    let (rests, figures) = (starters.sum, count_of(count, "starter figure"));
    (count > 0).then(|| format!("{rests} rests on {figures}: `rates --starter` lists them"))
}

/// The first names of a list, and how many more there are.
fn first_of(names: &[String]) -> String {
    let (first, more) = names.split_at(names.len().min(NAMED));
    let more = match more.len() {
        0 => String::new(),
        more => format!(" and {} more", grouped(more.into())),
    };
    format!("{}{more}", first.join(", "))
}

fn goods(shipment: &Shipment, landed: &Landed, units: Units) -> String {
    let (slabs, bundles) = (shipment.slabs.len(), shipment.bundles.len());
    format!(
        "{}, {}, {}, {} with timber",
        count_of(slabs, "slab"),
        count_of(bundles, "bundle"),
        landed.headline.area.show(units),
        landed.headline.mass.show(units)
    )
}

/// What each line costs per area, where they hold different goods: nobody sells at the mean of those.
fn by_line(shipment: &Shipment, costed: &Costed, units: Units) -> Option<String> {
    let goods = |line: &Line| (line.stone.value.clone(), line.finish.clone(), line.thickness);
    let first = shipment.lines.first().map(goods)?;
    if shipment.lines.iter().all(|line| goods(line) == first) {
        return None;
    }
    let parts = Breakdown::new(shipment, &costed.landed, &costed.plan).parts(By::Line)?;
    let told = |part: &Part| {
        let slab = shipment.slabs.get(part.slab)?;
        let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
        let (cost, unit) = match units {
            Units::Metric => (part.per_m2()?, "m2"),
            Units::Us => (part.per_ft2()?, "ft2"),
        };
        let (stone, thickness) = (&*line.stone, line.thickness.show(units));
        Some(format!("{}, {stone} {} {thickness}: {cost} per {unit}", line.id, line.finish))
    };
    let mut all: Vec<String> = parts.iter().take(NAMED).filter_map(told).collect();
    if let Some(more @ 1..) = parts.len().checked_sub(NAMED) {
        all.push(format!("and {}", count_of(more, "more line")));
    }
    Some(all.join("; "))
}

fn dates(shipment: &Shipment) -> String {
    let dates = &shipment.dates;
    let entered: Vec<String> = shipment.days_of_entry().iter().map(ToString::to_string).collect();
    format!(
        "quoted {}, sails {}, arrives {}, entered {}, delivered {}",
        dates.quoted,
        dates.sails,
        dates.arrives,
        entered.join(" and "),
        dates.delivered
    )
}

/// How many boxes of each kind, and how sure that is.
pub(super) fn boxes(costed: &Costed) -> String {
    format!("{} ({})", kinds_of_box(&costed.plan), costed.verdict.sure.word())
}

/// How many boxes of each kind.
pub(super) fn kinds_of_box(plan: &Plan) -> String {
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    for filled in &plan.boxes {
        *counts
            .entry(plan.variant(filled).map_or_else(String::new, Variant::label))
            .or_default() += 1;
    }
    let list: Vec<String> = counts
        .iter()
        .map(|(label, count)| format!("{} x {label}", grouped((*count).into())))
        .collect();
    list.join(", ")
}

/// The offers of a choice, in words.
pub(super) fn named(choice: &Choice) -> String {
    let mut text = String::new();
    let mut last = None;
    for (table, offer) in choice.offers() {
        // Writing to a string cannot fail.
        let _ = match last {
            Some(same) if same == table => write!(text, " and {offer}"),
            Some(_) => write!(text, ", {} {offer}", table.word()),
            None => write!(text, "{} {offer}", table.word()),
        };
        last = Some(table);
    }
    text
}

/// How many of the other offers, of those that fell out, and of assumed charges a headline names.
const NAMED: usize = 3;

/// The offers chosen, the totals of the nearest others, and the offers that fell out.
pub(super) fn offers(costed: &Costed) -> String {
    let mut text = named(&costed.choice);
    for (rank, other) in costed.others.iter().take(NAMED).enumerate() {
        // Writing to a string cannot fail.
        let (by, worth) = (named(&other.choice), other.worth);
        let next = if rank == 0 { "not taken: " } else { "" };
        let _ = write!(text, "; {next}{by}: {} with finance", worth.decision);
        if !worth.wishes.is_zero() {
            let _ = write!(text, " and {} for broken wishes", worth.wishes);
        }
    }
    if let Some(more @ 1..) = costed.others.len().checked_sub(NAMED) {
        let _ = write!(text, "; and {} more choices", grouped(more.into()));
    }
    for one in fell_out(&costed.fallen) {
        let _ = write!(text, "; {one}");
    }
    text
}

/// Offers that fell out, the first with their reasons.
pub(super) fn fell_out(all: &[Fallen]) -> Vec<String> {
    let named = all.iter().take(NAMED);
    let mut told: Vec<String> = named.map(ToString::to_string).collect();
    if let Some(more @ 1..) = all.len().checked_sub(NAMED) {
        told.push(format!("and {} more fell out", grouped(more.into())));
    }
    told
}

/// A charge's name, with the line for goods, and the offer where boxes use several.
pub(super) fn charge_name<'a>(
    charge: &'a Charge,
    shipment: &Shipment,
    choice: &Choice,
) -> Cow<'a, str> {
    if let Some(line) = charge.goods_of.and_then(|at| shipment.lines.get(at)) {
        return Cow::Owned(format!("goods, line {}", line.id));
    }
    choice.called(charge)
}

fn charges<'a>(shipment: &'a Shipment, costed: &'a Costed) -> Table<'a> {
    let landed = &costed.landed;
    // Added up when they are written: a form without this table has no need of them.
    let sums = std::iter::once_with(|| charge_sums(landed).unwrap_or_default()).flatten();
    let rows = sums.map(move |sum| {
        vec![
            Cell::text(sum.first.leg.word()),
            Cell::text(charge_name(sum.first, shipment, &costed.choice)),
            Cell::count(sum.count),
            Cell::text(sum.amount.to_string()),
            Cell::money(sum.book),
            Cell::text(sum.first.key.word()),
            Cell::text(sum.first.treatment.shown()),
        ]
    });
    let mut totals = vec![Cell::Empty; 7];
    totals[1] = Cell::text("landed cost");
    totals[4] = Cell::money(landed.total);
    totals[6] = Cell::text("stock");
    Table {
        title: "Charges".to_owned(),
        columns: vec![
            Column::above("leg", ""),
            Column::words("charge"),
            Column::figures("times"),
            Column::figures("in all"),
            Column::figures(landed.currency.code()),
            Column::words("shared by"),
            Column::words("goes to"),
        ],
        rows: Rows::of(rows),
        totals: Some(totals),
        is_main: false,
    }
}

/// What each part costs, by group of legs.
pub(super) fn breakdown<'a>(
    shipment: &'a Shipment,
    costed: &'a Costed,
    by: By,
    units: Units,
) -> Table<'a> {
    let breakdown = Breakdown::new(shipment, &costed.landed, &costed.plan);
    let totals = breakdown.whole().map(|whole| {
        let mut names = vec![Cell::Empty; columns_of(by).len()];
        if let Some(first) = names.first_mut() {
            *first = Cell::text("total");
        }
        row(names, &whole, by, units)
    });
    let rows = if by == By::Slab {
        Rows::of((0..shipment.slabs.len()).filter_map(move |slab| {
            let part = breakdown.slab(slab)?;
            Some(row(names(shipment, &breakdown, &part, by)?, &part, by, units))
        }))
    } else {
        let parts = breakdown.parts(by).unwrap_or_default();
        Rows::of(parts.into_iter().filter_map(move |part| {
            Some(row(names(shipment, &breakdown, &part, by)?, &part, by, units))
        }))
    };
    Table {
        title: format!("Landed cost in {} by {}", costed.landed.currency, word(by)),
        columns: columns(by, units, costed.landed.currency),
        rows,
        totals,
        is_main: true,
    }
}

fn word(by: By) -> &'static str {
    match by {
        By::Slab => "slab",
        By::Bundle => "bundle",
        By::Container => "container",
        By::Line => "line",
    }
}

/// The columns that name a part.
fn columns_of(by: By) -> Vec<Column> {
    let above = |word: &'static str| Column::above(word, word);
    match by {
        By::Slab => vec![Column::words("slab"), above("bundle"), above("box"), above("line")],
        By::Bundle => vec![Column::words("bundle"), above("box"), above("block")],
        By::Container => vec![Column::words("box"), Column::above("type", "")],
        By::Line => vec![Column::words("line"), Column::above("stone", "")],
    }
}

/// All columns, the cost per area of the units asked for first.
fn columns(by: By, units: Units, currency: Currency) -> Vec<Column> {
    let figures = |head: &'static str, in_sheet: String| Column {
        in_sheet: Some(in_sheet),
        ..Column::figures(head)
    };
    let money = |head| figures(head, format!("{head} {currency}"));
    let mut columns = columns_of(by);
    if by != By::Slab {
        columns.push(Column::figures("slabs"));
    }
    columns.push(Column::figures(format!("billed {}", units.area())));
    columns.extend(LEG_GROUPS.iter().map(|(name, _, _)| money(name)));
    columns.push(money("landed"));
    let per = asked_first(units, [("per m2", "billed m2"), ("per ft2", "billed ft2")]);
    columns.extend(per.map(|(head, area)| figures(head, format!("{currency} per {area}"))));
    columns
}

/// Two of a kind, by m2 and by ft2: that of the units asked for first.
fn asked_first<T>(units: Units, [per_m2, per_ft2]: [T; 2]) -> [T; 2] {
    match units {
        Units::Metric => [per_m2, per_ft2],
        Units::Us => [per_ft2, per_m2],
    }
}

/// The cells that name a part.
fn names<'a>(
    shipment: &'a Shipment,
    breakdown: &Breakdown<'a>,
    part: &Part,
    by: By,
) -> Option<Row<'a>> {
    let slab = shipment.slabs.get(part.slab)?;
    let bundle = shipment.bundles.get(usize::try_from(slab.bundle).ok()?)?;
    let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
    let label = Cell::text(breakdown.box_label(slab));
    let (bundle_id, line_id) = (Cell::text(bundle.id.as_str()), Cell::text(line.id.as_str()));
    let block = || Cell::text(bundle.block.as_deref().unwrap_or(""));
    Some(match by {
        By::Slab => vec![Cell::text(slab.id.as_str()), bundle_id, label, line_id],
        By::Bundle => vec![bundle_id, label, block()],
        By::Container => vec![label, Cell::text(breakdown.box_variant(slab))],
        By::Line => vec![line_id, Cell::text(line.stone.value.as_str())],
    })
}

/// The cells of a part: those that name it, then its figures.
fn row<'a>(names: Row<'a>, part: &Part, by: By, units: Units) -> Row<'a> {
    let mut cells = names;
    if by != By::Slab {
        cells.push(Cell::count(part.slabs));
    }
    cells.push(Cell::Figure(part.area.figure(units, 3)));
    cells.extend(part.groups.iter().map(|group| Cell::money(*group)));
    cells.push(Cell::money(part.cost));
    let per = asked_first(units, [part.per_m2(), part.per_ft2()]);
    cells.extend(per.map(|cost| Cell::maybe(cost.map(UnitCost::figure))));
    cells
}
