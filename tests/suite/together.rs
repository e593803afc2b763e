//! Several shipments that compete for the same boxes: the money by hand, the choice against every way
//! to share, and the whole command.

use std::fmt::Write;

use crate::common::{Tiny, demo, json, run, stdout};
use quaystone::choose::{Costed, Refused, Together, estimate, together};
use quaystone::fault::{Report, render};
use quaystone::load::{Effort, Plan, Sure};
use quaystone::quantity::{Decimal, Money};
use quaystone::read;
use quaystone::trade::{Shipment, TableName, Tariffs};
use serde_json::Value;

/// A second yard, and 40' boxes to both: to Savannah a 20' box is 2,600 USD and a 40' box 3,960, to the
/// jetty 2,550 and 3,350. Either bears 19,958 kg of cargo, 200 kg of it dunnage.
const YARD: &str = r#"
[[yard]]
id = "jetty"
name = "Jetty yard (invented)"
country = "US"
port = "USCHS"
currency = "USD"
regime = "us"
lift = "5 t"
delivery-days = 3
source = "invented"
"#;

fn charge(keys: &str, name: &str, leg: &str, price: &str) -> String {
    format!(
        "[[charge]]\n{keys}\nname = \"{name}\"\nleg = \"{leg}\"\n{price}\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n"
    )
}

/// The small workspace with both yards.
fn workspace() -> Tiny {
    let tiny = Tiny::new();
    let box_of = |home: &str, kind: &str| format!("{home}\ncontainer = \"{kind}\"");
    let each = |amount: u32| format!("amount = \"{amount} USD\"\nper = \"container\"");
    let (savannah, jetty) = ("lane = \"TRIZM-USSAV\"", "lane = \"TRIZM-USCHS\"");
    let mut freight = String::from("\n");
    for (lane, kind, amount) in
        [(savannah, "40gp", 3_300), (jetty, "20gp", 2_100), (jetty, "40gp", 2_900)]
    {
        freight += &charge(&box_of(lane, kind), "ocean freight", "main carriage", &each(amount));
    }
    freight += &charge(jetty, "terminal handling", "destination terminal", &each(0));
    let (savannah, jetty) = ("yard = \"savannah\"", "yard = \"jetty\"");
    let mut drayage = String::from("\n");
    for (yard, kind, amount) in
        [(savannah, "40gp", 550), (jetty, "20gp", 450), (jetty, "40gp", 450)]
    {
        drayage += &charge(&box_of(yard, kind), "haulage", "on-carriage", &each(amount));
    }
    drayage += "[[limit]]\nyard = \"jetty\"\nname = \"road custom\"\ncargo = \"44000 lb\"\nkind = \"custom\"\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"\n";
    tiny.append("rates/freight.toml", &freight);
    tiny.append("rates/drayage.toml", &drayage);
    tiny.append("rates/yards.toml", YARD);
    let unloading = "amount = \"30 USD\"\nper = \"bundle\"";
    tiny.append("rates/fees.toml", &charge(jetty, "unloading", "unloading", unloading));
    tiny
}

/// Writes a shipment of seven slabs to the bundle, 1.8 m high, each bundle of so many cm and kg.
fn ship(tiny: &Tiny, name: &str, yard: &str, bundles: &[(u32, u32)], load: &str) {
    let plain = std::fs::read_to_string(demo().join("tests/tiny/shipments/plain/shipment.toml"));
    let text = plain.unwrap().replace("\"savannah\"", &format!("\"{yard}\""));
    tiny.write(&format!("shipments/{name}/shipment.toml"), &format!("{text}\n[load]\n{load}\n"));
    let mut list = String::from("slab,bundle,length (cm),height (cm),weighed mass (kg)\n");
    for (at, (length, mass)) in bundles.iter().enumerate() {
        for slab in 1..=7 {
            writeln!(list, "{at}-{slab},B{at},{length},180,{mass}").unwrap();
        }
    }
    tiny.write(&format!("shipments/{name}/packing.csv"), &list);
}

