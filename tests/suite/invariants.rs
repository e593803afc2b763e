//! What holds for any shipment, on made-up ones: sums to the cent, whatever the prices, the
//! measures, the currencies and the ways a charge is shared.

use std::fmt::Write;

use crate::common::Tiny;
use proptest::prelude::*;
use quaystone::quantity::Money;
use quaystone::trade::Treatment;

#[derive(Debug, Clone)]
struct Made {
    slabs: Vec<(u32, u32, usize)>,
    price: (u32, &'static str, &'static str),
    discount: u32,
    places: u32,
    key: &'static str,
    days: u32,
    free: bool,
}

fn made() -> impl Strategy<Value = Made> {
    let slabs = prop::collection::vec((1500u32..3200, 900u32..1990, 0usize..4), 1..24);
    let currency = prop::sample::select(vec!["EUR", "USD", "JPY", "KWD"]);
    let unit = prop::sample::select(vec!["m2", "m3", "t", "slab", "bundle", "lot"]);
    let key = prop::sample::select(vec!["area", "mass", "value", "count"]);
    (slabs, 1u32..900, currency, unit, 0u32..9, 1u32..4, key, 0u32..40, any::<bool>()).prop_map(
        |(slabs, price, currency, unit, discount, places, key, days, free)| {
            let price = (price, currency, unit);
            Made { slabs, price, discount, places, key, days, free }
        },
    )
}

impl Made {
    fn write(&self, tiny: &Tiny) {
        let (amount, currency, unit) = self.price;
        // A free slab, unless it is the only one.
        let free = if self.free && self.slabs.len() > 1 { "free-slabs = [\"S0\"]" } else { "" };
        let shipment = format!(
            r#"
to = "savannah"
dates = {{ quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }}
[[policy]]
charge = "ocean freight"
key = "{key}"
reason = "made up"
[[invoice]]
supplier = "Quarry Dice (invented)"
number = "D-1"
term = "FOB TRIZM"
price-valid = "2026-03-01..2026-04-15"
discount = "{discount} %"
{free}
[[invoice.line]]
id = "A"
stone = "chalk"
finish = "polished"
thickness = "20 mm"
price = "{amount} {currency}/{unit}"
measure = {{ take-off = {{ length = "5 cm", height = "4 cm" }}, places = {places} }}
"#,
            key = self.key,
            discount = self.discount,
            places = self.places,
        );
        tiny.write("shipments/plain/shipment.toml", &shipment);
        let mut packing = "slab,bundle,length mm,height mm\n".to_owned();
        for (index, (length, height, bundle)) in self.slabs.iter().enumerate() {
            writeln!(packing, "S{index},B{bundle},{length},{height}").unwrap();
        }
        tiny.write("shipments/plain/packing.csv", &packing);
        tiny.append(
            "rates/fees.toml",
            &format!(
                "[[charge]]\nname = \"finance\"\nleg = \"import clearance\"\nrate = \"0.0{} %\"\nof = \"goods\"\nper = \"day\"\ndays = \"sails..delivered\"\ntreatment = \"notional\"\nvalid = \"2026-01-01..\"\nsource = \"made up\"\n",
                self.days + 10
            ),
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn every_sum_is_exact(made in made()) {
        let tiny = Tiny::new();
        made.write(&tiny);
        let (shipment, costed) = tiny.cost("plain");
        let landed = &costed.landed;
        let usd = landed.currency;
        let slabs = Money::total(usd, (0..shipment.slabs.len()).map(|slab| landed.slab_cost(slab)));
        prop_assert_eq!(slabs, Ok(landed.total));
        let stock = landed.charges.iter().filter(|charge| charge.treatment == Treatment::Stock);
        prop_assert_eq!(Money::total(usd, stock.map(quaystone::bill::Charge::book)), Ok(landed.total));
        for (at, charge) in landed.charges.iter().enumerate() {
            let slabs = landed.sets.len(charge.scope.set);
            let sum: i64 =
                (0..slabs).map(|position| landed.shares.of_charge(at, position).minor).sum();
            prop_assert_eq!(Ok(sum), charge.book().minor(), "{}", &charge.name);
        }
        let firm = landed.headline.by_basis.iter().map(|(_, sum)| *sum);
        prop_assert_eq!(Money::total(usd, firm), Ok(landed.total));
    }

    #[test]
    fn explaining_a_slab_comes_to_its_cost(made in made(), pick in any::<prop::sample::Index>()) {
        let tiny = Tiny::new();
        made.write(&tiny);
        let (shipment, costed) = tiny.cost("plain");
        let slab = pick.index(shipment.slabs.len());
        let explained = quaystone::cost::explain(&shipment, &costed.landed, slab).unwrap();
        let stock = explained.charges.iter().filter(|one| {
            costed.landed.charges[one.charge].treatment == Treatment::Stock
        });
        let sum = Money::total(costed.landed.currency, stock.map(|one| one.share));
        prop_assert_eq!(sum, Ok(costed.landed.slab_cost(slab)));
    }
}
