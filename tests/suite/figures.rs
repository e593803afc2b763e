//! Figures as they come: finer than can be measured, larger than can be, and what is nothing or less.

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use quaystone::choose::estimate;
use quaystone::cost;
use quaystone::customs;
use quaystone::fault::{Code, Report, Severity, render};
use quaystone::load::{Effort, summary};
use quaystone::quantity::{Area, Mass, Size, Written};
use quaystone::read;
use quaystone::trade::{Shipment, Slab, Tariffs};
use rayon::prelude::*;

use crate::common::{DEMO, Tiny, copy, demo, run, stdout};
use crate::random::{Dice, Made, Shape};

/// Reads a shipment, costs it, and works out what every command shows of it. Says what is wrong with the
/// way that it ends: a panic, or an end without a fault that has a file and a line.
fn ends(workspace: &Path, name: &str) -> Result<(), String> {
    let end = catch_unwind(AssertUnwindSafe(|| {
        let mut report = Report::new();
        let is_done = worked_out(workspace, name, &mut report).is_some();
        (is_done, report)
    }));
    let Ok((is_done, report)) = end else { return Err("a panic".to_owned()) };
    let errors = report.sorted().into_iter().filter(|fault| fault.severity == Severity::Error);
    let errors: Vec<_> = errors.collect();
    let has_place = errors.iter().all(|fault| fault.place.is_some());
    if is_done || (!errors.is_empty() && has_place) {
        return Ok(());
    }
    Err(format!("no fault with a line: {}", render(&report, false)))
}

fn worked_out(workspace: &Path, name: &str, report: &mut Report) -> Option<()> {
    let workspace = read::Workspace::find(workspace, report).ok()?;
    let tariffs = read::tariffs(&workspace, report).ok()?;
    let shipment = read::shipment(&workspace, name, &tariffs, report).ok()?;
    if report.has_errors() {
        return None;
    }
    every_command(&shipment, &tariffs, report)
}

/// What the commands work out of a shipment. A load that cannot be is an answer.
fn every_command(shipment: &Shipment, tariffs: &Tariffs, report: &mut Report) -> Option<()> {
    let Ok(costed) = estimate(shipment, tariffs, Effort::default(), report).ok()? else {
        return Some(());
    };
    let plan = &costed.plan;
    for filled in &plan.boxes {
        summary(plan, filled, &shipment.bundles).unwrap();
    }
    let said = costed.verdict.broken().concat();
    assert!(
        !said.contains("checked again by the tables") && !said.contains("out of range"),
        "{said}"
    );
    cost::explain(shipment, &costed.landed, 0).unwrap();
    customs::worksheet(&costed.landed.entries, &costed.landed.charges).unwrap();
    cost::prove(shipment, &costed.landed).unwrap();
    cost::cash(shipment, tariffs, (plan, &costed.choice), &costed.landed, report).ok().map(|_| ())
}

/// A packing list of small bundles, each side in 64ths of an inch, or in centimetres as a spreadsheet
/// writes out a sum of floats.
fn fine_list(dice: &mut Dice) -> String {
    let in_inches = dice.chance(50);
    let unit = if in_inches { "in" } else { "cm" };
    let mut list = format!("slab,bundle,length ({unit}),height ({unit})\n");
    let mut side = |least: u64, most: u64| {
        if in_inches {
            let sixty_fourths = dice.from(least * 64, most * 64);
            let rest = sixty_fourths % 64 * 1_000_000 / 64;
            return format!("{}.{rest:06}", sixty_fourths / 64);
        }
        let thousandths = dice.from(least * 2_540, most * 2_540);
        let (whole, part) = (thousandths / 1_000, thousandths % 1_000);
        let tail = dice.of(&["00000000000004", "99999999999997", "", "0000000000001"]);
        format!("{whole}.{part:03}{tail}")
    };
    let mut slabs = Vec::new();
    for slab in 0..3 {
        slabs.push(format!("S{slab},B{},{},{}\n", slab / 2, side(80, 120), side(40, 80)));
    }
    list.extend(slabs);
    list
}

