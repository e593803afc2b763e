//! The ledger against published figures: losses, bills after sales, foreign money, write-downs. The names of the
//! examples are those of the facts that the project keeps; each has its source beside it.

use quaystone::ledger::Where;
use quaystone::trade::{Account, Leg, Treatment};

use crate::ledger_common::{Estimate, Kept, event, kept, slabs, sum, sums, told};

fn found(range: std::ops::RangeInclusive<usize>, state: &str) -> String {
    let one = |at| format!("[[event.found]]\nslab = \"S{at}\"\nstate = \"{state}\"\n");
    range.map(one).collect::<Vec<String>>().concat()
}

/// Control of the goods, then every other charge owed at once.
fn begun(charges: &[&str]) -> String {
    let mut text = event("control", "2026-02-01", "");
    for charge in charges {
        text += &event("owed", "2026-02-02", &format!("of = [\"{charge}\"]\n"));
    }
    text
}

#[test]
fn b1_cost_of_purchase_less_a_discount() {
    // Textbook exercise with answer: 80,000 under 1/10 net 30 paid in time, freight 2,500, insurance 300,
    // duty 1,500: cost 83,500.
    let estimate = Estimate::new("one", "USD", 4, 1)
        .goods("80000 USD", None)
        .charge("freight", "2500 USD", None)
        .charge("insurance", "300 USD", None)
        .charge("duty", "1500 USD", None);
    let discount = "party = \"Quarry Inkwell\"\nnumber = \"C-1\"\nagainst = \"I-1\"\nline = [{ of = \"goods\", amount = \"800 USD\" }]\n";
    let events =
        begun(&["freight", "insurance", "duty"]) + &event("credit", "2026-02-03", discount);
    assert_eq!(sum(&kept(&estimate, &events), Account::Transit, None), "83500.00");
}

#[test]
fn b2_what_comes_back_and_what_is_expensed_stay_out() {
    // Training note: 50,000 + 10,000 + 5,000 + 30 + 100 + 200 + 1,000 + 100 = 66,430; VAT 6,630 and
    // public relations 80 stay out.
    let mut estimate = Estimate::new("one", "USD", 3, 1).goods("50000 USD", None);
    let mut keys = Vec::new();
    for (key, amount) in [
        ("import tax", "10000 USD"),
        ("specific tax", "5000 USD"),
        ("bank fee", "30 USD"),
        ("port", "100 USD"),
        ("clearance", "200 USD"),
        ("transport", "1000 USD"),
        ("handling", "100 USD"),
    ] {
        estimate = estimate.charge(key, amount, None);
        keys.push(key);
    }
    estimate = estimate.treated("vat", "6630 USD", Treatment::Recoverable);
    estimate.freeze.charges.last_mut().unwrap().leg = Leg::DutyAndTax;
    estimate = estimate.treated("public relations", "80 USD", Treatment::Period);
    keys.extend(["vat", "public relations"]);
    let sums = sums(&kept(&estimate, &begun(&keys)), None);
    assert_eq!(sums[&Account::Transit], "66430.00");
    assert_eq!(sums[&Account::Recoverable], "6630.00");
    assert_eq!(sums[&Account::Period], "80.00");
}

