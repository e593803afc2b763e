//! What goes the other way: money that comes back, bills in another currency than the estimate, write-downs that come
//! back with their slab, and reversals that something rests on. All worked by hand.

use quaystone::ledger::stock;
use quaystone::trade::Account;

use crate::ledger_common::{Estimate, event, kept, slabs, sum, sums, told};

fn freight(amount: &str, rate: Option<&str>) -> Estimate {
    Estimate::new("one", "USD", 2, 1).goods("200 USD", None).charge("freight", amount, rate)
}

/// A bill or a credit of freight by "Line".
fn paper(kind: &str, number: &str, amount: &str, rest: &str) -> String {
    let line = format!(
        "party = \"Line\"\nnumber = \"{number}\"\nline = [{{ of = \"freight\", amount = \"{amount}\" }}]\n{rest}"
    );
    event(kind, "2026-02-10", &line)
}

fn owed() -> String {
    event("control", "2026-02-01", "") + &event("owed", "2026-02-01", "of = [\"freight\"]\n")
}

#[test]
fn money_that_comes_for_a_credit_comes_to_the_bank() {
    let estimate = freight("80 EUR", Some("1 EUR = 1.10 USD"));
    let before = owed()
        + &paper("billed", "N1", "80 EUR", "final = true\n")
        + &event("paid", "2026-02-12", "party = \"Line\"\nbills = [\"N1\"]\nbank = \"88 USD\"\n")
        + &paper("credit", "C1", "80 EUR", "rate = \"1 EUR = 1.20 USD\"\n")
            .replace("02-10", "02-13");
    let paid = |rest: &str| {
        event("paid", "2026-02-20", &format!("party = \"Line\"\nbills = [\"C1\"]\n{rest}"))
    };
    // 88 went and 90 come. The credit takes the cost at 1.10 and is 96 at 1.20: 8 won, of which 6 are lost again.
    let all = sums(&kept(&estimate, &(before.clone() + &paid("bank = \"90 USD\"\n"))), None);
    assert_eq!((&*all[&Account::Bank], &*all[&Account::Exchange]), ("2.00", "-2.00"));
    assert_eq!(all[&Account::Receivables], "0.00");
    // 30 EUR of it, which stand at 36.
    let some = paid("amount = \"30 EUR\"\nbank = \"33 USD\"\n");
    let all = sums(&kept(&estimate, &(before.clone() + &some)), None);
    assert_eq!((&*all[&Account::Bank], &*all[&Account::Exchange]), ("-55.00", "-5.00"));
    assert_eq!(all[&Account::Receivables], "60.00");
    let more =
        told(&estimate, &(before.clone() + &paid("amount = \"90 EUR\"\nbank = \"99 USD\"\n")));
    assert!(more.contains("90.00 EUR is paid, and 80.00 EUR is open"), "{more}");
    let below = told(&estimate, &(before + &paid("amount = \"-30 EUR\"\nbank = \"33 USD\"\n")));
    assert!(below.contains("`amount` is negative"), "{below}");
}

#[test]
fn a_refundable_advance_comes_back_or_pays_for_goods_at_the_days_rate() {
    let estimate = Estimate::new("one", "USD", 2, 1).goods("100 EUR", None);
    let advance = event(
        "advance",
        "2026-01-10",
        "invoice = \"I-1\"\namount = \"40 EUR\"\nbank = \"44 USD\"\nrefundable = true\n",
    );
    let back = "party = \"Quarry Inkwell\"\nbills = [\"I-1\"]\nbank = \"46 USD\"\n";
    let all = sums(&kept(&estimate, &(advance.clone() + &event("paid", "2026-01-20", back))), None);
    assert_eq!((&*all[&Account::Bank], &*all[&Account::Exchange]), ("2.00", "-2.00"));
    assert_eq!(all[&Account::Deposits], "0.00");
    // 40 EUR that cost 44 pay 48 of what is owed at 1.20; 60 EUR are left (IAS 21, paragraph 28).
    let control = event("control", "2026-02-01", "rate = \"1 EUR = 1.20 USD\"\n");
    let all = sums(&kept(&estimate, &(advance + &control)), None);
    assert_eq!((&*all[&Account::Payables], &*all[&Account::Exchange]), ("-72.00", "-4.00"));
    assert_eq!((&*all[&Account::Transit], &*all[&Account::Deposits]), ("120.00", "0.00"));
}

#[test]
fn a_part_bill_in_another_currency_takes_its_part_of_what_is_accrued() {
    let estimate = freight("1780 USD", None);
    let rates = "rate = \"1 EUR = 1.10 USD\"\nowed-rate = \"1 EUR = 1.10 USD\"\n";
    let part = paper("billed", "N1", "100 EUR", rates);
    let last = paper("billed", "N2", "1700 EUR", &format!("{rates}final = true\n"));
    let of = |events: &str| {
        let kept = kept(&estimate, events);
        [Account::Transit, Account::Accrued].map(|account| sum(&kept, account, None))
    };
    // Goods of 200. 110 of 1,780 are billed, in whichever order; then 1,870 more.
    assert_eq!(of(&(owed() + &part)), ["1980.00", "-1670.00"]);
    let bill_first = event("control", "2026-02-01", "")
        + &part.replace("02-10", "02-02").replace(rates, "rate = \"1 EUR = 1.10 USD\"\n")
        + &event("owed", "2026-02-05", "of = [\"freight\"]\n");
    assert_eq!(of(&bill_first), ["1980.00", "-1670.00"]);
    assert_eq!(of(&(owed() + &part + &last)), ["2180.00", "0.00"]);
}