fn stock(kind: &str, count: u32, name: &str) -> String {
    format!("[[load.available]]\ntype = \"{kind}\"\ncount = {count}\nshared = \"{name}\"\n")
}

/// Reads shipments through the library.
fn read(tiny: &Tiny, names: &[&str]) -> (Vec<Shipment>, Tariffs) {
    let mut report = Report::new();
    let workspace = read::Workspace::find(tiny.path(), &mut report).unwrap();
    let tariffs = read::tariffs(&workspace, &mut report).unwrap();
    let one = |name: &&str| read::shipment(&workspace, *name, &tariffs, &mut report);
    let shipments: Result<Vec<Shipment>, _> = names.iter().map(one).collect();
    (shipments.unwrap_or_else(|_| panic!("{}", render(&report, false))), tariffs)
}

fn plan(shipments: &[Shipment], tariffs: &Tariffs) -> Result<Together, Refused> {
    plan_within(Effort::default(), shipments, tariffs)
}

fn plan_within(
    effort: Effort,
    shipments: &[Shipment],
    tariffs: &Tariffs,
) -> Result<Together, Refused> {
    let mut report = Report::new();
    let each: Vec<&Shipment> = shipments.iter().collect();
    let planned = together(&each, tariffs, effort, &mut report);
    planned.unwrap_or_else(|_| panic!("{}", render(&report, false)))
}

fn dollars(money: Money) -> String {
    money.amount().to_string()
}

/// Eight bundles of 4,500 kg: four to a box.
const EIGHT: [(u32, u32); 8] = [(280, 4_500); 8];

/// By hand, of each: 56 slabs of 5.04 m2 are 282.24 m2, at 40 EUR 11,289.60 EUR, at 1.10 goods of
/// 12,418.56 USD. It is entered at the certified 1.0846, as 12,245 USD: duty of 2.5 % 306.13, fees of
/// 0.3464 % and 0.125 % 42.42 and 15.31, the entry 150, unloading 240. Insurance is 0.30 % of 110 % of cost,
/// insurance and freight: 0.0033 / 0.9967 of goods and freight.
///
/// - Savannah in two 20' boxes: boxes 5,200, insurance on 16,418.56 54.36, landed 18,426.78;
/// - in a 20' and a 40' box: boxes 6,560, insurance on 17,718.56 58.66, landed 19,791.08;
/// - the jetty in two 20' boxes: boxes 5,100, insurance on 16,618.56 55.02, landed 18,327.44;
/// - in a 20' and a 40' box: boxes 5,900, insurance on 17,418.56 57.67, landed 19,130.09.
///
/// With three 20' boxes 18,426.78 + 19,130.09 = 37,556.87 is less than 19,791.08 + 18,327.44 = 38,118.52,
/// which is what serving the jetty first comes to.
#[test]
fn three_boxes_go_where_they_save_most() {
    let tiny = workspace();
    let load = stock("20gp", 3, "week 15");
    ship(&tiny, "jetty", "jetty", &EIGHT, &load);
    ship(&tiny, "sav", "savannah", &EIGHT, &load);
    let (shipments, tariffs) = read(&tiny, &["jetty", "sav"]);
    let planned = plan(&shipments, &tariffs).unwrap();
    let landed: Vec<String> = planned.loads.iter().map(|load| dollars(load.landed.total)).collect();
    assert_eq!(landed, ["19130.09", "18426.78"]);
    let sums = planned.sums.unwrap();
    assert_eq!(dollars(sums.landed), "37556.87");
    assert_eq!(dollars(sums.alone.landed), "36754.22");
    assert_eq!(
        (dollars(sums.cost), dollars(sums.lower_bound.unwrap())),
        ("11100.00".into(), "11100.00".into())
    );
    assert!(planned.sure.is_proven(), "{:?}", planned.sure);
    let [week] = &planned.stocks[..] else { panic!("one stock") };
    assert_eq!((&week.takes[..], &week.alone[..], week.left()), (&[1, 2][..], &[2, 2][..], 0));

    // With four there is nothing to share out, and each has what it has alone.
    for name in ["jetty", "sav"] {
        tiny.replace(&format!("shipments/{name}/shipment.toml"), "count = 3", "count = 4");
    }
    let (shipments, tariffs) = read(&tiny, &["jetty", "sav"]);
    let sums = plan(&shipments, &tariffs).unwrap().sums.unwrap();
    assert_eq!((sums.landed, dollars(sums.cost)), (sums.alone.landed, "10300.00".into()));
}

