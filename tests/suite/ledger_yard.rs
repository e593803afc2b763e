//! What happens to slabs in a yard: they are cut, counted and measured anew, and customs change their duty.

use quaystone::ledger::{Listed, Where, identities, stock};
use quaystone::trade::{Account, Date};

use crate::ledger_common::{Estimate, Kept, event, kept, sum, sums, told};

fn day(text: &str) -> Date {
    text.parse().unwrap()
}

/// Three slabs of 5 m2 at 100 USD each, in the yard.
fn arrived() -> (Estimate, String) {
    let estimate = Estimate::new("one", "USD", 3, 1)
        .goods("300 USD", None)
        .charge("freight", "30 USD", None)
        .charge("duty", "60 USD", None)
        .on("entry 1");
    let events = event("control", "2026-02-01", "")
        + &event("arrive", "2026-03-01", "yard = \"savannah\"\n");
    (estimate, events)
}

/// S1 cut into 3 m2 and 1 m2; of the 1 m2 that is wasted, half was no part of a good cut.
fn cut() -> String {
    event(
        "cut",
        "2026-03-10",
        "id = \"cut\"\nslab = \"S1\"\nabnormal = \"0.5 m2\"\npiece = [{ slab = \"S1a\", length = \"2 m\", height = \"1.5 m\" }, { slab = \"S1b\", area = \"1 m2\" }]\n",
    )
}

/// Each slab of the list with what it costs, less what it is written down by.
fn list(kept: &Kept, all: bool) -> Vec<(String, String)> {
    let ledger = kept.ledger(None).unwrap_or_else(|told| panic!("{told}"));
    assert_eq!(identities(&ledger), []);
    let cost = |one: &Listed<'_>| format!("{}.{:02}", one.state.held / 100, one.state.held % 100);
    let listed = stock(&ledger, day("2026-12-31"), all);
    listed.iter().map(|one| (one.slab.id.to_string(), cost(one))).collect()
}

fn costs(kept: &Kept) -> Vec<String> {
    list(kept, false).into_iter().map(|(slab, cost)| format!("{slab} {cost}")).collect()
}

#[test]
fn a_cut_goes_to_the_pieces_by_area_and_abnormal_waste_to_loss() {
    let (estimate, begun) = arrived();
    let events = begun + &cut();
    // The 4 m2 that are left and the 0.5 m2 of abnormal waste bear the normal waste: 100 x 4 / 4.5 = 88.888...,
    // 88.89; of it 3 / 4 are 66.6675 and 1 / 4 is 22.2225. The abnormal waste has 11.11.
    let own = kept(&estimate, &events);
    assert_eq!(costs(&own), ["S2 100.00", "S3 100.00", "S1a 66.67", "S1b 22.22"]);
    assert_eq!(sum(&own, Account::Loss, None), "11.11");
    // Freight of 10 on each comes later. S1 has borne 110: 97.777..., 97.78, are its pieces' and 12.22 are lost. Of
    // 97.78 they have 73.335 and 24.445; a half goes to the first.
    let late = event(
        "billed",
        "2026-04-01",
        "party = \"line\"\nnumber = \"F-1\"\nline = [{ of = \"freight\", amount = \"30 USD\" }]\n",
    );
    let own = kept(&estimate, &(events.clone() + &late));
    assert_eq!(costs(&own), ["S2 110.00", "S3 110.00", "S1a 73.34", "S1b 24.44"]);
    assert_eq!(sum(&own, Account::Loss, None), "12.22");
    // A piece is sold, and the rest of the slab stays; the slab is listed as cut.
    let sold = event("issue", "2026-05-01", "slabs = [\"S1a\"]\n");
    let own = kept(&estimate, &(events + &late + &sold));
    assert_eq!(sum(&own, Account::CostOfSales, None), "73.34");
    let ledger = own.ledger(None).unwrap();
    assert_eq!(ledger.slabs[0][0].at, Where::Cut);
    // 270 kg over 3, 1, 0.5 and 0.5 m2.
    let mass = |at| ledger.slab((0, at)).unwrap().mass.to_kg(1).to_string();
    assert_eq!([mass(3), mass(4)], ["162.0", "54.0"]);
}

