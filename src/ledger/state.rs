//! How slabs, charges and open items stand.

use std::collections::BTreeMap;

use rustc_hash::FxHashMap;
use smol_str::SmolStr;

use super::entry::{Entry, Line};
use super::owed::Owed;
use super::undo::{Of, Undo};
use super::whereabouts::{Lost, Where};
use crate::fault::Fault;
use crate::quantity::{Area, Currency, Cut, Decimal, Money, Overflow, Quote, Weights};
use crate::read::Books;
use crate::trade::{Account, BillBy, Date, Freeze, FrozenSlab, Leg, Sharing, Treatment};

/// How a slab stands. Amounts are in minor units of the books.
#[derive(Debug, Clone)]
pub struct SlabState {
    /// Where it is.
    pub at: Where,
    /// The event that brought it there, by position.
    pub moved_by: Option<usize>,
    /// The day it came to a yard.
    pub arrived: Option<Date>,
    /// What charges have come to on it.
    pub recognised: i64,
    /// What it took of slabs whose loss is normal.
    pub taken: i64,
    /// What it gave to others, as its loss is normal.
    pub given: i64,
    /// What the account of where it is holds for it.
    pub held: i64,
    /// What it is written down by.
    pub allowance: i64,
    /// What it can be sold for, where it was written down.
    pub worth: Option<i64>,
    /// What its exact total has beyond the booked one, in parts of [`Cut::WHOLE`].
    pub carried: i64,
    /// The event that set it aside for a customer, by position.
    pub reserved: Option<usize>,
    /// How it was lost, or cut.
    pub lost: Option<Lost>,
    /// What it measures, where that was found to be other than was billed.
    pub measured: Option<Area>,
    /// Its quality, where that was found to be another.
    pub quality: Option<SmolStr>,
}

impl SlabState {
    /// A slab that nothing has happened to.
    pub(super) fn new() -> Self {
        Self {
            at: Where::Abroad,
            moved_by: None,
            arrived: None,
            recognised: 0,
            taken: 0,
            given: 0,
            held: 0,
            allowance: 0,
            worth: None,
            carried: 0,
            reserved: None,
            lost: None,
            measured: None,
            quality: None,
        }
    }

    /// By how much more it is written down where it can be sold for so much; less than nothing: by how much it is
    /// taken back up, to its cost at the most (IAS 2, paragraphs 28 to 33).
    pub fn write_down_to(&self, worth: i64) -> i64 {
        (self.held - worth).max(0) - self.allowance
    }
}

/// A piece of a slab.
#[derive(Debug, Clone)]
pub struct Piece {
    /// The piece as a slab of its own.
    pub slab: FrozenSlab,
    /// The slab that it was cut from, by position.
    pub of: usize,
    /// Whether it is no piece: it came over, was taken in, and is like that slab.
    pub is_over: bool,
}

/// The slabs of one line in one box of which some were lost, or a slab that was cut and its pieces.
#[derive(Debug, Clone)]
pub(super) struct Loss {
    /// The part of the cost of what was lost that is given to others, and the part that is expensed.
    pub(super) parts: Weights,
    /// Those who take it, by position, and their weights.
    pub(super) takers: Vec<usize>,
    /// By what they take it.
    pub(super) by: Weights,
    /// What the lost slabs have borne so far, and what of it was given: rounded of the sum, not of each slab.
    pub(super) borne: i64,
    pub(super) given: i64,
}

/// How a charge stands.
#[derive(Debug, Clone)]
pub struct ChargeState {
    /// Its key.
    pub key: SmolStr,
    /// What it is called.
    pub name: SmolStr,
    /// Who bills it.
    pub payee: SmolStr,
    /// Where it goes.
    pub treatment: Treatment,
    /// Whether it is levied at the border: what comes back of it is a tax, and of any other charge a deposit.
    pub is_of_customs: bool,
    /// The invoice that has it.
    pub invoice: Option<SmolStr>,
    /// Whether no money moves for it.
    pub moves_no_money: bool,
    /// What was estimated: as it is charged, in the book currency, and the rate between the two unless it is a
    /// planning rate. None for what was never estimated.
    pub estimate: Option<(Money, i64, Option<Quote>)>,
    /// Who shares it, where it was never estimated.
    pub own: Option<Sharing>,
    /// When it was owed.
    pub owed: Option<Owed>,
    /// What is accrued for it, by position among the open items.
    pub accrual: Option<usize>,
    /// The bills that came, each with its event and amount.
    pub bills: Vec<(usize, Money)>,
    /// The event that says nothing more comes of it.
    pub closed: Option<usize>,
    /// What it has come to in the books, wherever it goes.
    pub booked: i64,
}

