//! The counter price: written into the file, the order holds; one step more, and it does not.

use serde_json::Value;

use crate::commands::snapshot;
use crate::common::{Tiny, demo, drawn, json, json_of_any_answer, run, stdout};

const FILE: &str = "shipments/plain/shipment.toml";

/// Three slabs, 14.8 m2 at 40.00 EUR/m2 FOB, or at 170.00 CIF.
fn two_ways() -> Tiny {
    let tiny = Tiny::new();
    tiny.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    tiny.append(
        FILE,
        "\n[[way]]\nid = \"cif\"\nterm = \"CIF USSAV\"\nline = [{ id = \"A\", price = \"170.00 EUR/m2\" }]\n",
    );
    tiny
}

fn trial<'a>(page: &'a Value, what: &str) -> &'a Value {
    let mut all = page["trials"].as_array().unwrap().iter();
    all.find(|one| one["what"] == what).unwrap_or_else(|| panic!("{what} in {page}"))
}

fn price<'a>(page: &'a Value, what: &str) -> &'a str {
    trial(page, what)["prices"][0]["price"].as_str().unwrap()
}

/// The price of the CIF way as another figure.
fn cif_at(tiny: &Tiny, price: &str) {
    let text = std::fs::read_to_string(tiny.path().join(FILE)).unwrap();
    let (head, way) = text.split_once("[[way]]").unwrap();
    let (before, rest) = way.split_once("price = \"").unwrap();
    let (_, after) = rest.split_once(' ').unwrap();
    tiny.write(FILE, &format!("{head}[[way]]{before}price = \"{price} {after}"));
}

/// The ranks of the written way and of CIF.
fn ranks(tiny: &Tiny) -> (i64, i64) {
    let compared = json_of_any_answer(tiny, &["compare", "plain"]);
    let offers = compared["groups"][0]["offers"].as_array().unwrap();
    let rank = |name: &str| {
        let mut all = offers.iter();
        all.find(|one| one["shipment"] == name).unwrap()["rank"].as_i64().unwrap()
    };
    (rank("plain"), rank("plain, way cif"))
}

#[test]
fn the_counter_price_in_the_file_is_not_dearer_and_one_step_more_is() {
    let tiny = two_ways();
    let args = ["counter", "plain", "--way", "cif", "--against", "plain"];
    let page = json_of_any_answer(&tiny, &args);
    assert_eq!(page["found"], true);
    let (asked, above) = (price(&page, "counter price"), price(&page, "one step above"));
    cif_at(&tiny, above);
    assert_eq!(ranks(&tiny), (1, 2), "at {above} CIF is dearer");
    cif_at(&tiny, asked);
    assert_eq!(ranks(&tiny).1, 1, "at {asked} it is not");
    let cost = json_of_any_answer(&tiny, &["cost", "plain", "--way", "cif"]);
    assert_eq!(cost["decision_total"], trial(&page, "counter price")["decision"]);
    // The same from there: it is not dearer as quoted, and may rise by nothing.
    let again = json_of_any_answer(&tiny, &args);
    assert_eq!(price(&again, "counter price"), asked);
    // A grid of its own: multiples of 0.25, the highest not above the answer.
    let coarse = json_of_any_answer(&tiny, &[&args[..], &["--step", "0.25 EUR/m2"]].concat());
    let cents = |text: &str| -> i64 { text.replace('.', "").parse().unwrap() };
    assert_eq!(cents(price(&coarse, "counter price")), cents(asked) / 25 * 25);
    assert_eq!(cents(price(&coarse, "one step above")), cents(asked) / 25 * 25 + 25);
}

#[test]
fn what_was_made_out_for_the_quoted_price_is_left_out_and_told() {
    let tiny = two_ways();
    let args = ["counter", "plain", "--target", "230.00 USD/m2", "--footing", "gross"];
    let bare = json_of_any_answer(&tiny, &args);
    assert_eq!(bare["left_out"], serde_json::json!([]));
    tiny.state_bills();
    let stated = json_of_any_answer(&tiny, &args);
    assert_eq!(stated["trials"], bare["trials"]);
    let left = stated["left_out"].as_array().unwrap();
    let keys: Vec<&str> = left.iter().map(|one| one["key"].as_str().unwrap()).collect();
    assert_eq!(keys, ["billed", "total", "rounding"]);
    let page = stdout(tiny.path(), &args);
    assert!(page.contains("`total` of invoice I-1"), "{page}");
    // A way leaves out the same, before it is read.
    let cif = ["counter", "plain", "--way", "cif", "--target", "230.00 USD/m2"];
    assert_eq!(json_of_any_answer(&tiny, &cif)["left_out"], serde_json::json!([]));
}

