//! The accountant at a month's end: parts of an invoice that pass on two days, bills in each currency, a misspelt
//! party, deposits, the freight of a move, a close that is printed.

use quaystone::fault::{Report, render};
use quaystone::ledger::{Where, by_currency, settled};
use quaystone::read::{self, Workspace};
use quaystone::trade::{Account, Leg, Treatment};
use serde_json::Value;

use crate::common::{Tiny, demo, run, stdout};
use crate::ledger_common::{Estimate, Kept, event, kept, slabs, sum, sums, told};

fn json(tiny: &Tiny, args: &[&str]) -> Value {
    serde_json::from_str(&stdout(tiny.path(), &[args, &["--as", "json"]].concat())).unwrap()
}

/// Line A of invoice C-12 is under bills B-1 (941.94 EUR) and B-2 (453.96), line B under B-2 (780.53); the discount is
/// 23.55 and 30.86. 1,000 EUR were paid before at 1.10: 918.39 of them pay for B-1, 1,010.23 USD. The other 81.61 are
/// 89.77; 1,203.63 - 81.61 = 1,122.02 EUR at 1.20 are 1,346.42: in all 1,436.19.
#[test]
fn control_by_bill_of_lading_takes_parts_of_a_line_on_two_days() {
    let tiny = Tiny::new();
    stdout(tiny.path(), &["book", "split-invoice"]);
    let events = event(
        "advance",
        "2026-05-01",
        "invoice = \"C-12\"\namount = \"1000 EUR\"\nbank = \"1100 USD\"\n",
    ) + &event("control", "2026-05-20", "bill = \"B-1\"\n")
        + &event("control", "2026-06-12", "bill = \"B-2\"\nrate = \"1 EUR = 1.2000 USD\"\n");
    tiny.write("books/split-invoice/events.toml", &events);
    let on = |day: &str| -> (usize, i64) {
        let stock = json(&tiny, &["stock", "--on", day]);
        let slabs = stock["slabs"].as_array().unwrap();
        let cents = |one: &Value| one["cost"].as_str().unwrap().replace('.', "").parse::<i64>();
        (slabs.len(), slabs.iter().map(|one| cents(one).unwrap()).sum())
    };
    assert_eq!((on("2026-05-20"), on("2026-06-12")), ((4, 101_023), (10, 101_023 + 143_619)));
    let audit = json(&tiny, &["audit"]);
    assert_eq!(audit["broken"], Value::Array(Vec::new()));
    // The list says under which bill a slab came, and by which term.
    let sheet = stdout(tiny.path(), &["stock", "--on", "2026-06-12", "--as", "csv"]);
    assert!(sheet.lines().any(|line| line.contains(",C-12,CFR USORF,B-2,B,")), "{sheet}");
    // A number that is none, and goods that have passed.
    for (from, to, said) in [
        ("\"B-2\"", "\"B-22\"", "did you mean \"B-2\"?"),
        (
            "bill = \"B-1\"",
            "bill = \"B-1\"\ninvoice = \"I-0\"",
            "no invoice of the shipment is numbered",
        ),
        ("\"B-2\"", "\"B-1\"", "control of these goods passes a second time"),
    ] {
        tiny.write("books/split-invoice/events.toml", &events.replace(from, to));
        let output = run(tiny.path(), &["audit"]);
        let told = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.code() == Some(1) && told.contains(said), "{told}");
    }
}

/// Goods of 100 EUR are billed by their invoice when they pass; freight of 80 USD is billed with 50 so far.
#[test]
fn settle_has_the_bill_for_goods_and_sums_each_currency() {
    let estimate = Estimate::new("one", "USD", 4, 2)
        .goods("100 EUR", Some("1 EUR = 1.10 USD"))
        .charge("freight", "80 USD", None);
    let bill =
        "party = \"line\"\nnumber = \"F-7\"\nline = [{ of = \"freight\", amount = \"50 USD\" }]\n";
    let text = event("control", "2026-02-01", "")
        + &event("owed", "2026-02-02", "of = [\"freight\"]\n")
        + &event("billed", "2026-02-03", bill);
    let kept = kept(&estimate, &text);
    let ledger = kept.ledger(None).unwrap();
    let all = settled(&ledger, 0, "2026-02-03".parse().unwrap()).unwrap();
    let goods: Vec<String> = all[0].billed.iter().map(ToString::to_string).collect();
    assert_eq!(goods, ["100.00 EUR"]);
    let sums: Vec<[String; 3]> = by_currency(&all)
        .unwrap()
        .iter()
        .map(|one| [one.estimate, one.billed, one.open].map(|money| money.to_string()))
        .collect();
    assert_eq!(
        sums,
        [["100.00 EUR", "100.00 EUR", "0.00 EUR"], ["80.00 USD", "50.00 USD", "30.00 USD"]]
    );
    let page = stdout(kept.root(), &["settle", "one"]);
    assert!(page.contains("In all"), "{page}");
}