#[test]
fn a_piece_is_cut_again_and_what_comes_later_finds_it() {
    let (estimate, begun) = arrived();
    let again = event(
        "cut",
        "2026-03-11",
        "slab = \"S1a\"\npiece = [{ slab = \"S1c\", area = \"1 m2\" }, { slab = \"S1d\", area = \"2 m2\" }]\n",
    );
    let bill = event(
        "billed",
        "2026-04-01",
        "id = \"bill\"\nparty = \"line\"\nnumber = \"F-1\"\nline = [{ of = \"freight\", amount = \"30 USD\" }]\n",
    );
    let events = begun + &bill.replace("2026-04-01", "2026-03-02") + &cut() + &again;
    // 110 on S1: 97.78 to its pieces, 73.335 and 24.445, of S1a 24.445 and 48.89.
    let own = kept(&estimate, &events);
    let before = ["S2 110.00", "S3 110.00", "S1b 24.44", "S1c 24.45", "S1d 48.89"];
    assert_eq!(costs(&own), before);
    // The bill was posted before the cuts and is taken back after them: it goes from the pieces of today.
    let back = event("reverse", "2026-06-01", "event = \"bill\"\nreason = \"not ours\"\n");
    let own = kept(&estimate, &(events + &back));
    let after: Vec<String> = costs(&own);
    // 100 on S1: 88.89, of it 66.6675 and 22.2225; of the first 22.2225 and 44.445.
    assert_eq!(after[..3], ["S2 100.00", "S3 100.00", "S1b 22.22"]);
    let cents =
        |text: &str| text.split(' ').nth(1).unwrap().replace('.', "").parse::<i64>().unwrap();
    assert_eq!(after.iter().map(|one| cents(one)).sum::<i64>() + 1111, 30_000);
    assert!((2_221..=2_223).contains(&cents(&after[3])), "{after:?}");
}

#[test]
fn a_cut_taken_back_is_the_slab_again() {
    let (estimate, begun) = arrived();
    let down = event(
        "write down",
        "2026-03-05",
        "worth = \"60 USD\"\nreason = \"sales\"\nslabs = [\"S1\"]\n",
    );
    let events = begun + &down + &cut();
    // S1 stands at 60; its pieces are worth 60 x 4 / 4.5 = 53.33, 40.00 and 13.33.
    let own = kept(&estimate, &events);
    let ledger = own.ledger(None).unwrap();
    let stands = |at: usize| ledger.slabs[0][at].held - ledger.slabs[0][at].allowance;
    assert_eq!([stands(3), stands(4)], [4_000, 1_333]);
    let back = event("reverse", "2026-03-12", "event = \"cut\"\nreason = \"another slab\"\n");
    let own = kept(&estimate, &(events.clone() + &back));
    assert_eq!(costs(&own), ["S1 100.00", "S2 100.00", "S3 100.00"]);
    assert_eq!(sum(&own, Account::Allowance, None), "-40.00");
    assert_eq!(sum(&own, Account::Loss, None), "0.00");
    // The numbers of its pieces are free again.
    kept(
        &estimate,
        &(events.clone()
            + &back
            + &cut().replace("\"cut\"\nslab", "\"cut again\"\nslab").replace("03-10", "03-13")),
    );
    let sold = event("issue", "2026-03-11", "slabs = [\"S1a\"]\n");
    let said = told(&estimate, &(events + &sold + &back));
    assert!(said.contains("a piece has gone on"), "{said}");
}

