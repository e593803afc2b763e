//! Where each cent of one slab came from, as a page.

use super::cost::{GOES_TO, heading};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::bill::{Bound, Charge, ValuePart, Working};
use crate::charges::Choice;
use crate::choose::Costed;
use crate::cost::{ExplainedCharge, Explanation, KeyPart, Landed};
use crate::customs::{Entry, EntryLine};
use crate::quantity::{Decimal, Money, Units, count_of, grouped};
use crate::trade::{ImportTax, Line, ScopeKind, Shipment, Slab, Treatment};

/// What is told of how charges came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Told<'a> {
    /// What each comes to.
    Summary,
    /// How each came about, too.
    Full,
    /// How the charges of this name came about, too.
    Charge(&'a str),
}

/// The page that explains one slab. `None` where the slab is not the shipment's.
pub fn explained<'a>(
    shipment: &'a Shipment,
    costed: &'a Costed,
    explanation: &'a Explanation,
    told: Told<'_>,
    units: Units,
) -> Option<Page<'a>> {
    let landed = &costed.landed;
    let slab = shipment.slabs.get(explanation.slab)?;
    let bundle = shipment.bundles.get(usize::try_from(slab.bundle).ok()?)?;
    let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
    let mut blocks = vec![
        Block::Heading(format!("Slab {} of {}", slab.id, heading(shipment))),
        Block::Day(shipment.dates.quoted),
        Block::Facts(facts(shipment, slab, line, &bundle.id, units)),
        Block::Table(summary(landed, explanation)),
    ];
    let beside = sums(landed, explanation).into_iter();
    let beside: Vec<Sum<'_>> =
        beside.filter(|sum| sum.charge.treatment != Treatment::Stock).collect();
    let mut notes = Vec::new();
    if !beside.is_empty() {
        blocks.push(Block::Table(not_in_cost(landed, beside)));
        notes.push(GOES_TO.to_owned());
    }
    if told == Told::Summary {
        let how = "how each charge came about: add --full, or the name of a charge behind the slab";
        notes.push(how.to_owned());
        blocks.push(Block::Notes(notes));
        return Some(Page { blocks });
    }
    if !notes.is_empty() {
        blocks.push(Block::Notes(notes));
    }
    let is_told = |charge: &Charge| match told {
        Told::Charge(name) => charge.name.eq_ignore_ascii_case(name),
        Told::Summary | Told::Full => true,
    };
    for like in workings(costed, explanation, line, units, &is_told)? {
        blocks.push(Block::Heading(like.title()));
        blocks.push(Block::Facts(like.facts()?));
    }
    if told != Told::Full {
        return Some(Page { blocks });
    }
    // A seller's entry matters where the importer pays the tax on it.
    let matters = |entry: &&Entry| !entry.by_seller || entry.import_tax == Some(ImportTax::Apart);
    for entry in landed.entries.iter().filter(matters) {
        let at = explanation.slab;
        let own = |line: &&EntryLine| landed.sets.position(line.set, at).is_some();
        for entry_line in entry.lines.iter().filter(own) {
            blocks.push(Block::Heading(format!("Entered value of {}", entry_line.label)));
            blocks.push(Block::Facts(entered_value(entry_line)));
        }
    }
    Some(Page { blocks })
}

/// Charges that came about in the same way, such as one for each box.
struct Like {
    title: String,
    steps: Vec<(String, String)>,
    shares: Vec<Money>,
    leftover: usize,
}

impl Like {
    fn title(&self) -> String {
        match self.shares.len() {
            1 => self.title.clone(),
            count => format!("{}, {} alike", self.title, grouped(count.into())),
        }
    }

    /// How one of them came about, and what the slab bears of all. `None`: a sum cannot be held.
    fn facts(&self) -> Option<Vec<(String, String)>> {
        let first = *self.shares.first()?;
        let sum = Money::total(first.currency(), self.shares.iter().copied()).ok()?;
        let each = match self.shares.len() {
            1 => String::new(),
            _ => {
                let each = self.shares.iter().map(|share| grouped(share.amount()));
                format!("{} = ", each.collect::<Vec<_>>().join(" + "))
            }
        };
        let leftover = match self.leftover {
            0 => String::new(),
            count => format!(", includes {}", count_of(count, "left-over cent")),
        };
        let mut facts = self.steps.clone();
        facts.push(("its share".to_owned(), format!("{each}{sum}{leftover}")));
        Some(facts)
    }
}