#[test]
fn what_no_price_can_do_is_a_no_and_what_cannot_be_compared_is_refused() {
    let tiny = two_ways();
    let ends = |args: &[&str]| {
        let output = run(tiny.path(), args);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code().unwrap(), said)
    };
    // Freight and fees alone are more than a dollar a square foot.
    let (code, said) = ends(&["counter", "plain", "--target", "1.00 USD/ft2"]);
    assert_eq!(code, 3, "{said}");
    let page = json_of_any_answer(&tiny, &["counter", "plain", "--target", "1.00 USD/ft2"]);
    assert_eq!(page["found"], false);
    assert_eq!(price(&page, "half of what is quoted"), "20.00");
    assert_eq!(page["letter"], Value::Null);
    for (args, code, what) in [
        (&["--target", "9.50 EUR/ft2"][..], 2, "the target is in EUR"),
        (&["--target", "9.50 USD/t"], 2, "write a cost for an area"),
        (&["--target", "9.50 USD/ft2", "--step", "0.05 USD/ft2"], 2, "another unit"),
        (&["--target", "9.50 USD/ft2", "--step", "0.5 %"], 2, "one line moves by a price"),
        (&["--target", "9.50 USD/ft2", "--step", "0 EUR/m2"], 2, "leaves no price"),
        (&["--target", "9.50 USD/ft2", "--line", "Z"], 2, "has no line \"Z\""),
        (&["--against", "nowhere"], 1, "there is no shipment"),
        (&[], 2, "--against"),
    ] {
        let (ended, said) = ends(&[&["counter", "plain"], args].concat());
        assert_eq!(ended, code, "{args:?}: {said}");
        assert!(said.contains(what), "{args:?}: {said}");
    }
    let other = std::fs::read_to_string(tiny.path().join(FILE)).unwrap();
    let list = std::fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    tiny.write("shipments/thick/packing.csv", &list);
    let thick = other.replace("thickness = \"20 mm\"", "thickness = \"30 mm\"");
    tiny.write("shipments/thick/shipment.toml", &thick);
    let (code, said) = ends(&["counter", "plain", "--against", "thick"]);
    assert_eq!(code, 2, "{said}");
    assert!(said.contains("--across thickness"), "{said}");
    let (code, said) = ends(&["counter", "plain", "--against", "thick", "--across", "thickness"]);
    assert_eq!(code, 0, "{said}");
}

#[test]
fn every_form_of_the_counter_page() {
    let tiny = two_ways();
    let args = ["counter", "plain", "--way", "cif", "--against", "plain"];
    for form in ["text", "markdown", "html"] {
        let page = stdout(tiny.path(), &[&args[..], &["--as", form]].concat());
        assert!(page.contains("counter price"), "{page}");
        assert!(form != "text" || page.lines().all(|line| line.chars().count() <= 78), "{page}");
    }
    let csv = stdout(tiny.path(), &[&args[..], &["--as", "csv"]].concat());
    let cells: Vec<usize> = csv.lines().map(|line| line.split(',').count()).collect();
    assert!(cells.len() == 4 && cells.iter().all(|count| *count == cells[0]), "{csv}");
    // The letter that the page names is a command that runs.
    let page = json_of_any_answer(&tiny, &args);
    let asked = price(&page, "counter price");
    let letter =
        format!("quaystone letter plain --way cif --price A=\"{asked} EUR/m2\" --until DAY");
    assert_eq!(page["letter"], letter.as_str());
    let asked = format!("A={asked} EUR/m2");
    stdout(tiny.path(), &["letter", "plain", "--way", "cif", "--price", &asked]);
}

/// The demo's nominal marble, CIF at 59.50 USD/m2, with a way to buy it FOB at 49.70.
fn nominal_ways() -> Tiny {
    const MARBLE: &str = "shipments/white-marble-cif/shipment.toml";
    let tiny = Tiny::of_demo("white-marble-cif");
    tiny.replace(
        MARBLE,
        "[[invoice.stated]]\nleg = \"main carriage\"\namount = \"4700.00 USD\"\n",
        "",
    );
    tiny.append(
        MARBLE,
        "\n[[way]]\nid = \"fob\"\nterm = \"FOB TRIZM\"\nline = [{ id = \"A\", price = \"49.70 USD/m2\" }]\n",
    );
    tiny
}

