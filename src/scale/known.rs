//! The sets that music is known to use, as a weak prior: flat over all of them, so that none is favoured.

use std::sync::LazyLock;

use crate::units::PitchClassSet;

/// Step patterns of well-known families; every rotation and transposition of each counts alike. Common practice; the
/// names stand in the label book.
const FAMILIES: [&[u8]; 20] = [
    &[2, 2, 1, 2, 2, 2, 1],
    &[2, 1, 2, 2, 2, 2, 1],
    &[2, 1, 2, 2, 1, 3, 1],
    &[2, 2, 1, 2, 1, 3, 1],
    &[1, 3, 1, 2, 1, 3, 1],
    &[2, 2, 3, 2, 3],
    &[2, 1, 4, 2, 3],
    &[1, 4, 2, 1, 4],
    &[1, 2, 4, 1, 4],
    &[3, 2, 1, 1, 3, 2],
    &[2, 1, 1, 3, 2, 3],
    &[2, 2, 1, 2, 2, 3],
    &[2, 2, 3, 2, 2, 1],
    &[2, 1, 2, 2, 3, 2],
    &[2, 2, 2, 2, 2, 2],
    &[1, 3, 1, 3, 1, 3],
    &[2, 1, 2, 1, 2, 1, 2, 1],
    &[2, 2, 1, 2, 2, 1, 1, 1],
    &[2, 2, 1, 2, 1, 1, 2, 1],
    &[2, 1, 2, 2, 1, 1, 2, 1],
];

/// Probability that a set is one of the known ones rather than any other. Engineering judgement: the prior is weak.
const KNOWN_PART: f64 = 0.5;

/// Whether each set, by its bits, is known.
static KNOWN: LazyLock<Vec<bool>> = LazyLock::new(|| {
    let mut known = vec![false; 4096];
    for steps in FAMILIES {
        let mut bits = 0u16;
        let mut at = 0;
        for s in steps {
            bits |= 1 << at;
            at += s;
        }
        for root in 0..12 {
            known[usize::from(PitchClassSet::from_bits(bits).up(root).bits())] = true;
        }
    }
    known
});

/// Log prior of every set by its bits.
static LOG_PRIOR: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let known = &*KNOWN;
    let count = known.iter().filter(|&&k| k).count() as f64;
    let any = (1.0 - KNOWN_PART) / 4096.0;
    known
        .iter()
        .map(|&k| (any + if k { KNOWN_PART / count } else { 0.0 }).ln() as f32)
        .collect()
});

/// Log probability of a set before anything was heard.
pub fn log_prior(bits: u16) -> f32 {
    LOG_PRIOR[usize::from(bits & 0xfff)]
}

/// Whether a set, by its bits, is known.
pub fn is_known(bits: u16) -> bool {
    KNOWN[usize::from(bits & 0xfff)]
}

/// The known sets, by their bits.
pub fn sets() -> impl Iterator<Item = u16> {
    (0..4096).filter(|&bits| is_known(bits))
}
