//! Slips that many make in writing a figure, a date or a measure: each with what was most likely meant.

use chrono::Datelike as _;

use super::payment_words;
use crate::quantity::{Decimal, Length, Written, parse_decimal};
use crate::trade::{ContainerNumber, Country, Date, Incoterm};

/// Quotation marks that word processors set in place of the straight ones.
const SMART_QUOTES: [char; 7] =
    ['\u{201c}', '\u{201d}', '\u{201e}', '\u{201f}', '\u{2018}', '\u{2019}', '\u{ab}'];

/// Signs of currencies and the codes they stand for; where several share a sign, the first is offered.
const SIGNS: [(char, &str); 6] =
    [('€', "EUR"), ('$', "USD"), ('£', "GBP"), ('¥', "JPY"), ('₺', "TRY"), ('₹', "INR")];

/// Currencies that the trade is paid in, for a code that is one letter off, the likeliest first.
const CURRENCIES: [&str; 12] =
    ["EUR", "USD", "GBP", "CAD", "AUD", "TRY", "INR", "BRL", "CNY", "CHF", "EGP", "JPY"];

/// Units as they are written elsewhere, and as they are written here.
const UNITS: [(&str, &str); 27] = [
    ("m²", "m2"),
    ("m^2", "m2"),
    ("sqm", "m2"),
    ("sq m", "m2"),
    ("sq.m", "m2"),
    ("ft²", "ft2"),
    ("ft^2", "ft2"),
    ("sqft", "ft2"),
    ("sq ft", "ft2"),
    ("sq.ft", "ft2"),
    ("sf", "ft2"),
    ("m³", "m3"),
    ("cbm", "m3"),
    ("tonnes", "t"),
    ("tonne", "t"),
    ("tons", "t"),
    ("ton", "t"),
    ("mt", "t"),
    ("lbs", "lb"),
    ("kgs", "kg"),
    ("\"", "in"),
    ("pcs", "slab"),
    ("pc", "slab"),
    ("piece", "slab"),
    ("slabs", "slab"),
    ("bundles", "bundle"),
    ("crate", "bundle"),
];

/// Currencies by other names, and their codes.
const CODES: [(&str, &str); 8] = [
    ("RMB", "CNY"),
    ("YUAN", "CNY"),
    ("EURO", "EUR"),
    ("EUROS", "EUR"),
    ("DOLLARS", "USD"),
    ("STG", "GBP"),
    ("TL", "TRY"),
    ("RS", "INR"),
];

/// Words for what has another word here: where several words are offered, the one that may stand there.
const WORDS: [(&str, &str); 57] = [
    ("terms", "payment"),
    ("payment terms", "payment"),
    ("payments", "payment"),
    ("validity", "price-valid"),
    ("invoice number", "number"),
    ("incoterms", "term"),
    ("hs", "line"),
    ("etd", "sails"),
    ("departure", "sails"),
    ("sailing", "sails"),
    ("eta", "arrives"),
    ("arrival", "arrives"),
    ("quote date", "quoted"),
    ("vat", "import tax"),
    ("weight", "mass"),
    ("gross weight", "gross"),
    ("expense", "period"),
    ("expensed", "period"),
    ("inventory", "stock"),
    ("capitalised", "stock"),
    ("spot", "book"),
    ("bank", "book"),
    ("budget", "plan"),
    ("customs value", "entered value"),
    ("dutiable value", "entered value"),
    ("fob value", "goods"),
    ("invoice value", "goods"),
    ("buyer", "buying"),
    ("seller", "selling"),
    ("gaap", "us-gaap"),
    ("pol", "polished"),
    ("hon", "honed"),
    ("po number", "number"),
    ("vendor", "supplier"),
    ("incoterm", "term"),
    ("box", "container"),
    ("ctr", "container"),
    ("bl", "bill of lading"),
    ("b/l", "bill of lading"),
    ("piece", "slab"),
    ("crate", "bundle"),
    ("pallet", "bundle"),
    ("ocean freight", "main carriage"),
    ("sea freight", "main carriage"),
    ("freight", "main carriage"),
    ("thc", "destination terminal"),
    ("drayage", "on-carriage"),
    ("trucking", "on-carriage"),
    ("customs", "import clearance"),
    ("duty", "duty and tax"),
    ("drayage", "haulage"),
    ("haulage", "drayage"),
    ("trucking", "haulage"),
    ("trucking", "drayage"),
    ("freight", "ocean freight"),
    ("sea freight", "ocean freight"),
    ("thc", "terminal handling"),
];

