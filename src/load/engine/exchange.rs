//! Exchanges of pieces between boxes of one kind, after the plan is chosen: a local search by the preference.
//!
//! It moves neither cost nor bound: the checker passes each exchange at the cost that is there, so ties, pins,
//! wishes and limits hold, and nothing is split that was whole. Few pieces are shared out in every way (set
//! partitions by restricted growth strings: Knuth, The Art of Computer Programming, 7.2.1.5, from memory). Of
//! more, two sets that stand in two boxes change places or one is moved, the most even sharing first.

use std::collections::BTreeSet;

use rustc_hash::FxHashMap;

use super::arrange::{FEW, arrange_within};
use super::check::check;
use super::model::deck::{Deck, Item};
use super::model::effort::Purse;
use super::model::entry::{Entry, has_order};
use super::model::problem::{BoxKind, Grouping, Loaded, Placed, Problem, rectangles};
use super::place::{Placement, try_place};
use super::preference::{Preference, Rating, shared, uneven};

/// Pairs of pieces looked at for each box of a kind (a choice of ours): small beside the search.
const LOOKS: u64 = 3_000;
/// The most of it that goes into the places of one set.
const OF_SET: u64 = 600;
/// Work of looking whether a set stands in a box.
const PLACING: u64 = 300_000;

/// A plan after exchanges.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Exchanged {
    /// The boxes, by kind and then by their first piece.
    pub boxes: Vec<Loaded>,
    /// By box, whether no exchange is better: all were tried, or it is alone of its kind. Otherwise these
    /// are the best found.
    pub settled: Vec<bool>,
}

impl Exchanged {
    /// The boxes as they are.
    pub fn none(boxes: &[Loaded]) -> Self {
        let alone = |one: &Loaded| boxes.iter().filter(|two| two.kind == one.kind).count() == 1;
        Self { boxes: boxes.to_vec(), settled: boxes.iter().map(alone).collect() }
    }
}

/// Exchanges pieces between boxes of one kind, as long as that is better by the preference. `terms` has what the
/// preference asks of each kind, and how pieces come in.
pub fn exchange(
    problem: &Problem,
    boxes: &[Loaded],
    cost: i64,
    terms: &[(Rating, Entry)],
) -> Exchanged {
    let Exchanged { mut boxes, mut settled } = Exchanged::none(boxes);
    let kinds: BTreeSet<usize> = boxes.iter().map(|one| one.kind).collect();
    for kind in kinds {
        let own: Vec<usize> = (0..boxes.len()).filter(|&at| boxes[at].kind == kind).collect();
        let Some(&terms) = terms.get(kind).filter(|_| own.len() > 1) else { continue };
        let mut search = Search {
            problem,
            cost,
            kind: &problem.kinds[kind],
            terms,
            own: own.clone(),
            boxes,
            best: (usize::MAX, [i64::MAX; 7]),
            known: FxHashMap::default(),
            open: false,
            work: Purse::new(LOOKS.saturating_mul(u64::try_from(own.len()).unwrap_or(1))),
        };
        let is_whole = search.run();
        boxes = search.boxes;
        for at in own {
            settled[at] = is_whole;
        }
    }
    let mut all: Vec<(Loaded, bool)> = boxes.into_iter().zip(settled).collect();
    all.sort();
    let (boxes, settled) = all.into_iter().unzip();
    Exchanged { boxes, settled }
}

/// What is known of a set of pieces in a box.
#[derive(Clone)]
enum Stowed {
    /// Its places with their list, and whether these are the least.
    There(Vec<Placed>, [i64; 6], bool),
    /// It has no places.
    Never,
    /// No places with an order were found.
    Unknown,
}

/// How many boxes groups touch beyond their first, then the list of the boxes.
type Rank = (usize, [i64; 7]);

struct Search<'a> {
    problem: &'a Problem,
    cost: i64,
    kind: &'a BoxKind,
    terms: (Rating, Entry),
    /// The boxes of the kind, as `boxes` has them.
    own: Vec<usize>,
    /// All boxes of the plan, as good as they are by now.
    boxes: Vec<Loaded>,
    best: Rank,
    /// What sets in one box come to: many are met again.
    known: FxHashMap<Vec<usize>, Stowed>,
    /// Whether a sharing that may be better was left open: a set that was neither placed nor refuted, or
    /// places that are only the best found.
    open: bool,
    work: Purse,
}

