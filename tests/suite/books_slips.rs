//! Slips of a person who writes events by hand: each is told, and what is right is not.

use quaystone::ledger::{by_currency, settled, together};
use quaystone::trade::Account;

use crate::common::{Tiny, run, stdout};
use crate::ledger_common::{Estimate, Kept, event, kept, slabs, sum, told};

const RATE: &str = "1 EUR = 1.1000 USD";

/// Four slabs that cost 25.00 each, of a shipment called "one".
fn hundred() -> Estimate {
    Estimate::new("one", "USD", 4, 1).goods("100.00 USD", None)
}

fn arrived() -> String {
    event("control", "2026-01-10", "") + &event("arrive", "2026-02-03", "yard = \"savannah\"\n")
}

/// Books of one shipment, with its events and those of the yards.
fn books(estimate: &Estimate, events: &str, yards: &str) -> Kept {
    Kept::of(&[estimate], &[events], yards).unwrap_or_else(|told| panic!("{told}"))
}

#[test]
fn a_count_that_loses_most_of_a_yard_is_asked_about() {
    let count = |names: &str, more: &str| {
        event("count", "2026-03-01", &format!("yard = \"savannah\"\nslabs = [{names}]\n{more}"))
    };
    let said =
        |names: &str, more: &str| kept(&hundred(), &(arrived() + &count(names, more))).said();
    let one = said("\"S1\"", "");
    assert!(
        one.contains(
            "the count of savannah finds 1 of 4 slabs: 3 are lost, at a cost of 75.00 USD"
        ),
        "{one}"
    );
    assert!(said("", "").contains("finds 0 of 4 slabs: 4 are lost, at a cost of 100.00 USD"));
    // Two of four may be: the list is no remnant of another. A reason answers it.
    assert_eq!(said("\"S1\", \"S2\"", ""), "");
    assert_eq!(said("", "reason = \"the yard burnt down\"\n"), "");
    // A count of a consigned slab alone is none of ours.
    let yards = event("consigned in", "2026-02-10", CONSIGNED) + &count("\"K-1\"", "");
    assert!(books(&hundred(), &arrived(), &yards).said().contains("4 are lost"));
}

const CONSIGNED: &str = "party = \"Quarry Kettle\"\nyard = \"savannah\"\nstone = \"kettle-blue\"\npiece = [{ slab = \"K-1\", area = \"5 m2\" }]\n";

#[test]
fn a_count_names_a_consigned_slab_that_it_does_not_find() {
    let names = ["S1", "S2", "S3", "S4"].map(|slab| format!("\"one/{slab}\"")).join(", ");
    let count = |names: &str| {
        event("count", "2026-03-01", &format!("yard = \"savannah\"\nslabs = [{names}]\n"))
    };
    let came = event("consigned in", "2026-02-10", CONSIGNED);
    let kept = books(&hundred(), &arrived(), &(came.clone() + &count(&names)));
    let said = kept.said();
    assert!(said.contains("does not find slab K-1, which Quarry Kettle left there"), "{said}");
    assert_eq!(sum(&kept, Account::Yard, None), "100.00");
    let whole = count(&format!("{names}, \"K-1\""));
    assert_eq!(books(&hundred(), &arrived(), &(came.clone() + &whole)).said(), "");
    let gone = event("consigned out", "2026-02-20", "slabs = [\"K-1\"]\n");
    assert_eq!(books(&hundred(), &arrived(), &(came + &gone + &count(&names))).said(), "");
    // A count in a shipment's own file is of its slabs alone.
    let own = arrived() + &count(&names.replace("one/", ""));
    let came = event("consigned in", "2026-02-10", CONSIGNED);
    assert_eq!(books(&hundred(), &own, &came).said(), "");
}

#[test]
fn a_rate_far_from_the_booked_one_is_asked_about() {
    let estimate = || Estimate::new("one", "USD", 4, 1).goods("100.00 EUR", Some(RATE));
    let said = |rate: &str| {
        kept(&estimate(), &event("control", "2026-01-10", &format!("rate = \"{rate}\"\n"))).said()
    };
    let ten = said("1 EUR = 10.9120 USD");
    assert!(
        ten.contains("1 EUR = 10.9120 USD is far from the booked rate, 1 EUR = 1.1000 USD"),
        "{ten}"
    );
    assert!(ten.contains("is \"1 EUR = 1.0912 USD\" meant?"), "{ten}");
    assert!(ten.contains("books/one/events.toml:4:"), "{ten}");
    assert!(ten.contains("books/one/charges.csv:2:"), "{ten}");
    assert!(said("1 EUR = 0.1091 USD").contains("is \"1 EUR = 1.091 USD\" meant?"));
    // The other way about: 1 / 0.9091 is 1.10.
    assert!(said("1 EUR = 0.9091 USD").contains("is \"1 USD = 0.9091 EUR\" meant?"));
    assert_eq!(said("1 USD = 0.9091 EUR"), "");
    // A fifth is 1.32 and 0.88.
    assert_eq!(said("1 EUR = 1.3100 USD"), "");
    assert!(said("1 EUR = 1.3300 USD").contains("is it the rate of its day"));
    // A close is of all shipments, and is held against all.
    let close = |rate: &str| {
        let other = Estimate::new("two", "USD", 4, 1);
        let other = other.charge("freight", "50.00 EUR", Some("1 EUR = 1.2000 USD"));
        let close = format!("until = 2026-06-30\nrates = [\"{rate}\"]\n");
        let yards = event("close", "2026-07-02", &close);
        Kept::of(&[&estimate(), &other], &["", ""], &yards).unwrap().said()
    };
    assert_eq!(close("1 EUR = 1.4300 USD"), "");
    let far = close("1 EUR = 11.5000 USD");
    assert_eq!(far.matches("is far from the booked rate, 1 EUR = 1.2000 USD").count(), 1, "{far}");
}

