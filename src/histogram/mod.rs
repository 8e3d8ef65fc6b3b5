//! Where the sounding time lies within the octave, measured from the recording's own A4.
//!
//! **Takes** a [`NoteList`]. **Gives** a [`Histogram`]: the reference pitch, the sounding time folded over octaves in
//! 10-cent bins, each note's pitch class and deviation, and what is known of each pitch class.
//!
//! **Method.** The reference is the circular mean of the notes' fractional pitches with a straight drift and slow
//! knots on top (see [`mod@reference`]). The folded histogram is that of B. Bozkurt, "An automatic pitch analysis method
//! for Turkish maqam music" (Journal of New Music Research, 2008), made from notes instead of frames: a note counts
//! with its length and its confidence at its steady pitch, so that slides and attacks leave no trace.
//!
//! **Limits.** The nearest 12-tone grid is always found, also for music that has none: [`Histogram::agreement`] says
//! how well it fits. Offsets of half a semitone cannot be told from their opposite.

pub mod reference;

use crate::notes::NoteList;
use crate::units::PitchClass;
use reference::Reference;

/// Bins in an octave of the folded histogram: 10 cents each.
pub const BINS: usize = 120;
/// Cents in a bin.
pub const BIN_CENTS: f64 = 10.0;
/// A note is short when it lasts less than this part of the median note. Engineering judgement.
const SHORT_PART: f64 = 0.6;

/// One note as it lies on the recording's own 12-tone grid.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedNote {
    /// Seconds from the start of the sound.
    pub start_s: f64,
    /// Seconds from the start of the sound.
    pub end_s: f64,
    /// Nearest MIDI number on the recording's own grid.
    pub key: i64,
    /// Its pitch class.
    pub class: PitchClass,
    /// Cents above that key, -50 to 50.
    pub cents: f64,
    /// 0 to 1, from the note list.
    pub confidence: f64,
}

impl PlacedNote {
    /// Seconds from onset to end.
    pub fn duration_s(&self) -> f64 {
        self.end_s - self.start_s
    }

    /// Cents above the C below its class, -50 to 1150.
    pub fn cents_above_c(&self) -> f64 {
        100.0 * self.class.index() as f64 + self.cents
    }

    /// The bin of a histogram that it falls in.
    pub fn bin(&self) -> usize {
        let bin = (self.cents_above_c() / BIN_CENTS).round() as i64;
        bin.rem_euclid(BINS as i64) as usize
    }

    /// What it counts there: seconds, less where it is not surely a note.
    pub fn weight(&self) -> f64 {
        self.duration_s() * self.confidence
    }
}

/// Mean and standard deviation of the notes' deviations in cents, weighted by length; `None` without sounding time.
pub fn intonation(notes: &[PlacedNote]) -> Option<(f64, f64)> {
    let time: f64 = notes.iter().map(PlacedNote::duration_s).sum();
    let mean = notes.iter().map(|n| n.duration_s() * n.cents).sum::<f64>() / time;
    let square = notes
        .iter()
        .map(|n| n.duration_s() * (n.cents - mean).powi(2))
        .sum::<f64>()
        / time;
    (time > 0.0).then(|| (mean, square.sqrt()))
}

/// What is known of one pitch class.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct ClassEvidence {
    /// Part of the sounding time, 0 to 1, weighted by confidence.
    pub share: f64,
    /// How many notes.
    pub count: usize,
    /// The longest note in seconds.
    pub longest_s: f64,
    /// Mean confidence of its notes.
    pub confidence: f64,
    /// The highest confidence of a note.
    pub best_confidence: f64,
    /// Mean deviation from the grid in cents, weighted by length.
    pub mean_cents: f64,
    /// Standard deviation of that in cents.
    pub spread_cents: f64,
    /// Part of its notes that are short and lie a semitone from the note before or after.
    pub short_neighbour: f64,
    /// Part of its notes that lie an octave from the note before or after.
    pub octave_neighbour: f64,
    /// In how many octaves it sounds.
    pub octaves: usize,
}

/// The sounding time within the octave.
///
/// ```
/// # use whichmode::{notes::symbolic::read_lines, histogram::Histogram};
/// let line = r#"{"notes": [[0, 1, 62], [1, 2, 64], [2, 3, 65], [3, 4, 69], [4, 5, 71], [5, 6, 74],
///     [6, 7, 71], [7, 8, 69], [8, 9, 65], [9, 10, 64], [10, 12, 62]]}"#.replace('\n', "");
/// let (_, list) = read_lines(line.as_bytes()).next().unwrap();
/// let list = list?.notes;
/// let histogram = Histogram::new(&list, None);
/// assert!((histogram.a4_hz() - 440.0).abs() < 0.01);
/// assert_eq!(histogram.classes[2].count, 3); // three times D
/// # Ok::<(), whichmode::error::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Histogram {
    /// The recording's own A4 through time.
    pub reference: Reference,
    /// Whether the caller gave the reference.
    pub pinned: bool,
    /// Part of the sounding time in each 10-cent bin, bin 0 centred on C.
    pub bins: [f64; BINS],
    /// Every note on the recording's own grid, in order of onset.
    pub notes: Vec<PlacedNote>,
    /// By pitch class, C first.
    pub classes: [ClassEvidence; 12],
    /// Seconds in which a note sounds.
    pub sounding_s: f64,
    /// The median length of a note in seconds.
    pub median_s: f64,
}

