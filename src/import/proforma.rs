//! The lines of a proforma: goods, quantities, unit prices and amounts, with the supplier's total.
//!
//! Nothing is guessed. The currency and the unit of a price stand in the sheet, or are asked for. Which figure of a
//! row is its quantity, the amounts say: it is the one that makes the amount at the price on every row.

use std::collections::BTreeSet;

use super::areas::agree;
use super::figure::{Figure, Odd, figure, opening, sides};
use super::file;
use super::grid::{Grid, Value};
use super::role::{Answers, Role};
use super::rows::{hides, is_total};
use super::tables::{Column, Table, find};
use crate::fault::{Code, Fault, Place, Report, Reported, plain};
use crate::quantity::{Currency, Decimal, Money, Price, PricedBy, Written};
use crate::read::{figure_in_words, unit_of, words};
use crate::trade::{DeliveryTerm, Incoterm};

/// What a proforma says.
#[derive(Debug)]
pub struct Proforma {
    /// Its lines, in their order.
    pub lines: Vec<ProformaLine>,
    /// The total as stated.
    pub total: Option<Money>,
    /// What is taken off all lines, as a positive amount.
    pub discount: Option<Money>,
    /// What the supplier's spreadsheet makes the total differ by from the sum of its cents.
    pub rounding: Option<Money>,
    /// The delivery term, in the sheet's words: "FOB Izmir".
    pub term: Option<String>,
    /// What else is to be known, in sentences.
    pub notes: Vec<String>,
}

/// A line of a proforma.
#[derive(Debug)]
pub struct ProformaLine {
    /// Its cell in words, and its place.
    pub called: String,
    /// Where it stands.
    pub place: Place,
    /// What the sheet says of the goods: the stone, and whatever else stands in words.
    pub goods: String,
    /// The finish, where a column has it.
    pub finish: Option<String>,
    /// The quality, where a column has it.
    pub quality: Option<String>,
    /// The thickness, as files have it: "20 mm".
    pub thickness: Option<String>,
    /// The price.
    pub price: Price,
    /// How much, in the unit of the price.
    pub quantity: Decimal,
    /// What it comes to.
    pub amount: Money,
}

/// Words for what is taken off (from memory).
const DISCOUNTS: [&str; 10] = [
    "discount",
    "sconto",
    "descuento",
    "desconto",
    "iskonto",
    "indirim",
    "remise",
    "rabatt",
    "折扣",
    "优惠",
];

/// Currencies that a sheet may name by their letters: others are answered (a choice of ours).
const CURRENCIES: [&str; 14] = [
    "USD", "EUR", "GBP", "CAD", "AUD", "CNY", "INR", "TRY", "BRL", "CHF", "JPY", "NZD", "MXN",
    "ZAR",
];

/// Reads the lines of a proforma; `None`: the file holds none, or a list of slabs beside them and is not `asked`
/// for them.
///
/// # Errors
/// If it leaves anything open that changes a line.
pub fn proforma(
    name: &str,
    bytes: &[u8],
    (answers, is_asked): (&Answers, bool),
    report: &mut Report,
) -> Result<Option<Proforma>, Reported> {
    let grids = file::read(name, bytes, report)?;
    let tables = grids.iter().enumerate().flat_map(|(at, grid)| find(grid, at, answers));
    let (priced, others): (Vec<Table>, Vec<Table>) = tables.partition(is_priced);
    let has_lists = others.iter().any(|one| one.of(Role::Slab).or(one.of(Role::Bundle)).is_some());
    let [table] = &priced[..] else {
        if let [first, second, ..] = &priced[..]
            && (is_asked || !has_lists)
        {
            return Err(report.error(two_lists(&grids, [first, second])));
        }
        return Ok(None);
    };
    let Some(grid) = grids.get(table.grid).filter(|_| is_asked || !has_lists) else {
        return Ok(None);
    };
    Sheet { table, grid, answers }.read(report).map(Some)
}

