//! Looking things up in the book: what a version is called, and what else the same names mean.

use serde::Serialize;

use super::Book;
use super::entry::{Basis, Entry, Form, InCents};
use crate::modes::family::are_related;
use crate::modes::label::naming;
use crate::modes::{NoteName, Scale, Shape, Version, name_key};

/// An entry that names a version, with the way it goes.
#[derive(Debug, Clone, Copy)]
pub struct Labelled<'a> {
    /// The entry.
    pub entry: &'a Entry,
    /// Whether it names the version for both ways, or as the rising or falling form.
    pub form: Form,
}

/// The same name where another source means something else.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OtherMeaning {
    /// The name.
    pub name: String,
    /// Who means it.
    pub source: String,
    /// What they mean.
    pub steps: Vec<u8>,
    /// The label of that, without a root.
    pub version: &'static str,
    /// How that stands to the version at hand.
    pub relation: Kinship,
    /// How the other entry is known.
    pub basis: Basis,
}

/// Whether two meanings of a name are rotations of each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum Kinship {
    /// The same family from another start.
    #[serde(rename = "other rotation of this family")]
    Rotation,
    /// Another family.
    #[serde(rename = "another family")]
    AnotherFamily,
    /// Of several meanings some are rotations of each other and some are not.
    #[serde(rename = "rotations and other families")]
    Mixed,
}

/// One thing that a name means, with all who mean it.
#[derive(Debug, Clone)]
pub struct Sense<'a> {
    /// The notes from the centre, or those of the rising form.
    pub shape: Shape,
    /// The falling form's, where it differs.
    pub falling: Option<Shape>,
    /// The degrees, where they lie off the twelve notes.
    pub in_cents: Option<&'a InCents>,
    /// The entries that agree on it.
    pub entries: Vec<&'a Entry>,
}

/// A name that means several things.
#[derive(Debug, Clone)]
pub struct Dispute<'a> {
    /// The name as its first entry writes it.
    pub name: &'a str,
    /// What it means, in the book's order.
    pub senses: Vec<Sense<'a>>,
    /// How the meanings stand to each other.
    pub relation: Kinship,
}

impl Book {
    /// Entries for exactly this set and centre, the most usual name first: those of the user's own books, of the preferred
    /// tradition, the one that is our label too, then the others in the book's order.
    pub fn for_version(&self, version: &Version) -> Vec<Labelled<'_>> {
        self.for_shape(version.shape())
    }

    /// Entries for exactly this shape, in the same order.
    pub fn for_shape(&self, shape: Shape) -> Vec<Labelled<'_>> {
        let labelled = |entry| Entry::form_of(entry, shape).map(|form| Labelled { entry, form });
        let places = self.by_shape.get(&shape).into_iter().flatten();
        let entries = places.map(|&place| &self.entries[place]);
        let mut found: Vec<Labelled> = entries.filter_map(labelled).collect();
        let label = name_key(&naming(shape).label);
        found.sort_by_cached_key(|found| {
            (
                found.entry.book.is_none(),
                !self.is_preferred(found.entry),
                name_key(&found.entry.name) != label,
            )
        });
        found
    }

    /// What other sources mean by the names of this version.
    pub fn other_meanings(&self, version: &Version) -> Vec<OtherMeaning> {
        let own = version.shape();
        let mut found = Vec::new();
        let mut seen: Vec<String> = Vec::new();
        for Labelled { entry, .. } in self.for_version(version) {
            let key = name_key(&entry.name);
            if seen.contains(&key) {
                continue;
            }
            seen.push(key);
            let others = self.named(&entry.name);
            found.extend(
                others
                    .into_iter()
                    .filter(|other| other.form_of(own).is_none())
                    .flat_map(|other| meanings_beside(own, other)),
            );
        }
        found
    }

    /// What a name means, each meaning once.
    pub fn senses(&self, name: &str) -> Vec<Sense<'_>> {
        let mut senses: Vec<Sense> = Vec::new();
        for entry in self.named(name) {
            match senses.iter_mut().find(|sense| sense.is_of(entry)) {
                Some(sense) => sense.entries.push(entry),
                None => senses.push(Sense {
                    shape: entry.shape,
                    falling: entry.falling,
                    in_cents: entry.in_cents.as_ref(),
                    entries: vec![entry],
                }),
            }
        }
        senses
    }

    /// What a name means, without the 12-tone approximations of a tradition whose degrees the book knows in cents.
    pub fn exact_senses(&self, name: &str) -> Vec<Sense<'_>> {
        let mut senses = self.senses(name);
        let exact: Vec<&str> = senses
            .iter()
            .flat_map(|sense| &sense.entries)
            .filter(|entry| entry.in_cents.is_some())
            .map(|entry| entry.tradition.as_str())
            .collect();
        let stands_in =
            |entry: &&Entry| entry.is_approximate && exact.contains(&entry.tradition.as_str());
        senses.retain(|sense| !sense.entries.iter().all(stands_in));
        senses
    }

    /// The dispute about a name; `None` if it means one thing or nothing.
    pub fn dispute(&self, name: &str) -> Option<Dispute<'_>> {
        let senses = self.senses(name);
        let first = senses.first()?.entries.first()?;
        let kin = kinship(&senses)?;
        Some(Dispute {
            name: &first.name,
            senses,
            relation: kin,
        })
    }

    /// Every disputed name, in the book's order.
    pub fn disputes(&self) -> Vec<Dispute<'_>> {
        let mut seen: Vec<String> = Vec::new();
        let mut found = Vec::new();
        for entry in self.entries() {
            let key = name_key(&entry.name);
            if !seen.contains(&key) {
                found.extend(self.dispute(&entry.name));
                seen.push(key);
            }
        }
        found
    }
}