#[test]
fn a_credit_takes_cost_at_the_rate_that_it_came_in_with_and_in_any_order() {
    // 75 USD are owed, 80 EUR billed: 84.80 at the rate of the owed day, 89.60 at the bill's. Credited whole, nothing
    // is left of either.
    let bill = "rate = \"1 EUR = 1.12 USD\"\nowed-rate = \"1 EUR = 1.06 USD\"\nfinal = true\n";
    let credit = "against = \"N1\"\nrate = \"1 EUR = 1.12 USD\"\n";
    let events =
        owed() + &paper("billed", "N1", "80 EUR", bill) + &paper("credit", "C1", "80 EUR", credit);
    let all = sums(&kept(&freight("75 USD", None), &events), None);
    assert_eq!((&*all[&Account::Transit], &*all[&Account::Exchange]), ("200.00", "0.00"));
    // 1,000 of 1,780 are billed, 300 credited: 780 are still to come, whenever it is owed.
    let estimate = freight("1780 USD", None);
    let control = event("control", "2026-02-01", "");
    let owed = event("owed", "2026-02-15", "of = [\"freight\"]\n");
    let bill = paper("billed", "N1", "1000 USD", "");
    let credit = paper("credit", "C1", "300 USD", "");
    for events in [
        [&control, &bill, &credit, &owed].map(String::as_str).concat(),
        [&control, &bill, &owed, &credit.replace("02-10", "02-16")].map(String::as_str).concat(),
    ] {
        let kept = kept(&estimate, &events);
        let of = [Account::Transit, Account::Accrued].map(|account| sum(&kept, account, None));
        assert_eq!(of, ["1680.00", "-780.00"]);
    }
}

#[test]
fn a_written_down_slab_comes_back_at_what_it_was_written_down_to() {
    let estimate = Estimate::new("one", "USD", 2, 1).goods("200 USD", None);
    let down = format!("{}worth = \"60 USD\"\nreason = \"a vein\"\n", slabs(1..=1));
    let before = event("control", "2026-02-01", "")
        + &event("arrive", "2026-03-02", "yard = \"savannah\"\n")
        + &event("write down", "2026-03-03", &down)
        + &event("issue", "2026-03-04", &format!("id = \"out\"\n{}", slabs(1..=1)));
    let yard = "yard = \"savannah\"\n";
    for back in [
        event("return in", "2026-03-05", &(slabs(1..=1) + yard)),
        event("reverse", "2026-03-05", "event = \"out\"\nreason = \"not sold\"\n"),
    ] {
        let all = sums(&kept(&estimate, &(before.clone() + &back)), None);
        assert_eq!((&*all[&Account::Allowance], &*all[&Account::CostOfSales]), ("-40.00", "40.00"));
    }
}

#[test]
fn what_something_rests_on_since_is_not_taken_back() {
    let reverse = |id: &str| {
        event("reverse", "2026-04-01", &format!("event = \"{id}\"\nreason = \"a slip\"\n"))
    };
    let estimate = freight("1780 USD", None);
    let arrived = |found: &str| {
        event("arrive", "2026-03-02", &format!("id = \"arrived\"\nyard = \"savannah\"\n{found}"))
    };
    let down = |id: &str, worth: &str| {
        let rest = format!(
            "id = \"{id}\"\n{}worth = \"{worth} USD\"\nreason = \"a vein\"\n",
            slabs(1..=1)
        );
        event("write down", "2026-03-03", &rest)
    };
    let control = event("control", "2026-02-01", "");
    let twice = control.clone() + &arrived("") + &down("first", "80") + &down("second", "60");
    let said = told(&estimate, &(twice.clone() + &reverse("first")));
    assert!(said.contains("was written down or up once more"), "{said}");
    assert_eq!(
        sum(&kept(&estimate, &(twice + &reverse("second"))), Account::Allowance, None),
        "-20.00"
    );
    let broken = control.clone()
        + &arrived("found = [{ slab = \"S1\", state = \"broken\" }]\n")
        + &event("owed", "2026-03-05", "of = [\"freight\"]\n")
        + &reverse("arrived");
    let said = told(&estimate, &broken);
    assert!(said.contains("a charge is owed since"), "{said}");
    let part = paper("billed", "N1", "1000 USD", "id = \"part\"\n");
    let last = paper("billed", "N2", "780 USD", "final = true\n");
    let said = told(&estimate, &(owed() + &part + &last + &reverse("part")));
    assert!(said.contains("is billed for good since"), "{said}");
}

#[test]
fn slabs_that_bear_a_charge_before_control_are_listed() {
    let events = event("owed", "2026-01-20", "of = [\"freight\"]\n");
    let kept = kept(&freight("1780 USD", None), &events);
    let ledger = kept.ledger(None).unwrap();
    let listed = stock(&ledger, "2026-01-21".parse().unwrap(), false);
    assert_eq!(listed.iter().map(|one| one.state.held).sum::<i64>(), 178_000);
    assert_eq!(sum(&kept, Account::Transit, None), "1780.00");
}
