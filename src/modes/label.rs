//! The label scheme: one name for each of the 2,048 shapes, and the degrees under which its notes are written.
//!
//! Every label decodes to one shape only, and most say how to find the notes. The rules, the first that applies:
//! 1. all twelve notes: "chromatic";
//! 2. up to four notes: the degrees in brackets;
//! 3. shapes that repeat within the octave: family and one period of steps, "octatonic 1-2";
//! 4. settled names of one shape: "minor pentatonic", the 35 parent modes;
//! 5. five or six notes that a parent holds in one place only: "Dorian kumoi"; without a family name "Phrygian no 3,6",
//!    where several places hold them by the middle one;
//! 6. families with a name: "Neapolitan minor mode 3", "major pentatonic mode 2";
//! 7. seven notes or less: a diatonic mode with altered degrees, "Dorian b2 natural 7 no 4";
//! 8. eight notes: a parent mode and one more, "Mixolydian add 7";
//! 9. what is left of five to eight notes: a diatonic mode with degrees altered, left out, added, "Phrygian no 5,6 add 2";
//! 10. nine to eleven notes: "chromatic without b2,3";
//! 11. the degrees in brackets.
//!
//! A label claims only what the notes show: D E G A C lies in Dorian, Mixolydian and Aeolian, so its label names none of
//! them. A family without any name has nothing else to be called by; [`super::Version::other_modes`] says which modes
//! hold it as well.

use std::collections::HashMap;
use std::sync::OnceLock;

use super::degree::{Degree, degrees_text, join, numbers};
use super::described::{self, added_degree};
use super::family;
use super::fit::{chosen_mode, is_only_place};
use super::parents;
use super::shape::{SHAPES, Shape, steps_text};
use super::spell;
use super::text::key;

/// Sets up to this size are written as degrees.
const DEGREE_LIST_MAX: usize = 4;
/// Names that sources use for exactly one shape (checked against the code libraries in tests/data), by steps.
const SETTLED: [(&str, &[u8]); 4] = [
    ("major pentatonic", &[2, 2, 3, 2, 3]),
    ("minor pentatonic", &[3, 2, 2, 3, 2]),
    ("minor blues", &[3, 2, 1, 1, 3, 2]),
    ("major blues", &[2, 1, 1, 3, 2, 3]),
];

/// What a shape is called and how its notes are written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Naming {
    /// The label without a root.
    pub label: String,
    /// One degree a note, the centre first.
    pub degrees: Vec<Degree>,
}

/// The naming of a shape.
pub fn naming(shape: Shape) -> &'static Naming {
    &namings()[usize::from(shape.bits() >> 1)]
}

/// The shape that a label stands for, however it is spaced and capitalised; `None` if it is none of ours.
pub fn shape_of(label: &str) -> Option<Shape> {
    static SHAPE_BY_KEY: OnceLock<HashMap<String, Shape>> = OnceLock::new();
    let by_key = SHAPE_BY_KEY.get_or_init(|| {
        Shape::all()
            .map(|shape| (key(&naming(shape).label), shape))
            .collect()
    });
    by_key.get(&key(label)).copied()
}

fn namings() -> &'static [Naming] {
    static NAMINGS: OnceLock<Vec<Naming>> = OnceLock::new();
    NAMINGS.get_or_init(|| {
        let mut all = Vec::with_capacity(SHAPES);
        all.extend(Shape::all().map(make));
        all
    })
}

fn make(shape: Shape) -> Naming {
    whole_names(shape)
        .or_else(|| within_parent(shape))
        .or_else(|| family_name(shape))
        .or_else(|| mode_and_one(shape))
        .or_else(|| described_mode(shape))
        .unwrap_or_else(|| leftovers(shape))
}

/// Rules 1 to 4.
fn whole_names(shape: Shape) -> Option<Naming> {
    if shape.len() == 12 {
        return Some(spelled("chromatic".into(), shape));
    }
    if shape.len() <= DEGREE_LIST_MAX {
        return Some(degree_list(shape));
    }
    if shape.is_symmetric() {
        return Some(spelled(symmetric_label(shape), shape));
    }
    if let Some(mode) = parents::modes().iter().find(|mode| mode.shape == shape) {
        return Some(Naming {
            label: mode.name.clone(),
            degrees: mode.degrees(),
        });
    }
    let settled = SETTLED
        .iter()
        .find(|(_, steps)| Shape::from_steps(steps) == Some(shape));
    settled.map(|(name, _)| spelled((*name).into(), shape))
}

fn symmetric_label(shape: Shape) -> String {
    let name = family::name_and_source(shape).map_or("symmetric", |(name, _)| name);
    match shape.rotations().len() {
        1 => name.to_string(),
        _ => format!("{name} {}", steps_text(&shape.period())),
    }
}

/// Rule 5.
fn within_parent(shape: Shape) -> Option<Naming> {
    if shape.len() > 6 {
        return None;
    }
    let mode = chosen_mode(shape)?;
    let label = match family::name_and_source(shape) {
        Some((name, _)) if is_only_place(shape, mode) => format!("{} {name}", mode.name),
        Some(_) => return None,
        None => format!("{} no {}", mode.name, numbers(&mode.lacking(shape))),
    };
    Some(spelled(label, shape))
}

/// Rule 6.
fn family_name(shape: Shape) -> Option<Naming> {
    let (name, _) = family::name_and_source(shape)?;
    let rotation = family::reference(shape).rotation_to(shape)?;
    let label = match rotation {
        0 => name.to_string(),
        k => format!("{name} mode {}", k + 1),
    };
    Some(spelled(label, shape))
}

/// Rules 7 and 9.
fn described_mode(shape: Shape) -> Option<Naming> {
    let found = described::nearest(shape)?;
    Some(Naming {
        label: found.label(),
        degrees: found.degrees(),
    })
}

/// Rule 8: of the parent modes within the shape the one of the more usual parent, then the darker one.
fn mode_and_one(shape: Shape) -> Option<Naming> {
    if shape.len() != 8 {
        return None;
    }
    let bases = shape.offsets().into_iter().skip(1).filter_map(|extra| {
        let place = parents::modes()
            .iter()
            .position(|mode| mode.shape == shape.without(extra))?;
        let brightness: u32 = shape
            .without(extra)
            .offsets()
            .iter()
            .map(|&offset| u32::from(offset))
            .sum();
        Some((place / 7, brightness, extra, place))
    });
    let (_, _, extra, place) = bases.min()?;
    let mode = &parents::modes()[place];
    let mut degrees = mode.degrees();
    let added = added_degree(&degrees, extra);
    degrees.push(added);
    degrees.sort_by_key(|degree| degree.offset());
    Some(Naming {
        label: format!("{} add {added}", mode.name),
        degrees,
    })
}

/// Rules 10 and 11.
fn leftovers(shape: Shape) -> Naming {
    if shape.len() < 9 {
        return degree_list(shape);
    }
    let missing: Vec<Degree> = (0..12)
        .filter(|&k| !shape.contains(k))
        .map(Degree::plain)
        .collect();
    spelled(format!("chromatic without {}", join(&missing, ",")), shape)
}

fn degree_list(shape: Shape) -> Naming {
    let degrees = spell::degrees(shape);
    Naming {
        label: format!("({})", degrees_text(&degrees)),
        degrees,
    }
}

fn spelled(label: String, shape: Shape) -> Naming {
    Naming {
        label,
        degrees: spell::degrees(shape),
    }
}