#[test]
fn an_amount_of_the_bank_far_from_what_the_bill_stands_at_is_asked_about() {
    let paid = |events: &str| kept(&foreign(), &(arrived() + events)).said();
    let of = |bank: &str| {
        event(
            "paid",
            "2026-03-01",
            &format!("party = \"Quarry Inkwell\"\nbills = [\"I-1\"]\nbank = \"{bank}\"\n"),
        )
    };
    let far = paid(&of("100.00 USD"));
    assert_eq!(far, "");
    let far = paid(&of("1100.00 USD"));
    assert!(
        far.contains(
            "the bank's 1,100.00 USD is far from the 110.00 USD that 100.00 EUR stands at"
        ),
        "{far}"
    );
    // A rate that its own estimate has none of is held against those of all: then it alone is asked about.
    let other = Estimate::new("two", "USD", 4, 1);
    let other = other.charge("freight", "50.00 GBP", Some("1 GBP = 1.3000 USD"));
    let abroad = |rate: &str, bank: &str| {
        let line = "[{ new = \"survey\", reason = \"wet\", amount = \"10.00 GBP\" }]";
        let bill =
            format!("party = \"Surveyor\"\nnumber = \"S-1\"\nline = {line}\nrate = \"{rate}\"\n");
        let bank = format!("party = \"Surveyor\"\nbills = [\"S-1\"]\nbank = \"{bank}\"\n");
        let own =
            arrived() + &event("billed", "2026-02-20", &bill) + &event("paid", "2026-03-01", &bank);
        Kept::of(&[&hundred(), &other], &[&own, ""], "").unwrap().said()
    };
    let rate = abroad("1 GBP = 13.0000 USD", "13.00 USD");
    assert_eq!(rate.matches("is far from the").count(), 1, "{rate}");
    assert!(rate.contains("1 GBP = 13.0000 USD is far from the booked rate"), "{rate}");
    let bank = abroad("1 GBP = 1.3000 USD", "130.00 USD");
    assert_eq!(bank.matches("is far from the").count(), 1, "{bank}");
    assert!(bank.contains("the bank's 130.00 USD is far from the 13.00 USD"), "{bank}");
    // An advance is at no rate but the bank's.
    let advance = "invoice = \"I-1\"\namount = \"40.00 EUR\"\nbank = \"4.40 USD\"\n";
    let said = kept(&foreign(), &event("advance", "2026-01-05", advance)).said();
    assert!(said.contains("1 EUR = 0.11 USD is far from the booked rate"), "{said}");
    // No money is changed: another amount is a slip.
    let same = arrived() + &of("101.00 USD");
    let same = kept(&hundred(), &same).said();
    assert!(
        same.contains("the bank's 101.00 USD is another than the 100.00 USD that is paid"),
        "{same}"
    );
}

fn foreign() -> Estimate {
    Estimate::new("one", "USD", 4, 1).goods("100.00 EUR", Some(RATE))
}

/// A bill or a credit for freight.
fn paper(kind: &str, day: &str, number: &str, amount: &str, more: &str) -> String {
    let line = format!("line = [{{ of = \"freight\", amount = \"{amount}\" }}]\n");
    let party = "party = \"payee of freight\"\n";
    event(kind, day, &format!("{party}number = \"{number}\"\n{line}{more}"))
}

fn freight() -> Estimate {
    hundred().charge("freight", "40.00 USD", None)
}

