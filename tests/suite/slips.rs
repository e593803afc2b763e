//! Words and figures that slip: each is seen, and said where it stands.

use crate::common::{Tiny, run, stdout};

const SHIPMENT: &str = "shipments/plain/shipment.toml";
const LIST: &str = "shipments/plain/packing.csv";

/// What a command says on stderr, without its line breaks, and how it ends.
fn said(tiny: &Tiny, args: &[&str]) -> (String, i32) {
    let output = run(tiny.path(), args);
    let text = String::from_utf8(output.stderr).unwrap();
    (text.split_whitespace().collect::<Vec<_>>().join(" "), output.status.code().unwrap())
}

/// A command must say all of this, and end so.
fn says(tiny: &Tiny, args: &[&str], exit: i32, words: &[&str]) {
    let (text, code) = said(tiny, args);
    for word in words {
        assert!(text.contains(word), "{word:?} is not in:\n{text}");
    }
    assert_eq!(code, exit, "{text}");
}

/// The small workspace with one replacement in its shipment.
fn with(old: &str, new: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.replace(SHIPMENT, old, new);
    tiny
}

#[test]
fn a_finish_that_is_not_on_the_list_is_a_fault_with_the_list() {
    for slip in ["Polished", "polihsed"] {
        let tiny = with("finish = \"polished\"", &format!("finish = \"{slip}\""));
        let no = format!("no finish is called \"{slip}\"");
        says(&tiny, &["cost", "plain"], 1, &[&no, "did you mean \"polished\"?"]);
    }
    let tiny = with("finish = \"polished\"", "finish = \"tumbled\"");
    says(&tiny, &["cost", "plain"], 1, &["write one of: polished, honed, leathered, sawn"]);
    let tiny = Tiny::new();
    let row = "regime = \"us\"\nline = \"6802.91.05\"";
    tiny.replace("rates/stones.toml", row, &format!("finish = \"swan\"\n{row}"));
    says(&tiny, &["cost", "plain"], 1, &["no finish is called \"swan\"", "did you mean \"sawn\"?"]);
    let list = "slab,bundle,length (cm),height (cm),finish\nA1,B1,300,180,Polished\n";
    let tiny = Tiny::new();
    tiny.write(LIST, list);
    says(&tiny, &["cost", "plain"], 1, &["no finish is called \"Polished\"", "packing.csv:2:"]);
}

#[test]
fn a_tariff_line_may_ask_how_far_faces_are_worked() {
    // Heading 6802 parts stone simply sawn from stone worked further. 592.00 EUR at 1.10 is 651.20,
    // entered at 652 by another rate; what counts here is which line it goes to.
    let rows = "faces = \"worked\"\nline = \"6802.91.05\"\nsource = \"invented\"\n[[stone.tariff]]\nregime = \"us\"\nfaces = \"sawn\"\nline = \"6802.93.00\"";
    for (finish, line) in [("honed", "6802.91.05"), ("sawn", "6802.93.00")] {
        let tiny = with("finish = \"polished\"", &format!("finish = \"{finish}\""));
        tiny.replace("rates/stones.toml", "line = \"6802.91.05\"", rows);
        assert!(stdout(tiny.path(), &["worksheet", "plain"]).contains(line), "{finish}");
    }
}

#[test]
fn a_country_that_is_not_in_iso_3166_is_a_fault() {
    let tiny = with("supplier = ", "origin = \"UK\"\nsupplier = ");
    says(&tiny, &["cost", "plain"], 1, &["`origin` cannot be read: \"UK\"", "ISO 3166"]);
    let tiny = Tiny::new();
    tiny.replace("rates/yards.toml", "port = \"USSAV\"", "port = \"UXSAV\"");
    says(&tiny, &["cost", "plain"], 1, &["UX is no country of ISO 3166"]);
}

#[test]
fn a_count_of_slabs_expands_the_range_or_is_a_fault() {
    let head = "slab,bundle,length (cm),height (cm)";
    for count in ["pcs", "Qty", "Slabs"] {
        let tiny = Tiny::new();
        tiny.write(LIST, &format!("{head},{count}\nA1-A2,B1,300,180,2\nA3,B2,250,160,1\n"));
        let (shipment, costed) = tiny.cost("plain");
        let names: Vec<&str> = shipment.slabs.iter().map(|slab| slab.id.as_str()).collect();
        assert_eq!(names, ["A1", "A2", "A3"]);
        assert_eq!(costed.landed.total, Tiny::new().cost("plain").1.landed.total);
    }
    let tiny = Tiny::new();
    tiny.write(LIST, &format!("{head},pcs\nA1,B1,300,180,7\n"));
    let words =
        ["the row counts 7 slabs, and \"A1\" is no range of numbers", "write \"A1-A7\"", ":2:"];
    says(&tiny, &["cost", "plain"], 1, &words);
    tiny.write(LIST, &format!("{head},pcs\n1-7,B1,300,180,6\n"));
    says(&tiny, &["cost", "plain"], 1, &["the row counts 6 slabs, and \"1-7\" is 7"]);
    tiny.write(LIST, &format!("{head},pcs\nA1,B1,300,180,0\nA2,B1,300,180,x\n"));
    says(&tiny, &["cost", "plain"], 1, &["\"0\" is no count", "\"x\" is no count"]);
}

