//! What importers buy, invented: whole blocks for 1 to 16 boxes on the rigs of the bench, with two offers.
//!
//! A seed is a draw; the draws from a seed on are told by how many bundles they have. No figure is of a real
//! shipment. Seeds below 1,000 are for tuning; figures that are shown come from seeds of 100,000 and more, drawn
//! once.

use std::fs;

use quaystone::load::engine::{
    Effort, Entry, Grouping, Infeasible, Optimality, Piece, Problem, Rating, SearchState, Solved,
    Stock, Watch, arrange, check, solve, stand,
};

use super::{BoxKind, Draw, HalfPlane, LineLoad, RIGS, Rig};

/// The least and the most bundles of a stratum.
const STRATA: [(usize, usize); 3] = [(10, 30), (31, 60), (61, 120)];

/// Kilograms of cargo above which an offer asks a surcharge.
const STEPS: [i64; 2] = [20_000, 24_000];

/// What a kilogram is in the engine's grams, and a whole unit of money in its minor ones.
const KILOGRAM: i64 = 1000;
const MONEY: i64 = 100;

static WATCH: Watch = Watch::new();

/// How one draw was solved.
struct Line {
    seed: u64,
    bundles: usize,
    proven: bool,
    /// CPU microseconds of the thread, the choice of places and their order included.
    micros: u64,
    /// Units of the search's work.
    work: u64,
    /// What cost and bound differ by, in thousandths of the cheapest box.
    gap: i64,
}

/// Solves draws from `seed` on until each stratum has `count` of them, or those that `only` lists, and tells each
/// that is unproven.
pub(crate) fn report(count: usize, seed: u64, effort: u64, only: &str) {
    let listed: Vec<u64> = only.split(',').filter_map(|number| number.parse().ok()).collect();
    let mut strata: Vec<(Vec<Line>, usize)> = STRATA.iter().map(|_| (Vec::new(), 0)).collect();
    let mut bad = 0;
    let seeds: Vec<u64> =
        if listed.is_empty() { (seed..seed + 100_000).collect() } else { listed.clone() };
    for seed in seeds {
        if listed.is_empty() && strata.iter().all(|(lines, misfits)| lines.len() + misfits >= count)
        {
            break;
        }
        let problem = season(&mut Draw(seed));
        let bundles = problem.pieces.len();
        let Some(own) = STRATA.iter().position(|(least, most)| (least..=most).contains(&&bundles))
        else {
            continue;
        };
        let (lines, misfits) = &mut strata[own];
        if listed.is_empty() && lines.len() + *misfits >= count {
            continue;
        }
        match solved(&problem, seed, effort) {
            Ok((line, sound)) => {
                bad += usize::from(!sound);
                if !line.proven || !listed.is_empty() {
                    println!("{} {}", told(&line), traits(&problem));
                }
                lines.push(line);
            }
            Err(all) => {
                *misfits += 1;
                println!("seed {seed:<6} {bundles:>3} bundles cannot be loaded: {}", all.len());
            }
        }
    }
    println!(
        "{:<10} {:>5} {:>10} {:>7} {:>14} {:>14} {:>20} {:>9}",
        "bundles",
        "draws",
        "unloadable",
        "proven",
        "median CPU s",
        "worst CPU s",
        "work, thousand million",
        "worst gap"
    );
    for ((least, most), (lines, misfits)) in STRATA.iter().zip(&strata) {
        println!("{}", row((*least, *most), lines, *misfits));
    }
    println!("{bad} plans or bounds on the wrong side");
}

fn told(line: &Line) -> String {
    format!(
        "seed {:<6} {:>3} bundles {:<7} {:>8} s {:>8} work, gap {} of a box",
        line.seed,
        line.bundles,
        if line.proven { "proven" } else { "gap" },
        thousandths(line.micros / 1000),
        thousandths(line.work / 1_000_000),
        thousandths(u64::try_from(line.gap).unwrap_or(0)),
    )
}