impl ChargeState {
    /// Whether nothing is left of it: it was never estimated, and the bill that brought it was taken back.
    pub fn is_gone(&self) -> bool {
        self.estimate.is_none() && self.owed.is_none()
    }

    /// What was billed so far, less what was credited, in each currency. Goods are billed by their invoice, which counts
    /// when control of them passes.
    ///
    /// # Errors
    /// Where a sum cannot be held.
    pub fn billed_so_far(&self) -> Result<Vec<Money>, Overflow> {
        let is_of_goods = self.invoice.is_some() && !self.moves_no_money;
        let invoice = self.estimate.filter(|_| is_of_goods && self.owed.is_some());
        let bills = self.bills.iter().map(|(_, amount)| *amount);
        let mut billed: Vec<Money> = Vec::new();
        for amount in invoice.map(|(amount, ..)| amount).into_iter().chain(bills) {
            match billed.iter_mut().find(|sum| sum.currency() == amount.currency()) {
                Some(sum) => *sum = sum.plus(amount)?,
                None => billed.push(amount),
            }
        }
        Ok(billed)
    }
}

/// Something that is owed in money, to others or by them.
#[derive(Debug, Clone)]
pub struct Open {
    /// Its account.
    pub account: Account,
    /// The party.
    pub party: SmolStr,
    /// The number of its paper; the key of a charge where none has come.
    pub number: SmolStr,
    /// The shipment, where it is of one.
    pub shipment: Option<usize>,
    /// The charge of an accrual.
    pub charge: SmolStr,
    /// What is open in its own currency, in minor units; owed to others is below nothing.
    pub amount: i64,
    /// That currency.
    pub currency: Currency,
    /// What is open in the book currency.
    pub book: i64,
    /// The rate that it is carried at, where it is in another currency.
    pub rate: Option<Quote>,
    /// The currency of its books.
    pub book_currency: Currency,
    /// Whether it began above nothing or below.
    pub(super) sign: i64,
    /// The day it came.
    pub since: Date,
    /// The event that it came with, by position.
    pub(super) event: usize,
}

impl Open {
    /// One open item for several lines of a paper.
    pub(super) fn beside(self, sum: Option<Self>) -> Self {
        let Some(sum) = sum else { return self };
        Self {
            amount: sum.amount + self.amount,
            book: sum.book + self.book,
            shipment: sum.shipment.filter(|_| sum.shipment == self.shipment),
            // Of several rates none is the bill's; a close gives it one.
            rate: sum.rate.filter(|_| sum.rate == self.rate),
            ..sum
        }
    }
}

/// A slab that stands in a yard and belongs to another.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Consigned {
    /// Its number.
    pub slab: String,
    /// Whose it is.
    pub owner: String,
    /// Its stone, where it is stated.
    pub stone: Option<String>,
    /// The yard.
    pub yard: String,
    /// What it measures.
    pub area: Area,
    /// Its quality, where it is stated.
    pub quality: Option<SmolStr>,
    /// The day it came.
    pub since: Date,
    /// The event that brought it, by position.
    pub(super) came: usize,
    /// The event that took it away.
    pub(super) gone: Option<usize>,
}

/// An advance on an invoice.
#[derive(Debug, Clone)]
pub(super) struct Advance {
    pub(super) shipment: usize,
    pub(super) invoice: SmolStr,
    pub(super) party: SmolStr,
    /// What is left of it, in minor units of its currency.
    pub(super) amount: i64,
    pub(super) currency: Currency,
    /// The same as it was booked.
    pub(super) book: i64,
}

/// What a list of shares has given so far, where several charges are shared by it.
#[derive(Debug, Clone, Default)]
pub(super) struct GivenShares {
    pub(super) shares: Vec<i64>,
    pub(super) charges: usize,
}