#[test]
fn a_credit_above_what_was_billed_is_asked_about() {
    let bill = arrived() + &paper("billed", "2026-03-01", "F-1", "44.00 USD", "");
    let said = |amount: &str| {
        kept(&freight(), &(bill.clone() + &paper("credit", "2026-03-09", "C-1", amount, ""))).said()
    };
    assert_eq!(said("44.00 USD"), "");
    let more = said("440.00 USD");
    assert!(
        more.contains("440.00 USD is credited of \"freight\", and 44.00 USD was billed"),
        "{more}"
    );
    // Credits add up.
    let twice = paper("credit", "2026-03-09", "C-1", "30.00 USD", "")
        + &paper("credit", "2026-03-10", "C-2", "30.00 USD", "");
    let twice = kept(&freight(), &(bill + &twice)).said();
    assert!(
        twice.contains("30.00 USD is credited of \"freight\", and 14.00 USD was billed"),
        "{twice}"
    );
}

#[test]
fn consigned_slabs_are_none_of_ours_and_their_names_are_held_against_others() {
    let came = event("consigned in", "2026-02-10", CONSIGNED);
    let wrong = |yards: &str| match Kept::of(&[&hundred()], &[&arrived()], &(came.clone() + yards))
    {
        Err(told) => told,
        Ok(kept) => kept.said(),
    };
    for name in ["K-1", "one/K-1"] {
        let said = wrong(&event("issue", "2026-03-01", &format!("slabs = [\"{name}\"]\n")));
        assert!(said.contains("slab K-1 is none of ours: Quarry Kettle left it with us"), "{said}");
        assert!(said.contains("kind = \"consigned out\""), "{said}");
    }
    let count =
        "yard = \"savannah\"\nslabs = [\"K-l\", \"one/S1\", \"one/S2\", \"one/S3\", \"one/S4\"]\n";
    assert!(wrong(&event("count", "2026-03-01", count)).contains("did you mean \"K-1\"?"));
    let gone = event("consigned out", "2026-02-20", "slabs = [\"K-1\"]\n");
    let again = |old: &str, new: &str| {
        wrong(&(gone.clone() + &event("consigned in", "2026-03-01", &CONSIGNED.replace(old, new))))
    };
    assert_eq!(again("K-1", "K-2"), "");
    assert!(again("K-1", "k 01").contains("consigned slabs \"K-1\" and \"k 01\" sound like one"));
    let party = again("Quarry Kettle", "Quarry Kettel");
    assert!(
        party.contains("\"Quarry Kettel\" is a party of its own, and \"Quarry Kettle\" is known"),
        "{party}"
    );
    let stone = again("kettle-blue", "kettel-blue");
    assert!(
        stone.contains("\"kettel-blue\" is a stone of its own, and \"kettle-blue\" is known"),
        "{stone}"
    );
}

#[test]
fn a_bill_may_come_before_its_charge_is_owed() {
    let owed = |day: &str| event("owed", day, "of = [\"freight\"]\n");
    let freight = freight();
    // A part bill of 10 of 40: the rest is accrued as it is owed, on the cost of the slabs as well.
    let part = arrived() + &paper("billed", "2026-02-10", "F-1", "10.00 USD", "");
    assert_eq!(sum(&kept(&freight, &part), Account::Accrued, None), "0");
    let both = part.clone() + &owed("2026-02-20");
    let books = kept(&freight, &both);
    assert_eq!(books.said(), "");
    assert_eq!(sum(&books, Account::Accrued, None), "-30.00");
    assert_eq!(sum(&books, Account::Yard, None), "140.00");
    let last = both.clone() + &paper("billed", "2026-03-01", "F-2", "33.00 USD", "final = true\n");
    assert_eq!(sum(&kept(&freight, &last), Account::Accrued, None), "0.00");
    assert_eq!(sum(&kept(&freight, &last), Account::Yard, None), "143.00");
    // After a final bill nothing is left to be owed, and none after one of all of it.
    for amount in ["10.00 USD", "45.00 USD"] {
        let whole = paper("billed", "2026-02-10", "F-1", amount, "final = true\n");
        let books = kept(&freight, &(arrived() + &whole + &owed("2026-02-20")));
        assert_eq!(sum(&books, Account::Accrued, None), "0");
    }
    // It is owed once, and by its bill's event alone it may be taken back when the later one was.
    let twice = told(&freight, &(both.clone() + &owed("2026-02-21")));
    assert!(twice.contains("\"freight\" is owed a second time"), "{twice}");
    let name = |text: &str, id: &str| text.replacen("kind", &format!("id = \"{id}\"\nkind"), 1);
    let named = arrived()
        + &name(&paper("billed", "2026-02-10", "F-1", "10.00 USD", ""), "bill")
        + &name(&owed("2026-02-20"), "owed");
    let back = |of: &str| {
        event("reverse", "2026-03-01", &format!("event = \"{of}\"\nreason = \"a slip\"\n"))
    };
    let early = told(&freight, &(named.clone() + &back("bill")));
    assert!(early.contains("what is left of it is owed since"), "{early}");
    let in_turn = kept(&freight, &(named + &back("owed") + &back("bill")));
    assert_eq!(sum(&in_turn, Account::Accrued, None), "0.00");
    assert_eq!(sum(&in_turn, Account::Yard, None), "100.00");
    // What was never estimated is owed with its bill alone.
    let new = "party = \"P\"\nnumber = \"1\"\nline = [{ new = \"storage\", amount = \"5.00 USD\", reason = \"a strike\" }]\n";
    let new = arrived() + &event("billed", "2026-03-01", new);
    let new = told(&freight, &(new + &event("owed", "2026-03-02", "of = [\"storage\"]\n")));
    assert!(new.contains("was never estimated, and is owed with its bill"), "{new}");
}

