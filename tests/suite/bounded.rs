//! Work and pages that stay in proportion to what is given: faults, slabs, offers.

use std::fmt::Write as _;

use serde_json::Value;

use crate::common::{Tiny, run, stdout};

/// What a command says on stderr.
fn said(tiny: &Tiny, args: &[&str]) -> String {
    String::from_utf8(run(tiny.path(), args).stderr).unwrap()
}

#[test]
fn errors_of_syntax_stop_at_forty_a_file_with_a_count() {
    let tiny = Tiny::new();
    tiny.append("shipments/plain/shipment.toml", &".\n".repeat(2_000));
    let said = said(&tiny, &["cost", "plain"]);
    assert_eq!(said.matches("error[bad-syntax]").count(), 41, "{said}");
    let more = "1,960 more lines of shipments/plain/shipment.toml cannot be read";
    assert!(said.contains(more), "{said}");
    assert!(said.len() < 20_000, "{} bytes", said.len());
}

#[test]
fn a_line_that_goes_too_deep_is_told_at_its_line() {
    for line in [format!("a{} = 1", ".a".repeat(20_000)), format!("a = {}", "[".repeat(20_000))] {
        let tiny = Tiny::new();
        tiny.append("rates/exchange.toml", &format!("\n{line}\n"));
        let said = said(&tiny, &["cost", "plain"]);
        assert!(said.contains("rates/exchange.toml:37:"), "{said}");
        assert!(said.contains("too deep") && said.len() < 2_000, "{said}");
    }
}

#[test]
fn faults_stop_at_two_hundred_with_a_count() {
    let tiny = Tiny::new();
    let rows = |count: usize| {
        (0..count).fold(String::new(), |mut rows, at| {
            writeln!(rows, "[[exchange]]\nmark{at} = 1").unwrap();
            rows
        })
    };
    // A row without any of its four keys and with one that none has: five faults.
    tiny.append("rates/exchange.toml", &rows(300));
    let said = said(&tiny, &["cost", "plain"]);
    assert_eq!(said.matches("error[").count(), 200);
    assert!(said.ends_with("\n\nand 1,300 more\n\n"), "{}", &said[said.len() - 200..]);
}

/// A shipment of so many boxes with a bundle of four slabs in each.
fn boxes(count: usize) -> Tiny {
    let tiny = Tiny::new();
    let mut list = "slab,bundle,length (cm),height (cm)\n".to_owned();
    let mut plan = String::new();
    for at in 0..count {
        for slab in 0..4 {
            writeln!(list, "S{at:03}-{slab},B{at:03},30{slab},180").unwrap();
        }
        let row = format!("container = \"{at}\"\ntype = \"20gp\"\nbundles = [\"B{at:03}\"]");
        writeln!(plan, "[[container]]\n{row}").unwrap();
    }
    tiny.write("shipments/plain/packing.csv", &list);
    tiny.write("shipments/plain/plan.toml", &plan);
    tiny
}

#[test]
fn json_and_explain_grow_with_the_slabs_and_not_with_slabs_times_boxes() {
    for command in [
        &["cost", "plain", "--as", "json"][..],
        &["explain", "plain", "S003-1", "--full", "--as", "json"],
        &["explain", "plain", "S003-1", "--full"],
    ] {
        let [few, many] = [20, 80].map(|count| stdout(boxes(count).path(), command).len());
        assert!(many < 5 * few, "{command:?}: {few} and {many} bytes");
    }
}

#[test]
fn like_charges_are_listed_as_one_share_with_the_units_that_were_left_over() {
    let tiny = boxes(3);
    let cost = stdout(tiny.path(), &["cost", "plain", "--as", "json"]);
    let cost: Value = serde_json::from_str(&cost).unwrap();
    assert_eq!(cost["format"], 2);
    let charges = cost["charges"].as_array().unwrap();
    let freight: Vec<&Value> =
        charges.iter().filter(|charge| charge["name"] == "ocean freight").collect();
    assert_eq!(freight.len(), 3);
    let under = &freight[0]["charge"];
    assert!(freight.iter().all(|charge| charge["listed_under"] == *under));
    let shares: Vec<&Value> = cost["slabs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|slab| {
            let own = slab["charges"].as_array().unwrap();
            let listed: Vec<&Value> = own.iter().filter(|one| one["charge"] == *under).collect();
            assert_eq!(listed.len(), 1);
            listed[0]
        })
        .collect();
    let cents = |share: &Value| -> i64 {
        share["amount"].as_str().unwrap().replace('.', "").parse().unwrap()
    };
    // Three times 2,000 USD.
    assert_eq!(shares.iter().map(|share| cents(share)).sum::<i64>(), 600_000);
    // By area, slabs 300, 301, 302 and 303 cm long and alike high, three of each: of each 2,000 USD a slab
    // bears 300/3618 = 165.837..., 301/3618 = 166.390..., 302/3618 = 166.943..., 303/3618 = 167.495...
    // Cut, three of each length are 165.83 + 166.39 + 166.94 + 167.49, times three 1,999.95: of each
    // freight 5 cents are left over, of three 15.
    let left: u64 = shares.iter().map(|share| share["leftover"].as_u64().unwrap()).sum();
    assert_eq!(left, 15);
}