impl Search<'_> {
    /// Exchanges until nothing is better; whether every sharing was tried.
    fn run(&mut self) -> bool {
        let sets: Vec<Vec<usize>> = self.own.iter().map(|&at| pieces(&self.boxes[at])).collect();
        for (set, at) in sets.iter().zip(self.own.clone()) {
            let there = self.boxes[at].clone();
            let stowed = match self.arranged(&there) {
                Stowed::There(places, list, least) => Stowed::There(places, list, least),
                _ => Stowed::There(there.places, [i64::MAX; 6], false),
            };
            self.known.insert(set.clone(), stowed);
        }
        self.best = (self.split(&self.boxes), self.list(&sets).unwrap_or([i64::MAX; 7]));
        // The places that are there may get better, too.
        self.keep(&sets);
        let count: usize = sets.iter().map(Vec::len).sum();
        if count <= FEW {
            let mut all = sets.concat();
            all.sort_unstable();
            self.share(&all, &mut Vec::new());
            // What is open beside the best one, and not beside those before it.
            self.open = false;
            self.share(&all, &mut Vec::new());
            return !self.open && !self.work.dry();
        }
        while let Some(sets) = self.step() {
            self.keep(&sets);
        }
        false
    }

    /// Every way to share out the pieces that are left among so many boxes.
    fn share(&mut self, left: &[usize], sets: &mut Vec<Vec<usize>>) {
        let Some((&piece, left)) = left.split_first() else {
            if sets.len() == self.own.len() && self.is_better(sets) {
                self.keep(sets);
            }
            return;
        };
        for at in 0..sets.len() {
            sets[at].push(piece);
            self.share(left, sets);
            sets[at].pop();
        }
        if sets.len() < self.own.len() {
            sets.push(vec![piece]);
            self.share(left, sets);
            sets.pop();
        }
    }

    /// The first better sharing by one exchange, the most even ones first.
    fn step(&mut self) -> Option<Vec<Vec<usize>>> {
        let sets: Vec<Vec<usize>> = self.own.iter().map(|&at| pieces(&self.boxes[at])).collect();
        let masses: Vec<i64> = sets.iter().map(|set| self.mass(set)).collect();
        let parcels: Vec<Vec<Vec<usize>>> = sets.iter().map(|set| self.parcels(set)).collect();
        let most = self.best.1[1];
        let mut all = Vec::new();
        for one in 0..sets.len() {
            for other in one + 1..sets.len() {
                for (rank, go) in parcels[one].iter().enumerate() {
                    for (place, back) in parcels[other].iter().enumerate() {
                        let by = self.mass(go) - self.mass(back);
                        let mut after = masses.clone();
                        after[one] -= by;
                        after[other] += by;
                        let uneven = uneven(&after);
                        if uneven <= most && after[one].max(after[other]) <= self.kind.payload {
                            all.push((uneven, [one, other], [rank, place]));
                        }
                    }
                }
                self.work.spend(parcels[one].len() * parcels[other].len() / 16);
                if self.work.dry() {
                    return None;
                }
            }
        }
        all.sort_unstable();
        for (_, [one, other], [rank, place]) in all {
            let (go, back) = (&parcels[one][rank], &parcels[other][place]);
            let moved = |set: &[usize], out: &[usize], into: &[usize]| {
                let stay = set.iter().filter(|piece| !out.contains(piece));
                let mut after: Vec<usize> = stay.chain(into).copied().collect();
                after.sort_unstable();
                after
            };
            let mut next = sets.clone();
            next[one] = moved(&sets[one], go, back);
            next[other] = moved(&sets[other], back, go);
            if next[one].is_empty() || next[other].is_empty() {
                continue;
            }
            if self.is_better(&next) {
                return Some(next);
            }
            if self.work.dry() {
                return None;
            }
        }
        None
    }

    /// What of a box is exchanged: nothing, each piece, and what belongs together.
    fn parcels(&self, set: &[usize]) -> Vec<Vec<usize>> {
        let mut all: BTreeSet<Vec<usize>> = set.iter().map(|&piece| vec![piece]).collect();
        all.insert(Vec::new());
        let group = |piece: &usize| self.problem.pieces[*piece].group;
        for own in set.iter().filter_map(group) {
            all.insert(set.iter().copied().filter(|piece| group(piece) == Some(own)).collect());
        }
        for tie in &self.problem.ties {
            all.insert(set.iter().copied().filter(|piece| tie.contains(piece)).collect());
        }
        all.into_iter().collect()
    }

    /// Whether a sharing is better, and the checker passes it.
    fn is_better(&mut self, sets: &[Vec<usize>]) -> bool {
        let masses: Vec<i64> = sets.iter().map(|set| self.mass(set)).collect();
        if masses.iter().any(|&mass| mass > self.kind.payload) {
            return false;
        }
        let bare = |set: &Vec<usize>| {
            let place = |&piece: &usize| Placed { piece, x: 0, y: 0, turned: false };
            set.iter().map(place).collect()
        };
        let split = self.split(&self.with(sets.iter().map(bare)));
        // Each bundle tips alone, wherever it is: what is less even is not better.
        if (split, uneven(&masses)) > (self.best.0, self.best.1[1]) {
            return false;
        }
        let Some(list) = self.list(sets) else { return false };
        if (split, list) >= self.best {
            return false;
        }
        let boxes = self.with(sets.iter().filter_map(|set| self.places(set)));
        if !check(self.problem, &boxes, self.cost).is_empty() {
            return false;
        }
        self.best = (split, list);
        true
    }

    /// Makes a sharing whose sets are known the best.
    fn keep(&mut self, sets: &[Vec<usize>]) {
        self.boxes = self.with(sets.iter().filter_map(|set| self.places(set)));
    }

    fn places(&self, set: &Vec<usize>) -> Option<Vec<Placed>> {
        match self.known.get(set)? {
            Stowed::There(places, ..) => Some(places.clone()),
            _ => None,
        }
    }

    /// All boxes of the plan, those of the kind with these places.
    fn with(&self, places: impl Iterator<Item = Vec<Placed>>) -> Vec<Loaded> {
        let mut boxes = self.boxes.clone();
        for (&at, places) in self.own.iter().zip(places) {
            boxes[at].places = places;
        }
        boxes
    }

    fn mass(&self, set: &[usize]) -> i64 {
        set.iter().map(|&piece| self.problem.pieces[piece].mass).sum()
    }

    /// How many boxes groups touch beyond their first, where it matters.
    fn split(&self, boxes: &[Loaded]) -> usize {
        let group = |place: &Placed| self.problem.pieces[place.piece].group;
        let touches = boxes.iter().map(|one| {
            let groups: BTreeSet<usize> = one.places.iter().filter_map(group).collect();
            let counts = |group: &usize| self.problem.groups.get(*group) != Some(&Grouping::Free);
            groups.into_iter().filter(counts).count()
        });
        touches.sum()
    }

    /// The list of a sharing; `None` where no places with an order are known for a set.
    fn list(&mut self, sets: &[Vec<usize>]) -> Option<[i64; 7]> {
        let mut all = Vec::with_capacity(sets.len());
        for set in sets {
            match self.stowed(set) {
                Stowed::There(_, list, least) => {
                    self.open |= !least;
                    all.push((list, self.mass(set)));
                }
                Stowed::Never => return None,
                Stowed::Unknown => {
                    self.open = true;
                    return None;
                }
            }
        }
        Some(shared(&all))
    }

    fn stowed(&mut self, set: &Vec<usize>) -> Stowed {
        if let Some(known) = self.known.get(set) {
            return known.clone();
        }
        let found = self.find(set);
        self.known.insert(set.clone(), found.clone());
        found
    }

    /// The better places of a set.
    fn find(&mut self, set: &[usize]) -> Stowed {
        self.work.spend(set.len() * set.len());
        if self.work.dry() {
            return Stowed::Unknown;
        }
        let items: Vec<Item> =
            set.iter().map(|&piece| Item::of(&self.problem.pieces[piece])).collect();
        let kind = self.boxes[self.own[0]].kind;
        let deck = Deck::of_kind(self.problem, kind);
        let spots = match try_place(&deck, &items, &mut Purse::new(PLACING)) {
            Placement::Places(spots) => spots,
            Placement::Never => return Stowed::Never,
            Placement::Unknown => return Stowed::Unknown,
        };
        let placed = set.iter().zip(spots).map(|(&piece, spot)| spot.placed(piece, self.kind));
        self.arranged(&Loaded { kind, places: placed.collect() })
    }

    /// The same of a box as it stands.
    fn arranged(&mut self, there: &Loaded) -> Stowed {
        let (rating, entry) = self.terms;
        let mut part = self.work.purse(OF_SET);
        let found = arrange_within(self.problem, there, self.terms, &mut part);
        self.work.settle(&part);
        let Some(found) = found else { return Stowed::Unknown };
        let inside = [self.kind.length, self.kind.width];
        let pieces = &self.problem.pieces;
        if !has_order(inside, entry, &rectangles(pieces, &found.places)) {
            return Stowed::Unknown;
        }
        let list = Preference::of(self.kind, rating, pieces, &found.places).list();
        Stowed::There(found.places, list, found.least)
    }
}

