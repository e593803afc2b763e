//! An event of the books: what happened to booked goods and their bills, and on which day it is posted.

use std::fmt;

use smol_str::SmolStr;

use super::calendar::{Date, word_of};
use super::charge::Treatment;
use crate::fault::{At, Fault, Place, Report};
use crate::quantity::{Area, Money, Quote};

/// The way to answer a doubt about an event, in words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Answer {
    /// The line at which the event opens.
    line: usize,
    /// Whether a line of its bill has a reason of its own, which answers nothing.
    has_other: bool,
}

impl fmt::Display for Answer {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { line, has_other } = self;
        write!(out, "if it is right, say why by a `reason` of the event (line {line})")?;
        let other = "; that of a new charge says where its cost goes, and answers nothing";
        out.write_str(if *has_other { other } else { ": reason = \"...\"" })
    }
}

/// One event.
#[derive(Debug, Clone)]
pub struct BookEvent {
    /// Its name, never used again: the user's, or made of its file and its position.
    pub id: String,
    /// The word of what happened.
    pub kind: &'static str,
    /// What happened.
    pub what: BookKind,
    /// The day it happened.
    pub occurred: Date,
    /// The day it stands under in the ledger.
    pub posted: Date,
    /// Whose paper it rests on.
    pub party: Option<String>,
    /// The number of that paper.
    pub number: Option<At<String>>,
    /// The date of that paper.
    pub dated: Option<Date>,
    /// Why, where that is not plain.
    pub reason: Option<String>,
    /// The shipment whose file it stands in; `None`: a yard's file.
    pub shipment: Option<String>,
    /// Where it stands.
    pub place: Place,
}

impl BookEvent {
    /// Whether a doubt about it is told: its reason answers every one. A kind that needs a reason has it for its own
    /// end, and answers nothing by it.
    pub fn is_asked(&self) -> bool {
        self.reason.is_none() || self.needs_reason()
    }

    /// The doubt with the way to answer it.
    #[must_use]
    pub fn doubted(&self, doubt: Fault) -> Fault {
        if self.needs_reason() { doubt } else { doubt.help(self.answer().to_string()) }
    }

    /// The way to answer a doubt about it.
    pub fn answer(&self) -> Answer {
        let is_new = |line: &BillLine| matches!(line.of, Billed::New { .. });
        let has_other = match &self.what {
            BookKind::Billed { lines, .. }
            | BookKind::Credit { lines, .. }
            | BookKind::DutyChanged { lines, .. }
            | BookKind::Move { lines, .. } => lines.iter().any(is_new),
            _ => false,
        };
        Answer { line: self.place.line, has_other }
    }

    /// Tells a doubt about it, unless its reason answers that.
    pub fn ask(&self, doubt: Fault, report: &mut Report) {
        if self.is_asked() {
            report.add(self.doubted(doubt));
        }
    }

    fn needs_reason(&self) -> bool {
        matches!(
            self.what,
            BookKind::Loss { .. } | BookKind::Write { .. } | BookKind::Reverse { .. }
        )
    }

    /// The day it is posted on: a close on the last day of its period.
    pub fn posted_on(&self) -> Date {
        match &self.what {
            BookKind::Close { until, .. } => until.value,
            _ => self.posted,
        }
    }
}