#[test]
fn days_that_stand_the_wrong_way_round_are_told() {
    let rest = "customer = \"Kettle\"\nuntil = 2026-02-01\n";
    let reserve = event("reserve", "2026-02-10", &(slabs(1..=1) + rest));
    let said = told(&hundred(), &(arrived() + &reserve));
    assert!(said.contains("slabs are set aside until a day that is past"), "{said}");
    let close = event("close", "2026-07-02", "until = 2027-06-30\n");
    let said = books(&hundred(), &arrived(), &close).said();
    assert!(said.contains("a period is closed before it ends"), "{said}");
    let tiny = Tiny::new();
    for command in ["audit", "journal"] {
        let output = run(tiny.path(), &[command, "--from", "2026-06-30", "--to", "2026-06-01"]);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(2), "{said}");
        assert!(said.contains("--from 2026-06-30 comes after --to 2026-06-01"), "{said}");
    }
}

#[test]
fn a_closed_period_names_the_event_that_moved_it() {
    let other = Estimate::new("two", "USD", 4, 1).goods("60.00 USD", None);
    let close = "until = 2026-02-28\nfinal = true\ndebits = \"260.00 USD\"\n";
    let close = event("close", "2026-03-02", close);
    let two = event("control", "2026-01-12", "");
    let said =
        |one: &str, two: &str| Kept::of(&[&freight(), &other], &[one, two], &close).unwrap().said();
    // 100 as control passes and as the slabs arrive, 60 of the other.
    assert_eq!(said(&arrived(), &two), "");
    // A bill of 40 is added below what came after the period: payables, and cost on hand.
    let late = event("move", "2026-03-05", &(slabs(1..=1) + "yard = \"norfolk\"\n"));
    let bill = paper("billed", "2026-02-20", "F-1", "40.00 USD", "");
    let moved = said(&(arrived() + &late + &bill), &two);
    // It leads: the close only tells of it.
    let lead =
        "\"billed\" of 2026-02-20 is in the period up to 2026-02-28, which is closed for good";
    assert!(moved.starts_with(&format!("error[contradiction]: {lead} --> books/one/")), "{moved}");
    assert!(moved.contains("its events have 40.00 USD more now"), "{moved}");
    assert!(
        moved.contains("debits of 40.00 USD in the period, written below later ones"),
        "{moved}"
    );
    assert!(moved.contains("books/one/events.toml:16:1"), "{moved}");
    // Where no event comes to the difference, the sums of the shipments are told.
    let changed = other.freeze.clone();
    let gone = Kept::of(&[&freight(), &Estimate { freeze: changed }], &[&arrived(), ""], &close);
    let gone = gone.unwrap().said();
    assert!(gone.contains("60.00 USD less now"), "{gone}");
    assert!(gone.contains("debited up to then: one 200.00 USD"), "{gone}");
}

#[test]
fn charges_that_stand_alike_are_settled_in_one_row() {
    let each = |at: usize| (quaystone::trade::Treatment::Stock, vec![(at, 1)]);
    let estimate = (0..4).fold(hundred(), |own, at| {
        let mut own = own.shared(&format!("unloading/bundle {at}"), "7.00 USD", None, each(at));
        own.freeze.charges.last_mut().unwrap().payee = "haulier".into();
        own
    });
    let estimate = estimate.charge("freight", "40.00 USD", None);
    let rows = |events: &str| {
        let kept = kept(&estimate, &(arrived() + events));
        let ledger = kept.ledger(None).unwrap();
        let all = settled(&ledger, 0, "2026-05-01".parse().unwrap()).unwrap();
        let sums = by_currency(&all).unwrap();
        let row = |one: &quaystone::ledger::Settled<'_>| {
            let money = |money: Option<quaystone::quantity::Money>| {
                money.map_or_else(String::new, |money| money.to_string())
            };
            (one.name.to_owned(), one.count, money(one.estimate), money(one.open), one.age)
        };
        let rows: Vec<_> = together(&all).unwrap().iter().map(row).collect();
        (rows, sums[0].waits.to_string(), sums[0].differs.unwrap().to_string())
    };
    let owed = event("owed", "2026-04-01", "of = [\"unloading\"]\n");
    let (all, waits, _) = rows(&owed);
    let row = |name: &str, count: usize, estimate: &str, open: &str, age: Option<i64>| {
        (name.to_owned(), count, estimate.to_owned(), open.to_owned(), age)
    };
    assert_eq!(all[1], row("unloading", 4, "28.00 USD", "28.00 USD", Some(30)));
    assert_eq!((all.len(), waits.as_str()), (3, "40.00 USD"));
    // One of them is billed, at more: each stands alone, and only of the others days are counted.
    let line = "line = [{ of = \"unloading/bundle 0\", amount = \"9.00 USD\" }]\n";
    let bill = format!("party = \"haulier\"\nnumber = \"1\"\nfinal = true\n{line}");
    let (all, _, more) = rows(&(owed + &event("billed", "2026-04-09", &bill)));
    assert_eq!(all[1], row("unloading", 1, "7.00 USD", "0.00 USD", None));
    assert_eq!(all[2], row("unloading", 1, "7.00 USD", "7.00 USD", Some(30)));
    assert_eq!((all.len(), more.as_str()), (6, "2.00 USD"));
}

