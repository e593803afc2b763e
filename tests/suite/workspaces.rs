//! What holds in every workspace, on made-up ones, shape by shape.
//!
//! What is known to fail stands in [`KNOWN`] with its reason. The list only gets shorter: a shape
//! that passes must leave it.

use crate::common::drawn;
use crate::random::{Dice, Made, Shape, WAY};
use serde_json::Value;

/// Shapes that fail a property today, and what is wrong.
const KNOWN: &[(&str, Shape, &str)] = &[];

/// Holds a property against workspaces of every shape, and the list of what is known against what was
/// found.
fn holds(property: &str, shapes: &[Shape], check: impl Fn(&Made) -> Result<(), String> + Sync) {
    let failed = |shape: Shape| {
        (0..drawn(2)).find_map(|seed| {
            let made = Made::new(shape, seed);
            check(&made).err().map(|why| format!("{}: {why}", made.name()))
        })
    };
    let mut wrong = Vec::new();
    let half = shapes.len().div_ceil(2);
    let found: Vec<Option<String>> = std::thread::scope(|scope| {
        let parts: Vec<_> = shapes
            .chunks(half)
            .map(|part| scope.spawn(|| part.iter().map(|shape| failed(*shape)).collect::<Vec<_>>()))
            .collect();
        parts.into_iter().flat_map(|part| part.join().unwrap()).collect()
    });
    for (shape, found) in shapes.iter().zip(found) {
        let known = KNOWN.iter().find(|known| known.0 == property && known.1 == *shape);
        match (known, found) {
            (None, Some(why)) => wrong.push(why),
            (Some((.., what)), None) => {
                wrong.push(format!("{shape:?} passes now; take \"{what}\" out of KNOWN"));
            }
            _ => {}
        }
    }
    assert!(wrong.is_empty(), "{property}:\n{}", wrong.join("\n"));
}

fn text<'a>(value: &'a Value, key: &str) -> &'a str {
    value[key].as_str().unwrap_or("")
}

fn list<'a>(value: &'a Value, key: &str) -> &'a [Value] {
    value[key].as_array().map_or(&[], Vec::as_slice)
}

/// An amount with two decimals as whole cents.
fn cents(value: &Value, key: &str) -> i64 {
    text(value, key).replace('.', "").parse().unwrap_or_else(|_| panic!("{key} in {value}"))
}

fn must(holds: bool, why: impl FnOnce() -> String) -> Result<(), String> {
    if holds { Ok(()) } else { Err(why()) }
}

/// What a plan counts for its boxes is what `cost` bills by the box, and the bound is not above it.
fn counted_is_billed(made: &Made) -> Result<(), String> {
    let load = made.drawn("load")?;
    let cost = made.drawn("cost")?;
    let parts = || list(&load, "containers").iter().flat_map(|one| list(one, "cost_parts"));
    for name in &made.boxed {
        // A tier is a part of its own: "heavy box, 0 t..11 t".
        let is_own = |part: &str| part.split(", ").next() == Some(name);
        let counted: i64 = parts()
            .filter(|part| is_own(text(part, "name")))
            .map(|part| cents(part, "amount"))
            .sum();
        let own = |charge: &&Value| {
            text(charge, "name") == name && text(charge, "treatment") != "recoverable"
        };
        let billed: i64 = list(&cost, "charges")
            .iter()
            .filter(own)
            .map(|charge| cents(charge, "book_amount"))
            .sum();
        must(counted == billed, || format!("{name}: counted {counted}, billed {billed}"))?;
    }
    let sum: i64 = parts().map(|part| cents(part, "amount")).sum();
    let (whole, bound) = (cents(&load, "cost"), cents(&load, "lower_bound"));
    must(sum == whole, || format!("parts {sum}, plan {whole}"))?;
    must(bound <= whole, || format!("bound {bound}, plan {whole}"))?;
    let is_proven = text(&load, "proof") == "proven";
    must(!is_proven || bound == whole, || format!("proven at {bound} with {whole}"))
}

#[test]
fn what_a_plan_counts_is_what_is_billed_for_its_boxes() {
    holds("counted", &Shape::ALL, counted_is_billed);
}

