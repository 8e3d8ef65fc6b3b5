//! Which modes of a parent collection have no version of a family, and why.

use serde::Serialize;

use super::fit::chosen_mode;
use super::parents::{self, Mode};
use super::{NoteName, Version};

/// A parent mode that contains no version of a family.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ModeWithout {
    /// The mode.
    pub mode: String,
    /// The notes that it would have to start on and that the set lacks, one for each collection that holds the set.
    pub lacks: Vec<String>,
}

/// The modes of the version's parent that contain no rotation of it. Every version starts on a note of the set, so a mode
/// has none if its own first note is missing. Empty where no parent holds the set, and where all seven modes have one.
pub fn modes_without_version(version: &Version) -> Vec<ModeWithout> {
    let Some(chosen) = chosen_mode(version.shape()) else {
        return Vec::new();
    };
    let modes = parents::modes()
        .iter()
        .filter(|mode| mode.parent == chosen.parent);
    let rotations = version.shape().rotations();
    let has_version = |mode: &Mode| {
        rotations
            .iter()
            .any(|rotation| rotation.is_subset(mode.shape))
    };
    modes
        .filter(|mode| !has_version(mode))
        .map(|mode| ModeWithout {
            mode: mode.name.clone(),
            lacks: first_notes(version, mode),
        })
        .collect()
}

/// Where a mode starts in each collection of its parent that contains the version.
fn first_notes(version: &Version, wanted: &Mode) -> Vec<String> {
    let siblings = || {
        parents::modes()
            .iter()
            .filter(|mode| mode.parent == wanted.parent)
    };
    let holding = siblings().filter(|mode| version.shape().is_subset(mode.shape));
    let start = |mode: &Mode| {
        let at = mode.shape.rotation_to(wanted.shape)?;
        let degree = *mode.degrees().get(at)?;
        let name: NoteName = version.root().degree(degree);
        Some(name.to_string())
    };
    holding.filter_map(start).collect()
}
