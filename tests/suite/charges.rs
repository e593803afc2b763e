//! Every way a bill is worded, through the whole calculation, against figures worked by hand.

use crate::common::{Tiny, run, stdout};
use quaystone::choose::Costed;
use quaystone::trade::{ScopeKind, Treatment};

/// Three slabs in two bundles in one box, at one price for all: 14.8 m2, 900 kg with timber, and
/// 3,380 kg with securing and tare. It sails on 2026-04-11 and arrives on Saturday 2026-05-09.
fn lot(price: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.replace(
        "shipments/plain/shipment.toml",
        "price = \"40.00 EUR/m2\"",
        &format!("price = \"{price}/lot\""),
    );
    tiny
}

/// Adds a row of the fees, for every lane and yard.
fn fee(tiny: &Tiny, leg: &str, keys: &str) {
    tiny.append(
        "rates/fees.toml",
        &format!(
            "[[charge]]\nname = \"it\"\nleg = \"{leg}\"\n{keys}\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n"
        ),
    );
}

/// The amounts of the charges of that row.
fn all(costed: &Costed, name: &str) -> Vec<String> {
    let own = costed.landed.charges.iter().filter(|charge| charge.name == name);
    own.map(|charge| charge.amount().to_string()).collect()
}

/// What a row of the fees comes to.
fn comes_to(tiny: &Tiny, leg: &str, keys: &str) -> Vec<String> {
    fee(tiny, leg, keys);
    all(&tiny.cost("plain").1, "it")
}

fn dates(tiny: &Tiny, more: &str) {
    tiny.replace(
        "shipments/plain/shipment.toml",
        "arrives = 2026-05-09",
        &format!("arrives = 2026-05-09, {more}"),
    );
}

#[test]
fn hours_after_free_hours() {
    // 2.25 h of waiting, one free: 1.25 h at 90; or two begun hours.
    for (part, amount) in [("", "112.50 USD"), ("part = \"whole\"", "180.00 USD")] {
        let tiny = lot("50000 USD");
        tiny.append(
            "shipments/plain/shipment.toml",
            "[[hours]]\nof = \"waiting\"\ncount = \"2.25 h\"\n",
        );
        let row = format!(
            "amount = \"90 USD\"\nper = \"hour\"\nhours = \"waiting\"\nfree-hours = \"1 h\"\n{part}"
        );
        assert_eq!(comes_to(&tiny, "on-carriage", &row), [amount]);
    }
    // Hours that nobody states cost nothing.
    let row = "amount = \"90 USD\"\nper = \"hour\"\nhours = \"waiting\"";
    assert!(comes_to(&lot("50000 USD"), "on-carriage", row).is_empty());
}

/// A calendar with the holiday that lies between the dates of these tests.
const FEDERAL: &str = r#"
[[calendar]]
id = "us-federal"
weekend = ["saturday", "sunday"]
holidays = [2026-05-25]
valid = "2026-01-01..2026-12-31"
source = "5 U.S.C. 6103: the last Monday in May"
"#;

#[test]
fn demurrage_in_tiers_by_calendar_and_working_days() {
    // Saturday 9 May to Friday 29 May, four days free. By the calendar 20 - 4 = 16 days: five at
    // 150, four at 300, seven at 400. Working days, Memorial Day left out: 14 - 4 = 10. Four free
    // working days end on Thursday 14 May; from then on every day counts: 15.
    for (count, amount) in [
        ("", "4,750.00 USD"),
        ("day-count = \"working days\"\ncalendar = \"us-federal\"", "2,350.00 USD"),
        ("day-count = \"free working days\"\ncalendar = \"us-federal\"", "4,350.00 USD"),
    ] {
        let tiny = lot("50000 USD");
        tiny.write("rates/calendars.toml", FEDERAL);
        dates(&tiny, "delivered = 2026-05-29");
        let row = format!(
            "tiers = [{{ days = \"1..5\", amount = \"150 USD\" }}, {{ days = \"6..9\", amount = \"300 USD\" }}, {{ days = \"10..\", amount = \"400 USD\" }}]\nper = \"day\"\ndays = \"arrives..delivered\"\nfree-days = 4\nscope = \"container\"\ntreatment = \"period\"\n{count}"
        );
        assert_eq!(comes_to(&tiny, "destination terminal", &row), [amount], "{count}");
    }
}

