//! How one scale stands to the assigned one: the verdicts, in their order, and the rule for each.

use serde::{Deserialize, Serialize};

use crate::modes::Version;
use crate::units::{PitchClass, PitchClassSet};

/// How far a degree may move and still be the same degree altered, in semitones.
const ALTERED_BY: i64 = 2;

/// A verdict; of those that hold the first is given.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(into = "&'static str", try_from = "String")]
pub enum Judgement {
    /// No scale can be heard.
    Unusable,
    /// The assigned set and centre.
    AsAssigned,
    /// Another rotation of the family from the assigned root.
    SameRootOtherMode,
    /// The assigned notes from another centre.
    SameNotesOtherCentre,
    /// The assigned version from another root.
    Transposed,
    /// From the assigned root, less one or more degrees.
    MissingDegree,
    /// From the assigned root, one degree replaced by a neighbour.
    AlteredDegree,
    /// None of these.
    Other,
}

impl Judgement {
    /// 0 for what was asked, the more the farther from it; unusable last.
    pub fn rank(self) -> usize {
        match self {
            Judgement::AsAssigned => 0,
            Judgement::SameRootOtherMode => 1,
            Judgement::SameNotesOtherCentre => 2,
            Judgement::Transposed => 3,
            Judgement::MissingDegree => 4,
            Judgement::AlteredDegree => 5,
            Judgement::Other => 6,
            Judgement::Unusable => 7,
        }
    }

    /// All verdicts in their order.
    pub const ALL: [Judgement; 8] = [
        Judgement::Unusable,
        Judgement::AsAssigned,
        Judgement::SameRootOtherMode,
        Judgement::SameNotesOtherCentre,
        Judgement::Transposed,
        Judgement::MissingDegree,
        Judgement::AlteredDegree,
        Judgement::Other,
    ];

    /// The name in output, which is a contract, and the words for people of each verdict, in their order.
    const NAMES: [(&'static str, &'static str); Self::ALL.len()] = [
        ("unusable", "no scale can be heard"),
        ("as_assigned", "as assigned"),
        ("same_root_other_mode", "right first note, another mode"),
        ("same_notes_other_centre", "right notes, another home note"),
        ("transposed", "right scale, from another note"),
        ("missing_degree", "a degree is missing"),
        ("altered_degree", "a degree is altered"),
        ("other", "another scale"),
    ];

    /// The name under which output knows it.
    pub fn name(self) -> &'static str {
        Self::NAMES[self as usize].0
    }

    /// What people call it.
    pub fn words(self) -> &'static str {
        Self::NAMES[self as usize].1
    }
}

impl From<Judgement> for &'static str {
    fn from(judgement: Judgement) -> Self {
        judgement.name()
    }
}

impl TryFrom<String> for Judgement {
    type Error = String;

    fn try_from(name: String) -> Result<Self, Self::Error> {
        let known = Judgement::ALL
            .into_iter()
            .find(|judgement| judgement.name() == name);
        known.ok_or_else(|| format!("there is no verdict {name:?}"))
    }
}

/// The verdict on a scale that was played where another was asked for.
pub fn judgement_of(asked: &Version, played: &Version) -> Judgement {
    let same_root = asked.centre() == played.centre();
    let (want, got) = (asked.set(), played.set());
    match asked.shape().rotation_to(played.shape()) {
        _ if same_root && want == got => Judgement::AsAssigned,
        Some(_) if same_root => Judgement::SameRootOtherMode,
        _ if want == got => Judgement::SameNotesOtherCentre,
        Some(0) => Judgement::Transposed,
        _ if same_root && got.is_subset(want) => Judgement::MissingDegree,
        _ if same_root && altered_degree(want, got).is_some() => Judgement::AlteredDegree,
        _ => Judgement::Other,
    }
}

/// The degree that was asked for and the neighbour that was played in its place, if that is the only difference.
pub fn altered_degree(want: PitchClassSet, got: PitchClassSet) -> Option<(PitchClass, PitchClass)> {
    let only = |a: PitchClassSet, b: PitchClassSet| {
        let mut left = a.iter().filter(move |&c| !b.contains(c));
        left.next().filter(|_| left.next().is_none())
    };
    let (wanted, played) = (only(want, got)?, only(got, want)?);
    let distance = (played.above(wanted) as i64 + 6).rem_euclid(12) - 6;
    let between = |k: i64| want.contains(wanted.up(k * distance.signum()));
    let is_neighbour = distance.abs() <= ALTERED_BY && !(1..distance.abs()).any(between);
    is_neighbour.then_some((wanted, played))
}
