//! Law and books of the charges: on which day and at which rate goods are booked, what a hedge does,
//! what a policy may ask, and the one objective that choices are compared by.

use crate::common::{Tiny, run, stdout, try_cost};
use quaystone::choose::Costed;
use quaystone::fault::{Report, render};
use serde_json::Value;

/// A shipment of 592.00 EUR (14.8 m2 at 40 EUR) that sailed in April, when the bank had 1.0871 USD for
/// a euro, and came to the yard in May, when it had 1.0913; with another term, and more in its invoice.
fn arrived(term: &str, invoice: &str) -> Tiny {
    let tiny = Tiny::new();
    let file = "shipments/plain/shipment.toml";
    tiny.replace(
        file,
        "dates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }",
        "lane = \"TRIZM-USSAV\"\ndates = { quoted = 2026-05-20, collected = 2026-04-08, sails = 2026-04-11, arrives = 2026-05-09 }",
    );
    tiny.replace(file, "2026-03-01..2026-04-15", "2026-03-01..2026-05-31");
    tiny.replace(file, "term = \"FOB TRIZM\"\n", &format!("term = \"{term}\"\n"));
    tiny.replace(file, "\n[[invoice.line]]", &format!("{invoice}\n[[invoice.line]]"));
    for leg in ["pre-carriage", "export clearance"] {
        let row = format!(
            "[[charge]]\nname = \"{leg}\"\nleg = \"{leg}\"\namount = \"0 USD\"\nper = \"shipment\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n"
        );
        tiny.append("rates/crating.toml", &row);
    }
    tiny
}

/// What the charges of a name are booked at, one after the other.
fn booked(costed: &Costed, name: &str) -> Vec<String> {
    let own = costed.landed.charges.iter().filter(|charge| charge.name == name);
    own.map(|charge| charge.book().amount().to_string()).collect()
}

fn goods(tiny: &Tiny) -> Vec<String> {
    booked(&tiny.cost("plain").1, "goods")
}

/// What is said of a workspace that is at fault.
fn faults(tiny: &Tiny) -> String {
    let mut report = Report::new();
    assert!(try_cost(tiny.path(), "plain", &mut report).is_none());
    render(&report, false)
}

#[test]
fn goods_are_booked_on_the_day_control_passes() {
    // 592 x 1.0871 = 643.5632 in April; 592 x 1.0913 = 646.0496 in May.
    for (term, book) in [
        ("EXW works", "643.56"),
        ("FCA TRIZM", "643.56"),
        ("FOB TRIZM", "643.56"),
        ("CIF USSAV", "643.56"),
        ("DAP USSAV", "646.05"),
        ("DAP yard", "646.05"),
        ("DPU yard", "646.05"),
        ("DDP yard", "646.05"),
    ] {
        assert_eq!(goods(&arrived(term, "")), [book], "{term}");
    }
    // Title is kept by the seller until the documents are paid.
    assert_eq!(goods(&arrived("FOB TRIZM", "control = 2026-05-04\n")), ["646.05"]);
    let of_line = arrived("DAP yard", "");
    of_line.replace(
        "shipments/plain/shipment.toml",
        "id = \"A\"\n",
        "id = \"A\"\ncontrol = 2026-04-30\n",
    );
    assert_eq!(goods(&of_line), ["643.56"]);
    // What is collected in one month and sails in the next is booked in the first.
    let works = arrived("EXW works", "");
    works.replace("shipments/plain/shipment.toml", "sails = 2026-04-11", "sails = 2026-05-02");
    assert_eq!(goods(&works), ["643.56"]);
}

