//! The counter price: written into the file, the order holds; one step more, and it does not.

use serde_json::Value;

use crate::common::{Tiny, json_of_any_answer, run, stdout};
use crate::random::{Dice, Made, Shape};

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

/// How many workspaces of each shape are drawn.
fn drawn() -> u64 {
    std::env::var("QUAYSTONE_DRAWN").map_or(1, |count| count.parse().unwrap())
}

const ACROSS: [&str; 2] = ["--across", "stones,thickness"];

/// Whether the drawn goods at so many thousandths of their prices are not dearer than `other`.
fn is_no_dearer(made: &Made, thousandths: u64) -> bool {
    made.ship_at("at", thousandths);
    let compared = made.json(&[&["compare", "at", "other"], &ACROSS[..]].concat()).unwrap();
    let offers = compared["groups"][0]["offers"].as_array().unwrap();
    let own = offers.iter().find(|one| one["shipment"] == "at").unwrap();
    own["rank"] == 1
}

/// All prices by one percentage against the same goods at other prices.
fn counters(made: &Made) {
    let name = made.name();
    let mut dice = Dice::new(made.seed + 7);
    let other = dice.from(700, 1_150);
    made.ship_at("other", other);
    // A coarse grid, as every step of it is costed; a fine one by hand.
    let step = if drawn() > 1 { 5 } else { 20 };
    let by = format!("{}.{} %", step / 10, step % 10);
    let args = ["counter", "drawn", "--against", "other", "--step", &by];
    let is_one_line = std::fs::read_to_string(made.path().join("shipments/drawn/shipment.toml"));
    if is_one_line.unwrap().matches("[[invoice.line]]").count() == 1 {
        return;
    }
    let page =
        made.json(&[&args[..], &ACROSS].concat()).unwrap_or_else(|why| panic!("{name}: {why}"));
    let percent = |what: &str| -> u64 {
        let text = trial(&page, what)["percent_of_quoted"].as_str().unwrap();
        let (whole, places) = text.split_once('.').unwrap_or((text, "0"));
        whole.parse::<u64>().unwrap() * 10 + places.parse::<u64>().unwrap()
    };
    let answer = percent("counter price");
    assert!(is_no_dearer(made, answer), "{name}: {answer} thousandths are dearer than {other}");
    assert!(!is_no_dearer(made, answer + step), "{name}: above {answer}, against {other}");
    // The same prices are not dearer, and goods are most of any cost.
    assert!(answer + step > other && answer < other + 2 * step, "{name}: {answer} for {other}");
    if drawn() > 1 {
        // Every step within a tenth below the answer, and it stays the highest.
        for below in (1..=100 / step).map(|steps| answer - steps * step).filter(|at| *at >= 500) {
            assert!(is_no_dearer(made, below), "{name}: at {below} below {answer}");
        }
    }
}

#[test]
fn a_counter_price_holds_in_every_made_up_workspace_and_one_step_more_does_not() {
    let few = [Shape::Parts, Shape::AnyTerms, Shape::Border];
    let shapes = if drawn() > 1 { &Shape::ALL[..] } else { &few };
    for shape in shapes {
        for seed in 0..drawn() {
            counters(&Made::new(*shape, seed));
        }
    }
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
    let last = if drawn() > 1 { 24 } else { 9 };
    let range = format!("bundles=3..{last}");
    let args = ["counter", name, "--against", name, "--against-way", "fob", "--over", &range];
    let page = json_of_any_answer(&tiny, &args);
    let mut winners: Vec<String> = Vec::new();
    let file = format!("shipments/{name}/shipment.toml");
    let written = std::fs::read_to_string(tiny.path().join(&file)).unwrap();
    for (number, count) in page["numbers"].as_array().unwrap().iter().zip(3..) {
        assert_eq!(number["bundles"], count);
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
    // What is bundled already has no other number of bundles.
    let plain = two_ways();
    let args = ["counter", "plain", "--against", "plain", "--against-way", "cif"];
    let output = run(plain.path(), &[&args[..], &["--over", "bundles=1..3"]].concat());
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("nominal offers of one line"), "{said}");
}
