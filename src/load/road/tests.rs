//! Axle loads and bridge formula against worked examples.

use super::*;
use crate::fault::{At, Source};
use crate::quantity::{Decimal, Written, ratio};
use crate::trade::{
    AxleRule, Bridge, Chassis, DoorRule, FootRule, GrossRule, Matches, Ratings, SpreadRange, Ties,
    Tractor, Window,
};
use proptest::prelude::*;

fn place() -> Place {
    Source::new("t", String::new()).line(1)
}

fn length(text: &str) -> Length {
    Length::read(text).unwrap()
}

fn mass(text: &str) -> Mass {
    Mass::read(text).unwrap()
}

/// 23 U.S.C. 127(a)(2), with the table's rounding: ties down.
fn federal() -> RoadLaw {
    let axle = |name: &str, over: Option<&str>, to: &str, most: &str| AxleRule {
        name: name.to_owned(),
        on: None,
        axles: None,
        spread: SpreadRange { over: over.map(length), to: Some(length(to)), ..Default::default() },
        most: mass(most),
        place: place(),
    };
    RoadLaw {
        id: "us".to_owned(),
        name: "federal".to_owned(),
        gross: vec![GrossRule { axles: 0, tractor: 0, most: mass("80000 lb"), place: place() }],
        axles: vec![
            axle("single", None, "40 in", "20000 lb"),
            axle("tandem", Some("40 in"), "96 in", "34000 lb"),
        ],
        bridge: Some(Bridge {
            beyond: length("96 in"),
            ties: Ties::Down,
            foot: FootRule::NearestHalfDown,
            two_tandems: Some((length("36 ft"), mass("68000 lb"))),
            tandem: SpreadRange {
                over: Some(length("40 in")),
                to: Some(length("96 in")),
                ..Default::default()
            },
            cells: Vec::new(),
            place: place(),
        }),
        least_drive: None,
        certify_over: None,
        permit: None,
        valid: Window::read("2026-01-01..").unwrap(),
        source: String::new(),
        place: place(),
    }
}

/// The tractor of both examples: 190 in, fifth wheel 12 in, 9,600 and 6,900 lb, 52 in drive spread.
fn rig(bogie: &str, tare: &str, tare_centre: &str, box_middle: &str) -> Rig {
    Rig {
        id: "r".to_owned(),
        name: "r".to_owned(),
        matches: Matches::default(),
        road: At { value: "us".to_owned(), place: place() },
        tractor: Tractor {
            wheelbase: length("190 in"),
            fifth_wheel: length("12 in"),
            steer_tare: mass("9600 lb"),
            drive_tare: mass("6900 lb"),
            steer_spacing: Vec::new(),
            drive_spacing: vec![length("52 in")],
            steer_ratings: Ratings::default(),
            drive_ratings: Ratings::default(),
        },
        chassis: Chassis {
            bogie: length(bogie),
            spacing: vec![length("49 in")],
            tare: mass(tare),
            tare_centre: length(tare_centre),
            box_middle: length(box_middle),
            ratings: Ratings::default(),
            most_box: None,
            holes: Vec::new(),
        },
        doors: DoorRule::Rear,
        offer: None,
        valid: Window::read("2026-01-01..").unwrap(),
        place: place(),
    }
}

fn container(inside: i64, tare: &str) -> ContainerType {
    ContainerType { tare: mass(tare), ..super::super::testing::container(inside) }
}

/// A rig on a road under a box.
fn road(rig: Rig, law: RoadLaw, container: &ContainerType) -> Road {
    Road::new(Arc::new(rig), Arc::new(law), false, container).unwrap()
}

/// Cargo in pounds with its centre of gravity in the middle of the box.
fn in_the_middle(pounds: i64, inside: i64) -> (i128, i128) {
    let grams = i128::from(Mass::lb(Decimal::from(pounds)).unwrap().grams_up());
    (grams, grams * i128::from(inside))
}

