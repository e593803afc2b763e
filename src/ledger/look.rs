//! What an event is looked up by: its papers, amounts at its rates, the slabs in boxes.

use smol_str::SmolStr;

use super::entry::{Line, part_of};
use super::posting::{Posting, booked};
use super::state::Open;
use super::undo::Of;
use super::whereabouts::Where;
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::quantity::{Money, Quote};
use crate::trade::{Account, BookEvent, BookKind};

impl Posting<'_, '_> {
    /// What an amount came to at the bank: as stated, or the amount itself where it is of the books.
    pub(super) fn paid_in_books(
        &self,
        amount: &At<Money>,
        bank: Option<&At<Money>>,
        report: &mut Report,
    ) -> Result<i64, Reported> {
        let currency = self.entry.currency;
        let own = match bank {
            Some(bank) if bank.currency() == currency => return minor_of(bank, report),
            Some(bank) => Some(&bank.place),
            None if amount.currency() == currency => return minor_of(amount, report),
            None => None,
        };
        let place = own.unwrap_or(&amount.place);
        Err(report.error(
            Fault::error(
                Code::MissingKey,
                format!("what went through the bank is not known in {currency}"),
            )
            .at(place, "of this")
            .help(format!("add bank = \"... {currency}\", as the bank's statement has it")),
        ))
    }

    /// The fault for a slab that is not where an event needs it.
    fn not_there(&self, slab: Of, needs: &str, report: &mut Report) -> Reported {
        let (id, state) = (self.ledger.slab_name(slab), self.slab_at(slab));
        let word = state.map_or("", |state| state.at.word());
        let by = state.and_then(|state| state.moved_by);
        let why = match state.map(|state| &state.at) {
            Some(Where::Abroad) => "control of it has not passed".to_owned(),
            _ => format!("it is {word}"),
        };
        let message = format!("slab {id} is not {needs}: {why}");
        let fault = Fault::error(Code::Contradiction, message)
            .at(&self.event.place, format!("this event is of slabs {needs}"));
        report.error(match by.and_then(|by| self.ledger.books.events.get(by)) {
            Some(by) => fault.also(&by.place, format!("{word} since {}", by.posted)).help(
                "correct the day of the one that is wrong, or take it back by kind = \"reverse\"",
            ),
            None => {
                let fault = fault.help("write first when control of it passed: kind = \"control\"");
                match self.passes_at(slab.0) {
                    Some((place, word)) => fault.also(place, word),
                    None => fault,
                }
            }
        })
    }

    /// Where control of goods of a shipment passes later on; where its booking stands, if no event says so.
    fn passes_at(&self, shipment: usize) -> Option<(&Place, String)> {
        let freeze = self.ledger.freeze(shipment)?;
        let is_control = |event: &&BookEvent| {
            matches!(event.what, BookKind::Control { .. })
                && event.shipment.as_ref() == Some(&freeze.shipment)
        };
        let control = self.ledger.books.events.iter().find(is_control);
        let event = control.map(|event| {
            (&event.place, format!("control of its shipment's goods passes on {}", event.posted))
        });
        event.or_else(|| Some((&freeze.place, "its shipment is booked here".to_owned())))
    }

    /// Holds slabs against where they have to be, and takes the currency of their books.
    pub(super) fn need(
        &mut self,
        slabs: &[Of],
        needs: &str,
        serves: fn(&Where) -> bool,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let mut sound = Ok(());
        for of in slabs {
            self.currency(of.0);
            let at = self.slab_mut(*of).map(|slab| slab.at.clone());
            if !at.is_some_and(|at| serves(&at)) {
                sound = Err(self.not_there(*of, needs, report));
            }
        }
        sound
    }

    /// The fault for what can happen once.
    pub(super) fn twice(&self, what: &str, first: usize, report: &mut Report) -> Reported {
        let fault = Fault::error(Code::Duplicate, format!("{what} a second time"))
            .at(&self.event.place, "again here")
            .help("take one of the two back by an event of kind \"reverse\", or leave it out");
        report.error(match self.ledger.books.events.get(first) {
            Some(first) => fault.also(&first.place, "first here"),
            None => fault,
        })
    }

