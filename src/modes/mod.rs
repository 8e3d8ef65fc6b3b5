//! Takes a set with a centre (from the scale stage, or from text), gives its family, rotations, parent modes, spelling
//! and the one label that is its own.
//!
//! - Takes: a [`PitchClass`] and a [`PitchClassSet`], or text in any of the forms that we print ([`parse()`]).
//! - Gives: [`Version`], and from it steps, label, note names, degrees, [`Family`], rotations; [`relation`] between two.
//! - Method: plain set theory on 12-tone pitch classes (Forte, The Structure of Atonal Music, 1973); the labels are our
//!   own scheme, see [`label`]; spelling is common practice, one letter a degree from the parent mode.
//! - [`Scale`] is the wider kind: degrees in cents, written as a version's; twelve of them to the octave at the most.
//! - Limits: a scale that rises and falls with different notes is two versions.

mod band;
pub mod degree;
mod described;
pub mod family;
mod fit;
mod foreign;
mod in_cents;
pub mod label;
mod mode_in_words;
pub mod note_name;
pub mod parents;
mod parse;
mod prime;
mod relation;
mod scale;
pub mod shape;
mod spell;
mod text;
mod transposition;
mod without;

use std::fmt;
use std::hash::{Hash, Hasher};

use crate::error::{Error, Result};
use crate::units::{PitchClass, PitchClassSet};
use crate::words::said;

pub use band::Band;
pub use degree::Degree;
pub use family::Family;
pub use foreign::english_mode;
pub use in_cents::{in_cents, names_octave, tuned_note, tuned_root};
pub use note_name::{Notation, NoteName, parse_note, written};
pub use parents::ParentMode;
pub use parse::{LabelsOnly, Meaning, Meant, NameLookup, TextOptions, parse, parse_all};
pub use prime::{PrimeForms, prime_forms};
pub use relation::{Pair, Relation, relation, scale_relation, shared_notes};
pub(crate) use scale::with_cents;
pub use scale::{ALIKE_CENTS, Scale, cents_text};
pub use shape::{Shape, steps_text};
pub use text::key as name_key;
pub use transposition::Transposition;
pub use without::{ModeWithout, modes_without_version};

/// One version of a scale: a set of pitch classes and the centre it is heard from.
///
/// Two versions are equal if their centre and set are; how the root is written makes no difference.
///
/// ```
/// # use whichmode::{modes::Version, units::PitchClass};
/// let set = [2, 4, 5, 9, 11].into_iter().map(PitchClass::new).collect();
/// let version = Version::new(PitchClass::new(2), set);
/// assert_eq!(version.label().to_string(), "D Dorian kumoi");
/// assert_eq!(version.note_names().join(" "), "D E F A B");
/// ```
#[derive(Debug, Clone, Copy)]
pub struct Version {
    centre: PitchClass,
    set: PitchClassSet,
    /// The root's name, if someone chose it.
    root: Option<NoteName>,
}

impl Version {
    /// The version of a set from a centre; the centre is added if the set lacks it.
    pub fn new(centre: PitchClass, set: PitchClassSet) -> Self {
        Self {
            centre,
            set: set.with(centre),
            root: None,
        }
    }

    /// The version of a shape from a centre.
    pub fn from_shape(centre: PitchClass, shape: Shape) -> Self {
        Self::new(centre, shape.at(centre))
    }

    /// The version whose steps upward from the centre are given, in semitones.
    ///
    /// # Errors
    /// [`Error::Text`] if the steps don't sum to 12 or one of them is 0.
    pub fn from_steps(centre: PitchClass, steps: &[u8]) -> Result<Self> {
        let shape = Shape::from_steps(steps).ok_or_else(|| {
            let total: u32 = steps.iter().map(|&step| u32::from(step)).sum();
            Error::Text(said!(
                "error.steps_sum",
                steps = steps_text(steps),
                total = total
            ))
        })?;
        Ok(Self::from_shape(centre, shape))
    }

    /// The same version with its root written as the name says, if that is a name of its centre.
    pub fn with_root(self, root: NoteName) -> Self {
        Self {
            root: (root.pitch_class() == self.centre).then_some(root),
            ..self
        }
    }

    /// The note it is heard from.
    pub fn centre(&self) -> PitchClass {
        self.centre
    }

    /// Its notes, the centre among them.
    pub fn set(&self) -> PitchClassSet {
        self.set
    }

    /// The set as its centre sees it.
    pub fn shape(&self) -> Shape {
        Shape::of(self.centre, self.set)
    }