#[test]
fn a_heavy_surcharge_goes_by_the_gross_mass_of_each_box() {
    // 900 kg of bundles, 200 of securing, 2,280 of tare.
    for (bound, amounts) in [("3.3 t", vec!["150.00 USD"]), ("3380 kg", vec![])] {
        let row = format!(
            "per = \"container\"\ntiers = [{{ gross = \"..{bound}\", amount = \"0 USD\" }}, {{ gross = \"{bound}..\", amount = \"150 USD\" }}]"
        );
        assert_eq!(comes_to(&lot("50000 USD"), "main carriage", &row), amounts, "{bound}");
    }
}

#[test]
fn the_load_weighs_a_heavy_surcharge_against_one_box_more() {
    // Two bundles of 17 slabs of 5.4 m2 at 50 kg and 80 kg of timber: 4,670 kg each. Together with 200
    // kg of securing and 2,280 of tare 11,820 kg. A box costs 2,000 of freight and 600 of haulage. Over
    // the break one box of 2,600 and 3,000 is dearer than two of 2,600, and one of 2,600 and 2,500 is
    // not; on the break there is no surcharge.
    let row = |low: &str, bound: &str, high: &str| {
        format!(
            "per = \"container\"\ntiers = [{{ gross = \"..{bound}\", amount = \"{low} USD\" }}, {{ gross = \"{bound}..\", amount = \"{high} USD\" }}]"
        )
    };
    for (row, boxes, planned, charged) in [
        (row("0", "11.8 t", "3000"), 2, "5,200.00 USD", vec![]),
        (row("0", "11.8 t", "2500"), 1, "5,100.00 USD", vec!["2,500.00 USD"]),
        (row("0", "11820 kg", "3000"), 1, "2,600.00 USD", vec![]),
        (row("50", "11.8 t", "3000"), 2, "5,300.00 USD", vec!["50.00 USD", "50.00 USD"]),
        // Where heavy boxes pay less, light ones must not pass for heavy: the loader takes the least, and
        // the load is billed with what is in it.
        (row("500", "11.8 t", "100"), 1, "2,700.00 USD", vec!["100.00 USD"]),
    ] {
        let tiny = lot("50000 USD");
        let nominal = "bundles = 2\nslabs = 17\nsize = \"300 x 180 cm\"\n";
        tiny.append("shipments/plain/shipment.toml", nominal);
        std::fs::remove_file(tiny.path().join("shipments/plain/packing.csv")).unwrap();
        fee(&tiny, "main carriage", &row);
        let (_, costed) = tiny.cost("plain");
        assert_eq!(costed.plan.boxes.len(), boxes, "{row}");
        assert_eq!(costed.plan.cost.to_string(), planned, "{row}");
        assert_eq!(costed.plan.lower_bound, Some(costed.plan.cost), "{row}");
        assert_eq!(costed.plan.proof, quaystone::load::Proof::Proven, "{row}");
        assert_eq!(all(&costed, "it"), charged, "{row}");
    }
}

#[test]
fn a_tier_limits_the_loader_and_nobody_else() {
    let row = "per = \"container\"\ntiers = [{ gross = \"..3.3 t\", amount = \"0 USD\" }, { gross = \"3.3 t..\", amount = \"150 USD\" }]";
    // A box that somebody filled is of the tier that it lies in: 3,380 kg, and over no limit.
    let tiny = lot("50000 USD");
    let list = "slab,bundle,length (cm),height (cm),container\nA1,B1,300,180,1\nA2,B1,300,180,1\nA3,B2,250,160,1\n";
    tiny.write("shipments/plain/packing.csv", list);
    fee(&tiny, "main carriage", row);
    let (_, costed) = tiny.cost("plain");
    assert_eq!(costed.plan.cost.to_string(), "2,750.00 USD");
    assert_eq!(all(&costed, "it"), ["150.00 USD"]);
    let output = run(tiny.path(), &["load", "plain"]);
    assert!(output.stderr.is_empty(), "{}", String::from_utf8_lossy(&output.stderr));
    assert!(!String::from_utf8_lossy(&output.stdout).contains("tier"), "no limit of the box's");
    // What fits in nothing is told once for each type of box.
    let tiny = lot("50000 USD");
    let tall = "slab,bundle,length (cm),height (cm)\nA1,B1,300,240\nA2,B1,300,240\nA3,B2,250,160\n";
    tiny.write("shipments/plain/packing.csv", tall);
    fee(&tiny, "main carriage", row);
    let output = run(tiny.path(), &["cost", "plain"]);
    let stderr = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(3), "{stderr}");
    assert_eq!(stderr.matches("too tall").count(), 1, "{stderr}");
}