/// Of the words that may stand in a place, the one for what has another word elsewhere.
pub(super) fn other_word<'a>(word: &str, known: &[&'a str]) -> Option<&'a str> {
    let lower = word.to_lowercase().replace(['-', '_'], " ");
    let mut meant = WORDS.iter().filter(|(other, _)| *other == lower);
    meant.find_map(|(_, word)| known.iter().find(|one| *one == word).copied())
}

/// Two sides in one text, such as "5 x 4 cm", as the table that has them apart.
pub(super) fn sides(text: &str) -> Option<String> {
    let (first, second) = text.split_once(['x', 'X', '\u{d7}'])?;
    let (height, unit) = split_figure(second.trim());
    let (length, own) = split_figure(first.trim());
    let own = if own.trim().is_empty() { unit.trim() } else { own.trim() };
    let both = [format!("{length} {own}"), format!("{height} {}", unit.trim())];
    let [length, height] = both;
    let reads = |side: &String| Length::read(side).is_ok();
    (reads(&length) && reads(&height))
        .then(|| format!("{{ length = \"{length}\", height = \"{height}\" }}"))
}

/// Why a word of the trade has no one word here, and what to write.
pub(super) fn no_one_word(word: &str) -> Option<&'static str> {
    let is_teu = word.eq_ignore_ascii_case("teu");
    is_teu.then_some("a 20-foot box is 1 TEU and a 40-foot box is 2: write a row for each `container`, per = \"container\", with its amount")
}

/// The first three letters of the months in English.
const MONTHS: [&str; 12] =
    ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];

/// A slip and its way out. Its label is empty where the expected form says enough.
pub(super) struct Slip {
    pub(super) label: String,
    pub(super) help: String,
    /// Whether the help is the very text to write.
    pub(super) is_whole: bool,
}

impl Slip {
    fn new(label: &str, help: impl Into<String>) -> Self {
        let help = help.into();
        Self { label: label.to_owned(), is_whole: help.starts_with("write \""), help }
    }
}

