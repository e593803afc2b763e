//! No command ends without a word: one that fails says why, and one that is done shows something.

use std::fmt::Write as _;
use std::fs;

use rayon::prelude::*;
use serde_json::Value;

use crate::cases::{Case, quaystone};
use crate::common::{Tiny, copy, stdout};
use crate::faults::all_cases;

/// Every command, on the shipment of the cases and on a copy of it beside it, which can be bought in two ways, so
/// that `compare` has three offers. `cost` is what most cases run by themselves.
const COMMANDS: [&str; 10] = [
    "check",
    "load plain",
    "load plain again",
    "load plain --for supplier",
    "letter plain",
    "cash plain",
    "explain plain A1",
    "compare plain again",
    "rates",
    "worksheet plain",
];

/// The other way to buy the copy.
const WAY: &str = "\n[[way]]\nid = \"the other way\"\nterm = \"FOB TRIZM\"\n";

/// What ended without a word of the commands on one case's workspace: every other command, so that two cases in a
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
    let mut wrong = String::new();
    let own = COMMANDS.iter().enumerate().filter(|(own, _)| is_all || (own + at) % 2 == 0);
    for (_, command) in own {
        let args: Vec<&str> = command.split(' ').collect();
        let output = quaystone(root, &args);
        let told = if output.status.success() { &output.stdout } else { &output.stderr };
        if told.is_empty() {
            let exit = output.status.code();
            writeln!(wrong, "{}: {command}: {exit:?} without a word", case.name).unwrap();
        }
    }
    wrong
}

#[test]
fn no_command_ends_without_a_word_on_any_case() {
    let cases = all_cases();
    let wrong: String = cases.par_iter().enumerate().map(silent).collect();
    assert!(wrong.is_empty(), "{wrong}");
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
