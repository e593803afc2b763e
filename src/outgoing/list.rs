//! The list of all that may leave the house, and whom it may be told.

/// Who is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Audience {
    /// The supplier, who fills the containers.
    Supplier,
    /// The haulier at the destination.
    Haulier,
}

/// Something that may leave the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fact {
    /// The supplier's own name and the numbers of his invoices.
    Invoice,
    /// The delivery term of his invoices.
    Term,
    /// His lines: name, stone, finish, thickness.
    Lines,
    /// The day on which his prices have lapsed.
    Lapsed,
    /// The port of loading.
    Loading,
    /// The port of arrival.
    Port,
    /// The name of the yard.
    Yard,
    /// What a container is called, its type, number and seal.
    Container,
    /// A bundle: name, outside size, mass, and whether it was weighed.
    Bundle,
    /// Where a bundle stands.
    Place,
    /// The block and the count of a bundle's slabs.
    Slabs,
    /// The centre of gravity of a container's bundles.
    Centre,
    /// What holds the goods of a container on its way. The works stuff and brace it, so they must know: timber, ties,
    /// gaps, walls, doors, and the forces these are for. By which rule of ours a force was chosen stays.
    Hold,
    /// Gross mass, tare and dunnage of a container.
    Gross,
    /// The load of each axle under a container, and where the axle is.
    Axles,
    /// What the law and the ratings of the rig allow: public, or on the haulier's own plates.
    Allowed,
    /// That a container's cargo is to be certified, and as what it is traded (49 U.S.C. 5902).
    Certification,
}

use Audience::{Haulier, Supplier};

/// Everything that may leave the house, in words, and whom it may be told. What is not here stays.
pub const LIST: [(Fact, &str, &[Audience]); 17] = [
    (Fact::Invoice, "his own name and invoice numbers", &[Supplier]),
    (Fact::Term, "the delivery term of his invoices", &[Supplier]),
    (Fact::Lines, "his lines: name, stone, finish, thickness", &[Supplier]),
    (Fact::Lapsed, "the day on which his prices have lapsed", &[Supplier]),
    (Fact::Loading, "the port of loading", &[Supplier]),
    (Fact::Port, "the port of arrival", &[Supplier, Haulier]),
    (Fact::Yard, "the name of the yard", &[Haulier]),
    (Fact::Container, "each container: name, type, number, seal", &[Supplier, Haulier]),
    (Fact::Bundle, "each bundle: name, size, mass", &[Supplier, Haulier]),
    (Fact::Place, "where each bundle stands", &[Supplier, Haulier]),
    (Fact::Slabs, "the block and the slabs of a bundle", &[Supplier]),
    (Fact::Centre, "the centre of gravity of a container", &[Supplier, Haulier]),
    (Fact::Hold, "what holds the goods: timber, ties, gaps", &[Supplier]),
    (Fact::Gross, "gross, tare and dunnage of a container", &[Haulier]),
    (Fact::Axles, "axle loads, and where the axles are", &[Haulier]),
    (Fact::Allowed, "what law and the rig's ratings allow", &[Haulier]),
    (Fact::Certification, "that a certification is due, and the kind of goods", &[Haulier]),
];

impl Audience {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Supplier, "supplier"), (Haulier, "haulier")];

    /// The fact, where this audience may be told it.
    pub(super) fn told<T>(self, fact: Fact, value: T) -> Option<T> {
        let may = |(one, _, to): &(Fact, &str, &[Self])| *one == fact && to.contains(&self);
        LIST.iter().any(may).then_some(value)
    }
}