#[test]
fn an_advance_keeps_its_own_rate_and_a_claim_on_money_does_not() {
    let paid = |more: &str| {
        format!(
            "[[invoice.payment]]\nname = \"deposit\"\nshare = \"30 %\"\non = 2026-04-05\n{more}[[invoice.payment]]\nname = \"balance\"\nshare = \"rest\"\non = 2026-05-18\n"
        )
    };
    // IFRIC 22, IE5 to IE8: 177.60 x 1.0871 = 193.07 in advance, and 414.40 x 1.0913 = 452.23 when
    // control passes.
    assert_eq!(goods(&arrived("DAP yard", &paid(""))), ["645.30"]);
    // IAS 21.16: one that is to be paid back in money is translated until control passes.
    let claim = arrived("DAP yard", &paid("repaid-in = \"money\"\n"));
    assert_eq!(goods(&claim), ["646.05"]);
    let cash: Value =
        serde_json::from_str(&stdout(claim.path(), &["cash", "plain", "--as", "json"])).unwrap();
    let moved = &cash["exchange_differences"][0];
    // 30 % of 646.05, 193.815, in the books; 193.07 was paid: a gain of 0.75 for the period.
    assert_eq!(
        ["booked", "settled", "loss"].map(|key| moved[key].as_str().unwrap()),
        ["193.82", "193.07", "-0.75"]
    );
}

#[test]
fn a_line_on_two_bills_is_booked_as_each_of_them_passes() {
    let tiny = Tiny::new();
    let file = "shipments/split-invoice/shipment.toml";
    tiny.replace(file, "quoted = 2026-04-15", "quoted = 2026-06-30");
    tiny.replace(file, "2026-04-01..2026-05-31", "2026-04-01..2026-06-30");
    tiny.replace(file, "number = \"B-2\"\n", "number = \"B-2\"\ncontrol = 2026-06-12\n");
    tiny.append(
        "rates/exchange.toml",
        "[[exchange]]\nuse = \"book\"\nquote = \"1 EUR = 1.2000 USD\"\nvalid = \"2026-06-01..2026-06-30\"\nsource = \"invented\"\n[[exchange]]\nuse = \"book\"\nquote = \"1 USD = 150.00 JPY\"\nvalid = \"2026-05-01..2026-06-30\"\nsource = \"invented\"\n",
    );
    let (_, costed) = tiny.cost("split-invoice");
    let own = costed.landed.charges.iter().filter(|charge| charge.name == "goods");
    let own: Vec<(String, String, String)> = own
        .map(|charge| {
            let rate = charge.exchange().unwrap().quote.to_string();
            (charge.scope.of.to_string(), charge.amount().amount().to_string(), rate)
        })
        .collect();
    // Line A at 52.17 EUR/m2: 4.5803 + 4.4919 + 4.4679 + 4.5151 = 18.0552 m2 on B-1 are 941.939... EUR,
    // 4.346 + 4.3555 = 8.7015 m2 on B-2 are 453.957...; line B is on B-2 whole.
    let of = |of: &str, amount: &str, rate: &str| (of.into(), amount.into(), rate.into());
    assert_eq!(
        own,
        [
            of("A", "941.94", "1 EUR = 1.0913 USD"),
            of("A", "453.96", "1 EUR = 1.2000 USD"),
            of("B", "780.53", "1 EUR = 1.2000 USD"),
        ]
    );
}

#[test]
fn two_days_of_control_for_one_line_are_a_fault() {
    let tiny = arrived("FOB TRIZM", "control = 2026-05-04\n");
    let bill =
        "[[bill]]\nnumber = \"B-1\"\ninvoices = [\"I-1\"]\ncontrol = 2026-05-06\n\n[[invoice]]";
    tiny.replace("shipments/plain/shipment.toml", "[[invoice]]\n", &format!("{bill}\n"));
    let said = faults(&tiny);
    assert!(said.contains("passes on 2026-05-04 by its invoice and on 2026-05-06"), "{said}");
}