impl Histogram {
    /// Measures the notes; `a4_hz` pins the reference where it is known.
    pub fn new(list: &NoteList, a4_hz: Option<f64>) -> Self {
        let reference = match a4_hz {
            Some(hz) => Reference::pinned(hz),
            None => Reference::estimate(&list.notes),
        };
        Self::against(list, reference, a4_hz.is_some())
    }

    /// The same notes measured against a reference that lies higher by so many cents.
    pub fn raised(self, list: &NoteList, cents: f64) -> Self {
        if cents == 0.0 {
            return self;
        }
        Self::against(list, self.reference.raised(cents), self.pinned)
    }

    fn against(list: &NoteList, reference: Reference, pinned: bool) -> Self {
        let notes = place(list, &reference);
        let median_s = median(notes.iter().map(PlacedNote::duration_s).collect());
        Self {
            bins: fold(&notes),
            classes: classes(&notes, median_s),
            sounding_s: sounding(&notes),
            median_s,
            pinned,
            reference,
            notes,
        }
    }

    /// The A4 that the pitches fit, in hertz.
    pub fn a4_hz(&self) -> f64 {
        self.reference.a4_hz()
    }

    /// By how many cents the reference rose from the first note to the last.
    pub fn drift_cents(&self) -> f64 {
        let ends = self.notes.first().zip(self.notes.last());
        ends.map_or(0.0, |(first, last)| {
            self.reference.drift_cents(first.start_s, last.end_s)
        })
    }

    /// What is known of each pitch class where notes are given other classes than the grid's.
    pub fn evidence_of(&self, notes: &[PlacedNote]) -> [ClassEvidence; 12] {
        classes(notes, self.median_s)
    }

    /// 0 to 1: how well the notes agree with one 12-tone grid.
    pub fn agreement(&self) -> f64 {
        self.reference.agreement()
    }
}

fn place(list: &NoteList, reference: &Reference) -> Vec<PlacedNote> {
    list.notes
        .iter()
        .map(|n| {
            let pitch = n.midi - reference.offset_at(0.5 * (n.start_s + n.end_s));
            let key = pitch.round();
            PlacedNote {
                start_s: n.start_s,
                end_s: n.end_s,
                key: key as i64,
                class: PitchClass::nearest(pitch),
                cents: 100.0 * (pitch - key),
                confidence: n.confidence,
            }
        })
        .collect()
}

/// Part of the sounding time in each bin.
pub(crate) fn fold(notes: &[PlacedNote]) -> [f64; BINS] {
    let mut bins = [0.0; BINS];
    let mut total = 0.0;
    for n in notes {
        bins[n.bin()] += n.weight();
        total += n.weight();
    }
    if total > 0.0 {
        bins.iter_mut().for_each(|b| *b /= total);
    }
    bins
}

fn classes(notes: &[PlacedNote], median_s: f64) -> [ClassEvidence; 12] {
    let total: f64 = notes.iter().map(PlacedNote::weight).sum();
    let mut classes = [ClassEvidence::default(); 12];
    let mut weight = [0f64; 12];
    let mut octaves = [0u32; 12];
    for (i, n) in notes.iter().enumerate() {
        let c = &mut classes[n.class.index()];
        let w = n.weight();
        weight[n.class.index()] += w;
        octaves[n.class.index()] |= 1 << n.key.div_euclid(12).clamp(0, 31);
        c.count += 1;
        c.longest_s = c.longest_s.max(n.duration_s());
        c.confidence += n.confidence;
        c.best_confidence = c.best_confidence.max(n.confidence);
        c.mean_cents += w * n.cents;
        c.spread_cents += w * n.cents * n.cents;
        let short = n.duration_s() < SHORT_PART * median_s;
        c.short_neighbour += f64::from(u8::from(short && beside(notes, i, 1)));
        c.octave_neighbour += f64::from(u8::from(beside(notes, i, 12)));
    }
    for (k, c) in classes.iter_mut().enumerate() {
        if c.count > 0 {
            finish(c, weight[k], total);
            c.octaves = octaves[k].count_ones() as usize;
        }
    }
    classes
}

/// Turns the sums of one class into means.
fn finish(c: &mut ClassEvidence, weight: f64, total: f64) {
    let count = c.count as f64;
    c.share = if total > 0.0 { weight / total } else { 0.0 };
    c.confidence /= count;
    c.short_neighbour /= count;
    c.octave_neighbour /= count;
    if weight > 0.0 {
        c.mean_cents /= weight;
        c.spread_cents = (c.spread_cents / weight - c.mean_cents * c.mean_cents)
            .max(0.0)
            .sqrt();
    }
}

/// Whether the note before or after lies `semitones` away.
fn beside(notes: &[PlacedNote], i: usize, semitones: i64) -> bool {
    let near = |j: usize| {
        notes
            .get(j)
            .is_some_and(|n| (n.key - notes[i].key).abs() == semitones)
    };
    near(i + 1) || i > 0 && near(i - 1)
}

/// Seconds in which at least one note sounds.
fn sounding(notes: &[PlacedNote]) -> f64 {
    let (mut total, mut until) = (0.0, f64::NEG_INFINITY);
    for n in notes {
        total += (n.end_s - n.start_s.max(until)).max(0.0);
        until = until.max(n.end_s);
    }
    total
}

/// The middle one of some values; 0 of none.
pub(crate) fn median(mut values: Vec<f64>) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let middle = values.len() / 2;
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}
