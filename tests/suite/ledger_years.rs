//! Random years of the books: whatever happens, every identity holds to the cent at every date.
//!
//! Two shipments, with files of their own and one of the yards, in which a bill covers both. Events are drawn one by one, each on a later day; one that the books refuse is left out, as nobody could have
//! posted it. `QUAYSTONE_DRAWN=200` draws 200 years.

use std::collections::BTreeMap;
use std::fmt::Write;

use quaystone::ledger::{Ledger, Where, identities};
use quaystone::quantity::Cut;
use quaystone::trade::{Account, Treatment};

use crate::ledger_apart::parts;
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
}

/// The charges of an invented estimate.
const CHARGES: [&str; 6] =
    ["freight/box 1", "freight/box 2", "duty", "haulage", "demurrage", "vat"];

fn estimate(name: &str, chance: &mut Chance) -> Estimate {
    let slabs = 3 + chance.below(6);
    let goods = format!("{} EUR", chance.cents());
    let rate = chance.rate();
    let mut own = Estimate::new(name, "USD", slabs, 2);
    // The goods of each box are under a bill of lading of their own: control of each passes on its day.
    for (at, key) in ["goods/line A, bill B-1", "goods/line A, bill B-2"].into_iter().enumerate() {
        own.freeze.boxes[at].bill = Some(format!("B-{}", at + 1));
        let by = (0..slabs).filter(|slab| slab % 2 == at).map(|slab| (slab, 1)).collect();
        own = own.shared(key, &goods, Some(&rate), (Treatment::Stock, by)).on_invoice();
    }
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
        if key == "duty" {
            own = own.on("entry 1");
        }
    }
    if chance.below(2) == 0 { own.normal_loss("20 %") } else { own }
}

/// Two shipments, and how they stand before an event is drawn.
struct Standing {
    /// The slabs of each, those packed and pieces, with the yard of those that stand in one.
    slabs: [Vec<(String, Option<String>)>; 2],
    /// The events that were taken, by name.
    taken: Vec<String>,
}

impl Standing {
    fn of(ledger: &Ledger<'_>) -> Self {
        let of = |shipment: usize| {
            let slabs = ledger.slabs[shipment].iter().enumerate();
            let each = slabs.map(|(at, state)| {
                let yard = match &state.at {
                    Where::Yard(yard) => Some(yard.to_string()),
                    _ => None,
                };
                (ledger.slab((shipment, at)).unwrap().id.to_string(), yard)
            });
            each.collect()
        };
        let taken = ledger.books.events.iter().map(|event| event.id.clone());
        let taken = taken.chain(["none".to_owned()]).collect();
        Self { slabs: [of(0), of(1)], taken }
    }

    /// A few slabs of a shipment's file, or of both in the file of the yards.
    fn some(&self, file: usize, chance: &mut Chance) -> Vec<String> {
        let own = |shipment: usize, chance: &mut Chance| {
            // Those that stand in a yard more often than others: more can happen to them.
            let is_standing = chance.below(3) > 0;
            let all = self.slabs[shipment].iter();
            let mut all: Vec<&String> =
                all.filter(|(_, yard)| !is_standing || yard.is_some()).map(|(id, _)| id).collect();
            if all.is_empty() {
                all.extend(self.slabs[shipment].iter().map(|(id, _)| id));
            }
            let first = chance.below(all.len());
            let last = (first + chance.below(3)).min(all.len() - 1);
            all[first..=last].iter().map(|id| (*id).clone()).collect::<Vec<_>>()
        };
        if file < 2 {
            return own(file, chance);
        }
        let named = |shipment: usize, all: Vec<String>| {
            all.into_iter().map(move |id| format!("{}/{id}", NAMES[shipment]))
        };
        let first = named(0, own(0, chance)).collect::<Vec<_>>();
        first.into_iter().chain(named(1, own(1, chance))).collect()
    }

