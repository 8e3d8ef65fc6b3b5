//! What each of the twelve pitch classes has to say for itself as the centre of a line.
//!
//! Those in [`Feature`] carry over to any scale: ends, beginnings, lengths, register, motion and the fifth. Those in
//! [`Above`] add what lies where above the candidate, which ties them to the music that they were fitted on.

use Feature::*;

use crate::histogram::PlacedNote;
use crate::scale::feature_list::{Above, COMMON_PRACTICE, Feature, SEMITONES};
use crate::scale::line::{Line, REST_PART};
use crate::scale::steps::ScaleSteps;
use crate::units::PitchClass;

/// A note is long from this many median notes on.
const LONG: f64 = 1.5;

/// A note counts half as much this many notes later. Engineering judgement.
const HALF_LIVES: [f64; 2] = [4.0, 16.0];

/// Features of one candidate.
pub type Row = [f32; COMMON_PRACTICE];

/// The features of all twelve candidates, C first. No notes give all zeros.
pub fn features(notes: &[PlacedNote]) -> [Row; 12] {
    let mut rows = [[0f32; COMMON_PRACTICE]; 12];
    if notes.is_empty() {
        return rows;
    }
    let line = Line::new(notes);
    let mut sheet = Sheet { rows: &mut rows };
    line.weights(&mut sheet);
    line.ends(&mut sheet);
    line.starts(&mut sheet);
    line.lengths(&mut sheet);
    line.register(&mut sheet);
    line.fifths(&mut sheet);
    line.motion(&mut sheet);
    line.places(&mut sheet);
    line.context(&mut sheet);
    line.steps(&mut sheet);
    line.recency(&mut sheet);
    line.profile(&mut sheet);
    rows
}

/// Writes features of all candidates.
struct Sheet<'a> {
    rows: &'a mut [Row; 12],
}

impl Sheet<'_> {
    fn put(&mut self, feature: Feature, values: [f64; 12]) {
        self.put_at(feature as usize, values);
    }

    fn put_at(&mut self, place: usize, values: [f64; 12]) {
        for (row, v) in self.rows.iter_mut().zip(values) {
            row[place] = v as f32;
        }
    }

    /// One value at one class, 0 elsewhere.
    fn mark(&mut self, feature: Feature, class: Option<PitchClass>, value: f64) {
        let values = class.map_or([0.0; 12], |c| at(c).map(|one| one * value));
        self.put(feature, values);
    }

    fn same(&mut self, feature: Feature, value: f64) {
        self.put(feature, [value; 12]);
    }
}

/// 1 at one class, 0 elsewhere.
fn at(class: PitchClass) -> [f64; 12] {
    std::array::from_fn(|k| f64::from(u8::from(k == class.index())))
}