/// A stratum: draws, those that cannot be loaded, proven in per cent, median and worst seconds with their work,
/// the worst gap in parts of the cheapest box.
fn row((least, most): (usize, usize), lines: &[Line], misfits: usize) -> String {
    let mut by_time: Vec<&Line> = lines.iter().collect();
    by_time.sort_by_key(|line| line.micros);
    let proven = lines.iter().filter(|line| line.proven).count();
    let gap = lines.iter().map(|line| line.gap).max().unwrap_or(0);
    let of = |line: Option<&&Line>| {
        line.map_or((String::new(), String::new()), |line| {
            (thousandths(line.micros / 1000), thousandths(line.work / 1_000_000))
        })
    };
    let (median, worst) = (of(by_time.get(by_time.len() / 2)), of(by_time.last()));
    let percent = thousandths(u64::try_from(proven * 100_000 / lines.len().max(1)).unwrap_or(0));
    format!(
        "{:<10} {:>5} {:>10} {:>7} {:>14} {:>14} {:>22} {:>9}",
        format!("{least} to {most}"),
        lines.len() + misfits,
        misfits,
        percent,
        median.0,
        worst.0,
        format!("{}, {}", median.1, worst.1),
        thousandths(u64::try_from(gap).unwrap_or(0)),
    )
}

fn thousandths(value: u64) -> String {
    format!("{}.{:03}", value / 1000, value % 1000)
}

/// What is particular in a draw.
fn traits(problem: &Problem) -> String {
    let grouping = match problem.groups.first() {
        Some(Grouping::Rule) => "rule".to_owned(),
        Some(Grouping::Wish { price }) => format!("wish {}", price / MONEY),
        _ => "free".to_owned(),
    };
    let long = problem.kinds.iter().filter(|kind| kind.length > 6000).count();
    format!(
        "[{grouping}, {} kinds, {long} long, {} stocks, {} ties, {} apart]",
        problem.kinds.len(),
        problem.stocks.len(),
        problem.ties.len(),
        problem.apart.len()
    )
}

/// Solves one, finds its places, and says whether all of it holds.
fn solved(problem: &Problem, seed: u64, effort: u64) -> Result<(Line, bool), Vec<Infeasible>> {
    WATCH.tell(|seen| *seen = SearchState::default());
    let before = cpu_micros();
    let mut solved =
        solve(problem, &Effort { watch: Some(&WATCH), ..Effort::default().times(effort) })?;
    place(problem, &mut solved);
    let micros = cpu_micros().saturating_sub(before);
    let sound =
        check(problem, &solved.boxes, solved.cost).is_empty() && solved.lower_bound <= solved.cost;
    let cheapest = problem.kinds.iter().map(|kind| kind.cost).min().unwrap_or(1).max(1);
    let line = Line {
        seed,
        bundles: problem.pieces.len(),
        proven: solved.proof == Optimality::Proven,
        micros,
        work: WATCH.seen().spent.0,
        gap: (solved.cost - solved.lower_bound) * 1000 / cheapest,
    };
    Ok((line, sound))
}

/// The places by the preference, with an order by which they are brought in.
fn place(problem: &Problem, solved: &mut Solved) {
    for loaded in &mut solved.boxes {
        let kind = &problem.kinds[loaded.kind];
        let rating = Rating { payload: kind.payload, sideways: 500 };
        let entry = if kind.door_height > HIGH {
            Entry::Roof { opening: [kind.length - 400, kind.door_width], shove: 0, sling: 50 }
        } else {
            Entry::Doors { opening: kind.door_width, side: 100, nose: 50 }
        };
        loaded.places = arrange(problem, loaded, rating, entry).unwrap().places;
    }
}

/// CPU time of this thread, by the kernel's own account; none of waiting for a core.
fn cpu_micros() -> u64 {
    let text = fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    text.split_whitespace().next().and_then(|nanos| nanos.parse::<u64>().ok()).unwrap_or(0) / 1000
}

/// Doors are lower than this, mm, and bundles that pass none are higher.
const HIGH: i64 = 2300;

/// One shipment.
fn season(draw: &mut Draw) -> Problem {
    let high = draw.between(1, 20) == 1;
    let mut problem = Problem::default();
    let limits = kinds(draw, high, &mut problem);
    // Boxes of the lengths at hand, and what they may carry in all.
    let boxes = draw.between(1, 16);
    let lengths = i64::try_from(limits.len()).unwrap();
    let picked = |draw: &mut Draw| limits[usize::try_from(draw.between(0, lengths - 1)).unwrap()];
    let most: i64 = (0..boxes).map(|_| picked(draw)).sum();
    let grouping = match draw.between(0, 2) {
        0 => Grouping::Free,
        1 => Grouping::Rule,
        _ => Grouping::Wish { price: MONEY * 10 * draw.between(5, 40) },
    };
    blocks(draw, &mut problem, grouping, most);
    extras(draw, &mut problem, high);
    if draw.between(1, 4) == 1 {
        scarce(draw, &mut problem, boxes);
    }
    problem
}