#[test]
fn a_length_is_read_to_a_hundredth_of_a_millimetre_with_one_notice_a_column() {
    let tiny = Tiny::new();
    tiny.write(
        "shipments/plain/packing.csv",
        "slab,bundle,length (in),height (in)\nA,B,110.484375,60\nB,B,110.5,60.015625\nC,B,110.484375,60.015625\n",
    );
    let mut report = Report::new();
    let workspace = read::Workspace::find(tiny.path(), &mut report).unwrap();
    let tariffs = read::tariffs(&workspace, &mut report).unwrap();
    let shipment = read::shipment(&workspace, "plain", &tariffs, &mut report).unwrap();
    // By hand: 110 31/64 in are 2,806.303125 mm, 60 1/64 in are 1,524.396875 mm, 110.5 in are 2,806.7 mm.
    let areas: Vec<Area> = shipment.slabs.iter().map(Slab::gross_area).collect();
    let sizes = ["2806.3 x 1524 mm", "2806.7 x 1524.4 mm", "2806.3 x 1524.4 mm"];
    assert_eq!(areas, sizes.map(|size| Size::read(size).unwrap().area().unwrap()));
    let told = report.sorted().into_iter().filter(|fault| fault.code == Code::Notice);
    let told: Vec<(String, String)> = told
        .map(|fault| (fault.message.clone(), fault.place.as_ref().unwrap().0.to_string()))
        .filter(|(message, _)| message.contains("finer"))
        .collect();
    let file = "shipments/plain/packing.csv";
    let says =
        |column| format!("2 cells of \"{column}\" are finer than can be measured, and rounded");
    assert_eq!(
        told,
        [(says("length"), format!("{file}:2")), (says("height"), format!("{file}:3"))]
    );
}