#[test]
fn sets_of_slabs_that_differ_in_a_bundle_are_asked_about() {
    let list = |sets: [&str; 3]| {
        let [a, b, c] = sets;
        format!(
            "slab,bundle,length (cm),height (cm),match\nA1,B1,300,180,{a}\nA2,B1,300,180,{b}\nA3,B2,250,160,{c}\n"
        )
    };
    let said = |sets: [&str; 3]| {
        let tiny = Tiny::new();
        tiny.write("shipments/plain/packing.csv", &list(sets));
        let output = run(tiny.path(), &["check", "plain"]);
        assert_eq!(output.status.code(), Some(0));
        String::from_utf8(output.stderr).unwrap()
    };
    for sets in [["M1", "M2", "M1"], ["M1", "", ""], ["", "M1", ""]] {
        let told = said(sets);
        assert!(told.contains("slabs of bundle B1 differ in the column match"), "{told}");
        assert!(told.contains("packing.csv:3:"), "{told}");
    }
    assert!(!said(["M1", "M1", "M2"]).contains("match"));
}

#[test]
fn an_audit_by_charge_names_every_row_on_its_page() {
    let tiny = crate::books_year::year();
    let page = stdout(tiny.path(), &["audit", "--charges", "--as", "markdown"]);
    assert!(
        page.contains("slabs that came or left")
            && page.contains("slabs sold, returned or written down")
    );
    // A list has nothing where there is no charge.
    let list = stdout(tiny.path(), &["audit", "--charges", "--as", "csv"]);
    assert!(!list.contains("slabs that came or left"));
}

#[test]
fn a_bill_or_a_credit_that_its_charge_makes_unlikely_is_asked_about() {
    let said = |events: &str| kept(&freight(), &(arrived() + events)).said();
    let bill = |amount: &str, more: &str| paper("billed", "2026-03-01", "F-1", amount, more);
    assert_eq!(said(&bill("200.00 USD", "final = true\n")), "");
    let ten = said(&bill("400.00 USD", ""));
    assert!(
        ten.contains("400.00 USD is billed of \"freight\", and 40.00 USD was estimated"),
        "{ten}"
    );
    assert!(ten.contains("books/one/charges.csv:3:1"), "the row of the estimate: {ten}");
    // A part bill may be small, a final one less so; nothing at all is a word of its own.
    assert_eq!(said(&bill("4.00 USD", "")), "");
    assert!(said(&bill("4.00 USD", "final = true\n")).contains("less than a fifth of it, in all"));
    assert_eq!(said(&bill("0.00 USD", "final = true\n")), "");
    // The estimate says who bills it; what was never estimated may be of anybody.
    let other = said(&bill("44.00 USD", "").replace("payee of freight", "Kettle Shipping"));
    assert!(other.contains("\"Kettle Shipping\" is a new party"), "{other}");
    assert_eq!(other.matches("is a new party").count(), 1);
    let credit = paper("credit", "2026-03-09", "C-1", "4.00 USD", "");
    let other = said(&(bill("44.00 USD", "") + &credit.replace("payee of freight", "forwarder")));
    assert!(
        other.contains("forwarder credits \"freight\", and payee of freight billed it"),
        "{other}"
    );
    // The sign is the kind's.
    for (kind, way) in [("billed", "credit"), ("credit", "billed")] {
        let turned = paper(kind, "2026-03-09", "C-1", "-4.00 USD", "");
        let said = told(&freight(), &(arrived() + &bill("44.00 USD", "") + &turned));
        assert!(said.contains("comes to -4.00 USD"), "{said}");
        assert!(said.contains(&format!("kind = \"{way}\"")), "{said}");
    }
}