#[test]
fn b14_b15_b16_normal_loss_lies_on_what_is_left_and_on_what_is_lost_beyond_it() {
    // Course notes: 1,000 units for 4,500, normal loss 10 %, 860 good: 5.00 a unit, good 4,300, abnormal 200.
    let estimate = Estimate::new("one", "USD", 1000, 1).goods("4500 USD", None).normal_loss("10 %");
    let arrive = |lost: usize| {
        let rest = format!("yard = \"savannah\"\n{}", found(1..=lost, "short"));
        begun(&[]) + &event("arrive", "2026-03-01", &rest)
    };
    let sums_of = |estimate: &Estimate, lost| sums(&kept(estimate, &arrive(lost)), None);
    let sums = sums_of(&estimate, 140);
    assert_eq!((&*sums[&Account::Yard], &*sums[&Account::Loss]), ("4300.00", "200.00"));
    // Course text, its scrap left out: 20,520 over 900: 22.80; 800 good 18,240, abnormal 2,280.
    let estimate =
        Estimate::new("one", "USD", 1000, 1).goods("20520 USD", None).normal_loss("10 %");
    let sums = sums_of(&estimate, 200);
    assert_eq!((&*sums[&Account::Yard], &*sums[&Account::Loss]), ("18240.00", "2280.00"));
    // Course notes: 3,000 kg for 52,800, 10 %: 19.5555... a kg. Here 30 slabs for 528, 3 lost: all of it stays.
    let estimate = Estimate::new("one", "USD", 30, 1).goods("528 USD", None).normal_loss("10 %");
    let kept = kept(&estimate, &arrive(3));
    let ledger = kept.ledger(None).unwrap();
    let held: Vec<i64> = ledger.slabs[0][3..].iter().map(|slab| slab.held).collect();
    assert_eq!(held.iter().sum::<i64>(), 52_800);
    assert!(held.iter().all(|held| [1955, 1956].contains(held)), "{held:?}");
}

#[test]
fn b17_b18_all_of_a_normal_loss_stays_in_cost() {
    // Accounting text: 100 t at 20 and freight 470, 95 t arrive, 20 t unsold: 26.00 a tonne, stock 520.
    let estimate = Estimate::new("one", "USD", 100, 1)
        .goods("2000 USD", None)
        .charge("freight", "470 USD", None)
        .normal_loss("5 %");
    let arrive = format!("yard = \"savannah\"\n{}", found(1..=5, "broken"));
    let events = begun(&["freight"])
        + &event("arrive", "2026-03-01", &arrive)
        + &event("issue", "2026-03-09", &slabs(26..=100));
    let sums = sums(&kept(&estimate, &events), None);
    assert_eq!((&*sums[&Account::Yard], &*sums[&Account::CostOfSales]), ("520.00", "1950.00"));
    assert_eq!(sums.get(&Account::Loss).map_or("0.00", |sum| sum), "0.00");
    // Accounting text: 10,000 t at 100, normal loss 200 t: 102.04 a tonne (exact 102.040816...).
    let estimate = Estimate::new("one", "USD", 50, 1).goods("5000 USD", None).normal_loss("2 %");
    let arrive = format!("yard = \"savannah\"\n{}", found(1..=1, "broken"));
    let kept = kept(&estimate, &(begun(&[]) + &event("arrive", "2026-03-01", &arrive)));
    let ledger = kept.ledger(None).unwrap();
    assert!(ledger.slabs[0][1..].iter().all(|slab| [10_204, 10_205].contains(&slab.held)));
}

#[test]
fn b19_cost_after_a_loss_lies_on_the_survivors() {
    // Answered exercise: 100 cases at 50; packing 100, carriage 150, rail 200; 10 destroyed on the way; cartage
    // after arrival 50; the railway pays 300. Abnormal loss 545, of which 245 to profit and loss.
    let estimate = Estimate::new("one", "USD", 100, 1)
        .goods("5000 USD", None)
        .charge("packing", "100 USD", None)
        .charge("carriage", "150 USD", None)
        .charge("rail", "200 USD", None)
        .charge("cartage", "50 USD", None);
    let claim = |state: &str, more: &str| {
        format!(
            "party = \"railway\"\nnumber = \"K-1\"\nstate = \"{state}\"\namount = \"300 USD\"\n{more}"
        )
    };
    let events = begun(&["packing", "carriage", "rail"])
        + &event(
            "arrive",
            "2026-03-01",
            &format!("yard = \"savannah\"\n{}", found(91..=100, "broken")),
        )
        + &event("owed", "2026-03-02", "of = [\"cartage\"]\n")
        + &event("claim", "2026-03-03", &claim("made", ""))
        + &event("issue", "2026-03-09", &slabs(1..=70))
        + &event("claim", "2027-02-03", &claim("admitted", ""))
        + &event("claim", "2027-03-03", &claim("paid", ""));
    let kept = kept(&estimate, &events);
    // The 20 unsold: 1,090 + 50 x 20/90 = 1,101.11.
    let sums_2026 = sums(&kept, Some("2026-12-31"));
    assert_eq!(sums_2026[&Account::Loss], "545.00");
    assert_eq!(sums_2026[&Account::Yard], "1101.11");
    assert!(!sums_2026.contains_key(&Account::Recovered));
    let sums = sums(&kept, None);
    assert_eq!((&*sums[&Account::Loss], &*sums[&Account::Recovered]), ("545.00", "-300.00"));
    assert_eq!((&*sums[&Account::Claims], &*sums[&Account::Bank]), ("0.00", "300.00"));
}