#[test]
fn of_equal_ways_the_first_named_has_the_larger_share() {
    let tiny = workspace();
    for name in ["one", "two"] {
        ship(&tiny, name, "savannah", &EIGHT, &stock("20gp", 3, "week 15"));
    }
    for names in [["one", "two"], ["two", "one"]] {
        let (shipments, tariffs) = read(&tiny, &names);
        assert_eq!(plan(&shipments, &tariffs).unwrap().stocks[0].takes, [2, 1]);
    }
}

#[test]
fn a_stock_may_be_of_one_forwarder() {
    // Three boxes of the cheaper forwarder for two shipments of two. A box by each would be 37 USD less
    // than two by the other, but needs a second bill of lading at 85: one of the three is left.
    let tiny = Tiny::of_demo("one-week-savannah");
    let file = |name: &str, file: &str| format!("shipments/{name}/{file}");
    let text = |name: &str| std::fs::read_to_string(tiny.path().join(name)).unwrap();
    let shipment = text(&file("one-week-savannah", "shipment.toml"));
    let by = "type = \"20gp\"\noffers = { freight = \"forwarder-220\" }";
    let shipment = shipment.replace("type = \"20gp\"", by);
    let list = text(&file("one-week-savannah", "packing.csv"));
    for name in ["one", "two"] {
        tiny.write(&file(name, "shipment.toml"), &shipment);
        tiny.write(&file(name, "packing.csv"), &list);
    }
    let (shipments, tariffs) = read(&tiny, &["one", "two"]);
    let planned = plan(&shipments, &tariffs).unwrap();
    let [stock] = &planned.stocks[..] else { panic!("one stock") };
    assert_eq!((&stock.takes[..], &stock.alone[..]), (&[2, 0][..], &[2, 2][..]));
    let by = |load: &Costed, offer: &str| {
        let variants = load.plan.boxes.iter().map(|one| &load.plan.variants[one.variant]);
        variants.filter(|one| one.offers.of(TableName::Freight) == Some(offer)).count()
    };
    let all =
        planned.loads.iter().map(|load| [by(load, "forwarder-220"), by(load, "forwarder-118")]);
    assert_eq!(all.collect::<Vec<_>>(), [[2, 0], [0, 2]]);
}