    /// Semitones from each note to the next one, from the centre up.
    pub fn steps(&self) -> Vec<u8> {
        self.shape().steps()
    }

    /// The label with its root: "D Dorian kumoi". Each version from each centre has its own.
    pub fn label(&self) -> String {
        format!("{} {}", self.root(), self.scale_label())
    }

    /// The label without its root: "Dorian kumoi".
    pub fn scale_label(&self) -> &'static str {
        &label::naming(self.shape()).label
    }

    /// The root's name: the one that was chosen, else the one with the fewest accidentals in the scale.
    pub fn root(&self) -> NoteName {
        self.root.unwrap_or_else(|| {
            let is_free = spell::is_free(self.shape());
            note_name::best_root(self.centre, self.degrees(), is_free)
        })
    }

    /// The degrees from the centre up: 1, 2, b3, …
    pub fn degrees(&self) -> &'static [Degree] {
        &label::naming(self.shape()).degrees
    }

    /// The degrees as text.
    pub fn degree_names(&self) -> Vec<String> {
        self.degrees().iter().map(Degree::to_string).collect()
    }

    /// The spelled notes from the centre up, one letter a degree where the set allows it.
    pub fn notes(&self) -> Vec<NoteName> {
        let root = self.root();
        let is_free = spell::is_free(self.shape());
        let name = |&degree: &Degree| match root.degree(degree) {
            note if is_free => note.simplified(),
            note => note,
        };
        self.degrees().iter().map(name).collect()
    }

    /// The modes of the same parent that hold the notes as well as the one that the label names: nothing in the notes
    /// tells them apart. Empty where the label names a mode that alone holds them, or none.
    pub fn other_modes(&self) -> Vec<String> {
        let shape = self.shape();
        let Some(mode) = fit::chosen_mode(shape).filter(|mode| {
            (5..=6).contains(&shape.len()) && self.scale_label().starts_with(&mode.name)
        }) else {
            return Vec::new();
        };
        let held = parents::containing(shape);
        held.into_iter()
            .filter(|held| held.parent == mode.parent && held.mode != mode.name)
            .map(|held| held.mode)
            .collect()
    }

    /// The spelled notes as text.
    pub fn note_names(&self) -> Vec<String> {
        self.notes().iter().map(NoteName::to_string).collect()
    }

    /// The name under which a pitch class is written here: the degree's if it is in the set, else the plain name.
    pub fn name_of(&self, class: PitchClass) -> NoteName {
        let root = self.root();
        let own = self
            .notes()
            .into_iter()
            .find(|note| note.pitch_class() == class);
        own.unwrap_or_else(|| root.degree(Degree::plain(class.above(self.centre) as u8)))
    }

    /// Its family, its place in it, and the parent modes that contain it.
    pub fn family(&self) -> Family {
        Family::of(self.shape())
    }

    /// Every rotation on the same notes, this version first.
    pub fn rotations(&self) -> Vec<Version> {
        let notes = self.notes();
        let count = self.shape().rotations().len();
        let from = |note: &NoteName| Self::new(note.pitch_class(), self.set).with_plain_root(*note);
        notes.iter().take(count).map(from).collect()
    }

    /// Every rotation of the family from the same root, this version first.
    pub fn rotations_on_root(&self) -> Vec<Version> {
        let root = Some(self.root());
        let on_root = |shape| Self {
            root,
            ..Self::from_shape(self.centre, shape)
        };
        self.shape().rotations().into_iter().map(on_root).collect()
    }

    /// The version that many semitones higher; its root is named anew.
    pub fn transposed(&self, semitones: i64) -> Self {
        Self::new(self.centre.up(semitones), self.set.up(semitones))
    }

    /// Takes the root's name over from another scale on the same notes, unless it is unusual (E#, Fb, two signs) or makes
    /// double accidentals that another name would not.
    fn with_plain_root(self, root: NoteName) -> Self {
        let doubles = |version: &Self| {
            version
                .notes()
                .iter()
                .filter(|note| note.accidentals() > 1)
                .count()
        };
        let named = self.with_root(root);
        let is_usual = NoteName::for_root(self.centre).any(|usual| usual == root);
        if is_usual && doubles(&named) <= doubles(&self) {
            named
        } else {
            self
        }
    }
}

impl PartialEq for Version {
    fn eq(&self, other: &Self) -> bool {
        (self.centre, self.set) == (other.centre, other.set)
    }
}

impl Eq for Version {}

impl Hash for Version {
    fn hash<H: Hasher>(&self, state: &mut H) {
        (self.centre, self.set).hash(state);
    }
}

impl fmt::Display for Version {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.label())
    }
}
