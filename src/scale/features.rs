//! What each of the twelve pitch classes has to say for itself as the centre of a line.
//!
//! The features of [`NEUTRAL`] carry over to any scale: ends, beginnings, lengths, register, motion and the fifth.
//! Those of [`COMMON_PRACTICE`] add what lies where above the candidate, which ties them to the music that they were
//! fitted on.

use crate::histogram::PlacedNote;
use crate::units::PitchClass;

/// Features that carry over to any scale, in the order in which [`features`] gives them.
pub const NEUTRAL: [&str; 50] = [
    "share of time",
    "share of notes",
    "most time",
    "most notes",
    "absent",
    "last note",
    "last note, long",
    "last note, in the lower half",
    "last note but one",
    "last note but two",
    "phrase ends",
    "phrase ends, by length",
    "the two phrase ends before the last",
    "end at the longest rests",
    "first note",
    "first long note",
    "second note",
    "phrase starts",
    "share of long notes",
    "longest note",
    "mean length",
    "lowest note",
    "a fourth above the lowest note",
    "highest note",
    "turning points below",
    "turning points above",
    "mean height",
    "height above the lowest note",
    "time of the fifth above",
    "time of the fourth above",
    "fifth above is there",
    "fourth above is there",
    "fifth below it falls in",
    "fourth below it rises in",
    "reached by step from below",
    "reached by step from above",
    "left by step",
    "left by leap",
    "reached by leap",
    "repeated",
    "octave leap",
    "octaves in which it sounds",
    "share of the last quarter",
    "share of the first quarter",
    "all notes (log)",
    "classes",
    "length of the last note",
    "phrase ends there are",
    "phrase ends at the same place as the last note",
    "share of time against the strongest",
];

/// How many features follow those in [`NEUTRAL`] for the common-practice reading.
pub const PROFILE: usize = 22 + 22;
/// All features of the common-practice reading.
pub const COMMON_PRACTICE: usize = NEUTRAL.len() + PROFILE;

/// A note closes a phrase when the silence after it exceeds this part of the median note.
const REST_PART: f64 = 0.2;
/// A note closes a phrase when it lasts this many median notes and no less than the next one.
const LONG_END: f64 = 1.9;
/// A note is long from this many median notes on.
const LONG: f64 = 1.5;

/// Features of one candidate.
pub type Row = [f32; COMMON_PRACTICE];

/// The features of all twelve candidates, C first. No notes give all zeros.
pub fn features(notes: &[PlacedNote]) -> [Row; 12] {
    let mut rows = [[0f32; COMMON_PRACTICE]; 12];
    if notes.is_empty() {
        return rows;
    }
    let line = Line::new(notes);
    let mut sheet = Sheet {
        rows: &mut rows,
        next: 0,
    };
    line.weights(&mut sheet);
    line.ends(&mut sheet);
    line.starts(&mut sheet);
    line.lengths(&mut sheet);
    line.register(&mut sheet);
    line.fifths(&mut sheet);
    line.motion(&mut sheet);
    line.places(&mut sheet);
    line.context(&mut sheet);
    debug_assert_eq!(sheet.next, NEUTRAL.len());
    line.profile(&mut sheet);
    debug_assert_eq!(sheet.next, COMMON_PRACTICE);
    rows
}

/// Writes one feature for all candidates after the other.
struct Sheet<'a> {
    rows: &'a mut [Row; 12],
    next: usize,
}

impl Sheet<'_> {
    fn put(&mut self, values: [f64; 12]) {
        for (row, v) in self.rows.iter_mut().zip(values) {
            row[self.next] = v as f32;
        }
        self.next += 1;
    }

    /// One value at one class, 0 elsewhere.
    fn mark(&mut self, class: Option<PitchClass>, value: f64) {
        let mut values = [0.0; 12];
        if let Some(c) = class {
            values[c.index()] = value;
        }
        self.put(values);
    }

    fn same(&mut self, value: f64) {
        self.put([value; 12]);
    }
}

/// A line with what its features are made of.
struct Line<'a> {
    notes: &'a [PlacedNote],
    /// Length in seconds.
    length: Vec<f64>,
    median: f64,
    /// Silence after a note in seconds; the last note has none.
    rest: Vec<f64>,
    /// Whether a note closes a phrase.
    end: Vec<bool>,
    share: [f64; 12],
    count: [f64; 12],
    lowest: i64,
    highest: i64,
}