impl Line<'_> {
    fn weights(&self, sheet: &mut Sheet) {
        let n = self.len() as f64;
        let most = |v: &[f64; 12]| v.iter().copied().fold(0.0, f64::max);
        let (top_share, top_count) = (most(&self.share), most(&self.count));
        sheet.put(ShareOfTime, self.share);
        sheet.put(ShareOfNotes, self.count.map(|c| c / n));
        sheet.put(
            MostTime,
            self.share.map(|s| f64::from(u8::from(s == top_share))),
        );
        sheet.put(
            MostNotes,
            self.count.map(|c| f64::from(u8::from(c == top_count))),
        );
        sheet.put(Absent, self.count.map(|c| f64::from(u8::from(c == 0.0))));
    }

    fn ends(&self, sheet: &mut Sheet) {
        let last = self.len() - 1;
        let final_class = self.nth_last(0);
        let low = 2 * self.notes[last].key <= self.lowest + self.highest;
        sheet.mark(LastNote, final_class, 1.0);
        sheet.mark(
            LastNoteLong,
            final_class,
            (self.length[last] / self.median).min(4.0) / 4.0,
        );
        sheet.mark(LastNoteLow, final_class, f64::from(u8::from(low)));
        sheet.mark(LastNoteButOne, self.nth_last(1), 1.0);
        sheet.mark(LastNoteButTwo, self.nth_last(2), 1.0);
        sheet.put(PhraseEnds, self.part(|i| self.end[i]));
        let ended: f64 = (0..=last)
            .filter(|&i| self.end[i])
            .map(|i| self.length[i])
            .sum();
        sheet.put(
            PhraseEndsByLength,
            self.sum(ended, |i| if self.end[i] { self.length[i] } else { 0.0 }),
        );
        let before: Vec<usize> = (0..last).rev().filter(|&i| self.end[i]).take(2).collect();
        sheet.put(LastPhraseEnds, self.part(|i| before.contains(&i)));
        let longest = self.rest.iter().copied().fold(0.0, f64::max);
        let real_rest = REST_PART * self.median;
        sheet.put(
            EndsAtLongestRests,
            self.part(|i| self.rest[i] > real_rest && self.rest[i] >= 0.6 * longest),
        );
    }

    fn starts(&self, sheet: &mut Sheet) {
        let long = (0..self.len()).find(|&i| self.length[i] >= LONG * self.median);
        sheet.mark(FirstNote, Some(self.class(0)), 1.0);
        sheet.mark(FirstLongNote, long.map(|i| self.class(i)), 1.0);
        sheet.mark(SecondNote, (self.len() > 1).then(|| self.class(1)), 1.0);
        sheet.put(PhraseStarts, self.part(|i| i == 0 || self.end[i - 1]));
    }

    fn lengths(&self, sheet: &mut Sheet) {
        sheet.put(
            ShareOfLongNotes,
            self.part(|i| self.length[i] >= LONG * self.median),
        );
        let longest = (0..self.len())
            .max_by(|&a, &b| self.length[a].total_cmp(&self.length[b]).then(b.cmp(&a)));
        sheet.mark(LongestNote, longest.map(|i| self.class(i)), 1.0);
        let n = self.len() as f64;
        let mut mean = [0.0; 12];
        for (k, m) in mean.iter_mut().enumerate() {
            if self.count[k] > 0.0 {
                *m = (self.share[k] * n / self.count[k] - 1.0).clamp(-1.0, 2.0);
            }
        }
        sheet.put(MeanLength, mean);
    }

    fn register(&self, sheet: &mut Sheet) {
        let range = (self.highest - self.lowest).max(1) as f64;
        sheet.mark(LowestNote, Some(PitchClass::new(self.lowest)), 1.0);
        sheet.mark(
            FourthAboveLowest,
            Some(PitchClass::new(self.lowest + 5)),
            1.0,
        );
        sheet.mark(HighestNote, Some(PitchClass::new(self.highest)), 1.0);
        let (below, above) = self.turns();
        sheet.put(TurningPointsBelow, below);
        sheet.put(TurningPointsAbove, above);
        let mut height = self.sum(1.0, |i| (self.notes[i].key - self.lowest) as f64 / range);
        let mut above_lowest = [0.0; 12];
        for k in 0..12 {
            if self.count[k] > 0.0 {
                height[k] = height[k] / self.count[k] - 0.5;
                above_lowest[k] = (k as i64 - self.lowest).rem_euclid(12) as f64 / 12.0;
            }
        }
        sheet.put(MeanHeight, height);
        sheet.put(HeightAboveLowest, above_lowest);
    }

    fn fifths(&self, sheet: &mut Sheet) {
        let up = |k: usize, semitones: usize| (k + semitones) % 12;
        let there = |k: usize| f64::from(u8::from(self.count[k] > 0.0));
        sheet.put(
            TimeOfFifthAbove,
            std::array::from_fn(|k| self.share[up(k, 7)]),
        );
        sheet.put(
            TimeOfFourthAbove,
            std::array::from_fn(|k| self.share[up(k, 5)]),
        );
        sheet.put(FifthAbove, std::array::from_fn(|k| there(up(k, 7))));
        sheet.put(FourthAbove, std::array::from_fn(|k| there(up(k, 5))));
    }

    fn motion(&self, sheet: &mut Sheet) {
        let moves = (self.len() - 1) as f64;
        let flag = |b: bool| f64::from(u8::from(b));
        let is = |x: Option<i64>, range: std::ops::RangeInclusive<i64>| {
            flag(x.is_some_and(|d| range.contains(&d)))
        };
        sheet.put(
            ReachedFromFifth,
            self.sum(moves, |i| {
                is(self.reached(i), -7..=-7) + is(self.reached(i), 5..=5)
            }),
        );
        sheet.put(
            ReachedFromFourth,
            self.sum(moves, |i| {
                is(self.reached(i), 7..=7) + is(self.reached(i), -5..=-5)
            }),
        );
        let step = |d: i64| (1..=2).contains(&d.abs());
        sheet.put(
            ReachedByStepFromBelow,
            self.mean(|i| self.reached(i).is_some_and(|d| step(d) && d > 0)),
        );
        sheet.put(
            ReachedByStepFromAbove,
            self.mean(|i| self.reached(i).is_some_and(|d| step(d) && d < 0)),
        );
        sheet.put(LeftByStep, self.mean(|i| self.left(i).is_some_and(step)));
        sheet.put(
            LeftByLeap,
            self.mean(|i| self.left(i).is_some_and(|d| d.abs() >= 3)),
        );
        sheet.put(
            ReachedByLeap,
            self.mean(|i| self.reached(i).is_some_and(|d| d.abs() >= 3)),
        );
        sheet.put(Repeated, self.sum(moves, |i| is(self.reached(i), 0..=0)));
        sheet.put(
            OctaveLeap,
            self.sum(moves, |i| {
                is(self.reached(i), 12..=12) + is(self.reached(i), -12..=-12)
            }),
        );
    }

    fn places(&self, sheet: &mut Sheet) {
        let mut octaves = [0u32; 12];
        for n in self.notes {
            octaves[n.class.index()] |= 1 << n.key.div_euclid(12).clamp(0, 31);
        }
        sheet.put(Octaves, octaves.map(|o| f64::from(o.count_ones()) / 3.0));
        let (first, last) = (self.notes[0].start_s, self.notes[self.len() - 1].end_s);
        let quarter = 0.25 * (last - first);
        let share_in = |from: f64, to: f64| {
            let inside =
                |i: usize| (self.notes[i].end_s.min(to) - self.notes[i].start_s.max(from)).max(0.0);
            let whole: f64 = (0..self.len()).map(inside).sum();
            self.sum(whole, inside)
        };
        sheet.put(ShareOfLastQuarter, share_in(last - quarter, last));
        sheet.put(ShareOfFirstQuarter, share_in(first, first + quarter));
    }

    /// What the line as a whole is like: the same for every candidate, it turns the weight of the others up or down.
    fn context(&self, sheet: &mut Sheet) {
        let last = self.len() - 1;
        let ends = self.end.iter().filter(|&&e| e).count() as f64;
        let agreeing = (0..last)
            .filter(|&i| self.end[i] && self.class(i) == self.class(last))
            .count() as f64;
        sheet.same(NoteCount, (self.len() as f64).ln());
        sheet.same(
            ClassCount,
            self.count.iter().filter(|&&c| c > 0.0).count() as f64,
        );
        sheet.same(LengthOfLastNote, (self.length[last] / self.median).min(6.0));
        sheet.same(PhraseEndRate, ends / self.len() as f64);
        sheet.same(
            AgreeingPhraseEnds,
            if ends > 1.0 {
                agreeing / (ends - 1.0)
            } else {
                0.0
            },
        );
        let top = self.share.iter().copied().fold(0.0, f64::max);
        sheet.put(ShareAgainstStrongest, self.share.map(|s| s / top));
    }

    /// What the line does so many scale steps above or below the candidate.
    fn steps(&self, sheet: &mut Sheet) {
        let scale = ScaleSteps::new(&self.share);
        let last = self.len() - 1;
        let mut put_each = |values: [f64; 12], features: &[(Feature, i64)]| {
            for &(feature, steps) in features {
                sheet.put(feature, scale.above(&values, steps));
            }
        };
        put_each(
            at(self.class(last)),
            &[
                (LastNoteOneStepAbove, 1),
                (LastNoteTwoStepsAbove, 2),
                (LastNoteThreeStepsAbove, 3),
                (LastNoteFourStepsAbove, 4),
                (LastNoteOneStepBelow, -1),
                (LastNoteTwoStepsBelow, -2),
            ],
        );
        put_each(
            self.share,
            &[
                (TimeOneStepAbove, 1),
                (TimeTwoStepsAbove, 2),
                (TimeThreeStepsAbove, 3),
                (TimeFourStepsAbove, 4),
                (TimeOneStepBelow, -1),
            ],
        );
        put_each(
            self.part(|i| i < last && self.end[i]),
            &[
                (EarlierPhraseEndsOneStepAbove, 1),
                (EarlierPhraseEndsTwoStepsAbove, 2),
                (EarlierPhraseEndsFourStepsAbove, 4),
                (EarlierPhraseEndsOneStepBelow, -1),
            ],
        );
        put_each(
            at(self.class(0)),
            &[
                (FirstNoteTwoStepsAbove, 2),
                (FirstNoteFourStepsAbove, 4),
                (FirstNoteThreeStepsBelow, -3),
            ],
        );
        put_each(
            at(PitchClass::new(self.lowest)),
            &[
                (LowestNoteOneStepBelow, -1),
                (LowestNoteTwoStepsBelow, -2),
                (LowestNoteThreeStepsBelow, -3),
            ],
        );
        let heights: Vec<Option<i64>> = self.notes.iter().map(|n| scale.height(n.key)).collect();
        let moved = |i: usize| Some(heights.get(i).copied()?? - heights[i.checked_sub(1)?]?);
        sheet.put(
            ReachedByScaleStepFromAbove,
            self.mean(|i| moved(i) == Some(-1)),
        );
        sheet.put(
            ReachedByScaleStepFromBelow,
            self.mean(|i| moved(i) == Some(1)),
        );
        sheet.put(
            LeftByScaleStep,
            self.mean(|i| moved(i + 1).is_some_and(|s| s.abs() == 1)),
        );
        sheet.put(
            ReachedByScaleLeap,
            self.mean(|i| moved(i).is_some_and(|s| s.abs() > 1)),
        );
    }

    /// The time of each class when a note counts half as much a few notes later.
    fn recency(&self, sheet: &mut Sheet) {
        for (feature, half_life) in [ShareOfLastNotes, ShareOfLaterNotes]
            .into_iter()
            .zip(HALF_LIVES)
        {
            let weight =
                |i: usize| self.length[i] * 0.5f64.powf((self.len() - 1 - i) as f64 / half_life);
            sheet.put(feature, self.sum((0..self.len()).map(weight).sum(), weight));
        }
    }

    /// What lies above the candidate: the time of each class and the notes that fall or rise into the candidate from it.
    fn profile(&self, sheet: &mut Sheet) {
        let moves = (self.len() - 1).max(1) as f64;
        let flag = |b: bool| f64::from(u8::from(b));
        let is = |interval: Option<i64>, up: i64| {
            flag(interval.is_some_and(|d| (d - up).rem_euclid(12) == 0))
        };
        for semitones in SEMITONES {
            let up = semitones as i64;
            let mut put = |relation: Above, values| sheet.put_at(relation.place(semitones), values);
            put(
                Above::Time,
                std::array::from_fn(|k| self.share[(k + semitones) % 12]),
            );
            let is_there = |k| flag(self.count[(k + semitones) % 12] > 0.0);
            put(Above::IsThere, std::array::from_fn(is_there));
            put(
                Above::ReachedFrom,
                self.sum(moves, |i| is(self.reached(i), -up)),
            );
            put(Above::LeftFor, self.sum(moves, |i| is(self.left(i), up)));
        }
    }
}
