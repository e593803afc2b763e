//! Packing lists as other programs write them, each with the clean list it comes to or what is said of it
//! (tests/import/make.py made them), and a list that goes out awkward and comes back the same.

use std::fmt::Write as _;
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use proptest::prelude::*;
use quaystone::fault::Report;
use quaystone::import::Answers;

use crate::common::{Tiny, demo, run, stdout};

const LIST: &str = "shipments/plain/packing.csv";

fn lists() -> PathBuf {
    demo().join("tests/import/lists")
}

/// `import FILE --into plain` in a workspace, with a text pasted where there is one.
fn import(tiny: &Tiny, file: &Path, options: &[&str], pasted: Option<&[u8]>) -> Output {
    import_into("plain", tiny, file, options, pasted)
}

/// `import FILE --into` a shipment of a workspace, with a text pasted where there is one.
pub(crate) fn import_into(
    shipment: &str,
    tiny: &Tiny,
    file: &Path,
    options: &[&str],
    pasted: Option<&[u8]>,
) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quaystone"));
    command.current_dir(tiny.path()).arg("import").arg(if pasted.is_some() {
        Path::new("-")
    } else {
        file
    });
    command.args(["--into", shipment, "--force"]).args(options);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    // A run that ends early hangs up.
    let _ = child.stdin.take().unwrap().write_all(pasted.unwrap_or_default());
    child.wait_with_output().unwrap()
}

