//! Degrees that lie between the notes of the 12-tone grid.
//!
//! The notes are gathered into degrees by the peaks of their smoothed distribution over the octave, not by the grid, so
//! that a neutral third is one degree and not two halves of its neighbours (after A. C. Gedik and B. Bozkurt,
//! "Pitch-frequency histogram-based music information retrieval for Turkish music", Signal Processing, 2010).

use std::f64::consts::TAU;

use crate::histogram::{BIN_CENTS, BINS, PlacedNote, fold};
use crate::scale::estimate::{Degree, GridDistance};
use crate::units::{PitchClass, PitchClassSet, around_octave, from_semitone};

/// Standard deviation of the smoothing in cents: notes of one degree scatter by 5 to 15 cents. Engineering judgement.
const SMOOTH_CENTS: f64 = 14.0;
/// A degree farther than this from the grid has no 12-tone name: well past the 22 cents by which just intonation
/// departs from the grid, well short of a quarter tone.
const OFF_CENTS: f64 = 32.0;
/// A degree counts as off the grid only with this many notes, this part of the time and no wider a spread.
const MIN_NOTES: usize = 2;
const MIN_SHARE: f64 = 0.04;
const MAX_SPREAD_CENTS: f64 = 18.0;
/// It must lie off the grid by so many standard errors of its mean, given how loosely the line is played …
const SURE_ERRORS: f64 = 4.0;
/// … and no line is played more closely than this, in cents. Engineering judgement, checked on singing whose scores are
/// equal-tempered.
const LEAST_LOOSENESS_CENTS: f64 = 8.0;
/// Where single notes scatter farther than this, in cents, one degree aside may be one that is sung askew: what a whole scale
/// says of the line decides there, not this stage. Chosen on made lines (tests/off_grid, seeds 1 and 4), where lines that lie
/// off the grid scatter by 8 to 12 cents and more only if they are sung, and on singing from scores, 14 to 29.
const MOST_LOOSENESS_CENTS: f64 = 13.0;
/// A note is of a known place up to this distance in cents; beyond it is another note. Engineering judgement.
const PLACE_REACH_CENTS: f64 = 60.0;
/// What lies at none of the known places is a degree all the same from this part of the time on. On performances of Turkish
/// makam .05 and .06 do alike; .1 hides seconds of 8 % of the time.
const MUCH: f64 = 0.06;
/// A peak below this part of the time is no degree.
const PEAK_MIN: f64 = 0.01;
/// A valley below this part of the lower of two peaks parts two degrees.
const VALLEY: f64 = 0.7;
/// … and one below this part of it parts what two classes of a set hold of one degree. Chosen on performances of Turkish makam,
/// where it makes no difference between 0.45 and 0.55.
const VALLEY_BESIDE: f64 = 0.5;

/// One degree as it was played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cluster {
    /// Cents above C of the recording's own grid, 0 to 1200.
    pub cents: f64,
    /// Standard deviation in cents.
    pub spread_cents: f64,
    /// Part of the sounding time.
    pub share: f64,
    /// How many notes.
    pub count: usize,
    /// The 12-tone class that stands for it.
    pub class: PitchClass,
}

impl Cluster {
    /// Cents above the class that stands for it.
    pub fn deviation(&self) -> f64 {
        around_octave(self.cents - 100.0 * self.class.index() as f64)
    }

    /// Cents from the nearest place of the grid.
    fn away(&self) -> f64 {
        from_semitone(self.cents)
    }

    /// Whether its place is certain, where single notes scatter by so many cents.
    fn is_sure(&self, looseness_cents: f64) -> bool {
        self.away() * (self.count as f64).sqrt() >= SURE_ERRORS * looseness_cents
    }

    /// The class on its other side.
    fn other_side(&self) -> PitchClass {
        self.class.up(if self.deviation() > 0.0 { 1 } else { -1 })
    }

    fn off_grid(&self) -> bool {
        self.away() > OFF_CENTS
            && self.count >= MIN_NOTES
            && self.share >= MIN_SHARE
            && self.spread_cents <= MAX_SPREAD_CENTS
    }
}

/// A recording whose degrees lie off the grid.
#[derive(Debug, Clone, PartialEq)]
pub struct OffGrid {
    /// Its degrees, ascending.
    pub clusters: Vec<Cluster>,
    /// The notes, each with the class of its degree.
    pub notes: Vec<PlacedNote>,
}

impl OffGrid {
    /// The classes of the degrees at known places that sound, and of others that sound much.
    pub fn own(&self, places: &[f64]) -> PitchClassSet {
        let is_placed = |c: &Cluster| {
            let near = |place: &f64| around_octave(c.cents - place).abs() <= PLACE_REACH_CENTS;
            places.iter().any(near)
        };
        let is_own = |c: &&Cluster| {
            let least = if is_placed(c) { PEAK_MIN } else { MUCH };
            c.share >= least
        };
        let own = self.clusters.iter().filter(is_own);
        own.map(|c| c.class).collect()
    }