/// What is the same but for a letter or two is warned of, with both places; what differs in a digit is another firm.
#[test]
fn a_misspelt_party_opens_no_account_unseen() {
    let estimate = Estimate::new("one", "USD", 4, 2).goods("100 USD", None);
    let bill = |party: &str, number: &str| {
        let line = "line = [{ new = \"storage\", reason = \"late\", amount = \"5 USD\" }]\n";
        let paper = format!("party = \"{party}\"\nnumber = \"{number}\"\n");
        event("billed", "2026-02-03", &(paper + line))
    };
    for (other, is_told) in
        [("Haulier Fern", true), ("haulier ferm", true), ("Haulier Fem 2", false)]
    {
        let text = bill("Haulier Ferm", "1") + &bill(other, "2");
        let kept = kept(&estimate, &text);
        let output = run(kept.root(), &["audit"]);
        let told = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(0), "{told}");
        assert_eq!(
            told.contains("is a party of its own, and \"Haulier Ferm\" is known"),
            is_told,
            "{told}"
        );
        if is_told {
            assert!(told.contains("known from here") && told.contains("events.toml:8:1"), "{told}");
        }
    }
}

#[test]
fn deposits_stand_apart_from_taxes_that_come_back() {
    let mut estimate = Estimate::new("one", "USD", 4, 2)
        .treated("import tax", "60 USD", Treatment::Recoverable)
        .treated("racks", "40 USD", Treatment::Recoverable);
    estimate.freeze.charges[0].leg = Leg::DutyAndTax;
    estimate.freeze.charges[1].leg = Leg::MainCarriage;
    let text = event("owed", "2026-02-02", "of = [\"import tax\", \"racks\"]\n");
    let back = "party = \"payee of racks\"\nnumber = \"C-1\"\nline = [{ of = \"racks\", amount = \"30 USD\" }]\n";
    let all = sums(&kept(&estimate, &(text + &event("credit", "2026-03-02", back))), None);
    assert_eq!((&*all[&Account::Recoverable], &*all[&Account::Equipment]), ("60.00", "10.00"));
    assert_eq!(all[&Account::Receivables], "30.00");
}

#[test]
fn a_new_workspace_has_a_number_for_every_account() {
    let folder = tempfile::tempdir().unwrap();
    let new = folder.path().join("new");
    stdout(folder.path(), &["init", new.to_str().unwrap(), "--regime", "us"]);
    let mut report = Report::new();
    let workspace = Workspace::at(&new, &mut report).unwrap();
    let rows = read::accounts(&workspace, &mut report);
    let rows = rows.unwrap_or_else(|_| panic!("{}", render(&report, false)));
    for (account, word) in Account::ALL {
        assert!(rows.iter().any(|row| row.account == account), "{word} has no number");
    }
}

/// 53 + 52 + 287 slabs and 39,730.84 + 16,755.66 + 110,547.29 USD on the page of the demo, and no such row in CSV.
#[test]
fn the_sums_of_a_stock_list_end_with_all_of_it() {
    let page = stdout(&demo(), &["stock", "--by", "stone"]);
    let last = page.lines().rfind(|line| line.starts_with("in all")).unwrap();
    let cells: Vec<&str> = last.split_whitespace().collect();
    assert_eq!((cells[2], cells[5]), ("392", "167,033.79"), "{page}");
    let sheet = stdout(&demo(), &["stock", "--by", "stone", "--as", "csv"]);
    assert_eq!((sheet.lines().count(), sheet.contains("in all")), (4, false), "{sheet}");
}