#[test]
fn a_billed_amount_that_disagrees_warns_as_a_total_does() {
    // 14.8 m2 at 40.00 EUR are 592.00 EUR.
    let price = "price = \"40.00 EUR/m2\"";
    let billed = "billed = { quantity = \"15 m2\", amount = \"600.00 EUR\" }";
    let tiny = with(price, &format!("{price}\n{billed}"));
    tiny.replace(SHIPMENT, "number = \"I-1\"", "number = \"I-1\"\ntotal = \"600.00 EUR\"");
    let text = std::fs::read_to_string(tiny.path().join(SHIPMENT)).unwrap();
    tiny.write("shipments/again/shipment.toml", &text);
    tiny.write(
        "shipments/again/packing.csv",
        "slab,bundle,length (cm),height (cm)\nA3,B2,250,160\n",
    );
    for command in [&["cost", "plain"][..], &["compare", "plain", "again"]] {
        let words = [
            "the quantity of line A of invoice I-1 is 0.2 m2 above the 14.8 m2 worked out here",
            "the amount of line A of invoice I-1 is 8.00 EUR above the 592.00 EUR worked out here",
            "the total of invoice I-1 is 8.00 EUR above the 592.00 EUR worked out here",
        ];
        says(&tiny, command, 0, &words);
    }
}

#[test]
fn the_same_invoice_or_slab_in_two_shipments_is_said_by_check() {
    let tiny = Tiny::new();
    let list = "slab,bundle,block,length (cm),height (cm)\nA1,B1,7,300,180\nA2,B1,7,300,180\n";
    tiny.write(LIST, list);
    let text = std::fs::read_to_string(tiny.path().join(SHIPMENT)).unwrap();
    tiny.write("shipments/again/shipment.toml", &text);
    tiny.write("shipments/again/packing.csv", &list.replace("A1", "A9"));
    let both = ["check", "again", "plain"];
    says(&tiny, &both, 0, &["invoice I-1 of \"quarry inkwell (invented)\" is in another shipment"]);
    says(
        &tiny,
        &both,
        0,
        &[
            "1 slab is in another shipment: block 7 of \"quarry inkwell (invented)\"",
            "packing.csv:1",
        ],
    );
    // Parts of one invoice are no slip, and blocks of two suppliers are two blocks.
    for (name, part) in [("plain", "1 of 2"), ("again", "2 of 2")] {
        let file = format!("shipments/{name}/shipment.toml");
        let number = "number = \"I-1\"";
        tiny.replace(&file, number, &format!("{number}\npart = \"{part}\""));
    }
    assert!(!said(&tiny, &both).0.contains("invoice I-1"));
    tiny.replace("shipments/again/shipment.toml", "Quarry Inkwell", "Quarry Blotter");
    assert_eq!(said(&tiny, &both), (String::new(), 0));
}

#[test]
fn a_price_far_from_the_usual_warns() {
    let tiny = with("40.00 EUR/m2", "4000 EUR/m2");
    assert_eq!(said(&tiny, &["cost", "plain"]), (String::new(), 0));
    let origin = "origin = \"TR\"";
    let usual = format!("usual-price = \"20 USD/m2..120 USD/m2\"\n{origin}");
    tiny.replace("rates/stones.toml", origin, &usual);
    let words =
        ["line A is priced at 4,000 EUR/m2", "\"chalk\" usually costs 20 USD/m2 to 120 USD/m2"];
    says(&tiny, &["cost", "plain"], 0, &words);
    // 40 EUR/m2 are 44 USD; 4 EUR/ft2 are 47 USD/m2; 2,200 EUR/m3 at 20 mm are 48; 800 EUR/t at 50
    // kg/m2 are 44.
    for price in ["40 EUR/m2", "4 EUR/ft2", "2200 EUR/m3", "800 EUR/t"] {
        let tiny = with("40.00 EUR/m2", price);
        tiny.replace("rates/stones.toml", origin, &usual);
        assert_eq!(said(&tiny, &["cost", "plain"]).0, "", "{price}");
    }
}

