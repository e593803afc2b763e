//! Shares and totals: the exact figure rounded down or up, on every slab, bundle and box.

use std::fmt::Write;

use crate::common::Tiny;
use quaystone::choose::Costed;
use quaystone::trade::Shipment;

/// A row of rates/fees.toml for the whole shipment.
fn fee(name: &str, amount: &str, more: &str) -> String {
    format!(
        "[[charge]]\nyard = \"savannah\"\nname = \"{name}\"\nleg = \"unloading\"\namount = \"{amount}\"\n\
         per = \"shipment\"\nvalid = \"2026-01-01..\"\nsource = \"invented\"\n{more}\n"
    )
}

/// `tests/tiny` with bundles of slabs in its plain shipment, and fees.
fn workspace(slabs: &[(&str, &str, &str)], fees: &str) -> Tiny {
    let tiny = Tiny::new();
    let mut list = String::from("slab,bundle,length (cm),height (cm)\n");
    for (slab, bundle, sides) in slabs {
        writeln!(list, "{slab},{bundle},{sides}").unwrap();
    }
    tiny.write("shipments/plain/packing.csv", &list);
    tiny.append("rates/fees.toml", fees);
    tiny
}

/// What every slab bears of the charge of a name, in cents.
fn borne(costed: &Costed, name: &str) -> Vec<i64> {
    let landed = &costed.landed;
    let at = landed.charges.iter().position(|charge| charge.name == name).unwrap();
    let slabs = landed.sets.len(landed.charges[at].scope.set);
    (0..slabs).map(|position| landed.shares.of_charge(at, position).minor).collect()
}

fn by_bundle(shipment: &Shipment, costed: &Costed) -> Vec<i64> {
    let mut sums = vec![0; shipment.bundles.len()];
    for (at, slab) in shipment.slabs.iter().enumerate() {
        sums[usize::try_from(slab.bundle).unwrap()] += costed.landed.slab_cost(at).minor().unwrap();
    }
    sums
}

#[test]
fn identical_bundles_land_at_one_cost() {
    // Seven bundles of three like slabs, and forty charges of which each leaves cents over: by the
    // largest remainder of each charge alone they all went to the first slabs.
    let names: Vec<(String, String)> =
        (0..21).map(|at| (format!("S{at:02}"), format!("B{}", at / 3))).collect();
    let slabs: Vec<(&str, &str, &str)> =
        names.iter().map(|(slab, bundle)| (&**slab, &**bundle, "300,180")).collect();
    let fees: String = (0..40)
        .map(|at| fee(&format!("fee {at}"), &format!("{}.{:02} USD", 10 + at, at), ""))
        .collect();
    let (shipment, costed) = workspace(&slabs, &fees).cost("plain");
    let bundles = by_bundle(&shipment, &costed);
    let (least, most) = (bundles.iter().min().unwrap(), bundles.iter().max().unwrap());
    assert!(most - least <= 1, "{bundles:?}");
    let slabs: Vec<i64> = (0..21).map(|at| costed.landed.slab_cost(at).minor().unwrap()).collect();
    let (least, most) = (slabs.iter().min().unwrap(), slabs.iter().max().unwrap());
    assert!(most - least <= 1, "{slabs:?}");
}

#[test]
fn a_charge_that_takes_back_another_mirrors_its_shares() {
    // 10.00 over three like slabs is 3.34, 3.33 and 3.33 somehow; taken back it is nothing on each.
    let like = [("A1", "B1", "300,180"), ("A2", "B1", "300,180"), ("A3", "B2", "300,180")];
    let fees = fee("storage", "10.00 USD", "") + &fee("storage waived", "-10.00 USD", "");
    let (_, costed) = workspace(&like, &fees).cost("plain");
    let (given, back) = (borne(&costed, "storage"), borne(&costed, "storage waived"));
    assert_eq!(given.iter().sum::<i64>(), 1_000);
    assert_eq!(back, given.iter().map(|share| -share).collect::<Vec<_>>());
}

#[test]
fn slabs_billed_in_square_feet_weigh_by_their_area() {
    // 6 m2 and twice 3 m2, no places stated: half and two quarters, so that what divides evenly does.
    // In millionths of a square foot they are 64.583463, 32.291731 and 32.291731, which is not even,
    // and a share of 25.00 came out as 24.99 or 25.00.
    let slabs = [("A1", "B1", "300,200"), ("A2", "B1", "200,150"), ("A3", "B1", "200,150")];
    let fees: String = (0..8).map(|at| fee(&format!("fee {at}"), "100.00 USD", "")).collect();
    let tiny = workspace(&slabs, &fees);
    let shipment = "shipments/plain/shipment.toml";
    tiny.replace(shipment, "\"40.00 EUR/m2\"", "\"4.00 EUR/ft2\"\nmeasure = { unit = \"ft2\" }");
    let (_, costed) = tiny.cost("plain");
    for at in 0..8 {
        assert_eq!(borne(&costed, &format!("fee {at}")), [5_000, 2_500, 2_500]);
    }
}

#[test]
fn a_weight_by_value_is_exact() {
    // Derived by hand. Three slabs of 5.4, 5.4 and 4 m2 at 40.00 EUR are 592.00 EUR together; booked in
    // cents of another currency their values would be rounded, and no longer as 27, 27 and 20. A fee
    // of 740,000.00 by value is 270,000.00, 270,000.00 and 200,000.00, to the cent.
    let slabs = [("A1", "B1", "300,180"), ("A2", "B1", "300,180"), ("A3", "B2", "250,160")];
    let fees: String =
        (0..8).map(|at| fee(&format!("fee {at}"), "740000.00 USD", "key = \"value\"")).collect();
    let (_, costed) = workspace(&slabs, &fees).cost("plain");
    for at in 0..8 {
        assert_eq!(borne(&costed, &format!("fee {at}")), [27_000_000, 27_000_000, 20_000_000]);
    }
}