    /// A box comes, with what was found in it.
    fn arrive(&self, file: usize, chance: &mut Chance) -> String {
        let mut text = format!(
            "kind = \"arrive\"\nyard = \"savannah\"\nboxes = [\"{}\"]\n",
            1 + chance.below(2)
        );
        for _ in 0..chance.below(2) {
            let state = chance.one(&["broken", "short", "re-measured\"\narea = \"4.9 m2"]);
            let slab = &self.some(file, chance)[0];
            writeln!(text, "[[event.found]]\nslab = \"{slab}\"\nstate = \"{state}\"").unwrap();
        }
        writeln!(text, "[[event.found]]\nslab = \"X{}\"\nstate = \"over\"", chance.below(9))
            .unwrap();
        text
    }

    /// A count of Savannah: one that stands there is missed now and then, and now and then another is found.
    fn count(&self, file: usize, others: Vec<String>, chance: &mut Chance) -> String {
        let mut all = Vec::new();
        for (shipment, slabs) in self.slabs.iter().enumerate() {
            let stands = slabs.iter().filter(|(_, yard)| yard.as_deref() == Some("savannah"));
            for (id, _) in stands.filter(|_| file == 2 || file == shipment) {
                if chance.below(20) > 0 {
                    let name = NAMES[shipment];
                    all.push(if file == 2 { format!("{name}/{id}") } else { id.clone() });
                }
            }
        }
        all.extend(others.into_iter().filter(|_| chance.below(8) == 0));
        all.sort();
        all.dedup();
        format!("kind = \"count\"\nyard = \"savannah\"\n{}", named(&all))
    }
}

/// A slab is cut into three pieces.
fn cut(slab: &str, chance: &mut Chance) -> String {
    let mut piece = |end: &str| {
        let area = 1 + chance.below(15);
        format!("{{ slab = \"{slab}{end}\", area = \"{}.{} m2\" }}", area / 10, area % 10)
    };
    let pieces = [piece("a"), piece("b"), piece("c")].join(", ");
    let abnormal = if chance.below(2) == 0 { "abnormal = \"0.3 m2\"\n" } else { "" };
    format!("kind = \"cut\"\nslab = \"{slab}\"\n{abnormal}piece = [{pieces}]\n")
}

const NAMES: [&str; 2] = ["one", "two"];

fn named(slabs: &[String]) -> String {
    let names: Vec<String> = slabs.iter().map(|id| format!("\"{id}\"")).collect();
    format!("slabs = [{}]\n", names.join(", "))
}

/// Slabs go to another yard, come back or go back.
fn goes_elsewhere(
    at: usize,
    (party, amount, rates): (&str, &str, &str),
    some: &str,
    chance: &mut Chance,
) -> String {
    match chance.below(3) {
        0 => format!("kind = \"return in\"\nyard = \"norfolk\"\n{some}"),
        1 => format!(
            "kind = \"move\"\nyard = \"norfolk\"\n{some}party = \"{party}\"\nnumber = \"N{at}\"\n{rates}line = [{{ new = \"haulage\", amount = \"{amount}\"{} }}]\n",
            chance.one(&["", ", treatment = \"stock\", reason = \"to the first point of sale\""])
        ),
        _ => format!(
            "kind = \"return out\"\nparty = \"{party}\"\nnumber = \"R{at}\"\namount = \"{amount}\"\n{rates}{some}"
        ),
    }
}

/// A slab that came over is taken in, or one of another house comes or goes.
fn comes_over(
    is_taken: bool,
    (over, party): (&str, &str),
    like: &str,
    chance: &mut Chance,
) -> String {
    if is_taken {
        return format!(
            "kind = \"take in\"\nslab = \"{over}X{}\"\nlike = \"{}\"\narea = \"4.{} m2\"\n",
            chance.below(9),
            like,
            chance.below(9)
        );
    }
    match chance.below(2) {
        0 => format!(
            "kind = \"consigned in\"\nparty = \"{party}\"\nyard = \"savannah\"\npiece = [{{ slab = \"K{}\", area = \"4 m2\" }}]\n",
            chance.below(2)
        ),
        _ => format!("kind = \"consigned out\"\nslabs = [\"K{}\"]\n", chance.below(2)),
    }
}

