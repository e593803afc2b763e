//! Loads planned together: their total, each load, and its share of each stock.

use super::super::cost::{WITH_FINANCE, kinds_of_box};
use super::super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::super::paper::Ground;
use super::{Load, least, plan_page, sheet_columns, sheet_rows, wishes};
use crate::choose::{JointSums, Shared, Together};
use crate::load::Sure;
use crate::quantity::{Money, Units, count_of};
use crate::trade::Available;

/// The page of several loads; their drawings are made for a ground.
pub fn loaded_together<'a>(
    loads: &'a [Load<'a>],
    together: &'a Together,
    units: Units,
    ground: Ground,
) -> Page<'a> {
    let title = format!("{} loaded together", count_of(loads.len(), "shipment"));
    let mut blocks = vec![Block::Heading(title), Block::Facts(facts(loads, together))];
    for (at, load) in loads.iter().enumerate() {
        blocks.extend(plan_page(*load, takes(at, together), units, ground));
    }
    blocks.push(Block::Heading("Together".to_owned()));
    blocks.push(Block::Table(each(loads, together)));
    if !together.stocks.is_empty() {
        blocks.push(Block::Table(stocks(loads, together)));
    }
    blocks.push(Block::Notes(notes(together)));
    blocks.push(Block::Sheet(sheet(loads, units)));
    Page { blocks }
}

fn facts(loads: &[Load<'_>], together: &Together) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let mut facts = Vec::new();
    let broken = loads.iter().filter(|load| !load.costed.verdict.holds());
    let broken: Vec<&str> = broken.map(|load| load.shipment.name.as_str()).collect();
    if !broken.is_empty() {
        facts.push(fact("verdict", format!("NOT to be loaded so: {}", broken.join(", "))));
    }
    let containers: usize = together.loads.iter().map(|load| load.plan.boxes.len()).sum();
    match together.sums {
        Some(sums) => {
            facts.push(fact("with finance", decision(&sums, together)));
            facts.push(fact("landed cost", sums.landed.to_string()));
            facts.push(fact("containers", containers.to_string()));
            if sums.wishes.is_zero() {
                let least = least(sums.cost, sums.lower_bound, &together.sure, "");
                facts.push(fact("box charges", format!("{}{least}", sums.cost)));
            } else {
                facts.push(fact("box charges", sums.cost.to_string()));
                facts.push(fact("broken wishes", wishes(sums.wishes, sums.lower_bound, "")));
            }
        }
        None => {
            facts.push(fact("containers", containers.to_string()));
            let why = "none: the books are in different currencies".to_owned();
            facts.push(fact("total", why));
        }
    }
    let proof = match &together.sure {
        sure @ (Sure::Proven | Sure::Known(_)) => {
            let shares =
                if together.stocks.is_empty() { "" } else { ", and no other shares cost less" };
            format!("each load is the cheapest by its offers{shares}: {}", sure.word())
        }
        Sure::Open(reason) => format!("not proven, cheaper loads may exist: {reason}"),
        Sure::Given => "the loads are given; no cheaper ones were sought".to_owned(),
    };
    facts.push(fact("proof", proof));
    facts
}

/// Their total with finance, and what sharing adds to it.
fn decision(sums: &JointSums, together: &Together) -> String {
    let decision = sums.decision;
    // Loads that are given are not planned again with more boxes.
    let is_shared = !together.stocks.is_empty() && together.sure != Sure::Given;
    match decision.minus(sums.alone.decision) {
        _ if !is_shared => decision.to_string(),
        Ok(dearer) if dearer.is_zero() => {
            format!("{decision}, no more than with every stock to itself")
        }
        Ok(dearer) if !dearer.is_negative() => {
            format!("{decision}, {dearer} more than with every stock to itself")
        }
        _ => decision.to_string(),
    }
}

/// What one of them takes of the stocks.
fn takes(shipment: usize, together: &Together) -> Vec<(String, String)> {
    let of = |shared: &Shared| {
        let stock = &shared.stock;
        let at = stock.named_by.iter().position(|(own, _)| *own == shipment)?;
        let takes = shared.takes.get(at)?;
        let value = format!("{takes} of \"{}\", {}", stock.name, stock.holds().words());
        Some(("shared stock".to_owned(), value))
    };
    together.stocks.iter().filter_map(of).collect()
}

/// A row for each of them, and their sums.
fn each<'a>(loads: &'a [Load<'a>], together: &'a Together) -> Table<'a> {
    let sums = together.sums;
    let money = move |amount: Money| match sums {
        Some(_) => Cell::money(amount),
        None => Cell::text(amount.to_string()),
    };
    // A column that says nothing only takes room.
    let has_wishes = loads.iter().any(|load| !load.costed.plan.wishes.is_zero());
    let figures = move |cost: Money, wishes: Money, bound: Option<Money>, landed: Money| {
        let mut cells = vec![money(cost)];
        cells.extend(has_wishes.then(|| money(wishes)));
        cells.extend([bound.map_or(Cell::Empty, money), money(landed)]);
        cells
    };
    let rows = loads.iter().map(move |load| -> Row<'a> {
        let plan = &load.costed.plan;
        let mut row = vec![
            Cell::text(load.shipment.name.as_str()),
            Cell::text(load.shipment.yard.id.as_str()),
            Cell::text(kinds_of_box(plan)),
        ];
        let landed = load.costed.landed.total;
        row.extend(figures(plan.cost, plan.wishes, plan.lower_bound, landed));
        row.push(Cell::text(load.costed.verdict.sure.word()));
        row
    });
    let totals = sums.map(|sums| {
        let mut row = vec![Cell::text("together"), Cell::Empty, Cell::Empty];
        row.extend(figures(sums.cost, sums.wishes, sums.lower_bound, sums.landed));
        row.push(Cell::text(together.sure.word()));
        row
    });
    let currency = sums.map_or_else(String::new, |sums| format!(" {}", sums.landed.currency()));
    let mut columns = ["shipment", "yard", "loaded in"].map(Column::words).to_vec();
    let heads = [("boxes", true), ("wishes", has_wishes), ("at least", true), ("landed", true)];
    let heads = heads.into_iter().filter(|(_, is_shown)| *is_shown);
    columns.extend(heads.map(|(head, _)| Column::figures(format!("{head}{currency}"))));
    columns.push(Column::words("proof"));
    Table { title: String::new(), columns, rows: Rows::of(rows), totals, is_main: false }
}

