//! What the works do to hold a container's cargo, as they may be told of it.

use crate::load::{Blocking, Held, Standing, Timber};
use crate::quantity::{Decimal, Length, Mass};

/// What the works do in one container.
#[derive(Debug, Clone)]
pub struct Hold<'a> {
    /// The list of timber.
    pub timber: Vec<Struts>,
    /// What it weighs.
    pub mass: Mass,
    /// The bundles that are tied to each other side by side, each body by their names.
    pub ties: Vec<Vec<&'a str>>,
    /// The walls that hold a share: spreaders stand before them.
    pub walls: Vec<&'static str>,
    /// The gaps to the left and to the right wall, where they are too wide to be left.
    pub gaps: Option<[Length; 2]>,
    /// Where timber stands.
    pub blocking: Vec<Blocking>,
    /// What is not held, with its figures.
    pub not_held: Vec<String>,
    /// Whether a part of the way is not judged.
    pub is_part: bool,
}

/// Struts of one use.
#[derive(Debug, Clone)]
pub struct Struts {
    /// What they are for.
    pub what: String,
    /// The force that they hold, kN.
    pub kn: Decimal,
    /// How many.
    pub count: i64,
    /// Thick, high and long.
    pub sides: [Length; 3],
    /// How high above the floor they stand, where that is asked.
    pub at: Option<Length>,
}

impl<'a> Hold<'a> {
    /// What the works do, of what is judged of a container.
    pub(super) fn of(held: &Held, standing: &[Standing<'a>]) -> Self {
        let names = |all: &[usize]| -> Vec<&'a str> {
            let own = all.iter().filter_map(|at| standing.get(*at));
            own.map(|one| one.bundle.id.as_str()).collect()
        };
        let struts = |what: String, kn: Decimal, own: Option<Timber>, at: Option<Length>| {
            own.map(|own| Struts { what, kn, count: own.count, sides: own.sides, at })
        };
        let frame = held.pushes.iter().filter_map(|one| {
            struts(format!("struts at the {}", one.against.word()), one.left.kn(), one.timber, None)
        });
        let braces = held.tipping.iter().flat_map(|body| {
            let (own, at) = (names(&body.bundles).join(", "), Some(body.brace));
            let [side, long] = [
                (format!("braces of {own}, sideways"), &body.sideways, body.sideways_timber),
                (format!("braces of {own}, lengthwise"), &body.lengthwise, body.lengthwise_timber),
            ]
            .map(|(what, force, timber)| struts(what, force.kn(), timber, at));
            side.into_iter().chain(long)
        });
        let walls = held.pushes.iter().filter(|one| one.force.is_any() && one.wall.is_any());
        Self {
            timber: frame.chain(braces).collect(),
            mass: held.timber_mass(),
            ties: held.ties.iter().map(|body| names(body)).collect(),
            walls: walls.map(|one| one.against.word()).collect(),
            gaps: held.pushes.iter().find_map(|one| one.gaps),
            blocking: held.blocking.clone(),
            not_held: held.unheld().map(crate::load::Pushed::not_held).collect(),
            is_part: !held.not_judged.is_empty(),
        }
    }
}