/// The slip in a text that should be a quantity and is none.
///
/// `from` is the first day on which a window must hold, where that is known.
pub(super) fn in_quantity<T: Written>(text: &str, from: Option<Date>) -> Option<Slip> {
    let reads = |one: &String| T::read(one).is_ok();
    let write = |one: &str| format!("write \"{one}\"");
    if let Some((sign, code)) = SIGNS.iter().find(|(sign, _)| text.contains(*sign)) {
        let bare = text.replace(*sign, " ");
        let bare = without_thousands(bare.trim());
        let (figure, rest) = split_figure(&bare);
        let meant = format!("{figure} {code}{}", rest.trim());
        let help = match (reads(&meant), sign) {
            (true, '$' | '¥') => format!("{}, or the code of the currency meant", write(&meant)),
            (true, _) => write(&meant),
            (false, _) => {
                format!("write the code of the currency, such as {code}, behind the figure")
            }
        };
        return Some(Slip::new(&format!("the sign {sign} in place of a code"), help));
    }
    if has_comma(text) {
        let (plain, pointed) = (without_thousands(text), text.replace(',', "."));
        let mut meant = [plain, pointed]
            .into_iter()
            .flat_map(|text| std::iter::once(text.clone()).chain(respelt(&text)));
        let help = match meant.find(reads) {
            Some(meant) => write(&meant),
            None => "write a decimal point, and no thousands marks: 1234.50".to_owned(),
        };
        return Some(Slip::new("a figure with a comma", help));
    }
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    let (figure, _) = split_figure(text);
    if digits > 28 && figure.len() > 28 {
        return Some(Slip::new("a figure of more than 28 digits", "write fewer digits"));
    }
    if let Some(help) = text.split("..").find_map(no_such_day) {
        return Some(Slip::new("no such day", help));
    }
    if let Some(positive) = text.trim().strip_prefix('-').map(|text| text.trim().to_owned())
        && reads(&positive)
    {
        return Some(Slip::new("", write(&positive)));
    }
    if let Some(meant) = respelt(text).into_iter().find(reads) {
        return Some(Slip::new("", write(&meant)));
    }
    if let Some(last) = last_day(text) {
        let first = from.map(|day| day.to_string());
        let first = first.or_else(|| Some(format!("{}-01", last.get(..7)?)))?;
        let window = format!("{first}..{last}");
        if reads(&window) {
            let help = format!("write its first day in front, such as \"{window}\"");
            return Some(Slip::new("a last day alone", help));
        }
    }
    if let Some(meant) = in_currency(text).find(reads) {
        return Some(Slip::new("", format!("is \"{meant}\" meant?")));
    }
    if let Some(meant) = with_check_digit(text).filter(reads) {
        return Some(Slip::new("", format!("compare it with the door: is \"{meant}\" meant?")));
    }
    // Nothing but a due date is written so.
    if reads(&"sails + 1 day".to_owned()) {
        let help = match &dates(text)[..] {
            [day] => format!("write on = {day}, in place of `due`"),
            _ => payment_words::no_event(text),
        };
        return Some(Slip::new("", help));
    }
    let (figure, unit) = split_figure(text);
    BARE.iter().find_map(|(units, what)| {
        let all = units.iter().map(|own| format!("{figure} {own}{}", unit.trim()));
        let all: Vec<String> = all.filter(reads).collect();
        let last = all.last().filter(|_| all.len() == units.len())?;
        let before: Vec<String> =
            all.iter().take(all.len() - 1).map(|one| format!("\"{one}\"")).collect();
        Some(Slip::new("", format!("write {} or \"{last}\", {what}", before.join(", "))))
    })
}

/// What a bare figure may be of.
const BARE: [(&[&str], &str); 5] = [
    (&["EUR", "USD"], "in the currency that is meant"),
    (&["EUR/m2", "USD/m2", "USD/ft2"], "in the currency and by the unit that are meant"),
    (&["mm", "cm", "in"], "in the unit that is meant"),
    (&["kg", "lb"], "in the unit that is meant"),
    (&["m2", "ft2"], "in the unit that is meant"),
];

/// The text to write in place of one that is no quantity, where it is known.
pub fn meant<T: Written>(text: &str) -> Option<String> {
    in_quantity::<T>(text, None).map(|slip| slip.help)
}