/// What is printed, without line breaks.
pub(crate) fn said(output: &Output) -> String {
    let text = [&output.stdout[..], &output.stderr[..]].concat();
    String::from_utf8(text).unwrap().split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn thirty_awkward_lists_by_other_programs_come_to_what_they_say() {
    let table = fs::read_to_string(demo().join("tests/import/lists.txt")).unwrap();
    let mut files = std::collections::BTreeSet::new();
    for line in table.lines().filter(|line| !line.starts_with('#')) {
        let cells: Vec<&str> = line.split(" | ").collect();
        let [file, options, pasted, expected, says @ ..] = &cells[..] else { panic!("{line}") };
        files.insert(*file);
        let tiny = Tiny::new();
        let old = fs::read_to_string(tiny.path().join(LIST)).unwrap();
        let options: Vec<&str> = options.split(' ').filter(|one| *one != "-").collect();
        let path = lists().join(file);
        let before = fs::read(&path).unwrap();
        let text = (*pasted == "pasted").then(|| before.clone());
        let output = import(&tiny, &path, &options, text.as_deref());
        let said = said(&output);
        for words in says {
            assert!(said.contains(words), "{line}\n{words:?} is not in:\n{said}");
        }
        let is_list = *expected != "-";
        let wanted =
            if is_list { fs::read_to_string(lists().join(expected)).unwrap() } else { old };
        assert_eq!(fs::read_to_string(tiny.path().join(LIST)).unwrap(), wanted, "{line}\n{said}");
        assert_eq!(output.status.code(), Some(i32::from(!is_list)), "{line}\n{said}");
        assert_eq!(fs::read(&path).unwrap(), before, "{file} was changed");
    }
    assert!(files.len() >= 30, "{} lists", files.len());
}

/// The next of a row of numbers that look random (a linear congruential one, Knuth's MMIX constants).
fn next(state: &mut u64) -> usize {
    *state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    usize::try_from(*state >> 33).unwrap()
}

#[test]
fn broken_copies_of_every_list_are_read_or_told_why() {
    let mut state = 118;
    let mut files: Vec<PathBuf> =
        fs::read_dir(lists()).unwrap().map(|one| one.unwrap().path()).collect();
    files.sort();
    for file in files {
        let whole = fs::read(&file).unwrap();
        // The two that unpack to 70 MB are looked at once, above.
        for _ in 0..if whole.len() > 60_000 { 0 } else { 12 } {
            let mut bytes = whole.clone();
            for _ in 0..=next(&mut state) % 4 {
                let at = next(&mut state) % bytes.len();
                bytes[at] = u8::try_from(next(&mut state) % 256).unwrap();
            }
            if next(&mut state).is_multiple_of(3) {
                bytes.truncate(next(&mut state) % bytes.len() + 1);
            }
            let mut report = Report::new();
            let read = quaystone::import::import("list", &bytes, &Answers::default(), &mut report);
            assert!(read.is_ok() || report.has_errors(), "{}", file.display());
        }
    }
}

#[test]
fn a_word_like_total_in_a_remark_drops_no_slab() {
    let tiny = Tiny::new();
    let list = "slab;bundle;length (cm);height (cm);remarks\n1;B1;280;180;total loss of a corner\n2;B1;281;181;\n";
    let output = import(&tiny, Path::new("-"), &[], Some(list.as_bytes()));
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let wanted = "slab,bundle,length (cm),height (cm),remarks\n1,B1,280,180,total loss of a corner\n2,B1,281,181,\n";
    assert_eq!(fs::read_to_string(tiny.path().join(LIST)).unwrap(), wanted);
}

#[test]
fn a_mass_without_a_unit_is_asked_about() {
    let list = "bundle;slab;length (cm);height (cm);gross weight\nB1;1;280;180;1850\n;2;281;181;\n";
    let tiny = Tiny::new();
    let output = import(&tiny, Path::new("-"), &[], Some(list.as_bytes()));
    assert_eq!(output.status.code(), Some(1));
    assert!(said(&output).contains("--unit \"weighed mass=kg\""), "{}", said(&output));
    let output =
        import(&tiny, Path::new("-"), &["--unit", "weighed mass=kg"], Some(list.as_bytes()));
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let wanted = "slab,bundle,length (cm),height (cm),weighed mass (kg)\n1,B1,280,180,1850\n2,B1,281,181,1850\n";
    assert_eq!(fs::read_to_string(tiny.path().join(LIST)).unwrap(), wanted);
}

#[test]
fn an_imported_list_is_costed_as_one_written_by_hand() {
    let tiny = Tiny::new();
    let output = import(&tiny, &lists().join("plain.xlsx"), &[], None);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    // B1 and B2 are in it as in the list that was there; six slabs make 30.773 m2.
    let page = stdout(tiny.path(), &["cost", "plain"]);
    assert!(page.contains("6 slabs"), "{page}");
}

/// Found by the fuzzer: a formula that is longer than its record.
#[test]
fn a_workbook_that_a_reader_stumbles_over_is_a_fault_without_a_trace() {
    let tiny = Tiny::new();
    let mut bytes = fs::read(lists().join("subtotals-saved.xls")).unwrap();
    (bytes[3_794], bytes[4_008]) = (5, 165);
    let broken = tiny.path().join("broken.xls");
    fs::write(&broken, bytes).unwrap();
    let output = import(&tiny, &broken, &[], None);
    let text = said(&output);
    assert_eq!(output.status.code(), Some(1), "{text}");
    assert!(text.contains("cannot be read") && !text.contains("panicked"), "{text}");
}

#[test]
fn each_column_is_shown_with_its_unit_its_range_and_how_many_cells_agree() {
    let tiny = Tiny::new();
    let text = said(&import(&tiny, &lists().join("metres-by-area.xlsx"), &[], None));
    for words in [
        "6 slabs in 2 bundles",
        "Dimensions size m areas of 6 slabs 1.795 to 2.855 6 of 6",
        "6 of 6",
    ] {
        assert!(text.contains(words), "{words:?} is not in:\n{text}");
    }
}

#[test]
fn what_was_answered_is_kept_for_the_supplier() {
    let tiny = Tiny::new();
    let file = lists().join("no-unit.xlsx");
    assert_eq!(import(&tiny, &file, &[], None).status.code(), Some(1));
    let asked = import(&tiny, &file, &["--unit", "cm"], None);
    assert_eq!(asked.status.code(), Some(0), "{}", said(&asked));
    let kept: Vec<String> = fs::read_dir(tiny.path().join("shipments"))
        .unwrap()
        .map(|one| one.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".import.toml"))
        .collect();
    assert_eq!(kept.len(), 1, "{kept:?}");
    let text = fs::read_to_string(tiny.path().join("shipments").join(&kept[0])).unwrap();
    assert!(text.contains("unit = [\"cm\"]"), "{text}");
    // The next list of the supplier needs no answer.
    let again = import(&tiny, &file, &[], None);
    assert_eq!(again.status.code(), Some(0), "{}", said(&again));
    tiny.write(&format!("shipments/{}", kept[0]), "supplier = \"another (invented)\"\n");
    let other = import(&tiny, &file, &[], None);
    assert!(said(&other).contains("keeps what was answered for"), "{}", said(&other));
}