#[test]
fn the_first_lines_of_an_entry_may_be_free() {
    // Three tariff lines: two in the price of the entry, the third at 7.77.
    let tiny = Tiny::new();
    tiny.replace(
        "rates/fees.toml",
        "amount = \"7.77 USD\"",
        "tiers = [{ lines = \"1..2\", amount = \"0 USD\" }, { lines = \"3..\", amount = \"7.77 USD\" }]",
    );
    let (_, costed) = tiny.cost("two-boxes");
    assert_eq!(all(&costed, "tariff line"), ["7.77 USD"]);
    let charge = costed.landed.charges.iter().find(|charge| charge.name == "tariff line").unwrap();
    assert_eq!(charge.scope.kind, ScopeKind::Entry);
}

#[test]
fn a_single_bond_covers_value_duties_and_fees() {
    // 10,500 entered, duty 262.50, fees 36.37 and 13.13: 10,812.00. Five dollars a thousand, with
    // begun thousands or a minimum (4 to 7 a thousand, at least 50 to 75, are common practice).
    let each = "amount = \"5 USD\"\neach = \"1000 USD\"\nof = \"single bond\"\nper = \"entry\"\n";
    for (more, amount) in [
        ("", "54.06 USD"),
        ("part = \"whole\"", "55.00 USD"),
        ("minimum = \"60 USD\"", "60.00 USD"),
    ] {
        let row = format!("{each}{more}");
        assert_eq!(comes_to(&lot("10500 USD"), "import clearance", &row), [amount], "{more}");
    }
}

#[test]
fn a_single_bond_is_three_times_the_value_of_restricted_goods() {
    // Customs broker licence examinations, 2005 question 43 and 2009 question 53: where another agency
    // restricts the goods, three times their entered value, 31,500; five dollars a thousand.
    let row = "amount = \"5 USD\"\neach = \"1000 USD\"\nof = \"single bond\"\nper = \"entry\"";
    let tiny = lot("10500 USD");
    tiny.replace(
        "rates/duty.toml",
        "value-step = \"1 USD\"",
        "value-step = \"1 USD\"\nrestricted-bond = 3",
    );
    assert_eq!(comes_to(&tiny, "import clearance", row), ["54.06 USD"], "they are free");
    tiny.replace(
        "rates/stones.toml",
        "line = \"6802.91.05\"\n",
        "line = \"6802.91.05\"\nrestricted = \"an agency (invented)\"\n",
    );
    assert_eq!(all(&tiny.cost("plain").1, "it"), ["157.50 USD"]);
    let page = stdout(tiny.path(), &["explain", "plain", "A1", "--full"]);
    let words = page.split_whitespace().collect::<Vec<_>>().join(" ");
    let of = "3 times the entered value (restricted: an agency (invented)), 31,500.00 USD";
    assert!(words.contains(of), "{page}");
}

#[test]
fn a_continuous_bond_is_shared_by_the_entries_of_a_year() {
    // The customs service's guideline as reported (second-hand text): 1 to 2 million of annual
    // duties, taxes and fees need a bond of 200,000. At 1 % and 16 entries, 125 each.
    let tiny = lot("10500 USD");
    tiny.append(
        "rates/fees.toml",
        "[[bond]]\nregime = \"us\"\nannual = \"1500000 USD\"\nentries = 16\nleast = \"50000 USD\"\nshare = \"10 %\"\nsteps = [{ to = \"100000 USD\", by = \"10000 USD\" }, { by = \"100000 USD\" }]\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"19 CFR 113.13\"\n",
    );
    let row = "rate = \"1 %\"\nof = \"continuous bond\"\nper = \"entry\"";
    assert_eq!(comes_to(&tiny, "import clearance", row), ["125.00 USD"]);
    let text = stdout(tiny.path(), &["explain", "plain", "A1", "--full"]);
    assert!(text.contains("1 % of 200,000.00 USD (the continuous bond, shared by 16 entries)"));
}