#[test]
fn a_quote_that_is_upside_down_or_far_from_its_neighbours_warns() {
    // 1 EUR was 1.0871 USD in April and 1.0913 in May: 0.9168 is the one turned over.
    for (slip, words) in [("0.9168", "is it upside down?"), ("10.913", "is the point right?")] {
        let tiny = Tiny::new();
        tiny.replace("rates/exchange.toml", "1 EUR = 1.0913 USD", &format!("1 EUR = {slip} USD"));
        let far = format!("1 EUR = {slip} USD is far from that of another row");
        says(&tiny, &["cost", "plain"], 0, &[&far, words]);
        assert_eq!(said(&tiny, &["cost", "plain"]).0.matches("warning[").count(), 1);
    }
    let tiny = Tiny::new();
    tiny.replace("rates/exchange.toml", "1 EUR = 1.0913 USD", "1 USD = 0.9163 EUR");
    assert_eq!(said(&tiny, &["cost", "plain"]).0, "", "the same rate quoted the other way about");
}

#[test]
fn a_lift_a_thickness_and_sides_that_cannot_be_warn() {
    let tiny = Tiny::new();
    tiny.replace("rates/yards.toml", "lift = \"5 t\"\ndelivery-days = 3", "lift = \"36 t\"");
    says(&tiny, &["cost", "plain"], 0, &["the yard's lift is 36,000 kg", "is \"3.6 t\" meant?"]);
    says(&tiny, &["--units", "us", "cost", "plain"], 0, &["the yard's lift is 79,366 lb"]);
    let tiny = with("20 mm", "12 cm");
    says(&tiny, &["cost", "plain"], 0, &["slabs of line A are 120 mm thick"]);
    let tiny = Tiny::new();
    tiny.write(LIST, "slab,bundle,height (cm),length (cm)\nA1,B1,200,180\nA2,B1,150,220\n");
    let words = ["1 of 2 slabs are higher than long", "are the sides swapped?", ":2"];
    says(&tiny, &["cost", "plain"], 0, &words);
}

#[test]
fn an_entry_without_a_fee_that_every_entry_bears_warns() {
    let tiny = Tiny::new();
    let fees = "fees = [{ name = \"merchandise processing fee\" }, { name = \"harbor maintenance fee\", mode = \"sea\" }]";
    tiny.replace("rates/duty.toml", "value-step", &format!("{fees}\nvalue-step"));
    assert_eq!(said(&tiny, &["cost", "plain"]), (String::new(), 0));
    let text = std::fs::read_to_string(tiny.path().join("rates/fees.toml")).unwrap();
    let renamed = text.replace("harbor maintenance fee", "harbor maintanance fee");
    tiny.write("rates/fees.toml", &renamed);
    let words = ["no row of \"harbor maintenance fee\" serves entry plain", "rates/fees.toml"];
    says(&tiny, &["cost", "plain"], 0, &words);
    // By land there is none.
    let by_land = "[[bill]]\nnumber = \"B1\"\ninvoices = [\"I-1\"]\n[[entry]]\nid = \"E1\"\nbills = [\"B1\"]\nmode = \"land\"\n";
    tiny.append(SHIPMENT, by_land);
    assert_eq!(said(&tiny, &["cost", "plain"]).0, "");
}

#[test]
fn check_shows_every_good_shipment_though_one_is_bad() {
    let tiny = with("finish = \"polished\"", "finish = \"swan\"");
    let output = run(tiny.path(), &["check"]);
    let page = String::from_utf8(output.stdout).unwrap();
    assert_eq!(output.status.code(), Some(1));
    for (name, verdict) in [("plain", "faults"), ("arrived", "sound"), ("two-terms", "sound")] {
        let is_row = |line: &str| line.starts_with(name) && line.contains(verdict);
        assert!(page.lines().any(is_row), "{name}: {page}");
    }
}