/// The kinds of box: lengths, rigs, offers and their steps. What a box of each length may carry.
fn kinds(draw: &mut Draw, high: bool, problem: &mut Problem) -> Vec<i64> {
    let lengths: &[bool] = match draw.between(0, 2) {
        0 => &[false],
        1 => &[true],
        _ => &[false, true],
    };
    let permille = if draw.between(1, 5) == 1 { 100 } else { 50 };
    let both_ends = draw.between(1, 3) == 1;
    let line = [4_000_000, 4_500_000, 4_800_000][usize::try_from(draw.between(0, 2)).unwrap()];
    // The second offer lies within 12 % of the first.
    let level = 100 + draw.between(-12, 12);
    let surcharges: Vec<[i64; 2]> =
        (0..2).map(|_| [draw.between(8, 25), draw.between(10, 40)].map(|ten| 10 * ten)).collect();
    let mut most = Vec::new();
    for &long in lengths {
        let (length, cost) = if long { (12_025, 2360) } else { (5896, 1480) };
        let mut planes = HalfPlane::window_along(length, permille).to_vec();
        planes.extend(HalfPlane::window_across(2350, 50));
        let rigs: Vec<&Rig> = RIGS.iter().filter(|rig| rig.long == long).collect();
        for _ in 0..=i32::from(both_ends) {
            let last = i64::try_from(rigs.len() - 1).unwrap();
            planes.extend(
                rigs[usize::try_from(draw.between(0, last)).unwrap()].planes(length, false),
            );
        }
        let cost = cost + 10 * draw.between(0, 40);
        let whole = BoxKind {
            length,
            width: 2350,
            door_height: 2280,
            door_width: 2340,
            payload: (if long { 26_500 } else { 28_100 } - 100 * draw.between(0, 15)) * KILOGRAM,
            cost: 0,
            available: None,
            line_load: Some(LineLoad {
                mass: if long { 3_000_000 } else { line },
                per_length: 1000,
            }),
            gap_end: 75,
            gap_side: 125,
            limits: planes,
        };
        let carries = i64::try_from(whole.mass_capacity()).unwrap();
        most.push(carries);
        for (percent, own) in [100, level].into_iter().zip(&surcharges) {
            let base = cost * percent / 100;
            let steps = [STEPS[0] * KILOGRAM, STEPS[1] * KILOGRAM, whole.payload];
            let dearer = [0, own[0], own[0] + own[1]];
            let mut before = 0;
            for (step, more) in steps.into_iter().zip(dearer) {
                if before < carries {
                    let (payload, cost) = (step.min(whole.payload), MONEY * (base + more));
                    problem.kinds.push(BoxKind { payload, cost, ..whole.clone() });
                }
                before = step;
            }
            if high {
                let open = BoxKind { door_height: 100_000, door_width: 2300, ..whole.clone() };
                let cost = MONEY * (base * 3 / 2 + dearer[2]);
                problem.kinds.push(BoxKind { cost, ..open });
            }
        }
    }
    most
}

/// Whole blocks until 88 % of `most` are reached; none goes beyond all of it.
fn blocks(draw: &mut Draw, problem: &mut Problem, grouping: Grouping, most: i64) {
    let least = most / 100 * draw.between(88, 100);
    let (mut mass, mut tries) = (0, 0);
    while mass < least && tries < 60 {
        tries += 1;
        let mut block = block(draw, problem.groups.len());
        if grouping == Grouping::Rule {
            // A block that is to travel whole is sold in lots that one box takes.
            while block.len() > 1 && !stands(problem, &block) {
                block.pop();
            }
        }
        let own: i64 = block.iter().map(|piece| piece.mass).sum();
        if mass + own <= most {
            mass += own;
            problem.pieces.extend(block);
            problem.groups.push(grouping);
        }
    }
}

