//! No command ends without a word: one that fails says why, and one that is done shows something.

use std::fs;
use std::path::Path;
use std::process::Output;

use rayon::prelude::*;
use serde_json::Value;

use crate::cases::{Case, quaystone};
use crate::common::{Tiny, copy, run, stdout};
use crate::every::{ALONE, COMMANDS, words};
use crate::faults::all_cases;

/// The other way to buy the copy that stands beside the shipment of a case: so `compare` has three offers.
const WAY: &str = "\n[[way]]\nid = \"the other way\"\nterm = \"FOB TRIZM\"\n";

/// Says how a command ended without a word, if it did. A command that is done shows a result. One that fails
/// tells an error. One that answers "no" says why, on its page or beside it.
fn without_a_word(output: &Output) -> Option<String> {
    let said = String::from_utf8_lossy(&output.stderr);
    let (shows, exit) = (!output.stdout.is_empty(), output.status.code());
    let is_told = match exit {
        Some(0) => shows,
        Some(1) => said.contains("error["),
        Some(2 | 4) => said.contains("error: "),
        Some(3) => shows || !said.is_empty(),
        _ => false,
    };
    (!is_told || said.contains("mistake of the program"))
        .then(|| format!("{exit:?} without a word: {said}"))
}

/// What ended without a word of the commands on one case's workspace: every 48th command, so that 48 cases in a
/// row see all of them, or each where `QUAYSTONE_DRAWN` asks for more.
fn silent((at, case): (usize, &Case)) -> String {
    let is_all = std::env::var_os("QUAYSTONE_DRAWN").is_some();
    let workspace = case.workspace();
    let root = workspace.path();
    if root.join("shipments/plain").is_dir() {
        let again = root.join("shipments/again");
        copy(&root.join("shipments/plain"), &again);
        // A case may be that there is no text to add to.
        if let Ok(text) = fs::read_to_string(again.join("shipment.toml")) {
            fs::write(again.join("shipment.toml"), text + WAY).unwrap();
        }
    }
    let own = COMMANDS.iter().enumerate().filter(|(own, _)| is_all || (own + at) % 48 == 0);
    own.map(|(_, command)| silence(root, command, &case.name)).collect()
}

/// The line about a command that ended without a word; nothing for another.
fn silence(root: &Path, command: &str, name: &str) -> String {
    let args = words(command, "plain", "again");
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let why = without_a_word(&quaystone(root, &args));
    why.map(|why| format!("{name}: {command}: {why}\n")).unwrap_or_default()
}

#[test]
fn no_command_ends_without_a_word_on_any_case() {
    let cases = all_cases();
    let tiny = Tiny::new();
    let alone: String =
        ALONE.iter().map(|command| silence(tiny.path(), command, "no case")).collect();
    let wrong: String = cases.par_iter().enumerate().map(silent).chain([alone]).collect();
    assert!(wrong.is_empty(), "{wrong}");
}

/// A command that is new is looked at, too.
#[test]
fn every_command_there_is_runs_over_the_cases() {
    let help = stdout(Tiny::new().path(), &["--help"]);
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    for line in listed.take_while(|line| !line.is_empty()) {
        let name = line.split_whitespace().next().unwrap();
        let mut runs = COMMANDS.iter().chain(&ALONE);
        let runs = runs.any(|command| command.split(' ').next() == Some(name));
        // `init`, `offer` and `import` read nothing of a case; their own tests run them.
        assert!(runs || ["help", "init", "offer", "import"].contains(&name), "{name} is missing");
    }
}