#[test]
fn b20_a_loss_on_the_way_at_the_cost_up_to_it() {
    // Study text: 100 sets at 50,000 with 5,000 before the loss; 20 lost; 4,000 after arrival; 20 unsold: loss
    // 11,000, unsold 12,000.
    let estimate = Estimate::new("one", "USD", 100, 1)
        .goods("50000 USD", None)
        .charge("freight", "5000 USD", None)
        .charge("landing", "4000 USD", None);
    let events = begun(&["freight"])
        + &event(
            "arrive",
            "2026-03-01",
            &format!("yard = \"savannah\"\n{}", found(1..=20, "short")),
        )
        + &event("owed", "2026-03-02", "of = [\"landing\"]\n")
        + &event("issue", "2026-03-09", &slabs(21..=80));
    let sums = sums(&kept(&estimate, &events), None);
    assert_eq!((&*sums[&Account::Loss], &*sums[&Account::Yard]), ("11000.00", "12000.00"));
}

#[test]
fn b21_b22_an_advance_keeps_its_rate() {
    // IFRIC 22, IE2 to IE8, from the buyer's side: 40 paid on 1 August, 60 owed from 1 September, paid on the
    // 30th: 40 at the rate of August, 60 at that of 1 September. The rates are ours.
    let estimate = Estimate::new("one", "USD", 3, 1).goods("100 EUR", None);
    let events = event(
        "advance",
        "2026-08-01",
        "invoice = \"I-1\"\namount = \"40 EUR\"\nbank = \"44 USD\"\n",
    ) + &event("control", "2026-09-01", "rate = \"1 EUR = 1.20 USD\"\n")
        + &event(
            "paid",
            "2026-09-30",
            "party = \"Quarry Inkwell\"\nbills = [\"I-1\"]\nbank = \"78 USD\"\n",
        );
    let sums = sums(&kept(&estimate, &events), None);
    // 40 x 1.10 + 60 x 1.20 = 116; paid 44 + 78, so 6 are exchange.
    assert_eq!((&*sums[&Account::Transit], &*sums[&Account::Exchange]), ("116.00", "6.00"));
    assert_eq!((&*sums[&Account::Bank], &*sums[&Account::Advances]), ("-122.00", "0.00"));
}

