//! The loader on a folder of cases: one line a case, a summary line last.
//!
//! `cargo bench --bench loading -- FOLDER [--out SOLUTIONS] [--effort N] [--only TEXT]` reads
//! every `*.json` of form "stone-shipment-1" and every `*.bp`, solves on one thread, checks
//! each plan, and writes stone plans as JSON where `--out` says. `--random N` in the place of
//! the folder draws N invented loads of 1 to 30 bundles and prints those that are not proven
//! or took long; with `--only K`, or several with commas, it solves and prints those alone.
//! `--random-road N` draws them with axle limits, narrow balance and blocks. The seconds of invented loads
//! include the search for places; the last line has its part of them.
//! `--random-real N --seed S` draws whole shipments from seed S on until each stratum of 10 to 30, 31 to 60 and
//! 61 to 120 bundles has N, and prints a table of them; with `--only SEED`, or several with commas, those alone.
#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::unwrap_used,
    reason = "a bench reports to a terminal and may stop at a bad file"
)]

mod season;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use quaystone::load::engine::{
    BoxKind, Effort, Entry, Grouping, HalfPlane, LineLoad, Optimality, Piece, Placed, Problem,
    Rating, Solved, Violation, arrange, check, solve,
};
use serde_json::{Value, json};

struct Case {
    name: String,
    /// One for each destination.
    problems: Vec<(Problem, Names)>,
}

/// Ids of the pieces, types of the kinds and the destination, for the solution file.
#[derive(Default)]
struct Names {
    destination: String,
    pieces: Vec<String>,
    kinds: Vec<String>,
}

fn main() {
    let mut folder = None;
    let mut out = None;
    let mut effort = 1;
    let mut only = String::new();
    let mut random = None;
    let (mut real, mut seed) = (None, 1);
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        match argument.as_str() {
            "--out" => out = arguments.next().map(PathBuf::from),
            "--effort" => effort = arguments.next().unwrap().parse().unwrap(),
            "--only" => only = arguments.next().unwrap(),
            "--random" | "--random-road" => {
                let draw: Drawing = if argument == "--random" { small_load } else { road_load };
                random = Some((draw, arguments.next().unwrap().parse().unwrap()));
            }
            "--random-real" => real = Some(arguments.next().unwrap().parse().unwrap()),
            "--seed" => seed = arguments.next().unwrap().parse().unwrap(),
            "--bench" => {}
            _ => folder = Some(PathBuf::from(argument)),
        }
    }
    if let Some((draw, count)) = random {
        small_loads(draw, count, effort, &only);
        return;
    }
    if let Some(count) = real {
        season::report(count, seed, effort, &only);
        return;
    }
    let Some(folder) = folder else {
        eprintln!(
            "usage: cargo bench --bench loading -- FOLDER [--out DIR] [--effort N] | --random N \
             | --random-road N | --random-real N --seed S"
        );
        return;
    };
    let mut files: Vec<PathBuf> =
        fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    let (mut cases, mut proven, mut bad, mut total) = (0, 0, 0, 0.0);
    println!(
        "{:<28} {:>12} {:>12} {:<7} {:>8}  checker",
        "case", "cost", "bound", "proof", "seconds"
    );
    for file in files {
        let Some(case) = read(&file).filter(|case| case.name.contains(&only)) else {
            continue;
        };
        let start = Instant::now();
        let effort = Effort::default().times(effort);
        let solved: Result<Vec<Solved>, _> =
            case.problems.iter().map(|(problem, _)| solve(problem, &effort)).collect();
        let seconds = start.elapsed().as_secs_f64();
        cases += 1;
        #[expect(clippy::float_arithmetic, reason = "the clock of a bench")]
        {
            total += seconds;
        }
        match solved {
            Err(misfits) => {
                println!("{:<28} cannot be loaded: {misfits:?}", case.name);
                bad += 1;
            }
            Ok(solved) => {
                let pairs = case.problems.iter().zip(&solved);
                let breaches: Vec<Violation> = pairs
                    .flat_map(|((problem, _), one)| check(problem, &one.boxes, one.cost))
                    .collect();
                let done = solved.iter().all(|one| one.proof == Optimality::Proven);
                proven += i32::from(done);
                bad += i32::from(!breaches.is_empty());
                let verdict = breaches.first().map_or("holds".into(), |b| format!("{b:?}"));
                println!(
                    "{:<28} {:>12} {:>12} {:<7} {:>8.3}  {verdict}",
                    case.name,
                    solved.iter().map(|one| one.cost).sum::<i64>(),
                    solved.iter().map(|one| one.lower_bound).sum::<i64>(),
                    if done { "proven" } else { "gap" },
                    seconds
                );
                if let Some(out) = &out {
                    write(out, &case, &solved);
                }
            }
        }
    }
    println!("{cases} cases, {proven} proven, {bad} bad, {total:.1} s in all");
}