#[test]
fn a_percentage_of_all_freight() {
    // The box's freight is 2,000, its surcharge 100: 5 % of both.
    let tiny = lot("50000 USD");
    tiny.append(
        "rates/freight.toml",
        "[[charge]]\nlane = \"TRIZM-USSAV\"\nname = \"peak season\"\nleg = \"main carriage\"\namount = \"100 USD\"\nper = \"container\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n",
    );
    let row = "rate = \"5 %\"\nof = \"all main carriage\"\nper = \"shipment\"";
    assert_eq!(comes_to(&tiny, "import clearance", row), ["105.00 USD"]);
}

#[test]
fn a_letter_of_credit_by_the_quarter_or_part() {
    // 4 March to 5 June: a quarter and a day. 0.25 % of 50,000 for each.
    let tiny = lot("50000 USD");
    dates(&tiny, "delivered = 2026-06-05");
    let row = "rate = \"0.25 %\"\nof = \"goods\"\nper = \"quarter\"\ndays = \"quoted..delivered\"\ntreatment = \"period\"";
    assert_eq!(comes_to(&tiny, "import clearance", row), ["250.00 USD"]);
}

#[test]
fn tonnes_and_bundles_may_stay_in_their_box() {
    // Bundles P1 and P2 in box 1, P3 and P4 in box 2; the last two are on an invoice whose term
    // leaves inland carriage to the importer as well.
    let tiny = Tiny::new();
    tiny.replace(
        "rates/drayage.toml",
        "amount = \"1.11 USD\"\nper = \"tonne\"",
        "amount = \"1.11 USD\"\nper = \"tonne\"\nscope = \"container\"",
    );
    tiny.replace(
        "rates/fees.toml",
        "amount = \"31.33 USD\"\nper = \"bundle\"",
        "amount = \"31.33 USD\"\nper = \"bundle\"\nscope = \"container\"",
    );
    let (shipment, costed) = tiny.cost("two-boxes");
    let scopes = |name: &str| {
        let own = costed.landed.charges.iter().filter(|charge| charge.name == name);
        own.map(|charge| (charge.scope.kind, charge.scope.of.to_string())).collect::<Vec<_>>()
    };
    let (one, two) =
        ((ScopeKind::Container, "1".to_owned()), (ScopeKind::Container, "2".to_owned()));
    assert_eq!(scopes("road tonnage"), [one.clone(), two.clone()]);
    assert_eq!(scopes("unloading"), [one.clone(), one, two.clone(), two]);
    assert_eq!(shipment.bundles.len(), 4);
    // Together they are what the whole shipment's tonnes are, each box rounded alone.
    let tonnes: Vec<String> = all(&costed, "road tonnage");
    assert_eq!(tonnes.len(), 2);
}

#[test]
fn a_row_by_stone_and_kind_of_box_serves_that_stone_in_such_boxes_alone() {
    // Line A travels in both boxes: two slabs of ink of it and two of line B in the 20gp, one in the
    // 40gp. Each is charged once, by the row of the box that it is in.
    let tiny = Tiny::new();
    tiny.replace(
        "shipments/two-boxes/packing.csv",
        "A3,P1,111.75,70,A,1,20gp",
        "A3,P5,111.75,70,A,2,40gp",
    );
    for container in ["20gp", "40gp"] {
        let row = format!(
            "[[charge]]\nyard = \"norfolk\"\nstone = \"ink\"\ncontainer = \"{container}\"\n\
             name = \"wiping in {container}\"\nleg = \"on-carriage\"\namount = \"10 USD\"\n\
             per = \"slab\"\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n"
        );
        tiny.append("rates/drayage.toml", &row);
    }
    let (_, costed) = tiny.cost("two-boxes");
    assert_eq!(all(&costed, "wiping in 20gp"), ["40.00 USD"]);
    assert_eq!(all(&costed, "wiping in 40gp"), ["10.00 USD"]);
}