#[test]
fn b24_b25_b26_payables_move_and_stock_does_not() {
    let paid = |day: &str, bank: &str| {
        let rest = format!("party = \"Quarry Inkwell\"\nbills = [\"I-1\"]\nbank = \"{bank}\"\n");
        event("paid", day, &rest)
    };
    let close = |day: &str, rate: &str| {
        format!(
            "[[event]]\nkind = \"close\"\noccurred = {day}\nuntil = {day}\nrates = [\"{rate}\"]\n"
        )
    };
    // Answer book to a textbook: GBP 20,000 at 9.25 stays 185,000; paid at 9.90: loss 13,000.
    let estimate = Estimate::new("one", "ZAR", 4, 1).goods("20000 GBP", Some("1 GBP = 9.25 ZAR"));
    let events = event("control", "2026-07-15", "") + &paid("2026-08-31", "198000 ZAR");
    let all = sums(&kept(&estimate, &events), None);
    assert_eq!((&*all[&Account::Transit], &*all[&Account::Exchange]), ("185000.00", "13000.00"));
    // The same: USD 100,000 at 7.60; year end 7.10; 80 % sold; paid at 6.90: gains 50,000 and 20,000, cost of
    // sales 608,000, stock left 152,000.
    let estimate = Estimate::new("one", "ZAR", 10, 1).goods("100000 USD", Some("1 USD = 7.60 ZAR"));
    let events = event("control", "2026-07-25", "")
        + &event("issue", "2026-08-01", &slabs(1..=8))
        + &close("2026-12-31", "1 USD = 7.10 ZAR")
        + &paid("2027-02-02", "690000 ZAR");
    let books = Kept::of(&[&estimate], &[&events], "");
    let kept_2 = books.unwrap_or_else(|told| panic!("{told}"));
    let year = sums(&kept_2, Some("2026-12-31"));
    assert_eq!(
        (&*year[&Account::Exchange], &*year[&Account::Payables]),
        ("-50000.00", "-710000.00")
    );
    let all = sums(&kept_2, None);
    assert_eq!(
        (&*all[&Account::CostOfSales], &*all[&Account::Transit]),
        ("608000.00", "152000.00")
    );
    assert_eq!((&*all[&Account::Exchange], &*all[&Account::Payables]), ("-70000.00", "0.00"));
    // Training material, module 30, example 9: 100,000 at 2.00; year end 2.10; paid at 2.05.
    let estimate = Estimate::new("one", "USD", 4, 1).goods("100000 EUR", Some("1 EUR = 2.00 USD"));
    let events = event("control", "2026-12-24", "")
        + &close("2026-12-31", "1 EUR = 2.10 USD")
        + &paid("2027-01-17", "205000 USD");
    let kept = kept(&estimate, &events);
    assert_eq!(sum(&kept, Account::Exchange, Some("2026-12-31")), "10000.00");
    assert_eq!(sum(&kept, Account::Exchange, None), "5000.00");
}

#[test]
fn an_accrual_a_close_a_bill_and_a_payment_in_foreign_money() {
    // Worked by hand: accrued EUR 1,000 at 1.10 = 1,100.00; closing at 1.12, loss 20.00; billed EUR 1,060: 66.00
    // more cost (60 x 1.10), 1.20 exchange (60 x 0.02), payable 1,187.20; paid at 1.15 = 1,219.00, loss 31.80.
    let estimate =
        Estimate::new("one", "USD", 7, 1).charge("freight", "1000 EUR", Some("1 EUR = 1.10 USD"));
    let events = event("owed", "2026-03-01", "of = [\"freight\"]\n")
        + "[[event]]\nkind = \"close\"\noccurred = 2026-03-31\nuntil = 2026-03-31\nrates = [\"1 EUR = 1.12 USD\"]\n"
        + &event(
            "billed",
            "2026-04-10",
            "party = \"line\"\nnumber = \"F-1\"\nfinal = true\nline = [{ of = \"freight\", amount = \"1060 EUR\" }]\n",
        )
        + &event(
            "paid",
            "2026-05-10",
            "party = \"line\"\nbills = [\"F-1\"]\nbank = \"1219 USD\"\n",
        );
    let kept = kept(&estimate, &events);
    let at = |day: &str| sums(&kept, Some(day));
    assert_eq!(at("2026-03-01")[&Account::Accrued], "-1100.00");
    assert_eq!(at("2026-03-31")[&Account::Exchange], "20.00");
    let billed = at("2026-04-10");
    assert_eq!(
        (&*billed[&Account::Transit], &*billed[&Account::Payables]),
        ("1166.00", "-1187.20")
    );
    assert_eq!((&*billed[&Account::Exchange], &*billed[&Account::Accrued]), ("21.20", "0.00"));
    let paid = sums(&kept, None);
    assert_eq!((&*paid[&Account::Exchange], &*paid[&Account::Bank]), ("53.00", "-1219.00"));
    assert_eq!(paid[&Account::Transit], "1166.00");
}