/// Other spellings of a quantity, the likeliest first.
fn respelt(text: &str) -> Vec<String> {
    let mut all = Vec::new();
    let lower = text.to_lowercase();
    for (other, unit) in UNITS {
        if let Some(head) = lower.strip_suffix(other) {
            all.extend(text.get(..head.len()).map(|head| {
                let gap = if head.ends_with([' ', '/']) { "" } else { " " };
                format!("{head}{gap}{unit}")
            }));
        }
    }
    all.push(lower);
    // "40.00 EUR per m2", and "EUR 40.00/m2".
    all.push(text.replace(" per ", "/"));
    let (code, rest) = text.split_at(text.find(|c: char| !c.is_ascii_alphabetic()).unwrap_or(0));
    let (figure, unit) = split_figure(rest.trim_start());
    all.push(format!("{figure} {}{unit}", code.to_uppercase()));
    let bare = text.strip_suffix("inches").or_else(|| text.strip_suffix("in")).unwrap_or(text);
    all.extend(inches(bare).map(|inches| format!("{inches} in")));
    let (figure, unit) = split_figure(text);
    let (code, per) = unit.trim().split_at(unit.trim().find('/').unwrap_or(unit.trim().len()));
    let named = CODES.iter().find(|(name, _)| name.eq_ignore_ascii_case(code.trim()));
    all.extend(named.map(|(_, code)| format!("{figure} {code}{per}")));
    if let ("t/m3" | "t/m\u{b3}" | "g/cm3", Some(tonnes)) = (unit.trim(), parse_decimal(figure)) {
        let kg = tonnes.checked_mul(Decimal::ONE_THOUSAND).map(|kg| kg.normalize());
        all.extend(kg.map(|kg| format!("{kg} kg/m3")));
    }
    all.extend(in_quote(text));
    all.extend(payment_words::due(text));
    all.extend(tariff_line(text));
    // "2000 USD/container" where the amount stands alone.
    all.extend(text.split_once('/').map(|(amount, _)| amount.trim_end().to_owned()));
    let (letters, place) = text.trim().split_once(' ').unwrap_or((text.trim(), ""));
    all.extend(Incoterm::meant(letters).map(|term| format!("{term} {}", place.trim())));
    all.extend(Country::named(text).map(|country| country.code().to_owned()));
    // A lane of two codes without its stroke, or with blanks in them.
    all.extend([text.replace(' ', "-"), text.replace(' ', "")]);
    // A code by itself, such as "ussav"; words are no code.
    if !figure.is_empty() || !unit.contains(' ') {
        all.push(format!("{figure}{}", unit.to_uppercase()));
    }
    if let Some((code, per)) = unit.split_once('/') {
        all.push(format!("{figure}{}/{}", code.to_uppercase(), per.to_lowercase()));
    }
    if unit.is_empty() {
        all.push(format!("{figure} %"));
    }
    for between in ["..", " - ", " to ", "\u{2013}", "/"] {
        if let Some((first, last)) = text.split_once(between)
            && let ([first], [last]) = (&dates(first)[..], &dates(last)[..])
        {
            all.push(format!("{first}..{last}"));
            all.push(format!("{last}..{first}"));
        }
    }
    all
}

/// The quantity with its point moved by one place or more, where that makes it likely: "80000 lb" for "8000 lb".
pub(super) fn with_point_moved(text: &str, is_likely: impl Fn(&str) -> bool) -> Option<String> {
    let (figure, unit) = split_figure(text);
    let figure = parse_decimal(figure)?;
    let by = [Decimal::new(1, 1), Decimal::new(1, 2), Decimal::new(1, 3)];
    let moved = by.iter().filter_map(|by| figure.checked_mul(*by));
    let texts = moved.map(|figure| format!("{}{unit}", figure.normalize()));
    texts.into_iter().find(|text| is_likely(text))
}

/// A container number with the last digit that its first ten characters ask for.
fn with_check_digit(text: &str) -> Option<String> {
    let written = text.chars().filter(char::is_ascii_alphanumeric);
    let first: String = written.take(10).collect::<String>().to_uppercase();
    (0..10).map(|digit| format!("{first}{digit}")).find(|one| ContainerNumber::read(one).is_ok())
}

/// A rate of exchange as dealers write it, such as "EUR/USD 1.10".
fn in_quote(text: &str) -> Option<String> {
    let words: Vec<&str> =
        text.split([' ', '/', '=', ':']).filter(|word| !word.is_empty()).collect();
    let rate = words.iter().find(|word| parse_decimal(word).is_some())?;
    let [base, counter] = words.iter().filter(|word| *word != rate).collect::<Vec<_>>()[..] else {
        return None;
    };
    Some(format!("1 {} = {rate} {}", base.to_uppercase(), counter.to_uppercase()))
}

/// The digits of a tariff line, four and then two and two, with points between them.
fn tariff_line(text: &str) -> Option<String> {
    let digits: String = text.chars().filter(char::is_ascii_digit).collect();
    let (heading, rest) = digits.split_at_checked(4)?;
    let groups = rest.as_bytes().chunks(2).filter_map(|group| str::from_utf8(group).ok());
    Some(std::iter::once(heading).chain(groups).collect::<Vec<_>>().join("."))
}

/// What a text that should be a day is most likely to mean, or why there is no such day.
pub fn day_meant(text: &str) -> Option<String> {
    match &dates(text)[..] {
        [one] => Some(format!("write {one}")),
        [one, other] => Some(format!("write {one} or {other}, whichever is meant")),
        _ => no_such_day(text),
    }
}