#[test]
fn cover_names_stones_that_no_row_watches_and_what_the_quarry_said() {
    let page = stdout(&demo(), &["cover"]);
    for said in
        ["teapot-white in norfolk: 386.52 m2 here, 0.00 m2 coming", "no [[cover]] row watches it"]
    {
        let words = page.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(said), "{page}");
    }
    let sheet = stdout(&demo(), &["cover", "--as", "csv"]);
    assert!(sheet.lines().next().unwrap().contains("months of reserve,quarry has m2,said on"));
}

#[test]
fn a_close_prints_its_accounts_as_draft_and_as_final() {
    let page = stdout(&demo(), &["audit", "--close", "2026-06-30"]);
    assert!(page.starts_with("The draft close of 2026-04-11 to 2026-06-30"), "{page}");
    let page = stdout(&demo(), &["audit", "--close", "2026-12-31"]);
    // From the day after the close before.
    assert!(page.starts_with("The final close of 2026-07-01 to 2026-12-31"), "{page}");
    assert!(page.contains("nothing is posted in it any more"), "{page}");
    let output = run(&demo(), &["audit", "--close", "2026-05-31"]);
    let told = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2));
    assert!(told.contains("closes end on 2026-06-30, 2026-12-31"), "{told}");
}

/// Two of four slabs of 100 are moved for 30: an expense of the period, or 15 on each where the line says so and why.
#[test]
fn the_freight_of_a_move_is_of_the_period_unless_its_line_says_otherwise() {
    let estimate = Estimate::new("one", "USD", 4, 2).goods("400 USD", None);
    let moved = |paper: &str, line: &str| {
        event("control", "2026-03-01", "")
            + &event("arrive", "2026-03-02", "yard = \"savannah\"\n")
            + &event(
                "move",
                "2026-03-03",
                &format!(
                    "{}yard = \"norfolk\"\n{paper}line = [{{ new = \"haulage\", amount = \"30 USD\"{line} }}]\n",
                    slabs(1..=2)
                ),
            )
    };
    let paper = "party = \"haulier\"\nnumber = \"H-1\"\n";
    let usual = sums(&kept(&estimate, &moved(paper, "")), None);
    assert_eq!((&*usual[&Account::Period], &*usual[&Account::Yard]), ("30.00", "400.00"));
    let stock = moved(paper, ", treatment = \"stock\", reason = \"to the first point of sale\"");
    let kept = kept(&estimate, &stock);
    let ledger = kept.ledger(None).unwrap();
    let held: Vec<i64> = ledger.slabs[0].iter().map(|slab| slab.held).collect();
    assert_eq!(held, [11_500, 11_500, 10_000, 10_000]);
    assert_eq!(ledger.slabs[0][0].at, Where::Yard("norfolk".into()));
    let said = told(&estimate, &moved("", ""));
    assert!(
        said.contains("the freight of a move is a bill, and lacks `party` or `number`"),
        "{said}"
    );
    let said = told(&estimate, &moved(paper, ", treatment = \"stock\""));
    assert!(said.contains("lacks `reason`"), "{said}");
}

/// One table, one figure a cell, a format, no totals.
#[test]
fn every_sheet_of_the_books_has_its_format_and_no_total() {
    let commands: [&[&str]; 7] = [
        &["journal"],
        &["stock"],
        &["stock", "--by", "yard"],
        &["settle", "white-marble-spring"],
        &["audit"],
        &["arrive", "white-marble-spring"],
        &["cover"],
    ];
    for args in commands {
        let text = stdout(&demo(), &[args, &["--as", "csv"]].concat());
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let heads = reader.headers().unwrap().clone();
        let format = heads.iter().position(|head| head == "format").unwrap();
        for row in reader.records().map(Result::unwrap) {
            assert_eq!(row.get(format), Some("2"), "{args:?}");
            assert!(row.iter().all(|cell| !cell.contains("in all") && cell != "total"), "{args:?}");
        }
    }
    // A duty is a percentage of its base, each in a cell of its own.
    let text = stdout(&demo(), &["settle", "white-marble-april", "--as", "csv"]);
    assert!(text.contains(",2.5,27768.00,USD,694.20,USD,"), "{text}");
}

