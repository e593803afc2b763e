//! The price list, as a page: one for the showroom, without any cost, and one for the manager.

use crate::quantity::{Decimal, Money, Units};
use crate::sell::{Listing, PriceLine, Single, Why};
use crate::show::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::trade::{Aim, Class, Date, Ending, SellingRow};

/// Whether a table is for CSV, with one thing in a cell, or for a reader, whose lines are short.
#[derive(Clone, Copy, PartialEq, Eq)]
enum To {
    Sheet,
    Reader,
}

/// What is sold to whom, in the first columns of a table.
fn goods_columns(to: To) -> Vec<Column> {
    match to {
        To::Sheet => {
            let words = ["yard", "stone", "finish", "thickness", "quality", "for", "slab"];
            words.map(Column::words).to_vec()
        }
        To::Reader => vec![Column::above("yard", "yard"), Column::words("slabs, for")],
    }
}

fn goods_cells<'a>(to: To, class: &'a Class, tier: &'a str, slab: &'a str) -> Row<'a> {
    let mut cells = vec![Cell::text(class.yard.as_str())];
    match to {
        To::Sheet => {
            let all = [&class.stone, &class.finish, &class.thickness, &class.quality];
            cells.extend(all.map(|word| Cell::text(word.as_str())));
            cells.extend([tier, slab].map(Cell::text));
        }
        To::Reader => {
            cells.push(Cell::text(format!("{}, {tier}", class.goods())));
        }
    }
    cells
}

/// The prices of classes, for readers and for CSV. CSV has the slabs with prices of their own below them.
fn lists<'a, R>(
    listing: &'a Listing<'a>,
    more: &[Column],
    row: impl Fn(To) -> R,
    single: impl Fn(&'a Single<'a>) -> Row<'a> + 'a,
) -> [Block<'a>; 2]
where
    R: Fn(&'a PriceLine<'a>) -> Row<'a> + 'a,
{
    let list = |to: To, title: &str, rows: Rows<'a>| Table {
        title: title.to_owned(),
        columns: [&goods_columns(to), more].concat(),
        rows,
        totals: None,
        is_main: to == To::Sheet,
    };
    let lines = |to: To| listing.lines.iter().map(row(to));
    let reader = list(To::Reader, "Price list", Rows::of(lines(To::Reader)));
    let all = Rows::of(lines(To::Sheet).chain(listing.singles.iter().map(single)));
    [Block::Table(reader), Block::Sheet(list(To::Sheet, "Prices, a figure a cell", all))]
}

/// The slabs with prices of their own, where there are any.
fn singles<'a>(
    listing: &'a Listing<'a>,
    columns: Vec<Column>,
    row: impl Fn(&'a Single<'a>) -> Row<'a> + 'a,
) -> Option<Block<'a>> {
    let table = Table {
        title: "Single slabs".to_owned(),
        columns,
        rows: Rows::of(listing.singles.iter().map(row)),
        totals: None,
        is_main: false,
    };
    (!listing.singles.is_empty()).then_some(Block::Table(table))
}

/// Until when the prices of each sort of customer hold, and what is in them.
fn terms(listing: &Listing<'_>) -> Vec<String> {
    let mut all: Vec<String> = Vec::new();
    for line in &listing.lines {
        let said = format!("{}: {}", line.row.tier, held(line.row));
        if !all.contains(&said) {
            all.push(said);
        }
    }
    all
}

/// What a price holds and how long, in words.
fn held(row: &SellingRow) -> String {
    let until = row.valid.until.map_or("further notice".to_owned(), |day| day.to_string());
    match row.tax {
        Some(tax) => format!("{tax} tax in it, until {until}"),
        None => format!("without tax, until {until}"),
    }
}

/// The list for the showroom. It holds no cost, margin, supplier or shipment.
pub fn showroom<'a>(listing: &'a Listing<'a>, on: Date, units: Units) -> Page<'a> {
    let area = units.area();
    let more = [
        Column::figures("count"),
        Column::figures(format!("here {area}")),
        Column::figures(format!("coming {area}")),
        Column::figures("price"),
        Column::words("per"),
    ];
    let row = |to: To| {
        move |line: &'a PriceLine<'a>| {
            let mut cells = goods_cells(to, &line.class, &line.row.tier, "");
            cells.extend([
                Cell::count(line.slabs),
                Cell::Figure(line.on_hand.figure(units, 2)),
                Cell::Figure(line.coming.figure(units, 2)),
                Cell::money(line.price),
                per(line.price, line.row.by.word()),
            ]);
            cells
        }
    };
    let single = move |one: &'a Single<'a>| {
        let mut cells = goods_cells(To::Sheet, &one.class, one.tier, one.slab);
        let area = Cell::Figure(one.area.figure(units, 2));
        let none = Cell::Figure(Decimal::ZERO);
        let (here, coming) = if one.is_here { (area, none) } else { (none, area) };
        cells.extend([
            Cell::count(1),
            here,
            coming,
            Cell::money(one.price),
            per(one.price, one.per),
        ]);
        cells
    };
    let mut blocks = vec![Block::Heading(format!("Prices on {on}"))];
    blocks.extend(lists(listing, &more, row, single));
    let more = [
        Column::words("slab"),
        Column::figures(area),
        Column::figures("price"),
        Column::words("per"),
    ];
    let columns = [&goods_columns(To::Reader)[..], &more].concat();
    blocks.extend(singles(listing, columns, move |one| {
        let mut cells = goods_cells(To::Reader, &one.class, one.tier, "");
        cells.extend([
            Cell::text(one.slab),
            Cell::Figure(one.area.figure(units, 2)),
            Cell::money(one.price),
            per(one.price, one.per),
        ]);
        cells
    }));
    blocks.push(Block::Notes(terms(listing)));
    blocks.push(Block::Format);
    Page { blocks }
}