/// A day that its month does not have, such as 2026-04-31, or a month that no year has, and what to write.
pub fn no_such_day(text: &str) -> Option<String> {
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let number = |part: &str| part.parse::<u32>().ok();
    let (year, month, day) =
        (year.get(year.len().checked_sub(4)?..)?, number(month)?, day.get(..2)?);
    let year = year.parse::<i32>().ok()?;
    if !(1..=12).contains(&month) {
        let is_day = number(day).is_some_and(|day| (1..=31).contains(&day));
        return is_day.then(|| format!("there is no month {month}: months are 01 to 12"));
    }
    let name = MONTH_NAMES.get(usize::try_from(month).ok()?.checked_sub(1)?)?;
    let last = (28..=31).rev().find_map(|day| Date::from_ymd_opt(year, month, day))?;
    let is_past = number(day)? > last.day();
    is_past.then(|| format!("{name} {year} has {} days: is {last} meant?", last.day()))
}

/// The months in English.
const MONTH_NAMES: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// The one date of a text such as "until 15 April 2026".
fn last_day(text: &str) -> Option<String> {
    let words = ["valid", "until", "till", "up to", "to", "by"];
    let strip =
        |text: &str, word: &&str| text.strip_prefix(*word).unwrap_or(text).trim().to_owned();
    let bare = words.iter().fold(text.trim().to_lowercase(), |text, word| strip(&text, word));
    match &dates(&bare)[..] {
        [one] => Some(one.clone()),
        _ => None,
    }
}

/// The text with another currency for a code that is one letter off it, or has two letters exchanged.
fn in_currency(text: &str) -> impl Iterator<Item = String> {
    let (figure, rest) = split_figure(text);
    let rest = rest.trim_start();
    let (code, per) = rest.split_at(rest.find('/').unwrap_or(rest.len()));
    let near = |known: &&&str| strsim::damerau_levenshtein(known, code.trim()) == 1;
    CURRENCIES.iter().filter(near).map(move |known| format!("{figure} {known}{per}"))
}

/// A text's leading figure, and the rest.
fn split_figure(text: &str) -> (&str, &str) {
    let is_figure = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-');
    text.split_at(text.find(|c: char| !is_figure(c)).unwrap_or(text.len()))
}

/// Whether a comma stands between two digits.
fn has_comma(text: &str) -> bool {
    text.as_bytes().windows(3).any(|three| {
        matches!(three, [before, b',', after] if before.is_ascii_digit() && after.is_ascii_digit())
    })
}

/// A figure without its thousands marks and with a decimal point: a comma before three digits is taken for a
/// mark, a last comma before others for the decimal one. Behind a nought and before metres, tonnes and percent
/// it is the decimal one: nobody has 21,500 t.
fn without_thousands(text: &str) -> String {
    let is_figure = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | ',');
    let (figure, rest) = text.split_at(text.find(|c: char| !is_figure(c)).unwrap_or(text.len()));
    let plain = match (figure.rfind(','), figure.rfind('.')) {
        (Some(comma), Some(point)) if comma > point => figure.replace('.', "").replace(',', "."),
        (Some(comma), None)
            if figure.len() - comma != 4
                || figure.starts_with("0,")
                || matches!(rest.trim(), "m" | "t" | "%") =>
        {
            figure.replace(',', ".")
        }
        _ => figure.replace(',', ""),
    };
    plain + rest
}

/// The dates that a text may stand for, as they are written here: two where day and month may be either.
pub fn dates(text: &str) -> Vec<String> {
    let parts: Vec<&str> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|part| !part.is_empty()).collect();
    let date = |year: &str, month: u32, day: &str| {
        let year: i32 = year.parse().ok()?;
        Date::from_ymd_opt(year, month, day.parse().ok()?).map(|date| date.to_string())
    };
    let is_year = |part: &str| part.len() == 4 && part.bytes().all(|byte| byte.is_ascii_digit());
    let month_of = |part: &str| {
        let head = part.get(..3)?.to_lowercase();
        let at = MONTHS.iter().position(|month| *month == head)?;
        u32::try_from(at + 1).ok()
    };
    let all = match parts[..] {
        [one] if one.len() == 8 => {
            let month = one.get(4..6).and_then(|month| month.parse().ok()).unwrap_or(0);
            vec![date(one.get(..4).unwrap_or(""), month, one.get(6..).unwrap_or(""))]
        }
        [year, month, day] if is_year(year) => {
            let month = month.parse().ok().or_else(|| month_of(month)).unwrap_or(0);
            vec![date(year, month, day)]
        }
        [first, second, year] if is_year(year) => match (month_of(first), month_of(second)) {
            (Some(month), _) => vec![date(year, month, second)],
            (_, Some(month)) => vec![date(year, month, first)],
            // With points the day stands first; with strokes either may.
            _ => {
                let day_first = date(year, second.parse().unwrap_or(0), first);
                let month_first = date(year, first.parse().unwrap_or(0), second);
                if text.contains('.') { vec![day_first] } else { vec![month_first, day_first] }
            }
        },
        _ => Vec::new(),
    };
    let mut all: Vec<String> = all.into_iter().flatten().collect();
    all.dedup();
    all
}