#[test]
fn init_import_and_cost_are_three_commands() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("own");
    let mut init = Command::new(env!("CARGO_BIN_EXE_quaystone"));
    let made =
        init.current_dir(folder.path()).args(["init", "own", "--regime", "us"]).output().unwrap();
    assert_eq!(made.status.code(), Some(0), "{}", said(&made));
    let list = lists().join("subtotals-saved.ods").display().to_string();
    let read = run(&own, &["import", &list, "--into", "first"]);
    assert_eq!(read.status.code(), Some(0), "{}", said(&read));
    let page = stdout(&own, &["cost", "first"]);
    assert!(page.contains("6 slabs, 2 bundles"), "{page}");
}

#[test]
fn areas_of_several_slabs_together_decide_the_unit() {
    // 2.82 x 1.81 x 3 = 15.3126; 2.83 x 1.80 = 5.094; together 20.4066.
    let list = "BLOK NO\tBAND\u{130}L NO\tPLAKA NO\tBOY\tEN\tADET\tM2\n4410\t1\t1-3\t282\t181\t3\t15,313\n\t\t4\t283\t180\t1\t5,094\nTOPLAM\t\t\t\t\t4\t20,407\n";
    let tiny = Tiny::new();
    let output = import(&tiny, Path::new("-"), &[], Some(list.as_bytes()));
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let wanted = "slab,bundle,block,length (cm),height (cm)\n1,1,4410,282,181\n2,1,4410,282,181\n3,1,4410,282,181\n4,1,4410,283,180\n";
    assert_eq!(fs::read_to_string(tiny.path().join(LIST)).unwrap(), wanted);
}

#[test]
fn nothing_is_replaced_unasked() {
    let tiny = Tiny::new();
    let old = fs::read_to_string(tiny.path().join(LIST)).unwrap();
    let file = lists().join("plain.xlsx").display().to_string();
    let output = run(tiny.path(), &["import", &file, "--into", "plain"]);
    assert_eq!(output.status.code(), Some(4), "{}", said(&output));
    assert!(said(&output).contains("is there already; --force overwrites it"));
    assert_eq!(fs::read_to_string(tiny.path().join(LIST)).unwrap(), old);
}

#[test]
fn what_cost_refuses_in_a_list_names_import_as_the_way_out() {
    for list in [
        "Packing list\n,,,\nslab,bundle,length (cm),height (cm)\n1,B1,280,180\n",
        "slab,bundle,size (cm)\n1,B1,280x180\n",
        "slab,bundle,length (in),height (in)\n1,B1,120 1/2,75 1/4\n",
        "slab,bundle,length (cm),height (cm)\n1,B1,280,180\n2,,280,180\n",
        "slab,bundle,length (cm),height (cm)\n1,B1,280,180\nTotal,,,\n",
        "slab,bundle,length (cm),height (cm)\n1,B1,280,180\n1,B2,280,180\n2,B1,280,180\n2,B2,280,180\n",
    ] {
        let tiny = Tiny::new();
        tiny.write(LIST, list);
        let output = run(tiny.path(), &["cost", "plain"]);
        assert_eq!(output.status.code(), Some(1), "{list}");
        assert!(said(&output).contains("quaystone import FILE --into"), "{list}{}", said(&output));
    }
}