/// All that is booked, up to a day.
#[derive(Debug)]
pub struct Ledger<'b> {
    /// The books it is a fold of.
    pub books: &'b Books,
    /// The slabs of each shipment, pieces after those that were packed.
    pub slabs: Vec<Vec<SlabState>>,
    /// The pieces of slabs of each shipment.
    pub pieces: Vec<Vec<Piece>>,
    /// The charges of each shipment, those never estimated after the others.
    pub charges: Vec<Vec<ChargeState>>,
    /// The slabs of each shipment that came and were never packed: name, yard, event.
    pub over: Vec<Vec<(String, SmolStr, usize)>>,
    /// The slabs of others that stood in a yard, those that left again among them.
    pub(super) consigned: Vec<Consigned>,
    /// Open items; what was settled is there with nothing open.
    pub open: Vec<Open>,
    /// The entries, in their order.
    pub entries: Vec<Entry>,
    /// What closes did to open items: the event, the currency of the books, the item, and the lines.
    pub(super) closed: Vec<(usize, Currency, usize, [Line; 2])>,
    /// What each event did that is taken back later on.
    pub(super) done: BTreeMap<usize, Vec<Undo>>,
    /// The events that were taken back, and by which.
    pub(super) reversed: BTreeMap<usize, usize>,
    pub(super) advances: Vec<Advance>,
    pub(super) losses: Vec<Loss>,
    /// What each list of shares has given, by shipment and list.
    pub(super) given: BTreeMap<(usize, usize), GivenShares>,
    /// The shipments, and the slabs of each, by their names.
    pub(super) shipments: FxHashMap<&'b str, usize>,
    pub(super) names: Vec<FxHashMap<SmolStr, usize>>,
    /// The charges of each estimate by their keys, the first of a key.
    pub(super) keys: Vec<FxHashMap<&'b str, usize>>,
    /// The events by their names.
    pub(super) events: FxHashMap<&'b str, usize>,
    /// Open items by party and number.
    pub(super) items: FxHashMap<(SmolStr, SmolStr), Vec<usize>>,
    /// The papers that have come, by party and number: the event.
    pub(super) papers: BTreeMap<(SmolStr, SmolStr), usize>,
    /// Doubts about amounts of the bank, where the estimate has no rate to hold them against: the event that the item
    /// came with, the one that pays it, and the doubt.
    pub(super) of_bank: Vec<(usize, usize, Fault)>,
}

impl<'b> Ledger<'b> {
    pub(super) fn new(books: &'b Books) -> Self {
        let of = |freeze: &'b Freeze| (slabs(freeze), charges(freeze));
        let (slabs, charges) = books.freezes.iter().map(of).unzip();
        let names = books.freezes.iter().map(|freeze| {
            freeze.slabs.iter().enumerate().map(|(at, slab)| (slab.id.clone(), at)).collect()
        });
        let keys = books.freezes.iter().map(|freeze| {
            let keys = freeze.charges.iter().enumerate().rev();
            keys.map(|(at, charge)| (charge.key.as_str(), at)).collect()
        });
        Self {
            books,
            slabs,
            charges,
            pieces: vec![Vec::new(); books.freezes.len()],
            over: vec![Vec::new(); books.freezes.len()],
            consigned: Vec::new(),
            open: Vec::new(),
            entries: Vec::new(),
            closed: Vec::new(),
            done: BTreeMap::new(),
            reversed: BTreeMap::new(),
            advances: Vec::new(),
            losses: Vec::new(),
            given: BTreeMap::new(),
            shipments: (0..).zip(&books.freezes).map(|(at, one)| (&*one.shipment, at)).collect(),
            names: names.collect(),
            keys: keys.collect(),
            events: (0..).zip(&books.events).map(|(at, one)| (&*one.id, at)).collect(),
            items: FxHashMap::default(),
            papers: BTreeMap::new(),
            of_bank: Vec::new(),
        }
    }

    /// The slabs of others that stand in a yard.
    pub fn consigned(&self) -> impl Iterator<Item = &Consigned> {
        self.consigned.iter().filter(|one| one.gone.is_none())
    }