/// A row of numbers that looks like chance and is the same everywhere.
struct Draw(u64);

impl Draw {
    fn between(&mut self, least: i64, most: i64) -> i64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        least + i64::try_from(self.0 >> 33).unwrap() % (most - least + 1)
    }
}

/// How an invented load is drawn.
type Drawing = fn(&mut Draw) -> Problem;

/// Solves `count` invented loads and names the slow and the unproven, or all that `only` lists.
fn small_loads(draw: Drawing, count: u64, effort: u64, only: &str) {
    let (mut refused, mut unproven, mut late, mut bad, mut worst) = (0, 0, 0, 0, 0.0);
    let (mut all, mut of_places) = (Duration::ZERO, Duration::ZERO);
    let listed: Vec<u64> = only.split(',').filter_map(|number| number.parse().ok()).collect();
    let numbers = if listed.is_empty() { (0..count).collect() } else { listed };
    for &number in &numbers {
        let problem = draw(&mut Draw(number));
        let pieces = problem.pieces.len();
        let start = Instant::now();
        let solved = solve(&problem, &Effort::default().times(effort));
        let planned = start.elapsed();
        let solved = match solved {
            Ok(mut solved) => {
                for loaded in &mut solved.boxes {
                    let payload = problem.kinds[loaded.kind].payload;
                    let rating = Rating { payload, sideways: 500 };
                    let opening = problem.kinds[loaded.kind].door_width;
                    let entry = Entry::Doors { opening, side: 100, nose: 50 };
                    loaded.places = arrange(&problem, loaded, rating, entry).unwrap().places;
                }
                solved
            }
            Err(misfits) => {
                println!("load {number:<5} {pieces:>3} bundles cannot be loaded: {misfits:?}");
                refused += 1;
                continue;
            }
        };
        let took = start.elapsed();
        all += took;
        of_places += took.saturating_sub(planned);
        let seconds = took.as_secs_f64();
        let done = solved.proof == Optimality::Proven;
        bad += i32::from(!check(&problem, &solved.boxes, solved.cost).is_empty());
        unproven += i32::from(!done);
        late += i32::from(seconds > 0.05);
        worst = seconds.max(worst);
        if !done || seconds > 0.05 || !only.is_empty() {
            println!(
                "load {number:<5} {pieces:>3} bundles {:>12} {:>12} {:<7} {seconds:>8.3}",
                solved.cost,
                solved.lower_bound,
                if done { "proven" } else { "gap" },
            );
        }
    }
    println!(
        "{} loads, {refused} refused, {unproven} unproven, {late} over 50 ms, {bad} bad, \
         worst {worst:.3} s; {all:.2?} in all, {of_places:.2?} of it for places",
        numbers.len()
    );
}

