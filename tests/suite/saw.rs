//! Blocks and the works that saw them: published counts, hand-worked bills, a second reading, faults in `tests/faults`.

use std::fs;

use proptest::prelude::*;
use quaystone::fault::{At, Source};
use quaystone::quantity::{
    BlockSize, Decimal, Length, Mass, Money, Percent, Price, Rounding, Written, ratio,
};
use quaystone::trade::{
    Block, BlockBill, CannotSaw, Cut, QuarryAllowance, SawMethod, Sawing, Through, Window, WorkStep,
};
use serde_json::{Value, json};

use crate::common::{Tiny, demo, run, stdout};

fn at<T>(value: T) -> At<T> {
    At { value, place: Source::new("a", String::new()).place(0..0) }
}

fn read<T: Written + std::fmt::Debug>(text: &str) -> T {
    T::read(text).unwrap()
}

fn mm(figure: &str) -> Length {
    read(&format!("{figure} mm"))
}

/// T-43: a block 1.8 m wide in slabs of 20 and 30 mm, by kerfs of 5, 6, 8 and 10 mm.
#[test]
fn a_block_of_one_metre_eighty_makes_as_many_slabs_as_published() {
    for (thickness, published) in [("20", [72, 69, 64, 60]), ("30", [51, 50, 47, 45])] {
        let made = ["5", "6", "8", "10"].map(|kerf| mm("1800").plates(mm(thickness), mm(kerf)));
        assert_eq!(made, published, "{thickness} mm");
    }
}

/// T-44: m2 from a m3, the ends of the block left out: 100 m of it make a hundredfold, give or take a slab.
#[test]
fn square_metres_from_a_cubic_metre_tend_to_the_published_figures() {
    for (thickness, hundredths) in
        [("20", [4000, 3846, 3571, 3333]), ("30", [2857, 2778, 2632, 2500])]
    {
        for (kerf, published) in ["5", "6", "8", "10"].into_iter().zip(hundredths) {
            let made = mm("100000").plates(mm(thickness), mm(kerf));
            assert!((made - published).abs() <= 1, "{thickness} mm, {kerf} mm: {made}");
        }
    }
}

/// T-45: slabs of 20 mm turn 20 to 25 % of a block into slurry by kerfs of 5 and 6 mm, as a study of works found,
/// and k / (t + k) of it by any kerf: 20, 23.1 and 28.6 % by 5, 6 and 8 mm.
#[test]
fn a_kerf_turns_as_much_of_a_block_into_slurry_as_published() {
    for (kerf, published) in [(5, 200), (6, 231), (8, 286)] {
        // A block of 100 m leaves no end to speak of.
        let cuts = mm("100000").plates(mm("20"), mm(&kerf.to_string())) - 1;
        let thousandths = cuts * kerf / 100;
        assert!((thousandths - published).abs() <= 1, "{kerf} mm: {thousandths}");
        assert_eq!((200..=250).contains(&published), kerf < 8);
    }
}