#[test]
fn what_is_wrong_with_a_cut_is_told() {
    let (estimate, begun) = arrived();
    for (piece, says) in [
        ("{ slab = \"S2\", area = \"1 m2\" }", "a slab is called \"S2\" already"),
        (
            "{ slab = \"a\", area = \"1 m2\" }, { slab = \"a\", area = \"1 m2\" }",
            "called \"a\" already",
        ),
        ("{ slab = \"a\", area = \"5.1 m2\" }", "cut from slab S1 is 5.1 m2, and the slab is 5 m2"),
        ("{ slab = \"a\" }", "a piece lacks what it measures"),
        ("{ slab = \"a\", length = \"2 m\" }", "write `area`, or `length` and `height`"),
    ] {
        let cut = event("cut", "2026-03-10", &format!("slab = \"S1\"\npiece = [{piece}]\n"));
        let said = told(&estimate, &(begun.clone() + &cut));
        assert!(said.contains(says), "{says} is not in {said}");
    }
    let afloat = event("control", "2026-02-01", "") + &cut();
    let said = told(&estimate, &afloat);
    assert!(said.contains("slab S1 is not on hand: it is in transit"), "{said}");
}

#[test]
fn a_count_loses_what_is_not_there_and_brings_back_what_is_found_again() {
    let (estimate, begun) = arrived();
    let first = event("count", "2026-06-30", "yard = \"savannah\"\nslabs = [\"S2\"]\n");
    let own = kept(&estimate, &(begun.clone() + &first));
    assert_eq!(costs(&own), ["S2 100.00"]);
    assert_eq!(sum(&own, Account::Loss, None), "200.00");
    // Freight is owed after the loss: it lies on S2 alone. S1 comes back with what was expensed of it.
    let owed = event("owed", "2026-07-01", "of = [\"freight\"]\n");
    let second = event(
        "count",
        "2026-12-30",
        "id = \"second\"\nyard = \"savannah\"\nslabs = [\"S1\", \"S2\"]\n[[event.found]]\nslab = \"X9\"\nstate = \"over\"\n[[event.found]]\nslab = \"S2\"\nstate = \"downgraded\"\nquality = \"standard\"\nlength = \"2 m\"\nheight = \"2.4 m\"\n",
    );
    let events = begun + &first + &owed + &second;
    let own = kept(&estimate, &events);
    assert_eq!(costs(&own), ["S1 100.00", "S2 130.00"]);
    assert_eq!(sum(&own, Account::Loss, None), "100.00");
    let ledger = own.ledger(None).unwrap();
    assert_eq!(ledger.over[0][0].0, "X9");
    let listed = stock(&ledger, day("2026-12-31"), false);
    assert_eq!(
        (listed[1].quality(), listed[1].gross().to_m2(2).to_string()),
        (Some("standard"), "4.80".to_owned())
    );
    // Taken back, S1 is lost as it was before, and nothing was found.
    let back = event("reverse", "2026-12-31", "event = \"second\"\nreason = \"another yard\"\n");
    let own = kept(&estimate, &(events + &back));
    assert_eq!(costs(&own), ["S2 130.00"]);
    let ledger = own.ledger(None).unwrap();
    assert!(ledger.over[0].is_empty() && ledger.slabs[0][1].measured.is_none());
}

#[test]
fn a_count_in_a_shipments_file_is_of_its_slabs_and_in_a_yards_file_of_all() {
    let (one, begun) = arrived();
    let mut two = Estimate::new("two", "USD", 2, 1).goods("80 USD", None);
    two.freeze.slabs[0].id = "T1".into();
    let own = event("count", "2026-06-30", "yard = \"savannah\"\nslabs = [\"S1\", \"S2\"]\n");
    let arrive = event("control", "2026-02-01", "")
        + &event("arrive", "2026-03-01", "yard = \"savannah\"\n");
    let count = |events: &str, yards: &str| {
        let kept = Kept::of(&[&one, &two], &[events, &arrive], yards).unwrap();
        sum(&kept, Account::Loss, None)
    };
    assert_eq!(count(&(begun.clone() + &own), ""), "100.00");
    let all = event(
        "count",
        "2026-06-30",
        "yard = \"savannah\"\nslabs = [\"one/S1\", \"one/S2\", \"two/T1\"]\n",
    );
    assert_eq!(count(&begun, &all), "140.00");
    // What stands elsewhere by the books is no find.
    let moved = event("move", "2026-05-01", "yard = \"norfolk\"\nslabs = [\"S1\"]\n");
    let said = told(&one, &(begun + &moved + &own));
    assert!(said.contains("slab S1 stands in norfolk, and is found in savannah"), "{said}");
}