fn named<'a>(report: &'a RoadReport<'_>, start: &str) -> &'a AxleCheck {
    report.checks.iter().find(|check| check.name.starts_with(start)).unwrap()
}

fn pounds(mass: Mass) -> String {
    mass.to_lb(0).to_string()
}

#[test]
fn forty_foot_box_on_a_published_chassis() {
    // Kingpin to tandem 396 in, the box's middle 210 in behind the kingpin (a port's published
    // lease specification); tractor and tares illustrative; figures worked by the beam formulas.
    // Bogie 31,392.9; steer 11,356.1; drive 32,949.0; gross 75,698; every set passes, axles 2-5
    // by the exception for two tandems at 36 ft and more.
    let own = container(12_032, "8598 lb");
    let road = road(rig("396 in", "6600 lb", "210 in", "210 in"), federal(), &own);
    let (grams, moment) = in_the_middle(44_000, 12_032);
    let found = report(&road, grams, moment).unwrap();
    let at: Vec<String> = found.axles.iter().map(|axle| axle.at.to_inches(1).to_string()).collect();
    assert_eq!(at, ["0.0", "164.0", "216.0", "549.5", "598.5"]);
    let loads: Vec<String> = found.axles.iter().map(|axle| pounds(axle.load)).collect();
    assert_eq!(loads, ["11356", "16475", "16475", "15696", "15696"]);
    assert!(found.is_legal());
    let tandem = named(&found, "axles 4-5, tandem");
    assert_eq!(
        (tandem.load.to_lb(1).to_string(), pounds(tandem.most)),
        ("31392.9".into(), "34000".into())
    );
    assert_eq!(named(&found, "axles 2-3, tandem").load.to_lb(1).to_string(), "32949.0");
    let inner = named(&found, "axles 2-5, two tandems over 36 ft");
    assert_eq!((pounds(inner.load), pounds(inner.most)), ("64342".into(), "68000".into()));
    let front = named(&found, "axles 1-3, bridge formula over 18 ft");
    assert_eq!((pounds(front.load), pounds(front.most)), ("44305".into(), "49500".into()));
    let outer = named(&found, "axles 1-5, bridge formula over 50 ft");
    assert_eq!((pounds(outer.load), pounds(outer.most)), ("75698".into(), "79000".into()));
    assert_eq!(pounds(named(&found, "gross").load), "75698");
}

#[test]
fn an_axle_group_with_unequal_gaps_bears_at_the_mean_of_its_axles() {
    // The 40' box of the example above on three axles with gaps of 49 and 98 in. Their ends lie 73.5 in
    // on either side of the measured middle, the second axle 24.5 in ahead of it: they bear at the mean,
    // 24.5 / 3 in ahead. 59,198 lb at 210 in over 396 - 8.1667 in: 32,053.9 lb, a third to each axle.
    let mut uneven = rig("396 in", "6600 lb", "210 in", "210 in");
    uneven.chassis.spacing = vec![length("49 in"), length("98 in")];
    let own = container(12_032, "8598 lb");
    let road = road(uneven, federal(), &own);
    let cargo = in_the_middle(44_000, 12_032);
    let found = report(&road, cargo.0, cargo.1).unwrap();
    let loads: Vec<String> = found.axles.iter().map(|axle| pounds(axle.load)).collect();
    assert_eq!(loads, ["11314", "16165", "16165", "10685", "10685", "10685"]);
    assert!(is_in_balance(&found, &own, cargo).unwrap());
}

/// What a scale shows of the 40' box of the example above on a rig, with so much cargo 210 in behind the kingpin.
fn weighed(rig: Rig, pounds: i64) -> Ticket {
    let own = container(12_032, "8598 lb");
    let road = road(rig, federal(), &own);
    let cargo = in_the_middle(pounds, 12_032);
    let report = report(&road, cargo.0, cargo.1).unwrap();
    ticket(&report, &own, [cargo, cargo]).unwrap()
}

fn slider() -> Rig {
    rig("396 in", "6600 lb", "210 in", "210 in")
}