/// B3: the interpretations committee, November 2004, as reported (IAS 2.11): a discount for prompt payment and a rebate
/// that lowers the price lower cost, a refund of selling expense does not. 100 - 2 - 5 = 93; 20 - 4 = 16.
#[test]
fn b3_discounts_and_rebates_lower_cost_and_refunds_of_selling_do_not() {
    let estimate = Estimate::new("one", "USD", 4, 1).goods("100 USD", None).treated(
        "advertising",
        "20 USD",
        Treatment::Period,
    );
    let credit = |number: &str, of: &str, amount: &str| {
        let line = format!("line = [{{ of = \"{of}\", amount = \"{amount} USD\" }}]\n");
        event("credit", "2026-02-03", &format!("party = \"P\"\nnumber = \"{number}\"\n{line}"))
    };
    let text = event("control", "2026-02-01", "")
        + &event("owed", "2026-02-02", "of = [\"advertising\"]\n")
        + &credit("discount", "goods", "2")
        + &credit("rebate", "goods", "5")
        + &credit("selling", "advertising", "4");
    let all = sums(&kept(&estimate, &text), None);
    assert_eq!((&*all[&Account::Transit], &*all[&Account::Period]), ("93.00", "16.00"));
}

/// B4: examination key (IAS 2.18), 105,000 with 5,000 of tax that comes back, payable after a year at 10 %, carriage
/// 2,000: 100,000 / 1.1 + 2,000 = 92,909.09. B5: 100,000 with 5,000: 95,000 / 1.1 + 2,000 = 88,363.64. B6: answer key,
/// 1,000,000 in two years at 8 %: 857,338.82. The goods stand at their cash price, and what the credit costs is billed
/// with them as an expense of the period.
#[test]
fn b4_b5_b6_what_long_credit_costs_is_none_of_the_goods() {
    for (cash, credit, tax, carriage, cost) in [
        ("90909.09", "9090.91", "5000", "2000", "92909.09"),
        ("86363.64", "8636.36", "5000", "2000", "88363.64"),
        ("857338.82", "142661.18", "0", "0", "857338.82"),
    ] {
        let mut estimate = Estimate::new("one", "USD", 4, 1)
            .goods(&format!("{cash} USD"), None)
            .charge("carriage", &format!("{carriage} USD"), None)
            .treated("tax", &format!("{tax} USD"), Treatment::Recoverable);
        estimate.freeze.charges[2].leg = Leg::DutyAndTax;
        let line = format!(
            "line = [{{ new = \"interest of the credit\", treatment = \"period\", reason = \"IAS 2, paragraph 18\", amount = \"{credit} USD\" }}]\n"
        );
        let paper = format!("party = \"Quarry Inkwell\"\nnumber = \"I-1 interest\"\n{line}");
        let text = event("control", "2026-02-01", "")
            + &event("owed", "2026-02-02", "of = [\"carriage\", \"tax\"]\n")
            + &event("billed", "2027-02-01", &paper);
        let all = sums(&kept(&estimate, &text), None);
        assert_eq!((&*all[&Account::Transit], &*all[&Account::Period]), (cost, credit));
    }
}

/// B23: IFRIC 22, example 3. Services from July to December: FC 200 paid on 15 June for July and August, FC 400 paid on
/// 31 December for the rest. The first are cost at the rate of 15 June; the others at that of the days of service, and
/// what the rate does until they are paid is exchange. The rates are ours: 200 x 1.10 + 400 x 1.20 = 700; paid 220 and
/// 400 x 1.25 = 500.
#[test]
fn b23_a_service_paid_before_keeps_the_rate_of_its_payment() {
    let estimate = Estimate::new("one", "USD", 4, 1)
        .charge("storage to August", "200 EUR", None)
        .charge("storage to December", "400 EUR", None);
    let bill = |number: &str, of: &str, amount: &str, rate: &str| {
        format!(
            "party = \"store\"\nnumber = \"{number}\"\n{rate}line = [{{ of = \"{of}\", amount = \"{amount} EUR\" }}]\n"
        )
    };
    let paid = |number: &str, bank: &str| {
        format!("party = \"store\"\nbills = [\"{number}\"]\nbank = \"{bank} USD\"\n")
    };
    let first = "rate = \"1 EUR = 1.10 USD\"\n";
    let text = event("billed", "2026-06-15", &bill("1", "storage to August", "200", first))
        + &event("paid", "2026-06-15", &paid("1", "220"))
        + &event(
            "owed",
            "2026-10-15",
            "of = [\"storage to December\"]\nrate = \"1 EUR = 1.20 USD\"\n",
        )
        + &event("billed", "2026-12-31", &bill("2", "storage to December", "400", ""))
        + &event("paid", "2026-12-31", &paid("2", "500"));
    let kept = kept(&estimate, &text);
    assert_eq!(sum(&kept, Account::Transit, None), "700.00");
    assert_eq!(sum(&kept, Account::Exchange, None), "20.00");
}