#[test]
fn b28_b29_b30_down_to_what_slabs_are_worth_and_back_up_to_cost() {
    // Textbook exercise: item by item 5,800 (down 700) of 6,500.
    let costs = [500, 2_000, 600, 3_000, 400];
    let by = |(at, cost): (usize, &u32)| (at, *cost);
    let estimate = Estimate::new("one", "USD", 5, 1).shared(
        "goods/line A",
        "6500 USD",
        None,
        (Treatment::Stock, costs.iter().enumerate().map(by).collect()),
    );
    let mut estimate = estimate;
    estimate.freeze.charges[0].invoice = Some("I-1".into());
    let write = |kind: &str, day: &str, slab: usize, worth: &str| {
        let rest =
            format!("slabs = [\"S{slab}\"]\nworth = \"{worth}\"\nreason = \"prices of sales\"\n");
        event(kind, day, &rest)
    };
    let begin = event("control", "2026-02-01", "")
        + &event("arrive", "2026-03-01", "yard = \"savannah\"\n");
    let events = begin.clone()
        + &write("write down", "2026-06-30", 2, "1800 USD")
        + &write("write down", "2026-06-30", 4, "2500 USD");
    let all = sums(&kept(&estimate, &events), None);
    assert_eq!((&*all[&Account::Yard], &*all[&Account::Allowance]), ("6500.00", "-700.00"));
    // Exam explanation: cost 720,000; worth 690,000, down 30,000; later 760,000: back to 720,000.
    let one = Estimate::new("one", "USD", 1, 1).goods("720000 USD", None);
    let events = begin.clone() + &write("write down", "2026-06-30", 1, "690000 USD");
    assert_eq!(sum(&kept(&one, &events), Account::Allowance, None), "-30000.00");
    let back = events + &write("write back", "2026-07-31", 1, "760000 USD");
    assert_eq!(sum(&kept(&one, &back), Account::Allowance, None), "0.00");
    // Course notes on IAS 2.33 and ASC 330-10-35-14: 500, worth 450, later 520: 500 again, or 450 for good.
    let one = Estimate::new("one", "USD", 1, 1).goods("500 USD", None);
    let events = begin
        + &write("write down", "2026-06-30", 1, "450 USD")
        + &write("write back", "2026-07-31", 1, "520 USD");
    assert_eq!(sum(&kept(&one, &events), Account::Allowance, None), "0.00");
    let one = Estimate::new("one", "USD", 1, 1).goods("500 USD", None).us_gaap();
    assert!(told(&one, &events).contains("ASC 330-10-35-14"));
}

fn bill(key: &str, amount: &str) -> String {
    format!(
        "party = \"line\"\nnumber = \"F-9\"\nfinal = true\nline = [{{ of = \"{key}\", amount = \"{amount}\" }}]\n"
    )
}

#[test]
fn b33_b35_b36_a_late_bill_goes_where_the_slabs_are() {
    // Course forum: accrued 2,000, billed 3,300 in the next period: 1,300 lie in that one.
    let estimate =
        Estimate::new("one", "USD", 1, 1).goods("1 USD", None).charge("freight", "2000 USD", None);
    let events = begun(&["freight"])
        + &event("issue", "2026-03-01", &slabs(1..=1))
        + &event("billed", "2026-05-01", &bill("freight", "3300 USD"));
    let kept_1 = kept(&estimate, &events);
    assert_eq!(sum(&kept_1, Account::CostOfSales, Some("2026-04-30")), "2001.00");
    assert_eq!(sum(&kept_1, Account::CostOfSales, None), "3301.00");
    // Cost accounting textbook: 400,000 too little charged, 240,000 / 660,000 / 3,600,000 of the very charge lie
    // in the three balances: 21,333.33 / 58,666.67 / 320,000.00 (its key rounds percentages first).
    let by = vec![(0, 240_000), (1, 660_000), (2, 3_600_000)];
    let estimate = Estimate::new("one", "USD", 3, 1).goods("3 USD", None).shared(
        "overhead",
        "4500000 USD",
        None,
        (Treatment::Stock, by),
    );
    let events = begun(&["overhead"])
        + &event("arrive", "2026-03-01", "yard = \"savannah\"\n")
        + &event("issue", "2026-03-02", &slabs(3..=3))
        + &event("billed", "2026-05-01", &bill("overhead", "4900000 USD"));
    let kept_2 = kept(&estimate, &events);
    let ledger = kept_2.ledger(None).unwrap();
    let more: Vec<i64> = ledger.slabs[0].iter().map(|slab| slab.held).collect();
    assert_eq!(
        more,
        [24_000_000 + 2_133_333 + 100, 66_000_000 + 5_866_667 + 100, 392_000_000 + 100]
    );
    assert!(matches!(ledger.slabs[0][2].at, Where::Issued(_)));
    // An enquiry's own figures: 10,000,000 freight, 600,000 of 1,000,000 units sold: 6,000,000 and 4,000,000.
    let estimate =
        Estimate::new("one", "USD", 10, 1).goods("0 USD", None).charge("freight", "0 USD", None);
    let events = begun(&["freight"])
        + &event("issue", "2026-03-02", &slabs(1..=6))
        + &event("billed", "2026-05-01", &bill("freight", "10000000 USD"));
    let all = sums(&kept(&estimate, &events), None);
    assert_eq!(
        (&*all[&Account::CostOfSales], &*all[&Account::Transit]),
        ("6000000.00", "4000000.00")
    );
}