/// One event on a day in a file, which may or may not be possible. The third file is that of the yards.
fn event(
    (at, day): (usize, &str),
    (file, standing): (usize, &Standing),
    chance: &mut Chance,
) -> String {
    let mut text = format!("[[event]]\nid = \"e{at}\"\noccurred = {day}\n");
    let key = chance.one(&CHARGES);
    let currency = chance.one(&["USD", "EUR"]);
    let amount = format!("{} {currency}", chance.cents());
    let (rate, owed_rate) = (chance.rate(), chance.rate());
    let rates = format!("rate = \"{rate}\"\n");
    let party = chance.one(&["line", "customs", "Quarry Inkwell"]);
    let bill = 1 + chance.below(at + 1);
    let slabs = standing.some(file, chance);
    let some = named(&slabs);
    let lines = if file < 2 {
        format!("line = [{{ of = \"{key}\", amount = \"{amount}\" }}]\n")
    } else {
        let other = format!("{} {currency}", chance.cents());
        format!(
            "line = [{{ of = \"one/{key}\", amount = \"{amount}\" }}, {{ of = \"two/{key}\", amount = \"{other}\" }}]\n"
        )
    };
    let key = if file < 2 { key.to_owned() } else { format!("two/{key}") };
    let over = if file < 2 { "" } else { "two/" };
    let mut say = |rest: &str| text.push_str(rest);
    // Goods that have passed have come by the spring, so that there is something that can happen to them.
    let kind = match at {
        0..4 => 1,
        8..16 => 10,
        _ => chance.below(27),
    };
    match kind {
        0 => say(&format!(
            "kind = \"advance\"\ninvoice = \"I-1\"\namount = \"{}.00 EUR\"\nbank = \"{} USD\"\nrefundable = {}\n",
            chance.below(500),
            chance.cents(),
            chance.below(3) == 0
        )),
        1 | 2 => say(&format!(
            "kind = \"control\"\n{}{}",
            chance.one(&[&rates, ""]),
            chance.one(&["", "bill = \"B-1\"\n", "bill = \"B-2\"\n"])
        )),
        3 | 4 => {
            let rates = chance.one(&[&rates, ""]);
            say(&format!("kind = \"owed\"\nof = [\"{key}\"]\n{rates}"));
        }
        5 | 6 => say(&format!(
            "kind = \"billed\"\nparty = \"{party}\"\nnumber = \"N{at}\"\nfinal = {}\n{rates}owed-rate = \"{owed_rate}\"\n{lines}",
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
        10 | 11 => say(&standing.arrive(file, chance)),
        12 => say(&format!(
            "kind = \"issue\"\nuse = \"{}\"\n{some}",
            chance.one(&["sold", "own use", "sample"])
        )),
        13 | 20 => say(&goes_elsewhere(at, (party, &amount, &rates), &some, chance)),
        14 => say(&format!("kind = \"loss\"\nreason = \"fell\"\n{some}")),
        15 => {
            let kind = chance.one(&["write down", "write back"]);
            say(&format!(
                "kind = \"{kind}\"\nworth = \"{}.00 USD\"\nreason = \"sales\"\n{some}",
                chance.below(900)
            ));
        }
        16 | 19 => say(&cut(&slabs[0], chance)),
        17 => say(&standing.count(file, slabs, chance)),
        18 | 21 => say(&format!(
            "kind = \"duty changed\"\nparty = \"customs\"\nnumber = \"N{at}\"\nentry = \"1\"\n{rates}owed-rate = \"{owed_rate}\"\ninterest = \"1.23 {currency}\"\n{}{}",
            if chance.below(2) == 0 { "refund = \"19 CFR 158.12\"\n" } else { "" },
            CHARGES.iter().fold(lines, |lines, key| lines.replace(key, "duty"))
        )),
        22..26 => say(&comes_over(kind < 24, (over, party), &slabs[slabs.len() - 1], chance)),
        _ => say(&match chance.below(3) {
            0 => format!(
                "kind = \"reverse\"\nreason = \"typed wrong\"\nevent = \"{}\"\n",
                standing.taken[chance.below(standing.taken.len())]
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

/// All that the accounts and slabs of a ledger have, to hold two of them against each other. Pieces that were taken
/// back never were.
fn figures(ledger: &Ledger<'_>) -> (Sums, Vec<String>) {
    let mut sums = Sums::new();
    for line in ledger.entries.iter().flat_map(|entry| &entry.lines) {
        let key = (line.account, line.yard.to_string(), line.party.to_string());
        *sums.entry(key).or_default() += line.book;
    }
    sums.retain(|_, sum| *sum != 0);
    let mut all = Vec::new();
    for (shipment, slabs) in ledger.slabs.iter().enumerate() {
        let packed = ledger.freeze(shipment).unwrap().slabs.len();
        for (at, slab) in slabs.iter().enumerate() {
            if at < packed || slab.at != Where::Abroad {
                let id = &ledger.slab((shipment, at)).unwrap().id;
                all.push(format!(
                    "{id} {:?} {} {} {}",
                    slab.at, slab.held, slab.allowance, slab.carried
                ));
            }
        }
    }
    (sums, all)
}

/// A year of two shipments: its events, each with the file it stands in, of which the books took each.
struct Year {
    estimates: [Estimate; 2],
    events: Vec<(usize, String)>,
}

impl Year {
    fn of(seed: u64) -> Self {
        let mut chance = Chance::of(seed);
        let estimates = NAMES.map(|name| estimate(name, &mut chance));
        let mut own = Self { estimates, events: Vec::new() };
        let mut kept = own.books(own.events.iter());
        let mut standing = Standing::of(&kept.ledger(None).unwrap());
        for at in 0..90 {
            let day = format!("2026-{:02}-{:02}", 1 + at / 8, 1 + 3 * (at % 8));
            let file = if at < 16 { at % 2 } else { [0, 0, 1, 1, 2][chance.below(5)] };
            let new = event((at, &day), (file, &standing), &mut chance);
            // A close is of all books: it stands in the file of the yards.
            let file = if new.contains("kind = \"close\"") { 2 } else { file };
            own.events.push((file, new));
            let texts = texts(own.events.iter());
            let estimates = [&own.estimates[0], &own.estimates[1]];
            let is_read = kept.write(&estimates, &[&texts[0], &texts[1]], &texts[2]).is_ok();
            match is_read.then(|| kept.ledger(None)) {
                Some(Ok(ledger)) => standing = Standing::of(&ledger),
                _ => _ = own.events.pop(),
            }
        }
        own
    }

    /// The books of some of its events in some order.
    fn books<'e>(&self, events: impl Iterator<Item = &'e (usize, String)>) -> Kept {
        let texts = texts(events);
        let estimates = [&self.estimates[0], &self.estimates[1]];
        Kept::of(&estimates, &[&texts[0], &texts[1]], &texts[2])
            .unwrap_or_else(|told| panic!("{told}"))
    }
}

/// The texts of the files.
fn texts<'e>(events: impl Iterator<Item = &'e (usize, String)>) -> [String; 3] {
    let mut all = [const { String::new() }; 3];
    for (file, text) in events {
        all[*file].push_str(text);
    }
    all
}

/// What stands between two texts.
fn between<'t>(text: &'t str, before: &str, after: &str) -> &'t str {
    text.split(before).nth(1).unwrap().split(after).next().unwrap()
}

#[test]
fn every_identity_holds_at_every_date_of_random_years() {
    let drawn = std::env::var("QUAYSTONE_DRAWN").ok().and_then(|text| text.parse().ok());
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    let mut over_both = 0;
    let mut most = 0;
    let mut most_parts = 0;
    for seed in 0..drawn.unwrap_or(5) {
        let year = Year::of(seed);
        let kept = year.books(year.events.iter());
        let ledger = kept.ledger(None).unwrap();
        for (file, text) in &year.events {
            let kind = between(text, "kind = \"", "\"");
            *kinds.entry(KINDS.iter().find(|one| **one == kind).unwrap_or(&"")).or_default() += 1;
            over_both += usize::from(*file == 2 && kind == "billed");
            let day = between(text, "occurred = ", "\n");
            let upto = kept.ledger(Some(day)).unwrap();
            let broken = identities(&upto);
            let all = || year.events.iter().map(|(_, text)| &**text).collect::<String>();
            assert!(broken.is_empty(), "year {seed} on {day}: {broken:#?}\n{}", all());
            // What is posted later leaves the entries of the day as they are.
            let is_same = upto.entries.iter().zip(&ledger.entries).all(|(own, later)| {
                own.id == later.id && own.posted == later.posted && own.lines == later.lines
            });
            assert!(is_same, "year {seed} on {day}");
        }
        let owed =
            |shipment: &usize| ledger.charges[*shipment].iter().all(|one| one.owed.is_some());
        for shipment in (0..2).filter(owed) {
            let off = ledger.slabs[shipment].iter().map(|slab| slab.carried.abs()).max().unwrap();
            most = most.max(off);
        }
        // The two are folded apart where the yards' file has closes alone.
        let is_apart = |event: &&(usize, String)| event.0 < 2 || event.1.contains("\"close\"");
        parts(&kept).unwrap();
        let alone = year.books(year.events.iter().filter(is_apart));
        if alone.ledger(None).is_ok() {
            most_parts = most_parts.max(parts(&alone).unwrap());
        }
        // The same events in another order of the file come to the same: their days tell their order.
        let turned = year.books(year.events.iter().rev());
        assert_eq!(figures(&turned.ledger(None).unwrap()), figures(&ledger), "year {seed}");
    }
    let lacking: Vec<&&str> = KINDS.iter().filter(|kind| !kinds.contains_key(**kind)).collect();
    assert!(lacking.is_empty() && over_both > 0, "never drawn: {lacking:?} of {kinds:?}");
    assert_eq!(most_parts, 2);
    // Charges lie on boxes and on survivors here, and events are taken back: then a unit cannot be promised. That
    // each event leaves no slab further off than one must be is a property in src/ledger/deal.rs.
    assert!(most < 2 * Cut::WHOLE, "a slab is {most} parts off its exact total");
}

/// The kinds of which some are drawn.
const KINDS: [&str; 18] = [
    "take in",
    "consigned in",
    "consigned out",
    "control",
    "owed",
    "billed",
    "credit",
    "paid",
    "arrive",
    "move",
    "issue",
    "loss",
    "cut",
    "count",
    "duty changed",
    "reverse",
    "close",
    "write down",
];

#[test]
fn an_event_and_its_reversal_are_nothing() {
    let mut tried = 0;
    for seed in 100..102 {
        let year = Year::of(seed);
        for count in 1..=year.events.len() {
            let (file, last) = &year.events[count - 1];
            if last.contains("kind = \"close\"") || last.contains("kind = \"reverse\"") {
                continue;
            }
            let before = year.books(year.events[..count - 1].iter());
            let id = between(last, "id = \"", "\"");
            let back = format!(
                "[[event]]\nkind = \"reverse\"\nid = \"back\"\noccurred = 2027-06-01\nevent = \"{id}\"\nreason = \"typed twice\"\n"
            );
            let after = year.books(year.events[..count].iter().chain([&(*file, back)]));
            let after = after.ledger(None).unwrap_or_else(|told| panic!("{told}"));
            assert_eq!(identities(&after), []);
            assert_eq!(figures(&after), figures(&before.ledger(None).unwrap()), "{last}");
            tried += 1;
        }
    }
    assert!(tried > 40, "{tried}");
}