/// Bundles of 1.5 to 4.5 t and 2.2 to 3.3 m for 20' and 40' boxes with a balance window; some
/// with bracing gaps, some with a line load, some with blocks that stay together.
fn small_load(draw: &mut Draw) -> Problem {
    let mut problem = Problem { groups: vec![Grouping::Free; 4], ..Problem::default() };
    let (line, gap) = (draw.between(0, 2) == 0, 50 * draw.between(0, 2));
    let rule = draw.between(0, 3) == 0;
    if rule {
        problem.groups = vec![Grouping::Rule; 4];
    }
    for (length, payload, cost) in [(5898, 26_000, 1480), (12_032, 26_500, 2360)] {
        let mut limits = HalfPlane::window_along(length, 50).to_vec();
        limits.extend(HalfPlane::window_across(2352, 50));
        problem.kinds.push(BoxKind {
            length,
            width: 2352,
            door_height: 2280,
            door_width: 2340,
            payload: (payload - 100 * draw.between(0, 40)) * 1000,
            cost: cost + 10 * draw.between(0, 20),
            available: (draw.between(0, 3) == 0).then_some(20),
            line_load: line.then_some(LineLoad { mass: 4_500_000, per_length: 1000 }),
            gap_end: gap,
            gap_side: gap / 2,
            limits,
        });
    }
    for _ in 0..draw.between(1, 30) {
        problem.pieces.push(Piece {
            mass: draw.between(1500, 4500) * 1000,
            length: 10 * draw.between(220, 330),
            width: 5 * draw.between(50, 130),
            height: 10 * draw.between(140, 200),
            group: (rule && draw.between(0, 3) == 0)
                .then(|| usize::try_from(draw.between(0, 3)).unwrap()),
            may_turn: false,
        });
    }
    problem
}

/// A rig as the demo's tables have them, in mm and kg: from the kingpin to the middle of its bogie
/// and to the middle of the box, the tractor's wheelbase and its fifth wheel ahead of the drive
/// axles; what drive axles, bogie and both together may bear of a box and its cargo.
struct Rig {
    long: bool,
    bogie: i64,
    middle: i64,
    wheelbase: i64,
    fifth: i64,
    drive: i64,
    rear: i64,
    both: i64,
}

/// Tri-axle and slider of the United States, a 20' box at the rear of a 40' chassis, a Brazilian
/// platform, a European semitrailer with either box.
const RIGS: [Rig; 6] = [
    rig(false, (8382, 4877), (4826, 305), (10_900, 14_900, 24_500)),
    rig(true, (10_058, 5334), (4826, 305), (11_000, 11_900, 22_500)),
    rig(false, (10_058, 8382), (4826, 305), (11_000, 11_900, 22_500)),
    rig(false, (7600, 4600), (4300, 300), (10_600, 18_400, 27_400)),
    rig(false, (7700, 4900), (3600, 600), (6900, 17_900, 25_000)),
    rig(true, (7700, 6100), (3600, 600), (6900, 17_900, 24_000)),
];

const fn rig(long: bool, chassis: (i64, i64), tractor: (i64, i64), most: (i64, i64, i64)) -> Rig {
    let ((bogie, middle), (wheelbase, fifth), (drive, rear, both)) = (chassis, tractor, most);
    Rig { long, bogie, middle, wheelbase, fifth, drive, rear, both }
}

impl Rig {
    /// Its rules under a box of that length, with the doors to the rear or to the front.
    fn planes(&self, length: i64, turned: bool) -> Vec<HalfPlane> {
        // The bogie bears (front M + Mx) / bogie, drive and steer axles share the rest.
        let front = self.middle - length / 2;
        let mut rules = vec![(front, 1, self.rear * self.bogie)];
        let lever = self.wheelbase - self.fifth;
        let to_drive = (self.bogie - front) * lever;
        rules.push((to_drive, -lever, self.drive * self.bogie * self.wheelbase));
        let to_both = to_drive + front * self.wheelbase;
        rules.push((to_both, self.fifth, self.both * self.bogie * self.wheelbase));
        let plane = |(mass, moment, bound): (i64, i64, i64)| HalfPlane {
            // Turned, Mx is measured from the other end.
            mass_coefficient: if turned { mass + moment * length } else { mass },
            moment_x_coefficient: if turned { -moment } else { moment },
            moment_y_coefficient: 0,
            bound: i128::from(bound) * 1000,
        };
        rules.into_iter().map(plane).collect()
    }
}