#[test]
fn a_payment_says_what_is_wrong_with_its_bill() {
    let bill = arrived() + &paper("billed", "2026-03-01", "F-1", "44.00 USD", "");
    let pay = |day: &str, party: &str, bills: &str| {
        event("paid", day, &format!("party = \"{party}\"\nbills = [{bills}]\n"))
    };
    let own = "payee of freight";
    let said = |events: &str| told(&freight(), &(bill.clone() + events));
    // Twice in one payment it would leave the bank twice.
    assert!(said(&pay("2026-03-09", own, "\"F-1\", \"F-1\"")).contains("bill F-1 is named twice"));
    let again = pay("2026-03-09", own, "\"F-1\"") + &pay("2026-03-10", own, "\"F-1\"");
    assert!(said(&again).contains("this bill: it is paid or credited in full"));
    assert!(said(&pay("2026-02-09", own, "\"F-1\"")).contains("it comes on 2026-03-01"));
    let other = said(&pay("2026-03-09", "forwarder", "\"F-1\""));
    assert!(other.contains("this bill is of payee of freight"), "{other}");
}

#[test]
fn what_the_slabs_of_an_event_make_unlikely_is_asked_about() {
    let said = |events: &str| kept(&hundred(), &(arrived() + events)).said();
    let there = event("move", "2026-03-01", &(slabs(1..=2) + "yard = \"savannah\"\n"));
    assert!(said(&there).contains("S1, S2 is moved to savannah, and stands there"));
    let sold = event("issue", "2026-03-01", &(slabs(1..=1) + "customer = \"Kettle\"\n"));
    let back = |customer: &str| {
        let rest = format!("yard = \"savannah\"\ncustomer = \"{customer}\"\n");
        sold.clone() + &event("return in", "2026-03-05", &(slabs(1..=1) + &rest))
    };
    assert_eq!(said(&back("Kettle")), "");
    assert!(said(&back("Samovar")).contains("slab S1 comes back from Samovar, and Kettle has it"));
    let out = |amount: &str| {
        let rest = format!("party = \"Quarry Inkwell\"\nnumber = \"R-1\"\namount = \"{amount}\"\n");
        event("return out", "2026-03-01", &(slabs(1..=2) + &rest))
    };
    assert_eq!(said(&out("50.00 USD")), "");
    assert!(said(&out("50.01 USD")).contains("50.01 USD is agreed for slabs that cost 50.00 USD"));
    // Packed with 5 m2: from 2.5 to 6 it may be.
    let found = |area: &str| {
        let all = "yard = \"savannah\"\nslabs = [\"S1\", \"S2\", \"S3\", \"S4\"]\n";
        let row =
            format!("found = [{{ slab = \"S1\", state = \"re-measured\", area = \"{area}\" }}]\n");
        event("count", "2026-03-01", &format!("{all}{row}"))
    };
    assert_eq!(said(&(found("6 m2"))), "");
    assert!(
        said(&found("50 m2")).contains("slab S1 measures 50.00 m2, and was packed with 5.00 m2")
    );
    let claim = |number: &str| {
        let rest = format!(
            "party = \"carrier\"\nnumber = \"{number}\"\nstate = \"admitted\"\namount = \"9.00 USD\"\n"
        );
        event("claim", "2026-03-01", &rest)
    };
    assert_eq!(said(&(claim("1") + &claim("2"))), "");
    assert!(
        said(&(claim("1") + &claim("1"))).contains("claim 1 on carrier is admitted a second time")
    );
}

#[test]
fn a_year_that_slips_is_asked_about() {
    // Quoted on 2026-01-02.
    let said = |day: &str| kept(&hundred(), &event("control", day, "")).said();
    assert_eq!(said("2026-01-02"), "");
    assert!(said("2025-01-10").contains("happened on 2025-01-10, before its estimate was quoted"));
    assert!(said("2062-01-10").contains("more than ten years after its estimate"));
    let close = event("close", "2027-07-02", "until = 2026-06-30\n");
    let late = books(&hundred(), &arrived(), &close).said();
    assert!(late.contains("a period is closed more than a year after it ended"), "{late}");
    let dated = paper("billed", "2026-03-01", "F-1", "44.00 USD", "dated = 2027-02-27\n");
    let dated = kept(&freight(), &(arrived() + &dated)).said();
    assert!(dated.contains("a paper is dated after the day it is posted on"), "{dated}");
}

