//! `what-if`: what it says is what `cost` says of files with the change written in.

use serde_json::Value;

use crate::common::{Tiny, demo, json, run, stdout};

const FILE: &str = "shipments/plain/shipment.toml";
const NAME: &str = "plain";

/// One edit of a file: its name, the text that stands there, and the text in its place.
type Edit = (&'static str, &'static str, &'static str);

/// Changes by the names that pages use, each with its edits.
const CHANGES: [(&str, &[Edit]); 13] = [
    ("ocean freight +20 %", &[("rates/freight.toml", "\"2000 USD\"", "\"2400 USD\"")]),
    ("ocean freight = 1812.34 USD", &[("rates/freight.toml", "\"2000 USD\"", "\"1812.34 USD\"")]),
    ("main carriage -3.5 %", &[("rates/freight.toml", "\"2000 USD\"", "\"1930 USD\"")]),
    ("1 EUR = 1.22 USD", &[("rates/exchange.toml", "1 EUR = 1.10 USD", "1 EUR = 1.22 USD")]),
    ("customs 1 EUR = 1.05 USD", &[("rates/exchange.toml", "1.0846 USD", "1.05 USD")]),
    ("duty = 15 %", &[("rates/duty.toml", "\"2.5 %\"", "\"15 %\"")]),
    (
        "price of A = 42.10 EUR/m2",
        &[
            (FILE, "40.00 EUR/m2", "42.10 EUR/m2"),
            (FILE, "total = \"592.10 EUR\"\nrounding = \"0.10 EUR\"\n", ""),
            (FILE, "billed = { quantity = \"14.8 m2\", amount = \"592.00 EUR\" }\n", ""),
        ],
    ),
    (
        "price -5 %",
        &[
            (FILE, "40.00 EUR/m2", "38.00 EUR/m2"),
            (FILE, "total = \"592.10 EUR\"\nrounding = \"0.10 EUR\"\n", ""),
            (FILE, "billed = { quantity = \"14.8 m2\", amount = \"592.00 EUR\" }\n", ""),
        ],
    ),
    (
        "payment = 30 % on 2026-03-20, rest 60 days after arrival",
        &[(
            FILE,
            "[[invoice.line]]",
            "[[invoice.payment]]\nname = \"1\"\nshare = \"30 %\"\non = 2026-03-20\n[[invoice.payment]]\nname = \"2\"\n\
             share = \"rest\"\ndue = \"arrives + 60 days\"\n[[invoice.line]]",
        )],
    ),
    ("density +4 %", &[("rates/stones.toml", "\"2500 kg/m3\"", "\"2600 kg/m3\"")]),
    (
        "sails = 2026-04-25",
        &[(
            FILE,
            "sails = 2026-04-11, arrives = 2026-05-09",
            "sails = 2026-04-25, arrives = 2026-05-23",
        )],
    ),
    ("arrives = 2026-05-19", &[(FILE, "arrives = 2026-05-09", "arrives = 2026-05-19")]),
    // A leg has its layers of duty beside its fees.
    (
        "duty and tax +100 %",
        &[
            ("rates/duty.toml", "\"2.5 %\"", "\"5 %\""),
            ("rates/fees.toml", "\"0.3464 %\"", "\"0.6928 %\""),
            ("rates/fees.toml", "\"0.125 %\"", "\"0.25 %\""),
        ],
    ),
];

/// The workspace with what the changes need: an allowance, stated bills, a charge by mass, interest.
fn workspace() -> Tiny {
    let tiny = Tiny::new();
    tiny.state_bills();
    tiny.append(
        "rates/stones.toml",
        "\n[[usable]]\nstone = \"chalk\"\nallowance = \"5 x 4 cm, 4 %\"\nsource = \"invented\"\n",
    );
    let row = |name: &str, rest: &str| {
        format!(
            "\n[[charge]]\nname = \"{name}\"\n{rest}\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n"
        )
    };
    // Another certified rate for what sails later.
    let certified = "quote = \"1 EUR = 1.0846 USD\"\nvalid = \"2026-04-01..";
    let later = certified.replace("1.0846", "1.1020").replace("04-01", "04-21");
    tiny.replace(
        "rates/exchange.toml",
        certified,
        &format!("{certified}2026-04-20\"\nsource = \"invented\"\n[[exchange]]\nuse = \"customs\"\n{later}"),
    );
    tiny.append(
        "rates/fees.toml",
        &[
            row("weighing", "yard = \"savannah\"\nleg = \"unloading\"\namount = \"31.07 USD\"\nper = \"tonne\""),
            row(
                "money out",
                "leg = \"import clearance\"\nrate = \"8 %\"\nof = \"payments\"\ndays-in-year = 360\nuntil = \"delivered\"\n\
                 treatment = \"notional\"\nper = \"shipment\"\nborne-by = \"importer\"",
            ),
        ]
        .concat(),
    );
    tiny
}

fn write_in(tiny: &Tiny, edits: &[Edit]) {
    for (file, old, new) in edits {
        tiny.replace(file, old, new);
    }
}

/// Landed cost and cost with finance, as `cost` has them.
fn costs(tiny: &Tiny) -> [Value; 2] {
    let page = json(tiny, &["cost", NAME]);
    ["total", "decision_total"].map(|key| page[key].clone())
}

#[test]
fn each_change_alone_and_all_together_is_what_the_files_so_changed_cost() {
    let before = workspace();
    let sets = CHANGES.iter().flat_map(|(words, _)| ["--set", words]);
    let args: Vec<&str> = ["what-if", NAME].into_iter().chain(sets).collect();
    let page = json(&before, &args);
    let cases = page["cases"].as_array().unwrap();
    let of = |case: &Value| ["landed", "decision"].map(|key| case["costs"][0][key].clone());
    assert_eq!(of(&cases[0]), costs(&before), "as offered");
    for ((words, edits), case) in CHANGES.iter().zip(&cases[1..]) {
        let tiny = workspace();
        write_in(&tiny, edits);
        assert_eq!(of(case), costs(&tiny), "{words}");
        assert_ne!(of(case), of(&cases[0]), "{words}");
    }
    // Two at once, in two files: the freight and the sailing.
    let both = ["what-if", NAME, "--set", CHANGES[0].0, "--set", CHANGES[10].0];
    let tiny = workspace();
    write_in(&tiny, CHANGES[0].1);
    write_in(&tiny, CHANGES[10].1);
    let together = json(&before, &both);
    let cases = together["cases"].as_array().unwrap();
    assert_eq!(cases.len(), 4);
    assert_eq!(of(&cases[3]), costs(&tiny), "together");
}

#[test]
fn a_percentage_of_a_rate_is_exact() {
    let tiny = workspace();
    tiny.append(
        "rates/fees.toml",
        "\n[[charge]]\nname = \"washing\"\nleg = \"unloading\"\namount = \"0.35 USD\"\nper = \"m2\"\nvalid = \
         \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n",
    );
    let page = json(&tiny, &["what-if", NAME, "--set", "washing +10 %"]);
    // By hand, 14.8 m2: at 0.35 USD 5.18, at 0.385 USD 5.698 or 5.70; at 0.39 USD it would be 5.77.
    assert_eq!(page["cases"][1]["costs"][0]["more"], "0.52");
}

#[test]
fn a_loss_moves_the_cost_per_usable_area_alone() {
    let page = json(&workspace(), &["what-if", NAME, "--set", "loss = 9 %"]);
    let [offered, changed] = [0, 1].map(|case| &page["cases"][case]["costs"][0]);
    assert_eq!(changed["more"], "0.00");
    // 96 % of the slabs' area less the take-off can be used, and then 91 %.
    let per =
        |one: &Value| one["per_m2"].as_str().unwrap().replace('.', "").parse::<i64>().unwrap();
    assert!((per(offered) * 96 - per(changed) * 91).abs() <= 96, "{page}");
}

#[test]
fn a_layer_ends_and_a_leg_takes_all_its_rows_but_what_moves_along() {
    let tiny = Tiny::new();
    let row = "lane = \"TRIZM-USSAV\"\nleg = \"main carriage\"\nvalid = \"2026-03-01..2026-06-30\"\nsource = \"invented\"";
    // By hand: freight 2,000, a fee of 100, a surcharge of 10 % of the freight: 2,300. At 20 % more each but the
    // surcharge, which moves along: 2,400 + 120 + 240 = 2,760. The insurance is 0.30 % of 110 % of the cost with
    // itself: 460 x 0.0033 / (1 - 0.0033) = 1.52 more.
    tiny.append(
        "rates/freight.toml",
        &format!(
            "\n[[charge]]\nname = \"lane fee\"\namount = \"100 USD\"\nper = \"container\"\n{row}\n[[charge]]\nname = \
             \"fuel\"\nrate = \"10 %\"\nof = \"ocean freight\"\n{row}\n"
        ),
    );
    tiny.append(
        "rates/duty.toml",
        "\n[[duty]]\nregime = \"us\"\nline = \"6802\"\nlayer = \"additive\"\nname = \"extra\"\nrate = \"10 %\"\n\
         valid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n",
    );
    let args = ["what-if", NAME, "--set", "main carriage +20 %", "--set", "extra ends 2026-04-30"];
    let page = json(&tiny, &args);
    let more = |case: usize| page["cases"][case]["costs"][0]["more"].as_str().unwrap().to_owned();
    assert_eq!(more(1), "461.52");
    // 592.00 EUR at the rate customs certify, 1.0846: 642.08, entered at 642 USD; 10 % of it is 64.20.
    assert_eq!(more(2), "-64.20");
}

#[test]
fn a_name_that_fits_two_things_or_none_is_refused_with_what_there_is() {
    let tiny = workspace();
    tiny.replace("rates/fees.toml", "name = \"money out\"", "name = \"import clearance\"");
    let wrong = [
        ("import clearance +5 %", "\"charge import clearance\" or \"leg import clearance\""),
        ("ocean frieght +5 %", "is \"ocean freight\" meant?"),
        ("ocean frieght +5 %", "legs: "),
        ("freight +5 %", "is \"ocean freight\" meant?"),
        ("freigth +5 %", "is \"ocean freight\" meant?"),
        ("clearance +5 %", "legs: "),
        ("ocean freight +2,5 %", "a figure has a decimal point: write \"ocean freight +2.5 %\""),
        ("nothing of it", "write what changes and how"),
        ("1 USD = 0.9 EUR", "the other way round"),
        ("1 EUR = 0.9 GBP", "has no rate with use = \"plan\" between EUR and GBP"),
        (
            "duty +5 %",
            "it is 2.5 %: write \"duty = 2.625 %\" (5 % more) or \"duty = 7.5 %\" (5 points more)",
        ),
        ("duty -5 %", "it is 2.5 %: write \"duty = 2.375 %\" (5 % less)"),
        ("ocean freight = 12 EUR", "it is in USD, and not in EUR: it stands at 2,000.00 USD"),
        ("ocean freight = -12 USD", "-12.00 USD is below 0"),
        ("ocean freight = 3 %", "it stands at 2,000.00 USD"),
        ("drayage +3", "+3 of what? A change by a figure is in percent: write \"drayage +3 %\""),
        ("leg haulage +3 %", "\"haulage\" is a charge, and no leg: write \"haulage +3 %\""),
        ("loss = 150 %", "a loss is 0 % or more, and less than 100 %"),
        ("bundles = 300", "bundles are 1 to 200"),
        ("sails = 2027-13-01", "there is no month 13"),
        ("sails = 2027-02-30", "February 2027 has 28 days"),
        ("1 EUR = 0 USD", "a rate of exchange is above 0"),
        (
            "density = 0 kg/m3",
            "a stone has 300 to 8000 kg/m3, and chalk has 2500: write it such as",
        ),
        ("density -100 %", "a stone has 300 to 8000 kg/m3"),
        (
            "price = -4 EUR/m2",
            "expected a price of 0 or more; write a reduction as `discount`: write",
        ),
        ("price = 40 USD/m2", "the price of line A is 40.00 EUR/m2"),
        ("price of B = 40 EUR/m2", "no offer and no line is called \"B\": plain A"),
        ("main carriage = 5 USD", "write it such as \"main carriage +20 %\""),
        ("sails = soon", "sails = 2026-05-16"),
        ("payment = 30 %", "write payments such as"),
        (
            "payment = 30 % on order",
            ": the payments make 30 % of the invoice: add \"rest 60 days after arrival\"",
        ),
        (
            "payment = 60 % on order, 60 % on arrival",
            "make 120 % of the invoice: correct the percentages",
        ),
        (
            "payment = 100 % on order, rest on arrival",
            "make 100 % of the invoice: leave out the rest",
        ),
        (
            "payment = rest on order, rest on arrival",
            "two payments are of the rest: write one of them",
        ),
        ("payment = 0 % on order, rest on arrival", "write payments such as"),
        ("density of ink +3 %", "none of the offers is of a stone \"ink\": chalk"),
        ("loss = 100 %", "loss = 5 %"),
        ("ocean freight -120 %", "write at least \"ocean freight -100 %\""),
    ];
    // All at once.
    let sets = wrong.iter().flat_map(|(set, _)| ["--set", set]);
    let args: Vec<&str> = ["what-if", NAME].into_iter().chain(sets).collect();
    let output = run(tiny.path(), &args);
    assert_eq!(output.status.code(), Some(2));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    for (at, (set, what)) in wrong.iter().enumerate() {
        let own = said.split("error: --set ").nth(at + 1).unwrap();
        assert!(own.starts_with(&format!("\"{set}\"")) && own.contains(what), "{own}");
    }
    // A name is taken with capitals, too; and over a range nothing is changed twice.
    let twice = [
        "Ocean Freight +5 %",
        "--set",
        "ocean freight +6 %",
        "--over",
        "sails=2026-04-11..2026-04-12",
    ];
    let (code, said) = ends(&tiny, &[&["what-if", NAME, "--set"][..], &twice].concat());
    assert_eq!(code, Some(2));
    assert!(said.contains("\"Ocean Freight +5 %\" changes the same"), "{said}");
    // A day out of its order is no number, and the answer is "no" where no offer has a cost.
    let output = run(tiny.path(), &["what-if", NAME, "--set", "arrives = 2026-04-01"]);
    assert_eq!(output.status.code(), Some(3));
    let page = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(page.contains("its days would not be in"), "{page}");
}

#[test]
fn offers_are_ranked_in_each_case_and_no_line_is_wider_than_an_e_mail() {
    let tiny = workspace();
    tiny.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    tiny.append(
        FILE,
        "\n[[way]]\nid = \"cif\"\nterm = \"CIF USSAV\"\nline = [{ id = \"A\", price = \"170.00 EUR/m2\" }]\n",
    );
    let args =
        ["what-if", NAME, "--set", "ocean freight +20 %", "--set", "price of plain, way cif -20 %"];
    let page = json(&tiny, &args);
    let ranks = |case: usize| {
        let costs = page["cases"][case]["costs"].as_array().unwrap().iter();
        costs.map(|one| one["rank"].as_u64().unwrap()).collect::<Vec<_>>()
    };
    assert_eq!([ranks(0), ranks(1), ranks(2)].concat(), [1, 2, 2, 1, 2, 1]);
    let text = stdout(tiny.path(), &args);
    assert!(text.lines().all(|line| line.chars().count() <= 78), "{text}");
}

#[test]
fn the_spans_of_days_are_what_cost_says_of_each_day() {
    let tiny = workspace();
    tiny.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    tiny.append(
        FILE,
        "\n[[way]]\nid = \"cif\"\nterm = \"CIF USSAV\"\nline = [{ id = \"A\", price = \"188.00 EUR/m2\" }]\n",
    );
    // A season that makes the carriage dear, and so the CIF price the cheaper.
    let row = "amount = \"2000 USD\"\nper = \"container\"\nvalid = \"2026-03-01..2026-06-30\"";
    let (until, from) = (row.replace("06-30", "04-16"), row.replace("03-01", "04-17"));
    let head = "lane = \"TRIZM-USSAV\"\ncontainer = \"20gp\"\nname = \"ocean freight\"\nleg = \"main carriage\"\n";
    let season = format!(
        "{until}\nsource = \"invented\"\n[[charge]]\n{head}{}",
        from.replace("2000", "2600")
    );
    tiny.replace("rates/freight.toml", row, &season);
    // One amount is set in every row of the name, and the page says which of them do not serve now.
    let said = stdout(tiny.path(), &["what-if", NAME, "--set", "ocean freight = 2100 USD"]);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    let beside = "also sets rows that do not serve as offered: 2,600.00 USD (20gp), in force 2026-04-17..2026-06-30.";
    assert!(said.contains(beside), "{said}");
    let chart = tiny.path().join("lines.svg");
    let over = ["what-if", NAME, "--over", "sails=2026-04-10..2026-04-24"];
    let page = json(&tiny, &[&over[..], &["--chart", chart.to_str().unwrap()]].concat());
    let text = std::fs::read_to_string(tiny.path().join(FILE)).unwrap();
    for (at, day) in page["values"].as_array().unwrap().iter().zip(10..) {
        let dates = format!("sails = 2026-04-{day}, arrives = 2026-05-{:02}", day - 2);
        let moved = text.replace("sails = 2026-04-11, arrives = 2026-05-09", &dates);
        tiny.write(FILE, &moved);
        let (_, costed) = tiny.cost(NAME);
        let own = &at["costs"][0];
        assert_eq!(own["landed"], costed.landed.total.amount().to_string(), "{dates}");
        assert_eq!(own["decision"], costed.landed.decision.amount().to_string(), "{dates}");
    }
    tiny.write(FILE, &text);
    let ranges = page["ranges"].as_array().unwrap().iter();
    let ranges: Vec<[&str; 3]> =
        ranges.map(|one| ["from", "to", "cheaper"].map(|key| one[key].as_str().unwrap())).collect();
    let expected =
        [["2026-04-10", "2026-04-16", "plain"], ["2026-04-17", "2026-04-24", "plain, way cif"]];
    assert_eq!(ranges, expected);
    // The drawing has a line for each offer, each in a stroke of its own, and the day on which the order flips.
    let drawn = std::fs::read_to_string(chart).unwrap();
    assert!(
        drawn.contains("from 2026-04-17 on: plain, way cif")
            && drawn.contains("stroke-dasharray:120 60")
    );
    assert!(drawn.matches("<polyline").count() >= 5 && drawn.matches("<circle").count() == 2);
    assert!(!drawn.contains("fill:red") && drawn.ends_with("</svg>\n"));
    // Alone, an offer has spans and no winner.
    let alone = ["what-if", "two-boxes", "--over", "sails=2026-04-10..2026-04-24"];
    let alone = stdout(tiny.path(), &alone);
    assert!(
        !alone.contains("cheapest") && alone.lines().all(|line| line.chars().count() <= 78),
        "{alone}"
    );
}

#[test]
fn a_range_says_where_another_forwarder_serves_and_keeps_that_row_and_the_one_as_offered() {
    let tiny = workspace();
    // 2,000 of one, 1,800 and 300 of the other: they are alike at 150 %.
    let rates = std::fs::read_to_string(tiny.path().join("rates/freight.toml")).unwrap();
    let (own, rest) = rates.split_once("[[limit]]").unwrap();
    let of = |text: &str, offer: &str| {
        text.replace("valid = ", &format!("offer = \"{offer}\"\nvalid = "))
    };
    let fee =
        of(own.split("[[charge]]").nth(1).unwrap(), "far").replace("ocean freight", "booking fee");
    let other = of(own, "far").replace("2000 USD", "1800 USD");
    let limit = rest.split("[[charge]]").next().unwrap();
    let limits = format!("[[limit]]{}[[limit]]{}", of(limit, "near"), of(limit, "far"));
    let fee = format!("[[charge]]{}", fee.replace("2000 USD", "300 USD"));
    let rest = rest.strip_prefix(limit).unwrap();
    tiny.write("rates/freight.toml", &[&of(own, "near"), &other, &fee, &limits, rest].concat());
    let alone = ["what-if", NAME, "--over", "ocean freight = 80..180 %"];
    let page = stdout(tiny.path(), &alone);
    let flat = page.split_whitespace().collect::<Vec<_>>().join(" ");
    let kink = "From 151 on plain takes freight far, in the place of freight near: its line has a kink there.";
    assert!(flat.contains(kink), "{page}");
    // Of two offers the rows of a long table are the ends of ranges, the kinks and 100 %.
    for file in ["shipment.toml", "packing.csv"] {
        let own = tiny.path().join("shipments/plain").join(file);
        tiny.write(&format!("shipments/other/{file}"), &std::fs::read_to_string(own).unwrap());
    }
    let both = ["what-if", NAME, "other", "--over", "ocean freight = 80..180 %"];
    let page = stdout(tiny.path(), &both);
    let has_row =
        |value: &str| page.lines().any(|line| line.split_whitespace().next() == Some(value));
    assert!(["100", "151"].into_iter().all(has_row) && !has_row("120"), "{page}");
}

#[test]
fn changes_hold_at_every_value_of_a_range() {
    let (offered, changed) = (workspace(), workspace());
    let set = ["--set", CHANGES[0].0, "--set", CHANGES[9].0];
    for (_, edits) in [CHANGES[0], CHANGES[9]] {
        write_in(&changed, edits);
    }
    let over = ["what-if", NAME, "--over", "sails=2026-04-20..2026-04-22"];
    let both = [&over[..], &set].concat();
    let page = json(&offered, &both);
    assert_eq!(page["values"], json(&changed, &over)["values"]);
    assert_eq!(page["changes"], serde_json::json!([CHANGES[0].0, CHANGES[9].0]));
    let text = stdout(offered.path(), &both);
    assert!(text.contains("ocean freight +20 %") && text.contains("density +4 %"), "{text}");
    let late = [&over[..], &["--set", "arrives = 2026-04-01"]].concat();
    let (code, said) = ends(&offered, &late);
    assert_eq!(code, Some(3), "{said}");
    assert!(said.contains("plain cannot be changed so: its days would not be in"), "{said}");
}

#[test]
fn a_term_on_the_line_is_the_term_in_the_file_and_its_legs_go_with_it() {
    let tiny = workspace();
    tiny.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    let [term, freight] = ["term = CIF USSAV", "ocean freight +20 %"];
    let page = json(&tiny, &["what-if", NAME, "--set", term, "--set", freight]);
    let of = |case: usize| {
        ["landed", "decision"].map(|key| page["cases"][case]["costs"][0][key].clone())
    };
    let over = ["what-if", NAME, "--over", "sails=2026-04-20..2026-04-21"];
    let spans = json(&tiny, &[&over[..], &["--set", term]].concat());
    let (code, said) = ends(&tiny, &["what-if", NAME, "--set", "term = CIF USNYC"]);
    assert_eq!(code, Some(3), "{said}");
    let (code, said) = ends(&tiny, &["what-if", NAME, "--set", "term = CIF"]);
    assert_eq!(code, Some(2), "{said}");
    tiny.replace(FILE, "term = \"FOB TRIZM\"", "term = \"CIF USSAV\"");
    assert_eq!(of(1), costs(&tiny));
    assert_ne!(of(1), of(0));
    // Under CIF the freight is the seller's.
    assert_eq!(of(3), of(1));
    assert_eq!(spans["values"], json(&tiny, &over)["values"]);
}

#[test]
fn one_shipment_named_twice_is_refused_as_compare_refuses_it() {
    let tiny = workspace();
    let path = tiny.path().join("shipments/plain");
    let path = path.to_str().unwrap();
    let what_if = |again| ["what-if", NAME, again, "--set", CHANGES[0].0];
    for again in [NAME, path] {
        let refused = ends(&tiny, &what_if(again));
        assert_eq!(refused, ends(&tiny, &["compare", NAME, again]));
        assert_eq!(refused.0, Some(2));
    }
    let said = ends(&tiny, &what_if(NAME)).1;
    assert!(said.contains("error: \"plain\" is named twice"), "{said}");
    assert!(ends(&tiny, &what_if(path)).1.contains("are one shipment"));
}

/// The ranges of a sweep: freight, rate and price, the first two of one source.
const SWEEP: &str = "[[range]]\nof = \"ocean freight\"\nfrom = \"-10 %\"\nto = \"+30 %\"\nmode = \"+5 %\"\nsource = \"fuel\"\n\
                     [[range]]\nof = \"1 EUR\"\nfrom = \"1.05 USD\"\nto = \"1.20 USD\"\nsource = \"fuel\"\n\
                     [[range]]\nof = \"price of plain A\"\nfrom = \"39.00 EUR/m2\"\nto = \"41.00 EUR/m2\"\n";

/// The workspace with another way to buy the goods, and a sweep.
fn swept() -> Tiny {
    let tiny = workspace();
    tiny.replace(FILE, "to = \"savannah\"\n", "to = \"savannah\"\nlane = \"TRIZM-USSAV\"\n");
    tiny.append(
        FILE,
        "\n[[way]]\nid = \"cif\"\nterm = \"CIF USSAV\"\nline = [{ id = \"A\", price = \"188.00 EUR/m2\" }]\n",
    );
    tiny.write("ranges.toml", SWEEP);
    tiny
}

fn sweep_of(tiny: &Tiny, more: &[&str]) -> Vec<String> {
    let file = tiny.path().join("ranges.toml");
    let args = ["what-if", NAME, "--sweep", file.to_str().unwrap(), "--draws", "40"];
    args.iter().chain(more).map(|word| (*word).to_owned()).collect()
}

#[test]
fn a_sweep_is_the_same_at_any_count_of_threads_and_another_at_another_seed() {
    let tiny = swept();
    let text = |seed: &str, threads: &str| {
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_quaystone"))
            .arg("--dir")
            .arg(tiny.path())
            .args(sweep_of(&tiny, &["--seed", seed]))
            .env("RAYON_NUM_THREADS", threads)
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        String::from_utf8(output.stdout).unwrap()
    };
    let one = text("7", "1");
    assert_eq!(one, text("7", "2"));
    assert_ne!(one, text("8", "2"));
    assert!(one.lines().all(|line| line.chars().count() <= 78), "{one}");
}

#[test]
fn a_sweep_counts_wins_ranks_swings_and_plans_draws_anew() {
    let tiny = swept();
    let args = sweep_of(&tiny, &[]);
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let page = json(&tiny, &args);
    let figure = |value: &Value| value["per_m2"].as_str().unwrap().parse::<f64>().unwrap();
    let offers = page["offers"].as_array().unwrap();
    let wins: Vec<u64> = offers.iter().map(|one| one["wins"].as_u64().unwrap()).collect();
    assert_eq!(wins.iter().sum::<u64>(), 40);
    for offer in offers {
        assert!(figure(&offer["p10"]) <= figure(&offer["p50"]), "{offer}");
        assert!(figure(&offer["p50"]) <= figure(&offer["p90"]), "{offer}");
        // One box whatever moves: planned anew, each draw comes to the same, to the cent.
        assert_eq!([&offer["planned_anew"], &offer["came_to_the_same"]], [40, 40], "{offer}");
        assert_eq!(offer["most_off"], "0.00");
    }
    // The ends of a range alone are what the change costs, and ranges stand by how far they move an offer.
    let ranges = page["ranges"].as_array().unwrap();
    let swing = |range: &Value| {
        let all = range["swings"].as_array().unwrap().iter();
        all.map(|one| figure(&one["swing"])).fold(0.0, f64::max)
    };
    assert!(ranges.is_sorted_by(|one, other| swing(one) >= swing(other)), "{page}");
    let set = ["what-if", NAME, "--set", "ocean freight -10 %", "--set", "ocean freight +30 %"];
    let exact = json(&tiny, &set);
    let freight = ranges.iter().find(|one| one["of"] == "ocean freight").unwrap();
    for (end, case) in [("at_lower", 1), ("at_upper", 2)] {
        let cost = &exact["cases"][case]["costs"][0]["per_m2"];
        assert_eq!(freight["swings"][0][end]["per_m2"], *cost, "{end}");
    }
    // A range with one value has one cost.
    let point = "[[range]]\nof = \"1 EUR\"\nfrom = \"1.22 USD\"\nto = \"1.22 USD\"\n";
    tiny.write("ranges.toml", point);
    let page = json(&tiny, &args);
    let cost = json(&tiny, &["what-if", NAME, "--set", "1 EUR = 1.22 USD"]);
    for percentile in ["p10", "p50", "p90"] {
        let own = &page["offers"][0][percentile]["per_m2"];
        assert_eq!(*own, cost["cases"][1]["costs"][0]["per_m2"], "{percentile}");
    }
}

#[test]
fn what_is_wrong_with_a_sweep_is_told_all_at_once_with_its_line() {
    let tiny = swept();
    let range = |of: &str, from: &str, to: &str| {
        format!("[[range]]\nof = \"{of}\"\nfrom = \"{from}\"\nto = \"{to}\"\n")
    };
    let text = [
        range("ocean frieght", "-1 %", "+1 %"),
        range("sails", "2026-04-12", "2026-04-20"),
        range("1 EUR", "1.05 USD", "1.20 USD") + "mode = \"1.30 USD\"\n",
        range("price", "-1 %", "+1 %") + "shape = \"round\"\n",
    ];
    tiny.write("ranges.toml", &text.concat());
    let args = sweep_of(&tiny, &[]);
    let output = run(tiny.path(), &args.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    for what in [
        "ranges.toml:3:8",
        "is \"ocean freight\" meant?",
        "\"sails\" is not drawn from a range",
        "the likeliest value lies outside its range",
        "has no key `shape`",
    ] {
        assert!(said.contains(what), "{what}: {said}");
    }
    let twice =
        [range("ocean freight", "-1 %", "+1 %"), range("charge ocean freight", "-2 %", "+2 %")];
    tiny.write("ranges.toml", &twice.concat());
    let output = run(tiny.path(), &args.iter().map(String::as_str).collect::<Vec<_>>());
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("is drawn from two ranges") && said.contains("first here"), "{said}");
    tiny.write("ranges.toml", "");
    let output = run(tiny.path(), &args.iter().map(String::as_str).collect::<Vec<_>>());
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("the sweep has no [[range]]"), "{said}");
}