/// Bundles of 1 to 6 t and 1.4 to 3.3 m for one or two rigs, each with its doors either way or
/// the rear alone and perhaps in a dearer class that may weigh more, with a line load and a
/// balance window of 2 to 8 %; blocks that are a rule, have a price, or neither.
fn road_load(draw: &mut Draw) -> Problem {
    let mut problem = Problem::default();
    let blocks = usize::try_from(draw.between(1, 8)).unwrap();
    let grouping = match draw.between(0, 3) {
        0 => Grouping::Rule,
        1 => Grouping::Wish { price: 5000 * draw.between(1, 8) },
        2 => Grouping::Wish { price: 0 },
        _ => Grouping::Free,
    };
    problem.groups = vec![grouping; blocks];
    let permille = [20, 50, 50, 80][usize::try_from(draw.between(0, 3)).unwrap()];
    for _ in 0..draw.between(1, 2) {
        let rig = &RIGS[usize::try_from(draw.between(0, 5)).unwrap()];
        let (length, cost, line) =
            if rig.long { (12_025, 236_000, 3_000_000) } else { (5896, 148_000, 4_500_000) };
        let (either, heavy) = (draw.between(0, 2) == 0, draw.between(0, 1) == 0);
        let payload = 1000 * draw.between(15_000, 26_500);
        for turned in [false, true].into_iter().take(1 + usize::from(either)) {
            for class in 0..=i64::from(heavy) {
                let mut limits = HalfPlane::window_along(length, permille).to_vec();
                limits.extend(HalfPlane::window_across(2350, 50));
                limits.extend(if class == 0 { rig.planes(length, turned) } else { Vec::new() });
                problem.kinds.push(BoxKind {
                    length,
                    width: 2350,
                    door_height: 2224,
                    door_width: 2340,
                    payload: payload + 1_500_000 * class,
                    cost: cost + 250 * draw.between(0, 40) + 25_000 * class,
                    available: None,
                    line_load: Some(LineLoad { mass: line, per_length: 1000 }),
                    gap_end: 75,
                    gap_side: 125,
                    limits,
                });
            }
        }
    }
    let of_stone = draw.between(0, 1) == 0;
    for _ in 0..draw.between(1, 30) {
        let (slabs, length) = (draw.between(5, 12), 50 * draw.between(28, 64) + 20);
        // Slabs of 1.9 m and 30 mm, or whatever is in the bundle.
        let mass = length * slabs * draw.between(130, 160);
        problem.pieces.push(Piece {
            mass: if of_stone { mass } else { draw.between(1000, 3900) * 1000 },
            length,
            width: 32 * slabs + 118,
            height: 2020,
            group: (grouping != Grouping::Rule || draw.between(0, 3) == 0)
                .then(|| usize::try_from(draw.between(0, 7)).unwrap() % blocks),
            may_turn: false,
        });
    }
    problem
}

fn read(file: &Path) -> Option<Case> {
    let ending = file.extension()?.to_str()?;
    let text = fs::read_to_string(file).ok()?;
    match ending {
        "json" => read_stone(&serde_json::from_str(&text).ok()?),
        "bp" => Some(read_bp(&text)),
        _ => None,
    }
}

fn integer(value: &Value, key: &str) -> i64 {
    value[key].as_i64().unwrap()
}

