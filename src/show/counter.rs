//! The counter price as a page: what to ask for, and what it comes to.

use super::compare::{as_quoted, footing, goods_in_words};
use super::cost::{WITH_FINANCE, of_footing};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{
    Comparison, Cost, Countered, Grid, Lever, Like, Moved, PerArea, Search, Trial,
};
use crate::load::Sure;
use crate::quantity::{Decimal, Percent, Price, Units, count_of, grouped, ratio};
use crate::trade::Shipment;

/// What the offer is held against.
#[derive(Debug)]
pub enum Against {
    /// Another offer, and how sure its load is.
    Offer(String, Sure),
    /// A cost per area.
    Target(Price),
}

/// What the page is of.
pub struct CounterPage<'a> {
    /// The offer.
    pub shipment: &'a Shipment,
    /// It as quoted beside the other.
    pub comparison: &'a Comparison,
    /// The goods that are compared.
    pub goods: &'a Like,
    /// The prices that were tried.
    pub grid: &'a Grid,
    /// What it shall not exceed.
    pub goal: &'a PerArea,
    /// What that is of.
    pub against: Against,
    /// The delivery term and payments that are asked for, where they are not as written, and what was left
    /// out of what is said of those.
    pub under: Option<(&'a str, &'a [(String, &'static str)])>,
    /// What was found.
    pub found: &'a Countered,
    /// The units of areas.
    pub units: Units,
}

impl CounterPage<'_> {
    /// The prices that stand on the page, the lowest first, each with what it is.
    pub(super) fn trials(&self) -> Vec<(&'static str, &Trial)> {
        let found = self.found;
        let half = (found.answer.is_none()).then_some(("half of what is quoted", &found.half));
        let answer = found.answer.as_ref().map(|trial| ("counter price", trial));
        let above = found.above.as_ref().map(|trial| ("one step above", trial));
        [Some(("as quoted", &found.quoted)), answer, above, half].into_iter().flatten().collect()
    }

    /// How far a cost is above what it shall not exceed.
    pub(super) fn above(&self, cost: &Cost) -> Option<PerArea> {
        cost.per_area.above(self.goal)
    }

    /// The command that writes the letter; `None` where there is nothing to ask for.
    pub(super) fn letter(&self) -> Option<String> {
        // A letter names prices under the terms as written, and one price a line.
        let answer = self.found.answer.as_ref().filter(|_| self.under.is_none())?;
        let moved = self.grid.moved(self.shipment, &answer.prices);
        if moved.iter().any(|one| !one.of.is_empty()) {
            return None;
        }
        let asked: Vec<(&str, Price)> = answer
            .prices
            .iter()
            .zip(&self.grid.quoted)
            .filter(|((_, asked), (_, quoted))| asked.amount < quoted.amount)
            .filter_map(|((at, price), _)| {
                Some((self.shipment.lines.get(*at)?.id.as_str(), *price))
            })
            .collect();
        if asked.is_empty() {
            return None;
        }
        let way = self.shipment.way.as_ref().map(|way| format!(" --way {}", word(way)));
        let asked = asked.into_iter().map(|(line, price)| {
            let price = format!("{} {}/{}", price.amount, price.currency, price.by.word());
            format!(" --price {}=\"{price}\"", word(line))
        });
        let options: String = way.into_iter().chain(asked).collect();
        Some(format!("quaystone letter {}{options} --until DAY", word(&self.shipment.name)))
    }

    /// The difference of a trial to what is quoted, in percent to two places.
    pub(super) fn percent(&self, trial: &Trial) -> Option<Decimal> {
        if let Some(percent) = trial.percent {
            return percent.hundredths().checked_sub(Decimal::ONE_HUNDRED);
        }
        let (change, quoted) = self.change(trial)?;
        ratio(change.amount.checked_mul(Decimal::ONE_HUNDRED)?, quoted.amount, 2)
    }

    /// The difference of one line's price to what is quoted, and that.
    pub(super) fn change(&self, trial: &Trial) -> Option<(Price, Price)> {
        let ([(_, own)], [(_, quoted)]) = (&trial.prices[..], &self.grid.quoted[..]) else {
            return None;
        };
        let amount = own.amount.checked_sub(quoted.amount)?;
        Some((Price { amount, ..*own }, *quoted))
    }
}

/// A word as a shell takes it.
fn word(text: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "-_./".contains(c);
    if text.chars().all(is_plain) { text.to_owned() } else { format!("\"{text}\"") }
}

/// The page of a counter price.
pub fn counter<'a>(page: &'a CounterPage<'a>) -> Page<'a> {
    let mut facts = vec![("goods".to_owned(), goods_in_words(page.goods, page.units))];
    facts.extend(page.under.map(|(words, _)| ("asked under".to_owned(), words.to_owned())));
    facts.extend([against(page), lever(page), answer(page), load(page)]);
    facts.extend(as_quoted(page.comparison, page.goods, page.units));
    facts.extend(footing(page.comparison, page.units));
    let mut blocks = vec![
        Block::Heading(format!("Counter price for {}", page.shipment.called())),
        Block::Facts(facts),
        Block::Table(costs(page)),
    ];
    if page.grid.by_percent && page.found.answer.is_some() {
        blocks.push(Block::Table(lines(page)));
    }
    blocks.push(Block::Notes(notes(page)));
    if let Some(command) = page.letter() {
        blocks.push(Block::Text(vec!["To ask for it:".to_owned(), command]));
    }
    blocks.push(Block::Sheet(list(page)));
    Page { blocks }
}

/// The currency and area that costs are in.
fn figure(cost: &PerArea, units: Units) -> String {
    cost.figure(units).map_or_else(|| "too large".to_owned(), grouped)
}

fn against(page: &CounterPage<'_>) -> (String, String) {
    let goal = figure(page.goal, page.units);
    let of = of_footing(page.comparison, page.units);
    match &page.against {
        Against::Offer(name, _) => {
            ("not dearer than".to_owned(), format!("{name}: {goal} {of}, with finance"))
        }
        Against::Target(price) => (
            "not dearer than".to_owned(),
            format!("the target of {price}: {goal} {of}, with finance"),
        ),
    }
}

fn lever(page: &CounterPage<'_>) -> (String, String) {
    let grid = page.grid;
    let of = |at: usize| page.shipment.lines.get(at).map_or("", |line| line.id.as_str());
    let percent = grid.step.normalize();
    let what = match (grid.lever, &grid.quoted[..]) {
        (Lever::Line(at), [(_, price)]) if !grid.by_percent => {
            let step = Price { amount: grid.step, ..*price };
            format!(
                "the price of line {}, quoted at {price}; prices are multiples of {step}",
                of(at)
            )
        }
        (Lever::Line(at), _) => format!(
            "all {} of line {} by one percentage of what is quoted, in steps of {percent} %",
            count_of(grid.moved(page.shipment, &grid.quoted).len(), "price"),
            of(at)
        ),
        (Lever::All, quoted) => format!(
            "the prices of all {} by one percentage of what is quoted, in steps of {percent} %",
            count_of(quoted.len(), "line"),
        ),
    };
    ("what moves".to_owned(), what)
}

/// The answer in a sentence.
fn answer(page: &CounterPage<'_>) -> (String, String) {
    let label = "answer".to_owned();
    let Some(answer) = &page.found.answer else {
        return (label, "no: no price down to half of what is quoted does it".to_owned());
    };
    let price = match (&answer.prices[..], answer.percent) {
        ([(_, price)], None) => price.to_string(),
        (_, percent) => format!(
            "{} of what is quoted",
            percent.map_or_else(String::new, |percent| percent.to_string())
        ),
    };
    let percent = page.percent(answer).unwrap_or_default();
    let (size, way) =
        (percent.abs().normalize(), if percent.is_sign_negative() { "less" } else { "more" });
    let change = page.change(answer).filter(|_| !page.grid.by_percent);
    let money = change.map(|(change, _)| Price { amount: change.amount.abs(), ..change });
    let by = match money {
        Some(money) => format!("{money} ({size} %)"),
        None => format!("{size} %"),
    };
    let end = if page.found.above.is_none() { "; nothing above it was tried" } else { "" };
    let is_same = page.found.answer.as_ref().is_some_and(|answer| {
        let pairs = answer.prices.iter().zip(&page.grid.quoted);
        pairs.into_iter().all(|((_, one), (_, other))| one.amount == other.amount)
    });
    let what = match (is_same, way) {
        (true, _) => format!("{price}, as quoted{end}"),
        (_, "less") => format!("{price}: {by} less than quoted{end}"),
        _ => format!("{price}: it is not dearer as quoted, and may rise by {by}{end}"),
    };
    (label, what)
}

/// How sure the loads are that the answer rests on.
fn load(page: &CounterPage<'_>) -> (String, String) {
    let trials = page.trials();
    let own = trials.iter().filter_map(|(what, trial)| {
        let cost = trial.outcome.as_ref().ok()?;
        Some((format!("of {} {what}", page.shipment.called()), &cost.sure))
    });
    let other = match &page.against {
        Against::Offer(name, sure) => Some((format!("of {name}"), sure)),
        Against::Target(_) => None,
    };
    let mut open: Vec<String> = own
        .chain(other)
        .filter(|(_, sure)| !sure.is_proven())
        .map(|(of, sure)| {
            let why = sure.why().map_or_else(String::new, |why| format!(" ({why})"));
            format!("{of}: {}{why}", sure.word())
        })
        .collect();
    open.dedup();
    let what = if open.is_empty() {
        "proven at each of these prices: none costs less".to_owned()
    } else {
        open.join("; ")
    };
    ("load".to_owned(), what)
}

fn costs<'a>(page: &'a CounterPage<'a>) -> Table<'a> {
    let rows = page.trials().into_iter().map(move |(what, trial)| {
        let mut row: Row<'a> = vec![Cell::text(what)];
        match page.change(trial).filter(|_| !page.grid.by_percent) {
            Some((change, _)) => row.extend([
                Cell::maybe(trial.prices.first().map(|(_, price)| price.amount)),
                Cell::Figure(change.amount),
            ]),
            None => row.push(Cell::maybe(trial.percent.map(Percent::hundredths))),
        }
        row.push(Cell::maybe(page.percent(trial)));
        match &trial.outcome {
            Ok(cost) => row.extend([
                Cell::maybe(cost.per_area.figure(page.units)),
                Cell::maybe(page.above(cost).and_then(|above| above.figure(page.units))),
                Cell::money(cost.decision),
            ]),
            Err(_) => row.extend([Cell::text("none"), Cell::Empty, Cell::Empty]),
        }
        row
    });
    let mut columns = vec![Column::words("price")];
    match &page.grid.quoted[..] {
        [(_, price)] if !page.grid.by_percent => columns.extend([
            Column::figures(format!("{}/{}", price.currency, price.by.word())),
            Column::figures("change"),
        ]),
        _ => columns.push(Column::figures("% of quoted")),
    }
    columns.extend([
        Column::figures("change %"),
        Column::figures(format!("per {}", page.units.area())),
        Column::figures("above it"),
        Column::figures("with finance"),
    ]);
    Table {
        title: format!("Cost with finance, in {}", page.comparison.currency),
        columns,
        rows: Rows::of(rows.collect::<Vec<_>>()),
        totals: None,
        is_main: false,
    }
}

/// Each price that the percentage makes.
fn lines<'a>(page: &'a CounterPage<'a>) -> Table<'a> {
    let answer = page.found.answer.iter();
    let moved = answer.flat_map(|answer| page.grid.moved(page.shipment, &answer.prices));
    let moved: Vec<Moved> = moved.collect();
    let has_several = moved.iter().any(|one| !one.of.is_empty());
    let rows = moved.into_iter().map(move |Moved { line, of, quoted, asked }| {
        let mut row =
            vec![Cell::text(page.shipment.lines.get(line).map_or("", |line| line.id.as_str()))];
        row.extend(has_several.then_some(Cell::text(of)));
        row.extend([
            Cell::text(format!("{}/{}", asked.currency, asked.by.word())),
            Cell::Figure(quoted.amount),
            Cell::Figure(asked.amount),
        ]);
        row
    });
    let mut columns = vec![Column::words("line")];
    columns.extend(has_several.then_some(Column::words("of")));
    columns.extend([
        Column::words("in"),
        Column::figures("quoted"),
        Column::figures("counter price"),
    ]);
    Table {
        title: "Prices at the answer".to_owned(),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// Every figure in a cell of its own: a row for each price and line.
fn list<'a>(page: &'a CounterPage<'a>) -> Table<'a> {
    let mut rows: Vec<Row<'a>> = Vec::new();
    for (what, trial) in page.trials() {
        let cost = trial.outcome.as_ref().ok();
        let above = cost.and_then(|cost| page.above(cost));
        let each =
            |one: Option<&PerArea>, units| Cell::maybe(one.and_then(|one| one.figure(units)));
        for ((at, price), (_, quoted)) in trial.prices.iter().zip(&page.grid.quoted) {
            rows.push(vec![
                Cell::text(what),
                Cell::text(page.shipment.lines.get(*at).map_or("", |line| line.id.as_str())),
                Cell::Figure(price.amount),
                Cell::text(price.currency.code()),
                Cell::text(price.by.word()),
                Cell::maybe(price.amount.checked_sub(quoted.amount)),
                Cell::maybe(page.percent(trial)),
                Cell::maybe(cost.map(|cost| cost.landed.amount())),
                Cell::maybe(cost.map(|cost| cost.decision.amount())),
                each(cost.map(|cost| &cost.per_area), Units::Metric),
                each(cost.map(|cost| &cost.per_area), Units::Us),
                each(above.as_ref(), Units::Metric),
                each(above.as_ref(), Units::Us),
                Cell::text(trial.outcome.as_ref().err().map_or("", String::as_str)),
            ]);
        }
    }
    let money = page.comparison.currency;
    Table {
        title: "Prices tried, a figure a cell".to_owned(),
        columns: vec![
            Column::words("what"),
            Column::words("line"),
            Column::figures("price"),
            Column::words("currency"),
            Column::words("per"),
            Column::figures("change"),
            Column::figures("change %"),
            Column::figures(format!("landed {money}")),
            Column::figures(format!("with finance {money}")),
            Column::figures("per m2"),
            Column::figures("per ft2"),
            Column::figures("above it per m2"),
            Column::figures("above it per ft2"),
            Column::words("why not"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

fn notes(page: &CounterPage<'_>) -> Vec<String> {
    let found = page.found;
    let how = match found.search {
        Search::EveryStep => {
            "every step from half of what is quoted, up to the first that is dearer"
        }
        Search::Halves => "a search by halves, as no cost can fall where the price rises",
        Search::HalvesThenSteps => {
            "a search by halves to where cents may decide, as no cost can fall by more where the price \
             rises, and every step from there up to the first that is dearer"
        }
    };
    let mut notes = vec![
        format!(
            "{} costed whole, each with its load and offers chosen again: {how}.",
            count_of(found.costed, "price")
        ),
        "Costs are compared before they are rounded, not on these figures; equal is not dearer."
            .to_owned(),
    ];
    let keys = |left: &[(String, &str)]| {
        let all: Vec<String> = left.iter().map(|(of, key)| format!("`{key}` of {of}")).collect();
        all.join(", ")
    };
    if !found.left_out.is_empty() {
        notes.push(format!(
            "What the supplier made out for the quoted price is left out at every price: {}.",
            keys(&found.left_out)
        ));
    }
    if let Some((_, left)) = page.under.filter(|(_, left)| !left.is_empty()) {
        notes.push(format!(
            "What is said of the written term is left out under the other: {}.",
            keys(left)
        ));
    }
    notes.push(WITH_FINANCE.to_owned());
    if !page.shipment.boxes.is_empty() {
        notes.push("The load is as it is given in the shipment, at every price.".to_owned());
    }
    let refused = page
        .trials()
        .into_iter()
        .filter_map(|(what, trial)| Some(format!("{what}: {}.", trial.outcome.as_ref().err()?)));
    notes.extend(refused);
    notes
}
