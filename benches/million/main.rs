//! The landed cost of a million slabs against a bare pass of the `csv` crate over the same bytes.
//!
//! `cargo bench --bench million` prints divan's table, then in one run, taken in turns: both from
//! file to file, as a user has them, `quaystone cost --as csv` and a program that only copies the
//! records; and both within memory. Each turn has its ratio, and the middle one counts, as a machine
//! is seldom as fast for a second as it is for a moment. Last, the most memory that a run of its own
//! holds per slab.
#![allow(
    clippy::expect_used,
    clippy::float_arithmetic,
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "a bench prints, measures in seconds and stops where it cannot go on"
)]

mod generate;

use std::fs;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

const SLABS: usize = 1_000_000;
const TURNS: usize = 9;

fn main() {
    if let Some(folder) = std::env::args().skip_while(|arg| arg != "--cost-once").nth(1) {
        let (shipment, ..) = cost(Path::new(&folder));
        eprintln!("{} {}", shipment.slabs.len(), most_memory_kib());
        return;
    }
    divan::main();
    if std::env::args().any(|arg| arg == "--test") {
        return;
    }
    let workspace = workspace(SLABS);
    let list = workspace.path().join("shipments/many/packing.csv");
    let packing = fs::read(&list).expect("generated");
    let copy = workspace.path().join("copy.csv");
    let result = workspace.path().join("result.csv");
    let (mut of_files, mut of_memory) = (Vec::new(), Vec::new());
    for _ in 0..TURNS {
        let bare = timed(|| bare_copy(&list, &copy));
        of_files.push((bare, timed(|| command(workspace.path(), &result))));
        let bare = timed(|| bare_pass(&packing));
        of_memory.push((bare, timed(|| cost(workspace.path()))));
    }
    println!("{SLABS} slabs, {TURNS} turns");
    for (how, mut turns) in [("file to file", of_files), ("in memory", of_memory)] {
        let ratio = |(bare, full): &(Duration, Duration)| full.as_secs_f64() / bare.as_secs_f64();
        let best = turns
            .iter()
            .copied()
            .reduce(|one, other| (one.0.min(other.0), one.1.min(other.1)))
            .expect("some turns");
        turns.sort_by(|one, other| ratio(one).total_cmp(&ratio(other)));
        let (bare, full) = turns[TURNS / 2];
        println!(
            "{how}: bare csv pass {bare:.3?}, cost --as csv {full:.3?}, ratio {:.2} in the middle \
             turn ({:.2} to {:.2}); best against best {:.2}",
            ratio(&(bare, full)),
            ratio(&turns[0]),
            ratio(&turns[TURNS - 1]),
            ratio(&best),
        );
    }
    let child = Command::new(std::env::current_exe().expect("this bench"))
        .arg("--cost-once")
        .arg(workspace.path())
        .output()
        .expect("a run of its own");
    let text = String::from_utf8_lossy(&child.stderr);
    let kib = text.split_whitespace().nth(1).and_then(|kib| kib.parse::<usize>().ok());
    match kib {
        Some(kib) => println!("most memory held: {} bytes a slab", kib * 1024 / SLABS),
        None => println!("most memory held: not known on this system"),
    }
}

/// How long a run takes. What it made is taken apart off the clock, as a command leaves that to the
/// end of its process.
fn timed<T>(run: impl FnOnce() -> T) -> Duration {
    let start = Instant::now();
    let made = std::hint::black_box(run());
    let elapsed = start.elapsed();
    drop(made);
    elapsed
}

/// The demo's rates and a generated shipment in a folder of their own.
fn workspace(slabs: usize) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let rates = folder.path().join("rates");
    fs::create_dir(&rates).expect("a folder");
    let demo = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("rates");
    for file in fs::read_dir(demo).expect("the demo's rates").flatten() {
        fs::copy(file.path(), rates.join(file.file_name())).expect("a copy");
    }
    generate::write(folder.path(), slabs).expect("a generated shipment");
    folder
}

/// Reads every record and writes as many.
fn copy_records<R: Read, W: Write>(mut reader: csv::Reader<R>, writer: &mut csv::Writer<W>) {
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).expect("a record") {
        writer.write_record(&record).expect("written");
    }
    writer.flush().expect("flushed");
}

/// A bare pass in memory.
fn bare_pass(packing: &[u8]) -> Vec<u8> {
    let mut writer = csv::Writer::from_writer(Vec::with_capacity(packing.len()));
    copy_records(csv::Reader::from_reader(packing), &mut writer);
    writer.into_inner().expect("flushed")
}

/// The same from file to file.
fn bare_copy(from: &Path, to: &Path) {
    let mut writer = csv::Writer::from_path(to).expect("a new file");
    copy_records(csv::Reader::from_path(from).expect("generated"), &mut writer);
}

/// The command itself, its output in a file.
fn command(workspace: &Path, to: &Path) {
    let done = Command::new(env!("CARGO_BIN_EXE_quaystone"))
        .args(["cost", "many", "--as", "csv", "--dir"])
        .arg(workspace)
        .stdout(fs::File::create(to).expect("a new file"))
        .status()
        .expect("the command");
    assert!(done.success(), "the command said no");
}

/// What `quaystone cost many --as csv` does, written to memory.
fn cost(workspace: &Path) -> (quaystone::trade::Shipment, quaystone::cost::Costed, Vec<u8>) {
    use quaystone::{cost, fault, load, quantity, read, show};
    let mut report = fault::Report::new();
    let workspace = read::Workspace::find(workspace, &mut report).expect("a workspace");
    let tariffs = read::tariffs(&workspace, &mut report).expect("rates");
    let shipment = read::shipment(&workspace, "many", &tariffs, &mut report).expect("a shipment");
    let costed = cost::estimate(&shipment, &tariffs, load::Effort::default(), &mut report)
        .expect("no faults")
        .expect("boxes that carry it");
    let mut out = Vec::with_capacity(shipment.slabs.len() * 80);
    show::costed(&shipment, &costed, &[], cost::By::Slab, quantity::Units::Metric)
        .write(show::Format::Csv, &mut out)
        .expect("written");
    (shipment, costed, out)
}

/// The most memory this process has held, as Linux tells it.
fn most_memory_kib() -> usize {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}

#[divan::bench(sample_count = 10)]
fn bare_csv_pass(bencher: divan::Bencher<'_, '_>) {
    let workspace = workspace(100_000);
    let packing = fs::read(workspace.path().join("shipments/many/packing.csv")).expect("generated");
    bencher.bench_local(|| bare_pass(&packing));
}

#[divan::bench(sample_count = 10)]
fn cost_as_csv(bencher: divan::Bencher<'_, '_>) {
    let workspace = workspace(100_000);
    bencher.bench_local(|| cost(workspace.path()));
}
