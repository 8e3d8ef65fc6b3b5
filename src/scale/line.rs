//! A line of notes with the sums that features of candidates are made of.

use crate::histogram::PlacedNote;
use crate::units::PitchClass;

/// A note closes a phrase when the silence after it exceeds this part of the median note.
pub const REST_PART: f64 = 0.2;
/// A note closes a phrase when it lasts this many median notes and no less than the next one.
pub const LONG_END: f64 = 1.9;
/// A line with what its features are made of.
pub struct Line<'a> {
    pub notes: &'a [PlacedNote],
    /// Length in seconds.
    pub length: Vec<f64>,
    pub median: f64,
    /// Silence after a note in seconds; the last note has none.
    pub rest: Vec<f64>,
    /// Whether a note closes a phrase.
    pub end: Vec<bool>,
    pub share: [f64; 12],
    pub count: [f64; 12],
    pub lowest: i64,
    pub highest: i64,
}

impl<'a> Line<'a> {
    pub fn new(notes: &'a [PlacedNote]) -> Self {
        let n = notes.len();
        let length: Vec<f64> = notes.iter().map(PlacedNote::duration_s).collect();
        let mut sorted = length.clone();
        sorted.sort_by(f64::total_cmp);
        let median = 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]);
        let rest: Vec<f64> = (0..n)
            .map(|i| {
                notes
                    .get(i + 1)
                    .map_or(0.0, |next| next.start_s - notes[i].end_s)
            })
            .collect();
        let end = (0..n)
            .map(|i| {
                let next = length.get(i + 1).copied().unwrap_or(0.0);
                i + 1 == n
                    || rest[i] > REST_PART * median
                    || length[i] >= LONG_END * median && length[i] >= next
            })
            .collect();
        let mut line = Self {
            notes,
            length,
            median,
            rest,
            end,
            share: [0.0; 12],
            count: [0.0; 12],
            lowest: i64::MAX,
            highest: i64::MIN,
        };
        line.tally();
        line
    }

    fn tally(&mut self) {
        for (note, length) in self.notes.iter().zip(&self.length) {
            self.share[note.class.index()] += length;
            self.count[note.class.index()] += 1.0;
            self.lowest = self.lowest.min(note.key);
            self.highest = self.highest.max(note.key);
        }
        let total: f64 = self.length.iter().sum();
        self.share.iter_mut().for_each(|s| *s /= total);
    }

    pub fn len(&self) -> usize {
        self.notes.len()
    }

    pub fn class(&self, i: usize) -> PitchClass {
        self.notes[i].class
    }

    /// The class of the k-th note from the end, if there is one.
    pub fn nth_last(&self, k: usize) -> Option<PitchClass> {
        self.len().checked_sub(k + 1).map(|i| self.class(i))
    }

    /// Sums a weight over the notes of each class and divides by `whole`.
    pub fn sum(&self, whole: f64, weight: impl Fn(usize) -> f64) -> [f64; 12] {
        let mut values = [0.0; 12];
        for i in 0..self.len() {
            values[self.class(i).index()] += weight(i);
        }
        values.map(|v| if whole > 0.0 { v / whole } else { 0.0 })
    }

    /// The part that each class has of the notes that fulfil a condition.
    pub fn part(&self, holds: impl Fn(usize) -> bool) -> [f64; 12] {
        let whole = (0..self.len()).filter(|&i| holds(i)).count() as f64;
        self.sum(whole, |i| f64::from(u8::from(holds(i))))
    }

    /// The part of each class's own notes that fulfil a condition.
    pub fn mean(&self, holds: impl Fn(usize) -> bool) -> [f64; 12] {
        let held = self.sum(1.0, |i| f64::from(u8::from(holds(i))));
        std::array::from_fn(|k| held[k] / self.count[k].max(1.0))
    }

    /// Where the line turns upward and where downward, repeated notes taken as one.
    pub fn turns(&self) -> ([f64; 12], [f64; 12]) {
        let mut keys: Vec<i64> = self.notes.iter().map(|n| n.key).collect();
        keys.dedup();
        let (mut below, mut above) = ([0.0; 12], [0.0; 12]);
        for w in keys.windows(3) {
            let class = PitchClass::new(w[1]).index();
            if w[1] < w[0] && w[1] < w[2] {
                below[class] += 1.0 / keys.len() as f64;
            } else if w[1] > w[0] && w[1] > w[2] {
                above[class] += 1.0 / keys.len() as f64;
            }
        }
        (below, above)
    }

    /// The interval in semitones by which a note is reached; `None` for the first.
    pub fn reached(&self, i: usize) -> Option<i64> {
        (i > 0).then(|| self.notes[i].key - self.notes[i - 1].key)
    }

    pub fn left(&self, i: usize) -> Option<i64> {
        (i + 1 < self.len()).then(|| self.notes[i + 1].key - self.notes[i].key)
    }
}
