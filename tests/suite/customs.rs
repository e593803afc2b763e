//! Customs: which slabs a charge is about, what they are valued by, what is levied on them. Figures are
//! worked by hand.

use std::fmt::Write as _;

use crate::common::{DEMO, Tiny, charges, entered, stdout, try_cost};
use quaystone::choose::Costed;
use quaystone::fault::{Report, render};

/// For each charge of a name: what it belongs to, and its slabs by position.
fn slabs_of(costed: &Costed, name: &str) -> Vec<(String, Vec<usize>)> {
    let own = costed.landed.charges.iter().filter(|charge| charge.name == name);
    let members = |set| costed.landed.sets.members(set).collect();
    own.map(|charge| (charge.scope.of.to_string(), members(charge.scope.set))).collect()
}

#[test]
fn a_line_called_like_a_set_of_the_program_s_is_not_taken_for_it() {
    // Line A has bundle B1, and a line that its supplier calls "0 of 0" has B2.
    let tiny = Tiny::new();
    tiny.append(
        "shipments/plain/shipment.toml",
        "[[invoice.line]]\nid = \"0 of 0\"\nstone = \"chalk\"\nfinish = \"polished\"\n\
         thickness = \"20 mm\"\nprice = \"70.00 EUR/m2\"\n",
    );
    tiny.replace(
        "shipments/plain/shipment.toml",
        "[[invoice]]",
        "[[policy]]\ncharge = \"unloading\"\nscope = \"line\"\nreason = \"invented\"\n[[invoice]]",
    );
    tiny.write(
        "shipments/plain/packing.csv",
        "slab,bundle,length (cm),height (cm),line\na1,B1,300,180,A\na2,B1,300,180,A\nb1,B2,300,180,0 of 0\n",
    );
    let (_, costed) = tiny.cost("plain");
    let expected = [("A".to_owned(), vec![0, 1]), ("0 of 0".to_owned(), vec![2])];
    assert_eq!(slabs_of(&costed, "unloading"), expected);
}

/// The head of a shipment to the yard of the small workspace.
const HEAD: &str = "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\ndates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }\n";

/// An invoice of one line at a price for all of it. Its slabs are all alike: 250 x 100 cm, 20 mm.
fn invoice(number: &str, term: &str, price: &str, more: &str, of_line: &str) -> String {
    format!(
        "[[invoice]]\nsupplier = \"Quarry Inkwell (invented)\"\nnumber = \"{number}\"\nterm = \"{term}\"\nprice-valid = \"2026-03-01..2026-04-15\"\n{more}\n[[invoice.line]]\nid = \"{number}-1\"\nstone = \"chalk\"\nfinish = \"polished\"\nthickness = \"20 mm\"\nprice = \"{price}/lot\"\n{of_line}\n"
    )
}

/// Four slabs nobody listed yet.
const FOUR: &str = "bundles = 1\nslabs = 4\nsize = \"250 x 100 cm\"";

/// A workspace with one shipment, "case".
fn case(body: &str) -> Tiny {
    let tiny = Tiny::new();
    tiny.write("shipments/case/shipment.toml", &format!("{HEAD}{body}"));
    tiny
}

/// A list of so many slabs of each line, a bundle and a box each.
fn listed(tiny: &Tiny, bundles: &[(&str, usize)]) {
    let mut list = "slab,bundle,length (cm),height (cm),line,container\n".to_owned();
    for (at, (line, slabs)) in bundles.iter().enumerate() {
        for slab in 0..*slabs {
            writeln!(list, "s{at}-{slab},B{at},250,100,{line},{}", at + 1).unwrap();
        }
    }
    tiny.write("shipments/case/packing.csv", &list);
}

/// A layer of duty on every line of chapter 68.
fn layer(kind: &str, name: &str, rate: &str, more: &str) -> String {
    format!(
        "[[duty]]\nregime = \"us\"\nline = \"6802.91.05\"\nlayer = \"{kind}\"\nname = \"{name}\"\nrate = \"{rate}\"\n{more}\nvalid = \"2020-01-01..\"\nsource = \"invented\"\n"
    )
}

/// A row of the fees.
fn fee(name: &str, keys: &str) -> String {
    format!(
        "[[charge]]\nname = \"{name}\"\n{keys}\nvalid = \"2020-01-01..\"\nsource = \"invented\"\n"
    )
}