/// The forms of an entry as meanings other than a shape.
fn meanings_beside(own: Shape, other: &Entry) -> Vec<OtherMeaning> {
    let meaning = |(shape, form): (Shape, Form)| OtherMeaning {
        name: other.name.clone(),
        source: format!("{}{}", other.source, form.suffix()),
        steps: shape.steps(),
        version: &naming(shape).label,
        relation: if are_related(own, shape) {
            Kinship::Rotation
        } else {
            Kinship::AnotherFamily
        },
        basis: other.basis,
    };
    other.forms().into_iter().map(meaning).collect()
}

impl Sense<'_> {
    fn is_of(&self, entry: &Entry) -> bool {
        (self.shape, self.falling) == (entry.shape, entry.falling)
            && self.in_cents == entry.in_cents.as_ref()
    }

    /// The scale from a root, of two forms the rising one.
    pub fn scale(&self, root: NoteName) -> Scale {
        match self.in_cents {
            Some(cents) => cents.rising.from_root(root, 0.0),
            None => of_shape(self.shape, root),
        }
    }

    /// The falling form from a root, where it differs.
    pub fn falling_scale(&self, root: NoteName) -> Option<Scale> {
        match self.in_cents {
            Some(cents) => Some(cents.falling.as_ref()?.from_root(root, 0.0)),
            None => Some(of_shape(self.falling?, root)),
        }
    }

    /// How many degrees after this meaning's start the other's begins, if both are one family.
    pub fn rotation_to(&self, other: &Self) -> Option<usize> {
        match (self.in_cents, other.in_cents) {
            (None, None) => self.shape.rotation_to(other.shape),
            _ => (self.scale(NoteName::C)).rotation_to(&other.scale(NoteName::C)),
        }
    }
}

fn of_shape(shape: Shape, root: NoteName) -> Scale {
    Version::from_shape(root.pitch_class(), shape)
        .with_root(root)
        .into()
}

/// How several meanings stand to each other; `None` if there is only one.
fn kinship(senses: &[Sense]) -> Option<Kinship> {
    let mut relations = Vec::new();
    for (k, sense) in senses.iter().enumerate() {
        for later in &senses[k + 1..] {
            relations.push(are_kin(sense, later));
        }
    }
    match (relations.contains(&true), relations.contains(&false)) {
        (true, false) => Some(Kinship::Rotation),
        (false, true) => Some(Kinship::AnotherFamily),
        (true, true) => Some(Kinship::Mixed),
        (false, false) => None,
    }
}

/// Whether all forms of two meanings are rotations of each other.
fn are_kin(a: &Sense, b: &Sense) -> bool {
    if a.in_cents.is_some() || b.in_cents.is_some() {
        return a.rotation_to(b).is_some();
    }
    let shapes = |sense: &Sense| std::iter::once(sense.shape).chain(sense.falling);
    shapes(a).all(|a| shapes(b).all(|b| are_related(a, b)))
}
