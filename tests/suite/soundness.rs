//! `check` is sound exactly when `load` ends 0, on made-up loads: planned, given box by box, given with
//! places; under limits of every kind.

use std::fmt::Write;

use crate::common::{Tiny, run};
use proptest::prelude::*;

/// How the load comes.
#[derive(Debug, Clone)]
enum Given {
    /// It is planned.
    Nothing,
    /// By the box, for each bundle.
    Boxes(Vec<usize>),
    /// In one box, with the corner of each bundle.
    Places(Vec<(u32, u32)>),
}

#[derive(Debug, Clone)]
struct Made {
    /// Slabs, length in cm and height in cm of each bundle.
    bundles: Vec<(u32, u32, u32)>,
    given: Given,
    /// The road's custom in kg, the yard's lift in kg, the floor's line load in kg/m.
    limits: (u32, u32, u32),
}

const MOST: usize = 7;

fn made() -> impl Strategy<Value = Made> {
    let bundles = prop::collection::vec((3u32..17, 120u32..320, 120u32..212), 1..=MOST);
    let boxes = prop::collection::vec(0usize..2, MOST).prop_map(Given::Boxes);
    let places = prop::collection::vec((0u32..3, 0u32..5), MOST).prop_map(Given::Places);
    let given = prop_oneof![Just(Given::Nothing), boxes, places];
    let limits = (6_000u32..20_000, 2_000u32..5_000, 1_500u32..4_500);
    (bundles, given, limits).prop_map(|(bundles, given, limits)| Made { bundles, given, limits })
}

impl Made {
    fn write(&self, tiny: &Tiny) {
        let of_box = |at: usize| match &self.given {
            Given::Boxes(boxes) => format!(",{},20gp", boxes[at]),
            _ => ",,".to_owned(),
        };
        let mut list = "slab,bundle,length (cm),height (cm),container,container type\n".to_owned();
        for (at, (slabs, length, height)) in self.bundles.iter().enumerate() {
            for slab in 0..*slabs {
                writeln!(list, "{at}-{slab},B{at},{length},{height}{}", of_box(at)).unwrap();
            }
        }
        tiny.write("shipments/plain/packing.csv", &list);
        if let Given::Places(places) = &self.given {
            let names: Vec<String> =
                (0..self.bundles.len()).map(|at| format!("\"B{at}\"")).collect();
            let mut plan = format!(
                "[[container]]\ncontainer = \"1\"\ntype = \"20gp\"\nbundles = [{}]\n",
                names.join(", ")
            );
            for (at, (x, y)) in places.iter().take(self.bundles.len()).enumerate() {
                let (x, y) = (50 + x * 1_300, 50 + y * 400);
                write!(
                    plan,
                    "[[container.place]]\nbundle = \"B{at}\"\nx = \"{x} mm\"\ny = \"{y} mm\"\n"
                )
                .unwrap();
            }
            tiny.write("shipments/plain/plan.toml", &plan);
        }
        let (custom, lift, line) = self.limits;
        tiny.replace(
            "rates/drayage.toml",
            "cargo = \"44000 lb\"",
            &format!("cargo = \"{custom} kg\""),
        );
        tiny.replace("rates/yards.toml", "lift = \"5 t\"", &format!("lift = \"{lift} kg\""));
        tiny.replace(
            "rates/containers.toml",
            "line-load = \"4.5 t/m\"",
            &format!("line-load = \"{line} kg/m\""),
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn check_is_sound_exactly_when_load_ends_0(made in made()) {
        let tiny = Tiny::new();
        made.write(&tiny);
        let of = |command: &str| run(tiny.path(), &[command, "plain"]);
        let (checked, loaded) = (of("check"), of("load"));
        prop_assert_eq!(checked.status.code(), loaded.status.code());
        let out = String::from_utf8(checked.stdout).unwrap();
        prop_assert_eq!(out.contains(" sound "), loaded.status.code() == Some(0), "{}", out);
        // A second look from the tables finds nothing more.
        let said = String::from_utf8(loaded.stderr).unwrap();
        prop_assert!(!said.contains("checked again by the tables"), "{}", said);
    }
}