    /// The booked estimate of a shipment.
    pub fn freeze(&self, shipment: usize) -> Option<&'b Freeze> {
        self.books.freezes.get(shipment)
    }

    /// A slab as it was packed, or a piece.
    pub fn slab(&self, (shipment, at): (usize, usize)) -> Option<&FrozenSlab> {
        let packed = &self.freeze(shipment)?.slabs;
        packed.get(at).or_else(|| {
            let piece = self.pieces.get(shipment)?.get(at.checked_sub(packed.len())?)?;
            Some(&piece.slab)
        })
    }

    /// A slab's number.
    pub(super) fn slab_name(&self, of: Of) -> &str {
        self.slab(of).map_or("?", |slab| slab.id.as_str())
    }

    /// The open items of a party's paper, by position.
    pub(super) fn items_of(&self, party: &str, number: &str) -> &[usize] {
        let key = (party.into(), number.into());
        self.items.get(&key).map_or(&[], |items| items)
    }

    /// Who shares a charge.
    pub fn sharing(&self, shipment: usize, charge: usize) -> Option<&Sharing> {
        let state = self.charges.get(shipment)?.get(charge)?;
        match &state.own {
            Some(own) => Some(own),
            None => self.estimated(shipment, charge),
        }
    }

    /// Who shares a charge of the estimate.
    pub(super) fn estimated(&self, shipment: usize, charge: usize) -> Option<&'b Sharing> {
        let freeze = self.freeze(shipment)?;
        freeze.sharings.get(freeze.charges.get(charge)?.sharing)
    }
}

/// The slabs before anything happened: each is owed what the shares of the estimate leave.
fn slabs(freeze: &Freeze) -> Vec<SlabState> {
    let mut all = vec![SlabState::new(); freeze.slabs.len()];
    for (at, sharing) in freeze.sharings.iter().enumerate() {
        let own = || freeze.charges.iter().filter(|charge| charge.sharing == at);
        if own().any(|charge| charge.treatment != Treatment::Stock) {
            continue;
        }
        let units: i64 = own().filter_map(|charge| charge.book.minor().ok()).sum();
        for (position, (slab, share)) in sharing.slabs.iter().zip(&sharing.shares).enumerate() {
            let cut = sharing.weights.cut(units, position);
            if let Some(slab) = all.get_mut(*slab) {
                slab.carried += (cut.floor - share) * Cut::WHOLE + cut.beyond;
            }
        }
    }
    all
}

fn charges(freeze: &Freeze) -> Vec<ChargeState> {
    let state = |charge: &crate::trade::FrozenCharge| {
        let rate = charge.rate.filter(|_| !charge.is_planned);
        ChargeState {
            key: charge.key.clone(),
            name: charge.name.clone(),
            payee: charge.payee.clone(),
            treatment: charge.treatment,
            is_of_customs: charge.leg == Leg::DutyAndTax,
            invoice: charge.invoice.clone(),
            moves_no_money: charge.moves_no_money,
            estimate: charge.book.minor().ok().map(|book| (charge.amount, book, rate)),
            own: None,
            owed: None,
            accrual: None,
            bills: Vec::new(),
            closed: None,
            booked: 0,
        }
    };
    freeze.charges.iter().map(state).collect()
}

impl Ledger<'_> {
    /// What a slab has of that by which an amount of a bill is divided.
    pub(super) fn has(&self, slab: Of, by: BillBy) -> Option<Decimal> {
        let FrozenSlab { billed, mass, .. } = self.slab(slab)?;
        Some(match by {
            BillBy::Area | BillBy::Box => billed.base(),
            BillBy::Mass => mass.base(),
            BillBy::Count | BillBy::Value => Decimal::ONE,
        })
    }

    /// Slabs of a shipment, sharing by a key.
    pub(super) fn sharing_of(
        &self,
        shipment: usize,
        slabs: Vec<usize>,
        by: BillBy,
    ) -> Option<Sharing> {
        let each = slabs.iter().map(|at| self.has((shipment, *at), by));
        let weights = Weights::of(each.collect::<Option<Vec<Decimal>>>()?).ok()?;
        Some(Sharing { weights, shares: Vec::new(), slabs })
    }
}