#[test]
fn the_cheaper_at_each_number_of_bundles_is_what_single_runs_find() {
    let tiny = nominal_ways();
    let name = "white-marble-cif";
    let last = if drawn(1) > 1 { 24 } else { 9 };
    let range = format!("bundles=3..{last}");
    let args = ["counter", name, "--against", name, "--against-way", "fob", "--over", &range];
    let page = json_of_any_answer(&tiny, &args);
    let mut winners: Vec<String> = Vec::new();
    let file = format!("shipments/{name}/shipment.toml");
    let written = std::fs::read_to_string(tiny.path().join(&file)).unwrap();
    for (number, count) in page["values"].as_array().unwrap().iter().zip(3..) {
        assert_eq!(number["at"], count.to_string());
        tiny.write(&file, &written.replace("bundles = 7 ", &format!("bundles = {count} ")));
        let compared = json_of_any_answer(&tiny, &["compare", name]);
        let offers = compared["groups"][0]["offers"].as_array().unwrap();
        let by_way = [name.to_owned(), format!("{name}, way fob")];
        for (way, cost) in by_way.iter().zip(number["costs"].as_array().unwrap()) {
            let own = offers.iter().find(|one| one["shipment"] == way.as_str()).unwrap();
            let finance = own["amounts"].as_array().unwrap().last().unwrap();
            assert_eq!(finance["what"], "with finance");
            assert_eq!(finance["amount"], cost["decision"], "{way} with {count} bundles");
        }
        assert_eq!(offers[0]["shipment"], number["cheaper"], "{count} bundles");
        winners.push(number["cheaper"].as_str().unwrap().to_owned());
    }
    // A saw-tooth: the cheaper changes more than once, and each range is told.
    let mut runs = winners.clone();
    runs.dedup();
    assert!(runs.len() > 2, "{winners:?}");
    let told = page["ranges"].as_array().unwrap().iter();
    let told: Vec<&str> = told.map(|one| one["cheaper"].as_str().unwrap()).collect();
    assert_eq!(told, runs);
    tiny.write(&file, &written);
    let text = stdout(tiny.path(), &args);
    assert!(text.lines().all(|line| line.chars().count() <= 78), "{text}");
    // Under the supplier's least order an offer cannot be had.
    tiny.replace(&file, "price-valid", "least = \"5 bundles\"\nprice-valid");
    let page = json_of_any_answer(&tiny, &args);
    let first = &page["ranges"][0];
    assert_eq!([&first["from"], &first["to"], &first["cheaper"]], ["3", "4", "none"]);
    // What is bundled already has no other number of bundles.
    let plain = two_ways();
    let args = ["counter", "plain", "--against", "plain", "--against-way", "cif"];
    let output = run(plain.path(), &[&args[..], &["--over", "bundles=1..3"]].concat());
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("can be moved only where a shipment states `bundles`"), "{said}");
}

#[test]
fn the_ranges_in_which_an_offer_meets_a_target_are_what_single_runs_find() {
    let tiny = nominal_ways();
    let name = "white-marble-cif";
    let target = ["counter", name, "--target", "80.50 USD/m2"];
    let over = [&target[..], &["--over", "bundles=4..9"]].concat();
    let page = json_of_any_answer(&tiny, &over);
    assert_eq!(page["offers"], serde_json::json!([name]));
    assert_eq!(page["target"], "80.50 USD/m2");
    let file = format!("shipments/{name}/shipment.toml");
    let written = std::fs::read_to_string(tiny.path().join(&file)).unwrap();
    let mut verdicts: Vec<&str> = Vec::new();
    for (number, count) in page["values"].as_array().unwrap().iter().zip(4..) {
        tiny.write(&file, &written.replace("bundles = 7 ", &format!("bundles = {count} ")));
        let single = json_of_any_answer(&tiny, &target);
        let quoted = trial(&single, "as quoted");
        assert_eq!(number["costs"][0]["decision"], quoted["decision"], "{count} bundles");
        let is_above = quoted["above_per_m2"].as_str().unwrap().parse::<f64>().unwrap() > 0.0;
        let verdict = if is_above { "dearer" } else { "not dearer" };
        assert_eq!(number["cheaper"], verdict, "{count} bundles");
        verdicts.push(verdict);
    }
    tiny.write(&file, &written);
    // A seventh bundle takes a second box: it is dearer than six, and than the target until the box fills.
    verdicts.dedup();
    assert_eq!(verdicts, ["dearer", "not dearer", "dearer", "not dearer"]);
    let told = page["ranges"].as_array().unwrap().iter();
    assert_eq!(told.map(|one| one["cheaper"].as_str().unwrap()).collect::<Vec<_>>(), verdicts);
    let text = stdout(tiny.path(), &over);
    assert!(text.contains("against a target of 80.50 USD/m2, by the number of bundles"), "{text}");
    assert!(text.lines().all(|line| line.chars().count() <= 78), "{text}");
    // What makes no sense is refused, and a target that no value meets is a "no".
    let ends = |args: &[&str]| run(tiny.path(), args).status.code().unwrap();
    let range = ["--over", "bundles=4..5"];
    assert_eq!(ends(&[&["counter", name][..], &range].concat()), 2);
    for more in [["--step", "0.05 USD/m2"], ["--term", "FOB TRIZM"], ["--pay", "100 % on order"]] {
        assert_eq!(ends(&[&target[..], &range, &more].concat()), 2, "{more:?}");
    }
    assert_eq!(ends(&[&["counter", name, "--target", "80.00 EUR/m2"][..], &range].concat()), 2);
    assert_eq!(ends(&[&["counter", name, "--target", "1.00 USD/m2"][..], &range].concat()), 3);
}