/// A day and a month without a year, as a spreadsheet makes of "1-7": day and month.
pub fn day_and_month(text: &str) -> Option<(u64, u64)> {
    let parts: Vec<&str> =
        text.split(['-', '/', '.', ' ']).filter(|part| !part.is_empty()).collect();
    let [first, second] = parts[..] else { return None };
    let month = |part: &str| {
        let lower = part.to_lowercase();
        let at = MONTHS.iter().position(|month| *month == lower)?;
        u64::try_from(at + 1).ok()
    };
    let day = |part: &str| part.parse::<u64>().ok().filter(|day| (1..=31).contains(day));
    let day_first = day(first).zip(month(second));
    day_first.or_else(|| Some((day(second)?, month(first)?)))
}

/// A figure with thousands marks and a decimal mark, such as `2.904,5`, as it is written here.
pub(super) fn thousands(cell: &str) -> Option<String> {
    let meant = without_thousands(cell);
    let has_both = cell.contains(',') && cell.contains('.');
    (has_both && parse_decimal(&meant).is_some()).then_some(meant)
}

/// What to write for a text that is meant as a date, if it is one.
pub(super) fn in_date(text: &str) -> Option<String> {
    match &dates(text)[..] {
        [one] => Some(format!("write {one}, without quotes")),
        [one, other] => Some(format!("write {one} or {other}, whichever is meant, without quotes")),
        _ => no_such_day(text),
    }
}

/// The slip in a value that cannot be read as TOML: `text` is the value, `line` the line it stands on.
pub(super) fn in_syntax(text: &str, line: &str) -> Option<Slip> {
    let has = |text: &str| text.contains(SMART_QUOTES);
    if has(text) {
        let straight = |c: char| if SMART_QUOTES.contains(&c) || c == '\u{bb}' { '"' } else { c };
        let line: String = line.trim().chars().map(straight).collect();
        return Some(Slip::new("smart quotes", format!("write straight quotes: {line}")));
    }
    let mut words = line.split([' ', ',', '=', '[', '{']);
    if let Some(help) = words.find_map(no_such_day) {
        return Some(Slip::new("no such day", help));
    }
    in_date(text).map(|help| Slip::new("a date in another form", help))
}

/// A figure with letters that look like digits, as the one that was meant.
pub(super) fn digits(cell: &str) -> Option<String> {
    let meant = cell.replace(['O', 'o'], "0").replace(['l', 'I'], "1");
    (meant != cell && parse_decimal(&meant).is_some()).then_some(meant)
}

/// Fractions that are one sign, as figures write them.
const FRACTIONS: [(char, &str); 15] = [
    ('\u{bd}', "1/2"),
    ('\u{bc}', "1/4"),
    ('\u{be}', "3/4"),
    ('\u{215b}', "1/8"),
    ('\u{215c}', "3/8"),
    ('\u{215d}', "5/8"),
    ('\u{215e}', "7/8"),
    ('\u{2153}', "1/3"),
    ('\u{2154}', "2/3"),
    ('\u{2155}', "1/5"),
    ('\u{2156}', "2/5"),
    ('\u{2157}', "3/5"),
    ('\u{2158}', "4/5"),
    ('\u{2159}', "1/6"),
    ('\u{215a}', "5/6"),
];