/// A row for one type of box that counts something else serves the goods in such boxes, or is a fault.
#[test]
fn a_row_for_one_type_of_box_never_vanishes() {
    holds("vanishes", &[Shape::CountedOtherwise], |made| {
        let Ok(load) = made.drawn("load") else { return Ok(()) };
        let row = std::fs::read_to_string(made.path().join("rates/drayage.toml")).unwrap();
        let (_, row) = row.split_once("\"handling of one type\"").unwrap();
        let asked = if row.contains("\"20gp\"") { "20gp" } else { "40gp" };
        let serves = list(&load, "containers").iter().any(|one| text(one, "type") == asked);
        let cost = made.drawn("cost")?;
        let is_billed =
            list(&cost, "charges").iter().any(|one| text(one, "name") == "handling of one type");
        must(serves == is_billed, || format!("in such a box {serves}, billed {is_billed}"))
    });
}

/// Where both types of box may be had, the choice lands no dearer than either type alone.
fn choice_is_least(made: &Made) -> Result<(), String> {
    let free = made.drawn("cost")?;
    let is_proven = text(&made.drawn("load")?, "proof") == "proven";
    for kind in ["20gp", "40gp"] {
        made.ship(kind, &format!("containers = [\"{kind}\"]"));
        let pinned = made.json(&["cost", kind])?;
        let (free, pinned) = (cents(&free, "decision_total"), cents(&pinned, "decision_total"));
        // The premium and each duty are rounded once more than the boxes are.
        let slack = 5;
        must(!is_proven || free <= pinned + slack, || {
            format!("{free} of both types, {pinned} by {kind} alone")
        })?;
    }
    Ok(())
}

#[test]
fn a_proven_choice_of_boxes_lands_no_dearer_than_one_type_alone() {
    holds("least", &Shape::ALL, choice_is_least);
}

/// Sums to the cent, whatever the shape.
fn sums_foot(made: &Made) -> Result<(), String> {
    let cost = made.drawn("cost")?;
    let total = cents(&cost, "total");
    let slabs: i64 = list(&cost, "slabs").iter().map(|slab| cents(slab, "cost")).sum();
    must(slabs == total, || format!("slabs {slabs}, total {total}"))?;
    let of = |kinds: &[&str]| -> i64 {
        let own = |charge: &&Value| kinds.contains(&text(charge, "treatment"));
        list(&cost, "charges").iter().filter(own).map(|charge| cents(charge, "book_amount")).sum()
    };
    must(of(&["stock"]) == total, || "stock charges and total".to_owned())?;
    let decision = cents(&cost, "decision_total");
    must(of(&["stock", "period", "notional"]) == decision, || "decision".to_owned())?;
    for slab in list(&cost, "slabs") {
        let own: i64 = list(slab, "charges").iter().map(|share| cents(share, "amount")).sum();
        must(own == cents(slab, "cost"), || format!("slab {}", text(slab, "slab")))?;
    }
    Ok(())
}

#[test]
fn every_made_up_workspace_foots() {
    holds("foots", &Shape::ALL, sums_foot);
}

/// A policy that moves a charge between stock and period changes no choice.
fn books_change_no_choice(made: &Made) -> Result<(), String> {
    let before = made.drawn("cost")?;
    let chosen = |load: &Value| {
        let boxes = list(load, "containers").iter().map(|one| {
            let bundles = list(one, "bundles").iter().map(|one| text(one, "bundle"));
            format!("{} {} {:?}", text(one, "type"), one["offers"], bundles.collect::<Vec<_>>())
        });
        (load["offers"].to_string(), boxes.collect::<Vec<_>>().join("\n"))
    };
    let names = ["ocean freight", "haulage", "document fee", "unloading"];
    let name = Dice::new(made.seed).of(&names);
    if !list(&before, "charges").iter().any(|charge| text(charge, "name") == name) {
        return Ok(());
    }
    let policy = "[[policy]]\nreason = \"made up\"\ntreatment = \"period\"";
    made.ship_more("moved", &format!("{policy}\ncharge = \"{name}\"\n"));
    let after = made.json(&["cost", "moved"])?;
    let (was, is) = (cents(&before, "decision_total"), cents(&after, "decision_total"));
    must(was == is, || format!("{name} expensed: decision {was}, then {is}"))?;
    let (was, is) = (chosen(&made.drawn("load")?), chosen(&made.json(&["load", "moved"])?));
    must(was == is, || format!("{name} expensed: {was:?}, then {is:?}"))
}

#[test]
fn what_is_expensed_changes_no_choice() {
    let shapes = [Shape::Parts, Shape::AnyTerms, Shape::Forwarders, Shape::Entries, Shape::Border];
    holds("expensed", &shapes, books_change_no_choice);
}