#[test]
fn a_line_of_several_is_searched_by_halves_where_it_can_fall_by_cents_alone() {
    // 56.16 EUR/m2 is what every one of 3,330 steps from half of 46.00 had found.
    let args = ["counter", "white-marble-spring", "--line", "A", "--term", "CIF USSAV"];
    let said = stdout(&demo(), &[&args[..], &["--as", "json"]].concat());
    let page: Value = serde_json::from_str(&said).unwrap();
    assert_eq!(price(&page, "counter price"), "56.16");
    assert_eq!(price(&page, "one step above"), "56.17");
    assert_eq!(page["every_step_costed"], false);
    assert!(page["prices_costed"].as_u64().unwrap() < 200, "{page}");
}

/// 14.8 m2 at 1,000.00 USD/m2, with nothing that hangs on the price but the finance: 365 days a year, to the
/// day of delivery, 30 days after the order.
fn on_credit(rate: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.replace(FILE, "40.00 EUR/m2", "1000.00 USD/m2");
    tiny.replace(FILE, "2026-04-11, arrives = 2026-05-09", "2026-03-20, arrives = 2026-03-31");
    tiny.append(
        FILE,
        "[[invoice.payment]]\nname = \"net 30\"\nshare = \"100 %\"\ndue = \"quoted + 30 days\"\n",
    );
    tiny.replace("rates/duty.toml", "rate = \"2.5 %\"", "rate = \"0 %\"");
    let fees = "[[charge]]\nname = \"imputed finance\"\nleg = \"import clearance\"\nborne-by = \"importer\"\nrate = \"RATE %\"\nof = \"payments\"\ndays-in-year = 365\nuntil = \"delivered\"\nper = \"shipment\"\nkey = \"value\"\ntreatment = \"notional\"\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n";
    tiny.append("rates/fees.toml", &fees.replace("RATE", rate));
    for percent in ["0.3464 %", "0.125 %", "0.30 %"] {
        tiny.replace("rates/fees.toml", &format!("rate = \"{percent}\""), "rate = \"0 %\"");
    }
    tiny
}

#[test]
fn a_discount_of_2_10_net_30_is_worth_37_24_percent_a_year() {
    // Terms of 2/10 net 30 cost 2/98 x 365/20 = 37.2449 % a year. Read in an exercise of corporate finance with
    // its answer ("Calculate the nominal annual cost of trade credit under each of the following terms", a year
    // of 365 days): 0.02/(1 - 0.02) x 365/(35 - 15) = 37.24 % for 2/15 net 35, which are the same 2 % and 20
    // days. From memory: Brigham and Houston, Fundamentals of Financial Management, the chapter on working capital.
    // Paid on day 10, 98 % of the price costs as much as all of it on day 30 where finance is at that rate:
    // 980.00 (1 + 0.3724 x 20/365) = 999.9973, and at 37.25 % 1,000.0027.
    let args = ["counter", "plain", "--pay", "100 % 10 days after order"];
    for (rate, asked) in [("37.24", "980.00"), ("37.25", "979.99")] {
        let page = json(&on_credit(rate), &args);
        assert_eq!(price(&page, "counter price"), asked, "at {rate} % a year");
        assert_eq!(page["asked_under"], "paid 100 % 10 days after order");
    }
    // The other way about: who pays on day 30 in the place of day 10 may pay the 2 % more. 980 x 1.020406.
    let tiny = on_credit("37.24");
    tiny.replace(FILE, "quoted + 30 days", "quoted + 10 days");
    tiny.replace(FILE, "1000.00 USD/m2", "980.00 USD/m2");
    let page = json(&tiny, &["counter", "plain", "--pay", "100 % 30 days after order"]);
    assert_eq!(price(&page, "counter price"), "999.99");
}