/// Insurance, clearance and unloading for nothing, and nothing else.
fn no_fees() -> String {
    fee("insurance", "leg = \"insurance\"\namount = \"0 USD\"\nper = \"shipment\"")
        + &fee("clearance", "leg = \"import clearance\"\namount = \"0 USD\"\nper = \"entry\"")
        + &fee("unloading", "leg = \"unloading\"\namount = \"0 USD\"\nper = \"bundle\"")
}

fn regime(keys: &str) -> String {
    format!(
        "[[regime]]\nid = \"us\"\nname = \"Somewhere\"\ncurrency = \"USD\"\n{keys}\nvalid = \"2020-01-01..\"\nsource = \"invented\"\n"
    )
}

#[test]
fn a_price_delivered_duty_paid_is_solved_with_the_duty_that_is_levied() {
    // A flat duty of 4 % takes the place of the base, so the top-up to 15 % has nothing to lift and is
    // 15 % itself: 10,000 + 400 + 1,500 = 11,900.
    let tiny = case(&invoice("I", "DDP yard", "11900 USD", "", FOUR));
    let duty = layer("base", "duty", "2.5 %", "")
        + &layer("additive", "flat duty", "4 %", "excludes = [\"duty\"]")
        + &layer("top-up", "top-up", "15 %", "");
    tiny.write("rates/duty.toml", &(regime("value-basis = \"export\"") + &duty));
    tiny.write("rates/fees.toml", &no_fees());
    let (_, costed) = tiny.cost("case");
    assert_eq!(entered(&costed), ["10,000.00 USD"]);
    assert_eq!(costed.landed.entries[0].duty().unwrap().to_string(), "1,900.00 USD");
}

#[test]
fn layers_of_one_name_and_two_kinds_are_both_levied() {
    // 10,000 at 10 % and at 5 %.
    let tiny = case(&invoice("I", "FOB TRIZM", "10000 USD", "", FOUR));
    let both = layer("additive", "order", "10 %", "") + &layer("anti-dumping", "order", "5 %", "");
    tiny.append("rates/duty.toml", &both);
    assert_eq!(charges(&tiny.cost("case").1, "order"), ["1,000.00 USD", "500.00 USD"]);
}

/// What costing "case" says.
fn fault_of(tiny: &Tiny) -> String {
    let mut report = Report::new();
    assert!(try_cost(tiny.path(), "case", &mut report).is_none());
    render(&report, false)
}

#[test]
fn rows_of_duty_that_serve_at_once_are_named_all_of_them() {
    // Lists of origins that all have TR: no two rows are the same, and all serve.
    for (kind, more) in [
        ("preferential", "programme = \"P (invented)\""),
        ("anti-dumping", "producer = \"Saw of Thimble (invented)\""),
    ] {
        let of_line = if kind == "preferential" {
            "preference = \"P (invented)\""
        } else {
            "producer = \"Saw of Thimble (invented)\""
        };
        let tiny = case(&invoice("I", "FOB TRIZM", "10000 USD", "", &format!("{of_line}\n{FOUR}")));
        let before = std::fs::read_to_string(tiny.path().join("rates/duty.toml")).unwrap();
        let row =
            |origins: &str| layer(kind, "order", "1 %", &format!("origins = [{origins}]\n{more}"));
        for origins in ["\"TR\"", "\"TR\", \"GR\"", "\"TR\", \"PT\""] {
            tiny.append("rates/duty.toml", &row(origins));
        }
        let said = fault_of(&tiny);
        assert!(said.contains("rates/duty.toml has 3 rows for"), "{said}");
        let (first, each) = (before.lines().count() + 1, row("").lines().count());
        for at in [first, first + each, first + 2 * each] {
            assert!(said.contains(&format!("rates/duty.toml:{at}:")), "{at}: {said}");
        }
    }
}

#[test]
fn a_fee_s_exemption_hangs_on_what_its_row_says() {
    // 1 % of 10,000, of which goods of TR are free. 19 CFR 24.23(c), by 72 FR 52780: where it is claimed.
    // CSMS 14-000077: products of some countries without a claim.
    let preferential = layer("preferential", "preference", "0 %", "programme = \"P (invented)\"");
    let claim = format!("preference = \"P (invented)\"\n{FOUR}");
    for (on, of_line, expected, said) in [
        ("exempt-claimed", FOUR, vec!["100.00 USD"], "only a claim under a trade agreement"),
        ("exempt-claimed", &claim, vec![], "by the claim of \"P (invented)\""),
        ("exempt-product-of", FOUR, vec![], "as products of it"),
    ] {
        let tiny = case(&invoice("I", "FOB TRIZM", "10000 USD", "", of_line));
        tiny.append("rates/duty.toml", &preferential);
        let keys = "regime = \"us\"\nleg = \"duty and tax\"\nrate = \"1 %\"\nof = \"entered value\"\nper = \"entry\"";
        let exempt = format!("{on} = [\"TR\"]");
        tiny.append("rates/fees.toml", &fee("some fee", &format!("{keys}\n{exempt}")));
        let (_, costed) = tiny.cost("case");
        assert_eq!(charges(&costed, "some fee"), expected, "{on}, {of_line}");
        let page = stdout(tiny.path(), &["worksheet", "case"]);
        let page = page.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(page.contains(said), "{page}");
    }
}