/// A file, what stands in it, and what comes in its place.
type Change = (&'static str, &'static str, &'static str);

/// A row of the yard's fees.
fn fee(rest: &str) -> String {
    format!(
        "\n[[charge]]\nname = \"fee\"\nleg = \"import clearance\"\n{rest}\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n"
    )
}

/// What is worked out of figures that are each within their range may still be more than is held. It is an
/// error that names the row and the largest amount, whatever it is: a charge, interest, a bond, a value.
#[test]
fn a_sum_too_large_to_be_held_is_an_error_at_its_row() {
    const FEES: &str = "rates/fees.toml";
    const DUTY: &str = "rates/duty.toml";
    const SHIP: &str = "shipments/plain/shipment.toml";
    let bond = "\n[[bond]]\nregime = \"us\"\nannual = \"9999999999 USD\"\nentries = 1\nleast = \"50000 USD\"\nshare = \"1000000 %\"\nsteps = [{ by = \"100000 USD\" }]\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n";
    // 14.8 m2 come to 148 thousand million EUR.
    let dear: Change = (SHIP, "40.00 EUR/m2", "9999999999.99 EUR/m2");
    let per_day =
        fee("rate = \"1000000 %\"\nof = \"goods\"\nper = \"day\"\ndays = \"sails..delivered\"");
    let interest = fee(
        "rate = \"1000000 %\"\nof = \"payments\"\ndays-in-year = 360\nuntil = \"delivered\"\nper = \"shipment\"",
    );
    let single = fee("rate = \"1 %\"\nof = \"single bond\"\nper = \"entry\"");
    let continuous =
        bond.to_owned() + &fee("rate = \"1 %\"\nof = \"continuous bond\"\nper = \"entry\"");
    let restricted = "line = \"6802.91.05\"\nrestricted = \"an agency (invented)\"";
    let step = "value-step = \"1 USD\"";
    for (what, changes, more, place) in [
        ("a charge by the day", vec![dear], per_day, FEES),
        ("interest", vec![dear], interest, FEES),
        (
            "a bond for one entry",
            vec![
                dear,
                ("rates/stones.toml", "line = \"6802.91.05\"", restricted),
                (DUTY, step, "value-step = \"1 USD\"\nrestricted-bond = 1000000"),
            ],
            single,
            FEES,
        ),
        ("a bond for the year", vec![], continuous, FEES),
        ("a duty", vec![dear, (DUTY, "2.5 %", "1000000 %")], String::new(), DUTY),
        (
            "the value for customs",
            vec![dear, ("rates/exchange.toml", "1 EUR = 1.0846 USD", "1 EUR = 1000000000 USD")],
            String::new(),
            "rates/stones.toml",
        ),
    ] {
        let tiny = Tiny::new();
        for (file, old, new) in changes {
            tiny.replace(file, old, new);
        }
        tiny.append(FEES, &more);
        let output = run(tiny.path(), &["cost", "plain"]);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{what}: {said}");
        let is_at = said.contains("error[overflow]") && said.contains(&format!("--> {place}:"));
        assert!(is_at && said.contains("1,000,000,000,000.00"), "{what}: {said}");
    }
}

/// Each offer has a fault of its own: none of them is left out, and no offer is taken.
#[test]
fn where_every_offer_is_at_fault_the_faults_of_all_are_told() {
    let tiny = Tiny::new();
    let freight = "rates/freight.toml";
    let text = fs::read_to_string(tiny.path().join(freight)).unwrap();
    let row = text.split("[[charge]]").nth(1).unwrap();
    let offer = |id: &str, amount: &str| {
        let own = row.replace("2000 USD", amount);
        format!("[[charge]]{}\noffer = \"{id}\"\n", own.trim_end())
    };
    let both = offer("one", "2000 CHF") + &offer("two", "2000 SEK");
    tiny.write(freight, &text.replacen(&format!("[[charge]]{row}"), &both, 1));
    let output = run(tiny.path(), &["cost", "plain"]);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(["CHF", "SEK"].iter().all(|code| said.contains(code)), "{said}");
}

#[test]
fn a_row_in_percent_of_charges_in_two_currencies_is_two_payments() {
    let tiny = Tiny::new();
    let lane = "lane = \"JPTYO-USORF\"";
    let pinned = format!("{lane}\noffers = {{ freight = \"f1\" }}");
    tiny.replace("shipments/crowded/shipment.toml", lane, &pinned);
    let cash = stdout(tiny.path(), &["cash", "crowded", "--as", "json"]);
    let cash: Value = serde_json::from_str(&cash).unwrap();
    let found: Vec<(&str, &str)> = cash["payments"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|flow| flow["name"].as_str().unwrap().starts_with("bunker surcharge"))
        .map(|flow| (flow["amount"].as_str().unwrap(), flow["currency"].as_str().unwrap()))
        .collect();
    // 7.35 % of the freight of each container: of 2,100.00 USD 154.35 USD; of 2,333.33 EUR
    // 171.499755 EUR, so 171.50 EUR.
    assert_eq!(found, [("154.35", "USD"), ("171.50", "EUR")]);
}
