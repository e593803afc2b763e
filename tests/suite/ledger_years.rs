//! Random years of the books: whatever happens, every identity holds to the cent at every date.
//!
//! Events are drawn one by one, each on a later day; one that the books refuse is left out, as nobody could have
//! posted it. `QUAYSTONE_DRAWN=200` draws 200 years.

use std::collections::BTreeMap;
use std::fmt::Write;

use quaystone::ledger::{Ledger, identities};
use quaystone::quantity::Cut;
use quaystone::trade::{Account, Treatment};

use crate::ledger_common::{Estimate, Kept};

/// A source of chance.
struct Chance(u64);

impl Chance {
    fn of(seed: u64) -> Self {
        Self(seed + 1)
    }

    /// A whole number below `most`.
    fn below(&mut self, most: usize) -> usize {
        // SplitMix64 (Steele, Lea and Flood, Fast splittable pseudorandom number generators, 2014; from memory).
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        usize::try_from((mixed ^ (mixed >> 31)) >> 33).unwrap() % most
    }

    fn one<'t>(&mut self, all: &[&'t str]) -> &'t str {
        all[self.below(all.len())]
    }

    /// An amount up to some thousands, with cents.
    fn cents(&mut self) -> String {
        let cents = self.below(400_000);
        format!("{}.{:02}", cents / 100, cents % 100)
    }

    fn rate(&mut self) -> String {
        format!("1 EUR = 1.{:04} USD", 500 + self.below(1_500))
    }

    /// A few slabs of so many.
    fn slabs(&mut self, count: usize) -> String {
        let first = 1 + self.below(count);
        let last = (first + self.below(3)).min(count);
        let names: Vec<String> = (first..=last).map(|at| format!("\"S{at}\"")).collect();
        format!("slabs = [{}]\n", names.join(", "))
    }
}

/// The charges of an invented estimate.
const CHARGES: [&str; 6] =
    ["freight/box 1", "freight/box 2", "duty", "haulage", "demurrage", "vat"];

fn estimate(name: &str, chance: &mut Chance) -> (Estimate, usize) {
    let slabs = 3 + chance.below(6);
    let goods = format!("{} EUR", chance.cents());
    let rate = chance.rate();
    let mut own = Estimate::new(name, "USD", slabs, 2).goods(&goods, Some(&rate));
    for key in CHARGES {
        let currency = chance.one(&["USD", "EUR"]);
        let amount = format!("{} {currency}", chance.cents());
        let rate = chance.rate();
        let rate = (currency == "EUR").then_some(&*rate);
        let treatment = match key {
            "demurrage" => Treatment::Period,
            "vat" => Treatment::Recoverable,
            _ => Treatment::Stock,
        };
        let is_box = |at: &usize| match key {
            "freight/box 1" => at.is_multiple_of(2),
            "freight/box 2" => !at.is_multiple_of(2),
            _ => true,
        };
        let by =
            (0..slabs).filter(is_box).map(|at| (at, 1 + u32::try_from(chance.below(9)).unwrap()));
        own = own.shared(key, &amount, rate, (treatment, by.collect()));
    }
    let own = if chance.below(2) == 0 { own.normal_loss("20 %") } else { own };
    (own, slabs)
}