/// A slab that came over is listed at no cost; taken in like another it bears what is billed for it, 90, and is sold and
/// sent back as a slab. Its line's other slabs bear nothing of it.
#[test]
fn an_over_slab_is_billed_or_sent_back_as_a_slab() {
    let estimate = Estimate::new("one", "USD", 4, 2).goods("400 USD", None);
    let over = "yard = \"savannah\"\n[[event.found]]\nslab = \"X1\"\nstate = \"over\"\n";
    let arrived = event("control", "2026-03-01", "") + &event("arrive", "2026-03-02", over);
    let taken = event(
        "take in",
        "2026-03-03",
        "id = \"t\"\nslab = \"X1\"\nlike = \"S1\"\narea = \"4.5 m2\"\n",
    );
    let line = "line = [{ new = \"slab X1\", slabs = [\"X1\"], reason = \"kept\", amount = \"90 USD\" }]\n";
    let bill = event(
        "billed",
        "2026-03-04",
        &format!("party = \"Quarry Inkwell\"\nnumber = \"I-2\"\n{line}"),
    );
    let held = |events: &str| -> Vec<i64> {
        let kept = kept(&estimate, events);
        let _ = sums(&kept, None);
        kept.ledger(None).unwrap().slabs[0].iter().map(|slab| slab.held).collect()
    };
    assert_eq!(held(&arrived), [10_000; 4]);
    let begun = arrived.clone() + &taken;
    assert_eq!(held(&begun), [10_000, 10_000, 10_000, 10_000, 0]);
    assert_eq!(held(&(begun.clone() + &bill)), [10_000, 10_000, 10_000, 10_000, 9_000]);
    let sold = event("issue", "2026-03-05", "slabs = [\"X1\"]\n");
    let all = sums(&kept(&estimate, &(begun.clone() + &bill + &sold)), None);
    assert_eq!((&*all[&Account::CostOfSales], &*all[&Account::Yard]), ("90.00", "400.00"));
    let back = "party = \"Quarry Inkwell\"\nslabs = [\"X1\"]\namount = \"0 USD\"\n";
    let sent = kept(&estimate, &(begun.clone() + &event("return out", "2026-03-05", back)));
    assert_eq!(sent.ledger(None).unwrap().slabs[0][4].at, Where::SentBack);
    // Taken back it is listed as over again, unless a bill has come for it.
    let undone = event("reverse", "2026-03-06", "event = \"t\"\nreason = \"slip\"\n");
    let kept = kept(&estimate, &(begun.clone() + &undone));
    assert_eq!(kept.ledger(None).unwrap().over[0].len(), 1);
    let said = told(&estimate, &(begun.clone() + &bill + &undone));
    assert!(said.contains("a bill has come for the slab"), "{said}");
    let said = told(&estimate, &(begun + &taken.replace("\"t\"", "\"u\"")));
    assert!(said.contains("no slab came over under the number \"X1\""), "{said}");
}

