//! Which of some offers is the cheapest over a range, or where one is not dearer than a target, as a page.

use super::compare::{as_quoted, footing, goods_in_words};
use super::cost::{WITH_FINANCE, named, of_footing};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{
    AtValue, Comparison, Cost, Group, Like, Named, Over, Value, Winner, alike, kinks, ranges,
    refused,
};
use crate::quantity::{Decimal, Price, Units, count_of, grouped};

/// What the page is of.
pub struct OverPage<'a> {
    /// The offers as quoted.
    pub comparison: &'a Comparison,
    /// The goods that are compared; `None`: all of one offer.
    pub goods: Option<&'a Like>,
    /// The changes that the offers are under, at every value.
    pub changes: &'a [Named],
    /// What moves.
    pub over: &'a Over,
    /// The cost per area that an only offer is held against.
    pub target: Option<&'a Price>,
    /// The offers at each value.
    pub all: &'a [AtValue],
    /// The units of areas.
    pub units: Units,
}

impl OverPage<'_> {
    /// The names of the offers.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> {
        self.comparison.offers.iter().map(|offer| offer.name.as_str())
    }

    /// Whether one wins at each value: offers are held against each other, or one against a target.
    pub(super) fn is_won(&self) -> bool {
        self.target.is_some() || self.comparison.offers.len() > 1
    }

    /// The changes in words.
    pub(super) fn changed(&self) -> impl Iterator<Item = &str> {
        self.changes.iter().map(|change| change.words.as_str())
    }

    /// Who wins, in words.
    pub(super) fn winner(&self, one: &AtValue) -> String {
        let name = |at: &usize| self.names().nth(*at).unwrap_or_default().to_owned();
        match one.winner() {
            Winner::Offers(all) => match &all[..] {
                [one] => name(one),
                [_, _] if self.comparison.offers.len() == 2 => "both alike".to_owned(),
                all => format!("{} alike", all.iter().map(name).collect::<Vec<_>>().join(", ")),
            },
            Winner::Alone(at) => format!("{} alone", name(&at)),
            Winner::NotDearer => "not dearer".to_owned(),
            Winner::Dearer => "dearer".to_owned(),
            Winner::None => "none".to_owned(),
        }
    }

    /// What moves, as the head of a column.
    pub(super) fn what(&self) -> String {
        match self.over {
            Over::Bundles(..) => "bundles".to_owned(),
            Over::Sails(..) => "sails".to_owned(),
            Over::Rate { base, counter, .. } => format!("{counter} for 1 {base}"),
            Over::Charge { name, .. } => format!("% of {name}"),
        }
    }
}

/// A value of what moves, without its unit.
pub(super) fn value(one: &AtValue) -> String {
    match one.value {
        Value::Bundles(count) => count.to_string(),
        Value::Sails(day) => day.to_string(),
        Value::Rate(quote) => quote.rate().to_string(),
        Value::Charge(percent) => percent.hundredths().to_string(),
    }
}

fn cell<'a>(one: &AtValue) -> Cell<'a> {
    match one.value {
        Value::Bundles(count) => Cell::Figure(Decimal::from(count)),
        Value::Sails(_) => Cell::text(value(one)),
        Value::Rate(quote) => Cell::Figure(quote.rate()),
        Value::Charge(percent) => Cell::Figure(percent.hundredths()),
    }
}

/// More rows than a page shows of single values (a choice of ours): the rest are for a sheet.
const MOST_ROWS: usize = 40;

/// A range of values, by its ends.
type Range<'a> = (&'a AtValue, &'a AtValue);