    /// The rate of a charge that was owed; for one that is in the book currency there is none.
    pub(super) fn at_owed_rate(&self, of: Of, amount: Money) -> Option<i64> {
        let owed = self.charge_state(of)?.owed.as_ref()?;
        booked(amount, owed.rate.as_ref(), self.entry.currency)
    }

    /// The slabs in boxes of a shipment; in all of them where none is named.
    pub(super) fn inside(
        &self,
        shipment: usize,
        boxes: &[At<String>],
        report: &mut Report,
    ) -> Result<Vec<usize>, Reported> {
        let freeze = report.found(self.ledger.freeze(shipment), "a booked estimate")?;
        let mut wanted = Vec::new();
        for name in boxes {
            let Some(at) = freeze.boxes.iter().position(|one| one.label == name.value) else {
                let known: Vec<&str> = freeze.boxes.iter().map(|one| one.label.as_str()).collect();
                return Err(report.error(
                    Fault::error(
                        Code::UnknownReference,
                        format!("no box is called \"{}\"", name.value),
                    )
                    .at(&name.place, "not in the booked load")
                    .help(format!("its boxes: {}", known.join(", "))),
                ));
            };
            wanted.push(at);
        }
        let is_in = |container: usize| boxes.is_empty() || wanted.contains(&container);
        let own = freeze.slabs.iter().enumerate().filter(|(_, slab)| is_in(slab.container));
        Ok(own.map(|(at, _)| at).collect())
    }

    /// The part of a book amount that some of an amount is, rounded once; all of all of it.
    pub(super) fn part(
        &self,
        book: i64,
        some: i64,
        all: i64,
        report: &mut Report,
    ) -> Result<i64, Reported> {
        self.fits(part_of(book, (some, all), self.entry.currency), report)
    }

    /// An exchange difference: a loss is above nothing.
    pub(super) fn exchange(
        &mut self,
        shipment: Option<usize>,
        book: i64,
        report: &mut Report,
    ) -> Result<(), Reported> {
        if book == 0 {
            return Ok(());
        }
        self.plain(Line { shipment, ..Line::on(Account::Exchange, book) }, report)
    }

    /// The party of the event; empty where it has none.
    pub(super) fn own_party(&self) -> SmolStr {
        self.event.party.as_deref().unwrap_or_default().into()
    }

    /// The number of the event's paper.
    pub(super) fn own_number(&self) -> SmolStr {
        self.event.number.as_ref().map_or("", |at| &at.value).into()
    }

    /// An amount in the currency of the books at a rate of the event.
    pub(super) fn convert(
        &self,
        amount: Money,
        rate: Option<&Quote>,
        key: &str,
        report: &mut Report,
    ) -> Result<i64, Reported> {
        let currency = self.entry.currency;
        booked(amount, rate, currency).ok_or_else(|| {
            let own = amount.currency();
            report.error(
                Fault::error(Code::MissingKey, format!("{amount} needs a rate into {currency}"))
                    .at(&self.event.place, "of this event")
                    .help(format!("add {key} = \"1 {own} = ... {currency}\", the rate of its day")),
            )
        })
    }

    /// An open item of the event's party and paper.
    pub(super) fn item(
        &self,
        account: Account,
        (amount, book): (Money, i64),
        rate: Option<Quote>,
        shipment: Option<usize>,
    ) -> Open {
        Open {
            account,
            party: self.own_party(),
            number: self.own_number(),
            shipment,
            charge: SmolStr::default(),
            amount: amount.minor().unwrap_or(0),
            currency: amount.currency(),
            book,
            rate,
            book_currency: self.entry.currency,
            sign: 0,
            since: self.event.posted,
            event: self.at,
        }
    }
}

/// An amount in minor units.
pub(super) fn minor_of(amount: &At<Money>, report: &mut Report) -> Result<i64, Reported> {
    report.fits(amount.value.minor(), &amount.place)
}
