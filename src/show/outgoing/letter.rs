//! A letter to a supplier as a page.

use super::super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::super::paper::Ground;
use super::load::{boxes, bundles, cautions, invoices, kinds, ports};
use crate::outgoing::{Goods, Letter};
use crate::quantity::{Units, count_of};

/// The page of a letter; its drawings are made for a ground.
pub fn letter<'a>(letter: &'a Letter<'a>, units: Units, ground: Ground) -> Page<'a> {
    let Letter { goods, load, .. } = letter;
    let mut blocks = vec![
        Block::Heading(subject(letter)),
        Block::Text(vec![format!("To {}", goods.supplier), "Good day,".to_owned(), opening(goods)]),
        Block::Facts(facts(letter, units)),
    ];
    let asked = asked(letter);
    if !asked.is_empty() {
        blocks.push(Block::Text(vec!["We ask for:".to_owned()]));
        blocks.push(Block::Notes(asked));
    }
    match load {
        Some(load) => {
            blocks.push(Block::Text(vec![plan(load.boxes.len())]));
            blocks.extend(boxes(load, units, ground));
            blocks.push(Block::Notes(cautions(load)));
        }
        None if goods.is_nominal => blocks.push(Block::Text(vec![LIST.to_owned()])),
        None => {
            blocks.push(Block::Text(vec!["These are the bundles as we have them.".to_owned()]));
            blocks.push(Block::Table(bundles(&goods.bundles, units)));
            blocks.push(Block::Text(vec![NO_PLAN.to_owned()]));
        }
    }
    blocks.push(Block::Text(vec!["Kind regards".to_owned()]));
    blocks.push(Block::Sheet(lines(letter, units)));
    Page { blocks }
}

/// What is asked for where there is no packing list.
const LIST: &str = "Please send us the packing list: for each slab its number, block, length and height, for \
                    each bundle its slabs and its mass as weighed. We then plan the load and send it to you.";

/// What is said where there is a packing list and no plan.
const NO_PLAN: &str = "We send you the plan of the load as soon as the bundles are settled.";

fn subject(letter: &Letter<'_>) -> String {
    let what = match (&letter.load, letter.goods.is_nominal, asks_no_price(letter)) {
        (Some(_), _, true) => "the load",
        (Some(_), _, false) => "price and load",
        (None, true, true) => "packing list",
        (None, true, false) => "price and packing list",
        (None, false, true) => "the bundles",
        (None, false, false) => "price and bundles",
    };
    let numbers = invoices(&letter.goods.invoices);
    let mut letters = numbers.chars();
    let first = letters.next().map(|first| first.to_ascii_uppercase());
    format!("{}{}: {what}", first.map_or_else(String::new, String::from), letters.as_str())
}

fn asks_no_price(letter: &Letter<'_>) -> bool {
    letter.asked.prices.is_empty() && letter.lapsed().is_empty()
}

fn opening(goods: &Goods<'_>) -> String {
    format!("Thank you for {}. It offers us these goods.", invoices(&goods.invoices))
}

fn facts(letter: &Letter<'_>, units: Units) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let mut facts: Vec<(String, String)> = letter
        .goods
        .lines
        .iter()
        .map(|line| {
            let thickness = line.thickness.show(units);
            let slabs = count_of(line.slabs, "slab");
            let goods = [line.stone, line.finish, &thickness, &slabs];
            let goods: Vec<&str> = goods.into_iter().filter(|one| !one.is_empty()).collect();
            fact(&format!("line {}", line.id), goods.join(", "))
        })
        .collect();
    facts.push(fact("delivery", letter.goods.terms.join(", ")));
    if let Some(load) = &letter.load {
        facts.extend(ports(load));
        facts.push(fact("containers", kinds(load)));
    }
    facts
}

/// The lines with what is asked of them, a figure a cell.
fn lines<'a>(letter: &'a Letter<'a>, units: Units) -> Table<'a> {
    let rows = letter.goods.lines.iter().map(move |line| -> Row<'a> {
        let asked = letter.asked.prices.iter().find(|(name, _)| name == line.id);
        let price = asked.map(|(_, price)| price);
        vec![
            Cell::text(line.id),
            Cell::text(line.stone),
            Cell::text(line.finish),
            Cell::Figure(line.thickness.figure(units)),
            Cell::count(line.slabs),
            Cell::maybe(price.map(|price| price.amount)),
            Cell::text(price.map_or("", |price| price.currency.code())),
            Cell::text(price.map_or("", |price| price.by.word())),
            Cell::text(line.lapsed.map_or_else(String::new, |day| day.to_string())),
        ]
    });
    let columns = vec![
        Column::words("line"),
        Column::words("stone"),
        Column::words("finish"),
        Column::figures(format!("thickness {}", units.side())),
        Column::figures("slabs"),
        Column::figures("price asked"),
        Column::words("currency"),
        Column::words("per"),
        Column::words("price lapsed on"),
    ];
    let title = "Lines and what is asked".to_owned();
    Table { title, columns, rows: Rows::of(rows), totals: None, is_main: true }
}

/// What is asked, in the order of its weight.
fn asked(letter: &Letter<'_>) -> Vec<String> {
    let asked = &letter.asked;
    let prices = asked.prices.iter();
    let prices = prices.map(|(line, price)| format!("{price} on line {line}, all else as offered"));
    let until = asked.until.iter().map(|day| format!("your answer by {day}"));
    let wishes = asked.wishes.iter().cloned();
    let anew = letter.lapsed().into_iter().map(|(day, lines)| {
        let plural = if lines.len() == 1 { "" } else { "s" };
        format!(
            "your price{plural} of line{plural} {} anew, with the day until which you hold {}: what we have \
             ended on {day}",
            lines.join(", "),
            if lines.len() == 1 { "it" } else { "them" }
        )
    });
    anew.chain(prices).chain(until).chain(wishes).collect()
}

fn plan(count: usize) -> String {
    format!(
        "Please load the bundles in {} as shown below, and send us the number and seal of each container \
         with the mass of each bundle as weighed. If anything cannot be done so, tell us before you load.",
        count_of(count, "container")
    )
}