#[test]
fn a_load_that_is_given_counts_as_it_is() {
    let tiny = workspace();
    let load = stock("20gp", 3, "week 15");
    ship(&tiny, "jetty", "jetty", &EIGHT, &load);
    ship(&tiny, "sav", "savannah", &EIGHT, &load);
    let given = |label: &str, bundles: &str| {
        format!("[[container]]\ncontainer = \"{label}\"\ntype = \"20gp\"\nbundles = [{bundles}]\n")
    };
    let boxes = given("1", r#""B0", "B1", "B2", "B3""#) + &given("2", r#""B4", "B5", "B6", "B7""#);
    tiny.write("shipments/jetty/plan.toml", &boxes);
    let (shipments, tariffs) = read(&tiny, &["jetty", "sav"]);
    let planned = plan(&shipments, &tariffs).unwrap();
    // The jetty has its two boxes already, although it could do with one more easily than Savannah.
    assert_eq!(planned.stocks[0].takes, [2, 1]);
    assert_eq!(dollars(planned.sums.unwrap().landed), "38118.52");
    assert_eq!(planned.sure, Sure::Open("the load of jetty is given".to_owned()));

    // Two given loads that take more than there is are no plan.
    tiny.write("shipments/sav/plan.toml", &boxes);
    let (shipments, tariffs) = read(&tiny, &["jetty", "sav"]);
    let Err(Refused::Short(short)) = plan(&shipments, &tariffs) else { panic!("four of three") };
    assert_eq!((short.len(), &short[0].least[..]), (1, &[2, 2][..]));
}

/// The jetty and Savannah, eight bundles each, with three boxes between them.
fn week() -> Tiny {
    let tiny = workspace();
    let load = stock("20gp", 3, "week 15");
    ship(&tiny, "jetty", "jetty", &EIGHT, &load);
    ship(&tiny, "sav", "savannah", &EIGHT, &load);
    tiny
}

#[test]
fn what_is_kept_of_several_is_what_they_show_and_is_read_as_that_of_one() {
    let tiny = week();
    let drawing = tiny.path().join("week.svg");
    let freeze = ["load", "jetty", "sav", "--freeze", "--drawing", drawing.to_str().unwrap()];
    let planned = json(&tiny, &freeze);
    let svg = std::fs::read_to_string(&drawing).unwrap();
    let again = json(&tiny, &["load", "jetty", "sav"]);
    let known = "proven by the limits that are known";
    assert_eq!((&planned["proof"], &again["proof"]), (&known.into(), &"given".into()));
    for key in ["cost", "containers", "landed_total", "decision_total"] {
        assert_eq!(again[key], planned[key], "{key}");
    }
    for (at, (name, other)) in [("jetty", "sav"), ("sav", "jetty")].into_iter().enumerate() {
        let [planned, again] = [&planned, &again].map(|all| &all["shipments"][at]);
        let boxes = |all: &Value| all["containers"].as_array().unwrap().clone();
        assert_eq!(boxes(planned).len(), boxes(again).len());
        for (planned, again) in boxes(planned).iter().zip(&boxes(again)) {
            for key in ["type", "bundles", "gross_kg"] {
                assert_eq!(again[key], planned[key], "{name}: {key}");
            }
        }
        assert_eq!(svg.matches(&format!(">{name}, Container ")).count(), boxes(planned).len());
        let (proof, cost) = (&planned["proof"], &planned["cost"]);
        assert_eq!(
            again["kept"],
            serde_json::json!({"proof": proof, "cost": cost, "with": [other]})
        );
        // By itself it is what it is in the week: by hand above.
        let landed = dollars(tiny.cost(name).1.landed.total);
        assert_eq!(landed, if at == 0 { "19130.09" } else { "18426.78" });
        let text = stdout(tiny.path(), &["load", name]);
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let proof = proof.as_str().unwrap();
        let said = format!("planned with {other}, it was {proof} for its share of boxes");
        assert!(text.contains(&said), "{text}");
        // The other was planned with it: nobody needs to look whether it leaves enough of the stock.
        let with = format!("planned with {other} when the load was kept");
        assert!(text.contains(&with) && !text.contains("were not checked"), "{text}");
    }
    // Nothing is said of shares, as nobody chose them.
    let text = stdout(tiny.path(), &["load", "jetty", "sav"]);
    let chosen = ["Shares are chosen", "than with every stock"].map(|said| text.contains(said));
    assert!(text.contains("the loads are given") && chosen == [false; 2], "{text}");
    // The week is as it was after each is kept once more, and nothing is replaced unasked.
    let plan = |name: &str| {
        std::fs::read_to_string(tiny.path().join(format!("shipments/{name}/plan.toml"))).unwrap()
    };
    let kept = |text: String| text.split_once("[kept]").unwrap().1.to_owned();
    let before = ["jetty", "sav"].map(plan).map(kept);
    let unasked = run(tiny.path(), &freeze[..4]);
    assert_eq!(unasked.status.code(), Some(4), "{unasked:?}");
    stdout(tiny.path(), &["load", "sav", "jetty", "--freeze", "--force"]);
    assert_eq!(["jetty", "sav"].map(plan).map(kept), before);
}

#[test]
fn of_several_each_plan_is_kept_or_none() {
    let tiny = week();
    let plan = |name: &str| tiny.path().join(format!("shipments/{name}/plan.toml"));
    let freeze = |more: &[&str]| {
        let out = run(tiny.path(), &[&["load", "jetty", "sav", "--freeze"], more].concat());
        let said = String::from_utf8(out.stderr).unwrap();
        (out.status.code().unwrap(), plan("jetty").exists(), said)
    };
    // What is no plan is told with its file, and stays.
    let other = "title = \"no plan\"\n";
    tiny.write("shipments/sav/plan.toml", other);
    let (exit, there, said) = freeze(&["--force"]);
    assert_eq!((exit, there), (1, false), "{said}");
    assert!(said.contains("shipments/sav/plan.toml"), "{said}");
    assert_eq!(std::fs::read_to_string(plan("sav")).unwrap(), other);
    // Eight of 4,500 kg in one box are too heavy: the jetty's sound load is not kept either.
    let all = r#""B0", "B1", "B2", "B3", "B4", "B5", "B6", "B7""#;
    let heavy = format!("[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [{all}]\n");
    tiny.write("shipments/sav/plan.toml", &heavy);
    let (exit, there, said) = freeze(&["--force"]);
    assert_eq!((exit, there), (3, false), "{said}");
    assert!(said.contains("nothing is written"), "{said}");
    // The second cannot be replaced unasked.
    std::fs::remove_file(plan("sav")).unwrap();
    stdout(tiny.path(), &["load", "sav", "--freeze"]);
    let (exit, there, said) = freeze(&[]);
    assert_eq!((exit, there), (4, false), "{said}");
    assert!(said.contains("sav/plan.toml is there already"), "{said}");
}

/// A row of numbers that looks like chance and is the same everywhere.
struct Dice(u64);

impl Dice {
    fn below(&mut self, bound: u32) -> u32 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        u32::try_from(self.0 >> 33).unwrap() % bound
    }
}

