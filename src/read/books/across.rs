//! What is held against each other over all of the books, whichever shipment it is of: names that are nearly the same,
//! and rates of exchange. Books that are read part by part gather it of each part, and ask it once.

use std::collections::{BTreeMap, BTreeSet};

use super::parties::{bills_estimate, opened, parties, payees};
use super::rates::{BookedRates, stated};
use super::{Books, misspelt};
use crate::fault::{Code, Fault, Place, Report};
use crate::quantity::Quote;
use crate::read::alike::as_said;
use crate::trade::{Answer, BookEvent, BookKind};

/// A file by its position, and the event in it: what comes first is known to what comes later.
pub type Spot = (usize, usize);

/// A name, by where it stands.
type Named = (Spot, String, Place);

/// What is held against each other.
#[derive(Debug, Default)]
pub struct Across {
    /// The parties that nobody asks about, as they bill what was estimated or their event has a reason, and those that
    /// events bring.
    payees: Vec<Named>,
    opened: Vec<Named>,
    /// The events that bring a party and bill what was estimated.
    billed: BTreeSet<Spot>,
    /// The stones of booked goods, and those of consigned slabs; the slabs.
    stones: Vec<Named>,
    consigned_of: Vec<Named>,
    consigned: Vec<Named>,
    /// The consigned slabs whose event has a reason.
    answered: Vec<Named>,
    booked: BookedRates,
    /// The doubts about rates that are held against those of their own shipment, and the rates that have none there.
    doubts: Vec<(Spot, Fault)>,
    rates: Vec<(Spot, Quote, Place)>,
    /// The doubts about amounts of the bank for what came at a rate that is held against all: of what came, of what
    /// pays it, and the doubt. Where the rate is asked about, they are not told.
    of_bank: Vec<(Spot, Spot, Fault)>,
    /// The way to answer what is asked of an event.
    answers: BTreeMap<Spot, Answer>,
}

/// Whether an event is of all shipments at once.
fn is_of_all(event: &BookEvent) -> bool {
    event.shipment.is_none() && matches!(event.what, BookKind::Close { .. })
}

/// Names, each where it stands first.
fn firsts<'n>(all: impl Iterator<Item = (Spot, (&'n str, &'n Place))>) -> Vec<Named> {
    let mut known: BTreeMap<&str, (Spot, &Place)> = BTreeMap::new();
    for (at, (name, place)) in all {
        let first = known.entry(name).or_insert((at, place));
        if at < first.0 {
            *first = (at, place);
        }
    }
    known.into_iter().map(|(name, (at, place))| (at, name.to_owned(), place.clone())).collect()
}

/// A doubt with the way to answer it.
fn answered(doubt: Fault, answer: Option<&Answer>) -> Fault {
    match answer {
        Some(answer) => doubt.help(answer.to_string()),
        None => doubt,
    }
}

impl Across {
    /// What is held against each other of books: `file` has the position of a shipment's file, `spot` that of an event.
    pub fn of(
        books: &Books,
        (file, spot): (impl Fn(usize) -> usize, impl Fn(usize) -> Spot),
    ) -> Self {
        let freezes = || (0..).zip(&books.freezes).map(|(at, freeze)| ((file(at), 0), freeze));
        let mut own = Self {
            payees: firsts(
                freezes()
                    .flat_map(|(at, freeze)| payees(freeze).map(move |one| (at, one)))
                    .chain(opened(&books.events, false).map(|(at, party)| (spot(at), party))),
            ),
            opened: firsts(opened(&books.events, true).map(|(at, party)| (spot(at), party))),
            stones: firsts(freezes().flat_map(|(at, freeze)| {
                freeze.lines.iter().map(move |line| (at, (line.stone.as_str(), &freeze.place)))
            })),
            ..Self::default()
        };
        let brought: BTreeSet<Spot> = own.opened.iter().map(|(at, ..)| *at).collect();
        let billed = books.events.iter().enumerate().filter(|(_, event)| bills_estimate(event));
        own.billed = billed.map(|(at, _)| spot(at)).filter(|at| brought.contains(at)).collect();
        let opens = books.events.iter().enumerate().map(|(at, event)| (spot(at), event));
        let opens = opens.filter(|(at, _)| brought.contains(at));
        own.answers = opens.map(|(at, event)| (at, event.answer())).collect();
        let mut of_shipments: BTreeMap<&str, BookedRates> = BTreeMap::new();
        for freeze in &books.freezes {
            let rates = of_shipments.entry(&freeze.shipment).or_default();
            rates.extend(&BookedRates::of(freeze));
            own.booked.extend(rates);
        }
        for (at, event) in books.events.iter().enumerate().filter(|(_, event)| !is_of_all(event)) {
            let (at, is_asked) = (spot(at), event.is_asked());
            let known = event.shipment.as_deref().and_then(|own| of_shipments.get(own));
            for (quote, place) in stated(event).into_iter().filter(|_| is_asked) {
                let Some(known) = known.filter(|known| known.has(&quote)) else {
                    own.rates.push((at, quote, place.clone()));
                    own.answers.insert(at, event.answer());
                    continue;
                };
                let doubt = known.doubt(&quote, place);
                own.doubts.extend(doubt.map(|doubt| (at, event.doubted(doubt))));
            }
            if let BookKind::ConsignIn { pieces, stone, .. } = &event.what {
                own.answers.insert(at, event.answer());
                let stones = if is_asked { &mut own.consigned_of } else { &mut own.stones };
                stones.extend(stone.iter().map(|name| (at, name.clone(), event.place.clone())));
                let slabs = pieces.iter().map(|piece| &piece.slab);
                let list = if is_asked { &mut own.consigned } else { &mut own.answered };
                list.extend(slabs.map(|id| (at, id.value.clone(), id.place.clone())));
            }
        }
        own
    }

