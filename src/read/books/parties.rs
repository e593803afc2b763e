//! Parties that bill, credit or owe something, held against each other by their names.
//!
//! Decided on 2026-11-27. No table lists parties, and a new one may truly have nearly the name of another: so a name
//! that looks misspelt is a warning with both places, and no fault. Names that differ in a digit are of two.

use rustc_hash::FxHashMap;

use crate::fault::{Code, Fault, Place, Report};
use crate::trade::{BookEvent, BookKind, Freeze};

/// Names are nearly the same that differ by so many letters.
const SLIPS: usize = 2;

/// Warns of a party that opens an account, where a known one has nearly its name.
pub(super) fn parties(freezes: &[Freeze], events: &[BookEvent], report: &mut Report) {
    let mut known: FxHashMap<&str, &Place> = FxHashMap::default();
    for freeze in freezes {
        for charge in &freeze.charges {
            known.entry(&charge.payee).or_insert(&freeze.place);
        }
    }
    for event in events {
        let Some(party) = event.party.as_deref().filter(|_| opens(event)) else { continue };
        if known.contains_key(party) {
            continue;
        }
        let alike = known.iter().filter(|(name, _)| is_slip(name, party));
        if let Some((name, place)) = alike.min_by_key(|(name, _)| **name) {
            let message = format!("\"{party}\" is a party of its own, and \"{name}\" is known");
            report.add(
                Fault::warning(Code::UnknownReference, message)
                    .at(&event.place, "on a paper of this event")
                    .also(place, "known from here")
                    .help(format!("if they are one, write party = \"{name}\"")),
            );
        }
        known.insert(party, &event.place);
    }
}

/// Whether an event opens an account of its party.
fn opens(event: &BookEvent) -> bool {
    matches!(
        event.what,
        BookKind::Billed { .. }
            | BookKind::Credit { .. }
            | BookKind::DutyChanged { .. }
            | BookKind::Claim { .. }
            | BookKind::ReturnOut { .. }
    )
}

/// Whether one name is the other with a slip of a letter or two.
fn is_slip(one: &str, other: &str) -> bool {
    let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
    let (one, other) = (one.to_lowercase(), other.to_lowercase());
    let distance = strsim::damerau_levenshtein(&one, &other);
    let longest = one.chars().count().max(other.chars().count());
    distance <= SLIPS && distance * 4 <= longest && digits(&one) == digits(&other)
}