/// The least sums over every way to share the stocks out: of landed totals, and of the boxes' bounds.
/// `of` has for each shipment what each of its shares comes to.
fn plainly(of: &[Vec<(Vec<u32>, [Decimal; 2])>], left: &[u32]) -> Option<[Decimal; 2]> {
    let Some((first, rest)) = of.split_first() else { return Some([Decimal::ZERO; 2]) };
    let mut least: Option<[Decimal; 2]> = None;
    for (share, own) in first {
        let after: Option<Vec<u32>> =
            left.iter().zip(share).map(|(left, own)| left.checked_sub(*own)).collect();
        let Some(others) = after.and_then(|after| plainly(rest, &after)) else { continue };
        let sums = [own[0] + others[0], own[1] + others[1]];
        let before = least.unwrap_or(sums);
        least = Some([before[0].min(sums[0]), before[1].min(sums[1])]);
    }
    least
}

/// Every share of the stocks with what it comes to, each planned from a shipment's own files as if no
/// one else were there.
fn shares(
    shipment: &Shipment,
    tariffs: &Tariffs,
    counts: [u32; 2],
) -> Vec<(Vec<u32>, [Decimal; 2])> {
    let mut all = Vec::new();
    for small in 0..=counts[0] {
        for any in 1..=counts[1] {
            let mut own = shipment.clone();
            own.load.shared.clear();
            own.load.available[0].count = small;
            own.load.most.as_mut().unwrap().value = any;
            let costed = estimate(&own, tariffs, Effort::default(), &mut Report::new());
            if let Ok(costed) = costed.unwrap() {
                let bound = costed.plan.lower_bound.unwrap();
                let figures = [costed.landed.total.amount(), bound.amount()];
                all.push((vec![small, any], figures));
            }
        }
    }
    all
}