/// The first lines of a ticket in pounds: steer, drive, trailer, gross.
fn four(ticket: &Ticket) -> Vec<String> {
    ticket.lines.iter().take(4).map(|line| line.loads[1].to_lb(1).to_string()).collect()
}

#[test]
fn a_scale_ticket_in_steps_of_twenty_pounds() {
    // The example above as a truck scale prints it: 11,360, 32,940, 31,400, 75,700 lb; 27,805.1 lb on the kingpin.
    let found = weighed(slider(), 44_000);
    let what: Vec<&str> = found.lines.iter().map(|line| line.what.as_str()).collect();
    assert_eq!(what, ["steer", "drive", "trailer", "gross", "axles 2-5"]);
    let division = |line: &TicketLine| {
        let twenties = ratio(line.loads[1].to_lb(3), Decimal::from(20), 0).unwrap();
        twenties * Decimal::from(20)
    };
    let printed: Vec<Decimal> = found.lines.iter().take(4).map(division).collect();
    assert_eq!(printed, [11_360, 32_940, 31_400, 75_700].map(Decimal::from));
    assert_eq!(found.kingpin[1].to_lb(1).to_string(), "27805.1");
    let allowed = |line: &TicketLine| line.most.map(|(most, by)| (pounds(most), by));
    let allowed: Vec<_> = found.lines.iter().map(allowed).collect();
    // The gross by the bridge formula over all five, not by 80,000 lb.
    let law = |most: &str| Some((most.to_owned(), Limiter::Law));
    assert_eq!(allowed, ["20000", "34000", "34000", "79000", "68000"].map(law));
    assert!(found.lines.iter().all(|line| line.holds));
}

#[test]
fn a_bogie_or_a_fifth_wheel_that_is_moved_shifts_the_lines() {
    // Worked by the beam: bogie at 402 in 30,924.3 on the trailer, 33,388.0 drive, 11,385.7 steer; at 390 in 31,875.8,
    // 32,496.5 and 11,325.6; 75,698 gross each time. Rearward takes load off the trailer's axles.
    let mut sliding = slider();
    sliding.chassis.holes = ["390 in", "396 in", "402 in"].map(length).to_vec();
    let found = weighed(sliding, 44_000);
    let of = |at: usize| -> Vec<String> {
        found.holes[at].loads.iter().map(|mass| mass.to_lb(1).to_string()).collect()
    };
    assert_eq!(of(0), ["11325.6", "32496.5", "31875.8", "75698.0"]);
    assert_eq!(of(1), four(&found));
    assert_eq!(of(2), ["11385.7", "33388.0", "30924.3", "75698.0"]);
    let used: Vec<bool> = found.holes.iter().map(|hole| hole.is_used).collect();
    assert_eq!(used, [false, true, false]);
    // Between tandems 35 ft apart there is no exception for axles 2-5: 66,000 lb, which 64,372 keep.
    assert!(found.holes.iter().all(|hole| hole.broken.is_empty()), "{:?}", found.holes);
    // The fifth wheel 18 in instead of 12 ahead of the drive axles: 12,234.2 steer, 32,071.0 drive.
    let mut ahead = slider();
    ahead.tractor.fifth_wheel = length("18 in");
    assert_eq!(four(&weighed(ahead, 44_000)), ["12234.2", "32071.0", "31392.9", "75698.0"]);
}

