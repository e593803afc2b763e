//! `events.toml`: what happened to booked goods and their bills, one `[[event]]` after another.
//!
//! Every key is asked of every event, so that an editor knows all of them; which of them a kind needs and may
//! have stands in one list.

use std::path::Path;

use crate::fault::{At, Code, Fault, Place, Report, Reported, gathered};
use crate::files;
use crate::quantity::{Area, Length, Money, Quote, Written};
use crate::read::keys::each;
use crate::read::table::{self, Table};
use crate::read::workspace::Workspace;
use crate::trade::{
    BillBy, BillLine, Billed, BookEvent, BookKind, ClaimState, Date, Found, FoundState, Piece,
    Treatment, Use,
};

/// The kinds of event, by their words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Word {
    Advance,
    Control,
    Owed,
    Billed,
    Credit,
    Paid,
    Arrive,
    Move,
    Issue,
    Reserve,
    Release,
    ReturnIn,
    ReturnOut,
    Loss,
    Cut,
    Count,
    TakeIn,
    ConsignIn,
    ConsignOut,
    DutyChanged,
    Claim,
    WriteDown,
    WriteBack,
    Close,
    Reverse,
}

/// A kind of event: its word, the keys it needs, and those it may have.
type KindOf = (Word, &'static str, &'static [&'static str], &'static [&'static str]);

const KINDS: [KindOf; 25] = [
    (Word::Advance, "advance", &["invoice", "amount"], &["bank", "refundable"]),
    (Word::Control, "control", &[], &["invoice", "bill", "rate"]),
    (Word::Owed, "owed", &["of"], &["rate"]),
    (Word::Billed, "billed", &["party", "number", "line"], &["final", "rate", "owed-rate"]),
    (Word::Credit, "credit", &["party", "number", "line"], &["against", "rate"]),
    (Word::Paid, "paid", &["party", "bills"], &["amount", "bank", "fee"]),
    (Word::Arrive, "arrive", &["yard"], &["boxes", "found"]),
    (Word::Move, "move", &["slabs", "yard"], &["line", "rate"]),
    (Word::Issue, "issue", &["slabs"], &["use", "customer"]),
    (Word::Reserve, "reserve", &["slabs", "customer"], &["until"]),
    (Word::Release, "release", &["slabs"], &[]),
    (Word::ReturnIn, "return in", &["slabs", "yard"], &["customer"]),
    (Word::ReturnOut, "return out", &["party", "slabs", "amount"], &["rate"]),
    (Word::Loss, "loss", &["slabs", "reason"], &[]),
    (Word::Cut, "cut", &["slab", "piece"], &["abnormal"]),
    (Word::Count, "count", &["yard", "slabs"], &["found"]),
    (Word::TakeIn, "take in", &["slab", "like"], &["area"]),
    (Word::ConsignIn, "consigned in", &["party", "yard", "piece"], &["stone"]),
    (Word::ConsignOut, "consigned out", &["slabs"], &[]),
    (
        Word::DutyChanged,
        "duty changed",
        &["party", "number", "entry", "line"],
        &["refund", "interest", "rate", "owed-rate"],
    ),
    (Word::Claim, "claim", &["party", "state", "amount"], &["bank", "rate"]),
    (Word::WriteDown, "write down", &["slabs", "worth", "reason"], &[]),
    (Word::WriteBack, "write back", &["slabs", "worth", "reason"], &[]),
    (Word::Close, "close", &["until"], &["rates", "final", "debits"]),
    (Word::Reverse, "reverse", &["event", "reason"], &[]),
];

/// The keys that only some kinds have, each with its form: a fault asks for it in these words.
const OWN: [(&str, &str); 37] = [
    ("debits", "an amount with its currency"),
    ("party", "whose paper it is: party = \"...\""),
    ("number", "the number of the paper: number = \"...\""),
    ("reason", "why: reason = \"...\""),
    ("invoice", "the number of the invoice: invoice = \"T-118\""),
    ("bill", "bills of lading by number: bill = [\"BL-7\"]"),
    ("amount", "an amount with its currency, such as \"1850 USD\""),
    ("bank", "an amount with its currency"),
    ("refundable", "true or false"),
    ("rate", "an exchange quote, such as \"1 EUR = 1.0850 USD\""),
    ("owed-rate", "an exchange quote"),
    ("rates", "exchange quotes in a list"),
    ("of", "charges by key, such as of = [\"ocean freight/box 1\"]"),
    ("line", "tables that open with [[event.line]]"),
    ("final", "true or false"),
    ("against", "the number of a bill"),
    ("bills", "numbers of bills: bills = [\"F-2231\"]"),
    ("fee", "an amount with its currency"),
    ("boxes", "boxes by name: boxes = [\"1\"]"),
    ("yard", "the name of a yard: yard = \"savannah\""),
    ("found", "tables that open with [[event.found]]"),
    ("slabs", "slabs by number: slabs = [\"410-01\"]"),
    ("slab", "the number of a slab: slab = \"410-01\""),
    ("like", "the number of a slab of its shipment: like = \"410-01\""),
    ("area", "an area, such as \"4.8 m2\""),
    ("stone", "a stone: stone = \"chalk\""),
    ("piece", "tables that open with [[event.piece]]"),
    ("abnormal", "an area, such as \"0.4 m2\""),
    ("entry", "the entry of customs: entry = \"1\""),
    ("refund", "the rule under which it is given back, such as refund = \"19 CFR 158.12\""),
    ("interest", "an amount with its currency"),
    ("use", "sold, own use or sample"),
    ("customer", "who has them"),
    ("state", "made, admitted, paid or refused"),
    ("worth", "what each slab can be sold for, less cost to finish and to sell"),
    ("until", "the last day, without quotes"),
    ("event", "the `id` of the event that is taken back"),
];

/// Reads the events of a file. `shipment` is the one whose file it is; none for a yard's.
///
/// # Errors
/// Where an event is at fault.
pub(super) fn events(
    workspace: &Workspace,
    (path, shipment): (&Path, Option<&str>),
    report: &mut Report,
) -> Result<Vec<BookEvent>, Reported> {
    let source = files::read(path, &workspace.name_of(path), report)?;
    table::parse(&source, report, |top, report| events_of(top, (&source.name, shipment), report))
}

/// The events of a table.
pub(in crate::read) fn events_of(
    top: &Table<'_>,
    (file, shipment): (&str, Option<&str>),
    report: &mut Report,
) -> Result<Vec<BookEvent>, Reported> {
    let rows = top.rows("event", report)?;
    let each = rows.iter().enumerate().map(|(at, row)| {
        let made = || format!("{}#{}", file.trim_end_matches(".toml"), at + 1);
        let read = event(row, made, shipment, report);
        row.finish(report);
        read
    });
    gathered(each)
}

/// What is stated of an event, whatever its kind.
struct Raw {
    invoice: Vec<At<String>>,
    bill: Vec<At<String>>,
    of: Vec<At<String>>,
    lines: Vec<BillLine>,
    found: Vec<Found>,
    pieces: Vec<Piece>,
    boxes: Vec<At<String>>,
    slabs: Vec<At<String>>,
    bills: Vec<At<String>>,
    rates: Vec<At<Quote>>,
    amount: Option<At<Money>>,
    bank: Option<At<Money>>,
    fee: Option<At<Money>>,
    worth: Option<At<Money>>,
    interest: Option<At<Money>>,
    abnormal: Option<At<Area>>,
    area: Option<At<Area>>,
    like: Option<At<String>>,
    stone: Option<String>,
    debits: Option<At<Money>>,
    rate: Option<At<Quote>>,
    owed_rate: Option<At<Quote>>,
    yard: Option<At<String>>,
    against: Option<At<String>>,
    event: Option<At<String>>,
    slab: Option<At<String>>,
    entry: Option<At<String>>,
    refund: Option<String>,
    customer: Option<String>,
    used: Use,
    state: Option<ClaimState>,
    until: Option<At<Date>>,
    is_refundable: bool,
    is_final: bool,
}

fn raw(row: &Table<'_>, is_of_move: bool, report: &mut Report) -> Result<Raw, Reported> {
    let invoice = row.text_or_texts("invoice", report);
    let bill = row.text_or_texts("bill", report);
    let of = row.text_or_texts("of", report);
    let of_event = row.place().line;
    let lines = each(row, "line", report, |row, report| line(row, (is_of_move, of_event), report));
    let found = each(row, "found", report, found);
    let pieces = each(row, "piece", report, piece);
    let (boxes, slabs) = (row.texts("boxes", report), row.texts("slabs", report));
    let bills = row.texts("bills", report);
    let rates = row
        .texts("rates", report)
        .and_then(|texts| gathered(texts.into_iter().map(|text| quote("rates", text, report))));
    let mut money = |key| row.optional::<Money>(key, report);
    let (amount, bank, fee, worth) = (money("amount"), money("bank"), money("fee"), money("worth"));
    let (debits, interest) = (money("debits"), money("interest"));
    let amount = amount.and_then(|at| without_sign(at, report));
    let (abnormal, area) =
        (row.optional::<Area>("abnormal", report), row.optional::<Area>("area", report));
    let mut quote = |key| row.optional::<Quote>(key, report);
    let (rate, owed_rate) = (quote("rate"), quote("owed-rate"));
    let mut text = |key| row.text(key, report);
    let (yard, against, event) = (text("yard"), text("against"), text("event"));
    let (slab, entry, refund) = (text("slab"), text("entry"), text("refund"));
    let (customer, like, stone) = (text("customer"), text("like"), text("stone"));
    let used = row.word("use", &Use::ALL, report);
    let state = row.word("state", &ClaimState::ALL, report);
    let until = row.date("until", report);
    let (refundable, is_final) = (row.flag("refundable", report), row.flag("final", report));
    let is_set = |flag: Option<At<bool>>| flag.is_some_and(|at| at.value);
    Ok(Raw {
        invoice: invoice?,
        bill: bill?,
        of: of?,
        lines: lines?,
        found: found?,
        pieces: pieces?,
        boxes: boxes?,
        slabs: slabs?,
        bills: bills?,
        rates: rates?,
        amount: amount?,
        bank: bank?,
        fee: fee?,
        worth: worth?,
        debits: debits?,
        interest: interest?,
        abnormal: abnormal?,
        area: area?,
        like: like?,
        stone: stone?.map(|at| at.value),
        rate: rate?,
        owed_rate: owed_rate?,
        yard: yard?,
        against: against?,
        event: event?,
        slab: slab?,
        entry: entry?,
        refund: refund?.map(|at| at.value),
        customer: customer?.map(|at| at.value),
        used: used?.map_or_else(Use::default, |at| at.value),
        state: state?.map(|at| at.value),
        until: until?,
        is_refundable: is_set(refundable?),
        is_final: is_set(is_final?),
    })
}

/// An amount of an event, which has no sign: the kind says which way it goes.
fn without_sign(at: Option<At<Money>>, report: &mut Report) -> Result<Option<At<Money>>, Reported> {
    let Some(amount) = at.as_ref().filter(|at| at.is_negative()) else { return Ok(at) };
    Err(report.error(
        Fault::error(Code::OutOfRange, format!("`amount` is negative: \"{}\"", amount.value))
            .at(&amount.place, "expected 0 or more")
            .help("money that comes back is kind = \"paid\" with the paper it is open of, and no sign"),
    ))
}

/// What was found of a slab.
fn found(row: &Table<'_>, report: &mut Report) -> Result<Found, Reported> {
    let slab = row.required_text("slab", report);
    let state = row.required_word("state", &FoundState::ALL, report);
    let area = measured(row, report);
    let (quality, remark) = (row.text("quality", report), row.text("remark", report));
    let (state, area, quality) = (state?.value, area?, quality?);
    let needed = match state {
        FoundState::Measured if area.is_none() => Some(("area", "what it measures")),
        FoundState::Downgraded if quality.is_none() => Some(("quality", "what it is now")),
        _ => None,
    };
    if let Some((key, what)) = needed {
        let message = format!("a slab that is {} lacks `{key}`", state.word());
        let fault = Fault::error(Code::MissingKey, message)
            .at(&row.place(), format!("`{key}` is needed here"))
            .help(format!("add {what}: {key} = \"...\""));
        return Err(row.lacks(&[key], fault, report));
    }
    let quality = quality.map(|at| at.value.into());
    Ok(Found { slab: slab?, state, area, quality, remark: remark?.map(|at| at.value) })
}

/// A piece of a slab.
fn piece(row: &Table<'_>, report: &mut Report) -> Result<Piece, Reported> {
    let slab = row.required_text("slab", report);
    let area = measured(row, report);
    let quality = row.text("quality", report);
    let Some(area) = area?.filter(|area| !area.is_none()) else {
        let fault = Fault::error(Code::MissingKey, "a piece lacks what it measures")
            .at(&row.place(), "`area` is needed here, or `length` and `height`")
            .help("add area = \"2.1 m2\"");
        return Err(row.lacks(&["area"], fault, report));
    };
    Ok(Piece { slab: slab?, area, quality: quality?.map(|at| at.value.into()) })
}

/// What a slab measures: its area, or its sides.
fn measured(row: &Table<'_>, report: &mut Report) -> Result<Option<Area>, Reported> {
    let area = row.optional::<Area>("area", report);
    let (length, height) =
        (row.optional::<Length>("length", report), row.optional::<Length>("height", report));
    match (area?, length?, height?) {
        (area, None, None) => Ok(area.map(|at| at.value)),
        (None, Some(length), Some(height)) => {
            report.fits(Area::of(length.value, height.value), &length.place).map(Some)
        }
        _ => Err(report.error(
            Fault::error(Code::Contradiction, "a slab measures an area, or has two sides")
                .at(&row.place(), "here is another")
                .help("write `area`, or `length` and `height`"),
        )),
    }
}

/// A quote in a list.
fn quote(key: &str, text: At<String>, report: &mut Report) -> Result<At<Quote>, Reported> {
    Quote::read(&text.value).map(|value| At { value, place: text.place.clone() }).map_err(|fault| {
        let message = format!("`{key}` cannot be read: \"{}\"", text.value);
        report.error(
            Fault::error(Code::BadQuantity, message)
                .at(&text.place, format!("expected {}", fault.expected)),
        )
    })
}

/// Why the freight of a move goes to the period, where nothing else is said.
const MOVED: &str = "from one of our own yards to another (IAS 2, paragraph 15)";

/// A line of a bill, whose event opens at a line of the file.
fn line(
    row: &Table<'_>,
    (is_of_move, of_event): (bool, usize),
    report: &mut Report,
) -> Result<BillLine, Reported> {
    let of = row.text_or_texts("of", report);
    let new = row.text("new", report);
    let amount = row.required::<Money>("amount", report);
    let (boxes, slabs) = (row.texts("boxes", report), row.texts("slabs", report));
    let by = row.word("by", &BillBy::ALL, report);
    let treatment = row.word("treatment", &Treatment::ALL, report);
    let reason = row.text("reason", report);
    let place = row.place();
    let (of, new, boxes, slabs, by) = (of?, new?, boxes?, slabs?, by?);
    let (treatment, reason) = (treatment?, reason?);
    let refuse = |what: &str, place: &Place, label: &str, help: &str| {
        Fault::error(Code::Contradiction, what).at(place, label).help(help)
    };
    if let Some(reason) = reason.as_ref().filter(|_| new.is_none()) {
        let what = "a `reason` stands on a line of a charge that was estimated";
        let help = format!("`reason` goes on the event, at line {of_event}");
        return Err(report.error(refuse(what, &reason.place, "it answers nothing here", &help)));
    }
    let of = match (&of[..], new) {
        ([_, ..], None) if by.is_some() => {
            Billed::Charges { of, by: by.map_or(BillBy::Area, |at| at.value) }
        }
        ([of], None) => Billed::Charge(of.clone()),
        ([_, other, ..], None) => {
            let what =
                "a line of a bill is for several charges, and does not say how it is divided";
            return Err(report.error(refuse(
                what,
                &other.place,
                "the second of them",
                "add by = \"area\", \"mass\", \"count\", \"value\" or \"box\", or write a line for each",
            )));
        }
        ([], Some(_)) if by.as_ref().is_some_and(|by| by.value == BillBy::Value) => {
            let what = "slabs have no value by which they share a new charge";
            let place = by.map_or(place, |by| by.place);
            let help = "write by = \"area\", \"mass\", \"count\" or \"box\"";
            return Err(report.error(refuse(what, &place, "by value", help)));
        }
        ([], Some(_))
            if by.as_ref().is_some_and(|by| by.value == BillBy::Box) && !slabs.is_empty() =>
        {
            let what = "slabs that are named share a new charge, and boxes do not";
            let place = by.map_or(place, |by| by.place);
            let help = "write by = \"area\", \"mass\" or \"count\", or name the boxes";
            return Err(report.error(refuse(what, &place, "by box", help)));
        }
        ([], Some(_)) if !boxes.is_empty() && !slabs.is_empty() => {
            let what = "a new charge is shared by boxes, or by slabs";
            let place = slabs.first().map_or(place, |at| at.place.clone());
            return Err(report.error(refuse(
                what,
                &place,
                "boxes are named, too",
                "leave out one",
            )));
        }
        ([], Some(name)) => {
            let is_period = treatment.as_ref().is_none_or(|at| at.value == Treatment::Period);
            let of_move = (is_of_move && is_period).then(|| MOVED.to_owned());
            let Some(reason) = reason.map(|at| at.value).or(of_move) else {
                return Err(row.lacks(
                    &["reason"],
                    Fault::error(
                        Code::MissingKey,
                        "a charge that was never estimated lacks `reason`",
                    )
                    .at(&place, "`reason` is needed here")
                    .help("say why it goes where it goes: reason = \"...\""),
                    report,
                ));
            };
            let by = by.map_or(BillBy::Area, |at| at.value);
            let usual = if is_of_move { Treatment::Period } else { Treatment::Stock };
            let treatment = treatment.map_or(usual, |at| at.value);
            Billed::New { name, boxes, slabs, by, treatment, reason }
        }
        _ => {
            return Err(row.lacks(
                &["of", "new"],
                Fault::error(Code::MissingKey, "a line of a bill needs `of` or `new`, not both")
                    .at(&place, "expected one of the two")
                    .help("write of = \"ocean freight/box 1\" for a charge of the estimate, or new = \"storage\" for one that was never estimated"),
                report,
            ));
        }
    };
    Ok(BillLine { of, amount: amount?, place })
}

fn event(
    row: &Table<'_>,
    made: impl FnOnce() -> String,
    shipment: Option<&str>,
    report: &mut Report,
) -> Result<BookEvent, Reported> {
    let words = KINDS.map(|(_, word, ..)| (word, word));
    let kind = row.required_word("kind", &words, report);
    let id = row.text("id", report);
    let occurred = row.required_date("occurred", report);
    let posted = row.date("posted", report);
    let (party, number) = (row.text("party", report), row.text("number", report));
    let dated = row.date("dated", report);
    let reason = row.text("reason", report);
    let is_of_move = kind.as_ref().is_ok_and(|kind| kind.value == "move");
    let raw = raw(row, is_of_move, report);
    let kind = kind?;
    let Some((word, name, needed, may)) = KINDS.iter().find(|(_, word, ..)| *word == kind.value)
    else {
        return Err(report.error(Fault::error(Code::UnknownWord, "no such kind of event")));
    };
    keys_of(row, (name, needed, may), report)?;
    if is_of_move && row.has("line") && !(row.has("party") && row.has("number")) {
        let fault = Fault::error(
            Code::MissingKey,
            "the freight of a move is a bill, and lacks `party` or `number`",
        )
        .at(&row.place(), "`party` and `number` are needed here")
        .help("add whose bill it is, and its number: party = \"...\", number = \"...\"");
        return Err(row.lacks(&["party", "number"], fault, report));
    }
    let raw = raw?;
    let what = what(*word, raw, row, report)?;
    let occurred = occurred?.value;
    let posted = posted?;
    if let Some(posted) = posted.as_ref().filter(|posted| posted.value < occurred) {
        return Err(report.error(
            Fault::error(Code::Contradiction, "an event is posted before it occurred")
                .at(&posted.place, "posted on this day")
                .also(&row.place_of("occurred"), "occurred on this one")
                .help("post it on the day it occurred, or later"),
        ));
    }
    let mut doubts: Vec<Fault> = Vec::new();
    doubts.extend(until_of(&what, occurred, row, report)?);
    let text = |at: Option<At<String>>| at.map(|at| at.value);
    let (dated, posted) = (dated?, posted.map_or(occurred, |at| at.value));
    if let Some(dated) = dated.as_ref().filter(|dated| dated.value > posted) {
        doubts.push(
            Fault::warning(Code::Notice, "a paper is dated after the day it is posted on")
                .at(&dated.place, "its date")
                .also(&row.place_of("occurred"), "it came on this day")
                .help("is the year right?"),
        );
    }
    let event = BookEvent {
        id: text(id?).unwrap_or_else(made),
        kind: name,
        what,
        occurred,
        posted,
        party: text(party?),
        number: number?,
        dated: dated.map(|at| at.value),
        reason: text(reason?),
        shipment: shipment.map(str::to_owned),
        place: row.place(),
    };
    for doubt in doubts {
        event.ask(doubt, report);
    }
    Ok(event)
}

/// Holds the last day of an event against the day it happened: the doubt about it.
fn until_of(
    what: &BookKind,
    occurred: Date,
    row: &Table<'_>,
    report: &mut Report,
) -> Result<Option<Fault>, Reported> {
    match what {
        BookKind::Reserve { until: Some(until), .. } if until.value < occurred => Err(report
            .error(
            Fault::error(Code::Contradiction, "slabs are set aside until a day that is past")
                .at(&until.place, "their last day")
                .also(&row.place_of("occurred"), "set aside on this one")
                .help(
                    "write the last day, or leave `until` out: then they are kept until `release`",
                ),
        )),
        BookKind::Close { until, .. } => {
            let since = (occurred - until.value).num_days();
            let when = match since {
                ..0 => "before it ends",
                0..=366 => return Ok(None),
                _ => "more than a year after it ended",
            };
            let doubt = Fault::warning(Code::Notice, format!("a period is closed {when}"))
                .at(&until.place, "its last day")
                .also(&row.place_of("occurred"), "closed on this one")
                .help("is the year right?");
            Ok(Some(doubt))
        }
        _ => Ok(None),
    }
}

/// Holds the keys of an event against those of its kind.
fn keys_of(
    row: &Table<'_>,
    (name, needed, may): (&str, &[&'static str], &[&'static str]),
    report: &mut Report,
) -> Result<(), Reported> {
    // Any event may say whose paper it rests on, and why.
    let always = ["party", "number", "reason"];
    let mut sound = Ok(());
    for (key, form) in OWN {
        let is_there = row.has(key);
        if needed.contains(&key) && !is_there {
            let message = format!("an event of kind \"{name}\" lacks `{key}`");
            let fault = Fault::error(Code::MissingKey, message)
                .at(&row.place(), format!("`{key}` is needed here"))
                .help(format!("add {form}"));
            sound = Err(row.lacks(&[key], fault, report));
        } else if is_there
            && !needed.contains(&key)
            && !may.contains(&key)
            && !always.contains(&key)
        {
            let message = format!("`{key}` is no key of an event of kind \"{name}\"");
            let own: Vec<&str> = needed.iter().chain(may).copied().collect();
            sound = Err(report.error(
                Fault::error(Code::UnknownKey, message)
                    .at(&row.place_of(key), "not of this kind")
                    .help(format!("its own keys: {}", own.join(", "))),
            ));
        }
    }
    sound
}

/// What happened, of keys that are known to be there.
fn what(word: Word, raw: Raw, row: &Table<'_>, report: &mut Report) -> Result<BookKind, Reported> {
    let rate = raw.rate;
    let amount = |report: &mut Report| report.found(raw.amount.clone(), "the amount of an event");
    let yard = |report: &mut Report| report.found(raw.yard.clone(), "the yard of an event");
    Ok(match word {
        Word::Advance => {
            let amount = amount(report)?;
            let mut invoices = raw.invoice.into_iter();
            match (invoices.next(), invoices.next()) {
                (Some(invoice), None) => BookKind::Advance {
                    invoice,
                    amount,
                    bank: raw.bank,
                    is_refundable: raw.is_refundable,
                },
                _ => {
                    return Err(report.error(
                        Fault::error(Code::WrongType, "an advance is on one invoice")
                            .at(&row.place_of("invoice"), "expected one number")
                            .help("write an event for each invoice"),
                    ));
                }
            }
        }
        Word::Control => BookKind::Control { invoices: raw.invoice, bills: raw.bill, rate },
        Word::Owed => BookKind::Owed { of: raw.of, rate },
        Word::Billed => BookKind::Billed {
            lines: raw.lines,
            is_final: raw.is_final,
            rate,
            owed_rate: raw.owed_rate,
        },
        Word::Credit => BookKind::Credit { lines: raw.lines, against: raw.against, rate },
        Word::Paid => {
            BookKind::Paid { numbers: raw.bills, amount: raw.amount, bank: raw.bank, fee: raw.fee }
        }
        Word::Arrive => {
            BookKind::Arrive { boxes: raw.boxes, yard: yard(report)?, found: raw.found }
        }
        Word::Move => {
            BookKind::Move { slabs: raw.slabs, yard: yard(report)?, lines: raw.lines, rate }
        }
        Word::Issue => BookKind::Issue { slabs: raw.slabs, used: raw.used, customer: raw.customer },
        Word::Reserve => BookKind::Reserve {
            slabs: raw.slabs,
            customer: report.found(raw.customer, "the customer of an event")?,
            until: raw.until,
        },
        Word::Release => BookKind::Release { slabs: raw.slabs },
        Word::ReturnIn => {
            BookKind::ReturnIn { slabs: raw.slabs, yard: yard(report)?, customer: raw.customer }
        }
        Word::ReturnOut => BookKind::ReturnOut { slabs: raw.slabs, amount: amount(report)?, rate },
        Word::Loss => BookKind::Loss { slabs: raw.slabs },
        Word::Cut => BookKind::Cut {
            slab: report.found(raw.slab, "the slab of an event")?,
            pieces: raw.pieces,
            abnormal: raw.abnormal,
        },
        Word::Count => BookKind::Count { yard: yard(report)?, slabs: raw.slabs, found: raw.found },
        Word::TakeIn => BookKind::TakeIn {
            slab: report.found(raw.slab, "the slab of an event")?,
            like: report.found(raw.like, "what a slab is like")?,
            area: raw.area.map(|at| at.value),
        },
        Word::ConsignIn => {
            BookKind::ConsignIn { pieces: raw.pieces, yard: yard(report)?, stone: raw.stone }
        }
        Word::ConsignOut => BookKind::ConsignOut { slabs: raw.slabs },
        Word::DutyChanged => BookKind::DutyChanged {
            entry: report.found(raw.entry, "the entry of an event")?,
            lines: raw.lines,
            refund: raw.refund,
            interest: raw.interest,
            rate,
            owed_rate: raw.owed_rate,
        },
        Word::Claim => BookKind::Claim {
            state: report.found(raw.state, "the state of a claim")?,
            amount: amount(report)?,
            bank: raw.bank,
            rate,
        },
        Word::WriteDown | Word::WriteBack => BookKind::Write {
            is_down: word == Word::WriteDown,
            slabs: raw.slabs,
            worth: report.found(raw.worth, "what slabs are worth")?,
        },
        Word::Close => BookKind::Close {
            until: report.found(raw.until, "the day of a close")?,
            rates: raw.rates,
            is_final: raw.is_final,
            debits: raw.debits,
        },
        Word::Reverse => {
            BookKind::Reverse { event: report.found(raw.event, "the event that is taken back")? }
        }
    })
}