/// What happened, and what the event states.
#[derive(Debug, Clone)]
pub enum BookKind {
    /// Money paid before the goods pass.
    Advance {
        /// The invoice.
        invoice: At<String>,
        /// How much.
        amount: At<Money>,
        /// What left the bank, in the currency of the books.
        bank: Option<At<Money>>,
        /// Whether it is paid back in money if no goods come: a claim, and no advance on goods.
        is_refundable: bool,
    },
    /// Control of goods passes.
    Control {
        /// The invoices; none named: all of them.
        invoices: Vec<At<String>>,
        /// The bills of lading whose goods pass; none named: all of them.
        bills: Vec<At<String>>,
        /// The day's rate.
        rate: Option<At<Quote>>,
    },
    /// Charges are owed.
    Owed {
        /// The charges, by key or by name.
        of: Vec<At<String>>,
        /// The day's rate.
        rate: Option<At<Quote>>,
    },
    /// A bill comes.
    Billed {
        /// What it bills.
        lines: Vec<BillLine>,
        /// Whether nothing more comes of the charges on it.
        is_final: bool,
        /// The rate of the day it is posted, where it needs one.
        rate: Option<At<Quote>>,
        /// The rate of its currency on the day its charges were owed, where they were estimated in another.
        owed_rate: Option<At<Quote>>,
    },
    /// A bill is credited, or a rebate is given.
    Credit {
        /// What it credits.
        lines: Vec<BillLine>,
        /// The bill that it is set against; a receivable where none is named.
        against: Option<At<String>>,
        /// The rate of the day it is posted, where it needs one.
        rate: Option<At<Quote>>,
    },
    /// Bills are paid.
    Paid {
        /// Their numbers.
        numbers: Vec<At<String>>,
        /// What is paid of them; all that is open where left out.
        amount: Option<At<Money>>,
        /// What left the bank, in the currency of the books.
        bank: Option<At<Money>>,
        /// What the bank charges.
        fee: Option<At<Money>>,
    },
    /// Boxes are unloaded in a yard.
    Arrive {
        /// The boxes; none named: all of them.
        boxes: Vec<At<String>>,
        /// The yard.
        yard: At<String>,
        /// What is not as it was packed.
        found: Vec<Found>,
    },
    /// Slabs go to another yard.
    Move {
        /// The slabs.
        slabs: Vec<At<String>>,
        /// The yard they go to.
        yard: At<String>,
        /// What is billed for it.
        lines: Vec<BillLine>,
        /// The rate of the day, where the bill needs one.
        rate: Option<At<Quote>>,
    },
    /// Slabs are set aside for a customer.
    Reserve {
        /// The slabs.
        slabs: Vec<At<String>>,
        /// For whom.
        customer: String,
        /// The last day; `None`: until they are released.
        until: Option<At<Date>>,
    },
    /// Slabs that were set aside are free again.
    Release {
        /// The slabs.
        slabs: Vec<At<String>>,
    },
    /// Slabs leave stock.
    Issue {
        /// The slabs.
        slabs: Vec<At<String>>,
        /// What for.
        used: Use,
        /// To whom.
        customer: Option<String>,
    },
    /// Slabs that were issued come back.
    ReturnIn {
        /// The slabs.
        slabs: Vec<At<String>>,
        /// The yard they come to.
        yard: At<String>,
        /// Who had them.
        customer: Option<String>,
    },
    /// Slabs go back to the supplier.
    ReturnOut {
        /// The slabs.
        slabs: Vec<At<String>>,
        /// What the supplier agrees to credit.
        amount: At<Money>,
        /// The day's rate, where it needs one.
        rate: Option<At<Quote>>,
    },
    /// Slabs are lost in a yard or on the way.
    Loss {
        /// The slabs.
        slabs: Vec<At<String>>,
    },
    /// A slab is cut into pieces.
    Cut {
        /// The slab.
        slab: At<String>,
        /// What is left of it.
        pieces: Vec<Piece>,
        /// The area wasted beyond what a cut takes.
        abnormal: Option<At<Area>>,
    },
    /// A yard is counted.
    Count {
        /// The yard.
        yard: At<String>,
        /// All slabs that stand there.
        slabs: Vec<At<String>>,
        /// What is not as the books have it.
        found: Vec<Found>,
    },
    /// A slab that came over is taken in.
    TakeIn {
        /// The slab.
        slab: At<String>,
        /// The slab of its shipment that it is like.
        like: At<String>,
        /// What it measures, where it is not as large.
        area: Option<Area>,
    },
    /// Slabs of another come to a yard.
    ConsignIn {
        /// The slabs.
        pieces: Vec<Piece>,
        /// The yard.
        yard: At<String>,
        /// Their stone.
        stone: Option<String>,
    },
    /// Slabs of another leave.
    ConsignOut {
        /// The slabs.
        slabs: Vec<At<String>>,
    },
    /// Customs ask for more duty on an entry, or give some back.
    DutyChanged {
        /// The entry.
        entry: At<String>,
        /// By how much each charge changes.
        lines: Vec<BillLine>,
        /// The rule under which it is given back; none: more is asked for.
        refund: Option<String>,
        /// The interest on it.
        interest: Option<At<Money>>,
        /// The rate of the day it is posted, where it needs one.
        rate: Option<At<Quote>>,
        /// The rate of its currency on the day its charges were owed, where they were owed in another.
        owed_rate: Option<At<Quote>>,
    },
    /// Something is claimed for what was lost.
    Claim {
        /// How far it is.
        state: ClaimState,
        /// How much.
        amount: At<Money>,
        /// What came to the bank, in the currency of the books, where it is paid.
        bank: Option<At<Money>>,
        /// The rate of the day it is admitted, where it needs one.
        rate: Option<At<Quote>>,
    },
    /// The cost of slabs is written down, or taken back up.
    Write {
        /// Whether it goes down.
        is_down: bool,
        /// The slabs.
        slabs: Vec<At<String>>,
        /// What each can be sold for, less cost to finish and to sell.
        worth: At<Money>,
    },
    /// A period is closed.
    Close {
        /// Its last day.
        until: At<Date>,
        /// The closing rates.
        rates: Vec<At<Quote>>,
        /// Whether nothing is posted in it any more.
        is_final: bool,
        /// What was debited up to then, as `audit` says it: what is posted in the period unseen moves it.
        debits: Option<At<Money>>,
    },
    /// An event is taken back.
    Reverse {
        /// Its name.
        event: At<String>,
    },
}