    /// The class of the degree nearest to a place, in cents above C.
    pub fn class_at(&self, cents: f64) -> Option<PitchClass> {
        let away = |c: &&Cluster| around_octave(c.cents - cents).abs();
        let nearest = self
            .clusters
            .iter()
            .min_by(|a, b| away(a).total_cmp(&away(b)));
        nearest.map(|cluster| cluster.class)
    }

    /// The notes with their cents counted from the middle of their own degree: how well each is in tune with its like,
    /// which is what tells a note from a slip where the degrees lie off the grid.
    pub fn by_degree(&self) -> Vec<PlacedNote> {
        let middle = |class| {
            let degree = self.clusters.iter().find(|c| c.class == class);
            degree.map_or(0.0, Cluster::deviation)
        };
        let levelled = |n: &PlacedNote| PlacedNote {
            cents: n.cents - middle(n.class),
            ..*n
        };
        self.notes.iter().map(levelled).collect()
    }
}

/// Finds the degrees where at least one of them lies off the grid; `None` where all have a 12-tone name.
pub fn find(notes: &[PlacedNote]) -> Option<OffGrid> {
    let worst = |c: &PlacedNote| c.cents.abs() > 0.6 * OFF_CENTS;
    if notes.iter().filter(|n| worst(n)).count() < MIN_NOTES {
        return None;
    }
    let bounds = valleys(&smooth(&fold(notes)), VALLEY);
    let mut clusters = measure(notes, &bounds);
    let looseness = looseness(&clusters);
    let is_off = |c: &Cluster| c.off_grid() && c.is_sure(looseness);
    if looseness > MOST_LOOSENESS_CENTS || !clusters.iter().any(is_off) {
        return None;
    }
    name(&mut clusters);
    let notes = notes.iter().map(|n| regrid(n, &clusters)).collect();
    Some(OffGrid { clusters, notes })
}

/// The degrees of a line at known places, in cents above C; notes far from all of them keep their own classes.
pub fn about(notes: &[PlacedNote], places: &[f64]) -> OffGrid {
    let slot = |n: &PlacedNote| {
        let away = |k: &usize| around_octave(cents_of(n) - places[*k]).abs();
        let nearest = (0..places.len()).min_by(|a, b| away(a).total_cmp(&away(b)));
        nearest
            .filter(|k| away(k) <= PLACE_REACH_CENTS)
            .unwrap_or(places.len() + n.class.index())
    };
    let slots = places.len() + PitchClass::all().count();
    let mut clusters = gathered(notes, slots, slot);
    name(&mut clusters);
    let notes = notes.iter().map(|n| regrid(n, &clusters)).collect();
    OffGrid { clusters, notes }
}

/// The notes of a line with those that lie beside a degree of its set taken into it, where no valley parts them and their
/// middle lies off the grid: the neutral degree of a loose player falls on both sides of the border between two classes.
pub fn rejoined(notes: &[PlacedNote], set: PitchClassSet) -> Vec<PlacedNote> {
    let bounds = valleys(&smooth(&fold(notes)), VALLEY_BESIDE);
    let mut off = measure(notes, &bounds);
    off.retain(|c| c.away() > OFF_CENTS);
    let own = |n: &PlacedNote| {
        let slot = slot_of(cents_of(n), &bounds);
        let cluster = off.iter().find(|c| slot_of(c.cents, &bounds) == slot)?;
        let mut sides = [cluster.class, cluster.other_side()].into_iter();
        let class = sides.find(|class| set.contains(*class))?;
        is_beside(class, n.class).then(|| as_class(n, class))
    };
    let outside = |n: &PlacedNote| !set.contains(n.class);
    let joined = |n: &PlacedNote| outside(n).then(|| own(n)).flatten().unwrap_or(*n);
    notes.iter().map(joined).collect()
}

/// How far degrees lie from the nearest places of the grid; `None` without degrees that sound.
pub fn distance(degrees: &[Degree]) -> Option<GridDistance> {
    let measured = || {
        degrees
            .iter()
            .filter_map(|d| Some((d.share, from_semitone(d.mean_cents?))))
    };
    let time: f64 = measured().map(|(share, _)| share).sum();
    (time > 0.0).then(|| GridDistance {
        worst_cents: measured().map(|(_, cents)| cents).fold(0.0, f64::max),
        mean_cents: measured().map(|(share, cents)| share * cents).sum::<f64>() / time,
    })
}

fn smooth(bins: &[f64; BINS]) -> [f64; BINS] {
    let reach = (3.0 * SMOOTH_CENTS / BIN_CENTS) as i64;
    let kernel: Vec<f64> = (-reach..=reach)
        .map(|k| (-0.5 * (k as f64 * BIN_CENTS / SMOOTH_CENTS).powi(2)).exp())
        .collect();
    std::array::from_fn(|i| {
        (-reach..=reach)
            .zip(&kernel)
            .map(|(k, w)| w * bins[(i as i64 + k).rem_euclid(BINS as i64) as usize])
            .sum()
    })
}