impl<'a> Line<'a> {
    fn new(notes: &'a [PlacedNote]) -> Self {
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

    fn len(&self) -> usize {
        self.notes.len()
    }

    fn class(&self, i: usize) -> PitchClass {
        self.notes[i].class
    }

    /// The class of the k-th note from the end, if there is one.
    fn nth_last(&self, k: usize) -> Option<PitchClass> {
        self.len().checked_sub(k + 1).map(|i| self.class(i))
    }

    /// Sums a weight over the notes of each class and divides by `whole`.
    fn sum(&self, whole: f64, weight: impl Fn(usize) -> f64) -> [f64; 12] {
        let mut values = [0.0; 12];
        for i in 0..self.len() {
            values[self.class(i).index()] += weight(i);
        }
        values.map(|v| if whole > 0.0 { v / whole } else { 0.0 })
    }

    /// The part that each class has of the notes that fulfil a condition.
    fn part(&self, holds: impl Fn(usize) -> bool) -> [f64; 12] {
        let whole = (0..self.len()).filter(|&i| holds(i)).count() as f64;
        self.sum(whole, |i| f64::from(u8::from(holds(i))))
    }

    fn weights(&self, sheet: &mut Sheet) {
        let n = self.len() as f64;
        let most = |v: &[f64; 12]| v.iter().copied().fold(0.0, f64::max);
        let (top_share, top_count) = (most(&self.share), most(&self.count));
        sheet.put(self.share);
        sheet.put(self.count.map(|c| c / n));
        sheet.put(self.share.map(|s| f64::from(u8::from(s == top_share))));
        sheet.put(self.count.map(|c| f64::from(u8::from(c == top_count))));
        sheet.put(self.count.map(|c| f64::from(u8::from(c == 0.0))));
    }

    fn ends(&self, sheet: &mut Sheet) {
        let last = self.len() - 1;
        let final_class = self.nth_last(0);
        let low = 2 * self.notes[last].key <= self.lowest + self.highest;
        sheet.mark(final_class, 1.0);
        sheet.mark(
            final_class,
            (self.length[last] / self.median).min(4.0) / 4.0,
        );
        sheet.mark(final_class, f64::from(u8::from(low)));
        sheet.mark(self.nth_last(1), 1.0);
        sheet.mark(self.nth_last(2), 1.0);
        sheet.put(self.part(|i| self.end[i]));
        let ended: f64 = (0..=last)
            .filter(|&i| self.end[i])
            .map(|i| self.length[i])
            .sum();
        sheet.put(self.sum(ended, |i| if self.end[i] { self.length[i] } else { 0.0 }));
        let before: Vec<usize> = (0..last).rev().filter(|&i| self.end[i]).take(2).collect();
        sheet.put(self.part(|i| before.contains(&i)));
        let longest = self.rest.iter().copied().fold(0.0, f64::max);
        let real_rest = REST_PART * self.median;
        sheet.put(self.part(|i| self.rest[i] > real_rest && self.rest[i] >= 0.6 * longest));
    }

    fn starts(&self, sheet: &mut Sheet) {
        let long = (0..self.len()).find(|&i| self.length[i] >= LONG * self.median);
        sheet.mark(Some(self.class(0)), 1.0);
        sheet.mark(long.map(|i| self.class(i)), 1.0);
        sheet.mark((self.len() > 1).then(|| self.class(1)), 1.0);
        sheet.put(self.part(|i| i == 0 || self.end[i - 1]));
    }

    fn lengths(&self, sheet: &mut Sheet) {
        sheet.put(self.part(|i| self.length[i] >= LONG * self.median));
        let longest = (0..self.len())
            .max_by(|&a, &b| self.length[a].total_cmp(&self.length[b]).then(b.cmp(&a)));
        sheet.mark(longest.map(|i| self.class(i)), 1.0);
        let n = self.len() as f64;
        let mut mean = [0.0; 12];
        for (k, m) in mean.iter_mut().enumerate() {
            if self.count[k] > 0.0 {
                *m = (self.share[k] * n / self.count[k] - 1.0).clamp(-1.0, 2.0);
            }
        }
        sheet.put(mean);
    }

    fn register(&self, sheet: &mut Sheet) {
        let range = (self.highest - self.lowest).max(1) as f64;
        sheet.mark(Some(PitchClass::new(self.lowest)), 1.0);
        sheet.mark(Some(PitchClass::new(self.lowest + 5)), 1.0);
        sheet.mark(Some(PitchClass::new(self.highest)), 1.0);
        let (below, above) = self.turns();
        sheet.put(below);
        sheet.put(above);
        let mut height = self.sum(1.0, |i| (self.notes[i].key - self.lowest) as f64 / range);
        let mut above_lowest = [0.0; 12];
        for k in 0..12 {
            if self.count[k] > 0.0 {
                height[k] = height[k] / self.count[k] - 0.5;
                above_lowest[k] = (k as i64 - self.lowest).rem_euclid(12) as f64 / 12.0;
            }
        }
        sheet.put(height);
        sheet.put(above_lowest);
    }

    /// Where the line turns upward and where downward, repeated notes taken as one.
    fn turns(&self) -> ([f64; 12], [f64; 12]) {
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

    fn fifths(&self, sheet: &mut Sheet) {
        let up = |k: usize, semitones: usize| (k + semitones) % 12;
        let there = |k: usize| f64::from(u8::from(self.count[k] > 0.0));
        sheet.put(std::array::from_fn(|k| self.share[up(k, 7)]));
        sheet.put(std::array::from_fn(|k| self.share[up(k, 5)]));
        sheet.put(std::array::from_fn(|k| there(up(k, 7))));
        sheet.put(std::array::from_fn(|k| there(up(k, 5))));
    }

    /// The interval in semitones by which a note is reached; `None` for the first.
    fn reached(&self, i: usize) -> Option<i64> {
        (i > 0).then(|| self.notes[i].key - self.notes[i - 1].key)
    }

    fn left(&self, i: usize) -> Option<i64> {
        (i + 1 < self.len()).then(|| self.notes[i + 1].key - self.notes[i].key)
    }

    fn motion(&self, sheet: &mut Sheet) {
        let moves = (self.len() - 1) as f64;
        let flag = |b: bool| f64::from(u8::from(b));
        let is = |x: Option<i64>, range: std::ops::RangeInclusive<i64>| {
            flag(x.is_some_and(|d| range.contains(&d)))
        };
        sheet.put(self.sum(moves, |i| {
            is(self.reached(i), -7..=-7) + is(self.reached(i), 5..=5)
        }));
        sheet.put(self.sum(moves, |i| {
            is(self.reached(i), 7..=7) + is(self.reached(i), -5..=-5)
        }));
        let mut each = |weight: &dyn Fn(usize) -> f64| {
            let mut values = self.sum(1.0, weight);
            values
                .iter_mut()
                .zip(self.count)
                .for_each(|(v, c)| *v /= c.max(1.0));
            sheet.put(values);
        };
        each(&|i| is(self.reached(i), 1..=2));
        each(&|i| is(self.reached(i), -2..=-1));
        each(&|i| is(self.left(i), -2..=-1) + is(self.left(i), 1..=2));
        each(&|i| flag(self.left(i).is_some_and(|d| d.abs() >= 3)));
        each(&|i| flag(self.reached(i).is_some_and(|d| d.abs() >= 3)));
        sheet.put(self.sum(moves, |i| is(self.reached(i), 0..=0)));
        sheet.put(self.sum(moves, |i| {
            is(self.reached(i), 12..=12) + is(self.reached(i), -12..=-12)
        }));
    }

    fn places(&self, sheet: &mut Sheet) {
        let mut octaves = [0u32; 12];
        for n in self.notes {
            octaves[n.class.index()] |= 1 << n.key.div_euclid(12).clamp(0, 31);
        }
        sheet.put(octaves.map(|o| f64::from(o.count_ones()) / 3.0));
        let (first, last) = (self.notes[0].start_s, self.notes[self.len() - 1].end_s);
        let quarter = 0.25 * (last - first);
        let share_in = |from: f64, to: f64| {
            let inside =
                |i: usize| (self.notes[i].end_s.min(to) - self.notes[i].start_s.max(from)).max(0.0);
            let whole: f64 = (0..self.len()).map(inside).sum();
            self.sum(whole, inside)
        };
        sheet.put(share_in(last - quarter, last));
        sheet.put(share_in(first, first + quarter));
    }

    /// What the line as a whole is like: the same for every candidate, it turns the weight of the others up or down.
    fn context(&self, sheet: &mut Sheet) {
        let last = self.len() - 1;
        let ends = self.end.iter().filter(|&&e| e).count() as f64;
        let agreeing = (0..last)
            .filter(|&i| self.end[i] && self.class(i) == self.class(last))
            .count() as f64;
        sheet.same((self.len() as f64).ln());
        sheet.same(self.count.iter().filter(|&&c| c > 0.0).count() as f64);
        sheet.same((self.length[last] / self.median).min(6.0));
        sheet.same(ends / self.len() as f64);
        sheet.same(if ends > 1.0 {
            agreeing / (ends - 1.0)
        } else {
            0.0
        });
        let top = self.share.iter().copied().fold(0.0, f64::max);
        sheet.put(self.share.map(|s| s / top));
    }

    /// What lies above the candidate: the time of each class and the notes that fall or rise into the candidate from it.
    fn profile(&self, sheet: &mut Sheet) {
        for up in 1..12 {
            sheet.put(std::array::from_fn(|k| self.share[(k + up) % 12]));
        }
        for up in 1..12 {
            sheet.put(std::array::from_fn(|k| {
                f64::from(u8::from(self.count[(k + up) % 12] > 0.0))
            }));
        }
        let moves = (self.len() - 1).max(1) as f64;
        for up in 1..12i64 {
            sheet.put(self.sum(moves, |i| {
                f64::from(u8::from(
                    self.reached(i)
                        .is_some_and(|d| (d + up).rem_euclid(12) == 0),
                ))
            }));
        }
        for up in 1..12i64 {
            sheet.put(self.sum(moves, |i| {
                f64::from(u8::from(
                    self.left(i).is_some_and(|d| (d - up).rem_euclid(12) == 0),
                ))
            }));
        }
    }
}