impl BookKind {
    /// The yard that it names.
    pub fn yard(&self) -> Option<&At<String>> {
        match self {
            Self::Arrive { yard, .. }
            | Self::Move { yard, .. }
            | Self::ReturnIn { yard, .. }
            | Self::ConsignIn { yard, .. }
            | Self::Count { yard, .. } => Some(yard),
            _ => None,
        }
    }
}

/// A line of a bill or a credit.
#[derive(Debug, Clone)]
pub struct BillLine {
    /// The charge: one that was estimated, by its key, or a new one.
    pub of: Billed,
    /// How much.
    pub amount: At<Money>,
    /// Where it stands.
    pub place: Place,
}

/// What a line of a bill is for.
#[derive(Debug, Clone)]
pub enum Billed {
    /// A charge, by its key.
    Charge(At<String>),
    /// Several charges, of one shipment or of several, together.
    Charges {
        /// Each by its key, or by the name of several.
        of: Vec<At<String>>,
        /// By what the amount is divided among them.
        by: BillBy,
    },
    /// Something that was never estimated.
    New {
        /// What it is called.
        name: At<String>,
        /// The boxes whose slabs share it; none named: all slabs.
        boxes: Vec<At<String>>,
        /// The slabs that share it, in the place of boxes: those that were moved, for the freight of that.
        slabs: Vec<At<String>>,
        /// By what they share it.
        by: BillBy,
        /// Where it goes.
        treatment: Treatment,
        /// Why.
        reason: String,
    },
}

/// By what an amount of a bill is divided.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BillBy {
    /// The billed area of the slabs.
    Area,
    /// Their mass.
    Mass,
    /// Their number.
    Count,
    /// What the charges were estimated at.
    Value,
    /// The number of boxes that the slabs lie in: each box has the same, and its slabs share that by area.
    Box,
}

impl BillBy {
    /// Each with its written form.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Area, "area"),
        (Self::Mass, "mass"),
        (Self::Count, "count"),
        (Self::Value, "value"),
        (Self::Box, "box"),
    ];
}

/// What was found of a slab when its box was unloaded.
#[derive(Debug, Clone)]
pub struct Found {
    /// The slab.
    pub slab: At<String>,
    /// How it is.
    pub state: FoundState,
    /// Its area, where it was measured again.
    pub area: Option<Area>,
    /// Its quality, where it is another.
    pub quality: Option<SmolStr>,
    /// What else was seen.
    pub remark: Option<String>,
}

/// A piece of a slab.
#[derive(Debug, Clone)]
pub struct Piece {
    /// Its number.
    pub slab: At<String>,
    /// What it measures.
    pub area: Area,
    /// Its quality, where it is not that of the slab.
    pub quality: Option<SmolStr>,
}

/// How a slab is that is not as it was packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FoundState {
    /// It is broken beyond use.
    Broken,
    /// It is not there.
    Short,
    /// It is there and was never packed: listed at no cost.
    Over,
    /// It measures otherwise; its cost and its weight stay.
    Measured,
    /// It is of a lower quality; its cost stays until it is written down.
    Downgraded,
}

impl FoundState {
    /// Every state with its written form.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Broken, "broken"),
        (Self::Short, "short"),
        (Self::Over, "over"),
        (Self::Measured, "re-measured"),
        (Self::Downgraded, "downgraded"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// Whether the slab is lost.
    pub fn is_loss(self) -> bool {
        matches!(self, Self::Broken | Self::Short)
    }
}

/// What slabs leave stock for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Use {
    /// They are sold.
    #[default]
    Sold,
    /// The importer uses them.
    Own,
    /// They are given away as samples.
    Sample,
}

impl Use {
    /// Every use with its written form.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Sold, "sold"), (Self::Own, "own use"), (Self::Sample, "sample")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// How far a claim is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClaimState {
    /// It is made: nothing is posted (IAS 37, paragraph 31, from memory).
    Made,
    /// It is admitted: an asset of its own (IAS 37, paragraph 33).
    Admitted,
    /// It is paid.
    Paid,
    /// It is refused: nothing is posted.
    Refused,
}

impl ClaimState {
    /// Every state with its written form.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Made, "made"),
        (Self::Admitted, "admitted"),
        (Self::Paid, "paid"),
        (Self::Refused, "refused"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}