#[test]
fn a_float_s_tail_is_no_figure() {
    // 281.68600000000004 cm are 2,816.86 mm, and halves go away from zero: 0.005 mm is 0.01 mm.
    let read = |text: &str| quaystone::quantity::Length::read(text).unwrap();
    assert_eq!(read("281.68600000000004 cm"), read("2816.86 mm"));
    assert_eq!(read("0.005 mm"), read("0.01 mm"));
    assert_eq!(read("0.00499999999999999999999999 mm"), read("0 mm"));
    assert_eq!(read("1.0000000000000000000000000001 in"), read("25.4 mm"));
    // A mass in pounds is exact as it was.
    assert_eq!(Mass::read("1 lb"), Mass::read("0.45359237 kg"));
    let tiny = Tiny::new();
    tiny.replace("rates/containers.toml", "clearance = \"50 mm\"", "clearance = \"50.001 mm\"");
    let output = run(tiny.path(), &["check", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("`clearance` is finer than can be measured, and rounded"), "{said}");
    assert!(said.contains("rates/containers.toml:11"), "{said}");
}

#[test]
fn fine_figures_pass_in_every_command() {
    let tiny = Tiny::new();
    let list = "slab,bundle,length (cm),height (cm)\nA,B,281.68600000000004,150.30999999999997\nB,B,281.68600000000004,150.1\nC,C,281.7,150.10000000000002\n";
    tiny.write("shipments/plain/packing.csv", list);
    copy(&tiny.path().join("shipments/plain"), &tiny.path().join("shipments/again"));
    for args in [
        "check plain",
        "load plain",
        "cost plain",
        "cash plain",
        "explain plain A --full",
        "worksheet plain",
        "compare plain again",
    ] {
        let args: Vec<&str> = args.split(' ').collect();
        let out = stdout(tiny.path(), &args);
        assert!(!out.is_empty(), "{args:?}");
    }
}

/// More of them: `QUAYSTONE_FINE=1000000`. The first of them: `QUAYSTONE_SEED=5000`.
#[test]
fn random_lists_of_fine_lengths_are_costed_and_loaded() {
    let number = |name: &str, or: u64| std::env::var(name).map_or(or, |text| text.parse().unwrap());
    let (first, runs) = (number("QUAYSTONE_SEED", 0), number("QUAYSTONE_FINE", 120));
    let part = runs.div_ceil(8);
    (0..8u64).into_par_iter().for_each(|worker| {
        let tiny = Tiny::new();
        let mut report = Report::new();
        let workspace = read::Workspace::find(tiny.path(), &mut report).unwrap();
        let tariffs = read::tariffs(&workspace, &mut report).unwrap();
        for run in 0..part {
            let mut dice = Dice::new(first + worker * part + run);
            let list = fine_list(&mut dice);
            tiny.write("shipments/plain/packing.csv", &list);
            let mut own = Report::new();
            let shipment = read::shipment(&workspace, "plain", &tariffs, &mut own).unwrap();
            let done = every_command(&shipment, &tariffs, &mut own);
            assert!(done.is_some() && !own.has_errors(), "{list}{}", render(&own, false));
        }
    });
}

#[test]
fn a_figure_out_of_range_is_a_fault_where_it_stands() {
    let nines = "9".repeat(28);
    let ship = "shipments/plain/shipment.toml";
    let freight = "rates/freight.toml";
    let places = "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [\"B1\", \"B2\"]\n\
        [[container.place]]\nbundle = \"B1\"\nx = \"9223372036854775000 mm\"\ny = \"50 mm\"\n\
        [[container.place]]\nbundle = \"B2\"\nx = \"3100 mm\"\ny = \"50 mm\"\n";
    for (file, old, new, line, expected) in [
        (
            freight,
            "amount = \"2000 USD\"",
            "amount = \"10000000000 USD\"",
            6,
            "at most 9,999,999,999.99 USD",
        ),
        (ship, "40.00 EUR/m2", "10000000000000000 EUR/m2", 0, "at most 9,999,999,999.99 EUR"),
        ("rates/duty.toml", "2.5 %", &format!("{nines} %"), 0, "at most 1,000,000 %"),
        ("rates/stones.toml", "2500 kg/m3", "100001 kg/m3", 0, "at most 100,000 kg/m3"),
        (
            "rates/yards.toml",
            "delivery-days = 3",
            "delivery-days = 4294967295",
            0,
            "from 0 to 1000000",
        ),
        ("rates/yards.toml", "5 t", "1000000001 t", 0, "at most 1,000,000,000 kg"),
        ("rates/containers.toml", "100 mm", "101 km", 0, "a length with its unit"),
        ("rates/containers.toml", "100 mm", "101 m", 0, "at most 100000 mm"),
        ("rates/containers.toml", "4.5 t/m", "0 t/m", 0, "the floor bears no gram"),
        (
            "rates/exchange.toml",
            "1 EUR = 1.10 USD",
            &format!("1 EUR = {nines} USD"),
            0,
            "at most 1,000,000,000 for 1",
        ),
        ("plan", "", places, 7, "at most 100000 mm"),
    ] {
        let tiny = Tiny::new();
        let file = if file == "plan" {
            tiny.write("shipments/plain/plan.toml", new);
            "shipments/plain/plan.toml"
        } else {
            tiny.replace(file, old, new);
            file
        };
        let output = run(tiny.path(), &["load", "plain"]);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{file} {new}: {said}");
        let place = if line > 0 { format!("{file}:{line}:") } else { format!("{file}:") };
        assert!(said.contains(&place) && said.contains(expected), "{file} {new}: {said}");
    }
}

/// Every column with figures, each with a figure beyond any, with nothing and with less than nothing: one
/// error, at the row, which says what would serve.
#[test]
fn a_cell_beyond_its_range_is_one_error_at_its_row() {
    const COLUMNS: [(&str, &str); 9] = [
        ("slab", "A1"),
        ("bundle", "B1"),
        ("length (cm)", "300"),
        ("height (cm)", "180"),
        ("billed length (cm)", "295"),
        ("billed height (cm)", "175"),
        ("thickness (cm)", "2"),
        ("weighed mass (kg)", "300"),
        ("pcs", "1"),
    ];
    let tiny = Tiny::new();
    let mut report = Report::new();
    let workspace = read::Workspace::find(tiny.path(), &mut report).unwrap();
    let tariffs = read::tariffs(&workspace, &mut report).unwrap();
    let header = COLUMNS.map(|(name, _)| name).join(",");
    let huge = format!("1{}", "0".repeat(27));
    for (at, (name, _)) in COLUMNS.iter().enumerate().skip(2) {
        for new in [&*huge, "9223372036854775808", "0", "-1"] {
            let mut cells = COLUMNS.map(|(_, cell)| cell);
            cells[at] = new;
            tiny.write("shipments/plain/packing.csv", &format!("{header}\n{}\n", cells.join(",")));
            let mut own = Report::new();
            let read = read::shipment(&workspace, "plain", &tariffs, &mut own);
            let errors: Vec<_> = own.sorted();
            let errors: Vec<_> =
                errors.into_iter().filter(|fault| fault.severity == Severity::Error).collect();
            let said = render(&own, false);
            let is_at_row = said.contains("--> shipments/plain/packing.csv:2:");
            assert!(read.is_err() && errors.len() == 1 && is_at_row, "{name} {new}: {said}");
            let label = errors[0].place.as_ref().unwrap().1.replace(new, "");
            let serves = format!("{label} {}", errors[0].help.concat());
            let is_said = serves.contains(|c: char| c.is_ascii_digit());
            assert!(is_said, "{name} {new}: {said}");
        }
    }
}

/// What may stand in place of a figure.
fn extreme(dice: &mut Dice) -> String {
    match dice.from(0, 9) {
        0 => "0".to_owned(),
        1 => "-1".to_owned(),
        2 => "9".repeat(28),
        3 => format!("0.{}1", "0".repeat(27)),
        4 => format!("-1{}", "0".repeat(usize::try_from(dice.from(1, 40)).unwrap())),
        5 => dice.of(&["9223372036854775807", "4294967295", "4294967296", "0.005"]).to_owned(),
        _ => format!("1{}", "0".repeat(usize::try_from(dice.from(0, 40)).unwrap())),
    }
}

/// The figures of a text that are no part of a word or a date, as byte ranges.
pub(crate) fn figures(text: &str) -> Vec<(usize, usize)> {
    let bytes = text.as_bytes();
    let is_part = |at: usize| bytes.get(at).is_some_and(|b| b.is_ascii_digit() || *b == b'.');
    let mut all = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        if !bytes[at].is_ascii_digit() {
            at += 1;
            continue;
        }
        let from = at;
        while is_part(at) {
            at += 1;
        }
        let glued = |byte: Option<&u8>| {
            byte.is_some_and(|b| b.is_ascii_alphabetic() || matches!(b, b'-' | b':' | b'_'))
        };
        let before = from.checked_sub(1).and_then(|before| bytes.get(before));
        let is_signed = text[..from].ends_with("\"-");
        if (is_signed || !glued(before))
            && bytes.get(at) != Some(&b'-')
            && !text[from..at].contains("..")
        {
            all.push((from, at));
        }
    }
    all
}

