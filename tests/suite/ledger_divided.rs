//! A bill for several charges, divided by a stated key; and the hedge that a cost has in it. The names of the examples
//! are those of the facts that the project keeps; each has its source beside it.

use quaystone::trade::{Account, Treatment};

use crate::common::run;
use crate::ledger_common::{Estimate, Kept, event, kept, slabs, sums, told};

/// Charges with so many slabs each, estimated at so much.
fn charges(each: &[(usize, &str)]) -> Estimate {
    let count = each.iter().map(|(slabs, _)| slabs).sum();
    let mut estimate = Estimate::new("one", "USD", count, 1);
    let mut first = 0;
    for (at, (slabs, amount)) in each.iter().enumerate() {
        let by = (first..first + slabs).map(|slab| (slab, 1)).collect();
        first += slabs;
        estimate = estimate.shared(&format!("c{at}"), amount, None, (Treatment::Stock, by));
    }
    estimate
}

/// A bill over all these charges, by a key.
fn bill(each: &[(usize, &str)], amount: &str, by: &str) -> String {
    let of: Vec<String> = (0..each.len()).map(|at| format!("\"c{at}\"")).collect();
    let line = format!(
        "line = [{{ of = [{}], by = \"{by}\", amount = \"{amount} USD\" }}]\n",
        of.join(", ")
    );
    event("billed", "2026-03-01", &format!("party = \"P\"\nnumber = \"1\"\nfinal = true\n{line}"))
}

/// What of the bill fell to each charge.
fn parts(each: &[(usize, &str)], amount: &str, by: &str) -> Vec<String> {
    let kept = kept(&charges(each), &bill(each, amount, by));
    let _ = sums(&kept, None);
    let ledger = kept.ledger(None).unwrap();
    let part = |charge: &quaystone::ledger::ChargeState| charge.bills[0].1.amount().to_string();
    ledger.charges[0].iter().map(part).collect()
}

/// B8 and B9: a lumber mill of the cost accounting textbooks, joint cost of 900,000 over 1,500,000, 3,000,000,
/// 1,875,000 and 1,125,000 pieces (4, 8, 5 and 3 slabs here) at 300, 225, 140 and 100 per thousand.
#[test]
fn b8_b9_joint_cost_by_quantity_and_by_value() {
    let each = [(4, "450000 USD"), (8, "675000 USD"), (5, "262500 USD"), (3, "112500 USD")];
    let by_quantity = ["180000.00", "360000.00", "225000.00", "135000.00"];
    for by in ["area", "mass", "count"] {
        assert_eq!(parts(&each, "900000", by), by_quantity, "{by}");
    }
    let by_value = ["270000.00", "405000.00", "157500.00", "67500.00"];
    assert_eq!(parts(&each, "900000", "value"), by_value);
}

/// B10: relative sales value exercise, 2,900,000 over 20 lots at 100,000, 40 at 75,000 and 100 at 50,000. B11: examination
/// key, 5,000 over 800 gallons at 9 and 200 at 4. B13: members' forum of a professional body, carriage of 750 over
/// 1,000, 2,250 and 4,000: the rate is not rounded first. B34: cost accounting textbook, 400,000 by balances of
/// 750,000, 1,250,000 and 8,000,000.
#[test]
fn b10_b11_b13_b34_by_value() {
    let each = [(1, "2000000 USD"), (1, "3000000 USD"), (1, "5000000 USD")];
    assert_eq!(parts(&each, "2900000", "value"), ["580000.00", "870000.00", "1450000.00"]);
    let each = [(1, "7200 USD"), (1, "800 USD")];
    assert_eq!(parts(&each, "5000", "value"), ["4500.00", "500.00"]);
    // 103.448..., 232.758... and 413.793...: with the goods 1,103.45, 2,482.76 and 4,413.79.
    let each = [(1, "1000 USD"), (1, "2250 USD"), (1, "4000 USD")];
    assert_eq!(parts(&each, "750", "value"), ["103.45", "232.76", "413.79"]);
    let each = [(1, "750000 USD"), (1, "1250000 USD"), (1, "8000000 USD")];
    assert_eq!(parts(&each, "400000", "value"), ["30000.00", "50000.00", "320000.00"]);
}

/// B12: textbook passage, freight of 48 for materials of 300 lb and others of 1,400 lb: 8.470588... by weight.
#[test]
fn b12_freight_by_weight() {
    let each = [(3, "1 USD"), (14, "1 USD")];
    assert_eq!(parts(&each, "48", "mass"), ["8.47", "39.53"]);
}

/// B27: answered question on IFRS 9, a purchase of 1,600 with a gain of 100 on the hedge designated for it: goods of
/// 1,500.
#[test]
fn b27_a_designated_hedge_lowers_the_goods() {
    let mut estimate =
        Estimate::new("one", "USD", 4, 1).goods("1600 USD", None).charge("hedge", "-100 USD", None);
    let hedge = estimate.freeze.charges.last_mut().unwrap();
    hedge.invoice = Some("I-1".into());
    hedge.moves_no_money = true;
    let all = sums(&kept(&estimate, &event("control", "2026-03-01", "")), None);
    assert_eq!((&*all[&Account::Transit], &*all[&Account::Hedge]), ("1500.00", "100.00"));
    assert_eq!(all[&Account::Payables], "-1600.00");
}