fn pieces(loaded: &Loaded) -> Vec<usize> {
    let mut all: Vec<usize> = loaded.places.iter().map(|place| place.piece).collect();
    all.sort_unstable();
    all
}

#[cfg(test)]
mod tests {
    use super::super::arrange::tests::{ENTRY, RATING, all_places, draw};
    use super::*;
    use crate::load::engine::model::effort::Dice;
    use crate::load::engine::model::problem::{HalfPlane, Piece};
    use crate::load::engine::testing::{box_kind, piece};

    fn one_of(problem: &Problem, set: &[usize]) -> Problem {
        let pieces = set.iter().map(|&piece| problem.pieces[piece].clone());
        Problem { pieces: pieces.collect(), ..problem.clone() }
    }

    /// The least list of a set on the coarse floor, and the first places there.
    fn least(problem: &Problem, set: &[usize]) -> Option<([i64; 6], Vec<Placed>)> {
        let own = one_of(problem, set);
        let mut best: Option<([i64; 6], Vec<Placed>)> = None;
        all_places(&own, &mut Vec::new(), &mut |places| {
            let list = Preference::of(&own.kinds[0], rating(), &own.pieces, places).list();
            if best.as_ref().is_none_or(|(best, _)| list < *best) {
                let named = |place: &Placed| Placed { piece: set[place.piece], ..*place };
                best = Some((list, places.iter().map(named).collect()));
            }
        });
        best
    }