/// A row for each shipment that draws on a stock, and the rest.
fn stocks<'a>(loads: &'a [Load<'a>], together: &'a Together) -> Table<'a> {
    let rows = together.stocks.iter().flat_map(move |shared| {
        let stock = &shared.stock;
        let name = |at: usize| loads.get(at).map_or("", |load| load.shipment.name.as_str());
        let count = |count: u32| Cell::Figure(count.into());
        let named = stock.named_by.iter().zip(shared.takes.iter().zip(&shared.alone));
        let mut rows: Vec<Row<'a>> = named
            .map(|((at, _), (takes, alone))| {
                vec![
                    Cell::Empty,
                    Cell::Empty,
                    Cell::Empty,
                    Cell::text(name(*at)),
                    count(*takes),
                    count(*alone),
                ]
            })
            .collect();
        rows.push(vec![
            Cell::Empty,
            Cell::Empty,
            Cell::Empty,
            Cell::text("left"),
            count(shared.left()),
            Cell::Empty,
        ]);
        if let Some([name, kind, there, ..]) = rows.first_mut().map(Vec::as_mut_slice) {
            *name = Cell::text(stock.name.as_str());
            *kind =
                Cell::text(stock.of.as_ref().map_or_else(|| "any".to_owned(), Available::label));
            *there = count(stock.count);
        }
        rows
    });
    Table {
        title: "Shared stock".to_owned(),
        columns: vec![
            Column::words("stock"),
            Column::words("kind"),
            Column::figures("available"),
            Column::words("shipment"),
            Column::figures("takes"),
            Column::figures("if alone"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

fn notes(together: &Together) -> Vec<String> {
    let mut notes = vec![WITH_FINANCE.to_owned()];
    if !together.stocks.is_empty() && together.sure != Sure::Given {
        notes.push(
            "Shares are chosen for the lowest total with finance; of equal ones for fewer boxes, then for \
             more boxes to the shipment named first. Each load has the lowest box charges for its share."
                .to_owned(),
        );
    }
    let is_above = |sums: &JointSums| {
        let own = sums.cost.plus(sums.wishes).ok();
        own.zip(sums.lower_bound).is_some_and(|(own, bound)| own != bound)
    };
    if together.sure.is_proven() && together.sums.as_ref().is_some_and(is_above) {
        notes.push("Other shares have lower box charges, but a higher total.".to_owned());
    }
    if together.stocks.is_empty() {
        notes.push("The shipments share no stock of boxes: each is planned alone.".to_owned());
    }
    notes
}

/// The bundles of all of them, a figure a cell.
fn sheet<'a>(loads: &'a [Load<'a>], units: Units) -> Table<'a> {
    let rows = loads.iter().flat_map(move |load| {
        sheet_rows(*load, units).map(|mut row| {
            row.insert(0, Cell::text(load.shipment.name.as_str()));
            row
        })
    });
    let mut columns = sheet_columns(units);
    columns.insert(0, Column::words("shipment"));
    Table {
        title: "Bundles, a figure a cell".to_owned(),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}