#[test]
fn a_fee_may_free_some_origins_by_claim_and_others_without() {
    // 1 % of 10,000: goods of TR are free by a claim, those of HT without one.
    let keys = "regime = \"us\"\nleg = \"duty and tax\"\nrate = \"1 %\"\nof = \"entered value\"\nper = \"entry\"";
    let exempt = "exempt-claimed = [\"TR\"]\nexempt-product-of = [\"HT\"]";
    let of_haiti = format!("origin = \"HT\"\n{FOUR}");
    for (of_line, expected) in [(FOUR, vec!["100.00 USD"]), (&of_haiti, vec![])] {
        let tiny = case(&invoice("I", "FOB TRIZM", "10000 USD", "", of_line));
        tiny.append("rates/fees.toml", &fee("some fee", &format!("{keys}\n{exempt}")));
        assert_eq!(charges(&tiny.cost("case").1, "some fee"), expected, "{of_line}");
    }
}

#[test]
fn a_floor_in_another_currency_is_told_inside_a_delivered_price_as_beside_it() {
    let keys = "regime = \"us\"\nleg = \"duty and tax\"\nrate = \"1 %\"\nof = \"entered value\"\nper = \"entry\"\nminimum = \"10 EUR\"";
    for term in ["FOB TRIZM", "DDP Savannah"] {
        let tiny = case(&invoice("I", term, "10000 USD", "", FOUR));
        tiny.append("rates/fees.toml", &fee("some fee", keys));
        let said = fault_of(&tiny);
        assert!(said.contains("\"some fee\" is in USD and its bound in EUR"), "{term}: {said}");
    }
}

#[test]
fn a_certified_rate_serves_wherever_one_covers_the_day() {
    // It sails on 11 April, five weeks after the day of the calculation. The euro's quarter has its rate;
    // a day's rate 10.6 % off takes its place (19 CFR 159.34(b)(2)); the lira has no quarter's rate.
    for (price, daily, value) in [
        ("10000 EUR", "1 EUR = 1.0900 USD", "10,846.00 USD"),
        ("10000 EUR", "1 EUR = 1.2000 USD", "12,000.00 USD"),
        ("420000 TRY", "1 USD = 42.00 TRY", "10,000.00 USD"),
    ] {
        let tiny = case(&invoice("I", "FOB TRIZM", price, "", FOUR));
        let step = "value-step = \"1 USD\"";
        tiny.replace("rates/duty.toml", step, &format!("{step}\ndaily-rate-from = \"5 %\""));
        for (used_for, quote, valid) in [
            ("plan", "1 USD = 40.00 TRY", "2026-01-01..2026-12-31"),
            ("customs daily", daily, "2026-04-11..2026-04-11"),
        ] {
            tiny.append("rates/exchange.toml", &format!("[[exchange]]\nuse = \"{used_for}\"\nquote = \"{quote}\"\nvalid = \"{valid}\"\nsource = \"invented\"\n"));
        }
        assert_eq!(entered(&tiny.cost("case").1), [value], "{daily}");
    }
}

/// Two entries of a bill of lading each, over a box each: four slabs in the first, eight in the second.
const TWO_ENTRIES: &str = "[[bill]]\nnumber = \"B-1\"\ncontainers = [\"1\"]\n[[bill]]\nnumber = \"B-2\"\ncontainers = [\"2\"]\n[[entry]]\nid = \"E-1\"\nbills = [\"B-1\"]\n[[entry]]\nid = \"E-2\"\nbills = [\"B-2\"]\n";