/// One event on a day, which may or may not be possible.
fn event(at: usize, day: &str, slabs: usize, chance: &mut Chance) -> String {
    let mut text = format!("[[event]]\nid = \"e{at}\"\noccurred = {day}\n");
    let key = chance.one(&CHARGES);
    let currency = chance.one(&["USD", "EUR"]);
    let amount = format!("{} {currency}", chance.cents());
    let (rate, owed_rate) = (chance.rate(), chance.rate());
    let rates = format!("rate = \"{rate}\"\n");
    let party = chance.one(&["line", "customs", "Quarry Inkwell"]);
    let bill = 1 + chance.below(at + 1);
    let some = chance.slabs(slabs);
    let mut say = |rest: &str| text.push_str(rest);
    match chance.below(17) {
        0 => say(&format!(
            "kind = \"advance\"\ninvoice = \"I-1\"\namount = \"{}.00 EUR\"\nbank = \"{} USD\"\nrefundable = {}\n",
            chance.below(500),
            chance.cents(),
            chance.below(3) == 0
        )),
        1 | 2 => {
            say(&format!(
                "kind = \"control\"\n{}",
                if chance.below(2) == 0 { &*rates } else { "" }
            ));
        }
        3 | 4 => say(&format!(
            "kind = \"owed\"\nof = [\"{key}\"]\n{}",
            if chance.below(2) == 0 { &*rates } else { "" }
        )),
        5 | 6 => say(&format!(
            "kind = \"billed\"\nparty = \"{party}\"\nnumber = \"N{at}\"\nfinal = {}\n{rates}owed-rate = \"{owed_rate}\"\nline = [{{ of = \"{key}\", amount = \"{amount}\" }}]\n",
            chance.below(2) == 0
        )),
        7 => say(&format!(
            "kind = \"billed\"\nparty = \"{party}\"\nnumber = \"N{at}\"\n{rates}line = [{{ new = \"storage\", amount = \"{amount}\", boxes = [\"{}\"], by = \"{}\", reason = \"the port was closed\" }}]\n",
            1 + chance.below(2),
            chance.one(&["area", "mass", "count"])
        )),
        8 => say(&format!(
            "kind = \"credit\"\nparty = \"{party}\"\nnumber = \"N{at}\"\n{rates}{}line = [{{ of = \"{key}\", amount = \"{}.17 {currency}\" }}]\n",
            if chance.below(2) == 0 { format!("against = \"N{bill}\"\n") } else { String::new() },
            chance.below(300)
        )),
        9 => {
            let number =
                if party == "Quarry Inkwell" { "I-1".to_owned() } else { format!("N{bill}") };
            say(&format!(
                "kind = \"paid\"\nparty = \"{party}\"\nbills = [\"{number}\"]\nbank = \"{} USD\"\nfee = \"3.50 USD\"\n",
                chance.cents()
            ));
        }
        10 | 11 => {
            say(&format!(
                "kind = \"arrive\"\nyard = \"savannah\"\nboxes = [\"{}\"]\n",
                1 + chance.below(2)
            ));
            for _ in 0..chance.below(3) {
                let state = chance.one(&["broken", "short", "re-measured"]);
                say(&format!(
                    "[[event.found]]\nslab = \"S{}\"\nstate = \"{state}\"\n",
                    1 + chance.below(slabs)
                ));
            }
        }
        12 => say(&format!(
            "kind = \"issue\"\nuse = \"{}\"\n{some}",
            chance.one(&["sold", "own use", "sample"])
        )),
        13 => say(&match chance.below(3) {
            0 => format!("kind = \"return in\"\nyard = \"norfolk\"\n{some}"),
            1 => format!("kind = \"move\"\nyard = \"norfolk\"\n{some}"),
            _ => format!(
                "kind = \"return out\"\nparty = \"{party}\"\nnumber = \"R{at}\"\namount = \"{amount}\"\n{rates}{some}"
            ),
        }),
        14 => say(&format!("kind = \"loss\"\nreason = \"fell\"\n{some}")),
        15 => {
            let kind = chance.one(&["write down", "write back"]);
            say(&format!(
                "kind = \"{kind}\"\nworth = \"{}.00 USD\"\nreason = \"sales\"\n{some}",
                chance.below(900)
            ));
        }
        _ => say(&match chance.below(3) {
            0 => format!(
                "kind = \"reverse\"\nreason = \"typed wrong\"\nevent = \"e{}\"\n",
                chance.below(at + 1)
            ),
            1 => format!("kind = \"close\"\nuntil = {day}\nrates = [\"{rate}\"]\n"),
            _ => format!(
                "kind = \"claim\"\nparty = \"railway\"\nnumber = \"K\"\nstate = \"{}\"\namount = \"300 EUR\"\nbank = \"310 USD\"\n{rates}",
                chance.one(&["made", "admitted", "paid"])
            ),
        }),
    }
    text
}

/// Accounts by yard and party, and what each has.
type Sums = BTreeMap<(Account, String, String), i64>;

/// All that the accounts and slabs of a ledger have, to hold two of them against each other.
fn figures(ledger: &Ledger<'_>) -> (Sums, Vec<String>) {
    let mut sums = Sums::new();
    for line in ledger.entries.iter().flat_map(|entry| &entry.lines) {
        let key = (line.account, line.yard.clone(), line.party.clone());
        *sums.entry(key).or_default() += line.book;
    }
    sums.retain(|_, sum| *sum != 0);
    let slab = |slab: &quaystone::ledger::SlabState| {
        format!("{:?} {} {} {}", slab.at, slab.held, slab.allowance, slab.carried)
    };
    (sums, ledger.slabs.iter().flatten().map(slab).collect())
}