fn boxes_of(plan: &Plan, kind: &str) -> usize {
    let is_of = |at: usize| plan.variants[at].container.id == kind;
    plan.boxes.iter().filter(|one| is_of(one.variant)).count()
}

#[test]
fn the_choice_is_the_least_of_all_ways_to_share() {
    let mut dice = Dice(20_260_411);
    let (mut loaded, mut refused, mut shared) = (0, 0, 0);
    for _ in 0..16 {
        let tiny = workspace();
        let counts = [dice.below(4), 1 + dice.below(5)];
        let names = &["a", "b", "c"][..2 + usize::try_from(dice.below(2)).unwrap()];
        let load = format!(
            "most-containers = {{ count = {}, shared = \"all\" }}\n{}",
            counts[1],
            stock("20gp", counts[0], "20'")
        );
        for name in names {
            let yard = ["savannah", "jetty"][usize::try_from(dice.below(2)).unwrap()];
            let bundles: Vec<(u32, u32)> =
                (0..=dice.below(7)).map(|_| (280, 2_500 + 100 * dice.below(25))).collect();
            ship(&tiny, name, yard, &bundles, &load);
        }
        let (shipments, tariffs) = read(&tiny, names);
        let of: Vec<_> = shipments.iter().map(|own| shares(own, &tariffs, counts)).collect();
        let expected = plainly(&of, &counts);
        match plan(&shipments, &tariffs) {
            Ok(planned) => {
                let sums = planned.sums.unwrap();
                let found = [sums.landed.amount(), sums.lower_bound.unwrap().amount()];
                assert_eq!(Some(found), expected);
                assert!(planned.sure.is_proven(), "{:?}", planned.sure);
                let plans = planned.loads.iter().map(|load| &load.plan);
                let small: usize = plans.clone().map(|plan| boxes_of(plan, "20gp")).sum();
                let any: usize = plans.map(|plan| plan.boxes.len()).sum();
                assert!(small <= usize::try_from(counts[0]).unwrap());
                assert!(any <= usize::try_from(counts[1]).unwrap());
                loaded += 1;
                shared += usize::from(sums.landed != sums.alone.landed);
            }
            Err(_) => {
                assert_eq!(expected, None);
                refused += 1;
            }
        }
    }
    // Some of each, or the test says little.
    assert!(loaded >= 4 && refused >= 2 && shared >= 2, "{loaded} {refused} {shared}");
}

#[test]
fn in_little_work_no_more_is_claimed_than_is_true() {
    let mut dice = Dice(7);
    let mut gaps = 0;
    for _ in 0..3 {
        let tiny = workspace();
        for (name, yard) in [("jetty", "jetty"), ("sav", "savannah")] {
            // Three boxes bear 59,274 kg: they do, if the right four stand in each.
            let mut bundles: Vec<(u32, u32)> =
                (0..11).map(|_| (270, 4_900 + dice.below(70))).collect();
            let rest = 59_150 - bundles.iter().map(|(_, mass)| mass).sum::<u32>();
            bundles.push((270, rest.min(5_000)));
            ship(&tiny, name, yard, &bundles, &stock("20gp", 4, "week 15"));
        }
        let (shipments, tariffs) = read(&tiny, &["jetty", "sav"]);
        let full = plan(&shipments, &tariffs).unwrap();
        let hasty = plan_within(Effort::of(1), &shipments, &tariffs).unwrap();
        let (full, proof, sums) = (full.sums.unwrap(), full.sure, hasty.sums.unwrap());
        assert!(sums.lower_bound.unwrap().amount() <= full.cost.amount());
        if proof.is_proven() {
            assert!(sums.landed.amount() >= full.landed.amount());
            assert!(!hasty.sure.is_proven() || sums.landed == full.landed);
        }
        gaps += usize::from(!hasty.sure.is_proven());
    }
    assert!(gaps > 0, "everything is proven even so");
}