/// The unit of a price with its currency.
fn per<'a>(price: Money, unit: &str) -> Cell<'a> {
    Cell::text(format!("{}/{unit}", price.currency()))
}

/// The list for the manager: prices beside what they rest on.
pub fn prices<'a>(listing: &'a Listing<'a>, on: Date, units: Units) -> Page<'a> {
    let area = units.area();
    let more = [
        Column::figures("count"),
        Column::figures(area),
        Column::figures("cost"),
        Column::words("books"),
        Column::figures("least"),
        Column::figures("price"),
        Column::words("per"),
        Column::figures("margin %"),
        Column::figures("markup %"),
        Column::words("set by"),
        Column::words("cost rests on"),
    ];
    let row = |to: To| {
        move |line: &'a PriceLine<'a>| {
            let area = line.on_hand.figure(units, 2) + line.coming.figure(units, 2);
            let unit = line.row.by.word();
            let mut cells = goods_cells(to, &line.class, &line.row.tier, "");
            cells.extend([
                Cell::count(line.slabs),
                Cell::Figure(area),
                Cell::maybe(line.unit_cost.figure(4)),
                per(line.cost, unit),
                Cell::money(line.floor),
                Cell::money(line.price),
                per(line.price, unit),
                Cell::maybe(line.margin()),
                Cell::maybe(line.markup()),
                Cell::text(set_by(line)),
                Cell::text(match line.estimated {
                    0 => "bills".to_owned(),
                    some => format!("estimates for {some} of {}", line.slabs),
                }),
            ]);
            cells
        }
    };
    let mut blocks =
        vec![Block::Heading(format!("Prices on {on}, internal: they stand beside our cost"))];
    let single = move |one: &'a Single<'a>| {
        let mut cells = goods_cells(To::Sheet, &one.class, one.tier, one.slab);
        cells.extend([
            Cell::count(1),
            Cell::Figure(one.area.figure(units, 2)),
            Cell::money(one.cost),
            Cell::text(one.cost.currency().code()),
            Cell::money(one.floor),
            Cell::money(one.price),
            per(one.price, one.per),
            Cell::Empty,
            Cell::Empty,
            Cell::text(why(one)),
            Cell::Empty,
        ]);
        cells
    };
    blocks.extend(lists(listing, &more, row, single));
    let columns = vec![
        Column::above("shipment", "shipment"),
        Column::words("slab"),
        Column::words("for"),
        Column::figures(area),
        Column::figures("cost"),
        Column::words("books"),
        Column::figures("price"),
        Column::words("per"),
        Column::figures("least"),
        Column::words("why"),
    ];
    blocks.extend(singles(listing, columns, move |one| {
        vec![
            Cell::text(one.shipment),
            Cell::text(one.slab),
            Cell::text(one.tier),
            Cell::Figure(one.area.figure(units, 2)),
            Cell::money(one.cost),
            Cell::text(one.cost.currency().code()),
            Cell::money(one.price),
            per(one.price, one.per),
            Cell::money(one.floor),
            Cell::text(why(one)),
        ]
    }));
    let mut said = terms(listing);
    said.extend(notes(listing));
    blocks.push(Block::Notes(said));
    blocks.push(Block::Format);
    Page { blocks }
}

/// What sets a price, in words.
fn set_by(line: &PriceLine<'_>) -> String {
    let sets = match line.exception {
        Some(row) => format!("exception: {}", row.reason),
        None if line.is_at_floor => "the least margin".to_owned(),
        None => match line.row.aim {
            Aim::Margin(margin) => format!("margin {margin}"),
            Aim::Markup(markup) => format!("markup {markup}"),
        },
    };
    match &line.row.ending {
        Ending::Minor => sets,
        _ if line.exception.is_some() => sets,
        _ => format!("{sets}, rounded up"),
    }
}

/// Why a slab stands alone, in words.
pub(in crate::show) fn why(one: &Single<'_>) -> String {
    match one.why {
        Why::Remnant => "remnant".to_owned(),
        Why::Exception(row) => format!("exception: {}", row.reason),
        Why::Dearer => "cost more than the list's price bears".to_owned(),
    }
}

/// What a manager must know beside the list.
fn notes(listing: &Listing<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    if listing.lines.iter().any(|line| !line.to_come.is_zero()) {
        notes.push("cost counts what is booked and not owed yet: freight, duty and delivery of slabs on the way".to_owned());
    }
    for line in listing.lines.iter().filter(|line| line.is_below_floor()) {
        notes.push(format!(
            "{} for {}: the exception is below the least margin, {} against {}",
            line.class, line.row.tier, line.price, line.floor
        ));
    }
    for one in listing.singles.iter().filter(|one| one.is_below_floor()) {
        notes.push(format!(
            "slab {} for {}: the exception is below the least margin, {} against {}",
            one.slab, one.tier, one.price, one.floor
        ));
    }
    for class in &listing.without {
        notes.push(format!("{class}: no [[selling]] row is in force"));
    }
    notes
}