#[test]
fn what_a_policy_expenses_is_insured_all_the_same() {
    // 110 % of 52,000 and the premium at 0.30 % of it: 52,000 x 0.0033 / 0.9967.
    let premium = |tiny: &Tiny| all(&tiny.cost("plain").1, "cargo insurance");
    let tiny = lot("50000 USD");
    assert_eq!(premium(&tiny), ["172.17 USD"]);
    tiny.append(
        "shipments/plain/shipment.toml",
        "[[policy]]\ncharge = \"ocean freight\"\ntreatment = \"period\"\nreason = \"the head office books freight\"\n",
    );
    assert_eq!(premium(&tiny), ["172.17 USD"]);
}

#[test]
fn a_policy_moves_a_charge_and_keeps_its_reason() {
    let tiny = lot("50000 USD");
    dates(&tiny, "delivered = 2026-05-29");
    fee(
        &tiny,
        "destination terminal",
        "amount = \"100 USD\"\nper = \"day\"\ndays = \"arrives..delivered\"\ntreatment = \"period\"",
    );
    let before = tiny.cost("plain").1.landed.total;
    tiny.append(
        "shipments/plain/shipment.toml",
        "[[policy]]\ncharge = \"it\"\ntreatment = \"stock\"\nreason = \"days of every voyage here\"\n",
    );
    let (_, costed) = tiny.cost("plain");
    let charge = costed.landed.charges.iter().find(|charge| charge.name == "it").unwrap();
    assert_eq!(charge.treatment, Treatment::Stock);
    assert_eq!(charge.policy.as_ref().unwrap().1, "days of every voyage here");
    assert_eq!(costed.landed.total.minus(before).unwrap().to_string(), "2,000.00 USD");
}

/// A euro invoice of 50,000 with the payments given, whose planning rate moves through 1.08 (until
/// the end of March), 1.11 (April), 1.13 (May) and 1.14.
fn paid(payments: &str) -> Tiny {
    let tiny = lot("50000 EUR");
    tiny.replace(
        "rates/exchange.toml",
        "quote = \"1 EUR = 1.10 USD\"\nvalid = \"2026-01-01..2026-12-31\"",
        "quote = \"1 EUR = 1.08 USD\"\nvalid = \"2026-01-01..2026-03-31\"",
    );
    for (rate, valid) in [
        ("1.11", "2026-04-01..2026-04-30"),
        ("1.13", "2026-05-01..2026-05-31"),
        ("1.14", "2026-06-01..2026-12-31"),
    ] {
        tiny.append("rates/exchange.toml", &format!("[[exchange]]\nuse = \"plan\"\nquote = \"1 EUR = {rate} USD\"\nvalid = \"{valid}\"\nsource = \"invented\"\n"));
    }
    tiny.replace(
        "shipments/plain/shipment.toml",
        "[[invoice.line]]",
        &format!("{payments}\n[[invoice.line]]"),
    );
    tiny
}

fn goods(tiny: &Tiny) -> String {
    let (_, costed) = tiny.cost("plain");
    let goods = costed.landed.charges.iter().find(|charge| charge.name == "goods").unwrap();
    goods.book().to_string()
}

#[test]
fn an_advance_is_booked_at_the_rate_of_its_day_and_the_rest_when_recognised() {
    // Derived from IFRIC 22, paragraphs 8 and 9, and IAS 21, paragraphs 21 and 28 (published
    // nowhere): 30 % of 50,000 in advance at 1.08, 70 % recognised at 1.11: 16,200 + 38,850.
    let two = "[[invoice.payment]]\nname = \"deposit\"\nshare = \"30 %\"\non = 2026-03-10\n[[invoice.payment]]\nname = \"balance\"\nshare = \"rest\"\ndue = \"arrives + 5 days\"\n";
    assert_eq!(goods(&paid(two)), "55,050.00 USD");
    // Two advances have a rate each (IFRIC 22, paragraph 9).
    let three = format!(
        "{two}[[invoice.payment]]\nname = \"second deposit\"\namount = \"10000 EUR\"\ndue = \"sails - 1 day\"\n"
    );
    assert_eq!(goods(&paid(&three)), "55,050.00 USD");
    let all = "[[invoice.payment]]\nname = \"in advance\"\nshare = \"100 %\"\non = 2026-03-10\n";
    assert_eq!(goods(&paid(all)), "54,000.00 USD");
    assert_eq!(goods(&paid("")), "55,500.00 USD");
}