#[test]
fn stock_is_at_the_rate_of_the_day_whatever_a_forward_was_bought_for() {
    let forward = "exchange = \"contract\"\n[[invoice.payment]]\nname = \"all\"\nshare = \"100 %\"\non = 2026-05-18\n";
    let tiny = arrived("FOB TRIZM", forward);
    tiny.append(
        "rates/exchange.toml",
        "[[exchange]]\nuse = \"contract\"\nquote = \"1 EUR = 1.0500 USD\"\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n",
    );
    assert_eq!(goods(&tiny), ["643.56"]);
    // 592 x 1.05 = 621.60: the gain is none of the goods' (IAS 21.28).
    let cash: Value =
        serde_json::from_str(&stdout(tiny.path(), &["cash", "plain", "--as", "json"])).unwrap();
    let moved = &cash["exchange_differences"][0];
    assert_eq!(
        ["booked", "settled", "loss"].map(|key| moved[key].as_str().unwrap()),
        ["643.56", "621.60", "-21.96"]
    );
}

#[test]
fn a_designated_hedge_is_one_stated_amount_on_the_goods() {
    let hedge =
        "basis-adjustment = { amount = \"-100.00 USD\", source = \"hedge file 7 (invented)\" }\n";
    let plain = arrived("FOB TRIZM", "");
    let hedged = arrived("FOB TRIZM", hedge);
    let (before, after) = (plain.cost("plain").1.landed, hedged.cost("plain").1.landed);
    // IFRS 9.6.5.11(d)(i): the goods cost 100.00 less, and nothing else moves: neither insurance nor
    // the customs value.
    let less = before.total.minus(after.total).unwrap();
    assert_eq!(less.amount().to_string(), "100.00");
    assert_eq!(after.charges.len(), before.charges.len() + 1);
    let cash: Value =
        serde_json::from_str(&stdout(hedged.path(), &["cash", "plain", "--as", "json"])).unwrap();
    let cents = |key: &str| cash[key].as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    assert_eq!(cents("basis_adjustment"), -10_000);
    assert_eq!(
        cents("net"),
        cents("stock") + cents("period") + cents("recoverable") - cents("returned") + 10_000
    );

    hedged.replace(
        "rates/yards.toml",
        "id = \"savannah\"\n",
        "id = \"savannah\"\nframework = \"us-gaap\"\n",
    );
    let said = faults(&hedged);
    assert!(said.contains("US GAAP adjusts no cost of goods by a hedge"), "{said}");
    let foreign = arrived("FOB TRIZM", &hedge.replace("USD", "EUR"));
    let said = faults(&foreign);
    assert!(said.contains("is not in the books' currency"), "{said}");
}

#[test]
fn payments_at_one_rate_are_rounded_once() {
    // Three advances of a third, on three days of April at one rate: 592 x 1.0871 = 643.5632, rounded
    // once. Each alone, 197.33, 197.33 and 197.34 EUR would make 214.52 + 214.52 + 214.53 = 643.57.
    let each = |day: &str, share: &str| {
        format!("[[invoice.payment]]\nname = \"on {day}\"\nshare = \"{share}\"\non = {day}\n")
    };
    let plan = [
        each("2026-04-01", "33.3333 %"),
        each("2026-04-02", "33.3333 %"),
        each("2026-04-03", "rest"),
    ];
    let tiny = arrived("DAP yard", &plan.concat());
    let (_, costed) = tiny.cost("plain");
    assert_eq!(booked(&costed, "goods"), ["643.56"]);
    assert!(costed.landed.charges.iter().all(|charge| charge.booked.parts.is_empty()));
}

fn with_policy(charge: &str, asks: &str) -> Tiny {
    let tiny = arrived("FOB TRIZM", "discount = \"2 %\"\n");
    let policy = format!(
        "[[policy]]\ncharge = \"{charge}\"\n{asks}\nreason = \"invented\"\n\n[[invoice]]\n"
    );
    tiny.replace("shipments/plain/shipment.toml", "[[invoice]]\n", &policy);
    tiny
}

