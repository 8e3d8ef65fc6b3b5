//! Families: a shape with all its rotations (a Tn class of pitch-class sets), the reference rotation they are counted
//! from, and the names of families that have one.
//!
//! A name belongs to one family only. What sources call its rotations, and where they differ, is in the label book.

use std::sync::LazyLock;

use serde::Serialize;

use super::parents::{self, ParentMode};
use super::prime::forte_order;
use super::shape::Shape;

/// A family that has a name, by the rotation that the named source gives.
struct NamedFamily {
    name: &'static str,
    steps: &'static [u8],
    source: &'static str,
}

const fn family(name: &'static str, steps: &'static [u8], source: &'static str) -> NamedFamily {
    NamedFamily {
        name,
        steps,
        source,
    }
}

const MESSIAEN: &str = "Messiaen, Technique de mon langage musical, 1944";
const PERSICHETTI: &str = "Persichetti, Twentieth-Century Harmony, 1961";
const COMMON: &str = "common-practice harmony textbooks, from memory";
const JAZZ: &str = "jazz harmony textbooks, from memory";
const SET_THEORY: &str = "set theory and neo-Riemannian writing, from memory";

const FAMILIES: &[NamedFamily] = &[
    family(
        "hirajoshi",
        &[2, 1, 4, 1, 4],
        "Ellis in Helmholtz, On the Sensations of Tone, 2nd English ed. 1885",
    ),
    family("kumoi", &[2, 1, 4, 2, 3], PERSICHETTI),
    family(
        "ryukyu",
        &[4, 1, 2, 4, 1],
        "Koizumi, Nihon dento ongaku no kenkyu, 1958",
    ),
    family(
        "anchihoye",
        &[1, 4, 1, 3, 3],
        "Kebede, The Music of Ethiopia, dissertation, Wesleyan 1971",
    ),
    family("major pentatonic", &[2, 2, 3, 2, 3], COMMON),
    family("minor blues", &[3, 2, 1, 1, 3, 2], JAZZ),
    family(
        "Prometheus",
        &[2, 2, 2, 3, 1, 2],
        "Scriabin, Promethee op. 60, 1910",
    ),
    family(
        "enigmatic",
        &[1, 3, 2, 2, 2, 1, 1],
        "Verdi, Quattro pezzi sacri, 1898",
    ),
    family("Neapolitan minor", &[1, 2, 2, 2, 1, 3, 1], PERSICHETTI),
    family("Neapolitan major", &[1, 2, 2, 2, 2, 2, 1], PERSICHETTI),
    family("whole tone", &[2, 2, 2, 2, 2, 2], COMMON),
    family("hexatonic", &[1, 3, 1, 3, 1, 3], SET_THEORY),
    family("octatonic", &[1, 2, 1, 2, 1, 2, 1, 2], SET_THEORY),
    family("Messiaen 3", &[2, 1, 1, 2, 1, 1, 2, 1, 1], MESSIAEN),
    family("Messiaen 4", &[1, 1, 3, 1, 1, 1, 3, 1], MESSIAEN),
    family("Messiaen 5", &[1, 4, 1, 1, 4, 1], MESSIAEN),
    family("Messiaen 6", &[2, 2, 1, 1, 2, 2, 1, 1], MESSIAEN),
    family("Messiaen 7", &[1, 1, 1, 2, 1, 1, 1, 1, 2, 1], MESSIAEN),
    family("chromatic", &[1; 12], COMMON),
];

/// The family of a version, and the version's place in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Family {
    /// The family's own name, if it has one.
    pub name: Option<String>,
    /// Whose name that is.
    pub name_source: Option<&'static str>,
    /// The reference rotation's steps.
    pub steps: Vec<u8>,
    /// At which degree of the reference rotation this version starts, counted from 0.
    pub rotation: usize,
    /// All parent modes that contain the version from its centre.
    pub parents: Vec<ParentMode>,
}

impl Family {
    /// The family of a shape.
    pub fn of(shape: Shape) -> Self {
        let reference = reference(shape);
        let named = name_and_source(shape);
        Self {
            name: named.map(|(name, _)| name.to_string()),
            name_source: named.map(|(_, source)| source),
            steps: reference.steps(),
            rotation: reference.rotation_to(shape).unwrap_or(0),
            parents: parents::containing(shape),
        }
    }
}

/// The rotation that the family's versions are counted from: the one its name was given to, else the most closely packed
/// (Forte's normal order).
pub fn reference(shape: Shape) -> Shape {
    let rotations = shape.rotations();
    let is_known = |rotation: &&Shape| named_at(**rotation).is_some() || is_parent(**rotation);
    rotations
        .iter()
        .find(is_known)
        .copied()
        .unwrap_or_else(|| Shape::from_offsets(forte_order(&rotations)))
}

/// Whether two shapes are rotations of each other.
pub fn are_related(a: Shape, b: Shape) -> bool {
    a.rotation_to(b).is_some()
}

/// The family's name and whose it is: a parent collection's where the shape is one of its modes.
pub fn name_and_source(shape: Shape) -> Option<(&'static str, &'static str)> {
    let rotations = shape.rotations();
    let named = rotations.iter().find_map(|&rotation| named_at(rotation));
    let parent = || parents::modes().iter().find(|mode| mode.shape == shape);
    named
        .map(|found| (found.name, found.source))
        .or_else(|| parent().map(|mode| (mode.parent, mode.parent_source)))
}

/// Names of families that belong to no parent collection of their own, with the reference rotation.
pub fn named() -> impl Iterator<Item = (&'static str, Shape)> {
    FAMILIES
        .iter()
        .filter_map(|entry| Some((entry.name, Shape::from_steps(entry.steps)?)))
}

fn named_at(rotation: Shape) -> Option<&'static NamedFamily> {
    static SHAPES: LazyLock<Vec<Option<Shape>>> = LazyLock::new(|| {
        let shape = |entry: &NamedFamily| Shape::from_steps(entry.steps);
        FAMILIES.iter().map(shape).collect()
    });
    let place = SHAPES.iter().position(|shape| *shape == Some(rotation));
    place.map(|k| &FAMILIES[k])
}

fn is_parent(rotation: Shape) -> bool {
    parents::parents().any(|modes| modes[0].shape == rotation)
}