/// The bins that part one degree from the next: where the density falls below this part of the lower peak beside it.
fn valleys(density: &[f64; BINS], depth: f64) -> Vec<usize> {
    let at = |i: usize| density[i % BINS];
    let peaks: Vec<usize> = (0..BINS)
        .filter(|&i| at(i) >= PEAK_MIN && at(i) > at(i + BINS - 1) && at(i) >= at(i + 1))
        .collect();
    let mut bounds = Vec::new();
    for (k, &peak) in peaks.iter().enumerate() {
        let next = if k + 1 < peaks.len() {
            peaks[k + 1]
        } else {
            peaks[0] + BINS
        };
        let low = (peak..=next)
            .min_by(|&a, &b| at(a).total_cmp(&at(b)))
            .unwrap_or(peak);
        if at(low) < depth * at(peak).min(at(next)) {
            bounds.push(low % BINS);
        }
    }
    bounds.sort_unstable();
    bounds
}

/// How far single notes scatter about where they belong, in cents: about the grid for the degrees that lie on it, which
/// are all degrees of a loose singer, and about their own middle for the others.
fn looseness(clusters: &[Cluster]) -> f64 {
    let square = |c: &Cluster| {
        let off = if c.off_grid() { 0.0 } else { c.away() };
        c.share * (c.spread_cents.powi(2) + off.powi(2))
    };
    let share: f64 = clusters.iter().map(|c| c.share).sum();
    let mean = clusters.iter().map(square).sum::<f64>() / share.max(f64::MIN_POSITIVE);
    mean.sqrt().max(LEAST_LOOSENESS_CENTS)
}

fn measure(notes: &[PlacedNote], bounds: &[usize]) -> Vec<Cluster> {
    let slots = bounds.len().max(1);
    gathered(notes, slots, |n| slot_of(cents_of(n), bounds))
}

/// Which of the degrees between some valleys a place belongs to.
fn slot_of(cents: f64, bounds: &[usize]) -> usize {
    let below = bounds.partition_point(|&b| (b as f64) < cents / BIN_CENTS);
    below % bounds.len().max(1)
}

/// The degrees of notes that are parted into slots.
fn gathered(
    notes: &[PlacedNote],
    slots: usize,
    slot: impl Fn(&PlacedNote) -> usize,
) -> Vec<Cluster> {
    let mut sums = vec![(0f64, 0f64, 0f64, 0usize); slots];
    let total: f64 = notes.iter().map(PlacedNote::weight).sum();
    for n in notes {
        let (sin, cos) = (TAU * cents_of(n) / 1200.0).sin_cos();
        let s = &mut sums[slot(n)];
        *s = (
            s.0 + n.weight() * cos,
            s.1 + n.weight() * sin,
            s.2 + n.weight(),
            s.3 + 1,
        );
    }
    let mut clusters: Vec<Cluster> = sums
        .iter()
        .filter(|s| s.2 > 0.0)
        .map(|&(x, y, w, count)| {
            let cents = (y.atan2(x) / TAU * 1200.0).rem_euclid(1200.0);
            let length = (x.hypot(y) / w).clamp(1e-9, 1.0);
            let spread_cents = (-2.0 * length.ln()).max(0.0).sqrt() * 1200.0 / TAU;
            Cluster {
                cents,
                spread_cents,
                share: w / total,
                count,
                class: PitchClass::nearest(cents / 100.0),
            }
        })
        .collect();
    clusters.sort_by(|a, b| a.cents.total_cmp(&b.cents));
    clusters
}

/// Two degrees that round to one class are parted if the class on the other side of one of them is free.
fn name(clusters: &mut [Cluster]) {
    for i in 0..clusters.len() {
        if clusters
            .iter()
            .enumerate()
            .any(|(j, c)| j != i && c.class == clusters[i].class)
        {
            let other = clusters[i].other_side();
            if clusters[i].off_grid() && clusters.iter().all(|c| c.class != other) {
                clusters[i].class = other;
            }
        }
    }
}

fn regrid(note: &PlacedNote, clusters: &[Cluster]) -> PlacedNote {
    let away = |c: &Cluster| around_octave(cents_of(note) - c.cents).abs();
    let Some(degree) = clusters.iter().min_by(|a, b| away(a).total_cmp(&away(b))) else {
        return *note;
    };
    as_class(note, degree.class)
}

fn is_beside(a: PitchClass, b: PitchClass) -> bool {
    a.above(b) == 1 || b.above(a) == 1
}

/// A note as one of another class.
fn as_class(note: &PlacedNote, class: PitchClass) -> PlacedNote {
    let shift = (class.index() as i64 - note.class.index() as i64 + 6).rem_euclid(12) - 6;
    PlacedNote {
        key: note.key + shift,
        class,
        cents: note.cents - 100.0 * shift as f64,
        ..*note
    }
}

fn cents_of(n: &PlacedNote) -> f64 {
    n.cents_above_c().rem_euclid(1200.0)
}
