//! The five parent collections of seven notes, their modes, and which of them contain a shape.

use std::sync::OnceLock;

use serde::Serialize;

use super::degree::Degree;
use super::shape::Shape;

/// A mode's own name, with whose name it is; empty where sources differ, so that the mode is counted instead.
struct ModeName {
    name: &'static str,
    source: &'static str,
}

/// A parent collection, by its first mode.
struct Parent {
    name: &'static str,
    source: &'static str,
    steps: [u8; 7],
    modes: [ModeName; 7],
}

const GLAREAN: &str = "Glarean, Dodecachordon, 1547";
const COMMON: &str = "common-practice harmony textbooks, from memory";
const JAZZ: &str = "jazz harmony textbooks, from memory";
const HAUPTMANN: &str = "Hauptmann, Die Natur der Harmonik und der Metrik, 1853";

const fn named(name: &'static str, source: &'static str) -> ModeName {
    ModeName { name, source }
}

/// A mode that has no name of which sources agree: it is counted from the parent's first mode.
const COUNTED: ModeName = named("", "counted from the parent's first mode");

/// In the order in which a set is looked for: the more usual parent first.
const PARENTS: [Parent; 5] = [
    Parent {
        name: "diatonic",
        source: COMMON,
        steps: [2, 2, 1, 2, 2, 2, 1],
        modes: [
            named("Ionian", GLAREAN),
            named("Dorian", GLAREAN),
            named("Phrygian", GLAREAN),
            named("Lydian", GLAREAN),
            named("Mixolydian", GLAREAN),
            named("Aeolian", GLAREAN),
            named("Locrian", COMMON),
        ],
    },
    Parent {
        name: "melodic minor",
        source: COMMON,
        steps: [2, 1, 2, 2, 2, 2, 1],
        modes: [
            named("melodic minor", COMMON),
            named("Dorian b2", JAZZ),
            named("Lydian augmented", JAZZ),
            named("Lydian dominant", JAZZ),
            named("Mixolydian b6", JAZZ),
            named("Locrian natural 2", JAZZ),
            named("altered", JAZZ),
        ],
    },
    Parent {
        name: "harmonic minor",
        source: COMMON,
        steps: [2, 1, 2, 2, 1, 3, 1],
        modes: [
            named("harmonic minor", COMMON),
            named("Locrian natural 6", JAZZ),
            named("Ionian #5", JAZZ),
            named("Dorian #4", JAZZ),
            named("Phrygian dominant", JAZZ),
            named("Lydian #2", JAZZ),
            COUNTED,
        ],
    },
    Parent {
        name: "harmonic major",
        source: HAUPTMANN,
        steps: [2, 2, 1, 2, 1, 3, 1],
        modes: [
            named("harmonic major", HAUPTMANN),
            COUNTED,
            COUNTED,
            COUNTED,
            COUNTED,
            COUNTED,
            COUNTED,
        ],
    },
    Parent {
        name: "double harmonic",
        source: COMMON,
        steps: [1, 3, 1, 2, 1, 3, 1],
        modes: [
            named("double harmonic", COMMON),
            COUNTED,
            COUNTED,
            named("Hungarian minor", COMMON),
            COUNTED,
            COUNTED,
            COUNTED,
        ],
    },
];

/// One mode of a parent collection.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mode {
    /// "Dorian", or "harmonic major mode 2" where no name is settled.
    pub name: String,
    /// Whose name it is.
    pub source: &'static str,
    /// The parent collection's name.
    pub parent: &'static str,
    /// Whose name that is.
    pub parent_source: &'static str,
    /// Its seven notes.
    pub shape: Shape,
}

/// A parent mode that contains a set from its centre.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ParentMode {
    /// The mode's name.
    pub mode: String,
    /// Whose name that is.
    pub source: &'static str,
    /// The parent collection's name.
    pub parent: &'static str,
    /// Whether it is the only mode of that parent that contains the set.
    pub unique: bool,
}

impl Mode {
    /// The degrees of the mode that a shape lacks.
    pub fn lacking(&self, shape: Shape) -> Vec<Degree> {
        self.degrees()
            .into_iter()
            .filter(|degree| !shape.contains(degree.offset()))
            .collect()
    }

    /// The mode's seven degrees, one letter each.
    pub fn degrees(&self) -> Vec<Degree> {
        (1..=7)
            .zip(self.shape.offsets())
            .map(|(number, offset)| Degree::at(number, offset))
            .collect()
    }
}

/// All 35 modes, by parent and in order within it.
pub fn modes() -> &'static [Mode] {
    static MODES: OnceLock<Vec<Mode>> = OnceLock::new();
    MODES.get_or_init(|| PARENTS.iter().flat_map(modes_of).collect())
}

fn modes_of(parent: &'static Parent) -> Vec<Mode> {
    let first = Shape::from_offsets(parent.steps.iter().scan(0, |at, step| {
        *at += step;
        Some(*at % 12)
    }));
    let mode = |(k, own): (usize, &ModeName)| Mode {
        name: if own.name.is_empty() {
            format!("{} mode {}", parent.name, k + 1)
        } else {
            own.name.to_string()
        },
        source: own.source,
        parent: parent.name,
        parent_source: parent.source,
        shape: first.rotation(k),
    };
    parent.modes.iter().enumerate().map(mode).collect()
}

/// The seven modes of each parent, the more usual parent first.
pub fn parents() -> impl Iterator<Item = &'static [Mode]> {
    modes().chunks(7)
}

/// The seven modes of the diatonic collection, from Ionian.
pub fn diatonic() -> &'static [Mode] {
    &modes()[..7]
}

/// Every parent mode that contains the shape, in the order of [`modes`].
pub fn containing(shape: Shape) -> Vec<ParentMode> {
    let mut found = Vec::new();
    for parent in parents() {
        let fitting: Vec<&Mode> = parent
            .iter()
            .filter(|mode| shape.is_subset(mode.shape))
            .collect();
        found.extend(fitting.iter().map(|mode| ParentMode {
            mode: mode.name.clone(),
            source: mode.source,
            parent: mode.parent,
            unique: fitting.len() == 1,
        }));
    }
    found
}