    /// Holds doubts about amounts of the bank until it is known which rates are asked about.
    pub fn hold(&mut self, of_bank: impl Iterator<Item = (Spot, Spot, Fault)>) {
        self.of_bank.extend(of_bank);
    }

    /// Takes over what another part of the books has.
    pub fn add(&mut self, other: Self) {
        self.payees.extend(other.payees);
        self.opened.extend(other.opened);
        self.billed.extend(other.billed);
        self.stones.extend(other.stones);
        self.consigned_of.extend(other.consigned_of);
        self.consigned.extend(other.consigned);
        self.answered.extend(other.answered);
        self.booked.extend(&other.booked);
        self.doubts.extend(other.doubts);
        self.rates.extend(other.rates);
        self.of_bank.extend(other.of_bank);
        self.answers.extend(other.answers);
    }

    /// Warns of names that are nearly another, and of rates that are far from those that were booked.
    /// `closes` are those of the yards, which every part of the books has.
    pub fn told<'e>(
        mut self,
        closes: impl Iterator<Item = (Spot, &'e BookEvent)>,
        report: &mut Report,
    ) {
        for names in [
            &mut self.payees,
            &mut self.opened,
            &mut self.stones,
            &mut self.consigned_of,
            &mut self.consigned,
            &mut self.answered,
        ] {
            names.sort_by_key(|(at, ..)| *at);
        }
        let opened = self.opened.iter().filter_map(|(at, name, place)| {
            let answer = *self.answers.get(at)?;
            Some((&**name, place, (self.billed.contains(at), answer)))
        });
        let payees = self.payees.iter().map(|(_, name, place)| (&**name, place));
        parties(payees, opened, report);
        self.stones_told(report);
        self.consigned_told(report);
        for (at, event) in closes.filter(|(_, event)| is_of_all(event) && event.is_asked()) {
            self.answers.insert(at, event.answer());
            let of_close = stated(event).into_iter();
            self.rates.extend(of_close.map(|(quote, place)| (at, quote, place.clone())));
        }
        for (at, quote, place) in &self.rates {
            let doubt = self.booked.doubt(quote, place);
            let doubt = doubt.map(|doubt| answered(doubt, self.answers.get(at)));
            self.doubts.extend(doubt.map(|doubt| (*at, doubt)));
        }
        let asked: BTreeSet<Spot> = self.doubts.iter().map(|(at, _)| *at).collect();
        let open = self.of_bank.into_iter().filter(|(came, ..)| !asked.contains(came));
        self.doubts.extend(open.map(|(_, at, doubt)| (at, doubt)));
        self.doubts.sort_by_key(|(at, _)| *at);
        self.doubts.into_iter().for_each(|(_, doubt)| report.add(doubt));
    }

    /// Warns of stones of consigned slabs that are nearly called as another.
    fn stones_told(&self, report: &mut Report) {
        let mut known: BTreeMap<&str, &Place> = BTreeMap::new();
        for (_, name, place) in &self.stones {
            known.entry(name).or_insert(place);
        }
        for (at, name, place) in &self.consigned_of {
            let names: Vec<&str> = known.keys().copied().collect();
            if let Some((near, first)) =
                misspelt(name, &names).and_then(|near| known.get_key_value(near))
            {
                let message = format!("\"{name}\" is a stone of its own, and \"{near}\" is known");
                let doubt = Fault::warning(Code::UnknownReference, message)
                    .at(place, "consigned here")
                    .also(first, "known from here")
                    .help(format!("if they are one, write stone = \"{near}\""));
                report.add(answered(doubt, self.answers.get(at)));
            }
            known.entry(name).or_insert(place);
        }
    }

    /// Warns of consigned slabs whose numbers are said alike.
    fn consigned_told(&self, report: &mut Report) {
        let mut known: BTreeMap<String, (&str, &Place)> = BTreeMap::new();
        for (_, name, place) in &self.answered {
            known.entry(as_said(name)).or_insert((name, place));
        }
        for (at, name, place) in &self.consigned {
            let (first, first_place) = *known.entry(as_said(name)).or_insert((name, place));
            if first != name {
                let message = format!("consigned slabs \"{first}\" and \"{name}\" sound like one");
                let doubt = Fault::warning(Code::Notice, message)
                    .at(place, "listed as one of its own")
                    .also(first_place, "the other")
                    .help(format!("if they are one, write \"{first}\" here, too"));
                report.add(answered(doubt, self.answers.get(at)));
            }
        }
    }
}