#[test]
fn the_freight_of_a_box_is_in_the_value_of_its_own_entry() {
    // Freight of 2,000 for each box, in the value at the border, and haulage of 500 with 20 % of fuel, in
    // the base of the tax: 10,000 + 2,000 = 12,000; with 2.5 % of duty and 600, 12,900; a tenth of it.
    // Spread by area, or by a policy of mass, they are another matter and change neither.
    for policy in
        ["", "[[policy]]\ncharge = \"ocean freight\"\nkey = \"mass\"\nreason = \"invented\"\n"]
    {
        let both = invoice("I", "FOB TRIZM", "10000 USD", "", "")
            + &invoice("J", "FOB TRIZM", "10000 USD", "", "");
        let tiny = case(&format!("{policy}{TWO_ENTRIES}{both}"));
        listed(&tiny, &[("I-1", 4), ("J-1", 8)]);
        let border = regime("value-basis = \"border\"\ntax-adds = [\"on-carriage\"]");
        tiny.write("rates/duty.toml", &(border + &layer("base", "duty", "2.5 %", "")));
        let tax = "leg = \"duty and tax\"\nrate = \"10 %\"\nof = \"taxed value\"\nper = \"entry\"\ntreatment = \"recoverable\"";
        tiny.write("rates/fees.toml", &(no_fees() + &fee("import tax", tax)));
        let (_, costed) = tiny.cost("case");
        assert_eq!(entered(&costed), ["12,000.00 USD"; 2]);
        assert_eq!(charges(&costed, "import tax"), ["1,290.00 USD"; 2]);
    }
}

#[test]
fn stated_freight_is_by_bill_of_lading_or_by_boxes() {
    // Twelve like slabs for 12,000: 4,000 on the first entry, 8,000 on the second. Freight of 3,000
    // inside the price: 1,500 a box; as two bills say, 600 and 2,400; by price, where that is asked for,
    // 1,000 and 2,000.
    let evidence = "evidence = \"rated bill of lading (invented)\"";
    let stated = |amount: &str, more: &str| {
        format!(
            "[[invoice.stated]]\nleg = \"main carriage\"\namount = \"{amount}\"\n{evidence}\n{more}\n"
        )
    };
    let by_bill = stated("600 USD", "bill = \"B-1\"") + &stated("2400 USD", "bill = \"B-2\"");
    for (freight, values) in [
        (stated("3000 USD", ""), ["2,500.00 USD", "6,500.00 USD"]),
        (by_bill, ["3,400.00 USD", "5,600.00 USD"]),
        (stated("3000 USD", "key = \"value\""), ["3,000.00 USD", "6,000.00 USD"]),
    ] {
        let one = invoice("I", "CFR USSAV", "12000 USD", &freight, "");
        let tiny = case(&format!("{TWO_ENTRIES}{one}"));
        listed(&tiny, &[("I-1", 4), ("I-1", 8)]);
        let mut report = Report::new();
        let (_, costed) = try_cost(tiny.path(), "case", &mut report).unwrap();
        assert_eq!(entered(&costed), values, "{freight}");
        let warned = render(&report, false).contains("split by price");
        assert_eq!(warned, freight.contains("key"), "{freight}");
    }
}

#[test]
fn a_layer_may_ask_for_a_formal_entry() {
    let informal = "[[entry]]\nid = \"E\"\ninvoices = [\"I\"]\nkind = \"informal\"\n";
    for (formal, sound) in [("formal = true", false), ("formal = false", true)] {
        let body = informal.to_owned() + &invoice("I", "FOB TRIZM", "1000 USD", "", FOUR);
        let tiny = case(&body);
        let step = "value-step = \"1 USD\"";
        tiny.replace("rates/duty.toml", step, &format!("{step}\ninformal-limit = \"2500 USD\""));
        tiny.append("rates/duty.toml", &layer("anti-dumping", "order", "5 %", formal));
        let mut report = Report::new();
        assert_eq!(try_cost(tiny.path(), "case", &mut report).is_some(), sound);
        let said = render(&report, false);
        assert_eq!(said.contains("\"order\" asks for a formal one"), !sound, "{said}");
    }
}