/// A change of the duty of entry 1.
fn changed(amount: &str, rest: &str) -> String {
    event(
        "duty changed",
        "2027-05-01",
        &format!(
            "id = \"changed\"\nparty = \"customs\"\nnumber = \"L-1\"\nentry = \"1\"\nline = [{{ of = \"duty\", amount = \"{amount}\" }}]\n{rest}"
        ),
    )
}

#[test]
fn a_duty_changed_years_later_goes_where_the_slabs_are_and_its_interest_to_finance() {
    let (estimate, begun) = arrived();
    let bill = event(
        "billed",
        "2026-03-02",
        "party = \"customs\"\nnumber = \"E-1\"\nfinal = true\nline = [{ of = \"duty\", amount = \"60 USD\" }]\n",
    );
    let sold = event("issue", "2026-04-01", "slabs = [\"S1\"]\n");
    let begun = begun + &bill + &sold;
    // 9 more over three slabs: one of them is sold. Interest of 2 is owed with it.
    let own = kept(&estimate, &(begun.clone() + &changed("9 USD", "interest = \"2 USD\"\n")));
    let all = sums(&own, None);
    assert_eq!((&*all[&Account::CostOfSales], &*all[&Account::Yard]), ("123.00", "246.00"));
    // 300 of goods, 60 of duty, 9 more and 2 of interest.
    assert_eq!((&*all[&Account::Finance], &*all[&Account::Payables]), ("2.00", "-371.00"));
    // Given back under a rule, it is owed by customs, and so is the interest.
    let refund = changed("9 USD", "refund = \"19 CFR 158.12\"\ninterest = \"2 USD\"\n");
    let own = kept(&estimate, &(begun.clone() + &refund));
    let all = sums(&own, None);
    assert_eq!((&*all[&Account::CostOfSales], &*all[&Account::Yard]), ("117.00", "234.00"));
    assert_eq!((&*all[&Account::Finance], &*all[&Account::Receivables]), ("-2.00", "11.00"));
    let back = event("reverse", "2027-06-01", "event = \"changed\"\nreason = \"withdrawn\"\n");
    let own = kept(&estimate, &(begun.clone() + &refund + &back));
    let all = sums(&own, None);
    assert_eq!((&*all[&Account::CostOfSales], &*all[&Account::Receivables]), ("120.00", "0.00"));
    // Two decisions of one number, a charge of no entry, and one that is not owed.
    for (rest, says) in [
        (
            changed("9 USD", "") + &changed("9 USD", "").replace("\"changed\"", "\"again\""),
            "bill L-1 of customs comes a second time",
        ),
        (changed("9 USD", "").replace("\"duty\"", "\"freight\""), "\"freight\" is none of entry 1"),
        (changed("-9 USD", ""), "-9.00 USD is given back by its sign, and not under a rule"),
        (changed("9 USD", "interest = \"2 EUR\"\n"), "the interest is in another currency"),
    ] {
        let said = told(&estimate, &(begun.clone() + &rest));
        assert!(said.contains(says), "{says} is not in {said}");
    }
    let (_, bare) = arrived();
    let said = told(&estimate, &(bare + &changed("9 USD", "")));
    assert!(said.contains("\"duty\" is changed before it is owed"), "{said}");
}