#[test]
fn payments_are_asked_for_in_the_words_of_the_files_or_of_the_trade() {
    let tiny = on_credit("8");
    let asked = |pay: &str| {
        let page = json(&tiny, &["counter", "plain", "--pay", pay]);
        price(&page, "counter price").to_owned()
    };
    // 30 % 30 days earlier at 8 %: 1000 / (1 + 0.3 x 0.08 x 30/365) = 998.031.
    assert_eq!(asked("30 % on order, rest 30 days after order"), "998.03");
    assert_eq!(asked("30 % quoted, rest quoted + 30 days"), "998.03");
    assert_eq!(asked("30 % on 2026-03-04, 70 % on delivery"), "998.03");
    assert_eq!(asked("30 % 30 days before delivery, rest 3 days after arrival"), "998.03");
    // What is asked of the offer as it is written is told once.
    tiny.replace(FILE, "2026-03-01..2026-04-15", "2026-03-01..2026-03-10");
    let output = run(tiny.path(), &["counter", "plain", "--pay", "100 % on order"]);
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(said.matches("warning[lapsed-rate]").count(), 1, "{said}");
    for (pay, what) in [
        ("30 % on order", "30 % of the invoice"),
        ("30 % on order, rest after a while", "cannot be read"),
        ("rest", "write payments such as"),
        ("5000 EUR on order, rest on arrival", "another currency"),
        ("rest 5 working days after arrival", "calendar"),
    ] {
        let output = run(tiny.path(), &["counter", "plain", "--pay", pay]);
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{pay}: {said}");
        assert!(said.contains(what), "{pay}: {said}");
    }
}

#[test]
fn under_another_term_the_price_lands_the_same_at_our_rates() {
    // Dear goods, as three slabs bear the freight of a whole box.
    let tiny = Tiny::new();
    tiny.replace(FILE, "40.00 EUR/m2", "400.00 EUR/m2");
    let page = json(&tiny, &["counter", "plain", "--term", "CIF USSAV"]);
    assert_eq!(page["asked_under"], "CIF USSAV");
    let (asked, above) = (price(&page, "counter price"), price(&page, "one step above"));
    // Written into the file under that term, it costs no more than the offer as it was, and a step more does.
    let written = tiny.cost("plain").1.landed.decision.amount();
    let cif_at = |price: &str| {
        let other = Tiny::new();
        let lane = "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n";
        other.replace(FILE, "to = \"savannah\"\n", lane);
        other.replace(FILE, "FOB TRIZM", "CIF USSAV");
        other.replace(FILE, "40.00 EUR/m2", &format!("{price} EUR/m2"));
        other.cost("plain").1.landed.decision.amount()
    };
    assert!(cif_at(asked) <= written, "{asked}");
    assert!(cif_at(above) > written, "{above}");
    assert_eq!(trial(&page, "counter price")["decision"], cif_at(asked).to_string());
    // What is said of the written term is left out, and told; the port is that of the lane.
    tiny.replace(FILE, "price-valid", "includes = [\"insurance\"]\nprice-valid");
    let page = json(&tiny, &["counter", "plain", "--term", "CIF USSAV"]);
    assert_eq!(page["left_out"][0]["key"], "includes");
    let output = run(tiny.path(), &["counter", "plain", "--term", "CIF TRIZM"]);
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("says USSAV"), "{said}");
    // The demo's spring, one line of two, under both in one: what the page looks like.
    let args = ["counter", "white-marble-spring", "--line", "A", "--term", "CIF USSAV"];
    let pay = ["--pay", "30 % on order, rest on arrival", "--step", "0.50 EUR/m2"];
    let page = stdout(&demo(), &[&args[..], &pay].concat());
    assert!(page.lines().all(|line| line.chars().count() <= 78), "{page}");
    snapshot("counter-term.txt", page);
}

