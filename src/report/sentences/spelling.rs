//! Names of notes and degrees in one spelling for a whole answer.

use serde::{Deserialize, Serialize};

use crate::histogram::PlacedNote;
use crate::modes::{NoteName, Version};
use crate::scale::ScaleEstimate;
use crate::units::{PitchClass, PitchClassSet};

/// Spells what was heard: by the version where there is one, by the rising and then the falling form where there are two.
pub struct Names {
    versions: Vec<Version>,
}

impl Names {
    /// The spelling of what was heard; also where the version's own name is not to be given.
    pub fn new(estimate: &ScaleEstimate) -> Self {
        let sets = match &estimate.two_forms {
            Some(forms) => vec![forms.rising, forms.falling],
            None => vec![estimate.set],
        };
        let versions = estimate.centre.map_or_else(Vec::new, |centre| {
            let held = sets.into_iter().filter(|set| set.contains(centre));
            held.map(|set| Version::new(centre, set)).collect()
        });
        Self { versions }
    }

    /// The version that was heard, or its rising form.
    pub fn version(&self) -> Option<Version> {
        self.versions.first().copied()
    }

    fn version_with(&self, class: PitchClass) -> Option<&Version> {
        let with = self.versions.iter().find(|v| v.set().contains(class));
        with.or(self.versions.first())
    }

    /// The name of a note.
    pub fn of(&self, class: PitchClass) -> String {
        self.note(class).to_string()
    }

    fn note(&self, class: PitchClass) -> NoteName {
        match self.version_with(class) {
            Some(version) => spelled(version, class),
            None => alone(class),
        }
    }

    /// The name with its octave; middle C is C4.
    pub fn with_octave(&self, key: i64) -> String {
        in_octave(self.note(PitchClass::new(key)), key)
    }

    /// The degree that a note is; `None` outside the set.
    pub fn degree(&self, class: PitchClass) -> Option<String> {
        let version = self.version_with(class)?;
        let at = version
            .set()
            .from_centre(version.centre())
            .position(|c| c == class)?;
        version.degree_names().get(at).cloned()
    }
}

/// A degree of the assigned scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DegreeName {
    /// Such as "b3".
    pub degree: String,
    /// Its note, spelled.
    pub name: String,
}

/// The note's name with its octave; middle C is C4.
pub fn with_octave(note: &PlacedNote, scale: &Version) -> String {
    in_octave(spelled(scale, note.class), note.key)
}

/// A class as a degree of a scale that holds it.
pub fn degree_name(scale: &Version, class: PitchClass) -> DegreeName {
    let at = scale
        .set()
        .from_centre(scale.centre())
        .position(|c| c == class);
    let degree = at
        .and_then(|k| scale.degree_names().get(k).cloned())
        .unwrap_or_default();
    DegreeName {
        degree,
        name: scale.name_of(class).to_string(),
    }
}

/// Spelled names of a set, from a scale's centre up.
pub fn names_of(set: PitchClassSet, scale: &Version) -> Vec<String> {
    set.from_centre(scale.centre())
        .map(|c| scale.name_of(c).to_string())
        .collect()
}

/// The name of a note beside a version: of its degrees their own, of others none with two signs.
pub fn spelled(version: &Version, class: PitchClass) -> NoteName {
    let name = version.name_of(class);
    if version.set().contains(class) || name.accidentals() < 2 {
        return name;
    }
    NoteName::for_root(class)
        .min_by_key(|name| name.accidentals())
        .unwrap_or(name)
}

/// A spelled name with the number of its octave, which begins at the letter C.
fn in_octave(name: NoteName, key: i64) -> String {
    let octave = (key - i64::from(name.above_c())).div_euclid(12) - 1;
    format!("{name}{octave}")
}

/// The name of a note that stands alone.
fn alone(class: PitchClass) -> NoteName {
    let set = PitchClassSet::default().with(class);
    Version::new(class, set).root()
}
