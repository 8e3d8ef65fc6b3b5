//! A scale as its degrees in cents above the centre; a version of the twelve notes is the one whose degrees are all
//! multiples of 100.
//!
//! Each degree has one of the twelve notes that it is written as, so that everything that is known of versions (spelling,
//! rotations, what is missing or altered) serves for scales off the grid too: [`Scale::written`] gives that version, and
//! [`Scale::to_grid`] carries a pitch over to it.

use std::fmt;

use super::{Band, NoteName, Version};
use crate::error::{Error, Result};
use crate::modes::shape::{OCTAVE, Shape};
use crate::units::{OCTAVE_CENTS, PitchClass};
use crate::words::said;

/// Cents in a semitone.
const SEMITONE_CENTS: f64 = 100.0;
/// A degree is a multiple of 100 cents if it is as near to one as this, in cents: what is written with one decimal.
const EXACT_CENTS: f64 = 0.05;
/// Nearer together than this, in cents, two degrees are one: about what can be told apart in a melody.
const LEAST_STEP_CENTS: f64 = 15.0;
/// A note is written with its cents where it lies farther from the twelve than this. Common practice, no source.
const TOLD_CENTS: f64 = 10.0;
/// Of two notes that a degree lies between, the one that it is nearer to where the centre lies off the twelve is taken if
/// the other is hardly nearer above the centre: so much each cent weighs beside the square. Engineering judgement.
const SOUNDED_WEIGHT: f64 = 10.0;
/// Two scales are alike if no degree differs by more than this, in cents: a comma of Arel's theory is 22.6, and between
/// a half and a whole one a name changes.
pub const ALIKE_CENTS: f64 = 12.0;

/// A scale: its centre and its degrees.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// The version as which it is written.
    written: Version,
    /// The degrees from the centre up; the first is at 0.
    bands: Vec<Band>,
    /// Cents from the note that the centre is written as up to the centre.
    root_cents: f64,
}

impl From<Version> for Scale {
    fn from(version: Version) -> Self {
        let at = |offset: u8| Band::at(SEMITONE_CENTS * f64::from(offset));
        Self {
            written: version,
            bands: version.shape().offsets().into_iter().map(at).collect(),
            root_cents: 0.0,
        }
    }
}

impl Scale {
    /// The scale of these degrees, in any order; `root_cents` is how far the centre lies above the note `root`. The
    /// centre is added if it is not among them.
    ///
    /// # Errors
    /// [`Error::Text`] where degrees don't lie within the octave, are more than twelve, or two are nearly one.
    pub fn new(root: NoteName, root_cents: f64, mut bands: Vec<Band>) -> Result<Self> {
        if !bands.iter().any(|b| b.low() <= 0.0) {
            bands.push(Band::at(0.0));
        }
        bands.sort_by(|a, b| a.middle().total_cmp(&b.middle()));
        check(&bands)?;
        let offsets = stand_ins(&bands, root_cents);
        let version = Version::from_shape(root.pitch_class(), Shape::from_offsets(offsets));
        Ok(Self {
            written: version.with_root(root),
            bands,
            root_cents,
        })
    }

    /// The version, if all degrees and the centre are notes of the twelve.
    pub fn version(&self) -> Option<Version> {
        let offsets = self.written.shape().offsets();
        let is_exact = |(band, offset): (&Band, u8)| {
            let at = SEMITONE_CENTS * f64::from(offset);
            (band.low() - at).abs() < EXACT_CENTS && (band.high() - at).abs() < EXACT_CENTS
        };
        let all_are = self.bands.iter().zip(offsets).all(is_exact);
        (all_are && self.root_cents.abs() < EXACT_CENTS).then_some(self.written)
    }

    /// The version as which it is written: one of the twelve notes for each degree.
    pub fn written(&self) -> Version {
        self.written
    }

    /// The degrees from the centre up.
    pub fn bands(&self) -> &[Band] {
        &self.bands
    }

    /// The degrees in cents above the centre, of ranges the middle.
    pub fn cents(&self) -> Vec<f64> {
        self.bands.iter().map(|b| b.middle()).collect()
    }

    /// Cents from the note that the centre is written as up to the centre.
    pub fn root_cents(&self) -> f64 {
        self.root_cents
    }

    /// The centre's name, with its cents where it lies off the twelve notes.
    pub fn root_name(&self) -> String {
        with_cents(self.written.root(), self.root_cents)
    }