#[test]
fn the_weight_of_one_slab_is_no_bundle_s() {
    // Two slabs of 5.4 m2 at 20 mm and 2,500 kg/m3 are 540 kg; with the timber of 60 kg, 600.
    let list = |b1: &str, b2: &str| {
        format!(
            "slab,bundle,length (cm),height (cm),weighed mass (kg)\nA1,B1,300,180,{b1}\nA2,B1,300,180,{b1}\nA3,B2,250,160,{b2}\n"
        )
    };
    let tiny = Tiny::new();
    tiny.replace("rates/stones.toml", "weighed-within = \"100000 %\"\n", "");
    tiny.write(LIST, &list("270", ""));
    let words = ["bundle B1 is weighed at 270 kg, and its slabs make", "is this a slab's weight?"];
    for command in ["cost", "load", "check"] {
        says(&tiny, &[command, "plain"], 1, &words);
    }
    let (text, _) = said(&tiny, &["cost", "plain"]);
    assert_eq!(text.matches("error[").count(), 1, "{text}");
    tiny.write(LIST, &list("6000", ""));
    says(&tiny, &["cost", "plain"], 1, &["is this the weight of more than the bundle?"]);
    says(&tiny, &["--units", "us", "cost", "plain"], 1, &["bundle B1 is weighed at 13,228 lb"]);
    // 15 % of the 540 kg of stone is 81 kg; a stone may be given more.
    let (shipment, _) = Tiny::new().cost("plain");
    let estimate = shipment.bundles[0].mass.to_kg(0);
    let at = |kg: i64| (estimate + quaystone::quantity::Decimal::from(kg)).to_string();
    tiny.write(LIST, &list(&at(-81), ""));
    assert_eq!(said(&tiny, &["cost", "plain"]), (String::new(), 0));
    tiny.write(LIST, &list(&at(82), ""));
    assert_eq!(said(&tiny, &["cost", "plain"]).1, 1);
    let origin = "origin = \"TR\"";
    tiny.replace("rates/stones.toml", origin, &format!("weighed-within = \"16 %\"\n{origin}"));
    assert_eq!(said(&tiny, &["cost", "plain"]), (String::new(), 0));
}

#[test]
fn the_informal_limit_is_tested_on_the_unrounded_value() {
    // 592.00 EUR at the certified 1.0846 are 642.0832 USD, entered at 642 in whole dollars.
    let tiny = Tiny::new();
    tiny.append(SHIPMENT, "[[bill]]\nnumber = \"B1\"\ninvoices = [\"I-1\"]\n[[entry]]\nid = \"E1\"\nbills = [\"B1\"]\nkind = \"informal\"\n");
    let step = "value-step = \"1 USD\"";
    for (limit, exit) in [("642.09", 0), ("642.08", 1), ("642", 1)] {
        let now = std::fs::read_to_string(tiny.path().join("rates/duty.toml")).unwrap();
        let limited = format!("{step}\ninformal-limit = \"{limit} USD\"");
        tiny.write("rates/duty.toml", &now.replacen(step, &limited, 1));
        assert_eq!(said(&tiny, &["cost", "plain"]).1, exit, "{limit}");
        tiny.write("rates/duty.toml", &now);
    }
}

#[test]
fn goods_that_are_all_free_are_costed_as_under_a_discount_of_all() {
    // The supplier bills its packing of 100 EUR, and nothing else.
    let free = "free-slabs = [\"A1\", \"A2\", \"A3\"]";
    let total = |price: &str, how: &str| {
        let number = "number = \"I-1\"";
        let tiny = with(number, &format!("{number}\npacking = \"100 EUR\"\n{how}"));
        tiny.replace(SHIPMENT, "40.00 EUR/m2", price);
        tiny.cost("plain").1.landed.total.to_string()
    };
    let discounted = total("40.00 EUR/m2", "discount = \"100 %\"");
    for price in ["40.00 EUR/m2", "30 EUR/t", "100 EUR/slab", "100 EUR/bundle", "500 EUR/lot"] {
        assert_eq!(total(price, free), discounted, "{price}");
    }
}

#[test]
fn one_seal_on_two_boxes_is_a_fault() {
    let tiny = Tiny::new();
    let plan = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nseal = \"S-7\"\nbundles = [\"B1\"]\n[[container]]\ncontainer = \"2\"\ntype = \"20gp\"\nseal = \"S-7\"\nbundles = [\"B2\"]\n";
    tiny.write("shipments/plain/plan.toml", plan);
    says(&tiny, &["cost", "plain"], 1, &["two containers have the seal S-7", "plan.toml:9:"]);
    tiny.write("shipments/plain/plan.toml", &plan.replacen("S-7", "S-8", 1));
    assert_eq!(said(&tiny, &["cost", "plain"]).1, 0);
}

#[test]
fn a_deposit_larger_than_the_invoice_is_a_fault_with_both_figures() {
    let tiny = Tiny::new();
    let invoice = "price-valid = \"2026-03-01..2026-04-15\"\n";
    let payments = "[[invoice.payment]]\nname = \"deposit\"\namount = \"700 EUR\"\non = 2026-03-10\n[[invoice.payment]]\nname = \"balance\"\nshare = \"rest\"\non = 2026-05-10\n";
    tiny.replace(SHIPMENT, invoice, &format!("{invoice}{payments}"));
    let words = ["the payments of invoice I-1 make 700.00 EUR, and its total is 592.00 EUR"];
    says(&tiny, &["cost", "plain"], 1, &words);
    assert!(!said(&tiny, &["cost", "plain"]).0.contains("mistake of the program"));
}