/// The files of a workspace's tables and of one of its shipments.
fn files(root: &Path, name: &str) -> Vec<PathBuf> {
    let mut all = Vec::new();
    for folder in [Path::new("rates").to_owned(), Path::new("shipments").join(name)] {
        for entry in fs::read_dir(root.join(&folder)).unwrap() {
            all.push(folder.join(entry.unwrap().file_name()));
        }
    }
    all.sort();
    all
}

/// How often each figure is tried, where `QUAYSTONE_FIGURES=100` says it: then the demo's are, too.
fn asked_times() -> Option<u64> {
    std::env::var("QUAYSTONE_FIGURES").ok().and_then(|times| times.parse().ok())
}

/// Replaces each figure of a workspace by an extreme, one at a time, or each of so many, from the first on.
fn each_figure_may_be_extreme(
    root: &Path,
    name: &str,
    seed: u64,
    (first, of): (usize, usize),
) -> Vec<String> {
    let times = asked_times().unwrap_or(1);
    let mut spots = Vec::new();
    for file in files(root, name) {
        let text = fs::read_to_string(root.join(&file)).unwrap();
        let all = figures(&text);
        spots.extend(all.into_iter().map(|spot| (file.clone(), spot)));
    }
    let spots: Vec<_> = spots.into_iter().skip(first).step_by(of).collect();
    let chunk = spots.len().div_ceil(8);
    let wrong = spots.par_chunks(chunk).enumerate().flat_map_iter(|(worker, spots)| {
        let tiny = Tiny::of(root, name);
        let mut dice = Dice::new(seed * 1_000 + u64::try_from(worker).unwrap());
        let mut wrong = Vec::new();
        for (file, (from, to)) in spots {
            let path = file.to_str().unwrap();
            let text = fs::read_to_string(root.join(file)).unwrap();
            for _ in 0..times {
                let new = extreme(&mut dice);
                tiny.write(path, &format!("{}{new}{}", &text[..*from], &text[*to..]));
                if let Err(what) = ends(tiny.path(), name) {
                    let line = text[..*from].lines().count();
                    wrong.push(format!("{path}:{line}: {} -> {new}: {what}", &text[*from..*to]));
                }
            }
            tiny.write(path, &text);
        }
        wrong
    });
    wrong.collect()
}

#[test]
fn no_figure_ends_without_a_fault_at_a_line() {
    let mut wrong = each_figure_may_be_extreme(&demo().join("tests/tiny"), "crowded", 1, (0, 1));
    for shape in [Shape::AnyTerms, Shape::Parts, Shape::DeliveredTaxed] {
        let made = Made::new(shape, 7);
        wrong.extend(each_figure_may_be_extreme(made.path(), "drawn", 2, (0, 1)));
    }
    // The shipments of the demo share its tables: each takes its part of their figures.
    let shipments = if asked_times().is_some() { &DEMO[..] } else { &[] };
    for (at, name) in shipments.iter().enumerate() {
        wrong.extend(each_figure_may_be_extreme(&demo(), name, 3, (at, DEMO.len())));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