#[test]
fn a_policy_moves_charges_between_stock_and_period_alone() {
    let said = faults(&with_policy("discount", "treatment = \"period\""));
    assert!(said.contains("a discount is part of the price of the goods"), "{said}");
    // A bill does not vanish from what is paid.
    let said = faults(&with_policy("ocean freight", "treatment = \"notional\""));
    assert!(said.contains("`treatment` cannot be \"notional\""), "{said}");
    let tiny = with_policy("rack deposit", "treatment = \"period\"");
    tiny.append(
        "rates/fees.toml",
        "[[charge]]\nyard = \"savannah\"\nname = \"rack deposit\"\nleg = \"unloading\"\namount = \"20 USD\"\nper = \"bundle\"\ntreatment = \"recoverable\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n",
    );
    let said = faults(&tiny);
    assert!(said.contains("\"rack deposit\" is recoverable"), "{said}");
    let (_, costed) = with_policy("ocean freight", "treatment = \"period\"").cost("plain");
    assert_eq!(booked(&costed, "ocean freight"), ["2000.00"]);
}

#[test]
fn a_policy_asks_no_key_that_the_row_itself_could_not() {
    let tiny = with_policy("barcode label", "key = \"area\"");
    tiny.append(
        "rates/fees.toml",
        "[[charge]]\nyard = \"savannah\"\nname = \"barcode label\"\nleg = \"unloading\"\namount = \"0.35 USD\"\nper = \"slab\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n",
    );
    let said = faults(&tiny);
    assert!(said.contains("a charge per slab is the same on every slab"), "{said}");
}

#[test]
fn packing_is_in_a_customs_value_whatever_adds_names_and_that_is_said() {
    let tiny = Tiny::new();
    tiny.replace("rates/duty.toml", "id = \"us\"\n", "id = \"us\"\nadds = [\"main carriage\"]\n");
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(
        said.contains("packing is part of the customs value, whether `adds` names it or not"),
        "{said}"
    );
}

/// Two forwarders for one box: f1 for 2,000 USD, f2 for 1,900 and a fee of 300 a bill of lading.
fn two_forwarders(fee: &str, policy: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.replace(
        "rates/freight.toml",
        "amount = \"2000 USD\"\nper = \"container\"\n",
        "amount = \"2000 USD\"\nper = \"container\"\noffer = \"f1\"\n",
    );
    tiny.append(
        "rates/freight.toml",
        &format!(
            "[[charge]]\nlane = \"TRIZM-USSAV\"\ncontainer = \"20gp\"\nname = \"ocean freight\"\nleg = \"main carriage\"\namount = \"1900 USD\"\nper = \"container\"\noffer = \"f2\"\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n[[charge]]\nlane = \"TRIZM-USSAV\"\nname = \"late fee\"\nleg = \"main carriage\"\namount = \"300 USD\"\nper = \"bill of lading\"\noffer = \"f2\"\n{fee}valid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n"
        ),
    );
    tiny.replace(
        "shipments/plain/shipment.toml",
        "[[invoice]]\n",
        &format!("{policy}[[invoice]]\n"),
    );
    tiny
}

#[test]
fn moving_a_charge_to_the_period_makes_no_dearer_forwarder_win() {
    let policy =
        "[[policy]]\ncharge = \"late fee\"\ntreatment = \"period\"\nreason = \"invented\"\n\n";
    for (fee, policy) in [
        ("", ""),
        ("treatment = \"period\"\n", ""),
        ("", policy),
        ("treatment = \"notional\"\n", ""),
    ] {
        let (_, costed) = two_forwarders(fee, policy).cost("plain");
        let serving: Vec<&str> =
            costed.choice.offers().into_iter().map(|(_, offer)| offer).collect();
        assert_eq!(serving, ["f1"], "{fee}{policy}");
        // 1,900 + 300 against 2,000, and a premium of 0.33 / 99.67 of what is insured beside it.
        let dearer = costed.others[0].worth.decision.minus(costed.landed.decision).unwrap();
        assert!(
            dearer.amount().to_string().starts_with("200.")
                || dearer.amount().to_string().starts_with("199."),
            "{dearer}"
        );
    }
}