    /// What it is called where no name is known: the version's label, or "C (0 200 350 500 700 900 1050)".
    pub fn label(&self) -> String {
        match self.version() {
            Some(version) => version.label(),
            None => format!("{} ({})", self.root_name(), cents_text(&self.bands)),
        }
    }

    /// The notes from the centre up, each with how far it lies from the one of the twelve that it is written as.
    pub fn note_names(&self) -> Vec<String> {
        let notes = self.written.notes().into_iter();
        notes
            .map(|note| self.name_as(note, note.pitch_class()))
            .collect()
    }

    /// A note as it is written, with its cents where the class `own` is a degree off the twelve notes.
    pub fn name_as(&self, note: NoteName, own: PitchClass) -> String {
        let offset = own.above(self.written.centre()) as u8;
        let offsets = self.written.shape().offsets();
        let band = offsets
            .iter()
            .position(|&o| o == offset)
            .map(|k| self.bands[k]);
        let off = band.map_or(0.0, |b| {
            b.middle() + self.root_cents - SEMITONE_CENTS * f64::from(offset)
        });
        with_cents(note, off)
    }

    /// Cents from each degree to the next, back to the octave.
    pub fn steps(&self) -> Vec<f64> {
        let mut bounds = self.cents();
        bounds.push(OCTAVE_CENTS);
        bounds.windows(2).map(|pair| pair[1] - pair[0]).collect()
    }

    /// The same scale from another root.
    pub fn from_root(&self, root: NoteName, root_cents: f64) -> Self {
        let shape = Shape::from_offsets(stand_ins(&self.bands, root_cents));
        Self {
            written: Version::from_shape(root.pitch_class(), shape).with_root(root),
            bands: self.bands.clone(),
            root_cents,
        }
    }

    /// The same notes heard from degree `k`, counted from 0.
    pub fn rotation(&self, k: usize) -> Self {
        let k = k % self.bands.len();
        let up = self.bands[k].middle();
        let (low, high) = self.bands.split_at(k);
        let octave_up = low.iter().map(|band| band.down(up - OCTAVE_CENTS));
        let mut bands: Vec<Band> = high
            .iter()
            .map(|band| band.down(up))
            .chain(octave_up)
            .collect();
        bands[0] = Band::at(0.0);
        let offset = self.written.shape().offsets()[k];
        let shape = self.written.shape().seen_from(offset);
        let centre = self.written.centre().up(i64::from(offset));
        Self {
            written: Version::from_shape(centre, shape).with_root(self.written.notes()[k]),
            root_cents: self.root_cents + up - SEMITONE_CENTS * f64::from(offset),
            bands,
        }
    }

    /// Whether the degrees are the same but for [`ALIKE_CENTS`].
    pub fn is_alike(&self, other: &Self) -> bool {
        let near = |(a, b): (&Band, &Band)| apart(*a, *b) <= ALIKE_CENTS;
        self.bands.len() == other.bands.len() && self.bands.iter().zip(&other.bands).all(near)
    }

    /// How many degrees after this scale's centre the other begins, if it is one of its rotations.
    pub fn rotation_to(&self, other: &Self) -> Option<usize> {
        (0..self.bands.len()).find(|&k| self.rotation(k).is_alike(other))
    }

    /// Cents above the C of an octave at which the centre lies, 0 to 1200.
    pub fn centre_cents(&self) -> f64 {
        let written = SEMITONE_CENTS * self.written.centre().index() as f64;
        (written + self.root_cents).rem_euclid(OCTAVE_CENTS)
    }

    /// Where a pitch lies on the grid of [`Self::written`], in cents above its centre; degrees lie on it, pitches between
    /// degrees between theirs. Octaves are kept.
    pub fn to_grid(&self, cents: f64) -> f64 {
        let octave = (cents / OCTAVE_CENTS).floor();
        let within = cents - octave * OCTAVE_CENTS;
        let corners = self.corners();
        let above = corners
            .partition_point(|c| c.0 <= within)
            .clamp(1, corners.len() - 1);
        let (a, b) = (corners[above - 1], corners[above]);
        let part = if b.0 > a.0 {
            (within - a.0) / (b.0 - a.0)
        } else {
            0.0
        };
        octave * OCTAVE_CENTS + a.1 + part * (b.1 - a.1)
    }