/// A figure with up to six decimals in millionths.
fn millionths(value: &Value, key: &str) -> i64 {
    let figure = text(value, key);
    let (whole, places) = figure.split_once('.').unwrap_or((figure, ""));
    format!("{whole}{places:0<6}").parse().unwrap_or_else(|_| panic!("{key} in {value}"))
}

/// The lines of a worksheet add up to its sums.
fn worksheet_foots(made: &Made) -> Result<(), String> {
    let sheet = made.drawn("worksheet")?;
    for entry in list(&sheet, "entries") {
        let name = text(entry, "entry");
        let lines = list(entry, "lines");
        for line in lines {
            let usd = list(line, "parts").iter().all(|part| text(part, "currency") == "USD");
            let parts: i64 =
                list(line, "parts").iter().map(|part| millionths(part, "amount")).sum();
            let exact = millionths(line, "exact");
            // A part is shown to six places.
            must(!usd || (parts - exact).abs() <= 20, || {
                format!("{name}: {parts}, value {exact}")
            })?;
            let off = exact - millionths(line, "entered");
            must(off.abs() <= 5_000, || format!("{name}: {exact} entered {off} off"))?;
        }
        let entered: i64 = lines.iter().map(|line| cents(line, "entered")).sum();
        must(entered == cents(entry, "entered"), || format!("{name}: entered"))?;
        let layers = lines.iter().flat_map(|line| list(line, "layers"));
        let duty: i64 = layers.map(|layer| cents(layer, "amount")).sum();
        must(duty == cents(entry, "duty"), || format!("{name}: duty"))?;
        let levies: i64 = list(entry, "levies").iter().map(|levy| cents(levy, "amount")).sum();
        let borne = cents(entry, "fees") + cents(entry, "recovered");
        must(levies == borne, || format!("{name}: levies {levies}, fees {borne}"))?;
        must(duty + levies == cents(entry, "cash"), || format!("{name}: cash"))?;
    }
    Ok(())
}

#[test]
fn the_lines_of_a_worksheet_add_up() {
    let shapes = [&Shape::ALL[..], &Shape::DELIVERED].concat();
    holds("worksheet", &shapes, worksheet_foots);
}

/// Value, duties and fees are the price delivered duty paid: what the worksheet takes out of the price
/// is what it levies.
fn price_holds_its_duty(made: &Made) -> Result<(), String> {
    let sheet = made.drawn("worksheet")?;
    for entry in list(&sheet, "entries").iter().filter(|entry| entry["by_seller"] == true) {
        let lines = list(entry, "lines");
        let parts = || lines.iter().flat_map(|line| list(line, "parts"));
        let inside = parts().filter(|part| text(part, "name").starts_with("duty"));
        let inside: i64 = inside.map(|part| -millionths(part, "amount")).sum();
        // A tax that is the importer's lies beside the price.
        let is_beside = |levy: &Value| {
            text(levy, "name") == "import tax" && text(entry, "import_tax") == "apart"
        };
        let levies = list(entry, "levies").iter().filter(|levy| !is_beside(levy));
        let own = lines.iter().flat_map(|line| list(line, "layers")).chain(levies);
        let levied: i64 = own.clone().map(|one| millionths(one, "amount")).sum();
        // Each value and each amount is rounded to the cent for the entry, none inside the price.
        let roundings = i64::try_from(own.count() + 2 * lines.len()).unwrap();
        let off = inside - levied;
        must(off.abs() <= 5_000 * roundings, || {
            format!("{}: {inside} inside the price, {levied} levied", text(entry, "entry"))
        })?;
    }
    Ok(())
}

#[test]
fn value_duties_and_fees_are_the_price_delivered_duty_paid() {
    holds("delivered", &Shape::DELIVERED, price_holds_its_duty);
}

/// The other way comes to what the shipment comes to when it is written so, and `compare` has both.
fn way_is_as_written(made: &Made) -> Result<(), String> {
    made.ship_as("written", |text| {
        text.replace(WAY, "").replacen("term = \"FOB TRIZM\"", "term = \"CIF USSAV\"", 1)
    });
    let way = made.json(&["cost", "drawn", "--way", "cif"])?;
    let written = made.json(&["cost", "written"])?;
    for key in ["total", "decision_total"] {
        must(way[key] == written[key], || format!("{key}: {} and {}", way[key], written[key]))?;
    }
    let plain = made.drawn("cost")?;
    let page = made.json(&["compare", "drawn"])?;
    for (offer, cost) in list(&page, "offers").iter().zip([&plain, &way]) {
        must(offer["landed"] == cost["total"], || {
            format!("{}: {}", offer["landed"], cost["total"])
        })?;
    }
    Ok(())
}