    /// Masses of whole bundles, so that steps of spare matter.
    fn rating() -> Rating {
        Rating { payload: 100 * RATING.payload, ..RATING }
    }

    #[test]
    fn no_sharing_on_a_coarse_floor_is_better_than_one_that_is_settled() {
        let drawn = std::env::var("QUAYSTONE_DRAWN").ok().and_then(|text| text.parse().ok());
        let mut dice = Dice::new(4);
        let (mut settled, mut moved) = (0, 0);
        for _ in 0..drawn.unwrap_or(10) {
            let mut problem = draw(&mut dice);
            for one in &mut problem.pieces {
                one.mass *= 100;
            }
            for kind in &mut problem.kinds {
                kind.payload *= 100;
                kind.line_load.as_mut().unwrap().mass *= 100;
            }
            let count = problem.pieces.len();
            let mut best: Option<[i64; 7]> = None;
            let mut first: Option<Vec<Loaded>> = None;
            // The first piece is in the first box; the second is not empty.
            for some in 0..(1_usize << (count - 1)) - 1 {
                let is_first = |piece: &usize| *piece == 0 || some >> (piece - 1) & 1 == 1;
                let (one, two): (Vec<usize>, Vec<usize>) = (0..count).partition(is_first);
                let mass = |set: &[usize]| set.iter().map(|&at| problem.pieces[at].mass).sum();
                let found = [one, two].map(|set| Some((least(&problem, &set)?, mass(&set))));
                let [Some(one), Some(two)] = found else { continue };
                let list = shared(&[(one.0.0, one.1), (two.0.0, two.1)]);
                best = Some(best.map_or(list, |best| best.min(list)));
                first.get_or_insert_with(|| {
                    [one.0.1, two.0.1].map(|places| Loaded { kind: 0, places }).into()
                });
            }
            let (Some(best), Some(boxes)) = (best, first) else { continue };
            let cost = 2 * problem.kinds[0].cost;
            let found = exchange(&problem, &boxes, cost, &[(rating(), ENTRY)]);
            assert_eq!(check(&problem, &found.boxes, cost), vec![]);
            let of = |one: &Loaded| {
                let of = &problem.pieces;
                let list = Preference::of(&problem.kinds[0], rating(), of, &one.places).list();
                (list, one.places.iter().map(|place| of[place.piece].mass).sum())
            };
            let list = shared(&found.boxes.iter().map(of).collect::<Vec<_>>());
            settled += usize::from(found.settled[0]);
            moved += usize::from(pieces(&found.boxes[0]) != pieces(&boxes[0]));
            assert!(!found.settled[0] || list <= best, "{list:?}, and {best:?}: {problem:?}");
        }
        assert!(settled > 0 && moved > 0, "{settled} {moved}");
    }

