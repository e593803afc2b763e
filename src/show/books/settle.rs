//! What was estimated against what was billed, as a page.

use crate::ledger::{Ledger, Settled, Sums};
use crate::quantity::{Decimal, Money};
use crate::show::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::{Date, Freeze, FrozenCharge};

/// The page of a shipment's charges, settled or not; `rows` has those together that stand alike, `sums` are by currency,
/// `ages` is what is still to come by its age.
pub fn settle<'a>(
    ledger: &'a Ledger<'_>,
    shipment: usize,
    (settled, rows): (&'a [Settled<'a>], &'a [Settled<'a>]),
    (sums, ages): (&'a [Sums], &[(&str, Money)]),
    on: Date,
) -> Page<'a> {
    let freeze = ledger.freeze(shipment);
    let called = freeze.map_or("", |freeze| freeze.shipment.as_str());
    let books = freeze.map_or("", |freeze| freeze.currency.code());
    let open = settled.iter().filter(|one| one.open.is_some_and(|open| !open.is_zero())).count();
    let waits = settled.iter().filter(|one| one.owed.is_none()).count();
    let mut facts = vec![
        ("charges".to_owned(), settled.len().to_string()),
        ("bills to come".to_owned(), open.to_string()),
        ("not owed yet".to_owned(), waits.to_string()),
    ];
    facts.extend(ages.iter().map(|(word, sum)| (format!("to come, {word}"), sum.to_string())));
    let rows = rows.iter().map(|one| {
        let money = |money: Option<Money>| Cell::maybe(money.map(Money::amount));
        let code = one.estimate.or(one.billed.first().copied());
        let billed: Vec<String> = one.billed.iter().map(ToString::to_string).collect();
        vec![
            match one.count {
                1 => Cell::text(one.key),
                count => Cell::text(format!("{}, {count} alike", one.name)),
            },
            Cell::text(one.payee),
            Cell::text(one.treatment.shown()),
            money(one.estimate),
            Cell::text(code.map_or("", |money| money.currency().code())),
            Cell::text(billed.join(" and ")),
            money(one.open),
            money(one.differs),
            Cell::text(one.owed.map_or_else(String::new, |owed| owed.to_string())),
            Cell::maybe(one.age.map(Decimal::from)),
        ]
    });
    let table = Table {
        title: format!("Charges on {on}"),
        columns: vec![
            Column::words("charge"),
            Column::words("billed by"),
            Column::words("goes to"),
            Column::figures("estimated"),
            Column::words("currency"),
            Column::words("billed"),
            Column::figures("to come"),
            Column::figures(format!("more in {books}")),
            Column::words("owed on"),
            Column::figures("days"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    };
    let sheet = sheet(freeze, (called, books), settled);
    Page {
        blocks: vec![
            Block::Heading(format!("Bills of {called} on {on}")),
            Block::Facts(facts),
            Block::Table(table),
            Block::Table(summed(sums, books)),
            Block::Sheet(sheet),
            Block::Format,
        ],
    }
}

/// The delivery term of the invoice that has a charge.
fn terms<'a>(freeze: Option<&'a Freeze>, frozen: Option<&FrozenCharge>) -> Option<&'a str> {
    let invoice = frozen?.invoice.as_ref()?;
    let line = freeze?.lines.iter().find(|line| line.invoice == *invoice)?;
    Some(&line.term)
}

/// What all charges come to, by currency.
fn summed<'a>(sums: &'a [Sums], books: &str) -> Table<'a> {
    let rows = sums.iter().map(|one| {
        vec![
            Cell::text(one.estimate.currency().code()),
            Cell::money(one.estimate),
            Cell::money(one.billed),
            Cell::money(one.open),
            Cell::maybe(one.differs.map(Money::amount)),
            Cell::money(one.waits),
        ]
    });
    Table {
        title: "In all".to_owned(),
        columns: std::iter::once(Column::words("currency"))
            .chain(["estimated", "billed", "to come"].map(Column::figures))
            .chain([Column::figures(format!("more in {books}")), Column::figures("not owed yet")])
            .collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// The charges as a sheet: a row for each charge and currency that it was billed in, with its policy and the working of
/// its amount, which has the bases and rates of duty and tax.
fn sheet<'a>(
    freeze: Option<&'a Freeze>,
    (called, books): (&'a str, &'a str),
    settled: &'a [Settled<'a>],
) -> Table<'a> {
    let part = |one: &Settled<'_>| one.frozen.and_then(|own| own.part);
    let each = |one: &'a Settled<'a>| {
        let all = one.billed.iter().copied().map(Some);
        let none = one.billed.is_empty().then_some(None);
        all.chain(none).enumerate().map(move |(at, billed)| (one, at == 0, billed))
    };
    let rows = settled.iter().flat_map(each).map(move |(one, is_first, billed)| {
        let frozen = one.frozen;
        let text = |text: Option<&'a str>| Cell::text(text.unwrap_or(""));
        // What is of the whole charge stands in its first row.
        let money =
            |money: Option<Money>| Cell::maybe(money.filter(|_| is_first).map(Money::amount));
        let code =
            |money: Option<Money>| Cell::text(money.map_or("", |money| money.currency().code()));
        let day =
            |day: Option<Date>| Cell::text(day.map_or_else(String::new, |day| day.to_string()));
        vec![
            Cell::text(called),
            Cell::text(one.key),
            text(frozen.map(|own| own.on.as_str())),
            text(frozen.map(|own| own.leg.word())),
            Cell::text(one.treatment.word()),
            text(frozen.and_then(|own| own.reason.as_deref())),
            text(frozen.map(|own| own.basis.word())),
            text(frozen.map(|own| own.by.word())),
            Cell::text(one.payee),
            text(frozen.and_then(|own| own.invoice.as_deref())),
            Cell::text(terms(freeze, frozen).unwrap_or("")),
            Cell::text(frozen.map_or_else(String::new, |own| own.worked.join("; "))),
            Cell::maybe(part(one).map(|(percent, _)| percent.hundredths())),
            money(part(one).map(|(_, base)| base)),
            code(part(one).map(|(_, base)| base)),
            money(one.estimate),
            code(one.estimate),
            Cell::text(
                frozen.and_then(|own| own.rate).map_or_else(String::new, |rate| rate.to_string()),
            ),
            money(frozen.map(|own| own.book)),
            Cell::maybe(billed.map(Money::amount)),
            code(billed),
            money(one.open),
            code(one.open),
            money(one.differs),
            Cell::text(books),
            day(frozen.map(|own| own.owed)),
            day(one.owed),
            Cell::maybe(one.age.map(Decimal::from)),
        ]
    });
    let words = |heads: &'static str| heads.split(',').map(Column::words);
    let figure = |head: &'static str| std::iter::once(Column::figures(head));
    let columns = words(
        "shipment,charge,object,leg,treatment,policy,basis,shared by,billed by,invoice,term,worked",
    )
    .chain(figure("percent"))
    .chain(figure("base"))
    .chain(words("base in"))
    .chain(figure("estimated"))
    .chain(words("currency,rate"))
    .chain(figure("estimated in books"))
    .chain(figure("billed"))
    .chain(words("billed in"))
    .chain(figure("to come"))
    .chain(words("to come in"))
    .chain(figure("more in books"))
    .chain(words("books,expected on,owed on"))
    .chain(figure("days"));
    Table {
        title: "Charges, a figure a cell".to_owned(),
        columns: columns.collect(),
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}