/// How the charges came about that are told of, those that came about in one way as one.
fn workings(
    costed: &Costed,
    explanation: &Explanation,
    line: &Line,
    units: Units,
    is_told: &dyn Fn(&Charge) -> bool,
) -> Option<Vec<Like>> {
    let landed = &costed.landed;
    let mut all: Vec<Like> = Vec::new();
    for one in &explanation.charges {
        let charge = landed.charges.get(one.charge)?;
        if !is_told(charge) {
            continue;
        }
        let title = title(charge, &costed.choice);
        let steps = steps(landed, charge, one, line, units);
        let leftover = usize::from(one.leftover);
        match all.iter_mut().find(|like| like.title == title && like.steps == steps) {
            Some(like) => {
                like.shares.push(one.share);
                like.leftover += leftover;
            }
            None => all.push(Like { title, steps, shares: vec![one.share], leftover }),
        }
    }
    Some(all)
}

fn facts(
    shipment: &Shipment,
    slab: &Slab,
    line: &Line,
    bundle: &str,
    units: Units,
) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let listed = if slab.row > 0 {
        format!("{}:{}", shipment.packing_file.file, slab.row)
    } else {
        format!("nominal, from {}", line.place)
    };
    vec![
        fact("listed", listed),
        fact("bundle", bundle.to_owned()),
        fact(
            "line",
            format!(
                "{}: {}, {}, {}",
                line.id,
                *line.stone,
                line.finish,
                line.thickness.show(units)
            ),
        ),
        fact(
            "gross area",
            format!("{} {}", grouped(slab.gross_area().figure(units, 4)), units.area()),
        ),
        fact(
            "billed area",
            format!("{} {}", grouped(slab.billed_area.figure(units, 4)), units.area()),
        ),
        fact("mass", format!("{} {}", grouped(slab.mass.figure(units, 1)), units.mass())),
    ]
}

fn title(charge: &Charge, choice: &Choice) -> String {
    let (leg, name) = (charge.leg.word(), choice.called(charge));
    match charge.treatment {
        Treatment::Stock => format!("{leg}: {name}"),
        other => format!("{leg}: {name} ({})", other.shown()),
    }
}

fn steps(
    landed: &Landed,
    charge: &Charge,
    explained: &ExplainedCharge,
    line: &Line,
    units: Units,
) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let sources: Vec<String> = charge.sources().map(ToString::to_string).collect();
    let mut facts = vec![fact("from", sources.join(", "))];
    facts.extend(working(charge, units));
    for part in &charge.booked.parts {
        facts.push(fact(
            &part.name,
            format!(
                "{} {} at {} ({} rate on {}, {}) = {}",
                part.amount.shown(4),
                part.amount.currency(),
                part.exchange.quote,
                part.exchange.used_for.word(),
                part.exchange.on,
                part.exchange.place,
                part.book
            ),
        ));
    }
    if let Some(exchange) = charge.exchange().filter(|_| charge.booked.parts.is_empty()) {
        facts.push(fact(
            "exchange",
            format!(
                "{} ({} rate on {}, {}) = {}",
                exchange.quote,
                exchange.used_for.word(),
                exchange.on,
                exchange.place,
                charge.book()
            ),
        ));
    }
    if let Some((place, reason)) = &charge.policy {
        facts.push(fact("policy", format!("{reason} ({place})")));
    }
    let slabs = landed.sets.len(charge.scope.set);
    let scope = match charge.scope.kind {
        ScopeKind::Slab => "each slab alone".to_owned(),
        kind => format!("{} {}", kind.word(), charge.scope.of),
    };
    facts.push(fact(
        "shared by",
        format!("{scope}: {}, {}", count_of(slabs, "slab"), charge.book()),
    ));
    facts.push(fact("this slab", key_part(charge, explained, line, units)));
    facts
}

/// A count with its unit; units of measure have no plural.
fn counted(count: Decimal, unit: &str) -> String {
    let is_measure = matches!(unit, "" | "m2" | "m3" | "ft2" | "t");
    match unit {
        _ if is_measure || count == Decimal::ONE => format!("{} {unit}", grouped(count)),
        "entry" => format!("{} entries", grouped(count)),
        "bill of lading" => format!("{} bills of lading", grouped(count)),
        unit => format!("{} {unit}s", grouped(count)),
    }
}