#[test]
fn two_tickets_give_the_cargo_and_its_centre_back() {
    // Loaded 75,698 less empty 31,698: 44,000 lb of cargo. Trailer line 31,392.9 less 8,059.5: 23,333.3 lb, so the cargo's
    // centre lies 396 x 23,333.3 / 44,000 = 210.0 in behind the kingpin.
    let back = |rig: fn() -> Rig, at: usize| {
        let [loaded, empty] = [44_000, 0].map(|pounds| weighed(rig(), pounds));
        loaded.lines[at].loads[1].minus(empty.lines[at].loads[1]).unwrap().to_lb(1)
    };
    assert_eq!(weighed(slider(), 0).lines[2].loads[1].to_lb(1).to_string(), "8059.5");
    assert_eq!(back(slider, 3).to_string(), "44000.0");
    let trailer = back(slider, 2);
    assert_eq!(trailer.to_string(), "23333.3");
    let centre = ratio(Decimal::from(396) * trailer, Decimal::from(44_000), 1).unwrap();
    assert_eq!(centre.to_string(), "210.0");
    // Three axles at 0, 50 and 160 in bear at 70 in, 10 in ahead of the measured middle: 23,937.8 lb, 2.59 % more.
    let uneven = || {
        let mut own = slider();
        own.chassis.spacing = ["50 in", "110 in"].map(length).to_vec();
        own
    };
    assert_eq!(back(uneven, 2).to_string(), "23937.8");
}

#[test]
fn a_line_is_held_to_the_least_of_law_and_ratings() {
    let mut rated = slider();
    rated.tractor.steer_ratings =
        Ratings { tyres: Some(mass("11000 lb")), axles: Some(mass("12000 lb")) };
    rated.chassis.ratings.axles = Some(mass("36000 lb"));
    rated.chassis.most_box = Some(mass("67200 lb"));
    let found = weighed(rated.clone(), 44_000);
    let line = |what: &str| found.lines.iter().find(|line| line.what == what).unwrap();
    let most = |what: &str| line(what).most.map(|(most, by)| (pounds(most), by));
    assert_eq!(most("steer"), Some(("11000".to_owned(), Limiter::Tyres)));
    assert!(!line("steer").holds, "11,356 lb are on it");
    assert_eq!(most("trailer"), Some(("34000".to_owned(), Limiter::Law)), "less than the rating");
    let container = line("container");
    assert_eq!((pounds(container.loads[1]), container.holds), ("52598".to_owned(), true));
    // A rating is a limit of the load as well, and no law's.
    let own = self::container(12_032, "8598 lb");
    let on = road(rated, federal(), &own);
    let (grams, moment) = in_the_middle(44_000, 12_032);
    let held = report(&on, grams, moment).unwrap();
    let broken: Vec<_> = held.checks.iter().filter(|check| !check.holds).collect();
    assert_eq!(broken.len(), 1);
    assert_eq!(&*broken[0].name, "axle 1, steer, rating of its tyres");
    assert_eq!(broken[0].by.kind(), LimitKind::Equipment);
    // Axles that share alike are held by a rule on one of them: two of 20,000 lb make 40,000.
    let law = RoadLaw { axles: federal().axles.into_iter().take(1).collect(), ..federal() };
    let on = road(slider(), law, &own);
    let found = report(&on, grams, moment).unwrap();
    let (most, by) = found.most_of((2, 3)).unwrap().unwrap();
    assert_eq!((pounds(most), by), ("40000".to_owned(), Limiter::Law));
}

#[test]
fn inner_bridge_fails_although_gross_and_tandems_pass() {
    // A 20' box on a short two-axle slider, 300 in from kingpin to tandem, box and cargo 175 in
    // behind the kingpin (illustrative): 42,000 lb pass with 59,935 of 60,500 on axles 2-5 over
    // 28 ft; 44,000 lb put 61,882 there and fail, with 72,960 gross and both tandems legal. The
    // break-even is near 42,580 lb.
    let own = container(5_896, "4960 lb");
    let road = road(rig("300 in", "7500 lb", "180 in", "175 in"), federal(), &own);
    let (grams, moment) = in_the_middle(42_000, 5_896);
    let found = report(&road, grams, moment).unwrap();
    assert!(found.is_legal());
    let inner = named(&found, "axles 2-5, bridge formula over 28 ft");
    assert_eq!((pounds(inner.load), pounds(inner.most)), ("59935".into(), "60500".into()));
    let left = inner.left.unwrap().plus(mass("42000 lb")).unwrap().to_lb(0);
    assert!((42_570..=42_590).contains(&left.try_into().unwrap()), "{left}");
    let (grams, moment) = in_the_middle(44_000, 5_896);
    let found = report(&road, grams, moment).unwrap();
    let broken: Vec<&str> =
        found.checks.iter().filter(|check| !check.holds).map(|check| &*check.name).collect();
    assert_eq!(broken, ["axles 2-5, bridge formula over 28 ft (us)"]);
    assert_eq!(pounds(named(&found, "axles 2-5").load), "61882");
    assert_eq!(pounds(named(&found, "gross").load), "72960");
}