#[test]
fn a_bill_that_is_taken_back_leaves_no_trace_on_slabs_and_charges() {
    let new = "id = \"b\"\nparty = \"P\"\nnumber = \"1\"\nline = [{ new = \"storage\", amount = \"5.00 USD\", reason = \"a strike\" }]\n";
    let back = "event = \"b\"\nreason = \"typed twice\"\n";
    let both = event("billed", "2026-03-01", new) + &event("reverse", "2026-03-02", back);
    let books = kept(&hundred(), &(arrived() + &both));
    let ledger = books.ledger(None).unwrap();
    let on = "2026-05-01".parse().unwrap();
    assert!(quaystone::ledger::stock(&ledger, on, true).iter().all(|slab| slab.is_billed));
    assert_eq!(settled(&ledger, 0, on).unwrap().len(), 1);
    let near = told(&hundred(), &(arrived() + &both.replace("event = \"b\"", "event = \"bb\"")));
    assert!(near.contains("did you mean \"b\"?"), "{near}");
    // A slab of a shipment lacks its shipment in a yard's file.
    let bare = event("loss", "2026-03-10", "slabs = [\"S2\"]\nreason = \"broken\"\n");
    let bare = self::books(&hundred(), &arrived(), &bare).said();
    assert!(bare.contains("did you mean \"one/S2\"?"), "{bare}");
}

#[test]
fn a_reason_answers_all_that_is_asked_of_its_event() {
    let estimate = || foreign().charge("freight", "40.00 USD", None);
    let bill = |amount: &str, more: &str| paper("billed", "2026-03-01", "F-1", amount, more);
    let credit = paper("credit", "2026-03-09", "C-1", "90.00 USD", "");
    let bank = "party = \"Quarry Inkwell\"\nbills = [\"I-1\"]\nbank = \"1100.00 USD\"\n";
    let claim =
        "party = \"carrier\"\nnumber = \"1\"\nstate = \"admitted\"\namount = \"9.00 USD\"\n";
    let claim = event("claim", "2026-03-05", claim);
    let near = paper("billed", "2026-03-01", "F-1", "40.00 USD", "");
    let near = near.replace("payee of freight", "payee of frieght");
    let found = "found = [{ slab = \"S1\", state = \"re-measured\", area = \"50 m2\" }]\n";
    let found = format!("yard = \"savannah\"\n{}{found}", slabs(1..=4));
    // What goes before, and the event that is asked about.
    let cases = [
        (String::new(), event("control", "2026-01-10", "rate = \"1 EUR = 10.9120 USD\"\n")),
        (arrived(), event("paid", "2026-03-01", bank)),
        (arrived() + &bill("44.00 USD", ""), credit),
        (arrived(), bill("400.00 USD", "")),
        (arrived(), bill("44.00 USD", "dated = 2027-02-27\n")),
        (arrived() + &claim, claim.clone()),
        (arrived(), near),
        (arrived(), event("count", "2026-03-01", &(slabs(1..=1) + "yard = \"savannah\"\n"))),
        (arrived(), event("count", "2026-03-01", &found)),
        (arrived(), event("move", "2026-03-01", &(slabs(1..=1) + "yard = \"savannah\"\n"))),
        (String::new(), event("control", "2025-12-10", "")),
    ];
    for (before, asked) in cases {
        let said = kept(&estimate(), &(before.clone() + &asked)).said();
        let line = (before.clone() + &asked)
            .lines()
            .zip(1..)
            .filter(|(line, _)| *line == "[[event]]")
            .last()
            .unwrap()
            .1;
        let answer = format!("say why by a `reason` of the event (line {line}): reason = \"...\"");
        assert!(said.contains(&answer), "{asked}{said}");
        let answered = format!("{asked}reason = \"so it was agreed\"\n");
        assert_eq!(kept(&estimate(), &(before + &answered)).said(), "", "{answered}");
    }
    // A loss needs a reason, and so its year is asked about all the same.
    let loss = event("loss", "2062-03-01", &(slabs(1..=1) + "reason = \"broken\"\n"));
    let said = kept(&estimate(), &(arrived() + &loss)).said();
    assert!(said.contains("more than ten years after its estimate"), "{said}");
}

#[test]
fn a_reason_on_a_line_answers_nothing_and_is_told_where_it_goes() {
    let line = |key: &str| {
        format!("line = [{{ {key}, amount = \"400.00 USD\", reason = \"a storm\" }}]\n")
    };
    let bill = |key: &str| {
        let party = "party = \"payee of freight\"\nnumber = \"F-1\"\n";
        arrived() + &event("billed", "2026-03-01", &(party.to_owned() + &line(key)))
    };
    let events = bill("of = \"freight\"");
    let at = events.lines().zip(1..).filter(|(line, _)| *line == "[[event]]").last().unwrap().1;
    let said = Kept::of(&[&freight()], &[&events], "").err().unwrap();
    assert!(said.contains(&format!("`reason` goes on the event, at line {at}")), "{said}");
    // A new charge has a reason of its own, and is not told to write one that it has.
    let said = kept(&freight(), &bill("new = \"storage\"")).said();
    let which =
        format!("say why by a `reason` of the event (line {at}); that of a new charge says");
    assert!(said.contains(&which) && !said.contains("reason = \"...\""), "{said}");
}