/// Two forwarders of whom the cheaper one's quote ends the day before the ship sails.
fn one_lapsed() -> Tiny {
    let tiny = two_forwarders("", "");
    let text = std::fs::read_to_string(tiny.path().join("rates/freight.toml")).unwrap();
    let (before, f2) = text.split_at(text.find("amount = \"1900 USD\"").unwrap());
    let f2 = f2.replacen("2026-03-01..2026-06-30", "2026-03-01..2026-04-10", 1);
    tiny.write("rates/freight.toml", &format!("{before}{f2}"));
    tiny
}

#[test]
fn a_forwarder_whose_quote_lapsed_is_named_with_its_reason() {
    let tiny = one_lapsed();
    let page =
        stdout(tiny.path(), &["cost", "plain"]).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("freight f2 fell out"), "{page}");
    assert!(page.contains("rates/freight.toml:"), "{page}");
    let json: Value =
        serde_json::from_str(&stdout(tiny.path(), &["cost", "plain", "--as", "json"])).unwrap();
    assert_eq!(json["fallen_offers"][0]["offer"], "f2");
}

#[test]
fn compare_names_a_forwarder_that_fell_out_as_cost_does() {
    let tiny = one_lapsed();
    for file in ["shipment.toml", "packing.csv"] {
        let text = std::fs::read_to_string(tiny.path().join("shipments/plain").join(file)).unwrap();
        tiny.write(&format!("shipments/other/{file}"), &text);
    }
    let args = ["compare", "plain", "other"];
    let page = stdout(tiny.path(), &args).split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(page.contains("freight f2 fell out: "), "{page}");
    let of = |args: &[&str]| -> Value {
        serde_json::from_str(&stdout(tiny.path(), &[args, &["--as", "json"]].concat())).unwrap()
    };
    let costed = of(&["cost", "plain"]);
    assert_eq!(of(&args)["offers"][0]["fallen_offers"], costed["fallen_offers"]);
    assert_eq!(costed["fallen_offers"][0]["offer"], "f2");
}

#[test]
fn an_offer_whose_row_cannot_be_worked_out_falls_out_for_that_reason() {
    // f1's surcharge is a part of freight in dollars for the 20' box; its cap is in euros, as the freight of
    // the 40' box is. Box 1 is a 20' box.
    let tiny = Tiny::new();
    let rate = "rate = \"7.35 %\"\nof = \"ocean freight\"\n";
    tiny.replace("rates/freight.toml", rate, &format!("{rate}maximum = \"100 EUR\"\n"));
    let json: Value =
        serde_json::from_str(&stdout(tiny.path(), &["cost", "crowded", "--as", "json"])).unwrap();
    let fallen = &json["fallen_offers"][0];
    let why = "\"bunker surcharge\" is in USD and its bound in EUR";
    assert_eq!((&fallen["offer"], &fallen["reason"]), (&"f1".into(), &why.into()));
    assert_eq!(fallen["source"]["file"], "rates/freight.toml");
}

#[test]
fn goods_handed_over_on_a_day_that_nobody_states_are_said_to_be() {
    // Two invoices under FCA: it is said once, and no more where the day is stated.
    let tiny = Tiny::new();
    let said =
        |tiny: &Tiny| stdout(tiny.path(), &["cost", "crowded"]).matches("`collected`").count();
    assert_eq!(said(&tiny), 1);
    let quoted = "quoted = 2026-04-15";
    let stated = format!("{quoted}, collected = 2026-05-14");
    tiny.replace("shipments/crowded/shipment.toml", quoted, &stated);
    assert_eq!(said(&tiny), 0);
}