#[test]
fn the_demo_shares_better_than_first_come_first_served() {
    let args = ["load", "one-week-savannah", "one-week-norfolk", "--as", "json"];
    let json: Value = serde_json::from_str(&stdout(&demo(), &args)).unwrap();
    let cents =
        |value: &Value| -> i64 { value.as_str().unwrap().replace('.', "").parse().unwrap() };
    let known = "proven by the limits that are known";
    assert_eq!((&json["proof"], &json["cost"]), (&known.into(), &json["lower_bound"]));
    let sums = json["sums"].as_array().unwrap();
    let landed: i64 = sums.iter().map(|sum| cents(&sum["landed_total"])).sum();
    assert_eq!(cents(&json["landed_total"]), landed);

    // Savannah first, and Norfolk with what is left: a 20' box and a 40' box.
    let first = Tiny::of_demo("one-week-savannah").cost("one-week-savannah").1;
    let rest = Tiny::of_demo("one-week-norfolk");
    rest.replace("shipments/one-week-norfolk/shipment.toml", "count = 3", "count = 1");
    let served = [first.landed.total, rest.cost("one-week-norfolk").1.landed.total];
    let served: i64 = served.iter().map(|total| total.minor().unwrap()).sum();
    assert!(landed < served, "{landed} {served}");
}

#[test]
fn what_is_shown_of_each_is_what_it_shows_alone() {
    // Without a stock that binds, each object is the one that its own command writes.
    let names = ["heavy-permit", "white-marble-rotterdam"];
    let one = |args: &[&str]| -> Value {
        serde_json::from_str(&stdout(&demo(), &[args, &["--as", "json"]].concat())).unwrap()
    };
    let both = one(&["load", names[0], names[1]]);
    for (at, name) in names.iter().enumerate() {
        assert_eq!(both["shipments"][at], one(&["load", name]));
    }
    // Books in dollars and euros are side by side, and in no sum.
    assert_eq!((&both["currency"], &both["landed_total"]), (&Value::Null, &Value::Null));
    assert_eq!(both["stocks"], Value::Array(Vec::new()));

    let table = |names: &[&str]| stdout(&demo(), &[&["load", "--as", "csv"], names].concat());
    let rows = |name: &str| {
        let mut rows = String::new();
        for line in table(&[name]).lines().skip(1) {
            writeln!(rows, "{name},{line}").unwrap();
        }
        rows
    };
    let both = table(&names);
    let (head, body) = both.split_once('\n').unwrap();
    assert!(head.starts_with("shipment,container,type"), "{head}");
    assert_eq!(body, rows(names[0]) + &rows(names[1]));
}

#[test]
fn several_are_shown_in_every_form() {
    let names = ["one-week-savannah", "one-week-norfolk"];
    for (form, sign) in [
        ("text", "Shared stock"),
        ("markdown", "Shared stock"),
        ("html", "Shared stock"),
        ("csv", "one-week-norfolk,"),
        ("json", "\"stocks\""),
    ] {
        let text = stdout(&demo(), &["load", names[0], names[1], "--as", form]);
        assert!(text.contains(sign), "{form}");
        if form == "text" {
            let wide = text.lines().find(|line| line.chars().count() > 100);
            assert_eq!(wide, None);
        }
    }
    let out = tempfile::tempdir().unwrap();
    let path = out.path().join("both.txt");
    let args = ["load", names[0], names[1], "--out", path.to_str().unwrap()];
    assert!(run(&demo(), &args).stdout.is_empty());
    assert!(std::fs::read_to_string(path).unwrap().starts_with("2 shipments loaded together"));
}
