//! A typed walk over TOML that keeps every value's place and reports every fault at once.

use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::rc::Rc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::{slips, syntax};
use crate::fault::{At, Code, Fault, Place, Report, Reported, Source, gathered};
use crate::quantity::{Decimal, MOST_COUNT, Units, Written, parse_decimal};
use crate::trade::Date;

/// Parses a file's text and hands its top table to `walk`; syntax errors go to the report, and
/// the walk is not tried on a text that has any.
pub(super) fn parse<T>(
    source: &Source,
    report: &mut Report,
    walk: impl FnOnce(&Table<'_>, &mut Report) -> Result<T, Reported>,
) -> Result<T, Reported> {
    parse_asking(source, None, report, walk)
}

/// The same, and notes what `walk` asks of the file.
pub(super) fn parse_asking<T>(
    source: &Source,
    asks: Option<Rc<RefCell<Asks>>>,
    report: &mut Report,
    walk: impl FnOnce(&Table<'_>, &mut Report) -> Result<T, Reported>,
) -> Result<T, Reported> {
    let (table, errors) = DeTable::parse_recoverable(&source.text);
    let spans: Vec<(Range<usize>, &str)> =
        errors.iter().map(|one| (one.span().unwrap_or(0..0), one.message().trim())).collect();
    syntax::tell(source, &spans, report);
    if !errors.is_empty() {
        report.sound()?;
    }
    let span = table.span();
    let noted = Noted::new((&*source.name).into());
    let top = Table {
        source,
        table: table.get_ref(),
        marks: marks(table.get_ref()),
        over: None,
        pinned: None,
        span,
        what: Rc::clone(&noted.what),
        path: "".into(),
        tables: Rc::new(RefCell::new(vec![Rc::clone(&noted)])),
        asks,
        noted,
    };
    let read = walk(&top, report);
    top.finish(report);
    read
}

/// Where the keys of every table are listed.
const FORMATS: &str = "rates/README.md or shipments/README.md";

/// Keys of amounts that may be taken off: a credit, a rebate, a line that rounds an invoice.
const MAY_BE_NEGATIVE: [&str; 4] = ["amount", "book", "rate", "rounding"];

/// What a key is asked to hold.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Holds {
    /// A quantity in text: its form in words, and a pattern of it.
    Written(&'static str, Option<String>),
    /// A small table of such quantities, by keys of the user's.
    Each(&'static str, Option<String>),
    Text,
    /// One of these words.
    Word(Vec<&'static str>),
    /// Some of these words.
    Words(Vec<&'static str>),
    Texts,
    Flag,
    Count,
    Date,
    Dates,
    Table,
    Rows,
}

/// What is asked of the tables of a file: of a key of a table, by its dotted path, what it may hold.
pub(super) type Asks = BTreeMap<(String, &'static str), Ask>;

/// What one key may hold, and whether it must be there.
#[derive(Debug, Clone, Default)]
pub(super) struct Ask {
    pub(super) holds: Vec<Holds>,
    pub(super) is_needed: bool,
}

/// What has been asked of one table. A file has thousands of them: a key is noted without a look at the others.
struct Noted {
    /// What the table is to the user.
    what: Rc<str>,
    /// The keys that have been asked for, some more than once.
    asked: RefCell<Vec<&'static str>>,
    /// The keys that are asked for lists of tables.
    lists: RefCell<BTreeSet<&'static str>>,
    /// The needed keys that are not there, each with its fault.
    lacking: RefCell<Vec<(&'static str, Fault)>>,
}

impl Noted {
    fn new(what: Rc<str>) -> Rc<Self> {
        // A row of a list is asked for a dozen keys and more.
        let asked = RefCell::new(Vec::with_capacity(24));
        let (lists, lacking) = Default::default();
        Rc::new(Self { what, asked, lists, lacking })
    }
}

/// A bit of 64 for a key. A table has few of the keys it is asked for: most of them need no look at it.
fn mark(key: &str) -> u64 {
    let first = key.as_bytes().first().copied().unwrap_or(0);
    1 << ((usize::from(first) + 5 * key.len()) % 64)
}

/// The bits of a table's keys.
fn marks(table: &DeTable<'_>) -> u64 {
    table.keys().fold(0, |all, key| all | mark(key.get_ref()))
}

/// One table of a TOML file, and which of its keys have been asked for. A clone shares what was asked.
#[derive(Clone)]
pub(super) struct Table<'a> {
    source: &'a Source,
    table: &'a DeTable<'a>,
    marks: u64,
    over: Option<Over<'a>>,
    /// One key, with the value that stands in place of its own.
    pinned: Option<(&'static str, &'a Spanned<DeValue<'a>>)>,
    span: Range<usize>,
    /// What it is to the user, such as "this [[invoice.line]]".
    what: Rc<str>,
    /// Its dotted path, empty for the file's own table.
    path: Rc<str>,
    /// All tables of the file: a key that stands in the wrong one is sent home.
    tables: Rc<RefCell<Vec<Rc<Noted>>>>,
    /// What is asked of the file, where somebody wants to know.
    asks: Option<Rc<RefCell<Asks>>>,
    noted: Rc<Noted>,
}

/// A table that is laid over another: its keys stand in the place of the other's.
#[derive(Clone)]
struct Over<'a> {
    table: &'a DeTable<'a>,
    what: Rc<str>,
    path: Rc<str>,
    laid: &'static Laid,
}

/// How one table is laid over another.
pub(super) struct Laid {
    /// The keys that say what it is laid over: they stand for themselves.
    pub(super) own: &'static [&'static str],
    /// The keys of the other that do not show through.
    pub(super) hides: &'static [&'static str],
    /// What the other is, such as "[[invoice]]".
    pub(super) over: &'static str,
}

impl Laid {
    /// How rows of these kinds are laid over the head of a quote that they stand under.
    pub(super) const fn under_quote(kinds: &'static [&'static str]) -> Self {
        Self { own: &[], hides: kinds, over: "[[quote]]" }
    }
}

impl<'a> Over<'a> {
    /// Its value of a key, unless the key stands for itself.
    fn get(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.table.get(key).filter(|_| !self.laid.own.contains(&key))
    }
}

impl<'a> Table<'a> {
    /// This table with another of the same file laid over it: each key is read from the one above where it
    /// is there, and else from this one. So whatever is asked of a table holds of the two together.
    pub(super) fn under(&self, over: &Self, laid: &'static Laid) -> Self {
        let over =
            Over { table: over.table, what: over.what.clone(), path: over.path.clone(), laid };
        let (span, what, path) = (self.span.clone(), self.what.clone(), self.path.clone());
        Self { over: Some(over), ..self.within(self.table, span, what, path) }
    }

    /// A row that stands under this head: each key that the row lacks is read from the head. What is said of
    /// the two is said of the row.
    pub(super) fn heads(&self, row: &Self, laid: &'static Laid) -> Self {
        Self { span: row.span.clone(), what: row.what.clone(), ..self.under(row, laid) }
    }

    /// Reports the unknown keys of a row under this head. What the row was asked for are the head's keys, too.
    pub(super) fn finish_row(&self, row: &Self, report: &mut Report) {
        let known = row.asked();
        if let Some(over) = &row.over {
            row.find_unknown((over.table, &over.what), (&known, &[]), "", report);
        }
        self.noted.asked.borrow_mut().extend(known);
    }

    /// Reports the keys of a head that are neither its own nor those of the rows under it. `hint` says which
    /// those are.
    pub(super) fn finish_head(&self, own: &[&'static str], hint: &str, report: &mut Report) {
        let mut under = self.asked();
        under.retain(|key| !own.contains(key));
        self.find_unknown((self.table, &self.what), (own, &under), hint, report);
    }

    /// The row once for each value of a key that holds a small table, such as
    /// `amount = { 20gp = "1850 USD", 40gp = "2650 USD" }`, with that table's key. Empty where the key holds
    /// no table.
    pub(super) fn split<T: Written>(&self, key: &'static str) -> Vec<(At<String>, Self)> {
        self.note(key, || Holds::Each(T::FORM, T::pattern()));
        let table = self.get(key).and_then(|value| value.get_ref().as_table());
        let part = |(by, value): (&Spanned<Cow<'_, str>>, &'a Spanned<DeValue<'a>>)| {
            let by = At { value: by.get_ref().to_string(), place: self.source.place(by.span()) };
            (by, Self { pinned: Some((key, value)), ..self.clone() })
        };
        table.into_iter().flat_map(|table| table.iter()).map(part).collect()
    }

    /// Another table of the same file.
    fn within(
        &self,
        table: &'a DeTable<'a>,
        span: Range<usize>,
        what: Rc<str>,
        path: Rc<str>,
    ) -> Self {
        let noted = Noted::new(Rc::clone(&what));
        self.tables.borrow_mut().push(Rc::clone(&noted));
        Self {
            source: self.source,
            table,
            marks: marks(table),
            over: None,
            pinned: None,
            span,
            what,
            path,
            tables: Rc::clone(&self.tables),
            asks: self.asks.clone(),
            noted,
        }
    }

    /// The keys that have been asked for, in the order of the alphabet.
    fn asked(&self) -> Vec<&'static str> {
        let mut asked = self.noted.asked.borrow().clone();
        asked.sort_unstable();
        asked.dedup();
        asked
    }

    /// The value of a key.
    fn get(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        if let Some((_, value)) = self.pinned.filter(|(pinned, _)| *pinned == key) {
            return Some(value);
        }
        let Some(over) = &self.over else {
            let may_be_there = self.marks & mark(key) != 0;
            return may_be_there.then(|| self.table.get(key)).flatten();
        };
        let shows = || self.table.get(key).filter(|_| !over.laid.hides.contains(&key));
        over.get(key).or_else(shows)
    }

    /// The dotted path of a key.
    fn path_to(&self, key: &str) -> String {
        let over = self.over.as_ref().filter(|over| over.get(key).is_some());
        let path = over.map_or(&self.path, |over| &over.path);
        if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
    }

    /// How far into its file the table opens, in bytes.
    pub(super) fn start(&self) -> usize {
        self.span.start
    }

    /// Where the table opens.
    pub(super) fn place(&self) -> Place {
        self.source.place(self.span.clone())
    }

    /// The text of a key's value, without its quotes.
    pub(super) fn text_of(&self, key: &str) -> &'a str {
        self.get(key).and_then(|value| value.get_ref().as_str()).unwrap_or("")
    }

    /// Where the value of a key stands; where the table opens if it has none.
    pub(super) fn place_of(&self, key: &str) -> Place {
        self.get(key).map_or_else(|| self.place(), |value| self.at(value))
    }

    /// Whether a key is there. Does not count as asking for it.
    pub(super) fn has(&self, key: &str) -> bool {
        self.get(key).is_some()
    }

    /// Whether the value of a key is a table. Does not count as asking for it.
    pub(super) fn holds_table(&self, key: &'static str) -> bool {
        self.note(key, || Holds::Table);
        self.get(key).is_some_and(|value| value.get_ref().as_table().is_some())
    }

    /// Whether the value of a key is a list of tables. Does not count as asking for it.
    pub(super) fn holds_list(&self, key: &'static str) -> bool {
        self.note(key, || Holds::Rows);
        self.get(key).is_some_and(|value| value.get_ref().as_array().is_some())
    }

    /// Notes what a key may hold: of a row under a head, of the head as well.
    fn note(&self, key: &'static str, holds: impl FnOnce() -> Holds) {
        let Some(asks) = &self.asks else { return };
        let holds = holds();
        let over = self.over.as_ref().map(|over| &over.path);
        for path in over.into_iter().chain([&self.path]) {
            let mut asks = asks.borrow_mut();
            let ask = asks.entry((path.to_string(), key)).or_default();
            if !ask.holds.contains(&holds) {
                ask.holds.push(holds.clone());
            }
        }
    }

    /// The value of a key that is asked to hold something.
    fn value_of(
        &self,
        key: &'static str,
        holds: impl FnOnce() -> Holds,
    ) -> Option<&'a Spanned<DeValue<'a>>> {
        self.note(key, holds);
        self.value(key)
    }

    fn value(&self, key: &'static str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.noted.asked.borrow_mut().push(key);
        self.get(key)
    }

    /// The other tables of the file that have a key, as they open.
    fn homes(&self, key: &str) -> Vec<String> {
        let tables = self.tables.borrow();
        let others = tables.iter().filter(|one| one.what != self.what);
        let others = others.filter(|one| one.asked.borrow().contains(&key));
        let homes: BTreeSet<&str> =
            others.map(|one| one.what.trim_start_matches("this ")).collect();
        homes.into_iter().map(str::to_owned).collect()
    }

    fn at(&self, value: &Spanned<DeValue<'_>>) -> Place {
        self.source.place(value.span())
    }

    pub(super) fn missing(&self, key: &'static str, form: &str, report: &mut Report) -> Reported {
        let fault = Fault::error(Code::MissingKey, format!("{} lacks `{key}`", self.what))
            .at(&self.place(), format!("`{key}` is needed here"))
            .help(format!("add `{key}`: {form}"));
        self.lacks(&[key], fault, report)
    }

    /// Reports that none of these keys is there, one of which is needed. Where one is there misspelt, that is
    /// told instead.
    pub(super) fn lacks(
        &self,
        keys: &[&'static str],
        fault: Fault,
        report: &mut Report,
    ) -> Reported {
        self.noted.lacking.borrow_mut().extend(keys.iter().map(|key| (*key, fault.clone())));
        report.error(fault)
    }

    /// What must be there, from what was read of a key.
    ///
    /// # Errors
    /// Where it is not there, or is at fault.
    pub(super) fn needed<T>(
        &self,
        key: &'static str,
        read: Result<Option<T>, Reported>,
        form: impl FnOnce() -> String,
        report: &mut Report,
    ) -> Result<T, Reported> {
        if let Some(asks) = self.asks.as_ref().filter(|_| self.over.is_none())
            && let Some(ask) = asks.borrow_mut().get_mut(&(self.path.to_string(), key))
        {
            ask.is_needed = true;
        }
        read?.ok_or_else(|| self.missing(key, &form(), report))
    }

    fn wrong<T: Written>(&self, key: &str, value: &Spanned<DeValue<'_>>) -> Fault {
        let found = value.get_ref();
        if !matches!(found, DeValue::Integer(_) | DeValue::Float(_)) {
            return self.wrong_kind(key, value, T::FORM);
        }
        let figure = self.source.text.get(value.span()).unwrap_or("");
        let unit = "its quotes and its unit";
        let (lacks, help) = match slips::in_quantity::<T>(figure, None) {
            Some(slip) if slip.is_whole => ("its quotes", slip.help),
            _ => (unit, format!("write it in quotes with its unit: {key} = \"{figure} ...\"")),
        };
        Fault::error(Code::WrongType, format!("`{key}` is a bare number: it lacks {lacks}"))
            .at(&self.at(value), format!("expected {}", T::FORM))
            .help(help)
    }

    /// Reads a quantity: text with its unit.
    pub(super) fn optional<T: Written>(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Option<At<T>>, Reported> {
        let holds = || Holds::Written(T::FORM, T::pattern());
        let Some(value) = self.value_of(key, holds) else { return Ok(None) };
        match value.get_ref().as_str() {
            Some(text) => self.read(key, text, value.span(), report).map(Some),
            None => Err(report.error(self.wrong::<T>(key, value))),
        }
    }

    /// Reads a quantity that must be there.
    pub(super) fn required<T: Written>(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<At<T>, Reported> {
        self.needed(key, self.optional(key, report), || T::FORM.to_owned(), report)
    }

    fn read<T: Written>(
        &self,
        key: &str,
        text: &str,
        span: Range<usize>,
        report: &mut Report,
    ) -> Result<At<T>, Reported> {
        match T::read(text) {
            Ok(_) if text.trim_start().starts_with('-') && !MAY_BE_NEGATIVE.contains(&key) => {
                let meant = text.trim_start().trim_start_matches(['-', ' ']);
                let help = format!("write {key} = \"{meant}\"");
                Err(report.error(
                    Fault::error(Code::OutOfRange, format!("`{key}` is negative: \"{text}\""))
                        .at(&self.source.place(span), "expected 0 or more")
                        .help(help),
                ))
            }
            Ok(value) => {
                let place = self.source.place(span);
                if T::is_rounded(text) {
                    report.add(rounded(&format!("`{key}` is"), &place, report.units()));
                }
                Ok(At { value, place })
            }
            Err(fault) if fault.is_range => {
                let message = format!("`{key}` is out of range: \"{text}\"");
                let most = T::most(report.units()).map(|most| format!("at most {most}"));
                let expected = most.unwrap_or(fault.expected);
                Err(report.error(
                    Fault::error(Code::OutOfRange, message)
                        .at(&self.source.place(span), format!("expected {expected}"))
                        .help("is the point or the unit right?"),
                ))
            }
            Err(fault) => {
                // Offsets into the text are offsets into the file only where nothing is escaped.
                let plain = span.len() == text.len() + 2;
                let from = span.start + 1 + fault.offset.min(text.len());
                let marked =
                    if plain && fault.offset < text.len() { from..span.end - 1 } else { span };
                let place = self.source.place(marked);
                let message = format!("`{key}` cannot be read: \"{text}\"");
                let mut cannot = Fault::error(Code::BadQuantity, message);
                let slip = slips::in_quantity::<T>(text, self.quoted());
                let is_whole = slip.as_ref().is_some_and(|slip| slip.is_whole);
                cannot = match slip {
                    Some(slip) if !slip.label.is_empty() => {
                        cannot.at(&place, slip.label).help(slip.help)
                    }
                    Some(slip) => {
                        cannot.at(&place, format!("expected {}", fault.expected)).help(slip.help)
                    }
                    None => cannot.at(&place, format!("expected {}", fault.expected)),
                };
                // The form, unless it has just been said, or the very text to write.
                let said = is_whole
                    || cannot.place.as_ref().is_some_and(|(_, label)| label.contains(T::FORM));
                if !said {
                    cannot = cannot.help(format!("`{key}` is {}", T::FORM));
                }
                Err(report.error(cannot))
            }
        }
    }

    /// The day of the offer, where the file says one: a window that is asked about holds it.
    fn quoted(&self) -> Option<Date> {
        let (_, behind) = self.source.text.split_once("quoted")?;
        let day = behind.trim_start().strip_prefix('=')?.trim_start().get(..10)?;
        day.parse().ok()
    }

    /// Refuses a bare figure, in quotes or without, where a percentage is expected. Up to 1 it is a fraction, as
    /// spreadsheets have it: 0.3 is 30 %. `or` says what else the key may hold.
    pub(super) fn no_bare_percentage(
        &self,
        key: &'static str,
        or: &str,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let bare = || {
            let text = self.source.text.get(self.value(key)?.span())?;
            let figure = text.trim_matches(['"', '\'']);
            Some((figure, parse_decimal(figure)?))
        };
        let Some((figure, value)) = bare() else { return Ok(()) };
        let is_fraction = value > Decimal::ZERO && value <= Decimal::ONE;
        let percent = value.checked_mul(Decimal::ONE_HUNDRED).filter(|_| is_fraction);
        let percent = percent.map_or(figure.to_owned(), |percent| percent.normalize().to_string());
        Err(report.error(
            Fault::error(Code::BadQuantity, format!("`{key}` cannot be read: {figure}"))
                .at(&self.place_of(key), format!("expected a percentage{or}"))
                .help(format!("write \"{percent} %\"")),
        ))
    }

    /// Reads free text.
    pub(super) fn text(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Option<At<String>>, Reported> {
        self.text_that(key, || Holds::Text, report)
    }

    fn text_that(
        &self,
        key: &'static str,
        holds: impl FnOnce() -> Holds,
        report: &mut Report,
    ) -> Result<Option<At<String>>, Reported> {
        let Some(value) = self.value_of(key, holds) else { return Ok(None) };
        match value.get_ref().as_str() {
            Some(text) => Ok(Some(At { value: text.to_owned(), place: self.at(value) })),
            None => Err(report.error(self.wrong_text(key, value))),
        }
    }

    fn wrong_text(&self, key: &str, value: &Spanned<DeValue<'_>>) -> Fault {
        let fault = self.wrong_kind(key, value, "text in quotes");
        let plain = |value: &&DeValue<'_>| {
            !matches!(value, DeValue::Array(_) | DeValue::Table(_) | DeValue::String(_))
        };
        match Some(value.get_ref()).filter(plain).and(self.source.text.get(value.span())) {
            Some(own) => fault.help(format!("write {key} = \"{own}\"")),
            None => fault,
        }
    }

    /// A value of another kind than the form that is expected.
    fn wrong_kind(&self, key: &str, value: &Spanned<DeValue<'_>>, form: &str) -> Fault {
        let found = value.get_ref().type_str();
        Fault::error(Code::WrongType, format!("`{key}` is of the wrong kind ({found})"))
            .at(&self.at(value), format!("expected {form}"))
    }

    /// The same, with the user's own value in the form that is expected, where it is known.
    fn wrong_form(
        &self,
        (key, form): (&str, &str),
        value: &Spanned<DeValue<'_>>,
        own: impl FnOnce(&str) -> Option<String>,
    ) -> Fault {
        let fault = self.wrong_kind(key, value, form);
        match value.get_ref().as_str().and_then(own) {
            Some(own) => fault.help(format!("write {key} = {own}")),
            None => fault,
        }
    }

    /// Reads free text that must be there and say something.
    pub(super) fn required_text(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<At<String>, Reported> {
        let form = || format!("{key} = \"...\"");
        let text = self.needed(key, self.text(key, report), form, report)?;
        if text.trim().is_empty() {
            return Err(report.error(
                Fault::error(Code::MissingKey, format!("`{key}` is empty"))
                    .at(&text.place, "expected some text"),
            ));
        }
        Ok(text)
    }

    /// Reads one of a list of words.
    pub(super) fn word<T: Clone>(
        &self,
        key: &'static str,
        words: &[(T, &'static str)],
        report: &mut Report,
    ) -> Result<Option<At<T>>, Reported> {
        let holds = || Holds::Word(words.iter().map(|(_, word)| *word).collect());
        let Some(text) = self.text_that(key, holds, report)? else { return Ok(None) };
        match words.iter().find(|(_, word)| *word == text.value) {
            Some((value, _)) => Ok(Some(At { value: value.clone(), place: text.place })),
            None => {
                let names: Vec<&str> = words.iter().map(|(_, word)| *word).collect();
                Err(report.error(unknown_word(key, &text, &names)))
            }
        }
    }

    /// Reads one of a list of words that must be there.
    pub(super) fn required_word<T: Clone>(
        &self,
        key: &'static str,
        words: &[(T, &'static str)],
        report: &mut Report,
    ) -> Result<At<T>, Reported> {
        let form = || {
            let names: Vec<&str> = words.iter().map(|(_, word)| *word).collect();
            format!("one of {}", names.join(", "))
        };
        self.needed(key, self.word(key, words, report), form, report)
    }

    /// Reads a list of some of a list of words; absent is empty.
    pub(super) fn words<T: Clone>(
        &self,
        key: &'static str,
        words: &[(T, &'static str)],
        report: &mut Report,
    ) -> Result<Vec<T>, Reported> {
        let holds = || Holds::Words(words.iter().map(|(_, word)| *word).collect());
        let texts = self.texts_that(key, holds, report)?;
        gathered(texts.iter().map(|text| {
            let found = words.iter().find(|(_, word)| *word == text.value);
            found.map(|(value, _)| value.clone()).ok_or_else(|| {
                let names: Vec<&str> = words.iter().map(|(_, word)| *word).collect();
                report.error(unknown_word(key, text, &names))
            })
        }))
    }

    /// Reads yes or no, written bare as `true` or `false`.
    pub(super) fn flag(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Option<At<bool>>, Reported> {
        let Some(value) = self.value_of(key, || Holds::Flag) else { return Ok(None) };
        let place = self.at(value);
        match value.get_ref().as_bool() {
            Some(value) => Ok(Some(At { value, place })),
            None => Err(report.error(self.wrong_form(
                (key, "true or false, without quotes"),
                value,
                |text| match text.to_lowercase().as_str() {
                    "true" | "yes" => Some("true".to_owned()),
                    "false" | "no" => Some("false".to_owned()),
                    _ => None,
                },
            ))),
        }
    }

    /// Reads a count: a bare whole number, which carries no unit.
    pub(super) fn count(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Option<At<u32>>, Reported> {
        let Some(value) = self.value_of(key, || Holds::Count) else { return Ok(None) };
        let place = self.at(value);
        let number = value.get_ref().as_integer().map(|integer| integer.as_str().parse::<u32>());
        match number {
            Some(Ok(count)) if count <= MOST_COUNT => Ok(Some(At { value: count, place })),
            Some(count) => {
                let what = if count.is_ok() { "out of range" } else { "not a count" };
                Err(report.error(
                    Fault::error(Code::OutOfRange, format!("`{key}` is {what}"))
                        .at(&place, format!("expected a whole number from 0 to {MOST_COUNT}")),
                ))
            }
            None => Err(report.error(self.wrong_form(
                (key, "a whole number, without quotes"),
                value,
                |text| {
                    let figure = text.split(' ').next()?;
                    figure.parse::<u32>().ok().map(|count| count.to_string())
                },
            ))),
        }
    }

    /// Reads a count that must be there.
    pub(super) fn required_count(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<At<u32>, Reported> {
        let form = || "a whole number, without quotes".to_owned();
        self.needed(key, self.count(key, report), form, report)
    }

    /// Reads a date, written bare as `2026-03-04`.
    pub(super) fn date(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Option<At<Date>>, Reported> {
        let Some(value) = self.value_of(key, || Holds::Date) else { return Ok(None) };
        let place = self.at(value);
        if let Some(value) = bare_date(value) {
            return Ok(Some(At { value, place }));
        }
        let fault = Fault::error(Code::WrongType, format!("`{key}` is not a date"))
            .at(&place, "expected a date without quotes, such as 2026-03-04");
        let text = self.source.text.get(value.span()).unwrap_or("");
        Err(report.error(match slips::in_date(text.trim_matches(['"', '\''])) {
            Some(help) => fault.help(help),
            None => fault,
        }))
    }

    /// Reads a list of dates, written bare; absent is empty.
    pub(super) fn dates(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Vec<At<Date>>, Reported> {
        let Some(value) = self.value_of(key, || Holds::Dates) else { return Ok(Vec::new()) };
        let dates = value.get_ref().as_array().and_then(|list| {
            let read = |item: &Spanned<DeValue<'_>>| {
                Some(At { value: bare_date(item)?, place: self.at(item) })
            };
            list.iter().map(read).collect::<Option<Vec<_>>>()
        });
        dates.ok_or_else(|| {
            report.error(
                Fault::error(Code::WrongType, format!("`{key}` is not a list of dates"))
                    .at(&self.at(value), "expected dates without quotes, such as [2026-05-25]"),
            )
        })
    }

    /// Reads a date that must be there.
    pub(super) fn required_date(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<At<Date>, Reported> {
        let form = || "a date without quotes, such as 2026-03-04".to_owned();
        self.needed(key, self.date(key, report), form, report)
    }

    /// Reads a list of texts; absent is empty.
    pub(super) fn texts(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Vec<At<String>>, Reported> {
        self.texts_that(key, || Holds::Texts, report)
    }

    fn texts_that(
        &self,
        key: &'static str,
        holds: impl FnOnce() -> Holds,
        report: &mut Report,
    ) -> Result<Vec<At<String>>, Reported> {
        let Some(value) = self.value_of(key, holds) else { return Ok(Vec::new()) };
        let Some(list) = value.get_ref().as_array() else {
            let help = match value.get_ref().as_str() {
                Some(one) => format!("write {key} = [\"{one}\"]"),
                None => format!("write it so: {key} = [\"one\", \"two\"]"),
            };
            return Err(report.error(
                Fault::error(Code::WrongType, format!("`{key}` is not a list"))
                    .at(&self.at(value), "expected a list of texts")
                    .help(help),
            ));
        };
        gathered(list.iter().map(|item| match item.get_ref().as_str() {
            Some(text) => Ok(At { value: text.to_owned(), place: self.at(item) }),
            None => Err(report.error(self.wrong_text(key, item))),
        }))
    }

    /// Reads one text, or a list of texts.
    pub(super) fn text_or_texts(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Vec<At<String>>, Reported> {
        match self.value_of(key, || Holds::Text) {
            Some(value) if value.get_ref().as_str().is_some() => {
                Ok(self.text(key, report)?.into_iter().collect())
            }
            _ => self.texts(key, report),
        }
    }

    /// A table inside this one.
    pub(super) fn inside(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Option<Table<'a>>, Reported> {
        let Some(value) = self.value_of(key, || Holds::Table) else { return Ok(None) };
        let Some(table) = value.get_ref().as_table() else {
            let form = (key, "a table in braces, such as { name = \"value\" }");
            return Err(report.error(self.wrong_form(form, value, slips::sides)));
        };
        Ok(Some(self.within(
            table,
            value.span(),
            format!("`{key}`").into(),
            self.path_to(key).into(),
        )))
    }

    /// The tables of an array such as `[[charge]]`; absent is empty.
    pub(super) fn rows(
        &self,
        key: &'static str,
        report: &mut Report,
    ) -> Result<Vec<Table<'a>>, Reported> {
        self.noted.lists.borrow_mut().insert(key);
        let Some(value) = self.value_of(key, || Holds::Rows) else { return Ok(Vec::new()) };
        let tables = value.get_ref().as_array().map(|array| {
            array.iter().map(|item| (item, item.get_ref().as_table())).collect::<Vec<_>>()
        });
        match tables {
            Some(tables) if tables.iter().all(|(_, table)| table.is_some()) => {
                let path: Rc<str> = self.path_to(key).into();
                let what: Rc<str> = format!("this [[{path}]]").into();
                let tables = tables.into_iter().filter_map(|(item, table)| Some((item, table?)));
                let row = |(item, table): (&Spanned<DeValue<'a>>, &'a DeTable<'a>)| {
                    self.within(table, item.span(), Rc::clone(&what), Rc::clone(&path))
                };
                Ok(tables.map(row).collect())
            }
            _ => {
                let opens = format!("[[{}]]", self.path_to(key));
                let fault =
                    Fault::error(Code::WrongType, format!("`{key}` is not a list of tables"))
                        .at(&self.at(value), format!("expected tables that open with {opens}"));
                let help = match value.get_ref() {
                    DeValue::Table(_) => format!("write {opens}"),
                    _ => {
                        format!(
                            "each is a table of its own: write its keys in lines under {opens}; {FORMATS} lists them"
                        )
                    }
                };
                Err(report.error(fault.help(help)))
            }
        }
    }

    /// Reports the keys nobody asked for. A key that is like a missing one is that key misspelt: the two are
    /// one fault.
    pub(super) fn finish(&self, report: &mut Report) {
        let is_known = {
            let asked = self.noted.asked.borrow();
            self.table.keys().all(|key| asked.contains(&key.get_ref().as_ref()))
        };
        if self.over.is_none() && is_known {
            return;
        }
        let known = self.asked();
        self.find_unknown((self.table, &self.what), (&known, &[]), "", report);
        if let Some(over) = &self.over {
            let laid = over.laid;
            let hint = format!("a way has every key of {} as well", laid.over);
            self.find_unknown((over.table, &over.what), (laid.own, &known), &hint, report);
        }
    }

    /// Whether a value that is no list stands where a list of tables is asked for.
    fn is_for_list(&self, key: &str, value: &Spanned<DeValue<'_>>) -> bool {
        value.get_ref().as_array().is_none() && self.noted.lists.borrow().contains(key)
    }

    /// Reports the keys of a table that are neither its own nor those of the table it is laid over, or of the
    /// rows that stand under it: `hint` says which.
    fn find_unknown(
        &self,
        (table, what): (&DeTable<'_>, &str),
        (own, under): (&[&str], &[&str]),
        hint: &str,
        report: &mut Report,
    ) {
        let known: Vec<&str> = own.iter().chain(under).copied().collect();
        let mut lacking = self.noted.lacking.borrow_mut();
        for (key, value) in table {
            let name = key.get_ref().as_ref();
            if known.contains(&name) {
                continue;
            }
            let mut fault = Fault::error(Code::UnknownKey, format!("{what} has no key `{name}`"))
                .at(&self.source.place(key.span()), "unknown key");
            let needed: Vec<&str> = lacking.iter().map(|(key, _)| *key).collect();
            let needed = nearest(name, &needed);
            let homes = if needed.is_some() { Vec::new() } else { self.homes(name) };
            fault = match (needed.or_else(|| nearest(name, &known)), &homes[..]) {
                (None, [home]) => fault.help(format!("`{name}` is a key of {home}: move it there")),
                (Some(near), _) if self.is_for_list(near, value) => fault.help(format!(
                    "did you mean `{near}`? each is a table: write its keys in lines under [[{}]]; {FORMATS} lists them",
                    self.path_to(near)
                )),
                (Some(near), _) => fault.help(format!("did you mean `{near}`?")),
                (None, _) => fault.help(format!("known here: {}", own.join(", "))),
            };
            if !hint.is_empty() {
                fault = fault.help(hint);
            }
            match lacking.iter().position(|(key, _)| Some(*key) == needed) {
                Some(at) => report.add_instead(fault, &lacking.remove(at).1),
                None => report.add(fault),
            }
        }
    }
}

/// The notice of a figure of which something is lost, as it is finer than can be measured.
pub(super) fn rounded(what: &str, place: &Place, units: Units) -> Fault {
    let finest = match units {
        Units::Metric => "0.01 mm",
        Units::Us => "0.0004 in",
    };
    Fault::warning(Code::Notice, format!("{what} finer than can be measured, and rounded"))
        .at(place, "rounded here")
        .help(format!("a length is kept to {finest}, areas and masses as finely as that needs"))
}

/// A value that is a date without a time.
fn bare_date(value: &Spanned<DeValue<'_>>) -> Option<Date> {
    let bare = value.get_ref().as_datetime().filter(|d| d.time.is_none())?.date?;
    Date::from_ymd_opt(i32::from(bare.year), u32::from(bare.month), u32::from(bare.day))
}

/// The fault for a word that is none of those allowed.
pub(super) fn unknown_word(key: &str, text: &At<String>, names: &[&str]) -> Fault {
    let fault = Fault::error(Code::UnknownWord, format!("`{key}` cannot be \"{}\"", text.value))
        .at(&text.place, "expected one of the words below");
    let fault = match (slips::no_one_word(&text.value), nearest(&text.value, names)) {
        (Some(help), _) => fault.help(help),
        (None, Some(near)) => fault.help(format!("did you mean \"{near}\"?")),
        (None, None) => fault,
    };
    fault.help(format!("one of: {}", names.join(", ")))
}

/// Adds the fault for a name that refers to nothing, unless its home could not be read whole. All places that
/// use the name make one fault.
pub(super) fn add_unknown(
    what: &str,
    name: &At<String>,
    home: &str,
    known: &[&str],
    report: &mut Report,
) -> Reported {
    match report.sound_in(home) {
        Ok(()) => report.add_once(unknown_reference(what, name, home, known)),
        Err(told) => told,
    }
}

/// Adds the fault for a name by which a row is known, and that is not its id: the label says how.
pub(super) fn add_other_name(
    what: &str,
    name: &At<String>,
    (id, label): (&str, &str),
    report: &mut Report,
) -> Reported {
    let message = format!("no {what} is called \"{}\"", name.value);
    report.add_once(
        Fault::error(Code::UnknownReference, message)
            .at(&name.place, format!("{label} of \"{id}\""))
            .help(format!("write \"{id}\"")),
    )
}

/// The fault for a name that refers to nothing.
pub(super) fn unknown_reference(
    what: &str,
    name: &At<String>,
    home: &str,
    known: &[&str],
) -> Fault {
    let fault =
        Fault::error(Code::UnknownReference, format!("no {what} is called \"{}\"", name.value))
            .at(&name.place, format!("not in {home}"));
    match nearest(&name.value, known) {
        // The rows of a yard name it many times, its own table once.
        Some(near) if what == "yard" => fault.help(format!(
            "did you mean \"{near}\"? if \"{}\" is right, the `id` in {home} is what is misspelt",
            name.value
        )),
        Some(near) => fault.help(format!("did you mean \"{near}\"?")),
        None if known.is_empty() => fault.help(format!("add it to {home}")),
        None => {
            let first = known.first().unwrap_or(&"");
            let mut names: Vec<&str> = Vec::new();
            for name in known.iter().copied() {
                if !names.contains(&name) {
                    names.push(name);
                }
            }
            fault.help(format!(
                "write one of: {}; or add \"{}\" to {home}, as a row like that of \"{first}\"",
                names.join(", "),
                name.value
            ))
        }
    }
}

/// The known name that is meant by another word, or is most like a mistyped one, if one is like it at all.
/// Capitals, and blanks for strokes, are no slip of a letter.
pub fn nearest<'a>(name: &str, known: &[&'a str]) -> Option<&'a str> {
    let folded = |text: &str| text.to_lowercase().replace([' ', '_'], "-");
    let own = folded(name);
    let alike = || {
        known
            .iter()
            .map(|one| (strsim::damerau_levenshtein(&own, &folded(one)), *one))
            .filter(|(distance, one)| *distance <= 1 + one.len() / 4)
            .min()
            .map(|(_, one)| one)
    };
    slips::other_word(name, known).or_else(alike)
}