/// The page of offers over a range.
pub(super) fn over<'a>(page: &'a OverPage<'a>) -> Page<'a> {
    let is_open = |one: &&AtValue| {
        one.costs.iter().any(|cost| cost.as_ref().is_ok_and(|cost| !cost.sure.is_proven()))
    };
    let open: Vec<String> = page.all.iter().filter(is_open).map(value).collect();
    let load = match &open[..] {
        [] => "proven at each value: none costs less".to_owned(),
        [first, .., last] if open.len() > MOST_ROWS => {
            format!("NOT PROVEN at {} of them, from {first} to {last}", grouped(open.len().into()))
        }
        all => format!("NOT PROVEN at {}", all.join(", ")),
    };
    let goods = page.goods.map(|goods| ("goods".to_owned(), goods_in_words(goods, page.units)));
    let mut facts: Vec<(String, String)> = goods.into_iter().collect();
    facts.extend(page.changed().map(|words| ("changed".to_owned(), words.to_owned())));
    facts.extend([("what moves".to_owned(), moves(page)), ("load".to_owned(), load)]);
    facts.extend(page.target.map(|price| {
        let area = page.comparison.footing.word();
        ("not dearer than".to_owned(), format!("a target of {price} of {area} area, with finance"))
    }));
    let quoted = page.goods.map(|goods| as_quoted(page.comparison, goods, page.units));
    facts.extend(quoted.into_iter().flatten());
    facts.extend(footing(page.comparison, page.units));
    let mut notes = notes(page);
    notes.extend(lapsing(page));
    notes.extend(turning(page));
    for (offer, name) in page.names().enumerate() {
        let all = refused(page.all, offer).into_iter();
        notes.extend(all.map(|(first, last, why)| match (value(first), value(last)) {
            (first, last) if first == last => format!("{name} has no cost at {first}: {why}."),
            (first, last) => {
                format!("{name} has no cost from {first} to {last}. At {first}: {why}.")
            }
        }));
    }
    notes.extend(kinked(page));
    let rows = alike(page.all);
    let is_long = page.is_won() && rows.len() > MOST_ROWS;
    let shown: Vec<Range<'a>> = if is_long {
        let mut ends: Vec<&AtValue> =
            ranges(page.all).into_iter().flat_map(|(first, last)| [first, last]).collect();
        let offers = 0..page.comparison.offers.len();
        ends.extend(offers.flat_map(|offer| kinks(page.all, offer)).map(|(_, at)| at));
        ends.extend(page.all.iter().filter(|one| is_as_offered(one)));
        let is_end = |one: &AtValue| ends.iter().any(|end| std::ptr::eq::<AtValue>(*end, one));
        rows.iter().copied().filter(|(first, last)| is_end(first) || is_end(last)).collect()
    } else {
        rows.clone()
    };
    let mut against: Vec<String> = page.names().map(str::to_owned).collect();
    against.extend(page.target.map(|price| format!("a target of {price}")));
    let against = against.join(" against ");
    let mut blocks =
        vec![Block::Heading(format!("{against}, by {}", heading(page.over))), Block::Facts(facts)];
    blocks.extend(page.is_won().then(|| Block::Table(ranged(page))));
    blocks.extend([
        Block::Table(each(page, shown, is_long, false)),
        Block::Notes(notes),
        Block::Sheet(each(page, rows, false, true)),
    ]);
    Page { blocks }
}

/// Whether a value of a charge is what stands in the tables.
fn is_as_offered(one: &AtValue) -> bool {
    matches!(one.value, Value::Charge(percent) if percent.hundredths() == Decimal::ONE_HUNDRED)
}

/// Where another forwarder or haulier serves an offer from a value on.
fn kinked(page: &OverPage<'_>) -> Vec<String> {
    let choice = |one: &AtValue, offer: usize| {
        let cost = one.costs.get(offer).and_then(|cost| cost.as_ref().ok());
        cost.map_or_else(String::new, |cost| named(&cost.choice))
    };
    let each = page.names().enumerate().flat_map(|(offer, name)| {
        let all = kinks(page.all, offer).into_iter().take(MOST_ROWS);
        all.map(move |(before, at)| {
            let (from, to) = (choice(before, offer), choice(at, offer));
            let of = value(at);
            format!(
                "From {of} on {name} takes {to}, in the place of {from}: its line has a kink there."
            )
        })
    });
    each.collect()
}

fn heading(over: &Over) -> String {
    match over {
        Over::Bundles(..) => "the number of bundles".to_owned(),
        Over::Sails(..) => "the day of sailing".to_owned(),
        Over::Rate { base, counter, .. } => format!("the planning rate of {base} in {counter}"),
        Over::Charge { name, .. } => name.clone(),
    }
}

