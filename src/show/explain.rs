//! Where each cent of one slab came from, as a page.

use super::cost::heading;
use super::page::{Block, Cell, Column, Page, Rows, Table, plural};
use crate::bill::{Bound, Charge, ValuePart, Working};
use crate::charges::Choice;
use crate::choose::Costed;
use crate::cost::{ExplainedCharge, Explanation, KeyPart, Landed};
use crate::customs::{Entry, EntryLine};
use crate::quantity::{Decimal, Money, PricedBy, Units, grouped};
use crate::trade::{ImportTax, Line, ScopeKind, Shipment, Slab, Treatment};

/// The page that explains one slab. `None` where the slab is not the shipment's.
pub fn explained<'a>(
    shipment: &'a Shipment,
    costed: &'a Costed,
    explanation: &'a Explanation,
    units: Units,
) -> Option<Page<'a>> {
    let landed = &costed.landed;
    let slab = shipment.slabs.get(explanation.slab)?;
    let bundle = shipment.bundles.get(usize::try_from(slab.bundle).ok()?)?;
    let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
    let mut blocks = vec![
        Block::Heading(format!("Slab {} of {}", slab.id, heading(shipment))),
        Block::Facts(facts(shipment, slab, line, &bundle.id, units)),
    ];
    for charge in &explanation.charges {
        let one = landed.charges.get(charge.charge)?;
        blocks.push(Block::Heading(title(one, &costed.choice)));
        blocks.push(Block::Facts(steps(landed, one, charge, line, units)));
    }
    // A seller's entry matters where the importer pays the tax on it.
    let matters = |entry: &&Entry| !entry.by_seller || entry.import_tax == Some(ImportTax::Apart);
    for entry in landed.entries.iter().filter(matters) {
        let at = explanation.slab;
        let own = |line: &&EntryLine| landed.sets.position(line.set, at).is_some();
        for entry_line in entry.lines.iter().filter(own) {
            blocks.push(Block::Heading(format!(
                "How the entered value of {} came about",
                entry_line.label
            )));
            blocks.push(Block::Facts(entered_value(entry_line)));
        }
    }
    blocks.push(Block::Table(summary(landed, explanation)));
    Some(Page { blocks, width: 100 })
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
            format!("{} {}", grouped(slab.gross_area.figure(units, 4)), units.area()),
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
    format!("{leg}: {name} -> {}", charge.treatment.word())
}

fn steps(
    landed: &Landed,
    charge: &Charge,
    explained: &ExplainedCharge,
    line: &Line,
    units: Units,
) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let sources: Vec<String> = charge.sources.iter().map(ToString::to_string).collect();
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
        format!("{scope}: {slabs} slab{}, {}", plural(slabs), charge.book()),
    ));
    facts.push(fact("this slab", key_part(charge, explained, line, units)));
    let leftover = if explained.leftover { ", one of its cents a left-over one" } else { "" };
    facts.push(fact("its share", format!("{}{leftover}", explained.share)));
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