#[test]
fn an_amount_of_the_bank_is_not_asked_about_where_the_rate_of_its_bill_is() {
    let estimate = hundred().charge("freight", "100.00 EUR", Some(RATE));
    let line = "line = [{ of = \"freight\", amount = \"100.00 EUR\" }]\n";
    let bill = |rate: &str| {
        let party = "party = \"payee of freight\"\nnumber = \"F-1\"\n";
        event("billed", "2026-03-01", &format!("{party}rate = \"{rate}\"\n{line}"))
    };
    let paid = "party = \"payee of freight\"\nbills = [\"F-1\"]\nbank = \"110.00 USD\"\n";
    let paid = event("paid", "2026-03-20", paid);
    let said =
        |rate: &str, more: &str| kept(&estimate, &(arrived() + &bill(rate) + more + &paid)).said();
    let slip = said("1 EUR = 11.000 USD", "");
    assert!(slip.contains("is \"1 EUR = 1.1 USD\" meant?"), "{slip}");
    assert!(!slip.contains("the bank's 110.00 USD"), "{slip}");
    // Where its reason says that the rate is right, the amount of the bank is asked about.
    let right = said("1 EUR = 11.000 USD", "reason = \"so it was agreed\"\n");
    assert!(right.contains("the bank's 110.00 USD is far from the 1,100.00 USD"), "{right}");
    assert_eq!(said("1 EUR = 1.1000 USD", ""), "");
}

#[test]
fn what_was_never_estimated_is_asked_about_where_it_is_large() {
    // 140.00 were estimated: a tenth is 14.00.
    let said = |events: &str| kept(&freight(), &(arrived() + events)).said();
    let new = |amount: &str, by: &str| {
        let line = format!(
            "line = [{{ new = \"storage\", amount = \"{amount}\"{by}, reason = \"a strike\" }}]\n"
        );
        event("billed", "2026-03-01", &format!("party = \"P\"\nnumber = \"1\"\n{line}"))
    };
    assert_eq!(said(&new("14.00 USD", "")), "");
    for by in ["", ", by = \"box\""] {
        let asked = said(&new("14.01 USD", by));
        assert!(
            asked.contains(
                "14.01 USD of \"storage\" is billed, and 140.00 USD was estimated for all of one"
            ),
            "{asked}"
        );
        assert_eq!(said(&(new("14.01 USD", by) + "reason = \"a month\"\n")), "");
    }
    let claim = |amount: &str| {
        let rest = format!(
            "party = \"carrier\"\nnumber = \"1\"\nstate = \"admitted\"\namount = \"{amount}\"\n"
        );
        event("claim", "2026-03-01", &rest)
    };
    assert_eq!(said(&claim("14.00 USD")), "");
    assert!(said(&claim("1400.00 USD")).contains("1,400.00 USD is claimed, and 140.00 USD was"));
}

#[test]
fn a_credit_says_what_is_left_of_the_bill_it_is_set_against() {
    let bill = arrived() + &paper("billed", "2026-03-01", "F-1", "44.00 USD", "");
    let pay = |more: &str| {
        let rest = format!("party = \"payee of freight\"\nbills = [\"F-1\"]\n{more}");
        event("paid", "2026-03-05", &rest)
    };
    let credit = paper("credit", "2026-03-09", "C-1", "9.00 USD", "against = \"F-1\"\n");
    let said = told(&freight(), &(bill.clone() + &pay("") + &credit));
    assert!(said.contains("bill F-1 of payee of freight is paid or credited in full"), "{said}");
    assert!(said.contains("then payee of freight owes the credit"), "{said}");
    let said = told(&freight(), &(bill.clone() + &pay("amount = \"40.00 USD\"\n") + &credit));
    assert!(said.contains("9.00 USD is credited, and 4.00 USD is open of bill F-1"), "{said}");
    let said = told(&freight(), &(bill + &credit.replace("\"F-1\"", "\"F-9\"")));
    assert!(said.contains("payee of freight has no bill F-9"), "{said}");
}

#[test]
fn a_journal_of_days_on_which_nothing_is_posted_says_so() {
    let year = crate::books_year::year();
    for more in [&[][..], &["--by", "month"], &["--as", "json"], &["--as", "csv"]] {
        let output = run(year.path(), &[&["journal", "--from", "2031-01-01"][..], more].concat());
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(0), "{said}");
        assert!(
            said.contains("nothing is posted from 2031-01-01 on: the last event is posted on 20"),
            "{more:?}: {said}"
        );
        let page = String::from_utf8(output.stdout).unwrap();
        assert!(!page.contains("a second export adds nothing"), "{more:?}: {page}");
        assert_eq!(page.contains("debit"), more == ["--as", "csv"], "{more:?}: {page}");
    }
}
