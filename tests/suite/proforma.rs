//! Proformas as other programs write them, each with the invoice it comes to or what is said of it
//! (tests/import/proformas.py made them), and the total that `check` holds against ours.

use std::fs;
use std::path::Path;
use std::process::Output;

use toml::Table;

use crate::common::{Tiny, demo, run, stdout};
use crate::import::{import_into, said};

const NAME: &str = "white-marble-forty-net";
const FILE: &str = "shipments/white-marble-forty-net/shipment.toml";

fn import(tiny: &Tiny, file: &Path, options: &[&str], pasted: Option<&[u8]>) -> Output {
    import_into(NAME, tiny, file, options, pasted)
}

/// The only invoice of a shipment.
fn invoice(tiny: &Tiny) -> Table {
    let text = fs::read_to_string(tiny.path().join(FILE)).unwrap();
    let file: Table = text.parse().unwrap();
    file["invoice"].as_array().unwrap()[0].as_table().unwrap().clone()
}

#[test]
fn awkward_proformas_by_other_programs_come_to_what_they_say() {
    let table = fs::read_to_string(demo().join("tests/import/proformas.txt")).unwrap();
    let mut files = std::collections::BTreeSet::new();
    for line in table.lines().filter(|line| !line.starts_with('#')) {
        let cells: Vec<&str> = line.split(" | ").collect();
        let [file, options, pasted, expected, says @ ..] = &cells[..] else { panic!("{line}") };
        files.insert(*file);
        let tiny = Tiny::of_demo(NAME);
        let mut wanted = invoice(&tiny);
        let options: Vec<&str> = options.split(' ').filter(|one| *one != "-").collect();
        let folder = demo().join("tests/import/proformas");
        let bytes = fs::read(folder.join(file)).unwrap();
        let text = (*pasted == "pasted").then_some(&bytes[..]);
        let output = import(&tiny, &folder.join(file), &options, text);
        let said = said(&output);
        for words in says {
            assert!(said.contains(words), "{line}\n{words:?} is not in:\n{said}");
        }
        let is_read = *expected != "-";
        assert_eq!(output.status.code(), Some(i32::from(!is_read)), "{line}\n{said}");
        if is_read {
            wanted.remove("line");
            let own = fs::read_to_string(folder.join(expected)).unwrap();
            wanted.extend(own.parse::<Table>().unwrap());
        }
        assert_eq!(invoice(&tiny), wanted, "{line}\n{said}");
    }
    assert!(files.len() >= 8, "{} proformas", files.len());
}

#[test]
fn the_lines_of_a_proforma_cost_at_once_and_check_holds_its_total_against_ours() {
    let tiny = Tiny::of_demo(NAME);
    let file = demo().join("tests/import/proformas/plain.xlsx");
    let output = import(&tiny, &file, &[], None);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    // 120.50 m2 at 46.00 and 80.25 m2 at 52.40 EUR: 9,748.10 EUR as the supplier adds it up.
    let page = stdout(tiny.path(), &["check", NAME]);
    assert!(page.contains("sound"), "{page}");
    tiny.replace(FILE, "total = \"9748.10 EUR\"", "total = \"9749.10 EUR\"");
    let output = run(tiny.path(), &["check", NAME]);
    assert_eq!(output.status.code(), Some(3), "{}", said(&output));
    assert!(
        said(&output).contains("1.00 EUR above the 9,748.10 EUR worked out here"),
        "{}",
        said(&output)
    );
}

#[test]
fn beside_a_packing_list_a_line_states_what_it_bills() {
    let tiny = Tiny::of_demo("white-marble-april");
    let list = tiny.path().join("shipments/white-marble-april/packing.csv");
    tiny.write("p.csv", "Stone,Finish,Thickness (mm),Quantity (m2),Price EUR,Amount EUR\nTeapot White,polished,20,562.69,45.50,25602.40\n");
    assert!(list.exists());
    let file = tiny.path().join("p.csv").display().to_string();
    let args = ["import", &file, "--into", "white-marble-april", "--force"];
    stdout(tiny.path(), &args);
    let file = "shipments/white-marble-april/shipment.toml";
    let text = fs::read_to_string(tiny.path().join(file)).unwrap();
    assert!(
        text.contains("billed = { quantity = \"562.69 m2\", amount = \"25602.40 EUR\" }"),
        "{text}"
    );
    assert!(!text.contains("\nquantity"), "{text}");
    // What is there is replaced only where that is asked for.
    let output = run(tiny.path(), &args[..4]);
    assert_eq!(output.status.code(), Some(4), "{}", said(&output));
}