#[test]
fn b37_a_rebate_takes_from_what_is_sold_and_from_what_is_left() {
    // Worked case: bought 6,000 at 100, sold 5,500, a rebate of 5 each: cost of sales -27,500, stock -2,500.
    let estimate = Estimate::new("one", "USD", 60, 1).goods("600000 USD", None);
    let rebate = "party = \"Quarry Inkwell\"\nnumber = \"C-1\"\nline = [{ of = \"goods\", amount = \"30000 USD\" }]\n";
    let events = begun(&[])
        + &event("issue", "2026-03-02", &slabs(1..=55))
        + &event("credit", "2026-06-30", rebate);
    let all = sums(&kept(&estimate, &events), None);
    assert_eq!((&*all[&Account::CostOfSales], &*all[&Account::Transit]), ("522500.00", "47500.00"));
    assert_eq!(all[&Account::Receivables], "30000.00");
}

#[test]
fn a_reservation_ends_with_the_slab_leaving_however_it_leaves() {
    let estimate = Estimate::new("one", "USD", 3, 1).goods("300 USD", None);
    let held = "customer = \"Fabricator Kettle (invented)\"\n";
    let begun = begun(&[])
        + &event("arrive", "2026-03-01", "yard = \"savannah\"\n")
        + &event("reserve", "2026-03-02", &(slabs(1..=3) + held));
    let reason = "reason = \"fell\"\n";
    let credit = "party = \"Quarry Inkwell\"\nnumber = \"R-1\"\namount = \"90 USD\"\n";
    let left = event("loss", "2026-03-03", &format!("id = \"fell\"\n{reason}{}", slabs(1..=1)))
        + &event("return out", "2026-03-04", &(slabs(2..=2) + credit));
    let back = event("reverse", "2026-03-05", "event = \"fell\"\nreason = \"it stood behind\"\n");
    let reserved = |events: &str| {
        let kept = kept(&estimate, events);
        let ledger = kept.ledger(None).unwrap();
        let listed = quaystone::ledger::stock(&ledger, "2026-03-06".parse().unwrap(), true);
        listed.iter().map(|one| one.reserved.is_some()).collect::<Vec<_>>()
    };
    assert_eq!(reserved(&begun), [true, true, true]);
    assert_eq!(reserved(&(begun.clone() + &left)), [false, false, true]);
    // Taken back, the loss gives the slab back as it was set aside.
    assert_eq!(reserved(&(begun + &left + &back)), [true, false, true]);
}