/// What a command says on the way to its exit code.
fn ends(tiny: &Tiny, args: &[&str]) -> (Option<i32>, String) {
    let output = run(tiny.path(), args);
    (output.status.code(), String::from_utf8_lossy(&output.stderr).into_owned())
}

#[test]
fn no_name_of_the_list_of_what_there_is_is_cut_and_a_duty_is_led_to_its_layers() {
    let tiny = workspace();
    let names: Vec<String> = (10..40).map(|at| format!("quay service number {at}")).collect();
    let rows = names.iter().map(|name| {
        format!(
            "\n[[charge]]\nname = \"{name}\"\namount = \"1 USD\"\nper = \"shipment\"\nleg = \"on-carriage\"\nvalid = \
             \"2026-01-01..2026-12-31\"\nsource = \"invented\"\n"
        )
    });
    tiny.append("rates/fees.toml", &rows.collect::<String>());
    tiny.append(
        "rates/fees.toml",
        "\n[[charge]]\nname = \"port strike of next year\"\namount = \"9 USD\"\nper = \"shipment\"\nleg = \
         \"on-carriage\"\nvalid = \"2027-01-01..2027-12-31\"\nsource = \"invented\"\n",
    );
    tiny.replace("rates/duty.toml", "name = \"duty\"", "name = \"duty on sawn chalk\"");
    let (code, said) = ends(&tiny, &["what-if", NAME, "--set", "duty +5 %"]);
    assert_eq!(code, Some(2), "{said}");
    assert!(
        names.iter().all(|name| said.contains(name.as_str())) && !said.contains("..."),
        "{said}"
    );
    assert!(
        said.contains("\"duty on sawn chalk\" meant")
            || said.contains("near it: duty and tax, duty on sawn chalk"),
        "{said}"
    );
    // What this one does not have is no part of the list; the name of a layer may begin as a kind does.
    let list = said.split("What there is:").nth(1).unwrap();
    assert!(!list.contains("port strike"), "{said}");
    for name in
        ["duty on sawn chalk", "duty duty on sawn chalk", "duty on sawn chalk on 6802.91.05"]
    {
        let set = format!("{name} = 15 %");
        let (code, said) = ends(&tiny, &["what-if", NAME, "--set", &set]);
        assert_eq!(code, Some(0), "{said}");
    }
    // A sweep tells the same of its ranges.
    tiny.write("ranges.toml", "[[range]]\nof = \"duty\"\nfrom = \"-1 %\"\nto = \"+1 %\"\n");
    let args = sweep_of(&tiny, &[]);
    let (_, said) = ends(&tiny, &args.iter().map(String::as_str).collect::<Vec<_>>());
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        names.iter().all(|name| said.contains(name.as_str())) && !said.contains("..."),
        "{said}"
    );
}