/// A year of one shipment: its events, of which the books took each.
fn year(seed: u64) -> (Estimate, Vec<String>) {
    let mut chance = Chance::of(seed);
    let (estimate, slabs) = estimate("one", &mut chance);
    let mut kept = Kept::of(&[&estimate], &[""], "").unwrap();
    let mut taken: Vec<String> = Vec::new();
    for at in 0..90 {
        let day = format!("2026-{:02}-{:02}", 1 + at / 8, 1 + 3 * (at % 8));
        let new = event(at, &day, slabs, &mut chance);
        // A close is of all books: it stands in the file of the yards.
        let (own, closes): (Vec<&String>, Vec<&String>) =
            taken.iter().chain([&new]).partition(|text| !text.contains("kind = \"close\""));
        let text = |all: Vec<&String>| all.into_iter().cloned().collect::<String>();
        let is_taken = kept.write(&[&estimate], &[&text(own)], &text(closes)).is_ok()
            && kept.ledger(None).is_ok();
        if is_taken {
            taken.push(new);
        }
    }
    (estimate, taken)
}

/// The books of a year's events in some order.
fn books<'e>(estimate: &Estimate, events: impl Iterator<Item = &'e String>) -> Kept {
    let (mut own, mut closes) = (String::new(), String::new());
    for text in events {
        let file = if text.contains("kind = \"close\"") { &mut closes } else { &mut own };
        file.push_str(text);
    }
    Kept::of(&[estimate], &[&own], &closes).unwrap_or_else(|told| panic!("{told}"))
}

#[test]
fn every_identity_holds_at_every_date_of_random_years() {
    let drawn = std::env::var("QUAYSTONE_DRAWN").ok().and_then(|text| text.parse().ok());
    let mut kinds: BTreeMap<String, usize> = BTreeMap::new();
    let mut most = 0;
    for seed in 0..drawn.unwrap_or(12) {
        let (estimate, events) = year(seed);
        let kept = books(&estimate, events.iter());
        for text in &events {
            let kind = text.split("kind = \"").nth(1).unwrap().split('"').next().unwrap();
            *kinds.entry(kind.to_owned()).or_default() += 1;
            let day = text.split("occurred = ").nth(1).unwrap().lines().next().unwrap();
            let ledger = kept.ledger(Some(day)).unwrap();
            let broken = identities(&ledger);
            assert!(broken.is_empty(), "year {seed} on {day}: {broken:#?}\n{}", events.concat());
        }
        let ledger = kept.ledger(None).unwrap();
        let owed = ledger.charges[0].iter().all(|charge| charge.owed.is_some());
        if owed {
            let off = ledger.slabs[0].iter().map(|slab| slab.carried.abs()).max().unwrap();
            most = most.max(off);
        }
        // The same events in another order of the file come to the same: their days tell their order.
        let turned = books(&estimate, events.iter().rev());
        assert_eq!(figures(&turned.ledger(None).unwrap()), figures(&ledger), "year {seed}");
    }
    let mut lacking = String::new();
    for kind in [
        "control",
        "owed",
        "billed",
        "credit",
        "paid",
        "arrive",
        "issue",
        "loss",
        "reverse",
        "close",
        "move",
        "write down",
    ] {
        if !kinds.contains_key(kind) {
            writeln!(lacking, "{kind}").unwrap();
        }
    }
    assert!(lacking.is_empty(), "never drawn: {lacking}of {kinds:?}");
    // Charges lie on boxes and on survivors here, and events are taken back: then a unit cannot be promised. That
    // each event leaves no slab further off than one must be is a property in src/ledger/deal.rs.
    assert!(most < 2 * Cut::WHOLE, "a slab is {most} parts off its exact total");
}

#[test]
fn an_event_and_its_reversal_are_nothing() {
    let mut tried = 0;
    for seed in 100..108 {
        let (estimate, events) = year(seed);
        for count in 1..=events.len() {
            let before = books(&estimate, events[..count - 1].iter());
            let last = &events[count - 1];
            if last.contains("kind = \"close\"") || last.contains("kind = \"reverse\"") {
                continue;
            }
            let id = last.split("id = \"").nth(1).unwrap().split('"').next().unwrap();
            let back = format!(
                "[[event]]\nkind = \"reverse\"\nid = \"back\"\noccurred = 2027-06-01\nevent = \"{id}\"\nreason = \"typed twice\"\n"
            );
            let after = books(&estimate, events[..count].iter().chain([&back]));
            let after = after.ledger(None).unwrap_or_else(|told| panic!("{told}"));
            assert_eq!(identities(&after), []);
            assert_eq!(figures(&after), figures(&before.ledger(None).unwrap()), "{last}");
            tried += 1;
        }
    }
    assert!(tried > 100, "{tried}");
}