/// How an amount came about, as labels and what they say.
pub fn working(charge: &Charge, units: Units) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let fact = |text: String| vec![fact("amount", text)];
    let amount = charge.amount();
    match &charge.booked.working {
        Working::Priced { parts, exact, .. } => {
            let each = parts.iter().map(|part| {
                let quantity = counted(part.quantity, part.price.by.word());
                let product = format!("{quantity} x {}", part.price);
                match &part.what {
                    Some(what) => format!("{product} ({what})"),
                    None => product,
                }
            });
            let each: Vec<String> = each.collect();
            let mut exact = exact.normalize();
            exact.rescale(exact.scale().max(amount.currency().minor_digits()));
            let end = rounded(Some(&grouped(exact)), amount, None);
            fact(format!("{}{end}", each.join(" + ")))
        }
        Working::Counted { each, count, unit, exact, bound } => {
            let end = rounded(Some(&exact.shown(Working::PLACES)), amount, bound.as_ref());
            fact(format!("{} x {each}{end}", counted(count.normalize(), unit)))
        }
        Working::Part { rate, of, base, made_of, times, exact, bound } => {
            let times = times
                .map_or_else(String::new, |(count, unit)| format!(" x {}", counted(count, unit)));
            let end = rounded(Some(&exact.shown(Working::PLACES)), amount, bound.as_ref());
            let mut facts = fact(format!("{rate} of {base} ({of}){times}{end}"));
            facts.extend(made_of.iter().map(in_base));
            facts
        }
        Working::Tiered { steps, unit, bound } => {
            let end = rounded(None, amount, bound.as_ref());
            let steps: Vec<String> = steps
                .iter()
                .map(|step| {
                    let count = counted(step.count.normalize(), unit);
                    format!("{count} x {} ({})", step.each, step.window)
                })
                .collect();
            fact(format!("{}{end}", steps.join(" + ")))
        }
        Working::ByGross { gross, window, bound } => {
            let end = rounded(None, amount, bound.as_ref());
            fact(format!("gross mass {}, in the tier {window}{end}", gross.show_closely(units)))
        }
        Working::ForEach { amount: each_amount, each, of, base, begun, bound } => {
            let part = if *begun { ", a part counts whole" } else { "" };
            let end = rounded(None, amount, bound.as_ref());
            fact(format!("{each_amount} for each {each} of {of}, {base}{part}{end}"))
        }
        Working::Interest { rate, base, exact, terms, bound } => {
            let end = rounded(Some(&exact.shown(Working::PLACES)), amount, bound.as_ref());
            let (days, until) = (terms.days_in_year, terms.until.word());
            fact(format!(
                "{rate} a year of {days} days on the payments, {base} in all, each from its day until it is \
                 {until}{end}"
            ))
        }
        Working::Specific { each, count, exact } => {
            let count = grouped(count.normalize());
            let end = rounded(Some(&exact.shown(Working::PLACES)), amount, None);
            fact(format!("{count} {} x {each}{end}", each.unit.word()))
        }
        Working::Stated => fact(format!("stated on the invoice: {amount}")),
    }
}

/// What an amount is before and after it is rounded, once where they are the same.
fn rounded(exact: Option<&str>, amount: Money, bound: Option<&Bound>) -> String {
    let is_same = |exact: &&str| *exact == grouped(amount.amount());
    let exact = exact.filter(|exact| bound.is_some() || !is_same(exact));
    let exact = exact.map_or_else(String::new, |exact| format!(" = {exact}"));
    match bound {
        None if exact.is_empty() => format!(" = {amount}"),
        None => format!("{exact}, rounded to {amount}"),
        Some(Bound::Floor) => format!("{exact}, raised to the row's minimum of {amount}"),
        Some(Bound::Cap) => format!("{exact}, lowered to the row's maximum of {amount}"),
    }
}

fn key_part(charge: &Charge, explained: &ExplainedCharge, line: &Line, units: Units) -> String {
    match explained.key {
        KeyPart::Area(part, whole) => format!(
            "{} of {} {} (by billed area)",
            grouped(part.figure(units, 4)),
            grouped(whole.figure(units, 4)),
            units.area()
        ),
        KeyPart::Mass(part, whole) => format!(
            "{} of {} {} (by mass)",
            grouped(part.figure(units, 3)),
            grouped(whole.figure(units, 3)),
            units.mass()
        ),
        KeyPart::Count(1) => "the only slab".to_owned(),
        KeyPart::Count(count) => format!("1 of {} slabs (by count)", grouped(count.into())),
        KeyPart::Value(part, whole) => format!("{part} of {whole} (in proportion to price)"),
        KeyPart::Base(percent) => format!("{percent} % of its base"),
        KeyPart::Quantity(part, whole) => {
            let unit =
                if charge.key == crate::trade::Key::Value { line.price.by.word() } else { "" };
            format!(
                "{} of {} {unit} (at its line's price)",
                grouped(part.normalize()),
                grouped(whole.normalize())
            )
        }
    }
}