#[test]
fn what_if_of_no_change_and_over_of_a_duty_say_what_to_write() {
    let tiny = workspace();
    let (code, said) = ends(&tiny, &["what-if", NAME]);
    assert_eq!(code, Some(2));
    assert!(said.contains("--set, --over or --sweep is needed"), "{said}");
    let (code, said) = ends(&tiny, &["what-if", NAME, "--over", "duty = 80..130 %"]);
    assert_eq!(code, Some(2));
    assert!(said.contains("--over takes no duty: use what-if --set"), "{said}");
    let over = ["what-if", NAME, "--over", "bundles=1..3", "--chart", "lines.png"];
    let (code, said) = ends(&tiny, &over);
    assert_eq!(code, Some(2));
    assert!(said.contains("--chart draws SVG: write lines.svg"), "{said}");
    let (code, said) = ends(&tiny, &["what-if", NAME, "--set", "drayage +3 %", "--draws", "10"]);
    assert_eq!(code, Some(2));
    assert!(said.contains("--draws"), "{said}");
}

#[test]
fn an_end_of_a_range_may_be_the_whole_quote_in_its_direction() {
    let tiny = swept();
    let page = |from: &str, to: &str| {
        let range = format!("[[range]]\nof = \"1 EUR\"\nfrom = \"{from}\"\nto = \"{to}\"\n");
        tiny.write("ranges.toml", &range);
        let args = sweep_of(&tiny, &[]);
        stdout(tiny.path(), &args.iter().map(String::as_str).collect::<Vec<_>>())
    };
    assert_eq!(page("1 EUR = 1.02 USD", "1 EUR = 1.20 USD"), page("1.02 USD", "1.20 USD"));
    tiny.write(
        "ranges.toml",
        "[[range]]\nof = \"1 EUR\"\nfrom = \"1 USD = 0.98 EUR\"\nto = \"1.20 USD\"\n",
    );
    let args = sweep_of(&tiny, &[]);
    let (code, said) = ends(&tiny, &args.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(code, Some(1), "{said}");
    assert!(said.contains("\"1 USD = 0.98 EUR\" is no end of \"1 EUR\""), "{said}");
    assert!(said.contains("write only the value, such as from = \"1.02 USD\""), "{said}");
}

#[test]
fn one_offer_of_two_lines_is_swept_whole_and_several_are_told_what_to_add() {
    const SPRING: &str = "white-marble-spring";
    let tiny = Tiny::new();
    tiny.write(
        "ranges.toml",
        "[[range]]\nof = \"ocean freight\"\nfrom = \"+20 %\"\nto = \"+20 %\"\n",
    );
    let file = tiny.path().join("ranges.toml");
    let sweep = ["--sweep", file.to_str().unwrap(), "--draws", "20"];
    let said = |args: &[&str]| run(&demo(), args);
    let output = said(&[&["what-if", SPRING, "--as", "json"], &sweep[..]].concat());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let page: Value = serde_json::from_slice(&output.stdout).unwrap();
    // A range of one value: what the change costs, both lines together.
    let set = said(&["what-if", SPRING, "--set", "ocean freight +20 %", "--as", "json"]);
    let set: Value = serde_json::from_slice(&set.stdout).unwrap();
    assert_eq!(page["offers"][0]["p50"]["per_m2"], set["cases"][1]["costs"][0]["per_m2"]);
    assert_eq!(page["offers"][0]["wins"], 20);
    let several = ["what-if", "white-marble-cif", SPRING];
    let output = said(&[&several[..], &sweep].concat());
    assert_eq!(output.status.code(), Some(2));
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        told.contains("these have several sorts of goods (")
            && told.contains("add --across thickness,finish"),
        "{told}"
    );
    let output = said(&[&several[..], &sweep, &["--across", "thickness,finish"]].concat());
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

#[test]
fn the_page_says_which_change_moves_no_cost_and_which_line_is_not_compared() {
    let set = ["--set", "1 GBP = 1.22 USD", "--set", "ocean freight +20 %"];
    let args = [&["what-if", "white-marble-cif", "white-marble-spring"], &set[..]].concat();
    let page = stdout(&demo(), &args);
    for note in [
        "- 1 GBP = 1.22 USD moves no cost of white-marble-cif, white-marble-spring.",
        "- ocean freight +20 % moves no cost of white-marble-cif.",
        "- white-marble-spring without line B: another offer has no such goods.",
    ] {
        assert!(page.contains(note), "{page}");
    }
    let alone = stdout(&demo(), &["what-if", "white-marble-spring", "--set", "loss = 5 %"]);
    assert!(!alone.contains("without line") && !alone.contains("moves no cost"), "{alone}");
}
