//! Prime forms: how set theory lists a set apart from transposition and inversion.
//!
//! The two common rules differ for six classes: Forte, The Structure of Atonal Music, 1973; Rahn, Basic Atonal Theory, 1980.

use serde::Serialize;

use super::shape::{OCTAVE, Shape};

/// The prime form by either rule, in semitones from its first note.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PrimeForms {
    /// Packed to the left by the first intervals.
    pub forte: Vec<u8>,
    /// Packed to the left by the last intervals.
    pub rahn: Vec<u8>,
}

/// The prime forms of a shape, the same for all its rotations and their mirror images.
pub fn prime_forms(shape: Shape) -> PrimeForms {
    let mut candidates = shape.rotations();
    candidates.extend(mirrored(shape).rotations());
    PrimeForms {
        forte: forte_order(&candidates),
        rahn: rahn_order(&candidates),
    }
}

/// Forte: the smallest span, of several the one whose intervals from the first note are smallest.
pub fn forte_order(candidates: &[Shape]) -> Vec<u8> {
    let ordered = candidates.iter().map(|shape| shape.offsets());
    ordered
        .min_by_key(|offsets| (offsets.last().copied(), offsets.clone()))
        .unwrap_or_default()
}

/// Rahn: the smallest span, of several the one whose last notes but one, but two, … lie lowest.
fn rahn_order(candidates: &[Shape]) -> Vec<u8> {
    let ordered = candidates.iter().map(|shape| shape.offsets());
    ordered
        .min_by_key(|offsets| offsets.iter().rev().copied().collect::<Vec<u8>>())
        .unwrap_or_default()
}

/// The shape with its steps in the opposite order.
fn mirrored(shape: Shape) -> Shape {
    Shape::from_offsets(
        shape
            .offsets()
            .into_iter()
            .map(|offset| (OCTAVE - offset) % OCTAVE),
    )
}