/// What moves, with its grid.
fn moves(page: &OverPage<'_>) -> String {
    let count = page.all.len();
    let grid = |[from, to, step]: &[Decimal; 3], unit: &str| {
        let count = count_of(count, "value");
        match unit {
            "" => format!("{from} to {to}, in steps of {step}: {count}"),
            of => format!("{from} to {to} % of {of}, in steps of {step} %: {count}"),
        }
    };
    match page.over {
        Over::Bundles(first, last) => format!("the number of bundles, {first} to {last}"),
        Over::Sails(first, last) => {
            format!("the day of sailing, {first} to {last}, each of {}", count_of(count, "day"))
        }
        Over::Rate { base, counter, grid: own } => {
            format!("the planning rate of 1 {base} in {counter}, {}", grid(own, ""))
        }
        Over::Charge { name, grid: own } => {
            format!("{name}, {}", grid(own, "the amounts in the tables"))
        }
    }
}

fn notes(page: &OverPage<'_>) -> Vec<String> {
    let stays = match page.over {
        Over::Bundles(..) => "What was made out for the quoted quantity is left out.",
        Over::Sails(..) => {
            "Collection, arrival, entry, delivery and return move along with the day of sailing. \
             Prices, payments on a stated day and the day of the calculation stay."
        }
        Over::Rate { .. } => {
            "The rate stands in the place of every planning rate between the two. Rates of a bank's \
             day, of customs and of a contract are known, and stay."
        }
        Over::Charge { .. } => {
            "What is a percentage of it moves along; its floor and its cap stay."
        }
    };
    let each = match page.comparison.offers.len() {
        1 => "",
        2 => " for both",
        _ => " for all",
    };
    let at = match page.changes {
        [] => "at the prices as quoted",
        _ => "under the changes stated above",
    };
    vec![
        format!(
            "Each value is costed whole{each}, with its load and offers chosen again, {at}: no step was \
             left out. {stays}"
        ),
        "Costs are compared before they are rounded, not on these figures.".to_owned(),
        WITH_FINANCE.to_owned(),
    ]
    .into_iter()
    .chain(page.goods.into_iter().flat_map(|goods| without(page.comparison, goods)))
    .chain(page.changes.iter().filter_map(beside))
    .collect()
}

/// The most rows that are told of a change.
const ROWS: usize = 3;

/// The rows that a change sets beside those that serve.
pub(super) fn beside(change: &Named) -> Option<String> {
    let (first, more) = change.beside.split_at(change.beside.len().min(ROWS));
    let more = match more.len() {
        0 => String::new(),
        more => format!("; and {more} more"),
    };
    let words = &change.words;
    (!first.is_empty()).then(|| {
        format!("{words} also sets rows that do not serve as offered: {}{more}.", first.join("; "))
    })
}

/// The lines of offers that are not compared: another offer has no such goods.
pub(super) fn without(comparison: &Comparison, goods: &Like) -> Vec<String> {
    let is_here = |group: &&Group| group.goods == *goods;
    let is_lacked = |group: &&Group| group.entries.len() < comparison.offers.len();
    let offers = comparison.offers.iter().enumerate();
    let notes = offers.filter_map(|(at, offer)| {
        let lines = |group: &Group| -> Vec<usize> {
            let own = group.entries.iter().filter(|entry| entry.offer == at);
            own.flat_map(|entry| entry.part.lines.iter().copied()).collect()
        };
        let groups = || comparison.groups.iter();
        let compared: Vec<usize> = groups().filter(is_here).flat_map(lines).collect();
        let others = groups().filter(|group| !is_here(group)).filter(is_lacked);
        let mut left: Vec<usize> = others.flat_map(lines).collect();
        left.sort_unstable();
        left.dedup();
        let named = left.iter().filter_map(|line| {
            let part = if compared.contains(line) { "part of " } else { "" };
            Some(format!("{part}line {}", offer.lines.get(*line)?))
        });
        let named: Vec<String> = named.collect();
        let (name, lines) = (&offer.name, named.join(", "));
        (!named.is_empty())
            .then(|| format!("{name} without {lines}: another offer has no such goods."))
    });
    notes.collect()
}