#[test]
fn interest_runs_on_each_payment_from_its_day() {
    // Money at 9 % of a year of 360 days, until the yard. Deposit 16,200 from 10 March: 63 days
    // until 12 May. The balance is paid on 14 May: no day.
    let tiny = paid(
        "[[invoice.payment]]\nname = \"deposit\"\nshare = \"30 %\"\non = 2026-03-10\n[[invoice.payment]]\nname = \"balance\"\nshare = \"rest\"\ndue = \"arrives + 5 days\"\n",
    );
    let row = "rate = \"9 %\"\nof = \"payments\"\ndays-in-year = 360\nuntil = \"delivered\"\nper = \"shipment\"\ntreatment = \"notional\"";
    // 16,200 x 63 and the freight and insurance of 11 April for 31 days: (2,000 + 188.48... ).
    let got = comes_to(&tiny, "import clearance", row);
    let (_, costed) = tiny.cost("plain");
    let book = |name: &str| {
        let own = costed.landed.charges.iter().filter(|charge| charge.name == name);
        own.map(|charge| charge.book().minor().unwrap()).sum::<i64>()
    };
    let sea = book("ocean freight") + book("cargo insurance");
    let landed: i64 =
        ["duty", "merchandise processing fee", "harbor maintenance fee", "customs entry"]
            .iter()
            .map(|name| book(name))
            .sum();
    // In cents times days: entered on the 9th, three days before the yard.
    let days = 1_620_000 * 63 + sea * 31 + landed * 3;
    let cents = (days * 9 + 18_000) / 36_000;
    assert_eq!(got, [format!("{}.{:02} USD", cents / 100, cents % 100)]);
}

#[test]
fn how_a_charge_is_booked_changes_no_customs_value() {
    // Freight of 1,150 and insurance of 70 are in the value at the Union's border, 17,007.34, and
    // terminal and haulage in the base of the tax, 17,951.46, whatever the importer's books say.
    let values = |policy: &str| {
        let tiny = Tiny::of_demo("white-marble-rotterdam");
        tiny.append("shipments/white-marble-rotterdam/shipment.toml", policy);
        let (_, costed) = tiny.cost("white-marble-rotterdam");
        let entered = costed.landed.entries[0].entered().unwrap().to_string();
        (entered, all(&costed, "import VAT"))
    };
    let expected = ("17,007.34 EUR".to_owned(), vec!["3,769.81 EUR".to_owned()]);
    assert_eq!(values(""), expected);
    let policies = ["ocean freight", "terminal handling", "drayage"].map(|name| {
        format!("[[policy]]\ncharge = \"{name}\"\ntreatment = \"period\"\nreason = \"invented\"\n")
    });
    assert_eq!(values(&policies.concat()), expected);
}

#[test]
fn what_is_the_importers_own_is_charged_under_every_term() {
    // A bank is paid by whoever borrows, though the seller clears the goods. 0.9 % of 50,000.
    for (term, borne_by, amounts) in [
        ("DDP Savannah yard", "importer", vec!["450.00 USD"]),
        ("DDP Savannah yard", "term", vec![]),
        ("CIF USSAV", "importer", vec!["450.00 USD"]),
        ("CIF USSAV", "term", vec!["450.00 USD"]),
    ] {
        for per in ["shipment", "entry"] {
            let tiny = lot("50000 USD");
            let under = format!("term = \"{term}\"");
            tiny.replace("shipments/plain/shipment.toml", "term = \"FOB TRIZM\"", &under);
            tiny.replace("shipments/plain/shipment.toml", "to =", "lane = \"TRIZM-USSAV\"\nto =");
            let row = format!(
                "rate = \"0.9 %\"\nof = \"goods\"\nper = \"{per}\"\nborne-by = \"{borne_by}\"\ntreatment = \"notional\""
            );
            assert_eq!(comes_to(&tiny, "import clearance", &row), amounts, "{term} {borne_by}");
        }
    }
}
