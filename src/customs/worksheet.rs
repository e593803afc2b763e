//! A broker's worksheet: what each entry comes to, line by line and fee by fee.

use super::entry::{Entry, EntryLine, MemoFee};
use crate::bill::Charge;
use crate::fault::Place;
use crate::quantity::{Money, count_of};
use crate::trade::{Leg, Treatment};

/// An entry with its fees, taxes and sums.
#[derive(Debug)]
pub struct Sheet<'a> {
    /// The entry.
    pub entry: &'a Entry,
    /// Its fees and import taxes.
    pub levies: Vec<Levy<'a>>,
    /// The sum of its entered values.
    pub entered: Money,
    /// The sum of its duties.
    pub duty: Money,
    /// The sum of its fees.
    pub fees: Money,
    /// The sum of its import taxes that are recovered.
    pub recovered: Money,
    /// Cash to customs: duties, fees and taxes.
    pub cash: Money,
    /// What the broker should look at.
    pub notes: Vec<String>,
}

/// A fee or an import tax of an entry.
#[derive(Debug)]
pub struct Levy<'a> {
    /// Its name.
    pub name: &'a str,
    /// Its amount.
    pub amount: Money,
    /// Whether the importer gets it back.
    pub recovered: bool,
    /// How it came about, where it is a charge; a seller's fee is a memo.
    pub charge: Option<&'a Charge>,
    /// Its row.
    pub place: &'a Place,
}

/// The worksheet of some entries and of the charges that come of them. `None`: a sum cannot be held.
pub fn worksheet<'a>(entries: &'a [Entry], charges: &'a [Charge]) -> Option<Vec<Sheet<'a>>> {
    // What is not counted by entries is the only entry's.
    let alone = entries.iter().filter(|one| !one.by_seller).count() == 1;
    entries.iter().enumerate().map(|(at, entry)| sheet(charges, (at, entry), alone)).collect()
}

fn sheet<'a>(
    charges: &'a [Charge],
    (at, entry): (usize, &'a Entry),
    alone: bool,
) -> Option<Sheet<'a>> {
    let of_entry = |charge: &&Charge| {
        charge.leg == Leg::DutyAndTax
            && charge.table.is_some()
            && charge.amount().currency() == entry.currency
            && charge.on.entry().map_or(alone, |entry| entry == at)
    };
    let charged = |charge: &'a Charge| Levy {
        name: &charge.name,
        amount: charge.amount(),
        recovered: charge.treatment == Treatment::Recoverable,
        charge: Some(charge),
        place: &charge.source,
    };
    let own = charges.iter().filter(of_entry).map(charged);
    let levies: Vec<Levy<'_>> = if entry.by_seller {
        let memo = |fee: &'a MemoFee| Levy {
            name: &fee.name,
            amount: fee.amount,
            recovered: false,
            charge: None,
            place: &fee.place,
        };
        // The import tax that a price delivered duty paid leaves out is a charge all the same.
        let fees = entry.memo_fees.iter().map(memo);
        if entry.is_charged(true) { fees.chain(own).collect() } else { fees.collect() }
    } else {
        own.collect()
    };
    let sum = |recovered: bool| {
        let chosen = levies.iter().filter(|levy| levy.recovered == recovered);
        Money::total(entry.currency, chosen.map(|levy| levy.amount)).ok()
    };
    let (fees, recovered) = (sum(false)?, sum(true)?);
    let duty = entry.duty().ok()?;
    Some(Sheet {
        entry,
        entered: entry.entered().ok()?,
        duty,
        fees,
        recovered,
        cash: Money::total(entry.currency, [duty, fees, recovered]).ok()?,
        levies,
        notes: entry.lines.iter().filter_map(free).chain(restricted(entry)).collect(),
    })
}

/// The lines whose goods another agency restricts.
fn restricted(entry: &Entry) -> impl Iterator<Item = String> + '_ {
    entry.lines.iter().filter_map(|line| {
        let agency = line.restricted.as_ref()?;
        Some(format!("{} is restricted: its goods need the leave of {agency}.", line.label))
    })
}

/// What is to be said of slabs that are given without charge.
fn free(line: &EntryLine) -> Option<String> {
    let count = line.free;
    let slabs = count_of(count, "slab");
    (count > 0).then(|| {
        format!(
            "{slabs} of {} came without charge and {} entered at nothing. Free goods have no transaction \
             value: customs takes the value of similar goods (19 U.S.C. 1401a(c); customs broker licence \
             examination of 2009, question 62). A discount for quantity, such as one slab in ten, needs \
             none: the invoice must say so.",
            line.label,
            if count == 1 { "is" } else { "are" }
        )
    })
}