/// The prices that end before the last day of sailing: they are taken to serve on.
fn lapsing(page: &OverPage<'_>) -> Vec<String> {
    let Over::Sails(_, last) = page.over else { return Vec::new() };
    let offers = page.comparison.offers.iter();
    let ends = offers.filter_map(|offer| {
        let until = offer.valid_until().filter(|until| until < last)?;
        Some(format!(
            "The prices of {} end on {until}: for a later order they are to be asked for again.",
            offer.name
        ))
    });
    ends.collect()
}

/// The rows that begin or end where costs change, day by day.
fn turning(page: &OverPage<'_>) -> Vec<String> {
    let turned = page.all.iter().filter(|one| !one.turns.is_empty());
    turned.take(MOST_ROWS).map(|one| format!("From {} on: {}.", value(one), turns(one))).collect()
}

/// The rows that begin or end at a value, in words.
fn turns(one: &AtValue) -> String {
    let each = one.turns.iter().map(|turn| {
        let does = if turn.begins { "begins" } else { "has ended" };
        format!("{} {does} ({})", turn.name, turn.place)
    });
    each.collect::<Vec<_>>().join("; ")
}

fn ranged<'a>(page: &'a OverPage<'a>) -> Table<'a> {
    let rows = ranges(page.all).into_iter();
    let rows = rows
        .map(move |(first, last)| vec![cell(first), cell(last), Cell::text(page.winner(first))]);
    let is_target = page.target.is_some();
    let by = match page.over {
        Over::Sails(..) => "day of sailing".to_owned(),
        _ => page.what(),
    };
    let each =
        if is_target { "Ranges against the target" } else { "Ranges with the cheaper of each" };
    Table {
        title: format!("{each}, by {by}"),
        columns: vec![Column::figures("from"), Column::figures("to"), verdict(page)],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// The column that says who wins.
fn verdict(page: &OverPage<'_>) -> Column {
    Column::words(match page.comparison.offers.len() {
        _ if page.target.is_some() => "against the target",
        2 => "the cheaper",
        _ => "the cheapest",
    })
}

/// The costs at each value; values in a row at which each costs the same stand together.
fn each<'a>(
    page: &'a OverPage<'a>,
    rows: Vec<Range<'a>>,
    is_ends: bool,
    is_main: bool,
) -> Table<'a> {
    let figure = move |cost: &Result<Cost, String>| {
        let cost = cost.as_ref().ok();
        Cell::maybe(cost.and_then(|cost| cost.per_area.figure(page.units)))
    };
    // Beside the page they are notes.
    let is_days = matches!(page.over, Over::Sails(..));
    let is_single = rows.iter().all(|(first, last)| std::ptr::eq(*first, *last));
    let rows = rows.into_iter().map(move |(first, last)| {
        let mut row: Row<'a> = vec![cell(first)];
        row.extend((!is_single).then(|| cell(last)));
        row.extend(first.costs.iter().map(figure));
        if let (Some(goal), Some(own)) = (&first.target, first.costs.first()) {
            let above = own.as_ref().ok().and_then(|own| own.per_area.above(goal));
            row.push(Cell::maybe(above.and_then(|above| above.figure(page.units))));
        }
        row.extend(page.is_won().then(|| Cell::text(page.winner(first))));
        row.extend((is_main && is_days).then(|| Cell::text(turns(first))));
        row
    });
    let ends = match (is_ends, page.over) {
        (false, _) => "",
        (true, Over::Charge { .. }) => {
            ", where a range begins or ends, other offers serve, and as offered (100 %)"
        }
        (true, _) => ", where a range begins or ends, or other offers serve",
    };
    let mut columns = if is_single {
        vec![Column::figures(page.what())]
    } else {
        vec![Column::figures("from"), Column::figures("to")]
    };
    columns.extend(page.names().map(|name| Column::figures(name.to_owned())));
    columns.extend(page.target.map(|_| Column::figures("above it")));
    columns.extend(page.is_won().then(|| verdict(page)));
    columns.extend((is_main && is_days).then(|| Column::words("rows that begin or end")));
    let title = if is_main {
        "Values, a figure a cell".to_owned()
    } else {
        format!("Cost with finance, {}{ends}", of_footing(page.comparison, page.units))
    };
    Table { title, columns, rows: Rows::of(rows), totals: None, is_main }
}