#[test]
fn what_is_wrong_is_told_with_both_places_and_nothing_is_posted() {
    let estimate =
        Estimate::new("one", "USD", 4, 2).goods("400 USD", None).charge("freight", "80 USD", None);
    let bill = |number: &str| {
        event(
            "billed",
            "2026-03-01",
            &format!(
                "party = \"line\"\nnumber = \"{number}\"\nline = [{{ of = \"freight\", amount = \"50 USD\" }}]\n"
            ),
        )
    };
    for (events, says) in [
        (
            event("issue", "2026-02-01", &slabs(1..=1)),
            vec![
                "slab S1 is not in stock: control of it has not passed",
                "its shipment is booked here",
            ],
        ),
        (
            event("issue", "2026-01-31", &slabs(1..=1)) + &begun(&[]),
            vec![
                "slab S1 is not in stock: control of it has not passed",
                "control of its shipment's goods passes on 2026-02-01",
            ],
        ),
        (
            begun(&[])
                + &bill("F-1").replace(
                    "of = \"freight\"",
                    "new = \"slab\", slabs = [\"S9\"], reason = \"over\"",
                ),
            vec!["no slab is called \"S9\"", "its shipment is booked here"],
        ),
        (
            begun(&[]) + &event("issue", "2026-02-09", "slabs = [\"S9\"]\n"),
            vec!["no slab is called \"S9\"", "it was never listed"],
        ),
        (
            begun(&[]) + &bill("F-1") + &bill("F-1"),
            vec!["bill F-1 of line comes a second time", "again here", "first here"],
        ),
        (
            begun(&[]) + &begun(&[]),
            vec!["control of these goods passes a second time", "first here"],
        ),
        (begun(&["freight", "freight"]), vec!["\"freight\" is owed a second time"]),
        (
            begun(&[])
                + "[[event]]\nkind = \"close\"\noccurred = 2026-03-31\nuntil = 2026-03-31\nfinal = true\n"
                + &event("issue", "2026-03-09", &slabs(1..=1)),
            vec![
                "the period up to 2026-03-31 is closed for good",
                "posted = 2026-04-01",
                "closed here",
            ],
        ),
        (event("count", "2026-03-09", ""), vec!["an event of kind \"count\" lacks `yard`"]),
        (
            begun(&[])
                + &event("issue", "2026-03-09", &slabs(1..=1))
                + &event("issue", "2026-03-10", &slabs(1..=1)),
            vec!["slab S1 is not in stock: it is sold", "sold since 2026-03-09"],
        ),
        (
            begun(&[])
                + &event("move", "2026-03-09", &format!("{}yard = \"savanah\"\n", slabs(1..=1))),
            vec!["no yard is called \"savanah\"", "did you mean \"savannah\"?"],
        ),
        (
            begun(&[])
                + &event(
                    "write back",
                    "2026-03-09",
                    &format!("{}worth = \"900 USD\"\nreason = \"x\"\n", slabs(1..=1)),
                ),
            vec!["slab S1 was never written down"],
        ),
        (
            event("billed", "2026-03-01", "party = \"line\"\nyard = \"savannah\"\n"),
            vec!["lacks `number`", "`yard` is no key"],
        ),
    ] {
        let told = told(&estimate, &events);
        for words in says {
            assert!(told.contains(words), "{words:?} is not in:\n{told}");
        }
    }
}

#[test]
fn a_bill_over_two_shipments_and_one_number_on_both() {
    let estimate = |name: &str| {
        Estimate::new(name, "USD", 4, 2).goods("400 USD", None).charge("freight", "80 USD", None)
    };
    let (one, two) = (estimate("one"), estimate("two"));
    // Each shipment pays its own part of the supplier's invoice I-1.
    let paid = event("paid", "2026-04-01", "party = \"Quarry Inkwell\"\nbills = [\"I-1\"]\n");
    let own = begun(&["freight"]) + &paid;
    let lines = "line = [{ of = \"one/freight\", amount = \"90 USD\" }, { of = \"two/freight\", amount = \"70 USD\" }]\n";
    let bill = format!("party = \"line\"\nnumber = \"F-7\"\nfinal = true\n{lines}");
    let yards = event("billed", "2026-03-01", &bill)
        + &event("paid", "2026-03-20", "party = \"line\"\nbills = [\"F-7\"]\n");
    let kept = Kept::of(&[&one, &two], &[&own, &own], &yards);
    let kept = kept.unwrap_or_else(|told| panic!("{told}"));
    let all = sums(&kept, None);
    assert_eq!((&*all[&Account::Bank], &*all[&Account::Transit]), ("-960.00", "960.00"));
    assert_eq!((&*all[&Account::Payables], &*all[&Account::Accrued]), ("0.00", "0.00"));
    let ledger = kept.ledger(None).unwrap();
    let held = |at: usize| ledger.slabs[at].iter().map(|slab| slab.held).sum::<i64>();
    assert_eq!((held(0), held(1)), (49_000, 47_000));
}