    /// Boxes of so many pieces, each 1,000 mm long in a lane.
    fn boxes(sets: &[&[usize]]) -> Vec<Loaded> {
        let place = |(at, &piece): (usize, &usize)| {
            let y = 500 * i64::try_from(at).unwrap();
            Placed { piece, x: 500, y, turned: false }
        };
        let places = |set: &&[usize]| set.iter().enumerate().map(place).collect();
        sets.iter().map(|set| Loaded { kind: 0, places: places(set) }).collect()
    }

    fn sets(found: &Exchanged) -> Vec<Vec<usize>> {
        found.boxes.iter().map(pieces).collect()
    }

    #[test]
    fn spare_is_spread_and_what_is_asked_of_the_load_holds() {
        let mut kind = box_kind(12_000_000, 2_000, 2_000, 7);
        kind.limits.extend(HalfPlane::window_along(2_000, 250));
        let heavy = |mass: i64| Piece { height: 100, ..piece(1_000 * mass, 1_000, 500) };
        let problem = Problem {
            pieces: [3_000, 3_000, 3_000, 3_000, 2_000, 1_000].map(heavy).into(),
            kinds: vec![kind],
            groups: vec![Grouping::Wish { price: 0 }],
            ..Problem::default()
        };
        let gathered = boxes(&[&[0, 1, 2, 3], &[4, 5]]);
        let terms = [(rating(), ENTRY)];
        let of = |problem: &Problem| exchange(problem, &gathered, 14, &terms);
        let mass = |set: &Vec<usize>| -> i64 {
            set.iter().map(|&at| problem.pieces[at].mass / 1_000).sum()
        };
        // 12 and 3 tonnes become 8 and 7, or 9 and 6 where the first three stay together.
        let even = of(&problem);
        assert_eq!(even.settled, [false, false]);
        let mut masses: Vec<i64> = sets(&even).iter().map(mass).collect();
        masses.sort_unstable();
        assert_eq!(masses, [7_000, 8_000]);
        let tied = Problem { ties: vec![vec![0, 1, 2]], ..problem.clone() };
        assert_eq!(sets(&of(&tied)), [vec![0, 1, 2], vec![3, 4, 5]]);
        // A block stays whole even where that costs nothing, and pieces stay apart.
        let mut block = problem.clone();
        for piece in [0, 1, 2] {
            block.pieces[piece].group = Some(0);
        }
        assert_eq!(sets(&of(&block)), [vec![0, 1, 2], vec![3, 4, 5]]);
        let apart = Problem { apart: vec![(0, 4), (1, 4), (2, 5)], ..problem.clone() };
        let own = sets(&of(&apart));
        assert!(!own.iter().any(|set| set.contains(&0) && set.contains(&4)), "{own:?}");
        assert!(own.iter().all(|set| mass(set) >= 5_000), "{own:?}");
        // Another kind of box takes no part.
        let mut two = problem.clone();
        two.kinds.push(two.kinds[0].clone());
        let mut other = gathered.clone();
        other[1].kind = 1;
        let found = exchange(&two, &other, 14, &[terms[0]; 2]);
        assert_eq!(
            (sets(&found), found.settled),
            (vec![vec![0, 1, 2, 3], vec![4, 5]], vec![true; 2])
        );
    }
}
