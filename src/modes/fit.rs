//! Which parent mode stands for a version: for its label, and for how its notes are written.
//!
//! A family's parent collection is chosen once for all its rotations, so they land on different modes.

use std::sync::OnceLock;

use super::family;
use super::parents::{self, Mode};
use super::shape::{SHAPES, Shape};

/// The mode that qualifies a version: of the first parent that contains its family, the collection in the middle of those
/// that do, on the circle of fifths; of two, the sharper.
pub fn chosen_mode(shape: Shape) -> Option<&'static Mode> {
    static CHOSEN: [OnceLock<Option<&'static Mode>>; SHAPES] = [const { OnceLock::new() }; SHAPES];
    *CHOSEN[usize::from(shape.bits() >> 1)].get_or_init(|| choose_mode(shape))
}

fn choose_mode(shape: Shape) -> Option<&'static Mode> {
    let reference = family::reference(shape);
    let start = usize::from(*reference.offsets().get(reference.rotation_to(shape)?)?);
    parents::parents().find_map(|modes| {
        let tonic = middle_collection(reference, modes[0].shape)?;
        let above_tonic = (12 + start - usize::from(tonic)) % 12;
        modes
            .iter()
            .find(|mode| mode.shape == modes[0].shape.seen_from(above_tonic as u8))
    })
}

/// Where the tonic of the chosen transposition of a collection lies, in semitones above the reference's centre.
fn middle_collection(reference: Shape, collection: Shape) -> Option<u8> {
    let contains = |tonic: u8| {
        reference.is_subset(collection.seen_from((12 - tonic) % 12))
            && collection.contains((12 - tonic) % 12)
    };
    let tonic = |fifth: i8| (fifth * 7).rem_euclid(12) as u8;
    let mut fifths: Vec<i8> = (-5..=6).filter(|&fifth| contains(tonic(fifth))).collect();
    let count = fifths.len();
    let gap_before = |k: usize| (fifths[k] - fifths[(k + count - 1) % count] - 1).rem_euclid(12);
    let first = (0..count).rev().max_by_key(|&k| gap_before(k))?;
    fifths.rotate_left(first);
    Some(tonic(fifths[count / 2]))
}

/// Whether no other mode of the same parent holds the shape.
pub fn is_only_place(shape: Shape, mode: &Mode) -> bool {
    parents::containing(shape)
        .iter()
        .any(|held| held.unique && held.mode == mode.name)
}