#[test]
fn a_headline_names_the_three_nearest_offers_and_counts_the_rest() {
    let tiny = Tiny::new();
    let freight = std::fs::read_to_string(tiny.path().join("rates/freight.toml")).unwrap();
    let row = freight.split("[[charge]]").nth(1).unwrap();
    assert!(row.contains("2000 USD"));
    let rows = (0..30).fold(String::new(), |mut rows, at| {
        let own = row.replace("2000 USD", &format!("{} USD", 2130 - at * 2));
        writeln!(rows, "[[charge]]{}offer = \"f{at:02}\"", own.trim_end().to_owned() + "\n")
            .unwrap();
        rows
    });
    tiny.write(
        "rates/freight.toml",
        &freight.replacen(row, "", 1).replacen("[[charge]]", &rows, 1),
    );
    let text = stdout(tiny.path(), &["cost", "plain", "--width", "400"]);
    let line = text.lines().find(|line| line.starts_with("offers ")).unwrap();
    // The cheapest, then the three next to it, then a count of the other 26.
    let named = ["freight f29; ", "freight f28: ", "freight f27: ", "freight f26: "];
    assert!(named.iter().all(|name| line.contains(name)), "{line}");
    assert!(!line.contains("f25") && line.ends_with("; and 26 more choices"), "{line}");
    let json = stdout(tiny.path(), &["cost", "plain", "--as", "json"]);
    let json: Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["other_offers"].as_array().unwrap().len(), 20);
    assert_eq!(json["other_offers_count"], 29);
    assert_eq!(json["other_offers"][0]["offers"][0]["offer"], "f28");
}

/// The most memory that a command ever held, in bytes, as the system counts it. It is looked at whenever more
/// of the page comes in: it never falls.
#[cfg(target_os = "linux")]
fn most_held(tiny: &Tiny, args: &[&str]) -> u64 {
    use std::io::Read as _;
    use std::process::{Command, Stdio};
    let mut child = Command::new(env!("CARGO_BIN_EXE_quaystone"))
        .arg("--dir")
        .arg(tiny.path())
        .args(args)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut page = child.stdout.take().unwrap();
    let (mut most, mut piece) = (0, vec![0; 1 << 16]);
    while page.read(&mut piece).unwrap() > 0 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", child.id()));
        let status = status.unwrap_or_default();
        let held = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        let held = held.and_then(|held| held.trim().strip_suffix(" kB")?.parse::<u64>().ok());
        most = most.max(held.unwrap_or(0) << 10);
    }
    assert!(child.wait().unwrap().success() && most > 0);
    most
}

/// What one slab more takes, in bundles of twenty and boxes of a thousand: a million of them are to take some
/// 300 MiB, and a slab no more of many than of few. Held are a slab (96 bytes), its line in the list (37), its
/// cents (16), its weights in each key (4 each), its part of its bundle and of the charges by the bundle, and
/// while cents are dealt out its sums and bounds (40). The rest is holes in the heap.
#[cfg(target_os = "linux")]
#[test]
fn a_slab_takes_little_memory_however_many_there_are() {
    const MOST: u64 = 350;
    let list = |count: usize| {
        let mut list = "slab,bundle,container,length (cm),height (cm)\n".to_owned();
        for at in 0..count {
            let (bundle, filled) = (at / 20, at / 1_000);
            let (length, height) = (38 + at * 7 % 50, 66 + at * 11 % 90);
            writeln!(list, "S{at:07},B{bundle:05},{filled},{length}.{},{height}", at % 10).unwrap();
        }
        let tiny = Tiny::new();
        tiny.write("shipments/plain/packing.csv", &list);
        tiny
    };
    let [few, many] = [8_000, 32_000].map(|count| (count, list(count)));
    for form in ["text", "html"] {
        let held = [&few, &many].map(|(_, tiny)| most_held(tiny, &["cost", "plain", "--as", form]));
        let more = u64::try_from(many.0 - few.0).unwrap();
        let each = held[1].saturating_sub(held[0]) / more;
        assert!(each <= MOST, "{form}: {each} bytes for a slab, {held:?} in all");
    }
}