#[test]
fn prices_by_quantity_of_one_line_move_by_one_percentage_and_each_is_told() {
    let tiny = Tiny::new();
    let steps =
        "price = [{ price = \"40.00 EUR/m2\" }, { from = \"200 m2\", price = \"38.50 EUR/m2\" }]";
    tiny.replace(FILE, "price = \"40.00 EUR/m2\"", steps);
    let args = ["counter", "plain", "--line", "A", "--target", "230.00 USD/m2", "--step", "0.5 %"];
    let page = json(&tiny, &args);
    let answer = trial(&page, "counter price");
    assert_eq!(page["moves"], "line");
    assert_eq!(page["step_is_percent"], true);
    assert_eq!(page["letter"], Value::Null);
    let prices = answer["prices"].as_array().unwrap();
    assert_eq!((prices[0]["of"].as_str(), prices[1]["of"].as_str()), (None, Some("from 200 m2")));
    let figures = |at: usize| prices[at]["price"].as_str().unwrap().parse::<f64>().unwrap();
    assert!((figures(1) / figures(0) - 38.5 / 40.0).abs() < 1e-9, "{answer}");
    let text = stdout(tiny.path(), &args);
    assert!(text.contains("all 2 prices of line A by one percentage"), "{text}");
    assert!(text.contains("from 200 m2"), "{text}");
}

/// Two offers of the demo for each lever.
const OVER: [(&str, [&str; 2], &str); 4] = [
    ("bundles", ["white-marble-forty-net", "white-marble-forty-gross"], "bundles=1..8"),
    ("sails", ["white-marble-cif", "white-marble-spring"], "sails=2026-06-20..2026-08-08"),
    ("rate", ["white-marble-cif", "white-marble-spring"], "1 EUR = 1.12..1.18 USD"),
    ("freight", ["white-marble-cif", "white-marble-spring"], "ocean freight = 120..140 %"),
];

#[test]
fn the_cheaper_over_bundles_days_rates_and_freight_in_every_form() {
    for (rank, (name, [own, other], range)) in OVER.into_iter().enumerate() {
        let args = ["counter", own, "--against", other, "--over", range];
        // The pages differ in columns and words alone, which every form takes from one place.
        let forms: &[_] =
            if rank == 0 { &["text", "markdown", "html", "csv", "json"] } else { &["text", "csv"] };
        for form in forms {
            let page = stdout(&demo(), &[&args[..], &["--as", form]].concat());
            assert!(page.contains(own) && page.contains(other), "{name} as {form}: {page}");
            let is_narrow = page.lines().all(|line| line.chars().count() <= 78);
            if *form == "text" {
                assert!(is_narrow, "{name}: {page}");
                snapshot(&format!("counter-over-{name}.txt"), page.clone());
            }
            if *form == "csv" {
                let cells: Vec<usize> = page.lines().map(|row| row.split(',').count()).collect();
                assert!(cells.len() > 2 && cells.iter().all(|count| *count == cells[0]), "{page}");
            }
        }
    }
    // The other way about, of one line of two: the same ranges.
    let ranges = |args: &[&str]| -> Value {
        let said = stdout(&demo(), &[args, &["--over", OVER[3].2, "--as", "json"]].concat());
        serde_json::from_str::<Value>(&said).unwrap()["ranges"].clone()
    };
    let [cif, spring] = OVER[3].1;
    let of_line = ranges(&["counter", spring, "--line", "A", "--against", cif]);
    assert_eq!(of_line, ranges(&["counter", cif, "--against", spring]));
    let tiny = two_ways();
    for (range, what) in [
        ("1 EUR = 1.2..1.1 USD", "the range is turned round: write \"1 EUR=1.1..1.2 USD\""),
        ("bundles = 5..2", "the range is turned round: write \"bundles=2..5\""),
        ("sails=2026-04-12..2026-04-01", "write \"sails=2026-04-01..2026-04-12\""),
        ("ocean freight = 130..80 %", "write \"ocean freight=80..130 %\""),
        ("ocean freight = 80.000..130.000 %", "that is 50001 values, and 2000 at most"),
        ("1 EUR = 1.1..1.2 GBP", "no planning rate"),
        ("hire = 90..110 %", "those that do"),
        ("sails=2026-04-01..2036-04-01", "more than 2000"),
        ("sails=soon..later", "a date"),
        ("freight", "write what moves"),
    ] {
        let args = ["counter", "plain", "--against", "plain", "--against-way", "cif"];
        let output = run(tiny.path(), &[&args[..], &["--over", range]].concat());
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(2), "{range}: {said}");
        assert!(said.contains(what), "{range}: {said}");
    }
}
