//! Books folded part by part come to what they come to at once: the same entries in the same order, to the line.

use quaystone::fault::Report;
use quaystone::ledger::{Entry, Order, Reading, apart};
use quaystone::read::{Shelf, Workspace};

use crate::ledger_common::{Estimate, Kept, event, slabs};

/// Holds books that are folded part by part against the same at once; how many parts there are. `None`: something is
/// at fault.
pub(crate) fn parts(kept: &Kept) -> Option<usize> {
    let mut report = Report::new();
    let workspace = Workspace::at(kept.root(), &mut report).unwrap();
    let shelf = Shelf::of(&workspace, &report);
    let whole = apart(&shelf, (None, Reading::Posted), &mut report, |part| {
        let own = part.entries().map(|(order, entry)| {
            let mut entry = entry.clone();
            for line in &mut entry.lines {
                line.shipment = line.shipment.map(|at| part.shipments[at]);
            }
            (order, entry)
        });
        Ok(own.collect::<Vec<_>>())
    })?;
    let count = whole.parts.len();
    let mut all: Vec<(Order, Entry)> = whole.parts.into_iter().flatten().collect();
    all.extend(whole.closes);
    all.sort_by_key(|(order, _)| *order);
    let ledger = kept.ledger(None).unwrap();
    assert_eq!(all.len(), ledger.entries.len());
    for ((_, own), other) in all.iter().zip(&ledger.entries) {
        assert_eq!((&own.id, own.posted, &own.lines), (&other.id, other.posted, &other.lines));
    }
    Some(count)
}

/// Three shipments of ten slabs, with goods in euro; `more` follows the events of each, and `yards` those of the yards.
fn books(more: [&str; 3], yards: &str) -> Kept {
    let estimates = ["one", "three", "two"].map(|name| {
        let own =
            Estimate::new(name, "USD", 10, 2).goods("1000.00 EUR", Some("1 EUR = 1.1000 USD"));
        own.charge("freight", "500.00 EUR", Some("1 EUR = 1.1000 USD")).charge(
            "duty",
            "90.00 USD",
            None,
        )
    });
    let events = more.map(|more| {
        let control = event("control", "2026-01-10", "rate = \"1 EUR = 1.1000 USD\"\n");
        let owed = "of = [\"freight\", \"duty\"]\nrate = \"1 EUR = 1.1200 USD\"\n";
        control
            + &event("owed", "2026-02-01", owed)
            + &event("arrive", "2026-02-03", "yard = \"savannah\"\n")
            + more
    });
    let estimates = [&estimates[0], &estimates[1], &estimates[2]];
    let rates = "until = 2026-06-30\nrates = [\"1 EUR = 1.1500 USD\"]\n";
    let close = event("close", "2026-07-02", rates);
    Kept::of(&estimates, &[&events[0], &events[1], &events[2]], &format!("{yards}{close}")).unwrap()
}

fn bill(number: &str, of: &str) -> String {
    let line = format!("line = [{{ of = \"{of}\", amount = \"510.00 EUR\" }}]\n");
    event("billed", "2026-03-01", &format!("party = \"forwarder\"\nnumber = \"{number}\"\n{line}"))
}

fn paid(number: &str) -> String {
    let bank = "bank = \"600.00 USD\"\n";
    event("paid", "2026-04-01", &format!("party = \"forwarder\"\nbills = [\"{number}\"]\n{bank}"))
}

#[test]
fn shipments_that_share_nothing_are_folded_apart_as_at_once() {
    let each = ["F-1", "F-2", "F-3"].map(|number| bill(number, "freight") + &paid(number));
    let kept = books([&each[0], &each[1], &each[2]], "");
    assert_eq!(parts(&kept), Some(3));
}

#[test]
fn what_events_of_the_yards_name_together_is_folded_together() {
    let moved = "slabs = [\"one/S1\", \"two/S1\"]\nyard = \"norfolk\"\n";
    assert_eq!(parts(&books(["", "", ""], &event("move", "2026-03-01", moved))), Some(2));
    let both = "party = \"forwarder\"\nnumber = \"F-9\"\nline = [{ of = \"one/freight\", amount = \"510.00 EUR\" }, { of = \"three/freight\", amount = \"480.00 EUR\" }]\n";
    assert_eq!(parts(&books(["", "", ""], &event("billed", "2026-03-01", both))), Some(2));
    // A bill covers both. One of them pays it in its own file, after a close has revalued it.
    let late = "party = \"forwarder\"\nbills = [\"F-9\"]\nbank = \"1100.00 USD\"\n";
    let late = event("paid", "2026-07-20", late);
    assert_eq!(parts(&books(["", "", &late], &event("billed", "2026-03-01", both))), Some(1));
    // Whatever stands in a yard is counted together.
    let all =
        ["one", "three", "two"].map(|name| slabs(1..=10).replace("\"S", &format!("\"{name}/S")));
    let all = all.map(|text| text.replace("slabs = [", "").replace("]\n", "")).join(", ");
    let count = event("count", "2026-03-05", &format!("yard = \"savannah\"\nslabs = [{all}]\n"));
    assert_eq!(parts(&books(["", "", ""], &count)), Some(1));
}

#[test]
fn shipments_that_turn_out_to_share_a_paper_are_folded_again_together() {
    // The yards' file pays bills of two shipments.
    let each = ["F-1", "F-2", "F-3"].map(|number| bill(number, "freight"));
    let both = "party = \"forwarder\"\nbills = [\"F-1\", \"F-3\"]\nbank = \"1150.00 USD\"\n";
    let kept = books([&each[0], &each[1], &each[2]], &event("paid", "2026-04-01", both));
    assert_eq!(parts(&kept), Some(2));
    // An event takes back one of another file.
    let named = bill("F-1", "freight").replace("kind", "id = \"b-1\"\nkind");
    let back = event("reverse", "2026-05-01", "event = \"b-1\"\nreason = \"typed twice\"\n");
    assert_eq!(parts(&books([&named, "", &back], "")), Some(2));
    // Two bills of one number are a fault, which is told of all at once.
    let twice = bill("F-1", "freight");
    assert_eq!(parts(&books([&twice, &twice, ""], "")), None);
    // Where nothing is booked, an event is of nothing.
    let alone = event("move", "2026-03-01", "slabs = [\"one/S1\"]\nyard = \"norfolk\"\n");
    assert_eq!(parts(&Kept::of(&[], &[], &alone).unwrap()), None);
    // So are a payment of nobody's bill, and debits that are not those of a close.
    assert_eq!(parts(&books(["", "", ""], &paid("F-7"))), None);
    let close = "until = 2026-05-31\nrates = [\"1 EUR = 1.1500 USD\"]\nfinal = true\n";
    for (debits, sound) in [("1.00 USD", None), (DEBITS, Some(3))] {
        let close = event("close", "2026-06-02", &format!("{close}debits = \"{debits}\"\n"));
        assert_eq!(parts(&books(["", "", ""], &close)), sound);
    }
}

/// Three times: 1,100.00 as control passes and as the slabs arrive, with 560.00 of freight and 90.00 of duty before
/// that on what is in transit: 1,100.00 + 650.00 + 1,750.00. The close is not among them.
const DEBITS: &str = "10500.00 USD";