    /// The pitch that lies there on the grid of [`Self::written`]: what [`Self::to_grid`] undoes, of a range its middle.
    pub fn from_grid(&self, grid: f64) -> f64 {
        let octave = (grid / OCTAVE_CENTS).floor();
        let within = grid - octave * OCTAVE_CENTS;
        let corners = self.corners();
        let (low, high) = (
            corners
                .partition_point(|c| c.1 < within)
                .clamp(1, corners.len() - 1),
            corners.partition_point(|c| c.1 <= within),
        );
        if high > low {
            let on = &corners[low..high];
            return octave * OCTAVE_CENTS + 0.5 * (on[0].0 + on[on.len() - 1].0);
        }
        let (a, b) = (corners[low - 1], corners[low]);
        let part = if b.1 > a.1 {
            (within - a.1) / (b.1 - a.1)
        } else {
            0.0
        };
        octave * OCTAVE_CENTS + a.0 + part * (b.0 - a.0)
    }

    /// Pairs of cents as sounded and as written, ascending, from the centre to its octave; a range has two.
    fn corners(&self) -> Vec<(f64, f64)> {
        let offsets = self.written.shape().offsets();
        let mut corners: Vec<(f64, f64)> = Vec::with_capacity(2 * self.bands.len() + 1);
        for (band, offset) in self.bands.iter().zip(offsets) {
            let at = SEMITONE_CENTS * f64::from(offset);
            corners.push((band.low(), at));
            if band.high() > band.low() {
                corners.push((band.high(), at));
            }
        }
        corners.push((OCTAVE_CENTS, OCTAVE_CENTS));
        corners
    }
}

/// The degrees as they are typed: "0 200 350 500 700 900 1050".
pub fn cents_text(bands: &[Band]) -> String {
    let words: Vec<String> = bands.iter().map(Band::to_string).collect();
    words.join(" ")
}

/// Cents that no place of the one band is nearer to the other.
fn apart(a: Band, b: Band) -> f64 {
    (a.low() - b.high()).max(b.low() - a.high()).max(0.0)
}

/// "E", or "E-50" where it lies so far from the note of the twelve.
pub(crate) fn with_cents(note: NoteName, cents: f64) -> String {
    if cents.abs() < TOLD_CENTS {
        return note.to_string();
    }
    format!("{note}{cents:+.0}")
}

fn check(bands: &[Band]) -> Result<()> {
    let wrong = |what: String| Err(Error::Text(what));
    let is_within = |b: &Band| b.low() >= 0.0 && b.high() < OCTAVE_CENTS;
    if let Some(band) = bands.iter().find(|b| !is_within(b)) {
        return wrong(said!("error.beyond_octave", cents = band));
    }
    if bands.len() > usize::from(OCTAVE) {
        return wrong(said!(
            "error.many_degrees",
            count = bands.len(),
            most = OCTAVE
        ));
    }
    let is_close = |pair: &&[Band]| pair[1].low() - pair[0].high() < LEAST_STEP_CENTS;
    match bands.windows(2).find(is_close) {
        Some(pair) => wrong(said!("error.too_near", one = pair[0], other = pair[1])),
        None => Ok(()),
    }
}

/// For each degree the semitone that it is written as: ascending, and as near as can be in all; of two as near the upper,
/// so that a quarter tone is written as a flat, unless the centre is one itself.
fn stand_ins(bands: &[Band], root_cents: f64) -> Vec<u8> {
    let (n, keys) = (bands.len(), usize::from(OCTAVE));
    let cost = |k: usize, key: usize| {
        let off = bands[k].middle() - SEMITONE_CENTS * key as f64;
        off * off + SOUNDED_WEIGHT * (off + root_cents).abs() - 1e-3 * key as f64
    };
    // best[k][key]: the least cost of the degrees up to k with degree k on `key`, and the key of the one before.
    let mut best = vec![vec![(f64::INFINITY, 0usize); keys]; n];
    best[0][0].0 = 0.0;
    for k in 1..n {
        for key in k..keys {
            let before = (0..key).min_by(|&a, &b| best[k - 1][a].0.total_cmp(&best[k - 1][b].0));
            let from = before.unwrap_or(0);
            best[k][key] = (best[k - 1][from].0 + cost(k, key), from);
        }
    }
    let last = (0..keys).min_by(|&a, &b| best[n - 1][a].0.total_cmp(&best[n - 1][b].0));
    let mut key = last.unwrap_or(0);
    let mut found = vec![0u8; n];
    for k in (0..n).rev() {
        found[k] = key as u8;
        key = best[k][key].1;
    }
    found
}

impl fmt::Display for Scale {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.label())
    }
}