/// Whether a table is one of goods with prices and amounts, and no list of slabs.
pub(super) fn is_priced(table: &Table) -> bool {
    let has = |role: Role| table.of(role).is_some();
    has(Role::Price)
        && has(Role::Amount)
        && ![Role::Slab, Role::Bundle, Role::Block].into_iter().any(has)
}

struct Sheet<'a> {
    table: &'a Table,
    grid: &'a Grid,
    answers: &'a Answers,
}

/// What the rows come to.
struct Sums {
    total: Option<Money>,
    discount: Option<Money>,
    rounding: Option<Money>,
    notes: Vec<String>,
}

/// A row with an amount: of a line, of something beside the lines, or of a total.
struct Row {
    at: usize,
    price: Option<Decimal>,
    amount: Decimal,
    is_total: bool,
}

impl Sheet<'_> {
    fn read(&self, report: &mut Report) -> Result<Proforma, Reported> {
        let rows = self.rows(report)?;
        let lines: Vec<&Row> = rows.iter().filter(|row| row.price.is_some()).collect();
        if lines.is_empty() {
            let fault =
                self.fault(self.table.header, Role::Price, Code::MissingKey, "heads no price");
            return Err(report.error(fault));
        }
        let currency = self.currency(&rows, report)?;
        let money = |amount: Decimal| Money::rounded(amount, currency);
        let (column, by) = self.quantity(&lines, currency, report)?;
        let mut told = Ok(());
        let mut all = Vec::new();
        for row in &lines {
            let quantity = column.and_then(|column| self.figure(row.at, column));
            let thickness = self.thickness(row.at, report);
            let (mut price, quantity) =
                (row.price.unwrap_or_default(), quantity.unwrap_or(Decimal::ONE));
            // A workbook drops the noughts of 46.00.
            if price.scale() < currency.minor_digits() {
                price.rescale(currency.minor_digits());
            }
            let made = price.checked_mul(quantity).unwrap_or_default();
            if !agree(made, row.amount, 2) {
                let made = money(made).amount();
                let what = format!("is not {quantity} x {price}, which is {made}");
                let fault = self.fault(row.at, Role::Amount, Code::Contradiction, &what);
                told =
                    Err(report.error(fault.help("ask the supplier which of the three is wrong")));
                continue;
            }
            let Ok(thickness) = thickness.map_err(|reported| told = Err(reported)) else {
                continue;
            };
            let of = |role: Role| self.words(row.at, role);
            all.push(ProformaLine {
                called: self.grid.called(row.at, self.column(Role::Price)),
                place: self.grid.place(row.at, self.column(Role::Price)),
                goods: self.goods(row.at),
                finish: of(Role::Finish),
                quality: of(Role::Quality),
                thickness,
                price: Price { amount: price, currency, by },
                quantity,
                amount: money(row.amount),
            });
        }
        told?;
        let Sums { total, discount, rounding, notes } = self.total(&rows, currency, report)?;
        Ok(Proforma { lines: all, total, discount, rounding, term: self.term(), notes })
    }

    /// The rows with an amount.
    fn rows(&self, report: &mut Report) -> Result<Vec<Row>, Reported> {
        let mut told = Ok(());
        let mut all = Vec::new();
        for row in self.grid.rows().filter(|row| self.table.body.contains(row)) {
            let get = |role: Role| self.grid.get(row, self.column(role));
            let has_total = self.grid.row(row).any(|(_, value)| is_total(value));
            let (price, amount) = (get(Role::Price), get(Role::Amount));
            if amount.is_none() && (price.is_none() || has_total) {
                continue;
            }
            if self.grid.is_hidden || self.grid.hides_row(row) {
                match self.answers.hidden {
                    Some(true) => {}
                    Some(false) => continue,
                    None => {
                        told = Err(report.error(hides(self.grid, row, 1)));
                        continue;
                    }
                }
            }
            let mut read = |role: Role, value: Option<&Value>| match value.map(money) {
                None => Ok(None),
                Some(Ok(figure)) => Ok(Some(figure)),
                Some(Err(odd)) => Err(report.error(self.odd(row, role, &odd))),
            };
            let price = if has_total { Ok(None) } else { read(Role::Price, price) };
            match (price, read(Role::Amount, amount)) {
                (Ok(price), Ok(Some(amount))) => {
                    all.push(Row { at: row, price, amount, is_total: has_total });
                }
                (Ok(_), Ok(None)) => {
                    let fault =
                        self.fault(row, Role::Price, Code::MissingKey, "has no amount beside it");
                    told =
                        Err(report
                            .error(fault.help("write what the line comes to, or delete its row")));
                }
                (Err(reported), _) | (_, Err(reported)) => told = Err(reported),
            }
        }
        told.map(|()| all)
    }

    /// The one currency of prices and amounts: as answered, as their headers and cells say, else as a cell beside
    /// the table says.
    fn currency(&self, rows: &[Row], report: &mut Report) -> Result<Currency, Reported> {
        if let Some((currency, _)) = self.answers.price {
            return Ok(currency);
        }
        let roles = [Role::Price, Role::Amount];
        let headers =
            roles.iter().filter_map(|role| self.table.of(*role)).map(|one| one.header.clone());
        let cells =
            rows.iter().flat_map(|row| self.grid.row(row.at)).map(|(_, value)| value.shown());
        let own: BTreeSet<&str> = headers.chain(cells).filter_map(|text| code_in(&text)).collect();
        let beside = || {
            let rows = self.grid.rows().filter(|row| !rows.iter().any(|one| one.at == *row));
            let cells = rows.flat_map(|row| self.grid.row(row)).map(|(_, value)| value.shown());
            cells.filter_map(|text| code_in(&text)).collect::<BTreeSet<&str>>()
        };
        let found = if own.is_empty() { beside() } else { own };
        let all: Vec<&str> = found.into_iter().collect();
        let (what, is_known) = match &all[..] {
            [one] => ("", Currency::from_code(one)),
            [] => ("no cell says in which currency the prices are", None),
            _ => ("the prices are in more than one currency", None),
        };
        is_known.ok_or_else(|| {
            let message = match all.len() {
                0 => what.to_owned(),
                _ => format!("{what}: {}", all.join(", ")),
            };
            let at = self.grid.place(self.table.header, self.column(Role::Price));
            report.error(
                Fault::error(Code::MissingKey, message)
                    .at(&at, "the prices")
                    .help("say it, with the unit: --unit price=USD/m2"),
            )
        })
    }

    /// The column of quantities, and what a price is for: the column that makes the amounts on every row, in the
    /// unit that the price, the column or the answer names.
    fn quantity(
        &self,
        lines: &[&Row],
        currency: Currency,
        report: &mut Report,
    ) -> Result<(Option<usize>, PricedBy), Reported> {
        let makes = |column: &&Column| {
            lines.iter().all(|row| {
                let quantity = self.figure(row.at, column.at);
                let made = quantity.and_then(|one| one.checked_mul(row.price?));
                made.is_some_and(|made| agree(made, row.amount, 2))
            })
        };
        let is_quantity = |column: &&Column| {
            column.role.is_area() || matches!(column.role, Role::Count | Role::Mass | Role::NetMass)
        };
        let all: Vec<&Column> = self.table.columns.iter().filter(is_quantity).collect();
        let header = self.table.of(Role::Price).and_then(|one| one.unit).and_then(unit);
        let stated = self.answers.price.map(|(_, by)| by).or(header);
        // Of several that do, the one in the unit of the price; where none does, the faults name that one.
        let own = |column: &Column| self.unit_of(column, lines);
        let fits = |column: &&Column| stated.is_some() && own(column) == stated;
        let making: Vec<&Column> = all.iter().copied().filter(makes).collect();
        let chosen = making.iter().copied().find(fits).or(making.first().copied());
        let chosen = chosen.or_else(|| all.iter().copied().find(fits)).or(all.first().copied());
        let by_column = chosen.and_then(own);
        let place = |at: usize| self.grid.place(self.table.header, at);
        let price = self.column(Role::Price);
        let by = match (stated, by_column) {
            (Some(one), Some(other)) if one != other => {
                let at = chosen.map_or(price, |column| column.at);
                let message = format!(
                    "prices are per {}, and the quantities that make the amounts are in {}",
                    one.word(),
                    other.word()
                );
                return Err(report.error(
                    Fault::error(Code::Contradiction, message)
                        .at(&place(price), "the prices")
                        .also(&place(at), "the quantities")
                        .help("say which it is, such as --unit price=USD/m2, or --column none=F for a column"),
                ));
            }
            (Some(by), _) | (None, Some(by)) => by,
            (None, None) => {
                let message =
                    "no cell says what a price is for: a square metre, a square foot, a slab";
                return Err(report.error(
                    Fault::error(Code::MissingKey, message)
                        .at(&place(price), "the prices")
                        .help(format!("say it: --unit price={currency}/m2")),
                ));
            }
        };
        Ok((chosen.map(|column| column.at), by))
    }

    /// The unit of a column of quantities: its header's, its cells', or that of a column of units.
    fn unit_of(&self, column: &Column, lines: &[&Row]) -> Option<PricedBy> {
        if let Some(own) = column.unit {
            return unit(own);
        }
        let of_cell = |row: &&Row| match self.grid.get(row.at, column.at).map(figure) {
            Some(Ok(Figure { unit: Some(own), .. })) => unit(own),
            _ => self.grid.row(row.at).find_map(|(_, value)| match value {
                Value::Text(text) => unit(unit_of(text)?),
                _ => None,
            }),
        };
        let mut units: Vec<Option<PricedBy>> = lines.iter().map(of_cell).collect();
        units.dedup();
        match units[..] {
            [one] => one,
            _ => None,
        }
    }

    /// The total as stated, the discount, and what stands beside the lines, held against each other.
    fn total(
        &self,
        rows: &[Row],
        currency: Currency,
        report: &mut Report,
    ) -> Result<Sums, Reported> {
        let money = |amount: Decimal| Money::rounded(amount, currency);
        let none = Money::zero(currency);
        let mut sums = Sums { total: None, discount: None, rounding: None, notes: Vec::new() };
        // As the cells have it, and to the cent row by row; of the lines, and with what stands beside them.
        let (mut lines, mut all, mut to_cent) = (Decimal::ZERO, Decimal::ZERO, none);
        for row in rows {
            let shown = self.goods(row.at);
            let is_off = words(&shown).iter().any(|word| DISCOUNTS.contains(&word.as_str()));
            if row.is_total {
                let is_it = |sum: Decimal| agree(sum, row.amount, 2);
                if is_it(all) || to_cent == money(row.amount) {
                    sums.total = Some(money(row.amount));
                } else if !is_it(lines) {
                    let made = money(all).amount();
                    let what = format!("is the total, and the rows above make {made}");
                    let fault = self.fault(row.at, Role::Amount, Code::Contradiction, &what);
                    return Err(report.error(fault.help(
                        "a row may lack or be too many: ask the supplier; where it rounds its total, delete the row, and write `rounding` and `total` in shipment.toml",
                    )));
                }
                continue;
            }
            let amount = if is_off { -row.amount.abs() } else { row.amount };
            let sum = all.checked_add(amount).zip(to_cent.plus(money(amount)).ok());
            (all, to_cent) = sum.ok_or_else(|| {
                let fault = self.fault(row.at, Role::Amount, Code::Overflow, "is too large");
                report.error(fault)
            })?;
            if row.price.is_some() {
                lines = all;
            } else if is_off {
                let off = money(-amount);
                sums.discount = sums.discount.map_or(Some(off), |sum| sum.plus(off).ok());
            } else {
                sums.notes.push(format!(
                    "{}: \"{}\", {}, stands beside the lines: write it in shipment.toml as what it is, or `check` finds the total higher than the lines",
                    self.grid.called(row.at, self.column(Role::Amount)),
                    plain(&shown),
                    money(amount)
                ));
            }
        }
        match sums.total {
            Some(total) => {
                // A spreadsheet adds up what it has worked out, and shows cents.
                let gap = total.minus(to_cent).ok();
                sums.rounding = gap.filter(|gap| !gap.is_zero());
            }
            None => sums
                .notes
                .push("no row states a total: there is none to hold ours against".to_owned()),
        }
        Ok(sums)
    }

    /// The delivery term that a cell opens with, or names behind a colon: "FOB Izmir".
    fn term(&self) -> Option<String> {
        let cells = self.grid.rows().flat_map(|row| self.grid.row(row));
        cells.into_iter().find_map(|(_, value)| {
            let Value::Text(text) = value else { return None };
            let own =
                text.rsplit_once([':', '\u{ff1a}']).map_or(text.as_str(), |(_, rest)| rest).trim();
            let (rule, place) = own.split_once(' ')?;
            let rule = rule.to_uppercase();
            Incoterm::ALL.iter().find(|(_, word)| *word == rule)?;
            let place = place.split([',', '(']).next()?.trim();
            let is_place = !place.is_empty()
                && place.split(' ').count() <= 3
                && !place.chars().any(|c| c.is_ascii_digit());
            let term = format!("{rule} {place}");
            let is_term =
                DeliveryTerm::read(&term).is_ok() || DeliveryTerm::in_words(&term).is_some();
            (is_place && is_term).then_some(term)
        })
    }

    /// The thickness: of its column, of the third figure of a size, or in the words on the goods.
    fn thickness(&self, row: usize, report: &mut Report) -> Result<Option<String>, Reported> {
        let written = |one: &Figure, unit: &str| format!("{} {unit}", one.value.normalize());
        let own = self.table.of(Role::Thickness);
        if let Some((column, value)) = own.and_then(|one| Some((one, self.grid.get(row, one.at)?)))
        {
            let one =
                figure(value).map_err(|odd| report.error(self.odd(row, Role::Thickness, &odd)))?;
            let unit = one.unit.or(column.unit).or_else(|| self.answers.unit(Role::Thickness));
            return unit.map(|unit| Some(written(&one, unit))).ok_or_else(|| {
                let fault = self.fault(row, Role::Thickness, Code::BadQuantity, "has no unit");
                report.error(fault.help("say it: --unit thickness=mm"))
            });
        }
        let size = self.table.of(Role::Size).and_then(|column| {
            let (.., third) = sides(self.grid.get(row, column.at)?).ok()?;
            let third = third?;
            let unit = third.unit.or(column.unit).or_else(|| self.answers.unit(Role::Size))?;
            Some(written(&third, unit))
        });
        let goods = self.goods(row);
        let mut parts = goods.split(|c: char| !c.is_alphanumeric() && c != '.').peekable();
        let mut in_words = None;
        while let Some(part) = parts.next() {
            let behind = parts.peek().copied().unwrap_or_default();
            let both = [part.to_owned(), format!("{part} {behind}")];
            let mut read = both.into_iter().filter_map(|text| figure(&Value::Text(text)).ok());
            let one = read.find(|one| matches!(one.unit, Some("mm" | "cm")));
            in_words = in_words.or(one.map(|one| written(&one, one.unit.unwrap_or("mm"))));
        }
        Ok(size.or(in_words))
    }

    /// What stands in words on a row: its goods.
    fn goods(&self, row: usize) -> String {
        let texts = self.grid.row(row).filter_map(|(_, value)| match value {
            Value::Text(text) if money(value).is_err() => Some(text.as_str()),
            _ => None,
        });
        texts.collect::<Vec<_>>().join(" ")
    }

    fn words(&self, row: usize, role: Role) -> Option<String> {
        self.grid.get(row, self.table.of(role)?.at).map(Value::shown)
    }

    fn figure(&self, row: usize, column: usize) -> Option<Decimal> {
        let value = self.grid.get(row, column)?;
        figure(value).ok().map(|one| one.value).or_else(|| opening(value))
    }

    fn column(&self, role: Role) -> usize {
        self.table.of(role).map_or(0, |column| column.at)
    }

    fn fault(&self, row: usize, role: Role, code: Code, what: &str) -> Fault {
        let column = self.column(role);
        let shown = self.grid.get(row, column).map(Value::shown).unwrap_or_default();
        let message = format!("{}: \"{}\" {what}", self.grid.called(row, column), plain(&shown));
        Fault::error(code, message).at(&self.grid.place(row, column), "here")
    }

    fn odd(&self, row: usize, role: Role, odd: &Odd) -> Fault {
        let (what, help) = match odd {
            Odd::NoValue => (
                "has no stored value",
                "open the file in a spreadsheet and save it: that stores what its formulas come to",
            ),
            Odd::Day(_) => {
                ("is a date", "format the column as text or as a number, and write the figure")
            }
            Odd::Error => {
                ("is an error of the spreadsheet", "mend the formula, or write the figure")
            }
            Odd::Words => (
                "is no figure",
                "write a figure, such as 46.00, or delete the row if it is no line",
            ),
        };
        self.fault(row, role, Code::BadQuantity, what).help(help)
    }
}