/// A part of the base of an import tax.
fn in_base(part: &ValuePart) -> (String, String) {
    ("in its base".to_owned(), format!("{}: {}", part.name, stated(part)))
}

/// A part of a value, with its rate of exchange and the rows both come from.
fn stated(part: &ValuePart) -> String {
    let amount = format!("{} {}", part.amount.shown(4), part.amount.currency());
    let Some(rate) = &part.exchange else { return format!("{amount} ({})", part.place) };
    let converted = part.converted().ok();
    let converted =
        converted.map_or_else(String::new, |one| format!(" = {} {}", one.shown(4), one.currency()));
    let row = format!("{} rate on {}, {}", rate.used_for.word(), rate.on, rate.place);
    format!("{amount} at {} ({row}){converted} ({})", rate.quote, part.place)
}

fn entered_value(line: &EntryLine) -> Vec<(String, String)> {
    let parts = line.parts.iter();
    let mut facts: Vec<_> = parts.map(|part| (part.name.to_string(), stated(part))).collect();
    let entered = format!(
        "{} {}, rounded by the regime's rule: {}",
        line.exact.shown(4),
        line.exact.currency(),
        line.entered
    );
    facts.push(("value".to_owned(), entered));
    facts.push(("tariff line".to_owned(), line.place.to_string()));
    facts
}

/// The slab's shares of the charges of one row.
struct Sum<'a> {
    charge: &'a Charge,
    count: usize,
    share: Money,
}

/// Its shares by row, in the order of the legs: those of several boxes as one with their count.
fn sums<'a>(landed: &'a Landed, explanation: &Explanation) -> Vec<Sum<'a>> {
    let mut sums: Vec<Sum<'a>> = Vec::new();
    for one in &explanation.charges {
        let Some(charge) = landed.charges.get(one.charge) else { continue };
        let same = |sum: &&mut Sum<'_>| {
            sum.charge.name == charge.name
                && sum.charge.leg == charge.leg
                && sum.charge.treatment == charge.treatment
                && sum.charge.source == charge.source
        };
        if let Some(sum) = sums.iter_mut().find(same)
            && let Ok(share) = sum.share.plus(one.share)
        {
            sum.share = share;
            sum.count += 1;
            continue;
        }
        sums.push(Sum { charge, count: 1, share: one.share });
    }
    sums
}

fn sum_row<'a>(sum: &Sum<'a>) -> Row<'a> {
    let charge = sum.charge;
    let source = charge.source.to_string();
    vec![
        Cell::text(charge.leg.word()),
        Cell::text(charge.name.as_str()),
        Cell::count(sum.count),
        Cell::text(source),
        Cell::money(sum.share),
    ]
}

fn sum_columns(landed: &Landed) -> Vec<Column> {
    vec![
        Column::above("leg", ""),
        Column::words("charge"),
        Column::figures("times"),
        Column::words("from"),
        Column::figures(landed.currency.code()),
    ]
}

fn summary<'a>(landed: &'a Landed, explanation: &'a Explanation) -> Table<'a> {
    let mut totals = vec![Cell::Empty; 5];
    totals[1] = Cell::text("landed cost");
    totals[4] = Cell::money(explanation.cost);
    let stock = sums(landed, explanation).into_iter();
    let stock = stock.filter(|sum| sum.charge.treatment == Treatment::Stock);
    Table {
        title: "Cost of the slab".to_owned(),
        columns: sum_columns(landed),
        rows: Rows::of(stock.map(|sum| sum_row(&sum))),
        totals: Some(totals),
        is_main: true,
    }
}

/// What is expensed, comes back or is only weighed.
fn not_in_cost<'a>(landed: &'a Landed, sums: Vec<Sum<'a>>) -> Table<'a> {
    let mut columns = sum_columns(landed);
    columns.push(Column::words("goes to"));
    let rows = sums.into_iter().map(|sum| {
        let mut row = sum_row(&sum);
        row.push(Cell::text(sum.charge.treatment.shown()));
        row
    });
    Table {
        title: "Not in its cost".to_owned(),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}