/// Two saws without loss, at 9.00 and 11.50 USD/m2, and a third that is dearer and wastes more.
const SAWS: &str = "\
[[quote]]
offer = \"works-1\"
valid = \"2026-01-01..2026-12-31\"
source = \"invented\"
widest = \"2 m\"
longest = \"3.5 m\"
most-slabs = 90
method = [
    { id = \"thick\", kerf = \"10 mm\", price = \"9.00 USD/m2\" },
    { id = \"thin\", kerf = \"6 mm\", price = \"11.50 USD/m2\" },
    { id = \"like thin\", kerf = \"6 mm\", price = \"12.00 USD/m2\" },
    { id = \"at least\", kerf = \"6 mm\", price = \"1.00 USD/m2\", least = \"6000.00 USD\" },
]
step = [{ name = \"polish\", price = \"6.00 USD/m2\", loss = \"10 %\" }]
";

/// A block of 2.9 x 1.9 x 1.8 m at 1,000 USD/m3, sawn through its 1.8 m.
fn workspace(method: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.write("rates/sawing.toml", SAWS).write(
        "shipments/block/shipment.toml",
        &format!(
            "\
to = \"savannah\"
dates = {{ quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }}
[[invoice]]
supplier = \"Quarry Inkwell (invented)\"
number = \"Q-1\"
term = \"EXW quarry\"
price-valid = \"2026-03-01..2026-04-15\"
control = 2026-03-20
[[invoice.block]]
id = \"B-1\"
size = \"2.9 x 1.9 x 1.8 m\"
price = \"1000 USD/m3\"
[[invoice]]
supplier = \"Works Blotter (invented)\"
number = \"W-1\"
term = \"FOB TRIZM\"
price-valid = \"2026-03-01..2026-04-15\"
[[invoice.line]]
id = \"A\"
stone = \"chalk\"
finish = \"sawn\"
thickness = \"20 mm\"
sawn = {{ block = \"B-1\", through = \"height\", method = \"{method}\" }}
"
        ),
    );
    tiny
}

fn told(tiny: &Tiny, args: &[&str]) -> Value {
    serde_json::from_str(&stdout(tiny.path(), &[args, &["--as", "json"]].concat())).unwrap()
}

/// By hand: 60 slabs of 5.51 m2 from 9.918 m3 at 1,000 USD are 9,918 / 330.6 = 30.00 USD/m2 with a kerf of 10 mm;
/// 69 are 9,918 / 380.19 = 26.09 with 6 mm.
#[test]
fn the_block_worked_by_hand_costs_thirty_a_square_metre_with_a_wide_kerf_and_less_with_a_thin_one()
{
    let made = told(&workspace("thick"), &["saw", "block"]);
    let ways = &made["blocks"][0]["methods"];
    let of = |at: usize| {
        let way = &ways[at];
        json!([way["slabs"], way["block_per_m2"], way["usable_m2"]])
    };
    assert_eq!(of(0), json!([60, "30.0000", "330.6000"]));
    assert_eq!(of(1), json!([69, "26.0870", "380.1900"]));
}

/// By hand. Works: 330.6 m2 x 9.00 = 2,975.40; 380.19 x 11.50 = 4,372.185. The block breaks even at
/// (4,372.185 x 330.6 - 2,975.40 x 380.19) / (9.918 x (380.19 - 330.6)) = 314,227.035 / 491.83362 = 638.8889 USD/m3.
/// At 1,000 USD/m3 the wide kerf costs 39.00 a m2; 39.00 x 380.19 - 9,918 = 4,909.41 for 380.19 m2 are 12.9130 a m2
/// of sawing by the thin one.
#[test]
fn two_methods_break_even_at_the_prices_worked_by_hand() {
    let tiny = workspace("thick");
    let made = told(&tiny, &["saw", "block"]);
    let even = &made["blocks"][0]["methods"][1]["break_even"];
    assert_eq!(even["block_price"], "638.8889");
    assert_eq!(even["sawing_price"], "12.9130");
    // At the first of them both cost the same.
    tiny.replace("shipments/block/shipment.toml", "1000 USD/m3", "638.88888889 USD/m3");
    let made = told(&tiny, &["saw", "block"]);
    let per = |at: usize| made["blocks"][0]["methods"][at]["total_per_m2"].clone();
    assert_eq!(per(0), per(1));
}

/// Two saws with one kerf and two prices: no price of the block makes them alike. A least charge of 6,000 USD is more
/// than sawing may cost.
#[test]
fn methods_that_never_break_even_say_so() {
    let made = told(&workspace("thin"), &["saw", "block"]);
    let even = |at: usize| made["blocks"][0]["methods"][at]["break_even"].clone();
    assert_eq!([&even(2)["block_price"], &even(3)["sawing_price"]], [&Value::Null, &Value::Null]);
    assert_eq!(even(2)["sawing_price"], "11.5000");
    let page = stdout(workspace("thin").path(), &["saw", "block"]);
    assert!(page.contains("never"), "{page}");
}

/// By hand: the block 9,918.00 USD, sawing 330.6 m2 x 9.00 = 2,975.40 USD, 12,893.40 in all; all of it is entered,
/// in whole dollars.
#[test]
fn a_block_and_its_works_are_two_invoices_and_both_are_in_the_customs_value() {
    let tiny = workspace("thick");
    let cost = told(&tiny, &["cost", "block"]);
    let goods: Vec<&Value> =
        cost["charges"].as_array().unwrap().iter().filter(|one| one["leg"] == "goods").collect();
    let amounts: Vec<&str> = goods.iter().map(|one| one["amount"].as_str().unwrap()).collect();
    assert_eq!(amounts, ["9918.00", "2975.40"]);
    let sheet = told(&tiny, &["worksheet", "block"]);
    assert!(sheet.to_string().contains("12893.00"), "{sheet}");
    let page = stdout(tiny.path(), &["worksheet", "block"]);
    assert!(page.contains("Q-1, Quarry Inkwell") && page.contains("W-1, Works Blotter"), "{page}");
    // Each in its own currency, paid on its own day.
    let cash = stdout(tiny.path(), &["cash", "block"]);
    assert!(cash.contains("due 2026-03-20") && cash.contains("9,918.00 USD"), "{cash}");
    // What slabs bear adds up to the bills.
    let (_, costed) = tiny.cost("block");
    let landed = &costed.landed;
    let borne = landed.charges.iter().enumerate().filter(|(_, charge)| charge.goods_of.is_some());
    let borne = borne.map(|(at, charge)| {
        let slabs = 0..landed.sets.len(charge.scope.set);
        let sum: i64 = slabs.map(|slab| landed.shares.of_charge(at, slab).minor).sum();
        (sum, Decimal::from(sum) == cents(charge.book()))
    });
    assert_eq!(borne.collect::<Vec<_>>(), [(991_800, true), (297_540, true)]);
}

/// By hand: at 700 USD/m3 the block is 9.918 x 700 = 6,942.60 USD, 2,975.40 less.
#[test]
fn the_price_of_a_block_moves_by_its_own_unit() {
    let tiny = workspace("thick");
    let change = ["what-if", "block", "--set", "price of B-1 = 700 USD/m3", "--footing", "gross"];
    let cases = told(&tiny, &change)["cases"].clone();
    let written = told(&tiny, &["cost", "block"]);
    tiny.replace("shipments/block/shipment.toml", "1000 USD/m3", "700 USD/m3");
    let cheaper = told(&tiny, &["cost", "block"]);
    assert_eq!(cheaper["charges"][0]["amount"], "6942.60");
    assert_eq!(cases[0]["costs"][0]["landed"], written["total"]);
    assert_eq!(cases[1]["costs"][0]["landed"], cheaper["total"]);
    let explained = stdout(tiny.path(), &["explain", "block", "A-B1-1", "goods"]);
    assert!(explained.contains("x 700 USD/m3"), "{explained}");
}

/// A bill of lading has the slabs of the works; the quarry's invoice travels on none.
#[test]
fn a_bill_of_lading_lists_the_works_and_not_the_quarry() {
    let tiny = workspace("thick");
    let bill = "[[bill]]\nnumber = \"BL-1\"\ninvoices = [\"W-1\"]\n";
    tiny.append("shipments/block/shipment.toml", bill);
    assert_eq!(told(&tiny, &["cost", "block"])["charges"][0]["amount"], "9918.00");
}

/// Once the works have sent their list, its slabs share both bills: 58 came of the block, not 60.
#[test]
fn the_list_of_the_works_takes_the_place_of_the_slabs_that_were_reckoned() {
    let tiny = workspace("thick");
    let rows = (1..=58).map(|slab| format!("S{slab},W{},B-1,290,190\n", (slab - 1) / 10 + 1));
    let list: String = rows.collect();
    let list = format!("slab,bundle,block,length (cm),height (cm)\n{list}");
    tiny.write("shipments/block/packing.csv", &list);
    let (shipment, costed) = tiny.cost("block");
    assert!(!shipment.is_nominal());
    assert_eq!(shipment.slabs.len(), 58);
    let goods = costed.landed.charges.iter().filter(|charge| charge.goods_of.is_some());
    let amounts: Vec<Decimal> = goods.map(|charge| cents(charge.amount())).collect();
    assert_eq!(amounts, [Decimal::from(991_800), Decimal::from(297_540)]);
    // The quarry has no slabs to be written to about.
    let letter = stdout(tiny.path(), &["letter", "block"]);
    assert!(letter.contains("Works Blotter") && !letter.contains("Quarry Inkwell"), "{letter}");
}

/// By hand: 60 slabs polished, 330.6 m2 x 6.00 = 1,983.60 USD for all of them; one in ten breaks, 54 are left and have
/// paid for 60.
#[test]
fn a_slab_that_breaks_has_paid_for_the_steps_before_it() {
    let tiny = workspace("thick");
    tiny.replace(
        "shipments/block/shipment.toml",
        "method = \"thick\"",
        "method = \"thick\", steps = [\"polish\"]",
    );
    let made = told(&tiny, &["saw", "block"]);
    let way = &made["blocks"][0]["methods"][0];
    assert_eq!(json!([way["slabs"], way["usable_m2"]]), json!([54, "297.5400"]));
    assert_eq!(way["steps"][1]["amount"], "1983.60");
    // (9,918.00 + 2,975.40 + 1,983.60) / 297.54 m2 = 50.0000
    assert_eq!(way["total_per_m2"], "50.0000");
}

/// A block is held against slabs like any two offers, and its boxes are not filled with slabs that it does not make.
#[test]
fn a_block_offer_is_compared_with_slabs() {
    let page = stdout(&demo(), &["compare", "white-marble-block", "white-marble-forty-net"]);
    assert!(page.contains("Quarry Teapot (invented), Works"), "{page}");
    let filled = page.split("boxes full (nominal)").nth(1).unwrap_or("");
    assert!(!filled.contains("white-marble-block             "), "{page}");
    let none = run(&demo(), &["saw", "white-marble-spring"]);
    assert_eq!(none.status.code(), Some(2));
}

fn step(text: &Value, name: &str) -> WorkStep {
    let text_of = |key: &str| text[key].as_str().unwrap();
    WorkStep {
        name: name.to_owned(),
        offer: None,
        price: at(read(&format!("{} USD/{}", text_of("price"), text_of("per")))),
        least: text["least"].as_str().map(|least| at(read(&format!("{least} USD")))),
        loss: read(&format!("{} %", text_of("loss"))),
        valid: read::<Window>("2026-01-01.."),
        source: String::new(),
        place: at(()).place,
    }
}

/// A block of the second reading.
fn sawing(case: &Value) -> Sawing {
    let (block, saw) = (&case["block"], &case["saw"]);
    let sides = |list: &Value| -> Option<BlockSize> {
        let all: Vec<&str> = list.as_array()?.iter().filter_map(Value::as_str).collect();
        Some(read(&format!("{} mm", all.join(" x "))))
    };
    let percent = |text: &Value| text.as_str().map(|text| read::<Percent>(&format!("{text} %")));
    let by_sides = sides(&block["off_sides"]).map(QuarryAllowance::Sides);
    let allowance = by_sides.or(percent(&block["off_percent"]).map(QuarryAllowance::Percent));
    let rounding = match block["rounding"].as_str().unwrap() {
        "down" => Rounding::Down,
        "up" => Rounding::Up,
        _ => Rounding::Nearest,
    };
    let places = block["places"].as_u64().map(|places| u32::try_from(places).unwrap());
    let weighed = block["weighed_kg"].as_str();
    let bill = match weighed {
        Some(kg) => BlockBill::Weighed(read::<Mass>(&format!("{kg} kg"))),
        None => BlockBill::Volume { allowance, places, rounding },
    };
    let per = if weighed.is_some() { "t" } else { "m3" };
    let through = Through::ALL.into_iter().find(|(_, word)| case["through"] == *word).unwrap().0;
    Sawing {
        block: Block {
            id: "B".to_owned(),
            size: at(sides(&block["sides"]).unwrap()),
            bill,
            price: at(read::<Price>(&format!("{} USD/{per}", block["price"].as_str().unwrap()))),
        },
        through: at(through),
        squaring: sides(&case["squaring"]),
        outer_is_waste: case["outer_is_waste"].as_bool().unwrap(),
        method: SawMethod {
            step: step(saw, "saw"),
            kerf: mm(saw["kerf"].as_str().unwrap()),
            widest: mm(saw["widest"].as_str().unwrap()),
            longest: mm(saw["longest"].as_str().unwrap()),
            most_slabs: u32::try_from(saw["most"].as_u64().unwrap()).unwrap(),
        },
        steps: case["steps"].as_array().unwrap().iter().map(|one| step(one, "step")).collect(),
        thickness: mm(case["thickness"].as_str().unwrap()),
    }
}

fn cents(money: Money) -> Decimal {
    (money.amount() * Decimal::ONE_HUNDRED).normalize()
}

/// What the program makes of a block, in the words of the second reading.
fn reading(cut: Result<Cut, CannotSaw>) -> Value {
    let cut = match cut {
        Ok(cut) => cut,
        Err(cannot) => {
            let word = match cannot {
                CannotSaw::Squared => "squared",
                CannotSaw::Thin(_) => "thin",
                CannotSaw::Wide(..) => "wide",
                CannotSaw::Long(..) => "long",
                CannotSaw::AllLost => "lost",
                CannotSaw::Overflow(overflow) => panic!("{overflow}"),
            };
            return json!({ "refused": word });
        }
    };
    let whole = |figure: Decimal| -> i64 { figure.normalize().to_string().parse().unwrap() };
    let tenths = |side: Length| whole(side.to_mm(1) * Decimal::TEN);
    let billed = ratio(cut.billed.figure, Decimal::ONE, 9).unwrap();
    let goes_in =
        cut.steps.iter().map(|one| whole(one.quantity(4).unwrap() * Decimal::from(10_000)));
    json!({
        "sawn": cut.sawn,
        "passes": cut.passes,
        "slabs": cut.slabs,
        "face_tenths": [tenths(cut.size.length), tenths(cut.size.height)],
        "billed_billionths": whole(billed * Decimal::from(1_000_000_000)),
        "block_cents": whole(cents(cut.block_amount)),
        "step_cents": cut.steps.iter().map(|one| whole(cents(one.amount))).collect::<Vec<_>>(),
        "goes_in_ten_thousandths": goes_in.collect::<Vec<_>>(),
    })
}

/// `tests/oracle/saw.py` reads the rules a second time, in fractions, counting slabs one by one.
#[test]
fn three_hundred_blocks_come_out_as_in_a_second_reading() {
    let text = fs::read_to_string(demo().join("tests/oracle/saw.json")).unwrap();
    let cases: Vec<Value> = serde_json::from_str(&text).unwrap();
    assert!(cases.len() >= 300);
    for case in &cases {
        assert_eq!(reading(sawing(case).cut()), case["expected"], "{case}");
    }
    assert!(cases.iter().filter(|case| case["expected"]["slabs"].is_u64()).count() > 150);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]
    /// No more stone comes out than the geometry has: n slabs and n - 1 kerfs fit into the side.
    #[test]
    fn recovery_is_never_above_the_geometry(
        side in 20u32..21_000, thickness in 2u32..500, kerf in 1u32..300,
    ) {
        let tenths = |figure: u32| Length::mm(Decimal::new(figure.into(), 1)).unwrap();
        let made = tenths(side).plates(tenths(thickness * 10), tenths(kerf));
        let (side, thickness, kerf) = (i64::from(side), i64::from(thickness) * 10, i64::from(kerf));
        prop_assert!(made == 0 || made * thickness + (made - 1) * kerf <= side);
        prop_assert!((made + 1) * thickness + made * kerf > side);
    }
}

/// Slabs, areas, recovery, cost per m2 and both prices at which the second method breaks even, in every form.
#[test]
fn every_form_of_saw_holds_its_figures() {
    let made: Value =
        serde_json::from_str(&stdout(&demo(), &["saw", "white-marble-block", "--as", "json"]))
            .unwrap();
    let ways = made["blocks"][0]["methods"].as_array().unwrap();
    let figures = ways.iter().filter(|way| way["refused"].is_null()).flat_map(|way| {
        let even = &way["break_even"];
        let own = [&way["recovery_percent"], &way["total_per_m2"], &even["block_price"]];
        own.map(|one| one.as_str().unwrap_or_default().to_owned()).into_iter().chain([
            way["slabs"].to_string(),
            even["sawing_price"].as_str().unwrap_or_default().to_owned(),
        ])
    });
    let figures: Vec<String> = figures.collect();
    for form in ["text", "markdown", "html", "csv"] {
        let page = stdout(&demo(), &["saw", "white-marble-block", "--as", form, "--width", "400"]);
        for figure in &figures {
            assert!(page.replace(',', "").contains(&figure.replace(',', "")), "{form}: {figure}");
        }
    }
}

#[test]
fn a_page_in_feet_has_the_block_in_cubic_feet() {
    let page = stdout(&demo(), &["saw", "white-marble-block", "--units", "us"]);
    // 2.9 x 1.9 x 1.8 m are 9.918 m3, of 0.028316846592 m3 a foot; 9.29 m3 are billed: 328.073 ft3.
    for said in [
        "350.251 ft3 gross",
        "10.21 gross, 9.52 usable, of the gross block",
        "10.90 gross, 10.16 usable, of what",
    ] {
        assert!(page.contains(said), "{said}: {page}");
    }
    assert!(page.contains("ft2 per ft3") && !page.contains("ft2 per m3"), "{page}");
    assert!(page.contains("billed       9.29 m3 at 620.00 USD/m3"), "the bill's own unit: {page}");
}