/// A text in which fractions of one sign stand in figures: `75\u{bd}` as `75 1/2`.
fn plain_fractions(text: &str) -> String {
    FRACTIONS.iter().fold(text.to_owned(), |text, (sign, figures)| {
        if text.contains(*sign) { text.replace(*sign, &format!(" {figures}")) } else { text }
    })
}

/// A figure as people write it, in which a point or a comma parts the decimals and, where both stand, the first of
/// them the thousands.
pub fn figure_in_words(cell: &str) -> Option<Decimal> {
    super::cells::number(cell).or_else(|| parse_decimal(&thousands(cell)?))
}

/// A length in inches as fractions, inch marks or feet and inches give it, such as `118 1/2"` or `9'10"`.
pub fn inches(cell: &str) -> Option<Decimal> {
    let cell = &plain_fractions(cell);
    let text = cell.replace(['\u{2019}', '\u{2032}'], "'").replace(['\u{201d}', '\u{2033}'], "\"");
    let (feet, rest) = text
        .split_once('\'')
        .map_or((None, text.as_str()), |(feet, rest)| (Some(feet.trim()), rest));
    let rest = rest.trim().trim_end_matches(['"', '\'']).trim();
    if feet.is_none() && rest.len() == cell.trim().len() && !rest.contains('/') {
        return None;
    }
    let mut sum = match feet {
        Some(feet) => parse_decimal(feet)?.checked_mul(Decimal::from(12))?,
        None => Decimal::ZERO,
    };
    for part in rest.split([' ', '-']).filter(|part| !part.is_empty()) {
        let part = match part.split_once('/') {
            Some((over, under)) => parse_decimal(over)?.checked_div(parse_decimal(under)?)?,
            None => parse_decimal(part)?,
        };
        sum = sum.checked_add(part)?;
    }
    Some(sum.normalize())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Area, Density, Mass, Money, Percent, Price, Quote};
    use crate::trade::{DeliveryTerm, Due, Lane, TariffLine, Window};

    fn help<T: Written>(text: &str) -> String {
        in_quantity::<T>(text, None).map_or_else(|| "nothing".to_owned(), |slip| slip.help)
    }

    #[test]
    fn a_slip_is_told_with_what_to_write() {
        assert_eq!(help::<Price>("€40.00/m2"), "write \"40.00 EUR/m2\"");
        assert_eq!(help::<Price>("40.00 EUR/sqm"), "write \"40.00 EUR/m2\"");
        assert_eq!(help::<Price>("40.00 eur/m²"), "nothing");
        assert_eq!(help::<Price>("40.00 eur/m2"), "write \"40.00 EUR/m2\"");
        assert_eq!(help::<Price>("40,00 EUR/m2"), "write \"40.00 EUR/m2\"");
        assert_eq!(help::<Money>("2,000 USD"), "write \"2000 USD\"");
        assert_eq!(help::<Mass>("44,000 lbs"), "write \"44000 lb\"");
        assert_eq!(help::<Mass>("21,500 t"), "write \"21.500 t\"");
        assert_eq!(help::<Length>("0,750 in"), "write \"0.750 in\"");
        assert_eq!(help::<Money>("1.234,50 EUR"), "write \"1234.50 EUR\"");
        assert_eq!(help::<Money>("$2000"), "write \"2000 USD\", or the code of the currency meant");
        assert_eq!(help::<Area>("420 sqm"), "write \"420 m2\"");
        assert_eq!(help::<Percent>("0.125"), "write \"0.125 %\"");
        assert_eq!(help::<Window>("03/15/2026 - 04/15/2026"), "write \"2026-03-15..2026-04-15\"");
        assert_eq!(help::<Window>("2026-06-30..2026-03-01"), "write \"2026-03-01..2026-06-30\"");
        assert_eq!(
            help::<Money>("2000"),
            "write \"2000 EUR\" or \"2000 USD\", in the currency that is meant"
        );
        assert_eq!(help::<Price>("300.00 RMB/m2"), "write \"300.00 CNY/m2\"");
        assert_eq!(help::<Quote>("EUR/USD 1.10"), "write \"1 EUR = 1.10 USD\"");
        assert_eq!(help::<Due>("net 30 from B/L"), "write \"sails + 30 days\"");
        assert_eq!(help::<TariffLine>("6802 91 05"), "write \"6802.91.05\"");
        assert_eq!(help::<Density>("2.5 t/m3"), "write \"2500 kg/m3\"");
        let units = "write \"5000 kg\" or \"5000 lb\", in the unit that is meant";
        assert_eq!(help::<Mass>("5000"), units);
        let day = no_such_day("2026-02-29").unwrap();
        assert_eq!(day, "February 2026 has 28 days: is 2026-02-28 meant?");
        assert_eq!(no_such_day("2028-02-29"), None);
        let apart = sides("5 x 4 cm").unwrap();
        assert_eq!(apart, "{ length = \"5 cm\", height = \"4 cm\" }");
        assert_eq!(help::<Money>("2000 USD/container"), "write \"2000 USD\"");
        assert_eq!(help::<DeliveryTerm>("FBO TRIZM"), "write \"FOB TRIZM\"");
        assert_eq!(help::<Country>("Turkey"), "write \"TR\"");
        assert_eq!(help::<Price>("40.00 EUO/m2"), "is \"40.00 EUR/m2\" meant?");
        assert_eq!(help::<Lane>("TRIZM USSAV"), "write \"TRIZM-USSAV\"");
        assert_eq!(help::<Quote>("1 EUR = 1,10 USD"), "write \"1 EUR = 1.10 USD\"");
        for text in ["until 15 April 2026", "2026-04-15"] {
            let first = "write its first day in front, such as \"2026-04-01..2026-04-15\"";
            assert_eq!(help::<Window>(text), first, "{text}");
        }
        assert_eq!(help::<Price>("EUR 40.00/m2"), "write \"40.00 EUR/m2\"");
        assert_eq!(help::<Price>("40.00 EUR per m2"), "write \"40.00 EUR/m2\"");
        assert_eq!(help::<Price>("400.00 EUR/pc"), "write \"400.00 EUR/slab\"");
        assert_eq!(help::<Length>("3/4 in"), "write \"0.75 in\"");
        assert_eq!(help::<Price>("-40.00 EUR/m2"), "write \"40.00 EUR/m2\"");
        assert_eq!(help::<Money>("2000 UDS"), "is \"2000 USD\" meant?");
        assert_eq!(help::<Money>("2000 XYZ"), "nothing");
        assert_eq!(help::<DeliveryTerm>("FOB Izmir"), "nothing");
        assert_eq!(digits("18O").as_deref(), Some("180"));
        assert_eq!(digits("180"), None);
    }

    #[test]
    fn dates_as_people_write_them() {
        let told = |text: &str| dates(text).join(" or ");
        assert_eq!(told("11/30/2026"), "2026-11-30");
        assert_eq!(told("30/11/2026"), "2026-11-30");
        assert_eq!(told("11/04/2026"), "2026-11-04 or 2026-04-11");
        assert_eq!(told("11.04.2026"), "2026-04-11");
        assert_eq!(told("2026/4/11"), "2026-04-11");
        assert_eq!(told("20260411"), "2026-04-11");
        assert_eq!(told("2026-Apr-11"), "2026-04-11");
        assert_eq!(told("April 11, 2026"), "2026-04-11");
        assert_eq!(told("11 Apr 2026"), "2026-04-11");
        assert_eq!(told("31/31/2026"), "");
        assert_eq!(told("soon"), "");
    }

    #[test]
    fn inches_as_the_trade_writes_them() {
        let told = |cell: &str| inches(cell).map(|inches| inches.to_string());
        let some = |text: &str| Some(text.to_owned());
        assert_eq!(told("118 1/2"), some("118.5"));
        assert_eq!(told("70-3/4"), some("70.75"));
        assert_eq!(told("118.5\""), some("118.5"));
        assert_eq!(told("9'10\""), some("118"));
        assert_eq!(told("5' 11 1/2\""), some("71.5"));
        for none in ["118.5", "18O", "", "1/0", "x/2"] {
            assert_eq!(told(none), None, "{none}");
        }
    }
}