#[test]
fn a_way_of_a_made_up_workspace_is_as_it_is_when_it_is_written() {
    holds("ways", &[Shape::Priced], way_is_as_written);
}

/// A draw of a sweep comes to what its changes come to when they are made on the line, all at once: the ranges
/// are points, so that the draw is known. Where another load is the cheapest then, the sweep says that planning
/// anew takes something off.
fn a_draw_is_what_it_costs(made: &Made) -> Result<(), String> {
    let mut dice = Dice::new(made.seed);
    let mut percent = || format!("{:+} %", i64::try_from(dice.from(1, 60)).unwrap() - 25);
    let (unloading, price) = (percent(), percent());
    let rate = format!("1.{:02} USD", dice.from(1, 40));
    let changes = [("leg unloading", unloading), ("price", price), ("1 EUR", rate)];
    let point = |(of, to): &(&str, String)| {
        format!("[[range]]\nof = \"{of}\"\nfrom = \"{to}\"\nto = \"{to}\"\n")
    };
    let file = made.path().join("points.toml");
    std::fs::write(&file, changes.iter().map(point).collect::<String>()).unwrap();
    let file = file.to_str().unwrap();
    let sweep = made.json(&["what-if", "drawn", "--sweep", file, "--draws", "3"])?;
    let is = |to: &str| if to.ends_with('%') { "" } else { "= " };
    let set = changes.map(|(of, to)| format!("{of} {}{to}", is(&to)));
    let set: Vec<&str> = set.iter().flat_map(|one| ["--set", one]).collect();
    let costed = made.json(&[&["what-if", "drawn"], &set[..]].concat())?;
    let all = list(&costed, "cases").last().ok_or("no case")?;
    for (offer, cost) in list(&sweep, "offers").iter().zip(list(all, "costs")) {
        let [p10, p50, p90] = ["p10", "p50", "p90"].map(|key| text(&offer[key], "per_m2"));
        must(p10 == p50 && p50 == p90, || format!("draws of points differ: {offer}"))?;
        let is_same = p50 == text(cost, "per_m2");
        must(is_same == (text(offer, "most_off") == "0.00"), || format!("{offer}: {cost}"))?;
    }
    Ok(())
}

#[test]
fn a_draw_of_a_sweep_comes_to_what_it_costs() {
    let shapes = [Shape::Parts, Shape::AnyTerms, Shape::Entries, Shape::Delivered];
    holds("draws", &shapes, a_draw_is_what_it_costs);
}

/// With its boxes full an offer has as many bundles more as would still fit, no more fits then, and it comes to
/// what a shipment of that list in those boxes comes to.
fn full_is_costed_whole(made: &Made) -> Result<(), String> {
    made.ship("again", "");
    let page = made.json(&["compare", "drawn", "again"])?;
    let [offer, ..] = list(&page, "offers") else { return Err("no offer".to_owned()) };
    let (fits, full) = (&offer["would_still_fit"]["bundles"], &offer["full"]);
    if full.is_null() {
        return must(fits == 0, || format!("{fits} would still fit"));
    }
    must(*fits == full["bundles_added"], || format!("{fits} and {}", full["bundles_added"]))?;
    must(full["would_still_fit"]["bundles"] == 0, || format!("{full}"))?;
    must(full["containers"] == offer["containers"], || "other boxes".to_owned())?;
    // The sums of like goods foot to the whole.
    let mut sum = 0;
    for group in list(&page, "groups") {
        let own = list(group, "full").iter().filter(|one| one["shipment"] == offer["shipment"]);
        for entry in own {
            let landed = list(entry, "amounts").iter().find(|one| one["what"] == "landed");
            sum += cents(landed.ok_or("no landed cost")?, "amount");
        }
    }
    must(sum == cents(full, "landed"), || format!("{sum}: {}", full["landed"]))
}

#[test]
fn boxes_full_of_a_made_up_workspace_are_costed_whole() {
    holds(
        "full",
        &[Shape::Plain, Shape::Priced, Shape::Forwarders, Shape::AnyTerms],
        full_is_costed_whole,
    );
}