/// What a price is for, by a unit's word.
fn unit(word: &str) -> Option<PricedBy> {
    PricedBy::ALL.iter().find(|(_, own)| *own == word).map(|(by, _)| *by)
}

/// The currency that a text names: its letters, or a sign that one currency alone has.
fn code_in(text: &str) -> Option<&'static str> {
    let signs = [("\u{20ac}", "EUR"), ("\u{a3}", "GBP"), ("US$", "USD")];
    let sign = signs.iter().find(|(sign, _)| text.contains(sign)).map(|(_, code)| *code);
    let mut parts = text.split(|c: char| !c.is_alphabetic());
    let letters = parts.find_map(|part| {
        let part = part.to_uppercase();
        CURRENCIES.iter().copied().find(|code| *code == part)
    });
    sign.or(letters)
}

/// The figure of an amount, with or without its currency.
fn money(value: &Value) -> Result<Decimal, Odd> {
    let Value::Text(text) = value else { return figure(value).map(|one| one.value) };
    let is_figure = |c: char| c.is_ascii_digit() || ".,'-+ ".contains(c);
    let letters: String = text.chars().filter(|c| !is_figure(*c)).collect();
    let is_currency = letters.is_empty() || letters == "$" || code_in(&letters).is_some();
    let bare: String = text.chars().filter(|c| is_figure(*c) && *c != ' ').collect();
    figure_in_words(&bare).filter(|_| is_currency).ok_or(Odd::Words)
}

fn two_lists(grids: &[Grid], both: [&Table; 2]) -> Fault {
    let at = both.map(|table| {
        let column = table.of(Role::Price).map_or(0, |column| column.at);
        grids
            .get(table.grid)
            .map(|grid| (grid.called(table.header, column), grid.place(table.header, column)))
    });
    let [Some((first, place)), Some((second, other))] = at else {
        return Fault::error(Code::Contradiction, "two lists of prices");
    };
    Fault::error(Code::Contradiction, format!("prices stand twice: at {first} and at {second}"))
        .at(&place, "one list of prices")
        .also(&other, "the other")
        .help("save the one that counts as a file of its own")
}