fn string(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

/// Thousandths of a decimal, from its text: 0.005 is 5.
fn permille(value: &Value) -> i64 {
    let text = value.to_string();
    let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
    let digits: String = part.chars().chain("000".chars()).take(3).collect();
    whole.parse::<i64>().unwrap() * 1000 + digits.parse::<i64>().unwrap()
}

fn read_stone(case: &Value) -> Option<Case> {
    if case["format"] != "stone-shipment-1" {
        return None;
    }
    let (along, across) = (permille(&case["cog"]["long_tol"]), permille(&case["cog"]["lat_tol"]));
    let mut problems: Vec<(Problem, Names)> = Vec::new();
    for route in case["routes"].as_array()? {
        let mut problem = Problem::default();
        let mut names = Names { destination: string(&route["dest"]), ..Names::default() };
        for kind in route["containers"].as_array()? {
            let (length, width) = (integer(kind, "length_mm"), integer(kind, "width_mm"));
            let mut limits = HalfPlane::window_along(length, along).to_vec();
            limits.extend(HalfPlane::window_across(width, across));
            names.kinds.push(string(&kind["type"]));
            problem.kinds.push(BoxKind {
                length,
                width,
                door_height: integer(kind, "door_height_mm"),
                door_width: width,
                payload: integer(kind, "payload_kg") * 1000,
                cost: integer(kind, "cost"),
                available: kind["max_count"].as_u64().map(|count| count.try_into().unwrap()),
                line_load: None,
                gap_end: 0,
                gap_side: 0,
                limits,
            });
        }
        problems.push((problem, names));
    }
    let mut groups: Vec<String> = Vec::new();
    for bundle in case["bundles"].as_array()? {
        let group = bundle["group"].as_str().map(|name| {
            groups.iter().position(|old| old == name).unwrap_or_else(|| {
                groups.push(name.to_owned());
                groups.len() - 1
            })
        });
        let (problem, names) =
            problems.iter_mut().find(|(_, names)| bundle["dest"] == *names.destination)?;
        names.pieces.push(string(&bundle["id"]));
        problem.pieces.push(Piece {
            mass: integer(bundle, "mass_kg") * 1000,
            length: integer(bundle, "length_mm"),
            width: integer(bundle, "width_mm"),
            height: integer(bundle, "height_mm"),
            group,
            may_turn: case["rotation_allowed"].as_bool()?,
        });
    }
    let grouping = match case["group_mode"].as_str()? {
        "hard" => Grouping::Rule,
        "soft" => Grouping::Wish { price: integer(case, "split_penalty") },
        _ => Grouping::Free,
    };
    for (problem, _) in &mut problems {
        problem.groups = vec![grouping; groups.len()];
    }
    Some(Case { name: string(&case["name"]), problems })
}

/// One and two dimensions as loads: a one-dimensional item is a piece of 1 mm in a box long
/// enough for all of them, a rectangle is a piece of one gram.
fn read_bp(text: &str) -> Case {
    let mut lines = text
        .lines()
        .map(|line| line.split('#').next().unwrap_or("").split_whitespace().collect::<Vec<_>>())
        .filter(|words| !words.is_empty());
    let mut name = String::new();
    let mut flat = false;
    let (mut bins, mut items): (Vec<Vec<i64>>, Vec<Vec<i64>>) = (Vec::new(), Vec::new());
    let numbers = |words: Vec<&str>| words.iter().map(|word| word.parse().unwrap()).collect();
    while let Some(words) = lines.next() {
        match words[0] {
            "NAME" => words[1].clone_into(&mut name),
            "KIND" => flat = words[1] == "2d",
            "BINS" => {
                bins = lines.by_ref().take(words[1].parse().unwrap()).map(numbers).collect();
            }
            "ITEMS" => {
                items = lines.by_ref().take(words[1].parse().unwrap()).map(numbers).collect();
            }
            _ => {}
        }
    }
    let count: i64 = items.iter().map(|item| item[item.len() - 1]).sum();
    let piece = |mass, length, width| Piece {
        mass,
        length,
        width,
        height: 1,
        group: None,
        may_turn: false,
    };
    let mut problem = Problem::default();
    for item in &items {
        let copies = usize::try_from(item[item.len() - 1]).unwrap();
        let one = if flat { piece(1, item[0], item[1]) } else { piece(item[0], 1, 1) };
        problem.pieces.extend(std::iter::repeat_n(one, copies));
    }
    for bin in &bins {
        let (length, width) = if flat { (bin[0], bin[1]) } else { (count, 1) };
        let payload = if flat { count } else { bin[0] };
        problem.kinds.push(BoxKind {
            length,
            width,
            door_height: 1,
            door_width: 1_000_000.min(width),
            payload,
            cost: bin[bin.len() - 2],
            available: bin[bin.len() - 1].try_into().ok(),
            line_load: None,
            gap_end: 0,
            gap_side: 0,
            limits: Vec::new(),
        });
    }
    Case { name, problems: vec![(problem, Names::default())] }
}

fn write(out: &Path, case: &Case, solved: &[Solved]) {
    let mut boxes: Vec<Value> = Vec::new();
    for ((_, names), solved) in case.problems.iter().zip(solved) {
        for loaded in &solved.boxes {
            let bundle = |place: &Placed| {
                json!({"id": names.pieces.get(place.piece), "x": place.x, "y": place.y,
                       "rot": place.turned})
            };
            let bundles: Vec<Value> = loaded.places.iter().map(bundle).collect();
            let kind = names.kinds.get(loaded.kind);
            boxes.push(json!({"type": kind, "dest": names.destination, "bundles": bundles}));
        }
    }
    fs::create_dir_all(out).unwrap();
    fs::write(out.join(format!("{}.json", case.name)), Value::Array(boxes).to_string()).unwrap();
}
