//! What of the journal is exported: entries summed by day or by month, and those that an earlier export has not.

use std::collections::BTreeMap;

use smol_str::SmolStr;

use super::audit::kept_by;
use super::entry::{Entry, Likes, Line, checked};
use super::state::Ledger;
use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::{Currency, Money, Overflow};
use crate::trade::{Date, Exported};

/// What one entry is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Per {
    /// A day.
    Day,
    /// A month.
    Month,
}

impl Per {
    /// The name of the entry that a day belongs to: its own, with the currency of the books.
    fn name(self, posted: Date, currency: &str) -> String {
        let form = if self == Self::Month { "%Y-%m" } else { "%Y-%m-%d" };
        format!("{} {currency}", posted.format(form))
    }
}

/// The lines of several events as one entry for each day or month and currency of the books: what is of one account,
/// yard, party or shipment and currency is one line. An entry stands on the last day of its events.
///
/// # Errors
/// Where a sum cannot be held.
pub fn summed(ledger: &Ledger<'_>, entries: &[&Entry], per: Per) -> Result<Vec<Entry>, Overflow> {
    let mut all: BTreeMap<String, (Entry, BTreeMap<_, Line>)> = BTreeMap::new();
    for entry in entries {
        let id = per.name(entry.posted, entry.currency.code());
        let (own, lines) = all.entry(id).or_insert_with_key(|id| {
            (Entry { id: id.clone(), lines: Vec::new(), ..**entry }, BTreeMap::new())
        });
        own.posted = own.posted.max(entry.posted);
        for line in &entry.lines {
            let currency = line.amount.map(Money::currency);
            let key = (line.account, kept_by(ledger, line), currency.map(Currency::code));
            let sum = lines.entry(key).or_insert_with(|| {
                let is = |kept: &str| line.account.kept_by() == Some(kept);
                let party = if is("party") { line.party.clone() } else { SmolStr::default() };
                Line {
                    yard: line.yard.clone(),
                    party,
                    shipment: line.shipment.filter(|_| is("shipment")),
                    amount: currency.map(Money::zero),
                    ..Line::on(line.account, 0)
                }
            });
            sum.book = checked(sum.book, line.book)?;
            if let (Some(all), Some(amount)) = (sum.amount, line.amount) {
                sum.amount = Some(all.plus(amount)?);
            }
        }
    }
    let whole = |(mut entry, lines): (Entry, BTreeMap<_, Line>)| {
        let mut likes = Likes::default();
        lines.into_values().try_for_each(|line| entry.add(line, &mut likes))?;
        Ok(entry)
    };
    all.into_values().map(whole).collect()
}

/// The entries that an earlier export lacks. Those that it has must not have changed since.
///
/// # Errors
/// Where one that was exported has other lines now.
pub fn beyond<'e>(
    entries: Vec<&'e Entry>,
    earlier: &Exported,
    report: &mut Report,
) -> Result<Vec<&'e Entry>, Reported> {
    let mut new = Vec::new();
    let mut sound = Ok(());
    for entry in entries {
        let Some((place, lines)) = earlier.get(&entry.id) else {
            new.push(entry);
            continue;
        };
        let own = entry.lines.iter().map(|line| {
            let book = Money::from_minor(line.book, entry.currency);
            (line.account.word().to_owned(), book.amount())
        });
        if !own.eq(lines.iter().cloned()) {
            let message = format!("entry {} has other lines than were exported", entry.id);
            sound = Err(report.error(
                Fault::error(Code::Contradiction, message)
                    .at(place, "exported so")
                    .help("an event was added or changed on a day that was exported: take this entry out of your ledger and out of the export, and export again"),
            ));
        }
    }
    sound.map(|()| new)
}