#[test]
fn three_axles_within_eight_feet_are_a_tandem() {
    // 23 U.S.C. 127: axles not more than 96 in apart carry 34,000 lb together, two or three of
    // them; over 96 in the formula's 8 ft cell gives three axles 42,000.
    let law = federal();
    let most = |spacing: &str| {
        let mut rig = rig("300 in", "7500 lb", "180 in", "175 in");
        rig.chassis.spacing = vec![length(spacing); 2];
        let way = Statics::new(&rig, &law, &container(5_896, "4960 lb"), Doors::Rear).unwrap();
        let most: Vec<Fraction> = way
            .rules
            .iter()
            .filter(|rule| rule.axles == (4, 6) && !rule.is_least)
            .map(|rule| rule.most.clone())
            .collect();
        most.iter().map(|grams| to_mass(grams).unwrap().to_lb(0).to_string()).collect::<Vec<_>>()
    };
    assert_eq!(most("48 in"), ["34000"]);
    assert_eq!(most("49 in"), ["42000"]);
}

#[test]
fn custom_and_law_are_two_things() {
    // Six bundles of 3,363.2 kg (44,487 lb) are above the 44,000 lb of custom; a long tri-axle rig
    // carries 46,000 lb by law (both from the worked full path; geometry illustrative).
    let mut rig = rig("396 in", "8000 lb", "230 in", "200 in");
    rig.chassis.spacing = vec![length("60 in"); 2];
    let road = road(rig, federal(), &container(5_896, "4960 lb"));
    let (grams, moment) = in_the_middle(44_487, 5_896);
    let found = report(&road, grams, moment).unwrap();
    assert!(found.is_legal(), "{:?}", found.checks);
    assert!(mass("44487 lb") > mass("44000 lb"));
}

#[test]
fn doors_look_forward_where_only_that_is_legal() {
    // All the mass in the front half: on a chassis whose bogie is short of load, the box turned
    // around takes it off the drive axles.
    let mut rig = rig("396 in", "6600 lb", "210 in", "210 in");
    rig.doors = DoorRule::Either;
    let road = road(rig, federal(), &container(12_032, "8598 lb"));
    let grams = i128::from(mass("44000 lb").grams_up());
    // 400 mm ahead of the middle: 1,750 lb more on the tandem or 1,640 on the drive axles.
    let ahead = report(&road, grams, 2 * grams * 5_616).unwrap();
    assert_eq!(ahead.doors, Doors::Front);
    assert!(ahead.is_legal());
    let behind = report(&road, grams, 2 * grams * 6_416).unwrap();
    assert_eq!(behind.doors, Doors::Rear);
}

#[test]
fn a_share_of_the_mass_must_rest_on_the_drive_axles() {
    // Directive 96/53/EC, annex I, 4.1: at least 25 % of the whole on the driving axles.
    let mut law = federal();
    law.least_drive = Some(crate::quantity::Percent::read("45 %").unwrap());
    let own = container(12_032, "8598 lb");
    let road = road(rig("396 in", "6600 lb", "210 in", "210 in"), law, &own);
    let (grams, moment) = in_the_middle(44_000, 12_032);
    let found = report(&road, grams, moment).unwrap();
    let share = named(&found, "drive axles at least");
    // 45 % of 75,698 is 34,064; the drive axles carry 32,949.
    assert!(!share.holds);
    assert_eq!((pounds(share.load), pounds(share.most)), ("32949".into(), "34064".into()));
}