#[test]
fn slabs_entered_at_nothing_are_named_on_the_worksheet() {
    let tiny = Tiny::new();
    let path = "shipments/plain/shipment.toml";
    let page = |tiny: &Tiny| {
        let page = stdout(tiny.path(), &["worksheet", "plain"]);
        page.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    assert!(!page(&tiny).contains("entered at nothing"));
    let list = std::fs::read_to_string(tiny.path().join("shipments/plain/packing.csv")).unwrap();
    let slab = list.lines().nth(1).unwrap().split(',').next().unwrap();
    let free = format!("number = \"I-1\"\nfree-slabs = [\"{slab}\"]");
    tiny.replace(path, "number = \"I-1\"", &free);
    let page = page(&tiny);
    assert!(
        page.contains("1 slab of 6802.91.05 TR came without charge and is entered at nothing"),
        "{page}"
    );
}

#[test]
fn the_base_of_an_import_tax_waits_for_every_leg_that_it_adds() {
    // 10,000 and 100 of clearance, a tenth of it, wherever the clearance stands in the table.
    let tax = fee(
        "import tax",
        "leg = \"duty and tax\"\nrate = \"10 %\"\nof = \"taxed value\"\nper = \"entry\"\ntreatment = \"recoverable\"",
    );
    let clearance =
        fee("clearance", "leg = \"import clearance\"\namount = \"100 USD\"\nper = \"entry\"");
    let other = no_fees().replace("name = \"clearance\"", "name = \"no other clearance\"");
    for fees in [format!("{tax}{clearance}{other}"), format!("{clearance}{other}{tax}")] {
        let tiny = case(&invoice("I", "FOB TRIZM", "10000 USD", "", FOUR));
        let regime = regime("value-basis = \"export\"\ntax-adds = [\"import clearance\"]");
        tiny.write("rates/duty.toml", &(regime + &layer("base", "duty", "0 %", "")));
        tiny.write("rates/fees.toml", &fees);
        assert_eq!(charges(&tiny.cost("case").1, "import tax"), ["1,010.00 USD"]);
    }
}

#[test]
fn books_change_no_value() {
    // Freight that is recovered is paid, insured and valued all the same; a deposit that comes back is not.
    let figures = |treatment: &str| {
        let tiny = case(&invoice("I", "FOB TRIZM", "10000 USD", "", FOUR));
        let border = regime("value-basis = \"border\"");
        tiny.write("rates/duty.toml", &(border + &layer("base", "duty", "2.5 %", "")));
        let old = "name = \"ocean freight\"\nleg = \"main carriage\"\namount = \"2000 USD\"";
        tiny.replace("rates/freight.toml", old, &format!("{old}\n{treatment}"));
        let (_, costed) = tiny.cost("case");
        (entered(&costed), charges(&costed, "cargo insurance"))
    };
    let usual = figures("");
    // 12,000 insured at 0.30 % of 110 %, itself inside: 39.73; 12,039.73 at the border.
    assert_eq!(usual, (vec!["12,039.73 USD".to_owned()], vec!["39.73 USD".to_owned()]));
    for treatment in ["period", "recoverable"] {
        assert_eq!(figures(&format!("treatment = \"{treatment}\"")), usual, "{treatment}");
    }
    let deposit = "treatment = \"recoverable\"\nrecovered = \"delivered + 30 days\"";
    assert_eq!(figures(deposit).0, ["10,033.11 USD"]);
}

/// A table's rows, each with what belongs to it, in another order.
fn shuffled(text: &str, seed: u64) -> String {
    let is_row = |line: &str| line.starts_with("[[") && !line.contains('.');
    let mut parts: Vec<String> = vec![String::new()];
    for line in text.lines() {
        if is_row(line) {
            parts.push(String::new());
        }
        let last = parts.last_mut().unwrap();
        last.push_str(line);
        last.push('\n');
    }
    let head = parts.remove(0);
    // A linear congruential generator, enough to mix with (Knuth, MMIX's constants).
    let mut state = seed;
    for at in (1..parts.len()).rev() {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        parts.swap(at, usize::try_from(state >> 33).unwrap() % (at + 1));
    }
    head + &parts.concat()
}

/// The TOML files of a folder and of those in it.
fn toml_files(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let (folders, mut files): (Vec<_>, Vec<_>) = entries.partition(|path| path.is_dir());
    files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
    files.extend(folders.iter().flat_map(|folder| toml_files(folder)));
    files
}

#[test]
fn the_order_of_rows_in_a_table_changes_nothing() {
    for (seed, name) in (1..).zip(DEMO) {
        let tiny = Tiny::of_demo(name);
        let figures = |costed: &Costed| {
            let landed = &costed.landed;
            let charges = landed.charges.iter();
            let mut all: Vec<String> = charges
                .map(|one| format!("{} {} {} {}", one.name, one.scope.of, one.amount(), one.book()))
                .collect();
            all.sort();
            (landed.total, landed.decision, all)
        };
        let before = figures(&tiny.cost(name).1);
        for path in toml_files(&tiny.path().join("rates")) {
            let text = std::fs::read_to_string(&path).unwrap();
            std::fs::write(&path, shuffled(&text, seed)).unwrap();
        }
        assert_eq!(figures(&tiny.cost(name).1), before, "{name}");
    }
}