/// A slab of another house stands in our yard: it is listed apart, is on a count, and has no cost; it cannot be sold.
#[test]
fn consigned_slabs_are_listed_apart_and_have_no_cost() {
    let estimate = Estimate::new("one", "USD", 2, 1).goods("400 USD", None);
    let own = event("control", "2026-03-01", "")
        + &event("arrive", "2026-03-02", "yard = \"savannah\"\n");
    let piece =
        "piece = [{ slab = \"K-1\", area = \"5 m2\" }, { slab = \"K-2\", area = \"4 m2\" }]\n";
    let came = event(
        "consigned in",
        "2026-03-03",
        &format!(
            "id = \"c\"\nparty = \"Quarry Kettle\"\nyard = \"savannah\"\nstone = \"chalk\"\n{piece}"
        ),
    );
    let count = event(
        "count",
        "2026-03-04",
        "yard = \"savannah\"\nslabs = [\"one/S1\", \"one/S2\", \"K-1\", \"K-2\"]\n",
    );
    let left = event("consigned out", "2026-03-05", "slabs = [\"K-2\"]\n");
    let books = |yards: &str| {
        Kept::of(&[&estimate], &[&own], yards).unwrap_or_else(|told| panic!("{told}"))
    };
    let kept = books(&(came.clone() + &count + &left));
    let all = sums(&kept, None);
    assert_eq!((all.len(), &*all[&Account::Yard]), (3, "400.00"));
    let stock = |args: &[&str]| stdout(kept.root(), &[&["stock"], args].concat());
    let page = stock(&[]);
    assert!(
        page.contains("2 slabs, 400.00 USD") && page.contains("slabs of others, in no sum"),
        "{page}"
    );
    let sheet = stock(&["--consigned", "--as", "csv"]);
    assert_eq!(sheet.lines().nth(1), Some("Quarry Kettle,K-1,chalk,,savannah,5.0000,2026-03-03,2"));
    assert_eq!((sheet.lines().count(), stock(&["--as", "csv"]).contains("K-1")), (2, false));
    let before = stock(&["--consigned", "--on", "2026-03-04", "--as", "csv"]);
    assert_eq!(before.lines().count(), 3);
    for (more, said) in [
        (left.replace("K-2", "K-3"), "no slab \"K-3\" is consigned"),
        (left.clone(), "no slab \"K-2\" is consigned"),
        (came.replace("\"c\"", "\"d\""), "slab K-1 is consigned a second time"),
        (
            event("reverse", "2026-03-06", "event = \"c\"\nreason = \"slip\"\n"),
            "a slab of it has left",
        ),
        (event("issue", "2026-03-06", "slabs = [\"K-1\"]\n"), "slab K-1 is none of ours"),
    ] {
        let kept = books(&(came.clone() + &count + &left + &more));
        let told = kept.ledger(None).map(|_| ()).expect_err(said);
        assert!(told.contains(said), "{told}");
    }
}

/// Boxes of 4 and 2 slabs: haulage of 120 by box is 60 for each, 15 and 30 a slab; by count it would be 20 each. A bill
/// for charges on both boxes and on the first is divided two to one.
#[test]
fn a_bill_is_divided_by_boxes() {
    let mut estimate = Estimate::new("one", "USD", 6, 2)
        .goods("600 USD", None)
        .charge("both", "90 USD", None)
        .shared("first", "30 USD", None, (Treatment::Stock, (0..4).map(|at| (at, 1)).collect()));
    for (at, slab) in estimate.freeze.slabs.iter_mut().enumerate() {
        slab.container = usize::from(at >= 4);
    }
    let bill = |line: &str| {
        let paper = format!("party = \"haulier\"\nnumber = \"H\"\nline = [{{ {line} }}]\n");
        event("control", "2026-02-01", "") + &event("billed", "2026-02-03", &paper)
    };
    let held = |line: &str| -> Vec<i64> {
        let kept = kept(&estimate, &bill(line));
        let _ = sums(&kept, None);
        kept.ledger(None).unwrap().slabs[0].iter().map(|slab| slab.held - 10_000).collect()
    };
    let new = "new = \"haulage\", reason = \"none was estimated\", amount = \"120 USD\"";
    assert_eq!(held(&format!("{new}, by = \"box\"")), [1_500, 1_500, 1_500, 1_500, 3_000, 3_000]);
    assert_eq!(held(&format!("{new}, by = \"count\"")), [2_000; 6]);
    assert_eq!(held(&format!("{new}, by = \"box\", boxes = [\"2\"]")), [0, 0, 0, 0, 6_000, 6_000]);
    // 80 and 40: 80 over six slabs is 13.33 or 13.34, 40 over four 10 each.
    let both = held("of = [\"both\", \"first\"], by = \"box\", amount = \"120 USD\"");
    assert_eq!((both[..4].iter().sum::<i64>(), both[4..].iter().sum::<i64>()), (9_333, 2_667));
    let said = told(&estimate, &bill(&format!("{new}, by = \"box\", slabs = [\"S1\"]")));
    assert!(said.contains("share a new charge, and boxes do not"), "{said}");
}