/// A forwarder's bill over two shipments: 160 over 4 and 8 slabs of 5 m2 is 53.33 and 106.67.
#[test]
fn a_bill_over_shipments_is_divided_by_a_stated_key() {
    let estimate = |name: &str, slabs| {
        Estimate::new(name, "USD", slabs, 2)
            .goods("400 USD", None)
            .charge("freight", "80 USD", None)
    };
    let (one, two) = (estimate("one", 4), estimate("two", 8));
    let line = "line = [{ of = [\"one/freight\", \"two/freight\"], by = \"area\", amount = \"160 USD\" }]\n";
    let text = format!("party = \"line\"\nnumber = \"F-7\"\nfinal = true\n{line}");
    let yards = event("billed", "2026-03-01", &text);
    let kept = Kept::of(&[&one, &two], &["", ""], &yards).unwrap_or_else(|told| panic!("{told}"));
    let _ = sums(&kept, None);
    let ledger = kept.ledger(None).unwrap();
    let held = |at: usize| ledger.slabs[at].iter().map(|slab| slab.held).sum::<i64>();
    assert_eq!((held(0), held(1)), (5_333, 10_667));
    // One bill is one payable.
    assert_eq!(ledger.open.iter().filter(|open| open.number == "F-7").count(), 1);
}

#[test]
fn a_bill_that_cannot_be_divided_is_told() {
    let each = [(1, "1 USD"), (1, "1 USD")];
    let estimate = charges(&each);
    let text = bill(&each, "10", "area");
    let said = told(&estimate, &text.replace(" by = \"area\",", ""));
    assert!(said.contains("does not say how it is divided"), "{said}");
    let said = told(&estimate, &text.replace("\"c1\"]", "\"c0\"]"));
    assert!(said.contains("\"c0\" is named twice"), "{said}");
    let new = text.replace(
        "of = [\"c0\", \"c1\"], by = \"area\"",
        "new = \"storage\", by = \"value\", reason = \"late\"",
    );
    let said = told(&estimate, &new);
    assert!(said.contains("slabs have no value by which they share a new charge"), "{said}");
    let nothing = [(1, "0 USD"), (1, "0 USD")];
    let said = told(&charges(&nothing), &bill(&nothing, "10", "value"));
    assert!(said.contains("have nothing to divide by"), "{said}");
}

/// The freight of a move between yards: an expense of the period, or cost of the slabs that were moved, as the line
/// says.
#[test]
fn the_freight_of_a_move_lies_on_the_slabs_that_were_moved() {
    let estimate = Estimate::new("one", "USD", 4, 2).goods("400 USD", None);
    let moved = slabs(1..=2);
    let line = |treatment: &str| {
        let names = moved.trim_end();
        format!(
            "line = [{{ new = \"haulage to norfolk\", {names}, treatment = \"{treatment}\", reason = \"for a customer\", amount = \"30 USD\" }}]\n"
        )
    };
    let bill = |treatment: &str| {
        event("control", "2026-03-01", "")
            + &event("arrive", "2026-03-02", "yard = \"savannah\"\n")
            + &event("move", "2026-03-03", &format!("{moved}yard = \"norfolk\"\n"))
            + &event(
                "billed",
                "2026-03-04",
                &format!("party = \"haulier\"\nnumber = \"H-1\"\n{}", line(treatment)),
            )
    };
    let held = |treatment: &str| -> Vec<i64> {
        let kept = kept(&estimate, &bill(treatment));
        let _ = sums(&kept, None);
        let ledger = kept.ledger(None).unwrap();
        ledger.slabs[0].iter().map(|slab| slab.held).collect()
    };
    assert_eq!(held("stock"), [11_500, 11_500, 10_000, 10_000]);
    assert_eq!(held("period"), [10_000; 4]);
    let all = sums(&kept(&estimate, &bill("period")), None);
    assert_eq!((&*all[&Account::Period], &*all[&Account::Yard]), ("30.00", "400.00"));
    let both = bill("stock").replace("treatment = ", "boxes = [\"1\"], treatment = ");
    let said = told(&estimate, &both);
    assert!(said.contains("a new charge is shared by boxes, or by slabs"), "{said}");
}

/// What is still to come is summed up by the days since it was owed.
#[test]
fn what_is_open_has_its_age() {
    let estimate = Estimate::new("one", "USD", 4, 2)
        .charge("freight", "80 USD", None)
        .charge("haulage", "20 USD", None)
        .charge("duty", "7 USD", None);
    let owed = |day: &str, key: &str| event("owed", day, &format!("of = [\"{key}\"]\n"));
    let text = owed("2026-01-10", "freight")
        + &owed("2026-06-01", "haulage")
        + &owed("2026-06-02", "duty");
    let kept = kept(&estimate, &text);
    let page = run(kept.root(), &["settle", "one", "--on", "2026-06-30"]);
    let page = String::from_utf8(page.stdout).unwrap();
    let has = |age: &str, sum: &str| {
        page.lines().any(|line| line.starts_with(&format!("to come, {age}")) && line.ends_with(sum))
    };
    assert!(has("up to 90 days", " 27.00 USD") && has("91 to 180 days", " 80.00 USD"), "{page}");
}