fn stands(problem: &Problem, block: &[Piece]) -> bool {
    let alone = |piece: &Piece| Piece { group: None, ..piece.clone() };
    let kinds = problem.kinds.clone();
    let own = Problem { pieces: block.iter().map(alone).collect(), kinds, ..Problem::default() };
    stand(&own, &Effort::of(20_000_000)).is_some()
}

/// The bundles of one block, the last of them short.
fn block(draw: &mut Draw, group: usize) -> Vec<Piece> {
    let (length, height) = (10 * draw.between(220, 340), 10 * draw.between(150, 205));
    let thin = draw.between(1, 10) <= 7;
    let (thickness, slabs) =
        if thin { (20, draw.between(8, 14)) } else { (30, draw.between(5, 8)) };
    let density = draw.between(2600, 3050);
    let timber = draw.between(60, 120);
    let frame = draw.between(100, 160);
    let count = draw.between(2, 8);
    let bundle = |number: i64| {
        let (length, height) = (length + draw.between(-20, 20), height + draw.between(-20, 20));
        let slabs = if number < count { slabs } else { draw.between(slabs / 2, slabs) };
        // Millimetres times millimetres times millimetres times kg/m3 are millionths of a gram.
        let stone = length * height * thickness / 1000 * density / 1000 * slabs;
        Piece {
            mass: stone + timber * KILOGRAM,
            length,
            width: slabs * (thickness + 2) + frame,
            height: height + 100,
            group: Some(group),
            may_turn: false,
        }
    };
    (1..=count).map(bundle).collect()
}

/// An overheight bundle, a crate apart from a block, a pair of bundles together or apart.
fn extras(draw: &mut Draw, problem: &mut Problem, high: bool) {
    let last = i64::try_from(problem.pieces.len()).unwrap() - 1;
    if high && last >= 0 {
        let one = usize::try_from(draw.between(0, last)).unwrap();
        problem.pieces[one].height = HIGH + 10 * draw.between(1, 20);
    }
    if draw.between(1, 10) == 1 {
        let crate_number = problem.pieces.len();
        let first = problem.pieces.iter().enumerate().filter(|(_, piece)| piece.group == Some(0));
        let apart: Vec<(usize, usize)> = first.map(|(number, _)| (number, crate_number)).collect();
        problem.apart.extend(apart);
        problem.pieces.push(Piece {
            mass: 10 * draw.between(40, 150) * KILOGRAM,
            length: 10 * draw.between(100, 140),
            width: 10 * draw.between(80, 110),
            height: 10 * draw.between(90, 130),
            group: None,
            may_turn: true,
        });
    }
    if draw.between(1, 10) == 1 && last > 0 {
        let one = usize::try_from(draw.between(0, last)).unwrap();
        let other = usize::try_from(draw.between(0, last)).unwrap();
        let (a, b) = (problem.pieces[one].group, problem.pieces[other].group);
        match draw.between(0, 1) {
            0 if one != other => problem.ties.push(vec![one, other]),
            1 if a != b => problem.apart.push((one, other)),
            _ => {}
        }
    }
}

/// Of the cheaper offer there are fewer boxes than are needed, or few more.
fn scarce(draw: &mut Draw, problem: &mut Problem, boxes: i64) {
    let Some(first) = problem.kinds.first() else { return };
    // The kinds of an offer follow each other: those of the cheaper one start at its first step.
    let length = first.length;
    let mut starts: Vec<usize> = Vec::new();
    for (number, kind) in problem.kinds.iter().enumerate() {
        let before = number.checked_sub(1).map(|before| &problem.kinds[before]);
        if before
            .is_none_or(|before| before.length != kind.length || before.payload >= kind.payload)
            && kind.door_height <= HIGH
        {
            starts.push(number);
        }
    }
    let own: Vec<usize> =
        starts.iter().copied().filter(|&start| problem.kinds[start].length == length).collect();
    let Some(&cheaper) = own.iter().min_by_key(|&&start| problem.kinds[start].cost) else { return };
    let end = starts.iter().copied().find(|&start| start > cheaper).unwrap_or(problem.kinds.len());
    let count = (boxes * draw.between(70, 110) + 99) / 100;
    problem.stocks.push(Stock {
        kinds: (cheaper..end).collect(),
        count: u32::try_from(count.max(1)).unwrap(),
    });
}