/// How an awkward list heads its columns: slab, bundle, length, height, area, total.
const TONGUES: [[&str; 6]; 6] = [
    ["Slab No.", "Bundle", "Length", "Height", "Sqm", "Total"],
    ["Lastra", "Pacco", "Lunghezza", "Altezza", "Mq", "Totale"],
    ["Chapa", "Fardo", "Comprimento", "Altura", "m2", "Total"],
    ["Tabla", "Paquete", "Longitud", "Altura", "m2", "Total"],
    ["Plaka No", "Bandil", "Boy", "Y\u{fc}kseklik", "m2", "Toplam"],
    [
        "\u{677f}\u{53f7}",
        "\u{6346}\u{53f7}",
        "\u{957f}",
        "\u{9ad8}",
        "\u{9762}\u{79ef}(m2)",
        "\u{5408}\u{8ba1}",
    ],
];

/// A whole number of tenths of a millimetre in a unit, as people write it.
fn in_unit(tenths: u32, unit: &str, comma: bool) -> String {
    let places = match unit {
        "mm" => 1,
        "cm" => 2,
        _ => 4,
    };
    let scale = 10_u32.pow(places);
    let figure = format!("{}.{:0width$}", tenths / scale, tenths % scale, width = places as usize);
    let figure = figure.trim_end_matches('0').trim_end_matches('.');
    if comma { figure.replace('.', ",") } else { figure.to_owned() }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// A list of random sizes, headed in a language, in a unit, with numbers that begin again, subtotals and a
    /// bundle only in its first row, comes back as it was.
    #[test]
    fn a_list_that_goes_out_awkward_comes_back_the_same(
        sizes in prop::collection::vec((10_000_u32..35_000, 10_000_u32..22_000), 2..12),
        each in 1_usize..5,
        tongue in 0_usize..6,
        unit in prop::sample::select(vec!["mm", "cm", "m"]),
        comma in any::<bool>(),
        headed in any::<bool>(),
        titled in any::<bool>(),
    ) {
        let [slab, bundle, length, height, area, total] = TONGUES[tongue];
        let mark = if headed { format!(" ({unit})") } else { String::new() };
        let mut text = if titled { "Packing list 118 (invented);;;;\n;;;;\n".to_owned() } else { String::new() };
        writeln!(text, "{bundle};{slab};{length}{mark};{height}{mark};{area}").unwrap();
        let mut wanted = format!("slab,bundle,length ({unit}),height ({unit})\n");
        let is_alone = sizes.len() <= each;
        for (rank, own) in sizes.chunks(each).enumerate() {
            let mut sum = 0_u64;
            for (at, (long, high)) in own.iter().enumerate() {
                let square = u64::from(*long) * u64::from(*high);
                sum += square;
                let name = if at == 0 { format!("C{rank}") } else { String::new() };
                let [long, high] = [long, high].map(|side| in_unit(*side, unit, comma));
                let metres = format!("{}.{:08}", square / 100_000_000, square % 100_000_000);
                let metres = if comma { metres.replace('.', ",") } else { metres };
                writeln!(text, "{name};{};{long};{high};{metres}", at + 1).unwrap();
                let shown = if is_alone { format!("{}", at + 1) } else { format!("C{rank}-S{}", at + 1) };
                writeln!(wanted, "{shown},C{rank},{},{}", long.replace(',', "."), high.replace(',', ".")).unwrap();
            }
            let sum = format!("{}.{:08}", sum / 100_000_000, sum % 100_000_000);
            writeln!(text, "{total};{};;;{}", own.len(), if comma { sum.replace('.', ",") } else { sum }).unwrap();
        }
        let tiny = Tiny::new();
        let output = import(&tiny, Path::new("-"), &[], Some(text.as_bytes()));
        prop_assert_eq!(output.status.code(), Some(0), "{}\n{}", text, said(&output));
        let got = fs::read_to_string(tiny.path().join(LIST)).unwrap();
        prop_assert_eq!(got, wanted, "{}", text);
    }
}
