//! Ten thousand shipments of three hundred slabs, read, judged, costed and written as one list.
//!
//! `cargo bench --bench history` invents 100, 1,000 and 10,000 shipments whose loads are given, and
//! for each number runs a process of its own on all threads: wall time, the time of all threads
//! together, and the most memory it held. `-- 100 1000` runs those only. Before that it rounds 140
//! charges over 300 slabs, again and again, and tells the processor's time of one.
#![allow(
    clippy::expect_used,
    clippy::float_arithmetic,
    clippy::print_stdout,
    reason = "a bench prints, measures in seconds and stops where it cannot go on"
)]

mod generate;

use std::fs;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Instant;

use quaystone::bill::Members;
use quaystone::quantity::{Decimal, Units, Weights};
use quaystone::spread::{Amount, Nest, round};
use quaystone::trade::Tariffs;
use quaystone::{choose, cost, fault, load, read, show};
use rayon::prelude::*;

/// Shipments that are held at a time.
const BATCH: usize = 64;

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| arg != "--bench").collect();
    if let [flag, folder, count] = &args[..]
        && flag == "--run"
    {
        run(Path::new(folder), count.parse().expect("a number of shipments"));
        return;
    }
    if args.iter().any(|arg| arg == "--test") {
        return;
    }
    rounding();
    let mut counts: Vec<usize> = args.iter().filter_map(|arg| arg.parse().ok()).collect();
    if counts.is_empty() {
        counts = vec![100, 1_000, 10_000];
    }
    for count in counts {
        let workspace = workspace(count);
        let start = Instant::now();
        let child = Command::new(std::env::current_exe().expect("this bench"))
            .arg("--run")
            .arg(workspace.path())
            .arg(count.to_string())
            .output()
            .expect("a run of its own");
        let wall = start.elapsed();
        assert!(child.status.success(), "{}", String::from_utf8_lossy(&child.stderr));
        let told = String::from_utf8_lossy(&child.stdout);
        println!(
            "{count} shipments of {} slabs: {wall:.2?} of wall, {}",
            generate::SLABS,
            told.trim()
        );
    }
}

/// The demo's rates and invented shipments in a folder of their own.
fn workspace(shipments: usize) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let rates = folder.path().join("rates");
    fs::create_dir(&rates).expect("a folder");
    let demo = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("rates");
    for file in fs::read_dir(demo).expect("the demo's rates").flatten() {
        fs::copy(file.path(), rates.join(file.file_name())).expect("a copy");
    }
    generate::write(folder.path(), shipments).expect("invented shipments");
    folder
}

/// Reads, judges, costs and writes all shipments; tells what that took.
fn run(folder: &Path, count: usize) {
    let mut report = fault::Report::new();
    let workspace = read::Workspace::find(folder, &mut report).expect("a workspace");
    let tariffs = read::tariffs(&workspace, &mut report).expect("rates");
    let list = fs::File::create(folder.join("slabs.csv")).expect("a new file");
    let mut list = BufWriter::new(list);
    let numbers: Vec<usize> = (1..=count).collect();
    let mut broken = 0;
    for some in numbers.chunks(BATCH) {
        let texts: Vec<(Vec<u8>, bool)> =
            some.par_iter().map(|number| slabs(&workspace, &tariffs, *number)).collect();
        for (number, (text, breaks)) in some.iter().zip(texts) {
            broken += usize::from(breaks);
            // One head for all.
            let head = text.iter().position(|byte| *byte == b'\n').map_or(0, |end| end + 1);
            list.write_all(&text[if *number == 1 { 0 } else { head }..]).expect("written");
        }
    }
    list.flush().expect("written");
    let (seconds, memory) = (cpu_seconds(), most_memory_kib());
    println!("{seconds:.2} s of all threads, {memory} KiB at most; {broken} loads break a limit");
}

/// One shipment from its files to its lines of the list, and whether its load breaks a limit.
fn slabs(workspace: &read::Workspace, tariffs: &Tariffs, number: usize) -> (Vec<u8>, bool) {
    let mut report = fault::Report::new();
    let name = generate::name(number);
    let shipment =
        read::shipment(workspace, &name, tariffs, &mut report).expect("a shipment without faults");
    let costed = choose::estimate(&shipment, tariffs, load::Effort::default(), &mut report)
        .expect("no faults")
        .expect("boxes that carry it");
    let mut text = Vec::new();
    show::costed(&shipment, &costed, &[], cost::By::Slab, Units::Metric)
        .write(show::Format::Csv, 78, &mut text)
        .expect("written to memory");
    (text, !costed.verdict.keeps_limits())
}

/// Rounds 140 charges over 300 slabs: over all of them, over boxes, over bundles.
fn rounding() {
    let (slabs, bundles, boxes) = (300, 38, 6);
    let within = (0..slabs).map(|slab| slabs + slab / 8);
    let above = (0..bundles).map(|bundle| slabs + bundles + bundle / 7);
    let within = within.chain(above).chain((0..boxes).map(|_| slabs + bundles + boxes));
    let nest = Nest { slabs: slabs.try_into().expect("few slabs"), within: within.collect() };
    let scopes: Vec<Vec<u32>> = (0..140)
        .map(|charge| match charge {
            0..50 => (0..slabs).filter(|slab| slab / 8 == charge % bundles).collect(),
            50..80 => (0..slabs).filter(|slab| slab / 56 == charge % boxes).collect(),
            80..100 => (0..slabs).filter(|slab| slab % 3 != charge % 3).collect(),
            _ => (0..slabs).collect(),
        })
        .collect();
    let area = |slab: &u32| Decimal::from(4_800_000 + (slab * 7_919) % 1_900_000);
    let weights: Vec<Weights> = scopes
        .iter()
        .map(|slabs| Weights::of(slabs.iter().map(area)).expect("no area is negative"))
        .collect();
    let amounts: Vec<Amount<'_>> = (1..)
        .zip(weights.iter().enumerate())
        .map(|(at, (scope, weights))| Amount { units: at * 12_347 - 30_000, weights, scope })
        .collect();
    let members: Vec<Members<'_>> = scopes.iter().map(|slabs| Members::Listed(slabs)).collect();
    let times = 500_u32;
    let before = cpu_seconds();
    for _ in 0..times {
        std::hint::black_box(round(&amounts, &members, &nest));
    }
    let each = (cpu_seconds() - before) * 1_000.0 / f64::from(times);
    let cells: usize = scopes.iter().map(Vec::len).sum();
    println!("140 charges over 300 slabs ({cells} shares) rounded: {each:.2} ms");
}

/// The time that all threads of this process have taken, as Linux tells it.
fn cpu_seconds() -> f64 {
    let stat = fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = stat.rsplit(") ").next().unwrap_or("").split(' ').skip(11);
    // Hundredths of a second, for the program and for the system on its behalf.
    let ticks: u32 = fields.take(2).filter_map(|ticks| ticks.parse::<u32>().ok()).sum();
    f64::from(ticks) / 100.0
}

/// The most memory this process has held, as Linux tells it.
fn most_memory_kib() -> usize {
    let status = fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok()).unwrap_or(0)
}