fn working(charge: &Charge, units: Units) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let rounded = |bound: &Option<Bound>, amount: Money| match bound {
        None => format!(" = {amount}"),
        Some(Bound::Floor) => format!(", raised to the row's minimum of {amount}"),
        Some(Bound::Cap) => format!(", lowered to the row's maximum of {amount}"),
    };
    match &charge.booked.working {
        Working::Priced { price, quantity, exact } => {
            let unit = match price.by {
                PricedBy::Lot => "lot",
                other => other.word(),
            };
            let is_exact = *exact == charge.amount().amount();
            let exact = if is_exact {
                String::new()
            } else {
                format!(" -> {}", grouped(exact.normalize()))
            };
            let quantity = counted(*quantity, unit);
            vec![fact("amount", format!("{quantity} x {price}{exact} = {}", charge.amount()))]
        }
        Working::Counted { each, count, unit, exact, bound } => {
            let count = counted(count.normalize(), unit);
            let end = rounded(bound, charge.amount());
            let is_exact = *exact == grouped(charge.amount().amount());
            let exact = if is_exact { String::new() } else { format!(" -> {exact}") };
            vec![fact("amount", format!("{count} x {each}{exact}{end}"))]
        }
        Working::Part { rate, of, base, made_of, times, exact, bound } => {
            let times = times
                .map_or_else(String::new, |(count, unit)| format!(" x {}", counted(count, unit)));
            let end = rounded(bound, charge.amount());
            let amount = format!("{rate} of {of}, {base}{times} -> {exact}{end}");
            std::iter::once(fact("amount", amount)).chain(made_of.iter().map(in_base)).collect()
        }
        Working::Tiered { steps, unit, bound } => {
            let end = rounded(bound, charge.amount());
            let steps: Vec<String> = steps
                .iter()
                .map(|step| {
                    let count = counted(step.count.normalize(), unit);
                    format!("{count} x {} ({})", step.each, step.window)
                })
                .collect();
            vec![fact("amount", format!("{}{end}", steps.join(" + ")))]
        }
        Working::ByGross { gross, window, bound } => {
            let end = rounded(bound, charge.amount());
            let gross = gross.show_closely(units);
            vec![fact("amount", format!("gross mass {gross}, in the tier {window}{end}"))]
        }
        Working::ForEach { amount, each, of, base, begun, bound } => {
            let part = if *begun { ", a part counted whole" } else { "" };
            let end = rounded(bound, charge.amount());
            vec![fact("amount", format!("{amount} for each {each} of {of}, {base}{part}{end}"))]
        }
        Working::Interest { rate, base, exact, terms, bound } => {
            let end = rounded(bound, charge.amount());
            let (days, until) = (terms.days_in_year, terms.until.word());
            vec![fact(
                "amount",
                format!(
                    "{rate} a year of {days} days on {base} paid, from each payment's day until \
                     {until} -> {exact}{end}"
                ),
            )]
        }
        Working::Specific { each, count, exact } => {
            let count = grouped(count.normalize());
            let unit = each.unit.word();
            vec![fact(
                "amount",
                format!("{count} {unit} x {each} -> {exact} = {}", charge.amount()),
            )]
        }
        Working::Stated => {
            vec![fact("amount", format!("stated on the invoice: {}", charge.amount()))]
        }
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
        KeyPart::Count(count) => format!("1 of {count} slabs (by count)"),
        KeyPart::Value(part, whole) => format!("{part} of {whole} (by price)"),
        KeyPart::Base(percent) => format!("{percent} % of what it is charged on"),
        KeyPart::Quantity(part, whole) => {
            let unit =
                if charge.key == crate::trade::Key::Value { line.price.by.word() } else { "" };
            format!(
                "{} of {} {unit} (its own price)",
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
    let converted = part
        .converted()
        .map_or_else(String::new, |one| format!(" = {} {}", one.shown(4), one.currency()));
    let row = format!("{} rate on {}, {}", rate.used_for.word(), rate.on, rate.place);
    format!("{amount} at {} ({row}){converted} ({})", rate.quote, part.place)
}

fn entered_value(line: &EntryLine) -> Vec<(String, String)> {
    let parts = line.parts.iter();
    let mut facts: Vec<_> = parts.map(|part| (part.name.clone(), stated(part))).collect();
    let entered = format!(
        "{} {}, rounded as the regime does: {}",
        line.exact.shown(4),
        line.exact.currency(),
        line.entered
    );
    facts.push(("value".to_owned(), entered));
    facts.push(("tariff line".to_owned(), line.place.to_string()));
    facts
}

fn summary<'a>(landed: &'a Landed, explanation: &'a Explanation) -> Table<'a> {
    let stock = explanation.charges.iter().filter_map(|explained| {
        let charge = landed.charges.get(explained.charge)?;
        let source = charge.sources.first().map_or_else(String::new, ToString::to_string);
        (charge.treatment == Treatment::Stock).then(|| {
            vec![
                Cell::text(charge.leg.word()),
                Cell::text(charge.name.as_str()),
                Cell::text(source),
                Cell::money(explained.share),
            ]
        })
    });
    Table {
        title: "What the slab costs".to_owned(),
        columns: vec![
            Column::words("leg"),
            Column::words("charge"),
            Column::words("from"),
            Column::figures(landed.currency.code()),
        ],
        rows: Rows::of(stock),
        totals: Some(vec![
            Cell::text("landed"),
            Cell::Empty,
            Cell::Empty,
            Cell::money(explanation.cost),
        ]),
        is_main: true,
    }
}