/// A slab of 5.4 m2 at 45 EUR/m2, one at 90 and one that is free, under one tariff line.
fn three_slabs(yard: &str) -> Tiny {
    let tiny = Tiny::new();
    let file = "shipments/plain/shipment.toml";
    tiny.replace(file, "price = \"40.00 EUR/m2\"\n", "price = \"45.00 EUR/m2\"\n");
    tiny.replace(file, "\n[[invoice.line]]", "free-slabs = [\"A2\"]\n\n[[invoice.line]]");
    tiny.append(
        file,
        "[[invoice.line]]\nid = \"B\"\nstone = \"chalk\"\nfinish = \"polished\"\nthickness = \"20 mm\"\nprice = \"90.00 EUR/m2\"\n",
    );
    tiny.write(
        "shipments/plain/packing.csv",
        "slab,bundle,line,length (cm),height (cm)\nA1,B1,A,300,180\nA2,B1,A,300,180\nC1,B2,B,300,180\n",
    );
    tiny.replace("rates/yards.toml", "id = \"savannah\"\n", &format!("id = \"savannah\"\n{yard}"));
    tiny
}

/// What each slab bears of a charge, in cents.
fn shares(tiny: &Tiny, charge: &str) -> Vec<i64> {
    let json: Value =
        serde_json::from_str(&stdout(tiny.path(), &["cost", "plain", "--as", "json"])).unwrap();
    let charges = json["charges"].as_array().unwrap();
    let at = &charges.iter().find(|one| one["name"] == charge).unwrap()["listed_under"];
    let of_slab = |slab: &Value| {
        let own = slab["charges"].as_array().unwrap().iter().find(|one| one["charge"] == *at);
        own.map_or(0, |own| own["amount"].as_str().unwrap().replace('.', "").parse().unwrap())
    };
    json["slabs"].as_array().unwrap().iter().map(of_slab).collect()
}

#[test]
fn charges_on_a_value_go_by_that_value_where_the_yard_says_so() {
    // The processing fee is at its floor, 33.58 USD. By area, a policy: a third each, and the free slab
    // bears its third; the page says so, and what the other way would move.
    let by_area = three_slabs("");
    let fee = "merchandise processing fee";
    assert!(shares(&by_area, fee).iter().all(|share| (1119..=1120).contains(share)));
    let said = |tiny: &Tiny| {
        let page = stdout(tiny.path(), &["cost", "plain"]);
        page.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let page = said(&by_area);
    assert!(
        page.contains("percentages of a value, shared over the slabs by area: cargo insurance"),
        "{page}"
    );
    assert!(page.contains("percentages = \"base\" on the yard"), "{page}");
    assert!(!said(&three_slabs("tell-shift = \"90 %\"\n")).contains("percentages = \"base\""));

    // By what the law charges it on: 45 and 90 EUR/m2 of one area, and nothing for the free slab.
    let by_base = three_slabs("percentages = \"base\"\n");
    let own = shares(&by_base, fee);
    assert!(
        (1119..=1120).contains(&own[0]) && own[1] == 0 && (2238..=2239).contains(&own[2]),
        "{own:?}"
    );
    assert_eq!(own.iter().sum::<i64>(), 3358);
    let page = said(&by_base);
    assert!(!page.contains("percentages of a value, shared over the slabs by area"), "{page}");
    let totals = [&by_area, &by_base].map(|tiny| tiny.cost("plain").1.landed.total);
    assert_eq!(totals[0], totals[1]);
}

#[test]
fn a_key_of_what_is_charged_on_is_for_parts_of_values() {
    let tiny = three_slabs("");
    tiny.replace(
        "rates/freight.toml",
        "amount = \"2000 USD\"\nper = \"container\"\n",
        "amount = \"2000 USD\"\nper = \"container\"\nkey = \"base\"\n",
    );
    let said = faults(&tiny);
    assert!(said.contains("needs a percentage of a value"), "{said}");
}