#[test]
fn an_axle_that_lifts_is_no_load_within_the_law() {
    // The box's middle 700 in behind the kingpin, the bogie at 396: worked by the beam, 44,000 lb
    // of cargo, box and chassis press (6,600 x 210 + 48,960 x 700) / 396 = 90,045 lb on the bogie,
    // which takes 34,485 lb off the kingpin, and off drive axles that weigh 6,900.
    let short = rig("396 in", "6600 lb", "210 in", "700 in");
    let law = RoadLaw { axles: Vec::new(), gross: Vec::new(), bridge: None, ..federal() };
    let own = container(5_896, "4960 lb");
    let lawless = road(short.clone(), law, &own);
    let (grams, moment) = in_the_middle(44_000, 5_896);
    let found = report(&lawless, grams, moment).unwrap();
    let lifted: Vec<&AxleCheck> = found.checks.iter().filter(|check| !check.holds).collect();
    assert_eq!(lifted.len(), 1, "the drive axles alone: steer axles have tare enough");
    assert_eq!(pounds(lifted[0].load), "-25407");
    assert_eq!(lifted[0].by.kind(), LimitKind::Equipment);
    // A law without a rule says nothing: that is not the same as allowing it.
    let unknown =
        ["steer of 1 axle", "drive of 2 axles", "bogie of 2 axles", "gross of a rig of 5 axles"];
    assert_eq!(found.uncovered, unknown);
    let road = road(short, federal(), &own);
    let found = report(&road, grams, moment).unwrap();
    assert_eq!(found.uncovered, Vec::<String>::new());
}

#[test]
fn a_gross_mass_may_ask_for_axles_of_the_tractor() {
    use AxleGroup::{Bogie, Drive, Steer};
    // Directive 96/53/EC, annex I, 2.2.2, and 2015/719: 44 t with a three-axle tractor, 42 t with
    // one of two axles before a tri-axle.
    let gross =
        |axles, tractor, most: &str| GrossRule { axles, tractor, most: mass(most), place: place() };
    let law = RoadLaw { gross: vec![gross(5, 3, "44 t"), gross(5, 0, "42 t")], ..federal() };
    let most = |groups: [AxleGroup; 5]| gross_rule(&law, groups.into_iter()).unwrap().most;
    assert_eq!(most([Steer, Drive, Drive, Bogie, Bogie]), mass("44 t"));
    assert_eq!(most([Steer, Drive, Bogie, Bogie, Bogie]), mass("42 t"));
}

proptest! {
    #[test]
    fn half_planes_say_what_the_report_says(pounds in 1i64..60_000, at in 500i64..5_400, bogie in 250i64..420, middle in 150i64..330) {
        let rig = rig(&format!("{bogie} in"), "7500 lb", "180 in", &format!("{middle} in"));
        let road = road(rig, federal(), &container(5_896, "4960 lb"));
        let grams = i128::from(Mass::lb(Decimal::from(pounds)).unwrap().grams_up());
        let twice = 2 * grams * i128::from(at);
        let found = report(&road, grams, twice).unwrap();
        let planes = road.planes();
        prop_assert_eq!(planes.len(), found.checks.len());
        for (plane, check) in planes.iter().zip(&found.checks) {
            prop_assert_eq!(plane.excess(grams, twice, 0) <= 0, check.holds, "{}", check.name);
        }
    }

    #[test]
    fn dropped_planes_never_bind(kg in 0i64..25_000, permille in -50i64..=50) {
        let rig = rig("300 in", "7500 lb", "180 in", "175 in");
        let road = road(rig, federal(), &container(5_896, "4960 lb"));
        let all = road.planes();
        let kept = sharpened(all, 25_000_000, 5_896, 50);
        let grams = i128::from(kg) * 1_000;
        let twice = grams * 5_896 * i128::from(1_000 + 2 * permille) / 1_000;
        let holds = |planes: &[HalfPlane]| planes.iter().all(|plane| plane.excess(grams, twice, 0) <= 0);
        prop_assert_eq!(holds(all), holds(&kept));
    }
}
